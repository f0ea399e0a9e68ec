//! What stands out among openings. That activity is to be reviewed regularly: 45 CFR 164.308(a)(1)(ii)(D); what is
//! asked about is the practice's own choice.

use super::*;
use crate::record::moment::parse_date;
use crate::record::rulebook::RuleBook;

fn opening(entry: u64, at: &str, by: &str, chart: &str) -> Opening {
    Opening {
        entry,
        at: Moment::parse(at).unwrap(),
        by: by.into(),
        chart: chart.into(),
        why: Some(AccessWhy::Billing),
        words: Some("address".into()),
        opened: Some(Opened::WhoAndWhen),
        printed: false,
        exported: false,
        with_visit: false,
        after_notice: false,
        near: None,
    }
}

fn found(openings: &[Opening]) -> Vec<(String, Vec<u64>)> {
    let book = RuleBook::example().unwrap();
    let open_days = Some([true, true, true, true, true, false, false]);
    let measure = Measure { questions: &book.questions, open_days };
    findings(openings, measure).into_iter().map(|f| (f.key, f.entries)).collect()
}

#[test]
fn a_visit_or_contact_that_day_is_reason_enough() {
    let mut one = opening(7, "2025-02-04T10:00:00-05:00", "DS", "PM-1");
    assert_eq!(found(&[one.clone()]), [("opened-without-visit/DS/PM-1".to_string(), vec![7])]);
    one.with_visit = true;
    one.near = Some(Near::Colleague);
    one.after_notice = true;
    assert_eq!(found(&[one]), []);
}

#[test]
fn the_same_chart_on_many_days_is_looked_at_first() {
    // Four evenings in four weeks, each with a reason of a word or two.
    let all: Vec<Opening> = ["2025-02-04", "2025-02-11", "2025-02-18", "2025-02-25"]
        .iter()
        .zip(1..)
        .map(|(day, n)| opening(n, &format!("{day}T18:30:00-05:00"), "DS", "PM-1"))
        .collect();
    assert_eq!(found(&all), [("opened-often/DS/PM-1".to_string(), vec![1, 2, 3, 4])]);
    assert_eq!(found(&all[..2])[0].0, "opened-without-visit/DS/PM-1");
    let book = RuleBook::example().unwrap();
    let measure = Measure { questions: &book.questions, open_days: None };
    let one = &findings(&all, measure)[0];
    assert_eq!(one.severity, Severity::First);
    assert!(one.words.contains("4 times") && one.words.contains("04 Feb 2025 18:30 (billing: address)"));
}

#[test]
fn closed_hours_and_closed_days_stand_out() {
    let at = |at: &str| {
        let mut one = opening(1, at, "DS", "PM-1");
        one.with_visit = true;
        found(&[one]).len()
    };
    // The example is open 07:00 to 20:00; 8 February 2025 was a Saturday.
    assert_eq!(at("2025-02-04T07:00:00-05:00"), 0);
    assert_eq!(at("2025-02-04T06:59:00-05:00"), 1);
    assert_eq!(at("2025-02-04T20:00:00-05:00"), 0);
    assert_eq!(at("2025-02-04T20:01:00-05:00"), 1);
    assert_eq!(at("2025-02-08T10:00:00-05:00"), 1);
}

#[test]
fn many_charts_in_few_minutes_are_one_thing_to_ask_about() {
    let run = |charts: u64, every: u64| -> Vec<String> {
        let all: Vec<Opening> = (0..charts)
            .map(|n| {
                let (h, m) = (9 + n * every / 60, n * every % 60);
                opening(n + 1, &format!("2025-02-04T{h:02}:{m:02}:00-05:00"), "DS", &format!("PM-{n}"))
            })
            .collect();
        found(&all).into_iter().map(|(key, _)| key).filter(|key| key.starts_with("many")).collect()
    };
    // The example asks from 6 charts in 10 minutes.
    assert_eq!(run(6, 2), ["many-charts/DS/1"]);
    assert_eq!(run(5, 2), Vec::<String>::new());
    assert_eq!(run(6, 3), Vec::<String>::new());
    assert_eq!(run(20, 2), ["many-charts/DS/1"]);
}

#[test]
fn names_tell_who_may_be_near() {
    let text = |names: &[&str]| names.iter().map(|n| (*n).to_string()).collect::<Vec<_>>();
    let staff = text(&["Dain Strand", "Hattie Lorch"]);
    let is = |patient: &[&str], others: &[&str]| near("Dain  Strand", &text(patient), &text(others), &staff);
    assert_eq!(is(&["dain strand"], &[]), Some(Near::Own));
    assert!(matches!(is(&["Odo Marsh"], &["Dain Strand"]), Some(Near::Relative(_))));
    assert!(matches!(is(&["Mia Strand"], &[]), Some(Near::Relative(_))));
    assert_eq!(is(&["Hattie Lorch"], &[]), Some(Near::Colleague));
    assert_eq!(is(&["Odo Marsh"], &[]), None);
}

#[test]
fn a_month_is_over_the_day_after_its_last() {
    let month = Month::parse("2024-02").unwrap();
    assert_eq!(month.to_string(), "2024-02");
    assert_eq!(month.days().1, Day(parse_date("2024-02-29").unwrap()));
    assert!(!month.is_over(parse_date("2024-02-29").unwrap()));
    assert!(month.is_over(parse_date("2024-03-01").unwrap()));
    assert_eq!(Month::parse("2024-13"), None);
}
