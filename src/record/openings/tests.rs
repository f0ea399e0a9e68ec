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

/// S49 of the trade's situations, who looked and for what reason: told so that a person can ask about it.
#[test]
fn what_stands_out_is_said_with_who_when_and_why() {
    let book = RuleBook::example().unwrap();
    let measure = Measure { questions: &book.questions, open_days: None };
    let said = |openings: &[Opening], id: FindingId| -> String {
        let found = findings(openings, measure);
        let one = found.iter().find(|f| f.id == id).unwrap_or_else(|| panic!("{id}: {found:?}"));
        assert_eq!((one.by.as_str(), one.charts[0].as_str()), ("DS", "PM-1"));
        assert_eq!(one.remedy, id.remedy());
        one.words.clone()
    };
    let visited = Opening { with_visit: true, ..opening(1, "2025-02-04T10:00:00-05:00", "DS", "PM-1") };
    let near = |near| [Opening { near: Some(near), ..visited.clone() }];
    let own = said(&near(Near::Own), FindingId::OwnChart);
    assert_eq!(own, "DS opened PM-1, which is their own chart. 04 Feb 2025 10:00 (billing: address)");
    let relative = said(&near(Near::Relative("the same family name".into())), FindingId::RelativesChart);
    assert!(
        relative.starts_with("DS opened PM-1, perhaps of a relative: the same family name. "),
        "{relative}"
    );
    let unvisited = opening(1, "2025-02-04T10:00:00-05:00", "DS", "PM-1");
    let colleague = Opening { near: Some(Near::Colleague), ..unvisited.clone() };
    let later =
        Opening { entry: 2, at: Moment::parse("2025-02-04T10:30:00-05:00").unwrap(), ..colleague.clone() };
    let words = said(&[colleague, later], FindingId::ColleaguesChart);
    assert!(words.starts_with("DS opened PM-1 2 times, the chart of somebody who works here. "), "{words}");
    assert!(words.ends_with("10:00 (billing: address); 04 Feb 2025 10:30 (billing: address)"), "{words}");
    let noticed = Opening { after_notice: true, printed: true, ..unvisited.clone() };
    let words = said(&[noticed], FindingId::OpenedAfterNotice);
    assert!(words.starts_with("DS opened PM-1 after a notice or hold, with no visit that day. "), "{words}");
    assert!(words.ends_with("(billing: address), printed"), "{words}");
    let taken = Opening { exported: true, why: None, words: None, ..unvisited };
    let words = said(&[taken], FindingId::OpenedWithoutVisit);
    assert!(words.starts_with("DS opened PM-1 with no visit or contact of theirs that day. "), "{words}");
    assert!(words.ends_with("(not opened to you), taken out"), "{words}");
    let late = Opening { at: Moment::parse("2025-02-04T20:01:00-05:00").unwrap(), ..visited };
    let words = said(&[late], FindingId::OpenedOutsideHours);
    assert!(words.starts_with("DS opened PM-1 while the practice is closed. "), "{words}");
    let six: Vec<Opening> = (1..=6)
        .map(|n| opening(n, &format!("2025-02-04T10:0{n}:00-05:00"), "DS", &format!("PM-{n}")))
        .collect();
    let words = said(&six, FindingId::ManyCharts);
    let head = "DS opened 6 charts one after the other, 04 Feb 2025 10:01 to 10:06: PM-1, PM-2, ";
    assert!(words.starts_with(head), "{words}");
}

/// Each has something to do about it, and no two the same.
#[test]
fn every_finding_says_what_to_do() {
    let remedies: BTreeSet<&str> = FindingId::ALL.iter().map(|id| id.remedy()).collect();
    assert_eq!(remedies.len(), FindingId::ALL.len());
    assert!(remedies.iter().all(|r| r.len() > 20 && r.ends_with(['.', '?'])), "{remedies:?}");
}

/// The example makes it serious from 3 days of a month; three times on one day are one day.
#[test]
fn often_is_counted_in_days() {
    let on = |days: &[&str]| {
        let all: Vec<Opening> = days
            .iter()
            .zip(1..)
            .map(|(day, n)| opening(n, &format!("2025-02-{day}:00-05:00"), "DS", "PM-1"))
            .collect();
        found(&all)[0].0.clone()
    };
    assert_eq!(on(&["04T09:00", "05T09:00", "06T09:00"]), "opened-often/DS/PM-1");
    assert_eq!(on(&["04T09:00", "05T09:00"]), "opened-without-visit/DS/PM-1");
    assert_eq!(on(&["04T09:00", "04T12:00", "04T15:00"]), "opened-without-visit/DS/PM-1");
}

/// What is to be looked at first stands first.
#[test]
fn what_matters_most_comes_first() {
    let own = Opening { near: Some(Near::Own), ..opening(2, "2025-02-04T10:00:00-05:00", "DS", "PM-2") };
    let all = [opening(1, "2025-02-04T10:00:00-05:00", "DS", "PM-1"), own];
    let keys: Vec<String> = found(&all).into_iter().map(|(key, _)| key).collect();
    assert_eq!(keys, ["own-chart/DS/PM-2", "opened-without-visit/DS/PM-1", "opened-without-visit/DS/PM-2"]);
}

/// Hours that do not begin on the hour: both ends belong to them.
#[test]
fn opening_hours_are_read_to_the_minute() {
    let mut book = RuleBook::example().unwrap();
    (book.questions.open_from, book.questions.open_until) = ("07:30".into(), "18:45".into());
    let closed = |time: &str, open_days| {
        let at = Moment::parse(&format!("2025-02-04T{time}:00-05:00")).unwrap();
        is_closed(at, Measure { questions: &book.questions, open_days })
    };
    for (time, is) in [("07:29", true), ("07:30", false), ("12:00", false), ("18:45", false), ("18:46", true)]
    {
        assert_eq!(closed(time, None), is, "{time}");
    }
    // 4 February 2025 was a Tuesday.
    assert!(closed("12:00", Some([true, false, true, true, true, true, true])));
    assert!(!closed("12:00", Some([false, true, false, false, false, false, false])));
}

/// The example asks from 6 charts in 10 minutes, without visits, by one person.
#[test]
fn a_run_of_charts_is_of_one_person_and_ends_with_a_pause() {
    let at = |entry: u64, minute: u64, by: &str, chart: u64| {
        opening(
            entry,
            &format!("2025-02-04T{:02}:{:02}:00-05:00", 9 + minute / 60, minute % 60),
            by,
            &format!("PM-{chart}"),
        )
    };
    let runs = |all: &[Opening]| -> Vec<(String, Vec<u64>)> {
        found(all).into_iter().filter(|(key, _)| key.starts_with("many")).collect()
    };
    let each = |minutes: &[u64]| -> Vec<Opening> {
        minutes.iter().zip(1..).map(|(minute, n)| at(n, *minute, "DS", n)).collect()
    };
    let run = |key: &str, entries: std::ops::RangeInclusive<u64>| {
        (format!("many-charts/DS/{key}"), entries.collect::<Vec<_>>())
    };
    // The tenth minute still belongs to the ten.
    assert_eq!(runs(&each(&[0, 0, 0, 0, 0, 10])), [run("1", 1..=6)]);
    assert_eq!(runs(&each(&[0, 0, 0, 0, 0, 11])), []);
    // Two tasks, two hours apart, with nothing between them; and with one chart by itself between them.
    let apart = each(&[0, 1, 2, 3, 4, 5, 120, 121, 122, 123, 124, 125]);
    assert_eq!(runs(&apart), [run("1", 1..=6), run("7", 7..=12)]);
    let single = each(&[0, 1, 2, 3, 4, 5, 12, 20, 21, 22, 23, 24, 25]);
    assert_eq!(runs(&single), [run("1", 1..=6), run("8", 8..=13)]);
    // Six openings of one chart are one chart; charts of patients who are there are work.
    let same: Vec<Opening> = (1..=6).map(|n| at(n, n, "DS", 1)).collect();
    assert_eq!(runs(&same), []);
    let mut there = each(&[0, 1, 2, 3, 4, 5]);
    there[3].with_visit = true;
    assert_eq!(runs(&there), []);
    // Two people, three charts each.
    let two: Vec<Opening> = (1..=6).map(|n| at(n, n, if n % 2 == 0 { "DS" } else { "IV" }, n)).collect();
    assert_eq!(runs(&two), []);
    // In the order of their times, however they are listed.
    let mut mixed = each(&[0, 1, 2, 3, 4, 5]);
    mixed.reverse();
    assert_eq!(runs(&mixed), [run("1", 1..=6)]);
}
