//! Dates, moments, months and numbers as they are typed: what is read is printed so that it reads the same.

use inkfast::cli::clock::Now;
use inkfast::record::decimal::Decimal;
use inkfast::record::measured;
use inkfast::record::moment::{Moment, parse_date};
use inkfast::record::openings::Month;
use inkfast::record::reckon::instant::Instant;

/// Tries one input.
pub fn try_one(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let now = Now::fixed(Moment::parse("2025-03-11T09:40:00-04:00").unwrap());
    if let Ok(moment) = Moment::parse(text) {
        assert_eq!(Moment::parse(&moment.to_string()), Ok(moment), "{text}");
        assert_eq!(now.read_moment(text), Ok(moment));
    }
    if let Ok(moment) = now.read_moment(text) {
        assert_eq!(Moment::parse(&moment.to_string()), Ok(moment), "{text}");
    }
    if let Some(date) = parse_date(text) {
        assert_eq!(parse_date(&date.to_string()), Some(date), "{text}");
    }
    let _ = (now.read_date(text), Month::parse(text), Instant::parse(text));
    if let Ok(number) = text.parse::<Decimal>() {
        assert_eq!(number.to_string().parse(), Ok(number), "{text}");
    }
    if let Some((number, unit)) = measured::read(text) {
        let printed = format!("{number} {}", unit.clone().unwrap_or_default());
        assert_eq!(measured::read(printed.trim_end()), Some((number, unit)), "{text}");
    }
}
