//! Opening a chart in an emergency: beyond the reason of the day, at once, with words and no question asked; and
//! somebody else looks at it afterwards (an emergency access procedure, 45 CFR 164.312(a)(2)(ii)). What a role does
//! not open, no emergency opens.

use super::chart::{ChartFace, note_access};
use super::open::{Draft, Practice};
use super::staff::is_custodian;
use crate::ledger::write::Receipt;
use crate::record::kinds::Data;
use crate::record::kinds::register::{CheckKind, CheckMade, KeyRole, OpeningAnswer, SeenAs};
use crate::record::kinds::release::{Access, AccessWhy};
use crate::record::moment::Moment;
use crate::trouble::{Kind, Outcome, Trouble};
use schemars::JsonSchema;
use serde::Serialize;

/// What such an opening is answered by in a check of the register.
const FINDING: &str = "emergency-opening";

/// A chart that was opened in an emergency.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct EmergencyOpening {
    /// Number of the entry outside the charts that stands for it.
    pub entry: u64,
    /// When.
    pub at: Moment,
    /// Code of who opened it.
    pub by: String,
    /// Number of the chart, and why it was opened.
    pub words: String,
    /// How somebody else judged it; null while nobody has.
    pub seen: Option<SeenAs>,
    /// Number of the entry that says so.
    pub review: Option<u64>,
}

/// Writes down that a chart was opened in an emergency: outside the charts first, so that it is on the list
/// whatever comes after, then in the chart.
///
/// # Errors
/// When no words are given, or an entry can't be written: then nothing may be shown.
pub fn note(practice: &mut Practice, face: &ChartFace, opening: Access) -> Outcome<Receipt> {
    let said = opening.words.clone().unwrap_or_default();
    if said.trim().is_empty() {
        return Err(Trouble::input(
            "An opening in an emergency says in words what the emergency is.",
            "Give --words with it.",
        ));
    }
    let listed = Access {
        why: AccessWhy::Emergency,
        words: Some(format!("{}: {said}", face.chart_no)),
        entries: Vec::new(),
        request: None,
        ..opening.clone()
    };
    let now = practice.now();
    practice.append(Draft::new(None, Data::Access(Box::new(listed)), now))?;
    note_access(practice, &face.tag, opening)
}

/// Every opening in an emergency, the earliest first.
///
/// # Errors
/// When the register can't be read.
pub fn openings(practice: &Practice) -> Outcome<Vec<EmergencyOpening>> {
    let mut found: Vec<EmergencyOpening> = Vec::new();
    for entry in practice.register_of(&["access", "check-made"])? {
        match entry.data() {
            Some(Data::Access(access)) if access.why == AccessWhy::Emergency => {
                found.push(EmergencyOpening {
                    entry: entry.leaf.seq,
                    at: entry.leaf.written,
                    by: entry.leaf.author.clone(),
                    words: access.words.unwrap_or_default(),
                    seen: None,
                    review: None,
                })
            }
            Some(Data::CheckMade(check)) if check.what == CheckKind::OpeningsReviewed => {
                for answer in check.answers.iter().filter(|answer| answer.finding == FINDING) {
                    let of = found.iter_mut().find(|one| answer.entries.contains(&one.entry));
                    // Nobody reviews their own opening, whatever an entry says.
                    if let Some(one) = of.filter(|one| one.by != entry.leaf.author) {
                        (one.seen, one.review) = (Some(answer.answer), Some(entry.leaf.seq));
                    }
                }
            }
            _ => {}
        }
    }
    Ok(found)
}

/// The openings that wait for whoever is here to review them.
///
/// # Errors
/// When the register can't be read.
pub fn waiting(practice: &Practice) -> Outcome<Vec<EmergencyOpening>> {
    let mut waits = openings(practice)?;
    waits.retain(|one| one.review.is_none() && may_review(practice, one));
    Ok(waits)
}

/// The keeper of the records reviews; what the keeper opened, somebody else who treats.
fn may_review(practice: &Practice, one: &EmergencyOpening) -> bool {
    let keeps =
        |code: &str| practice.keys().newest(code).is_some_and(|key| key.roles.contains(&KeyRole::Custodian));
    let treats = practice.session.holds(KeyRole::Clinical);
    one.by != practice.session.me.code && (is_custodian(practice) || keeps(&one.by) && treats)
}

/// Records how an opening in an emergency is judged, by the keeper of the records; where it was the keeper who
/// opened, by somebody else who treats.
///
/// # Errors
/// When there is no such opening, it was reviewed already, or the person here may not review it.
pub fn review(practice: &mut Practice, entry: u64, seen: SeenAs, words: &str) -> Outcome<Receipt> {
    let found = openings(practice)?.into_iter().find(|one| one.entry == entry).ok_or_else(|| {
        Trouble::new(
            Kind::NotFound,
            format!("Entry {entry} is no opening in an emergency."),
            "Nothing was recorded.",
            "Look at `inkfast openings emergency`.",
        )
    })?;
    let refused =
        |what: String, next: &str| Err(Trouble::new(Kind::Refused, what, "Nothing was recorded.", next));
    if let Some(review) = found.review {
        return refused(
            format!("This opening was reviewed already: entry {review}."),
            "What came up since belongs in the office file.",
        );
    }
    if found.by == practice.session.me.code {
        return refused(
            "Nobody reviews their own opening.".to_string(),
            "Ask the keeper of the records, or somebody else who treats.",
        );
    }
    if !may_review(practice, &found) {
        return refused(
            "Openings in an emergency are reviewed by the keeper of the records.".to_string(),
            "Ask the keeper of the records to do this.",
        );
    }
    let chart = found.words.split_once(": ").map(|(chart, _)| chart.to_string());
    let answer = OpeningAnswer {
        finding: FINDING.to_string(),
        by: found.by.clone(),
        charts: chart.into_iter().collect(),
        entries: vec![entry],
        answer: seen,
        words: words.to_string(),
    };
    let fine = seen == SeenAs::Fine;
    let check = CheckMade {
        what: CheckKind::OpeningsReviewed,
        entries: None,
        slips_compared: None,
        found: format!("opened in an emergency by {} on {}: {words}", found.by, found.at.plain()),
        sound: fine,
        printed: None,
        follow_up: (!fine).then(|| words.to_string()),
        month: None,
        openings: Some(1),
        answers: vec![answer],
    };
    let now = practice.now();
    practice.append(Draft::new(None, check.into(), now))
}
