//! A facts document: refused, or answered in the same way each time.
#![no_main]

use inkfast::record::coverage::answer;
use inkfast::record::coverage::facts::Facts;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    if let Ok(facts) = Facts::from_json(text) {
        let (once, twice) = (answer(&facts), answer(&facts));
        assert_eq!(serde_json::to_string(&once).unwrap(), serde_json::to_string(&twice).unwrap());
    }
});
