//! The signatures of a whole ledger. What they are checked with is settled while the ledger is read, entry by
//! entry; only the arithmetic waits, to be done for many at a time.

use super::finding::{Finding, Where};
use crate::seal::keybook::Owed;
use crate::seal::note::all_right;
use crate::seal::together::Together;

/// Entries whose signatures are still to be checked, with the place of each.
pub(super) type Signatures = Together<(Owed, Where), Finding>;

/// Nothing to be checked yet.
pub(super) fn signatures() -> Signatures {
    Together::new(check)
}

/// Checks entries together; if anything is wrong with them, each by itself.
fn check(together: &[(Owed, Where)]) -> Vec<Finding> {
    let all: Vec<_> = together.iter().flat_map(|(owed, _)| &owed.claims).collect();
    let right = all_right(&all);
    let named = |(owed, place): &(Owed, Where)| {
        let verdict = if right { owed.then } else { owed.verdict() };
        verdict.err().map(|problem| Finding::new(problem.into(), place.clone()))
    };
    together.iter().filter_map(named).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::kinds::register::Keys;
    use crate::seal::keybook::KeyBook;
    use crate::seal::note::{Note, Signer, sign};
    use crate::verify::finding::FindingId;

    /// Many are checked at once; which of them is wrong, and for what, is told all the same.
    #[test]
    fn of_signatures_checked_together_the_wrong_one_is_named() {
        let author = Signer::from_seed("TR", &[4; 32]).unwrap();
        let keys = serde_json::json!({ "staff": [{
            "code": "TR", "roles": ["desk"], "recipient": "age1x",
            "vkey": author.verifier().to_string(), "from": "2022-10-03", "until": "2025-01-31",
        }], "roles": [] });
        let mut book = KeyBook::default();
        book.take(&serde_json::from_value::<Keys>(keys).unwrap()).unwrap();
        let owed = |seq: u64, day: &str, bent: bool| {
            let mut note = Note::parse(sign(&format!("{seq}\n"), &[&author]).unwrap().as_bytes()).unwrap();
            note.signatures[0].bytes[9] ^= u8::from(bent);
            let day = crate::record::moment::parse_date(day).unwrap();
            (book.owed(&note, "TR", day, false).unwrap(), Where { seq: Some(seq), ..Where::default() })
        };
        let found = |together: &[(Owed, Where)]| {
            check(together).into_iter().map(|f| (f.id, f.place.seq)).collect::<Vec<_>>()
        };
        let (right, later) = (owed(1, "2024-01-01", false), owed(2, "2025-02-01", false));
        assert_eq!(found(std::slice::from_ref(&right)), []);
        assert_eq!(found(&[right.clone(), later.clone()]), [(FindingId::SignerNotThatDay, Some(2))]);
        let wrong = [(FindingId::SignerNotThatDay, Some(2)), (FindingId::SignatureWrong, Some(3))];
        assert_eq!(found(&[right, later, owed(3, "2024-01-01", true)]), wrong);
    }
}
