//! The answer in plain words, readable in black and white.

use super::answer::{Answer, Level, Line, Verdict};
use super::case::{Case, Stop, StopKind};
use super::consents::test_all;
use super::facts::{Condition, Consent, Facts, GiverRole, RequestedSide};
use super::halves::judge;
use super::time::Now;
use crate::record::moment::plain_date;
use crate::record::vocab::Side;
use std::fmt::{self, Display, Write};

/// What every printed answer ends with.
pub const LIMITS: &str =
    "This is a record check. It does not replace judgment, license limits or local rules.";

/// A consent by its date and id, as the beginning of a sentence.
pub(super) struct Named<'a>(pub &'a Consent);

impl Display for Named<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "The {}", self.bare())
    }
}

impl Named<'_> {
    /// The same within a sentence.
    pub fn lower(&self) -> String {
        format!("the {}", self.bare())
    }

    fn bare(&self) -> String {
        format!("consent of {} ({})", plain_date(self.0.given_at.local_date()), self.0.consent_id)
    }
}

/// A side, for people.
pub(super) fn side(side: Side) -> &'static str {
    match side {
        Side::Left => "left side",
        Side::Right => "right side",
        Side::Both => "both sides",
        Side::Midline => "midline",
    }
}

/// `a, b and c`; `nobody named` would be a guess, so an empty list is `none listed`.
pub(super) fn list<T: Display>(items: &[T]) -> String {
    match items {
        [] => "none listed".to_owned(),
        [one] => one.to_string(),
        [first @ .., last] => {
            let first: Vec<String> = first.iter().map(T::to_string).collect();
            format!("{} and {last}", first.join(", "))
        }
    }
}

/// The text with its first letter large.
pub(super) fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}

/// Who gave a consent.
pub(super) fn giver(consent: &Consent) -> String {
    match (consent.given_by.role, consent.given_by.person_id.as_deref()) {
        (GiverRole::OwnSelf, _) => "the patient".to_owned(),
        (GiverRole::DecisionMaker, Some(id)) => format!("{id} for the patient"),
        (GiverRole::DecisionMaker, None) => "somebody not named, for the patient".to_owned(),
    }
}

/// A withdrawal, refusal or decline: when, and of what.
pub(super) fn stop(stop: &Stop, now: &Now) -> String {
    let kind = match stop.kind {
        StopKind::Withdrawal => "withdrawal",
        StopKind::Refusal => "refusal",
        StopKind::Decline => "declined consent",
    };
    let what = stop.techniques.as_deref().map_or("every technique".to_owned(), list);
    let place = stop.regions.as_deref().map_or("everywhere".to_owned(), |r| format!("on {}", list(r)));
    let sides = stop.side.map_or("every side", side);
    format!("the {kind} of {} ({what} {place}, {sides})", now.plain(stop.said_at))
}

/// A condition, with what meets it and the patient's words.
pub(super) fn condition(condition: &Condition) -> String {
    let mut text = condition.kind.clone();
    if !condition.values.is_empty() {
        text = format!("{text}: {}", condition.values.join(" or "));
    }
    match &condition.words {
        Some(words) => format!("{text} (\"{words}\")"),
        None => text,
    }
}

/// Date and scope of a consent.
fn described(consent: &Consent) -> String {
    let left_out = if consent.excluded_regions.is_empty() {
        String::new()
    } else {
        format!(", without {}", list(&consent.excluded_regions))
    };
    let scope = format!("{} on {}{left_out}", list(&consent.techniques), list(&consent.regions));
    format!("{}: {scope}; {}", Named(consent).bare(), side(consent.side))
}

fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Yes => "yes",
        Verdict::AskFirst => "ask first",
        Verdict::No => "no",
    }
}

fn level(level: Level) -> &'static str {
    verdict(match level {
        Level::AskFirst => Verdict::AskFirst,
        Level::No => Verdict::No,
    })
}

/// The printed answer: what was asked, both lines, every failing reason, the nearest consent and each
/// test it failed, cautions, what settles each reason, and the limits of the check, always last.
///
/// `facts` are those the answer was given on.
pub fn plain(answer: &Answer, facts: &Facts) -> String {
    let case = Case::new(facts);
    let mut out = String::new();
    asked(&mut out, facts);
    let _ = writeln!(out, "Answer:  {}", verdict(answer.answer));
    let _ = writeln!(out, "Agreed:  {}", verdict(answer.agreed));
    let _ = writeln!(out, "Checked: {}", verdict(answer.checked));
    let mut section = |title: &str, lines: Vec<String>| {
        if !lines.is_empty() {
            let _ = writeln!(out, "\n{title}");
            for line in lines {
                let _ = writeln!(out, "  - {line}");
            }
        }
    };
    for (line, title) in [(Line::Agreed, "What was agreed:"), (Line::Checked, "What was checked:")] {
        let reasons = answer.reasons.iter().filter(|r| r.line == line);
        section(title, reasons.map(|r| format!("{} ({}): {}", level(r.level), r.rule, r.text)).collect());
    }
    let consent = |id: &String| case.consents.iter().map(|c| &c.consent).find(|c| c.consent_id == *id);
    let relied_on = answer.governing_consents.iter().filter_map(consent);
    section("Relied on:", relied_on.map(|c| sentence(&described(c))).collect());
    for nearest in nearest_ids(&case, answer).iter().filter_map(consent) {
        let title = format!("No consent covers. Nearest is the {}. It does not count:", described(nearest));
        section(&title, failed_tests(&case, answer, nearest));
    }
    section("Cautions:", answer.cautions.iter().map(|c| format!("{} ({})", c.text, c.code)).collect());
    section("What settles it:", cures(answer));
    let _ = writeln!(out, "\n{LIMITS}");
    out
}

fn asked(out: &mut String, facts: &Facts) {
    let request = &facts.request;
    let sides = match request.side {
        RequestedSide::Left => side(Side::Left),
        RequestedSide::Right => side(Side::Right),
        RequestedSide::Both => side(Side::Both),
        RequestedSide::Midline => side(Side::Midline),
        RequestedSide::NotStated => "side not stated",
    };
    let segments =
        if request.segments.is_empty() { String::new() } else { format!(", {}", list(&request.segments)) };
    let (who, now) = (&request.practitioner_id, facts.now.plain());
    let _ = writeln!(
        out,
        "Asked:   {} on {}{segments}, {sides}, by {who}, at {now}",
        request.technique, request.region
    );
}

/// The nearest consent; where left and right were judged, that of each side no consent covers.
fn nearest_ids(case: &Case, answer: &Answer) -> Vec<String> {
    if !case.is_for_both() {
        return answer.nearest_consent.iter().cloned().collect();
    }
    let mut ids: Vec<String> =
        [Side::Left, Side::Right].into_iter().filter_map(|side| judge(case, side).nearest).collect();
    ids.dedup();
    ids
}

/// The tests the nearest consent failed, as far as they are reasons of the answer.
fn failed_tests(case: &Case, answer: &Answer, nearest: &Consent) -> Vec<String> {
    let mut lines = Vec::new();
    for side in [Side::Left, Side::Right, Side::Midline] {
        let tested = test_all(case, side);
        for test in tested.iter().filter(|t| t.id() == nearest.consent_id) {
            for found in test.failed.iter().chain(&test.asks) {
                let line = format!("{}: {}", found.rule, found.text);
                let is_reason = answer.reasons.iter().any(|r| r.rule == found.rule && r.text == found.text);
                if is_reason && !lines.contains(&line) {
                    lines.push(line);
                }
            }
        }
    }
    lines
}

/// The cures, each said once with the rules it settles.
fn cures(answer: &Answer) -> Vec<String> {
    let mut grouped: Vec<(&str, Vec<&str>)> = Vec::new();
    for (rule, text) in answer.cures.iter().filter_map(|cure| cure.split_once(": ")) {
        match grouped.iter_mut().find(|(known, _)| *known == text) {
            Some((_, rules)) if rules.contains(&rule) => {}
            Some((_, rules)) => rules.push(rule),
            None => grouped.push((text, vec![rule])),
        }
    }
    grouped.into_iter().map(|(text, rules)| format!("{text} ({})", rules.join(", "))).collect()
}
