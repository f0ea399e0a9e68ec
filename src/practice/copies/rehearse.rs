//! A rehearsal: a copy brought into a scratch folder is checked, and entries of it are opened with the recovery
//! sheet alone, as if everything else were lost. What is opened is compared and forgotten; nothing is shown.

use super::extent::walk;
use super::{files, mark};
use crate::ledger::checkpoint::Checkpoint;
use crate::ledger::scan::EntryAt;
use crate::ledger::tree;
use crate::ledger::write::read_entry;
use crate::practice::place::Place;
use crate::practice::session::{READING_ROLES, open_identity, role_file};
use crate::record::envelope::Record;
use crate::record::kinds::register::KeyRole;
use crate::record::kinds::{Class, Data, info, title};
use crate::seal::age_file::{self, Identity, With};
use crate::seal::body::{Body, MARKER, unhex32};
use crate::trouble::{Outcome, Trouble};
use crate::verify::finding::{FindingId, Report, limits};
use crate::verify::pin::What;
use crate::verify::slip::read_slip;
use crate::verify::store::{StorePaths, Witness, verify};
use crate::world::{Disk, World};
use std::collections::BTreeMap;
use std::io::Read;
use std::path::Path;

/// An entry or sealed file that was to be opened with the sheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Opened {
    /// Its number.
    pub seq: u64,
    /// What it is, in plain words; never what it says.
    pub what: String,
    /// True when it opened and is what its leaf says; for a file, what its entry says.
    pub fits: bool,
}

/// What came of a rehearsal.
pub struct Rehearsal {
    /// The check of what was brought.
    pub report: Report,
    /// True when the sheet opens the roles' keys and the key for writing.
    pub sheet_opens: bool,
    /// What was opened.
    pub opened: Vec<Opened>,
    /// How many slips it was compared with.
    pub slips: u32,
    /// True when the copy ends before the number that it reached when it was made.
    pub cut: bool,
}

impl Rehearsal {
    /// True when everything opened and nothing is wrong.
    pub fn passed(&self) -> bool {
        self.report.sound && self.sheet_opens && !self.opened.is_empty() && self.opened.iter().all(|o| o.fits)
    }

    /// The highest number that a slip vouches for and the copy does not reach.
    pub fn behind(&self) -> Option<u64> {
        behind(&self.report)
    }
}

/// The highest number that something from outside vouches for and the ledger does not reach.
pub(super) fn behind(report: &Report) -> Option<u64> {
    let behind = report.findings.iter().filter(|finding| finding.id == FindingId::BehindOutside.id());
    behind.filter_map(|finding| finding.place.seq).max()
}

/// A copy, or what was brought from one, compared with slips and with what the copy says of itself. The latter is
/// no word from outside: where it agrees it is not counted, where it does not the copy was cut or changed since.
///
/// # Errors
/// When the disk fails, or a slip can't be read.
pub fn check(
    world: &World,
    place: &Place,
    outside: &Path,
    slips: &[String],
    progress: &mut dyn FnMut(u64),
) -> Outcome<Report> {
    let mut witnesses: Vec<Witness> =
        slips.iter().map(|slip| read_slip(slip, &place.key)).collect::<Outcome<_>>()?;
    let by_itself = format!("what {} said when the copy was made", mark::FILE);
    witnesses.extend(by_its_own_word(&*world.disk, place)?.map(|(size, code)| Witness {
        what: What::Slip,
        name: by_itself.clone(),
        size,
        code,
        ledger: None,
    }));
    let paths = StorePaths { root: &place.root, outside, key: &place.key };
    let mut report = verify(&*world.disk, &paths, &witnesses, progress)?;
    report.witnesses.retain(|name| !name.starts_with(&by_itself));
    report.limits = limits(!report.witnesses.is_empty());
    Ok(report)
}

/// How far a copy reached when it was made, and its root in base32.
pub(super) fn by_its_own_word(disk: &dyn Disk, place: &Place) -> Outcome<Option<(u64, String)>> {
    let said = mark::read(disk, &place.root)?;
    Ok(said.and_then(|mark| {
        let root = unhex32(mark.root.as_deref()?)?;
        Some((mark.entries, tree::code(&root)))
    }))
}

/// A copy that was just made, or the store that it is made of: verified as any store, and that it reaches as far as
/// the store did when copying began. What is kept outside may be further on by now.
pub(super) fn check_store(
    disk: &dyn Disk,
    place: &Place,
    newest: &Checkpoint,
    progress: &mut dyn FnMut(u64),
) -> Outcome<Report> {
    let newest = Witness::of_all("the store's newest checkpoint".to_string(), newest.size, &newest.root);
    let nowhere = place.root.join("nothing-outside");
    let paths = StorePaths { root: &place.root, outside: &nowhere, key: &place.key };
    let mut report = verify(disk, &paths, &[newest], progress)?;
    report.findings.retain(|finding| finding.id != FindingId::OutsideMissing.id());
    Ok(report)
}

/// As [`check`], for a copy where it lies: nothing outside is newer by right, since the store went on.
///
/// # Errors
/// As [`check`].
pub fn check_copy(
    world: &World,
    place: &Place,
    slips: &[String],
    progress: &mut dyn FnMut(u64),
) -> Outcome<Report> {
    let nowhere = place.root.join("nothing-outside");
    let mut report = check(world, place, &nowhere, slips, progress)?;
    report.findings.retain(|finding| finding.id != FindingId::OutsideMissing.id());
    Ok(report)
}

/// Checks what lies in the scratch folder and opens it with the sheet. `all` opens every entry, else the newest of
/// each sort.
///
/// # Errors
/// When the disk fails, or a slip can't be read. What is wrong with the copy is no error.
pub fn rehearse(
    world: &World,
    scratch: &Path,
    sheet: &Identity,
    slips: &[String],
    all: bool,
    progress: &mut dyn FnMut(u64),
) -> Outcome<Rehearsal> {
    let nowhere = scratch.join("nothing-outside");
    let place = Place::open(world, scratch, Some(&nowhere))?;
    let report = check_copy(world, &place, slips, progress)?;
    let slips = slips.len() as u32;
    let said = by_its_own_word(&*world.disk, &place)?;
    let cut = said.is_some_and(|(size, _)| size > report.entries);
    let Some(opener) = Opener::new(world, &place, sheet)? else {
        return Ok(Rehearsal { report, sheet_opens: false, opened: Vec::new(), slips, cut });
    };
    let mut picked: BTreeMap<String, EntryAt> = BTreeMap::new();
    let walked = walk(&*world.disk, scratch, &place, progress, &mut |at, leaf, _, _| {
        let name = if all { format!("{:020}", at.seq) } else { sort_of(&leaf.kind, at.chart.is_some()) };
        drop(picked.insert(name, at.clone()));
    });
    // Damage is in the report already; what can't be walked through can't be opened here.
    let newest = walked.ok().and_then(|scan| scan.checkpoint).map_or(0, |(checkpoint, _)| checkpoint.size);
    let mut opened = Vec::new();
    for at in picked.values().filter(|at| at.seq <= newest) {
        opened.extend(opener.open(at)?);
    }
    opened.sort_by_key(|one| one.seq);
    Ok(Rehearsal { report, sheet_opens: true, opened, slips, cut })
}

/// Entries are sealed in these ways; of each the newest is opened.
fn sort_of(kind: &str, in_chart: bool) -> String {
    let class = info(kind).map_or(Class::Clinical, |row| row.class);
    let sort = match (class, in_chart) {
        (Class::Open, _) => "open",
        // An attachment is followed down to its file.
        _ if kind == "attachment" => "attachment",
        (_, false) => "register",
        (Class::Desk, true) => "chart, who and when",
        (_, true) => "chart, contents of care",
    };
    sort.to_string()
}

/// What the sheet opens.
struct Opener<'a> {
    world: &'a World,
    place: &'a Place,
    roles: Vec<Identity>,
}

impl<'a> Opener<'a> {
    /// None when the sheet does not open what it must.
    fn new(world: &'a World, place: &'a Place, sheet: &Identity) -> Outcome<Option<Opener<'a>>> {
        let with = With::Identities(std::slice::from_ref(sheet));
        let mut roles = Vec::new();
        for role in READING_ROLES {
            match open_identity(world, place, &role_file(role), &with) {
                Ok(Some(identity)) => roles.push(identity),
                Ok(None) => return Ok(None),
                Err(trouble) => return quiet(trouble, None),
            }
        }
        let ledger = place.key_file("ledger.age");
        let sealed = world.disk.read(&ledger).map_err(|e| files::failed(&ledger, &e))?;
        let writes = age_file::open(&with, &sealed).is_ok();
        Ok(writes.then_some(Opener { world, place, roles }))
    }

    fn open(&self, at: &EntryAt) -> Outcome<Vec<Opened>> {
        let (leaf, stored) = read_entry(self.world, &self.place.root.join("ledger"), at)?;
        let Ok((leaf, _)) = crate::ledger::leaf::Leaf::read(&leaf) else {
            return Ok(vec![Opened { seq: at.seq, what: "an entry".to_string(), fits: false }]);
        };
        let plain = match stored.starts_with(MARKER) {
            true => Some(zeroize::Zeroizing::new(stored)),
            false => age_file::open(&With::Identities(&self.keys(leaf.chart.as_deref())?), &stored).ok(),
        };
        let body = plain.and_then(|plain| Body::from_bytes(&plain));
        let body = body.filter(|body| unhex32(&leaf.commit) == Some(body.commitment()));
        let data = body.and_then(|body| Record::from_bytes(&body.record).ok());
        let mut opened =
            vec![Opened { seq: at.seq, what: title(&leaf.kind).to_string(), fits: data.is_some() }];
        if let Some(Data::Attachment(paper)) = data.and_then(|record| record.read_data().ok()) {
            let keys = self.keys(leaf.chart.as_deref())?;
            let fits = self.file(&paper.sealed_digest, &paper.plain_digest, &keys);
            opened.push(Opened { seq: at.seq, what: "the file of this attachment".to_string(), fits });
        }
        Ok(opened)
    }

    /// The identities that may open an entry of this chart, or outside any.
    fn keys(&self, chart: Option<&str>) -> Outcome<Vec<Identity>> {
        let Some(tag) = chart else { return Ok(self.roles.clone()) };
        let mut keys = Vec::new();
        for role in [KeyRole::Desk, KeyRole::Clinical] {
            let name = format!("chart-{tag}-{}.age", role.word());
            let key = open_identity(self.world, self.place, &name, &With::Identities(&self.roles));
            keys.extend(key.or_else(|trouble| quiet(trouble, None))?);
        }
        Ok(keys)
    }

    /// Opens a sealed file to its end and compares what comes out.
    fn file(&self, sealed_digest: &str, plain_digest: &str, keys: &[Identity]) -> bool {
        let Ok(file) = std::fs::File::open(self.place.attachment(sealed_digest)) else { return false };
        let Ok(mut plain) = age_file::opener(&With::Identities(keys), file) else { return false };
        let mut hasher = blake3::Hasher::new();
        let mut piece = vec![0u8; 1 << 16];
        loop {
            match plain.read(&mut piece) {
                Ok(0) => return hasher.finalize().to_hex().as_str() == plain_digest,
                Ok(n) => drop(hasher.update(&piece[..n])),
                Err(_) => return false,
            }
        }
    }
}

/// A damaged key file of the copy is a finding of the rehearsal, a failing disk is an error.
fn quiet<T>(trouble: Trouble, instead: T) -> Outcome<T> {
    if trouble.kind == crate::trouble::Kind::Damaged { Ok(instead) } else { Err(trouble) }
}
