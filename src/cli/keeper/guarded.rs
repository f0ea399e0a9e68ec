//! What the system offers a process that holds secrets: memory that is not swapped, no core dump, no
//! looking in from outside, callers known by their user, and the end of the login.

use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::fd::{AsFd, OwnedFd};
use rustix::process::{
    DumpableBehavior, PidfdFlags, Resource, Rlimit, geteuid, getpid, getrlimit, getsid, pidfd_open,
    set_dumpable_behavior, setrlimit,
};
use std::time::Duration;

/// Below this limit, locking all memory would make a later allocation fail.
const ENOUGH_LOCKED: u64 = 256 << 20;

/// Closes this process against dumps and swapping as far as the system allows. True when its memory
/// stays out of the swap space.
pub fn close_up() -> bool {
    let _ = setrlimit(Resource::Core, Rlimit { current: Some(0), maximum: Some(0) });
    let _ = set_dumpable_behavior(DumpableBehavior::NotDumpable);
    lock_memory()
}

fn lock_memory() -> bool {
    use rustix::mm::{MlockAllFlags, mlockall};
    let limit = getrlimit(Resource::Memlock);
    let _ = setrlimit(Resource::Memlock, Rlimit { current: limit.maximum, maximum: limit.maximum });
    let limit = getrlimit(Resource::Memlock).current;
    let enough = limit.is_none_or(|bytes| bytes >= ENOUGH_LOCKED);
    enough && mlockall(MlockAllFlags::CURRENT | MlockAllFlags::FUTURE).is_ok()
}

/// True when the process at the other end of the socket runs as the same user.
pub fn same_user(socket: impl AsFd) -> bool {
    rustix::net::sockopt::socket_peercred(socket).is_ok_and(|peer| peer.uid == geteuid())
}

/// The first process of the login (a terminal's shell, as a rule), to be told when it ends; none when
/// it is not known.
pub fn login() -> Option<OwnedFd> {
    let leader = getsid(None).ok().filter(|leader| *leader != getpid())?;
    pidfd_open(leader, PidfdFlags::empty()).ok()
}

/// What ended a wait.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Woken {
    /// Somebody calls.
    Caller,
    /// The login is over.
    LoginOver,
    /// The time is up.
    Time,
}

/// Waits until somebody calls, the login ends, or the time is up.
///
/// # Errors
/// When the system can't wait.
pub fn wait(listener: impl AsFd, login: Option<&OwnedFd>, most: Duration) -> std::io::Result<Woken> {
    let time = Timespec::try_from(most).unwrap_or(Timespec { tv_sec: 1, tv_nsec: 0 });
    let mut watched = vec![PollFd::new(&listener, PollFlags::IN)];
    watched.extend(login.map(|fd| PollFd::new(fd, PollFlags::IN)));
    match poll(&mut watched, Some(&time)) {
        Ok(_) | Err(rustix::io::Errno::INTR) => {}
        Err(e) => return Err(e.into()),
    }
    let over = watched.get(1).is_some_and(|fd| !fd.revents().is_empty());
    let called = watched.first().is_some_and(|fd| !fd.revents().is_empty());
    Ok(match (over, called) {
        (true, _) => Woken::LoginOver,
        (_, true) => Woken::Caller,
        _ => Woken::Time,
    })
}
