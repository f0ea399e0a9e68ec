//! A package made by the real commands, and the checker run on it.

pub use super::common::archive::Members;
use super::common::archive::{TO_THE_PATIENT, members};
use super::common::room::Room;
use super::common::{PASSPHRASE, open_store};
use inkfast::practice::open::Practice;
use inkfast::seal::age_file::{Identity, With, open};
use inkfast::seal::body::hex;
use inkfast::seal::note::{Signer, sign};
use inkfast::verify::manifest::{Manifest, ManifestFile, note_text};
use serde_json::Value;
use sha2::Digest as _;
use std::path::PathBuf;
use std::process::{Command, Output, Stdio};
use std::sync::{Arc, Mutex, Weak};

/// The chart that is released.
pub const CHART: &str = "PM-0112";
/// Another one.
pub const OTHER: &str = "PM-0113";

/// When everything in the practice has happened.
const NOW: &str = "2024-06-10T12:00:00-04:00";

/// A practice, and a package of one of its charts.
pub struct Given {
    pub room: Room,
    pub package: PathBuf,
    pub asker: Identity,
    /// Number of the release entry.
    pub release: u64,
    /// Kept, so that the tests beside this one need not make it again.
    pub _made: Arc<Made>,
}

/// The practice that every test goes on from a copy of.
pub struct Made {
    room: Mutex<Room>,
    asker: Identity,
    release: u64,
}

/// Made once, and taken away when no test needs it any more.
static MADE: Mutex<Weak<Made>> = Mutex::new(Weak::new());

impl Made {
    fn get() -> Arc<Made> {
        let mut kept = MADE.lock().unwrap();
        kept.upgrade().unwrap_or_else(|| {
            let made = Arc::new(Made::new());
            *kept = Arc::downgrade(&made);
            made
        })
    }

    fn new() -> Made {
        let (asker, room) = (Identity::generate(), Room::new());
        room.write("who.txt", &format!("# whoever asked\n{}\n", asker.to_text().as_str()));
        room.write("told", "cellar ferry rope brass lantern\n");
        room.at("2024-06-03T09:00:00-04:00");
        room.patient(CHART, "Bettony Craske", "1968-03-09");
        room.patient(OTHER, "Odile Farrant", "1971-11-30");
        for (day, words) in [("04", "plumbago"), ("05", "marzipan"), ("06", "another person's words")] {
            room.at(&format!("2024-06-{day}T10:00:00-04:00"));
            contact(&room, CHART, words);
            contact(&room, OTHER, &format!("other {words}"));
        }
        let withheld = contact(&room, CHART, "what she said of her sister");
        let paper = room.path("paper.txt");
        std::fs::write(&paper, "Jaw: no fracture seen.\n".repeat(200)).unwrap();
        attach(&room, CHART, paper.to_str().unwrap());
        room.at(NOW);
        let (to, why) =
            (asker.recipient().to_string(), format!("{withheld}=another-person: an entry of another person"));
        let release = release_to(&room, "out.age", &["--to", &to, "--withhold", &why]);
        Made { room: Mutex::new(room), asker, release }
    }
}

/// Releases the chart; the number of the release entry.
fn release_to(room: &Room, file: &str, more: &[&str]) -> u64 {
    let file = room.path(file).display().to_string();
    let words = ["release", CHART, "--file", &file];
    room.entry(&[&words[..], &TO_THE_PATIENT, more].concat())
}

impl Given {
    /// Sealed to a key; one entry's contents are withheld; with an attachment.
    pub fn new() -> Given {
        let made = Made::get();
        let room = Room::going_on_from(made.room.lock().unwrap().dir.path(), NOW);
        let (package, asker, release) = (room.path("out.age"), made.asker.clone(), made.release);
        Given { room, package, asker, release, _made: made }
    }

    /// Sealed with the passphrase in the file `told`.
    pub fn sealed_with_passphrase() -> Given {
        let given = Given::new();
        let told = given.path("told").display().to_string();
        given.release_to("told.age", &["--passphrase", "--package-passphrase-file", &told]);
        Given { package: given.path("told.age"), ..given }
    }

    /// Releases the chart; the number of the release entry.
    pub fn release_to(&self, file: &str, more: &[&str]) -> u64 {
        release_to(&self.room, file, more)
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.room.path(name)
    }

    /// Checks the package with the identity that opens it.
    pub fn check(&self, more: &[&str]) -> Output {
        let key = self.path("who.txt").display().to_string();
        if super::kept::is_asked_for() && std::fs::read(&self.package).is_ok_and(|b| b.starts_with(b"age")) {
            let sealed = std::fs::read(&self.package).unwrap();
            let opened = open(&With::Identities(std::slice::from_ref(&self.asker)), &sealed);
            let _ = opened.map(|archive| super::kept::keep(&archive, more));
        }
        self.run_with(&[&["--identity", &key], more].concat())
    }

    /// The result as data.
    pub fn json(&self, more: &[&str]) -> Value {
        serde_json::from_slice(&self.check(&[&["--json"], more].concat()).stdout).unwrap()
    }

    /// Checks the package with exactly these options.
    pub fn run_with(&self, more: &[&str]) -> Output {
        run(&[&[self.package.to_str().unwrap()], more].concat())
    }

    /// Takes the seal off.
    pub fn archive(&self) -> Vec<u8> {
        let sealed = std::fs::read(&self.package).unwrap();
        open(&With::Identities(std::slice::from_ref(&self.asker)), &sealed).unwrap().to_vec()
    }

    /// What is in it.
    pub fn members(&self) -> Members {
        members(&self.archive())
    }

    /// The practice, opened by its owner: whoever bends a package with all keys at hand.
    pub fn owner(&self) -> Practice {
        open_store(&self.room.world, &self.path("store"), "IV", PASSPHRASE).unwrap()
    }

    /// Checks these members as an archive.
    pub fn judge(&self, members: &Members, more: &[&str]) -> Output {
        self.judge_bytes(&pack(members), more)
    }

    /// Checks these bytes as an archive.
    pub fn judge_bytes(&self, archive: &[u8], more: &[&str]) -> Output {
        let path = self.path("bent.tar");
        std::fs::write(&path, archive).unwrap();
        super::kept::keep(archive, more);
        run(&[&[path.to_str().unwrap()], more].concat())
    }
}

/// Runs the checker; the one that `INKFAST_CHECKER` names, if it does: `scripts/build-check` makes another.
pub fn run(args: &[&str]) -> Output {
    let program = std::env::var_os("INKFAST_CHECKER").unwrap_or(env!("CARGO_BIN_EXE_inkfast-check").into());
    Command::new(program).args(args).stdin(Stdio::null()).output().unwrap()
}

/// A chart of this many entries with this many attachments, its package sealed to a key.
pub fn large(entries: usize, attachments: usize) -> Given {
    let given = Given::new();
    for number in 0..attachments {
        let paper = given.path("paper.txt");
        std::fs::write(&paper, format!("Paper {number}.\n").repeat(20_000)).unwrap();
        attach(&given.room, CHART, paper.to_str().unwrap());
    }
    // Straight through the library: the command's own work is not what is measured.
    let mut owner = given.owner();
    let tag = inkfast::practice::chart::find(&owner, CHART).unwrap().tag;
    for number in 0..entries {
        let data = super::common::contact_saying(&format!("contact {number}"));
        super::common::add(&mut owner, Some(&tag), data).unwrap();
    }
    drop(owner);
    let to = given.asker.recipient().to_string();
    given.release_to("large.age", &["--to", &to]);
    Given { package: given.path("large.age"), ..given }
}

/// Runs the checker with at most this much memory, in KiB.
pub fn run_within(kib: u64, args: &[&str]) -> Output {
    let words = format!("ulimit -v {kib}; exec \"$@\"");
    super::kept::keep(&std::fs::read(args[0]).unwrap(), &[]);
    Command::new("sh")
        .args(["-c", &words, "sh", env!("CARGO_BIN_EXE_inkfast-check")])
        .args(args)
        .stdin(Stdio::null())
        .output()
        .unwrap()
}

/// The exit code.
pub fn code(output: &Output) -> i32 {
    output.status.code().unwrap_or(-1)
}

/// Everything it printed. A panic is never the answer.
pub fn said(output: &Output) -> String {
    let text =
        format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    assert!(!text.contains("panicked"), "{text}");
    text
}

/// It must be not sound, and name this finding.
pub fn named(output: &Output, finding: &str) {
    let text = said(output);
    assert!(code(output) == 1 && text.starts_with("NOT SOUND."), "{text}");
    assert!(text.contains(&format!("[{finding}]")), "{finding} is not named\n{text}");
}

/// A contact on record.
pub fn contact(room: &Room, chart: &str, words: &str) -> u64 {
    let because = ["--direction", "none", "--nobody-because", "no answer", "--said", words];
    room.entry(&[&["contact", chart][..], &because].concat())
}

/// An attachment.
pub fn attach(room: &Room, chart: &str, file: &str) {
    #[rustfmt::skip]
    room.ok(&[
        "attach", chart, file, "--kind", "imaging-report", "--title", "X-ray report", "--made", "2024-01-10",
        "--made-by", "Pellmere Imaging", "--not-made-here", "yes", "--received", "2024-01-12",
        "--original", "not-seen", "--legible", "yes", "--for-desk", "no",
    ]);
}

/// An archive of these members.
pub fn pack(members: &Members) -> Vec<u8> {
    let mut tar = tar::Builder::new(Vec::new());
    for (name, bytes) in members {
        let mut header = header(name, bytes.len() as u64);
        header.set_cksum();
        tar.append(&header, &bytes[..]).unwrap();
    }
    tar.into_inner().unwrap()
}

/// A header with any name at all, also one that the archive's own library refuses to write.
pub fn header(name: &str, size: u64) -> tar::Header {
    let mut header = tar::Header::new_ustar();
    header.as_ustar_mut().unwrap().name[..name.len()].copy_from_slice(name.as_bytes());
    header.set_size(size);
    header.set_mode(0o644);
    header.set_entry_type(tar::EntryType::Regular);
    header.set_cksum();
    header
}

/// A member's bytes.
pub fn bytes<'a>(members: &'a mut Members, name: &str) -> &'a mut Vec<u8> {
    let found = members.iter_mut().find(|(n, _)| n == name);
    &mut found.unwrap_or_else(|| panic!("{name} is not there")).1
}

/// Makes the list and its signature anew, as somebody with a staff key could; `change` may bend the list.
pub fn list_again(members: &mut Members, signer: &Signer, change: impl FnOnce(&mut Manifest)) {
    let mut manifest: Manifest = serde_json::from_slice(bytes(members, "manifest.json")).unwrap();
    manifest.files = members
        .iter()
        .filter(|(name, _)| name != "manifest.json" && name != "manifest.note")
        .map(|(name, bytes)| ManifestFile {
            name: name.clone(),
            bytes: bytes.len() as u64,
            blake3: hex(blake3::hash(bytes).as_bytes()),
            sha256: hex(&sha2::Sha256::digest(bytes)),
            media_type: None,
        })
        .collect();
    change(&mut manifest);
    let json = serde_json::to_vec(&manifest).unwrap();
    let text = note_text(
        &manifest.ledger,
        manifest.release,
        &hex(blake3::hash(&json).as_bytes()),
        &hex(&sha2::Sha256::digest(&json)),
    );
    *bytes(members, "manifest.note") = sign(&text, &[signer]).unwrap().into_bytes();
    *bytes(members, "manifest.json") = json;
}
