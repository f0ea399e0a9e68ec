//! Proofs made here, judged by a program that shares no code with this one: `tests/outside/go/check.go`
//! on golang.org/x/mod/sumdb. Run by `scripts/test`, which installs what it needs.
#![cfg(feature = "outside-checks")]
#![allow(clippy::unwrap_used, clippy::panic)] // In a test a panic is the report.

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
