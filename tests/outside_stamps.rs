//! Time stamps (RFC 3161) by an authority that openssl plays: requests from here are answered by it, its replies
//! are kept and checked at their own time, and a wrong one is named. Run by `scripts/test`.
#![cfg(feature = "outside-checks")]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;
#[path = "common/outside.rs"]
mod outside;

use common::room::Room;
use inkfast::record::moment::Moment;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

const CONFIG: &str = "
[req]
distinguished_name = dn
[dn]
[root]
basicConstraints = critical,CA:TRUE
keyUsage = critical,keyCertSign
[stamper]
basicConstraints = CA:FALSE
keyUsage = critical,digitalSignature
extendedKeyUsage = critical,timeStamping
[ca]
default_ca = own
[own]
new_certs_dir = .
database = index.txt
serial = certs
default_md = sha256
policy = any
unique_subject = no
[any]
commonName = supplied
[tsa]
default_tsa = here
[here]
serial = stamps
default_policy = 1.2.3.4.1
digests = sha256
signer_digest = sha256
ess_cert_id_alg = sha256
";

/// Seconds since 1970, by the computer's clock: the authority has no other.
fn now() -> i64 {
    SystemTime::now().duration_since(UNIX_EPOCH).unwrap().as_secs() as i64
}

/// An authority in a folder of its own.
struct Authority(tempfile::TempDir);

impl Authority {
    /// With a stamper's certificate that ends in so many seconds.
    fn new(seconds: i64) -> Authority {
        let own = Authority(tempfile::tempdir().unwrap());
        for (name, text) in [("config", CONFIG), ("index.txt", ""), ("certs", "01\n"), ("stamps", "01\n")] {
            std::fs::write(own.path(name), text).unwrap();
        }
        let plain = |second: i64| {
            let digits: String = at(second).chars().filter(char::is_ascii_digit).take(14).collect();
            format!("{digits}Z")
        };
        let (begin, end) = (plain(now() - 60), plain(now() + seconds));
        own.run("req -x509 -newkey rsa:2048 -nodes -keyout root.key -out root.pem -days 3650 -subj /CN=root -config config -extensions root");
        own.run("req -newkey rsa:2048 -nodes -keyout own.key -out own.csr -subj /CN=stamper -config config");
        own.run(&format!(
            "ca -batch -config config -cert root.pem -keyfile root.key -in own.csr -out own.pem -extensions stamper -startdate {begin} -enddate {end}"
        ));
        own
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn run(&self, words: &str) {
        let ran =
            std::process::Command::new("openssl").args(words.split(' ')).current_dir(self.0.path()).output();
        let ran = ran.unwrap();
        assert!(ran.status.success(), "{words}: {}", String::from_utf8_lossy(&ran.stderr));
    }

    /// Answers a request.
    fn stamp(&self, query: &Path, reply: &Path) {
        self.run(&format!(
            "ts -reply -config config -section here -queryfile {} -signer own.pem -inkey own.key -out {}",
            query.display(),
            reply.display()
        ));
    }
}

/// A room and the words for its files.
struct Desk {
    room: Room,
}

impl Desk {
    fn file(&self, name: &str) -> String {
        self.room.path(name).display().to_string()
    }

    /// Asks for a stamp, has it made, and gives the reply's path.
    fn stamped(&self, authority: &Authority, name: &str) -> String {
        let (query, reply) = (self.file(&format!("{name}.tsq")), self.file(&format!("{name}.tsr")));
        self.room.ok(&["slip", "stamp-request", &query]);
        authority.stamp(Path::new(&query), Path::new(&reply));
        reply
    }

    fn keep(&self, reply: &str, chain: &Path) -> common::room::Shown {
        self.room.run(&["slip", "stamp-keep", reply, "--chain", &chain.display().to_string()])
    }

    fn stamps(&self) -> serde_json::Value {
        self.room.json(&["slip", "stamps"])
    }
}

fn at(seconds: i64) -> String {
    Moment::from_unix(seconds, 0).unwrap().to_string()
}

#[test]
fn a_stamp_holds_at_its_own_time_and_is_made_anew_before_its_certificates_end() {
    let desk = Desk { room: Room::new() };
    desk.room.at(&at(now()));
    let days = 86_400;
    let authority = Authority::new(200 * days);
    let reply = desk.stamped(&authority, "first");
    let kept = desk.keep(&reply, &authority.path("root.pem"));
    assert_eq!(kept.code(), 0, "{}", kept.all());
    let number = desk.room.json(&["verify"])["entries"].as_u64().unwrap();
    let said = desk.stamps();
    assert_eq!(
        (&said[0]["number"], &said[0]["stamp_again"], &said[0]["wrong"]),
        (&number.into(), &false.into(), &serde_json::Value::Null)
    );
    // 90 days before the end, by the rules.
    desk.room.at(&at(now() + 109 * days));
    assert_eq!(desk.stamps()[0]["stamp_again"], false);
    desk.room.at(&at(now() + 111 * days));
    assert_eq!(desk.stamps()[0]["stamp_again"], true);
    // Made anew, the list that is stamped names the earlier stamp: sha256sum says so too.
    desk.room.patient("PM-0112", "Bettony Craske", "1988-02-29");
    let later = Authority::new(400 * days);
    let reply = desk.stamped(&later, "second");
    assert_eq!(desk.keep(&reply, &later.path("root.pem")).code(), 0);
    let said = desk.stamps();
    assert_eq!(
        (said.as_array().unwrap().len(), &said[0]["stamp_again"], &said[1]["stamp_again"]),
        (2, &false.into(), &false.into())
    );
    let stamps = desk.room.path("store/stamps");
    let newest = said[0]["number"].as_u64().unwrap();
    let sums = std::process::Command::new("sha256sum")
        .arg("-c")
        .arg(format!("{newest}.sha256"))
        .current_dir(&stamps)
        .output()
        .unwrap();
    let sums = String::from_utf8_lossy(&sums.stdout).into_owned();
    assert_eq!(sums.matches(": OK").count(), 3, "{sums}");
    assert!(sums.contains(&format!("{number}.tsr: OK")), "{sums}");
    // The store stays sound, and a bent file of a stamp is named.
    assert_eq!(desk.room.run(&["verify"]).code(), 0);
    for name in ["checkpoint", "sha256", "tsr", "chain.pem"] {
        let path = stamps.join(format!("{number}.{name}"));
        let good = std::fs::read(&path).unwrap();
        let mut bent = good.clone();
        let middle = bent.len() / 2;
        bent[middle] ^= 1;
        std::fs::write(&path, bent).unwrap();
        let said = desk.room.run(&["slip", "stamps"]);
        assert_eq!(said.code(), 1, "{name}: {}", said.all());
        assert!(said.out.contains("DOES NOT HOLD"), "{name}: {}", said.all());
        std::fs::write(&path, good).unwrap();
    }
    assert_eq!(desk.room.run(&["slip", "stamps"]).code(), 0);
    let again = desk.room.run(&["slip", "stamp-request", &desk.file("third.tsq")]);
    assert!(again.code() == 7 && again.all().contains("stamped already"), "{}", again.all());
}

#[test]
fn a_reply_that_does_not_answer_or_hold_is_not_kept() {
    let desk = Desk { room: Room::new() };
    let (authority, stranger) = (Authority::new(86_400), Authority::new(86_400));
    let root = authority.path("root.pem");
    let reply = desk.stamped(&authority, "first");
    let before = std::fs::read_dir(desk.room.path("store/stamps")).unwrap().count();
    let refused = |reply: &str, chain: &Path, words: &str| {
        let said = desk.keep(reply, chain);
        assert!(said.code() == 7 && said.all().contains(words), "{words}: {} {}", said.code(), said.all());
        assert_eq!(std::fs::read_dir(desk.room.path("store/stamps")).unwrap().count(), before);
    };
    // Certificates of somebody else.
    refused(&reply, &stranger.path("root.pem"), "openssl says");
    // An answer to another question.
    std::fs::write(desk.room.path("other"), "something else").unwrap();
    let (other, answer) = (desk.file("other.tsq"), desk.file("other.tsr"));
    authority.run(&format!("ts -query -data {} -sha256 -cert -out {other}", desk.file("other")));
    authority.stamp(Path::new(&other), Path::new(&answer));
    refused(&answer, &root, "openssl says");
    // No answer at all, and a bent one.
    refused(&desk.file("other"), &root, "holds no time stamp");
    let mut bent = std::fs::read(&reply).unwrap();
    let last = bent.len() - 5;
    bent[last] ^= 1;
    std::fs::write(desk.room.path("bent"), bent).unwrap();
    refused(&desk.file("bent"), &root, "not a right answer");
    assert_eq!(desk.keep(&reply, &root).code(), 0);
    // It is kept once.
    assert_eq!(desk.keep(&reply, &root).code(), 7);
}

#[test]
fn a_stamp_outlives_its_certificate() {
    let desk = Desk { room: Room::new() };
    let authority = Authority::new(8);
    let root = authority.path("root.pem");
    let reply = desk.stamped(&authority, "first");
    assert_eq!(desk.keep(&reply, &root).code(), 0);
    std::thread::sleep(Duration::from_secs(9));
    assert_eq!(desk.room.run(&["slip", "stamps"]).code(), 0);
    // Judged at today's time, openssl refuses the same stamp: so it is the own time that counts here.
    let stamps = desk.room.path("store/stamps");
    let number = desk.stamps()[0]["number"].as_u64().unwrap();
    let list = stamps.join(format!("{number}.sha256")).display().to_string();
    let words = ["ts", "-verify", "-data", &list, "-in", &reply, "-CAfile", root.to_str().unwrap()];
    assert_ne!(outside::run("openssl", words).code, 0);
}
