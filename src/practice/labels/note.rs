//! The coverage question put for every procedure of a note, each at its own time.

use crate::practice::facts::{Ask, gather};
use crate::practice::memory;
use crate::practice::open::{Entry, Practice};
use crate::record::coverage::facts::{Request, RequestedSide};
use crate::record::coverage::{Answer, RuleId, Verdict, answer};
use crate::record::kinds::Data;
use crate::record::kinds::consent::ConsentStatus;
use crate::record::kinds::procedure::Procedure;
use crate::record::kinds::visit::Visit;
use crate::record::kinds::withdrawal::AskedAnswer;
use crate::record::labels::Covered;
use crate::record::moment::Moment;
use crate::trouble::Outcome;

/// What each procedure of a note was covered by. A question that can't be answered (no rules adopted, an
/// entry that this person does not open) stops nothing from being recorded: it is said to be unknown.
pub fn covered(practice: &Practice, chart: &[Entry], note: &Visit, written: Moment) -> Outcome<Vec<Covered>> {
    if note.procedures.is_empty() {
        return Ok(Vec::new());
    }
    let register = memory::register(practice)?;
    let one = |line: &Procedure| {
        let then = put(chart, &register, line, line.at, written)?;
        let fine = then.agreed == Verdict::Yes;
        let now = if fine { None } else { put(chart, &register, line, written, written) };
        Some(stated(&then, now.as_ref()))
    };
    Ok(note.procedures.iter().map(|line| one(line).unwrap_or_default()).collect())
}

/// What an answer at the procedure's time says, seen beside the one at the time of writing.
fn stated(then: &Answer, now: Option<&Answer>) -> Covered {
    let failed = |answer: &Answer, rule: RuleId| answer.reasons.iter().any(|reason| reason.rule == rule);
    let came = |rule: RuleId| now.is_some_and(|now| failed(then, rule) && !failed(now, rule));
    Covered {
        known: true,
        agreed: then.agreed != Verdict::No,
        withdrawn: failed(then, RuleId::F1) || failed(then, RuleId::F2),
        // A consent, the asking in the room, or the explanation that came afterwards.
        later: came(RuleId::D0) || came(RuleId::G1) || came(RuleId::D9),
    }
}

fn put(chart: &[Entry], register: &[Entry], line: &Procedure, at: Moment, written: Moment) -> Option<Answer> {
    let request = Request {
        technique: line.technique,
        region: line.region,
        side: line.side.map_or(RequestedSide::NotStated, RequestedSide::from),
        segments: line.segments.clone(),
        practitioner_id: line.done_by.clone(),
        glove_material: line.gloves.as_ref().map(|gloves| gloves.material),
        position: line.position.clone(),
        products: line.products.clone(),
        sequence_no: None,
    };
    let ask = Ask { request, now: at, reads_at: written.max(at) };
    let facts = match chart.iter().any(|entry| restricts_after(entry, at)) {
        false => gather(chart, register, &ask),
        true => {
            let said = chart.iter().filter(|entry| !restricts_after(entry, at));
            gather(&said.cloned().collect::<Vec<_>>(), register, &ask)
        }
    };
    let facts = facts.ok()?;
    facts.check().ok()?;
    Some(answer(&facts))
}

/// True for what the patient took back after this very second. The coverage question goes by the minute, to
/// the safe side; a label that stays for ever says "after" only of what came after.
fn restricts_after(entry: &Entry, at: Moment) -> bool {
    let Some(record) = entry.record.as_ref().filter(|record| record.happened.start > at) else {
        return false;
    };
    match record.kind.as_str() {
        "withdrawal" | "standing-refusal" | "pause" | "own-answer" => true,
        "asked" => matches!(entry.data(), Some(Data::Asked(asked)) if asked.answer == AskedAnswer::No),
        "consent" => {
            matches!(entry.data(), Some(Data::Consent(given)) if given.status == ConsentStatus::Declined)
        }
        _ => false,
    }
}
