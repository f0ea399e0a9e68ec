//! What can be wrong with a rules document although every section reads: values out of reason, words
//! that name nothing, and numbers without a basis.

use super::RuleBook;
use jiff::civil::Weekday;
use serde_json::Value;
use std::collections::BTreeSet;

/// One thing wrong with a rules document.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Wrong {
    /// Where: `section.value`.
    pub place: String,
    /// What is wrong there.
    pub what: String,
}

impl std::fmt::Display for Wrong {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}: {}", self.place, self.what)
    }
}

/// Sections whose every number, yes or no, and word needs a basis. The published tables name their own.
const WITH_BASIS: [&str; 7] = ["coverage", "note", "payer", "questions", "lists", "station", "letters"];

/// Everything wrong with a document that was read as `book`.
pub fn check(document: &Value, book: &RuleBook) -> Vec<Wrong> {
    let mut wrong = Vec::new();
    values(book, &mut wrong);
    words(document, book, &mut wrong);
    basis(document, &mut wrong);
    holidays(book, &mut wrong);
    closing(book, &mut wrong);
    wrong
}

fn closing(book: &RuleBook, wrong: &mut Vec<Wrong>) {
    let mut seen = BTreeSet::new();
    for rule in &book.closing {
        let mut say = |what: &str| {
            wrong.push(Wrong { place: format!("closing.{}", rule.id), what: what.to_string() });
        };
        if rule.source.trim().is_empty() {
            say("no source");
        }
        if rule.events.is_empty() {
            say("for no event");
        }
        if rule.says.trim().is_empty() {
            say("it does not say what is told");
        }
        if rule.count > 3650 {
            say("more than 3650 days or months");
        }
        if rule.id.trim().is_empty() || !seen.insert(rule.id.clone()) {
            say("no name of its own");
        }
    }
}

fn holidays(book: &RuleBook, wrong: &mut Vec<Wrong>) {
    let mut seen = BTreeSet::new();
    for holiday in &book.holidays {
        let mut say = |what: &str| {
            wrong.push(Wrong { place: format!("holidays.{}", holiday.day), what: what.to_string() });
        };
        if holiday.name.trim().is_empty() {
            say("no name");
        }
        if holiday.source.trim().is_empty() {
            say("no source");
        }
        match holiday.day.0.weekday() {
            Weekday::Saturday => say("a Saturday is no working day anyhow; name the day kept in its place"),
            Weekday::Sunday => say("a Sunday is no working day anyhow; name the day kept in its place"),
            _ => {}
        }
        if !seen.insert(holiday.day) {
            say("it stands there twice");
        }
    }
}

fn values(book: &RuleBook, wrong: &mut Vec<Wrong>) {
    let mut within = |place: &str, value: f64, low: f64, high: f64, unit: &str| {
        if !(low..=high).contains(&value) {
            let what = format!("{value} is not between {low} and {high} {unit}");
            wrong.push(Wrong { place: place.to_string(), what });
        }
    };
    let (coverage, questions, station) = (&book.coverage, &book.questions, &book.station);
    within("coverage.majority_age_years", coverage.majority_age_years as f64, 12.0, 25.0, "years");
    within("coverage.identifiers_needed", coverage.identifiers_needed as f64, 1.0, 5.0, "");
    within("coverage.late_after_hours", coverage.late_after_hours as f64, 1.0, 720.0, "hours");
    within("coverage.same_visit_yes_minutes", coverage.same_visit_yes_minutes as f64, 1.0, 1440.0, "minutes");
    within("coverage.mouth_opening_floor_mm", coverage.mouth_opening_floor_mm, 0.0, 80.0, "mm");
    for (technique, months) in &coverage.consent_ceiling_months {
        within(&format!("coverage.consent_ceiling_months.{technique}"), *months as f64, 1.0, 120.0, "months");
    }
    within("questions.opening_gain_mm", questions.opening_gain_mm, 0.0, 80.0, "mm");
    within("questions.mouth_work_opening_below_mm", questions.mouth_work_opening_below_mm, 0.0, 80.0, "mm");
    within(
        "questions.pain_rise_when_tolerated",
        f64::from(questions.pain_rise_when_tolerated),
        1.0,
        10.0,
        "",
    );
    within(
        "questions.identical_vitals_visits",
        questions.identical_vitals_visits as f64,
        2.0,
        100.0,
        "visits",
    );
    within("questions.same_as_last_percent", f64::from(questions.same_as_last_percent), 1.0, 100.0, "%");
    within(
        "questions.thrust_age_floor_years",
        f64::from(questions.thrust_age_floor_years),
        0.0,
        120.0,
        "years",
    );
    let mut asked = |place: &str, value: Option<f64>, low: f64, high: f64, unit: &str| {
        if let Some(value) = value {
            within(place, value, low, high, unit);
        }
    };
    asked("questions.many_charts", questions.many_charts.map(|n| n as f64), 2.0, 1000.0, "charts");
    let minutes = questions.many_charts_minutes.map(|n| n as f64);
    asked("questions.many_charts_minutes", minutes, 1.0, 1440.0, "minutes");
    asked("questions.opened_often_days", questions.opened_often_days.map(|n| n as f64), 2.0, 31.0, "days");
    asked(
        "lists.refusal_challenged_days",
        book.lists.refusal_challenged_days.map(f64::from),
        0.0,
        3660.0,
        "days",
    );
    asked("lists.openings_review_days", book.lists.openings_review_days.map(f64::from), 0.0, 90.0, "days");
    asked("lists.licence_ahead_days", book.lists.licence_ahead_days.map(f64::from), 0.0, 366.0, "days");
    asked("lists.stamps_renewed_days", book.lists.stamps_renewed_days.map(f64::from), 1.0, 3650.0, "days");
    asked("lists.safe_copy_days", book.lists.safe_copy_days.map(f64::from), 1.0, 90.0, "days");
    within("station.idle_minutes", f64::from(station.idle_minutes), 1.0, 720.0, "minutes");
    within("station.pin_digits", f64::from(station.pin_digits), 4.0, 12.0, "digits");
    within("station.pin_tries", f64::from(station.pin_tries), 1.0, 10.0, "tries");
    within(
        "station.hold_signature_minutes",
        f64::from(station.hold_signature_minutes),
        0.0,
        1440.0,
        "minutes",
    );
}

/// True for a time of day, HH:MM.
fn time_of_day(text: &str) -> bool {
    let Some((hours, minutes)) = text.split_once(':') else { return false };
    let two = |part: &str, below: u8| {
        part.len() == 2
            && part.bytes().all(|b| b.is_ascii_digit())
            && part.parse::<u8>().is_ok_and(|n| n < below)
    };
    two(hours, 24) && two(minutes, 60)
}

fn words(document: &Value, book: &RuleBook, wrong: &mut Vec<Wrong>) {
    let mut say = |place: &str, what: String| wrong.push(Wrong { place: place.to_string(), what });
    for (place, text) in [
        ("questions.open_from", &book.questions.open_from),
        ("questions.open_until", &book.questions.open_until),
    ] {
        if !time_of_day(text) {
            say(place, format!("\"{text}\" is not a time of day like 07:30"));
        }
    }
    if !["medicare", "oregon", "none"].contains(&book.payer.findings_test.as_str()) {
        let what = format!("\"{}\" is none of medicare, oregon, none", book.payer.findings_test);
        say("payer.findings_test", what);
    }
    let screens = &book.coverage.screen_items;
    for need in &book.coverage.screens_needed {
        if !screens.contains_key(&need.screen) {
            say("coverage.screens_needed", format!("there is no screen \"{}\"", need.screen));
        }
    }
    for flag in screens.values().flat_map(|items| items.values()).flatten() {
        if !book.coverage.red_flag_governs.contains_key(flag) {
            say("coverage.screen_items", format!("the red flag \"{flag}\" governs no region"));
        }
    }
    for (place, table, list, adopted) in [
        ("adopted.retention", "retention", "rule", &book.adopted.retention),
        ("adopted.clocks", "deadlines", "clock", &book.adopted.clocks),
    ] {
        let entries = document.pointer(&format!("/tables/{table}/{list}")).and_then(Value::as_array);
        for id in adopted {
            let known = |entry: &Value| entry.get("id").and_then(Value::as_str) == Some(id);
            if !entries.is_some_and(|entries| entries.iter().any(known)) {
                say(place, format!("the table {table} has no \"{id}\""));
            }
        }
    }
}

fn basis(document: &Value, wrong: &mut Vec<Wrong>) {
    let bases = document.get("basis").and_then(Value::as_object);
    let has = |place: &str| {
        bases.is_some_and(|b| {
            b.get(place).and_then(Value::as_str).is_some_and(|source| !source.trim().is_empty())
        })
    };
    for section in WITH_BASIS {
        for value in document.get(section).and_then(Value::as_object).into_iter().flat_map(|s| s.keys()) {
            let place = format!("{section}.{value}");
            if !has(section) && !has(&place) {
                let what = "no basis is named: a source, or \"practice's own choice\"".to_string();
                wrong.push(Wrong { place, what });
            }
        }
    }
    for place in bases.into_iter().flat_map(|b| b.keys()) {
        if document.pointer(&format!("/{}", place.replace('.', "/"))).is_none() {
            let what = "a basis is named for what is not there".to_string();
            wrong.push(Wrong { place: place.clone(), what });
        }
    }
}

/// What differs between two documents: place, old value, new value.
pub fn differences(old: &Value, new: &Value) -> Vec<(String, Option<Value>, Option<Value>)> {
    let mut found = Vec::new();
    compare("", Some(old), Some(new), &mut found);
    found
}

fn compare(
    place: &str,
    old: Option<&Value>,
    new: Option<&Value>,
    found: &mut Vec<(String, Option<Value>, Option<Value>)>,
) {
    match (old, new) {
        (Some(Value::Object(old)), Some(Value::Object(new))) => {
            let more = new.keys().filter(|key| !old.contains_key(*key));
            for key in old.keys().chain(more) {
                let inner = if place.is_empty() { key.clone() } else { format!("{place}.{key}") };
                compare(&inner, old.get(key), new.get(key), found);
            }
        }
        (old, new) if old != new => found.push((place.to_string(), old.cloned(), new.cloned())),
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use super::super::EXAMPLE;
    use super::super::read::file;
    use super::*;

    fn wrong(text: &str) -> Vec<String> {
        match file(text) {
            Ok(_) => Vec::new(),
            Err(wrong) => wrong.split("; ").map(str::to_string).collect(),
        }
    }

    #[test]
    fn nothing_is_wrong_with_the_example() {
        assert_eq!(wrong(EXAMPLE), Vec::<String>::new());
    }

    #[test]
    fn each_wrong_value_is_named() {
        for (good, bad, place) in [
            ("majority_age_years = 18", "majority_age_years = 3", "coverage.majority_age_years"),
            ("default = 12", "default = 0", "coverage.consent_ceiling_months.default"),
            ("open_from = \"07:00\"", "open_from = \"7:00\"", "questions.open_from"),
            ("open_until = \"20:00\"", "open_until = \"24:00\"", "questions.open_until"),
            ("findings_test = \"medicare\"", "findings_test = \"part\"", "payer.findings_test"),
            ("clocks = [\"lm-access\"", "clocks = [\"xx\"", "adopted.clocks"),
            ("retention = [\"lm-1\"]", "retention = [\"lm-1\", \"xx\"]", "adopted.retention"),
            ("chest-pain = \"cardiac\"", "chest-pain = \"heart\"", "coverage.screen_items"),
            ("pin_digits = 4", "pin_digits = 1", "station.pin_digits"),
            ("{ screen = \"mouth\",", "{ screen = \"moth\",", "coverage.screens_needed"),
        ] {
            assert!(EXAMPLE.contains(good), "{good}");
            let found = wrong(&EXAMPLE.replacen(good, bad, 1));
            assert!(found.len() == 1 && found[0].starts_with(place), "{bad}: {found:?}");
        }
    }

    #[test]
    fn a_number_without_a_basis_and_a_basis_without_a_number_are_named() {
        let without = EXAMPLE.replace("\"lists\" = \"practice's own choice\"\n", "");
        assert!(wrong(&without).iter().any(|w| w.starts_with("lists.birthday_within_days: no basis")));
        let more = format!("{EXAMPLE}\"lists.nothing\" = \"x\"\n");
        assert_eq!(wrong(&more), ["lists.nothing: a basis is named for what is not there"]);
    }

    #[test]
    fn differences_are_found_at_their_place() {
        let old = serde_json::json!({"a": {"b": 1, "c": [1]}, "d": 2});
        let new = serde_json::json!({"a": {"b": 1, "c": [2]}, "e": 3});
        let places: Vec<String> = differences(&old, &new).into_iter().map(|d| d.0).collect();
        assert_eq!(places, ["a.c", "d", "e"]);
    }

    const NOTICE: &str = r#"[[closing]]
id = "x-1"
place = "Nowhere"
events = ["sale"]
whom = "board"
says = "By letter."
count = 3650
unit = "days"
side = "before"
source = "Gazette 12"
read_on = 2025-01-02
"#;

    /// A notice names its source, its event, what is told and in what time, each once.
    #[test]
    fn each_wrong_notice_is_named() {
        assert_eq!(wrong(&format!("{EXAMPLE}\n{NOTICE}")), Vec::<String>::new());
        for (good, bad, why) in [
            ("\"Gazette 12\"", "\" \"", "closing.x-1: no source"),
            ("[\"sale\"]", "[]", "closing.x-1: for no event"),
            ("\"By letter.\"", "\"\"", "closing.x-1: it does not say what is told"),
            ("count = 3650", "count = 3651", "closing.x-1: more than 3650 days or months"),
            ("\"x-1\"", "\" \"", "closing. : no name of its own"),
            (
                "read_on = 2025-01-02\n",
                &format!("read_on = 2025-01-02\n{NOTICE}"),
                "closing.x-1: no name of its own",
            ),
        ] {
            assert_eq!(wrong(&format!("{EXAMPLE}\n{}", NOTICE.replacen(good, bad, 1))), [why]);
        }
    }

    /// A day off has a name and a source, is a working day of the week, and stands there once. 4 July 2025 was a
    /// Friday.
    #[test]
    fn each_wrong_day_off_is_named() {
        let days = |day: &str, name: &str| {
            let text = format!(
                "[[holidays]]\nday = {day}\nname = \"{name}\"\nsource = \"Gazette 12\"\nread_on = 2025-01-02\n"
            );
            file(&format!("{EXAMPLE}\n{text}")).err().unwrap_or_default()
        };
        assert_eq!(days("2025-07-04", "Ferry Day"), "");
        assert_eq!(days("2025-07-07", "Ferry Day"), "");
        assert_eq!(days("2025-07-04", " "), "holidays.2025-07-04: no name");
        assert!(
            days("2025-07-05", "Ferry Day").starts_with("holidays.2025-07-05: a Saturday is no working day")
        );
        assert!(
            days("2025-07-06", "Ferry Day").starts_with("holidays.2025-07-06: a Sunday is no working day")
        );
    }

    #[test]
    fn a_time_of_day_has_two_digits_each() {
        for good in ["00:00", "07:30", "23:59"] {
            assert!(time_of_day(good), "{good}");
        }
        for bad in ["24:00", "07:60", "7:30", "07:3", "0730", "07:30:00", "+7:30", "07:+3", "ab:cd", ""] {
            assert!(!time_of_day(bad), "{bad}");
        }
    }

    /// Values are measured with their borders: 4 to 12 digits, from 12 to 25 years.
    #[test]
    fn a_value_at_its_border_is_in_reason() {
        for (good, bad, is) in [
            ("pin_digits = 4", "pin_digits = 12", true),
            ("pin_digits = 4", "pin_digits = 13", false),
            ("pin_digits = 4", "pin_digits = 3", false),
            ("majority_age_years = 18", "majority_age_years = 12", true),
            ("majority_age_years = 18", "majority_age_years = 25", true),
            ("majority_age_years = 18", "majority_age_years = 26", false),
            ("many_charts = 6 ", "many_charts = 1 ", false),
            ("opened_often_days = 3", "opened_often_days = 32", false),
        ] {
            assert!(EXAMPLE.contains(good), "{good}");
            assert_eq!(wrong(&EXAMPLE.replacen(good, bad, 1)).is_empty(), is, "{bad}");
        }
    }

    /// A basis may stand for a whole section or for one value; one of blanks is none.
    #[test]
    fn a_basis_is_of_a_section_or_of_one_value() {
        let choice = "\"lists\" = \"practice's own choice\"\n";
        assert!(EXAMPLE.contains(choice));
        let blank = wrong(&EXAMPLE.replace(choice, "\"lists\" = \" \"\n"));
        assert!(blank.iter().any(|w| w.starts_with("lists.call_back_days: no basis is named")), "{blank:?}");
        let one = wrong(&EXAMPLE.replace(choice, "\"lists.call_back_days\" = \"practice's own choice\"\n"));
        assert!(!one.iter().any(|w| w.starts_with("lists.call_back_days")), "{one:?}");
        assert!(one.iter().any(|w| w.starts_with("lists.reaction_recheck_days: no basis")), "{one:?}");
    }

    /// Old and new value stand beside the place; what is there on one side alone has none on the other.
    #[test]
    fn a_difference_has_its_old_and_new_value() {
        let old = serde_json::json!({"a": {"b": 1}, "d": 2, "same": {"x": [1]}});
        let new = serde_json::json!({"a": {"b": 5}, "e": 3, "same": {"x": [1]}});
        let found = differences(&old, &new);
        let value = |n: u64| Some(Value::from(n));
        assert_eq!(
            found,
            [
                ("a.b".to_string(), value(1), value(5)),
                ("d".to_string(), value(2), None),
                ("e".to_string(), None, value(3)),
            ]
        );
        assert_eq!(differences(&old, &old), []);
    }
}
