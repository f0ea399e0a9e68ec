//! What is kept as it is and marked for ever, shown before signing, so that a slip can still be put right.

use super::sheet::Dated;
use super::{About, Review, ReviewId as R, sides_meet};
use crate::record::coverage::{restores, side_touches};
use crate::record::kinds::consent::Consent;
use crate::record::kinds::procedure::Procedure;
use crate::record::kinds::withdrawal::{AskedAnswer, Withdrawal};
use crate::record::labels::regions_without_finding;
use crate::record::vocab::Side;

pub(super) fn look(review: &mut Review<'_>) {
    for procedure in review.care() {
        times(review, procedure);
    }
    consents(review);
    for region in regions_without_finding(&review.sheet.note) {
        review.add(R::NoFindingForRegion, About::name(region.word()));
    }
    for notice in &review.sheet.notices {
        review.add(R::AfterNotice, About::entry(*notice));
    }
    late(review);
}

/// Order goes by the minute, as everywhere in a chart: within one, times typed and times taken mix.
fn times<'a>(review: &mut Review<'a>, procedure: &'a Procedure) {
    let (sheet, minute) = (review.sheet, procedure.at.minute());
    let about = || About::procedure(procedure.no);
    let consents: Vec<_> = match procedure.consent {
        Some(seq) => sheet.consents.iter().filter(|c| c.seq == seq).collect(),
        None => review.covering(procedure).collect(),
    };
    if !consents.is_empty() && consents.iter().all(|c| c.at.minute() > minute) {
        review.add(R::ProcedureBeforeConsent, about());
    }
    let yes = |answer: AskedAnswer| answer != AskedAnswer::No;
    let asked = sheet.asked.iter().filter(|a| match procedure.asked {
        Some(seq) => a.seq == seq,
        None => {
            a.data.technique == procedure.technique
                && procedure.region.overlaps(a.data.region)
                && sides_meet(Some(a.data.side), procedure.side)
        }
    });
    let asked: Vec<_> = asked.filter(|a| yes(a.data.answer)).collect();
    if !asked.is_empty() && asked.iter().all(|a| a.at.minute() > minute) {
        review.add(R::ProcedureBeforeAsked, about());
    }
    // A withdrawal works from the moment it was said; a consent given after it stands where it names what was withdrawn.
    let gone = sheet.withdrawals.iter().filter(|w| w.at <= procedure.at && withdraws(w, procedure));
    let lifted = |w: &Dated<Withdrawal>| {
        let said = (w.at.minute(), w.seq);
        let names =
            |c: &Dated<Consent>| restores(&c.data.regions, w.data.regions.as_deref(), procedure.region);
        consents.iter().any(|c| (c.at.minute(), c.seq) > said && c.at.minute() <= minute && names(c))
    };
    if let Some(withdrawal) = gone.rev().find(|w| !lifted(w)) {
        review.tell(
            R::ProcedureAfterWithdrawal,
            about(),
            format!("withdrawn with number {}", withdrawal.seq),
        );
    }
}

fn withdraws(withdrawal: &Dated<Withdrawal>, procedure: &Procedure) -> bool {
    let said = &withdrawal.data;
    said.techniques.as_ref().is_none_or(|all| all.contains(&procedure.technique))
        && said.regions.as_ref().is_none_or(|all| all.iter().any(|r| procedure.region.overlaps(*r)))
        && side_touches(said.side, procedure.side.unwrap_or(Side::Both))
}

fn consents(review: &mut Review<'_>) {
    let sheet = review.sheet;
    let mut used: Vec<_> = review.care().flat_map(|p| review.covering(p)).collect();
    used.sort_by_key(|consent| consent.seq);
    used.dedup_by_key(|consent| consent.seq);
    for consent in used {
        if consent.written.minute() > sheet.ended().minute() {
            review.add(R::ConsentAfterVisit, About::entry(consent.seq));
        }
        let witness = consent.data.witness.as_ref().and_then(|w| w.code.as_ref());
        let hands = sheet.note.practitioners.iter().chain(sheet.note.procedures.iter().map(|p| &p.done_by));
        if witness.is_some_and(|code| hands.into_iter().any(|h| h == code)) {
            review.add(R::WitnessIsPractitioner, About::entry(consent.seq));
        }
    }
}

fn late(review: &mut Review<'_>) {
    let (sheet, rules) = (review.sheet, review.rules);
    let hours = i64::try_from(rules.coverage.late_after_hours).unwrap_or(i64::MAX);
    let behind = sheet.now.unix() - sheet.ended().unix();
    if behind <= hours.saturating_mul(3600) {
        return;
    }
    review.tell(R::Late, About::note(), format!("{} hours after the visit", behind / 3600));
    let Some(minutes) = rules.questions.opened_before_late_minutes else { return };
    let since = sheet.now.plus_seconds(-minutes.saturating_mul(60));
    let asked_for = |opened: &&crate::record::moment::Moment| sheet.requests.iter().any(|r| r <= *opened);
    let opened = sheet.openings_for_reading.iter().filter(|at| **at >= since).find(asked_for);
    if let Some(at) = opened {
        review.tell(R::OpenedBeforeLateEntry, About::note(), format!("opened {}", at.plain()));
    }
}
