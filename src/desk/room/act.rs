//! What is done in the room. Each of these is a command of the command line; the page only brings its words.

use super::body;
use super::note::{all_clear, read_lines, reading};
use super::page::{FOUND, address};
use super::question::Question;
use super::question_of;
use super::seen::is_in_room;
use crate::cli::exit::Exit;
use crate::desk::Reply;
use crate::desk::call::Call;
use crate::practice::typing::Typing;
use crate::record::vocab::{Side, Technique};
use crate::trouble::{Kind, Outcome, Trouble};

/// The patient's page, at a part of it.
fn back(call: &Call<'_>, part: &str) -> Reply {
    let page = address(call.param("slot"), "");
    Reply::to(if part.is_empty() { page } else { format!("{page}#{part}") })
}

/// Changes what is kept half typed about the chart.
fn typing<T>(call: &Call<'_>, change: impl FnOnce(&mut Typing) -> T) -> Outcome<T> {
    let (practice, face) = call.face()?;
    let mut typing = practice.typing(&face.tag)?;
    let done = change(&mut typing);
    practice.keep_typing(&face.tag, &typing)?;
    Ok(done)
}

fn kept_question(call: &Call<'_>) -> Outcome<Option<Question>> {
    let (practice, face) = call.face()?;
    question_of(&practice, &face)
}

fn nothing_asked() -> Trouble {
    Trouble::input("Nothing is on the table to be answered.", "Choose what, where and which side first.")
}

/// Opens the visit: who the patient is was just confirmed.
pub fn open(call: &Call<'_>) -> Outcome<Reply> {
    let chart = call.chart()?;
    let present = call.field("present").map(|who| format!("--present={}", rows_of(who)));
    let mut words = vec!["visit", "open", chart];
    match &present {
        None => words.push("--usual"),
        Some(present) => words.extend(["--identifiers", "full-name,birth-date", present]),
    }
    call.run(&words)?;
    call.notice(call.t("room-visit-opened"));
    Ok(back(call, ""))
}

/// `aunt Wenna Ruddle` as a row of the form: the first word is the part, the rest the name.
fn rows_of(who: &str) -> String {
    let quoted = |text: &str| text.replace(['"', '\\'], " ");
    match who.split_once(char::is_whitespace) {
        Some((part, name)) => format!("part={} name=\"{}\"", quoted(part), quoted(name.trim())),
        None => format!("part={}", quoted(who)),
    }
}

/// Chooses what is asked about, or begins a line from the body chart.
pub fn choose(call: &Call<'_>) -> Outcome<Reply> {
    if call.field("clear").is_some() {
        typing(call, |typing| typing.take("question"))?;
        return Ok(back(call, "choose"));
    }
    if let Some(question) = call.field("question").and_then(Question::read) {
        typing(call, |typing| typing.put("question", &question.words()))?;
        return Ok(back(call, "question"));
    }
    if call.field("done").is_some() {
        let question = kept_question(call)?.ok_or_else(nothing_asked)?;
        begin_line(call, &done_line(&question), None)?;
        return Ok(back(call, "note"));
    }
    let place = call.field("spot").and_then(body::read);
    let Some((region, side)) = place else {
        return Err(Trouble::input("No place was chosen.", "Touch a place on the body chart first."));
    };
    let spot = format!("{}:{}", region.word(), side.word());
    if let Some(technique) = call.field("technique").and_then(Technique::from_word) {
        let question = Question { technique, region, side, segments: Vec::new() };
        typing(call, |typing| {
            typing.put("question", &question.words());
            typing.put("spot", &spot);
        })?;
        return Ok(back(call, "question"));
    }
    let Some(found) = call.field("found").filter(|found| FOUND.contains(found)) else {
        return Err(Trouble::input("Nothing was chosen.", "Touch what was found, or what is asked about."));
    };
    let grade = call.field("grade").unwrap_or_default();
    begin_line(call, &format!("{} {} {found} {grade}", region.word(), letter(side)), Some(&spot))?;
    Ok(back(call, "note"))
}

/// A side as the line form writes it.
fn letter(side: Side) -> &'static str {
    match side {
        Side::Left => "L",
        Side::Right => "R",
        other => other.word(),
    }
}

/// The beginning of the line for what was asked about and done. How it was borne is for whoever did it to say.
fn done_line(question: &Question) -> String {
    let place = match question.segments.as_slice() {
        [] => question.region.word().to_string(),
        some => some.iter().map(|segment| segment.word()).collect::<Vec<_>>().join(" "),
    };
    format!("{place} {} {}", letter(question.side), question.technique.word())
}

/// Puts a line behind what stands half typed.
fn begin_line(call: &Call<'_>, line: &str, spot: Option<&str>) -> Outcome<()> {
    typing(call, |typing| {
        let before = typing.get("line").map(|line| format!("{}; ", line.trim_end_matches([';', ' '])));
        typing.put("line", format!("{}{}", before.unwrap_or_default(), line.trim()).as_str());
        if let Some(spot) = spot {
            typing.put("spot", spot);
        }
    })
}

/// One of the five targets, and the numbers.
pub fn now(call: &Call<'_>) -> Outcome<Reply> {
    let chart = call.chart()?;
    match call.field("what").unwrap_or_default() {
        answer @ ("yes" | "no") => {
            let question = kept_question(call)?.ok_or_else(nothing_asked)?;
            let mut words = vec!["asked", chart];
            words.extend(question.parts());
            words.push(answer);
            call.run(&words)?;
            let key = if answer == "yes" { "room-told-yes" } else { "room-told-no" };
            call.notice(call.t_with(key, &[("what", &question.plain(call.lang))]));
            Ok(back(call, "question"))
        }
        "stop" => {
            call.run(&["pause", chart, "stop"])?;
            Ok(back(call, "stopped"))
        }
        "pause" => {
            call.run(&["pause", chart, "pause"])?;
            Ok(back(call, "stopped"))
        }
        "number" => {
            let number = call.field("number").unwrap_or_default();
            let kind = call.field("kind").unwrap_or("pain");
            call.run(&["now", chart, kind, number])?;
            call.notice(call.t_with("room-told-number", &[("number", number)]));
            Ok(back(call, ""))
        }
        "mark" => {
            call.run(&["mark", chart])?;
            call.notice(call.t("room-told-mark"));
            Ok(back(call, ""))
        }
        _ => Err(Trouble::input("None of the five was touched.", "Touch one of them.")),
    }
}

/// After a stop: going on with the patient's yes, or taken back.
pub fn after_stop(call: &Call<'_>) -> Outcome<Reply> {
    let chart = call.chart()?;
    match call.field("then").unwrap_or_default() {
        "resume" => {
            call.run(&["pause", chart, "resume", "yes"])?;
            call.notice(call.t("room-told-resumed"));
            Ok(back(call, "question"))
        }
        "withdraw-all" => withdraw(call, &["all"]),
        "withdraw-this" => {
            let question = kept_question(call)?.ok_or_else(nothing_asked)?;
            let side = if question.side == Side::Midline { "" } else { question.side.word() };
            let words: Vec<&str> = [question.technique.word(), question.region.word(), side]
                .into_iter()
                .filter(|w| !w.is_empty())
                .collect();
            withdraw(call, &words)
        }
        _ => Err(Trouble::input("Nothing was chosen.", "Touch one of the ways on.")),
    }
}

fn withdraw(call: &Call<'_>, scope: &[&str]) -> Outcome<Reply> {
    let mut words = vec!["withdraw", call.chart()?];
    words.extend(scope);
    let sealed = call.run(&words)?.json["entry"].as_u64().unwrap_or_default();
    call.notice(call.t("room-told-withdrawn"));
    Ok(back(call, &format!("withdrawn-{sealed}")))
}

/// The words to a withdrawal that is sealed.
pub fn withdrawn(call: &Call<'_>) -> Outcome<Reply> {
    let chart = call.chart()?;
    let completes = call.field("completes").unwrap_or_default();
    let fields = ["patient-words", "under-way", "stopped", "on-leaving", "next-step"];
    let mut words = vec!["withdraw".to_string(), chart.to_string(), format!("--completes={completes}")];
    for field in fields {
        if let Some(said) = call.field(field) {
            words.push(format!("--{field}={said}"));
        }
    }
    // What was stopped is only asked behind what was under way, and was under way; its moment is that of the withdrawal.
    if let Some(stopped) = call.field("stopped") {
        if call.field("under-way").is_none() {
            words.push(format!("--under-way={stopped}"));
        }
        words.push("--stopped-at=now".to_string());
    }
    call.run(&words)?;
    typing(call, |typing| {
        for field in fields {
            typing.take(&format!("{field}-{completes}"));
        }
    })?;
    call.notice(call.t("room-told-words"));
    Ok(back(call, ""))
}

/// A line: read back first, added when what is to be added was read.
pub fn line(call: &Call<'_>) -> Outcome<Reply> {
    if call.field("clear").is_some() {
        typing(call, |typing| typing.take("line"))?;
        return Ok(back(call, "note"));
    }
    let typed = call.field("line").unwrap_or_default().to_string();
    if let Some(instead) = call.field("instead") {
        let (line, way) = instead.split_once('\u{1f}').unwrap_or((instead, instead));
        let mended = typed.replacen(line, way, 1);
        typing(call, |typing| typing.put("line", &mended))?;
        return Ok(back(call, "note"));
    }
    let lines = read_lines(&typed, call.now().at, call.who())?;
    let was_read = call.field("seen") == Some(typed.as_str());
    if !all_clear(&lines) || !was_read {
        typing(call, |typing| typing.put("line", &typed))?;
        return Ok(back(call, "note"));
    }
    // Kept until the command has it: a stopped program loses neither.
    typing(call, |typing| typing.put("line", &typed))?;
    // Behind two dashes nothing that is typed can be taken for an option.
    let mut words = vec!["note", call.chart()?, "--"];
    words.extend(lines.iter().map(|(line, _)| line.as_str()));
    let ran = call.run(&words)?;
    let (mut left, mut refused) = (Vec::new(), Vec::new());
    for one in ran.json["taken"].as_array().into_iter().flatten().filter(|one| one["kept"] == false) {
        left.extend(one["line"].as_str());
        refused.extend(
            one["line"].as_str().zip(one["why"].as_str()).map(|(line, why)| format!("{line}: {why}")),
        );
    }
    typing(call, |typing| typing.put("line", &left.join("; ")))?;
    call.notice(match refused.is_empty() {
        true => call.t_with("room-told-line", &[("count", &lines.len().to_string())]),
        false => refused.join(" "),
    });
    Ok(back(call, "note"))
}

/// What a line reads as, for the script of the page: nothing is added.
pub fn reads(call: &Call<'_>) -> Outcome<Reply> {
    let typed = call.field("line").unwrap_or_default();
    let lines = read_lines(typed, call.now().at, call.who())?;
    let clear = if all_clear(&lines) { "yes" } else { "no" };
    let shown = maud::html! { div data-clear=(clear) { (reading(call, &lines)) } };
    Ok(Reply::bytes("text/html; charset=utf-8", shown.into_string().into_bytes()))
}

/// Keeps what stands half typed on the page.
pub fn keep(call: &Call<'_>) -> Outcome<Reply> {
    let (practice, face) = call.face()?;
    if !is_in_room(&practice, &practice.chart(&face.tag)?) {
        return Ok(Reply::nothing());
    }
    let mut typing = practice.typing(&face.tag)?;
    let (names, words) = (call.fields("name"), call.fields("words"));
    let before = typing.clone();
    for (name, words) in names.into_iter().zip(words) {
        let ours = name == "line"
            || [
                "mark-",
                "patient-words-",
                "under-way-",
                "stopped-",
                "on-leaving-",
                "next-step-",
                "not-done:",
                "answer:",
                "custodians-reason:",
            ]
            .iter()
            .any(|head| name.starts_with(head));
        if ours {
            typing.put(name, words);
        }
    }
    if typing != before {
        practice.keep_typing(&face.tag, &typing)?;
    }
    Ok(Reply::nothing())
}

/// Takes a line out of the draft.
pub fn drop(call: &Call<'_>) -> Outcome<Reply> {
    call.run(&["note", call.chart()?, "--drop", call.field("number").unwrap_or_default()])?;
    call.notice(call.t("room-told-dropped"));
    Ok(back(call, "note"))
}

/// Gives words to a moment that was marked.
pub fn mark_words(call: &Call<'_>) -> Outcome<Reply> {
    let (of, words) = (call.field("of").unwrap_or_default(), call.field("words").unwrap_or_default());
    call.run(&["mark", call.chart()?, "--of", of, "--", words])?;
    typing(call, |typing| typing.take(&format!("mark-{of}")))?;
    call.notice(call.t("room-told-words"));
    Ok(back(call, "note"))
}

/// A screen: every item was asked; those ticked were answered yes.
pub fn screen(call: &Call<'_>) -> Outcome<Reply> {
    let (chart, screen) = (call.chart()?, call.field("screen").unwrap_or_default());
    let mut words = ["screen", chart, screen, "--all-no"].map(str::to_string).to_vec();
    words.extend(call.fields("yes").iter().map(|item| format!("--answer=item={item} answer=yes")));
    call.run(&words)?;
    call.notice(call.t("room-told-screen"));
    Ok(back(call, "screens"))
}

/// Signs the note, or says what is missing still.
pub fn sign(call: &Call<'_>) -> Outcome<Reply> {
    let chart = call.chart()?;
    let (practice, face) = call.face()?;
    if practice.typing(&face.tag)?.get("line").is_some() {
        return Err(Trouble::new(
            Kind::Refused,
            "A line stands half typed and is not in the note.",
            "Nothing was signed. The line is kept.",
            "Add the line or clear it, then sign.",
        ));
    }
    std::mem::drop(practice);
    let mut words = vec!["sign".to_string(), chart.to_string()];
    for flag in ["not-done", "answer", "custodians-reason"] {
        let items = call.fields(&format!("{flag}-item"));
        let said = items.iter().zip(call.fields(flag)).filter(|(_, said)| !said.trim().is_empty());
        words.extend(said.map(|(item, said)| format!("--{flag}={item}={}", said.trim())));
    }
    let carry = call.fields("carry").join(",");
    words.extend((!carry.is_empty()).then(|| format!("--carry={carry}")));
    words.extend(call.field("acknowledge").map(|_| "--acknowledge-missing".to_string()));
    words.extend(call.field("hold").map(|_| "--hold".to_string()));
    let ran = call.run(&words)?;
    if matches!(ran.exit, Exit::AskFirst | Exit::Refused) {
        typing(call, |typing| clear_answers(typing, call))?;
        call.notice(call.t("room-told-not-signed"));
        return Ok(back(call, "sign"));
    }
    if call.field("hold").is_some() {
        call.notice(call.t("room-told-held"));
        return Ok(back(call, "sign"));
    }
    typing(call, |typing| *typing = Typing::default())?;
    call.notice(call.t_with("room-told-signed", &[("number", &ran.json["entry"].to_string())]));
    Ok(Reply::to("/room"))
}

/// What was taken into the draft need not be kept beside it.
fn clear_answers(typing: &mut Typing, call: &Call<'_>) {
    for flag in ["not-done", "answer", "custodians-reason"] {
        for item in call.fields(&format!("{flag}-item")) {
            typing.take(&format!("{flag}:{item}"));
        }
    }
}

/// A minor's own yes or no.
pub fn own_answer(call: &Call<'_>) -> Outcome<Reply> {
    let answer = call.field("answer").unwrap_or_default();
    call.run(&["visit", "own-answer", call.chart()?, "--answer", answer])?;
    call.notice(call.t_with("room-told-own", &[("answer", &own(call, answer))]));
    Ok(back(call, ""))
}

fn own(call: &Call<'_>, answer: &str) -> String {
    call.t(if answer == "yes" { "room-yes" } else { "room-no" })
}

/// Single keys on or off, for this browser until it locks.
pub fn keys(call: &Call<'_>) -> Outcome<Reply> {
    match call.take_kept("room-keys") {
        Some(_) => {}
        None => call.keep("room-keys", "off".to_string()),
    }
    Ok(back(call, ""))
}

/// The course of all measures, as the record has them.
pub fn course(call: &Call<'_>) -> Outcome<Reply> {
    use crate::record::measures::{Readable, gather};
    let chart = call.chart()?;
    // The command leaves the entry that the chart was read.
    call.run(&["measures", chart])?;
    let (practice, face) = call.face()?;
    let entries = practice.chart(&face.tag)?;
    let readable: Vec<Readable<'_>> = entries
        .iter()
        .filter_map(|entry| Some(Readable { seq: entry.leaf.seq, record: entry.record.as_ref()? }))
        .collect();
    let measures = gather(&readable);
    let drawn = crate::render::course_picture(&measures);
    let main = maud::html! {
        h1 { (call.t("room-course-title")) }
        p { a.button href=(address(call.param("slot"), "")) { (call.t("room-back")) } }
        @if drawn.is_empty() { p { (call.t("room-measures-none")) } }
        div.course lang="en" { (maud::PreEscaped(drawn)) }
    };
    Ok(Reply::page(call, "room-course-title", main))
}
