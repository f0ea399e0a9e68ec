//! Who is expected today, whose visit is open here, and finding a chart; and, before a visit is opened, the page on
//! which the patient's name and birth date are read out and confirmed.

use super::page::{address, head};
use super::seen::Seen;
use crate::desk::Reply;
use crate::desk::call::Call;
use crate::practice::chart::{ChartFace, faces};
use crate::practice::lists::gather;
use crate::practice::visit::open_here;
use crate::record::moment::plain_date;
use crate::trouble::Outcome;
use maud::{Markup, html};

/// Most charts shown for what was searched: whoever sees more has to type more.
const MOST_FOUND: usize = 12;

/// The list of the room.
pub fn list(call: &Call<'_>) -> Outcome<Reply> {
    let practice = call.practice()?;
    let all = faces(&practice)?;
    let here = open_here(&practice)?;
    let expected = gather(&practice, None, practice.now().local_date())?.of_the_day().expected;
    let open: Vec<&ChartFace> = here.iter().filter_map(|tag| all.iter().find(|f| f.tag == *tag)).collect();
    let waiting: Vec<&ChartFace> = expected
        .iter()
        .filter_map(|one| all.iter().find(|f| f.chart_no == one.chart && !here.contains(&f.tag)))
        .collect();
    let main = html! {
        h1 { (call.t("room-list-title")) }
        @if !open.is_empty() {
            section aria-labelledby="open-here" {
                h2 #open-here { (call.t("room-open-here")) }
                (cards(call, &open, true)?)
            }
        }
        section aria-labelledby="expected" {
            h2 #expected { (call.t("room-expected")) }
            @if waiting.is_empty() { p { (call.t("room-nobody-expected")) } }
            (cards(call, &waiting, false)?)
        }
        section aria-labelledby="find" {
            h2 #find { (call.t("room-find")) }
            (call.form("/room", &html! {
                p.field {
                    label for="who" { (call.t("room-find-who")) }
                    input #who name="who" type="search" autocomplete="off" value=(call.field("who").unwrap_or_default());
                }
                button.main type="submit" { (call.t("room-find-go")) }
            }))
            @if let Some(who) = call.field("who") { (found(call, &all, who)?) }
        }
    };
    Ok(Reply::page(call, "room-list-title", main))
}

fn cards(call: &Call<'_>, faces: &[&ChartFace], open: bool) -> Outcome<Markup> {
    let mut rows = Vec::new();
    for face in faces {
        rows.push((call.slot(&face.chart_no)?, face));
    }
    Ok(html! {
        ul.patients {
            @for (slot, face) in rows {
                li {
                    a class=(if open { "patient-card open" } else { "patient-card" }) href=(address(&slot, "")) {
                        span.number { (face.chart_no) }
                        strong { (face.identity.chosen_name.as_ref().unwrap_or(&face.identity.legal_name)) }
                        @if face.identity.chosen_name.is_some() { span { (face.identity.legal_name) } }
                        span { (face.identity.birth_date.date.map(|d| plain_date(d.0)).unwrap_or_default()) }
                        @if open { span.small { (call.t("room-is-open")) } }
                    }
                }
            }
        }
    })
}

/// Charts whose number or name holds every word that was typed.
fn found(call: &Call<'_>, all: &[ChartFace], who: &str) -> Outcome<Markup> {
    let words: Vec<String> = who.split_whitespace().map(str::to_lowercase).collect();
    let text = |face: &ChartFace| {
        let names: Vec<&str> = face.identity.names().collect();
        format!("{} {}", face.chart_no, names.join(" ")).to_lowercase()
    };
    let fits = |face: &&ChartFace| {
        let text = text(face);
        face.continue_at.is_none() && words.iter().all(|word| text.contains(word))
    };
    let found: Vec<&ChartFace> = all.iter().filter(fits).collect();
    let shown: Vec<&ChartFace> = found.iter().take(MOST_FOUND).copied().collect();
    Ok(html! {
        p role="status" {
            @if found.len() > MOST_FOUND { (call.t_with("room-found-more", &[("count", &found.len().to_string())])) }
            @else { (call.t_with("room-found-count", &[("count", &found.len().to_string())])) }
        }
        (cards(call, &shown, false)?)
    })
}

/// Before the visit: who this is, to be read out.
pub fn before_visit(call: &Call<'_>, seen: &Seen) -> Reply {
    let slot = call.param("slot");
    let main = html! {
        div.room.before {
            (head(call, seen))
            p.big { (call.t("room-confirm-why")) }
            (call.form(&address(slot, "open"), &html! {
                p.field {
                    label for="present" { (call.t("room-present")) }
                    span.hint #present-hint { (call.t("room-present-hint")) }
                    input #present name="present" autocomplete="off" aria-describedby="present-hint";
                }
                button.main.huge type="submit" autofocus { (call.t("room-confirmed")) }
            }))
            div.actions {
                a.button href=(format!("/consent/{slot}")) { (call.t("room-to-consent")) }
                a.button href="/room" { (call.t("room-back-to-list")) }
            }
        }
    };
    Reply::page(call, "room-title", main)
}
