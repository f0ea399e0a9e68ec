//! Small conversions from what a record may hold to what the facts allow.

use data_encoding::HEXLOWER;

/// Different items, in the order in which they were first named.
pub fn different<T: PartialEq + Clone>(items: &[T]) -> Vec<T> {
    let mut out: Vec<T> = Vec::with_capacity(items.len());
    for item in items {
        if !out.contains(item) {
            out.push(item.clone());
        }
    }
    out
}

/// A list of what is meant; an empty one means all, as an absent one does.
pub fn some_different<T: PartialEq + Clone>(items: Option<&Vec<T>>) -> Option<Vec<T>> {
    items.filter(|list| !list.is_empty()).map(|list| different(list))
}

/// The text, or other words where it is blank.
pub fn given(text: &str, otherwise: &str) -> String {
    if text.trim().is_empty() { otherwise.to_string() } else { text.to_string() }
}

/// The text, unless it is blank.
pub fn words(text: Option<&String>) -> Option<String> {
    text.filter(|text| !text.trim().is_empty()).cloned()
}

/// A code or person id as the facts write ids: as it is where it may be, otherwise spelled in hex, so
/// that two different ones never become the same.
pub fn word_id(text: &str) -> String {
    let plain = text.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-');
    if plain && !text.is_empty() && !text.starts_with('-') && !text.starts_with("hex-") {
        return text.to_string();
    }
    format!("hex-{}", HEXLOWER.encode(text.as_bytes()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_stay_apart() {
        assert_eq!(word_id("dm-b1"), "dm-b1");
        assert_eq!(word_id("mother 1"), "hex-6d6f746865722031");
        assert_eq!(word_id("hex-6d6f746865722031"), "hex-6865782d36643666373436383635373232303331");
        assert_eq!(word_id(""), "hex-");
        assert_eq!(word_id("-a"), "hex-2d61");
    }
}
