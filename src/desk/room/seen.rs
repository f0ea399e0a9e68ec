//! What the page of a patient shows, gathered in one reading of the chart. A visit of whoever is here must be open
//! in it: that is the reason for which it is read.

use super::question::{Question, of_last_time};
use crate::cli::commands::lines::note_draft;
use crate::desk::call::Call;
use crate::practice::chart::{ChartFace, deciders, find};
use crate::practice::facts::{Ask, ask_entries};
use crate::practice::note::{DraftLine, lines};
use crate::practice::open::{Entry, Practice};
use crate::practice::typing::Typing;
use crate::practice::visit::{in_visit, open_pauses, open_visit};
use crate::record::calendar::{LeapDay, age_on};
use crate::record::coverage::Answer;
use crate::record::coverage::facts::Facts;
use crate::record::kinds::Data;
use crate::record::kinds::identity::DecisionMaker;
use crate::record::kinds::withdrawal::{AskedAnswer, PauseKind};
use crate::record::moment::Moment;
use crate::record::vocab::{Region, Side, Technique};
use crate::trouble::Outcome;
use serde_json::Value;
use std::collections::BTreeMap;

/// A question asked in this visit, and the answer.
pub struct AskedToday {
    /// When.
    pub at: Moment,
    /// What was asked.
    pub question: Question,
    /// What was answered.
    pub answer: AskedAnswer,
    /// The limit, or what was said.
    pub words: Option<String>,
}

/// A withdrawal of this visit.
pub struct Withdrawn {
    /// Number of the entry.
    pub seq: u64,
    /// When it was said.
    pub at: Moment,
    /// Techniques taken back; none: all.
    pub techniques: Option<Vec<Technique>>,
    /// Regions taken back; none: everywhere.
    pub regions: Option<Vec<Region>>,
    /// Side taken back; none: every side.
    pub side: Option<Side>,
    /// True where what happened then is written already.
    pub told: bool,
}

/// A moment marked in the draft, without words yet.
pub struct Marked {
    /// Its number in the list of checks, from 1.
    pub number: usize,
    /// When.
    pub at: String,
}

/// The visit that is open.
pub struct Visit {
    /// Number of its opening.
    pub seq: u64,
    /// When it was opened.
    pub opened: Moment,
    /// What was asked in it, newest last.
    pub asked: Vec<AskedToday>,
    /// True where a pause or stop waits for the patient's yes.
    pub stopped: Option<(PauseKind, Moment)>,
    /// What was withdrawn in it.
    pub withdrawn: Vec<Withdrawn>,
    /// Lines of the note, in words.
    pub lines: Vec<DraftLine>,
    /// Moments marked without words.
    pub marked: Vec<Marked>,
    /// The draft of the note as data.
    pub draft: Value,
    /// Screens done in it, by name.
    pub screened: Vec<String>,
}

/// Everything about a patient that the page shows.
pub struct Seen {
    /// Who it is.
    pub face: ChartFace,
    /// Age in whole years; none where the birth date is not known.
    pub age: Option<i32>,
    /// True while a guardian decides because of age.
    pub minor: bool,
    /// The facts of the coverage question, or why they can't be told.
    pub facts: Outcome<Facts>,
    /// The answer to the question on the table.
    pub answer: Option<Answer>,
    /// The question on the table.
    pub question: Option<Question>,
    /// What was done last time, as questions.
    pub last_time: Vec<Question>,
    /// The day of the last note.
    pub last_day: Option<Moment>,
    /// Who may decide for the patient, the newest entry of each.
    pub deciders: Vec<DecisionMaker>,
    /// The visit; none where none of whoever is here is open.
    pub visit: Option<Visit>,
    /// What was left half typed.
    pub typing: Typing,
    /// Screens of the adopted rules, with their items.
    pub screens: BTreeMap<String, Vec<String>>,
}

/// True when a visit of this person is open in the chart: then it is being read for treatment.
pub fn is_in_room(practice: &Practice, entries: &[Entry]) -> bool {
    let Some(visit) = open_visit(entries) else { return false };
    let me = &practice.session.me.code;
    let opening = entries.iter().find(|e| e.leaf.seq == visit);
    opening.is_some_and(|entry| match (entry.record.as_ref(), entry.data()) {
        (Some(record), Some(Data::VisitOpened(opened))) => {
            record.author.code == *me || opened.practitioners.contains(me)
        }
        _ => false,
    })
}

/// Reads the chart for the page.
///
/// # Errors
/// When it can't be read. What can't be told about coverage is no error: it is shown in its place.
pub fn seen(call: &Call<'_>, practice: &Practice, chart: &str) -> Outcome<Seen> {
    let face = find(practice, chart)?;
    let entries = practice.chart(&face.tag)?;
    let typing = practice.typing(&face.tag)?;
    let question = typing.get("question").and_then(Question::read);
    let now = call.now().at;
    let in_room = is_in_room(practice, &entries);
    let (facts, answer) = match in_room {
        true => coverage(practice, &entries, question.as_ref(), now),
        false => (Err(not_open()), None),
    };
    let last = entries.iter().rev().find_map(|entry| match entry.data() {
        Some(Data::Visit(note)) => Some((entry.record.as_ref()?.happened.start, of_last_time(&note))),
        _ => None,
    });
    let (last_day, last_time) = last.map_or((None, Vec::new()), |(day, all)| (Some(day), all));
    let minor = facts.as_ref().is_ok_and(crate::record::coverage::is_of_a_minor);
    Ok(Seen {
        age: age(&face, now),
        minor,
        answer,
        question,
        last_time: if in_room { last_time } else { Vec::new() },
        last_day,
        deciders: if in_room { deciders(&entries) } else { Vec::new() },
        visit: if in_room { Some(visit(practice, &face, &entries, now)?) } else { None },
        typing,
        screens: screens(practice),
        facts,
        face,
    })
}

fn not_open() -> crate::trouble::Trouble {
    crate::trouble::Trouble::input("No visit is open.", "Open it first.")
}

/// The facts, and the answer where something is asked. Without a question the facts are those of an examination,
/// of which only what the chart holds is used.
fn coverage(
    practice: &Practice,
    entries: &[Entry],
    question: Option<&Question>,
    at: Moment,
) -> (Outcome<Facts>, Option<Answer>) {
    let any = Question {
        technique: Technique::Examination,
        region: Region::Spine,
        side: Side::Both,
        segments: Vec::new(),
    };
    let asked = question.unwrap_or(&any);
    let request = crate::record::coverage::facts::Request {
        technique: asked.technique,
        region: asked.region,
        side: asked.side.into(),
        segments: asked.segments.clone(),
        practitioner_id: practice.session.me.code.clone(),
        glove_material: None,
        position: None,
        products: Vec::new(),
        sequence_no: None,
    };
    match ask_entries(practice, entries, &Ask { request, now: at, reads_at: practice.now().max(at) }) {
        Ok((facts, answer)) => (Ok(facts), question.map(|_| answer)),
        Err(trouble) => (Err(trouble), None),
    }
}

/// As the list before signing counts it.
fn age(face: &ChartFace, now: Moment) -> Option<i32> {
    let born = face.identity.birth_date.date?.0;
    Some(age_on(born, now.local_date(), LeapDay::Mar1))
}

fn visit(practice: &Practice, face: &ChartFace, entries: &[Entry], now: Moment) -> Outcome<Visit> {
    let seq = open_visit(entries).unwrap_or_default();
    let of_visit = |entry: &&Entry| entry.leaf.seq >= seq;
    let opened = entries.iter().find(|e| e.leaf.seq == seq).and_then(|e| e.record.as_ref());
    let opened = opened.map_or(now, |record| record.happened.start);
    let (mut asked, mut withdrawn, mut screened) = (Vec::new(), Vec::new(), Vec::new());
    let waiting = open_pauses(entries, seq);
    let mut stopped = None;
    for entry in entries.iter().filter(of_visit) {
        let Some(record) = entry.record.as_ref() else { continue };
        let at = record.happened.start;
        match entry.data() {
            Some(Data::Asked(one)) if one.visit == seq => asked.push(AskedToday {
                at,
                answer: one.answer,
                words: one.limit_words.clone().or(one.words.clone()),
                question: Question {
                    technique: one.technique,
                    region: one.region,
                    side: one.side,
                    segments: one.segments.clone(),
                },
            }),
            Some(Data::Withdrawal(one)) => match one.completes {
                Some(first) => {
                    let before = withdrawn.iter_mut().find(|w: &&mut Withdrawn| w.seq == first);
                    if let Some(before) = before {
                        before.told = true;
                    }
                }
                None => withdrawn.push(Withdrawn {
                    seq: entry.leaf.seq,
                    at,
                    techniques: one.techniques.clone(),
                    regions: one.regions.clone(),
                    side: one.side,
                    told: false,
                }),
            },
            Some(Data::Pause(one)) if waiting.contains(&entry.leaf.seq) => stopped = Some((one.kind, at)),
            Some(Data::Screen(one)) => screened.push(one.screen.clone()),
            _ => {}
        }
    }
    let draft = note_draft(practice, face, seq, now)?;
    let mut data = draft.data.clone();
    let shown = lines(&draft);
    if let Some(fields) = data.as_object_mut() {
        crate::practice::visit::complete(fields, seq, &in_visit(entries, seq), &practice.session.me.code);
    }
    Ok(Visit {
        seq,
        opened,
        asked,
        stopped,
        withdrawn,
        lines: shown,
        marked: marked(&data),
        draft: data,
        screened,
    })
}

/// Moments of the draft that are checks without a number and without words.
fn marked(draft: &Value) -> Vec<Marked> {
    let checks = draft.get("checks").and_then(Value::as_array).map_or(&[][..], Vec::as_slice);
    let wordless =
        |check: &&(usize, &Value)| check.1.get("words").is_none() && check.1.get("number").is_none();
    // A check whose moment can't be read stands at the beginning of the day.
    let at = |check: &Value| check["at"].as_str().and_then(|at| Moment::parse(at).ok());
    checks
        .iter()
        .enumerate()
        .map(|(at, check)| (at + 1, check))
        .filter(|check| wordless(&check))
        .map(|(number, check)| Marked { number, at: at(check).map_or("00:00".to_string(), Moment::clock) })
        .collect()
}

fn screens(practice: &Practice) -> BTreeMap<String, Vec<String>> {
    let rules = practice.rules().and_then(|rules| rules.document.pointer("/coverage/screen_items"));
    let all = rules.and_then(Value::as_object).into_iter().flatten();
    all.map(|(name, items)| {
        let items = items.as_object().into_iter().flatten().map(|(item, _)| item.clone()).collect();
        (name.clone(), items)
    })
    .collect()
}
