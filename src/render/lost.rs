//! What was on a lost or stolen computer, on one page for whoever has to judge it: how much, how sealed, what
//! could be open. No name of a patient stands on it, and nothing that was written.

use super::html::{TABLE_END, esc, said, table_start, tr};
use super::style;

/// What the page says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LostPage {
    /// When it was made, and from what.
    pub made: String,
    /// What was on it: label and value.
    pub held: Vec<(String, String)>,
    /// How many entries of each kind.
    pub kinds: Vec<(String, u64)>,
    /// How the computer was when it was lost, in words; none where nobody said.
    pub was: Option<String>,
    /// Minutes of idle time after which it locks itself, where the rules were read.
    pub idle_minutes: Option<u32>,
    /// Slips that were compared, each in words.
    pub slips: Vec<String>,
    /// Safe copies on record; none where the register was not opened.
    pub copies: Option<Vec<String>>,
}

/// What can be seen without opening anything.
pub const SEEN: &str = "How many entries and charts there are, of what kind each entry is, when it was sealed and by which staff \
    code, and how long it is. Charts have random labels there. No patient's name, birth date or chart number, and no word \
    of what was written, stands in a file name, a key's name, the index, or anywhere else unsealed.";

/// How it is sealed.
pub const SEALED: &[&str] = &[
    "Every entry, every attachment, every unsigned draft and every key was sealed before it was first written to the disk. Only \
     public keys, and digests of files, are not.",
    "What opens them is each person's own key. It lies in the store, sealed by that person's passphrase of at least 12 \
     characters. Besides these, the recovery sheet opens everything; it is kept on paper.",
    "So the seal is as strong as the weakest of these passphrases, and whoever has the computer can try as long as they like. \
     A new passphrase and new keys protect what is written from now on. They do not close what was taken: that opens with \
     the old ones.",
    "For whoever judges the seal: age v1 files (X25519, ChaCha20-Poly1305); passphrases by scrypt with work factor 18; \
     schema/FORMAT.md, sections 4 to 6, and schema/THREATS.md.",
];

/// What could be open, to be answered by whoever knows.
pub const QUESTIONS: &[&str] = &[
    "Was it running, with somebody unlocked? Then what that person may read was open until the program locked itself.",
    "Was a passphrase with it: on a note, in a password program that was open, in a file?",
    "Was the recovery sheet with it, on paper or as the file it was printed from?",
    "Did anything unsealed lie beside the store: printed pages, packages handed over unsealed, scans before they were attached?",
    "Was the short number the only thing in the way? It locks a desk; it seals nothing.",
    "Could memory have been written to the disk (sleep, hibernation, swap), and was the disk itself not sealed?",
];

/// What to do.
pub const NEXT: &[&str] = &[
    "Bring the newest safe copy onto another computer (inkfast restore), with the newest slip of the day book. If it is older, \
     record why (inkfast slip behind).",
    "End the keys of everybody whose passphrase may be known (inkfast roster retire), and give new ones.",
    "Keep this page, the police's number and what was answered above in the office file (inkfast office add, kind \
     theft-or-loss). It belongs in no chart.",
    "Ask counsel, or the authority, today whether patients and others must be told, and by when. That turns on whether the \
     record counts as secured where you work. In the United States, what was encrypted at rest \
     with the key kept apart is not \"unsecured\" (guidance of HHS, which names NIST SP 800-111); whether the key was kept apart \
     is what the answers above decide.",
];

/// The page.
pub fn lost_page(page: &LostPage) -> String {
    let mut out = format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\" />\n<title>Lost or stolen computer</title>\n\
         <style>\n{}</style>\n</head>\n<body class=\"summary\">\n<h1>Lost or stolen computer: what was on it</h1>\n<p class=\"meta\">{}</p>\n",
        style::sheet("lost or stolen computer - names no patient"),
        said(&page.made)
    );
    out.push_str("<h3>What was on it</h3>\n<table class=\"rows\"><tbody>\n");
    for (label, value) in &page.held {
        out.push_str(&format!("<tr><td class=\"l\">{}</td><td>{}</td></tr>\n", esc(label), said(value)));
    }
    out.push_str(TABLE_END);
    let kinds: Vec<String> = page.kinds.iter().map(|(kind, n)| format!("{kind} {n}")).collect();
    if !kinds.is_empty() {
        out.push_str(&format!("<p class=\"note\">By kind: {}.</p>\n", said(&kinds.join(", "))));
    }
    out.push_str(&format!("<h3>What can be seen without opening anything</h3>\n<p>{}</p>\n", esc(SEEN)));
    out.push_str("<h3>How the rest is sealed</h3>\n");
    SEALED.iter().for_each(|line| out.push_str(&format!("<p>{}</p>\n", esc(line))));
    out.push_str("<h3>What could be open: to be answered by hand</h3>\n");
    if let Some(was) = &page.was {
        out.push_str(&format!("<p><strong>{}</strong></p>\n", said(was)));
    }
    if let Some(minutes) = page.idle_minutes {
        out.push_str(&format!(
            "<p>By the rules in force it locks itself after {minutes} idle minutes.</p>\n"
        ));
    }
    out.push_str(&table_start("grid", &["Yes", "No", "Question", "Answered by, when"]));
    let open = "[&#160;&#160;&#160;]";
    for question in QUESTIONS {
        let blank = "<span class=\"blank short\"></span>".to_string();
        out.push_str(&tr(&[open.to_string(), open.to_string(), esc(question), blank]));
    }
    out.push_str(TABLE_END);
    out.push_str("<h3>Last slip that was compared</h3>\n");
    for slip in &page.slips {
        out.push_str(&format!("<p>{}</p>\n", said(slip)));
    }
    if page.slips.is_empty() {
        out.push_str("<p>None was compared when this page was made. Number in the day book: <span class=\"blank short\"></span></p>\n");
    }
    match &page.copies {
        Some(copies) if copies.is_empty() => out.push_str("<p>No safe copy is on record.</p>\n"),
        Some(copies) => {
            out.push_str(&format!("<p>Safe copies on record: {}.</p>\n", said(&copies.join("; "))))
        }
        None => {}
    }
    out.push_str("<h3>What now</h3>\n<ol class=\"tight\">\n");
    NEXT.iter().for_each(|line| out.push_str(&format!("<li>{}</li>\n", esc(line))));
    out.push_str(
        "</ol>\n<p class=\"sign\">Lost on <span class=\"blank short\"></span> at <span class=\"blank\"></span><br />\
         Keeper of the records <span class=\"blank\"></span> on <span class=\"blank short\"></span></p>\n</body>\n</html>\n",
    );
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_page_stands_alone_and_asks_what_no_program_can_know() {
        let page = LostPage {
            made: "made <now>".into(),
            held: vec![("Entries".into(), "12".into())],
            kinds: vec![("Visit note".into(), 7)],
            was: None,
            idle_minutes: Some(15),
            slips: Vec::new(),
            copies: Some(vec!["blue stick".into()]),
        };
        let html = lost_page(&page);
        crate::render::xml::parsed(&html);
        assert!(
            html.contains("made &lt;now&gt;")
                && html.contains("Visit note 7")
                && html.contains("15 idle minutes")
        );
        assert!(QUESTIONS.iter().all(|question| html.contains(&esc(question))));
        for outside in ["http", "<script", "<img", "url("] {
            assert!(!html.contains(outside), "{outside}");
        }
        let none = lost_page(&LostPage { copies: Some(Vec::new()), ..page });
        assert!(none.contains("No safe copy is on record"));
    }
}
