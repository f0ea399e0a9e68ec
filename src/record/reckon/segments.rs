//! The topic segments: what a typed spinal level means.

use super::{ReckonError, input, output};
use crate::record::notation::level::{Place, Reading, Spine, Use};
use crate::record::tables::Tables;
use crate::record::tables::levels::Levels;
use serde::{Deserialize, Serialize};
use serde_json::Value;

#[derive(Deserialize)]
struct Asked {
    text: String,
    #[serde(rename = "use")]
    used_for: String,
    #[serde(default)]
    transitional: bool,
}

#[derive(Serialize)]
#[serde(tag = "outcome", rename_all = "lowercase")]
enum Meaning {
    Reads { reads: String },
    Ask { readings: Vec<String> },
    Refuse { reason: &'static str },
}

/// Reads the text with the levels of the tables.
///
/// # Errors
/// Where the input is no such question.
pub fn answer(question: &Value, tables: &Tables) -> Result<Value, ReckonError> {
    output(&match read(&input(question)?, tables)? {
        Reading::Reads(place) => Meaning::Reads { reads: place.to_string() },
        Reading::Ask(places) => Meaning::Ask { readings: places.iter().map(Place::to_string).collect() },
        Reading::Refused(fault) => Meaning::Refuse { reason: fault.word() },
    })
}

/// What the text means, as a sentence.
///
/// # Errors
/// As [`answer`].
pub fn plain(question: &Value, tables: &Tables) -> Result<Vec<String>, ReckonError> {
    let asked: Asked = input(question)?;
    let text = asked.text.trim();
    Ok(vec![match read(&asked, tables)? {
        Reading::Reads(place) => format!("{text} means {}.", in_words(&place)),
        Reading::Ask(places) => {
            let ways: Vec<String> = places.iter().map(in_words).collect();
            let written: Vec<String> = places.iter().map(Place::to_string).collect();
            format!("{text} may mean {}. Write {}.", ways.join(", or "), written.join(" or "))
        }
        Reading::Refused(fault) => format!("{text} is not taken: {fault}."),
    }])
}

fn read(asked: &Asked, tables: &Tables) -> Result<Reading, ReckonError> {
    let used_for = Use::from_word(&asked.used_for)
        .ok_or_else(|| ReckonError("use: accepted is adjust, span or disc".to_owned()))?;
    let levels = Levels::of(&tables.trade).map_err(ReckonError)?;
    Ok(Spine::new(&levels, asked.transitional).read(&asked.text, used_for))
}

fn in_words(place: &Place) -> String {
    match place.lower {
        None => format!("the level {place}"),
        Some(_) => format!("the segment {place}"),
    }
}
