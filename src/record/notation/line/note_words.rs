//! Lines for what was told, thought, advised and planned: a heading and free words, `plan again on Friday`.
//! And the semicolons between the lines typed in one go.

use super::{Stop, refuse};
use crate::record::vocab::words;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

words! {
    /// A part of the note that is said in words.
    Part {
        /// A complaint, with the pain now.
        Complaint = "complaint",
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
            Part::Complaint => "/complaints",
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
            Part::Complaint => "Complaint",
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
    /// Pain now, 0 to 10, of a complaint; none for the other parts.
    pub pain: Option<u8>,
}

/// The words a line may begin with. `call` is said with the words: "call if the leg goes numb".
const HEADINGS: [(&str, Part); 9] = [
    ("complaint", Part::Complaint),
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
        Part::Complaint => complaint(words).map(Some),
        Part::Assessment => assessment(words).map(Some),
        _ => {
            let words = if heading == "call" { format!("call {words}") } else { words.to_owned() };
            Ok(Some(NoteWords { part, words, basis: None, pain: None }))
        }
    }
}

/// A complaint ends with its pain: "low back ache 5".
fn complaint(words: &str) -> Result<NoteWords, Stop> {
    let parts = words.rsplit_once(char::is_whitespace);
    let pain = |text: &str| text.parse::<u8>().ok().filter(|pain| *pain <= 10 && !text.starts_with('+'));
    match parts.and_then(|(what, last)| Some((unquoted(what.trim_end_matches([',', ' '])), pain(last)?))) {
        Some((what, pain)) if !what.is_empty() => {
            Ok(NoteWords { part: Part::Complaint, words: what.to_owned(), basis: None, pain: Some(pain) })
        }
        _ => refuse(
            "pain-missing",
            "a complaint ends with the pain now, 0 to 10: complaint low back ache 5; where it can't be told, \
             say why with `inkfast sign`",
        ),
    }
}

/// A working diagnosis says what it rests on.
fn assessment(words: &str) -> Result<NoteWords, Stop> {
    // No space is around the words, so there is something on either side.
    match words.split_once(" because ") {
        Some((what, why)) => Ok(NoteWords {
            part: Part::Assessment,
            words: what.trim().to_owned(),
            basis: Some(why.trim().to_owned()),
            pain: None,
        }),
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
        let told = words("complaint low back and jaw ache 5");
        assert_eq!((told.words.as_str(), told.pain), ("low back and jaw ache", Some(5)));
        assert!(matches!(read("plane surface"), Ok(None)));
        assert!(matches!(read("pain 5 before"), Ok(None)));
    }

    #[test]
    fn nothing_behind_a_heading_and_no_basis_are_refused() {
        for (line, id) in [
            ("plan", "words-missing"),
            ("advice :", "words-missing"),
            ("assessment stiff", "basis-missing"),
            ("complaint jaw ache", "pain-missing"),
            ("complaint jaw ache 11", "pain-missing"),
            ("complaint 5", "pain-missing"),
        ] {
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

    /// The page on the line form: a complaint's number is the pain now, 0 to 10.
    #[test]
    fn a_complaint_ends_with_a_pain_from_nought_to_ten() {
        for (line, said, pain) in [
            ("complaint jaw ache 0", "jaw ache", 0),
            ("complaint: jaw ache 10", "jaw ache", 10),
            ("COMPLAINT jaw ache, 5;", "jaw ache", 5),
            ("complaint \"jaw ache\" 5", "jaw ache", 5),
        ] {
            let told = words(line);
            assert_eq!((told.words.as_str(), told.pain), (said, Some(pain)), "{line}");
        }
        for line in [
            "complaint jaw ache 11",
            "complaint jaw ache +5",
            "complaint jaw ache -5",
            "complaint , 5",
            "complaint \"\" 5",
        ] {
            let Err(Stop::Refused(refusal)) = read(line) else { panic!("{line}") };
            assert_eq!(refusal.id, "pain-missing", "{line}");
        }
    }

    #[test]
    fn an_assessment_and_its_basis_must_both_be_there() {
        let thought = words("assessment: stiff because because of the cold");
        assert_eq!(
            (thought.words.as_str(), thought.basis.as_deref()),
            ("stiff", Some("because of the cold"))
        );
        for line in ["assessment because stiff", "assessment stiff because", "assessment  because  "] {
            let Err(Stop::Refused(refusal)) = read(line) else { panic!("{line}") };
            assert_eq!(refusal.id, "basis-missing", "{line}");
        }
    }

    #[test]
    fn a_heading_is_a_whole_word_and_quotes_around_everything_are_left_out() {
        for (line, part, said) in [
            ("Changed easier", Part::Changed, "easier"),
            ("compared:less stiff", Part::Compared, "less stiff"),
            ("advice\tice", Part::Advice, "ice"),
            ("watch a numb leg", Part::WatchFor, "a numb leg"),
            ("watch for a numb leg", Part::WatchFor, "a numb leg"),
            ("plan \"again\"", Part::Plan, "again"),
            ("plan \"again\" and \"again\"", Part::Plan, "\"again\" and \"again\""),
            ("plan again;", Part::Plan, "again"),
        ] {
            match read(line) {
                Ok(Some(read)) => assert_eq!((read.part, read.words.as_str()), (part, said), "{line}"),
                _ => assert!(line.contains('\t'), "{line}"),
            }
        }
        for line in ["planned", "callus L tender", "advices ice", "changedover"] {
            assert!(matches!(read(line), Ok(None)), "{line}");
        }
        let Err(Stop::Refused(refusal)) = read("plan ag\u{1b}[Dain") else { panic!() };
        assert_eq!(refusal.id, "unreadable");
    }

    /// A backslash keeps the letter behind it, within quotes alone.
    #[test]
    fn a_backslash_keeps_a_quote_from_ending() {
        assert_eq!(split(r#"TMJ L "a\";b"; plan c"#), [r#"TMJ L "a\";b""#, "plan c"]);
        assert_eq!(split(r#"TMJ L "a\\"; plan c"#), [r#"TMJ L "a\\""#, "plan c"]);
        assert_eq!(split(r#"plan a\; plan b"#), [r#"plan a\"#, "plan b"]);
        assert_eq!(split("a;b;;c"), ["a", "b", "c"]);
    }

    /// Where the words go in the note (the layout of a visit), and what stands before them when they are read back.
    #[test]
    fn each_part_has_its_place_and_its_heading() {
        let record = crate::record::examples::example("visit");
        for (part, heading) in [
            (Part::Complaint, "Complaint"),
            (Part::Changed, "Changed since last time"),
            (Part::Compared, "Compared with last time"),
            (Part::Assessment, "Assessment"),
            (Part::Advice, "Advised"),
            (Part::WatchFor, "To watch for"),
            (Part::Plan, "Next step"),
        ] {
            assert_eq!(part.heading(), heading);
            // How it is against last time is not said of a first visit.
            let stands = record.data.pointer(part.pointer()).is_some();
            assert_eq!(stands, part != Part::Compared, "{part}");
        }
    }
}
