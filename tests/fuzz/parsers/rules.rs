//! A rules file: what is wrong is said, and what is accepted can be used.

use inkfast::record::rulebook::RuleBook;
use inkfast::record::rulebook::check::check;
use inkfast::record::rulebook::read::file;

/// Tries one input.
pub fn try_one(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    if let Ok(rules) = file(text)
        && let Ok(book) = RuleBook::read(&rules.document)
    {
        let _ = check(&rules.document, &book);
    }
}
