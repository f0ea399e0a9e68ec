//! What makes a record look put together afterwards: numbers, times, versions, who and when.

use crate::copy::{Copy, items, moment, need, plain, text};
use crate::{Answer, Point, checked};
use inkfast::record::moment::{Moment, parse_date};
use serde_json::{Value, json};
use std::collections::BTreeMap;

pub const POINTS: [Point; 16] = [
    checked("a late entry without a reason", 1, late_reason, |c| {
        c.data("late-entry", 0)["because"] = json!(" ")
    }),
    checked("entries bunched late on one evening", 1, bunched, |c| {
        for record in c.records.values_mut().take(4) {
            record["labels"] = json!(["late-entry"]);
            record["written"] = json!("2023-06-21T20:00:00-04:00");
        }
    }),
    checked("many openings, and then clarifications", 4, burst, |c| {
        let correction = c.records.values_mut().find(|r| r["kind"] == "correction").unwrap();
        correction["written"] = json!("2024-05-15T09:00:00-04:00");
        correction["data"]["amendment"] = Value::Null;
    }),
    checked("consent signed later than the procedure", 1, consent_after, |c| {
        let consent = c.records.values_mut().find(|r| r["kind"] == "consent").unwrap();
        consent["written"] = json!("2023-05-01T10:00:00-04:00");
    }),
    checked("one picture of a signature on several forms", 1, one_signature, |c| {
        for nth in 0..2 {
            c.data("consent", nth)["signature"] = json!("ab".repeat(32));
        }
    }),
    checked("a form edition that did not exist that day", 1, editions, |c| {
        c.data("consent", 0)["wording"] = json!("F2");
    }),
    checked("a paper dated after the visit, without a remark", 3, papers, |c| {
        let paper = c.data("attachment", 0);
        paper["made_on"] = json!("2099-01-01");
    }),
    checked("missing numbers", 1, numbers, |c| {
        c.list["entries"].as_array_mut().unwrap().remove(3);
    }),
    Point {
        name: "other contents in two productions",
        bent: 3,
        answer: Answer::Compared(two_productions, |c| {
            c.entries.get_mut("entries/000009.record.json").unwrap()[20] ^= 1;
        }),
    },
    checked("pictures of a screen in the place of records", 1, no_screens, |c| {
        c.entries.remove("entries/000009.record.json");
    }),
    checked("a clock that was wrong, and nothing explains it", 6, clock, |c| {
        c.page = c.page.replace("Clock remark", "");
    }),
    checked("every time at the full hour", 1, full_hours, |c| {
        for record in c.records.values_mut() {
            record["written"] = json!("2023-01-01T10:00:00-05:00");
            record["happened"] = json!({ "start": "2023-01-01T10:00:00-05:00" });
        }
    }),
    checked("no trail of who opened and who received", 1, trail, |c| {
        c.page = c.page.replace("<h2>Who opened this chart</h2>", "");
    }),
    checked("only final versions", 4, versions, |c| c.page = c.page.replace("<del>", "<ins>")),
    checked("a correction by somebody who was not there", 6, by_author, |c| {
        let correction = c.records.values_mut().find(|r| r["kind"] == "correction").unwrap();
        correction["author"]["code"] = json!("HL");
    }),
    checked("notes that answer a complaint", 6, answering, |c| {
        let last = *c.records.keys().last().unwrap();
        let mut note = c.of("visit").next().unwrap().1.clone();
        note["labels"] = json!([]);
        c.records.insert(last + 1, note);
    }),
];

fn has_label(record: &Value, label: &str) -> bool {
    items(record, "/labels").iter().any(|one| one == label)
}

fn late_reason(copy: &Copy) -> Result<(), String> {
    for (seq, record) in &copy.records {
        let late = has_label(record, "late-entry") || has_label(record, "finished-next-day");
        let needs = late && matches!(text(record, "/kind"), "visit" | "late-entry");
        let why = ["/data/because", "/data/finished_later_because"].map(|p| text(record, p).trim());
        need(!needs || why.iter().any(|why| !why.is_empty()), format!("no. {seq} is late and says not why"))?;
        need(record["kind"] != "late-entry" || late, format!("no. {seq} is a late entry without the label"))?;
    }
    Ok(())
}

fn bunched(copy: &Copy) -> Result<(), String> {
    let mut days: BTreeMap<&str, u32> = BTreeMap::new();
    for record in copy.records.values().filter(|record| has_label(record, "late-entry")) {
        *days.entry(text(record, "/written").get(..10).unwrap()).or_default() += 1;
    }
    match days.iter().find(|(_, n)| **n > 3) {
        Some((day, n)) => Err(format!("{n} late entries were written on {day}")),
        None => Ok(()),
    }
}

/// Three openings or more within a month, and within three days of the last an entry that puts right without
/// anybody having asked for it.
fn burst(copy: &Copy) -> Result<(), String> {
    let opened: Vec<Moment> = copy.of("access").map(|(_, r)| moment(r, "/happened/start")).collect();
    for (seq, record) in &copy.records {
        if !matches!(text(record, "/kind"), "correction" | "addendum" | "late-entry")
            || record["data"]["amendment"].is_u64()
        {
            continue;
        }
        let at = moment(record, "/written").unix();
        let days = |moment: &&Moment| (at - moment.unix()) / 86_400;
        let before: Vec<_> = opened.iter().filter(|m| m.unix() < at && days(m) < 31).collect();
        let fresh = before.iter().any(|m| days(m) <= 3);
        need(before.len() < 3 || !fresh, format!("no. {seq} follows {} openings", before.len()))?;
    }
    Ok(())
}

/// A consent was written down before the note whose procedures it bears.
fn consent_after(copy: &Copy) -> Result<(), String> {
    for (seq, note) in copy.of("visit") {
        for named in items(note, "/data/procedures").iter().filter_map(|p| p["consent"].as_u64()) {
            let consent = copy.records.get(&named).ok_or(format!("consent {named} is not here"))?;
            let first = moment(consent, "/written") <= moment(note, "/written") && named < seq;
            need(first, format!("consent {named} was written after the note {seq} that rests on it"))?;
        }
    }
    Ok(())
}

fn one_signature(copy: &Copy) -> Result<(), String> {
    let mut seen = Vec::new();
    for (seq, consent) in copy.of("consent") {
        let picture = &consent["data"]["signature"];
        need(picture.is_null() || !seen.contains(&picture), format!("the signature of {seq} stood before"))?;
        seen.push(picture);
    }
    Ok(())
}

/// The texts at the end of the page say from when each edition was in use.
fn editions(copy: &Copy) -> Result<(), String> {
    let texts = copy.section("Texts that were signed or given");
    for (seq, consent) in copy.of("consent") {
        let edition = text(consent, "/data/wording");
        if edition.is_empty() {
            continue;
        }
        let told = texts.split(&format!("edition {edition} ,")).nth(1);
        let told = told.ok_or(format!("edition {edition} of consent {seq} is not in the copy"))?;
        let from = told.split("in use from ").nth(1).and_then(|rest| rest.get(..11));
        let from = from.ok_or(format!("edition {edition} does not say from when it was in use"))?;
        let signed = moment(consent, "/happened/start").local_date();
        let from = jiff::civil::Date::strptime("%d %b %Y", from).map_err(|e| e.to_string())?;
        need(from <= signed, format!("consent {seq} was signed on edition {edition} before it was in use"))?;
    }
    Ok(())
}

fn papers(copy: &Copy) -> Result<(), String> {
    for (seq, paper) in copy.of("attachment") {
        let Some(made) = parse_date(text(paper, "/data/made_on")) else { continue };
        let taken_in = moment(paper, "/happened/start").local_date();
        need(made <= taken_in, format!("paper {seq} is dated after the day it was taken in"))?;
        let elsewhere = paper["data"]["not_made_here"] == true;
        let received = parse_date(text(paper, "/data/received_on"));
        need(!elsewhere || received.is_some_and(|on| made <= on), format!("paper {seq}: received when?"))?;
    }
    Ok(())
}

fn numbers(copy: &Copy) -> Result<(), String> {
    let listed = items(&copy.list, "/entries").iter().map(|entry| entry["chart_seq"].as_u64().unwrap());
    need(listed.clone().eq(1..=listed.clone().count() as u64), "the numbers in the chart have a gap")?;
    need(plain(&copy.page).contains("none: every number in the chart from 1"), "the cover names a gap")
}

fn two_productions(earlier: &Copy, later: &Copy) -> Result<(), String> {
    let both =
        earlier.entries.iter().filter_map(|(name, bytes)| Some((name, bytes, later.entries.get(name)?)));
    let mut compared = 0;
    for (name, before, now) in both {
        need(before == now, format!("{name} is another one than in {}", earlier.file))?;
        compared += 1;
    }
    need(compared > 0, "nothing is in both")
}

fn no_screens(copy: &Copy) -> Result<(), String> {
    for entry in items(&copy.list, "/entries").iter().filter(|entry| entry["withheld"].is_null()) {
        let name = format!("entries/{:06}.record.json", entry["chart_seq"].as_u64().unwrap());
        need(copy.entries.contains_key(&name), format!("{name} is missing"))?;
    }
    let shot = |title: &str| title.to_lowercase().contains("screenshot");
    let found = copy.of("attachment").find(|(_, paper)| shot(text(paper, "/data/title")));
    need(found.is_none(), "a picture of a screen stands for a record")
}

fn clock(copy: &Copy) -> Result<(), String> {
    let wrong = copy.records.values().any(|r| has_label(r, "clock-behind") || has_label(r, "clock-ahead"));
    need(
        !wrong || plain(&copy.page).contains("Clock remark"),
        "an entry has a wrong time, and nothing says why",
    )?;
    let explained = plain(&copy.page).matches("behind").count() >= 2;
    need(!wrong || explained, "the remark does not say how wrong the clock was")
}

fn full_hours(copy: &Copy) -> Result<(), String> {
    let (mut all, mut full) = (0u32, 0u32);
    for record in copy.records.values() {
        let procedures = items(record, "/data/procedures").iter().map(|p| text(p, "/at"));
        for at in procedures.chain([text(record, "/happened/start"), text(record, "/written")]) {
            all += 1;
            full += u32::from(at.get(14..16) == Some("00"));
        }
    }
    need(full * 4 < all, format!("{full} of {all} times are at the full hour"))
}

fn trail(copy: &Copy) -> Result<(), String> {
    for heading in ["Who received copies", "Who opened this chart", "Digests of the entries"] {
        need(!copy.section(heading).is_empty(), format!("\"{heading}\" is missing"))?;
    }
    Ok(())
}

fn versions(copy: &Copy) -> Result<(), String> {
    let (corrected, struck) = (copy.of("correction").count(), copy.page.matches("<del>").count());
    need(struck >= corrected, format!("{corrected} corrections, and {struck} lines struck"))
}

fn by_author(copy: &Copy) -> Result<(), String> {
    for (seq, correction) in copy.of("correction") {
        let target = copy.records.get(&correction["data"]["target"].as_u64().unwrap());
        let target = target.ok_or(format!("what no. {seq} corrects is not here"))?;
        let own = target["author"]["code"] == correction["author"]["code"];
        let why = text(correction, "/data/by_custodian_because");
        need(own || !why.is_empty(), format!("no. {seq} corrects another's words, and says not why"))?;
    }
    Ok(())
}

/// No clinical entry was written after a notice without its mark, and none of the days it is about.
fn answering(copy: &Copy) -> Result<(), String> {
    let Some((first, notice)) = copy.of("notice").next() else { return Ok(()) };
    let about = items(notice, "/data/about");
    for (seq, record) in copy.records.range(first + 1..) {
        let clinical = matches!(text(record, "/kind"), "visit" | "correction" | "addendum" | "late-entry");
        let day = text(record, "/happened/start").get(..10).unwrap_or_default();
        need(!clinical || has_label(record, "after-notice"), format!("no. {seq} bears no mark"))?;
        need(
            !clinical || !about.iter().any(|one| one == day),
            format!("no. {seq} tells of {day} once more"),
        )?;
    }
    Ok(())
}
