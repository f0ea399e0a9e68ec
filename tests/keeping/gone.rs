//! A chart that was destroyed is gone, and nothing else is.

use super::{destroy, flat, old_paper, treated, with_rules};
use crate::common::disk::MemDisk;
use crate::common::{
    OWNER, PASSPHRASE, SECOND, Small, add, beside, check, contact_saying, example_data, ids, moment,
    open_store, reaction_saying, second_signer,
};
use inkfast::ledger::write::read_entry;
use inkfast::practice::disposal::destroy::finish;
use inkfast::practice::disposal::order::{Order, order};
use inkfast::practice::disposal::standing::certificates;
use inkfast::practice::drafts::Kept;
use inkfast::practice::open::Practice;
use inkfast::practice::release::{ReleaseOrder, SealTo, release};
use inkfast::practice::session::Session;
use inkfast::record::kinds::Data;
use inkfast::seal::age_file::{Identity, With, open};
use inkfast::trouble::Outcome;
use inkfast::verify::package::check_archive;
use serde_json::json;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// Words planted in every part of the chart that is destroyed; the last one as a draft of each of the two.
const PLANTED: [&str; 4] = ["plumbago", "cassowary", "marzipan", "velocipede"];
/// A word of another chart, which stays.
const OTHER: &str = "Ostrogoth";

/// A chart whose day has passed, with planted words in entries of both classes, an attachment and two drafts.
pub fn planted(disk: Option<MemDisk>) -> Small {
    let on_disk =
        disk.clone().map(|disk| std::sync::Arc::new(disk) as std::sync::Arc<dyn inkfast::world::Disk>);
    let mut small = Small::on(on_disk, 64 << 10, 2).unwrap();
    small.clock.set(moment("2025-09-22T12:00:00-04:00"));
    let (own, other) = (small.charts[0].clone(), small.charts[1].clone());
    add(&mut small.practice, Some(&own), contact_saying(PLANTED[0])).unwrap();
    add(&mut small.practice, Some(&own), reaction_saying(PLANTED[1])).unwrap();
    let reaction = small.practice.scan().entries.len() as u64;
    let Data::ReactionClosed(mut closed) = example_data("reaction-closed") else { panic!() };
    closed.reaction = reaction;
    closed.visit = None;
    add(&mut small.practice, Some(&own), Data::ReactionClosed(closed)).unwrap();
    small.attach(0, "own paper", PLANTED[2].repeat(40).as_bytes());
    add(&mut small.practice, Some(&other), contact_saying(OTHER)).unwrap();
    small.attach(1, "other paper", OTHER.repeat(40).as_bytes());
    small.let_go();
    second_signer(&small.world, &small.root(), OWNER);
    // Each of the two has a draft of this chart, and the second one of another.
    for (code, passphrase, tag) in [(OWNER, PASSPHRASE, &own), ("HL", SECOND, &own), ("HL", SECOND, &other)] {
        let practice = open_store(&small.world, &small.root(), code, passphrase).unwrap();
        let said = if *tag == own { PLANTED[3] } else { OTHER };
        let kept = Kept {
            kind: "contact".to_string(),
            chart: Some(tag.clone()),
            by: code.to_string(),
            begun: practice.now(),
            data: json!({ "said": said }),
        };
        practice.keep_draft(&kept).unwrap();
    }
    small.let_go();
    small.clock.set(moment("2041-06-05T13:05:00-04:00"));
    if let Some(disk) = disk {
        disk.settle();
    }
    small
}

/// Orders the destruction of the first chart and carries it out.
pub fn dispose(practice: &mut Practice, tag: &str) -> Outcome<u64> {
    let face = inkfast::practice::chart::face(practice, tag)?;
    let second = beside(practice)?;
    let asked = Order {
        face,
        second: &second,
        settled: None,
        copies: Vec::new(),
        all_copies_named: true,
        medium: None,
    };
    let ordered = order(practice, asked)?;
    finish(practice, ordered.order)?;
    Ok(ordered.order)
}

/// Everything in the store that any of these identities opens, and those that turn up on the way, as often as it
/// takes until nothing new opens. Gives the plain bytes with where each was, and which chart's entries opened.
struct Opened {
    plain: Vec<(String, Vec<u8>)>,
    /// Chart tag and number of each entry that opened.
    entries: BTreeSet<(Option<String>, u64)>,
    /// How many sealed pieces there are.
    sealed: usize,
}

/// Something of the store: where it is, its bytes, and of which chart's entry it is the body.
type Piece = (String, Vec<u8>, Option<(Option<String>, u64)>);

fn every_file(root: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for item in std::fs::read_dir(root).unwrap() {
        let path = item.unwrap().path();
        if path.is_dir() { found.extend(every_file(&path)) } else { found.push(path) }
    }
    found
}

fn count(bytes: &[u8], word: &[u8]) -> usize {
    bytes.windows(word.len()).filter(|window| *window == word).count()
}

fn open_everything(small: &Small, practice: &Practice) -> Opened {
    let root = small.root();
    let mut pieces: Vec<Piece> = Vec::new();
    for at in &practice.scan().entries {
        let (_, body) = read_entry(&practice.world, &root.join("ledger"), at).unwrap();
        let leaf = practice.leaf(at).unwrap();
        pieces.push((format!("entry {}", at.seq), body, Some((leaf.chart.clone(), at.seq))));
    }
    for path in every_file(&root).into_iter().filter(|path| !path.starts_with(root.join("ledger"))) {
        pieces.push((path.display().to_string(), std::fs::read(&path).unwrap(), None));
    }
    // Nothing sealed lies anywhere that is not tried: each has its own first line.
    let headers: usize = every_file(&root)
        .iter()
        .map(|path| count(&std::fs::read(path).unwrap(), b"age-encryption.org/v1"))
        .sum();
    let tried: usize = pieces.iter().map(|(_, bytes, _)| count(bytes, b"age-encryption.org/v1")).sum();
    assert_eq!(headers, tried, "sealed pieces that nobody tried to open");
    let mut held: Vec<Identity> = vec![small.recovery.clone()];
    for (code, passphrase) in [(OWNER, PASSPHRASE), ("HL", SECOND)] {
        let session = Session::unlock(&practice.world, &practice.place, code, passphrase).unwrap();
        held.push(session.me.identity.clone());
        held.extend(session.role_identities());
    }
    let mut opened = Opened { plain: Vec::new(), entries: BTreeSet::new(), sealed: headers };
    let mut left = pieces;
    loop {
        let mut new = Vec::new();
        left.retain(|(name, bytes, entry)| {
            let Ok(plain) = open(&With::Identities(&held), bytes) else { return true };
            let text = String::from_utf8_lossy(&plain).into_owned();
            new.extend(
                text.lines().filter(|line| line.starts_with("AGE-SECRET-KEY-1")).filter_map(Identity::parse),
            );
            opened.plain.push((name.clone(), plain.to_vec()));
            opened.entries.extend(entry.clone());
            false
        });
        if new.is_empty() {
            break;
        }
        held.extend(new);
    }
    // What is stored open counts as opened; a key file's own bytes are looked through below.
    for (name, bytes, entry) in left {
        if !bytes.starts_with(b"age-encryption.org/v1") {
            opened.plain.push((name, bytes));
            opened.entries.extend(entry);
        }
    }
    opened
}

fn holds(opened: &Opened, word: &str) -> bool {
    opened.plain.iter().any(|(_, plain)| count(plain, word.as_bytes()) > 0)
}

#[test]
fn nothing_in_the_store_opens_a_destroyed_chart() {
    let mut small = planted(None);
    let (own, other) = (small.charts[0].clone(), small.charts[1].clone());
    let name = {
        let face = inkfast::practice::chart::face(&small.practice, &own).unwrap();
        face.identity.legal_name
    };
    // The search finds everything while it is there, or it would prove nothing.
    let before = open_everything(&small, &small.practice);
    for word in PLANTED.iter().chain([&OTHER]) {
        assert!(holds(&before, word), "{word} is found before");
    }
    let entries = |opened: &Opened, tag: &str| {
        opened.entries.iter().filter(|(chart, _)| chart.as_deref() == Some(tag)).count()
    };
    let (had, others) = (entries(&before, &own), entries(&before, &other));
    assert!(had >= 6 && others >= 4, "{had} {others}");
    assert_eq!(ids(&check(&small.root())), Vec::<&str>::new());

    let package = |small: &mut Small, tag: &str, name: &str| {
        let Data::Release(data) = example_data("release") else { panic!() };
        let asker = Identity::generate();
        let to = SealTo::Recipients(vec![asker.recipient()]);
        let file = small.dir.path().join(name);
        let order = ReleaseOrder::new(*data, to, file, small.practice.now());
        let sealed = std::fs::read(release(&mut small.practice, tag, order).unwrap().file).unwrap();
        open(&With::Identities(&[asker]), &sealed).unwrap().to_vec()
    };
    small.clock.set(moment("2025-09-22T13:00:00-04:00"));
    let earlier = package(&mut small, &own, "earlier.age");
    small.clock.set(moment("2041-06-05T13:05:00-04:00"));
    let (before, had) = (open_everything(&small, &small.practice), had + 2);
    let order = dispose(&mut small.practice, &own).unwrap();
    // A package handed out before checks as ever, and other charts are handed out as ever.
    let later = package(&mut small, &other, "later.age");
    for archive in [earlier, later] {
        let report = check_archive(&mut &archive[..], &mut |_| ()).unwrap();
        assert!(report.sound, "{:?}", ids(&report));
    }
    assert_eq!(entries(&before, &own), had, "the release and what was made of it");
    // Not even the program that did it holds a key of it any more.
    assert!(small.practice.chart(&own).unwrap().iter().all(|entry| entry.record.is_none()));
    small.let_go();
    let after = open_everything(&small, &small.practice);
    assert_eq!((entries(&after, &own), entries(&after, &other)), (0, others + 2));
    for word in PLANTED {
        let found: Vec<&String> = after
            .plain
            .iter()
            .filter(|(_, plain)| count(plain, word.as_bytes()) > 0)
            .map(|(name, _)| name)
            .collect();
        assert!(found.is_empty(), "{word} is in {found:?}");
        let raw: Vec<PathBuf> = every_file(&small.root())
            .into_iter()
            .filter(|path| count(&std::fs::read(path).unwrap(), word.as_bytes()) > 0)
            .collect();
        assert!(raw.is_empty(), "{word} lies unsealed in {raw:?}");
    }
    assert!(holds(&after, OTHER), "the other chart stays");
    assert_eq!(
        before.sealed + 2 + 2 - after.sealed,
        2 + 1 + 2,
        "two keys, one file, two drafts went; a certificate, a disposal and the later release's two came"
    );
    // The name is in the certificate, sealed, and nowhere else.
    let named: Vec<&String> = after
        .plain
        .iter()
        .filter(|(_, plain)| count(plain, name.as_bytes()) > 0)
        .map(|(place, _)| place)
        .collect();
    let certificate = certificates(&small.practice).unwrap().remove(0);
    let other_face = inkfast::practice::chart::face(&small.practice, &other).unwrap();
    assert_eq!(other_face.identity.legal_name, name, "both charts of this store bear one name");
    assert!(named.contains(&&format!("entry {}", certificate.entry)), "{named:?}");
    let report = check(&small.root());
    assert_eq!((ids(&report), report.charts_destroyed, report.sound), (Vec::<&str>::new(), 1, true));
    assert_eq!(certificate.disposed.as_ref().unwrap().order, order);
    // Nothing is added to it either, and its number is not given again.
    let more = add(&mut small.practice, Some(&own), contact_saying("again"));
    assert!(more.unwrap_err().what.contains("disposed of"));
    let Data::ChartOpened(opened) = example_data("chart-opened") else { panic!() };
    let mut again = *opened;
    again.chart_no = certificate.certificate.chart_no.clone();
    let now = small.practice.now();
    let refused = inkfast::practice::chart::open_chart(&mut small.practice, again, now).unwrap_err();
    assert!(refused.what.contains("disposed of"), "{refused}");
}

/// Keys brought back from an old copy are said by the next check, and by the certificate.
#[test]
fn keys_that_come_back_are_named() {
    let mut small = planted(None);
    let own = small.charts[0].clone();
    let key = small.root().join("keys").join(format!("chart-{own}-clinical.age"));
    let kept = std::fs::read(&key).unwrap();
    dispose(&mut small.practice, &own).unwrap();
    small.let_go();
    std::fs::write(&key, kept).unwrap();
    assert_eq!(ids(&check(&small.root())), ["disposal-unfinished"]);
    let one = certificates(&small.practice).unwrap().remove(0);
    assert!(one.verdict().starts_with("NOT DISPOSED OF"), "{}", one.verdict());
    let order = one.disposed.unwrap().order;
    let (gone, _) = finish(&mut small.practice, order).unwrap();
    assert_eq!((gone.keys, gone.files, gone.drafts), (1, 0, 0));
    assert_eq!(ids(&check(&small.root())), Vec::<&str>::new());
}

/// Whoever can add an entry alone can't have a chart destroyed.
#[test]
fn an_order_that_one_person_signed_destroys_nothing() {
    let mut small = planted(None);
    let own = small.charts[0].clone();
    let Data::ChartDisposed(mut forged) = example_data("chart-disposed") else { panic!() };
    forged.chart = own.clone();
    forged.state = inkfast::record::kinds::disposing::DisposalState::Ordered;
    forged.ordered_by = None;
    let seq = add(&mut small.practice, None, Data::ChartDisposed(forged)).unwrap().seq;
    assert!(finish(&mut small.practice, seq).is_err());
    assert_eq!(check(&small.root()).charts_destroyed, 0);
    assert!(add(&mut small.practice, Some(&own), contact_saying("goes on")).is_ok());
}

/// S52, and the old paper chart of the example practice: with the real commands, by two people.
#[test]
fn an_old_paper_chart_is_destroyed_by_two_people() {
    let room = with_rules(r#""lm-1""#);
    room.at("2022-11-14T12:30:00-05:00");
    room.patient("PM-0003", "Silas Umberlow", "1949-02-11");
    room.patient("PM-0112", "Bettony Craske", "1988-07-23");
    treated(&room, "PM-0112", "2022-11-14 10:00");
    old_paper(&room, "PM-0003", "Silas Umberlow", "2016-05-19");
    // On the last day it must still exist.
    room.at("2023-05-19T23:00:00-04:00");
    let early = destroy(&room, "PM-0003", &["--no-other-copies"]);
    assert_eq!(early.code(), 7, "{}", early.all());
    room.at("2023-06-05T13:05:00-04:00");
    let shown = room.run(&["dispose", "chart", "PM-0003"]);
    assert_eq!(shown.code(), 3, "{}", shown.all());
    for words in
        ["Nothing was destroyed", "cabinet C2, folder U", "Keep through Fri 19 May 2023", "--second CODE"]
    {
        assert!(shown.out.contains(words), "{words}\n{}", shown.out);
    }
    assert!(
        room.ok(&["print", "PM-0003", "--why", "review"]).contains("cabinet C2, folder U"),
        "it is all there"
    );
    // Two different people, and whoever has copies says so.
    let alone = room.run(&["dispose", "chart", "PM-0003", "--destroy", "--no-other-copies"]);
    assert_eq!(alone.code(), 4, "{}", alone.all());
    let twice = ["dispose", "chart", "PM-0003", "--destroy", "--no-other-copies", "--second", "IV"];
    assert_eq!(room.run(&twice).code(), 7);
    assert_eq!(destroy(&room, "PM-0003", &[]).code(), 4);
    let inside = room.path("store").join("certificate.txt").display().to_string();
    assert_eq!(destroy(&room, "PM-0003", &["--no-other-copies", "--into", &inside]).code(), 7);

    let into = room.path("certificate.txt").display().to_string();
    let done = destroy(&room, "PM-0003", &["--no-other-copies", "--into", &into]);
    assert_eq!(done.code(), 0, "{}", done.all());
    // The paper is still in its cabinet, so it is not disposed of yet, and that is said.
    assert!(
        done.out.contains("NOT DISPOSED OF: a copy lives in: paper chart, 14 pages: cabinet C2"),
        "{}",
        done.out
    );
    let page = std::fs::read_to_string(&into).unwrap();
    for words in [
        "Silas Umberlow",
        "19 May 2016 to",
        "Ingrith Valsamo (IV) and Hattie Lorch (HL)",
        "lm-1: through 19 May 2023",
        "not claimed to be a cryptographic erase",
        "DOES NOT HOLD",
        "not recorded as destroyed",
    ] {
        assert!(flat(&page).contains(words), "{words}\n{page}");
    }
    room.at("2023-06-12T09:00:00-04:00");
    let number = room.json(&["keep", "disposed"])[0]["certificate"].as_u64().unwrap().to_string();
    room.ok(&[
        "dispose",
        "gone",
        "--certificate",
        &number,
        "--copy",
        "1",
        "--gone-on",
        "2023-06-12",
        "--how",
        "shredded by the van, seen by both",
        "--by",
        "the shredding firm",
    ]);
    let disposed = room.json(&["keep", "disposed"]);
    assert_eq!(
        (disposed[0]["disposed"].as_bool(), disposed[0]["copies_left"].to_string().as_str()),
        (Some(true), "[]")
    );
    assert!(flat(&room.ok(&["keep", "certificate", &number])).contains("destroyed on 12 Jun 2023"));
    // Everything else goes on, and the whole still verifies.
    let print = room.run(&["print", "PM-0003", "--why", "review"]);
    assert!(print.all().contains("disposed of"), "{}", print.all());
    assert!(!room.ok(&["patient", "list"]).contains("Umberlow"));
    assert!(!room.ok(&["keep", "due"]).contains("PM-0003"));
    assert!(room.ok(&["print", "PM-0112", "--why", "review"]).contains("Bettony"));
    assert!(!room.run(&["today"]).all().contains("does not open"));
    // Who opened what in that month is looked through as ever; what went with the chart is not asked about.
    room.at("2023-07-03T09:00:00-04:00");
    let fine = "opened-without-visit/IV/PM-0112=looked whether it is all there";
    let openings = room.run(&["openings", "review", "--month", "2023-06", "--fine", fine, "--sign-off"]);
    assert!(!openings.all().contains("do not open to you"), "{}", openings.all());
    assert_eq!(openings.code(), 0, "{}", openings.all());
    let verify = room.run(&["verify", &room.path("store").display().to_string(), "--json"]);
    assert_eq!(verify.code(), 0, "{}", verify.all());
    let report: serde_json::Value = serde_json::from_str(&verify.out).unwrap();
    assert_eq!(
        (report["charts_destroyed"].as_u64(), report["findings"].to_string()),
        (Some(1), "[]".to_string())
    );
}

/// At a terminal: who signs, which copies are left, and the chart number typed once more; anything else destroys nothing.
#[test]
fn a_person_is_asked_and_types_the_number_again() {
    let room = with_rules(r#""lm-1""#);
    room.at("2023-06-05T13:05:00-04:00");
    room.patient("PM-0003", "Silas Umberlow", "1949-02-11");
    treated(&room, "PM-0003", "2016-05-19 10:00");
    let file = room.path("pw-second").display().to_string();
    let typed = ["dispose", "chart", "PM-0003", "--destroy", "--second-passphrase-file", &file];
    let another = room.typed(&typed, Some(&["HL", "stick B until 2023-12-31", "", "yes", "PM-0004"]));
    assert_eq!(another.code(), 3, "{}", another.all());
    assert!(room.ok(&["print", "PM-0003", "--why", "review"]).contains("Silas"), "it is all there");
    let done = room.typed(&typed, Some(&["HL", "stick B until 2023-12-31", "", "yes", "pm-0003"]));
    assert_eq!(done.code(), 0, "{}", done.all());
    assert!(
        flat(&done.out).contains("NOT DISPOSED OF: a copy lives in: stick B (until 31 Dec 2023)"),
        "{}",
        done.out
    );
}
