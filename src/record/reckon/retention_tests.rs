//! Every sentence of the rule of `retention.toml`, tried.

use super::*;
use proptest::prelude::*;

fn ask(input: Value) -> Result<Value, ReckonError> {
    answer(&input, Tables::shipped().unwrap())
}

fn day(input: Value) -> String {
    let answer = ask(input).unwrap();
    answer["keep_through"].as_str().unwrap_or_else(|| panic!("{answer}")).to_owned()
}

/// A chart under one rule that is written here.
fn under(rule: Value, chart: Value) -> String {
    let mut input = json!({ "ask": "chart", "rules_inline": [rule] });
    input.as_object_mut().unwrap().extend(chart.as_object().unwrap().clone());
    if input["rules_inline"][0]["id"].is_null() {
        input["rules_inline"][0]["id"] = "x".into();
    }
    day(input)
}

#[test]
fn the_day_the_years_are_counted_from() {
    let chart = json!({ "services": ["2021-05-05", "2020-02-29"], "entries": ["2022-07-07"] });
    let rule = |trigger: &str| json!({ "years": 5, "trigger": trigger });
    assert_eq!(under(rule("last_service"), chart.clone()), "2026-05-05");
    assert_eq!(under(rule("each_service"), chart.clone()), "2026-05-05");
    assert_eq!(under(rule("record_made"), chart.clone()), "2027-07-07");
    assert_eq!(under(rule("completion"), chart), "2026-05-05");
}

#[test]
fn completion_gives_way_to_a_later_service() {
    let rule = json!({ "years": 5, "trigger": "completion" });
    let with = |completed: Value| json!({ "services": ["2024-03-10"], "completed": completed });
    assert_eq!(under(rule.clone(), with(json!("2024-05-01"))), "2029-05-01");
    assert_eq!(under(rule.clone(), with(json!("2024-03-10"))), "2029-03-10");
    assert_eq!(under(rule.clone(), with(json!("2024-03-01"))), "2029-03-10");
    assert_eq!(under(rule, with(Value::Null)), "2029-03-10");
}

#[test]
fn the_leap_day_word_is_for_years_and_for_birthdays() {
    let rule = |leap: Value| {
        json!({ "years": 1, "trigger": "last_service", "leap_day": leap,
            "minor": { "tested_at": "last_service", "keep_to_age": 21, "combine": "later" } })
    };
    let born = |service: &str| json!({ "born": "2008-02-29", "services": [service] });
    // On 28 February 2026 a person born on 29 February 2008 is 17 by one word and 18 by the other.
    assert_eq!(under(rule(Value::Null), born("2026-02-28")), "2029-03-01");
    assert_eq!(under(rule(json!("feb28")), born("2026-02-28")), "2027-02-28");
    assert_eq!(under(rule(json!("feb28")), born("2026-02-27")), "2029-02-28");
    assert_eq!(under(rule(json!("mar1")), born("2026-03-01")), "2027-03-01");
}

#[test]
fn when_the_age_is_looked_at() {
    let rule = |tested: &str, trigger: &str| {
        json!({ "years": 2, "trigger": trigger,
            "minor": { "tested_at": tested, "keep_to_age": 25, "combine": "later" } })
    };
    // 17 at the first service, 18 at the last.
    let chart = json!({ "born": "2006-06-15", "services": ["2024-01-10", "2024-06-15"] });
    assert_eq!(under(rule("last_service", "last_service"), chart.clone()), "2026-06-15");
    assert_eq!(under(rule("any_entry", "last_service"), chart.clone()), "2031-06-15");
    assert_eq!(under(rule("each_item", "last_service"), chart.clone()), "2031-06-15");
    assert_eq!(under(rule("each_item", "each_service"), chart.clone()), "2031-06-15");
    // A minor on the day of an entry only.
    let entry = json!({ "born": "2006-06-15", "services": ["2024-06-15"], "entries": ["2024-06-14"] });
    assert_eq!(under(rule("any_entry", "last_service"), entry.clone()), "2031-06-15");
    assert_eq!(under(rule("last_service", "last_service"), entry.clone()), "2026-06-15");
    assert_eq!(under(rule("each_item", "record_made"), entry.clone()), "2031-06-15");
    assert_eq!(under(rule("each_item", "each_service"), entry), "2026-06-15");
    // Item by item.
    let item = |date: &str| {
        day(json!({ "ask": "item", "rules": ["us-md-4-403-a"], "born": "2006-06-15", "item": date,
            "services": ["2024-01-10", "2024-06-15"] }))
    };
    assert_eq!(item("2024-01-10"), "2029-01-10");
    assert_eq!(item("2024-06-15"), "2029-06-15");
    let long = day(json!({ "ask": "item", "rules": ["us-md-4-403-b"], "born": "2010-06-15",
        "services": ["2012-03-10", "2029-01-10"], "item": "2012-03-10" }));
    assert_eq!(long, "2035-06-15");
}

#[test]
fn the_age_below_which_a_person_is_a_minor() {
    let rule = |under: Value, majority: Value| {
        json!({ "years": 1, "trigger": "last_service", "majority_age": majority,
            "minor": { "under_age": under, "tested_at": "last_service", "keep_to_age": 30, "combine": "later" } })
    };
    let chart = json!({ "born": "2000-05-05", "services": ["2018-08-08"] });
    assert_eq!(under(rule(Value::Null, Value::Null), chart.clone()), "2019-08-08");
    assert_eq!(under(rule(Value::Null, json!(19)), chart.clone()), "2030-05-05");
    assert_eq!(under(rule(json!(19), Value::Null), chart.clone()), "2030-05-05");
    assert_eq!(under(rule(json!(18), json!(21)), chart), "2019-08-08");
    // On the birthday itself no longer a minor.
    let birthday = json!({ "born": "2000-05-05", "services": ["2018-05-05"] });
    assert_eq!(under(rule(Value::Null, Value::Null), birthday), "2019-05-05");
    let eve = json!({ "born": "2000-05-05", "services": ["2018-05-04"] });
    assert_eq!(under(rule(Value::Null, Value::Null), eve), "2030-05-05");
}

#[test]
fn a_minor_may_be_counted_from_another_day() {
    // 22 Tex. Admin. Code 76.4: a minor's whole record is counted from the last treatment.
    let item = |born: &str| {
        day(json!({ "ask": "item", "rules": ["us-tx-76-4"], "born": born, "item": "2016-01-10",
            "services": ["2016-01-10", "2024-05-10"] }))
    };
    assert_eq!(item("2008-09-20"), "2030-05-10");
    assert_eq!(item("2012-09-20"), "2033-09-20");
    assert_eq!(item("1980-09-20"), "2022-01-10");
}

#[test]
fn the_birthday_by_majority_by_age_and_by_the_age_at_the_end() {
    let minor = |clause: Value| {
        let mut clause = clause;
        clause["tested_at"] = "last_service".into();
        clause["combine"] = "later".into();
        json!({ "years": 1, "trigger": "last_service", "majority_age": 19, "minor": clause })
    };
    let chart = json!({ "born": "2006-06-15", "services": ["2023-08-08"] });
    assert_eq!(under(minor(json!({ "keep_to_majority_plus": 4 })), chart.clone()), "2029-06-15");
    assert_eq!(under(minor(json!({ "keep_to_age": 21 })), chart.clone()), "2027-06-15");
    let by_end = json!({ "keep_to_age": 25, "at_last_age": 17, "at_last_keep_to_age": 26 });
    assert_eq!(under(minor(by_end.clone()), chart), "2032-06-15");
    let sixteen = json!({ "born": "2006-06-15", "services": ["2023-06-14"] });
    assert_eq!(under(minor(by_end.clone()), sixteen), "2031-06-15");
    let eighteen = json!({ "born": "2006-06-15", "services": ["2024-06-15"] });
    assert_eq!(under(minor(by_end), eighteen), "2031-06-15");
}

#[test]
fn later_and_earlier() {
    let rule = |combine: &str| {
        json!({ "years": 7, "trigger": "last_service",
            "minor": { "tested_at": "last_service", "keep_to_age": 21, "combine": combine } })
    };
    let child = json!({ "born": "2015-06-15", "services": ["2024-03-10"] });
    assert_eq!(under(rule("later"), child.clone()), "2036-06-15");
    assert_eq!(under(rule("earlier"), child), "2031-03-10");
    let older = json!({ "born": "2007-06-15", "services": ["2024-03-10"] });
    assert_eq!(under(rule("earlier"), older), "2028-06-15");
}

#[test]
fn emancipation_stands_in_for_the_birthday_where_the_text_lets_it() {
    let chart = |emancipated: Value| {
        json!({ "ask": "chart", "rules": ["us-va-20-26"], "born": "2015-05-05", "services": ["2022-01-10"],
            "emancipated": emancipated })
    };
    assert_eq!(day(chart(Value::Null)), "2033-05-05");
    assert_eq!(day(chart(json!("2031-08-01"))), "2031-08-01");
    assert_eq!(day(chart(json!("2027-08-01"))), "2028-01-10");
    assert_eq!(day(chart(json!("2034-08-01"))), "2033-05-05");
    let mut other = chart(json!("2031-08-01"));
    other["rules"] = json!(["us-nh-406"]);
    assert_eq!(day(other), "2033-05-05");
    // As on a birthday, so on that day itself the person is no longer a minor.
    let rule = json!({ "years": 2, "trigger": "last_service", "minor": { "tested_at": "last_service",
        "keep_to_age": 18, "combine": "earlier", "emancipation_ends_minority": true } });
    let on = |emancipated: &str| {
        let dates = json!({ "born": "2006-06-15", "services": ["2022-01-10"], "emancipated": emancipated });
        under(rule.clone(), dates)
    };
    assert_eq!((on("2022-01-10"), on("2022-01-11")), ("2024-01-10".to_owned(), "2022-01-11".to_owned()));
}

#[test]
fn the_latest_of_several_rules_and_every_rule_that_gives_it() {
    let chart = json!({ "ask": "chart", "rules": ["us-or-0005", "lm-1", "us-ca-318", "lm-1"],
        "born": "1980-01-01", "services": ["2024-03-10"] });
    assert_eq!(
        ask(chart).unwrap(),
        json!({ "keep_through": "2031-03-10", "set_by": ["lm-1", "us-or-0005"] })
    );
}

#[test]
fn a_chart_without_treatment_counts_from_its_last_entry() {
    let chart = |rule: &str| {
        day(json!({ "ask": "chart", "rules": [rule], "born": "1985-08-20", "services": null,
            "entries": ["2023-02-14", "2022-01-01"], "completed": "2022-06-01" }))
    };
    assert_eq!(chart("lm-1"), "2030-02-14");
    assert_eq!(chart("us-medicare-424-516"), "2030-02-14");
    assert_eq!(chart("de-630f"), "2033-02-14");
    let nothing = ask(json!({ "ask": "chart", "rules": ["ca-qc-r14"], "services": [] })).unwrap_err();
    assert!(nothing.to_string().contains("no date of a treatment"), "{nothing}");
}

#[test]
fn without_a_birth_date_no_day_is_named() {
    let problem = json!({ "problem": "birth_date_needed" });
    for rules in [json!(["lm-1"]), json!(["us-ca-318", "uk-gcc"]), json!(["uk-gcc", "us-ca-318"])] {
        for ask_for in ["chart", "item", "dispose"] {
            let input = json!({ "ask": ask_for, "rules": rules, "services": ["2000-03-10"],
                "item": "2000-03-10", "as_of": "2024-01-01" });
            assert_eq!(ask(input).unwrap(), problem, "{ask_for} {rules}");
        }
    }
    assert_eq!(
        day(json!({ "ask": "chart", "rules": ["us-ca-318"], "services": ["2020-06-15"] })),
        "2025-06-15"
    );
}

#[test]
fn papers_outside_the_chart() {
    let paper = |last: Value| {
        day(json!({ "ask": "document", "rules": ["us-hipaa-530", "lm-1"], "created": "2020-02-29",
            "last_in_effect": last }))
    };
    assert_eq!(paper(Value::Null), "2026-03-01");
    assert_eq!(paper(json!("2021-06-30")), "2027-06-30");
    assert_eq!(paper(json!("2019-06-30")), "2026-03-01");
    // Counted from the day it was made, it makes no difference how long it was in effect.
    let made = json!({ "id": "x", "years": 6, "trigger": "record_made", "covers": "privacy_papers" });
    let input = json!({ "ask": "document", "rules_inline": [made], "created": "2020-05-01",
        "last_in_effect": "2021-06-30" });
    assert_eq!(day(input), "2026-05-01");
    let chart = ask(json!({ "ask": "chart", "rules": ["us-hipaa-530"], "services": ["2020-06-15"] }));
    assert!(chart.unwrap_err().to_string().contains("No rule"));
    let both = json!({ "ask": "chart", "rules": ["us-hipaa-530", "us-ca-318"], "services": ["2020-06-15"] });
    assert_eq!(ask(both).unwrap()["set_by"], json!(["us-ca-318"]));
}

/// A rule is about papers by what it covers, or by what it counts from; either is enough.
#[test]
fn a_rule_about_papers_is_none_about_charts() {
    for (trigger, covers, about_charts) in [
        ("record_made", "privacy_papers", false),
        ("last_in_effect", "chart", false),
        ("last_in_effect", "privacy_papers", false),
        ("record_made", "chart", true),
        ("each_service", "payer_papers", true),
    ] {
        let rule = json!({ "id": "x", "years": 6, "trigger": trigger, "covers": covers });
        let chart = json!({ "ask": "chart", "rules_inline": [rule], "services": ["2020-06-15"] });
        let paper = json!({ "ask": "document", "rules_inline": [rule], "created": "2020-06-15" });
        assert_eq!(ask(chart).is_ok(), about_charts, "{trigger} {covers}");
        assert_eq!(ask(paper).is_ok(), !about_charts, "{trigger} {covers}");
    }
}

/// Where each treatment starts its own count an entry that is none starts no count, whatever its age clause says.
#[test]
fn an_entry_is_no_treatment() {
    let rule = json!({ "years": 2, "trigger": "each_service",
        "minor": { "tested_at": "each_item", "count_from": "last_service", "keep_to_age": 25, "combine": "later" } });
    let chart =
        |services: Value| json!({ "born": "2006-06-15", "services": services, "entries": ["2024-06-14"] });
    assert_eq!(under(rule.clone(), chart(json!(["2024-06-15"]))), "2026-06-15");
    assert_eq!(under(rule.clone(), chart(json!(["2024-06-14", "2024-06-15"]))), "2031-06-15");
    // Never treated: the last entry stands in for the last treatment.
    assert_eq!(under(rule, chart(json!([]))), "2031-06-15");
}

/// Two visits as a minor come to the same birthday: the later one is what a person is told it is counted from.
#[test]
fn of_several_dates_that_give_the_day_the_latest_is_told() {
    let date = |text: &str| parse_date(text).unwrap();
    let rule = json!({ "id": "x", "years": 2, "trigger": "each_service",
        "minor": { "tested_at": "each_item", "keep_to_age": 25, "combine": "later" } });
    let chart = ChartDates {
        born: Some(date("2006-06-15")),
        services: ["2023-01-10", "2024-01-10", "2024-07-01"].map(date).into(),
        ..ChartDates::default()
    };
    let rule: RetentionRule = serde_json::from_value(rule).unwrap();
    let told = counted(&chart, &rule, Tables::shipped().unwrap().retention.defaults).unwrap();
    assert_eq!((told.day, told.from), (date("2031-06-15"), date("2024-01-10")));
    assert_eq!((told.years_end, told.minor), (date("2026-01-10"), Some((told.from, told.day))));
}

#[test]
fn disposal_and_every_reason_against_it() {
    let refused = |rules: Value, as_of: &str, open: Value, reason: Value| {
        ask(json!({ "ask": "dispose", "rules": rules, "born": "1949-02-11", "services": ["2016-05-19"],
            "as_of": as_of, "open": open, "override": reason }))
        .unwrap()["refusals"]
            .clone()
    };
    let all = ["open_request", "hold", "open_proceeding", "open_adverse_response", "hold"];
    assert_eq!(
        refused(json!(["us-va-20-26", "lm-1"]), "2023-05-19", json!(all), Value::Null),
        json!([
            "hold",
            "not_yet",
            "open_adverse_response",
            "open_proceeding",
            "open_request",
            "unsettled_rule"
        ])
    );
    // A written reason lifts the unsettled rule and nothing else.
    assert_eq!(
        refused(json!(["us-va-20-26", "lm-1"]), "2023-05-19", json!(["hold"]), json!("read by counsel")),
        json!(["hold", "not_yet"])
    );
    assert_eq!(
        refused(json!(["us-va-20-26"]), "2023-05-20", Value::Null, json!(" \t")),
        json!(["unsettled_rule"])
    );
    // Found, but two texts contradict each other.
    assert_eq!(
        refused(json!(["us-md-4-403-b"]), "2030-01-01", json!([]), Value::Null),
        json!(["unsettled_rule"])
    );
    for settled in ["lm-1", "us-ca-318", "us-il-advice", "us-az-32-2936"] {
        assert_eq!(refused(json!([settled]), "2030-01-01", json!([]), Value::Null), json!([]), "{settled}");
    }
    assert_eq!(refused(json!(["lm-1"]), "2023-05-20", json!([]), Value::Null), json!([]));
}

#[test]
fn what_cannot_be_read_is_told() {
    for (input, word) in [
        (json!({ "ask": "chart", "rules": ["lm-9"], "services": ["2020-01-01"] }), "lm-9"),
        (json!({ "ask": "chart", "rules": ["lm-1"], "services": ["2020-02-30"] }), "day"),
        (json!({ "ask": "when", "rules": ["lm-1"] }), "when"),
        (json!({ "ask": "chart", "rules": ["lm-1"], "servces": [] }), "servces"),
        (json!({ "ask": "chart", "services": ["2020-01-01"] }), "No rule"),
        (json!({ "ask": "item", "rules": ["lm-1"], "services": ["2020-01-01"] }), "item"),
        (
            json!({ "ask": "dispose", "rules": ["ca-qc-r14"], "services": ["2020-01-01"], "as_of": "2024-01-01",
            "open": ["holds"] }),
            "holds",
        ),
    ] {
        let why = ask(input).unwrap_err().to_string();
        assert!(why.contains(word), "{why}");
    }
}

#[test]
fn in_words() {
    let input = json!({ "ask": "dispose", "rules": ["lm-1"], "born": "1949-02-11", "services": ["2016-05-19"],
        "as_of": "2023-05-19", "open": ["open_request"] });
    let lines = words(&ask(input).unwrap());
    assert_eq!(lines[0], "Keep through Fri 19 May 2023 (by lm-1).");
    assert_eq!(lines[1], "First day it may be destroyed: Sat 20 May 2023.");
    assert_eq!(lines.len(), 4);
    assert!(words(&json!({ "problem": "birth_date_needed" }))[0].contains("birth date"));
    let refused = json!({ "refusals": ["not_yet", "unsettled_rule", "hold", "open_adverse_response",
        "open_proceeding", "open_request"] });
    assert_eq!(
        words(&refused),
        [
            "Disposal refused: the last day to keep it is not over.",
            "Disposal refused: the text of a rule must be read by a person first, who may then give a written reason.",
            "Disposal refused: it is on hold.",
            "Disposal refused: open adverse response.",
            "Disposal refused: open proceeding.",
            "Disposal refused: open request.",
        ]
    );
    assert_eq!(words(&json!({ "refusals": [] })), ["Nothing stands against disposal."]);
}

prop_compose! {
    fn any_chart()(
        born in 0i64..30_000,
        services in proptest::collection::btree_set(0i64..30_000, 0..6),
        entries in proptest::collection::btree_set(0i64..30_000, 1..6),
    ) -> ChartDates {
        let date = |n: i64| days_from(jiff::civil::date(1930, 1, 1), n);
        ChartDates {
            born: Some(date(born)),
            services: services.into_iter().map(date).collect(),
            entries: entries.into_iter().map(date).collect(),
            ..ChartDates::default()
        }
    }
}

proptest! {
    #[test]
    fn one_rule_more_never_makes_it_earlier(chart in any_chart(), picked: u32, more in 0usize..20) {
        let table = &Tables::shipped().unwrap().retention;
        let charts: Vec<_> = table.rule.iter().filter(|rule| is_about_charts(rule)).collect();
        let some: Vec<_> = charts.iter().enumerate()
            .filter(|(n, _)| *n == 0 || picked >> n & 1 == 1).map(|(_, rule)| *rule).collect();
        let mut longer = some.clone();
        longer.push(charts[more % charts.len()]);
        let kept = keep_through(&chart, &some, table.defaults).unwrap();
        let longer = keep_through(&chart, &longer, table.defaults).unwrap();
        prop_assert!(kept.keep_through <= longer.keep_through);
        for id in &kept.set_by {
            let alone = keep_through(&chart, &[table.rule(id).unwrap()], table.defaults).unwrap();
            prop_assert_eq!(alone.keep_through, kept.keep_through);
        }
    }

    #[test]
    fn no_item_outlives_its_chart(chart in any_chart(), at: usize) {
        let table = &Tables::shipped().unwrap().retention;
        let dates: Vec<_> = if chart.services.is_empty() { chart.all() } else { chart.services.clone() }
            .into_iter().collect();
        for rule in table.rule.iter().filter(|rule| is_about_charts(rule)) {
            let whole = keep_through(&chart, &[rule], table.defaults).unwrap();
            let item = keep_item_through(&chart, dates[at % dates.len()], &[rule], table.defaults).unwrap();
            prop_assert!(item.keep_through <= whole.keep_through, "{}", rule.id);
        }
    }
}
