//! What must hold for the coverage question whatever the facts: adding a restriction never helps,
//! adding a consent never hurts, and the like. Documents are the base facts, changed at random.
//!
//! The conditions set here can all be met at the chair. With one that cannot, a withdrawal may leave an
//! older consent's condition unbound while a newer consent still needs a question: the rules say so.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use inkfast::record::coverage::facts::{
    Asked, Condition, ConditionMet, Consent, ConsentStatus, Correction, OwnAnswer, Pause, Reaction, Refusal,
    RequestedSide, RestOfEarlier, Withdrawal,
};
use inkfast::record::coverage::{Answer, Facts, RuleId, Verdict, answer};
use inkfast::record::moment::Moment;
use inkfast::record::vocab::{Glove, Region, Segment, Side, Technique};
use proptest::prelude::*;
use proptest::sample::select;
use serde_json::{Value, json};
use std::sync::OnceLock;

const BASES: &str = include_str!("data/coverage/base-facts.json");

fn bases() -> &'static [Facts] {
    static ALL: OnceLock<Vec<Facts>> = OnceLock::new();
    ALL.get_or_init(|| {
        let all: Value = serde_json::from_str(BASES).unwrap();
        all.as_object().unwrap().values().map(|one| Facts::from_json(&one.to_string()).unwrap()).collect()
    })
}

const TECHNIQUES: [Technique; 5] = [
    Technique::SoftTissue,
    Technique::Mobilization,
    Technique::Thrust,
    Technique::Intraoral,
    Technique::Examination,
];
const REGIONS: [Region; 10] = [
    Region::Spine,
    Region::Cervical,
    Region::NeckBack,
    Region::Suboccipital,
    Region::Thoracic,
    Region::Lumbar,
    Region::Ribs,
    Region::Mouth,
    Region::InsideCheek,
    Region::Coccyx,
];
const SIDES: [Side; 4] = [Side::Left, Side::Right, Side::Both, Side::Midline];

fn some<T: Clone + std::fmt::Debug + 'static>(
    all: &'static [T],
    most: usize,
) -> impl Strategy<Value = Vec<T>> {
    prop::sample::subsequence(all.to_vec(), 1..=most)
}

/// Seconds before the moment asked about: mostly the same minutes and hours, so that ties happen.
fn ago() -> impl Strategy<Value = i64> {
    prop_oneof![
        3 => -90i64..600,
        3 => (0i64..120).prop_map(|minutes| minutes * 60),
        3 => (0i64..60).prop_map(|days| days * 86_400),
        1 => (0i64..20).prop_map(|months| months * 31 * 86_400),
    ]
}

fn scope() -> impl Strategy<Value = (Option<Vec<Technique>>, Option<Vec<Region>>, Option<Side>)> {
    (
        prop::option::of(some(&TECHNIQUES, 3)),
        prop::option::of(some(&REGIONS, 2)),
        prop::option::of(select(&SIDES[..])),
    )
}

/// An entry to add, its moments in seconds before `now`.
#[derive(Debug, Clone)]
enum Entry {
    Consent {
        ago: i64,
        late: i64,
        techniques: Vec<Technique>,
        regions: Vec<Region>,
        side: Side,
        twist: Twist,
    },
    Withdrawal(i64, (Option<Vec<Technique>>, Option<Vec<Region>>, Option<Side>)),
    Refusal(i64, (Option<Vec<Technique>>, Option<Vec<Region>>, Option<Side>)),
    Asked {
        ago: i64,
        technique: Option<Technique>,
        region: Option<Region>,
        side: Side,
        yes: bool,
        by: bool,
    },
    Pause(i64, Option<i64>),
    Reaction(i64, Technique, Region),
    OwnAnswer(i64, bool),
    Met(i64, Option<i64>),
}

/// What sets a consent apart.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Twist {
    Plain,
    Chaperone,
    NotFaceDown,
    SegmentLimit,
    Unexplained,
    Narrower(RestOfEarlier),
    Draft,
    Declined,
    Excluding(Region),
    Until(i64),
}

fn twist() -> impl Strategy<Value = Twist> {
    prop_oneof![
        4 => Just(Twist::Plain),
        1 => Just(Twist::Chaperone),
        1 => Just(Twist::NotFaceDown),
        1 => Just(Twist::SegmentLimit),
        1 => Just(Twist::Unexplained),
        1 => select(RestOfEarlier::ALL).prop_map(Twist::Narrower),
        1 => Just(Twist::Draft),
        1 => Just(Twist::Declined),
        1 => select(&REGIONS[..]).prop_map(Twist::Excluding),
        1 => (-40i64..40).prop_map(Twist::Until),
    ]
}

fn consent_entry(twist: impl Strategy<Value = Twist>) -> impl Strategy<Value = Entry> {
    (ago(), 0i64..200_000, some(&TECHNIQUES, 4), some(&REGIONS, 3), select(&SIDES[..]), twist).prop_map(
        |(ago, late, techniques, regions, side, twist)| {
            let late = if late % 3 == 0 { late } else { 0 };
            Entry::Consent { ago, late, techniques, regions, side, twist }
        },
    )
}

fn asked_entry() -> impl Strategy<Value = Entry> {
    (
        -60i64..5000,
        prop::option::weighted(0.3, select(&TECHNIQUES[..])),
        prop::option::weighted(0.4, select(&REGIONS[..])),
        select(&SIDES[..]),
        prop::bool::weighted(0.8),
        prop::bool::weighted(0.9),
    )
        .prop_map(|(ago, technique, region, side, yes, by)| Entry::Asked {
            ago,
            technique,
            region,
            side,
            yes,
            by,
        })
}

fn entry() -> impl Strategy<Value = Entry> {
    prop_oneof![
        6 => consent_entry(twist()),
        2 => (ago(), scope()).prop_map(|(ago, scope)| Entry::Withdrawal(ago, scope)),
        1 => (ago(), scope()).prop_map(|(ago, scope)| Entry::Refusal(ago, scope)),
        4 => asked_entry(),
        1 => (-60i64..2000, prop::option::of(-60i64..2000)).prop_map(|(at, until)| Entry::Pause(at, until)),
        1 => (-60i64..5000, select(&TECHNIQUES[..]), select(&REGIONS[..]))
            .prop_map(|(at, technique, region)| Entry::Reaction(at, technique, region)),
        1 => (-60i64..2000, any::<bool>()).prop_map(|(at, yes)| Entry::OwnAnswer(at, yes)),
        1 => (-60i64..2000, prop::option::of(-60i64..2000)).prop_map(|(at, until)| Entry::Met(at, until)),
    ]
}

fn before(facts: &Facts, seconds: i64) -> Moment {
    facts.now.plus_seconds(-seconds)
}

/// Adds an entry with this number.
fn add(facts: &mut Facts, number: u64, entry: &Entry) {
    let at = |seconds: &i64| before(facts, *seconds);
    let request = facts.request.clone();
    let visit_no = facts.chart.visits.len().checked_sub(1);
    match entry {
        Entry::Consent { .. } => {
            let consent = consent(facts, number, entry);
            facts.chart.consents.push(consent);
        }
        Entry::Withdrawal(ago, (techniques, regions, side)) => {
            let said_at = at(ago);
            facts.chart.withdrawals.push(Withdrawal {
                withdrawal_id: format!("wd-{number}"),
                sequence_no: number,
                said_at,
                written_at: said_at.plus_seconds(300),
                techniques: techniques.clone(),
                regions: regions.clone(),
                side: *side,
            });
        }
        Entry::Refusal(ago, (techniques, regions, side)) => {
            let said_at = at(ago);
            facts.chart.refusals.push(Refusal {
                refusal_id: format!("ref-{number}"),
                sequence_no: number,
                said_at,
                techniques: techniques.clone(),
                regions: regions.clone(),
                side: *side,
            });
        }
        Entry::Reaction(ago, technique, region) => {
            let reaction = json!({
                "reaction_id": format!("rea-{number}"), "sequence_no": number, "onset_at": at(ago),
                "technique": technique, "region": region, "severity": "mild", "closed_at": null
            });
            facts.chart.reactions.push(serde_json::from_value::<Reaction>(reaction).unwrap());
        }
        Entry::Asked { ago, technique, region, side, yes, by } => {
            let asked = json!({
                "at": at(ago), "sequence_no": number, "technique": technique.unwrap_or(request.technique),
                "region": region.unwrap_or(request.region), "side": side, "segments": [],
                "asked_by": if *by { request.practitioner_id.as_str() } else { "P2" },
                "answer": if *yes { "yes" } else { "no" }, "limit_words": null
            });
            let asked: Asked = serde_json::from_value(asked).unwrap();
            visit_no.into_iter().for_each(|v| facts.chart.visits[v].asked.push(asked.clone()));
        }
        Entry::Pause(ago, until) => {
            let pause = json!({
                "at": at(ago), "sequence_no": number, "kind": "pause", "resumed_yes_at": until.as_ref().map(at)
            });
            let pause: Pause = serde_json::from_value(pause).unwrap();
            visit_no.into_iter().for_each(|v| facts.chart.visits[v].pauses.push(pause.clone()));
        }
        Entry::OwnAnswer(ago, yes) => {
            let answer =
                json!({"at": at(ago), "sequence_no": number, "answer": if *yes { "yes" } else { "no" }});
            let answer: OwnAnswer = serde_json::from_value(answer).unwrap();
            visit_no.into_iter().for_each(|v| facts.chart.visits[v].own_answers.push(answer.clone()));
        }
        Entry::Met(ago, until) => {
            let met = json!({
                "kind": "chaperone-present", "value": null, "from": at(ago), "until": until.as_ref().map(at),
                "sequence_no": number
            });
            let met: ConditionMet = serde_json::from_value(met).unwrap();
            visit_no.into_iter().for_each(|v| facts.chart.visits[v].conditions_met.push(met.clone()));
        }
    }
}

/// A consent made from the first one of the chart, so that the right person gives it.
fn consent(facts: &Facts, number: u64, entry: &Entry) -> Consent {
    let Entry::Consent { ago, late, techniques, regions, side, twist } = entry else { unreachable!() };
    let mut consent = facts.chart.consents[0].clone();
    consent.consent_id = format!("con-{number}");
    consent.sequence_no = number;
    consent.given_at = before(facts, *ago);
    consent.written_at = consent.given_at.plus_seconds(*late);
    consent.techniques = techniques.clone();
    consent.regions = regions.clone();
    consent.side = *side;
    consent.conditions = Vec::new();
    consent.valid_from = consent.given_at.local_date();
    consent.valid_until = None;
    consent.narrower_than = Vec::new();
    consent.rest_of_earlier = RestOfEarlier::NotApplicable;
    let condition = |kind: &str| Condition { kind: kind.to_owned(), values: Vec::new(), words: None };
    match *twist {
        Twist::Plain => {}
        Twist::Chaperone => consent.conditions = vec![condition("chaperone-present")],
        Twist::NotFaceDown => consent.conditions = vec![condition("not-face-down")],
        Twist::SegmentLimit => {
            let limit = json!({"techniques": null, "highest_segment": "C2-C3", "lowest_segment": null});
            consent.segment_limits = vec![serde_json::from_value(limit).unwrap()];
        }
        Twist::Unexplained => consent.explained = None,
        Twist::Narrower(rest) => {
            consent.narrower_than = facts.chart.consents.iter().map(|c| c.consent_id.clone()).collect();
            consent.rest_of_earlier = rest;
        }
        Twist::Draft => consent.status = ConsentStatus::Draft,
        Twist::Declined => consent.status = ConsentStatus::Declined,
        Twist::Excluding(region) => consent.excluded_regions = vec![region],
        Twist::Until(days) => consent.valid_until = Some(before(facts, days * 86_400).local_date()),
    }
    consent
}

/// A base document with another request and some entries more.
fn world() -> impl Strategy<Value = Facts> {
    let request = (
        0..bases().len(),
        prop::option::weighted(0.4, select(&TECHNIQUES[..])),
        prop::option::weighted(0.4, select(&REGIONS[..])),
        select(RequestedSide::ALL),
        prop::option::of(1u64..80),
        any::<bool>(),
        any::<bool>(),
    );
    (request, prop::collection::vec((entry(), 1u64..200), 0..6)).prop_map(|(request, entries)| {
        let (base, technique, region, side, sequence_no, named, seated) = request;
        let mut facts = bases()[base].clone();
        facts.request.technique = technique.unwrap_or(facts.request.technique);
        facts.request.region = region.unwrap_or(facts.request.region);
        facts.request.side = side;
        facts.request.sequence_no = sequence_no;
        facts.request.glove_material = Some(Glove::Nitrile);
        facts.request.position = seated.then(|| "seated".to_owned());
        let segment = facts.request.region.segment_range().map(|(_, last)| last);
        facts.request.segments = segment.filter(|_| named).into_iter().collect::<Vec<Segment>>();
        for (index, (entry, number)) in entries.iter().enumerate() {
            // Every entry has its own number, in no particular order.
            add(&mut facts, number * 10 + index as u64, entry);
        }
        facts.check().unwrap();
        facts
    })
}

fn lines(answer: &Answer) -> [Verdict; 3] {
    [answer.answer, answer.agreed, answer.checked]
}

/// No line of `after` is better than the same line of `before`.
fn not_better(after: &Answer, before: &Answer) -> bool {
    lines(after).iter().zip(lines(before)).all(|(after, before)| *after >= before)
}

fn with_side(facts: &Facts, side: RequestedSide) -> Answer {
    let mut facts = facts.clone();
    facts.request.side = side;
    answer(&facts)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_further_consent_never_worsens(facts in world(), entry in consent_entry(Just(Twist::Plain))) {
        let before = answer(&facts);
        let mut more = facts.clone();
        add(&mut more, 7001, &entry);
        prop_assert!(not_better(&before, &answer(&more)));
    }

    #[test]
    fn a_withdrawal_never_improves(facts in world(), ago in ago(), scope in scope()) {
        let before = answer(&facts);
        let mut more = facts.clone();
        add(&mut more, 7001, &Entry::Withdrawal(ago, scope));
        prop_assert!(not_better(&answer(&more), &before));
    }

    #[test]
    fn a_consent_cut_down_never_improves(facts in world(), which in any::<prop::sample::Index>(), cut in 0usize..4) {
        let before = answer(&facts);
        let mut less = facts.clone();
        let consent = which.get(&less.chart.consents).clone();
        if !(consent.conditions.is_empty() && consent.status != ConsentStatus::Declined) {
            return Ok(());
        }
        let consent = less.chart.consents.iter_mut().find(|c| c.consent_id == consent.consent_id).unwrap();
        match cut {
            0 if consent.techniques.len() > 1 => drop(consent.techniques.remove(which.index(consent.techniques.len()))),
            1 if consent.regions.len() > 1 => drop(consent.regions.remove(which.index(consent.regions.len()))),
            2 if consent.side == Side::Both => consent.side = Side::Left,
            3 if consent.side == Side::Both => consent.side = Side::Midline,
            _ => {}
        }
        prop_assert!(not_better(&answer(&less), &before));
    }

    #[test]
    fn both_is_the_worse_of_left_and_right(facts in world()) {
        let [left, right, both] = [RequestedSide::Left, RequestedSide::Right, RequestedSide::Both]
            .map(|side| lines(&with_side(&facts, side)));
        for line in 0..3 {
            prop_assert_eq!(both[line], left[line].max(right[line]));
        }
    }

    #[test]
    fn a_side_not_stated_is_no_only_where_every_side_is_and_never_yes(facts in world()) {
        if facts.rules.techniques_without_side.contains(&facts.request.technique) {
            return Ok(());
        }
        let not_stated = with_side(&facts, RequestedSide::NotStated).answer;
        let mut sides = vec![RequestedSide::Left, RequestedSide::Right];
        sides.extend(facts.request.region.spans_midline().then_some(RequestedSide::Midline));
        let best = sides.into_iter().map(|side| with_side(&facts, side).answer).min().unwrap();
        prop_assert_eq!(not_stated, best.max(Verdict::AskFirst));
    }

    #[test]
    fn moving_now_later_never_revives_an_expired_consent(facts in world(), later in 0i64..800, days in 0i64..900) {
        let expired: Vec<String> = facts.chart.consents.iter()
            .filter(|c| c.valid_until.is_some_and(|last| last < facts.now.local_date()))
            .map(|c| c.consent_id.clone())
            .collect();
        let mut moved = facts.clone();
        moved.now = facts.now.plus_seconds(later * 7_777);
        let found = answer(&moved);
        prop_assert!(!found.governing_consents.iter().any(|id| expired.contains(id)));
        // The same with the ceiling: alone in the chart, an old one goes on failing by its age.
        let mut alone = facts.clone();
        alone.chart.consents.truncate(1);
        let consent = &mut alone.chart.consents[0];
        consent.given_at = before(&facts, days * 86_400);
        consent.valid_until = None;
        if answer(&alone).reasons.iter().any(|r| r.rule == RuleId::D3) && consent_has_begun(&alone) {
            alone.now = moved.now;
            prop_assert!(answer(&alone).governing_consents.is_empty());
        }
    }

    #[test]
    fn a_correction_written_after_now_changes_only_cautions(
        facts in world(), later in 60i64..1_000_000, which in any::<prop::sample::Index>(), side in select(&SIDES[..]),
    ) {
        let before = answer(&facts);
        let mut more = facts.clone();
        more.chart.corrections.push(Correction {
            correction_id: "cor-7001".to_owned(),
            sequence_no: 1,
            consent_id: which.get(&facts.chart.consents).consent_id.clone(),
            written_at: facts.now.plus_seconds(later),
            field: inkfast::record::coverage::facts::CorrectedField::Side,
            was: Value::Null,
            is: json!(side),
        });
        let mut after = answer(&more);
        after.cautions.clone_from(&before.cautions);
        prop_assert_eq!(after, before);
    }

    #[test]
    fn taking_a_yes_away_never_improves(facts in world(), stands_in in any::<bool>(), which in any::<prop::sample::Index>(), kind in 0..4) {
        let mut facts = facts;
        if stands_in {
            facts.rules.same_visit_yes_is_enough_for = vec![Technique::SoftTissue, Technique::Mobilization];
        }
        let before = answer(&facts);
        let mut less = facts.clone();
        for visit in &mut less.chart.visits {
            match kind {
                0 if !visit.asked.is_empty() => {
                    let at = which.index(visit.asked.len());
                    if visit.asked[at].answer.word() != "no" {
                        visit.asked.remove(at);
                    }
                }
                1 if !visit.own_answers.is_empty() => {
                    let at = which.index(visit.own_answers.len());
                    if visit.own_answers[at].answer.word() == "yes" {
                        visit.own_answers.remove(at);
                    }
                }
                2 => visit.identity_confirmed = None,
                3 if !visit.conditions_met.is_empty() => {
                    drop(visit.conditions_met.remove(which.index(visit.conditions_met.len())));
                }
                _ => {}
            }
        }
        prop_assert!(not_better(&answer(&less), &before));
    }

    #[test]
    fn another_offset_for_the_same_instant_changes_nothing(facts in world(), hours in -12i32..13) {
        let before = answer(&facts);
        let mut document = serde_json::to_value(&facts).unwrap();
        let mut rewritten = 0;
        rewrite(&mut document, "", hours * 3600, &mut rewritten);
        prop_assert!(rewritten > 3);
        let facts = Facts::from_json(&document.to_string()).unwrap();
        prop_assert_eq!(answer(&facts), before);
    }
}

fn consent_has_begun(facts: &Facts) -> bool {
    facts.chart.consents[0].valid_from <= facts.now.local_date()
}

/// Writes every moment but `now` and `given_at` with this offset.
fn rewrite(value: &mut Value, key: &str, offset: i32, count: &mut usize) {
    match value {
        Value::Object(map) => map.iter_mut().for_each(|(key, inner)| rewrite(inner, key, offset, count)),
        Value::Array(list) => list.iter_mut().for_each(|inner| rewrite(inner, key, offset, count)),
        Value::String(text) if key != "now" && key != "given_at" => {
            if let Ok(moment) = Moment::parse(text) {
                *text = Moment::from_unix(moment.unix(), offset).unwrap().to_string();
                *count += 1;
            }
        }
        _ => {}
    }
}

/// The documents above are worth something only if they reach every answer, and most rules.
#[test]
fn the_documents_reach_every_answer() {
    use proptest::strategy::ValueTree;
    use proptest::test_runner::TestRunner;
    let mut runner = TestRunner::deterministic();
    let world = world();
    let (mut verdicts, mut rules) = (std::collections::BTreeMap::new(), std::collections::BTreeSet::new());
    for _ in 0..1500 {
        let found = answer(&world.new_tree(&mut runner).unwrap().current());
        *verdicts.entry(found.agreed).or_insert(0) += 1;
        rules.extend(found.reasons.iter().map(|r| r.rule));
    }
    assert!(verdicts.len() == 3 && verdicts.values().all(|count| *count > 100), "{verdicts:?}");
    use RuleId::*;
    for rule in
        [C3, D0, D1, D2, D3, D4, D5, D6, D7, D9, D10, D11, E1, E2, E3, E4, F1, F2, F3, F4, G1, G2, G3, I1]
    {
        assert!(rules.contains(&rule), "{rule} never occurs; these do: {rules:?}");
    }
}
