//! What is worth a question about the visit as a whole: its times, its numbers, its words.

use super::missing_care::is_vital;
use super::{About, Review, ReviewId as R};
use crate::record::kinds::register::{OpeningHours, Weekday};
use crate::record::kinds::screening::{MeasureKind, Measured, Phase};
use crate::record::likeness::percent;
use crate::record::moment::Moment;
use std::collections::BTreeSet;

pub(super) fn look(review: &mut Review<'_>) {
    opening_gain(review);
    identical_vitals(review);
    same_as_last(review);
    overlap(review);
    hours(review);
    for reaction in &review.sheet.open_reactions {
        review.tell(R::ReactionOpen, About::entry(reaction.seq), reaction.data.what.clone());
    }
}

/// Every way in which mouth opening is measured.
pub(super) const OPENINGS: [MeasureKind; 4] = [
    MeasureKind::MouthOpening,
    MeasureKind::MouthOpeningPainFree,
    MeasureKind::MouthOpeningUnassisted,
    MeasureKind::MouthOpeningAssisted,
];

fn opening_gain(review: &mut Review<'_>) {
    let most = review.rules.questions.opening_gain_mm;
    for kind in OPENINGS {
        let of = |phase| {
            let all = review.measures().filter(|(p, m)| *p == Some(phase) && m.kind == kind);
            all.map(|(_, m)| m.value.get()).last()
        };
        if let (Some(before), Some(after)) = (of(Phase::Before), of(Phase::After))
            && after - before > most
        {
            let about = About::name(kind.word());
            review.tell(R::OpeningGain, about, format!("from {before} to {after} mm"));
        }
    }
}

/// Vital signs as comparable words, in any order.
fn vitals<'m>(measures: impl Iterator<Item = &'m Measured>) -> BTreeSet<String> {
    let vital = measures.filter(|m| is_vital(m.kind));
    vital
        .map(|m| {
            let second = m.second_value.as_ref().map(|v| v.get().to_string()).unwrap_or_default();
            format!("{} {} {second}", m.kind.word(), m.value.get())
        })
        .collect()
}

fn identical_vitals(review: &mut Review<'_>) {
    let sheet = review.sheet;
    let running = review.rules.questions.identical_vitals_visits;
    let today = vitals(review.measures().map(|(_, m)| m));
    if today.is_empty() || running < 2 {
        return;
    }
    let before = sheet.earlier.iter().rev().take(running - 1);
    let same = before
        .filter(|visit| {
            vitals(visit.note.measures.iter().map(|m| &m.measured).chain(&visit.measures)) == today
        })
        .count();
    if same + 1 == running {
        review.tell(R::IdenticalVitals, About::note(), format!("{running} visits running"));
    }
}

fn same_as_last(review: &mut Review<'_>) {
    let sheet = review.sheet;
    let Some(last) = sheet.earlier.last() else { return };
    let Some(alike) = percent(&sheet.note, &last.note) else { return };
    if alike > review.rules.questions.same_as_last_percent {
        review.tell(R::SameAsLast, About::entry(last.seq), format!("{alike} percent the same"));
    }
}

fn overlap(review: &mut Review<'_>) {
    let sheet = review.sheet;
    let most = review.rules.questions.rooms_overlap_minutes;
    let Some(room) = &sheet.opening.place else { return };
    for other in &sheet.others {
        let mine =
            other.practitioner == sheet.signer || sheet.note.practitioners.contains(&other.practitioner);
        let elsewhere = other.room.as_ref().is_some_and(|r| !r.trim().eq_ignore_ascii_case(room.trim()));
        let (from, until) = (other.from.max(sheet.happened.start), other.until.min(sheet.ended()));
        let minutes = (until.unix() - from.unix()) / 60;
        if mine && elsewhere && minutes > most {
            let there = other.room.as_deref().unwrap_or_default();
            let more = format!("{minutes} minutes, {} in {there}", other.practitioner);
            review.tell(R::VisitsOverlap, About::note(), more);
        }
    }
}

fn hours(review: &mut Review<'_>) {
    let (sheet, questions) = (review.sheet, &review.rules.questions);
    let spans: Vec<(String, String)> = match sheet.hours.is_empty() {
        // Where the practice stated no hours by day, the rules' own hold for every day.
        true => vec![(questions.open_from.clone(), questions.open_until.clone())],
        false => sheet
            .hours
            .iter()
            .filter(|h| is_day(h, sheet))
            .map(|h| (h.from.clone(), h.until.clone()))
            .collect(),
    };
    let (start, end) = (clock(sheet.happened.start), clock(sheet.ended()));
    let inside = |(from, until): &(String, String)| *from <= start && end <= *until;
    let same_day = sheet.ended().local_date() == sheet.day();
    if !same_day || !spans.iter().any(inside) {
        review.tell(R::OutsideHours, About::note(), format!("{start} to {end}"));
    }
}

fn is_day(hours: &OpeningHours, sheet: &super::VisitSheet) -> bool {
    use jiff::civil::Weekday as W;
    let day = match sheet.day().weekday() {
        W::Monday => Weekday::Monday,
        W::Tuesday => Weekday::Tuesday,
        W::Wednesday => Weekday::Wednesday,
        W::Thursday => Weekday::Thursday,
        W::Friday => Weekday::Friday,
        W::Saturday => Weekday::Saturday,
        W::Sunday => Weekday::Sunday,
    };
    hours.day == day
}

/// Hours and minutes as written, which sort as text.
fn clock(at: Moment) -> String {
    let (hour, minute) = at.local_time();
    format!("{hour:02}:{minute:02}")
}
