//! The accounting of disclosures on paper, for the patient: who received something of the record, when, what
//! and why, in plain words and in black and white (45 CFR 164.528(b)). It says as plainly what it leaves out,
//! and what it can't know.

use super::html::{TABLE_END, esc, said, table_start, tr};
use super::style;
use crate::record::disclosures::account::{Account, AccountLine, NotCounted};
use crate::record::moment::{Date, plain_date};
use std::fmt::Write;

/// What stands on the page beside the account itself.
pub struct AccountingPage<'a> {
    /// The practice.
    pub practice: String,
    /// Its address.
    pub address: String,
    /// Whom to ask about this page: name and duty.
    pub contact: String,
    /// Name of the patient.
    pub patient: String,
    /// Birth date, in words.
    pub born: String,
    /// To whom the page is given.
    pub given_to: String,
    /// The day it was made.
    pub made_on: Date,
    /// Who made it.
    pub made_by: String,
    /// The first day of this record.
    pub begins: Date,
    /// The fee, in words; none where there is none.
    pub fee: Option<String>,
    /// True for a page that is only looked at, and not given.
    pub trial: bool,
    /// The account.
    pub account: &'a Account,
}

/// The page as one file of HTML that stands alone.
pub fn accounting_page(page: &AccountingPage<'_>) -> String {
    let foot =
        format!("Accounting of disclosures, chart {}, made {}", page.account.chart, plain_date(page.made_on));
    let mut out = format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\" />\n\
         <title>Accounting of disclosures</title>\n<style>\n{}{OWN}</style>\n</head>\n<body>\n",
        style::sheet(&foot)
    );
    if page.trial {
        out.push_str("<p class=\"trial\">TRIAL PAGE: not given to anybody, and not recorded.</p>\n");
    }
    out.push_str("<h1>Who received information about you</h1>\n");
    out.push_str("<p class=\"meta\">Accounting of disclosures, as in 45 CFR 164.528</p>\n");
    head(page, &mut out);
    told(page, &mut out);
    not_told(page, &mut out);
    cannot(page, &mut out);
    let _ = write!(
        out,
        "<h2>Questions, or something missing?</h2>\n<p>Ask {} at {}, {}. If you know of something that was sent \
         and does not stand here, please say so: it will be looked into.</p>\n",
        said(&page.contact),
        said(&page.practice),
        said(&page.address)
    );
    out.push_str("</body>\n</html>\n");
    out
}

const OWN: &str = "\
h2 { margin-top: 7mm; }\n\
.trial { border: 1.5pt solid #000; padding: 2mm 3mm; font-weight: bold; }\n\
.told td:first-child { width: 31mm; } .told td:nth-child(2) { width: 44mm; }\n\
.left td:first-child { width: 31mm; } .left td:nth-child(2) { width: 58mm; }\n\
@media screen { body { max-width: 172mm; margin: 10mm auto; padding: 0 6mm; } }\n";

fn head(page: &AccountingPage<'_>, out: &mut String) {
    let account = page.account;
    let mut charts = vec![account.chart.clone()];
    charts.extend(account.other_charts.iter().cloned());
    let fee = match (&page.fee, account.free) {
        (Some(fee), _) => format!("{} (you were told beforehand)", said(fee)),
        (None, true) => "None. One accounting in any twelve months is free of charge.".to_string(),
        (None, false) => "None is asked for this one.".to_string(),
    };
    out.push_str("<table class=\"slip\">\n");
    for (label, value) in [
        ("About", format!("{}, born {}", said(&page.patient), said(&page.born))),
        (if charts.len() == 1 { "Chart" } else { "Charts" }, said(&charts.join(", "))),
        ("Asked for on", esc(&plain_date(account.asked_on.0))),
        (
            "It covers",
            format!(
                "{} to {}, both days included",
                esc(&plain_date(account.from.0)),
                esc(&plain_date(account.until.0))
            ),
        ),
        ("Given to", said(&page.given_to)),
        (
            "Made on",
            format!(
                "{} by {}, {}",
                esc(&plain_date(page.made_on)),
                said(&page.made_by),
                said(&page.practice)
            ),
        ),
        ("Fee", fee),
    ] {
        let _ = writeln!(out, "<tr><th>{}</th><td>{value}</td></tr>", esc(label));
    }
    out.push_str("</table>\n");
}

fn told(page: &AccountingPage<'_>, out: &mut String) {
    out.push_str("<h2>What was sent or told, and to whom</h2>\n");
    if page.account.lines.is_empty() {
        // It must stay true while an agency has something left out.
        out.push_str("<p>Nothing that has to be told today stands in the record for these days.</p>\n");
        return;
    }
    out.push_str(&table_start("grid told", &["When", "To whom", "What", "What for"]));
    for line in &page.account.lines {
        out.push_str(&tr(&[when(line), whom(line), what(line), why(line)]));
    }
    out.push_str(TABLE_END);
}

/// The first day, and for several their number and the last day (45 CFR 164.528(b)(3)).
fn when(line: &AccountLine) -> String {
    match line.count {
        1 => esc(&plain_date(line.first.0)),
        count => format!(
            "{count} times<br />first: {}<br />last: {}",
            esc(&plain_date(line.first.0)),
            esc(&plain_date(line.last.0))
        ),
    }
}

fn whom(line: &AccountLine) -> String {
    let address = match &line.address {
        Some(address) => said(address),
        None => "<i>address not known</i>".to_string(),
    };
    format!("<b>{}</b><br />{address}", said(&line.to))
}

fn what(line: &AccountLine) -> String {
    let what = match line.what.is_empty() {
        true => "<i>not written down</i>".to_string(),
        false => said(&capital(&line.what)),
    };
    let first = if line.count > 1 { "The first time: " } else { "" };
    let numbers: Vec<String> = line.entries.iter().map(|seq| format!("no. {seq}")).collect();
    format!("{first}{what}<br /><i>Entry {}</i>", esc(&numbers.join(", ")))
}

fn why(line: &AccountLine) -> String {
    let mut why = esc(&capital(&line.basis));
    if !line.purpose.is_empty() {
        let _ = write!(why, ".<br />{}", said(&capital(&line.purpose)));
    }
    if let Some(copy) = line.request_copy {
        let _ = write!(why, "<br />A copy of the written request belongs to this page (entry no. {copy}).");
    } else if line.purpose.is_empty() {
        why.push_str("<br /><i>Nothing more was written down.</i>");
    }
    why
}

fn not_told(page: &AccountingPage<'_>, out: &mut String) {
    out.push_str("<h2>What does not have to be told, and why</h2>\n");
    let shown: Vec<&NotCounted> = page.account.not_counted.iter().filter(|one| one.may_be_shown).collect();
    if shown.is_empty() {
        out.push_str("<p>Nothing is listed here for these days.</p>\n");
        return;
    }
    out.push_str(
        "<p>The law leaves these out of an accounting. They stand here so that you see what else the record \
         says was sent.</p>\n",
    );
    out.push_str(&table_start("grid left", &["When", "To whom", "Why it is not counted"]));
    for one in shown {
        let reason = format!("{}<br /><i>{}</i>", esc(&one.because), esc(&one.citation));
        out.push_str(&tr(&[esc(&plain_date(one.on.0)), said(&one.to), reason]));
    }
    out.push_str(TABLE_END);
}

fn cannot(page: &AccountingPage<'_>, out: &mut String) {
    out.push_str("<h2>What this page cannot say</h2>\n<ul>\n");
    let mut points: Vec<String> = Vec::new();
    if page.account.from.0 < page.begins {
        points.push(format!(
            "This record begins on {}. What was sent before that day, for example from a paper record, is not in \
             it. Please ask if you need it.",
            plain_date(page.begins)
        ));
    }
    points.push(
        "It tells what the practice wrote down. What nobody wrote down, and what was seen or overheard without \
         permission, can't be on it."
            .to_string(),
    );
    points.push(
        "It does not tell what the people named here did with what they received, and not whether a firm working \
         for the practice passed something on, unless the practice was told and wrote it down."
            .to_string(),
    );
    points.push(
        "The law lets some authorities ask that what they received is left out for a time. A page like this never \
         says whether anybody asked for that."
            .to_string(),
    );
    points.push(
        "It is about information that left the practice. Who opened your record inside the practice is another \
         list; you may ask for it."
            .to_string(),
    );
    for point in points {
        let _ = writeln!(out, "<li>{}</li>", esc(&point));
    }
    out.push_str("</ul>\n");
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or(String::new(), |first| first.to_uppercase().chain(chars).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::kinds::Day;
    use crate::record::moment::parse_date;

    fn day(text: &str) -> Day {
        Day(parse_date(text).unwrap())
    }

    fn account() -> Account {
        let line = |to: &str, count: u32| AccountLine {
            to: to.into(),
            address: None,
            first: day("2024-04-15"),
            count,
            last: day("2024-06-15"),
            basis: "public health".into(),
            what: "<b>the record</b>".into(),
            purpose: String::new(),
            request_copy: None,
            entries: vec![7],
            missing: vec!["purpose".into()],
        };
        let left = |to: &str, may_be_shown: bool| NotCounted {
            entry: 9,
            on: day("2024-05-01"),
            to: to.into(),
            basis: "for payment".into(),
            because: "Sent so that care is paid for.".into(),
            citation: "45 CFR 164.528(a)(1)(i)".into(),
            may_be_shown,
        };
        Account {
            chart: "PM-7".into(),
            other_charts: vec![],
            request: None,
            asked_on: day("2025-03-02"),
            from: day("2019-03-02"),
            until: day("2025-03-02"),
            rule: "six years".into(),
            due: day("2025-05-01"),
            lines: vec![line("County health office", 3), line("Court", 1)],
            not_counted: vec![left("Guild plan", true), left("An agency", false)],
            left_out_for_a_time: vec![crate::record::disclosures::account::LeftOut {
                entry: 11,
                on: day("2024-05-01"),
                to: "Harbour police".into(),
                through: day("2026-01-01"),
            }],
            outside_the_period: vec![],
            to_look_at: vec![],
            earlier: vec![],
            free: true,
        }
    }

    fn page(account: &Account) -> String {
        accounting_page(&AccountingPage {
            practice: "Pellmere Manual Practice".into(),
            address: "2 Lock Row".into(),
            contact: "Ingrith Valsamo".into(),
            patient: "B. C.".into(),
            born: "23 Jul 1988".into(),
            given_to: "the patient".into(),
            made_on: parse_date("2025-03-03").unwrap(),
            made_by: "IV".into(),
            begins: parse_date("2022-10-03").unwrap(),
            fee: None,
            trial: false,
            account,
        })
    }

    #[test]
    fn a_repeat_is_told_by_first_number_and_last() {
        // 45 CFR 164.528(b)(3): the first disclosure in full, the number, and the date of the last.
        let page = page(&account());
        assert!(page.contains("3 times<br />first: 15 Apr 2024<br />last: 15 Jun 2024"));
        assert!(page.contains("The first time: <bdi>&lt;b&gt;the record"));
        assert!(page.contains("address not known") && page.contains("Nothing more was written down."));
    }

    #[test]
    fn what_an_agency_had_left_out_is_nowhere_on_the_page() {
        // 45 CFR 164.528(a)(2): the right to that part is suspended, so the page must not give it away.
        let page = page(&account());
        assert!(!page.contains("Harbour police") && !page.contains("An agency"));
        assert!(page.contains("Guild plan") && page.contains("164.528(a)(1)(i)"));
        assert!(!page.contains("TRIAL"));
    }

    #[test]
    fn it_names_what_it_cannot_say() {
        let mut account = account();
        assert!(page(&account).contains("This record begins on 03 Oct 2022."));
        account.from = day("2023-01-01");
        account.lines.clear();
        let page = page(&account);
        assert!(!page.contains("This record begins"));
        assert!(page.contains("Nothing that has to be told today"));
        for outside in ["http", "<script", "<img", "url("] {
            assert!(!page.contains(outside), "{outside}");
        }
    }
}
