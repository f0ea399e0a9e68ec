//! The report as one page: the same words on a screen and on paper.
//!
//! Everything that a reader is told about a check is put together here, whichever program made it.

mod html;

use super::finding::{FindingOutput, Report, Severity};
use super::package_report::{Comparison, OutsideReport, PackageReport, StatementId};
use crate::text::{indented, shown, wrap};

/// The most findings written out on the page; `--json` has them all.
const MOST_FINDINGS: usize = 40;
/// The most withheld entries written out on the page.
const MOST_WITHHELD: usize = 60;

/// Whether something was shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mark {
    /// It was shown.
    Yes,
    /// It was not shown, or the contrary was.
    No,
    /// Neither: a remark.
    Plain,
}

impl Mark {
    /// As it stands before the line.
    pub fn word(self) -> &'static str {
        match self {
            Mark::Yes => "yes",
            Mark::No => "NO",
            Mark::Plain => "-",
        }
    }
}

/// A part of the page.
#[derive(Debug, Clone)]
pub struct Section {
    /// Its heading.
    pub title: String,
    /// Its lines.
    pub lines: Vec<(Mark, String)>,
}

/// The page.
#[derive(Debug, Clone)]
pub struct Certificate {
    /// The verdict in one or two words.
    pub verdict: String,
    /// The verdict in a sentence or two.
    pub meaning: String,
    /// What was checked: name and value.
    pub facts: Vec<(&'static str, String)>,
    /// The statements, reported apart.
    pub sections: Vec<Section>,
    /// What was found, if anything.
    pub findings: Vec<FindingOutput>,
    /// How many more findings there are.
    pub more_findings: u64,
    /// What the check does not prove. Always there.
    pub limits: Vec<String>,
}

/// Puts the page together.
pub fn certificate(report: &Report) -> Certificate {
    let (verdict, meaning) = verdict(report);
    let mut findings = report.findings.clone();
    let more = report.more_findings + findings.len().saturating_sub(MOST_FINDINGS) as u64;
    findings.truncate(MOST_FINDINGS);
    Certificate {
        verdict,
        meaning,
        facts: facts(report),
        sections: match &report.package {
            Some(package) => package_sections(report, package),
            None => vec![outside_of_store(report)],
        },
        findings,
        more_findings: more,
        limits: report.limits.clone(),
    }
}

/// The verdict, and what it means. No larger than the proof: without anything from outside a package is only
/// sound in itself.
fn verdict(report: &Report) -> (String, String) {
    let what = &report.checked;
    let wrong = report.findings.iter().filter(|f| f.severity == Severity::Wrong).count() as u64;
    if !report.sound {
        let wrong = wrong + report.more_findings;
        return (
            "NOT SOUND".to_string(),
            format!("{wrong} thing(s) are wrong with this {what}; they are named below. Keep it as it is."),
        );
    }
    match &report.package {
        None => match report.read_from {
            None => ("SOUND".to_string(), format!("Nothing in this {what} was changed, moved, removed or added.")),
            Some(from) => (
                format!("SOUND FROM ENTRY {from} ON"),
                format!(
                    "From entry {from} on nothing in this {what} was changed, moved, removed or added, and it goes on from the kept checkpoint."
                ),
            ),
        },
        Some(package) => match package.outside.reached {
            Some(number) => (
                "SOUND".to_string(),
                format!(
                    "Nothing in this package was changed, moved, removed or added since its entries were sealed, and it agrees with what was kept outside the practice, up to number {number} of the ledger."
                ),
            ),
            None => (
                "SOUND IN ITSELF".to_string(),
                "Everything in this package fits together: nothing in it was changed, moved, removed or added since the practice made it. Nothing kept outside the practice was compared, so nothing is proven about a ledger that was rebuilt.".to_string(),
            ),
        },
    }
}

fn facts(report: &Report) -> Vec<(&'static str, String)> {
    let mut facts = vec![("Ledger", report.ledger.clone())];
    if let Some(package) = &report.package {
        facts.push(("Chart tag", package.chart.clone()));
        facts.push((
            "Release",
            format!("entry {} of the ledger, made {} by {}", package.release, package.made, package.made_by),
        ));
        if let Some(file) = &package.file {
            facts.push(("File", format!("{} bytes", file.bytes)));
            facts.push(("BLAKE3", file.blake3.clone()));
            facts.push(("SHA-256", file.sha256.clone()));
        }
        facts.push(("Checkpoint key", package.checkpoint_key.clone()));
    }
    if let Some(checkpoint) = &report.checkpoint {
        facts.push(("Checkpoint", format!("over {} entries, root {}", checkpoint.size, checkpoint.root)));
    }
    facts.push((
        "Looked at",
        format!(
            "{} entries of {} chart(s), {} sealed file(s) or attachment(s)",
            report.entries, report.charts, report.files
        ),
    ));
    if report.charts_destroyed > 0 {
        let words = "chart(s), by order of two people; their entries stand, and open to nobody";
        facts.push(("Destroyed", format!("{} {words}", report.charts_destroyed)));
    }
    facts
}

fn package_sections(report: &Report, package: &PackageReport) -> Vec<Section> {
    let of = |ids: &[StatementId]| -> Vec<(Mark, String)> {
        let wanted = package.statements.iter().filter(|s| ids.contains(&s.id));
        wanted.map(|s| (if s.holds { Mark::Yes } else { Mark::No }, s.words.clone())).collect()
    };
    let mut contents = of(&[
        StatementId::ListSigned,
        StatementId::Unchanged,
        StatementId::Signatures,
        StatementId::Attachments,
    ]);
    if !package.signers.is_empty() {
        let each: Vec<String> = package.signers.iter().map(|s| format!("{} {}", s.code, s.entries)).collect();
        contents.push((Mark::Plain, format!("Entries signed, by staff code: {}.", each.join(", "))));
    }
    let mut complete = of(&[StatementId::ChartComplete]);
    if complete.is_empty() {
        complete.extend(report.complete.iter().map(|words| (Mark::No, words.clone())));
    }
    vec![
        section("1. The contents", contents),
        section("2. In the ledger", of(&[StatementId::InLedger])),
        section("3. The chart up to its release", complete),
        section("4. Withheld", withheld(package)),
        section("5. Outside witnesses", outside(&package.outside)),
    ]
}

fn section(title: &str, lines: Vec<(Mark, String)>) -> Section {
    let lines = if lines.is_empty() { vec![(Mark::No, "Not shown.".to_string())] } else { lines };
    Section { title: title.to_string(), lines }
}

fn withheld(package: &PackageReport) -> Vec<(Mark, String)> {
    let count = package.withheld.len();
    let mut lines = vec![(
        Mark::Plain,
        match count {
            0 => "Nothing is withheld.".to_string(),
            _ => format!(
                "Contents withheld: {count}. Each of these entries is still counted, and proven to be there:"
            ),
        },
    )];
    lines.extend(package.withheld.iter().take(MOST_WITHHELD).map(|w| {
        (Mark::Plain, format!("entry {} of the chart (number {}, {}): {}", w.number, w.seq, w.kind, w.reason))
    }));
    if count > MOST_WITHHELD {
        lines.push((Mark::Plain, format!("and {} more; manifest.json has them all.", count - MOST_WITHHELD)));
    }
    lines
}

fn outside(outside: &OutsideReport) -> Vec<(Mark, String)> {
    let mut lines: Vec<(Mark, String)> = outside
        .compared
        .iter()
        .map(|c| match c.result {
            Comparison::Agrees => (Mark::Yes, format!("The {} agrees.", c.what)),
            Comparison::Disagrees => (
                Mark::No,
                format!(
                    "The {} says otherwise: the ledger in this package is not the one it was made from.",
                    c.what
                ),
            ),
            Comparison::NotComparable => (
                Mark::Plain,
                format!("The {} could not be compared: the package holds no proof at that number.", c.what),
            ),
            Comparison::OtherLedger => {
                (Mark::No, format!("The {} is of another ledger, or by another key.", c.what))
            }
        })
        .collect();
    if let Some(policy) = &outside.policy {
        lines.push(match (policy.names_this_ledger, policy.asks_for_none, policy.met) {
            (false, _, _) => (Mark::No, "REFUSED: your policy names another ledger or another key than the one that signed this package.".to_string()),
            (true, true, _) => (Mark::Yes, "Your policy names this ledger's key, and asks for no witness.".to_string()),
            (true, false, true) => (Mark::Yes, "Your policy names this ledger's key, and the witnesses it asks for have signed this state of the ledger.".to_string()),
            (true, false, false) => (Mark::No, "Your policy names this ledger's key, but the witnesses it asks for have not all signed this state of the ledger.".to_string()),
        });
        lines.extend(policy.witnesses.iter().map(|w| match (&w.saw, w.wrong, w.unknown_kind) {
            (Some(at), _, _) => {
                (Mark::Yes, format!("Witness {} saw this state of the ledger on {at}.", w.name))
            }
            (None, true, _) => (Mark::No, format!("The signature of witness {} is wrong.", w.name)),
            (None, _, true) => (
                Mark::Plain,
                format!(
                    "Witness {} has a key of a kind that this program can't check; it was not counted.",
                    w.name
                ),
            ),
            (None, _, _) => (Mark::Plain, format!("Witness {} did not sign it.", w.name)),
        }));
    }
    lines.push(match outside.reached {
        Some(number) => (Mark::Plain, format!("The last number reached by something outside: {number}.")),
        None => (
            Mark::Plain,
            "Nothing outside the package vouches for it: nothing is proven about a ledger that was rebuilt."
                .to_string(),
        ),
    });
    if !outside.key_known {
        lines.push((
            Mark::Plain,
            "The checkpoint key came with the package; nothing here says that it is the practice's own."
                .to_string(),
        ));
    }
    lines
}

fn outside_of_store(report: &Report) -> Section {
    let mut lines: Vec<(Mark, String)> =
        report.witnesses.iter().map(|w| (Mark::Yes, format!("It agrees with {w}."))).collect();
    if lines.is_empty() {
        lines.push((Mark::Plain, "It was compared with nothing kept outside.".to_string()));
    }
    Section { title: "Kept outside".to_string(), lines }
}

impl Certificate {
    /// The page for a screen, or for any printer, at this width in characters. Ends without a line break.
    pub fn text(&self, width: usize) -> String {
        let mut out = wrap(&format!("{}. {}", self.verdict, self.meaning), width);
        out.push(String::new());
        let widest = self.facts.iter().map(|(name, _)| name.len()).max().unwrap_or(0);
        for (name, value) in &self.facts {
            out.push(hanging(&format!("{name:widest$}"), value, width));
        }
        for section in &self.sections {
            out.push(String::new());
            out.push(section.title.clone());
            out.extend(
                section
                    .lines
                    .iter()
                    .map(|(mark, words)| hanging(&format!("  {:3}", mark.word()), words, width)),
            );
        }
        for finding in &self.findings {
            let mark = if finding.severity == Severity::Wrong { "WRONG" } else { "Note" };
            out.push(String::new());
            out.extend(wrap(&format!("{mark} [{}] at {}", finding.id, finding.place), width));
            out.push(indented(&finding.what, width, 2));
            out.push(indented(&format!("Still proven: {}", finding.still_provable), width, 2));
            out.push(indented(&format!("Next: {}", finding.next), width, 2));
        }
        if self.more_findings > 0 {
            out.push(String::new());
            out.push(format!("and {} more.", self.more_findings));
        }
        out.push(String::new());
        out.push("What this does not prove".to_string());
        out.extend(self.limits.iter().map(|limit| hanging("  -  ", limit, width)));
        out.join("\n")
    }

    /// The page as one HTML file, black on white, for one side of paper. `checked` is when and with
    /// what it was checked, in words.
    pub fn html(&self, checked: &str) -> String {
        html::page(self, checked)
    }
}

/// A label with its words beside it, wrapped.
fn hanging(label: &str, words: &str, width: usize) -> String {
    let indent = shown(label).chars().count() + 1;
    let lines = wrap(words, width.saturating_sub(indent).max(1));
    let space = " ".repeat(indent);
    let joined = lines.join(&format!("\n{space}"));
    format!("{label} {joined}")
}
