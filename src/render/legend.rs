//! The legend: the abbreviations, words and grades that this copy really uses, and what each means.
//! Boards ask for a key to abbreviations; one that lists what is nowhere used hides what is.

use super::html::{esc, said};
use std::collections::{BTreeMap, BTreeSet};

/// One line of the legend: what it explains, the words that show that it is used, and the meaning. With
/// no such words it is always printed.
type Line = (&'static str, &'static [&'static str], &'static str);

/// Words of the layout and of the trade.
const WORDS: &[Line] = &[
    (
        "S, O, A, P",
        &["S (subjective)"],
        "the four parts of a visit note: what was told (subjective), found (objective), thought (assessment), done and planned (procedures and plan)",
    ),
    (
        "C1 to C7",
        &["C0", "C1", "C2", "C3", "C4", "C5", "C6", "C7"],
        "the bones (vertebrae) of the neck, counted from the head down; C0 is the base of the skull (occiput)",
    ),
    (
        "T1 to T12",
        &["T1", "T2", "T3", "T4", "T5", "T6", "T7", "T8", "T9", "T10", "T11", "T12"],
        "the vertebrae of the chest, counted from the neck down. \"T12\" alone is the vertebra, never the joint T1-T2",
    ),
    ("L1 to L5", &["L1", "L2", "L3", "L4", "L5"], "the vertebrae of the low back, counted from above"),
    ("S1", &["S1"], "the first vertebra of the sacrum"),
    (
        "C5-C6, T12-L1, ...",
        &[
            "C0", "C1", "C2", "C3", "C4", "C5", "C6", "T1", "T2", "T3", "T4", "T5", "T6", "T7", "T8", "T9",
            "T10", "T11", "T12", "L1", "L2", "L3", "L4", "L5",
        ],
        "two vertebrae with a hyphen: a motion segment, the joint between two neighbouring vertebrae",
    ),
    ("SI", &["SI"], "sacroiliac joint, between sacrum and pelvis"),
    (
        "rib 1 to rib 12",
        &[
            "rib 1", "rib 2", "rib 3", "rib 4", "rib 5", "rib 6", "rib 7", "rib 8", "rib 9", "rib 10",
            "rib 11", "rib 12",
        ],
        "the joints of that rib with the spine, counted from above",
    ),
    (
        "left side, right side",
        &["left side", "right side"],
        "always the patient's own left and right, never as seen by the practitioner",
    ),
    ("both sides", &["both sides"], "left and right, each"),
    ("midline", &["midline"], "the middle of the body, neither side"),
    ("soft-tissue work", &["soft-tissue work", "Soft-tissue work"], "hands on muscle, fascia and skin"),
    (
        "joint mobilization",
        &["joint mobilization", "Joint mobilization"],
        "slow, repeated movement of a joint within its range",
    ),
    ("thrust", &["thrust", "Thrust"], "one quick, short movement of a joint (adjustment, manipulation)"),
    (
        "work inside the mouth",
        &["work inside the mouth", "Work inside the mouth"],
        "gloved fingers on muscles within the mouth (intraoral)",
    ),
    ("traction", &["traction", "Traction"], "a steady pull along a joint"),
    (
        "asked today",
        &["asked today", "Asked today"],
        "just before a procedure the patient was asked, by the one who would do it, and answered",
    ),
    ("screen", &["Screen"], "a list of questions asked to find reasons not to treat, or to refer"),
    (
        "standing refusal",
        &["standing refusal", "Standing refusal", "REFUSED from"],
        "something the patient never wants, whatever else is agreed, until the patient lifts it by name",
    ),
    ("addendum", &["addendum", "Addendum"], "new information that was not known when the entry was written"),
    (
        "correction",
        &["correction no", "Correction"],
        "the words were wrong; the first words stay readable with a line through them",
    ),
    (
        "late entry",
        &["LATE ENTRY", "Late entry", "late entry:"],
        "left out at the time, or written later than the practice's own rule allows, from what the author knows",
    ),
    ("Not recorded", &["Not recorded"], "this part was required, and nothing was written"),
    (
        "cannot show",
        &["later program needed"],
        "the entry was written by a later program; it is there and it verifies, but its words can't be printed here",
    ),
    ("no. 17", &[], "the entry with the number 17 in the practice's register"),
    (
        "06 Jun 2023, 11:18",
        &[],
        "day, month, year; hour and minute from 00:00 to 23:59, by the clock of the place on that day",
    ),
];

/// Grades, from general use of the trade.
const GRADES: &[Line] = &[
    ("pain 0 to 10", &["of 10"], "0 no pain; 10 the worst pain imaginable"),
    (
        "tenderness 0 to 4",
        &["tenderness, grade"],
        "0 none; 1 mild; 2 moderate; 3 severe, with withdrawal; 4 touch not tolerated",
    ),
    (
        "strength 0 to 5",
        &["strength", "Strength"],
        "0 no contraction; 1 flicker; 2 movement without gravity; 3 against gravity; 4 against some resistance; 5 normal",
    ),
    (
        "reflex 0 to 4",
        &["reflex", "Reflex"],
        "0 absent; 1 diminished; 2 usual; 3 brisk; 4 with clonus (repeated beats)",
    ),
    (
        "mobilization I to IV",
        &["grade I", "grade II", "grade III", "grade IV"],
        "I small movement early in the range; II large, within the range; III large, to the end of the range; IV small, at the end of the range",
    ),
    ("mobilization V", &["grade V"], "a thrust at the end of the range"),
];

/// Units and short words, from general use.
const SHORT: &[Line] = &[
    ("mm, cm", &["mm", "cm"], "millimetres, centimetres"),
    ("mmHg", &["mmHg"], "millimetres of mercury: the unit of blood pressure, upper value / lower value"),
    ("TMJ", &["TMJ"], "the jaw joint (temporomandibular joint)"),
    ("SCM", &["SCM"], "the long muscle from behind the ear to the breastbone (sternocleidomastoid)"),
    ("ROM", &["ROM", "AROM", "PROM"], "range of motion; with A active, with P passive"),
    ("SLR", &["SLR"], "straight-leg raise"),
    ("BP", &["BP"], "blood pressure"),
    (
        "CT, MRI",
        &["CT", "MRI"],
        "pictures in slices, by X-rays (computed tomography) or by magnetic resonance",
    ),
    ("HVLA", &["HVLA"], "high velocity, low amplitude: a thrust"),
    ("NPRS", &["NPRS"], "numeric pain rating scale, 0 to 10"),
    ("ADL", &["ADL"], "activities of daily living"),
    ("GP", &["GP"], "general practitioner, the family doctor"),
];

/// Words in capitals that are words, not abbreviations, on the printed page.
const NOT_SHORT: &[&str] = &[
    "ACCEPTED",
    "AFTER",
    "AND",
    "ANOTHER",
    "BEFORE",
    "BELONGS",
    "BY",
    "CHART",
    "CONSENT",
    "COVERED",
    "DECLINED",
    "ENTRY",
    "FIRST",
    "GIVEN",
    "HERE",
    "ITS",
    "LATE",
    "LIMIT",
    "MADE",
    "NO",
    "NOT",
    "NOTICE",
    "OF",
    "ON",
    "OR",
    "OWN",
    "PART",
    "PRACTICE",
    "PROCEDURE",
    "READ",
    "REFUSED",
    "SOUND",
    "TABLE",
    "THAT",
    "THE",
    "THIS",
    "TO",
    "VISIT",
    "WAS",
    "WHAT",
    "WITH",
    "WITHDRAWAL",
    "WITHDRAWN",
    "WRITTEN",
    "YES",
    "II",
    "III",
    "IV",
    "VI",
    "ID",
    "BLAKE",
    "HTML",
    "JSON",
    "PDF",
    "TXT",
    "UTC",
];

/// The legend for what is printed in `pages`. `typed` is that part of it which holds the words of entries;
/// `known` are initials and codes from the signature list.
pub fn legend(pages: &str, typed: &str, known: &BTreeSet<String>) -> String {
    let text = plain(pages);
    let mut out = String::from("<h3>Abbreviations and words used in this copy</h3>\n");
    let used = |lines: &[Line]| -> Vec<(String, String)> {
        let lines = lines
            .iter()
            .filter(|(_, signs, _)| signs.is_empty() || signs.iter().any(|sign| has_word(&text, sign)));
        lines.map(|(what, _, meaning)| (esc(what), esc(meaning))).collect()
    };
    let mut rows = used(WORDS);
    rows.extend(used(SHORT));
    out.push_str(&pairs(&rows));
    let grades = used(GRADES);
    if !grades.is_empty() {
        out.push_str("<h3>Grades, as commonly used; ask the practitioner where it matters</h3>\n");
        out.push_str(&pairs(&grades));
    }
    out.push_str(&unexplained(&plain(typed), known));
    out
}

fn pairs(rows: &[(String, String)]) -> String {
    let mut out = String::from("<table class=\"rows\"><tbody>\n");
    for (what, meaning) in rows {
        out.push_str(&format!("<tr><td class=\"l\">{what}</td><td>{meaning}</td></tr>\n"));
    }
    out.push_str("</tbody></table>\n");
    out
}

/// Words in capitals that somebody typed and that no line here explains: better asked about than guessed.
fn unexplained(text: &str, known: &BTreeSet<String>) -> String {
    let explained: BTreeSet<&str> =
        WORDS.iter().chain(SHORT).chain(GRADES).flat_map(|(_, signs, _)| signs.iter().copied()).collect();
    let mut found: BTreeMap<&str, usize> = BTreeMap::new();
    for word in text.split(|c: char| !c.is_alphanumeric()) {
        let short = (2..=6).contains(&word.chars().count())
            && word.chars().all(|c| c.is_ascii_uppercase())
            && !NOT_SHORT.contains(&word)
            && !explained.contains(word)
            && !known.contains(word);
        if short {
            *found.entry(word).or_default() += 1;
        }
    }
    if found.is_empty() {
        return String::new();
    }
    let words: Vec<String> = found.keys().map(|word| said(word)).collect();
    format!(
        "<h3>Used in the words of entries, and not explained by this program</h3>\n\
         <p>{}. Ask whoever signed the entry.</p>\n",
        words.join(", ")
    )
}

/// Tags within a line, which part no words.
const WITHIN: [&str; 7] = ["bdi", "strong", "em", "del", "ins", "a", "span"];

/// The words of a page without its tags and without digests.
fn plain(html: &str) -> String {
    let mut out = String::with_capacity(html.len() / 2);
    let mut rest = html;
    while let Some(at) = rest.find('<') {
        out.push_str(&rest[..at]);
        rest = &rest[at..];
        let end = if rest.starts_with("<span class=\"digest\">") { "</span>" } else { ">" };
        let tag = rest.trim_start_matches(['<', '/']);
        let name = tag.split([' ', '>', '\n']).next().unwrap_or_default();
        if !WITHIN.contains(&name) {
            out.push(' ');
        }
        rest = rest.find(end).map_or("", |close| &rest[close + end.len()..]);
    }
    out.push_str(rest);
    out
}

/// True when the sign stands in the text as a word of its own.
fn has_word(text: &str, sign: &str) -> bool {
    let part = |c: Option<char>| c.is_some_and(char::is_alphanumeric);
    text.match_indices(sign)
        .any(|(at, _)| !part(text[..at].chars().next_back()) && !part(text[at + sign.len()..].chars().next()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(pages: &str) -> String {
        legend(pages, pages, &BTreeSet::from(["IV".to_string(), "TRQ".to_string()]))
    }

    #[test]
    fn only_what_is_used_is_explained() {
        let html = of("<p><bdi>Thrust</bdi> T5-T6, <strong>left side</strong></p>");
        for there in ["T1 to T12", "C5-C6", "left side, right side", "thrust"] {
            assert!(html.contains(there), "{there}");
        }
        for absent in ["C1 to C7", "L1 to L5", "midline", "traction", "reflex 0 to 4", "TMJ", "Grades"] {
            assert!(!html.contains(&format!("<td class=\"l\">{absent}")), "{absent}");
        }
    }

    #[test]
    fn what_nobody_explains_is_named() {
        let html = of("<p>ROM full, WAD II, signed TRQ, WRITTEN AFTER NOTICE</p>");
        assert!(html.contains("range of motion"));
        assert!(html.contains("<bdi>WAD</bdi>. Ask whoever signed"), "{html}");
        assert!(!of("<p>ROM full</p>").contains("not explained by this program"));
    }

    #[test]
    fn a_word_is_not_found_within_another() {
        assert!(has_word("L5-S1.", "S1") && has_word("(C5)", "C5"));
        assert!(!has_word("TC55", "C5") && !has_word("S12", "S1"));
    }
}
