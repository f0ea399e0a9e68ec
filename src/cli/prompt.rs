//! The one who is asked: a person at a terminal, or a script in a test.

use super::table::{fitted, width};
use std::collections::VecDeque;
use std::io::{self, BufRead, IsTerminal, Write};
use zeroize::Zeroizing;

/// Whoever answers questions.
pub trait Asker {
    /// True when someone is there to answer.
    fn interactive(&self) -> bool;
    /// Shows `prompt` and takes one line, without its line break. None at the end of input.
    fn line(&mut self, prompt: &str) -> io::Result<Option<String>>;
    /// Shows `prompt` and takes one line that is not shown. None when the person gave up.
    fn secret(&mut self, prompt: &str) -> io::Result<Option<Zeroizing<String>>>;
    /// Shows a line.
    fn say(&mut self, text: &str);
    /// True when a secret can be asked for, which may be so where lines cannot: the answers may
    /// come from a file while a person sits at the terminal.
    fn can_ask_secret(&self) -> bool {
        self.interactive()
    }
}

/// A person at this program's terminal. Everything shown goes to standard error, so that
/// standard output holds nothing but results.
#[derive(Debug, Default)]
pub struct TerminalAsker;

impl TerminalAsker {
    /// The terminal of this process.
    pub fn new() -> TerminalAsker {
        TerminalAsker
    }
}

impl Asker for TerminalAsker {
    fn interactive(&self) -> bool {
        io::stdin().is_terminal() && io::stderr().is_terminal()
    }

    fn line(&mut self, prompt: &str) -> io::Result<Option<String>> {
        io::stderr().write_all(prompt.as_bytes())?;
        let mut bytes = Vec::new();
        io::stdin().lock().read_until(b'\n', &mut bytes)?;
        if bytes.last() != Some(&b'\n') {
            // Input ended, perhaps within a line: what was not entered was not answered.
            io::stderr().write_all(b"\n")?;
            return Ok(None);
        }
        while bytes.last().is_some_and(|byte| matches!(byte, b'\n' | b'\r')) {
            bytes.pop();
        }
        // A byte that is no letter becomes the replacement character, which no answer accepts.
        Ok(Some(String::from_utf8_lossy(&bytes).into_owned()))
    }

    fn secret(&mut self, prompt: &str) -> io::Result<Option<Zeroizing<String>>> {
        match rpassword::prompt_password(prompt) {
            Ok(secret) => Ok(Some(Zeroizing::new(secret))),
            Err(fault)
                if matches!(fault.kind(), io::ErrorKind::UnexpectedEof | io::ErrorKind::Interrupted) =>
            {
                Ok(None)
            }
            Err(fault) => Err(fault),
        }
    }

    fn say(&mut self, text: &str) {
        // A screen that is gone is noticed by the next question; there is no one to tell here.
        let text = if io::stderr().is_terminal() { fitted(text, width()) } else { text.to_owned() };
        let _ = writeln!(io::stderr(), "{text}");
    }

    fn can_ask_secret(&self) -> bool {
        io::stderr().is_terminal()
    }
}

/// Answers laid out beforehand, for tests. Keeps what was shown.
#[derive(Debug, Default)]
pub struct ScriptedAsker {
    /// Lines still to be given; input ends after the last.
    pub lines: VecDeque<String>,
    /// Secrets still to be given; giving up after the last.
    pub secrets: VecDeque<String>,
    /// Everything shown and every line given, in order. Secrets are not in it.
    pub exchange: Vec<String>,
    present: bool,
}

impl ScriptedAsker {
    /// Someone who gives these lines and then no more.
    pub fn new<S: Into<String>>(lines: impl IntoIterator<Item = S>) -> ScriptedAsker {
        ScriptedAsker {
            lines: lines.into_iter().map(Into::into).collect(),
            secrets: VecDeque::new(),
            exchange: Vec::new(),
            present: true,
        }
    }

    /// Nobody: neither lines nor secrets can be asked for.
    pub fn nobody() -> ScriptedAsker {
        ScriptedAsker::default()
    }

    /// The same, who also gives these secrets.
    pub fn with_secrets<S: Into<String>>(mut self, secrets: impl IntoIterator<Item = S>) -> ScriptedAsker {
        self.secrets = secrets.into_iter().map(Into::into).collect();
        self
    }

    /// What was shown and typed, as one text.
    pub fn shown(&self) -> String {
        self.exchange.join("\n")
    }
}

impl Asker for ScriptedAsker {
    fn interactive(&self) -> bool {
        self.present
    }

    fn line(&mut self, prompt: &str) -> io::Result<Option<String>> {
        let line = self.lines.pop_front();
        self.exchange.push(format!("{prompt}{}", line.as_deref().unwrap_or("(end of input)")));
        Ok(line)
    }

    fn secret(&mut self, prompt: &str) -> io::Result<Option<Zeroizing<String>>> {
        self.exchange.push(format!("{prompt}(not shown)"));
        Ok(self.secrets.pop_front().map(Zeroizing::new))
    }

    fn say(&mut self, text: &str) {
        self.exchange.push(text.to_owned());
    }
}
