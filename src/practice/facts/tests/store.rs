//! The question put to a real store: answered, kept, and refused to those who can't see everything.

use super::*;
use crate::practice::facts::{ask, keep};
use crate::practice::open::{Draft, Practice};
use crate::practice::place::Place;
use crate::practice::session::Session;
use crate::practice::setup::{Setup, init};
use crate::practice::{chart, staff};
use crate::record::kinds::register::{KeyRole, RegisterOpened, Staff};
use crate::trouble::Kind;
use crate::world::{SetClock, World};
use std::sync::Arc;

const WORK: u8 = 2;

fn data(kind: &str, value: Value) -> Data {
    Data::read(kind, 1, &value).unwrap()
}

fn put(
    practice: &mut Practice,
    clock: &SetClock,
    tag: Option<&str>,
    kind: &str,
    at: &str,
    value: Value,
) -> u64 {
    clock.set(moment(at));
    practice.append(Draft::new(tag, data(kind, value), moment(at))).unwrap().seq
}

fn line(code: &str, role: &str, licence: Option<&str>) -> Staff {
    let mut line = json!({"code": code, "name": "Somebody Here", "role": role, "on_roster_from": "2022-10-03", "initials": code});
    if let Some(day) = licence {
        (line["licence_last_day"], line["techniques_permitted"]) =
            (json!(day), json!(["soft-tissue", "thrust"]));
    }
    serde_json::from_value(line).unwrap()
}

/// A store with one patient, one consent, one open visit and a screen that only the clinical role opens.
fn store(root: &std::path::Path, clock: &Arc<SetClock>) -> (World, Practice, String) {
    let world = World::with_clock(clock.clone());
    let register: RegisterOpened =
        serde_json::from_value(json!({"practice": "The Ropewalk Rooms", "address": "Pellmere",
        "territory": "here", "custodian": "P1", "clock": "UTC-5, summer time"}))
        .unwrap();
    let mut setup = Setup::new(
        &root.join("store"),
        register,
        line("P1", "chiropractor", Some("2026-06-30")),
        "owner pass phrase",
    );
    setup.outside = Some(root.join("outside").display().to_string());
    setup.work = WORK;
    setup.segment_bytes = 1 << 20;
    let mut practice = init(&world, setup).unwrap().practice;
    staff::add(&mut practice, line("DK", "desk", None), vec![KeyRole::Desk], "desk pass phrase", WORK)
        .unwrap();
    let at = moment("2025-03-11T09:40:00-04:00");
    clock.set(at);
    let first: crate::record::kinds::identity::ChartOpened =
        serde_json::from_value(opened(&json!("1984-05-17"), &json!(null))).unwrap();
    let (tag, _) = chart::open_chart(&mut practice, first, at).unwrap();
    let consent = json!({"kind": "treatment", "status": "signed", "form": "written-signed", "wording": "F1",
        "techniques": ["soft-tissue"], "regions": ["cervical"], "side": "both", "practitioners_allowed": {"kind": "any"},
        "given_by": {"role": "self"}, "valid_from": "2025-03-11", "rest_of_earlier": "not-applicable"});
    put(&mut practice, clock, Some(&tag), "consent", "2025-03-11T09:45:00-04:00", consent);
    let visit = json!({"room": "room 1", "practitioners": ["P1"],
        "identity_confirmed": {"at": "2025-03-11T09:46:00-04:00", "identifiers": ["full-name", "birth-date"]}});
    put(&mut practice, clock, Some(&tag), "visit-opened", "2025-03-11T09:46:00-04:00", visit);
    (world, practice, tag)
}

fn question() -> Ask {
    ask_of(&bases()["A"])
}

#[test]
fn a_question_is_answered_and_its_answer_kept() {
    let folder = tempfile::tempdir().unwrap();
    let clock = Arc::new(SetClock::new(moment("2025-03-11T09:30:00-04:00")));
    let (_, mut practice, tag) = store(folder.path(), &clock);
    assert_eq!(ask(&practice, &tag, &question()).unwrap_err().kind, Kind::Refused, "no rules yet");
    let rules = json!({"name": "r", "edition": "demo-1", "effective": "2022-10-03", "adopted_by": "P1",
        "document": {"coverage": bases()["A"]["rules"]}});
    put(&mut practice, &clock, None, "rules", "2025-03-11T09:50:00-04:00", rules);
    clock.set(moment("2025-03-11T10:00:00-04:00"));
    let (facts, answer) = ask(&practice, &tag, &question()).unwrap();
    assert_eq!(answer.answer, coverage::Verdict::Yes, "{answer:?}");
    assert_eq!(facts.chart.clock.last_entry_written_at, moment("2025-03-11T09:50:00-04:00"));
    let receipt = keep(&mut practice, &tag, &facts, &answer).unwrap();
    let entry = practice.entry_by_seq(receipt.seq).unwrap();
    let Some(Data::CoverageAnswer(kept)) = entry.data() else { panic!("no answer") };
    let bytes = serde_json::to_vec(&facts).unwrap();
    assert_eq!(kept.facts_digest.as_deref(), Some(blake3::hash(&bytes).to_hex().as_str()));
    assert_eq!(
        (kept.answer.word(), kept.governing_consents.clone()),
        ("yes", answer.governing_consents.clone())
    );
    let whys: Vec<_> = entry.record.unwrap().refers.iter().map(|r| r.why.word().to_string()).collect();
    assert_eq!(whys, ["visit", "rests-on"]);
    // An answer that the facts do not give is not kept.
    let mut other = answer;
    other.answer = coverage::Verdict::No;
    assert_eq!(keep(&mut practice, &tag, &facts, &other).unwrap_err().kind, Kind::BadInput);
    assert_eq!(
        keep(&mut practice, "ffffffffffffffffffffffffffffffff", &facts, &other).unwrap_err().kind,
        Kind::BadInput
    );
}

#[test]
fn a_request_that_can_not_be_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let clock = Arc::new(SetClock::new(moment("2025-03-11T09:30:00-04:00")));
    let (_, mut practice, tag) = store(folder.path(), &clock);
    let rules = json!({"name": "r", "edition": "demo-1", "effective": "2022-10-03", "adopted_by": "P1",
        "document": {"coverage": bases()["A"]["rules"]}});
    put(&mut practice, &clock, None, "rules", "2025-03-11T09:50:00-04:00", rules);
    let mut wrong = question();
    wrong.request.segments = vec![crate::record::vocab::Segment::L4L5];
    assert_eq!(ask(&practice, &tag, &wrong).unwrap_err().kind, Kind::BadInput);
}

#[test]
fn who_can_not_open_everything_gets_no_answer() {
    let folder = tempfile::tempdir().unwrap();
    let clock = Arc::new(SetClock::new(moment("2025-03-11T09:30:00-04:00")));
    let (world, mut practice, tag) = store(folder.path(), &clock);
    let rules = json!({"name": "r", "edition": "demo-1", "effective": "2022-10-03", "adopted_by": "P1",
        "document": {"coverage": bases()["A"]["rules"]}});
    put(&mut practice, &clock, None, "rules", "2025-03-11T09:50:00-04:00", rules);
    let root = practice.place.root.clone();
    let desk = |world: &World| {
        let place = Place::open(world, &root, None).unwrap();
        let session = Session::unlock(world, &place, "DK", "desk pass phrase").unwrap();
        Practice::open(world, &place, session, "desk").unwrap()
    };
    assert!(ask(&desk(&world), &tag, &question()).is_ok(), "so far the desk opens all of it");
    let screen =
        json!({"screen": "neck", "answers": [{"item": "dizziness", "answer": "no"}], "done_by": "P1"});
    put(&mut practice, &clock, Some(&tag), "screen", "2025-03-11T09:51:00-04:00", screen);
    drop(practice);
    let error = ask(&desk(&world), &tag, &question()).unwrap_err();
    assert!(error.kind == Kind::Locked && error.safe.contains("not a yes"), "{error}");
}
