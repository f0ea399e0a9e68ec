//! What a note lacks, what in it cannot be, what is worth a question, and what it will be marked with for
//! ever: all said before it is signed. A review is worked out from the note and what lies around it, and
//! nothing in it speaks about people.

mod answers;
mod asks;
mod asks_care;
mod flags;
mod items;
mod missing_care;
mod missing_consent;
mod missing_note;
mod part;
mod payer;
mod refuse;
pub mod sheet;
mod table;
#[cfg(test)]
mod tests;

pub use items::{Level, ReviewId, VisitClass};
pub use sheet::{VisitSheet, draft};

use crate::record::kinds::consent::{Consent, ConsentStatus};
use crate::record::kinds::procedure::Procedure;
use crate::record::kinds::screening::{Measured, Phase};
use crate::record::kinds::visit::VisitSort;
use crate::record::rulebook::{NoteRules, RuleBook};
use crate::record::vocab::{Side, Technique};
use schemars::JsonSchema;
use serde::Serialize;
use sheet::Dated;
use std::collections::BTreeSet;

/// What a remark is about, as far as one part of the note or one entry is meant.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, JsonSchema)]
pub struct About {
    /// Number of the procedure in the note.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub procedure: Option<u32>,
    /// Number of the finding in the note.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub finding: Option<u32>,
    /// Number of the complaint in the note.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub complaint: Option<u32>,
    /// Number of an entry of the chart: a consent, a withdrawal, a reaction.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub entry: Option<u64>,
    /// A name: of a screen, a region, a part of the note.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
}

impl About {
    /// The note as a whole.
    pub fn note() -> About {
        About::default()
    }
    /// A procedure.
    pub fn procedure(no: u32) -> About {
        About { procedure: Some(no), ..About::default() }
    }
    /// A finding.
    pub fn finding(no: u32) -> About {
        About { finding: Some(no), ..About::default() }
    }
    /// A complaint.
    pub fn complaint(no: u32) -> About {
        About { complaint: Some(no), ..About::default() }
    }
    /// An entry of the chart.
    pub fn entry(seq: u64) -> About {
        About { entry: Some(seq), ..About::default() }
    }
    /// Something with a name.
    pub fn name(name: impl Into<String>) -> About {
        About { name: Some(name.into()), ..About::default() }
    }

    /// The part behind the item's word that tells it from others of its kind; empty for the whole note.
    fn key(&self) -> String {
        let number = self.procedure.or(self.finding).or(self.complaint).map(u64::from).or(self.entry);
        number.map(|n| n.to_string()).or_else(|| self.name.clone()).unwrap_or_default()
    }

    /// In words, for people.
    pub fn words(&self) -> String {
        match (self.procedure, self.finding, self.complaint, self.entry, &self.name) {
            (Some(no), ..) => format!("procedure {no}"),
            (_, Some(no), ..) => format!("finding {no}"),
            (_, _, Some(no), ..) => format!("complaint {no}"),
            (_, _, _, Some(seq), _) => format!("number {seq}"),
            (.., Some(name)) => name.clone(),
            _ => String::new(),
        }
    }
}

/// One remark.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Remark {
    /// What is remarked.
    pub id: ReviewId,
    /// How it is named when it is answered: the word, and which one where there are several.
    pub item: String,
    /// What it does.
    pub level: Level,
    /// What it is about.
    pub about: About,
    /// In plain words.
    pub words: String,
    /// What to do.
    pub remedy: String,
    /// What the note says to it already: the reason, the answer, or that it was acknowledged.
    pub answered: Option<String>,
}

impl Remark {
    /// True for what stands between the note and its signature.
    pub fn is_open(&self) -> bool {
        self.level != Level::Flag && self.answered.is_none()
    }

    /// True when this item is meant by `item`, which may leave out which one.
    pub fn is_named(&self, item: &str) -> bool {
        item == self.item || item == self.id.word()
    }
}

/// Looks a note through, before it is signed. In the order in which one would go through it: what cannot
/// be, what is missing, what is worth a question, what it will be marked with.
pub fn review(sheet: &VisitSheet, rules: &RuleBook) -> Vec<Remark> {
    let mut review = Review { sheet, rules, classes: classes(sheet), remarks: Vec::new() };
    refuse::look(&mut review);
    missing_note::look(&mut review);
    missing_care::look(&mut review);
    missing_consent::look(&mut review);
    payer::look(&mut review);
    asks::look(&mut review);
    asks_care::look(&mut review);
    flags::look(&mut review);
    let mut remarks = review.remarks;
    answers::lay_in(&mut remarks, &sheet.note);
    remarks.sort_by_key(|remark| remark.level);
    remarks
}

/// What the rules say of items that no program knows, or of visits that do not exist.
///
/// # Errors
/// The first word that is not known.
pub fn check_needed(rules: &NoteRules) -> Result<(), String> {
    for (item, visits) in &rules.needed {
        if !ReviewId::from_word(item).is_some_and(ReviewId::in_rules) {
            return Err(format!("[note.needed]: there is no item \"{item}\""));
        }
        if let Some(word) = visits.iter().find(|word| VisitClass::from_word(word).is_none()) {
            let known = VisitClass::WORDS.join(", ");
            return Err(format!("[note.needed] {item}: \"{word}\" is none of {known}"));
        }
    }
    Ok(())
}

/// Which sorts of visit this one is.
fn classes(sheet: &VisitSheet) -> BTreeSet<VisitClass> {
    let note = &sheet.note;
    let sort = match note.sort {
        VisitSort::First => VisitClass::FirstVisit,
        VisitSort::Later => VisitClass::LaterVisit,
        VisitSort::ReExamination => VisitClass::ReExamination,
    };
    let mut classes = BTreeSet::from([VisitClass::Always, sort]);
    let care = || note.procedures.iter().filter(|p| p.technique != Technique::Examination);
    classes.extend(care().next().map(|_| VisitClass::Treated));
    classes.extend(care().any(is_thrust).then_some(VisitClass::Thrust));
    classes.extend(care().any(Procedure::is_in_mouth).then_some(VisitClass::MouthWork));
    classes
}

/// A thrust, by hand or by instrument.
fn is_thrust(procedure: &Procedure) -> bool {
    matches!(procedure.technique, Technique::Thrust | Technique::InstrumentAdjust)
}

/// A review while it is made.
struct Review<'a> {
    sheet: &'a VisitSheet,
    rules: &'a RuleBook,
    classes: BTreeSet<VisitClass>,
    remarks: Vec<Remark>,
}

impl<'a> Review<'a> {
    /// True when the rules need this item in a visit like this.
    fn needs(&self, id: ReviewId) -> bool {
        let visits = self.rules.note.needed.get(id.word());
        let class = |word: &String| VisitClass::from_word(word).is_some_and(|c| self.classes.contains(&c));
        visits.is_some_and(|visits| visits.iter().any(class))
    }

    /// Adds a remark with the words of the table.
    fn add(&mut self, id: ReviewId, about: About) {
        self.tell(id, about, String::new());
    }

    /// Adds a remark with something said beside the words of the table.
    fn tell(&mut self, id: ReviewId, about: About, more: String) {
        let key = about.key();
        let item = if key.is_empty() { id.word().to_string() } else { format!("{}:{key}", id.word()) };
        if self.remarks.iter().any(|remark| remark.item == item) {
            return;
        }
        let words = match more.is_empty() {
            true => id.words().to_string(),
            false => format!("{} ({more})", id.words().trim_end_matches('.')),
        };
        let (level, remedy) = (id.level(), id.remedy().to_string());
        self.remarks.push(Remark { id, item, level, about, words, remedy, answered: None });
    }

    /// Adds an item where the rules need it and it is not there.
    fn want(&mut self, id: ReviewId, about: About, there: bool) {
        if !there && self.needs(id) {
            self.add(id, about);
        }
    }

    /// The procedures beyond examining.
    fn care(&self) -> impl Iterator<Item = &'a Procedure> + use<'a> {
        self.sheet.note.procedures.iter().filter(|p| p.technique != Technique::Examination)
    }

    /// The consents this note points to.
    fn relied_on(&self) -> impl Iterator<Item = &'a Dated<Consent>> + use<'a> {
        let note = &self.sheet.note;
        let named = move |seq: u64| {
            note.agreed.consents.contains(&seq) || note.procedures.iter().any(|p| p.consent == Some(seq))
        };
        self.sheet.consents.iter().filter(move |consent| named(consent.seq))
    }

    /// The consents that cover a procedure by what they say, whatever their time.
    fn covering(&self, procedure: &'a Procedure) -> impl Iterator<Item = &'a Dated<Consent>> + use<'a> {
        self.sheet.consents.iter().filter(move |consent| {
            let said = &consent.data;
            said.status == ConsentStatus::Signed
                && said.is_for_care()
                && said.techniques.contains(&procedure.technique)
                && said.regions.iter().any(|r| procedure.region.is_within(*r))
                // A region treated means the whole of it: no part of it may be left out.
                && !said.excluded_regions.iter().any(|r| procedure.region.overlaps(*r))
                && side_covers(said.side, procedure.side)
        })
    }

    /// All measures of the visit, those of the note and those beside it.
    fn measures(&self) -> impl Iterator<Item = (Option<Phase>, &'a Measured)> + use<'a> {
        let noted = self.sheet.note.measures.iter().map(|line| (Some(line.phase), &line.measured));
        let beside = self.sheet.measures.iter();
        noted.chain(beside.flat_map(|m| m.data.measures.iter().map(move |one| (m.data.phase, one))))
    }
}

/// True when what was agreed for one side covers what was done on another.
fn side_covers(agreed: Option<Side>, done: Option<Side>) -> bool {
    match (agreed, done) {
        (None | Some(Side::Both), _) | (Some(Side::Midline), None) => true,
        (Some(_), None) => false,
        (Some(agreed), Some(done)) => agreed == done,
    }
}

/// True when two sides share ground.
fn sides_meet(one: Option<Side>, other: Option<Side>) -> bool {
    match (one, other) {
        (None, _) | (_, None) | (Some(Side::Both), _) | (_, Some(Side::Both)) => true,
        (Some(one), Some(other)) => one == other,
    }
}

/// True when the text says something.
fn said(text: Option<&String>) -> bool {
    text.is_some_and(|text| !text.trim().is_empty())
}
