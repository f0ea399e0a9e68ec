//! The topic deidentification: what may stay in data that no longer identify anybody
//! (45 CFR 164.514(b)(2)(i), (c)).

use super::ReckonError;
use super::ask::question;
use crate::record::calendar::{LeapDay, age_on};
use crate::record::kinds::common::Day;
use crate::record::moment::Date;
use crate::record::tables::Tables;
use crate::record::tables::copying::DeidentificationTable;
use serde::Deserialize;
use serde_json::{Value, json};

/// What stands for an area that would tell too much.
const NO_AREA: &str = "000";

/// What a re-identification code may be made from, and nothing else.
const RANDOM: &str = "random number";

/// The part of a postal code that may stay. None where it is not 5 or 9 digits; a hyphen before the last
/// four is passed over.
pub fn area(zip: &str, table: &DeidentificationTable) -> Option<String> {
    let (first, more) = match zip.trim().split_once('-') {
        Some((first, more)) => (first.to_owned(), more),
        None => (zip.trim().to_owned(), ""),
    };
    let digits = format!("{first}{more}");
    let hyphen_fits = more.is_empty() && !zip.contains('-') || first.len() == 5 && more.len() == 4;
    let is_zip = digits.bytes().all(|b| b.is_ascii_digit()) && matches!(digits.len(), 5 | 9) && hyphen_fits;
    let zip3 = is_zip.then(|| digits[..3].to_owned())?;
    Some(if table.zip3_to_000.contains(&zip3) { NO_AREA.to_owned() } else { zip3 })
}

/// The part of a postal code that may stay by a current count of people, whatever the list says.
pub fn area_by_population(zip3: &str, population: u64, table: &DeidentificationTable) -> String {
    let many = population > table.zip3_keep_when_population_over;
    if many { zip3.to_owned() } else { NO_AREA.to_owned() }
}

/// An age as it may be shown: whole years, and one class from the top age on. None before the birth.
pub fn age_shown(born: Date, on: Date, table: &DeidentificationTable) -> Option<String> {
    let age = u32::try_from(age_on(born, on, LeapDay::Mar1)).ok()?;
    Some(if age >= table.age_top { format!("{}+", table.age_top) } else { age.to_string() })
}

/// What may be shown of a birth date on the day the data are made: its year, or nothing at the top age.
pub fn birth_year_shown(born: Date, on: Date, table: &DeidentificationTable) -> Option<String> {
    let old = i64::from(age_on(born, on, LeapDay::Mar1)) >= i64::from(table.age_top);
    (!old).then(|| year_shown(born))
}

/// What may be shown of any other date: its year.
pub fn year_shown(date: Date) -> String {
    format!("{:04}", date.year())
}

/// True where a re-identification code is made from a random number alone. A digest of anything about the
/// person is made from it, and so is whatever else goes in.
pub fn code_allowed(made_from: &[String]) -> bool {
    !made_from.is_empty() && made_from.iter().all(|source| source.trim() == RANDOM)
}

/// Every field of a question.
const FIELDS: &[&str] = &["zip", "zip3", "population", "born", "on", "kind", "date", "made_from"];

#[derive(Debug, Deserialize)]
#[serde(tag = "ask", rename_all = "snake_case")]
enum Question {
    Zip { zip: String },
    ZipPopulation { zip3: String, population: u64 },
    Age { born: Day, on: Day },
    Date { kind: Kind, date: Day, born: Option<Day>, on: Option<Day> },
    Code { made_from: Vec<String> },
}

#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Kind {
    Visit,
    Birth,
}

/// Works it out. Asks: zip, zip_population, age, date, code.
///
/// # Errors
/// The input is not a question of this topic, or the tables lack what it needs.
pub fn answer(input: &Value, tables: &Tables) -> Result<Value, ReckonError> {
    let table = DeidentificationTable::of(tables).map_err(ReckonError)?;
    match question::<Question>(input, FIELDS)? {
        Question::Zip { zip } => match area(&zip, &table) {
            Some(zip3) => Ok(json!({ "zip3": zip3 })),
            None => Err(ReckonError(format!("{zip:?} is not a postal code of 5 or 9 digits."))),
        },
        Question::ZipPopulation { zip3, population } => {
            if zip3.len() != 3 || !zip3.bytes().all(|b| b.is_ascii_digit()) {
                return Err(ReckonError(format!("{zip3:?} is not the first three digits of a postal code.")));
            }
            Ok(json!({ "zip3": area_by_population(&zip3, population, &table) }))
        }
        Question::Age { born, on } => match age_shown(born.0, on.0, &table) {
            Some(age) => Ok(json!({ "age": age })),
            None => Err(ReckonError(format!("The birth date {born} lies after {on}. Correct one of them."))),
        },
        Question::Date { kind: Kind::Visit, date, .. } => Ok(json!({ "shown": year_shown(date.0) })),
        Question::Date { kind: Kind::Birth, date, born, on } => {
            let Some(on) = on else {
                return Err(ReckonError("The day the data are made is needed: on.".to_owned()));
            };
            let old = birth_year_shown(born.unwrap_or(date).0, on.0, &table).is_none();
            Ok(json!({ "shown": if old { Value::Null } else { year_shown(date.0).into() } }))
        }
        Question::Code { made_from } => Ok(json!({ "allowed": code_allowed(&made_from) })),
    }
}

/// An answer in words.
pub fn words(answer: &Value) -> Vec<String> {
    if let Some(zip3) = answer["zip3"].as_str() {
        return vec![format!("Of the postal code may stay: {zip3}.")];
    }
    if let Some(age) = answer["age"].as_str() {
        return vec![format!("The age may be shown as {age}.")];
    }
    if let Some(shown) = answer.get("shown") {
        return vec![match shown.as_str() {
            Some(year) => format!("Of the date may stay the year {year}."),
            None => "Nothing of the date may stay, not even the year.".to_owned(),
        }];
    }
    match answer["allowed"].as_bool() {
        Some(true) => vec!["The code may be used.".to_owned()],
        Some(false) => vec!["The code may not be used: it must come from a random number alone.".to_owned()],
        None => Vec::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::moment::parse_date;
    use proptest::prelude::*;

    fn ask(input: Value) -> Result<Value, ReckonError> {
        answer(&input, Tables::shipped().unwrap())
    }

    #[test]
    fn postal_codes() {
        let area = |zip: &str| ask(json!({ "ask": "zip", "zip": zip })).map(|told| told["zip3"].clone());
        let table = DeidentificationTable::of(Tables::shipped().unwrap()).unwrap();
        for listed in &table.zip3_to_000 {
            assert_eq!(area(&format!("{listed}01")).unwrap(), "000");
            assert_eq!(area(&format!("{listed}011234")).unwrap(), "000");
        }
        assert_eq!(area("221911234").unwrap(), "221");
        assert_eq!(area("22191-1234").unwrap(), "221");
        for wrong in ["2219", "22191-", "2219a", "221-91", "2219112345", "", "2219-11234"] {
            assert!(area(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn a_current_count_overrules_the_list() {
        let by = |zip3: &str, people: u64| {
            ask(json!({ "ask": "zip_population", "zip3": zip3, "population": people }))
                .map(|told| told["zip3"].clone())
        };
        assert_eq!(by("036", 20001).unwrap(), "036");
        assert_eq!(by("221", 20000).unwrap(), "000");
        assert!(by("22", 30000).is_err() && by("22a", 30000).is_err());
    }

    #[test]
    fn ages() {
        let age = |born: &str, on: &str| ask(json!({ "ask": "age", "born": born, "on": on }));
        assert_eq!(age("1935-06-01", "2025-05-31").unwrap(), json!({ "age": "89" }));
        assert_eq!(age("1935-06-01", "2025-06-01").unwrap(), json!({ "age": "90+" }));
        assert_eq!(age("1925-06-01", "2025-06-01").unwrap(), json!({ "age": "90+" }));
        assert_eq!(age("2025-06-01", "2025-06-01").unwrap(), json!({ "age": "0" }));
        assert!(age("2025-06-02", "2025-06-01").is_err());
    }

    #[test]
    fn dates() {
        let shown = |kind: &str, date: &str, born: Value, on: Value| {
            ask(json!({ "ask": "date", "kind": kind, "date": date, "born": born, "on": on }))
                .map(|told| told["shown"].clone())
        };
        let on = json!("2025-11-25");
        // Another date than that of birth keeps its year at any age.
        assert_eq!(shown("visit", "2024-03-10", json!("1930-01-01"), on.clone()).unwrap(), "2024");
        assert_eq!(shown("visit", "2024-03-10", Value::Null, Value::Null).unwrap(), "2024");
        assert_eq!(shown("birth", "1935-11-25", Value::Null, on.clone()).unwrap(), Value::Null);
        assert_eq!(shown("birth", "1935-11-26", json!("1935-11-26"), on.clone()).unwrap(), "1935");
        assert!(shown("birth", "1935-11-26", Value::Null, Value::Null).is_err());
        assert!(shown("death", "1935-11-26", Value::Null, on).is_err());
    }

    #[test]
    fn codes() {
        let allowed = |from: Value| {
            ask(json!({ "ask": "code", "made_from": from })).map(|told| told["allowed"].clone())
        };
        assert_eq!(allowed(json!(["random number"])).unwrap(), true);
        for mixed in [
            json!(["random number", "name"]),
            json!(["random number", "hash"]),
            json!(["hash"]),
            json!(["medical record number"]),
            json!(["phone"]),
            json!(["something else"]),
            json!([]),
        ] {
            assert_eq!(allowed(mixed).unwrap(), false);
        }
        assert!(allowed(json!("random number")).is_err());
    }

    #[test]
    fn in_words() {
        assert_eq!(words(&json!({ "zip3": "000" })), ["Of the postal code may stay: 000."]);
        assert_eq!(words(&json!({ "shown": null })), ["Nothing of the date may stay, not even the year."]);
        assert_eq!(words(&json!({ "allowed": true })), ["The code may be used."]);
    }

    proptest! {
        #[test]
        fn the_top_age_hides_age_and_year_together(born in 0i64..40_000, more in 0i64..50_000) {
            let born = crate::record::calendar::days_from(parse_date("1900-01-01").unwrap(), born);
            let on = crate::record::calendar::days_from(born, more);
            let table = DeidentificationTable::of(Tables::shipped().unwrap()).unwrap();
            let top = age_shown(born, on, &table).unwrap() == "90+";
            prop_assert_eq!(birth_year_shown(born, on, &table).is_none(), top);
        }
    }
}
