//! `open`: everything that is open, in one chart or in all, and how each is closed.

use super::today::{add_day_arg, day_of, due, output, remarks};
use crate::cli::context::{Context, add_who_args};
use crate::cli::exit::Exit;
use crate::cli::table::{indented, shown, width};
use crate::practice::chart::find;
use crate::practice::lists::{List, Section, gather};
use crate::record::calendar::with_weekday;
use crate::trouble::Outcome;
use clap::{Arg, Command};

/// Options of `open`.
pub fn command() -> Command {
    let cmd =
        Command::new("open").about("Everything that is open, in one chart or in all, and how it is closed");
    add_day_arg(add_who_args(cmd))
        .arg(Arg::new("chart").value_name("CHART").help("Chart number [default: all charts]"))
}

/// Shows what is open.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let day = day_of(context)?;
    let practice = context.practice()?;
    let tag = match context.text("chart") {
        Some(number) => Some(find(&practice, &number)?.tag),
        None => None,
    };
    let list = gather(&practice, tag.as_deref(), day)?;
    if context.json() {
        context.say_json(&output(&list))?;
        return Ok(Exit::Done);
    }
    let (overdue, rest) = list.sections();
    let mut lines = vec![format!("{}: everything open", with_weekday(day))];
    for (heading, sections) in [("OVERDUE", overdue), ("NOT OVERDUE", rest)] {
        if !sections.is_empty() {
            lines.push(format!("\n{heading}"));
            lines.extend(sections.iter().flat_map(|section| part(section, &list)));
        }
    }
    if list.items.is_empty() {
        lines.push("\nNothing is open.".to_string());
    }
    lines.extend(remarks(&list));
    context.say(&lines.join("\n"))?;
    Ok(Exit::Done)
}

fn part(section: &Section<'_>, list: &List) -> Vec<String> {
    let mut lines = vec![format!("\n{}", section.heading)];
    for listed in &section.items {
        let item = &listed.item;
        let mut head = vec![due(listed, list)];
        head.extend(item.chart.as_ref().map(|chart| format!("chart {}", shown(chart))));
        head.extend(listed.name.as_deref().map(shown));
        head.extend(item.entry.map(|n| format!("no. {n}")));
        lines.push(indented(&format!("{}: {}", head.join(", "), item.words), width(), 2));
        lines.push(indented(&format!("-> {}", item.remedy), width(), 6));
    }
    lines
}
