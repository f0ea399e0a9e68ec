//! Releases: a chart, or the part of it that a request names, as one sealed package that the browser keeps.

use super::about;
use super::guided::{done, line};
use super::requests::{number, stops};
use crate::cli::form::Form;
use crate::cli::forms;
use crate::desk::{Call, Reply, Route, asks, frame};
use crate::practice::chart::ChartFace;
use crate::practice::request::dealing;
use crate::seal::body::hex;
use crate::trouble::{Kind, Outcome, Trouble};
use maud::{Markup, html};
use serde_json::Value;
use std::path::PathBuf;

/// Their addresses.
pub const ROUTES: &[Route] = &[
    Route::get("/chart/{slot}/release", for_chart),
    Route::post("/chart/{slot}/release", release_chart),
    Route::get("/request/{number}/release", for_request),
    Route::post("/request/{number}/release", answer_request),
    Route::get("/release/package", package),
    Route::post("/release/file", download),
    Route::post("/release/taken", taken),
];

/// Name under which the package that waits to be taken is kept: where it lies, and what was said of it.
const WAITING: &str = "desk-package";

/// What is released, for whom, and where the form goes.
struct Order {
    face: ChartFace,
    /// Number of the request that it answers.
    request: Option<u64>,
    action: String,
    back: String,
    above: Markup,
}

impl Order {
    fn form(&self) -> Form {
        let mut form = forms::desk::release();
        form.questions.retain(|question| question.flag != "request");
        form
    }

    /// The questions about the package itself: to whom it is sealed, which part, what is withheld.
    fn sealing(&self, call: &Call<'_>) -> Markup {
        let by_key = call.field("sealed") == Some("key");
        html! {
            fieldset.choose {
                legend { (call.t("desk-seal")) }
                div.choices {
                    span.choice {
                        input #seal-passphrase type="radio" name="sealed" value="passphrase" checked[!by_key];
                        label for="seal-passphrase" { (call.t("desk-seal-passphrase")) }
                    }
                    span.choice {
                        input #seal-key type="radio" name="sealed" value="key" checked[by_key];
                        label for="seal-key" { (call.t("desk-seal-key")) }
                    }
                }
            }
            p.field {
                label for="passphrase" { (call.t("desk-package-passphrase")) }
                span.hint #passphrase-hint { (call.t("desk-package-passphrase-hint")) }
                input #passphrase type="password" name="passphrase" autocomplete="off" aria-describedby="passphrase-hint";
            }
            p.field {
                label for="passphrase-again" { (call.t("desk-package-again")) }
                input #passphrase-again type="password" name="passphrase" autocomplete="off";
            }
            (line(call, "told-passphrase", "desk-told", None))
            (line(call, "recipient", "desk-recipient", Some("desk-recipient-hint")))
            (line(call, "read-back", "desk-read-back", None))
            details {
                summary { (call.t("desk-part-of-chart")) }
                (line(call, "from", "desk-from", Some("desk-day-hint")))
                (line(call, "until", "desk-until", Some("desk-day-hint")))
                p.field {
                    label for="withhold" { (call.t("desk-withhold")) }
                    span.hint #withhold-hint { (call.t("desk-withhold-hint")) }
                    textarea #withhold name="withhold" rows="3" aria-describedby="withhold-hint" {
                        (call.field("withhold").unwrap_or_default())
                    }
                }
            }
            @if self.request.is_some() { (line(call, "despite", "desk-despite", Some("desk-despite-hint"))) }
        }
    }

    fn page(&self, call: &Call<'_>, trouble: Option<&Trouble>) -> Reply {
        let inside = html! {
            (asks::fields(call, &self.form(), &[]))
            (self.sealing(call))
            (call.pin_field())
            div.actions {
                button.main type="submit" { (call.t("desk-release-go")) }
                a href=(self.back) { (call.t("desk-do-not")) }
            }
        };
        let main = html! {
            h1 { (call.t("desk-release-title")) }
            (about(call, &self.face))
            (self.above)
            @if let Some(trouble) = trouble { (frame::trouble_box(call, trouble)) }
            (call.form(&self.action, &inside))
        };
        Reply::page(call, "desk-release-title", main).conflicts(trouble)
    }

    /// The options that the form of the release does not have.
    fn options(&self, call: &Call<'_>) -> Vec<String> {
        let flags = ["told-passphrase", "read-back", "from", "until"];
        let mut options: Vec<String> =
            flags.iter().filter_map(|flag| Some(format!("--{flag}={}", call.field(flag)?))).collect();
        if self.request.is_some() {
            options.extend(call.field("despite").map(|words| format!("--despite={words}")));
        }
        let withheld = call.field("withhold").unwrap_or_default().lines().map(str::trim);
        options.extend(withheld.filter(|line| !line.is_empty()).map(|line| format!("--withhold={line}")));
        match call.field("sealed") {
            Some("key") => options.extend(call.field("recipient").map(|key| format!("--to={key}"))),
            _ => options.push("--passphrase".to_string()),
        }
        options
    }
}

fn of_chart(call: &Call<'_>) -> Outcome<Order> {
    let (_, face) = call.face()?;
    let slot = call.param("slot");
    Ok(Order {
        face,
        request: None,
        action: format!("/chart/{slot}/release"),
        back: format!("/chart/{slot}"),
        above: html! { p { (call.t("desk-release-no-request")) } },
    })
}

fn of_request(call: &Call<'_>) -> Outcome<Order> {
    let practice = call.practice()?;
    let dealing = dealing(&practice, number(call)?)?;
    let found = dealing.stops(&practice, practice.now())?;
    let seq = dealing.standing.seq;
    let above = html! {
        h2 { (call.t("desk-against")) }
        (stops(call, &found))
        @if let Some(scope) = dealing.standing.may_go_out() {
            p { (call.t("desk-may-go-out")) " " span lang="en" { (scope.words()) } }
        }
    };
    Ok(Order {
        face: dealing.face,
        request: Some(seq),
        action: format!("/request/{seq}/release"),
        back: format!("/request/{seq}"),
        above,
    })
}

fn for_chart(call: &Call<'_>) -> Outcome<Reply> {
    Ok(of_chart(call)?.page(call, None))
}

fn for_request(call: &Call<'_>) -> Outcome<Reply> {
    Ok(of_request(call)?.page(call, None))
}

fn release_chart(call: &Call<'_>) -> Outcome<Reply> {
    let order = of_chart(call)?;
    let chart = order.face.chart_no.clone();
    made(call, &order, &["release", &chart])
}

fn answer_request(call: &Call<'_>) -> Outcome<Reply> {
    let order = of_request(call)?;
    let number = order.request.unwrap_or_default().to_string();
    made(call, &order, &["request", "answer", &number])
}

/// A new folder of our own; what is written into it is sealed before it gets its name.
fn folder(call: &Call<'_>) -> Outcome<PathBuf> {
    let place = std::env::temp_dir();
    let trouble = |e: std::io::Error| Trouble::disk("make a folder in", &place, &e);
    let random = call.world().random32().map_err(trouble)?;
    let path = place.join(format!("inkfast-package-{}", hex(&random[..8])));
    call.world().disk.create_dirs(&path).map_err(trouble)?;
    Ok(path)
}

fn made(call: &Call<'_>, order: &Order, begin: &[&str]) -> Outcome<Reply> {
    let form = order.form();
    let typed = asks::typed(call, &form);
    if !asks::is_whole(call, &typed) {
        return Ok(order.page(call, None));
    }
    // Both fields have one name, by which the page knows what is never kept for later.
    let secrets_typed = call.fields("passphrase");
    let twice = matches!(secrets_typed.as_slice(), [one, again] if one == again && !one.trim().is_empty());
    if call.field("sealed") != Some("key") && !twice {
        let trouble = Trouble::input(
            "The passphrase is missing, or was not typed the same twice.",
            "Type it twice. Tell it by another way than the package.",
        );
        return Ok(order.page(call, Some(&trouble)));
    }
    forget(call);
    let file = folder(call)?.join("package.age");
    let mut words: Vec<String> = begin.iter().map(|word| (*word).to_string()).collect();
    words.extend(asks::words(call, &form, &typed));
    words.extend(order.options(call));
    words.push(format!("--file={}", file.display()));
    match done(call.run_with(&words, &secrets(call))) {
        Err(trouble) => {
            let _ = file.parent().map(std::fs::remove_dir_all);
            Ok(order.page(call, Some(&trouble)))
        }
        Ok(ran) => {
            let told = serde_json::json!({ "file": file, "release": ran.json, "back": order.back });
            call.keep(WAITING, told.to_string());
            Ok(Reply::to("/release/package"))
        }
    }
}

fn secrets<'c>(call: &'c Call<'_>) -> Vec<&'c str> {
    let passphrase = call.field("passphrase").filter(|_| call.field("sealed") != Some("key"));
    // As the command asks: the passphrase of the package twice, then the short number.
    passphrase.into_iter().chain(passphrase).chain(call.field("pin")).collect()
}

fn waiting(call: &Call<'_>) -> Option<Value> {
    serde_json::from_str(&call.kept(WAITING)?).ok()
}

/// Takes away a package that nobody fetched.
fn forget(call: &Call<'_>) {
    let old = waiting(call).and_then(|told| told["file"].as_str().map(PathBuf::from));
    if let Some(folder) = old.as_deref().and_then(std::path::Path::parent) {
        let _ = std::fs::remove_dir_all(folder);
    }
    call.take_kept(WAITING);
}

fn none_waits() -> Trouble {
    Trouble::new(
        Kind::NotFound,
        "No package waits here.",
        "What was released stays released.",
        "Release it again with `inkfast release --again`: the same package, byte for byte inside the seal.",
    )
}

fn package(call: &Call<'_>) -> Outcome<Reply> {
    let told = waiting(call).ok_or_else(none_waits)?;
    let release = &told["release"];
    let text = |name: &str| release[name].as_str().unwrap_or_default().to_string();
    let main = html! {
        h1 { (call.t("desk-package-title")) }
        p.notice role="status" {
            (call.t_with("desk-package-entry", &[("number", &release["entry"].to_string())]))
        }
        dl.facts {
            dt { (call.t("desk-package-bytes")) } dd.number { (release["bytes"].to_string()) }
            dt { (call.t("desk-package-digest")) } dd.code { (text("blake3")) }
            dt { (call.t("desk-package-check")) }
            dd lang="en" { (release["check"]["complete"].as_str().unwrap_or_default()) }
        }
        (call.form("/release/file", &html! { button.main type="submit" { (call.t("desk-package-take")) } }))
        p { (call.t("desk-package-never-both")) }
        (call.form("/release/taken", &html! { button type="submit" { (call.t("desk-package-taken")) } }))
    };
    Ok(Reply::page(call, "desk-package-title", main))
}

/// It is kept elsewhere now, so it is taken away here.
fn taken(call: &Call<'_>) -> Outcome<Reply> {
    let back = waiting(call).and_then(|told| told["back"].as_str().map(str::to_string));
    forget(call);
    Ok(Reply::to(back.unwrap_or_else(|| "/requests".to_string())))
}

/// Hands the package to the browser. It stays until the next one, so that it can be taken again.
fn download(call: &Call<'_>) -> Outcome<Reply> {
    let told = waiting(call).ok_or_else(none_waits)?;
    let file = PathBuf::from(told["file"].as_str().unwrap_or_default());
    let bytes = std::fs::read(&file).map_err(|_| none_waits())?;
    let entry = told["release"]["entry"].as_u64().unwrap_or_default();
    Ok(Reply::file(format!("release-{entry}.age"), "application/octet-stream", bytes))
}
