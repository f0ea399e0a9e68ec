//! Putting right, through the real commands: labels that stick, corrections, addenda, late entries, entries in
//! the wrong chart, joined charts, requests for amendment; and that nothing written before is ever gone.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;

use common::{OWNER, PASSPHRASE, Small, add, example_data};
use inkfast::cli::app;
use inkfast::cli::exit::Exit;
use inkfast::cli::prompt::ScriptedAsker;
use inkfast::practice::chart::find;
use inkfast::practice::open::{Draft, Entry};
use inkfast::practice::{rules, staff};
use inkfast::record::envelope::Record;
use inkfast::record::kinds::Data;
use inkfast::record::kinds::register::KeyRole;
use inkfast::record::moment::Moment;
use inkfast::record::rulebook;
use proptest::prelude::*;
use serde_json::{Value, json};

const CHART: &str = "PM-0112";
const OTHER_CHART: &str = "PM-0113";
/// A colleague who treats and does not keep the records.
const COLLEAGUE: &str = "HL";
const THEIRS: &str = "seven tin larks";

/// A practice whose clock the test sets, in the zone of this computer: what is typed is read in that.
struct Desk {
    small: Small,
}

/// A local time as the computer's clock reads it.
fn local(text: &str) -> Moment {
    let civil: jiff::civil::DateTime = text.parse().unwrap();
    let found = jiff::tz::TimeZone::system().to_ambiguous_timestamp(civil).compatible().unwrap();
    let offset = jiff::tz::TimeZone::system().to_offset(found);
    Moment::from_unix(found.as_second(), offset.seconds()).unwrap()
}

impl Desk {
    /// Two charts, the example rules, and a colleague.
    fn new() -> Desk {
        let mut small = Small::new(1 << 20, 2);
        small.clock.set(local("2024-06-03T08:00"));
        let mut line = match example_data("staff") {
            Data::Staff(line) => *line,
            other => panic!("{other:?}"),
        };
        (line.code, line.name, line.initials) = (COLLEAGUE.into(), "Hesper Lorne".into(), "HL".into());
        line.on_roster_last_day = None;
        staff::add(&mut small.practice, line, vec![KeyRole::Clinical], THEIRS, 4).unwrap();
        let Data::Staff(mut line) = example_data("staff") else { panic!() };
        (line.code, line.name, line.initials) = ("DK".into(), "Odo Marsh".into(), "DK".into());
        (line.role, line.on_roster_last_day) = ("desk".into(), None);
        staff::add(&mut small.practice, *line, vec![KeyRole::Desk], THEIRS, 4).unwrap();
        let adopted = rules::adopt(rulebook::EXAMPLE, &small.practice).unwrap();
        add(&mut small.practice, None, adopted.into()).unwrap();
        small.let_go();
        let desk = Desk { small };
        for (name, secret) in [("pw-TR", PASSPHRASE), ("pw-HL", THEIRS), ("pw-DK", THEIRS)] {
            std::fs::write(desk.file(name), secret).unwrap();
            let mode = std::os::unix::fs::PermissionsExt::from_mode(0o600);
            std::fs::set_permissions(desk.file(name), mode).unwrap();
        }
        desk
    }

    fn file(&self, name: &str) -> std::path::PathBuf {
        self.small.dir.path().join(name)
    }

    fn at(&self, text: &str) {
        self.small.clock.set(local(text));
    }

    fn run(&self, who: &str, mut asker: ScriptedAsker, args: &[&str]) -> (Exit, String) {
        let (root, secret) = (self.small.root(), self.file(&format!("pw-{who}")));
        let head = ["inkfast", "--store", root.to_str().unwrap()];
        let tail = ["--as", who, "--passphrase-file", secret.to_str().unwrap()];
        let typed = head.into_iter().chain(args.iter().copied()).chain(tail);
        let matches = app::command().try_get_matches_from(typed).unwrap_or_else(|e| panic!("{e}"));
        let mut out = Vec::new();
        let exit = app::run(&matches, self.small.world.clone(), &mut asker, &mut out);
        (exit, format!("{}{}", String::from_utf8(out).unwrap(), asker.shown()))
    }

    /// Runs a command that must be done.
    fn ok(&self, args: &[&str]) -> String {
        self.done(OWNER, args)
    }

    fn done(&self, who: &str, args: &[&str]) -> String {
        let (exit, said) = self.run(who, ScriptedAsker::nobody(), args);
        assert_eq!(exit, Exit::Done, "{args:?}\n{said}");
        said
    }

    /// Runs a command that must be refused, with these words.
    fn refused(&self, who: &str, args: &[&str], words: &str) {
        let before = self.entries();
        let (exit, said) = self.run(who, ScriptedAsker::nobody(), args);
        assert!(matches!(exit, Exit::Refused | Exit::BadInput), "{args:?} {exit:?}\n{said}");
        assert!(said.split_whitespace().collect::<Vec<_>>().join(" ").contains(words), "{args:?}\n{said}");
        let new: Vec<String> = self.entries()[before.len()..].iter().map(|e| e.leaf.kind.clone()).collect();
        assert!(new.iter().all(|kind| kind == "access"), "{args:?} recorded {new:?}");
    }

    /// Runs a command and gives the number of the entry it made.
    fn entry(&self, args: &[&str]) -> u64 {
        self.entry_by(OWNER, args)
    }

    fn entry_by(&self, who: &str, args: &[&str]) -> u64 {
        let args: Vec<&str> = args.iter().copied().chain(["--json"]).collect();
        let said = self.done(who, &args);
        let from = said.find('{').unwrap();
        let mut read = serde_json::Deserializer::from_str(&said[from..]).into_iter::<Value>();
        read.next().unwrap().unwrap()["entry"].as_u64().unwrap()
    }

    fn entries(&self) -> Vec<Entry> {
        let practice = self.small.open_as(OWNER, PASSPHRASE).unwrap();
        practice.scan().entries.iter().map(|at| practice.entry(at).unwrap()).collect()
    }

    fn record(&self, seq: u64) -> Record {
        let practice = self.small.open_as(OWNER, PASSPHRASE).unwrap();
        practice.entry_by_seq(seq).unwrap().record.unwrap()
    }

    fn labels(&self, seq: u64) -> Vec<String> {
        self.record(seq).labels.iter().map(|label| label.word().to_string()).collect()
    }

    fn shown(&self, chart: &str) -> String {
        let said = self.ok(&["print", chart, "--why", "review"]);
        said.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    fn consent(&self, happened: Option<&str>) -> u64 {
        let mut args = vec![
            "consent",
            CHART,
            "--kind",
            "treatment",
            "--form",
            "written-signed",
            "--wording",
            "F1",
            "--techniques",
            "soft-tissue",
            "--regions",
            "lumbar",
            "--side",
            "both",
            "--explained-by",
            OWNER,
            "--explained-at",
            "now",
            "--given-by",
            "self",
            "--risks",
            "soreness",
        ];
        args.extend(happened.iter().flat_map(|at| ["--happened", at]));
        self.entry(&args)
    }

    fn open(&self) -> u64 {
        self.entry(&["visit", "open", CHART, "--room", "room 1", "--identifiers", "full-name,birth-date"])
    }

    fn asked(&self, technique: &str, region: &str) {
        self.ok(&[
            "asked",
            CHART,
            "--technique",
            technique,
            "--region",
            region,
            "--side",
            "left",
            "--answer",
            "yes",
        ]);
    }

    fn treat(&self, technique: &str, region: &str) {
        self.ok(&[
            "procedure",
            CHART,
            "--technique",
            technique,
            "--region",
            region,
            "--side",
            "left",
            "--response",
            "tolerated",
        ]);
    }

    fn sign(&self, found: bool) -> u64 {
        let mut args = vec![
            "sign",
            CHART,
            "--changed",
            "easier since last week",
            "--no-assessment-because",
            "as last time",
            "--advice",
            "keep walking",
            "--watch-for",
            "numbness: call us",
            "--plan",
            "once more next week",
        ];
        if !found {
            args.extend(["--no-findings-because", "not examined today"]);
        }
        self.entry(&args)
    }

    /// One ordinary visit: opened, asked, found, treated, signed. Gives the number of the note.
    fn visit(&self, day: &str, consent: bool) -> u64 {
        let at = |time: &str| self.at(&format!("{day}T{time}"));
        at("10:00");
        self.open();
        at("10:05");
        if consent {
            self.consent(None);
        }
        at("10:10");
        self.asked("soft-tissue", "lumbar");
        self.ok(&[
            "finding",
            CHART,
            "--kind",
            "tenderness",
            "--region",
            "lumbar",
            "--side",
            "left",
            "--grade",
            "2",
        ]);
        at("10:20");
        self.treat("soft-tissue", "lumbar");
        at("10:40");
        self.sign(true)
    }
}

#[test]
fn labels_say_what_was_lacking_and_nobody_typed_them() {
    let desk = Desk::new();
    let first = desk.visit("2024-06-03", true);
    assert!(desk.labels(first).is_empty(), "{:?}", desk.labels(first));
    assert_eq!(desk.record(first).data.get("same_as_last_percent"), None);

    // The same words a week later.
    let second = desk.visit("2024-06-10", false);
    assert_eq!(desk.labels(second), ["carried-forward"]);
    assert_eq!(desk.record(second).data["same_as_last_percent"], json!(100));
    assert!(desk.shown(CHART).contains("reads nearly as the last note; the same as last time: 100 %"));

    // A thrust that was never agreed to, in a region where nothing was found.
    desk.at("2024-06-17T10:00");
    desk.open();
    desk.at("2024-06-17T10:20");
    desk.treat("thrust", "cervical");
    desk.at("2024-06-17T10:30");
    let third = desk.sign(false);
    assert_eq!(desk.labels(third), ["procedure-not-covered", "no-finding-for-region"]);
    let shown = desk.shown(CHART);
    assert!(shown.contains("PROCEDURE NOT COVERED by what was agreed at its time"), "{shown}");
    assert!(shown.contains("no finding that day for a region treated: cervical"), "{shown}");

    // Taken back at 10:05 and typed at 10:30: it counts from when it was said.
    desk.at("2024-06-24T10:00");
    desk.open();
    desk.at("2024-06-24T10:03");
    desk.asked("soft-tissue", "lumbar");
    desk.at("2024-06-24T10:20");
    desk.treat("soft-tissue", "lumbar");
    desk.at("2024-06-24T10:30");
    desk.ok(&[
        "withdraw",
        CHART,
        "--said-by",
        "self",
        "--how",
        "words",
        "--patient-words",
        "no more",
        "--happened",
        "2024-06-24 10:05",
    ]);
    let fourth = desk.sign(false);
    let labels = desk.labels(fourth);
    assert!(labels.contains(&"procedure-after-withdrawal".to_string()), "{labels:?}");

    // A consent that comes after what it allows, in the same visit; and one typed after the visit.
    desk.at("2024-07-01T10:00");
    desk.open();
    desk.at("2024-07-01T10:10");
    desk.treat("soft-tissue", "lumbar");
    desk.at("2024-07-01T10:25");
    desk.consent(None);
    desk.asked("soft-tissue", "lumbar");
    desk.at("2024-07-01T10:30");
    let fifth = desk.sign(false);
    assert!(desk.labels(fifth).contains(&"procedure-before-consent".to_string()), "{:?}", desk.labels(fifth));
    desk.at("2024-07-01T12:00");
    let late = desk.consent(Some("2024-07-01 10:05"));
    assert_eq!(desk.labels(late), ["consent-after-visit"]);
    // A withdrawal told of afterwards, that came before what a signed note tells of: the note is sealed, so
    // the withdrawal says it. The desk does not open the note, and says that it could not be looked up.
    desk.at("2024-07-02T08:30");
    let by_desk = desk.entry_by(
        "DK",
        &[
            "withdraw",
            CHART,
            "--said-by",
            "self",
            "--how",
            "telephone",
            "--patient-words",
            "no more",
            "--happened",
            "2024-07-01 09:00",
        ],
    );
    assert_eq!(desk.labels(by_desk), ["finished-next-day", "coverage-unknown"]);
    desk.at("2024-07-02T09:00");
    let told = desk.entry(&[
        "withdraw",
        CHART,
        "--said-by",
        "self",
        "--how",
        "telephone",
        "--patient-words",
        "I had said stop",
        "--happened",
        "2024-07-01 10:08",
    ]);
    assert_eq!(desk.labels(told), ["finished-next-day", "procedure-after-withdrawal"]);
}

#[test]
fn a_correction_is_picked_typed_checked_and_chained() {
    let desk = Desk::new();
    let note = desk.visit("2024-06-03", true);
    let number = note.to_string();
    desk.at("2024-06-04T09:00");
    let listed = desk.ok(&["correct", CHART, &number, "--list"]);
    assert!(listed.contains("procedures 1, side: left"), "{listed}");
    // At a terminal: the field by its words, a value that cannot be, then one that can.
    let typed = [
        "procedures 1, side",
        "upwards",
        "Right",
        "slip in writing",
        "no",
        "",
        "",
        "still to be told",
        "yes",
    ];
    let (exit, said) = desk.run(OWNER, ScriptedAsker::new(typed), &["correct", CHART, &number]);
    assert_eq!(exit, Exit::Done, "{said}");
    assert!(said.contains("Not taken: accepted is one of: left, right, both, midline"), "{said}");
    let entries = desk.entries();
    let correction = entries.iter().find(|e| e.leaf.kind == "correction").unwrap();
    let first = correction.leaf.seq;
    let Some(Data::Correction(data)) = correction.data() else { panic!() };
    assert_eq!((data.target, data.field.as_str()), (note, "/procedures/0/side"));
    assert_eq!((data.was, data.is), (json!("left"), json!("right")));
    // What the layout can't hold, and what can't be, is refused.
    let plain = ["--because", "slip", "--care-affected", "no", "--not-told-because", "later"];
    let correct = |field: &str, is: &str| -> Vec<String> {
        let head = ["correct", CHART, &number, "--field", field, "--is", is];
        head.iter().chain(plain.iter()).map(|text| (*text).to_string()).collect()
    };
    for (field, is, why) in [
        ("procedures 1, side", "upwards", "accepted is one of"),
        ("colour of the wall", "blue", "no field of this entry"),
        ("procedures 1, at", "2030-01-01 10:00", "This can't be corrected so"),
        ("procedures 1, side", "right", "the same as before"),
        ("same as last percent", "3", "nobody types it"),
    ] {
        let args = correct(field, is);
        desk.refused(OWNER, &args.iter().map(String::as_str).collect::<Vec<_>>(), why);
    }
    // A correction of the correction changes the note, and quotes what stood there.
    let of_first = first.to_string();
    let mut args = vec!["correct", CHART, &of_first, "--field", "/is", "--is", "both"];
    args.extend(plain);
    let second = desk.entry(&args);
    let Data::Correction(data) = desk.record(second).read_data().unwrap() else { panic!() };
    assert_eq!((data.target, data.was, data.is), (first, json!("right"), json!("both")));
    let mut bad = vec!["correct", CHART, &of_first, "--field", "/is", "--is", "sideways"];
    bad.extend(plain);
    desk.refused(OWNER, &bad, "accepted is one of");
    let shown = desk.shown(CHART);
    for mark in [
        format!("[struck by correction no. {first}, 04 Jun 2024, TR]"),
        format!("[new words, correction no. {second}, 04 Jun 2024, TR]"),
    ] {
        assert!(shown.contains(&mark), "{mark}\n{shown}");
    }
    // Old words above new ones, all three of them.
    let places: Vec<usize> = ["Side: left ---", "Side: right ---", "Side: left and right [new"]
        .iter()
        .map(|w| shown.find(w).unwrap())
        .collect();
    assert!(places.is_sorted(), "{places:?}\n{shown}");
}

#[test]
fn another_s_entry_is_corrected_by_the_custodian_who_says_why() {
    let desk = Desk::new();
    desk.at("2024-06-03T09:00");
    let contact = |who: &str| {
        let args = [
            "contact",
            CHART,
            "--direction",
            "incoming",
            "--with",
            "Bettony Craske",
            "--checked",
            "birth date",
            "--said",
            "sore since Monday",
        ];
        desk.entry_by(who, &args)
    };
    let (mine, hers) = (contact(OWNER).to_string(), contact(COLLEAGUE).to_string());
    let correct = |number: &str, more: &[&str]| -> Vec<String> {
        let plain = [
            "correct",
            CHART,
            number,
            "--field",
            "said",
            "--is",
            "sore since Sunday",
            "--because",
            "misheard",
            "--care-affected",
            "no",
            "--not-told-because",
            "not needed",
        ];
        plain.iter().chain(more).map(|text| (*text).to_string()).collect()
    };
    let run = |who: &str, args: Vec<String>| {
        desk.entry_by(who, &args.iter().map(String::as_str).collect::<Vec<_>>())
    };
    let refused = |who: &str, args: Vec<String>, words: &str| {
        desk.refused(who, &args.iter().map(String::as_str).collect::<Vec<_>>(), words);
    };
    refused(COLLEAGUE, correct(&mine, &["--custodian-because", "because"]), "a correction is its author's");
    refused(OWNER, correct(&hers, &[]), "needs the custodian's reason");
    let by_keeper = run(OWNER, correct(&hers, &["--custodian-because", "the author has left"]));
    assert_eq!(desk.labels(by_keeper), ["with-custodians-reason"]);
    let own = run(OWNER, correct(&mine, &["--custodian-because", "no need"]));
    assert!(desk.labels(own).is_empty());
    assert_eq!(desk.record(own).data.get("by_custodian_because"), None);
    // What should not be there at all is struck, and nothing stands in its place.
    let plain = ["--because", "never advised", "--care-affected", "no", "--not-told-because", "not needed"];
    let advised = desk.entry(&[
        "contact",
        CHART,
        "--direction",
        "none",
        "--nobody-because",
        "no answer",
        "--said",
        "rang",
        "--advice",
        "rest",
    ]);
    let number = advised.to_string();
    let head = ["correct", CHART, &number, "--field", "advice", "--nothing"];
    let gone = desk.entry(&head.into_iter().chain(plain).collect::<Vec<_>>());
    assert_eq!(
        (&desk.record(gone).data["was"], &desk.record(gone).data["is"]),
        (&json!("rest"), &json!(null))
    );
    let shown = desk.shown(CHART);
    assert!(shown.contains("Advice: rest ---") && shown.contains("nothing stands in its place"), "{shown}");
}

#[test]
fn what_was_answered_stays_as_it_was_answered() {
    let desk = Desk::new();
    desk.at("2024-06-03T10:00");
    desk.open();
    let consent = desk.consent(None);
    desk.asked("soft-tissue", "lumbar");
    desk.at("2024-06-03T10:10");
    let ask: [&str; 8] = ["may", CHART, "--technique", "soft-tissue", "--region", "lumbar", "--side", "left"];
    let kept: Vec<&str> = ask.iter().copied().chain(["--keep"]).collect();
    let (_, first) = desk.run(OWNER, ScriptedAsker::nobody(), &kept);
    let find_kept = || desk.entries().into_iter().find(|e| e.leaf.kind == "coverage-answer").unwrap();
    let before = find_kept();
    let (Some(Data::CoverageAnswer(answered)), seq) = (before.data(), before.leaf.seq) else { panic!() };
    assert_eq!(answered.agreed.word(), "yes", "{first}");
    let printed = |text: String| -> String {
        let from = text.find(&format!("No. {seq} (")).unwrap();
        text[from..].split("\n\nNo.").next().unwrap().trim_end().to_string()
    };
    let as_shown = printed(desk.ok(&["print", CHART, "--why", "visit"]));
    // The next day the consent is corrected: it never covered that side.
    desk.at("2024-06-04T09:00");
    let number = consent.to_string();
    desk.ok(&[
        "correct",
        CHART,
        &number,
        "--field",
        "side",
        "--is",
        "right",
        "--because",
        "read from the wrong paper",
        "--care-affected",
        "no",
        "--not-told-because",
        "to be told",
    ]);
    let after = find_kept();
    assert_eq!((before.digest.clone(), before.record.clone()), (after.digest.clone(), after.record.clone()));
    assert_eq!(printed(desk.ok(&["print", CHART, "--why", "visit"])), as_shown);
    let at: Vec<&str> = ask.iter().copied().chain(["--at", "2024-06-03 10:10", "--json"]).collect();
    let (_, past) = desk.run(OWNER, ScriptedAsker::nobody(), &at);
    let past: Value = serde_json::from_str(&past[past.find('{').unwrap()..]).unwrap();
    assert_eq!((&past["agreed"], &past["reasons"]), (&json!("yes"), &json!(answered.reasons)), "{past}");
    let cautions = past["cautions"].as_array().unwrap();
    let code = json!("answered-on-a-consent-since-corrected");
    assert!(cautions.iter().any(|caution| caution["code"] == code), "{past}");
    let kept = seq.to_string();
    let plain = ["--because", "slip", "--care-affected", "no", "--not-told-because", "later"];
    let rewrite = ["correct", CHART, &kept, "--field", "answer", "--is", "no"];
    desk.refused(OWNER, &rewrite.into_iter().chain(plain).collect::<Vec<_>>(), "stays as it was answered");
    // And now it is another matter.
    let (exit, now) = desk.run(OWNER, ScriptedAsker::nobody(), &ask);
    assert_eq!(exit, Exit::Wrong, "{now}");
}

#[test]
fn addendum_and_late_entry_are_not_the_same() {
    let desk = Desk::new();
    let note = desk.visit("2024-06-03", true).to_string();
    desk.at("2024-06-10T09:00");
    let addendum = |learned: &str| {
        ["addendum", CHART, "--entry", &note, "--text", "X-ray report: no fracture", "--learned", learned]
            .map(str::to_string)
    };
    let old = addendum("2024-06-03 09:00");
    desk.refused(OWNER, &old.iter().map(String::as_str).collect::<Vec<_>>(), "Use `inkfast late`");
    let new = addendum("2024-06-09 16:00");
    let added = desk.entry(&new.iter().map(String::as_str).collect::<Vec<_>>());
    assert!(desk.labels(added).is_empty());
    let late = ["late", CHART, "--entry", &note, "--text", "told to rest", "--because", "left out in haste"];
    desk.refused(OWNER, &late, "--source");
    let with_source: Vec<&str> = late.iter().copied().chain(["--source", "memory"]).collect();
    let left_out = desk.entry(&with_source);
    assert_eq!(desk.labels(left_out), ["late-entry"]);
    let shown = desk.shown(CHART);
    for words in [format!("[addendum: see no. {added}]"), format!("[late entry: see no. {left_out}]")] {
        assert!(shown.contains(&words), "{words}\n{shown}");
    }
    // Somebody asks for the record; what is added to the past from then on says so.
    desk.at("2024-06-11T09:00");
    let mut practice = desk.small.open_as(OWNER, PASSPHRASE).unwrap();
    let tag = find(&practice, CHART).unwrap().tag;
    let request: Data = example_data("request");
    let now = practice.now();
    let Data::Request(mut request) = request else { panic!() };
    request.received_on = inkfast::record::kinds::Day(now.local_date());
    request.due = None;
    practice.append(Draft::new(Some(&tag), Data::Request(request), now)).unwrap();
    drop(practice);
    desk.at("2024-06-12T09:00");
    let after = desk.entry(&with_source);
    assert_eq!(desk.labels(after), ["late-entry", "after-request"]);
}

#[test]
fn an_entry_in_the_wrong_chart_is_marked_and_written_again() {
    let desk = Desk::new();
    desk.at("2024-06-03T09:00");
    let said = "the other person's jaw clicks";
    let wrong = desk.entry(&[
        "contact",
        CHART,
        "--direction",
        "incoming",
        "--with",
        "Somebody Else",
        "--checked",
        "birth date",
        "--said",
        said,
    ]);
    let number = wrong.to_string();
    let fixed = desk.entry(&[
        "correct",
        CHART,
        &number,
        "--field",
        "said",
        "--is",
        "the other person's jaw clicks left",
        "--because",
        "side left out",
        "--care-affected",
        "no",
        "--not-told-because",
        "to be told",
    ]);
    desk.at("2024-06-03T09:20");
    let mark = ["misfiled", CHART, "--entry", &number, "--because", "wrong chart open"];
    let to =
        |chart: &'static str| -> Vec<&str> { mark.iter().copied().chain(["--re-enter", chart]).collect() };
    desk.refused(OWNER, &to(CHART), "That is the chart it is in");
    let marked = desk.entry(&to(OTHER_CHART));
    desk.refused(OWNER, &to(OTHER_CHART), "is marked already");
    desk.refused(
        OWNER,
        &["misfiled", CHART, "--entry", &(marked).to_string(), "--because", "x"],
        "about this chart itself",
    );
    // The mark names nobody and no chart.
    let record = desk.record(marked);
    assert_eq!(record.data["re_entered"], json!(true));
    assert!(!serde_json::to_string(&record).unwrap().contains(OTHER_CHART));
    // Written again as it read, under its own label and pointing back, with its own time.
    let again = desk.record(marked - 1);
    assert_eq!(again.data["said"], json!("the other person's jaw clicks left"));
    assert_eq!(again.labels.iter().map(|l| l.word()).collect::<Vec<_>>(), ["re-entered"]);
    assert_eq!(
        again.refers.iter().map(|r| (r.seq, r.why.word())).collect::<Vec<_>>(),
        [(wrong, "re-entered-from")]
    );
    assert_eq!(again.happened.start, desk.record(wrong).happened.start);
    // Held back from every copy, with what quotes it; the bytes are still there for whoever must see them.
    let shown = desk.shown(CHART);
    assert!(!shown.contains("jaw clicks"), "{shown}");
    assert!(shown.contains(&format!("BELONGS TO ANOTHER CHART: see no. {marked}")), "{shown}");
    desk.ok(&["print", CHART, "--why", "review", "--html", desk.file("page.html").to_str().unwrap()]);
    let page = std::fs::read_to_string(desk.file("page.html")).unwrap();
    assert!(!page.contains("jaw clicks") && page.contains("belongs to another person"), "{fixed}");
    assert!(desk.ok(&["print", CHART, "--why", "review", "--entry", &number]).contains("jaw clicks"));
    assert!(desk.shown(OTHER_CHART).contains("jaw clicks left"));
}

#[test]
fn a_note_is_written_again_in_its_own_visit_and_without_the_other_s_numbers() {
    let desk = Desk::new();
    let note = desk.visit("2024-06-03", true).to_string();
    desk.at("2024-06-03T11:00");
    let mark =
        ["misfiled", CHART, "--entry", &note, "--because", "wrong chart open", "--re-enter", OTHER_CHART];
    desk.refused(OWNER, &mark, "none is open in the chart it belongs to");
    let visit =
        desk.entry(&["visit", "open", OTHER_CHART, "--room", "room 1", "--happened", "2024-06-03 10:00"]);
    desk.at("2024-06-03T11:10");
    let marked = desk.entry(&mark);
    let again = desk.record(marked - 1);
    assert_eq!((&again.data["visit"], &again.data["agreed"]), (&json!(visit), &json!({})));
    assert!(!serde_json::to_string(&again.data).unwrap().contains("consents"));
    // What is said of it is worked out in the chart it belongs to: nothing was agreed there.
    let labels: Vec<&str> = again.labels.iter().map(|label| label.word()).collect();
    assert_eq!(labels, ["procedure-not-covered", "re-entered"]);
    // A released copy withholds the entry with a slip, and is sound.
    let identity = inkfast::seal::age_file::Identity::generate();
    std::fs::write(desk.file("who.txt"), format!("{}\n", identity.to_text().as_str())).unwrap();
    let file = desk.file("out.age");
    let package = file.to_str().unwrap();
    desk.ok(&[
        "release",
        CHART,
        "--to",
        &identity.recipient().to_string(),
        "--file",
        package,
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
    let release = desk.entries().into_iter().rfind(|e| e.leaf.kind == "release").unwrap().record.unwrap();
    let number: u64 = note.parse().unwrap();
    assert_eq!(
        release.data["withheld"],
        json!([{"entry": number, "ground": "belongs to another person's chart", "slip": true}])
    );
    let matches = app::command()
        .try_get_matches_from([
            "inkfast",
            "verify",
            package,
            "--identity",
            desk.file("who.txt").to_str().unwrap(),
        ])
        .unwrap();
    let mut out = Vec::new();
    let mut nobody = ScriptedAsker::nobody();
    let exit = app::run(&matches, desk.small.world.clone(), &mut nobody, &mut out);
    assert_eq!(exit, Exit::Done, "{}", String::from_utf8_lossy(&out));
}

#[test]
fn what_stands_in_a_chart_or_on_a_clock_is_said_of_what_is_written_then() {
    let mut desk = Desk::new();
    desk.small.let_go();
    let tag = desk.small.charts[0].clone();
    let mut minute = 0;
    let mut put = |chart: Option<&str>, kind: &str, data: Value| -> u64 {
        minute += 1;
        desk.small.clock.set(local("2024-06-03T09:00").plus_seconds(60 * minute));
        let now = desk.small.practice.now();
        let data = Data::read(kind, 1, &data).unwrap();
        desk.small.practice.append(Draft::new(chart, data, now)).unwrap().seq
    };
    let said = serde_json::to_value(match common::contact_saying("rang") {
        Data::Contact(contact) => *contact,
        other => panic!("{other:?}"),
    })
    .unwrap();
    let tag = Some(tag.as_str());
    let plain = put(tag, "contact", said.clone());
    let hold = json!({"reason": "letter of counsel", "from_whom": "counsel", "scope": {"kind": "chart"}, "placed_by": OWNER});
    let hold = put(tag, "hold", hold);
    let held = put(tag, "contact", said.clone());
    put(tag, "hold-lifted", json!({"hold": hold, "by": "counsel", "words": "settled"}));
    let lifted = put(tag, "contact", said.clone());
    put(tag, "notice", json!({"kind": "complaint", "from": "the board", "state": "received"}));
    let noticed = put(tag, "contact", said.clone());
    let wrong =
        json!({"state": "opened", "at_station": "desk", "words": "an hour behind since the battery died"});
    let remark = put(None, "clock-remark", wrong);
    let remarked = put(tag, "contact", said.clone());
    put(
        None,
        "clock-remark",
        json!({"state": "closed", "of": remark, "at_station": "desk", "words": "set right"}),
    );
    let settled = put(tag, "contact", said);
    let none: [&str; 0] = [];
    assert_eq!(desk.labels(plain), none);
    assert_eq!(desk.labels(held), ["after-hold"]);
    assert_eq!(desk.labels(lifted), none);
    assert_eq!(desk.labels(noticed), ["after-notice"]);
    assert_eq!(desk.labels(remarked), ["after-notice", "clock-remarked"]);
    assert_eq!(desk.labels(settled), ["after-notice"]);
}

#[test]
fn two_charts_of_one_person_point_to_each_other() {
    let desk = Desk::new();
    desk.at("2024-06-03T09:00");
    let join =
        ["patient", "joined", CHART, "--direction", "continue-at", "--because", "same telephone", "--other"];
    let to = |other: &'static str| -> Vec<&str> { join.iter().copied().chain([other]).collect() };
    desk.refused(OWNER, &to(CHART), "can't be joined to itself");
    let before = desk.entries().len();
    desk.ok(&to(OTHER_CHART));
    let new: Vec<Entry> = desk.entries().split_off(before);
    let kinds: Vec<&str> = new.iter().map(|e| e.leaf.kind.as_str()).collect();
    assert_eq!(kinds, ["joined", "joined", "chart-state"]);
    let said = |index: usize, field: &str| new[index].record.as_ref().unwrap().data[field].clone();
    assert_eq!((said(0, "direction"), said(0, "other_chart_no")), (json!("continue-at"), json!(OTHER_CHART)));
    assert_eq!((said(1, "direction"), said(1, "other_chart_no")), (json!("continued-from"), json!(CHART)));
    assert_eq!(said(2, "continue_at"), json!(OTHER_CHART));
    desk.refused(OWNER, &["visit", "open", CHART, "--room", "1"], &format!("goes on as chart {OTHER_CHART}"));
    desk.refused(OWNER, &to(OTHER_CHART), "joined before");
    assert!(desk.shown(CHART).contains(&format!("goes on as chart {OTHER_CHART}")));
    // What belongs to the past may still be added there.
    desk.ok(&[
        "contact",
        CHART,
        "--direction",
        "none",
        "--nobody-because",
        "no answer",
        "--said",
        "rang once",
    ]);
}

#[test]
fn a_request_for_amendment_with_all_its_papers() {
    let desk = Desk::new();
    let note = desk.visit("2024-06-03", true).to_string();
    desk.at("2024-07-01T09:00");
    let point = |text: &str| format!("text=\"{text}\" entries={note}");
    let (first, second) = (point("it was the right side"), point("I never said easier"));
    let take = ["amend", "take", CHART, "--from", "Bettony Craske", "--points", &first, "--points", &second];
    let taken = desk.ok(&take);
    // 45 CFR 164.526(b)(2): 60 days after receipt, here of the invented demo clock; one extension of 30.
    assert!(taken.contains("30 Aug 2024") && taken.contains("29 Sep 2024"), "{taken}");
    let request = desk.entries().last().unwrap().leaf.seq;
    assert_eq!(desk.record(request).data["due"], json!("2024-08-30"));
    let number = request.to_string();
    let decide = |points: &[&str], more: &[&str]| -> Vec<String> {
        let mut args = vec!["amend", "decide", CHART, "--request", &number, "--sent-how", "post"];
        points.iter().for_each(|point| args.extend(["--points", point]));
        args.extend(more);
        args.into_iter().map(str::to_string).collect()
    };
    let refused = |args: Vec<String>, words: &str| {
        desk.refused(OWNER, &args.iter().map(String::as_str).collect::<Vec<_>>(), words);
    };
    let full = [
        "--says-ground",
        "yes",
        "--says-right-to-disagree",
        "yes",
        "--says-right-to-travel",
        "yes",
        "--says-complaint-route",
        "yes",
        "--complaint-contact",
        "Tobiah Renquist, 0555 0100",
    ];
    let gaps = [
        "--says-ground",
        "yes",
        "--says-right-to-disagree",
        "no",
        "--says-right-to-travel",
        "yes",
        "--says-complaint-route",
        "yes",
    ];
    let accept = "no=1 decision=accepted reason=\"the drawing shows it\"";
    let refuse = "no=2 decision=refused ground=accurate-and-complete reason=\"as said in the room\"";
    refused(decide(&[accept, refuse], &full), "no correction carries it out");
    let side = desk.entry(&[
        "correct",
        CHART,
        &note,
        "--field",
        "procedures 1, side",
        "--is",
        "right",
        "--because",
        "the patient is right",
        "--care-affected",
        "no",
        "--told",
        "now",
        "--amendment",
        &number,
    ]);
    let accept = format!("{accept} corrections={side}");
    refused(decide(&[&accept], &full), "Decide each point once");
    refused(decide(&[&accept, "no=2 decision=refused reason=no"], &full), "without a ground");
    refused(decide(&[&accept, refuse], &gaps), "the right to disagree in writing, and how (d)(1)(ii)");
    refused(decide(&[&accept, refuse], &gaps), "the contact for a complaint");
    let disagree = ["amend", "disagree", CHART, "--request", &number, "--text", "I did not say it"];
    desk.refused(OWNER, &disagree, "not decided yet");

    // More time, once, by a letter inside the first time, to a day the clock allows.
    let extend = |new_due: &str, dated: &str| -> Vec<String> {
        let args = [
            "amend",
            "extend",
            CHART,
            "--request",
            &number,
            "--because",
            "the author is away",
            "--new-due",
            new_due,
            "--letter-dated",
            dated,
        ];
        args.map(str::to_string).to_vec()
    };
    refused(extend("2024-09-30", "2024-07-01"), "later than the rules allow");
    desk.at("2024-09-02T09:00");
    refused(extend("2024-09-29", "2024-09-01"), "the extension is void");
    desk.at("2024-08-30T09:00");
    let args = extend("2024-09-29", "2024-08-30");
    desk.ok(&args.iter().map(String::as_str).collect::<Vec<_>>());
    refused(extend("2024-09-29", "2024-08-30"), "extended before");

    desk.at("2024-09-10T09:00");
    let args = decide(&[&accept, refuse], &full);
    let decided = desk.entry(&args.iter().map(String::as_str).collect::<Vec<_>>());
    let refers: Vec<(u64, String)> =
        desk.record(decided).refers.iter().map(|r| (r.seq, r.why.word().to_string())).collect();
    assert_eq!(refers, [(request, "answers".to_string()), (side, "see-also".to_string())]);
    refused(decide(&[&accept, refuse], &full), "decided already");
    let statement = desk.entry(&disagree);
    let of = statement.to_string();
    let answer =
        ["amend", "rebut", CHART, "--disagreement", &of, "--text", "the note stands", "--copy-sent", "today"];
    let rebuttal = desk.entry(&answer);
    let shown = desk.shown(CHART);
    for words in [
        format!("[amendment asked, point 2: see no. {request}]"),
        format!("[decided: see no. {decided}]"),
        format!("[the patient disagrees: see no. {statement}]"),
        format!("[answered: see no. {rebuttal}]"),
    ] {
        assert!(shown.contains(&words), "{words}\n{shown}");
    }
    // In the printed record the papers stand beneath the note they dispute, and nowhere else.
    desk.ok(&["print", CHART, "--why", "review", "--html", desk.file("page.html").to_str().unwrap()]);
    let page = std::fs::read_to_string(desk.file("page.html")).unwrap();
    let visit = page.find("Written afterwards about this visit").unwrap();
    for paper in [request, decided, statement, rebuttal] {
        let id = format!("id=\"e{paper}\"");
        assert_eq!(page.matches(&id).count(), 1, "{paper}");
        assert!(page.find(&id).unwrap() > visit, "{paper}");
    }
    assert!(page.contains("accurate and complete"), "the ground");
}

/// One thing done to a chart, about an entry chosen by a number.
#[derive(Debug, Clone, Copy)]
enum Act {
    Record,
    Correct(usize),
    Addendum(usize),
    Late(usize),
    Misfiled(usize),
    Withdraw,
}

fn acts() -> impl Strategy<Value = Vec<Act>> {
    let one = prop_oneof![
        3 => Just(Act::Record),
        3 => any::<usize>().prop_map(Act::Correct),
        1 => any::<usize>().prop_map(Act::Addendum),
        1 => any::<usize>().prop_map(Act::Late),
        1 => any::<usize>().prop_map(Act::Misfiled),
        1 => Just(Act::Withdraw),
    ];
    prop::collection::vec(one, 1..10)
}

/// The data of an act on one of the chart's contacts, given with what each says now.
fn data_of(act: Act, step: usize, contacts: &mut [(u64, String)], now: Moment) -> Data {
    let read = |kind: &str, value: Value| Data::read(kind, 1, &value).unwrap();
    let words = format!("words of step {step}");
    let about = |choice: usize| choice % contacts.len();
    match act {
        Act::Record => common::contact_saying(&words),
        Act::Correct(choice) => {
            let index = about(choice);
            let was = std::mem::replace(&mut contacts[index].1, words.clone());
            read(
                "correction",
                json!({"target": contacts[index].0, "field": "/said", "was": was, "is": words,
                "reason": "slip", "care_affected": false, "patient_told": now}),
            )
        }
        Act::Addendum(choice) => {
            read("addendum", json!({"target": contacts[about(choice)].0, "text": words, "learned_at": now}))
        }
        Act::Late(choice) => read(
            "late-entry",
            json!({"target": contacts[about(choice)].0, "text": words,
            "because": "left out", "source": "memory"}),
        ),
        Act::Misfiled(choice) => read(
            "misfiled",
            json!({"entry": contacts[about(choice)].0, "found_at": now,
            "found_by": OWNER, "because": "wrong chart"}),
        ),
        Act::Withdraw => read(
            "withdrawal",
            json!({"said_by": {"role": "self"}, "how": "words",
            "patient_words": words}),
        ),
    }
}

/// The bytes of every segment, without the space laid out ahead at its end.
fn segments(root: &std::path::Path) -> Vec<(String, Vec<u8>)> {
    let mut all: Vec<(String, Vec<u8>)> = std::fs::read_dir(root.join("ledger"))
        .unwrap()
        .map(|file| file.unwrap())
        .filter(|file| file.file_name().to_string_lossy().ends_with(".seg"))
        .map(|file| (file.file_name().to_string_lossy().into_owned(), std::fs::read(file.path()).unwrap()))
        .collect();
    for (_, bytes) in &mut all {
        let end = bytes.iter().rposition(|byte| *byte != 0).map_or(0, |at| at + 1);
        bytes.truncate(end);
    }
    all.sort();
    all
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, failure_persistence: None, ..ProptestConfig::default() })]

    /// CMS Pub. 100-08 ch. 3, 3.3.2.5: amendments must not delete original content. Whatever is done to a chart,
    /// every byte written before is still there and every earlier entry reads as it did.
    #[test]
    fn nothing_written_before_is_ever_gone(acts in acts()) {
        let mut small = Small::new(16 << 10, 1);
        let tag = small.charts[0].clone();
        let first = small.say(0, "first words");
        let mut contacts = vec![(first, "first words".to_string())];
        let root = small.root();
        let mut kept: Vec<(String, Record)> = Vec::new();
        let read_all = |small: &Small| -> Vec<(String, Record)> {
            let all = small.practice.scan().entries.iter();
            all.map(|at| small.practice.entry(at).unwrap()).map(|e| (e.digest, e.record.unwrap())).collect()
        };
        let mut bytes = segments(&root);
        kept.extend(read_all(&small));
        for (step, act) in acts.into_iter().enumerate() {
            small.clock.set(common::moment(common::DAY).plus_seconds(60 * (step as i64 + 1)));
            let now = small.practice.now();
            let data = data_of(act, step, &mut contacts, now);
            let receipt = small.practice.append(Draft::new(Some(&tag), data, now)).unwrap();
            if matches!(act, Act::Record) {
                contacts.push((receipt.seq, format!("words of step {step}")));
            }
            let later = segments(&root);
            for (name, old) in &bytes {
                let new = &later.iter().find(|(other, _)| other == name).unwrap().1;
                prop_assert!(new.starts_with(old), "{name} changed after {act:?}");
            }
            let read = read_all(&small);
            prop_assert_eq!(&read[..kept.len()], &kept[..]);
            prop_assert_eq!(read.len(), kept.len() + 1);
            (bytes, kept) = (later, read);
        }
    }
}
