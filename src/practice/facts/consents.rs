//! Consents with what later entries say about them, withdrawals and refusals.

use super::items::{Amend, CONSENT_FIELDS, Item, Items, id, set};
use super::shape::{different, given, some_different, word_id, words};
use crate::record::coverage::facts;
use crate::record::coverage::facts::{
    Corrected, CorrectedField, Correction, EndsOnEvent, Refusal, RestOfEarlier, Withdrawal,
};
use crate::record::kinds::Data;
use crate::record::kinds::consent::{Consent, ConsentKind, ConsentStatus, GivenBy, GiverRole};
use crate::record::moment::Moment;
use crate::record::vocab::{Region, Side, Technique};

/// A span of time, open at its end when that is none.
pub type Spell = (Moment, Option<Moment>);

/// What consents, withdrawals and refusals come to.
#[derive(Default)]
pub struct Agreed {
    /// Examination and treatment consents, declined ones among them.
    pub consents: Vec<facts::Consent>,
    /// Their corrections.
    pub corrections: Vec<Correction>,
    /// Withdrawals of care.
    pub withdrawals: Vec<Withdrawal>,
    /// Standing refusals, and declined consents that name no technique, region or side.
    pub refusals: Vec<Refusal>,
}

/// Consents, withdrawals and refusals of a chart. A consent the patient gave while unable to decide,
/// in one of `other_spells` that the facts have no room for, does not help.
pub fn agreed(items: &Items, other_spells: &[Spell]) -> Agreed {
    let mut agreed = Agreed::default();
    for item in &items.all {
        signed(items, item, other_spells, &mut agreed);
        declined(item, &mut agreed);
        agreed.withdrawals.extend(item.restrictions(|data, id| withdrawal(item, data, id)));
        agreed.refusals.extend(item.restrictions(|data, id| refusal(item, data, id)));
    }
    agreed
}

/// True for examination and treatment. Pictures, messages and the like are no consents to care.
fn is_care(kind: ConsentKind) -> bool {
    use ConsentKind::{Examination, InsideMouth, SensitiveArea, Treatment};
    matches!(kind, Examination | Treatment | InsideMouth | SensitiveArea)
}

/// A signed consent, unless it belongs to another chart or is not whole.
fn signed(items: &Items, item: &Item, other_spells: &[Spell], agreed: &mut Agreed) {
    let Some(Data::Consent(consent)) = item.helping() else { return };
    let own = consent.given_by.role == GiverRole::Oneself;
    let unable = own && other_spells.iter().any(|spell| holds(*spell, item.at));
    if consent.status != ConsentStatus::Signed || !is_care(consent.kind) || unable {
        return;
    }
    let Some(mut fact) = consent_fact(item, consent, item.id()) else { return };
    let Some(corrections) = corrections(item, consent) else { return };
    fact.rest_of_earlier = rest(items, item, consent);
    fact.ends_on_event = end_event(items, item, consent);
    agreed.consents.push(fact);
    agreed.corrections.extend(corrections);
}

/// Declined consents keep restricting whatever became of the entry.
fn declined(item: &Item, agreed: &mut Agreed) {
    let is_declined = |data: &Data| match data {
        Data::Consent(c) if c.status == ConsentStatus::Declined && is_care(c.kind) => Some(Consent::clone(c)),
        _ => None,
    };
    for fact in item.restrictions(|data, id| consent_fact(item, &is_declined(data)?, id)) {
        let whole = item.data.as_ref().and_then(is_declined).filter(|_| fact.consent_id == item.id());
        // A correction may narrow what was declined only as a consent that is rightly here.
        let own = whole.filter(|_| !item.misfiled).and_then(|c| corrections(item, &c));
        agreed.corrections.extend(own.unwrap_or_default());
        agreed.consents.push(fact);
    }
    agreed.refusals.extend(item.restrictions(|data, id| {
        let consent = is_declined(data)?;
        consent_fact(item, &consent, id.clone()).is_none().then(|| Refusal {
            refusal_id: id,
            sequence_no: item.seq,
            said_at: item.at,
            techniques: some_different(Some(&consent.techniques)),
            regions: some_different(Some(&consent.regions)),
            side: consent.side,
        })
    }));
}

fn holds((from, until): Spell, at: Moment) -> bool {
    from.minute() <= at.minute() && until.is_none_or(|until| at.minute() < until.minute())
}

/// A consent in the words of the facts; none when it lacks a technique, a region or a side, or limits
/// segments by what is no segment of the spine.
pub(super) fn consent_fact(item: &Item, consent: &Consent, consent_id: String) -> Option<facts::Consent> {
    let ordered = |s: Option<crate::record::vocab::Segment>| s.is_none_or(|s| s.order().is_some());
    let limits = &consent.segment_limits;
    let readable = limits.iter().all(|l| ordered(l.highest_segment) && ordered(l.lowest_segment));
    if consent.techniques.is_empty() || consent.regions.is_empty() || !readable {
        return None;
    }
    let allowed = &consent.practitioners_allowed;
    let own = id(item.seq);
    let earlier: Vec<String> =
        consent.narrower_than.iter().map(|seq| id(*seq)).filter(|e| *e != own).collect();
    Some(facts::Consent {
        consent_id,
        sequence_no: item.seq,
        status: facts::ConsentStatus::from_word(consent.status.word())?,
        form: facts::ConsentForm::from_word(consent.form.word())?,
        given_by: giver(&consent.given_by)?,
        given_at: item.at,
        written_at: item.written,
        explained: consent.explained.as_ref().map(|e| facts::Explained { by: word_id(&e.by), at: e.at }),
        techniques: different(&consent.techniques),
        regions: different(&consent.regions),
        excluded_regions: different(&consent.excluded_regions),
        side: consent.side?,
        segment_limits: limits
            .iter()
            .map(|limit| facts::SegmentLimit {
                techniques: some_different(limit.techniques.as_ref()),
                highest_segment: limit.highest_segment,
                lowest_segment: limit.lowest_segment,
            })
            .collect(),
        practitioners_allowed: facts::PractitionersAllowed {
            kind: facts::AllowedKind::from_word(allowed.kind.word())?,
            values: allowed_values(consent),
        },
        conditions: consent.conditions.iter().map(condition).collect(),
        interpreter: consent.interpreter.as_ref().and_then(interpreter),
        heard_by: words(consent.heard_by.as_ref()).map(|code| word_id(&code)),
        valid_from: consent.valid_from.0,
        valid_until: consent.valid_until.map(|day| day.0),
        ends_on_event: words(consent.ends_on_event.as_ref())
            .map(|event| EndsOnEvent { event, reached_at: None }),
        narrower_than: different(&earlier),
        rest_of_earlier: RestOfEarlier::from_word(consent.rest_of_earlier.word())?,
    })
}

fn giver(by: &GivenBy) -> Option<facts::GivenBy> {
    let role = facts::GiverRole::from_word(by.role.word())?;
    Some(facts::GivenBy { role, person_id: words(by.person_id.as_ref()).map(|code| word_id(&code)) })
}

/// People by id, roles by their word.
fn allowed_values(consent: &Consent) -> Vec<String> {
    let allowed = &consent.practitioners_allowed;
    let named = allowed.kind == crate::record::kinds::consent::AllowedKind::Named;
    let values = allowed.values.iter().filter(|v| !v.trim().is_empty());
    different(&values.map(|v| if named { word_id(v) } else { v.clone() }).collect::<Vec<_>>())
}

fn condition(condition: &crate::record::kinds::consent::Condition) -> facts::Condition {
    let values: Vec<String> = condition.values.iter().filter(|v| !v.trim().is_empty()).cloned().collect();
    facts::Condition {
        kind: given(&condition.kind, "not-named"),
        values: different(&values),
        words: words(condition.words.as_ref()),
    }
}

fn interpreter(one: &crate::record::kinds::consent::Interpreter) -> Option<facts::Interpreter> {
    let language = words(Some(&one.language))?;
    Some(facts::Interpreter { name_or_number: words(Some(&one.name_or_number))?, language })
}

/// The patient's answer about the rest of earlier consents, as it stands at the moment asked about:
/// the one said last. Keeping the rest helps, anything else restricts.
fn rest(items: &Items, item: &Item, consent: &Consent) -> RestOfEarlier {
    let mut said = vec![(item.place(), consent.rest_of_earlier)];
    for later in &items.all {
        for data in later.restricting() {
            let Data::RestAnswer(answer) = data else { continue };
            let kept = answer.rest_of_earlier == crate::record::kinds::consent::RestOfEarlier::Kept;
            let counts = if kept {
                later.helping() == Some(data) && items.now.allows(later.at, later.seq)
            } else {
                items.now.reached(later.at)
            };
            if answer.consent == item.seq && counts {
                said.push((later.place(), answer.rest_of_earlier));
            }
        }
    }
    let newest = said.into_iter().max_by_key(|(place, _)| *place).map(|(_, answer)| answer);
    newest.and_then(|answer| RestOfEarlier::from_word(answer.word())).unwrap_or(RestOfEarlier::NotAsked)
}

/// The event that ends the consent, with the earliest moment at which an entry says it came. An entry
/// that names the consent ends it even where the consent itself names no event.
fn end_event(items: &Items, item: &Item, consent: &Consent) -> Option<EndsOnEvent> {
    let reached = items.all.iter().flat_map(|end| end.restricting().map(move |data| (end.at, data)));
    let first = reached
        .filter_map(|(at, data)| match data {
            Data::EndEvent(event) if event.consents.contains(&item.seq) => Some((at, event.event.as_str())),
            _ => None,
        })
        .min_by_key(|(at, _)| *at);
    let event = words(consent.ends_on_event.as_ref())
        .or_else(|| first.map(|(_, event)| given(event, "not named")))?;
    Some(EndsOnEvent { event, reached_at: first.map(|(at, _)| at) })
}

/// The corrections of a consent that the facts list. Each gives the whole field as it reads from then
/// on. None when one of them makes the consent unreadable: then it no longer helps. A correction that
/// belongs to another chart holds only where it narrows.
fn corrections(item: &Item, consent: &Consent) -> Option<Vec<Correction>> {
    let mut value = serde_json::to_value(consent).ok()?;
    let mut listed = Vec::new();
    for amend in &item.held {
        let was = value.clone();
        let one = set(&mut value, &amend.field, amend.is.as_ref()?)
            .and_then(|()| correction(item, amend, &was, &value));
        match one {
            Some(one) if !amend.misfiled || narrows(&one) => listed.push(one),
            None if !amend.misfiled => return None,
            _ => value = was,
        }
    }
    Some(listed)
}

fn correction(
    item: &Item,
    amend: &Amend,
    was: &serde_json::Value,
    is: &serde_json::Value,
) -> Option<Correction> {
    let name = amend.field.trim_start_matches('/').split('/').next()?;
    let field = CONSENT_FIELDS.contains(&name).then(|| CorrectedField::from_word(name))??;
    let whole = |value: &serde_json::Value| match (value.get(name), field) {
        (Some(value), _) => value.clone(),
        (None, CorrectedField::ExcludedRegions) => serde_json::json!([]),
        (None, _) => serde_json::Value::Null,
    };
    let correction = Correction {
        correction_id: id(amend.seq),
        sequence_no: amend.seq,
        consent_id: item.id(),
        written_at: amend.written,
        field,
        was: whole(was),
        is: whole(is),
    };
    correction.value().is_some().then_some(correction)
}

/// True when what a correction says afterwards is part of what was said before.
fn narrows(correction: &Correction) -> bool {
    let was = Correction { is: correction.was.clone(), ..correction.clone() };
    match (was.value(), correction.value()) {
        (Some(Corrected::Side(was)), Some(Corrected::Side(is))) => was == is || was == Side::Both,
        (Some(Corrected::Techniques(was)), Some(Corrected::Techniques(is))) => {
            is.iter().all(|t| was.contains(t))
        }
        (Some(Corrected::Regions(was)), Some(Corrected::Regions(is))) => is.iter().all(|r| was.contains(r)),
        (Some(Corrected::ExcludedRegions(was)), Some(Corrected::ExcludedRegions(is))) => {
            was.iter().all(|r| is.contains(r))
        }
        (Some(Corrected::ValidUntil(was)), Some(Corrected::ValidUntil(Some(is)))) => {
            was.is_none_or(|was| is <= was)
        }
        _ => false,
    }
}

fn withdrawal(item: &Item, data: &Data, withdrawal_id: String) -> Option<Withdrawal> {
    let Data::Withdrawal(taken) = data else { return None };
    let care = taken.consent_kinds.is_empty() || taken.consent_kinds.iter().any(|kind| is_care(*kind));
    let (techniques, regions) = scope(taken.techniques.as_ref(), taken.regions.as_ref());
    care.then_some(Withdrawal {
        withdrawal_id,
        sequence_no: item.seq,
        said_at: item.at,
        written_at: item.written,
        techniques,
        regions,
        side: taken.side,
    })
}

fn refusal(item: &Item, data: &Data, refusal_id: String) -> Option<Refusal> {
    let Data::StandingRefusal(refused) = data else { return None };
    let (techniques, regions) = scope(refused.techniques.as_ref(), refused.regions.as_ref());
    Some(Refusal {
        refusal_id,
        sequence_no: item.seq,
        said_at: item.at,
        techniques,
        regions,
        side: refused.side,
    })
}

type Scope = (Option<Vec<Technique>>, Option<Vec<Region>>);

fn scope(techniques: Option<&Vec<Technique>>, regions: Option<&Vec<Region>>) -> Scope {
    (some_different(techniques), some_different(regions))
}
