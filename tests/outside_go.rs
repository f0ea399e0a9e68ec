//! Proofs made here, judged by a program that shares no code with this one: `tests/outside/go/check.go`
//! on golang.org/x/mod/sumdb. Run by `scripts/test`, which installs what it needs.
#![cfg(feature = "outside-checks")]
#![allow(clippy::unwrap_used, clippy::panic)] // In a test a panic is the report.

mod common;
#[path = "common/outside.rs"]
mod outside;

use base64::Engine as _;
use inkfast::ledger::checkpoint::Checkpoint;
use inkfast::ledger::proof::TlogProof;
use inkfast::ledger::tree::{Hash, LeafHashes, consistency_proof, inclusion_proof, leaf_hash, root};
use inkfast::seal::note::{Signer, sign};
use outside::GoCheck;
use std::ffi::OsString;

const ORIGIN: &str = "ledger.example/7f3a";

/// The checker and the key of the ledger it is asked about.
struct Checker {
    check: GoCheck,
    signer: Signer,
}

impl Checker {
    fn build() -> Checker {
        Checker { check: GoCheck::build(), signer: Signer::from_seed(ORIGIN, &[9; 32]).unwrap() }
    }

    fn write(&self, name: &str, bytes: &[u8]) -> OsString {
        self.check.write(name, bytes).into_os_string()
    }

    fn inclusion(&self, entry: &[u8], proof: &str) -> Result<String, String> {
        let (entry, proof) = (self.write("entry", entry), self.write("proof", proof.as_bytes()));
        self.check.says([self.signer.vkey().into(), entry, proof])
    }

    fn consistency(&self, old: &str, new: &str, proof: &[Hash]) -> Result<String, String> {
        let base64 = base64::engine::general_purpose::STANDARD;
        let lines: String = proof.iter().map(|hash| base64.encode(hash) + "\n").collect();
        let files = [("old", old), ("new", new), ("hashes", &lines)];
        let [old, new, hashes] = files.map(|(name, text)| self.write(name, text.as_bytes()));
        self.check.says(["consistency".into(), self.signer.vkey().into(), old, new, hashes])
    }
}

fn entry(index: u64) -> Vec<u8> {
    format!("entry {index}\n").into_bytes()
}

fn leaves(count: u64) -> Vec<Hash> {
    (0..count).map(|index| leaf_hash(&entry(index))).collect()
}

fn checkpoint(size: u64) -> Checkpoint {
    Checkpoint { origin: ORIGIN.to_owned(), size, root: root(&leaves(size)) }
}

#[test]
fn inclusion_proofs_convince_another_program() {
    let checker = Checker::build();
    for (index, size) in [(0, 1), (0, 2), (1, 2), (2, 3), (5, 8), (6, 7), (300, 1000), (999, 1000)] {
        let mut proof = TlogProof {
            index,
            hashes: inclusion_proof(index, size, &LeafHashes(&leaves(size))).unwrap(),
            extra: (index % 2 == 0).then(|| b"for the reader".to_vec()),
            checkpoint_note: checkpoint(size).sign(&checker.signer).unwrap(),
        };
        // A witness and a key of nobody must not be in its way.
        let witness = Signer::from_seed("witness.example", &[4; 32]).unwrap();
        if index == 5 {
            proof.checkpoint_note = sign(&checkpoint(size).to_text(), &[&witness, &checker.signer]).unwrap();
        }
        let said = checker.inclusion(&entry(index), &proof.to_string());
        assert_eq!(said, Ok(format!("OK: entry {index} is in the tree of {size}")));
        assert!(checker.inclusion(&entry(index + 1), &proof.to_string()).is_err());
        let text = proof.to_string();
        let moved = text.replace(&format!("index {index}\n"), &format!("index {}\n", index + 1));
        assert!(checker.inclusion(&entry(index), &moved).is_err());
        let grown = text.replace(&format!("\n{size}\n"), &format!("\n{}\n", size + 1));
        assert!(checker.inclusion(&entry(index), &grown).unwrap_err().contains("invalid signature"));
    }
}

#[test]
fn consistency_proofs_convince_another_program() {
    let checker = Checker::build();
    for (first, second) in [(1, 1), (1, 8), (2, 5), (4, 7), (6, 8), (6, 7), (255, 257), (700, 1000)] {
        let proof = consistency_proof(first, second, &LeafHashes(&leaves(second))).unwrap();
        let [old, new] = [first, second].map(|size| checkpoint(size).sign(&checker.signer).unwrap());
        let said = checker.consistency(&old, &new, &proof);
        assert_eq!(said, Ok(format!("OK: the tree of {second} continues the tree of {first}")));
        let other = Checkpoint { root: leaf_hash(b"another past"), ..checkpoint(first) };
        let other = other.sign(&checker.signer).unwrap();
        assert!(checker.consistency(&other, &new, &proof).is_err());
        let padded = [proof.as_slice(), &[[0; 32]]].concat();
        assert!(checker.consistency(&old, &new, &padded).is_err());
    }
}

/// A folder written by `verify --public`, of more than one full tile and grown once, read by the tile reader of
/// Go's checksum database (golang.org/x/mod/sumdb/tlog) and by `scripts/read_public.py`.
#[test]
fn a_folder_of_leaves_convinces_other_programs() {
    let check = GoCheck::build();
    let mut small = common::Small::new(64 << 10, 1);
    let dir = check.folder.path().join("public");
    let (disk, key) = (small.world.disk.clone(), small.practice.place.key.clone());
    let ledger = small.root().join("ledger");
    let write = || inkfast::verify::public::write(&*disk, &ledger, &key, &dir).unwrap();
    for n in 0..250 {
        small.say(0, &format!("before {n}"));
    }
    let before = write().leaves;
    let old = check.write("older", &std::fs::read(dir.join("checkpoint")).unwrap());
    for n in 0..300 {
        small.say(0, &format!("after {n}"));
    }
    let after = write().leaves;
    assert!(after > 512 && before < 512);
    let vkey = key.to_string();
    let asked = || [OsString::from("tiles"), vkey.clone().into(), dir.clone().into(), old.clone().into()];
    let said = check.says(asked());
    let right =
        format!("OK: {after} records are in the tree of {after}, which continues the tree of {before}");
    assert_eq!(said, Ok(right));
    let again = || outside::python("scripts/read_public.py", [OsString::from(&vkey), dir.clone().into()]);
    assert_eq!(again().out.trim_end(), format!("{after} leaves, as the checkpoint says"));
    // Each file bent by one bit is refused by one of them at least; a bent leaf by both.
    for name in ["tile/entries/000", "tile/0/001", "tile/1/000.p/2"] {
        let good = std::fs::read(dir.join(name)).unwrap();
        let mut bent = good.clone();
        let middle = bent.len() / 2;
        bent[middle] ^= 1;
        std::fs::write(dir.join(name), &bent).unwrap();
        assert!(check.says(asked()).is_err(), "{name}");
        assert_eq!(again().code, 1, "{name}");
        std::fs::write(dir.join(name), &good).unwrap();
    }
    assert!(check.says(asked()).is_ok());
}
