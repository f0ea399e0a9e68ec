//! Setting up: a new store with its keys, its recovery sheet and its first entries.

use super::open::{Draft, Practice};
use super::place::{Place, STORE_EDITION, StoreFile};
use super::session::{
    CHECKPOINT_SEED, SHEET_CODE, SHEET_FILE, Session, chart_file, put_identity, put_sealed, recipients_text,
    role_file, staff_file, valid_code,
};
use crate::ledger::scan::scan_to_newest;
use crate::ledger::segment::SEGMENT_BYTES;
use crate::ledger::write::Writer;
use crate::record::kinds::register::{
    EarlierLedger, KeyRole, Keys, RegisterOpened, RoleKey, Staff, StaffKey,
};
use crate::record::kinds::{Data, Day};
use crate::seal::age_file::{self, Identity, Recipient, WORK_FACTOR, With};
use crate::seal::identity::StaffIdentity;
use crate::seal::note::{Signer, sign};
use crate::trouble::{Kind, Outcome, Trouble};
use crate::world::{World, is_there};
use std::path::{Path, PathBuf};
use zeroize::Zeroizing;

/// What a new store is made from.
pub struct Setup<'a> {
    /// Folder of the new store; must not exist or be empty.
    pub root: PathBuf,
    /// Folder outside it for the newest checkpoint; none: the person's own state folder.
    pub outside: Option<String>,
    /// The practice.
    pub practice: RegisterOpened,
    /// The owner's roster line.
    pub owner: Staff,
    /// The owner's passphrase.
    pub passphrase: &'a str,
    /// Where the owner works from.
    pub station: String,
    /// Cost of guessing the passphrase; [`WORK_FACTOR`] everywhere but in tests.
    pub work: u8,
    /// Length of a segment in bytes.
    pub segment_bytes: u64,
    /// The ledger that this one goes on from.
    pub earlier: Option<EarlierLedger>,
}

impl<'a> Setup<'a> {
    /// A set-up with the fixed passphrase cost and the usual segment length.
    pub fn new(root: &Path, practice: RegisterOpened, owner: Staff, passphrase: &'a str) -> Self {
        Setup {
            root: root.to_path_buf(),
            outside: None,
            practice,
            owner,
            passphrase,
            station: "desk".to_string(),
            work: WORK_FACTOR,
            segment_bytes: SEGMENT_BYTES,
            earlier: None,
        }
    }
}

/// A store just made, open for writing, and the recovery identity to be printed now and never again.
pub struct NewStore {
    /// The practice, unlocked as its owner.
    pub practice: Practice,
    /// The recovery identity.
    pub recovery: Identity,
}

/// Makes a store. Proves before it returns that the owner's file and the recovery identity open it.
pub fn init(world: &World, setup: Setup<'_>) -> Outcome<NewStore> {
    refuse_used_folder(world, &setup.root)?;
    if !valid_code(&setup.owner.code) {
        return Err(Trouble::input(
            "A staff code has 1 to 12 letters, digits or hyphens and begins with a letter.",
            "Choose one, for example the initials.",
        ));
    }
    let trouble = |e: std::io::Error| Trouble::disk("set up a store in", &setup.root, &e);
    for dir in ["", "keys", "files", "drafts", "ledger"] {
        world.disk.create_dirs(&setup.root.join(dir)).map_err(trouble)?;
    }
    let label = world.random32().map_err(trouble)?;
    let origin = format!("ledger-{}", data_encoding::HEXLOWER.encode(&label[..16]));
    let seed = Zeroizing::new(world.random32().map_err(trouble)?);
    let vouch = Signer::from_seed(&origin, &seed).map_err(|e| Trouble::damaged(e.to_string()))?;
    let file = StoreFile {
        inkfast_store: STORE_EDITION,
        origin,
        checkpoint_key: vouch.vkey(),
        outside: setup.outside.clone(),
    };
    let text = serde_json::to_string_pretty(&file).map_err(|e| trouble(e.into()))? + "\n";

    let me = new_staff_identity(world, &setup.root, &setup.owner.code)?;
    let recovery = Identity::generate();
    let path = setup.root.join("store.json");
    world.disk.put(&path, text.as_bytes()).map_err(trouble)?;
    let place = Place::open(world, &setup.root, None)?;

    let (desk, clinical) = (Identity::generate(), Identity::generate());
    let to = [me.identity.recipient(), recovery.recipient()];
    put_identity(world, &place, &role_file(KeyRole::Desk), "role identity v1, desk", &desk, &to)?;
    put_identity(world, &place, &role_file(KeyRole::Clinical), "role identity v1, clinical", &clinical, &to)?;
    let line = Zeroizing::new(format!("{CHECKPOINT_SEED}{}\n", data_encoding::BASE64.encode(&seed[..])));
    let writers = [desk.recipient(), clinical.recipient(), recovery.recipient()];
    put_sealed(world, &place, "ledger.age", line.as_bytes(), &writers)?;
    put_staff(world, &place, &me, setup.passphrase, setup.work)?;
    let sheet = put_sheet_signer(world, &place, &recovery)?;
    prove_recovery(world, &place, &recovery)?;

    let session = Session::unlock(world, &place, &setup.owner.code, setup.passphrase)?;
    let writer = Writer::create(world, &place.location(), setup.segment_bytes)?;
    let mut practice = Practice::with_writer(world, &place, session, &setup.station, writer)?;
    let today = Day(practice.now().local_date());
    let roles = vec![KeyRole::Desk, KeyRole::Clinical, KeyRole::Custodian];
    let role_key = |role, identity: &Identity| RoleKey {
        role,
        recipient: identity.recipient().to_string(),
        from: today,
        until: None,
    };
    let keys = Keys {
        staff: vec![staff_key(&sheet, vec![KeyRole::Custodian], today), staff_key(&me, roles, today)],
        roles: vec![
            role_key(KeyRole::Desk, &desk),
            role_key(KeyRole::Clinical, &clinical),
            role_key(KeyRole::Recovery, &recovery),
        ],
        because: None,
    };
    let now = practice.now();
    let mut first = vec![
        Data::Keys(Box::new(keys)),
        Data::RegisterOpened(Box::new(setup.practice)),
        Data::Staff(Box::new(setup.owner)),
    ];
    first.extend(setup.earlier.map(|earlier| Data::EarlierLedger(Box::new(earlier))));
    practice.append_group(first.into_iter().map(|d| Draft::new(None, d, now)).collect(), None)?;
    Ok(NewStore { practice, recovery })
}

/// The link to an earlier ledger: its newest checkpoint, as it lies in that store. The store is only read.
///
/// # Errors
/// When there is no store, or it holds no checkpoint.
pub fn link_to(world: &World, earlier: &Place) -> Outcome<EarlierLedger> {
    let scan = scan_to_newest(&*world.disk, &earlier.root.join("ledger"), &earlier.key)?;
    let (newest, note) =
        scan.checkpoint.as_ref().ok_or_else(|| Trouble::damaged("The earlier ledger has no checkpoint."))?;
    Ok(EarlierLedger {
        origin: earlier.key.name().to_string(),
        checkpoint_key: earlier.file.checkpoint_key.clone(),
        checkpoint: String::from_utf8_lossy(note).into_owned(),
        entries: newest.size,
    })
}

fn refuse_used_folder(world: &World, root: &Path) -> Outcome<()> {
    if is_there(&*world.disk, root)? && world.disk.list(root).map_or(true, |names| !names.is_empty()) {
        return Err(Trouble::new(
            Kind::Refused,
            format!("{} exists and is not empty.", root.display()),
            "It was not touched.",
            "Choose a new folder for the store.",
        ));
    }
    Ok(())
}

/// A new identity for a member of staff; not yet written anywhere.
pub fn new_staff_identity(world: &World, root: &Path, code: &str) -> Outcome<StaffIdentity> {
    let seed = world.random32().map_err(|e| Trouble::disk("get random numbers for", root, &e))?;
    StaffIdentity::new(code, Zeroizing::new(seed)).map_err(|_| {
        Trouble::input("This staff code can't be used in a signature.", "Choose letters and digits only.")
    })
}

/// Seals an identity with its owner's passphrase and writes it into `keys/`.
pub fn put_staff(
    world: &World,
    place: &Place,
    me: &StaffIdentity,
    passphrase: &str,
    work: u8,
) -> Outcome<()> {
    let sealed = me.seal(passphrase, work).map_err(|e| e.about("The new identity file"))?;
    let path = place.key_file(&staff_file(&me.code));
    world.disk.put(&path, &sealed).map_err(|e| Trouble::disk("write", &path, &e))
}

/// Makes the signing key of a recovery sheet and seals it to the sheet alone. With it, whoever holds the paper can
/// name a new keeper of the records when the old one can't; until then nothing is ever signed with it.
pub fn put_sheet_signer(world: &World, place: &Place, recovery: &Identity) -> Outcome<StaffIdentity> {
    let sheet = new_staff_identity(world, &place.root, SHEET_CODE)?;
    put_sealed(world, place, SHEET_FILE, sheet.to_text().as_bytes(), &[recovery.recipient()])?;
    Ok(sheet)
}

/// The public line of a person's keys.
pub fn staff_key(me: &StaffIdentity, roles: Vec<KeyRole>, from: Day) -> StaffKey {
    StaffKey {
        code: me.code.clone(),
        roles,
        recipient: me.identity.recipient().to_string(),
        vkey: me.signer.vkey(),
        from,
        until: None,
    }
}

/// Opens, with the recovery identity alone, every file that must open with it.
pub fn prove_recovery(world: &World, place: &Place, recovery: &Identity) -> Outcome<()> {
    let names =
        [role_file(KeyRole::Desk), role_file(KeyRole::Clinical), "ledger.age".into(), SHEET_FILE.into()];
    for name in names {
        let path = place.key_file(&name);
        // Sheets of older stores do not sign.
        if name == SHEET_FILE && !is_there(&*world.disk, &path)? {
            continue;
        }
        let sealed = world.disk.read(&path).map_err(|e| Trouble::disk("read", &path, &e))?;
        age_file::open(&With::Identities(std::slice::from_ref(recovery)), &sealed).map_err(|_| {
            Trouble::new(
                Kind::Refused,
                "The recovery sheet does not open this store.",
                "Nothing was changed.",
                "Check what was typed against the sheet, line by line.",
            )
        })?;
    }
    Ok(())
}

/// Makes a chart's identities and its recipients note. Returns the chart's tag.
pub fn make_chart_keys(world: &World, place: &Place, practice: &Practice) -> Outcome<String> {
    let trouble = |e: std::io::Error| Trouble::disk("make keys in", &place.root, &e);
    let tag = data_encoding::HEXLOWER.encode(&world.random32().map_err(trouble)?[..16]);
    let role = |role| {
        practice
            .keys()
            .role(role)
            .ok_or_else(|| Trouble::damaged("The ledger lists no recipient for a role."))
    };
    let (desk_role, clinical_role): (Recipient, Recipient) = (role(KeyRole::Desk)?, role(KeyRole::Clinical)?);
    let (desk, clinical) = (Identity::generate(), Identity::generate());
    let both = [desk_role, clinical_role.clone()];
    put_chart_identity(world, place, &tag, KeyRole::Desk, &desk, &both)?;
    put_chart_identity(world, place, &tag, KeyRole::Clinical, &clinical, &[clinical_role])?;
    put_recipients(world, place, practice, &tag, (&desk, &clinical))?;
    Ok(tag)
}

/// Seals one of a chart's identities into its file.
pub(super) fn put_chart_identity(
    world: &World,
    place: &Place,
    tag: &str,
    role: KeyRole,
    identity: &Identity,
    to: &[Recipient],
) -> Outcome<()> {
    let what = format!("chart identity v1, {}", role.word());
    put_identity(world, place, &chart_file(tag, role), &what, identity, to)
}

/// Signs and writes the note of a chart's recipients.
pub(super) fn put_recipients(
    world: &World,
    place: &Place,
    practice: &Practice,
    tag: &str,
    (desk, clinical): (&Identity, &Identity),
) -> Outcome<()> {
    let text = recipients_text(place.key.name(), tag, &desk.recipient(), &clinical.recipient());
    let note = sign(&text, &[&practice.session.me.signer]).map_err(|e| Trouble::damaged(e.to_string()))?;
    let path = place.key_file(&format!("chart-{tag}.note"));
    world.disk.put(&path, note.as_bytes()).map_err(|e| Trouble::disk("write", &path, &e))
}
