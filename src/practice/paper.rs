//! Old paper: what the index says of a paper chart, the scans of it, what was checked, and what became of the originals.

use super::open::Entry;
use crate::record::kinds::Data;
use crate::record::kinds::papers::{PaperChart, PaperOriginal, PaperState};
use crate::trouble::{Kind, Outcome, Trouble};
use schemars::JsonSchema;
use serde::Serialize;

/// One scan of a paper chart.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Scan {
    /// Number of the attachment.
    pub entry: u64,
    /// Pages counted in it; null where nobody counted.
    pub pages: Option<u32>,
    /// False when not all of it can be read.
    pub legible: bool,
}

/// A paper chart, as far as this person's role opens what belongs to it.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Paper {
    /// Number of its index entry.
    pub entry: u64,
    /// What the index says.
    pub index: PaperChart,
    /// Its scans.
    pub scans: Vec<Scan>,
    /// Number of the entry by which the scan was checked, after the last scan came in; null where it was not.
    pub checked: Option<u64>,
    /// What became of the originals last, with the number of the entry.
    pub fate: Option<(u64, PaperOriginal)>,
    /// What does not agree, in words.
    pub differences: Vec<String>,
}

/// The paper charts of a chart.
pub fn papers(entries: &[Entry]) -> Vec<Paper> {
    let mut papers: Vec<Paper> = Vec::new();
    let mut counted: Vec<(u64, u32)> = Vec::new();
    for entry in entries {
        let seq = entry.leaf.seq;
        match entry.data() {
            Some(Data::PaperChart(index)) => papers.push(Paper {
                entry: seq,
                index: *index,
                scans: Vec::new(),
                checked: None,
                fate: None,
                differences: Vec::new(),
            }),
            Some(Data::Attachment(data)) => {
                let scan = Scan { entry: seq, pages: data.pages, legible: data.legible };
                for paper in papers.iter_mut().filter(|paper| data.about.contains(&paper.entry)) {
                    paper.scans.push(scan.clone());
                    // Pages that came later were not looked at.
                    paper.checked = None;
                }
            }
            Some(Data::PaperOriginal(done)) => {
                let Some(paper) = papers.iter_mut().find(|paper| paper.entry == done.paper) else { continue };
                match done.state {
                    PaperState::Checked => {
                        paper.checked = Some(seq);
                        counted.retain(|(of, _)| *of != paper.entry);
                        counted.extend(done.pages.map(|pages| (paper.entry, pages)));
                    }
                    _ => paper.fate = Some((seq, *done)),
                }
            }
            _ => {}
        }
    }
    for paper in &mut papers {
        let looked = counted.iter().find(|(of, _)| *of == paper.entry).map(|(_, pages)| *pages);
        paper.differences = differences(paper, looked);
    }
    papers
}

/// What does not agree between the paper, its scans, and the look through them.
fn differences(paper: &Paper, looked: Option<u32>) -> Vec<String> {
    let mut found = Vec::new();
    let said = paper.index.pages;
    if paper.scans.is_empty() {
        return found;
    }
    let uncounted = paper.scans.iter().filter(|scan| scan.pages.is_none()).count();
    if uncounted > 0 {
        found.push(format!("the pages of {uncounted} scan(s) were not counted"));
    }
    let scanned: u32 = paper.scans.iter().filter_map(|scan| scan.pages).sum();
    let compare = |what: &str, pages: u32| match pages.cmp(&said) {
        std::cmp::Ordering::Less => {
            Some(format!("{what} {pages} pages, the paper has {said}: {} missing", said - pages))
        }
        std::cmp::Ordering::Greater => {
            Some(format!("{what} {pages} pages, the paper has {said}: {} too many", pages - said))
        }
        std::cmp::Ordering::Equal => None,
    };
    if uncounted == 0 {
        found.extend(compare("the scans have", scanned));
    }
    if paper.checked.is_some() {
        found.extend(looked.and_then(|pages| compare("looked through were", pages)));
    }
    for scan in paper.scans.iter().filter(|scan| !scan.legible) {
        found.push(format!("not all of scan {} can be read", scan.entry));
    }
    found
}

/// Refuses to have originals destroyed that may still be needed. What is gone already is recorded with a reason.
///
/// # Errors
/// When there is no such paper chart, or its scan is missing, differs or was not checked, and no reason is given.
pub fn may_destroy(papers: &[Paper], done: &PaperOriginal) -> Outcome<()> {
    let paper = papers.iter().find(|paper| paper.entry == done.paper).ok_or_else(|| {
        Trouble::new(
            Kind::NotFound,
            format!("Entry {} is no paper chart of this chart.", done.paper),
            "Nothing was recorded.",
            "Look at `inkfast paper list`.",
        )
    })?;
    if done.state != PaperState::Destroyed || done.unchecked_because.is_some() {
        return Ok(());
    }
    let mut against = paper.differences.clone();
    if paper.scans.is_empty() {
        against.push("there is no scan of it".to_string());
    } else if paper.checked.is_none() {
        against.push("nobody has checked the scan against it".to_string());
    }
    if against.is_empty() {
        return Ok(());
    }
    Err(Trouble::new(
        Kind::Refused,
        format!("The originals are still needed: {}.", against.join("; ")),
        "Nothing was recorded.",
        "Scan and check first (`inkfast paper original --state checked`). If the paper is gone already, say why with \
         --unchecked-because: it stands there for ever.",
    ))
}
