//! A line from what it says, so that it can be typed again.

use super::words::{DIRECTIONS, Meaning, dictionary};
use super::{Line, NoteWords, Read, Setting, read};
use crate::record::kinds::common::Given;
use crate::record::kinds::finding::{Finding, FindingKind};
use crate::record::kinds::procedure::{Deferred, Procedure, Span};
use crate::record::kinds::screening::{Measured, PlusMinus};
use crate::record::kinds::visit::{InVisitCheck, NoteMeasure};
use crate::record::moment::Moment;
use crate::record::notation::structure::{RibPart, Structure};
use crate::record::vocab::{Region, Segment, Side};

/// The line that reads as this; none where no line does, as with some of what only forms take.
pub fn print(line: &Line, setting: &Setting<'_>) -> Option<String> {
    // What follows from the place is left out first, and said where it does not.
    [false, true]
        .into_iter()
        .map(|with_region| written(line, setting, with_region))
        .find(|text| matches!(read(text, setting), Read::Line(back) if back == *line))
}

fn written(line: &Line, setting: &Setting<'_>, with_region: bool) -> String {
    let mut out = Words(Vec::new());
    match line {
        Line::Finding(found) => finding(&mut out, found, with_region),
        Line::Procedure(done) => procedure(&mut out, done, setting, with_region),
        Line::Deferred(left) => deferred(&mut out, left, with_region),
        Line::Measure(taken) => measure(&mut out, taken, setting, with_region),
        Line::Check(asked) => check(&mut out, asked, setting),
        Line::Words(said) => in_words(&mut out, said),
    }
    out.0.join(" ")
}

fn in_words(out: &mut Words, said: &NoteWords) {
    out.put(said.part.word().replace('-', " "));
    out.put(said.words.clone());
    if let Some(basis) = &said.basis {
        out.put(format!("because {basis}"));
    }
}

struct Words(Vec<String>);

impl Words {
    fn put(&mut self, word: impl Into<String>) {
        self.0.push(word.into());
    }

    fn text(&mut self, text: Option<&String>) {
        self.0.extend(text.map(|text| quoted(text)));
    }

    fn pair(&mut self, name: &str, value: Option<&String>) {
        self.0.extend(value.map(|value| format!("{name}={}", quoted(value))));
    }

    fn time(&mut self, at: Moment, setting: &Setting<'_>) {
        if at != setting.at {
            self.put(format!("@{at}"));
        }
    }

    fn side(&mut self, side: Option<Side>) {
        self.0.extend(side.map(|side| {
            match side {
                Side::Left => "L",
                Side::Right => "R",
                other => other.word(),
            }
            .to_owned()
        }));
    }

    fn region(&mut self, region: Region, with_region: bool, needed: bool) {
        if with_region || needed {
            // A bare word may also name a structure; the pair never does.
            self.put(format!("region={region}"));
        }
    }

    /// The structure and segments.
    fn structure(&mut self, structure: Option<&str>, segments: &[Segment]) {
        let rib = segments.iter().find(|s| s.order().is_none() && **s != Segment::Si);
        let part = RibPart::ALL.iter().find(|part| part.structure() == structure);
        for segment in segments {
            match (rib, part) {
                (Some(rib), Some(part)) if rib == segment => {
                    self.put(format!("{} {}", part.word(), rib.word().trim_start_matches("rib-")));
                }
                _ => self.put(segment.word()),
            }
        }
        let Some(name) = structure.filter(|_| rib.is_none() || part.is_none()) else { return };
        match Structure::named(name).filter(|known| known.name == name) {
            Some(known) => self.put(known.words.first().copied().unwrap_or(name)),
            None if name.starts_with("vertebra ") => self.put(name),
            None => self.put(format!("structure={}", quoted(name))),
        }
    }

    fn span(&mut self, span: Option<&Span>) {
        self.0.extend(span.map(|span| format!("{}-{}", span.from, span.to)));
    }
}

fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\""))
}

fn is_somewhere(structure: Option<&String>, segments: &[Segment]) -> bool {
    structure.is_some() || !segments.is_empty()
}

fn finding(out: &mut Words, found: &Finding, with_region: bool) {
    let segments: Vec<Segment> = found.segment.into_iter().collect();
    out.structure(found.structure.as_deref(), &segments);
    out.0.extend(found.level.as_ref().map(|level| format!("vertebra {level}")));
    let somewhere = is_somewhere(found.structure.as_ref(), &segments) || found.level.is_some();
    out.region(found.region, with_region, !somewhere);
    out.side(found.side);
    let (kind, words) = kind_and_words(found.kind, found.words.as_deref());
    out.put(kind);
    out.0.extend(words);
    let half = found.measured.as_ref().and_then(|measured| measured.plus_minus);
    out.0.extend(found.grade.map(|grade| format!("{grade}{}", mark(half))));
    out.0.extend(found.result.map(|result| result.word().to_owned()));
    out.pair("refers", found.refers_to.as_ref());
    out.pair("method", found.method.as_ref());
    out.pair("instrument", found.instrument.as_ref());
    out.pair("position", found.position.as_ref());
}

fn mark(half: Option<PlusMinus>) -> &'static str {
    match half {
        Some(PlusMinus::Plus) => "+",
        Some(PlusMinus::Minus) => "-",
        None => "",
    }
}

/// The word for what was found, and the words that say more.
fn kind_and_words(kind: FindingKind, words: Option<&str>) -> (String, Option<String>) {
    let short = dictionary().values().find(|(_, meanings)| {
        words.is_some()
            && meanings.iter().any(|m| *m == Meaning::Kind(kind, words_of(m)) && words_of(m) == words)
    });
    if let Some((phrase, _)) = short {
        return (phrase.clone(), None);
    }
    let plain = match kind {
        FindingKind::Tenderness => "tender",
        FindingKind::MotionRestriction => "restricted",
        other => other.word(),
    };
    let direction = words.filter(|words| DIRECTIONS.contains(words)).map(str::to_owned);
    (plain.to_owned(), direction.or_else(|| words.map(quoted)))
}

fn words_of(meaning: &Meaning) -> Option<&'static str> {
    match meaning {
        Meaning::Kind(_, words) => *words,
        _ => None,
    }
}

fn procedure(out: &mut Words, done: &Procedure, setting: &Setting<'_>, with_region: bool) {
    out.structure(done.structure.as_deref(), &done.segments);
    out.span(done.span.as_ref());
    let somewhere = is_somewhere(done.structure.as_ref(), &done.segments) || done.span.is_some();
    out.region(done.region, with_region, !somewhere);
    out.side(done.side);
    out.put(done.technique.word());
    out.0.extend(done.direction.as_ref().map(|direction| {
        if DIRECTIONS.contains(&direction.as_str()) {
            direction.clone()
        } else {
            format!("dir={}", quoted(direction))
        }
    }));
    out.pair("contact", done.contact.as_ref());
    out.pair("grade", done.grade.as_ref().filter(|grade| !is_roman(grade)));
    out.0.extend(done.grade.clone().filter(|grade| is_roman(grade)));
    match (done.passes, done.seconds) {
        (Some(passes), Some(seconds)) => out.put(format!("{passes}x{seconds}s")),
        (Some(passes), None) => out.put(format!("{passes}x")),
        (None, Some(seconds)) => out.put(format!("{seconds}s")),
        (None, None) => {}
    }
    out.pair("position", done.position.as_ref().filter(|word| !is_position(word)));
    out.0.extend(done.position.clone().filter(|word| is_position(word)));
    out.pair("instrument", done.instrument.as_ref());
    if let Some(gloves) = &done.gloves {
        out.put(gloves.material.word());
        out.put(if gloves.fresh_pair { "fresh" } else { "same-pair" });
    }
    done.products.iter().for_each(|product| out.pair("with", Some(product)));
    out.0.extend(done.cavitation_heard.map(|heard| if heard { "cav" } else { "no-cav" }.to_owned()));
    response(out, done);
    out.time(done.at, setting);
    out.pair("by", Some(&done.done_by).filter(|by| *by != setting.done_by));
    out.0.extend(done.consent.map(|seq| format!("consent={seq}")));
    out.0.extend(done.asked.map(|seq| format!("asked={seq}")));
    out.0.extend(done.stopped_at.map(|at| format!("stopped={at}")));
    out.pair("stopped-because", done.stopped_because.as_ref());
}

fn response(out: &mut Words, done: &Procedure) {
    match &done.response {
        Given::Absent(absent) => out.pair("not-asked", Some(&absent.because)),
        Given::Value(response) => {
            match (response.pain_before, response.pain) {
                (Some(before), Some(after)) => out.put(format!("{before}>{after}")),
                (_, Some(after)) => out.put(format!("pain {after}")),
                _ => {}
            }
            out.put(response.word.word());
            out.text(response.words.as_ref());
        }
    }
}

fn is_roman(grade: &str) -> bool {
    matches!(grade.strip_suffix(['+', '-']).unwrap_or(grade), "I" | "II" | "III" | "IV" | "V")
}

fn is_position(word: &str) -> bool {
    matches!(word, "seated" | "face-up" | "face-down" | "side-lying" | "standing")
}

fn deferred(out: &mut Words, left: &Deferred, with_region: bool) {
    out.structure(None, &left.segments);
    out.region(left.region, with_region, left.segments.is_empty());
    out.side(left.side);
    out.put(left.technique.word());
    out.put(format!("deferred because {}", left.because));
}

fn measure(out: &mut Words, taken: &NoteMeasure, setting: &Setting<'_>, with_region: bool) {
    let Measured { kind, value, second_value, plus_minus, .. } = &taken.measured;
    out.put(kind.word());
    let segments: Vec<Segment> = taken.measured.segment.into_iter().collect();
    out.structure(None, &segments);
    if let Some(region) = taken.measured.region {
        out.region(region, with_region, segments.is_empty());
    }
    out.side(taken.measured.side);
    let number =
        |amount: &crate::record::kinds::common::Amount| serde_json::to_string(amount).unwrap_or_default();
    let second = second_value.as_ref().map(|second| format!("/{}", number(second))).unwrap_or_default();
    out.put(format!("{}{}{second}", number(value), mark(*plus_minus)));
    if super::usual_unit(*kind) != Some(taken.measured.unit) {
        out.put(format!("unit={}", taken.measured.unit));
    }
    out.put(taken.phase.word());
    out.pair("name", taken.measured.name.as_ref());
    out.0.extend(taken.measured.active.map(|active| if active { "active" } else { "passive" }.to_owned()));
    out.pair("typed", taken.measured.typed.as_ref());
    out.pair("method", taken.measured.method.as_ref());
    out.pair("instrument", taken.measured.instrument.as_ref());
    out.pair("position", taken.measured.position.as_ref());
    out.0.extend(taken.measured.retyped.map(|yes| format!("retyped={}", if yes { "yes" } else { "no" })));
    out.pair("because", taken.measured.unusual_because.as_ref());
    match taken.at {
        Some(at) => out.time(at, setting),
        None => out.put("@-"),
    }
}

fn check(out: &mut Words, asked: &InVisitCheck, setting: &Setting<'_>) {
    out.put("check");
    out.put(asked.question.word());
    out.0.extend(asked.number.map(|number| number.to_string()));
    out.text(asked.words.as_ref());
    out.pair("done", asked.action.as_ref());
    out.time(asked.at, setting);
}
