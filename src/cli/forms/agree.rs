//! What the patient says before and during care: yes, no, not any more, wait, stop.

use super::super::answer::AnswerKind::{ManyOf, Moment, OneOf, Segments};
use super::super::form::{Form, Question};
use super::super::place;
use super::{Asks, LIST, NUMBER, NUMBERS, ask, asks, because, line};
use crate::record::kinds::consent::{ConsentKind, GiverRole, RestOfEarlier};
use crate::record::kinds::withdrawal::{AskedAnswer, EmergencyState, How, PauseKind, YesNo};
use crate::record::vocab::{Region, Side, Technique};
use serde_json::Value;

pub use super::consent::consent;

pub(super) fn every() -> Vec<Asks> {
    vec![
        asks("consent", "consent", consent(), &["/narrower_than", "/visit"]),
        asks("rest", "rest-of-earlier", rest(), &[]),
        asks("withdraw", "withdrawal", withdraw(), &["/visit"]),
        asks("pause", "pause", pause(), &["/visit"]),
        asks("refusal", "standing-refusal", refusal(), &["/visit"]),
        asks("asked", "asked", asked(), &["/visit"]),
        asks("own-answer", "own-answer", own_answer(), &["/visit"]),
        asks("condition", "condition-met", condition(), &["/visit"]),
        asks("emergency", "emergency", emergency(), &["/visit"]),
    ]
}

/// Techniques, or all of them.
const ANY_TECHNIQUES: super::AnswerKind = ManyOf { choices: Technique::WORDS, all: true };
/// Regions, or everywhere.
const ANY_REGIONS: super::AnswerKind = ManyOf { choices: Region::WORDS, all: true };

fn said_by() -> [Question; 3] {
    [
        ask("said-by", "Who said it?", "/said_by/role", OneOf(GiverRole::WORDS))
            .or("self")
            .help("The patient, or a decision-maker on file."),
        line("decision-maker", "Short name of the decision-maker?", "/said_by/person_id")
            .when_is("/said_by/role", "decision-maker")
            .help("As in the chart: dm-1."),
        line("said-by-name", "Their name?", "/said_by/name")
            .flag_only()
            .help("Name of the decision-maker who spoke."),
    ]
}

/// A consent is taken back. It works from the moment it was said, however late it is written.
/// What it covers is asked first: the rest can be added while the patient rests.
pub fn withdraw() -> Form {
    let mut questions = vec![
        ask("techniques", "Which techniques are taken back?", "/techniques", ANY_TECHNIQUES)
            .optional()
            .or("all")
            .help("all: nothing more is to be done."),
        ask("regions", "Where?", "/regions", ANY_REGIONS)
            .optional()
            .or("all")
            .help("all: everywhere. Neck work: cervical."),
        ask("side", "Which side, if only one?", "/side", OneOf(Side::WORDS))
            .optional()
            .help("Left out: every side."),
        ask("how", "In which way was it said?", "/how", OneOf(How::WORDS))
            .or("words")
            .help("A raised hand counts as much as words."),
        line("patient-words", "The patient's own words?", "/patient_words")
            .optional()
            .help("As said, not as understood."),
        because(
            "no-words-because",
            "Why are there no words?",
            "/patient_words/not_done_because",
            "/patient_words",
        ),
    ];
    questions.extend(said_by());
    questions.extend([
        ask("consent-kinds", "Which kinds of consent?", "/consent_kinds", {
            ManyOf { choices: ConsentKind::WORDS, all: false }
        })
        .optional()
        .help("Left out: every kind of care. Pictures or an observer are named here."),
        ask("consents", "Numbers of the consents meant, where the patient named them?", "/consents", NUMBERS)
            .flag_only()
            .help("As printed beside the consents."),
        ask(
            "completes",
            "Number of the withdrawal, sealed at once, that the rest is added to?",
            "/completes",
            NUMBER,
        )
        .flag_only()
        .help("As printed when it was sealed; what it covers is not asked again."),
    ]);
    questions.extend(stopped());
    Form::new(questions)
}

/// The rest of a withdrawal, asked when it is sealed already.
pub fn withdraw_rest() -> Form {
    Form::new(stopped())
}

/// The patient's later answer about the rest of wider consents.
pub fn rest() -> Form {
    let mut questions = vec![
        ask("consent", "Number of the narrower consent?", "/consent", NUMBER)
            .help("As printed when it was kept."),
        ask(
            "answer",
            "What of the rest: kept or withdrawn?",
            "/rest_of_earlier",
            OneOf(RestOfEarlier::WORDS),
        )
        .help("The patient's own answer. There is no default."),
        line("patient-words", "As said?", "/words").optional().help("The patient's own words."),
    ];
    questions.extend(said_by());
    Form::new(questions)
}

/// What was under way when it was said, and how the patient was afterwards.
fn stopped() -> [Question; 8] {
    [
        line("under-way", "What was under way?", "/under_way")
            .optional()
            .help("What the hands were doing when it was said."),
        line("stopped", "What was stopped?", "/stopped/what")
            .optional()
            .when_has("/under_way")
            .help("All of it, or which part."),
        ask("stopped-at", "When was it stopped?", "/stopped/at", Moment)
            .when_has("/stopped/what")
            .help("The moment itself; it is compared with the moment it was said."),
        line("on-leaving", "How was the patient on leaving? Signs and numbers", "/on_leaving/words")
            .optional()
            .help("For example: light-headed, settled; 148/86."),
        ask("settled", "When had it settled?", "/on_leaving/settled_at", Moment)
            .optional()
            .when_has("/on_leaving/words")
            .help("When signs were gone, as far as they went."),
        ask("left", "When did the patient leave?", "/on_leaving/left_at", Moment)
            .optional()
            .when_has("/on_leaving/words")
            .help("The moment itself."),
        line("left-with", "With whom?", "/on_leaving/with")
            .optional()
            .when_has("/on_leaving/words")
            .help("Alone, or with whom."),
        line("next-step", "Which next step was offered?", "/offered_next_step")
            .optional()
            .help("Rest, a call tomorrow, a letter to the doctor."),
    ]
}

/// A pause or stop within a visit, or going on after the patient's yes.
pub fn pause() -> Form {
    const KIND: &str = "/kind";
    Form::new([
        ask("kind", "Pause, stop, or going on again?", KIND, OneOf(PauseKind::WORDS))
            .or("pause")
            .help("A pause needs the patient's yes before anything goes on."),
        ask("of", "Number of the pause that ends?", "/of", NUMBER)
            .when_is(KIND, "resumed")
            .help("As printed when the pause was kept."),
        ask("how", "How was it expressed?", "/how", OneOf(How::WORDS))
            .optional()
            .help("Left out where it was the practitioner who paused."),
        line("why", "Why?", "/reason").optional().help("For example: needs a minute; the patient said yes."),
        because("no-reason-because", "Why is no reason known?", "/reason/not_done_because", "/reason")
            .or("not asked for"),
        ask(
            "yes-at",
            "When did the patient say yes to going on, if already known?",
            "/resumed_yes_at",
            Moment,
        )
        .optional()
        .when(|answers| place::get(answers, KIND).and_then(Value::as_str).is_some_and(|word| word != "stop"))
        .help("After a pause nothing goes on without the patient's yes."),
        line("done", "What was done?", "/action").optional().help("For example: sat up, water, gloves off."),
    ])
}

/// A lasting no. Only a new consent that names it lifts it.
pub fn refusal() -> Form {
    let mut questions = vec![
        ask("techniques", "Which techniques are refused?", "/techniques", ANY_TECHNIQUES)
            .help("all, or some."),
        ask("regions", "Where?", "/regions", ANY_REGIONS).help("all: everywhere."),
        ask("side", "Which side, if only one?", "/side", OneOf(Side::WORDS))
            .optional()
            .help("Left out: every side."),
        line("patient-words", "As said?", "/words").optional().help("The patient's own words."),
    ];
    questions.extend(said_by());
    Form::new(questions)
}

/// Asked in the visit, and the answer: one short line. When it was asked stands in the head of
/// the entry, where the command puts the present moment unless told another. The answer is
/// never proposed: a yes that nobody said must not be one key away.
pub fn asked() -> Form {
    const ANSWER: &str = "/answer";
    Form::new([
        ask("technique", "Which technique was asked about?", "/technique", OneOf(Technique::WORDS))
            .help("One technique to a line; none brings another."),
        ask("region", "Which region?", "/region", OneOf(Region::WORDS))
            .help("As it was named to the patient."),
        ask("side", "Which side?", "/side", OneOf(Side::WORDS)).help("The patient's own left and right."),
        ask("answer", "What was the answer?", ANSWER, OneOf(AskedAnswer::WORDS))
            .help("The patient's own, today. There is no default."),
        line("limit", "Which limit?", "/limit_words").when_is(ANSWER, "yes-with-limit").help("As said."),
        line("asked-by", "Code of who asked?", "/asked_by").help("The one who will do it."),
        ask("segments", "Segments named when asking?", "/segments", Segments { all: false })
            .flag_only()
            .help("Where one was named, like C5-C6."),
        line("heard-by", "Code of who else heard it?", "/heard_by")
            .flag_only()
            .help("Staff code of somebody in the room."),
        ask("answered-by", "Who answered?", "/answered_by/role", OneOf(GiverRole::WORDS))
            .flag_only()
            .help("Left out: the patient."),
        line("decision-maker", "Short name of the decision-maker?", "/answered_by/person_id")
            .flag_only()
            .help("As in the chart: dm-1."),
        line("patient-words", "As said?", "/words").flag_only().help("The patient's own words."),
    ])
}

/// A minor's own yes or no. It has no default either.
pub fn own_answer() -> Form {
    Form::new([
        ask("answer", "The young patient's own answer?", "/answer", OneOf(YesNo::WORDS))
            .help("Asked of the patient, beside what the parent or guardian agreed to."),
        line("about", "What was asked?", "/about").optional().help("In the words used."),
        line("patient-words", "As said?", "/words").optional().help("The patient's own words."),
    ])
}

/// A condition of a consent is met, for a time.
pub fn condition() -> Form {
    Form::new([
        line("kind", "Which condition is met?", "/kind").help(
            "The word of the consent: chaperone-present, guardian-in-building, glove-material, not-face-down, \
             practitioner-sex, read-aloud.",
        ),
        line("value", "Which of its values?", "/value").optional().help("For example: nitrile."),
        line("who", "Who: the chaperone, the guardian?", "/who").optional().help("Name of the person who is there."),
        ask("from", "From when?", "/from", Moment).or("now").help("From the moment it was so, not from when it is written."),
        ask("ends", "Number of the earlier entry whose end this states?", "/ends", NUMBER).flag_only().help("Give --ended with it."),
        ask("ended", "Until when?", "/until", Moment)
            .optional()
            .help("Left out: it still is so. Write it with another entry when it ends."),
    ])
}

/// An emergency is declared, or ended. It blocks nothing.
pub fn emergency() -> Form {
    Form::new([
        ask("state", "Declared, or ended?", "/state", OneOf(EmergencyState::WORDS))
            .or("declared")
            .help("Declared first; ended when it is over."),
        ask("of", "Number of the declaration that ends?", "/of", NUMBER)
            .when_is("/state", "ended")
            .help("As printed when the emergency was declared."),
        line("what", "What happened, and what was done?", "/words")
            .help("A few words are enough now; the times are kept, and more can be added."),
        ask("called", "Who was called, and when?", "/called", LIST)
            .optional()
            .help("For example: ambulance 11:21, son 11:25."),
    ])
}
