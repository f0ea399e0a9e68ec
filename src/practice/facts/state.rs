//! What stands in the chart whatever the visit: its state, allergies, alerts, reactions, changes,
//! holds and emergencies.

use super::items::{Item, Items};
use super::shape::given;
use crate::record::coverage::facts::{
    Alert, AllergyReview, AllergyStatus, Change, ChangeKind, ChartState, ChartStatus, Emergency, Hold,
    Reaction, Request, Severity,
};
use crate::record::kinds::Data;
use crate::record::kinds::identity::{JoinDirection, SubstanceStatus};
use crate::record::kinds::keeping::{self, HoldKind};
use crate::record::kinds::withdrawal::EmergencyState;
use crate::record::moment::Moment;
use std::collections::BTreeMap;

/// The state of the chart at the moment asked about. Until an entry says otherwise it is open since it
/// was opened; a chart that was joined to another is closed and goes on there.
pub fn chart_state(items: &Items, first: Moment) -> ChartState {
    let stated = items.all.iter().filter(|item| items.now.reached(item.at)).flat_map(|item| {
        item.restricting().filter_map(move |data| {
            let status = status(data)?;
            let counts = status != ChartStatus::Open || item.helping() == Some(data);
            counts
                .then(|| ((item.place(), status != ChartStatus::Open), ChartState { status, since: item.at }))
        })
    });
    let newest = stated.max_by_key(|(order, _)| *order).map(|(_, state)| state);
    newest.unwrap_or(ChartState { status: ChartStatus::Open, since: first })
}

fn status(data: &Data) -> Option<ChartStatus> {
    match data {
        Data::ChartState(state) => ChartStatus::from_word(state.status.word()),
        Data::Joined(joined) if joined.direction == JoinDirection::ContinueAt => {
            Some(ChartStatus::ClosedContinueAt)
        }
        Data::ChartOpened(_) => Some(ChartStatus::Open),
        _ => None,
    }
}

/// Words of a review that speak of several things at once, and what they speak of.
const UMBRELLAS: [(&str, &[&str]); 3] = [
    ("tape-adhesive", &["tape", "adhesive", "kinesiology-tape", "sports-tape"]),
    ("lotions-oils-nuts", &["lotion", "lotions", "cream", "oil", "oils", "nut", "nuts", "nut-oil"]),
    ("other-glove-material", &["nitrile", "vinyl", "neoprene"]),
];

/// Allergies: what the newest review that was done says, and everything an earlier or doubtful one
/// called allergic that no later one called harmless. An umbrella word bars what falls under it.
pub fn allergy_review(items: &Items, request: &Request) -> AllergyReview {
    let newest = items.newest(|data| match data {
        Data::AllergyReview(review) => review.reviewed_on.value().map(|day| (day.0, review)),
        _ => None,
    });
    let own =
        |status: SubstanceStatus| AllergyStatus::from_word(status.word()).unwrap_or(AllergyStatus::Unknown);
    let mut substances: BTreeMap<String, AllergyStatus> = newest
        .iter()
        .flat_map(|(_, (_, review))| {
            review.substances.iter().map(|(name, status)| (name.clone(), own(*status)))
        })
        .collect();
    for name in still_allergic(items) {
        substances.retain(|known, _| !known.eq_ignore_ascii_case(&name));
        substances.insert(name, AllergyStatus::Allergic);
    }
    let used = request.glove_material.iter().map(|glove| glove.word());
    for used in used.chain(request.products.iter().map(String::as_str)) {
        if under_allergic_umbrella(&substances, used) {
            substances.insert(used.to_string(), AllergyStatus::Allergic);
        }
    }
    AllergyReview { reviewed_on: newest.map(|(_, (day, _))| day), substances }
}

/// Substances once called allergic and not called harmless by a later review that was done.
fn still_allergic(items: &Items) -> Vec<String> {
    let mut in_order: Vec<&Item> = items.all.iter().filter(|item| items.now.reached(item.at)).collect();
    in_order.sort_by_key(|item| item.place());
    let mut allergic: Vec<String> = Vec::new();
    for item in in_order {
        if let Some(Data::AllergyReview(review)) = item.helping()
            && review.reviewed_on.value().is_some()
        {
            let harmless = |name: &String| {
                review
                    .substances
                    .iter()
                    .any(|(n, s)| n.eq_ignore_ascii_case(name) && *s == SubstanceStatus::NotAllergic)
            };
            allergic.retain(|name| !harmless(name));
        }
        for data in item.restricting() {
            let Data::AllergyReview(review) = data else { continue };
            let named = review.substances.iter().filter(|(_, status)| **status == SubstanceStatus::Allergic);
            allergic.extend(named.map(|(name, _)| name.clone()));
        }
    }
    allergic
}

/// True when a thing that nobody spoke of by its own name falls under a word the patient is allergic to.
fn under_allergic_umbrella(substances: &BTreeMap<String, AllergyStatus>, used: &str) -> bool {
    let is =
        |name: &str| substances.iter().find(|(known, _)| known.eq_ignore_ascii_case(name)).map(|(_, s)| *s);
    let allergic = |name: &str| is(name) == Some(AllergyStatus::Allergic);
    let own = matches!(is(used), Some(AllergyStatus::Allergic | AllergyStatus::NotAllergic));
    !own && UMBRELLAS.iter().any(|(word, things)| {
        let falls_under = things.iter().any(|thing| thing.eq_ignore_ascii_case(used)) && allergic(word);
        let is_umbrella = word.eq_ignore_ascii_case(used) && things.iter().any(|thing| allergic(thing));
        falls_under || is_umbrella
    })
}

/// Alerts noted by the moment asked about, with the last day that a later entry states.
pub fn alerts(items: &Items) -> Vec<Alert> {
    let noted = items.all.iter().filter(|item| items.now.reached(item.at));
    noted.flat_map(|item| item.restrictions(|data, id| alert(items, item, data, id))).collect()
}

fn alert(items: &Items, item: &Item, data: &Data, alert_id: String) -> Option<Alert> {
    let Data::Alert(alert) = data else { return None };
    if alert.ends.is_some() {
        return None;
    }
    let ending = items.newest(|data| match data {
        Data::Alert(end) if end.ends == Some(item.seq) => end.until,
        _ => None,
    });
    let until = ending.map(|(_, day)| day).or(alert.until);
    Some(Alert {
        alert_id,
        kind: given(&alert.kind, "not-named"),
        from: alert.from.0,
        until: until.map(|day| day.0),
        region: alert.region,
    })
}

/// Adverse reactions, open until an entry closes them.
pub fn reactions(items: &Items) -> Vec<Reaction> {
    items.all.iter().flat_map(|item| item.restrictions(|data, id| reaction(items, item, data, id))).collect()
}

fn reaction(items: &Items, item: &Item, data: &Data, reaction_id: String) -> Option<Reaction> {
    let Data::Reaction(reaction) = data else { return None };
    Some(Reaction {
        reaction_id,
        sequence_no: item.seq,
        onset_at: reaction.onset_at,
        technique: reaction.technique,
        region: reaction.region,
        severity: Severity::from_word(reaction.severity.word())?,
        closed_at: items.end_of(reaction.onset_at, |end, data| match data {
            Data::ReactionClosed(closed) if closed.reaction == item.seq => Some(end.at),
            _ => None,
        }),
    })
}

/// Changes in health.
pub fn changes(items: &Items) -> Vec<Change> {
    let change = |item: &Item, data: &Data, change_id| {
        let Data::Change(change) = data else { return None };
        Some(Change {
            change_id,
            sequence_no: item.seq,
            kind: ChangeKind::from_word(change.kind.word())?,
            happened_on: change.happened_on.map(|day| day.0),
            noted_at: item.at,
        })
    };
    items.all.iter().flat_map(|item| item.restrictions(|data, id| change(item, data, id))).collect()
}

/// Legal holds on the chart, and those outside any chart that reach it: by dates on which something
/// happened in it, or by a practitioner who wrote in it or is asked about.
pub fn holds(items: &Items, register: &Items, request: &Request) -> Vec<Hold> {
    let hold = |of: &Items, item: &Item, data: &Data, hold_id, reaches: &dyn Fn(&keeping::Hold) -> bool| {
        let Data::Hold(hold) = data else { return None };
        reaches(hold).then(|| Hold { hold_id, placed_at: item.at, lifted_at: lifted(of, item) })
    };
    let own = items.all.iter().flat_map(|i| i.restrictions(|data, id| hold(items, i, data, id, &|_| true)));
    let reaches = |hold: &keeping::Hold| match hold.scope.kind {
        HoldKind::Chart => true,
        HoldKind::Dates => items.all.iter().any(|item| {
            let on = item.at.local_date();
            hold.scope.from.is_none_or(|from| from.0 <= on)
                && hold.scope.until.is_none_or(|until| on <= until.0)
        }),
        HoldKind::Practitioner => hold.scope.practitioner.as_ref().is_none_or(|code| {
            *code == request.practitioner_id || items.all.iter().any(|item| item.author == *code)
        }),
    };
    let others = register.all.iter();
    own.chain(others.flat_map(|i| i.restrictions(|data, id| hold(register, i, data, id, &reaches)))).collect()
}

fn lifted(of: &Items, item: &Item) -> Option<Moment> {
    of.end_of(item.at, |end, data| match data {
        Data::HoldLifted(lifted) if lifted.hold == item.seq => Some(end.at),
        _ => None,
    })
}

/// The emergency that runs at the moment asked about; otherwise the one declared last before it.
pub fn emergency(items: &Items) -> Option<Emergency> {
    let declared =
        items.all.iter().flat_map(|item| item.restrictions(|data, _| emergency_of(items, item, data)));
    let begun = declared.filter(|e| items.now.reached(e.declared_at));
    begun.max_by_key(|e| (items.now.restricts(e.declared_at, e.ended_at), e.declared_at))
}

fn emergency_of(items: &Items, item: &Item, data: &Data) -> Option<Emergency> {
    let Data::Emergency(emergency) = data else { return None };
    (emergency.state == EmergencyState::Declared).then(|| Emergency {
        declared_at: item.at,
        ended_at: items.end_of(item.at, |end, data| match data {
            Data::Emergency(later) if later.state == EmergencyState::Ended && later.of == Some(item.seq) => {
                Some(end.at)
            }
            _ => None,
        }),
    })
}
