//! What is missing is said before signing, never after: through the real commands, with a clock the test sets.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;

use common::{OWNER, PASSPHRASE, Small, example_data, moment};
use inkfast::cli::app;
use inkfast::cli::exit::Exit;
use inkfast::cli::prompt::ScriptedAsker;
use inkfast::practice::open::{Draft, Entry};
use inkfast::practice::staff;
use inkfast::record::envelope::Label;
use inkfast::record::kinds::Data;
use inkfast::record::kinds::register::KeyRole;
use inkfast::record::kinds::visit::Visit;
use inkfast::seal::note::Note;
use serde_json::{Value, json};

const CHART: &str = "PM-0112";
const COLLEAGUE: &str = "DK";
const THEIRS: &str = "nineteen hemp lanes";

/// A desk with one chart and a licence that holds.
struct Desk {
    small: Small,
    pw: String,
}

impl Desk {
    fn new(licence_last_day: &str) -> Desk {
        Desk::with_colleague(licence_last_day, None)
    }

    /// A desk where a colleague treats too, whose licence ends on this day.
    fn with_colleague(licence_last_day: &str, theirs: Option<&str>) -> Desk {
        let mut small = Small::new(256 << 10, 1);
        let Data::Staff(mut line) = example_data("staff") else { panic!() };
        line.on_roster_last_day = None;
        line.licence_last_day = Some(serde_json::from_value(json!(licence_last_day)).unwrap());
        let now = small.practice.now();
        small.practice.append(Draft::new(None, Data::Staff(line.clone()), now)).unwrap();
        if let Some(last_day) = theirs {
            (line.code, line.name) = (COLLEAGUE.to_string(), "Doro Kestle".to_string());
            line.licence_last_day = Some(serde_json::from_value(json!(last_day)).unwrap());
            staff::add(&mut small.practice, *line, vec![KeyRole::Desk, KeyRole::Clinical], THEIRS, 4)
                .unwrap();
        }
        small.let_go();
        let pw = small.dir.path().join("pw").display().to_string();
        for (name, words) in [("pw", PASSPHRASE), ("theirs", THEIRS)] {
            std::fs::write(small.dir.path().join(name), format!("{words}\n")).unwrap();
        }
        Desk { small, pw }
    }

    /// Runs a command as the colleague.
    fn run_as_colleague(&self, args: &[&str]) -> (Exit, String) {
        let store = self.small.root().display().to_string();
        let pw = self.small.dir.path().join("theirs").display().to_string();
        let who = ["--store", &store, "--as", COLLEAGUE, "--passphrase-file", &pw];
        let matches =
            app::command().try_get_matches_from(["inkfast"].iter().chain(args).copied().chain(who)).unwrap();
        let (mut nobody, mut out) = (ScriptedAsker::nobody(), Vec::new());
        let exit = app::run(&matches, self.small.world.clone(), &mut nobody, &mut out);
        (exit, format!("{}{}", String::from_utf8(out).unwrap(), nobody.shown()))
    }

    /// Runs a command as the owner; gives its exit and what it wrote.
    fn run_with(&self, asker: &mut ScriptedAsker, args: &[&str]) -> (Exit, String) {
        let store = self.small.root().display().to_string();
        let who = ["--store", &store, "--as", OWNER, "--passphrase-file", &self.pw];
        let typed = ["inkfast"].iter().chain(args).copied().chain(who);
        let matches = app::command().try_get_matches_from(typed).unwrap();
        let mut out = Vec::new();
        let exit = app::run(&matches, self.small.world.clone(), asker, &mut out);
        (exit, String::from_utf8(out).unwrap())
    }

    fn run(&self, args: &[&str]) -> (Exit, String) {
        let mut nobody = ScriptedAsker::nobody();
        let (exit, out) = self.run_with(&mut nobody, args);
        (exit, format!("{out}{}", nobody.shown()))
    }

    /// Runs a command that must be done; gives what it wrote as its result.
    fn ok(&self, args: &[&str]) -> String {
        let mut nobody = ScriptedAsker::nobody();
        let (exit, out) = self.run_with(&mut nobody, args);
        assert_eq!(exit, Exit::Done, "{args:?}\n{out}{}", nobody.shown());
        out
    }

    /// A visit with one treatment of the low back, and nothing else written yet.
    fn treated(&self) {
        self.ok(&["visit", "open", CHART, "--room", "room 1", "--identifiers", "full-name,birth-date"]);
        self.ok(&["finding", CHART, "--kind", "tone", "--region", "lumbar", "--side", "both"]);
        let line = ["procedure", CHART, "--technique", "soft-tissue", "--region", "lumbar", "--side", "both"];
        self.ok(&[&line[..], &["--response", "relieved"]].concat());
    }

    fn list(&self) -> Vec<Value> {
        let list: Value = serde_json::from_str(&self.ok(&["missing", CHART, "--json"])).unwrap();
        list["remarks"].as_array().unwrap().clone()
    }

    fn open_items(&self) -> Vec<String> {
        let open = |r: &Value| r["answered"].is_null() && r["level"] != "flag";
        let items = self.list().into_iter().filter(open);
        items.map(|r| r["item"].as_str().unwrap().to_string()).collect()
    }

    /// The signed notes of the chart.
    fn notes(&self) -> Vec<(Entry, Visit)> {
        let practice = self.small.open_as(OWNER, PASSPHRASE).unwrap();
        let entries = practice.chart(&self.small.charts[0]).unwrap();
        let note = |entry: Entry| match entry.data() {
            Some(Data::Visit(note)) => Some((entry, *note)),
            _ => None,
        };
        entries.into_iter().filter_map(note).collect()
    }

    /// Number of the newest entry of a kind in the chart.
    fn newest(&self, kind: &str) -> u64 {
        let practice = self.small.open_as(OWNER, PASSPHRASE).unwrap();
        let entries = practice.chart(&self.small.charts[0]).unwrap();
        entries.iter().rev().find(|entry| entry.leaf.kind == kind).unwrap().leaf.seq
    }

    fn correct(&self, entry: u64, field: &str, is: &str) {
        let entry = entry.to_string();
        let what = ["correct", CHART, &entry, "--field", field, "--is", is];
        let why = ["--because", "written wrongly", "--care-affected", "no", "--not-told-because", "here now"];
        self.ok(&[&what[..], &why[..]].concat());
    }

    fn later(&self, seconds: i64) {
        let now = self.small.world.clock.now();
        self.small.clock.set(now.plus_seconds(seconds));
    }
}

const SAID: &[&str] = &[
    "sign",
    CHART,
    "--sort",
    "later",
    "--changed",
    "easier",
    "--complaints",
    "words=low back pain=3 region=lumbar",
    "--no-assessment-because",
    "as last time",
    "--advice",
    "rest today",
    "--watch-for",
    "numbness: call 555 0199",
    "--plan",
    "again in a week",
];

#[test]
fn nothing_is_signed_before_the_list_is_answered() {
    let desk = Desk::new("2027-12-31");
    desk.treated();
    let items = desk.open_items();
    for item in ["complaint", "medicines", "assessment", "advice", "next-step", "agreed:1", "plan-goals"] {
        assert!(items.iter().any(|i| i == item), "{item} is not in {items:?}");
    }
    let (exit, out) = desk.run(&["sign", CHART]);
    assert_eq!(exit, Exit::AskFirst, "{out}");
    assert!(out.contains("Missing:") && out.contains("Not signed."), "{out}");
    assert!(desk.notes().is_empty());

    // A later visit needs less; one item is left, and a word that names nothing is refused.
    let (exit, out) = desk.run(SAID);
    assert_eq!(exit, Exit::AskFirst, "{out}");
    assert_eq!(desk.open_items(), ["agreed:1"], "what was given is in the draft");
    let (exit, out) = desk.run(&["sign", CHART, "--not-done", "agred=said yes"]);
    assert_eq!(exit, Exit::BadInput, "{out}");
    assert!(out.contains("agreed:1"), "{out}");
    desk.ok(&["sign", CHART, "--not-done", "agreed:1=said yes, not written then"]);
    let notes = desk.notes();
    let note = &notes[0].1;
    assert_eq!((note.not_done[0].item.as_str(), note.missing_acknowledged.len()), ("agreed:1", 0));
    // No rules are adopted here, so nobody can say what was covered: the note says so for ever.
    assert_eq!(notes[0].0.record.as_ref().unwrap().labels, [Label::CoverageUnknown]);
    let (exit, out) = desk.run(&["missing", CHART]);
    assert_eq!(exit, Exit::Refused, "after signing there is no list: {out}");
    let printed = desk.ok(&["print", CHART]);
    assert!(printed.contains("said yes, not written then"), "{printed}");
}

#[test]
fn at_a_terminal_each_item_is_answered_there() {
    let desk = Desk::new("2027-12-31");
    desk.treated();
    let mut person = ScriptedAsker::new([
        "easier",                                  // changed since last
        "11",                                      // pain: cannot be
        "3",                                       // pain
        "words=stiff low back basis=tight muscle", // assessment
        "-",                                       // advice: none,
        "patient in a hurry",                      // because
        "again in a week",                         // next step
        "said yes, not written then",              // agreed
        "yes",                                     // read back
    ]);
    let (exit, out) = desk.run_with(&mut person, &["sign", CHART, "--sort", "later"]);
    assert_eq!(exit, Exit::Done, "{out}\n{}", person.shown());
    let (_, note) = &desk.notes()[0];
    assert_eq!(note.changed_since_last.value().unwrap(), "easier");
    assert_eq!(note.measures[0].measured.value.get(), 3.0);
    assert_eq!(note.assessment.value().unwrap().diagnoses[0].basis, "tight muscle");
    assert_eq!(note.advice.because(), Some("patient in a hurry"));
    assert_eq!(note.not_done[0].because, "said yes, not written then");
    // An ordinary later visit takes few inputs: nothing that has a default was asked.
    assert!(person.exchange.iter().filter(|line| line.contains("Enter to leave it")).count() <= 8);
}

#[test]
fn what_is_known_to_be_missing_is_kept_as_that() {
    let desk = Desk::new("2027-12-31");
    desk.treated();
    let out = desk.ok(&["sign", CHART, "--sort", "later", "--acknowledge-missing", "--json"]);
    assert!(out.contains("\"kind\": \"visit\""), "{out}");
    let (_, note) = &desk.notes()[0];
    for item in ["changed-since-last", "pain-intensity", "assessment", "advice", "next-step", "agreed:1"] {
        assert!(note.missing_acknowledged.iter().any(|i| i == item), "{item}");
    }
    assert!(note.advice.because().unwrap().contains("known to be missing"));
}

/// Found by signing twice: what was filled in as known to be missing stood beside the answer that came later, and the
/// note could not be signed any more.
#[test]
fn what_was_acknowledged_as_missing_may_be_answered_after_all() {
    let desk = Desk::new("2027-12-31");
    desk.treated();
    let (exit, out) = desk.run(&["sign", CHART, "--acknowledge-missing", "--hold"]);
    assert_eq!(exit, Exit::Done, "{out}");
    desk.ok(&["sign", CHART, "--advice", "rest today", "--acknowledge-missing"]);
    let (_, note) = &desk.notes()[0];
    assert_eq!(note.advice.value().unwrap().words.as_deref(), Some("rest today"));
    assert!(note.assessment.because().unwrap().contains("known to be missing"));
}

#[test]
fn a_question_is_asked_and_its_answer_kept() {
    let desk = Desk::new("2027-12-31");
    desk.treated();
    let agreed = ["--not-done", "agreed=said yes, not written then"];
    desk.ok(&[SAID, &agreed[..]].concat());
    desk.later(7 * 86_400);
    desk.treated();
    // The second note says the very same.
    let (exit, out) = desk.run(&[SAID, &agreed[..], &["--acknowledge-missing"]].concat());
    assert_eq!(exit, Exit::AskFirst, "{out}");
    assert!(out.contains("same-as-last"), "{out}");
    let list = desk.list();
    let asked = list.iter().find(|r| r["id"] == "same-as-last").unwrap();
    let item = asked["item"].as_str().unwrap();
    desk.ok(&["sign", CHART, "--answer", &format!("{item}=read through, it is so")]);
    let (_, note) = &desk.notes()[1];
    assert_eq!(note.answered[0].answer, "read through, it is so");
}

#[test]
fn what_was_corrected_is_looked_at_as_it_now_stands() {
    let desk = Desk::new("2027-12-31");
    desk.ok(&["patient", "allergies", CHART, "--substances", "latex=not-allergic"]);
    let allergies = desk.newest("allergy-review");
    desk.treated();
    let mouth =
        ["procedure", CHART, "--technique", "intraoral", "--region", "inside-cheek", "--side", "left"];
    desk.ok(&[&mouth[..], &["--gloves", "latex", "--fresh-pair", "yes", "--response", "relieved"]].concat());
    desk.ok(&["visit", "measure", CHART, "--phase", "before", "--measures", "kind=pain-now value=9"]);
    let pain = desk.newest("measure");
    desk.ok(&["visit", "measure", CHART, "--phase", "after", "--measures", "kind=pain-now value=2"]);
    let has = |item: &str| desk.list().iter().any(|remark| remark["id"] == item);
    assert!(!has("glove-is-allergy") && has("pain-jump"), "as written");

    desk.correct(allergies, "/substances/latex", "allergic");
    assert!(has("glove-is-allergy"), "the allergy counts as corrected");
    desk.correct(pain, "/measures/0/value", "7");
    assert!(!has("pain-jump"), "the value counts as corrected");
    // A correction of the correction counts in its turn.
    desk.correct(desk.newest("correction"), "/is", "10");
    assert!(has("pain-jump"));
    desk.correct(allergies, "/substances/latex", "not-allergic");
    assert!(!has("glove-is-allergy"));
}

#[test]
fn identity_may_be_confirmed_after_the_visit_was_opened() {
    let desk = Desk::new("2027-12-31");
    let refused = desk.run(&["visit", "identity", CHART]);
    assert_eq!(refused.0, Exit::Refused, "no visit is open: {}", refused.1);
    // Only a person can say that it is not confirmed yet.
    let mut person = ScriptedAsker::new(["-", "", "", "yes"]);
    let (exit, out) = desk.run_with(&mut person, &["visit", "open", CHART]);
    assert_eq!(exit, Exit::Done, "{out}{}", person.shown());
    let asked = || desk.list().into_iter().find(|r| r["id"] == "identity-confirmed");
    let remedy = asked().unwrap()["remedy"].as_str().unwrap().to_string();
    assert!(remedy.contains("inkfast visit identity"), "{remedy}");
    desk.ok(&["visit", "identity", CHART, "--identifiers", "full-name,address"]);
    assert_eq!(asked(), None);
    let practice = desk.small.open_as(OWNER, PASSPHRASE).unwrap();
    let entries = practice.chart(&desk.small.charts[0]).unwrap();
    let Some(Data::IdentityChecked(checked)) =
        entries.iter().rev().find_map(|e| e.data().filter(|data| matches!(data, Data::IdentityChecked(_))))
    else {
        panic!("not recorded")
    };
    assert_eq!(checked.identity_confirmed.identifiers, ["full-name", "address"]);
    assert!(entries.iter().any(|e| e.leaf.seq == checked.visit && e.leaf.kind == "visit-opened"));
}

#[test]
fn a_held_note_is_signed_as_it_was_finished() {
    let desk = Desk::new("2027-12-31");
    desk.treated();
    desk.later(600);
    let held = desk.ok(&[SAID, &["--not-done", "agreed=said", "--hold", "--json"]].concat());
    let held: Value = serde_json::from_str(&held).unwrap();
    assert!(desk.notes().is_empty());
    // The rules say ten minutes.
    let ended = desk.small.world.clock.now();
    let until = moment(held["held_until"].as_str().unwrap());
    assert_eq!(until, ended.plus_seconds(600));
    desk.later(300);
    let mut person = ScriptedAsker::new(Vec::<String>::new());
    let (exit, out) = desk.run_with(&mut person, &["sign", CHART]);
    assert_eq!(exit, Exit::Done, "in time nothing is asked again: {out}\n{}", person.shown());
    let (entry, _) = &desk.notes()[0];
    assert_eq!(entry.record.as_ref().unwrap().happened.end, Some(ended));

    // Out of time it is read back again, and nobody signs what was not answered.
    desk.later(86_400);
    desk.treated();
    desk.ok(&[SAID, &["--not-done", "agreed=said", "--answer", "same-as-last=read", "--hold"]].concat());
    desk.later(601);
    let mut nobody_answers = ScriptedAsker::new(Vec::<String>::new());
    let (exit, _) = desk.run_with(&mut nobody_answers, &["sign", CHART]);
    assert_ne!(exit, Exit::Done);
    assert!(nobody_answers.shown().contains("Is this right? Sign it?"));
    assert_eq!(desk.notes().len(), 1);
}

#[test]
fn what_stands_against_signing_is_named_and_the_keeper_may_say_why() {
    let desk = Desk::new("2025-09-21");
    desk.treated();
    let all = [SAID, &["--not-done", "agreed=said"]].concat();
    let (exit, out) = desk.run(&all);
    assert_eq!(exit, Exit::Refused, "{out}");
    assert!(out.contains("licence-expired") && out.contains("keeper of the records"), "{out}");
    assert!(desk.notes().is_empty());
    let reason =
        ["--custodians-reason", "licence-expired=treated before the renewal came; the board was told"];
    desk.ok(&[&["sign", CHART], &reason[..]].concat());
    let (entry, note) = &desk.notes()[0];
    assert!(entry.record.as_ref().unwrap().labels.contains(&Label::WithCustodiansReason));
    assert!(note.answered[0].answer.contains("the board was told"));
}

#[test]
fn a_keeper_who_is_not_the_signer_signs_beside_them() {
    let desk = Desk::with_colleague("2031-12-31", Some("2025-09-21"));
    let done = |args: &[&str]| {
        let (exit, out) = desk.run_as_colleague(args);
        assert_eq!(exit, Exit::Done, "{args:?}\n{out}");
    };
    done(&["visit", "open", CHART, "--room", "room 1", "--usual"]);
    done(&["finding", CHART, "--kind", "tone", "--region", "lumbar", "--side", "both"]);
    let line = ["procedure", CHART, "--technique", "soft-tissue", "--region", "lumbar", "--side", "both"];
    done(&[&line[..], &["--response", "relieved"]].concat());
    let reason = [
        &[SAID, &["--not-done", "agreed=said"]].concat()[..],
        &["--custodians-reason", "licence-expired=treated before the renewal came; the board was told"],
    ]
    .concat();
    let theirs = desk.small.dir.path().join("theirs").display().to_string();
    for (more, exit, words) in [
        (vec![], Exit::Refused, "--custodian CODE"),
        (
            vec!["--custodian", COLLEAGUE, "--second-passphrase-file", &theirs],
            Exit::Refused,
            "is not the keeper",
        ),
        (vec!["--custodian", OWNER, "--second-passphrase-file", &theirs], Exit::Locked, "does not open"),
    ] {
        let (ended, out) = desk.run_as_colleague(&[&reason[..], &more].concat());
        assert_eq!(ended, exit, "{more:?}\n{out}");
        assert!(out.contains(words), "{more:?}\n{out}");
        assert!(desk.notes().is_empty());
    }
    done(&[&reason[..], &["--custodian", OWNER, "--second-passphrase-file", &desk.pw]].concat());
    let (entry, _) = &desk.notes()[0];
    assert!(entry.record.as_ref().unwrap().labels.contains(&Label::WithCustodiansReason));
    let leaf = Note::parse(&entry.leaf_bytes).unwrap();
    let signed: Vec<&str> = leaf.signatures.iter().map(|line| line.name.as_str()).collect();
    assert_eq!((entry.leaf.author.as_str(), signed), (COLLEAGUE, vec![COLLEAGUE, OWNER]));
    let store = desk.small.root().display().to_string();
    let matches = app::command().try_get_matches_from(["inkfast", "verify", "--store", &store]).unwrap();
    let (mut nobody, mut out) = (ScriptedAsker::nobody(), Vec::new());
    let verified = app::run(&matches, desk.small.world.clone(), &mut nobody, &mut out);
    assert_eq!(verified, Exit::Done, "{}", String::from_utf8_lossy(&out));
}
