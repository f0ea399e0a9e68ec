//! The keeper with real processes: the short number, idle time, the end of a login or a roster line, and
//! a locked desk that still adds without reading.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

use serde_json::Value;
use std::io::{Read, Write};
use std::os::unix::fs::PermissionsExt;
use std::os::unix::net::UnixStream;
use std::path::PathBuf;
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

const CHART: &str = "PM-0112";
const PATIENT: &str = "Bettony Craske";

/// A folder with a store, a runtime folder of its own, and the commands run in it.
struct Desk {
    dir: tempfile::TempDir,
}

impl Desk {
    /// A store with one chart in which a visit is open; nothing is unlocked.
    fn set_up() -> Desk {
        let desk = Desk { dir: tempfile::tempdir().unwrap() };
        for (file, words) in
            [("pw", "fourteen hemp lane"), ("pin", "4711"), ("wrong", "4712"), ("long", "47110")]
        {
            std::fs::write(desk.path(file), format!("{words}\n")).unwrap();
        }
        desk.ok("init --new-passphrase-file pw --code IV --name Ingrith_Valsamo --role chiropractor \
                 --techniques examination,soft-tissue --licence LM-C-0417 --licence-last-day 2099-12-31 \
                 --practice The_Ropewalk_Rooms --address 14_Hemp_Lane --territory Lower_Marl --clock UTC-5 \
                 --example-rules");
        desk.ok("unlock --as IV --passphrase-file pw");
        desk.ok("patient open --chart-no PM-0112 --name Bettony_Craske --born 1988-07-23 \
                 --second-identifier telephone --identifier 555_0112 --no-emergency-contact-because none \
                 --looked-for-same-name yes --seen licence-card,birth-date --privacy-notice given");
        desk.ok("visit open PM-0112 --room room_1 --identifiers full-name,birth-date");
        desk.ok("lock");
        desk
    }

    fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    /// A command of words; an underscore stands for a space within one.
    fn command(&self, program: &str, words: &str) -> Command {
        let mut command = Command::new(program);
        command
            .args(words.split_whitespace().map(|w| w.replace('_', " ")))
            .current_dir(self.dir.path())
            .env("INKFAST_STORE", "store")
            .env("XDG_STATE_HOME", self.path("state"))
            .env("XDG_RUNTIME_DIR", self.path("run"))
            .env_remove("INKFAST_AS")
            .env_remove("INKFAST_OUTSIDE")
            .env_remove("INKFAST_STATION")
            .stdin(Stdio::null());
        command
    }

    fn run(&self, words: &str) -> Output {
        self.command(env!("CARGO_BIN_EXE_inkfast"), words).output().unwrap()
    }

    fn ok(&self, words: &str) -> String {
        self.ends(words, 0)
    }

    /// Runs a command that must end with this code; what it said.
    fn ends(&self, words: &str, with: i32) -> String {
        let output = self.run(words);
        let said = text(&output);
        assert_eq!(output.status.code(), Some(with), "{words}\n{said}");
        said
    }

    fn socket(&self) -> Option<PathBuf> {
        let found = std::fs::read_dir(self.path("run/inkfast")).ok()?.next()?.unwrap().path();
        Some(found)
    }

    /// What the keeper answers to a word.
    fn says(&self, word: &str) -> String {
        let mut stream = UnixStream::connect(self.socket().unwrap()).unwrap();
        stream.write_all(word.as_bytes()).unwrap();
        stream.shutdown(std::net::Shutdown::Write).unwrap();
        let mut answer = String::new();
        stream.read_to_string(&mut answer).unwrap();
        answer
    }

    /// Waits until the keeper has gone.
    fn gone(&self) {
        let began = Instant::now();
        while self.socket().is_some() {
            assert!(began.elapsed() < Duration::from_secs(20), "the keeper is still there");
            std::thread::sleep(Duration::from_millis(100));
        }
        assert!(self.ends("patient list", 5).contains("Nobody is unlocked"));
    }
}

impl Drop for Desk {
    fn drop(&mut self) {
        let _ = self.run("lock");
    }
}

fn text(output: &Output) -> String {
    format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr))
}

const UNLOCK: &str = "unlock --as IV --passphrase-file pw --pin-file pin";
const CONTACT: &str = "contact PM-0112 --channel telephone --direction incoming --with Bettony_Craske --checked voice --said late";
/// Needs the short number: a correction of what was said in the contact.
fn correct(entry: &str) -> String {
    format!(
        "correct {CHART} --entry {entry} --field /said --is early --because slip --care-affected no \
         --not-told-because no_need"
    )
}

fn number(json: &str) -> String {
    serde_json::from_str::<Value>(json).unwrap()["entry"].as_u64().unwrap().to_string()
}

/// `unix(7)` of the Linux manual: `sun_path` holds 108 bytes, so a socket in a deep folder needs another
/// way of naming it.
#[test]
fn a_runtime_folder_with_a_very_long_path_serves_too() {
    let desk = Desk::set_up();
    let deep = desk.path(&"a-long-name/".repeat(12));
    std::fs::create_dir_all(&deep).unwrap();
    assert!(deep.as_os_str().len() > 140);
    let ask = |words: &str| {
        let mut command = desk.command(env!("CARGO_BIN_EXE_inkfast"), words);
        command.env("XDG_RUNTIME_DIR", &deep).output().unwrap()
    };
    let out = ask("unlock --as IV --passphrase-file pw");
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    assert!(ask("patient list").status.success());
    assert!(ask("lock").status.success());
    assert_eq!(ask("patient list").status.code(), Some(5));
}

#[test]
fn the_short_number_is_asked_again_to_sign_and_wrong_ones_lock() {
    let desk = Desk::set_up();
    assert!(desk.ends("unlock --as IV --passphrase-file pw --pin-file long", 4).contains("exactly 4 digits"));
    assert!(desk.socket().is_none(), "unlocked with a number that is none");
    let said = desk.ok(UNLOCK);
    assert!(said.contains("3 wrong ones lock") && said.contains("15 idle minutes"), "{said}");
    // Adding does not ask; signing a correction does.
    let correct = correct(&number(&desk.ok(&format!("{CONTACT} --json"))));
    assert!(desk.ends(&correct, 5).contains("The short number is needed"));
    assert!(desk.ends(&format!("{correct} --pin-file wrong"), 5).contains("Tries left: 2"));
    desk.ok(&format!("{correct} --pin-file pin"));
    // A right one forgave the wrong one: three more are needed to lock it.
    assert!(desk.ends(&format!("{correct} --pin-file wrong"), 5).contains("Tries left: 2"));
    assert!(desk.ends(&format!("{correct} --pin-file long"), 5).contains("Tries left: 1"));
    assert!(desk.ends(&format!("{correct} --pin-file wrong"), 5).contains("locked itself"));
    desk.gone();
    // Whoever gives the passphrase with the command is not asked for a number.
    let again = correct.replace("--is early", "--is later");
    desk.ok(&format!("{again} --as IV --passphrase-file pw"));
    let shown = desk.ok("print PM-0112 --json --why review --as IV --passphrase-file pw");
    let recorded = shown.matches("\"kind\": \"correction\"").count();
    // Each is named twice: beside its number and in its record.
    assert_eq!(recorded, 4, "what was refused was recorded: {shown}");
}

#[test]
fn a_keeper_without_a_number_says_so_and_asks_none() {
    let desk = Desk::set_up();
    let said = desk.ok("unlock --as IV --passphrase-file pw --without-pin");
    assert!(said.contains("No short number was set") && said.contains("signs as IV"), "{said}");
    desk.ok(&correct(&number(&desk.ok(&format!("{CONTACT} --json")))));
    assert_eq!(desk.ok("lock").trim(), "Locked.");
    desk.gone();
    assert_eq!(desk.ok("lock").trim(), "Nothing was unlocked.");
}

#[test]
fn the_socket_is_its_owner_s_alone_and_a_dead_keeper_is_replaced() {
    let desk = Desk::set_up();
    desk.ok(UNLOCK);
    let mode = |path: &PathBuf| std::fs::metadata(path).unwrap().permissions().mode() & 0o777;
    assert_eq!(mode(&desk.socket().unwrap()), 0o600);
    assert_eq!(mode(&desk.path("run/inkfast")), 0o700);
    assert_eq!(desk.says("nonsense"), "");
    // Unlocking again takes the place of the first keeper.
    desk.ok("unlock --as IV --passphrase-file pw --without-pin");
    assert!(desk.says("use").starts_with("open\n"));
    desk.ok("lock");
    // A socket that a killed keeper left behind opens nothing and hinders nobody.
    let left = std::os::unix::net::UnixListener::bind(desk.path("run/inkfast/left")).unwrap();
    drop(left);
    desk.ok(UNLOCK);
    let socket = desk.socket_of_store();
    desk.ok("lock");
    std::fs::rename(desk.path("run/inkfast/left"), &socket).unwrap();
    assert!(desk.ends("patient list", 5).contains("Nobody is unlocked"));
    desk.ok(UNLOCK);
    desk.ok("patient list");
    // A folder that others may look into is not used.
    desk.ok("lock");
    std::fs::set_permissions(desk.path("run/inkfast"), std::fs::Permissions::from_mode(0o755)).unwrap();
    assert!(desk.ends(UNLOCK, 2).contains("open to others"));
}

impl Desk {
    fn socket_of_store(&self) -> PathBuf {
        let names = std::fs::read_dir(self.path("run/inkfast")).unwrap().map(|e| e.unwrap().path());
        names.into_iter().find(|p| p.extension().is_some_and(|e| e == "sock")).unwrap()
    }
}

#[test]
fn it_forgets_when_idle_when_the_login_ends_and_when_the_roster_does() {
    let desk = Desk::set_up();
    desk.ok(&format!("{UNLOCK} --idle-seconds 6"));
    for _ in 0..4 {
        // Each command that uses it restarts the count.
        std::thread::sleep(Duration::from_secs(2));
        desk.ok("patient list");
    }
    desk.gone();

    // A login of its own, over as soon as the command is.
    let unlock = format!("{} {UNLOCK} && true", env!("CARGO_BIN_EXE_inkfast"));
    let mut login = desk.command("setsid", "--wait sh -c");
    assert!(login.arg(unlock).status().unwrap().success());
    desk.gone();

    std::fs::write(desk.path("pw2"), "nine other words here\n").unwrap();
    desk.ok(
        "roster add --as IV --passphrase-file pw --new-passphrase-file pw2 --code PQ --name Peony_Quill \
             --role massage-therapist --initials PQ --from 2020-01-01 --because joined --opens desk",
    );
    desk.ok("unlock --as PQ --passphrase-file pw2 --without-pin");
    desk.ok("patient list");
    desk.ok("roster retire PQ --last-day 2020-01-02 --because left --as IV --passphrase-file pw");
    let _ = desk.run("patient list");
    desk.gone();
}

#[test]
fn who_unlocks_where_no_login_is_known_stays_unlocked() {
    let desk = Desk::set_up();
    // The first process of the login has ended, and nobody has taken note of that yet.
    let unlock = format!("(sleep 1; exec {} {UNLOCK}) & exit 0", env!("CARGO_BIN_EXE_inkfast"));
    let mut leader = desk.command("setsid", "sh -c").arg(unlock).spawn().unwrap();
    let began = Instant::now();
    while desk.run("patient list").status.code() != Some(0) {
        assert!(began.elapsed() < Duration::from_secs(20), "nobody is unlocked");
        std::thread::sleep(Duration::from_millis(100));
    }
    leader.wait().unwrap();
    std::thread::sleep(Duration::from_secs(3));
    desk.ok("patient list");
    desk.ok("lock");

    // The first process of the login stands outside the container: its number is 0 in here. Where the
    // system lets nobody make a container, that is left to the check of the line it is read from.
    let container = "--user --map-root-user --pid --fork --mount-proc --kill-child";
    if !desk.command("unshare", &format!("{container} true")).status().is_ok_and(|ended| ended.success()) {
        eprintln!("no container can be made here: not tried");
        return;
    }
    let both = format!("{0} {UNLOCK} && {0} patient list", env!("CARGO_BIN_EXE_inkfast"));
    let output = desk.command("unshare", &format!("{container} sh -c")).arg(both).output().unwrap();
    assert!(output.status.success(), "{}", text(&output));
}

#[test]
fn a_locked_desk_adds_and_reads_nothing() {
    let desk = Desk::set_up();
    desk.ok(UNLOCK);
    let said = desk.ok("lock --add-only");
    assert!(said.contains("Locked for reading"), "{said}");
    // What is kept opens nothing and names no patient.
    let kept = desk.says("use");
    assert!(kept.starts_with("adding\n") && kept.contains(CHART), "{kept}");
    assert!(!kept.contains("AGE-SECRET-KEY") && !kept.contains("Bettony"), "{kept}");

    let mut numbers = Vec::new();
    for words in [
        CONTACT,
        "asked PM-0112 --technique soft-tissue --region cervical --side left --answer yes",
        "pause PM-0112 --kind pause --how words --why needs_a_minute",
        "withdraw PM-0112 --said-by self --how words --patient-words enough --techniques soft-tissue",
        "visit emergency PM-0112 --state declared --what fainted,_lying_down",
    ] {
        let said = desk.ok(&format!("{words} --json"));
        assert!(!said.contains("Bettony"), "{said}");
        numbers.push(number(&said));
    }
    assert!(desk.ends(&CONTACT.replace(CHART, "PM-0999"), 2).contains("knows no chart with this number"));
    for reads in [
        "patient list".to_string(),
        format!("print {CHART} --why review"),
        format!("may {CHART} --technique soft-tissue --region cervical --side left"),
        "visit open PM-0112 --room room_1 --identifiers full-name,birth-date".to_string(),
        correct(&numbers[0]),
        "roster list".to_string(),
        "slip".to_string(),
    ] {
        let said = desk.ends(&reads, 5);
        assert!(said.contains("locked for reading") && said.contains("inkfast unlock"), "{said}");
        assert!(!said.contains("Bettony"), "{said}");
    }
    desk.ok("verify");

    // Unlocked again, all of it is there, labelled, by its author's full name.
    desk.ok(UNLOCK);
    let chart: Value = serde_json::from_str(&desk.ok("print PM-0112 --json")).unwrap();
    for number in &numbers {
        let all = chart.as_array().unwrap();
        let entry = all.iter().find(|e| e["seq"].as_u64().unwrap().to_string() == *number).unwrap();
        let record = &entry["record"];
        assert!(record["labels"].as_array().unwrap().contains(&"desk-locked".into()), "{record}");
        assert_eq!(record["author"]["name"], "Ingrith Valsamo");
    }
    assert!(desk.ok("print PM-0112").contains(PATIENT));
    desk.ok("lock");
    assert!(desk.ends("lock --add-only", 0).contains("Nothing was unlocked"));
}

#[test]
fn an_idle_desk_still_adds_where_the_rules_say_so() {
    let desk = Desk::set_up();
    let rules = inkfast::record::rulebook::EXAMPLE
        .replace("locked_desk_may_add = false", "locked_desk_may_add = true")
        .replace("edition = \"example-1\"", "edition = \"example-2\"");
    std::fs::write(desk.path("rules.toml"), rules).unwrap();
    desk.ok("rules adopt rules.toml --as IV --passphrase-file pw");
    desk.ok(&format!("{UNLOCK} --idle-seconds 2"));
    desk.ok("patient list");
    std::thread::sleep(Duration::from_secs(6));
    assert!(desk.ends("patient list", 5).contains("locked for reading"));
    desk.ok(CONTACT);
    std::thread::sleep(Duration::from_secs(3));
    desk.ok(CONTACT);
    desk.ok("lock");
    desk.gone();
}
