//! Clocks reckoned anew: when a correction changes what a request's time is counted from, the days due that the
//! program had worked out are corrected behind it, by the rules in force now. So every reader sees the old day struck
//! and the new one beneath; and a letter that took more time is judged again by them.

use super::amendment;
use super::open::{Draft, Entry, Practice};
use super::reading::ChartReading;
use super::request::{dealing, reckon};
use crate::record::corrected::Meant;
use crate::record::envelope::RefWhy;
use crate::record::kinds::amend::Correction;
use crate::record::kinds::common::{Absent, Given};
use crate::record::kinds::release::{RequestStep, Step};
use crate::record::kinds::{Data, Day};
use crate::record::moment::plain_date;
use crate::record::reckon::deadlines::ExtensionNotice;
use crate::record::request::clocks;
use crate::trouble::{Outcome, Trouble};
use serde_json::{Value, json};

/// What a request's clocks are reckoned from.
const COUNTED_FROM: [&str; 6] = ["received_on", "requested_on", "answer_by", "kind", "asker", "relation"];

/// Reckons the clocks anew after correction number `seq` of a chart, where it changed what they count from. Gives what
/// whoever corrected is told, one line each; none where nothing changed.
///
/// # Errors
/// When the rules can't be used, or it can't be recorded; the correction itself stands.
pub fn anew(practice: &mut Practice, tag: &str, seq: u64) -> Outcome<Vec<String>> {
    work(practice, tag, seq).map_err(|trouble| Trouble {
        safe: format!("The correction is number {seq}; the day due was not reckoned anew. {}", trouble.safe),
        ..trouble
    })
}

fn work(practice: &mut Practice, tag: &str, seq: u64) -> Outcome<Vec<String>> {
    let entries = practice.chart(tag)?;
    let Some((target, field, first)) = meant(&entries, seq) else { return Ok(Vec::new()) };
    let top = field.split('/').nth(1).unwrap_or_default();
    if !COUNTED_FROM.contains(&top) {
        return Ok(Vec::new());
    }
    let kind = entries.iter().find(|entry| entry.leaf.seq == target).map(|entry| entry.leaf.kind.as_str());
    let mut changes = Changes { practice, entries: &entries, first: &first, seq, drafts: Vec::new() };
    let lines = match kind {
        Some("request") => of_request(&mut changes, target)?,
        Some("amendment-request") => of_amendment(&mut changes, target)?,
        _ => return Ok(Vec::new()),
    };
    let drafts: Vec<Draft> =
        changes.drafts.into_iter().map(|draft| Draft { chart: Some(tag.to_string()), ..draft }).collect();
    if !drafts.is_empty() {
        practice.append_group(drafts, None)?;
    }
    Ok(lines)
}

/// The entry and field that a correction reaches at last, and what it says.
fn meant(entries: &[Entry], seq: u64) -> Option<(u64, String, Correction)> {
    let mut meant = Meant::default();
    for entry in entries {
        if let Some(Data::Correction(correction)) = entry.data() {
            let (target, field) = meant.reached(entry.leaf.seq, &correction);
            if entry.leaf.seq == seq {
                return Some((target, field, *correction));
            }
        }
    }
    None
}

/// The corrections that follow from one.
struct Changes<'a> {
    practice: &'a Practice,
    entries: &'a [Entry],
    first: &'a Correction,
    seq: u64,
    drafts: Vec<Draft>,
}

impl Changes<'_> {
    /// Corrects one field, where it says anything else now.
    fn put(&mut self, target: u64, field: &str, is: Value, reason: &str) {
        let reading = ChartReading::new(self.practice, self.entries);
        let entry = self.entries.iter().find(|entry| entry.leaf.seq == target);
        let Some(record) = entry.and_then(|entry| entry.record.as_ref()) else { return };
        let was = reading.now(target, record).data.pointer(field).cloned().unwrap_or(Value::Null);
        if was == is {
            return;
        }
        let data = Correction {
            target,
            field: field.to_string(),
            was,
            is,
            reason: format!("{reason}: it follows from correction no. {}", self.seq),
            care_affected: false,
            care_words: None,
            patient_told: Given::Absent(Absent { because: "worked out by the program".to_string() }),
            by_custodian_because: self.first.by_custodian_because.clone(),
            amendment: None,
            for_desk: Some(true),
        };
        let mut draft = Draft::new(None, Data::Correction(Box::new(data)), self.practice.now());
        draft.refers = vec![(target, RefWhy::Corrects), (self.seq, RefWhy::SeeAlso)];
        self.drafts.push(draft);
    }

    /// Calls a letter that took more time void.
    fn void(&mut self, step: u64, codes: &[String], due: Option<Day>) -> String {
        self.put(step, "/void_because", json!(codes), "the letter was judged anew");
        self.put(step, "/new_due", Value::Null, "the letter was judged anew");
        let due = due.map_or(String::new(), |due| format!("; the answer is due {}", plain_date(due.0)));
        format!("The letter of no. {step} that took more time is void now ({}){due}.", codes.join(", "))
    }
}

fn moved(was: Option<Day>, is: Option<Day>) -> Option<String> {
    let say = |day: Option<Day>| day.map_or("no day".to_string(), |day| plain_date(day.0));
    (was != is).then(|| format!("Reckoned anew: the answer was due {}, and is due {}.", say(was), say(is)))
}

fn notice(step: &RequestStep) -> ExtensionNotice {
    ExtensionNotice {
        sent: step.letter_dated,
        in_writing: true,
        reasons: Some(step.words.clone()),
        new_date: step.new_due,
    }
}

fn of_request(changes: &mut Changes<'_>, target: u64) -> Outcome<Vec<String>> {
    let standing = dealing(changes.practice, target)?.standing;
    let request = &standing.request;
    if request.clocks.is_empty() && request.due.is_some() {
        return Ok(vec![format!(
            "The day due of request {target} was typed, not reckoned: look whether it is still right."
        )]);
    }
    let (clocks, due) = reckon(changes.practice, request)?;
    if clocks == request.clocks && due == request.due {
        return Ok(Vec::new());
    }
    let reason = "the clocks were reckoned anew";
    changes.put(target, "/due", json!(due), reason);
    let named = clocks::named(&clocks);
    changes.put(target, "/clock", if named.is_empty() { Value::Null } else { json!(named) }, reason);
    changes.put(target, "/clocks", if clocks.is_empty() { Value::Null } else { json!(clocks) }, reason);
    let mut lines: Vec<String> = moved(request.due, due).into_iter().collect();
    let book = changes.practice.rulebook()?;
    let extends = |step: &RequestStep| step.step == Step::Extended && step.void_because.is_empty();
    for (seq, step) in standing.steps.iter().filter(|(_, step)| extends(step)) {
        let judged = clocks::extend(&book, request, &clocks, &notice(step), 0);
        if let Some(judged) = judged.filter(|judged| !judged.valid) {
            lines.push(changes.void(*seq, &judged.codes(), due));
        }
    }
    Ok(lines)
}

fn of_amendment(changes: &mut Changes<'_>, target: u64) -> Outcome<Vec<String>> {
    let matter = amendment::matter(changes.entries, target)?;
    if matter.request.clock.is_none() {
        return Ok(vec![format!(
            "The day due of request {target} was typed, not reckoned: look whether it is still right."
        )]);
    }
    let due = amendment::due(changes.practice, matter.request.received_on.0)?;
    let reason = "the clock was reckoned anew";
    changes.put(target, "/due", json!(Day(due.on)), reason);
    changes.put(target, "/clock", json!(due.clock), reason);
    let mut lines: Vec<String> = moved(Some(matter.request.due), Some(Day(due.on))).into_iter().collect();
    if let Some((seq, step)) = matter.extended_by.and_then(|seq| {
        let entry = changes.entries.iter().find(|entry| entry.leaf.seq == seq)?;
        if let Some(Data::RequestStep(step)) = entry.data() { Some((seq, step)) } else { None }
    }) {
        let late = step.letter_dated.is_none_or(|dated| dated.0 > due.on);
        let beyond = step.new_due.zip(due.extended).is_some_and(|(new, last)| new.0 > last);
        let id = due.clock.split(' ').next().unwrap_or_default();
        let codes = [(late, "sent_too_late"), (beyond, "beyond_limit")];
        let codes: Vec<String> =
            codes.iter().filter(|(is, _)| *is).map(|(_, code)| format!("{id}: {code}")).collect();
        if !codes.is_empty() {
            lines.push(changes.void(seq, &codes, Some(Day(due.on))));
        }
    }
    Ok(lines)
}
