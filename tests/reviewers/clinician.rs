//! What another clinician looks for on the half page.

use crate::copy::{Copy, day, items, need, plain, text, words};
use crate::{Point, checked};

pub const POINTS: [Point; 8] = [
    checked("half a page, and two for the patient", 1, short, |c| {
        c.patient = c.patient.replace("<li>", &format!("<li>{}", "and more of it ".repeat(40)));
    }),
    checked("alerts, latex and bones first", 1, alerts, |c| {
        c.clinician = c.clinician.replace("ANTICOAGULANT", "")
    }),
    checked("the working diagnosis and its date", 6, diagnosis, |c| {
        c.clinician = c.clinician.replace("27 Aug 2024: Stiff upper back", "27 Aug 2024: None");
    }),
    checked("what was tried, and the response", 6, tried, |c| {
        for word in ["left out here for want of room", "T5-T6", "SI "] {
            c.clinician = c.clinician.replace(word, "");
        }
    }),
    checked("measures over time: date, measure, before, after", 6, measures, |c| {
        c.clinician = c.clinician.replace("Before</th>", "</th>");
    }),
    checked("last visit, plan, and the last three notes", 6, last, |c| {
        c.clinician = c.clinician.replace("With Ingrith from September.", "");
    }),
    checked("red-flag screens with their dates", 6, screens, |c| {
        c.clinician = c.clinician.replace("02 Oct 2023, general", "general");
    }),
    checked("adverse responses and pictures taken", 2, adverse, |c| {
        c.clinician = c.clinician.replace("Report: neck, three views", "");
    }),
];

fn half(copy: &Copy) -> String {
    plain(&copy.clinician)
}

fn alerts(copy: &Copy) -> Result<(), String> {
    let page = half(copy);
    let heads = ["To be minded first", "Working diagnosis", "What was tried", "Measures over time"];
    let places: Vec<_> = heads.iter().map(|head| page.find(head)).collect();
    need(places.iter().all(Option::is_some) && places.is_sorted(), "the half page is in another order")?;
    need(
        page.contains("Latex:") && page.to_lowercase().contains("osteoporosis"),
        "latex or bones not named",
    )?;
    let ended: Vec<_> = copy.of("alert").filter_map(|(_, r)| r["data"]["ends"].as_u64()).collect();
    for (seq, alert) in
        copy.of("alert").filter(|(seq, r)| !ended.contains(seq) && r["data"]["ends"].is_null())
    {
        let kind = text(alert, "/data/kind").replace('-', " ").to_uppercase();
        need(page.contains(&format!("{kind} since")), format!("alert {seq} is not told"))?;
    }
    Ok(())
}

fn diagnosis(copy: &Copy) -> Result<(), String> {
    let notes = copy.notes();
    let newest = notes.iter().rev().find(|(_, note)| !items(note, "/data/assessment/diagnoses").is_empty());
    let Some((_, note)) = newest else { return Ok(()) };
    let said = words(text(note, "/data/assessment/diagnoses/0/words"));
    let wanted = format!("{}: {said}", day(text(note, "/happened/start")));
    need(half(copy).contains(&wanted), format!("it does not say {wanted}"))
}

fn tried(copy: &Copy) -> Result<(), String> {
    let page = half(copy);
    need(page.contains("What Where, side When Response"), "no table of what was tried")?;
    for (seq, note) in copy.notes() {
        for procedure in items(&note, "/data/procedures") {
            let thrust = procedure["technique"] == "thrust";
            for level in items(procedure, "/segments").iter().filter_map(|s| s.as_str()).filter(|_| thrust) {
                // What there is no room for is said to be in the record.
                let told = page.contains(level) || page.contains("left out here for want of room");
                need(told, format!("the thrust of no. {seq} at {level} is not told"))?;
            }
        }
    }
    Ok(())
}

fn measures(copy: &Copy) -> Result<(), String> {
    let any = copy.notes().iter().any(|(_, note)| !items(note, "/data/measures").is_empty());
    need(!any || half(copy).contains("Date Measure Before After"), "no table of measures")
}

fn last(copy: &Copy) -> Result<(), String> {
    let (page, notes) = (half(copy), copy.notes());
    let Some((_, newest)) = notes.iter().max_by_key(|(_, note)| text(note, "/happened/start").to_string())
    else {
        return Ok(());
    };
    let plan = words(text(newest, "/data/plan/next_step"));
    need(page.contains(&format!("Plan: {plan}")), format!("the plan is not told: {plan}"))?;
    for (seq, note) in notes.iter().rev().take(3) {
        let told = format!("no. {seq} of {}", day(text(note, "/happened/start")));
        need(page.contains(&told), format!("the last notes do not name {told}"))?;
    }
    Ok(())
}

fn screens(copy: &Copy) -> Result<(), String> {
    let page = half(copy);
    for (seq, screen) in copy.of("screen").collect::<Vec<_>>().into_iter().rev().take(2) {
        let told =
            format!("{}, {} (no. {seq})", day(text(screen, "/happened/start")), text(screen, "/data/screen"));
        need(page.contains(&told), format!("a screen is not told: {told}"))?;
    }
    Ok(())
}

fn adverse(copy: &Copy) -> Result<(), String> {
    let page = half(copy);
    for (seq, reaction) in copy.of("reaction") {
        let what = words(text(reaction, "/data/what"));
        need(page.contains(&what), format!("reaction {seq} is not told"))?;
    }
    for (seq, paper) in copy.of("attachment") {
        let picture = matches!(text(paper, "/data/kind"), "x-ray" | "imaging-report");
        let title = words(text(paper, "/data/title"));
        need(!picture || page.contains(&title), format!("picture {seq} is not told"))?;
    }
    Ok(())
}

/// In characters: some 150 of the half page's small type stand on a line and 26 lines on half a page; some 95 of the
/// patient's on a line, 55 lines on a page, a third of them empty or short. Measured once on the printed pages.
fn short(copy: &Copy) -> Result<(), String> {
    for (page, most, which) in [(half(copy), 3_900, "half page"), (plain(&copy.patient), 7_600, "two pages")]
    {
        need(page.len() <= most, format!("the {which} has {} characters", page.len()))?;
    }
    Ok(())
}
