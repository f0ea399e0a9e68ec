//! The report as one page: the same words on a screen and on paper.
//!
//! Everything that a reader is told about a check is put together here, whichever program made it.

mod html;
#[cfg(test)]
mod tests;

use super::finding::{FindingOutput, Report, Severity};
use super::package_report::{Comparison, OutsideReport, PackageReport, StatementId};
use super::words::{self, fill};
use crate::text::{indented, shown, wrap};

/// The most findings written out on the page; `--json` has them all.
pub(super) const MOST_FINDINGS: usize = 40;
/// The most withheld entries written out on the page.
pub(super) const MOST_WITHHELD: usize = 60;

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
            Mark::Yes => words::YES,
            Mark::No => words::NO,
            Mark::Plain => words::PLAIN,
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
            words::NOT_SOUND.to_string(),
            fill(words::NOT_SOUND_MEANS, &[("wrong", &wrong), ("what", what)]),
        );
    }
    match &report.package {
        None => match report.read_from {
            None => {
                ("SOUND".to_string(), format!("Nothing in this {what} was changed, moved, removed or added."))
            }
            Some(from) => (
                format!("SOUND FROM ENTRY {from} ON"),
                format!(
                    "From entry {from} on nothing in this {what} was changed, moved, removed or added, and it goes on from the kept checkpoint."
                ),
            ),
        },
        Some(package) => match package.outside.reached {
            Some(number) => (words::SOUND.to_string(), fill(words::SOUND_MEANS, &[("number", &number)])),
            None => (words::SOUND_IN_ITSELF.to_string(), words::SOUND_IN_ITSELF_MEANS.to_string()),
        },
    }
}

fn facts(report: &Report) -> Vec<(&'static str, String)> {
    let mut facts = vec![(words::LEDGER, report.ledger.clone())];
    if let Some(package) = &report.package {
        facts.push((words::CHART_TAG, package.chart.clone()));
        facts.push((
            words::RELEASE,
            fill(
                words::RELEASE_IS,
                &[("release", &package.release), ("made", &package.made), ("by", &package.made_by)],
            ),
        ));
        if let Some(file) = &package.file {
            facts.push((words::FILE, fill(words::FILE_BYTES, &[("bytes", &file.bytes)])));
            facts.push((words::BLAKE3, file.blake3.clone()));
            facts.push((words::SHA256, file.sha256.clone()));
        }
        facts.push((words::CHECKPOINT_KEY, package.checkpoint_key.clone()));
    }
    if let Some(checkpoint) = &report.checkpoint {
        facts.push((
            words::CHECKPOINT,
            fill(words::CHECKPOINT_IS, &[("size", &checkpoint.size), ("root", &checkpoint.root)]),
        ));
    }
    facts.push((
        words::LOOKED_AT,
        fill(
            words::LOOKED_AT_IS,
            &[("entries", &report.entries), ("charts", &report.charts), ("files", &report.files)],
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
        contents.push((Mark::Plain, fill(words::SIGNED_BY_CODE, &[("each", &each.join(", "))])));
    }
    let mut complete = of(&[StatementId::ChartComplete]);
    if complete.is_empty() {
        complete.extend(report.complete.iter().map(|words| (Mark::No, words.clone())));
    }
    vec![
        section(words::CONTENTS, contents),
        section(words::PLACES, of(&[StatementId::InLedger])),
        section(words::CHART, complete),
        section(words::WITHHELD, withheld(package)),
        section(words::OUTSIDE, outside(&package.outside)),
    ]
}

fn section(title: &str, lines: Vec<(Mark, String)>) -> Section {
    let lines = if lines.is_empty() { vec![(Mark::No, words::NOT_SHOWN.to_string())] } else { lines };
    Section { title: title.to_string(), lines }
}

fn withheld(package: &PackageReport) -> Vec<(Mark, String)> {
    let count = package.withheld.len();
    let mut lines = vec![(
        Mark::Plain,
        match count {
            0 => words::NOTHING_WITHHELD.to_string(),
            _ => fill(words::SOME_WITHHELD, &[("count", &count)]),
        },
    )];
    lines.extend(package.withheld.iter().take(MOST_WITHHELD).map(|w| {
        let each: [(&str, &dyn std::fmt::Display); 4] =
            [("number", &w.number), ("seq", &w.seq), ("kind", &w.kind), ("reason", &w.reason)];
        (Mark::Plain, fill(words::ONE_WITHHELD, &each))
    }));
    if count > MOST_WITHHELD {
        lines.push((Mark::Plain, fill(words::MORE_WITHHELD, &[("count", &(count - MOST_WITHHELD))])));
    }
    lines
}

fn outside(outside: &OutsideReport) -> Vec<(Mark, String)> {
    let mut lines: Vec<(Mark, String)> = outside
        .compared
        .iter()
        .map(|c| match c.result {
            Comparison::Agrees => (Mark::Yes, fill(words::AGREES, &[("what", &c.what)])),
            Comparison::Disagrees => (Mark::No, fill(words::DISAGREES, &[("what", &c.what)])),
            Comparison::NotComparable => (Mark::Plain, fill(words::NOT_COMPARED, &[("what", &c.what)])),
            Comparison::OtherLedger => (Mark::No, fill(words::OF_ANOTHER_LEDGER, &[("what", &c.what)])),
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
        Some(number) => (Mark::Plain, fill(words::REACHED, &[("number", &number)])),
        None => (Mark::Plain, words::REACHED_BY_NOTHING.to_string()),
    });
    if !outside.key_known {
        lines.push((Mark::Plain, words::KEY_NOT_KNOWN.to_string()));
    }
    lines
}

fn outside_of_store(report: &Report) -> Section {
    let mut lines: Vec<(Mark, String)> =
        report.witnesses.iter().map(|w| (Mark::Yes, format!("It agrees with {w}."))).collect();
    if lines.is_empty() {
        lines.push((Mark::Plain, words::COMPARED_WITH_NOTHING.to_string()));
    }
    Section { title: words::KEPT_OUTSIDE.to_string(), lines }
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
            let at = if finding.severity == Severity::Wrong { words::WRONG_AT } else { words::NOTE_AT };
            out.push(String::new());
            out.extend(wrap(&fill(at, &[("id", &finding.id), ("place", &finding.place)]), width));
            out.push(indented(&finding.what, width, 2));
            out.push(indented(&fill(words::STILL_PROVEN, &[("words", &finding.still_provable)]), width, 2));
            out.push(indented(&fill(words::NEXT, &[("words", &finding.next)]), width, 2));
        }
        if self.more_findings > 0 {
            out.push(String::new());
            out.push(fill(words::AND_MORE, &[("count", &self.more_findings)]));
        }
        out.push(String::new());
        out.push(words::LIMITS.to_string());
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
