use super::*;
use crate::verify::finding::{CheckpointOutput, Finding, FindingId, Where};
use crate::verify::package_report::{
    Compared, FileReport, PolicyReport, PolicyWitness, SignerReport, Statement, WithheldReport,
};

fn store() -> Report {
    Report {
        checked: "store".into(),
        sound: true,
        ledger: "ledger-x".into(),
        entries: 9,
        read_from: None,
        charts: 2,
        charts_destroyed: 0,
        files: 3,
        checkpoint: Some(CheckpointOutput { size: 9, root: "ab".into() }),
        witnesses: vec![],
        complete: None,
        package: None,
        findings: vec![],
        more_findings: 0,
        limits: vec!["It proves no more than this.".into()],
    }
}

fn package() -> Report {
    let package = PackageReport {
        file: None,
        chart: "c0".into(),
        release: 9,
        made: "10 Mar 2025".into(),
        made_by: "IV".into(),
        checkpoint_key: "ledger-x+1+A".into(),
        statements: vec![],
        signers: vec![],
        withheld: vec![],
        outside: OutsideReport::default(),
    };
    Report { checked: "package".into(), package: Some(Box::new(package)), ..store() }
}

fn changed(change: impl FnOnce(&mut PackageReport)) -> Report {
    let mut report = package();
    change(report.package.as_mut().unwrap());
    report
}

fn found(id: FindingId) -> FindingOutput {
    Finding::new(id, Where::default()).to_output()
}

/// The lines of a section, each with its mark in front.
fn lines(report: &Report, title: &str) -> Vec<String> {
    let page = certificate(report);
    let section = page.sections.iter().find(|section| section.title == title).unwrap();
    section.lines.iter().map(|(mark, words)| format!("{} {words}", mark.word())).collect()
}

#[test]
fn the_verdict_is_no_larger_than_the_proof() {
    let verdict = |report: &Report| certificate(report).verdict;
    assert_eq!(verdict(&store()), "SOUND");
    assert_eq!(verdict(&Report { read_from: Some(5), ..store() }), "SOUND FROM ENTRY 5 ON");
    assert_eq!(verdict(&package()), "SOUND IN ITSELF");
    assert_eq!(verdict(&changed(|p| p.outside.reached = Some(7))), "SOUND");
    // What is wrong is counted; a note is none of it.
    let (wrong, note) = (
        found(FindingId::ALL.iter().copied().find(|id| id.severity() == Severity::Wrong).unwrap()),
        found(FindingId::ALL.iter().copied().find(|id| id.severity() != Severity::Wrong).unwrap()),
    );
    let unsound = Report {
        sound: false,
        findings: vec![wrong.clone(), note.clone(), wrong.clone()],
        more_findings: 5,
        ..store()
    };
    let page = certificate(&unsound);
    assert_eq!(
        (&*page.verdict, page.meaning.starts_with("7 thing(s)")),
        ("NOT SOUND", true),
        "{}",
        page.meaning
    );
    assert_eq!((page.findings.len(), page.more_findings), (3, 5));
    let text = page.text(100);
    assert_eq!((text.matches("WRONG [").count(), text.matches("Note [").count()), (2, 1), "{text}");
    assert!(text.contains("\nand 5 more.\n"), "{text}");
    // Only so many are written out.
    for (count, more) in [(MOST_FINDINGS, 0), (MOST_FINDINGS + 1, 1), (MOST_FINDINGS + 3, 3)] {
        let many = Report { sound: false, findings: vec![wrong.clone(); count], ..store() };
        let page = certificate(&many);
        assert_eq!((page.findings.len(), page.more_findings), (MOST_FINDINGS, more));
        assert_eq!(page.text(100).contains("more."), more > 0);
    }
}

#[test]
fn what_was_looked_at_is_told_and_what_was_destroyed_only_where_something_was() {
    let names = |report: &Report| certificate(report).facts.iter().map(|(name, _)| *name).collect::<Vec<_>>();
    assert_eq!(names(&store()), ["Ledger", "Checkpoint", "Looked at"]);
    assert_eq!(names(&Report { checkpoint: None, ..store() }), ["Ledger", "Looked at"]);
    assert_eq!(names(&Report { charts_destroyed: 1, ..store() })[3], "Destroyed");
    assert_eq!(
        names(&package()),
        ["Ledger", "Chart tag", "Release", "Checkpoint key", "Checkpoint", "Looked at"]
    );
    let file = FileReport { bytes: 7, blake3: "b3".into(), sha256: "s2".into() };
    assert_eq!(names(&changed(|p| p.file = Some(file)))[3..6], ["File", "BLAKE3", "SHA-256"]);
    let facts = certificate(&store()).facts;
    assert_eq!(facts[0].1, "ledger-x");
    assert_eq!(facts[1].1, "over 9 entries, root ab");
    assert_eq!(facts[2].1, "9 entries of 2 chart(s), 3 sealed file(s) or attachment(s)");
}

#[test]
fn statements_stand_in_their_sections_with_their_marks() {
    let statement = |id, holds| Statement { id, holds, words: format!("{id:?}") };
    let report = changed(|p| {
        p.statements = vec![
            statement(StatementId::InLedger, false),
            statement(StatementId::Unchanged, true),
            statement(StatementId::ChartComplete, true),
        ];
        p.signers = vec![
            SignerReport { code: "IV".into(), entries: 3 },
            SignerReport { code: "LM".into(), entries: 1 },
        ];
    });
    assert_eq!(
        lines(&report, words::CONTENTS),
        ["yes Unchanged", "- Entries signed, by staff code: IV 3, LM 1."]
    );
    assert_eq!(lines(&report, words::PLACES), ["NO InLedger"]);
    assert_eq!(lines(&report, words::CHART), ["yes ChartComplete"]);
    assert_eq!(lines(&package(), words::CONTENTS), ["NO Not shown."]);
    let cut = Report { complete: Some("cut".into()), ..package() };
    assert_eq!(lines(&cut, words::CHART), ["NO cut"]);
}

#[test]
fn each_withheld_entry_is_named_up_to_a_number() {
    let of = |count: u64| {
        let held =
            |number| WithheldReport { number, seq: number + 10, kind: "visit".into(), reason: "harm".into() };
        lines(&changed(|p| p.withheld = (1..=count).map(held).collect()), words::WITHHELD)
    };
    assert_eq!(of(0), ["- Nothing is withheld."]);
    assert_eq!(of(1).len(), 2);
    assert_eq!(of(1)[1], "- entry 1 of the chart (number 11, visit): harm");
    let most = MOST_WITHHELD as u64;
    assert_eq!(of(most).len(), MOST_WITHHELD + 1);
    let more = of(most + 7);
    assert_eq!(
        (more.len(), &*more[MOST_WITHHELD + 1]),
        (MOST_WITHHELD + 2, "- and 7 more; manifest.json has them all.")
    );
}

#[test]
fn what_was_compared_outside_is_told_as_it_came_out() {
    let compared = |result| Compared { what: "slip 7".into(), number: 7, result };
    let results =
        [Comparison::Agrees, Comparison::Disagrees, Comparison::NotComparable, Comparison::OtherLedger];
    let report = changed(|p| {
        p.outside.compared = results.map(compared).to_vec();
        p.outside.reached = Some(7);
        p.outside.key_known = true;
    });
    let marks: Vec<String> =
        lines(&report, words::OUTSIDE).iter().map(|l| l.split(' ').next().unwrap().to_string()).collect();
    assert_eq!(marks, ["yes", "NO", "-", "NO", "-"]);
    let said = lines(&package(), words::OUTSIDE);
    assert_eq!(said, [format!("- {}", words::REACHED_BY_NOTHING), format!("- {}", words::KEY_NOT_KNOWN)]);
    let policy = |names_this_ledger, asks_for_none, met| {
        let policy = PolicyReport { names_this_ledger, asks_for_none, met, witnesses: vec![] };
        lines(&changed(|p| p.outside.policy = Some(policy)), words::OUTSIDE)[0].clone()
    };
    assert!(policy(false, true, true).starts_with("NO REFUSED"));
    assert!(policy(true, true, false).starts_with("yes ") && policy(true, false, true).starts_with("yes "));
    assert!(policy(true, false, false).starts_with("NO "));
    let witness = |saw: Option<&str>, wrong, unknown_kind| {
        let one = PolicyWitness { name: "w".into(), saw: saw.map(str::to_string), wrong, unknown_kind };
        let policy =
            PolicyReport { names_this_ledger: true, asks_for_none: false, met: true, witnesses: vec![one] };
        lines(&changed(|p| p.outside.policy = Some(policy)), words::OUTSIDE)[1].clone()
    };
    assert_eq!(witness(Some("today"), false, false), "yes Witness w saw this state of the ledger on today.");
    assert_eq!(witness(None, true, true), "NO The signature of witness w is wrong.");
    assert!(witness(None, false, true).starts_with("- Witness w has a key of a kind"));
    assert_eq!(witness(None, false, false), "- Witness w did not sign it.");
    // A store: what it agrees with, or that it was compared with nothing.
    assert_eq!(lines(&store(), words::KEPT_OUTSIDE), ["- It was compared with nothing kept outside."]);
    let agreed = Report { witnesses: vec!["slip 7".into()], ..store() };
    assert_eq!(lines(&agreed, words::KEPT_OUTSIDE), ["yes It agrees with slip 7."]);
}

#[test]
fn words_hang_beside_their_label() {
    assert_eq!(hanging("ab", "one two three", 11), "ab one two\n   three");
    assert_eq!(hanging("ab", "one", 2), "ab one");
    let text = certificate(&store()).text(40);
    assert!(text.starts_with("SOUND. Nothing in this store"), "{text}");
    assert!(text.contains("\nLedger     ledger-x\nCheckpoint over 9 entries, root ab\n"), "{text}");
    assert!(text.ends_with("\nWhat this does not prove\n  -   It proves no more than this."), "{text}");
    assert!(text.lines().all(|line| line.chars().count() <= 40), "{text}");
}

#[test]
fn the_page_says_the_same_on_paper() {
    let id = |wrong: bool| {
        FindingId::ALL.iter().copied().find(|id| (id.severity() == Severity::Wrong) == wrong).unwrap()
    };
    let sound = certificate(&store()).html("today, with this program");
    assert!(sound.contains("<td>\u{2013}</td><td>It was compared with nothing"), "{sound}");
    assert!(sound.contains("<tr><td>Checked</td><td>today, with this program</td></tr>"), "{sound}");
    assert!(!sound.contains(words::WHAT_WAS_FOUND), "{sound}");
    let agreed = Report { witnesses: vec!["slip 7".into()], ..store() };
    assert!(certificate(&agreed).html("").contains("<td>yes</td><td>It agrees with slip 7.</td>"));
    let unsound = |more_findings| {
        let findings = vec![found(id(true)), found(id(false)), found(id(false))];
        certificate(&Report { sound: false, findings, more_findings, ..store() }).html("")
    };
    let page = unsound(0);
    assert_eq!(
        (page.matches("<b>WRONG</b> [").count(), page.matches("<b>Note</b> [").count()),
        (1, 2),
        "{page}"
    );
    assert!(page.contains(words::WHAT_WAS_FOUND) && !page.contains("more.</p>"), "{page}");
    assert!(unsound(5).contains("<p>and 5 more.</p>"));
}
