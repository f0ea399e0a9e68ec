//! What one opened practice remembers of its charts, so that an entry about to be sealed is not
//! measured against a chart read anew each time. It helps with labels only: whatever is shown,
//! counted or handed over is read from the ledger.

use super::facts::REGISTER;
use super::open::{Entry, Practice};
use crate::record::kinds::Data;
use crate::record::kinds::keeping::HoldKind;
use crate::record::kinds::register::ClockRemark;
use crate::record::labels::Standing;
use crate::record::moment::{Date, Moment};
use crate::trouble::Outcome;
use std::collections::{BTreeSet, HashMap};

/// What is remembered, and for whom it was opened.
#[derive(Default)]
pub struct Memory {
    by: String,
    roles: usize,
    charts: HashMap<String, Vec<Entry>>,
    marks: HashMap<String, Marks>,
    register: Register,
}

/// What stands in a chart, and up to which entry it was looked at.
#[derive(Default, Clone)]
struct Marks {
    upto: u64,
    noticed: bool,
    holds: BTreeSet<u64>,
    requests: Vec<Moment>,
    /// On which days something was written in it: what a hold on days goes by.
    days: BTreeSet<Date>,
    /// Who wrote in it, and up to which entry that was looked at: what a hold on a practitioner goes by. Only leaves
    /// tell, so they are read once there is such a hold, and not at every entry.
    authors: BTreeSet<String>,
    authors_upto: u64,
}

/// What is looked at outside the charts, and up to which entry.
#[derive(Default)]
struct Register {
    upto: u64,
    entries: Vec<Entry>,
}

impl Memory {
    /// What one person opened is not there for the next.
    fn for_person(&mut self, practice: &Practice) -> &mut Memory {
        let (by, roles) = (&practice.session.me.code, practice.session.roles.len());
        if self.by != *by || self.roles != roles {
            *self = Memory { by: by.clone(), roles, ..Memory::default() };
        }
        self
    }

    /// Forgets everything: a chart was destroyed.
    pub fn forget(&mut self) {
        *self = Memory::default();
    }

    /// Keeps a chart that was just read.
    pub fn keep(&mut self, practice: &Practice, tag: &str, entries: &[Entry]) {
        self.for_person(practice).charts.insert(tag.to_string(), entries.to_vec());
    }
}

/// All entries of a chart as this person opens them; only what was added since last time is read.
///
/// # Errors
/// When an entry can't be read.
pub fn chart(practice: &Practice, tag: &str) -> Outcome<Vec<Entry>> {
    let mut known = practice.memory().for_person(practice).charts.remove(tag).unwrap_or_default();
    let upto = known.last().map_or(0, |entry| entry.leaf.seq);
    for at in practice.of_chart(tag, upto)? {
        known.push(practice.entry(&at)?);
    }
    practice.memory().keep(practice, tag, &known);
    Ok(known)
}

/// What stands in a chart now: notices, holds, requests for records. Everything but the requests is read
/// from the leaves alone, so it is known to whoever may add.
///
/// # Errors
/// When an entry can't be read.
pub fn standing(practice: &Practice, tag: &str) -> Outcome<Standing> {
    let mut marks = practice.memory().for_person(practice).marks.remove(tag).unwrap_or_default();
    for at in practice.of_chart(tag, marks.upto)? {
        marks.days.insert(at.written.local_date());
        match practice.kind_of(&at)?.as_str() {
            "notice" => marks.noticed = true,
            "hold" => drop(marks.holds.insert(at.seq)),
            "hold-lifted" => {
                if let Some(Data::HoldLifted(lifted)) = practice.entry(&at)?.data() {
                    marks.holds.remove(&lifted.hold);
                }
            }
            "request" => {
                // Sealed to this person, it came in when it was written at the latest.
                let happened = practice.entry(&at)?.record.map(|record| record.happened.start);
                marks.requests.push(happened.unwrap_or(at.written));
            }
            _ => {}
        }
    }
    marks.upto = practice.size();
    let across = register_where(practice, |entry| ["hold", "hold-lifted"].contains(&&*entry.leaf.kind))?;
    if across.iter().any(is_on_a_practitioner) {
        for at in practice.of_chart(tag, marks.authors_upto)? {
            marks.authors.insert(practice.leaf(&at)?.author);
        }
        marks.authors_upto = practice.size();
    }
    let standing = Standing {
        noticed: marks.noticed,
        held: !marks.holds.is_empty() || held_across(&across, &marks),
        requests: marks.requests.clone(),
    };
    practice.memory().for_person(practice).marks.insert(tag.to_string(), marks);
    Ok(standing)
}

fn is_on_a_practitioner(entry: &Entry) -> bool {
    matches!(entry.data(), Some(Data::Hold(hold)) if hold.scope.kind == HoldKind::Practitioner)
}

/// True while a hold placed outside the charts touches a chart with these marks: on a practitioner who wrote in it,
/// or on days on which something was written in it.
fn held_across(register: &[Entry], marks: &Marks) -> bool {
    let lifted = |seq: u64| {
        register.iter().any(|entry| matches!(entry.data(), Some(Data::HoldLifted(end)) if end.hold == seq))
    };
    register.iter().filter(|entry| entry.leaf.kind == "hold").any(|entry| {
        let Some(Data::Hold(hold)) = entry.data() else { return false };
        let scope = &hold.scope;
        let in_dates = |day: &Date| {
            scope.from.is_none_or(|from| from.0 <= *day) && scope.until.is_none_or(|until| *day <= until.0)
        };
        let touches = match scope.kind {
            HoldKind::Chart => true,
            HoldKind::Dates => marks.days.iter().any(in_dates),
            HoldKind::Practitioner => {
                scope.practitioner.as_ref().is_some_and(|code| marks.authors.contains(code))
            }
        };
        touches && !lifted(entry.leaf.seq)
    })
}

/// The entries outside any chart that tell who practises, by which rules, what is held and which clock was
/// wrong, in the order written; only what was added since last time is read.
///
/// # Errors
/// When an entry can't be read.
pub fn register(practice: &Practice) -> Outcome<Vec<Entry>> {
    register_where(practice, |_| true)
}

/// Those of them that are wanted.
fn register_where(practice: &Practice, wanted: impl Fn(&Entry) -> bool) -> Outcome<Vec<Entry>> {
    let mut known = std::mem::take(&mut practice.memory().for_person(practice).register);
    for at in practice.outside(REGISTER, known.upto)? {
        known.entries.push(practice.entry(&at)?);
    }
    known.upto = practice.size();
    let entries = known.entries.iter().filter(|entry| wanted(entry)).cloned().collect();
    practice.memory().for_person(practice).register = known;
    Ok(entries)
}

/// The remarks on clocks, in the order written.
///
/// # Errors
/// When an entry can't be read.
pub fn clock_remarks(practice: &Practice) -> Outcome<Vec<(u64, ClockRemark)>> {
    let register = register_where(practice, |entry| entry.leaf.kind == "clock-remark")?;
    let remark = |entry: &Entry| match entry.data() {
        Some(Data::ClockRemark(remark)) => Some((entry.leaf.seq, *remark)),
        _ => None,
    };
    Ok(register.iter().filter_map(remark).collect())
}
