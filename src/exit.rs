//! Exit codes. They are stable: scripts and the practice's own checks rely on them.

use crate::trouble::{Kind, Trouble};
use schemars::JsonSchema;
use serde::Serialize;

/// How a command ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[repr(u8)]
pub enum Exit {
    /// It was done; or what was checked is sound; or the answer is yes.
    Done = 0,
    /// A check found something wrong; or the answer is no.
    Wrong = 1,
    /// It could not be done, or could not be checked.
    CouldNot = 2,
    /// The answer is: ask first.
    AskFirst = 3,
    /// The command line or the data given was not well formed.
    BadInput = 4,
    /// The passphrase was wrong, or nothing is unlocked that would open this.
    Locked = 5,
    /// Another program is writing to the ledger.
    Busy = 6,
    /// A rule refuses it; the message names the rule.
    Refused = 7,
    /// The ledger is behind the copy of its end kept outside: it may be read and not written.
    Behind = 8,
}

impl Exit {
    /// Every code, in order.
    pub const ALL: &'static [Exit] = &[
        Exit::Done,
        Exit::Wrong,
        Exit::CouldNot,
        Exit::AskFirst,
        Exit::BadInput,
        Exit::Locked,
        Exit::Busy,
        Exit::Refused,
        Exit::Behind,
    ];

    /// The number.
    pub fn code(self) -> u8 {
        self as u8
    }

    /// How a command ends that met this trouble.
    pub fn of(trouble: &Trouble) -> Exit {
        match trouble.kind {
            Kind::BadInput => Exit::BadInput,
            Kind::Locked => Exit::Locked,
            Kind::Busy => Exit::Busy,
            Kind::Refused => Exit::Refused,
            Kind::Behind => Exit::Behind,
            _ => Exit::CouldNot,
        }
    }

    /// How a check ends that met this trouble: only those that the checker's help lists. The whole program and
    /// the checker alone end alike.
    pub fn of_check(trouble: &Trouble) -> Exit {
        match Exit::of(trouble) {
            exit @ (Exit::BadInput | Exit::Locked) => exit,
            _ => Exit::CouldNot,
        }
    }

    /// Number, short name and meaning of every code, in order.
    pub fn table() -> &'static [(u8, &'static str, &'static str)] {
        &[
            (0, "done", "it was done; what was checked is sound; the answer is yes"),
            (1, "wrong", "a check found something wrong; the answer is no"),
            (2, "could-not", "it could not be done, or could not be checked"),
            (3, "ask-first", "the answer is: ask first"),
            (4, "bad-input", "the command line or the data given is not well formed"),
            (5, "locked", "the passphrase is wrong, or nothing is unlocked that would open this"),
            (6, "busy", "another program is writing; try again when it is done"),
            (7, "refused", "a rule refuses it; the message names the rule"),
            (8, "behind", "the ledger is behind the copy of its end kept outside: read it, do not write"),
        ]
    }
}

impl From<Exit> for std::process::ExitCode {
    fn from(exit: Exit) -> Self {
        std::process::ExitCode::from(exit.code())
    }
}

/// A trouble in `--json` output.
#[derive(Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct ErrorOutput {
    /// What went wrong.
    pub error: ErrorBody,
}

/// What went wrong, in three sentences.
#[derive(Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct ErrorBody {
    /// Exit code of the program.
    pub exit: u8,
    /// What happened.
    pub what: String,
    /// What is safe.
    pub safe: String,
    /// What to do next.
    pub next: String,
}

impl ErrorOutput {
    /// A trouble, and how the program ends for it.
    pub fn new(trouble: &Trouble, exit: Exit) -> ErrorOutput {
        let error = ErrorBody {
            exit: exit.code(),
            what: trouble.what.clone(),
            safe: trouble.safe.clone(),
            next: trouble.next.clone(),
        };
        ErrorOutput { error }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_lists_every_code_once_and_in_order() {
        let codes: Vec<u8> = Exit::ALL.iter().map(|exit| exit.code()).collect();
        let listed: Vec<u8> = Exit::table().iter().map(|(code, _, _)| *code).collect();
        assert_eq!(codes, listed);
        assert_eq!(codes, (0..=8).collect::<Vec<u8>>());
    }
}
