//! Entries that are wrong, in the wrong chart, not whole or not to be opened.

use super::given::base;
use super::*;
use crate::record::coverage::Verdict;
use crate::record::coverage::facts as f;
use crate::record::vocab::{Region, Side, Technique};
use crate::trouble::Kind;

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
    assert_eq!(answers("A", mouth, std::slice::from_ref(&wide)).1.answer, Verdict::Yes);
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
    let mut order = json!({"person_id": "dm-b9", "name": "Orla Ruddle", "relation": "aunt", "basis": "court-order",
        "authority_on_file": true, "may_consent": true, "may_receive_records": true,
        "authority_starts_at": "2025-03-10T00:00:00-04:00"});
    let (book, _) = base("B");
    let line = book.chart.iter().find(|e| e.leaf.kind == "decision-maker").unwrap().leaf.seq;
    order["supersedes"] = json!([line]);
    let (_, superseded) = answers("B", |_| (), &[(101, "decision-maker", AT, order)]);
    assert!(rules_of(&superseded).contains(&RuleId::C5));
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
