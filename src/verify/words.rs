//! The sentences that tell what a check of a package has shown, each in one place, with gaps for what differs.
//! `inkfast-check`, `inkfast verify` and the page `check.html` inside a package all say these very words: the page
//! takes them from the table that [`ALL`] is. The words of findings stand in `remedies.rs`.

use std::fmt::Display;

macro_rules! sentences {
    ($($name:ident = $text:literal;)+) => {
        $(#[doc = concat!("`", $text, "`")] pub const $name: &str = $text;)+
        /// Every sentence by its name, for the page inside a package.
        pub const ALL: &[(&str, &str)] = &[$((stringify!($name), $name)),+];
    };
}

sentences! {
    // What was shown (`statements.rs`).
    LIST_SIGNED = "The package's list is signed by {by}, who made it, and every part is exactly as listed; nothing was added or taken out.";
    LIST_SIGNED_NOT = "The package's parts are not what a signed list of the practice says.";
    UNCHANGED = "Each of the {given} records given is, byte for byte, the one that was sealed when its entry was made.";
    UNCHANGED_NOT = "Not every record given is the one that was sealed.";
    SIGNATURES = "Each of the {n} entries is signed by a key on the practice's list of staff (lists of keys in the package: {keys}), on a day on which that key counted.";
    SIGNATURES_NOT = "Not every entry is signed by a listed key on a day on which it counted.";
    ATTACHMENTS_NONE = "No record given names an attachment.";
    ATTACHMENTS = "Each of the {count} attachments that the records given name is here and is the same.";
    ATTACHMENTS_NOT = "It can't be said that every attachment that a record names is here and the same.";
    NO_ENTRY = "no entry";
    NUMBERS = "numbers {first} to {last} of the ledger";
    IN_LEDGER = "Each of the {n} entries stands in the ledger at its own number ({span}), under one signed checkpoint.";
    IN_LEDGER_NOT = "Not every entry is shown to stand in the ledger at its number.";
    CHART_COMPLETE = "Entries 1 to {n} of the chart are present, unbroken and in order; the last is the entry of this very release, so nothing of the chart up to it is missing.";
    CHART_WITHHELD = " The contents of {count} of them are withheld.";
    CHART_COMPLETE_NOT = "It can't be said that the chart is complete up to its release.";

    COMPLETE_NOT = "It can't be said that the chart is complete.";

    // The verdict (`certificate.rs`).
    NOT_SOUND = "NOT SOUND";
    NOT_SOUND_MEANS = "{wrong} thing(s) are wrong with this {what}; they are named below. Keep it as it is.";
    SOUND = "SOUND";
    SOUND_MEANS = "Nothing in this package was changed, moved, removed or added since its entries were sealed, and it agrees with what was kept outside the practice, up to number {number} of the ledger.";
    SOUND_IN_ITSELF = "SOUND IN ITSELF";
    SOUND_IN_ITSELF_MEANS = "Everything in this package fits together: nothing in it was changed, moved, removed or added since the practice made it. Nothing kept outside the practice was compared, so nothing is proven about a ledger that was rebuilt.";

    // What was checked.
    LEDGER = "Ledger";
    CHART_TAG = "Chart tag";
    RELEASE = "Release";
    RELEASE_IS = "entry {release} of the ledger, made {made} by {by}";
    FILE = "File";
    FILE_BYTES = "{bytes} bytes";
    BLAKE3 = "BLAKE3";
    SHA256 = "SHA-256";
    CHECKPOINT_KEY = "Checkpoint key";
    CHECKPOINT = "Checkpoint";
    CHECKPOINT_IS = "over {size} entries, root {root}";
    LOOKED_AT = "Looked at";
    LOOKED_AT_IS = "{entries} entries of {charts} chart(s), {files} sealed file(s) or attachment(s)";

    // The five sections.
    CONTENTS = "1. The contents";
    PLACES = "2. In the ledger";
    CHART = "3. The chart up to its release";
    WITHHELD = "4. Withheld";
    OUTSIDE = "5. Outside witnesses";
    NOT_SHOWN = "Not shown.";
    SIGNED_BY_CODE = "Entries signed, by staff code: {each}.";
    NOTHING_WITHHELD = "Nothing is withheld.";
    SOME_WITHHELD = "Contents withheld: {count}. Each of these entries is still counted, and proven to be there:";
    ONE_WITHHELD = "entry {number} of the chart (number {seq}, {kind}): {reason}";
    MORE_WITHHELD = "and {count} more; manifest.json has them all.";
    AGREES = "The {what} agrees.";
    DISAGREES = "The {what} says otherwise: the ledger in this package is not the one it was made from.";
    NOT_COMPARED = "The {what} could not be compared: the package holds no proof at that number.";
    OF_ANOTHER_LEDGER = "The {what} is of another ledger, or by another key.";
    REACHED = "The last number reached by something outside: {number}.";
    REACHED_BY_NOTHING = "Nothing outside the package vouches for it: nothing is proven about a ledger that was rebuilt.";
    KEY_NOT_KNOWN = "The checkpoint key came with the package; nothing here says that it is the practice's own.";

    KEPT_OUTSIDE = "Kept outside";
    COMPARED_WITH_NOTHING = "It was compared with nothing kept outside.";

    // How a finding is told.
    WHAT_WAS_FOUND = "What was found";
    YES = "yes";
    NO = "NO";
    PLAIN = "-";
    WRONG_AT = "WRONG [{id}] at {place}";
    NOTE_AT = "Note [{id}] at {place}";
    STILL_PROVEN = "Still proven: {words}";
    NEXT = "Next: {words}";
    AND_MORE = "and {count} more.";
    AT_FILE = "file {name}";
    AT_ENTRY = "entry {seq}";
    AT_KIND = "kind {kind}";
    THE_WHOLE = "the whole";

    // What no check proves (`finding.rs`).
    LIMITS = "What this does not prove";
    LIMIT_TRUE = "It does not prove that what was written is true.";
    LIMIT_CLOCK = "It does not prove that the clock was right: times are what the practice's own clock said.";
    LIMIT_UNWRITTEN = "It does not prove that nothing was left unwritten, or that no second book was kept.";
    LIMIT_AFTER = "Entries after number {number} could have been rewritten by the keeper of the keys: nothing outside was compared that reaches further.";
    LIMIT_REBUILT = "Nothing is proven about a ledger that was rebuilt: no slip, kept checkpoint or witness was compared, so the keeper of the keys could have rewritten or shortened the whole before making this package.";
    LIMIT_KEY = "The checkpoint key came with the package itself. Compare it with one that reached you another way: from the practice by telephone, or out of an earlier package.";
    LIMIT_LATER = "It does not prove that every later change of the staff's keys is in the package, or anything after the release entry.";

    // `differences.txt` (`manifest.rs`).
    DIFFERS_HEAD = "What differs in this package (release {release}) from the package of release {since}";
    DIFFERS_NOTHING = "Nothing, but for this release itself.";
    DIFFERS_ENTRY = "entry {entry}: ";
    DIFFERS_FILE = "{file}: ";
    DIFFERS_BY = " (entry {by})";
    DIFFERS_FOOT = "No entry of the earlier package was changed or removed: every entry is still the one that was sealed,\nas the check of this package shows.";

    // A slip or receipt, mistyped (`pin.rs`).
    SLIP = "slip";
    RECEIPT = "receipt";
    PIN_OTHER_KIND = "This is a {other}, not a {what}.";
    PIN_OTHER_KIND_NEXT = "Check it with --{other} instead.";
    PIN_FORM = "A {what} is a number and a code, like 214:ABCD-EFGH-IJKL-MNOP-QRST-UV, or a number and twelve words.";
    PIN_FORM_NEXT = "Type both as they are printed, the number first.";
    PIN_CODE = "The {what}'s code was mistyped.";
    PIN_CODE_NEXT = "Type it again, letter by letter: five groups of four and the check letters. Its words are easier.";
    PIN_LAST = "The last letter of the receipt's code is missing.";
    PIN_LAST_NEXT = "Type it as it is printed, with two letters in the last group.";
    PIN_SECOND = "The number {number}, or the last letter of the code, was mistyped; the rest of the code is right.";
    PIN_SECOND_NEXT = "Compare the number with the paper and type both again.";
    PIN_COUNT = "There are {count} words after the number {number}; twelve are needed.";
    PIN_COUNT_NEXT = "Type the number and all twelve words in their order.";
    PIN_UNKNOWN_LIKELY = "Word {place}, {typed}, is none of the check words; \"{likely}\" would fit.";
    PIN_UNKNOWN = "Word {place}, {typed}, is none of the check words.";
    PIN_UNKNOWN_NEXT = "Look at that word on the paper, and type all of it again.";
    PIN_WRONG = "Word {place} is likely mistyped: \"{likely}\" would fit.";
    PIN_LIKELY_NEXT = "Look whether the paper says \"{likely}\" there, and type all of it again.";
    PIN_SWAPPED = "Words {place} and {after} are likely swapped.";
    PIN_SWAPPED_NEXT = "Look at their order on the paper, and type all of it again.";
    PIN_NUMBER = "The number {number} is likely mistyped: {likely} would fit the words.";
    PIN_NUMBER_NEXT = "Look whether the paper says {likely}, and type all of it again.";
    PIN_SEVERAL = "The number and the words do not fit together; more than one of them is mistyped.";
    PIN_SEVERAL_NEXT = "Compare each with the paper, and type all of it again.";

    // What could not be checked at all (`members.rs`, `package.rs`, `opening.rs`).
    NOT_WHOLE = "This is not a whole package: {why}.";
    NOT_WHOLE_NEXT = "Ask for another copy, or check that the whole file arrived.";
    TOO_LARGE = "This package has {what}, more than any chart has; it was not checked.";
    TOO_LARGE_NEXT = "Ask whoever gave it what it is, and for another copy.";
    TOO_MANY_STRAYS = "over a thousand parts that no package has";
    TOO_MUCH_TEXT = "more text than fits into memory";
    TOO_MANY_PARTS = "hundreds of thousands of parts";
    NOTHING_OPENED = "Nothing was opened or changed.";
    LATER_EDITION = "This package is of edition {edition}; this program knows edition {known}.";
    LATER_EDITION_SAFE = "Nothing was changed.";
    LATER_EDITION_NEXT = "Check it with the newer program that wrote it.";
}

/// The sentence with its gaps filled. What is put in is never looked at for gaps again.
pub fn fill(sentence: &str, with: &[(&str, &dyn Display)]) -> String {
    let mut out = String::with_capacity(sentence.len() + 32);
    let mut rest = sentence;
    while let Some((before, after)) = rest.split_once('{') {
        out.push_str(before);
        let (name, behind) = after.split_once('}').unwrap_or((after, ""));
        if let Some((_, value)) = with.iter().find(|(known, _)| *known == name) {
            out.push_str(&value.to_string());
        }
        rest = behind;
    }
    out.push_str(rest);
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gaps_are_filled_once() {
        let said = fill(ONE_WITHHELD, &[("number", &3), ("seq", &9), ("kind", &"{seq}"), ("reason", &"r")]);
        assert_eq!(said, "entry 3 of the chart (number 9, {seq}): r");
        assert_eq!(fill(NO_ENTRY, &[]), "no entry");
    }

    #[test]
    fn every_gap_is_closed_and_every_sentence_is_there_once() {
        for (name, text) in ALL {
            assert_eq!(text.matches('{').count(), text.matches('}').count(), "{name}");
            assert!(!text.is_empty(), "{name}");
        }
        let names: std::collections::BTreeSet<_> = ALL.iter().map(|(name, _)| name).collect();
        assert_eq!(names.len(), ALL.len());
    }
}
