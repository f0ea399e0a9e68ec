//! What a consent says, in plain sentences for whoever gives it: on the screen, and kept with the signature.

use crate::desk::asks::plain;
use crate::desk::catalogue::Lang;
use crate::desk::terms::{self, part};
use crate::record::kinds::consent::{
    AllowedKind, ChaperoneAnswer, ChaperoneOffer, Condition, Consent, ConsentKind, Explained, SegmentLimit,
};
use crate::record::moment::plain_date;

/// A person's name by staff code.
pub type Names<'a> = &'a dyn Fn(&str) -> String;

/// A label and what stands behind it.
pub type PlainLine = (String, String);

/// Risks that have a word of their own.
const RISKS: [&str; 12] = [
    "soreness",
    "stiffness",
    "headache",
    "fatigue",
    "rib-or-strain",
    "disc-or-nerve",
    "neck-artery-event",
    "stroke",
    "jaw-ache",
    "gag",
    "bite-reflex",
    "mouth-abrasion",
];
/// Conditions that have a word of their own.
const CONDITIONS: [&str; 6] = [
    "chaperone-present",
    "guardian-in-building",
    "glove-material",
    "not-face-down",
    "practitioner-sex",
    "read-aloud",
];

/// The sentences, in the order in which they matter to the one who signs.
pub fn lines(lang: Lang, consent: &Consent, names: Names<'_>) -> Vec<PlainLine> {
    let values = &consent.practitioners_allowed.values;
    let by = match consent.practitioners_allowed.kind {
        AllowedKind::Any => lang.text("consent-by-any", &[]),
        AllowedKind::Named => terms::joined(lang, &values.iter().map(|code| names(code)).collect::<Vec<_>>()),
        AllowedKind::Role => terms::joined(lang, &values.iter().map(|role| plain(role)).collect::<Vec<_>>()),
    };
    let each = |all: &[Condition]| all.iter().map(|one| condition(lang, one)).collect::<Vec<_>>().join("; ");
    let limits: Vec<String> = consent.segment_limits.iter().map(|one| limit(lang, one)).collect();
    let mut out = vec![
        ("consent-line-kind", kind(lang, consent.kind)),
        ("consent-line-what", terms::list(lang, &consent.techniques, terms::technique)),
        ("consent-line-matter", consent.matter.clone().unwrap_or_default()),
        ("consent-line-where", terms::list(lang, &consent.regions, terms::region)),
        ("consent-line-not-where", terms::list(lang, &consent.excluded_regions, terms::region)),
        ("consent-line-side", consent.side.map(|side| terms::side(lang, side)).unwrap_or_default()),
        ("consent-line-limits", limits.join("; ")),
        ("consent-line-by", by),
        ("consent-line-conditions", each(&consent.conditions)),
        ("consent-line-stop", consent.stop_signal.clone().unwrap_or_default()),
        (
            "consent-line-chaperone",
            consent.chaperone.as_ref().map(|o| chaperone(lang, o)).unwrap_or_default(),
        ),
    ];
    if let Some(explained) = &consent.explained {
        out.extend(explanation(lang, explained, names));
    }
    let interpreter =
        consent.interpreter.as_ref().map(|by| format!("{} ({})", by.name_or_number, by.language));
    out.extend([
        ("consent-line-until", until(lang, consent)),
        ("consent-line-own-words", consent.patient_words.clone().unwrap_or_default()),
        ("consent-line-interpreter", interpreter.unwrap_or_default()),
        ("consent-line-witness", consent.witness.as_ref().map(|w| w.name.clone()).unwrap_or_default()),
    ]);
    out.retain(|(_, words)| !words.trim().is_empty());
    out.into_iter().map(|(key, words)| (lang.text(key, &[]), words)).collect()
}

fn explanation(lang: Lang, explained: &Explained, names: Names<'_>) -> Vec<(&'static str, String)> {
    let (by, at) = (names(&explained.by), explained.at.plain());
    let risks: Vec<String> = explained
        .risks
        .iter()
        .map(|risk| word_of(lang, &format!("consent-risk-{}", part(risk)), risk, &RISKS))
        .chain(explained.risks_this_patient.clone())
        .collect();
    vec![
        ("consent-line-explained", lang.text("consent-explained", &[("who", &by), ("when", &at)])),
        ("consent-line-procedures", explained.procedures.clone().unwrap_or_default()),
        ("consent-line-alternatives", explained.alternatives.clone().unwrap_or_default()),
        ("consent-line-risks", terms::joined(lang, &risks)),
        ("consent-line-questions", explained.questions.clone().unwrap_or_default()),
    ]
}

fn until(lang: Lang, consent: &Consent) -> String {
    match (consent.valid_until.map(|day| plain_date(day.0)), consent.ends_on_event.clone()) {
        (Some(day), Some(event)) => format!("{day}; {event}"),
        (None, None) => lang.text("consent-no-end", &[]),
        (one, other) => one.or(other).unwrap_or_default(),
    }
}

/// What a consent is for.
pub fn kind(lang: Lang, kind: ConsentKind) -> String {
    lang.text(&format!("consent-kind-{}", part(kind.word())), &[])
}

fn limit(lang: Lang, limit: &SegmentLimit) -> String {
    let end = |end: Option<crate::record::vocab::Segment>, key: &str| {
        end.map_or_else(|| lang.text(key, &[]), |segment| segment.word().to_string())
    };
    let (top, bottom) =
        (end(limit.highest_segment, "consent-top"), end(limit.lowest_segment, "consent-bottom"));
    let of = limit.techniques.as_ref().map(|t| terms::list(lang, t, terms::technique)).unwrap_or_default();
    format!("{of} {top} – {bottom}").trim().to_string()
}

fn chaperone(lang: Lang, offer: &ChaperoneOffer) -> String {
    let key = match (offer.offered, offer.answer) {
        (false, _) => "consent-chaperone-unoffered",
        (true, Some(ChaperoneAnswer::Accepted)) => "consent-chaperone-accepted",
        (true, Some(ChaperoneAnswer::Declined)) => "consent-chaperone-declined",
        (true, None) => "consent-chaperone-offered",
    };
    let name = offer.name.as_ref().map(|name| format!(": {name}")).unwrap_or_default();
    format!("{}{name}", lang.text(key, &[]))
}

/// A word of the record in the page's language; one that has none of its own stays as it was written.
fn word_of(lang: Lang, key: &str, word: &str, known: &[&str]) -> String {
    match known.contains(&word) {
        true => lang.text(key, &[]),
        false => plain(word),
    }
}

fn condition(lang: Lang, condition: &Condition) -> String {
    let mut parts = vec![word_of(
        lang,
        &format!("consent-condition-{}", part(&condition.kind)),
        &condition.kind,
        &CONDITIONS,
    )];
    if !condition.values.is_empty() {
        parts.push(condition.values.join(", "));
    }
    parts.extend(condition.words.as_ref().map(|words| format!("“{words}”")));
    parts.join(": ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn what_was_set_up_is_said_and_nothing_else() {
        let consent: Consent = serde_json::from_value(json!({
            "kind": "inside-mouth", "status": "signed", "form": "written-on-screen", "wording": "F1",
            "techniques": ["intraoral", "soft-tissue"], "regions": ["mouth", "jaw-muscles"], "side": "right",
            "practitioners_allowed": { "kind": "named", "values": ["IV"] },
            "conditions": [{ "kind": "glove-material", "values": ["nitrile"] }, { "kind": "read-aloud", "words": "Stop when I raise my hand." }],
            "explained": { "by": "IV", "at": "2022-10-17T09:48:00-04:00", "risks": ["gag", "a hoarse voice"] },
            "given_by": { "role": "self" }, "valid_from": "2022-10-17", "valid_until": "2023-04-16",
            "rest_of_earlier": "not-applicable"
        }))
        .unwrap();
        for lang in Lang::ALL {
            let all = lines(lang, &consent, &|_| "Ingrith Valsamo".to_string());
            let text: String = all.iter().map(|(label, words)| format!("{label} {words}\n")).collect();
            for words in
                ["nitrile", "Stop when I raise my hand.", "a hoarse voice", "Ingrith Valsamo", "16 Apr 2023"]
            {
                assert!(text.contains(words), "{words}\n{text}");
            }
            // No key of the catalogue and no word of the record's own lists is left standing.
            assert!(
                !text.contains("consent-")
                    && !text.contains("jaw-muscles")
                    && !text.contains("glove-material"),
                "{text}"
            );
        }
    }
}
