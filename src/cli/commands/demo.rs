//! `demo`: an invented practice, built before your eyes, walked through aloud, verified, and left
//! to be explored.

use super::verify::words;
use crate::cli::context::Context;
use crate::cli::exit::Exit;
use crate::cli::progress::Progress;
use crate::cli::table::{indented, width};
use crate::demo::highlights::{Highlight, Question, highlights};
use crate::demo::run::{Built, Package, PackageKey, Step, build};
use crate::demo::staff_passphrase;
use crate::practice::facts::ask;
use crate::practice::place::Place;
use crate::record::moment::Moment;
use crate::seal::age_file::{self, With};
use crate::seal::sheet::page;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::verify::finding::Report;
use crate::verify::package::check_archive;
use crate::verify::store::{StorePaths, verify};
use crate::world::{SetClock, World};
use clap::{Arg, ArgAction, Command};
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Options of `demo`.
pub fn command() -> Command {
    Command::new("demo")
        .about(
            "Build an invented practice, walk through its main moments, verify it, and leave it to explore",
        )
        .arg(
            Arg::new("into")
                .long("into")
                .value_name("FOLDER")
                .value_parser(clap::value_parser!(PathBuf))
                .default_value("inkfast-demo")
                .help("Folder to make the demonstration in"),
        )
        .arg(
            Arg::new("again")
                .long("again")
                .action(ArgAction::SetTrue)
                .help("Replace an earlier demonstration in that folder"),
        )
}

/// Builds, tells, verifies.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let into = context.path("into").unwrap_or_else(|| PathBuf::from("inkfast-demo"));
    make_room(&into, context.flag("again"))?;
    let clock = Arc::new(SetClock::new(Moment::EPOCH));
    let world = World::with_clock(clock.clone());
    context.say(
        "The Ropewalk Rooms, Pellmere: an invented practice over an old rope shed. Nobody in it is real.\n\
         Three years of its records are written now, each entry through the same calls as in real work.\n",
    )?;
    let mut progress: Option<Progress> = None;
    let store = into.join("store");
    let built = build(&world, &clock, &store, Some("../kept-outside".to_string()), &mut |step| {
        if let Step::Progress(done, total) = step {
            let bar = progress
                .get_or_insert_with(|| Progress::start("Writing three years of records", Some(total as u64)));
            let ahead = (done as u64).saturating_sub(bar.position());
            bar.tick(ahead);
        }
    })?;
    if let Some(bar) = progress {
        bar.done();
    }
    context.say(&format!(
        "{} entries in {} charts are sealed, each to the one before it.\n",
        built.practice.size(),
        built.charts.len()
    ))?;
    for (number, moment) in highlights(&built).iter().enumerate() {
        tell(context, number + 1, moment, &built)?;
    }
    write_keys(&into, &built)?;
    check_everything(context, &into, &built)?;
    closing(context, &into)?;
    Ok(Exit::Done)
}

/// An earlier demonstration is replaced only when asked, and nothing else ever is.
fn make_room(into: &Path, again: bool) -> Outcome<()> {
    let trouble = |e: std::io::Error| Trouble::disk("make", into, &e);
    if into.exists() {
        let is_demo =
            into.join("store").join("store.json").is_file() && into.join("WHAT-THIS-IS.txt").is_file();
        if !is_demo || !again {
            return Err(Trouble::new(
                Kind::Refused,
                format!("{} exists already.", into.display()),
                "It was not touched.",
                if is_demo {
                    "Explore it, or replace it with --again."
                } else {
                    "Choose another folder with --into."
                },
            ));
        }
        fs::remove_dir_all(into).map_err(trouble)?;
    }
    fs::create_dir_all(into).map_err(trouble)?;
    fs::write(
        into.join("WHAT-THIS-IS.txt"),
        "A demonstration made by `inkfast demo`. Everybody in it is invented. Its passphrases lie beside it, so\n\
         nothing in it is secret. It may be deleted.\n",
    )
    .map_err(trouble)
}

fn tell(context: &mut Context<'_>, number: usize, moment: &Highlight, built: &Built) -> Outcome<()> {
    let width = width();
    let chart = moment.chart_no.map_or(String::new(), |c| format!(", chart {c}"));
    context.say(&format!("{number}. {} ({}{chart})", moment.title, moment.at.plain()))?;
    context.say(&indented(moment.words, width, 3))?;
    if let (Some(question), Some(chart)) = (&moment.question, moment.chart_no) {
        for line in answer_lines(question, chart, built)? {
            context.say(&indented(&line, width, 6))?;
        }
    }
    if !moment.numbers.is_empty() {
        let numbers: Vec<String> = moment.numbers.iter().map(u64::to_string).collect();
        context.say(&indented(&format!("(number {} in the book)", numbers.join(", ")), width, 3))?;
    }
    context.say("")
}

/// Asks the coverage question of the record itself, at the moment of the story.
fn answer_lines(question: &Question, chart: &str, built: &Built) -> Outcome<Vec<String>> {
    let tag = built.charts.get(chart).cloned().unwrap_or_default();
    let request = &question.ask.request;
    let side = request.side.word();
    let mut lines = vec![format!(
        "May {} do {} at the {}, {side}?",
        request.practitioner_id, request.technique, request.region
    )];
    let (_, answer) = ask(&built.practice, &tag, &question.ask)?;
    lines.push(format!(
        "{}.  Agreed: {}.  Checked: {}.",
        answer.answer.word().to_uppercase(),
        answer.agreed.word(),
        answer.checked.word()
    ));
    lines.extend(answer.reasons.iter().map(|r| format!("- [{}] {}", r.rule.word(), r.text)));
    Ok(lines)
}

fn write_keys(into: &Path, built: &Built) -> Outcome<()> {
    let write = |name: &str, text: &str| -> Outcome<()> {
        let path = into.join(name);
        fs::write(&path, text).map_err(|e| Trouble::disk("write", &path, &e))?;
        use std::os::unix::fs::PermissionsExt;
        fs::set_permissions(&path, fs::Permissions::from_mode(0o600))
            .map_err(|e| Trouble::disk("write", &path, &e))
    };
    for code in ["IV", "PQ", "HL"] {
        write(&format!("passphrase-{code}.txt"), &format!("{}\n", staff_passphrase(code)))?;
    }
    let recovery = built.recovery.to_text();
    write("recovery-identity.txt", &format!("{}\n", recovery.as_str()))?;
    let sheet = page(&built.recovery, built.practice.place.key.name(), &built.practice.now().plain())?;
    write("recovery-sheet.html", &sheet)?;
    for package in &built.packages {
        let name = package.file.file_stem().and_then(|s| s.to_str()).unwrap_or("package");
        match &package.key {
            PackageKey::Identity(identity) => {
                write(
                    &format!("handed-over/{name}.identity.txt"),
                    &format!("{}\n", identity.to_text().as_str()),
                )?;
            }
            PackageKey::Passphrase(words) => {
                write(&format!("handed-over/{name}.passphrase.txt"), &format!("{}\n", words.as_str()))?;
            }
        }
    }
    Ok(())
}

/// Verifies the store, a package as its reader would, and a copy of the store with one bit changed.
fn check_everything(context: &mut Context<'_>, into: &Path, built: &Built) -> Outcome<()> {
    context.say("Now a stranger checks. First the whole store, without any key:\n")?;
    let store = check_store(&into.join("store"))?;
    context.say(&words(&store))?;
    expect(store.sound, "The demonstration's store does not verify.")?;
    if let Some(package) = built.packages.last() {
        context.say(&format!(
            "\nThen the package that went to {} ({}), from the package alone:\n",
            package.to,
            package.file.display()
        ))?;
        let report = check_package(package)?;
        context.say(&words(&report))?;
        expect(report.sound, "The demonstration's package does not verify.")?;
    }
    context.say("\nLast, a copy of the store in which somebody changed a single bit of one entry:\n")?;
    let bent = into.join("bent-copy");
    bend(&into.join("store"), &bent, built)?;
    let report = check_store(&bent)?;
    context.say(&words(&report))?;
    fs::remove_dir_all(&bent).map_err(|e| Trouble::disk("remove", &bent, &e))?;
    expect(!report.sound, "A changed bit was not found.")
}

fn expect(good: bool, otherwise: &str) -> Outcome<()> {
    if good { Ok(()) } else { Err(Trouble::damaged(otherwise)) }
}

fn check_store(root: &Path) -> Outcome<Report> {
    let world = World::real();
    let place = Place::open(&world, root, None)?;
    let paths = StorePaths { root, outside: &place.outside, key: &place.key };
    verify(&*world.disk, &paths, &[], &mut |_| ())
}

fn check_package(package: &Package) -> Outcome<Report> {
    let file = fs::File::open(&package.file).map_err(|e| Trouble::disk("read", &package.file, &e))?;
    let file = std::io::BufReader::new(file);
    let mut plain = match &package.key {
        PackageKey::Identity(identity) => {
            age_file::opener(&With::Identities(std::slice::from_ref(identity)), file)
        }
        PackageKey::Passphrase(secret) => age_file::opener(&With::Passphrase(secret), file),
    }
    .map_err(|e| e.about("The package"))?;
    check_archive(&mut plain, &mut |_| ())
}

/// Copies a store and flips one bit in the middle of one sealed body: the wrong-side note's.
fn bend(from: &Path, to: &Path, built: &Built) -> Outcome<()> {
    copy_folder(from, to)?;
    let entries = &built.practice.scan().entries;
    let Some(at) = entries.get(entries.len() / 3) else { return Ok(()) };
    let path = crate::ledger::segment::path(&to.join("ledger"), at.at.segment);
    let trouble = |e: std::io::Error| Trouble::disk("write", &path, &e);
    let mut bytes = fs::read(&path).map_err(trouble)?;
    let place = at.at.offset as usize
        + crate::ledger::frame::HEADER
        + at.leaf_len as usize
        + at.body_len as usize / 2;
    if let Some(byte) = bytes.get_mut(place) {
        *byte ^= 1;
    }
    fs::write(&path, bytes).map_err(trouble)
}

fn copy_folder(from: &Path, to: &Path) -> Outcome<()> {
    let trouble = |e: std::io::Error| Trouble::disk("copy", from, &e);
    fs::create_dir_all(to).map_err(trouble)?;
    for item in fs::read_dir(from).map_err(trouble)? {
        let item = item.map_err(trouble)?;
        let target = to.join(item.file_name());
        if item.file_type().map_err(trouble)?.is_dir() {
            copy_folder(&item.path(), &target)?;
        } else {
            fs::copy(item.path(), target).map_err(trouble)?;
        }
    }
    Ok(())
}

fn closing(context: &mut Context<'_>, into: &Path) -> Outcome<()> {
    let here = into.display();
    context.say(&format!(
        "\nIt is yours to explore. For example:\n\n\
         \x20 export INKFAST_STORE={here}/store\n\
         \x20 inkfast unlock --as IV --passphrase-file {here}/passphrase-IV.txt\n\
         \x20 inkfast patient list\n\
         \x20 inkfast print PM-0130 --why review\n\
         \x20 inkfast print PM-0112 --why review --html PM-0112.html\n\
         \x20 inkfast may PM-0112 --technique intraoral --region mouth --side left --glove nitrile\n\
         \x20 inkfast verify\n\
         \x20 inkfast lock\n\n\
         The page in a browser: `inkfast desk` prints a link; unlock as IV with the line in passphrase-IV.txt.\n\n\
         handed-over/ holds the sealed packages, each with what opens it. (`inkfast` is target/release/inkfast.)"
    ))
}
