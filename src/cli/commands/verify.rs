//! `verify`: a store or a package, checked by anybody.

use crate::cli::context::Context;
use crate::cli::exit::Exit;
use crate::cli::progress::Progress;
use crate::cli::secret::{PASSPHRASE, add_secret_args};
use crate::cli::table::width;
use crate::practice::place::Place;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::verify::certificate::certificate;
use crate::verify::finding::Report;
use crate::verify::opening::{self, Key, Shape, check_package, read_identities};
use crate::verify::slip::read_slip;
use crate::verify::store::{StorePaths, Witness, store_file_broken, verify};
use crate::verify::trust::Trust;
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
                .help("Compare with a slip: its NUMBER:CODE as printed, or the file of a kept checkpoint"),
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
                .help("Accept only a package of the ledger and witnesses that this file names (C2SP tlog-policy)"),
        )
        .after_help(
            "Exit codes: 0 sound, 1 something is wrong, 2 it could not be checked, 4 what was typed can't be used,\n\
             5 it does not open.\n\
             A store is compared with the checkpoint kept outside it, if that is found.",
        );
    add_secret_args(cmd, PASSPHRASE)
}

/// Checks and reports.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let what = context.path("what").unwrap_or_else(|| context.root());
    let report = if what.join("store.json").is_file() {
        store(context, &what)?
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
    let slips: Vec<String> =
        context.matches.get_many::<String>("slip").into_iter().flatten().cloned().collect();
    let witnesses: Vec<Witness> = slips.iter().map(|s| read_slip(s, &place.key)).collect::<Outcome<_>>()?;
    let paths = StorePaths { root, outside: &place.outside, key: &place.key };
    let mut progress = Progress::start("Checking the store", None);
    let report = verify(&*context.world.disk, &paths, &witnesses, &mut |n| progress.tick(n));
    progress.done();
    report
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
    context.path("policy").iter().try_for_each(|path| trust.set_policy(path))?;
    Ok(trust)
}

/// The report for a person: the same words as on the certificate.
pub fn words(report: &Report) -> String {
    certificate(report).text(width())
}
