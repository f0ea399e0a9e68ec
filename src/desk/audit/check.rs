//! The pages of the check: begun, under way, found, certified.

use super::job::{self, Job, What};
use crate::cli::commands::safecopy::size;
use crate::desk::front::guided::line;
use crate::desk::{Call, Reply, Route, frame};
use crate::practice::copies::known;
use crate::practice::open::Practice;
use crate::record::kinds::Data;
use crate::record::kinds::register::{CheckKind, CheckMade};
use crate::record::moment::Moment;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::verify::certificate::{Mark, certificate};
use crate::verify::finding::{FindingOutput, Report, Severity};
use crate::verify::slip::read_slip;
use crate::verify::witnessed;
use maud::{Markup, html};
use std::path::PathBuf;

/// Their addresses.
pub const ROUTES: &[Route] = &[
    Route::get("/audit", start),
    Route::post("/audit/slips", add_slip),
    Route::post("/audit/slips/none", no_slips),
    Route::post("/audit/check", begin),
    // It comes back by itself while the check is under way, and that is nobody's work.
    Route::get("/audit/check", state).by_itself(),
    Route::get("/audit/certificate", certificate_page),
    Route::post("/audit/checkpoint", checkpoint),
];

/// Seconds after which the page of a check under way is asked for again.
const AGAIN: u64 = 2;
/// Name under which slips typed in this browser are kept, a line each.
const SLIPS: &str = "audit-slips";

fn browser(call: &Call<'_>) -> String {
    call.visitor.as_ref().map(|visitor| visitor.cookie.clone()).unwrap_or_default()
}

fn slips(call: &Call<'_>) -> Vec<String> {
    call.kept(SLIPS).unwrap_or_default().lines().map(str::to_string).collect()
}

fn start(call: &Call<'_>) -> Outcome<Reply> {
    start_with(call, None)
}

fn start_with(call: &Call<'_>, trouble: Option<&Trouble>) -> Outcome<Reply> {
    let practice = call.practice()?;
    let last = job::of(&browser(call));
    let main = html! {
        h1 { (call.t("audit-title")) }
        p { (call.t("audit-why")) }
        @if let Some(job) = &last { (last_one(call, job)) }
        section aria-labelledby="slips" {
            h2 #slips { (call.t("audit-slips-title")) }
            p { (call.t("audit-slips-why")) }
            @if let Some(trouble) = trouble { (frame::trouble_box(call, trouble)) }
            (slip_form(call))
        }
        section aria-labelledby="check" {
            h2 #check { (call.t("audit-check-title")) }
            p { (call.t("audit-check-why")) }
            (call.form("/audit/check", &html! {
                button.main type="submit" { (call.t("audit-check-store")) }
            }))
            details {
                summary { (call.t("audit-check-other")) }
                (call.form("/audit/check", &html! {
                    (line(call, "folder", "audit-folder", Some("audit-folder-hint")))
                    button type="submit" { (call.t("audit-check-folder")) }
                }))
            }
        }
        section aria-labelledby="picture" {
            h2 #picture { (call.t("audit-picture-title")) }
            p { (call.t("audit-picture-why")) }
            p.actions { a.button href="/audit/picture" { (call.t("audit-picture-open")) } }
        }
        (kept(call, &practice))
        (rehearsed(call, &practice)?)
    };
    let reply = Reply::page(call, "audit-title", main);
    Ok(if trouble.is_some() { reply.status(400) } else { reply })
}

fn last_one(call: &Call<'_>, job: &Job) -> Markup {
    let key = match &*job.result() {
        None => "audit-last-running",
        Some(Ok(report)) if report.sound => "audit-last-sound",
        Some(Ok(_)) => "audit-last-unsound",
        Some(Err(_)) => "audit-last-failed",
    };
    html! {
        p.notice { (call.t_with(key, &[("when", &job.begun)])) " " a href="/audit/check" { (call.t("audit-last-open")) } }
    }
}

fn slip_form(call: &Call<'_>) -> Markup {
    let typed = slips(call);
    html! {
        (call.form("/audit/slips", &html! {
            (line(call, "number", "audit-slip-number", None))
            (line(call, "words", "audit-slip-words", Some("audit-slip-words-hint")))
            button type="submit" { (call.t("audit-slip-add")) }
        }))
        @if !typed.is_empty() {
            ul.ledger #typed-slips { @for slip in &typed { li.code { (slip) } } }
            (call.form("/audit/slips/none", &html! { button type="submit" { (call.t("audit-slips-none")) } }))
        }
    }
}

/// A slip is read as soon as it is typed, so that a slip of the hand is noticed beside the paper.
fn add_slip(call: &Call<'_>) -> Outcome<Reply> {
    let (number, words) = (call.field("number").unwrap_or_default(), call.field("words").unwrap_or_default());
    let separator = if words.contains(' ') { " " } else { ":" };
    let text = if number.is_empty() { words.to_string() } else { format!("{number}{separator}{words}") };
    // Only what is typed from paper: a path would be read as a file.
    let read = match text.contains(['/', '\\']) && !text.starts_with("inkfast") {
        true => Err(Trouble::input("That is no slip.", "Type the number, and the code or the twelve words.")),
        false => read_slip(&text, &call.place()?.key),
    };
    match read {
        Err(trouble) => start_with(call, Some(&trouble)),
        Ok(witness) => {
            let mut all = slips(call);
            if !all.contains(&text) {
                all.push(text);
            }
            call.keep(SLIPS, all.join("\n"));
            call.notice(call.t_with("audit-slip-read", &[("number", &witness.size.to_string())]));
            Ok(Reply::to("/audit#slips"))
        }
    }
}

fn no_slips(call: &Call<'_>) -> Outcome<Reply> {
    call.take_kept(SLIPS);
    Ok(Reply::to("/audit#slips"))
}

fn begin(call: &Call<'_>) -> Outcome<Reply> {
    let place = call.place()?;
    let what = match call.field("folder") {
        Some(folder) => What { root: PathBuf::from(folder), outside: None, slips: slips(call) },
        None => What { root: place.root, outside: Some(place.outside), slips: slips(call) },
    };
    if !what.root.join("store.json").is_file() {
        let trouble = Trouble::input(
            "This folder is neither a store nor a safe copy.",
            "Name the folder that holds store.json.",
        );
        return start_with(call, Some(&trouble));
    }
    job::begin(&browser(call), call.world(), what, call.now().at.plain())?;
    Ok(Reply::to("/audit/check"))
}

fn none_yet() -> Trouble {
    Trouble::new(
        Kind::NotFound,
        "Nothing was checked in this browser yet.",
        "Nothing was changed.",
        "Begin a check.",
    )
}

fn state(call: &Call<'_>) -> Outcome<Reply> {
    let job = job::of(&browser(call)).ok_or_else(none_yet)?;
    let found = job.result();
    match &*found {
        None => Ok(Reply::page(call, "audit-running-title", running(call, &job)).again_in(AGAIN)),
        Some(Err(trouble)) => Ok(frame::trouble(call, trouble)),
        Some(Ok(report)) => Ok(Reply::page(call, "audit-found-title", verdict(call, &job, report))),
    }
}

fn running(call: &Call<'_>, job: &Job) -> Markup {
    let (done, of) = job.done();
    html! {
        h1 { (call.t("audit-running-title")) }
        p role="status" { (call.t_with("audit-running", &[("done", &size(done)), ("of", &size(of)), ("when", &job.begun)])) }
        progress max=(of.max(1)) value=(done.min(of)) aria-label=(call.t("audit-running-title")) {}
        p { (call.t("audit-running-leave")) }
        p.actions {
            a.button href="/audit/check" { (call.t("audit-look-again")) }
            a href="/audit" { (call.t("audit-back")) }
        }
    }
}

/// What came of it: the words of the certificate, the findings with what is still proven and what to do.
fn verdict(call: &Call<'_>, job: &Job, report: &Report) -> Markup {
    let page = certificate(report);
    let wrong = page.findings.iter().filter(|finding| finding.severity == Severity::Wrong);
    let notices = page.findings.iter().filter(|finding| finding.severity == Severity::Notice);
    html! {
        h1 { (call.t("audit-found-title")) }
        p.small { (call.t_with("audit-of-folder", &[("folder", &job.what.root.display().to_string()), ("when", &job.begun)])) }
        div.verdict data-sound=(if report.sound { "yes" } else { "no" }) {
            p.big { (call.t(if report.sound { "audit-sound" } else { "audit-not-sound" })) }
            p lang="en" { strong { (page.verdict) } ". " (page.meaning) }
        }
        @if !report.sound { h2 { (call.t("audit-wrong")) } ol.findings { @for one in wrong { (finding(call, one)) } } }
        @if page.more_findings > 0 { p { (call.t_with("audit-more-findings", &[("count", &page.more_findings.to_string())])) } }
        @if page.findings.iter().any(|one| one.severity == Severity::Notice) {
            h2 { (call.t("audit-notices")) }
            ol.findings { @for one in notices { (finding(call, one)) } }
        }
        h2 { (call.t("audit-compared")) }
        @for section in &page.sections {
            ul lang="en" {
                @for (mark, words) in &section.lines {
                    li { @if *mark != Mark::Plain { strong { (mark.word()) } " " } (words) }
                }
            }
        }
        h2 { (call.t("audit-looked-at")) }
        dl.facts lang="en" { @for (name, value) in &page.facts { dt { (name) } dd.code { (value) } } }
        h2 { (call.t("audit-limits")) }
        ul.limits lang="en" { @for limit in &page.limits { li { (limit) } } }
        p.actions.no-print {
            a.button.main href="/audit/certificate" target="_blank" rel="noopener" { (call.t("audit-certificate")) }
            a href="/audit" { (call.t("audit-back")) }
        }
    }
}

fn finding(call: &Call<'_>, one: &FindingOutput) -> Markup {
    let key = if one.severity == Severity::Wrong { "audit-severity-wrong" } else { "audit-severity-notice" };
    html! {
        li {
            p.head { strong { (call.t(key)) } " " span.code { (one.id) } " " span lang="en" { (one.place) } }
            p lang="en" { (one.what) }
            dl.facts {
                dt { (call.t("audit-still-proven")) } dd lang="en" { (one.still_provable) }
                dt { (call.t("audit-next")) } dd lang="en" { (one.next) }
            }
        }
    }
}

fn certificate_page(call: &Call<'_>) -> Outcome<Reply> {
    let job = job::of(&browser(call)).ok_or_else(none_yet)?;
    let found = job.result();
    let Some(Ok(report)) = &*found else { return Err(none_yet()) };
    let checked = format!("{}, with inkfast {}", job.begun, env!("CARGO_PKG_VERSION"));
    Ok(Reply::printed(certificate(report).html(&checked)))
}

/// What is kept elsewhere and in the store of earlier states of the ledger.
fn kept(call: &Call<'_>, practice: &Practice) -> Markup {
    let (found, _) = witnessed::read(&*practice.world.disk, &practice.place.root, &practice.place.key);
    html! {
        section aria-labelledby="kept" {
            h2 #kept { (call.t("audit-kept-title")) }
            p { (call.t("audit-kept-why")) }
            @if found.is_empty() { p { (call.t("audit-kept-none")) } }
            ul.ledger {
                @for one in found.iter().take(12) {
                    li {
                        (call.t_with("audit-kept-at", &[
                            ("number", &one.checkpoint.size.to_string()),
                            ("count", &one.note.signatures.len().saturating_sub(1).to_string()),
                        ]))
                    }
                }
            }
            (call.form("/audit/checkpoint", &html! { button type="submit" { (call.t("audit-keep-one")) } }))
        }
    }
}

/// The newest checkpoint as a file, to be kept where the practice can't reach it.
fn checkpoint(call: &Call<'_>) -> Outcome<Reply> {
    let practice = call.practice()?;
    let newest = practice.scan().checkpoint.as_ref();
    let (checkpoint, note) = newest.ok_or_else(|| Trouble::damaged("The ledger has no checkpoint."))?;
    Ok(Reply::file(format!("checkpoint-{}.txt", checkpoint.size), "text/plain; charset=utf-8", note.clone()))
}

/// The checks on record, and whether a safe copy was ever tried.
fn rehearsed(call: &Call<'_>, practice: &Practice) -> Outcome<Markup> {
    let mut checks: Vec<(u64, Moment, CheckMade)> = Vec::new();
    for entry in practice.register_of(&["check-made"])? {
        if let Some(Data::CheckMade(made)) = entry.data() {
            checks.push((entry.leaf.seq, entry.leaf.written, *made));
        }
    }
    checks.reverse();
    let tried = checks.iter().find(|(_, _, made)| made.what == CheckKind::RestoreTested);
    let copies = known(practice)?;
    Ok(html! {
        section aria-labelledby="copies" {
            h2 #copies { (call.t("audit-copies-title")) }
            p { (call.t_with("audit-copies-count", &[("count", &copies.iter().filter(|copy| copy.gone.is_none()).count().to_string())])) }
            @match tried {
                None => p.notice { (call.t("audit-never-rehearsed")) },
                Some((entry, when, made)) => {
                    p.notice {
                        (call.t_with("audit-rehearsed", &[("when", &when.plain()), ("number", &entry.to_string())])) " "
                        strong { (call.t(if made.sound { "audit-passed" } else { "audit-not-passed" })) }
                    }
                    p lang="en" { (made.found) }
                },
            }
            p.small { (call.t("audit-rehearse-how")) }
        }
    })
}
