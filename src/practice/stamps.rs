//! Time stamps of a third party (RFC 3161) on checkpoints: a request is written to a file, whoever stamps sends a
//! file back, and both are kept with the certificates, so that the stamp can be checked long after.
//!
//! What is stamped is a list in the form of `sha256sum`: the checkpoint, and every stamp kept before with its
//! certificates. So a newer stamp also vouches for the older ones before their certificates end. Nothing is sent or
//! fetched here, and the signatures are judged by `openssl ts`, a program of other makers.

use super::place::Place;
use crate::ledger::checkpoint::Checkpoint;
use crate::ledger::scan::Scan;
use crate::ledger::tree::Hash;
use crate::practice::open::Practice;
use crate::record::moment::Moment;
use crate::seal::body::hex;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::verify::public::continues;
use crate::world::{Disk, World, is_there};
use sha2::{Digest as _, Sha256};
use std::ffi::OsStr;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

/// The longest reply or file of certificates that is taken, in bytes.
const MOST: usize = 1 << 20;

/// The folder in a store.
fn folder(place: &Place) -> PathBuf {
    place.root.join("stamps")
}

/// The files of one stamp, by the number of its checkpoint.
struct Files(PathBuf, u64);

impl Files {
    fn path(&self, ending: &str) -> PathBuf {
        self.0.join(self.name(ending))
    }

    fn name(&self, ending: &str) -> String {
        format!("{}.{ending}", self.1)
    }
}

/// A stamp that is kept, and what became of checking it.
#[derive(Debug)]
pub struct Stamp {
    /// Number of the last entry it vouches for.
    pub number: u64,
    /// When it was stamped, by the clock of whoever stamped, and the end of the certificate that ends first.
    pub checked: Result<(Moment, Moment), String>,
}

/// Numbers of checkpoints for which there is a file with this ending, the newest first.
fn numbers(disk: &dyn Disk, place: &Place, ending: &str) -> Vec<u64> {
    let names = disk.list(&folder(place)).unwrap_or_default();
    let number = |name: &String| name.strip_suffix(ending)?.strip_suffix('.')?.parse::<u64>().ok();
    let mut found: Vec<u64> = names.iter().filter_map(number).collect();
    found.sort_unstable_by(|a, b| b.cmp(a));
    found
}

/// Writes what is to be stamped for the newest checkpoint into the store, and gives the request (RFC 3161
/// section 2.4.1) and the number of its last entry.
///
/// # Errors
/// When that checkpoint is stamped already, or the disk fails.
pub fn request(world: &World, place: &Place, scan: &Scan) -> Outcome<(u64, Vec<u8>)> {
    let disk = &*world.disk;
    let (newest, note) =
        scan.checkpoint.as_ref().ok_or_else(|| Trouble::damaged("The ledger has no checkpoint."))?;
    let (dir, files) = (folder(place), Files(folder(place), newest.size));
    if stamped(disk, &files)? {
        return Err(Trouble::new(
            Kind::Refused,
            format!("The newest checkpoint, number {}, is stamped already.", newest.size),
            "Nothing was written.",
            "Stamp again when there are newer entries.",
        ));
    }
    let mut list = line(&files.name("checkpoint"), note);
    for number in numbers(disk, place, "tsr") {
        for ending in ["tsr", "chain.pem"] {
            let earlier = Files(dir.clone(), number);
            let path = earlier.path(ending);
            let bytes = disk.read(&path).map_err(|e| Trouble::disk("read", &path, &e))?;
            list.push_str(&line(&earlier.name(ending), &bytes));
        }
    }
    let mut nonce = [0; 8];
    world.random.fill(&mut nonce).map_err(|e| Trouble::disk("get random numbers for", &dir, &e))?;
    let query = query(&Sha256::digest(list.as_bytes()).into(), nonce);
    disk.create_dirs(&dir).map_err(|e| Trouble::disk("create the folder", &dir, &e))?;
    for (ending, bytes) in [("checkpoint", note.as_slice()), ("sha256", list.as_bytes()), ("tsq", &query)] {
        let path = files.path(ending);
        disk.put(&path, bytes).map_err(|e| Trouble::disk("write", &path, &e))?;
    }
    Ok((newest.size, query))
}

/// True when a reply to this request is kept.
fn stamped(disk: &dyn Disk, files: &Files) -> Outcome<bool> {
    is_there(disk, &files.path("tsr"))
}

/// A line as `sha256sum` writes it.
fn line(name: &str, bytes: &[u8]) -> String {
    format!("{}  {name}\n", hex(&<[u8; 32]>::from(Sha256::digest(bytes))))
}

/// TimeStampReq in DER: version 1, SHA-256 of what is stamped, a nonce, and the wish for the certificates.
fn query(digest: &[u8; 32], mut nonce: [u8; 8]) -> Vec<u8> {
    // A positive number of eight bytes in its shortest form.
    nonce[0] = nonce[0] & 0x3f | 0x40;
    let mut out = vec![0x30, 0x43, 0x02, 0x01, 0x01, 0x30, 0x31, 0x30, 0x0d];
    // The identifier of SHA-256, 2.16.840.1.101.3.4.2.1, and no parameters (RFC 5754 section 2).
    out.extend([0x06, 0x09, 0x60, 0x86, 0x48, 0x01, 0x65, 0x03, 0x04, 0x02, 0x01, 0x05, 0x00, 0x04, 0x20]);
    out.extend(digest);
    out.extend([0x02, 0x08]);
    out.extend(nonce);
    out.extend([0x01, 0x01, 0xff]);
    out
}

/// Keeps a reply with the certificates up to a root, once it has been checked at its own time.
///
/// # Errors
/// When it answers none of the requests, or does not hold; nothing is kept then.
pub fn keep(disk: &dyn Disk, place: &Place, reply_at: &Path, chain_at: &Path) -> Outcome<Stamp> {
    let (reply, chain) = (read(disk, reply_at)?, read(disk, chain_at)?);
    let mut last = "no request waits for a reply".to_string();
    for number in numbers(disk, place, "tsq") {
        let files = Files(folder(place), number);
        if stamped(disk, &files)? {
            continue;
        }
        match judged(&files.path("sha256"), reply_at, chain_at)? {
            Ok(times) => {
                for (ending, bytes) in [("chain.pem", &chain), ("tsr", &reply)] {
                    let path = files.path(ending);
                    disk.put(&path, bytes).map_err(|e| Trouble::disk("write", &path, &e))?;
                }
                return Ok(Stamp { number, checked: Ok(times) });
            }
            Err(why) => last = why,
        }
    }
    Err(Trouble::new(
        Kind::Refused,
        format!("This time stamp is not a right answer to a request from here: {last}."),
        "Nothing was kept.",
        "Check that the reply belongs to the newest request, and that --chain holds all certificates up to the root.",
    ))
}

fn read(disk: &dyn Disk, path: &Path) -> Outcome<Vec<u8>> {
    let bytes = disk.read(path).map_err(|e| {
        Trouble::input(
            format!("Could not read {}: {e}.", path.display()),
            "Check the path, then do it again.",
        )
    })?;
    if bytes.len() > MOST {
        return Err(Trouble::input(
            format!("{} is too long for a time stamp or its certificates.", path.display()),
            "Name the right file.",
        ));
    }
    Ok(bytes)
}

/// Checks every stamp kept, the newest first.
///
/// # Errors
/// When `openssl` can't be run.
pub fn check(practice: &Practice) -> Outcome<Vec<Stamp>> {
    let (disk, place) = (&*practice.world.disk, &practice.place);
    let (scan, leaves) = (practice.scan(), practice.leaf_hashes()?);
    let mut stamps = Vec::new();
    for number in numbers(disk, place, "tsr") {
        let files = Files(folder(place), number);
        let checked = match listed(disk, place, (scan, &leaves), &files) {
            Ok(()) => judged(&files.path("sha256"), &files.path("tsr"), &files.path("chain.pem"))?,
            Err(why) => Err(why),
        };
        stamps.push(Stamp { number, checked });
    }
    Ok(stamps)
}

/// Whether the stamped list is over the files that lie there, and its checkpoint over this ledger.
fn listed(
    disk: &dyn Disk,
    place: &Place,
    (scan, leaves): (&Scan, &[Hash]),
    files: &Files,
) -> Result<(), String> {
    let read = |name: &str| {
        let plain = !name.contains('/') && !name.starts_with('.');
        let bytes = if plain { disk.read(&files.0.join(name)).ok() } else { None };
        bytes.ok_or_else(|| format!("{name} is missing"))
    };
    let list = String::from_utf8(read(&files.name("sha256"))?).unwrap_or_default();
    let checkpoint = files.name("checkpoint");
    if list
        .lines()
        .next()
        .is_none_or(|first| first.split_once("  ").is_none_or(|(_, name)| name != checkpoint))
    {
        return Err("its list does not begin with its checkpoint".to_string());
    }
    for said in list.lines() {
        let name = said.split_once("  ").map_or("", |(_, name)| name);
        if format!("{said}\n") != line(name, &read(name)?) {
            return Err(format!("{name} is not the file that was stamped"));
        }
    }
    let stamped = Checkpoint::open(&read(&checkpoint)?, &place.key).map_err(|e| e.to_string())?;
    match &scan.checkpoint {
        Some((newest, _)) if continues(leaves, newest, &stamped) => Ok(()),
        _ => Err("the ledger does not continue the checkpoint that was stamped".to_string()),
    }
}

/// Lets `openssl` judge a reply at its own time: that time and the end of the certificate that ends first, or why not.
fn judged(data: &Path, reply: &Path, chain: &Path) -> Outcome<Result<(Moment, Moment), String>> {
    let said = openssl(&[&"ts", &"-reply", &"-text", &"-in", &reply])?;
    let Some(at) = said.after("Time stamp: ").and_then(moment) else {
        return Ok(Err("the file holds no time stamp".to_string()));
    };
    let when = at.unix().to_string();
    // A root in `chain` is where trust ends; whether it deserves trust is for the reader to say.
    let how: [&dyn AsRef<OsStr>; 12] = [
        &"ts",
        &"-verify",
        &"-attime",
        &when,
        &"-data",
        &data,
        &"-in",
        &reply,
        &"-CAfile",
        &chain,
        &"-untrusted",
        &chain,
    ];
    let judged = openssl(&how)?;
    if !judged.good || !judged.out.contains("Verification: OK") {
        let errors = judged.err.lines().rev().filter(|l| l.contains(":error:"));
        let why = errors.filter_map(|l| l.split(':').nth(5)).next().unwrap_or("verification failed");
        return Ok(Err(format!("openssl says: {why}")));
    }
    let token = run(&[&"ts", &"-reply", &"-token_out", &"-in", &reply], &[])?.stdout;
    let inside = run(&[&"pkcs7", &"-inform", &"DER", &"-print_certs", &"-noout", &"-text"], &token)?;
    let beside = openssl(&[&"storeutl", &"-noout", &"-text", &"-certs", &chain])?;
    let inside = Said::from(inside);
    let ends = [inside, beside].iter().flat_map(Said::ends).min();
    Ok(ends.map(|end| (at, end)).ok_or_else(|| "no certificate came with it".to_string()))
}

/// What `openssl` said.
struct Said {
    good: bool,
    out: String,
    err: String,
}

impl Said {
    /// The rest of the line behind these words.
    fn after(&self, words: &str) -> Option<&str> {
        self.out.lines().find_map(|line| line.strip_prefix(words))
    }

    /// The last moments of all certificates that it printed.
    fn ends(&self) -> Vec<Moment> {
        self.out
            .lines()
            .filter_map(|line| line.trim().strip_prefix("Not After : "))
            .filter_map(moment)
            .collect()
    }
}

impl From<Output> for Said {
    fn from(ran: Output) -> Said {
        let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
        Said { good: ran.status.success(), out: text(&ran.stdout), err: text(&ran.stderr) }
    }
}

fn openssl(how: &[&dyn AsRef<OsStr>]) -> Outcome<Said> {
    run(how, &[]).map(Said::from)
}

/// Runs `openssl` with these words and this input.
fn run(how: &[&dyn AsRef<OsStr>], input: &[u8]) -> Outcome<Output> {
    let mut command = Command::new("openssl");
    command.args(how.iter().map(|word| word.as_ref())).env("LC_ALL", "C");
    command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let ran = command.spawn().and_then(|mut child| {
        if let Some(mut stdin) = child.stdin.take() {
            // It may have ended before it read anything; then its answer says why.
            let _ = stdin.write_all(input);
        }
        child.wait_with_output()
    });
    ran.map_err(|e| {
        Trouble::new(
            Kind::NotFound,
            format!("The program openssl can't be run ({e}); it judges time stamps."),
            "Nothing was changed.",
            "Install openssl 3, then do it again.",
        )
    })
}

/// A moment as openssl prints it: `Jun  8 00:06:12 2027 GMT`, perhaps with a fraction of the second.
fn moment(text: &str) -> Option<Moment> {
    let words: Vec<&str> = text.split_whitespace().collect();
    let [month, day, time, year, "GMT"] = words.as_slice() else { return None };
    let months = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
    let month = months.iter().position(|m| m == month)? + 1;
    Moment::parse(&format!("{year}-{month:02}-{day:0>2}T{}Z", time.split('.').next()?)).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moments_as_openssl_prints_them() {
        let read = |text| moment(text).map(|m| m.to_string());
        assert_eq!(read("Nov 30 00:06:12 2026 GMT").as_deref(), Some("2026-11-30T00:06:12Z"));
        assert_eq!(read("Jun  8 23:59:59.25 2027 GMT").as_deref(), Some("2027-06-08T23:59:59Z"));
        for wrong in ["", "Nov 30 00:06:12 2026", "30 Nov 00:06:12 2026 GMT", "Nov 31 00:06:12 2026 GMT"] {
            assert_eq!(read(wrong), None, "{wrong}");
        }
    }

    /// RFC 3161 section 2.4.1 and X.690; the same bytes as `openssl ts -query -digest 00... -sha256 -cert` but for the nonce.
    #[test]
    fn the_request_is_der() {
        let query = query(&[0; 32], [0xff; 8]);
        assert_eq!((query[1] as usize, query.len()), (query.len() - 2, 69));
        assert_eq!(query[query.len() - 12..][..3], [0x08, 0x7f, 0xff]);
    }
}
