//! `inkfast-check`: the program for whoever was handed a package. It checks, says in words what was proven and what
//! was not, and unpacks only what has passed.

pub mod args;

use crate::exit::{ErrorOutput, Exit};
use crate::record::moment::Moment;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::verify::certificate::certificate;
use crate::verify::opening::{Key, Shape, check_package, read_identities, shape};
use crate::verify::package::Checked;
use crate::verify::trust::Trust;
use crate::verify::unpack::{refuse_existing, unpack};
use args::{Args, HELP, Typed};
use std::fs::{File, OpenOptions};
use std::io::{self, IsTerminal as _, Read as _, Write};
use std::path::Path;
use std::process::ExitCode;
use std::time::{SystemTime, UNIX_EPOCH};
use zeroize::Zeroizing;

/// The width of the page in characters.
const WIDTH: usize = 80;
/// The longest passphrase, in bytes.
const MAX_PASSPHRASE: u64 = 4096;

/// Runs the program as typed.
pub fn main() -> ExitCode {
    let typed: Vec<_> = std::env::args_os().skip(1).collect();
    let json = typed.iter().any(|w| w == "--json");
    let mut out = io::stdout();
    let exit = args::read(typed).and_then(|typed| run(&typed, &mut out)).unwrap_or_else(|trouble| {
        let exit = Exit::of_check(&trouble);
        let text = serde_json::to_string_pretty(&ErrorOutput::new(&trouble, exit));
        // Whoever reads may be gone; the exit code says it all the same.
        let _ = match text {
            Ok(text) if json => writeln!(out, "{text}"),
            _ => writeln!(io::stderr(), "{trouble}"),
        };
        exit
    });
    let _ = out.flush();
    exit.into()
}

fn run(typed: &Typed, out: &mut dyn Write) -> Outcome<Exit> {
    match typed {
        Typed::Help => say(out, HELP).map(|()| Exit::Done),
        Typed::Version => {
            say(out, &format!("inkfast-check {}", env!("CARGO_PKG_VERSION"))).map(|()| Exit::Done)
        }
        Typed::Check(args) => check(args, out),
    }
}

fn check(args: &Args, out: &mut dyn Write) -> Outcome<Exit> {
    let trust = trust(args)?;
    // Everything that could refuse is asked before a passphrase is.
    if let Some(folder) = &args.open_to {
        refuse_existing(folder)?;
    }
    let shape = shape(&args.package)?;
    if shape == Shape::Folder && args.open_to.is_some() {
        return Err(Trouble::input("This package is open already.", "Read it where it lies."));
    }
    let page = args.certificate.as_deref().map(new_file).transpose()?;
    let checked = key(args, shape).and_then(|key| {
        check_package(&args.package, shape, key.as_ref(), &trust, &mut |_| ()).map(|c| (c, key))
    });
    let (checked, key) = checked.inspect_err(|_| forget(args.certificate.as_deref()))?;
    let page_of = certificate(&checked.report);
    if let (Some(mut file), Some(path)) = (page, &args.certificate) {
        let written = file.write_all(page_of.html(&when()).as_bytes()).and_then(|()| file.sync_all());
        written.map_err(|e| Trouble::disk("write", path, &e))?;
    }
    if args.json {
        let text = serde_json::to_string_pretty(&checked.report);
        say(out, &text.map_err(|e| Trouble::damaged(format!("The result can't be written: {e}.")))?)?;
    } else {
        say(out, &page_of.text(WIDTH))?;
    }
    if let Some(path) = &args.certificate {
        remark(&format!("The page to print is {}.", path.display()));
    }
    if let Some(folder) = &args.open_to {
        open_to(args, shape, key.as_ref(), &checked, folder)?;
    }
    Ok(if checked.report.sound { Exit::Done } else { Exit::Wrong })
}

fn trust(args: &Args) -> Outcome<Trust> {
    let mut trust = Trust::default();
    args.slips.iter().try_for_each(|slip| trust.add_slip(slip))?;
    args.receipts.iter().try_for_each(|receipt| trust.add_receipt(receipt))?;
    args.checkpoints.iter().try_for_each(|path| trust.add_checkpoint(path))?;
    args.policy.iter().try_for_each(|path| trust.set_policy(path))?;
    Ok(trust)
}

fn open_to(args: &Args, shape: Shape, key: Option<&Key>, checked: &Checked, folder: &Path) -> Outcome<()> {
    if !checked.report.sound {
        remark("It was not unpacked, because the check did not pass.");
        return Ok(());
    }
    let first = unpack(&args.package, shape, key, &checked.members, folder)?;
    let first: Vec<String> = first.iter().map(|path| path.display().to_string()).collect();
    let first = if first.is_empty() { "manifest.json".to_string() } else { first.join(", then ") };
    remark(&format!("Unpacked into {}. Read first: {first}", folder.display()));
    Ok(())
}

/// What opens the package, asked for where it is needed.
fn key(args: &Args, shape: Shape) -> Outcome<Option<Key>> {
    let Shape::Sealed { by_passphrase, .. } = shape else { return Ok(None) };
    if let Some(path) = &args.identity {
        return read_identities(path).map(|identities| Some(Key::Identities(identities)));
    }
    if !by_passphrase {
        return Ok(None);
    }
    let passphrase = match &args.passphrase_file {
        Some(path) => first_line(path)?,
        None if io::stdin().is_terminal() || io::stderr().is_terminal() => ask()?,
        None => {
            return Err(Trouble::new(
                Kind::Locked,
                "The package is sealed with a passphrase, and nobody is here to be asked for it.",
                "Nothing was opened or changed.",
                "Run this at a terminal, or give --passphrase-file FILE.",
            ));
        }
    };
    Ok(Some(Key::Passphrase(passphrase)))
}

fn ask() -> Outcome<Zeroizing<String>> {
    let typed = rpassword::prompt_password("Passphrase of the package (it is not shown): ");
    typed.map(Zeroizing::new).map_err(|_| {
        Trouble::new(
            Kind::Locked,
            "No passphrase was given.",
            "Nothing was opened or changed.",
            "Do it again and type the passphrase that you were told, or give --passphrase-file FILE.",
        )
    })
}

fn first_line(path: &Path) -> Outcome<Zeroizing<String>> {
    let mut bytes = Zeroizing::new(Vec::with_capacity(MAX_PASSPHRASE as usize));
    let read = File::open(path).and_then(|f| f.take(MAX_PASSPHRASE).read_to_end(&mut bytes));
    read.map_err(|e| {
        Trouble::input(
            format!("Could not read {}: {e}.", path.display()),
            "Check the path, then do it again.",
        )
    })?;
    let text =
        std::str::from_utf8(&bytes).ok().and_then(|text| text.lines().next()).filter(|l| !l.is_empty());
    text.map(|line| Zeroizing::new(line.to_string())).ok_or_else(|| {
        Trouble::input("The file holds no passphrase in its first line.", "Name the right file.")
    })
}

/// A file that did not exist before: nothing is written over.
fn new_file(path: &Path) -> Outcome<File> {
    OpenOptions::new().write(true).create_new(true).open(path).map_err(|e| {
        Trouble::input(
            format!("Could not make the new file {}: {e}.", path.display()),
            "Name a file that does not exist yet, in a folder that does.",
        )
    })
}

/// Takes the empty page away again when there is nothing to write on it.
fn forget(page: Option<&Path>) {
    if let Some(path) = page {
        let _ = std::fs::remove_file(path);
    }
}

/// When and with what, for the certificate. In universal time: this computer's zone may be anybody's.
fn when() -> String {
    let seconds = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |d| d.as_secs());
    let moment = i64::try_from(seconds).ok().and_then(|s| Moment::from_unix(s, 0)).unwrap_or(Moment::EPOCH);
    format!(
        "{} UTC by this computer's clock, with inkfast-check {}",
        moment.plain(),
        env!("CARGO_PKG_VERSION")
    )
}

fn say(out: &mut dyn Write, text: &str) -> Outcome<()> {
    match writeln!(out, "{text}") {
        Err(e) if e.kind() != io::ErrorKind::BrokenPipe => {
            Err(Trouble::new(Kind::Disk, format!("The result can't be shown: {e}."), "", "Do it again."))
        }
        _ => Ok(()),
    }
}

/// Remarks go beside the result, so that `--json` stays JSON.
fn remark(text: &str) {
    let _ = writeln!(io::stderr(), "{text}");
}
