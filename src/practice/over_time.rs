//! What was written when, gathered from the ledger: kinds and times from the headers, and what lies sealed as far as
//! the roles of whoever is here open it. Everything is walked through: this is for looking at the whole, not for
//! everyday pages.

use super::open::{Entry, Practice};
use super::stamps;
use crate::ledger::scan::EntryAt;
use crate::ledger::tree::{Frontier, Hash};
use crate::record::envelope::Label;
use crate::record::labels::{about_the_past, target_of};
use crate::record::moment::{Date, Moment};
use crate::record::over_time::{Course, Line, Read, Span, course, may_be_late};
use crate::seal::note::Cosigner;
use crate::trouble::Outcome;
use crate::verify::witnessed;

/// What was written in the span that `choose` chooses, being told which days the ledger has; and those days. Where
/// `read` says so, what lies sealed and counts here is read of the entries in that span. It shows nobody's name and no
/// contents, so it is no opening of a chart.
///
/// # Errors
/// When the ledger can't be read; else as `choose` ends.
pub fn look(
    practice: &Practice,
    choose: impl FnOnce(Span) -> Outcome<Span>,
    read: bool,
) -> Outcome<(Span, Course)> {
    let entries: Vec<EntryAt> = practice.all().collect::<Outcome<_>>()?;
    let mut lines = Vec::with_capacity(entries.len());
    for at in &entries {
        let kind = practice.kind_of(at)?;
        lines.push(Line { seq: at.seq, kind, written: at.written, read: None });
    }
    let today = practice.now().local_date();
    let all = whole(&lines).unwrap_or(Span { from: today, until: today });
    let span = choose(all)?;
    if read {
        read_sealed(practice, &mut lines, entries, span)?;
    }
    Ok((all, course(&lines, &pinned(practice)?, span)))
}

/// Reads what lies sealed in the entries of a span and counts here, as far as the roles of whoever is here open it.
fn read_sealed(practice: &Practice, lines: &mut [Line], entries: Vec<EntryAt>, span: Span) -> Outcome<()> {
    let wanted: Vec<EntryAt> = entries
        .into_iter()
        .zip(&*lines)
        .filter(|(_, line)| may_be_late(&line.kind) && span.holds(line.written.local_date()))
        .map(|(at, _)| at)
        .collect();
    for entry in practice.open_all(&wanted)? {
        let written_of = |seq: u64| found(lines, seq).map(|at| lines[at].written);
        let told = told(&entry, written_of);
        if let Some(at) = found(lines, entry.leaf.seq) {
            lines[at].read = told;
        }
    }
    Ok(())
}

fn found(lines: &[Line], seq: u64) -> Option<usize> {
    lines.binary_search_by_key(&seq, |line| line.seq).ok()
}

/// What an entry tells; none where the roles don't open it.
fn told(entry: &Entry, written_of: impl Fn(u64) -> Option<Moment>) -> Option<Read> {
    let record = entry.record.as_ref()?;
    let data = entry.data()?;
    let late = record.labels.contains(&Label::LateEntry);
    let after = [Label::AfterNotice, Label::AfterHold, Label::AfterRequest];
    let happened = record.happened.end.unwrap_or(record.happened.start);
    // An entry about another is as far back as that one was written.
    let target = target_of(&data).and_then(written_of);
    let about = about_the_past(&data, happened, target, late);
    Some(Read {
        late,
        after: record.labels.iter().any(|label| after.contains(label)),
        about: about.map(Moment::local_date),
    })
}

/// Numbers of the entries up to which a witness, or a time stamp, vouches for this very ledger.
fn pinned(practice: &Practice) -> Outcome<Vec<u64>> {
    let (disk, place) = (&*practice.world.disk, &practice.place);
    let policy = witnessed::kept_policy(disk, &place.root)
        .and_then(|bytes| super::witness::policy_of(&bytes, place).ok());
    let keys: Vec<Cosigner> = policy
        .iter()
        .flat_map(|policy| policy.witnesses())
        .filter_map(|witness| Cosigner::try_from(&witness.key).ok())
        .collect();
    let (kept, _) = witnessed::read(disk, &place.root, &place.key);
    let seen = |note| keys.iter().any(|key| matches!(key.check(note), Ok(Some(_))));
    let wanted: Vec<(u64, Hash)> = kept
        .iter()
        .filter(|kept| seen(&kept.note))
        .map(|kept| (kept.checkpoint.size, kept.checkpoint.root))
        .collect();
    let mut numbers = Vec::new();
    if !wanted.is_empty() {
        let mut tree = Frontier::default();
        for (size, leaf) in (1..).zip(practice.leaf_hashes()?) {
            tree.push(leaf);
            let here = wanted.iter().find(|(number, _)| *number == size);
            numbers.extend(here.filter(|(_, root)| *root == tree.root()).map(|(number, _)| *number));
        }
    }
    // Whether openssl is there to check stamps is no reason to show nothing.
    let stamps = stamps::check(practice).unwrap_or_default();
    numbers.extend(stamps.iter().filter(|stamp| stamp.checked.is_ok()).map(|stamp| stamp.number));
    numbers.sort_unstable();
    numbers.dedup();
    Ok(numbers)
}

/// The days of the first and of the last entry as their headers say them; none for an empty ledger.
fn whole(lines: &[Line]) -> Option<Span> {
    let days = || lines.iter().map(|line| line.written.local_date());
    let (from, until): (Option<Date>, Option<Date>) = (days().min(), days().max());
    Some(Span { from: from?, until: until? })
}
