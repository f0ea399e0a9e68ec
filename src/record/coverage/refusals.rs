//! What the patient withdrew, refused or declined, and how a later consent brings it back: only by
//! naming the thing (F1, F2, F4).

use super::answer::RuleId;
use super::case::{Candidate, Case, StopKind};
use super::consents::{Finding, Tested, lists_technique, reaches_region};
use super::words;
use crate::record::vocab::{Region, Side};

/// The stops that stop this consent for this side.
pub fn stopped(case: &Case, candidate: &Candidate, side: Side) -> Vec<Finding> {
    let consent = &candidate.consent;
    let mut found: Vec<Finding> = Vec::new();
    for stop in case.stops_on(side) {
        let name = words::Named(consent);
        let what = words::stop(stop, &case.now);
        let (rule, text) = if candidate.given() <= stop.place {
            (RuleId::F1, format!("{name} is not later than {what}."))
        } else if lists_technique(case, consent)
            && reaches_region(case, consent)
            && !restores(&consent.regions, stop.regions.as_deref(), case.request().region)
        {
            (RuleId::F2, format!("{name} came after {what}, but does not name what was taken back."))
        } else {
            continue;
        };
        let rule = if stop.kind == StopKind::Withdrawal { rule } else { RuleId::F4 };
        found.push(Finding { rule, text });
    }
    found
}

/// True when the regions of a later consent name what was taken away (`None`: everywhere) from the region asked about:
/// for each region taken that shares ground with it one that lies inside that and covers the deeper of the two (F2).
pub(crate) fn restores(listed: &[Region], taken: Option<&[Region]>, requested: Region) -> bool {
    let touched = taken.unwrap_or_default().iter().filter(|taken| taken.overlaps(requested));
    touched.copied().all(|taken| {
        let deeper = deeper(taken, requested);
        listed.iter().any(|one| deeper.is_within(*one) && one.is_within(taken))
    })
}

/// Of two regions of which one contains the other, the inner one.
fn deeper(one: Region, other: Region) -> Region {
    if one.is_within(other) { one } else { other }
}

/// What to report where no consent covers the side: every stop that touches, and F2 where one keeps
/// a later consent from counting.
pub fn reported(case: &Case, tested: &[Tested], side: Side) -> Vec<Finding> {
    let mut found: Vec<Finding> = case
        .stops_on(side)
        .map(|stop| {
            let rule = if stop.kind == StopKind::Withdrawal { RuleId::F1 } else { RuleId::F4 };
            Finding { rule, text: words::sentence(&format!("{} stands.", words::stop(stop, &case.now))) }
        })
        .collect();
    // A consent that does not count yet is ignored: it is later than the question.
    let stopped_later = tested.iter().filter(|t| !t.fails(RuleId::D1));
    found.extend(stopped_later.flat_map(|t| t.failed.iter().filter(|f| f.rule == RuleId::F2)).cloned());
    found
}
