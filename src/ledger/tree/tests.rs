use super::*;
use proptest::prelude::*;
use std::cell::RefCell;
use std::collections::HashMap;

fn leaves(count: u64) -> Vec<Hash> {
    (0..count).map(|i| leaf_hash(&i.to_be_bytes())).collect()
}

#[test]
fn split_is_the_largest_smaller_power_of_two() {
    let got: Vec<u64> = [2, 3, 4, 5, 8, 9, 1 << 40, (1 << 40) + 1].map(split).to_vec();
    assert_eq!(got, [1, 2, 2, 4, 4, 8, 1 << 39, 1 << 40]);
    assert_eq!(split(u64::MAX), 1 << 63);
}

#[test]
fn the_edge_names_each_subtree_it_completes() {
    let all = leaves(40);
    let mut edge = Frontier::new();
    let mut stored = HashMap::new();
    for (at, leaf) in all.iter().enumerate() {
        edge.push_each(*leaf, |level, index, hash| assert!(stored.insert((level, index), hash).is_none()));
        let size = at as u64 + 1;
        assert_eq!((edge.size(), edge.root()), (size, root(&all[..=at])));
        let read = |level, index| stored.get(&(level, index)).copied().ok_or((level, index));
        assert_eq!(Frontier::read(size, &read).unwrap(), edge);
        assert_eq!(read_root(size, &read).unwrap(), edge.root());
        assert_eq!(Frontier::from_parts(size, edge.hashes().to_vec()), Ok(edge.clone()));
        for index in 0..size {
            assert_eq!(
                inclusion_proof(index, size, &read).unwrap(),
                inclusion_proof(index, size, &LeafHashes(&all)).unwrap()
            );
        }
    }
}

#[test]
fn a_proof_in_a_large_tree_reads_few_hashes() {
    let read = RefCell::new(0);
    let count = |level: u8, index: u64| {
        *read.borrow_mut() += 1;
        Ok::<_, ()>(leaf_hash(&[[level].as_slice(), &index.to_be_bytes()].concat()))
    };
    let size = 1_000_003;
    inclusion_proof(777_777, size, &count).unwrap();
    assert!(*read.borrow() <= 2 * 20, "{}", read.borrow());
    read.replace(0);
    consistency_proof(777_777, size, &count).unwrap();
    assert!(*read.borrow() <= 3 * 20, "{}", read.borrow());
}

#[test]
fn what_can_not_be_read_is_an_error() {
    let read = |_: u8, _: u64| Err::<Hash, _>("gone");
    assert_eq!(inclusion_proof(0, 2, &read), Err(ProveError::Read("gone")));
    assert_eq!(consistency_proof(1, 2, &read), Err(ProveError::Read("gone")));
    assert_eq!(read_root(2, &read), Err(ProveError::Read("gone")));
    let all = leaves(3);
    let outside = TreeError::IndexOutside { index: 1, size: 3 };
    assert_eq!(LeafHashes(&all).read(1, 1), Err(outside));
    assert!(LeafHashes(&all).read(64, 0).is_err());
    assert!(LeafHashes(&all).read(63, u64::MAX).is_err());
}

#[test]
fn impossible_proofs_are_not_made() {
    let all = leaves(4);
    let hashes = LeafHashes(&all);
    let asked = |error| Err(ProveError::Asked(error));
    assert_eq!(inclusion_proof(4, 4, &hashes), asked(TreeError::IndexOutside { index: 4, size: 4 }));
    assert_eq!(inclusion_proof(0, 0, &hashes), asked(TreeError::IndexOutside { index: 0, size: 0 }));
    assert_eq!(consistency_proof(3, 2, &hashes), asked(TreeError::Shrunk { first: 3, second: 2 }));
    assert_eq!(consistency_proof(0, 2, &hashes), asked(TreeError::EmptyFirst));
    assert_eq!(consistency_proof(0, 0, &hashes), Ok(vec![]));
    assert_eq!(inclusion_proof(0, u64::MAX, &hashes), asked(TreeError::TooLarge(u64::MAX)));
}

#[test]
fn an_edge_with_parts_that_do_not_fit_is_refused() {
    assert_eq!(Frontier::from_parts(3, leaves(1)), Err(TreeError::FrontierForm(3)));
    assert_eq!(Frontier::from_parts(0, leaves(1)), Err(TreeError::FrontierForm(0)));
    assert_eq!(Frontier::from_parts(u64::MAX, leaves(64)), Err(TreeError::TooLarge(u64::MAX)));
    assert_eq!(Frontier::from_parts(0, vec![]).unwrap().root(), empty_root());
}

proptest! {
    #[test]
    fn checking_never_panics(
        first: u64, second: u64,
        path in proptest::collection::vec(any::<Hash>(), 0..70),
        a: Hash, b: Hash,
    ) {
        prop_assert!(verify_inclusion(&a, first, second, &path, &b).is_err());
        prop_assert!(verify_consistency(first, second, &a, &b, &path).is_err());
        prop_assert!(verify_inclusion(&a, first % 100, second % 100, &path, &b).is_err());
        prop_assert!(verify_consistency(first % 100, second % 100, &a, &b, &path).is_err());
    }
}

#[test]
fn the_largest_tree_is_taken_and_none_larger() {
    let parts = vec![[7; 32]; 63];
    assert!(Frontier::from_parts(MAX_SIZE, parts.clone()).is_ok());
    assert_eq!(Frontier::from_parts(MAX_SIZE + 1, vec![[7; 32]]), Err(TreeError::TooLarge(MAX_SIZE + 1)));
    assert_eq!(Frontier::from_parts(MAX_SIZE, parts[1..].to_vec()), Err(TreeError::FrontierForm(MAX_SIZE)));
}
