//! Entries in the wrong chart, and two charts of one person.

use crate::common::OWNER;
use crate::common::archive::TO_THE_PATIENT;
use crate::desk::{CHART, Desk, OTHER_CHART};
use inkfast::cli::app;
use inkfast::cli::exit::Exit;
use inkfast::cli::prompt::ScriptedAsker;
use inkfast::practice::open::Entry;
use serde_json::json;

#[test]
fn an_entry_in_the_wrong_chart_is_marked_and_written_again() {
    let desk = Desk::new();
    desk.at("2024-06-03T09:00");
    let said = "the other person's jaw clicks";
    let wrong = desk.entry(&[
        "contact",
        CHART,
        "--direction",
        "incoming",
        "--with",
        "Somebody Else",
        "--checked",
        "birth date",
        "--said",
        said,
    ]);
    let number = wrong.to_string();
    let fixed = desk.entry(&[
        "correct",
        CHART,
        &number,
        "--field",
        "said",
        "--is",
        "the other person's jaw clicks left",
        "--because",
        "side left out",
        "--care-affected",
        "no",
        "--not-told-because",
        "to be told",
    ]);
    desk.at("2024-06-03T09:20");
    let mark = ["misfiled", CHART, "--entry", &number, "--because", "wrong chart open"];
    let to =
        |chart: &'static str| -> Vec<&str> { mark.iter().copied().chain(["--re-enter", chart]).collect() };
    desk.refused(OWNER, &to(CHART), "That is the chart it is in");
    let marked = desk.entry(&to(OTHER_CHART));
    desk.refused(OWNER, &to(OTHER_CHART), "is marked already");
    desk.refused(
        OWNER,
        &["misfiled", CHART, "--entry", &(marked).to_string(), "--because", "x"],
        "about this chart itself",
    );
    // The mark names nobody and no chart.
    let record = desk.record(marked);
    assert_eq!(record.data["re_entered"], json!(true));
    assert!(!serde_json::to_string(&record).unwrap().contains(OTHER_CHART));
    // Written again as it read, under its own label and pointing back, with its own time.
    let again = desk.record(marked - 1);
    assert_eq!(again.data["said"], json!("the other person's jaw clicks left"));
    assert_eq!(again.labels.iter().map(|l| l.word()).collect::<Vec<_>>(), ["re-entered"]);
    assert_eq!(
        again.refers.iter().map(|r| (r.seq, r.why.word())).collect::<Vec<_>>(),
        [(wrong, "re-entered-from")]
    );
    assert_eq!(again.happened.start, desk.record(wrong).happened.start);
    // Held back from every copy, with what quotes it; the bytes are still there for whoever must see them.
    let shown = desk.shown(CHART);
    assert!(!shown.contains("jaw clicks"), "{shown}");
    assert!(shown.contains(&format!("BELONGS TO ANOTHER CHART: see no. {marked}")), "{shown}");
    desk.ok(&["print", CHART, "--why", "review", "--html", desk.file("page.html").to_str().unwrap()]);
    let page = std::fs::read_to_string(desk.file("page.html")).unwrap();
    assert!(!page.contains("jaw clicks") && page.contains("belongs to another person"), "{fixed}");
    assert!(desk.ok(&["print", CHART, "--why", "review", "--entry", &number]).contains("jaw clicks"));
    assert!(desk.shown(OTHER_CHART).contains("jaw clicks left"));
}

#[test]
fn a_note_is_written_again_in_its_own_visit_and_without_the_other_s_numbers() {
    let desk = Desk::new();
    let note = desk.visit("2024-06-03", true).to_string();
    desk.at("2024-06-03T11:00");
    let mark =
        ["misfiled", CHART, "--entry", &note, "--because", "wrong chart open", "--re-enter", OTHER_CHART];
    desk.refused(OWNER, &mark, "none is open in the chart it belongs to");
    let visit =
        desk.entry(&["visit", "open", OTHER_CHART, "--room", "room 1", "--happened", "2024-06-03 10:00"]);
    desk.at("2024-06-03T11:10");
    let marked = desk.entry(&mark);
    let again = desk.record(marked - 1);
    assert_eq!((&again.data["visit"], &again.data["agreed"]), (&json!(visit), &json!({})));
    assert!(!serde_json::to_string(&again.data).unwrap().contains("consents"));
    // What is said of it is worked out in the chart it belongs to: nothing was agreed there.
    let labels: Vec<&str> = again.labels.iter().map(|label| label.word()).collect();
    assert_eq!(labels, ["procedure-not-covered", "re-entered"]);
    // A released copy withholds the entry with a slip, and is sound.
    let identity = inkfast::seal::age_file::Identity::generate();
    std::fs::write(desk.file("who.txt"), format!("{}\n", identity.to_text().as_str())).unwrap();
    let file = desk.file("out.age");
    let package = file.to_str().unwrap();
    let words = ["release", CHART, "--to", &identity.recipient().to_string(), "--file", package];
    desk.ok(&[&words[..], &TO_THE_PATIENT].concat());
    let release = desk.entries().into_iter().rfind(|e| e.leaf.kind == "release").unwrap().record.unwrap();
    let number: u64 = note.parse().unwrap();
    assert_eq!(
        release.data["withheld"],
        json!([{"entry": number, "ground": "belongs to another person's chart", "slip": true,
                "reason": "misfiled"}])
    );
    let matches = app::command()
        .try_get_matches_from([
            "inkfast",
            "verify",
            package,
            "--identity",
            desk.file("who.txt").to_str().unwrap(),
        ])
        .unwrap();
    let mut out = Vec::new();
    let mut nobody = ScriptedAsker::nobody();
    let exit = app::run(&matches, desk.small.world.clone(), &mut nobody, &mut out);
    assert_eq!(exit, Exit::Done, "{}", String::from_utf8_lossy(&out));
}

#[test]
fn two_charts_of_one_person_point_to_each_other() {
    let desk = Desk::new();
    desk.at("2024-06-03T09:00");
    let join =
        ["patient", "joined", CHART, "--direction", "continue-at", "--because", "same telephone", "--other"];
    let to = |other: &'static str| -> Vec<&str> { join.iter().copied().chain([other]).collect() };
    desk.refused(OWNER, &to(CHART), "can't be joined to itself");
    let before = desk.entries().len();
    desk.ok(&to(OTHER_CHART));
    let new: Vec<Entry> = desk.entries().split_off(before);
    let kinds: Vec<&str> = new.iter().map(|e| e.leaf.kind.as_str()).collect();
    assert_eq!(kinds, ["joined", "joined", "chart-state"]);
    let said = |index: usize, field: &str| new[index].record.as_ref().unwrap().data[field].clone();
    assert_eq!((said(0, "direction"), said(0, "other_chart_no")), (json!("continue-at"), json!(OTHER_CHART)));
    assert_eq!((said(1, "direction"), said(1, "other_chart_no")), (json!("continued-from"), json!(CHART)));
    assert_eq!(said(2, "continue_at"), json!(OTHER_CHART));
    desk.refused(OWNER, &["visit", "open", CHART, "--room", "1"], &format!("goes on as chart {OTHER_CHART}"));
    desk.refused(OWNER, &to(OTHER_CHART), "joined before");
    assert!(desk.shown(CHART).contains(&format!("goes on as chart {OTHER_CHART}")));
    // What belongs to the past may still be added there.
    desk.ok(&[
        "contact",
        CHART,
        "--direction",
        "none",
        "--nobody-because",
        "no answer",
        "--said",
        "rang once",
    ]);
}
