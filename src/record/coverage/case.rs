//! One coverage question made ready: the request with its look-ups done, the visit it falls in, the
//! consents as they read at the moment asked about, and what the patient withdrew or refused.

use super::facts::{
    Asked, Consent, ConsentStatus, Corrected, Facts, Policy, Practitioner, Request, RequestedSide, Visit,
};
use super::time::{Now, Place, place};
use super::{sides, words};
use crate::record::moment::Moment;
use crate::record::vocab::{Region, Side, Technique};

/// A consent as it reads at the moment asked about.
pub struct Candidate {
    /// The consent, corrections applied.
    pub consent: Consent,
    /// True when a correction was applied.
    pub corrected: bool,
    /// True when a correction was written later than the moment asked about.
    pub corrected_later: bool,
}

impl Candidate {
    /// Its place by when it was given: what "newest" and "given after" go by.
    pub fn given(&self) -> Place {
        place(self.consent.given_at, self.consent.sequence_no)
    }
}

/// What a stop is.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum StopKind {
    /// A withdrawal.
    Withdrawal,
    /// A standing refusal.
    Refusal,
    /// A declined consent.
    Decline,
}

/// A withdrawal, refusal or decline in force that touches the technique and the region asked about.
pub struct Stop {
    /// Which of the three.
    pub kind: StopKind,
    /// When it was said.
    pub said_at: Moment,
    /// Its place in the order.
    pub place: Place,
    /// The techniques; none = all.
    pub techniques: Option<Vec<Technique>>,
    /// The regions; none = everywhere.
    pub regions: Option<Vec<Region>>,
    /// The side; none = every side.
    pub side: Option<Side>,
}

/// One question.
pub struct Case<'a> {
    /// The facts.
    pub facts: &'a Facts,
    /// The moment asked about.
    pub now: Now,
    /// True for the technique intraoral and for every technique in the mouth.
    pub mouth_work: bool,
    /// True where a written consent is needed.
    pub needs_written: bool,
    /// The roster line of the one who would do it.
    pub practitioner: Option<&'a Practitioner>,
    /// The open visit.
    pub visit: Option<&'a Visit>,
    /// Consents, declined ones included.
    pub consents: Vec<Candidate>,
    /// What stops consents.
    pub stops: Vec<Stop>,
}

impl<'a> Case<'a> {
    /// Makes a question ready.
    pub fn new(facts: &'a Facts) -> Case<'a> {
        let request = &facts.request;
        let now = Now::new(facts.now, request.sequence_no);
        let mouth_work = request.technique == Technique::Intraoral || request.region.is_in_mouth();
        let visits = facts.chart.visits.iter();
        let mut case = Case {
            facts,
            now,
            mouth_work,
            needs_written: mouth_work || facts.rules.written_consent_techniques.contains(&request.technique),
            practitioner: facts.roster.iter().find(|p| p.practitioner_id == request.practitioner_id),
            visit: visits
                .filter(|v| now.allows(v.opened_at, v.sequence_no) && !now.over(v.closed_at))
                .max_by_key(|v| place(v.opened_at, v.sequence_no)),
            consents: facts.chart.consents.iter().map(|c| candidate(facts, &now, c)).collect(),
            stops: Vec::new(),
        };
        case.stops = case.stops();
        case
    }

    /// The request.
    pub fn request(&self) -> &'a Request {
        &self.facts.request
    }

    /// The policy values.
    pub fn rules(&self) -> &'a Policy {
        &self.facts.rules
    }

    /// True when the scope of a rules entry holds the request; none = any.
    pub fn in_scope(&self, techniques: &Option<Vec<Technique>>, regions: &Option<Vec<Region>>) -> bool {
        let request = self.request();
        techniques.as_ref().is_none_or(|list| list.contains(&request.technique))
            && regions.as_ref().is_none_or(|list| self.overlaps_any(list))
    }

    /// True when one of the regions shares ground with the requested one.
    pub fn overlaps_any(&self, regions: &[Region]) -> bool {
        regions.iter().any(|region| region.overlaps(self.request().region))
    }

    /// The withdrawals, refusals and declines that touch the request on this side.
    pub fn stops_on(&self, side: Side) -> impl Iterator<Item = &Stop> {
        self.stops.iter().filter(move |stop| sides::touches(stop.side, side))
    }

    /// What was asked in the visit and counts at the moment asked about.
    pub fn asked_in_visit(&self) -> impl Iterator<Item = &'a Asked> {
        let now = self.now;
        self.visit.into_iter().flat_map(|v| &v.asked).filter(move |a| now.allows(a.at, a.sequence_no))
    }

    /// True when the request is judged as left and as right.
    pub fn is_for_both(&self) -> bool {
        match self.request().side {
            RequestedSide::Both => true,
            RequestedSide::NotStated => {
                self.rules().techniques_without_side.contains(&self.request().technique)
            }
            _ => false,
        }
    }

    /// The request on one side, for people: `thrust on cervical, left side`.
    pub fn asked(&self, side: Side) -> String {
        let request = self.request();
        format!("{} on {}, {}", request.technique, request.region, words::side(side))
    }

    fn stops(&self) -> Vec<Stop> {
        let chart = &self.facts.chart;
        let withdrawals = chart.withdrawals.iter().map(|w| Stop {
            kind: StopKind::Withdrawal,
            said_at: w.said_at,
            place: place(w.said_at, w.sequence_no),
            techniques: w.techniques.clone(),
            regions: w.regions.clone(),
            side: w.side,
        });
        let refusals = chart.refusals.iter().map(|r| Stop {
            kind: StopKind::Refusal,
            said_at: r.said_at,
            place: place(r.said_at, r.sequence_no),
            techniques: r.techniques.clone(),
            regions: r.regions.clone(),
            side: r.side,
        });
        let declined = self.consents.iter().filter(|c| c.consent.status == ConsentStatus::Declined);
        let declines = declined.map(|c| Stop {
            kind: StopKind::Decline,
            said_at: c.consent.given_at,
            place: c.given(),
            techniques: Some(c.consent.techniques.clone()),
            regions: Some(c.consent.regions.clone()),
            side: Some(c.consent.side),
        });
        withdrawals.chain(refusals).chain(declines).filter(|stop| self.stop_touches(stop)).collect()
    }

    fn stop_touches(&self, stop: &Stop) -> bool {
        self.now.reached(stop.said_at) && self.in_scope(&stop.techniques, &stop.regions)
    }
}

/// Lays a corrected field over a consent.
pub(super) fn apply(consent: &mut Consent, corrected: Corrected) {
    match corrected {
        Corrected::Side(side) => consent.side = side,
        Corrected::Techniques(techniques) => consent.techniques = techniques,
        Corrected::Regions(regions) => consent.regions = regions,
        Corrected::ExcludedRegions(regions) => consent.excluded_regions = regions,
        Corrected::ValidUntil(day) => consent.valid_until = day,
    }
}

/// The consent with every correction that counts, in order.
fn candidate(facts: &Facts, now: &Now, consent: &Consent) -> Candidate {
    let mut own: Vec<_> =
        facts.chart.corrections.iter().filter(|c| c.consent_id == consent.consent_id).collect();
    own.sort_by_key(|c| place(c.written_at, c.sequence_no));
    let mut reads = Candidate { consent: consent.clone(), corrected: false, corrected_later: false };
    for correction in own {
        if !now.allows(correction.written_at, correction.sequence_no) {
            reads.corrected_later = true;
            continue;
        }
        reads.corrected = true;
        if let Some(value) = correction.value() {
            apply(&mut reads.consent, value);
        }
    }
    reads
}
