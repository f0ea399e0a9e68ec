//! Every word of the pages, in each language they are shipped in: Fluent files (projectfluent.org), one for each.
//!
//! What comes out of the record itself (reasons of an answer, kinds of entries, findings of a check) is in the
//! language the record is kept in and is marked so on the page.

use fluent_bundle::concurrent::FluentBundle;
use fluent_bundle::{FluentArgs, FluentResource, FluentValue};
use std::sync::OnceLock;
use unic_langid::LanguageIdentifier;

/// A language the pages are shipped in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Lang {
    /// English.
    #[default]
    En,
    /// Spanish.
    Es,
}

/// The files, in the order of [`Lang::ALL`].
const SOURCES: [&str; 2] = [include_str!("words/en.ftl"), include_str!("words/es.ftl")];

impl Lang {
    /// Every language.
    pub const ALL: [Lang; 2] = [Lang::En, Lang::Es];

    /// Its tag (BCP 47).
    pub fn tag(self) -> &'static str {
        match self {
            Lang::En => "en",
            Lang::Es => "es",
        }
    }

    /// Its own name.
    pub fn name(self) -> &'static str {
        match self {
            Lang::En => "English",
            Lang::Es => "Español",
        }
    }

    /// The language with this tag.
    pub fn from_tag(tag: &str) -> Option<Lang> {
        Lang::ALL.into_iter().find(|lang| lang.tag() == tag)
    }

    /// The first language of a browser's list (RFC 9110, Accept-Language) that the pages have. Browsers list the
    /// preferred one first, so weights are not read.
    pub fn accepted(list: &str) -> Lang {
        let tag = |item: &str| item.split([';', '-']).next().unwrap_or_default().trim().to_ascii_lowercase();
        list.split(',').find_map(|item| Lang::from_tag(&tag(item))).unwrap_or_default()
    }

    fn bundle(self) -> &'static FluentBundle<FluentResource> {
        static BUNDLES: OnceLock<Vec<FluentBundle<FluentResource>>> = OnceLock::new();
        let bundles =
            BUNDLES.get_or_init(|| Lang::ALL.into_iter().zip(SOURCES).map(|(l, s)| l.read(s)).collect());
        &bundles[self as usize]
    }

    fn read(self, source: &str) -> FluentBundle<FluentResource> {
        // A file with a mistake in it is found by the tests; what can be read is used.
        let resource = FluentResource::try_new(source.to_string()).unwrap_or_else(|(read, _)| read);
        let tag: Vec<LanguageIdentifier> = self.tag().parse().into_iter().collect();
        let mut bundle = FluentBundle::new_concurrent(tag);
        // Marks around what is put in would stand between words that are searched and copied.
        bundle.set_use_isolating(false);
        bundle.add_resource_overriding(resource);
        bundle
    }

    /// The text with this key, and what is to be put into it. A key that is not there comes back as it is.
    pub fn text(self, key: &str, put_in: &[(&str, &str)]) -> String {
        let bundle = self.bundle();
        let Some(pattern) = bundle.get_message(key).and_then(|message| message.value()) else {
            return key.to_string();
        };
        let mut args = FluentArgs::new();
        for (name, value) in put_in {
            // A number is put in as one, so that the language can choose between one and many.
            let value = match value.parse::<u32>() {
                Ok(number) if number.to_string() == *value => FluentValue::from(number),
                _ => FluentValue::from(value.to_string()),
            };
            args.set(name.to_string(), value);
        }
        bundle.format_pattern(pattern, Some(&args), &mut Vec::new()).into_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;
    use std::path::Path;

    fn keys(source: &str) -> BTreeSet<String> {
        let begins = |line: &&str| line.starts_with(|c: char| c.is_ascii_lowercase()) && line.contains(" =");
        source.lines().filter(begins).filter_map(|line| line.split(" =").next()).map(str::to_string).collect()
    }

    /// What is put into a text, by name.
    fn holes(lang: Lang, key: &str) -> BTreeSet<String> {
        let source = SOURCES[lang as usize];
        let at = source.find(&format!("\n{key} =")).map_or(0, |at| at + 1);
        let rest: Vec<&str> = source[at..].lines().collect();
        let end = rest.iter().skip(1).position(|l| !l.starts_with([' ', '}'])).map_or(rest.len(), |n| n + 1);
        let text = rest[..end].join(" ");
        text.split('$')
            .skip(1)
            .map(|t| t.chars().take_while(|c| c.is_alphanumeric() || *c == '-').collect())
            .collect()
    }

    #[test]
    fn every_language_has_every_text_and_the_same_things_are_put_in() {
        for (lang, source) in Lang::ALL.into_iter().zip(SOURCES) {
            assert!(FluentResource::try_new(source.to_string()).is_ok(), "{}", lang.tag());
            assert_eq!(keys(source), keys(SOURCES[0]), "{}", lang.tag());
            let count = source.lines().filter(|l| l.starts_with(|c: char| c.is_ascii_lowercase())).count();
            assert_eq!(count, keys(source).len(), "a key stands twice in {}", lang.tag());
            for key in keys(source) {
                assert_eq!(holes(lang, &key), holes(Lang::En, &key), "{key} in {}", lang.tag());
                assert_ne!(lang.text(&key, &[]), key, "{key} in {}", lang.tag());
            }
        }
    }

    /// Keys as they stand in the code, in quotes: `t("key")`, `t_with("key", ..)` and titles.
    #[test]
    fn every_text_that_is_asked_for_is_there_and_every_text_is_asked_for() {
        let mut code = String::new();
        let mut folders = vec![Path::new(env!("CARGO_MANIFEST_DIR")).join("src/desk")];
        while let Some(folder) = folders.pop() {
            for entry in std::fs::read_dir(folder).unwrap() {
                let path = entry.unwrap().path();
                match path.is_dir() {
                    true => folders.push(path),
                    false if path.extension().is_some_and(|e| e == "rs") => {
                        code.push_str(&std::fs::read_to_string(path).unwrap());
                    }
                    false => {}
                }
            }
        }
        let known = keys(SOURCES[0]);
        for call in ["t(\"", "t_with(\""] {
            for rest in code.split(&format!(".{call}")).skip(1) {
                let key = rest.split('"').next().unwrap();
                assert!(known.contains(key), "{key} is asked for and is in no catalogue");
            }
        }
        for key in known {
            // Keys made of two parts are named in the code by the part before the last dash and a brace.
            let made = key.rsplit_once('-').is_some_and(|(head, _)| code.contains(&format!("\"{head}-{{")));
            assert!(
                made || code.contains(&format!("\"{key}\"")),
                "{key} is in the catalogue and never asked for"
            );
        }
    }

    #[test]
    fn the_browser_says_which_language() {
        assert_eq!(Lang::accepted("es-MX,es;q=0.9,en;q=0.8"), Lang::Es);
        assert_eq!(Lang::accepted("fr, en-GB;q=0.7"), Lang::En);
        assert_eq!(Lang::accepted(""), Lang::En);
    }
}
