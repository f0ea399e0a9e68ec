//! The topic fees: whether a fee for a copy is allowed. All amounts are whole cents.

use super::ReckonError;
use super::ask::{null_is_absent, question};
use crate::record::tables::Tables;
use crate::record::tables::copying::{CopyFormat, FederalFees, FeeTables};
use serde::Deserialize;
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// How a fee was worked out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Method {
    /// The actual cost of this copy.
    Actual,
    /// A schedule of average costs.
    Average,
    /// A flat fee, all in.
    Flat,
}

/// What the copy is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CopyKind {
    /// A file.
    Electronic,
    /// On paper.
    Paper,
}

/// A fee asked for a copy, and what was agreed about it.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub struct Fee {
    /// How it was worked out.
    pub method: Method,
    /// The total, in cents.
    pub amount_cents: u64,
    /// Its parts, in cents, by name.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub parts: BTreeMap<String, u64>,
    /// The record is held electronically.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub held_electronically: bool,
    /// What the copy is.
    pub copy: CopyKind,
    /// The person asked for it on a stick, a disc or the like.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub portable_media_asked: bool,
    /// It is mailed.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub mailed: bool,
    /// The person agreed beforehand to a summary.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub summary_agreed: bool,
    /// The person agreed beforehand to its fee.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub summary_fee_agreed: bool,
    /// The person was told the fee beforehand.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub told_in_advance: bool,
    /// It is worked out by the page.
    #[serde(default, deserialize_with = "null_is_absent")]
    pub per_page: bool,
}

/// What is wrong with a fee.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Problem {
    /// A flat fee over the limit.
    FlatOverLimit,
    /// A flat fee for something else than an electronic copy of what is held electronically.
    FlatNotForThisCopy,
    /// A part of cost that may not be asked for: its name.
    PartNotAllowed(String),
    /// Portable media nobody asked for.
    MediaNotAsked,
    /// Postage for what is not mailed.
    PostageNotMailed,
    /// A summary, or its fee, was not agreed beforehand.
    SummaryNotAgreed,
    /// A fee by the page for what is held electronically.
    PerPageOnElectronic,
    /// The person was not told beforehand.
    NotToldInAdvance,
}

impl Problem {
    /// Its code.
    pub fn code(&self) -> String {
        match self {
            Problem::FlatOverLimit => "flat_over_limit",
            Problem::FlatNotForThisCopy => "flat_not_for_this_copy",
            Problem::PartNotAllowed(name) => return format!("part_not_allowed:{name}"),
            Problem::MediaNotAsked => "media_not_asked",
            Problem::PostageNotMailed => "postage_not_mailed",
            Problem::SummaryNotAgreed => "summary_not_agreed",
            Problem::PerPageOnElectronic => "per_page_on_electronic",
            Problem::NotToldInAdvance => "not_told_in_advance",
        }
        .to_owned()
    }
}

/// What is wrong with a fee under the federal rule, in the order of the codes; nothing, and it is allowed.
/// That the parts add up to the total is not looked at.
pub fn problems(fee: &Fee, rule: &FederalFees) -> Vec<Problem> {
    let mut found = Vec::new();
    match fee.method {
        Method::Flat => {
            if fee.amount_cents > rule.flat_limit_cents {
                found.push(Problem::FlatOverLimit);
            }
            if !(fee.held_electronically && fee.copy == CopyKind::Electronic) {
                found.push(Problem::FlatNotForThisCopy);
            }
        }
        Method::Actual | Method::Average => {
            // A part of nothing is not asked for.
            let asked = fee.parts.iter().filter(|(_, cents)| **cents > 0);
            found.extend(asked.filter_map(|(name, _)| part_problem(name, fee, rule)));
        }
    }
    if fee.per_page && fee.held_electronically {
        found.push(Problem::PerPageOnElectronic);
    }
    if fee.amount_cents > 0 && !fee.told_in_advance {
        found.push(Problem::NotToldInAdvance);
    }
    found.sort_by_key(Problem::code);
    found
}

fn part_problem(name: &str, fee: &Fee, rule: &FederalFees) -> Option<Problem> {
    let not_allowed = || Problem::PartNotAllowed(name.to_owned());
    if !rule.parts_allowed.iter().any(|allowed| allowed == name) {
        return Some(not_allowed());
    }
    match name {
        "paper_supplies" => (fee.copy != CopyKind::Paper).then(not_allowed),
        "portable_media" => (!fee.portable_media_asked).then_some(Problem::MediaNotAsked),
        "postage" => (!fee.mailed).then_some(Problem::PostageNotMailed),
        "summary" => (!(fee.summary_agreed && fee.summary_fee_agreed)).then_some(Problem::SummaryNotAgreed),
        _ => None,
    }
}

/// Whether a copy may be held back until a bill is paid: never, whatever is owed.
pub fn may_withhold(_unpaid_bill_cents: u64) -> bool {
    false
}

/// Every field of a question.
const FIELDS: &[&str] = &[
    "method",
    "amount_cents",
    "parts",
    "held_electronically",
    "copy",
    "portable_media_asked",
    "mailed",
    "summary_agreed",
    "summary_fee_agreed",
    "told_in_advance",
    "per_page",
    "place",
    "format",
    "pages",
    "charged_cents",
    "unpaid_bill_cents",
];

#[derive(Debug, Deserialize)]
#[serde(tag = "ask", rename_all = "snake_case")]
enum Question {
    Federal(Fee),
    State(StateInput),
    Withhold {
        #[serde(default, deserialize_with = "null_is_absent")]
        unpaid_bill_cents: u64,
    },
}

#[derive(Debug, Deserialize)]
struct StateInput {
    place: String,
    format: CopyFormat,
    #[serde(default, deserialize_with = "null_is_absent")]
    pages: u64,
    charged_cents: u64,
}

/// Works it out. Asks: federal, state, withhold.
///
/// # Errors
/// The input is not a question of this topic, or the tables have no price for it.
pub fn answer(input: &Value, tables: &Tables) -> Result<Value, ReckonError> {
    let table = FeeTables::of(tables).map_err(ReckonError)?;
    match question::<Question>(input, FIELDS)? {
        Question::Federal(fee) => {
            let problems: Vec<_> = problems(&fee, &table.federal).iter().map(Problem::code).collect();
            Ok(json!({ "ok": problems.is_empty(), "problems": problems }))
        }
        Question::State(ask) => {
            let place = &ask.place;
            let prices = table.places.get(place).ok_or_else(|| {
                let known: Vec<_> = table.places.keys().map(String::as_str).collect();
                ReckonError(format!(
                    "There are no prices of {place:?}. The tables have: {}.",
                    known.join(", ")
                ))
            })?;
            let cap = prices.ceiling(ask.format, ask.pages).ok_or_else(|| {
                ReckonError(format!(
                    "The prices of {place} say nothing about this format. Ask at the source."
                ))
            })?;
            Ok(json!({ "cap_cents": cap, "ok": ask.charged_cents <= cap }))
        }
        Question::Withhold { unpaid_bill_cents } => {
            Ok(json!({ "may_withhold": may_withhold(unpaid_bill_cents) }))
        }
    }
}

/// An answer in words.
pub fn words(answer: &Value) -> Vec<String> {
    if answer["may_withhold"].as_bool().is_some() {
        return vec!["An unpaid bill is no reason to hold back a copy.".to_owned()];
    }
    let mut lines = Vec::new();
    if let Some(ok) = answer["ok"].as_bool() {
        lines.push(if ok { "The fee is allowed." } else { "The fee is not allowed." }.to_owned());
    }
    let problems = answer["problems"].as_array().into_iter().flatten().filter_map(Value::as_str);
    lines.extend(problems.map(|code| format!("  {}.", problem_words(code))));
    if let Some(cap) = answer["cap_cents"].as_u64() {
        lines.push(format!(
            "The place's ceiling is {}.{:02}; it does not widen the federal limit.",
            cap / 100,
            cap % 100
        ));
    }
    lines
}

fn problem_words(code: &str) -> String {
    let words = match code {
        "flat_over_limit" => "The flat fee is over its limit",
        "flat_not_for_this_copy" => {
            "A flat fee is only for an electronic copy of what is held electronically"
        }
        "media_not_asked" => "Nobody asked for portable media",
        "postage_not_mailed" => "It is not mailed",
        "summary_not_agreed" => "The summary and its fee were not both agreed beforehand",
        "per_page_on_electronic" => "What is held electronically has no price by the page",
        "not_told_in_advance" => "The person was not told the fee beforehand",
        part => {
            let name = part.strip_prefix("part_not_allowed:").unwrap_or(part);
            return format!("This may not be asked for: {}", name.replace('_', " "));
        }
    };
    words.to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn ask(input: Value) -> Result<Value, ReckonError> {
        answer(&input, Tables::shipped().unwrap())
    }

    fn fee(more: Value) -> Value {
        let mut input = json!({ "ask": "federal", "method": "actual", "amount_cents": 900, "parts": {},
            "held_electronically": true, "copy": "electronic", "told_in_advance": true });
        input.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        ask(input).unwrap()["problems"].clone()
    }

    // HHS access FAQ 2030: 6.50 is the ceiling of one of three methods.
    #[test]
    fn a_flat_fee() {
        let flat = |cents: u64, more: Value| {
            let mut input = json!({ "method": "flat", "amount_cents": cents });
            input.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
            fee(input)
        };
        assert_eq!(flat(650, json!({ "parts": { "search": 650 } })), json!([]));
        assert_eq!(flat(651, json!({})), json!(["flat_over_limit"]));
        assert_eq!(flat(100, json!({ "held_electronically": false })), json!(["flat_not_for_this_copy"]));
        assert_eq!(
            flat(700, json!({ "copy": "paper", "told_in_advance": false, "per_page": true })),
            json!([
                "flat_not_for_this_copy",
                "flat_over_limit",
                "not_told_in_advance",
                "per_page_on_electronic"
            ])
        );
    }

    #[test]
    fn the_parts_of_an_actual_or_average_fee() {
        let part = |name: &str, more: Value| {
            let mut input = json!({ "parts": { name: 300 }, "method": "average" });
            input.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
            fee(input)
        };
        assert_eq!(part("copying_labor", json!({})), json!([]));
        assert_eq!(part("paper_supplies", json!({ "copy": "paper" })), json!([]));
        assert_eq!(part("paper_supplies", json!({})), json!(["part_not_allowed:paper_supplies"]));
        assert_eq!(part("portable_media", json!({ "portable_media_asked": true })), json!([]));
        assert_eq!(part("portable_media", json!({})), json!(["media_not_asked"]));
        assert_eq!(part("postage", json!({ "mailed": true })), json!([]));
        assert_eq!(part("postage", json!({})), json!(["postage_not_mailed"]));
        assert_eq!(part("summary", json!({ "summary_agreed": true, "summary_fee_agreed": true })), json!([]));
        assert_eq!(part("summary", json!({ "summary_agreed": true })), json!(["summary_not_agreed"]));
        assert_eq!(part("summary", json!({ "summary_fee_agreed": true })), json!(["summary_not_agreed"]));
        assert_eq!(
            fee(json!({ "parts": { "search": 1, "retrieval": 1, "postage": 1, "review": 0 } })),
            json!(["part_not_allowed:retrieval", "part_not_allowed:search", "postage_not_mailed"])
        );
    }

    #[test]
    fn by_the_page_and_told_beforehand() {
        assert_eq!(fee(json!({ "per_page": true })), json!(["per_page_on_electronic"]));
        // What is held decides, not what the copy is.
        assert_eq!(fee(json!({ "per_page": true, "copy": "paper" })), json!(["per_page_on_electronic"]));
        assert_eq!(
            fee(json!({ "per_page": true, "held_electronically": false, "copy": "paper" })),
            json!([])
        );
        assert_eq!(fee(json!({ "told_in_advance": null })), json!(["not_told_in_advance"]));
        assert_eq!(fee(json!({ "told_in_advance": false, "amount_cents": 0 })), json!([]));
    }

    #[test]
    fn a_states_ceiling() {
        let state = |place: &str, format: &str, pages: u64, cents: u64| {
            ask(
                json!({ "ask": "state", "place": place, "format": format, "pages": pages, "charged_cents": cents }),
            )
        };
        assert_eq!(state("us-tx-76-3", "film", 2, 5100).unwrap(), json!({ "cap_cents": 5100, "ok": true }));
        assert_eq!(state("us-tx-76-3", "paper", 1, 2501).unwrap(), json!({ "cap_cents": 2500, "ok": false }));
        assert_eq!(state("us-ca-123110", "film", 3, 150).unwrap(), json!({ "cap_cents": 150, "ok": true }));
        assert!(state("us-ca-123110", "digital", 3, 150).unwrap_err().to_string().contains("format"));
        assert!(state("us-xx", "paper", 3, 150).unwrap_err().to_string().contains("us-tx-76-3"));
    }

    #[test]
    fn a_bill_holds_nothing_back() {
        for owed in [json!(0), json!(12000), Value::Null] {
            let told = ask(json!({ "ask": "withhold", "unpaid_bill_cents": owed })).unwrap();
            assert_eq!(told, json!({ "may_withhold": false }));
        }
    }

    #[test]
    fn what_cannot_be_read_is_told() {
        for (input, word) in [
            (json!({ "ask": "federal", "method": "guess", "amount_cents": 1, "copy": "paper" }), "guess"),
            (json!({ "ask": "federal", "method": "flat", "amount_cents": -1, "copy": "paper" }), "-1"),
            (json!({ "ask": "federal", "method": "flat", "amount": 1 }), "amount"),
            (
                json!({ "ask": "state", "place": "us-tx-76-3", "format": "stone", "charged_cents": 1 }),
                "stone",
            ),
        ] {
            let why = ask(input).unwrap_err().to_string();
            assert!(why.contains(word), "{why}");
        }
    }

    #[test]
    fn in_words() {
        assert_eq!(
            words(&json!({ "ok": false, "problems": ["part_not_allowed:search"] })),
            ["The fee is not allowed.", "  This may not be asked for: search."]
        );
        assert_eq!(
            words(&json!({ "cap_cents": 3505, "ok": true }))[1],
            "The place's ceiling is 35.05; it does not widen the federal limit."
        );
    }

    proptest! {
        #[test]
        fn more_pages_never_cost_less(pages in 0u64..10_000, more in 0u64..1000) {
            let fees = FeeTables::of(Tables::shipped().unwrap()).unwrap();
            for prices in fees.places.values() {
                for format in [CopyFormat::Digital, CopyFormat::Paper, CopyFormat::Film] {
                    prop_assert!(prices.ceiling(format, pages) <= prices.ceiling(format, pages + more));
                }
            }
        }
    }
}
