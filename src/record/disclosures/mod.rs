//! The disclosures of a chart, and which of them an accounting tells (45 CFR 164.528): worked out from what was
//! recorded, never from memory. Pure: entries in, an account out.

pub mod account;
pub mod basis;
#[cfg(test)]
mod tests;

use super::kinds::Data;
use super::kinds::common::Day;
use super::kinds::disclosing::{AccountingSuspended, StatementHow};
use super::kinds::release::{Referral, Release, ReleaseBasis, Released, RequestKind, Step};
use super::moment::{Date, plain_date};
use super::reckon::accounting::{How, Suspension, left_out_through};
use std::collections::BTreeMap;

/// An entry as this module reads it: with every correction made, and without what belongs to another chart.
#[derive(Debug, Clone)]
pub struct Read {
    /// Number in the ledger.
    pub seq: u64,
    /// Number of its chart.
    pub chart: String,
    /// The day it happened.
    pub on: Date,
    /// Its data.
    pub data: Data,
}

/// One disclosure as the chart has it.
#[derive(Debug, Clone, PartialEq)]
pub struct Disclosed {
    /// Number of the entry.
    pub entry: u64,
    /// Number of the chart it stands in.
    pub chart: String,
    /// The day.
    pub on: Day,
    /// To whom.
    pub to: String,
    /// Where to, where it is known.
    pub address: Option<String>,
    /// What it rests on.
    pub basis: ReleaseBasis,
    /// What was disclosed, in brief; empty where nothing was written down.
    pub what: String,
    /// What for, as written down; empty where nothing was.
    pub purpose: String,
    /// Number of the attachment with the written request.
    pub request_copy: Option<u64>,
    /// Last day an agency has it left out.
    pub left_out_through: Option<Day>,
}

/// Something to look at before an accounting is given: it may be a disclosure that nobody wrote down as one.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct ToLookAt {
    /// Number of the entry.
    pub entry: u64,
    /// In plain words.
    pub words: String,
    /// What to do.
    pub remedy: String,
}

/// Every disclosure among these entries, the earliest first.
pub fn disclosures(entries: &[Read], oral_days: u32) -> Vec<Disclosed> {
    let letters: BTreeMap<u64, u64> = entries
        .iter()
        .filter_map(|entry| match &entry.data {
            Data::Request(request) => Some((entry.seq, request.letter?)),
            _ => None,
        })
        .collect();
    let left_out = left_out(entries, oral_days);
    let mut all: Vec<Disclosed> = entries
        .iter()
        .filter_map(|entry| match &entry.data {
            Data::Release(release) => Some(of_release(entry, release, &letters)),
            Data::Referral(referral) => of_referral(entry, referral),
            _ => None,
        })
        .collect();
    for made in &mut all {
        made.left_out_through =
            left_out.get(&made.entry).copied().filter(|_| basis::may_be_left_out(made.basis));
    }
    all.sort_by_key(|made| (made.on, made.entry));
    all
}

fn of_release(entry: &Read, release: &Release, letters: &BTreeMap<u64, u64>) -> Disclosed {
    let purpose = release.purpose.as_deref().or(release.basis_words.as_deref()).unwrap_or_default();
    let of_request = release.request.and_then(|request| letters.get(&request).copied());
    Disclosed {
        entry: entry.seq,
        chart: entry.chart.clone(),
        on: Day(entry.on),
        to: release.to.trim().to_string(),
        address: release.address.value().cloned(),
        basis: release.basis,
        what: what_words(&release.what),
        purpose: purpose.trim().to_string(),
        request_copy: release.letter.or(of_request),
        left_out_through: None,
    }
}

/// A referral that was sent tells the one it is sent to about the patient, for treatment.
fn of_referral(entry: &Read, referral: &Referral) -> Option<Disclosed> {
    if referral.sent_at.is_none() && referral.sent_how.value().is_none() {
        return None;
    }
    Some(Disclosed {
        entry: entry.seq,
        chart: entry.chart.clone(),
        on: Day(referral.sent_at.map_or(entry.on, |at| at.local_date())),
        to: referral.to.trim().to_string(),
        address: None,
        basis: ReleaseBasis::Treatment,
        what: "a referral".to_string(),
        purpose: referral.why.trim().to_string(),
        request_copy: referral.letter,
        left_out_through: None,
    })
}

/// What was disclosed, in brief (45 CFR 164.528(b)(2)(iii)).
pub fn what_words(what: &Released) -> String {
    let mut parts: Vec<String> = Vec::new();
    parts.extend(what.words.clone().map(|words| words.trim().trim_end_matches('.').to_string()));
    if parts.is_empty() && !what.kinds.is_empty() {
        let titles: Vec<String> =
            what.kinds.iter().map(|kind| super::kinds::title(kind).to_lowercase()).collect();
        parts.push(titles.join(", "));
    }
    let days = match (what.from, what.until) {
        (Some(from), Some(until)) => Some(format!("{} to {}", plain_date(from.0), plain_date(until.0))),
        (Some(from), None) => Some(format!("from {}", plain_date(from.0))),
        (None, Some(until)) => Some(format!("up to {}", plain_date(until.0))),
        (None, None) => None,
    };
    if parts.is_empty() && (days.is_some() || what.entries > 0) {
        parts.push("the record".to_string());
    }
    parts.extend(days);
    parts.extend(what.pages.filter(|pages| *pages > 0).map(|pages| format!("{pages} pages")));
    parts.join("; ")
}

/// Until when each disclosure is left out, by its number; of several statements the longest time counts.
fn left_out(entries: &[Read], oral_days: u32) -> BTreeMap<u64, Day> {
    let mut until: BTreeMap<u64, Day> = BTreeMap::new();
    for entry in entries {
        let Data::AccountingSuspended(asked) = &entry.data else { continue };
        let Some(last) = left_out_through(suspension(asked), oral_days).map(Day) else { continue };
        for disclosure in &asked.disclosures {
            let known = until.entry(*disclosure).or_insert(last);
            *known = (*known).max(last);
        }
    }
    until
}

fn suspension(asked: &AccountingSuspended) -> Suspension {
    Suspension {
        how: match asked.how {
            StatementHow::Oral => How::Oral,
            StatementHow::Written => How::Written,
        },
        stated_on: asked.stated_on.0,
        until: asked.until.map(|day| day.0),
        written_on: asked.written_on.map(|day| day.0),
    }
}

/// The days on which earlier accountings were asked for.
pub fn earlier_requests(entries: &[Read]) -> Vec<Date> {
    let given = entries.iter().filter_map(|entry| match &entry.data {
        Data::AccountingGiven(given) => Some(given.asked_on.0),
        _ => None,
    });
    given.collect()
}

/// The newest request for an accounting that nobody answered yet: its number, and the day it came in.
pub fn open_request(entries: &[Read]) -> Option<(u64, Date)> {
    let asked = entries.iter().rev().filter_map(|entry| match &entry.data {
        Data::Request(request) if request.kind == RequestKind::Accounting => {
            Some((entry.seq, request.received_on.0))
        }
        _ => None,
    });
    asked
        .into_iter()
        .find(|(seq, _)| !steps(entries, *seq).iter().any(|step| ends(*step)) && !given(entries, *seq))
}

fn given(entries: &[Read], request: u64) -> bool {
    entries.iter().any(|e| matches!(&e.data, Data::AccountingGiven(g) if g.request == Some(request)))
}

fn steps(entries: &[Read], request: u64) -> Vec<Step> {
    let of = entries.iter().filter_map(|entry| match &entry.data {
        Data::RequestStep(step) if step.request == request => Some(step.step),
        _ => None,
    });
    of.collect()
}

fn ends(step: Step) -> bool {
    matches!(step, Step::Answered | Step::Closed | Step::Declined | Step::Returned | Step::Withdrawn)
}

/// What may be a disclosure that nobody recorded as one: a request said to be answered with nothing sent, and a
/// contact with somebody who is neither the patient nor decides for the patient.
pub fn to_look_at(entries: &[Read], from: Date, until: Date) -> Vec<ToLookAt> {
    let inside = |entry: &&Read| from <= entry.on && entry.on <= until;
    let deciders: Vec<String> = entries
        .iter()
        .filter_map(|entry| match &entry.data {
            Data::DecisionMaker(person) => Some(person.name.trim().to_lowercase()),
            _ => None,
        })
        .collect();
    let mut found = Vec::new();
    for entry in entries.iter().filter(inside) {
        match &entry.data {
            Data::Request(request) if sends_records(request.kind) => {
                let steps = steps(entries, entry.seq);
                let said_done = steps.iter().any(|step| matches!(step, Step::Answered | Step::Closed));
                let refused = steps
                    .iter()
                    .any(|step| matches!(step, Step::Declined | Step::Returned | Step::Withdrawn));
                if said_done && !refused && !released(entries, entry.seq) {
                    found.push(ToLookAt {
                        entry: entry.seq,
                        words: format!(
                            "a request ({}) of {} was closed, and nothing says what went out for it",
                            request.kind.word(),
                            request.from
                        ),
                        remedy: format!(
                            "if something went out: inkfast disclosure {} --request {}",
                            entry.chart, entry.seq
                        ),
                    });
                }
            }
            Data::Contact(contact) => {
                let Some(with) = contact.with.value() else { continue };
                let own = with.relation.trim().eq_ignore_ascii_case("self");
                if own || deciders.contains(&with.name.trim().to_lowercase()) {
                    continue;
                }
                found.push(ToLookAt {
                    entry: entry.seq,
                    words: format!("a contact with {} ({}), not the patient", with.name, with.relation),
                    remedy: format!(
                        "if something of the record was told that is not for treatment or payment: inkfast \
                         disclosure {}",
                        entry.chart
                    ),
                });
            }
            _ => {}
        }
    }
    found
}

fn released(entries: &[Read], request: u64) -> bool {
    entries.iter().any(|e| matches!(&e.data, Data::Release(release) if release.request == Some(request)))
}

/// Requests that are answered by sending something.
fn sends_records(kind: RequestKind) -> bool {
    use RequestKind::{
        Audit, Authorisation, Copy, DeceasedRepresentative, Order, Oversight, RequiredByLaw, Subpoena,
        Treatment,
    };
    matches!(
        kind,
        Audit
            | Authorisation
            | Copy
            | DeceasedRepresentative
            | Order
            | Oversight
            | RequiredByLaw
            | Subpoena
            | Treatment
    )
}
