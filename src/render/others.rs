//! What stands outside the visits: consents in full, who the patient is, contacts, requests,
//! holds; who opened the chart; and the attachments.

use super::entry::{Desk, two_lines};
use super::html::{TABLE_END, entry_link, esc, said, table_start, tr};
use super::places::{Heading, heading};
use super::words::{self, NOT_RECORDED, capital, spaced};
use crate::record::kinds::Data;
use crate::record::kinds::Given;
use crate::record::kinds::papers::Attachment;
use crate::record::kinds::release::Access;

/// The entries under one heading, and pointers to those of the same kinds within visits.
pub fn under(desk: &Desk<'_>, which: Heading) -> String {
    let mut out = String::new();
    for seq in desk.places.headings.get(&which).into_iter().flatten() {
        out.push_str(&desk.whole(*seq));
    }
    let elsewhere = elsewhere(desk, which);
    if !elsewhere.is_empty() {
        let links: Vec<String> = elsewhere.iter().map(|seq| entry_link(*seq)).collect();
        out.push_str(&format!("<p class=\"note\">Printed with the visits: {}.</p>\n", links.join(", ")));
    }
    out
}

/// Entries that would stand under a heading but are printed within or beneath another.
fn elsewhere(desk: &Desk<'_>, which: Heading) -> Vec<u64> {
    if which == Heading::Other {
        return Vec::new();
    }
    let visits = desk.places.visits.values().flatten();
    let beneath =
        desk.places.visits.values().flatten().filter_map(|seq| desk.places.beneath.get(seq)).flatten();
    let mut seqs: Vec<u64> = visits
        .chain(beneath)
        .filter(|seq| desk.record(**seq).is_some_and(|(_, record)| heading(&record.kind) == which))
        .copied()
        .collect();
    seqs.sort_unstable();
    seqs
}

/// Every heading but that of the consents, which stands with the time line.
pub fn section(desk: &Desk<'_>) -> String {
    let mut out = String::new();
    for which in Heading::ALL.iter().filter(|which| **which != Heading::Consents) {
        let inner = under(desk, *which);
        if inner.is_empty() {
            out.push_str(&format!("<h3>{}</h3>\n<p class=\"note\">None in this copy.</p>\n", which.word()));
        } else {
            out.push_str(&format!("<h3>{}</h3>\n{inner}", which.word()));
        }
    }
    out
}

/// Who opened the chart to read in it.
pub fn openings(desk: &Desk<'_>) -> String {
    if desk.places.openings.is_empty() {
        return "<p><em>No opening of the chart is in this copy.</em></p>\n".to_string();
    }
    let mut out = table_start("grid", &["No.", "When", "Who", "Why", "What was opened", "Printed, exported"]);
    for seq in &desk.places.openings {
        let Some((_, record)) = desk.record(*seq) else { continue };
        let who = format!("{}<br />{}", said(&record.author.name), said(&spaced(&record.author.role)));
        let mut cells =
            vec![format!("<span id=\"e{seq}\">{seq}</span>"), two_lines(record.happened.start), who];
        match record.read_data() {
            Ok(Data::Access(access)) => cells.extend(access_cells(&access)),
            _ => cells.extend([desk.body(*seq, record), String::new(), String::new()]),
        }
        out.push_str(&tr(&cells));
    }
    out.push_str(TABLE_END);
    out.push_str(&papers_beneath(desk, &desk.places.openings));
    out
}

fn access_cells(access: &Access) -> [String; 3] {
    let mut why = esc(&capital(&spaced(access.why.word())));
    if let Some(text) = &access.words {
        why.push_str(&format!(": {}", said(text)));
    }
    if let Some(seq) = access.request {
        why.push_str(&format!(" ({})", entry_link(seq)));
    }
    let mut what = esc(&spaced(access.opened.word()));
    if !access.entries.is_empty() {
        what.push_str(&format!(": {}", words::numbers(&access.entries)));
    }
    let yes = |flag: bool| if flag { "yes" } else { "no" };
    [why, what, format!("printed {}<br />exported {}", yes(access.printed), yes(access.exported))]
}

/// The attachments.
pub fn attachments(desk: &Desk<'_>) -> String {
    if desk.places.attachments.is_empty() {
        return "<p><em>No attachment is in this copy.</em></p>\n".to_string();
    }
    let mut out = String::from(
        "<p>Papers, pictures and other files kept with this chart. \"Not made here\" means that somebody else \
         made it and the practice only keeps it. The digest is a number reckoned from the file: the same file \
         always gives the same digest, a changed file another one.</p>\n",
    );
    out.push_str(&table_start(
        "grid",
        &["No.", "What", "Made, received", "File and its digest", "In this copy"],
    ));
    for seq in &desk.places.attachments {
        let Some((_, record)) = desk.record(*seq) else { continue };
        let number = format!("<span id=\"e{seq}\">{seq}</span>");
        let along = desk.set.attachments.iter().find(|along| along.seq == *seq);
        let along = along.map_or("not stated".to_string(), |along| said(&along.came_along));
        let [what, made, file] = match record.read_data() {
            Ok(Data::Attachment(attachment)) => attachment_cells(desk, *seq, &attachment),
            _ => [desk.body(*seq, record), String::new(), String::new()],
        };
        let meta = format!("{what}<br /><span class=\"kind\">{}</span>", desk.signed_line(record));
        out.push_str(&tr(&[number, meta, made, file, along]));
    }
    out.push_str(TABLE_END);
    out.push_str(&papers_beneath(desk, &desk.places.attachments));
    out
}

fn attachment_cells(desk: &Desk<'_>, seq: u64, a: &Attachment) -> [String; 3] {
    let mut what = vec![format!("<strong>{}</strong>", said(&a.title)), esc(&spaced(a.kind.word()))];
    let mut place: Vec<String> = a.region.map(words::region).into_iter().collect();
    place.extend(a.side.map(|side| words::side(side).to_string()));
    if !place.is_empty() {
        what.push(esc(&place.join(", ")));
    }
    if !a.about.is_empty() {
        what.push(format!(
            "belongs to {}",
            a.about.iter().map(|n| entry_link(*n)).collect::<Vec<_>>().join(", ")
        ));
    }
    what.extend(a.consent.map(|consent| format!("rests on consent {}", entry_link(consent))));
    let (_, record) = desk.record(seq).unzip();
    let flags = record.map(|record| desk.flags(seq, record)).unwrap_or_default();
    if !flags.is_empty() || !desk.mends(seq).is_empty() {
        let mut all = flags;
        all.extend((!desk.mends(seq).is_empty()).then(|| "corrected: see beneath the table".to_string()));
        what.push(format!("<strong>[{}]</strong>", all.join("] [")));
    }

    let made_on = match &a.made_on {
        Given::Value(day) => words::day(*day),
        Given::Absent(absent) => words::because(&absent.because),
    };
    let mut made =
        vec![if a.not_made_here { "<strong>NOT MADE HERE</strong>" } else { "made here" }.to_string()];
    made.push(format!("made {}", said(&made_on)));
    made.push(format!("by {}", said(&words::given(&a.made_by))));
    made.extend(a.received_on.map(|day| format!("received {}", esc(&words::day(day)))));
    let mut original = format!("original: {}", esc(&spaced(a.original.word())));
    original.push_str(&a.original_at.as_ref().map(|at| format!(", {}", said(at))).unwrap_or_default());
    made.push(original);

    let mut file = vec![format!("{}, {} bytes", said(&a.media_type), a.size)];
    file.extend(a.pages.map(|pages| words::count(pages as usize, "page", "pages")));
    file.extend(a.seconds.map(|seconds| words::count(seconds as usize, "second", "seconds")));
    file.push(if a.legible { "legible" } else { "<strong>NOT legible</strong>" }.to_string());
    file.push(format!("file <span class=\"digest\">{}</span>", digest(&a.plain_digest)));
    file.push(format!("sealed <span class=\"digest\">{}</span>", digest(&a.sealed_digest)));
    [what.join("<br />"), made.join("<br />"), file.join("<br />")]
}

/// A digest in groups, so that it can wrap and be compared by eye.
pub fn digest(hex: &str) -> String {
    if hex.is_empty() {
        return NOT_RECORDED.to_string();
    }
    let letters: Vec<char> = hex.chars().collect();
    letters.chunks(8).map(|group| esc(&group.iter().collect::<String>())).collect::<Vec<_>>().join(" ")
}

/// Corrected entries of a table in full, with the corrections and papers about them.
fn papers_beneath(desk: &Desk<'_>, seqs: &[u64]) -> String {
    let mut out = String::new();
    for seq in seqs {
        let (Some(papers), Some((_, record))) = (desk.places.beneath.get(seq), desk.record(*seq)) else {
            continue;
        };
        out.push_str(&format!("<h4 class=\"sub\">About no. {seq}</h4>\n"));
        if !desk.mends(*seq).is_empty() {
            out.push_str(&desk.body(*seq, record));
        }
        for below in papers {
            out.push_str(&format!("<div class=\"beneath\">{}</div>\n", desk.alone(*below)));
        }
    }
    out
}
