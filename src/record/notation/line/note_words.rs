//! Lines for what was told, thought, advised and planned: a heading and free words, `plan again on Friday`.
//! And the semicolons between the lines typed in one go.

use super::{Stop, refuse};
use crate::record::vocab::words;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

words! {
    /// A part of the note that is said in words.
    Part {
        /// What changed since the last visit.
        Changed = "changed",
        /// How it compares with last time.
        Compared = "compared",
        /// A working diagnosis and what it rests on.
        Assessment = "assessment",
        /// What was advised.
        Advice = "advice",
        /// What to watch for, and whom to call.
        WatchFor = "watch-for",
        /// The next step.
        Plan = "plan",
    }
}

impl Part {
    /// Where in the note the words go (JSON Pointer).
    pub fn pointer(self) -> &'static str {
        match self {
            Part::Changed => "/changed_since_last",
            Part::Compared => "/assessment/change_since_last",
            Part::Assessment => "/assessment/diagnoses",
            Part::Advice => "/advice/words",
            Part::WatchFor => "/advice/watch_for",
            Part::Plan => "/plan/next_step",
        }
    }

    /// What stands before the words when they are read back.
    pub fn heading(self) -> &'static str {
        match self {
            Part::Changed => "Changed since last time",
            Part::Compared => "Compared with last time",
            Part::Assessment => "Assessment",
            Part::Advice => "Advised",
            Part::WatchFor => "To watch for",
            Part::Plan => "Next step",
        }
    }
}

/// Words for a part of the note.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NoteWords {
    /// Which part.
    pub part: Part,
    /// The words.
    pub words: String,
    /// What a working diagnosis rests on; none for the other parts.
    pub basis: Option<String>,
}

/// The words a line may begin with. `call` is said with the words: "call if the leg goes numb".
const HEADINGS: [(&str, Part); 8] = [
    ("changed", Part::Changed),
    ("compared", Part::Compared),
    ("assessment", Part::Assessment),
    ("advice", Part::Advice),
    ("watch for", Part::WatchFor),
    ("watch", Part::WatchFor),
    ("call", Part::WatchFor),
    ("plan", Part::Plan),
];

/// The words of a line that begins with a heading; none where it does not.
pub(super) fn read(line: &str) -> Result<Option<NoteWords>, Stop> {
    let line = line.trim();
    let Some((heading, part, rest)) = HEADINGS.iter().find_map(|(heading, part)| {
        let (begin, rest) = (line.get(..heading.len())?, line.get(heading.len()..)?);
        let whole = rest.is_empty() || rest.starts_with([' ', '\t', ':']);
        (begin.eq_ignore_ascii_case(heading) && whole).then_some((*heading, *part, rest))
    }) else {
        return Ok(None);
    };
    if line.chars().any(char::is_control) {
        return refuse("unreadable", "there are keys in this line that are no letters (an arrow key?)");
    }
    let words = unquoted(rest.trim_start_matches([' ', '\t', ':']).trim().trim_end_matches(';').trim_end());
    if words.is_empty() {
        return refuse("words-missing", format!("nothing is said behind \"{heading}\""));
    }
    match part {
        Part::Assessment => assessment(words).map(Some),
        _ => {
            let words = if heading == "call" { format!("call {words}") } else { words.to_owned() };
            Ok(Some(NoteWords { part, words, basis: None }))
        }
    }
}

/// A working diagnosis says what it rests on.
fn assessment(words: &str) -> Result<NoteWords, Stop> {
    let basis = words.split_once(" because ").map(|(what, why)| (what.trim(), why.trim()));
    match basis.filter(|(what, why)| !what.is_empty() && !why.is_empty()) {
        Some((what, why)) => {
            Ok(NoteWords { part: Part::Assessment, words: what.to_owned(), basis: Some(why.to_owned()) })
        }
        None => refuse(
            "basis-missing",
            "say what the assessment rests on: assessment ... because ...; how it is against last time goes \
             behind \"compared\"",
        ),
    }
}

fn unquoted(words: &str) -> &str {
    let inside = words.strip_prefix('"').and_then(|rest| rest.strip_suffix('"'));
    inside.filter(|inside| !inside.contains('"')).unwrap_or(words).trim()
}

/// The lines of what was typed in one go: a semicolon ends a line, but not within quotes.
pub fn split(typed: &str) -> Vec<&str> {
    let (mut lines, mut from, mut quoted, mut masked) = (Vec::new(), 0, false, false);
    for (at, letter) in typed.char_indices() {
        match letter {
            _ if masked => masked = false,
            '\\' if quoted => masked = true,
            '"' => quoted = !quoted,
            ';' if !quoted => {
                lines.extend(typed.get(from..at));
                from = at + 1;
            }
            _ => {}
        }
    }
    lines.extend(typed.get(from..));
    lines.into_iter().map(str::trim).filter(|line| !line.is_empty()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(line: &str) -> NoteWords {
        match read(line) {
            Ok(Some(words)) => words,
            _ => panic!("{line}"),
        }
    }

    #[test]
    fn a_heading_and_free_words() {
        let plan = words("plan again on Friday, 3 more");
        assert_eq!((plan.part, plan.words.as_str()), (Part::Plan, "again on Friday, 3 more"));
        assert_eq!(words("Watch for: a numb leg").words, "a numb leg");
        assert_eq!(words("call if the leg goes numb").words, "call if the leg goes numb");
        assert_eq!(words("advice \"ice; no lifting\"").words, "ice; no lifting");
        let thought = words("assessment low back pain because L4-5 is restricted");
        assert_eq!(thought.basis.as_deref(), Some("L4-5 is restricted"));
        assert!(matches!(read("plane surface"), Ok(None)));
        assert!(matches!(read("pain 5 before"), Ok(None)));
    }

    #[test]
    fn nothing_behind_a_heading_and_no_basis_are_refused() {
        for (line, id) in
            [("plan", "words-missing"), ("advice :", "words-missing"), ("assessment stiff", "basis-missing")]
        {
            let Err(Stop::Refused(refusal)) = read(line) else { panic!("{line}") };
            assert_eq!(refusal.id, id, "{line}");
        }
    }

    #[test]
    fn a_semicolon_ends_a_line_outside_quotes() {
        assert_eq!(split("pain 5 before; opening 38 before;"), ["pain 5 before", "opening 38 before"]);
        assert_eq!(split("advice \"ice; rest\"; plan again"), ["advice \"ice; rest\"", "plan again"]);
        assert_eq!(split("TMJ L sound \"a \\\"pop\\\"; late\""), ["TMJ L sound \"a \\\"pop\\\"; late\""]);
        assert!(split(" ;; ").is_empty());
    }
}
