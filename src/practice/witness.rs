//! Showing the newest checkpoint to witnesses. The only place where this program speaks to another computer, and
//! only when it is told to.

use super::place::Place;
use crate::ledger::checkpoint::Checkpoint;
use crate::ledger::policy::{Policy, Witness};
use crate::ledger::scan::Scan;
use crate::ledger::tree::Hash;
use crate::ledger::witness::{Answer, MAX_ANSWER, Refusal, allowed, read, request};
use crate::seal::note::{Cosigner, Note, SignatureLine};
use crate::trouble::{Kind, Outcome, Trouble};
use crate::verify::witnessed::{self, Kept};
use crate::world::Disk;
use std::time::Duration;

/// What came of asking one witness.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Asked {
    /// Its name in the policy.
    pub name: String,
    /// When it saw the checkpoint by its own clock (POSIX seconds), or why it did not sign.
    pub seen: Result<u64, Refusal>,
}

/// How long to wait for a witness where nothing else is said.
pub const PATIENCE: Duration = Duration::from_secs(20);

/// What came of asking all of them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Round {
    /// Size of the checkpoint they were shown.
    pub size: u64,
    /// Each that was asked.
    pub asked: Vec<Asked>,
    /// Whether those who signed are enough for the policy.
    pub met: bool,
}

/// Reads a policy and makes sure that it is about this ledger.
///
/// # Errors
/// When it is no policy, or names another ledger.
pub fn policy_of(bytes: &[u8], place: &Place) -> Outcome<Policy> {
    let policy = Policy::parse(bytes).map_err(|e| {
        Trouble::input(
            format!("This is no policy that can be used: {e}."),
            "Correct the file; see C2SP tlog-policy.",
        )
    })?;
    if policy.verifiers().contains(&place.key) {
        return Ok(policy);
    }
    Err(Trouble::input(
        "The policy does not name this ledger's key.",
        format!("Its line is: log {}", place.key),
    ))
}

/// Shows the newest checkpoint to every witness of the policy, and keeps what they sign in the store.
///
/// # Errors
/// When the ledger has no checkpoint, or the disk fails. A witness that refuses is no error.
pub fn show(
    disk: &dyn Disk,
    place: &Place,
    (scan, leaves): (&Scan, &[Hash]),
    policy: &Policy,
    patience: Duration,
) -> Outcome<Round> {
    let (newest, bytes) =
        scan.checkpoint.as_ref().ok_or_else(|| Trouble::damaged("The ledger has no checkpoint."))?;
    let sent = Note::parse(bytes).map_err(|_| Trouble::damaged("The newest checkpoint can't be read."))?;
    let shown = Shown { newest, bytes, sent: &sent, leaves, patience };
    let (kept, _) = witnessed::read(disk, &place.root, &place.key);
    let (mut asked, mut lines) = (Vec::new(), Vec::new());
    for witness in policy.witnesses() {
        let seen = shown.to(witness, &kept).map(|(line, time)| {
            lines.push(line);
            time
        });
        asked.push(Asked { name: witness.name.clone(), seen });
    }
    if !lines.is_empty() {
        witnessed::keep(disk, &place.root, &sent, newest.size, &lines)?;
    }
    let met = policy.is_met(|name| asked.iter().any(|a| a.name == name && a.seen.is_ok()));
    Ok(Round { size: newest.size, asked, met })
}

/// The policy that witnesses were last asked by.
///
/// # Errors
/// When there is none, or it is not about this ledger.
pub fn last_policy(disk: &dyn Disk, place: &Place) -> Outcome<Policy> {
    let bytes = witnessed::kept_policy(disk, &place.root).ok_or_else(|| {
        Trouble::input(
            "No witnesses are named yet.",
            "Run `inkfast slip witness --policy FILE` first, with a file that names them (C2SP tlog-policy; \
             schema/CHECK.md has an example).",
        )
    })?;
    policy_of(&bytes, place)
}

/// A checkpoint with the lines that witnesses of the last policy left on the kept copy of it.
pub fn with_lines(disk: &dyn Disk, place: &Place, bytes: &[u8]) -> Vec<u8> {
    let (Ok(policy), Ok(mut note)) = (last_policy(disk, place), Note::parse(bytes)) else {
        return bytes.to_vec();
    };
    let keys: Vec<Cosigner> =
        policy.witnesses().iter().filter_map(|w| Cosigner::try_from(&w.key).ok()).collect();
    let (kept, _) = witnessed::read(disk, &place.root, &place.key);
    let same = kept.into_iter().find(|k| k.note.text == note.text);
    for line in same.into_iter().flat_map(|k| k.note.signatures) {
        let alone = Note { text: note.text.clone(), signatures: vec![line.clone()] };
        if keys.iter().any(|key| matches!(key.check(&alone), Ok(Some(_)))) {
            note.signatures.push(line);
        }
    }
    note.to_string().into_bytes()
}

/// Keeps the policy for the next time, and for `verify`.
///
/// # Errors
/// When the disk fails.
pub fn keep_policy(disk: &dyn Disk, place: &Place, bytes: &[u8]) -> Outcome<()> {
    let dir = witnessed::folder(&place.root);
    let path = dir.join(witnessed::POLICY);
    disk.create_dirs(&dir)
        .and_then(|()| disk.put(&path, bytes))
        .map_err(|e| Trouble::disk("write", &path, &e))
}

/// A checkpoint on its way to witnesses.
struct Shown<'a> {
    newest: &'a Checkpoint,
    bytes: &'a [u8],
    sent: &'a Note,
    leaves: &'a [Hash],
    patience: Duration,
}

impl Shown<'_> {
    fn to(&self, witness: &Witness, kept: &[Kept]) -> Result<(SignatureLine, u64), Refusal> {
        let url = witness.url.as_deref().ok_or(Refusal::Address("the policy gives no address for it"))?;
        allowed(url)?;
        let key = Cosigner::try_from(&witness.key).map_err(|_| Refusal::UnknownKey)?;
        let mut old = witnessed::seen_by(kept, &key).map_or(0, |(seen, _)| seen.checkpoint.size);
        // A second 409 can come of somebody else asking at the same time; a third can't.
        for _ in 0..3 {
            let body = request(old, self.newest, self.bytes, self.leaves).ok_or(Refusal::Ahead(old))?;
            let (status, answer) =
                post(&format!("{}/add-checkpoint", url.trim_end_matches('/')), &body, self.patience)?;
            match read(status, &answer, old, self.sent, &key) {
                Answer::Signed(line, time) => return Ok((line, time)),
                Answer::Saw(size) if size > self.newest.size => return Err(Refusal::Ahead(size)),
                Answer::Saw(size) => old = size,
                Answer::Refused(refusal) => return Err(refusal),
            }
        }
        Err(Refusal::Unsteady)
    }
}

/// Sends one request and reads its answer: no redirect is followed, no more is read than an answer can hold.
fn post(url: &str, body: &[u8], patience: Duration) -> Result<(u16, Vec<u8>), Refusal> {
    let unreachable = |e: ureq::Error| Refusal::Unreachable(e.to_string());
    let mut config = ureq::Agent::config_builder()
        .timeout_global(Some(patience))
        .http_status_as_error(false)
        .max_redirects(0)
        .max_redirects_will_error(false)
        .user_agent("inkfast");
    if url.starts_with("http://") {
        config = config.proxy(None);
    }
    let mut answer = config
        .build()
        .new_agent()
        .post(url)
        .content_type("text/plain; charset=utf-8")
        .send(body)
        .map_err(unreachable)?;
    let read = answer.body_mut().with_config().limit(MAX_ANSWER).read_to_vec().map_err(unreachable)?;
    Ok((answer.status().as_u16(), read))
}

/// Says what to do where a witness saw more than the ledger has.
pub fn ahead(round: &Round) -> Option<Trouble> {
    let size = round.asked.iter().find_map(|a| match a.seen {
        Err(Refusal::Ahead(size)) => Some(size),
        _ => None,
    })?;
    Some(Trouble::new(
        Kind::Behind,
        format!("A witness saw {size} entries, and this ledger has {}.", round.size),
        "Nothing was changed. This is an older copy of the store, or its end was cut off.",
        "Look for the newer copy. If it is lost, the owner records why with `inkfast slip behind`.",
    ))
}
