//! The visits, oldest first. A visit, its corrections, and the papers that dispute it are printed
//! together and never apart.

use super::entry::Desk;
use super::html::{entry_link, esc, said};
use super::words;
use crate::record::kinds::title;
use crate::record::moment::{Moment, plain_date};

/// All visits.
pub fn section(desk: &Desk<'_>) -> String {
    let mut visits: Vec<(Moment, u64)> = desk
        .places
        .visits
        .iter()
        .filter_map(|(visit, seqs)| Some((began(desk, *visit, seqs)?, *visit)))
        .collect();
    visits.sort();
    if visits.is_empty() {
        return "<p><em>No visit is in this copy.</em></p>\n".to_string();
    }
    visits.into_iter().map(|(at, visit)| one(desk, at, visit)).collect()
}

/// When a visit began: its opening, else the earliest of its entries.
fn began(desk: &Desk<'_>, visit: u64, seqs: &[u64]) -> Option<Moment> {
    if let Some((_, record)) = desk.record(visit) {
        return Some(record.happened.start);
    }
    seqs.iter().filter_map(|seq| desk.record(*seq)).map(|(_, record)| record.happened.start).min()
}

fn one(desk: &Desk<'_>, at: Moment, visit: u64) -> String {
    let seqs = desk.places.visits.get(&visit).map_or(&[][..], Vec::as_slice);
    let is_note = |seq: &u64| desk.record(*seq).is_some_and(|(_, record)| record.kind == "visit");
    let (notes, mut moments): (Vec<u64>, Vec<u64>) = seqs.iter().partition(|seq| is_note(seq));
    let pointed = desk.places.pointed_to.get(&visit).into_iter().flatten();
    moments.extend(pointed);
    moments.sort_by_key(|seq| (desk.record(*seq).map(|(_, record)| record.happened.start), *seq));

    let mut out = format!(
        "<section class=\"visit\" id=\"v{visit}\">\n<h3>Visit of {}, {} <span class=\"kind\">(opened as no. {visit})</span></h3>\n",
        esc(&plain_date(at.local_date())),
        at.clock()
    );
    if desk.record(visit).is_none() {
        out.push_str("<p><em>The opening of this visit is not shown in this copy.</em></p>\n");
    }
    if !moments.is_empty() {
        out.push_str(
            "<h4 class=\"sub\">Within the visit, in order of time</h4>\n<table class=\"moments\"><tbody>\n",
        );
        for seq in &moments {
            out.push_str(&moment(desk, visit, *seq, at));
        }
        out.push_str("</tbody></table>\n");
    }
    if notes.is_empty() {
        out.push_str("<p><strong>Visit note: </strong><em>Not recorded in this copy.</em></p>\n");
    }
    for seq in &notes {
        out.push_str(&desk.alone(*seq));
    }
    out.push_str(&beneath(desk, seqs));
    out.push_str("</section>\n");
    out
}

/// Corrections, additions and papers about any entry of the visit.
fn beneath(desk: &Desk<'_>, seqs: &[u64]) -> String {
    let mut about: Vec<u64> =
        seqs.iter().filter_map(|seq| desk.places.beneath.get(seq)).flatten().copied().collect();
    about.sort_unstable();
    if about.is_empty() {
        return String::new();
    }
    let mut out = String::from(
        "<h4 class=\"sub\">Written afterwards about this visit: corrections, additions, papers</h4>\n",
    );
    for seq in about {
        out.push_str(&format!("<div class=\"beneath\">{}</div>\n", desk.alone(seq)));
    }
    out
}

/// One entry within the visit, as a row with its time.
fn moment(desk: &Desk<'_>, visit: u64, seq: u64, began: Moment) -> String {
    let Some((entry, record)) = desk.record(seq) else { return String::new() };
    let start = record.happened.start;
    let mut time = start.clock();
    if start.local_date() != began.local_date() {
        time = format!("{}<br />{time}", esc(&plain_date(start.local_date())));
    }
    if record.happened.about {
        time = format!("about {time}");
    }
    let elsewhere = matches!(record.kind.as_str(), "consent" | "attachment");
    let (id, body) = if elsewhere {
        let name = record.data.get("title").and_then(|title| title.as_str());
        let name = name.map(|name| format!(" \"{}\"", said(name))).unwrap_or_default();
        (
            String::new(),
            format!(
                "<p class=\"meta\">{}{name}: printed in full as {}.</p>\n",
                esc(title(&record.kind)),
                entry_link(seq)
            ),
        )
    } else {
        (format!(" id=\"e{seq}\""), desk.body(seq, record))
    };
    let mut meta = signed_short(desk, record);
    let flags = desk.flags(seq, record);
    if !flags.is_empty() && !elsewhere {
        meta.push_str(&format!(" <strong>[{}]</strong>", flags.join("] [")));
    }
    let what = if seq == visit { "Visit opened" } else { title(&record.kind) };
    let chart = entry.chart_seq.map(|n| format!(" ({n})")).unwrap_or_default();
    format!(
        "<tr{id}><td class=\"time\">{time}</td><td><div class=\"what\"><strong>{}</strong> <span class=\"kind\">no. {seq}{chart}; {meta}</span></div>\n{body}</td></tr>\n",
        said(what)
    )
}

/// Who signed, and when it was written if that was another time.
fn signed_short(desk: &Desk<'_>, record: &crate::record::envelope::Record) -> String {
    let mut out = format!("signed {}", said(desk.set.initials(&record.signed.by)));
    if let Some(second) = &record.second {
        out.push_str(&format!(" and {}", said(desk.set.initials(&second.by))));
    }
    if let Some(scribe) = &record.entered_by {
        out.push_str(&format!(", typed by {}", said(desk.set.initials(&scribe.code))));
    }
    if record.written.minute() != record.happened.start.minute() {
        let same_day = record.written.local_date() == record.happened.start.local_date();
        let at = if same_day { record.written.clock() } else { record.written.plain() };
        out.push_str(&format!(", written {}", esc(&at)));
    }
    if record.happened.end.is_some() {
        out.push_str(&format!(", {}", esc(&words::happened(&record.happened))));
    }
    out
}
