//! What an entry is told in: resources of its own, or words in a section.

use super::resources::Resource;
use super::types::Reference;

/// A section of the document, in the order shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Section {
    /// Who the patient is.
    Person,
    /// Who decides for the patient.
    Deciders,
    /// Allergies and sensitivities.
    Allergies,
    /// What is always to be minded.
    Minded,
    /// What was agreed, declined, taken back and refused.
    Consents,
    /// The visit with this number.
    Visit(u64),
    /// Screens, measures and what else was noted outside a visit.
    Outside,
    /// Adverse reactions.
    Reactions,
    /// Referrals and their answers.
    Referrals,
    /// Calls, messages and letters.
    Contacts,
    /// Papers and pictures.
    Papers,
    /// What was put right and added, and requests to change the record.
    Changes,
    /// Who opened the chart, and to whom it was handed over.
    Openings,
}

impl Section {
    /// Its word in the code system of sections.
    pub(super) fn word(self) -> &'static str {
        match self {
            Section::Person => "person",
            Section::Deciders => "deciders",
            Section::Allergies => "allergies",
            Section::Minded => "minded",
            Section::Consents => "consents",
            Section::Visit(_) => "visit",
            Section::Outside => "outside-visits",
            Section::Reactions => "reactions",
            Section::Referrals => "referrals",
            Section::Contacts => "contacts",
            Section::Papers => "papers",
            Section::Changes => "changes",
            Section::Openings => "openings",
        }
    }

    /// Its heading.
    pub(super) fn title(self) -> &'static str {
        match self {
            Section::Person => "Who the patient is",
            Section::Deciders => "Who decides for the patient",
            Section::Allergies => "Allergies and sensitivities",
            Section::Minded => "Always to be minded",
            Section::Consents => "What was agreed, declined, taken back and refused",
            Section::Visit(_) => "Visit",
            Section::Outside => "Screens, measures and remarks outside a visit",
            Section::Reactions => "Adverse reactions",
            Section::Referrals => "Referrals and their answers",
            Section::Contacts => "Calls, messages and letters",
            Section::Papers => "Papers and pictures",
            Section::Changes => "What was added, and requests to change the record",
            Section::Openings => "Who opened the chart, and to whom it was handed over",
        }
    }

    /// The visit's section, or the one outside visits.
    pub(super) fn visit_or(visit: Option<u64>, other: Section) -> Section {
        visit.map_or(other, Section::Visit)
    }
}

/// One resource made from an entry.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Part {
    /// Which of the entry's resources it is.
    pub role: String,
    /// What it says in words.
    pub title: String,
    /// The resource.
    pub resource: Resource,
}

impl Part {
    /// A resource in its role, with what it says in words.
    pub(super) fn new(role: impl Into<String>, title: impl Into<String>, one: impl Into<Resource>) -> Part {
        Part { role: role.into(), title: title.into(), resource: one.into() }
    }
}

/// What an entry is told in.
#[derive(Debug, Clone)]
pub(super) struct Told {
    /// Where.
    pub section: Section,
    /// Resources of its own.
    pub parts: Vec<Part>,
    /// Resources that it shares with other entries, as the patient or the visit.
    pub shared: Vec<Reference>,
}

impl Told {
    /// In resources of its own.
    pub(super) fn parts(section: Section, parts: Vec<Part>) -> Told {
        Told { section, parts, shared: Vec::new() }
    }

    /// In a resource that several entries make together.
    pub(super) fn shared(section: Section, shared: Vec<Reference>) -> Told {
        Told { section, parts: Vec::new(), shared }
    }

    /// In words alone.
    pub(super) fn words(section: Section) -> Told {
        Told::parts(section, Vec::new())
    }
}
