//! Archives made to harm whoever opens them: names that lead elsewhere, lengths nobody has room for.

use super::common::Dice;
use super::given::{Given, bytes, code, header, list_again, named, pack, run_within, said};

/// Enough for the checker and a package of the usual size, in KiB.
const ROOM: u64 = 400_000;

#[test]
fn names_that_lead_out_of_the_folder_are_found_and_never_written() {
    let given = Given::new();
    let folder = given.path("inner/opened");
    std::fs::create_dir(given.path("inner")).unwrap();
    let signer = &given.owner().session.me.signer;
    let absolute = given.path("absolute-evil").display().to_string();
    for name in ["../evil", "entries/../../evil", absolute.as_str(), ".evil", "a\\..\\evil", "a//b"] {
        // Signed and listed by somebody with the keys of the practice, so that nothing else is wrong with it.
        let mut bent = given.members();
        bent.push((name.to_string(), b"evil".to_vec()));
        list_again(&mut bent, signer, |_| ());
        let ran = given.judge(&bent, &["--open-to", folder.to_str().unwrap()]);
        named(&ran, "member-name");
        assert!(!folder.exists() && !given.path("inner/evil").exists() && !given.path("evil").exists());
        assert!(!given.path("absolute-evil").exists());
    }
}

#[test]
fn links_and_devices_are_no_part_of_a_package() {
    let given = Given::new();
    for kind in [
        tar::EntryType::Symlink,
        tar::EntryType::Link,
        tar::EntryType::Directory,
        tar::EntryType::Fifo,
        tar::EntryType::GNULongName,
        tar::EntryType::XHeader,
        tar::EntryType::GNUSparse,
    ] {
        let mut link = header("record.html", 0);
        link.set_entry_type(kind);
        let _ = link.set_link_name("/etc/passwd");
        link.set_cksum();
        let archive = given.archive();
        let bent = [link.as_bytes().as_slice(), &archive].concat();
        named(&given.judge_bytes(&bent, &[]), "member-not-listed");
    }
}

#[test]
fn lengths_nobody_has_room_for_end_in_words() {
    let given = Given::new();
    let archive = given.archive();
    let path = given.path("bent.tar");
    let run = |bent: &[u8]| {
        std::fs::write(&path, bent).unwrap();
        run_within(ROOM, &[path.to_str().unwrap()])
    };
    assert_eq!(code(&run(&archive)), 0, "the usual package fits");
    for size in [1 << 33, u64::MAX, u64::MAX - 511, 1 << 63] {
        for name in ["entries/000001.leaf", "attachments/00", "manifest.json"] {
            let bent = [header(name, size).as_bytes().as_slice(), &archive].concat();
            let ran = run(&bent);
            assert_eq!(code(&ran), 2, "{name} of {size}: {}", said(&ran));
        }
    }
    // A long name of another kind of archive, of more bytes than there is room for.
    let mut long = header("././@LongLink", 1 << 40);
    long.set_entry_type(tar::EntryType::GNULongName);
    long.set_cksum();
    let ran = run(&[long.as_bytes().as_slice(), &archive].concat());
    assert_eq!(code(&ran), 2, "{}", said(&ran));
}

#[test]
fn numbers_at_the_edge_in_a_signed_list_end_in_words() {
    let given = Given::new();
    let signer = &given.owner().session.me.signer;
    let path = given.path("bent.tar");
    for number in [0, u64::MAX, i64::MAX as u64] {
        let mut bent = given.members();
        list_again(&mut bent, signer, |list| {
            list.release = number;
            list.entries[0].seq = number;
            list.entries[1].chart_seq = number;
            list.keys = vec![number; 3];
            list.files[0].bytes = number;
        });
        std::fs::write(&path, pack(&bent)).unwrap();
        let ran = run_within(ROOM, &[path.to_str().unwrap()]);
        assert_eq!(code(&ran), 1, "{number}: {}", said(&ran));
    }
    // A list of very many entries that are not there.
    let mut bent = given.members();
    list_again(&mut bent, signer, |list| {
        let one = list.entries[0].clone();
        list.entries = (0..50_000).map(|_| one.clone()).collect();
    });
    std::fs::write(&path, pack(&bent)).unwrap();
    let ran = run_within(ROOM, &[path.to_str().unwrap()]);
    assert!(code(&ran) == 1 && said(&ran).len() < 60_000, "{}", said(&ran).len());
    assert!(said(&ran).contains("more."));
    // Proofs with sizes at the edge.
    let mut bent = given.members();
    let proof = String::from_utf8(bytes(&mut bent, "entries/000001.tlog-proof").clone()).unwrap();
    let index = proof.lines().nth(1).unwrap().to_string();
    *bytes(&mut bent, "entries/000001.tlog-proof") =
        proof.replace(&index, "index 9223372036854775807").into_bytes();
    named(&given.judge(&bent, &[]), "proof-broken");
}

#[test]
fn noise_is_never_a_panic() {
    let given = Given::new();
    let archive = given.archive();
    let mut dice = Dice::new(5);
    let path = given.path("bent.tar");
    let rounds = if super::common::long() { 400 } else { 40 };
    for round in 0..rounds {
        let mut bent = archive.clone();
        for _ in 0..=dice.below(6) {
            // Mostly in headers, which stand at multiples of 512.
            let at = dice.below(bent.len() as u64 / 512) * 512 + dice.below(512);
            bent[at as usize] = dice.next() as u8;
        }
        std::fs::write(&path, &bent).unwrap();
        let ran = run_within(ROOM, &[path.to_str().unwrap(), "--json"]);
        let same = bent == archive;
        assert!(
            [1, 2].contains(&code(&ran)) || same || padding_only(&archive, &bent),
            "{round}: {}",
            said(&ran)
        );
    }
}

/// Whether only bytes changed that no archive's reader looks at: what fills a header or a block.
fn padding_only(archive: &[u8], bent: &[u8]) -> bool {
    let read = |bytes: &[u8]| {
        let mut tar = tar::Archive::new(bytes);
        let mut all = Vec::new();
        for entry in tar.entries().ok()?.raw(true) {
            let mut entry = entry.ok()?;
            let name = entry.path_bytes().into_owned();
            let mut bytes = Vec::new();
            std::io::Read::read_to_end(&mut entry, &mut bytes).ok()?;
            all.push((name, bytes));
        }
        Some(all)
    };
    read(archive) == read(bent)
}
