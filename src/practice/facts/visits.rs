//! Visits, and what was confirmed, asked, answered, screened and measured in them.
//!
//! What helps counts only in the visit whose number it gives. What restricts is never lost for a
//! missing or wrong number: it goes to the visits open at its time, or else to a closed visit of its
//! own, where rules that look at every visit still find it.

use super::items::{Item, Items};
use super::screens;
use super::shape::{different, given, word_id, words};
use crate::record::coverage::facts::{
    self as facts, Asked, AskedAnswer, ConditionMet, IdentityConfirmed, Measure, OwnAnswer, Pause, PauseKind,
    Policy, Visit, WrittenReason, YesNo,
};
use crate::record::kinds::Data;
use crate::record::kinds::consent::GiverRole;
use crate::record::kinds::screening::{MeasureKind, Measured, Phase, Unit};
use crate::record::kinds::withdrawal::{self, PauseKind as RecordedPause};
use crate::record::moment::Moment;

/// Id of the closed visit that holds what restricts and belongs to no visit.
pub const OUTSIDE: &str = "outside-visits";

/// The visits of a chart while they are gathered.
pub struct Visits {
    /// In the order in which they were written.
    pub all: Vec<Visit>,
}

impl Visits {
    /// The visit opened by the entry with this number.
    pub fn of(&mut self, seq: u64) -> Option<&mut Visit> {
        self.all.iter_mut().find(|visit| visit.sequence_no == seq && visit.visit_id != OUTSIDE)
    }

    /// Where a restriction goes: its visit, or the visits open at its time, or the closed one.
    pub fn for_restriction(&mut self, visit: Option<u64>, at: Moment, seq: u64) -> Vec<&mut Visit> {
        let known = |v: &Visit| visit == Some(v.sequence_no) && v.visit_id != OUTSIDE;
        if self.all.iter().any(known) {
            return self.all.iter_mut().filter(|v| known(v)).collect();
        }
        let open = |v: &Visit| v.visit_id != OUTSIDE && open_at(v, at);
        if self.all.iter().any(open) {
            return self.all.iter_mut().filter(|v| open(v)).collect();
        }
        vec![self.outside(at, seq)]
    }

    /// The closed visit of what belongs to none. It was closed when it was opened, so it never is *the visit*.
    pub fn outside(&mut self, at: Moment, seq: u64) -> &mut Visit {
        let index = self.all.iter().position(|v| v.visit_id == OUTSIDE).unwrap_or_else(|| {
            self.all.push(visit(OUTSIDE.to_string(), seq, at, Some(at)));
            self.all.len() - 1
        });
        &mut self.all[index]
    }
}

fn open_at(visit: &Visit, at: Moment) -> bool {
    visit.opened_at.minute() <= at.minute() && visit.closed_at.is_none_or(|end| at.minute() < end.minute())
}

fn visit(visit_id: String, sequence_no: u64, opened_at: Moment, closed_at: Option<Moment>) -> Visit {
    Visit {
        visit_id,
        sequence_no,
        opened_at,
        closed_at,
        identity_confirmed: None,
        own_answers: Vec::new(),
        asked: Vec::new(),
        pauses: Vec::new(),
        screens: Vec::new(),
        measures: Vec::new(),
        conditions_met: Vec::new(),
        written_reasons: Vec::new(),
    }
}

/// The visits of a chart with all that belongs to them.
pub fn visits(items: &Items, rules: &Policy) -> Vec<Visit> {
    let opened =
        items.all.iter().filter(|item| item.restricting().any(|d| matches!(d, Data::VisitOpened(_))));
    let all = opened.map(|item| visit(item.id(), item.seq, item.at, closed(items, item))).collect();
    let mut visits = Visits { all };
    for item in &items.all {
        asked(items, item, &mut visits);
        pauses(items, item, &mut visits);
        own_answers(items, item, &mut visits);
        measures(item, rules, &mut visits);
        conditions(items, item, &mut visits);
        reasons(item, &mut visits);
        screens::screens(items, item, &mut visits);
    }
    for visit in &mut visits.all {
        visit.identity_confirmed = identity(items, visit.sequence_no).filter(|_| visit.visit_id != OUTSIDE);
    }
    visits.all
}

/// When a visit was closed: by the entry that says so; where there is none, by the end of its signed
/// note. A visit that belongs to another chart was never open here.
fn closed(items: &Items, opened: &Item) -> Option<Moment> {
    if opened.misfiled {
        return Some(opened.at);
    }
    let ends = |of: fn(&Item, &Data) -> Option<(u64, Moment)>| {
        let all =
            items.all.iter().flat_map(move |item| item.restricting().filter_map(move |data| of(item, data)));
        all.filter(|(visit, _)| *visit == opened.seq).map(|(_, at)| at).min()
    };
    let said =
        ends(|item, data| if let Data::VisitClosed(c) = data { Some((c.visit, item.at)) } else { None });
    said.or_else(|| {
        ends(|item, data| if let Data::Visit(note) = data { Some((note.visit, item.end?)) } else { None })
    })
}

/// Identity as confirmed in a visit: every identifier of the confirmations that count at the moment
/// asked about, from the last of them on; where none counts yet, the first that will.
fn identity(items: &Items, visit: u64) -> Option<IdentityConfirmed> {
    let mut all: Vec<IdentityConfirmed> = items
        .all
        .iter()
        .filter_map(|item| {
            let confirmed = match item.helping()? {
                Data::VisitOpened(opened) if item.seq == visit => opened.identity_confirmed.as_ref()?,
                Data::IdentityChecked(checked) if checked.visit == visit => &checked.identity_confirmed,
                _ => return None,
            };
            let identifiers =
                confirmed.identifiers.iter().filter(|i| !i.trim().is_empty()).cloned().collect();
            Some(IdentityConfirmed { at: confirmed.at, sequence_no: item.seq, identifiers })
        })
        .collect();
    all.sort_by_key(|one| crate::record::coverage::time::place(one.at, one.sequence_no));
    let counting: Vec<&IdentityConfirmed> =
        all.iter().filter(|c| items.now.allows(c.at, c.sequence_no)).collect();
    let Some(last) = counting.last() else { return all.first().cloned() };
    let identifiers: Vec<String> = counting.iter().flat_map(|c| c.identifiers.iter().cloned()).collect();
    Some(IdentityConfirmed {
        at: last.at,
        sequence_no: last.sequence_no,
        identifiers: different(&identifiers),
    })
}

fn asked(items: &Items, item: &Item, visits: &mut Visits) {
    if let Some(Data::Asked(asked)) = item.helping()
        && asked.answer != withdrawal::AskedAnswer::No
        && answered_rightly(items, asked)
        && let Some(visit) = visits.of(asked.visit)
    {
        visit.asked.extend(asked_fact(item, asked));
    }
    for (visit, no) in item.restrictions(|data, _| match data {
        Data::Asked(asked) if asked.answer == withdrawal::AskedAnswer::No => {
            Some((asked.visit, asked_fact(item, asked)?))
        }
        _ => None,
    }) {
        for visit in visits.for_restriction(Some(visit), item.at, item.seq) {
            visit.asked.push(no.clone());
        }
    }
}

/// True when the patient answered, or somebody the chart lists as deciding.
fn answered_rightly(items: &Items, asked: &withdrawal::Asked) -> bool {
    let Some(by) = asked.answered_by.as_ref().filter(|by| by.role == GiverRole::DecisionMaker) else {
        return true;
    };
    items.all.iter().filter_map(Item::helping).any(|data| match data {
        Data::DecisionMaker(line) => by.person_id.as_deref() == Some(line.person_id.as_str()),
        _ => false,
    })
}

/// None for a yes that names a segment outside its region: what it was a yes to is not clear.
fn asked_fact(item: &Item, asked: &withdrawal::Asked) -> Option<Asked> {
    let inside = asked.segments.iter().all(|segment| asked.region.holds(*segment));
    let answer = AskedAnswer::from_word(asked.answer.word())?;
    (inside || answer == AskedAnswer::No).then(|| Asked {
        at: item.at,
        sequence_no: item.seq,
        technique: asked.technique,
        region: asked.region,
        side: asked.side,
        segments: if inside { different(&asked.segments) } else { Vec::new() },
        asked_by: word_id(&asked.asked_by),
        answer,
        limit_words: words(asked.limit_words.as_ref()),
    })
}

fn pauses(items: &Items, item: &Item, visits: &mut Visits) {
    let pause = |data: &Data| {
        let Data::Pause(pause) = data else { return None };
        let kind = match pause.kind {
            RecordedPause::Resumed => return None,
            RecordedPause::Pause => PauseKind::Pause,
            RecordedPause::Stop => PauseKind::Stop,
        };
        let known = pause.resumed_yes_at.filter(|_| item.helping() == Some(data));
        let later = items.end_of(item.at, |end, data| match data {
            Data::Pause(later) if later.kind == RecordedPause::Resumed && later.of == Some(item.seq) => {
                Some(later.resumed_yes_at.unwrap_or(end.at))
            }
            _ => None,
        });
        let resumed_yes_at = known.into_iter().chain(later).min();
        Some((pause.visit, Pause { at: item.at, sequence_no: item.seq, kind, resumed_yes_at }))
    };
    for (visit, pause) in item.restrictions(|data, _| pause(data)) {
        for visit in visits.for_restriction(Some(visit), item.at, item.seq) {
            visit.pauses.push(pause.clone());
        }
    }
}

/// A minor's own answers. A no said before the visit holds in the visits opened later that day.
fn own_answers(items: &Items, item: &Item, visits: &mut Visits) {
    let fact = |answer| OwnAnswer { at: item.at, sequence_no: item.seq, answer };
    if let Some(Data::OwnAnswer(own)) = item.helping()
        && own.answer == withdrawal::YesNo::Yes
        && let Some(visit) = own.visit.and_then(|seq| visits.of(seq))
    {
        visit.own_answers.push(fact(YesNo::Yes));
    }
    let noes = item.restrictions(|data, _| match data {
        Data::OwnAnswer(own) if own.answer == withdrawal::YesNo::No => Some(own.visit),
        _ => None,
    });
    let offset = items.now.moment.offset_seconds();
    for given in noes {
        let day = item.at.date_at_offset(offset);
        let later_that_day = |v: &Visit| {
            given != Some(v.sequence_no)
                && v.opened_at.minute() > item.at.minute()
                && v.opened_at.date_at_offset(offset) == day
        };
        let known = given.is_some_and(|seq| visits.of(seq).is_some());
        if !known {
            for visit in visits.all.iter_mut().filter(|v| v.visit_id != OUTSIDE && later_that_day(v)) {
                visit.own_answers.push(fact(YesNo::No));
            }
        }
        for visit in visits.for_restriction(given, item.at, item.seq) {
            visit.own_answers.push(fact(YesNo::No));
        }
    }
}

/// Mouth openings, of measure entries and of signed notes. One that belongs to another chart, or as it
/// read before a correction, counts only where it is below the floor.
fn measures(item: &Item, rules: &Policy, visits: &mut Visits) {
    for (index, data) in item.restricting().enumerate() {
        let helps = index == 0 && item.helping().is_some();
        let (visit, taken) = match data {
            Data::Measure(measure) => {
                (measure.visit, measure.measures.iter().map(|m| (m, item.at)).collect())
            }
            Data::Visit(note) => {
                let at =
                    |phase| if phase == Phase::Before { item.at } else { item.end.unwrap_or(item.written) };
                (
                    Some(note.visit),
                    note.measures.iter().map(|m| (&m.measured, m.at.unwrap_or(at(m.phase)))).collect(),
                )
            }
            _ => continue,
        };
        let taken: Vec<(&Measured, Moment)> = taken;
        let Some(visit) = visit.and_then(|seq| visits.of(seq)) else { continue };
        let opening = taken.into_iter().filter_map(|(measured, at)| mouth_opening(item, measured, at));
        visit.measures.extend(opening.filter(|m| helps || m.value_mm < rules.mouth_opening_floor_mm));
    }
}

/// How far the mouth opens: measured as such, or unassisted. Assisted or pain-free opening is something else.
fn mouth_opening(item: &Item, measured: &Measured, at: Moment) -> Option<Measure> {
    let opening = matches!(measured.kind, MeasureKind::MouthOpening | MeasureKind::MouthOpeningUnassisted);
    let scale = match measured.unit {
        Unit::Mm => 1.0,
        Unit::Cm => 10.0,
        _ => return None,
    };
    let value_mm = measured.value.get() * scale;
    (opening && value_mm.is_finite()).then(|| Measure {
        kind: MeasureKind::MouthOpening.word().to_string(),
        value_mm,
        at,
        sequence_no: item.seq,
    })
}

/// Conditions met. An entry that states the end of an earlier one only ends that.
fn conditions(items: &Items, item: &Item, visits: &mut Visits) {
    let Some(Data::ConditionMet(met)) = item.helping() else { return };
    if met.ends.is_some() || met.kind.trim().is_empty() {
        return;
    }
    let ends = items.all.iter().flat_map(Item::restricting).filter_map(|data| match data {
        Data::ConditionMet(end) if end.ends == Some(item.seq) => end.until,
        _ => None,
    });
    let until = ends.chain(met.until).min();
    if let Some(visit) = visits.of(met.visit) {
        visit.conditions_met.push(ConditionMet {
            kind: met.kind.clone(),
            value: words(met.value.as_ref()),
            from: met.from,
            until,
            sequence_no: item.seq,
        });
    }
}

fn reasons(item: &Item, visits: &mut Visits) {
    let Some(Data::WrittenReason(reason)) = item.helping() else { return };
    let Some(visit) = visits.of(reason.visit).filter(|_| !reason.words.trim().is_empty()) else { return };
    visit.written_reasons.push(WrittenReason {
        alert_id: super::items::id(reason.alert),
        at: item.at,
        sequence_no: item.seq,
        words: given(&reason.words, "-"),
    });
}

/// The visit that is open at the moment asked about, as the rules choose it.
pub fn open_visit(facts: &facts::Facts) -> Option<&Visit> {
    let now = crate::record::coverage::time::Now::new(facts.now, facts.request.sequence_no);
    let open = facts
        .chart
        .visits
        .iter()
        .filter(|v| now.allows(v.opened_at, v.sequence_no) && !now.over(v.closed_at));
    open.max_by_key(|v| crate::record::coverage::time::place(v.opened_at, v.sequence_no))
}
