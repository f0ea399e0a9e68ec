//! What is typed behind `inkfast-check`.

use crate::trouble::{Outcome, Trouble};
use std::ffi::OsString;
use std::path::PathBuf;

/// The page shown by `--help`.
pub const HELP: &str = "\
Checks a package of an Inkfast record: that its entries are the ones that were sealed, that none is missing up
to its release, and who signed them. Opens nothing and writes nothing unless asked to.

Usage: inkfast-check PACKAGE [OPTIONS]

  PACKAGE                 the file you were given (.age, or its .tar), or the folder it was unpacked into
  --identity FILE         your age identity, if the package is sealed to a key; otherwise the passphrase is asked
  --passphrase-file FILE  take the passphrase from the first line of this file instead of asking
  --slip SLIP             compare with a slip on paper: NUMBER:CODE, \"NUMBER and its twelve words\", or what its QR code
                          says; may be given again
  --receipt RECEIPT       compare with a receipt for one entry, typed in the same ways; may be given again
  --checkpoint FILE       compare with a checkpoint you kept (ledger/checkpoint of an earlier package, or one
                          that was handed to you, with the signatures of witnesses or without); may be given again
  --policy FILE           accept only the ledger and the witnesses that this file names (C2SP tlog-policy).
                          Use your own file: the one inside the package proves nothing
  --open-to DIR           when the check has passed, unpack into this new folder
  --certificate FILE      also write the result as a page to print (HTML, a new file)
  --json                  print the result as JSON
  --help, --version

Exit codes: 0 sound; 1 not sound; 2 could not be read; 4 what was typed or given is not right; 5 the passphrase or
the identity does not open it.";

/// What is asked for.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Args {
    /// What to check.
    pub package: PathBuf,
    /// File with age identities.
    pub identity: Option<PathBuf>,
    /// File with the passphrase.
    pub passphrase_file: Option<PathBuf>,
    /// Slips as typed.
    pub slips: Vec<String>,
    /// Receipts as typed.
    pub receipts: Vec<String>,
    /// Files with kept checkpoints.
    pub checkpoints: Vec<PathBuf>,
    /// File with a policy.
    pub policy: Option<PathBuf>,
    /// New folder to unpack into.
    pub open_to: Option<PathBuf>,
    /// New file for the certificate.
    pub certificate: Option<PathBuf>,
    /// Whether to print JSON.
    pub json: bool,
}

/// What was typed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Typed {
    /// To show the help.
    Help,
    /// To show the version.
    Version,
    /// To check something.
    Check(Box<Args>),
}

/// Reads what was typed, the program's own name left out.
///
/// # Errors
/// When a word is unknown, given twice, or lacks its value.
pub fn read(words: impl IntoIterator<Item = OsString>) -> Outcome<Typed> {
    let mut words = words.into_iter();
    let (mut args, mut package, mut only_names) = (Args::default(), None, false);
    while let Some(word) = words.next() {
        let text = word.to_str().unwrap_or_default().to_string();
        if only_names || !text.starts_with('-') || text == "-" {
            once(&mut package, PathBuf::from(word), "PACKAGE")?;
            continue;
        }
        let (name, joined) = match text.split_once('=') {
            Some((name, value)) => (name.to_string(), Some(OsString::from(value))),
            None => (text, None),
        };
        let plain = joined.is_none();
        let mut value =
            || joined.clone().or_else(|| words.next()).ok_or_else(|| wrong(&name, "needs a value"));
        match name.as_str() {
            "--" if plain => only_names = true,
            "--help" | "-h" if plain => return Ok(Typed::Help),
            "--version" | "-V" if plain => return Ok(Typed::Version),
            "--json" if plain => args.json = true,
            "--identity" | "-i" => once(&mut args.identity, value()?.into(), &name)?,
            "--passphrase-file" => once(&mut args.passphrase_file, value()?.into(), &name)?,
            "--slip" | "--receipt" => {
                let typed = value()?.into_string().map_err(|_| wrong(&name, "is not readable text"))?;
                let list = if name == "--slip" { &mut args.slips } else { &mut args.receipts };
                list.push(typed);
            }
            "--checkpoint" => args.checkpoints.push(value()?.into()),
            "--policy" => once(&mut args.policy, value()?.into(), &name)?,
            "--open-to" => once(&mut args.open_to, value()?.into(), &name)?,
            "--certificate" => once(&mut args.certificate, value()?.into(), &name)?,
            _ => return Err(wrong(&name, "is not known here")),
        }
    }
    let Some(package) = package else {
        return Err(Trouble::input("No package is named.", "Name the file you were given; see --help."));
    };
    if args.identity.is_some() && args.passphrase_file.is_some() {
        return Err(Trouble::input(
            "A package is sealed to a key or to a passphrase, never to both.",
            "Give --identity or --passphrase-file, not both.",
        ));
    }
    Ok(Typed::Check(Box::new(Args { package, ..args })))
}

fn once(place: &mut Option<PathBuf>, value: PathBuf, name: &str) -> Outcome<()> {
    match place.replace(value) {
        None => Ok(()),
        Some(_) => Err(wrong(name, "is given twice")),
    }
}

fn wrong(name: &str, why: &str) -> Trouble {
    Trouble::input(format!("{name} {why}."), "See --help.")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn typed(words: &[&str]) -> Outcome<Typed> {
        read(words.iter().map(OsString::from))
    }

    #[test]
    fn words_in_any_order() {
        let words = [
            "--json",
            "--slip",
            "3:A",
            "p.age",
            "--slip=4:B",
            "--receipt",
            "5:C",
            "--checkpoint",
            "c",
            "--open-to",
            "d",
        ];
        let Typed::Check(args) = typed(&words).unwrap() else { panic!() };
        assert_eq!(args.package, PathBuf::from("p.age"));
        assert_eq!(args.slips, ["3:A", "4:B"]);
        assert_eq!(args.receipts, ["5:C"]);
        assert_eq!(args.checkpoints, [PathBuf::from("c")]);
        assert_eq!(args.open_to, Some(PathBuf::from("d")));
        assert!(args.json && args.policy.is_none());
        let Typed::Check(args) = typed(&["--", "--odd"]).unwrap() else { panic!() };
        assert_eq!(args.package, PathBuf::from("--odd"));
        assert_eq!(typed(&["p", "--help"]), Ok(Typed::Help));
        assert_eq!(typed(&["-V"]), Ok(Typed::Version));
    }

    #[test]
    fn what_is_not_right_is_refused() {
        for words in [
            &[][..],
            &["a", "b"],
            &["a", "--slip"],
            &["a", "--policy", "x", "--policy", "y"],
            &["a", "--jsn"],
            &["a", "--json=yes"],
            &["a", "-x"],
            &["a", "-i", "k", "--passphrase-file", "p"],
        ] {
            assert!(typed(words).is_err(), "{words:?}");
        }
    }
}
