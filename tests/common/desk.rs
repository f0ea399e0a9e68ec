//! A desk: a folder with a store, a runtime folder of its own, and the real program run in it.
#![allow(dead_code)]

use serde_json::Value;
use std::path::PathBuf;
use std::process::{Command, Output, Stdio};
use std::sync::OnceLock;
use std::time::{SystemTime, UNIX_EPOCH};

/// A time zone, as POSIX writes `TZ`, in which it is now between twelve and one: inside opening hours and far
/// from midnight, at whatever hour the tests run. The sign is the other way round there: west is plus.
fn zone_of_midday() -> &'static str {
    static ZONE: OnceLock<String> = OnceLock::new();
    ZONE.get_or_init(|| {
        let now = SystemTime::now().duration_since(UNIX_EPOCH).unwrap().as_secs();
        format!("<mid>{}", (now / 3600 % 24) as i64 - 12)
    })
}

/// A store of its own, where `IV` treats in room 1 and nobody is at a terminal.
pub struct Desk {
    dir: tempfile::TempDir,
}

impl Desk {
    /// Sets up the practice and unlocks it as its owner.
    pub fn set_up() -> Desk {
        let desk = Desk::locked();
        desk.ok(&["unlock", "--as", "IV", "--passphrase-file", "pw"]);
        desk
    }

    /// Sets up the practice; nobody is unlocked.
    pub fn locked() -> Desk {
        let desk = Desk { dir: tempfile::tempdir().unwrap() };
        std::fs::create_dir(desk.path("run")).unwrap();
        desk.secret("pw", "fourteen hemp lane\n");
        #[rustfmt::skip]
        desk.ok(&[
            "init", "--new-passphrase-file", "pw", "--code", "IV", "--name", "Ingrith Valsamo",
            "--role", "chiropractor", "--techniques", "examination,soft-tissue,mobilization,thrust,intraoral",
            "--licence", "LM-C-0417", "--licence-last-day", "2099-12-31", "--practice", "The Ropewalk Rooms",
            "--address", "14 Hemp Lane, Pellmere", "--territory", "Lower Marl",
            "--clock", "UTC-5, summer time -4", "--example-rules",
        ]);
        desk
    }

    /// Writes a file that nobody else reads.
    pub fn secret(&self, name: &str, words: &str) {
        std::fs::write(self.path(name), words).unwrap();
        let mine = std::os::unix::fs::PermissionsExt::from_mode(0o600);
        std::fs::set_permissions(self.path(name), mine).unwrap();
    }

    /// Opens a chart for somebody.
    pub fn patient(&self, chart: &str, name: &str, born: &str) {
        #[rustfmt::skip]
        self.ok(&[
            "patient", "open", "--chart-no", chart, "--name", name, "--born", born,
            "--second-identifier", "telephone", "--identifier", chart,
            "--no-emergency-contact-because", "wants none", "--looked-for-same-name", "yes",
            "--seen", "licence-card,birth-date", "--privacy-notice", "given",
        ]);
    }

    /// A path in the folder of the desk.
    pub fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    /// Runs the program in room 1.
    pub fn run(&self, args: &[&str]) -> Output {
        self.run_at("room 1", args)
    }

    /// Runs the program at a station.
    pub fn run_at(&self, station: &str, args: &[&str]) -> Output {
        Command::new(env!("CARGO_BIN_EXE_inkfast"))
            .args(args)
            .current_dir(self.dir.path())
            .env("INKFAST_STORE", "store")
            .env("INKFAST_STATION", station)
            .env("TZ", zone_of_midday())
            .env("XDG_STATE_HOME", self.path("state"))
            .env("XDG_RUNTIME_DIR", self.path("run"))
            .env_remove("INKFAST_AS")
            .env_remove("INKFAST_OUTSIDE")
            .stdin(Stdio::null())
            .output()
            .unwrap()
    }

    /// Runs a command that must be done; what it printed.
    pub fn ok(&self, args: &[&str]) -> String {
        let output = self.run(args);
        assert_eq!(code(&output), 0, "{args:?}\n{}", text(&output));
        String::from_utf8(output.stdout).unwrap()
    }

    /// Runs a command that must be done, with its result as JSON.
    pub fn json(&self, args: &[&str]) -> Value {
        serde_json::from_str(&self.ok(&[args, &["--json"]].concat())).unwrap()
    }

    /// The number of the entry a recording command made.
    pub fn entry(&self, args: &[&str]) -> String {
        self.json(args)["entry"].as_u64().unwrap().to_string()
    }

    /// The data of an entry.
    pub fn data(&self, chart: &str, entry: &str) -> Value {
        self.record(chart, entry)["data"].clone()
    }

    /// The record of an entry.
    pub fn record(&self, chart: &str, entry: &str) -> Value {
        self.json(&["print", chart, "--entry", entry, "--why", "review"])[0]["record"].clone()
    }

    /// How many entries a chart has, its openings left out.
    pub fn entries(&self, chart: &str) -> usize {
        let all = self.json(&["print", chart, "--why", "review"]);
        all.as_array().unwrap().iter().filter(|e| e["kind"] != "access").count()
    }

    /// Runs a command that must end with this exit code and say these words.
    pub fn refused(&self, exit: i32, args: &[&str], words: &str) -> String {
        let output = self.run(args);
        let said = text(&output);
        assert_eq!(code(&output), exit, "{args:?}\n{said}");
        assert!(said.contains(words), "{args:?}\n{said}");
        assert!(!said.contains("panicked"), "{said}");
        said
    }
}

impl Drop for Desk {
    fn drop(&mut self) {
        let _ = self.run(&["lock"]);
    }
}

/// The exit code.
pub fn code(output: &Output) -> i32 {
    output.status.code().unwrap_or(-1)
}

/// Everything it printed.
pub fn text(output: &Output) -> String {
    format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr))
}
