//! The chart, the visit, the practitioner, the clock, holds and the rules file
//! (A1 to A3, B1, B2, J1 to J3, K1).

use super::answer::{CautionCode, Findings, Level, RuleId};
use super::case::Case;
use super::facts::ChartStatus;
use crate::record::moment::plain_date;
use crate::record::vocab::Technique;
use std::collections::BTreeSet;

/// All of them.
pub fn rules(case: &Case, findings: &mut Findings) {
    chart(case, findings);
    identity_and_visit(case, findings);
    practitioner(case, findings);
    clock(case, findings);
    state(case, findings);
    for id in &case.rules().rule_ids_in_force {
        if RuleId::from_word(id).is_none() {
            findings.reason(
                RuleId::K1,
                Level::AskFirst,
                format!("The rules file names a rule this tool does not know: {id}."),
                "Update the tool, or correct the rules file.",
            );
        }
    }
}

fn chart(case: &Case, findings: &mut Findings) {
    let state = &case.facts.chart.state;
    if !case.now.reached(state.since) {
        return;
    }
    let since = case.now.plain(state.since);
    let text = match state.status {
        ChartStatus::Open => return,
        ChartStatus::ClosedContinueAt => {
            format!("This chart is closed since {since} and continues at another one.")
        }
        ChartStatus::Deceased => format!("The patient is recorded as deceased, since {since}."),
        ChartStatus::Disposed => format!("This chart is disposed of, since {since}."),
    };
    findings.reason(RuleId::A1, Level::No, text, "Use the chart it continues at, if there is one.");
}

fn identity_and_visit(case: &Case, findings: &mut Findings) {
    let Some(visit) = case.visit else {
        findings.reason(
            RuleId::A2,
            Level::AskFirst,
            "Identity is not confirmed: no visit is open.".to_owned(),
            "Confirm identity in the visit.",
        );
        findings.reason(
            RuleId::A3,
            Level::AskFirst,
            format!("No visit is open at {}.", case.now.moment.plain()),
            "Open the visit.",
        );
        return;
    };
    let needed = case.rules().identifiers_needed;
    let confirmed = visit.identity_confirmed.as_ref().filter(|c| case.now.allows(c.at, c.sequence_no));
    let different: BTreeSet<&str> =
        confirmed.iter().flat_map(|c| &c.identifiers).map(|i| i.trim()).filter(|i| !i.is_empty()).collect();
    let count = different.len() as u64;
    if confirmed.is_none() || count < needed {
        findings.reason(
            RuleId::A2,
            Level::AskFirst,
            format!("Identity is confirmed by {count} of {needed} different identifiers in this visit."),
            format!("Confirm identity by {needed} different identifiers."),
        );
    }
}

fn practitioner(case: &Case, findings: &mut Findings) {
    let request = case.request();
    let (id, today) = (&request.practitioner_id, case.now.date);
    let another = "Another practitioner.";
    let Some(one) = case.practitioner else {
        let text = format!("{id} is not on the roster.");
        findings.reason(RuleId::B1, Level::No, text, another);
        return;
    };
    if today < one.on_roster_from {
        let text = format!("{id} is on the roster only from {}.", plain_date(one.on_roster_from));
        findings.reason(RuleId::B1, Level::No, text, another);
    }
    if let Some(last) = one.on_roster_last_day.filter(|last| today > *last) {
        let text = format!("{id} was last on the roster on {}.", plain_date(last));
        findings.reason(RuleId::B1, Level::No, text, another);
    }
    if today > one.license_last_day {
        let text = format!("The license of {id} ended on {}.", plain_date(one.license_last_day));
        findings.reason(RuleId::B1, Level::No, text, another);
    }
    let permitted = |technique| one.techniques_permitted.contains(&technique);
    if !permitted(request.technique) {
        let text = format!("{} is not among the techniques permitted to {id}.", request.technique);
        findings.reason(RuleId::B2, Level::No, text, another);
    } else if case.mouth_work && !permitted(Technique::Intraoral) {
        let text = format!("Work in the mouth needs the technique intraoral, not permitted to {id}.");
        findings.reason(RuleId::B2, Level::No, text, another);
    }
}

fn clock(case: &Case, findings: &mut Findings) {
    let clock = &case.facts.chart.clock;
    let cure = "Settle the clock: set it, and close the remark.";
    if clock.reads_at < clock.last_entry_written_at {
        let (reads, last) = (case.now.plain(clock.reads_at), case.now.plain(clock.last_entry_written_at));
        let text = format!("The clock reads {reads}, earlier than the last entry ({last}).");
        findings.reason(RuleId::J1, Level::AskFirst, text, cure);
    }
    for remark in clock.remarks.iter().filter(|remark| remark.closed_at.is_none()) {
        let text =
            format!("A clock remark of {} is open: {}.", case.now.plain(remark.opened_at), remark.words);
        findings.reason(RuleId::J1, Level::AskFirst, text, cure);
    }
}

fn state(case: &Case, findings: &mut Findings) {
    let chart = &case.facts.chart;
    for hold in chart.holds.iter().filter(|hold| case.now.restricts(hold.placed_at, hold.lifted_at)) {
        let text = format!("A legal hold is in force since {}.", case.now.plain(hold.placed_at));
        findings.caution(CautionCode::LegalHold, text);
    }
    if let Some(emergency) =
        chart.emergency.as_ref().filter(|e| case.now.restricts(e.declared_at, e.ended_at))
    {
        let since = case.now.plain(emergency.declared_at);
        let text =
            format!("An emergency is declared since {since}. Nothing is blocked; record what is done.");
        findings.caution(CautionCode::EmergencyDeclared, text);
    }
}
