//! The end of a day: what its slip says, and the entry that closes it.

use super::open::{Draft, Practice};
use crate::ledger::write::Receipt;
use crate::record::kinds::Data;
use crate::record::kinds::Day;
use crate::record::kinds::register::{DayClose, KindCount};
use crate::trouble::{Outcome, Trouble};
use crate::verify::slip::code;
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// What a slip says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Slip {
    /// Number of the last entry it pins down.
    pub number: u64,
    /// Its code.
    pub code: String,
    /// Label of the ledger.
    pub ledger: String,
    /// When it was printed, in words.
    pub at: String,
}

impl Slip {
    /// For paper: to be copied or pasted into a bound book.
    pub fn to_text(&self) -> String {
        format!(
            "+--------------------------------------------------------+\n\
             | DAY SLIP                         {:>22}|\n\
             |                                                        |\n\
             | Last number  {:<42}|\n\
             | Code         {:<42}|\n\
             | Book         {:<42}|\n\
             |                                                        |\n\
             | Write or paste this into the bound day book, in ink.   |\n\
             | It pins down every entry up to this number.            |\n\
             | Check: inkfast verify --slip {:<26}|\n\
             +--------------------------------------------------------+",
            format!("{} ", self.at),
            self.number,
            self.code,
            self.ledger,
            format!("{}:CODE", self.number),
        )
    }
}

/// The slip for the ledger as it stands.
pub fn slip_words(practice: &Practice) -> Outcome<Slip> {
    let (checkpoint, _) = practice
        .scan()
        .checkpoint
        .as_ref()
        .ok_or_else(|| Trouble::damaged("The ledger has no checkpoint."))?;
    Ok(Slip {
        number: checkpoint.size,
        code: code(&checkpoint.root),
        ledger: practice.place.key.name().to_string(),
        at: practice.now().plain(),
    })
}

/// Closes the day: counts its entries and records the slip that pins them down. `answers` may hold
/// where the slip is kept and remarks.
pub fn close_day(practice: &mut Practice, answers: Value) -> Outcome<Receipt> {
    practice.begin_writing()?;
    let slip = slip_words(practice)?;
    let today = practice.now().local_date();
    let mut first = None;
    let mut kinds: BTreeMap<String, u64> = BTreeMap::new();
    for at in practice.scan().entries.iter().rev() {
        let entry = practice.leaf(at)?;
        if entry.written.local_date() != today {
            break;
        }
        first = Some(at.seq);
        *kinds.entry(entry.kind).or_default() += 1;
    }
    let mut data = answers;
    if let Value::Object(fields) = &mut data {
        fields.insert("day".into(), json!(Day(today)));
        if let Some(first) = first {
            fields.insert("first".into(), json!(first));
        }
        fields.insert("last".into(), json!(slip.number));
        fields.insert("entries".into(), json!(kinds.values().sum::<u64>()));
        let counts: Vec<KindCount> =
            kinds.into_iter().map(|(kind, count)| KindCount { kind, count }).collect();
        if !counts.is_empty() {
            fields.insert("by_kind".into(), json!(counts));
        }
        fields.insert("slip_words".into(), json!(format!("{}:{}", slip.number, slip.code)));
        fields.insert("unfinished".into(), json!(practice.drafts()?.len()));
    }
    let data: DayClose = serde_json::from_value(data).map_err(|e| {
        Trouble::input(format!("The day can't be closed: {e}."), "Correct it and do it again.")
    })?;
    let now = practice.now();
    practice.append(Draft::new(None, Data::DayClose(Box::new(data)), now))
}
