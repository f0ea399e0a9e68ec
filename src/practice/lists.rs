//! What is open across all charts: one pass over the ledger, as far as the roles of whoever is here open it.
//!
//! A list is no opening of a chart, so it leaves no entry of one; and it shows no more than a list should: a
//! number, a name, what is due and when. What the role does not open is not guessed at.

use super::disposal::standing::disposed;
use super::licences::{Licence, running_out};
use super::open::{Entry, Practice};
use crate::record::calendar::{Holidays, last_working_day, with_weekday};
use crate::record::kinds::{Data, title};
use crate::record::moment::Date;
use crate::record::open_items::{ChartSeen, ItemKind, KINDS, OpenItem, Rules, Seen, open_items, sort};
use crate::trouble::Outcome;
use std::collections::BTreeMap;

/// One thing on a list, with the name of whom it concerns.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listed {
    /// Name of the patient; none outside any chart.
    pub name: Option<String>,
    /// What is open.
    pub item: OpenItem,
}

/// Somebody expected on a day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Expected {
    /// Chart number.
    pub chart: String,
    /// Name.
    pub name: String,
}

/// A list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct List {
    /// The day it is for.
    pub day: Date,
    /// Who was given this day for the next visit.
    pub expected: Vec<Expected>,
    /// What is open, most pressing first.
    pub items: Vec<Listed>,
    /// How many drafts other people keep; what they are opens only to them.
    pub drafts_of_others: usize,
    /// How many charts this person's roles do not open.
    pub charts_not_opened: usize,
    /// The days off that the practice adopted.
    pub days_off: Holidays,
}

/// A heading of a list, and what stands under it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Section<'a> {
    /// The heading.
    pub heading: &'static str,
    /// What stands under it, in order.
    pub items: Vec<&'a Listed>,
}

impl List {
    /// What matters on the day of the list.
    pub fn of_the_day(mut self) -> List {
        let day = self.day;
        self.items.retain(|listed| listed.item.matters_on(day));
        self
    }

    /// What was due before the day of the list, then the rest, each by heading.
    pub fn sections(&self) -> (Vec<Section<'_>>, Vec<Section<'_>>) {
        let (overdue, rest): (Vec<&Listed>, Vec<&Listed>) =
            self.items.iter().partition(|listed| listed.item.is_overdue(self.day));
        (by_heading(overdue), by_heading(rest))
    }

    /// What should not be left when the day is closed: visits and pauses open, emergencies, unsigned work, calls
    /// and rechecks that were due.
    pub fn left_at_closing(&self) -> Vec<&Listed> {
        use ItemKind::{CallBack, Care, Draft, Emergency, NoShow, Pause, Reaction, SafeCopy, VisitOpen};
        let always = |kind| matches!(kind, Emergency | VisitOpen | Pause | Draft);
        let when_due = |kind| matches!(kind, CallBack | Care | NoShow | Reaction | SafeCopy);
        let due = |item: &OpenItem| item.due.is_some_and(|due| due.0 <= self.day);
        self.items.iter().filter(|l| always(l.item.kind) || when_due(l.item.kind) && due(&l.item)).collect()
    }
}

fn by_heading(items: Vec<&Listed>) -> Vec<Section<'_>> {
    let mut sections: Vec<Section<'_>> = Vec::new();
    for listed in items {
        let heading = listed.item.kind.heading();
        match sections.iter_mut().find(|s| s.heading == heading) {
            Some(section) => section.items.push(listed),
            None => sections.push(Section { heading, items: vec![listed] }),
        }
    }
    sections
}

/// A day something is due, for people; with the last working day before where nobody works on it. `off` are the days
/// off that the practice adopted ([`days_off`]).
pub fn due_words(due: Date, off: &Holidays) -> String {
    let before = last_working_day(due, off);
    match before == due {
        true => with_weekday(due),
        false => format!("{} (last working day before: {})", with_weekday(due), with_weekday(before)),
    }
}

/// The days off that the practice adopted; none where its rules can't be used, since they only say what is known
/// beside a day.
pub fn days_off(practice: &Practice) -> Holidays {
    practice.rulebook().map(|book| book.days_off()).unwrap_or_default()
}

/// Everything open on a day: in one chart (by its tag), or in all.
///
/// # Errors
/// When an entry can't be read, or the adopted rules can't be used.
pub fn gather(practice: &Practice, only: Option<&str>, day: Date) -> Outcome<List> {
    let book = practice.rulebook()?;
    let rules = Rules { lists: &book.lists, coverage: &book.coverage, today: day };
    let only = only.and_then(crate::ledger::leaf::chart_tag);
    let mut picked = Vec::new();
    for at in practice.all() {
        let at = at?;
        let here = at.chart.is_some_and(|tag| only.is_none_or(|only| only == tag));
        if here && KINDS.contains(&practice.kind_of(&at)?.as_str()) {
            picked.push(at);
        }
    }
    let charts = practice.by_chart(&picked)?;
    let gone = disposed(practice)?;
    let mut list = List {
        day,
        expected: Vec::new(),
        items: Vec::new(),
        drafts_of_others: 0,
        charts_not_opened: 0,
        days_off: book.days_off(),
    };
    let mut numbers: BTreeMap<String, (String, String)> = BTreeMap::new();
    for (tag, entries) in charts {
        let Some(face) = face(&entries) else {
            let tag = data_encoding::HEXLOWER.encode(&tag);
            list.charts_not_opened += usize::from(!gone.iter().any(|one| one.tag == tag));
            continue;
        };
        let seen = seen(&entries);
        let chart = ChartSeen { number: &face.number, born: face.born, entries: &seen };
        let name = || Some(face.name.clone());
        list.items.extend(open_items(&chart, &rules).into_iter().map(|item| Listed { name: name(), item }));
        if expected_on(&seen, day) {
            list.expected.push(Expected { chart: face.number.clone(), name: face.name.clone() });
        }
        numbers.insert(data_encoding::HEXLOWER.encode(&tag), (face.number, face.name));
    }
    drafts(practice, only.is_some(), &numbers, &mut list)?;
    if only.is_none() && super::staff::is_custodian(practice) {
        list.items.extend(openings(practice, day)?);
        list.items.extend(of_the_keys(practice));
        list.items.extend(custody(practice)?);
    }
    if only.is_none() {
        list.items.extend(licences(practice, day)?);
        list.items.extend(emergencies(practice)?);
    }
    if only.is_none() {
        let due = super::copies::due(practice, &book.lists, day)?;
        list.items.extend(due.map(|item| Listed { name: None, item }));
    }
    list.expected.sort_by(|a, b| a.chart.cmp(&b.chart));
    sort_listed(&mut list.items);
    Ok(list)
}

fn sort_listed(listed: &mut Vec<Listed>) {
    let mut names: Vec<(OpenItem, Option<String>)> =
        std::mem::take(listed).into_iter().map(|l| (l.item, l.name)).collect();
    let mut items: Vec<OpenItem> = names.iter().map(|(item, _)| item.clone()).collect();
    sort(&mut items);
    for item in items {
        if let Some(at) = names.iter().position(|(one, _)| *one == item) {
            let (item, name) = names.swap_remove(at);
            listed.push(Listed { name, item });
        }
    }
}

struct Face {
    number: String,
    name: String,
    born: Option<Date>,
}

/// Who a chart is of, as it stands now; none where the role opens no chart.
fn face(entries: &[Entry]) -> Option<Face> {
    let mut face: Option<Face> = None;
    for entry in entries {
        let (number, identity) = match entry.data() {
            Some(Data::ChartOpened(opened)) => (opened.chart_no.clone(), opened.identity.clone()),
            Some(Data::IdentityChanged(changed)) => (face.as_ref()?.number.clone(), changed.identity.clone()),
            _ => continue,
        };
        let name = identity.legal_name.clone();
        face = Some(Face { number, name, born: identity.birth_date.date.map(|d| d.0) });
    }
    face
}

/// Entries as the rules see them: corrections laid over what they correct.
pub(super) fn seen(entries: &[Entry]) -> Vec<Seen> {
    let mut seen: Vec<Seen> = entries
        .iter()
        .map(|entry| Seen {
            seq: entry.leaf.seq,
            kind: entry.leaf.kind.clone(),
            at: entry.record.as_ref().map_or(entry.leaf.written, |record| record.happened.start),
            data: entry.data().filter(|data| !matches!(data, Data::Unknown { .. })),
        })
        .collect();
    let corrections: Vec<_> = seen
        .iter()
        .filter_map(|one| match &one.data {
            Some(Data::Correction(correction)) => Some(correction.clone()),
            _ => None,
        })
        .collect();
    for correction in corrections {
        let Some(target) = seen.iter_mut().find(|one| one.seq == correction.target) else { continue };
        let Some(data) = &target.data else { continue };
        let corrected = data.to_value().ok().and_then(|mut value| {
            super::facts::set_field(&mut value, &correction.field, &correction.is)?;
            Data::read(data.kind(), data.edition(), &value).ok()
        });
        // A correction that makes an entry unreadable leaves it on the list as it was written.
        if let Some(corrected) = corrected {
            target.data = Some(corrected);
        }
    }
    seen
}

/// True when the last visit named this day for the next one.
fn expected_on(seen: &[Seen], day: Date) -> bool {
    let mut next = seen.iter().rev().filter_map(|one| match &one.data {
        Some(Data::VisitClosed(closed)) => closed.next_visit.map(|d| d.0),
        _ => None,
    });
    next.next() == Some(day)
}

/// Months whose openings the keeper of the records did not review. They are one item: what is behind for long
/// must not bury the rest of the list.
fn openings(practice: &Practice, day: Date) -> Outcome<Option<Listed>> {
    let months = super::openings::not_reviewed(practice, day)?;
    let (Some((first, due)), Some((last, _))) = (months.first(), months.last()) else { return Ok(None) };
    let words = match months.len() {
        1 => format!("openings of {first} not reviewed"),
        n => format!("openings of {n} months not reviewed, {first} to {last}"),
    };
    let remedy = format!("inkfast openings review --month {first}");
    Ok(Some(of_the_register(ItemKind::OpeningsReview, Some(*due), words, remedy)))
}

/// Licences that are over or end soon: each person's own, and to the keeper of the records everybody's.
fn licences(practice: &Practice, day: Date) -> Outcome<Vec<Listed>> {
    let keeper = super::staff::is_custodian(practice);
    let stands = running_out(practice, day)?;
    let mine = stands.into_iter().filter(|(code, _)| keeper || *code == practice.session.me.code);
    let listed = mine.filter_map(|(code, stands)| {
        let (due, words) = match stands {
            Licence::Over(last) => (last, format!("the licence of {code} is over")),
            Licence::Ends(last) => (last, format!("the licence of {code} ends")),
            Licence::Holds => return None,
        };
        let remedy = format!("inkfast roster change {code} --licence-last-day DATE");
        Some(of_the_register(ItemKind::Licence, Some(crate::record::kinds::Day(due)), words, remedy))
    });
    Ok(listed.collect())
}

/// Openings in an emergency that wait for whoever is here.
fn emergencies(practice: &Practice) -> Outcome<Vec<Listed>> {
    let listed = super::emergency::waiting(practice)?.into_iter().map(|one| {
        let day = crate::record::kinds::Day(one.at.local_date());
        let words = format!("opened by {} on {}: {}", one.by, one.at.plain(), one.words);
        let remedy = format!("inkfast openings emergency {} --fine REASON, or --follow-up WHAT", one.entry);
        let mut listed = of_the_register(ItemKind::EmergencyOpening, Some(day), words, remedy);
        listed.item.entry = Some(one.entry);
        listed
    });
    Ok(listed.collect())
}

/// Notices of the newest hand-over that were not given.
fn custody(practice: &Practice) -> Outcome<Vec<Listed>> {
    let listed = super::custody::waiting(practice)?.into_iter().map(|one| {
        let words = format!("{} to be told: {}", one.rule.whom.word(), one.rule.says);
        let remedy = format!("inkfast custody told {} --words HOW", one.rule.id);
        of_the_register(ItemKind::CustodyNotice, Some(one.due), words, remedy)
    });
    Ok(listed.collect())
}

fn of_the_keys(practice: &Practice) -> Option<Listed> {
    let words = "new keys were begun and not finished; everything still opens".to_string();
    let item = || of_the_register(ItemKind::KeysUnfinished, None, words, "inkfast roster renew".to_string());
    super::renewal::unfinished(practice).then(item)
}

/// Something open outside every chart.
fn of_the_register(
    kind: ItemKind,
    due: Option<crate::record::kinds::Day>,
    words: String,
    remedy: String,
) -> Listed {
    Listed { name: None, item: OpenItem { kind, chart: None, entry: None, due, words, remedy } }
}

/// Unsigned work of whoever is here, by chart.
fn drafts(
    practice: &Practice,
    one_chart: bool,
    numbers: &BTreeMap<String, (String, String)>,
    list: &mut List,
) -> Outcome<()> {
    let mine = practice.drafts()?;
    list.drafts_of_others = practice.count_drafts()?.saturating_sub(mine.len());
    // Half a line in the room belongs to a visit, and that is on the list.
    for draft in mine.into_iter().filter(|draft| draft.kind != super::typing::KIND) {
        let known = draft.chart.as_ref().and_then(|tag| numbers.get(tag));
        if one_chart && known.is_none() {
            continue;
        }
        let remedy = match (draft.kind.as_str(), known) {
            ("visit", Some((number, _))) => format!("inkfast sign {number}"),
            _ => "run its command again and go on with the draft".to_string(),
        };
        list.items.push(Listed {
            name: known.map(|(_, name)| name.clone()),
            item: OpenItem {
                kind: ItemKind::Draft,
                chart: known.map(|(number, _)| number.clone()),
                entry: None,
                due: Some(crate::record::kinds::Day(draft.begun.local_date())),
                words: format!("{}, begun {}", title(&draft.kind), draft.begun.plain()),
                remedy,
            },
        });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::moment::parse_date;

    #[test]
    fn days_carry_their_weekday() {
        // 30 days after Friday 31 January 2025 (45 CFR 164.524(b)(2)) is a Sunday.
        let sunday = parse_date("2025-03-02").unwrap();
        assert_eq!(with_weekday(sunday), "Sun 02 Mar 2025");
        assert_eq!(
            due_words(sunday, &Holidays::new()),
            "Sun 02 Mar 2025 (last working day before: Fri 28 Feb 2025)"
        );
        assert_eq!(due_words(parse_date("2025-03-03").unwrap(), &Holidays::new()), "Mon 03 Mar 2025");
    }
}
