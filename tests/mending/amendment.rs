//! A request for amendment with all its papers.

use crate::common::OWNER;
use crate::desk::{CHART, Desk};
use serde_json::json;

#[test]
fn a_request_for_amendment_with_all_its_papers() {
    let desk = Desk::new();
    let note = desk.visit("2024-06-03", true).to_string();
    desk.at("2024-07-01T09:00");
    let point = |text: &str| format!("text=\"{text}\" entries={note}");
    let (first, second) = (point("it was the right side"), point("I never said easier"));
    let take = ["amend", "take", CHART, "--from", "Bettony Craske", "--points", &first, "--points", &second];
    let taken = desk.ok(&take);
    // 45 CFR 164.526(b)(2): 60 days after receipt, here of the invented demo clock; one extension of 30.
    assert!(taken.contains("30 Aug 2024") && taken.contains("29 Sep 2024"), "{taken}");
    let request = desk.entries().last().unwrap().leaf.seq;
    assert_eq!(desk.record(request).data["due"], json!("2024-08-30"));
    let number = request.to_string();
    let decide = |points: &[&str], more: &[&str]| -> Vec<String> {
        let mut args = vec!["amend", "decide", CHART, "--request", &number, "--sent-how", "post"];
        points.iter().for_each(|point| args.extend(["--points", point]));
        args.extend(more);
        args.into_iter().map(str::to_string).collect()
    };
    let refused = |args: Vec<String>, words: &str| {
        desk.refused(OWNER, &args.iter().map(String::as_str).collect::<Vec<_>>(), words);
    };
    let full = [
        "--says-ground",
        "yes",
        "--says-right-to-disagree",
        "yes",
        "--says-right-to-travel",
        "yes",
        "--says-complaint-route",
        "yes",
        "--complaint-contact",
        "Tobiah Renquist, 0555 0100",
    ];
    let gaps = [
        "--says-ground",
        "yes",
        "--says-right-to-disagree",
        "no",
        "--says-right-to-travel",
        "yes",
        "--says-complaint-route",
        "yes",
    ];
    let accept = "no=1 decision=accepted reason=\"the drawing shows it\"";
    let refuse = "no=2 decision=refused ground=accurate-and-complete reason=\"as said in the room\"";
    refused(decide(&[accept, refuse], &full), "no correction carries it out");
    let side = desk.entry(&[
        "correct",
        CHART,
        &note,
        "--field",
        "procedures 1, side",
        "--is",
        "right",
        "--because",
        "the patient is right",
        "--care-affected",
        "no",
        "--told",
        "now",
        "--amendment",
        &number,
    ]);
    let accept = format!("{accept} corrections={side}");
    refused(decide(&[&accept], &full), "Decide each point once");
    refused(decide(&[&accept, "no=2 decision=refused reason=no"], &full), "without a ground");
    refused(decide(&[&accept, refuse], &gaps), "the right to disagree in writing, and how (d)(1)(ii)");
    refused(decide(&[&accept, refuse], &gaps), "the contact for a complaint");
    let disagree = ["amend", "disagree", CHART, "--request", &number, "--text", "I did not say it"];
    desk.refused(OWNER, &disagree, "not decided yet");

    // More time, once, by a letter inside the first time, to a day the clock allows.
    let extend = |new_due: &str, dated: &str| -> Vec<String> {
        let args = [
            "amend",
            "extend",
            CHART,
            "--request",
            &number,
            "--because",
            "the author is away",
            "--new-due",
            new_due,
            "--letter-dated",
            dated,
        ];
        args.map(str::to_string).to_vec()
    };
    refused(extend("2024-09-30", "2024-07-01"), "later than the rules allow");
    desk.at("2024-09-02T09:00");
    refused(extend("2024-09-29", "2024-09-01"), "the extension is void");
    desk.at("2024-08-30T09:00");
    let args = extend("2024-09-29", "2024-08-30");
    desk.ok(&args.iter().map(String::as_str).collect::<Vec<_>>());
    refused(extend("2024-09-29", "2024-08-30"), "extended before");

    desk.at("2024-09-10T09:00");
    let args = decide(&[&accept, refuse], &full);
    let decided = desk.entry(&args.iter().map(String::as_str).collect::<Vec<_>>());
    let refers: Vec<(u64, String)> =
        desk.record(decided).refers.iter().map(|r| (r.seq, r.why.word().to_string())).collect();
    assert_eq!(refers, [(request, "answers".to_string()), (side, "see-also".to_string())]);
    refused(decide(&[&accept, refuse], &full), "decided already");
    let statement = desk.entry(&disagree);
    let of = statement.to_string();
    let answer =
        ["amend", "rebut", CHART, "--disagreement", &of, "--text", "the note stands", "--copy-sent", "today"];
    let rebuttal = desk.entry(&answer);
    let shown = desk.shown(CHART);
    for words in [
        format!("[amendment asked, point 2: see no. {request}]"),
        format!("[decided: see no. {decided}]"),
        format!("[the patient disagrees: see no. {statement}]"),
        format!("[answered: see no. {rebuttal}]"),
    ] {
        assert!(shown.contains(&words), "{words}\n{shown}");
    }
    // In the printed record the papers stand beneath the note they dispute, and nowhere else.
    desk.ok(&["print", CHART, "--why", "review", "--html", desk.file("page.html").to_str().unwrap()]);
    let page = std::fs::read_to_string(desk.file("page.html")).unwrap();
    let visit = page.find("Written afterwards about this visit").unwrap();
    for paper in [request, decided, statement, rebuttal] {
        let id = format!("id=\"e{paper}\"");
        assert_eq!(page.matches(&id).count(), 1, "{paper}");
        assert!(page.find(&id).unwrap() > visit, "{paper}");
    }
    assert!(page.contains("accurate and complete"), "the ground");
}
