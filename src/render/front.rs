//! What stands before the record: the cover slip, the custodian's statement, the table of entries.

use super::entry::{Desk, two_lines};
use super::html::{TABLE_END, entry_link, esc, said, table_start, tr};
use super::set::{LAYOUT_EDITION, PrintedEntry};
use super::words;
use crate::record::kinds::title;
use crate::record::moment::plain_date;
use std::collections::BTreeMap;

/// The cover slip.
pub fn cover(desk: &Desk<'_>) -> String {
    let set = desk.set;
    let mut out = String::from("<h1>Record of treatment</h1>\n<table class=\"slip\"><tbody>\n");
    let mut line = |label: &str, html: String| {
        out.push_str(&format!("<tr><th>{}</th><td>{html}</td></tr>\n", esc(label)));
    };
    line("Practice", practice(desk));
    let mut whose = format!("<strong>{}</strong>", said(&set.patient.name));
    if !set.patient.earlier_names.is_empty() {
        whose.push_str(&format!(
            "<br />earlier in this record: {}",
            said(&set.patient.earlier_names.join("; "))
        ));
    }
    line("Whose record", whose);
    line("Born", said(&set.patient.birth));
    line("Chart no.", said(&set.patient.chart_no));
    line("Printed for", said(&set.for_whom));
    line("What for", said(&set.purpose));
    line("Basis", said(&set.basis));
    line("What was chosen", said(&set.extent));
    line("Span of dates", span(desk));
    line("Entries", by_kind(desk));
    line("Numbers not in this copy", gaps(desk));
    line("Pages", "1 to <span class=\"blank short\"></span> (the last page says how many; write it here when handing over)".to_string());
    line("Custodian", custodian(desk));
    line("Questions to", contact(desk));
    line(
        "Printed",
        format!(
            "{} by {} ({}); layout edition {LAYOUT_EDITION}",
            esc(&set.printed_at.plain()),
            said(&set.printed_by.name),
            said(&words::spaced(&set.printed_by.role))
        ),
    );
    line(
        "Check words",
        format!(
            "<strong>{}</strong><br />register {}, {} entries, digest <span class=\"digest\">{}</span>",
            said(&set.checkpoint.check_words),
            said(&set.ledger),
            set.checkpoint.size,
            said(&set.checkpoint.digest)
        ),
    );
    out.push_str("</tbody></table>\n");
    out.push_str(&withheld(desk));
    if let Some(differences) = &set.differences {
        out.push_str("<h3>Differences from the earlier copy of the same span</h3>\n");
        out.push_str(&bullets(differences, "None: the earlier copy and this one hold the same entries."));
    }
    out
}

fn practice(desk: &Desk<'_>) -> String {
    match &desk.set.practice {
        Some(practice) => {
            let mut out =
                format!("<strong>{}</strong><br />{}", said(&practice.practice), said(&practice.address));
            if let Some(regulator) = &practice.regulator {
                out.push_str(&format!("<br />licensed by: {}", said(regulator)));
            }
            out
        }
        None => "<em>Not in this copy.</em> <span class=\"blank\"></span>".to_string(),
    }
}

fn custodian(desk: &Desk<'_>) -> String {
    match &desk.set.practice {
        Some(practice) => match desk.set.staff_line(&practice.custodian) {
            Some(line) => format!("{}, {}", said(&line.name), said(&words::spaced(&line.role))),
            None => said(&practice.custodian),
        },
        None => "<span class=\"blank\"></span>".to_string(),
    }
}

fn contact(desk: &Desk<'_>) -> String {
    match (&desk.set.contact, &desk.set.practice) {
        (Some(contact), _) => said(contact),
        (None, Some(practice)) => said(&practice.address),
        (None, None) => "<span class=\"blank\"></span>".to_string(),
    }
}

fn span(desk: &Desk<'_>) -> String {
    let happened = desk.set.entries.iter().filter_map(|entry| entry.shown()).map(|r| r.happened.start);
    let written = desk.set.entries.iter().map(|entry| entry.written);
    let range = |first, last| match (first, last) {
        (Some(first), Some(last)) => {
            let word = |moment: crate::record::moment::Moment| plain_date(moment.local_date());
            format!("{} to {}", word(first), word(last))
        }
        _ => "none".to_string(),
    };
    format!(
        "happened {}<br />written {}",
        range(happened.clone().min(), happened.max()),
        range(written.clone().min(), written.max())
    )
}

fn by_kind(desk: &Desk<'_>) -> String {
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    for entry in &desk.set.entries {
        *counts.entry(title(&entry.kind)).or_default() += 1;
    }
    let parts: Vec<String> = counts.iter().map(|(kind, n)| format!("{} {n}", said(kind))).collect();
    format!("<strong>{}</strong>: {}", desk.set.entries.len(), parts.join("; "))
}

/// Numbers within the chart, up to the highest here, that no entry here has.
fn gaps(desk: &Desk<'_>) -> String {
    let mut have: Vec<u64> = desk.set.entries.iter().filter_map(|entry| entry.chart_seq).collect();
    have.sort_unstable();
    have.dedup();
    let (mut missing, mut expected) = (Vec::new(), 1);
    for number in have {
        if number > expected {
            let last = number - 1;
            missing.push(if last == expected {
                format!("{expected}")
            } else {
                format!("{expected} to {last}")
            });
        }
        expected = number + 1;
    }
    if missing.is_empty() {
        format!("none: every number in the chart from 1 to {} is here or listed as withheld", expected - 1)
    } else {
        format!("{} (numbers in the chart)", esc(&missing.join(", ")))
    }
}

fn withheld(desk: &Desk<'_>) -> String {
    let ordered = desk.set.in_order();
    let hidden: Vec<(&PrintedEntry, String)> =
        ordered.iter().filter_map(|entry| Some((*entry, entry.not_shown()?))).collect();
    let mut out = String::from("<h3>Entries whose contents are not in this copy</h3>\n");
    if hidden.is_empty() {
        out.push_str("<p>None. The contents of every entry listed are printed.</p>\n");
        return out;
    }
    out.push_str(&table_start("grid", &["No.", "Kind", "Written", "Why the contents are not here"]));
    for (entry, reason) in hidden {
        out.push_str(&tr(&[
            entry.seq.to_string(),
            said(title(&entry.kind)),
            esc(&plain_date(entry.written.local_date())),
            said(&reason),
        ]));
    }
    out.push_str(TABLE_END);
    out
}

fn bullets(lines: &[String], none: &str) -> String {
    if lines.is_empty() {
        return format!("<p>{}</p>\n", esc(none));
    }
    let items: String = lines.iter().map(|line| format!("<li>{}</li>\n", said(line))).collect();
    format!("<ul>\n{items}</ul>\n")
}

/// The custodian's statement, the process in words, the result of the check and its limits.
/// The elements are those of Federal Rules of Evidence 803(6) and 902(11), (13), (14).
pub fn statement(desk: &Desk<'_>) -> String {
    let set = desk.set;
    let mut out = String::from(
        "<h2>Statement of the custodian</h2>\n\
         <p class=\"note\">A form to be completed. Have counsel adapt it to the court or board that asks, and \
         strike what does not apply. It is not signed by printing it.</p>\n",
    );
    out.push_str(&format!(
        "<p>I, <span class=\"blank\"></span>, am custodian of the records of {}, or a person qualified to speak \
         for how they are kept. I state:</p>\n<ol>\n\
         <li>The pages that follow are a copy of entries of the record of {}, chart no. {}. What was chosen and \
         what was left out is on the cover slip.</li>\n\
         <li>Each entry was made at or near the time it shows as written, by a person with knowledge of what it \
         tells, or from what such a person passed on. Where it was written later, the entry itself says so.</li>\n\
         <li>The entries were made and kept in the course of the regular work of the practice, and making such \
         entries was its regular practice.</li>\n\
         <li>Exceptions I know of: <span class=\"blank wide\"></span></li>\n</ol>\n",
        set.practice.as_ref().map_or("<span class=\"blank\"></span>".to_string(), |p| said(&p.practice)),
        said(&set.patient.name),
        said(&set.patient.chart_no)
    ));
    out.push_str(
        "<p class=\"sign\">Signed <span class=\"blank\"></span> Date <span class=\"blank short\"></span> \
         Place <span class=\"blank short\"></span></p>\n\
         <p class=\"sign\">Sworn or affirmed before <span class=\"blank\"></span></p>\n\
         <h3>How this record is kept</h3>\n\
         <p>The practice keeps one register. Every entry gets the next number, and the numbers have no gaps. When \
         an entry is signed it is sealed, and the seal is reckoned from the entry itself together with the seal \
         of the entry before it, both in the register and in the patient's own chart. An entry can't be changed, \
         moved, taken out or slipped in between without the seals behind it failing to fit. Nothing is ever \
         erased: a mistake is put right by a further entry, with its own number, date, reason and signature, and \
         the first words stay. At the end of a working day the program prints a slip with a few check words that \
         stand for the whole register up to that day. Slips are kept on paper, outside the computer, and a later \
         copy either fits them or does not. Whoever holds an electronic copy can have every seal in it reckoned \
         again on a computer of their own, without the practice.</p>\n",
    );
    out.push_str("<h3>Result of the check of this copy</h3>\n");
    match &set.verification {
        Some(lines) => out.push_str(&bullets(lines, "The check gave no result.")),
        None => out.push_str("<p><strong>This copy was not checked when it was printed.</strong></p>\n"),
    }
    out.push_str(LIMITS);
    out
}

/// What the check does not show; printed whatever its result was.
const LIMITS: &str = "<h3>What the check does not show</h3>\n<ul>\n\
    <li>That what was written is true, or that the clock was right.</li>\n\
    <li>That nothing was left unwritten.</li>\n\
    <li>That the practice kept no second register.</li>\n\
    <li>That nothing was written anew after the last slip, or other outside witness, that was compared. \
    Before that slip a change would have been found; after it nobody outside vouches.</li>\n\
    <li>That this paper is the same as the electronic copy: paper can be altered. The check is of the \
    electronic copy; compare the two where it matters.</li>\n</ul>\n";

/// The table of entries in the order written.
pub fn index(desk: &Desk<'_>) -> String {
    let mut out = String::from(
        "<p>In the order written. \"In chart\" is the number within this patient's chart. An entry written long \
         after it happened, or marked in another way, says so in the last column.</p>\n",
    );
    out.push_str(&table_start(
        "grid index",
        &["No.", "In chart", "Kind", "Happened", "Written", "Signed", "Corrected, added to, marked"],
    ));
    for entry in desk.set.in_order() {
        let happened =
            entry.shown().map_or("not shown".to_string(), |record| two_lines(record.happened.start));
        let number = if entry.shown().is_some() {
            format!("<a href=\"#e{0}\">{0}</a>", entry.seq)
        } else {
            entry.seq.to_string()
        };
        out.push_str(&tr(&[
            number,
            entry.chart_seq.map_or("-".to_string(), |seq| seq.to_string()),
            said(title(&entry.kind)),
            happened,
            two_lines(entry.written),
            said(desk.set.initials(&entry.author)),
            marks(desk, entry),
        ]));
    }
    out.push_str(TABLE_END);
    out
}

fn marks(desk: &Desk<'_>, entry: &PrintedEntry) -> String {
    let mut parts: Vec<String> = Vec::new();
    parts.extend(entry.not_shown().map(|reason| format!("<strong>{}</strong>", said(&reason))));
    let corrections: Vec<String> = desk.mends(entry.seq).iter().map(|mend| entry_link(mend.seq)).collect();
    if !corrections.is_empty() {
        parts.push(format!("corrected by {}", corrections.join(", ")));
    }
    let additions = desk.additions.get(&entry.seq).into_iter().flatten();
    let additions: Vec<String> = additions.map(|seq| entry_link(*seq)).collect();
    if !additions.is_empty() {
        parts.push(format!("added to by {}", additions.join(", ")));
    }
    if let Some(record) = entry.shown() {
        parts.extend(desk.flags(entry.seq, record));
    }
    parts.join("<br />")
}
