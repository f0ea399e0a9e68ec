//! Promise: opening reads what was added since an earlier reading, and that changes no answer. Whatever is wrong
//! with what that reading left behind, everything is read.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;

use common::{OWNER, PASSPHRASE, Small, check, copy_folder, each, ids, step};
use inkfast::index::bookmark::{self, Bookmark, Pace};
use inkfast::index::layer::StrandKey;
use inkfast::index::{Grown, folder, proofs};
use inkfast::ledger::begin::Heads;
use inkfast::ledger::checkpoint::Checkpoint;
use inkfast::ledger::tree::verify_inclusion;
use inkfast::practice::chart;
use inkfast::practice::open::Practice;
use inkfast::practice::place::Place;
use inkfast::practice::resume::resume;
use inkfast::practice::session::Session;
use inkfast::seal::note::{Note, sign};
use inkfast::trouble::Outcome;
use inkfast::verify::certificate::certificate;
use inkfast::verify::finding::Report;
use inkfast::verify::pin::What;
use inkfast::verify::store::{StorePaths, Witness, verify_on};
use inkfast::world::World;
use std::path::{Path, PathBuf};

/// So often that a small store has several stretches.
const OFTEN: Pace = Pace { from: 8, step: 3, stretch: 16 };
const NEVER: Pace = Pace { from: u64::MAX, step: u64::MAX, stretch: 16 };

fn open_at(world: &World, root: &Path, pace: Pace) -> Outcome<Practice> {
    let mut place = Place::open(world, root, None)?;
    place.pace = pace;
    let session = Session::unlock(world, &place, OWNER, PASSPHRASE)?;
    Practice::open(world, &place, session, "desk")
}

fn mark_folder(root: &Path) -> PathBuf {
    bookmark::folder(&folder(root))
}

/// Everything that is asked of a practice, in words.
fn answers(practice: &Practice, tags: &[String]) -> Vec<String> {
    let mut said = vec![format!("{} {:?}", practice.size(), practice.scan().frontier)];
    for tag in tags {
        let face = chart::face(practice, tag).unwrap();
        let entries = practice.chart(tag).unwrap();
        let digests: Vec<&str> = entries.iter().map(|e| e.digest.as_str()).collect();
        said.push(format!(
            "{} {} {:?} {digests:?}",
            face.chart_no,
            face.entries,
            practice.head_of(tag).unwrap()
        ));
        let found = chart::find(practice, &face.chart_no).unwrap();
        assert_eq!(found.tag, *tag);
    }
    let register = practice.register().unwrap();
    said.extend(register.iter().map(|e| format!("{} {}", e.id(), e.digest)));
    let some = practice.register_of(&["keys", "rules", "staff"]).unwrap();
    said.extend(some.iter().map(|e| e.id()));
    said.push(format!("{:?}", practice.chart_tags().unwrap()));
    let all: Vec<_> = practice.all().collect::<Outcome<_>>().unwrap();
    let mut back: Vec<_> = practice.newest_first().map(|at| at.unwrap()).collect();
    back.reverse();
    assert_eq!(all, back);
    for at in &all {
        assert_eq!(practice.at_seq(at.seq).unwrap(), *at);
    }
    assert!(practice.at_seq(practice.size() + 1).is_err() && practice.at_seq(0).is_err());
    said.extend(all.iter().map(|at| format!("{at:?}")));
    let dir = tempfile::tempdir().unwrap();
    let scan = practice.scan();
    let before = || practice.leaf_hashes();
    let indexes: Vec<u64> = (0..practice.size()).collect();
    for (path, at) in proofs(dir.path(), practice.place.key.name(), Grown { scan, before: &before }, &indexes)
        .iter()
        .zip(&all)
    {
        verify_inclusion(&at.tree_hash, at.seq - 1, practice.size(), path, &scan.frontier.root()).unwrap();
    }
    said
}

/// A store whose bookmark lies `behind` entries before its end, in three stretches.
fn store(behind: u64) -> Small {
    let mut small = Small::new(64 << 10, 3);
    while small.practice.size() < 40 {
        let chart = small.practice.size() as usize % 3;
        small.say(chart, "before");
    }
    small.let_go();
    drop(open_at(&small.world, &small.root(), OFTEN).unwrap());
    for n in 0..behind {
        small.say(n as usize % 3, "after");
    }
    small.let_go();
    small
}

#[test]
fn what_is_read_on_from_a_bookmark_is_what_a_whole_reading_finds() {
    let mut small = Small::new(64 << 10, 1);
    let (mut resumed, mut most) = (0, 0);
    for n in 0..60 {
        match n % 9 {
            4 => drop(small.open_chart(&format!("PM-{:04}", 200 + n))),
            7 => drop(small.add(None, "clock-remark")),
            _ => drop(small.say(n % small.charts.len(), &format!("number {n}"))),
        }
        if n % 4 != 0 && n < 50 {
            continue;
        }
        small.let_go();
        let on = open_at(&small.world, &small.root(), OFTEN).unwrap();
        let whole = tempfile::tempdir().unwrap();
        copy_folder(small.dir.path(), whole.path());
        std::fs::remove_dir_all(whole.path().join("store/index")).unwrap_or_default();
        let whole = open_at(&small.world, &whole.path().join("store"), NEVER).unwrap();
        assert_eq!(whole.scan().before, 0);
        assert_eq!(answers(&on, &small.charts), answers(&whole, &small.charts), "at {n}");
        let earlier = on.size() / 2;
        let (then_on, then_whole) = (on.as_of(earlier).unwrap(), whole.as_of(earlier).unwrap());
        assert_eq!(then_on.scan().frontier, then_whole.scan().frontier);
        let newest = on.as_of(on.size()).unwrap();
        assert_eq!((newest.size(), newest.scan().frontier.root()), (on.size(), on.scan().frontier.root()));
        resumed += usize::from(on.scan().before > 0);
        most = most.max(on.scan().before);
    }
    assert!(
        resumed > 10 && most > 3 * OFTEN.stretch,
        "{resumed} readings went on from a bookmark, at most {most}"
    );
}

#[test]
fn writing_goes_on_from_a_bookmark() {
    let small = store(2);
    let mut practice = open_at(&small.world, &small.root(), OFTEN).unwrap();
    assert!(practice.scan().before > 0);
    for tag in &small.charts {
        common::add(&mut practice, Some(tag), common::contact_saying("and on")).unwrap();
    }
    drop(practice);
    assert!(check(&small.root()).sound);
    let whole = open_at(&small.world, &small.root(), NEVER).unwrap();
    assert_eq!(whole.chart(&small.charts[0]).unwrap().last().unwrap().leaf.kind, "contact");
}

/// Bends one file of the bookmark in every way; what is then answered, and whether the bookmark was used.
fn files(root: &Path) -> Vec<PathBuf> {
    let listed = std::fs::read_dir(mark_folder(root)).unwrap();
    let mut files: Vec<PathBuf> = listed.map(|item| item.unwrap().path()).collect();
    files.sort();
    files
}

#[test]
fn a_bookmark_that_was_bent_changes_no_answer() {
    let small = store(2);
    let right = answers(&open_at(&small.world, &small.root(), NEVER).unwrap(), &small.charts);
    let good = small.copy();
    let all = files(&good.path().join("store"));
    assert!(all.len() >= 3, "several stretches and the note");
    let mut trials: Vec<(usize, usize, u8)> = Vec::new();
    for (n, path) in all.iter().enumerate() {
        let len = std::fs::metadata(path).unwrap().len() as usize;
        trials.extend((0..len).step_by(step(397, 41)).map(|at| (n, at, 0)));
        trials.extend([(n, len / 2, 1), (n, 0, 1), (n, 0, 2)]);
    }
    each(&trials, |(n, at, how)| {
        let copy = tempfile::tempdir().unwrap();
        copy_folder(good.path(), copy.path());
        let root = copy.path().join("store");
        let path = &files(&root)[n];
        let mut bytes = std::fs::read(path).unwrap();
        match how {
            0 => bytes[at] ^= 1 << (at % 8),
            1 => bytes.truncate(at),
            _ => {}
        }
        match how {
            2 => std::fs::remove_file(path).unwrap(),
            _ => std::fs::write(path, bytes).unwrap(),
        }
        let practice = open_at(&small.world, &root, NEVER).unwrap();
        assert_eq!(answers(&practice, &small.charts), right, "{} at {at}, {how}", path.display());
    });
}

/// An entry is left out of the bookmark by somebody who can write files but has not the ledger's key.
#[test]
fn a_bookmark_without_the_signature_of_the_ledgers_key_is_not_used() {
    let small = store(0);
    let path = mark_folder(&small.root()).join("bookmark.note");
    let note = Note::parse(&std::fs::read(&path).unwrap()).unwrap();
    let used = |text: &str| {
        std::fs::write(&path, text).unwrap();
        open_at(&small.world, &small.root(), NEVER).unwrap().scan().before > 0
    };
    let as_it_was = std::fs::read_to_string(&path).unwrap();
    assert!(used(&as_it_was));
    let by_staff = sign(&note.text, &[&small.practice.session.me.signer]).unwrap();
    assert!(!used(&by_staff), "signed by a member of staff");
    assert!(!used(&note.text), "not signed at all");
    let other = Small::new(64 << 10, 1);
    let vouch = other.practice.session.vouch().unwrap();
    assert!(!used(&sign(&note.text, &[vouch]).unwrap()), "signed for another ledger");
    let older = as_it_was.replace("inkfast-bookmark/v1", "inkfast-bookmark/v2");
    assert!(!used(&older), "another edition");
}

#[test]
fn a_bookmark_of_an_older_state_is_gone_on_from_and_one_of_a_lost_state_is_not() {
    let mut small = store(0);
    let older = small.copy();
    for n in 0..20 {
        small.say(n % 3, "later");
    }
    small.let_go();
    drop(open_at(&small.world, &small.root(), OFTEN).unwrap());
    let newer = small.copy();
    let right = answers(&open_at(&small.world, &small.root(), NEVER).unwrap(), &small.charts);
    // An old bookmark put back: more is read, the same is found.
    std::fs::remove_dir_all(mark_folder(&small.root())).unwrap();
    copy_folder(&mark_folder(&older.path().join("store")), &mark_folder(&small.root()));
    let practice = open_at(&small.world, &small.root(), NEVER).unwrap();
    assert!(practice.scan().before > 0);
    assert_eq!(answers(&practice, &small.charts), right);
    // The ledger put back to what it was, under the bookmark of the lost state.
    let root = older.path().join("store");
    std::fs::remove_dir_all(mark_folder(&root)).unwrap();
    copy_folder(&mark_folder(&newer.path().join("store")), &mark_folder(&root));
    let practice = open_at(&small.world, &root, NEVER).unwrap();
    assert_eq!((practice.scan().before, practice.size()), (0, 40));
}

/// What a disk spoiled before the bookmark is found when it is read; a check of the store names it, and from then
/// on nothing is added.
#[test]
fn damage_before_a_bookmark_is_never_shown_and_stops_writing_once_it_is_found() {
    let small = store(1);
    let at = open_at(&small.world, &small.root(), NEVER).unwrap().of_chart(&small.charts[0], 0).unwrap()[2]
        .clone();
    let path = small.root().join(format!("ledger/{:06}.seg", at.at.segment));
    let mut bytes = std::fs::read(&path).unwrap();
    bytes[at.at.offset as usize + 16 + at.leaf_len as usize + 40] ^= 4;
    std::fs::write(&path, bytes).unwrap();
    let mut practice = open_at(&small.world, &small.root(), OFTEN).unwrap();
    assert!(practice.scan().before > 0);
    assert!(practice.chart(&small.charts[0]).is_err(), "a spoiled entry was shown");
    assert!(practice.chart(&small.charts[1]).is_ok());
    practice.begin_writing().unwrap();
    drop(practice);
    assert!(ids(&check(&small.root())).contains(&"body-changed"), "{:?}", ids(&check(&small.root())));
    bookmark::throw_away(&*small.world.disk, &mark_folder(&small.root()));
    let mut practice = open_at(&small.world, &small.root(), OFTEN).unwrap();
    assert!(practice.begin_writing().is_err());
    assert!(!mark_folder(&small.root()).join("bookmark.note").exists(), "a bookmark in a damaged ledger");
}

#[test]
fn damage_behind_a_bookmark_is_found_at_once() {
    let small = store(2);
    let on = open_at(&small.world, &small.root(), NEVER).unwrap();
    let (before, at) = (on.scan().before, on.scan().entries[0].clone());
    assert!(before > 0);
    let path = small.root().join(format!("ledger/{:06}.seg", at.at.segment));
    let good = std::fs::read(&path).unwrap();
    let frame = 16 + at.leaf_len as usize + at.body_len as usize;
    for byte in (0..frame).step_by(step(37, 5)) {
        let mut bytes = good.clone();
        bytes[at.at.offset as usize + byte] ^= 1;
        std::fs::write(&path, &bytes).unwrap();
        let practice = open_at(&small.world, &small.root(), NEVER).unwrap();
        assert_eq!(practice.scan().before, 0, "byte {byte}");
        assert!(!practice.scan().damage.is_empty() || practice.size() < on.size(), "byte {byte}");
    }
}

/// What identifies a patient is not readable in the index: a chart is found by a digest under a key.
#[test]
fn a_chart_is_found_by_its_number_without_looking_into_every_chart() {
    let small = store(0);
    let practice = open_at(&small.world, &small.root(), OFTEN).unwrap();
    let face = chart::find(&practice, "PM-0113").unwrap();
    let kept = std::fs::read(folder(&small.root()).join("numbers")).unwrap();
    assert!(!kept.windows(7).any(|part| part.eq_ignore_ascii_case(b"PM-0113")));
    assert_eq!(chart::find(&practice, " pm-0113 ").unwrap().tag, face.tag);
    // A hint to another chart does not lead there, and one that is lost is looked for.
    let mut bent = kept.clone();
    let len = bent.len();
    assert!(len >= 64);
    let (first, last) = (bent[16..32].to_vec(), bent[len - 16..].to_vec());
    bent[16..32].copy_from_slice(&last);
    bent[len - 16..].copy_from_slice(&first);
    for hints in [bent, Vec::new(), vec![0; 31], kept] {
        std::fs::write(folder(&small.root()).join("numbers"), hints).unwrap();
        for (number, tag) in ["PM-0112", "PM-0113", "PM-0114"].iter().zip(&small.charts) {
            assert_eq!(chart::find(&practice, number).unwrap().tag, *tag);
        }
        assert!(chart::find(&practice, "PM-9999").is_err());
    }
}

#[test]
fn a_strand_is_one_chart_or_one_kind() {
    let small = store(0);
    let place = &small.practice.place;
    let dir = mark_folder(&small.root());
    let mark = Bookmark::open(&small.world.disk, &dir, &small.root().join("ledger"), &place.key).unwrap();
    assert_eq!(mark.size(), 40);
    assert!(mark.strand(&StrandKey::outside("no such kind")).unwrap().is_empty());
    assert!(mark.strand(&StrandKey::chart([7; 16])).unwrap().is_empty());
    assert_eq!(mark.head(&[7; 16]).unwrap(), None);
    assert_eq!(mark.strand(&StrandKey::outside("register-opened")).unwrap().len(), 1);
}

/// The copy outside vouches for whatever it names, also for less than what is not read again.
#[test]
fn a_copy_outside_that_is_older_than_the_bookmark_is_still_compared() {
    let mut small = Small::new(64 << 10, 3);
    let outside = small.dir.path().join("outside");
    let older = tempfile::tempdir().unwrap();
    copy_folder(&outside, older.path());
    let size = small.practice.size();
    while small.practice.size() < 40 {
        small.say(0, "before");
    }
    small.let_go();
    drop(open_at(&small.world, &small.root(), OFTEN).unwrap());
    std::fs::remove_dir_all(&outside).unwrap();
    copy_folder(older.path(), &outside);
    let mut practice = open_at(&small.world, &small.root(), OFTEN).unwrap();
    assert!(practice.scan().before > size, "read on from behind what the copy names");
    assert_eq!(practice.begin_writing().unwrap(), []);
    common::add(&mut practice, None, common::example_data("clock-remark")).unwrap();
    assert_eq!(practice.size(), 41);
}

fn kept_at(small: &Small, size: u64) -> Checkpoint {
    small.practice.as_of(size).unwrap().scan().checkpoint.clone().unwrap().0
}

/// A check that goes on from a kept checkpoint, as the command makes it; none where everything is to be read.
fn check_from(small: &Small, root: &Path, kept: &Checkpoint) -> Option<Report> {
    check_from_with(small, root, kept, vouched(What::Slip, kept.size, &kept.root))
}

fn vouched(what: What, size: u64, hash: &[u8]) -> Witness {
    let code = data_encoding::BASE32_NOPAD.encode(hash);
    Witness { what, name: "kept".to_string(), size, code, ledger: None }
}

fn check_from_with(small: &Small, root: &Path, kept: &Checkpoint, witness: Witness) -> Option<Report> {
    let place = Place::open(&small.world, root, None).unwrap();
    let paths = StorePaths { root, outside: &place.outside, key: &place.key };
    let resume = resume(&small.world, &place, kept).unwrap()?;
    verify_on(&*small.world.disk, &paths, &resume, &[witness], &mut |_| ()).unwrap()
}

#[test]
fn a_check_goes_on_from_a_kept_checkpoint_and_reads_what_is_new() {
    let mut small = store(0);
    small.attach(0, "a letter", b"what the letter says");
    for n in 0..9 {
        small.say(n % 3, "after");
    }
    small.let_go();
    let size = small.practice.size();
    // Before the first stretch's end, at it, in the next ones, at the bookmark and behind it.
    for at in [9, 15, 16, 17, 31, 32, 33, 39, 40, 41, size - 1, size] {
        let report = check_from(&small, &small.root(), &kept_at(&small, at)).unwrap();
        assert!(report.sound, "from {at}: {:?}", ids(&report));
        assert_eq!(report.read_from, Some(at.min(40) + 1));
        assert_eq!(report.entries, size - at.min(40));
        assert_eq!(report.witnesses.len(), 2, "the kept one and the copy outside: {:?}", report.witnesses);
    }
    let files = check_from(&small, &small.root(), &kept_at(&small, 20)).unwrap().files;
    assert_eq!(files, 1);
    // A checkpoint of another past is not gone on from, and a whole check says what it is.
    let mut other = kept_at(&small, 20);
    other.root[0] ^= 1;
    assert!(check_from(&small, &small.root(), &other).is_none());
    let mut other = kept_at(&small, size - 1);
    other.root[0] ^= 1;
    assert_eq!(ids(&check_from(&small, &small.root(), &other).unwrap()), ["rewritten-outside-copy"]);
    let ahead = Checkpoint { size: size + 1, ..other };
    assert_eq!(ids(&check_from(&small, &small.root(), &ahead).unwrap()), ["behind-outside-copy"]);
}

/// A slip of what was not read again is neither borne out nor contradicted. At the kept checkpoint itself the tree is
/// known and so a slip agrees, but no single leaf is.
#[test]
fn a_slip_of_what_was_not_read_again_is_said_to_be_that() {
    let small = store(9);
    let kept = kept_at(&small, 40);
    let leaves: Vec<_> = small.practice.all().map(|at| at.unwrap().tree_hash).collect();
    let found = |what, size: u64, hash: &[u8]| {
        let report = check_from_with(&small, &small.root(), &kept, vouched(what, size, hash)).unwrap();
        assert!(report.sound && report.read_from == Some(41), "{:?}", ids(&report));
        let found: Vec<_> = report.findings.iter().map(|f| (f.id.clone(), f.place.seq)).collect();
        (found, report.witnesses.len())
    };
    let not_read = |size: u64| (vec![("not-read-again".to_string(), Some(size))], 1);
    assert_eq!(found(What::Slip, 20, &kept_at(&small, 20).root), not_read(20));
    assert_eq!(found(What::Receipt, 20, &leaves[19]), not_read(20));
    assert_eq!(found(What::Receipt, 40, &leaves[39]), not_read(40));
    assert_eq!(found(What::Slip, 40, &kept.root), (vec![], 2));
    assert_eq!(found(What::Receipt, 41, &leaves[40]), (vec![], 2));
    // A check of the whole leaves nothing unread, and says nothing of it.
    let whole = check(&small.root());
    assert_eq!(whole.read_from, None);
    assert!(whole.limits.iter().all(|limit| !limit.contains("read again")), "{:?}", whole.limits);
}

#[test]
fn a_check_from_a_kept_checkpoint_reads_the_sealed_files_listed_behind_it() {
    let mut small = store(0);
    small.attach(0, "a letter", b"what the letter says");
    small.attach(1, "another", b"what the other says");
    small.let_go();
    let kept = kept_at(&small, 40);
    let check = |root: &Path| check_from(&small, root, &kept).unwrap();
    assert_eq!((check(&small.root()).files, check(&small.root()).sound), (2, true));
    let sealed = |root: &Path| {
        let folder = std::fs::read_dir(root.join("files")).unwrap().next().unwrap().unwrap().path();
        std::fs::read_dir(folder).unwrap().next().unwrap().unwrap().path()
    };
    let copy = small.copy();
    let root = copy.path().join("store");
    let mut bytes = std::fs::read(sealed(&root)).unwrap();
    bytes[0] ^= 1;
    std::fs::write(sealed(&root), bytes).unwrap();
    assert_eq!(ids(&check(&root)), ["file-changed"]);
    std::fs::remove_file(sealed(&root)).unwrap();
    assert_eq!(ids(&check(&root)), ["file-missing"]);
}

#[test]
fn a_check_from_a_kept_checkpoint_finds_what_was_bent_behind_it() {
    let small = store(9);
    let kept = kept_at(&small, 33);
    let all: Vec<_> = small.practice.all().collect::<Outcome<_>>().unwrap();
    let first = all[33].at;
    let path = format!("ledger/{:06}.seg", first.segment);
    let good = std::fs::read(small.root().join(&path)).unwrap();
    let end = good.iter().rposition(|b| *b != 0).unwrap();
    let trials: Vec<usize> = (first.offset as usize..=end).step_by(step(211, 17)).collect();
    each(&trials, |at| {
        let copy = small.copy();
        let root = copy.path().join("store");
        let mut bytes = good.clone();
        bytes[at] ^= 1 << (at % 8);
        std::fs::write(root.join(&path), bytes).unwrap();
        let found = check_from(&small, &root, &kept);
        assert!(found.is_some_and(|report| !report.sound && !report.findings.is_empty()), "byte {at}");
    });
    // What was bent before it is not read again, and the page says so.
    let copy = small.copy();
    let root = copy.path().join("store");
    let mut bytes = std::fs::read(root.join("ledger/000001.seg")).unwrap();
    bytes[all[4].at.offset as usize + 40] ^= 1;
    std::fs::write(root.join("ledger/000001.seg"), bytes).unwrap();
    let report = check_from(&small, &root, &kept).unwrap();
    assert!(report.sound && report.read_from == Some(34));
    let page = certificate(&report).text(80);
    assert!(
        page.contains("SOUND FROM ENTRY 34 ON") && page.contains("Entries 1 to 33 were not read again"),
        "{page}"
    );
    assert!(!check(&root).sound);
}
