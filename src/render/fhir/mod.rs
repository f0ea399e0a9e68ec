//! A chart as a FHIR R4 (4.0.1) document: one Bundle that begins with a Composition.
//!
//! Plain data in, bytes out: no clock, no file. The same set gives the same bytes. Entries are told as
//! they read with every correction made; what is withheld shows its reason and nothing else; every
//! entry of the chart is told in resources or in words, or listed. `schema/FHIR.md` is the table.

mod allergy;
mod composition;
mod consent;
mod element;
mod finding;
mod ids;
mod measure;
mod narrative;
mod others;
mod part;
mod people;
mod provenance;
mod resources;
mod set;
mod systems;
mod taken_back;
mod tell;
mod types;
mod visit;

#[cfg(test)]
mod tests;

pub use set::DocumentSet;

use crate::record::kinds::Data;
use composition::{Contents, Shown, composition};
use narrative::Words;
use part::{Part, Section, Told};
use resources::{Bundle, BundleEntry, Resource};
use set::{Chart, Seen};
use std::collections::BTreeMap;
use systems::identifier;
use types::{Reference, date_time};

/// Why a chart can't be told as a document.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DocumentError {
    /// The entry that opens the chart can't be read.
    #[error("the chart's first entry is not open to this person, so it can't be said whose document it is")]
    NoPatient,
    /// The bytes could not be written.
    #[error("the document holds something that JSON can't hold")]
    Json,
}

/// The document of a chart, as UTF-8 JSON with a line end.
///
/// # Errors
/// When the opening of the chart can't be read.
pub fn document(set: &DocumentSet) -> Result<Vec<u8>, DocumentError> {
    let chart = Chart::new(set);
    let bundle = bundle(&chart).ok_or(DocumentError::NoPatient)?;
    let mut bytes = serde_json::to_vec(&bundle).map_err(|_| DocumentError::Json)?;
    bytes.push(b'\n');
    Ok(bytes)
}

fn bundle(chart: &Chart<'_>) -> Option<Bundle> {
    let patient = people::patient(chart)?;
    let chart_no = chart.seen.iter().find_map(|seen| match &seen.data {
        Data::ChartOpened(opened) => Some(opened.chart_no.clone()),
        _ => None,
    })?;
    let last = chart.set.entries.iter().map(|entry| entry.seq).max().unwrap_or_default();
    let (word, number) = chart.set.release.map_or(("working copy", last), |seq| ("release", seq));
    let whole = chart.ids.urn(&format!("composition {word} {number}"));
    let mut gathered = Gathered::of(chart, &whole);
    let sections = composition(chart, &chart_no, &gathered.contents);
    let title = sections.title.clone();
    let mut entry = vec![finished(&whole, Part::new("composition", title, sections), false)];
    entry.push(finished(&chart.ids.urn("patient"), patient, false));
    entry.push(finished(&chart.ids.urn("organization"), people::organization(chart), false));
    let mut rest = std::mem::take(&mut gathered.resources);
    rest.append(&mut gathered.origins);
    for (code, part) in people::practitioners(chart, &chart.codes()) {
        let urn = chart.ids.urn(&format!("practitioner {code}"));
        entry.push(finished(&urn, part, false));
    }
    entry.append(&mut rest);
    keep_what_is_named(&mut entry);
    Some(Bundle {
        id: bare(&chart.ids.urn(&format!("bundle {word} {number}"))),
        identifier: identifier("document", format!("{}/{word} {number}", chart.set.ledger)),
        r#type: "document".to_string(),
        timestamp: date_time(chart.set.at),
        entry,
    })
}

/// People of the practice are in the document only where something in it names them.
fn keep_what_is_named(entry: &mut Vec<BundleEntry>) {
    let named: String = entry
        .iter()
        .filter(|one| !matches!(one.resource, Some(Resource::Practitioner(_))))
        .map(|one| serde_json::to_string(&one.resource).unwrap_or_default())
        .collect();
    entry.retain(|one| {
        !matches!(one.resource, Some(Resource::Practitioner(_))) || named.contains(&one.full_url)
    });
}

fn bare(urn: &str) -> String {
    urn.trim_start_matches("urn:uuid:").to_string()
}

/// A resource with its id and its words, in its place.
fn finished(urn: &str, mut part: Part, corrected: bool) -> BundleEntry {
    let mut words = Words::default();
    words.line(&part.title);
    part.resource.finish(bare(urn), words.done(), corrected.then(others::corrected_tag));
    if let (true, Resource::Observation(one)) = (corrected, &mut part.resource)
        && one.status == "final"
    {
        one.status = "corrected".to_string();
    }
    BundleEntry { full_url: urn.to_string(), resource: Some(part.resource) }
}

/// Every entry of a chart with what it is told in.
struct Gathered<'c, 'a> {
    contents: Contents<'c, 'a>,
    /// Resources made from entries.
    resources: Vec<BundleEntry>,
    /// Where they are from.
    origins: Vec<BundleEntry>,
}

/// What became of an entry: all its names, and those that a correction changed.
#[derive(Default)]
struct Names {
    all: Vec<Reference>,
    changed: Vec<Reference>,
}

impl<'c, 'a> Gathered<'c, 'a> {
    fn of(chart: &'c Chart<'a>, whole: &str) -> Gathered<'c, 'a> {
        let mut out = Gathered {
            contents: Contents { shown: Vec::new(), kept: Vec::new() },
            resources: Vec::new(),
            origins: Vec::new(),
        };
        let mut names: BTreeMap<u64, Names> = BTreeMap::new();
        for seen in &chart.seen {
            if let Data::Correction(_) = seen.data {
                continue;
            }
            match tell::tell(chart, seen, &seen.now, &seen.data) {
                Some(told) => {
                    let named = out.put(chart, seen, told, whole);
                    names.insert(seen.seq(), named);
                }
                None => out.contents.kept.push(seen),
            }
        }
        out.corrections(chart, &names, whole);
        out.contents.kept.sort_by_key(|seen| seen.seq());
        out
    }

    /// One entry: its resources, its place in the sections, and where they are from.
    fn put(&mut self, chart: &Chart<'_>, seen: &'c Seen<'a>, told: Told, whole: &str) -> Names {
        let before = chart.mends.contains_key(&seen.seq()).then(|| as_written(chart, seen));
        let mut names = Names { all: told.shared.clone(), changed: Vec::new() };
        let (mut own, mut titles) = (Vec::new(), Vec::new());
        for part in told.parts {
            let urn = chart.ids.entry(seen.seq(), &part.role);
            let corrected = before.as_ref().is_some_and(|parts| !parts.contains(&part));
            names.all.push(Reference::to(&urn));
            names.changed.extend(corrected.then(|| Reference::to(&urn)));
            titles.push(part.title.clone());
            self.resources.push(finished(&urn, part, corrected));
            own.push(urn);
        }
        if names.all.is_empty() {
            names.all.push(Reference::to(whole));
        }
        let origin = provenance::written(chart, seen, names.all.clone());
        self.origin(chart, seen, origin);
        self.contents.shown.push(Shown { seen, own, place: told.section, titles });
        names
    }

    /// Corrections of what is told. One whose entry is not told here is only listed.
    fn corrections(&mut self, chart: &'c Chart<'a>, names: &BTreeMap<u64, Names>, whole: &str) {
        let mut meant = crate::record::corrected::Meant::default();
        for seen in &chart.seen {
            let Data::Correction(data) = &seen.data else { continue };
            let (target, _) = meant.reached(seen.seq(), data);
            let reached = chart.seen.iter().find(|other| other.seq() == target);
            let (Some(reached), Some(named)) = (reached, names.get(&target)) else {
                self.contents.kept.push(seen);
                continue;
            };
            let mut targets = if named.changed.is_empty() { &named.all } else { &named.changed }.clone();
            if targets.is_empty() {
                targets.push(Reference::to(whole));
            }
            let origin = provenance::corrected(chart, seen, data, reached, targets);
            self.origin(chart, seen, origin);
            let place = Section::Changes;
            self.contents.shown.push(Shown { seen, own: Vec::new(), place, titles: Vec::new() });
        }
        self.contents.shown.sort_by_key(|shown| shown.seen.seq());
    }

    fn origin(&mut self, chart: &Chart<'_>, seen: &Seen<'_>, origin: resources::Provenance) {
        let urn = chart.ids.entry(seen.seq(), "provenance");
        let author = &seen.was.author;
        let title = format!(
            "Entry no. {} was written by {} ({}) on {}",
            seen.seq(),
            author.name,
            author.code,
            seen.was.written.plain()
        );
        self.origins.push(finished(&urn, Part::new("provenance", title, origin), false));
    }
}

/// The parts of an entry as it was first written.
fn as_written(chart: &Chart<'_>, seen: &Seen<'_>) -> Vec<Part> {
    let Ok(data) = seen.was.read_data() else { return Vec::new() };
    tell::tell(chart, seen, seen.was, &data).map_or(Vec::new(), |told| told.parts)
}
