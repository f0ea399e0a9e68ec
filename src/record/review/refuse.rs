//! What cannot be signed as it stands. The layout's own checks are asked first; what takes the chart and the
//! roster to see is looked at here.

use super::sheet::alert_numbers;
use super::{About, Review, ReviewId as R};
use crate::record::calendar::{LeapDay, age_on};
use crate::record::envelope::{Meaning, Person, Record, Signature};
use crate::record::kinds::{Data, Level, Problem};
use crate::record::vocab::Technique;
use std::collections::BTreeSet;

pub(super) fn look(review: &mut Review<'_>) {
    by_layout(review);
    consents(review);
    guardians(review);
    gloves(review);
    thrusts(review);
    signer(review);
    let sheet = review.sheet;
    if sheet.patient.born.is_some_and(|born| born > sheet.day()) {
        review.add(R::BirthAfterVisit, About::note());
    }
}

/// The head the note would be signed with, for the layout's checks.
fn head(review: &Review<'_>) -> Record {
    let sheet = review.sheet;
    let (code, now) = (sheet.signer.clone(), sheet.now);
    let line = sheet.roster.as_ref();
    let name = line.map_or_else(|| code.clone(), |line| line.name.clone());
    let role = line.map_or_else(|| "staff".to_string(), |line| line.role.clone());
    Record {
        kind: "visit".to_string(),
        edition: 1,
        ledger: "-".to_string(),
        chart: Some("-".to_string()),
        happened: sheet.happened,
        written: now,
        station: "-".to_string(),
        author: Person { code: code.clone(), name: name.clone(), role: role.clone() },
        entered_by: None,
        signed: Signature { by: code, name, role, at: now, meaning: Meaning::Wrote },
        second: None,
        labels: Vec::new(),
        refers: Vec::new(),
        data: serde_json::Value::Null,
    }
}

fn by_layout(review: &mut Review<'_>) {
    let data = Data::Visit(Box::new(review.sheet.note.clone()));
    for problem in data.validate(&head(review)) {
        by_problem(review, &problem);
    }
}

/// The place in a list that a pointer like `/procedures/2/side` names.
fn line_of(field: &str, list: &str) -> Option<usize> {
    field.strip_prefix('/')?.strip_prefix(list)?.strip_prefix('/')?.split('/').next()?.parse().ok()
}

fn by_problem(review: &mut Review<'_>, problem: &Problem) {
    let note = &review.sheet.note;
    let procedure = line_of(&problem.field, "procedures").and_then(|n| note.procedures.get(n));
    let finding = line_of(&problem.field, "findings").and_then(|n| note.findings.value()?.get(n));
    let about = match (procedure, finding) {
        (Some(procedure), _) => About::procedure(procedure.no),
        (_, Some(finding)) => About::finding(finding.no),
        _ => About::name(problem.field.trim_start_matches('/').replace('/', " ")),
    };
    if problem.level == Level::Ask {
        if problem.id != "signed-before-it-happened" {
            review.tell(R::Unusual, about, problem.text.clone());
        }
        return;
    }
    let thrust = procedure.is_some_and(|p| p.technique == Technique::Thrust);
    match problem.id {
        "in-future" | "signed-in-future" => review.add(R::InFuture, about),
        "glove-missing" => review.add(R::GloveMissing, about),
        // Two lines of one procedure or finding are one remark; a measure is named by its place.
        "side-missing" => review.add(R::SideMissing, about),
        "span-not-for-joints" if thrust => review.add(R::ThrustNotAdjacent, about),
        // A blank that a draft puts in is among what is missing.
        "blank" if is_gap(&problem.field) => {}
        _ => review.tell(R::CannotBe, about, problem.text.clone()),
    }
}

fn is_gap(field: &str) -> bool {
    matches!(field, "/changed_since_last" | "/findings" | "/assessment" | "/advice" | "/plan")
        || (field.starts_with("/procedures/") && field.ends_with("/response"))
}

fn consents(review: &mut Review<'_>) {
    let turned = |c: &crate::record::kinds::consent::Consent| c.valid_until.is_some_and(|u| u < c.valid_from);
    let wrong: Vec<u64> = review.relied_on().filter(|c| turned(&c.data)).map(|c| c.seq).collect();
    for seq in wrong {
        review.add(R::ConsentUntilBeforeFrom, About::entry(seq));
    }
}

/// Those who decided for the patient in what the note rests on.
fn guardians(review: &mut Review<'_>) {
    let sheet = review.sheet;
    let by_consent = review.relied_on().filter_map(|c| c.data.given_by.person_id.as_ref());
    let by_answer = sheet.asked.iter().filter_map(|a| a.data.answered_by.as_ref()?.person_id.as_ref());
    let named: BTreeSet<&String> = by_consent.chain(by_answer).collect();
    let majority = i32::try_from(review.rules.coverage.majority_age_years).unwrap_or(i32::MAX);
    for person in sheet.patient.decision_makers.iter().filter(|d| named.contains(&d.person_id)) {
        let about = || About::name(person.person_id.clone());
        let same_name = person.name.trim().eq_ignore_ascii_case(sheet.patient.name.trim());
        let same_birth = person.birth_date.map(|day| day.0) == sheet.patient.born;
        if person.relation.trim().eq_ignore_ascii_case("self") || (same_name && same_birth) {
            review.add(R::GuardianIsPatient, about());
        }
        if person.birth_date.is_some_and(|born| age_on(born.0, sheet.day(), LeapDay::Mar1) < majority) {
            review.add(R::GuardianIsMinor, about());
        }
    }
}

fn gloves(review: &mut Review<'_>) {
    let sheet = review.sheet;
    let latex = alert_numbers(&sheet.patient).keys().any(|kind| kind.contains("latex"));
    for procedure in &sheet.note.procedures {
        let Some(gloves) = &procedure.gloves else { continue };
        let word = gloves.material.word();
        let allergic = sheet.patient.allergic_to.iter().any(|name| name.eq_ignore_ascii_case(word));
        if allergic || (latex && word == "latex") {
            review.tell(R::GloveIsAllergy, About::procedure(procedure.no), word.to_string());
        }
    }
}

fn thrusts(review: &mut Review<'_>) {
    for procedure in review.care().filter(|p| p.technique == Technique::Thrust) {
        // Every segment is a pair of neighbors; two of them in one line are three levels or more.
        let pairs = procedure.segments.iter().filter(|segment| segment.order().is_some());
        if pairs.collect::<BTreeSet<_>>().len() > 1 {
            review.add(R::ThrustNotAdjacent, About::procedure(procedure.no));
        }
    }
}

fn signer(review: &mut Review<'_>) {
    let sheet = review.sheet;
    let day = sheet.day();
    for procedure in &sheet.note.procedures {
        let hands = procedure.done_by.trim();
        if !hands.is_empty() && hands != sheet.signer {
            review.tell(R::AnothersHands, About::procedure(procedure.no), format!("done by {hands}"));
        }
    }
    let holds = sheet.roster.as_ref().filter(|line| {
        line.on_roster_from.0 <= day && line.on_roster_last_day.is_none_or(|last| last.0 >= day)
    });
    let Some(line) = holds else {
        review.add(R::SignerNotOnRoster, About::note());
        return;
    };
    if line.licence_last_day.is_some_and(|last| last.0 < day) {
        review.add(R::LicenceExpired, About::note());
    }
}
