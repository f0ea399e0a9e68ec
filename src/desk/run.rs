//! Runs a command of the command line in this process, as whoever is unlocked in the browser.

use super::call::Call;
use crate::cli::app::{attempt, command};
use crate::cli::exit::Exit;
use crate::cli::prompt::Asker;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::world::World;
use clap::{ArgMatches, Command};
use serde_json::Value;
use std::collections::VecDeque;
use std::io;
use std::time::{Duration, Instant};
use zeroize::Zeroizing;

/// How long another writer is waited for.
const PATIENCE: Duration = Duration::from_secs(5);

/// What a command came to.
#[derive(Debug)]
pub struct Ran {
    /// How it ended.
    pub exit: Exit,
    /// What it printed with `--json`; null where it prints nothing.
    pub json: Value,
    /// What it remarked.
    pub said: Vec<String>,
}

/// Nobody at a terminal: secrets come from the page's form, remarks are kept for it.
struct FromPage {
    secrets: VecDeque<Zeroizing<String>>,
    said: Vec<String>,
}

impl Asker for FromPage {
    fn interactive(&self) -> bool {
        false
    }
    fn line(&mut self, _: &str) -> io::Result<Option<String>> {
        Ok(None)
    }
    fn secret(&mut self, _: &str) -> io::Result<Option<Zeroizing<String>>> {
        Ok(self.secrets.pop_front())
    }
    fn say(&mut self, text: &str) {
        self.said.push(text.to_string());
    }
    fn can_ask_secret(&self) -> bool {
        true
    }
}

/// The words of a command with who is here put in where its options allow it.
fn with_who(tree: &Command, words: &[&str], who: Option<&str>, station: &str) -> Vec<String> {
    // The innermost word takes the options: an outer one may refuse to have any beside it.
    let (mut here, mut depth) = (tree, 0);
    while let Some(below) =
        words.get(depth).filter(|word| !word.starts_with('-')).and_then(|word| here.find_subcommand(word))
    {
        (here, depth) = (below, depth + 1);
    }
    let takes = |name: &str| here.get_arguments().any(|arg| arg.get_id() == name);
    let given = |flag: &str| words.iter().any(|w| *w == flag || w.starts_with(&format!("{flag}=")));
    let mut all: Vec<String> = words[..depth].iter().map(|word| (*word).to_string()).collect();
    if let Some(code) = who.filter(|_| takes("as") && !given("--as")) {
        all.push(format!("--as={code}"));
    }
    if takes("station") && !given("--station") {
        all.push(format!("--station={station}"));
    }
    all.extend(words[depth..].iter().map(|word| (*word).to_string()));
    all
}

fn parsed(call: &Call<'_>, words: &[&str], who: Option<&str>) -> Outcome<ArgMatches> {
    let tree = command();
    let mut all = vec!["inkfast".to_string(), "--json".to_string()];
    all.push(format!("--store={}", call.desk.order.root.display()));
    all.push(format!("--outside={}", call.desk.order.outside.display()));
    all.extend(with_who(&tree, words, who, &call.desk.order.station));
    tree.try_get_matches_from(all).map_err(|e| {
        // What was typed is not repeated: it may be a name.
        let kind = e.kind().as_str().unwrap_or("not understood");
        let which =
            e.get(clap::error::ContextKind::InvalidArg).map(|arg| format!(" ({arg})")).unwrap_or_default();
        Trouble::input(
            format!("An answer is not accepted: {kind}{which}."),
            "Go back, correct it and do it again.",
        )
    })
}

/// Runs it. The secrets are given in the order they are asked for.
///
/// # Errors
/// As the command ends; another writer is waited for first.
pub fn run(call: &Call<'_>, words: &[&str], who: Option<&str>, secrets: &[&str]) -> Outcome<Ran> {
    let matches = parsed(call, words, who)?;
    let begun = Instant::now();
    loop {
        let secrets = secrets.iter().map(|s| Zeroizing::new((*s).to_string())).collect();
        let mut asker = FromPage { secrets, said: Vec::new() };
        let mut out: Vec<u8> = Vec::new();
        match attempt(&matches, World::real(), &mut asker, &mut out) {
            Err(trouble) if trouble.kind == Kind::Busy && begun.elapsed() < PATIENCE => {
                std::thread::sleep(Duration::from_millis(50));
            }
            Err(mut trouble) => {
                // What it remarked on the way says more than its last sentence: that a number was wrong, say.
                if let Some(last) = asker.said.iter().rev().find(|_| trouble.kind == Kind::Locked) {
                    trouble.what = format!("{last} {}", trouble.what);
                }
                return Err(trouble);
            }
            Ok(exit) => {
                let json = serde_json::from_slice(&out).unwrap_or(Value::Null);
                return Ok(Ran { exit, json, said: asker.said });
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(typed: &[&str]) -> String {
        with_who(&command(), typed, Some("IV"), "room 1").join(" ")
    }

    #[test]
    fn who_is_here_is_put_in_where_the_command_takes_it_and_nowhere_else() {
        assert_eq!(words(&["today"]), "today --as=IV --station=room 1");
        assert_eq!(
            words(&["may", "PM-0112", "--side=left"]),
            "may --as=IV --station=room 1 PM-0112 --side=left"
        );
        assert_eq!(words(&["today", "--as", "HL"]), "today --station=room 1 --as HL");
        assert!(words(&["request", "list"]).contains("--as=IV"));
        assert_eq!(
            words(&["consent", "receipt", "PM-0112"]),
            "consent receipt --as=IV --station=room 1 PM-0112"
        );
        assert_eq!(words(&["lock"]), "lock");
    }
}
