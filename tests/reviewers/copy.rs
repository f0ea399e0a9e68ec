//! A package that was handed over, opened as its reader opens it.

use crate::archive::{Members, members};
use inkfast::demo::run::{PackageKey, build};
use inkfast::record::moment::{Moment, parse_date, plain_date};
use inkfast::seal::age_file::{With, opener};
use inkfast::verify::package::check_archive;
use inkfast::world::{SetClock, World};
use serde_json::Value;
use std::collections::BTreeMap;
use std::io::Read;
use std::sync::{Arc, OnceLock};

/// One package, by what lies in it and nothing else.
#[derive(Clone)]
pub struct Copy {
    /// Its file name.
    pub file: String,
    /// Its list.
    pub list: Value,
    /// The records given, by their number in the ledger.
    pub records: BTreeMap<u64, Value>,
    /// The bytes of every leaf and record, by member name.
    pub entries: BTreeMap<String, Vec<u8>>,
    /// The slips, by member name.
    pub slips: BTreeMap<String, String>,
    /// The printed record.
    pub page: String,
    /// The summary for the patient.
    pub patient: String,
    /// The half page for a clinician.
    pub clinician: String,
}

/// Every package that the example practice handed over, opened once.
pub fn copies() -> &'static [Copy] {
    static COPIES: OnceLock<Vec<Copy>> = OnceLock::new();
    COPIES.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        let clock = Arc::new(SetClock::new(Moment::EPOCH));
        let world = World::with_clock(clock.clone());
        let store = folder.path().join("store");
        let built = build(&world, &clock, &store, Some("../outside".into()), &mut |_| ()).unwrap();
        built.packages.iter().map(|package| opened(&package.file, &package.key)).collect()
    })
}

fn opened(file: &std::path::Path, key: &PackageKey) -> Copy {
    let sealed = std::fs::read(file).unwrap();
    let with = match key {
        PackageKey::Identity(identity) => With::Identities(std::slice::from_ref(identity)),
        PackageKey::Passphrase(secret) => With::Passphrase(secret),
    };
    let mut archive = Vec::new();
    opener(&with, sealed.as_slice()).unwrap().read_to_end(&mut archive).unwrap();
    assert!(check_archive(&mut archive.as_slice(), &mut |_| ()).unwrap().sound);
    Copy::new(file.file_name().unwrap().to_string_lossy().into_owned(), &members(&archive))
}

impl Copy {
    fn new(file: String, all: &Members) -> Copy {
        let text = |wanted: &str| {
            let (_, bytes) = all.iter().find(|(name, _)| name == wanted).unwrap();
            String::from_utf8(bytes.clone()).unwrap()
        };
        let list: Value = serde_json::from_str(&text("manifest.json")).unwrap();
        let mut records = BTreeMap::new();
        for entry in list["entries"].as_array().unwrap() {
            let name = format!("entries/{:06}.record.json", entry["chart_seq"].as_u64().unwrap());
            if let Some((_, bytes)) = all.iter().find(|(member, _)| *member == name) {
                records.insert(entry["seq"].as_u64().unwrap(), serde_json::from_slice(bytes).unwrap());
            }
        }
        let under = |folder: &'static str| all.iter().filter(move |(name, _)| name.starts_with(folder));
        let kept = |name: &str| name.ends_with(".leaf") || name.ends_with(".record.json");
        Copy {
            file,
            records,
            entries: under("entries/").filter(|(name, _)| kept(name)).cloned().collect(),
            slips: under("slips/")
                .map(|(name, bytes)| (name.clone(), String::from_utf8(bytes.clone()).unwrap()))
                .collect(),
            page: text("record.html"),
            patient: text("summary-for-the-patient.html"),
            clinician: text("half-page-for-a-clinician.html"),
            list,
        }
    }

    pub fn chart(&self) -> &str {
        self.list["chart"].as_str().unwrap()
    }

    /// Number and record of every given entry of a kind, in order.
    pub fn of<'a>(&'a self, kind: &'a str) -> impl Iterator<Item = (u64, &'a Value)> {
        self.records.iter().filter(move |(_, r)| r["kind"] == kind).map(|(seq, r)| (*seq, r))
    }

    /// The data of a given entry, to be bent.
    pub fn data(&mut self, kind: &str, nth: usize) -> &mut Value {
        let found = self.records.values_mut().filter(|r| r["kind"] == kind).nth(nth);
        &mut found.unwrap()["data"]
    }

    /// The notes, as they read with the corrections that are in the copy.
    pub fn notes(&self) -> Vec<(u64, Value)> {
        let mut notes: Vec<(u64, Value)> = self.of("visit").map(|(seq, r)| (seq, r.clone())).collect();
        for (_, correction) in self.of("correction") {
            let data = &correction["data"];
            let found = notes.iter_mut().find(|(seq, _)| data["target"] == *seq);
            let place = found.and_then(|(_, r)| r["data"].pointer_mut(data["field"].as_str().unwrap()));
            if let Some(place) = place {
                *place = data["is"].clone();
            }
        }
        notes
    }

    /// The text of a part of the printed record, from its heading to the next, without its markup.
    pub fn section(&self, heading: &str) -> String {
        let start = self.page.find(&format!("<h2>{heading}</h2>")).unwrap_or(self.page.len());
        let rest = &self.page[start..];
        let end = rest.get(4..).and_then(|r| r.find("<h2>")).map_or(rest.len(), |at| at + 4);
        plain(&rest[..end])
    }
}

/// The text of a page: no style, no markup, one space between words.
pub fn plain(page: &str) -> String {
    let body = page.find("</style>").map_or(page, |at| &page[at..]);
    let (mut out, mut inside) = (String::new(), false);
    for letter in body.chars() {
        match letter {
            '<' => {
                inside = true;
                out.push(' ');
            }
            '>' => inside = false,
            other if !inside => out.push(other),
            _ => {}
        }
    }
    let out = out.replace("&quot;", "\"").replace("&#39;", "'").replace("&amp;", "&");
    out.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Fails with the words where it does not hold.
pub fn need(holds: bool, otherwise: impl Into<String>) -> Result<(), String> {
    if holds { Ok(()) } else { Err(otherwise.into()) }
}

/// A text of a record; empty where there is none.
pub fn text<'a>(value: &'a Value, pointer: &str) -> &'a str {
    value.pointer(pointer).and_then(Value::as_str).unwrap_or_default()
}

/// The items of a list in a record.
pub fn items<'a>(value: &'a Value, pointer: &str) -> &'a [Value] {
    value.pointer(pointer).and_then(Value::as_array).map_or(&[], Vec::as_slice)
}

/// A moment of a record.
pub fn moment(value: &Value, pointer: &str) -> Moment {
    Moment::parse(text(value, pointer)).unwrap()
}

/// The day of a record's text as the pages write it.
pub fn day(text: &str) -> String {
    plain_date(parse_date(text.get(..10).unwrap()).unwrap())
}

/// One space between words.
pub fn words(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
