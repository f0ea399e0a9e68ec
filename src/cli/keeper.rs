//! The keeper: a small process that holds one opened identity after `inkfast unlock`, so that the
//! passphrase is not asked at every command. It listens on a socket that only its owner can open,
//! compares the short number, forgets after some idle minutes, and ends on `inkfast lock`, when the
//! login ends, or after too many wrong numbers. This file is how a command talks to it.

pub mod guarded;
pub mod pin;
mod process;

pub use process::{gather, run};

use crate::practice::adding::Kit;
use crate::practice::place::{Place, state_folder};
use crate::record::kinds::Day;
use crate::seal::file_keys::FileKeys;
use crate::seal::identity::StaffIdentity;
use crate::trouble::{Kind, Outcome, Trouble};
use pin::Pin;
use serde::{Deserialize, Serialize};
use std::io::{self, BufRead, BufReader, Read, Write};
use std::os::fd::AsRawFd;
use std::os::unix::fs::{DirBuilderExt, MetadataExt};
use std::os::unix::net::UnixStream;
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;
use zeroize::{Zeroize, ZeroizeOnDrop, Zeroizing};

/// The hidden command that the keeper runs as.
pub const COMMAND: &str = "keeper-process";
/// The hidden command that gathers what a locked desk keeps.
pub const GATHER: &str = "keeper-gathers";
/// The longest message either side sends, in bytes.
const MOST: u64 = 4 << 20;
/// Room for what is said as a rule, so that secrets are not left behind when a buffer grows.
const ROOM: usize = 1 << 20;
/// Stands between an identity and the file keys found with it.
const BETWEEN: char = '\u{1e}';

/// What a keeper begins with.
#[derive(Serialize, Deserialize, Zeroize, ZeroizeOnDrop)]
pub struct Begin {
    /// The opened identity, as text.
    pub identity: String,
    /// The short number, hashed; none when none was set.
    pub pin: Option<Pin>,
    /// Idle seconds after which it forgets.
    pub idle_seconds: u64,
    /// Whether it then keeps what adding needs.
    pub add_when_idle: bool,
    /// The store's folder, absolute.
    #[zeroize(skip)]
    pub store: PathBuf,
    /// The folder of the outside copy, absolute.
    #[zeroize(skip)]
    pub outside: PathBuf,
    /// Today; a desk locked for adding forgets the rest when the day ends.
    #[zeroize(skip)]
    pub day: Day,
}

/// What a keeper holds for a command.
pub enum Held {
    /// Everything.
    Open(Box<Opened>),
    /// Only what adding needs.
    Adding(Box<Kit>),
}

/// An identity that is unlocked.
pub struct Opened {
    /// Whose it is.
    pub me: StaffIdentity,
    /// Whether the short number is asked again to sign.
    pub asks_pin: bool,
    /// Keys of files that earlier commands opened with it.
    pub file_keys: FileKeys,
}

impl Held {
    /// Staff code of whoever it is held for.
    pub fn code(&self) -> &str {
        match self {
            Held::Open(opened) => &opened.me.code,
            Held::Adding(kit) => kit.code(),
        }
    }
}

/// What the keeper says to a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PinAnswer {
    /// It is the one, or none was set.
    Right,
    /// It is not; so many tries are left.
    Wrong(u32),
    /// There were too many wrong ones, or there is no keeper any more.
    Locked,
}

/// The socket for a store. The runtime folder is the person's own and is emptied at log-out.
pub fn socket(place: &Place) -> PathBuf {
    let base = std::env::var_os("XDG_RUNTIME_DIR")
        .filter(|v| !v.is_empty())
        .map_or_else(state_folder, |d| PathBuf::from(d).join("inkfast"));
    // What still tells stores apart, and short: see `reach`.
    let label: String = place.key.name().chars().rev().take(16).collect();
    base.join(format!("{label}.sock"))
}

/// Binds to, or connects to, a socket. The system takes only addresses of about a hundred bytes, so
/// one in a deep folder is named by way of its opened folder.
fn reach<T>(path: &Path, with: impl FnOnce(&Path) -> io::Result<T>) -> io::Result<T> {
    const SHORT: usize = 100;
    if path.as_os_str().len() <= SHORT {
        return with(path);
    }
    let folder = std::fs::File::open(crate::world::folder_of(path))?;
    let name = path.file_name().unwrap_or_default();
    with(&Path::new("/proc/self/fd").join(folder.as_raw_fd().to_string()).join(name))
}

fn ask(place: &Place, words: &str) -> Option<Zeroizing<String>> {
    let mut stream = reach(&socket(place), |at| UnixStream::connect(at)).ok()?;
    if !guarded::same_user(&stream) {
        return None;
    }
    stream.set_read_timeout(Some(Duration::from_secs(20))).ok()?;
    stream.write_all(words.as_bytes()).ok()?;
    stream.shutdown(std::net::Shutdown::Write).ok()?;
    let mut answer = Zeroizing::new(String::with_capacity(ROOM));
    stream.take(MOST).read_to_string(&mut answer).ok()?;
    Some(answer)
}

/// What is unlocked for this store, if anything. Asking for it restarts the idle time.
pub fn held(place: &Place) -> Option<Held> {
    let answer = ask(place, "use")?;
    let (word, secret) = answer.split_once('\n')?;
    let open = |asks_pin: bool| {
        let (identity, keys) = secret.split_once(BETWEEN)?;
        let opened =
            Opened { me: StaffIdentity::from_text(identity)?, asks_pin, file_keys: FileKeys::default() };
        opened.file_keys.take(keys);
        Some(Held::Open(Box::new(opened)))
    };
    match word {
        "open" => open(false),
        "open-with-pin" => open(true),
        "adding" => Kit::from_text(secret).ok().map(Box::new).map(Held::Adding),
        _ => None,
    }
}

/// Who is unlocked, without asking for it: the idle time goes on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Look {
    /// Staff code of whoever it is unlocked for.
    pub code: String,
    /// Whether the short number is asked again to sign.
    pub asks_pin: bool,
    /// Whole seconds until it locks itself.
    pub seconds_left: u64,
}

/// Looks who is unlocked for reading, without restarting the idle time.
pub fn look(place: &Place) -> Option<Look> {
    let answer = ask(place, "look")?;
    let mut words = answer.split(' ');
    let asks_pin = match words.next()? {
        "open" => false,
        "open-with-pin" => true,
        _ => return None,
    };
    Some(Look { seconds_left: words.next()?.parse().ok()?, code: words.next()?.to_string(), asks_pin })
}

/// Has the keeper hold the file keys that a command found with this person's identity, for the next one.
/// Losing them costs time only.
pub fn remember(place: &Place, code: &str, found: &FileKeys) {
    if let Some(lines) = found.found() {
        let mut words = Zeroizing::new(String::with_capacity(32 + lines.len()));
        words.push_str("remember\n");
        words.push_str(code);
        words.push('\n');
        words.push_str(&lines);
        ask(place, &words);
    }
}

/// Has the keeper compare a short number.
pub fn try_pin(place: &Place, number: &str) -> PinAnswer {
    let words = Zeroizing::new(format!("pin\n{number}"));
    let Some(answer) = ask(place, &words) else { return PinAnswer::Locked };
    match answer.split_once(' ') {
        Some(("wrong", left)) => left.parse().map_or(PinAnswer::Locked, PinAnswer::Wrong),
        _ if *answer == "right" || *answer == "none" => PinAnswer::Right,
        _ => PinAnswer::Locked,
    }
}

/// Ends the keeper of this store; true when there was one.
pub fn lock(place: &Place) -> bool {
    ask(place, "lock").is_some()
}

/// Ends the keeper of this store if it holds something for this person.
pub fn lock_for(place: &Place, code: &str) {
    if held(place).is_some_and(|held| held.code() == code) {
        lock(place);
    }
}

/// Has the keeper let go of every reading key and keep what adding needs; false when there is none.
///
/// # Errors
/// When that could not be gathered; then nothing has changed.
pub fn only_add(place: &Place) -> Outcome<bool> {
    let Some(answer) = ask(place, "add-only") else { return Ok(false) };
    match answer.split_once('\n') {
        None if *answer == "adding" => Ok(true),
        why => Err(Trouble::new(
            Kind::Locked,
            why.map_or("The keeper did not answer.", |(_, why)| why),
            "It is as unlocked as before.",
            "Lock it with `inkfast lock`.",
        )),
    }
}

/// Starts a keeper for this store. True when the system keeps its memory out of the swap space.
///
/// # Errors
/// When the system refuses it; the store then stays locked.
pub fn start(place: &Place, begin: &Begin) -> Outcome<bool> {
    lock(place);
    let trouble = |e: io::Error| {
        Trouble::new(
            Kind::Disk,
            format!("Could not keep the store unlocked: {e}."),
            "The passphrase was right; nothing was changed.",
            "Give --as and --passphrase-file with each command instead.",
        )
    };
    let path = socket(place);
    private_folder(crate::world::folder_of(&path)).map_err(trouble)?;
    let handed = serde_json::to_vec(begin).map(Zeroizing::new).map_err(|e| trouble(e.into()))?;
    let program = std::env::current_exe().map_err(trouble)?;
    let mut child = Command::new(program)
        .arg(COMMAND)
        .arg(&path)
        .current_dir("/")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .process_group(0)
        .spawn()
        .map_err(trouble)?;
    if let Some(mut pipe) = child.stdin.take() {
        pipe.write_all(&handed).map_err(trouble)?;
    }
    // It says one word when it listens, so that the next command finds it; or why it does not.
    let mut said = Vec::new();
    if let Some(out) = child.stdout.take() {
        BufReader::new(out.take(MOST)).read_until(b'\n', &mut said).map_err(trouble)?;
    }
    match said.trim_ascii_end() {
        process::LISTENS_LOCKED => Ok(true),
        process::LISTENS => Ok(false),
        b"" => Err(trouble(io::Error::other("the keeper did not start"))),
        why => Err(trouble(io::Error::other(String::from_utf8_lossy(why)))),
    }
}

/// A folder that is this user's alone.
fn private_folder(folder: &Path) -> io::Result<()> {
    std::fs::DirBuilder::new().recursive(true).mode(0o700).create(folder)?;
    let about = std::fs::metadata(folder)?;
    let mine = about.uid() == rustix::process::geteuid().as_raw();
    if mine && about.mode() & 0o077 == 0 {
        return Ok(());
    }
    let open = format!("{} is open to others; close it with: chmod 700", folder.display());
    Err(io::Error::other(open))
}
