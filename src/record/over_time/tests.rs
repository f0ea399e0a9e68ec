use super::*;
use crate::record::calendar::days_from;
use crate::record::kinds::KINDS;

fn day(text: &str) -> Date {
    parse_date(text).unwrap()
}

fn line(seq: u64, kind: &str, written: &str) -> Line {
    Line {
        seq,
        kind: kind.to_string(),
        written: Moment::parse(&format!("{written}:00-05:00")).unwrap(),
        read: None,
    }
}

fn late(mut line: Line, about: &str) -> Line {
    line.read = Some(Read { late: true, after: false, about: Some(day(about)) });
    line
}

fn year() -> Span {
    Span::year_of(day("2025-03-01"))
}

/// A practice that writes each day what happened that day, and puts one slip of the pen right.
fn honest() -> Vec<Line> {
    let mut lines = Vec::new();
    for at in 0..40 {
        let date = days_from(day("2025-01-06"), at);
        if matches!(date.weekday(), jiff::civil::Weekday::Saturday | jiff::civil::Weekday::Sunday) {
            continue;
        }
        for hour in [9, 11, 15] {
            lines.push(line(lines.len() as u64 + 1, "visit", &format!("{date}T{hour:02}:20")));
        }
        lines.push(line(lines.len() as u64 + 1, "day-close", &format!("{date}T18:00")));
    }
    lines
}

#[test]
fn every_kind_belongs_to_a_sort_and_only_the_register_is_outside_charts() {
    for info in KINDS {
        let register = group_of(info.word) == Group::Register;
        let outside = info.place == crate::record::kinds::Place::Nowhere;
        assert_eq!(register, outside, "{}", info.word);
    }
    assert_eq!(group_of("something-of-2040"), Group::Care);
}

#[test]
fn what_is_about_its_own_day_is_not_counted_as_written_afterwards() {
    let course = course(&honest(), &[4], year());
    assert_eq!(course.step, 1);
    assert_eq!(course.columns.len(), 365);
    assert_eq!(course.totals.past, [0; 3]);
    assert_eq!(course.totals.entries, honest().len() as u64);
    // 06 Jan 2025 is a Monday: three visits and the closing of the day.
    let first = &course.columns[course.column_of(day("2025-01-06"))];
    assert_eq!(first.groups, [3, 0, 0, 0, 1]);
    assert_eq!(first.hours, 1 << 9 | 1 << 11 | 1 << 15 | 1 << 18);
    assert_eq!(course.lanes[&Lane::Outside], [(day("2025-01-06"), 1)].into());
    assert!(course.gaps.is_empty(), "weekends are no gaps");
    assert!(course.busiest.is_empty());
}

#[test]
fn a_burst_before_a_notice_stands_out_with_how_far_it_reaches() {
    let mut lines = honest();
    for about in ["2025-01-07", "2025-01-08", "2025-01-09"] {
        lines.push(late(line(lines.len() as u64 + 1, "correction", "2025-03-03T22:10"), about));
    }
    lines.push(late(line(lines.len() as u64 + 1, "visit", "2025-03-03T22:40"), "2025-01-10"));
    lines.push(line(lines.len() as u64 + 1, "notice", "2025-03-05T09:00"));
    let course = course(&lines, &[], year());
    assert_eq!(course.totals.past, [3, 0, 1]);
    let burst = &course.columns[course.column_of(day("2025-03-03"))];
    assert_eq!((burst.afterwards(), burst.all(), burst.hours, burst.hours_past), (4, 4, 0, 1 << 22));
    assert_eq!(
        course.busiest,
        [Busy { day: day("2025-03-03"), entries: 4, farthest: Some(55), before_notice: Some(2) }]
    );
    assert_eq!(course.gaps, [Gap { from: day("2025-02-15"), until: day("2025-03-02") }]);
    assert_eq!(course.gaps[0].days(), 16);
}

#[test]
fn without_a_reading_key_kinds_still_tell_and_the_rest_is_said_to_be_unknown() {
    let lines = [line(1, "visit", "2025-03-03T22:10"), line(2, "correction", "2025-03-03T22:20")];
    let course = course(&lines, &[], year());
    assert_eq!(course.totals.past, [1, 0, 0]);
    assert_eq!(course.threads[0].about, None);
    assert_eq!(course.totals.not_read, 2);
    assert_eq!(course.busiest[0].farthest, None);
}

#[test]
fn a_practice_open_twice_a_week_has_no_gap_each_week_but_a_month_away_is_one() {
    let mut lines = Vec::new();
    for week in 0..20 {
        let monday = days_from(day("2025-01-06"), week * 7 + if week < 10 { 0 } else { 28 });
        for date in [monday, days_from(monday, 1)] {
            lines.push(line(lines.len() as u64 + 1, "visit", &format!("{date}T09:00")));
        }
    }
    let gaps = course(&lines, &[], year()).gaps;
    assert_eq!(gaps, [Gap { from: day("2025-03-12"), until: day("2025-04-13") }]);
}

/// Three times the usual pause is pointed out, and no less.
#[test]
fn one_week_away_is_no_gap_where_a_practice_is_open_twice_a_week() {
    let away = |days: i64| {
        let mut lines = Vec::new();
        for week in 0..12 {
            let monday = days_from(day("2025-01-06"), week * 7 + if week < 6 { 0 } else { days - 5 });
            for date in [monday, days_from(monday, 1)] {
                lines.push(line(lines.len() as u64 + 1, "visit", &format!("{date}T09:00")));
            }
        }
        course(&lines, &[], year()).gaps.iter().map(|gap| gap.days()).collect::<Vec<_>>()
    };
    assert_eq!([away(5), away(12), away(14), away(15)], [vec![], vec![], vec![], vec![15]]);
}

#[test]
fn some_kinds_say_openly_that_they_are_about_an_earlier_day() {
    let of = |kind: &str| line(1, kind, "2025-03-03T10:00").past();
    assert_eq!([of("correction"), of("misfiled")], [Some(Past::Correction); 2]);
    assert_eq!([of("addendum"), of("late-entry")], [Some(Past::Addendum), Some(Past::Late)]);
    assert_eq!([of("visit"), of("consent"), of("amendment-request")], [None; 3]);
}

#[test]
fn a_clock_that_ran_backwards_is_marked_on_its_day() {
    let lines = [line(1, "visit", "2025-03-03T10:00"), line(2, "visit", "2025-03-03T09:00")];
    assert_eq!(course(&lines, &[], year()).lanes[&Lane::Clock], [(day("2025-03-03"), 1)].into());
}

#[test]
fn several_years_are_counted_in_weeks_and_lose_nothing() {
    let span = Span { from: day("2022-01-01"), until: day("2026-12-31") };
    let course = course(&honest(), &[], span);
    assert_eq!(course.step, 7);
    assert_eq!(course.columns.len(), 261);
    let sum: u32 = course.columns.iter().map(Column::all).sum();
    assert_eq!(u64::from(sum), course.totals.entries);
    let months: u32 = course.months.values().map(Column::all).sum();
    assert_eq!(months, sum);
}

#[test]
fn a_month_and_a_year_are_read_whole() {
    let days = |span: Option<Span>| span.map(|s| (s.from.to_string(), s.until.to_string()));
    let of = |from: &str, until: &str| Some((from.to_string(), until.to_string()));
    assert_eq!(days(Span::read_month(" 2024-02 ")), of("2024-02-01", "2024-02-29"));
    assert_eq!(days(Span::read_year("2025")), of("2025-01-01", "2025-12-31"));
    assert!(Span::read_month("2025-13").is_none() && Span::read_year("25").is_none());
}

/// The sorts as they are described: care, what was agreed, the desk, openings, and the register itself.
#[test]
fn a_kind_belongs_to_the_sort_that_describes_it() {
    for (sort, kinds) in [
        (
            Group::Care,
            &["visit-opened", "visit", "screen", "measure", "reaction", "attachment", "correction"][..],
        ),
        (Group::Agreed, &["consent", "asked", "own-answer", "standing-refusal", "withdrawal", "pause"]),
        (Group::Desk, &["identity-changed", "contact", "request", "release", "hold", "notice", "misfiled"]),
        (Group::Openings, &["access"]),
        (Group::Register, &["day-close", "keys", "staff", "rules", "safe-copy", "file-kept", "clock-remark"]),
    ] {
        for kind in kinds {
            assert!(KINDS.iter().any(|row| row.word == *kind), "{kind}");
            assert_eq!(line(1, kind, "2025-03-03T10:00").group(), sort, "{kind}");
            // Only what lies in a chart can be late.
            assert_eq!(may_be_late(kind), !matches!(sort, Group::Openings | Group::Register), "{kind}");
        }
    }
}

#[test]
fn what_is_marked_on_a_day_is_told_by_its_kind() {
    for (lane, kinds) in [
        (Some(Lane::Notice), &["notice", "hold", "hold-lifted"][..]),
        (Some(Lane::Request), &["request", "amendment-request"]),
        (Some(Lane::Closed), &["day-close"]),
        (Some(Lane::Copy), &["safe-copy"]),
        (Some(Lane::Clock), &["clock-remark"]),
        (Some(Lane::Destroyed), &["chart-disposed"]),
        (None, &["visit", "release", "amendment-decision", "disposal", "access"]),
    ] {
        for kind in kinds {
            assert!(KINDS.iter().any(|row| row.word == *kind), "{kind}");
            assert_eq!(line(1, kind, "2025-03-03T10:00").lane(), lane, "{kind}");
        }
    }
}

#[test]
fn a_span_holds_its_first_and_its_last_day() {
    let span = Span::month_of(day("2025-02-14"));
    let held = ["2025-01-31", "2025-02-01", "2025-02-28", "2025-03-01"].map(|text| span.holds(day(text)));
    assert_eq!(held, [false, true, true, false]);
    assert_eq!([month_word(day("2025-03-31")), month_word(day("0987-12-01"))], ["2025-03", "0987-12"]);
    let lines = [line(1, "visit", "2025-02-28T23:59"), line(2, "visit", "2025-03-01T00:00")];
    assert_eq!(course(&lines, &[], span).totals.entries, 1);
    assert_eq!(course(&lines, &[], span).columns.len(), 28);
}

/// A page has room for about a year of days: 400 of them.
#[test]
fn beyond_four_hundred_days_columns_are_weeks() {
    let span = |days: i64| Span { from: day("2025-01-01"), until: days_from(day("2025-01-01"), days - 1) };
    let shape = |days: i64| {
        let course = course(&[], &[], span(days));
        (course.step, course.columns.len())
    };
    assert_eq!([shape(1), shape(400)], [(1, 1), (1, 400)]);
    assert_eq!([shape(401), shape(406), shape(407)], [(7, 58), (7, 58), (7, 59)]);
    let course = course(&[], &[], span(407));
    for (of, column) in [
        ("2024-12-01", 0),
        ("2025-01-01", 0),
        ("2025-01-07", 0),
        ("2025-01-08", 1),
        ("2026-02-11", 58),
        ("2030-01-01", 58),
    ] {
        assert_eq!(course.column_of(day(of)), column, "{of}");
    }
    assert_eq!([course.first_day(0), course.first_day(3)], [day("2025-01-01"), day("2025-01-22")]);
}

#[test]
fn marks_are_counted_from_a_day_to_a_day() {
    let kinds = [("notice", "03"), ("request", "03"), ("hold", "03"), ("hold", "05"), ("hold-lifted", "07")];
    let lines: Vec<Line> =
        (1..).zip(kinds).map(|(seq, (kind, of))| line(seq, kind, &format!("2025-03-{of}T10:00"))).collect();
    let course = course(&lines, &[1, 2], year());
    let march = |from: u32, until: u32| {
        course.marks(Lane::Notice, day(&format!("2025-03-{from:02}")), day(&format!("2025-03-{until:02}")))
    };
    assert_eq!([march(1, 31), march(3, 3), march(3, 5), march(4, 4), march(5, 7)], [4, 2, 3, 0, 2]);
    assert_eq!(course.marks(Lane::Outside, day("2025-01-01"), day("2025-12-31")), 2);
    assert_eq!(course.marks(Lane::Copy, day("2025-01-01"), day("2025-12-31")), 0);
}

/// The same moment twice is no clock that ran backwards; and what a label says is counted, column by column.
#[test]
fn what_was_written_after_a_notice_is_counted_and_what_was_not_read_is_said() {
    let after = |seq: u64, at: &str| {
        let read = Some(Read { late: false, after: true, about: None });
        Line { read, ..line(seq, "visit", at) }
    };
    let lines = [
        after(1, "2025-03-03T10:00"),
        after(2, "2025-03-03T10:00"),
        after(3, "2025-03-04T10:00"),
        late(line(4, "visit", "2025-03-04T10:05"), "2025-03-01"),
        late(line(5, "addendum", "2025-03-04T10:06"), "2025-03-01"),
        line(6, "visit", "2025-03-04T10:10"),
        line(7, "consent", "2025-03-04T10:20"),
        line(8, "access", "2025-03-04T10:30"),
        line(9, "day-close", "2025-03-04T18:00"),
    ];
    let course = course(&lines, &[], year());
    let columns = ["2025-03-03", "2025-03-04"].map(|of| course.columns[course.column_of(day(of))].clone());
    assert_eq!([columns[0].after, columns[1].after], [2, 1]);
    assert_eq!([columns[0].all(), columns[1].all(), columns[1].afterwards()], [2, 7, 2]);
    assert_eq!((columns[1].hours, columns[1].hours_past), (1 << 10 | 1 << 18, 1 << 10));
    assert_eq!(course.totals, Totals { entries: 9, days: 2, past: [0, 1, 1], after: 3, not_read: 2 });
    assert!(!course.lanes.contains_key(&Lane::Clock));
}

/// The usual pause is the middle one, not the shortest.
#[test]
fn pauses_are_held_against_the_usual_one() {
    let gaps = |pauses: &[i64]| {
        let mut at = day("2025-01-06");
        let mut lines = vec![line(1, "visit", &format!("{at}T09:00"))];
        for pause in pauses {
            at = days_from(at, pause + 1);
            lines.push(line(lines.len() as u64 + 1, "visit", &format!("{at}T09:00")));
        }
        course(&lines, &[], year()).gaps.iter().map(|gap| gap.days()).collect::<Vec<_>>()
    };
    assert_eq!(gaps(&[6, 2, 6, 17, 6, 6]), Vec::<i64>::new());
    assert_eq!(gaps(&[6, 2, 6, 18, 6, 6]), [18]);
    // Of three pauses none is the usual one; four and five days: a long weekend is no gap.
    assert_eq!(gaps(&[6, 6, 6]), [6, 6, 6]);
    assert_eq!(gaps(&[4, 5, 4]), [5]);
}

/// That a hold was lifted is no notice.
#[test]
fn a_busy_day_is_held_against_the_next_notice() {
    let burst = late(line(1, "visit", "2025-03-03T22:40"), "2025-01-10");
    let then = |kind: &str, at: &str| {
        course(&[burst.clone(), line(2, kind, at)], &[], year()).busiest[0].before_notice
    };
    for kind in ["notice", "hold", "request", "amendment-request"] {
        assert_eq!(then(kind, "2025-03-05T09:00"), Some(2), "{kind}");
    }
    assert_eq!([then("hold-lifted", "2025-03-05T09:00"), then("visit", "2025-03-05T09:00")], [None; 2]);
    assert_eq!(then("notice", "2025-03-03T23:00"), Some(0));
    let before = [line(1, "notice", "2025-03-01T09:00"), Line { seq: 2, ..burst.clone() }];
    assert_eq!(course(&before, &[], year()).busiest[0].before_notice, None);
}
