//! A small practice for tests: made in a temporary folder, with a clock the test sets.
#![allow(dead_code, clippy::unwrap_used, clippy::panic)] // In a test a panic is the report.

use inkfast::practice::chart::open_chart;
use inkfast::practice::open::{Draft, Practice};
use inkfast::practice::place::Place;
use inkfast::practice::setup::{NewStore, Setup, init};
use inkfast::record::envelope::Record;
use inkfast::record::kinds::{Data, identity::ChartOpened, register::RegisterOpened, register::Staff};
use inkfast::record::moment::Moment;
use inkfast::verify::finding::Report;
use inkfast::verify::store::{StorePaths, verify};
use inkfast::world::{SetClock, World};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// The owner's passphrase in tests.
pub const PASSPHRASE: &str = "fourteen hemp lane";

/// A store in a temporary folder.
pub struct Small {
    pub dir: tempfile::TempDir,
    pub clock: Arc<SetClock>,
    pub world: World,
    pub practice: Practice,
    pub recovery: inkfast::seal::age_file::Identity,
    pub charts: Vec<String>,
}

/// A record from the examples of every kind.
pub fn example(kind: &str) -> Record {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("tests/data/records/{kind}.json"));
    let value: serde_json::Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    Record::from_bytes(&serde_json::to_vec(&value).unwrap()).unwrap()
}

/// The data of an example.
pub fn example_data(kind: &str) -> Data {
    example(kind).read_data().unwrap()
}

pub fn moment(text: &str) -> Moment {
    Moment::parse(text).unwrap()
}

impl Small {
    /// A store with segments of `segment_bytes` and `charts` charts, of two entries each.
    pub fn new(segment_bytes: u64, charts: usize) -> Small {
        let dir = tempfile::tempdir().unwrap();
        let clock = Arc::new(SetClock::new(moment("2022-10-03T08:10:00-04:00")));
        let world = World::with_clock(clock.clone());
        let Data::RegisterOpened(practice) = example_data("register-opened") else { panic!() };
        let Data::Staff(owner) = example_data("staff") else { panic!() };
        let (practice, owner): (RegisterOpened, Staff) = (*practice, *owner);
        let mut setup = Setup::new(&dir.path().join("store"), practice, owner, PASSPHRASE);
        setup.outside = Some("../outside".to_string());
        setup.work = 4;
        setup.segment_bytes = segment_bytes;
        let NewStore { practice, recovery } = init(&world, setup).unwrap();
        let mut small = Small { dir, clock, world, practice, recovery, charts: Vec::new() };
        for n in 0..charts {
            small.open_chart(&format!("PM-{:04}", 112 + n));
        }
        small
    }

    pub fn root(&self) -> PathBuf {
        self.dir.path().join("store")
    }

    pub fn open_chart(&mut self, number: &str) -> String {
        let Data::ChartOpened(data) = example_data("chart-opened") else { panic!() };
        let mut data: ChartOpened = *data;
        data.chart_no = number.to_string();
        let now = self.practice.now();
        let (tag, _) = open_chart(&mut self.practice, data, now).unwrap();
        self.add(Some(&tag), "contact");
        self.charts.push(tag.clone());
        tag
    }

    /// Adds an example record.
    pub fn add(&mut self, chart: Option<&str>, kind: &str) -> u64 {
        let record = example(kind);
        self.clock.set(record.written);
        let draft = Draft::new(chart, record.read_data().unwrap(), record.happened.start);
        self.practice.append(draft).unwrap().seq
    }
}

/// Verifies a store folder the way the command does.
pub fn check(root: &Path) -> Report {
    let world = World::real();
    let place = Place::open(&world, root, None).unwrap();
    let paths = StorePaths { root, outside: &place.outside, key: &place.key };
    verify(&*world.disk, &paths, &[], &mut |_| ()).unwrap()
}

/// The ids of a report's findings.
pub fn ids(report: &Report) -> Vec<&str> {
    report.findings.iter().map(|f| f.id.as_str()).collect()
}

/// Copies a folder.
pub fn copy_folder(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for item in std::fs::read_dir(from).unwrap() {
        let item = item.unwrap();
        let target = to.join(item.file_name());
        if item.file_type().unwrap().is_dir() {
            copy_folder(&item.path(), &target);
        } else {
            std::fs::copy(item.path(), target).unwrap();
        }
    }
}
