//! What is withheld, and why.

use crate::practice::open::Entry;
use crate::practice::reading::{ELSEWHERE, misfiled};
use crate::trouble::{Kind, Outcome, Trouble};

/// Which entries are withheld: what was ordered, and whatever belongs to another person.
pub(super) fn withheld_entries(entries: &[Entry], ordered: &[(u64, String)]) -> Outcome<Vec<(u64, String)>> {
    let mut withheld: Vec<(u64, String)> = Vec::new();
    for (seq, why) in ordered {
        if !entries.iter().any(|e| e.leaf.seq == *seq) {
            return Err(Trouble::input(
                format!("Entry {seq} is not in this chart, so it can't be withheld from it."),
                "Look its number up with `inkfast print`.",
            ));
        }
        withheld.push((*seq, why.clone()));
    }
    for entry in entries {
        if entry.record.is_none() {
            return Err(Trouble::new(
                Kind::Locked,
                "Your role does not open every entry of this chart, so you can't release it.",
                "Nothing was recorded.",
                "Ask somebody with the clinical role.",
            ));
        }
    }
    for seq in misfiled(entries) {
        if !withheld.iter().any(|(n, _)| *n == seq) {
            withheld.push((seq, ELSEWHERE.to_string()));
        }
    }
    withheld.sort();
    Ok(withheld)
}
