//! What stands behind the record: the signature list, the texts used, how to check this copy, and the
//! digests.

use super::entry::Desk;
use super::html::{TABLE_END, esc, said, table_start, tr};
use super::others::digest;
use super::set::PrintedSet;
use super::words;
use crate::record::kinds::register::Staff;
use crate::record::moment::plain_date;
use std::collections::BTreeSet;

/// What is no abbreviation though it looks like one: staff codes, initials, parts of the chart number.
pub fn codes(set: &PrintedSet) -> BTreeSet<String> {
    let staff = set.staff.iter().flat_map(|line| [line.code.clone(), line.initials.clone()]);
    let number = set.patient.chart_no.split(|c: char| !c.is_alphanumeric()).map(str::to_string);
    let names = set.patient.name.split_whitespace().map(str::to_string);
    staff.chain(number).chain(names).collect()
}

/// The signature list.
pub fn signatures(desk: &Desk<'_>) -> String {
    let mut out = table_start(
        "grid",
        &["Initials", "Printed name", "Role", "Licence", "On the roster", "Specimen of signature"],
    );
    for line in &desk.set.staff {
        out.push_str(&tr(&[
            format!("<strong>{}</strong>{}", said(&line.initials), code(line)),
            said(&line.name),
            said(&words::spaced(&line.role)),
            licence(line),
            roster(line),
            String::new(),
        ]));
    }
    for (code, name) in strangers(desk) {
        out.push_str(&tr(&[
            format!("<strong>{}</strong>", said(&code)),
            said(&name),
            "<em>not on the roster in this copy</em>".to_string(),
            String::new(),
            String::new(),
            String::new(),
        ]));
    }
    out.push_str(TABLE_END);
    out
}

fn code(line: &Staff) -> String {
    if line.code == line.initials { String::new() } else { format!("<br />code {}", said(&line.code)) }
}

fn licence(line: &Staff) -> String {
    let mut out = line.licence_no.as_ref().map_or("none".to_string(), |no| said(no));
    if let Some(day) = line.licence_last_day {
        out.push_str(&format!("<br />to {}", esc(&words::day(day))));
    }
    out
}

fn roster(line: &Staff) -> String {
    let from = esc(&words::day(line.on_roster_from));
    match line.on_roster_last_day {
        Some(last) => format!("{from} to {}", esc(&words::day(last))),
        None => format!("from {from}"),
    }
}

/// People who signed or wrote an entry here and are on no roster line here.
fn strangers(desk: &Desk<'_>) -> BTreeSet<(String, String)> {
    let mut out = BTreeSet::new();
    for entry in &desk.set.entries {
        let known = |code: &str| desk.set.staff_line(code).is_some();
        match entry.shown() {
            Some(record) => {
                let second = record.second.as_ref().map(|second| (&second.by, &second.name));
                let scribe = record.entered_by.as_ref().map(|scribe| (&scribe.code, &scribe.name));
                let people = [Some((&record.author.code, &record.author.name)), second, scribe];
                let signer = Some((&record.signed.by, &record.signed.name));
                for (code, name) in people.into_iter().chain([signer]).flatten() {
                    if !known(code) {
                        out.insert((code.clone(), name.clone()));
                    }
                }
            }
            None if !known(&entry.author) => {
                out.insert((entry.author.clone(), String::new()));
            }
            None => {}
        }
    }
    out
}

/// The texts that were signed or given, in the editions used.
pub fn wordings(desk: &Desk<'_>) -> String {
    if desk.set.wordings.is_empty() {
        return "<p><em>No edition of wording is in this copy.</em></p>\n".to_string();
    }
    let mut out = String::new();
    for wording in &desk.set.wordings {
        let since = wording.effective.map(|day| format!(", in use from {}", words::day(day)));
        out.push_str(&format!(
            "<article class=\"entry\">\n<h4>{} <span class=\"kind\">edition {}, language {}{}</span></h4>\n\
             <p class=\"wording\">{}</p>\n</article>\n",
            said(&wording.title),
            said(&wording.code),
            said(&wording.language),
            esc(&since.unwrap_or_default()),
            said(&wording.text)
        ));
    }
    out
}

/// The digests of the entries, for comparing this paper with an electronic copy.
pub fn digests(desk: &Desk<'_>) -> String {
    let mut out = format!(
        "<p>The digest of this set, {}, is the BLAKE3 digest of a text with one line for each entry of this list, in \
         this order: the number, a space, the digest of the sealed entry in small letters without spaces, a space, \
         and \"printed\" or, where the contents are not in this copy, \"not-printed\". Each line ends with a line \
         feed.</p>\n",
        esc(&desk.set.short_digest())
    );
    out.push_str(&table_start("grid index", &["No.", "Written", "Contents", "Digest of the sealed entry"]));
    for entry in desk.set.in_order() {
        out.push_str(&tr(&[
            entry.seq.to_string(),
            format!("<span class=\"t\">{}</span>", esc(&plain_date(entry.written.local_date()))),
            if entry.shown().is_some() { "printed" } else { "not-printed" }.to_string(),
            format!("<span class=\"digest\">{}</span>", digest(&entry.digest)),
        ]));
    }
    out.push_str(TABLE_END);
    out
}

/// How to check this copy, in ten lines, for whoever has never seen such a record.
pub const CHECK: [&str; 10] = [
    "Count the pages. The foot of each page says which page it is; the cover slip says how many there are.",
    "Look at the head of every page: the same name, birth date and chart number must stand there. At the foot stands the same short digest as on the cover slip.",
    "Go down the table of entries. The numbers \"in chart\" must run 1, 2, 3 without a gap; a number that is missing must be named on the cover slip.",
    "Find each entry of the table in the record by its number. Contents that are left out are listed on the cover slip with the reason.",
    "Wherever a line is struck, read the words beneath it and the correction of that number: who, when, why.",
    "Compare when something happened with when it was written. A late entry, or one written after a complaint, is marked.",
    "Compare the consents and withdrawals with the times of the procedures in each visit.",
    "Ask the practice for the day slip nearest the last entry. Its check words were printed that day and kept on paper; have the electronic copy checked against them.",
    "If you have the electronic copy, have it checked on a computer that is not the practice's. The checker says in words what holds and what does not; compare the digests it shows with the list in this copy.",
    "If anything does not fit, write to the custodian named on the cover slip and keep this copy as it is. No check can tell whether what was written is true, or whether something was left unwritten.",
];

/// The ten lines as a list.
pub fn how_to_check() -> String {
    let items: String = CHECK.iter().map(|line| format!("<li>{}</li>\n", esc(line))).collect();
    format!("<ol>\n{items}</ol>\n")
}
