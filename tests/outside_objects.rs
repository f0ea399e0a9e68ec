//! Safe copies in a store of objects of other makers (moto, from PyPI, which checks every signature a second way):
//! made, brought up to date, rehearsed and restored with the real commands; nothing replaced, nothing told to
//! anybody who listens. Run by `scripts/test`.
#![cfg(feature = "outside-checks")]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

#[path = "common/desk.rs"]
mod desk;
#[path = "common/objects.rs"]
mod objects;

use desk::{Desk, code, text};
use inkfast::practice::objects::{Address, Objects, Put, S3, Way};
use objects::{LOCKED, SECRET, Server};
use serde_json::Value;

const NAME: &str = "Bettony Craske";

fn with(server: &Server, words: &[&str], desk: &Desk) -> Vec<String> {
    server.credentials(&desk.path("credentials"));
    let more = ["--endpoint", &server.endpoint(), "--credentials", "credentials"].map(str::to_string);
    words.iter().map(ToString::to_string).chain(more).collect()
}

fn json(desk: &Desk, exit: i32, words: &[String]) -> Value {
    let mut words: Vec<&str> = words.iter().map(String::as_str).collect();
    words.push("--json");
    let output = desk.run(&words);
    assert_eq!(code(&output), exit, "{words:?}\n{}", text(&output));
    assert!(!text(&output).contains(SECRET) && !text(&output).contains("X-Amz"), "{}", text(&output));
    serde_json::from_slice(&output.stdout).unwrap()
}

fn s3(server: &Server, address: &str, desk: &Desk) -> S3 {
    let (endpoint, file) = (server.endpoint(), desk.path("credentials"));
    server.credentials(&file);
    let way = Way { endpoint: Some(&endpoint), region: None, credentials: Some(&file) };
    S3::new(&Address::read(address).unwrap(), &way).unwrap()
}

#[test]
fn a_copy_off_site_is_made_kept_up_rehearsed_and_restored() {
    let (server, desk) = (Server::start(), Desk::set_up());
    desk.patient("PM-0112", NAME, "1988-07-23");
    let to = ["safecopy", "s3://safe/our/copy", "--called", "off site"];
    let first = json(&desk, 0, &with(&server, &to, &desk));
    assert_eq!((&first["sound"], &first["before"]), (&true.into(), &0.into()), "{first}");
    let objects = s3(&server, "s3://safe/our/copy", &desk);
    let before = objects.list("").unwrap();
    desk.patient("PM-0113", "Odmar Fenn", "1979-02-11");
    let second = json(&desk, 0, &with(&server, &to[..2], &desk));
    assert_eq!((&second["place"], &second["copy"]), (&"off site".into(), &first["copy"]));
    assert!(second["bytes"].as_u64().unwrap() < 60_000, "{second}");
    let after = objects.list("").unwrap();
    assert!(before.iter().all(|name| after.contains(name)), "an object is gone");
    assert_eq!(desk.json(&["safecopy", "list"])[0]["on"], "objects");
    // Whoever keeps the objects reads no name, in a name or in an object.
    for name in &after {
        let bytes = objects.get(name).unwrap().unwrap();
        for word in [NAME, "Fenn", "PM-011", "off site"] {
            assert!(
                !name.contains(word) && !bytes.windows(word.len()).any(|w| w == word.as_bytes()),
                "{name}"
            );
        }
    }
    let page = std::fs::read_to_string(desk.path("recovery-sheet.html")).unwrap();
    desk.secret("sheet", page.split_once("class=\"key\">").unwrap().1.split_once('<').unwrap().0);
    let tried =
        json(&desk, 0, &with(&server, &["rehearse", "s3://safe/our/copy", "--sheet-file", "sheet"], &desk));
    assert_eq!((&tried["passed"], &tried["check"]["entries"]), (&true.into(), &second["entries"]));
    let elsewhere = ["restore", "s3://safe/our/copy", "new", "--outside", "outside-of-new"];
    let restored = json(&desk, 0, &with(&server, &elsewhere, &desk));
    assert_eq!((&restored["finished"], &restored["check"]["entries"]), (&true.into(), &second["entries"]));
    desk.refused(
        2,
        &[
            "restore",
            "s3://safe/nothing",
            "new2",
            "--endpoint",
            &server.endpoint(),
            "--credentials",
            "credentials",
        ],
        "no safe copy under this prefix",
    );
}

#[test]
fn nothing_is_replaced_and_what_is_refused_is_said_without_the_secret() {
    let (server, desk) = (Server::start(), Desk::set_up());
    let objects = s3(&server, "s3://safe/x", &desk);
    assert_eq!(objects.put_new("a/name with ? and +", b"first", None).unwrap(), Put::Created);
    assert_eq!(objects.put_new("a/name with ? and +", b"other", None).unwrap(), Put::Exists);
    assert_eq!(objects.get("a/name with ? and +").unwrap().as_deref(), Some(&b"first"[..]));
    assert_eq!(objects.get("nothing").unwrap(), None);
    // More names than one answer holds.
    for n in 0..1_003 {
        objects.put_new(&format!("many/{n:05}"), b"x", None).unwrap();
    }
    let names = objects.list("many/").unwrap();
    assert_eq!((names.len(), names[1_002].as_str()), (1_003, "many/01002"));
    std::fs::write(desk.path("wrong"), "practice\nnot the secret\n").unwrap();
    let endpoint = server.endpoint();
    let usual = ["safecopy", "s3://safe/y", "--called", "x", "--endpoint", &endpoint];
    let said = desk.refused(7, &[&usual[..], &["--credentials", "wrong"]].concat(), "SignatureDoesNotMatch");
    assert!(!said.contains("not the secret") && !said.contains("X-Amz"), "{said}");
    let said = desk.refused(5, &usual, "no credentials");
    assert!(said.contains("Nothing was sent"), "{said}");
    drop(server);
    let said = desk.refused(2, &[&usual[..], &["--credentials", "credentials"]].concat(), "not possible to");
    assert!(!said.contains("X-Amz") && said.contains("goes on where it stopped"), "{said}");
}

#[test]
fn what_is_locked_stays_where_the_store_keeps_to_locks() {
    let (server, desk) = (Server::start(), Desk::set_up());
    let to = format!("s3://{LOCKED}/copy");
    let words = ["safecopy", &to, "--called", "locked away", "--lock-until", "2199-12-31"];
    let made = json(&desk, 0, &with(&server, &words, &desk));
    assert_eq!(made["sound"], true);
    assert_eq!(desk.json(&["safecopy", "list"])[0]["keep_until"], "2199-12-31");
    desk.refused(
        4,
        &["safecopy", "stick", "--called", "x", "--lock-until", "2199-12-31"],
        "A folder has no lock",
    );
    // A bucket that was not made for locks refuses, and nothing of the record is sent unlocked.
    let words = ["safecopy", "s3://safe/copy", "--called", "x", "--lock-until", "2199-12-31"];
    let refused = json(&desk, 7, &with(&server, &words, &desk));
    assert!(refused["error"]["next"].as_str().unwrap().contains("made for locks"), "{refused}");
    let names = s3(&server, "s3://safe/copy", &desk).list("").unwrap();
    assert!(names.iter().all(|name| name.contains("/probe/")), "{names:?}");
}
