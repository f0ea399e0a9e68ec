//! What was asked today: the same-visit yes, pauses, and a no (F3, G1 to G3, the yes that stands in).

use super::answer::{CautionCode, Findings, Level, RuleId};
use super::case::Case;
use super::facts::{Asked, AskedAnswer};
use super::time::{Place, place};
use super::{people, sides};
use crate::record::vocab::Side;

fn place_of(asked: &Asked) -> Place {
    place(asked.at, asked.sequence_no)
}

/// True when this is a yes to what is requested, on this side.
fn is_matching_yes(case: &Case, asked: &Asked, side: Side) -> bool {
    let request = case.request();
    let segments_fit = asked.segments.is_empty()
        || !request.segments.is_empty() && request.segments.iter().all(|s| asked.segments.contains(s));
    asked.answer != AskedAnswer::No
        && asked.technique == request.technique
        && request.region.is_within(asked.region)
        && sides::covers(asked.side, side, request.region)
        && segments_fit
}

/// The matching yeses of the visit that count.
fn matching<'a>(case: &Case<'a>, side: Side) -> Vec<&'a Asked> {
    case.asked_in_visit().filter(|asked| is_matching_yes(case, asked, side)).collect()
}

/// Why a yes has lapsed; none when it has not.
fn lapse(case: &Case, asked: &Asked) -> Option<String> {
    let request = case.request();
    if asked.asked_by != request.practitioner_id {
        return Some(format!("it was asked by {}", asked.asked_by));
    }
    let minutes = case.rules().same_visit_yes_minutes;
    let seconds = case.now.moment.unix() - asked.at.unix();
    if u64::try_from(seconds).is_ok_and(|seconds| seconds > minutes.saturating_mul(60)) {
        return Some(format!("it is more than {minutes} minutes old"));
    }
    let since = case.facts.chart.reactions.iter().find(|reaction| {
        case.now.reached(reaction.onset_at)
            && place(reaction.onset_at, reaction.sequence_no) > place_of(asked)
    });
    since.map(|reaction| {
        format!("an adverse reaction came after it, on {}", case.now.plain(reaction.onset_at))
    })
}

/// True when the rules ask for a yes in the visit.
fn asking_needed(case: &Case) -> bool {
    case.rules().same_visit_asking_needed.iter().any(|rule| case.in_scope(&rule.techniques, &rule.regions))
}

/// True when a good yes of this visit stands in for a consent on this side.
pub fn stands_in(case: &Case, side: Side) -> bool {
    let pauses = case.visit.into_iter().flat_map(|visit| &visit.pauses);
    let last_pause = pauses
        .filter(|pause| case.now.reached(pause.at))
        .map(|pause| place(pause.at, pause.sequence_no))
        .max();
    let good = |asked: &&Asked| {
        lapse(case, asked).is_none() && last_pause.is_none_or(|pause| place_of(asked) > pause)
    };
    case.rules().same_visit_yes_is_enough_for.contains(&case.request().technique)
        && !case.needs_written
        && people::decides_alone(case)
        && case.facts.chart.patient.interpreter_language.is_none()
        && case.stops_on(side).next().is_none()
        && matching(case, side).iter().any(good)
}

/// F3, G1, G2, G3 and the caution about a limit, for one side.
pub fn rules(case: &Case, side: Side, findings: &mut Findings) {
    let yeses = matching(case, side);
    let needed = asking_needed(case);
    pauses(case, &yeses, needed, findings);
    let live: Vec<&&Asked> = yeses.iter().filter(|yes| lapse(case, yes).is_none()).collect();
    if needed && live.is_empty() {
        let asked = case.asked(side);
        match yeses.iter().max_by_key(|yes| place_of(yes)) {
            None => findings.reason(
                RuleId::G1,
                Level::AskFirst,
                format!("Not asked in this visit: {asked}."),
                format!("Ask now, and record the answer: {asked}."),
            ),
            Some(last) => {
                let why = lapse(case, last).unwrap_or_default();
                findings.reason(
                    RuleId::G2,
                    Level::AskFirst,
                    format!("The yes of {} to {asked} no longer holds: {why}.", case.now.plain(last.at)),
                    format!("Ask now, and record the answer: {asked}."),
                );
            }
        }
    }
    if let Some(relied_on) = live.iter().max_by_key(|yes| place_of(yes)) {
        let limit = relied_on.limit_words.as_deref();
        if relied_on.answer == AskedAnswer::YesWithLimit || limit.is_some() {
            findings.caution(
                CautionCode::AskedWithLimit,
                format!(
                    "The yes of {} has a limit: {}.",
                    case.now.plain(relied_on.at),
                    limit.unwrap_or("not written down")
                ),
            );
        }
    }
    noes(case, side, findings);
}

/// F3: a pause or stop that nothing has lifted.
fn pauses(case: &Case, yeses: &[&Asked], asking_needed: bool, findings: &mut Findings) {
    let own: Vec<Place> = yeses
        .iter()
        .filter(|yes| yes.asked_by == case.request().practitioner_id)
        .map(|yes| place_of(yes))
        .collect();
    for pause in case.visit.into_iter().flat_map(|visit| &visit.pauses) {
        let asked_again = own.iter().any(|yes| *yes > place(pause.at, pause.sequence_no));
        let resumed = !asking_needed && case.now.over(pause.resumed_yes_at);
        if case.now.reached(pause.at) && !asked_again && !resumed {
            findings.reason(
                RuleId::F3,
                Level::AskFirst,
                format!("The patient asked for a {} on {}.", pause.kind, case.now.plain(pause.at)),
                "Ask now whether to go on, and record the answer.",
            );
        }
    }
}

/// G3: a no of this visit or this date that no later yes has answered.
fn noes(case: &Case, side: Side, findings: &mut Findings) {
    let (request, now) = (case.request(), case.now);
    let offset = now.moment.offset_seconds();
    let of_today: Vec<&Asked> = case
        .facts
        .chart
        .visits
        .iter()
        .flat_map(|visit| visit.asked.iter().map(move |asked| (visit, asked)))
        .filter(|(visit, asked)| {
            let in_visit = case.visit.is_some_and(|open| open.visit_id == visit.visit_id);
            in_visit || asked.at.date_at_offset(offset) == now.date
        })
        .map(|(_, asked)| asked)
        .collect();
    let yeses = of_today
        .iter()
        .filter(|asked| now.allows(asked.at, asked.sequence_no) && is_matching_yes(case, asked, side));
    let last_yes = yeses.map(|yes| place_of(yes)).max();
    for no in of_today.iter().filter(|asked| asked.answer == AskedAnswer::No) {
        let touches = no.technique == request.technique
            && no.region.overlaps(request.region)
            && sides::touches(Some(no.side), side);
        let answered = last_yes.is_some_and(|yes| yes > place_of(no));
        if now.reached(no.at) && touches && !answered {
            findings.reason(
                RuleId::G3,
                Level::No,
                format!(
                    "The patient said no on {} when asked: {} on {}.",
                    now.plain(no.at),
                    no.technique,
                    no.region
                ),
                format!("Not today: leave out {}.", case.asked(side)),
            );
        }
    }
}
