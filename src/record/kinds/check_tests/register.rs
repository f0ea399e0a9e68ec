//! Entries about the register, the patient's identity and those who decide.

use super::{no_blank_reason, none_blank, try_all};
use crate::record::kinds::identity::ChartOpened;
use serde_json::{Value, json};

#[test]
fn a_key_is_one_to_seal_to_and_has_its_days() {
    for (list, last) in [("staff", 1), ("roles", 2)] {
        let at = |index: usize, name: &str| format!("/{list}/{index}/{name}");
        try_all(
            "keys",
            &[
                (json!({ at(last, "until"): "2022-10-03" }), &[]),
                (json!({ at(last, "until"): "2022-10-02" }), &["dates-order"]),
                (json!({ at(0, "recipient"): "AGE-SECRET-KEY-1QQQ" }), &["not-a-recipient"]),
                (json!({ at(last, "recipient"): "ssh-ed25519 AAAA" }), &["not-a-recipient"]),
            ],
        );
    }
}

#[test]
fn a_roster_line_has_the_licence_its_techniques_need() {
    try_all(
        "staff",
        &[
            (json!({ "/licence_last_day": null }), &["licence-missing"]),
            (json!({ "/licence_last_day": null, "/techniques_permitted": [] }), &[]),
            (json!({ "/techniques_permitted": [] }), &[]),
            (json!({ "/supervisor": "TR" }), &["own-supervisor"]),
            (json!({ "/supervisor": "IV" }), &[]),
            (json!({ "/on_roster_last_day": "2022-10-03" }), &[]),
            (json!({ "/on_roster_last_day": "2022-10-02" }), &["dates-order"]),
        ],
    );
}

#[test]
fn what_the_register_says_of_itself_adds_up() {
    try_all(
        "rules",
        &[
            (json!({ "/document": {} }), &["rules-incomplete"]),
            (json!({ "/document": { "coverage": "as before" } }), &["rules-incomplete"]),
            (json!({ "/document": { "coverage": {} } }), &[]),
        ],
    );
    try_all(
        "clock-remark",
        &[
            (json!({ "/state": "closed" }), &["nothing-to-close"]),
            (json!({ "/state": "closed", "/of": 3 }), &[]),
            (json!({ "/state": "opened" }), &[]),
            (json!({ "/wrong_until": "2024-03-11T08:00:00-04:00" }), &[]),
            (json!({ "/wrong_until": "2024-03-11T07:59:59-04:00" }), &["dates-order"]),
            (json!({ "/wrong_until": "@written" }), &[]),
            (json!({ "/wrong_until": "@written+1" }), &["in-future"]),
            (json!({ "/wrong_until": null }), &[]),
        ],
    );
    try_all(
        "day-close",
        &[
            (json!({ "/day": "@today" }), &[]),
            (json!({ "/day": "@today+1" }), &["in-future"]),
            (json!({ "/first": 23 }), &[]),
            (json!({ "/first": 24 }), &["numbers-order"]),
            (json!({ "/first": 25 }), &["numbers-order"]),
            (json!({ "/first": null }), &[]),
            (json!({ "/entries": 22 }), &["count-mismatch"]),
            (json!({ "/by_kind": [] }), &["count-mismatch"]),
        ],
    );
    // The outside copy vouches for 3124 entries.
    try_all(
        "behind-outside-copy",
        &[
            (json!({ "/store_entries": 3123 }), &[]),
            (json!({ "/store_entries": 3124 }), &["not-behind"]),
            (json!({ "/store_entries": 3125 }), &["not-behind"]),
        ],
    );
    try_all(
        "office-file",
        &[
            (json!({ "/received_on": "2024-05-17", "/due": "2024-05-17" }), &[]),
            (json!({ "/received_on": "2024-05-17", "/due": "2024-05-16" }), &["dates-order"]),
        ],
    );
    try_all(
        "earlier-ledger",
        &[
            (json!({ "/origin": "@ledger" }), &["same-ledger"]),
            (json!({ "/entries": 0 }), &["empty"]),
            (json!({ "/entries": 2 }), &[]),
        ],
    );
}

/// Hex digits as the format writes them: small letters, and as many as the digest has.
#[test]
fn a_file_and_a_chart_are_named_by_their_hex_digits() {
    let rows = [
        ("file-kept", "/sealed_digest", 64, "digest-form"),
        ("file-removed", "/sealed_digest", 64, "digest-form"),
        ("attachment", "/plain_digest", 64, "not-a-digest"),
        ("attachment", "/sealed_digest", 64, "not-a-digest"),
        ("accounting-given", "/digest", 64, "not-a-digest"),
        ("request-step", "/digest", 64, "not-a-digest"),
        ("release", "/what/digest", 64, "not-a-digest"),
        ("release", "/what/plain_digest", 64, "not-a-digest"),
        ("package-made", "/file_digest", 64, "not-a-digest"),
        ("package-made", "/plain_digest", 64, "not-a-digest"),
        ("package-made", "/plain_sha256", 64, "not-a-digest"),
        ("package-made", "/pages/0/digest", 64, "not-a-digest"),
        ("chart-disposed", "/chart", 32, "not-a-tag"),
        ("disposal-certificate", "/chart", 32, "not-a-tag"),
        ("safe-copy", "/copy", 32, "copy-label"),
    ];
    for (kind, field, digits, problem) in rows {
        let of = |text: String| json!({ field: text });
        try_all(
            kind,
            &[
                (of("0".repeat(digits)), &[]),
                (of("9af0".repeat(digits / 4)), &[]),
                (of("a".repeat(digits - 1)), &[problem]),
                (of("a".repeat(digits + 1)), &[problem]),
                (of("A".repeat(digits)), &[problem]),
                (of("0".repeat(digits - 1) + "g"), &[problem]),
            ],
        );
    }
}

#[test]
fn what_is_known_of_a_patient_has_its_days() {
    let latex = "/substances";
    try_all(
        "allergy-review",
        &[
            (json!({ "/reviewed_on": "@today" }), &[]),
            (json!({ "/reviewed_on": "@today+1" }), &["in-future"]),
            (json!({ latex: { "nickel": "unknown" } }), &["substance-not-listed"]),
            (json!({ latex: { "latex": "allergic" } }), &[]),
        ],
    );
    try_all(
        "alert",
        &[
            (json!({ "/until": "2022-11-28" }), &[]),
            (json!({ "/until": "2022-11-27" }), &["dates-order"]),
            (json!({ "/ends": 3 }), &["end-missing"]),
            (json!({ "/ends": 3, "/until": "2022-11-28" }), &[]),
        ],
    );
    try_all(
        "chart-state",
        &[
            (json!({ "/died_on": "@today" }), &[]),
            (json!({ "/died_on": "@today+1" }), &["in-future"]),
            (json!({ "/died_on": null }), &["died-on-missing"]),
            (json!({ "/status": "open", "/died_on": null }), &[]),
            (json!({ "/status": "closed-continue-at", "/died_on": null }), &["continue-at-missing"]),
            (json!({ "/status": "closed-continue-at", "/died_on": null, "/continue_at": "PM-0141" }), &[]),
            (json!({ "/status": "disposed" }), &["disposed-by-hand"]),
        ],
    );
    try_all(
        "misfiled",
        &[(json!({ "/found_at": "@written" }), &[]), (json!({ "/found_at": "@written+1" }), &["in-future"])],
    );
}

/// NIST SP 800-88 Rev. 1, 2.6: a cryptographic erase only where every condition holds.
#[test]
fn a_chart_is_destroyed_by_order_and_after_its_day() {
    try_all(
        "chart-disposed",
        &[
            (json!({ "/ordered_by": null }), &["order-unclear"]),
            (json!({ "/state": "ordered" }), &["order-unclear"]),
            (json!({ "/state": "ordered", "/ordered_by": null }), &[]),
        ],
    );
    let erase = |holds: &[&str], claimed: bool| {
        let conditions: Vec<Value> = holds
            .iter()
            .map(|holds| json!({ "what": "copies-destroyed", "holds": holds, "words": "seen" }))
            .collect();
        json!({ "/conditions": conditions, "/cryptographic_erase": claimed })
    };
    try_all(
        "disposal-certificate",
        &[
            (json!({ "/period_until": "2016-05-19" }), &[]),
            (json!({ "/period_until": "2016-05-18" }), &["dates-order"]),
            (json!({ "/keep_through": "@today-1" }), &[]),
            (json!({ "/keep_through": "@today" }), &["keep-until"]),
            (json!({ "/keep_through": "@today+1" }), &["keep-until"]),
            (json!({ "/rules": [] }), &["rules-missing"]),
            (erase(&["yes", "stated"], true), &[]),
            (erase(&["yes", "stated"], false), &["erase-unclear"]),
            (erase(&["yes", "not-known"], true), &["erase-unclear"]),
            (erase(&["no", "yes"], true), &["erase-unclear"]),
            (erase(&["no", "yes"], false), &[]),
            (erase(&[], true), &["erase-unclear"]),
            (erase(&[], false), &[]),
        ],
    );
    try_all(
        "copy-gone",
        &[
            (json!({ "/on": "@today" }), &[]),
            (json!({ "/on": "@today+1" }), &["in-future"]),
            (json!({ "/copy": 0 }), &["copy-missing"]),
            (json!({ "/copy": 2 }), &[]),
        ],
    );
}

#[test]
fn what_the_register_must_say_is_not_left_blank() {
    none_blank(&[
        ("register-opened", &["/practice", "/custodian"]),
        ("staff", &["/code", "/name"]),
        ("rules", &["/edition"]),
        ("wording", &["/code", "/text"]),
        ("clock-remark", &["/words"]),
        ("behind-outside-copy", &["/because"]),
        ("office-file", &["/title"]),
        ("hand-over", &["/to_name"]),
        ("check-made", &["/found"]),
        ("earlier-ledger", &["/checkpoint"]),
        ("chart-opened", &["/chart_no", "/identity/legal_name", "/identity/second_identifier/value"]),
        ("identity-changed", &["/because", "/identity/legal_name", "/identity/second_identifier/value"]),
        ("decision-maker", &["/person_id", "/name"]),
        ("capacity", &["/words"]),
        ("alert", &["/kind"]),
        ("joined", &["/other_chart_no", "/because"]),
        ("misfiled", &["/because"]),
        ("disposal-certificate", &["/name", "/method"]),
        ("copy-gone", &["/how", "/by"]),
    ]);
    no_blank_reason(&[("allergy-review", "/reviewed_on")]);
}

/// A person is found by the legal name, the one gone by, and every earlier one.
#[test]
fn every_name_on_file_is_one_to_be_found_by() {
    let mut data = super::example("chart-opened").data;
    let names = |data: &Value| -> Vec<String> {
        let chart: ChartOpened = serde_json::from_value(data.clone()).unwrap();
        chart.identity.names().map(str::to_string).collect()
    };
    assert_eq!(names(&data), ["Bettony Craske"]);
    data["identity"]["chosen_name"] = json!("Betty");
    data["identity"]["former_names"] = json!(["Bettony Ruddle", "Betony Craske"]);
    assert_eq!(names(&data), ["Bettony Craske", "Betty", "Bettony Ruddle", "Betony Craske"]);
}
