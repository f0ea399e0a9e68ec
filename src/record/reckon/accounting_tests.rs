//! Every sentence of the rule of an accounting (45 CFR 164.528), tried.

use super::*;
use proptest::prelude::*;

fn ask(input: Value) -> Result<Value, ReckonError> {
    answer(&input, Tables::shipped().unwrap())
}

#[test]
fn the_window() {
    let window = |requested: &str, shorter: Value| {
        ask(json!({ "ask": "window", "requested": requested, "shorter_from": shorter }))
    };
    assert_eq!(
        window("2024-02-29", Value::Null).unwrap(),
        json!({ "from": "2018-02-28", "to": "2024-02-29" })
    );
    assert_eq!(window("2024-03-01", json!("2018-03-01")).unwrap()["from"], "2018-03-01");
    // More than six years are not owed.
    assert_eq!(window("2024-03-10", json!("2010-01-01")).unwrap()["from"], "2018-03-10");
    assert_eq!(window("2024-03-10", json!("2024-03-10")).unwrap()["from"], "2024-03-10");
    assert!(window("2024-03-10", json!("2024-03-11")).unwrap_err().to_string().contains("after the request"));
}

#[test]
fn every_kind_of_the_table_counts_unless_it_is_an_exception() {
    let table = AccountingTable::of(Tables::shipped().unwrap()).unwrap();
    let counted =
        |kind: &str| ask(json!({ "ask": "classify", "disclosed_for": kind })).unwrap()["counted"].clone();
    assert!(table.not_counted.iter().all(|kind| counted(kind) == false));
    assert!(
        table
            .counted_may_be_grouped
            .iter()
            .chain(&table.counted_never_grouped)
            .all(|kind| counted(kind) == true)
    );
    let why = ask(json!({ "ask": "classify", "disclosed_for": "marketing" })).unwrap_err().to_string();
    assert!(why.contains("marketing"), "{why}");
}

#[test]
fn a_line_and_what_it_lacks() {
    let line = |more: Value| {
        let mut input = json!({ "ask": "line", "date": "2024-05-02", "recipient": "board", "description": "notes",
            "purpose": "complaint", "request_copy": false });
        input.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        ask(input)
    };
    assert_eq!(line(json!({})).unwrap(), json!({ "complete": true, "missing": [] }));
    let blank = json!({ "date": null, "recipient": " ", "description": "\t", "purpose": null });
    assert_eq!(line(blank).unwrap()["missing"], json!(["date", "description", "purpose", "recipient"]));
    assert_eq!(line(json!({ "purpose": "", "request_copy": true })).unwrap()["complete"], true);
    assert_eq!(
        line(json!({ "recipient": "", "request_copy": true })).unwrap()["missing"],
        json!(["recipient"])
    );
    assert!(line(json!({ "date": "2024-02-30" })).is_err());
}

#[test]
fn one_is_free_in_any_twelve_months() {
    let free = |requested: &str, earlier: Value| {
        ask(json!({ "ask": "charge", "requested": requested, "earlier": earlier })).unwrap()["free"].clone()
    };
    assert_eq!(free("2024-03-10", Value::Null), true);
    assert_eq!(free("2024-03-10", json!(["2024-03-10"])), false);
    // A paid one between starts no new twelve months.
    assert_eq!(free("2025-03-10", json!(["2024-03-10", "2024-09-01"])), true);
    assert_eq!(free("2025-10-01", json!(["2024-03-10", "2024-09-01", "2025-04-01"])), false);
    assert_eq!(free("2026-04-01", json!(["2024-03-10", "2024-09-01", "2025-04-01"])), true);
    assert_eq!(free("2026-03-31", json!(["2025-04-01", "2024-03-10"])), false);
    // 12 months after 29 February is 1 March.
    assert_eq!(free("2025-02-28", json!(["2024-02-29"])), false);
    assert_eq!(free("2025-03-01", json!(["2024-02-29"])), true);
    assert!(ask(json!({ "ask": "charge", "requested": "2024-01-01", "earlier": ["2024-01-02"] })).is_err());
}

#[test]
fn an_agency_is_left_out_for_a_time() {
    let through = |how: &str, until: Value, written: Value| {
        ask(json!({ "ask": "suspension", "how": how, "stated_on": "2025-03-10", "until": until,
            "written_on": written }))
        .unwrap()["left_out_through"]
            .clone()
    };
    let end = json!("2025-12-31");
    assert_eq!(through("written", end.clone(), Value::Null), "2025-12-31");
    assert_eq!(through("written", Value::Null, Value::Null), Value::Null);
    assert_eq!(through("oral", Value::Null, Value::Null), "2025-04-09");
    assert_eq!(through("oral", end.clone(), Value::Null), "2025-04-09");
    assert_eq!(through("oral", json!("2025-03-20"), Value::Null), "2025-03-20");
    // Day 30 is in time, day 31 is not, nor is a writing from before the statement.
    assert_eq!(through("oral", end.clone(), json!("2025-04-09")), "2025-12-31");
    assert_eq!(through("oral", end.clone(), json!("2025-04-10")), "2025-04-09");
    assert_eq!(through("oral", end, json!("2025-03-09")), "2025-04-09");
    assert_eq!(through("oral", Value::Null, json!("2025-03-11")), "2025-04-09");
    assert!(ask(json!({ "ask": "suspension", "how": "sung", "stated_on": "2025-03-10" })).is_err());
}

fn list(prepared: &str, disclosures: Value) -> Value {
    ask(json!({ "ask": "list", "requested": "2025-06-02", "prepared_on": prepared, "disclosures": disclosures }))
        .unwrap()["lines"]
        .clone()
}

fn made(on: &str, to: &str, kind: &str, purpose: &str) -> Value {
    json!({ "on": on, "recipient": to, "disclosed_for": kind, "purpose": purpose })
}

#[test]
fn lines_are_grouped_by_recipient_and_purpose() {
    let lines = list(
        "2025-06-20",
        json!([
            made("2024-09-05", "court", "court_or_tribunal", "case 114"),
            made("2024-02-05", "court", "court_or_tribunal", "case 114"),
            made("2024-03-05", "court", "court_or_tribunal", "case 115"),
            made("2024-02-05", "board", "health_oversight", "complaint"),
            made("2024-02-06", "neighbor", "sent_in_error", "wrong fax"),
            made("2024-02-07", "neighbor", "sent_in_error", "wrong fax"),
            made("2024-02-08", "plan", "payment", "claim"),
        ]),
    );
    assert_eq!(
        lines,
        json!([
            { "recipient": "board", "purpose": "complaint", "first": "2024-02-05", "count": 1, "last": "2024-02-05" },
            { "recipient": "court", "purpose": "case 114", "first": "2024-02-05", "count": 2, "last": "2024-09-05" },
            { "recipient": "neighbor", "purpose": "wrong fax", "first": "2024-02-06", "count": 1, "last": "2024-02-06" },
            { "recipient": "neighbor", "purpose": "wrong fax", "first": "2024-02-07", "count": 1, "last": "2024-02-07" },
            { "recipient": "court", "purpose": "case 115", "first": "2024-03-05", "count": 1, "last": "2024-03-05" },
        ])
    );
}

#[test]
fn an_error_shares_no_line_with_what_may_be_grouped() {
    let lines = list(
        "2025-06-20",
        json!([
            made("2024-02-06", "court", "sent_in_error", "case"),
            made("2024-02-07", "court", "court_or_tribunal", "case"),
            made("2024-02-08", "court", "court_or_tribunal", "case"),
        ]),
    );
    assert_eq!(lines.as_array().unwrap().len(), 2);
    assert_eq!(lines[1]["count"], 2);
}

#[test]
fn the_edges_of_the_window_and_of_a_suspension() {
    let ends = json!([
        made("2019-06-01", "a", "public_health", "p"),
        made("2019-06-02", "b", "public_health", "p"),
        made("2025-06-02", "c", "public_health", "p"),
        made("2025-06-03", "d", "public_health", "p"),
    ]);
    let names: Vec<_> =
        list("2025-06-20", ends).as_array().unwrap().iter().map(|l| l["recipient"].clone()).collect();
    assert_eq!(names, ["b", "c"]);
    let mut left_out = made("2025-01-01", "agency", "law_enforcement", "p");
    left_out["left_out_through"] = json!("2025-06-20");
    assert_eq!(list("2025-06-20", json!([left_out])), json!([]));
    assert_eq!(list("2025-06-21", json!([left_out])).as_array().unwrap().len(), 1);
    assert_eq!(list("2025-06-21", Value::Null), json!([]));
    let unknown = json!({ "ask": "list", "requested": "2025-06-02", "prepared_on": "2025-06-02",
        "disclosures": [made("2025-01-01", "a", "gossip", "p")] });
    assert!(ask(unknown).unwrap_err().to_string().contains("gossip"));
}

#[test]
fn in_words() {
    let said = words(&ask(json!({ "ask": "window", "requested": "2024-03-10" })).unwrap());
    assert_eq!(said, ["It covers Sat 10 Mar 2018 to Sun 10 Mar 2024, both days included."]);
    let lines = list(
        "2025-06-20",
        json!([
            made("2024-09-05", "court", "court_or_tribunal", "case 114"),
            made("2024-02-05", "court", "court_or_tribunal", "case 114"),
        ]),
    );
    assert_eq!(
        words(&json!({ "lines": lines })),
        ["Mon 05 Feb 2024 to Thu 05 Sep 2024: 2 times to court, case 114."]
    );
    assert_eq!(words(&json!({ "complete": false, "missing": ["purpose"] })), ["The line lacks: purpose."]);
    assert_eq!(words(&json!({ "left_out_through": "2025-04-09" })), ["Left out through Wed 09 Apr 2025."]);
}

proptest! {
    #[test]
    fn a_window_opens_before_it_closes(n in 0i64..60_000, back in 0i64..4000) {
        let requested = days_from(jiff::civil::date(1930, 1, 1), n);
        let window = window(requested, 6, LeapDay::Feb28, Some(days_from(requested, -back)));
        prop_assert!(window.from <= window.to);
    }

    #[test]
    fn no_disclosure_is_told_twice_or_lost(
        picked in proptest::collection::vec((0i64..4000, 0usize..3, 0usize..4), 0..30),
    ) {
        let kinds = ["public_health", "sent_in_error", "payment", "law_enforcement"];
        let (first, table) = (jiff::civil::date(2015, 1, 1), AccountingTable::of(Tables::shipped().unwrap()).unwrap());
        let made: Vec<_> = picked.iter().map(|(n, to, kind)| Disclosure {
            on: Day(days_from(first, *n)), recipient: format!("r{to}"), disclosed_for: kinds[*kind].to_owned(),
            purpose: "p".to_owned(), left_out_through: None,
        }).collect();
        let span = window(days_from(first, 4000), 6, LeapDay::Feb28, None);
        let told = lines(&made, span, days_from(first, 4000), &table).unwrap();
        let owed = made.iter().filter(|d| d.on >= span.from && d.disclosed_for != "payment").count();
        prop_assert_eq!(told.iter().map(|line| line.count as usize).sum::<usize>(), owed);
        prop_assert!(told.windows(2).all(|pair| pair[0].first <= pair[1].first));
        prop_assert!(told.iter().all(|line| line.first <= line.last));
    }
}
