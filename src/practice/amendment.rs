//! A patient's request to amend the record: when it is to be answered, and what has become of it. Sources:
//! 45 CFR 164.526(b)(2) for the time, (d)(1) for the letter of a refusal, (d)(4) for the papers that stay linked.

use super::open::{Entry, Practice};
use crate::record::calendar::Holidays;
use crate::record::corrected::{Meant, with};
use crate::record::envelope::Record;
use crate::record::kinds::Data;
use crate::record::kinds::amend::{AmendmentDecision, AmendmentRequest, Decision, Disagreement};
use crate::record::kinds::release::Step;
use crate::record::moment::Date;
use crate::record::reckon::deadlines;
use crate::record::tables::clocks::{Clock, ClockRequest};
use crate::trouble::{Kind, Outcome, Trouble};
use std::collections::BTreeMap;

/// When an answer is due.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Due {
    /// The day.
    pub on: Date,
    /// The latest day with the one extension the clock allows; none where it allows none.
    pub extended: Option<Date>,
    /// Which clock, and its source.
    pub clock: String,
}

/// When a request received on this day is to be answered, by the adopted clock for amendments. Where none is
/// adopted, the shortest of the published ones: answering earlier than needed breaks no rule.
///
/// # Errors
/// When the rules can't be used, or hold no clock for amendments.
pub fn due(practice: &Practice, received: Date) -> Outcome<Due> {
    let book = practice.rulebook()?;
    let for_amendments: Vec<&Clock> =
        book.tables.clocks.clock.iter().filter(|clock| clock.request == ClockRequest::Amendment).collect();
    let adopted = |clock: &Clock| book.adopted.clocks.contains(&clock.id);
    let mine: Vec<&Clock> = for_amendments.iter().copied().filter(|clock| adopted(clock)).collect();
    let chosen = if mine.is_empty() { for_amendments } else { mine };
    let off = book.days_off();
    let reckoned = chosen.into_iter().map(|clock| by_clock(clock, received, &off));
    reckoned.min_by_key(|due| due.on).ok_or_else(|| {
        Trouble::new(
            Kind::Refused,
            "The rules hold no clock for requests for amendment, so the day the answer is due can't be told.",
            "Nothing was recorded.",
            "Adopt rules with a clock for \"amendment\" in their deadlines.",
        )
    })
}

fn by_clock(clock: &Clock, received: Date, off: &Holidays) -> Due {
    let start = deadlines::starting_day(clock, received, None);
    let due = deadlines::due(clock, start, off);
    Due {
        on: due.due.0,
        extended: due.limit.map(|day| day.0),
        clock: format!("{} ({})", clock.id, clock.citation.as_deref().unwrap_or("no source named")),
    }
}

/// A request for amendment and everything that followed from it.
#[derive(Debug, Clone, PartialEq)]
pub struct Matter {
    /// Number of the request.
    pub seq: u64,
    /// The request.
    pub request: AmendmentRequest,
    /// The day the answer is due now: as reckoned first, or as extended.
    pub due: Date,
    /// Number of the step that extended it.
    pub extended_by: Option<u64>,
    /// The decision and its number.
    pub decision: Option<(u64, AmendmentDecision)>,
    /// Statements of disagreement and their numbers.
    pub disagreements: Vec<(u64, Disagreement)>,
    /// Numbers of the corrections that say they answer it.
    pub corrections: Vec<u64>,
}

impl Matter {
    /// True when a point was refused, in whole or in part.
    pub fn refuses(&self) -> bool {
        let points = self.decision.iter().flat_map(|(_, decision)| &decision.points);
        points.into_iter().any(|point| point.decision != Decision::Accepted)
    }
}

/// The request with this number and what followed.
///
/// # Errors
/// When there is no such request in the chart.
pub fn matter(entries: &[Entry], seq: u64) -> Outcome<Matter> {
    let now = as_they_read(entries);
    let Some(Data::AmendmentRequest(request)) = now.get(&seq).cloned() else {
        return Err(Trouble::input(
            format!("Entry {seq} is no request for amendment in this chart."),
            "Look its number up with `inkfast print`; a new one is taken with `inkfast amend take`.",
        ));
    };
    let mut matter = Matter {
        seq,
        due: request.due.0,
        request: *request,
        extended_by: None,
        decision: None,
        disagreements: Vec::new(),
        corrections: Vec::new(),
    };
    for entry in entries {
        match now.get(&entry.leaf.seq).cloned() {
            Some(Data::RequestStep(step))
                if step.request == seq && step.step == Step::Extended && step.void_because.is_empty() =>
            {
                matter.due = step.new_due.map_or(matter.due, |day| day.0);
                matter.extended_by = Some(entry.leaf.seq);
            }
            Some(Data::AmendmentDecision(decision)) if decision.request == seq => {
                matter.decision = Some((entry.leaf.seq, *decision));
            }
            Some(Data::Disagreement(disagreement)) if disagreement.request == seq => {
                matter.disagreements.push((entry.leaf.seq, *disagreement));
            }
            Some(Data::Correction(correction)) if correction.amendment == Some(seq) => {
                matter.corrections.push(entry.leaf.seq);
            }
            _ => {}
        }
    }
    Ok(matter)
}

/// What each entry says now, with the corrections made.
fn as_they_read(entries: &[Entry]) -> BTreeMap<u64, Data> {
    let records = entries.iter().filter_map(|entry| Some((entry.leaf.seq, entry.record.clone()?)));
    let mut now: BTreeMap<u64, Record> = records.collect();
    let mut meant = Meant::default();
    for entry in entries {
        let Some(Data::Correction(correction)) = entry.data() else { continue };
        let (target, field) = meant.reached(entry.leaf.seq, &correction);
        let made = now.get(&target).and_then(|record| with(record, &field, &correction.is));
        if let Some(record) = made {
            now.insert(target, record);
        }
    }
    now.into_iter().filter_map(|(seq, record)| Some((seq, record.read_data().ok()?))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::moment::parse_date;

    fn day(text: &str) -> Date {
        parse_date(text).unwrap()
    }

    #[test]
    fn sixty_days_and_one_extension_of_thirty() {
        // 45 CFR 164.526(b)(2)(i) and (ii): 60 days after receipt, extended once by no more than 30.
        let tables = crate::record::tables::Tables::shipped().unwrap();
        let due =
            by_clock(tables.clocks.clock("us-hipaa-amendment").unwrap(), day("2025-01-31"), &Holidays::new());
        assert_eq!((due.on, due.extended), (day("2025-04-01"), Some(day("2025-05-01"))));
        assert!(due.clock.starts_with("us-hipaa-amendment (45 CFR 164.526"), "{}", due.clock);
    }
}
