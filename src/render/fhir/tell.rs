//! Which resources an entry is told in. What is not in this table is kept in the record and not
//! expressed in the document; it is listed there. `schema/FHIR.md` shows the same table.

use super::part::{Section, Told};
use super::set::{Chart, Seen};
use super::{allergy, consent, measure, others, people, visit};
use crate::record::envelope::Record;
use crate::record::kinds::Data;
use crate::record::kinds::identity::ChartStatus;

/// What an entry is told in; none when it is only listed.
pub(super) fn tell(chart: &Chart<'_>, seen: &Seen<'_>, record: &Record, data: &Data) -> Option<Told> {
    let seq = seen.seq();
    let at = Seen { entry: seen.entry, was: seen.was, now: record.clone(), data: data.clone() };
    Some(match data {
        Data::ChartOpened(_) | Data::IdentityChanged(_) => people::told_of_patient(chart),
        Data::ChartState(state) if state.status == ChartStatus::Deceased => people::told_of_patient(chart),
        Data::DecisionMaker(one) => people::decider(chart, &at, one),
        Data::AllergyReview(one) => allergy::review(chart, seq, &at, one),
        Data::Alert(one) => allergy::flag(chart, &at, one),
        Data::Consent(one) => consent::agreed(chart, &at, one),
        Data::Withdrawal(one) => consent::withdrawn(chart, &at, one),
        Data::StandingRefusal(one) => consent::refused(chart, &at, one),
        Data::Asked(one) => consent::asked(chart, &at, one),
        Data::VisitOpened(one) => visit::encounter(chart, &at, one),
        Data::VisitClosed(one) => visit::of_visit(chart, one.visit),
        Data::Visit(one) => visit::note(chart, seq, record, one),
        Data::Measure(one) => measure::measure(chart, seq, record, one),
        Data::Screen(one) => measure::screen(chart, seq, record, one),
        Data::Reaction(one) => others::reaction(chart, &at, one),
        Data::Contact(one) => others::contact(chart, &at, one),
        Data::Referral(one) => others::referral(chart, &at, one),
        Data::Attachment(one) => others::document(chart, &at, one),
        Data::Access(one) => others::opened(chart, &at, one),
        Data::Release(one) => others::released(chart, &at, one),
        other => Told::words(section_of_words(other)?),
    })
}

/// Where an entry is told in words alone; none when it is only listed.
fn section_of_words(data: &Data) -> Option<Section> {
    Some(match data {
        Data::Capacity(_) => Section::Deciders,
        Data::EndEvent(_) | Data::RestAnswer(_) => Section::Consents,
        Data::Pause(one) => Section::Visit(one.visit),
        Data::OwnAnswer(one) => Section::visit_or(one.visit, Section::Consents),
        Data::ConditionMet(one) => Section::Visit(one.visit),
        Data::Emergency(one) => Section::visit_or(one.visit, Section::Outside),
        Data::IdentityChecked(one) => Section::Visit(one.visit),
        Data::Change(one) => Section::visit_or(one.visit, Section::Outside),
        Data::WrittenReason(one) => Section::Visit(one.visit),
        Data::ScreenItemClosed(_) => Section::Outside,
        Data::ReactionRechecked(_) | Data::ReactionClosed(_) => Section::Reactions,
        Data::ReferralAnswer(_) => Section::Referrals,
        Data::Handout(one) => Section::visit_or(one.visit, Section::Papers),
        Data::AmendmentRequest(_)
        | Data::AmendmentDecision(_)
        | Data::Disagreement(_)
        | Data::Rebuttal(_)
        | Data::Addendum(_)
        | Data::LateEntry(_) => Section::Changes,
        _ => return None,
    })
}
