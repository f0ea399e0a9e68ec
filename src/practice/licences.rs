//! Licences on the roster: how one stands on a day. Nothing is ever kept from being recorded for it; it is warned of
//! before, and labelled after.

use super::open::Practice;
use super::staff::newest_lines;
use crate::record::calendar::days_from;
use crate::record::kinds::register::Staff;
use crate::record::moment::Date;
use crate::trouble::Outcome;

/// How a licence stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Licence {
    /// It holds for longer than the rules want to be warned of; or there is none to run out.
    Holds,
    /// It ends within the days that the rules name; on this day.
    Ends(Date),
    /// It ended on this day.
    Over(Date),
}

/// How the licence of somebody on the roster stands on a day.
///
/// # Errors
/// When the adopted rules can't be used.
pub fn licence(practice: &Practice, line: &Staff, today: Date) -> Outcome<Licence> {
    let gone = line.on_roster_last_day.is_some_and(|last| last.0 < today);
    let Some(last) = line.licence_last_day.map(|day| day.0).filter(|_| !gone) else {
        return Ok(Licence::Holds);
    };
    if last < today {
        return Ok(Licence::Over(last));
    }
    let ahead = practice.rulebook()?.lists.licence_ahead_days;
    let soon = ahead.is_some_and(|days| last <= days_from(today, i64::from(days)));
    Ok(if soon { Licence::Ends(last) } else { Licence::Holds })
}

/// Everybody whose licence is over or about to end, with the day.
///
/// # Errors
/// As [`licence`].
pub fn running_out(practice: &Practice, today: Date) -> Outcome<Vec<(String, Licence)>> {
    let mut out = Vec::new();
    for line in practice.staff() {
        // Whoever has no keys signs nothing here.
        if !newest_lines(practice).any(|key| key.code == line.code) {
            continue;
        }
        match licence(practice, line, today)? {
            Licence::Holds => {}
            stands => out.push((line.code.clone(), stands)),
        }
    }
    Ok(out)
}
