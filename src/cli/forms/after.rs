//! Putting right and adding, and what follows a visit: contacts, referrals, reactions, papers.

use super::super::answer::AnswerKind::{Date, Json, Moment, OneOf, Rows, Whole};
use super::super::form::Form;
use super::super::rows::RowSpec;
use super::{Asks, COUNT, NUMBER, NUMBERS, ask, asks, because, line, lines, may, must, yes_no};
use crate::record::kinds::attendance::{Channel, Direction};
use crate::record::kinds::papers::{AttachmentKind, Original};
use crate::record::kinds::release::{AnswerOutcome, Urgency};
use crate::record::kinds::screening::{ItemAnswer, ItemDecision};
use crate::record::kinds::visit::Severity;
use crate::record::vocab::{Region, Side, Technique};
use serde_json::Value;

pub(super) fn every() -> Vec<Asks> {
    vec![
        asks("correct", "correction", correct(), &["/was", "/for_desk"]),
        asks("addendum", "addendum", addendum(), &["/for_desk"]),
        asks("late", "late-entry", late(), &["/visit", "/for_desk"]),
        asks("contact", "contact", contact(), &["/visit"]),
        asks("refer", "referral", refer(), &["/visit"]),
        asks("refer-answer", "referral-answer", refer_answer(), &[]),
        asks("reaction", "reaction", reaction(), &["/visit"]),
        asks("reaction-closed", "reaction-closed", reaction_closed(), &["/visit"]),
        asks(
            "attach",
            "attachment",
            attach(),
            &["/plain_digest", "/sealed_digest", "/size", "/media_type", "/visit"],
        ),
        asks("handout", "handout", handout(), &["/visit"]),
    ]
}

/// Words were wrong. What the field says (`was`) is put in by the command.
pub fn correct() -> Form {
    Form::new([
        ask("entry", "Number of the entry that is wrong?", "/target", NUMBER),
        line("field", "Which field?", "/field")
            .help("As the entry shows it: /side, or /procedures/0/side for the side of the first procedure."),
        line("is", "What should it say?", "/is").help("What it says now stays readable beside it."),
        ask("is-json", "What should it say, where it is no text: a number, yes or no, a list?", "/is", Json)
            .flag_only(),
        line("because", "Why was it wrong?", "/reason").help("For example: slip in writing."),
        yes_no("care-affected", "Was the care affected, and not only the words?", "/care_affected"),
        line("care-words", "How was it affected, or why not?", "/care_words").optional(),
        ask("told", "When was the patient told?", "/patient_told", Moment).optional(),
        because(
            "not-told-because",
            "Why was the patient not told?",
            "/patient_told/not_done_because",
            "/patient_told",
        ),
        line(
            "custodian-because",
            "Why does the custodian correct, and not the author?",
            "/by_custodian_because",
        )
        .flag_only(),
        ask("amendment", "Number of the request for amendment it answers?", "/amendment", NUMBER).flag_only(),
    ])
}

/// New information that belongs to an earlier entry.
pub fn addendum() -> Form {
    Form::new([
        ask("entry", "Number of the entry it adds to?", "/target", NUMBER),
        lines("text", "What became known?", "/text").help(
            "Only what was not known then. What was wrong is corrected; what was left out is a late entry.",
        ),
        ask("learned", "When did it become known?", "/learned_at", Moment).optional().or("now"),
        ask("attachments", "Numbers of the attachments?", "/attachments", NUMBERS).optional(),
    ])
}

/// Something left out at the time, that the author remembers.
pub fn late() -> Form {
    Form::new([
        ask("entry", "Number of the entry it belongs to, if there is one?", "/target", NUMBER).optional(),
        lines("text", "What was left out?", "/text"),
        line("because", "Why was it left out?", "/because"),
        line("source", "What is it written from?", "/source").help("Memory, a draft, a note on paper."),
    ])
}

/// A contact outside a visit: call, message, letter, no-show.
pub fn contact() -> Form {
    const NAME: &str = "/with/name";
    Form::new([
        ask("channel", "How?", "/channel", OneOf(Channel::WORDS)).or("telephone"),
        ask("direction", "Who sought whom?", "/direction", OneOf(Direction::WORDS))
            .help("incoming: they called here. outgoing: we called. none: nobody, as with a no-show."),
        line("with", "With whom?", NAME).optional().help("Name; leave it out where nobody was reached."),
        line("relation", "What are they to the patient?", "/with/relation")
            .or("self")
            .when_has(NAME)
            .help("self for the patient."),
        line("checked", "How was it checked who it is?", "/with/identity_checked")
            .optional()
            .when_has(NAME)
            .help("For example: birth date and address."),
        line("not-checked-because", "Why was it not checked?", "/with/identity_checked/not_done_because")
            .when(|answers: &Value| {
                !super::super::form::lacks(answers, NAME)
                    && super::super::form::lacks(answers, "/with/identity_checked")
            }),
        because("nobody-because", "Why was it with nobody?", "/with/not_done_because", "/with"),
        lines("said", "What was said, written or left as a message?", "/said"),
        ask("minutes", "How many minutes?", "/length_minutes", COUNT).optional(),
        yes_no("message-left", "Was a message left?", "/message_left").optional(),
        line("screen", "Which screen was asked through, if one was?", "/screen")
            .optional()
            .help("neck, mouth, general."),
        ask("answers", "The answers to it?", "/answers", Rows(&ANSWERS)).when_has("/screen"),
        line("advice", "What was advised?", "/advice").optional(),
        line("asked-for", "What did the caller ask for?", "/asked_for").optional(),
        line("outcome", "What came of it?", "/outcome").optional(),
        ask("call-back", "To be called back by when?", "/call_back_by", Moment).optional(),
        yes_no("done", "Is nothing left to do?", "/done").optional(),
        ask("entries", "Numbers of the entries it is about?", "/about", NUMBERS).optional(),
    ])
}

/// The answers to the items of a screen, one line each.
pub(super) const ANSWERS: RowSpec = RowSpec {
    what: "answer to an item of the screen",
    columns: &[
        must("item", "/item", super::WORDS, "the item, as the rules name it"),
        must("answer", "/answer", OneOf(ItemAnswer::WORDS), "what the patient answered"),
        may("words", "/words", super::WORDS, "what was said; needed with a yes"),
        may("decision", "/decision", OneOf(ItemDecision::WORDS), "needed with a yes"),
    ],
};

/// A referral.
pub fn refer() -> Form {
    Form::new([
        line("referred-to", "To whom?", "/to"),
        line("because", "Why?", "/why"),
        ask("urgency", "How urgent?", "/urgency", OneOf(Urgency::WORDS)).or("routine"),
        line("sent-how", "How was it sent?", "/sent_how")
            .optional()
            .help("Letter with the patient, post, telephone."),
        because("not-sent-because", "Why was it not sent?", "/sent_how/not_done_because", "/sent_how"),
        ask("sent", "When was it sent?", "/sent_at", Moment).optional().or("now").when_has("/sent_how"),
        ask("expect-by", "By which day is an answer expected?", "/expect_by", Date)
            .optional()
            .help("It is listed as open until an answer is recorded."),
        ask("letter", "Number of the attachment with the letter?", "/letter", NUMBER).optional(),
    ])
}

/// The answer to a referral, or that none came.
pub fn refer_answer() -> Form {
    Form::new([
        ask("referral", "Number of the referral?", "/referral", NUMBER),
        ask("outcome", "What came of it?", "/outcome", OneOf(AnswerOutcome::WORDS)).or("received"),
        ask("received", "On which day was it received?", "/received_on", Date)
            .or("today")
            .when_is("/outcome", "received"),
        ask("chased", "On which day was it chased?", "/chased_on", Date)
            .optional()
            .when_is("/outcome", "none-chased"),
        line("in-short", "In short?", "/words").optional(),
        ask("attachment", "Number of the attachment?", "/attachment", NUMBER).optional(),
    ])
}

const PROCEDURE: RowSpec = RowSpec {
    what: "procedure",
    columns: &[
        must("note", "/note", NUMBER, "number of the note"),
        must("procedure", "/procedure", NUMBER, "number of the procedure within it"),
    ],
};

/// An adverse reaction. It stays open until it is closed.
pub fn reaction() -> Form {
    Form::new([
        line("what", "What happened?", "/what"),
        ask("began", "When did it begin?", "/onset_at", Moment),
        yes_no("began-about", "Is that time only about right?", "/onset_about").optional(),
        ask("onset-minutes", "How many minutes after the procedure?", "/onset_minutes", COUNT).flag_only(),
        ask("technique", "Which technique is it put down to?", "/technique", OneOf(Technique::WORDS)),
        ask("region", "Which region?", "/region", OneOf(Region::WORDS)),
        ask("side", "Which side?", "/side", OneOf(Side::WORDS)).optional(),
        ask("severity", "How bad?", "/severity", OneOf(Severity::WORDS)),
        line("done", "What was done?", "/action"),
        line("outcome", "How is it so far?", "/outcome").optional(),
        ask("procedures", "Which procedures is it linked to?", "/procedures", Rows(&PROCEDURE)).optional(),
        ask("follow-up", "Follow-up due on which day?", "/follow_up_due", Date).optional(),
        line("told-by", "Who told it, and how?", "/told_by").optional(),
        ask("contact", "Number of the contact in which it was told?", "/contact", NUMBER).optional(),
    ])
}

/// A reaction is closed.
pub fn reaction_closed() -> Form {
    Form::new([
        ask("reaction", "Number of the reaction?", "/reaction", NUMBER),
        line("outcome", "How did it end?", "/outcome"),
        line("closed-with", "How is that known?", "/closed_with").help("Call, visit, letter."),
    ])
}

/// A paper, picture or other file kept with the chart. Digests, size and media type are put in
/// by the command once the file is sealed.
pub fn attach() -> Form {
    Form::new([
        ask("kind", "What is it?", "/kind", OneOf(AttachmentKind::WORDS)),
        line("title", "Title?", "/title"),
        ask("made", "On which day was it made?", "/made_on", Date).optional(),
        because("made-unknown-because", "Why is the day not known?", "/made_on/not_done_because", "/made_on"),
        line("made-by", "Who made it, and where?", "/made_by").optional(),
        because("maker-unknown-because", "Why is that not known?", "/made_by/not_done_because", "/made_by"),
        yes_no("not-made-here", "Was it made somewhere else?", "/not_made_here")
            .help("What others made is marked as not made here in every copy."),
        ask("received", "On which day was it received?", "/received_on", Date)
            .or("today")
            .when(|answers| answers.pointer("/not_made_here") == Some(&Value::Bool(true))),
        ask("pages", "How many pages?", "/pages", COUNT).optional(),
        ask("seconds", "How many seconds, for sound or film?", "/seconds", Whole { min: 1, max: 999_999 })
            .flag_only(),
        ask("region", "Which region does it show?", "/region", OneOf(Region::WORDS)).optional(),
        ask("side", "Which side?", "/side", OneOf(Side::WORDS)).optional().when_has("/region"),
        ask("original", "What became of the original?", "/original", OneOf(Original::WORDS)),
        line("original-at", "Where is the original kept?", "/original_at")
            .optional()
            .when_is("/original", "kept"),
        yes_no("legible", "Can all of it be read?", "/legible").help("Look at the copy, not at the paper."),
        yes_no("for-desk", "May the desk open it?", "/for_desk").or("no"),
        ask("consent", "Number of the consent it rests on?", "/consent", NUMBER)
            .optional()
            .help("For pictures, film and sound."),
        ask("entries", "Numbers of the entries it belongs to?", "/about", NUMBERS).optional(),
    ])
}

/// A sheet given to take home.
pub fn handout() -> Form {
    Form::new([
        line("title", "Title of the sheet?", "/title"),
        line("sheet", "Its code?", "/sheet").optional().help("For example: J2."),
        line("edition", "Its edition?", "/sheet_edition").optional().when_has("/sheet"),
        line("language", "Its language?", "/language").optional(),
        line("given-to", "To whom, if not the patient?", "/given_to").optional(),
    ])
}
