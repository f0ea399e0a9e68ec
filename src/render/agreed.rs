//! A consent in full, in the order a reader asks: what, where, who, under which conditions, what
//! was explained, who gave it, how long.

use super::rows::{Row, given_row, maybe, word};
use super::words::{self, NOT_RECORDED, capital, spaced};
use crate::record::kinds::consent::{
    AllowedKind, ChaperoneOffer, Consent, ConsentStatus, Explained, Interpreter, RestOfEarlier, SegmentLimit,
};

/// The rows of a consent.
pub fn rows(consent: &Consent) -> Vec<Row> {
    let mut rows = Vec::new();
    let status = match consent.status {
        ConsentStatus::Signed => "GIVEN",
        ConsentStatus::Declined => "DECLINED",
    };
    let kind = capital(&spaced(consent.kind.word()));
    rows.push(Row::new("Consent to", format!("{kind}: {status} ({})", spaced(consent.form.word()))));
    maybe(&mut rows, "Declined, because", consent.declined_because.as_ref());
    given_row(&mut rows, "Text used", &consent.wording);
    scope(&mut rows, consent);
    explained(&mut rows, consent.explained.as_ref());
    maybe(&mut rows, "Own words", consent.patient_words.as_ref());
    given_by(&mut rows, consent);
    time(&mut rows, consent);
    rows.extend(consent.copy_given.map(|given| Row::new("Copy given", yes(given))));
    maybe(&mut rows, "Remark on capacity", consent.capacity_remark.as_ref());
    rows.extend(consent.visit.map(|seq| Row::new("In the visit", format!("no. {seq}"))));
    rows
}

fn yes(flag: bool) -> &'static str {
    if flag { "yes" } else { "no" }
}

fn scope(rows: &mut Vec<Row>, consent: &Consent) {
    maybe(rows, "About", consent.matter.as_ref());
    let mut put = |label: &str, text: String| {
        if !text.is_empty() {
            rows.push(Row::new(label, text));
        }
    };
    put("What", words::list(&consent.techniques, words::technique));
    put("Where", words::list(&consent.regions, words::region));
    put("Not where", words::list(&consent.excluded_regions, words::region));
    put("Which side", consent.side.map_or("", words::side).to_string());
    consent.segment_limits.iter().for_each(|limit| put("Only between", limit_words(limit)));
    let allowed = &consent.practitioners_allowed;
    put(
        "By whom",
        match allowed.kind {
            AllowedKind::Any => "anybody licensed here".to_string(),
            AllowedKind::Named => format!("only {}", allowed.values.join(", ")),
            AllowedKind::Role => {
                let roles: Vec<String> = allowed.values.iter().map(|role| spaced(role)).collect();
                format!("only in the role of {}", roles.join(", "))
            }
        },
    );
    for condition in &consent.conditions {
        let mut parts = vec![spaced(&condition.kind)];
        parts.extend((!condition.values.is_empty()).then(|| condition.values.join(" or ")));
        parts.extend(condition.words.as_ref().map(|words| format!("\"{words}\"")));
        put("Condition", parts.join(": "));
    }
    put("Stop signal", consent.stop_signal.clone().unwrap_or_default());
    put("Chaperone", consent.chaperone.as_ref().map(chaperone).unwrap_or_default());
}

fn limit_words(limit: &SegmentLimit) -> String {
    let top = limit.highest_segment.map_or("the top".to_string(), words::segment);
    let bottom = limit.lowest_segment.map_or("the bottom".to_string(), words::segment);
    match &limit.techniques {
        Some(techniques) => format!("{top} and {bottom}, for {}", words::list(techniques, words::technique)),
        None => format!("{top} and {bottom}"),
    }
}

fn chaperone(offer: &ChaperoneOffer) -> String {
    let mut parts = vec![if offer.offered { "offered" } else { "not offered" }.to_string()];
    parts.extend(offer.answer.map(|answer| answer.word().to_string()));
    parts.extend(offer.name.clone());
    parts.join(", ")
}

fn explained(rows: &mut Vec<Row>, explained: Option<&Explained>) {
    let Some(explained) = explained else {
        rows.push(Row::new("Explained", NOT_RECORDED));
        return;
    };
    rows.push(Row::new("Explained", format!("by {}, {}", explained.by, explained.at.plain())));
    let mut sub = |label: &str, text: String| {
        if !text.is_empty() {
            rows.push(Row { depth: 1, ..Row::new(label, text) });
        }
    };
    sub("What will be done", explained.procedures.clone().unwrap_or_else(|| NOT_RECORDED.to_string()));
    sub("What else could be", explained.alternatives.clone().unwrap_or_else(|| NOT_RECORDED.to_string()));
    let risks: Vec<String> = explained.risks.iter().map(|risk| spaced(risk)).collect();
    sub("Risks named", words::or_not_recorded(&risks.join(", ")));
    sub("Risks for this patient", explained.risks_this_patient.join("; "));
    let answered = match explained.answered {
        Some(true) => " (answered)",
        Some(false) => " (NOT answered)",
        None => "",
    };
    let questions = explained.questions.as_deref().unwrap_or(NOT_RECORDED);
    sub("Questions", format!("{questions}{answered}"));
}

fn given_by(rows: &mut Vec<Row>, consent: &Consent) {
    rows.push(Row::new("Given by", words::giver(&consent.given_by)));
    maybe(rows, "Heard by", consent.heard_by.as_ref());
    if let Some(witness) = &consent.witness {
        let mut parts = vec![witness.name.clone()];
        parts.extend(witness.code.as_ref().map(|code| format!("staff {code}")));
        parts.extend(witness.relation.clone());
        parts.extend(witness.at.map(|at| at.plain()));
        rows.push(Row::new("Witness", parts.join(", ")));
    }
    rows.extend(consent.interpreter.as_ref().map(|by| Row::new("Interpreter", interpreter(by))));
    rows.extend(consent.paper.map(|seq| Row::new("Signed paper", format!("attachment no. {seq}"))));
    maybe(rows, "Digest of the signature", consent.signature_image.as_ref());
}

fn interpreter(by: &Interpreter) -> String {
    let mut parts = vec![by.name_or_number.clone(), format!("language {}", by.language)];
    parts.extend(
        by.independent.map(|free| if free { "independent" } else { "family, friend or staff" }.to_string()),
    );
    parts.extend(by.by_telephone.map(|far| if far { "by telephone" } else { "in person" }.to_string()));
    parts.join(", ")
}

fn time(rows: &mut Vec<Row>, consent: &Consent) {
    let until = consent.valid_until.map_or("no last day stated".to_string(), words::day);
    rows.push(Row::new("Holds", format!("from {} to {until}", words::day(consent.valid_from))));
    maybe(rows, "Ends with", consent.ends_on_event.as_ref());
    if !consent.narrower_than.is_empty() {
        rows.push(Row::new("Narrower than", words::numbers(&consent.narrower_than)));
    }
    if consent.rest_of_earlier != RestOfEarlier::NotApplicable {
        rows.push(Row::new("The rest of those", word(consent.rest_of_earlier.word())));
    }
}
