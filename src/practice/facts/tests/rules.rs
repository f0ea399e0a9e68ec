//! One test for each thing later entries, wrong entries and locked entries do.

use super::given::base;
use super::*;
use crate::record::coverage::facts as f;
use crate::record::coverage::{CautionCode, RuleId, Verdict};
use crate::record::kinds::{consent, identity, register, screening, visit, withdrawal};
use crate::record::vocab::{Glove, Region, Side, Technique};
use crate::trouble::Kind;

const AT: &str = "2025-03-11T09:57:00-04:00";
const LATER: &str = "2025-03-11T09:58:00-04:00";

fn rules_of(answer: &Answer) -> Vec<RuleId> {
    answer.reasons.iter().map(|r| r.rule).collect()
}

fn mouth(ask: &mut Ask) {
    ask.request.technique = Technique::Intraoral;
    ask.request.region = Region::Mouth;
    ask.request.side = f::RequestedSide::Left;
    ask.request.glove_material = Some(Glove::Nitrile);
}

fn misfiled(entry: u64) -> Value {
    json!({"entry": entry, "found_at": AT, "found_by": "P1", "because": "the wrong chart was open"})
}

fn correction(target: u64, field: &str, is: Value) -> Value {
    json!({"target": target, "field": field, "was": "-", "is": is, "reason": "slip in writing", "care_affected": false,
        "patient_told": {"not_done_because": "told at the next visit"}})
}

fn withdrawal(kinds: Value) -> Value {
    json!({"said_by": {"role": "self"}, "how": "words", "patient_words": "no more", "consent_kinds": kinds})
}

/// An answer before and after more entries.
fn answers(name: &str, set: impl Fn(&mut Ask), more: &[(u64, &str, &str, Value)]) -> (Answer, Answer) {
    let (mut book, mut ask) = base(name);
    set(&mut ask);
    let before = book.answer(&ask);
    for (seq, kind, at, data) in more {
        book.put(*seq, kind, at, data.clone());
    }
    (before, book.answer(&ask))
}

#[test]
fn the_words_of_records_and_of_facts_are_the_same() {
    fn same(records: &[&str], facts: &[&str]) {
        for word in records {
            assert!(facts.contains(word), "{word}");
        }
    }
    same(consent::ConsentStatus::WORDS, f::ConsentStatus::WORDS);
    same(consent::ConsentForm::WORDS, f::ConsentForm::WORDS);
    same(consent::GiverRole::WORDS, f::GiverRole::WORDS);
    same(consent::AllowedKind::WORDS, f::AllowedKind::WORDS);
    same(consent::RestOfEarlier::WORDS, f::RestOfEarlier::WORDS);
    same(identity::Basis::WORDS, f::Basis::WORDS);
    same(identity::ChartStatus::WORDS, f::ChartStatus::WORDS);
    same(identity::SubstanceStatus::WORDS, f::AllergyStatus::WORDS);
    same(register::Sex::WORDS, f::Sex::WORDS);
    same(screening::ItemAnswer::WORDS, f::ItemAnswer::WORDS);
    same(screening::ItemDecision::WORDS, f::Decision::WORDS);
    same(screening::ChangeKind::WORDS, f::ChangeKind::WORDS);
    same(visit::Severity::WORDS, f::Severity::WORDS);
    same(withdrawal::AskedAnswer::WORDS, f::AskedAnswer::WORDS);
}

#[test]
fn every_kind_looked_at_is_a_kind() {
    for kind in super::super::items::CHART.iter().chain(super::super::items::REGISTER) {
        assert!(crate::record::kinds::info(kind).is_some(), "{kind}");
    }
}

#[test]
fn a_pause_ends_when_the_patient_says_so() {
    let pause = json!({"visit": 40, "kind": "pause", "reason": "needed a rest"});
    let on = json!({"visit": 40, "kind": "resumed", "of": 101, "reason": "rested"});
    let (yes, paused) = answers("A", |_| (), &[(101, "pause", AT, pause.clone())]);
    assert_eq!((yes.answer, rules_of(&paused)), (Verdict::Yes, vec![RuleId::F3]));
    let (_, again) =
        answers("A", |_| (), &[(101, "pause", AT, pause.clone()), (102, "pause", LATER, on.clone())]);
    assert_eq!(again.answer, Verdict::Yes);
    // One that belongs to another chart, or that lies before the pause, ends nothing.
    let wrong = [
        (101, "pause", AT, pause.clone()),
        (102, "pause", LATER, on.clone()),
        (103, "misfiled", LATER, misfiled(102)),
    ];
    assert_eq!(rules_of(&answers("A", |_| (), &wrong).1), vec![RuleId::F3]);
    let early = [(101, "pause", LATER, pause), (102, "pause", AT, on)];
    assert_eq!(rules_of(&answers("A", |_| (), &early).1), vec![RuleId::F3]);
}

#[test]
fn doubts_about_capacity_have_to_be_resolved() {
    let doubt = json!({"state": "doubt-raised", "words": "did not know the day"});
    let other = json!({"state": "has-capacity", "words": "clear today"});
    let resolved = json!({"state": "doubt-resolved", "of": 101, "words": "only tired"});
    let (_, open) =
        answers("A", |_| (), &[(101, "capacity", AT, doubt.clone()), (102, "capacity", LATER, other)]);
    assert!(rules_of(&open).contains(&RuleId::C4));
    let (_, closed) =
        answers("A", |_| (), &[(101, "capacity", AT, doubt), (102, "capacity", LATER, resolved)]);
    assert_eq!(closed.answer, Verdict::Yes);
}

#[test]
fn a_consent_given_in_an_earlier_spell_without_capacity_does_not_help() {
    let lacks =
        |until: &str| json!({"state": "lacks-capacity", "words": "after an operation", "until": until});
    let first = (101, "capacity", "2025-01-10T08:00:00-05:00", lacks("2025-01-20T08:00:00-05:00"));
    let second = (102, "capacity", "2025-02-10T08:00:00-05:00", lacks("2025-02-20T08:00:00-05:00"));
    let (_, one) = answers("A", |_| (), &[first.clone()]);
    assert!(rules_of(&one).contains(&RuleId::C1));
    let (_, two) = answers("A", |_| (), &[first, second]);
    assert_eq!((two.answer, rules_of(&two)), (Verdict::No, vec![RuleId::D0]));
}

#[test]
fn reactions_holds_emergencies_alerts_and_remarks_are_closed_by_later_entries() {
    let reaction = json!({"what": "sore", "onset_at": "2025-03-10T20:00:00-04:00", "technique": "soft-tissue",
        "region": "neck-back", "severity": "mild", "action": "advice"});
    let closed = json!({"reaction": 101, "outcome": "gone", "closed_with": "call"});
    let hold =
        json!({"reason": "claim", "from_whom": "counsel", "scope": {"kind": "chart"}, "placed_by": "P1"});
    let lifted = json!({"hold": 103, "by": "counsel", "words": "settled"});
    let declared = json!({"state": "declared", "words": "fainted"});
    let ended = json!({"state": "ended", "of": 105, "words": "well again"});
    let open = [
        (101, "reaction", "2025-03-10T21:00:00-04:00", reaction),
        (103, "hold", "2025-03-10T21:00:00-04:00", hold),
        (105, "emergency", "2025-03-10T21:00:00-04:00", declared),
    ];
    let (_, before) = answers("A", |_| (), &open);
    assert_eq!(rules_of(&before), vec![RuleId::H6]);
    let codes = |a: &Answer| a.cautions.iter().map(|c| c.code).collect::<Vec<_>>();
    assert_eq!(codes(&before), vec![CautionCode::LegalHold, CautionCode::EmergencyDeclared]);
    let ends = [
        (102, "reaction-closed", AT, closed),
        (104, "hold-lifted", AT, lifted),
        (106, "emergency", AT, ended),
    ];
    let (_, after) = answers("A", |_| (), &[open, ends].concat());
    assert_eq!((after.answer, codes(&after)), (Verdict::Yes, vec![]));
}

#[test]
fn an_alert_ends_on_the_day_a_later_entry_states() {
    let alert = json!({"kind": "implant-or-fusion", "from": "2020-05-01", "region": "cervical"});
    let end = json!({"kind": "implant-or-fusion", "from": "2020-05-01", "until": "2025-03-01", "ends": 101});
    let set = |ask: &mut Ask| ask.request.technique = Technique::Mobilization;
    let noted = (101, "alert", "2025-02-10T09:00:00-05:00", alert);
    assert_eq!(rules_of(&answers("A", set, &[noted.clone()]).1), vec![RuleId::H3]);
    assert_eq!(answers("A", set, &[noted.clone(), (102, "alert", AT, end.clone())]).1.answer, Verdict::Yes);
    // What was learned afterwards lifts nothing for a question about the time before.
    let past = |ask: &mut Ask| {
        ask.request.technique = Technique::Mobilization;
        ask.now = moment("2025-03-05T10:00:00-05:00");
    };
    assert!(rules_of(&answers("A", past, &[noted, (102, "alert", AT, end)]).1).contains(&RuleId::H3));
}

#[test]
fn a_clock_remark_stays_until_it_is_settled() {
    let (mut book, ask) = base("A");
    book.register(
        101,
        "clock-remark",
        AT,
        json!({"state": "opened", "at_station": "desk", "words": "an hour behind"}),
    );
    assert_eq!(rules_of(&book.answer(&ask)), vec![RuleId::J1]);
    book.register(
        102,
        "clock-remark",
        LATER,
        json!({"state": "closed", "of": 101, "at_station": "desk", "words": "set"}),
    );
    assert_eq!(book.answer(&ask).answer, Verdict::Yes);
}

#[test]
fn the_newest_writing_of_all_entries_is_what_the_clock_is_held_against() {
    let (mut book, ask) = base("A");
    book.register(
        101,
        "check-made",
        "2025-03-11T10:00:01-04:00",
        json!({"what": "verified", "found": "sound", "sound": true}),
    );
    assert_eq!(rules_of(&book.answer(&ask)), vec![RuleId::J1]);
}

#[test]
fn a_condition_runs_until_a_later_entry_states_its_end() {
    let end = json!({"visit": 40, "kind": "guardian-in-building", "from": "2025-03-11T09:40:00-04:00",
        "until": "2025-03-11T09:58:00-04:00", "ends": 42});
    let (before, after) = answers("B", |_| (), &[(101, "condition-met", LATER, end)]);
    assert_eq!((before.answer, rules_of(&after)), (Verdict::Yes, vec![RuleId::I1]));
}

#[test]
fn a_screen_item_is_closed_by_a_later_entry_and_never_by_a_correction() {
    let answers_of = |answer: &str| {
        let mut item = json!({"item": "dizziness", "answer": answer});
        if answer == "yes" {
            (item["words"], item["decision"]) = (json!("since Sunday"), json!("refer"));
        }
        json!([item])
    };
    let screen = json!({"visit": 40, "screen": "neck", "answers": answers_of("yes"), "done_by": "P1"});
    let closed = json!({"screen": 101, "item": "dizziness", "words": "inner ear, letter of the physician"});
    let flagged = (101, "screen", "2025-03-11T09:44:00-04:00", screen.clone());
    assert_eq!(rules_of(&answers("A", |_| (), &[flagged.clone()]).1), vec![RuleId::H2]);
    assert_eq!(
        answers("A", |_| (), &[flagged.clone(), (102, "screen-item-closed", AT, closed.clone())]).1.answer,
        Verdict::Yes
    );
    let corrected = (102, "correction", AT, correction(101, "/answers/0/answer", json!("no")));
    assert_eq!(rules_of(&answers("A", |_| (), &[flagged.clone(), corrected.clone()]).1), vec![RuleId::H2]);
    assert_eq!(
        answers("A", |_| (), &[flagged.clone(), corrected, (103, "screen-item-closed", AT, closed)]).1.answer,
        Verdict::Yes
    );
    assert_eq!(
        rules_of(&answers("A", |_| (), &[flagged, (102, "misfiled", AT, misfiled(101))]).1),
        vec![RuleId::H2]
    );
    // Asked by telephone, outside any visit: no screen of the visit, but the flag is open.
    let mut outside = screen;
    outside.as_object_mut().unwrap().shift_remove("visit");
    assert_eq!(rules_of(&answers("A", |_| (), &[(101, "screen", AT, outside)]).1), vec![RuleId::H2]);
}

#[test]
fn a_later_answer_about_the_rest_decides() {
    let narrow = |rest: &str| {
        json!({"kind": "treatment", "status": "signed", "form": "written-signed", "wording": "F1",
        "techniques": ["soft-tissue"], "regions": ["cervical"], "side": "left", "practitioners_allowed": {"kind": "any"},
        "given_by": {"role": "self"}, "valid_from": "2025-03-04", "narrower_than": [11], "rest_of_earlier": rest})
    };
    let rest = |rest: &str| json!({"consent": 101, "rest_of_earlier": rest, "said_by": {"role": "self"}});
    let at = "2025-03-04T09:00:00-05:00";
    let (_, asked) = answers("A", |_| (), &[(101, "consent", at, narrow("not-asked"))]);
    assert_eq!((asked.answer, rules_of(&asked)), (Verdict::AskFirst, vec![RuleId::D11]));
    let (_, kept) = answers(
        "A",
        |_| (),
        &[(101, "consent", at, narrow("not-asked")), (102, "rest-of-earlier", AT, rest("kept"))],
    );
    assert_eq!(kept.answer, Verdict::Yes);
    let (_, gone) = answers(
        "A",
        |_| (),
        &[(101, "consent", at, narrow("kept")), (102, "rest-of-earlier", AT, rest("withdrawn"))],
    );
    assert!(gone.answer == Verdict::No && rules_of(&gone).contains(&RuleId::D11));
    let wrong = [
        (101, "consent", at, narrow("not-asked")),
        (102, "rest-of-earlier", AT, rest("kept")),
        (103, "misfiled", AT, misfiled(102)),
    ];
    assert_eq!(rules_of(&answers("A", |_| (), &wrong).1), vec![RuleId::D11]);
}

#[test]
fn an_end_event_ends_the_consents_it_names() {
    let (_, ended) = answers(
        "A",
        |_| (),
        &[(101, "end-event", AT, json!({"consents": [11], "event": "end of this episode"}))],
    );
    assert!(rules_of(&ended).contains(&RuleId::D3));
}

#[test]
fn a_withdrawal_counts_unless_it_names_only_other_kinds() {
    let of = |kinds| answers("A", |_| (), &[(101, "withdrawal", AT, withdrawal(kinds))]).1;
    assert!(rules_of(&of(json!([]))).contains(&RuleId::F1));
    assert!(rules_of(&of(json!(["imaging", "treatment"]))).contains(&RuleId::F1));
    assert_eq!(of(json!(["pictures-for-chart"])).answer, Verdict::Yes);
}

#[test]
fn a_consent_to_something_else_than_care_is_not_among_the_facts() {
    let (mut book, ask) = base("A");
    let other = json!({"kind": "imaging", "status": "declined", "form": "written-signed", "wording": "F1", "matter": "x-ray",
        "practitioners_allowed": {"kind": "any"}, "given_by": {"role": "self"}, "valid_from": "2025-03-11",
        "rest_of_earlier": "not-applicable"});
    book.put(101, "consent", AT, other.clone());
    assert_eq!(book.answer(&ask).answer, Verdict::Yes);
    let mut care = other;
    (care["kind"], care["techniques"], care["regions"], care["side"]) =
        (json!("treatment"), json!(["soft-tissue"]), json!(["cervical"]), json!("right"));
    book.put(102, "consent", AT, care);
    assert!(rules_of(&book.answer(&ask)).contains(&RuleId::F4));
}

#[test]
fn mouth_opening_is_measured_unassisted() {
    let measure = |kind: &str, value: u32, unit: &str| json!({"visit": 40, "measures": [{"kind": kind, "value": value, "unit": unit}]});
    let of = |data| answers("A", mouth, &[(101, "measure", AT, data)]).1;
    assert_eq!(of(measure("mouth-opening-assisted", 17, "mm")).answer, Verdict::Yes);
    assert_eq!(rules_of(&of(measure("mouth-opening-unassisted", 17, "mm"))), vec![RuleId::H5]);
    assert_eq!(of(measure("mouth-opening-unassisted", 38, "mm")).answer, Verdict::Yes);
    // A wrong measure does not help; the earlier one does not come back for a low one.
    let low =
        [(101, "measure", AT, measure("mouth-opening", 17, "mm")), (102, "misfiled", AT, misfiled(101))];
    assert_eq!(rules_of(&answers("A", mouth, &low).1), vec![RuleId::H5]);
}

fn line(from: &str, licence: Option<&str>, techniques: Value) -> Value {
    let mut line = json!({"code": "P1", "name": "Ingrith Valsamo", "role": "chiropractor", "on_roster_from": from,
        "initials": "IV", "techniques_permitted": techniques});
    if let Some(day) = licence {
        line["licence_last_day"] = json!(day);
    }
    line
}

#[test]
fn a_roster_line_replaces_the_one_before_from_its_first_day() {
    let (mut book, ask) = base("A");
    let before = book.facts(&ask).unwrap();
    assert!(before.roster.len() == 4 && before.roster.iter().all(|p| p.practitioner_id != "DK"));
    book.register(3001, "staff", AT, line("2025-03-12", Some("2027-06-30"), json!(["examination"])));
    assert_eq!(book.answer(&ask).answer, Verdict::Yes);
    book.register(3002, "staff", AT, line("2025-03-11", Some("2027-06-30"), json!(["examination"])));
    assert_eq!(rules_of(&book.answer(&ask)), vec![RuleId::B2]);
    book.register(3003, "staff", AT, line("2025-03-11", None, json!([])));
    assert_eq!(rules_of(&book.answer(&ask)), vec![RuleId::B1]);
}

#[test]
fn the_rules_in_force_on_the_day_decide_and_without_rules_there_is_no_answer() {
    let (mut book, ask) = base("A");
    let document = |techniques: Value| {
        let mut values = bases()["A"]["rules"].clone();
        values["written_consent_techniques"] = techniques;
        values["edition"] = json!("demo-2");
        json!({"coverage": values})
    };
    let adopt = |effective: &str, document: Value| json!({"name": "r", "edition": "demo-2", "effective": effective, "adopted_by": "P1", "document": document});
    book.register(3001, "rules", AT, adopt("2025-03-12", document(json!([]))));
    assert_eq!(book.facts(&ask).unwrap().rules.edition, "demo-1");
    book.register(3002, "rules", AT, adopt("2025-03-11", document(json!([]))));
    assert_eq!(book.facts(&ask).unwrap().rules.edition, "demo-2");
    book.register(3003, "rules", AT, adopt("2025-03-11", json!({"coverage": {"edition": "half"}})));
    assert_eq!(book.facts(&ask).unwrap_err().kind, Kind::Refused);
    book.register.retain(|entry| entry.leaf.kind != "rules");
    let none = book.facts(&ask).unwrap_err();
    assert!(none.kind == Kind::Refused && none.next.contains("inkfast rules adopt"));
}

#[test]
fn corrections_of_a_consent_stand_in_the_facts_as_whole_fields() {
    let (mut book, ask) = base("A");
    book.put(101, "correction", AT, correction(11, "/regions/0", json!("lumbar")));
    book.put(102, "correction", AT, correction(11, "/valid_until", json!("2025-03-10")));
    book.put(103, "correction", AT, correction(11, "/copy_given", json!(true)));
    let facts = book.facts(&ask).unwrap();
    let listed: Vec<_> =
        facts.chart.corrections.iter().map(|c| (c.correction_id.as_str(), c.is.clone())).collect();
    let regions = json!(["lumbar", "thoracic", "shoulder-girdle"]);
    assert_eq!(listed, vec![("e101", regions), ("e102", json!("2025-03-10"))]);
    let answer = book.answer(&ask);
    assert!(answer.answer == Verdict::No && rules_of(&answer).contains(&RuleId::D3));
}

#[test]
fn a_correction_of_another_field_holds_from_when_it_was_written() {
    let named = correction(11, "/practitioners_allowed", json!({"kind": "named", "values": ["P2"]}));
    let (_, after) = answers("A", |_| (), &[(101, "correction", AT, named.clone())]);
    assert!(rules_of(&after).contains(&RuleId::B3));
    let earlier = |ask: &mut Ask| ask.now = moment("2025-03-11T09:56:30-04:00");
    assert_eq!(answers("A", earlier, &[(101, "correction", AT, named)]).1.answer, Verdict::Yes);
}

#[test]
fn a_correction_that_fits_nothing_takes_the_help_away() {
    for (field, is) in [
        ("/side", json!("top")),
        ("/form", json!("shouted")),
        ("/regions/9", json!("lumbar")),
        ("/techniques", json!([])),
    ] {
        let (_, after) = answers("A", |_| (), &[(101, "correction", AT, correction(11, field, is))]);
        assert!(after.answer == Verdict::No && rules_of(&after).contains(&RuleId::D0), "{field}");
    }
}

#[test]
fn a_correction_may_itself_be_corrected() {
    let wide = (101, "correction", AT, correction(12, "/side", json!("both")));
    let back = (102, "correction", LATER, correction(101, "/is", json!("right")));
    assert_eq!(answers("A", mouth, &[wide.clone()]).1.answer, Verdict::Yes);
    assert!(rules_of(&answers("A", mouth, &[wide.clone(), back]).1).contains(&RuleId::D6));
    // One that belongs to another chart holds only where it narrows.
    let right = |ask: &mut Ask| {
        mouth(ask);
        ask.request.side = f::RequestedSide::Right;
    };
    let (before, after) = answers("A", right, &[wide, (102, "misfiled", AT, misfiled(101))]);
    assert_eq!(rules_of(&before), rules_of(&after));
    let narrow = [
        (101, "correction", AT, correction(11, "/side", json!("left"))),
        (102, "misfiled", AT, misfiled(101)),
    ];
    assert!(rules_of(&answers("A", |_| (), &narrow).1).contains(&RuleId::D6));
}

#[test]
fn a_misfiled_consent_never_helps_and_a_misfiled_no_still_stops() {
    let (yes, gone) = answers("A", |_| (), &[(101, "misfiled", LATER, misfiled(11))]);
    assert_eq!(yes.answer, Verdict::Yes);
    assert!(gone.answer == Verdict::No && rules_of(&gone).contains(&RuleId::D0));
    let (_, stopped) = answers(
        "A",
        |_| (),
        &[(101, "withdrawal", AT, withdrawal(json!([]))), (102, "misfiled", LATER, misfiled(101))],
    );
    assert!(rules_of(&stopped).contains(&RuleId::F1));
    let asked = |answer: &str| json!({"visit": 40, "technique": "thrust", "region": "cervical", "side": "right", "asked_by": "P1", "answer": answer});
    let thrust = |ask: &mut Ask| ask.request.technique = Technique::Thrust;
    let (yes, lost) = answers("A", thrust, &[(101, "misfiled", LATER, misfiled(45))]);
    assert_eq!((yes.answer, rules_of(&lost)), (Verdict::Yes, vec![RuleId::G1]));
    let (_, no) =
        answers("A", thrust, &[(101, "asked", AT, asked("no")), (102, "misfiled", LATER, misfiled(101))]);
    assert_eq!(rules_of(&no), vec![RuleId::G3]);
    let (_, again) =
        answers("A", thrust, &[(101, "asked", AT, asked("no")), (102, "asked", LATER, asked("yes"))]);
    assert_eq!(again.answer, Verdict::Yes);
    // Corrected to a yes it is no later yes: it has to be asked again.
    let (_, turned) = answers(
        "A",
        thrust,
        &[
            (101, "asked", AT, asked("no")),
            (102, "correction", LATER, correction(101, "/answer", json!("yes"))),
        ],
    );
    assert_eq!(rules_of(&turned), vec![RuleId::G3]);
}

#[test]
fn a_misfiled_visit_identity_or_screen_does_not_help() {
    let of = |entry| rules_of(&answers("A", mouth, &[(101, "misfiled", LATER, misfiled(entry))]).1);
    assert!(of(40).contains(&RuleId::A3) && of(40).contains(&RuleId::A2));
    assert_eq!(of(41), vec![RuleId::A2]);
    assert_eq!(of(43), vec![RuleId::H1]);
    assert_eq!(of(44), vec![RuleId::H5]);
    assert_eq!(of(46), vec![RuleId::G1]);
}

#[test]
fn a_signed_note_with_an_end_closes_the_visit_unless_an_entry_says_when() {
    let note = json!({"visit": 40, "sort": "later", "practitioners": ["P1"], "changed_since_last": "nothing",
        "complaints": [], "findings": {"not_done_because": "none"}, "assessment": {"not_done_because": "none"},
        "agreed": {"consents": [11]}, "advice": {"not_done_because": "none"}, "plan": {"not_done_because": "none"}});
    let (mut book, ask) = base("A");
    let mut one = entry(101, "visit", Some(TAG), "2025-03-11T09:40:00-04:00", AT, note);
    assert!(one.record.as_ref().unwrap().read_data().is_ok());
    book.chart.push(one.clone());
    assert_eq!(book.answer(&ask).answer, Verdict::Yes);
    one.record.as_mut().unwrap().happened.end = Some(moment(AT));
    *book.entry(101) = one;
    assert!(rules_of(&book.answer(&ask)).contains(&RuleId::A3));
    book.put(102, "visit-closed", "2025-03-11T09:50:00-04:00", json!({"visit": 40, "ended": "as-planned"}));
    assert_eq!(
        book.facts(&ask).unwrap().chart.visits[0].closed_at,
        Some(moment("2025-03-11T09:50:00-04:00"))
    );
}

#[test]
fn what_restricts_is_not_lost_for_a_wrong_visit_number() {
    let no = json!({"visit": 4711, "technique": "soft-tissue", "region": "cervical", "side": "right", "asked_by": "P1", "answer": "no"});
    assert_eq!(rules_of(&answers("A", |_| (), &[(101, "asked", AT, no.clone())]).1), vec![RuleId::G3]);
    assert_eq!(
        rules_of(&answers("A", |_| (), &[(101, "asked", "2025-03-11T08:00:00-04:00", no)]).1),
        vec![RuleId::G3]
    );
    let stop = json!({"visit": 4711, "kind": "stop", "reason": "enough"});
    assert_eq!(rules_of(&answers("A", |_| (), &[(101, "pause", AT, stop)]).1), vec![RuleId::F3]);
    // What helps is.
    let yes = json!({"visit": 4711, "technique": "thrust", "region": "thoracic", "side": "right", "asked_by": "P1", "answer": "yes"});
    let thoracic =
        |ask: &mut Ask| (ask.request.technique, ask.request.region) = (Technique::Thrust, Region::Thoracic);
    assert_eq!(rules_of(&answers("A", thoracic, &[(101, "asked", AT, yes)]).1), vec![RuleId::G1]);
}

#[test]
fn a_joined_or_closed_chart_is_not_open() {
    let joined = |direction: &str| json!({"direction": direction, "other_chart_no": "PM-0113", "because": "same birth date and address"});
    assert_eq!(
        rules_of(&answers("A", |_| (), &[(101, "joined", AT, joined("continue-at"))]).1),
        vec![RuleId::A1]
    );
    assert_eq!(answers("A", |_| (), &[(101, "joined", AT, joined("continued-from"))]).1.answer, Verdict::Yes);
    let died = json!({"status": "deceased", "died_on": "2025-03-10"});
    let open = json!({"status": "open"});
    assert_eq!(
        rules_of(&answers("A", |_| (), &[(101, "chart-state", AT, died.clone())]).1),
        vec![RuleId::A1]
    );
    assert_eq!(
        answers(
            "A",
            |_| (),
            &[(101, "chart-state", AT, died.clone()), (102, "chart-state", LATER, open.clone())]
        )
        .1
        .answer,
        Verdict::Yes
    );
    let wrong = [
        (101, "chart-state", AT, died),
        (102, "chart-state", LATER, open),
        (103, "misfiled", LATER, misfiled(102)),
    ];
    assert_eq!(rules_of(&answers("A", |_| (), &wrong).1), vec![RuleId::A1]);
}

#[test]
fn allergies_stay_until_called_harmless_and_umbrella_words_reach_what_is_used() {
    let review = |substances: Value| json!({"reviewed_on": "2025-03-11", "substances": substances});
    let tape = |ask: &mut Ask| ask.request.products = vec!["Tape".into()];
    let allergic = review(json!({"latex": "not-allergic", "tape-adhesive": "allergic"}));
    assert_eq!(
        rules_of(&answers("A", tape, &[(101, "allergy-review", AT, allergic.clone())]).1),
        vec![RuleId::H4]
    );
    // Not named again is not harmless; called harmless is.
    let silent = (102, "allergy-review", LATER, review(json!({"latex": "not-allergic"})));
    assert_eq!(
        rules_of(&answers("A", tape, &[(101, "allergy-review", AT, allergic.clone()), silent]).1),
        vec![RuleId::H4]
    );
    let harmless = (
        102,
        "allergy-review",
        LATER,
        review(json!({"latex": "not-allergic", "tape-adhesive": "not-allergic"})),
    );
    assert_eq!(answers("A", tape, &[(101, "allergy-review", AT, allergic), harmless]).1.answer, Verdict::Yes);
    let gloves = review(json!({"latex": "not-allergic", "other-glove-material": "allergic"}));
    assert_eq!(rules_of(&answers("A", mouth, &[(101, "allergy-review", AT, gloves)]).1), vec![RuleId::H4]);
    // A review that was not done tells nothing away.
    let undone = json!({"reviewed_on": {"not_done_because": "in a hurry"}, "substances": {}});
    assert_eq!(answers("A", mouth, &[(101, "allergy-review", AT, undone)]).1.answer, Verdict::Yes);
}

#[test]
fn a_guardian_counts_as_listed_now_and_a_wrong_line_only_takes_away() {
    let maker = |may: bool| {
        json!({"person_id": "dm-b1", "name": "Ilse Ruddle", "relation": "mother", "basis": "parent",
        "authority_on_file": true, "may_consent": may, "may_receive_records": true, "authority_starts_at": "2010-11-20T00:00:00-05:00"})
    };
    let (yes, after) = answers("B", |_| (), &[(101, "decision-maker", AT, maker(false))]);
    assert!(yes.answer == Verdict::Yes && rules_of(&after).contains(&RuleId::C1));
    let wrong = [(101, "decision-maker", AT, maker(false)), (102, "misfiled", AT, misfiled(101))];
    assert!(rules_of(&answers("B", |_| (), &wrong).1).contains(&RuleId::C1));
    let again = [(101, "decision-maker", AT, maker(false)), (102, "decision-maker", LATER, maker(true))];
    assert_eq!(answers("B", |_| (), &again).1.answer, Verdict::Yes);
    let helped = [
        (101, "decision-maker", AT, maker(false)),
        (102, "decision-maker", LATER, maker(true)),
        (103, "misfiled", LATER, misfiled(102)),
    ];
    assert!(rules_of(&answers("B", |_| (), &helped).1).contains(&RuleId::C1));
    let order = json!({"person_id": "dm-b9", "name": "Orla Ruddle", "relation": "aunt", "basis": "court-order",
        "authority_on_file": true, "may_consent": true, "may_receive_records": true,
        "authority_starts_at": "2025-03-10T00:00:00-04:00", "supersedes": [2006]});
    let (book, ask) = base("B");
    let line = book.chart.iter().find(|e| e.leaf.kind == "decision-maker").unwrap().leaf.seq;
    let mut order = order;
    order["supersedes"] = json!([line]);
    let (_, superseded) = answers("B", |_| (), &[(101, "decision-maker", AT, order)]);
    assert!(rules_of(&superseded).contains(&RuleId::C5), "{line} {:?}", ask.now);
}

#[test]
fn a_minors_no_before_the_visit_holds_in_it_until_a_later_yes() {
    let said = |answer: &str, visit: Option<u64>| {
        let mut data = json!({"answer": answer});
        if let Some(seq) = visit {
            data["visit"] = json!(seq);
        }
        data
    };
    let (mut book, ask) = base("B");
    book.chart.retain(|e| e.leaf.seq != 43);
    book.put(101, "own-answer", "2025-03-11T09:30:00-04:00", said("yes", None));
    assert_eq!(rules_of(&book.answer(&ask)), vec![RuleId::C3]);
    book.put(102, "own-answer", "2025-03-11T09:31:00-04:00", said("no", None));
    let no = book.answer(&ask);
    assert_eq!((no.answer, rules_of(&no)), (Verdict::No, vec![RuleId::C3]));
    book.put(103, "own-answer", AT, said("yes", Some(40)));
    assert_eq!(book.answer(&ask).answer, Verdict::Yes);
    assert!(rules_of(&answers("B", |_| (), &[(101, "misfiled", AT, misfiled(43))]).1).contains(&RuleId::C3));
}

#[test]
fn an_estimated_birth_year_gives_no_answer_near_the_age_of_majority() {
    let (mut book, ask) = base("A");
    let changed = |year: i16| {
        let mut identity = opened(&json!("1984-05-17"), &json!(null))["identity"].clone();
        identity["birth_date"] = json!({"estimated_year": year, "words": "guessed"});
        json!({"identity": identity, "changed": ["birth_date"], "because": "papers lost", "told_by": "patient"})
    };
    book.put(101, "identity-changed", AT, changed(1984));
    assert_eq!(book.answer(&ask).answer, Verdict::Yes);
    book.put(102, "identity-changed", LATER, changed(2006));
    assert_eq!(book.facts(&ask).unwrap_err().kind, Kind::Refused);
}

#[test]
fn an_interpreter_once_named_stays_needed_when_the_entry_was_wrong() {
    let mut changed = json!({"identity": opened(&json!("1984-05-17"), &json!("pt"))["identity"], "because": "asked", "told_by": "patient"});
    changed["changed"] = json!(["interpreter_language"]);
    let (_, needed) = answers("A", |_| (), &[(101, "identity-changed", AT, changed.clone())]);
    assert!(rules_of(&needed).contains(&RuleId::D10));
    let (_, still) =
        answers("A", |_| (), &[(101, "identity-changed", AT, changed), (102, "misfiled", AT, misfiled(101))]);
    assert!(rules_of(&still).contains(&RuleId::D10));
}

#[test]
fn holds_outside_the_chart_count_where_they_reach_it() {
    let scope =
        |scope: Value| json!({"reason": "claim", "from_whom": "counsel", "scope": scope, "placed_by": "P1"});
    for (scope_of, reached) in [
        (json!({"kind": "dates", "from": "2025-03-01", "until": "2025-03-31"}), true),
        (json!({"kind": "dates", "from": "2019-03-01", "until": "2019-03-31"}), false),
        (json!({"kind": "practitioner", "practitioner": "P1"}), true),
        (json!({"kind": "practitioner", "practitioner": "P4"}), false),
    ] {
        let (mut book, ask) = base("A");
        book.register(3001, "hold", AT, scope(scope_of));
        assert_eq!(book.facts(&ask).unwrap().chart.holds.len(), usize::from(reached));
    }
}

#[test]
fn what_can_not_be_opened_or_read_is_an_error_and_never_an_answer() {
    for seq in [1, 11, 12, 40, 41, 42, 43, 44, 45, 46] {
        let (mut book, ask) = base("A");
        book.entry(seq).record = None;
        let error = book.facts(&ask).unwrap_err();
        assert_eq!(error.kind, Kind::Locked, "{seq}");
        assert!(error.safe.contains("not a yes"), "{error}");
    }
    let (mut book, ask) = base("A");
    book.put(101, "handout", AT, json!({"title": "neck exercises"}));
    book.entry(101).record = None;
    assert!(book.facts(&ask).is_ok(), "kinds the facts do not rest on may stay closed");
    book.entry(101).leaf.kind = "a-kind-of-later".into();
    assert_eq!(book.facts(&ask).unwrap_err().kind, Kind::TooNew);
    let (mut book, ask) = base("A");
    book.entry(11).record.as_mut().unwrap().edition = 2;
    assert_eq!(book.facts(&ask).unwrap_err().kind, Kind::TooNew);
    book.entry(11).record.as_mut().unwrap().edition = 1;
    book.entry(11).record.as_mut().unwrap().data["side"] = json!("top");
    assert_eq!(book.facts(&ask).unwrap_err().kind, Kind::Damaged);
    book.chart.clear();
    assert_eq!(book.facts(&ask).unwrap_err().kind, Kind::NotFound);
}

#[test]
fn the_moment_asked_about_carries_the_clinics_offset() {
    let (book, mut ask) = base("A");
    ask.now = moment("2025-03-11T14:00:00Z");
    assert_eq!(book.facts(&ask).unwrap_err().kind, Kind::BadInput);
    ask.now = moment("2025-03-11T09:00:00-05:00");
    assert!(book.facts(&ask).is_ok(), "the other side of a summer time change");
}

#[test]
fn a_consent_that_is_not_whole_does_not_help() {
    let (mut book, ask) = base("A");
    let side = |record: &mut Record| drop(record.data.as_object_mut().unwrap().shift_remove("side"));
    side(book.entry(11).record.as_mut().unwrap());
    assert!(rules_of(&book.answer(&ask)).contains(&RuleId::D0));
    // Declined without a side it stops every side.
    book.entry(11).record.as_mut().unwrap().data["status"] = json!("declined");
    let facts = book.facts(&ask).unwrap();
    assert_eq!((facts.chart.refusals.len(), facts.chart.refusals[0].side), (1, None::<Side>));
}
