//! Entries made ready for the facts: opened, with the corrections that count laid over and with
//! what belongs to another chart marked.
//!
//! An entry that is wrong never helps and never stops restricting. So a misfiled entry, and an
//! entry as it read before a correction, keep what they forbid and lose what they allow: to lift
//! it takes an entry that says so (an item closed, a reaction closed, a new consent).

use crate::practice::open::Entry;
use crate::record::coverage::time::{Now, Place, place};
use crate::record::kinds::{Data, info, title};
use crate::record::moment::Moment;
use crate::trouble::{Kind, Outcome, Trouble};
use serde_json::Value;

/// Kinds of a chart that the facts are made from.
pub const CHART: &[&str] = &[
    "chart-opened",
    "identity-changed",
    "decision-maker",
    "capacity",
    "allergy-review",
    "alert",
    "chart-state",
    "joined",
    "misfiled",
    "consent",
    "rest-of-earlier",
    "end-event",
    "withdrawal",
    "pause",
    "standing-refusal",
    "asked",
    "own-answer",
    "condition-met",
    "emergency",
    "visit-opened",
    "identity-confirmed",
    "visit-closed",
    "contact",
    "hold",
    "hold-lifted",
    "screen",
    "screen-item-closed",
    "change",
    "written-reason",
    "measure",
    "visit",
    "reaction",
    "reaction-closed",
    "correction",
];

/// Kinds outside any chart that the facts are made from.
pub const REGISTER: &[&str] = &["staff", "rules", "clock-remark", "hold", "hold-lifted", "chart-disposed"];

/// Fields of a consent whose corrections stand in the facts as such.
pub const CONSENT_FIELDS: [&str; 5] = ["side", "techniques", "regions", "excluded_regions", "valid_until"];

/// One entry made ready.
pub struct Item {
    /// Number in the ledger.
    pub seq: u64,
    /// When it happened.
    pub at: Moment,
    /// When it ended, where it took time.
    pub end: Option<Moment>,
    /// When it was written.
    pub written: Moment,
    /// Code of the author.
    pub author: String,
    /// True when an entry says that this one belongs to another chart.
    pub misfiled: bool,
    /// What it says at the moment asked about; none when a correction made it unreadable.
    pub data: Option<Data>,
    /// What it said before corrections, or would say by a misfiled one.
    pub before: Vec<Data>,
    /// Corrections of a consent that the facts list, in the order in which they were written.
    pub held: Vec<Amend>,
}

/// A correction of one field of an entry.
#[derive(Clone)]
pub struct Amend {
    /// Number of the correction.
    pub seq: u64,
    /// When it was written.
    pub written: Moment,
    /// True when the correction belongs to another chart.
    pub misfiled: bool,
    /// The field (JSON Pointer).
    pub field: String,
    /// What it should say; none when that can no longer be read.
    pub is: Option<Value>,
}

impl Item {
    /// The id of the entry in facts and answers.
    pub fn id(&self) -> String {
        id(self.seq)
    }

    /// Its place in the order of what happened.
    pub fn place(&self) -> Place {
        place(self.at, self.seq)
    }

    /// What it says, as far as it may help.
    pub fn helping(&self) -> Option<&Data> {
        self.data.as_ref().filter(|_| !self.misfiled)
    }

    /// Everything it says or said, for what restricts.
    pub fn restricting(&self) -> impl Iterator<Item = &Data> {
        self.data.iter().chain(&self.before)
    }

    /// Restrictions made of every reading, each different one once. `make` gets the id to use:
    /// the entry's own, and for readings beside it one that says so.
    pub fn restrictions<T: PartialEq>(&self, make: impl Fn(&Data, String) -> Option<T>) -> Vec<T> {
        let (mut plain, mut made): (Vec<T>, Vec<T>) = (Vec::new(), Vec::new());
        for (index, data) in self.restricting().enumerate() {
            let Some(one) = make(data, self.id()) else { continue };
            if plain.contains(&one) {
                continue;
            }
            plain.push(one);
            let id = if index == 0 { self.id() } else { format!("{}-before-{index}", self.id()) };
            made.extend(make(data, id));
        }
        made
    }

    fn amend(&mut self, amend: &Amend, now: &Now) {
        let Some(current) = &self.data else { return };
        let first = amend.field.trim_start_matches('/').split('/').next().unwrap_or_default();
        if matches!(current, Data::Consent(_)) && CONSENT_FIELDS.contains(&first) {
            self.held.push(amend.clone());
            return;
        }
        let counts =
            if amend.misfiled { now.reached(amend.written) } else { now.allows(amend.written, amend.seq) };
        if !counts {
            return;
        }
        let corrected = corrected(current, amend);
        if amend.misfiled {
            self.before.extend(corrected);
            return;
        }
        if let Some(first) = std::mem::replace(&mut self.data, corrected) {
            self.before.push(first);
        }
    }
}

/// The id of an entry by its number.
pub fn id(seq: u64) -> String {
    format!("e{seq}")
}

fn corrected(current: &Data, amend: &Amend) -> Option<Data> {
    let mut value = current.to_value().ok()?;
    set(&mut value, &amend.field, amend.is.as_ref()?)?;
    let read = Data::read(current.kind(), current.edition(), &value).ok()?;
    (!matches!(read, Data::Unknown { .. })).then_some(read)
}

/// Sets what a JSON Pointer names, as the reading view does; taking away what is absent changes nothing.
/// None when the pointer names nothing that could be set.
pub fn set(value: &mut Value, pointer: &str, is: &Value) -> Option<()> {
    if is.is_null() && value.pointer(pointer).is_none() {
        let (parent, _) = pointer.rsplit_once('/')?;
        return value.pointer(parent).map(|_| ());
    }
    crate::record::fields::set(value, pointer, is)
}

/// The entries of one chart, or of the register, that the facts are made from.
pub struct Items {
    /// The moment asked about.
    pub now: Now,
    /// In the order of their numbers.
    pub all: Vec<Item>,
}

impl Items {
    /// Makes entries ready.
    ///
    /// # Errors
    /// [`Kind::Locked`] when one of the kinds looked at could not be opened, [`Kind::TooNew`] when one is of a
    /// kind or edition this program does not know, [`Kind::Damaged`] when one can't be read.
    pub fn read(entries: &[Entry], kinds: &[&str], now: Now) -> Outcome<Items> {
        if let Some(entry) = entries.iter().find(|e| info(&e.leaf.kind).is_none()) {
            return Err(too_new(entry));
        }
        let wanted: Vec<&Entry> = entries.iter().filter(|e| kinds.contains(&e.leaf.kind.as_str())).collect();
        let locked: Vec<&Entry> = wanted.iter().copied().filter(|e| e.record.is_none()).collect();
        if let Some(first) = locked.first() {
            return Err(could_not_check(first, locked.len()));
        }
        let mut all = wanted.into_iter().map(item).collect::<Outcome<Vec<Item>>>()?;
        all.sort_by_key(|item| item.seq);
        mark_misfiled(&mut all);
        correct(&mut all, &now);
        mark_misfiled(&mut all);
        Ok(Items { now, all })
    }

    /// When something that began at `from` ended: the earliest end that an entry that helps states.
    /// An end before the beginning is none.
    pub fn end_of(&self, from: Moment, ends: impl Fn(&Item, &Data) -> Option<Moment>) -> Option<Moment> {
        let stated = self.all.iter().filter_map(|item| ends(item, item.helping()?));
        stated.filter(|end| end.minute() >= from.minute()).min()
    }

    /// The entry that happened last among those that help, happened by the moment asked about and are wanted.
    pub fn newest<'a, T>(&'a self, wanted: impl Fn(&'a Data) -> Option<T>) -> Option<(&'a Item, T)> {
        let helping = self.all.iter().filter_map(|item| Some((item, wanted(item.helping()?)?)));
        helping.filter(|(item, _)| self.now.reached(item.at)).max_by_key(|(item, _)| item.place())
    }
}

fn item(entry: &Entry) -> Outcome<Item> {
    let damaged =
        || Trouble::damaged(format!("Entry {} can't be read as what its number says it is.", entry.leaf.seq));
    let record = entry.record.as_ref().filter(|r| r.kind == entry.leaf.kind).ok_or_else(damaged)?;
    let data = match Data::read(&record.kind, record.edition, &record.data) {
        Ok(Data::Unknown { .. }) => return Err(too_new(entry)),
        Ok(data) => data,
        Err(_) => return Err(damaged()),
    };
    Ok(Item {
        seq: entry.leaf.seq,
        at: record.happened.start,
        end: record.happened.end,
        written: record.written,
        author: record.author.code.clone(),
        misfiled: false,
        data: Some(data),
        before: Vec::new(),
        held: Vec::new(),
    })
}

const NOT_A_YES: &str = "This is not a yes. Nothing was changed or recorded.";

fn could_not_check(first: &Entry, count: usize) -> Trouble {
    let (seq, what) = (first.leaf.seq, title(&first.leaf.kind));
    Trouble::new(
        Kind::Locked,
        format!(
            "What is covered could not be checked: {count} of the entries it rests on can't be opened by you (the first is entry {seq}, {what})."
        ),
        NOT_A_YES,
        "Ask somebody whose role opens the whole chart to put the question.",
    )
}

fn too_new(entry: &Entry) -> Trouble {
    let seq = entry.leaf.seq;
    Trouble::new(
        Kind::TooNew,
        format!(
            "What is covered could not be checked: entry {seq} was written by a later program than this one."
        ),
        NOT_A_YES,
        "Put the question with the later program.",
    )
}

fn mark_misfiled(all: &mut [Item]) {
    let marked: Vec<u64> = all
        .iter()
        .flat_map(Item::restricting)
        .filter_map(|data| if let Data::Misfiled(m) = data { Some(m.entry) } else { None })
        .collect();
    for item in all.iter_mut().filter(|item| marked.contains(&item.seq)) {
        item.misfiled = true;
    }
}

/// Lays every correction over what it corrects. A correction stands behind its target and may have
/// been corrected itself, so the last entries go first.
fn correct(all: &mut [Item], now: &Now) {
    for at in (0..all.len()).rev() {
        let (before, behind) = all.split_at_mut(at + 1);
        let Some(target) = before.last_mut() else { continue };
        let mut own: Vec<Amend> = behind.iter().filter_map(|item| amend_of(item, target.seq)).collect();
        own.sort_by_key(|amend| place(amend.written, amend.seq));
        for amend in &own {
            target.amend(amend, now);
        }
    }
}

fn amend_of(item: &Item, target: u64) -> Option<Amend> {
    let correction = item.restricting().find_map(|data| match data {
        Data::Correction(c) if c.target == target => Some(c),
        _ => None,
    })?;
    let readable = matches!(&item.data, Some(Data::Correction(c)) if c.target == target);
    Some(Amend {
        seq: item.seq,
        written: item.written,
        misfiled: item.misfiled,
        field: correction.field.clone(),
        is: readable.then(|| correction.is.clone()),
    })
}
