//! Safe copies: which there are and how old, and making one now.

use super::guided::line;
use crate::cli::commands::safecopy::size;
use crate::cli::exit::Exit;
use crate::desk::{Call, Reply, Route, frame};
use crate::practice::copies::known;
use crate::record::calendar::days_between;
use crate::record::moment::plain_date;
use crate::trouble::{Outcome, Trouble};
use maud::html;
use serde_json::Value;

/// Their addresses.
pub const ROUTES: &[Route] = &[Route::get("/office/copies", show), Route::post("/office/copies", make)];

fn show(call: &Call<'_>) -> Outcome<Reply> {
    page(call, None)
}

fn page(call: &Call<'_>, trouble: Option<&Trouble>) -> Outcome<Reply> {
    let practice = call.practice()?;
    let mut copies = known(&practice)?;
    copies.sort_by_key(|copy| std::cmp::Reverse(copy.made.unix()));
    let today = practice.now().local_date();
    let last = copies.iter().find(|copy| copy.gone.is_none());
    let inside = html! {
        (line(call, "to", "desk-copy-to", Some("desk-copy-to-hint")))
        (line(call, "called", "desk-copy-called", Some("desk-copy-called-hint")))
        p.field {
            input #drafts type="checkbox" name="drafts" value="yes" checked[call.field("drafts").is_some()];
            label for="drafts" { (call.t("desk-copy-drafts")) }
        }
        div.actions { button.main type="submit" { (call.t("desk-copy-go")) } }
    };
    let main = html! {
        h1 { (call.t("desk-copies-title")) }
        @match last {
            None => p.notice { (call.t("desk-copies-none")) },
            Some(copy) => {
                @let age = days_between(copy.made.local_date(), today);
                p.notice {
                    (call.t_with("desk-copy-last", &[("days", &age.to_string()), ("place", &copy.place), ("when", &copy.made.plain())]))
                    " "
                    (call.t_with("desk-copy-behind", &[("count", &practice.size().saturating_sub(copy.entries).to_string())]))
                }
            },
        }
        h2 { (call.t("desk-copy-make")) }
        @if let Some(trouble) = trouble { (frame::trouble_box(call, trouble)) }
        p { (call.t("desk-copy-why")) }
        (call.form("/office/copies", &inside))
        @if !copies.is_empty() {
            h2 { (call.t("desk-copies-known")) }
            ul.ledger {
                @for copy in &copies {
                    li {
                        strong { bdi { (copy.place) } } ", " (copy.made.plain()) ", "
                        (call.t_with("desk-copy-entries", &[("count", &copy.entries.to_string())]))
                        @if let Some(until) = copy.keep_until {
                            ", " (call.t_with("desk-copy-until", &[("day", &plain_date(until.0))]))
                        }
                        @if let Some((when, why)) = &copy.gone {
                            ". " strong { (call.t("desk-copy-gone")) } " " (when.plain()) ": " bdi { (why) }
                        }
                    }
                }
            }
        }
    };
    Ok(Reply::page(call, "desk-copies-title", main).conflicts(trouble))
}

fn make(call: &Call<'_>) -> Outcome<Reply> {
    let mut words = vec!["safecopy".to_string()];
    words.extend(call.field("called").map(|name| format!("--called={name}")));
    if call.field("drafts").is_some() {
        words.push("--with-drafts".to_string());
    }
    // The folder is a word of its own, so that no name of a folder is read as an option.
    words.push("--".to_string());
    match call.field("to") {
        Some(to) => words.push(to.to_string()),
        None => {
            let trouble = Trouble::input("It was not said where to.", "Name the folder of the copy.");
            return page(call, Some(&trouble));
        }
    }
    match call.run(&words) {
        Ok(ran) if ran.exit == Exit::Done => {
            let copied = [
                ("entries", number(&ran.json, "entries").to_string()),
                ("size", size(number(&ran.json, "bytes"))),
            ];
            let copied: Vec<(&str, &str)> =
                copied.iter().map(|(name, text)| (*name, text.as_str())).collect();
            call.notice(call.t_with("desk-copy-made", &copied));
            Ok(Reply::to("/office/copies"))
        }
        Ok(ran) => page(call, Some(&unsound(&ran.json))),
        Err(trouble) => page(call, Some(&trouble)),
    }
}

fn number(json: &Value, name: &str) -> u64 {
    json[name].as_u64().unwrap_or_default()
}

fn unsound(json: &Value) -> Trouble {
    let findings = json["findings"].as_array().into_iter().flatten();
    let said: Vec<&str> = findings.filter_map(|finding| finding["what"].as_str()).collect();
    Trouble::damaged(format!("The safe copy is NOT SOUND: {}", said.join(" ")))
}
