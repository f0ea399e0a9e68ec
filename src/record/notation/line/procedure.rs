//! Lines for what was done, and for what was not: `C5-6 R mob III 4>2 tolerated`,
//! `C2-3 L thrust deferred because declined today`.

use super::lex::{self, What};
use super::place::{Goal, Said, Where};
use super::words::Meaning;
use super::{Line, Stop, Typed, ask, ask_more, misplaced, no_such_name, once, refuse};
use crate::record::kinds::common::Given;
use crate::record::kinds::procedure::{Deferred, GloveUse, Procedure, Response, ResponseWord};
use crate::record::kinds::screening::MeasureKind;
use crate::record::moment::Moment;
use crate::record::notation::level::Use;
use crate::record::vocab::{Glove, Technique};

const NAMES: &str = "dir, contact, grade, position, instrument, with, said, not-asked, by, consent, asked, \
                     stopped, stopped-because, structure, region";

/// The grades of joint mobilization.
const GRADES: [&str; 5] = ["I", "II", "III", "IV", "V"];

#[derive(Default)]
struct Parts {
    technique: Option<Technique>,
    at: Option<Moment>,
    direction: Vec<String>,
    contact: Option<String>,
    grade: Option<String>,
    passes: Option<u32>,
    seconds: Option<u32>,
    position: Option<String>,
    instrument: Option<String>,
    glove: Option<Glove>,
    fresh: Option<bool>,
    products: Vec<String>,
    by: Option<String>,
    word: Option<ResponseWord>,
    said: Vec<String>,
    pain_before: Option<u8>,
    pain: Option<u8>,
    not_asked: Option<String>,
    sound: Option<bool>,
    consent: Option<u64>,
    asked: Option<u64>,
    stopped: Option<Moment>,
    stopped_because: Option<String>,
}

pub(super) fn read(typed: &Typed<'_>) -> Result<Line, Stop> {
    let (mut said, mut parts) = (Said::default(), Parts::default());
    let mut at = 0;
    let mut deferred = None;
    while at < typed.items.len() {
        let item = &typed.items[at];
        if item.what.meanings().contains(&Meaning::Deferred) {
            deferred = Some(item.to);
            break;
        }
        let mut taken = said.take(&typed.items[at..])?;
        if taken == 0 {
            taken = parts.take(typed, at)?;
        }
        at += taken;
    }
    let Some(technique) = parts.technique else {
        return refuse(
            "technique-missing",
            "say what was done: mob, thrust, soft, intraoral, traction, taping, ...",
        );
    };
    let joint =
        matches!(technique, Technique::Mobilization | Technique::Thrust | Technique::InstrumentAdjust);
    let goal = Goal {
        used_for: if joint { Use::Adjust } else { Use::Span },
        joint,
        inside: technique == Technique::Intraoral,
    };
    let place = said.settle(typed, goal)?;
    if place.soft && matches!(technique, Technique::Mobilization | Technique::Thrust) {
        return refuse("not-a-joint", format!("{technique} goes to a joint, and this is muscle"));
    }
    if joint && place.segments.len() > 1 {
        return refuse("one-segment", "a joint technique goes to one segment: write a line for each");
    }
    match deferred {
        Some(end) => not_done(typed, technique, place, &parts, end).map(Line::Deferred),
        None => parts.finish(typed, technique, place).map(|done| Line::Procedure(Box::new(done))),
    }
}

fn not_done(
    typed: &Typed<'_>,
    technique: Technique,
    place: Where,
    parts: &Parts,
    end: usize,
) -> Result<Deferred, Stop> {
    let bare = Parts { technique: parts.technique, ..Parts::default() };
    if !parts.same_as(&bare) {
        return refuse(
            "out-of-place",
            "what was not done has no dose, gloves or response: only where and why",
        );
    }
    let rest = typed.line.get(end..).unwrap_or_default().trim();
    let because = match rest.get(..7) {
        Some(word) if word.eq_ignore_ascii_case("because") => rest.get(7..).unwrap_or_default(),
        _ => rest,
    };
    let because = because.trim_start_matches(':').trim();
    if because.is_empty() {
        return refuse("reason-missing", "say why it was not done, behind the word deferred");
    }
    let exact = structure_of(&place);
    Ok(Deferred {
        technique,
        region: place.region,
        side: place.side,
        segments: place.segments,
        // The layout has no place for a structure here, and it must not be lost.
        because: exact.map_or_else(|| because.to_owned(), |exact| format!("{exact}: {because}")),
    })
}

/// The structure with what the layout has no other place for.
fn structure_of(place: &Where) -> Option<String> {
    let stretch = place.span.as_ref().map(|span| format!("{} to {}", span.from, span.to));
    let level = place.level.as_ref().map(|level| format!("vertebra {level}"));
    match (&place.structure, level) {
        (Some(structure), Some(level)) => Some(format!("{structure} at {level}")),
        (Some(structure), None) => Some(structure.clone()),
        (None, level) => level.or(stretch),
    }
}

impl Parts {
    /// True where nothing else was said than in the other.
    fn same_as(&self, other: &Parts) -> bool {
        let shown = |p: &Parts| {
            (
                (
                    p.technique,
                    p.at,
                    p.direction.clone(),
                    p.contact.clone(),
                    p.grade.clone(),
                    p.passes,
                    p.seconds,
                ),
                (
                    p.position.clone(),
                    p.instrument.clone(),
                    p.glove,
                    p.fresh,
                    p.products.clone(),
                    p.by.clone(),
                ),
                (p.word, p.said.clone(), p.pain_before, p.pain, p.not_asked.clone(), p.sound),
                (p.consent, p.asked, p.stopped, p.stopped_because.clone()),
            )
        };
        shown(self) == shown(other)
    }

    /// Takes the items that begin here; says how many.
    fn take(&mut self, typed: &Typed<'_>, at: usize) -> Result<usize, Stop> {
        let item = &typed.items[at];
        match &item.what {
            What::Known(meanings) => return self.take_word(typed, at, meanings),
            What::Text(text) => self.said.push(text.clone()),
            What::Roman(grade) => once(&mut self.grade, grade.clone(), "grade")?,
            What::Pain(before, after) => {
                once(&mut self.pain_before, *before, "pain")?;
                once(&mut self.pain, *after, "pain")?;
            }
            What::Dose(passes, seconds) => {
                once(&mut self.passes, *passes, "passes")?;
                if let Some(seconds) = seconds {
                    once(&mut self.seconds, *seconds, "seconds")?;
                }
            }
            What::Number(number, unit) => self.take_number(typed, at, number, unit.as_deref())?,
            What::At(Some(moment)) => once(&mut self.at, *moment, "time")?,
            What::Pair(name, value) => self.take_pair(typed, name, value)?,
            _ => return misplaced(typed, item, "procedure"),
        }
        Ok(1)
    }

    fn take_number(
        &mut self,
        typed: &Typed<'_>,
        at: usize,
        number: &str,
        unit: Option<&str>,
    ) -> Result<(), Stop> {
        if let Some(unit) = unit {
            return match lex::in_seconds(number, unit) {
                Some(seconds) => once(&mut self.seconds, seconds, "seconds"),
                None => refuse("dose", "a dose is written like 3x, 30s, 2min or 3x30s"),
            };
        }
        let Ok(count) = number.parse::<u32>() else {
            return refuse("dose", "a dose is written like 3x, 30s, 2min or 3x30s");
        };
        let mobilized = typed.any(|m| *m == Meaning::Technique(Technique::Mobilization));
        if let Some(grade) = GRADES.get((count as usize).wrapping_sub(1)).filter(|_| mobilized) {
            let readings = [(*grade).to_owned(), format!("{count}x")];
            return ask(
                typed.line,
                &typed.items[at],
                format!("Grade {grade}, or {count} passes?"),
                &readings,
            );
        }
        once(&mut self.passes, count, "passes")
    }

    fn take_word(&mut self, typed: &Typed<'_>, at: usize, meanings: &[Meaning]) -> Result<usize, Stop> {
        let item = &typed.items[at];
        let next = typed.items.get(at + 1).map(|item| &item.what);
        for meaning in meanings {
            match (meaning, next) {
                (Meaning::Adjust, _) => {
                    let readings =
                        [Technique::Thrust, Technique::InstrumentAdjust].map(|t| t.word().to_owned());
                    return ask(
                        typed.line,
                        item,
                        "Adjusted by hand with a thrust, or with an instrument?",
                        &readings,
                    );
                }
                (Meaning::Grade, Some(What::Number(number, None))) => {
                    let grade = number.parse::<usize>().ok().and_then(|n| GRADES.get(n.wrapping_sub(1)));
                    let Some(grade) = grade else { return refuse("grade", "grades are I to V") };
                    once(&mut self.grade, (*grade).to_owned(), "grade")?;
                    return Ok(2);
                }
                (Meaning::Grade, _) => {}
                (Meaning::Measure(MeasureKind::PainNow), Some(what)) => {
                    return match what {
                        What::Pain(..) => Ok(1),
                        What::Number(number, None) => {
                            let Ok(pain) = number.parse() else { return pain_range() };
                            once(&mut self.pain, pain, "pain")?;
                            Ok(2)
                        }
                        _ => pain_range(),
                    };
                }
                (Meaning::Technique(technique), _) => once(&mut self.technique, *technique, "technique")?,
                (Meaning::Direction(word), _) => self.direction.push((*word).to_owned()),
                (Meaning::Response(word), _) => once(&mut self.word, *word, "response")?,
                (Meaning::Position(word), _) => once(&mut self.position, (*word).to_owned(), "position")?,
                (Meaning::Glove(glove), _) => once(&mut self.glove, *glove, "gloves")?,
                (Meaning::FreshPair(fresh), _) => once(&mut self.fresh, *fresh, "pair of gloves")?,
                (Meaning::Product(word), _) => self.products.push((*word).to_owned()),
                (Meaning::Sound(heard), _) => once(&mut self.sound, *heard, "joint sound")?,
                _ => continue,
            }
            return Ok(1);
        }
        misplaced(typed, item, "procedure")
    }

    fn take_pair(&mut self, typed: &Typed<'_>, name: &str, value: &str) -> Result<(), Stop> {
        let text = value.to_owned();
        let number = || value.parse::<u64>().ok().filter(|n| *n > 0);
        match name {
            "dir" => self.direction.push(text),
            "with" => self.products.push(text),
            "said" => self.said.push(text),
            "contact" => once(&mut self.contact, text, "contact")?,
            "grade" => once(&mut self.grade, text, "grade")?,
            "position" => once(&mut self.position, text, "position")?,
            "instrument" => once(&mut self.instrument, text, "instrument")?,
            "not-asked" => once(&mut self.not_asked, text, "response")?,
            "by" => once(&mut self.by, text, "person")?,
            "stopped-because" => once(&mut self.stopped_because, text, "reason")?,
            "stopped" => match lex::moment(value, typed.setting)? {
                Some(at) => once(&mut self.stopped, at, "time of stopping")?,
                None => return refuse("time", "say when it was stopped, like stopped=10:20"),
            },
            "consent" | "asked" => {
                let Some(number) = number() else { return refuse("number", "entries are numbered from 1") };
                let slot = if name == "consent" { &mut self.consent } else { &mut self.asked };
                once(slot, number, "number")?;
            }
            _ => return no_such_name(name, NAMES),
        }
        Ok(())
    }

    fn response(&mut self) -> Result<Given<Response>, Stop> {
        if [self.pain, self.pain_before].into_iter().flatten().any(|pain| pain > 10) {
            return pain_range();
        }
        let words = (!self.said.is_empty()).then(|| self.said.join(", "));
        let word = match (self.word, self.pain_before.zip(self.pain)) {
            (Some(word), _) => Some(word),
            // The patient's two numbers say it.
            (None, Some((before, after))) => Some(match after.cmp(&before) {
                std::cmp::Ordering::Less => ResponseWord::Relieved,
                std::cmp::Ordering::Equal => ResponseWord::NoChange,
                std::cmp::Ordering::Greater => ResponseWord::Worse,
            }),
            (None, None) => words.as_ref().map(|_| ResponseWord::Other),
        };
        match (word, self.not_asked.take()) {
            (Some(_), Some(_)) => refuse("twice", "there is a response and a reason why there is none"),
            (None, Some(because)) if self.pain.is_none() => Ok(Given::absent(because)),
            (Some(word), None) => {
                Ok(Given::Value(Response { word, pain_before: self.pain_before, pain: self.pain, words }))
            }
            _ => refuse(
                "response-missing",
                "say how it was borne: tolerated, sore, relieved, dizzy, no-change, worse, or pain like 4>2; \
                 or why it was not asked: not-asked=\"asleep\"",
            ),
        }
    }

    fn gloves(&self, typed: &Typed<'_>, inside: bool) -> Result<Option<GloveUse>, Stop> {
        match (self.glove, self.fresh) {
            (Some(material), Some(fresh_pair)) => Ok(Some(GloveUse { material, fresh_pair })),
            (Some(_), None) => {
                ask_more(typed.line, "Was a fresh pair of gloves put on?", &["fresh", "same-pair"])
            }
            (None, Some(_)) => refuse("glove-missing", "which gloves: nitrile, vinyl, latex or neoprene?"),
            (None, None) if inside => refuse(
                "glove-missing",
                "state the gloves used inside the mouth: nitrile, vinyl, latex or neoprene",
            ),
            (None, None) => Ok(None),
        }
    }

    fn finish(mut self, typed: &Typed<'_>, technique: Technique, place: Where) -> Result<Procedure, Stop> {
        let inside = technique == Technique::Intraoral || place.region.is_in_mouth();
        let gloves = self.gloves(typed, inside)?;
        let response = self.response()?;
        let at = self.at.unwrap_or(typed.setting.at);
        if self.stopped.is_some_and(|stopped| stopped < at) {
            return refuse("dates-order", "it stops before it begins");
        }
        let blank = |text: &Option<String>| text.as_ref().is_some_and(|text| text.trim().is_empty());
        if blank(&self.by) || response.because().is_some_and(|because| because.trim().is_empty()) {
            return refuse("blank", "a name or a reason is empty");
        }
        let structure = match place.span {
            Some(_) => place.structure.clone(),
            None => structure_of(&place),
        };
        Ok(Procedure {
            no: 0,
            at,
            technique,
            region: place.region,
            structure,
            segments: place.segments,
            span: place.span,
            side: place.side,
            direction: (!self.direction.is_empty()).then(|| self.direction.join(", ")),
            contact: self.contact,
            grade: self.grade,
            passes: self.passes,
            seconds: self.seconds,
            position: self.position,
            instrument: self.instrument,
            gloves,
            gloves_not_recorded_because: None,
            products: self.products,
            done_by: self.by.unwrap_or_else(|| typed.setting.done_by.to_owned()),
            response,
            cavitation_heard: self.sound,
            consent: self.consent,
            asked: self.asked,
            stopped_at: self.stopped,
            stopped_because: self.stopped_because,
        })
    }
}

fn pain_range<T>() -> Result<T, Stop> {
    refuse("value-cannot-be", "pain is a whole number from 0 to 10, like 4>2 or pain 2")
}
