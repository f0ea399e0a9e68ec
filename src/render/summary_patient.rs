//! Two pages for the patient: what was done when, where and on which side; what was agreed, refused and
//! taken back, and why; who received copies; a small glossary; how to check the copy.
//!
//! Made from the parts of the record that have a fixed form (times, places, sides, choices) and from the
//! reasons that the patient gave. The words of the notes are not told again: a retelling could change
//! them.

use super::back::CHECK;
use super::copies::{basis, copies};
use super::course::{Read, days, left_undone, not_shown, procedures, read};
use super::entry::Desk;
use super::set::PrintedSet;
use super::summary::{self, Block, NOT_THE_RECORD, Summary};
use super::timeline;
use super::words::{self, capital, spaced};
use crate::record::kinds::consent::ConsentStatus;
use crate::record::kinds::withdrawal::{Asked, AskedAnswer, StandingRefusal, Withdrawal, YesNo};
use crate::record::kinds::{Data, Given};
use crate::record::moment::plain_date;
use std::collections::BTreeSet;

/// Words that the summary may use, and what each means.
const GLOSSARY: [(&str, &str); 12] = [
    ("joint mobilization", "slow, repeated movement of a joint within its range"),
    ("thrust", "one quick, short movement of a joint"),
    ("soft-tissue work", "hands on muscle and skin"),
    ("work inside the mouth", "gloved fingers on muscles within the mouth"),
    ("traction", "a steady pull along a joint"),
    ("taping", "elastic or firm tape on the skin"),
    ("examination", "looking, asking, touching and testing, without treating"),
    ("left side", "always your own left"),
    ("right side", "always your own right"),
    ("REFUSED", "you never want it, whatever else is agreed, until you say otherwise by name"),
    ("WITHDRAWN", "you took back what you had agreed to; from then on it no longer held"),
    ("no.", "the number of the entry in the record, to look it up"),
];

/// Rows and lines that two pages have room for, part by part.
const DONE: usize = 14;
const AGREED: usize = 12;
const UNDONE: usize = 5;
const REFUSED: usize = 8;
const REACTIONS: usize = 6;
const CHANGES: usize = 8;
const COPIES: usize = 8;

/// The summary as a page.
pub fn page(set: &PrintedSet) -> String {
    summary::html(set, &summary(set))
}

/// The summary.
pub fn summary(set: &PrintedSet) -> Summary {
    let desk = Desk::new(set);
    let course = read(&desk);
    let mut out = Summary { title: "Summary for the patient".to_string(), small: false, blocks: Vec::new() };
    opening(&mut out, &desk, &course);
    done(&mut out, &course);
    agreed(&mut out, &desk, &course);
    out.newest(
        "Reactions after treatment",
        course.iter().filter_map(reaction).collect(),
        REACTIONS,
        "None is recorded in this copy.",
    );
    let changes: Vec<String> = course.iter().flat_map(change_asked).collect();
    if !changes.is_empty() {
        out.newest("Changes you asked for in this record", changes, CHANGES, "");
    }
    let copies = copies(&desk);
    let received = copies.iter().map(|copy| {
        format!(
            "{}: {} ({}; no. {})",
            plain_date(copy.at.local_date()),
            copy.release.to,
            basis(&copy.release),
            copy.seq
        )
    });
    out.newest(
        "Who received copies",
        received.collect(),
        COPIES,
        "No copy is recorded in this chart so far.",
    );
    glossary(&mut out);
    out.blocks.push(Block::Heading("How to check this copy: ten lines for you or a relative".to_string()));
    out.blocks.push(Block::Steps(CHECK.iter().map(|line| (*line).to_string()).collect()));
    out
}

fn opening(out: &mut Summary, desk: &Desk<'_>, course: &[Read<'_>]) {
    out.blocks.push(Block::Strong(NOT_THE_RECORD.to_string()));
    let mut words = "The program put it together from the dates, places, sides and answers in the record, and from \
                     the reasons you gave. It leaves out the words of the notes. Where it and the record differ, the \
                     record counts."
        .to_string();
    match not_shown(desk) {
        0 => {}
        1 => words.push_str(" The contents of 1 entry are not in this copy, and nothing of them is told here: the cover slip of the record says why."),
        many => words.push_str(&format!(" The contents of {many} entries are not in this copy, and nothing of them is told here: the cover slip of the record says why.")),
    }
    out.blocks.push(Block::Words(words));
    let practice = desk.set.practice.as_ref();
    let visits: BTreeSet<u64> = course.iter().filter_map(Read::note).map(|note| note.visit).collect();
    let notes: Vec<&Read<'_>> = course.iter().filter(|read| read.note().is_some()).collect();
    let mut by: Vec<String> = Vec::new();
    for read in &notes {
        let name = format!("{} ({})", read.record.signed.name, spaced(&read.record.signed.role));
        if !by.contains(&name) {
            by.push(name);
        }
    }
    let span = match (notes.first(), notes.last()) {
        (Some(first), Some(last)) => format!(", {} to {}", first.day(), last.day()),
        _ => String::new(),
    };
    let whose = format!(
        "{}, born {}, chart no. {}",
        desk.set.patient.name, desk.set.patient.birth, desk.set.patient.chart_no
    );
    let mut lines = vec![format!("Whose record: {whose}")];
    lines.extend(practice.map(|practice| format!("Kept by: {}, {}", practice.practice, practice.address)));
    lines.push(format!("Visits with a note: {}{span}", visits.len()));
    if !by.is_empty() {
        lines.push(format!("Notes signed by: {}", by.join("; ")));
    }
    out.blocks.push(Block::List(lines));
}

fn done(out: &mut Summary, course: &[Read<'_>]) {
    let mut all = procedures(course);
    // Of very many the ones done last; the record has all.
    let mut last: Vec<_> = all.iter().map(|done| done.times.last().map(|time| time.day)).collect();
    last.sort_unstable();
    let since = last.len().checked_sub(DONE).and_then(|more| last.get(more).copied().flatten());
    let before = all.len();
    all.retain(|done| since.is_none_or(|since| done.times.last().is_some_and(|time| time.day >= since)));
    let more = before - all.len();
    let rows = all
        .into_iter()
        .map(|done| {
            let days = days(&done.times);
            vec![done.what, done.place, done.side, days]
        })
        .collect();
    out.table(
        "What was done",
        &["What", "Where", "Which side", "On which days"],
        rows,
        "No procedure is recorded in this copy.",
    );
    if more > 0 {
        out.blocks.push(Block::Words(format!("{}.", summary::left_out(more))));
    }
    let undone: Vec<String> = course
        .iter()
        .filter_map(|read| Some((read, read.note()?)))
        .flat_map(|(read, note)| {
            note.deferred.iter().map(move |one| format!("{}: {}", read.day(), left_undone(one)))
        })
        .collect();
    if !undone.is_empty() {
        out.newest("What was left undone, and why", undone, UNDONE, "");
    }
}

fn agreed(out: &mut Summary, desk: &Desk<'_>, course: &[Read<'_>]) {
    let mut rows: Vec<Vec<String>> = timeline::rows(desk)
        .into_iter()
        .map(|row| vec![row.what, row.place, row.side, row.bars.join("; ")])
        .collect();
    let more = rows.len().saturating_sub(AGREED);
    rows.drain(..more);
    out.table(
        "What you agreed to, and until when",
        &["What", "Where", "Which side", "Given, ended, taken back"],
        rows,
        "No consent is recorded in this copy.",
    );
    if more > 0 {
        out.blocks.push(Block::Words(format!("{}.", summary::left_out(more))));
    }
    out.newest(
        "What you refused or took back, and why",
        course.iter().filter_map(refused).collect(),
        REFUSED,
        "Nothing is recorded in this copy.",
    );
}

fn scope(techniques: Option<String>, regions: Option<String>, side: Option<&str>) -> String {
    let mut parts = vec![techniques.unwrap_or_else(|| "all techniques".to_string())];
    parts.push(regions.unwrap_or_else(|| "everywhere".to_string()));
    parts.extend(side.map(str::to_string));
    parts.join(", ")
}

/// One refusal or withdrawal in words.
fn refused(read: &Read<'_>) -> Option<String> {
    let at = read.at.plain();
    let said = match &read.data {
        Data::Withdrawal(taken) => taken_back(taken),
        Data::StandingRefusal(refusal) => standing(refusal),
        Data::Consent(consent) if consent.status == ConsentStatus::Declined => {
            let why = consent.declined_because.clone().or_else(|| consent.patient_words.clone());
            let what = scope(
                Some(if consent.techniques.is_empty() {
                    spaced(consent.kind.word())
                } else {
                    words::list(&consent.techniques, words::technique)
                }),
                (!consent.regions.is_empty()).then(|| words::list(&consent.regions, words::region)),
                consent.side.map(words::side),
            );
            format!("declined: {what}. {}", why_words(why.as_deref()))
        }
        Data::Asked(asked) if asked.answer != AskedAnswer::Yes => asked_words(asked),
        Data::OwnAnswer(own) if own.answer == YesNo::No => {
            let about = own.about.as_deref().unwrap_or("the visit");
            format!("the patient's own answer about {about}: NO. {}", why_words(own.words.as_deref()))
        }
        _ => return None,
    };
    Some(format!("{at} (no. {}): {said}", read.seq))
}

fn why_words(why: Option<&str>) -> String {
    match why.map(str::trim).filter(|why| !why.is_empty()) {
        // What was written down between quotation marks has them already.
        Some(why) if why.contains('"') => format!("In the words recorded: {why}"),
        Some(why) => format!("In the words recorded: \"{why}\""),
        None => "No reason is recorded; none is needed.".to_string(),
    }
}

fn taken_back(taken: &Withdrawal) -> String {
    let what = if taken.techniques.is_none() && taken.regions.is_none() && !taken.consent_kinds.is_empty() {
        let kinds: Vec<String> = taken.consent_kinds.iter().map(|kind| spaced(kind.word())).collect();
        kinds.join(", ")
    } else {
        scope(
            taken.techniques.as_ref().map(|list| words::list(list, words::technique)),
            taken.regions.as_ref().map(|list| words::list(list, words::region)),
            taken.side.map(words::side),
        )
    };
    let why = match &taken.patient_words {
        Given::Value(words) => Some(words.as_str()),
        Given::Absent(_) => None,
    };
    format!("took back: {what}. {}", why_words(why))
}

fn standing(refusal: &StandingRefusal) -> String {
    let what = scope(
        refusal.techniques.as_ref().map(|list| words::list(list, words::technique)),
        refusal.regions.as_ref().map(|list| words::list(list, words::region)),
        refusal.side.map(words::side),
    );
    format!("refused for good: {what}. {}", why_words(refusal.words.as_deref()))
}

fn asked_words(asked: &Asked) -> String {
    let what = scope(
        Some(words::technique(asked.technique)),
        Some(words::region(asked.region)),
        Some(words::side(asked.side)),
    );
    if asked.answer == AskedAnswer::No {
        format!("asked on the day, and said NO: {what}. {}", why_words(asked.words.as_deref()))
    } else {
        let limit = asked.limit_words.as_deref().unwrap_or(words::NOT_RECORDED);
        format!("asked on the day, and said yes with a limit: {what}. The limit: {limit}")
    }
}

fn reaction(read: &Read<'_>) -> Option<String> {
    match &read.data {
        Data::Reaction(reaction) => Some(format!(
            "{} (no. {}): {}, {}; after {}, {}{}",
            read.day(),
            read.seq,
            reaction.what,
            reaction.severity.word(),
            words::technique(reaction.technique),
            words::region(reaction.region),
            reaction.side.map(|side| format!(", {}", words::side(side))).unwrap_or_default()
        )),
        Data::ReactionClosed(closed) => Some(format!(
            "{} (no. {}): closes no. {}: {}",
            read.day(),
            read.seq,
            closed.reaction,
            closed.outcome
        )),
        _ => None,
    }
}

/// What was asked to be changed, and what became of it.
fn change_asked(read: &Read<'_>) -> Vec<String> {
    match &read.data {
        Data::AmendmentRequest(request) => {
            let points = request.points.iter().map(|point| {
                format!(
                    "{} (no. {}): point {}, asked: {}",
                    words::day(request.received_on),
                    read.seq,
                    point.no,
                    point.text
                )
            });
            points.collect()
        }
        Data::AmendmentDecision(decision) => {
            let points = decision.points.iter().map(|point| {
                format!(
                    "{} (no. {}): point {} of no. {}: {}",
                    read.day(),
                    read.seq,
                    point.no,
                    decision.request,
                    point.decision.word().to_uppercase()
                )
            });
            points.collect()
        }
        Data::Disagreement(one) => {
            vec![format!(
                "{} (no. {}): your statement of disagreement, about no. {}",
                read.day(),
                read.seq,
                one.request
            )]
        }
        Data::Rebuttal(one) => {
            vec![format!(
                "{} (no. {}): the practice's answer to it, no. {}",
                read.day(),
                read.seq,
                one.disagreement
            )]
        }
        _ => Vec::new(),
    }
}

/// The words of the glossary that this summary uses.
fn glossary(out: &mut Summary) {
    let text = summary::text(out).join("\n");
    let lower = text.to_lowercase();
    let used = GLOSSARY.iter().filter(|(word, _)| {
        if word.chars().any(char::is_lowercase) { lower.contains(word) } else { text.contains(word) }
    });
    let lines: Vec<String> = used.map(|(word, meaning)| format!("{}: {meaning}", capital(word))).collect();
    out.list("What the words mean", lines, "");
}
