//! The coverage question put to a chart: its entries and the register's become one facts document,
//! as of a moment, and the document is answered.
//!
//! Times are those of the records: something was given, said, asked, screened or closed when it
//! happened, written when it was written; within a minute the number of the entry decides. What
//! the entries leave open is settled to the side of asking again: what helps must be whole, opened
//! and rightly in this chart; what restricts stays until an entry lifts it. An entry that can't be
//! opened is an error and never an answer.

mod consents;
mod items;
pub mod narrower;
mod person;
mod register;
mod screens;
mod shape;
mod state;
#[cfg(test)]
mod tests;
mod visits;

use super::open::{Draft, Entry, Practice};
use crate::ledger::write::Receipt;
use crate::record::coverage::facts::{Chart, ClockFacts, Facts, FactsError, Request};
use crate::record::coverage::time::Now;
use crate::record::coverage::{self, Answer};
use crate::record::envelope::RefWhy;
use crate::record::kinds::Data;
use crate::record::kinds::attendance as kept;
use crate::record::moment::Moment;
use crate::seal::body::hex;
use crate::trouble::{Kind, Outcome, Trouble};
use items::Items;
pub(super) use items::REGISTER;
pub(crate) use items::set as set_field;

/// A coverage question: may this be done, here, on this side, by this person, at that moment?
#[derive(Debug, Clone)]
pub struct Ask {
    /// What is asked.
    pub request: Request,
    /// The moment asked about, written with the clinic's offset: its date is the date as written.
    pub now: Moment,
    /// What the station's clock says while the question is put.
    pub reads_at: Moment,
}

/// Makes the facts of a question from all entries of a chart and all entries outside any chart.
///
/// # Errors
/// [`Kind::Locked`] when an entry the facts rest on could not be opened, [`Kind::TooNew`] when one was
/// written by a later program, [`Kind::Refused`] when no rules are adopted for the day or the patient's
/// age can't be told, [`Kind::BadInput`] when the moment asked about carries another offset than a
/// clinic's clock can have, [`Kind::Damaged`] when an entry can't be read.
pub fn gather(chart: &[Entry], register: &[Entry], ask: &Ask) -> Outcome<Facts> {
    same_clock(ask)?;
    let now = Now::new(ask.now, ask.request.sequence_no);
    let tag = one_chart(chart)?;
    let (items, register_items) =
        (Items::read(chart, items::CHART, now)?, Items::read(register, items::REGISTER, now)?);
    let rules = register::rules(&register_items)?;
    let (patient, other_spells) = person::patient(&items, &rules)?;
    let agreed = consents::agreed(&items, &other_spells);
    let first = items.all.first().map_or(ask.now, |item| item.at);
    let last_written = chart.iter().chain(register).map(|entry| entry.leaf.written).max();
    let chart = Chart {
        chart_id: tag,
        state: state::chart_state(&items, first),
        patient,
        capacity_doubts: person::doubts(&items),
        decision_makers: person::decision_makers(&items),
        consents: agreed.consents,
        corrections: agreed.corrections,
        withdrawals: agreed.withdrawals,
        refusals: agreed.refusals,
        visits: visits::visits(&items, &rules),
        allergy_review: state::allergy_review(&items, &ask.request),
        alerts: state::alerts(&items),
        reactions: state::reactions(&items),
        changes: state::changes(&items),
        holds: state::holds(&items, &register_items, &ask.request),
        emergency: state::emergency(&items),
        clock: ClockFacts {
            reads_at: ask.reads_at,
            last_entry_written_at: last_written.unwrap_or(ask.reads_at),
            remarks: register::clock_remarks(&register_items),
        },
    };
    let roster = register::roster(&register_items);
    Ok(Facts { facts_version: 1, now: ask.now, rules, roster, chart, request: ask.request.clone() })
}

/// The longest step of summer time in seconds. A moment whose offset lies farther from the clock's was
/// written in another zone, and its date could be another.
const SUMMER_STEP: i32 = 7200;

fn same_clock(ask: &Ask) -> Outcome<()> {
    if (ask.now.offset_seconds() - ask.reads_at.offset_seconds()).abs() <= SUMMER_STEP {
        return Ok(());
    }
    Err(Trouble::input(
        "The moment asked about is written with another offset than the clock here, so its date may be another.",
        "Write it in the clinic's own time, with the clinic's offset, then ask again.",
    ))
}

fn one_chart(chart: &[Entry]) -> Outcome<String> {
    let tag = chart.first().and_then(|entry| entry.leaf.chart.clone()).ok_or_else(|| {
        Trouble::new(
            Kind::NotFound,
            "What is covered can't be answered: this chart has no entries.",
            "This is not a yes. Nothing was changed or recorded.",
            "Check the chart number with `inkfast patient list`.",
        )
    })?;
    if chart.iter().any(|entry| entry.leaf.chart.as_deref() != Some(tag.as_str())) {
        return Err(Trouble::damaged("Entries of different charts were put together."));
    }
    Ok(tag)
}

/// Puts the question to a chart and answers it by the rules.
///
/// # Errors
/// As [`gather`]; and when the chart or the register can't be read, or what they say contradicts itself.
pub fn ask(practice: &Practice, tag: &str, ask: &Ask) -> Outcome<(Facts, Answer)> {
    ask_entries(practice, &practice.chart(tag)?, ask)
}

/// As [`ask`], of the entries of a chart that were just read.
///
/// # Errors
/// As [`ask`].
pub fn ask_entries(practice: &Practice, chart: &[Entry], ask: &Ask) -> Outcome<(Facts, Answer)> {
    let mut facts = gather(chart, &practice.register_of(items::REGISTER)?, ask)?;
    // The clock is held against everything outside any chart, also what no fact is made from.
    let newest = practice.latest_outside();
    let clock = &mut facts.chart.clock;
    clock.last_entry_written_at =
        newest.map_or(clock.last_entry_written_at, |newest| newest.max(clock.last_entry_written_at));
    facts.check().map_err(contradicts)?;
    let answer = coverage::answer(&facts);
    Ok((facts, answer))
}

fn contradicts(error: FactsError) -> Trouble {
    let (safe, what) = ("This is not a yes. Nothing was changed or recorded.", error.what);
    if error.path.starts_with("/request") {
        return Trouble::new(Kind::BadInput, format!("This can't be asked: {what}."), safe, error.cure);
    }
    let next = "Look at the entries concerned and put right what is wrong in a new entry, then ask again.";
    let what = format!(
        "What is covered can't be answered, because the facts contradict themselves ({}): {what}.",
        error.path
    );
    Trouble::new(Kind::Refused, what, safe, next)
}

/// Keeps an answer as an entry of the chart, with the digest of the facts it was given on.
///
/// # Errors
/// When the facts are not of this chart, the answer is not the one the rules give on them, or it
/// can't be written.
pub fn keep(practice: &mut Practice, tag: &str, facts: &Facts, answer: &Answer) -> Outcome<Receipt> {
    if facts.chart.chart_id != tag || facts.check().is_err() || coverage::answer(facts) != *answer {
        return Err(Trouble::input(
            "This answer does not belong to these facts or to this chart.",
            "Put the question again and keep the answer that comes then.",
        ));
    }
    let visit = visits::open_visit(facts).map(|visit| visit.sequence_no);
    let data = kept_answer(facts, answer, visit)?;
    // The question was put when the clock read so, unless that clock has been set back since.
    let happened = facts.chart.clock.reads_at.min(practice.now());
    let mut draft = Draft::new(Some(tag), Data::CoverageAnswer(Box::new(data)), happened);
    draft.refers.extend(visit.map(|seq| (seq, RefWhy::Visit)));
    let governing = answer.governing_consents.iter().filter_map(|id| id.strip_prefix('e')?.parse().ok());
    draft.refers.extend(governing.map(|seq: u64| (seq, RefWhy::RestsOn)));
    practice.append(draft)
}

fn kept_answer(facts: &Facts, answer: &Answer, visit: Option<u64>) -> Outcome<kept::CoverageAnswer> {
    let unkept = || Trouble::damaged("This answer can't be written down.");
    let verdict = |word: &str| kept::Answer::from_word(word).ok_or_else(unkept);
    let request = &facts.request;
    let reason = |reason: &coverage::Reason| {
        Some(kept::CoverageReason {
            rule: reason.rule.word().to_string(),
            line: kept::CoverageLine::from_word(reason.line.word())?,
            level: kept::Answer::from_word(reason.level.word())?,
            text: reason.text.clone(),
        })
    };
    let caution = |caution: &coverage::Caution| kept::CoverageCaution {
        code: caution.code.word().to_string(),
        text: caution.text.clone(),
    };
    let bytes = serde_json::to_vec(facts).map_err(|_| unkept())?;
    Ok(kept::CoverageAnswer {
        visit,
        now: facts.now,
        request: kept::CoverageRequest {
            technique: request.technique,
            region: request.region,
            side: kept::RequestedSide::from_word(request.side.word()).ok_or_else(unkept)?,
            segments: request.segments.clone(),
            practitioner_id: request.practitioner_id.clone(),
            glove_material: request.glove_material,
            position: request.position.clone(),
            products: request.products.clone(),
        },
        answer: verdict(answer.answer.word())?,
        agreed: verdict(answer.agreed.word())?,
        checked: verdict(answer.checked.word())?,
        reasons: answer.reasons.iter().map(reason).collect::<Option<_>>().ok_or_else(unkept)?,
        cautions: answer.cautions.iter().map(caution).collect(),
        governing_consents: answer.governing_consents.clone(),
        nearest_consent: answer.nearest_consent.clone(),
        cures: answer.cures.clone(),
        rules_edition: facts.rules.edition.clone(),
        facts_digest: Some(hex(blake3::hash(&bytes).as_bytes())),
    })
}
