//! What the desk keeps: who asks for records, what leaves, who looked, which papers were given.

use super::super::answer::AnswerKind::{Date, OneOf};
use super::super::form::Form;
use super::super::place;
use super::{Asks, NUMBER, NUMBERS, ask, asks, because, line};
use crate::record::kinds::attendance::{Channel, Direction};
use crate::record::kinds::disclosing::StatementHow;
use crate::record::kinds::papers::{DocumentAnswer, DocumentKind};
use crate::record::kinds::release::{AccessWhy, ReleaseBasis, SealedHow};
use serde_json::Value;

pub(super) fn every() -> Vec<Asks> {
    vec![
        asks(
            "release",
            "release",
            release(),
            &[
                "/what",
                "/withheld",
                "/sealed",
                "/sealed_to",
                "/unsealed",
                "/certificate",
                "/counts_for_accounting",
            ],
        ),
        asks("disclosure", "release", disclosure(), NOT_OF_A_PACKAGE),
        asks("accounting-suspended", "accounting-suspended", accounting_suspended(), &[]),
        asks("access-reason", "access", access_reason(), &["/opened", "/entries", "/exported", "/printed"]),
        asks("document", "document", document(), &[]),
        asks("reaction-recheck", "reaction-rechecked", reaction_recheck(), &["/visit"]),
    ]
}

/// What a disclosure has that is no package: nothing sealed to a key, nothing withheld by a slip.
const NOT_OF_A_PACKAGE: &[&str] = &[
    "/what/entries",
    "/counts_for_accounting",
    "/withheld",
    "/sealed_to",
    "/unsealed",
    "/read_back",
    "/passphrase_by",
    "/certificate",
];

/// Forms that ask for a part of a kind only, because the command knows or leaves out the rest.
pub(super) fn short() -> Vec<Asks> {
    vec![
        asks("contact-close", "contact", contact_close(), &["/said", "/done", "/with"]),
        asks("refer-chase", "referral-answer", refer_chase(), &["/outcome"]),
    ]
}

/// A release of records. What went out, what was held back and how it was sealed are put in by
/// the command from the package itself.
pub fn release() -> Form {
    Form::new([
        ask("request", "Number of the request it answers?", "/request", NUMBER)
            .optional()
            .help("As printed when the request was kept; left out where nobody had to ask."),
        line("recipient-name", "To whom is it released?", "/to").help("Name of the person or office."),
        line("address", "Where does it go?", "/address")
            .optional()
            .help("Postal address, or where it is fetched."),
        because("no-address-because", "Why is there no address?", "/address/not_done_because", "/address"),
        ask("asked-on", "On which day was it asked for?", "/asked_on", Date)
            .optional()
            .help("Left out where the request is kept as an entry."),
        ask("basis", "What does it rest on?", "/basis", OneOf(ReleaseBasis::WORDS))
            .help("The patient's own request, an authorisation, treatment elsewhere, payment, an order."),
        line("basis-words", "In words: which authorisation, order or assurance?", "/basis_words")
            .optional()
            .when(|answers| {
                place::get(answers, "/basis").and_then(Value::as_str).is_some_and(|word| word != "patient")
            })
            .help("With its date, and who signed it."),
        line("purpose", "What is it for, in a line the patient understands?", "/purpose")
            .flag_only()
            .help("An accounting of disclosures tells it; without it, what it rests on."),
        ask("letter", "Number of the attachment with the written request?", "/letter", NUMBER)
            .flag_only()
            .help("Left out where the request is kept as an entry with its letter."),
        line("channel", "How does it go?", "/channel").help("Handed over, post, e-mail."),
        line("checked-by", "Code of who checked it?", "/checked_by").optional().help(
            "Another person than the one who releases it: right patient, right dates, nothing of others.",
        ),
        because(
            "not-checked-because",
            "Why did nobody else check it?",
            "/checked_by/not_done_because",
            "/checked_by",
        ),
        line("read-back", "How was the key read back?", "/read_back")
            .flag_only()
            .help("Where it is sealed to the recipient's key: read back by telephone, to whom."),
        line("told-passphrase", "How was the passphrase told?", "/passphrase_by")
            .flag_only()
            .help("By telephone, in person. Never write the passphrase itself."),
        line("fee", "Fee, as written?", "/fee/amount").optional().help("For example 12.50; 0 for none."),
        line("fee-currency", "In which currency?", "/fee/currency")
            .flag_only()
            .help("As written on the bill."),
        line("fee-words", "How was it reckoned?", "/fee/words")
            .flag_only()
            .help("For example: per page, postage."),
        line("acknowledged", "How was receipt acknowledged?", "/acknowledged")
            .optional()
            .help("Left out until it is."),
    ])
}

/// A disclosure by another way than a sealed package. Whether it belongs in an accounting is worked out from
/// what it rests on.
pub fn disclosure() -> Form {
    let not_own = |answers: &Value| place::get(answers, "/basis").and_then(Value::as_str) != Some("patient");
    Form::new([
        ask("request", "Number of the request it answers?", "/request", NUMBER)
            .optional()
            .help("As printed when the request was kept; left out where nobody had to ask."),
        line("recipient-name", "To whom?", "/to").help("Name of the person or office."),
        line("address", "Where did it go?", "/address").optional().help("Postal address, where it is known."),
        because("no-address-because", "Why is there no address?", "/address/not_done_because", "/address"),
        ask("asked-on", "On which day was it asked for?", "/asked_on", Date)
            .flag_only()
            .help("Where the request is not kept as an entry."),
        ask("basis", "What does it rest on?", "/basis", OneOf(ReleaseBasis::WORDS))
            .help("What allows or orders it; sent-in-error where nothing did."),
        line("basis-words", "In words: which authorisation, order, law or assurance?", "/basis_words")
            .optional()
            .when(not_own)
            .help("With its date, and who signed it."),
        line("purpose", "What was it for, in a line the patient understands?", "/purpose")
            .when(not_own)
            .help("It is told to the patient, should they ask who received something."),
        line("what", "What was told or sent?", "/what/words")
            .help("In brief: which papers, or what was said."),
        ask("entry", "Numbers of the entries?", "/what/entry_list", NUMBERS)
            .optional()
            .help("Left out where no entry was sent as it stands."),
        ask("first-day", "First day it covers?", "/what/from", Date).flag_only().help("Of the notes sent."),
        ask("last-day", "Last day it covers?", "/what/until", Date).flag_only().help("Of the notes sent."),
        ask("pages", "How many pages?", "/what/pages", super::COUNT).optional().help("Counted, on paper."),
        line("channel", "By which way?", "/channel").help("Letter, telephone, handed over, post, fax."),
        ask("sealed", "How was it sealed?", "/sealed", OneOf(SealedHow::WORDS))
            .or("not-sealed")
            .help("Spoken words are not sealed."),
        line("checked-by", "Code of who checked it?", "/checked_by").optional().help(
            "Another person than the one who sends it: right patient, right papers, nothing of others.",
        ),
        because(
            "not-checked-because",
            "Why did nobody else check it?",
            "/checked_by/not_done_because",
            "/checked_by",
        ),
        line("fee", "Fee, as written?", "/fee/amount").flag_only().help("For example 12.50; 0 for none."),
        ask("letter", "Number of the attachment with the written request?", "/letter", NUMBER)
            .optional()
            .help("A copy of it may be given to the patient in place of the purpose."),
        line("acknowledged", "How was receipt acknowledged?", "/acknowledged")
            .optional()
            .help("Left out until it is."),
    ])
}

/// An agency asks that its disclosures be left out of an accounting for a time.
pub fn accounting_suspended() -> Form {
    Form::new([
        ask("disclosure", "Numbers of the disclosures to be left out?", "/disclosures", NUMBERS)
            .help("Those to this agency only, as printed when they were kept."),
        line("agency", "Which agency, and which official?", "/agency").help("Both by name."),
        ask("how", "How was it asked?", "/how", OneOf(StatementHow::WORDS))
            .help("What was only said holds for 30 days at most, unless a letter follows in that time."),
        ask("stated", "On which day?", "/stated_on", Date).or("today").help("The day of the statement."),
        ask("until", "Until which day does it ask?", "/until", Date)
            .optional()
            .help("As the statement says. A written one has to name a time."),
        ask("written", "On which day did a letter follow?", "/written_on", Date)
            .optional()
            .when_is("/how", "oral")
            .help("Left out until one comes."),
        line("statement", "What was said?", "/words")
            .help("That telling the patient would be likely to impede their work, and how."),
        ask("letter", "Number of the attachment with the statement?", "/letter", NUMBER)
            .optional()
            .help("The letter as it came."),
    ])
}

/// Why a chart is opened without a visit or contact that day. What was opened, and whether it
/// was printed or exported, the command knows.
pub fn access_reason() -> Form {
    Form::new([
        ask("why", "Why is this chart opened?", "/why", OneOf(AccessWhy::WORDS)).help(
            "There is no visit or contact today. The reason stands in the chart and is looked at monthly.",
        ),
        line("reason", "In words?", "/words")
            .optional()
            .help("Plainly: what has to be looked at, and why today. Needed with other and emergency."),
        ask("request", "Number of the request it is for?", "/request", NUMBER)
            .optional()
            .when_is("/why", "request")
            .help("As printed when the request was kept."),
    ])
}

/// A notice or form given to the patient outside consent to care.
pub fn document() -> Form {
    Form::new([
        ask("kind", "What is it?", "/kind", OneOf(DocumentKind::WORDS))
            .help("The nearest word; other where none is near."),
        line("title", "Title?", "/title").help("As printed."),
        line("wording", "Code of the edition?", "/wording").optional().help("As printed at its foot."),
        ask("given", "On which day was it given?", "/given_on", Date)
            .or("today")
            .optional()
            .help("The day it was handed over."),
        because("not-given-because", "Why was it not given?", "/given_on/not_done_because", "/given_on"),
        line("given-to", "To whom?", "/given_to").or("the patient").help("The patient, or who took it."),
        ask("answer", "What was the answer?", "/answer", OneOf(DocumentAnswer::WORDS))
            .optional()
            .help("Signed, accepted, refused, or none."),
        line("remark", "Anything else?", "/words").optional().help("Left out where there is nothing to add."),
        ask("attachment", "Number of the attachment?", "/attachment", NUMBER)
            .optional()
            .help("The signed paper, where there is one."),
    ])
}

/// What came of a call that was to be made, or of a visit nobody came to. It ends the item on the list.
pub fn contact_close() -> Form {
    Form::new([
        ask("entry", "Number of the contact that is done?", "/about", NUMBERS)
            .help("As printed when it was kept."),
        line("outcome", "What came of it?", "/outcome").help("For example: reached, comes in on Friday."),
        ask("channel", "How was it settled?", "/channel", OneOf(Channel::WORDS))
            .or("telephone")
            .help("other where nobody was spoken to."),
        ask("direction", "Who sought whom?", "/direction", OneOf(Direction::WORDS))
            .or("outgoing")
            .help("outgoing: we called."),
        line("nobody-because", "Why is nobody named?", "/with/not_done_because")
            .flag_only()
            .help("Left out: as in the contact that is closed."),
    ])
}

/// A referral without an answer is chased.
pub fn refer_chase() -> Form {
    Form::new([
        ask("referral", "Number of the referral?", "/referral", NUMBER)
            .help("As printed when the referral was kept."),
        ask("chased", "On which day was it chased?", "/chased_on", Date)
            .or("today")
            .help("The day they were asked again."),
        line("in-short", "In short?", "/words").optional().help("Who was asked, and what they said."),
    ])
}

/// A reaction is looked at again. It stays open.
pub fn reaction_recheck() -> Form {
    Form::new([
        ask("reaction", "Number of the reaction?", "/reaction", NUMBER)
            .help("As printed when the reaction was kept."),
        line("how", "How is it now?", "/words").help("In the patient's words: better, same, worse."),
        line("known-by", "How is that known?", "/known_by").optional().help("Call, visit, letter."),
        line("advice", "What was advised?", "/advice").optional().help("In the words used."),
        ask("follow-up", "Next follow-up due on which day?", "/follow_up_due", Date)
            .optional()
            .help("Left out: after the days the rules set."),
    ])
}
