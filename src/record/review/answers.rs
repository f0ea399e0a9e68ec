//! What the note says already to what a review would remark.

use super::{Level, Remark, ReviewId};
use crate::record::kinds::Given;
use crate::record::kinds::visit::Visit;

/// Lays the reasons and answers kept in a note beside the remarks they belong to.
pub(super) fn lay_in(remarks: &mut [Remark], note: &Visit) {
    for remark in remarks {
        remark.answered = match remark.level {
            Level::Missing => {
                reason(note, remark).map(|why| format!("not done, because {why}")).or_else(|| {
                    let known = note.missing_acknowledged.iter().any(|item| remark.is_named(item));
                    known.then(|| "known to be missing".to_string())
                })
            }
            Level::Ask => answer(note, remark),
            Level::Refuse if remark.id.custodian_may() => answer(note, remark),
            Level::Refuse | Level::Flag => None,
        };
    }
}

fn answer(note: &Visit, remark: &Remark) -> Option<String> {
    let found = note.answered.iter().find(|kept| remark.is_named(&kept.item))?;
    Some(found.answer.trim().to_string()).filter(|answer| !answer.is_empty())
}

fn reason(note: &Visit, remark: &Remark) -> Option<String> {
    let kept = note.not_done.iter().find(|kept| remark.is_named(&kept.item)).map(|kept| &kept.because);
    kept.or_else(|| in_its_place(note, remark))
        .map(|why| why.trim().to_string())
        .filter(|why| !why.is_empty())
}

/// The reason that stands in the place the layout has for it.
fn in_its_place<'a>(note: &'a Visit, remark: &Remark) -> Option<&'a String> {
    fn why<T>(given: &Given<T>) -> Option<&String> {
        match given {
            Given::Absent(absent) => Some(&absent.because),
            Given::Value(_) => None,
        }
    }
    use ReviewId as R;
    let procedure = note.procedures.iter().find(|p| remark.about.procedure == Some(p.no));
    match remark.id {
        R::ChangedSinceLast => why(&note.changed_since_last),
        R::PainIntensity => {
            let complaint = note.complaints.iter().find(|c| remark.about.complaint == Some(c.no));
            complaint.and_then(|complaint| why(&complaint.pain_now))
        }
        R::ScreenToday | R::ScreenNotWhole => note.screens_not_done_because.as_ref(),
        R::Findings | R::FindingForRegion | R::OralInspection => why(&note.findings),
        R::Assessment | R::DiagnosisWithBasis | R::Considered | R::ComparedWithLast => why(&note.assessment),
        R::Tolerance | R::RiskRemark => why(&note.assessment),
        R::Response => procedure.and_then(|p| why(&p.response)),
        R::PainBeforeAndAfter | R::FunctionBeforeAndAfter => note.reassessment_not_done_because.as_ref(),
        R::Advice => why(&note.advice),
        R::WatchFor => why(&note.advice).or_else(|| why(&note.advice.value()?.watch_for)),
        R::NextStep | R::PlanFrequency | R::PlanDuration | R::PlanGoals | R::ReExaminationDate => {
            why(&note.plan)
        }
        _ => None,
    }
}
