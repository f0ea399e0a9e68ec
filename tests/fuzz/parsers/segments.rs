//! Motion segments and the short words of the table-side commands.

use inkfast::record::notation::segment::read_segment;
use inkfast::record::shortform::{Grammar, parse, split};

/// Tries one input.
pub fn try_one(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    if let Ok(segment) = read_segment(text) {
        let name = serde_json::to_value(segment).unwrap();
        let again = name.as_str().map(|name| read_segment(name).map_err(|why| why.to_string()));
        assert_eq!(again, Some(Ok(segment)), "{name}");
    }
    let words = split(text);
    for grammar in [Grammar::Asked, Grammar::Pause, Grammar::Withdraw, Grammar::Number] {
        let _ = parse(grammar, &words);
    }
}
