//! `note`: a visit typed at speed, one line for each finding, procedure, measure or check. Each line is in the
//! sealed draft before the next is asked for. What the lines mean is written in `schema/LINES.md`.

use super::entries::form;
use super::flow::the_chart;
use super::lines::note_draft;
use super::visit::{chart_here_arg, visit_of};
use crate::cli::context::Context;
use crate::cli::exit::Exit;
use crate::cli::plausible;
use crate::cli::record::{add_happened_args, happened};
use crate::cli::table::{indented, shown, width};
use crate::practice::drafts::Kept;
use crate::practice::note;
use crate::practice::open::Practice;
use crate::record::moment::Moment;
use crate::record::notation::line::{Line, Question, Read, Setting, read, read_back, split};
use crate::record::tables::levels::Levels;
use crate::trouble::{Kind, Outcome, Trouble};
use clap::parser::ValueSource;
use clap::{Arg, ArgAction, Command};
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;
use std::io::Read as _;

/// What came of each line, in `--json` output.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct NoteOutput {
    /// What came of each line handed in, in order; empty where none was.
    pub taken: Vec<LineOutput>,
    /// The lines of the draft, as they are now.
    pub draft: Vec<DraftLineOutput>,
}

/// What came of a line.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct LineOutput {
    /// As typed.
    pub line: String,
    /// True where it is in the draft now.
    pub kept: bool,
    /// In full words; null where it is not kept.
    pub words: Option<String>,
    /// Why it is not kept; null where it is.
    pub why: Option<String>,
    /// Ways to write it that can be read in one way only; empty where it was not ambiguous.
    pub readings: Vec<String>,
}

/// A line of the draft.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct DraftLineOutput {
    /// The number to take it out by.
    pub number: usize,
    /// The list of the note it is in.
    pub list: String,
    /// In full words.
    pub words: String,
}

const LINE_HELP: &str = "A finding, procedure, measure or check as one line: \"C5-6 R mob III 4>2\", \
     \"masseter L tender 3\", \"opening 38mm before\"; several with semicolons between; see schema/LINES.md";

/// Adds the lines behind the chart's number.
pub fn add_line_args(cmd: Command) -> Command {
    cmd.arg(Arg::new("lines").value_name("LINE").action(ArgAction::Append).num_args(0..).help(LINE_HELP))
}

/// Options of `note`.
pub fn command() -> Command {
    let cmd = chart_here_arg(Command::new("note").about(
        "Type the note of the open visit: a line each for findings, procedures, measures, checks, words",
    ));
    add_line_args(add_happened_args(cmd))
        .arg(
            Arg::new("show")
                .long("show")
                .action(ArgAction::SetTrue)
                .help("Show the lines of the draft, with their numbers"),
        )
        .arg(
            Arg::new("drop")
                .long("drop")
                .value_name("NUMBER")
                .value_parser(clap::value_parser!(u64))
                .conflicts_with("lines")
                .help("Take a line out of the draft, which is not signed yet"),
        )
}

/// The lines given behind the chart's number.
pub fn given_lines(context: &Context<'_>) -> Vec<String> {
    let lines = context.matches.try_get_many::<String>("lines").ok().flatten();
    lines.map(|lines| lines.cloned().collect()).unwrap_or_default()
}

/// A line and options for the same thing could contradict each other.
pub fn only_lines(context: &Context<'_>, form_name: &str) -> Outcome<()> {
    let typed = |name: &str| context.matches.value_source(name) == Some(ValueSource::CommandLine);
    let flags = form(form_name)?.form.questions;
    let also = flags.iter().find(|question| typed(question.flag)).map(|question| question.flag);
    match also.or_else(|| context.text("data").map(|_| "data")) {
        Some(flag) => Err(Trouble::input(
            format!("A line was given, and --{flag} as well."),
            "Say it all in the line, or all with options.",
        )),
        None => Ok(()),
    }
}

/// The chart named, and the lines: a chart number has no space in it, so that what has one is a line already.
fn chart_and_lines(context: &Context<'_>) -> (Option<String>, Vec<String>) {
    let mut lines = given_lines(context);
    let named = context.text("chart");
    match named {
        Some(line) if line.trim().contains(char::is_whitespace) => {
            lines.insert(0, line);
            (None, lines)
        }
        named => (named, lines),
    }
}

/// Runs `note`.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let (named, given) = chart_and_lines(context);
    let mut book = Book::open(context, named.as_deref())?;
    if let Some(number) = context.number("drop") {
        let number = usize::try_from(number).unwrap_or(usize::MAX);
        let gone = note::take_out(&mut book.draft, number)?;
        book.practice.keep_draft(&book.draft)?;
        if !context.json() {
            context.say(&format!("Taken out of the draft, line {number}:"))?;
            context.say(&indented(&shown(&gone.words), width(), 2))?;
        }
        return book.show(context, Vec::new());
    }
    if context.flag("show") && given.is_empty() {
        return book.show(context, Vec::new());
    }
    if given.is_empty() && context.asker.interactive() {
        return book.typed(context);
    }
    let given = if given.is_empty() { piped()? } else { given };
    if given.is_empty() {
        return Err(Trouble::input(
            "No line was given.",
            "Write lines behind the chart's number, or type them in.",
        ));
    }
    book.take_all(context, &given, None)
}

/// Adds lines of one sort: what `finding`, `procedure` and `recheck` do with lines.
pub fn add_lines(
    context: &mut Context<'_>,
    given: &[String],
    lists: &'static [&'static str],
) -> Outcome<Exit> {
    let named = context.text("chart");
    Book::open(context, named.as_deref())?.take_all(context, given, Some(lists))
}

/// The lines handed in through standard input.
fn piped() -> Outcome<Vec<String>> {
    const MOST: u64 = 1 << 20;
    let mut text = String::new();
    std::io::stdin().lock().take(MOST).read_to_string(&mut text).map_err(|e| {
        Trouble::input(format!("The lines could not be read: {e}."), "Hand them in as text, one on a line.")
    })?;
    Ok(text.lines().filter(|line| !line.trim().is_empty()).map(str::to_owned).collect())
}

/// The draft of the open visit, and who writes in it.
struct Book {
    practice: Practice,
    draft: Kept,
    /// The time given on the command line; else it is the time of typing.
    happened: Option<Moment>,
    levels: &'static Levels,
}

/// What came of reading a line, with the person's help where there is one.
enum Taken {
    Line(Line),
    No { why: String, readings: Vec<String> },
}

impl Book {
    fn open(context: &mut Context<'_>, named: Option<&str>) -> Outcome<Book> {
        let when = happened(context)?;
        let practice = context.practice()?;
        let face = the_chart(context, &practice, named)?;
        let visit = visit_of(&practice, &face)?;
        let draft = note_draft(&practice, &face, visit, when.start)?;
        let levels = Levels::shipped().map_err(Trouble::damaged)?;
        let happened = context.text("happened").map(|_| when.start);
        Ok(Book { practice, draft, happened, levels })
    }

    /// Lines typed one after another, until an empty one.
    fn typed(&mut self, context: &mut Context<'_>) -> Outcome<Exit> {
        context.asker.say(
            "One line each, or several with semicolons between; an empty line ends. For example: C5-6 R mob III 4>2",
        );
        loop {
            match context.asker.line("> ") {
                Ok(Some(typed)) if !typed.trim().is_empty() => {
                    for line in split(&typed) {
                        match self.take(context, line, None)? {
                            Ok(words) => context.asker.say(&indented(&shown(&words), width(), 2)),
                            Err((why, _)) => {
                                let what = format!("Not taken: {}: {why}.", shown(line));
                                context.asker.say(&indented(&what, width(), 2));
                            }
                        }
                    }
                }
                _ => return self.show(context, Vec::new()),
            }
        }
    }

    /// Takes every line that can be taken.
    fn take_all(
        &mut self,
        context: &mut Context<'_>,
        given: &[String],
        lists: Option<&'static [&'static str]>,
    ) -> Outcome<Exit> {
        let mut all = Vec::new();
        for line in given.iter().flat_map(|typed| split(typed)) {
            let taken = self.take(context, line, lists)?;
            if !context.json() {
                match &taken {
                    Ok(words) => context.say(&indented(&shown(words), width(), 2))?,
                    Err((why, _)) => {
                        context.asker.say(&format!("Not taken: {}", shown(line)));
                        context.asker.say(&indented(&format!("{why}."), width(), 2));
                    }
                }
            }
            let (words, why, readings) = match taken {
                Ok(words) => (Some(words), None, Vec::new()),
                Err((why, readings)) => (None, Some(why), readings),
            };
            all.push(LineOutput { line: line.to_owned(), kept: words.is_some(), words, why, readings });
        }
        let (count, refused) = (all.len(), all.iter().filter(|line| !line.kept).count());
        if context.json() {
            self.show(context, all)?;
        } else if refused < count {
            context.say("In the draft of the note, which is not signed yet.")?;
        }
        if refused == 0 {
            return Ok(Exit::Done);
        }
        if context.json() {
            return Ok(Exit::BadInput);
        }
        Err(Trouble::new(
            Kind::BadInput,
            format!("Of {count} lines, {refused} could not be taken."),
            "Every other line is kept in the sealed draft.",
            "Write these lines again; schema/LINES.md shows how lines are written.",
        ))
    }

    /// Takes one line into the draft, on disk at once. Gives it in words, or why it was not taken.
    fn take(
        &mut self,
        context: &mut Context<'_>,
        typed: &str,
        lists: Option<&'static [&'static str]>,
    ) -> Outcome<Result<String, (String, Vec<String>)>> {
        let line = match self.understand(context, typed)? {
            Taken::Line(line) => line,
            Taken::No { why, readings } => return Ok(Err((why, readings))),
        };
        if lists.is_some_and(|lists| !lists.contains(&line.list())) {
            let why =
                format!("this is a {}: use `inkfast note`, which takes every sort of line", line.sort());
            return Ok(Err((why, Vec::new())));
        }
        let line = match self.settled(context, line) {
            Ok(line) => line,
            Err(trouble) if trouble.kind == Kind::Refused => {
                let why = trouble.what.trim_end_matches('.').to_string();
                let next = "Read it again. If it is right, write the reason behind it: because=\"...\"";
                return Ok(Err((format!("{why}. {next}"), Vec::new())));
            }
            Err(trouble) => return Err(trouble),
        };
        let number = note::add(&mut self.draft, &line)?;
        self.practice.keep_draft(&self.draft)?;
        Ok(Ok(format!("{number}. {}", read_back(&line))))
    }

    /// Holds the values of a line against the limits of the adopted rules.
    fn settled(&self, context: &mut Context<'_>, line: Line) -> Outcome<Line> {
        let book = self.practice.rulebook()?;
        let mut settle = |value: Value| -> Outcome<Value> {
            let mut value = value;
            plausible::settle(context.asker, &book.tables.trade, &mut value)?;
            Ok(value)
        };
        Ok(match line {
            Line::Measure(taken) => Line::Measure(again(&taken, &mut settle)?),
            Line::Finding(found) => Line::Finding(again(&found, &mut settle)?),
            other => other,
        })
    }

    /// Reads a line; where it could mean several things, whoever is there is asked which.
    fn understand(&self, context: &mut Context<'_>, typed: &str) -> Outcome<Taken> {
        let setting = Setting {
            at: self.happened.unwrap_or_else(|| context.now().at),
            done_by: &self.practice.session.me.code,
            transitional: false,
            levels: self.levels,
        };
        let mut line = typed.to_owned();
        loop {
            let question = match read(&line, &setting) {
                Read::Line(line) => return Ok(Taken::Line(line)),
                Read::Refused(refusal) => return Ok(Taken::No { why: refusal.text, readings: Vec::new() }),
                Read::Ask(question) => question,
            };
            match choose(context, &question, &setting) {
                Some(reading) if reading != line => line = reading,
                _ => {
                    let ways = question.readings.join("  or  ");
                    let why = format!("{} Write one of: {ways}", question.text);
                    return Ok(Taken::No { why, readings: question.readings });
                }
            }
        }
    }

    /// Shows the lines of the draft.
    fn show(&self, context: &mut Context<'_>, taken: Vec<LineOutput>) -> Outcome<Exit> {
        let lines = note::lines(&self.draft);
        if context.json() {
            let draft = lines.into_iter().map(|line| DraftLineOutput {
                number: line.number,
                list: line.list.to_owned(),
                words: line.words,
            });
            context.say_json(&NoteOutput { taken, draft: draft.collect() })?;
            return Ok(Exit::Done);
        }
        if lines.is_empty() {
            context.say("The draft of this note has no lines.")?;
            return Ok(Exit::Done);
        }
        context.say("In the draft of the note, which is not signed yet:")?;
        for line in lines {
            context.say(&indented(&shown(&format!("{}. {}", line.number, line.words)), width(), 2))?;
        }
        Ok(Exit::Done)
    }
}

/// A part of a line as settled by way of its written form.
fn again<T: Serialize + DeserializeOwned>(
    part: &T,
    settle: &mut impl FnMut(Value) -> Outcome<Value>,
) -> Outcome<T> {
    let damaged = |_: serde_json::Error| Trouble::damaged("This line can't be kept.");
    serde_json::from_value(settle(serde_json::to_value(part).map_err(damaged)?)?).map_err(damaged)
}

/// The reading somebody at a terminal chose; none where nobody is there, or nothing was chosen.
fn choose(context: &mut Context<'_>, question: &Question, setting: &Setting<'_>) -> Option<String> {
    if !context.asker.interactive() {
        return None;
    }
    context.asker.say(&format!("  {}", question.text));
    for (index, reading) in question.readings.iter().enumerate() {
        let words = match read(reading, setting) {
            Read::Line(line) => read_back(&line),
            _ => reading.clone(),
        };
        context.asker.say(&indented(&shown(&format!("{} {words}", index + 1)), width(), 4));
    }
    let numbers: Vec<String> = (1..=question.readings.len()).map(|n| n.to_string()).collect();
    loop {
        let typed = context.asker.line(&format!("  {}? ", numbers.join("/"))).ok()??;
        match typed.trim() {
            "" => return None,
            typed => match typed.parse::<usize>().ok().and_then(|n| question.readings.get(n.wrapping_sub(1)))
            {
                Some(reading) => return Some(reading.clone()),
                None => {
                    context.asker.say("  Type the number of one of them, or nothing to leave the line out.")
                }
            },
        }
    }
}
