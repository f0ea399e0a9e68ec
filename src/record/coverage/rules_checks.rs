//! Screens, red flags, alerts, allergies, the mouth, reactions and changes (H1 to H7).

use super::answer::{CautionCode, Findings, Level, RuleId};
use super::case::Case;
use super::facts::{Alert, AllergyStatus, BarLevel, Decision, ItemAnswer, Screen, ScreenAnswer};
use super::time::place;
use super::words;
use std::collections::BTreeSet;

/// The kind of the measure that the floor for work inside the mouth speaks of.
const MOUTH_OPENING: &str = "mouth-opening";

/// All of them.
pub fn rules(case: &Case, findings: &mut Findings) {
    screens(case, findings);
    red_flags(case, findings);
    bars(case, findings);
    allergies(case, findings);
    mouth(case, findings);
    reactions(case, findings);
}

/// H1 and H7: the latest screen of each kind the request needs.
fn screens(case: &Case, findings: &mut Findings) {
    let needed: BTreeSet<&str> = case
        .rules()
        .screens_needed
        .iter()
        .filter(|n| case.in_scope(&n.techniques, &n.regions))
        .map(|n| n.screen.as_str())
        .collect();
    for kind in needed {
        let cure = format!("Do the {kind} screen now, every item.");
        let done = case.visit.into_iter().flat_map(|v| &v.screens);
        let latest = done
            .filter(|s| s.screen == kind && case.now.allows(s.done_at, s.sequence_no))
            .max_by_key(|s| place(s.done_at, s.sequence_no));
        let Some(latest) = latest else {
            let text = format!("No {kind} screen in this visit.");
            findings.reason(RuleId::H1, Level::AskFirst, text, cure);
            continue;
        };
        if let Some(missing) = unanswered(case, latest) {
            let text = format!(
                "The {kind} screen of {} is not complete: {missing}.",
                case.now.plain(latest.done_at)
            );
            findings.reason(RuleId::H1, Level::AskFirst, text, cure.clone());
        }
        for change in &case.facts.chart.changes {
            let later =
                place(change.noted_at, change.sequence_no) > place(latest.done_at, latest.sequence_no);
            if later && case.now.reached(change.noted_at) {
                let (what, at) = (change.kind, case.now.plain(change.noted_at));
                let text = format!("A change was noted on {at}, after the {kind} screen: {what}.");
                findings.reason(RuleId::H7, Level::AskFirst, text, cure.clone());
            }
        }
    }
}

/// What is missing from a screen; none when every item was answered yes or no.
fn unanswered(case: &Case, screen: &Screen) -> Option<String> {
    let Some(items) = case.rules().screen_items.get(&screen.screen) else {
        return Some("the rules file lists no items for it".to_owned());
    };
    let open: Vec<&str> = items
        .keys()
        .filter(|item| screen.answers.get(*item).is_none_or(|a| a.answer == ItemAnswer::NotAsked))
        .map(String::as_str)
        .collect();
    (!open.is_empty()).then(|| format!("not asked {}", words::list(&open)))
}

/// H2: open red flags of any visit.
fn red_flags(case: &Case, findings: &mut Findings) {
    for screen in case.facts.chart.visits.iter().flat_map(|visit| &visit.screens) {
        if !case.now.reached(screen.done_at) {
            continue;
        }
        for (item, answer) in &screen.answers {
            let groups = case.rules().screen_items.get(&screen.screen);
            let group = groups.and_then(|items| items.get(item)).and_then(Option::as_deref);
            if let Some(group) = group {
                red_flag(case, screen, item, answer, group, findings);
            }
        }
    }
}

fn red_flag(
    case: &Case,
    screen: &Screen,
    item: &str,
    answer: &ScreenAnswer,
    group: &str,
    findings: &mut Findings,
) {
    if answer.answer != ItemAnswer::Yes || case.now.over(answer.closed_at) {
        return;
    }
    let what = format!("{item}, {} screen of {}", screen.screen, case.now.plain(screen.done_at));
    let said = answer.words.as_deref().map(str::trim).filter(|words| !words.is_empty());
    if let (Some(Decision::Proceed), Some(said)) = (answer.decision, said) {
        let text = format!("A red flag was answered, and it was decided to proceed ({what}): {said}.");
        findings.caution(CautionCode::FlagAnswered, text);
        return;
    }
    // A group the rules file gives no regions for governs everywhere: unknown never helps.
    let governed = case.rules().red_flag_governs.get(group).is_none_or(|list| case.overlaps_any(list));
    let request = case.request();
    if governed && !case.rules().techniques_not_stopped_by_red_flags.contains(&request.technique) {
        let text = format!("An open red flag stops {} on {}: {what}.", request.technique, request.region);
        let cure = format!("Refer, or decide in words and record it ({item}).");
        findings.reason(RuleId::H2, Level::No, text, cure);
    } else {
        findings.caution(CautionCode::OpenRedFlag, format!("A red flag is open: {what}."));
    }
}

/// H3: bars of active alerts.
fn bars(case: &Case, findings: &mut Findings) {
    let today = case.now.date;
    let active = |alert: &&Alert| alert.from <= today && alert.until.is_none_or(|last| today <= last);
    for alert in case.facts.chart.alerts.iter().filter(active) {
        let reasons = case.visit.into_iter().flat_map(|visit| &visit.written_reasons);
        let has_reason = reasons
            .filter(|r| r.alert_id == alert.alert_id && !r.words.trim().is_empty())
            .any(|r| case.now.allows(r.at, r.sequence_no));
        for bar in case.rules().bars.iter().filter(|bar| bar.alert == alert.kind) {
            let there = match (&bar.regions, alert.region) {
                (Some(regions), _) => case.overlaps_any(regions),
                (None, Some(region)) => region.overlaps(case.request().region),
                (None, None) => true,
            };
            if !there || !bar.techniques.contains(&case.request().technique) {
                continue;
            }
            let (technique, kind) = (case.request().technique, &alert.kind);
            match bar.level {
                BarLevel::Absolute => findings.reason(
                    RuleId::H3,
                    Level::No,
                    format!("The alert {kind} bars {technique} here."),
                    "Another plan.",
                ),
                BarLevel::Relative if has_reason => findings.caution(
                    CautionCode::RelativeBarWithReason,
                    format!("The alert {kind} speaks against {technique} here; a reason is written in this visit."),
                ),
                BarLevel::Relative => findings.reason(
                    RuleId::H3,
                    Level::AskFirst,
                    format!("The alert {kind} speaks against {technique} here, and no reason is written in this visit."),
                    format!("Write the reason for going on in spite of the alert {kind}."),
                ),
            }
        }
    }
}

/// H4: gloves, products and allergies.
fn allergies(case: &Case, findings: &mut Findings) {
    let (request, substances) = (case.request(), &case.facts.chart.allergy_review.substances);
    let is = |name: &str, status: AllergyStatus| {
        substances.iter().any(|(known, s)| known.eq_ignore_ascii_case(name) && *s == status)
    };
    let glove = request.glove_material.map(|glove| glove.word());
    let latex_known = is("latex", AllergyStatus::Allergic) || is("latex", AllergyStatus::NotAllergic);
    if (case.mouth_work || glove.is_some()) && !latex_known {
        findings.reason(
            RuleId::H4,
            Level::AskFirst,
            "Whether the patient is allergic to latex is not known.".to_owned(),
            "Ask about latex and record the answer.",
        );
    }
    for used in glove.into_iter().chain(request.products.iter().map(String::as_str)) {
        if is(used, AllergyStatus::Allergic) {
            findings.reason(
                RuleId::H4,
                Level::No,
                format!("The patient is allergic to {used}, which would be used."),
                format!("Use something else than {used}."),
            );
        }
    }
    let allergic: Vec<&String> =
        substances.iter().filter(|(_, s)| **s == AllergyStatus::Allergic).map(|(name, _)| name).collect();
    if !allergic.is_empty() && (case.mouth_work || glove.is_some() || !request.products.is_empty()) {
        let text = format!("The patient is allergic to {}.", words::list(&allergic));
        findings.caution(CautionCode::AllergyOnFile, text);
    }
}

/// H5: gloves and mouth opening for work in the mouth.
fn mouth(case: &Case, findings: &mut Findings) {
    if !case.mouth_work {
        return;
    }
    if case.request().glove_material.is_none() {
        findings.reason(
            RuleId::H5,
            Level::AskFirst,
            "Work in the mouth: the glove material is not stated.".to_owned(),
            "State the glove material.",
        );
    }
    let floor = case.rules().mouth_opening_floor_mm;
    let latest = case
        .visit
        .into_iter()
        .flat_map(|visit| &visit.measures)
        .filter(|m| m.kind == MOUTH_OPENING && case.now.allows(m.at, m.sequence_no))
        .max_by_key(|m| place(m.at, m.sequence_no));
    match latest {
        None => findings.reason(
            RuleId::H5,
            Level::AskFirst,
            "Work in the mouth: the mouth opening was not measured in this visit.".to_owned(),
            "Measure the mouth opening and record it.",
        ),
        Some(measure) if measure.value_mm < floor => findings.reason(
            RuleId::H5,
            Level::AskFirst,
            format!("The mouth opens {} mm; at least {floor} mm are needed.", measure.value_mm),
            format!("Measure again; no work in the mouth below {floor} mm."),
        ),
        Some(_) => {}
    }
}

/// H6: open adverse reactions to the same technique here.
fn reactions(case: &Case, findings: &mut Findings) {
    let request = case.request();
    for reaction in &case.facts.chart.reactions {
        let same = reaction.technique == request.technique && reaction.region.overlaps(request.region);
        if same && case.now.restricts(reaction.onset_at, reaction.closed_at) {
            let (severity, region, onset) =
                (reaction.severity, reaction.region, case.now.plain(reaction.onset_at));
            let text = format!(
                "An adverse reaction to {} on {region} is open ({severity}, since {onset}).",
                request.technique
            );
            findings.reason(RuleId::H6, Level::AskFirst, text, "Follow the reaction up, or close it.");
        }
    }
}
