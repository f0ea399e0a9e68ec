//! Data types of FHIR R4 (4.0.1, "Data types"), as far as they are used here.

use super::element::elements;
use crate::record::kinds::Day;
use crate::record::moment::Moment;
use serde_json::Number;

elements! {
    /// A code of a code system.
    Coding { system: String, code: String, display: Option<String> }
    /// Something beyond the standard, with a name of its own.
    Extension { url: String, value_code: Option<String>, value_coding: Option<Coding>,
        value_reference: Option<Reference> }
    /// A concept: codes, and words.
    CodeableConcept { extension: Vec<Extension>, coding: Vec<Coding>, text: Option<String> }
    /// A number or name that identifies something.
    Identifier { system: String, value: String }
    /// A pointer to a resource, or to something known by an identifier or by name only.
    Reference { reference: Option<String>, identifier: Option<Identifier>, display: Option<String> }
    /// From when to when.
    Period { start: Option<String>, end: Option<String> }
    /// A number with its unit.
    Quantity { value: Option<Number>, unit: Option<String>, system: Option<String>, code: Option<String> }
    /// A remark.
    Annotation { text: String }
    /// A name, as one text: it is not for a program to say which part is the family's.
    HumanName { r#use: Option<String>, text: Option<String> }
    /// Telephone or e-mail.
    ContactPoint { system: Option<String>, value: Option<String> }
    /// A postal address, as one text.
    Address { text: Option<String> }
    /// A file.
    Attachment { content_type: Option<String>, language: Option<String>, url: Option<String>,
        size: Option<u64>, title: Option<String>, creation: Option<String> }
    /// Words for a reader, as XHTML.
    Narrative { status: String, div: String }
    /// About the resource itself.
    Meta { tag: Vec<Coding> }
}

impl Coding {
    /// A code with the words for it.
    pub(crate) fn new(system: &str, code: &str, display: impl Into<String>) -> Coding {
        Coding { system: system.to_string(), code: as_code(code), display: said(&display.into()) }
    }

    /// A code that needs no words.
    pub(crate) fn bare(system: &str, code: &str) -> Coding {
        Coding { system: system.to_string(), code: as_code(code), display: None }
    }
}

impl CodeableConcept {
    /// Words alone.
    pub(crate) fn words(text: &str) -> CodeableConcept {
        CodeableConcept { text: said(text), ..CodeableConcept::default() }
    }
}

impl From<Coding> for CodeableConcept {
    fn from(coding: Coding) -> CodeableConcept {
        CodeableConcept { coding: vec![coding], ..CodeableConcept::default() }
    }
}

impl Reference {
    /// To a resource of this document.
    pub(crate) fn to(urn: &str) -> Reference {
        Reference { reference: Some(urn.to_string()), ..Reference::default() }
    }

    /// To somebody or something known by name only.
    pub(crate) fn named(name: &str) -> Reference {
        Reference { display: said(name), ..Reference::default() }
    }
}

/// Text of a record as a FHIR string; none for a blank. Characters that FHIR and XML don't know are
/// spelled out.
pub(crate) fn said(text: &str) -> Option<String> {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        let code = u32::from(c);
        let unknown = c.is_control() && !matches!(c, '\n' | '\r' | '\t') || (code & 0xFFFE) == 0xFFFE;
        if unknown {
            out.push_str(&format!("[U+{code:04X}]"));
        } else {
            out.push(c);
        }
    }
    (!out.trim().is_empty()).then_some(out)
}

/// Text as a FHIR code: no space at either end, single ones between.
pub(crate) fn as_code(text: &str) -> String {
    said(text).unwrap_or_default().split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A moment as a FHIR dateTime or instant. FHIR knows offsets up to 14 hours only.
pub(crate) fn date_time(moment: Moment) -> String {
    let known = moment.offset_seconds().abs() <= 14 * 3600;
    let utc = Moment::from_unix(moment.unix(), 0).unwrap_or(moment);
    if known { moment.to_string() } else { utc.to_string() }
}

/// A day as a FHIR date.
pub(crate) fn date(day: Day) -> String {
    day.to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_is_kept_and_what_fhir_does_not_know_is_spelled_out() {
        assert_eq!(said("left\nside").as_deref(), Some("left\nside"));
        assert_eq!(said("a\u{0}b").as_deref(), Some("a[U+0000]b"));
        assert_eq!(said(" \n"), None);
        assert_eq!(as_code("  two  words "), "two words");
    }

    #[test]
    fn an_offset_that_fhir_does_not_know_is_turned_to_utc() {
        // R4, datatypes, dateTime: offsets up to 14:00.
        let far = Moment::parse("2025-03-11T09:40:00+15:00").unwrap();
        assert_eq!(date_time(far), "2025-03-10T18:40:00+00:00");
        let here = Moment::parse("2025-03-11T09:40:00-04:00").unwrap();
        assert_eq!(date_time(here), "2025-03-11T09:40:00-04:00");
    }
}
