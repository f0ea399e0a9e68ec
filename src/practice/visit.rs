//! The visit that is open in a chart, and what a note of it can take from the entries made in it.

use super::open::{Entry, Practice};
use crate::record::decimal::Decimal;
use crate::record::kinds::Data;
use crate::record::kinds::withdrawal::PauseKind;
use crate::record::moment::Moment;
use crate::trouble::Outcome;
use serde_json::{Map, Value, json};

/// Number of the opening of the visit that is open: opened, and neither closed nor signed.
pub fn open_visit(entries: &[Entry]) -> Option<u64> {
    let mut open: Vec<u64> = Vec::new();
    for entry in entries {
        match entry.leaf.kind.as_str() {
            "visit-opened" => open.push(entry.leaf.seq),
            "visit-closed" | "visit" => {
                let ended = match entry.data() {
                    Some(Data::VisitClosed(closed)) => Some(closed.visit),
                    Some(Data::Visit(note)) => Some(note.visit),
                    // A note that this role does not open still ends the visit it was written for,
                    // which can only be the one opened last.
                    _ => open.last().copied(),
                };
                open.retain(|seq| Some(*seq) != ended);
            }
            _ => {}
        }
    }
    open.last().copied()
}

/// A visit that was opened longer ago was left open by mistake, and nothing is taken to belong to it unasked.
const OPEN_AT_MOST_SECONDS: i64 = 24 * 3600;

/// Tags of the charts in which a visit of the person who is here is open at this station, the one opened last
/// first. Only the newest entries are read: those of the last day.
///
/// # Errors
/// When an entry can't be read.
pub fn open_here(practice: &Practice) -> Outcome<Vec<String>> {
    let now = practice.now().unix();
    let mut tags: Vec<String> = Vec::new();
    for at in practice.newest_first() {
        let at = at?;
        let leaf = practice.leaf(&at)?;
        if now - leaf.written.unix() > OPEN_AT_MOST_SECONDS {
            break;
        }
        let Some(tag) = leaf.chart.filter(|tag| leaf.kind == "visit-opened" && !tags.contains(tag)) else {
            continue;
        };
        let entry = practice.entry(&at)?;
        let (Some(record), Some(Data::VisitOpened(opened))) = (&entry.record, entry.data()) else { continue };
        let me = &practice.session.me.code;
        let mine = record.author.code == *me || opened.practitioners.contains(me);
        if mine && record.station == practice.station && is_open(practice, &tag, at.seq)? {
            tags.push(tag);
        }
    }
    Ok(tags)
}

/// True when this opening of a visit is the one that is open in its chart. Only the few entries that open and
/// end visits are read.
fn is_open(practice: &Practice, tag: &str, opening: u64) -> Outcome<bool> {
    let entries = practice.chart_of(tag, &["visit-opened", "visit-closed", "visit"], opening - 1)?;
    Ok(open_visit(&entries).is_some())
}

/// When a visit ended that is still open now. As a rule it ends now; on a later day, or longer after the last
/// thing known of it than any visit takes, its end is the moment of that last thing: nobody stayed until a
/// note was finished that a power cut had broken off.
///
/// # Errors
/// When the rules can't be used.
pub fn ended_by_now(
    practice: &Practice,
    entries: &[Entry],
    visit: u64,
    draft: &Value,
    opened: Moment,
    now: Moment,
) -> Outcome<Moment> {
    let known = last_known(entries, visit, draft, opened);
    let book = practice.rulebook()?;
    let limit = book.tables.trade.limit("visit_minutes");
    let longest = limit.and_then(|limit| limit.ask_above).and_then(Decimal::whole);
    let long_since = longest.is_some_and(|minutes| (now.unix() - known.unix()) / 60 > minutes);
    // A clock that was put back leaves nothing better than what it says now.
    let later_day = now.local_date() > opened.local_date();
    Ok(if now > known && (later_day || long_since) { known } else { now })
}

/// The latest moment known of a visit: of what is drafted for its note, and of the entries made in it.
fn last_known(entries: &[Entry], visit: u64, draft: &Value, opened: Moment) -> Moment {
    let moment = |line: &Value| line.get("at")?.as_str().and_then(|text| Moment::parse(text).ok());
    let lists =
        ["procedures", "checks", "measures"].into_iter().filter_map(|list| draft.get(list)?.as_array());
    let drafted = lists.flatten().filter_map(moment);
    // A withdrawal stands in the chart and names no visit: it belongs to the visit of its day.
    let inside = |entry: &&Entry| {
        let Some(record) = entry.record.as_ref().filter(|_| entry.leaf.seq > visit) else { return false };
        record.data.get("visit").and_then(Value::as_u64) == Some(visit)
            || (entry.leaf.kind == "withdrawal" && record.happened.start.local_date() == opened.local_date())
    };
    let records = entries.iter().filter(inside).filter_map(|entry| entry.record.as_ref());
    let recorded = records.map(|record| record.happened.end.unwrap_or(record.happened.start));
    drafted.chain(recorded).fold(opened, Moment::max)
}

/// Pauses and stops of a visit that no yes to going on has ended, by number.
pub fn open_pauses(entries: &[Entry], visit: u64) -> Vec<u64> {
    let mut open = Vec::new();
    for entry in entries {
        let Some(Data::Pause(pause)) = entry.data() else { continue };
        match pause.kind {
            PauseKind::Resumed => open.retain(|seq| Some(*seq) != pause.of),
            _ if pause.visit == visit && pause.resumed_yes_at.is_none() => open.push(entry.leaf.seq),
            _ => {}
        }
    }
    open
}

/// What was done inside a visit, by number, for the note's pointers.
#[derive(Debug, Default, Clone, PartialEq, Eq)]
pub struct InVisit {
    /// Screens.
    pub screens: Vec<u64>,
    /// Asked-today lines.
    pub asked: Vec<u64>,
    /// Kept coverage answers.
    pub coverage: Vec<u64>,
    /// Consents in the chart that cover care, newest last.
    pub consents: Vec<u64>,
    /// Whether an earlier visit note is in the chart.
    pub later: bool,
}

/// Gathers what belongs to a visit.
pub fn in_visit(entries: &[Entry], visit: u64) -> InVisit {
    let mut found = InVisit::default();
    for entry in entries {
        let seq = entry.leaf.seq;
        match entry.data() {
            Some(Data::Screen(screen)) if screen.visit == Some(visit) => found.screens.push(seq),
            Some(Data::Asked(asked)) if asked.visit == visit => found.asked.push(seq),
            Some(Data::CoverageAnswer(_)) if seq > visit => found.coverage.push(seq),
            Some(Data::Consent(consent)) if consent.is_for_care() => found.consents.push(seq),
            Some(Data::Visit(_)) => found.later = true,
            _ => {}
        }
    }
    found
}

/// What a note takes from the entries of its visit, so that nobody copies numbers; what is there already
/// stays. On a first visit nothing can have changed since the last.
pub fn complete(data: &mut Map<String, Value>, visit: u64, inside: &InVisit, me: &str) {
    data.insert("visit".into(), json!(visit));
    let sort = if inside.later { "later" } else { "first" };
    data.entry("sort").or_insert(json!(sort));
    data.entry("practitioners").or_insert(json!([me]));
    data.entry("screens").or_insert(json!(inside.screens));
    if let Some(agreed) = data.entry("agreed").or_insert(json!({})).as_object_mut() {
        for (list, found) in
            [("consents", &inside.consents), ("asked", &inside.asked), ("coverage", &inside.coverage)]
        {
            agreed.entry(list).or_insert(json!(found));
        }
    }
    if data.get("sort") == Some(&json!("first")) {
        data.entry("changed_since_last").or_insert(json!({ "not_done_because": "first visit" }));
    }
    // An empty list is dropped rather than kept, as the layout has it.
    data.retain(|_, v| !matches!(v, Value::Array(list) if list.is_empty()));
}
