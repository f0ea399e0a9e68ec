use super::*;
use crate::record::envelope::Record;
use crate::record::moment::parse_date;
use crate::record::tables::Tables;
use serde_json::{Value, json};

fn day(text: &str) -> Date {
    parse_date(text).unwrap()
}

/// The data of the example of a kind, changed.
fn example(kind: &str, change: impl FnOnce(&mut Value)) -> Data {
    let path = format!("{}/tests/data/records/{kind}.json", env!("CARGO_MANIFEST_DIR"));
    let mut record = Record::from_bytes(&std::fs::read(path).unwrap()).unwrap();
    change(&mut record.data);
    record.read_data().unwrap()
}

fn entry(seq: u64, on: &str, data: Data) -> Seen {
    Seen {
        seq,
        kind: data.kind().to_string(),
        author: "IV".to_string(),
        made: day(on),
        at: day(on),
        data: Some(data),
        misfiled: false,
        of_joined: false,
    }
}

fn opened(on: &str) -> Seen {
    entry(
        1,
        on,
        example("chart-opened", |data| data["identity"]["birth_date"] = json!({"date": "1950-01-01"})),
    )
}

fn visit(seq: u64, on: &str) -> Seen {
    entry(seq, on, example("visit-opened", |_| ()))
}

fn stands(entries: &[Seen], register: &[Seen], ids: &[&str], days: Option<u32>, today: &str) -> KeepUntil {
    let tables = Tables::shipped().unwrap();
    let adopted: Vec<&RetentionRule> = ids.iter().map(|id| tables.retention.rule(id).unwrap()).collect();
    let rules = Rules {
        adopted: &adopted,
        defaults: tables.retention.defaults,
        challenged_days: days,
        today: day(today),
    };
    keep_until("PM-0127", entries, register, &rules, None)
}

/// 45 CFR 164.530(j)(2): six years for papers about the patient's rights, which lie in the chart here; so the chart
/// stays as long as they must, and where it holds none the rule gives no day.
#[test]
fn papers_about_rights_keep_the_chart() {
    let asked = entry(9, "2023-03-01", example("request", |_| ()));
    let mut chart = vec![opened("2014-03-01"), visit(2, "2014-03-01")];
    let before = stands(&chart, &[], &["us-ca-318", "us-hipaa-530"], None, "2026-01-01");
    assert_eq!(before.keep_through, Some(Day(day("2020-03-01"))), "the privacy notice of the first day");
    chart.push(asked);
    let after = stands(&chart, &[], &["us-ca-318", "us-hipaa-530"], None, "2026-01-01");
    assert_eq!(after.keep_through, Some(Day(day("2029-03-01"))));
    assert_eq!(after.set_by(), "us-hipaa-530");
    assert!(after.rules[1].reason.contains("entry 9"), "{:?}", after.rules);
}

#[test]
fn no_rule_gives_no_day_and_nothing_may_go() {
    let chart = [opened("2000-03-01"), visit(2, "2000-03-01")];
    let none = stands(&chart, &[], &[], None, "2026-01-01");
    assert!(none.keep_through.is_none() && !none.may_go() && none.problem.is_some(), "{none:?}");
    let unborn = entry(
        1,
        "2000-03-01",
        example("chart-opened", |data| {
            data["identity"]["birth_date"] = json!({"estimated_year": 1950, "words": "told"});
        }),
    );
    // One rule gives a day without the birth date, the other does not: then there is none.
    let half = stands(&[unborn, visit(2, "2000-03-01")], &[], &["us-ca-318", "lm-1"], None, "2026-01-01");
    assert!(half.keep_through.is_none() && !half.may_go(), "{half:?}");
    assert_eq!(half.refusals, ["no_day"]);
}

/// What belongs to another person's chart is no treatment of this one; another chart of the same person is.
#[test]
fn a_misfiled_visit_does_not_count_and_a_joined_chart_does() {
    let mut wrong = visit(3, "2015-01-01");
    wrong.misfiled = true;
    let mut chart = vec![opened("2000-03-01"), visit(2, "2000-03-01"), wrong];
    let without = stands(&chart, &[], &["us-ca-318"], None, "2026-01-01");
    assert_eq!(without.keep_through, Some(Day(day("2005-03-01"))));
    let mut elsewhere = visit(40, "2024-02-29");
    elsewhere.of_joined = true;
    chart.push(elsewhere);
    let with = stands(&chart, &[], &["us-ca-318"], None, "2026-01-01");
    assert_eq!(with.keep_through, Some(Day(day("2029-03-01"))), "29 February plus years is 1 March");
}

#[test]
fn a_refused_amendment_stands_against_it_as_long_as_it_can_be_challenged() {
    let asked = entry(20, "2016-01-04", example("amendment-request", |_| ()));
    let decision = |decided: &str| {
        entry(
            21,
            "2016-02-01",
            example("amendment-decision", |data| {
                data["request"] = json!(20);
                data["letter"]["dated"] = json!("2016-02-01");
                for point in data["points"].as_array_mut().unwrap() {
                    point["decision"] = json!(decided);
                }
            }),
        )
    };
    let mut chart = vec![opened("2000-03-01"), visit(2, "2000-03-01"), asked];
    let open = |chart: &[Seen], days, today: &str| {
        stands(chart, &[], &["us-ca-318"], days, today).refusals.join(" ")
    };
    assert_eq!(open(&chart, Some(180), "2026-01-01"), "open_request", "not decided");
    chart.push(decision("refused"));
    assert_eq!(open(&chart, Some(180), "2016-07-30"), "open_request", "the 180th day");
    assert_eq!(open(&chart, Some(180), "2016-07-31"), "");
    assert_eq!(open(&chart, None, "2026-01-01"), "open_request", "the rules name no time");
    let disagrees = example("disagreement", |data| data["request"] = json!(20));
    chart.push(entry(22, "2016-06-01", disagrees));
    assert_eq!(open(&chart, Some(180), "2016-07-31"), "open_request", "counted from the statement");
    chart.truncate(3);
    chart.push(decision("accepted"));
    assert_eq!(open(&chart, None, "2026-01-01"), "");
}

/// What a role does not open is not taken for closed.
#[test]
fn what_does_not_open_stands_against_it() {
    let mut chart = vec![opened("2000-03-01"), visit(2, "2000-03-01")];
    for kind in ["reaction", "hold", "notice", "request"] {
        let mut sealed = entry(30, "2000-03-01", example(kind, |_| ()));
        sealed.data = None;
        chart.truncate(2);
        chart.push(sealed);
        let found = stands(&chart, &[], &["us-ca-318"], Some(0), "2026-01-01");
        assert!(!found.may_go() && found.against.len() == 1, "{kind}: {:?}", found.refusals);
    }
}
