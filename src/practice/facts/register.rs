//! What the register tells the coverage question: the rules in force, who may treat, and the clock.

use super::items::{Item, Items};
use super::shape::{different, given, word_id};
use crate::record::coverage::facts::{ClockRemark, Policy, Practitioner, Sex};
use crate::record::kinds::Data;
use crate::record::kinds::register::{ClockState, Staff};
use crate::record::moment::Date;
use crate::trouble::{Kind, Outcome, Trouble};
use std::collections::BTreeMap;

/// The policy values of the rules in force on the date asked about: of those that apply by then, the
/// ones that took effect last, and of two on one day the ones written last.
///
/// # Errors
/// When no rules are adopted by then, or those adopted hold no usable policy values.
pub fn rules(register: &Items) -> Outcome<Policy> {
    let adopted = register.all.iter().filter_map(|item| match item.helping()? {
        Data::Rules(rules) if rules.effective.0 <= register.now.date => Some((item.seq, rules)),
        _ => None,
    });
    let newest = adopted.max_by_key(|(seq, rules)| (rules.effective, *seq));
    let Some((seq, rules)) = newest else {
        return Err(Trouble::new(
            Kind::Refused,
            "What is covered can't be answered: no rules are adopted for that day.",
            "This is not a yes. Nothing was changed or recorded.",
            "Adopt rules with `inkfast rules adopt`, then ask again.",
        ));
    };
    let values = rules.document.get("coverage").cloned().unwrap_or_default();
    serde_json::from_value(values).map_err(|_| {
        Trouble::new(
            Kind::Refused,
            format!("What is covered can't be answered: the rules adopted in entry {seq} lack values, or hold some that can't be used."),
            "This is not a yes. Nothing was changed or recorded.",
            "Correct the rules file and adopt it again with `inkfast rules adopt`.",
        )
    })
}

/// The people who may treat. Each person's newest line holds from its first day on; before that day
/// the one before it does. Who has no licence (the desk) is not a practitioner.
pub fn roster(register: &Items) -> Vec<Practitioner> {
    let mut newest: BTreeMap<&str, &Staff> = BTreeMap::new();
    for item in &register.all {
        let Some(Data::Staff(line)) = item.helping() else { continue };
        let begun = line.on_roster_from.0 <= register.now.date;
        if begun || !newest.contains_key(line.code.as_str()) {
            newest.insert(&line.code, line);
        }
    }
    newest.into_values().filter_map(|line| practitioner(line, line.licence_last_day?.0)).collect()
}

fn practitioner(line: &Staff, license_last_day: Date) -> Option<Practitioner> {
    Some(Practitioner {
        practitioner_id: word_id(&line.code),
        role: given(&line.role, "unknown"),
        sex: line.sex.and_then(|sex| Sex::from_word(sex.word())),
        on_roster_from: line.on_roster_from.0,
        on_roster_last_day: line.on_roster_last_day.map(|day| day.0),
        license_last_day,
        techniques_permitted: different(&line.techniques_permitted),
    })
}

/// Remarks about the clock of any station: one wrong clock makes the order of entries doubtful for all.
pub fn clock_remarks(register: &Items) -> Vec<ClockRemark> {
    register.all.iter().flat_map(|item| remark(register, item)).collect()
}

fn remark(register: &Items, item: &Item) -> Vec<ClockRemark> {
    item.restrictions(|data, _| {
        let Data::ClockRemark(remark) = data else { return None };
        let closed_at = match remark.state {
            ClockState::Closed => return None,
            ClockState::OpenedAndClosed => Some(item.at),
            ClockState::Opened => register.end_of(item.at, |end, data| match data {
                Data::ClockRemark(later)
                    if later.of == Some(item.seq) && later.state != ClockState::Opened =>
                {
                    Some(end.at)
                }
                _ => None,
            }),
        };
        Some(ClockRemark { opened_at: item.at, closed_at, words: given(&remark.words, "not said") })
    })
}
