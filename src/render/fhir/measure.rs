//! Observation of what was measured, told as a number, or answered.

use super::part::{Part, Section, Told};
use super::resources::{Component, Observation};
use super::set::{Chart, Seen};
use super::systems::{Place, UCUM, concept, extension, hl7, own, sequel_to};
use super::types::{CodeableConcept, Extension, Quantity, Reference, date_time, said};
use super::visit::remark;
use crate::record::envelope::Record;
use crate::record::kinds::Data;
use crate::record::kinds::screening::{ItemAnswer, Measure, MeasureKind, Phase, Screen, ScreenAnswer, Unit};
use crate::record::measures::{Reading, Source, What, readings};
use crate::render::words;

/// The unit in UCUM (The Unified Code for Units of Measure, version 2.1: `mm[Hg]` section 40, `deg`
/// section 31, `Cel` section 30, `/min` section 25; braces hold a remark, section 12). A grade is no quantity.
pub(super) fn ucum(unit: Unit) -> Option<&'static str> {
    Some(match unit {
        Unit::Of10 | Unit::Score => "{score}",
        Unit::Mm => "mm",
        Unit::Cm => "cm",
        Unit::Deg => "deg",
        Unit::MmHg => "mm[Hg]",
        Unit::PerMinute => "/min",
        Unit::Celsius => "Cel",
        Unit::Percent => "%",
        Unit::Kg => "kg",
        Unit::Seconds => "s",
        Unit::Count => "{count}",
        Unit::Grade => return None,
    })
}

/// A number with its unit; none where it is no plain number.
fn quantity(text: &str, unit: Unit, unit_words: &str) -> Option<Quantity> {
    Some(Quantity {
        value: Some(serde_json::from_str(text).ok()?),
        unit: said(unit_words),
        system: Some(UCUM.to_string()),
        code: Some(ucum(unit)?.to_string()),
    })
}

/// Sets the value of an observation: a number, two numbers, or a grade.
pub(super) fn put_value(one: &mut Observation, reading: &Reading) {
    let (unit, unit_words) = (reading.key.unit, reading.key.unit_words());
    if reading.key.what == What::Measure(MeasureKind::BloodPressure)
        && let Some((upper, lower)) = reading.text.split_once('/')
    {
        for (word, text) in [("systolic", upper), ("diastolic", lower)] {
            one.component.push(Component {
                code: concept("part-of-measure", word),
                value_quantity: quantity(text, unit, &unit_words),
                ..Component::default()
            });
        }
        return;
    }
    if let Some(most) = &reading.key.out_of {
        one.component.push(Component {
            code: concept("part-of-measure", "most-possible"),
            value_quantity: quantity(most, unit, "points"),
            ..Component::default()
        });
    }
    one.value_quantity = quantity(&reading.text, unit, &unit_words);
    if one.value_quantity.is_none() && unit == Unit::Grade {
        one.value_codeable_concept = Some(concept("grade", &reading.text));
    } else if one.value_quantity.is_none() {
        one.value_string = said(&reading.text);
    }
}

/// What an observation of a reading has in common with every other.
pub(super) fn observation(
    chart: &Chart<'_>,
    seq: u64,
    role: &str,
    record: &Record,
    reading: &Reading,
) -> Observation {
    let key = &reading.key;
    let mut note: Vec<String> = Vec::new();
    note.extend(key.instrument.iter().map(|t| format!("Instrument: {t}")));
    note.extend(key.position.iter().map(|t| format!("Position: {t}")));
    note.extend(reading.typed.iter().map(|t| format!("Typed: {t}")));
    note.extend(reading.unusual_because.iter().map(|t| format!("Unusual, because: {t}")));
    let active = key.active.map(|active| if active { "active" } else { "passive" });
    let method = [key.method.as_deref(), active].into_iter().flatten().collect::<Vec<_>>().join(", ");
    let mut code = concept("measure", &key.what.word());
    code.text = said(&key.words());
    let mut one = Observation {
        identifier: vec![chart.of_entry(seq, role)],
        status: "final".to_string(),
        category: category(key.what, key.source),
        code,
        subject: Some(chart.patient()),
        encounter: chart.encounter(reading.visit),
        effective_date_time: Some(date_time(reading.at)),
        performer: vec![chart.staff(&record.author.code)],
        note: note.iter().map(|text| remark(text)).collect(),
        body_site: Place {
            region: key.region,
            structure: key.structure.as_deref(),
            segment: key.segment,
            side: key.side,
        }
        .concept(),
        method: said(&method).map(|text| CodeableConcept::words(&text)),
        ..Observation::default()
    };
    one.extension.extend(reading.phase.map(|phase| Extension {
        url: extension("phase"),
        value_code: Some(phase.word().to_string()),
        ..Extension::default()
    }));
    put_value(&mut one, reading);
    one
}

/// HL7's category of an observation.
fn category(what: What, source: Source) -> Vec<CodeableConcept> {
    use MeasureKind as M;
    let word = match (what, source) {
        (_, Source::Told | Source::Check | Source::Response) | (What::Measure(M::Questionnaire), _) => {
            "survey"
        }
        (
            What::Measure(
                M::BloodPressure
                | M::Pulse
                | M::Respiration
                | M::Temperature
                | M::OxygenSaturation
                | M::Height
                | M::Weight,
            ),
            _,
        ) => "vital-signs",
        _ => "exam",
    };
    vec![hl7("observation-category", word).into()]
}

/// Every measure of a record but those that belong to a finding. A measure taken afterwards points to
/// the like one taken before.
pub(super) fn observations(chart: &Chart<'_>, seq: u64, record: &Record) -> Vec<Part> {
    let mut parts = Vec::new();
    for (index, reading) in readings(record).iter().enumerate() {
        if reading.key.source == Source::Found {
            continue;
        }
        let role = format!("measure-{}", index + 1);
        let mut one = observation(chart, seq, &role, record, reading);
        if reading.phase == Some(Phase::After) {
            let before = reading.visit.and_then(|visit| chart.before.get(&(visit, reading.key.clone())));
            one.extension.extend(before.map(|urn| sequel_to(Reference::to(urn))));
        }
        let phase = reading.phase.map_or(String::new(), |phase| format!(" ({phase})"));
        let title = format!("{}: {} {}{phase}", reading.key.words(), reading.text, reading.key.unit_words());
        parts.push(Part::new(role, title, one));
    }
    parts.extend(not_told(chart, seq, record));
    parts
}

/// Complaints without a number, with the reason why there is none.
fn not_told(chart: &Chart<'_>, seq: u64, record: &Record) -> Vec<Part> {
    let Ok(Data::Visit(visit)) = record.read_data() else { return Vec::new() };
    let mut parts = Vec::new();
    for (index, complaint) in visit.complaints.iter().enumerate() {
        let Some(because) = complaint.pain_now.because() else { continue };
        let role = format!("pain-not-told-{}", index + 1);
        let place = Place { region: complaint.region, side: complaint.side, ..Place::default() };
        let one = Observation {
            identifier: vec![chart.of_entry(seq, &role)],
            status: "final".to_string(),
            category: category(What::Measure(MeasureKind::PainNow), Source::Told),
            code: concept("measure", "pain-now"),
            subject: Some(chart.patient()),
            encounter: chart.encounter(Some(visit.visit)),
            effective_date_time: Some(date_time(record.happened.start)),
            data_absent_reason: Some(absent("unknown", because)),
            body_site: place.concept(),
            ..Observation::default()
        };
        parts.push(Part::new(role, format!("Pain now: none told, because: {because}"), one));
    }
    parts
}

/// Why there is no value.
pub(super) fn absent(code: &str, because: &str) -> CodeableConcept {
    CodeableConcept { text: said(because), ..hl7("data-absent-reason", code).into() }
}

/// Measures taken by themselves.
pub(super) fn measure(chart: &Chart<'_>, seq: u64, record: &Record, data: &Measure) -> Told {
    Told::parts(Section::visit_or(data.visit, Section::Outside), observations(chart, seq, record))
}

/// A screen: one observation with a part for every item.
pub(super) fn screen(chart: &Chart<'_>, seen_seq: u64, record: &Record, data: &Screen) -> Told {
    let mut code = concept("screen", &data.screen);
    code.text = said(&format!("Screen: {}", words::spaced(&data.screen)));
    let mut notes: Vec<String> = data.words.clone().into_iter().collect();
    notes.extend(data.stop_signal.as_ref().map(|signal| format!("Stop signal agreed: {signal}")));
    notes.extend(data.repeated_because.as_ref().map(|why| format!("Repeated, because: {why}")));
    let one = Observation {
        identifier: vec![chart.of_entry(seen_seq, "screen")],
        status: "final".to_string(),
        category: vec![hl7("observation-category", "survey").into()],
        code,
        subject: Some(chart.patient()),
        encounter: chart.encounter(data.visit),
        effective_date_time: Some(date_time(record.happened.start)),
        performer: vec![chart.staff(&data.done_by)],
        note: notes.iter().filter_map(|t| said(t)).map(|t| remark(&t)).collect(),
        method: data.how.map(|how| concept("how-asked", how.word())),
        component: data.answers.iter().map(item).collect(),
        ..Observation::default()
    };
    let title = format!("Screen: {}", words::spaced(&data.screen));
    let section = Section::visit_or(data.visit, Section::Outside);
    Told::parts(section, vec![Part::new("screen", title, one)])
}

/// One item of a screen; what was not asked is absent, never a no.
fn item(answer: &ScreenAnswer) -> Component {
    let mut one = Component { code: concept("screen-item", &answer.item), ..Component::default() };
    if answer.answer == ItemAnswer::NotAsked {
        one.data_absent_reason = Some(absent("not-asked", answer.words.as_deref().unwrap_or("not asked")));
        return one;
    }
    let mut text: Vec<String> = vec![answer.answer.word().to_string()];
    text.extend(answer.words.clone());
    text.extend(answer.decision.map(|decision| format!("decision: {decision}")));
    one.value_codeable_concept = Some(CodeableConcept {
        coding: vec![own("answer", answer.answer.word())],
        text: said(&text.join("; ")),
        ..CodeableConcept::default()
    });
    one
}

/// The measures taken before treatment, by visit and by what makes them comparable.
pub(super) fn befores(seen: &[Seen<'_>], name: impl Fn(u64, &str) -> String) -> super::set::Befores {
    let mut out = super::set::Befores::new();
    for one in seen {
        for (index, reading) in readings(&one.now).into_iter().enumerate() {
            if let (Some(Phase::Before), Some(visit)) = (reading.phase, reading.visit) {
                out.entry((visit, reading.key)).or_insert(name(one.seq(), &format!("measure-{}", index + 1)));
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_unit_but_a_grade_has_a_ucum_code() {
        let without: Vec<Unit> = Unit::ALL.iter().copied().filter(|unit| ucum(*unit).is_none()).collect();
        assert_eq!(without, [Unit::Grade]);
    }

    #[test]
    fn a_number_keeps_the_form_it_was_written_in() {
        let written = |text: &str| serde_json::to_string(&quantity(text, Unit::Mm, "mm").unwrap()).unwrap();
        assert!(written("34").contains("\"value\":34,"));
        assert!(written("4.5").contains("\"value\":4.5,"));
        assert!(quantity("4+", Unit::Mm, "mm").is_none());
    }
}
