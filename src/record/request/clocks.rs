//! Which clocks run for a request, the day each one sets, and what a letter that takes more time does to
//! them. The counting itself is [`crate::record::reckon::deadlines`].
//!
//! Working days are Monday to Friday, less the days off that the practice adopted.

use crate::record::calendar::{last_working_day, with_weekday};
use crate::record::kinds::common::Day;
use crate::record::kinds::release::{Request, RequestKind};
use crate::record::kinds::request::{Asker, RequestClock};
use crate::record::moment::Date;
use crate::record::reckon::deadlines::{self, ExtensionFailure, ExtensionNotice};
use crate::record::rulebook::RuleBook;
use crate::record::tables::clocks::{Clock, ClockRequest};

/// The name of the clock that the paper itself sets.
pub const PAPER: &str = "paper";
/// The clock of a notice of the fee. It is no time to answer, so it never governs.
pub const FEE_NOTICE: &str = "fee_notice";

/// What the right of access gives: federal, so that it runs where a practice adopted no clock for it, too.
const EVERYWHERE: [ClockRequest; 2] = [ClockRequest::Access, ClockRequest::Accounting];

/// What is asked for, in the words of the table of deadlines.
pub fn asked_for(asker: Asker, kind: RequestKind) -> Vec<ClockRequest> {
    use ClockRequest::{Access, Accounting, BoardDemand, Copies, FeeNotice, Inspect};
    match (asker, kind) {
        (_, RequestKind::Accounting) => vec![Accounting],
        (asker, RequestKind::Look) if asker.has_right_of_access() => vec![Access, Inspect],
        // To restrict or to keep something safe has no time to answer in the tables.
        (_, RequestKind::Restriction | RequestKind::Preservation) => Vec::new(),
        (asker, _) if asker.has_right_of_access() => vec![Access, Copies, FeeNotice],
        (Asker::Oversight, _) => vec![BoardDemand],
        (Asker::Attorney | Asker::Clinician | Asker::Other, _) => vec![Copies, FeeNotice],
        // An audit, a subpoena and an order name their own day.
        _ => Vec::new(),
    }
}

/// The clocks that run: those the practice adopted, or for what holds everywhere, where none was adopted,
/// the shortest of the published ones. Answering earlier than needed breaks no rule.
pub fn that_run(
    book: &RuleBook,
    asked: &[ClockRequest],
    received: Date,
    requested: Option<Date>,
) -> Vec<Clock> {
    let (mut chosen, off) = (Vec::new(), book.days_off());
    for what in asked {
        let published: Vec<&Clock> =
            book.tables.clocks.clock.iter().filter(|clock| clock.request == *what).collect();
        let adopted: Vec<&Clock> =
            published.iter().copied().filter(|clock| book.adopted.clocks.contains(&clock.id)).collect();
        if adopted.is_empty() && EVERYWHERE.contains(what) {
            let first = |clock: &Clock| {
                let start = deadlines::starting_day(clock, received, requested);
                deadlines::due(clock, start, &off).due
            };
            chosen.extend(published.into_iter().min_by_key(|clock| first(clock)).cloned());
        }
        chosen.extend(adopted.into_iter().cloned());
    }
    chosen
}

/// Every clock that runs for a request, with the day it sets.
pub fn reckon(book: &RuleBook, request: &Request, asker: Asker) -> Vec<RequestClock> {
    let (received, requested) = (request.received_on.0, request.requested_on.map(|day| day.0));
    let (asked, off) = (asked_for(asker, request.kind), book.days_off());
    let mut clocks: Vec<RequestClock> = that_run(book, &asked, received, requested)
        .iter()
        .map(|clock| {
            let due = deadlines::due(clock, deadlines::starting_day(clock, received, requested), &off);
            RequestClock {
                id: clock.id.clone(),
                of: word(clock.request).to_string(),
                due: due.due,
                work_by: due.work_by,
                limit: due.limit,
                place: clock.place.clone(),
                source: clock.citation.clone().unwrap_or_else(|| "no source named".to_string()),
            }
        })
        .collect();
    clocks.extend(request.answer_by.map(|due| RequestClock {
        id: PAPER.to_string(),
        of: PAPER.to_string(),
        due,
        work_by: Day(last_working_day(due.0, &off)),
        limit: None,
        place: "the paper itself".to_string(),
        source: "the day the paper names".to_string(),
    }));
    clocks
}

/// The day that governs: the earliest of those to answer by, and the clocks that set it.
pub fn governing(clocks: &[RequestClock]) -> Option<(Day, Vec<&RequestClock>)> {
    let to_answer = || clocks.iter().filter(|clock| clock.of != FEE_NOTICE);
    let due = to_answer().map(|clock| clock.due).min()?;
    Some((due, to_answer().filter(|clock| clock.due == due).collect()))
}

/// Which rules set the day that governs, each with its source; empty without a clock.
pub fn named(clocks: &[RequestClock]) -> String {
    let by = governing(clocks).map(|(_, by)| by).unwrap_or_default();
    by.iter().map(|clock| format!("{} ({})", clock.id, clock.source)).collect::<Vec<_>>().join("; ")
}

/// What a letter that takes more time does.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Extension {
    /// Every clock whose first day lies before the new one lets itself be moved to it.
    pub valid: bool,
    /// The day due now: the new one, or the one before where the letter is void.
    pub due: Day,
    /// Why it is void: the clock, and why.
    pub failures: Vec<(String, ExtensionFailure)>,
}

impl Extension {
    /// As codes: `us-hipaa-access: sent_too_late`.
    pub fn codes(&self) -> Vec<String> {
        self.failures.iter().map(|(clock, why)| format!("{clock}: {}", code(*why))).collect()
    }

    /// In words, one for each.
    pub fn words(&self) -> Vec<String> {
        self.failures.iter().map(|(clock, why)| format!("{clock}: {}", failure_words(*why))).collect()
    }
}

/// Judges a letter that takes more time for a request with these clocks. None where there is nothing to
/// move: no clock, or none that sets a day before the new one.
pub fn extend(
    book: &RuleBook,
    request: &Request,
    clocks: &[RequestClock],
    notice: &ExtensionNotice,
    earlier: u32,
) -> Option<Extension> {
    let (due, _) = governing(clocks)?;
    let new = notice.new_date?;
    let moved: Vec<&RequestClock> =
        clocks.iter().filter(|clock| clock.of != FEE_NOTICE && clock.due < new).collect();
    if moved.is_empty() {
        return None;
    }
    let (received, requested) = (request.received_on.0, request.requested_on.map(|day| day.0));
    let mut failures = Vec::new();
    for mine in moved {
        match book.tables.clocks.clock(&mine.id) {
            Some(clock) => {
                let start = deadlines::starting_day(clock, received, requested);
                let judged = deadlines::extension(clock, start, &book.days_off(), notice, earlier);
                failures.extend(judged.failures.into_iter().map(|why| (mine.id.clone(), why)));
            }
            None => failures.push((mine.id.clone(), ExtensionFailure::NoExtensionInRule)),
        }
    }
    let valid = failures.is_empty();
    Some(Extension { valid, due: if valid { new } else { due }, failures })
}

/// One clock in words: the day with its weekday, the working day before, where the rule is from.
pub fn words(clock: &RequestClock) -> String {
    let before = match clock.work_by == clock.due {
        true => String::new(),
        false => format!(" (last working day before: {})", with_weekday(clock.work_by.0)),
    };
    let what = match clock.of.as_str() {
        FEE_NOTICE => "tell the fee by ",
        PAPER => "named in the paper: ",
        _ => "",
    };
    let longer = match clock.limit {
        Some(limit) => format!("; extended once, at the latest {}", with_weekday(limit.0)),
        None => "; no extension".to_string(),
    };
    format!(
        "{what}{}{before}{longer}; {}, {}: {}",
        with_weekday(clock.due.0),
        clock.id,
        clock.place,
        clock.source
    )
}

fn word(request: ClockRequest) -> &'static str {
    match request {
        ClockRequest::Access => "access",
        ClockRequest::Inspect => "inspect",
        ClockRequest::Copies => "copies",
        ClockRequest::Amendment => "amendment",
        ClockRequest::Accounting => "accounting",
        ClockRequest::BoardDemand => "board_demand",
        ClockRequest::FeeNotice => FEE_NOTICE,
    }
}

fn code(why: ExtensionFailure) -> String {
    serde_json::to_value(why).ok().and_then(|value| value.as_str().map(str::to_string)).unwrap_or_default()
}

fn failure_words(why: ExtensionFailure) -> &'static str {
    match why {
        ExtensionFailure::AlreadyExtended => "it was extended before, and can be extended once",
        ExtensionFailure::BeyondLimit => "the new day lies after the latest this rule allows",
        ExtensionFailure::NoExtensionInRule => "this rule has no extension",
        ExtensionFailure::NoNewDate => "the letter names no new day",
        ExtensionFailure::NoReasons => "the letter gives no reasons",
        ExtensionFailure::NotInWriting => "it was not in writing",
        ExtensionFailure::SentTooLate => "the letter is dated after the first time was over",
    }
}

#[cfg(test)]
#[path = "clocks_tests.rs"]
mod tests;
