//! `--data FILE`: answers as one JSON object, laid under the flags.

use super::form::FormError;
use clap::{Arg, ArgMatches, Command};
use serde::de::{Deserialize, Deserializer, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Value};
use std::fmt;
use std::io::Read;
use std::path::Path;

const DATA: &str = "data";

/// The most a data file may hold, in bytes: far above any record, far below what fills memory.
pub const MOST_BYTES: u64 = 16 * 1024 * 1024;

/// Adds `--data FILE`. Add it once to a command, however many forms it has.
pub fn add_data_arg(cmd: Command) -> Command {
    cmd.arg(
        Arg::new(DATA)
            .long(DATA)
            .value_name("FILE")
            .help("Take answers from this file, one JSON object; - reads standard input. Flags win over it."),
    )
}

/// Reads what `--data` names; none where it was not given or the command does not have it.
/// `stdin` is read for `-`.
pub fn load(matches: &ArgMatches, stdin: &mut dyn Read) -> Result<Option<Value>, FormError> {
    let Ok(Some(name)) = matches.try_get_one::<String>(DATA) else {
        return Ok(None);
    };
    let bytes = if name == "-" { read_all(stdin) } else { read_file(Path::new(name)) };
    read(&bytes.map_err(FormError::BadData)?).map(Some).map_err(FormError::BadData)
}

fn read_file(path: &Path) -> Result<Vec<u8>, String> {
    let mut file =
        std::fs::File::open(path).map_err(|fault| format!("the file cannot be opened ({fault})"))?;
    read_all(&mut file)
}

fn read_all(source: &mut dyn Read) -> Result<Vec<u8>, String> {
    let mut bytes = Vec::new();
    source
        .take(MOST_BYTES + 1)
        .read_to_end(&mut bytes)
        .map_err(|fault| format!("it cannot be read ({fault})"))?;
    match bytes.len() as u64 > MOST_BYTES {
        true => Err(format!("it is larger than {} MiB", MOST_BYTES / 1024 / 1024)),
        false => Ok(bytes),
    }
}

fn read(bytes: &[u8]) -> Result<Value, String> {
    // Some editors put a byte-order mark first, which JSON (RFC 8259 section 8.1) lets a reader ignore.
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let NameOnce(value) = serde_json::from_slice(bytes).map_err(|fault| {
        // serde_json ends its text with the place; here the place is said first.
        let (line, column) = (fault.line(), fault.column());
        let text = fault.to_string();
        let why = text.strip_suffix(&format!(" at line {line} column {column}")).unwrap_or(&text);
        format!("it is not well-formed JSON at line {line}, column {column}: {why}")
    })?;
    match value.is_object() {
        true => Ok(value),
        false => Err("it must be one JSON object: { \"name\": answer, ... }".to_owned()),
    }
}

/// A JSON value in which no object has one name twice. RFC 8259 section 4 leaves open which of
/// the two counts; taking either could record the wrong side without a word.
struct NameOnce(Value);

impl<'de> Deserialize<'de> for NameOnce {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(NameOnceVisitor).map(NameOnce)
    }
}

struct NameOnceVisitor;

impl<'de> Visitor<'de> for NameOnceVisitor {
    type Value = Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a JSON value")
    }
    fn visit_unit<E>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }
    fn visit_bool<E>(self, yes: bool) -> Result<Value, E> {
        Ok(Value::from(yes))
    }
    fn visit_i64<E>(self, number: i64) -> Result<Value, E> {
        Ok(Value::from(number))
    }
    fn visit_u64<E>(self, number: u64) -> Result<Value, E> {
        Ok(Value::from(number))
    }
    fn visit_f64<E>(self, number: f64) -> Result<Value, E> {
        Ok(Value::from(number))
    }
    fn visit_str<E>(self, text: &str) -> Result<Value, E> {
        Ok(Value::from(text))
    }
    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Value, A::Error> {
        let mut list = Vec::new();
        while let Some(NameOnce(item)) = items.next_element()? {
            list.push(item);
        }
        Ok(Value::Array(list))
    }
    fn visit_map<A: MapAccess<'de>>(self, mut entries: A) -> Result<Value, A::Error> {
        let mut map = Map::new();
        while let Some((name, NameOnce(value))) = entries.next_entry::<String, NameOnce>()? {
            if map.insert(name, value).is_some() {
                return Err(serde::de::Error::custom("the same name stands twice in one object"));
            }
        }
        Ok(Value::Object(map))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_fault_is_placed_by_line_and_column() {
        let why = read(b"{\n  \"side\": \"left\",\n  \"pain\": 5,,\n}").unwrap_err();
        assert!(why.contains("line 3, column 13"), "{why}");
        let why = read(b"{\"a\": [{\"side\": \"left\",\n\"side\": \"right\"}]}").unwrap_err();
        assert!(why.contains("line 2") && why.contains("same name stands twice"), "{why}");
        assert!(read(b"[1]").unwrap_err().contains("one JSON object"));
        assert!(read(b"").is_err());
        assert!(read(b"{} {}").is_err());
    }

    #[test]
    fn every_kind_of_value_is_read() {
        let text = r#"{"a": [null, true, -1, 18446744073709551615, 1.5, "x\n"], "b": {}}"#;
        assert_eq!(read(text.as_bytes()).unwrap(), serde_json::from_str::<Value>(text).unwrap());
        assert!(read("[".repeat(10_000).as_bytes()).is_err());
    }

    #[test]
    fn a_byte_order_mark_is_passed_over() {
        assert_eq!(read(b"\xef\xbb\xbf{\"a\":1}").unwrap(), json!({"a": 1}));
    }

    #[test]
    fn reads_standard_input_and_says_what_is_wrong_with_a_file() {
        let cmd = add_data_arg(Command::new("x"));
        let matches = cmd.clone().try_get_matches_from(["x", "--data", "-"]).unwrap();
        assert_eq!(load(&matches, &mut &b"{\"a\":1}"[..]).unwrap(), Some(json!({"a": 1})));
        let matches = cmd.clone().try_get_matches_from(["x", "--data", "/no/such/file"]).unwrap();
        assert!(load(&matches, &mut &b""[..]).is_err());
        let matches = cmd.try_get_matches_from(["x"]).unwrap();
        assert_eq!(load(&matches, &mut &b""[..]).unwrap(), None);
        let without = Command::new("x").try_get_matches_from(["x"]).unwrap();
        assert_eq!(load(&without, &mut &b""[..]).unwrap(), None);
    }
}
