//! A visit from opening to closing: who is there, measures, findings, procedures.

use super::super::answer::AnswerKind::{Date, Moment, OneOf, Rows, Segment, Segments, Words};
use super::super::form::{Form, Question, lacks};
use super::super::place;
use super::super::rows::{Column, RowSpec};
use super::{Asks, COUNT, LIST, NUMBER, PAIN, VALUE, ask, asks, because, line, may, must, yes_no};
use crate::record::kinds::attendance::VisitEnd;
use crate::record::kinds::finding::{FindingKind, TestResult};
use crate::record::kinds::procedure::ResponseWord;
use crate::record::kinds::screening::{ChangeKind, MeasureKind, Phase, PlusMinus, Unit};
pub use crate::record::notation::line::usual_unit;
use crate::record::vocab::{Glove, Region, Side, Technique};
use serde_json::Value;

pub use super::note::{finish_note, note};
pub use super::screen::{screen, screen_args, screen_of, screen_start};

pub(super) fn every() -> Vec<Asks> {
    vec![
        asks("visit-open", "visit-opened", visit_open(), &[]),
        asks("visit-identity", "identity-confirmed", visit_identity(), &["/visit"]),
        asks("screen", "screen", screen(), &["/answers", "/visit"]),
        asks("measure", "measure", measure(), &["/visit"]),
        asks("change", "change", change(), &["/visit"]),
        asks("written-reason", "written-reason", written_reason(), &["/visit"]),
        asks("finding", "visit", finding(), &["/no"]),
        asks("procedure", "visit", procedure(), &["/no", "/consent", "/asked"]),
        asks("recheck", "visit", recheck(), &[]),
        asks("visit-close", "visit-closed", visit_close(), &["/visit"]),
    ]
}

/// Where an opening, or what completes it, says what the patient was asked.
const CONFIRMED: &str = "/identity_confirmed/identifiers";

/// Identity is confirmed after the visit was opened.
pub fn visit_identity() -> Form {
    Form::new([
        ask("identifiers", "How was identity confirmed?", CONFIRMED, LIST)
            .offer("full-name, birth-date")
            .help("What the patient was asked."),
        ask("confirmed", "When?", "/identity_confirmed/at", Moment)
            .or("now")
            .help("The moment the patient was asked, also where it is written down later."),
    ])
}

/// A visit is opened: with Enter alone where the practitioner is known to the command.
pub fn visit_open() -> Form {
    Form::new([
        ask("practitioners", "Codes of the practitioners?", "/practitioners", LIST)
            .help("Everybody who will treat; each signs their own part."),
        ask("identifiers", "How was identity confirmed?", CONFIRMED, LIST)
            .optional()
            .offer("full-name, birth-date")
            .help("What the patient was asked. Leave it out with - where it was not confirmed yet."),
        ask("confirmed", "When?", "/identity_confirmed/at", Moment)
            .or("now")
            .when_has(CONFIRMED)
            .help("The moment the patient was asked."),
        line("room", "Which room?", "/room").optional().help("Or other place, as at a patient's home."),
        because("no-room-because", "Why is there no room?", "/room/not_done_because", "/room"),
        line("reason", "Reason for coming, in the patient's words?", "/reason")
            .optional()
            .help("As said at the beginning."),
        ask("present", "Who else is in the room?", "/present", Rows(&PRESENT))
            .optional()
            .help("For example: part=chaperone name=Hattie Lorch."),
        yes_no("first-visit", "Is it the first visit?", "/first_visit")
            .flag_only()
            .help("yes for the first visit of this patient."),
        line("draft-because", "Why can the note not be finished at once?", "/draft_kept_because")
            .flag_only()
            .help("For example: power cut."),
    ])
}

const PRESENT: RowSpec = RowSpec {
    what: "person present",
    columns: &[
        must("part", "/part", Words, "guardian, chaperone, interpreter, son, observer"),
        may("name", "/name", Words, "if known"),
        may("from", "/from", Moment, "left out: from the beginning"),
        may("until", "/until", Moment, "left out: to the end"),
    ],
};

/// A visit is closed.
pub fn visit_close() -> Form {
    Form::new([
        ask("ended", "How did it end?", "/ended", OneOf(VisitEnd::WORDS))
            .or("as-planned")
            .help("not-treated where the patient was seen and nothing was done."),
        line("left-with", "With whom did the patient leave?", "/left_with")
            .optional()
            .help("Needed where the patient was unwell or is a minor."),
        ask("next-visit", "Day of the next visit, if made?", "/next_visit", Date)
            .optional()
            .help("Left out where none was made."),
        line("remark", "Anything else?", "/words").optional().help("Left out where there is nothing to add."),
    ])
}

/// Columns of one measure, at the paths of a measure.
const MEASURED: &[Column] = &[
    must("kind", "/kind", OneOf(MeasureKind::WORDS), "what was measured"),
    must(
        "value",
        "/value",
        super::AnswerKind::Amount,
        "the number; with in, lb or cm behind it where that was read",
    ),
    may("second", "/second_value", VALUE, "lower pressure, or the most a questionnaire can give"),
    may("side", "/side", OneOf(Side::WORDS), "one line for each side"),
    may("unit", "/unit", OneOf(Unit::WORDS), "left out: the usual one of the kind"),
    may("region", "/region", OneOf(Region::WORDS), ""),
    may("segment", "/segment", Segment, ""),
    may("name", "/name", Words, "name of the questionnaire, test or movement"),
    may("plus-minus", "/plus_minus", OneOf(PlusMinus::WORDS), "half a grade, for strength and reflexes"),
    may("active", "/active", super::AnswerKind::YesNo, "yes: active movement; no: passive"),
    may("method", "/method", Words, "how; for mouth opening, whether the overlap was added"),
    may("instrument", "/instrument", Words, ""),
    may("position", "/position", Words, "of the patient"),
    may("typed", "/typed", Words, "as read off, where it was in another unit"),
    may("unusual-because", "/unusual_because", Words, "why an unusual value is right"),
];

/// One line for each measure.
pub const MEASURES: RowSpec = RowSpec { what: "measure", columns: MEASURED };

/// Measures taken. The command puts in missing units with [`fill_units`].
pub fn measure() -> Form {
    Form::new([
        ask("phase", "Before, during or after treatment?", "/phase", OneOf(Phase::WORDS))
            .optional()
            .help("What is measured before is measured again after, in the same way."),
        ask("measures", "What was measured?", "/measures", Rows(&MEASURES))
            .help("For example: kind=mouth-opening-unassisted value=34. kind=jaw-lateral value=6 side=left."),
        line("taken-by", "Code of who took them, if not the author?", "/taken_by")
            .flag_only()
            .help("Staff code."),
    ])
}

/// One measure before, during or after treatment, for the note.
pub fn recheck() -> Form {
    let mut questions = vec![
        ask("phase", "Before, during or after treatment?", "/phase", OneOf(Phase::WORDS))
            .help("What is measured before is measured again after, in the same way."),
        ask("measured", "What was measured?", "/measured/kind", OneOf(MeasureKind::WORDS))
            .help("The same measure before and after, taken in the same way."),
        ask("value", "Which value?", "/measured/value", super::AnswerKind::Amount)
            .help("The number, in the usual unit of the kind."),
        ask("second", "And the second value?", "/measured/second_value", VALUE)
            .when(|answers| {
                let kind = place::get(answers, "/measured/kind").and_then(Value::as_str);
                matches!(kind, Some("blood-pressure" | "questionnaire"))
            })
            .help("The lower pressure, or the most the questionnaire can give."),
        ask("unit", "In which unit?", "/measured/unit", OneOf(Unit::WORDS))
            .or_from(|answers, _| {
                let kind = place::get(answers, "/measured/kind")?.as_str()?;
                usual_unit(MeasureKind::from_word(kind)?).map(|unit| unit.word().to_owned())
            })
            .help("The usual one of the kind is proposed."),
        ask("side", "Which side?", "/measured/side", OneOf(Side::WORDS))
            .optional()
            .help("Needed where the structure has sides, in the patient's own left and right."),
        ask("taken", "When was it taken?", "/at", Moment).optional().or("now").help("The moment itself."),
    ];
    questions.extend(taken_how());
    Form::new(questions)
}

/// How a measure was taken, where that has to be said.
fn taken_how() -> [Question; 11] {
    [
        ask("region", "Which region?", "/measured/region", OneOf(Region::WORDS))
            .flag_only()
            .help("Where the kind leaves it open."),
        ask("segment", "Which segment?", "/measured/segment", Segment)
            .flag_only()
            .help("Where a motion segment, the SI joint or a rib is meant."),
        line("name", "Name of the questionnaire, test or movement?", "/measured/name")
            .optional()
            .when(|answers| {
                let kind = place::get(answers, "/measured/kind").and_then(Value::as_str);
                matches!(kind, Some("questionnaire" | "other-movement" | "other"))
            })
            .help("Named in full, so that another can repeat it."),
        ask("plus-minus", "Half a grade more or less?", "/measured/plus_minus", OneOf(PlusMinus::WORDS))
            .flag_only()
            .help("For strength and reflexes."),
        yes_no("active", "Active movement, not passive?", "/measured/active")
            .flag_only()
            .help("yes: the patient moved; no: it was moved."),
        line("method", "How was it measured?", "/measured/method")
            .optional()
            .help("For mouth opening, whether the overlap of the teeth was added."),
        line("instrument", "Instrument?", "/measured/instrument")
            .flag_only()
            .help("Which, where one was used."),
        line("position", "Position of the patient?", "/measured/position")
            .flag_only()
            .help("Seated, lying, standing."),
        line("typed", "As read off, where it was in another unit?", "/measured/typed")
            .flag_only()
            .help("For example: 98.6 F."),
        yes_no("retyped", "Was an unusual value typed twice?", "/measured/retyped")
            .flag_only()
            .help("yes where it was read and typed again, and came out the same."),
        line("unusual-because", "Why is an unusual value right?", "/measured/unusual_because")
            .flag_only()
            .help("What explains it."),
    ]
}

/// Puts the usual unit into every measure below `value` that states none.
pub fn fill_units(value: &mut Value) {
    match value {
        Value::Array(items) => items.iter_mut().for_each(fill_units),
        Value::Object(map) => {
            let kind = map.get("kind").and_then(Value::as_str).and_then(MeasureKind::from_word);
            let unit = kind.and_then(usual_unit).filter(|_| map.contains_key("value"));
            if let Some(unit) = unit.filter(|_| !map.contains_key("unit")) {
                map.insert("unit".to_owned(), Value::from(unit.word()));
            }
            map.values_mut().for_each(fill_units);
        }
        _ => {}
    }
}

/// Something changed since the last screen.
pub fn change() -> Form {
    Form::new([
        ask("kind", "What changed?", "/kind", OneOf(ChangeKind::WORDS))
            .help("Since the last screen; what was screened before may have to be asked anew."),
        line("told", "What was told?", "/words").help("In the patient's words."),
        ask("happened-on", "On which day did it happen, if known?", "/happened_on", Date)
            .optional()
            .help("Left out where nobody knows."),
    ])
}

/// A reason to go ahead in spite of an alert.
pub fn written_reason() -> Form {
    Form::new([
        ask("alert", "Number of the alert?", "/alert", NUMBER).help("As printed beside the alert."),
        line("because", "Why is it right to go ahead today?", "/words")
            .help("What was weighed, and what is done otherwise than usual."),
    ])
}

/// One finding of the note. The command numbers it.
pub fn finding() -> Form {
    Form::new([
        ask("kind", "What was found?", "/kind", OneOf(FindingKind::WORDS))
            .help("One finding to a line; normal is a finding too."),
        ask("region", "In which region?", "/region", OneOf(Region::WORDS))
            .help("The smallest region that holds all of it."),
        ask("side", "Which side?", "/side", OneOf(Side::WORDS))
            .optional()
            .help("Needed where the structure has sides, in the patient's own left and right."),
        ask("segment", "Which segment?", "/segment", Segment)
            .optional()
            .help("Where a motion segment, the SI joint or a rib is meant."),
        line("structure", "Which structure?", "/structure").optional().help("Masseter, rib joint, disc."),
        line("level", "Single vertebra, where no segment is meant?", "/level")
            .flag_only()
            .help("For example: T6."),
        ask("grade", "Grade?", "/grade", super::AnswerKind::Whole { min: 0, max: 5 })
            .optional()
            .when(is_graded)
            .help("Tenderness and reflex 0 to 4, strength 0 to 5."),
        ask("result", "Result of the test?", "/result", OneOf(TestResult::WORDS))
            .when(is_test)
            .help("equivocal where it was neither."),
        line("words", "In words?", "/words")
            .optional()
            .help("For a restriction, which direction; otherwise what was seen or felt."),
        line("refers-to", "Where does it refer to?", "/refers_to")
            .optional()
            .when_is("/kind", "trigger-point")
            .help("Where the patient feels it when it is pressed."),
        line("method", "Method, or name of the test?", "/method")
            .optional()
            .when(is_test)
            .help("Named in full, so that another can repeat it."),
        line("instrument", "Instrument?", "/instrument").flag_only().help("Which, where one was used."),
        line("position", "Position?", "/position").flag_only().help("Of the patient."),
        ask("measured", "What was measured?", "/measured/kind", OneOf(MeasureKind::WORDS))
            .flag_only()
            .help("Give the value with --value."),
        ask("value", "Which value?", "/measured/value", super::AnswerKind::Amount)
            .flag_only()
            .help("The number; with in, lb or cm behind it where that was read."),
        line("unusual-because", "Why is an unusual value right?", "/measured/unusual_because")
            .flag_only()
            .help("What explains it."),
    ])
}

fn is_graded(answers: &Value) -> bool {
    let kind = place::get(answers, "/kind").and_then(Value::as_str);
    matches!(kind, Some("tenderness" | "strength" | "reflex"))
}

fn is_test(answers: &Value) -> bool {
    let kind = place::get(answers, "/kind").and_then(Value::as_str);
    matches!(kind, Some("ortho-test" | "neuro-test"))
}

fn in_mouth(answers: &Value) -> bool {
    let word = |path| place::get(answers, path).and_then(Value::as_str);
    let region = word("/region").and_then(Region::from_word);
    word("/technique") == Some(Technique::Intraoral.word()) || region.is_some_and(Region::is_in_mouth)
}

/// One procedure of the note. The command numbers it, and puts in the consent and the answer
/// it rests on.
pub fn procedure() -> Form {
    let mut questions = vec![
        ask("technique", "What was done?", "/technique", OneOf(Technique::WORDS))
            .help("One technique to a procedure."),
        ask("region", "In which region?", "/region", OneOf(Region::WORDS))
            .help("The smallest region that holds all of it."),
        ask("side", "Which side?", "/side", OneOf(Side::WORDS))
            .optional()
            .help("Needed where the structure has sides, in the patient's own left and right."),
        ask("segments", "Which segments?", "/segments", Segments { all: false })
            .optional()
            .help("A thrust or joint mobilization goes to one; soft tissue may go over several."),
        ask("begun", "When was it begun?", "/at", Moment)
            .or("now")
            .help("The moment itself; it is compared with the consent and the answer it rests on."),
        line("done-by", "Code of who did it?", "/done_by").help("The one whose hands did it."),
        ask("gloves", "Which gloves?", "/gloves/material", OneOf(Glove::WORDS))
            .when(|answers| in_mouth(answers) && lacks(answers, "/gloves_not_recorded_because"))
            .help("The material; it is compared with the allergies."),
        yes_no("fresh-pair", "Was a fresh pair put on?", "/gloves/fresh_pair")
            .when_has("/gloves/material")
            .help("Before this procedure, after anything else was touched."),
        ask("response", "How was it borne?", "/response/word", OneOf(ResponseWord::WORDS))
            .optional()
            .help("tolerated, sore, relieved, dizzy, no-change, worse, or other."),
        because("no-response-because", "Why was it not asked?", "/response/not_done_because", "/response"),
        ask("pain", "Pain afterwards, 0 to 10?", "/response/pain", PAIN)
            .optional()
            .when_has("/response/word")
            .help("As the patient says it."),
        line("response-words", "The response in words?", "/response/words")
            .flag_only()
            .help("Needed for other; welcome otherwise."),
    ];
    questions.extend(dose());
    Form::new(questions)
}

fn dose() -> [Question; 15] {
    let rare = |flag, question, path| line(flag, question, path).flag_only();
    [
        line("structure", "Which structure?", "/structure").optional().help("Masseter, rib joint."),
        line("grade", "Grade?", "/grade").optional().when_is("/technique", "mobilization").help("Like III."),
        rare("direction", "Direction?", "/direction").help("Of the force."),
        rare("contact", "Contact?", "/contact").help("Which part of the hand, and where."),
        ask("passes", "How many passes?", "/passes", COUNT).flag_only().help("For soft tissue and taping."),
        ask("seconds", "How many seconds?", "/seconds", COUNT).flag_only().help("For holds and traction."),
        line("position", "Position?", "/position").optional().help("face-down, face-up, seated, side-lying."),
        rare("instrument", "Instrument?", "/instrument").help("Which, where one was used."),
        ask("products", "Lotion, tape and the like?", "/products", LIST)
            .optional()
            .when(|answers| {
                let technique = place::get(answers, "/technique").and_then(Value::as_str);
                matches!(technique, Some("soft-tissue" | "taping"))
            })
            .help("Named as in the allergy review, so that a conflict is seen."),
        yes_no("sound", "Was a joint sound heard?", "/cavitation_heard")
            .flag_only()
            .help("It says nothing about success."),
        rare("span-from", "Upper level of a stretch of soft tissue?", "/span/from")
            .help("For example: occiput. Not for joints."),
        rare("span-to", "Lower level of it?", "/span/to").help("For example: C2."),
        ask("stopped-at", "When was it stopped, if it was?", "/stopped_at", Moment)
            .flag_only()
            .help("The moment itself."),
        rare("stopped-because", "Why was it stopped?", "/stopped_because").help("For example: raised hand."),
        rare(
            "gloves-not-recorded-because",
            "Why are the gloves not recorded?",
            "/gloves_not_recorded_because",
        )
        .help("In the mouth, where none were worn or nobody remembers."),
    ]
}

/// Techniques, regions and sides planned or asked for, and not done.
pub const DEFERRED: RowSpec = RowSpec {
    what: "thing not done",
    columns: &[
        must("technique", "/technique", OneOf(Technique::WORDS), ""),
        must("region", "/region", OneOf(Region::WORDS), ""),
        must("because", "/because", Words, "why it was not done"),
        may("side", "/side", OneOf(Side::WORDS), ""),
        may("segments", "/segments", Segments { all: false }, ""),
    ],
};
