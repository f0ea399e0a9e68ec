//! The policy values a clinic adopts: ages, minutes, months, lists. Never built in.

use crate::record::coverage::strict::{map_once, maps_once, present};
use crate::record::vocab::{Region, Technique, words};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

words! {
    /// When somebody born on 29 February comes of age in a common year.
    LeapDayBirthday { March1 = "march-1", February28 = "february-28" }
}

/// The rules file, as adopted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Policy {
    /// Name of the edition. In a rules file it stands at the top, once for all sections.
    #[schemars(skip)]
    pub edition: String,
    /// Age of majority, in years.
    pub majority_age_years: u64,
    /// The birthday in common years of those born on 29 February.
    pub leap_day_birthday: LeapDayBirthday,
    /// Age in years from which a minor's own answer is asked.
    pub own_answer_from_age_years: u64,
    /// How many different identifiers confirm identity.
    pub identifiers_needed: u64,
    /// How long a yes given in the visit lasts, in minutes.
    pub same_visit_yes_minutes: u64,
    /// Hours after which a consent counts as written late.
    pub late_after_hours: u64,
    /// Smallest mouth opening for work inside the mouth, in millimeters.
    pub mouth_opening_floor_mm: f64,
    /// Longest life of a consent in months, by technique; `default` for the rest.
    #[serde(deserialize_with = "map_once")]
    pub consent_ceiling_months: BTreeMap<String, u64>,
    /// Techniques for which no side is asked.
    pub techniques_without_side: Vec<Technique>,
    /// Techniques that need a written consent and a recorded explanation.
    pub written_consent_techniques: Vec<Technique>,
    /// Techniques for which a yes in the visit may stand in for a consent.
    pub same_visit_yes_is_enough_for: Vec<Technique>,
    /// What has to be asked in every visit.
    pub same_visit_asking_needed: Vec<ScopeRule>,
    /// Screen, item, and the red-flag group of the item if it has one.
    #[serde(deserialize_with = "maps_once")]
    pub screen_items: BTreeMap<String, BTreeMap<String, Option<String>>>,
    /// Which screens a request needs.
    pub screens_needed: Vec<ScreenNeeded>,
    /// The regions each red-flag group governs.
    #[serde(deserialize_with = "map_once")]
    pub red_flag_governs: BTreeMap<String, Vec<Region>>,
    /// Techniques no red flag stops.
    pub techniques_not_stopped_by_red_flags: Vec<Technique>,
    /// What alerts bar.
    pub bars: Vec<Bar>,
    /// Kinds of condition that can be met at the chair.
    pub curable_conditions: Vec<String>,
    /// Ids of the rules in force.
    pub rule_ids_in_force: Vec<String>,
}

/// Techniques and regions a rule speaks of; none = any.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ScopeRule {
    /// The techniques; none = any.
    #[serde(deserialize_with = "present")]
    pub techniques: Option<Vec<Technique>>,
    /// The regions; none = any.
    #[serde(deserialize_with = "present")]
    pub regions: Option<Vec<Region>>,
}

/// A screen and the requests that need it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ScreenNeeded {
    /// Name of the screen.
    pub screen: String,
    /// The techniques; none = any.
    #[serde(deserialize_with = "present")]
    pub techniques: Option<Vec<Technique>>,
    /// The regions; none = any.
    #[serde(deserialize_with = "present")]
    pub regions: Option<Vec<Region>>,
}

words! {
    /// How far an alert bars.
    BarLevel { Absolute = "absolute", Relative = "relative" }
}

/// What an alert bars.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Bar {
    /// Kind of the alert.
    pub alert: String,
    /// How far.
    pub level: BarLevel,
    /// The techniques barred.
    pub techniques: Vec<Technique>,
    /// The regions; none = the region of the alert.
    #[serde(deserialize_with = "present")]
    pub regions: Option<Vec<Region>>,
}
