//! The list before signing, gathered: what a chart and the register hold around the note of a visit. Every
//! entry of the chart is read as it now stands, with its corrections made; what was marked as belonging to
//! another chart is left out.

use super::open::{Entry, Practice};
use super::reading::ChartReading;
use crate::record::envelope::{Happened, Record};
use crate::record::kinds::attendance::VisitOpened;
use crate::record::kinds::identity::{AllergyReview, Identity, SubstanceStatus};
use crate::record::kinds::papers::AttachmentKind;
use crate::record::kinds::register::{OpeningHours, Staff};
use crate::record::kinds::release::Step;
use crate::record::kinds::{Data, Given};
use crate::record::moment::{Date, Moment};
use crate::record::review::sheet::{Dated, EarlierVisit, Opening, OtherVisit, Patient, VisitSheet};
use crate::record::review::{Remark, draft, review};
use crate::trouble::{Kind, Outcome, Trouble};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};

/// Looks the drafted note of a visit through, beside the entries of its chart.
///
/// # Errors
/// When the chart can't be opened in full, the draft is not one of a note, or the rules can't be used.
pub fn remarks(
    practice: &Practice,
    entries: &[Entry],
    visit: u64,
    data: &Value,
    happened: Happened,
) -> Outcome<Vec<Remark>> {
    let rules = practice.rulebook()?;
    Ok(review(&sheet(practice, entries, visit, data, happened)?, &rules))
}

/// Gathers what a review looks at.
///
/// # Errors
/// As [`remarks`].
pub fn sheet(
    practice: &Practice,
    entries: &[Entry],
    visit: u64,
    data: &Value,
    happened: Happened,
) -> Outcome<VisitSheet> {
    let note = draft(data).map_err(|why| {
        Trouble::input(
            format!("The note as drafted can't be read: {why}."),
            "Give that part again, then look at the list once more.",
        )
    })?;
    let chart = Chart::read(practice, entries)?;
    let me = practice.session.me.code.clone();
    let mut sheet = VisitSheet::bare(practice.now(), &me, happened, note);
    let day = sheet.day();
    register(practice, &me, day, &mut sheet)?;
    sheet.patient = patient(&chart, day);
    around(&chart, visit, &me, &mut sheet);
    earlier(&chart, visit, &mut sheet);
    sheet.others = others(practice, visit, day)?;
    Ok(sheet)
}

/// The entries of a chart that count, as they now read.
struct Chart<'e> {
    all: Vec<(&'e Entry, Record, Data)>,
}

impl<'e> Chart<'e> {
    fn read(practice: &Practice, entries: &'e [Entry]) -> Outcome<Chart<'e>> {
        let reading = ChartReading::new(practice, entries);
        let mut all = Vec::new();
        for entry in entries {
            let Some(record) = &entry.record else {
                return Err(Trouble::new(
                    Kind::Locked,
                    "What is missing can't be said: an entry of this chart does not open here.",
                    "Nothing was recorded. The draft is kept.",
                    "Have it looked at and signed by somebody whose role opens the whole chart.",
                ));
            };
            all.extend(as_it_reads(&reading, entry, record).map(|(record, data)| (entry, record, data)));
        }
        Ok(Chart { all })
    }

    /// All data that `pick` takes, with number and times.
    fn every<T: Clone>(&self, pick: impl Fn(&Data) -> Option<&T>) -> Vec<Dated<T>> {
        let picked = self.all.iter().filter_map(|(entry, record, data)| {
            let (seq, at, written) = (entry.leaf.seq, record.happened.start, record.written);
            pick(data).map(|data| Dated { seq, at, written, data: data.clone() })
        });
        picked.collect()
    }

    fn data(&self) -> impl Iterator<Item = &Data> {
        self.all.iter().map(|(_, _, data)| data)
    }
}

/// An entry with its corrections made; none where it belongs to another person or is of no known kind.
fn as_it_reads(reading: &ChartReading, entry: &Entry, record: &Record) -> Option<(Record, Data)> {
    let seq = entry.leaf.seq;
    let now = (!reading.is_misfiled(seq)).then(|| reading.now(seq, record))?;
    let data = now.read_data().ok()?;
    Some((now, data))
}

/// Picks the data of one kind out of all of them.
macro_rules! of {
    ($kind:ident) => {
        |data: &Data| if let Data::$kind(data) = data { Some(&**data) } else { None }
    };
    ($kind:ident where $holds:expr) => {
        |data: &Data| {
            if let Data::$kind(data) = data { Some(&**data).filter(|data| $holds(*data)) } else { None }
        }
    };
}

/// The roster line of the day, and the opening hours.
fn register(practice: &Practice, me: &str, day: Date, sheet: &mut VisitSheet) -> Outcome<()> {
    let mut lines: Vec<Staff> = Vec::new();
    let mut hours: Vec<OpeningHours> = Vec::new();
    for entry in practice.register()? {
        match entry.data() {
            Some(Data::Staff(line)) if line.code == me => lines.push(*line),
            Some(Data::RegisterOpened(opened)) => hours = opened.opening_hours,
            _ => {}
        }
    }
    // A newer line replaces an older one; after leaving and coming back, the older still tells of its days.
    let holds = |line: &&Staff| {
        line.on_roster_from.0 <= day && line.on_roster_last_day.is_none_or(|last| last.0 >= day)
    };
    sheet.roster = lines.iter().rev().find(holds).or(lines.last()).cloned();
    sheet.hours = hours;
    Ok(())
}

fn identity(data: &Data) -> Option<&Identity> {
    match data {
        Data::ChartOpened(opened) => Some(&opened.identity),
        Data::IdentityChanged(changed) => Some(&changed.identity),
        _ => None,
    }
}

fn patient(chart: &Chart<'_>, day: Date) -> Patient {
    let mut patient = Patient::default();
    if let Some(identity) = chart.data().filter_map(identity).last() {
        patient.name = identity.legal_name.clone();
        patient.born = identity.birth_date.date.map(|day| day.0);
        patient.interpreter_needed = identity.interpreter_language.is_some();
    }
    let mut persons = BTreeMap::new();
    for person in chart.every(of!(DecisionMaker)) {
        persons.insert(person.data.person_id.clone(), person.data);
    }
    patient.decision_makers = persons.into_values().collect();
    allergies(&chart.every(of!(AllergyReview)), &mut patient);
    let alerts = chart.every(of!(Alert));
    let ended = |seq: u64| {
        let end = alerts.iter().rev().find(|a| a.data.ends == Some(seq));
        end.and_then(|a| a.data.until).is_some_and(|last| last.0 < day)
    };
    let holds = |a: &&Dated<crate::record::kinds::identity::Alert>| {
        a.data.ends.is_none()
            && a.data.from.0 <= day
            && a.data.until.is_none_or(|last| last.0 >= day)
            && !ended(a.seq)
    };
    patient.alerts = alerts.iter().filter(holds).map(|a| (a.seq, a.data.clone())).collect();
    patient
}

/// What a later review that was done calls harmless is no longer held against a substance.
fn allergies(reviews: &[Dated<AllergyReview>], patient: &mut Patient) {
    let mut known: BTreeMap<String, bool> = BTreeMap::new();
    for review in reviews {
        let done = review.data.reviewed_on.value().is_some();
        patient.allergies_reviewed |= done;
        for (name, status) in &review.data.substances {
            let name = name.to_ascii_lowercase();
            match status {
                SubstanceStatus::Allergic => drop(known.insert(name, true)),
                SubstanceStatus::NotAllergic if done => drop(known.insert(name, false)),
                SubstanceStatus::NotAllergic | SubstanceStatus::Unknown => {}
            }
        }
    }
    patient.latex_answered = known.contains_key("latex");
    patient.allergic_to = known.into_iter().filter(|(_, yes)| *yes).map(|(name, _)| name).collect();
}

/// What was recorded in this visit, and what of the chart bears on it.
fn around(chart: &Chart<'_>, visit: u64, me: &str, sheet: &mut VisitSheet) {
    let relied: Vec<u64> = sheet.note.screens.clone();
    sheet.consents = chart.every(of!(Consent));
    sheet.withdrawals = chart.every(of!(Withdrawal));
    sheet.asked =
        chart.every(of!(Asked where |a: &crate::record::kinds::withdrawal::Asked| a.visit == visit));
    sheet.screens = chart.every(of!(Screen));
    sheet.screens.retain(|s| s.data.visit == Some(visit) || relied.contains(&s.seq));
    sheet.measures = chart.every(of!(Measure));
    sheet.measures.retain(|m| m.data.visit == Some(visit));
    sheet.changes = chart.every(of!(Change));
    sheet.changes.retain(|c| c.data.visit == Some(visit));
    for data in chart.data() {
        match data {
            Data::ConditionMet(met) if met.visit == visit && met.ends.is_none() => {
                sheet.conditions_met.push(met.kind.clone());
            }
            Data::WrittenReason(reason) if reason.visit == visit => sheet.reasons_against.push(reason.alert),
            Data::Attachment(paper)
                if matches!(paper.kind, AttachmentKind::XRay | AttachmentKind::ImagingReport) =>
            {
                sheet.x_rays.extend(paper.made_on.value().map(|day| day.0));
            }
            _ => {}
        }
    }
    sheet.opening = opening(chart, visit);
    let closed: BTreeSet<u64> =
        chart.every(of!(ReactionClosed)).into_iter().map(|c| c.data.reaction).collect();
    sheet.open_reactions = chart.every(of!(Reaction));
    sheet.open_reactions.retain(|reaction| !closed.contains(&reaction.seq));
    sheet.notices = chart.every(of!(Notice)).into_iter().map(|notice| notice.seq).collect();
    let done = chart.every(of!(RequestStep));
    let ends = [Step::Answered, Step::Declined, Step::Withdrawn, Step::Closed];
    let open = |seq: u64| !done.iter().any(|d| d.data.request == seq && ends.contains(&d.data.step));
    let requests = chart.every(of!(Request)).into_iter();
    sheet.requests = requests.filter(|r| open(r.seq)).map(|r| r.at).collect();
    let mine = chart
        .all
        .iter()
        .filter(|(entry, _, data)| entry.leaf.author == me && matches!(data, Data::Access(_)));
    sheet.openings_for_reading = mine.map(|(_, record, _)| record.happened.start).collect();
}

fn opening(chart: &Chart<'_>, visit: u64) -> Opening {
    let mut opening = Opening::default();
    for (entry, _, data) in &chart.all {
        match data {
            Data::VisitOpened(opened) if entry.leaf.seq == visit => {
                opening.place = opened.room.value().cloned();
                opening.no_place_because = opened.room.because().is_some_and(|why| !why.trim().is_empty());
                opening.identity_confirmed |= opened.identity_confirmed.is_some();
                opening.present = opened.present.iter().map(|present| present.part.clone()).collect();
            }
            Data::IdentityChecked(checked) if checked.visit == visit => opening.identity_confirmed = true,
            _ => {}
        }
    }
    opening
}

fn earlier(chart: &Chart<'_>, visit: u64, sheet: &mut VisitSheet) {
    let measures = chart.every(of!(Measure));
    let mut earlier: Vec<EarlierVisit> = chart
        .every(of!(Visit))
        .into_iter()
        .filter(|note| note.data.visit != visit && note.at <= sheet.happened.start)
        .map(|note| EarlierVisit {
            seq: note.seq,
            at: note.at,
            measures: measures
                .iter()
                .filter(|m| m.data.visit == Some(note.data.visit))
                .flat_map(|m| m.data.measures.iter().cloned())
                .collect(),
            note: note.data,
        })
        .collect();
    earlier.sort_by_key(|visit| (visit.at, visit.seq));
    let started = earlier.iter().rev().filter_map(|v| v.note.payer.as_ref()?.treatment_started_on);
    sheet.course_start = started.map(|day| day.0).next();
    sheet.earlier = earlier;
}

/// The other visits of a day, whatever their chart. The ledger is read backwards from its end to the first
/// entry written before that day: a visit of it that was written later is seen, one opened before is not. What
/// corrects such an entry, or takes it out of its chart, is written after it, and so is read as well.
fn others(practice: &Practice, visit: u64, day: Date) -> Outcome<Vec<OtherVisit>> {
    let mut entries: Vec<Entry> = Vec::new();
    for at in practice.newest_first() {
        let at = at?;
        let leaf = practice.leaf(&at)?;
        if leaf.written.local_date() < day {
            break;
        }
        let bears = ["visit-opened", "visit-closed", "visit", "correction", "misfiled"];
        if bears.contains(&leaf.kind.as_str()) && leaf.seq != visit {
            entries.push(practice.entry(&at)?);
        }
    }
    entries.reverse();
    let reading = ChartReading::new(practice, &entries);
    let mut ends: BTreeMap<u64, Moment> = BTreeMap::new();
    let mut opened: Vec<(u64, Moment, VisitOpened)> = Vec::new();
    for entry in &entries {
        let read = entry.record.as_ref().and_then(|record| as_it_reads(&reading, entry, record));
        let Some((record, data)) = read else { continue };
        match data {
            Data::VisitOpened(data) if record.happened.start.local_date() == day => {
                opened.push((entry.leaf.seq, record.happened.start, *data));
            }
            Data::VisitClosed(closed) => drop(ends.insert(closed.visit, record.happened.start)),
            Data::Visit(note) => drop(record.happened.end.map(|end| ends.insert(note.visit, end))),
            _ => {}
        }
    }
    let now = practice.now();
    let mut others = Vec::new();
    for (seq, from, data) in opened {
        let until = ends.get(&seq).copied().unwrap_or(now);
        let room = match &data.room {
            Given::Value(room) => Some(room.clone()),
            Given::Absent(_) => None,
        };
        others.extend(data.practitioners.into_iter().map(|practitioner| OtherVisit {
            practitioner,
            room: room.clone(),
            from,
            until,
        }));
    }
    Ok(others)
}
