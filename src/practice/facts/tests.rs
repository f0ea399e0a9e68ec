//! Charts built by hand, and what comes of them.

mod closing;
mod given;
mod store;
mod wrong;

use super::Ask;
use crate::ledger::leaf::Leaf;
use crate::ledger::scan::EntryAt;
use crate::ledger::segment::Place;
use crate::practice::open::Entry;
use crate::record::coverage::facts::RequestedSide;
use crate::record::coverage::facts::{Facts, Request};
use crate::record::coverage::{self, Answer, RuleId};
use crate::record::envelope::Record;
use crate::record::kinds::{Data, Level};
use crate::record::moment::Moment;
use crate::record::vocab::{Glove, Region, Technique};
use crate::trouble::Outcome;
use serde_json::{Value, json};

const TAG: &str = "00112233445566778899aabbccddeeff";

fn moment(text: &str) -> Moment {
    Moment::parse(text).unwrap()
}

/// The entries of one chart and of the register.
#[derive(Clone, Default)]
struct Book {
    chart: Vec<Entry>,
    register: Vec<Entry>,
}

impl Book {
    /// An entry in the chart, written when it happened, and sound by the checks of its kind.
    fn put(&mut self, seq: u64, kind: &str, at: &str, data: Value) -> &mut Self {
        let entry = entry(seq, kind, Some(TAG), at, at, data);
        sound(&entry);
        self.chart.push(entry);
        self
    }

    /// An entry outside any chart.
    fn register(&mut self, seq: u64, kind: &str, at: &str, data: Value) -> &mut Self {
        let entry = entry(seq, kind, None, at, at, data);
        sound(&entry);
        self.register.push(entry);
        self
    }

    fn facts(&self, ask: &Ask) -> Outcome<Facts> {
        super::gather(&self.chart, &self.register, ask)
    }

    fn answer(&self, ask: &Ask) -> Answer {
        let facts = self.facts(ask).unwrap();
        facts.check().unwrap();
        coverage::answer(&facts)
    }

    /// The entry with this number, for taking it apart.
    fn entry(&mut self, seq: u64) -> &mut Entry {
        self.chart.iter_mut().chain(&mut self.register).find(|e| e.leaf.seq == seq).unwrap()
    }
}

fn entry(seq: u64, kind: &str, chart: Option<&str>, at: &str, written: &str, data: Value) -> Entry {
    let person = json!({"code": "P1", "name": "Ingrith Valsamo", "role": "chiropractor"});
    let mut record = json!({
        "kind": kind, "edition": 1, "ledger": "ledger-7f3a", "happened": {"start": at}, "written": written,
        "station": "room 1", "author": person,
        "signed": {"by": "P1", "name": "Ingrith Valsamo", "role": "chiropractor", "at": written, "meaning": "wrote"},
        "data": data,
    });
    if let Some(tag) = chart {
        record["chart"] = json!(tag);
    }
    let digest = "0".repeat(64);
    let leaf = Leaf {
        v: 1,
        ledger: "ledger-7f3a".into(),
        seq,
        prev: (seq > 1).then(|| digest.clone()),
        chart: chart.map(str::to_string),
        chart_seq: chart.map(|_| seq),
        chart_prev: chart.filter(|_| seq > 1).map(|_| digest.clone()),
        kind: kind.into(),
        written: moment(written),
        author: "P1".into(),
        body: digest.clone(),
        size: 0,
        commit: digest.clone(),
    };
    let place = Place { segment: 1, offset: 0 };
    let bytes = chart.map(|tag| crate::ledger::leaf::chart_tag(tag).unwrap());
    Entry {
        at: EntryAt {
            seq,
            at: place,
            leaf_len: 0,
            body_len: 0,
            chart: bytes,
            kind: Box::default(),
            written: Moment::EPOCH,
            tree_hash: [0; 32],
        },
        leaf,
        leaf_bytes: Vec::new(),
        digest,
        body: None,
        record: Some(Record::from_bytes(record.to_string().as_bytes()).unwrap()),
    }
}

fn sound(entry: &Entry) {
    let record = entry.record.as_ref().unwrap();
    let data = record.read_data().unwrap_or_else(|error| panic!("{}: {error}", record.kind));
    assert!(!matches!(data, Data::Unknown { .. }));
    let refused: Vec<_> = data.validate(record).into_iter().filter(|p| p.level == Level::Refuse).collect();
    assert!(refused.is_empty(), "{}: {refused:?}", record.kind);
}

fn bases() -> Value {
    serde_json::from_str(include_str!("../../../tests/data/coverage/base-facts.json")).unwrap()
}

fn ask_of(document: &Value) -> Ask {
    let request: Request = serde_json::from_value(document["request"].clone()).unwrap();
    let reads_at = moment(document["chart"]["clock"]["reads_at"].as_str().unwrap());
    Ask { request, now: moment(document["now"].as_str().unwrap()), reads_at }
}

fn opened(birth_date: &Value, interpreter: &Value) -> Value {
    let mut data = json!({
        "chart_no": "PM-0112",
        "identity": {
            "legal_name": "Bettony Craske", "birth_date": {"date": birth_date},
            "second_identifier": {"kind": "telephone", "value": "0555 0112"}, "language": "en",
            "emergency_contact": {"not_done_because": "none wished"},
            "privacy_notice": {"status": "given", "on": "2022-10-03", "wording": "P1"}, "decision_maker": "self",
        },
        "same_name_looked_for": true,
    });
    if !interpreter.is_null() {
        data["identity"]["interpreter_language"] = interpreter.clone();
    }
    data
}

const AT: &str = "2025-03-11T09:57:00-04:00";
const LATER: &str = "2025-03-11T09:58:00-04:00";

fn rules_of(answer: &Answer) -> Vec<RuleId> {
    answer.reasons.iter().map(|r| r.rule).collect()
}

fn mouth(ask: &mut Ask) {
    ask.request.technique = Technique::Intraoral;
    ask.request.region = Region::Mouth;
    ask.request.side = RequestedSide::Left;
    ask.request.glove_material = Some(Glove::Nitrile);
}

fn misfiled(entry: u64) -> Value {
    json!({"entry": entry, "found_at": AT, "found_by": "P1", "because": "the wrong chart was open"})
}

fn correction(target: u64, field: &str, is: Value) -> Value {
    json!({"target": target, "field": field, "was": "-", "is": is, "reason": "slip in writing", "care_affected": false,
        "patient_told": {"not_done_because": "told at the next visit"}})
}

fn withdrawal(kinds: Value) -> Value {
    json!({"said_by": {"role": "self"}, "how": "words", "patient_words": "no more", "consent_kinds": kinds})
}

/// An answer before and after more entries.
fn answers(name: &str, set: impl Fn(&mut Ask), more: &[(u64, &str, &str, Value)]) -> (Answer, Answer) {
    let (mut book, mut ask) = given::base(name);
    set(&mut ask);
    let before = book.answer(&ask);
    for (seq, kind, at, data) in more {
        book.put(*seq, kind, at, data.clone());
    }
    (before, book.answer(&ask))
}
