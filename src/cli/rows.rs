//! Rows: one line of named columns, like `technique=thrust region=cervical side=left`.

use super::answer::{AnswerKind, Given};
use super::clock::Now;
use super::place;
use serde_json::{Map, Value};

/// The columns a row may have.
#[derive(Debug, Clone, Copy)]
pub struct RowSpec {
    /// What one row is, like "treatment" or "finding".
    pub what: &'static str,
    /// The columns, in the order they are shown.
    pub columns: &'static [Column],
}

/// One named column of a row.
#[derive(Debug, Clone, Copy)]
pub struct Column {
    /// The name typed before the equals sign.
    pub name: &'static str,
    /// JSON Pointer to its place within the row's object.
    pub path: &'static str,
    /// What it takes. Not [`AnswerKind::Rows`]: a row within a row is refused.
    pub kind: AnswerKind,
    /// Whether every row needs it.
    pub required: bool,
    /// What it means, for `?`.
    pub help: &'static str,
}

impl RowSpec {
    fn column(&self, name: &str) -> Option<&'static Column> {
        self.columns.iter().find(|column| column.name.eq_ignore_ascii_case(name))
    }

    /// The shape of a row; columns in square brackets may be left out.
    pub fn accepts(&self) -> String {
        let shape: Vec<String> = self
            .columns
            .iter()
            .map(|column| match column.required {
                true => format!("{}=...", column.name),
                false => format!("[{}=...]", column.name),
            })
            .collect();
        format!("a line like {}", shape.join(" "))
    }

    /// One line for each column: its name, what it means and what it accepts.
    pub fn help(&self) -> Vec<String> {
        let line = |column: &Column| {
            let need = if column.required { "" } else { " (may be left out)" };
            let colon = if column.help.is_empty() { "" } else { "; " };
            format!("{}{need}: {}{colon}{}", column.name, column.help, column.kind.accepts())
        };
        self.columns.iter().map(line).collect()
    }

    /// Reads one row. Words after a column's value, up to the next `name=`, belong to it; double
    /// quotes keep a value with an equals sign in it together.
    pub fn read(&self, text: &str, now: &Now, given: Given) -> Result<Value, String> {
        let mut row = Value::Object(Map::new());
        let mut seen: Vec<&str> = Vec::new();
        for (column, value) in self.split(text)? {
            if seen.contains(&column.name) {
                return Err(format!("{} is written twice in this line", column.name));
            }
            seen.push(column.name);
            if matches!(column.kind, AnswerKind::Rows(_)) {
                return Err(format!("{} cannot be written in a line; use --data", column.name));
            }
            let answer =
                column.kind.read(&value, now, given).map_err(|why| format!("{}: {why}", column.name))?;
            place::set(&mut row, column.path, answer).map_err(|fault| fault.to_string())?;
        }
        let missing: Vec<&str> = self
            .columns
            .iter()
            .filter(|column| column.required && !seen.contains(&column.name))
            .map(|column| column.name)
            .collect();
        match missing.is_empty() {
            true => Ok(row),
            false => Err(format!("this line still needs {}", missing.join(", "))),
        }
    }

    fn split(&self, text: &str) -> Result<Vec<(&'static Column, String)>, String> {
        let mut found: Vec<(&'static Column, String)> = Vec::new();
        for word in words(text)? {
            match word.name {
                Some(name) => {
                    let column = self.column(&name).ok_or_else(|| {
                        let names: Vec<&str> = self.columns.iter().map(|column| column.name).collect();
                        format!("a name before an equals sign is none of these: {}", names.join(", "))
                    })?;
                    found.push((column, word.text));
                }
                None => {
                    let (_, value) = found
                        .last_mut()
                        .ok_or_else(|| format!("each value needs its name before it: {}", self.accepts()))?;
                    if !value.is_empty() {
                        value.push(' ');
                    }
                    value.push_str(&word.text);
                }
            }
        }
        Ok(found)
    }

    /// Writes one row as it would be typed.
    pub fn write(&self, row: &Value) -> String {
        let written: Vec<String> = self
            .columns
            .iter()
            .filter_map(|column| {
                let value = place::get(row, column.path)?;
                (column.kind.null_counts() || !value.is_null())
                    .then(|| format!("{}={}", column.name, quoted(&column.kind.write(value))))
            })
            .collect();
        written.join(" ")
    }
}

/// Quotes a value where it would not be read back as one.
fn quoted(value: &str) -> String {
    let bare = !value.is_empty() && !value.contains(|c: char| c.is_whitespace() || "=\"\\".contains(c));
    match bare {
        true => value.to_owned(),
        false => format!("\"{}\"", value.replace('\\', "\\\\").replace('"', "\\\"")),
    }
}

/// A word of a line: with the name before its equals sign, if it has one outside quotes.
struct Word {
    name: Option<String>,
    text: String,
}

fn words(text: &str) -> Result<Vec<Word>, String> {
    let mut words = Vec::new();
    let mut letters = text.chars().peekable();
    loop {
        while letters.next_if(|c| c.is_whitespace()).is_some() {}
        if letters.peek().is_none() {
            return Ok(words);
        }
        let mut word = Word { name: None, text: String::new() };
        let mut quoted = false;
        let mut ever_quoted = false;
        while let Some(letter) = letters.next_if(|c| quoted || !c.is_whitespace()) {
            match letter {
                '"' => {
                    quoted = !quoted;
                    ever_quoted = true;
                }
                '\\' if quoted => word.text.push(letters.next().unwrap_or('\\')),
                '=' if !ever_quoted && word.name.is_none() => {
                    word.name = Some(std::mem::take(&mut word.text))
                }
                other => word.text.push(other),
            }
        }
        if quoted {
            return Err("a quotation mark is opened and not closed".to_owned());
        }
        words.push(word);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::moment::Moment;
    use crate::record::vocab::{Region, Side, Technique};
    use serde_json::json;

    const TREATED: RowSpec = RowSpec {
        what: "treatment",
        columns: &[
            Column {
                name: "technique",
                path: "/technique",
                kind: AnswerKind::OneOf(Technique::WORDS),
                required: true,
                help: "what was done",
            },
            Column {
                name: "region",
                path: "/where/region",
                kind: AnswerKind::OneOf(Region::WORDS),
                required: true,
                help: "",
            },
            Column {
                name: "side",
                path: "/where/side",
                kind: AnswerKind::OneOf(Side::WORDS),
                required: false,
                help: "",
            },
            Column {
                name: "segment",
                path: "/segments",
                kind: AnswerKind::Segments { all: true },
                required: false,
                help: "",
            },
            Column {
                name: "response",
                path: "/response",
                kind: AnswerKind::Words,
                required: false,
                help: "",
            },
        ],
    };

    fn read(text: &str) -> Result<Value, String> {
        let now = Now::fixed(Moment::parse("2025-03-11T09:40:00-04:00").unwrap());
        TREATED.read(text, &now, Given::ByHand)
    }

    #[test]
    fn reads_columns_in_any_order() {
        let row =
            read("side=left technique=thrust region=cervical segment=C5-C6, C6-C7 response=tolerated well")
                .unwrap();
        assert_eq!(
            row,
            json!({"where": {"side": "left", "region": "cervical"}, "technique": "thrust",
                   "segments": ["C5-C6", "C6-C7"], "response": "tolerated well"})
        );
    }

    #[test]
    fn what_is_written_reads_back() {
        let row =
            read(r#"technique=thrust region=cervical segment=all response="a=b \"so\" \\ it was""#).unwrap();
        assert_eq!(row["response"], json!(r#"a=b "so" \ it was"#));
        assert_eq!(row["segments"], Value::Null);
        assert_eq!(read(&TREATED.write(&row)).unwrap(), row);
    }

    #[test]
    fn says_what_is_wrong_with_a_row() {
        for (text, says) in [
            ("technique=thrust", "still needs region"),
            ("technique=thrust sid=left", "technique, region, side"),
            ("technique=thrust technique=taping region=spine", "twice"),
            ("thrust left", "needs its name"),
            ("technique=thrust region=cervical side=up", "side: accepted is one of: left"),
            ("technique=thrust region=cervical side=", "side: nothing is written"),
            ("technique=\"thrust", "not closed"),
        ] {
            let why = read(text).unwrap_err();
            assert!(why.contains(says), "{text}: {why}");
        }
    }
}
