//! A facts document: refused, or answered in the same way each time.

use inkfast::record::coverage::answer;
use inkfast::record::coverage::facts::Facts;

/// Tries one input.
pub fn try_one(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    if let Ok(facts) = Facts::from_json(text) {
        let (once, twice) = (answer(&facts), answer(&facts));
        assert_eq!(serde_json::to_string(&once).unwrap(), serde_json::to_string(&twice).unwrap());
    }
}
