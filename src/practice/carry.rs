//! Taking parts of the last note over into the one being written: only what is asked for, and only what may
//! stay as it was. What was found, done and measured is today's or it is not written.

use super::open::{Entry, Practice};
use super::reading::{ChartReading, misfiled};
use crate::record::kinds::visit::CarriedForward;
use crate::record::vocab::words;
use crate::trouble::{Kind, Outcome, Trouble};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value, json};

words! {
    /// A part of a note that may be taken over.
    CarriedPart {
        /// The assessment.
        Assessment = "assessment",
        /// The advice, with what to watch for.
        Advice = "advice",
        /// The plan.
        Plan = "plan",
    }
}

/// What is true of one day only: how it was against the visit before, what was considered and ruled out then,
/// how treatment was borne until then, which sheets were handed over, to whom the patient was sent.
const OF_THAT_DAY: [(&str, &str); 5] = [
    ("assessment", "change_since_last"),
    ("assessment", "considered"),
    ("assessment", "tolerance"),
    ("advice", "sheets"),
    ("plan", "referral"),
];

/// Lays parts of the patient's last note into a draft, each marked as taken over and not yet looked through.
/// What the draft says already stays as it is.
///
/// # Errors
/// When the chart has no earlier note that opens here, or that note says nothing there.
pub fn carry(
    practice: &Practice,
    entries: &[Entry],
    visit: u64,
    parts: &[CarriedPart],
    data: &mut Value,
) -> Outcome<()> {
    if parts.is_empty() {
        return Ok(());
    }
    let misfiled = misfiled(entries);
    let notes = entries.iter().filter(|e| e.leaf.kind == "visit" && !misfiled.contains(&e.leaf.seq));
    let dated = notes.filter_map(|entry| Some((entry.leaf.seq, entry.record.as_ref()?)));
    let earlier = dated.filter(|(_, record)| record.data.get("visit") != Some(&json!(visit)));
    let Some((seq, last)) = earlier.max_by_key(|(seq, record)| (record.happened.start, *seq)) else {
        return Err(refused("This chart has no earlier note to take anything over from."));
    };
    // What was corrected since is taken over as it reads now, never the struck words.
    let last = ChartReading::new(practice, entries).now(seq, last);
    let Some(fields) = data.as_object_mut() else { return Ok(()) };
    for part in parts {
        let said = last.data.get(part.word()).and_then(Value::as_object);
        let Some(said) = said.filter(|said| !said.contains_key("not_done_because")) else {
            return Err(refused(format!("The last note, number {seq}, has no {part} to take over.")));
        };
        let mut whole: Map<String, Value> = said.clone();
        whole.retain(|name, value| {
            !OF_THAT_DAY.contains(&(part.word(), name.as_str())) && value.get("not_done_because").is_none()
        });
        let taken = lay(fields, *part, whole);
        let marks = fields.entry("carried_forward").or_insert_with(|| json!([]));
        if let Some(marks) = marks.as_array_mut() {
            let mark = |field| json!(CarriedForward { from_entry: seq, field, checked: false });
            marks.extend(taken.into_iter().map(mark));
            if marks.is_empty() {
                fields.shift_remove("carried_forward");
            }
        }
    }
    Ok(())
}

/// Lays what was said into a part of the draft, where nothing stands yet; gives the places it went to.
fn lay(fields: &mut Map<String, Value>, part: CarriedPart, whole: Map<String, Value>) -> Vec<String> {
    let here = fields.get_mut(part.word()).and_then(Value::as_object_mut);
    let Some(here) = here.filter(|here| !here.contains_key("not_done_because")) else {
        if whole.is_empty() {
            return Vec::new();
        }
        fields.insert(part.word().to_owned(), Value::Object(whole));
        return vec![format!("/{part}")];
    };
    let mut taken = Vec::new();
    for (name, value) in whole {
        if !here.contains_key(&name) {
            taken.push(format!("/{part}/{name}"));
            here.insert(name, value);
        }
    }
    taken
}

/// Says that what was taken over was looked through and is still right.
pub fn looked_through(data: &mut Value) {
    let marks = data.get_mut("carried_forward").and_then(Value::as_array_mut);
    for mark in marks.into_iter().flatten() {
        mark["checked"] = json!(true);
    }
}

fn refused(what: impl Into<String>) -> Trouble {
    Trouble::new(
        Kind::Refused,
        what,
        "Nothing was recorded; the draft is as it was.",
        "Write that part, for example with `inkfast note \"plan again in a week\"`.",
    )
}
