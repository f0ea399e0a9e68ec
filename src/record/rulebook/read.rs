//! Reading a rules file: TOML to the document that is adopted, and the document to the rules.

use super::check::{Wrong, check};
use super::{EXAMPLE, RuleBook};
use crate::record::review;
use crate::record::tables::{Tables, toml_json};
use serde::de::DeserializeOwned;
use serde_json::{Map, Value, json};

/// What a rules file says of itself.
#[derive(Debug, Clone, PartialEq)]
pub struct RulesFile {
    /// Name of the rule set.
    pub name: String,
    /// Edition, as quoted by every answer.
    pub edition: String,
    /// First day it applies, as written.
    pub effective: Option<String>,
    /// Where the rules come from.
    pub source: Option<String>,
    /// The document that is adopted.
    pub document: Value,
}

const SECTIONS: [&str; 8] =
    ["coverage", "note", "payer", "questions", "lists", "station", "adopted", "basis"];

/// Reads a rules file. Tables it does not bring (`tables.trade`, `tables.deadlines`, `tables.retention`)
/// are taken from what the program ships, in full, so that the adopted document stands alone.
///
/// # Errors
/// What is wrong, and where.
pub fn file(text: &str) -> Result<RulesFile, String> {
    let Value::Object(mut file) = toml_json::read(text)? else {
        return Err("it holds no tables".to_string());
    };
    let mut field = |name: &str| match file.remove(name) {
        None => Ok(None),
        Some(Value::String(text)) if !text.trim().is_empty() => Ok(Some(text)),
        Some(_) => Err(format!("\"{name}\" is not a text")),
    };
    let (name, edition) = (field("name")?, field("edition")?);
    let (effective, source) = (field("effective")?, field("source")?);
    let name = name.ok_or("\"name\" is missing")?;
    let edition = edition.ok_or("\"edition\" is missing")?;
    let mut document = Map::new();
    for section in SECTIONS {
        let part = file.remove(section).ok_or(format!("the section [{section}] is missing"))?;
        document.insert(section.to_string(), part);
    }
    // What letters name came later than the other sections, so a file without it is still one.
    if let Some(letters) = file.remove("letters") {
        document.insert("letters".to_string(), letters);
    }
    // So did the days off.
    if let Some(holidays) = file.remove("holidays") {
        document.insert("holidays".to_string(), holidays);
    }
    // And the notices when the records pass on.
    if let Some(closing) = file.remove("closing") {
        document.insert("closing".to_string(), closing);
    }
    let given = file.remove("tables").unwrap_or_else(|| json!({}));
    if let Some(name) = file.keys().next() {
        return Err(format!("\"{name}\" is not known here"));
    }
    let mut tables = Tables::shipped_document()?;
    for (name, table) in given.as_object().into_iter().flatten() {
        match tables.get_mut(name) {
            Some(place) => *place = table.clone(),
            None => return Err(format!("there is no table \"{name}\"")),
        }
    }
    document.insert("tables".to_string(), tables);
    if let Some(coverage) = document.get_mut("coverage") {
        write_absences(coverage, &edition);
    }
    let document = Value::Object(document);
    let book = RuleBook::read(&document)?;
    // An adopted document may name items of a later program; a file about to be adopted may not.
    review::check_needed(&book.note)?;
    let wrong: Vec<String> = check(&document, &book).iter().map(Wrong::to_string).collect();
    if !wrong.is_empty() {
        return Err(wrong.join("; "));
    }
    Ok(RulesFile { name, edition, effective, source, document })
}

/// TOML has no null: a technique or region left out means any, and the word "none" beside a screen's item
/// means that it raises no red flag.
fn write_absences(coverage: &mut Value, edition: &str) {
    coverage["edition"] = json!(edition);
    for list in ["same_visit_asking_needed", "screens_needed", "bars"] {
        for rule in coverage.get_mut(list).and_then(Value::as_array_mut).into_iter().flatten() {
            let Some(rule) = rule.as_object_mut() else { continue };
            rule.entry("techniques").or_insert(Value::Null);
            rule.entry("regions").or_insert(Value::Null);
        }
    }
    let screens = coverage.get_mut("screen_items").and_then(Value::as_object_mut);
    for items in screens.into_iter().flat_map(|s| s.values_mut()) {
        for flag in items.as_object_mut().into_iter().flat_map(|i| i.values_mut()) {
            if flag == "none" {
                *flag = Value::Null;
            }
        }
    }
}

impl RuleBook {
    /// Reads an adopted document.
    ///
    /// # Errors
    /// What is wrong, and in which section.
    pub fn read(document: &Value) -> Result<RuleBook, String> {
        fn part<T: DeserializeOwned>(document: &Value, name: &str) -> Result<T, String> {
            let part = document.get(name).cloned().ok_or(format!("the section [{name}] is missing"))?;
            serde_json::from_value(part).map_err(|e| format!("[{name}]: {e}"))
        }
        let coverage: super::Policy = part(document, "coverage")?;
        Ok(RuleBook {
            edition: coverage.edition.clone(),
            coverage,
            note: part(document, "note")?,
            payer: part(document, "payer")?,
            questions: part(document, "questions")?,
            lists: part(document, "lists")?,
            station: part(document, "station")?,
            adopted: part(document, "adopted")?,
            letters: match document.get("letters") {
                Some(_) => part(document, "letters")?,
                None => super::LetterRules::default(),
            },
            holidays: match document.get("holidays") {
                Some(_) => part(document, "holidays")?,
                None => Vec::new(),
            },
            closing: match document.get("closing") {
                Some(_) => part(document, "closing")?,
                None => Vec::new(),
            },
            tables: Tables::read(document.get("tables").unwrap_or(&Value::Null))?,
        })
    }

    /// The example, for stores that have adopted none.
    ///
    /// # Errors
    /// Only if the shipped example is broken, which a test rules out.
    pub fn example() -> Result<RuleBook, String> {
        RuleBook::read(&file(EXAMPLE)?.document)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_example_reads_and_stands_alone() {
        let read = file(EXAMPLE).unwrap();
        assert_eq!(read.edition, "example-1");
        assert_eq!(read.document["coverage"]["screen_items"]["neck"]["migraine"], Value::Null);
        let book = RuleBook::read(&read.document).unwrap();
        assert_eq!(book.edition, "example-1");
        assert_eq!(book, RuleBook::example().unwrap());
    }

    #[test]
    fn days_off_are_optional_dated_and_sourced() {
        assert!(RuleBook::example().unwrap().holidays.is_empty());
        let one = "[[holidays]]\nday = 2025-07-04\nname = \"Ferry Day\"\nsource = \"Gazette 12\"\n\
                   read_on = 2025-01-02\n";
        let read = file(&format!("{EXAMPLE}\n{one}")).unwrap();
        let book = RuleBook::read(&read.document).unwrap();
        assert_eq!(book.days_off().len(), 1);
        for (good, bad, why) in [
            ("read_on = 2025-01-02\n", "", "read_on"),
            ("\"Gazette 12\"", "\" \"", "holidays.2025-07-04: no source"),
            ("day = 2025-07-04", "day = 2025-07-05", "holidays.2025-07-05: a Saturday"),
            ("read_on = 2025-01-02\n", &format!("read_on = 2025-01-02\n{one}"), "twice"),
        ] {
            let wrong = file(&format!("{EXAMPLE}\n{}", one.replace(good, bad))).unwrap_err();
            assert!(wrong.contains(why), "{wrong}");
        }
    }

    #[test]
    fn what_is_missing_or_unknown_is_named() {
        let without = EXAMPLE.replace("[station]", "[statoin]");
        assert_eq!(file(&without).unwrap_err(), "the section [station] is missing");
        let more = format!("{EXAMPLE}\n[more]\nx = 1\n");
        assert_eq!(file(&more).unwrap_err(), "\"more\" is not known here");
        assert!(file("name = ").unwrap_err().contains("line 1"));
        let named = |line: &str| file(&EXAMPLE.replacen(&name_line(), line, 1)).unwrap_err();
        assert_eq!(named(""), "\"name\" is missing");
        assert_eq!(named("name = \"  \""), "\"name\" is not a text");
        assert_eq!(named("name = 7"), "\"name\" is not a text");
    }

    fn name_line() -> String {
        EXAMPLE.lines().find(|line| line.starts_with("name = ")).unwrap().to_string()
    }
}
