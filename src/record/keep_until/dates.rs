//! From the entries of a chart to the dates that rules count from.

use super::Seen;
use crate::record::kinds::Data;
use crate::record::kinds::common::Day;
use crate::record::kinds::identity::{ChartStatus, Identity};
use crate::record::kinds::papers::DocumentKind;
use crate::record::moment::{Date, plain_date};
use crate::record::reckon::retention::ChartDates;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// Kinds that are about keeping and reading a chart, and no record of the patient: looking at a chart must
/// not lengthen how long it is kept.
const ABOUT_KEEPING: [&str; 6] =
    ["access", "disposal", "refused-disposal", "hold", "hold-lifted", "package-made"];

/// A day, and the entry it is taken from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DayOf {
    /// The day.
    pub day: Day,
    /// Number of the entry.
    pub entry: u64,
}

/// What the days are counted from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Inputs {
    /// Birth date, as it stands now; null where it is not known.
    pub born: Option<DayOf>,
    /// The last treatment.
    pub last_treated: Option<DayOf>,
    /// How many days of treatment.
    pub days_of_treatment: usize,
    /// The first entry.
    pub first_entry: Option<DayOf>,
    /// The newest entry.
    pub last_entry: Option<DayOf>,
    /// The newest paper about the patient's rights: a request, an amendment, a disclosure, a notice.
    pub last_paper: Option<DayOf>,
    /// Day of death. No rule counts from it unless it says so.
    pub died_on: Option<DayOf>,
    /// Where something typed differs from what the entries give, or an entry could not be read.
    pub remarks: Vec<String>,
    /// The days of treatment, each with its entry.
    #[serde(skip)]
    services: BTreeMap<Date, u64>,
    /// The days on which something was entered.
    #[serde(skip)]
    entries: BTreeSet<Date>,
}

impl Inputs {
    /// Reads them off the entries, in the order written.
    pub fn of(entries: &[Seen]) -> Inputs {
        let mut inputs = Inputs {
            born: None,
            last_treated: None,
            days_of_treatment: 0,
            first_entry: None,
            last_entry: None,
            last_paper: None,
            died_on: None,
            remarks: Vec::new(),
            services: BTreeMap::new(),
            entries: BTreeSet::new(),
        };
        for entry in entries {
            inputs.take(entry);
        }
        if entries.iter().any(|entry| entry.data.is_none() && !ABOUT_KEEPING.contains(&&*entry.kind)) {
            inputs
                .remarks
                .push("some entries do not open to this role; the days they were made count".into());
        }
        inputs.days_of_treatment = inputs.services.len();
        inputs.last_treated =
            inputs.services.last_key_value().map(|(day, entry)| DayOf { day: Day(*day), entry: *entry });
        inputs.compare_typed(entries);
        inputs
    }

    fn take(&mut self, entry: &Seen) {
        if ABOUT_KEEPING.contains(&&*entry.kind) {
            return;
        }
        let made = DayOf { day: Day(entry.made), entry: entry.seq };
        self.entries.insert(entry.made);
        if self.first_entry.is_none_or(|first| made.day < first.day) {
            self.first_entry = Some(made);
        }
        if self.last_entry.is_none_or(|last| made.day >= last.day) {
            self.last_entry = Some(made);
        }
        if is_paper(entry) && self.last_paper.is_none_or(|last| made.day >= last.day) {
            self.last_paper = Some(made);
        }
        if entry.misfiled {
            return;
        }
        // A visit is a treatment whether its note opens to this role or not.
        if matches!(&*entry.kind, "visit-opened" | "visit") {
            self.services.entry(entry.at).or_insert(entry.seq);
        }
        let born = |identity: &Identity| identity.birth_date.date.map(|day| DayOf { day, entry: entry.seq });
        match &entry.data {
            Some(Data::ChartOpened(opened)) if !entry.of_joined => self.born = born(&opened.identity),
            Some(Data::IdentityChanged(changed)) if !entry.of_joined => {
                self.born = born(&changed.identity).or(self.born);
            }
            Some(Data::PaperChart(paper)) => {
                if let Some(day) = paper.last_treated {
                    self.services.entry(day.0).or_insert(entry.seq);
                    self.entries.insert(day.0);
                }
                let on_paper = paper.birth_date.map(|day| DayOf { day, entry: entry.seq });
                self.born = self.born.or(on_paper);
            }
            Some(Data::ChartState(state)) if state.status == ChartStatus::Deceased => {
                self.died_on = state.died_on.map(|day| DayOf { day, entry: entry.seq }).or(self.died_on);
            }
            _ => {}
        }
    }

    /// A last treatment that was typed and differs is said, never used.
    fn compare_typed(&mut self, entries: &[Seen]) {
        for entry in entries {
            let Some(Data::ChartState(state)) = &entry.data else { continue };
            let Some(typed) = state.last_treated else { continue };
            if self.last_treated.is_none_or(|last| last.day != typed) {
                self.remarks.push(format!(
                    "entry {} says last treated {}; the visits of the chart count, not what was typed",
                    entry.seq,
                    plain_date(typed.0)
                ));
            }
        }
    }

    /// As the counting takes them.
    pub fn chart_dates(&self) -> ChartDates {
        ChartDates {
            born: self.born.map(|born| born.day.0),
            services: self.services.keys().copied().collect(),
            entries: self.entries.clone(),
            completed: None,
            emancipated: None,
        }
    }

    /// The entry of a treatment on this day.
    pub fn entry_of_service(&self, day: Date) -> Option<u64> {
        self.services.get(&day).copied()
    }

    /// The first and the last day that the chart tells of, for the certificate.
    pub fn period(&self) -> Option<(Day, Day)> {
        let days = || self.services.keys().chain(&self.entries).copied();
        Some((Day(days().min()?), Day(days().max()?)))
    }
}

/// True for what is kept as a paper about the patient's rights (45 CFR 164.530(j)(1)): requests and what
/// became of them, disclosures, accountings, amendments, notices of privacy practices.
fn is_paper(entry: &Seen) -> bool {
    match &*entry.kind {
        "request"
        | "request-step"
        | "release"
        | "accounting-given"
        | "accounting-suspended"
        | "amendment-request"
        | "amendment-decision"
        | "disagreement"
        | "rebuttal" => true,
        // The privacy notice is given when a chart is opened.
        "chart-opened" => true,
        "document" => match &entry.data {
            Some(Data::Document(paper)) => {
                matches!(paper.kind, DocumentKind::PrivacyNotice | DocumentKind::RightsLetter)
            }
            _ => true,
        },
        _ => false,
    }
}
