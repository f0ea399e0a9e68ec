//! Notices that the computer slept, or that this process stood still: nobody was watching the screen then.

use rustix::time::{ClockId, clock_gettime};
use std::sync::Mutex;
use std::time::Duration;

/// How often somebody looks.
pub const LOOK_EVERY: Duration = Duration::from_secs(1);
/// Asleep longer than this counts. One clock of the system stands still in sleep and the other goes on.
const SLEPT: Duration = Duration::from_secs(1);
/// Nobody looked for longer than this although somebody looks every second: the process was stopped, or the
/// whole machine was.
const STOOD_STILL: Duration = Duration::from_secs(15);

#[derive(Debug, Clone, Copy)]
struct Clocks {
    /// Goes on while the computer sleeps.
    through_sleep: Duration,
    /// Stands still while the computer sleeps.
    awake: Duration,
}

fn read(id: ClockId) -> Duration {
    let time = clock_gettime(id);
    Duration::new(u64::try_from(time.tv_sec).unwrap_or(0), u32::try_from(time.tv_nsec).unwrap_or(0))
}

impl Clocks {
    fn now() -> Clocks {
        Clocks { through_sleep: read(ClockId::Boottime), awake: read(ClockId::Monotonic) }
    }

    /// True when between the two readings nobody was there.
    fn slept_until(self, later: Clocks) -> bool {
        let whole = later.through_sleep.saturating_sub(self.through_sleep);
        let awake = later.awake.saturating_sub(self.awake);
        whole.saturating_sub(awake) > SLEPT || whole > STOOD_STILL
    }
}

/// Watches the two clocks.
#[derive(Debug)]
pub struct Lid(Mutex<Clocks>);

impl Lid {
    /// Begins to watch.
    pub fn new() -> Lid {
        Lid(Mutex::new(Clocks::now()))
    }

    /// True when the computer slept since the last look.
    pub fn slept(&self) -> bool {
        let now = Clocks::now();
        let mut before = self.0.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        let slept = before.slept_until(now);
        *before = now;
        slept
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(through_sleep: u64, awake: u64) -> Clocks {
        Clocks { through_sleep: Duration::from_secs(through_sleep), awake: Duration::from_secs(awake) }
    }

    #[test]
    fn sleep_shows_as_time_that_only_one_clock_saw() {
        assert!(!at(100, 50).slept_until(at(101, 51)));
        assert!(!at(100, 50).slept_until(at(112, 62)), "a busy computer is late, and was awake");
        assert!(at(100, 50).slept_until(at(103, 51)), "two seconds asleep");
        assert!(at(100, 50).slept_until(at(120, 70)), "stopped for twenty seconds");
        assert!(!Lid::new().slept());
    }
}
