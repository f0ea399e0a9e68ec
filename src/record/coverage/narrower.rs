//! Which earlier consents a new one is narrower than (D11 b): the patient now agrees to a part of what was
//! agreed to before, and has to say what becomes of the rest. Found when the new consent is entered.
//!
//! Narrower means: all that the new one covers, the earlier one covers too, and the earlier one still covers
//! more, or is open to more people. A consent that adds something of its own is no narrower one.

use super::case::apply;
use super::facts::{
    AllowedKind, Consent, ConsentStatus, Correction, GiverRole, Policy, Refusal, RestOfEarlier, Withdrawal,
};
use super::sides;
use super::time::{Place, birthday, last_valid_day, place};
use crate::record::moment::Date;
use crate::record::vocab::{Region, Side, Technique};

/// What was agreed, taken back and refused before.
#[derive(Debug, Clone, Copy)]
pub struct Before<'a> {
    /// Consents, declined ones among them.
    pub consents: &'a [Consent],
    /// Their corrections.
    pub corrections: &'a [Correction],
    /// Withdrawals.
    pub withdrawals: &'a [Withdrawal],
    /// Standing refusals.
    pub refusals: &'a [Refusal],
    /// The patient's birth date, where it is known.
    pub born: Option<Date>,
}

/// Ids of the live consents that `new` is narrower than, oldest first. Live is what still counts on the day
/// on which the new one is given.
pub fn narrower_than(new: &Consent, before: &Before, rules: &Policy) -> Vec<String> {
    let mine = cover(new);
    let (day, given) = (new.given_at.local_date(), place(new.given_at, new.sequence_no));
    let mut found: Vec<(Place, String)> = Vec::new();
    for consent in before.consents.iter().filter(|c| c.consent_id != new.consent_id) {
        let earlier = corrected(consent, before.corrections);
        let at = place(earlier.given_at, earlier.sequence_no);
        if at > given || !counts(&earlier, before, rules, day) {
            continue;
        }
        let (theirs, live) = (cover(&earlier), live(&earlier, at, before, rules, day));
        let within = mine.iter().zip(&theirs).all(|(mine, theirs)| mine & !theirs == 0);
        let shares = mine.iter().zip(&live).any(|(mine, live)| mine & live != 0);
        let rest = live.iter().zip(&mine).any(|(live, mine)| live & !mine != 0);
        if within && shares && (rest || fewer_people(new, &earlier)) {
            found.push((at, earlier.consent_id));
        }
    }
    found.sort();
    found.into_iter().map(|(_, id)| id).collect()
}

fn corrected(consent: &Consent, corrections: &[Correction]) -> Consent {
    let mut own: Vec<&Correction> =
        corrections.iter().filter(|c| c.consent_id == consent.consent_id).collect();
    own.sort_by_key(|c| place(c.written_at, c.sequence_no));
    let mut reads = consent.clone();
    for value in own.into_iter().filter_map(Correction::value) {
        apply(&mut reads, value);
    }
    reads
}

/// True when the consent, as a whole, can still count: signed, not ended by its event, its rest not taken
/// back already, and not given for a minor who is of age now.
fn counts(consent: &Consent, before: &Before, rules: &Policy, day: Date) -> bool {
    let rest_withdrawn = before.consents.iter().any(|newer| {
        newer.status == ConsentStatus::Signed
            && newer.rest_of_earlier == RestOfEarlier::Withdrawn
            && newer.narrower_than.contains(&consent.consent_id)
    });
    let ended = consent.ends_on_event.as_ref().is_some_and(|end| end.reached_at.is_some());
    let of_age = before.born.map(|born| birthday(born, rules.majority_age_years, rules.leap_day_birthday));
    let outgrown = consent.given_by.role == GiverRole::DecisionMaker
        && of_age.is_some_and(|of_age| consent.given_at.local_date() < of_age && of_age <= day);
    consent.status == ConsentStatus::Signed && !rest_withdrawn && !ended && !outgrown
}

const SIDES: [Side; 3] = [Side::Left, Side::Right, Side::Midline];
/// Where a region has no segments of the spine, one bit stands for all of it.
const WHOLE: u32 = 1 << 25;

/// What a consent covers: for each technique, region and side, a bit for each segment.
pub type Ground = Vec<u32>;

fn cells() -> impl Iterator<Item = (Technique, Region, Side)> {
    let regions = |t| Region::ALL.iter().flat_map(move |r| SIDES.iter().map(move |s| (t, *r, *s)));
    Technique::ALL.iter().flat_map(move |t| regions(*t))
}

/// What a consent covers, by its words alone.
pub fn cover(consent: &Consent) -> Ground {
    cells().map(|(technique, region, side)| bits(consent, technique, region, side)).collect()
}

fn bits(consent: &Consent, technique: Technique, region: Region, side: Side) -> u32 {
    let listed = consent.techniques.contains(&technique)
        && (!region.is_in_mouth() || consent.techniques.contains(&Technique::Intraoral))
        && consent.regions.iter().any(|listed| region.is_within(*listed))
        && !consent.excluded_regions.iter().any(|left_out| left_out.overlaps(region))
        && sides::covers(consent.side, side, region);
    let Some((first, last)) = region.segment_range() else { return if listed { WHOLE } else { 0 } };
    let (Some(first), Some(last), true) = (first.order(), last.order(), listed) else { return 0 };
    let mut bits = 0;
    for order in first..=last {
        let inside = consent.segment_limits.iter().all(|limit| {
            let named = limit.techniques.as_ref().is_none_or(|list| list.contains(&technique));
            let high = limit.highest_segment.and_then(|s| s.order()).unwrap_or(0);
            let low = limit.lowest_segment.and_then(|s| s.order()).unwrap_or(usize::MAX);
            !named || (high..=low).contains(&order)
        });
        if inside {
            bits |= 1 << order;
        }
    }
    bits
}

/// What of an earlier consent is neither past its last day nor taken back or refused since.
fn live(consent: &Consent, given: Place, before: &Before, rules: &Policy, day: Date) -> Ground {
    let stops = stops(given, before);
    cells()
        .map(|(technique, region, side)| {
            let mouth = technique == Technique::Intraoral || region.is_in_mouth();
            let over = day > last_day(consent, if mouth { Technique::Intraoral } else { technique }, rules);
            let stopped = stops.iter().any(|stop| stop.touches(technique, region, side));
            if over || stopped { 0 } else { bits(consent, technique, region, side) }
        })
        .collect()
}

/// The last day on which a consent counts for a technique.
pub fn last_day(consent: &Consent, technique: Technique, rules: &Policy) -> Date {
    let ceilings = &rules.consent_ceiling_months;
    let months = ceilings.get(technique.word()).or_else(|| ceilings.get("default")).copied().unwrap_or(0);
    let ceiling = last_valid_day(consent.given_at.local_date(), months);
    consent.valid_until.map_or(ceiling, |own| own.min(ceiling))
}

struct Stop<'a> {
    techniques: Option<&'a Vec<Technique>>,
    regions: Option<&'a Vec<Region>>,
    side: Option<Side>,
}

impl Stop<'_> {
    fn touches(&self, technique: Technique, region: Region, side: Side) -> bool {
        self.techniques.is_none_or(|list| list.contains(&technique))
            && self.regions.is_none_or(|list| list.iter().any(|r| r.overlaps(region)))
            && sides::touches(self.side, side)
    }
}

fn stops<'a>(given: Place, before: &Before<'a>) -> Vec<Stop<'a>> {
    let withdrawals = before
        .withdrawals
        .iter()
        .filter(|w| place(w.said_at, w.sequence_no) > given)
        .map(|w| Stop { techniques: w.techniques.as_ref(), regions: w.regions.as_ref(), side: w.side });
    let refusals = before.refusals.iter().filter(|r| place(r.said_at, r.sequence_no) > given).map(|r| Stop {
        techniques: r.techniques.as_ref(),
        regions: r.regions.as_ref(),
        side: r.side,
    });
    let declined = before
        .consents
        .iter()
        .filter(|c| c.status == ConsentStatus::Declined)
        .filter(|c| place(c.given_at, c.sequence_no) > given)
        .map(|c| Stop { techniques: Some(&c.techniques), regions: Some(&c.regions), side: Some(c.side) });
    withdrawals.chain(refusals).chain(declined).collect()
}

/// True when the new consent is for fewer people than the earlier one.
fn fewer_people(new: &Consent, earlier: &Consent) -> bool {
    let (mine, theirs) = (&new.practitioners_allowed, &earlier.practitioners_allowed);
    match (mine.kind, theirs.kind) {
        (AllowedKind::Any, _) => false,
        (_, AllowedKind::Any) => true,
        (a, b) if a == b => {
            mine.values.iter().all(|v| theirs.values.contains(v)) && mine.values.len() < theirs.values.len()
        }
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::rulebook::RuleBook;
    use serde_json::{Value, json};

    fn consent(id: &str, no: u64, change: Value) -> Consent {
        let mut value = json!({
            "consent_id": id, "sequence_no": no, "status": "signed", "form": "written-signed",
            "given_by": { "role": "self", "person_id": null },
            "given_at": format!("2025-03-{:02}T09:00:00-05:00", no), "written_at": format!("2025-03-{:02}T09:00:00-05:00", no),
            "explained": null, "techniques": ["mobilization", "thrust"], "regions": ["spine"],
            "excluded_regions": [], "side": "both", "segment_limits": [],
            "practitioners_allowed": { "kind": "any", "values": [] }, "conditions": [], "interpreter": null,
            "heard_by": null, "valid_from": "2025-03-01", "valid_until": null, "ends_on_event": null,
            "narrower_than": [], "rest_of_earlier": "not-applicable"
        });
        for (name, is) in change.as_object().into_iter().flatten() {
            value[name] = is.clone();
        }
        serde_json::from_value(value).unwrap()
    }

    fn found(new: &Consent, consents: &[Consent], withdrawals: &[Withdrawal]) -> Vec<String> {
        let rules = RuleBook::example().unwrap().coverage;
        let before = Before { consents, corrections: &[], withdrawals, refusals: &[], born: None };
        narrower_than(new, &before, &rules)
    }

    #[test]
    fn a_part_of_what_was_agreed_is_narrower_in_each_way() {
        let wide = [consent("e1", 1, json!({}))];
        for part in [
            json!({ "techniques": ["mobilization"] }),
            json!({ "regions": ["lumbar"] }),
            json!({ "side": "left" }),
            json!({ "excluded_regions": ["cervical"] }),
            json!({ "practitioners_allowed": { "kind": "named", "values": ["IV"] } }),
            json!({ "segment_limits": [{ "techniques": ["thrust"], "highest_segment": "T1-T2", "lowest_segment": null }] }),
        ] {
            assert_eq!(found(&consent("e9", 9, part.clone()), &wide, &[]), ["e1"], "{part}");
        }
    }

    #[test]
    fn the_same_again_more_and_something_else_are_not() {
        let wide = [consent("e1", 1, json!({}))];
        for other in [
            json!({}),
            json!({ "techniques": ["mobilization", "thrust", "taping"] }),
            json!({ "techniques": ["mobilization", "taping"] }),
            json!({ "techniques": ["intraoral"], "regions": ["mouth"] }),
        ] {
            assert_eq!(found(&consent("e9", 9, other.clone()), &wide, &[]), Vec::<String>::new(), "{other}");
        }
    }

    #[test]
    fn what_is_over_has_no_rest() {
        let part = consent("e9", 9, json!({ "regions": ["lumbar"] }));
        for over in [
            json!({ "valid_until": "2025-03-08" }),
            json!({ "ends_on_event": { "event": "end of episode", "reached_at": "2025-03-05T10:00:00-05:00" } }),
            json!({ "given_at": "2024-03-01T09:00:00-05:00" }),
            json!({ "status": "declined" }),
        ] {
            assert!(found(&part, &[consent("e1", 1, over.clone())], &[]).is_empty(), "{over}");
        }
        // Everything but the low back was taken back since: nothing is left to ask about.
        let withdrawal = |regions: Value| -> Withdrawal {
            serde_json::from_value(json!({
                "withdrawal_id": "e3", "sequence_no": 3, "said_at": "2025-03-03T09:00:00-05:00",
                "written_at": "2025-03-03T09:00:00-05:00", "techniques": null, "regions": regions, "side": null
            }))
            .unwrap()
        };
        let back = consent("e1", 1, json!({ "regions": ["cervical", "lumbar"] }));
        assert_eq!(found(&part, std::slice::from_ref(&back), &[]), ["e1"]);
        assert!(found(&part, &[back], &[withdrawal(json!(["cervical"]))]).is_empty());
    }

    #[test]
    fn a_parents_consent_ends_with_childhood() {
        let rules = RuleBook::example().unwrap().coverage;
        let parents =
            [consent("e1", 1, json!({ "given_by": { "role": "decision-maker", "person_id": "dm-1" } }))];
        let own = consent("e9", 9, json!({ "regions": ["lumbar"] }));
        let before = |born: &str| Before {
            consents: &parents,
            corrections: &[],
            withdrawals: &[],
            refusals: &[],
            born: crate::record::moment::parse_date(born),
        };
        assert!(narrower_than(&own, &before("2007-03-05"), &rules).is_empty());
        assert_eq!(narrower_than(&own, &before("2009-03-05"), &rules), ["e1"]);
        // Of age on the very day of the new one; and on the day on which the earlier one was given.
        assert!(narrower_than(&own, &before("2007-03-09"), &rules).is_empty());
        assert_eq!(narrower_than(&own, &before("2007-03-10"), &rules), ["e1"]);
        assert_eq!(narrower_than(&own, &before("2007-03-01"), &rules), ["e1"]);
    }

    fn before_of<'a>(consents: &'a [Consent]) -> Before<'a> {
        Before { consents, corrections: &[], withdrawals: &[], refusals: &[], born: None }
    }

    /// What was refused or declined after the earlier consent has no rest, what was said before it has.
    #[test]
    fn a_later_refusal_leaves_no_rest() {
        let rules = RuleBook::example().unwrap().coverage;
        let part = consent("e9", 9, json!({ "regions": ["lumbar"] }));
        let wide = consent("e2", 2, json!({ "regions": ["cervical", "lumbar"] }));
        let refused = |no: u64, change: Value| -> Refusal {
            let mut value = json!({
                "refusal_id": format!("e{no}"), "sequence_no": no,
                "said_at": format!("2025-03-{no:02}T09:00:00-05:00"),
                "techniques": null, "regions": ["cervical"], "side": null
            });
            for (name, is) in change.as_object().unwrap() {
                value[name] = is.clone();
            }
            serde_json::from_value(value).unwrap()
        };
        let by_refusal = |no, change| {
            let (consents, refusals) = ([wide.clone()], [refused(no, change)]);
            narrower_than(&part, &Before { refusals: &refusals, ..before_of(&consents) }, &rules)
        };
        assert!(by_refusal(3, json!({})).is_empty());
        assert_eq!(by_refusal(1, json!({})), ["e2"], "agreed to after it was refused");
        assert_eq!(by_refusal(2, json!({})), ["e2"], "said at the same place");
        assert_eq!(by_refusal(3, json!({ "regions": ["jaw"] })), ["e2"]);
        assert_eq!(by_refusal(3, json!({ "side": "left" })), ["e2"], "the other side is left");
        assert_eq!(by_refusal(3, json!({ "techniques": ["thrust"] })), ["e2"]);
        let declined = |no, id: &str| {
            let no_to_neck = consent(id, no, json!({ "status": "declined", "regions": ["cervical"] }));
            found(&part, &[wide.clone(), no_to_neck], &[])
        };
        assert!(declined(3, "e3").is_empty());
        assert_eq!(declined(1, "e1"), ["e2"]);
        assert_eq!(declined(2, "e8"), ["e2"], "declined at the same place");
    }

    #[test]
    fn fewer_people_are_fewer_of_the_same_sort() {
        let allowed = |kind: &str, values: Value| json!({ "practitioners_allowed": { "kind": kind, "values": values } });
        let is_narrower = |mine: Value, theirs: Value| {
            !found(&consent("e9", 9, mine), &[consent("e1", 1, theirs)], &[]).is_empty()
        };
        let (any, two) = (allowed("any", json!([])), allowed("named", json!(["IV", "LM"])));
        let (one, other) = (allowed("named", json!(["IV"])), allowed("named", json!(["QQ"])));
        assert!(is_narrower(one.clone(), two.clone()) && is_narrower(one.clone(), any.clone()));
        assert!(!is_narrower(two.clone(), two.clone()) && !is_narrower(two.clone(), one.clone()));
        assert!(
            !is_narrower(other, two.clone())
                && !is_narrower(any.clone(), any)
                && !is_narrower(one, allowed("role", json!(["IV", "LM"])))
        );
    }

    /// A correction counts for the consent it names alone, the newest of them last.
    #[test]
    fn a_correction_changes_what_an_earlier_consent_covers() {
        let rules = RuleBook::example().unwrap().coverage;
        let wide = [consent("e1", 1, json!({ "side": "both" }))];
        let part = consent("e9", 9, json!({ "side": "left" }));
        let correction = |id: &str, no: u64, side: &str| -> Correction {
            serde_json::from_value(json!({
                "correction_id": format!("k{no}"), "sequence_no": no, "consent_id": id, "field": "side",
                "was": "both", "is": side, "written_at": format!("2025-03-{no:02}T09:00:00-05:00")
            }))
            .unwrap()
        };
        let by = |corrections: &[Correction]| {
            narrower_than(&part, &Before { corrections, ..before_of(&wide) }, &rules)
        };
        assert_eq!(by(&[]), ["e1"]);
        assert!(by(&[correction("e1", 3, "left")]).is_empty(), "then it is the same again");
        assert_eq!(by(&[correction("e2", 3, "left")]), ["e1"]);
        assert_eq!(by(&[correction("e1", 4, "both"), correction("e1", 3, "left")]), ["e1"]);
    }

    /// A limit holds for the techniques it names, and for all where it names none; both ends are inside.
    #[test]
    fn a_limit_of_segments_holds_for_its_techniques() {
        let limited = |techniques: Value| json!({ "segment_limits": [{ "techniques": techniques, "highest_segment": "C5-C6", "lowest_segment": "T1-T2" }] });
        let new = |technique: &str, highest: Value| {
            let limits =
                json!([{ "techniques": null, "highest_segment": highest, "lowest_segment": "T1-T2" }]);
            consent("e9", 9, json!({ "techniques": [technique], "segment_limits": limits }))
        };
        let of_thrust = [consent("e1", 1, limited(json!(["thrust"])))];
        let of_all = [consent("e1", 1, limited(Value::Null))];
        assert_eq!(found(&new("mobilization", Value::Null), &of_thrust, &[]), ["e1"]);
        assert_eq!(found(&new("thrust", json!("C5-C6")), &of_thrust, &[]), ["e1"]);
        assert!(found(&new("thrust", json!("C4-C5")), &of_thrust, &[]).is_empty());
        assert_eq!(found(&new("mobilization", json!("C5-C6")), &of_all, &[]), ["e1"]);
        assert!(found(&new("mobilization", json!("C4-C5")), &of_all, &[]).is_empty());
    }

    /// What the giver took back with a narrower consent before is over.
    #[test]
    fn a_rest_that_was_withdrawn_is_not_asked_about_again() {
        let wide = consent("e1", 1, json!({}));
        let narrowed = |rest: &str, of: &str| {
            consent(
                "e3",
                3,
                json!({ "regions": ["lumbar", "cervical"], "narrower_than": [of], "rest_of_earlier": rest }),
            )
        };
        let part = consent("e9", 9, json!({ "regions": ["lumbar"] }));
        let after = |rest, of| found(&part, &[wide.clone(), narrowed(rest, of)], &[]);
        assert_eq!(after("withdrawn", "e1"), ["e3"]);
        assert_eq!(after("kept", "e1"), ["e1", "e3"]);
        assert_eq!(after("withdrawn", "e2"), ["e1", "e3"]);
    }

    /// Rule D11 (b) is about earlier consents; what was given later is none, and a list may hold the new one itself.
    #[test]
    fn only_what_was_given_before_can_be_wider() {
        let part = consent("e5", 5, json!({ "regions": ["lumbar"] }));
        assert_eq!(found(&part, &[consent("e4", 4, json!({}))], &[]), ["e4"]);
        assert!(found(&part, &[consent("e6", 6, json!({}))], &[]).is_empty());
        assert_eq!(found(&part, &[part.clone(), consent("e4", 4, json!({}))], &[]), ["e4"]);
        // Within one minute the number decides.
        let same = json!({ "given_at": "2025-03-05T09:00:30-05:00" });
        assert_eq!(found(&part, &[consent("e4", 4, same.clone())], &[]), ["e4"]);
        assert!(found(&part, &[consent("e6", 6, same)], &[]).is_empty());
        let oldest_first = [consent("e3", 3, json!({})), consent("e2", 2, json!({}))];
        assert_eq!(found(&part, &oldest_first, &[]), ["e2", "e3"]);
    }

    /// A region without segments is agreed to as a whole; work inside the mouth needs intraoral listed, whatever
    /// else is (rules D4 and D7), and takes the shorter ceiling (rule D3: 6 months in the example, 12 else).
    #[test]
    fn the_mouth_has_its_own_technique_and_ceiling() {
        let mouth = |techniques: Value, side: &str| json!({ "techniques": techniques, "regions": ["mouth"], "side": side });
        let both = json!(["soft-tissue", "intraoral"]);
        let wide = [consent("e1", 1, mouth(both.clone(), "both"))];
        assert_eq!(found(&consent("e9", 9, mouth(both.clone(), "left")), &wide, &[]), ["e1"]);
        assert!(found(&consent("e9", 9, mouth(json!(["soft-tissue"]), "left")), &wide, &[]).is_empty());
        let given = |at: &str, mut change: Value| {
            change["given_at"] = json!(format!("{at}T09:00:00-05:00"));
            [consent("e1", 1, change)]
        };
        // 9 March 2025 is the last day of six months from 10 September 2024, not from the 9th.
        let left = consent("e9", 9, mouth(both.clone(), "left"));
        assert_eq!(found(&left, &given("2024-09-10", mouth(both.clone(), "both")), &[]), ["e1"]);
        assert!(found(&left, &given("2024-09-09", mouth(both, "both")), &[]).is_empty());
        let jaw = |side: &str| json!({ "techniques": ["soft-tissue"], "regions": ["jaw"], "side": side });
        let left = consent("e9", 9, jaw("left"));
        assert_eq!(found(&left, &given("2024-09-09", jaw("both")), &[]), ["e1"]);
        assert_eq!(found(&left, &given("2024-03-10", jaw("both")), &[]), ["e1"]);
        assert!(found(&left, &given("2024-03-09", jaw("both")), &[]).is_empty());
    }

    /// The last day itself still counts; a draft takes nothing back; agreeing anew to what was withdrawn is no
    /// narrowing of what is left.
    #[test]
    fn what_still_counts_has_a_rest() {
        let part = consent("e9", 9, json!({ "regions": ["lumbar"] }));
        let wide = consent("e1", 1, json!({}));
        assert_eq!(found(&part, &[consent("e1", 1, json!({ "valid_until": "2025-03-09" }))], &[]), ["e1"]);
        assert!(found(&part, &[consent("e1", 1, json!({ "status": "draft" }))], &[]).is_empty());
        let draft = json!({ "status": "draft", "regions": ["lumbar"], "narrower_than": ["e1"], "rest_of_earlier": "withdrawn" });
        assert_eq!(found(&part, &[wide.clone(), consent("e3", 3, draft)], &[]), ["e1"]);
        let withdrawal = |no: u64, change: Value| -> Withdrawal {
            let mut value = json!({
                "withdrawal_id": format!("w{no}"), "sequence_no": no, "said_at": format!("2025-03-{no:02}T09:00:00-05:00"),
                "written_at": format!("2025-03-{no:02}T09:00:00-05:00"), "techniques": null, "regions": null, "side": null
            });
            for (name, is) in change.as_object().unwrap() {
                value[name] = is.clone();
            }
            serde_json::from_value(value).unwrap()
        };
        let after = |no, change| found(&part, &[consent("e2", 2, json!({}))], &[withdrawal(no, change)]);
        assert!(after(3, json!({ "regions": ["lumbar"] })).is_empty());
        assert_eq!(after(3, json!({ "regions": ["cervical"] })), ["e2"]);
        assert!(after(3, json!({})).is_empty());
        // Taken back before it was agreed to, or at the same place: not later.
        assert_eq!(after(1, json!({})), ["e2"]);
        assert_eq!(after(2, json!({})), ["e2"]);
        // Left out and never listed is not agreed to: nothing is narrowed.
        let without = consent("e9", 9, json!({ "regions": ["spine"], "excluded_regions": ["cervical"] }));
        let lumbar = consent("e1", 1, json!({ "regions": ["lumbar"] }));
        assert!(found(&without, std::slice::from_ref(&lumbar), &[]).is_empty());
        assert!(found(&consent("e9", 9, json!({ "regions": ["jaw"] })), &[wide, lumbar], &[]).is_empty());
    }

    /// Rule C2 is about what another person gave; what the patient gave does not end with childhood.
    #[test]
    fn the_patients_own_consent_does_not_end_with_childhood() {
        let rules = RuleBook::example().unwrap().coverage;
        let own = [consent("e1", 1, json!({}))];
        let part = consent("e9", 9, json!({ "regions": ["lumbar"] }));
        let born = crate::record::moment::parse_date("2007-03-05");
        assert_eq!(narrower_than(&part, &Before { born, ..before_of(&own) }, &rules), ["e1"]);
    }
}
