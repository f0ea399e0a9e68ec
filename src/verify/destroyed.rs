//! Charts that were destroyed by order: what is gone of them is no fault, and what is still there is said. Read from
//! open entries alone; no key is needed for it.

use super::finding::{Finding, FindingId, Where};
use crate::record::kinds::disposing::{ChartDisposed, DisposalState};
use crate::record::kinds::register::FileRemoved;
use crate::seal::keybook::KeyBook;
use crate::seal::note::Note;
use crate::world::Disk;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// What the ledger orders to be destroyed.
#[derive(Debug, Default)]
pub(super) struct Orders {
    /// Tag of each chart, with the number of the order and of the entry that says it is done.
    charts: BTreeMap<String, (u64, Option<u64>)>,
    /// Digest of each file, with the number of the entry that orders it.
    files: BTreeMap<String, u64>,
}

impl Orders {
    /// Takes in an order, or that it is done. An order that two listed people did not sign is none; whether their
    /// signatures hold is found with all others.
    pub fn chart(&mut self, data: ChartDisposed, seq: u64, leaf: &[u8], book: &KeyBook) {
        match data.state {
            DisposalState::Ordered if two_listed(leaf, book) => {
                self.charts.entry(data.chart).or_insert((seq, None));
            }
            DisposalState::Ordered => {}
            DisposalState::Done => {
                if let Some((order, done)) = self.charts.get_mut(&data.chart)
                    && data.ordered_by == Some(*order)
                {
                    done.get_or_insert(seq);
                }
            }
        }
    }

    /// Takes in that a file is removed.
    pub fn file(&mut self, data: &FileRemoved, seq: u64) {
        self.files.insert(data.sealed_digest.clone(), seq);
    }

    /// Leaves out what lies behind the durable end.
    pub fn until(&mut self, end: u64) {
        self.charts.retain(|_, (order, _)| *order <= end);
        for (_, done) in self.charts.values_mut() {
            *done = done.filter(|seq| *seq <= end);
        }
        self.files.retain(|_, seq| *seq <= end);
    }

    /// How many charts.
    pub fn len(&self) -> usize {
        self.charts.len()
    }

    /// The number of the entry that orders the file of this name to be destroyed.
    pub fn of_file(&self, name: &str) -> Option<u64> {
        let digest = name.split_once(".age").map_or(name, |(digest, _)| digest);
        self.files.get(digest).copied()
    }

    /// Names each chart of which something is left, or whose destruction nobody recorded as done.
    pub fn check(&self, disk: &dyn Disk, root: &Path, findings: &mut Vec<Finding>) {
        let names = disk.list(&root.join("keys")).unwrap_or_default();
        for (tag, (order, done)) in &self.charts {
            let mine = format!("chart-{tag}");
            let left = names.iter().filter(|name| name.starts_with(&mine));
            let place = |file: Option<String>| Where {
                file,
                seq: Some(*order),
                chart: Some(tag.clone()),
                ..Where::default()
            };
            let before = findings.len();
            findings.extend(left.map(|name| {
                Finding::new(FindingId::DisposalUnfinished, place(Some(format!("keys/{name}"))))
            }));
            if findings.len() == before && done.is_none() {
                findings.push(Finding::new(FindingId::DisposalUnfinished, place(None)));
            }
        }
    }
}

/// True where lines of two listed people stand on a leaf.
fn two_listed(leaf: &[u8], book: &KeyBook) -> bool {
    let Ok(note) = Note::parse(leaf) else { return false };
    let listed = |name: &str, id: [u8; 4]| {
        book.staff().iter().any(|line| line.verifier.name() == name && line.verifier.key_id() == id)
    };
    let names: BTreeSet<&str> =
        note.signatures.iter().filter(|s| listed(&s.name, s.key_id)).map(|s| s.name.as_str()).collect();
    names.len() >= 2
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::world::RealDisk;

    fn removed(digest: &str) -> FileRemoved {
        let record = crate::record::examples::example("file-removed");
        let mut data: FileRemoved = serde_json::from_value(record.data).unwrap();
        data.sealed_digest = digest.to_string();
        data
    }

    #[test]
    fn orders_count_up_to_the_durable_end() {
        let mut orders = Orders::default();
        orders.file(&removed("aa"), 5);
        orders.file(&removed("bb"), 6);
        orders.charts.insert("c1".into(), (5, Some(6)));
        orders.charts.insert("c2".into(), (6, None));
        assert_eq!((orders.len(), orders.of_file("aa.age"), orders.of_file("bb")), (2, Some(5), Some(6)));
        assert_eq!(orders.of_file("cc.age"), None);
        orders.until(6);
        assert_eq!((orders.len(), orders.of_file("bb"), orders.charts["c1"]), (2, Some(6), (5, Some(6))));
        orders.until(5);
        assert_eq!((orders.len(), orders.of_file("aa"), orders.of_file("bb")), (1, Some(5), None));
        assert_eq!(orders.charts["c1"], (5, None), "that it is done is not kept");
        orders.until(4);
        assert_eq!((orders.len(), orders.of_file("aa")), (0, None));
    }

    #[test]
    fn what_is_left_of_a_destroyed_chart_is_named_with_its_order() {
        let root = tempfile::tempdir().unwrap();
        std::fs::create_dir(root.path().join("keys")).unwrap();
        let found = |done: Option<u64>| {
            let mut orders = Orders::default();
            orders.charts.insert("c1".into(), (5, done));
            let mut findings = Vec::new();
            orders.check(&RealDisk, root.path(), &mut findings);
            findings.into_iter().map(|f| (f.id, f.place.file, f.place.seq, f.place.chart)).collect::<Vec<_>>()
        };
        let (id, chart) = (FindingId::DisposalUnfinished, Some("c1".to_string()));
        assert_eq!(found(None), [(id, None, Some(5), chart.clone())], "nobody recorded it as done");
        assert!(found(Some(6)).is_empty());
        std::fs::write(root.path().join("keys/chart-c1.age"), "").unwrap();
        std::fs::write(root.path().join("keys/chart-c2.age"), "").unwrap();
        let left = [(id, Some("keys/chart-c1.age".to_string()), Some(5), chart)];
        assert_eq!(found(None), left);
        assert_eq!(found(Some(6)), left, "said to be done, and still there");
    }

    /// An order needs two listed people. Whoever signs with a key of their own under a listed name is none of them, and
    /// nobody is two.
    #[test]
    fn an_order_counts_with_the_lines_of_two_listed_people() {
        use crate::record::kinds::register::Keys;
        use crate::seal::note::{Signer, sign};
        let of = |name: &str, seed: u8| Signer::from_seed(name, &[seed; 32]).unwrap();
        let (first, second, forged) = (of("IV", 1), of("TR", 2), of("TR", 3));
        let line = |signer: &Signer| {
            serde_json::json!({
                "code": signer.name(), "roles": ["desk"], "recipient": "age1x",
                "vkey": signer.verifier().to_string(), "from": "2022-10-03",
            })
        };
        let keys = serde_json::json!({ "staff": [line(&first), line(&second)], "roles": [] });
        let mut book = KeyBook::default();
        book.take(&serde_json::from_value::<Keys>(keys).unwrap()).unwrap();
        let counts = |signers: &[&Signer]| two_listed(sign("an order\n", signers).unwrap().as_bytes(), &book);
        assert!(counts(&[&first, &second]));
        assert!(!counts(&[&first, &forged]), "a listed name, and another key");
        assert!(!counts(&[&first]));
    }
}
