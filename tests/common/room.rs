//! A practice run by the real commands, in this process, with a clock the test sets: what a person types is
//! parsed, asked, recorded and shown exactly as by the program.

use super::{PASSPHRASE, copy_folder, moment};
use inkfast::cli::app;
use inkfast::cli::exit::Exit;
use inkfast::cli::prompt::ScriptedAsker;
use inkfast::practice::setup::{Setup, init};
use inkfast::record::kinds::Day;
use inkfast::record::kinds::register::{RegisterOpened, Staff};
use inkfast::record::moment::parse_date;
use inkfast::record::vocab::Technique;
use inkfast::world::{SetClock, World};
use serde_json::Value;
use std::cell::RefCell;
use std::path::PathBuf;
use std::sync::Arc;

/// A practice in a temporary folder.
pub struct Room {
    pub dir: tempfile::TempDir,
    pub clock: Arc<SetClock>,
    pub world: World,
    /// Whoever types, and the file with their passphrase.
    who: RefCell<(String, PathBuf)>,
    /// Where that is.
    station: RefCell<String>,
}

/// What a command ended with, and everything it showed.
pub struct Shown {
    pub exit: Exit,
    pub out: String,
    pub said: String,
}

impl Shown {
    pub fn code(&self) -> u8 {
        self.exit.code()
    }

    /// Result and remarks together.
    pub fn all(&self) -> String {
        format!("{}{}", self.out, self.said)
    }
}

impl Room {
    /// The owner alone, with the example rules adopted, on 3 October 2022.
    pub fn new() -> Room {
        Room::made().0
    }

    /// The same, with what stands on the recovery sheet in `recovery.txt`.
    pub fn with_sheet() -> Room {
        let (room, recovery) = Room::made();
        room.write("recovery.txt", &format!("{}\n", recovery.to_text().as_str()));
        room
    }

    fn made() -> (Room, inkfast::seal::age_file::Identity) {
        let dir = tempfile::tempdir().unwrap();
        let clock = Arc::new(SetClock::new(moment("2022-10-03T08:10:00-04:00")));
        let world = World::with_clock(clock.clone());
        let super::Data::RegisterOpened(practice) = super::example_data("register-opened") else { panic!() };
        let super::Data::Staff(owner) = super::example_data("staff") else { panic!() };
        let (practice, mut owner): (RegisterOpened, Staff) = (*practice, *owner);
        owner.code = "IV".to_string();
        owner.name = "Ingrith Valsamo".to_string();
        owner.initials = "IV".to_string();
        owner.sex = None;
        owner.licence_no = Some("LM-C-0417".to_string());
        owner.licence_last_day = Some(day("2099-12-31"));
        owner.on_roster_last_day = None;
        owner.techniques_permitted =
            Technique::WORDS.iter().filter_map(|w| Technique::from_word(w)).collect();
        let mut setup = Setup::new(&dir.path().join("store"), practice, owner, PASSPHRASE);
        setup.outside = Some("../outside".to_string());
        setup.work = 4;
        let recovery = init(&world, setup).unwrap().recovery;
        let pw = dir.path().join("pw");
        let room = Room {
            dir,
            clock,
            world,
            who: RefCell::new(("IV".to_string(), pw)),
            station: RefCell::new("desk".to_string()),
        };
        room.write("pw", &format!("{PASSPHRASE}\n"));
        room.write("rules.toml", inkfast::record::rulebook::EXAMPLE);
        room.ok(&["rules", "adopt", &room.path("rules.toml").display().to_string()]);
        (room, recovery)
    }

    /// A room of its own that goes on from a copy of another's folder, at this moment.
    pub fn going_on_from(folder: &std::path::Path, now: &str) -> Room {
        let dir = tempfile::tempdir().unwrap();
        copy_folder(folder, dir.path());
        let clock = Arc::new(SetClock::new(moment(now)));
        let pw = dir.path().join("pw");
        let world = World::with_clock(clock.clone());
        let who = RefCell::new(("IV".to_string(), pw));
        Room { dir, clock, world, who, station: RefCell::new("desk".to_string()) }
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    /// Writes a file that only its owner reads.
    pub fn write(&self, name: &str, words: &str) {
        use std::os::unix::fs::PermissionsExt;
        std::fs::write(self.path(name), words).unwrap();
        std::fs::set_permissions(self.path(name), std::fs::Permissions::from_mode(0o600)).unwrap();
    }

    /// From now on another person types.
    pub fn who(&self, code: &str, passphrase: &str) {
        let file = format!("pw-{code}");
        self.write(&file, &format!("{passphrase}\n"));
        *self.who.borrow_mut() = (code.to_string(), self.path(&file));
    }

    /// From now on people type at this station.
    pub fn station(&self, station: &str) -> &Room {
        *self.station.borrow_mut() = station.to_string();
        self
    }

    /// Sets the clock.
    pub fn at(&self, when: &str) -> &Room {
        self.clock.set(moment(when));
        self
    }

    /// Runs a command as typed, with the answers a person gives; none given: nobody is at the terminal.
    pub fn typed(&self, args: &[&str], answers: Option<&[&str]>) -> Shown {
        let mut words: Vec<String> = vec!["inkfast".into()];
        words.extend(args.iter().map(|a| (*a).to_string()));
        let store = self.path("store").display().to_string();
        let (who, pw) = self.who.borrow().clone();
        let pw = pw.display().to_string();
        let no_store = ["reckon", "verify", "demo"].contains(&args[0])
            || args.starts_with(&["slip", "witness"])
            || args.starts_with(&["custody", "take-over"])
            || args.starts_with(&["rules", "example"])
            || args.starts_with(&["rules", "check"]);
        if args[0] != "reckon" {
            words.extend(["--store".into(), store]);
        }
        if !no_store {
            words.extend(["--as".into(), who, "--passphrase-file".into(), pw]);
            if !args.contains(&"--station") {
                words.extend(["--station".into(), self.station.borrow().clone()]);
            }
        }
        let matches = match app::command().try_get_matches_from(&words) {
            Ok(matches) => matches,
            Err(error) => {
                return Shown { exit: Exit::BadInput, out: String::new(), said: error.to_string() };
            }
        };
        let mut asker = match answers {
            Some(answers) => ScriptedAsker::new(answers.iter().copied()),
            None => ScriptedAsker::nobody(),
        };
        let mut out = Vec::new();
        let exit = app::run(&matches, self.world.clone(), &mut asker, &mut out);
        Shown { exit, out: String::from_utf8(out).unwrap(), said: asker.shown() }
    }

    /// Runs a command with nobody at the terminal.
    pub fn run(&self, args: &[&str]) -> Shown {
        self.typed(args, None)
    }

    /// Runs a command that must be done.
    pub fn ok(&self, args: &[&str]) -> String {
        let shown = self.run(args);
        assert_eq!(shown.code(), 0, "{args:?}\n{}", shown.all());
        shown.out
    }

    /// Runs a command that must be done, with its result as JSON.
    pub fn json(&self, args: &[&str]) -> Value {
        let args: Vec<&str> = args.iter().copied().chain(["--json"]).collect();
        serde_json::from_str(&self.ok(&args)).unwrap()
    }

    /// The number of the entry a recording command made.
    pub fn entry(&self, args: &[&str]) -> u64 {
        self.json(args)["entry"].as_u64().unwrap()
    }

    /// Opens the chart of a grown patient who decides for themselves.
    pub fn patient(&self, chart: &str, name: &str, born: &str) {
        self.ok(&[
            "patient",
            "open",
            "--chart-no",
            chart,
            "--name",
            name,
            "--born",
            born,
            "--second-identifier",
            "telephone",
            "--identifier",
            "555 0112",
            "--no-emergency-contact-because",
            "wants none",
            "--seen",
            "licence-card,birth-date",
            "--privacy-notice",
            "given",
            "--looked-for-same-name",
            "yes",
        ]);
    }

    /// The printed record of a chart, as its words stand on the page: tags left out, spaces joined.
    pub fn printed(&self, chart: &str) -> String {
        let page = self.path("page.html");
        let _ = std::fs::remove_file(&page);
        let file = page.display().to_string();
        self.ok(&["print", chart, "--why", "review", "--html", &file]);
        words_of(&std::fs::read_to_string(&page).unwrap())
    }

    /// What `may` answers: the exit code, and the words.
    pub fn may(&self, chart: &str, technique: &str, region: &str, side: &str, more: &[&str]) -> Shown {
        let asked =
            ["may", chart, "--technique", technique, "--region", region, "--side", side, "--why", "visit"];
        let words: Vec<&str> = asked.iter().chain(more).copied().collect();
        self.run(&words)
    }

    /// A copy of the store and of what lies outside it.
    pub fn copy(&self) -> tempfile::TempDir {
        let copy = tempfile::tempdir().unwrap();
        copy_folder(self.dir.path(), copy.path());
        copy
    }
}

fn day(text: &str) -> Day {
    Day(parse_date(text).unwrap())
}

/// The words of a page, as they are read.
fn words_of(html: &str) -> String {
    let body = html.split_once("<body").map_or(html, |(_, body)| body);
    let (mut text, mut inside) = (String::new(), true);
    for c in body.chars() {
        match c {
            '<' => inside = true,
            '>' if inside => {
                inside = false;
                text.push(' ');
            }
            _ if inside => {}
            c => text.push(c),
        }
    }
    let plain = text
        .replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&quot;", "\"")
        .replace("&#39;", "'")
        .replace("&nbsp;", " ")
        .replace("&amp;", "&");
    plain.split_whitespace().collect::<Vec<_>>().join(" ")
}
