//! Every kind of entry a practice keeps: the word it is written with, the edition of its
//! layout, who may open it, and the struct that holds its data.
//!
//! These layouts are kept for ever. A change is a new edition beside the old one, never an
//! edit; an entry of a later program is carried as [`Data::Unknown`] and still verifies.

pub mod amend;
pub mod attendance;
mod check_agreed;
pub(crate) mod check_care;
mod check_chart;
mod check_head;
mod check_paper;
#[cfg(test)]
mod check_tests;
pub mod common;
pub mod consent;
pub mod copies;
pub mod disclosing;
pub mod disposing;
pub mod finding;
pub mod identity;
pub mod keeping;
pub(crate) mod layout;
pub mod papers;
pub mod procedure;
pub mod reaction;
mod read;
pub mod register;
pub mod release;
pub mod request;
pub mod screening;
pub mod visit;
pub mod withdrawal;

pub use common::{Absent, Amount, Check, Day, Given, Level, Problem, Problems};
pub use read::ReadError;
pub(crate) use read::read_with_path;

use super::envelope::Record;
use super::vocab::words;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

words! {
    /// Who may open an entry.
    Class {
        /// Who-and-when of a chart: desk and clinical roles.
        Desk = "desk",
        /// Contents of care: clinical roles only.
        Clinical = "clinical",
        /// Outside any chart, sealed to the practice.
        Register = "register",
        /// Never sealed: public keys only.
        Open = "open",
    }
}

words! {
    /// Whether entries of a kind belong to a chart.
    Place {
        /// Always in a chart.
        Chart = "chart",
        /// Never in a chart.
        Nowhere = "nowhere",
        /// Either.
        Either = "either",
    }
}

/// One row of the table of kinds.
#[derive(Debug, Clone, Copy)]
pub struct KindInfo {
    /// The word written in records.
    pub word: &'static str,
    /// The newest edition this program writes.
    pub edition: u32,
    /// Who may open it, unless the entry itself says otherwise; see [`class_of`].
    pub class: Class,
    /// Whether it belongs to a chart.
    pub place: Place,
    /// Its name in plain words.
    pub title: &'static str,
    /// Its JSON Schema (2020-12).
    pub schema: fn() -> Value,
}

macro_rules! kinds {
    ($($word:literal => $name:ident($struct:ty), $edition:literal, $class:ident, $place:ident, $title:literal;)+) => {
        /// The data of an entry, by kind.
        #[derive(Debug, Clone, PartialEq)]
        pub enum Data {
            $(#[doc = concat!("`", $word, "`: ", $title, ".")] $name(Box<$struct>),)+
            /// Written by a later program: kept and verified, not read.
            Unknown {
                /// The kind word.
                kind: String,
                /// The edition.
                edition: u32,
                /// The data as it stands.
                value: Value,
            },
        }

        /// Every kind this program knows.
        pub const KINDS: &[KindInfo] = &[$(KindInfo {
            word: $word,
            edition: $edition,
            class: Class::$class,
            place: Place::$place,
            title: $title,
            schema: || schemars::schema_for!($struct).to_value(),
        }),+];

        impl Data {
            /// Reads the data of an entry. An unknown kind or a later edition is no error.
            ///
            /// # Errors
            /// When a known kind's data does not fit its layout: where, and what was expected.
            pub fn read(kind: &str, edition: u32, value: &Value) -> Result<Data, ReadError> {
                match kind {
                    _ if edition == 0 => Err(ReadError::edition()),
                    $($word if edition <= $edition => {
                        let data: $struct = read_with_path(value)?;
                        if data.edition() > edition {
                            return Err(ReadError::of_later_edition());
                        }
                        Ok(Data::$name(Box::new(data)))
                    })+
                    _ => Ok(Data::Unknown { kind: kind.to_string(), edition, value: value.clone() }),
                }
            }

            /// The kind word.
            pub fn kind(&self) -> &str {
                match self { $(Data::$name(_) => $word,)+ Data::Unknown { kind, .. } => kind }
            }

            /// The edition of the layout.
            pub fn edition(&self) -> u32 {
                match self { $(Data::$name(data) => data.edition(),)+ Data::Unknown { edition, .. } => *edition }
            }

            /// The data as JSON, fields in declared order.
            ///
            /// # Errors
            /// When a number in it is not one JSON can hold.
            pub fn to_value(&self) -> Result<Value, serde_json::Error> {
                match self {
                    $(Data::$name(data) => serde_json::to_value(data),)+
                    Data::Unknown { value, .. } => Ok(value.clone()),
                }
            }

            /// The cheap impossible things, seen from this entry and its head alone.
            /// What needs other entries (rosters, allergies, consents) is checked elsewhere.
            pub fn validate(&self, head: &Record) -> Vec<Problem> {
                let mut problems = Problems::default();
                check_head::check(self, head, &mut problems);
                match self {
                    $(Data::$name(data) => data.check(head, &mut problems),)+
                    Data::Unknown { .. } => {}
                }
                problems.into_vec()
            }
        }

        $(impl From<$struct> for Data {
            fn from(data: $struct) -> Data { Data::$name(Box::new(data)) }
        })+
    };
}

kinds! {
    "register-opened" => RegisterOpened(register::RegisterOpened), 1, Register, Nowhere, "Register opened";
    "keys" => Keys(register::Keys), 1, Open, Nowhere, "Public keys";
    "staff" => Staff(register::Staff), 1, Register, Nowhere, "Roster line";
    "rules" => Rules(register::Rules), 1, Register, Nowhere, "Rules adopted";
    "wording" => Wording(register::Wording), 1, Register, Nowhere, "Wording adopted";
    "clock-remark" => ClockRemark(register::ClockRemark), 1, Register, Nowhere, "Clock remark";
    "day-close" => DayClose(register::DayClose), 1, Register, Nowhere, "Day closed";
    "behind-outside-copy" => BehindOutsideCopy(register::BehindOutsideCopy), 1, Register, Nowhere, "Store behind its outside copy";
    "office-file" => OfficeFile(register::OfficeFile), 1, Clinical, Nowhere, "Office file";
    "hand-over" => HandOver(register::HandOver), 1, Register, Nowhere, "Hand-over of the register";
    "earlier-ledger" => EarlierLedger(register::EarlierLedger), 1, Open, Nowhere, "Goes on from an earlier ledger";
    "file-kept" => FileKept(register::FileKept), 1, Open, Nowhere, "Sealed file kept";
    "file-removed" => FileRemoved(register::FileRemoved), 1, Open, Nowhere, "Sealed file removed";
    "chart-disposed" => ChartDisposed(disposing::ChartDisposed), 1, Open, Nowhere, "Chart destroyed";
    "disposal-certificate" => DisposalCertificate(disposing::DisposalCertificate), 1, Register, Nowhere, "Certificate of disposal";
    "copy-gone" => CopyGone(disposing::CopyGone), 1, Register, Nowhere, "Copy of a destroyed chart destroyed";
    "check-made" => CheckMade(register::CheckMade), 1, Register, Nowhere, "Check of the register";
    "safe-copy" => SafeCopy(copies::SafeCopy), 1, Register, Nowhere, "Safe copy";
    "chart-opened" => ChartOpened(identity::ChartOpened), 1, Desk, Chart, "Chart opened";
    "identity-changed" => IdentityChanged(identity::IdentityChanged), 1, Desk, Chart, "Identity changed";
    "decision-maker" => DecisionMaker(identity::DecisionMaker), 1, Desk, Chart, "Decision-maker";
    "capacity" => Capacity(identity::Capacity), 1, Desk, Chart, "Capacity";
    "allergy-review" => AllergyReview(identity::AllergyReview), 1, Desk, Chart, "Allergy review";
    "alert" => Alert(identity::Alert), 1, Desk, Chart, "Alert";
    "chart-state" => ChartState(identity::ChartState), 1, Desk, Chart, "State of the chart";
    "joined" => Joined(identity::Joined), 1, Desk, Chart, "Charts joined";
    "misfiled" => Misfiled(identity::Misfiled), 1, Desk, Chart, "Belongs to another chart";
    "consent" => Consent(consent::Consent), 1, Desk, Chart, "Consent";
    "rest-of-earlier" => RestAnswer(consent::RestAnswer), 1, Desk, Chart, "Answer about the rest of earlier consents";
    "end-event" => EndEvent(consent::EndEvent), 1, Desk, Chart, "Event that ends a consent";
    "withdrawal" => Withdrawal(withdrawal::Withdrawal), 1, Desk, Chart, "Withdrawal";
    "pause" => Pause(withdrawal::Pause), 1, Desk, Chart, "Pause";
    "standing-refusal" => StandingRefusal(withdrawal::StandingRefusal), 1, Desk, Chart, "Standing refusal";
    "asked" => Asked(withdrawal::Asked), 1, Desk, Chart, "Asked today";
    "own-answer" => OwnAnswer(withdrawal::OwnAnswer), 1, Desk, Chart, "The minor's own answer";
    "condition-met" => ConditionMet(withdrawal::ConditionMet), 1, Desk, Chart, "Condition met";
    "emergency" => Emergency(withdrawal::Emergency), 1, Desk, Chart, "Emergency";
    "visit-opened" => VisitOpened(attendance::VisitOpened), 1, Desk, Chart, "Visit opened";
    "identity-confirmed" => IdentityChecked(attendance::IdentityChecked), 1, Desk, Chart, "Identity confirmed";
    "visit-closed" => VisitClosed(attendance::VisitClosed), 1, Desk, Chart, "Visit closed";
    "coverage-answer" => CoverageAnswer(attendance::CoverageAnswer), 1, Desk, Chart, "Answer to the coverage question";
    "contact" => Contact(attendance::Contact), 1, Desk, Chart, "Contact";
    "handout" => Handout(attendance::Handout), 1, Desk, Chart, "Sheet given";
    "referral" => Referral(release::Referral), 1, Desk, Chart, "Referral";
    "referral-answer" => ReferralAnswer(release::ReferralAnswer), 1, Desk, Chart, "Answer to a referral";
    "access" => Access(release::Access), 2, Desk, Either, "Opened for reading";
    "request" => Request(release::Request), 1, Desk, Chart, "Request for records";
    "request-step" => RequestStep(release::RequestStep), 1, Desk, Chart, "Step in answering a request";
    "release" => Release(release::Release), 1, Desk, Chart, "Release of records";
    "accounting-given" => AccountingGiven(disclosing::AccountingGiven), 1, Desk, Chart, "Accounting of disclosures given";
    "accounting-suspended" => AccountingSuspended(disclosing::AccountingSuspended), 1, Desk, Either, "Disclosures left out of an accounting for a time";
    "package-made" => PackageMade(release::PackageMade), 1, Desk, Chart, "Package made";
    "amendment-request" => AmendmentRequest(amend::AmendmentRequest), 1, Desk, Chart, "Request for amendment";
    "amendment-decision" => AmendmentDecision(amend::AmendmentDecision), 1, Desk, Chart, "Decision on an amendment";
    "disagreement" => Disagreement(amend::Disagreement), 1, Desk, Chart, "Statement of disagreement";
    "rebuttal" => Rebuttal(amend::Rebuttal), 1, Desk, Chart, "Rebuttal";
    "hold" => Hold(keeping::Hold), 1, Desk, Either, "Legal hold";
    "hold-lifted" => HoldLifted(keeping::HoldLifted), 1, Desk, Either, "Legal hold lifted";
    "notice" => Notice(keeping::Notice), 1, Desk, Either, "Notice of claim or complaint";
    "disposal" => Disposal(keeping::Disposal), 1, Desk, Chart, "Disposal";
    "refused-disposal" => RefusedDisposal(keeping::RefusedDisposal), 1, Desk, Chart, "Disposal refused";
    "paper-chart" => PaperChart(papers::PaperChart), 1, Desk, Chart, "Old paper chart";
    "paper-original" => PaperOriginal(papers::PaperOriginal), 1, Desk, Chart, "Originals of an old paper chart";
    "document" => Document(papers::Document), 1, Desk, Chart, "Document given";
    "screen" => Screen(screening::Screen), 1, Clinical, Chart, "Screen";
    "screen-item-closed" => ScreenItemClosed(screening::ScreenItemClosed), 1, Clinical, Chart, "Screen item closed";
    "change" => Change(screening::Change), 1, Clinical, Chart, "Change since";
    "written-reason" => WrittenReason(screening::WrittenReason), 1, Clinical, Chart, "Written reason";
    "measure" => Measure(screening::Measure), 1, Clinical, Chart, "Measure";
    "visit" => Visit(visit::Visit), 1, Clinical, Chart, "Visit note";
    "reaction" => Reaction(reaction::Reaction), 1, Clinical, Chart, "Adverse reaction";
    "reaction-rechecked" => ReactionRechecked(reaction::ReactionRechecked), 1, Clinical, Chart, "Adverse reaction looked at again";
    "reaction-closed" => ReactionClosed(reaction::ReactionClosed), 1, Clinical, Chart, "Adverse reaction closed";
    "correction" => Correction(amend::Correction), 1, Clinical, Chart, "Correction";
    "addendum" => Addendum(amend::Addendum), 1, Clinical, Chart, "Addendum";
    "late-entry" => LateEntry(amend::LateEntry), 1, Clinical, Chart, "Late entry";
    "attachment" => Attachment(papers::Attachment), 1, Clinical, Chart, "Attachment";
}

/// The row of a kind, if this program knows it.
pub fn info(kind: &str) -> Option<&'static KindInfo> {
    KINDS.iter().find(|row| row.word == kind)
}

/// The plain-words name of a kind; the word itself for one this program does not know.
pub fn title(kind: &str) -> &str {
    info(kind).map_or(kind, |row| row.title)
}

/// Kinds whose entries say themselves, with `for_desk`, that the desk may open them.
const SAYS_FOR_DESK: [&str; 4] = ["attachment", "correction", "addendum", "late-entry"];

/// Numbers of the entries that others of these say belong to another chart.
pub fn misfiled_entries<'a>(all: impl Iterator<Item = &'a Data>) -> Vec<u64> {
    all.filter_map(|data| if let Data::Misfiled(mark) = data { Some(mark.entry) } else { None }).collect()
}

/// Who may open a record. An unknown kind is treated as the most private of its place.
pub fn class_of(record: &Record) -> Class {
    let for_desk = record.data.get("for_desk").and_then(Value::as_bool) == Some(true);
    if for_desk && SAYS_FOR_DESK.contains(&record.kind.as_str()) {
        return Class::Desk;
    }
    match (info(&record.kind), &record.chart) {
        (Some(KindInfo { place: Place::Either, .. }), None) | (None, None) => Class::Register,
        (Some(row), _) => row.class,
        (None, Some(_)) => Class::Clinical,
    }
}

impl Record {
    /// The data in the layout of its kind.
    ///
    /// # Errors
    /// As [`Data::read`].
    pub fn read_data(&self) -> Result<Data, ReadError> {
        Data::read(&self.kind, self.edition, &self.data)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn class(kind: &str, chart: Option<&str>, for_desk: Option<Value>) -> Class {
        let mut record = crate::record::examples::example("visit");
        record.kind = kind.to_string();
        record.chart = chart.map(str::to_string);
        record.data = for_desk.map_or_else(|| json!({}), |said| json!({ "for_desk": said }));
        class_of(&record)
    }

    #[test]
    fn the_desk_opens_who_and_when_and_the_papers_marked_for_it() {
        let chart = Some("k7q2m9x4t1");
        for kind in ["attachment", "correction", "addendum", "late-entry"] {
            assert_eq!(class(kind, chart, Some(json!(true))), Class::Desk, "{kind}");
            for other in [None, Some(json!(false)), Some(json!("true")), Some(Value::Null)] {
                assert_eq!(class(kind, chart, other), Class::Clinical, "{kind}");
            }
        }
        // What is care stays care, whatever an entry says of itself.
        for kind in ["visit", "measure", "screen", "a-later-kind"] {
            assert_eq!(class(kind, chart, Some(json!(true))), Class::Clinical, "{kind}");
        }
        assert_eq!(class("consent", chart, None), Class::Desk);
        assert_eq!(class("hold", chart, None), Class::Desk);
    }

    #[test]
    fn outside_a_chart_the_register_opens_it() {
        for kind in ["hold", "access", "notice", "day-close", "a-later-kind"] {
            assert_eq!(class(kind, None, None), Class::Register, "{kind}");
        }
        assert_eq!(class("keys", None, None), Class::Open);
        assert_eq!(class("office-file", None, None), Class::Clinical);
    }

    #[test]
    fn a_kind_is_called_by_its_plain_words() {
        assert_eq!(title("visit"), "Visit note");
        assert_eq!(title("a-later-kind"), "a-later-kind");
    }
}
