//! What the head of an entry can't say, whatever its kind.

use super::common::Problems;
use super::{Data, Place, info};
use crate::record::envelope::{Meaning, Record, Signature};

/// Checks the head, and that head and data belong together.
pub(super) fn check(data: &Data, head: &Record, problems: &mut Problems) {
    if data.kind() != head.kind || data.edition() != head.edition {
        problems.refuse("kind-mismatch", "head/kind", "kind or edition in the head is not that of the data");
    }
    times(head, problems);
    people(head, problems);
    match (info(&head.kind).map(|row| row.place), &head.chart) {
        (Some(Place::Chart), None) => {
            problems.refuse("chart-missing", "head/chart", "this kind of entry belongs to a chart");
        }
        (Some(Place::Nowhere), Some(_)) => {
            problems.refuse("chart-given", "head/chart", "this kind of entry stands outside any chart");
        }
        _ => {}
    }
}

fn times(head: &Record, problems: &mut Problems) {
    let happened = head.happened;
    if happened.end.is_some_and(|end| end < happened.start) {
        problems.refuse("end-before-start", "head/happened/end", "it ends before it starts");
    }
    if happened.start > head.written || happened.end.is_some_and(|end| end > head.written) {
        problems.refuse("in-future", "head/happened", "it would have happened after it is written");
    }
    for (field, signature) in signatures(head) {
        if signature.at > head.written {
            problems.refuse(
                "signed-in-future",
                format!("{field}/at"),
                "the signature is later than the entry",
            );
        }
        if signature.at < happened.start {
            problems.ask("signed-before-it-happened", format!("{field}/at"), "signed before it happened");
        }
    }
}

fn signatures(head: &Record) -> impl Iterator<Item = (&'static str, &Signature)> {
    std::iter::once(("head/signed", &head.signed))
        .chain(head.second.iter().map(|second| ("head/second", second)))
}

fn people(head: &Record, problems: &mut Problems) {
    if head.author.code.trim().is_empty() || head.author.name.trim().is_empty() {
        problems.refuse("author-missing", "head/author", "the author has no code or no name");
    }
    if head.signed.by != head.author.code || head.signed.meaning != Meaning::Wrote {
        problems.refuse("author-must-sign", "head/signed", "the author must sign for having written it");
    }
    if head.second.as_ref().is_some_and(|second| second.by == head.signed.by) {
        problems.refuse("second-is-author", "head/second", "the second signature must be another person's");
    }
    if head.entered_by.as_ref().is_some_and(|scribe| scribe.code == head.author.code) {
        problems.refuse("scribe-is-author", "head/entered_by", "leave it out when the author typed it");
    }
    if head.station.trim().is_empty() {
        problems.refuse("blank", "head/station", "the station is missing");
    }
}
