//! Labels: what the program says about an entry by itself. Computed from the clock and from what is
//! recorded, never typed, and kept with the entry for ever.

use super::open::{Draft, Practice};
use crate::record::envelope::Label;
use crate::record::kinds::Data;
use crate::record::moment::Moment;
use crate::trouble::Outcome;
use serde_json::Value;

/// Hours after which an entry is late where the adopted rules do not say [practice's own choice].
const LATE_AFTER_HOURS: i64 = 24;

/// Kinds that report on the past by their nature: for these, writing later is not late.
const NEVER_LATE: [&str; 12] = [
    "chart-opened",
    "identity-changed",
    "attachment",
    "paper-chart",
    "staff",
    "keys",
    "rules",
    "wording",
    "clock-remark",
    "correction",
    "addendum",
    "day-close",
];

/// The labels of an entry about to be sealed.
pub fn labels(practice: &Practice, draft: &Draft, written: Moment) -> Outcome<Vec<Label>> {
    let mut labels = Vec::new();
    let ended = draft.happened.end.unwrap_or(draft.happened.start);
    if !NEVER_LATE.contains(&draft.data.kind()) {
        let hours = late_after_hours(practice);
        if written.unix() - ended.unix() > hours * 3600 {
            labels.push(Label::LateEntry);
        } else if written.unix() > ended.unix()
            && written.local_date() > ended.date_at_offset(written.offset_seconds())
        {
            labels.push(Label::FinishedNextDay);
        }
    }
    if practice.scan().last_written.is_some_and(|last| written < last) {
        labels.push(Label::ClockBehind);
    }
    if draft.entered_by.is_some() {
        labels.push(Label::EnteredByScribe);
    }
    if let Some(tag) = &draft.chart {
        chart_labels(practice, tag, &mut labels)?;
    }
    Ok(labels)
}

/// After a notice of claim, and while a legal hold stands.
fn chart_labels(practice: &Practice, tag: &str, labels: &mut Vec<Label>) -> Outcome<()> {
    let bytes = crate::ledger::leaf::chart_tag(tag);
    let (mut noticed, mut holds) = (false, std::collections::BTreeSet::new());
    for at in practice.scan().entries.iter().filter(|e| e.chart.is_some() && e.chart == bytes) {
        match practice.kind_of(at)?.as_str() {
            "notice" => noticed = true,
            "hold" => drop(holds.insert(at.seq)),
            "hold-lifted" => {
                if let Some(Data::HoldLifted(lifted)) = practice.entry(at)?.data() {
                    holds.remove(&lifted.hold);
                }
            }
            _ => {}
        }
    }
    if noticed {
        labels.push(Label::AfterNotice);
    }
    if !holds.is_empty() {
        labels.push(Label::AfterHold);
    }
    Ok(())
}

fn late_after_hours(practice: &Practice) -> i64 {
    let rules = practice.rules();
    let hours = rules.and_then(|r| r.document.pointer("/coverage/late_after_hours").and_then(Value::as_i64));
    hours.unwrap_or(LATE_AFTER_HOURS)
}
