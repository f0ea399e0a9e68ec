//! A small practice for tests: made in a temporary folder, with a clock the test sets.
#![allow(dead_code, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

pub mod archive;
pub mod disk;
pub mod kept;
pub mod reach;
pub mod room;

use inkfast::ledger::write::Receipt;
use inkfast::practice::attach::attach;
use inkfast::practice::chart::open_chart;
use inkfast::practice::open::{Draft, Practice};
use inkfast::practice::place::Place;
use inkfast::practice::session::Session;
use inkfast::practice::setup::{NewStore, Setup, init};
use inkfast::record::envelope::Record;
use inkfast::record::kinds::register::{KeyRole, RegisterOpened, Staff};
use inkfast::record::kinds::{Data, identity::ChartOpened};
use inkfast::record::moment::Moment;
use inkfast::seal::identity::StaffIdentity;
use inkfast::trouble::Outcome;
use inkfast::verify::finding::Report;
use inkfast::verify::store::{StorePaths, Witness, verify};
use inkfast::world::{Disk, SetClock, World};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// The owner's staff code in tests.
pub const OWNER: &str = "TR";
/// The owner's passphrase in tests.
pub const PASSPHRASE: &str = "fourteen hemp lane";

/// The second signer's passphrase in tests.
pub const SECOND: &str = "cheese cellar key";

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

/// When most of what tests record is written.
pub const DAY: &str = "2025-09-22T11:00:00-04:00";

/// A contact with these words: who-and-when, which the desk opens.
pub fn contact_saying(words: &str) -> Data {
    data_with("contact", "said", words)
}

/// A reaction with these words: contents of care.
pub fn reaction_saying(words: &str) -> Data {
    data_with("reaction", "what", words)
}

fn data_with(kind: &str, field: &str, words: &str) -> Data {
    let mut record = example(kind);
    record.data[field] = words.into();
    record.read_data().unwrap()
}

/// The example attachment, which says it is for the desk or not.
pub fn attachment(title: &str) -> inkfast::record::kinds::papers::Attachment {
    let Data::Attachment(mut data) = example_data("attachment") else { panic!() };
    data.title = title.to_string();
    *data
}

/// Adds a record at the time the clock shows.
pub fn add(practice: &mut Practice, chart: Option<&str>, data: Data) -> Outcome<Receipt> {
    let now = practice.now();
    practice.append(Draft::new(chart, data, now))
}

/// Everything longer than the default run: some ten times denser, more rounds.
pub fn long() -> bool {
    std::env::var_os("INKFAST_LONG").is_some()
}

/// How far apart the trials of a sweep are: as usual, denser with `INKFAST_LONG=1`, each with `INKFAST_LONG=every`.
pub fn step(usual: usize, dense: usize) -> usize {
    match std::env::var("INKFAST_LONG") {
        Ok(how) if how == "every" => 1,
        Ok(_) => dense,
        Err(_) => usual,
    }
}

/// Does every trial, on all cores; none may panic.
pub fn each<T: Copy + Sync>(trials: &[T], one: impl Fn(T) + Sync) {
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for core in 0..cores {
            let one = &one;
            // Taken in turn, so that no core is left with the slow ones.
            scope.spawn(move || trials.iter().skip(core).step_by(cores).for_each(|trial| one(*trial)));
        }
    });
}

/// A small generator with a seed, so that what failed can be done again.
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Dice {
        Dice(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }
    pub fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D)
    }
    pub fn below(&mut self, n: u64) -> u64 {
        (self.next() >> 11) % n.max(1)
    }
}

impl Small {
    /// A store with segments of `segment_bytes` and `charts` charts, of two entries each.
    pub fn new(segment_bytes: u64, charts: usize) -> Small {
        Small::on(None, segment_bytes, charts).unwrap()
    }

    /// As [`Small::new`], on another disk.
    pub fn on(disk: Option<Arc<dyn Disk>>, segment_bytes: u64, charts: usize) -> Outcome<Small> {
        let dir = tempfile::tempdir().unwrap();
        let clock = Arc::new(SetClock::new(moment("2022-10-03T08:10:00-04:00")));
        let mut world = World::with_clock(clock.clone());
        if let Some(disk) = disk {
            // The lock is a matter of the real file system, wherever the bytes are.
            std::fs::create_dir_all(dir.path().join("store")).unwrap();
            world.disk = disk;
        }
        let Data::RegisterOpened(practice) = example_data("register-opened") else { panic!() };
        let Data::Staff(owner) = example_data("staff") else { panic!() };
        let (practice, mut owner): (RegisterOpened, Staff) = (*practice, *owner);
        owner.on_roster_last_day = None;
        let mut setup = Setup::new(&dir.path().join("store"), practice, owner, PASSPHRASE);
        setup.outside = Some("../outside".to_string());
        setup.work = 4;
        setup.segment_bytes = segment_bytes;
        let NewStore { practice, recovery } = init(&world, setup)?;
        let mut small = Small { dir, clock, world, practice, recovery, charts: Vec::new() };
        for n in 0..charts {
            small.open_chart(&format!("PM-{:04}", 112 + n));
        }
        small.clock.set(moment(DAY));
        Ok(small)
    }

    /// Adds a contact with these words to the chart of this index.
    pub fn say(&mut self, chart: usize, words: &str) -> u64 {
        let tag = self.charts[chart].clone();
        add(&mut self.practice, Some(&tag), contact_saying(words)).unwrap().seq
    }

    /// Keeps bytes as an attachment of the chart of this index.
    pub fn attach(&mut self, chart: usize, title: &str, bytes: &[u8]) -> u64 {
        let (tag, now) = (self.charts[chart].clone(), self.practice.now());
        attach(&mut self.practice, &tag, &mut &bytes[..], attachment(title), now).unwrap().seq
    }

    /// A copy of the store folder and of the folder outside it.
    pub fn copy(&self) -> tempfile::TempDir {
        let copy = tempfile::tempdir().unwrap();
        copy_folder(self.dir.path(), copy.path());
        copy
    }

    /// Opens the store anew, for reading, as somebody.
    pub fn open_as(&self, code: &str, passphrase: &str) -> Outcome<Practice> {
        open_store(&self.world, &self.root(), code, passphrase)
    }

    /// Lets go of the ledger, so that others may write; opens it anew for reading.
    pub fn let_go(&mut self) {
        let again = self.open_as(OWNER, PASSPHRASE).unwrap();
        self.practice = again;
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

/// Opens a store for reading, as somebody.
pub fn open_store(world: &World, root: &Path, code: &str, passphrase: &str) -> Outcome<Practice> {
    let place = Place::open(world, root, None)?;
    let session = Session::unlock(world, &place, code, passphrase)?;
    Practice::open(world, &place, session, "desk")
}

/// Puts HL on the roster: the desk, who signs beside the owner.
pub fn second_signer(world: &World, root: &Path, owner: &str) {
    let mut practice = open_store(world, root, owner, PASSPHRASE).unwrap();
    let Data::Staff(mut line) = example_data("staff") else { panic!() };
    line.code = "HL".to_string();
    line.name = "Hattie Lorch".to_string();
    line.initials = "HL".to_string();
    line.on_roster_last_day = None;
    inkfast::practice::staff::add(&mut practice, *line, vec![KeyRole::Desk], SECOND, 4).unwrap();
}

/// Whoever signs beside the owner.
pub fn beside(practice: &Practice) -> Outcome<StaffIdentity> {
    Session::unlock(&practice.world, &practice.place, "HL", SECOND).map(|session| session.me)
}

/// Verifies a store folder the way the command does.
pub fn check(root: &Path) -> Report {
    check_with(&World::real(), root, &[]).unwrap()
}

/// Verifies a store on any disk, with slips.
pub fn check_with(world: &World, root: &Path, witnesses: &[Witness]) -> Outcome<Report> {
    let place = Place::open(world, root, None)?;
    let paths = StorePaths { root, outside: &place.outside, key: &place.key };
    verify(&*world.disk, &paths, witnesses, &mut |_| ())
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
