//! What the system offers a process that holds secrets: memory that is not swapped, no core dump, no
//! looking in from outside, callers known by their user, and the end of the login.

use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::fd::{AsFd, OwnedFd};
use rustix::process::{
    DumpableBehavior, Pid, PidfdFlags, Resource, Rlimit, geteuid, getpid, getrlimit, pidfd_open,
    set_dumpable_behavior, setrlimit,
};
use std::time::Duration;

/// Below this limit, locking all memory would make a later allocation fail.
const ENOUGH_LOCKED: u64 = 256 << 20;

/// Closes this process against dumps and swapping as far as the system allows. True when its memory
/// stays out of the swap space.
pub fn close_up() -> bool {
    no_dumps();
    lock_memory()
}

/// No core dump, and no program of the same user that looks in from outside.
pub fn no_dumps() {
    let _ = setrlimit(Resource::Core, Rlimit { current: Some(0), maximum: Some(0) });
    let _ = set_dumpable_behavior(DumpableBehavior::NotDumpable);
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
/// it is not known, and none when it was over before: whoever unlocks after that is not in it.
pub fn login() -> Option<OwnedFd> {
    let stat = std::fs::read_to_string("/proc/self/stat").ok()?;
    let leader = leader(&stat, getpid()).filter(|leader| *leader != getpid())?;
    let login = pidfd_open(leader, PidfdFlags::empty()).ok()?;
    let over = poll(&mut [PollFd::new(&login, PollFlags::IN)], Some(&Timespec::default())).ok()?;
    (over == 0).then_some(login)
}

/// The leader of the session, from `/proc/self/stat` (proc_pid_stat(5): the process's number, its
/// name in brackets, then its state, parent, group and session). The session is 0 where its leader
/// stands outside the container, which `getsid` of the library used here can't express. Numbers of
/// another container, known by the process's own not being `me`, say nothing.
fn leader(stat: &str, me: Pid) -> Option<Pid> {
    let (number, _) = stat.split_once(' ')?;
    let (_, rest) = stat.rsplit_once(") ")?;
    let session = rest.split(' ').nth(3)?.parse().ok().filter(|session| *session > 0)?;
    (number.parse() == Ok(me.as_raw_nonzero().get())).then_some(())?;
    Pid::from_raw(session)
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_leader_is_read_past_any_name_and_none_where_it_stands_outside() {
        let me = Pid::from_raw(4711).unwrap();
        let stat =
            |pid: &str, name: &str, session: &str| format!("{pid} ({name}) S 12 13 {session} 0 -1 4194560");
        let of = |stat: &str| leader(stat, me).map(|pid| pid.as_raw_nonzero().get());
        assert_eq!(of(&stat("4711", "inkfast", "77")), Some(77));
        assert_eq!(of(&stat("4711", "ink) R 1 2 3 (fast", "77")), Some(77));
        assert_eq!(of(&stat("4711", "inkfast", "0")), None, "the leader stands outside the container");
        assert_eq!(of(&stat("4711", "inkfast", "-1")), None);
        assert_eq!(of(&stat("9", "inkfast", "77")), None, "numbers of another container");
        assert_eq!(of(""), None);
    }
}
