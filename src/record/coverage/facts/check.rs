//! The limits of the schema that types cannot hold, and the contradictions within one document.

use super::*;
use std::collections::BTreeSet;
use std::fmt::Display;

type Checked = Result<(), FactsError>;

const BY_SCHEMA: &str = "Correct the document so that it follows facts.schema.json, then ask again.";

fn wrong(path: &str, what: impl Display, cure: &str) -> Checked {
    Err(FactsError { path: path.to_owned(), what: what.to_string(), cure: cure.to_owned() })
}

/// The document as a whole.
pub fn facts(facts: &Facts) -> Checked {
    if facts.facts_version != 1 {
        return wrong("/facts_version", "only version 1 is known", BY_SCHEMA);
    }
    policy(&facts.rules)?;
    roster(&facts.roster)?;
    chart(&facts.chart)?;
    request(&facts.request)
}

fn id(path: &str, id: &str) -> Checked {
    let letters = id.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-');
    if id.is_empty() || id.starts_with('-') || !letters {
        return wrong(
            path,
            "an id is letters, digits and hyphens, and does not begin with a hyphen",
            BY_SCHEMA,
        );
    }
    Ok(())
}

fn words(path: &str, text: &str) -> Checked {
    if text.is_empty() { wrong(path, "there must be words here", BY_SCHEMA) } else { Ok(()) }
}

fn some_words(path: &str, text: &Option<String>) -> Checked {
    text.as_deref().map_or(Ok(()), |text| words(path, text))
}

fn number(path: &str, number: u64) -> Checked {
    if number == 0 { wrong(path, "the number must be 1 or more", BY_SCHEMA) } else { Ok(()) }
}

fn unique<T: PartialEq + Display>(path: &str, items: &[T]) -> Checked {
    for (at, item) in items.iter().enumerate() {
        if items[..at].contains(item) {
            return wrong(&format!("{path}/{at}"), format_args!("\"{item}\" is listed twice"), BY_SCHEMA);
        }
    }
    Ok(())
}

fn unique_words(path: &str, items: &[String]) -> Checked {
    for (at, item) in items.iter().enumerate() {
        words(&format!("{path}/{at}"), item)?;
    }
    unique(path, items)
}

fn some_unique<T: PartialEq + Display>(path: &str, items: &[T]) -> Checked {
    if items.is_empty() {
        return wrong(path, "the list must not be empty", BY_SCHEMA);
    }
    unique(path, items)
}

fn scope(path: &str, techniques: &Option<Vec<Technique>>, regions: &Option<Vec<Region>>) -> Checked {
    techniques.as_ref().map_or(Ok(()), |list| some_unique(&format!("{path}/techniques"), list))?;
    regions.as_ref().map_or(Ok(()), |list| some_unique(&format!("{path}/regions"), list))
}

/// Ids are well formed and no two entries share one.
fn ids<'a>(path: &str, key: &str, what: &str, all: impl Iterator<Item = &'a String>) -> Checked {
    let mut seen = BTreeSet::new();
    for (at, one) in all.enumerate() {
        let path = format!("{path}/{at}/{key}");
        id(&path, one)?;
        if !seen.insert(one) {
            return wrong(
                &path,
                format_args!("two {what} have the id \"{one}\""),
                "Find out which entry is meant and give each its own id, then ask again.",
            );
        }
    }
    Ok(())
}

fn numbers(path: &str, all: impl Iterator<Item = u64>) -> Checked {
    for (at, one) in all.enumerate() {
        number(&format!("{path}/{at}/sequence_no"), one)?;
    }
    Ok(())
}

fn segments(path: &str, region: Region, segments: &[Segment]) -> Checked {
    unique(path, segments)?;
    for (at, segment) in segments.iter().enumerate() {
        if !region.holds(*segment) {
            return wrong(
                &format!("{path}/{at}"),
                format_args!("segment {segment} does not lie in the region {region}"),
                "Name a segment of that region, or the region the segment lies in, then ask again.",
            );
        }
    }
    Ok(())
}

fn policy(rules: &Policy) -> Checked {
    words("/rules/edition", &rules.edition)?;
    number("/rules/majority_age_years", rules.majority_age_years)?;
    number("/rules/identifiers_needed", rules.identifiers_needed)?;
    number("/rules/same_visit_yes_minutes", rules.same_visit_yes_minutes)?;
    number("/rules/late_after_hours", rules.late_after_hours)?;
    if !rules.mouth_opening_floor_mm.is_finite() || rules.mouth_opening_floor_mm < 0.0 {
        return wrong("/rules/mouth_opening_floor_mm", "the floor must be 0 or more", BY_SCHEMA);
    }
    let ceilings = &rules.consent_ceiling_months;
    if !ceilings.contains_key("default") {
        return wrong("/rules/consent_ceiling_months", "`default` is missing", BY_SCHEMA);
    }
    for (key, months) in ceilings {
        let path = format!("/rules/consent_ceiling_months/{key}");
        if key != "default" && Technique::from_word(key).is_none() {
            return wrong(&path, "neither `default` nor a technique", BY_SCHEMA);
        }
        number(&path, *months)?;
    }
    unique("/rules/techniques_without_side", &rules.techniques_without_side)?;
    unique("/rules/written_consent_techniques", &rules.written_consent_techniques)?;
    unique("/rules/same_visit_yes_is_enough_for", &rules.same_visit_yes_is_enough_for)?;
    unique("/rules/techniques_not_stopped_by_red_flags", &rules.techniques_not_stopped_by_red_flags)?;
    unique_words("/rules/curable_conditions", &rules.curable_conditions)?;
    unique_words("/rules/rule_ids_in_force", &rules.rule_ids_in_force)?;
    policy_lists(rules)
}

fn policy_lists(rules: &Policy) -> Checked {
    for (at, rule) in rules.same_visit_asking_needed.iter().enumerate() {
        scope(&format!("/rules/same_visit_asking_needed/{at}"), &rule.techniques, &rule.regions)?;
    }
    for (screen, items) in &rules.screen_items {
        let path = format!("/rules/screen_items/{screen}");
        if items.is_empty() {
            return wrong(&path, "a screen has at least one item", BY_SCHEMA);
        }
        for (item, group) in items {
            some_words(&format!("{path}/{item}"), group)?;
        }
    }
    for (at, needed) in rules.screens_needed.iter().enumerate() {
        let path = format!("/rules/screens_needed/{at}");
        words(&format!("{path}/screen"), &needed.screen)?;
        scope(&path, &needed.techniques, &needed.regions)?;
    }
    for (group, regions) in &rules.red_flag_governs {
        unique(&format!("/rules/red_flag_governs/{group}"), regions)?;
    }
    for (at, bar) in rules.bars.iter().enumerate() {
        let path = format!("/rules/bars/{at}");
        words(&format!("{path}/alert"), &bar.alert)?;
        some_unique(&format!("{path}/techniques"), &bar.techniques)?;
        scope(&path, &None, &bar.regions)?;
    }
    Ok(())
}

fn roster(roster: &[Practitioner]) -> Checked {
    ids("/roster", "practitioner_id", "practitioners", roster.iter().map(|p| &p.practitioner_id))?;
    for (at, one) in roster.iter().enumerate() {
        words(&format!("/roster/{at}/role"), &one.role)?;
        unique(&format!("/roster/{at}/techniques_permitted"), &one.techniques_permitted)?;
    }
    Ok(())
}

fn chart(chart: &Chart) -> Checked {
    id("/chart/chart_id", &chart.chart_id)?;
    people(chart)?;
    ids("/chart/consents", "consent_id", "consents", chart.consents.iter().map(|c| &c.consent_id))?;
    for (at, one) in chart.consents.iter().enumerate() {
        consent(&format!("/chart/consents/{at}"), one)?;
    }
    corrections(chart)?;
    ids(
        "/chart/withdrawals",
        "withdrawal_id",
        "withdrawals",
        chart.withdrawals.iter().map(|w| &w.withdrawal_id),
    )?;
    numbers("/chart/withdrawals", chart.withdrawals.iter().map(|w| w.sequence_no))?;
    for (at, one) in chart.withdrawals.iter().enumerate() {
        scope(&format!("/chart/withdrawals/{at}"), &one.techniques, &one.regions)?;
    }
    ids("/chart/refusals", "refusal_id", "refusals", chart.refusals.iter().map(|r| &r.refusal_id))?;
    numbers("/chart/refusals", chart.refusals.iter().map(|r| r.sequence_no))?;
    for (at, one) in chart.refusals.iter().enumerate() {
        scope(&format!("/chart/refusals/{at}"), &one.techniques, &one.regions)?;
    }
    ids("/chart/visits", "visit_id", "visits", chart.visits.iter().map(|v| &v.visit_id))?;
    for (at, one) in chart.visits.iter().enumerate() {
        visit(&format!("/chart/visits/{at}"), one)?;
    }
    state(chart)
}

fn people(chart: &Chart) -> Checked {
    some_words("/chart/patient/interpreter_language", &chart.patient.interpreter_language)?;
    if chart.patient.lacks_capacity_from.is_none() && chart.patient.lacks_capacity_until.is_some() {
        return wrong(
            "/chart/patient/lacks_capacity_until",
            "capacity was regained but never lost",
            "Record when capacity was lost, or remove the end, then ask again.",
        );
    }
    numbers("/chart/capacity_doubts", chart.capacity_doubts.iter().map(|d| d.sequence_no))?;
    let makers = &chart.decision_makers;
    for (at, one) in makers.iter().enumerate() {
        let path = format!("/chart/decision_makers/{at}/person_id");
        id(&path, &one.person_id)?;
        if makers[..at].iter().any(|m| m.person_id == one.person_id && m.basis == one.basis) {
            return wrong(
                &path,
                format_args!("\"{}\" is listed twice on the basis {}", one.person_id, one.basis),
                "Find out which authority holds and keep that one, then ask again.",
            );
        }
    }
    Ok(())
}

fn consent(path: &str, consent: &Consent) -> Checked {
    let at = |key: &str| format!("{path}/{key}");
    number(&at("sequence_no"), consent.sequence_no)?;
    consent.given_by.person_id.as_deref().map_or(Ok(()), |one| id(&at("given_by/person_id"), one))?;
    consent.explained.as_ref().map_or(Ok(()), |one| id(&at("explained/by"), &one.by))?;
    some_unique(&at("techniques"), &consent.techniques)?;
    some_unique(&at("regions"), &consent.regions)?;
    unique(&at("excluded_regions"), &consent.excluded_regions)?;
    for (index, limit) in consent.segment_limits.iter().enumerate() {
        let path = at(&format!("segment_limits/{index}"));
        scope(&path, &limit.techniques, &None)?;
        for (key, bound) in
            [("highest_segment", limit.highest_segment), ("lowest_segment", limit.lowest_segment)]
        {
            if bound.is_some_and(|segment| segment.order().is_none()) {
                return wrong(
                    &format!("{path}/{key}"),
                    "a bound is a segment from C0-C1 to L5-S1",
                    BY_SCHEMA,
                );
            }
        }
    }
    unique_words(&at("practitioners_allowed/values"), &consent.practitioners_allowed.values)?;
    for (index, condition) in consent.conditions.iter().enumerate() {
        let path = at(&format!("conditions/{index}"));
        words(&format!("{path}/kind"), &condition.kind)?;
        unique_words(&format!("{path}/values"), &condition.values)?;
        some_words(&format!("{path}/words"), &condition.words)?;
    }
    if let Some(interpreter) = &consent.interpreter {
        words(&at("interpreter/name_or_number"), &interpreter.name_or_number)?;
        words(&at("interpreter/language"), &interpreter.language)?;
    }
    consent.heard_by.as_deref().map_or(Ok(()), |one| id(&at("heard_by"), one))?;
    consent.ends_on_event.as_ref().map_or(Ok(()), |one| words(&at("ends_on_event/event"), &one.event))?;
    for (index, one) in consent.narrower_than.iter().enumerate() {
        id(&at(&format!("narrower_than/{index}")), one)?;
    }
    unique(&at("narrower_than"), &consent.narrower_than)?;
    if consent.narrower_than.contains(&consent.consent_id) {
        return wrong(
            &at("narrower_than"),
            "a consent cannot be narrower than itself",
            "Name the earlier consents it is narrower than, then ask again.",
        );
    }
    Ok(())
}

fn corrections(chart: &Chart) -> Checked {
    let all = &chart.corrections;
    ids("/chart/corrections", "correction_id", "corrections", all.iter().map(|c| &c.correction_id))?;
    numbers("/chart/corrections", all.iter().map(|c| c.sequence_no))?;
    for (at, one) in all.iter().enumerate() {
        id(&format!("/chart/corrections/{at}/consent_id"), &one.consent_id)?;
        if !chart.consents.iter().any(|consent| consent.consent_id == one.consent_id) {
            return wrong(
                &format!("/chart/corrections/{at}/consent_id"),
                format_args!("there is no consent \"{}\" to correct", one.consent_id),
                "Name the consent that was corrected, or add it, then ask again.",
            );
        }
        if one.value().is_none() {
            return wrong(
                &format!("/chart/corrections/{at}/is"),
                format_args!("this value does not fit the field `{}`", one.field),
                "Write a value that the field of a consent may have, then ask again.",
            );
        }
    }
    Ok(())
}

fn visit(path: &str, visit: &Visit) -> Checked {
    let at = |key: &str| format!("{path}/{key}");
    number(&at("sequence_no"), visit.sequence_no)?;
    if let Some(identity) = &visit.identity_confirmed {
        number(&at("identity_confirmed/sequence_no"), identity.sequence_no)?;
        for (index, one) in identity.identifiers.iter().enumerate() {
            words(&at(&format!("identity_confirmed/identifiers/{index}")), one)?;
        }
    }
    numbers(&at("own_answers"), visit.own_answers.iter().map(|x| x.sequence_no))?;
    numbers(&at("asked"), visit.asked.iter().map(|x| x.sequence_no))?;
    for (index, asked) in visit.asked.iter().enumerate() {
        let path = at(&format!("asked/{index}"));
        segments(&format!("{path}/segments"), asked.region, &asked.segments)?;
        id(&format!("{path}/asked_by"), &asked.asked_by)?;
        some_words(&format!("{path}/limit_words"), &asked.limit_words)?;
    }
    numbers(&at("pauses"), visit.pauses.iter().map(|x| x.sequence_no))?;
    numbers(&at("screens"), visit.screens.iter().map(|x| x.sequence_no))?;
    for (index, screen) in visit.screens.iter().enumerate() {
        words(&at(&format!("screens/{index}/screen")), &screen.screen)?;
    }
    numbers(&at("measures"), visit.measures.iter().map(|x| x.sequence_no))?;
    for (index, measure) in visit.measures.iter().enumerate() {
        words(&at(&format!("measures/{index}/kind")), &measure.kind)?;
        if !measure.value_mm.is_finite() {
            return wrong(&at(&format!("measures/{index}/value_mm")), "a measure is a number", BY_SCHEMA);
        }
    }
    numbers(&at("conditions_met"), visit.conditions_met.iter().map(|x| x.sequence_no))?;
    for (index, met) in visit.conditions_met.iter().enumerate() {
        words(&at(&format!("conditions_met/{index}/kind")), &met.kind)?;
        some_words(&at(&format!("conditions_met/{index}/value")), &met.value)?;
    }
    numbers(&at("written_reasons"), visit.written_reasons.iter().map(|x| x.sequence_no))?;
    for (index, reason) in visit.written_reasons.iter().enumerate() {
        id(&at(&format!("written_reasons/{index}/alert_id")), &reason.alert_id)?;
        words(&at(&format!("written_reasons/{index}/words")), &reason.words)?;
    }
    Ok(())
}

fn state(chart: &Chart) -> Checked {
    ids("/chart/alerts", "alert_id", "alerts", chart.alerts.iter().map(|a| &a.alert_id))?;
    for (at, alert) in chart.alerts.iter().enumerate() {
        words(&format!("/chart/alerts/{at}/kind"), &alert.kind)?;
    }
    ids("/chart/reactions", "reaction_id", "reactions", chart.reactions.iter().map(|r| &r.reaction_id))?;
    numbers("/chart/reactions", chart.reactions.iter().map(|r| r.sequence_no))?;
    ids("/chart/changes", "change_id", "changes", chart.changes.iter().map(|c| &c.change_id))?;
    numbers("/chart/changes", chart.changes.iter().map(|c| c.sequence_no))?;
    ids("/chart/holds", "hold_id", "holds", chart.holds.iter().map(|h| &h.hold_id))?;
    for (at, remark) in chart.clock.remarks.iter().enumerate() {
        words(&format!("/chart/clock/remarks/{at}/words"), &remark.words)?;
    }
    Ok(())
}

fn request(request: &Request) -> Checked {
    segments("/request/segments", request.region, &request.segments)?;
    id("/request/practitioner_id", &request.practitioner_id)?;
    some_words("/request/position", &request.position)?;
    unique_words("/request/products", &request.products)?;
    request.sequence_no.map_or(Ok(()), |one| number("/request/sequence_no", one))
}
