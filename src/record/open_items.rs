//! What is still open in a chart, with the day it is due and how it is closed: calls to make, answers that
//! have not come, reactions, consents that lapse, visits left open. Plain data in, a list out.
//!
//! What a role does not open can't be told from what is in it: for such entries the list says only that
//! something of the care itself waits.

mod agreed;
mod care;
mod dealings;
#[cfg(test)]
mod tests;

use super::calendar::days_from;
use super::coverage::facts::Policy;
use super::kinds::common::Day;
use super::kinds::identity::ChartStatus;
use super::kinds::{Data, misfiled_entries};
use super::moment::{Date, Moment};
use super::rulebook::ListRules;
use super::vocab::words;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

words! {
    /// What sort of thing is open.
    ItemKind {
        /// An emergency declared and not ended.
        Emergency = "emergency",
        /// A visit that was left open on an earlier day, or is open now.
        VisitOpen = "visit-open",
        /// A pause or stop without a yes to going on, in a visit that is still open.
        Pause = "pause",
        /// An adverse reaction that is not closed.
        Reaction = "reaction",
        /// Something of the care itself, which this role does not open.
        Care = "care",
        /// A positive item of a screen that nobody settled.
        RedFlag = "red-flag",
        /// A doubt about capacity that is not resolved.
        Capacity = "capacity",
        /// Somebody is to be called back.
        CallBack = "call-back",
        /// The patient did not come, or cancelled late.
        NoShow = "no-show",
        /// A referral without an answer.
        Referral = "referral",
        /// A request for records that is not answered.
        Request = "request",
        /// A request for amendment that is not decided.
        Amendment = "amendment",
        /// Unsigned work.
        Draft = "draft",
        /// A re-examination that is due.
        ReExamination = "re-examination",
        /// A screen that is to be asked again.
        Screen = "screen",
        /// A consent that ends soon, or has ended while care goes on.
        ConsentLapses = "consent-lapses",
        /// A narrower consent, and nobody asked about the rest of the earlier one.
        RestNotAsked = "rest-not-asked",
        /// A birthday that ends what others decided for the patient.
        ComesOfAge = "comes-of-age",
        /// The authority of a decision-maker ends.
        AuthorityEnds = "authority-ends",
        /// The openings of a month were not reviewed.
        OpeningsReview = "openings-review",
        /// A chart was opened in an emergency, and nobody else has looked at why.
        EmergencyOpening = "emergency-opening",
        /// A licence on the roster is over, or ends soon.
        Licence = "licence",
        /// A notice that a change of the keeper of the records asks for.
        CustodyNotice = "custody-notice",
        /// New keys were begun and not finished.
        KeysUnfinished = "keys-unfinished",
        /// A safe copy of the store is due.
        SafeCopy = "safe-copy",
    }
}

impl ItemKind {
    /// The heading it stands under on a list.
    pub fn heading(self) -> &'static str {
        match self {
            ItemKind::Emergency => "Emergencies not ended",
            ItemKind::VisitOpen => "Visits left open",
            ItemKind::Pause => "Pauses without a yes to going on",
            ItemKind::Reaction => "Adverse reactions open",
            ItemKind::Care => "Something of the care itself (ask whoever treats)",
            ItemKind::RedFlag => "Positive screen items not settled",
            ItemKind::Capacity => "Doubts about capacity",
            ItemKind::CallBack => "To be called back",
            ItemKind::NoShow => "Did not come",
            ItemKind::Referral => "Answers to referrals awaited",
            ItemKind::Request => "Requests for records",
            ItemKind::Amendment => "Requests for amendment",
            ItemKind::Draft => "Unsigned drafts",
            ItemKind::ReExamination => "Re-examinations due",
            ItemKind::Screen => "Screens due",
            ItemKind::ConsentLapses => "Consents that end",
            ItemKind::RestNotAsked => "Rest of an earlier consent not asked about",
            ItemKind::ComesOfAge => "Coming of age",
            ItemKind::AuthorityEnds => "Authority of a decision-maker ends",
            ItemKind::OpeningsReview => "Openings of charts to be reviewed",
            ItemKind::EmergencyOpening => "Opened in an emergency, to be reviewed",
            ItemKind::Licence => "Licences that run out",
            ItemKind::CustodyNotice => "Notices: the records pass to somebody else",
            ItemKind::KeysUnfinished => "New keys not finished",
            ItemKind::SafeCopy => "Safe copies due",
        }
    }

    /// True for what is listed before it is due, because it takes preparing.
    pub fn looks_ahead(self) -> bool {
        use ItemKind::{
            Amendment, AuthorityEnds, ComesOfAge, ConsentLapses, CustodyNotice, Licence, Request,
        };
        matches!(
            self,
            ConsentLapses | ComesOfAge | AuthorityEnds | Request | Amendment | Licence | CustodyNotice
        )
    }
}

/// One thing that is open.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OpenItem {
    /// What sort of thing.
    pub kind: ItemKind,
    /// Number of the chart; null outside any chart.
    pub chart: Option<String>,
    /// Number of the entry it stems from; null for a draft.
    pub entry: Option<u64>,
    /// Day it is due; null where none is set.
    pub due: Option<Day>,
    /// In plain words.
    pub words: String,
    /// How it is closed: the command.
    pub remedy: String,
}

impl OpenItem {
    /// True when it was due before this day.
    pub fn is_overdue(&self, today: Date) -> bool {
        self.due.is_some_and(|due| due.0 < today)
    }

    /// True when it belongs on the list of this day: due, without a day, or looked at ahead.
    pub fn matters_on(&self, today: Date) -> bool {
        self.kind.looks_ahead() || self.due.is_none_or(|due| due.0 <= today)
    }
}

/// An entry of a chart as far as it is seen: its head always, its data where the role opens it.
#[derive(Debug, Clone)]
pub struct Seen {
    /// Number in the ledger.
    pub seq: u64,
    /// Kind, from the leaf.
    pub kind: String,
    /// When it happened; when it was written, where the role does not open it.
    pub at: Moment,
    /// Data, corrections laid over; none where the role does not open it.
    pub data: Option<Data>,
}

/// A chart as far as it is seen.
#[derive(Debug, Clone, Copy)]
pub struct ChartSeen<'a> {
    /// Number of the chart.
    pub number: &'a str,
    /// The patient's birth date, where it is exact and opened.
    pub born: Option<Date>,
    /// Its entries in the order of their numbers; kinds in [`KINDS`] at least.
    pub entries: &'a [Seen],
}

/// What the list goes by.
#[derive(Debug, Clone, Copy)]
pub struct Rules<'a> {
    /// Days ahead, and days until something is due.
    pub lists: &'a ListRules,
    /// Ages and how long consents last.
    pub coverage: &'a Policy,
    /// The day the list is for.
    pub today: Date,
}

/// Kinds of entries the list is made from.
pub const KINDS: &[&str] = &[
    "chart-opened",
    "identity-changed",
    "decision-maker",
    "capacity",
    "chart-state",
    "misfiled",
    "consent",
    "rest-of-earlier",
    "end-event",
    "withdrawal",
    "pause",
    "emergency",
    "visit-opened",
    "visit-closed",
    "contact",
    "referral",
    "referral-answer",
    "request",
    "request-step",
    "release",
    "accounting-given",
    "amendment-request",
    "amendment-decision",
    "screen",
    "screen-item-closed",
    "visit",
    "reaction",
    "reaction-rechecked",
    "reaction-closed",
    "correction",
];

/// Everything open in a chart, most pressing first. A chart that was closed, or whose patient died, keeps
/// only what others wait for: requests, amendments, and work left unfinished.
pub fn open_items(chart: &ChartSeen<'_>, rules: &Rules<'_>) -> Vec<OpenItem> {
    let misfiled = misfiled_entries(chart.entries.iter().filter_map(|e| e.data.as_ref()));
    let kept: Vec<Seen> = chart.entries.iter().filter(|e| !misfiled.contains(&e.seq)).cloned().collect();
    let looked = Looked { number: chart.number, born: chart.born, entries: &kept, rules };
    let mut items = dealings::requests(&looked);
    items.extend(agreed::unfinished(&looked));
    if looked.is_open() {
        items.extend(dealings::contacts(&looked));
        items.extend(dealings::referrals(&looked));
        items.extend(care::items(&looked));
        items.extend(agreed::consents(&looked));
        items.extend(agreed::deciding(&looked));
    }
    sort(&mut items);
    items
}

/// Most pressing first: by what it is, then by the day it is due, then by its entry.
pub fn sort(items: &mut [OpenItem]) {
    items.sort_by(|a, b| {
        let key = |item: &OpenItem| (item.kind, item.due.map_or(Date::MAX, |d| d.0), item.entry);
        key(a).cmp(&key(b)).then_with(|| a.chart.cmp(&b.chart))
    });
}

/// A chart being looked at.
struct Looked<'a> {
    number: &'a str,
    born: Option<Date>,
    entries: &'a [Seen],
    rules: &'a Rules<'a>,
}

impl Looked<'_> {
    fn is_open(&self) -> bool {
        let newest = self.entries.iter().filter_map(|e| match &e.data {
            Some(Data::ChartState(state)) => Some((e.at, e.seq, state.status)),
            _ => None,
        });
        newest.max_by_key(|(at, seq, _)| (*at, *seq)).is_none_or(|(_, _, status)| status == ChartStatus::Open)
    }

    /// Entries with their data, where it is opened.
    fn opened(&self) -> impl DoubleEndedIterator<Item = (&Seen, &Data)> {
        self.entries.iter().filter_map(|e| Some((e, e.data.as_ref()?)))
    }

    fn item(&self, kind: ItemKind, entry: u64, due: Option<Date>, words: String, remedy: String) -> OpenItem {
        let number = Some(self.number.to_string());
        OpenItem { kind, chart: number, entry: Some(entry), due: due.map(Day), words, remedy }
    }
}

/// So many days after a day.
fn after(day: Date, days: u32) -> Date {
    days_from(day, i64::from(days))
}

/// So many days before a day.
fn days_before(day: Date, days: u32) -> Date {
    days_from(day, -i64::from(days))
}
