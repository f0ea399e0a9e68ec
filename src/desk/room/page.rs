//! The page of a patient in the room.

use super::body;
use super::question::Question;
use super::seen::{Seen, Visit};
use super::{measures, note};
use crate::desk::asks::plain as plain_words;
use crate::desk::call::Call;
use crate::desk::frame::trouble_box;
use crate::desk::terms;
use crate::record::coverage::facts::{AllergyStatus, Facts};
use crate::record::coverage::{Answer, Line, Verdict};
use crate::record::kinds::identity::DecisionMaker;
use crate::record::moment::plain_date;
use maud::{Markup, html};

/// An address of this patient's page.
pub fn address(slot: &str, what: &str) -> String {
    match what {
        "" => format!("/room/{slot}"),
        what => format!("/room/{slot}/{what}"),
    }
}

/// The page while a visit is open. `remarks` is what `missing` says, `wrong` what became of the last try.
pub fn in_room(call: &Call<'_>, seen: &Seen, visit: &Visit, remarks: &serde_json::Value) -> Markup {
    let slot = call.param("slot");
    let keys = call.kept("room-keys").is_none();
    html! {
        div.room data-room=(slot) data-keys=(if keys { "on" } else { "off" }) {
            (head(call, seen))
            (alerts(call, seen))
            (own_answer(call, slot, seen))
            (minute(call, slot, visit))
            (stopped(call, slot, seen, visit))
            (withdrawn(call, slot, seen, visit))
            (question(call, slot, seen))
            (choose(call, slot, seen))
            (note::part(call, slot, seen, visit))
            (measures::part(call, slot, visit))
            (screens(call, slot, seen, visit))
            (note::signing(call, slot, seen, visit, remarks))
            (key_switch(call, slot, keys))
            (targets(call, slot, seen, visit, keys))
        }
    }
}

/// Who it is.
pub fn head(call: &Call<'_>, seen: &Seen) -> Markup {
    let who = &seen.face.identity;
    let born =
        who.birth_date.date.map(|day| plain_date(day.0)).unwrap_or_else(|| call.t("room-born-unknown"));
    let age = seen.age.map(|age| call.t_with("room-age", &[("age", &age.to_string())])).unwrap_or_default();
    html! {
        header.patient {
            h1 { (who.chosen_name.as_ref().unwrap_or(&who.legal_name)) }
            p.who {
                @if who.chosen_name.is_some() { span { (who.legal_name) } }
                span { (call.t_with("room-born", &[("day", &born)])) }
                @if !age.is_empty() { span { (age) } }
                span.number { (seen.face.chart_no) }
                @if let Some(language) = &who.interpreter_language {
                    strong { (call.t_with("room-interpreter", &[("language", language)])) }
                }
            }
        }
    }
}

/// Allergies, alerts, refusals, what was withdrawn, who consents.
fn alerts(call: &Call<'_>, seen: &Seen) -> Markup {
    let facts = match &seen.facts {
        Ok(facts) => facts,
        Err(trouble) => return html! { (trouble_box(call, trouble)) },
    };
    let lines = alert_lines(call, seen, facts);
    html! {
        section.alerts aria-labelledby="minded" {
            h2 #minded { (call.t("room-minded")) }
            ul {
                @for (kind, label, words) in &lines {
                    li class=(kind) { strong { (label) } " " span { (words) } }
                }
            }
        }
    }
}

type AlertLine = (&'static str, String, String);

fn alert_lines(call: &Call<'_>, seen: &Seen, facts: &Facts) -> Vec<AlertLine> {
    let chart = &facts.chart;
    let allergic: Vec<String> = chart
        .allergy_review
        .substances
        .iter()
        .filter(|(_, status)| **status == AllergyStatus::Allergic)
        .map(|(substance, _)| plain_words(substance))
        .collect();
    let reviewed = chart.allergy_review.reviewed_on.map(plain_date);
    let mut lines: Vec<AlertLine> = Vec::new();
    match (allergic.is_empty(), &reviewed) {
        (false, day) => lines.push((
            "warn",
            call.t("room-allergic"),
            match day {
                Some(day) => format!(
                    "{} ({})",
                    terms::joined(call.lang, &allergic),
                    call.t_with("room-reviewed", &[("day", day)])
                ),
                None => terms::joined(call.lang, &allergic),
            },
        )),
        (true, Some(day)) => {
            lines.push(("calm", call.t("room-allergies"), call.t_with("room-no-allergies", &[("day", day)])));
        }
        (true, None) => lines.push(("warn", call.t("room-allergies"), call.t("room-allergies-not-asked"))),
    }
    let today = facts.now.local_date();
    for alert in chart.alerts.iter().filter(|a| a.from <= today && a.until.is_none_or(|last| last >= today)) {
        let place = alert.region.map(|r| format!(", {}", terms::region(call.lang, r))).unwrap_or_default();
        lines.push(("warn", call.t("room-alert"), format!("{}{place}", plain_words(&alert.kind))));
    }
    for refusal in &chart.refusals {
        let words = scope(call, refusal.techniques.as_deref(), refusal.regions.as_deref(), refusal.side);
        lines.push((
            "no",
            call.t("room-refused"),
            format!("{words} ({})", plain_date(refusal.said_at.local_date())),
        ));
    }
    for reaction in chart.reactions.iter().filter(|r| r.closed_at.is_none()) {
        let words =
            format!("{}, {}", terms::technique(call.lang, reaction.technique), reaction.onset_at.plain());
        lines.push(("warn", call.t("room-reaction"), words));
    }
    if chart.capacity_doubts.iter().any(|doubt| doubt.resolved_at.is_none()) {
        lines.push(("warn", call.t("room-capacity"), call.t("room-capacity-doubted")));
    }
    lines.push(who_consents(call, seen));
    lines
}

fn scope(
    call: &Call<'_>,
    techniques: Option<&[crate::record::vocab::Technique]>,
    regions: Option<&[crate::record::vocab::Region]>,
    side: Option<crate::record::vocab::Side>,
) -> String {
    let what =
        techniques.map_or_else(|| call.t("room-everything"), |t| terms::list(call.lang, t, terms::technique));
    let place =
        regions.map_or_else(|| call.t("room-everywhere"), |r| terms::list(call.lang, r, terms::region));
    let side = side.map(|side| format!(" · {}", terms::side(call.lang, side))).unwrap_or_default();
    format!("{what} · {place}{side}")
}

fn who_consents(call: &Call<'_>, seen: &Seen) -> AlertLine {
    let may: Vec<&DecisionMaker> = seen.deciders.iter().filter(|one| one.may_consent).collect();
    let names: Vec<String> =
        may.iter().map(|one| format!("{} ({}, {})", one.name, one.relation, one.person_id)).collect();
    let label = call.t("room-consents");
    match (seen.minor, names.is_empty()) {
        (false, true) => ("calm", label, call.t("room-consents-self")),
        (false, false) => (
            "calm",
            label,
            call.t_with("room-consents-self-beside", &[("names", &terms::joined(call.lang, &names))]),
        ),
        (true, false) => (
            "warn",
            label,
            call.t_with("room-consents-guardian", &[("names", &terms::joined(call.lang, &names))]),
        ),
        (true, true) => ("warn", label, call.t("room-consents-nobody")),
    }
}

/// A minor is asked too, whoever consents.
fn own_answer(call: &Call<'_>, slot: &str, seen: &Seen) -> Markup {
    html! {
        @if seen.minor {
            (call.form(&address(slot, "own-answer"), &html! {
                fieldset.own {
                    legend { (call.t("room-own-answer")) }
                    button type="submit" name="answer" value="yes" { span.shape.yes aria-hidden="true" {} (call.t("room-yes")) }
                    button type="submit" name="answer" value="no" { span.shape.no aria-hidden="true" {} (call.t("room-no")) }
                }
            }))
        }
    }
}

/// A pause that the patient asks for, and that is no stop.
fn minute(call: &Call<'_>, slot: &str, visit: &Visit) -> Markup {
    html! {
        @if visit.stopped.is_none() {
            div.minute {
                (call.form(&address(slot, "now"), &html! {
                    button type="submit" name="what" value="pause" { (call.t("room-minute")) }
                }))
            }
        }
    }
}

/// Keys of one letter can be turned off (WCAG 2.2, 2.1.4); those of a pedal go on.
fn key_switch(call: &Call<'_>, slot: &str, keys: bool) -> Markup {
    html! {
        section.keys aria-labelledby="keys-title" {
            h2 #keys-title { (call.t("room-keys-title")) }
            p { (call.t("room-keys-why")) }
            (call.form(&address(slot, "keys"), &html! {
                button type="submit" aria-pressed=(if keys { "true" } else { "false" }) { (call.t("room-keys-switch")) }
            }))
        }
    }
}

/// What is to be done after a stop: two ways on.
fn stopped(call: &Call<'_>, slot: &str, seen: &Seen, visit: &Visit) -> Markup {
    let Some((kind, at)) = &visit.stopped else { return html! {} };
    let said = call.t_with(
        if kind.word() == "stop" { "room-stopped-at" } else { "room-paused-at" },
        &[("time", &at.clock())],
    );
    html! {
        section.stopped #stopped aria-labelledby="stopped-title" {
            h2 #stopped-title { (said) }
            p { (call.t(if kind.word() == "stop" { "room-stopped-why" } else { "room-paused-why" })) }
            (call.form(&address(slot, "after-stop"), &html! {
                div.ways {
                    button.way type="submit" name="then" value="resume" {
                        span.shape.yes aria-hidden="true" {} (call.t("room-goes-on"))
                    }
                    @if let Some(question) = &seen.question {
                        button.way type="submit" name="then" value="withdraw-this" {
                            span.shape.no aria-hidden="true" {}
                            (call.t_with("room-withdraw-this", &[("what", &question.plain(call.lang))]))
                        }
                    }
                    button.way type="submit" name="then" value="withdraw-all" {
                        span.shape.no aria-hidden="true" {} (call.t("room-withdraw-all"))
                    }
                }
            }))
        }
    }
}

/// Withdrawals of the visit, with what is to be written about them still.
fn withdrawn(call: &Call<'_>, slot: &str, seen: &Seen, visit: &Visit) -> Markup {
    html! {
        @for one in &visit.withdrawn {
            section.withdrawn #(format!("withdrawn-{}", one.seq)) aria-labelledby=(format!("withdrawn-title-{}", one.seq)) {
                h2 #(format!("withdrawn-title-{}", one.seq)) { (call.t_with("room-withdrawn-at", &[("time", &one.at.clock())])) }
                p.big { (scope(call, one.techniques.as_deref(), one.regions.as_deref(), one.side)) }
                @if one.told {
                    p { (call.t("room-withdrawn-told")) }
                } @else {
                    p { (call.t("room-withdrawn-sealed")) }
                    (call.form(&address(slot, "withdrawn"), &html! {
                        input type="hidden" name="completes" value=(one.seq);
                        @for (field, key) in [
                            ("patient-words", "room-own-words"), ("under-way", "room-under-way"),
                            ("stopped", "room-what-stopped"), ("on-leaving", "room-on-leaving"),
                            ("next-step", "room-next-step"),
                        ] {
                            @let id = format!("{field}-{}", one.seq);
                            p.field {
                                label for=(id) { (call.t(key)) }
                                textarea id=(id) name=(field) rows="2" data-kept=(id) {
                                    (seen.typing.get(&id).unwrap_or_default())
                                }
                            }
                        }
                        button.main type="submit" { (call.t("room-keep-words")) }
                    }))
                }
            }
        }
    }
}

/// The question on the table with the record's answer: two lines, what was agreed and what was checked.
fn question(call: &Call<'_>, slot: &str, seen: &Seen) -> Markup {
    let Some(question) = &seen.question else { return html! {} };
    html! {
        section.question #question aria-labelledby="question-title" {
            h2 #question-title { (call.t("room-may")) }
            @match &seen.answer {
                Some(answer) => (answered(call, question, answer)),
                None => p.big { (question.plain(call.lang)) },
            }
            div.actions {
                a.button href=(format!("/consent/{slot}")) { (call.t("room-to-consent")) }
                (call.form(&address(slot, "choose"), &html! {
                    button type="submit" name="done" value="yes" { (call.t("room-done")) }
                    button type="submit" name="clear" value="yes" { (call.t("room-clear-question")) }
                }))
            }
        }
    }
}

fn answered(call: &Call<'_>, question: &Question, answer: &Answer) -> Markup {
    let (shape, word) = terms::verdict(call, answer.answer);
    html! {
        p class=(format!("verdict {shape}")) role="status" {
            span class=(format!("shape {shape}")) aria-hidden="true" {}
            strong { (word) }
            span.what { (question.plain(call.lang)) }
        }
        dl.two-lines {
            (line(call, answer, Line::Agreed, answer.agreed))
            (line(call, answer, Line::Checked, answer.checked))
        }
        @if !answer.cautions.is_empty() {
            ul.cautions {
                @for caution in &answer.cautions { li lang="en" { (caution.text) } }
            }
        }
    }
}

/// One line: the verdict in a word and a shape, then each reason and what settles it.
fn line(call: &Call<'_>, answer: &Answer, line: Line, verdict: Verdict) -> Markup {
    let (shape, word) = terms::verdict(call, verdict);
    let key = match line {
        Line::Agreed => "room-line-agreed",
        Line::Checked => "room-line-checked",
    };
    let mut reasons = answer.reasons.iter().zip(&answer.cures).filter(|(reason, _)| reason.line == line);
    let first = reasons.next();
    let rest: Vec<_> = reasons.collect();
    html! {
        div class=(format!("line {shape}")) {
            dt { span class=(format!("shape {shape}")) aria-hidden="true" {} (call.t(key)) ": " strong { (word) } }
            dd {
                @if let Some((reason, cure)) = first { (why(&reason.text, cure)) }
                @if !rest.is_empty() {
                    details {
                        summary { (call.t_with("room-further-reasons", &[("count", &rest.len().to_string())])) }
                        ul { @for (reason, cure) in &rest { li { (why(&reason.text, cure)) } } }
                    }
                }
            }
        }
    }
}

fn why(text: &str, cure: &str) -> Markup {
    html! {
        span.why lang="en" { (text) }
        @if !cure.is_empty() { span.cure lang="en" { (cure_words(cure)) } }
    }
}

/// A cure begins with its rule's code, which a person treating does not need.
fn cure_words(cure: &str) -> &str {
    cure.split_once(": ").map_or(cure, |(_, words)| words)
}

/// What and where: the body chart, with what to do about the place.
fn choose(call: &Call<'_>, slot: &str, seen: &Seen) -> Markup {
    let chosen = seen
        .question
        .as_ref()
        .map(|q| (q.region, q.side))
        .or_else(|| seen.typing.get("spot").and_then(body::read));
    html! {
        section.choose #choose aria-labelledby="choose-title" {
            h2 #choose-title { (call.t("room-choose")) }
            @if !seen.last_time.is_empty() {
                (call.form(&address(slot, "choose"), &html! {
                    fieldset.last-time {
                        legend { (call.t_with("room-last-time", &[("day", &seen.last_day.map(|d| plain_date(d.local_date())).unwrap_or_default())])) }
                        div.chips {
                            @for one in &seen.last_time {
                                button type="submit" name="question" value=(one.words()) { (one.plain(call.lang)) }
                            }
                        }
                    }
                }))
            }
            (call.form(&address(slot, "choose"), &html! {
                (body::chart(call, chosen))
                fieldset.chips-of {
                    legend { (call.t("room-ask-about")) }
                    div.chips {
                        @for technique in crate::record::vocab::Technique::ALL {
                            button type="submit" name="technique" value=(technique.word()) {
                                (terms::technique(call.lang, *technique))
                            }
                        }
                    }
                }
                fieldset.chips-of {
                    legend { (call.t("room-found")) }
                    div.grades role="group" aria-label=(call.t("room-grade")) {
                        @for grade in ["", "1", "2", "3", "4"] {
                            @let id = format!("grade-{}", if grade.is_empty() { "none" } else { grade });
                            span.choice {
                                input type="radio" name="grade" value=(grade) id=(id) checked[grade.is_empty()];
                                label for=(id) {
                                    @if grade.is_empty() { (call.t("room-no-grade")) } @else { (grade) }
                                }
                            }
                        }
                    }
                    div.chips {
                        @for found in FOUND {
                            button type="submit" name="found" value=(found) { (call.t(&format!("room-found-{found}"))) }
                        }
                    }
                }
            }))
        }
    }
}

/// What is found, as the line form writes it.
pub const FOUND: [&str; 7] = ["tender", "restricted", "tight", "spasm", "swollen", "trp", "numb"];

/// Screens of the rules: all asked and nothing found in one touch, or item by item.
fn screens(call: &Call<'_>, slot: &str, seen: &Seen, visit: &Visit) -> Markup {
    html! {
        section.screens #screens aria-labelledby="screens-title" {
            h2 #screens-title { (call.t("room-screens")) }
            @for (name, items) in &seen.screens {
                @let done = visit.screened.contains(name);
                details {
                    summary {
                        span lang="en" { (plain_words(name)) }
                        @if done { " " span.done { span.shape.yes aria-hidden="true" {} (call.t("room-screened")) } }
                    }
                    (call.form(&address(slot, "screen"), &html! {
                        input type="hidden" name="screen" value=(name);
                        fieldset {
                            legend { (call.t("room-screen-yes")) }
                            ul.items {
                                @for item in items {
                                    @let id = format!("item-{name}-{item}");
                                    li.choice {
                                        input type="checkbox" name="yes" value=(item) id=(id);
                                        label for=(id) lang="en" { (plain_words(item)) }
                                    }
                                }
                            }
                        }
                        button.main type="submit" { (call.t("room-screen-keep")) }
                    }))
                }
            }
        }
    }
}

/// The five targets, across the whole width at the lower edge: one touch of a knuckle or one key.
fn targets(call: &Call<'_>, slot: &str, seen: &Seen, visit: &Visit, keys: bool) -> Markup {
    let asked = seen.question.as_ref().map(|question| question.plain(call.lang));
    let none = asked.is_none();
    let key = |word: &str| html! { @if keys { kbd aria-hidden="true" { (word) } } };
    html! {
        section.targets aria-labelledby="targets-title" {
            h2.unseen #targets-title { (call.t("room-targets")) }
            p.on-the-table #on-the-table {
                @match &asked {
                    Some(words) => { (call.t("room-on-the-table")) " " strong { (words) } },
                    None => (call.t("room-nothing-on-the-table")),
                }
            }
            (call.form(&address(slot, "now"), &html! {
                div.five {
                    button.target.yes type="submit" name="what" value="yes" data-key="y" data-pedal="F2"
                        disabled[none] aria-describedby="on-the-table" {
                        span.shape.yes aria-hidden="true" {} span { (call.t("room-target-yes")) } (key("Y"))
                    }
                    button.target.no type="submit" name="what" value="no" data-key="n" data-pedal="F3"
                        disabled[none] aria-describedby="on-the-table" {
                        span.shape.no aria-hidden="true" {} span { (call.t("room-target-no")) } (key("N"))
                    }
                    button.target.stop type="submit" name="what" value="stop" data-key="s" data-pedal="F4" {
                        span.shape.stop aria-hidden="true" {} span { (call.t("room-target-stop")) } (key("S"))
                    }
                    a.target.count href="#number" data-key="#" data-pedal="F8" role="button" {
                        span.shape.count aria-hidden="true" {} span { (call.t("room-target-number")) } (key("#"))
                    }
                    button.target.mark type="submit" name="what" value="mark" data-key=" " data-pedal="F9" {
                        span.shape.mark aria-hidden="true" {} span { (call.t("room-target-mark")) }
                        @if keys { kbd aria-hidden="true" { (call.t("room-key-space")) } }
                    }
                }
            }))
            (number(call, slot, visit))
        }
    }
}

/// Numbers from 0 to 10, for pain or comfort.
fn number(call: &Call<'_>, slot: &str, visit: &Visit) -> Markup {
    let last = visit.draft.get("checks").and_then(|c| c.as_array()).and_then(|all| {
        all.iter()
            .rev()
            .find_map(|one| Some(format!("{} {}", one.get("question")?.as_str()?, one.get("number")?)))
    });
    html! {
        div.number-pad #number {
            (call.form(&address(slot, "now"), &html! {
                input type="hidden" name="what" value="number";
                fieldset {
                    legend { (call.t("room-number-of")) @if let Some(last) = last { " " span.small lang="en" { (last) } } }
                    div.kinds {
                        @for (word, key) in [("pain", "room-pain"), ("comfort", "room-comfort")] {
                            span.choice {
                                input type="radio" name="kind" value=(word) id=(format!("kind-{word}")) checked[word == "pain"];
                                label for=(format!("kind-{word}")) { (call.t(key)) }
                            }
                        }
                    }
                    div.digits {
                        @for n in 0..=10u8 {
                            button type="submit" name="number" value=(n) data-digit=(n) { (n) }
                        }
                        a.button.close href="#targets-title" data-close-number="" { (call.t("room-close")) }
                    }
                }
            }))
        }
    }
}
