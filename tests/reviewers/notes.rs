//! What makes notes look like templates, or like an answer to a complaint: their words.

use crate::copy::{Copy, items, need, text};
use crate::{Answer, Point, checked};
use serde_json::{Value, json};

pub const POINTS: [Point; 11] = [
    checked("uniform notes", 1, uniform, |c| {
        let first = c.data("visit", 2).clone();
        *c.data("visit", 3) = first;
    }),
    checked("the same measures visit after visit", 1, same_measures, |c| {
        let first = c.data("visit", 2)["measures"].clone();
        for nth in 3..5 {
            c.data("visit", nth)["measures"] = first.clone();
        }
    }),
    checked("the side of a template", 6, sides, |c| c.records.retain(|_, r| r["kind"] != "correction")),
    checked("the sex of a template", 6, pronouns, |c| {
        c.data("visit", 3)["changed_since_last"] = json!("As he says, better; as she says, worse.");
    }),
    checked("a note longer than its neighbours, of the bad day", 6, longer, |c| {
        c.data("visit", 5)["plan"]["next_step"] = json!("Two weeks. ".repeat(600));
    }),
    checked("defensive words", 1, defensive, |c| {
        c.data("visit", 3)["plan"]["next_step"] = json!("Obviously nothing was wrong.");
    }),
    checked("blame of the patient", 1, blame, |c| {
        c.data("visit", 3)["changed_since_last"] = json!("Non-compliant as ever.");
    }),
    checked("counsel or insurer in a note", 1, counsel, |c| {
        c.data("visit", 3)["changed_since_last"] = json!("Says that her attorney wants it.");
    }),
    checked("abbreviations without a key", 6, abbreviations, |c| {
        c.data("visit", 3)["plan"]["next_step"] = json!("QZX daily.");
    }),
    Point {
        name: "billing for regions the note does not show",
        bent: 1,
        answer: Answer::Noted(
            "No bill is kept in a chart, so none is in a package; what was billed is compared by whoever has both.",
        ),
    },
    Point {
        name: "something was left unwritten",
        bent: 1,
        answer: Answer::Noted(
            "Nothing in a package can show it. The statement and the check of every copy say so among their limits.",
        ),
    },
];

/// Every text that was typed in a note, with where it stands.
fn typed(value: &Value, out: &mut Vec<String>) {
    match value {
        Value::String(text) if text.contains(' ') => out.push(text.clone()),
        Value::Array(items) => items.iter().for_each(|item| typed(item, out)),
        Value::Object(fields) => fields.values().for_each(|item| typed(item, out)),
        _ => {}
    }
}

fn sentences(note: &Value) -> Vec<String> {
    let mut out = Vec::new();
    typed(&note["data"], &mut out);
    out
}

/// What clinicians wrote: notes, and what adds to them.
fn written(copy: &Copy) -> Vec<(u64, String)> {
    let kinds = ["visit", "addendum", "late-entry", "correction"];
    let these = copy.records.iter().filter(|(_, r)| kinds.contains(&text(r, "/kind")));
    these.flat_map(|(seq, r)| sentences(r).into_iter().map(|one| (*seq, one))).collect()
}

/// No word of a list stands in what clinicians wrote, but between quotation marks: there the patient speaks.
fn none_of(copy: &Copy, list: &[&str]) -> Result<(), String> {
    for (seq, sentence) in written(copy) {
        let own: String = sentence.split('"').step_by(2).collect::<Vec<_>>().join(" ").to_lowercase();
        let found = list.iter().find(|word| own.contains(**word));
        need(found.is_none(), format!("no. {seq}: \"{sentence}\""))?;
    }
    Ok(())
}

fn uniform(copy: &Copy) -> Result<(), String> {
    let notes = copy.notes();
    for pair in notes.windows(2) {
        let (before, now) = (sentences(&pair[0].1), sentences(&pair[1].1));
        let same = now.iter().filter(|one| before.contains(one)).count();
        need(same * 10 < now.len() * 9, format!("no. {} is no. {} once more", pair[1].0, pair[0].0))?;
    }
    Ok(())
}

fn same_measures(copy: &Copy) -> Result<(), String> {
    let notes = copy.notes();
    for three in notes.windows(3) {
        let all: Vec<_> = three.iter().map(|(_, note)| items(note, "/data/measures")).collect();
        let alike = all[0].len() > 1 && all[0] == all[1] && all[1] == all[2];
        need(!alike, format!("no. {} has the measures of the two before it", three[2].0))?;
    }
    Ok(())
}

/// Where a region has findings on one side only, nothing was done on the other side of it.
fn sides(copy: &Copy) -> Result<(), String> {
    for (seq, note) in copy.notes() {
        for procedure in items(&note, "/data/procedures") {
            let other = match text(procedure, "/side") {
                "left" => "right",
                "right" => "left",
                _ => continue,
            };
            let found = items(&note, "/data/findings").iter().filter(|f| f["region"] == procedure["region"]);
            let found: Vec<_> = found.filter(|f| !f["side"].is_null()).collect();
            let only_other = !found.is_empty() && found.iter().all(|finding| finding["side"] == other);
            need(!only_other, format!("no. {seq}: found {other}, done on the other side"))?;
        }
    }
    Ok(())
}

/// One patient is not "he" in one note and "she" in another.
fn pronouns(copy: &Copy) -> Result<(), String> {
    let mut seen: [Option<String>; 2] = [None, None];
    for (seq, note) in copy.notes() {
        for sentence in sentences(&note) {
            let own: String = sentence.split('"').step_by(2).collect::<Vec<_>>().join(" ");
            let words: Vec<String> = own.split(|c: char| !c.is_alphabetic()).map(str::to_lowercase).collect();
            for (at, word) in ["he", "she"].iter().enumerate() {
                if words.iter().any(|one| one == word) {
                    seen[at].get_or_insert(format!("no. {seq}: \"{sentence}\""));
                }
            }
        }
    }
    match seen {
        [Some(he), Some(she)] => Err(format!("{he}; {she}")),
        _ => Ok(()),
    }
}

/// A note of a day that somebody complained of, or of a reaction, is no longer than twice the usual.
fn longer(copy: &Copy) -> Result<(), String> {
    let length = |note: &Value| note["data"].to_string().len();
    let mut all: Vec<usize> = copy.of("visit").map(|(_, note)| length(note)).collect();
    all.sort_unstable();
    let Some(usual) = all.get(all.len() / 2) else { return Ok(()) };
    let bad: Vec<&str> = copy
        .of("notice")
        .flat_map(|(_, r)| items(r, "/data/about").iter().filter_map(Value::as_str))
        .chain(copy.of("reaction").filter_map(|(_, r)| text(r, "/happened/start").get(..10)))
        .collect();
    for (seq, note) in copy.of("visit") {
        let of_bad = bad.iter().any(|day| text(note, "/happened/start").starts_with(day));
        need(!of_bad || length(note) <= usual * 2, format!("no. {seq} is far longer than the others"))?;
    }
    Ok(())
}

fn defensive(copy: &Copy) -> Result<(), String> {
    let list = [
        "obviously",
        "clearly within",
        "flawless",
        "perfectly performed",
        "beyond reproach",
        "correctly performed",
    ];
    none_of(copy, &list)
}

fn blame(copy: &Copy) -> Result<(), String> {
    let list = [
        "compliant",
        "uncooperative",
        "difficult patient",
        "own fault",
        "refuses to listen",
        "malinger",
        "exaggerat",
    ];
    none_of(copy, &list)
}

fn counsel(copy: &Copy) -> Result<(), String> {
    none_of(copy, &["attorney", "lawyer", "lawsuit", "insurer", "malpractice", "liability"])
}

/// Every word in capitals that a clinician wrote is in the legend, or on the list of signatures.
fn abbreviations(copy: &Copy) -> Result<(), String> {
    let key = format!("{} {}", copy.section("Legend"), copy.section("Signature list"));
    let chart_no = copy.of("chart-opened").next().map(|(_, r)| text(r, "/data/chart_no").to_string());
    for (seq, sentence) in written(copy) {
        for word in sentence.split(|c: char| !c.is_alphanumeric()) {
            let capitals = word.len() > 1 && word.chars().all(|c| c.is_ascii_uppercase());
            let known = key.contains(word) || chart_no.as_ref().is_some_and(|no| no.contains(word));
            need(!capitals || known, format!("no. {seq}: {word} is in no key"))?;
        }
    }
    Ok(())
}
