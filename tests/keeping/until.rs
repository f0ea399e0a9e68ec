//! Through which day a chart is kept.

use super::{flat, kept, old_paper, treated, with_rules};
use inkfast::record::keep_until::{Rules, Seen, keep_until};
use inkfast::record::kinds::Data;
use inkfast::record::moment::{Date, parse_date};
use inkfast::record::reckon::topic;
use inkfast::record::tables::Tables;
use inkfast::record::tables::retention::{Covers, RetentionRule, Trigger};
use serde_json::{Value, json};
use std::collections::BTreeSet;

const GIVEN: &str = include_str!("../data/reckon/checks-given.json");

fn days(input: &Value, field: &str) -> BTreeSet<Date> {
    let list = input[field].as_array().into_iter().flatten();
    list.map(|day| parse_date(day.as_str().unwrap()).unwrap()).collect()
}

fn seen(seq: u64, kind: &str, day: Date, data: Option<Data>) -> Seen {
    Seen {
        seq,
        kind: kind.to_string(),
        author: "IV".to_string(),
        made: day,
        at: day,
        data,
        misfiled: false,
        of_joined: false,
    }
}

/// An example of a kind, with a change.
fn data(kind: &str, change: impl FnOnce(&mut Value)) -> Data {
    let mut record = super::common::example(kind);
    change(&mut record.data);
    record.read_data().unwrap()
}

/// The entries of a chart with these dates: opened on the first of them, so that it adds no date of its own.
fn entries_of(input: &Value) -> Vec<Seen> {
    let (services, entries) = (days(input, "services"), days(input, "entries"));
    let Some(first) = services.union(&entries).min().copied() else { return Vec::new() };
    let opened = data("chart-opened", |data| {
        data["identity"]["birth_date"] = match input["born"].as_str() {
            Some(born) => json!({ "date": born }),
            None => json!({ "estimated_year": 1970, "words": "not known" }),
        };
    });
    let mut all = vec![seen(1, "chart-opened", first, Some(opened))];
    let visit = || Some(data("visit-opened", |_| ()));
    all.extend(services.iter().zip(100..).map(|(day, seq)| seen(seq, "visit-opened", *day, visit())));
    let contact = || Some(data("contact", |_| ()));
    all.extend(entries.iter().zip(500..).map(|(day, seq)| seen(seq, "contact", *day, contact())));
    for (word, seq) in input["open"].as_array().into_iter().flatten().zip(900..) {
        all.push(match word.as_str().unwrap() {
            "hold" => seen(seq, "hold", first, Some(data("hold", |_| ()))),
            "open_request" => seen(seq, "request", first, Some(data("request", |_| ()))),
            "open_proceeding" => {
                let notice = data("notice", |data| data["state"] = json!("received"));
                seen(seq, "notice", first, Some(notice))
            }
            _ => seen(seq, "reaction", first, Some(data("reaction", |_| ()))),
        });
    }
    all
}

/// The published checks of how long a record is kept give typed dates; here the same dates are those of entries.
/// What has no entry of its own (an emancipation, the end of a course) is left out.
#[test]
fn every_given_check_comes_out_of_entries() {
    let given: Value = serde_json::from_str(GIVEN).unwrap();
    let tables = Tables::shipped().unwrap();
    let (mut tried, mut wrong) = (0, Vec::new());
    for check in given["checks"].as_array().unwrap().iter().filter(|check| check["topic"] == "retention") {
        let (input, expect) = (&check["input"], &check["expect"]);
        let asks = ["chart", "dispose"].contains(&input["ask"].as_str().unwrap());
        if !asks || !input["completed"].is_null() || !input["emancipated"].is_null() {
            continue;
        }
        let inline: Vec<RetentionRule> =
            serde_json::from_value(input.get("rules_inline").cloned().unwrap_or(json!([]))).unwrap();
        let named = input["rules"].as_array().into_iter().flatten();
        let mut adopted: Vec<&RetentionRule> =
            named.map(|id| tables.retention.rule(id.as_str().unwrap()).unwrap()).collect();
        adopted.extend(&inline);
        let papers = |rule: &&RetentionRule| {
            rule.covers == Some(Covers::PrivacyPapers) || rule.trigger == Trigger::LastInEffect
        };
        assert!(!adopted.iter().any(papers), "a check of a chart names a rule of papers: {check}");
        let today = parse_date(input["as_of"].as_str().unwrap_or("2026-11-25")).unwrap();
        let rules =
            Rules { adopted: &adopted, defaults: tables.retention.defaults, challenged_days: Some(0), today };
        let found = keep_until("PM-1", &entries_of(input), &[], &rules, input["override"].as_str());
        let sets: Vec<&str> = {
            let mut names: Vec<&str> =
                found.rules.iter().filter(|rule| rule.sets).map(|rule| rule.rule.as_str()).collect();
            names.sort_unstable();
            names
        };
        let mut said = match found.keep_through {
            Some(day) => json!({ "keep_through": day, "set_by": sets }),
            None => json!({ "problem": "birth_date_needed" }),
        };
        if found.keep_through.is_none() {
            assert!(found.problem.as_ref().unwrap().contains("birth date"), "{found:?}");
            assert!(!found.may_go());
        }
        if input["ask"] == "dispose" && found.keep_through.is_some() {
            said["refusals"] = json!(found.refusals);
        }
        tried += 1;
        if said != *expect {
            wrong.push(format!("{}: {said} instead of {expect}\n  {}", check["id"], check["source"]));
        }
    }
    assert!(tried >= 20, "only {tried} checks were tried");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Charts by chance: what comes out of entries is what the topic retention gives for the same dates.
#[test]
fn entries_and_typed_dates_agree() {
    let tables = Tables::shipped().unwrap();
    let mut dice = super::common::Dice::new(7);
    let ids: Vec<&str> = tables
        .retention
        .rule
        .iter()
        .filter(|rule| rule.covers != Some(Covers::PrivacyPapers) && rule.trigger != Trigger::LastInEffect)
        .map(|rule| rule.id.as_str())
        .collect();
    for _ in 0..300 {
        let mut day =
            || format!("{}-{:02}-{:02}", 2004 + dice.below(20), 1 + dice.below(12), 1 + dice.below(28));
        let born = day().replace("20", "19");
        let input = json!({
            "ask": "chart", "born": if born.len() == 10 { born } else { "1999-02-28".to_string() },
            "services": [day(), day(), "2020-02-29"], "entries": [day()],
            "rules": [ids[day().len() * 7 % ids.len()], ids[dice.below(ids.len() as u64) as usize]],
        });
        let wanted = (topic("retention").unwrap().answer)(&input, tables).unwrap();
        let adopted: Vec<&RetentionRule> = input["rules"]
            .as_array()
            .unwrap()
            .iter()
            .map(|id| tables.retention.rule(id.as_str().unwrap()).unwrap())
            .collect();
        let rules = Rules {
            adopted: &adopted,
            defaults: tables.retention.defaults,
            challenged_days: None,
            today: parse_date("2026-11-25").unwrap(),
        };
        let found = keep_until("PM-1", &entries_of(&input), &[], &rules, None);
        assert_eq!(json!(found.keep_through), wanted["keep_through"], "{input}");
    }
}

/// The worked examples of the published rules (22 Tex. Admin. Code 76.4; the invented rule of Lower Marl), with the
/// real commands: the latest wins, each with its source and reason.
#[test]
fn the_day_follows_from_the_entries_and_is_worked_out_anew() {
    let room = with_rules(r#""lm-1", "us-tx-76-4""#);
    room.at("2022-11-14T12:30:00-05:00");
    room.patient("PM-0003", "Silas Umberlow", "1949-02-11");
    let paper = old_paper(&room, "PM-0003", "Silas Umberlow", "2016-05-19");
    let said = kept(&room, "PM-0003");
    assert_eq!(
        (said["keep_through"].as_str(), said["may_go_on"].as_str()),
        (Some("2023-05-19"), Some("2023-05-20"))
    );
    let rule = |said: &Value, id: &str| {
        said["rules"].as_array().unwrap().iter().find(|rule| rule["rule"] == id).cloned().unwrap()
    };
    let (own, texas) = (rule(&said, "lm-1"), rule(&said, "us-tx-76-4"));
    assert_eq!((own["sets"].as_bool(), texas["sets"].as_bool()), (Some(true), Some(false)));
    assert_eq!(texas["keep_through"], "2022-05-19");
    assert!(own["reason"].as_str().unwrap().contains(&format!("Thu 19 May 2016 (entry {paper})")), "{own}");
    assert!(texas["source"].as_str().unwrap().contains("76.4"), "{texas}");
    // Looking at a chart, again and again, does not lengthen how long it is kept; neither does printing it.
    room.at("2024-01-05T09:00:00-05:00").printed("PM-0003");
    assert_eq!(kept(&room, "PM-0003")["keep_through"], "2023-05-19");
    // A treatment does, also one written down late; a leap day counts to 1 March.
    treated(&room, "PM-0003", "2020-02-29 10:00");
    let said = kept(&room, "PM-0003");
    assert_eq!(
        (said["keep_through"].as_str(), rule(&said, "us-tx-76-4")["keep_through"].as_str()),
        (Some("2027-03-01"), Some("2026-03-01"))
    );
    let words = room.ok(&["keep", "until", "PM-0003", "--why", "review"]);
    assert!(words.contains("Keep through Mon 01 Mar 2027") && words.contains("lm-1"), "{words}");
}

#[test]
fn children_are_kept_longer_and_a_corrected_birth_date_counts_at_once() {
    let room = with_rules(r#""us-tx-76-4""#);
    room.at("2024-06-03T09:00:00-04:00");
    room.patient("PM-0200", "Caspian Ruddle", "2009-09-20");
    treated(&room, "PM-0200", "2024-05-10 10:00");
    let said = kept(&room, "PM-0200");
    assert_eq!(said["keep_through"], "2030-09-20", "to the 21st birthday: 22 Tex. Admin. Code 76.4(c)");
    assert!(said["rules"][0]["reason"].as_str().unwrap().contains("20 Sep 2030"), "{said}");
    room.ok(&[
        "patient",
        "identity",
        "PM-0200",
        "--changed",
        "birth_date",
        "--born",
        "2007-02-01",
        "--because",
        "read off the passport",
    ]);
    assert_eq!(kept(&room, "PM-0200")["keep_through"], "2030-05-10", "six years after the last treatment");
}

#[test]
fn death_changes_nothing_and_what_was_typed_is_not_used() {
    let room = with_rules(r#""lm-1""#);
    room.at("2025-01-13T10:00:00-05:00");
    room.patient("PM-0121", "Leopold Marchbanks-Iver", "1946-11-02");
    treated(&room, "PM-0121", "2024-12-09 11:00");
    // An earlier program, or a script, may have typed days of its own.
    room.write(
        "state.json",
        r#"{"status": "deceased", "died_on": "2025-01-08", "told_by": "daughter", "last_treated": "2024-11-01",
            "keep_until": "2099-01-01"}"#,
    );
    room.ok(&["patient", "state", "PM-0121", "--data", &room.path("state.json").display().to_string()]);
    let said = kept(&room, "PM-0121");
    assert_eq!(said["keep_through"], "2031-12-09");
    assert_eq!(said["inputs"]["died_on"]["day"], "2025-01-08");
    let state = room
        .entry(&["patient", "state", "PM-0121", "--state", "deceased", "--died", "2025-01-08"])
        .to_string();
    let kept_then = room.json(&["print", "PM-0121", "--entry", &state, "--why", "review"]);
    assert_eq!(kept_then[0]["record"]["data"]["keep_until"], "2031-12-09", "as worked out that day");
    assert!(said["inputs"]["remarks"].to_string().contains("last treated 01 Nov 2024"), "{said}");
}

/// A rule that needs the birth date gives no day without it, and then there is none at all.
#[test]
fn lists_say_what_is_due_and_what_is_blocked() {
    let room = with_rules(r#""lm-1", "us-va-20-26""#);
    room.at("2023-06-01T09:00:00-04:00");
    for (chart, name, last) in [
        ("PM-0003", "Silas Umberlow", "2016-05-19"),
        ("PM-0004", "Orla Venn", "2016-06-30"),
        ("PM-0005", "Marten Hay", "2016-07-01"),
    ] {
        room.patient(chart, name, &format!("1949-02-1{}", &chart[6..]));
        old_paper(&room, chart, "S. U.", last);
    }
    let charts = |word: &str, more: &[&str]| -> Vec<String> {
        let args: Vec<&str> = ["keep", word].iter().chain(more).copied().collect();
        let list = room.json(&args);
        list["charts"]
            .as_array()
            .unwrap()
            .iter()
            .map(|one| one["chart"].as_str().unwrap().to_string())
            .collect()
    };
    // Kept through 30 June: the first day to destroy it is 1 July.
    assert_eq!(charts("due", &[]), ["PM-0003"]);
    assert_eq!(charts("due", &["--month", "2023-07"]), ["PM-0003", "PM-0004", "PM-0005"]);
    // One rule is known at second hand only: its day has passed, and a person has to look at it first.
    assert_eq!(charts("blocked", &[]), ["PM-0003"]);
    let words = room.ok(&["keep", "blocked"]);
    assert!(flat(&words).contains("must be read by a person first"), "{words}");
    let asked = room.run(&["dispose", "chart", "PM-0003"]);
    assert_eq!(asked.code(), 3, "{}", asked.all());
    assert!(asked.all().contains("--settled-because"), "{}", asked.all());
}
