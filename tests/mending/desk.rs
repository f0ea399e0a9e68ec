//! A practice at work: two charts, the example rules, a colleague and a desk, and the real commands.

use crate::common::{OWNER, PASSPHRASE, Small, add, example_data};
use inkfast::cli::app;
use inkfast::cli::exit::Exit;
use inkfast::cli::prompt::ScriptedAsker;
use inkfast::practice::open::Entry;
use inkfast::practice::{rules, staff};
use inkfast::record::envelope::Record;
use inkfast::record::kinds::Data;
use inkfast::record::kinds::register::KeyRole;
use inkfast::record::moment::Moment;
use inkfast::record::rulebook;
use serde_json::Value;

pub const CHART: &str = "PM-0112";
pub const OTHER_CHART: &str = "PM-0113";
/// A colleague who treats and does not keep the records.
pub const COLLEAGUE: &str = "HL";
pub const THEIRS: &str = "seven tin larks";

/// A practice whose clock the test sets, in the zone of this computer: what is typed is read in that.
pub struct Desk {
    pub small: Small,
}

/// A local time as the computer's clock reads it.
pub fn local(text: &str) -> Moment {
    let civil: jiff::civil::DateTime = text.parse().unwrap();
    let found = jiff::tz::TimeZone::system().to_ambiguous_timestamp(civil).compatible().unwrap();
    let offset = jiff::tz::TimeZone::system().to_offset(found);
    Moment::from_unix(found.as_second(), offset.seconds()).unwrap()
}

impl Desk {
    /// Two charts, the example rules, and a colleague.
    pub fn new() -> Desk {
        let mut small = Small::new(1 << 20, 2);
        small.clock.set(local("2024-06-03T08:00"));
        let mut line = match example_data("staff") {
            Data::Staff(line) => *line,
            other => panic!("{other:?}"),
        };
        (line.code, line.name, line.initials) = (COLLEAGUE.into(), "Hesper Lorne".into(), "HL".into());
        line.on_roster_last_day = None;
        staff::add(&mut small.practice, line, vec![KeyRole::Clinical], THEIRS, 4).unwrap();
        let Data::Staff(mut line) = example_data("staff") else { panic!() };
        (line.code, line.name, line.initials) = ("DK".into(), "Odo Marsh".into(), "DK".into());
        (line.role, line.on_roster_last_day) = ("desk".into(), None);
        staff::add(&mut small.practice, *line, vec![KeyRole::Desk], THEIRS, 4).unwrap();
        let adopted = rules::adopt(rulebook::EXAMPLE, &small.practice).unwrap();
        add(&mut small.practice, None, adopted.into()).unwrap();
        small.let_go();
        let desk = Desk { small };
        for (name, secret) in [("pw-TR", PASSPHRASE), ("pw-HL", THEIRS), ("pw-DK", THEIRS)] {
            std::fs::write(desk.file(name), secret).unwrap();
            let mode = std::os::unix::fs::PermissionsExt::from_mode(0o600);
            std::fs::set_permissions(desk.file(name), mode).unwrap();
        }
        desk
    }

    pub fn file(&self, name: &str) -> std::path::PathBuf {
        self.small.dir.path().join(name)
    }

    pub fn at(&self, text: &str) {
        self.small.clock.set(local(text));
    }

    pub fn run(&self, who: &str, mut asker: ScriptedAsker, args: &[&str]) -> (Exit, String) {
        let (root, secret) = (self.small.root(), self.file(&format!("pw-{who}")));
        let head = ["inkfast", "--store", root.to_str().unwrap()];
        let tail = ["--as", who, "--passphrase-file", secret.to_str().unwrap()];
        let typed = head.into_iter().chain(args.iter().copied()).chain(tail);
        let matches = app::command().try_get_matches_from(typed).unwrap_or_else(|e| panic!("{e}"));
        let mut out = Vec::new();
        let exit = app::run(&matches, self.small.world.clone(), &mut asker, &mut out);
        (exit, format!("{}{}", String::from_utf8(out).unwrap(), asker.shown()))
    }

    /// Runs a command that must be done.
    pub fn ok(&self, args: &[&str]) -> String {
        self.done(OWNER, args)
    }

    pub fn done(&self, who: &str, args: &[&str]) -> String {
        let (exit, said) = self.run(who, ScriptedAsker::nobody(), args);
        assert_eq!(exit, Exit::Done, "{args:?}\n{said}");
        said
    }

    /// Runs a command that must be refused, with these words.
    pub fn refused(&self, who: &str, args: &[&str], words: &str) {
        let before = self.entries();
        let (exit, said) = self.run(who, ScriptedAsker::nobody(), args);
        assert!(matches!(exit, Exit::Refused | Exit::BadInput), "{args:?} {exit:?}\n{said}");
        assert!(said.split_whitespace().collect::<Vec<_>>().join(" ").contains(words), "{args:?}\n{said}");
        let new: Vec<String> = self.entries()[before.len()..].iter().map(|e| e.leaf.kind.clone()).collect();
        assert!(new.iter().all(|kind| kind == "access"), "{args:?} recorded {new:?}");
    }

    /// Runs a command and gives the number of the entry it made.
    pub fn entry(&self, args: &[&str]) -> u64 {
        self.entry_by(OWNER, args)
    }

    pub fn entry_by(&self, who: &str, args: &[&str]) -> u64 {
        let args: Vec<&str> = args.iter().copied().chain(["--json"]).collect();
        let said = self.done(who, &args);
        let from = said.find('{').unwrap();
        let mut read = serde_json::Deserializer::from_str(&said[from..]).into_iter::<Value>();
        read.next().unwrap().unwrap()["entry"].as_u64().unwrap()
    }

    pub fn entries(&self) -> Vec<Entry> {
        let practice = self.small.open_as(OWNER, PASSPHRASE).unwrap();
        practice.all().map(|at| practice.entry(&at.unwrap()).unwrap()).collect()
    }

    pub fn record(&self, seq: u64) -> Record {
        let practice = self.small.open_as(OWNER, PASSPHRASE).unwrap();
        practice.entry_by_seq(seq).unwrap().record.unwrap()
    }

    pub fn labels(&self, seq: u64) -> Vec<String> {
        self.record(seq).labels.iter().map(|label| label.word().to_string()).collect()
    }

    pub fn shown(&self, chart: &str) -> String {
        let said = self.ok(&["print", chart, "--why", "review"]);
        said.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    pub fn consent(&self, happened: Option<&str>) -> u64 {
        let mut args = vec![
            "consent",
            CHART,
            "--kind",
            "treatment",
            "--form",
            "written-signed",
            "--wording",
            "F1",
            "--techniques",
            "soft-tissue",
            "--regions",
            "lumbar",
            "--side",
            "both",
            "--explained-by",
            OWNER,
            "--explained-at",
            "now",
            "--given-by",
            "self",
            "--risks",
            "soreness",
        ];
        args.extend(happened.iter().flat_map(|at| ["--happened", at]));
        self.entry(&args)
    }

    pub fn open(&self) -> u64 {
        self.entry(&["visit", "open", CHART, "--room", "room 1", "--identifiers", "full-name,birth-date"])
    }

    pub fn asked(&self, technique: &str, region: &str) {
        self.ok(&[
            "asked",
            CHART,
            "--technique",
            technique,
            "--region",
            region,
            "--side",
            "left",
            "--answer",
            "yes",
        ]);
    }

    pub fn treat(&self, technique: &str, region: &str) {
        self.ok(&[
            "procedure",
            CHART,
            "--technique",
            technique,
            "--region",
            region,
            "--side",
            "left",
            "--response",
            "tolerated",
        ]);
    }

    pub fn sign(&self, found: bool) -> u64 {
        let mut args = vec![
            "sign",
            CHART,
            "--changed",
            "easier since last week",
            "--no-assessment-because",
            "as last time",
            "--advice",
            "keep walking",
            "--watch-for",
            "numbness: call us",
            "--plan",
            "once more next week",
            "--sort",
            "later",
            "--acknowledge-missing",
            "--answer",
            "same-as-last=nothing changed, looked through",
        ];
        if !found {
            args.extend(["--no-findings-because", "not examined today"]);
        }
        self.entry(&args)
    }

    /// One ordinary visit: opened, asked, found, treated, signed. Gives the number of the note.
    pub fn visit(&self, day: &str, consent: bool) -> u64 {
        let at = |time: &str| self.at(&format!("{day}T{time}"));
        at("10:00");
        self.open();
        at("10:05");
        if consent {
            self.consent(None);
        }
        at("10:10");
        self.asked("soft-tissue", "lumbar");
        self.ok(&[
            "finding",
            CHART,
            "--kind",
            "tenderness",
            "--region",
            "lumbar",
            "--side",
            "left",
            "--grade",
            "2",
        ]);
        at("10:20");
        self.treat("soft-tissue", "lumbar");
        at("10:40");
        self.sign(true)
    }
}
