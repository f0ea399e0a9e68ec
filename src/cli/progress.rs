//! Progress of long work, on standard error and only where someone looks at it.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::{self, IsTerminal};
use std::time::{Duration, Instant};

/// Nothing is drawn for work that is done sooner: what flashes by only unsettles.
const AFTER: Duration = Duration::from_secs(1);

/// Work under way. Nothing of it stays on the screen when it is dropped.
///
/// The label is shown to whoever stands by: it must not name a patient.
#[derive(Debug)]
pub struct Progress {
    bar: ProgressBar,
    label: String,
    total: Option<u64>,
    began: Instant,
    after: Duration,
    terminal: bool,
    drawn: bool,
    verbose: bool,
}

impl Progress {
    /// Begins work of `total` parts, or of unknown length.
    pub fn start(label: impl Into<String>, total: Option<u64>) -> Progress {
        Progress::new(label.into(), total, io::stderr().is_terminal(), AFTER)
    }

    fn new(label: String, total: Option<u64>, terminal: bool, after: Duration) -> Progress {
        let bar = ProgressBar::with_draw_target(total, ProgressDrawTarget::hidden());
        Progress { bar, label, total, began: Instant::now(), after, terminal, drawn: false, verbose: false }
    }

    /// With `true`, writes one plain line at the end where nothing could be drawn.
    pub fn verbose(mut self, verbose: bool) -> Progress {
        self.verbose = verbose;
        self
    }

    /// Another `parts` are done.
    pub fn tick(&mut self, parts: u64) {
        if self.terminal && !self.drawn && self.began.elapsed() >= self.after {
            self.drawn = true;
            self.bar.set_style(self.style());
            self.bar.set_message(self.label.clone());
            self.bar.set_draw_target(ProgressDrawTarget::stderr());
        }
        self.bar.inc(parts);
    }

    fn style(&self) -> ProgressStyle {
        let (template, plain): (_, fn() -> ProgressStyle) = match self.total {
            Some(_) => ("{msg}: {pos} of {len} [{bar:20}] {eta} left", ProgressStyle::default_bar),
            None => ("{msg}: {pos} {spinner}", ProgressStyle::default_spinner),
        };
        // The templates are fixed and well formed; were they not, indicatif's own look serves.
        let style = ProgressStyle::with_template(template).unwrap_or_else(|_| plain());
        match self.total {
            Some(_) => style.progress_chars("#>-"),
            None => style.tick_chars("|/-\\ "),
        }
    }

    /// How many parts are done.
    pub fn position(&self) -> u64 {
        self.bar.position()
    }

    /// Ends the work and clears the line.
    pub fn done(self) {
        if let Some(line) = self.last_line() {
            eprintln!("{line}");
        }
    }

    fn last_line(&self) -> Option<String> {
        let seconds = self.began.elapsed().as_secs_f64();
        (self.verbose && !self.terminal)
            .then(|| format!("{}: {} done in {seconds:.1} s", self.label, self.position()))
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_drawn_before_its_time_or_without_a_terminal() {
        let mut short = Progress::new("Checking".into(), Some(10), true, Duration::from_secs(3600));
        short.tick(3);
        short.tick(4);
        assert_eq!((short.position(), short.drawn), (7, false));
        let mut unseen = Progress::new("Checking".into(), None, false, Duration::ZERO);
        unseen.tick(1);
        assert!(!unseen.drawn);
        assert_eq!(unseen.last_line(), None);
        let unseen = unseen.verbose(true);
        assert!(unseen.last_line().unwrap().starts_with("Checking: 1 done in "));
    }

    #[test]
    fn its_templates_are_well_formed() {
        for template in ["{msg}: {pos} of {len} [{bar:20}] {eta} left", "{msg}: {pos} {spinner}"] {
            assert!(ProgressStyle::with_template(template).is_ok());
        }
    }
}
