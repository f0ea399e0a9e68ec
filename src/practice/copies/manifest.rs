//! The list of a copy in a store of objects: which object holds which bytes of which file. Objects are only ever
//! added, and each is named by what it holds, so a list never changes: the next one says what is new since it.

use crate::practice::objects::Objects;
use crate::record::moment::Moment;
use crate::seal::body::unhex32;
use crate::trouble::{Kind, Outcome, Trouble};
use std::collections::BTreeMap;
use std::fmt::Write;

/// Folder of the lists.
pub const LISTS: &str = "copies/";
/// First line of a list.
const MARKER: &str = "inkfast-copy/v1";
/// So many lists in a row name what is new only; the next one names everything.
pub const MOST_IN_A_ROW: u32 = 32;

/// Some bytes of a file, and the object that holds them.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Piece {
    /// Where in the file they begin.
    pub offset: u64,
    /// How many.
    pub len: u64,
    /// BLAKE3 of them, hex.
    pub digest: String,
}

impl Piece {
    /// Bytes of a file at a place.
    pub fn of(offset: u64, bytes: &[u8]) -> Piece {
        Piece { offset, len: bytes.len() as u64, digest: blake3::hash(bytes).to_hex().to_string() }
    }

    /// Name of the object, below the ledger's folder.
    pub fn object(&self, path: &str) -> String {
        format!("{path}/{:012}-{}-{}", self.offset, self.len, self.digest)
    }
}

/// A file of the copy.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Held {
    /// Its length; behind its pieces it is zeros.
    pub len: u64,
    /// Its pieces, in order and without gaps.
    pub pieces: Vec<Piece>,
}

/// A list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Manifest {
    /// Origin of the ledger.
    pub ledger: String,
    /// Label of the copy.
    pub label: String,
    /// How many entries it holds.
    pub entries: u64,
    /// Root over these, hex.
    pub root: String,
    /// When it was made.
    pub made: Moment,
    /// How many lists have to be read before this one.
    pub depth: u32,
    /// Name of the list before this one, where this names what is new only.
    pub since: Option<String>,
    /// Files that are new or changed, with all their pieces that are not in the list before.
    pub files: BTreeMap<String, Held>,
    /// Files that are gone.
    pub gone: Vec<String>,
}

impl Manifest {
    /// The list as text.
    pub fn to_text(&self) -> String {
        let mut out = format!(
            "{MARKER}\n{}\nlabel {}\nentries {}\nroot {}\nmade {}\ndepth {}\nsince {}\n",
            self.ledger,
            self.label,
            self.entries,
            self.root,
            self.made,
            self.depth,
            self.since.as_deref().unwrap_or("-")
        );
        for (path, held) in &self.files {
            let _ = writeln!(out, "file {} {path}", held.len);
            for piece in &held.pieces {
                let _ = writeln!(out, "piece {} {} {}", piece.offset, piece.len, piece.digest);
            }
        }
        for path in &self.gone {
            let _ = writeln!(out, "gone {path}");
        }
        out
    }

    /// Reads a list; none when it is not exactly what [`Manifest::to_text`] writes.
    pub fn from_text(text: &[u8]) -> Option<Manifest> {
        let text = std::str::from_utf8(text).ok()?;
        let mut lines = text.lines();
        let mut next = |word: &str| lines.next().and_then(|line| line.strip_prefix(word)).map(str::to_string);
        next(MARKER).filter(String::is_empty)?;
        let ledger = next("")?;
        let mut manifest = Manifest {
            ledger,
            label: next("label ")?,
            entries: next("entries ")?.parse().ok()?,
            root: next("root ")?,
            made: Moment::parse(&next("made ")?).ok()?,
            depth: next("depth ")?.parse().ok()?,
            since: Some(next("since ")?).filter(|name| name != "-"),
            files: BTreeMap::new(),
            gone: Vec::new(),
        };
        let mut path: Option<String> = None;
        for line in lines {
            let (word, rest) = line.split_once(' ')?;
            match word {
                "file" => {
                    let (len, name) = rest.split_once(' ')?;
                    let name = Some(name).filter(|name| may_be_named(name))?;
                    manifest
                        .files
                        .insert(name.to_string(), Held { len: len.parse().ok()?, pieces: Vec::new() });
                    path = Some(name.to_string());
                }
                "piece" => {
                    let mut words = rest.split(' ');
                    let (offset, len) = (words.next()?.parse().ok()?, words.next()?.parse().ok()?);
                    let digest = words.next().filter(|d| unhex32(d).is_some())?.to_string();
                    manifest.files.get_mut(path.as_ref()?)?.pieces.push(Piece { offset, len, digest });
                }
                "gone" => manifest.gone.push(rest.to_string()),
                _ => return None,
            }
        }
        unhex32(&manifest.root)?;
        (manifest.to_text() == text).then_some(manifest)
    }

    /// Name of the object that holds the list: the number of entries first, so that the newest stands last.
    pub fn object(&self) -> String {
        format!("{LISTS}{:020}-{}", self.entries, blake3::hash(self.to_text().as_bytes()).to_hex())
    }
}

/// A file of a store, and nothing that leads out of it.
fn may_be_named(path: &str) -> bool {
    let plain = |part: &str| {
        !part.is_empty()
            && !part.starts_with('.')
            && part.bytes().all(|b| b.is_ascii_alphanumeric() || b"-_.".contains(&b))
    };
    path.split('/').count() <= 3 && path.split('/').all(plain)
}

/// A whole copy: the newest list, and every file as all lists together say.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Whole {
    /// The newest list.
    pub newest: Manifest,
    /// Every file.
    pub files: BTreeMap<String, Held>,
}

/// Reads the newest list of a ledger's copies, and those it rests on.
///
/// # Errors
/// When the store of objects fails, or a list is missing or not what its name says.
pub fn read(objects: &dyn Objects, ledger: &str) -> Outcome<Option<Whole>> {
    let names = objects.list(&format!("{ledger}/{LISTS}"))?;
    let size = |name: &String| name.rsplit('/').next().and_then(|name| name.get(..20)).map(str::to_string);
    let most = names.iter().filter_map(size).max();
    let mut newest: Option<Manifest> = None;
    // Of several with as many entries the one made last counts: keys may have changed in between.
    for name in names.iter().filter(|name| size(name) == most) {
        let list = fetch(objects, ledger, name)?;
        if newest.as_ref().is_none_or(|best| list.made > best.made) {
            newest = Some(list);
        }
    }
    let Some(newest) = newest else { return Ok(None) };
    let mut row = vec![newest.clone()];
    while let Some(since) = row.last().and_then(|list| list.since.clone()) {
        if row.len() > MOST_IN_A_ROW as usize + 1 {
            return Err(broken("more of them stand in a row than may"));
        }
        row.push(fetch(objects, ledger, &format!("{ledger}/{since}"))?);
    }
    let mut files: BTreeMap<String, Held> = BTreeMap::new();
    for list in row.into_iter().rev() {
        for (path, held) in list.files {
            let joined =
                match files.remove(&path).filter(|_| held.pieces.first().is_none_or(|p| p.offset > 0)) {
                    Some(mut before) => {
                        before.pieces.extend(held.pieces);
                        Held { len: held.len, ..before }
                    }
                    None => held,
                };
            files.insert(path, joined);
        }
        list.gone.iter().for_each(|path| drop(files.remove(path)));
    }
    let whole = |held: &Held| {
        let mut at = 0;
        let gapless = held.pieces.iter().all(|piece| {
            let here = piece.offset == at;
            at += piece.len;
            here
        });
        gapless && at <= held.len
    };
    match files.values().all(whole) {
        true => Ok(Some(Whole { newest, files })),
        false => Err(broken("a file in them has a gap")),
    }
}

fn fetch(objects: &dyn Objects, ledger: &str, name: &str) -> Outcome<Manifest> {
    let bytes = objects.get(name)?.ok_or_else(|| broken("one that another rests on is missing"))?;
    let list = Manifest::from_text(&bytes).filter(|list| list.ledger == ledger);
    list.filter(|list| format!("{ledger}/{}", list.object()) == name)
        .ok_or_else(|| broken("one of them is not what its name says"))
}

pub(super) fn broken(why: &str) -> Trouble {
    Trouble::new(
        Kind::Damaged,
        format!("The lists of the copy in the store of objects can't be used: {why}."),
        "Nothing was changed. The objects themselves may be whole: their names say what they hold.",
        "Put it together by hand as schema/FORMAT.md, section 10, says; and make a new copy under another prefix.",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn list() -> Manifest {
        let held = Held { len: 100, pieces: vec![Piece::of(0, b"abc"), Piece::of(3, b"de")] };
        Manifest {
            ledger: "ledger-x".into(),
            label: "0".repeat(32),
            entries: 12,
            root: "ab".repeat(32),
            made: Moment::parse("2025-09-22T11:00:00-04:00").unwrap(),
            depth: 0,
            since: None,
            files: BTreeMap::from([("ledger/000001.seg".to_string(), held)]),
            gone: vec!["keys/chart-0-desk.age".into()],
        }
    }

    #[test]
    fn a_list_reads_back_as_it_was_written_and_in_no_other_spelling() {
        let text = list().to_text();
        assert_eq!(Manifest::from_text(text.as_bytes()), Some(list()));
        for bent in [
            text.replace("entries 12", "entries 012"),
            text.replace("ledger/000001.seg", "../000001.seg"),
            text.replace("ledger/000001.seg", "/etc/passwd"),
            text.replace("piece 3 2", "piece 3"),
            text.trim_end().to_string(),
            text.replace("gone ", "lost "),
        ] {
            assert_eq!(Manifest::from_text(bent.as_bytes()), None, "{bent}");
        }
    }

    proptest::proptest! {
        #[test]
        fn reading_never_panics_and_takes_no_second_spelling(at in 0usize..600, byte: u8, bytes: Vec<u8>) {
            let _ = Manifest::from_text(&bytes);
            let mut text = list().to_text().into_bytes();
            let at = at % text.len();
            text[at] = byte;
            if let Some(read) = Manifest::from_text(&text) {
                proptest::prop_assert_eq!(read.to_text().into_bytes(), text);
            }
        }
    }
}
