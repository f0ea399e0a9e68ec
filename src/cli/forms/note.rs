//! The note of a visit: what was told, thought, advised and planned. Findings, procedures and
//! measures are asked one by one with forms of their own and put in by the command.

use super::super::answer::AnswerKind::{Date, Moment, OneOf, Rows, Segments, Words, YesNo};
use super::super::form::{BECAUSE, Form, Question, lacks};
use super::super::place;
use super::super::rows::RowSpec;
use super::visit::{DEFERRED, fill_units};
use super::{Asks, COUNT, LIST, NUMBER, NUMBERS, PAIN, ask, asks, because, line, lines, may, must, yes_no};
use crate::record::kinds::visit::{CheckQuestion, Severity, VisitSort};
use crate::record::review::sheet::fill_gaps;
use crate::record::vocab::{Region, Side};
use serde_json::Value;

pub(super) fn every() -> Vec<Asks> {
    vec![asks(
        "note",
        "visit",
        note(),
        &[
            "/visit",
            "/findings",
            "/procedures",
            "/measures",
            "/agreed",
            "/missing_acknowledged",
            "/same_as_last_percent",
            "/not_done",
            "/answered",
        ],
    )]
}

/// The remaining parts of a note, in the order of the visit. The command puts findings,
/// procedures, measures and the numbers of what was agreed into the answers before it asks, and
/// calls [`finish_note`] on them afterwards.
pub fn note() -> Form {
    let mut questions = told();
    questions.extend(history());
    questions.extend(thought());
    questions.extend(within());
    questions.extend(advised());
    questions.extend(planned());
    questions.extend(for_payers());
    Form::new(questions)
}

fn told() -> Vec<Question> {
    vec![
        ask("sort", "First visit, later visit or re-examination?", "/sort", OneOf(VisitSort::WORDS))
            .or("later")
            .help("A first visit and a re-examination ask for the history as well."),
        ask("practitioners", "Codes of the practitioners?", "/practitioners", LIST)
            .help("Everybody who treated."),
        lines("changed", "What changed since the last visit?", "/changed_since_last")
            .optional()
            .help("Better, worse, new; also what happened in between."),
        because(
            "changed-not-asked-because",
            "Why was that not asked?",
            "/changed_since_last/not_done_because",
            "/changed_since_last",
        )
        .help("On a first visit: there was none before."),
        ask("complaints", "Complaints?", "/complaints", Rows(&COMPLAINT))
            .optional()
            .help("One line each, with the pain now: words=jaw pain pain=5 side=right."),
        line("medicines-changed", "Medicines changed?", "/medicines_changed")
            .optional()
            .help("Which, since when."),
        line("allergy-changed", "Allergies changed?", "/allergy_changed")
            .optional()
            .help("What is new; record it in the allergy review too."),
        ask("screens", "Numbers of the screens relied on?", "/screens", NUMBERS)
            .optional()
            .help("As printed when the screens were kept."),
        line("no-screen-because", "Why was a screen not done?", "/screens_not_done_because")
            .optional()
            .when_lacks("/screens")
            .help("Left out where none was needed."),
    ]
}

const COMPLAINT: RowSpec = RowSpec {
    what: "complaint",
    columns: &[
        must("words", "/words", Words, "the complaint, in the patient's words"),
        must("pain", "/pain_now", PAIN, "now, 0 to 10; where it cannot be told, give the reason with --data"),
        may("worst", "/pain_worst", PAIN, "the worst since last time"),
        may("region", "/region", OneOf(Region::WORDS), ""),
        may("side", "/side", OneOf(Side::WORDS), ""),
        may("site", "/site", Words, "exactly where: in front of the ear"),
        may("quality", "/quality", Words, "dull, sharp, burning"),
        may("frequency", "/frequency", Words, ""),
        may("radiation", "/radiation", Words, "where it spreads"),
        may("onset", "/onset", Words, "when and how it began"),
        may("mechanism", "/mechanism", Words, ""),
        may("aggravating", "/aggravating", Words, "what makes it worse"),
        may("relieving", "/relieving", Words, "what eases it"),
        may("earlier-care", "/earlier_care", Words, ""),
    ],
};

fn history() -> Vec<Question> {
    let part = |flag, question, path| {
        line(flag, question, path)
            .optional()
            .when(|answers| place::get(answers, "/sort").and_then(Value::as_str) != Some("later"))
    };
    vec![
        part("illness", "Illnesses and operations?", "/history/illness").help("With the years."),
        part("injuries", "Injuries?", "/history/injuries").help("With the years, and what was hurt."),
        part("medicines", "Medicines?", "/history/medicines")
            .help("With the doses, blood thinners above all."),
        part("family", "Illness in the family?", "/history/family").help("What bears on this care."),
        part("social", "Work, sport, instrument, habits?", "/history/social")
            .help("What bears on this care."),
        part("earlier-care", "Earlier care, and its result?", "/history/earlier_care")
            .help("By whom, for what, and what came of it."),
        ask("sources", "Numbers of the sheets or papers it was taken from?", "/history/sources", NUMBERS)
            .flag_only()
            .help("The scanned sheet in the patient's own hand is worth keeping beside it."),
    ]
}

fn thought() -> Vec<Question> {
    vec![
        line("no-findings-because", "Why are there no findings?", "/findings/not_done_because")
            .when_lacks("/findings")
            .help("Every region treated needs a finding of that day."),
        ask("diagnoses", "Working diagnoses?", "/assessment/diagnoses", Rows(&DIAGNOSIS))
            .optional()
            .help("One line each: words=... basis=what it rests on."),
        ask("considered", "What was considered, and how was it ruled out?", "/assessment/considered", {
            Rows(&CONSIDERED)
        })
        .optional()
        .help("One line each: what=... ruled-out-by=..."),
        line("compared", "Change against last time?", "/assessment/change_since_last")
            .optional()
            .help("Better, same, worse, and by which measure."),
        line("tolerance", "How is treatment tolerated?", "/assessment/tolerance")
            .optional()
            .help("So far, over the course."),
        line("risk-remark", "Remark on risk?", "/assessment/risk_remark")
            .optional()
            .help("What is minded with this patient."),
        because(
            "no-assessment-because",
            "Why is there no assessment?",
            "/assessment/not_done_because",
            "/assessment",
        ),
        line("agreed-words", "Remark on what was agreed?", "/agreed/words")
            .optional()
            .help("Consents and answers are pointed to by number; only what they do not say goes here."),
    ]
}

const DIAGNOSIS: RowSpec = RowSpec {
    what: "working diagnosis",
    columns: &[
        must("words", "/words", Words, "in words"),
        must("basis", "/basis", Words, "what it rests on"),
        may("region", "/region", OneOf(Region::WORDS), ""),
        may("side", "/side", OneOf(Side::WORDS), ""),
    ],
};

const CONSIDERED: RowSpec = RowSpec {
    what: "thing considered",
    columns: &[
        must("what", "/what", Words, ""),
        may("ruled-out-by", "/ruled_out_by", Words, "left out: still open"),
    ],
};

fn within() -> Vec<Question> {
    vec![
        ask("deferred", "What was planned or asked for, and not done?", "/deferred", Rows(&DEFERRED))
            .optional()
            .help("For example: technique=thrust region=cervical because=declined today."),
        ask("checks", "What was asked while treating?", "/checks", Rows(&CHECK))
            .optional()
            .help("For example: time=10:16 question=comfort number=3 done=less pressure."),
        line(
            "no-recheck-because",
            "Why was nothing measured before and after?",
            "/reassessment_not_done_because",
        )
        .optional()
        .when_lacks("/measures")
        .help("Needed after a thrust or work inside the mouth."),
        ask("adverse", "Adverse responses?", "/adverse", Rows(&ADVERSE))
            .optional()
            .help("Left out where there were none. One that goes on gets an entry of its own."),
    ]
}

const CHECK: RowSpec = RowSpec {
    what: "check",
    columns: &[
        must("time", "/at", Moment, "when"),
        must("question", "/question", OneOf(CheckQuestion::WORDS), "what was asked"),
        may("number", "/number", PAIN, "0 to 10"),
        may("words", "/words", Words, "what was answered"),
        may("done", "/action", Words, "what was done"),
    ],
};

const ADVERSE: RowSpec = RowSpec {
    what: "adverse response",
    columns: &[
        must("what", "/what", Words, "what happened"),
        must("severity", "/severity", OneOf(Severity::WORDS), "how bad"),
        must("done", "/action", Words, "what was done"),
        must("outcome", "/outcome", Words, "how it went on"),
        may("minutes", "/onset_minutes", COUNT, "after the procedure"),
        may("procedures", "/procedures", NUMBERS, "their numbers within this note"),
        may("follow-up", "/follow_up_due", Date, "due on"),
        may("closed", "/closed_at", Moment, "when"),
        may("reaction", "/reaction", NUMBER, "number of its own entry"),
    ],
};

fn advised() -> Vec<Question> {
    vec![
        lines("advice", "What was advised?", "/advice/words").optional().help("In the words used."),
        ask("sheets", "Which sheets were given?", "/advice/sheets", Rows(&SHEET))
            .optional()
            .help("For example: sheet=J2 edition=1."),
        line("heat-or-ice", "Heat or ice?", "/advice/heat_or_ice")
            .optional()
            .help("Which, how long, how often."),
        line("activity", "Activity?", "/advice/activity").optional().help("What to do and what to leave."),
        line("diet", "Food?", "/advice/diet").optional().help("For the jaw: soft food, small bites."),
        line("watch-for", "What to watch for, and whom to call?", "/advice/watch_for")
            .optional()
            .help("Needed whenever something was done: which signs, and the number to call."),
        line(
            "no-watch-for-because",
            "Why was it not said what to watch for?",
            "/advice/watch_for/not_done_because",
        )
        .when(|answers| advice_given(answers) && lacks(answers, "/advice/watch_for"))
        .help("A reason is kept in the place of a blank."),
        line("no-advice-because", "Why was nothing advised?", "/advice/not_done_because")
            .when(|answers| !advice_given(answers) && lacks(answers, "/advice/watch_for"))
            .help("A reason is kept in the place of a blank."),
    ]
}

/// True where something was advised, beside what to watch for.
fn advice_given(answers: &Value) -> bool {
    let advice = place::get(answers, "/advice").and_then(Value::as_object);
    advice.is_some_and(|advice| {
        advice.iter().any(|(name, value)| name != "watch_for" && name != BECAUSE && !value.is_null())
    })
}

const SHEET: RowSpec = RowSpec {
    what: "sheet",
    columns: &[
        must("sheet", "/sheet", Words, "its code, like J2"),
        must("edition", "/edition", Words, "its edition"),
    ],
};

fn planned() -> Vec<Question> {
    const STEP: &str = "/plan/next_step";
    vec![
        line("plan", "What is the next step?", STEP).optional().help("For example: again in a week."),
        because("no-plan-because", "Why is there no plan?", "/plan/not_done_because", "/plan"),
        line("frequency", "How often?", "/plan/frequency")
            .optional()
            .when_has(STEP)
            .help("For example: weekly."),
        line("duration", "For how long?", "/plan/duration")
            .optional()
            .when_has(STEP)
            .help("For example: three weeks."),
        ask("goals", "Goals, with a measure and a date?", "/plan/goals", Rows(&GOAL))
            .optional()
            .when_has(STEP)
            .help("A goal without a measure is the first thing an audit strikes."),
        ask("re-examine", "Day of the next re-examination?", "/plan/re_examine_on", Date)
            .optional()
            .when_has(STEP)
            .help("It is listed when it is due."),
        ask("referral", "Number of the referral?", "/plan/referral", NUMBER)
            .flag_only()
            .help("As printed when the referral was kept."),
        line(
            "finished-later-because",
            "Why was the note finished later, if it was?",
            "/finished_later_because",
        )
        .flag_only()
        .help("For example: power cut at 17:34."),
        lines("remark", "Anything else?", "/words")
            .optional()
            .help("Left out where there is nothing to add."),
    ]
}

const GOAL: RowSpec = RowSpec {
    what: "goal",
    columns: &[
        must("words", "/words", Words, "the goal"),
        may("measure", "/measure", Words, "what it is measured by"),
        may("target", "/target", Words, "the value aimed at"),
        may("by", "/by", Date, "by which day"),
    ],
};

fn for_payers() -> Vec<Question> {
    let seen = |flag, question, path| yes_no(flag, question, path).flag_only();
    vec![
        ask("codes", "Codes, as typed?", "/codes", Rows(&CODE))
            .flag_only()
            .help("For billing; no descriptions are kept."),
        seen("part-pain", "Pain or tenderness, for the payer?", "/payer/pain_or_tenderness")
            .help("Found today."),
        seen("part-asymmetry", "Asymmetry?", "/payer/asymmetry").help("Found today."),
        seen("part-range", "Range of motion?", "/payer/range_of_motion").help("Found abnormal today."),
        seen("part-tone", "Tissue tone?", "/payer/tissue_tone").help("Found changed today."),
        ask("xray-on", "Day of an X-ray used instead?", "/payer/xray_on", Date)
            .flag_only()
            .help("Where the payer takes one in the place of findings."),
        ask("course-started", "Day the course of treatment started?", "/payer/treatment_started_on", Date)
            .flag_only()
            .help("The first treatment for this complaint."),
        ask("levels", "Levels treated, for the payer?", "/payer/level", Segments { all: false })
            .flag_only()
            .help("As segments."),
        line("payer-words", "Other items a payer asks for?", "/payer/words").flag_only().help("As typed."),
        ask("carried", "Parts taken over from an earlier note?", "/carried_forward", Rows(&CARRIED))
            .flag_only()
            .help("Each is marked for ever as taken over."),
    ]
}

const CODE: RowSpec = RowSpec {
    what: "code",
    columns: &[
        must("code", "/code", Words, "as typed"),
        may("system", "/system", Words, "which list it is from"),
        may("procedures", "/for_procedures", NUMBERS, "their numbers within this note"),
        may("units", "/units", COUNT, ""),
    ],
};

const CARRIED: RowSpec = RowSpec {
    what: "part taken over",
    columns: &[
        must("entry", "/from_entry", NUMBER, "number of the earlier note"),
        must("field", "/field", Words, "which part, like /plan"),
        must("checked", "/checked", YesNo, "looked through, and still right today"),
    ],
};

/// Numbers the complaints, findings and procedures that have no number, from 1 on and without
/// using one twice, puts in the usual units, takes a reason why something was left out away from what
/// was answered since, and says that nothing was pointed to where no pointer to what was agreed is there.
pub fn finish_note(note: &mut Value) {
    for list in ["complaints", "findings", "procedures"] {
        if let Some(items) = note.get_mut(list).and_then(Value::as_array_mut) {
            number(items);
        }
    }
    fill_units(note);
    if let Some(note) = note.as_object_mut() {
        for (name, part) in note.iter_mut() {
            answered_after_all(name, part);
        }
        note.entry("agreed").or_insert_with(|| Value::Object(serde_json::Map::new()));
    }
}

/// Where a part has an answer beside the reason why there was none, the reason is left to what the answer lacks.
fn answered_after_all(name: &str, part: &mut Value) {
    let Some(fields) = part.as_object_mut().filter(|fields| fields.len() > 1) else { return };
    let Some(because) = fields.shift_remove(BECAUSE) else { return };
    let mut alone = serde_json::json!({ name: part });
    fill_gaps(&mut alone, because.as_str().unwrap_or_default());
    *part = alone[name].take();
}

fn number(items: &mut [Value]) {
    let mut next = items.iter().filter_map(|item| item.get("no")?.as_u64()).max().unwrap_or(0) + 1;
    for item in items.iter_mut().filter_map(Value::as_object_mut) {
        if !item.contains_key("no") {
            item.insert("no".to_owned(), Value::from(next));
            next += 1;
        }
    }
}
