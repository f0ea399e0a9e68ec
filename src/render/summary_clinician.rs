//! Half a page for the next clinician: what must be minded first, then the working diagnosis, what was
//! tried and how it was answered, measures over time, the last visit and the plan, screens, adverse
//! responses, pictures. The last notes follow in the record.

use super::course::{Read, not_shown, procedures, read, response};
use super::entry::Desk;
use super::set::PrintedSet;
use super::summary::{self, Block, NOT_THE_RECORD, Summary};
use super::words::{self, capital, spaced};
use crate::record::kinds::identity::{Alert, AllergyReview, SubstanceStatus};
use crate::record::kinds::papers::AttachmentKind;
use crate::record::kinds::screening::{ItemAnswer, Phase, Screen};
use crate::record::kinds::visit::{Assessment, Plan, Visit};
use crate::record::kinds::{Data, Given};
use crate::record::measures::cells::{cell, struck_words};
use crate::record::measures::panels::rank;
use crate::record::measures::{Measures, Readable, Series, Source, gather};
use crate::record::moment::{Date, plain_date};
use std::cmp::Reverse;
use std::collections::BTreeMap;

/// Alerts that are named whether they are there or not, in this order: the first questions of whoever
/// treats next.
const FIRST: [&str; 2] = ["anticoagulant", "osteoporosis"];
/// The substance that gloves are asked about.
const LATEX: &str = "latex";
/// Procedures in the table: those done last.
const TRIED: usize = 3;
/// Series of measures in the table; the rest stands in the record.
const SERIES: usize = 2;
/// Visits of each series in the table: the first, and the last ones.
const VISITS: usize = 2;
/// Screens told in full; of earlier ones with a yes only the day.
const SCREENS: usize = 2;
/// Adverse responses, pictures, items of screens closed: the newest.
const NEWEST: usize = 3;

/// The summary as a page.
pub fn page(set: &PrintedSet) -> String {
    summary::html(set, &summary(set))
}

/// The summary.
pub fn summary(set: &PrintedSet) -> Summary {
    let desk = Desk::new(set);
    let course = read(&desk);
    let mut out =
        Summary { title: "Short summary for a clinician".to_string(), small: true, blocks: Vec::new() };
    opening(&mut out, &desk);
    alerts(&mut out, &course, set.printed_at.local_date());
    diagnosis(&mut out, &course);
    tried(&mut out, &course);
    measures(&mut out, &desk);
    last_visit(&mut out, &course);
    screens(&mut out, &course);
    out.newest("Adverse responses", adverse(&course), NEWEST, "None is recorded in this copy.");
    out.newest("Imaging", imaging(&course), NEWEST, "None is recorded in this copy.");
    last_notes(&mut out, &course);
    out
}

fn opening(out: &mut Summary, desk: &Desk<'_>) {
    let set = desk.set;
    out.blocks.push(Block::Strong(NOT_THE_RECORD.to_string()));
    let mut words = format!(
        "Put together by the program from the entries of {}, born {}, chart no. {}; as they now read, up to {}.",
        set.patient.name,
        set.patient.birth,
        set.patient.chart_no,
        set.printed_at.plain()
    );
    let hidden = not_shown(desk);
    if hidden > 0 {
        words.push_str(&format!(
            " {} not shown in this copy; nothing of them is used here, so \"none recorded\" speaks only of the rest.",
            words::count(hidden, "entry is", "entries are")
        ));
    }
    out.blocks.push(Block::Words(words));
}

/// The alerts in force on a day, oldest first.
fn in_force<'r>(course: &'r [Read<'_>], on: Date) -> Vec<(&'r Read<'r>, &'r Alert)> {
    let alerts = course.iter().filter_map(|read| match &read.data {
        Data::Alert(alert) => Some((read, &**alert)),
        _ => None,
    });
    let ended: Vec<u64> = alerts.clone().filter_map(|(_, alert)| alert.ends).collect();
    let stands = |(read, alert): &(&Read<'_>, &Alert)| {
        alert.ends.is_none() && !ended.contains(&read.seq) && alert.until.is_none_or(|last| last.0 >= on)
    };
    alerts.filter(stands).collect()
}

fn alert_words(read: &Read<'_>, alert: &Alert) -> String {
    let mut place: Vec<String> = alert.region.map(words::region).into_iter().collect();
    place.extend(alert.segment.map(words::segment));
    place.extend(alert.side.map(|side| words::side(side).to_string()));
    let mut out = format!("{} since {}", spaced(&alert.kind).to_uppercase(), words::day(alert.from));
    if !place.is_empty() {
        out.push_str(&format!(", {}", place.join(", ")));
    }
    if let Some(text) = &alert.words {
        out.push_str(&format!(": {text}"));
    }
    format!("{out} (no. {})", read.seq)
}

fn alerts(out: &mut Summary, course: &[Read<'_>], on: Date) {
    out.blocks.push(Block::Heading("To be minded first".to_string()));
    let standing = in_force(course, on);
    let review = course.iter().rev().find_map(|read| match &read.data {
        Data::AllergyReview(review) => Some((read, &**review)),
        _ => None,
    });
    let named = |kind: &str| -> Vec<String> {
        let these = standing.iter().filter(|(_, alert)| alert.kind == kind);
        let told: Vec<String> = these.map(|(read, alert)| alert_words(read, alert)).collect();
        if told.is_empty() { vec![format!("{}: no alert stands in this copy", capital(kind))] } else { told }
    };
    let mut lines = named(FIRST[0]);
    lines.push(latex(review));
    lines.extend(named(FIRST[1]));
    lines.extend(other_substances(review));
    let others = standing.iter().filter(|(_, alert)| !FIRST.contains(&alert.kind.as_str()));
    lines.extend(others.map(|(read, alert)| alert_words(read, alert)));
    lines.extend(course.iter().filter_map(|read| match &read.data {
        Data::StandingRefusal(refusal) => {
            let what = refusal.techniques.as_ref().map(|list| words::list(list, words::technique));
            let place = refusal.regions.as_ref().map(|list| words::list(list, words::region));
            Some(format!(
                "THE PATIENT REFUSES since {}: {}, {} (no. {}; see the time line for what was agreed later)",
                read.day(),
                what.unwrap_or_else(|| "all techniques".to_string()),
                place.unwrap_or_else(|| "everywhere".to_string()),
                read.seq
            ))
        }
        _ => None,
    }));
    out.blocks.push(Block::StrongList(lines));
}

fn reviewed(read: &Read<'_>, review: &AllergyReview) -> String {
    match &review.reviewed_on {
        Given::Value(day) => format!("reviewed {}, no. {}", words::day(*day), read.seq),
        Given::Absent(_) => format!("day of review not recorded, no. {}", read.seq),
    }
}

fn status_words(status: SubstanceStatus) -> &'static str {
    match status {
        SubstanceStatus::Allergic => "ALLERGIC",
        SubstanceStatus::NotAllergic => "not allergic",
        SubstanceStatus::Unknown => "NOT KNOWN",
    }
}

fn detail(review: &AllergyReview, substance: &str) -> String {
    let told = review.details.iter().filter(|detail| detail.substance == substance).map(|detail| {
        let mut parts = vec![detail.reaction.clone()];
        parts.extend(detail.severity.map(|severity| severity.word().to_string()));
        parts.extend(detail.when.clone());
        parts.join(", ")
    });
    let told: Vec<String> = told.collect();
    if told.is_empty() { String::new() } else { format!(": {}", told.join("; ")) }
}

fn latex(review: Option<(&Read<'_>, &AllergyReview)>) -> String {
    let Some((read, review)) = review else {
        return "Latex: no review of allergies is in this copy".to_string();
    };
    match review.substances.get(LATEX) {
        Some(status) => {
            format!("Latex: {}{} ({})", status_words(*status), detail(review, LATEX), reviewed(read, review))
        }
        None => format!("Latex: NOT ASKED ({})", reviewed(read, review)),
    }
}

fn other_substances(review: Option<(&Read<'_>, &AllergyReview)>) -> Vec<String> {
    let Some((_, review)) = review else { return Vec::new() };
    let others = review
        .substances
        .iter()
        .filter(|(name, status)| *name != LATEX && **status != SubstanceStatus::NotAllergic);
    let told = others.map(|(name, status)| {
        format!("{}: {}{}", capital(&spaced(name)), status_words(*status), detail(review, name))
    });
    told.collect()
}

/// The notes, newest first.
fn notes<'r>(course: &'r [Read<'_>]) -> Vec<(&'r Read<'r>, &'r Visit)> {
    let mut out: Vec<(&Read<'_>, &Visit)> =
        course.iter().filter_map(|read| Some((read, read.note()?))).collect();
    out.reverse();
    out
}

fn assessment(note: &Visit) -> Option<&Assessment> {
    match &note.assessment {
        Given::Value(assessment) if !assessment.diagnoses.is_empty() => Some(assessment),
        _ => None,
    }
}

fn diagnosis(out: &mut Summary, course: &[Read<'_>]) {
    let newest = notes(course).into_iter().find_map(|(read, note)| Some((read, assessment(note)?)));
    let lines = newest.map(|(read, assessment)| {
        let told = assessment.diagnoses.iter().map(|diagnosis| {
            let mut place: Vec<String> = diagnosis.region.map(words::region).into_iter().collect();
            place.extend(diagnosis.side.map(|side| words::side(side).to_string()));
            let place = if place.is_empty() { String::new() } else { format!(" ({})", place.join(", ")) };
            format!(
                "{}: {}{place}; rests on: {} (no. {})",
                read.day(),
                words::or_not_recorded(&diagnosis.words),
                words::or_not_recorded(&diagnosis.basis),
                read.seq
            )
        });
        told.collect()
    });
    out.list("Working diagnosis", lines.unwrap_or_default(), "None is recorded in this copy.");
}

/// Each procedure once: how often, from when to when, and how it was answered, counted by word.
fn tried(out: &mut Summary, course: &[Read<'_>]) {
    let mut all = procedures(course);
    all.sort_by_key(|done| done.times.last().map(|time| time.day));
    let more = all.len().saturating_sub(TRIED);
    let rows = all.into_iter().skip(more).map(|done| {
        let times = &done.times;
        let mut answers: BTreeMap<String, usize> = BTreeMap::new();
        for time in times {
            let word = match &time.procedure.response {
                Given::Value(response) => spaced(response.word.word()),
                Given::Absent(_) => words::NOT_RECORDED.to_string(),
            };
            *answers.entry(word).or_default() += 1;
        }
        let counted: Vec<String> = answers.iter().map(|(word, n)| format!("{word} {n}")).collect();
        let days = match (times.first(), times.last()) {
            (Some(first), Some(last)) if first.day == last.day => plain_date(first.day),
            (Some(first), Some(last)) => format!("{} to {}", plain_date(first.day), plain_date(last.day)),
            _ => String::new(),
        };
        let last = times.last().map(|time| response(time.procedure)).unwrap_or_default();
        vec![
            done.what.clone(),
            format!("{}; {}", done.place, done.side.replace(" (left and right)", "")),
            format!("{}, {days}", words::count(times.len(), "time", "times")),
            format!("{}; last: {last}", counted.join(", ")),
        ]
    });
    out.table(
        "What was tried, and the response",
        &["What", "Where, side", "When", "Response"],
        rows.collect(),
        "Nothing is recorded in this copy.",
    );
    if more > 0 {
        out.blocks.push(Block::Words(format!("{}.", summary::left_out(more))));
    }
}

/// One line for each measure and visit: date, measure, before, after.
fn measures(out: &mut Summary, desk: &Desk<'_>) {
    let readable = desk.set.in_order().into_iter().filter(|entry| !desk.misfiled.contains_key(&entry.seq));
    let readable: Vec<Readable<'_>> =
        readable.filter_map(|entry| Some(Readable { seq: entry.seq, record: entry.shown()? })).collect();
    let measures = gather(&readable);
    let from = |source: Source| measures.series.iter().filter(move |one| one.key.source == source);
    let mut series: Vec<&Series> = from(Source::Measured).collect();
    if series.is_empty() {
        series = from(Source::Told).collect();
    }
    // What was measured most often tells most of a course; the order of the record decides between equals.
    series.sort_by_key(|one| (Reverse(one.points.len()), rank(&one.key)));
    let left_out = measures.series.len() - series.len().min(SERIES);
    let mut rows = Vec::new();
    for one in series.iter().take(SERIES) {
        rows.extend(series_rows(&measures, one));
    }
    out.table("Measures over time", &["Date", "Measure", "Before", "After"], rows, "None is in this copy.");
    if left_out > 0 {
        out.blocks.push(Block::Words(format!(
            "Of each measure the first and the last visits with it; {} in the record, and all values.",
            words::count(left_out, "series stands", "series stand")
        )));
    }
}

fn series_rows(measures: &Measures, series: &Series) -> Vec<Vec<String>> {
    let mut rows: Vec<Vec<String>> = Vec::new();
    for (index, row) in measures.rows.iter().enumerate() {
        let cell = cell(measures, series, index);
        let text = |wanted: &[Option<Phase>]| -> String {
            let groups = cell.groups.iter().filter(|(phase, _)| wanted.contains(phase));
            let values = groups.flat_map(|(_, values)| values).map(|value| match value.struck {
                Some(by) => format!("[{}: {}]", value.text, struck_words(by)),
                None => value.text.clone(),
            });
            values.collect::<Vec<_>>().join(", ")
        };
        let (before, after) =
            (text(&[None, Some(Phase::Before), Some(Phase::During)]), text(&[Some(Phase::After)]));
        if before.is_empty() && after.is_empty() {
            continue;
        }
        let dash = |text: String| if text.is_empty() { "-".to_string() } else { text };
        let what = format!("{}, {}", capital(&series.key.words()), series.key.unit_words());
        rows.push(vec![plain_date(row.day), what, dash(before), dash(after)]);
    }
    if rows.len() > VISITS {
        let last = rows.split_off(rows.len() - (VISITS - 1));
        rows.truncate(1);
        rows.extend(last);
    }
    rows
}

fn last_visit(out: &mut Summary, course: &[Read<'_>]) {
    let all = notes(course);
    let Some((read, note)) = all.first() else {
        return out.list("Last visit, and the plan", Vec::new(), "No visit note is in this copy.");
    };
    let mut lines = vec![format!(
        "{}, signed by {}, {} (no. {})",
        read.day(),
        read.record.signed.name,
        spaced(&read.record.signed.role),
        read.seq
    )];
    for complaint in &note.complaints {
        let pain = match &complaint.pain_now {
            Given::Value(number) => format!("pain {number} of 10"),
            Given::Absent(absent) => format!("pain {}", words::because(&absent.because)),
        };
        let mut place: Vec<String> = complaint.region.map(words::region).into_iter().collect();
        place.extend(complaint.side.map(|side| words::side(side).to_string()));
        let place = if place.is_empty() { String::new() } else { format!(" ({})", place.join(", ")) };
        lines.push(format!("{}{place}; {pain}", words::or_not_recorded(&complaint.words)));
    }
    match &note.plan {
        Given::Value(plan) => lines.extend(plan_lines(plan)),
        Given::Absent(absent) => lines.push(format!("Plan: {}", words::because(&absent.because))),
    }
    out.list("Last visit, and the plan", lines, "");
}

fn plan_lines(plan: &Plan) -> Vec<String> {
    let mut next = words::or_not_recorded(&plan.next_step);
    for part in [&plan.frequency, &plan.duration].into_iter().flatten() {
        next.push_str(&format!("; {part}"));
    }
    let mut lines = vec![format!("Plan: {next}")];
    lines.extend(plan.goals.iter().map(|goal| {
        let mut parts = vec![goal.words.clone()];
        parts.extend(goal.measure.clone());
        parts.extend(goal.target.clone());
        parts.extend(goal.by.map(|by| format!("by {}", words::day(by))));
        format!("Goal: {}", parts.join("; "))
    }));
    lines.extend(plan.re_examine_on.map(|on| format!("Re-examination: {}", words::day(on))));
    lines
}

fn screens(out: &mut Summary, course: &[Read<'_>]) {
    let mut all: Vec<(&Read<'_>, &Screen)> = course
        .iter()
        .filter_map(|read| match &read.data {
            Data::Screen(screen) => Some((read, &**screen)),
            _ => None,
        })
        .collect();
    all.reverse();
    let yes = |screen: &Screen| screen.answers.iter().any(|answer| answer.answer == ItemAnswer::Yes);
    let mut lines: Vec<String> =
        all.iter().take(SCREENS).map(|(read, screen)| screen_words(read, screen)).collect();
    let mut earlier = all.iter().skip(SCREENS).filter(|(_, screen)| yes(screen));
    if let Some((last, _)) = earlier.next() {
        let n = 1 + earlier.count();
        lines.push(format!("Earlier screens with a YES: {n}, the last {} (no. {})", last.day(), last.seq));
    }
    let mut closed: Vec<String> = course
        .iter()
        .filter_map(|read| match &read.data {
            Data::ScreenItemClosed(closed) => Some(format!(
                "{}: \"{}\" of no. {} closed (no. {})",
                read.day(),
                spaced(&closed.item),
                closed.screen,
                read.seq
            )),
            _ => None,
        })
        .collect();
    let more = closed.len().saturating_sub(NEWEST);
    lines.extend(closed.drain(more..));
    lines.extend((more > 0).then(|| summary::left_out(more)));
    out.list("Red-flag screens", lines, "None is recorded in this copy.");
}

fn screen_words(read: &Read<'_>, screen: &Screen) -> String {
    let of = |wanted: ItemAnswer| -> Vec<String> {
        let these = screen.answers.iter().filter(|answer| answer.answer == wanted);
        let told = these.map(|answer| match answer.decision {
            Some(decision) => format!("{} ({})", spaced(&answer.item), decision.word()),
            None => spaced(&answer.item),
        });
        told.collect()
    };
    let (yes, not_asked, no) = (of(ItemAnswer::Yes), of(ItemAnswer::NotAsked), of(ItemAnswer::No));
    let mut parts = Vec::new();
    if !yes.is_empty() {
        parts.push(format!("YES: {}", yes.join(", ")));
    }
    if !not_asked.is_empty() {
        parts.push(format!("NOT ASKED: {}", not_asked.join(", ")));
    }
    parts.push(format!("no: {}", words::count(no.len(), "item", "items")));
    format!("{}, {} (no. {}): {}", read.day(), spaced(&screen.screen), read.seq, parts.join("; "))
}

fn adverse(course: &[Read<'_>]) -> Vec<String> {
    let closed: BTreeMap<u64, String> = course
        .iter()
        .filter_map(|read| match &read.data {
            Data::ReactionClosed(closed) => {
                Some((closed.reaction, format!("closed {}: {}", read.day(), closed.outcome)))
            }
            _ => None,
        })
        .collect();
    let mut lines = Vec::new();
    for read in course {
        match &read.data {
            Data::Reaction(reaction) => lines.push(format!(
                "{}: {} ({}), after {}, {}; {} (no. {})",
                read.day(),
                reaction.what,
                reaction.severity.word(),
                words::technique(reaction.technique),
                words::region(reaction.region),
                closed.get(&read.seq).map_or("OPEN in this copy", String::as_str),
                read.seq
            )),
            Data::Visit(note) => {
                lines.extend(note.adverse.iter().filter(|one| one.reaction.is_none()).map(|one| {
                    format!(
                        "{}: {} ({}); outcome: {} (no. {})",
                        read.day(),
                        one.what,
                        one.severity.word(),
                        words::or_not_recorded(&one.outcome),
                        read.seq
                    )
                }))
            }
            _ => {}
        }
    }
    lines
}

fn imaging(course: &[Read<'_>]) -> Vec<String> {
    let told = course.iter().filter_map(|read| match &read.data {
        Data::Attachment(a) if matches!(a.kind, AttachmentKind::XRay | AttachmentKind::ImagingReport) => {
            let made = match &a.made_on {
                Given::Value(day) => words::day(*day),
                Given::Absent(_) => "day not recorded".to_string(),
            };
            let mut parts = vec![format!("{made}: {} ({})", a.title, spaced(a.kind.word()))];
            parts.extend(a.region.map(words::region));
            parts.extend(a.side.map(|side| words::side(side).to_string()));
            parts.push(if a.not_made_here { "not made here" } else { "made here" }.to_string());
            Some(format!("{} (attachment no. {})", parts.join(", "), read.seq))
        }
        _ => None,
    });
    told.collect()
}

fn last_notes(out: &mut Summary, course: &[Read<'_>]) {
    let last: Vec<String> = notes(course)
        .into_iter()
        .take(3)
        .map(|(read, _)| format!("no. {} of {}", read.seq, read.day()))
        .collect();
    out.blocks.push(Block::Words(match last.is_empty() {
        true => "No visit note is in this copy.".to_string(),
        false => format!(
            "The last three notes follow in the record: {}. The rest stands there too.",
            last.join(", ")
        ),
    }));
}
