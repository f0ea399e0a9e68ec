//! Lines for what was found: `C5-6 R restricted rotation`, `masseter L tender 3`.

use super::lex::What;
use super::place::{Goal, Said};
use super::words::Meaning;
use super::{Stop, Typed, misplaced, no_such_name, once, refuse};
use crate::record::kinds::common::Amount;
use crate::record::kinds::finding::{Finding, FindingKind, TestResult};
use crate::record::kinds::screening::{MeasureKind, Measured, PlusMinus, Unit};
use crate::record::notation::level::Use;
use crate::record::vocab::Segment;

const NAMES: &str = "words, refers, method, instrument, position, structure, region";

#[derive(Default)]
struct Parts {
    kind: Option<FindingKind>,
    disc: bool,
    words: Vec<String>,
    grade: Option<u8>,
    half: Option<PlusMinus>,
    result: Option<TestResult>,
    refers: Option<String>,
    method: Option<String>,
    instrument: Option<String>,
    position: Option<String>,
}

pub(super) fn read(typed: &Typed<'_>) -> Result<Finding, Stop> {
    let (mut said, mut parts) = (Said::default(), Parts::default());
    let mut at = 0;
    while at < typed.items.len() {
        let taken = said.take(&typed.items[at..])?;
        if taken == 0 {
            parts.take(typed, at)?;
        }
        at += taken.max(1);
    }
    let kind = match (parts.kind, parts.disc) {
        (Some(kind), false) => kind,
        (Some(kind), true) => {
            said.name_structure("disc")?;
            kind
        }
        (None, true) => FindingKind::Disc,
        (None, false) => {
            return refuse("kind-missing", "say what was found: tender, restricted, tight, click, ...");
        }
    };
    let joint = matches!(
        kind,
        FindingKind::MotionRestriction | FindingKind::EndFeel | FindingKind::JointSound | FindingKind::Disc
    );
    let used_for = if parts.disc { Use::Disc } else { Use::Adjust };
    let place = said.settle(typed, Goal { used_for, joint, inside: false })?;
    let segment = match place.segments.as_slice() {
        [] => None,
        [one] => Some(*one),
        _ => return refuse("one-segment", "a finding goes to one segment: write a line for each"),
    };
    if parts.disc && segment.is_some_and(|segment| segment.order().is_none()) {
        return refuse("no_disc", "there is no disc in this joint");
    }
    parts.finish(kind, place, segment)
}

impl Parts {
    fn take(&mut self, typed: &Typed<'_>, at: usize) -> Result<(), Stop> {
        let item = &typed.items[at];
        match &item.what {
            What::Known(meanings) => self.take_word(typed, at, meanings),
            What::Text(text) => {
                self.words.push(text.clone());
                Ok(())
            }
            What::Number(number, None) => match number.parse() {
                Ok(grade) => once(&mut self.grade, grade, "grade"),
                Err(_) => refuse("grade", "a grade is a whole number"),
            },
            What::Graded(grade, half) => {
                once(&mut self.grade, *grade, "grade")?;
                once(&mut self.half, *half, "grade")
            }
            What::Pair(name, value) => {
                let (slot, what) = match name.as_str() {
                    "words" => {
                        self.words.push(value.clone());
                        return Ok(());
                    }
                    "refers" => (&mut self.refers, "place it refers to"),
                    "method" => (&mut self.method, "method"),
                    "instrument" => (&mut self.instrument, "instrument"),
                    "position" => (&mut self.position, "position"),
                    _ => return no_such_name(name, NAMES),
                };
                once(slot, value.clone(), what)
            }
            _ => misplaced(typed, item, "finding"),
        }
    }

    fn take_word(&mut self, typed: &Typed<'_>, at: usize, meanings: &[Meaning]) -> Result<(), Stop> {
        let is_kind = |m: &Meaning| matches!(m, Meaning::Kind(..));
        let others = typed.items.iter().enumerate().filter(|(index, _)| *index != at);
        let kind_elsewhere = others.into_iter().any(|(_, item)| item.what.meanings().iter().any(is_kind));
        // "lateral" is a direction where something else was found, and otherwise the movement itself.
        let direction =
            meanings.iter().find(|m| matches!(m, Meaning::Direction(_))).filter(|_| kind_elsewhere);
        let meaning = direction.or_else(|| {
            let known = |m: &&Meaning| {
                matches!(
                    m,
                    Meaning::Kind(..) | Meaning::Direction(_) | Meaning::Result(_) | Meaning::Position(_)
                )
            };
            meanings.iter().find(known)
        });
        match meaning {
            Some(Meaning::Kind(FindingKind::Disc, _)) => {
                self.disc = true;
                Ok(())
            }
            Some(Meaning::Kind(kind, more)) => {
                self.words.extend(more.map(str::to_owned));
                once(&mut self.kind, *kind, "finding")
            }
            Some(Meaning::Direction(word)) => {
                self.words.push((*word).to_owned());
                Ok(())
            }
            Some(Meaning::Result(result)) => once(&mut self.result, *result, "result"),
            Some(Meaning::Position(word)) => once(&mut self.position, (*word).to_owned(), "position"),
            _ => misplaced(typed, &typed.items[at], "finding"),
        }
    }

    fn finish(
        self,
        kind: FindingKind,
        place: super::place::Where,
        segment: Option<Segment>,
    ) -> Result<Finding, Stop> {
        let most = match kind {
            FindingKind::Tenderness | FindingKind::Reflex => 4,
            FindingKind::Strength => 5,
            _ if self.grade.is_some() => {
                return refuse("grade", "only tender, strength and reflex have a grade");
            }
            _ => 0,
        };
        if self.grade.is_some_and(|grade| grade > most) {
            return refuse("value-cannot-be", format!("the grade goes from 0 to {most}"));
        }
        let measured = match (kind, self.half, self.grade) {
            (_, None, _) => None,
            (FindingKind::Strength, Some(half), Some(grade)) => {
                Some(graded(MeasureKind::Strength, grade, half))
            }
            (FindingKind::Reflex, Some(half), Some(grade)) => Some(graded(MeasureKind::Reflex, grade, half)),
            _ => return refuse("grade", "only strength and reflex have half grades"),
        };
        Ok(Finding {
            no: 0,
            region: place.region,
            structure: place.structure,
            segment,
            level: place.level,
            side: place.side,
            kind,
            grade: self.grade,
            measured,
            result: self.result,
            words: (!self.words.is_empty()).then(|| self.words.join(", ")),
            refers_to: self.refers,
            method: self.method,
            instrument: self.instrument,
            position: self.position,
        })
    }
}

fn graded(kind: MeasureKind, grade: u8, half: PlusMinus) -> Measured {
    Measured {
        kind,
        value: Amount::from(u32::from(grade)),
        second_value: None,
        unit: Unit::Grade,
        typed: None,
        side: None,
        region: None,
        segment: None,
        name: None,
        plus_minus: Some(half),
        active: None,
        method: None,
        instrument: None,
        position: None,
        retyped: None,
        unusual_because: None,
    }
}
