//! Putting right and adding, and what follows a visit: contacts, referrals, reactions, papers.

use super::super::answer::AnswerKind::{Date, Json, Moment, OneOf, Rows, Whole};
use super::super::form::{Form, lacks};
use super::super::rows::RowSpec;
use super::{Asks, COUNT, NUMBER, NUMBERS, ask, asks, because, line, lines, may, must, yes_no};
use crate::record::kinds::attendance::{Channel, Direction};
use crate::record::kinds::papers::{AttachmentKind, Original, PaperState};
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
        asks("paper-chart", "paper-chart", paper_chart(), &[]),
        asks("paper-original", "paper-original", paper_original(), &[]),
        asks("handout", "handout", handout(), &["/visit"]),
    ]
}

/// Words were wrong. What the field says (`was`) is put in by the command.
pub fn correct() -> Form {
    Form::new([
        ask("entry", "Number of the entry that is wrong?", "/target", NUMBER)
            .help("As printed beside the entry."),
        line("field", "Which field?", "/field")
            .help("Its number or its words as `--list` shows them: procedures 1, side."),
        line("is", "What should it say?", "/is")
            .help("As it would be typed for that field. What it says now stays readable beside it."),
        ask("is-json", "What should it say, where it is no text: a number, yes or no, a list?", "/is", Json)
            .flag_only()
            .help("Written as true, 5 or [\"C5-C6\"]."),
        line("because", "Why was it wrong?", "/reason").help("For example: slip in writing."),
        yes_no("care-affected", "Was the care affected, and not only the words?", "/care_affected")
            .help("no where the right thing was done and only written wrong."),
        line("care-words", "How was it affected, or why not?", "/care_words")
            .optional()
            .help("What shows it: another entry, the patient's words."),
        ask("told", "When was the patient told?", "/patient_told", Moment)
            .optional()
            .help("The moment itself; left out where not yet, with the reason."),
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
        .flag_only()
        .help("For example: the author has left."),
        ask("amendment", "Number of the request for amendment it answers?", "/amendment", NUMBER)
            .flag_only()
            .help("Where the patient asked for it."),
    ])
}

/// New information that belongs to an earlier entry.
pub fn addendum() -> Form {
    Form::new([
        ask("entry", "Number of the entry it adds to?", "/target", NUMBER)
            .help("As printed beside the entry."),
        lines("text", "What became known?", "/text").help(
            "Only what was not known then. What was wrong is corrected; what was left out is a late entry.",
        ),
        ask("learned", "When did it become known?", "/learned_at", Moment)
            .optional()
            .or("now")
            .help("The moment it came in, not the moment it is typed."),
        ask("attachments", "Numbers of the attachments?", "/attachments", NUMBERS)
            .optional()
            .help("The papers it came with."),
    ])
}

/// Something left out at the time, that the author remembers.
pub fn late() -> Form {
    Form::new([
        ask("entry", "Number of the entry it belongs to, if there is one?", "/target", NUMBER)
            .optional()
            .help("As printed beside the entry."),
        lines("text", "What was left out?", "/text")
            .help("Only what the author remembers or has written elsewhere."),
        line("because", "Why was it left out?", "/because")
            .help("Plainly; a late entry without a reason is not believed."),
        line("source", "What is it written from?", "/source").help("Memory, a draft, a note on paper."),
    ])
}

/// A contact outside a visit: call, message, letter, no-show.
pub fn contact() -> Form {
    const NAME: &str = "/with/name";
    Form::new([
        ask("channel", "How?", "/channel", OneOf(Channel::WORDS))
            .or("telephone")
            .help("no-show where the patient did not come."),
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
            .when(|answers: &Value| !lacks(answers, NAME) && lacks(answers, "/with/identity_checked"))
            .help("For example: voice known, nothing private was said."),
        because("nobody-because", "Why was it with nobody?", "/with/not_done_because", "/with"),
        lines("said", "What was said, written or left as a message?", "/said")
            .help("As said. On a machine, no details."),
        ask("minutes", "How many minutes?", "/length_minutes", COUNT)
            .optional()
            .help("Length of the call or talk."),
        yes_no("message-left", "Was a message left?", "/message_left")
            .optional()
            .help("yes where nobody was reached and something was left."),
        line("screen", "Which screen was asked through, if one was?", "/screen")
            .optional()
            .help("neck, mouth, general."),
        ask("answers", "The answers to it?", "/answers", Rows(&ANSWERS))
            .when_has("/screen")
            .help("One line for each item: item=fever answer=no."),
        line("advice", "What was advised?", "/advice").optional().help("In the words used."),
        line("asked-for", "What did the caller ask for?", "/asked_for").optional().help("As said."),
        line("outcome", "What came of it?", "/outcome")
            .optional()
            .help("For example: comes in tomorrow 09:00."),
        ask("call-back", "To be called back by when?", "/call_back_by", Moment)
            .optional()
            .help("It is listed until it is done."),
        yes_no("done", "Is nothing left to do?", "/done").optional().help("no keeps it on the list."),
        ask("entries", "Numbers of the entries it is about?", "/about", NUMBERS)
            .optional()
            .help("A reaction, a request, a visit."),
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
        line("referred-to", "To whom?", "/to").help("Name or office, and where."),
        line("because", "Why?", "/why").help("The question put to them."),
        ask("urgency", "How urgent?", "/urgency", OneOf(Urgency::WORDS))
            .or("routine")
            .help("emergency: at once, by ambulance if need be."),
        line("sent-how", "How was it sent?", "/sent_how")
            .optional()
            .help("Letter with the patient, post, telephone."),
        because("not-sent-because", "Why was it not sent?", "/sent_how/not_done_because", "/sent_how"),
        ask("sent", "When was it sent?", "/sent_at", Moment)
            .optional()
            .or("now")
            .when_has("/sent_how")
            .help("The moment it left."),
        ask("expect-by", "By which day is an answer expected?", "/expect_by", Date)
            .optional()
            .help("It is listed as open until an answer is recorded."),
        ask("letter", "Number of the attachment with the letter?", "/letter", NUMBER)
            .optional()
            .help("The letter as it was sent."),
    ])
}

/// The answer to a referral, or that none came.
pub fn refer_answer() -> Form {
    Form::new([
        ask("referral", "Number of the referral?", "/referral", NUMBER)
            .help("As printed when the referral was kept."),
        ask("outcome", "What came of it?", "/outcome", OneOf(AnswerOutcome::WORDS))
            .or("received")
            .help("For example: comes in tomorrow 09:00."),
        ask("received", "On which day was it received?", "/received_on", Date)
            .or("today")
            .when_is("/outcome", "received")
            .help("The day it came in, not the day it is written."),
        ask("chased", "On which day was it chased?", "/chased_on", Date)
            .optional()
            .when_is("/outcome", "none-chased")
            .help("The day they were asked again."),
        line("in-short", "In short?", "/words").optional().help("What it says that matters here."),
        ask("attachment", "Number of the attachment?", "/attachment", NUMBER)
            .optional()
            .help("The letter as it came."),
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
        line("what", "What happened?", "/what").help("In the patient's words."),
        ask("began", "When did it begin?", "/onset_at", Moment).help("As nearly as it is known."),
        yes_no("began-about", "Is that time only about right?", "/onset_about")
            .optional()
            .help("yes where it is an estimate."),
        ask("onset-minutes", "How many minutes after the procedure?", "/onset_minutes", COUNT)
            .flag_only()
            .help("Where it is known that closely."),
        ask("technique", "Which technique is it put down to?", "/technique", OneOf(Technique::WORDS))
            .help("What was done before it; this is no verdict."),
        ask("region", "Which region?", "/region", OneOf(Region::WORDS)).help("Where it was done."),
        ask("side", "Which side?", "/side", OneOf(Side::WORDS)).optional().help("Where it was done."),
        ask("severity", "How bad?", "/severity", OneOf(Severity::WORDS))
            .help("mild: passes by itself; moderate: keeps from daily things; severe: needs care at once."),
        line("done", "What was done?", "/action").help("Here or by the patient."),
        line("outcome", "How is it so far?", "/outcome").optional().help("Better, same, worse."),
        ask("procedures", "Which procedures is it linked to?", "/procedures", Rows(&PROCEDURE))
            .optional()
            .help("For example: note=1200 procedure=1."),
        ask("follow-up", "Follow-up due on which day?", "/follow_up_due", Date)
            .optional()
            .help("It is listed until the reaction is closed."),
        line("told-by", "Who told it, and how?", "/told_by")
            .optional()
            .help("For example: the patient, by telephone."),
        ask("contact", "Number of the contact in which it was told?", "/contact", NUMBER)
            .optional()
            .help("As printed when the call was kept."),
    ])
}

/// A reaction is closed.
pub fn reaction_closed() -> Form {
    Form::new([
        ask("reaction", "Number of the reaction?", "/reaction", NUMBER)
            .help("As printed when the reaction was kept."),
        line("outcome", "How did it end?", "/outcome").help("For example: no pain, full breath."),
        line("closed-with", "How is that known?", "/closed_with").help("Call, visit, letter."),
    ])
}

/// A paper, picture or other file kept with the chart. Digests, size and media type are put in
/// by the command once the file is sealed.
pub fn attach() -> Form {
    Form::new([
        ask("kind", "What is it?", "/kind", OneOf(AttachmentKind::WORDS))
            .help("The nearest word; other where none is near."),
        line("title", "Title?", "/title").help("By which it is found again; no name in it."),
        ask("made", "On which day was it made?", "/made_on", Date)
            .optional()
            .help("The day of the picture or letter, not of the scan."),
        because("made-unknown-because", "Why is the day not known?", "/made_on/not_done_because", "/made_on"),
        line("made-by", "Who made it, and where?", "/made_by")
            .optional()
            .help("For example: imaging office, Pellmere."),
        because("maker-unknown-because", "Why is that not known?", "/made_by/not_done_because", "/made_by"),
        yes_no("not-made-here", "Was it made somewhere else?", "/not_made_here")
            .help("What others made is marked as not made here in every copy."),
        ask("received", "On which day was it received?", "/received_on", Date)
            .or("today")
            .when(|answers| answers.pointer("/not_made_here") == Some(&Value::Bool(true)))
            .help("The day it came in, not the day it is written."),
        ask("pages", "How many pages?", "/pages", COUNT).optional().help("Counted, front and back."),
        ask("seconds", "How many seconds, for sound or film?", "/seconds", Whole { min: 1, max: 999_999 })
            .flag_only()
            .help("As the file says."),
        ask("region", "Which region does it show?", "/region", OneOf(Region::WORDS))
            .optional()
            .help("For pictures."),
        ask("side", "Which side?", "/side", OneOf(Side::WORDS))
            .optional()
            .when_has("/region")
            .help("Where it was done."),
        ask("original", "What became of the original?", "/original", OneOf(Original::WORDS))
            .help("not-seen where only a copy came."),
        line("original-at", "Where is the original kept?", "/original_at")
            .optional()
            .when_is("/original", "kept")
            .help("Cabinet and drawer."),
        yes_no("legible", "Can all of it be read?", "/legible").help("Look at the copy, not at the paper."),
        yes_no("for-desk", "May the desk open it?", "/for_desk")
            .or("no")
            .help("no for whatever shows contents of care."),
        ask("consent", "Number of the consent it rests on?", "/consent", NUMBER)
            .optional()
            .help("For pictures, film and sound."),
        ask("entries", "Numbers of the entries it belongs to?", "/about", NUMBERS)
            .optional()
            .help("A consent, a request, a referral."),
    ])
}

/// The index entry of an old paper chart.
pub fn paper_chart() -> Form {
    Form::new([
        line("name", "Name on the paper?", "/patient_name").help("As it stands there."),
        ask("born", "Birth date on the paper?", "/birth_date", Date).optional().help("If it stands there."),
        ask("pages", "How many pages?", "/pages", Whole { min: 1, max: 99_999 })
            .help("Counted, front and back."),
        line("kept-at", "Where is the paper kept?", "/kept_at").help("Cabinet and drawer."),
        ask("last-treated", "Last treatment?", "/last_treated", Date).optional().help("By the paper."),
        ask("keep-until", "Until when is it kept?", "/keep_until", Date)
            .optional()
            .help("As `inkfast reckon retention` works it out from the last treatment."),
        line("counted-by", "Code of who counted?", "/counted_by").help("Whoever held the pages."),
        line("in-words", "State of the paper, gaps?", "/words")
            .optional()
            .help("Faded, stained, pages missing."),
    ])
}

/// What became of the originals of an old paper chart.
pub fn paper_original() -> Form {
    Form::new([
        ask("paper", "Number of the index entry of the paper chart?", "/paper", NUMBER)
            .help("As `inkfast paper list` shows it."),
        ask("state", "What was done with the originals?", "/state", OneOf(PaperState::WORDS))
            .help("checked: the scan was looked through against them, page by page."),
        ask("pages", "How many pages of the scan were looked at?", "/pages", COUNT)
            .when_is("/state", "checked")
            .help("Counted in the scan, not in the folder."),
        ask("on", "On which day?", "/on", Date).or("today").help("The day it was done."),
        line("by", "Who did it?", "/by").help("Code, or the name of a firm."),
        line("now-at", "Where is the paper now?", "/at")
            .optional()
            .help("Cabinet and drawer. Needed with kept and moved."),
        line("method", "How was it destroyed?", "/method")
            .when_is("/state", "destroyed")
            .help("Shredded, burnt."),
        line("because", "Why?", "/because").optional().help("Needed for destroying."),
        line("unchecked-because", "Why had the scan not been checked?", "/unchecked_because")
            .flag_only()
            .help("Only where the paper is gone already: it stands there for ever."),
    ])
}

/// A sheet given to take home.
pub fn handout() -> Form {
    Form::new([
        line("title", "Title of the sheet?", "/title").help("As printed."),
        line("sheet", "Its code?", "/sheet").optional().help("For example: J2."),
        line("edition", "Its edition?", "/sheet_edition")
            .optional()
            .when_has("/sheet")
            .help("As printed at its foot."),
        line("language", "Its language?", "/language").optional().help("The short tag: en, fr, es, uk."),
        line("given-to", "To whom, if not the patient?", "/given_to").optional().help("Mother, carer."),
    ])
}
