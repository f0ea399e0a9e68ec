//! The measures that stand in one record, each with what makes it comparable to another.

use super::{Key, Source, What};
use crate::record::decimal::Decimal;
use crate::record::envelope::Record;
use crate::record::kinds::Data;
use crate::record::kinds::common::Amount;
use crate::record::kinds::finding::Finding;
use crate::record::kinds::procedure::Procedure;
use crate::record::kinds::screening::{Measure, MeasureKind, Measured, Phase, PlusMinus, Unit};
use crate::record::kinds::visit::{Complaint, InVisitCheck, Visit};
use crate::record::moment::Moment;

/// One measure as it stands in a record.
#[derive(Debug, Clone)]
pub struct Reading {
    /// What, where, how: only like is put beside like.
    pub key: Key,
    /// Where in the record: `measure 2`, `complaint 1`.
    pub place: String,
    /// Number of the visit opening.
    pub visit: Option<u64>,
    /// Before, during or after treatment, where it is said.
    pub phase: Option<Phase>,
    /// When.
    pub at: Moment,
    /// True when the record gives the measure its own time; else it is that of the visit.
    pub own_time: bool,
    /// The number, where it is one that can be reckoned with.
    pub value: Option<Decimal>,
    /// The value as it was written: `34`, `148/86`, `4+`.
    pub text: String,
    /// As typed, where another unit or form was typed.
    pub typed: Option<String>,
    /// Reason given for an unusual value.
    pub unusual_because: Option<String>,
}

impl Reading {
    /// The same measure, wherever in the record it stands.
    pub fn same(&self, other: &Reading) -> bool {
        (&self.key, self.visit, self.phase, self.at, &self.text, &self.typed, &self.unusual_because)
            == (
                &other.key,
                other.visit,
                other.phase,
                other.at,
                &other.text,
                &other.typed,
                &other.unusual_because,
            )
    }
}

/// Every measure of a record, in the order of its layout. None where the record can't be read here.
pub fn readings(record: &Record) -> Vec<Reading> {
    match record.read_data() {
        Ok(Data::Measure(measure)) => from_measure(record, &measure),
        Ok(Data::Visit(visit)) => from_note(record, &visit),
        _ => Vec::new(),
    }
}

fn from_measure(record: &Record, measure: &Measure) -> Vec<Reading> {
    let at = record.happened.start;
    let all = measure.measures.iter().enumerate();
    all.map(|(index, measured)| Reading {
        place: format!("measure {}", index + 1),
        visit: measure.visit,
        phase: measure.phase,
        own_time: true,
        ..of(measured, at)
    })
    .collect()
}

fn from_note(record: &Record, visit: &Visit) -> Vec<Reading> {
    let start = record.happened.start;
    let end = record.happened.end.unwrap_or(start);
    let mut all: Vec<Reading> = Vec::new();
    for complaint in &visit.complaints {
        let alike = |other: &&Complaint| (other.region, other.side) == (complaint.region, complaint.side);
        let alone = visit.complaints.iter().filter(alike).count() == 1;
        all.extend(told(complaint, alone, start));
    }
    for finding in visit.findings.value().into_iter().flatten() {
        all.extend(finding.measured.as_ref().map(|measured| found(finding, measured, start)));
    }
    for (index, line) in visit.measures.iter().enumerate() {
        let of_visit = if line.phase == Phase::After { end } else { start };
        all.push(Reading {
            place: format!("measure {}", index + 1),
            phase: Some(line.phase),
            own_time: line.at.is_some(),
            ..of(&line.measured, line.at.unwrap_or(of_visit))
        });
    }
    all.extend(visit.procedures.iter().filter_map(answered));
    all.extend(visit.checks.iter().enumerate().filter_map(|(index, check)| checked(index, check)));
    for reading in &mut all {
        reading.visit = Some(visit.visit);
    }
    all
}

/// What was measured, with nothing yet of the record around it.
fn of(measured: &Measured, at: Moment) -> Reading {
    let written = written(&measured.value);
    let sign = match measured.plus_minus {
        Some(PlusMinus::Plus) => "+",
        Some(PlusMinus::Minus) => "-",
        None => "",
    };
    let second = measured.second_value.as_ref().map(self::written);
    let score = measured.unit == Unit::Score;
    let text = match &second {
        Some(second) if !score => format!("{written}{sign}/{second}"),
        _ => format!("{written}{sign}"),
    };
    let key = Key {
        region: measured.region,
        segment: measured.segment,
        side: measured.side,
        name: measured.name.clone(),
        active: measured.active,
        out_of: second.filter(|_| score),
        method: measured.method.clone(),
        instrument: measured.instrument.clone(),
        position: measured.position.clone(),
        ..Key::new(What::Measure(measured.kind), Source::Measured, measured.unit)
    };
    Reading {
        key,
        place: String::new(),
        visit: None,
        phase: None,
        at,
        own_time: false,
        value: written.parse().ok(),
        text,
        typed: measured.typed.clone(),
        unusual_because: measured.unusual_because.clone(),
    }
}

/// A number as it was written.
fn written(amount: &Amount) -> String {
    serde_json::to_string(amount).unwrap_or_default()
}

/// A number from 0 to 10, without a unit of its own in the record.
fn of_ten(key: Key, place: String, number: u8, phase: Option<Phase>, at: Moment) -> Reading {
    Reading {
        key,
        place,
        visit: None,
        phase,
        at,
        own_time: false,
        value: Some(Decimal::from(i64::from(number))),
        text: number.to_string(),
        typed: None,
        unusual_because: None,
    }
}

fn told(complaint: &Complaint, alone: bool, at: Moment) -> Vec<Reading> {
    let key = |kind| Key {
        region: complaint.region,
        side: complaint.side,
        // Two complaints of one place are told apart by their number; one alone keeps its place
        // in the series, however its words change.
        name: (!alone).then(|| format!("complaint {}", complaint.no)),
        ..Key::new(What::Measure(kind), Source::Told, Unit::Of10)
    };
    let place = format!("complaint {}", complaint.no);
    let now = complaint.pain_now.value().map(|n| (MeasureKind::PainNow, *n));
    let worst = complaint.pain_worst.map(|n| (MeasureKind::PainWorst, n));
    let both = now.into_iter().chain(worst);
    both.map(|(kind, number)| of_ten(key(kind), place.clone(), number, None, at)).collect()
}

/// A measured finding: where the measure itself says no place or method, the finding's counts.
fn found(finding: &Finding, measured: &Measured, at: Moment) -> Reading {
    let mut reading = of(measured, at);
    let key = &mut reading.key;
    key.region = key.region.or(Some(finding.region));
    key.segment = key.segment.or(finding.segment);
    key.side = key.side.or(finding.side);
    key.structure = finding.structure.clone().or_else(|| finding.level.clone());
    key.method = key.method.take().or_else(|| finding.method.clone());
    key.instrument = key.instrument.take().or_else(|| finding.instrument.clone());
    key.position = key.position.take().or_else(|| finding.position.clone());
    key.source = Source::Found;
    reading.place = format!("finding {}", finding.no);
    reading
}

fn answered(procedure: &Procedure) -> Option<Reading> {
    let pain = procedure.response.value()?.pain?;
    let key = Key {
        region: Some(procedure.region),
        side: procedure.side,
        ..Key::new(What::Measure(MeasureKind::PainNow), Source::Response, Unit::Of10)
    };
    Some(of_ten(key, format!("procedure {}", procedure.no), pain, Some(Phase::During), procedure.at))
}

fn checked(index: usize, check: &InVisitCheck) -> Option<Reading> {
    let key = Key::new(What::Check(check.question), Source::Check, Unit::Of10);
    let place = format!("check {}", index + 1);
    Some(Reading { own_time: true, ..of_ten(key, place, check.number?, Some(Phase::During), check.at) })
}

#[cfg(test)]
mod tests {
    use super::super::tests::{measure, note, record};
    use super::*;
    use crate::record::vocab::{Region, Segment, Side};
    use serde_json::{Value, json};

    fn one(measured: Value) -> Reading {
        readings(&measure("2025-03-04T10:00:00-05:00", json!([measured]))).remove(0)
    }

    /// Two numbers of a pressure stand together, a grade keeps its sign, and the greatest score of a questionnaire is
    /// no second value: 148/86 and 4+ as they are written (common practice), 50 the greatest score of the NDI.
    #[test]
    fn a_value_is_written_as_it_was_taken() {
        let pressure =
            one(json!({ "kind": "blood-pressure", "value": 148, "second_value": 86, "unit": "mmHg" }));
        assert_eq!((pressure.text.as_str(), pressure.key.out_of), ("148/86", None));
        let grade = |sign: &str| {
            one(json!({ "kind": "strength", "value": 4, "plus_minus": sign, "unit": "grade" })).text
        };
        assert_eq!([grade("plus"), grade("minus")], ["4+", "4-"]);
        let score = one(json!({ "kind": "questionnaire", "value": 21, "second_value": 50, "unit": "score" }));
        assert_eq!((score.text.as_str(), score.key.out_of.as_deref()), ("21", Some("50")));
    }

    /// Whatever the record says of where and how, two measures are alike only where all of it is.
    #[test]
    fn everything_that_is_said_of_where_and_how_tells_measures_apart() {
        let key = one(
            json!({ "kind": "other-movement", "value": 34.5, "unit": "deg", "typed": "34,5", "side": "left",
            "region": "cervical", "segment": "C5-C6", "name": "nodding", "active": false, "method": "by eye",
            "instrument": "inclinometer", "position": "seated" }),
        )
        .key;
        let text = |words: &str| Some(words.to_string());
        let kind = What::Measure(MeasureKind::OtherMovement);
        let wanted = Key {
            region: Some(Region::Cervical),
            segment: Some(Segment::C5C6),
            side: Some(Side::Left),
            name: text("nodding"),
            active: Some(false),
            method: text("by eye"),
            instrument: text("inclinometer"),
            position: text("seated"),
            ..Key::new(kind, Source::Measured, Unit::Deg)
        };
        assert_eq!(key, wanted);
    }

    /// What an entry says of the visit, the phase and the time holds for each of its measures.
    #[test]
    fn a_measure_keeps_its_visit_its_phase_and_its_time() {
        let at = "2022-10-03T10:05:00-04:00";
        let all = json!([{ "kind": "mouth-opening", "value": 34, "unit": "mm" }, { "kind": "pulse", "value": 70, "unit": "per-minute" }]);
        let data = json!({ "visit": 18, "phase": "before", "measures": all });
        for (number, reading) in (1..).zip(readings(&record("measure", at, data))) {
            assert_eq!(reading.place, format!("measure {number}"));
            assert_eq!(
                (reading.visit, reading.phase, reading.own_time),
                (Some(18), Some(Phase::Before), true)
            );
            assert_eq!(reading.at.to_string(), at);
        }
    }

    /// A line of a note without a time of its own: before is the visit's begin, after its end.
    #[test]
    fn a_line_of_a_note_is_taken_at_the_begin_or_at_the_end_of_the_visit() {
        let line = |phase: &str, at: Option<&str>| {
            let mut line =
                json!({ "phase": phase, "measured": { "kind": "mouth-opening", "value": 34, "unit": "mm" } });
            if let Some(at) = at {
                line["at"] = json!(at);
            }
            line
        };
        let (begin, end, own) =
            ("2022-10-03T10:00:00-04:00", "2022-10-03T10:38:00-04:00", "2022-10-03T10:20:00-04:00");
        let all = json!([
            line("before", None),
            line("after", None),
            line("during", None),
            line("after", Some(own))
        ]);
        let mut written = note(18, begin, all);
        written.happened.end = Some(Moment::parse(end).unwrap());
        let found: Vec<_> = readings(&written)
            .into_iter()
            .filter(|reading| reading.key.source == Source::Measured)
            .map(|reading| (reading.place, reading.phase.unwrap(), reading.at.to_string(), reading.own_time))
            .collect();
        let wanted = [
            ("measure 1", Phase::Before, begin, false),
            ("measure 2", Phase::After, end, false),
            ("measure 3", Phase::During, begin, false),
            ("measure 4", Phase::After, own, true),
        ];
        assert_eq!(
            found,
            wanted.map(|(place, phase, at, own)| (place.to_string(), phase, at.to_string(), own))
        );
    }

    /// Two complaints of one place are told apart by their number; one that is alone there needs none.
    #[test]
    fn two_complaints_of_one_place_are_two_series() {
        let complaint = |no: u32, region: &str, side: &str| json!({ "no": no, "words": "sore", "region": region, "side": side, "pain_now": 4 });
        let mut written = note(18, "2022-10-03T10:00:00-04:00", json!([]));
        written.data["complaints"] = json!([
            complaint(1, "jaw", "right"),
            complaint(2, "jaw", "right"),
            complaint(3, "jaw", "left"),
            complaint(4, "cervical", "right"),
        ]);
        let names: Vec<Option<String>> =
            readings(&written).into_iter().map(|reading| reading.key.name).collect();
        assert_eq!(names, [Some("complaint 1".to_string()), Some("complaint 2".to_string()), None, None]);
    }

    /// Pain said after a procedure is that of the place worked on.
    #[test]
    fn pain_after_a_procedure_is_that_of_its_place() {
        let mut written = note(18, "2022-10-03T10:00:00-04:00", json!([]));
        written.data["complaints"] = json!([]);
        written.data["procedures"] = json!([{ "no": 1, "at": "2022-10-03T10:15:00-04:00", "technique": "soft-tissue",
            "region": "jaw-muscles", "side": "left", "position": "face-up", "done_by": "IV",
            "response": { "word": "relieved", "pain": 3 } }]);
        let reading = readings(&written).remove(0);
        assert_eq!((reading.key.region, reading.key.side), (Some(Region::JawMuscles), Some(Side::Left)));
        assert_eq!(
            (reading.text.as_str(), reading.at.to_string().as_str()),
            ("3", "2022-10-03T10:15:00-04:00")
        );
    }
}
