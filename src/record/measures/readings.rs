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
