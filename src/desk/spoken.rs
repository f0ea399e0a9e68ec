//! The guided questions in the language of the page. The questions themselves are those of the command line, in
//! English; here stands what each is in another language, found by its English text.

use super::catalogue::Lang;
use maud::{Markup, html};
use std::collections::HashMap;
use std::sync::OnceLock;

/// The Spanish tables: questions, explanations, words of the closed lists, what is accepted; and all of these for the
/// forms that ask for a part of a kind.
const SPANISH: [&str; 5] = [
    include_str!("words/es/asks.toml"),
    include_str!("words/es/helps.toml"),
    include_str!("words/es/words.toml"),
    include_str!("words/es/accepts.toml"),
    include_str!("words/es/parts.toml"),
];

fn spanish() -> &'static HashMap<String, String> {
    static TABLE: OnceLock<HashMap<String, String>> = OnceLock::new();
    // A table that can't be read is found by the tests; what it held is then shown in English.
    TABLE.get_or_init(|| {
        SPANISH
            .iter()
            .flat_map(|text| toml::from_str::<HashMap<String, String>>(text).unwrap_or_default())
            .collect()
    })
}

/// A text of the guided questions in this language; none where it is kept in English only.
pub fn spoken(lang: Lang, english: &str) -> Option<&'static str> {
    match lang {
        Lang::En => None,
        Lang::Es => spanish().get(english).map(String::as_str),
    }
}

/// It on the page, marked as English where that is not the language of the page.
pub fn say(lang: Lang, english: &str) -> Markup {
    match (lang, spoken(lang, english)) {
        (_, Some(text)) => html! { (text) },
        (Lang::En, None) => html! { (english) },
        (_, None) => html! { span lang="en" { (english) } },
    }
}

/// A word of a closed list on the page.
pub fn say_word(lang: Lang, word: &str) -> Markup {
    match spoken(lang, word) {
        Some(text) => html! { (text) },
        None => say(lang, &super::asks::plain(word)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::answer::AnswerKind;
    use crate::cli::forms;
    use std::collections::BTreeSet;

    #[test]
    fn every_question_of_every_form_is_there_in_spanish_and_nothing_else_is() {
        let mut asked: BTreeSet<String> = ["yes", "no"].map(str::to_string).into();
        for question in forms::with_parts().iter().flat_map(|asks| &asks.form.questions) {
            asked.insert(question.ask.to_string());
            asked.insert(question.help.to_string());
            match question.kind {
                AnswerKind::OneOf(choices) | AnswerKind::ManyOf { choices, .. } => {
                    asked.extend(choices.iter().map(|word| (*word).to_string()));
                }
                AnswerKind::Words => {}
                kind => {
                    asked.insert(kind.accepts());
                }
            }
        }
        asked.remove("");
        let known: BTreeSet<String> = spanish().keys().cloned().collect();
        let missing: Vec<_> = asked.difference(&known).collect();
        let never_asked: Vec<_> = known.difference(&asked).collect();
        assert!(
            missing.is_empty() && never_asked.is_empty(),
            "missing {missing:?}, never asked {never_asked:?}"
        );
        assert!(spanish().values().all(|text| !text.trim().is_empty()));
    }

    #[test]
    fn each_table_is_read() {
        for text in SPANISH {
            assert!(toml::from_str::<HashMap<String, String>>(text).is_ok());
        }
    }
}
