//! Requests for records as dealings: a request with everything that followed, what the chart itself knows of
//! whoever asks, what stands against answering, and what went out.

use super::chart::{ChartFace, find};
use super::open::{Draft, Entry, Practice};
use super::reading::ChartReading;
use super::release::Released;
use crate::ledger::write::Receipt;
use crate::record::calendar::{LeapDay, age_on};
use crate::record::envelope::RefWhy;
use crate::record::kinds::identity::{Basis, ChartStatus, DecisionMaker, Identity};
use crate::record::kinds::release::{ReleaseBasis, Request, RequestKind, RequestStep, Step};
use crate::record::kinds::request::{Checked, RequestClock};
use crate::record::kinds::{Class, Data, Day, info};
use crate::record::moment::{Date, Moment, plain_date};
use crate::record::reckon::accounting::is_free;
use crate::record::request::authorization::judge;
use crate::record::request::clocks;
use crate::record::request::gate::{Known, OnFile, Stop, stops};
use crate::record::request::standing::Standing;
use crate::record::tables::disclosure::AccountingTable;
use crate::trouble::{Kind, Outcome, Trouble};

/// A request with its chart.
pub struct Dealing {
    /// The chart.
    pub face: ChartFace,
    /// Every entry of the chart.
    pub entries: Vec<Entry>,
    /// The request and its steps, as they read now.
    pub standing: Standing,
}

/// The request with this number, and everything that followed.
///
/// # Errors
/// When there is no such request, or no role of this person opens it.
pub fn dealing(practice: &Practice, seq: u64) -> Outcome<Dealing> {
    let entry = practice.entry_by_seq(seq)?;
    let no_request = || {
        Trouble::input(
            format!("Entry {seq} is no request for records."),
            "Look the number up with `inkfast request list`.",
        )
    };
    let tag = entry.leaf.chart.clone().filter(|_| entry.leaf.kind == "request").ok_or_else(no_request)?;
    let face = find(practice, &tag)?;
    let entries = practice.chart(&tag)?;
    let reading = ChartReading::new(practice, &entries);
    let standing = standing(&entries, &reading, seq).ok_or_else(no_request)?;
    Ok(Dealing { face, entries, standing })
}

/// Every request of a chart, as each stands.
pub fn of_chart(practice: &Practice, entries: &[Entry]) -> Vec<Standing> {
    let reading = ChartReading::new(practice, entries);
    let requests = entries.iter().filter(|entry| entry.leaf.kind == "request");
    requests.filter_map(|entry| standing(entries, &reading, entry.leaf.seq)).collect()
}

/// What an entry says now, corrections made.
fn now(reading: &ChartReading, entry: &Entry) -> Option<Data> {
    reading.now(entry.leaf.seq, entry.record.as_ref()?).read_data().ok()
}

fn standing(entries: &[Entry], reading: &ChartReading, seq: u64) -> Option<Standing> {
    let entry = entries.iter().find(|entry| entry.leaf.seq == seq && !reading.is_misfiled(seq))?;
    let Data::Request(request) = now(reading, entry)? else { return None };
    let mut standing = Standing { seq, request: *request, steps: Vec::new(), releases: Vec::new() };
    for entry in entries.iter().filter(|entry| matches!(&*entry.leaf.kind, "request-step" | "release")) {
        match now(reading, entry) {
            Some(Data::RequestStep(step)) if step.request == seq => {
                standing.steps.push((entry.leaf.seq, *step));
            }
            Some(Data::Release(release)) if release.request == Some(seq) => {
                standing.releases.push(entry.leaf.seq);
            }
            Some(Data::AccountingGiven(given)) if given.request == Some(seq) => {
                standing.releases.push(entry.leaf.seq);
            }
            _ => {}
        }
    }
    Some(standing)
}

/// The clocks of a request about to be taken, and the day that governs.
///
/// # Errors
/// When the adopted rules can't be used.
pub fn reckon(practice: &Practice, request: &Request) -> Outcome<(Vec<RequestClock>, Option<Day>)> {
    let book = practice.rulebook()?;
    let asker =
        request.asker.unwrap_or_else(|| crate::record::request::asker_of(request.kind, &request.relation));
    let clocks = clocks::reckon(&book, request, asker);
    let due = clocks::governing(&clocks).map(|(due, _)| due);
    Ok((clocks, due))
}

impl Dealing {
    /// Everything that stands against answering it at this moment.
    ///
    /// # Errors
    /// When the adopted rules can't be used.
    pub fn stops(&self, practice: &Practice, at: Moment) -> Outcome<Vec<Stop>> {
        Ok(stops(&self.standing, &self.known(practice, at)?))
    }

    fn known(&self, practice: &Practice, at: Moment) -> Outcome<Known> {
        let book = practice.rulebook()?;
        let authorization = match self.standing.authorization() {
            Some((_, read)) => Some(judge(read, &book.tables, at).map_err(|why| {
                Trouble::new(
                    Kind::Refused,
                    format!("The adopted rules can't be used: {why}."),
                    "Nothing was recorded or sent.",
                    "Correct the rules file and adopt it again with `inkfast rules adopt`.",
                )
            })?),
            None => None,
        };
        let list = self.standing.check(Checked::MissingList).map(|(seq, _)| *seq);
        let care = |entry: &&Entry| info(&entry.leaf.kind).is_none_or(|row| row.class == Class::Clinical);
        let written_since_list =
            list.is_some_and(|list| self.entries.iter().filter(care).any(|entry| entry.leaf.seq > list));
        Ok(Known {
            guardian: guardian(practice, self, at)?,
            patient_died: died(&self.entries),
            authorization,
            written_since_list,
        })
    }

    /// Records that the request was answered with this release: its number, the digest of the file, and
    /// what exactly went out.
    ///
    /// # Errors
    /// When it can't be recorded; the release itself stands.
    pub fn answered(
        &self,
        practice: &mut Practice,
        released: &Released,
        despite: Option<String>,
    ) -> Outcome<Receipt> {
        let at = practice.now();
        let what = match self.standing.may_go_out() {
            Some(scope) => scope.words(),
            None => "nothing that was asked".to_string(),
        };
        let late = self.standing.due().filter(|due| due.0 < at.local_date());
        let late =
            late.map_or(String::new(), |due| format!("; after the day it was due, {}", plain_date(due.0)));
        let mut step = step(self.standing.seq, Step::Answered, at.local_date());
        step.words = format!("sent to {}: {what}{late}", self.standing.recipient());
        step.release = Some(released.seq);
        step.digest = Some(released.digest.clone());
        step.despite = despite;
        let mut draft = Draft::new(Some(&self.face.tag), Data::RequestStep(Box::new(step)), at);
        draft.refers = vec![(self.standing.seq, RefWhy::Answers), (released.seq, RefWhy::SeeAlso)];
        practice.append(draft)
    }

    /// What a release that answers it begins with.
    pub fn release_start(&self) -> serde_json::Value {
        let asker = self.standing.asker();
        let request = &self.standing.request;
        let mut start = serde_json::json!({
            "request": self.standing.seq,
            "to": self.standing.recipient(),
            "asked_on": request.received_on.to_string(),
            "basis": asker.basis().word(),
        });
        if let Some(address) = &request.address {
            start["address"] = serde_json::json!(address);
        }
        if let Some((number, _)) = self.standing.steps.iter().rev().find(|(_, step)| {
            step.holds == Some(true)
                && !matches!(step.checked, Some(Checked::Identity | Checked::MissingList))
        }) {
            start["basis_words"] =
                serde_json::json!(format!("{}; checked in entry {number}", asker.lawful_basis()));
        } else if asker.basis() != ReleaseBasis::Patient {
            start["basis_words"] = serde_json::json!(asker.lawful_basis());
        }
        if let Some(fee) = self.standing.fee() {
            start["fee"] = serde_json::json!({ "amount": fee.total, "words": fee.worked_out });
            if let Some(currency) = &fee.currency {
                start["fee"]["currency"] = serde_json::json!(currency);
            }
        }
        start
    }

    /// True where no fee may be asked for this accounting: it is the first in its time.
    ///
    /// # Errors
    /// When the adopted rules can't be used.
    pub fn is_free_accounting(&self, practice: &Practice) -> Outcome<bool> {
        if self.standing.request.kind != RequestKind::Accounting {
            return Ok(false);
        }
        let book = practice.rulebook()?;
        let table = AccountingTable::of(&book.tables).map_err(|why| {
            Trouble::new(
                Kind::Refused,
                why,
                "Nothing was recorded.",
                "Correct the rules and adopt them again.",
            )
        })?;
        let mine = self.standing.request.received_on.0;
        let earlier: Vec<Date> = of_chart(practice, &self.entries)
            .iter()
            .filter(|one| one.request.kind == RequestKind::Accounting && one.seq < self.standing.seq)
            .map(|one| one.request.received_on.0)
            .collect();
        Ok(is_free(mine, &earlier, table.free_every_months))
    }
}

/// A step with nothing in it yet.
pub fn step(request: u64, step: Step, on: Date) -> RequestStep {
    RequestStep {
        request,
        step,
        on: Day(on),
        words: String::new(),
        new_due: None,
        letter_dated: None,
        attachment: None,
        checked: None,
        holds: None,
        rests_on: None,
        names: None,
        authorization: None,
        lacking: Vec::new(),
        void_because: Vec::new(),
        fee: None,
        denial: None,
        release: None,
        digest: None,
        despite: None,
    }
}

/// True where the chart says that the patient has died.
fn died(entries: &[Entry]) -> bool {
    let newest = entries.iter().rev().find_map(|entry| match entry.data() {
        Some(Data::ChartState(state)) => Some(state.status),
        _ => None,
    });
    newest == Some(ChartStatus::Deceased)
}

/// What the chart says of the guardian who asks: the entry the request names, or else the newest one of that
/// name.
fn guardian(practice: &Practice, dealing: &Dealing, at: Moment) -> Outcome<Option<OnFile>> {
    let reading = ChartReading::new(practice, &dealing.entries);
    let request = &dealing.standing.request;
    let same = |a: &str, b: &str| a.trim().to_lowercase() == b.trim().to_lowercase();
    let mut found: Option<(u64, DecisionMaker)> = None;
    let mut identity: Option<Identity> = None;
    for entry in &dealing.entries {
        match now(&reading, entry) {
            Some(Data::DecisionMaker(maker)) => {
                let named = match request.authority_entry {
                    Some(seq) => seq == entry.leaf.seq,
                    None => same(&maker.name, &request.from),
                };
                // A newer entry for the same person holds in the place of the one that was named.
                let newer = found.as_ref().is_some_and(|(_, known)| known.person_id == maker.person_id);
                if named || newer {
                    found = Some((entry.leaf.seq, *maker));
                }
            }
            Some(Data::ChartOpened(opened)) => identity = Some(opened.identity),
            Some(Data::IdentityChanged(changed)) => identity = Some(changed.identity),
            _ => {}
        }
    }
    let Some((entry, maker)) = found else { return Ok(None) };
    let why_not = why_not(practice, &maker, identity.as_ref(), at)?;
    Ok(Some(OnFile { entry, may_receive: why_not.is_none(), why_not }))
}

fn why_not(
    practice: &Practice,
    maker: &DecisionMaker,
    identity: Option<&Identity>,
    at: Moment,
) -> Outcome<Option<String>> {
    let book = practice.rulebook()?;
    let today = at.local_date();
    if !maker.may_receive_records {
        return Ok(Some("it lets them receive no records".to_string()));
    }
    if maker.authority_starts_at.is_some_and(|start| at < start) {
        return Ok(Some("their authority has not begun".to_string()));
    }
    if maker.authority_last_day.is_some_and(|last| last.0 < today) {
        return Ok(Some("their authority has ended".to_string()));
    }
    if maker.superseded_at.is_some_and(|since| since <= at) {
        return Ok(Some("another authority took its place".to_string()));
    }
    let born = identity.and_then(|identity| identity.birth_date.date).map(|day| day.0);
    let majority = i32::try_from(book.coverage.majority_age_years).unwrap_or(i32::MAX);
    let of_age = born.is_some_and(|born| age_on(born, today, LeapDay::Mar1) >= majority);
    if maker.basis == Basis::Parent && of_age {
        return Ok(Some("the patient is of age".to_string()));
    }
    if !maker.authority_on_file && maker.basis != Basis::Parent {
        return Ok(Some("the paper it rests on was not seen".to_string()));
    }
    Ok(None)
}
