//! Who the patient is, whether the patient decides, and who decides otherwise.

use super::consents::Spell;
use super::items::{Item, Items};
use super::shape::{word_id, words};
use crate::record::coverage::facts::{Basis, CapacityDoubt, DecisionMaker, Patient, Policy};
use crate::record::kinds::Data;
use crate::record::kinds::identity::{self, Birth, CapacityState, Identity};
use crate::record::moment::{Date, Moment};
use crate::trouble::{Kind, Outcome, Trouble};

/// The patient, and the spells without capacity that the facts have no room for: they hold one.
///
/// # Errors
/// When no readable entry says who the patient is, or whether the patient is of age can't be told from
/// an estimated year.
pub fn patient(items: &Items, rules: &Policy) -> Outcome<(Patient, Vec<Spell>)> {
    let (newest, identity) = identity(items)?;
    let language = |i: &Identity| {
        i.interpreter_language.as_ref().map(|l| words(Some(l)).unwrap_or_else(|| i.language.clone()))
    };
    // A later identity that is wrong here does not help, but a need for an interpreter it names stands.
    let doubtful =
        items.all.iter().filter(|item| items.now.reached(item.at) && item.place() >= newest.place());
    let doubtful = doubtful.flat_map(Item::restricting).filter_map(identity_of).find_map(language);
    let spells = spells(items);
    let (lacking, others) = choose(items, &spells);
    let patient = Patient {
        birth_date: birth_date(&identity.birth_date, items.now.date, rules)?,
        interpreter_language: words(language(identity).or(doubtful).as_ref()),
        lacks_capacity_from: lacking.map(|(from, _)| from),
        lacks_capacity_until: lacking.and_then(|(_, until)| until),
    };
    Ok((patient, others))
}

fn identity_of(data: &Data) -> Option<&Identity> {
    match data {
        Data::ChartOpened(opened) => Some(&opened.identity),
        Data::IdentityChanged(changed) => Some(&changed.identity),
        _ => None,
    }
}

/// The identity as it stood at the moment asked about; before the chart was opened, as it was opened.
fn identity(items: &Items) -> Outcome<(&Item, &Identity)> {
    let first = || items.all.iter().find_map(|item| Some((item, identity_of(item.helping()?)?)));
    items.newest(identity_of).or_else(first).ok_or_else(|| {
        Trouble::damaged(
            "What is covered could not be checked: no entry of this chart says who the patient is.",
        )
    })
}

/// How many years an estimate may be wrong.
const ESTIMATE_YEARS: i64 = 3;

fn birth_date(birth: &Birth, today: Date, rules: &Policy) -> Outcome<Date> {
    if let Some(day) = birth.date {
        return Ok(day.0);
    }
    let unclear = || {
        Trouble::new(
            Kind::Refused,
            "What is covered can't be answered: the birth date is an estimate, and it isn't clear whether the patient is of age.",
            "This is not a yes. Nothing was changed or recorded.",
            "Find out the birth date and record it as a change of identity, then ask again.",
        )
    };
    let year = birth.estimated_year.ok_or_else(unclear)?;
    let majority = i64::try_from(rules.majority_age_years).unwrap_or(i64::MAX);
    let of_age = i64::from(year).saturating_add(majority);
    if of_age.saturating_sub(i64::from(today.year())).saturating_abs() <= ESTIMATE_YEARS {
        return Err(unclear());
    }
    // The last day of the year: what a minor needs is asked for as long as it may be needed.
    Date::new(year, 12, 31).map_err(|_| unclear())
}

/// Every spell in which the patient lacked capacity.
fn spells(items: &Items) -> Vec<Spell> {
    let spell = |item: &Item, data: &Data| {
        let Data::Capacity(capacity) = data else { return None };
        (capacity.state == CapacityState::LacksCapacity).then(|| (item.at, ended(items, item, data)))
    };
    items.all.iter().flat_map(|item| item.restrictions(|data, _| spell(item, data))).collect()
}

/// When a doubt or a lack of capacity ended: as the entry itself knew, or as a later one states. An
/// entry that finds capacity and names no other ends every lack before it; a doubt has to be named.
fn ended(items: &Items, item: &Item, data: &Data) -> Option<Moment> {
    let Data::Capacity(begun) = data else { return None };
    let known = begun.until.filter(|_| item.helping() == Some(data));
    let stated = items.end_of(item.at, |end, data| {
        let Data::Capacity(later) = data else { return None };
        let named = later.of == Some(item.seq) && later.state != CapacityState::DoubtRaised;
        let found = later.of.is_none()
            && later.state == CapacityState::HasCapacity
            && begun.state == CapacityState::LacksCapacity
            && end.place() > item.place();
        let still_lacks = named
            && begun.state == CapacityState::LacksCapacity
            && later.state == CapacityState::LacksCapacity;
        ((named || found) && !still_lacks).then_some(end.at)
    });
    known.into_iter().chain(stated).min()
}

/// The spell the facts state, and the others: the one that runs at the moment asked about, of several
/// the one that began first; otherwise the last one before it.
fn choose(items: &Items, spells: &[Spell]) -> (Option<Spell>, Vec<Spell>) {
    let begun = || spells.iter().copied().filter(|(from, _)| items.now.reached(*from));
    let running =
        begun().filter(|(from, until)| items.now.restricts(*from, *until)).min_by_key(|(from, _)| *from);
    let chosen = running.or_else(|| begun().max_by_key(|(from, _)| *from));
    let others = spells.iter().copied().filter(|spell| Some(*spell) != chosen).collect();
    (chosen, others)
}

/// Doubts about capacity.
pub fn doubts(items: &Items) -> Vec<CapacityDoubt> {
    let doubt = |item: &Item, data: &Data| {
        let Data::Capacity(capacity) = data else { return None };
        (capacity.state == CapacityState::DoubtRaised).then(|| CapacityDoubt {
            sequence_no: item.seq,
            raised_at: item.at,
            resolved_at: ended(items, item, data),
        })
    };
    items.all.iter().flat_map(|item| item.restrictions(|data, _| doubt(item, data))).collect()
}

/// Who may decide for the patient. The newest entry for a person holds. What the person's authority
/// rested on before, where it was something else, is listed as superseded from then on.
pub fn decision_makers(items: &Items) -> Vec<DecisionMaker> {
    let mut listed: Vec<(&Item, DecisionMaker)> = Vec::new();
    let mut in_order: Vec<&Item> = items.all.iter().filter(|item| items.now.reached(item.at)).collect();
    in_order.sort_by_key(|item| item.place());
    for item in in_order {
        for data in item.restricting() {
            let Data::DecisionMaker(line) = data else { continue };
            take_place(items, line, item.at, &mut listed);
            let Some(maker) = maker(line) else { continue };
            let wrong = item.helping() != Some(data);
            take(&mut listed, item, maker, wrong);
        }
    }
    superseded_later(items, &mut listed);
    listed.into_iter().map(|(_, maker)| maker).collect()
}

/// What takes a person's place after the moment asked about is listed too, for the same answer later.
fn superseded_later(items: &Items, listed: &mut [(&Item, DecisionMaker)]) {
    for later in items.all.iter().filter(|item| !items.now.reached(item.at)) {
        for data in later.restricting() {
            let Data::DecisionMaker(line) = data else { continue };
            take_place(items, line, later.at, listed);
        }
    }
}

/// Marks what an entry supersedes: the authority it names, also where that was written down anew since.
fn take_place(
    items: &Items,
    line: &identity::DecisionMaker,
    at: Moment,
    listed: &mut [(&Item, DecisionMaker)],
) {
    let named =
        items.all.iter().filter(|item| line.supersedes.contains(&item.seq)).flat_map(Item::restricting);
    for named in named {
        let Data::DecisionMaker(named) = named else { continue };
        let id = word_id(&named.person_id);
        for (_, maker) in
            listed.iter_mut().filter(|(_, m)| m.person_id == id && m.basis.word() == named.basis.word())
        {
            supersede(maker, at);
        }
    }
}

/// Puts an entry in the place of the one before it for the same person. One that is wrong here takes
/// nobody's place; it only takes away.
fn take<'a>(listed: &mut Vec<(&'a Item, DecisionMaker)>, item: &'a Item, maker: DecisionMaker, wrong: bool) {
    for (_, earlier) in listed.iter_mut().filter(|(_, m)| m.person_id == maker.person_id) {
        if wrong {
            narrow(earlier, &maker);
        } else if earlier.basis != maker.basis {
            supersede(earlier, item.at);
        }
    }
    if !wrong {
        listed.retain(|(_, m)| m.person_id != maker.person_id || m.basis != maker.basis);
        listed.push((item, maker));
    }
}

fn supersede(maker: &mut DecisionMaker, at: Moment) {
    maker.superseded_at = Some(maker.superseded_at.map_or(at, |known| known.min(at)));
}

fn narrow(maker: &mut DecisionMaker, by: &DecisionMaker) {
    maker.authority_on_file &= by.authority_on_file;
    maker.may_consent &= by.may_consent;
    maker.authority_last_day = maker.authority_last_day.into_iter().chain(by.authority_last_day).min();
    if let Some(at) = by.superseded_at {
        supersede(maker, at);
    }
}

fn maker(line: &identity::DecisionMaker) -> Option<DecisionMaker> {
    Some(DecisionMaker {
        person_id: word_id(&line.person_id),
        basis: Basis::from_word(line.basis.word())?,
        authority_on_file: line.authority_on_file,
        may_consent: line.may_consent,
        authority_starts_at: line.authority_starts_at,
        authority_last_day: line.authority_last_day.map(|day| day.0),
        superseded_at: line.superseded_at,
    })
}
