//! What the patient agrees to or declines: the questions of a consent.

use super::super::answer::AnswerKind::{Date, ManyOf, Moment, OneOf, Rows, Segment};
use super::super::clock::Now;
use super::super::form::{Form, Question};
use super::super::place;
use super::super::rows::RowSpec;
use super::{LIST, NUMBER, ask, because, line, may, must, yes_no};
use crate::record::kinds::consent::{
    AllowedKind, ChaperoneAnswer, ConsentForm, ConsentKind, ConsentStatus, GiverRole, RestOfEarlier,
};
use crate::record::moment::parse_date;
use crate::record::vocab::{Region, Side, Technique};
use jiff::Span;
use serde_json::Value;

const KIND: &str = "/kind";

/// Several techniques.
pub(super) const TECHNIQUES: super::AnswerKind = ManyOf { choices: Technique::WORDS, all: false };
/// Several regions.
pub(super) const REGIONS: super::AnswerKind = ManyOf { choices: Region::WORDS, all: false };

fn kind_of(answers: &Value) -> Option<ConsentKind> {
    ConsentKind::from_word(place::get(answers, KIND)?.as_str()?)
}

fn for_care(answers: &Value) -> bool {
    use ConsentKind::{Examination, InsideMouth, SensitiveArea, Treatment};
    matches!(kind_of(answers), Some(Examination | Treatment | InsideMouth | SensitiveArea))
}

fn not_for_care(answers: &Value) -> bool {
    kind_of(answers).is_some() && !for_care(answers)
}

/// A consent, or a declined one. The command finds the live consents it is narrower than
/// (`narrower_than`) and puts their numbers into the answers before it asks.
pub fn consent() -> Form {
    let mut questions = vec![
        ask("kind", "What is the consent for?", KIND, OneOf(ConsentKind::WORDS))
            .help("One kind does not bring another: work inside the mouth needs its own."),
        ask("status", "Signed or declined?", "/status", OneOf(ConsentStatus::WORDS))
            .or("signed")
            .help("What was advised and declined is kept as well."),
        ask("form", "How was it given?", "/form", OneOf(ConsentForm::WORDS))
            .help("On paper, on the screen, a scan of paper, or said and written down by who heard it."),
        line("wording", "Which edition of the wording?", "/wording")
            .optional()
            .help("The code printed on the form, like F1."),
        because("no-wording-because", "Why was no wording used?", "/wording/not_done_because", "/wording"),
    ];
    questions.extend(agreed_to());
    questions.extend(who_may());
    questions.extend(explained());
    questions.extend(given());
    questions.extend(heard());
    questions.extend(how_long());
    questions.extend(around());
    Form::new(questions)
}

fn agreed_to() -> [Question; 7] {
    [
        ask("techniques", "Which techniques?", "/techniques", TECHNIQUES)
            .when(for_care)
            .help("Name every one; none brings another."),
        ask("regions", "Which regions?", "/regions", REGIONS)
            .when(for_care)
            .help("A region brings the parts within it; spine brings the neck."),
        ask("excluded", "Which regions are left out?", "/excluded_regions", REGIONS).optional().when(for_care).help("Parts of the agreed regions that must not be touched."),
        ask("side", "Which side?", "/side", OneOf(Side::WORDS)).when(for_care).help("The side agreed to, in the patient's own left and right."),
        ask("limits", "Limits by segment of the spine?", "/segment_limits", Rows(&LIMIT))
            .optional()
            .when(for_care)
            .help("For example: thrust not above C7-T1."),
        line("matter", "What exactly is agreed to?", "/matter")
            .when(not_for_care)
            .help("Which pictures, which channel for messages, which observer, which release or notice, and its limits."),
        line("patient-words", "The patient's own words and wishes?", "/patient_words")
            .optional()
            .help("As said. Worth more later than any tick."),
    ]
}

const LIMIT: RowSpec = RowSpec {
    what: "limit",
    columns: &[
        may("techniques", "/techniques", TECHNIQUES, "left out: all techniques"),
        may("highest", "/highest_segment", Segment, "nearest the head that is still allowed"),
        may("lowest", "/lowest_segment", Segment, "farthest from the head that is still allowed"),
    ],
};

fn who_may() -> [Question; 3] {
    const ALLOWED: &str = "/practitioners_allowed/kind";
    [
        ask("allowed", "Who may do it?", ALLOWED, OneOf(AllowedKind::WORDS))
            .or_from(|answers, _| {
                let named = place::get(answers, "/practitioners_allowed/values").is_some();
                (!named).then(|| "any".to_owned())
            })
            .help("any: whoever is licensed here. named: only these people. role: only this profession."),
        ask("allowed-who", "Which people or roles?", "/practitioners_allowed/values", LIST)
            .when(|answers| {
                place::get(answers, ALLOWED).and_then(Value::as_str).is_some_and(|word| word != "any")
            })
            .help("Staff codes, or roles like chiropractor."),
        ask("conditions", "Conditions the patient set?", "/conditions", Rows(&CONDITION))
            .optional()
            .help("For example: kind=glove-material values=nitrile."),
    ]
}

const CONDITION: RowSpec = RowSpec {
    what: "condition",
    columns: &[
        must(
            "kind",
            "/kind",
            super::WORDS,
            "chaperone-present, guardian-in-building, glove-material, not-face-down, practitioner-sex, \
             read-aloud, or another word",
        ),
        may("values", "/values", LIST, "what is allowed, like nitrile"),
        may("words", "/words", super::WORDS, "what is read aloud, or the condition as said"),
    ],
};

fn explained() -> [Question; 8] {
    const BY: &str = "/explained/by";
    [
        line("explained-by", "Code of who explained it?", BY).optional().help(
            "Left out where it has not been explained yet; it then does not count for what needs an explanation.",
        ),
        ask("explained-at", "When was it explained?", "/explained/at", Moment)
            .when_has(BY)
            .help("The moment itself: a form may be signed at the desk before anybody explained it."),
        line("procedures", "Procedures, as explained?", "/explained/procedures").optional().when_has(BY).help("In the words used."),
        line("alternatives", "Alternatives, as explained?", "/explained/alternatives")
            .optional()
            .when_has(BY)
            .help("Doing nothing is one of them."),
        ask("risks", "Risks named?", "/explained/risks", LIST).optional().when_has(BY).help(
            "soreness, stiffness, headache, fatigue, rib-or-strain, disc-or-nerve, neck-artery-event, stroke \
             (the last two for neck thrust); jaw-ache, gag, bite-reflex, mouth-abrasion (inside the mouth).",
        ),
        ask("own-risks", "Risks particular to this patient?", "/explained/risks_this_patient", LIST)
            .optional()
            .when_has(BY).help("For example: playing the trombone the same evening may hurt."),
        line("questions", "Questions the patient asked?", "/explained/questions")
            .optional()
            .when_has(BY)
            .help("Write none where none were asked."),
        yes_no("answered", "Were the questions answered?", "/explained/answered").optional().when_has(BY).help("no keeps the consent open to doubt."),
    ]
}

fn given() -> [Question; 6] {
    [
        ask("given-by", "Who gave it?", "/given_by/role", OneOf(GiverRole::WORDS))
            .or("self")
            .help("The patient, or a decision-maker on file."),
        line("giver", "Short name of the decision-maker?", "/given_by/person_id")
            .when_is("/given_by/role", "decision-maker")
            .help("As in the chart: dm-1."),
        line("giver-name", "Name as signed?", "/given_by/name").optional().help("As it stands on the paper."),
        line("heard-by", "Code of who heard it?", "/heard_by")
            .when(|answers| {
                let word = |path| place::get(answers, path).and_then(Value::as_str);
                word("/form") == Some("verbal-recorded") && word("/status") != Some("declined")
            })
            .help("A verbal consent counts only with the one who heard it."),
        line("signature-image", "Digest of the signature's image?", "/signature_image")
            .flag_only()
            .help("64 hex digits; put in by the program that took the signature."),
        ask("paper", "Number of the attachment with the signed paper?", "/paper", NUMBER)
            .optional()
            .when(|answers| place::get(answers, "/form").and_then(Value::as_str) != Some("verbal-recorded"))
            .help("Left out where the paper is not scanned yet."),
    ]
}

fn heard() -> [Question; 8] {
    const WITNESS: &str = "/witness/name";
    const INTERPRETER: &str = "/interpreter/name_or_number";
    [
        line("witness", "Name of a witness?", WITNESS)
            .optional()
            .help("Neither the practitioner nor the one who gave it."),
        line("witness-code", "The witness's staff code, if staff?", "/witness/code")
            .optional()
            .when_has(WITNESS)
            .help("Left out for a witness from outside."),
        line("witness-relation", "What is the witness to the patient?", "/witness/relation")
            .optional()
            .when_has(WITNESS)
            .help("Husband, friend, none."),
        ask("witness-at", "When did the witness sign?", "/witness/at", Moment)
            .optional()
            .when_has(WITNESS)
            .help("Left out: with the consent."),
        line("interpreter", "Interpreter's name, or number at the service?", INTERPRETER)
            .optional()
            .help("Needed where the chart asks for an interpreter."),
        line("interpreter-language", "Which language?", "/interpreter/language")
            .when_has(INTERPRETER)
            .help("The short tag, like uk."),
        yes_no(
            "interpreter-independent",
            "Is the interpreter neither family, friend nor staff?",
            "/interpreter/independent",
        )
        .optional()
        .when_has(INTERPRETER)
        .help("Who interprets for love may leave something out."),
        yes_no("interpreter-telephone", "By telephone?", "/interpreter/by_telephone")
            .optional()
            .when_has(INTERPRETER)
            .help("yes where the interpreter was not in the room."),
    ]
}

fn how_long() -> [Question; 4] {
    [
        ask("from", "First day it holds?", "/valid_from", Date)
            .or("today")
            .help("It counts from when it is written, never from before it was given."),
        ask("last-day", "Last day it holds?", "/valid_until", Date).optional().or_from(last_day).help(
            "Proposed is a year, or half a year inside the mouth; the rules adopted here may end it earlier.",
        ),
        line("ends-on", "Event that ends it?", "/ends_on_event")
            .optional()
            .help("For example: end of episode."),
        ask(
            "rest",
            "What of the wider consents given before?",
            "/rest_of_earlier",
            OneOf(RestOfEarlier::WORDS),
        )
        .or_from(|answers, _| {
            let narrower = place::get(answers, "/narrower_than").and_then(Value::as_array);
            narrower.is_none_or(Vec::is_empty).then(|| "not-applicable".to_owned())
        })
        .help("The patient's own answer: the rest is kept, or withdrawn, or the question was not asked."),
    ]
}

/// The day before the consent is a year old, or half a year for work inside the mouth: the
/// common practice, and a proposal only.
fn last_day(answers: &Value, _: &Now) -> Option<String> {
    if !for_care(answers) {
        return None;
    }
    let first = parse_date(place::get(answers, "/valid_from")?.as_str()?)?;
    let months = if kind_of(answers) == Some(ConsentKind::InsideMouth) { 6 } else { 12 };
    let last = first.checked_add(Span::new().months(months)).ok()?.yesterday().ok()?;
    Some(last.to_string())
}

fn around() -> [Question; 7] {
    const OFFERED: &str = "/chaperone/offered";
    [
        line("stop-signal", "Signal agreed for stopping?", "/stop_signal")
            .optional()
            .when(for_care)
            .help("For example: raised left hand. Needed where the patient cannot speak."),
        yes_no("chaperone-offered", "Was a chaperone offered?", OFFERED)
            .optional()
            .when(for_care)
            .help("For work inside the mouth, chest wall, groin and coccyx."),
        ask("chaperone", "What was the answer?", "/chaperone/answer", OneOf(ChaperoneAnswer::WORDS))
            .when(|answers| place::get(answers, OFFERED) == Some(&Value::Bool(true)))
            .help("The patient's own."),
        line("chaperone-name", "Who was it?", "/chaperone/name")
            .optional()
            .when_is("/chaperone/answer", "accepted")
            .help("Name of the chaperone."),
        yes_no("copy-given", "Was a copy given?", "/copy_given")
            .optional()
            .help("A copy of what was signed."),
        line("capacity-remark", "Remark on capacity, where it was doubted?", "/capacity_remark")
            .optional()
            .help("What was seen, and why the patient could decide all the same."),
        line(
            "declined-because",
            "Why did the patient decline, and what was explained about declining?",
            "/declined_because",
        )
        .optional()
        .when_is("/status", "declined")
        .help("The patient's reason, and what may follow from it, as told."),
    ]
}
