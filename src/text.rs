//! Words for a screen or a printer: nothing in them moves the cursor, and lines break between words.

/// The text with nothing in it that would move the cursor or turn the writing direction, so that
/// what a record holds cannot repaint the screen it is read on. Line breaks and tabs stay.
pub fn shown(text: &str) -> String {
    let turns = |c: char| matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    text.chars().fold(String::with_capacity(text.len()), |mut out, c| {
        if (c.is_control() && c != '\n' && c != '\t') || turns(c) {
            out.push_str(&format!("<U+{:04X}>", u32::from(c)));
        } else {
            out.push(c);
        }
        out
    })
}

/// How HTML writes a character that would be read as markup; none for every other.
pub fn escaped(c: char) -> Option<&'static str> {
    Some(match c {
        '&' => "&amp;",
        '<' => "&lt;",
        '>' => "&gt;",
        '"' => "&quot;",
        '\'' => "&#39;",
        _ => return None,
    })
}

/// Breaks the text into lines of at most `width` characters between words. A word that is longer
/// stays whole on a line of its own: a number or a code broken in two is no longer one.
pub fn wrap(text: &str, width: usize) -> Vec<String> {
    let mut lines = Vec::new();
    for paragraph in shown(text).lines() {
        let mut line = String::new();
        for word in paragraph.split_whitespace() {
            let joined = length(&line) + 1 + length(word);
            if !line.is_empty() && joined > width {
                lines.push(std::mem::take(&mut line));
            }
            if !line.is_empty() {
                line.push(' ');
            }
            line.push_str(word);
        }
        lines.push(line);
    }
    if lines.is_empty() {
        lines.push(String::new());
    }
    lines
}

/// Wraps the text with `indent` spaces before every line.
pub fn indented(text: &str, width: usize, indent: usize) -> String {
    let space = " ".repeat(indent);
    let lines = wrap(text, width.saturating_sub(indent).max(1));
    lines.iter().map(|line| format!("{space}{line}")).collect::<Vec<_>>().join("\n")
}

/// The text with every line that is longer than `width` broken between words, what follows standing under the
/// first word of its item. Lines that fit stay as they are.
pub fn fitted(text: &str, width: usize) -> String {
    text.split('\n').map(|line| fitted_line(line, width)).collect::<Vec<_>>().join("\n")
}

fn fitted_line(line: &str, width: usize) -> String {
    let words = line.trim_start_matches(' ');
    let before = line.len() - words.len();
    let item = ["- ", "-> ", "* "].iter().find(|item| words.starts_with(**item)).map_or("", |item| item);
    let indent = before + item.len();
    if length(line) <= width || indent * 2 > width {
        return line.to_owned();
    }
    let broken = indented(&words[item.len()..], width, indent);
    format!("{}{item}{}", " ".repeat(before), &broken[indent..])
}

fn length(text: &str) -> usize {
    text.chars().count()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_stay_whole() {
        assert_eq!(wrap("one two three", 7), ["one two", "three"]);
        assert_eq!(wrap("a 0123456789 b", 5), ["a", "0123456789", "b"]);
        assert_eq!(wrap("", 5), [""]);
        assert_eq!(wrap("a\n\nb", 5), ["a", "", "b"]);
    }

    #[test]
    fn long_lines_break_between_words_and_others_stay() {
        let text = "Next:  two  spaces\n  - one two three four\n\n    what is indented goes on there";
        let fits =
            "Next:  two  spaces\n  - one two three\n    four\n\n    what is\n    indented goes\n    on there";
        assert_eq!(fitted(text, 18), fits);
        assert_eq!(fitted(text, 80), text);
        assert_eq!(fitted("          deep in", 12), "          deep in");
    }

    #[test]
    fn a_record_cannot_repaint_the_screen() {
        assert_eq!(shown("a\u{1b}[2Jb\u{202e}c\r"), "a<U+001B>[2Jb<U+202E>c<U+000D>");
    }
}
