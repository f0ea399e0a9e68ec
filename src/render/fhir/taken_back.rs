//! What a withdrawal or a lasting no does to a consent, as far as the chart alone says: which consents
//! it ends whole, which it narrows, and when a later consent names the thing again.

use super::set::{Chart, Seen};
use crate::record::kinds::Data;
use crate::record::kinds::consent::{Consent, ConsentKind, ConsentStatus, RestOfEarlier};
use crate::record::kinds::withdrawal::{StandingRefusal, Withdrawal};
use crate::record::moment::Moment;
use crate::record::vocab::{Region, Side, Technique};

/// What is taken back or refused. Absent: all of it.
#[derive(Debug, Clone)]
pub(super) struct Scope {
    /// When it was said.
    pub at: Moment,
    /// Techniques.
    pub techniques: Option<Vec<Technique>>,
    /// Regions.
    pub regions: Option<Vec<Region>>,
    /// Side.
    pub side: Option<Side>,
    /// Kinds of consent; empty: every kind of care.
    kinds: Vec<ConsentKind>,
    /// Consents that were named.
    named: Vec<u64>,
}

impl Scope {
    /// Of a withdrawal.
    pub(super) fn of_withdrawal(seen: &Seen<'_>, data: &Withdrawal) -> Scope {
        Scope {
            at: seen.now.happened.start,
            techniques: data.techniques.clone(),
            regions: data.regions.clone(),
            side: data.side,
            kinds: data.consent_kinds.clone(),
            named: data.consents.clone(),
        }
    }

    /// Of a lasting no.
    pub(super) fn of_refusal(seen: &Seen<'_>, data: &StandingRefusal) -> Scope {
        Scope {
            at: seen.now.happened.start,
            techniques: data.techniques.clone(),
            regions: data.regions.clone(),
            side: data.side,
            kinds: Vec::new(),
            named: Vec::new(),
        }
    }

    /// True when it is about this kind of consent, or names this one.
    fn is_about(&self, seq: u64, consent: &Consent) -> bool {
        use ConsentKind as K;
        let care = matches!(
            consent.kind,
            K::Examination | K::Treatment | K::InsideMouth | K::SensitiveArea | K::Imaging
        );
        let kind = if self.kinds.is_empty() { care } else { self.kinds.contains(&consent.kind) };
        kind || self.named.contains(&seq)
    }

    /// True when it shares ground with the consent.
    fn touches(&self, consent: &Consent) -> bool {
        let techniques = self.techniques.as_ref().is_none_or(|taken| {
            consent.techniques.is_empty() || taken.iter().any(|one| consent.techniques.contains(one))
        });
        let regions = self.regions.as_ref().is_none_or(|taken| {
            consent.regions.is_empty()
                || taken.iter().any(|one| consent.regions.iter().any(|listed| one.overlaps(*listed)))
        });
        let apart = matches!(
            (self.side, consent.side),
            (Some(Side::Left), Some(Side::Right)) | (Some(Side::Right), Some(Side::Left))
        );
        techniques && regions && !apart
    }

    /// True when nothing of the consent is left.
    fn swallows(&self, consent: &Consent) -> bool {
        let techniques = self.techniques.as_ref().is_none_or(|taken| {
            !consent.techniques.is_empty() && consent.techniques.iter().all(|one| taken.contains(one))
        });
        let regions = self.regions.as_ref().is_none_or(|taken| {
            !consent.regions.is_empty()
                && consent.regions.iter().all(|one| taken.iter().any(|outer| one.is_within(*outer)))
        });
        let side = self.side.is_none_or(|side| side == Side::Both || consent.side == Some(side));
        techniques && regions && side
    }
}

/// Every withdrawal and lasting no, with its number.
fn scopes(chart: &Chart<'_>) -> Vec<(u64, Scope)> {
    let of = |seen: &Seen<'_>| match &seen.data {
        Data::Withdrawal(data) => Some((seen.seq(), Scope::of_withdrawal(seen, data))),
        Data::StandingRefusal(data) => Some((seen.seq(), Scope::of_refusal(seen, data))),
        _ => None,
    };
    chart.seen.iter().filter_map(of).collect()
}

/// What was taken back of a consent, where something of it is left.
pub(super) fn taken(chart: &Chart<'_>, seen: &Seen<'_>, data: &Consent) -> Vec<Scope> {
    later_scopes(chart, seen, data).filter(|scope| !scope.swallows(data)).collect()
}

fn later_scopes(chart: &Chart<'_>, seen: &Seen<'_>, data: &Consent) -> impl Iterator<Item = Scope> {
    let (seq, given, data) = (seen.seq(), seen.now.happened.start, data.clone());
    scopes(chart).into_iter().map(|(_, scope)| scope).filter(move |scope| {
        // A withdrawal that names a consent without more takes that one; with more, it says how much.
        scope.at >= given && scope.is_about(seq, &data) && scope.touches(&data)
    })
}

/// True when the consent is over: taken back whole, ended by its event or its last day, replaced in part
/// by a narrower one with the rest taken back.
pub(super) fn ended(chart: &Chart<'_>, seen: &Seen<'_>, data: &Consent) -> bool {
    let seq = seen.seq();
    let event = chart.seen.iter().any(|other| match &other.data {
        Data::EndEvent(end) => {
            let named = end.consents.contains(&seq)
                || (end.consents.is_empty() && data.ends_on_event.as_ref() == Some(&end.event));
            named && other.now.happened.start >= seen.now.happened.start
        }
        Data::Consent(newer) => newer.narrower_than.contains(&seq) && newer.rest_of_earlier == RestOfEarlier::Withdrawn,
        Data::RestAnswer(answer) => {
            answer.rest_of_earlier == RestOfEarlier::Withdrawn
                && matches!(chart.data(answer.consent), Some(Data::Consent(newer)) if newer.narrower_than.contains(&seq))
        }
        _ => false,
    });
    let past = data.valid_until.is_some_and(|day| day.0 < chart.set.at.local_date());
    event || past || later_scopes(chart, seen, data).any(|scope| scope.swallows(data))
}

/// True when a later consent names all of what was taken back: every technique, and every region. What
/// took back everything is never named again as a whole, so it keeps standing.
pub(super) fn restored(chart: &Chart<'_>, seq: u64, scope: &Scope) -> bool {
    let (Some(techniques), Some(regions)) = (&scope.techniques, &scope.regions) else { return false };
    chart.seen.iter().filter(|other| other.seq() > seq).any(|other| match &other.data {
        Data::Consent(consent) => {
            consent.status == ConsentStatus::Signed
                && other.now.happened.start > scope.at
                && scope.is_about(other.seq(), consent)
                && techniques.iter().all(|one| consent.techniques.contains(one))
                && regions.iter().all(|taken| consent.regions.iter().any(|listed| listed == taken))
                && (consent.side == scope.side || consent.side == Some(Side::Both))
        }
        _ => false,
    })
}
