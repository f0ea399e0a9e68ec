//! What the care itself leaves open: reactions, screens, re-examinations.

use super::{ItemKind, Looked, OpenItem, Seen, after, days_before};
use crate::record::kinds::Data;
use crate::record::kinds::reaction::Reaction;
use crate::record::kinds::screening::{ItemAnswer, ItemDecision};
use crate::record::kinds::visit::VisitSort;
use crate::record::moment::{Date, plain_date};
use std::collections::BTreeMap;

/// Everything of the care itself. A role that opens no contents of care is told only that something waits.
pub fn items(chart: &Looked<'_>) -> Vec<OpenItem> {
    let mut items = reactions(chart);
    items.extend(unlisted_responses(chart));
    items.extend(red_flags(chart));
    items.extend(screens(chart));
    items.extend(re_examination(chart));
    items.extend(closed_to_this_role(chart));
    items
}

fn reactions(chart: &Looked<'_>) -> Vec<OpenItem> {
    let closed = |seq: u64| {
        chart.opened().any(|(_, data)| matches!(data, Data::ReactionClosed(c) if c.reaction == seq))
    };
    let mut items = Vec::new();
    for (entry, data) in chart.opened() {
        let Data::Reaction(reaction) = data else { continue };
        if closed(entry.seq) {
            continue;
        }
        let due = reaction_due(chart, entry, reaction);
        let words = format!(
            "{} ({}) after {} on {}",
            reaction.what, reaction.severity, reaction.technique, reaction.region
        );
        let remedy = format!(
            "inkfast reaction recheck {n} {s} --how WORDS; when it is over: inkfast reaction close {n} {s} --outcome WORDS",
            n = chart.number,
            s = entry.seq
        );
        items.push(chart.item(ItemKind::Reaction, entry.seq, Some(due), words, remedy));
    }
    items
}

/// The day the last recheck set, else so many days after it, else the same of the reaction itself.
fn reaction_due(chart: &Looked<'_>, entry: &Seen, reaction: &Reaction) -> Date {
    let days = chart.rules.lists.reaction_recheck_days;
    let last = chart
        .opened()
        .filter_map(|(at, data)| match data {
            Data::ReactionRechecked(again) if again.reaction == entry.seq => Some((at, again)),
            _ => None,
        })
        .max_by_key(|(at, _)| (at.at, at.seq));
    match last {
        Some((at, again)) => again.follow_up_due.map_or_else(|| after(at.at.local_date(), days), |d| d.0),
        None => reaction.follow_up_due.map_or_else(|| after(entry.at.local_date(), days), |d| d.0),
    }
}

/// Adverse responses written in a note that were not over at its end and were never opened as reactions.
fn unlisted_responses(chart: &Looked<'_>) -> Vec<OpenItem> {
    let days = chart.rules.lists.reaction_recheck_days;
    let mut items = Vec::new();
    for (entry, data) in chart.opened() {
        let Data::Visit(note) = data else { continue };
        let taken_up = chart.opened().any(|(_, data)| {
            matches!(data, Data::Reaction(r) if r.visit == Some(note.visit) || r.procedures.iter().any(|p| p.note == entry.seq))
        });
        for adverse in note.adverse.iter().filter(|a| a.closed_at.is_none() && a.reaction.is_none()) {
            if taken_up {
                continue;
            }
            let due = adverse.follow_up_due.map_or_else(|| after(entry.at.local_date(), days), |d| d.0);
            let words = format!("{} ({}), in the note no. {}", adverse.what, adverse.severity, entry.seq);
            let remedy = format!("inkfast reaction open {}", chart.number);
            items.push(chart.item(ItemKind::Reaction, entry.seq, Some(due), words, remedy));
        }
    }
    items
}

fn red_flags(chart: &Looked<'_>) -> Vec<OpenItem> {
    let mut items = Vec::new();
    for (entry, data) in chart.opened() {
        let Data::Screen(screen) = data else { continue };
        let groups = chart.rules.coverage.screen_items.get(&screen.screen);
        for answer in screen.answers.iter().filter(|a| a.answer == ItemAnswer::Yes) {
            let flag = groups.and_then(|items| items.get(&answer.item)).is_some_and(Option::is_some);
            let words_given = answer.words.as_deref().is_some_and(|w| !w.trim().is_empty());
            let answered = answer.decision == Some(ItemDecision::Proceed) && words_given;
            let closed = chart.opened().any(|(_, data)| {
                matches!(data, Data::ScreenItemClosed(c) if c.screen == entry.seq && c.item == answer.item)
            });
            if !flag || answered || closed {
                continue;
            }
            let decision = answer.decision.map_or("no decision yet".to_string(), |d| d.word().to_string());
            let words = format!("{} screen: {} ({decision})", screen.screen, answer.item.replace('-', " "));
            let remedy = format!("settle item {} of screen no. {}", answer.item, entry.seq);
            items.push(chart.item(ItemKind::RedFlag, entry.seq, None, words, remedy));
        }
    }
    items
}

/// Days of the notes, as written.
fn notes<'a>(chart: &'a Looked<'_>) -> Vec<(&'a Seen, Date)> {
    chart.entries.iter().filter(|e| e.kind == "visit").map(|e| (e, e.at.local_date())).collect()
}

/// The newest screen of each kind, where it is older than the rules allow and care goes on.
fn screens(chart: &Looked<'_>) -> Vec<OpenItem> {
    let days = chart.rules.lists.screen_renewed_after_days;
    let today = chart.rules.today;
    let in_care = notes(chart).iter().any(|(_, day)| *day >= days_before(today, days));
    let mut newest: BTreeMap<&str, (u64, Date)> = BTreeMap::new();
    for (entry, data) in chart.opened() {
        if let Data::Screen(screen) = data {
            let day = entry.at.local_date();
            let place = newest.entry(screen.screen.as_str()).or_insert((entry.seq, day));
            if day >= place.1 {
                *place = (entry.seq, day);
            }
        }
    }
    let due = newest.into_iter().filter(|_| in_care).filter_map(|(screen, (seq, day))| {
        let due = after(day, days);
        let words = format!("{screen} screen, last asked {}", plain_date(day));
        let remedy = format!("inkfast screen {} {screen}", chart.number);
        (due <= today).then(|| chart.item(ItemKind::Screen, seq, Some(due), words, remedy))
    });
    due.collect()
}

/// The next re-examination: on the day the last plan names; else after so many days or visits of care since
/// the last one.
fn re_examination(chart: &Looked<'_>) -> Option<OpenItem> {
    let (lists, today) = (chart.rules.lists, chart.rules.today);
    let mut examined: Option<(u64, Date)> = None;
    let mut planned: Option<(u64, Date)> = None;
    let mut visits = Vec::new();
    for (entry, data) in chart.opened() {
        let Data::Visit(note) = data else { continue };
        let day = entry.at.local_date();
        if note.sort != VisitSort::Later {
            (examined, planned) = (Some((entry.seq, day)), None);
            visits.clear();
        } else {
            visits.push(day);
        }
        if let Some(on) = note.plan.value().and_then(|plan| plan.re_examine_on) {
            planned = Some((entry.seq, on.0));
        }
    }
    let remedy = format!("write the next note of chart {} as a re-examination", chart.number);
    // Without a visit in that time there is no care that drifts on.
    let lately = days_before(today, lists.reexamination_after_days);
    let in_care = visits.iter().any(|v| *v >= lately);
    if let Some((seq, on)) = planned {
        let words = format!("re-examination planned for {}", plain_date(on));
        return (in_care || on >= lately)
            .then(|| chart.item(ItemKind::ReExamination, seq, Some(on), words, remedy));
    }
    let (seq, day) = examined?;
    let by_visits = usize::try_from(lists.reexamination_after_visits)
        .ok()
        .and_then(|n| visits.get(n.checked_sub(1)?))
        .copied();
    let by_days = after(day, lists.reexamination_after_days);
    let due = by_visits.map_or(by_days, |reached| reached.min(by_days));
    let words = format!("last examined {}, {} visits since", plain_date(day), visits.len());
    (in_care && due <= today).then(|| chart.item(ItemKind::ReExamination, seq, Some(due), words, remedy))
}

/// Reactions this role does not open: how many more were opened than closed is all it may know.
fn closed_to_this_role(chart: &Looked<'_>) -> Option<OpenItem> {
    let locked = |kind: &str| -> Vec<&Seen> {
        chart.entries.iter().filter(|e| e.data.is_none() && e.kind == kind).collect()
    };
    let (opened, closed) = (locked("reaction"), locked("reaction-closed"));
    let newest = opened.last().filter(|_| opened.len() > closed.len())?;
    let last = locked("reaction-rechecked").last().map_or(newest.at, |again| again.at.max(newest.at));
    let due = after(last.local_date(), chart.rules.lists.reaction_recheck_days);
    let words = "whoever treats has to look into this chart".to_string();
    let remedy = "tell whoever treats".to_string();
    Some(chart.item(ItemKind::Care, newest.seq, Some(due), words, remedy))
}
