//! `verify`: a store or a package, checked by anybody.

use crate::cli::context::Context;
use crate::cli::exit::Exit;
use crate::cli::progress::Progress;
use crate::cli::secret::{PASSPHRASE, add_secret_args};
use crate::cli::table::{indented, width};
use crate::practice::place::Place;
use crate::seal::age_file::{self, Identity, With};
use crate::trouble::{Kind, Outcome, Trouble};
use crate::verify::finding::{Report, Severity};
use crate::verify::package::{check_archive, check_folder};
use crate::verify::slip::read_slip;
use crate::verify::store::{StorePaths, Witness, store_file_broken, verify};
use clap::{Arg, ArgAction, Command};
use std::fs::File;
use std::io::{BufReader, Read};
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
        .after_help(
            "Exit codes: 0 sound, 1 something is wrong, 2 it could not be checked.\n\
             A store is compared with the checkpoint kept outside it, if that is found.",
        );
    add_secret_args(cmd, PASSPHRASE)
}

/// Checks and reports.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let what = context.path("what").unwrap_or_else(|| context.root());
    let report = if what.join("store.json").is_file() {
        store(context, &what)?
    } else if ["manifest.json", "manifest.note"].iter().any(|name| what.join(name).is_file()) {
        let mut progress = Progress::start("Checking the package", None);
        check_folder(&what, &mut |n| progress.tick(n))?
    } else if what.is_file() {
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
    let trouble = |e: std::io::Error| Trouble::disk("read", path, &e);
    let mut head = [0u8; 21];
    let mut file = File::open(path).map_err(trouble)?;
    let read = file.read(&mut head).map_err(trouble)?;
    let sealed = head[..read] == *b"age-encryption.org/v1";
    let mut file = BufReader::new(File::open(path).map_err(trouble)?);
    let mut progress = Progress::start("Checking the package", None);
    if !sealed {
        return check_archive(&mut file, &mut |n| progress.tick(n));
    }
    let identities = identities(context)?;
    let mut plain = if identities.is_empty() {
        let secret = context.secret("Passphrase of the package")?;
        age_file::opener(&With::Passphrase(&secret), file)
    } else {
        age_file::opener(&With::Identities(&identities), file)
    }
    .map_err(|e| e.about("The package"))?;
    check_archive(&mut plain, &mut |n| progress.tick(n))
}

/// The identities in the file that --identity names; comment lines are skipped, as age programs do.
fn identities(context: &Context<'_>) -> Outcome<Vec<Identity>> {
    let Some(path) = context.path("identity") else { return Ok(Vec::new()) };
    let text = zeroize::Zeroizing::new(
        std::fs::read_to_string(&path).map_err(|e| Trouble::disk("read", &path, &e))?,
    );
    let found: Vec<Identity> = text
        .lines()
        .filter(|l| !l.starts_with('#') && !l.trim().is_empty())
        .filter_map(Identity::parse)
        .collect();
    if found.is_empty() {
        return Err(Trouble::input(
            "The file given with --identity holds no age identity.",
            "Name the right file.",
        ));
    }
    Ok(found)
}

/// The report for a person.
pub fn words(report: &Report) -> String {
    let width = width();
    let wrong = report.findings.iter().filter(|f| f.severity == Severity::Wrong).count();
    let mut out = Vec::new();
    out.push(if report.sound {
        format!("SOUND. Nothing in this {} was changed, moved, removed or added.", report.checked)
    } else {
        format!("WRONG. {wrong} thing(s) found in this {}.", report.checked)
    });
    out.push(format!(
        "Looked at {} entries of {} chart(s) and {} sealed file(s) or attachment(s).",
        report.entries, report.charts, report.files
    ));
    if let Some(complete) = &report.complete {
        out.extend(crate::cli::table::wrap(complete, width));
    }
    for finding in &report.findings {
        let mark = if finding.severity == Severity::Wrong { "WRONG" } else { "Note" };
        out.push(String::new());
        out.push(format!("{mark} [{}] at {}", finding.id, finding.place));
        out.push(indented(&finding.what, width, 2));
        out.push(indented(&format!("Still proven: {}", finding.still_provable), width, 2));
        out.push(indented(&format!("Next: {}", finding.next), width, 2));
    }
    out.push(String::new());
    if report.witnesses.is_empty() {
        out.push("Compared with nothing kept outside.".to_string());
    } else {
        out.push("Agrees with what was kept outside:".to_string());
        out.extend(report.witnesses.iter().map(|w| format!("  - {w}")));
    }
    out.push("What this does not prove:".to_string());
    out.extend(report.limits.iter().map(|l| indented(&format!("- {l}"), width, 2)));
    out.join("\n")
}
