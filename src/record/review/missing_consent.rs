//! What a consent lacks, said the first time a note rests on it: who explained it and when, what was
//! explained, and who took part.

use super::{About, Review, ReviewId as R, said};
use crate::record::kinds::consent::{Consent, ConsentForm};
use crate::record::rulebook::RisksToName;
use std::collections::BTreeMap;

pub(super) fn look(review: &mut Review<'_>) {
    let sheet = review.sheet;
    let written = &review.rules.coverage.written_consent_techniques;
    // A consent that an earlier note rested on was looked through then.
    let before = |seq: u64| sheet.earlier.iter().any(|visit| visit.note.agreed.consents.contains(&seq));
    let mut used = BTreeMap::new();
    for procedure in review.care().filter(|p| written.contains(&p.technique)) {
        for consent in review.covering(procedure).filter(|c| !before(c.seq)) {
            let procedures = used.entry(consent.seq).or_insert((consent, Vec::new()));
            procedures.1.push(procedure);
        }
    }
    for (seq, (consent, procedures)) in used {
        let about = || About::entry(seq);
        let said_then = &consent.data;
        explained(review, seq, said_then);
        let interpreted = !sheet.patient.interpreter_needed || said_then.interpreter.is_some();
        review.want(R::ConsentInterpreter, about(), interpreted);
        let signed = match said_then.form {
            ConsentForm::WrittenSigned | ConsentForm::ScanOfPaper | ConsentForm::WrittenOnScreen => {
                said_then.paper.is_some() || said_then.signature_image.is_some()
            }
            ConsentForm::VerbalRecorded => true,
        };
        review.want(R::ConsentSignature, about(), signed);
        let named = said_then.explained.as_ref().map(|e| &e.risks);
        let mut left: Vec<&str> = Vec::new();
        for rule in &review.rules.note.risks {
            if procedures.iter().any(|p| belongs(rule, p.technique, p.region)) {
                let is_named = |risk: &String| named.is_some_and(|all| all.contains(risk));
                left.extend(rule.risks.iter().filter(|r| !is_named(r)).map(String::as_str));
            }
        }
        left.dedup();
        if !left.is_empty() && said_then.explained.is_some() && review.needs(R::ConsentRisks) {
            review.tell(R::ConsentRisks, about(), format!("not named: {}", left.join(", ")));
        }
    }
}

fn belongs(
    rule: &RisksToName,
    technique: crate::record::vocab::Technique,
    region: crate::record::vocab::Region,
) -> bool {
    let technique = rule.techniques.is_empty() || rule.techniques.contains(&technique);
    technique && (rule.regions.is_empty() || rule.regions.iter().any(|r| region.overlaps(*r)))
}

fn explained(review: &mut Review<'_>, seq: u64, consent: &Consent) {
    let about = || About::entry(seq);
    let Some(explained) = &consent.explained else {
        review.want(R::ConsentExplained, about(), false);
        return;
    };
    review.want(R::ConsentExplained, about(), !explained.by.trim().is_empty());
    review.want(R::ConsentProcedures, about(), said(explained.procedures.as_ref()));
    review.want(R::ConsentAlternatives, about(), said(explained.alternatives.as_ref()));
    review.want(R::ConsentQuestions, about(), said(explained.questions.as_ref()));
}
