//! Checks on the scenario as data, and one whole build.

use super::closes::{Tally, counted};
use super::*;
use crate::record::envelope::{Meaning, Person, Record, Signature};
use crate::record::kinds::{Level, Problem};
use jiff::civil::Weekday;
use std::collections::BTreeSet;

/// All events with the names known before each, and the number each would have.
fn numbered() -> Vec<(Event, Names)> {
    let mut names = Names::new();
    let mut all = Vec::new();
    for (event, number) in events().unwrap().into_iter().zip(4u64..) {
        all.push((event.clone(), names.clone()));
        if let Some(name) = &event.name {
            assert!(names.insert(name.clone(), number).is_none(), "two events are called {name}");
        }
    }
    all
}

fn data_of(event: &Event, names: &Names) -> Result<Option<Data>, DemoError> {
    Ok(match event.act {
        Act::RetireStaff => {
            serde_json::from_value::<Leaver>(event.data.clone()).unwrap();
            None
        }
        Act::Dispose => {
            serde_json::from_value::<super::Destroyed>(event.data.clone()).unwrap();
            return Ok(None);
        }
        Act::DayClose => {
            let tally = Tally {
                last: 9,
                first: Some(4),
                by_kind: [("visit".into(), 6)].into(),
                slip_words: "9:AAAA".into(),
            };
            Some(counted(&event.data, &tally).unwrap().into())
        }
        _ => Some(event.read(names)?),
    })
}

fn record_of(event: &Event, data: &Data) -> Record {
    let person = Person { code: event.by.clone(), name: "A person".into(), role: "staff".into() };
    Record {
        kind: data.kind().to_string(),
        edition: data.edition(),
        ledger: "ledger-0".into(),
        chart: event.chart.clone(),
        happened: event.happened(),
        written: event.at,
        station: event.station.clone(),
        signed: Signature {
            by: person.code.clone(),
            name: person.name.clone(),
            role: person.role.clone(),
            at: event.at,
            meaning: Meaning::Wrote,
        },
        author: person,
        entered_by: None,
        second: None,
        labels: event.labels.clone(),
        refers: Vec::new(),
        data: data.to_value().unwrap(),
    }
}

#[test]
fn every_event_reads_and_validates() {
    let mut refused = Vec::new();
    for (event, names) in numbered() {
        event.references(&names).unwrap();
        let data = match data_of(&event, &names) {
            Ok(Some(data)) => data,
            Ok(None) => continue,
            Err(error) => {
                refused.push(error.to_string());
                continue;
            }
        };
        assert!(!matches!(data, Data::Unknown { .. }), "{} is no kind", event.kind);
        assert_eq!(data.kind(), event.kind);
        let problems: Vec<Problem> = data.validate(&record_of(&event, &data));
        for problem in problems.iter().filter(|p| p.level == Level::Refuse) {
            refused.push(format!("{} {} {}: {}", event.at, event.kind, problem.field, problem.text));
        }
    }
    assert!(refused.is_empty(), "{}", refused.join("\n"));
}

#[test]
fn charts_are_opened_before_they_are_used() {
    let mut open = BTreeSet::new();
    for event in events().unwrap() {
        if event.act == Act::OpenChart {
            assert_eq!(event.data["chart_no"].as_str(), event.chart.as_deref());
            assert!(open.insert(event.chart.clone()), "{:?} opened twice", event.chart);
        } else if event.chart.is_some() {
            assert!(open.contains(&event.chart), "{:?} used before it is open", event.chart);
        }
    }
    assert_eq!(open.len(), 19);
}

#[test]
fn days_and_hours_are_those_of_the_practice() {
    for event in events().unwrap() {
        let day = event.at.local_date();
        assert!(
            !matches!(day.weekday(), Weekday::Saturday | Weekday::Sunday),
            "{} is no working day",
            event.at
        );
        let (hour, _) = event.at.local_time();
        assert!((8..19).contains(&hour), "{} is outside the opening hours", event.at);
        assert!(on_roster(&event.by, day), "{} is not on the roster on {day}", event.by);
        let offset = filler::at_for_tests(day).offset_seconds();
        assert_eq!(event.at.offset_seconds(), offset, "{} is written with another offset", event.at);
    }
}

#[test]
fn writing_times_run_backwards_only_by_the_wrong_clock() {
    let all = events().unwrap();
    let back: Vec<_> = all.windows(2).filter(|w| w[1].at < w[0].at).map(|w| w[1].clone()).collect();
    assert_eq!(back.len(), 1);
    assert_eq!(back[0].name.as_deref(), Some("clk-1"));
}

#[test]
fn the_filler_is_the_same_for_the_same_seed_and_large_enough() {
    let (one, two) = (filler::events(filler::SEED), filler::events(filler::SEED));
    assert_eq!(one, two);
    assert_ne!(one, filler::events(1));
    let visits = one.iter().filter(|e| e.kind == "visit").count();
    assert!(visits >= 120, "{visits} ordinary visits");
}

#[test]
fn ordinary_visits_stay_inside_their_consents() {
    let (mut consents, mut checked) = (HashMap::new(), 0);
    for event in events().unwrap() {
        if let ("consent", Some(name)) = (event.kind.as_str(), &event.name) {
            consents.insert(format!("@{name}"), event.clone());
        }
        let ordinary = event.name.as_deref().is_some_and(|name| name.starts_with("fn-"));
        if !ordinary {
            continue;
        }
        for line in event.data["procedures"].as_array().unwrap() {
            let consent = &consents[line["consent"].as_str().unwrap()];
            assert_eq!(consent.chart, event.chart);
            let day = event.at.local_date().to_string();
            assert!(consent.data["valid_until"].as_str().unwrap() >= day.as_str(), "{} {day}", event.at);
            let region = crate::record::vocab::Region::from_word(line["region"].as_str().unwrap()).unwrap();
            let agreed = consent.data["regions"].as_array().unwrap();
            let within = |r: &Value| {
                region.is_within(crate::record::vocab::Region::from_word(r.as_str().unwrap()).unwrap())
            };
            assert!(agreed.iter().any(within), "{} {region}", event.at);
            assert!(
                consent.data["techniques"].as_array().unwrap().contains(&line["technique"]),
                "{}",
                event.at
            );
            if line["technique"] == "thrust" {
                assert!(line["asked"].is_string(), "{}", event.at);
            }
            checked += 1;
        }
    }
    assert!(checked > 150);
}

#[test]
fn no_two_running_visits_of_a_chart_have_the_same_numbers() {
    let mut last: HashMap<String, Value> = HashMap::new();
    for event in filler::events(filler::SEED).iter().filter(|e| e.kind == "measure") {
        let chart = event.chart.clone().unwrap();
        let now = event.data["measures"].clone();
        assert_ne!(last.insert(chart, now.clone()), Some(now), "{}", event.at);
    }
}

#[test]
fn drafts_left_open_are_counted_at_the_close() {
    let closes: HashMap<String, u64> = events()
        .unwrap()
        .iter()
        .filter(|e| e.act == Act::DayClose)
        .map(|e| (e.data["day"].as_str().unwrap().to_string(), e.data["unfinished"].as_u64().unwrap()))
        .collect();
    assert_eq!(closes["2024-08-26"], 1);
    assert_eq!(closes["2024-08-27"], 2);
    assert_eq!(closes["2024-08-30"], 0);
    assert_eq!(closes["2022-10-03"], 0);
}

#[test]
fn highlights_point_to_entries_that_exist() {
    let names: BTreeSet<String> = events().unwrap().into_iter().filter_map(|e| e.name).collect();
    let moments = highlights::moments();
    assert!(moments.windows(2).all(|w| w[0].at <= w[1].at));
    for moment in &moments {
        assert!(moment.entries.iter().all(|name| names.contains(*name)), "{}", moment.title);
        assert_ne!(moment.at, Moment::EPOCH);
    }
    assert!(moments.iter().filter(|m| m.question.is_some()).count() >= 6);
}

#[test]
fn the_whole_practice_is_built() {
    use crate::world::{SetClock, World};
    let dir = tempfile::tempdir().unwrap();
    let clock = std::sync::Arc::new(SetClock::new(Moment::EPOCH));
    let world = World::with_clock(clock.clone());
    let root = dir.path().join("store");
    let outside = dir.path().join("outside").to_string_lossy().into_owned();
    let mut said = 0;
    let built = run::build(&world, &clock, &root, Some(outside), &mut |step| {
        said += usize::from(matches!(step, run::Step::Say(_)));
    })
    .unwrap_or_else(|trouble| panic!("{trouble}"));
    assert!(said > 10);
    assert_eq!(built.charts.len(), 19);
    assert_eq!(built.packages.len(), 7);
    let stories = highlights::highlights(&built);
    assert!(stories.iter().all(|m| m.numbers.len() == m.entries.len()));
    let correction = built.practice.entry_by_seq(built.names["corr-130"]).unwrap();
    match correction.data() {
        Some(Data::Correction(data)) => assert_eq!(data.target, built.names["n-130-1"]),
        _ => panic!("the correction is not one"),
    }
    assert!(built.practice.scan().damage.is_empty());
    let labels = |name: &str| built.practice.entry_by_seq(built.names[name]).unwrap().record.unwrap().labels;
    assert_eq!(labels("n-133-2"), vec![Label::FinishedNextDay]);
    assert_eq!(labels("n-139-4"), vec![Label::LateEntry]);
    assert_eq!(labels("clk-1"), vec![Label::ClockBehind]);
    assert_eq!(labels("n-130-5"), vec![Label::ReEntered]);
    assert_eq!(labels("add-141"), vec![Label::InterpreterMissing]);
    for moment in &stories {
        let Some(question) = &moment.question else { continue };
        let tag = &built.charts[moment.chart_no.unwrap()];
        let (_, answer) = crate::practice::facts::ask(&built.practice, tag, &question.ask).unwrap();
        assert_eq!(answer.answer, question.expect, "{}: {:?}", moment.title, answer.reasons);
    }
    procedures_were_covered(&built);
}

/// Asks, for every procedure of every note, whether it was covered at its own minute.
fn procedures_were_covered(built: &run::Built) {
    use crate::practice::facts::{Ask, gather};
    use crate::record::coverage::answer::Verdict;
    use crate::record::coverage::facts::{Request, RequestedSide};
    let (register, mut uncovered, mut asked) = (built.practice.register().unwrap(), Vec::new(), 0);
    for (chart_no, tag) in &built.charts {
        let chart = built.practice.chart(tag).unwrap();
        for entry in &chart {
            let Some(Data::Visit(note)) = entry.data() else { continue };
            if Some(&entry.leaf.seq) == built.names.get("n-wrong") || chart_no == "PM-0141" {
                continue;
            }
            for line in &note.procedures {
                let request = Request {
                    technique: line.technique,
                    region: line.region,
                    side: line.side.map_or(RequestedSide::NotStated, RequestedSide::from),
                    segments: line.segments.clone(),
                    practitioner_id: line.done_by.clone(),
                    glove_material: line.gloves.as_ref().map(|g| g.material),
                    position: line.position.clone(),
                    products: Vec::new(),
                    sequence_no: None,
                };
                let put = Ask { request, now: line.at, reads_at: built.practice.now() };
                let facts = gather(&chart, &register, &put).unwrap();
                let answer = crate::record::coverage::answer(&facts);
                asked += 1;
                if answer.answer != Verdict::Yes {
                    let why: Vec<_> =
                        answer.reasons.iter().map(|r| format!("{:?} {}", r.rule, r.text)).collect();
                    uncovered.push(format!("{chart_no} {} {}: {}", line.at, line.technique, why.join("; ")));
                }
            }
        }
    }
    // The side in this note is the slip of the pen that is corrected on the next day.
    uncovered.retain(|line| !line.starts_with("PM-0130 2023-05-08T09:17"));
    assert!(uncovered.is_empty(), "{}", uncovered.join("\n"));
    assert!(asked > 300, "{asked} procedures");
}
