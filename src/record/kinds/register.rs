//! What concerns the whole register: who works here, under which rules, with which keys, and
//! what was noticed about the clock, the copies and the day's end. None of it names a patient.

use super::common::Day;
use crate::record::moment::Moment;
use crate::record::vocab::{Technique, words};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The first entry of a register.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RegisterOpened {
    /// Name of the practice as patients know it.
    pub practice: String,
    /// Where the practice is.
    pub address: String,
    /// State, province or territory whose rules apply.
    pub territory: String,
    /// The board or body that licenses it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub regulator: Option<String>,
    /// Code of the person who keeps the register.
    pub custodian: String,
    /// The clock used, in words: offset from UTC and summer time.
    pub clock: String,
    /// The rooms where people are treated.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub rooms: Vec<String>,
    /// Hours the practice is open.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub opening_hours: Vec<OpeningHours>,
    /// Why this register begins, where an earlier one existed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub began_because: Option<String>,
}

/// Hours on one day of the week.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OpeningHours {
    /// Day of the week.
    pub day: Weekday,
    /// Opening time, 24-hour HH:MM.
    pub from: String,
    /// Closing time, 24-hour HH:MM.
    pub until: String,
}

words! {
    /// A day of the week.
    Weekday {
        Monday = "monday", Tuesday = "tuesday", Wednesday = "wednesday", Thursday = "thursday",
        Friday = "friday", Saturday = "saturday", Sunday = "sunday",
    }
}

/// Public keys of the people and roles of the practice. Holds nothing secret; it is never sealed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Keys {
    /// Keys of people.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub staff: Vec<StaffKey>,
    /// Recipients of the roles.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub roles: Vec<RoleKey>,
    /// Why the keys changed: new colleague, left, lost, passphrase forgotten.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub because: Option<String>,
}

/// The public keys of one person.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StaffKey {
    /// Staff code.
    pub code: String,
    /// What the person may open.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub roles: Vec<KeyRole>,
    /// age recipient (age1...).
    pub recipient: String,
    /// Ed25519 verifier key, C2SP signed-note form (name+hash+base64).
    pub vkey: String,
    /// First day the signature counts.
    pub from: Day,
    /// Last day the signature counts; open when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<Day>,
}

/// The recipient entries are sealed to for one role.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RoleKey {
    /// The role.
    pub role: KeyRole,
    /// age recipient (age1...).
    pub recipient: String,
    /// First day it is sealed to.
    pub from: Day,
    /// Last day it is sealed to; open when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<Day>,
}

words! {
    /// What a key opens: `desk` who-and-when, `clinical` everything, `auditor` nothing but still verifies all, `custodian` may also change keys, `recovery` the paper sheet.
    KeyRole {
        Desk = "desk", Clinical = "clinical", Auditor = "auditor", Custodian = "custodian",
        Recovery = "recovery",
    }
}

/// The roster line of one person. A later entry with the same code replaces it from its first day on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Staff {
    /// Staff code; the practitioner id wherever one is named.
    pub code: String,
    /// Full name.
    pub name: String,
    /// The trade's word: chiropractor, massage-therapist, desk, ...
    pub role: String,
    /// Sex, where patients may ask for it; absent when not stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sex: Option<Sex>,
    /// Licence number as issued.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub licence_no: Option<String>,
    /// Last day the licence holds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub licence_last_day: Option<Day>,
    /// First day on the roster.
    pub on_roster_from: Day,
    /// Last day on the roster; open when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on_roster_last_day: Option<Day>,
    /// Techniques licence and practice permit.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub techniques_permitted: Vec<Technique>,
    /// Initials as written on paper.
    pub initials: String,
    /// Code of the supervising person.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub supervisor: Option<String>,
    /// Other duties: records clerk, second signer, custodian.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub desk_duties: Vec<String>,
    /// Why the line changed: joined, licence renewed, left.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub because: Option<String>,
}

words! {
    /// Sex as the roster states it.
    Sex {
        Female = "female", Male = "male",
    }
}

/// Rules adopted by the practice. The whole document is kept, so an old answer can be checked by the rules of its day.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Rules {
    /// Name of the rule set.
    pub name: String,
    /// Edition, as quoted by every answer.
    pub edition: String,
    /// First day it applies.
    pub effective: Day,
    /// Code of who adopted it.
    pub adopted_by: String,
    /// Where the rules come from and the date that was read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<String>,
    /// Edition it replaces.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub replaces: Option<String>,
    /// The rules themselves; member `coverage` holds the policy values the coverage question uses.
    pub document: serde_json::Value,
}

/// A text patients are given or sign, in one edition and one language.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Wording {
    /// Code of this edition, as consents quote it.
    pub code: String,
    /// Title as printed.
    pub title: String,
    /// The whole text.
    pub text: String,
    /// Language tag (BCP 47).
    pub language: String,
    /// Code of the edition it replaces.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub replaces: Option<String>,
    /// First day it is used.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub effective: Option<Day>,
    /// What it is for: consent, privacy notice, exercise sheet, letter.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub use_for: Vec<String>,
}

/// Something was wrong with a station's clock. Nothing is re-stamped.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ClockRemark {
    /// Whether the remark opens or settles the matter, or both at once.
    pub state: ClockState,
    /// Number of the remark that this one settles.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub of: Option<u64>,
    /// The station whose clock was wrong.
    pub at_station: String,
    /// What was wrong, by how much, and how it was noticed.
    pub words: String,
    /// Seconds the clock was ahead (+) or behind (-).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seconds_wrong: Option<i64>,
    /// From when it was wrong, by the right clock.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wrong_from: Option<Moment>,
    /// Until when it was wrong, by the right clock.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wrong_until: Option<Moment>,
    /// Numbers of the entries written by that clock.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub covers: Vec<u64>,
}

words! {
    /// State of a clock remark.
    ClockState {
        Opened = "opened", Closed = "closed", OpenedAndClosed = "opened-and-closed",
    }
}

/// The end of a working day, with what the day slip says.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DayClose {
    /// The day that is closed.
    pub day: Day,
    /// First entry of the day; absent on a day without entries.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub first: Option<u64>,
    /// Last entry before this one.
    pub last: u64,
    /// How many entries the day has.
    pub entries: u64,
    /// How many of each kind.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub by_kind: Vec<KindCount>,
    /// The words printed on the day slip.
    pub slip_words: String,
    /// Where the slip was kept: day book page, second person.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub slip_kept: Option<String>,
    /// Drafts left unsigned.
    pub unfinished: u32,
    /// Remarks on the day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
}

/// How many entries of one kind.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct KindCount {
    /// The kind word.
    pub kind: String,
    /// How many.
    pub count: u64,
}

/// The store was behind its outside copy and the owner records why before writing goes on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BehindOutsideCopy {
    /// Entries the store held.
    pub store_entries: u64,
    /// Entries the outside copy vouches for.
    pub outside_entries: u64,
    /// What happened: restored from which copy, why.
    pub because: String,
    /// What is known to be missing, in words.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lost: Vec<String>,
    /// Code of who found it.
    pub found_by: String,
}

/// A paper of the office: attorney letters, incident and insurer reports, staff matters. Never in a patient's export.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OfficeFile {
    /// What sort of matter.
    pub kind: OfficeKind,
    /// Title of the matter.
    pub title: String,
    /// What it is about.
    pub words: String,
    /// Chart number concerned, if one is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub chart_no: Option<String>,
    /// Day it came in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub received_on: Option<Day>,
    /// Day an answer is due.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub due: Option<Day>,
    /// Papers kept with it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub attachments: Vec<OfficePaper>,
    /// Number of the earlier entry of the same matter.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub of: Option<u64>,
    /// True when the matter is closed by this entry.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub closed: Option<bool>,
    /// Number of the request for records it belongs to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub request: Option<u64>,
    /// Where the paper itself is kept.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub original_at: Option<String>,
}

words! {
    /// Sort of office matter.
    OfficeKind {
        AttorneyLetter = "attorney-letter", IncidentReport = "incident-report",
        InsurerReport = "insurer-report", StaffMatter = "staff-matter", BoardLetter = "board-letter",
        TheftOrLoss = "theft-or-loss", Snooping = "snooping", Breach = "breach", Other = "other",
    }
}

/// A sealed paper of the office file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OfficePaper {
    /// Title.
    pub title: String,
    /// BLAKE3 of the paper as received, hex.
    pub plain_digest: String,
    /// BLAKE3 of the sealed file, hex.
    pub sealed_digest: String,
    /// Bytes of the paper as received.
    pub size: u64,
    /// Media type.
    pub media_type: String,
}

/// The register passes to another custodian.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HandOver {
    /// Who takes it over.
    pub to_name: String,
    /// Staff code, if on the roster.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to_code: Option<String>,
    /// Day of the hand-over.
    pub on: Day,
    /// Why: sale, illness, death, closing.
    pub because: String,
    /// Entries handed over.
    pub entries: u64,
    /// Where the record is kept afterwards.
    pub place: String,
    /// Who was told: patients, board.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub told: Vec<String>,
}

/// A check on the register itself, or a look at who opened what.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CheckMade {
    /// Which check.
    pub what: CheckKind,
    /// Entries looked at.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub entries: Option<u64>,
    /// Day slips compared.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub slips_compared: Option<u32>,
    /// What was found, in words.
    pub found: String,
    /// True when nothing was wrong.
    pub sound: bool,
    /// True when the result was printed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub printed: Option<bool>,
    /// What is done about it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub follow_up: Option<String>,
    /// Month that was looked at, YYYY-MM, with a look at who opened what.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub month: Option<String>,
    /// How many openings that month had.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub openings: Option<u64>,
    /// What stood out, each with its answer.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub answers: Vec<OpeningAnswer>,
}

/// Something that stood out among the openings of a month, and what the keeper of the records says to it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OpeningAnswer {
    /// What stood out, for example opened-without-visit.
    pub finding: String,
    /// Code of who opened.
    pub by: String,
    /// Numbers of the charts.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub charts: Vec<String>,
    /// Numbers of the entries.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub entries: Vec<u64>,
    /// The answer.
    pub answer: SeenAs,
    /// Why it is fine, or what is to be done.
    pub words: String,
}

words! {
    /// How what stood out was judged.
    SeenAs {
        Fine = "fine", FollowUp = "follow-up",
    }
}

words! {
    /// A check on the register.
    CheckKind {
        Verified = "verified", RestoreTested = "restore-tested", Restored = "restored",
        CopyMade = "copy-made", OpeningsReviewed = "openings-reviewed", LeaverList = "leaver-list",
        SlipCompared = "slip-compared",
    }
}

/// A sealed file was added to the store. Never sealed itself, so that anybody who checks the store
/// can tell whether the file is still there; it says nothing but the file's digest and length.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FileKept {
    /// BLAKE3 of the sealed file, hex; its name in the store.
    pub sealed_digest: String,
    /// Its length in bytes.
    pub sealed_size: u64,
}

/// A sealed file was destroyed, so that its absence is no fault.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FileRemoved {
    /// BLAKE3 of the sealed file, hex.
    pub sealed_digest: String,
    /// Number of the entry that ordered it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ordered_by: Option<u64>,
}

/// This ledger goes on from an earlier one, whose store was closed: its key was lost, or its keeper had to begin anew.
/// Never sealed, so that anybody who checks this store can tell that the earlier one is the one meant, whole and
/// unchanged. Why it was begun stands in the entry that opened the register.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct EarlierLedger {
    /// Origin of the earlier ledger.
    pub origin: String,
    /// Its checkpoint key, as a C2SP vkey.
    pub checkpoint_key: String,
    /// Its last checkpoint, whole, as it was signed.
    pub checkpoint: String,
    /// How many entries that one covers.
    pub entries: u64,
}
