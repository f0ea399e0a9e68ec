//! What stands before the record: the cover slip and the table of entries.

use super::entry::{Desk, two_lines};
use super::html::{TABLE_END, entry_link, esc, said, table_start, tr};
use super::others::digest;
use super::places::Home;
use super::set::{LAYOUT_EDITION, PrintedEntry};
use super::standing;
use super::words;
use crate::record::envelope::{Label, Record};
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
    line(
        "Digest of this set",
        format!(
            "<strong>{}</strong> ... (in short; at the foot of every page)<br /><span class=\"digest\">{}</span>",
            esc(&set.short_digest()),
            digest(&set.digest())
        ),
    );
    out.push_str("</tbody></table>\n");
    out.push_str(&withheld(desk));
    out.push_str(&standing::section(desk));
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

/// A list of lines, or the words for an empty one.
pub fn bullets(lines: &[String], none: &str) -> String {
    if lines.is_empty() {
        return format!("<p>{}</p>\n", esc(none));
    }
    let items: String = lines.iter().map(|line| format!("<li>{}</li>\n", said(line))).collect();
    format!("<ul>\n{items}</ul>\n")
}

/// The table of entries in the order written.
pub fn index(desk: &Desk<'_>) -> String {
    let mut out = String::from(
        "<p>In the order written. \"In chart\" is the number within this patient's chart. Beneath each kind stands \
         where in this copy the entry is printed in full. Under \"Late\" stands whether the entry was written late, \
         by the rule of the practice; a dash means that it was not.</p>\n",
    );
    out.push_str(&table_start(
        "grid index entries",
        &[
            "No.",
            "In chart",
            "Kind, and where it stands",
            "Happened",
            "Written",
            "Signed",
            "Late",
            "Corrected, added to, marked",
        ],
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
            kind_and_place(desk, entry),
            happened,
            two_lines(entry.written),
            signers(desk, entry),
            late(entry),
            marks(desk, entry),
        ]));
    }
    out.push_str(TABLE_END);
    out
}

fn kind_and_place(desk: &Desk<'_>, entry: &PrintedEntry) -> String {
    let place = match desk.places.homes.get(&entry.seq) {
        None => return said(title(&entry.kind)),
        Some(Home::Visit(visit)) => match desk.visit_day(*visit) {
            Some(day) => format!("visit of {}", plain_date(day)),
            None => format!("visit opened as no. {visit}"),
        },
        Some(Home::Under(heading)) => heading.word().to_string(),
        Some(Home::Openings) => "Who opened this chart".to_string(),
        Some(Home::Attachments) => "Attachments".to_string(),
        Some(Home::Beneath(above)) => format!("beneath no. {above}"),
    };
    format!("{}<br /><span class=\"kind\">{}</span>", said(title(&entry.kind)), esc(&place))
}

/// Who signed; of an entry that is not shown, only who wrote it is known.
fn signers(desk: &Desk<'_>, entry: &PrintedEntry) -> String {
    let Some(record) = entry.shown() else { return said(desk.set.initials(&entry.author)) };
    let second = record.second.iter().map(|second| second.by.as_str());
    let all = std::iter::once(record.signed.by.as_str()).chain(second);
    all.map(|code| said(desk.set.initials(code))).collect::<Vec<_>>().join("<br />")
}

fn is_late(label: &Label) -> bool {
    matches!(label, Label::LateEntry | Label::FinishedNextDay)
}

fn late(entry: &PrintedEntry) -> String {
    let Some(record) = entry.shown() else { return "not shown".to_string() };
    let told = record.labels.iter().filter(|label| is_late(label)).map(|label| words::label(label, record));
    let told: Vec<String> = told.map(|words| format!("<strong>{}</strong>", esc(&words))).collect();
    match (told.is_empty(), record.kind.as_str()) {
        (false, _) => told.join("<br />"),
        (true, "late-entry") => "<strong>LATE ENTRY</strong>".to_string(),
        (true, _) => "-".to_string(),
    }
}

fn marks(desk: &Desk<'_>, entry: &PrintedEntry) -> String {
    let mut parts: Vec<String> = Vec::new();
    parts.extend(entry.not_shown().map(|reason| format!("<strong>{}</strong>", said(&reason))));
    let corrections: Vec<String> = desk.mends(entry.seq).iter().map(|mend| entry_link(mend.seq)).collect();
    if !corrections.is_empty() {
        parts.push(format!("corrected by {}", corrections.join(", ")));
    }
    if let Some(record) = entry.shown() {
        let mut others: Record = record.clone();
        others.labels.retain(|label| !is_late(label));
        let mut flags = desk.flags(entry.seq, &others);
        flags.dedup();
        parts.extend(flags);
    }
    parts.join("<br />")
}
