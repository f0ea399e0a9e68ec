//! Amendments, requests, releases, holds, disposals and papers.

use super::{none_blank, try_all};
use crate::record::kinds::Day;
use crate::record::kinds::release::{Release, Span};
use crate::record::kinds::request::DenialGround;
use crate::record::moment::parse_date;
use serde_json::{Value, json};

/// 45 CFR 164.526(a)(2): a refusal rests on a ground; (d)(1): its letter tells the basis, the right to disagree, the
/// right to have request and refusal go along, and how to complain.
#[test]
fn a_refused_amendment_has_its_ground_and_a_whole_letter() {
    try_all(
        "amendment-request",
        &[
            (json!({ "/received_on": "@today+1" }), &["in-future"]),
            (json!({ "/due": "2024-10-07" }), &[]),
            (json!({ "/due": "2024-10-06" }), &["dates-order"]),
            (json!({ "/points": [] }), &["points-missing"]),
        ],
    );
    let lacks = |right: &str| json!({ format!("/letter/{right}"): false });
    let accepted = json!({ "no": 2, "decision": "accepted", "reason": "it is so" });
    let mut all_accepted = lacks("says_ground");
    all_accepted["/points/1"] = accepted;
    try_all(
        "amendment-decision",
        &[
            (json!({ "/points/1/ground": null }), &["ground-unclear"]),
            (json!({ "/points/0/ground": "not-made-here" }), &["ground-unclear"]),
            (json!({ "/points/1/decision": "part" }), &[]),
            (json!({ "/points/1/decision": "part", "/points/1/ground": null }), &["ground-unclear"]),
            (lacks("says_ground"), &["letter-incomplete"]),
            (lacks("says_right_to_disagree"), &["letter-incomplete"]),
            (lacks("says_right_to_travel"), &["letter-incomplete"]),
            (lacks("says_complaint_route"), &["letter-incomplete"]),
            (all_accepted, &[]),
        ],
    );
    try_all("disagreement", &[(json!({ "/received_on": "@today+1" }), &["in-future"])]);
}

#[test]
fn an_answer_to_a_referral_has_its_day_and_an_opening_its_reason() {
    try_all(
        "referral-answer",
        &[
            (json!({ "/received_on": null }), &["received-unclear"]),
            (json!({ "/outcome": "none-chased" }), &["received-unclear"]),
            (json!({ "/outcome": "none-chased", "/received_on": null }), &[]),
        ],
    );
    // 45 CFR 164.312(a)(2)(ii): reading in an emergency; why is said.
    let why = |why: &str, words: Value| json!({ "head/edition": if why == "emergency" { 2 } else { 1 }, "/why": why, "/words": words });
    try_all(
        "access",
        &[
            (why("call", Value::Null), &[]),
            (why("other", Value::Null), &["blank"]),
            (why("other", json!(" ")), &["blank"]),
            (why("other", json!("asked by the board")), &[]),
            (why("emergency", Value::Null), &["blank"]),
            (why("emergency", json!("collapsed in the street")), &[]),
        ],
    );
}

/// 45 CFR 164.524(a)(3): a licensed person judges; (b)(2)(ii): an extension has a letter and a new date.
#[test]
fn a_request_and_its_steps_are_whole() {
    let scope =
        |first: &str, last: &str, kind: &str| json!({ "first": first, "last": last, "kinds": [kind] });
    try_all(
        "request",
        &[
            (json!({ "/received_on": "@today+1" }), &["in-future"]),
            (json!({ "/requested_on": "@today" }), &[]),
            (json!({ "/requested_on": "@today+1" }), &["in-future"]),
            (json!({ "/scope": scope("2025-01-01", "2025-01-01", "visit") }), &[]),
            (json!({ "/scope": scope("2025-01-02", "2025-01-01", "visit") }), &["dates-order"]),
            (json!({ "/scope": scope("2025-01-01", "2025-01-01", "x-rays") }), &["kind-unknown"]),
        ],
    );
    let extended =
        |due: Value, dated: Value| json!({ "/step": "extended", "/new_due": due, "/letter_dated": dated });
    let denial = |ground: &str, judge: Value| {
        let mut denial = json!({ "ground": ground, "reason": "it would harm" });
        if !judge.is_null() {
            denial["judged_by"] = judge;
        }
        json!({ "/step": "declined", "/denial": denial })
    };
    let due = json!("2025-04-30");
    try_all(
        "request-step",
        &[
            (json!({ "/on": "@today+1" }), &["in-future"]),
            (extended(due.clone(), due.clone()), &[]),
            (extended(due.clone(), Value::Null), &["extension-incomplete"]),
            (extended(Value::Null, due), &["extension-incomplete"]),
            (extended(Value::Null, Value::Null), &["extension-incomplete"]),
            (json!({ "/names": scope("2025-01-02", "2025-01-01", "visit") }), &["dates-order"]),
            (json!({ "/names": scope("2025-01-01", "2025-01-02", "x-rays") }), &["kind-unknown"]),
            (denial("endangers-safety", Value::Null), &["judge-missing"]),
            (denial("harms-another", Value::Null), &["judge-missing"]),
            (denial("harm-by-representative", Value::Null), &["judge-missing"]),
            (denial("endangers-safety", json!("IV")), &[]),
            (denial("inmate", Value::Null), &[]),
            (json!({ "/denial": { "ground": "inmate", "reason": " " } }), &["blank"]),
        ],
    );
}

/// HHS on unsealed e-mail: a right, after a warning and an answer to it. A letter or a call is no package.
#[test]
fn a_release_says_how_it_was_sealed_or_who_let_it_go_unsealed() {
    let warned =
        json!({ "confirmed_by": "HL", "shown": "Anybody on the way may read it.", "how": "answered" });
    try_all(
        "release",
        &[
            (json!({ "/what/until": "2024-01-22" }), &[]),
            (json!({ "/what/until": "2024-01-21" }), &["dates-order"]),
            (json!({ "/asked_on": "@today" }), &[]),
            (json!({ "/asked_on": "@today+1" }), &["in-future"]),
            (json!({ "/sealed": "to-recipient-key", "/sealed_to": "age1qqq" }), &[]),
            (json!({ "/sealed": "not-sealed" }), &["unsealed-unclear"]),
            (json!({ "/sealed": "not-sealed", "/unsealed": warned.clone() }), &[]),
            (json!({ "/sealed": "not-sealed", "/what/up_to": null }), &[]),
            (json!({ "/sealed": "not-sealed", "/what/up_to": null, "/unsealed": warned.clone() }), &[]),
            (json!({ "/unsealed": warned }), &["unsealed-unclear"]),
        ],
    );
    let determined = |by: &str, licence: &str| json!({ "/withheld/0/reason": "likely-harm", "/withheld/0/determination": { "by": by, "licence": licence, "on": "2025-09-22" } });
    try_all(
        "release",
        &[
            (determined("IV", "LM-C-0417"), &[]),
            (determined(" ", "LM-C-0417"), &["blank"]),
            (determined("IV", ""), &["blank"]),
        ],
    );
}

/// 45 CFR 164.528(c)(2): the first in twelve months is free, and of a fee the person is told beforehand;
/// (a)(2): a written statement names its time, an oral one need not.
#[test]
fn an_accounting_and_what_is_left_out_of_it_for_a_time() {
    try_all(
        "accounting-given",
        &[
            (json!({ "/asked_on": "@today+1" }), &["in-future"]),
            (json!({ "/from": "2025-09-12" }), &[]),
            (json!({ "/from": "2025-09-13" }), &["dates-order"]),
            (json!({ "/asked_on": "2025-09-11" }), &["dates-order"]),
            (json!({ "/free": true }), &["fee-for-a-free-one"]),
            (json!({ "/free": true, "/fee": null }), &[]),
            (json!({ "/fee": null, "/fee_told_on": null }), &[]),
            (json!({ "/fee_told_on": null }), &["fee-not-told"]),
        ],
    );
    try_all(
        "accounting-suspended",
        &[
            (json!({ "/stated_on": "@today+1" }), &["in-future"]),
            (json!({ "/until": "2025-09-10" }), &[]),
            (json!({ "/until": "2025-09-09" }), &["dates-order"]),
            (json!({ "/disclosures": [] }), &["disclosures-missing"]),
            (json!({ "/until": null }), &[]),
            (json!({ "/how": "written" }), &[]),
            (json!({ "/how": "written", "/until": null }), &["time-missing"]),
        ],
    );
}

#[test]
fn a_hold_says_what_it_covers_and_a_disposal_waits() {
    let covers = |more: Value| json!({ "/scope": more });
    try_all(
        "hold",
        &[
            (covers(json!({ "kind": "chart" })), &[]),
            (covers(json!({ "kind": "dates" })), &["scope-missing"]),
            (covers(json!({ "kind": "dates", "from": "2024-01-01" })), &[]),
            (covers(json!({ "kind": "dates", "until": "2024-01-01" })), &[]),
            (covers(json!({ "kind": "dates", "from": "2024-01-01", "until": "2024-01-01" })), &[]),
            (
                covers(json!({ "kind": "dates", "from": "2024-01-02", "until": "2024-01-01" })),
                &["dates-order"],
            ),
            (covers(json!({ "kind": "practitioner" })), &["scope-missing"]),
            (covers(json!({ "kind": "practitioner", "practitioner": "TR" })), &[]),
        ],
    );
    try_all(
        "notice",
        &[
            (json!({ "/state": "answered" }), &["nothing-to-close"]),
            (json!({ "/state": "closed" }), &["nothing-to-close"]),
            (json!({ "/state": "closed", "/of": 3499 }), &[]),
        ],
    );
    try_all(
        "disposal",
        &[
            (json!({ "/keep_until": "@today-1" }), &[]),
            (json!({ "/keep_until": "@today" }), &["keep-until"]),
            (json!({ "/keep_until": "@today+1" }), &["keep-until"]),
            (json!({ "/checks": [] }), &["checks-not-passed"]),
            (json!({ "/checks/1/passed": false }), &["checks-not-passed"]),
        ],
    );
    try_all("refused-disposal", &[(json!({ "/blocked_by": [] }), &["block-missing"])]);
}

#[test]
fn a_paper_has_the_days_it_was_made_received_and_given() {
    try_all(
        "attachment",
        &[
            (json!({ "/made_on": "@today+1" }), &["in-future"]),
            (json!({ "/received_on": "2024-01-22" }), &[]),
            (json!({ "/received_on": "2024-01-21" }), &["dates-order"]),
            (json!({ "/made_on": { "not_done_because": "not stated" }, "/received_on": "2024-01-21" }), &[]),
            (json!({ "/not_made_here": true }), &["received-missing"]),
            (json!({ "/not_made_here": true, "/received_on": "2024-01-22" }), &[]),
        ],
    );
    try_all(
        "document",
        &[
            (json!({ "/given_on": "@today" }), &[]),
            (json!({ "/given_on": "@today+1" }), &["in-future"]),
            (json!({ "/given_on": { "not_done_because": "refused" } }), &[]),
        ],
    );
}

#[test]
fn what_a_paper_must_say_is_not_left_blank() {
    none_blank(&[
        ("amendment-decision", &["/points/0/reason"]),
        ("disagreement", &["/text"]),
        ("rebuttal", &["/text"]),
        ("referral", &["/to", "/why"]),
        ("request", &["/from"]),
        ("request-step", &["/words"]),
        ("release", &["/to"]),
        ("accounting-given", &["/given_to"]),
        ("accounting-suspended", &["/agency", "/words"]),
        ("package-made", &["/list_note"]),
        ("hold", &["/reason"]),
        ("hold-lifted", &["/by"]),
        ("notice", &["/from"]),
        ("attachment", &["/title"]),
        ("document", &["/title"]),
    ]);
}

#[test]
fn what_was_asked_for_is_said_in_words() {
    let day = |text: &str| Day(parse_date(text).unwrap());
    let span = |from: &str, until: &str, days: &[&str], kinds: &[&str]| Span {
        from: parse_date(from).map(Day),
        until: parse_date(until).map(Day),
        days: days.iter().map(|text| day(text)).collect(),
        kinds: kinds.iter().map(ToString::to_string).collect(),
    };
    // Whether every date was asked for, whether anything is left out, and the words.
    for (span, any_date, limited, words) in [
        (span("", "", &[], &[]), true, false, "every date of service"),
        (span("", "", &[], &["visit", "consent"]), true, true, "every date of service; kinds visit, consent"),
        (span("2024-01-22", "", &[], &[]), false, true, "dates of service from 22 Jan 2024 on"),
        (span("", "2025-09-12", &[], &[]), false, true, "dates of service up to 12 Sep 2025"),
        (
            span("2024-01-22", "2025-09-12", &[], &[]),
            false,
            true,
            "dates of service from 22 Jan 2024 to 12 Sep 2025",
        ),
        (
            span("", "", &["2023-06-06", "2023-06-19"], &[]),
            false,
            true,
            "dates of service 06 Jun 2023, 19 Jun 2023",
        ),
        (
            span("", "2022-12-31", &["2023-06-06"], &["visit"]),
            false,
            true,
            "dates of service up to 31 Dec 2022, 06 Jun 2023; kinds visit",
        ),
    ] {
        assert_eq!((span.any_date(), span.is_limited(), span.words().as_str()), (any_date, limited, words));
    }
    let mut data = super::example("release").data;
    data["what"]["days"] = json!(["2023-06-06"]);
    data["what"]["kinds"] = json!(["visit"]);
    let release: Release = serde_json::from_value(data).unwrap();
    assert_eq!(release.what.span(), span("2024-01-22", "2025-09-12", &["2023-06-06"], &["visit"]));
}

/// 45 CFR 164.524(a)(2) names what is refused without review, (a)(3) what with; (d)(2): in plain language.
#[test]
fn a_ground_of_refusal_is_plain_and_reviewed_where_the_law_says_so() {
    let reviewed: Vec<&str> =
        DenialGround::ALL.iter().filter(|ground| ground.is_reviewable()).map(|g| g.word()).collect();
    assert_eq!(reviewed, ["endangers-safety", "harms-another", "harm-by-representative"]);
    let mut plain: Vec<&str> = DenialGround::ALL.iter().map(|ground| ground.plain()).collect();
    assert!(plain.iter().all(|words| words.ends_with('.') && words.split(' ').count() > 4), "{plain:?}");
    plain.sort_unstable();
    plain.dedup();
    assert_eq!(plain.len(), DenialGround::ALL.len());
}
