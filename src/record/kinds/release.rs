//! What leaves, who asks, who looked: referrals, openings, requests and releases.

use super::common::{Day, Given};
use super::request::{Asker, AuthorizationRead, Checked, Denial, FeeTold, Lacking, RequestClock, Scope};
use crate::record::moment::{Moment, plain_date};
use crate::record::vocab::words;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A referral.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Referral {
    /// To whom.
    pub to: String,
    /// Why.
    pub why: String,
    /// How urgent.
    pub urgency: Urgency,
    /// How it was sent.
    pub sent_how: Given<String>,
    /// When it was sent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sent_at: Option<Moment>,
    /// Answer expected by.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expect_by: Option<Day>,
    /// Number of the attachment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub letter: Option<u64>,
    /// Number of the visit opening.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub visit: Option<u64>,
}

words! {
    /// How urgent a referral is.
    Urgency {
        Emergency = "emergency", SameDay = "same-day", Soon = "soon", Routine = "routine",
    }
}

/// The answer to a referral, or none.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ReferralAnswer {
    /// Number of the referral.
    pub referral: u64,
    /// What came.
    pub outcome: AnswerOutcome,
    /// Day received.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub received_on: Option<Day>,
    /// Day it was chased.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub chased_on: Option<Day>,
    /// In short.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
    /// Number of the attachment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub attachment: Option<u64>,
}

words! {
    /// What came of a referral.
    AnswerOutcome {
        Received = "received", NoneChased = "none-chased", NoneClosed = "none-closed",
        PatientDidNotGo = "patient-did-not-go",
    }
}

/// Somebody opened the chart. The author of the entry is who opened it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Access {
    /// Why.
    pub why: AccessWhy,
    /// In words; needed for other.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
    /// What was opened.
    pub opened: Opened,
    /// Numbers of the entries opened, where not the whole chart.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub entries: Vec<u64>,
    /// True when something was exported.
    pub exported: bool,
    /// True when something was printed.
    pub printed: bool,
    /// Number of the request it was for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub request: Option<u64>,
}

words! {
    /// Why a chart was opened.
    AccessWhy {
        Visit = "visit", Call = "call", Billing = "billing", Request = "request", Review = "review",
        Emergency = "emergency", Other = "other",
    }
}

words! {
    /// What was opened.
    Opened {
        WhoAndWhen = "who-and-when", Entries = "entries", WholeChart = "whole-chart",
    }
}

/// A request for records or for an account of them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Request {
    /// What sort.
    pub kind: RequestKind,
    /// Who asks.
    pub from: String,
    /// Relation to the patient: self, father, attorney, executor, health plan, board, ...
    pub relation: String,
    /// Day received.
    pub received_on: Day,
    /// What is asked, as written or said.
    pub text: String,
    /// How identity was checked.
    pub identity_checked: Given<String>,
    /// How the right to receive was checked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub authority_checked: Option<String>,
    /// Dates asked for.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub dates: Vec<Day>,
    /// Form wanted: electronic, paper.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub form_wanted: Option<String>,
    /// Language wanted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub language_wanted: Option<String>,
    /// Answer due.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub due: Option<Day>,
    /// Which rule sets the due date.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clock: Option<String>,
    /// Number of the attachment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub letter: Option<u64>,
    /// Who asks, by the papers that must be on file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub asker: Option<Asker>,
    /// The date the request bears.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub requested_on: Option<Day>,
    /// Who is to receive it, where not who asks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub recipient: Option<String>,
    /// Where to send it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub address: Option<String>,
    /// Span of days and kinds of entries asked for; single days stand in `dates`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub scope: Option<Scope>,
    /// Number of the attachment that shows the right to receive.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub authority_paper: Option<u64>,
    /// Number of the chart's own entry that shows it: who decides for the patient.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub authority_entry: Option<u64>,
    /// What was served, by whom and how, with a subpoena or an order.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub served: Option<String>,
    /// The day the paper itself names for the answer.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub answer_by: Option<Day>,
    /// Every clock that runs, as reckoned when it was taken.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub clocks: Vec<RequestClock>,
}

words! {
    /// Sort of request.
    RequestKind {
        Copy = "copy", Look = "look", Accounting = "accounting", Audit = "audit",
        Authorisation = "authorisation", Subpoena = "subpoena", Order = "order", Oversight = "oversight",
        RequiredByLaw = "required-by-law", DeceasedRepresentative = "deceased-representative",
        Treatment = "treatment", Restriction = "restriction", Preservation = "preservation",
        Other = "other",
    }
}

/// A step in answering a request, also for amendment requests.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RequestStep {
    /// Number of the request.
    pub request: u64,
    /// Which step.
    pub step: Step,
    /// On which day.
    pub on: Day,
    /// What was done.
    pub words: String,
    /// New due date, with an extension.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub new_due: Option<Day>,
    /// Date of the letter, with an extension.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub letter_dated: Option<Day>,
    /// Number of the attachment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub attachment: Option<u64>,
    /// What was checked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub checked: Option<Checked>,
    /// Whether the check held; left out where the step is no check.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub holds: Option<bool>,
    /// Number of the chart's own entry the check rests on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rests_on: Option<u64>,
    /// What the paper names: days and kinds. Nothing else may go out on it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub names: Option<Scope>,
    /// The authorization as it was read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub authorization: Option<AuthorizationRead>,
    /// What the notes of the days asked for lack.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lacking: Vec<Lacking>,
    /// Why a letter that took more time changes nothing: clock, and code of the failure. Its due day stands.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub void_because: Vec<String>,
    /// The fee the asker was told.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fee: Option<FeeTold>,
    /// What is refused, and why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub denial: Option<Denial>,
    /// Number of the release that answered it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub release: Option<u64>,
    /// BLAKE3 of the package file that went out, hex.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub digest: Option<String>,
    /// Why it went out although something was still to be asked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub despite: Option<String>,
}

words! {
    /// A step in answering a request.
    Step {
        IdentityChecked = "identity-checked", AuthorityChecked = "authority-checked", Returned = "returned",
        AskedInWriting = "asked-in-writing", AssuranceReceived = "assurance-received",
        Extended = "extended", LetterSent = "letter-sent", MissingListRun = "missing-list-run",
        Answered = "answered", Declined = "declined", Withdrawn = "withdrawn", Outcome = "outcome",
        Closed = "closed", FeeTold = "fee-told",
    }
}

/// Records left the practice.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Release {
    /// Number of the request.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub request: Option<u64>,
    /// To whom.
    pub to: String,
    /// Where to.
    pub address: Given<String>,
    /// Day asked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub asked_on: Option<Day>,
    /// Basis.
    pub basis: ReleaseBasis,
    /// The basis in words: which authorisation, order, assurance.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basis_words: Option<String>,
    /// What it was for, in brief, as an accounting of disclosures tells it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub purpose: Option<String>,
    /// Number of the attachment with the written request.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub letter: Option<u64>,
    /// What was released.
    pub what: Released,
    /// What was withheld.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub withheld: Vec<Withheld>,
    /// How it was sealed.
    pub sealed: SealedHow,
    /// Recipient key it was sealed to (public).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sealed_to: Option<String>,
    /// How the key was read back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub read_back: Option<String>,
    /// How the passphrase was told; never the passphrase.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub passphrase_by: Option<String>,
    /// Channel it went by.
    pub channel: String,
    /// Code of who checked it.
    pub checked_by: Given<String>,
    /// Fee.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fee: Option<Fee>,
    /// True when a certificate went along.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub certificate: Option<bool>,
    /// How receipt was acknowledged.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub acknowledged: Option<String>,
    /// True when it counts for an accounting of disclosures; computed.
    pub counts_for_accounting: bool,
    /// Who confirmed that it leaves unsealed, and what they were shown; only where it was not sealed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unsealed: Option<Unsealed>,
}

/// The confirmation without which nothing leaves unsealed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Unsealed {
    /// Code of who confirmed it.
    pub confirmed_by: String,
    /// The words that were shown, in full.
    pub shown: String,
    /// How it was confirmed: answered when asked, or given with the command.
    pub how: Confirmed,
}

words! {
    /// How something was confirmed.
    Confirmed {
        Answered = "answered", GivenWithCommand = "given-with-command",
    }
}

words! {
    /// Basis of a release (45 CFR 164.502, 164.512, 164.524).
    ReleaseBasis {
        Patient = "patient", Authorisation = "authorisation", Treatment = "treatment", Payment = "payment",
        SubpoenaWithAssurance = "subpoena-with-assurance", Order = "order", Oversight = "oversight",
        RequiredByLaw = "required-by-law", DeceasedRepresentative = "deceased-representative",
        Guardian = "guardian", Operations = "operations", InvolvedInCare = "involved-in-care",
        PublicHealth = "public-health", AbuseOrNeglect = "abuse-or-neglect",
        LawEnforcement = "law-enforcement", CoronerOrFuneral = "coroner-or-funeral",
        SeriousThreat = "serious-threat", WorkersCompensation = "workers-compensation",
        ComplianceReview = "compliance-review", ResearchWaiver = "research-waiver",
        OrganDonation = "organ-donation", MilitaryCommand = "military-command",
        NationalSecurity = "national-security", Custody = "custody", LimitedDataSet = "limited-data-set",
        SentInError = "sent-in-error",
    }
}

words! {
    /// How a release was sealed.
    SealedHow {
        ToRecipientKey = "to-recipient-key", ToPassphrase = "to-passphrase",
        PaperInSealedEnvelope = "paper-in-sealed-envelope", NotSealed = "not-sealed",
    }
}

/// What was asked for: entries whose date of service and kind lie in it.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Span {
    /// First date of service.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<Day>,
    /// Last date of service, the whole day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<Day>,
    /// Single dates of service, beside those from the first to the last.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub days: Vec<Day>,
    /// Kinds of entries; empty: all.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub kinds: Vec<String>,
}

impl Span {
    /// True when every date of service was asked for.
    pub fn any_date(&self) -> bool {
        self.from.is_none() && self.until.is_none() && self.days.is_empty()
    }

    /// True when it leaves anything out.
    pub fn is_limited(&self) -> bool {
        !self.any_date() || !self.kinds.is_empty()
    }

    /// What was asked for, in words.
    pub fn words(&self) -> String {
        let range = match (self.from, self.until) {
            (Some(from), Some(until)) => {
                Some(format!("from {} to {}", plain_date(from.0), plain_date(until.0)))
            }
            (Some(from), None) => Some(format!("from {} on", plain_date(from.0))),
            (None, Some(until)) => Some(format!("up to {}", plain_date(until.0))),
            (None, None) => None,
        };
        let days = self.days.iter().map(|day| plain_date(day.0));
        let dates: Vec<String> = range.into_iter().chain(days).collect();
        let mut words = match dates.is_empty() {
            true => "every date of service".to_string(),
            false => format!("dates of service {}", dates.join(", ")),
        };
        if !self.kinds.is_empty() {
            words.push_str(&format!("; kinds {}", self.kinds.join(", ")));
        }
        words
    }
}

/// What was released.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Released {
    /// First date covered.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<Day>,
    /// Last date covered.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<Day>,
    /// Single days covered, beside those from the first to the last.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub days: Vec<Day>,
    /// Kinds of entries; empty: all.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub kinds: Vec<String>,
    /// How many entries.
    pub entries: u64,
    /// Their numbers, where not the whole span.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub entry_list: Vec<u64>,
    /// Number of the last entry of the register it vouches for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub up_to: Option<u64>,
    /// How many attachments.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub attachments: Option<u64>,
    /// Pages printed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pages: Option<u32>,
    /// BLAKE3 of the package, hex.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub digest: Option<String>,
    /// Number of the earlier release whose package is produced a second time.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub again_of: Option<u64>,
    /// Number of the earlier release whose package this one lists its differences from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub since: Option<u64>,
    /// BLAKE3 of the archive inside the seal, hex; known beforehand only where it was produced before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plain_digest: Option<String>,
    /// In words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
}

impl Released {
    /// Which part of the chart was asked for.
    pub fn span(&self) -> Span {
        Span { from: self.from, until: self.until, days: self.days.clone(), kinds: self.kinds.clone() }
    }
}

/// Something withheld.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Withheld {
    /// Number of the entry.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub entry: Option<u64>,
    /// Why.
    pub ground: String,
    /// True when a slip stands in its place.
    pub slip: bool,
    /// The reason as a word that rules know.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<WithholdReason>,
    /// Number of the withheld entry that this one quotes or adds to, where it is withheld for that.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub follows: Option<u64>,
    /// The professional's determination; needed for likely harm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub determination: Option<Determination>,
}

words! {
    /// Why an entry is withheld. The law behind each, and what its slip says: see
    /// [`crate::record::withholding`].
    WithholdReason {
        AnotherPerson = "another-person", PsychotherapyNotes = "psychotherapy-notes",
        ForProceeding = "for-proceeding", LikelyHarm = "likely-harm",
        RestrictionAgreed = "restriction-agreed", OutsideRequest = "outside-request", Misfiled = "misfiled", HeldBack = "held-back",
    }
}

/// A licensed professional's determination that giving an entry would likely do harm
/// (45 CFR 164.524(a)(3)). It says nothing of the contents.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Determination {
    /// Name or code of the professional.
    pub by: String,
    /// Their licence.
    pub licence: String,
    /// Day of the determination.
    pub on: Day,
}

/// What a release's package came out as: recorded behind the release, once the file was written and had
/// passed its check. By it a second production is shown to be the same.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PackageMade {
    /// Number of the release.
    pub release: u64,
    /// BLAKE3 of the file as it left, hex.
    pub file_digest: String,
    /// Bytes of that file.
    pub file_bytes: u64,
    /// BLAKE3 of the archive inside the seal, hex.
    pub plain_digest: String,
    /// SHA-256 of the archive inside the seal, hex.
    pub plain_sha256: String,
    /// Bytes of that archive.
    pub plain_bytes: u64,
    /// `manifest.note` of the archive: signed over its list of all members.
    pub list_note: String,
    /// The members that are made from the entries: the printed record, the slips and the like.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub pages: Vec<PageMade>,
}

/// A member of a package that was made from entries.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PageMade {
    /// Its name in the archive.
    pub name: String,
    /// BLAKE3 of its bytes, hex.
    pub digest: String,
}

/// A fee.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Fee {
    /// Amount as written, for example 12.50.
    pub amount: String,
    /// Currency.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub currency: Option<String>,
    /// How it was computed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
}
