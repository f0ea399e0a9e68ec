//! `request check`: who asks, their papers, or what the notes of the days asked for lack.

use super::number;
use super::output::LackingOutput;
use super::steps::{refused, say, step};
use crate::cli::context::Context;
use crate::cli::exit::Exit;
use crate::cli::table::{indented, shown, width};
use crate::practice::chart::{access, note_access};
use crate::practice::lists::gather;
use crate::practice::open::Practice;
use crate::practice::request::{Dealing, dealing};
use crate::practice::request_lists::{VisitLacks, lacking};
use crate::record::kinds::Data;
use crate::record::kinds::release::{AccessWhy, Step};
use crate::record::kinds::request::{AuthorizationRead, Checked};
use crate::record::moment::plain_date;
use crate::record::open_items::ItemKind;
use crate::record::request::authorization::judge;
use crate::trouble::{Outcome, Trouble};
use serde_json::{Map, Value, json};

/// Checks.
pub fn run(context: &mut Context<'_>) -> Outcome<Exit> {
    let mut found: Option<(usize, Vec<VisitLacks>)> = None;
    let (mut practice, after, receipt) = step(context, "request-check", |data, practice, dealing| {
        let what = data.get("checked").and_then(Value::as_str).and_then(Checked::from_word);
        match what {
            Some(Checked::MissingList) => {
                let looked = lacking(practice, dealing)?;
                list_step(data, &looked);
                found = Some(looked);
                Ok(Step::MissingListRun)
            }
            Some(Checked::Authorization) => authorization(data, practice),
            Some(what) => other(data, dealing, what),
            None => {
                Err(Trouble::input("What is checked?", format!("One of: {}.", Checked::WORDS.join(", "))))
            }
        }
    })?;
    let Some((seen, found)) = found else { return say(context, &practice, &after, &receipt, None) };
    // The notes were read for it, so the chart was opened.
    let mut opening =
        access(AccessWhy::Request, Some("what the notes of the days asked for lack".to_string()));
    opening.request = Some(after.standing.seq);
    note_access(&mut practice, &after.face.tag, opening)?;
    if !context.json() {
        for line in list_lines(&practice, &after, seen, &found)? {
            context.say(&line)?;
        }
    }
    let after = dealing(&practice, number(context))?;
    let rows = found.into_iter().map(|one| LackingOutput { visit: one.kept, remarks: one.remarks }).collect();
    say(context, &practice, &after, &receipt, Some(rows))
}

/// What is kept of the list: days and numbers, for the step is open to the desk.
fn list_step(data: &mut Map<String, Value>, (seen, found): &(usize, Vec<VisitLacks>)) {
    let unsigned = found.iter().filter(|one| one.kept.unsigned).count();
    let words = format!(
        "visits looked at: {seen}; without a signed note: {unsigned}; with a note that lacks something: {}",
        found.len() - unsigned
    );
    let kept: Vec<_> = found.iter().map(|one| &one.kept).collect();
    data.insert("words".into(), json!(words));
    data.insert("holds".into(), json!(true));
    if !kept.is_empty() {
        data.insert("lacking".into(), json!(kept));
    }
}

fn list_lines(
    practice: &Practice,
    after: &Dealing,
    seen: usize,
    found: &[VisitLacks],
) -> Outcome<Vec<String>> {
    let mut lines = vec![format!("Visits of the days asked for: {seen}.")];
    for one in found {
        let day = plain_date(one.kept.day.0);
        if one.kept.unsigned {
            lines.push(format!("  {day}, visit {}: NO SIGNED NOTE", one.kept.visit));
        }
        for remark in &one.remarks {
            let text = format!("{day}, visit {}: {}: {}", one.kept.visit, remark.item, remark.words);
            lines.push(indented(&shown(&text), width(), 2));
        }
    }
    if found.is_empty() {
        lines.push("  Every one has a signed note, and none lacks anything.".to_string());
    }
    let open = gather(practice, Some(&after.face.tag), practice.now().local_date())?;
    let others =
        open.items.iter().filter(|l| !matches!(l.item.kind, ItemKind::Request | ItemKind::Amendment));
    let others: Vec<String> = others
        .map(|listed| format!("  {}: {}", listed.item.kind.heading(), shown(&listed.item.words)))
        .collect();
    if !others.is_empty() {
        lines.push("Open in this chart besides:".to_string());
        lines.extend(others);
    }
    lines.push(
        "Nothing is improved now. What the author still remembers is a late entry and is labelled so; what is signed \
         stays as it is."
            .to_string(),
    );
    Ok(lines)
}

/// An authorization is judged on the day it is read; it is judged once more when something goes out on it.
fn authorization(data: &mut Map<String, Value>, practice: &Practice) -> Outcome<Step> {
    let given = data.remove("authorization").unwrap_or_else(|| json!({}));
    let mut read: AuthorizationRead = serde_json::from_value(given).map_err(|e| {
        Trouble::input(format!("The authorization can't be recorded: {e}."), "Correct it and do it again.")
    })?;
    let verdict = judge(&read, &practice.rulebook()?.tables, practice.now())
        .map_err(|why| refused(why, "Correct the adopted rules and adopt them again."))?;
    read.missing = verdict.missing_codes();
    read.defects = verdict.defect_codes();
    data.insert("authorization".into(), json!(read));
    data.insert("holds".into(), json!(verdict.is_usable()));
    Ok(Step::AuthorityChecked)
}

/// Who asks, the right to receive, an assurance, an order. An assurance that is not there was asked for.
fn other(data: &mut Map<String, Value>, dealing: &Dealing, what: Checked) -> Outcome<Step> {
    let holds = data.get("holds").and_then(Value::as_bool) == Some(true);
    let paper = data.get("attachment").and_then(Value::as_u64);
    let entry = data.get("rests_on").and_then(Value::as_u64);
    if let Some(seq) = entry {
        let known = dealing.entries.iter().find(|known| known.leaf.seq == seq);
        if !matches!(known.and_then(|known| known.data()), Some(Data::DecisionMaker(_))) {
            return Err(Trouble::input(
                format!("Entry {seq} of this chart does not say who decides for the patient."),
                "Look its number up with `inkfast print`.",
            ));
        }
    }
    if holds && what != Checked::Identity && paper.is_none() && entry.is_none() {
        return Err(refused(
            "Nothing shows it: a right to receive, an assurance and an order rest on a paper on file.",
            "Attach the paper with `inkfast attach`, then give its number with --paper.",
        ));
    }
    Ok(match what {
        Checked::Identity => Step::IdentityChecked,
        Checked::Assurance if holds => Step::AssuranceReceived,
        Checked::Assurance => Step::AskedInWriting,
        _ => Step::AuthorityChecked,
    })
}
