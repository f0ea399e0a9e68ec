//! What happens within a visit, minute by minute, each in a line or two.

use super::rows::{Row, given_row, maybe, spoken, word};
use super::words::{self, NOT_RECORDED, capital, spaced};
use crate::record::kinds::Data;
use crate::record::kinds::attendance::{
    CoverageAnswer, IdentityConfirmed, RequestedSide, VisitClosed, VisitOpened,
};
use crate::record::kinds::identity::Misfiled;
use crate::record::kinds::screening::{ItemAnswer, Measure, Screen, ScreenAnswer};
use crate::record::kinds::withdrawal::{
    Asked, AskedAnswer, ConditionMet, How, Pause, StandingRefusal, Withdrawal,
};
use crate::record::vocab::{Region, Side, Technique};

/// The rows of the kinds that have a view of their own here; none for the others.
pub fn rows(data: &Data) -> Option<Vec<Row>> {
    Some(match data {
        Data::Asked(asked) => asked_rows(asked),
        Data::Pause(pause) => pause_rows(pause),
        Data::Withdrawal(withdrawal) => withdrawal_rows(withdrawal),
        Data::StandingRefusal(refusal) => refusal_rows(refusal),
        Data::Misfiled(mark) => misfiled_rows(mark),
        Data::Screen(screen) => screen_rows(screen),
        Data::Measure(measure) => measure_rows(measure),
        Data::ConditionMet(met) => condition_rows(met),
        Data::VisitOpened(opened) => opened_rows(opened),
        Data::VisitClosed(closed) => closed_rows(closed),
        Data::IdentityChecked(checked) => vec![identity(&checked.identity_confirmed)],
        Data::CoverageAnswer(answer) => coverage_rows(answer),
        _ => return None,
    })
}

fn asked_rows(asked: &Asked) -> Vec<Row> {
    let mut place = vec![words::region(asked.region), words::side(asked.side).to_string()];
    if !asked.segments.is_empty() {
        place.insert(1, words::list(&asked.segments, words::segment));
    }
    let what = format!("{} - {}", capital(&words::technique(asked.technique)), place.join(", "));
    let answer = match asked.answer {
        AskedAnswer::Yes => "YES".to_string(),
        AskedAnswer::No => "NO".to_string(),
        AskedAnswer::YesWithLimit => {
            format!("YES, WITH A LIMIT: {}", asked.limit_words.as_deref().unwrap_or(NOT_RECORDED))
        }
    };
    let mut who = vec![format!("asked by {}", asked.asked_by)];
    who.extend(asked.heard_by.as_ref().map(|by| format!("heard by {by}")));
    who.extend(asked.answered_by.as_ref().map(|by| format!("answered by {}", words::giver(by))));
    let mut rows =
        vec![Row::new("May I?", what), Row::new("Answer", format!("{answer} ({})", who.join("; ")))];
    if asked.answer != AskedAnswer::YesWithLimit {
        maybe(&mut rows, "Limit", asked.limit_words.as_ref());
    }
    maybe(&mut rows, "As said", asked.words.as_ref());
    rows
}

fn pause_rows(pause: &Pause) -> Vec<Row> {
    let mut what = word(pause.kind.word());
    what.push_str(&pause.how.map(|by| format!(", {}", how(by))).unwrap_or_default());
    what.push_str(&pause.of.map(|seq| format!(" (after no. {seq})")).unwrap_or_default());
    let mut rows = vec![Row::new("What", what)];
    given_row(&mut rows, "Why", &pause.reason);
    rows.extend(pause.resumed_yes_at.map(|at| Row::new("Yes to going on", at.clock())));
    maybe(&mut rows, "Done", pause.action.as_ref());
    rows
}

fn withdrawal_rows(withdrawal: &Withdrawal) -> Vec<Row> {
    let mut rows = Vec::new();
    rows.extend(withdrawal.completes.map(|seq| Row::new("Adds the rest to", format!("no. {seq}"))));
    spoken(&mut rows, &withdrawal.said_by);
    rows.push(Row::new("How", how(withdrawal.how)));
    given_row(&mut rows, "Own words", &withdrawal.patient_words);
    rows.push(Row::new("Takes back", scope_words(withdrawal)));
    if !withdrawal.consents.is_empty() {
        rows.push(Row::new("Consents meant", words::numbers(&withdrawal.consents)));
    }
    maybe(&mut rows, "Under way", withdrawal.under_way.as_ref());
    match &withdrawal.stopped {
        Some(stopped) => {
            rows.push(Row::new("Stopped", format!("{} at {}", stopped.what, stopped.at.clock())));
        }
        None if withdrawal.under_way.is_some() => rows.push(Row::new("Stopped", NOT_RECORDED)),
        None => {}
    }
    if let Some(leaving) = &withdrawal.on_leaving {
        let mut parts = vec![words::or_not_recorded(&leaving.words)];
        parts.extend(leaving.settled_at.map(|at| format!("settled {}", at.clock())));
        parts.extend(leaving.left_at.map(|at| format!("left {}", at.clock())));
        parts.extend(leaving.with.as_ref().map(|with| format!("with {with}")));
        rows.push(Row::new("On leaving", parts.join("; ")));
    } else if withdrawal.visit.is_some() {
        rows.push(Row::new("On leaving", NOT_RECORDED));
    }
    maybe(&mut rows, "Offered next", withdrawal.offered_next_step.as_ref());
    rows
}

/// In which way something was expressed.
fn how(how: How) -> String {
    match how {
        How::Words => "in words".to_string(),
        How::RaisedHand => "by a raised hand".to_string(),
        How::StopSignal => "by the stop signal".to_string(),
        How::Telephone => "by telephone".to_string(),
        How::Letter => "by letter".to_string(),
        How::Message => "by message".to_string(),
        How::TurnedAway => "turned away".to_string(),
        How::Other => "in another way".to_string(),
    }
}

fn scope_words(withdrawal: &Withdrawal) -> String {
    let mut parts = Vec::new();
    if !withdrawal.consent_kinds.is_empty() {
        parts.push(format!(
            "consent to {}",
            words::list(&withdrawal.consent_kinds, |kind| spaced(kind.word()))
        ));
    } else if withdrawal.techniques.is_none() && withdrawal.regions.is_none() {
        parts.push("every kind of care".to_string());
    }
    parts.push(what_and_where(
        withdrawal.techniques.as_deref(),
        withdrawal.regions.as_deref(),
        withdrawal.side,
    ));
    words::capital(&parts.join("; "))
}

/// Techniques, regions and side, where leaving one out means all of them.
fn what_and_where(
    techniques: Option<&[Technique]>,
    regions: Option<&[Region]>,
    side: Option<Side>,
) -> String {
    let what = techniques.map_or("all techniques".to_string(), |list| words::list(list, words::technique));
    let place = regions.map_or("everywhere".to_string(), |list| words::list(list, words::region));
    format!("{what} - {place}, {}", side.map_or("every side", words::side))
}

fn refusal_rows(refusal: &StandingRefusal) -> Vec<Row> {
    let mut rows = Vec::new();
    spoken(&mut rows, &refusal.said_by);
    let what = what_and_where(refusal.techniques.as_deref(), refusal.regions.as_deref(), refusal.side);
    rows.push(Row::new("Never wants", words::capital(&what)));
    maybe(&mut rows, "Own words", refusal.words.as_ref());
    rows.extend(refusal.visit.map(|seq| Row::new("In the visit", format!("no. {seq}"))));
    rows
}

fn misfiled_rows(mark: &Misfiled) -> Vec<Row> {
    let mut rows = vec![
        Row::new("Marks", format!("no. {}, which belongs to another chart", mark.entry)),
        Row::new("Found", format!("{} by {}", mark.found_at.plain(), mark.found_by)),
        Row::new("How it came about", words::or_not_recorded(&mark.because)),
    ];
    maybe(&mut rows, "Belongs to chart", mark.belongs_to.as_ref());
    let again = mark.re_entered.map(|again| if again { "yes" } else { "no" });
    rows.extend(again.map(|again| Row::new("Written again there", again)));
    rows
}

fn screen_rows(screen: &Screen) -> Vec<Row> {
    let mut what = format!("{} screen", capital(&spaced(&screen.screen)));
    what.push_str(&screen.how.map(|how| format!(", {}", spaced(how.word()))).unwrap_or_default());
    what.push_str(&format!(", asked by {}", screen.done_by));
    let mut rows = vec![Row::new("Screen", what)];
    maybe(&mut rows, "Repeated, because", screen.repeated_because.as_ref());
    answer_rows(&mut rows, &screen.answers);
    maybe(&mut rows, "Stop signal", screen.stop_signal.as_ref());
    maybe(&mut rows, "Remarks", screen.words.as_ref());
    rows
}

/// A yes has a row of its own; every no and every item not asked is named too.
pub fn answer_rows(rows: &mut Vec<Row>, answers: &[ScreenAnswer]) {
    if answers.is_empty() {
        rows.push(Row::new("Answers", NOT_RECORDED));
    }
    for answer in answers.iter().filter(|answer| answer.answer == ItemAnswer::Yes) {
        let said = answer.words.as_deref().unwrap_or(NOT_RECORDED);
        let decision = answer.decision.map_or(NOT_RECORDED, |decision| decision.word());
        rows.push(Row::new("YES", format!("{}: {said}; decision: {decision}", spaced(&answer.item))));
    }
    for (label, which) in [("No", ItemAnswer::No), ("Not asked", ItemAnswer::NotAsked)] {
        let items: Vec<String> = answers.iter().filter(|answer| answer.answer == which).map(item).collect();
        if !items.is_empty() {
            rows.push(Row::new(label, items.join("; ")));
        }
    }
}

fn item(answer: &ScreenAnswer) -> String {
    match &answer.words {
        Some(text) => format!("{} ({text})", spaced(&answer.item)),
        None => spaced(&answer.item),
    }
}

fn measure_rows(measure: &Measure) -> Vec<Row> {
    let phase = measure.phase.map(|phase| format!("{} treatment: ", phase.word())).unwrap_or_default();
    let mut rows: Vec<Row> = Vec::new();
    for measured in &measure.measures {
        let what = capital(&words::measured_what(measured));
        rows.push(Row::new(&what, format!("{phase}{}", words::measured_value(measured))));
    }
    if rows.is_empty() {
        rows.push(Row::new("Measures", NOT_RECORDED));
    }
    maybe(&mut rows, "Taken by", measure.taken_by.as_ref());
    rows
}

fn condition_rows(met: &ConditionMet) -> Vec<Row> {
    let mut what = word(&met.kind);
    what.push_str(&met.value.as_ref().map(|value| format!(": {value}")).unwrap_or_default());
    what.push_str(&met.who.as_ref().map(|who| format!(" ({who})")).unwrap_or_default());
    let until = met.until.map_or("still running".to_string(), |until| format!("until {}", until.clock()));
    let mut rows = vec![Row::new("Condition", format!("{what}, from {}, {until}", met.from.clock()))];
    rows.extend(met.ends.map(|seq| Row::new("Ends", format!("no. {seq}"))));
    rows
}

fn identity(confirmed: &IdentityConfirmed) -> Row {
    let asked = confirmed.identifiers.iter().map(|name| spaced(name)).collect::<Vec<_>>().join(", ");
    Row::new("Identity confirmed", format!("{} by {}", confirmed.at.plain(), words::or_not_recorded(&asked)))
}

fn opened_rows(opened: &VisitOpened) -> Vec<Row> {
    let mut rows = Vec::new();
    given_row(&mut rows, "Room", &opened.room);
    rows.push(Row::new("Practitioners", words::or_not_recorded(&opened.practitioners.join(", "))));
    rows.push(match &opened.identity_confirmed {
        Some(confirmed) => identity(confirmed),
        None => Row::new("Identity confirmed", "not at the opening of the visit"),
    });
    for present in &opened.present {
        let mut parts = vec![spaced(&present.part)];
        parts.extend(present.name.clone().filter(|name| !name.trim().is_empty()));
        parts.extend(present.from.map(|at| format!("from {}", at.clock())));
        parts.extend(present.until.map(|at| format!("until {}", at.clock())));
        rows.push(Row::new("In the room", parts.join(", ")));
    }
    maybe(&mut rows, "Reason for coming", opened.reason.as_ref());
    rows.extend(opened.first_visit.map(|first| Row::new("First visit", if first { "yes" } else { "no" })));
    maybe(&mut rows, "Note not finished at once, because", opened.draft_kept_because.as_ref());
    rows
}

fn closed_rows(closed: &VisitClosed) -> Vec<Row> {
    let mut rows = vec![Row::new("Ended", word(closed.ended.word()))];
    maybe(&mut rows, "Left with", closed.left_with.as_ref());
    maybe(&mut rows, "Remarks", closed.words.as_ref());
    rows.extend(closed.next_visit.map(|day| Row::new("Next visit", words::day(day))));
    rows
}

fn coverage_rows(answer: &CoverageAnswer) -> Vec<Row> {
    let request = &answer.request;
    let side = match request.side {
        RequestedSide::Left => "left side",
        RequestedSide::Right => "right side",
        RequestedSide::Both => "both sides (left and right)",
        RequestedSide::Midline => "midline",
        RequestedSide::NotStated => "side not stated",
    };
    let mut asked = vec![words::region(request.region)];
    if !request.segments.is_empty() {
        asked.push(words::list(&request.segments, words::segment));
    }
    asked.push(side.to_string());
    asked.push(format!("by {}", request.practitioner_id));
    asked.extend(request.glove_material.map(|glove| format!("{} gloves", glove.word())));
    asked.extend(request.position.as_deref().map(spaced));
    asked.extend((!request.products.is_empty()).then(|| request.products.join(", ")));
    let technique = capital(&words::technique(request.technique));
    let (whole, agreed, checked) =
        (spaced(answer.answer.word()), spaced(answer.agreed.word()), spaced(answer.checked.word()));
    let mut rows = vec![
        Row::new("Is it covered?", format!("{technique} - {} (at {})", asked.join(", "), answer.now.plain())),
        Row::new("Answer", format!("{} (agreed: {agreed}; checked: {checked})", whole.to_uppercase())),
    ];
    rows.extend(answer.reasons.iter().map(|reason| Row::new("Because", reason.text.as_str())));
    rows.extend(answer.cautions.iter().map(|caution| Row::new("Caution", caution.text.as_str())));
    if !answer.governing_consents.is_empty() {
        rows.push(Row::new("By consent", format!("no. {}", answer.governing_consents.join(", no. "))));
    }
    rows.extend(answer.nearest_consent.iter().map(|seq| Row::new("Nearest consent", format!("no. {seq}"))));
    if !answer.cures.is_empty() {
        rows.push(Row::new("What would help", answer.cures.join("; ")));
    }
    rows.push(Row::new("By the rules", format!("edition {}", answer.rules_edition)));
    rows.push(Row::new(
        "As answered then",
        "on what stood in the chart; what was written later changes no answer",
    ));
    rows
}
