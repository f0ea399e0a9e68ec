//! `consent`: a consent is kept, and where it is narrower than one that still counts, the patient is asked what
//! becomes of the rest. The answer is the patient's; where nobody asked, the entry says so. A signature drawn on a
//! screen is kept with it, as strokes and as a picture.

pub mod receipt;

use super::entries::{self, check_pointers, complete, form, pointers};
use crate::cli::context::Context;
use crate::cli::exit::Exit;
use crate::cli::form::{Form, Need};
use crate::cli::record::{Recording, done, fill, happened, read, seal_by};
use crate::practice::chart::find;
use crate::practice::facts::narrower::{born, narrower_than};
use crate::practice::open::{Draft, Entry, Practice};
use crate::practice::signature::Signed;
use crate::practice::visit::open_visit;
use crate::record::envelope::Happened;
use crate::record::kinds::Data;
use crate::record::kinds::consent::Consent;
use crate::record::moment::plain_date;
use crate::record::signature::MOST_BYTES;
use crate::trouble::{Outcome, Trouble};
use clap::{Arg, Command};
use serde_json::{Map, Value, json};
use std::io::Read;
use std::path::{Path, PathBuf};

/// Options of `consent`.
pub fn command() -> Command {
    let signature = Arg::new("signature")
        .long("signature")
        .value_name("FILE")
        .value_parser(clap::value_parser!(PathBuf))
        .help("The strokes of a signature drawn on a screen (JSON, see schema/signature.schema.json): kept with their picture");
    entries::build("consent", "A consent, given or declined")
        .arg(signature)
        .subcommand(receipt::command())
        .subcommand_negates_reqs(true)
        .args_conflicts_with_subcommands(true)
}

/// Records a consent, or writes the receipt for one.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    if let Some(("receipt", matches)) = context.matches.subcommand() {
        return receipt::run(&mut context.under(matches));
    }
    let when = happened(context)?;
    let signed = context.path("signature").map(|path| strokes(&path)).transpose()?;
    let mut practice = context.writing()?;
    let face = find(&practice, &context.text("chart").unwrap_or_default())?;
    let entries = practice.chart(&face.tag)?;
    let visit = open_visit(&entries);
    let asks = form("consent")?;
    // Whether there is a rest to ask about is known only when the scope is.
    let form = not_asking_about_the_rest(&asks.form);
    let mut data = fill(context, &practice, &form, "consent", Some(&face.tag), json!({}))?;
    let earlier = narrower(&practice, &entries, &data, when)?;
    if let Value::Object(fields) = &mut data {
        about_the_rest(context, fields, &earlier, &entries)?;
    }
    let recording = Recording {
        form: asks.form.clone(),
        kind: asks.kind,
        draft: None,
        chart: Some(&face.tag),
        happened: when,
        start: Value::Null,
    };
    let complete = |data: &mut Map<String, Value>, _: &Practice| {
        complete(&asks, data, &entries, visit);
        let refers = pointers(asks.kind, data);
        check_pointers(&refers, &entries)?;
        Ok(refers)
    };
    let append = |practice: &mut Practice, draft: Draft| match (&signed, &draft.data) {
        (Some(signed), Data::Consent(consent)) => {
            signed.check(practice, &entries, consent)?;
            signed.record(practice, &face.tag, draft)
        }
        _ => practice.append(draft),
    };
    let receipt = seal_by(context, &mut practice, recording, data, complete, append)?;
    if !earlier.is_empty() && !context.json() {
        context.say(&format!("Narrower than consent {}.", numbers(&earlier)))?;
    }
    done(context, asks.kind, &receipt)
}

/// The strokes in a file. No more is read of it than strokes may have.
fn strokes(path: &Path) -> Outcome<Signed> {
    let trouble = |e: std::io::Error| Trouble::disk("read", path, &e);
    let mut bytes = Vec::new();
    let file = std::fs::File::open(path).map_err(trouble)?;
    file.take(MOST_BYTES + 1).read_to_end(&mut bytes).map_err(trouble)?;
    Signed::read(bytes)
}

fn not_asking_about_the_rest(form: &Form) -> Form {
    let mut form = form.clone();
    for question in form.questions.iter_mut().filter(|q| q.flag == "rest") {
        question.need = Need::FlagOnly;
    }
    form
}

/// The live consents it is narrower than: those found, and those given with the data.
fn narrower(practice: &Practice, entries: &[Entry], data: &Value, when: Happened) -> Outcome<Vec<u64>> {
    let mut whole = data.clone();
    if let Value::Object(fields) = &mut whole {
        fields.entry("rest_of_earlier").or_insert(json!("not-applicable"));
    }
    let Data::Consent(consent) = read("consent", &whole)? else { return Ok(Vec::new()) };
    let rules = practice.rulebook()?;
    let mut found = narrower_than(entries, born(entries), &rules.coverage, &consent, when.start)?;
    found.extend(&consent.narrower_than);
    found.sort_unstable();
    found.dedup();
    Ok(found)
}

/// Puts in what is narrower than what, and the patient's answer about the rest.
fn about_the_rest(
    context: &mut Context<'_>,
    fields: &mut Map<String, Value>,
    earlier: &[u64],
    entries: &[Entry],
) -> Outcome<()> {
    if earlier.is_empty() {
        fields.entry("rest_of_earlier").or_insert(json!("not-applicable"));
        return Ok(());
    }
    fields.insert("narrower_than".into(), json!(earlier));
    let given = fields.get("rest_of_earlier").and_then(Value::as_str).unwrap_or("not-applicable");
    if given != "not-applicable" {
        return Ok(());
    }
    let answer = if context.asker.interactive() { ask(context, earlier, entries)? } else { "not-asked" };
    if answer == "not-asked" {
        context.asker.say(&format!(
            "This consent is narrower than {}. Nobody asked about the rest, so what it agreed to is asked about again before it counts.",
            numbers(earlier)
        ));
    }
    fields.insert("rest_of_earlier".into(), json!(answer));
    Ok(())
}

fn ask(context: &mut Context<'_>, earlier: &[u64], entries: &[Entry]) -> Outcome<&'static str> {
    context.asker.say("\nThis consent is narrower than what still counts:");
    for seq in earlier {
        let entry = entries.iter().find(|e| e.leaf.seq == *seq);
        let words = entry.and_then(|e| match (e.data(), &e.record) {
            (Some(Data::Consent(consent)), Some(record)) => {
                Some(format!("{}, {}", plain_date(record.happened.start.local_date()), scope(&consent)))
            }
            _ => None,
        });
        let words = crate::cli::table::shown(&words.unwrap_or_default());
        context.asker.say(&format!("  no. {seq}: {words}"));
    }
    loop {
        let typed = context
            .asker
            .line("What becomes of the rest, in the patient's own answer: kept, withdrawn, or not-asked? ")
            .unwrap_or(None);
        let Some(typed) = typed else {
            return Err(Trouble::input(
                "The question about the rest was not answered.",
                "Run the command again to go on with what was typed; not-asked is an answer too.",
            ));
        };
        match typed.trim().to_ascii_lowercase().as_str() {
            "kept" | "keep" => return Ok("kept"),
            "withdrawn" | "withdraw" => return Ok("withdrawn"),
            "not-asked" | "not asked" => return Ok("not-asked"),
            _ => context.asker.say("Please answer kept, withdrawn or not-asked. There is no default."),
        }
    }
}

fn scope(consent: &Consent) -> String {
    let techniques: Vec<&str> = consent.techniques.iter().map(|t| t.word()).collect();
    let regions: Vec<&str> = consent.regions.iter().map(|r| r.word()).collect();
    let side = consent.side.map_or("", |side| side.word());
    format!("{}; {}; {side}", techniques.join(", "), regions.join(", "))
}

fn numbers(seqs: &[u64]) -> String {
    let list: Vec<String> = seqs.iter().map(|n| format!("no. {n}")).collect();
    list.join(", ")
}
