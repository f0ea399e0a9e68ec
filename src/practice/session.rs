//! Unlocking: from one person's passphrase to everything their roles open, and nothing else.

use super::adding::Kit;
use super::place::Place;
use crate::record::kinds::register::KeyRole;
use crate::seal::age_file::{self, Identity, Recipient, To, With};
use crate::seal::file_keys::FileKeys;
use crate::seal::identity::StaffIdentity;
use crate::seal::keybook::KeyBook;
use crate::seal::note::{Note, Signer};
use crate::trouble::{Kind, Outcome, Trouble};
use crate::world::{World, is_there};
use std::collections::HashMap;
use std::sync::{Arc, Mutex};
use zeroize::Zeroizing;

/// The line that `keys/ledger.age` opens to begins with this.
pub const CHECKPOINT_SEED: &str = "# checkpoint key (Ed25519 seed, base64): ";

/// The staff code that a recovery sheet signs with, once, to name a new keeper of the records.
pub const SHEET_CODE: &str = "RECOVERY";

/// Name of the file with the sheet's signing key, sealed to the sheet alone.
pub const SHEET_FILE: &str = "recovery.age";

/// The roles whose identities exist as files.
pub const READING_ROLES: [KeyRole; 2] = [KeyRole::Desk, KeyRole::Clinical];

/// The two identities of a chart.
#[derive(Clone, Default)]
pub struct ChartKeys {
    /// Opens who-and-when.
    pub desk: Option<Identity>,
    /// Opens the rest.
    pub clinical: Option<Identity>,
}

/// Everything one unlocked person can open.
pub struct Session {
    /// The person.
    pub me: StaffIdentity,
    /// Their role identities.
    pub roles: Vec<(KeyRole, Identity)>,
    /// The checkpoint key, unless the person's roles may only verify.
    pub vouch: Option<Signer>,
    /// True when the short number is asked again before signing, because nobody gave a passphrase for
    /// this command.
    pub asks_pin: bool,
    adding: Option<Box<Kit>>,
    /// The keys of files opened so far.
    pub file_keys: Arc<FileKeys>,
    /// The chart identities unsealed so far, by the name of their file.
    charts: Mutex<HashMap<String, Option<Identity>>>,
    /// The notes of charts' recipients that were checked so far, by the tag.
    notes: Mutex<HashMap<String, CheckedNote>>,
}

/// A note of recipients that was checked: its bytes and the keys of staff it was held against, and what it says.
struct CheckedNote {
    digest: [u8; 32],
    listed: usize,
    to: (Recipient, Recipient),
}

/// Name of a person's identity file.
pub fn staff_file(code: &str) -> String {
    format!("staff-{code}.age")
}

/// Name of a role's identity file.
pub fn role_file(role: KeyRole) -> String {
    format!("role-{}.age", role.word())
}

/// Name of the file of one of a chart's identities.
pub fn chart_file(tag: &str, role: KeyRole) -> String {
    format!("chart-{tag}-{}.age", role.word())
}

/// Name of the note of a chart's recipients.
pub fn chart_note(tag: &str) -> String {
    format!("chart-{tag}.note")
}

/// What the name of a file ends with while it is being destroyed: nothing reads it under that name.
pub const BEING_DESTROYED: &str = ".destroyed";

/// The key files of a chart that lie in the store, also those that are being destroyed: first the note of its
/// recipients, without which nothing is added to the chart.
///
/// # Errors
/// When it can't be told whether one of them is there.
pub fn chart_key_files(world: &World, place: &Place, tag: &str) -> Outcome<Vec<String>> {
    let mut there = Vec::new();
    for name in [chart_note(tag), chart_file(tag, KeyRole::Clinical), chart_file(tag, KeyRole::Desk)] {
        let ends = ["", BEING_DESTROYED].map(|end| place.key_file(&format!("{name}{end}")));
        if is_there(&*world.disk, &ends[0])? || is_there(&*world.disk, &ends[1])? {
            there.push(name);
        }
    }
    Ok(there)
}

impl Session {
    /// Opens a person's identity file with their passphrase, and then what their roles open.
    pub fn unlock(world: &World, place: &Place, code: &str, passphrase: &str) -> Outcome<Session> {
        let path = place.key_file(&staff_file(code));
        if !valid_code(code) || !is_there(&*world.disk, &path)? {
            return Err(Trouble::new(
                Kind::Locked,
                "Nobody with that staff code has a key in this store.",
                "Nothing was changed.",
                "Check the code (for example the initials) given with --as.",
            ));
        }
        let sealed = world.disk.read(&path).map_err(|e| Trouble::disk("read", &path, &e))?;
        let me = StaffIdentity::open(&sealed, passphrase).map_err(|e| e.about("This identity"))?;
        Session::with(world, place, me)
    }

    /// What an opened staff identity opens.
    pub fn with(world: &World, place: &Place, me: StaffIdentity) -> Outcome<Session> {
        Session::remembering(world, place, me, Arc::default())
    }

    /// As [`Session::with`], with the file keys that were found before.
    pub fn remembering(
        world: &World,
        place: &Place,
        me: StaffIdentity,
        file_keys: Arc<FileKeys>,
    ) -> Outcome<Session> {
        let mut roles = Vec::new();
        for role in READING_ROLES {
            let held = With::Remembering(std::slice::from_ref(&me.identity), &file_keys);
            if let Some(identity) = open_identity(world, place, &role_file(role), &held)? {
                roles.push((role, identity));
            }
        }
        let held: Vec<Identity> = roles.iter().map(|(_, i)| i.clone()).collect();
        let vouch = open_checkpoint_key(world, place, &With::Remembering(&held, &file_keys))?;
        let charts = Mutex::default();
        Ok(Session {
            me,
            roles,
            vouch,
            asks_pin: false,
            adding: None,
            file_keys,
            charts,
            notes: Mutex::default(),
        })
    }

    /// What the recovery sheet opens: everything. It signs with a key of its own.
    ///
    /// # Errors
    /// When the sheet is not of this store, or was made before sheets could sign.
    pub fn recovered(world: &World, place: &Place, sheet: &Identity) -> Outcome<Session> {
        super::setup::prove_recovery(world, place, sheet)?;
        let held = With::Identities(std::slice::from_ref(sheet));
        let me = open_key_file(world, place, SHEET_FILE, &held)?
            .and_then(|plain| StaffIdentity::from_text(std::str::from_utf8(&plain).ok()?));
        let me = me.ok_or_else(|| {
            Trouble::new(
                Kind::Refused,
                "This recovery sheet opens every record, but it was made before sheets could name a new keeper.",
                "Nothing was changed.",
                "Read the records with it (schema/FORMAT.md, \"In an emergency\"), and begin a new store that \
                 goes on from this one: `inkfast init --goes-on-from FOLDER`.",
            )
        })?;
        let mut session = Session::with(world, place, me)?;
        for role in READING_ROLES {
            if let Some(identity) = open_identity(world, place, &role_file(role), &held)? {
                session.roles.push((role, identity));
            }
        }
        session.vouch = open_checkpoint_key(world, place, &held)?;
        Ok(session)
    }

    /// Puts a role's new identity in place of the one held, and forgets the charts' identities read so far.
    pub(super) fn renewed(&mut self, role: KeyRole, identity: Identity) {
        self.roles.retain(|(held, _)| *held != role);
        self.roles.push((role, identity));
        self.forget_charts();
    }

    /// Forgets the charts' identities read so far: their files have changed.
    pub(super) fn forget_charts(&self) {
        self.charts.lock().unwrap_or_else(std::sync::PoisonError::into_inner).clear();
    }

    /// The same person with the same roles, who only reads.
    pub(super) fn reader(&self) -> Outcome<Session> {
        let me = StaffIdentity::from_text(&self.me.to_text())
            .ok_or_else(|| Trouble::damaged("This identity can't be used."))?;
        let charts = self.charts.lock().unwrap_or_else(std::sync::PoisonError::into_inner).clone();
        Ok(Session {
            me,
            roles: self.roles.clone(),
            vouch: None,
            asks_pin: false,
            adding: None,
            file_keys: self.file_keys.clone(),
            charts: Mutex::new(charts),
            notes: Mutex::default(),
        })
    }

    /// A session of a locked desk: it signs and opens nothing.
    pub(super) fn adding(me: StaffIdentity, vouch: Signer, kit: Kit) -> Session {
        Session {
            me,
            roles: Vec::new(),
            vouch: Some(vouch),
            asks_pin: false,
            adding: Some(Box::new(kit)),
            file_keys: Arc::default(),
            charts: Mutex::default(),
            notes: Mutex::default(),
        }
    }

    /// What a locked desk remembers; none when this session reads.
    pub fn kit(&self) -> Option<&Kit> {
        self.adding.as_deref()
    }

    /// The checkpoint key, or why there is none.
    pub fn vouch(&self) -> Outcome<&Signer> {
        self.vouch.as_ref().ok_or_else(|| {
            Trouble::new(
                Kind::Locked,
                "This person may verify, but neither read nor write.",
                "Nothing was written.",
                "Ask somebody with the desk or clinical role.",
            )
        })
    }

    /// Lets go of everything the roles open: from now on this person may only verify.
    pub fn lock(&mut self) {
        self.roles.clear();
        self.vouch = None;
        self.adding = None;
        self.file_keys.forget();
        self.charts.lock().unwrap_or_else(std::sync::PoisonError::into_inner).clear();
    }

    /// True when the person holds this role's identity.
    pub fn holds(&self, role: KeyRole) -> bool {
        self.roles.iter().any(|(r, _)| *r == role)
    }

    /// The role identities held.
    pub fn role_identities(&self) -> Vec<Identity> {
        self.roles.iter().map(|(_, i)| i.clone()).collect()
    }

    /// Lets go of a chart's identities, and of every file key found so far.
    pub fn forget_chart(&self, tag: &str) {
        self.file_keys.forget();
        let mut charts = self.charts.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        READING_ROLES.iter().for_each(|role| drop(charts.remove(&chart_file(tag, *role))));
    }

    /// The chart's identities, as far as the person's roles open them. Both missing means that
    /// the chart was disposed of or that no role opens it.
    pub fn chart_keys(&self, world: &World, place: &Place, tag: &str) -> Outcome<ChartKeys> {
        Ok(ChartKeys {
            desk: self.chart_key(world, place, tag, KeyRole::Desk)?,
            clinical: self.chart_key(world, place, tag, KeyRole::Clinical)?,
        })
    }

    /// One of the chart's identities, unsealed once.
    pub fn chart_key(
        &self,
        world: &World,
        place: &Place,
        tag: &str,
        role: KeyRole,
    ) -> Outcome<Option<Identity>> {
        let cache = || self.charts.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        let name = chart_file(tag, role);
        if let Some(key) = cache().get(&name) {
            return Ok(key.clone());
        }
        // The role's own identity is tried first: trying one costs as much as opening.
        let (own, other): (Vec<_>, Vec<_>) = self.roles.iter().partition(|(r, _)| *r == role);
        let held: Vec<Identity> = own.into_iter().chain(other).map(|(_, i)| i.clone()).collect();
        let key = open_identity(world, place, &name, &With::Remembering(&held, &self.file_keys))?;
        cache().insert(name, key.clone());
        Ok(key)
    }
}

impl Session {
    /// A chart's public recipients: what is added to the chart is sealed to these. The note that names them must be
    /// signed by a listed key, so nobody can slip in a recipient of their own. It is read each time, and checked again
    /// when it changed or a key was listed since.
    ///
    /// # Errors
    /// When the chart was disposed of, or the note is not what it must be.
    pub fn chart_recipients(
        &self,
        world: &World,
        place: &Place,
        book: &KeyBook,
        tag: &str,
    ) -> Outcome<(Recipient, Recipient)> {
        let path = place.key_file(&format!("chart-{tag}.note"));
        let bytes = world.disk.read(&path).map_err(|e| match e.kind() {
            std::io::ErrorKind::NotFound => Trouble::new(
                Kind::Refused,
                "This chart's keys are gone: it was disposed of.",
                "Nothing was written.",
                "Open a new chart if the person comes again.",
            ),
            _ => Trouble::disk("read", &path, &e),
        })?;
        let (digest, listed) = (*blake3::hash(&bytes).as_bytes(), book.staff().len());
        let known = || self.notes.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        if let Some(note) = known().get(tag).filter(|note| note.digest == digest && note.listed == listed) {
            return Ok(note.to.clone());
        }
        let to = recipients(place, book, tag, &bytes).ok_or_else(|| {
            Trouble::damaged("The note of this chart's recipients is damaged or not signed by staff.")
        })?;
        known().insert(tag.to_string(), CheckedNote { digest, listed, to: to.clone() });
        Ok(to)
    }
}

/// A staff code: 1 to 12 letters, digits or hyphens, beginning with a letter.
pub fn valid_code(code: &str) -> bool {
    (1..=12).contains(&code.len())
        && code.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-')
        && code.as_bytes()[0].is_ascii_alphabetic()
}

/// Opens an identity file in `keys/`; none when it is not there or `held` does not open it.
pub fn open_identity(world: &World, place: &Place, name: &str, held: &With<'_>) -> Outcome<Option<Identity>> {
    let Some(plain) = open_key_file(world, place, name, held)? else { return Ok(None) };
    let text = std::str::from_utf8(&plain).unwrap_or_default();
    match Identity::parse_file(text) {
        Some(identity) => Ok(Some(identity)),
        None => Err(Trouble::damaged("A key file does not hold an identity.")),
    }
}

fn open_key_file(
    world: &World,
    place: &Place,
    name: &str,
    held: &With<'_>,
) -> Outcome<Option<Zeroizing<Vec<u8>>>> {
    let path = place.key_file(name);
    if !is_there(&*world.disk, &path)? {
        return Ok(None);
    }
    let sealed = world.disk.read(&path).map_err(|e| Trouble::disk("read", &path, &e))?;
    match age_file::open(held, &sealed) {
        Ok(plain) => Ok(Some(plain)),
        Err(age_file::OpenError::NoKey) => Ok(None),
        Err(e) => Err(e.about("A key file")),
    }
}

/// The seed of the checkpoint key, as far as `held` opens it.
pub(super) fn checkpoint_seed(
    world: &World,
    place: &Place,
    held: &With<'_>,
) -> Outcome<Option<Zeroizing<[u8; 32]>>> {
    let Some(plain) = open_key_file(world, place, "ledger.age", held)? else { return Ok(None) };
    let seed = std::str::from_utf8(&plain)
        .ok()
        .and_then(|t| t.trim_end().strip_prefix(CHECKPOINT_SEED))
        .and_then(|t| data_encoding::BASE64.decode(t.as_bytes()).ok().map(Zeroizing::new))
        .and_then(|seed| <[u8; 32]>::try_from(&seed[..]).ok().map(Zeroizing::new))
        .ok_or_else(|| Trouble::damaged("keys/ledger.age does not hold the checkpoint key."))?;
    Ok(Some(seed))
}

fn open_checkpoint_key(world: &World, place: &Place, held: &With<'_>) -> Outcome<Option<Signer>> {
    let Some(seed) = checkpoint_seed(world, place, held)? else { return Ok(None) };
    let signer = Signer::from_seed(place.key.name(), &seed)
        .map_err(|_| Trouble::damaged("keys/ledger.age does not hold the checkpoint key."))?;
    if signer.vkey() != place.file.checkpoint_key {
        return Err(Trouble::damaged("The checkpoint key in keys/ is not the one that store.json names."));
    }
    Ok(Some(signer))
}

/// The plain text of an identity file for `identity`; the ones that it has replaced stand behind it.
pub fn identity_text(what: &str, identity: &Identity) -> Zeroizing<String> {
    let lines = identity.each().count();
    let mut text = Zeroizing::new(String::with_capacity(96 * (lines + 1)));
    text.push_str(&format!("# inkfast {what}\n"));
    for (place, one) in identity.each().enumerate() {
        if place == 1 {
            text.push_str("# earlier ones, for what was sealed before\n");
        }
        text.push_str(one.to_text().as_str());
        text.push('\n');
    }
    text
}

/// Seals an identity into a file of `keys/`.
pub fn put_identity(
    world: &World,
    place: &Place,
    name: &str,
    what: &str,
    identity: &Identity,
    to: &[Recipient],
) -> Outcome<()> {
    let text = identity_text(what, identity);
    put_sealed(world, place, name, text.as_bytes(), to)
}

/// Seals bytes into a file of `keys/`.
pub fn put_sealed(world: &World, place: &Place, name: &str, plain: &[u8], to: &[Recipient]) -> Outcome<()> {
    let path = place.key_file(name);
    let trouble = |e: std::io::Error| Trouble::disk("write", &path, &e);
    let sealed = age_file::seal(&To::Recipients(to), plain).map_err(trouble)?;
    world.disk.put(&path, &sealed).map_err(trouble)
}

/// The text of a chart's recipients note.
pub fn recipients_text(origin: &str, tag: &str, desk: &Recipient, clinical: &Recipient) -> String {
    format!("inkfast-chart-recipients/v1\n{origin}\n{tag}\ndesk {desk}\nclinical {clinical}\n")
}

/// The recipients that a note of this chart names, if it is as it must be.
fn recipients(place: &Place, book: &KeyBook, tag: &str, bytes: &[u8]) -> Option<(Recipient, Recipient)> {
    let note = Note::parse(bytes).ok()?;
    let verifiers: Vec<_> = book.staff().iter().map(|l| &l.verifier).collect();
    note.verify(&verifiers).ok()?;
    let field = |word: &str| note.text.lines().find_map(|l| l.strip_prefix(word)).and_then(Recipient::parse);
    let (desk, clinical) = (field("desk ")?, field("clinical ")?);
    (note.text == recipients_text(place.key.name(), tag, &desk, &clinical)).then_some((desk, clinical))
}
