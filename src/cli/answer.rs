//! Kinds of answers: how each is read from what was typed, and written back as it would be typed.
//!
//! A refusal says what is accepted and never repeats what was typed, which may be a name.

use super::clock::Now;
use super::rows::RowSpec;
use crate::record::measured;
use crate::record::notation::segment::read_segment;
use serde_json::{Map, Number, Value};

/// What kind of answer a question takes, and so what JSON it becomes.
#[derive(Debug, Clone, Copy)]
pub enum AnswerKind {
    /// One line of words. A JSON string.
    Words,
    /// Several lines of words; at a terminal an empty line ends them. A JSON string.
    LongWords,
    /// Yes or no. A JSON boolean.
    YesNo,
    /// A whole number within bounds. A JSON integer.
    Whole {
        /// The least accepted.
        min: i64,
        /// The greatest accepted.
        max: i64,
    },
    /// A number within bounds, with a decimal point. A JSON number.
    Number {
        /// The least accepted.
        min: f64,
        /// The greatest accepted.
        max: f64,
        /// What it counts, like `mm`; may be typed behind the number; empty for none.
        unit: &'static str,
    },
    /// A measured number, with its unit behind it where that is not the usual one. A JSON number, or a
    /// JSON string with number and unit, which [`super::plausible`] turns into the usual unit.
    Amount,
    /// A calendar date. A JSON string `YYYY-MM-DD`.
    Date,
    /// A moment. A JSON string in the form [`crate::record::moment::Moment`] reads.
    Moment,
    /// One of these words. A JSON string.
    OneOf(&'static [&'static str]),
    /// Any of these words, separated by commas. A JSON list of strings.
    ManyOf {
        /// The words.
        choices: &'static [&'static str],
        /// Whether `all` may be answered, which is recorded as null.
        all: bool,
    },
    /// One segment of the spine, the SI joint or a rib. A JSON string.
    Segment,
    /// Segments of the spine, the SI joint or ribs, separated by commas. A JSON list of strings.
    Segments {
        /// Whether `all` may be answered, which is recorded as null.
        all: bool,
    },
    /// Words separated by commas, or by semicolons where there is one. A JSON list of strings.
    List {
        /// Whether `all` may be answered, which is recorded as null.
        all: bool,
    },
    /// Numbers of entries, separated by commas. A JSON list of integers.
    Numbers,
    /// Names with one of these words each, like `latex=allergic`, separated by commas. A JSON object.
    Each(&'static [&'static str]),
    /// Any JSON. For flags; never asked at a terminal.
    Json,
    /// Lines of named columns. A JSON list of objects.
    Rows(&'static RowSpec),
}

/// How an answer came: a person at a terminal may shorten, a script must write in full.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Given {
    /// On the command line.
    ByFlag,
    /// Typed at a question.
    ByHand,
}

impl AnswerKind {
    /// True where null is an answer ("all") and not the absence of one.
    pub fn null_counts(self) -> bool {
        match self {
            AnswerKind::ManyOf { all, .. } | AnswerKind::Segments { all } | AnswerKind::List { all } => all,
            AnswerKind::Json => true,
            _ => false,
        }
    }

    /// True where a flag may be given several times.
    pub fn repeats(self) -> bool {
        matches!(
            self,
            AnswerKind::ManyOf { .. }
                | AnswerKind::Segments { .. }
                | AnswerKind::List { .. }
                | AnswerKind::Numbers
                | AnswerKind::Each(_)
                | AnswerKind::Rows(_)
        )
    }

    /// True where a terminal takes several lines for one answer.
    pub fn many_lines(self) -> bool {
        matches!(self, AnswerKind::LongWords | AnswerKind::Rows(_))
    }

    /// The words to choose from; none where the answer is free.
    pub fn choices(self) -> &'static [&'static str] {
        match self {
            AnswerKind::OneOf(choices) | AnswerKind::ManyOf { choices, .. } => choices,
            AnswerKind::YesNo => &["yes", "no"],
            _ => &[],
        }
    }

    /// What is accepted, in a few plain words.
    pub fn accepts(self) -> String {
        let or_all = |all: bool| if all { ", or all" } else { "" };
        match self {
            AnswerKind::Words => "one line".to_owned(),
            AnswerKind::LongWords => "one or several lines".to_owned(),
            AnswerKind::YesNo => "yes or no".to_owned(),
            AnswerKind::Whole { min, max } => format!("a whole number from {min} to {max}"),
            AnswerKind::Number { min, max, unit } => {
                format!("a number from {min} to {max}{}{unit}", if unit.is_empty() { "" } else { " " })
            }
            AnswerKind::Amount => "a number, like 34.5 or 1.75in or 170 lb".to_owned(),
            AnswerKind::Date => "a date like 2025-03-11, today or yesterday".to_owned(),
            AnswerKind::Moment => {
                "09:40 for today, 2025-03-11 09:40, now, or in full 2025-03-11T09:40:00-04:00".to_owned()
            }
            AnswerKind::OneOf(choices) => format!("one of: {}", choices.join(", ")),
            AnswerKind::ManyOf { choices, all } => {
                format!("any of these, with commas between: {}{}", choices.join(", "), or_all(all))
            }
            AnswerKind::Segment => "a segment like C5-C6 (or c56), SI or rib-6".to_owned(),
            AnswerKind::Segments { all } => {
                format!("segments like C5-C6, SI or rib-6, with commas between{}", or_all(all))
            }
            AnswerKind::List { all } => format!("words with commas between{}", or_all(all)),
            AnswerKind::Numbers => "numbers of entries, with commas between".to_owned(),
            AnswerKind::Each(words) => {
                format!("a name, = and one of these: {}; with commas between", words.join(", "))
            }
            AnswerKind::Json => "JSON".to_owned(),
            AnswerKind::Rows(spec) => spec.accepts(),
        }
    }

    /// Reads one text as an answer of this kind. For [`AnswerKind::Rows`] the text is one row and
    /// the answer is that row's object. The error says what is accepted.
    pub fn read(self, text: &str, now: &Now, given: Given) -> Result<Value, String> {
        readable(text, self.many_lines() || matches!(self, AnswerKind::Json))?;
        let text = text.trim();
        if text.is_empty() {
            return Err(format!("nothing is written there; accepted is {}", self.accepts()));
        }
        match self {
            AnswerKind::Words => Ok(Value::from(text)),
            AnswerKind::LongWords => Ok(Value::from(lines(text))),
            AnswerKind::YesNo => read_yes_no(text).map(Value::from),
            AnswerKind::Whole { min, max } => self.read_whole(text, min, max),
            AnswerKind::Number { min, max, unit } => self.read_number(text, min, max, unit),
            AnswerKind::Amount => match measured::read(text) {
                Some((number, None)) => {
                    // A JSON number has some sixteen digits; more would be kept as another number than was typed.
                    let kept = number.to_json();
                    match kept.to_string().parse() == Ok(number) {
                        true => Ok(kept),
                        false => Err(format!("too many digits; accepted is {}", self.accepts())),
                    }
                }
                Some((number, Some(unit))) => Ok(Value::from(format!("{number} {unit}"))),
                None => Err(format!("accepted is {}", self.accepts())),
            },
            AnswerKind::Date => Ok(Value::from(now.read_date(text)?.to_string())),
            AnswerKind::Moment => Ok(Value::from(now.read_moment(text)?.to_string())),
            AnswerKind::OneOf(choices) => read_choice(text, choices, given).map(Value::from),
            AnswerKind::ManyOf { choices, all } => {
                read_list(text, all, |item| read_choice(item, choices, given).map(str::to_owned))
            }
            AnswerKind::Segment => segment(text).map(Value::from),
            AnswerKind::Segments { all } => read_list(text, all, segment),
            AnswerKind::List { all } => read_list(text, all, |item| Ok(item.to_owned())),
            AnswerKind::Numbers => read_numbers(text),
            AnswerKind::Each(words) => read_each(text, words, given),
            AnswerKind::Json => read_json(text),
            AnswerKind::Rows(spec) => spec.read(text, now, given),
        }
    }

    /// Writes an answer as it would be typed. What is not of this kind is written as JSON.
    pub fn write(self, value: &Value) -> String {
        match (self, value) {
            (AnswerKind::Json, _) => value.to_string(),
            (AnswerKind::Rows(spec), Value::Object(_)) => spec.write(value),
            (_, Value::Null) if self.null_counts() => "all".to_owned(),
            (_, Value::String(text)) => text.clone(),
            (_, Value::Bool(yes)) => (if *yes { "yes" } else { "no" }).to_owned(),
            (AnswerKind::Rows(spec), Value::Array(rows)) => {
                rows.iter().map(|row| spec.write(row)).collect::<Vec<_>>().join("; ")
            }
            (AnswerKind::Numbers, Value::Array(numbers)) => {
                numbers.iter().map(Value::to_string).collect::<Vec<_>>().join(", ")
            }
            (AnswerKind::Each(_), Value::Object(map)) => map
                .iter()
                .map(|(name, word)| format!("{name}={}", word.as_str().unwrap_or_default()))
                .collect::<Vec<_>>()
                .join(", "),
            (_, Value::Array(items)) if items.iter().all(Value::is_string) => {
                let words: Vec<&str> = items.iter().filter_map(Value::as_str).collect();
                match words.as_slice() {
                    // The semicolon behind a single word says that its comma parts nothing.
                    [word] if word.contains(',') => format!("{word};"),
                    words if words.iter().any(|word| word.contains(',')) => words.join("; "),
                    words => words.join(", "),
                }
            }
            (_, Value::Number(number)) if number.is_f64() => written_out(number),
            _ => value.to_string(),
        }
    }

    fn read_whole(self, text: &str, min: i64, max: i64) -> Result<Value, String> {
        let digits = text.strip_prefix('-').unwrap_or(text);
        let plain = !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit());
        let number = if plain { text.parse::<i64>().ok() } else { None };
        number
            .filter(|number| (min..=max).contains(number))
            .map(Value::from)
            .ok_or_else(|| format!("accepted is {}", self.accepts()))
    }

    fn read_number(self, text: &str, min: f64, max: f64, unit: &str) -> Result<Value, String> {
        let refused = || format!("accepted is {}, with a point before decimals", self.accepts());
        let text = match unit {
            "" => text,
            unit => text.strip_suffix(unit).unwrap_or(text).trim_end(),
        };
        let plain = text.bytes().all(|b| b.is_ascii_digit() || b == b'.' || b == b'-');
        let number: f64 = if plain { text.parse().map_err(|_| refused())? } else { return Err(refused()) };
        if !(min..=max).contains(&number) {
            return Err(refused());
        }
        // "34" stays a whole number in the record, as it was written.
        match text.parse::<i64>() {
            Ok(whole) => Ok(Value::from(whole)),
            Err(_) => Number::from_f64(number).map(Value::Number).ok_or_else(refused),
        }
    }
}

/// A number with a point, written out: JSON writes small and great ones with a power of ten, which is no answer.
fn written_out(number: &Number) -> String {
    let text = number.as_f64().unwrap_or_default().to_string();
    if text.contains('.') { text } else { format!("{text}.0") }
}

/// Refuses what could not be read back as it was meant: bytes that were no letters, and control
/// characters (an arrow key pressed at a prompt types some).
fn readable(text: &str, many_lines: bool) -> Result<(), String> {
    if text.contains('\u{fffd}') {
        return Err("part of that could not be read as letters; write it again".to_owned());
    }
    let kept = |c: char| c == '\t' || (many_lines && (c == '\n' || c == '\r'));
    if text.chars().any(|c| c.is_control() && !kept(c)) {
        let lines = if many_lines { "" } else { " or line breaks" };
        return Err(format!("there are control characters{lines} in that (an arrow key?); write it again"));
    }
    Ok(())
}

fn lines(text: &str) -> String {
    text.lines().map(str::trim_end).collect::<Vec<_>>().join("\n")
}

fn read_yes_no(text: &str) -> Result<bool, String> {
    match text.to_ascii_lowercase().as_str() {
        "yes" | "y" | "true" => Ok(true),
        "no" | "n" | "false" => Ok(false),
        _ => Err("accepted is yes or no".to_owned()),
    }
}

/// Finds the chosen word. A person may type its number or so much of it that only one is left.
fn read_choice(text: &str, choices: &'static [&'static str], given: Given) -> Result<&'static str, String> {
    let wanted = text.to_lowercase().replace(' ', "-");
    if let Some(word) = choices.iter().find(|word| word.to_lowercase().replace(' ', "-") == wanted) {
        return Ok(word);
    }
    let all = || format!("accepted is one of: {}", choices.join(", "));
    if given == Given::ByFlag {
        return Err(all());
    }
    if let Ok(number) = wanted.parse::<usize>() {
        return number.checked_sub(1).and_then(|at| choices.get(at)).copied().ok_or_else(all);
    }
    let begun: Vec<&&str> = choices.iter().filter(|word| word.to_lowercase().starts_with(&wanted)).collect();
    match begun.as_slice() {
        [] => Err(all()),
        [word] => Ok(word),
        several => {
            let several: Vec<&str> = several.iter().map(|word| **word).collect();
            Err(format!("that could be {}: write more of it", several.join(" or ")))
        }
    }
}

/// The word of a segment as it is typed at a question.
fn segment(text: &str) -> Result<String, String> {
    read_segment(text).map(|segment| segment.word().to_owned()).map_err(|why| why.to_string())
}

fn read_list(text: &str, all: bool, read: impl Fn(&str) -> Result<String, String>) -> Result<Value, String> {
    if all && text.eq_ignore_ascii_case("all") {
        return Ok(Value::Null);
    }
    let mark = if text.contains(';') { ';' } else { ',' };
    let text = text.strip_suffix(';').unwrap_or(text);
    let mut words: Vec<String> = Vec::new();
    for (index, item) in text.split(mark).enumerate() {
        let item = item.trim();
        if item.is_empty() {
            return Err(format!("item {} is empty: there is a comma or semicolon too many", index + 1));
        }
        if all && item.eq_ignore_ascii_case("all") {
            return Err(format!("item {}: all stands alone", index + 1));
        }
        let word = read(item).map_err(|why| format!("item {}: {why}", index + 1))?;
        if !words.contains(&word) {
            words.push(word);
        }
    }
    Ok(Value::from(words))
}

fn read_numbers(text: &str) -> Result<Value, String> {
    let mut numbers: Vec<u64> = Vec::new();
    for (index, item) in text.split(',').enumerate() {
        let item = item.trim();
        let digits = !item.is_empty() && item.bytes().all(|b| b.is_ascii_digit());
        let number = if digits { item.parse::<u64>().ok() } else { None };
        // Entries are numbered from 1.
        let number = number.filter(|number| *number > 0).ok_or_else(|| {
            format!("item {}: accepted are numbers of entries, with commas between", index + 1)
        })?;
        if !numbers.contains(&number) {
            numbers.push(number);
        }
    }
    Ok(Value::from(numbers))
}

fn read_each(text: &str, words: &'static [&'static str], given: Given) -> Result<Value, String> {
    let mut map = Map::new();
    for (index, item) in text.split(',').enumerate() {
        let number = index + 1;
        let (name, word) = item.split_once('=').ok_or_else(|| {
            format!("item {number}: accepted is a name, = and one of these: {}", words.join(", "))
        })?;
        let name = name.trim().to_lowercase().replace(' ', "-");
        if name.is_empty() {
            return Err(format!("item {number}: there is no name before the equals sign"));
        }
        let word = read_choice(word.trim(), words, given).map_err(|why| format!("item {number}: {why}"))?;
        if map.insert(name, Value::from(word)).is_some() {
            return Err(format!("item {number}: this name is written twice"));
        }
    }
    Ok(Value::Object(map))
}

fn read_json(text: &str) -> Result<Value, String> {
    serde_json::from_str(text)
        .map_err(|fault| format!("that is not JSON: line {}, column {}", fault.line(), fault.column()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::moment::Moment;
    use crate::record::vocab::{Side, Technique};
    use serde_json::json;

    fn now() -> Now {
        Now::fixed(Moment::parse("2025-03-11T09:40:00-04:00").unwrap())
    }
    fn hand(kind: AnswerKind, text: &str) -> Result<Value, String> {
        kind.read(text, &now(), Given::ByHand)
    }
    fn flag(kind: AnswerKind, text: &str) -> Result<Value, String> {
        kind.read(text, &now(), Given::ByFlag)
    }

    #[test]
    fn numbers_names_and_single_segments_are_read_and_written_back() {
        const STATUS: AnswerKind = AnswerKind::Each(&["allergic", "not-allergic"]);
        assert_eq!(hand(AnswerKind::Numbers, "12, 14,12"), Ok(json!([12, 14])));
        assert_eq!(AnswerKind::Numbers.write(&json!([12, 14])), "12, 14");
        for wrong in ["0", "12,", "-3", "1.5", "twelve"] {
            assert!(hand(AnswerKind::Numbers, wrong).is_err(), "{wrong}");
        }
        let both = json!({"latex": "allergic", "tape-adhesive": "not-allergic"});
        assert_eq!(hand(STATUS, "Latex=a, tape adhesive = not-allergic"), Ok(both.clone()));
        assert_eq!(flag(STATUS, &STATUS.write(&both)), Ok(both));
        for wrong in ["latex", "=allergic", "latex=allergic, latex=not-allergic", "latex=perhaps"] {
            assert!(hand(STATUS, wrong).is_err(), "{wrong}");
        }
        assert_eq!(hand(AnswerKind::Segment, "c5/6"), Ok(json!("C5-C6")));
        assert_eq!(hand(AnswerKind::Segment, "C56"), Ok(json!("C5-C6")));
        assert!(hand(AnswerKind::Segment, "T12").unwrap_err().contains("T12 or T1-T2"));
        assert!(hand(AnswerKind::Segment, "C5-C6, C6-C7").is_err());
    }

    #[test]
    fn a_person_may_shorten_and_a_script_may_not() {
        let side = AnswerKind::OneOf(Side::WORDS);
        assert_eq!(hand(side, "r").unwrap(), json!("right"));
        assert_eq!(hand(side, "2").unwrap(), json!("right"));
        assert_eq!(flag(side, "RIGHT").unwrap(), json!("right"));
        assert!(flag(side, "r").is_err() && flag(side, "2").is_err());
        let technique = AnswerKind::OneOf(Technique::WORDS);
        assert_eq!(hand(technique, "soft tissue").unwrap(), json!("soft-tissue"));
        assert!(hand(technique, "t").unwrap_err().contains("thrust or traction or taping"));
        assert!(hand(side, "0").is_err() && hand(side, "5").is_err());
    }

    #[test]
    fn segments_are_neighbours() {
        let kind = AnswerKind::Segments { all: true };
        assert_eq!(
            hand(kind, "c5/c6, T6-7,si,rib 6, C5-C6").unwrap(),
            json!(["C5-C6", "T6-T7", "SI", "rib-6"])
        );
        assert_eq!(hand(kind, "all").unwrap(), Value::Null);
        assert!(hand(AnswerKind::Segments { all: false }, "all").is_err());
        for wrong in ["all, C5-C6", "all;", "T4-T8", "C8-T1", "rib-13", "C5", "-", "/6", "C5-C6,,T1-T2"] {
            assert!(hand(kind, wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn numbers_keep_their_bounds_and_their_writing() {
        let opening = AnswerKind::Number { min: 0.0, max: 80.0, unit: "mm" };
        assert_eq!(hand(opening, "34").unwrap().to_string(), "34");
        assert_eq!(hand(opening, "34.5 mm").unwrap().to_string(), "34.5");
        for wrong in ["34,5", "NaN", "inf", "81", "-1", "3e1", "", "."] {
            assert!(hand(opening, wrong).is_err(), "{wrong}");
        }
        let pain = AnswerKind::Whole { min: 0, max: 10 };
        assert_eq!(hand(pain, "5").unwrap(), json!(5));
        for wrong in ["11", "-1", "+5", "5/10", "99999999999999999999"] {
            assert!(hand(pain, wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn amounts_may_carry_a_unit() {
        assert_eq!(hand(AnswerKind::Amount, "34").unwrap().to_string(), "34");
        assert_eq!(flag(AnswerKind::Amount, "34.50").unwrap().to_string(), "34.5");
        assert_eq!(flag(AnswerKind::Amount, "1.75in").unwrap(), json!("1.75 in"));
        assert_eq!(hand(AnswerKind::Amount, "170 LB").unwrap(), json!("170 lb"));
        for long in ["99999999999999999998", "0.123456789012345678"] {
            assert!(hand(AnswerKind::Amount, long).unwrap_err().contains("too many digits"), "{long}");
        }
        for wrong in ["34,5", "NaN", "3 feet", "in", "1-2", ""] {
            assert!(hand(AnswerKind::Amount, wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn unreadable_keys_are_refused() {
        assert!(hand(AnswerKind::Words, "sore\u{1b}[D").is_err());
        assert!(hand(AnswerKind::Words, "two\nlines").is_err());
        assert!(hand(AnswerKind::Words, "\u{fffd}").is_err());
        assert_eq!(hand(AnswerKind::LongWords, "two \nlines\n").unwrap(), json!("two\nlines"));
    }

    #[test]
    fn what_is_written_reads_back() {
        for (kind, text) in [
            (AnswerKind::Number { min: 0.0, max: 400.5, unit: "mm" }, "0.00000540615691"),
            (AnswerKind::Number { min: 0.0, max: 400.5, unit: "" }, "0.0000000000000000000000000000012"),
            (AnswerKind::Number { min: 0.0, max: 400.5, unit: "" }, "34.0"),
            (AnswerKind::Amount, "0.00000540615691"),
            (AnswerKind::List { all: false }, "one, with comma; two"),
            (AnswerKind::List { all: true }, "one, with comma;"),
            (AnswerKind::ManyOf { choices: Side::WORDS, all: true }, "left, both"),
            (AnswerKind::ManyOf { choices: Side::WORDS, all: true }, "all"),
            (AnswerKind::YesNo, "yes"),
            (AnswerKind::Date, "2025-03-11"),
            (AnswerKind::Moment, "2025-03-11T09:40:00Z"),
            (AnswerKind::Json, "{\"a\":[1,null]}"),
        ] {
            let value = flag(kind, text).unwrap();
            assert_eq!(kind.write(&value), text);
        }
    }

    #[test]
    fn a_refusal_does_not_repeat_what_was_typed() {
        for kind in [
            AnswerKind::Date,
            AnswerKind::Moment,
            AnswerKind::OneOf(Side::WORDS),
            AnswerKind::YesNo,
            AnswerKind::Json,
            AnswerKind::Segments { all: true },
            AnswerKind::Whole { min: 0, max: 1 },
        ] {
            assert!(!flag(kind, "Umberlow").unwrap_err().contains("Umberlow"));
        }
    }
}
