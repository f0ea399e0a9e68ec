//! What was agreed and ends, who decides and for how long, and what a visit left unfinished.

use super::{ItemKind, Looked, OpenItem, after, days_before};
use crate::record::coverage::time::{birthday, last_valid_day};
use crate::record::kinds::Data;
use crate::record::kinds::consent::{Consent, ConsentStatus, GiverRole, RestOfEarlier};
use crate::record::kinds::identity::{Basis, CapacityState, DecisionMaker};
use crate::record::kinds::withdrawal::{EmergencyState, PauseKind, Withdrawal};
use crate::record::moment::{Date, plain_date};
use crate::record::vocab::{Region, Side, Technique};

/// Consents that end soon, or ended lately without a new one; and rests nobody asked about.
pub fn consents(chart: &Looked<'_>) -> Vec<OpenItem> {
    let (today, days) = (chart.rules.today, chart.rules.lists.consent_lapses_within_days);
    let mut items = Vec::new();
    for (entry, data) in chart.opened() {
        let Data::Consent(consent) = data else { continue };
        if consent.status != ConsentStatus::Signed || ended(chart, entry.seq, consent, entry.at) {
            continue;
        }
        items.extend(rest(chart, entry.seq, consent));
        let Some(last) = last_day(chart, consent, entry.at.local_date()) else { continue };
        let near = last >= days_before(today, days) && last <= after(today, days);
        if !near || renewed(chart, entry.seq, consent, last) {
            continue;
        }
        let verb = if last < today { "ended" } else { "ends" };
        let words = format!("{} consent {verb} {}", consent.kind.word().replace('-', " "), plain_date(last));
        let remedy = format!("inkfast consent {}", chart.number);
        items.push(chart.item(ItemKind::ConsentLapses, entry.seq, Some(last), words, remedy));
    }
    items
}

/// The last day of a consent: its own, or the longest its techniques may last by the rules.
fn last_day(chart: &Looked<'_>, consent: &Consent, given: Date) -> Option<Date> {
    let own = consent.valid_until.map(|d| d.0);
    if !consent.is_for_care() {
        return own;
    }
    let ceilings = &chart.rules.coverage.consent_ceiling_months;
    let mouth = consent.regions.iter().all(|r| r.is_in_mouth());
    let months = |technique: &Technique| {
        let technique = if mouth { Technique::Intraoral } else { *technique };
        ceilings.get(technique.word()).or_else(|| ceilings.get("default")).copied()
    };
    let ceiling = consent.techniques.iter().filter_map(months).max().map(|m| last_valid_day(given, m));
    match (own, ceiling) {
        (Some(own), Some(ceiling)) => Some(own.min(ceiling)),
        (own, ceiling) => own.or(ceiling),
    }
}

/// True when its event came, or all of it was taken back.
fn ended(chart: &Looked<'_>, seq: u64, consent: &Consent, given: crate::record::moment::Moment) -> bool {
    chart.opened().any(|(later, data)| match data {
        Data::EndEvent(event) => event.consents.contains(&seq),
        Data::Withdrawal(taken) => later.at >= given && later.seq > seq && takes_all(taken, seq, consent),
        _ => false,
    })
}

fn takes_all(taken: &Withdrawal, seq: u64, consent: &Consent) -> bool {
    let kind = match taken.consent_kinds.is_empty() {
        true => consent.is_for_care(),
        false => taken.consent_kinds.contains(&consent.kind),
    };
    let techniques =
        taken.techniques.as_ref().is_none_or(|t| consent.techniques.iter().all(|c| t.contains(c)));
    let regions = taken
        .regions
        .as_ref()
        .is_none_or(|r| consent.regions.iter().all(|c| r.iter().any(|r| c.is_within(*r))));
    let side = taken.side.is_none_or(|side| side == Side::Both || consent.side == Some(side));
    let named = taken.consents.is_empty() || taken.consents.contains(&seq);
    kind && techniques && regions && side && named
}

/// True when a newer consent agrees to at least as much for longer.
fn renewed(chart: &Looked<'_>, seq: u64, consent: &Consent, last: Date) -> bool {
    chart.opened().any(|(newer, data)| match data {
        Data::Consent(new) => {
            newer.seq > seq
                && new.status == ConsentStatus::Signed
                && new.kind == consent.kind
                && new.matter == consent.matter
                && consent.techniques.iter().all(|t| new.techniques.contains(t))
                && consent.regions.iter().all(|r| within(*r, &new.regions))
                && (new.side == Some(Side::Both) || new.side == consent.side)
                && last_day(chart, new, newer.at.local_date()).is_none_or(|later| later > last)
        }
        _ => false,
    })
}

fn within(region: Region, regions: &[Region]) -> bool {
    regions.iter().any(|wider| region.is_within(*wider))
}

/// A narrower consent whose giver was not asked about the rest.
fn rest(chart: &Looked<'_>, seq: u64, consent: &Consent) -> Option<OpenItem> {
    let waits = matches!(consent.rest_of_earlier, RestOfEarlier::NotAsked | RestOfEarlier::NotApplicable);
    let answered = chart.opened().any(|(_, data)| {
        matches!(data, Data::RestAnswer(a) if a.consent == seq && a.rest_of_earlier != RestOfEarlier::NotAsked)
    });
    if !waits || answered || consent.narrower_than.is_empty() {
        return None;
    }
    let earlier: Vec<String> = consent.narrower_than.iter().map(|n| format!("no. {n}")).collect();
    let words =
        format!("consent no. {seq} is narrower than {}: is the rest kept or withdrawn?", earlier.join(", "));
    let remedy = format!("inkfast rest {} --consent {seq} --answer kept|withdrawn", chart.number);
    Some(chart.item(ItemKind::RestNotAsked, seq, None, words, remedy))
}

/// Birthdays that end what others decided, and authorities that end.
pub fn deciding(chart: &Looked<'_>) -> Vec<OpenItem> {
    let makers = makers(chart);
    let mut items: Vec<OpenItem> = comes_of_age(chart, &makers).into_iter().collect();
    let (today, days) = (chart.rules.today, chart.rules.lists.birthday_within_days);
    for (seq, maker) in &makers {
        let Some(last) = maker.authority_last_day.map(|d| d.0) else { continue };
        if maker.superseded_at.is_some() || last < days_before(today, days) || last > after(today, days) {
            continue;
        }
        let words = format!("authority of {} ({}) ends", maker.person_id, maker.relation);
        let remedy = format!("see the new paper, then: inkfast guardian {}", chart.number);
        items.push(chart.item(ItemKind::AuthorityEnds, *seq, Some(last), words, remedy));
    }
    items
}

/// The newest line of each decision-maker, without those another took the place of.
fn makers<'a>(chart: &'a Looked<'_>) -> Vec<(u64, &'a DecisionMaker)> {
    let mut makers: Vec<(u64, &DecisionMaker)> = Vec::new();
    for (entry, data) in chart.opened() {
        if let Data::DecisionMaker(maker) = data {
            makers.retain(|(seq, m)| m.person_id != maker.person_id && !maker.supersedes.contains(seq));
            makers.push((entry.seq, maker));
        }
    }
    makers
}

/// The day the patient comes of age: a parent's or guardian's yes ends at midnight, and so does their access.
fn comes_of_age(chart: &Looked<'_>, makers: &[(u64, &DecisionMaker)]) -> Option<OpenItem> {
    let policy = chart.rules.coverage;
    let of_age = birthday(chart.born?, policy.majority_age_years, policy.leap_day_birthday);
    let (today, days) = (chart.rules.today, chart.rules.lists.birthday_within_days);
    if of_age < days_before(today, days) || of_age > after(today, days) {
        return None;
    }
    let by_others = |entry: u64, data: &Data| match data {
        Data::Consent(c) if c.given_by.role == GiverRole::DecisionMaker => Some(entry),
        _ => None,
    };
    let given = chart.opened().filter_map(|(e, data)| by_others(e.seq, data)).next_back();
    let own = chart.opened().any(|(e, data)| {
        e.at.local_date() >= of_age
            && matches!(data, Data::Consent(c) if c.given_by.role == GiverRole::Oneself && c.is_for_care())
    });
    let losing: Vec<&(u64, &DecisionMaker)> =
        makers.iter().filter(|(_, m)| matches!(m.basis, Basis::Parent | Basis::CourtOrder)).collect();
    let entry = given.or(losing.first().map(|(seq, _)| *seq)).filter(|_| !own)?;
    let mut words = format!("{} on {}", policy.majority_age_years, plain_date(of_age));
    if given.is_some() {
        words.push_str("; consents given by others end");
    }
    for (_, maker) in losing {
        let ends = match (maker.may_consent, maker.may_receive_records) {
            (true, true) => "may no longer consent or receive records",
            (true, false) => "may no longer consent",
            (false, true) => "may no longer receive records",
            (false, false) => continue,
        };
        words.push_str(&format!("; {} ({}) {ends}", maker.name, maker.relation));
    }
    let remedy = format!("own consent: inkfast consent {}", chart.number);
    Some(chart.item(ItemKind::ComesOfAge, entry, Some(of_age), words, remedy))
}

/// Visits left open, pauses in them, emergencies not ended, doubts not resolved.
pub fn unfinished(chart: &Looked<'_>) -> Vec<OpenItem> {
    let open = open_visits(chart);
    let mut items: Vec<OpenItem> = open
        .iter()
        .map(|(seq, day)| {
            let words = format!("visit opened {} is not closed or signed", plain_date(*day));
            let remedy = format!("inkfast sign {n}, or inkfast visit close {n}", n = chart.number);
            chart.item(ItemKind::VisitOpen, *seq, Some(*day), words, remedy)
        })
        .collect();
    for (entry, data) in chart.opened() {
        let number = chart.number;
        let day = Some(entry.at.local_date());
        let item = match data {
            Data::Pause(pause) if pause.kind != PauseKind::Resumed => {
                let resumed = pause.resumed_yes_at.is_some()
                    || chart.opened().any(|(_, d)| matches!(d, Data::Pause(p) if p.of == Some(entry.seq)));
                (!resumed && open.iter().any(|(seq, _)| *seq == pause.visit)).then(|| {
                    (
                        ItemKind::Pause,
                        format!("{} without a yes to going on", pause.kind),
                        format!("inkfast pause {number} resume yes"),
                    )
                })
            }
            Data::Emergency(declared) if declared.state == EmergencyState::Declared => {
                let over = chart
                    .opened()
                    .any(|(_, d)| matches!(d, Data::Emergency(e) if e.of == Some(entry.seq) && e.state == EmergencyState::Ended));
                (!over).then(|| {
                    let remedy = format!(
                        "inkfast visit emergency {number} --state ended --of {} --what WORDS",
                        entry.seq
                    );
                    (ItemKind::Emergency, "emergency declared and not ended".to_string(), remedy)
                })
            }
            Data::Capacity(doubt) if doubt.state == CapacityState::DoubtRaised => {
                let over = doubt.until.is_some()
                    || chart.opened().any(|(_, d)| matches!(d, Data::Capacity(c) if c.of == Some(entry.seq)));
                (!over).then(|| {
                    let remedy = format!(
                        "inkfast patient capacity {number} --state doubt-resolved --of {}",
                        entry.seq
                    );
                    (ItemKind::Capacity, "a doubt about capacity is not resolved".to_string(), remedy)
                })
            }
            _ => None,
        };
        items.extend(item.map(|(kind, words, remedy)| chart.item(kind, entry.seq, day, words, remedy)));
    }
    items
}

/// Openings of visits that are neither closed nor signed, with their days.
fn open_visits(chart: &Looked<'_>) -> Vec<(u64, Date)> {
    let mut open: Vec<(u64, Date)> = Vec::new();
    for entry in chart.entries {
        match entry.kind.as_str() {
            "visit-opened" => open.push((entry.seq, entry.at.local_date())),
            "visit-closed" | "visit" => {
                let ended = match &entry.data {
                    Some(Data::VisitClosed(closed)) => Some(closed.visit),
                    Some(Data::Visit(note)) => Some(note.visit),
                    // A note that this role does not open ends the visit it was written for: the newest.
                    _ => open.last().map(|(seq, _)| *seq),
                };
                open.retain(|(seq, _)| Some(*seq) != ended);
            }
            _ => {}
        }
    }
    open
}
