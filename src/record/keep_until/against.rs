//! What stands against destroying a chart whatever its day: holds, open requests and amendments, audits,
//! complaints and proceedings, adverse reactions that are still open.

use super::{Rules, Seen};
use crate::record::calendar::days_from;
use crate::record::kinds::Data;
use crate::record::kinds::amend::Decision;
use crate::record::kinds::keeping::{Block, Hold, HoldKind, NoticeKind, NoticeState};
use crate::record::kinds::release::{Request, RequestKind, RequestStep};
use crate::record::moment::{Date, plain_date};
use crate::record::request::standing::{State, state_after};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// One thing that stands against it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Against {
    /// What sort, as an entry of a refusal keeps it.
    pub because: Block,
    /// The block of the table of retention rules that it is.
    pub block: String,
    /// Number of the entry it stems from.
    pub entry: Option<u64>,
    /// In plain words.
    pub words: String,
}

fn one(because: Block, entry: u64, words: impl Into<String>) -> Against {
    let block = match because {
        Block::Hold => "hold",
        Block::OpenRequest | Block::Amendment => "open_request",
        Block::Audit | Block::Complaint | Block::Proceeding => "open_proceeding",
        Block::AdverseReaction => "open_adverse_response",
        _ => "not_opened",
    };
    Against { because, block: block.to_string(), entry: Some(entry), words: words.into() }
}

/// Everything that stands against it, by number of the entry.
pub fn against(chart_no: &str, entries: &[Seen], register: &[Seen], rules: &Rules<'_>) -> Vec<Against> {
    let mut found = holds(entries, register);
    found.extend(notices(entries, register));
    found.extend(matters(chart_no, register));
    found.extend(requests(entries, rules));
    found.extend(amendments(entries, rules));
    found.extend(reactions(entries));
    found.sort_by_key(|one| one.entry);
    found
}

fn all<'a>(entries: &'a [Seen], register: &'a [Seen]) -> impl Iterator<Item = &'a Seen> + Clone {
    entries.iter().chain(register)
}

/// Holds that are not lifted with a letter on file.
fn holds(entries: &[Seen], register: &[Seen]) -> Vec<Against> {
    let mut found = Vec::new();
    for entry in all(entries, register).filter(|entry| entry.kind == "hold") {
        let in_chart = entries.iter().any(|one| one.seq == entry.seq);
        let Some(Data::Hold(hold)) = &entry.data else {
            found.push(one(Block::Hold, entry.seq, "a legal hold that does not open to this role"));
            continue;
        };
        if !in_chart && !touches(hold, entries) {
            continue;
        }
        let lifts = all(entries, register).filter_map(|lift| match &lift.data {
            Some(Data::HoldLifted(lifted)) if lifted.hold == entry.seq => Some((lift.seq, lifted)),
            _ => None,
        });
        if lifts.clone().any(|(_, lifted)| lifted.letter.is_some()) {
            continue;
        }
        let words = match lifts.last() {
            Some((seq, _)) => format!("a legal hold; lifted in entry {seq}, but with no letter on file"),
            None => format!("a legal hold, asked for by {}", hold.from_whom),
        };
        found.push(one(Block::Hold, entry.seq, words));
    }
    found
}

/// True when a hold placed outside the charts touches a chart with these entries.
fn touches(hold: &Hold, entries: &[Seen]) -> bool {
    let in_dates = |day: Date| {
        hold.scope.from.is_none_or(|from| from.0 <= day)
            && hold.scope.until.is_none_or(|until| day <= until.0)
    };
    match hold.scope.kind {
        // A hold of no chart in particular holds all of them.
        HoldKind::Chart => true,
        HoldKind::Dates => entries.iter().any(|entry| in_dates(entry.at) || in_dates(entry.made)),
        HoldKind::Practitioner => {
            let whose = hold.scope.practitioner.as_deref().unwrap_or_default();
            entries.iter().any(|entry| is_by(entry, whose) && in_dates(entry.at))
        }
    }
}

/// True where this person wrote the entry or treated in the visit it is of. Where the entry does not open, only
/// who wrote it is known.
fn is_by(entry: &Seen, code: &str) -> bool {
    let treats = |codes: &[String]| codes.iter().any(|one| one.eq_ignore_ascii_case(code));
    let in_it = match &entry.data {
        Some(Data::VisitOpened(visit)) => treats(&visit.practitioners),
        Some(Data::Visit(note)) => treats(&note.practitioners),
        _ => false,
    };
    in_it || entry.author.eq_ignore_ascii_case(code)
}

/// Notices of claims, complaints and audits that are not closed.
fn notices(entries: &[Seen], register: &[Seen]) -> Vec<Against> {
    let mut found = Vec::new();
    for entry in all(entries, register).filter(|entry| entry.kind == "notice") {
        let Some(Data::Notice(notice)) = &entry.data else {
            found.push(one(Block::Proceeding, entry.seq, "a notice that does not open to this role"));
            continue;
        };
        if notice.state != NoticeState::Received {
            continue;
        }
        // What stands outside the charts is about the charts with a treatment or entry on its days.
        let in_chart = entries.iter().any(|one| one.seq == entry.seq);
        let about = |one: &Seen| notice.about.iter().any(|day| day.0 == one.at || day.0 == one.made);
        if !in_chart && !notice.about.is_empty() && !entries.iter().any(about) {
            continue;
        }
        let closed = all(entries, register).any(|later| {
            matches!(&later.data, Some(Data::Notice(end))
                if end.of == Some(entry.seq) && end.state == NoticeState::Closed)
        });
        if !closed {
            let because = match notice.kind {
                NoticeKind::Audit => Block::Audit,
                NoticeKind::Complaint | NoticeKind::BoardLetter => Block::Complaint,
                _ => Block::Proceeding,
            };
            let words = format!("a notice ({}) from {} that is not closed", notice.kind, notice.from);
            found.push(one(because, entry.seq, words));
        }
    }
    found
}

/// Papers of the office file that name this chart, whose matter is not closed.
fn matters(chart_no: &str, register: &[Seen]) -> Vec<Against> {
    let mut found: Vec<Against> = Vec::new();
    let papers = register.iter().filter_map(|entry| match &entry.data {
        Some(Data::OfficeFile(paper)) => Some((entry.seq, paper)),
        _ => None,
    });
    // A matter is its first paper and all that go on from it.
    let mut first: std::collections::BTreeMap<u64, u64> = std::collections::BTreeMap::new();
    let (mut open, mut about) = (std::collections::BTreeMap::new(), std::collections::BTreeSet::new());
    for (seq, paper) in papers {
        let matter = paper.of.and_then(|of| first.get(&of).copied()).unwrap_or(seq);
        first.insert(seq, matter);
        let names_it = paper.chart_no.as_deref().is_some_and(|no| no.eq_ignore_ascii_case(chart_no));
        if names_it {
            about.insert(matter);
        }
        open.insert(matter, (paper.closed != Some(true), paper.kind));
    }
    for (matter, (is_open, kind)) in open {
        if is_open && about.contains(&matter) {
            let words = format!("a matter of the office file ({kind}) about this chart that is not closed");
            found.push(one(Block::Proceeding, matter, words));
        }
    }
    found
}

/// Whether a refusal of this day can still be challenged, and until when.
fn challenged(refused: Date, rules: &Rules<'_>) -> Option<String> {
    match rules.challenged_days {
        None => Some(
            "the adopted rules name no time in which it can be challenged (lists.refusal_challenged_days)"
                .to_string(),
        ),
        Some(days) => {
            let last = days_from(refused, i64::from(days));
            (rules.today <= last).then(|| format!("it can be challenged until {}", plain_date(last)))
        }
    }
}

/// Requests for records that are open, or were refused or sent back and can still be challenged.
fn requests(entries: &[Seen], rules: &Rules<'_>) -> Vec<Against> {
    let mut found = Vec::new();
    for entry in entries.iter().filter(|entry| entry.kind == "request" && !entry.misfiled) {
        let Some(Data::Request(request)) = &entry.data else {
            found.push(one(Block::OpenRequest, entry.seq, "a request that does not open to this role"));
            continue;
        };
        let steps: Vec<(Date, &RequestStep)> = entries
            .iter()
            .filter_map(|later| match &later.data {
                Some(Data::RequestStep(step)) if step.request == entry.seq => Some((step.on.0, &**step)),
                _ => None,
            })
            .collect();
        let answered = entries.iter().any(|later| match &later.data {
            Some(Data::Release(release)) => release.request == Some(entry.seq),
            Some(Data::AccountingGiven(given)) => given.request == Some(entry.seq),
            _ => false,
        });
        let state = state_after(steps.iter().map(|(_, step)| *step), answered);
        let refused = steps.last().map_or(entry.made, |(day, _)| *day);
        let words = match state {
            State::Open => Some("is not answered".to_string()),
            State::Declined => challenged(refused, rules).map(|why| format!("was refused; {why}")),
            State::Returned => challenged(refused, rules).map(|why| format!("was sent back; {why}")),
            State::Answered | State::Withdrawn | State::Closed => None,
        };
        let because = because_of(request);
        found.extend(
            words.map(|words| one(because, entry.seq, format!("a request ({}) {words}", request.kind))),
        );
    }
    found
}

fn because_of(request: &Request) -> Block {
    match request.kind {
        RequestKind::Audit => Block::Audit,
        RequestKind::Oversight => Block::Complaint,
        _ => Block::OpenRequest,
    }
}

/// Amendments that are not decided, or were refused and can still be challenged, or are disputed.
fn amendments(entries: &[Seen], rules: &Rules<'_>) -> Vec<Against> {
    let mut found = Vec::new();
    for entry in entries.iter().filter(|entry| entry.kind == "amendment-request" && !entry.misfiled) {
        let mut decisions = entries.iter().filter_map(|later| match &later.data {
            Some(Data::AmendmentDecision(decision)) if decision.request == entry.seq => {
                Some((later, decision))
            }
            _ => None,
        });
        let closed = entries.iter().any(|later| {
            matches!(&later.data, Some(Data::RequestStep(step)) if step.request == entry.seq
                && matches!(state_after(std::iter::once(&**step), false), State::Withdrawn | State::Closed))
        });
        if closed {
            continue;
        }
        let Some((at, decision)) = decisions.next_back() else {
            found.push(one(Block::Amendment, entry.seq, "a request for amendment is not decided"));
            continue;
        };
        if decision.points.iter().all(|point| point.decision == Decision::Accepted) {
            continue;
        }
        // Each statement opens the matter once more.
        let newest = entries
            .iter()
            .filter(|later| match &later.data {
                Some(Data::Disagreement(said)) => said.request == entry.seq,
                _ => false,
            })
            .map(|later| later.made)
            .fold(at.made.max(decision.letter.dated.0), Date::max);
        if let Some(why) = challenged(newest, rules) {
            found.push(one(Block::Amendment, entry.seq, format!("an amendment was refused; {why}")));
        }
    }
    found
}

/// Adverse reactions that are not closed, and those a note tells of that were not over at its end and were never
/// taken up.
fn reactions(entries: &[Seen]) -> Vec<Against> {
    let mut found = Vec::new();
    let closed = |seq: u64| {
        entries
            .iter()
            .any(|later| matches!(&later.data, Some(Data::ReactionClosed(end)) if end.reaction == seq))
    };
    for entry in entries.iter().filter(|entry| !entry.misfiled) {
        let words = match (&*entry.kind, &entry.data) {
            ("reaction", None) => "an adverse reaction that does not open to this role",
            ("reaction", Some(_)) if !closed(entry.seq) => "an adverse reaction that is not closed",
            ("visit", Some(Data::Visit(note))) => {
                let taken_up = entries.iter().any(|later| {
                    matches!(&later.data, Some(Data::Reaction(reaction))
                        if reaction.visit == Some(note.visit)
                            || reaction.procedures.iter().any(|procedure| procedure.note == entry.seq))
                });
                let open = note.adverse.iter().any(|one| one.closed_at.is_none() && one.reaction.is_none());
                if taken_up || !open {
                    continue;
                }
                "an adverse response in a note that was not over at its end"
            }
            _ => continue,
        };
        found.push(one(Block::AdverseReaction, entry.seq, words));
    }
    found
}
