//! Who comes, goes and looks: S49 and S51 through the real commands, with the leaver and the death of the example
//! practice. What is expected is common practice of the trade where no source is named beside it.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;

use common::reach::reach;
use common::room::{Room, Shown};
use common::{PASSPHRASE, add, check, example_data, ids, open_store};
use inkfast::practice::place::Place;
use inkfast::practice::session::Session;
use inkfast::record::kinds::Data;
use inkfast::seal::age_file::Identity;
use serde_json::{Value, json};

const CHART: &str = "PM-0139";
const OTHER: &str = "PM-0130";
const THEIRS: &str = "seven blue boats";

/// The owner, with two patients, in the summer of 2024.
fn room() -> Room {
    let room = Room::new();
    room.at("2024-08-26T09:00:00-04:00");
    room.patient(CHART, "Nadezhda Pruitt", "1972-01-05");
    room.patient(OTHER, "Tamsin Okoro-Bligh", "1995-12-08");
    room
}

fn hire(room: &Room, code: &str, name: &str, role: &str, more: &[&str]) {
    room.write("theirs", &format!("{THEIRS}\n"));
    let file = room.path("theirs").display().to_string();
    let words = [
        "roster",
        "add",
        "--new-passphrase-file",
        &file,
        "--code",
        code,
        "--name",
        name,
        "--role",
        role,
        "--initials",
        code,
        "--from",
        "2022-10-03",
    ];
    room.ok(&[&words[..], more].concat());
}

const TREATS: [&str; 6] = [
    "--techniques",
    "soft-tissue,mobilization",
    "--licence",
    "LM-C-0688",
    "--licence-last-day",
    "2099-12-31",
];

fn refused(shown: &Shown, words: &str) {
    let said = shown.all().split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!(shown.code(), 7, "{said}");
    assert!(said.contains(words), "{words}\n{said}");
}

fn kinds(room: &Room, args: &[&str]) -> Vec<String> {
    let list = room.json(args);
    list["items"].as_array().unwrap().iter().map(|i| i["kind"].as_str().unwrap().to_string()).collect()
}

fn identity(room: &Room, code: &str, passphrase: &str) -> Identity {
    let place = Place::open(&room.world, &room.path("store"), None).unwrap();
    Session::unlock(&room.world, &place, code, passphrase).unwrap().me.identity.clone()
}

/// An emergency opens at once, beyond the reason of the day, and somebody else looks at it afterwards. Required of an
/// access control: "emergency access procedure", 45 CFR 164.312(a)(2)(ii).
#[test]
fn s49_an_opening_in_an_emergency_waits_for_somebody_else() {
    let room = room();
    hire(&room, "HL", "Hattie Lorch", "desk", &[]);
    hire(&room, "TR", "Tobiah Renquist", "chiropractor", &TREATS);
    room.who("HL", THEIRS);
    let nameless = room.run(&["print", CHART, "--why", "emergency"]);
    assert_eq!(nameless.code(), 4, "{}", nameless.all());
    assert!(nameless.out.is_empty());
    room.at("2024-08-26T18:10:00-04:00");
    let shown =
        room.run(&["print", CHART, "--why", "emergency", "--words", "ambulance asks for her medicines"]);
    assert_eq!(shown.code(), 0, "{}", shown.all());
    assert!(shown.all().contains("looks at this opening afterwards"), "{}", shown.all());
    let seq = room.json(&["openings", "emergency"])[0]["entry"].as_u64().unwrap().to_string();
    refused(&room.run(&["openings", "emergency", &seq, "--fine", "it was me"]), "their own opening");
    room.who("TR", THEIRS);
    refused(&room.run(&["openings", "emergency", &seq, "--fine", "looks right"]), "keeper of the records");
    room.who("IV", PASSPHRASE);
    // It stands there until it is reviewed, on every later day too.
    room.at("2024-09-30T09:00:00-04:00");
    let today = room.ok(&["today"]);
    assert!(today.contains("Opened in an emergency") && today.contains("ambulance asks"), "{today}");
    room.ok(&["openings", "emergency", &seq, "--fine", "ambulance report seen"]);
    assert!(!kinds(&room, &["today"]).contains(&"emergency-opening".to_string()));
    refused(&room.run(&["openings", "emergency", &seq, "--fine", "again"]), "reviewed already");
    let all = room.json(&["openings", "emergency"]);
    assert_eq!((&all[0]["seen"], all[0]["review"].is_u64()), (&json!("fine"), true));
    // In the chart it stands like every opening, with its reason; and what the owner opens so, another reviews.
    let opened = room.json(&["openings", CHART, "--why", "review"]);
    assert_eq!(opened[0]["record"]["data"]["why"], "emergency");
    assert_eq!(opened[0]["record"]["edition"], 2);
    assert_eq!(opened[1]["record"]["edition"], 1, "other openings stay readable to older programs");
    room.ok(&["print", OTHER, "--why", "emergency", "--words", "called from the hospital"]);
    assert!(!kinds(&room, &["today"]).contains(&"emergency-opening".to_string()));
    room.who("TR", THEIRS);
    assert!(kinds(&room, &["today"]).contains(&"emergency-opening".to_string()));
    let seq = room.json(&["openings", "emergency"])[1]["entry"].as_u64().unwrap().to_string();
    room.ok(&["openings", "emergency", &seq, "--follow-up", "ask the hospital who called"]);
    assert!(check(&room.path("store")).sound);
    // The office file was not read by any of this.
    room.who("IV", PASSPHRASE);
    assert!(!room.ok(&["office", "list"]).contains("emergency"));
}

/// The associate of the example leaves on Friday 30 August 2024 with two unsigned drafts, in PM-0139 and PM-0130.
#[test]
fn s51_an_associate_leaves_with_two_unsigned_drafts() {
    let room = room();
    hire(
        &room,
        "TR",
        "Tobiah Renquist",
        "chiropractor",
        &[&TREATS[..], &["--duties", "second signer"]].concat(),
    );
    room.who("TR", THEIRS);
    for chart in [CHART, OTHER] {
        room.ok(&["visit", "open", chart, "--room", "room 2", "--identifiers", "full-name,birth-date"]);
        room.ok(&["note", chart, "C5-6 R mob III 4>2"]);
    }
    room.ok(&[
        "contact",
        CHART,
        "--channel",
        "telephone",
        "--direction",
        "incoming",
        "--with",
        "Nadezhda Pruitt",
        "--checked",
        "birth date",
        "--said",
        "asks for exercises",
        "--call-back",
        "2024-08-29 12:00",
    ]);
    room.at("2024-08-30T15:40:00-04:00");
    room.who("IV", PASSPHRASE);
    let left = room.json(&["roster", "leaver", "TR", "--sign-off"]);
    let of = |what: &str| -> Vec<Value> {
        left["left"].as_array().unwrap().iter().filter(|one| one["what"] == what).cloned().collect()
    };
    let drafts = of("draft");
    let charts: Vec<&str> = drafts.iter().map(|one| one["chart"].as_str().unwrap()).collect();
    assert_eq!(charts, [CHART, OTHER]);
    for (one, chart) in drafts.iter().zip([CHART, OTHER]) {
        let remedy = one["remedy"].as_str().unwrap();
        assert!(remedy.contains(&format!("inkfast sign {chart}")), "{remedy}");
    }
    let open: Vec<String> =
        of("open-item").iter().map(|one| one["words"].as_str().unwrap().to_string()).collect();
    assert!(open.iter().any(|words| words.contains("called back")), "{open:?}");
    assert!(open.iter().any(|words| words.contains("Visits left open")), "{open:?}");
    assert_eq!(of("duty")[0]["words"], "duty: second signer");
    assert!(left["signed_off"].is_u64());
    // What the drafts say opens to nobody else.
    let text = left.to_string();
    assert!(!text.contains("C5"), "{text}");

    // Retired all the same: the list is said once more, and kept.
    let retired =
        room.run(&["roster", "retire", "TR", "--last-day", "2024-08-30", "--because", "moves to the coast"]);
    assert_eq!(retired.code(), 0, "{}", retired.all());
    for words in [CHART, OTHER, "unsigned", "inkfast roster renew"] {
        assert!(retired.all().contains(words), "{words}\n{}", retired.all());
    }
    let list = room.json(&["roster", "list"]);
    let line = list.as_array().unwrap().iter().find(|line| line["code"] == "TR").unwrap();
    assert_eq!(line["on_roster_last_day"], "2024-08-30");
    // On the last day TR still signs; the day after, nothing opens.
    room.who("TR", THEIRS);
    room.ok(&["note", OTHER, "C4-5 L mob II 3>2"]);
    room.at("2024-08-31T09:00:00-04:00");
    assert!(!room.run(&["patient", "list"]).out.contains("Pruitt"));
    assert_eq!(room.run(&["print", CHART, "--why", "review"]).code(), 5);
    assert!(check(&room.path("store")).sound);
}

/// The evening desk of the example looked into a chart four times and was let go of on the same Friday: nothing of
/// what was theirs opens anything afterwards, and it is said that older copies do.
#[test]
fn s51_somebody_not_trusted_leaves_and_new_keys_are_made() {
    let room = room();
    hire(&room, "DS", "Dov Sandquist", "desk", &[]);
    let own = identity(&room, "DS", THEIRS);
    assert!(reach(&room.world, &room.path("store"), std::slice::from_ref(&own)).opened.len() > 4);
    let later = ["roster", "retire", "DS", "--last-day", "2024-12-31", "--because", "looked", "--new-keys"];
    assert_eq!(room.run(&later).code(), 4);
    let sheet = room.path("new-sheet.html").display().to_string();
    let retire = [
        "roster",
        "retire",
        "DS",
        "--last-day",
        "2024-08-26",
        "--because",
        "looked into a chart",
        "--new-keys",
        "--new-recovery-sheet",
        &sheet,
    ];
    let shown = room.run(&retire);
    assert_eq!(shown.code(), 0, "{}", shown.all());
    for words in ["2 chart(s) have new keys", "open to: IV", "can't be made unknown", "destroy the old sheet"]
    {
        assert!(shown.all().contains(words), "{words}\n{}", shown.all());
    }
    assert!(std::fs::read_to_string(&sheet).unwrap().contains("AGE-SECRET-KEY-1"));
    let reached = reach(&room.world, &room.path("store"), &[own]);
    assert!(reached.opened.is_empty(), "{:?}", reached.opened);
    assert_eq!(
        room.run(&["roster", "renew", "--new-recovery-sheet", &sheet]).code(),
        7,
        "it would be written over"
    );
    // Work goes on, and what was written before opens.
    room.ok(&["visit", "open", CHART, "--room", "room 1", "--identifiers", "full-name,birth-date"]);
    assert!(room.printed(OTHER).contains("Tamsin Okoro-Bligh"));
    room.who("DS", THEIRS);
    assert_eq!(room.run(&["print", CHART, "--why", "billing"]).code(), 5);
    assert!(check(&room.path("store")).sound);
}

/// A licence that runs out is warned of, labelled on what is signed after it, and keeps nothing from being recorded.
#[test]
fn s51_a_licence_runs_out() {
    let room = room();
    room.ok(&[
        "roster",
        "change",
        "IV",
        "--licence-last-day",
        "2024-09-30",
        "--because",
        "as printed on the licence",
    ]);
    assert!(kinds(&room, &["today"]).contains(&"licence".to_string()), "within the days that the rules name");
    assert!(room.ok(&["roster", "list"]).contains("the licence ends on 30 Sep 2024"));
    let label = |chart: &str| -> Vec<String> {
        let all = room.json(&["print", chart, "--why", "review"]);
        let opened =
            all.as_array().unwrap().iter().rfind(|one| one["kind"] == "visit-opened").unwrap().clone();
        let labels = opened["record"]["labels"].as_array().cloned().unwrap_or_default();
        labels.iter().map(|one| one.as_str().unwrap().to_string()).collect()
    };
    room.at("2024-09-30T09:00:00-04:00");
    room.ok(&["visit", "open", CHART, "--room", "room 1", "--identifiers", "full-name,birth-date"]);
    assert!(label(CHART).is_empty(), "on its last day it holds");
    room.at("2024-10-01T09:00:00-04:00");
    room.ok(&["visit", "open", OTHER, "--room", "room 1", "--identifiers", "full-name,birth-date"]);
    assert_eq!(label(OTHER), ["licence-over"]);
    assert!(room.printed(OTHER).contains("SIGNED WHEN A LICENCE WAS OVER"));
    assert!(room.ok(&["roster", "list"]).contains("RAN OUT"));
    room.ok(&["roster", "change", "IV", "--licence-last-day", "2025-12-31", "--because", "renewed"]);
    room.ok(&[
        "contact",
        OTHER,
        "--direction",
        "outgoing",
        "--with",
        "Tamsin",
        "--checked",
        "voice",
        "--said",
        "well",
    ]);
    assert!(!kinds(&room, &["today"]).contains(&"licence".to_string()));
    assert_eq!(label(OTHER), ["licence-over"], "what was signed then keeps its label");
    let line = room.json(&["roster", "list"])[0].clone();
    assert_eq!((&line["licence_last_day"], &line["name"]), (&json!("2025-12-31"), &json!("Ingrith Valsamo")));
}

/// A sale: the old keeper hands over, the new one ends the old keys; the chain goes on and verifies.
#[test]
fn s51_the_practice_is_sold() {
    let room = room();
    hire(&room, "NN", "Nele Norrgard", "chiropractor", &TREATS);
    let over = [
        "custody",
        "hand-over",
        "--to",
        "NN",
        "--event",
        "sale",
        "--reason",
        "the practice is sold",
        "--kept-at",
        "14 Hemp Lane, Pellmere",
        "--on",
        "2024-08-26",
    ];
    let before = room.json(&["verify"])["entries"].as_u64().unwrap();
    let shown = room.run(&over);
    assert_eq!(shown.code(), 0, "{}", shown.all());
    for words in ["NN keeps the records now", "lm-board", "roster renew"] {
        assert!(shown.all().contains(words), "{words}\n{}", shown.all());
    }
    refused(&room.run(&over), "Only the keeper");
    refused(&room.run(&["roster", "renew"]), "Only the keeper");
    room.who("NN", THEIRS);
    assert!(room.ok(&["print", CHART, "--why", "review"]).contains("Nadezhda"));
    let sheet = room.path("sheet-2.html").display().to_string();
    let retire = ["roster", "retire", "IV", "--last-day", "2024-08-26", "--because", "sold", "--new-keys"];
    room.ok(&[&retire[..], &["--new-recovery-sheet", &sheet]].concat());
    let old = identity(&room, "IV", PASSPHRASE);
    assert!(reach(&room.world, &room.path("store"), &[old]).opened.is_empty());
    assert!(room.printed(CHART).contains("Nele Norrgard"), "the keeper named on the statement");
    // The notices stay on the list until each was given.
    let waits = |room: &Room| kinds(room, &["today"]).iter().filter(|kind| *kind == "custody-notice").count();
    assert_eq!(waits(&room), 2);
    room.ok(&["custody", "told", "lm-board", "--words", "letter of 27 August"]);
    assert_eq!(waits(&room), 1);
    let notices = room.json(&["custody", "notices"]);
    let days: Vec<&str> =
        notices["notices"].as_array().unwrap().iter().map(|n| n["due"].as_str().unwrap()).collect();
    assert_eq!(days, ["2024-09-25", "2024-09-26"], "30 days, and a month, after 26 August");
    let done: Vec<bool> = notices["notices"].as_array().unwrap().iter().map(|n| n["done"].is_u64()).collect();
    assert_eq!(done, [true, false]);
    let report = check(&room.path("store"));
    assert!(report.sound && report.entries > before, "{:?}", report.findings);
}

/// The owner dies: the successor opens with the recovery sheet, becomes keeper, and the chain goes on unbroken.
#[test]
fn s51_the_owner_dies() {
    let room = Room::with_sheet();
    room.at("2024-08-26T09:00:00-04:00");
    room.patient(CHART, "Nadezhda Pruitt", "1972-01-05");
    let envelope = room.path("envelope.html").display().to_string();
    let recovery = room.path("recovery.txt").display().to_string();
    room.ok(&[
        "custody",
        "sheet",
        "--page",
        &envelope,
        "--successor",
        "Nele Norrgard, 3 Ferry Steps",
        "--copies",
        "the stick in the bank's box",
        "--tell",
        "Board, 555 0190",
        "--with-recovery",
        "--recovery-file",
        &recovery,
    ]);
    let page = std::fs::read_to_string(&envelope).unwrap();
    for words in
        ["Nele Norrgard", "bank&#39;s box", "555 0190", "AGE-SECRET-KEY-1", "custody take-over", "<svg"]
    {
        assert!(page.contains(words) || page.contains(&words.replace("&#39;", "'")), "{words}");
    }
    let mode = std::os::unix::fs::PermissionsExt::mode(&std::fs::metadata(&envelope).unwrap().permissions());
    assert_eq!(mode & 0o077, 0);

    room.at("2024-11-04T10:00:00-05:00");
    room.write("theirs", &format!("{THEIRS}\n"));
    let file = room.path("theirs").display().to_string();
    let take = |sheet: &str| {
        let words = [
            "custody",
            "take-over",
            "--recovery-file",
            sheet,
            "--new-passphrase-file",
            &file,
            "--code",
            "NN",
            "--name",
            "Nele Norrgard",
            "--role",
            "chiropractor",
            "--initials",
            "NN",
            "--from",
            "2024-11-04",
            "--event",
            "death",
            "--reason",
            "died on 1 November",
            "--kept-at",
            "3 Ferry Steps",
            "--on",
            "2024-11-04",
        ];
        room.run(&[&words[..], &TREATS].concat())
    };
    room.write("other.txt", &format!("{}\n", Identity::generate().to_text().as_str()));
    let other = room.path("other.txt").display().to_string();
    refused(&take(&other), "does not open this store");
    let shown = take(&recovery);
    assert_eq!(shown.code(), 0, "{}", shown.all());
    for words in ["NN keeps the records now", "lm-newspaper", "roster renew"] {
        assert!(shown.all().contains(words), "{words}\n{}", shown.all());
    }
    let report = check(&room.path("store"));
    assert!(report.sound, "{:?}", report.findings);
    room.who("NN", THEIRS);
    assert!(room.ok(&["print", CHART, "--why", "review"]).contains("Nadezhda"));
    let sheet = room.path("sheet-2.html").display().to_string();
    let retire = ["roster", "retire", "IV", "--last-day", "2024-11-01", "--because", "died", "--new-keys"];
    room.ok(&[&retire[..], &["--new-recovery-sheet", &sheet]].concat());
    // The old sheet is spent.
    refused(&take(&recovery), "does not open this store");
    let old = inkfast::seal::sheet::read_typed(std::fs::read_to_string(&recovery).unwrap().trim()).unwrap();
    assert!(reach(&room.world, &room.path("store"), &[old]).opened.is_empty());
    let report = check(&room.path("store"));
    assert!(report.sound, "{:?}", report.findings);
    assert!(room.printed(CHART).contains("Nele Norrgard"));
}

/// A store begun anew goes on from the old one: it commits to the old one's last checkpoint, and a check compares.
#[test]
fn s51_a_new_ledger_goes_on_from_the_old_one() {
    let old = room();
    let new = Room::new();
    let dir = tempfile::tempdir().unwrap();
    let (store, from) = (dir.path().join("store"), old.path("store"));
    old.write("theirs", &format!("{THEIRS}\n"));
    let (file, sheet) =
        (old.path("theirs").display().to_string(), dir.path().join("sheet.html").display().to_string());
    let (root, from_root) = (store.display().to_string(), from.display().to_string());
    let outside = dir.path().join("outside").display().to_string();
    let typed = [
        "inkfast",
        "init",
        "--store",
        &root,
        "--keep-outside",
        &outside,
        "--recovery-sheet",
        &sheet,
        "--new-passphrase-file",
        &file,
        "--code",
        "NN",
        "--name",
        "Nele Norrgard",
        "--role",
        "chiropractor",
        "--techniques",
        "soft-tissue",
        "--licence",
        "LM-C-0700",
        "--licence-last-day",
        "2099-12-31",
        "--practice",
        "The Ropewalk Rooms",
        "--address",
        "14 Hemp Lane",
        "--territory",
        "Lower Marl",
        "--clock",
        "UTC-5",
        "--goes-on-from",
        &from_root,
    ];
    let matches = inkfast::cli::app::command().try_get_matches_from(typed).unwrap();
    let mut asker = inkfast::cli::prompt::ScriptedAsker::nobody();
    let mut out = Vec::new();
    let exit = inkfast::cli::app::run(&matches, new.world.clone(), &mut asker, &mut out);
    assert_eq!(exit.code(), 0, "{}", asker.shown());
    let report = check(&store);
    assert!(report.sound, "{:?}", report.findings);
    let verified = |store: &str, earlier: &str| -> (u8, Value) {
        let typed = ["inkfast", "verify", "--store", store, "--earlier", earlier, "--json"];
        let matches = inkfast::cli::app::command().try_get_matches_from(typed).unwrap();
        let mut out = Vec::new();
        let mut asker = inkfast::cli::prompt::ScriptedAsker::nobody();
        let exit = inkfast::cli::app::run(&matches, new.world.clone(), &mut asker, &mut out);
        (exit.code(), serde_json::from_slice(&out).unwrap())
    };
    let (code, report) = verified(&root, &from_root);
    assert_eq!(code, 0, "{report}");
    let begun_from = check(&from).entries;
    let compared = |report: &Value, since: &str| {
        let words = format!("the earlier ledger, its {begun_from} entries{since}");
        report["witnesses"].as_array().unwrap().contains(&words.into())
    };
    assert!(compared(&report, ""), "{report}");
    // Written on there afterwards: said. Another store, or the old one cut: found.
    old.patient("PM-0900", "Silas Umberlow", "1949-02-11");
    let (code, report) = verified(&root, &from_root);
    let since = check(&from).entries - begun_from;
    assert!(code == 0 && compared(&report, &format!(", and {since} written there since")), "{report}");
    // The entry that holds the link is named, where there is one to the ledger that was handed in.
    let differs = |(code, report): (u8, Value), linked: bool| {
        let found = report["findings"].as_array().unwrap();
        let found = found.iter().find(|one| one["id"] == "earlier-ledger-differs");
        code == 1 && found.is_some_and(|one| one["where"]["seq"].is_u64() == linked)
    };
    assert!(differs(verified(&root, &new.path("store").display().to_string()), false));
    let segment = from.join("ledger/000001.seg");
    let mut bytes = std::fs::read(&segment).unwrap();
    bytes[3000] ^= 1;
    std::fs::write(&segment, bytes).unwrap();
    assert!(differs(verified(&root, &from_root), true));
    // A link that does not hold in itself is found without the old store.
    let Data::EarlierLedger(mut link) = example_data("earlier-ledger") else { panic!() };
    assert!(inkfast::verify::earlier::checkpoint(&link).is_some());
    link.entries = 2;
    assert!(inkfast::verify::earlier::checkpoint(&link).is_none());
    let mut practice = open_store(&new.world, &new.path("store"), "IV", PASSPHRASE).unwrap();
    add(&mut practice, None, Data::EarlierLedger(link)).unwrap();
    drop(practice);
    assert_eq!(ids(&check(&new.path("store"))), ["earlier-ledger-broken"]);
}
