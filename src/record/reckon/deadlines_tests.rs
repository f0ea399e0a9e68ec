//! Every sentence of the rule of `deadlines.toml`, tried.

use super::*;
use proptest::prelude::*;

fn ask(input: Value) -> Result<Value, ReckonError> {
    answer(&input, Tables::shipped().unwrap())
}

fn day_due(clock: &str, received: &str, holidays: Value) -> (String, Value, String) {
    let answer =
        ask(json!({ "ask": "due", "clock": clock, "received": received, "holidays": holidays })).unwrap();
    let text = |field: &str| answer[field].as_str().unwrap().to_owned();
    (text("due"), answer["limit"].clone(), text("work_by"))
}

fn shipped_clock(id: &str) -> Clock {
    Tables::shipped().unwrap().clocks.clock(id).unwrap().clone()
}

fn d(text: &str) -> Date {
    parse_date(text).unwrap()
}

#[test]
fn calendar_days_stand_on_a_weekend_and_the_friday_is_told() {
    // 45 CFR 164.524(b)(2): 30 days and 30 more, counted from the day after receipt.
    let (due, limit, work_by) = day_due("us-hipaa-access", "2025-01-31", Value::Null);
    assert_eq!((due.as_str(), limit, work_by.as_str()), ("2025-03-02", json!("2025-04-01"), "2025-02-28"));
    let (_, _, work_by) = day_due("us-hipaa-access", "2025-01-31", json!(["2025-02-28", "2025-02-27"]));
    assert_eq!(work_by, "2025-02-26");
}

#[test]
fn business_days_pass_over_weekends_and_holidays() {
    assert_eq!(day_due("us-tx-76-2", "2025-03-03", json!([])).0, "2025-03-24");
    assert_eq!(day_due("us-tx-76-2", "2025-03-01", json!([])).0, "2025-03-21");
    assert_eq!(day_due("us-ca-inspect", "2024-07-01", json!(["2024-07-04", "2024-07-06"])).0, "2024-07-09");
    assert_eq!(day_due("us-ca-inspect", "2024-07-04", json!(["2024-07-04"])).0, "2024-07-11");
}

#[test]
fn months_end_on_the_last_day_of_a_short_one_and_roll() {
    assert_eq!(day_due("uk-access", "2023-01-31", json!([])).0, "2023-02-28");
    let (due, limit, work_by) = day_due("uk-access", "2020-01-31", json!(["2020-03-02"]));
    assert_eq!((due.as_str(), limit, work_by.as_str()), ("2020-03-03", json!("2020-04-30"), "2020-03-03"));
    // The limit runs from the starting date, not from the rolled due date.
    let (due, limit, _) = day_due("uk-access", "2024-08-31", json!([]));
    assert_eq!((due.as_str(), limit), ("2024-09-30", json!("2024-12-02")));
}

#[test]
fn the_date_on_the_request_counts_where_the_rule_says_so_and_it_is_the_earlier() {
    let due = |clock: &str, requested: Value, received: Value| {
        ask(json!({ "ask": "due", "clock": clock, "received": received, "requested": requested }))
            .map(|answer| answer["due"].clone())
    };
    assert_eq!(due("ca-qc-r5-1-67", json!("2024-05-01"), json!("2024-05-06")).unwrap(), "2024-05-21");
    assert_eq!(due("ca-qc-r5-1-67", json!("2024-05-09"), json!("2024-05-06")).unwrap(), "2024-05-26");
    assert_eq!(due("ca-qc-r5-1-67", Value::Null, json!("2024-05-06")).unwrap(), "2024-05-26");
    assert_eq!(due("ca-qc-r5-1-67", json!("2024-05-01"), Value::Null).unwrap(), "2024-05-21");
    assert_eq!(due("lm-access", json!("2024-05-01"), json!("2024-05-06")).unwrap(), "2024-06-05");
    assert!(due("lm-access", json!("2024-05-01"), Value::Null).unwrap_err().to_string().contains("receipt"));
}

#[test]
fn the_date_of_receipt_is_the_practices_own() {
    let due = |at: &str, offset: Value| {
        ask(json!({ "ask": "due", "clock": "us-hipaa-access", "received_at": at, "practice_offset": offset }))
            .map(|answer| answer["due"].clone())
    };
    assert_eq!(due("2024-07-01T23:59:00-05:00", json!("-05:00")).unwrap(), "2024-07-31");
    assert_eq!(due("2024-07-01T23:59:00-05:00", Value::Null).unwrap(), "2024-07-31");
    assert_eq!(due("2024-07-02T05:00:00Z", json!("-05:00")).unwrap(), "2024-08-01");
    assert_eq!(due("2024-06-30T23:00:00Z", json!("+10:00")).unwrap(), "2024-07-31");
    assert_eq!(due("2024-07-01T12:00:00Z", json!("Z")).unwrap(), "2024-07-31");
    assert!(due("2024-07-01T12:00:00Z", json!("5")).unwrap_err().to_string().contains("offset"));
    let both = |received: &str| {
        ask(json!({ "ask": "due", "clock": "lm-access", "received": received,
            "received_at": "2024-07-02T01:00:00Z", "practice_offset": "-05:00" }))
    };
    assert_eq!(both("2024-07-01").unwrap()["due"], "2024-07-31");
    assert!(both("2024-07-02").unwrap_err().to_string().contains("2024-07-01"));
}

#[test]
fn an_extension_reports_all_that_fails_it() {
    let judged = |clock: &str, notice: Value, earlier: Value| {
        ask(json!({ "ask": "extension", "clock": clock, "received": "2024-01-31", "extension": notice,
            "earlier_extensions": earlier }))
        .unwrap()
    };
    assert_eq!(
        judged(
            "us-hipaa-access",
            json!({ "sent": "2024-03-02", "reasons": " \n", "new_date": "2024-04-01" }),
            json!(1)
        ),
        json!({ "valid": false, "due": "2024-03-01", "failures":
            ["already_extended", "beyond_limit", "no_reasons", "not_in_writing", "sent_too_late"] })
    );
    assert_eq!(
        judged("us-hipaa-access", json!({}), Value::Null),
        json!({ "valid": false, "due": "2024-03-01", "failures":
            ["no_new_date", "no_reasons", "not_in_writing", "sent_too_late"] })
    );
    assert_eq!(
        judged("us-or-0006", json!({ "new_date": "2030-01-01" }), json!(4)),
        json!({ "valid": false, "failures": ["no_extension_in_rule"], "due": "2024-03-01" })
    );
    // The United Kingdom asks for neither writing nor a named date: then the limit is due.
    let told =
        json!({ "sent": "2024-02-29", "in_writing": false, "reasons": "many requests", "new_date": null });
    assert_eq!(
        judged("uk-access", told.clone(), json!(0)),
        json!({ "valid": true, "failures": [], "due": "2024-04-30" })
    );
    let mut named = told.clone();
    named["new_date"] = json!("2024-04-02");
    assert_eq!(judged("uk-access", named, json!(0))["due"], "2024-04-02");
    let mut late = told;
    late["sent"] = json!("2024-03-01");
    assert_eq!(judged("uk-access", late, json!(0))["failures"], json!(["sent_too_late"]));
}

#[test]
fn an_answer_is_judged_by_the_date_now_due() {
    let acted = |notice: Value, acted: &str| {
        ask(
            json!({ "ask": "acted", "clock": "us-hipaa-access", "received": "2024-01-31", "extension": notice,
            "acted": acted }),
        )
        .unwrap()
    };
    let good =
        json!({ "sent": "2024-02-25", "in_writing": true, "reasons": "scans", "new_date": "2024-03-20" });
    assert_eq!(acted(good.clone(), "2024-03-22"), json!({ "due": "2024-03-20", "days_late": 2 }));
    let mut void = good;
    void["reasons"] = json!("");
    assert_eq!(acted(void, "2024-03-19"), json!({ "due": "2024-03-01", "days_late": 18 }));
    assert_eq!(acted(Value::Null, "2024-02-01"), json!({ "due": "2024-03-01", "days_late": 0 }));
}

#[test]
fn the_earliest_governs_and_all_that_give_it_are_named() {
    let earliest = |clocks: Value, requested: Value| {
        ask(json!({ "ask": "earliest", "clocks": clocks, "received": "2024-07-01", "requested": requested,
            "holidays": ["2024-07-04"] }))
    };
    assert_eq!(
        earliest(json!(["us-wa-650", "lm-access", "us-ca-copies"]), Value::Null).unwrap(),
        json!({ "due": "2024-07-16", "set_by": ["us-ca-copies", "us-wa-650"] })
    );
    assert_eq!(
        earliest(json!(["us-hipaa-access", "ca-qc-r5-1-67"]), json!("2024-06-28")).unwrap(),
        json!({ "due": "2024-07-18", "set_by": ["ca-qc-r5-1-67"] })
    );
    assert!(earliest(json!([]), Value::Null).unwrap_err().to_string().contains("No clock"));
    // The date on the request stands in for the day of receipt only where every clock counts from it.
    let undated =
        |clocks: Value| ask(json!({ "ask": "earliest", "clocks": clocks, "requested": "2024-06-28" }));
    assert_eq!(undated(json!(["ca-qc-r5-1-67"])).unwrap()["due"], "2024-07-18");
    for clocks in [json!(["ca-qc-r5-1-67", "us-hipaa-access"]), json!(["us-hipaa-access", "ca-qc-r5-1-67"])] {
        assert!(undated(clocks).unwrap_err().to_string().contains("day of receipt"));
    }
}

#[test]
fn what_cannot_be_read_is_told() {
    for (input, word) in [
        (json!({ "ask": "due", "clock": "lm-9", "received": "2024-01-31" }), "lm-9"),
        (json!({ "ask": "due", "clock": "lm-access", "received": "2024-02-30" }), "day"),
        (json!({ "ask": "due", "clock": "lm-access", "recieved": "2024-02-03" }), "recieved"),
        (json!({ "ask": "soon", "clock": "lm-access" }), "soon"),
        (json!({ "ask": "extension", "clock": "lm-access", "received": "2024-01-31" }), "extension"),
        (json!({ "ask": "due", "clock": "lm-access", "received_at": "yesterday" }), "yesterday"),
    ] {
        let why = ask(input).unwrap_err().to_string();
        assert!(why.contains(word), "{why}");
    }
}

#[test]
fn a_count_that_includes_its_first_day() {
    let mut clock = shipped_clock("lm-access");
    clock.day_zero = false;
    let free = Holidays::new();
    assert_eq!(due(&clock, d("2025-01-31"), &free).due, Day(d("2025-03-01")));
    clock.unit = CountUnit::BusinessDays;
    clock.count = 1;
    assert_eq!(due(&clock, d("2025-01-31"), &free).due, Day(d("2025-01-31")));
    clock.unit = CountUnit::Months;
    assert_eq!(due(&clock, d("2025-01-15"), &free).due, Day(d("2025-02-14")));
}

#[test]
fn in_words() {
    let said = words(&ask(json!({ "ask": "due", "clock": "lm-access", "received": "2025-01-31" })).unwrap());
    assert_eq!(
        said,
        [
            "Due Sun 02 Mar 2025.",
            "Last working day before: Fri 28 Feb 2025.",
            "With an extension at the latest Tue 01 Apr 2025."
        ]
    );
    let said = words(&ask(json!({ "ask": "due", "clock": "us-tx-76-2", "received": "2025-03-03" })).unwrap());
    assert_eq!(said, ["Due Mon 24 Mar 2025.", "The rule has no extension."]);
    let said = words(&json!({ "due": "2024-03-01", "days_late": 1 }));
    assert_eq!(said[1], "Answered 1 day late.");
    let said = words(&json!({ "valid": false, "failures": ["no_reasons"], "due": "2024-03-01" }));
    assert_eq!(said[1], "  No reasons were given.");
}

proptest! {
    #[test]
    fn due_dates_hold_together(
        start in 0i64..40_000,
        free in proptest::collection::btree_set(0i64..120, 0..20),
        sent in 0i64..200, new_date in proptest::option::of(0i64..200), writing: bool, reasons: bool,
        earlier in 0u32..3,
    ) {
        let day = |n: i64| days_from(d("1990-01-01"), start + n);
        let holidays: Holidays = free.into_iter().map(day).collect();
        let notice = ExtensionNotice {
            sent: Some(Day(day(sent))), in_writing: writing, new_date: new_date.map(|n| Day(day(n))),
            reasons: reasons.then(|| "off site".to_owned()),
        };
        for clock in &Tables::shipped().unwrap().clocks.clock {
            let first = due(clock, day(0), &holidays);
            prop_assert!(first.due.0 > day(0));
            prop_assert!(first.work_by <= first.due);
            prop_assert!(crate::record::calendar::is_working_day(first.work_by.0, &holidays));
            prop_assert!(first.limit.is_none_or(|limit| limit >= first.due));
            let extended = extension(clock, day(0), &holidays, &notice, earlier);
            // A date that was named binds even where it is sooner; an extension without one never is.
            prop_assert!(notice.new_date.is_some() || extended.due >= first.due);
            prop_assert_eq!(extended.valid, extended.failures.is_empty());
            if extended.valid {
                prop_assert!(first.limit.is_some_and(|limit| extended.due <= limit));
            } else {
                prop_assert_eq!(extended.due, first.due);
            }
        }
    }
}
