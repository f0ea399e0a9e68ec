//! How long charts are kept: what the entries of a chart, of the charts joined with it and of the register say is
//! gathered here, each time anew; what follows from it is worked out in [`crate::record::keep_until`].

use super::chart::{ChartFace, faces, find};
use super::disposal::standing::{self, Disposed};
use super::lists::seen as corrected;
use super::open::{Entry, Practice};
use super::reading::ChartReading;
use crate::record::keep_until::{KeepUntil, Rules, Seen, keep_until};
use crate::record::kinds::keeping::Hold;
use crate::record::kinds::{Data, Day};
use crate::record::moment::Date;
use crate::record::rulebook::RuleBook;
use crate::record::tables::retention::RetentionRule;
use crate::trouble::{Kind, Outcome, Trouble};
use std::collections::BTreeSet;

/// Kinds outside every chart that may bear on one.
const REGISTER: [&str; 4] = ["hold", "hold-lifted", "notice", "office-file"];

/// A chart, and how long it is kept.
pub struct Listed {
    /// The chart.
    pub face: ChartFace,
    /// How it stands.
    pub kept: KeepUntil,
}

/// All charts, and how long each is kept.
pub struct List {
    /// The charts that this person's roles open, in the order opened.
    pub charts: Vec<Listed>,
    /// How many more there are that were not destroyed.
    pub not_opened: usize,
}

/// How one chart stands today. `settled` is the written reason of whoever looked at rules that ask for it.
///
/// # Errors
/// When an entry can't be read, or the adopted rules can't be used.
pub fn of_chart(
    practice: &Practice,
    face: &ChartFace,
    entries: &[Entry],
    settled: Option<&str>,
) -> Outcome<KeepUntil> {
    let register = register(practice)?;
    let gone = standing::disposed(practice)?;
    worked_out(practice, face, entries, &register, &gone, settled)
}

/// How every chart stands today. A list is no opening of a chart, so it leaves no entry of one.
///
/// # Errors
/// As [`of_chart`].
pub fn of_all(practice: &Practice, done: &mut dyn FnMut(u64)) -> Outcome<List> {
    let register = register(practice)?;
    let gone = standing::disposed(practice)?;
    let faces = faces(practice)?;
    let there = practice.chart_tags()?.len().saturating_sub(gone.len());
    let mut charts = Vec::with_capacity(faces.len());
    for face in faces {
        let entries = practice.chart(&face.tag)?;
        let kept = worked_out(practice, &face, &entries, &register, &gone, None)?;
        charts.push(Listed { face, kept });
        done(1);
    }
    let not_opened = there.saturating_sub(charts.len());
    Ok(List { charts, not_opened })
}

fn register(practice: &Practice) -> Outcome<Vec<Seen>> {
    let entries = practice.register_of(&REGISTER)?;
    Ok(as_seen(practice, &entries, false))
}

fn worked_out(
    practice: &Practice,
    face: &ChartFace,
    entries: &[Entry],
    register: &[Seen],
    gone: &[Disposed],
    settled: Option<&str>,
) -> Outcome<KeepUntil> {
    let book = practice.rulebook()?;
    let adopted = adopted(&book)?;
    let mut all = as_seen(practice, entries, false);
    for tag in joined(practice, face, entries)? {
        // What was destroyed says nothing any more; it had passed its own day.
        if !gone.iter().any(|one| one.tag == tag) {
            all.extend(as_seen(practice, &practice.chart(&tag)?, true));
        }
    }
    let rules = Rules {
        adopted: &adopted,
        defaults: book.tables.retention.defaults,
        challenged_days: book.lists.refusal_challenged_days,
        today: today(practice),
    };
    Ok(keep_until(&face.chart_no, &all, register, &rules, settled))
}

/// The day by the station's clock.
pub fn today(practice: &Practice) -> Date {
    practice.now().local_date()
}

/// The adopted rules about how long something is kept.
///
/// # Errors
/// When one is adopted that the adopted tables do not hold.
pub fn adopted(book: &RuleBook) -> Outcome<Vec<&RetentionRule>> {
    let rule = |id: &String| {
        book.tables.retention.rule(id).ok_or_else(|| {
            Trouble::new(
                Kind::Refused,
                format!("The adopted rules name a rule for keeping, {id}, that their tables do not hold."),
                "Nothing was recorded or changed.",
                "Correct the rules file and adopt it again with `inkfast rules adopt`.",
            )
        })
    };
    book.adopted.retention.iter().map(rule).collect()
}

/// The tags of the charts of the same person that were joined with this one, by whichever way: care went on
/// there, or came from there, and every rule counts from the last treatment of the person.
fn joined(practice: &Practice, face: &ChartFace, entries: &[Entry]) -> Outcome<BTreeSet<String>> {
    let (mut found, mut to_do) = (BTreeSet::new(), others(practice, entries));
    while let Some(tag) = to_do.pop() {
        if tag == face.tag || !found.insert(tag.clone()) {
            continue;
        }
        to_do.extend(others(practice, &practice.chart(&tag)?));
    }
    Ok(found)
}

fn others(practice: &Practice, entries: &[Entry]) -> Vec<String> {
    let tag = |entry: &Entry| match entry.data() {
        Some(Data::Joined(joined)) => {
            // One that is not found was disposed of, and says nothing any more.
            joined.other_chart.or_else(|| find(practice, &joined.other_chart_no).ok().map(|face| face.tag))
        }
        _ => None,
    };
    entries.iter().filter_map(tag).collect()
}

/// The entries as keeping looks at them: corrections made, and what belongs to another person marked.
fn as_seen(practice: &Practice, entries: &[Entry], of_joined: bool) -> Vec<Seen> {
    let reading = ChartReading::new(practice, entries);
    corrected(entries)
        .into_iter()
        .zip(entries)
        .map(|(seen, entry)| Seen {
            seq: seen.seq,
            kind: seen.kind,
            author: entry.leaf.author.clone(),
            made: entry.leaf.written.local_date(),
            at: seen.at.local_date(),
            data: seen.data,
            misfiled: reading.is_misfiled(entry.leaf.seq),
            of_joined,
        })
        .collect()
}

/// A hold, wherever it was placed.
pub struct HoldSeen {
    /// Number of the entry.
    pub entry: u64,
    /// Number of the chart; none outside every chart.
    pub chart_no: Option<String>,
    /// Day it was placed.
    pub placed_on: Day,
    /// The hold.
    pub hold: Hold,
    /// Number of the entry that lifted it last.
    pub lifted: Option<u64>,
    /// True until it is lifted with its letter on file.
    pub stands: bool,
}

/// Every hold of every chart that this person's roles open, and those outside the charts, in the order placed.
///
/// # Errors
/// When an entry can't be read.
pub fn holds(practice: &Practice) -> Outcome<Vec<HoldSeen>> {
    let mut found = holds_among(None, &practice.register_of(&["hold", "hold-lifted"])?);
    for face in faces(practice)? {
        found.extend(holds_among(
            Some(&face.chart_no),
            &practice.chart_of(&face.tag, &["hold", "hold-lifted"], 0)?,
        ));
    }
    found.sort_by_key(|one| one.entry);
    Ok(found)
}

fn holds_among(chart_no: Option<&str>, entries: &[Entry]) -> Vec<HoldSeen> {
    let lifts = |seq: u64| {
        entries.iter().filter_map(move |entry| match entry.data() {
            Some(Data::HoldLifted(lifted)) if lifted.hold == seq => {
                Some((entry.leaf.seq, lifted.letter.is_some()))
            }
            _ => None,
        })
    };
    let hold = |entry: &Entry| match entry.data() {
        Some(Data::Hold(hold)) => Some(HoldSeen {
            entry: entry.leaf.seq,
            chart_no: chart_no.map(str::to_string),
            placed_on: Day(entry.leaf.written.local_date()),
            hold: *hold,
            lifted: lifts(entry.leaf.seq).next_back().map(|(seq, _)| seq),
            stands: !lifts(entry.leaf.seq).any(|(_, with_letter)| with_letter),
        }),
        _ => None,
    };
    entries.iter().filter_map(hold).collect()
}
