use super::*;
use crate::record::examples::example;
use crate::seal::note::Signer;
use crate::verify::members::Member;

const LEDGER: &str = "ledger-7f3a";
const CHART: &str = "4f1c9e02ab37d85560e1f2a3b4c5d6e7";

fn ledger_key() -> Signer {
    Signer::from_seed(LEDGER, &[3; 32]).unwrap()
}

fn author() -> Signer {
    Signer::from_seed("TR", &[4; 32]).unwrap()
}

fn manifest() -> Manifest {
    Manifest {
        inkfast_package: 1,
        ledger: LEDGER.into(),
        checkpoint_key: ledger_key().verifier().to_string(),
        chart: CHART.into(),
        release: 9,
        made: "2025-09-22T11:00:00-04:00".into(),
        made_by: "TR".into(),
        entries: vec![],
        keys: vec![],
        files: vec![],
        span: None,
        differences: None,
    }
}

/// A leaf over this record, with this number.
fn leaf_of(record: &Record, seq: u64) -> Leaf {
    Leaf {
        v: 1,
        ledger: record.ledger.clone(),
        seq,
        prev: (seq > 1).then(|| hex(&[1; 32])),
        chart: record.chart.clone(),
        chart_seq: record.chart.as_ref().map(|_| 1),
        chart_prev: None,
        kind: record.kind.clone(),
        written: record.written,
        author: record.author.code.clone(),
        body: hex(&[2; 32]),
        size: 1,
        commit: hex(&commitment(&[7; 32], &record.to_bytes().unwrap())),
    }
}

fn with(parts: &[(&str, Vec<u8>)]) -> Members {
    let mut members = Members::default();
    for (name, bytes) in parts {
        let member =
            Member { size: bytes.len() as u64, blake3: [0; 32], sha256: [0; 32], bytes: bytes.clone() };
        members.by_name.insert(name.to_string(), member);
    }
    members
}

fn found(checker: &Checker<'_>) -> Vec<(FindingId, Where)> {
    checker.findings.iter().map(|f| (f.id, f.place.clone())).collect()
}

#[test]
fn a_thousand_findings_are_named_and_the_rest_are_counted() {
    let members = Members::default();
    for (all, named, counted) in [(999, 999, 0), (1_000, 1_000, 0), (1_003, 1_000, 3)] {
        let mut checker = Checker::new(&members);
        (0..all).for_each(|_| checker.find(FindingId::ProofBroken, Where::default()));
        let report = checker.report(None, false, OutsideReport::default());
        assert_eq!((report.findings.len(), report.more_findings), (named, counted));
        assert!(!report.sound);
    }
}

/// What was sealed says itself what it is (DESIGN.md): a record that was sealed under another leaf is named.
#[test]
fn a_record_whose_head_is_not_that_of_its_leaf_is_named_whichever_part_differs() {
    let mut record = example("contact");
    (record.ledger, record.chart) = (LEDGER.into(), Some(CHART.into()));
    let opening = format!("{}\n", hex(&[7; 32])).into_bytes();
    let members = with(&[
        ("entries/000003.record.json", record.to_bytes().unwrap()),
        ("entries/000003.opening", opening),
    ]);
    let judged = |bend: fn(&mut Leaf)| {
        let mut leaf = leaf_of(&record, 8);
        bend(&mut leaf);
        let mut checker = Checker::new(&members);
        checker.record("entries/000003", &leaf);
        found(&checker)
    };
    let at = |kind: &str| Where {
        file: Some("entries/000003".into()),
        seq: Some(8),
        kind: Some(kind.into()),
        ..Where::default()
    };
    assert_eq!(judged(|_| ()), []);
    assert_eq!(judged(|leaf| leaf.kind = "visit".into()), [(FindingId::RecordHead, at("visit"))]);
    let elsewhere: [fn(&mut Leaf); 4] = [
        |leaf| leaf.ledger = "ledger-x".into(),
        |leaf| leaf.chart = None,
        |leaf| leaf.written = Moment::EPOCH,
        |leaf| leaf.author = "HL".into(),
    ];
    for bend in elsewhere {
        assert_eq!(judged(bend), [(FindingId::RecordHead, at("contact"))]);
    }
    assert_eq!(judged(|leaf| leaf.commit = hex(&[0; 32])), [(FindingId::RecordChanged, at("contact"))]);
}

/// The entry's number is said by the list, by the leaf and by its place in the tree: FORMAT.md, "The leaf's index in
/// the tree is one less". And the proof is under the checkpoint of the package, no other of the same ledger.
#[test]
fn a_proof_counts_where_list_leaf_and_tree_give_one_number_under_the_packages_checkpoint() {
    let (key, record) = (ledger_key(), Record { chart: Some(CHART.into()), ..example("contact") });
    let judged = |in_leaf: u64, listed: u64, size: u64, bend: fn(&mut Leaf), keys: bool| -> Vec<FindingId> {
        let mut leaf = Leaf { ledger: LEDGER.into(), ..leaf_of(&record, in_leaf) };
        bend(&mut leaf);
        let bytes = leaf.to_note(&[&author()]).unwrap();
        // The only leaf of its tree: at index 0, whatever number it gives itself.
        let checkpoint = Checkpoint { origin: LEDGER.into(), size: 1, root: leaf_hash(&bytes) };
        let note = checkpoint.sign(&key).unwrap();
        let proof =
            TlogProof { index: 0, hashes: vec![], extra: None, checkpoint_note: note.clone() }.to_string();
        let members = with(&[("e.leaf", bytes), ("e.tlog-proof", proof.into_bytes())]);
        let mut checker = Checker::new(&members);
        let packages = Checkpoint { size, ..checkpoint };
        checker.checkpoint = Some((packages, Note::parse(note.as_bytes()).unwrap()));
        checker.entry("e", listed, &manifest(), key.verifier(), keys);
        found(&checker).into_iter().map(|(id, _)| id).filter(|id| *id != FindingId::SignerNotListed).collect()
    };
    let right = |_: &mut Leaf| ();
    let none: [FindingId; 0] = [];
    assert_eq!(judged(1, 1, 1, right, false), none);
    assert_eq!(judged(2, 2, 1, right, false), [FindingId::ProofBroken], "another place in the tree");
    assert_eq!(judged(2, 1, 1, right, false), [FindingId::ProofBroken], "another number in the leaf");
    assert_eq!(judged(1, 2, 1, right, false), [FindingId::ProofBroken], "another number in the list");
    assert_eq!(judged(1, 1, 2, right, false), [FindingId::ProofBroken], "another checkpoint");
    // Of another chart, or of another ledger: either is enough. A list of keys is in no chart.
    let other_chart = |leaf: &mut Leaf| leaf.chart = Some(CHART.replace('4', "5"));
    let other_ledger = |leaf: &mut Leaf| leaf.ledger = "ledger-x".into();
    let no_chart = |leaf: &mut Leaf| (leaf.chart, leaf.chart_seq) = (None, None);
    assert_eq!(judged(1, 1, 1, other_chart, false), [FindingId::OtherChart]);
    assert_eq!(judged(1, 1, 1, other_ledger, false), [FindingId::OtherChart]);
    assert_eq!(judged(1, 1, 1, other_ledger, true), [FindingId::OtherChart]);
    assert_eq!(judged(1, 1, 1, no_chart, true), none);
}

/// Who may sign is said by the list of keys. One that does not hold itself lists nobody.
#[test]
fn a_list_of_keys_that_is_not_shown_to_be_in_the_ledger_lists_nobody() {
    let mut record = example("keys");
    let lines = record.data["staff"].as_array_mut().unwrap();
    lines.retain(|line| line["code"] == "TR");
    lines[0]["vkey"] = author().verifier().to_string().into();
    record.data["roles"] = serde_json::json!([]);
    let members = with(&[("keys/5.record.json", record.to_bytes().unwrap())]);
    // However much was found before.
    for before in [0, 1, 2_500] {
        let mut checker = Checker::new(&members);
        (0..before).for_each(|_| checker.find(FindingId::ProofBroken, Where::default()));
        checker.keys_entry(5, &manifest(), ledger_key().verifier());
        assert!(checker.book.staff().is_empty(), "{before} findings before");
        assert!(checker.ids.contains(&FindingId::MemberMissing));
        let Ok(Data::Keys(keys)) = record.read_data() else { panic!() };
        assert_eq!(checker.book.take(&keys), Some(()), "the list itself is in order");
    }
}
