//! A line in full words, with side and segment, for whoever typed it to look over.

use super::{Line, NoteWords};
use crate::record::kinds::common::Given;
use crate::record::kinds::finding::Finding;
use crate::record::kinds::procedure::{Deferred, Procedure, Response, Span};
use crate::record::kinds::screening::{MeasureKind, Measured, PlusMinus, Unit};
use crate::record::kinds::visit::{InVisitCheck, NoteMeasure};
use crate::record::notation::structure::Structure;
use crate::record::vocab::{Region, Segment, Side, Technique};

/// The line in full words: "motion segment C5-C6, right: joint mobilization grade III; ...".
pub fn read_back(line: &Line) -> String {
    match line {
        Line::Finding(found) => finding(found),
        Line::Procedure(done) => procedure(done),
        Line::Deferred(left) => deferred(left),
        Line::Measure(taken) => measure(taken),
        Line::Check(asked) => check(asked),
        Line::Words(said) => in_words(said),
    }
}

fn in_words(said: &NoteWords) -> String {
    let rests = said.basis.as_ref().map(|basis| format!(", resting on {basis}")).unwrap_or_default();
    let pain = said.pain.map(|pain| format!(", pain now {pain} of 10")).unwrap_or_default();
    format!("{}: {}{rests}{pain}", said.part.heading(), said.words)
}

fn spaced(word: &str) -> String {
    word.replace('-', " ")
}

fn sided(what: &str, side: Option<Side>) -> String {
    match side {
        None => what.to_owned(),
        Some(Side::Left | Side::Right) => format!("{} {what}", side.map_or("", Side::word)),
        Some(Side::Both) => format!("{what}, both sides (left and right)"),
        Some(Side::Midline) => format!("{what}, midline"),
    }
}

/// Segments and stretches name their side behind them: a segment has a right side, not a right segment.
fn side_behind(what: String, side: Option<Side>) -> String {
    match side {
        Some(Side::Left | Side::Right) => format!("{what}, {}", side.map_or("", Side::word)),
        other => sided(&what, other),
    }
}

fn place(
    region: Region,
    structure: Option<&str>,
    segments: &[Segment],
    level: Option<&str>,
    span: Option<&Span>,
    side: Option<Side>,
) -> String {
    let rib = segments.iter().find(|segment| segment.order().is_none() && **segment != Segment::Si);
    let mut text = match (structure, rib) {
        (Some(joint), Some(rib)) => format!("{joint} of {}", sided(&spaced(rib.word()), side)),
        (None, Some(rib)) => sided(&spaced(rib.word()), side),
        (None, None) if segments == [Segment::Si] => sided("SI joint", side),
        (structure, None) => {
            let ordered: Vec<&str> = segments.iter().map(|segment| segment.word()).collect();
            let levels = match (ordered.as_slice(), level, span) {
                ([one], ..) => Some(format!("motion segment {one}")),
                ([_, ..], ..) => Some(format!("motion segments {}", ordered.join(", "))),
                (_, Some(level), _) => {
                    Some(if level == "occiput" { level.to_owned() } else { format!("vertebra {level}") })
                }
                (.., Some(span)) => Some(format!("from {} to {}", span.from, span.to)),
                _ => None,
            };
            match (structure, levels) {
                (Some(structure), Some(levels)) => format!("{}, {levels}", sided(structure, side)),
                (Some(structure), None) => sided(structure, side),
                (None, Some(levels)) => side_behind(levels, side),
                (None, None) => return sided(&spaced(region.word()), side),
            }
        }
    };
    let follows = structure.and_then(Structure::named).and_then(|known| known.region) == Some(region);
    if !follows && rib.is_none() && segments != [Segment::Si] && !region.is_in_mouth() {
        text.push_str(&format!(" ({})", spaced(region.word())));
    }
    text
}

fn technique(technique: Technique) -> String {
    match technique {
        Technique::Mobilization => "joint mobilization".to_owned(),
        Technique::InstrumentAdjust => "adjustment with an instrument".to_owned(),
        Technique::SoftTissue => "soft-tissue work".to_owned(),
        Technique::Intraoral => "work inside the mouth".to_owned(),
        other => spaced(other.word()),
    }
}

fn finding(found: &Finding) -> String {
    let segments: Vec<Segment> = found.segment.into_iter().collect();
    let at =
        place(found.region, found.structure.as_deref(), &segments, found.level.as_deref(), None, found.side);
    let mut what = vec![spaced(found.kind.word())];
    let half = found.measured.as_ref().and_then(|measured| measured.plus_minus);
    what.extend(found.grade.map(|grade| format!("grade {grade}{}", half_word(half))));
    what.extend(found.result.map(|result| result.word().to_owned()));
    what.extend(found.words.clone());
    what.extend(found.refers_to.as_ref().map(|to| format!("refers to {to}")));
    what.extend(found.method.as_ref().map(|method| format!("method {method}")));
    what.extend(found.instrument.as_ref().map(|with| format!("with {with}")));
    what.extend(found.position.as_ref().map(|position| format!("patient {}", spaced(position))));
    format!("Found: {at}: {}", what.join("; "))
}

fn half_word(half: Option<PlusMinus>) -> &'static str {
    match half {
        Some(PlusMinus::Plus) => " plus",
        Some(PlusMinus::Minus) => " minus",
        None => "",
    }
}

fn count(number: u32, one: &str, many: &str) -> String {
    format!("{number} {}", if number == 1 { one } else { many })
}

fn procedure(done: &Procedure) -> String {
    let structure = done.structure.as_deref();
    let mut head = vec![place(done.region, structure, &done.segments, None, done.span.as_ref(), done.side)];
    if done.is_in_mouth() {
        head.push("inside the mouth".to_owned());
    }
    head.extend(done.gloves.as_ref().map(|gloves| {
        let pair = if gloves.fresh_pair { "fresh pair" } else { "not a fresh pair" };
        format!("{} gloves, {pair}", gloves.material)
    }));
    let mut what = vec![technique(done.technique)];
    if let (Some(grade), Some(first)) = (&done.grade, what.first_mut()) {
        first.push_str(&format!(" grade {grade}"));
    }
    what.extend(done.direction.as_ref().map(|direction| format!("direction {direction}")));
    what.extend(done.contact.as_ref().map(|contact| format!("contact {contact}")));
    what.extend(match (done.passes, done.seconds) {
        (Some(passes), Some(seconds)) => {
            Some(format!("{} of {}", count(passes, "pass", "passes"), count(seconds, "second", "seconds")))
        }
        (Some(passes), None) => Some(count(passes, "pass", "passes")),
        (None, Some(seconds)) => Some(count(seconds, "second", "seconds")),
        (None, None) => None,
    });
    what.extend(done.position.as_ref().map(|position| format!("patient {}", spaced(position))));
    what.extend(done.instrument.as_ref().map(|with| format!("with {with}")));
    what.extend((!done.products.is_empty()).then(|| done.products.join(", ")));
    what.extend(
        done.cavitation_heard
            .map(|heard| if heard { "joint sound heard" } else { "no joint sound" }.to_owned()),
    );
    what.push(match &done.response {
        Given::Value(response) => response_words(response),
        Given::Absent(absent) => format!("response not asked, because {}", absent.because),
    });
    what.extend(done.stopped_at.map(|at| format!("stopped at {}", at.clock())));
    what.extend(done.stopped_because.as_ref().map(|why| format!("stopped because {why}")));
    what.push(format!("by {} at {}", done.done_by, done.at.clock()));
    format!("Done: {}: {}", head.join(", "), what.join("; "))
}

fn response_words(response: &Response) -> String {
    let mut parts = vec![spaced(response.word.word())];
    parts.extend(match (response.pain_before, response.pain) {
        (Some(before), Some(after)) => Some(format!("pain {before} before, {after} after, of 10")),
        (None, Some(after)) => Some(format!("pain {after} of 10 after")),
        (Some(before), None) => Some(format!("pain {before} of 10 before")),
        (None, None) => None,
    });
    parts.extend(response.words.clone());
    format!("response: {}", parts.join(", "))
}

fn deferred(left: &Deferred) -> String {
    let at = place(left.region, None, &left.segments, None, None, left.side);
    format!("Not done: {at}: {}, because {}", technique(left.technique), left.because)
}

fn measure(taken: &NoteMeasure) -> String {
    let Measured { kind, name, .. } = &taken.measured;
    let named = name.as_ref().map(|name| format!(" ({name})")).unwrap_or_default();
    let mut what = format!("{}{named}", spaced(kind.word()));
    if let Some(region) = taken.measured.region {
        let segments: Vec<Segment> = taken.measured.segment.into_iter().collect();
        what = format!("{what}, {}", place(region, None, &segments, None, None, taken.measured.side));
    } else {
        what = side_behind(what, taken.measured.side);
    }
    let mut text = format!("Measured {} treatment: {what}: {}", taken.phase, value(&taken.measured));
    if let Some(typed) = &taken.measured.typed {
        text.push_str(&format!(" (read off as {typed})"));
    }
    let more = [
        taken.measured.active.map(|active| if active { "active" } else { "passive" }.to_owned()),
        taken.measured.method.clone(),
        taken.measured.instrument.as_ref().map(|with| format!("with {with}")),
        taken.measured.position.as_ref().map(|position| format!("patient {}", spaced(position))),
        taken.measured.unusual_because.as_ref().map(|why| format!("unusual because {why}")),
    ];
    more.into_iter().flatten().for_each(|part| text.push_str(&format!("; {part}")));
    text
}

fn value(measured: &Measured) -> String {
    let number = |amount| serde_json::to_string(amount).unwrap_or_default();
    let first = format!("{}{}", number(&measured.value), half_word(measured.plus_minus));
    match (measured.kind, measured.second_value.as_ref()) {
        (MeasureKind::BloodPressure, Some(lower)) => format!("{first} over {} mmHg", number(lower)),
        (_, Some(most)) => format!("{first} of {}", number(most)),
        (_, None) => match measured.unit {
            Unit::Of10 => format!("{first} of 10"),
            Unit::Deg => format!("{first} degrees"),
            Unit::Grade => format!("grade {first}"),
            Unit::PerMinute => format!("{first} a minute"),
            Unit::Celsius => format!("{first} degrees Celsius"),
            Unit::Percent => format!("{first} percent"),
            Unit::Score | Unit::Count => first,
            other => format!("{first} {other}"),
        },
    }
}

fn check(asked: &InVisitCheck) -> String {
    let mut parts = vec![format!("Asked at {}: {}", asked.at.clock(), asked.question)];
    parts.extend(asked.number.map(|number| format!("{number} of 10")));
    parts.extend(asked.words.as_ref().map(|words| format!("\"{words}\"")));
    parts.extend(asked.action.as_ref().map(|action| format!("so {action}")));
    parts.join(", ")
}
