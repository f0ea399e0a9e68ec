//! The keeper itself: holds the opened identity, answers callers of the same user, forgets.

use super::guarded::{self, Woken};
use super::pin::Tried;
use super::{BETWEEN, Begin, MOST, ROOM};
use crate::practice::adding::Kit;
use crate::practice::open::Practice;
use crate::practice::place::Place;
use crate::practice::session::Session;
use crate::seal::file_keys::FileKeys;
use crate::seal::identity::StaffIdentity;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::world::World;
use std::collections::VecDeque;
use std::io::{self, Read, Write};
use std::os::fd::OwnedFd;
use std::os::unix::fs::{MetadataExt, PermissionsExt};
use std::os::unix::net::{UnixListener, UnixStream};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant, SystemTime};
use zeroize::{Zeroize, Zeroizing};

/// How often it looks whether the day or the login has ended.
const LOOK_EVERY: Duration = Duration::from_secs(2);
/// How long a caller may take to say its word.
const PATIENCE: Duration = Duration::from_secs(2);

/// How many file keys it holds at most.
const MOST_FILE_KEYS: usize = 10_000;

/// What it holds.
enum Held {
    /// An opened identity.
    Open(Zeroizing<String>),
    /// What a locked desk needs in order to add, and the day that ends it.
    Adding(Zeroizing<String>),
}

/// Time without a caller. Of the two clocks one stands still while the computer sleeps and the other
/// may be set, so the longer time counts.
struct Idle {
    steady: Instant,
    wall: SystemTime,
}

impl Idle {
    fn now() -> Idle {
        Idle { steady: Instant::now(), wall: SystemTime::now() }
    }

    fn for_how_long(&self) -> Duration {
        self.wall.elapsed().unwrap_or_default().max(self.steady.elapsed())
    }
}

struct Keeper {
    begin: Begin,
    held: Held,
    /// Keys of files that commands opened with the identity, as they were handed over.
    file_keys: VecDeque<Zeroizing<String>>,
    idle: Idle,
    world: World,
}

/// What follows from a call.
#[derive(PartialEq, Eq)]
enum Then {
    GoOn,
    End,
}

/// The line it prints when it listens and its memory stays out of the swap space.
pub const LISTENS_LOCKED: &[u8] = b"m";
/// The line it prints when it listens, and its memory may be swapped out.
pub const LISTENS: &[u8] = b"s";

/// Runs as the keeper, on what it reads from standard input. Whoever started it is told in one line
/// that it listens, or why it does not.
///
/// # Errors
/// When the system refuses the socket.
pub fn run(path: &Path) -> io::Result<()> {
    let locked = guarded::close_up();
    // Found while whoever unlocks still waits: a login that ends right after is then seen to end.
    let login = guarded::login();
    let begun = begin(path);
    let mut out = io::stdout();
    match &begun {
        Ok(_) => out.write_all(if locked { LISTENS_LOCKED } else { LISTENS })?,
        Err(why) => write!(out, "{}", why.to_string().replace('\n', " "))?,
    }
    out.write_all(b"\n")?;
    let (begin, listener) = begun?;
    keep(path, begin, &listener, login.as_ref())
}

fn begin(path: &Path) -> io::Result<(Begin, UnixListener)> {
    let begin = from_stdin()?;
    Ok((begin, listen(path)?))
}

fn keep(path: &Path, mut begin: Begin, listener: &UnixListener, login: Option<&OwnedFd>) -> io::Result<()> {
    let held = Held::Open(Zeroizing::new(std::mem::take(&mut begin.identity)));
    let mine = std::fs::symlink_metadata(path)?.ino();
    let mut keeper =
        Keeper { begin, held, file_keys: VecDeque::new(), idle: Idle::now(), world: World::real() };
    loop {
        let left = keeper.left().min(LOOK_EVERY);
        match guarded::wait(listener, login, left)? {
            Woken::LoginOver => break,
            Woken::Caller => {
                if let Ok((stream, _)) = listener.accept()
                    && guarded::same_user(&stream)
                    && keeper.answer(stream) == Then::End
                {
                    break;
                }
            }
            Woken::Time => {}
        }
        // Gone: the login's folder was emptied. Another file: another keeper took over.
        let still_mine = std::fs::symlink_metadata(path).is_ok_and(|m| m.ino() == mine);
        if !still_mine {
            return Ok(());
        }
        if keeper.time_is_up() == Then::End {
            break;
        }
    }
    std::fs::remove_file(path)
}

fn from_stdin() -> io::Result<Begin> {
    let mut text = Zeroizing::new(Vec::with_capacity(64 << 10));
    io::stdin().take(MOST).read_to_end(&mut text)?;
    serde_json::from_slice(&text).map_err(io::Error::other)
}

fn listen(path: &Path) -> io::Result<UnixListener> {
    let _ = std::fs::remove_file(path);
    // The folder is its owner's alone, so nobody gets in before the socket's own mode is set.
    let listener = super::reach(path, |at| UnixListener::bind(at))?;
    std::fs::set_permissions(path, std::fs::Permissions::from_mode(0o600))?;
    Ok(listener)
}

impl Keeper {
    /// Time until it forgets.
    fn left(&self) -> Duration {
        Duration::from_secs(self.begin.idle_seconds).saturating_sub(self.idle.for_how_long())
    }

    fn time_is_up(&mut self) -> Then {
        let goes_on = match self.held {
            Held::Open(_) if !self.left().is_zero() => true,
            Held::Open(_) => self.begin.add_when_idle && self.only_add().is_ok(),
            Held::Adding(_) => self.world.clock.now().local_date() == self.begin.day.0,
        };
        if goes_on { Then::GoOn } else { Then::End }
    }

    fn answer(&mut self, mut stream: UnixStream) -> Then {
        let mut asked = Zeroizing::new(String::with_capacity(ROOM));
        let limits = stream.set_read_timeout(Some(PATIENCE)).and(stream.set_write_timeout(Some(PATIENCE)));
        if limits.is_err() || (&stream).take(MOST).read_to_string(&mut asked).is_err() {
            return Then::GoOn;
        }
        let (word, rest) = asked.split_once('\n').unwrap_or((&asked, ""));
        let (answer, then) = match word {
            "use" => {
                self.idle = Idle::now();
                (self.what_is_held(), Then::GoOn)
            }
            "look" => (self.who(), Then::GoOn),
            "pin" => self.try_pin(rest),
            "remember" => {
                self.remember(rest);
                (Zeroizing::new("remembered".to_string()), Then::GoOn)
            }
            "add-only" => match self.only_add() {
                Ok(()) => (Zeroizing::new("adding".to_string()), Then::GoOn),
                Err(trouble) => (Zeroizing::new(format!("refused\n{}", trouble.what)), Then::GoOn),
            },
            "lock" => (Zeroizing::new("locked".to_string()), Then::End),
            _ => return Then::GoOn,
        };
        if then == Then::End {
            // Nothing is held any more when the caller reads that it is locked.
            self.forget();
        }
        let _ = stream.write_all(answer.as_bytes());
        then
    }

    /// Who is unlocked and for how long, and nothing else.
    fn who(&self) -> Zeroizing<String> {
        let Held::Open(text) = &self.held else { return Zeroizing::new("adding".to_string()) };
        let word = if self.begin.pin.is_some() { "open-with-pin" } else { "open" };
        let code = StaffIdentity::from_text(text).map(|me| me.code.clone()).unwrap_or_default();
        Zeroizing::new(format!("{word} {} {code}", self.left().as_secs()))
    }

    fn what_is_held(&self) -> Zeroizing<String> {
        let (word, secret) = match &self.held {
            Held::Open(text) if self.begin.pin.is_some() => ("open-with-pin", text),
            Held::Open(text) => ("open", text),
            Held::Adding(text) => ("adding", text),
        };
        let keys: usize = self.file_keys.iter().map(|lines| lines.len()).sum();
        let mut answer = Zeroizing::new(String::with_capacity(word.len() + 8 + secret.len() + keys));
        answer.push_str(word);
        answer.push('\n');
        answer.push_str(secret);
        if matches!(self.held, Held::Open(_)) {
            answer.push(BETWEEN);
            self.file_keys.iter().for_each(|lines| answer.push_str(lines));
        }
        answer
    }

    /// Holds file keys while everything is open; the oldest go first.
    fn remember(&mut self, words: &str) {
        let Held::Open(identity) = &self.held else { return };
        let Some((code, lines)) = words.split_once('\n') else { return };
        // Somebody else may have unlocked since the command began: to them these keys are not handed.
        if StaffIdentity::from_text(identity).is_none_or(|me| me.code != code) {
            return;
        }
        self.file_keys.push_back(Zeroizing::new(lines.to_string()));
        let mut bytes: usize = self.file_keys.iter().map(|lines| lines.len()).sum();
        while bytes > MOST_FILE_KEYS * FileKeys::LINE {
            bytes -= self.file_keys.pop_front().map_or(bytes, |lines| lines.len());
        }
    }

    fn try_pin(&mut self, number: &str) -> (Zeroizing<String>, Then) {
        let Some(pin) = &mut self.begin.pin else {
            return (Zeroizing::new("none".to_string()), Then::GoOn);
        };
        let (answer, then) = match pin.try_number(number) {
            Tried::Right => {
                self.idle = Idle::now();
                ("right".to_string(), Then::GoOn)
            }
            Tried::Wrong(0) => ("locked".to_string(), Then::End),
            Tried::Wrong(left) => (format!("wrong {left}"), Then::GoOn),
        };
        (Zeroizing::new(answer), then)
    }

    /// Lets go of every reading key and keeps what adding needs. That is gathered by a process of its
    /// own, which ends: what it read on the way, names among it, is then in no living memory.
    fn only_add(&mut self) -> Outcome<()> {
        let Held::Open(identity) = &self.held else { return Ok(()) };
        let kit = gather_apart(&self.begin, identity)?;
        self.begin.day = Kit::from_text(&kit)?.day;
        self.begin.pin = None;
        // The old texts are wiped as they are dropped.
        self.file_keys.clear();
        self.held = Held::Adding(kit);
        Ok(())
    }

    fn forget(&mut self) {
        self.file_keys.clear();
        self.begin.pin = None;
        self.held = Held::Adding(Zeroizing::new(String::new()));
    }
}

/// Runs the gathering process and takes its result.
fn gather_apart(begin: &Begin, identity: &str) -> Outcome<Zeroizing<String>> {
    let failed = |e: io::Error| {
        Trouble::new(
            Kind::Disk,
            format!("The desk can't be made ready to add while locked: {e}."),
            "Nothing was changed.",
            "Lock it with `inkfast lock`.",
        )
    };
    let program = std::env::current_exe().map_err(failed)?;
    let mut child = Command::new(program)
        .arg(super::GATHER)
        .arg(&begin.store)
        .arg(&begin.outside)
        .current_dir("/")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .map_err(failed)?;
    let handed = child.stdin.take().map_or(Ok(()), |mut pipe| pipe.write_all(identity.as_bytes()));
    let mut kit = Zeroizing::new(String::with_capacity(MOST as usize));
    let read = child.stdout.take().map_or(Ok(0), |out| out.take(MOST).read_to_string(&mut kit));
    let ended = child.wait().map_err(failed)?;
    handed.and(read).map_err(failed)?;
    if !ended.success() {
        return Err(failed(io::Error::other("the store could not be read")));
    }
    // Only as much memory as it needs; the larger room is wiped.
    Ok(Zeroizing::new(kit.as_str().to_string()))
}

/// Runs as the gathering process: an identity on standard input, a kit on standard output.
///
/// # Errors
/// When the store can't be read as this person.
pub fn gather(store: PathBuf, outside: &Path) -> io::Result<()> {
    guarded::close_up();
    let mut text = Zeroizing::new(String::with_capacity(64 << 10));
    io::stdin().take(MOST).read_to_string(&mut text)?;
    let me = StaffIdentity::from_text(&text).ok_or_else(|| io::Error::other("no identity"))?;
    text.zeroize();
    let world = World::real();
    let kit = || -> Outcome<Zeroizing<String>> {
        let place = Place::open(&world, &store, Some(outside))?;
        let session = Session::with(&world, &place, me)?;
        Kit::gather(&Practice::open(&world, &place, session, "-")?)?.to_text()
    };
    let kit = kit().map_err(|t| io::Error::other(t.what))?;
    io::stdout().write_all(kit.as_bytes())
}
