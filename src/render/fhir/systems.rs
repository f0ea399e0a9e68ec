//! Which code systems and identifiers a document uses. Ours are URNs that name no practice; no text of
//! a licensed code list is in them. The others are HL7's own (terminology.hl7.org) and UCUM.

use super::types::{CodeableConcept, Coding, Extension, Identifier};
use crate::record::vocab::{Region, Segment, Side, Technique};
use crate::render::words;

/// The words of the record's own vocabularies, one code system each.
pub(super) const OWN: &str = "urn:inkfast:code-system:";
/// Own additions to resources.
const EXTENSION: &str = "urn:inkfast:structure-definition:";
/// Own identifiers.
const IDENTIFIER: &str = "urn:inkfast:identifier:";
/// Units: the Unified Code for Units of Measure.
pub(super) const UCUM: &str = "http://unitsofmeasure.org";
/// HL7's own code systems.
pub(super) const HL7: &str = "http://terminology.hl7.org/CodeSystem/";
/// Language tags (BCP 47).
pub(super) const LANGUAGE: &str = "urn:ietf:bcp:47";
/// Which measure came before which (FHIR core extension observation-sequelTo).
const SEQUEL: &str = "http://hl7.org/fhir/StructureDefinition/observation-sequelTo";

/// A word of one of the record's vocabularies.
pub(super) fn own(vocabulary: &str, word: &str) -> Coding {
    Coding::new(&format!("{OWN}{vocabulary}"), word, words::spaced(word))
}

/// A word of one of the record's vocabularies, as a concept.
pub(super) fn concept(vocabulary: &str, word: &str) -> CodeableConcept {
    own(vocabulary, word).into()
}

/// A code of one of HL7's own code systems.
pub(super) fn hl7(system: &str, code: &str) -> Coding {
    Coding::bare(&format!("{HL7}{system}"), code)
}

/// An identifier of ours.
pub(super) fn identifier(what: &str, value: impl Into<String>) -> Identifier {
    Identifier { system: format!("{IDENTIFIER}{what}"), value: value.into() }
}

/// A technique.
pub(super) fn technique(technique: Technique) -> CodeableConcept {
    let text = words::technique(technique);
    CodeableConcept { text: Some(text), ..concept("technique", technique.word()) }
}

/// The name of an own addition.
pub(super) fn extension(name: &str) -> String {
    format!("{EXTENSION}{name}")
}

/// That a measure follows on another.
pub(super) fn sequel_to(earlier: super::types::Reference) -> Extension {
    Extension { url: SEQUEL.to_string(), value_reference: Some(earlier), ..Extension::default() }
}

/// A place on the body: codes for segment and region, an addition for the side, and all of it in words.
#[derive(Debug, Clone, Default)]
pub(super) struct Place<'a> {
    /// Region.
    pub region: Option<Region>,
    /// Structure or single level, as typed.
    pub structure: Option<&'a str>,
    /// Segment.
    pub segment: Option<Segment>,
    /// Side.
    pub side: Option<Side>,
}

impl Place<'_> {
    /// As a concept; none where nothing is said.
    pub(super) fn concept(&self) -> Option<CodeableConcept> {
        let mut text: Vec<String> = Vec::new();
        text.extend(self.region.map(words::region));
        text.extend(self.structure.and_then(super::types::said));
        text.extend(self.segment.map(words::segment));
        text.extend(self.side.map(|side| words::side(side).to_string()));
        let mut coding = Vec::new();
        coding
            .extend(self.segment.map(|s| Coding::new(&format!("{OWN}segment"), s.word(), words::segment(s))));
        coding.extend(self.region.map(|r| Coding::new(&format!("{OWN}region"), r.word(), words::region(r))));
        let side = self.side.map(|side| Extension {
            url: extension("side"),
            value_coding: Some(own("side", side.word())),
            ..Extension::default()
        });
        (!text.is_empty()).then(|| CodeableConcept {
            extension: side.into_iter().collect(),
            coding,
            text: Some(text.join(", ")),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_has_codes_a_side_and_words() {
        let place = Place {
            region: Some(Region::NeckJoints),
            segment: Some(Segment::C2C3),
            side: Some(Side::Left),
            structure: None,
        };
        let concept = place.concept().unwrap();
        assert_eq!(concept.text.as_deref(), Some("joints of the neck, C2 to C3 (C2-C3), left side"));
        assert_eq!(concept.coding[0].code, "C2-C3");
        assert_eq!(concept.coding[1].system, "urn:inkfast:code-system:region");
        assert_eq!(concept.extension[0].value_coding.as_ref().unwrap().code, "left");
        assert_eq!(Place::default().concept(), None);
    }
}
