//! Composition: the sections of the document, each with its words and its resources.

use super::narrative::Words;
use super::part::Section as Place;
use super::resources::{Attester, Composition, Event, Section};
use super::set::{Chart, Seen};
use super::systems::{concept, hl7, identifier};
use super::types::{Period, Reference};
use crate::record::kinds::identity::SubstanceStatus;
use crate::record::kinds::{Data, title};
use crate::record::labels::meaning;
use crate::record::show;
use crate::render::words;
use std::collections::BTreeMap;

/// An entry as a section shows it.
pub(super) struct Shown<'c, 'a> {
    /// The entry.
    pub seen: &'c Seen<'a>,
    /// Names of its own resources.
    pub own: Vec<String>,
    /// Where it stands.
    pub place: Place,
    /// What its resources say in words.
    pub titles: Vec<String>,
}

/// The entries of a document, sorted.
pub(super) struct Contents<'c, 'a> {
    /// What is told.
    pub shown: Vec<Shown<'c, 'a>>,
    /// What is kept in the record and only listed.
    pub kept: Vec<&'c Seen<'a>>,
}

/// The sections of a document. `patient` is the patient's chart number.
pub(super) fn composition(chart: &Chart<'_>, chart_no: &str, contents: &Contents<'_, '_>) -> Composition {
    let days = chart.seen.iter().map(|seen| seen.now.happened.start.local_date().to_string());
    let (first, last) = (days.clone().min(), days.max());
    let by = chart.staff(&chart.set.by.code);
    let attester = Attester {
        mode: "professional".to_string(),
        time: Some(super::types::date_time(chart.set.at)),
        party: Some(by.clone()),
    };
    let copy = if chart.set.release.is_some() { "" } else { " (working copy)" };
    Composition {
        identifier: Some(identifier("record", format!("{}/{chart_no}", chart.set.ledger))),
        status: if amended(chart) { "amended" } else { "final" }.to_string(),
        r#type: concept("document", "record-of-treatment"),
        subject: Some(chart.patient()),
        date: super::types::date_time(chart.set.at),
        author: vec![by],
        title: format!("Record of treatment, chart no. {chart_no}{copy}"),
        attester: chart.set.release.is_some().then_some(attester).into_iter().collect(),
        custodian: Some(chart.practice()),
        event: vec![Event { period: Some(Period { start: first, end: last }) }],
        section: sections(chart, contents),
        ..Composition::default()
    }
}

/// True when the record was handed over before, and put right or added to since then.
fn amended(chart: &Chart<'_>) -> bool {
    let this = chart.set.release.unwrap_or(u64::MAX);
    let earlier = chart.seen.iter().filter(|seen| matches!(seen.data, Data::Release(_)) && seen.seq() < this);
    let Some(first) = earlier.map(Seen::seq).min() else { return false };
    let changes = |data: &Data| matches!(data, Data::Correction(_) | Data::Addendum(_) | Data::LateEntry(_));
    chart.seen.iter().any(|seen| seen.seq() > first && changes(&seen.data))
}

fn sections(chart: &Chart<'_>, contents: &Contents<'_, '_>) -> Vec<Section> {
    let mut by_place: BTreeMap<Place, Vec<&Shown<'_, '_>>> = BTreeMap::new();
    for shown in &contents.shown {
        by_place.entry(shown.place).or_default().push(shown);
    }
    // Whoever reads a record looks for allergies even where none were asked about.
    by_place.entry(Place::Allergies).or_default();
    let mut out: Vec<Section> = Vec::new();
    let mut visits: Vec<Section> = Vec::new();
    for (place, shown) in by_place {
        match place {
            Place::Visit(visit) => visits.push(section(chart, place, visit_title(chart, visit), &shown)),
            Place::Allergies => out.push(allergies(chart, &shown)),
            place => {
                out.extend(all_visits(&mut visits, place));
                out.push(section(chart, place, place.title().to_string(), &shown));
            }
        }
    }
    out.extend(all_visits(&mut visits, Place::Openings));
    out.extend(withheld(chart));
    out.extend(kept(chart, &contents.kept));
    out
}

/// The visits together, once the last of them is there.
fn all_visits(visits: &mut Vec<Section>, next: Place) -> Option<Section> {
    (next > Place::Visit(u64::MAX) && !visits.is_empty()).then(|| Section {
        title: Some("Visits, oldest first".to_string()),
        code: Some(concept("section", "visits")),
        section: std::mem::take(visits),
        ..Section::default()
    })
}

fn visit_title(chart: &Chart<'_>, visit: u64) -> String {
    let opened = chart.seen.iter().find(|seen| seen.seq() == visit);
    match opened {
        Some(seen) => format!("Visit of {}, no. {visit}", seen.now.happened.start.plain()),
        None => format!("Visit no. {visit} (its opening is not in this copy)"),
    }
}

fn section(chart: &Chart<'_>, place: Place, title: String, shown: &[&Shown<'_, '_>]) -> Section {
    let mut words = Words::default();
    for one in shown {
        tell(chart, one, &mut words);
    }
    let mut entry: Vec<Reference> = Vec::new();
    if place == Place::Person {
        entry.push(chart.patient());
    }
    entry.extend(shown.iter().flat_map(|one| &one.own).map(|urn| Reference::to(urn)));
    Section {
        title: Some(title),
        code: Some(concept("section", place.word())),
        text: Some(words.done()),
        entry,
        ..Section::default()
    }
}

/// Allergies: nothing asked is another thing than nothing found.
fn allergies(chart: &Chart<'_>, shown: &[&Shown<'_, '_>]) -> Section {
    let mut one = section(chart, Place::Allergies, Place::Allergies.title().to_string(), shown);
    let allergic = chart.seen.iter().any(|seen| match &seen.data {
        Data::AllergyReview(review) => review.substances.values().any(|s| *s == SubstanceStatus::Allergic),
        _ => false,
    });
    if shown.is_empty() && !allergic {
        one.empty_reason = Some(hl7("list-empty-reason", "notasked").into());
    }
    one
}

/// One entry in words: what it is, who wrote it, what became of it, and its lines as they read now.
fn tell(chart: &Chart<'_>, shown: &Shown<'_, '_>, words: &mut Words) {
    let (seen, record) = (shown.seen, &shown.seen.now);
    if shown.place == Place::Openings {
        shown.titles.iter().for_each(|text| words.line(&format!("No. {}: {text}", seen.seq())));
        return;
    }
    words.heading(&heading(seen));
    for mend in chart.mends.get(&seen.seq()).into_iter().flatten() {
        let day = crate::record::moment::plain_date(mend.on);
        words.line(&format!("As put right on {day} by {}: see no. {}.", mend.by, mend.seq));
    }
    for other in &chart.seen {
        if about(&other.data) == Some(seen.seq()) {
            words.line(&format!("{}: see no. {}.", title(&other.now.kind), other.seq()));
        }
    }
    if !record.labels.is_empty() {
        let labels: Vec<String> = record.labels.iter().map(|label| meaning(label, record)).collect();
        words.line(&labels.join("; "));
    }
    words.lines(&show::data_lines(record));
}

fn about(data: &Data) -> Option<u64> {
    match data {
        Data::Addendum(data) => Some(data.target),
        Data::LateEntry(data) => data.target,
        _ => None,
    }
}

fn heading(seen: &Seen<'_>) -> String {
    let record = &seen.now;
    format!(
        "No. {}: {}, {}, {} ({})",
        seen.seq(),
        title(&record.kind),
        words::happened(&record.happened),
        record.author.name,
        record.author.code
    )
}

/// Entries whose contents are not in this copy: each with the reason, and nothing else.
fn withheld(chart: &Chart<'_>) -> Option<Section> {
    let unseen = chart.unseen();
    let one = |(entry, why): (&crate::render::set::PrintedEntry, String)| {
        let mut words = Words::default();
        words.line(&format!("No. {}: {why}.", entry.seq));
        let reason = if entry.withheld.is_some() { "withheld" } else { "unavailable" };
        Section {
            title: Some(format!("Entry no. {}", entry.seq)),
            code: Some(concept("section", "not-in-this-copy")),
            text: Some(words.done()),
            empty_reason: Some(hl7("list-empty-reason", reason).into()),
            ..Section::default()
        }
    };
    (!unseen.is_empty()).then(|| Section {
        title: Some("Not in this copy".to_string()),
        code: Some(concept("section", "not-in-this-copy")),
        section: unseen.into_iter().map(one).collect(),
        ..Section::default()
    })
}

/// Entries that have no place in the resources of this document.
fn kept(chart: &Chart<'_>, kept: &[&Seen<'_>]) -> Option<Section> {
    if kept.is_empty() {
        return None;
    }
    let mut words = Words::default();
    words.line("These entries stand in full in the sealed record and in its printed copy.");
    kept.iter().for_each(|seen| words.line(&heading(seen)));
    let entry = kept.iter().map(|seen| Reference {
        identifier: Some(identifier("entry", chart.ids.number(seen.seq()))),
        display: Some(format!("No. {}: {}", seen.seq(), title(&seen.now.kind))),
        ..Reference::default()
    });
    Some(Section {
        title: Some("Kept in the record, not expressed here".to_string()),
        code: Some(concept("section", "kept")),
        text: Some(words.done()),
        entry: entry.collect(),
        ..Section::default()
    })
}
