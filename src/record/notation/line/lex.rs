//! A line in its items: words with their meanings, levels, numbers, quoted words, and `name=value`.

use super::words::{LONGEST, Meaning, dictionary, key, near};
use super::{Refusal, Setting};
use crate::record::kinds::screening::PlusMinus;
use crate::record::moment::Moment;

/// One item, and where in the line it stands.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Item {
    pub from: usize,
    pub to: usize,
    pub what: What,
}

/// What an item is.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum What {
    /// A level or two, as typed.
    Level(String),
    /// A word or phrase.
    Known(&'static [Meaning]),
    /// A number, as typed, with the unit behind it if there is one.
    Number(String, Option<String>),
    /// A grade and a half.
    Graded(u8, PlusMinus),
    /// Two numbers with a stroke.
    Ratio(String, String),
    /// Passes and seconds: `3x30s`, `3x`.
    Dose(u32, Option<u32>),
    /// A grade in Roman numerals.
    Roman(String),
    /// Pain before and after: `5>2`.
    Pain(u8, u8),
    /// Words in quotes.
    Text(String),
    /// `name=value`.
    Pair(String, String),
    /// `@10:15`; none for `@-`, which says that the time is not known.
    At(Option<Moment>),
}

impl What {
    pub fn meanings(&self) -> &'static [Meaning] {
        match self {
            What::Known(meanings) => meanings,
            _ => &[],
        }
    }
}

/// A piece of the line without a space in it, or a quoted text.
struct Token {
    from: usize,
    to: usize,
    text: String,
    /// The quoted part: a whole quoted text, or the value of a pair.
    quoted: Option<String>,
}

/// The line in its items. Behind the word for what was not done stand free words, which are no items.
pub(super) fn items(line: &str, setting: &Setting<'_>) -> Result<Vec<Item>, Refusal> {
    let tokens = joined(split_ribs(tokens(line)?));
    let mut items: Vec<Item> = Vec::new();
    let mut at = 0;
    while let Some(token) = tokens.get(at) {
        if let Some(what) = special(token, setting)? {
            items.push(Item { from: token.from, to: token.to, what });
            at += 1;
            continue;
        }
        let (count, meanings) = phrase(&tokens[at..]).ok_or_else(|| unknown(&token.text))?;
        let last = &tokens[at + count - 1];
        items.push(Item { from: token.from, to: last.to, what: What::Known(meanings) });
        if meanings.contains(&Meaning::Deferred) {
            break;
        }
        at += count;
    }
    Ok(items)
}

fn unknown(word: &str) -> Refusal {
    let shown: String = word.chars().take(32).collect();
    let near = near(word);
    let hint = if near.is_empty() {
        "; words of your own go in quotes, \"like this\"".to_owned()
    } else {
        format!("; did you mean {}?", near.join(", or "))
    };
    Refusal::new("unknown-word", format!("\"{shown}\" is not a word of the line form{hint}"))
}

/// The longest phrase the tokens begin with: how many tokens, and its meanings.
fn phrase(tokens: &[Token]) -> Option<(usize, &'static [Meaning])> {
    let plain = tokens.iter().take(LONGEST).take_while(|token| token.quoted.is_none()).count();
    (1..=plain).rev().find_map(|count| {
        let joined: String = tokens[..count].iter().map(|token| key(&token.text)).collect();
        dictionary()
            .get(&joined)
            .filter(|_| !joined.is_empty())
            .map(|(_, meanings)| (count, meanings.as_slice()))
    })
}

fn tokens(line: &str) -> Result<Vec<Token>, Refusal> {
    if line.chars().any(|c| c.is_control() && c != '\t') || line.contains('\u{fffd}') {
        return Err(Refusal::new(
            "unreadable",
            "there are keys in this line that are no letters (an arrow key?)",
        ));
    }
    let mut tokens = Vec::new();
    let mut letters = line.char_indices().peekable();
    while let Some(&(from, first)) = letters.peek() {
        if first.is_whitespace() {
            letters.next();
            continue;
        }
        let (mut text, mut quoted, mut to) = (String::new(), None, line.len());
        while let Some(&(at, letter)) = letters.peek() {
            if letter.is_whitespace() || quoted.is_some() {
                to = at;
                break;
            }
            letters.next();
            if letter == '"' && (text.is_empty() || text.ends_with('=')) {
                quoted = Some(quote(&mut letters)?);
            } else {
                text.push(letter);
            }
        }
        if quoted.is_none() && !text.contains('=') {
            // Some put commas between the parts of a line.
            text.truncate(text.trim_end_matches([',', ';']).len());
        }
        if quoted.is_some() || !text.is_empty() {
            tokens.push(Token { from, to, text, quoted });
        }
    }
    Ok(tokens)
}

/// The rest of a quoted text; a backslash keeps the letter behind it.
fn quote(letters: &mut impl Iterator<Item = (usize, char)>) -> Result<String, Refusal> {
    let mut text = String::new();
    while let Some((_, letter)) = letters.next() {
        match letter {
            '"' => return Ok(text),
            '\\' => text.extend(letters.next().map(|(_, kept)| kept)),
            letter => text.push(letter),
        }
    }
    Err(Refusal::new("open-quote", "a quote is opened and not closed"))
}

/// `rib-6` and `rib6` are `rib 6`, and so with the joints of ribs.
fn split_ribs(tokens: Vec<Token>) -> Vec<Token> {
    let mut all = Vec::new();
    for token in tokens {
        let digits = token.text.find(|c: char| c.is_ascii_digit());
        let part = digits.map(|at| token.text.split_at(at)).filter(|(word, number)| {
            let meanings = dictionary().get(&key(word)).map_or(&[][..], |(_, meanings)| meanings.as_slice());
            token.quoted.is_none()
                && meanings.iter().any(|m| matches!(m, Meaning::Rib(_)))
                && number.bytes().all(|b| b.is_ascii_digit())
        });
        match part {
            Some((word, number)) => {
                let cut = token.from + word.len();
                let (word, number) = (word.trim_end_matches('-').to_owned(), number.to_owned());
                all.push(Token { from: token.from, to: cut, text: word, quoted: None });
                all.push(Token { from: cut, to: token.to, text: number, quoted: None });
            }
            None => all.push(token),
        }
    }
    all
}

/// Units that may stand behind a number with a space.
const UNITS: &[&str] = &[
    "mm", "cm", "in", "deg", "kg", "lb", "lbs", "bpm", "sec", "min", "%", "s", "c", "f", "\u{b0}", "\u{b0}c",
    "\u{b0}f",
];

/// Levels and numbers typed with spaces around a mark are one: `C5 - 6`, `occiput to C2`, `5 > 2`.
fn joined(tokens: Vec<Token>) -> Vec<Token> {
    let mut all: Vec<Token> = Vec::new();
    let mut tokens = tokens.into_iter().peekable();
    while let Some(token) = tokens.next() {
        let unit = token.quoted.is_none() && UNITS.contains(&token.text.to_lowercase().as_str());
        if let Some(before) =
            all.last_mut().filter(|before| unit && before.quoted.is_none() && is_plain(&before.text))
        {
            before.text.push_str(&token.text);
            before.to = token.to;
            continue;
        }
        let mark = match token.text.as_str() {
            "-" | "\u{2013}" | "/" => Some("-"),
            "to" | "TO" | "To" => Some("-"),
            ">" => Some(">"),
            _ => None,
        };
        let fits = |other: Option<&Token>| {
            other.is_some_and(|other| {
                let number = other.text.starts_with(|c: char| c.is_ascii_digit());
                other.quoted.is_none() && (is_level(&other.text) || number)
            })
        };
        match mark.filter(|_| token.quoted.is_none() && fits(all.last()) && fits(tokens.peek())) {
            Some(mark) => {
                if let (Some(before), Some(after)) = (all.last_mut(), tokens.next()) {
                    before.text = format!("{}{mark}{}", before.text, after.text);
                    before.to = after.to;
                }
            }
            None => all.push(token),
        }
    }
    all
}

/// True of what looks like a level: a single letter and digits, or the occiput.
fn is_level(text: &str) -> bool {
    let marks = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '/' | '\u{2013}');
    let letters = text.chars().take_while(char::is_ascii_alphabetic).count();
    let begin = text.get(..letters).unwrap_or_default().to_ascii_lowercase();
    let has_digit = text.contains(|c: char| c.is_ascii_digit());
    let is_occiput = (begin == "co" || begin.starts_with("occ"))
        && (has_digit || matches!(text.to_ascii_lowercase().as_str(), "co" | "occ" | "occiput"));
    text.chars().all(marks) && ((letters == 1 && has_digit) || is_occiput)
}

/// What is no word of the dictionary: quoted text, pairs, levels, numbers, times.
fn special(token: &Token, setting: &Setting<'_>) -> Result<Option<What>, Refusal> {
    let text = token.text.as_str();
    if let Some(name) = text.strip_suffix('=').filter(|name| !name.is_empty())
        && let Some(value) = &token.quoted
    {
        return Ok(Some(What::Pair(name.to_lowercase(), value.clone())));
    }
    if let Some(quoted) = token.quoted.as_ref().filter(|_| text.is_empty()) {
        return Ok(Some(What::Text(quoted.clone())));
    }
    if let Some((name, value)) = text.split_once('=').filter(|(name, _)| !name.is_empty()) {
        return Ok(Some(What::Pair(name.to_lowercase(), value.to_owned())));
    }
    if let Some(time) = text.strip_prefix('@') {
        return moment(time, setting).map(|at| Some(What::At(at)));
    }
    if is_level(text) {
        return Ok(Some(What::Level(text.to_owned())));
    }
    Ok(roman(text).map(What::Roman).or_else(|| number(text)))
}

/// A moment: `10:15` on the day of the visit, `-` for not known, or in full.
pub(super) fn moment(time: &str, setting: &Setting<'_>) -> Result<Option<Moment>, Refusal> {
    if time == "-" {
        return Ok(None);
    }
    if let Ok(moment) = Moment::parse(time) {
        return Ok(Some(moment));
    }
    setting.at_time(time).map(Some).ok_or_else(|| {
        Refusal::new("time", "a time is written like @10:15, or in full like @2025-03-11T10:15:00-04:00")
    })
}

fn roman(text: &str) -> Option<String> {
    let upper = text.to_ascii_uppercase();
    let bare = upper.strip_suffix(['+', '-']).unwrap_or(&upper);
    matches!(bare, "I" | "II" | "III" | "IV" | "V").then_some(upper)
}

/// True of a plain number: digits, and decimals behind a point.
pub(super) fn is_plain(text: &str) -> bool {
    let (whole, decimals) = text.split_once('.').unwrap_or((text, "0"));
    let digits = |part: &str| !part.is_empty() && part.len() <= 9 && part.bytes().all(|b| b.is_ascii_digit());
    let leading = whole.len() > 1 && whole.starts_with('0');
    digits(whole) && digits(decimals) && !leading
}

fn number(text: &str) -> Option<What> {
    if is_plain(text) {
        return Some(What::Number(text.to_owned(), None));
    }
    if let Some((before, after)) = text.split_once('>') {
        return Some(What::Pain(before.parse().ok()?, after.parse().ok()?))
            .filter(|_| is_plain(before) && is_plain(after));
    }
    if let Some((first, second)) = text.split_once('/') {
        return (is_plain(first) && is_plain(second))
            .then(|| What::Ratio(first.to_owned(), second.to_owned()));
    }
    if let Some((passes, rest)) = text.split_once(['x', 'X']).filter(|(passes, _)| is_plain(passes)) {
        let seconds = if rest.is_empty() { None } else { Some(seconds(rest)?) };
        return Some(What::Dose(passes.parse().ok()?, seconds));
    }
    let half = [('+', PlusMinus::Plus), ('-', PlusMinus::Minus)].into_iter();
    if let Some((grade, half)) = half.filter_map(|(mark, half)| Some((text.strip_suffix(mark)?, half))).next()
    {
        return is_plain(grade).then(|| grade.parse().ok().map(|grade| What::Graded(grade, half))).flatten();
    }
    let end = text.find(|c: char| !c.is_ascii_digit() && c != '.')?;
    let (value, unit) = text.split_at(end);
    let letters = unit.chars().all(|c| c.is_alphabetic() || matches!(c, '%' | '\u{b0}'));
    (is_plain(value) && letters).then(|| What::Number(value.to_owned(), Some(unit.to_owned())))
}

/// `30s`, `30`, `2min` in seconds.
fn seconds(text: &str) -> Option<u32> {
    let end = text.find(|c: char| !c.is_ascii_digit()).unwrap_or(text.len());
    let (value, unit) = text.split_at(end);
    in_seconds(value, unit)
}

/// A whole number of seconds or minutes, in seconds.
pub(super) fn in_seconds(value: &str, unit: &str) -> Option<u32> {
    let value: u32 = value.parse().ok()?;
    match unit.to_ascii_lowercase().as_str() {
        "s" | "sec" | "" => Some(value),
        "m" | "min" => value.checked_mul(60),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::setting;
    use super::*;

    fn whats(line: &str) -> Vec<What> {
        items(line, &setting()).unwrap().into_iter().map(|item| item.what).collect()
    }

    #[test]
    fn levels_doses_and_pairs_are_told_apart() {
        assert_eq!(whats("C5 - 6 5 > 2 3x30s 38mm 4+").len(), 5);
        assert_eq!(whats("occiput to C2"), [What::Level("occiput-C2".to_owned())]);
        assert_eq!(whats("3x30s"), [What::Dose(3, Some(30))]);
        assert_eq!(whats("2x1min"), [What::Dose(2, Some(60))]);
        assert_eq!(whats("5 > 2"), [What::Pain(5, 2)]);
        assert_eq!(whats("iv-"), [What::Roman("IV-".to_owned())]);
        assert_eq!(whats("120/80"), [What::Ratio("120".to_owned(), "80".to_owned())]);
        assert_eq!(whats("\"a \\\"b\\\" \\\\\""), [What::Text("a \"b\" \\".to_owned())]);
        assert_eq!(whats("Dir=\"up and\""), [What::Pair("dir".to_owned(), "up and".to_owned())]);
        assert_eq!(whats("rib6"), whats("rib 6"));
        assert_eq!(whats("rib-6"), whats("rib 6"));
    }

    /// It joins levels and numbers; between words it says nothing.
    #[test]
    fn a_dash_between_words_joins_nothing() {
        assert_eq!(whats("masseter - L - tender 3"), whats("masseter L tender 3"));
    }

    #[test]
    fn an_item_says_where_in_the_line_it_stands() {
        for (line, places) in
            [("check rib6", [(0, 5), (6, 9), (9, 10)]), ("check  rib-12", [(0, 5), (7, 11), (11, 13)])]
        {
            let items = items(line, &setting()).unwrap();
            let stands: Vec<_> = items.iter().map(|item| (item.from, item.to)).collect();
            assert_eq!(stands, places, "{line}");
        }
    }

    #[test]
    fn an_unknown_word_is_named_with_what_is_near() {
        let why = items("maseter L tender", &setting()).unwrap_err();
        assert!(why.text.contains("\"maseter\"") && why.text.contains("masseter"), "{}", why.text);
        assert!(items("TMJ \"open", &setting()).is_err());
        assert!(items("TMJ\u{1b}[D", &setting()).is_err());
        assert!(items("TMJ L click @25:00", &setting()).is_err());
    }

    /// Digits with decimals behind a point, as the page on the line form has it; nobody types ten digits.
    #[test]
    fn a_number_is_digits_and_decimals() {
        for plain in ["0", "5", "38", "1.5", "0.5", "38.10", "123456789", "1.123456789"] {
            assert!(is_plain(plain), "{plain}");
        }
        for not in [
            "",
            ".",
            "1.",
            ".5",
            "1.2.3",
            "01",
            "00",
            "00.5",
            "1234567890",
            "1.1234567890",
            "1e3",
            "-1",
            "+1",
            "1,5",
        ] {
            assert!(!is_plain(not), "{not}");
        }
        for not in
            ["04>2", "4>02", "0120/80", "120/080", "120/x", "x/80", "03x30s", "04+", "3xs", "3x30h", "5mm2"]
        {
            assert_eq!(number(not), None, "{not}");
        }
        assert_eq!(number("4-"), Some(What::Graded(4, PlusMinus::Minus)));
        assert_eq!(number("3x"), Some(What::Dose(3, None)));
        assert_eq!(number("97%"), Some(What::Number("97".to_owned(), Some("%".to_owned()))));
        assert_eq!(number("60\u{b0}"), Some(What::Number("60".to_owned(), Some("\u{b0}".to_owned()))));
        for (value, unit, seconds) in [
            ("30", "", Some(30)),
            ("30", "S", Some(30)),
            ("2", "m", Some(120)),
            ("2", "Min", Some(120)),
            ("2", "h", None),
        ] {
            assert_eq!(in_seconds(value, unit), seconds, "{value}{unit}");
        }
    }

    /// One letter and digits, or the occiput by its short names (CMS Pub. 100-02 ch. 15, 240.1.4).
    #[test]
    fn what_looks_like_a_level_is_told_from_words() {
        for level in [
            "C5", "c56", "C5-6", "C5/C6", "X5", "occ", "Occiput", "occ-C1", "OCC1", "CO", "co", "CO1",
            "co-C1",
        ] {
            assert!(is_level(level), "{level}");
        }
        for not in [
            "C",
            "co-op",
            "cold",
            "occ-",
            "occlusion",
            "56",
            "38mm",
            "3x30s",
            "NDI14",
            "C5.6",
            "C5>6",
            "5>2",
            "L",
            "",
        ] {
            assert!(!is_level(not), "{not}");
        }
    }

    #[test]
    fn spaces_around_a_mark_and_before_a_unit_do_not_matter() {
        for (spaced, tight) in [
            ("C5 - 6", "C5-6"),
            ("C5 \u{2013} 6", "C5-6"),
            ("C5 / C6", "C5-C6"),
            ("T4 to T8", "T4-T8"),
            ("T4 TO T8", "T4-T8"),
            ("occ To C2", "occ-C2"),
            ("5 > 2", "5>2"),
            ("38 mm", "38mm"),
            ("1.5 in", "1.5in"),
            ("2 min", "2min"),
            ("60 \u{b0}", "60\u{b0}"),
            ("masseter L tender - 3", "masseter L tender 3"),
            ("tender 3 - masseter L", "tender 3 masseter L"),
            ("masseter , L ; tender", "masseter L tender"),
            ("\"fine\"L", "\"fine\" L"),
            ("soft tissue", "soft-tissue"),
            ("SOFT  TISSUE", "softtissue"),
        ] {
            assert_eq!(whats(spaced), whats(tight), "{spaced}");
        }
        // A unit belongs to a number alone.
        assert!(items("masseter mm", &setting()).is_err());
        assert_eq!(whats("\"38\" \"mm\"").len(), 2);
    }

    /// In an option everything up to the space belongs to the value; a comma behind a word does not matter.
    #[test]
    fn a_comma_is_part_of_a_value_and_not_of_a_word() {
        assert_eq!(whats("by=AB,"), [What::Pair("by".to_owned(), "AB,".to_owned())]);
        assert_eq!(whats("tender,"), whats("tender"));
        assert_eq!(whats("words=a=b"), [What::Pair("words".to_owned(), "a=b".to_owned())]);
        assert_eq!(items("=a", &setting()).unwrap_err().id, "unknown-word");
        assert_eq!(items("tender\"", &setting()).unwrap_err().id, "unknown-word");
        assert_eq!(items("words=\"a", &setting()).unwrap_err().id, "open-quote");
    }

    #[test]
    fn an_unknown_word_without_a_neighbor_is_told_to_be_quoted() {
        let why = items("umberlow", &setting()).unwrap_err();
        assert!(why.text.contains("quotes") && !why.text.contains("did you mean"), "{}", why.text);
        let near = items("tendr", &setting()).unwrap_err();
        assert!(near.text.contains("did you mean tender?") && !near.text.contains("quotes"), "{}", near.text);
    }
}
