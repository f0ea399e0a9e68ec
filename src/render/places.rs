//! Where each entry stands on the page: within a visit, under a heading, or directly beneath the
//! entry it is about. Every entry that may be shown stands in full in exactly one place.

use super::set::PrintedSet;
use crate::record::envelope::{Record, RefWhy};
use crate::record::kinds::Data;
use std::collections::BTreeMap;

/// A heading for entries outside visits, in the order printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Heading {
    /// Consents, refusals and withdrawals in full.
    Consents,
    /// Who the patient is.
    Person,
    /// Who decides for the patient.
    Deciders,
    /// What is always to be minded: allergies and alerts.
    Minded,
    /// Calls, messages, papers and sheets given.
    Contacts,
    /// Referrals and their answers.
    Referrals,
    /// Adverse reactions.
    Reactions,
    /// Requests, releases and amendment papers.
    Requests,
    /// Legal holds, notices and disposal.
    Holds,
    /// Other entries.
    Other,
}

impl Heading {
    /// Every heading, in the order printed.
    pub const ALL: [Heading; 10] = [
        Heading::Consents,
        Heading::Person,
        Heading::Deciders,
        Heading::Minded,
        Heading::Contacts,
        Heading::Referrals,
        Heading::Reactions,
        Heading::Requests,
        Heading::Holds,
        Heading::Other,
    ];

    /// The heading as printed.
    pub fn word(self) -> &'static str {
        match self {
            Heading::Consents => "Consents, refusals and withdrawals in full",
            Heading::Person => "Who the patient is",
            Heading::Deciders => "Who decides for the patient",
            Heading::Minded => "What is always to be minded: allergies and alerts",
            Heading::Contacts => "Calls, messages, papers and sheets given",
            Heading::Referrals => "Referrals and their answers",
            Heading::Reactions => "Adverse reactions",
            Heading::Requests => "Requests, releases and amendment papers",
            Heading::Holds => "Legal holds, notices and disposal",
            Heading::Other => "Other entries",
        }
    }
}

/// Where an entry stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Home {
    /// In the visit with this number.
    Visit(u64),
    /// Under a heading.
    Under(Heading),
    /// In the list of who opened the chart.
    Openings,
    /// In the list of attachments.
    Attachments,
    /// Beneath another entry.
    Beneath(u64),
}

/// Where all entries of a set stand.
#[derive(Debug, Default)]
pub struct Places {
    /// Where each entry stands, by its number.
    pub homes: BTreeMap<u64, Home>,
    /// Entries of each visit, by the number of its opening.
    pub visits: BTreeMap<u64, Vec<u64>>,
    /// Entries under each heading, in the order written.
    pub headings: BTreeMap<Heading, Vec<u64>>,
    /// Entries that stand beneath an entry, in the order written.
    pub beneath: BTreeMap<u64, Vec<u64>>,
    /// Openings of the chart.
    pub openings: Vec<u64>,
    /// Attachments.
    pub attachments: Vec<u64>,
    /// Entries printed elsewhere that are part of a visit: consents and attachments.
    pub pointed_to: BTreeMap<u64, Vec<u64>>,
}

/// Finds the place of every entry that may be shown.
pub fn places(set: &PrintedSet) -> Places {
    let mut homes: BTreeMap<u64, Home> = BTreeMap::new();
    let mut out = Places::default();
    for entry in set.in_order() {
        let Some(record) = entry.shown() else { continue };
        let home = home(entry.seq, record, &homes);
        homes.insert(entry.seq, home);
        if matches!(record.kind.as_str(), "consent" | "attachment")
            && let Some(visit) = record.data.get("visit").and_then(|visit| visit.as_u64())
        {
            out.pointed_to.entry(visit).or_default().push(entry.seq);
        }
    }
    for (seq, home) in &homes {
        let (host, home) = host(*seq, *home, &homes);
        if host != *seq {
            out.beneath.entry(host).or_default().push(*seq);
            continue;
        }
        match home {
            Home::Visit(visit) => out.visits.entry(visit).or_default().push(*seq),
            Home::Under(heading) => out.headings.entry(heading).or_default().push(*seq),
            Home::Openings => out.openings.push(*seq),
            Home::Attachments => out.attachments.push(*seq),
            Home::Beneath(_) => out.headings.entry(Heading::Other).or_default().push(*seq),
        }
    }
    out.homes = homes;
    out
}

/// The entry beneath which this one stands at last; itself when it stands alone. An entry about one
/// that is not shown stands alone.
fn host(seq: u64, home: Home, homes: &BTreeMap<u64, Home>) -> (u64, Home) {
    let (mut at, mut here) = (seq, home);
    // An entry is only ever about an earlier one, so this ends; the bound guards against a ring.
    for _ in 0..homes.len() {
        match here {
            Home::Beneath(target) if target != at => match homes.get(&target) {
                Some(next) => (at, here) = (target, *next),
                None => return (at, here),
            },
            _ => break,
        }
    }
    (at, here)
}

fn home(seq: u64, record: &Record, homes: &BTreeMap<u64, Home>) -> Home {
    if let Some(target) = about(record)
        && target != seq
        && homes.contains_key(&target)
    {
        return Home::Beneath(target);
    }
    match record.kind.as_str() {
        "visit-opened" => return Home::Visit(seq),
        "access" => return Home::Openings,
        "attachment" => return Home::Attachments,
        "consent" => return Home::Under(Heading::Consents),
        _ => {}
    }
    if let Some(visit) = visit_of(record) {
        return Home::Visit(visit);
    }
    Home::Under(heading(&record.kind))
}

/// The visit an entry says it belongs to.
fn visit_of(record: &Record) -> Option<u64> {
    let named = record.data.get("visit").and_then(|visit| visit.as_u64());
    let referred = || {
        let reference = record.refers.iter().find(|reference| reference.why == RefWhy::Visit);
        reference.map(|reference| reference.seq)
    };
    named.or_else(referred)
}

/// The entry this one is about, beneath which it is to be read.
fn about(record: &Record) -> Option<u64> {
    match record.read_data().ok()? {
        Data::Correction(correction) => Some(correction.target),
        Data::Addendum(addendum) => Some(addendum.target),
        Data::LateEntry(late) => late.target,
        Data::Misfiled(misfiled) => Some(misfiled.entry),
        Data::AmendmentRequest(request) => {
            request.points.iter().find_map(|point| point.entries.first().copied())
        }
        Data::AmendmentDecision(decision) => Some(decision.request),
        Data::Disagreement(disagreement) => Some(disagreement.request),
        Data::Rebuttal(rebuttal) => Some(rebuttal.disagreement),
        Data::RequestStep(step) => Some(step.request),
        Data::ReferralAnswer(answer) => Some(answer.referral),
        Data::ReactionRechecked(again) => Some(again.reaction),
        Data::ReactionClosed(closed) => Some(closed.reaction),
        Data::ScreenItemClosed(closed) => Some(closed.screen),
        Data::HoldLifted(lifted) => Some(lifted.hold),
        _ => None,
    }
}

/// The heading a kind stands under when it is in no visit.
pub fn heading(kind: &str) -> Heading {
    match kind {
        "consent" | "rest-of-earlier" | "end-event" | "withdrawal" | "standing-refusal" | "own-answer"
        | "coverage-answer" => Heading::Consents,
        "chart-opened" | "identity-changed" | "chart-state" | "joined" | "misfiled" | "paper-chart"
        | "paper-original" => Heading::Person,
        "decision-maker" | "capacity" => Heading::Deciders,
        "allergy-review" | "alert" => Heading::Minded,
        "contact" | "handout" | "document" => Heading::Contacts,
        "referral" | "referral-answer" => Heading::Referrals,
        "reaction" | "reaction-rechecked" | "reaction-closed" => Heading::Reactions,
        "request"
        | "request-step"
        | "release"
        | "package-made"
        | "accounting-given"
        | "accounting-suspended"
        | "amendment-request"
        | "amendment-decision"
        | "disagreement"
        | "rebuttal" => Heading::Requests,
        "hold" | "hold-lifted" | "notice" | "disposal" | "refused-disposal" => Heading::Holds,
        _ => Heading::Other,
    }
}
