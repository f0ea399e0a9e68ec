//! The records pass to another keeper: handed over by the old one, or taken over with the recovery sheet when the old
//! one can't. Either way the ledger goes on unbroken, and an entry says who, when, why and where.

use super::day::slip_words;
use super::open::{Draft, Practice};
use super::place::Place;
use super::renewal::{listed, without_custody};
use super::session::Session;
use super::setup::{new_staff_identity, put_staff, staff_key};
use super::staff::{only_custodian, reseal_roles};
use crate::ledger::write::Receipt;
use crate::record::closing::{ClosingEvent, NoticeDue, notices};
use crate::record::kinds::register::{HandOver, KeyRole, Keys, OfficeFile, OfficeKind, Staff, StaffKey};
use crate::record::kinds::{Data, Day};
use crate::record::moment::Date;
use crate::seal::age_file::Identity;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::world::World;

/// What a keeper of the records opens.
const KEEPS: [KeyRole; 3] = [KeyRole::Desk, KeyRole::Clinical, KeyRole::Custodian];

/// Title of the office paper that says that a notice was given.
const NOTICE_GIVEN: &str = "Notice given: ";

/// How the records pass on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Passing {
    /// Why, by one word.
    pub event: ClosingEvent,
    /// Why, in words.
    pub because: String,
    /// Day of the hand-over.
    pub on: Date,
    /// Where the records are kept from then on.
    pub kept_at: String,
    /// Who was told already.
    pub told: Vec<String>,
}

impl Passing {
    fn entry(&self, practice: &Practice, to_name: String, to_code: &str) -> Outcome<HandOver> {
        Ok(HandOver {
            to_name,
            to_code: Some(to_code.to_string()),
            on: Day(self.on),
            because: format!("{}: {}", self.event.word(), self.because),
            entries: slip_words(practice)?.number,
            place: self.kept_at.clone(),
            told: self.told.clone(),
        })
    }
}

/// The keeper here hands the records to somebody on the roster, who from then on opens everything and changes keys;
/// the keeper here changes none any more.
///
/// # Errors
/// When the person here does not keep the records, or the other has no keys or has left.
pub fn hand_over(practice: &mut Practice, to: &str, passing: &Passing) -> Outcome<Receipt> {
    only_custodian(practice)?;
    practice.begin_writing()?;
    let (line, key) = takes_over(practice, to)?;
    let me = practice.session.me.code.clone();
    if me == line.code {
        return Err(Trouble::input(
            "The records are with you already.",
            "Name who takes them over with --to.",
        ));
    }
    let mut staff = vec![key];
    staff.extend(practice.keys().newest(&me).map(|mine| without_custody(mine, mine.until)));
    pass(practice, staff, None, passing.entry(practice, line.name.clone(), &line.code)?)
}

/// Somebody takes the records over with the recovery sheet. `practice` is opened with [`Session::recovered`].
/// Whoever is not on the roster comes with a line of their own and a passphrase.
///
/// # Errors
/// When the code is not on the roster and no line was given, or the entries can't be written.
pub fn take_over(
    practice: &mut Practice,
    to: &str,
    new: Option<(Staff, &str, u8)>,
    passing: &Passing,
) -> Outcome<Receipt> {
    only_custodian(practice)?;
    practice.begin_writing()?;
    let known = practice.keys().newest(to).is_some();
    let (key, name, line) = match new {
        Some((line, passphrase, work)) if !known => {
            let me = new_staff_identity(&practice.world, &practice.place.root, to)?;
            put_staff(&practice.world, &practice.place, &me, passphrase, work)?;
            (staff_key(&me, KEEPS.to_vec(), Day(line.on_roster_from.0)), line.name.clone(), Some(line))
        }
        _ => {
            let (line, key) = takes_over(practice, to)?;
            (key, line.name, None)
        }
    };
    let entry = passing.entry(practice, name, to)?;
    pass(practice, vec![key], line, entry)
}

/// The roster line of who takes over, and their key with all that a keeper opens.
fn takes_over(practice: &Practice, to: &str) -> Outcome<(Staff, StaffKey)> {
    let key = practice.keys().newest(to).filter(|key| key.until.is_none());
    let found = practice.staff_line(to).cloned().zip(key.map(listed));
    let (line, key) = found.ok_or_else(|| {
        Trouble::new(
            Kind::NotFound,
            "Nobody who works here, and stays, has this staff code.",
            "Nothing was written.",
            "Add them first with `inkfast roster add`, with a passphrase of their own.",
        )
    })?;
    let mut roles = key.roles.clone();
    roles.extend(KEEPS.into_iter().filter(|role| !key.roles.contains(role)));
    Ok((line, StaffKey { roles, ..key }))
}

fn pass(
    practice: &mut Practice,
    staff: Vec<StaffKey>,
    line: Option<Staff>,
    entry: HandOver,
) -> Outcome<Receipt> {
    let keys = Keys { staff, roles: Vec::new(), because: None };
    let mut group = vec![Data::Keys(Box::new(keys))];
    group.extend(line.map(|line| Data::Staff(Box::new(line))));
    group.push(Data::HandOver(Box::new(entry)));
    let now = practice.now();
    let kept = practice.append_group(group.into_iter().map(|d| Draft::new(None, d, now)).collect(), None)?;
    reseal_roles(practice)?;
    kept.into_iter().next_back().ok_or_else(|| Trouble::damaged("The hand-over was not kept."))
}

/// Opens the store for writing with what was typed from the recovery sheet.
///
/// # Errors
/// When the sheet is not of this store, or can't name a keeper.
pub fn open_with_sheet(world: &World, place: &Place, sheet: &Identity, station: &str) -> Outcome<Practice> {
    let session = Session::recovered(world, place, sheet)?;
    Practice::open_writing(world, place, session, station)
}

/// The newest hand-over: number, event where it names one, and day.
///
/// # Errors
/// When the register can't be read.
pub fn newest(practice: &Practice) -> Outcome<Option<(u64, Option<ClosingEvent>, Date)>> {
    let entries = practice.register_of(&["hand-over"])?;
    Ok(entries.iter().rev().find_map(|entry| match entry.data() {
        Some(Data::HandOver(over)) => {
            let event = over.because.split_once(':').and_then(|(word, _)| ClosingEvent::from_word(word));
            Some((entry.leaf.seq, event, over.on.0))
        }
        _ => None,
    }))
}

/// The notices that the adopted rules ask for on an event, each with whether it was given since.
///
/// # Errors
/// When the register can't be read, or the adopted rules can't be used.
pub fn due(practice: &Practice, event: ClosingEvent, day: Date) -> Outcome<Vec<NoticeDue>> {
    let mut due = notices(&practice.rulebook()?.closing, event, day);
    for entry in practice.register_of(&["office-file"])? {
        let Some(Data::OfficeFile(paper)) = entry.data() else { continue };
        let Some(id) = paper.title.strip_prefix(NOTICE_GIVEN) else { continue };
        // A notice for an earlier hand-over is none for this one.
        let about = paper.received_on.is_some_and(|on| on.0 == day);
        if let Some(one) = due.iter_mut().find(|one| about && one.rule.id == id) {
            one.done = Some(entry.leaf.seq);
        }
    }
    Ok(due)
}

/// The notices of the newest hand-over that were not given.
///
/// # Errors
/// As [`due`].
pub fn waiting(practice: &Practice) -> Outcome<Vec<NoticeDue>> {
    let Some((_, Some(event), day)) = newest(practice)? else { return Ok(Vec::new()) };
    let mut waits = due(practice, event, day)?;
    waits.retain(|one| one.done.is_none());
    Ok(waits)
}

/// Records that a notice was given: in the office file, with the day of the hand-over it is about.
///
/// # Errors
/// When there is no hand-over or no such notice, or the person here does not keep the records.
pub fn given(practice: &mut Practice, id: &str, words: &str) -> Outcome<Receipt> {
    only_custodian(practice)?;
    let waits = waiting(practice)?;
    let day = newest(practice)?.map(|(_, _, day)| day);
    let (Some(_), Some(day)) = (waits.iter().find(|one| one.rule.id == id), day) else {
        return Err(Trouble::new(
            Kind::NotFound,
            "No notice of this name is open.",
            "Nothing was recorded.",
            "Look at `inkfast custody notices`.",
        ));
    };
    let paper = OfficeFile {
        kind: OfficeKind::Other,
        title: format!("{NOTICE_GIVEN}{id}"),
        words: words.to_string(),
        chart_no: None,
        received_on: Some(Day(day)),
        due: None,
        attachments: Vec::new(),
        of: None,
        closed: Some(true),
        request: None,
        original_at: None,
    };
    let now = practice.now();
    practice.append(Draft::new(None, paper.into(), now))
}
