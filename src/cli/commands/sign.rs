//! `sign`: what is missing is shown first and answered; the note is read back and signed, or held.

use super::entries::form;
use super::flow::the_chart;
use super::lines::note_draft;
use super::missing::{HeldOutput, lines, show, visit_time};
use super::visit::{chart_here_arg, visit_in};
use crate::cli::context::Context;
use crate::cli::data::add_data_arg;
use crate::cli::exit::Exit;
use crate::cli::form::{Form, Need};
use crate::cli::record::{add_happened_args, answers, confirm, confirm_pin, done, fill, happened, read};
use crate::cli::secret::{Purpose, SECOND_PASSPHRASE, add_secret_args, read_secret};
use crate::cli::{forms, note_words, place, settle};
use crate::practice::carry::{CarriedPart, carry, looked_through};
use crate::practice::chart::ChartFace;
use crate::practice::drafts::Kept;
use crate::practice::held;
use crate::practice::open::{Draft, Entry, Practice};
use crate::practice::review::remarks;
use crate::practice::session::Session;
use crate::practice::visit::{complete, in_visit};
use crate::record::envelope::{Happened, Label, RefWhy};
use crate::record::kinds::register::KeyRole;
use crate::record::review::{Level, Remark};
use crate::seal::identity::StaffIdentity;
use crate::trouble::{Kind, Outcome, Trouble};
use clap::{Arg, ArgAction, Command};
use serde_json::{Value, json};
use std::collections::BTreeSet;

/// Options of `sign`.
pub fn command() -> Command {
    let cmd = add_data_arg(add_happened_args(chart_here_arg(
        Command::new("sign").about("Show what the note of the open visit lacks, read it back, and sign it"),
    )));
    let cmd = form("note").map(|a| a.form.clap_args(cmd.clone())).unwrap_or(cmd);
    let flag = |name: &'static str, help: &'static str| {
        Arg::new(name).long(name).action(ArgAction::SetTrue).help(help)
    };
    let cmd = settle::add_args(cmd)
        .arg(flag("all-questions", "At a terminal, go through every question of the note first"))
        .arg(flag("hold", "Keep the finished note unsigned for some minutes; `sign` again signs it"))
        .arg(
            Arg::new("carry")
                .long("carry")
                .value_name("PARTS")
                .value_delimiter(',')
                .value_parser(CarriedPart::WORDS.to_vec())
                .help("Take these parts over from the last note, where nothing is written yet; each is marked for ever"),
        )
        .arg(
            Arg::new("custodian")
                .long("custodian")
                .value_name("CODE")
                .help("Keeper of the records, who signs too where their reason is given"),
        );
    add_secret_args(cmd, SECOND_PASSPHRASE)
}

/// A note on its way to its signature.
struct Note {
    face: ChartFace,
    /// The chart, read once: nothing is added to it before the signature.
    entries: Vec<Entry>,
    visit: u64,
    when: Happened,
    kept: Kept,
    data: Value,
    /// Places filled from the entries of the visit: worked out anew each time, so not kept in the draft.
    computed: Vec<String>,
}

/// Signs the note of the open visit and closes the visit.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let given = happened(context)?;
    let mut practice = context.writing()?;
    let named = context.text("chart");
    let face = the_chart(context, &practice, named.as_deref())?;
    let entries = practice.chart(&face.tag)?;
    let visit = visit_in(&entries)?;
    let when = visit_time(context, &practice, &face, &entries, given)?;
    let kept = note_draft(&practice, &face, visit, when.start)?;
    let data = kept.data.clone();
    let mut note = Note { face, entries, visit, when, data, kept, computed: Vec::new() };
    take(context, &practice, &mut note)?;
    // A note that was held and not touched since ends when it was held, and was read back then.
    let held = held::held(&practice, &note.face.tag, &note.data)?;
    if let Some(held) = &held {
        note.when = held.happened;
    }
    let found = list(&practice, &note)?;
    settle::by_flags(context, &mut note.data, &found)?;
    let found = match context.asker.interactive() {
        true => go_through(context, &practice, &mut note)?,
        false => list(&practice, &note)?,
    };
    let found = acknowledge(context, &practice, &mut note, found)?;
    if found.iter().any(Remark::is_open) {
        keep(&practice, &mut note)?;
        return not_yet(context, visit, &found);
    }
    finish(context, &mut practice, note, &found, held.is_some_and(|held| held.in_time))
}

/// Takes what was given with flags and files, and what the program works out itself; at a terminal with
/// `--all-questions`, everything else too.
fn take(context: &mut Context<'_>, practice: &Practice, note: &mut Note) -> Outcome<()> {
    let inside = in_visit(&note.entries, note.visit);
    let mut start = note.data.clone();
    if let Some(fields) = start.as_object_mut() {
        let sort = if inside.later { "later" } else { "first" };
        fields.entry("sort").or_insert(json!(sort));
        fields.entry("practitioners").or_insert(json!([practice.session.me.code]));
    }
    let full = form("note")?.form;
    let mut data = match context.flag("all-questions") && context.asker.interactive() {
        true => {
            note.kept.data = start.clone();
            practice.keep_draft(&note.kept)?;
            fill(context, practice, &full, "visit", Some(&note.face.tag), start)?
        }
        false => answers(context, &flags_only(&full), start)?,
    };
    let words = context.matches.get_many::<String>("carry").into_iter().flatten();
    let parts: Vec<CarriedPart> = words.filter_map(|word| CarriedPart::from_word(word)).collect();
    carry(practice, &note.entries, note.visit, &parts, &mut data)?;
    let before = data.clone();
    if let Some(fields) = data.as_object_mut() {
        complete(fields, note.visit, &inside, &practice.session.me.code);
    }
    let added = |path: &&String| place::get(&before, path).is_none();
    let leaves = place::leaves(&data).into_iter().map(|(path, _)| path).collect::<Vec<_>>();
    note.computed = leaves.iter().filter(added).cloned().collect();
    forms::note::finish_note(&mut data);
    note.data = data;
    keep(practice, note)
}

/// The same flags, with nothing asked and nothing required: what is missing has its own list.
fn flags_only(form: &Form) -> Form {
    let mut questions = form.questions.clone();
    for question in &mut questions {
        question.need = Need::FlagOnly;
    }
    Form::new(questions)
}

fn keep(practice: &Practice, note: &mut Note) -> Outcome<()> {
    note.kept.data = note.data.clone();
    for path in note.computed.iter().filter(|path| *path != "/visit") {
        place::take(&mut note.kept.data, path);
    }
    practice.keep_draft(&note.kept)
}

fn list(practice: &Practice, note: &Note) -> Outcome<Vec<Remark>> {
    remarks(practice, &note.entries, note.visit, &note.data, note.when)
}

/// At a terminal: shows the list, and asks every open item of it until none is left that was not asked.
fn go_through(context: &mut Context<'_>, practice: &Practice, note: &mut Note) -> Outcome<Vec<Remark>> {
    let custodian = is_custodian(practice, &practice.session.me.code) || context.text("custodian").is_some();
    let mut asked: BTreeSet<String> = BTreeSet::new();
    let mut found = list(practice, note)?;
    if found.iter().any(Remark::is_open) {
        for line in lines(&found) {
            context.asker.say(&line);
        }
        context.asker.say("");
    }
    while let Some(next) = found.iter().find(|r| r.is_open() && !asked.contains(&r.item)).cloned() {
        asked.insert(next.item.clone());
        if settle::ask(context, &mut note.data, &next, custodian)? {
            forms::note::finish_note(&mut note.data);
            keep(practice, note)?;
            found = list(practice, note)?;
        }
    }
    Ok(found)
}

/// Marks what is still missing as known to be, where that was said.
fn acknowledge(
    context: &mut Context<'_>,
    practice: &Practice,
    note: &mut Note,
    found: Vec<Remark>,
) -> Outcome<Vec<Remark>> {
    let missing = found.iter().filter(|r| r.is_open() && r.level == Level::Missing).count();
    let only = missing > 0 && found.iter().filter(|r| r.is_open()).count() == missing;
    let said = context.flag("acknowledge-missing")
        || (only
            && context.asker.interactive()
            && context.yes("Sign it all the same, as known to be missing?", false)?);
    if missing > 0 && said {
        settle::acknowledge(&mut note.data, &found);
        keep(practice, note)?;
        return list(practice, note);
    }
    Ok(found)
}

/// Not signed yet: the list, and how to go on.
fn not_yet(context: &mut Context<'_>, visit: u64, found: &[Remark]) -> Outcome<Exit> {
    show(context, visit, found)?;
    let refused = found.iter().any(|r| r.is_open() && r.level == Level::Refuse);
    if !context.json() {
        context.say("Not signed. What was given is kept as a sealed draft; nothing was recorded.")?;
        context.say(
            "Answer with --not-done ITEM=\"because\", --answer ITEM=\"words\" or the flags of the note, \
             run it at a terminal, or sign with --acknowledge-missing what is known to be missing.",
        )?;
    }
    Ok(if refused { Exit::Refused } else { Exit::AskFirst })
}

/// Reads the note back and signs it with the closing of the visit, or holds it.
fn finish(
    context: &mut Context<'_>,
    practice: &mut Practice,
    mut note: Note,
    found: &[Remark],
    read_before: bool,
) -> Outcome<Exit> {
    let form = form("note")?.form;
    read("visit", &note.data)?;
    // Whose note it is stands first: the chart may have been taken from the visit that is open.
    let mut read_back = vec![format!("Chart {}, {}", note.face.chart_no, note.face.identity.legal_name)];
    read_back.extend(note_words::read_back(&form, &note.data));
    let flags = found.iter().filter(|r| r.level == Level::Flag);
    read_back.extend(flags.map(|r| format!("Will be marked for ever: {}", r.words)));
    keep(practice, &mut note)?;
    if !read_before {
        confirm(context, "visit", &read_back)?;
        // Whoever read the note back and said that it is right has looked through what was taken over.
        if context.asker.interactive() {
            looked_through(&mut note.data);
            keep(practice, &mut note)?;
        }
    }
    let data = read("visit", &note.data)?;
    if context.flag("hold") {
        let until = held::hold(practice, &note.face.tag, &note.data, note.when)?;
        if context.json() {
            context.say_json(&HeldOutput { visit: note.visit, held_until: until })?;
        } else {
            context.say(&format!(
                "Held, not signed: until {} `inkfast sign {}` signs it as it stands; it can still be changed.",
                until.plain(),
                note.face.chart_no
            ))?;
        }
        return Ok(Exit::Done);
    }
    confirm_pin(context, practice, "visit")?;
    let with_reason = found.iter().any(|r| r.level == Level::Refuse && r.answered.is_some());
    let second = if with_reason { custodian(context, practice)? } else { None };
    let tag = note.face.tag.as_str();
    let closed = read("visit-closed", &json!({ "visit": note.visit, "ended": "as-planned" }))?;
    let mut note_draft = Draft::new(Some(tag), data, note.when.start);
    note_draft.happened = note.when;
    note_draft.refers = vec![(note.visit, RefWhy::Visit)];
    note_draft.labels.extend(with_reason.then_some(Label::WithCustodiansReason));
    let mut close_draft = Draft::new(Some(tag), closed, note.when.end.unwrap_or(note.when.start));
    close_draft.refers = vec![(note.visit, RefWhy::Closes)];
    let receipts = practice.append_group(vec![note_draft, close_draft], second.as_ref())?;
    practice.drop_draft("visit", Some(tag))?;
    held::drop(practice, tag)?;
    context.remarks(practice);
    match receipts.first() {
        Some(receipt) => done(context, "visit", receipt),
        None => Err(Trouble::damaged("Nothing was recorded.")),
    }
}

fn is_custodian(practice: &Practice, code: &str) -> bool {
    practice.keys().newest(code).is_some_and(|key| key.roles.contains(&KeyRole::Custodian))
}

/// The keeper of the records, whose reason it is: the signer, or somebody who signs beside them.
fn custodian(context: &mut Context<'_>, practice: &Practice) -> Outcome<Option<StaffIdentity>> {
    if is_custodian(practice, &practice.session.me.code) {
        return Ok(None);
    }
    let refused = |what: &str| {
        Trouble::new(
            Kind::Refused,
            what,
            "Nothing was recorded. The note is kept as a sealed draft.",
            "Have the keeper of the records sign beside you: --custodian CODE.",
        )
    };
    let code = context
        .text("custodian")
        .ok_or_else(|| refused("Only the keeper of the records gives a reason in spite of a refusal."))?;
    if !is_custodian(practice, &code) {
        return Err(refused("The person named with --custodian is not the keeper of the records."));
    }
    let prompt = format!("Passphrase of {code}");
    let secret = read_secret(context.matches, SECOND_PASSPHRASE, &prompt, Purpose::Open, context.asker)
        .map_err(crate::cli::context::secret_trouble)?;
    Session::unlock(&practice.world, &practice.place, &code, &secret).map(|session| Some(session.me))
}
