//! The answer to the coverage question: three words, two lines, every reason.

use super::words;
use crate::record::vocab::{Side, words};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

words! {
    /// The three answers, from best to worst; the worst of several wins.
    Verdict { Yes = "yes", AskFirst = "ask-first", No = "no" }
}

words! {
    /// How bad a reason is.
    Level { AskFirst = "ask-first", No = "no" }
}

words! {
    /// The two lines of an answer, never merged: what was agreed, and what was checked.
    Line { Agreed = "agreed", Checked = "checked" }
}

words! {
    /// Id of a coverage rule.
    RuleId {
        A1 = "A1", A2 = "A2", A3 = "A3", B1 = "B1", B2 = "B2", B3 = "B3",
        C1 = "C1", C2 = "C2", C3 = "C3", C4 = "C4", C5 = "C5",
        D0 = "D0", D1 = "D1", D2 = "D2", D3 = "D3", D4 = "D4", D5 = "D5", D6 = "D6", D7 = "D7",
        D8 = "D8", D9 = "D9", D10 = "D10", D11 = "D11",
        E1 = "E1", E2 = "E2", E3 = "E3", E4 = "E4", F1 = "F1", F2 = "F2", F3 = "F3", F4 = "F4",
        G1 = "G1", G2 = "G2", G3 = "G3",
        H1 = "H1", H2 = "H2", H3 = "H3", H4 = "H4", H5 = "H5", H6 = "H6", H7 = "H7",
        I1 = "I1", I2 = "I2", I3 = "I3", J1 = "J1", J2 = "J2", J3 = "J3", K1 = "K1",
    }
}

words! {
    /// A caution. It never changes an answer.
    CautionCode {
        ConsentWrittenLate = "consent-written-late", ConsentCorrected = "consent-corrected",
        AnsweredOnAConsentSinceCorrected = "answered-on-a-consent-since-corrected",
        AskedWithLimit = "asked-with-limit", ReadAloudCondition = "read-aloud-condition",
        OpenRedFlag = "open-red-flag", FlagAnswered = "flag-answered",
        RelativeBarWithReason = "relative-bar-with-reason", AllergyOnFile = "allergy-on-file",
        LegalHold = "legal-hold", EmergencyDeclared = "emergency-declared",
    }
}

impl RuleId {
    /// The line the rule belongs to.
    pub fn line(self) -> Line {
        use RuleId::*;
        match self {
            A1 | A2 | A3 | B1 | B2 | H1 | H2 | H3 | H4 | H5 | H6 | H7 | J1 | J2 | J3 | K1 => Line::Checked,
            _ => Line::Agreed,
        }
    }
}

impl From<Level> for Verdict {
    fn from(level: Level) -> Self {
        match level {
            Level::AskFirst => Verdict::AskFirst,
            Level::No => Verdict::No,
        }
    }
}

/// One failing reason.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Reason {
    /// The rule that fails.
    pub rule: RuleId,
    /// The line it belongs to.
    pub line: Line,
    /// How bad it is.
    pub level: Level,
    /// In plain words.
    pub text: String,
}

/// Something to know that does not change the answer.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Caution {
    /// What kind.
    pub code: CautionCode,
    /// In plain words.
    pub text: String,
}

/// The answer to the coverage question. It serializes to the machine output.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Answer {
    /// The worse of the two lines.
    pub answer: Verdict,
    /// What the patient agreed to: rules B3, C, D, E, F, G, I.
    pub agreed: Verdict,
    /// What was checked: rules A, B1, B2, H, J, K.
    pub checked: Verdict,
    /// Every failing reason, in the order of the rules.
    pub reasons: Vec<Reason>,
    /// Cautions.
    pub cautions: Vec<Caution>,
    /// The consents relied on.
    pub governing_consents: Vec<String>,
    /// Where no consent covers: the one that comes nearest.
    pub nearest_consent: Option<String>,
    /// What settles each reason: one line per reason, in the same order, beginning with the rule.
    pub cures: Vec<String>,
}

/// A reason together with what settles it.
#[derive(Debug, Clone)]
pub(super) struct Found {
    pub rule: RuleId,
    pub level: Level,
    pub text: String,
    pub cure: String,
}

/// Reasons and cautions as they are gathered. Each thing is said once.
#[derive(Debug, Clone, Default)]
pub(super) struct Findings {
    pub found: Vec<Found>,
    pub cautions: Vec<Caution>,
}

impl Findings {
    pub fn reason(&mut self, rule: RuleId, level: Level, text: String, cure: impl Into<String>) {
        if !self.found.iter().any(|f| f.rule == rule && f.text == text) {
            self.found.push(Found { rule, level, text, cure: cure.into() });
        }
    }

    pub fn caution(&mut self, code: CautionCode, text: String) {
        let caution = Caution { code, text };
        if !self.cautions.contains(&caution) {
            self.cautions.push(caution);
        }
    }

    /// Adds what was found elsewhere. Where both found the same and only the cure differs, it is that
    /// of the one side and of the other: then the cure is for both sides.
    pub fn join(&mut self, other: Findings) {
        let (left, both) = (words::side(Side::Left), words::side(Side::Both));
        for f in other.found {
            match self.found.iter_mut().find(|own| own.rule == f.rule && own.text == f.text) {
                Some(own) if own.cure != f.cure => own.cure = own.cure.replace(left, both),
                Some(_) => {}
                None => self.found.push(f),
            }
        }
        for c in other.cautions {
            self.caution(c.code, c.text);
        }
    }

    /// The worst of one line.
    pub fn verdict(&self, line: Line) -> Verdict {
        let of_line = self.found.iter().filter(|f| f.rule.line() == line);
        of_line.map(|f| Verdict::from(f.level)).max().unwrap_or(Verdict::Yes)
    }

    /// The answer, with its reasons in the order of the rules.
    pub fn answer(mut self, governing_consents: Vec<String>, nearest_consent: Option<String>) -> Answer {
        let (agreed, checked) = (self.verdict(Line::Agreed), self.verdict(Line::Checked));
        self.found.sort_by_key(|f| f.rule);
        Answer {
            answer: agreed.max(checked),
            agreed,
            checked,
            cures: self.found.iter().map(|f| format!("{}: {}", f.rule, f.cure)).collect(),
            reasons: self
                .found
                .into_iter()
                .map(|f| Reason { rule: f.rule, line: f.rule.line(), level: f.level, text: f.text })
                .collect(),
            cautions: self.cautions,
            governing_consents,
            nearest_consent,
        }
    }
}
