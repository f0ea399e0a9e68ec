//! The day sheet: the list of a day on paper, black and white, with a box for what is done.

use super::html::{TABLE_END, esc, said, table_start, tr};
use super::style;

/// A line of the sheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SheetLine {
    /// When it is due, in words; empty where there is no day.
    pub due: String,
    /// Chart number; empty outside any chart.
    pub chart: String,
    /// Name; empty outside any chart.
    pub name: String,
    /// What it is.
    pub words: String,
}

/// A heading and its lines.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SheetPart {
    /// The heading.
    pub heading: String,
    /// Its lines.
    pub lines: Vec<SheetLine>,
}

/// The sheet of a day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DaySheet {
    /// The day, with its weekday.
    pub day: String,
    /// When it was printed, and by whom.
    pub printed: String,
    /// Who is expected.
    pub expected: Vec<SheetLine>,
    /// What was due before.
    pub overdue: Vec<SheetPart>,
    /// What is due, or looked at ahead.
    pub due: Vec<SheetPart>,
    /// Remarks, for example about drafts of others.
    pub remarks: Vec<String>,
}

/// The sheet as one page of HTML that stands alone.
pub fn day_sheet(sheet: &DaySheet) -> String {
    let foot = "day sheet - shred it when the day is over; it is no part of the record";
    let mut out = format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\" />\n<title>Day sheet</title>\n\
         <style>\n{}</style>\n</head>\n<body>\n<h1>{}</h1>\n<p class=\"meta\">{}</p>\n",
        style::sheet(foot),
        esc(&sheet.day),
        said(&sheet.printed)
    );
    if !sheet.expected.is_empty() {
        out.push_str("<h2>Expected today</h2>\n");
        out.push_str(&lines(&sheet.expected));
    }
    for (heading, parts) in [("OVERDUE", &sheet.overdue), ("Due today, and ahead", &sheet.due)] {
        if parts.is_empty() {
            continue;
        }
        out.push_str(&format!("<h2>{}</h2>\n", esc(heading)));
        for part in parts {
            out.push_str(&format!("<h3>{}</h3>\n", esc(&part.heading)));
            out.push_str(&lines(&part.lines));
        }
    }
    if sheet.expected.is_empty() && sheet.overdue.is_empty() && sheet.due.is_empty() {
        out.push_str("<p>Nothing is open today.</p>\n");
    }
    for remark in &sheet.remarks {
        out.push_str(&format!("<p class=\"note\">{}</p>\n", esc(remark)));
    }
    out.push_str("</body>\n</html>\n");
    out
}

fn lines(lines: &[SheetLine]) -> String {
    let mut out = table_start("grid", &["Done", "Due", "Chart", "Name", "What"]);
    for line in lines {
        let cells = [&line.due, &line.chart, &line.name, &line.words].map(|cell| said(cell));
        let mut row = vec!["[&#160;&#160;&#160;]".to_string()];
        row.extend(cells);
        out.push_str(&tr(&row));
    }
    out.push_str(TABLE_END);
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sheet_stands_alone_and_is_black_and_white() {
        let line = |words: &str| SheetLine {
            due: "Fri 07 Mar 2025".into(),
            chart: "PM-7".into(),
            name: "<b>B. C.</b>".into(),
            words: words.into(),
        };
        let sheet = DaySheet {
            day: "Mon 10 Mar 2025".into(),
            printed: "printed 10 Mar 2025 08:00 by IV".into(),
            expected: vec![line("")],
            overdue: vec![SheetPart { heading: "To be called back".into(), lines: vec![line("call back")] }],
            due: Vec::new(),
            remarks: vec!["One draft of others.".into()],
        };
        let page = day_sheet(&sheet);
        assert!(page.contains("&lt;b&gt;B. C.&lt;/b&gt;") && !page.contains("<b>"));
        for outside in ["http", "<script", "<img", "url("] {
            assert!(!page.contains(outside), "{outside}");
        }
        assert!(page.contains("<h2>OVERDUE</h2>") && !page.contains("Due today, and ahead"));
        let empty = DaySheet { expected: vec![], overdue: vec![], remarks: vec![], ..sheet };
        assert!(day_sheet(&empty).contains("Nothing is open today."));
    }
}
