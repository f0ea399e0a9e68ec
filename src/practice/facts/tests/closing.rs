//! What later entries close, narrow, replace or lift, and what the register says.

use super::given::base;
use super::*;
use crate::record::coverage::facts as f;
use crate::record::coverage::{CautionCode, Verdict};
use crate::record::kinds::{consent, identity, register, screening, visit, withdrawal as said};
use crate::record::vocab::Technique;
use crate::trouble::Kind;

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
    same(said::AskedAnswer::WORDS, f::AskedAnswer::WORDS);
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
    let (_, one) = answers("A", |_| (), std::slice::from_ref(&first));
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
    assert_eq!(rules_of(&answers("A", set, std::slice::from_ref(&noted)).1), vec![RuleId::H3]);
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
    assert_eq!(rules_of(&answers("A", |_| (), std::slice::from_ref(&flagged)).1), vec![RuleId::H2]);
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
