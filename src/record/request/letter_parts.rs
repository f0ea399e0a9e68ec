//! What each letter says. Sources: 45 CFR 164.508(b)(2) and (c) for an authorization sent back;
//! 164.524(b)(2)(ii) and (d) for access; 164.526(b)(2)(ii) and (d)(1) for amendments; 164.528(c)(1)(ii) for an
//! accounting.

use super::letter::{About, Letter, LetterKind, Sender, Writing};
use crate::record::calendar::with_weekday;
use crate::record::kinds::amend::RefusalGround;
use crate::record::kinds::common::Day;
use crate::record::kinds::request::Denial;

/// An authorization goes back: who sent what, what is missing, what would mend it.
pub fn returned(sender: &Sender, about: &About, faults: &[(String, String)], remark: &str) -> Letter {
    let mut letter = Writing::new(LetterKind::Return, sender, about);
    letter.part(
        "nothing-sent",
        "What we did",
        "164.508(a)(1)",
        vec![
            "We can't act on the authorization as it stands, so nothing was sent.".to_string(),
            remark.to_string(),
        ],
    );
    let what = faults.iter().enumerate().map(|(n, (what, _))| format!("{}. {what}", n + 1)).collect();
    letter.part("missing", "What is missing or wrong", "164.508(b)(2)", what);
    let mend = faults.iter().enumerate().map(|(n, (_, mend))| format!("{}. {mend}", n + 1)).collect();
    letter.part("mend", "What would mend it", "164.508(c)", mend);
    let contact = contact(&mut letter, sender);
    letter.part(
        "back",
        "Where to send it",
        "",
        vec![format!("To the address above, with our number {}. Questions: {contact}.", about.request)],
    );
    letter.done()
}

/// More time is taken, for access, an accounting, or an amendment.
pub fn extension(
    kind: LetterKind,
    sender: &Sender,
    about: &About,
    reasons: &str,
    new_due: Option<Day>,
) -> Letter {
    let mut letter = Writing::new(kind, sender, about);
    let rule = kind.rule();
    letter.part("reasons", "Why we need more time", rule, vec![reasons.to_string()]);
    let by = new_due.map(|day| with_weekday(day.0));
    let by = letter.given(by.as_deref(), "the day by which it will be answered");
    letter.part(
        "new-date",
        "By when we will answer",
        rule,
        vec![format!("We will answer by {by}."), "We can take more time only once.".to_string()],
    );
    let contact = contact(&mut letter, sender);
    letter.part("questions", "Questions", "", vec![format!("{contact}.")]);
    letter.done()
}

/// Access is refused, in whole or in part.
pub fn denial(sender: &Sender, about: &About, denial: &Denial) -> Letter {
    let kind = if denial.part.is_some() { LetterKind::DenialInPart } else { LetterKind::Denial };
    let mut letter = Writing::new(kind, sender, about);
    let what = match &denial.part {
        Some(part) => vec![
            format!("Refused: {part}."),
            "Everything else that you asked for is given to you.".to_string(),
        ],
        None => vec!["Refused: all that you asked for.".to_string()],
    };
    letter.part("what", "What is refused", "164.524(d)(1)", what);
    letter.part(
        "basis",
        "Why",
        "164.524(d)(2)(i)",
        vec![denial.ground.plain().to_string(), denial.reason.clone()],
    );
    let review = if denial.ground.is_reviewable() {
        let how = letter.given(sender.review_contact.as_deref(), "where to ask for a review");
        vec![
            "You may have this refusal looked at again by another licensed person who had no part in it. We \
             will do as that person decides, and tell you."
                .to_string(),
            format!("To ask for that: {how}."),
        ]
    } else {
        vec!["This ground can't be reviewed; you may complain, as said below.".to_string()]
    };
    letter.part("review", "Having it looked at again", "164.524(d)(2)(ii), (d)(4)", review);
    complaint(&mut letter, sender, "164.524(d)(2)(iii)");
    if let Some(place) = &denial.held_at {
        letter.part(
            "held-at",
            "Where to ask instead",
            "164.524(d)(3)",
            vec![format!("It is kept at: {place}.")],
        );
    }
    letter.done()
}

/// A point of a request for amendment that was refused.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RefusedPoint {
    /// Number of the point.
    pub no: u64,
    /// What was asked.
    pub asked: String,
    /// The ground.
    pub ground: Option<RefusalGround>,
    /// The reason, in words.
    pub reason: String,
}

/// A request for amendment is refused, in whole or in part.
pub fn amendment_denial(sender: &Sender, about: &About, points: &[RefusedPoint]) -> Letter {
    let mut letter = Writing::new(LetterKind::AmendmentDenial, sender, about);
    let mut lines = Vec::new();
    for point in points {
        let ground = letter.given(point.ground.map(amendment_ground), "the ground");
        lines.push(format!("Point {}: \"{}\" is refused. {ground} {}", point.no, point.asked, point.reason));
    }
    letter.part("basis", "What is refused, and why", "164.526(d)(1)(i)", lines);
    letter.part(
        "disagree",
        "You may disagree",
        "164.526(d)(1)(ii)",
        vec![
            "You may send us a written statement that says with what you disagree, and why. Send it to the \
             address above, with our number; it is kept with the record and goes along with it."
                .to_string(),
        ],
    );
    letter.part(
        "travel",
        "If you send no statement",
        "164.526(d)(1)(iii)",
        vec![
            "You may ask us to send your request and this letter along whenever we disclose that part of the \
             record."
                .to_string(),
        ],
    );
    complaint(&mut letter, sender, "164.526(d)(1)(iv)");
    letter.done()
}

/// Where to complain: to the practice, with name or title and telephone, and to the authority.
fn complaint(letter: &mut Writing, sender: &Sender, rule: &'static str) {
    let here = contact(letter, sender);
    let there = letter.given(sender.complaint_authority.as_deref(), "the authority that takes complaints");
    letter.part(
        "complaint",
        "How to complain",
        rule,
        vec![
            format!("To us: {here}."),
            format!("To the authority: {there}."),
            "Nobody will treat you worse because you complain.".to_string(),
        ],
    );
}

fn contact(letter: &mut Writing, sender: &Sender) -> String {
    let name = letter.given(sender.complaint_contact.as_deref(), "name or title of the contact");
    let telephone = letter.given(sender.complaint_telephone.as_deref(), "telephone of the contact");
    format!("{name}, telephone {telephone}")
}

fn amendment_ground(ground: RefusalGround) -> &'static str {
    match ground {
        RefusalGround::NotMadeHere => "It was not made here.",
        RefusalGround::NotInRecordSet => "It is not part of the record that decisions about you rest on.",
        RefusalGround::NotOpenToAccess => "It is a part that you could not be given to see.",
        RefusalGround::AccurateAndComplete => "What stands there is accurate and complete.",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::kinds::request::DenialGround;
    use crate::record::moment::parse_date;

    fn day(text: &str) -> Day {
        Day(parse_date(text).unwrap())
    }

    fn sender() -> Sender {
        let text = |words: &str| Some(words.to_string());
        Sender {
            practice: "The Ropewalk Rooms".to_string(),
            address: "14 Hemp Lane, Pellmere".to_string(),
            complaint_contact: text("the keeper of the records"),
            complaint_telephone: text("555 0100"),
            complaint_authority: text("the Secretary"),
            review_contact: text("in writing to the address above"),
            signed_by: "Ingrith Valsamo, chiropractor".to_string(),
        }
    }

    fn about() -> About {
        About {
            to: "Bettony Craske".to_string(),
            address: None,
            dated: day("2025-02-20"),
            request: 31,
            received_on: day("2025-01-31"),
        }
    }

    fn refusal(ground: DenialGround, part: Option<&str>) -> Denial {
        Denial {
            ground,
            reason: "As told by telephone.".to_string(),
            part: part.map(str::to_string),
            judged_by: Some("IV".to_string()),
            held_at: None,
        }
    }

    fn ids(letter: &Letter) -> Vec<&str> {
        letter.parts.iter().map(|part| part.id).collect()
    }

    // 45 CFR 164.524(d)(2)(i) to (iii): basis, review, complaint with name or title and telephone.
    #[test]
    fn a_refusal_of_access_says_all_it_must() {
        let letter = denial(&sender(), &about(), &refusal(DenialGround::HarmsAnother, Some("entry 12")));
        assert_eq!(ids(&letter), ["reference", "what", "basis", "review", "complaint"]);
        assert!(letter.is_ready(), "{:?}", letter.not_filled_in);
        assert_eq!(letter.kind, LetterKind::DenialInPart);
        let text = letter.text();
        for words in [
            "another licensed person",
            "in writing to the address above",
            "telephone 555 0100",
            "the Secretary",
        ] {
            assert!(text.contains(words), "{words}\n{text}");
        }
        let fixed = denial(&sender(), &about(), &refusal(DenialGround::ForProceeding, None));
        assert!(fixed.text().contains("can't be reviewed") && fixed.kind == LetterKind::Denial);
        let mut elsewhere = refusal(DenialGround::NotKeptHere, None);
        elsewhere.held_at = Some("the imaging office, Pellmere".to_string());
        assert!(ids(&denial(&sender(), &about(), &elsewhere)).contains(&"held-at"));
    }

    #[test]
    fn what_the_practice_has_not_given_is_named() {
        let bare = Sender { practice: "P".into(), address: "A".into(), ..Sender::default() };
        let letter = denial(&bare, &about(), &refusal(DenialGround::EndangersSafety, None));
        assert_eq!(
            letter.not_filled_in,
            [
                "where to ask for a review",
                "name or title of the contact",
                "telephone of the contact",
                "the authority that takes complaints"
            ]
        );
        let text = letter.text();
        assert!(text.contains("[Not filled in: telephone of the contact]"), "{text}");
        assert!(text.contains("NOT READY TO BE SENT"), "{text}");
    }

    // 164.526(d)(1)(i) to (iv).
    #[test]
    fn a_refusal_to_amend_says_all_it_must() {
        let point = RefusedPoint {
            no: 2,
            asked: "it was the right side".to_string(),
            ground: Some(RefusalGround::AccurateAndComplete),
            reason: "The drawing shows it.".to_string(),
        };
        let letter = amendment_denial(&sender(), &about(), std::slice::from_ref(&point));
        assert_eq!(ids(&letter), ["reference", "basis", "disagree", "travel", "complaint"]);
        assert!(letter.is_ready() && letter.text().contains("accurate and complete"));
        let none = RefusedPoint { ground: None, ..point };
        assert_eq!(amendment_denial(&sender(), &about(), &[none]).not_filled_in, ["the ground"]);
    }

    // 164.524(b)(2)(ii)(B): the reasons and the day.
    #[test]
    fn more_time_needs_reasons_and_a_day() {
        let kind = LetterKind::Extension;
        let letter =
            extension(kind, &sender(), &about(), "Films are at the imaging office.", Some(day("2025-04-01")));
        assert!(letter.is_ready() && letter.text().contains("We will answer by Tue 01 Apr 2025."));
        let bare = extension(kind, &sender(), &about(), " ", None);
        assert_eq!(bare.not_filled_in, ["why we need more time", "the day by which it will be answered"]);
    }

    #[test]
    fn an_authorization_sent_back_says_what_would_mend_it() {
        let faults = [("It names no purpose.".to_string(), "Name each purpose.".to_string())];
        let letter = returned(&sender(), &about(), &faults, "");
        assert_eq!(ids(&letter), ["reference", "nothing-sent", "missing", "mend", "back"]);
        let text = letter.text();
        assert!(text.contains("1. It names no purpose.") && text.contains("1. Name each purpose."), "{text}");
        assert!(!text.contains("Not filled in"), "{text}");
    }
}
