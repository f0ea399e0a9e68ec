//! Making a safe copy in a folder. First everything is compared and nothing written; then what is new travels;
//! then the copy is verified as any store is; and last its `safecopy.json` says how far it reaches.

use super::extent::{Extent, extent};
use super::files::{self, BESIDE, failed};
use super::mark::{self, EDITION, SafeCopyFile};
use super::rehearse::check_store;
use crate::ledger::segment;
use crate::practice::place::Place;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::verify::finding::Report;
use crate::verify::pin::What;
use crate::world::{Disk, World};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// Says whether a key file that differs from the copy's is one that was sealed anew, and not a damaged one: its
/// name and its bytes.
pub type Resealed<'a> = dyn Fn(&str, &[u8]) -> bool + 'a;

/// What is to be copied where.
pub struct CopyOrder<'a> {
    /// Folder of the copy.
    pub to: &'a Path,
    /// Whether unsigned drafts travel too.
    pub drafts: bool,
    /// Judges key files that differ.
    pub resealed: &'a Resealed<'a>,
}

/// What travelled.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Travelled {
    /// Segments of the ledger, new or grown.
    pub segments: u64,
    /// Key files.
    pub keys: u64,
    /// Sealed files.
    pub files: u64,
    /// Everything else.
    pub others: u64,
    /// Bytes of all these.
    pub bytes: u64,
}

/// A copy that was made and checked.
pub struct Copied {
    /// Its label.
    pub label: String,
    /// How many entries it held when it was last written to the end.
    pub before: u64,
    /// How many it holds.
    pub entries: u64,
    /// The code of a slip over these.
    pub code: String,
    /// What travelled.
    pub travelled: Travelled,
    /// What was taken out of the copy, because the ledger says that it was destroyed.
    pub taken_out: Vec<String>,
    /// What the copy has and the store has lost: the copy is the only place where it still is.
    pub only_here: Vec<String>,
    /// Sealed files that are damaged in the store and were therefore not copied.
    pub damaged: Vec<String>,
    /// How many drafts the copy does not hold.
    pub drafts_left: u64,
    /// The check of the copy.
    pub report: Report,
}

/// Makes a safe copy, or brings one up to date.
///
/// # Errors
/// When the store is damaged, the folder is something else than a copy of it, what stands in the copy is not what
/// stands in the store, or the disk fails. Nothing that stood in the copy is lost by any of these.
pub fn copy_to_folder(
    world: &World,
    place: &Place,
    order: &CopyOrder<'_>,
    progress: &mut dyn FnMut(u64),
) -> Outcome<Copied> {
    let disk = &*world.disk;
    refuse_same(place, order.to)?;
    let extent = extent(disk, place, progress).map_err(store_damaged)?;
    let mut mark = begin(world, place, order.to)?;
    let plan = Plan::new(disk, place, order, &extent)?;
    let travelled = plan.carry_out(disk, place, order.to, &extent, progress)?;
    let copy = Place { root: order.to.to_path_buf(), ..place.clone() };
    let report = check_store(disk, &copy, &extent.checkpoint, progress)?;
    let before = mark.entries;
    if report.sound {
        let root = extent.checkpoint.root;
        mark.entries = extent.checkpoint.size;
        mark.root = Some(crate::seal::body::hex(&root));
        mark.made = world.clock.now();
        mark.drafts = order.drafts;
        mark::write(disk, order.to, &mark).map_err(|e| failed(&order.to.join(mark::FILE), &e))?;
    }
    let Plan { taken_out, only_here, drafts_left, .. } = plan;
    Ok(Copied {
        label: mark.label,
        before,
        entries: extent.checkpoint.size,
        code: crate::verify::pin::Pin::new(What::Slip, extent.checkpoint.size, &extent.checkpoint.root)
            .code(),
        travelled: travelled.0,
        taken_out: taken_out.iter().map(|path| path.display().to_string()).collect(),
        only_here,
        damaged: travelled.1,
        drafts_left,
        report,
    })
}

pub(super) fn store_damaged(trouble: Trouble) -> Trouble {
    Trouble::new(
        trouble.kind,
        format!("{} No copy is made of it.", trouble.what),
        "The copy is as it was: it may be what the store is mended from.",
        "Run `inkfast verify` on the store, and then on the copy; schema/RECOVERY.md says what each finding means.",
    )
}

/// A copy inside the store, or the store inside the copy, would copy itself.
fn refuse_same(place: &Place, to: &Path) -> Outcome<()> {
    let (store, to) = (files::real(&place.root), files::real(to));
    if !store.starts_with(&to) && !to.starts_with(&store) {
        return Ok(());
    }
    Err(Trouble::new(
        Kind::Refused,
        "The folder of the copy and the folder of the store lie in each other.",
        "Nothing was copied.",
        "Name a folder elsewhere: on a stick, or on another disk.",
    ))
}

/// Finds the copy, or begins one in an empty folder.
fn begin(world: &World, place: &Place, to: &Path) -> Outcome<SafeCopyFile> {
    let disk = &*world.disk;
    let stop = |e: std::io::Error| failed(to, &e);
    if let Some(mark) = mark::of_this_ledger(disk, to, place)? {
        return Ok(mark);
    }
    // What is left of a first write that was cut off is no file of anybody's.
    let there = disk.there(to).map_err(stop)?;
    let used = there && disk.list(to).map_err(stop)?.iter().any(|name| !name.ends_with(".part"));
    if used {
        return Err(Trouble::new(
            Kind::Refused,
            format!("{} is not empty, and no safe copy.", to.display()),
            "It was not touched.",
            "Name a folder of its own for the copy, for example one on the stick: it is made if it is not there.",
        ));
    }
    let mark = SafeCopyFile {
        inkfast_safecopy: EDITION,
        ledger: place.key.name().to_string(),
        label: mark::new_label(world)?,
        entries: 0,
        root: None,
        made: world.clock.now(),
        drafts: false,
    };
    disk.create_dirs(to).and_then(|()| mark::write(disk, to, &mark)).map_err(stop)?;
    Ok(mark)
}

/// What is to be done, found out before anything is written.
struct Plan {
    segments: Vec<u32>,
    keys: Vec<String>,
    files: Vec<(PathBuf, String)>,
    others: Vec<PathBuf>,
    taken_out: Vec<PathBuf>,
    only_here: Vec<String>,
    drafts_left: u64,
}

impl Plan {
    fn new(disk: &dyn Disk, place: &Place, order: &CopyOrder<'_>, extent: &Extent) -> Outcome<Plan> {
        let mut plan = Plan {
            segments: Vec::new(),
            keys: Vec::new(),
            files: Vec::new(),
            others: Vec::new(),
            taken_out: Vec::new(),
            only_here: Vec::new(),
            drafts_left: 0,
        };
        plan.store_file(disk, place, order.to)?;
        plan.ledger(disk, place, order.to, extent)?;
        plan.keys(disk, place, order, extent)?;
        plan.sealed(disk, place, order.to, extent)?;
        plan.beside(disk, place, order.to)?;
        plan.drafts(disk, place, order)?;
        Ok(plan)
    }

    /// `store.json` never changes.
    fn store_file(&mut self, disk: &dyn Disk, place: &Place, to: &Path) -> Outcome<()> {
        let (mine, theirs) = (place.root.join("store.json"), to.join("store.json"));
        if !files::there(disk, &theirs)? {
            self.others.push("store.json".into());
        } else if !files::same(disk, &mine, &theirs)? {
            return Err(differs("store.json", None));
        }
        Ok(())
    }

    fn ledger(&mut self, disk: &dyn Disk, place: &Place, to: &Path, extent: &Extent) -> Outcome<()> {
        for number in files::segments(disk, to)? {
            if number > extent.end.segment {
                return Err(ahead(to, extent));
            }
        }
        for number in 1..=extent.end.segment {
            let path = segment::path(&to.join("ledger"), number);
            if !files::there(disk, &path)? {
                self.segments.push(number);
                continue;
            }
            let theirs = disk.read(&path).map_err(|e| failed(&path, &e))?;
            match compare(&theirs, &durable(disk, place, extent, number)?) {
                Compared::Same => {}
                Compared::Grown => self.segments.push(number),
                Compared::Ahead => return Err(ahead(to, extent)),
                Compared::Differs(at) => {
                    return Err(differs(&format!("ledger/{}", segment::file_name(number)), Some(at)));
                }
            }
        }
        Ok(())
    }

    fn keys(
        &mut self,
        disk: &dyn Disk,
        place: &Place,
        order: &CopyOrder<'_>,
        extent: &Extent,
    ) -> Outcome<()> {
        let (mine, theirs) = (place.root.join("keys"), order.to.join("keys"));
        let here = files::names(disk, &mine)?;
        for name in &here {
            let copy = theirs.join(name);
            if !files::there(disk, &copy)? {
                self.keys.push(name.clone());
            } else if !files::same(disk, &mine.join(name), &copy)? {
                let bytes = disk.read(&mine.join(name)).map_err(|e| failed(&mine.join(name), &e))?;
                if !(order.resealed)(name, &bytes) {
                    return Err(not_resealed(name));
                }
                self.keys.push(name.clone());
            }
        }
        for name in files::names(disk, &theirs)?.into_iter().filter(|name| !here.contains(name)) {
            let path = format!("keys/{name}");
            match extent.says_gone(&path) {
                true => self.taken_out.push(path.into()),
                false => self.only_here.push(path),
            }
        }
        Ok(())
    }

    fn sealed(&mut self, disk: &dyn Disk, place: &Place, to: &Path, extent: &Extent) -> Outcome<()> {
        let (mine, theirs) = (files::sealed(disk, &place.root)?, files::sealed(disk, to)?);
        let digests = |of: &[(PathBuf, String)]| of.iter().map(|(_, d)| d.clone()).collect::<BTreeSet<_>>();
        let (here, there) = (digests(&mine), digests(&theirs));
        // What has the name has the bytes, or the check at the end finds it.
        self.files.extend(mine.into_iter().filter(|(_, digest)| !there.contains(digest)));
        for (path, _) in theirs.into_iter().filter(|(_, digest)| !here.contains(digest)) {
            let shown = path.display().to_string();
            match extent.says_gone(&shown) {
                true => self.taken_out.push(path),
                false => self.only_here.push(shown),
            }
        }
        Ok(())
    }

    /// What others signed, and what was set aside: newer ones take the place of older ones.
    fn beside(&mut self, disk: &dyn Disk, place: &Place, to: &Path) -> Outcome<()> {
        for folder in BESIDE {
            for name in files::names(disk, &place.root.join(folder))? {
                let path = Path::new(folder).join(name);
                let copy = to.join(&path);
                if !files::there(disk, &copy)? || !files::same(disk, &place.root.join(&path), &copy)? {
                    self.others.push(path);
                }
            }
        }
        Ok(())
    }

    /// Drafts come and go: the copy has those of now, or is left as it is in this.
    fn drafts(&mut self, disk: &dyn Disk, place: &Place, order: &CopyOrder<'_>) -> Outcome<()> {
        let here = files::names(disk, &place.root.join("drafts"))?;
        if !order.drafts {
            self.drafts_left = here.len() as u64;
            return Ok(());
        }
        for name in files::names(disk, &order.to.join("drafts"))?.into_iter().filter(|n| !here.contains(n)) {
            self.taken_out.push(Path::new("drafts").join(name));
        }
        self.others.extend(here.into_iter().map(|name| Path::new("drafts").join(name)));
        Ok(())
    }

    /// Keys and sealed files first, then the ledger that needs them, in order: so the copy is sound at each moment.
    fn carry_out(
        &self,
        disk: &dyn Disk,
        place: &Place,
        to: &Path,
        extent: &Extent,
        progress: &mut dyn FnMut(u64),
    ) -> Outcome<(Travelled, Vec<String>)> {
        let (mut travelled, mut damaged) = (Travelled::default(), Vec::new());
        let (here, there) = (|path: &Path| place.root.join(path), |path: &Path| to.join(path));
        let whole = |path: &Path| {
            let bytes = disk.read(&here(path)).map_err(|e| failed(&here(path), &e))?;
            files::put(disk, &there(path), &bytes)
        };
        for name in &self.keys {
            travelled.bytes += whole(&Path::new("keys").join(name))?;
            travelled.keys += 1;
        }
        for (path, digest) in &self.files {
            match files::stream(disk, &here(path), &there(path), Some(digest))? {
                Some(bytes) => {
                    travelled.bytes += bytes;
                    travelled.files += 1;
                    progress(bytes);
                }
                None => damaged.push(path.display().to_string()),
            }
        }
        for number in &self.segments {
            let bytes = durable(disk, place, extent, *number)?;
            let put = files::put(disk, &segment::path(&to.join("ledger"), *number), &bytes)?;
            travelled.bytes += put;
            travelled.segments += 1;
            progress(put);
        }
        for path in &self.others {
            travelled.bytes += whole(path)?;
            travelled.others += 1;
        }
        for path in &self.taken_out {
            let gone = there(path);
            let folder = crate::world::folder_of(&gone);
            disk.remove(&gone).and_then(|()| disk.sync_dir(folder)).map_err(|e| failed(&gone, &e))?;
        }
        Ok((travelled, damaged))
    }
}

/// A segment up to the durable end, and zeros behind: what was not acknowledged stays where it is.
pub(super) fn durable(disk: &dyn Disk, place: &Place, extent: &Extent, number: u32) -> Outcome<Vec<u8>> {
    let path = segment::path(&place.root.join("ledger"), number);
    let mut bytes = disk.read(&path).map_err(|e| failed(&path, &e))?;
    if number == extent.end.segment {
        let end = (extent.end.offset as usize).min(bytes.len());
        bytes[end..].fill(0);
    }
    Ok(bytes)
}

/// What a segment of the copy is to the store's.
#[derive(Debug, PartialEq, Eq)]
enum Compared {
    Same,
    /// The store's goes on where the copy's ends.
    Grown,
    /// The copy's goes on where the store's ends.
    Ahead,
    /// They differ from this byte on.
    Differs(u64),
}

fn compare(copy: &[u8], store: &[u8]) -> Compared {
    let content = |bytes: &[u8]| bytes.iter().rposition(|b| *b != 0).map_or(0, |last| last + 1);
    let first = copy.iter().zip(store).position(|(one, other)| one != other);
    match first {
        None if copy.len() == store.len() => Compared::Same,
        None => Compared::Differs(copy.len().min(store.len()) as u64),
        Some(_) if copy.len() != store.len() => Compared::Differs(copy.len().min(store.len()) as u64),
        Some(at) if at >= content(copy) => Compared::Grown,
        Some(at) if at >= content(store) => Compared::Ahead,
        Some(at) => Compared::Differs(at as u64),
    }
}

fn differs(name: &str, at: Option<u64>) -> Trouble {
    let at = at.map_or(String::new(), |byte| format!(" from byte {byte} on"));
    Trouble::new(
        Kind::Refused,
        format!(
            "{name} in the copy is not the store's{at}: one of the two was damaged, or they are two ledgers."
        ),
        "Nothing was copied, and nothing in the copy was written over.",
        "Run `inkfast verify` on the store and on the copy, and keep both until it is known which is sound. Begin a \
         new copy in another folder meanwhile.",
    )
}

/// A key file differs, and nobody here can tell whether it was sealed anew or damaged.
pub(super) fn not_resealed(name: &str) -> Trouble {
    Trouble::new(
        Kind::Refused,
        format!(
            "keys/{name} in the copy is not the store's, and it can't be told here that it was sealed anew."
        ),
        "Nothing was copied, and nothing in the copy was written over.",
        "If somebody joined, left or chose another passphrase: run it once with somebody unlocked who opens everything. \
         If not: run `inkfast verify` on both, keep both, and begin a new copy elsewhere.",
    )
}

fn ahead(to: &Path, extent: &Extent) -> Trouble {
    Trouble::new(
        Kind::Behind,
        format!(
            "The copy in {} has more entries than the store, which ends at {}.",
            to.display(),
            extent.checkpoint.size
        ),
        "Nothing was copied. The store is an older one, or its end was cut off; the copy may be the newest there is.",
        "Keep the copy away from harm. Run `inkfast verify` on both; `inkfast restore` brings it back into a new folder.",
    )
}

impl Copied {
    /// True when everything there is was copied and the copy is sound.
    pub fn is_whole(&self) -> bool {
        self.report.sound && self.damaged.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_segment_may_only_grow() {
        let full = [1, 2, 3, 4, 0, 0];
        assert_eq!(compare(&full, &full), Compared::Same);
        assert_eq!(compare(&[1, 2, 0, 0, 0, 0], &full), Compared::Grown);
        assert_eq!(compare(&[0; 6], &full), Compared::Grown);
        assert_eq!(compare(&full, &[1, 2, 0, 0, 0, 0]), Compared::Ahead);
        assert_eq!(compare(&[1, 9, 3, 4, 0, 0], &full), Compared::Differs(1));
        assert_eq!(compare(&[1, 2, 9, 0, 0, 0], &full), Compared::Differs(2));
        assert_eq!(compare(&full[..4], &full), Compared::Differs(4));
        assert_eq!(compare(&full, &full[..5]), Compared::Differs(5));
    }
}
