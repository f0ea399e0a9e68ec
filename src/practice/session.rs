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
use crate::world::World;
use std::collections::HashMap;
use std::sync::{Arc, Mutex};
use zeroize::Zeroizing;

/// The line that `keys/ledger.age` opens to begins with this.
pub const CHECKPOINT_SEED: &str = "# checkpoint key (Ed25519 seed, base64): ";

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
}

/// Name of a person's identity file.
pub fn staff_file(code: &str) -> String {
    format!("staff-{code}.age")
}

/// Name of a role's identity file.
pub fn role_file(role: KeyRole) -> String {
    format!("role-{}.age", role.word())
}

/// Name of a chart's identity file.
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
pub fn chart_key_files(world: &World, place: &Place, tag: &str) -> Vec<String> {
    let names = [chart_note(tag), chart_file(tag, KeyRole::Clinical), chart_file(tag, KeyRole::Desk)];
    let there = |name: &String| {
        [String::new(), BEING_DESTROYED.to_string()]
            .iter()
            .any(|end| world.disk.exists(&place.key_file(&format!("{name}{end}"))))
    };
    names.into_iter().filter(there).collect()
}

impl Session {
    /// Opens a person's identity file with their passphrase, and then what their roles open.
    pub fn unlock(world: &World, place: &Place, code: &str, passphrase: &str) -> Outcome<Session> {
        let path = place.key_file(&staff_file(code));
        if !valid_code(code) || !world.disk.exists(&path) {
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
        Ok(Session { me, roles, vouch, asks_pin: false, adding: None, file_keys, charts })
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
    match text.lines().find(|l| l.starts_with("AGE-SECRET-KEY-1")).and_then(Identity::parse) {
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
    if !world.disk.exists(&path) {
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

/// The plain text of an identity file for `identity`.
pub fn identity_text(what: &str, identity: &Identity) -> Zeroizing<String> {
    Zeroizing::new(format!("# inkfast {what}\n{}\n", identity.to_text().as_str()))
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

/// Reads a chart's public recipients: what is added to the chart is sealed to these. The note
/// must be signed by a listed key, so nobody can slip in a recipient of their own.
pub fn chart_recipients(
    world: &World,
    place: &Place,
    book: &KeyBook,
    tag: &str,
) -> Outcome<(Recipient, Recipient)> {
    let path = place.key_file(&chart_note(tag));
    if !world.disk.exists(&path) {
        return Err(Trouble::new(
            Kind::Refused,
            "This chart's keys are gone: it was disposed of.",
            "Nothing was written.",
            "Open a new chart if the person comes again.",
        ));
    }
    let bytes = world.disk.read(&path).map_err(|e| Trouble::disk("read", &path, &e))?;
    let note = Note::parse(&bytes).ok();
    let verifiers: Vec<_> = book.staff().iter().map(|l| &l.verifier).collect();
    let read = note.filter(|n| n.verify(&verifiers).is_ok()).and_then(|n| {
        let field = |word: &str| n.text.lines().find_map(|l| l.strip_prefix(word)).and_then(Recipient::parse);
        let (desk, clinical) = (field("desk ")?, field("clinical ")?);
        (n.text == recipients_text(place.key.name(), tag, &desk, &clinical)).then_some((desk, clinical))
    });
    read.ok_or_else(|| {
        Trouble::damaged("The note of this chart's recipients is damaged or not signed by staff.")
    })
}
