//! Who the patient is, who decides, what is always to be minded, and what becomes of the chart.

use super::super::answer::AnswerKind::{Date, Each, Moment, OneOf, Rows, Segment, Whole};
use super::super::form::{Form, Question};
use super::super::place;
use super::super::rows::RowSpec;
use super::{Asks, LIST, NUMBER, ask, asks, because, line, may, must, yes_no};
use crate::record::kinds::identity::{
    AllergySeverity, Basis, CapacityState, ChartStatus, DecisionBy, IdentifierKind, JoinDirection,
    NoticeStatus, SubstanceStatus,
};
use crate::record::vocab::{Region, Side};
use serde_json::Value;

pub use super::identity::{CHANGEABLE, identity, with_identity};

pub(super) fn every() -> Vec<Asks> {
    vec![
        asks("patient", "chart-opened", patient(), &[]),
        asks("identity", "identity-changed", identity(), &["/identity"]),
        asks("guardian", "decision-maker", guardian(), &[]),
        asks("allergies", "allergy-review", allergies(), &[]),
        asks("alert", "alert", alert(), &[]),
        asks("capacity", "capacity", capacity(), &[]),
        asks("chart-state", "chart-state", chart_state(), &["/last_treated", "/keep_until"]),
        asks("joined", "joined", joined(), &["/other_chart"]),
        asks("misfiled", "misfiled", misfiled(), &[]),
    ]
}

const YEAR: super::AnswerKind = Whole { min: 1880, max: 2200 };

/// A new chart. The command proposes the chart number, looks for charts of the same person
/// (`like_charts`) and shows them before the question that says so.
pub fn patient() -> Form {
    let mut questions = vec![
        line("chart-no", "Chart number?", "/chart_no")
            .help("As the practice numbers its charts. It is never made from the name."),
        line("name", "Legal name?", "/identity/legal_name").help("As on the licence card or passport."),
        ask("born", "Birth date?", "/identity/birth_date/date", Date)
            .optional()
            .help("Leave it out only where nobody knows it; the year is then estimated."),
        ask("born-about", "Year of birth, as estimated?", "/identity/birth_date/estimated_year", YEAR)
            .when_lacks("/identity/birth_date/date")
            .help("Only where the birth date is not known."),
        line("born-words", "How was the year estimated?", "/identity/birth_date/words")
            .optional()
            .when_has("/identity/birth_date/estimated_year")
            .help("Who said so, or what it was reckoned from."),
    ];
    questions.extend(reached());
    questions.extend(patient_rights());
    questions.extend(about_them());
    questions.extend([
        ask("seen", "What confirmed who the patient is?", "/identifiers_seen", LIST)
            .offer("licence-card, birth-date")
            .help("Papers seen and details asked: licence-card, passport, birth-date, address."),
        yes_no(
            "looked-for-same-name",
            "Were charts with the same name and birth date looked for?",
            "/same_name_looked_for",
        )
        .or("yes")
        .flag_only()
        .help("The program looks, and shows the charts that look alike; one person with two charts is treated on half a record."),
        ask("other-than", "Charts that look alike and are other people?", "/like_charts", LIST)
            .flag_only()
            .help("Their numbers, once each was looked at."),
        ask("links", "Other charts that belong with this one?", "/links", Rows(&LINK))
            .optional()
            .help("An old paper chart, a duplicate, the same household."),
        line("opened-because", "Why is it opened, where that is not plain?", "/opened_because")
            .optional()
            .help("For example: goes on from an old paper chart."),
    ]);
    Form::new(questions)
}

const LINK: RowSpec = RowSpec {
    what: "chart",
    columns: &[
        must("chart-no", "/chart_no", super::WORDS, "number of the other chart"),
        must("why", "/why", super::WORDS, "old paper chart, duplicate, same household"),
    ],
};

fn reached() -> [Question; 6] {
    [
        ask("address", "Postal address?", "/identity/address", super::WORDS)
            .optional()
            .help("As letters reach the patient."),
        ask("telephones", "Telephone numbers?", "/identity/telephones", LIST)
            .optional()
            .help("With commas between."),
        line("email", "E-mail address?", "/identity/email")
            .optional()
            .help("Only where the patient wants to be reached that way."),
        ask(
            "second-identifier",
            "Which second detail identifies the patient, beside name and birth date?",
            "/identity/second_identifier/kind",
            OneOf(IdentifierKind::WORDS),
        )
        .or_from(|answers, _| second_identifier(answers).map(|(kind, _)| kind.to_owned()))
        .help(
            "Two people may share name and birth date: the address or a telephone number tells them apart.",
        ),
        line("identifier", "That detail?", "/identity/second_identifier/value")
            .or_from(|answers, _| {
                let chosen = place::get(answers, "/identity/second_identifier/kind")?.as_str()?;
                identifier_of(answers, chosen)
            })
            .help("The address, the telephone number or other detail, as the patient gives it."),
        line("reach-by", "How does the patient want to be reached?", "/identity/preferred_channel")
            .optional()
            .help("Telephone, letter, e-mail, and the hours, if any."),
    ]
}

fn identifier_of(answers: &Value, kind: &str) -> Option<String> {
    let at = |path: &str| place::get(answers, path).and_then(Value::as_str).map(str::to_owned);
    match kind {
        "address" => at("/identity/address"),
        "telephone" => at("/identity/telephones/0"),
        _ => None,
    }
}

fn second_identifier(answers: &Value) -> Option<(&'static str, String)> {
    ["address", "telephone"].into_iter().find_map(|kind| Some((kind, identifier_of(answers, kind)?)))
}

fn patient_rights() -> [Question; 11] {
    const NOTICE: &str = "/identity/privacy_notice/status";
    const CONTACT: &str = "/identity/emergency_contact/name";
    [
        line("language", "Language the patient speaks?", "/identity/language")
            .or("en")
            .help("The short tag: en, fr, es, uk."),
        line("interpreter", "Language an interpreter is needed for?", "/identity/interpreter_language")
            .optional()
            .help("Leave it out where none is needed. Every consent then asks for the interpreter."),
        line("emergency-name", "Whom to call in an emergency?", CONTACT)
            .optional()
            .help("Name of the person."),
        line("emergency-relation", "What are they to the patient?", "/identity/emergency_contact/relation")
            .when_has(CONTACT)
            .help("Mother, husband, neighbour."),
        line("emergency-telephone", "Their telephone number?", "/identity/emergency_contact/telephone")
            .when_has(CONTACT).help("One that is answered during opening hours."),
        because(
            "no-emergency-contact-because",
            "Why is there nobody to call?",
            "/identity/emergency_contact/not_done_because",
            "/identity/emergency_contact",
        ),
        ask("privacy-notice", "Was the privacy notice given?", NOTICE, OneOf(NoticeStatus::WORDS))
            .offer("given")
            .help("Given, refused by the patient, or not given."),
        ask("privacy-on", "On which day?", "/identity/privacy_notice/on", Date)
            .or("today")
            .optional()
            .when_is(NOTICE, "given").help("The day the sheet was handed over."),
        line("privacy-edition", "Which edition of the notice?", "/identity/privacy_notice/wording")
            .optional()
            .when_is(NOTICE, "given")
            .help("The code printed on the sheet."),
        line("privacy-because", "Why was it refused or not given?", "/identity/privacy_notice/words")
            .optional()
            .when(|answers| {
                place::get(answers, NOTICE).and_then(Value::as_str).is_some_and(|word| word != "given")
            }).help("The patient's words, or what prevented it."),
        ask(
            "decides",
            "Who decides about care?",
            "/identity/decision_maker",
            OneOf(DecisionBy::WORDS),
        )
        .or("self")
        .help("The patient, a guardian (always for a minor), or an agent. Their authority is recorded apart."),
    ]
}

fn about_them() -> [Question; 15] {
    let may = |flag, question, path| line(flag, question, path).optional();
    [
        may("goes-by", "Name the patient goes by?", "/identity/chosen_name")
            .help("Used when speaking to the patient; papers carry the legal name."),
        ask("former-names", "Former names and other spellings?", "/identity/former_names", LIST)
            .optional()
            .help("For finding the chart again. With commas between."),
        may("occupation", "Occupation?", "/identity/occupation")
            .help("What the body does all day; it bears on findings and advice."),
        may("sport", "Sport?", "/identity/sport").help("Which, and how often."),
        may("instrument", "Instrument played?", "/identity/instrument")
            .help("Matters for the jaw, the neck and the shoulders."),
        may("physician", "Family doctor?", "/identity/physician").help("Name, and where a letter would go."),
        may("dentist", "Dentist?", "/identity/dentist")
            .help("Name, and where a letter would go; needed for work on the jaw."),
        may("sex-recorded", "Sex as recorded elsewhere?", "/identity/sex_recorded")
            .flag_only()
            .help("As on the papers of others, so that records can be matched."),
        may("gender-wished", "Gender and form of address as wished?", "/identity/gender_wished")
            .help("As the patient says it."),
        may("payer", "Who pays?", "/identity/payer/name").help("Leave it out where the patient pays."),
        may("member-no", "Member number with the payer?", "/identity/payer/member_no")
            .when_has("/identity/payer/name")
            .help("As on the member card."),
        yes_no("no-messages", "Must no messages be left?", "/identity/no_messages")
            .optional()
            .help("yes: speak to the patient alone, and leave nothing on a machine."),
        ask(
            "restrictions",
            "What does the patient ask not to be told, or given to whom?",
            "/identity/restrictions",
            LIST,
        )
        .optional()
        .help("For example: give nothing to my parents. With commas between."),
        may("national-number", "National number?", "/identity/national_number")
            .flag_only()
            .help("Only where the patient gives it and a board asks for it."),
        ask("photo", "Number of the attachment with a photograph?", "/identity/photo", NUMBER)
            .flag_only()
            .help("For telling two people of one name apart."),
    ]
}

/// A person who decides, or may receive records, for the patient.
pub fn guardian() -> Form {
    Form::new([
        line("person-id", "Short name of this person within the chart?", "/person_id")
            .help("Consents quote it: dm-1, dm-2. Keep it when the same person's line changes."),
        line("name", "Name?", "/name").help("Full name, as on the paper that gives the authority."),
        line("relation", "What are they to the patient?", "/relation").help("Mother, father, aunt, agent."),
        ask("born", "Birth date?", "/birth_date", Date).optional().help("A minor cannot decide for another."),
        line("telephone", "Telephone?", "/telephone")
            .optional()
            .help("Where they are reached while the patient is being treated."),
        ask("basis", "What does the authority rest on?", "/basis", OneOf(Basis::WORDS)).help(
            "parent, court-order, power-for-health-care, or none for somebody who only brings the patient.",
        ),
        yes_no("on-file", "Was the paper seen, and is a copy kept?", "/authority_on_file")
            .help("yes only for the paper itself; what was told is no."),
        line("document-seen", "Which paper was seen?", "/document_seen")
            .optional()
            .help("For example: order of joint custody."),
        ask("document", "Number of the attachment with it?", "/document", NUMBER)
            .optional()
            .help("The copy kept in this chart."),
        yes_no("may-consent", "May they consent alone?", "/may_consent")
            .help("Read it in the paper. It is kept apart from the right to receive records."),
        yes_no("may-receive", "May they receive records?", "/may_receive_records")
            .help("A parent may have the one right without the other."),
        ask("starts", "When does the authority start?", "/authority_starts_at", Moment)
            .optional()
            .help("Left out for a parent: since the birth. Any other authority counts only from a start that is named."),
        ask("last-day", "Last day of the authority?", "/authority_last_day", Date)
            .optional()
            .help("For a parent, the day before the patient comes of age. Left out: open."),
        ask("superseded", "When did another authority take its place?", "/superseded_at", Moment)
            .flag_only()
            .help("Where a new paper ended this one."),
        ask("replaces", "Numbers of the entries it takes the place of?", "/supersedes", super::NUMBERS)
            .optional()
            .help("Earlier lines for the same matter; they end when this one starts."),
        line("remark", "Anything else, such as limits?", "/words")
            .optional()
            .help("For example: not for operations; only together with the father."),
    ])
}

/// The allergy and sensitivity review.
pub fn allergies() -> Form {
    Form::new([
        ask("reviewed", "On which day was it reviewed?", "/reviewed_on", Date)
            .or("today")
            .optional()
            .help("The day the patient was asked, also where nothing is new."),
        because(
            "not-reviewed-because",
            "Why was it not reviewed?",
            "/reviewed_on/not_done_because",
            "/reviewed_on",
        ),
        ask("substances", "What was asked about, and is the patient allergic to it?", "/substances", {
            Each(SubstanceStatus::WORDS)
        })
        .help(
            "Ask about latex, other-glove-material, tape-adhesive, lotions-oils-nuts, nickel, heat-cold and \
             medicines. Write latex=allergic, nickel=not-allergic. Only what was asked goes in; unknown \
             where the patient does not know.",
        ),
        ask("reaction", "What happened, for each that needs words?", "/details", Rows(&REACTED))
            .optional()
            .help("For example: substance=latex reaction=lip swelling when=2019."),
        line("told-by", "Who told it, if not the patient?", "/told_by")
            .optional()
            .help("A parent, a letter, another practice."),
    ])
}

const REACTED: RowSpec = RowSpec {
    what: "reaction",
    columns: &[
        must("substance", "/substance", super::WORDS, "as named in the answer before"),
        must("reaction", "/reaction", super::WORDS, "what happened"),
        may("severity", "/severity", OneOf(AllergySeverity::WORDS), "how bad"),
        may("when", "/when", super::WORDS, "as told, like 2019"),
        may("place", "/place", super::WORDS, "where it happened"),
        may("attachment", "/attachment", NUMBER, "number of a picture of it"),
    ],
};

/// Something always to be minded with this patient.
pub fn alert() -> Form {
    Form::new([
        line("kind", "What is to be minded?", "/kind").help(
            "The word the rules use: anticoagulant, pregnancy, osteoporosis, joint-laxity, \
             inflammatory-arthritis, implant-or-fusion, prior-artery-dissection-or-stroke, cancer-history, \
             recent-trauma-or-surgery, jaw-dislocation-history, strong-gag-reflex, trauma-aware-care, \
             pacemaker, or another word.",
        ),
        ask("from", "From which day?", "/from", Date)
            .or("today")
            .help("The day it began to matter; today where that is not known."),
        line("what", "What exactly?", "/words").optional().help("The medicine, the date, the operation."),
        ask("region", "Where does it matter?", "/region", OneOf(Region::WORDS))
            .optional()
            .help("Left out: everywhere."),
        ask("segment", "At which level?", "/segment", Segment)
            .optional()
            .when_has("/region")
            .help("For an implant or fusion."),
        ask("side", "On which side?", "/side", OneOf(Side::WORDS))
            .optional()
            .when_has("/region")
            .help("Left out: it is not a matter of one side."),
        line("told-by", "Who told it?", "/told_by").optional().help("The patient, a relative, a letter."),
        ask("ends", "Does this end an earlier alert? Its number", "/ends", NUMBER)
            .flag_only()
            .help("Its last day is then given with --last-day."),
        ask("last-day", "Last day?", "/until", Date).optional().help("Left out: open."),
    ])
}

/// A doubt about the patient's capacity to decide, its end, a loss, or its return.
pub fn capacity() -> Form {
    Form::new([
        ask("state", "What is stated?", "/state", OneOf(CapacityState::WORDS))
            .help("A doubt is enough to stop and ask; it is resolved with an entry of its own."),
        ask("of", "Number of the doubt this resolves?", "/of", NUMBER)
            .when_is("/state", "doubt-resolved")
            .help("The entry in which the doubt was raised."),
        ask("ends", "Number of the entry this ends?", "/of", NUMBER)
            .optional()
            .when_is("/state", "has-capacity")
            .help("The entry that stated the loss, if there is one."),
        line("seen", "What was seen or heard?", "/words")
            .help("Plain and without judgement: drowsy, slurred speech, did not know the day."),
        line("assessed-by", "Who assessed it?", "/assessed_by").optional().help("Name or staff code."),
        ask("ended", "When did it end, if already known?", "/until", Moment)
            .optional()
            .help("Left out: it still is so."),
    ])
}

/// What becomes of the chart.
pub fn chart_state() -> Form {
    const STATUS: &str = "/status";
    Form::new([
        ask("state", "State of the chart?", STATUS, OneOf(ChartStatus::WORDS))
            .help("closed-continue-at where it goes on in another chart of the same person."),
        line("continue-at", "Number of the chart where it goes on?", "/continue_at")
            .when_is(STATUS, "closed-continue-at")
            .help("The chart that stays in use."),
        ask("died", "Day of death?", "/died_on", Date)
            .when_is(STATUS, "deceased")
            .help("As told; the keep-until date is reckoned from the last treatment."),
        line("told-by", "Who told it?", "/told_by").optional().help("The patient, a relative, a letter."),
        line("remark", "Anything else?", "/words").optional().help("Left out where there is nothing to add."),
    ])
}

/// Two charts turn out to be one person's. Both get this entry; nothing is moved.
pub fn joined() -> Form {
    Form::new([
        ask("direction", "Is this chart left, or does it go on?", "/direction", OneOf(JoinDirection::WORDS))
            .help("continue-at: this one is left. continued-from: this one goes on."),
        line("other", "Number of the other chart?", "/other_chart_no")
            .help("The other chart gets an entry that points back."),
        line("because", "How was it found to be one person?", "/because")
            .help("For example: same birth date and telephone, name spelled by ear."),
        ask("looked-at", "What was looked at when joining, and what was found?", "/checks", LIST)
            .optional()
            .help("Allergies, alerts, interpreter, consents. With commas or semicolons between."),
    ])
}

/// An entry in this chart belongs to another.
pub fn misfiled() -> Form {
    Form::new([
        ask("entry", "Number of the entry that belongs elsewhere?", "/entry", NUMBER)
            .help("As printed beside the entry."),
        ask("found", "When was it found?", "/found_at", Moment)
            .or("now")
            .help("The moment it was noticed, not the moment this is written."),
        line("found-by", "Code of who found it?", "/found_by").help("Staff code."),
        line("because", "How did it come about?", "/because")
            .help("For example: signed with the wrong chart open."),
        line("belongs-to", "Number of the chart it belongs to?", "/belongs_to")
            .optional()
            .help("Leave it out where it may not be said in this chart."),
        yes_no("re-entered", "Was it written again where it belongs?", "/re_entered")
            .optional()
            .help("Write it there first; then it can be said here."),
    ])
}
