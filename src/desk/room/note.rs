//! The note while it is being written: lines typed in the trade's shorthand and read back in full words before they
//! are added; and the list of what is missing, with the signature at its end.

use super::page::address;
use super::seen::{Seen, Visit};
use crate::desk::call::Call;
use crate::record::kinds::withdrawal::AskedAnswer;
use crate::record::moment::Moment;
use crate::record::notation::line::{Read, Setting, read, read_back, split};
use crate::record::tables::levels::Levels;
use crate::trouble::{Outcome, Trouble};
use maud::{Markup, html};
use serde_json::Value;

/// What came of reading one line.
pub enum Said {
    /// It reads so, in full words.
    Words(String),
    /// It could be read in several ways: what is asked, and each way written out, with its words.
    Ask(String, Vec<(String, String)>),
    /// It can't be read, and why.
    No(String),
}

/// Reads every line of what was typed, as the command will.
///
/// # Errors
/// When the program's table of levels can't be read.
pub fn read_lines(typed: &str, at: Moment, me: &str) -> Outcome<Vec<(String, Said)>> {
    let levels = Levels::shipped().map_err(Trouble::damaged)?;
    let setting = Setting { at, done_by: me, transitional: false, levels };
    let words = |line: &str| match read(line, &setting) {
        Read::Line(line) => read_back(&line),
        Read::Ask(question) => question.text,
        Read::Refused(refusal) => refusal.text,
    };
    let said = |line: &str| match read(line, &setting) {
        Read::Line(line) => Said::Words(read_back(&line)),
        Read::Ask(question) => {
            let ways = question.readings.iter().map(|way| (way.clone(), words(way))).collect();
            Said::Ask(question.text, ways)
        }
        Read::Refused(refusal) => Said::No(refusal.text),
    };
    let lines = split(typed).into_iter().map(str::trim).filter(|line| !line.is_empty());
    Ok(lines.map(|line| (line.to_string(), said(line))).collect())
}

/// True when every line can be added as it stands.
pub fn all_clear(lines: &[(String, Said)]) -> bool {
    !lines.is_empty() && lines.iter().all(|(_, said)| matches!(said, Said::Words(_)))
}

/// What the page shows beneath the field while a line is being typed.
pub fn reading(call: &Call<'_>, lines: &[(String, Said)]) -> Markup {
    html! {
        @for (line, said) in lines {
            @match said {
                Said::Words(words) => p.reads { span.shape.yes aria-hidden="true" {} span lang="en" { (words) } },
                Said::Ask(text, ways) => {
                    div.reads.ask {
                        p { span.shape.ask aria-hidden="true" {} span lang="en" { (text) } }
                        div.chips {
                            @for (way, words) in ways {
                                button type="submit" name="instead" value=(format!("{line}\u{1f}{way}")) lang="en" {
                                    strong { (way) } " " span { (words) }
                                }
                            }
                        }
                    }
                },
                Said::No(why) => p.reads.no {
                    span.shape.no aria-hidden="true" {} strong { (line) } " " span lang="en" { (why) }
                },
            }
        }
        @if lines.is_empty() { p.reads.none { (call.t("room-line-none")) } }
    }
}

/// What often stands behind a line, as the line form writes it: side, how it was borne, gloves, before and after.
const BEHIND: [&str; 11] =
    ["L", "R", "both", "ok", "better", "same", "sore", "worse", "nitrile fresh", "before", "after"];

/// What was asked in this visit, and answered.
fn asked(call: &Call<'_>, visit: &Visit) -> Markup {
    html! {
        @if !visit.asked.is_empty() {
            ul.asked {
                @for one in &visit.asked {
                    @let yes = one.answer != AskedAnswer::No;
                    li {
                        span.number { (one.at.clock()) }
                        span class=(if yes { "shape yes" } else { "shape no" }) aria-hidden="true" {}
                        span { (one.question.plain(call.lang)) ": " strong { (call.t(if yes { "room-yes" } else { "room-no" })) }
                            @if let Some(words) = &one.words { " – " (words) } }
                    }
                }
            }
        }
    }
}

/// The note so far, and the field for the next line.
pub fn part(call: &Call<'_>, slot: &str, seen: &Seen, visit: &Visit) -> Markup {
    let typed = seen.typing.get("line").unwrap_or_default();
    let lines = read_lines(typed, call.now().at, call.who()).unwrap_or_default();
    html! {
        section.note #note aria-labelledby="note-title" {
            h2 #note-title { (call.t("room-note")) }
            p.small { (call.t_with("room-open-since", &[("time", &visit.opened.clock()), ("number", &visit.seq.to_string())])) }
            (asked(call, visit))
            (so_far(call, slot, visit))
            (call.form(&address(slot, "line"), &html! {
                p.field {
                    label for="line" { (call.t("room-line")) }
                    span.hint #line-hint { (call.t("room-line-hint")) }
                    input #line name="line" value=(typed) autocomplete="off" autocapitalize="off" spellcheck="false"
                        enterkeyhint="done" data-kept="line" data-add=(call.t("room-line-add")) data-read=(call.t("room-line-read"))
                        aria-describedby="line-hint reading";
                }
                div.chips.behind data-behind="" hidden role="group" aria-label=(call.t("room-behind")) {
                    @for word in BEHIND { button type="button" data-append=(word) lang="en" { (word) } }
                }
                div #reading role="status" aria-live="polite" {
                    @if !typed.is_empty() { (reading(call, &lines)) }
                }
                @if all_clear(&lines) { input type="hidden" name="seen" value=(typed); }
                div.actions {
                    button.main type="submit" { (call.t(if all_clear(&lines) { "room-line-add" } else { "room-line-read" })) }
                    button type="submit" name="clear" value="yes" { (call.t("room-line-clear")) }
                }
            }))
            (marked(call, slot, seen, visit))
        }
    }
}

fn so_far(call: &Call<'_>, slot: &str, visit: &Visit) -> Markup {
    html! {
        @if visit.lines.is_empty() {
            p.small { (call.t("room-note-empty")) }
        } @else {
            (call.form(&address(slot, "drop"), &html! {
                ol.lines {
                    @for line in &visit.lines {
                        li {
                            span.number { (line.number) }
                            span.words lang="en" { (line.words) }
                            button.drop type="submit" name="number" value=(line.number)
                                aria-label=(call.t_with("room-drop-line", &[("number", &line.number.to_string())])) {
                                (call.t("room-drop"))
                            }
                        }
                    }
                }
            }))
        }
    }
}

/// Moments that were marked: each can be given words.
fn marked(call: &Call<'_>, slot: &str, seen: &Seen, visit: &Visit) -> Markup {
    html! {
        @for mark in &visit.marked {
            @let id = format!("mark-{}", mark.number);
            (call.form(&address(slot, "mark-words"), &html! {
                input type="hidden" name="of" value=(mark.number);
                p.field.mark {
                    label for=(id) { (call.t_with("room-mark-words", &[("time", &mark.at)])) }
                    input id=(id) name="words" autocomplete="off" data-kept=(id)
                        value=(seen.typing.get(&id).unwrap_or_default());
                    button type="submit" { (call.t("room-keep-words")) }
                }
            }))
        }
    }
}

/// One remark of the list before signing, as the command gives it.
struct Remark<'a> {
    item: &'a str,
    level: &'a str,
    words: &'a str,
    remedy: &'a str,
    answered: Option<&'a str>,
}

fn remarks(list: &Value) -> Vec<Remark<'_>> {
    let all = list["remarks"].as_array().map_or(&[][..], Vec::as_slice);
    all.iter()
        .map(|one| Remark {
            item: one["item"].as_str().unwrap_or_default(),
            level: one["level"].as_str().unwrap_or_default(),
            words: one["words"].as_str().unwrap_or_default(),
            remedy: one["remedy"].as_str().unwrap_or_default(),
            answered: one["answered"].as_str(),
        })
        .collect()
}

/// What is missing, and the signature.
pub fn signing(call: &Call<'_>, slot: &str, seen: &Seen, visit: &Visit, list: &Value) -> Markup {
    let all = remarks(list);
    let of =
        |level: &str| all.iter().filter(|r| r.level == level && r.answered.is_none()).collect::<Vec<_>>();
    let open = of("refuse").len() + of("missing").len() + of("ask").len();
    html! {
        section.signing #sign aria-labelledby="sign-title" {
            h2 #sign-title { (call.t("room-sign-title")) }
            @if open == 0 { p.big { span.shape.yes aria-hidden="true" {} (call.t("room-nothing-missing")) } }
            (call.form(&address(slot, "sign"), &html! {
                @for (level, key) in [("refuse", "room-level-refuse"), ("missing", "room-level-missing"), ("ask", "room-level-ask")] {
                    @let found = of(level);
                    @if !found.is_empty() {
                        h3 { (call.t(key)) }
                        ul.remarks { @for remark in &found { (remark_field(call, seen, remark)) } }
                    }
                }
                @let flags = of("flag");
                @if !flags.is_empty() {
                    h3 { (call.t("room-level-flag")) }
                    ul.remarks { @for remark in &flags { li lang="en" { (remark.words) } } }
                }
                fieldset {
                    legend { (call.t("room-carry")) }
                    div.choices {
                        @for part in ["assessment", "advice", "plan"] {
                            span.choice {
                                input type="checkbox" name="carry" value=(part) id=(format!("carry-{part}"));
                                label for=(format!("carry-{part}")) { (call.t(&format!("room-carry-{part}"))) }
                            }
                        }
                    }
                }
                @if !of("missing").is_empty() {
                    p.choice.known {
                        input type="checkbox" name="acknowledge" value="yes" id="acknowledge";
                        label for="acknowledge" { (call.t("room-acknowledge")) }
                    }
                }
                (call.pin_field())
                div.actions {
                    button.main.sign type="submit" { (call.t("room-sign")) }
                    button type="submit" name="hold" value="yes" { (call.t("room-hold")) }
                }
                p.small { (call.t_with("room-sign-reads", &[("count", &visit.lines.len().to_string())])) }
            }))
        }
    }
}

/// One item, and a field for the answer or the reason.
fn remark_field(call: &Call<'_>, seen: &Seen, remark: &Remark<'_>) -> Markup {
    let id = format!("item-{}", remark.item.replace(|c: char| !c.is_ascii_alphanumeric(), "-"));
    let (name, key) = match remark.level {
        "missing" => ("not-done", "room-not-done"),
        "refuse" => ("custodians-reason", "room-custodians-reason"),
        _ => ("answer", "room-answer"),
    };
    let kept = format!("{name}:{}", remark.item);
    html! {
        li {
            p.what lang="en" { (remark.words) }
            p.hint id=(format!("{id}-hint")) lang="en" { (remark.remedy) }
            p.field {
                label for=(id) { (call.t(key)) span.unseen lang="en" { " " (remark.words) } }
                input type="hidden" name=(format!("{name}-item")) value=(remark.item);
                input id=(id) name=(name) autocomplete="off" data-kept=(kept) aria-describedby=(format!("{id}-hint"))
                    value=(seen.typing.get(&kept).unwrap_or_default());
            }
        }
    }
}
