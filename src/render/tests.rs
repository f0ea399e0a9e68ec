//! A whole printed record, made from a chart that has nearly everything, and from one example of
//! every kind.

use super::*;
use crate::record::envelope::{Person, Record};
use crate::record::kinds::register::{RegisterOpened, Staff, Wording};
use crate::record::moment::Moment;
use crate::record::tables::Tables;
use serde_json::{Value, json};
use std::path::Path;

fn data(path: &str) -> String {
    std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data").join(path)).unwrap()
}

fn moment(text: &str) -> Moment {
    Moment::parse(text).unwrap()
}

fn entry(value: &Value) -> PrintedEntry {
    let text = |name: &str| value[name].as_str().unwrap().to_string();
    PrintedEntry {
        seq: value["seq"].as_u64().unwrap(),
        chart_seq: value["chart_seq"].as_u64(),
        kind: text("kind"),
        written: moment(&text("written")),
        author: text("author"),
        digest: text("digest"),
        record: value.get("record").map(|record| serde_json::from_value(record.clone()).unwrap()),
        withheld: value["withheld"].as_str().map(str::to_string),
        state: EntryState::Opened,
    }
}

fn staff() -> Vec<Staff> {
    let line = |code: &str, name: &str, role: &str, licence: Option<&str>, from: &str, last: Option<&str>| {
        let mut value =
            json!({"code": code, "name": name, "role": role, "initials": code, "on_roster_from": from});
        if let Some(no) = licence {
            value["licence_no"] = json!(no);
            value["licence_last_day"] = json!("2026-12-31");
        }
        if let Some(day) = last {
            value["on_roster_last_day"] = json!(day);
        }
        serde_json::from_value(value).unwrap()
    };
    vec![
        line("IV", "Ingrith Valsamo", "chiropractor", Some("LM-C-0417"), "2022-10-03", None),
        line(
            "TR",
            "Tobiah Renquist",
            "associate-chiropractor",
            Some("LM-C-0688"),
            "2022-10-03",
            Some("2024-08-30"),
        ),
        line("PQ", "Pernel Quaye", "massage-therapist", Some("LM-M-0219"), "2022-10-03", None),
        line("HL", "Hattie Lorch", "desk", None, "2022-10-03", None),
    ]
}

/// The chart with nearly everything.
pub(super) fn set() -> PrintedSet {
    let entries: Vec<PrintedEntry> =
        serde_json::from_str::<Vec<Value>>(&data("printed/chart.json")).unwrap().iter().map(entry).collect();
    let practice: RegisterOpened = serde_json::from_value(json!({
        "practice": "The Ropewalk Rooms", "address": "14 Hemp Lane, Pellmere", "territory": "Lower Marl",
        "regulator": "Lower Marl Board of Manual Practice", "custodian": "IV", "clock": "UTC-5, summer UTC-4"
    }))
    .unwrap();
    let wording: Wording = serde_json::from_value(json!({
        "code": "F1", "title": "Consent to treatment", "language": "en", "effective": "2022-10-03",
        "text": "I have been told what will be done, what else could be done, and what can go wrong.\nI may stop at any time."
    }))
    .unwrap();
    PrintedSet {
        trade: Thresholds::Adopted(Box::new(Tables::shipped().unwrap().trade.clone())),
        practice: Some(practice),
        patient: Patient::from_entries(&entries).unwrap(),
        ledger: "ledger-7f3a".to_string(),
        checkpoint: CheckpointWords {
            size: 1911,
            check_words: "harbour-linen-seven-oak".to_string(),
            digest: "9b1f".repeat(16),
        },
        printed_at: moment("2025-05-26T14:05:00-04:00"),
        printed_by: Person { code: "IV".into(), name: "Ingrith Valsamo".into(), role: "chiropractor".into() },
        for_whom: "Lower Marl Board of Manual Practice".to_string(),
        purpose: "reply to the board's letter of 5 May 2025".to_string(),
        basis: "health oversight, as the letter states".to_string(),
        extent: "the whole chart up to entry 1910".to_string(),
        contact: Some("Hattie Lorch, desk, 14 Hemp Lane, Pellmere".to_string()),
        entries,
        staff: staff(),
        wordings: vec![wording],
        attachments: vec![PrintedAttachment {
            seq: 1320,
            came_along: "file 1 of the electronic copy".to_string(),
        }],
        verification: Some(vec![
            "Entries 1 to 1911 of the register are present, unbroken and in order.".to_string(),
            "This chart is complete up to entry 1910.".to_string(),
            "Last day slip compared: 23 May 2025; it fits.".to_string(),
        ]),
        differences: None,
    }
}

/// One example of every kind, numbered in the order of their names.
pub(super) fn every_kind() -> PrintedSet {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/records");
    let mut names: Vec<_> = std::fs::read_dir(folder)
        .unwrap()
        .map(|file| file.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    let records = names
        .iter()
        .map(|name| -> Record { Record::from_bytes(data(&format!("records/{name}")).as_bytes()).unwrap() });
    let entries = records
        .enumerate()
        .map(|(index, record)| PrintedEntry {
            seq: 5000 + index as u64,
            chart_seq: Some(1 + index as u64),
            kind: record.kind.clone(),
            written: record.written,
            author: record.author.code.clone(),
            digest: "00".repeat(32),
            record: Some(record),
            withheld: None,
            state: EntryState::Opened,
        })
        .collect();
    PrintedSet { entries, ..set() }
}

fn sound(html: &str) {
    xml::parsed(html);
    for fetched in ["<script", "http:", "https:", "src=", "url(", "@import", "<link", "<img", "javascript:"] {
        assert!(!html.contains(fetched), "{fetched}");
    }
    let mut ids: Vec<&str> = html.split(" id=\"").skip(1).filter_map(|part| part.split('"').next()).collect();
    let all = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), all, "an entry is printed twice");
}

/// Set INKFAST_PAGE_TO to a folder to look at the page.
fn keep(name: &str, html: &str) {
    if let Ok(folder) = std::env::var("INKFAST_PAGE_TO") {
        std::fs::write(Path::new(&folder).join(name), html).unwrap();
    }
}

#[test]
fn a_whole_chart_is_sound_and_the_same_twice() {
    let html = page(&set());
    keep("chart.html", &html);
    sound(&html);
    assert_eq!(html, page(&set()));
    let mut turned = set();
    turned.entries.reverse();
    assert_eq!(html, page(&turned), "the order of the list must not matter");
}

#[test]
fn every_kind_is_printed() {
    let set = every_kind();
    let html = page(&set);
    keep("kinds.html", &html);
    sound(&html);
    for entry in &set.entries {
        let printed = html.contains(&format!(" id=\"e{}\"", entry.seq));
        assert_eq!(printed, entry.kind != "office-file", "{}", entry.kind);
    }
    assert!(html.contains("a paper of the office, no part of the patient"));
    assert!(!html.contains("Openings without a visit"), "the title of the office paper");
    assert!(html.contains("WITHDRAWN 06 Jun 2023 11:18"), "a withdrawal without its consent is still seen");
}

#[test]
fn every_entry_stands_in_full_exactly_once() {
    let set = set();
    let html = page(&set);
    for entry in &set.entries {
        let anchors = html.matches(&format!(" id=\"e{}\"", entry.seq)).count();
        assert_eq!(anchors, usize::from(entry.withheld.is_none()), "no. {} {}", entry.seq, entry.kind);
    }
}

#[test]
fn a_struck_line_stays_with_the_new_one_beneath() {
    let html = page(&set());
    let struck = "<del><bdi>09:16 Thrust - sacroiliac joint, SI joint, left side</bdi></del> <span class=\"mark\">[struck by correction no. 714, 09 May 2023, IV]</span>";
    let at = html.find(struck).unwrap();
    let beneath = html[at..].split("</tr>").nth(1).unwrap();
    assert!(beneath.contains("09:16 Thrust - sacroiliac joint, SI joint, right side"), "{beneath}");
    assert!(beneath.contains("[new words, correction no. 714, 09 May 2023, IV]"), "{beneath}");
}

#[test]
fn a_withheld_entry_shows_its_reason_and_nothing_of_its_contents() {
    let mut set = set();
    let before = page(&set);
    assert!(before.contains("no more pushing on my ribs"));
    let entry = set.entries.iter_mut().find(|entry| entry.kind == "withdrawal").unwrap();
    entry.withheld = Some("order of 3 March".to_string());
    let html = page(&set);
    sound(&html);
    assert!(!html.contains("no more pushing on my ribs"));
    assert!(html.contains("withheld: order of 3 March"));
}

#[test]
fn what_is_missing_is_said() {
    let html = page(&set());
    assert!(html.contains("<em><bdi>Not recorded</bdi></em>"));
    assert!(html.contains("kind office-notes edition 1 (later program needed)"));
    let mut set = set();
    set.entries.retain(|entry| entry.seq != 703);
    set.verification = None;
    let html = page(&set);
    assert!(html.contains("11 (numbers in the chart)"), "a number is missing and the cover must say so");
    assert!(html.contains("This copy was not checked"));
}

#[test]
fn the_time_line_says_what_was_taken_back() {
    let html = page(&set());
    let table = html.split("Given, ended, taken back").nth(1).unwrap().split("</table>").next().unwrap();
    let row = |words: &[&str]| {
        let found = table.split("<tr>").find(|row| words.iter().all(|word| row.contains(word)));
        found.unwrap_or_else(|| panic!("{words:?} in {table}")).to_string()
    };
    let ribs = row(&["thrust", "ibs", "WITHDRAWN 15 Jan 2024 10:18 (no. 1306)"]);
    assert!(!ribs.contains("lumbar"), "{ribs}");
    let back = row(&["thrust", "lumbar", "given 08 May 2023 08:52 (no. 692) - ended 07 May 2024"]);
    assert!(!back.contains("WITHDRAWN"), "{back}");
    row(&["Neck", "REFUSED from 08 May 2023 08:55 (no. 693)"]);
}

#[test]
fn words_of_a_record_stay_words() {
    let mut set = set();
    let late = set.entries.iter_mut().find(|entry| entry.kind == "late-entry").unwrap();
    late.record.as_mut().unwrap().data["text"] = json!("<b>\u{202E}No second\u{202C}</b> & nothing more.");
    let html = page(&set);
    assert!(html.contains("&lt;b&gt;[U+202E]No second[U+202C]&lt;/b&gt; &amp; nothing more."));
    set.patient.name = "\"; } body { display: none } </style><script>".to_string();
    set.printed_by.name = set.patient.name.clone();
    set.for_whom = set.patient.name.clone();
    sound(&page(&set));
}

#[test]
fn the_patient_is_as_the_last_change_says() {
    let mut set = every_kind();
    let entry = set.entries.iter_mut().find(|entry| entry.kind == "identity-changed").unwrap();
    let name = entry.record.as_ref().unwrap().data["identity"]["legal_name"].as_str().unwrap().to_string();
    assert_eq!(Patient::from_entries(&set.entries).unwrap().name, name);
    assert_eq!(Patient::from_entries(&[]), None);
}

/// Federal Rules of Evidence 803(6)(A) to (E) and 902(11), (13), (14); from memory, paraphrased.
#[test]
fn the_statement_holds_what_a_court_asks_for() {
    let html = page(&set());
    let at = html.find("Statement of the custodian").unwrap();
    let statement = &html[at..html[at..].find("<h2>Table of entries").unwrap() + at];
    for (rule, words) in [
        ("803(6)(A)", "made at or near the time of what it tells"),
        ("803(6)(A)", "by a person with knowledge of it, or from what a person with knowledge passed on"),
        ("803(6)(B)", "in the course of the regularly conducted activity of the practice"),
        ("803(6)(C)", "Making such entries was a regular practice of that activity"),
        ("803(6)(D), 902(11)", "I am the custodian of these records, or another person qualified"),
        ("803(6)(E)", "speaks against trusting them"),
        ("902(13), 902(14)", "gives an accurate result"),
    ] {
        assert!(statement.contains(words), "{rule}: {words}");
        assert!(statement.contains(&format!("[{rule}]")), "{rule}");
    }
    // 902(14): identity of the copy shown by a digest.
    let digest = set().digest();
    assert!(statement.contains(&digest[..8]), "the digest of the set");
    // Blanks to fill in, never filled in by the program; the form is not law for any one court.
    for words in [
        "HAVE COUNSEL ADAPT IT",
        "Signed <span class=\"blank",
        "Date <span",
        "Printed name",
        "under penalty of perjury",
        "Sworn or affirmed before",
    ] {
        assert!(statement.contains(words), "{words}");
    }
    // The result of the check, and its limits.
    for words in [
        "it fits",
        "That what was written is true, or that the clock was right",
        "That nothing was left unwritten",
        "no second register",
        "written anew after the last slip",
    ] {
        assert!(statement.contains(words), "{words}");
    }
}

#[test]
fn every_page_says_whose_it_is_and_which_copy() {
    let set = set();
    for html in [page(&set), summary_patient::page(&set), summary_clinician::page(&set)] {
        let head = html.split("</thead>").next().unwrap();
        for words in [
            &set.patient.name,
            &set.patient.birth,
            &set.patient.chart_no,
            "printed 26 May 2025 14:05 by Ingrith Valsamo",
        ] {
            assert!(head.contains(words), "{words}");
        }
        let foot = html.split("@bottom-left").nth(1).unwrap().split('}').next().unwrap();
        for words in [
            set.checkpoint.check_words.clone(),
            set.short_digest(),
            format!("layout edition {LAYOUT_EDITION}"),
        ] {
            assert!(foot.contains(&words), "{words} in {foot}");
        }
        assert!(html.contains("\"page \" counter(page) \" of \" counter(pages)"));
    }
}

#[test]
fn the_digest_of_the_set_tells_two_copies_apart() {
    let whole = set();
    let mut less = set();
    less.entries.retain(|entry| entry.seq != 703);
    let mut withheld = set();
    withheld.entries.iter_mut().find(|entry| entry.kind == "withdrawal").unwrap().withheld =
        Some("order".into());
    let mut turned = set();
    turned.entries.reverse();
    assert_eq!(whole.digest(), turned.digest());
    assert!(whole.digest() != less.digest() && whole.digest() != withheld.digest());
    let lines: String = whole
        .in_order()
        .iter()
        .map(|e| {
            format!(
                "{} {} {}\n",
                e.seq,
                e.digest,
                if e.shown().is_some() { "printed" } else { "not-printed" }
            )
        })
        .collect();
    assert_eq!(
        whole.digest(),
        blake3::hash(lines.as_bytes()).to_hex().to_string(),
        "as the page says it is made"
    );
}

#[test]
fn what_stands_out_is_said_on_the_cover() {
    let html = page(&set());
    let first = html.split("What a reader should know first").nth(1).unwrap().split("</ul>").next().unwrap();
    for words in ["corrected: the first words are printed struck", "late entry", "paper of such a dispute"] {
        assert!(first.contains(words), "{words}: {first}");
    }
    let plain = PrintedSet {
        entries: set().entries.into_iter().filter(|e| e.kind == "chart-opened").collect(),
        ..set()
    };
    assert!(page(&plain).contains("Nothing stands out"));
}

#[test]
fn the_table_of_entries_says_where_each_is_printed_and_who_received_copies() {
    let html = page(&set());
    let table = html.split("<h2>Table of entries").nth(1).unwrap().split("</table>").next().unwrap();
    for words in ["<th>Late</th>", "visit of ", "beneath no. ", "<strong>LATE ENTRY"] {
        assert!(table.contains(words), "{words}");
    }
    let html = page(&every_kind());
    assert!(html.contains("Every copy that left the practice"));
}

#[test]
fn the_summaries_are_sound_marked_and_the_same_twice() {
    for (name, set) in [("chart", set()), ("kinds", every_kind())] {
        let mut turned = set.clone();
        turned.entries.reverse();
        for (which, make) in [
            ("patient", summary_patient::page as fn(&PrintedSet) -> String),
            ("clinician", summary_clinician::page),
        ] {
            let html = make(&set);
            keep(&format!("{name}-{which}.html"), &html);
            sound(&html);
            assert_eq!(html, make(&set));
            assert_eq!(html, make(&turned), "the order of the list must not matter");
            assert!(html.contains("<strong><bdi>A summary, not the record.</bdi></strong>"));
            let head = html.split("</thead>").next().unwrap();
            assert!(head.contains("A SUMMARY, not the record"), "at the head of every page");
        }
    }
}

#[test]
fn the_summaries_tell_what_was_done_and_refused() {
    let lines = summary::text(&summary_patient::summary(&set())).join("\n");
    for words in
        ["Thrust", "right side", "took back: ", "no more pushing on my ribs", "Who received copies", "10. "]
    {
        assert!(lines.contains(words), "{words}\n{lines}");
    }
    assert!(!lines.contains("SI joint; Which side: left side"), "the wrong side was corrected\n{lines}");
    let lines = summary::text(&summary_clinician::summary(&set())).join("\n");
    for words in [
        "Anticoagulant",
        "Latex",
        "Osteoporosis",
        "Working diagnosis",
        "Measures over time",
        "The last three notes follow in the record",
    ] {
        assert!(lines.contains(words), "{words}\n{lines}");
    }
    assert!(lines.find("To be minded first").unwrap() < lines.find("Working diagnosis").unwrap());
}

/// Texts of a record that are found nowhere else in the set.
fn own_texts(set: &PrintedSet, of: u64) -> Vec<String> {
    fn texts(value: &Value, out: &mut Vec<String>) {
        match value {
            Value::String(text) if text.len() >= 12 && text.contains(' ') => out.push(text.clone()),
            Value::Array(items) => items.iter().for_each(|item| texts(item, out)),
            Value::Object(fields) => fields.values().for_each(|field| texts(field, out)),
            _ => {}
        }
    }
    let mut own = Vec::new();
    let mut others = Vec::new();
    for entry in &set.entries {
        let Some(record) = &entry.record else { continue };
        texts(&record.data, if entry.seq == of { &mut own } else { &mut others });
    }
    // Whose record it is stands at the head of every page.
    own.retain(|text| !text.contains(&set.patient.name) && !set.patient.name.contains(text.as_str()));
    own.retain(|text| !others.iter().any(|other| other.contains(text.as_str())));
    own
}

#[test]
fn nothing_of_a_withheld_entry_is_in_a_summary() {
    let (mut shown, mut tried) = (0, 0);
    for whole in [set(), every_kind()] {
        let both = |set: &PrintedSet| summary_patient::page(set) + &summary_clinician::page(set);
        let before = both(&whole);
        for entry in whole.entries.iter().filter(|entry| entry.record.is_some()) {
            if ["chart-opened", "identity-changed"].contains(&entry.kind.as_str()) {
                continue;
            }
            let own: Vec<String> = own_texts(&whole, entry.seq).iter().map(|text| html::esc(text)).collect();
            tried += own.len();
            let told = own.iter().filter(|text| before.contains(text.as_str())).count();
            if told == 0 {
                continue;
            }
            shown += told;
            let mut copy = whole.clone();
            copy.entries.iter_mut().find(|one| one.seq == entry.seq).unwrap().withheld = Some("order".into());
            let after = both(&copy);
            for text in own {
                assert!(!after.contains(&text), "no. {} {}: {text}", entry.seq, entry.kind);
            }
        }
    }
    assert!(shown >= 20 && tried > shown, "{shown} of {tried}");
}
