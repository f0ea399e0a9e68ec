//! Who the patient is, who decides, what is always to be minded, and what becomes of the chart.

use super::super::answer::AnswerKind::{Date, Each, ManyOf, Moment, OneOf, Rows, Segment, Whole};
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

pub(super) fn every() -> Vec<Asks> {
    vec![
        asks("patient", "chart-opened", patient(), &["/like_charts"]),
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
            .or("licence-card, birth-date")
            .help("Papers seen and details asked: licence-card, passport, birth-date, address."),
        yes_no(
            "looked-for-same-name",
            "Were charts with the same name and birth date looked for?",
            "/same_name_looked_for",
        )
        .help("One person with two charts is treated on half a record. No chart is opened without looking."),
        ask("links", "Other charts that belong with this one?", "/links", Rows(&LINK))
            .optional()
            .help("An old paper chart, a duplicate, the same household."),
        line("opened-because", "Why is it opened, where that is not plain?", "/opened_because").optional(),
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
        ask("address", "Postal address?", "/identity/address", super::WORDS).optional(),
        ask("telephones", "Telephone numbers?", "/identity/telephones", LIST)
            .optional()
            .help("With commas between."),
        line("email", "E-mail address?", "/identity/email").optional(),
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
            .when_has(CONTACT),
        because(
            "no-emergency-contact-because",
            "Why is there nobody to call?",
            "/identity/emergency_contact/not_done_because",
            "/identity/emergency_contact",
        ),
        ask("privacy-notice", "Was the privacy notice given?", NOTICE, OneOf(NoticeStatus::WORDS))
            .or("given")
            .help("Given, refused by the patient, or not given."),
        ask("privacy-on", "On which day?", "/identity/privacy_notice/on", Date)
            .or("today")
            .optional()
            .when_is(NOTICE, "given"),
        line("privacy-edition", "Which edition of the notice?", "/identity/privacy_notice/wording")
            .optional()
            .when_is(NOTICE, "given")
            .help("The code printed on the sheet."),
        line("privacy-because", "Why was it refused or not given?", "/identity/privacy_notice/words")
            .optional()
            .when(|answers| {
                place::get(answers, NOTICE).and_then(Value::as_str).is_some_and(|word| word != "given")
            }),
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
        may("goes-by", "Name the patient goes by?", "/identity/chosen_name"),
        ask("former-names", "Former names and other spellings?", "/identity/former_names", LIST)
            .optional()
            .help("For finding the chart again. With commas between."),
        may("occupation", "Occupation?", "/identity/occupation"),
        may("sport", "Sport?", "/identity/sport"),
        may("instrument", "Instrument played?", "/identity/instrument")
            .help("Matters for the jaw, the neck and the shoulders."),
        may("physician", "Family doctor?", "/identity/physician"),
        may("dentist", "Dentist?", "/identity/dentist"),
        may("sex-recorded", "Sex as recorded elsewhere?", "/identity/sex_recorded").flag_only(),
        may("gender-wished", "Gender and form of address as wished?", "/identity/gender_wished"),
        may("payer", "Who pays?", "/identity/payer/name").help("Leave it out where the patient pays."),
        may("member-no", "Member number with the payer?", "/identity/payer/member_no")
            .when_has("/identity/payer/name"),
        yes_no("no-messages", "Must no messages be left?", "/identity/no_messages").optional(),
        ask(
            "restrictions",
            "What does the patient ask not to be told, or given to whom?",
            "/identity/restrictions",
            LIST,
        )
        .optional(),
        may("national-number", "National number?", "/identity/national_number")
            .flag_only()
            .help("Only where the patient gives it and a board asks for it."),
        ask("photo", "Number of the attachment with a photograph?", "/identity/photo", NUMBER).flag_only(),
    ]
}

/// Fields of the identity that can change, as the record names them.
pub const CHANGEABLE: &[&str] = &[
    "legal_name",
    "birth_date",
    "address",
    "telephones",
    "email",
    "second_identifier",
    "preferred_channel",
    "language",
    "interpreter_language",
    "emergency_contact",
    "privacy_notice",
    "decision_maker",
    "chosen_name",
    "former_names",
    "occupation",
    "sport",
    "instrument",
    "physician",
    "dentist",
    "sex_recorded",
    "gender_wished",
    "payer",
    "no_messages",
    "restrictions",
    "national_number",
    "photo",
];

/// A change of the identity. Only what changed is asked; [`with_identity`] puts the rest of the
/// identity as it stood beside it.
pub fn identity() -> Form {
    let changed = ask("changed", "What changed?", "/changed", ManyOf { choices: CHANGEABLE, all: false })
        .or_from(|answers, _| {
            let given = place::get(answers, "/identity")?.as_object()?;
            let names: Vec<&str> = given.keys().map(String::as_str).collect();
            (!names.is_empty()).then(|| names.join(", "))
        })
        .help("Name every detail that changed; each is then asked.");
    let mut questions = vec![
        changed,
        line("because", "Why?", "/because").help("Moved, married, wrong spelling, of age."),
        line("told-by", "Who said so?", "/told_by").or("the patient"),
    ];
    let opening = patient().questions;
    questions.extend(opening.into_iter().filter_map(|question| {
        let field = question.path.strip_prefix("/identity/")?.split('/').next()?;
        let field = CHANGEABLE.iter().find(|known| **known == field)?;
        Some(only_if_changed(question, field))
    }));
    Form::new(questions)
}

/// A question that is asked only where its field changed. What is first in its field is asked
/// whenever the field changed; what follows from it keeps the condition it has.
fn only_if_changed(mut question: Question, field: &'static str) -> Question {
    if question.when.is_some() {
        // "Why is there nobody to call?" must not come up where the contact did not change.
        return match question.path {
            "/identity/emergency_contact/not_done_because" => {
                question.when(|answers| is_changed(answers, "emergency_contact") && lacks_contact(answers))
            }
            "/identity/birth_date/estimated_year" => question.when(|answers| {
                is_changed(answers, "birth_date")
                    && place::get(answers, "/identity/birth_date/date").is_none()
            }),
            _ => question,
        };
    }
    // The defaults of an opening are no news about a change.
    if matches!(question.path, "/identity/language" | "/identity/decision_maker") {
        question.default = None;
    }
    question.when_lists("/changed", field)
}

fn is_changed(answers: &Value, field: &str) -> bool {
    place::get(answers, "/changed")
        .and_then(Value::as_array)
        .is_some_and(|list| list.iter().any(|item| item.as_str() == Some(field)))
}

fn lacks_contact(answers: &Value) -> bool {
    super::super::form::lacks(answers, "/identity/emergency_contact")
}

/// Completes the answers of [`identity`] to the whole identity as it stands from now on: `before`
/// is the identity so far. A changed detail that was left out is taken away.
pub fn with_identity(answers: &mut Value, before: &Value) {
    let mut whole = before.as_object().cloned().unwrap_or_default();
    let given = place::take(answers, "/identity");
    let given = given.as_ref().and_then(Value::as_object);
    for field in CHANGEABLE.iter().filter(|field| is_changed(answers, field)) {
        match given.and_then(|given| given.get(*field)) {
            Some(value) => whole.insert((*field).to_owned(), value.clone()),
            None => whole.shift_remove(*field),
        };
    }
    if let Some(data) = answers.as_object_mut() {
        data.insert("identity".to_owned(), Value::Object(whole));
    }
}

/// A person who decides, or may receive records, for the patient.
pub fn guardian() -> Form {
    Form::new([
        line("person-id", "Short name of this person within the chart?", "/person_id")
            .help("Consents quote it: dm-1, dm-2. Keep it when the same person's line changes."),
        line("name", "Name?", "/name"),
        line("relation", "What are they to the patient?", "/relation").help("Mother, father, aunt, agent."),
        ask("born", "Birth date?", "/birth_date", Date).optional().help("A minor cannot decide for another."),
        line("telephone", "Telephone?", "/telephone").optional(),
        ask("basis", "What does the authority rest on?", "/basis", OneOf(Basis::WORDS)).help(
            "parent, court-order, power-for-health-care, or none for somebody who only brings the patient.",
        ),
        yes_no("on-file", "Was the paper seen, and is a copy kept?", "/authority_on_file"),
        line("document-seen", "Which paper was seen?", "/document_seen").optional(),
        ask("document", "Number of the attachment with it?", "/document", NUMBER).optional(),
        yes_no("may-consent", "May they consent alone?", "/may_consent")
            .help("Read it in the paper. It is kept apart from the right to receive records."),
        yes_no("may-receive", "May they receive records?", "/may_receive_records"),
        ask("starts", "When does the authority start?", "/authority_starts_at", Moment)
            .optional()
            .help("Leave it out where no start is known."),
        ask("last-day", "Last day of the authority?", "/authority_last_day", Date)
            .optional()
            .help("For a parent, the day before the patient comes of age. Left out: open."),
        ask("superseded", "When did another authority take its place?", "/superseded_at", Moment).flag_only(),
        ask("replaces", "Numbers of the entries it takes the place of?", "/supersedes", super::NUMBERS)
            .optional(),
        line("remark", "Anything else, such as limits?", "/words").optional(),
    ])
}

/// The allergy and sensitivity review.
pub fn allergies() -> Form {
    Form::new([
        ask("reviewed", "On which day was it reviewed?", "/reviewed_on", Date).or("today").optional(),
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
        ask("reaction", "What happened, for each that needs words?", "/details", Rows(&REACTED)).optional(),
        line("told-by", "Who told it, if not the patient?", "/told_by").optional(),
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
        ask("from", "From which day?", "/from", Date).or("today"),
        line("what", "What exactly?", "/words").optional().help("The medicine, the date, the operation."),
        ask("region", "Where does it matter?", "/region", OneOf(Region::WORDS))
            .optional()
            .help("Left out: everywhere."),
        ask("segment", "At which level?", "/segment", Segment).optional().when_has("/region"),
        ask("side", "On which side?", "/side", OneOf(Side::WORDS)).optional().when_has("/region"),
        line("told-by", "Who told it?", "/told_by").optional(),
        ask("ends", "Does this end an earlier alert? Its number", "/ends", NUMBER).flag_only(),
        ask("last-day", "Last day?", "/until", Date).optional().help("Left out: open."),
    ])
}

/// A doubt about the patient's capacity to decide, its end, a loss, or its return.
pub fn capacity() -> Form {
    Form::new([
        ask("state", "What is stated?", "/state", OneOf(CapacityState::WORDS)),
        ask("of", "Number of the doubt this resolves?", "/of", NUMBER).when_is("/state", "doubt-resolved"),
        ask("ends", "Number of the entry this ends?", "/of", NUMBER)
            .optional()
            .when_is("/state", "has-capacity"),
        line("seen", "What was seen or heard?", "/words")
            .help("Plain and without judgement: drowsy, slurred speech, did not know the day."),
        line("assessed-by", "Who assessed it?", "/assessed_by").optional(),
        ask("ended", "When did it end, if already known?", "/until", Moment).optional(),
    ])
}

/// What becomes of the chart.
pub fn chart_state() -> Form {
    const STATUS: &str = "/status";
    Form::new([
        ask("state", "State of the chart?", STATUS, OneOf(ChartStatus::WORDS)),
        line("continue-at", "Number of the chart where it goes on?", "/continue_at")
            .when_is(STATUS, "closed-continue-at"),
        ask("died", "Day of death?", "/died_on", Date).when_is(STATUS, "deceased"),
        line("told-by", "Who told it?", "/told_by").optional(),
        line("remark", "Anything else?", "/words").optional(),
    ])
}

/// Two charts turn out to be one person's. Both get this entry; nothing is moved.
pub fn joined() -> Form {
    Form::new([
        ask("direction", "Is this chart left, or does it go on?", "/direction", OneOf(JoinDirection::WORDS))
            .help("continue-at: this one is left. continued-from: this one goes on."),
        line("other", "Number of the other chart?", "/other_chart_no"),
        line("because", "How was it found to be one person?", "/because"),
        ask("looked-at", "What was looked at when joining, and what was found?", "/checks", LIST)
            .optional()
            .help("Allergies, alerts, interpreter, consents. With commas or semicolons between."),
    ])
}

/// An entry in this chart belongs to another.
pub fn misfiled() -> Form {
    Form::new([
        ask("entry", "Number of the entry that belongs elsewhere?", "/entry", NUMBER),
        ask("found", "When was it found?", "/found_at", Moment).or("now"),
        line("found-by", "Code of who found it?", "/found_by"),
        line("because", "How did it come about?", "/because"),
        line("belongs-to", "Number of the chart it belongs to?", "/belongs_to")
            .optional()
            .help("Leave it out where it may not be said in this chart."),
        yes_no("re-entered", "Was it written again where it belongs?", "/re_entered").optional(),
    ])
}
