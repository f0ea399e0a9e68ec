//! What the patient, or whoever reads for them, looks for first.

use crate::copy::{Copy, day, items, need, plain, text, words};
use crate::{Point, checked};

pub const POINTS: [Point; 9] = [
    checked("the name and the dates are right", 1, whose, |c| {
        c.page = c.page.replace("02 Nov 1946", "11 Feb 1946")
    }),
    checked("what was done: side, place, days", 1, done, |c| c.patient = c.patient.replace("Which side", "")),
    checked("what was agreed, and the own consents", 1, agreed, |c| {
        let consent = *c.of("consent").next().map(|(seq, _)| seq).as_ref().unwrap();
        c.page = c.page.replace(&format!("id=\"e{consent}\""), "");
    }),
    checked("what was refused or taken back, and why", 1, refused, |c| {
        c.patient = c.patient.replace("gone light in the head", "...");
    }),
    checked("who else received copies", 3, received, |c| {
        c.patient = c.patient.replace("Guild Health Plan", "")
    }),
    checked("a file that opens at home, and sends for nothing", 1, opens_at_home, |c| {
        c.page = c.page.replace("</body>", "<img src=\"http://example.org/x.png\"/></body>");
    }),
    checked("a summary says that it is none of the record", 1, marked, |c| {
        c.patient = c.patient.replace("A SUMMARY, not the record", "");
    }),
    checked("plain words, and a glossary of those used", 1, glossary, |c| {
        c.patient = c.patient.replace("slow, repeated movement of a joint", "");
    }),
    checked("ten lines how to check the copy", 1, ten_lines, |c| {
        c.patient = c.patient.replacen("<ol class=\"tight\">\n<li>", "<ol class=\"tight\">\n", 1);
    }),
];

/// Name and birth date stand on the cover and at the head of every page, as the chart last had them.
fn whose(copy: &Copy) -> Result<(), String> {
    let opened = copy.of("chart-opened").next().ok_or("nothing says whose chart it is")?.1;
    let changed = copy.of("identity-changed").last().map(|(_, r)| r);
    let of = |field: &str| {
        let now = changed.map(|r| text(r, &format!("/data/identity/{field}"))).filter(|t| !t.is_empty());
        now.unwrap_or(text(opened, &format!("/data/identity/{field}")))
    };
    let (name, born) = (of("legal_name"), day(of("birth_date/date")));
    for (page, which) in [(&copy.page, "record"), (&copy.patient, "summary"), (&copy.clinician, "half page")]
    {
        let head = format!("{name} , born {born} , chart no. {}", text(opened, "/data/chart_no"));
        need(plain(page).contains(&head), format!("the {which} does not say at its head: {head}"))?;
    }
    let cover = plain(&copy.page);
    need(cover.contains(&format!("Born {born}")), "the cover has another birth date")
}

fn done(copy: &Copy) -> Result<(), String> {
    let page = plain(&copy.patient);
    need(page.contains("What was done What Where Which side On which days"), "no table of what was done")?;
    for (seq, note) in copy.notes() {
        for procedure in items(&note, "/data/procedures") {
            let side = text(procedure, "/side");
            need(side.is_empty() || page.contains(&format!("{side} side")), format!("no side of no. {seq}"))?;
        }
    }
    Ok(())
}

fn agreed(copy: &Copy) -> Result<(), String> {
    need(plain(&copy.patient).contains("What you agreed to, and until when"), "what was agreed is not told")?;
    for (seq, consent) in copy.of("consent") {
        need(copy.page.contains(&format!("id=\"e{seq}\"")), format!("consent {seq} is not printed"))?;
        let told = words(text(consent, "/data/explained/procedures"));
        need(plain(&copy.page).contains(&told), format!("what was explained for {seq} is not printed"))?;
    }
    Ok(())
}

fn refused(copy: &Copy) -> Result<(), String> {
    let page = plain(&copy.patient);
    for (kind, field) in [("withdrawal", "/data/patient_words"), ("standing-refusal", "/data/words")] {
        for (seq, record) in copy.of(kind) {
            let said = words(text(record, field));
            let said = said.trim_matches('"');
            need(page.contains(said), format!("the words of no. {seq} are not told: {said}"))?;
            need(!page.contains(&format!("\"\"{said}")), format!("the words of no. {seq} are quoted twice"))?;
        }
    }
    Ok(())
}

fn received(copy: &Copy) -> Result<(), String> {
    for (seq, release) in copy.of("release") {
        let to = words(text(release, "/data/to"));
        for (page, which) in
            [(plain(&copy.patient), "summary"), (copy.section("Who received copies"), "record")]
        {
            need(page.contains(&to), format!("the {which} does not say who received no. {seq}"))?;
        }
    }
    Ok(())
}

fn opens_at_home(copy: &Copy) -> Result<(), String> {
    for page in [&copy.page, &copy.patient, &copy.clinician] {
        for bad in ["src=", "http://", "https://", "<script", "<link", "url(", "@import"] {
            // The name of the drawing language is no address that anything is fetched from.
            let text = page.replace("http://www.w3.org/2000/svg", "");
            need(!text.contains(bad), format!("a page holds {bad}"))?;
        }
    }
    Ok(())
}

fn marked(copy: &Copy) -> Result<(), String> {
    for page in [&copy.patient, &copy.clinician] {
        need(page.contains("A SUMMARY, not the record"), "a summary does not say at its head what it is")?;
        need(page.contains("A summary, not the record."), "a summary does not say what it is")?;
    }
    Ok(())
}

fn glossary(copy: &Copy) -> Result<(), String> {
    let page = plain(&copy.patient);
    need(page.contains("What the words mean"), "there is no glossary")?;
    let lower = page.to_lowercase();
    for (word, meaning) in [
        ("joint mobilization", "slow, repeated movement of a joint"),
        ("thrust", "one quick, short movement of a joint"),
        ("traction", "a steady pull"),
        ("taping", "tape on the skin"),
    ] {
        need(!lower.contains(word) || page.contains(meaning), format!("\"{word}\" is not explained"))?;
    }
    Ok(())
}

fn ten_lines(copy: &Copy) -> Result<(), String> {
    let start = copy.patient.find("<ol class=\"tight\">").ok_or("no numbered lines")?;
    let lines = copy.patient[start..].matches("<li>").count();
    need(lines == 10, format!("{lines} lines say how to check it"))
}
