//! Coming in, unlocking and locking.

use super::call::Call;
use super::catalogue::Lang;
use super::run::{Ran, run};
use super::{Door, Method, Reply, Route, frame, pipe};
use crate::cli::keeper::{Held, PinAnswer, held, lock, look, try_pin};
use crate::trouble::{Kind, Outcome, Trouble};
use maud::{Markup, html};

/// Their addresses.
pub const ROUTES: &[Route] = &[
    Route::get("/enter", enter).door(Door::Open),
    Route::get("/locked", locked).door(Door::Entered).by_itself(),
    Route::get("/still", still).door(Door::Entered).by_itself(),
    Route::get("/unsent", unsent),
    Route::post("/unsent", forget_unsent),
    Route::get("/typing", |_| Ok(Reply::nothing())),
    Route::post("/unlock", unlock).door(Door::Entered).by_itself(),
    Route::post("/lock", lock_now).door(Door::Entered).by_itself(),
    Route::post("/language", language).door(Door::Entered).by_itself(),
];

/// What answers where nothing has this address.
pub const NOWHERE: Route = Route {
    method: Method::Get,
    path: "/",
    door: Door::Open,
    counts: false,
    background: false,
    for_patient: false,
    handler: |_| {
        Err(Trouble::new(
            Kind::NotFound,
            "There is no page at this address.",
            "Nothing was shown or changed.",
            "Go to the list of today.",
        ))
    },
};

fn no_random(call: &Call<'_>, e: &std::io::Error) -> Trouble {
    Trouble::disk("get random numbers for", &call.desk.order.root, e)
}

/// Lets a browser in that has a link.
fn enter(call: &Call<'_>) -> Outcome<Reply> {
    let word = call.field("link").unwrap_or_default();
    let come_in = call.desk.visitors().come_in(call.world(), word).map_err(|e| no_random(call, &e))?;
    Ok(match come_in {
        Some(visitor) => Reply { cookie: Some(visitor.cookie), ..Reply::to("/") },
        // Called up again by a browser that is in already: the link is used, and not needed.
        None if call.visitor.is_some() => Reply::to("/"),
        None => no_way_in(call),
    })
}

/// Says how to get in.
pub fn no_way_in(call: &Call<'_>) -> Reply {
    let main = html! {
        h1 { (call.t("outside-title")) }
        p { (call.t("outside-why")) }
        p { (call.t("outside-next")) }
    };
    Reply::page(call, "outside-title", main).status(403)
}

fn locked(call: &Call<'_>) -> Outcome<Reply> {
    Ok(if call.who().is_empty() { locked_page(call) } else { Reply::to("/") })
}

/// The page with the ways to unlock.
pub fn locked_page(call: &Call<'_>) -> Reply {
    unlock_page(call, None)
}

fn unlock_page(call: &Call<'_>, trouble: Option<&Trouble>) -> Reply {
    let open = call.place().ok().and_then(|place| look(&place)).filter(|look| look.asks_pin);
    let main = html! {
        h1 { (call.t("unlock-title")) }
        @if let Some(trouble) = trouble { (frame::trouble_box(call, trouble)) }
        @if let Some(look) = open {
            section aria-labelledby="by-pin" {
                h2 #by-pin { (call.t_with("unlock-number-title", &[("who", &look.code)])) }
                (call.form("/unlock", &html! {
                    p.field {
                        label for="pin" { (call.t("pin-label")) }
                        input #pin type="password" name="pin" inputmode="numeric" autocomplete="off" required autofocus;
                    }
                    button.main type="submit" { (call.t("unlock-go")) }
                }))
            }
        }
        section aria-labelledby="by-passphrase" {
            h2 #by-passphrase { (call.t("unlock-passphrase-title")) }
            (call.form("/unlock", &by_passphrase(call)))
        }
        p.small { (call.t("unlock-why")) }
    };
    Reply::page(call, "unlock-title", main)
}

fn by_passphrase(call: &Call<'_>) -> Markup {
    html! {
        p.field {
            label for="code" { (call.t("unlock-code")) }
            input #code name="code" value=(call.field("code").unwrap_or_default()) required
                autocomplete="off" autocapitalize="characters" spellcheck="false";
        }
        p.field {
            label for="passphrase" { (call.t("unlock-passphrase")) }
            input #passphrase type="password" name="passphrase" autocomplete="off" required;
        }
        p.field {
            label for="new-pin" { (call.t("unlock-new-number")) }
            span.hint #new-pin-hint { (call.t("unlock-new-number-hint")) }
            input #new-pin type="password" name="new-pin" inputmode="numeric" autocomplete="off"
                aria-describedby="new-pin-hint";
        }
        p.field {
            label for="new-pin-again" { (call.t("unlock-new-number-again")) }
            input #new-pin-again type="password" name="new-pin-again" inputmode="numeric" autocomplete="off";
        }
        button.main type="submit" { (call.t("unlock-go")) }
    }
}

fn unlock(call: &Call<'_>) -> Outcome<Reply> {
    let unlocked = match call.field("pin") {
        Some(number) => with_number(call, number),
        None => with_passphrase(call),
    };
    match unlocked {
        Ok(code) => {
            let back = call.with_visitor(|visitor| {
                // What somebody else had typed is not shown.
                if visitor.was.as_ref() != Some(&code) {
                    visitor.unsent = None;
                    visitor.back = None;
                }
                visitor.code = Some(code);
                let unsent = visitor.unsent.is_some().then(|| "/unsent".to_string());
                unsent.or_else(|| visitor.back.take())
            })?;
            Ok(Reply::to(back.unwrap_or_else(|| "/".to_string())))
        }
        Err(trouble) => Ok(unlock_page(call, Some(&trouble)).status(403)),
    }
}

/// The store is unlocked by somebody who set a short number: whoever knows it goes on as that person.
fn with_number(call: &Call<'_>, number: &str) -> Outcome<String> {
    const NEXT: &str = "Try again, or unlock with the passphrase.";
    is_the_number(call, number, NEXT)?;
    match held(&call.place()?) {
        // Without a number everybody would be let in; then only the passphrase counts.
        Some(Held::Open(opened)) if opened.asks_pin => Ok(opened.me.code.clone()),
        _ => Err(not_let_in("Nobody is unlocked here any more.", NEXT)),
    }
}

fn not_let_in(what: impl Into<String>, next: &str) -> Trouble {
    Trouble::new(Kind::Locked, what, "Nothing was shown or changed.", next)
}

/// Has the keeper compare the short number.
///
/// # Errors
/// When it is not the one, with what to do `next`.
pub(super) fn is_the_number(call: &Call<'_>, number: &str, next: &str) -> Outcome<()> {
    match try_pin(&call.place()?, number) {
        PinAnswer::Right => Ok(()),
        PinAnswer::Wrong(left) => {
            Err(not_let_in(format!("That is not the short number. Tries left: {left}."), next))
        }
        PinAnswer::Locked => {
            Err(not_let_in("The short number was wrong too often; everything is locked.", next))
        }
    }
}

fn with_passphrase(call: &Call<'_>) -> Outcome<String> {
    let code = call.field("code").unwrap_or_default().to_ascii_uppercase();
    let passphrase = call.field("passphrase").unwrap_or_default();
    let (new, again) = (call.field("new-pin"), call.field("new-pin-again"));
    if new != again {
        return Err(Trouble::input("The two short numbers are not the same.", "Type it twice again."));
    }
    let named = format!("--as={code}");
    match new {
        None => run(call, &["unlock", &named, "--without-pin"], None, &[passphrase])?,
        Some(number) => unlock_with_new_number(call, &named, passphrase, number)?,
    };
    Ok(code)
}

/// The command takes a new number from a pipe, as it takes it from a script: a number on its own command line
/// would be read by other programs, and in a file it would stay on the disk.
fn unlock_with_new_number(call: &Call<'_>, named: &str, passphrase: &str, number: &str) -> Outcome<Ran> {
    pipe::handed(call, format!("{number}\n").as_bytes(), |file| {
        run(call, &["unlock", named, &format!("--pin-file={file}")], None, &[passphrase])
    })
}

fn lock_now(call: &Call<'_>) -> Outcome<Reply> {
    lock(&call.place()?);
    call.desk.visitors().lock_all();
    Ok(Reply::to("/locked"))
}

/// A form that came after the page was locked, to be sent again or forgotten.
fn unsent(call: &Call<'_>) -> Outcome<Reply> {
    let Some((path, fields)) = call.with_visitor(|visitor| visitor.unsent.clone())? else {
        return Ok(Reply::to("/"));
    };
    let main = html! {
        h1 { (call.t("unsent-title")) }
        p { (call.t("unsent-why")) }
        dl.typed {
            // Names that the page itself put in begin like words of the page and are sent, not shown.
            @for (name, value) in fields.iter().filter(|(name, value)| name != "asked" && !value.trim().is_empty()) {
                dt lang="en" { (super::asks::plain(name)) }
                dd { (value) }
            }
        }
        div.actions {
            (call.form(&path, &html! {
                @for (name, value) in &fields { input type="hidden" name=(name) value=(value); }
                (call.pin_field())
                button.main type="submit" { (call.t("unsent-send")) }
            }))
            (call.form("/unsent", &html! { button type="submit" { (call.t("unsent-forget")) } }))
        }
    };
    Ok(Reply::page(call, "unsent-title", main))
}

fn forget_unsent(call: &Call<'_>) -> Outcome<Reply> {
    call.with_visitor(|visitor| visitor.unsent = None)?;
    Ok(Reply::to("/"))
}

/// Whether somebody is unlocked in this browser still: asked by the page's script, and not counted as work.
fn still(call: &Call<'_>) -> Outcome<Reply> {
    Ok(if call.who().is_empty() { Reply::nothing().status(403) } else { Reply::nothing() })
}

fn language(call: &Call<'_>) -> Outcome<Reply> {
    let lang = call.field("lang").and_then(Lang::from_tag);
    call.with_visitor(|visitor| visitor.lang = lang)?;
    // Back to the page it was chosen on; an address of ours begins with one stroke.
    let back = call.field("back").filter(|back| back.starts_with('/') && !back.starts_with("//"));
    Ok(Reply::to(back.unwrap_or("/")))
}
