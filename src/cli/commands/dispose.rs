//! `dispose`: a chart that need not be kept any more is destroyed, by two people, after it was shown what goes and
//! what stays; or the refusal is recorded.

use super::CliCommand;
use super::entries::form;
use super::keep::{against, as_output, refuse_place, say_kept, write_certificate};
use crate::cli::app::needs_word;
use crate::cli::context::{Context, add_who_args, secret_trouble};
use crate::cli::data::add_data_arg;
use crate::cli::exit::Exit;
use crate::cli::keeper;
use crate::cli::record::{Recording, add_happened_args, confirm_pin, done, happened, record};
use crate::cli::secret::{Purpose, SECOND_PASSPHRASE, add_secret_args, read_secret};
use crate::cli::table::{indented, shown, width};
use crate::practice::chart::{access, face, find, is_known_today, note_access};
use crate::practice::disposal::destroy::finish;
use crate::practice::disposal::order::{Order, may_sign, order, refuse};
use crate::practice::disposal::plan::{Plan, plan};
use crate::practice::disposal::standing::{certificate, certificates, disposed};
use crate::practice::keeping::of_chart;
use crate::practice::open::Practice;
use crate::practice::session::{Session, chart_key_files};
use crate::record::envelope::RefWhy;
use crate::record::keep_until::KeepUntil;
use crate::record::kinds::Day;
use crate::record::kinds::disposing::CopyLeft;
use crate::record::kinds::keeping::{Block, DisposalBlock, Disposed};
use crate::record::kinds::release::AccessWhy;
use crate::record::moment::{parse_date, plain_date};
use crate::seal::identity::StaffIdentity;
use crate::trouble::{Kind, Outcome, Trouble};
use clap::{Arg, ArgAction, Command};
use serde::Serialize;
use std::path::PathBuf;

/// The command.
pub const COMMAND: CliCommand = CliCommand { word: "dispose", build: command, run };

/// What would be destroyed, or why not, in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct PlanOutput {
    /// Number of the chart.
    pub chart: String,
    /// True when it may be destroyed.
    pub may_go: bool,
    /// How long it is kept, and what stands against destroying it.
    pub kept: KeepUntil,
    /// Entries it has.
    pub entries: u64,
    /// Sealed files of attachments.
    pub files: usize,
    /// Drafts that lie here for it.
    pub drafts: usize,
    /// Places outside the store that entries tell of.
    pub known_copies: Vec<CopyLeft>,
    /// Number of the entry that says it was refused; null where nothing was recorded.
    pub refused: Option<u64>,
}

/// What was destroyed, in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct DestroyedOutput {
    /// Number of the order.
    pub order: u64,
    /// Key files destroyed.
    pub keys: u64,
    /// Sealed files destroyed.
    pub files: u64,
    /// Drafts destroyed.
    pub drafts: u64,
    /// The certificate, and how it stands; null where this role does not open it.
    pub certificate: Option<super::keep::DisposedOutput>,
}

fn command() -> Command {
    let text = |name: &'static str, value: &'static str| Arg::new(name).long(name).value_name(value);
    let flag = |name: &'static str| Arg::new(name).long(name).action(ArgAction::SetTrue);
    let chart = add_who_args(
        Command::new("chart").about(
            "Shows what would go and what would stay; destroys it only with --destroy and two signers",
        ),
    )
    .arg(Arg::new("chart").value_name("CHART").required(true).help("Chart number"))
    .arg(flag("destroy").help("Destroy it, as it was shown without this"))
    .arg(text("second", "CODE").help("Staff code of the second signer"))
    .arg(
        text("copy", "PLACE")
            .action(ArgAction::Append)
            .help("A copy that is left elsewhere: \"stick B in the safe until 2026-12-31\"; may be repeated"),
    )
    .arg(flag("no-other-copies").help("The signers say that there are no copies but those named"))
    .arg(text("medium", "TEXT").help("How old bytes on this disk are made unreadable, in the signers' words"))
    .arg(
        text("settled-because", "TEXT")
            .help("Why it may go although a rule is not settled: who read which text, and when"),
    )
    .arg(
        text("into", "FILE")
            .value_parser(clap::value_parser!(PathBuf))
            .help("Write the certificate into this file, outside the store"),
    );
    let chart = add_secret_args(chart, SECOND_PASSPHRASE);
    let gone = add_data_arg(add_happened_args(add_who_args(
        Command::new("gone").about("A copy that a certificate names was destroyed too"),
    )));
    let gone = form("copy-gone").map(|asks| asks.form.clap_args(gone.clone())).unwrap_or(gone);
    Command::new("dispose")
        .about("Destroy a chart that need not be kept any more: two signers, a certificate, nothing that opens it")
        .subcommand(chart)
        .subcommand(
            add_who_args(
                Command::new("attachment").about("An attachment goes with its chart only; asking for it alone is refused and recorded"),
            )
            .arg(
                Arg::new("number")
                    .value_name("ENTRY")
                    .required(true)
                    .value_parser(clap::value_parser!(u64).range(1..))
                    .help("Number of the attachment"),
            ),
        )
        .subcommand(add_who_args(
            Command::new("finish").about("Go on with a destruction that was ordered and cut off"),
        ))
        .subcommand(gone)
}

fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let words = "chart, attachment, finish, gone";
    let Some((word, matches)) = context.matches.subcommand() else { return needs_word(words) };
    let mut inner = context.under(matches);
    match word {
        "chart" => chart(&mut inner),
        "attachment" => attachment(&mut inner),
        "finish" => go_on(&mut inner),
        "gone" => gone(&mut inner),
        _ => needs_word(words),
    }
}

fn chart(context: &mut Context<'_>) -> Outcome<Exit> {
    let into = context.path("into");
    into.iter().try_for_each(|into| refuse_place(context, into))?;
    let named: Vec<CopyLeft> =
        context.matches.get_many::<String>("copy").into_iter().flatten().map(|text| copy(text)).collect();
    let settled = context.text("settled-because").filter(|why| !why.trim().is_empty());
    let destroy = context.flag("destroy");
    let mut practice = context.writing()?;
    let found = find(&practice, &context.text("chart").unwrap_or_default())?;
    note_look(&mut practice, &found.tag)?;
    let plan = plan(&practice, found.clone(), settled.as_deref())?;
    let only_unsettled = plan.kept.refusals == ["unsettled_rule"];
    if !plan.kept.may_go() && (destroy || !only_unsettled) {
        return refused(context, &mut practice, &plan, destroy);
    }
    if !destroy && !context.asker.interactive() {
        preview(context, &plan)?;
        return Ok(Exit::AskFirst);
    }
    if context.asker.interactive() && !context.json() {
        preview(context, &plan)?;
    }
    if !plan.kept.may_go() {
        // Only a rule that a person has to look at stands against it.
        return Ok(Exit::AskFirst);
    }
    let second = second(context, &practice)?;
    let (copies, all_copies_named) = copies(context, named)?;
    if context.asker.interactive() && !typed_again(context, &plan)? {
        context.say("Nothing was destroyed or ordered.")?;
        return Ok(Exit::AskFirst);
    }
    confirm_pin(context, &practice, "disposal")?;
    let medium = context.text("medium").filter(|words| !words.trim().is_empty());
    let asked = Order { face: found, second: &second, settled, copies, all_copies_named, medium };
    let ordered = order(&mut practice, asked)?;
    let output = carry_out(context, &mut practice, ordered.order, Some(ordered.certificate))?;
    if let Some(into) = into {
        write_certificate(&practice, &certificate(&practice, ordered.certificate)?, &into)?;
        context.asker.say(&format!(
            "The certificate is in {}. It bears the patient's name and is not sealed.",
            into.display()
        ));
    }
    tell(context, vec![output])
}

/// The look that comes before a disposal is an opening like any other.
fn note_look(practice: &mut Practice, tag: &str) -> Outcome<()> {
    let entries = practice.chart(tag)?;
    let opening = access(AccessWhy::Review, Some("looked through for disposal".to_string()));
    if is_known_today(practice, &entries, &opening) {
        return Ok(());
    }
    note_access(practice, tag, opening).map(drop)
}

fn copy(text: &str) -> CopyLeft {
    let day = |text: &str| parse_date(text.trim()).map(Day);
    match text.rsplit_once(" until ") {
        Some((place, until)) if day(until).is_some() => {
            CopyLeft { place: place.trim().to_string(), until: day(until), entry: None }
        }
        _ => CopyLeft { place: text.trim().to_string(), until: None, entry: None },
    }
}

/// The copies that are left, and whether somebody says that these are all. Neither is taken for granted.
fn copies(context: &mut Context<'_>, mut named: Vec<CopyLeft>) -> Outcome<(Vec<CopyLeft>, bool)> {
    if context.flag("no-other-copies") {
        return Ok((named, true));
    }
    if !context.asker.interactive() {
        return match named.is_empty() {
            false => Ok((named, false)),
            true => Err(Trouble::input(
                "It was not said which copies are left: backups, sticks, disks put aside, paper.",
                "Give --copy PLACE for each, or --no-other-copies if the signers know of none.",
            )),
        };
    }
    loop {
        let asked =
            "A copy that is left elsewhere (\"stick B in the safe until 2026-12-31\"); Enter: no more? ";
        match context.asker.line(asked).ok().flatten() {
            Some(line) if !line.trim().is_empty() => named.push(copy(&line)),
            _ => break,
        }
    }
    let all = context.yes("Do you both say that there are no others?", false)?;
    Ok((named, all))
}

fn typed_again(context: &mut Context<'_>, plan: &Plan) -> Outcome<bool> {
    let asked = format!("Type the chart number {} to destroy it for ever: ", plan.face.chart_no);
    let typed = context.asker.line(&asked).ok().flatten().unwrap_or_default();
    Ok(typed.trim().eq_ignore_ascii_case(&plan.face.chart_no))
}

fn second(context: &mut Context<'_>, practice: &Practice) -> Outcome<StaffIdentity> {
    let code = match context.text("second") {
        Some(code) => Some(code),
        None if context.asker.interactive() => context
            .asker
            .line("Who signs beside you? Staff code: ")
            .ok()
            .flatten()
            .map(|code| code.trim().to_string()),
        None => None,
    };
    let code = code.filter(|code| !code.is_empty()).ok_or_else(|| {
        Trouble::input("Two people sign a disposal, and the second was not named.", "Give --second CODE.")
    })?;
    may_sign(practice, &code)?;
    let prompt = format!("Passphrase of {code}");
    let secret = read_secret(context.matches, SECOND_PASSPHRASE, &prompt, Purpose::Open, context.asker)
        .map_err(secret_trouble)?;
    Session::unlock(&practice.world, &practice.place, &code, &secret).map(|session| session.me)
}

fn refused(context: &mut Context<'_>, practice: &mut Practice, plan: &Plan, destroy: bool) -> Outcome<Exit> {
    let mut more = Vec::new();
    if destroy && context.text("second").is_none() {
        let words = Some("only one person had signed".to_string());
        more.push(DisposalBlock { because: Block::SecondSigner, entry: None, words });
    }
    let receipt = refuse(practice, &plan.face.tag, (Disposed::Chart, Vec::new()), &plan.kept, more)?;
    context.remarks(practice);
    if context.json() {
        context.say_json(&as_plan(plan, Some(receipt.seq)))?;
        return Ok(Exit::Refused);
    }
    context.say(&format!("Chart {} is not destroyed.", plan.face.chart_no))?;
    say_kept(context, &plan.kept)?;
    context.say(&format!("That it was asked for and refused is entry {}.", receipt.seq))?;
    Ok(Exit::Refused)
}

fn as_plan(plan: &Plan, refused: Option<u64>) -> PlanOutput {
    PlanOutput {
        chart: plan.face.chart_no.clone(),
        may_go: plan.kept.may_go(),
        kept: plan.kept.clone(),
        entries: plan.entries,
        files: plan.files.len(),
        drafts: plan.drafts,
        known_copies: plan.known.clone(),
        refused,
    }
}

fn preview(context: &mut Context<'_>, plan: &Plan) -> Outcome<()> {
    if context.json() {
        return context.say_json(&as_plan(plan, None));
    }
    context.say(&format!(
        "Chart {}, {}: {} to {}",
        plan.face.chart_no,
        shown(&plan.face.identity.legal_name),
        plain_date(plan.period.0.0),
        plain_date(plan.period.1.0)
    ))?;
    say_kept(context, &plan.kept)?;
    let mut lines = vec![
        (0, "What would go, for ever:".to_string()),
        (2, format!("the keys to its {} entries: nobody reads them again", plan.entries)),
        (2, format!("{} sealed files of attachments, {} drafts", plan.files.len(), plan.drafts)),
        (0, "What would stay:".to_string()),
        (
            2,
            "that the chart was there, how many entries it had, when and by whom; its certificate"
                .to_string(),
        ),
    ];
    if plan.went_out > 0 {
        lines.push((2, format!("what went out before, to whom it went: {} times", plan.went_out)));
    }
    lines.extend(plan.known.iter().map(|copy| {
        (2, format!("{} (entry {}): to be destroyed by hand", copy.place, copy.entry.unwrap_or_default()))
    }));
    lines.push((2, "safe copies made before, as long as they are kept: name each with --copy".to_string()));
    if !plan.kept.may_go() {
        lines.push((
            0,
            "Asked first: give --settled-because WORDS once a person has looked at the rules named."
                .to_string(),
        ));
    }
    lines.push((
        0,
        "Nothing was destroyed. To do it: --destroy --second CODE, with --copy PLACE or --no-other-copies."
            .to_string(),
    ));
    for (indent, line) in lines {
        context.say(&indented(&shown(&line), width(), indent))?;
    }
    Ok(())
}

/// Ends the keeper, destroys, and says what was done.
fn carry_out(
    context: &mut Context<'_>,
    practice: &mut Practice,
    number: u64,
    of: Option<u64>,
) -> Outcome<DestroyedOutput> {
    // It may hold keys of the chart's files; and nothing found in this run is given back to it.
    keeper::lock(&practice.place);
    *context.opened.borrow_mut() = None;
    let (destroyed, _) = finish(practice, number)?;
    context.remarks(practice);
    let tag = disposed(practice)?.into_iter().find(|one| one.order == number).map(|one| one.tag);
    let mut all = certificates(practice).unwrap_or_default().into_iter();
    let certificate =
        all.find(|one| of == Some(one.entry) || Some(&one.certificate.chart) == tag.as_ref()).map(as_output);
    Ok(DestroyedOutput {
        order: number,
        keys: destroyed.keys,
        files: destroyed.files,
        drafts: destroyed.drafts,
        certificate,
    })
}

fn tell(context: &mut Context<'_>, done: Vec<DestroyedOutput>) -> Outcome<Exit> {
    context.asker.say("Whoever was unlocked here is locked now: run `inkfast unlock` to go on. Other desks: `inkfast lock`.");
    if context.json() {
        context.say_json(&done)?;
        return Ok(Exit::Done);
    }
    for one in &done {
        context.say(&format!(
            "Destroyed: {} key files, {} files of attachments, {} drafts. The order is entry {}.",
            one.keys, one.files, one.drafts, one.order
        ))?;
        if let Some(certificate) = &one.certificate {
            context.say(&indented(&shown(&certificate.verdict), width(), 0))?;
            context.say(&format!(
                "The certificate is entry {}: inkfast keep certificate {}",
                certificate.certificate, certificate.certificate
            ))?;
        }
    }
    Ok(Exit::Done)
}

fn go_on(context: &mut Context<'_>) -> Outcome<Exit> {
    let mut practice = context.writing()?;
    let mut orders: Vec<u64> = Vec::new();
    for one in disposed(&practice)? {
        if one.done.is_none() || !chart_key_files(&practice.world, &practice.place, &one.tag)?.is_empty() {
            orders.push(one.order);
        }
    }
    if orders.is_empty() {
        context.say("No destruction of a chart is unfinished.")?;
        return Ok(Exit::Done);
    }
    let mut done = Vec::with_capacity(orders.len());
    for number in orders {
        done.push(carry_out(context, &mut practice, number, None)?);
    }
    tell(context, done)
}

fn attachment(context: &mut Context<'_>) -> Outcome<Exit> {
    let number = context.number("number").unwrap_or_default();
    let mut practice = context.writing()?;
    let entry = practice.entry_by_seq(number)?;
    let tag = entry.leaf.chart.clone().filter(|_| entry.leaf.kind == "attachment").ok_or_else(|| {
        Trouble::new(
            Kind::NotFound,
            format!("Entry {number} is no attachment."),
            "Nothing was destroyed or recorded.",
            "Look the number up with `inkfast print`.",
        )
    })?;
    let face = face(&practice, &tag)?;
    note_look(&mut practice, &tag)?;
    let kept = of_chart(&practice, &face, &practice.chart(&tag)?, None)?;
    let alone =
        "an attachment is sealed with the chart's keys, so it goes when the chart goes and not before";
    let more = vec![DisposalBlock { because: Block::Other, entry: None, words: Some(alone.to_string()) }];
    let receipt = refuse(&mut practice, &tag, (Disposed::Attachment, vec![number]), &kept, more)?;
    context.remarks(&mut practice);
    if context.json() {
        return done(context, "refused-disposal", &receipt).map(|_| Exit::Refused);
    }
    context.say(&format!("Attachment {number} of chart {} is not destroyed.", face.chart_no))?;
    for line in against(&kept).into_iter().chain([alone.to_string()]) {
        context.say(&indented(&shown(&line), width(), 2))?;
    }
    context.say(&format!("That it was asked for and refused is entry {}.", receipt.seq))?;
    Ok(Exit::Refused)
}

fn gone(context: &mut Context<'_>) -> Outcome<Exit> {
    let when = happened(context)?;
    let mut practice = context.writing()?;
    let asks = form("copy-gone")?;
    let recording = Recording::of(asks, None, when);
    let receipt = record(context, &mut practice, recording, |data, practice| {
        let number = |field: &str| data.get(field).and_then(serde_json::Value::as_u64).unwrap_or_default();
        let one = certificate(practice, number("certificate"))?;
        match one.copies().into_iter().find(|copy| copy.number == number("copy")) {
            None => Err(Trouble::input(
                "The certificate names no copy with this number.",
                "Look at `inkfast keep disposed`.",
            )),
            Some(copy) if copy.gone.is_some() => Err(Trouble::input(
                "That copy is recorded as destroyed already.",
                "Look at `inkfast keep certificate`.",
            )),
            Some(_) => Ok(vec![(one.entry, RefWhy::AddsTo)]),
        }
    })?;
    let about = practice.entry_by_seq(receipt.seq)?.data();
    if let Some(crate::record::kinds::Data::CopyGone(gone)) = about {
        let verdict = certificate(&practice, gone.certificate)?.verdict();
        context.asker.say(&verdict);
    }
    done(context, "copy-gone", &receipt)
}
