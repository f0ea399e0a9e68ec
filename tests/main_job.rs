//! The main job through the real commands: set up, open a chart, consent, ask, write, sign, correct,
//! release, verify; and what bad input gets.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

#[path = "common/desk.rs"]
mod desk;

use desk::{Desk, code, text};

const CHART: &str = "PM-0112";

#[test]
fn the_main_job_from_set_up_to_a_stranger_s_check() {
    let desk = Desk::locked();
    desk.ok(&["unlock", "--as", "IV", "--passphrase-file", "pw"]);
    desk.ok(&[
        "patient",
        "open",
        "--chart-no",
        CHART,
        "--name",
        "Bettony Craske",
        "--born",
        "1988-07-23",
        "--second-identifier",
        "telephone",
        "--identifier",
        "555 0112",
        "--no-emergency-contact-because",
        "wants none",
        "--seen",
        "licence-card,birth-date",
        "--privacy-notice",
        "given",
        "--looked-for-same-name",
        "yes",
        "--instrument",
        "bass trombone",
    ]);
    desk.ok(&["patient", "allergies", CHART, "--substances", "latex=allergic"]);
    let ask = |side: &str| {
        let asked = [
            "may",
            CHART,
            "--technique",
            "intraoral",
            "--region",
            "mouth",
            "--side",
            side,
            "--why",
            "visit",
            "--glove",
            "nitrile",
        ];
        desk.run(&asked)
    };
    assert_eq!(code(&ask("right")), 1, "nothing is agreed yet");
    desk.ok(&[
        "consent",
        CHART,
        "--kind",
        "inside-mouth",
        "--form",
        "written-signed",
        "--wording",
        "F1",
        "--techniques",
        "intraoral",
        "--regions",
        "mouth",
        "--side",
        "right",
        "--explained-by",
        "IV",
        "--explained-at",
        "now",
        "--given-by",
        "self",
        "--procedures",
        "pressure on the cheek muscle from inside",
        "--alternatives",
        "exercise, or nothing",
        "--risks",
        "jaw-ache,gag,bite-reflex,mouth-abrasion",
        "--questions",
        "none",
        "--stop-signal",
        "raised hand",
        "--chaperone-offered",
        "yes",
        "--chaperone",
        "declined",
    ]);
    desk.ok(&["visit", "open", CHART, "--room", "room 1", "--identifiers", "full-name,birth-date"]);
    desk.ok(&["screen", CHART, "mouth", "--all-no"]);
    desk.ok(&["visit", "measure", CHART, "--measures", "kind=mouth-opening value=35"]);
    assert_eq!(code(&ask("right")), 3, "agreed, but not asked in the room");
    desk.ok(&[
        "asked",
        CHART,
        "--technique",
        "intraoral",
        "--region",
        "mouth",
        "--side",
        "right",
        "--answer",
        "yes",
    ]);
    let yes = ask("right");
    assert_eq!(code(&yes), 0, "{}", text(&yes));
    assert!(text(&yes).contains("It does not replace judgment, license limits or local rules."));
    assert_eq!(code(&ask("left")), 1, "the left was never agreed");

    desk.ok(&[
        "procedure",
        CHART,
        "--technique",
        "intraoral",
        "--region",
        "mouth",
        "--side",
        "right",
        "--gloves",
        "nitrile",
        "--fresh-pair",
        "yes",
        "--response",
        "tolerated",
    ]);
    let recheck = ["recheck", CHART, "--phase", "before", "--measured", "mouth-opening", "--value"];
    let impossible = desk.run(&[&recheck[..], &["81"]].concat());
    assert_eq!(code(&impossible), 7);
    assert!(text(&impossible).contains("above 80 mm"), "{}", text(&impossible));
    let unusual = desk.run(&[&recheck[..], &["1.1in"]].concat());
    assert_eq!(code(&unusual), 7);
    assert!(text(&unusual).contains("--unusual-because"), "{}", text(&unusual));
    desk.ok(&["recheck", CHART, "--phase", "before", "--measured", "mouth-opening", "--value", "35"]);
    desk.ok(&["recheck", CHART, "--phase", "after", "--measured", "mouth-opening", "--value", "39"]);
    desk.ok(&[
        "withdraw",
        CHART,
        "--said-by",
        "self",
        "--how",
        "words",
        "--patient-words",
        "enough for today",
        "--techniques",
        "intraoral",
    ]);
    assert_eq!(code(&ask("right")), 1, "withdrawn");
    // What is missing is said before signing: without answers nothing is signed.
    assert_eq!(code(&desk.run(&["sign", CHART])), 3);
    let note = desk.entry(&[
        "sign",
        CHART,
        "--sort",
        "later",
        "--changed",
        "jaw easier",
        "--complaints",
        "words=jaw ache pain=3 side=right region=jaw",
        "--not-done",
        "consent-signature=the paper is scanned tonight",
        "--not-done",
        "pain-before-and-after=asked only before",
        "--answer",
        "outside-hours=this runs at any hour",
        "--no-assessment-because",
        "as last time",
        "--no-findings-because",
        "as last time",
        "--advice",
        "soft food today",
        "--watch-for",
        "locking: call us",
        "--plan",
        "once more next week",
    ]);
    desk.ok(&[
        "correct",
        CHART,
        "--entry",
        &note,
        "--field",
        "/procedures/0/side",
        "--is",
        "left",
        "--because",
        "slip in writing",
        "--care-affected",
        "no",
        "--not-told-because",
        "still to be told",
    ]);
    desk.secret("report.txt", "No fracture.\n");
    desk.ok(&[
        "attach",
        CHART,
        "report.txt",
        "--kind",
        "imaging-report",
        "--title",
        "X-ray report",
        "--made",
        "2025-01-10",
        "--made-by",
        "Pellmere Imaging",
        "--not-made-here",
        "yes",
        "--received",
        "2025-01-12",
        "--original",
        "not-seen",
        "--legible",
        "yes",
        "--for-desk",
        "no",
    ]);

    let shown = desk.ok(&["print", CHART]);
    for words in ["Bettony Craske", "enough for today", "slip in writing", "X-ray report"] {
        assert!(shown.contains(words), "{words}\n{shown}");
    }
    let identity = inkfast::seal::age_file::Identity::generate();
    desk.secret("who.txt", &format!("{}\n", identity.to_text().as_str()));
    let released = desk.json(&[
        "release",
        CHART,
        "--to",
        &identity.recipient().to_string(),
        "--file",
        "out.age",
        "--recipient-name",
        "Bettony Craske",
        "--no-address-because",
        "handed over",
        "--basis",
        "patient",
        "--channel",
        "by hand",
        "--not-checked-because",
        "one person practice",
    ]);
    assert_eq!(released["check"]["sound"], true);
    let report = desk.json(&["verify", "out.age", "--identity", "who.txt"]);
    assert_eq!(report["sound"], true, "{report}");
    assert!(report["complete"].as_str().unwrap().starts_with("The whole chart"));
    let store = desk.json(&["verify"]);
    assert_eq!(store["sound"], true, "{store}");
    let slip = desk.json(&["slip"]);
    let typed = format!("{}:{}", slip["number"], slip["code"].as_str().unwrap());
    let again = desk.json(&["verify", "--slip", &typed]);
    assert_eq!(again["witnesses"].as_array().unwrap().len(), 2, "{again}");
}

#[test]
fn bad_input_gets_a_clear_error_and_loses_nothing() {
    let desk = Desk::locked();
    desk.secret("other", "quite another passphrase\n");
    let refused = |args: &[&str], exit: i32, words: &str| {
        let output = desk.run(args);
        assert_eq!(code(&output), exit, "{args:?}\n{}", text(&output));
        let said = text(&output);
        assert!(said.contains(words), "{args:?}\n{said}");
        assert!(!said.contains("panicked"), "{said}");
    };
    refused(&["unlock", "--as", "IV", "--passphrase-file", "other"], 5, "does not open");
    refused(&["unlock", "--as", "XX", "--passphrase-file", "pw"], 5, "Nobody with that staff code");
    refused(&["patient", "list"], 5, "Nobody is unlocked");
    desk.ok(&["unlock", "--as", "IV", "--passphrase-file", "pw"]);
    refused(&["print", "PM-9999", "--why", "review"], 2, "No chart with this number");
    refused(&["patient", "open"], 4, "--chart-no");
    desk.secret("bad.json", "{ \"chart_no\": ");
    refused(&["patient", "open", "--data", "bad.json"], 4, "JSON");
    refused(&["patient", "open", "--chart-no", "PM-1", "--name", "A", "--born", "2025-02-30"], 4, "date");
    refused(&["verify", "nowhere"], 2, "neither a store nor a package");
    refused(&["may", "--facts", "nowhere.json"], 2, "Could not read");
    desk.secret("facts.json", "{}");
    refused(&["may", "--facts", "facts.json"], 4, "facts document");
    refused(&["rules", "adopt", "bad.json"], 4, "can't be adopted");
    refused(
        &[
            "init",
            "--store",
            "store",
            "--recovery-sheet",
            "again.html",
            "--new-passphrase-file",
            "pw",
            "--code",
            "AB",
            "--name",
            "A B",
            "--role",
            "desk",
            "--practice",
            "P",
            "--address",
            "A",
            "--territory",
            "T",
            "--clock",
            "C",
        ],
        7,
        "not empty",
    );
    assert_eq!(code(&desk.run(&["nonsense"])), 4);

    // A store of a later edition is left alone.
    let text_before = std::fs::read_to_string(desk.path("store/store.json")).unwrap();
    std::fs::write(
        desk.path("store/store.json"),
        text_before.replace("\"inkfast_store\": 1", "\"inkfast_store\": 2"),
    )
    .unwrap();
    refused(&["verify"], 2, "edition 2");
    std::fs::write(desk.path("store/store.json"), &text_before).unwrap();

    // Another writer has the store.
    let holder = std::fs::File::open(desk.path("store/lock")).unwrap();
    holder.lock().unwrap();
    refused(&["slip"], 6, "Somebody else is writing");
    holder.unlock().unwrap();
    assert_eq!(code(&desk.run(&["verify"])), 0);
    // A segment is made in its full length before its first use (schema/DURABILITY.md): 8 MiB, as the segment head in
    // schema/FORMAT.md says.
    let segment = std::fs::metadata(desk.path("store/ledger/000001.seg")).unwrap();
    assert_eq!(segment.len(), 8_388_608);
}
