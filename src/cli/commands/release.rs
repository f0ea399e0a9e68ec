//! `release`: one sealed package for whoever asked.

mod asked;

use super::request;
use super::slip::witness::words;
use crate::cli::context::{Context, add_who_args, secret_trouble};
use crate::cli::exit::Exit;
use crate::cli::forms;
use crate::cli::record::{confirm_pin, fill};
use crate::cli::secret::{Purpose, SecretFlags, add_secret_args, read_secret};
use crate::practice::chart::find;
use crate::practice::open::Practice;
use crate::practice::release::{
    NOT_TO_BE_TOLD, ReleaseOrder, Released, SealTo, UNSEALED_WARNING, not_to_be_told, release, undecided,
};
use crate::record::kinds::release::{Confirmed, Release, Unsealed};
use crate::seal::age_file::Recipient;
use crate::trouble::{Outcome, Trouble};
use crate::verify::finding::Report;
use crate::verify::manifest::Differences;
use clap::{Arg, ArgAction, Command};
use serde::Serialize;
use serde_json::{Value, json};
use std::path::PathBuf;

/// Flags of the package's own passphrase, apart from the one that unlocks the store.
const PACKAGE: SecretFlags = SecretFlags { file: "package-passphrase-file", fd: "package-passphrase-fd" };

/// A package that was released, in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct ReleaseOutput {
    /// Number of the release entry.
    pub entry: u64,
    /// The package.
    pub file: PathBuf,
    /// Its length in bytes.
    pub bytes: u64,
    /// BLAKE3 of the file, hex.
    #[schemars(regex(pattern = "^[0-9a-f]{64}$"))]
    pub blake3: String,
    /// BLAKE3 of the archive inside the seal, hex.
    #[schemars(regex(pattern = "^[0-9a-f]{64}$"))]
    pub inside_blake3: String,
    /// Number of the release whose package this is once more, byte for byte inside the seal.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub same_as: Option<u64>,
    /// What differs since an earlier package.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub differences: Option<Differences>,
    /// The check that it passed before it got its name.
    pub check: Report,
}

/// Options of `release`.
pub fn command() -> Command {
    let cmd = add_who_args(Command::new("release").about(
        "Release a chart, or a part of it, as one sealed package that a stranger can open, read and check",
    ))
    .arg(Arg::new("chart").value_name("CHART").required(true).help("Chart number"))
    .arg(
        Arg::new("despite")
            .long("despite")
            .value_name("WORDS")
            .help("With --request: why it goes out although something was to be asked first"),
    );
    options(cmd, &[])
}

/// Adds the options of a release, but for those questions that the command knows the answer to.
pub fn options(cmd: Command, known: &[&str]) -> Command {
    let cmd = cmd
        .arg(
            Arg::new("recipient")
                .long("to")
                .value_name("AGE1...")
                .action(ArgAction::Append)
                .help("Seal to this age recipient; may be repeated"),
        )
        .arg(
            Arg::new("passphrase")
                .long("passphrase")
                .action(ArgAction::SetTrue)
                .conflicts_with("recipient")
                .help("Seal with a passphrase, told by another way than the package"),
        )
        .arg(
            Arg::new("unsealed")
                .long("unsealed")
                .action(ArgAction::SetTrue)
                .conflicts_with_all(["recipient", "passphrase"])
                .help("Do not seal it: asks first, and is recorded"),
        )
        .arg(
            Arg::new("confirm-unsealed")
                .long("confirm-unsealed")
                .action(ArgAction::SetTrue)
                .requires("unsealed")
                .help("Confirm that it leaves unsealed, where nobody can be asked"),
        )
        .arg(
            Arg::new("witnessed")
                .long("witnessed")
                .action(ArgAction::SetTrue)
                .help("Have the package's checkpoint signed by the witnesses that `slip witness` asked last"),
        )
        .arg(
            Arg::new("package")
                .long("file")
                .value_name("FILE")
                .value_parser(clap::value_parser!(PathBuf))
                .help("File to write [default: CHART-release.age; unsealed CHART-release.tar]"),
        );
    let cmd = add_secret_args(asked::add_args(cmd), PACKAGE);
    let mut form = forms::desk::release();
    form.questions.retain(|question| !known.contains(&question.flag));
    crate::cli::data::add_data_arg(form.clap_args(cmd))
}

/// Releases.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let chart = context.text("chart").unwrap_or_default();
    release_chart(context, &chart, json!({}))
}

/// Releases a chart, beginning with what is known of the release.
pub fn release_chart(context: &mut Context<'_>, chart: &str, start: Value) -> Outcome<Exit> {
    let withhold = asked::withheld(context)?;
    let recipients = recipients(context)?;
    let unsealed = match context.flag("unsealed") {
        true => Some(confirm_unsealed(context)?),
        false => None,
    };
    if unsealed == Some(None) {
        return Ok(Exit::AskFirst);
    }
    let mut practice = context.writing()?;
    let face = find(&practice, chart)?;
    let data = fill(context, &practice, &forms::desk::release(), "release", Some(&face.tag), start)?;
    let answers = match data.get("request").and_then(Value::as_u64) {
        Some(seq) => match request::before_release(context, &practice, seq, &face.tag)? {
            request::Gate::Open(dealing) => Some(dealing),
            request::Gate::AskFirst => return Ok(Exit::AskFirst),
        },
        None => None,
    };
    let to = sealed_to(context, &practice, unsealed.flatten(), recipients)?;
    let data = read_release(data)?;
    let ending = if matches!(to, SealTo::Nobody(_)) { "tar" } else { "age" };
    let file = context
        .path("package")
        .unwrap_or_else(|| PathBuf::from(format!("{}-release.{ending}", face.chart_no)));
    let may_go_out = answers.as_ref().and_then(|dealing| dealing.standing.may_go_out());
    let span = asked::span(context, may_go_out)?;
    let happened = practice.now();
    let order = ReleaseOrder {
        span,
        withhold,
        give: asked::given(context),
        production: asked::production(context),
        witnessed: context.flag("witnessed"),
        ..ReleaseOrder::new(data, to, file, happened)
    };
    if let Some(words) = asked::to_decide(&undecided(&practice, &face.tag, &order)?) {
        context.asker.say(&words);
        return Ok(Exit::AskFirst);
    }
    if !not_to_be_told(&practice, &practice.chart(&face.tag)?, &order)?.is_empty() {
        context.asker.say(NOT_TO_BE_TOLD);
    }
    confirm_pin(context, &practice, "release")?;
    let tell = match (&order.to, &order.data.passphrase_by) {
        (SealTo::Passphrase(_), told) => Some(told.is_none()),
        _ => None,
    };
    let done = release(&mut practice, &face.tag, order)?;
    practice.drop_draft("release", Some(&face.tag))?;
    if let Some(round) = &done.witnessed {
        round.asked.iter().for_each(|asked| context.asker.say(&words(asked, round.size)));
    }
    if let Some(dealing) = &answers {
        request::after_release(context, &mut practice, dealing, &done)?;
    }
    context.remarks(&mut practice);
    say(context, done, tell)
}

/// Whom it is sealed to: as given, else with a passphrase that is asked for.
fn sealed_to(
    context: &mut Context<'_>,
    practice: &Practice,
    unsealed: Option<Confirmed>,
    recipients: Option<Vec<Recipient>>,
) -> Outcome<SealTo> {
    if let Some(how) = unsealed {
        let confirmed_by = practice.session.me.code.clone();
        return Ok(SealTo::Nobody(Unsealed { confirmed_by, shown: UNSEALED_WARNING.into(), how }));
    }
    if let Some(to) = recipients {
        return Ok(SealTo::Recipients(to));
    }
    if !context.flag("passphrase") && !context.asker.interactive() {
        return Err(Trouble::input("Whom is the package sealed to?", "Give --to age1... or --passphrase."));
    }
    let asked =
        read_secret(context.matches, PACKAGE, "Passphrase of the package", Purpose::New, context.asker);
    Ok(SealTo::Passphrase(asked.map_err(secret_trouble)?))
}

/// The answers as a release; how it was sealed and what was in it are put in when it is made.
fn read_release(mut data: Value) -> Outcome<Release> {
    if let Value::Object(fields) = &mut data {
        fields.entry("what").or_insert(json!({ "entries": 0 }));
        fields.insert("sealed".into(), json!("to-passphrase"));
        // Worked out from the basis when it is sealed.
        fields.insert("counts_for_accounting".into(), json!(false));
    }
    serde_json::from_value(data).map_err(|e| {
        Trouble::input(format!("The release can't be recorded: {e}."), "Correct it and do it again.")
    })
}

/// Says what was released. `tell`: sealed with a passphrase, and whether that is still to be told.
fn say(context: &mut Context<'_>, done: Released, tell: Option<bool>) -> Outcome<Exit> {
    if context.json() {
        context.say_json(&ReleaseOutput {
            entry: done.seq,
            file: done.file,
            bytes: done.bytes,
            blake3: done.digest,
            inside_blake3: done.plain_digest,
            same_as: done.same_as,
            differences: done.differences,
            check: done.report,
        })?;
        return Ok(Exit::Done);
    }
    context.say(&format!(
        "Released as entry {}: {} ({} bytes).\nIt was checked as the reader will check it: sound. {}",
        done.seq,
        done.file.display(),
        done.bytes,
        done.report.complete.clone().unwrap_or_default()
    ))?;
    if let Some(first) = done.same_as {
        context.say(&format!("Inside the seal it is the package of release {first}, byte for byte."))?;
    }
    if let Some(differences) = &done.differences {
        context.say(&differences.to_text(done.seq))?;
    }
    match tell {
        Some(true) => context.say(
            "The passphrase is not yet told: tell it by another way than the package, for example by telephone. \
             Never send both together. Told by: ________________ on: ____________",
        )?,
        Some(false) => context.say(
            "Tell a passphrase by another way than the package, for example by telephone. Never send both together.",
        )?,
        None => {}
    }
    Ok(Exit::Done)
}

/// Shows what leaving unsealed means and asks; none when it is not confirmed.
fn confirm_unsealed(context: &mut Context<'_>) -> Outcome<Option<Confirmed>> {
    context.asker.say(UNSEALED_WARNING);
    if context.flag("confirm-unsealed") {
        return Ok(Some(Confirmed::GivenWithCommand));
    }
    if !context.asker.interactive() {
        context.asker.say(
            "Nobody is here to ask. Nothing was recorded and nothing was written. Give --confirm-unsealed as \
             well, or --to or --passphrase instead.",
        );
        return Ok(None);
    }
    match context.yes("Let it leave unsealed?", false)? {
        true => Ok(Some(Confirmed::Answered)),
        false => {
            context.asker.say("Nothing was recorded and nothing was written.");
            Ok(None)
        }
    }
}

fn recipients(context: &Context<'_>) -> Outcome<Option<Vec<Recipient>>> {
    let given: Vec<String> =
        context.matches.get_many::<String>("recipient").into_iter().flatten().cloned().collect();
    if given.is_empty() {
        return Ok(None);
    }
    let read = given.iter().map(|text| {
        Recipient::parse(text).ok_or_else(|| {
            Trouble::input(
                "One of the recipients given with --to is not an age recipient.",
                "It begins with age1; read it back letter by letter.",
            )
        })
    });
    read.collect::<Outcome<Vec<_>>>().map(Some)
}
