//! `verify`: a store or a package, checked by anybody.

use crate::cli::context::Context;
use crate::cli::exit::Exit;
use crate::cli::progress::Progress;
use crate::cli::secret::{PASSPHRASE, add_secret_args};
use crate::cli::table::width;
use crate::index::{self, bookmark};
use crate::ledger::policy::Policy;
use crate::ledger::scan::scan_to_newest;
use crate::practice::copies;
use crate::practice::place::Place;
use crate::practice::resume::resume;
use crate::practice::witness::policy_of;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::verify::certificate::certificate;
use crate::verify::earlier::compare;
use crate::verify::finding::{Finding, FindingId, Report, Where};
use crate::verify::opening::{self, Key, Shape, check_package, read_identities};
use crate::verify::public;
use crate::verify::slip::{read_receipt, read_slip};
use crate::verify::store::{StorePaths, Witness, store_file_broken, verify, verify_on};
use crate::verify::trust::Trust;
use crate::verify::witnessed;
use clap::{Arg, ArgAction, Command};
use std::path::{Path, PathBuf};

/// Options of `verify`.
pub fn command() -> Command {
    let cmd = Command::new("verify")
        .about(
            "Check that nothing was changed, moved, removed or added: a store (no key needed) or a package",
        )
        .arg(Arg::new("what").value_name("STORE-OR-PACKAGE").value_parser(clap::value_parser!(PathBuf)).help(
            "A store folder, a package (.age), its archive (.tar) or unpacked folder [default: the store]",
        ))
        .arg(
            Arg::new("slip")
                .long("slip")
                .value_name("SLIP")
                .action(ArgAction::Append)
                .help(
                    "Compare with a slip: its NUMBER:CODE, \"NUMBER and its twelve words\", what its QR code says, or the \
                     file of a kept checkpoint",
                ),
        )
        .arg(
            Arg::new("receipt")
                .long("receipt")
                .value_name("RECEIPT")
                .action(ArgAction::Append)
                .help("Say whether exactly the entry of this receipt is still there: typed in the same ways as a slip"),
        )
        .arg(
            Arg::new("identity")
                .long("identity")
                .value_name("FILE")
                .value_parser(clap::value_parser!(PathBuf))
                .help("File with the age identity that opens a sealed package"),
        )
        .arg(
            Arg::new("policy")
                .long("policy")
                .value_name("FILE")
                .value_parser(clap::value_parser!(PathBuf))
                .help("Accept only a ledger and witnesses that this file names (C2SP tlog-policy)"),
        )
        .arg(
            Arg::new("public")
                .long("public")
                .value_name("DIR")
                .value_parser(clap::value_parser!(PathBuf))
                .help("When the store is sound, also write its leaves into this folder, for any log client to check"),
        )
        .arg(
            Arg::new("since")
                .long("since")
                .value_name("FILE")
                .value_parser(clap::value_parser!(PathBuf))
                .help("Also prove that the store continues the earlier checkpoint in this file"),
        )
        .arg(
            Arg::new("only-new")
                .long("only-new")
                .action(ArgAction::SetTrue)
                .requires("since")
                .conflicts_with("public")
                .help("With --since: read only what was added since; what was there before is not read again"),
        )
        .arg(
            Arg::new("earlier")
                .long("earlier")
                .value_name("FOLDER")
                .value_parser(clap::value_parser!(PathBuf))
                .help("Also check the store that this one goes on from, and that it is still the same"),
        )
        .after_help(
            "Exit codes: 0 sound, 1 something is wrong, 2 it could not be checked, 4 what was typed can't be used,\n\
             5 it does not open, 7 what lies in DIR is not this ledger's.\n\
             A store is compared with the checkpoint kept outside it, if that is found.\n\
             --public writes what C2SP tlog-tiles describes: the checkpoint, tiles of hashes, and the leaves. Leaves show \
             staff codes, kinds of entries, dates, and how many there are in all and in each chart (under a random label); \
             they show no contents, no name and no chart number. A later run adds what is new and overwrites nothing.",
        );
    add_secret_args(cmd, PASSPHRASE)
}

/// Checks and reports.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let what = context.path("what").unwrap_or_else(|| context.root());
    let report = if what.join("store.json").is_file() {
        let mut report = store(context, &what)?;
        if !report.sound {
            // What was found stands against writing from now on: nobody goes on from an earlier reading.
            bookmark::throw_away(&*context.world.disk, &bookmark::folder(&index::folder(&what)));
        }
        if report.sound {
            publish(context, &what, &mut report)?;
        }
        report
    } else if what.is_file() || ["manifest.json", "manifest.note"].iter().any(|n| what.join(n).is_file()) {
        package(context, &what)?
    } else {
        return Err(Trouble::new(
            Kind::NotFound,
            format!("{} is neither a store nor a package.", what.display()),
            "Nothing was changed.",
            "Name a store folder, or a package file or folder.",
        ));
    };
    if context.json() {
        context.say_json(&report)?;
    } else {
        let text = words(&report);
        context.say(&text)?;
    }
    Ok(if report.sound { Exit::Done } else { Exit::Wrong })
}

fn store(context: &mut Context<'_>, root: &Path) -> Outcome<Report> {
    let place = match Place::open(&context.world, root, context.path("outside").as_deref()) {
        Err(trouble) if trouble.kind == Kind::Damaged => return Ok(store_file_broken()),
        opened => opened?,
    };
    if copies::is_copy(&*context.world.disk, root)? {
        return safe_copy(context, &place);
    }
    let typed = |name| context.matches.get_many::<String>(name).into_iter().flatten();
    let slips = typed("slip").map(|s| read_slip(s, &place.key));
    let receipts = typed("receipt").map(|r| read_receipt(r, &place.key));
    let mut witnesses: Vec<Witness> = slips.chain(receipts).collect::<Outcome<_>>()?;
    let disk = context.world.disk.clone();
    let (kept, useless) = witnessed::read(&*disk, root, &place.key);
    let policy = store_policy(context, &place)?;
    witnesses.extend(policy.iter().flat_map(|policy| witnessed::to_compare(&kept, policy)));
    let paths = StorePaths { root, outside: &place.outside, key: &place.key };
    let mut progress = Progress::start("Checking the store", None);
    let resume = match context.path("since").filter(|_| context.flag("only-new")) {
        Some(file) => {
            let kept = public::earlier(&*disk, &file, &place.key)?;
            witnesses.push(read_slip(&file.to_string_lossy(), &place.key)?);
            resume(&context.world, &place, &kept)?
        }
        None => None,
    };
    let report = match &resume {
        Some(resume) => verify_on(&*disk, &paths, resume, &witnesses, &mut |n| progress.tick(n)).transpose(),
        None => None,
    };
    let report = report.unwrap_or_else(|| verify(&*disk, &paths, &witnesses, &mut |n| progress.tick(n)));
    progress.done();
    let mut report = report?;
    if context.flag("only-new") && report.read_from.is_none() {
        context.asker.say("What was there before could not be gone on from, so everything was read.");
    }
    if let Some(folder) = context.path("earlier") {
        let before = Place::open(&context.world, &folder, None)?;
        let earlier = StorePaths { root: &folder, outside: &before.outside, key: &before.key };
        compare(&*context.world.disk, &paths, &earlier, &mut report, &mut |_| ())?;
    }
    for name in useless {
        context.asker.say(&format!(
            "witnesses/{name} can't be used, and was not counted; the record loses nothing by it."
        ));
    }
    let needed = policy.filter(|policy| policy.quorum().is_some());
    match needed.map(|policy| witnessed::met_up_to(&kept, &policy)) {
        Some(Some(size)) => context
            .asker
            .say(&format!("The witnesses that the policy asks for have signed up to number {size}.")),
        // Only whoever brings a policy along insists on it.
        Some(None) if context.path("policy").is_some() => {
            report.findings.push(Finding::new(FindingId::PolicyNotMet, Where::default()).to_output());
            report.sound = false;
        }
        _ => {}
    }
    Ok(report)
}

/// A safe copy where it lies: the store has gone on since, and that is no fault of the copy.
fn safe_copy(context: &mut Context<'_>, place: &Place) -> Outcome<Report> {
    let slips: Vec<String> = context.matches.get_many("slip").into_iter().flatten().cloned().collect();
    let mut progress = Progress::start("Checking the safe copy", None);
    let report = copies::check_copy(&context.world, place, &slips, &mut |n| progress.tick(n));
    progress.done();
    let report = report?;
    let made = copies::read(&*context.world.disk, &place.root)?.filter(|mark| mark.entries > 0);
    context.asker.say(&match made {
        Some(mark) => {
            format!("This is a safe copy, made {}, up to number {}.", mark.made.plain(), mark.entries)
        }
        None => "This is a safe copy that was never finished: run `inkfast safecopy` again.".to_string(),
    });
    Ok(report)
}

/// The policy that a store is compared by: the one given, or the one that witnesses were last asked by.
fn store_policy(context: &Context<'_>, place: &Place) -> Outcome<Option<Policy>> {
    match context.path("policy") {
        Some(path) => {
            let bytes = std::fs::read(&path).map_err(|e| Trouble::disk("read", &path, &e))?;
            policy_of(&bytes, place).map(Some)
        }
        // A damaged one of our own says nothing; witnesses are asked again with the right one.
        None => {
            Ok(witnessed::kept_policy(&*context.world.disk, &place.root)
                .and_then(|b| policy_of(&b, place).ok()))
        }
    }
}

/// Proves that a sound store continues an earlier checkpoint, and writes its leaves where they were asked for.
fn publish(context: &mut Context<'_>, root: &Path, report: &mut Report) -> Outcome<()> {
    let (since, dir) = (context.path("since"), context.path("public"));
    // A check of what is new has compared that checkpoint already.
    let since = since.filter(|_| !context.flag("only-new"));
    if since.is_none() && dir.is_none() {
        return Ok(());
    }
    let place = Place::open(&context.world, root, context.path("outside").as_deref())?;
    let (disk, ledger) = (context.world.disk.clone(), root.join("ledger"));
    if let Some(file) = since {
        let old = public::earlier(&*disk, &file, &place.key)?;
        let read = scan_to_newest(&*disk, &ledger, &place.key)?;
        let leaves = read.leaf_hashes(read.size()).unwrap_or_default();
        let newest = read.checkpoint.map(|(newest, _)| newest);
        let place = Where { seq: Some(old.size), ..Where::default() };
        if !newest.is_some_and(|newest| public::continues(&leaves, &newest, &old)) {
            let shorter = old.size > leaves.len() as u64;
            let id = if shorter { FindingId::BehindOutside } else { FindingId::RewrittenOutside };
            report.findings.push(Finding::new(id, place).to_output());
            report.sound = false;
            return Ok(());
        }
        report.witnesses.push(format!(
            "the checkpoint in {}, by a consistency proof, entry {}",
            file.display(),
            old.size
        ));
        context.asker.say(&format!("It continues the {} entries of {}.", old.size, file.display()));
    }
    if let Some(dir) = dir {
        let written = public::write(&*disk, &ledger, &place.key, &dir)?;
        context.asker.say(&format!(
            "{}: {} leaves, {} of them new; {} new files.",
            dir.display(),
            written.leaves,
            written.leaves - written.before,
            written.files
        ));
    }
    Ok(())
}

fn package(context: &mut Context<'_>, path: &Path) -> Outcome<Report> {
    let trust = trust(context)?;
    let shape = opening::shape(path)?;
    let key = match (shape, context.path("identity")) {
        (Shape::Sealed { .. }, Some(identity)) => Some(Key::Identities(read_identities(&identity)?)),
        (Shape::Sealed { by_passphrase: true, .. }, None) => {
            Some(Key::Passphrase(context.secret("Passphrase of the package")?))
        }
        _ => None,
    };
    let mut progress = Progress::start("Checking the package", None);
    let checked = check_package(path, shape, key.as_ref(), &trust, &mut |n| progress.tick(n));
    progress.done();
    checked.map(|c| c.report)
}

/// What the reader compares a package with.
fn trust(context: &Context<'_>) -> Outcome<Trust> {
    let mut trust = Trust::default();
    for slip in context.matches.get_many::<String>("slip").into_iter().flatten() {
        match Path::new(slip) {
            path if path.is_file() => trust.add_checkpoint(path)?,
            _ => trust.add_slip(slip)?,
        }
    }
    for receipt in context.matches.get_many::<String>("receipt").into_iter().flatten() {
        trust.add_receipt(receipt)?;
    }
    context.path("policy").iter().try_for_each(|path| trust.set_policy(path))?;
    Ok(trust)
}

/// The report for a person: the same words as on the certificate.
pub fn words(report: &Report) -> String {
    certificate(report).text(width())
}
