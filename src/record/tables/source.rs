//! What every published rule says about itself: how well it is known.

use serde::{Deserialize, Deserializer, Serialize};

/// How well a rule is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Confidence {
    /// The text, or the regulator's own page, was read.
    Found,
    /// Known only through somebody else's statement of it.
    Secondary,
    /// Not found: unverified.
    Memory,
    /// Worked out by arithmetic or logic from another rule.
    Derived,
    /// This project's own proposal or invention.
    Project,
}

/// A row of a table that is asked for by its name.
pub(super) trait Named {
    /// The name.
    fn id(&self) -> &str;
}

/// Reads the rows of a table and refuses two of one name: the second would never be looked at.
pub(super) fn no_two_alike<'de, D, T>(deserializer: D) -> Result<Vec<T>, D::Error>
where
    D: Deserializer<'de>,
    T: Deserialize<'de> + Named,
{
    let rows = Vec::<T>::deserialize(deserializer)?;
    for (at, row) in rows.iter().enumerate() {
        if rows[..at].iter().any(|earlier| earlier.id() == row.id()) {
            return Err(serde::de::Error::custom(format!("there are two of the name {:?}", row.id())));
        }
    }
    Ok(rows)
}
