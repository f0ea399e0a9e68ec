//! What a board's investigator or counsel reads, in the order read.

use crate::copy::{Copy, day, items, moment, need, plain, text, words};
use crate::{Point, checked};

pub const POINTS: [Point; 11] = [
    checked("the custodian's certificate, and its limits", 1, certificate, |c| {
        c.page = c.page.replace("<h2>Statement of the custodian</h2>", "");
    }),
    checked("page count and numbering", 1, pages, |c| c.page = c.page.replace("counter(pages)", "")),
    checked("an index: happened, written, signed", 1, index, |c| {
        let last = *c.records.keys().last().unwrap();
        c.page = c.page.replace(&format!("<a href=\"#e{last}\">{last}</a>"), "");
    }),
    checked("consent before the first procedure", 1, consent_first, |c| {
        *c.data("consent", 0).pointer_mut("/explained/at").unwrap() = "2099-01-01T10:00:00Z".into();
    }),
    checked("the visit in question stands whole", 6, in_question, |c| {
        c.page = c.page.replace("Two weeks.", "");
    }),
    checked("what was written after notice is marked", 6, after_notice, |c| {
        let last = c.records.values_mut().last().unwrap();
        last["labels"] = serde_json::json!([]);
    }),
    checked("corrections: old words, new words, who, when, why", 6, corrections, |c| {
        c.page = c.page.replace("<del>", "").replace("</del>", "");
    }),
    checked("who opened the chart", 4, openings, |c| c.page = c.page.replace("Looking something up", "")),
    checked("legend, and a list of signatures", 6, signatures, |c| c.page = c.page.replace("LM-C-0688", "")),
    checked("no more than was asked for", 1, no_more, |c| {
        c.list.as_object_mut().unwrap().remove("span");
    }),
    checked("what was withheld, and why", 7, withheld, |c| c.slips.clear()),
];

fn certificate(copy: &Copy) -> Result<(), String> {
    let said = copy.section("Statement of the custodian");
    for wanted in [
        "at or near the time",
        "regular practice",
        "knowledge",
        "the seal of the entry before it",
        "does not show",
        "HAVE COUNSEL ADAPT IT",
    ] {
        need(said.contains(wanted), format!("the statement does not say \"{wanted}\""))?;
    }
    need(copy.page.contains("class=\"blank"), "there is no room to sign it")
}

fn pages(copy: &Copy) -> Result<(), String> {
    for page in [&copy.page, &copy.patient, &copy.clinician] {
        need(page.contains("counter(page) \" of \" counter(pages)"), "a page has no number")?;
    }
    need(plain(&copy.page).contains("Pages 1 to"), "the cover has no place for the number of pages")
}

fn index(copy: &Copy) -> Result<(), String> {
    let said = copy.section("Table of entries");
    need(said.contains("Happened Written Signed Late"), "the table lacks a column")?;
    for seq in copy.records.keys() {
        need(
            copy.page.contains(&format!("<a href=\"#e{seq}\">{seq}</a>")),
            format!("no. {seq} is not in it"),
        )?;
    }
    for entry in items(&copy.list, "/entries").iter().filter(|e| !e["withheld"].is_null()) {
        let seq = entry["seq"].as_u64().unwrap();
        need(
            said.contains(&format!(" {seq} {} ", entry["chart_seq"])),
            format!("withheld no. {seq} is not in it"),
        )?;
    }
    Ok(())
}

/// Every procedure rests on a consent that was explained and given before it, and a thrust on an answer of the
/// same day.
fn consent_first(copy: &Copy) -> Result<(), String> {
    for (seq, note) in copy.notes() {
        for procedure in items(&note, "/data/procedures") {
            let at = moment(procedure, "/at");
            let named =
                procedure["consent"].as_u64().ok_or(format!("a procedure of {seq} names no consent"))?;
            let consent = copy.records.get(&named).ok_or(format!("consent {named} is not in the copy"))?;
            need(moment(consent, "/happened/start") <= at, format!("consent {named} is later than {at}"))?;
            need(moment(consent, "/data/explained/at") <= at, format!("{named} was explained after {at}"))?;
            if procedure["technique"] == "thrust" {
                let asked = procedure["asked"].as_u64().and_then(|asked| copy.records.get(&asked));
                let asked = asked.ok_or(format!("nobody asked before the thrust of {seq}"))?;
                need(asked["data"]["answer"] == "yes", format!("the answer before {seq} was no yes"))?;
                need(moment(asked, "/happened/start") <= at, format!("asked after the thrust of {seq}"))?;
            }
        }
    }
    Ok(())
}

/// Of a visit that a notice is about, every word that was typed is on the page.
fn in_question(copy: &Copy) -> Result<(), String> {
    let page = plain(&copy.page);
    for (_, record) in copy.of("notice") {
        for about in items(record, "/data/about").iter().filter_map(|day| day.as_str()) {
            let of_day = |note: &serde_json::Value| text(note, "/happened/start").starts_with(about);
            let notes = copy.of("visit").filter(|(_, note)| of_day(note));
            // It may be about a day without a visit: a collision, a letter.
            for (seq, note) in notes {
                for typed in ["/data/plan/next_step", "/data/changed_since_last", "/data/advice/words"] {
                    let typed = words(text(note, typed));
                    need(page.contains(&typed), format!("of no. {seq} \"{typed}\" is not printed"))?;
                }
            }
        }
    }
    Ok(())
}

fn after_notice(copy: &Copy) -> Result<(), String> {
    let Some((first, _)) = copy.of("notice").next() else { return Ok(()) };
    for (seq, record) in copy.records.range(first + 1..) {
        let marked = items(record, "/labels").iter().any(|label| label == "after-notice");
        need(marked, format!("no. {seq} was written after notice {first}, and does not say so"))?;
        need(plain(&copy.page).contains("after notice"), "the page does not say so")?;
    }
    Ok(())
}

fn corrections(copy: &Copy) -> Result<(), String> {
    let page = plain(&copy.page);
    for (seq, correction) in copy.of("correction") {
        let data = &correction["data"];
        need(!text(data, "/reason").is_empty(), format!("correction {seq} gives no reason"))?;
        need(page.contains(&words(text(data, "/reason"))), format!("the reason of {seq} is not printed"))?;
        let mark = format!("correction no. {seq}, {}", day(text(correction, "/written")));
        need(page.contains(&mark), format!("no line says \"{mark}\""))?;
        let old = data["was"].as_str().map_or(data["was"].to_string(), words);
        let struck = copy.page.split("<del>").skip(1).filter_map(|rest| rest.split("</del>").next());
        need(struck.map(plain).any(|line| line.contains(&old)), format!("\"{old}\" is not struck"))?;
    }
    Ok(())
}

fn openings(copy: &Copy) -> Result<(), String> {
    let said = copy.section("Who opened this chart");
    need(!said.is_empty(), "there is no list of who opened the chart")?;
    for (seq, opening) in copy.of("access") {
        need(said.contains(&seq.to_string()), format!("opening {seq} is not in it"))?;
        need(
            said.contains(text(opening, "/data/words")),
            format!("the reason of opening {seq} is not in it"),
        )?;
    }
    Ok(())
}

fn signatures(copy: &Copy) -> Result<(), String> {
    let said = copy.section("Signature list");
    need(said.contains("Initials Printed name Role Licence"), "there is no list of signatures")?;
    for (seq, record) in &copy.records {
        need(said.contains(text(record, "/signed/name")), format!("who signed no. {seq} is not in it"))?;
        let treats = record["kind"] == "visit";
        let line = said.split(text(record, "/signed/name")).nth(1).unwrap_or_default();
        let licence = line.get(..80).unwrap_or(line).contains("LM-");
        need(!treats || licence, format!("no licence of who signed no. {seq}"))?;
    }
    need(!copy.section("Legend").is_empty(), "there is no legend")
}

fn withheld(copy: &Copy) -> Result<(), String> {
    let cover = plain(copy.page.split("<h2>").next().unwrap());
    for entry in items(&copy.list, "/entries").iter().filter(|entry| !entry["withheld"].is_null()) {
        let (seq, why) = (entry["seq"].as_u64().unwrap(), words(text(entry, "/withheld")));
        let slip = copy.slips.get(text(entry, "/slip")).ok_or(format!("no. {seq} has no slip"))?;
        for wanted in ["Law: ", "45 CFR 164."] {
            need(slip.contains(wanted), format!("the slip of no. {seq} lacks \"{wanted}\""))?;
        }
        if entry["reason"] != "outside-request" {
            need(slip.contains(&format!("Reason: {why}")), format!("the slip of {seq} gives no reason"))?;
            need(slip.contains("To have it reviewed"), format!("the slip of {seq} tells no review"))?;
        }
        need(cover.contains(&why), format!("the cover does not say why no. {seq} is withheld"))?;
        need(!copy.records.contains_key(&seq), format!("no. {seq} is withheld, and given"))?;
    }
    Ok(())
}

/// A payer gets the days it asked for and what they rest on, and every copy holds what its release entry says.
fn no_more(copy: &Copy) -> Result<(), String> {
    let release = copy.list["release"].as_u64().and_then(|seq| copy.records.get(&seq)).ok_or("no release")?;
    let days = items(release, "/data/what/days");
    need(days == items(&copy.list, "/span/days"), format!("released were the days {days:?}"))?;
    need(release["data"]["basis"] != "payment" || !days.is_empty(), "a payer got the whole chart")?;
    for entry in items(&copy.list, "/entries").iter().filter(|_| !days.is_empty()) {
        let record = entry["seq"].as_u64().and_then(|seq| copy.records.get(&seq));
        let own = record.filter(|_| entry["supports"].is_null() && entry["seq"] != copy.list["release"]);
        let on = own.map(|record| text(record, "/happened/start").get(..10).unwrap_or_default());
        need(on.is_none_or(|on| days.iter().any(|day| day == on)), format!("{entry} was not asked for"))?;
    }
    Ok(())
}
