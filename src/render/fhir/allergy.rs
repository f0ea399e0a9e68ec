//! Observation and AllergyIntolerance of a review, and Flag of an alert.

use super::measure::absent;
use super::part::{Part, Section, Told};
use super::resources::{AllergyIntolerance, AllergyReaction, Component, Flag, Observation};
use super::set::{Chart, Seen};
use super::systems::{Place, concept, hl7};
use super::types::{CodeableConcept, Period, date, date_time, said};
use super::visit::remark;
use crate::record::kinds::identity::{Alert, AllergyReview, SubstanceStatus};
use crate::record::kinds::{Data, Day};
use crate::render::words;

/// A review of allergies and sensitivities: what was asked, and each substance the patient is allergic to.
pub(super) fn review(chart: &Chart<'_>, seq: u64, seen: &Seen<'_>, data: &AllergyReview) -> Told {
    let mut parts = vec![asked(chart, seq, seen, data)];
    // One for each substance, from the newest review that says so.
    let allergic = data.substances.iter().filter(|(substance, status)| {
        let again = chart.seen.iter().any(|other| match &other.data {
            Data::AllergyReview(later) => {
                other.seq() > seq && later.substances.get(*substance) == Some(&SubstanceStatus::Allergic)
            }
            _ => false,
        });
        **status == SubstanceStatus::Allergic && !again
    });
    for (index, (substance, _)) in allergic.enumerate() {
        parts.push(intolerance(chart, seq, seen, data, (index, substance)));
    }
    Told::parts(Section::Allergies, parts)
}

fn asked(chart: &Chart<'_>, seq: u64, seen: &Seen<'_>, data: &AllergyReview) -> Part {
    let part = |(substance, status): (&String, &SubstanceStatus)| {
        let mut one = Component { code: concept("substance", substance), ..Component::default() };
        match status {
            SubstanceStatus::Unknown => one.data_absent_reason = Some(absent("unknown", "not known")),
            known => one.value_codeable_concept = Some(concept("substance-status", known.word())),
        }
        one
    };
    let done_on = data.reviewed_on.value().copied().map(date);
    let mut one = Observation {
        identifier: vec![chart.of_entry(seq, "allergy-review")],
        status: if done_on.is_some() { "final" } else { "cancelled" }.to_string(),
        category: vec![hl7("observation-category", "survey").into()],
        code: concept("review", "allergy-review"),
        subject: Some(chart.patient()),
        effective_date_time: Some(done_on.unwrap_or_else(|| date_time(seen.now.happened.start))),
        performer: vec![chart.staff(&seen.now.author.code)],
        component: data.substances.iter().map(part).collect(),
        ..Observation::default()
    };
    one.data_absent_reason = data.reviewed_on.because().map(|because| absent("not-performed", because));
    one.note.extend(data.told_by.iter().filter_map(|t| said(t)).map(|t| remark(&format!("Told by: {t}"))));
    let list: Vec<String> = data
        .substances
        .iter()
        .map(|(substance, status)| format!("{}: {}", words::spaced(substance), words::spaced(status.word())))
        .collect();
    Part::new("allergy-review", format!("Allergies asked about: {}", list.join("; ")), one)
}

fn intolerance(
    chart: &Chart<'_>,
    seq: u64,
    seen: &Seen<'_>,
    data: &AllergyReview,
    (index, substance): (usize, &String),
) -> Part {
    let role = format!("allergy-{}", index + 1);
    let later = last_word(chart, substance).filter(|(last, _)| *last > seq);
    let (clinical, verified) = match later {
        // A later review says otherwise: no longer held to be one.
        Some((_, SubstanceStatus::NotAllergic)) => ("inactive", Some("refuted")),
        Some((_, SubstanceStatus::Unknown)) => ("active", Some("unconfirmed")),
        // The record says no more than that it was told.
        _ => ("active", None),
    };
    let details = data.details.iter().filter(|detail| detail.substance == *substance);
    let one = AllergyIntolerance {
        identifier: vec![chart.of_entry(seq, &role)],
        clinical_status: Some(hl7("allergyintolerance-clinical", clinical).into()),
        verification_status: verified.map(|word| hl7("allergyintolerance-verification", word).into()),
        code: Some(concept("substance", substance)),
        patient: chart.patient(),
        recorded_date: Some(date_time(seen.now.written)),
        recorder: Some(chart.staff(&seen.now.author.code)),
        reaction: details
            .filter_map(|detail| {
                let mut more: Vec<String> = Vec::new();
                more.extend(detail.when.iter().map(|t| format!("When: {t}")));
                more.extend(detail.place.iter().map(|t| format!("Where: {t}")));
                Some(AllergyReaction {
                    manifestation: vec![CodeableConcept::words(&said(&detail.reaction)?)],
                    description: said(&detail.reaction),
                    severity: detail.severity.map(|severity| severity.word().to_string()),
                    note: more.iter().map(|text| remark(text)).collect(),
                })
            })
            .collect(),
        ..AllergyIntolerance::default()
    };
    let what = if verified == Some("refuted") { "No longer held to be allergic to" } else { "Allergic to" };
    Part::new(role, format!("{what}: {}", words::spaced(substance)), one)
}

/// The newest review that says anything of a substance.
fn last_word(chart: &Chart<'_>, substance: &str) -> Option<(u64, SubstanceStatus)> {
    chart.seen.iter().rev().find_map(|seen| match &seen.data {
        Data::AllergyReview(review) => Some((seen.seq(), *review.substances.get(substance)?)),
        _ => None,
    })
}

/// Something always to be minded. It is over after its last day, or that of the entry that ends it.
pub(super) fn flag(chart: &Chart<'_>, seen: &Seen<'_>, data: &Alert) -> Told {
    if let Some(ended) = data.ends
        && chart.data(ended).is_some()
    {
        let flag = super::types::Reference::to(&chart.ids.entry(ended, "alert"));
        return Told::shared(Section::Minded, vec![flag]);
    }
    let ended_by = chart.seen.iter().find_map(|other| match &other.data {
        Data::Alert(end) if end.ends == Some(seen.seq()) => {
            Some(end.until.unwrap_or(Day(other.now.happened.start.local_date())))
        }
        _ => None,
    });
    let until = ended_by.or(data.until);
    let over = until.is_some_and(|day| day.0 < chart.set.at.local_date());
    let place = Place { region: data.region, segment: data.segment, side: data.side, structure: None };
    let mut text = vec![words::spaced(&data.kind)];
    text.extend(place.concept().and_then(|place| place.text));
    text.extend(data.words.clone());
    text.extend(data.told_by.as_ref().map(|by| format!("told by {by}")));
    let end = until.filter(|day| *day >= data.from).map(date);
    let one = Flag {
        identifier: vec![chart.of_entry(seen.seq(), "alert")],
        status: if over { "inactive" } else { "active" }.to_string(),
        category: vec![hl7("flag-category", "safety").into()],
        code: CodeableConcept { text: said(&text.join(", ")), ..concept("alert", &data.kind) },
        subject: chart.patient(),
        period: Some(Period { start: Some(date(data.from)), end }),
        author: Some(chart.staff(&seen.now.author.code)),
        ..Flag::default()
    };
    Told::parts(Section::Minded, vec![Part::new("alert", text.join(", "), one)])
}
