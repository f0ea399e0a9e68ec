//! The words of the trade's closed lists, as the pages say them in each language.

use super::call::Call;
use super::catalogue::Lang;
use crate::record::vocab::{Region, Side, Technique};

/// The part of a key that a word of the record makes: keys have no dashes within their last part.
pub fn part(word: &str) -> String {
    word.replace('-', "")
}

/// A technique.
pub fn technique(lang: Lang, technique: Technique) -> String {
    lang.text(&format!("room-technique-{}", part(technique.word())), &[])
}

/// A region.
pub fn region(lang: Lang, region: Region) -> String {
    lang.text(&format!("room-region-{}", part(region.word())), &[])
}

/// A side.
pub fn side(lang: Lang, side: Side) -> String {
    lang.text(&format!("room-side-{}", part(side.word())), &[])
}

/// Several, joined as the language joins them.
pub fn list<T: Copy>(lang: Lang, items: &[T], word: impl Fn(Lang, T) -> String) -> String {
    let all: Vec<String> = items.iter().map(|item| word(lang, *item)).collect();
    joined(lang, &all)
}

/// `a, b and c`.
pub fn joined(lang: Lang, all: &[String]) -> String {
    match all {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => {
            lang.text("room-joined", &[("first", first.join(", ").as_str()), ("last", last.as_str())])
        }
    }
}

/// Whether a verdict is yes, no or neither, as a sign and a word: `("✓", "Yes")`.
pub fn verdict(call: &Call<'_>, verdict: crate::record::coverage::Verdict) -> (&'static str, String) {
    use crate::record::coverage::Verdict::{AskFirst, No, Yes};
    match verdict {
        Yes => ("yes", call.t("room-yes")),
        AskFirst => ("ask", call.t("room-ask-first")),
        No => ("no", call.t("room-no")),
    }
}
