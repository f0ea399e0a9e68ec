//! Conditions the patient set, and whether they are met now (I1, I2, I3).

use super::answer::{CautionCode, Findings, Level, RuleId};
use super::case::Case;
use super::facts::{Condition, Consent};
use super::words;

/// The conditions of one consent that binds.
pub fn rules(case: &Case, consent: &Consent, findings: &mut Findings) {
    let name = words::Named(consent).lower();
    for condition in &consent.conditions {
        let what = words::condition(condition);
        if condition.kind == "read-aloud" {
            let text = format!("Read aloud before starting, as {name} says: {what}.");
            findings.caution(CautionCode::ReadAloudCondition, text);
        } else if !is_met(case, condition) {
            let text = format!("The condition of {name} is not met: {what}.");
            if case.rules().curable_conditions.contains(&condition.kind) {
                let cure = format!("Fetch, change or turn so that it is met, and record it: {what}.");
                findings.reason(RuleId::I1, Level::AskFirst, text, cure);
            } else {
                let cure = format!("Another plan: this cannot be met at the chair ({what}).");
                findings.reason(RuleId::I2, Level::No, text, cure);
            }
        }
    }
}

fn is_met(case: &Case, condition: &Condition) -> bool {
    let request = case.request();
    let among = |word: &str| condition.values.iter().any(|value| value == word);
    match condition.kind.as_str() {
        "glove-material" => request.glove_material.is_some_and(|glove| among(glove.word())),
        "not-face-down" => request.position.as_deref().is_some_and(|position| position != "face-down"),
        "practitioner-sex" => case.practitioner.and_then(|p| p.sex).is_some_and(|sex| among(sex.word())),
        kind => case.visit.into_iter().flat_map(|visit| &visit.conditions_met).any(|met| {
            met.kind == kind
                && (condition.values.is_empty() || met.value.as_deref().is_some_and(among))
                && case.now.allows(met.from, met.sequence_no)
                && !case.now.over(met.until)
        }),
    }
}
