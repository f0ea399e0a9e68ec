//! A rules file: what is wrong is said, and what is accepted can be used.
#![no_main]

use inkfast::record::rulebook::RuleBook;
use inkfast::record::rulebook::check::check;
use inkfast::record::rulebook::read::file;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    if let Ok(rules) = file(text)
        && let Ok(book) = RuleBook::read(&rules.document)
    {
        let _ = check(&rules.document, &book);
    }
});
