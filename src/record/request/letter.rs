//! Letters about a request, as data: every content the rule asks for stands in its own part, and what the
//! practice has not given is named as not filled in, never left blank.

use crate::record::kinds::common::Day;
use crate::record::moment::plain_date;
use crate::record::vocab::words;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

words! {
    /// Which letter.
    LetterKind {
        /// An authorization goes back as defective.
        Return = "return",
        /// More time is taken for access or an accounting.
        Extension = "extension",
        /// Access is refused.
        Denial = "denial",
        /// A part of it is refused, and the rest given.
        DenialInPart = "denial-in-part",
        /// More time is taken for a request for amendment.
        AmendmentExtension = "amendment-extension",
        /// A request for amendment is refused, in whole or in part.
        AmendmentDenial = "amendment-denial",
    }
}

impl LetterKind {
    /// Its heading.
    pub fn title(self) -> &'static str {
        match self {
            LetterKind::Return => "Your authorization is sent back to be completed",
            LetterKind::Extension => "We need more time to answer your request",
            LetterKind::Denial => "Your request for records is refused",
            LetterKind::DenialInPart => "A part of your request for records is refused",
            LetterKind::AmendmentExtension => {
                "We need more time to decide on your request to amend the record"
            }
            LetterKind::AmendmentDenial => "Your request to amend the record",
        }
    }

    /// The rule that says what it must hold.
    pub fn rule(self) -> &'static str {
        match self {
            LetterKind::Return => "45 CFR 164.508(b)(2), (c)",
            LetterKind::Extension => "45 CFR 164.524(b)(2)(ii), 164.528(c)(1)(ii)",
            LetterKind::Denial | LetterKind::DenialInPart => "45 CFR 164.524(d)",
            LetterKind::AmendmentExtension => "45 CFR 164.526(b)(2)(ii)",
            LetterKind::AmendmentDenial => "45 CFR 164.526(d)(1)",
        }
    }
}

/// Who writes. What is missing here is named in the letter.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Sender {
    /// Name of the practice.
    pub practice: String,
    /// Its address.
    pub address: String,
    /// Name or title of the person who takes complaints.
    pub complaint_contact: Option<String>,
    /// That person's telephone.
    pub complaint_telephone: Option<String>,
    /// The authority that takes complaints, with its address.
    pub complaint_authority: Option<String>,
    /// Who takes a wish for a review, and how.
    pub review_contact: Option<String>,
    /// Who signs: name and role.
    pub signed_by: String,
}

/// Whom and what a letter is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct About {
    /// To whom.
    pub to: String,
    /// Their address.
    pub address: Option<String>,
    /// Date of the letter.
    pub dated: Day,
    /// Number of the request.
    pub request: u64,
    /// Day on which it was received.
    pub received_on: Day,
}

/// A letter.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Letter {
    /// Which letter.
    pub kind: LetterKind,
    /// The rule that says what it must hold.
    pub rule: &'static str,
    /// Its heading.
    pub title: &'static str,
    /// Name and address of the practice.
    pub from: Vec<String>,
    /// To whom, with the address.
    pub to: Vec<String>,
    /// Date of the letter.
    pub dated: Day,
    /// Number of the request.
    pub request: u64,
    /// Day on which the request was received.
    pub received_on: Day,
    /// What it says, part by part.
    pub parts: Vec<LetterPart>,
    /// What the practice has not given. A letter with anything here is not ready to be sent.
    pub not_filled_in: Vec<String>,
    /// Who signs.
    pub signed_by: String,
}

/// A part of a letter.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LetterPart {
    /// Its name; names never change.
    pub id: &'static str,
    /// Its heading.
    pub heading: &'static str,
    /// What asks for it.
    pub rule: &'static str,
    /// What it says.
    pub lines: Vec<String>,
}

/// Words before what the practice has not given.
pub const NOT_FILLED_IN: &str = "Not filled in";

/// Builds a letter part by part.
pub struct Writing {
    letter: Letter,
}

impl Writing {
    /// A letter with its head.
    pub fn new(kind: LetterKind, sender: &Sender, about: &About) -> Writing {
        let mut letter = Letter {
            kind,
            rule: kind.rule(),
            title: kind.title(),
            from: vec![sender.practice.clone(), sender.address.clone()],
            to: vec![about.to.clone()],
            dated: about.dated,
            request: about.request,
            received_on: about.received_on,
            parts: Vec::new(),
            not_filled_in: Vec::new(),
            signed_by: sender.signed_by.clone(),
        };
        letter.to.extend(about.address.clone());
        let mut writing = Writing { letter };
        let first = format!(
            "We received your request on {} (our number {}).",
            plain_date(about.received_on.0),
            about.request
        );
        writing.part("reference", "Your request", "", vec![first]);
        writing
    }

    /// Adds a part. No lines: it is named as not filled in.
    pub fn part(&mut self, id: &'static str, heading: &'static str, rule: &'static str, lines: Vec<String>) {
        let mut lines: Vec<String> = lines.into_iter().filter(|line| !line.trim().is_empty()).collect();
        if lines.is_empty() {
            lines.push(self.lacks(&heading.to_lowercase()));
        }
        self.letter.parts.push(LetterPart { id, heading, rule, lines });
    }

    /// What was given, or the words that it was not.
    pub fn given(&mut self, text: Option<&str>, what: &str) -> String {
        match text.map(str::trim).filter(|text| !text.is_empty()) {
            Some(text) => text.to_string(),
            None => self.lacks(what),
        }
    }

    fn lacks(&mut self, what: &str) -> String {
        if !self.letter.not_filled_in.iter().any(|known| known == what) {
            self.letter.not_filled_in.push(what.to_string());
        }
        format!("[{NOT_FILLED_IN}: {what}]")
    }

    /// The letter.
    pub fn done(self) -> Letter {
        self.letter
    }
}

impl Letter {
    /// True where nothing is left to fill in.
    pub fn is_ready(&self) -> bool {
        self.not_filled_in.is_empty()
    }

    /// The letter as plain text.
    pub fn text(&self) -> String {
        let mut lines = self.from.clone();
        lines.push(String::new());
        lines.extend(self.to.iter().cloned());
        lines.push(String::new());
        lines.push(plain_date(self.dated.0));
        lines.push(String::new());
        lines.push(self.title.to_string());
        for part in &self.parts {
            lines.push(String::new());
            lines.push(part.heading.to_string());
            lines.extend(part.lines.iter().map(|line| format!("  {line}")));
        }
        lines.push(String::new());
        lines.push(self.signed_by.clone());
        if !self.is_ready() {
            lines.push(String::new());
            lines.push(format!("NOT READY TO BE SENT. {NOT_FILLED_IN}: {}.", self.not_filled_in.join("; ")));
        }
        lines.join("\n")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The paragraphs that say what each letter holds: 45 CFR 164.508(b)(2) and (c); 164.524(b)(2)(ii) and
    /// 164.528(c)(1)(ii); 164.524(d); 164.526(b)(2)(ii); 164.526(d)(1).
    #[test]
    fn a_letter_names_its_rule_and_says_at_once_what_it_is() {
        for (kind, rules, says) in [
            (LetterKind::Return, &["164.508(b)(2)", "(c)"][..], "sent back"),
            (LetterKind::Extension, &["164.524(b)(2)(ii)", "164.528(c)(1)(ii)"], "more time"),
            (LetterKind::Denial, &["164.524(d)"], "refused"),
            (LetterKind::DenialInPart, &["164.524(d)"], "A part"),
            (LetterKind::AmendmentExtension, &["164.526(b)(2)(ii)"], "more time"),
            (LetterKind::AmendmentDenial, &["164.526(d)(1)"], "amend"),
        ] {
            assert_eq!(kind.rule(), format!("45 CFR {}", rules.join(", ")), "{kind}");
            assert!(kind.title().contains(says), "{kind}: {}", kind.title());
        }
        let titles: std::collections::BTreeSet<&str> =
            LetterKind::ALL.iter().map(|kind| kind.title()).collect();
        assert_eq!(titles.len(), LetterKind::ALL.len());
    }
}
