//! Consents and withdrawals on a time line: one row for each scope, its bars in words, so that it
//! reads the same in black and white and read aloud.

use super::corrected::current;
use super::entry::Desk;
use super::html::{TABLE_END, esc, said, table_start, tr};
use super::words::{self, capital, spaced};
use crate::record::kinds::Data;
use crate::record::kinds::consent::{Consent, ConsentKind, ConsentStatus, RestOfEarlier};
use crate::record::kinds::withdrawal::{StandingRefusal, Withdrawal};
use crate::record::moment::{Moment, plain_date};
use crate::record::vocab::{Region, Side, Technique};
use std::collections::BTreeMap;

/// A scope: techniques, regions, side, each in words.
type Scope = (String, String, String);

/// A bar: when it begins, for the order, and its words.
type Bar = (Moment, u64, String);

struct Given {
    seq: u64,
    at: Moment,
    consent: Consent,
    corrected: bool,
}

struct Taken {
    seq: u64,
    at: Moment,
    withdrawal: Withdrawal,
}

/// Ends of named consents: number of the consent, when, and why with the number of the entry.
type NamedEnd = (u64, Moment, String);

#[derive(Default)]
struct Facts {
    given: Vec<Given>,
    taken: Vec<Taken>,
    ends: Vec<NamedEnd>,
    refusals: Vec<(u64, Moment, StandingRefusal)>,
}

/// One row: what, where, which side, and its bars in words.
pub struct ScopeRow {
    /// Techniques, or the kind of consent outside care.
    pub what: String,
    /// Regions.
    pub place: String,
    /// Side.
    pub side: String,
    /// Given, ended, taken back: each in words, in the order of time.
    pub bars: Vec<String>,
}

/// Every scope that is in this copy.
pub fn rows(desk: &Desk<'_>) -> Vec<ScopeRow> {
    let facts = gather(desk);
    let mut bars: BTreeMap<Scope, Vec<Bar>> = BTreeMap::new();
    for given in &facts.given {
        for (technique, region, scope) in scopes(&given.consent) {
            let text = bar(desk, &facts, given, technique, region);
            bars.entry(scope).or_default().push((given.at, given.seq, text));
        }
    }
    for taken in facts.taken.iter().filter(|taken| reaches_nothing(&facts, taken)) {
        let text = format!(
            "WITHDRAWN {} (no. {}); no consent in this copy that it reaches",
            taken.at.plain(),
            taken.seq
        );
        bars.entry(withdrawal_scope(&taken.withdrawal)).or_default().push((taken.at, taken.seq, text));
    }
    for (seq, at, refusal) in &facts.refusals {
        let text = format!("REFUSED from {} (no. {seq}), until a consent that names it", at.plain());
        bars.entry(refusal_scope(refusal)).or_default().push((*at, *seq, text));
    }
    let row = |((what, place, side), bars): (Scope, Vec<Bar>)| ScopeRow {
        what,
        place,
        side,
        bars: bars.into_iter().map(|(_, _, text)| text).collect(),
    };
    merge(bars).into_iter().map(row).collect()
}

/// The table.
pub fn section(desk: &Desk<'_>) -> String {
    let mut out = String::from(
        "<p>Each row is one scope: what, where, which side. A consent that was given can end by its date, \
         by an event, or because it was taken back. Whether a given treatment was covered is said by the \
         entries of that visit, not by this table.</p>\n",
    );
    let rows = rows(desk);
    if rows.is_empty() {
        out.push_str("<p><em>No consent, refusal or withdrawal is in this copy.</em></p>\n");
        return out;
    }
    out.push_str(&table_start("grid", &["What", "Where", "Side", "Given, ended, taken back"]));
    for row in rows {
        let bars: Vec<String> = row.bars.iter().map(|text| said(text)).collect();
        out.push_str(&tr(&[said(&row.what), said(&row.place), esc(&row.side), bars.join("<br />")]));
    }
    out.push_str(TABLE_END);
    out
}

fn gather(desk: &Desk<'_>) -> Facts {
    let mut facts = Facts::default();
    for entry in desk.set.in_order() {
        let Some(record) = entry.shown() else { continue };
        let mends = desk.mends(entry.seq);
        let (seq, at) = (entry.seq, record.happened.start);
        match current(record, mends).read_data() {
            Ok(Data::Consent(consent)) => {
                if consent.rest_of_earlier == RestOfEarlier::Withdrawn {
                    facts.ends.extend(consent.narrower_than.iter().map(|earlier| {
                        (*earlier, at, format!("ended {} by a narrower one (no. {seq})", at.plain()))
                    }));
                }
                facts.given.push(Given { seq, at, consent: *consent, corrected: !mends.is_empty() });
            }
            Ok(Data::Withdrawal(withdrawal)) => {
                facts.taken.push(Taken { seq, at, withdrawal: *withdrawal });
            }
            Ok(Data::StandingRefusal(refusal)) => facts.refusals.push((seq, at, *refusal)),
            Ok(Data::EndEvent(end)) => facts.ends.extend(end.consents.iter().map(|consent| {
                (*consent, at, format!("ended {} by event: {} (no. {seq})", at.plain(), end.event))
            })),
            Ok(Data::RestAnswer(answer)) if answer.rest_of_earlier == RestOfEarlier::Withdrawn => {
                let narrower = facts.given.iter().find(|given| given.seq == answer.consent);
                let earlier = narrower.map(|given| given.consent.narrower_than.clone()).unwrap_or_default();
                facts.ends.extend(earlier.into_iter().map(|earlier| {
                    (earlier, at, format!("ended {}, the rest taken back (no. {seq})", at.plain()))
                }));
            }
            _ => {}
        }
    }
    facts
}

/// The scopes of a consent: every technique with every region; or its kind, outside care.
fn scopes(consent: &Consent) -> Vec<(Option<Technique>, Option<Region>, Scope)> {
    let side = consent.side.map_or("-", words::side).to_string();
    if consent.techniques.is_empty() || consent.regions.is_empty() {
        let mut what = capital(&spaced(consent.kind.word()));
        if !consent.techniques.is_empty() {
            what.push_str(&format!(": {}", words::list(&consent.techniques, words::technique)));
        }
        let mut place = words::list(&consent.regions, words::region);
        if let Some(matter) = &consent.matter {
            place = matter.clone();
        }
        return vec![(None, None, (what, if place.is_empty() { "-".to_string() } else { place }, side))];
    }
    let mut all = Vec::new();
    for technique in &consent.techniques {
        for region in &consent.regions {
            let scope = (words::technique(*technique), words::region(*region), side.clone());
            all.push((Some(*technique), Some(*region), scope));
        }
    }
    all
}

/// True when no consent here is reached by a withdrawal, so that it would otherwise not be seen.
fn reaches_nothing(facts: &Facts, taken: &Taken) -> bool {
    !facts.given.iter().filter(|given| given.at <= taken.at).any(|given| {
        scopes(&given.consent).into_iter().any(|(technique, region, _)| {
            !matches!(reach(&taken.withdrawal, given, technique, region), Reach::None)
        })
    })
}

fn withdrawal_scope(withdrawal: &Withdrawal) -> Scope {
    let what = withdrawal.techniques.as_ref().map(|list| words::list(list, words::technique));
    let place = withdrawal.regions.as_ref().map(|list| words::list(list, words::region));
    (
        what.unwrap_or_else(|| "all techniques".to_string()),
        place.unwrap_or_else(|| "everywhere".to_string()),
        withdrawal.side.map_or("every side", words::side).to_string(),
    )
}

fn refusal_scope(refusal: &StandingRefusal) -> Scope {
    let what = refusal.techniques.as_ref().map(|list| words::list(list, words::technique));
    let place = refusal.regions.as_ref().map(|list| words::list(list, words::region));
    (
        what.unwrap_or_else(|| "all techniques".to_string()),
        place.unwrap_or_else(|| "everywhere".to_string()),
        refusal.side.map_or("every side", words::side).to_string(),
    )
}

/// One bar in words.
fn bar(
    desk: &Desk<'_>,
    facts: &Facts,
    given: &Given,
    technique: Option<Technique>,
    region: Option<Region>,
) -> String {
    let consent = &given.consent;
    let mut number = format!("no. {}", given.seq);
    if given.corrected {
        number.push_str(", as corrected");
    }
    if consent.status == ConsentStatus::Declined {
        return format!("DECLINED {} ({number})", given.at.plain());
    }
    let (end, part) = endings(desk, facts, given, technique, region);
    let mut text = format!("given {} ({number}) - {end}", given.at.plain());
    for part in part {
        text.push_str(&format!("; {part}"));
    }
    let limits = [
        (!consent.excluded_regions.is_empty())
            .then(|| format!("without {}", words::list(&consent.excluded_regions, words::region))),
        (!consent.segment_limits.is_empty()).then(|| "with limits by segment".to_string()),
        (!consent.conditions.is_empty()).then(|| "with conditions".to_string()),
    ];
    let limits: Vec<String> = limits.into_iter().flatten().collect();
    if !limits.is_empty() {
        text.push_str(&format!(" [{}]", limits.join(", ")));
    }
    if consent.explained.is_none() && technique.is_some() {
        text.push_str(" [explanation not recorded]");
    }
    text
}

/// How a consent ended for one scope, and what was taken back of it in part.
fn endings(
    desk: &Desk<'_>,
    facts: &Facts,
    given: &Given,
    technique: Option<Technique>,
    region: Option<Region>,
) -> (String, Vec<String>) {
    let mut ends: Vec<(Moment, String)> = Vec::new();
    let mut parts = Vec::new();
    for taken in facts.taken.iter().filter(|taken| taken.at >= given.at) {
        match reach(&taken.withdrawal, given, technique, region) {
            Reach::None => {}
            Reach::Part => {
                parts.push(format!("partly withdrawn {} (no. {})", taken.at.plain(), taken.seq));
            }
            Reach::Whole => {
                ends.push((taken.at, format!("WITHDRAWN {} (no. {})", taken.at.plain(), taken.seq)));
            }
        }
    }
    let named = facts.ends.iter().filter(|(consent, at, _)| *consent == given.seq && *at >= given.at);
    ends.extend(named.map(|(_, at, text)| (*at, text.clone())));
    let first = ends.into_iter().min_by_key(|(at, _)| *at);
    let printed = desk.set.printed_at;
    let text = match (first, given.consent.valid_until) {
        (Some((at, text)), Some(until)) if at.local_date() <= until.0 => text,
        (Some((_, text)), None) => text,
        (_, Some(until)) if until.0 < printed.date_at_offset(printed.offset_seconds()) => {
            format!("ended {}", plain_date(until.0))
        }
        (_, Some(until)) => format!("until {}, not ended when this was printed", plain_date(until.0)),
        (None, None) => "no last day stated, not ended when this was printed".to_string(),
    };
    (text, parts)
}

enum Reach {
    None,
    Part,
    Whole,
}

/// How far a withdrawal reaches into one scope of a consent.
fn reach(
    withdrawal: &Withdrawal,
    given: &Given,
    technique: Option<Technique>,
    region: Option<Region>,
) -> Reach {
    use ConsentKind::{Examination, Imaging, InsideMouth, SensitiveArea, Treatment};
    let kind = given.consent.kind;
    let care = matches!(kind, Examination | Treatment | InsideMouth | SensitiveArea | Imaging);
    let named = withdrawal.consents.contains(&given.seq);
    if !named && !withdrawal.consents.is_empty() {
        return Reach::None;
    }
    let kind_meant =
        withdrawal.consent_kinds.contains(&kind) || (withdrawal.consent_kinds.is_empty() && (care || named));
    if !kind_meant {
        return Reach::None;
    }
    let mut whole = true;
    if let (Some(list), Some(technique)) = (&withdrawal.techniques, technique)
        && !list.contains(&technique)
    {
        return Reach::None;
    }
    if let (Some(list), Some(region)) = (&withdrawal.regions, region) {
        if !list.iter().any(|taken| taken.overlaps(region)) {
            return Reach::None;
        }
        whole = list.iter().any(|taken| region.is_within(*taken));
    }
    match (withdrawal.side, given.consent.side) {
        (None | Some(Side::Both), _) | (_, None) => {}
        (Some(taken), Some(agreed)) if taken == agreed => {}
        (Some(Side::Left), Some(Side::Right)) | (Some(Side::Right), Some(Side::Left)) => return Reach::None,
        _ => whole = false,
    }
    if whole { Reach::Whole } else { Reach::Part }
}

/// Joins rows that differ only in the region, then rows that differ only in the technique.
fn merge(bars: BTreeMap<Scope, Vec<Bar>>) -> Vec<(Scope, Vec<Bar>)> {
    let mut by_region: BTreeMap<(Vec<Bar>, String, String), Vec<String>> = BTreeMap::new();
    for ((what, place, side), mut bars) in bars {
        bars.sort();
        by_region.entry((bars, what, side)).or_default().push(place);
    }
    let mut by_technique: BTreeMap<(Vec<Bar>, Vec<String>, String), Vec<String>> = BTreeMap::new();
    for ((bars, what, side), places) in by_region {
        by_technique.entry((bars, places, side)).or_default().push(what);
    }
    let join = |words: Vec<String>| capital(&words.join("; "));
    by_technique
        .into_iter()
        .map(|((bars, places, side), what)| ((join(what), join(places), side), bars))
        .collect()
}
