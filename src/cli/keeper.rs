//! The keeper: a small process that holds one opened identity after `inkfast unlock`, so that the
//! passphrase is not asked at every command. It listens on a socket that only its owner can open,
//! forgets everything after some idle minutes, and ends on `inkfast lock`.

use crate::practice::place::{Place, state_folder};
use crate::seal::identity::StaffIdentity;
use crate::trouble::{Kind, Outcome, Trouble};
use std::io::{Read, Write};
use std::os::unix::fs::DirBuilderExt;
use std::os::unix::net::{UnixListener, UnixStream};
use std::os::unix::process::CommandExt;
use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};
use zeroize::Zeroizing;

/// The hidden command that the keeper runs as.
pub const COMMAND: &str = "keeper-process";
/// Idle minutes after which it forgets, unless another number is given.
pub const IDLE_MINUTES: u64 = 20;
/// The longest message either side sends, in bytes.
const MOST: u64 = 4096;

/// The socket for a store. The runtime folder is the person's own and is emptied at log-out.
fn socket(place: &Place) -> PathBuf {
    let base =
        std::env::var_os("XDG_RUNTIME_DIR").map_or_else(state_folder, |d| PathBuf::from(d).join("inkfast"));
    // Socket paths are short by law of the system, so the origin is cut to what still tells stores apart.
    let label: String = place.key.name().chars().rev().take(16).collect();
    base.join(format!("{label}.sock"))
}

fn ask(place: &Place, word: &str) -> Option<Zeroizing<String>> {
    let mut stream = UnixStream::connect(socket(place)).ok()?;
    stream.set_read_timeout(Some(Duration::from_secs(5))).ok()?;
    stream.write_all(word.as_bytes()).ok()?;
    stream.shutdown(std::net::Shutdown::Write).ok()?;
    let mut answer = Zeroizing::new(String::with_capacity(MOST as usize));
    stream.take(MOST).read_to_string(&mut answer).ok()?;
    Some(answer)
}

/// The identity that is unlocked for this store, if any.
pub fn held(place: &Place) -> Option<StaffIdentity> {
    StaffIdentity::from_text(ask(place, "identity")?.as_str())
}

/// Ends the keeper of this store; true when there was one.
pub fn lock(place: &Place) -> bool {
    ask(place, "lock").is_some()
}

/// Starts a keeper for this store that holds `me`.
pub fn start(place: &Place, me: &StaffIdentity, idle_minutes: u64) -> Outcome<()> {
    lock(place);
    let trouble = |e: std::io::Error| {
        Trouble::new(
            Kind::Disk,
            format!("Could not keep the store unlocked: {e}."),
            "The passphrase was right; nothing was changed.",
            "Give --as and --passphrase-file with each command instead.",
        )
    };
    let path = socket(place);
    let folder = crate::world::folder_of(&path);
    std::fs::DirBuilder::new().recursive(true).mode(0o700).create(folder).map_err(trouble)?;
    let program = std::env::current_exe().map_err(trouble)?;
    let mut child = Command::new(program)
        .arg(COMMAND)
        .arg(&path)
        .arg(idle_minutes.to_string())
        .current_dir("/")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .process_group(0)
        .spawn()
        .map_err(trouble)?;
    if let Some(mut pipe) = child.stdin.take() {
        pipe.write_all(me.to_text().as_bytes()).map_err(trouble)?;
    }
    // It says one word when it listens, so that the next command finds it.
    let mut ready = [0u8; 1];
    match child.stdout.take().map(|mut out| out.read_exact(&mut ready)) {
        Some(Ok(())) => Ok(()),
        _ => Err(trouble(std::io::Error::other("the keeper did not start"))),
    }
}

/// Runs as the keeper: reads the identity from standard input and serves it until told to stop
/// or idle too long.
pub fn run(path: PathBuf, idle_minutes: u64) -> std::io::Result<()> {
    let mut text = Zeroizing::new(String::with_capacity(MOST as usize));
    std::io::stdin().take(MOST).read_to_string(&mut text)?;
    let _ = std::fs::remove_file(&path);
    let listener = UnixListener::bind(&path)?;
    listener.set_nonblocking(true)?;
    let mut out = std::io::stdout();
    out.write_all(b"y")?;
    out.flush()?;
    let idle = Duration::from_secs(idle_minutes.saturating_mul(60));
    let mut used = Instant::now();
    while used.elapsed() < idle {
        match listener.accept() {
            Ok((stream, _)) => {
                used = Instant::now();
                if serve(stream, &text) {
                    break;
                }
            }
            Err(e) if e.kind() == std::io::ErrorKind::WouldBlock => {
                std::thread::sleep(Duration::from_millis(20))
            }
            Err(_) => break,
        }
    }
    std::fs::remove_file(&path)
}

/// Answers one caller; true when the caller says lock.
fn serve(mut stream: UnixStream, text: &str) -> bool {
    let limits = stream.set_nonblocking(false).and(stream.set_read_timeout(Some(Duration::from_secs(2))));
    let mut word = String::new();
    if limits.is_err() || (&stream).take(64).read_to_string(&mut word).is_err() {
        return false;
    }
    match word.as_str() {
        "identity" => {
            let _ = stream.write_all(text.as_bytes());
            false
        }
        "lock" => {
            let _ = stream.write_all(b"locked");
            true
        }
        _ => false,
    }
}
