//! The certificate as HTML: one side of paper, black on white, nothing fetched from anywhere.

use super::{Certificate, Mark};
use crate::text::{escaped, shown};
use crate::verify::finding::Severity;
use crate::verify::words::{self, fill};
use std::fmt::Write as _;

const STYLE: &str = "
@page { size: A4; margin: 11mm 15mm 11mm 22mm }
body { font: 9.2pt/1.27 Georgia, 'Times New Roman', serif; color: #000; background: #fff; max-width: 172mm; margin: 4mm auto }
h1 { font-size: 15pt; margin: 0 0 2mm; border-bottom: 1.5pt solid #000; padding-bottom: 1.5mm }
h2 { font-size: 10.2pt; margin: 2.1mm 0 0.4mm }
.verdict { border: 1.8pt solid #000; padding: 2mm 3mm; margin: 2.5mm 0 } .verdict b { font-size: 14pt; display: block }
table { border-collapse: collapse; width: 100% } td { vertical-align: top; padding: 0.2mm 2mm 0.2mm 0 }
td:first-child { white-space: nowrap; width: 1%; font-weight: bold } .facts td + td { font: 8pt/1.3 'Courier New', monospace; word-break: break-all }
.found { border-left: 2pt solid #000; padding-left: 2.5mm; margin: 1.5mm 0; break-inside: avoid } .found p { margin: 0 }
.said td:first-child { width: 9mm } ul { margin: 0; padding-left: 5mm } .hand { margin-top: 2mm; line-height: 1.8 } .line { border-bottom: 0.7pt solid #000; display: inline-block; width: 62mm }
";

/// The page.
pub(super) fn page(c: &Certificate, checked: &str) -> String {
    let mut out = format!(
        "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><title>Check of a package: {}</title><style>{STYLE}</style></head><body>\n<h1>Certificate of a check</h1>\n",
        escape(&c.verdict)
    );
    let _ = writeln!(out, "<div class=\"verdict\"><b>{}</b>{}</div>", escape(&c.verdict), escape(&c.meaning));
    out.push_str("<table class=\"facts\">\n");
    for (name, value) in c.facts.iter().map(|(n, v)| (*n, v.as_str())).chain([("Checked", checked)]) {
        let _ = writeln!(out, "<tr><td>{}</td><td>{}</td></tr>", escape(name), escape(value));
    }
    out.push_str("</table>\n");
    for section in &c.sections {
        let _ = writeln!(out, "<h2>{}</h2><table class=\"said\">", escape(&section.title));
        for (mark, words) in &section.lines {
            let mark = if *mark == Mark::Plain { "\u{2013}" } else { mark.word() };
            let _ = writeln!(out, "<tr><td>{mark}</td><td>{}</td></tr>", escape(words));
        }
        out.push_str("</table>\n");
    }
    findings(c, &mut out);
    let _ = writeln!(out, "<h2>{}</h2><ul>", words::LIMITS);
    for limit in &c.limits {
        let _ = writeln!(out, "<li>{}</li>", escape(limit));
    }
    out.push_str("</ul>\n<p class=\"hand\">Whose record: <span class=\"line\"></span> Name of the file: <span class=\"line\"></span><br>Checked by: <span class=\"line\"></span> Signature, day: <span class=\"line\"></span></p>\n</body></html>\n");
    out
}

fn findings(c: &Certificate, out: &mut String) {
    if c.findings.is_empty() {
        return;
    }
    let _ = writeln!(out, "<h2>{}</h2>", words::WHAT_WAS_FOUND);
    for finding in &c.findings {
        let mark = if finding.severity == Severity::Wrong { "WRONG" } else { "Note" };
        let _ = writeln!(
            out,
            "<div class=\"found\"><p><b>{mark}</b> [{}] at {}</p><p>{}</p><p>{}</p><p>{}</p></div>",
            escape(&finding.id),
            escape(&finding.place.to_string()),
            escape(&finding.what),
            escape(&fill(words::STILL_PROVEN, &[("words", &finding.still_provable)])),
            escape(&fill(words::NEXT, &[("words", &finding.next)]))
        );
    }
    if c.more_findings > 0 {
        let _ = writeln!(out, "<p>{}</p>", fill(words::AND_MORE, &[("count", &c.more_findings)]));
    }
}

/// Text in HTML. What came with the package is not trusted to be plain.
fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in shown(text).chars() {
        match escaped(c) {
            Some(written) => out.push_str(written),
            None => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_came_with_a_package_is_only_text() {
        let spoken = escape("<script>&\"'\u{1b}[2J\u{202e}");
        assert_eq!(spoken, "&lt;script&gt;&amp;&quot;&#39;&lt;U+001B&gt;[2J&lt;U+202E&gt;");
    }
}
