//! What stands behind the record: the legend, the signature list, the texts used, and how to
//! check this copy.

use super::entry::Desk;
use super::html::{TABLE_END, esc, said, table_start, tr};
use super::others::digest;
use super::words;
use crate::record::kinds::register::Staff;
use crate::record::moment::plain_date;
use std::collections::BTreeSet;

/// Abbreviations and notation, and what each means.
const LEGEND: &[(&str, &str)] = &[
    (
        "S, O, A, P",
        "the four parts of a visit note: what was told (subjective), found (objective), thought (assessment), done and planned (procedures and plan)",
    ),
    (
        "C1 to C7",
        "the bones (vertebrae) of the neck, counted from the head down; C0 is the base of the skull (occiput)",
    ),
    ("T1 to T12, L1 to L5, S1", "the vertebrae of the chest, of the low back, and the first of the sacrum"),
    (
        "C5-C6, T12-L1, ...",
        "a motion segment: the joint between two neighbouring vertebrae. \"T12\" alone is the vertebra",
    ),
    ("SI", "sacroiliac joint, between sacrum and pelvis"),
    ("rib 1 to rib 12", "the joints of that rib with the spine, counted from above"),
    ("left side, right side", "always the patient's own left and right, never as seen by the practitioner"),
    ("both sides", "left and right, each"),
    ("midline", "the middle of the body, neither side"),
    ("soft-tissue work", "hands on muscle, fascia and skin"),
    ("joint mobilization", "slow, repeated movement of a joint within its range"),
    ("thrust", "one quick, short movement of a joint (adjustment, manipulation)"),
    ("work inside the mouth", "gloved fingers on muscles within the mouth (intraoral)"),
    ("traction", "a steady pull along a joint"),
    (
        "asked today",
        "just before a procedure the patient was asked, by the one who would do it, and answered",
    ),
    ("screen", "a list of questions asked to find reasons not to treat, or to refer"),
    (
        "standing refusal",
        "something the patient never wants, whatever else is agreed, until the patient lifts it by name",
    ),
    ("addendum", "new information that was not known when the entry was written"),
    ("correction", "the words were wrong; the first words stay readable with a line through them"),
    ("late entry", "left out at the time and written later from what the author knows"),
    ("Not recorded", "this part was required, and nothing was written"),
    (
        "cannot show",
        "the entry was written by a later program; it is there and it verifies, but its words can't be printed here",
    ),
];

/// Grades, from general use of the trade.
const GRADES: &[(&str, &str)] = &[
    ("pain 0 to 10", "0 no pain; 10 the worst pain imaginable"),
    ("tenderness 0 to 4", "0 none; 1 mild; 2 moderate; 3 severe, with withdrawal; 4 touch not tolerated"),
    (
        "strength 0 to 5",
        "0 no contraction; 1 flicker; 2 movement without gravity; 3 against gravity; 4 against some resistance; 5 normal",
    ),
    ("reflex 0 to 4", "0 absent; 1 diminished; 2 usual; 3 brisk; 4 with clonus (repeated beats)"),
    (
        "mobilization I to IV",
        "I small movement early in the range; II large, within the range; III large, to the end of the range; IV small, at the end of the range",
    ),
    ("mobilization V", "a thrust at the end of the range"),
];

/// The legend.
pub fn legend() -> String {
    let mut out = String::from("<h3>Abbreviations and words</h3>\n");
    out.push_str(&pairs(LEGEND));
    out.push_str("<h3>Grades, as commonly used; ask the practitioner where it matters</h3>\n");
    out.push_str(&pairs(GRADES));
    out
}

fn pairs(rows: &[(&str, &str)]) -> String {
    let mut out = String::from("<table class=\"rows\"><tbody>\n");
    for (what, meaning) in rows {
        out.push_str(&format!("<tr><td class=\"l\">{}</td><td>{}</td></tr>\n", esc(what), esc(meaning)));
    }
    out.push_str("</tbody></table>\n");
    out
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
    let mut out = table_start("grid index", &["No.", "Written", "Digest of the sealed entry"]);
    for entry in desk.set.in_order() {
        out.push_str(&tr(&[
            entry.seq.to_string(),
            esc(&plain_date(entry.written.local_date())),
            format!("<span class=\"digest\">{}</span>", digest(&entry.digest)),
        ]));
    }
    out.push_str(TABLE_END);
    out
}

/// How to check this copy, in ten lines.
pub fn how_to_check() -> String {
    const LINES: [&str; 10] = [
        "Count the pages. The foot of each page says which page it is; the cover slip says how many there are.",
        "Look at the head of every page: the same name, birth date and chart number must stand there.",
        "Go down the table of entries. The numbers \"in chart\" must run 1, 2, 3 without a gap; a number that is missing must be named on the cover slip.",
        "Find each entry of the table in the record by its number. Contents that are left out are listed on the cover slip with the reason.",
        "Wherever a line is struck, read the words beneath it and the correction of that number: who, when, why.",
        "Compare when something happened with when it was written. A late entry, or one written after a complaint, is marked.",
        "Compare the consents and withdrawals with the times of the procedures in each visit.",
        "Ask the practice for the day slip nearest the last entry. Its check words were printed that day and kept on paper; have the electronic copy checked against them.",
        "If you have the electronic copy, have it checked on a computer that is not the practice's. The checker says in words what holds and what does not; compare the digests it shows with the list in this copy.",
        "If anything does not fit, write to the custodian named on the cover slip and keep this copy as it is. No check can tell whether what was written is true, or whether something was left unwritten.",
    ];
    let items: String = LINES.iter().map(|line| format!("<li>{}</li>\n", esc(line))).collect();
    format!("<ol>\n{items}</ol>\n")
}
