//! A request for records, from whoever asks to the day it is closed.

use super::super::answer::AnswerKind::{Date, OneOf, Rows};
use super::super::clock::Now;
use super::super::form::{Form, Question};
use super::super::place;
use super::super::rows::RowSpec;
use super::{Asks, LIST, NUMBER, WORDS, ask, asks, because, line, lines, must, yes_no};
use crate::record::kinds::release::{RequestKind, Step};
use crate::record::kinds::request::{Asker, Checked, DenialGround};
use serde_json::Value;

pub(super) fn every() -> Vec<Asks> {
    vec![asks("request", "request", take(), &["/due", "/clock", "/clocks"])]
}

/// Forms of the steps: each asks for its part of the one layout that all steps share.
pub(super) fn short() -> Vec<Asks> {
    vec![
        asks("request-extend", "request-step", extend(), &["/request", "/step", "/void_because"]),
        asks("request-check", "request-step", check(), &["/request", "/step", "/lacking"]),
        asks("request-return", "request-step", give_back(), &["/request", "/step"]),
        asks("request-fee", "request-step", fee(), &["/request", "/step"]),
        asks("request-answer", "request-step", answer(), &["/request", "/step", "/release", "/digest"]),
        asks("request-decline", "request-step", decline(), &["/request", "/step"]),
        asks("request-close", "request-step", close(), &["/request"]),
    ]
}

/// The fields of a step that a request for amendment leaves empty.
pub(super) const STEP_REST: &[&str] = &[
    "/step",
    "/checked",
    "/holds",
    "/rests_on",
    "/names",
    "/authorization",
    "/lacking",
    "/void_because",
    "/fee",
    "/denial",
    "/release",
    "/digest",
    "/despite",
];

fn word<'a>(answers: &'a Value, path: &str) -> Option<&'a str> {
    place::get(answers, path).and_then(Value::as_str)
}

fn asker(answers: &Value) -> Option<Asker> {
    word(answers, "/asker").and_then(Asker::from_word)
}

fn usual_kind(answers: &Value, _: &Now) -> Option<String> {
    asker(answers).map(|asker| asker.usual_kind().word().to_string())
}

fn usual_relation(answers: &Value, _: &Now) -> Option<String> {
    let relation = match asker(answers)? {
        Asker::Patient => "self",
        Asker::Attorney => "attorney",
        Asker::Clinician => "clinician",
        Asker::CourtOrder => "court",
        Asker::Oversight => "board",
        Asker::Insurer => "health plan",
        Asker::PersonalRepresentative => "executor",
        Asker::Subpoena => "party to a proceeding",
        Asker::Guardian | Asker::Other => return None,
    };
    Some(relation.to_string())
}

fn needs_authority(answers: &Value) -> bool {
    !matches!(asker(answers), None | Some(Asker::Patient | Asker::Clinician))
}

fn was_served(answers: &Value) -> bool {
    matches!(asker(answers), Some(Asker::Subpoena | Asker::CourtOrder))
}

fn names_a_day(answers: &Value) -> bool {
    !matches!(asker(answers), None | Some(Asker::Patient | Asker::Guardian | Asker::PersonalRepresentative))
}

/// A request comes in. The command reckons every clock that runs and the day the answer is due.
pub fn take() -> Form {
    let mut questions = vec![
        ask("asker", "Who asks: by which right?", "/asker", OneOf(Asker::WORDS))
            .or("patient")
            .help("Which papers must be on file follows from it."),
        ask("kind", "What sort of request?", "/kind", OneOf(RequestKind::WORDS))
            .or_from(usual_kind)
            .help("Each sort has its own time to answer. Amendments are taken with `amend take`."),
        line("from", "Who asks, by name?", "/from").help("Name of the person or office."),
        line("relation", "What are they to the patient?", "/relation")
            .or_from(usual_relation)
            .help("self, father, attorney, executor, health plan, board."),
        ask("received", "On which day was it received?", "/received_on", Date)
            .or("today")
            .help("The time to answer runs from the day after this one."),
        ask("requested", "Which date does the request bear?", "/requested_on", Date)
            .optional()
            .help("Some places count from it."),
        lines("text", "What is asked, as written or said?", "/text").help("Word for word where it is short."),
        ask("dates", "Which dates of service?", "/dates", LIST)
            .optional()
            .help("Single days, like 2025-03-11, 2025-03-18. Left out: not limited to single days."),
        ask("span-from", "From which day on?", "/scope/first", Date)
            .optional()
            .help("Left out where no span was named."),
        ask("span-until", "Until which day, included?", "/scope/last", Date)
            .optional()
            .help("Left out where no span was named."),
        ask("kinds", "Only which kinds of entries?", "/scope/kinds", LIST)
            .optional()
            .help("visit, consent, measure, attachment. Left out: every kind."),
    ];
    questions.extend(who_may_receive());
    questions.extend(how_it_goes());
    Form::new(questions)
}

/// Who asks, and what shows that they may receive.
fn who_may_receive() -> Vec<Question> {
    vec![
        line("checked", "How was it checked who asks?", "/identity_checked")
            .optional()
            .help("For example: licence card seen; called back on the number in the chart."),
        because(
            "not-checked-because",
            "Why was it not checked?",
            "/identity_checked/not_done_because",
            "/identity_checked",
        ),
        line("authority", "How was the right to receive checked?", "/authority_checked")
            .optional()
            .when(needs_authority)
            .help("Letters of the executor seen; the agency called back. An authorization and an order are checked with `request check`."),
        ask("authority-paper", "Number of the attachment with that paper?", "/authority_paper", NUMBER)
            .optional()
            .when(needs_authority)
            .help("The order, the executor's letters, the agency's letter."),
        ask("authority-entry", "Number of the entry that says who decides?", "/authority_entry", NUMBER)
            .flag_only()
            .help("For a guardian; left out: the newest entry of that name."),
        lines("served", "What was served, by whom and how?", "/served")
            .optional()
            .when(was_served)
            .help("Which paper, signed by whom, handed to whom, with which proof of service."),
        ask("answer-by", "Which day does the paper itself name?", "/answer_by", Date)
            .optional()
            .when(names_a_day)
            .help("A subpoena, an order and an audit name their own day."),
    ]
}

/// To whom it goes, and in which form.
fn how_it_goes() -> Vec<Question> {
    vec![
        line("recipient", "Who is to receive it, if not who asks?", "/recipient")
            .optional()
            .help("As the paper names them."),
        line("address", "Where is it to go?", "/address").optional().help("Postal address, or fetched here."),
        line("form-wanted", "In which form: electronic, on paper?", "/form_wanted")
            .optional()
            .help("As asked."),
        line("language-wanted", "In which language?", "/language_wanted")
            .optional()
            .help("As asked, also where it is not held."),
        ask("letter", "Number of the attachment with the letter?", "/letter", NUMBER)
            .optional()
            .help("The letter as it came."),
    ]
}

/// More time is taken, once, by a letter inside the first time.
pub fn extend() -> Form {
    Form::new([
        ask("on", "On which day was it sent?", "/on", Date).or("today").help("The day the letter left."),
        lines("because", "Why is more time needed?", "/words").help("The letter says it in these words."),
        ask("new-due", "By which day will it be answered?", "/new_due", Date)
            .help("The letter names it; no later than the rules allow."),
        ask("letter-dated", "Date of the letter?", "/letter_dated", Date)
            .or("today")
            .help("It must lie inside the first time, or the letter is void."),
        ask("letter", "Number of the attachment with the letter?", "/attachment", NUMBER)
            .optional()
            .help("The letter as it was sent."),
    ])
}

pub(super) fn reads_authorization(answers: &Value) -> bool {
    word(answers, "/checked") == Some("authorization")
}

fn is_no_list(answers: &Value) -> bool {
    word(answers, "/checked") != Some("missing-list")
}

fn has_a_paper(answers: &Value) -> bool {
    is_no_list(answers) && word(answers, "/checked") != Some("identity")
}

fn is_told_to_hold(answers: &Value) -> bool {
    is_no_list(answers) && !reads_authorization(answers)
}

/// Something of a request is checked. An authorization is read element by element; whether it can be used is
/// worked out.
pub fn check() -> Form {
    let mut questions = vec![
        ask("what", "What is checked?", "/checked", OneOf(Checked::WORDS))
            .help("missing-list: what the notes of the days asked for lack, before an audit is answered."),
        ask("on", "On which day?", "/on", Date).or("today").help("The day it was looked at."),
        yes_no("holds", "Does it hold?", "/holds").or("yes").when(is_told_to_hold).help(
            "no where it was looked at and is not enough; with an assurance, no: it was asked for in writing.",
        ),
        line("words", "What was seen, and how?", "/words")
            .when(is_no_list)
            .or_from(|answers, _| reads_authorization(answers).then(|| "read element by element".to_string()))
            .help("Which paper, signed by whom, dated when; called back on which number."),
        ask("paper", "Number of the attachment with the paper?", "/attachment", NUMBER)
            .optional()
            .when(has_a_paper)
            .help("The paper as it came."),
        ask("entry", "Number of the chart's own entry it rests on?", "/rests_on", NUMBER)
            .flag_only()
            .help("Who decides for the patient."),
        ask("names-dates", "Which single days does the paper name?", "/names/dates", LIST)
            .optional()
            .when(has_a_paper)
            .help("Like 2025-03-11, 2025-03-18. Nothing else goes out on this paper."),
        ask("names-from", "From which day on does it name?", "/names/first", Date)
            .optional()
            .when(has_a_paper)
            .help("Left out where it names no span."),
        ask("names-until", "Until which day, included?", "/names/last", Date)
            .optional()
            .when(has_a_paper)
            .help("Left out where it names no span."),
        ask("names-kinds", "Which kinds of entries does it name?", "/names/kinds", LIST)
            .optional()
            .when(has_a_paper)
            .help("visit, consent, measure. Left out: every kind."),
    ];
    questions.extend(super::authorization::elements());
    questions.extend(super::authorization::statements());
    Form::new(questions)
}

/// An authorization goes back.
pub fn give_back() -> Form {
    Form::new([
        ask("on", "On which day was it sent back?", "/on", Date).or("today").help("The day it left."),
        line("words", "Anything to add in the letter?", "/words")
            .or("sent back as defective, by letter")
            .help("What is missing, and what would mend it, the letter says by itself."),
        ask("letter-dated", "Date of the letter?", "/letter_dated", Date)
            .or("today")
            .help("As the letter bears it."),
        ask("letter", "Number of the attachment with the letter?", "/attachment", NUMBER)
            .optional()
            .help("The letter as it was sent."),
    ])
}

const PARTS: RowSpec = RowSpec {
    what: "part of the fee",
    columns: &[
        must("name", "/name", WORDS, "copying_labor, paper_supplies, portable_media, postage or summary"),
        must("amount", "/amount", WORDS, "like 4.00"),
    ],
};

fn has_parts(answers: &Value) -> bool {
    matches!(word(answers, "/fee/method"), Some("actual" | "average"))
}

fn asks_money(answers: &Value) -> bool {
    word(answers, "/fee/method").is_some_and(|method| method != "none")
}

/// A fee is told before the copy is made. The sum is worked out.
pub fn fee() -> Form {
    Form::new([
        line("method", "How is it worked out: actual, average, flat or none?", "/fee/method")
            .help("actual: what this copy costs. average: by a schedule. flat: one sum, all in."),
        ask("parts", "Its parts?", "/fee/parts", Rows(&PARTS)).when(has_parts).help(
            "One line for each: name=copying_labor amount=4.00. Search and retrieval may not be asked for.",
        ),
        line("flat", "The flat sum?", "/fee/total")
            .when_is("/fee/method", "flat")
            .help("All in: labour, supplies and postage."),
        line("currency", "In which currency?", "/fee/currency")
            .optional()
            .when(asks_money)
            .help("As written on the bill."),
        yes_no("on-paper", "Is the copy on paper?", "/fee/on_paper")
            .or("no")
            .when(asks_money)
            .help("Otherwise it is a file."),
        ask("pages", "How many pages?", "/fee/pages", super::COUNT)
            .flag_only()
            .help("For the ceiling of a place."),
        line("place", "Which place's ceiling?", "/fee/ceiling")
            .flag_only()
            .help("By its name in the tables, like us-tx-76-3."),
        yes_no("media-asked", "Did they ask for a stick or a disc?", "/fee/media_asked")
            .or("no")
            .when(asks_money)
            .help("Only then may it be asked for."),
        yes_no("mailed", "Is it mailed?", "/fee/mailed").or("no").when(asks_money).help("Only then postage."),
        yes_no("summary-agreed", "Were a summary and its fee agreed beforehand?", "/fee/summary_agreed")
            .or("no")
            .when(asks_money)
            .help("Only then a fee for a summary."),
        yes_no("told", "Were they told the fee before the copy is made?", "/fee/told_beforehand")
            .when(asks_money)
            .help("The fee is told first; they may change or take back the request."),
        ask("on", "On which day were they told?", "/on", Date)
            .or("today")
            .help("The day it was said or sent."),
        line("words", "How were they told?", "/words")
            .or("told by telephone")
            .help("Letter, telephone, in person."),
    ])
}

/// A request is answered by something else than a package.
pub fn answer() -> Form {
    Form::new([
        lines("answered-with", "What exactly was given or shown, and how?", "/words").help(
            "Looked at in the room, pages handed over, the account of disclosures. A package is released with --recipient or --passphrase instead.",
        ),
        ask("on", "On which day?", "/on", Date).or("today").help("The day it was given."),
        ask("paper", "Number of the attachment with what was given?", "/attachment", NUMBER)
            .optional()
            .help("A copy of the letter or of the pages, where one is kept."),
        line("despite", "Why, although something was to be asked first?", "/despite")
            .flag_only()
            .help("Only where the program asked."),
    ])
}

/// A request is refused, in whole or in part.
pub fn decline() -> Form {
    Form::new([
        ask("ground", "On which ground?", "/denial/ground", OneOf(DenialGround::WORDS))
            .help("A bill that is not paid is none."),
        line("reason", "Why, in plain words?", "/denial/reason").help("The letter says it in these words."),
        line("part", "Which part is refused, if not all of it?", "/denial/part")
            .optional()
            .help("The rest is given. Left out: all of it is refused."),
        line("judged-by", "Code of the licensed person who judged it?", "/denial/judged_by")
            .when(|answers| {
                word(answers, "/denial/ground")
                    .and_then(DenialGround::from_word)
                    .is_some_and(DenialGround::is_reviewable)
            })
            .help("Such a refusal is a licensed person's judgement, and is looked at again by another."),
        line("held-at", "Where is it kept, if not here?", "/denial/held_at")
            .optional()
            .help("The letter says it where it is known."),
        ask("on", "On which day?", "/on", Date).or("today").help("The day the letter left."),
        line("sent-how", "How was the letter sent?", "/words")
            .or("letter sent by post")
            .help("Post, handed over."),
        ask("letter-dated", "Date of the letter?", "/letter_dated", Date)
            .or("today")
            .help("As the letter bears it."),
        ask("letter", "Number of the attachment with the letter?", "/attachment", NUMBER)
            .optional()
            .help("The letter as it was sent."),
    ])
}

/// A request is over.
pub fn close() -> Form {
    Form::new([
        ask("how", "How did it end?", "/step", OneOf(Step::WORDS))
            .or("closed")
            .help("closed, or withdrawn where they took it back."),
        line("words", "In words?", "/words")
            .help("For example: fetched and signed for; taken back by telephone."),
        ask("on", "On which day?", "/on", Date).or("today").help("The day it ended."),
    ])
}
