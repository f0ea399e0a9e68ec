//! The frame of every page: head, list of places, who is here, the way to lock; and the page of a trouble.

use super::call::Call;
use super::catalogue::Lang;
use super::reply::Reply;
use super::{PLACES, own};
use crate::trouble::{Kind, Trouble};
use maud::{DOCTYPE, Markup, html};

fn head(call: &Call<'_>, title: &str) -> Markup {
    html! {
        meta charset="utf-8";
        meta name="viewport" content="width=device-width, initial-scale=1";
        meta name="robots" content="noindex";
        title { (call.t(title)) " · Inkfast" }
        link rel="icon" href="/own/mark.svg" type="image/svg+xml";
        @for name in own::styles() { link rel="stylesheet" href=(format!("/own/{name}")); }
        @if let Some(left) = call.seconds_left() {
            // Without scripts a page that was left alone turns to the locked one; with them it looks by itself.
            noscript { meta http-equiv="refresh" content=(format!("{}; url=/locked", left + 2)); }
        }
        @for name in own::scripts() { script src=(format!("/own/{name}")) defer {} }
    }
}

/// A page within the frame.
pub fn page(call: &Call<'_>, title: &str, main: &Markup) -> Markup {
    let unlocked = !call.who().is_empty();
    let notice = call.with_visitor(|visitor| visitor.notice.take()).ok().flatten();
    html! {
        (DOCTYPE)
        html lang=(call.lang.tag()) {
            head { (head(call, title)) }
            body data-unlocked=[unlocked.then_some("yes")] {
                a.skip href="#main" { (call.t("skip")) }
                header.spine {
                    p.name { a href="/" { "Inkfast" } }
                    @if unlocked {
                        nav aria-label=(call.t("places")) {
                            ul {
                                @for (address, key) in PLACES {
                                    li {
                                        a href=(address) aria-current=[is_here(call, address).then_some("page")] {
                                            (call.t(key))
                                        }
                                    }
                                }
                            }
                        }
                        div.here {
                            p { (call.t_with("here", &[("who", call.who())])) }
                            button.cover type="button" data-cover="" hidden { (call.t("cover")) }
                            (call.form("/lock", &html! { button type="submit" { (call.t("lock")) } }))
                        }
                    }
                }
                main #main tabindex="-1" {
                    @if let Some(notice) = notice { p.notice role="status" { (notice) } }
                    (main)
                }
                footer {
                    p { (call.t("footer")) }
                    @if call.visitor.is_some() { (languages(call)) }
                }
                div #covered role="dialog" aria-modal="true" aria-labelledby="covered-why" hidden {
                    p #covered-why { (call.t("covered")) }
                }
            }
        }
    }
}

fn is_here(call: &Call<'_>, address: &str) -> bool {
    match address {
        "/" => call.given.path == "/",
        _ => call.given.path == address || call.given.path.starts_with(&format!("{address}/")),
    }
}

fn languages(call: &Call<'_>) -> Markup {
    let choices = html! {
        @if call.given.looks { input type="hidden" name="back" value=(call.given.path); }
        @for lang in Lang::ALL {
            button type="submit" name="lang" value=(lang.tag()) lang=(lang.tag())
                aria-pressed=(if lang == call.lang { "true" } else { "false" }) { (lang.name()) }
        }
    };
    html! { div.languages role="group" aria-label=(call.t("language")) { (call.form("/language", &choices)) } }
}

/// A page that leads nowhere else.
pub fn bare(call: &Call<'_>, title: &str, main: &Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang=(call.lang.tag()) {
            head { (head(call, title)) }
            body.bare { main #main tabindex="-1" { (main) } }
        }
    }
}

/// A trouble as a page: what happened, what is safe, what to do next.
pub fn trouble(call: &Call<'_>, trouble: &Trouble) -> Reply {
    let main = html! {
        h1 { (call.t("trouble-title")) }
        (trouble_box(call, trouble))
        p { a.button href="/" { (call.t("trouble-back")) } }
    };
    let status = match trouble.kind {
        Kind::BadInput => 400,
        Kind::NotFound => 404,
        Kind::Locked => 403,
        Kind::Refused | Kind::Behind => 409,
        Kind::Busy => 503,
        _ => 500,
    };
    Reply::page(call, "trouble-title", main).status(status)
}

/// The three sentences of a trouble, to stand in any page.
pub fn trouble_box(call: &Call<'_>, trouble: &Trouble) -> Markup {
    html! {
        div.trouble role="alert" {
            p.what lang="en" { (trouble.what) }
            dl {
                dt { (call.t("trouble-safe")) } dd lang="en" { (trouble.safe) }
                dt { (call.t("trouble-next")) } dd lang="en" { (trouble.next) }
            }
        }
    }
}
