//! What stands against answering a request. Who may receive decides: a clock that has run out, a fee that is
//! not paid, and a wish to be helpful decide nothing.

use super::authorization::Verdict;
use super::standing::{Standing, State};
use crate::record::kinds::request::{Asker, Checked};
use schemars::JsonSchema;
use serde::Serialize;

/// What the chart itself says of whoever asks as a guardian.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OnFile {
    /// Number of the entry that names them.
    pub entry: u64,
    /// True where that entry lets them receive records, today.
    pub may_receive: bool,
    /// Why not, in words.
    pub why_not: Option<String>,
}

/// What is known besides the request and its steps.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Known {
    /// What the chart says of the guardian who asks; none where it names nobody of that name.
    pub guardian: Option<OnFile>,
    /// True where the chart says that the patient has died.
    pub patient_died: bool,
    /// The authorization, judged now.
    pub authorization: Option<Verdict>,
    /// True where a note, a correction or anything else of the care was recorded since the missing list ran.
    pub written_since_list: bool,
}

/// How hard it stops.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Stops {
    /// Nothing goes out.
    Refuse,
    /// It goes out only where somebody says why.
    Ask,
}

/// One thing that stands against answering.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Stop {
    /// Its name; names never change.
    pub id: &'static str,
    /// How hard it stops.
    pub stops: Stops,
    /// In plain words.
    pub words: String,
    /// What to do.
    pub next: String,
}

fn refuse(id: &'static str, words: impl Into<String>, next: impl Into<String>) -> Stop {
    Stop { id, stops: Stops::Refuse, words: words.into(), next: next.into() }
}

fn ask(id: &'static str, words: impl Into<String>, next: impl Into<String>) -> Stop {
    Stop { id, stops: Stops::Ask, words: words.into(), next: next.into() }
}

/// Everything that stands against answering, refusals first. Nothing: it may go out.
pub fn stops(standing: &Standing, known: &Known) -> Vec<Stop> {
    let mut found = Vec::new();
    found.extend(state(standing));
    if !standing.identity_checked() {
        found.push(refuse(
            "identity-not-checked",
            "It was not checked who asks.",
            format!("Check it, then: inkfast request check {} --what identity --words HOW", standing.seq),
        ));
    }
    found.extend(authority(standing, known));
    found.extend(scope(standing));
    if standing.asker() == Asker::Insurer {
        found.extend(missing_list(standing, known));
    }
    found.sort_by_key(|stop| stop.stops != Stops::Refuse);
    found
}

fn state(standing: &Standing) -> Option<Stop> {
    match standing.state() {
        State::Open => None,
        State::Returned => Some(refuse(
            "returned",
            "It was sent back to be mended, and no mended paper has been checked since.",
            format!("Check what came back: inkfast request check {} --what authorization", standing.seq),
        )),
        State::Answered => Some(ask(
            "answered-already",
            "It was answered already.",
            "Say why it is answered again with --despite WORDS, or take a new request.",
        )),
        over => Some(refuse(
            "over",
            format!("This request is over ({over})."),
            "Take a new request with `inkfast request take`.",
        )),
    }
}

fn authority(standing: &Standing, known: &Known) -> Vec<Stop> {
    let seq = standing.seq;
    let not_checked = |paper: &str| {
        refuse(
            "authority-not-checked",
            format!("It was not checked that they may receive the record: {paper}."),
            format!(
                "See the paper, attach it, then: inkfast request check {seq} --what authority --paper NUMBER"
            ),
        )
    };
    match standing.asker() {
        Asker::Patient | Asker::Clinician => Vec::new(),
        Asker::Guardian => guardian(standing, known, not_checked("an order, or the chart's own entry")),
        Asker::Attorney | Asker::Other => authorization(standing, known).into_iter().collect(),
        Asker::Subpoena if standing.holds(Checked::Order) || standing.holds(Checked::Assurance) => Vec::new(),
        Asker::Subpoena => vec![refuse(
            "no-order-no-assurance",
            "A subpoena that no court signed came with neither an order nor satisfactory assurance \
             (45 CFR 164.512(e)(1)(ii)).",
            format!(
                "Call counsel. Nothing goes out, and silence is no answer either: ask for the assurance in \
                 writing (inkfast request check {seq} --what assurance, when it comes)."
            ),
        )],
        Asker::CourtOrder if standing.holds(Checked::Order) => Vec::new(),
        Asker::CourtOrder => vec![refuse(
            "order-not-read",
            "The order itself was not read: who signed it, and what it names.",
            format!("Read it, attach it, then: inkfast request check {seq} --what order --paper NUMBER"),
        )],
        Asker::Oversight | Asker::Insurer if standing.authority_checked() => Vec::new(),
        Asker::Oversight => vec![not_checked("the agency's own letter, and that it came from there")],
        Asker::Insurer => vec![not_checked("the payer's letter, and that the patient is insured there")],
        Asker::PersonalRepresentative => {
            let mut found = Vec::new();
            if !known.patient_died {
                found.push(refuse(
                    "death-not-recorded",
                    "The chart does not say that the patient has died.",
                    "Record it first: inkfast patient state CHART --status deceased",
                ));
            }
            if !standing.authority_checked() {
                found.push(not_checked("the court's letters to the executor"));
            }
            found
        }
    }
}

/// Where the chart says that they may not, a paper that was checked since says more than the chart.
fn guardian(standing: &Standing, known: &Known, not_checked: Stop) -> Vec<Stop> {
    let checked_since = standing.holds(Checked::Authority);
    match &known.guardian {
        Some(file) if file.may_receive || checked_since => Vec::new(),
        Some(file) => vec![refuse(
            "guardian-may-not",
            format!(
                "By entry {} they may not receive the record: {}.",
                file.entry,
                file.why_not.as_deref().unwrap_or("it says so")
            ),
            "Look at that entry. If an order now says otherwise, record it with `inkfast guardian`.",
        )],
        None if standing.authority_checked() => Vec::new(),
        None => vec![not_checked],
    }
}

fn authorization(standing: &Standing, known: &Known) -> Option<Stop> {
    let seq = standing.seq;
    match &known.authorization {
        None => Some(refuse(
            "authorization-not-checked",
            "The authorization was not looked through.",
            format!("Look it through, element by element: inkfast request check {seq} --what authorization"),
        )),
        Some(verdict) if verdict.is_usable() => None,
        Some(verdict) => {
            let faults: Vec<String> =
                verdict.faults().iter().map(|(what, _)| format!("\n  - {what}")).collect();
            Some(refuse(
                "authorization-defective",
                format!("The authorization can't be used (45 CFR 164.508):{}", faults.concat()),
                format!("Send it back, with what would mend it: inkfast request return {seq}"),
            ))
        }
    }
}

fn scope(standing: &Standing) -> Option<Stop> {
    let (seq, named) = standing.named()?;
    let asked = standing.request.asked();
    if !standing.asks_for_more() {
        return None;
    }
    match standing.may_go_out() {
        None => Some(refuse(
            "nothing-named",
            format!(
                "Nothing that is asked ({}) is named in the paper ({}; entry {seq}).",
                asked.words(),
                named.words()
            ),
            "Ask whoever sent it to name what is meant.",
        )),
        Some(both) => Some(ask(
            "more-than-named",
            format!(
                "More is asked ({}) than the paper names ({}; entry {seq}). Only this would go out: {}.",
                asked.words(),
                named.words(),
                both.words()
            ),
            "Give --despite WORDS to send only that, or ask for a paper that names the rest.",
        )),
    }
}

fn missing_list(standing: &Standing, known: &Known) -> Option<Stop> {
    let run = format!("inkfast request check {} --what missing-list", standing.seq);
    match standing.check(Checked::MissingList) {
        None => Some(refuse(
            "missing-list-not-run",
            "Before an audit is answered, the list of what the notes of those days lack is looked at.",
            format!("Run it: {run}. Nothing is improved afterwards; what is added is labelled."),
        )),
        Some(_) if known.written_since_list => Some(ask(
            "written-since-list",
            "Something of the care was recorded since that list was looked at.",
            format!("Run it again ({run}), or say why not with --despite WORDS."),
        )),
        Some(_) => None,
    }
}

#[cfg(test)]
#[path = "gate_tests.rs"]
mod tests;
