//! The moments worth stopping at when the demonstration is walked through aloud.

use super::Names;
use super::run::Built;
use crate::practice::facts::Ask;
use crate::record::coverage::answer::Verdict;
use crate::record::coverage::facts::{Request, RequestedSide};
use crate::record::moment::Moment;
use crate::record::vocab::{Glove, Region, Technique};

/// One moment of the walk.
#[derive(Debug, Clone)]
pub struct Highlight {
    /// A few words.
    pub title: &'static str,
    /// What happened and what it shows, in plain words.
    pub words: &'static str,
    /// Chart number; none for what stands outside any chart.
    pub chart_no: Option<&'static str>,
    /// When.
    pub at: Moment,
    /// Names of the entries to look at.
    pub entries: Vec<&'static str>,
    /// Their numbers in the ledger, in the same order.
    pub numbers: Vec<u64>,
    /// The coverage question to ask of the record here.
    pub question: Option<Question>,
}

/// A coverage question, and what the record must answer.
#[derive(Debug, Clone)]
pub struct Question {
    /// What is asked, and the moment it is about.
    pub ask: Ask,
    /// The answer the scenario is written for.
    pub expect: Verdict,
}

/// The moments of a demonstration that was built, oldest first.
pub fn highlights(built: &Built) -> Vec<Highlight> {
    let mut all = moments();
    for moment in &mut all {
        moment.numbers = numbers(&moment.entries, &built.names);
        if let Some(question) = &mut moment.question {
            // The question is put now, about a moment that is past.
            question.ask.reads_at = built.practice.now();
        }
    }
    all
}

fn numbers(entries: &[&str], names: &Names) -> Vec<u64> {
    entries.iter().filter_map(|name| names.get(*name).copied()).collect()
}

fn at(text: &str) -> Moment {
    Moment::parse(text).unwrap_or(Moment::EPOCH)
}

fn moment(
    title: &'static str,
    chart_no: Option<&'static str>,
    when: &str,
    entries: &[&'static str],
    words: &'static str,
) -> Highlight {
    let entries = entries.to_vec();
    Highlight { title, words, chart_no, at: at(when), entries, numbers: Vec::new(), question: None }
}

impl Highlight {
    fn asking(mut self, what: (Technique, Region, RequestedSide), by: &str, expect: Verdict) -> Highlight {
        let (technique, region, side) = what;
        let in_mouth = technique == Technique::Intraoral;
        let request = Request {
            technique,
            region,
            side,
            segments: Vec::new(),
            practitioner_id: by.to_string(),
            glove_material: in_mouth.then_some(Glove::Nitrile),
            position: None,
            products: Vec::new(),
            sequence_no: None,
        };
        let ask = Ask { request, now: self.at, reads_at: self.at };
        self.question = Some(Question { ask, expect });
        self
    }
}

/// The moments without their numbers.
pub(super) fn moments() -> Vec<Highlight> {
    [first_moments(), middle_moments(), later_moments()].concat()
}

/// The first year: what was agreed, and asking the record.
fn first_moments() -> Vec<Highlight> {
    use RequestedSide::{Both, Left};
    let mouth = |side| (Technique::Intraoral, Region::Mouth, side);
    vec![
        moment(
            "The book is opened",
            None,
            "2022-10-03T08:12:00-04:00",
            &["rules-1", "F1"],
            "First day: rules, wording and roster are adopted, and the first day slip is pasted into a \
             bound book. What is in that book can later vouch for everything before it.",
        ),
        moment(
            "Inside the mouth, left: not agreed",
            Some("PM-0112"),
            "2022-11-14T10:12:00-05:00",
            &["c2"],
            "She agreed to the right side only. Before the left is touched, the record is asked. It says \
             no, and names the paper that comes nearest.",
        )
        .asking(mouth(Left), "IV", Verdict::No),
        moment(
            "Explained, signed, asked: now yes",
            Some("PM-0112"),
            "2022-11-14T10:30:00-05:00",
            &["c3", "a3"],
            "A new paper for the left at 10:20, asked in the room at 10:29. The same question, eighteen \
             minutes later.",
        )
        .asking(mouth(Left), "IV", Verdict::Yes),
        moment(
            "A boy comes alone",
            Some("PM-0118"),
            "2023-02-06T16:33:00-05:00",
            &["c-118-1"],
            "His mother's paper asks for her in the building. The record does not say no; it says what is \
             missing: fetch her, and ask him too.",
        )
        .asking((Technique::Mobilization, Region::Lumbar, Both), "IV", Verdict::AskFirst),
    ]
}

/// When something went wrong, and how it was put right.
fn middle_moments() -> Vec<Highlight> {
    use RequestedSide::Right;
    vec![
        moment(
            "The wrong side in a note",
            Some("PM-0130"),
            "2023-05-09T08:58:00-04:00",
            &["n-130-1", "corr-130"],
            "The note says left; asked-today and the findings say right. The correction stands beside it. \
             Both can be read for ever, with who, when and why.",
        ),
        moment(
            "\"Stop. None of it.\"",
            Some("PM-0121"),
            "2023-06-06T11:19:00-04:00",
            &["w-121", "r-121", "n-121-3"],
            "In the middle of a visit he takes back all neck work. It counts from the minute he said it, \
             not from the minute it was typed.",
        )
        .asking((Technique::Mobilization, Region::NeckJoints, Right), "IV", Verdict::No),
        moment(
            "A clock an hour behind",
            None,
            "2024-03-11T10:15:00-04:00",
            &["clk-1", "clk-2", "clock"],
            "Two entries carry the wrong hour. Nothing is re-stamped: a remark says which, and by how much.",
        ),
        moment(
            "A note in somebody else's chart",
            Some("PM-0139"),
            "2024-05-06T15:24:00-04:00",
            &["n-wrong", "misfiled", "n-130-5"],
            "Found after half an hour, marked, and written again where it belongs. It never leaves with \
             this chart.",
        ),
        moment(
            "Change my record, please",
            Some("PM-0127"),
            "2024-11-04T12:00:00-05:00",
            &["amend", "corr-127", "decision", "disagree", "rebuttal"],
            "One point accepted, one refused with its ground. She disagrees in writing. All four papers go \
             along with every copy.",
        ),
    ]
}

/// The last year: who decides now, and what leaves the house.
fn later_moments() -> Vec<Highlight> {
    use RequestedSide::{Both, Left, Right};
    let mouth = |side| (Technique::Intraoral, Region::Mouth, side);
    vec![
        moment(
            "Eighteen since Saturday",
            Some("PM-0118"),
            "2025-06-16T16:30:00-04:00",
            &["c-118-3", "c-118-4"],
            "On the day before yesterday his mother's signature still counted. Today only his own does.",
        )
        .asking((Technique::Mobilization, Region::Thoracic, Both), "IV", Verdict::No),
        moment(
            "The locum wants to help",
            Some("PM-0112"),
            "2025-07-14T10:03:00-04:00",
            &["c2", "c3"],
            "The old papers name one practitioner, and they have run out. Two reasons, both printed.",
        )
        .asking(mouth(Right), "SA", Verdict::No),
        moment(
            "No means today",
            Some("PM-0112"),
            "2025-08-04T10:11:00-04:00",
            &["c6", "a5"],
            "The paper covers it. She was asked, and said: not today.",
        )
        .asking(mouth(Left), "IV", Verdict::No),
        moment(
            "A copy for the patient",
            Some("PM-0139"),
            "2025-09-22T14:30:00-04:00",
            &["req-139", "rel-139", "n-wrong"],
            "Sealed, complete, and checkable by anybody. One entry is about another person: its slip is in \
             the copy, its words are not.",
        ),
        moment(
            "Throw it away? No",
            Some("PM-0133"),
            "2025-10-20T13:00:00-04:00",
            &["hold-133", "refused-133"],
            "A hold, the years, and a missing second signature stand against it. The refusal is on record.",
        ),
    ]
}
