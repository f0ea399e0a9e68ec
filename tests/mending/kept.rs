//! Nothing written before is ever gone.

use crate::common::{self, OWNER, Small};
use inkfast::practice::open::Draft;
use inkfast::record::envelope::Record;
use inkfast::record::kinds::Data;
use inkfast::record::moment::Moment;
use proptest::prelude::*;
use serde_json::{Value, json};

/// One thing done to a chart, about an entry chosen by a number.
#[derive(Debug, Clone, Copy)]
enum Act {
    Record,
    Correct(usize),
    Addendum(usize),
    Late(usize),
    Misfiled(usize),
    Withdraw,
}

fn acts() -> impl Strategy<Value = Vec<Act>> {
    let one = prop_oneof![
        3 => Just(Act::Record),
        3 => any::<usize>().prop_map(Act::Correct),
        1 => any::<usize>().prop_map(Act::Addendum),
        1 => any::<usize>().prop_map(Act::Late),
        1 => any::<usize>().prop_map(Act::Misfiled),
        1 => Just(Act::Withdraw),
    ];
    prop::collection::vec(one, 1..10)
}

/// The data of an act on one of the chart's contacts, given with what each says now.
fn data_of(act: Act, step: usize, contacts: &mut [(u64, String)], now: Moment) -> Data {
    let read = |kind: &str, value: Value| Data::read(kind, 1, &value).unwrap();
    let words = format!("words of step {step}");
    let about = |choice: usize| choice % contacts.len();
    match act {
        Act::Record => common::contact_saying(&words),
        Act::Correct(choice) => {
            let index = about(choice);
            let was = std::mem::replace(&mut contacts[index].1, words.clone());
            read(
                "correction",
                json!({"target": contacts[index].0, "field": "/said", "was": was, "is": words,
                "reason": "slip", "care_affected": false, "patient_told": now}),
            )
        }
        Act::Addendum(choice) => {
            read("addendum", json!({"target": contacts[about(choice)].0, "text": words, "learned_at": now}))
        }
        Act::Late(choice) => read(
            "late-entry",
            json!({"target": contacts[about(choice)].0, "text": words,
            "because": "left out", "source": "memory"}),
        ),
        Act::Misfiled(choice) => read(
            "misfiled",
            json!({"entry": contacts[about(choice)].0, "found_at": now,
            "found_by": OWNER, "because": "wrong chart"}),
        ),
        Act::Withdraw => read(
            "withdrawal",
            json!({"said_by": {"role": "self"}, "how": "words",
            "patient_words": words}),
        ),
    }
}

/// The bytes of every segment, without the space laid out ahead at its end.
fn segments(root: &std::path::Path) -> Vec<(String, Vec<u8>)> {
    let mut all: Vec<(String, Vec<u8>)> = std::fs::read_dir(root.join("ledger"))
        .unwrap()
        .map(|file| file.unwrap())
        .filter(|file| file.file_name().to_string_lossy().ends_with(".seg"))
        .map(|file| (file.file_name().to_string_lossy().into_owned(), std::fs::read(file.path()).unwrap()))
        .collect();
    for (_, bytes) in &mut all {
        let end = bytes.iter().rposition(|byte| *byte != 0).map_or(0, |at| at + 1);
        bytes.truncate(end);
    }
    all.sort();
    all
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, failure_persistence: None, ..ProptestConfig::default() })]

    /// CMS Pub. 100-08 ch. 3, 3.3.2.5: amendments must not delete original content. Whatever is done to a chart,
    /// every byte written before is still there and every earlier entry reads as it did.
    #[test]
    fn nothing_written_before_is_ever_gone(acts in acts()) {
        let mut small = Small::new(16 << 10, 1);
        let tag = small.charts[0].clone();
        let first = small.say(0, "first words");
        let mut contacts = vec![(first, "first words".to_string())];
        let root = small.root();
        let mut kept: Vec<(String, Record)> = Vec::new();
        let read_all = |small: &Small| -> Vec<(String, Record)> {
            let all = small.practice.all();
            all.map(|at| small.practice.entry(&at.unwrap()).unwrap()).map(|e| (e.digest, e.record.unwrap())).collect()
        };
        let mut bytes = segments(&root);
        kept.extend(read_all(&small));
        for (step, act) in acts.into_iter().enumerate() {
            small.clock.set(common::moment(common::DAY).plus_seconds(60 * (step as i64 + 1)));
            let now = small.practice.now();
            let data = data_of(act, step, &mut contacts, now);
            let receipt = small.practice.append(Draft::new(Some(&tag), data, now)).unwrap();
            if matches!(act, Act::Record) {
                contacts.push((receipt.seq, format!("words of step {step}")));
            }
            let later = segments(&root);
            for (name, old) in &bytes {
                let new = &later.iter().find(|(other, _)| other == name).unwrap().1;
                prop_assert!(new.starts_with(old), "{name} changed after {act:?}");
            }
            let read = read_all(&small);
            prop_assert_eq!(&read[..kept.len()], &kept[..]);
            prop_assert_eq!(read.len(), kept.len() + 1);
            (bytes, kept) = (later, read);
        }
    }
}
