//! An account of disclosures: what is told, what is left out and why, and what it can't say.

use super::{Disclosed, Read, ToLookAt, basis, disclosures, earlier_requests, open_request, to_look_at};
use crate::record::calendar::Holidays;
use crate::record::kinds::common::Day;
use crate::record::moment::Date;
use crate::record::reckon::accounting::{Disclosure, Group, Window, answer, groups, is_free, window};
use crate::record::reckon::deadlines;
use crate::record::tables::Tables;
use crate::record::tables::clocks::{Clock, ClockRequest};
use crate::record::tables::disclosure::{AccountingTable, KindClass};
use schemars::JsonSchema;
use serde::Serialize;
use serde_json::json;

/// What was asked.
#[derive(Debug, Clone, Default)]
pub struct Asked {
    /// The day it was asked for; without it, that of the newest request that is open, else today.
    pub asked_on: Option<Date>,
    /// A later first day.
    pub from: Option<Date>,
    /// An earlier last day.
    pub until: Option<Date>,
    /// Number of the request.
    pub request: Option<u64>,
}

/// An account of disclosures.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Account {
    /// Number of the chart.
    pub chart: String,
    /// Numbers of the other charts of the same person that it covers.
    pub other_charts: Vec<String>,
    /// Number of the request it answers; null where none is kept.
    pub request: Option<u64>,
    /// The day it was asked for.
    pub asked_on: Day,
    /// First day it covers.
    pub from: Day,
    /// Last day it covers.
    pub until: Day,
    /// The rule it goes by: its name, and where it is published.
    pub rule: String,
    /// Last day to give it, before any extension.
    pub due: Day,
    /// What is told.
    pub lines: Vec<AccountLine>,
    /// What is left out by its kind, and why.
    pub not_counted: Vec<NotCounted>,
    /// What an agency had left out for a time. Never for the patient's eyes.
    pub left_out_for_a_time: Vec<LeftOut>,
    /// Numbers of the entries that count, but lie outside the days asked about.
    pub outside_the_period: Vec<u64>,
    /// What to look at before it is given.
    pub to_look_at: Vec<ToLookAt>,
    /// Days on which accountings were asked for before.
    pub earlier: Vec<Day>,
    /// True when no fee may be asked for.
    pub free: bool,
}

/// One line: a disclosure, or several to one recipient for one purpose.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct AccountLine {
    /// To whom.
    pub to: String,
    /// Where to, where it is known.
    pub address: Option<String>,
    /// Day of the first one.
    pub first: Day,
    /// How many.
    pub count: u32,
    /// Day of the last one.
    pub last: Day,
    /// The basis, in plain words.
    pub basis: String,
    /// What was disclosed the first time, in brief.
    pub what: String,
    /// What for, as written down; empty where nothing was.
    pub purpose: String,
    /// Number of the attachment with the written request, a copy of which may stand in for the purpose.
    pub request_copy: Option<u64>,
    /// Numbers of the entries, the earliest first.
    pub entries: Vec<u64>,
    /// What the line lacks of what it must hold: date, recipient, description, purpose.
    pub missing: Vec<String>,
}

/// A disclosure that an accounting leaves out by its kind.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct NotCounted {
    /// Number of the entry.
    pub entry: u64,
    /// The day.
    pub on: Day,
    /// To whom.
    pub to: String,
    /// The basis, in plain words.
    pub basis: String,
    /// Why it is left out.
    pub because: String,
    /// Where that is published.
    pub citation: String,
    /// True where it may be shown to the patient beside the accounting.
    pub may_be_shown: bool,
}

/// A disclosure that an agency had left out for a time.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct LeftOut {
    /// Number of the entry.
    pub entry: u64,
    /// The day.
    pub on: Day,
    /// To whom.
    pub to: String,
    /// Last day it is left out.
    pub through: Day,
}

/// The clock an accounting goes by: the one the practice adopted by name, else the published one that looks
/// back longest.
pub fn clock<'t>(tables: &'t Tables, adopted: &[String]) -> Option<&'t Clock> {
    let by_name = adopted.iter().filter_map(|id| tables.clocks.clock(id));
    by_name
        .filter(|clock| clock.request == ClockRequest::Accounting && clock.look_back_years.is_some())
        .max_by_key(|clock| clock.look_back_years)
        .or_else(|| tables.clocks.accounting())
}

/// Works an account out from the entries of a person's charts. The first chart is the one that was asked about.
///
/// # Errors
/// In plain words: the tables lack what is needed, or the days asked about can't be.
pub fn account(
    charts: &[String],
    entries: &[Read],
    asked: &Asked,
    prepared_on: Date,
    tables: &Tables,
    adopted: &[String],
) -> Result<Account, String> {
    let table = AccountingTable::of(tables)?;
    let clock = clock(tables, adopted).ok_or("The tables have no clock for an accounting.")?;
    let (Some(years), Some(leap_day)) = (clock.look_back_years, clock.look_back_leap_day) else {
        return Err("The clock for an accounting does not say how far it looks back.".to_string());
    };
    let open = open_request(entries);
    let asked_on = asked.asked_on.or(open.map(|(_, on)| on)).unwrap_or(prepared_on);
    let request = asked.request.or(open.filter(|(_, on)| *on == asked_on).map(|(seq, _)| seq));
    let covered = covered(window(asked_on, years, leap_day, asked.from), asked.until)?;
    let made = disclosures(entries, table.oral_suspension_days);
    let rows: Vec<Disclosure> = made.iter().map(row).collect();
    let told = groups(&rows, covered, prepared_on, &table)
        .map_err(|kind| format!("The tables don't know the kind of disclosure \"{kind}\"."))?;
    let mut lines = Vec::new();
    for group in &told {
        lines.push(line(group, &made, tables)?);
    }
    let counted = |d: &Disclosed| table.class(basis::table_word(d.basis)) != Some(KindClass::NotCounted);
    let inside = |d: &Disclosed| covered.from <= d.on && d.on <= covered.to;
    let earlier = earlier_requests(entries);
    let before: Vec<Date> = earlier.iter().copied().filter(|day| *day <= asked_on).collect();
    Ok(Account {
        chart: charts.first().cloned().unwrap_or_default(),
        other_charts: charts.iter().skip(1).cloned().collect(),
        request,
        asked_on: Day(asked_on),
        from: covered.from,
        until: covered.to,
        rule: rule_words(clock),
        due: due(clock, asked_on),
        lines,
        not_counted: made.iter().filter(|d| !counted(d) && inside(d)).map(not_counted).collect(),
        left_out_for_a_time: made
            .iter()
            .filter(|d| counted(d) && inside(d))
            .filter_map(|d| left_out(d, prepared_on))
            .collect(),
        outside_the_period: made.iter().filter(|d| counted(d) && !inside(d)).map(|d| d.entry).collect(),
        to_look_at: to_look_at(entries, covered.from.0, covered.to.0),
        earlier: earlier.into_iter().map(Day).collect(),
        free: is_free(asked_on, &before, table.free_every_months),
    })
}

/// The days covered, with the earlier last day the person asked for.
fn covered(whole: Window, until: Option<Date>) -> Result<Window, String> {
    let to = until.map_or(whole.to, |until| whole.to.min(Day(until)));
    if whole.from > to {
        return Err(format!("The days asked about end ({to}) before they begin ({}).", whole.from));
    }
    Ok(Window { from: whole.from, to })
}

fn row(made: &Disclosed) -> Disclosure {
    // Nothing written down for two different bases must not join their lines.
    let purpose = match made.purpose.is_empty() {
        true => basis::plain(made.basis).to_string(),
        false => format!("{}: {}", made.basis.word(), made.purpose),
    };
    Disclosure {
        on: made.on,
        recipient: made.to.clone(),
        disclosed_for: basis::table_word(made.basis).to_string(),
        purpose,
        left_out_through: made.left_out_through,
    }
}

/// A line tells of the first disclosure in full (45 CFR 164.528(b)(3)).
fn line(group: &Group, made: &[Disclosed], tables: &Tables) -> Result<AccountLine, String> {
    let members: Vec<&Disclosed> = group.members.iter().filter_map(|place| made.get(*place)).collect();
    let first = members.first().ok_or("A line of the accounting tells of nothing.")?;
    let copy = members.iter().find_map(|d| d.request_copy);
    let asked = json!({ "ask": "line", "date": first.on, "recipient": first.to, "description": first.what,
        "purpose": first.purpose, "request_copy": copy.is_some() });
    let lacks = answer(&asked, tables).map_err(|e| e.to_string())?;
    let missing = lacks["missing"].as_array().into_iter().flatten();
    Ok(AccountLine {
        to: first.to.clone(),
        address: members.iter().find_map(|d| d.address.clone()),
        first: group.line.first,
        count: group.line.count,
        last: group.line.last,
        basis: basis::plain(first.basis).to_string(),
        what: first.what.clone(),
        purpose: first.purpose.clone(),
        request_copy: copy,
        entries: members.iter().map(|d| d.entry).collect(),
        missing: missing.filter_map(|field| field.as_str().map(str::to_string)).collect(),
    })
}

fn not_counted(made: &Disclosed) -> NotCounted {
    NotCounted {
        entry: made.entry,
        on: made.on,
        to: made.to.clone(),
        basis: basis::plain(made.basis).to_string(),
        because: basis::why_not_counted(made.basis).to_string(),
        citation: basis::citation_not_counted(made.basis).to_string(),
        may_be_shown: !basis::is_never_shown(made.basis),
    }
}

fn left_out(made: &Disclosed, prepared_on: Date) -> Option<LeftOut> {
    let through = made.left_out_through.filter(|last| prepared_on <= last.0)?;
    Some(LeftOut { entry: made.entry, on: made.on, to: made.to.clone(), through })
}

fn rule_words(clock: &Clock) -> String {
    match &clock.citation {
        Some(citation) => format!("{} ({citation})", clock.id),
        None => clock.id.clone(),
    }
}

/// The last day to give it, by the clock that also says how far back it looks. Holidays are not known here; the
/// published clock counts calendar days.
fn due(clock: &Clock, asked_on: Date) -> Day {
    deadlines::due(clock, asked_on, &Holidays::new()).due
}
