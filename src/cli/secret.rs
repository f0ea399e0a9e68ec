//! Passphrases: from a file, from an open descriptor, or typed unseen. Never from an argument or
//! an environment variable, which other programs on the computer can read.

use super::prompt::Asker;
use clap::{Arg, ArgMatches, Command};
use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use zeroize::{Zeroize, Zeroizing};

/// The fewest characters of a new passphrase.
pub const FEWEST_CHARACTERS: usize = 12;

/// The longest first line read from a file, in bytes.
const MOST_BYTES: usize = 4096;

/// How often a new passphrase may be typed before giving up.
const TRIES: usize = 5;

/// The two flags by which one passphrase may be given without a terminal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SecretFlags {
    /// The flag that names a file, without dashes.
    pub file: &'static str,
    /// The flag that names an open file descriptor, without dashes.
    pub fd: &'static str,
}

/// The flags of a command's main passphrase.
pub const PASSPHRASE: SecretFlags = SecretFlags { file: "passphrase-file", fd: "passphrase-fd" };
/// The flags of the passphrase that is to replace it.
pub const NEW_PASSPHRASE: SecretFlags = SecretFlags { file: "new-passphrase-file", fd: "new-passphrase-fd" };
/// The flags of the short number: the new one at `unlock`, the one asked again elsewhere.
pub const PIN: SecretFlags = SecretFlags { file: "pin-file", fd: "pin-fd" };
/// The flags of what is typed from the recovery sheet.
pub const RECOVERY: SecretFlags = SecretFlags { file: "recovery-file", fd: "recovery-fd" };
/// The flags of the second signer's passphrase.
pub const SECOND_PASSPHRASE: SecretFlags =
    SecretFlags { file: "second-passphrase-file", fd: "second-passphrase-fd" };

/// Why there is no passphrase. No text in it repeats any part of one.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum SecretError {
    /// Nobody is there to ask and no flag was given.
    #[error(
        "the passphrase cannot be asked for here. Run this at a terminal, or give --{0} FILE or --{1} NUMBER"
    )]
    NobodyToAsk(&'static str, &'static str),
    /// The file or descriptor could not be read.
    #[error("the passphrase could not be read from {from}: {fault}. Nothing was opened or changed")]
    Unreadable {
        /// The flag and what it names.
        from: String,
        /// What the system said.
        #[source]
        fault: io::Error,
    },
    /// What was read cannot be a passphrase.
    #[error("the first line of {from} cannot be the passphrase: {why}. Nothing was opened or changed")]
    Unfit {
        /// The flag and what it names.
        from: String,
        /// Why.
        why: &'static str,
    },
    /// Too short to be a new passphrase.
    #[error("{}", too_short())]
    TooShort,
    /// Typed differently too often, or too short too often.
    #[error("no passphrase was chosen. Nothing was changed; run the command again")]
    NotChosen,
    /// The person gave up.
    #[error("no passphrase was given. Nothing was opened or changed")]
    Stopped,
    /// The terminal failed.
    #[error("the terminal could not be read: {0}. Nothing was opened or changed")]
    Terminal(#[source] io::Error),
}

fn too_short() -> String {
    format!(
        "a new passphrase needs at least {FEWEST_CHARACTERS} characters: a shorter one can be guessed from a copy \
         of the key file, by trying them all. Five or six unrelated words are long and easy to keep"
    )
}

/// Adds the two flags of one passphrase to a command.
pub fn add_secret_args(cmd: Command, flags: SecretFlags) -> Command {
    cmd.arg(
        Arg::new(flags.file)
            .long(flags.file)
            .value_name("FILE")
            .value_parser(clap::value_parser!(PathBuf))
            .conflicts_with(flags.fd)
            .help("Read the passphrase from the first line of this file instead of asking"),
    )
    .arg(
        Arg::new(flags.fd)
            .long(flags.fd)
            .value_name("NUMBER")
            .value_parser(clap::value_parser!(u16))
            .help("Read the passphrase from the first line of this open file descriptor instead of asking"),
    )
}

/// Adds the two flags of the short number to a command.
pub fn add_pin_args(cmd: Command) -> Command {
    cmd.arg(
        Arg::new(PIN.file)
            .long(PIN.file)
            .value_name("FILE")
            .value_parser(clap::value_parser!(PathBuf))
            .conflicts_with(PIN.fd)
            .hide_short_help(true)
            .help("Read the short number (PIN) from the first line of this file, where it is asked for"),
    )
    .arg(
        Arg::new(PIN.fd)
            .long(PIN.fd)
            .value_name("NUMBER")
            .value_parser(clap::value_parser!(u16))
            .hide_short_help(true)
            .help("Read the short number (PIN) from the first line of this open file descriptor"),
    )
}

/// True when one of a secret's two flags was given.
pub fn has_secret_flag(matches: &ArgMatches, flags: SecretFlags) -> bool {
    matches.try_get_one::<PathBuf>(flags.file).ok().flatten().is_some()
        || matches.try_get_one::<u16>(flags.fd).ok().flatten().is_some()
}

/// What a passphrase is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    /// To open something: taken as it is.
    Open,
    /// To seal something from now on: typed twice, and not too short.
    New,
}

/// Reads a passphrase: from the file its flag names, from the descriptor its flag names, or by
/// asking with `prompt` (like "Passphrase of the owner's key"). A file that others may read is
/// used, with a warning.
pub fn read_secret(
    matches: &ArgMatches,
    flags: SecretFlags,
    prompt: &str,
    purpose: Purpose,
    asker: &mut dyn Asker,
) -> Result<Zeroizing<String>, SecretError> {
    let secret = if let Ok(Some(path)) = matches.try_get_one::<PathBuf>(flags.file) {
        let from = format!("--{} {}", flags.file, path.display());
        warn_if_open_to_others(path, asker);
        first_line(File::open(path), from)?
    } else if let Ok(Some(fd)) = matches.try_get_one::<u16>(flags.fd) {
        first_line(open_fd(*fd), format!("--{} {fd}", flags.fd))?
    } else if !asker.can_ask_secret() {
        return Err(SecretError::NobodyToAsk(flags.file, flags.fd));
    } else {
        return match purpose {
            Purpose::Open => ask(asker, prompt),
            Purpose::New => choose(asker, prompt),
        };
    };
    match purpose == Purpose::New && is_short(&secret) {
        true => Err(SecretError::TooShort),
        false => Ok(secret),
    }
}

fn is_short(secret: &str) -> bool {
    secret.chars().count() < FEWEST_CHARACTERS
}

fn ask(asker: &mut dyn Asker, prompt: &str) -> Result<Zeroizing<String>, SecretError> {
    asker.secret(&format!("{prompt}: ")).map_err(SecretError::Terminal)?.ok_or(SecretError::Stopped)
}

fn choose(asker: &mut dyn Asker, prompt: &str) -> Result<Zeroizing<String>, SecretError> {
    for _ in 0..TRIES {
        let secret = ask(asker, prompt)?;
        if is_short(&secret) {
            asker.say(&format!("Not taken: {}.", too_short()));
            continue;
        }
        let again = ask(asker, &format!("{prompt}, once more"))?;
        if *secret == *again {
            return Ok(secret);
        }
        asker.say("Not taken: the two were not the same. Type it twice again.");
    }
    Err(SecretError::NotChosen)
}

#[cfg(unix)]
fn warn_if_open_to_others(path: &Path, asker: &mut dyn Asker) {
    use std::os::unix::fs::PermissionsExt;
    let Ok(about) = std::fs::metadata(path) else { return };
    if about.is_file() && about.permissions().mode() & 0o077 != 0 {
        asker.say(&format!(
            "Warning: others on this computer may read {}. Close it with: chmod 600 {}",
            path.display(),
            path.display()
        ));
    }
}

#[cfg(not(unix))]
fn warn_if_open_to_others(_: &Path, _: &mut dyn Asker) {}

/// Opens a descriptor by the name the system gives it, because taking one over by number would
/// need unsafe code. A regular file is therefore read from its beginning.
#[cfg(unix)]
fn open_fd(fd: u16) -> io::Result<File> {
    File::open(format!("/proc/self/fd/{fd}")).or_else(|_| File::open(format!("/dev/fd/{fd}")))
}

#[cfg(not(unix))]
fn open_fd(_: u16) -> io::Result<File> {
    Err(io::Error::new(io::ErrorKind::Unsupported, "descriptors have no numbers on this system"))
}

fn first_line(file: io::Result<File>, from: String) -> Result<Zeroizing<String>, SecretError> {
    // Room for all of it at once: a buffer that grows leaves copies of itself behind.
    let mut line = Zeroizing::new(Vec::with_capacity(MOST_BYTES + 1));
    let read = || -> io::Result<()> {
        let mut file = file?;
        let mut byte = [0u8; 1];
        // One byte at a time: what follows the first line in a pipe belongs to someone else.
        while line.len() <= MOST_BYTES {
            match file.read(&mut byte) {
                Ok(0) => break,
                Ok(_) if byte[0] == b'\n' => break,
                Ok(_) => line.push(byte[0]),
                Err(fault) if fault.kind() == io::ErrorKind::Interrupted => {}
                Err(fault) => return Err(fault),
            }
        }
        byte.zeroize();
        Ok(())
    };
    if let Err(fault) = read() {
        return Err(SecretError::Unreadable { from, fault });
    }
    if line.last() == Some(&b'\r') {
        line.pop();
    }
    let why = match std::str::from_utf8(&line) {
        _ if line.len() > MOST_BYTES => "it is too long",
        _ if line.is_empty() => "it is empty",
        Err(_) => "it is not text (UTF-8)",
        Ok(text) => return Ok(Zeroizing::new(text.to_owned())),
    };
    Err(SecretError::Unfit { from, why })
}

#[cfg(test)]
mod tests {
    use super::super::prompt::ScriptedAsker;
    use super::*;
    use std::io::Write;

    const LONG: &str = "cellar ferry rope brass";

    fn read(args: &[&str], purpose: Purpose, asker: &mut ScriptedAsker) -> Result<String, SecretError> {
        let cmd = add_secret_args(Command::new("x"), PASSPHRASE);
        let matches = cmd.try_get_matches_from(std::iter::once("x").chain(args.iter().copied())).unwrap();
        read_secret(&matches, PASSPHRASE, "Passphrase", purpose, asker).map(|secret| secret.to_string())
    }

    fn file(bytes: &[u8]) -> tempfile::NamedTempFile {
        let mut file = tempfile::NamedTempFile::new().unwrap();
        file.write_all(bytes).unwrap();
        file
    }

    #[test]
    fn the_first_line_of_a_file_is_taken_without_asking() {
        for bytes in [&b"cellar ferry rope brass"[..], b"cellar ferry rope brass\r\nmore\n"] {
            let file = file(bytes);
            let mut nobody = ScriptedAsker::nobody();
            let args = ["--passphrase-file", file.path().to_str().unwrap()];
            assert_eq!(read(&args, Purpose::New, &mut nobody).unwrap(), LONG);
            assert_eq!(nobody.shown(), "");
        }
    }

    #[cfg(unix)]
    #[test]
    fn a_file_open_to_others_is_used_with_a_warning() {
        use std::os::unix::fs::PermissionsExt;
        let file = file(LONG.as_bytes());
        std::fs::set_permissions(file.path(), std::fs::Permissions::from_mode(0o644)).unwrap();
        let mut nobody = ScriptedAsker::nobody();
        read(&["--passphrase-file", file.path().to_str().unwrap()], Purpose::Open, &mut nobody).unwrap();
        assert!(nobody.shown().contains("others on this computer may read"));
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_descriptor_is_read() {
        use std::os::fd::AsRawFd;
        let file = file(LONG.as_bytes());
        let fd = file.as_file().as_raw_fd().to_string();
        assert_eq!(
            read(&["--passphrase-fd", &fd], Purpose::Open, &mut ScriptedAsker::nobody()).unwrap(),
            LONG
        );
        let closed = read(&["--passphrase-fd", "65000"], Purpose::Open, &mut ScriptedAsker::nobody());
        assert!(matches!(closed, Err(SecretError::Unreadable { .. })));
    }

    #[test]
    fn what_cannot_be_a_passphrase_is_refused() {
        for bytes in [&b""[..], b"\nsecond", b"\xff\xfe", &[b'a'; MOST_BYTES + 1]] {
            let file = file(bytes);
            let args = ["--passphrase-file", file.path().to_str().unwrap()];
            let fault = read(&args, Purpose::Open, &mut ScriptedAsker::nobody());
            assert!(matches!(fault, Err(SecretError::Unfit { .. })));
        }
        let short = file(b"eleven chrs");
        let args = ["--passphrase-file", short.path().to_str().unwrap()];
        assert!(matches!(
            read(&args, Purpose::New, &mut ScriptedAsker::nobody()),
            Err(SecretError::TooShort)
        ));
        assert!(read(&args, Purpose::Open, &mut ScriptedAsker::nobody()).is_ok());
    }

    #[test]
    fn a_new_one_is_typed_twice_and_long_enough() {
        let none: [&str; 0] = [];
        let mut asker = ScriptedAsker::new(none).with_secrets(["short", LONG, "other", LONG, LONG]);
        assert_eq!(read(&[], Purpose::New, &mut asker).unwrap(), LONG);
        let shown = asker.shown();
        assert!(shown.contains("at least 12 characters") && shown.contains("not the same"));
        assert!(!shown.contains(LONG) && !shown.contains("short\n"));
        let mut gives_up = ScriptedAsker::new(none);
        assert!(matches!(read(&[], Purpose::Open, &mut gives_up), Err(SecretError::Stopped)));
        let mut nobody = ScriptedAsker::nobody();
        assert!(matches!(read(&[], Purpose::Open, &mut nobody), Err(SecretError::NobodyToAsk(..))));
    }
}
