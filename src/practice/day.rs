//! The end of a day: what its slip says, and the entry that closes it.

use super::open::{Draft, Practice};
use crate::ledger::write::Receipt;
use crate::record::kinds::Data;
use crate::record::kinds::Day;
use crate::record::kinds::register::{DayClose, KindCount};
use crate::render::PinParts;
use crate::trouble::{Outcome, Trouble};
use crate::verify::pin::{Pin, What};
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// What a slip says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Slip {
    /// Number of the last entry it pins down.
    pub number: u64,
    /// Its code, with two check letters.
    pub code: String,
    /// The same as twelve words.
    pub words: Vec<&'static str>,
    /// The text of its QR code.
    pub qr: String,
    /// Label of the ledger.
    pub ledger: String,
    /// When it was printed, in words.
    pub at: String,
}

impl Slip {
    /// What its page shows.
    pub fn parts(&self) -> PinParts<'_> {
        PinParts {
            number: self.number,
            code: &self.code,
            words: &self.words,
            ledger: &self.ledger,
            at: &self.at,
        }
    }

    /// For paper: to be copied or pasted into a bound book.
    pub fn to_text(&self) -> String {
        let mut words = String::new();
        for (at, row) in self.words.chunks(4).enumerate() {
            let head = if at == 0 { "Words" } else { "" };
            words.push_str(&format!("| {head:<12} {:<42}|\n", row.join(" ")));
        }
        format!(
            "+--------------------------------------------------------+\n\
             | DAY SLIP                         {:>22}|\n\
             |                                                        |\n\
             | Last number  {:<42}|\n\
             | Code         {:<42}|\n\
             {words}\
             | Book         {:<42}|\n\
             |                                                        |\n\
             | Write or paste this into the bound day book, in ink:   |\n\
             | the number, and the code or the words. It pins down    |\n\
             | every entry up to this number.                         |\n\
             | Check: inkfast verify --slip {:<26}|\n\
             | or     inkfast verify --slip {:<26}|\n\
             +--------------------------------------------------------+",
            format!("{} ", self.at),
            self.number,
            self.code,
            self.ledger,
            format!("{}:CODE", self.number),
            format!("\"{} WORDS\"", self.number),
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
    let pin = Pin::new(What::Slip, checkpoint.size, &checkpoint.root);
    let ledger = practice.place.key.name().to_string();
    Ok(Slip {
        number: pin.number,
        code: pin.code(),
        words: pin.words(),
        qr: pin.qr(&ledger),
        ledger,
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
    for at in practice.newest_first() {
        let at = at?;
        let entry = practice.leaf(&at)?;
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
        let drafts = practice.drafts()?;
        let unfinished = drafts.iter().filter(|draft| draft.kind != super::typing::KIND).count();
        fields.insert("unfinished".into(), json!(unfinished));
    }
    let data: DayClose = serde_json::from_value(data).map_err(|e| {
        Trouble::input(format!("The day can't be closed: {e}."), "Correct it and do it again.")
    })?;
    let now = practice.now();
    practice.append(Draft::new(None, Data::DayClose(Box::new(data)), now))
}
