//! The succession sheet: the page in the sealed envelope, for whoever takes the records over when their keeper no
//! longer can. Plain words, since it is read by somebody who has never seen the program.

use super::html::esc;
use super::style;
use crate::record::closing::ClosingRule;
use crate::seal::age_file::Identity;
use crate::seal::sheet::{grouped, qr_svg};
use crate::trouble::Outcome;
use zeroize::Zeroizing;

/// What the sheet says.
#[derive(Debug, Default)]
pub struct Succession {
    /// Name and address of the practice.
    pub practice: String,
    /// Who keeps the records now.
    pub keeper: String,
    /// Who is to take them over; none where nobody is named.
    pub successor: Option<String>,
    /// The store's folder.
    pub store: String,
    /// The store's own name.
    pub ledger: String,
    /// How many entries it held, and the day slip of then.
    pub entries: u64,
    /// The words of the day slip.
    pub slip: String,
    /// When the sheet was made.
    pub made: String,
    /// Where safe copies are.
    pub copies: Vec<String>,
    /// Where the recovery sheet is, where it does not stand on this one.
    pub recovery_at: Option<String>,
    /// Who is to be called.
    pub tell: Vec<String>,
    /// What the rules ask for.
    pub notices: Vec<ClosingRule>,
}

/// The sheet as one page of HTML; with the recovery identity where the owner wants it here.
///
/// # Errors
/// When the identity does not fit into its code, which it does.
pub fn succession_page(says: &Succession, recovery: Option<&Identity>) -> Outcome<Zeroizing<String>> {
    let list = |items: &[String], none: &str| match items.is_empty() {
        true => format!("<p>{none} <span class=\"blank wide\"></span></p>\n"),
        false => {
            let items: Vec<String> = items.iter().map(|item| format!("<li>{}</li>", esc(item))).collect();
            format!("<ul class=\"tight\">{}</ul>\n", items.join(""))
        }
    };
    let successor = says.successor.as_deref().map_or("<span class=\"blank wide\"></span>".to_string(), esc);
    let sheet_at = match (&recovery, &says.recovery_at) {
        (Some(_), _) => "at the end of this sheet".to_string(),
        (None, Some(at)) => esc(at),
        (None, None) => "<span class=\"blank wide\"></span>".to_string(),
    };
    let notices: Vec<String> = says
        .notices
        .iter()
        .map(|rule| {
            format!(
                "{}: {} {}: {} ({})",
                rule.whom.word(),
                rule.time(),
                rule.side.word(),
                rule.says,
                rule.source
            )
        })
        .collect();
    let mut page = Zeroizing::new(String::with_capacity(32 << 10));
    page.push_str(&format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\" />\n<title>Succession sheet</title>\n\
         <style>\n{style}.key {{ font: 12.5pt/1.7 \"Courier New\", monospace; border: 1.5pt solid #000; padding: 4mm 5mm; }}\n\
         .row svg {{ width: 48mm; height: 48mm; }}\n.next {{ break-inside: avoid; page-break-inside: avoid; margin-top: 8mm; }}\n\
         .cmd {{ font: 9.5pt/1.5 \"Courier New\", monospace; border-left: 2pt solid #000; padding-left: 3mm; margin: 1mm 0 3mm; overflow-wrap: anywhere; }}\n\
         </style>\n</head>\n<body>\n<h1>Succession sheet</h1>\n\
         <p>For whoever takes over the patient records of <strong>{practice}</strong> when {keeper}, who keeps them now, no \
         longer can. To be kept in a sealed envelope.</p>\n\
         <table class=\"slip\">\n\
         <tr><th>To be taken over by</th><td>{successor}</td></tr>\n\
         <tr><th>The records</th><td>the folder {store}<br />its name: {ledger}</td></tr>\n\
         <tr><th>When this was made</th><td>{made}: {entries} entries, day slip {slip}</td></tr>\n\
         <tr><th>The recovery sheet</th><td>{sheet_at}</td></tr>\n</table>\n",
        style = style::sheet("Succession sheet: keep it sealed"),
        practice = esc(&says.practice),
        keeper = esc(&says.keeper),
        store = esc(&says.store),
        ledger = esc(&says.ledger),
        made = esc(&says.made),
        entries = says.entries,
        slip = esc(&says.slip),
    ));
    page.push_str("<h3>Where safe copies are</h3>\n");
    page.push_str(&list(&says.copies, "To be filled in by hand:"));
    page.push_str("<h3>Whom to call</h3>\n");
    page.push_str(&list(&says.tell, "To be filled in by hand:"));
    page.push_str(
        "<h3>What to do, in this order. Nothing has to be hurried.</h3>\n<ol>\n\
         <li>Change nothing. Copy the whole folder to another disk, and put that disk away.</li>\n\
         <li>Check the copy, and compare its number with the newest day slip in the day book:\n\
         <p class=\"cmd\">inkfast verify --store FOLDER</p></li>\n\
         <li>Take the records over. You are asked for the line of the recovery sheet, for your name, and for a passphrase of \
         your own:\n\
         <p class=\"cmd\">inkfast custody take-over --store FOLDER --event death --reason \"...\" --kept-at \"...\"</p>\n\
         (for an illness: --event illness)</li>\n\
         <li>End the keys of whoever kept the records before, make new ones and a new recovery sheet, and destroy this one:\n\
         <p class=\"cmd\">inkfast unlock --as CODE<br />inkfast roster retire OLD-CODE --last-day DATE --because \"...\" \
         --new-keys --new-recovery-sheet FILE</p>\n\
         (where they may come back: inkfast roster renew --new-recovery-sheet FILE)</li>\n\
         <li>Tell those who have to be told; the program lists them with their days:\n\
         <p class=\"cmd\">inkfast custody notices</p></li>\n</ol>\n\
         <p>Without the program: any program for age files reads the records with the recovery sheet. The page \
         schema/FORMAT.md, beside the program, says how (\"In an emergency\").</p>\n\
         <p>The records are confidential. Open a chart only for a patient, or for somebody who may ask for it; every \
         opening is written down with its reason. Destroy nothing: how long each chart has to be kept, the program says.</p>\n",
    );
    if !notices.is_empty() {
        page.push_str("<h3>Who has to be told, by the rules of the practice</h3>\n");
        page.push_str(&list(&notices, ""));
    }
    page.push_str(
        "<p class=\"sign\"><span class=\"blank wide\"></span><br />signed by the keeper of the records, and the day</p>\n",
    );
    if let Some(recovery) = recovery {
        let text = recovery.to_text();
        page.push_str(&format!(
            "<div class=\"next\">\n<h2>Recovery identity</h2>\n\
             <p>The line below opens <strong>every record</strong>, without any passphrase. Spaces are only for the eye.</p>\n\
             <div class=\"key\">{}</div>\n<div class=\"row\">{}</div>\n\
             <p>Do not photograph it or mail it. If a stranger has seen it, make new keys.</p>\n</div>\n",
            grouped(&text).as_str(),
            qr_svg(text.as_bytes())?
        ));
    }
    page.push_str("</body>\n</html>\n");
    Ok(page)
}
