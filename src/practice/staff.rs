//! The people of the practice: adding somebody with keys, changing their line, new keys, retiring somebody, and
//! who is at the keyboard.

use super::open::{Draft, Practice};
use super::renewal::{listed, without_custody};
use super::session::{READING_ROLES, SHEET_CODE, Session, put_identity, role_file, valid_code};
use super::setup::{new_staff_identity, put_staff, staff_key};
use crate::ledger::write::Receipt;
use crate::record::kinds::register::{KeyRole, Keys, Staff, StaffKey};
use crate::record::kinds::{Data, Day};
use crate::record::moment::Date;
use crate::seal::age_file::{self, Identity, Recipient};
use crate::seal::keybook::StaffKeyLine;
use crate::trouble::{Kind, Outcome, Trouble};

/// Adds a person: keys sealed with their passphrase, the roles re-sealed to include them, and the
/// entries that say so.
///
/// # Errors
/// When the person at the keyboard may not change keys, or the code is taken.
pub fn add(
    practice: &mut Practice,
    line: Staff,
    roles: Vec<KeyRole>,
    passphrase: &str,
    work: u8,
) -> Outcome<Receipt> {
    only_custodian(practice)?;
    let code = line.code.clone();
    if !valid_code(&code) {
        return Err(Trouble::input(
            "A staff code has 1 to 12 letters, digits or hyphens and begins with a letter.",
            "Choose one, for example the initials.",
        ));
    }
    if practice.keys().newest(&code).is_some() || code.eq_ignore_ascii_case(SHEET_CODE) {
        return Err(Trouble::new(
            Kind::Refused,
            "Somebody with this staff code is on the roster already.",
            "Nothing was written.",
            "Choose another code; a code stands for one person for ever.",
        ));
    }
    practice.begin_writing()?;
    let from = Day(line.on_roster_from.0);
    let me = new_staff_identity(&practice.world, &practice.place.root, &code)?;
    put_staff(&practice.world, &practice.place, &me, passphrase, work)?;
    list(practice, vec![staff_key(&me, roles, from)], line)
}

/// Retires a person's keys from the day after `last_day`. From that day on the program opens nothing for
/// them; their seal on the role files goes the next time these are sealed anew, at once if the day is past.
/// What they copied before can't be taken back: where that matters, [`super::renewal::renew`] follows.
///
/// # Errors
/// When the person at the keyboard may not change keys, the code is unknown, or nobody would keep the records.
pub fn retire(practice: &mut Practice, code: &str, last_day: Date, because: &str) -> Outcome<Receipt> {
    only_custodian(practice)?;
    let (key, mut line) = known(practice, code)?;
    somebody_keeps(practice, code, last_day)?;
    line.on_roster_last_day = Some(Day(last_day));
    // The reason goes into the sealed roster line: lists of keys are readable by everybody.
    line.because = Some(because.to_string());
    let key = StaffKey { until: Some(Day(last_day)), ..listed(&key) };
    list(practice, vec![key], line)
}

/// Changes a roster line, and what the person opens where `roles` says so.
///
/// # Errors
/// As [`retire`].
pub fn change(practice: &mut Practice, line: Staff, roles: Option<Vec<KeyRole>>) -> Outcome<Receipt> {
    only_custodian(practice)?;
    let (key, _) = known(practice, &line.code)?;
    let Some(roles) = roles else {
        let now = practice.now();
        return practice.append(Draft::new(None, line.into(), now));
    };
    if !roles.contains(&KeyRole::Custodian) {
        somebody_keeps(practice, &line.code, practice.now().local_date())?;
    }
    list(practice, vec![StaffKey { roles, ..listed(&key) }], line)
}

/// Gives a person new keys under a new passphrase: theirs was forgotten, or seen by somebody. What they signed
/// before still counts; what they left as drafts opens to nobody any more.
///
/// # Errors
/// As [`retire`], and when the person has left.
pub fn new_keys(
    practice: &mut Practice,
    code: &str,
    because: &str,
    passphrase: &str,
    work: u8,
) -> Outcome<Receipt> {
    only_custodian(practice)?;
    let (key, mut line) = known(practice, code)?;
    let today = practice.now().local_date();
    if key.until.is_some_and(|last| last < today) {
        return Err(Trouble::new(
            Kind::Refused,
            "This person has left the roster.",
            "Nothing was changed.",
            "Somebody who comes back is added anew, with a new code.",
        ));
    }
    // Killed half way, a keeper alone would be left with neither the old key nor the new one.
    if code == practice.session.me.code {
        return Err(Trouble::new(
            Kind::Refused,
            "Nobody gives new keys to themselves.",
            "Nothing was changed.",
            "Change your passphrase with `inkfast roster passphrase`; for new keys ask another keeper of the \
             records, or take the recovery sheet: `inkfast custody take-over`.",
        ));
    }
    line.because = Some(because.to_string());
    practice.begin_writing()?;
    let me = new_staff_identity(&practice.world, &practice.place.root, code)?;
    put_staff(&practice.world, &practice.place, &me, passphrase, work)?;
    let new = StaffKey { until: key.until.map(Day), ..staff_key(&me, key.roles.clone(), Day(today)) };
    // What was signed this morning still counts. The new line stands last: it is the one in force.
    list(practice, vec![without_custody(&key, Some(today)), new], line)
}

/// Seals the identity of whoever is here with another passphrase.
///
/// # Errors
/// When the file can't be written; then the old passphrase still opens it.
pub fn new_passphrase(practice: &Practice, passphrase: &str, work: u8) -> Outcome<()> {
    put_staff(&practice.world, &practice.place, &practice.session.me, passphrase, work)
}

/// Seals the roles anew if somebody to whom they were sealed has left since keys were last listed. True when it
/// did.
///
/// # Errors
/// When the ledger is busy or the disk fails; then nothing has changed that matters.
pub fn seal_out_leavers(practice: &mut Practice) -> Outcome<bool> {
    let today = practice.now().local_date();
    let newest = practice.register_of(&["keys"])?;
    let Some(sealed) = newest.last().map(|entry| entry.leaf.written.local_date()) else { return Ok(false) };
    let left = |last: Date| last < today && last >= sealed;
    let any = newest_lines(practice).any(|line| line.until.is_some_and(left) && !line.roles.is_empty());
    if !any || !is_custodian(practice) || !sealed_to_more(practice, today)? {
        return Ok(false);
    }
    practice.begin_writing()?;
    reseal_roles(practice)?;
    Ok(true)
}

/// True where a role's file is sealed to more than hold the role today. Whom it is sealed to does not show in it, only
/// to how many.
fn sealed_to_more(practice: &Practice, today: Date) -> Outcome<bool> {
    for role in READING_ROLES {
        let path = practice.place.key_file(&role_file(role));
        let file = practice.world.disk.read(&path).map_err(|e| Trouble::disk("read", &path, &e))?;
        if age_file::recipients(&file) > holders_and_sheet(practice, role, today).len() {
            return Ok(true);
        }
    }
    Ok(false)
}

fn holders_and_sheet(practice: &Practice, role: KeyRole, today: Date) -> Vec<Recipient> {
    let mut to = role_holders(practice, role, |last| last >= today);
    to.extend(practice.keys().role(KeyRole::Recovery));
    to
}

/// Appends changed keys with the roster line, and seals the roles to whom they are then for.
fn list(practice: &mut Practice, staff: Vec<StaffKey>, line: Staff) -> Outcome<Receipt> {
    let keys = Keys { staff, roles: Vec::new(), because: None };
    let now = practice.now();
    let group = [Data::Keys(Box::new(keys)), Data::Staff(Box::new(line))];
    let kept = practice.append_group(group.into_iter().map(|d| Draft::new(None, d, now)).collect(), None)?;
    reseal_roles(practice)?;
    kept.into_iter().next_back().ok_or_else(|| Trouble::damaged("The roster line was not kept."))
}

/// The newest key and the roster line of a code.
fn known(practice: &Practice, code: &str) -> Outcome<(StaffKeyLine, Staff)> {
    let key = practice.keys().newest(code).cloned();
    key.zip(practice.staff_line(code).cloned()).ok_or_else(|| {
        Trouble::new(
            Kind::NotFound,
            "Nobody with this staff code is on the roster.",
            "Nothing was written.",
            "Look at `inkfast roster list`.",
        )
    })
}

/// Refuses what would leave nobody who keeps the records after `last_day` of `code`.
fn somebody_keeps(practice: &Practice, code: &str, last_day: Date) -> Outcome<()> {
    let mut keepers = newest_lines(practice).filter(|line| line.roles.contains(&KeyRole::Custodian));
    let kept = keepers.any(|line| line.code != code && line.until.is_none_or(|last| last > last_day));
    if kept || !practice.keys().newest(code).is_some_and(|key| key.roles.contains(&KeyRole::Custodian)) {
        return Ok(());
    }
    Err(Trouble::new(
        Kind::Refused,
        "After that, nobody would keep the records.",
        "Nothing was written.",
        "Hand them over first: `inkfast custody hand-over --to CODE`.",
    ))
}

/// The newest key of everybody, but not the one of a recovery sheet.
pub(super) fn newest_lines(practice: &Practice) -> impl Iterator<Item = &StaffKeyLine> {
    let mut seen = std::collections::HashSet::new();
    let lines = practice.keys().staff().iter().rev();
    lines.filter(move |line| line.code != SHEET_CODE && seen.insert(line.code.clone()))
}

/// Seals the role identities anew to everybody who holds them today, and to the recovery sheet.
pub(super) fn reseal_roles(practice: &mut Practice) -> Outcome<()> {
    let today = practice.now().local_date();
    for role in READING_ROLES {
        let Some((_, identity)) = practice.session.roles.iter().find(|(r, _)| *r == role) else { continue };
        put_role(practice, role, identity, &holders_and_sheet(practice, role, today))?;
    }
    Ok(())
}

/// The recipients of everybody who holds a role, and whose last day, where there is one, passes `stays`.
pub(super) fn role_holders(
    practice: &Practice,
    role: KeyRole,
    stays: impl Fn(Date) -> bool,
) -> Vec<Recipient> {
    let holds = |line: &&StaffKeyLine| {
        line.roles.contains(&role) || role == KeyRole::Desk && line.roles.contains(&KeyRole::Clinical)
    };
    newest_lines(practice)
        .filter(holds)
        .filter(|line| line.until.is_none_or(&stays))
        .filter_map(|line| Recipient::parse(&line.recipient))
        .collect()
}

/// Seals a role's identity into its file.
pub(super) fn put_role(
    practice: &Practice,
    role: KeyRole,
    identity: &Identity,
    to: &[Recipient],
) -> Outcome<()> {
    let what = format!("role identity v1, {}", role.word());
    put_identity(&practice.world, &practice.place, &role_file(role), &what, identity, to)
}

/// Only whoever keeps the records changes keys.
pub(super) fn only_custodian(practice: &Practice) -> Outcome<()> {
    if is_custodian(practice) {
        return Ok(());
    }
    Err(Trouble::new(
        Kind::Refused,
        "Only the keeper of the records changes who has keys.",
        "Nothing was written.",
        "Ask the keeper of the records to do this.",
    ))
}

/// True when whoever is here keeps the records.
pub fn is_custodian(practice: &Practice) -> bool {
    let mine = practice.keys().newest(&practice.session.me.code);
    mine.is_some_and(|k| k.roles.contains(&KeyRole::Custodian))
}

/// Puts another unlocked person at the keyboard while the ledger stays open. Returns the one before.
pub fn hand_to(practice: &mut Practice, session: Session) -> Session {
    std::mem::replace(&mut practice.session, session)
}

/// The name of whoever keeps the records: from the keys in force, else from what the register began with.
pub fn keeper_line(practice: &Practice, began_with: &str) -> String {
    let today = practice.now().local_date();
    let keepers = newest_lines(practice).filter(|line| {
        line.roles.contains(&KeyRole::Custodian) && line.until.is_none_or(|last| last >= today)
    });
    let codes: Vec<String> = keepers.map(|line| line.code.clone()).collect();
    let code = codes.iter().find(|code| *code == began_with).or(codes.first());
    let code = code.map_or(began_with, String::as_str);
    practice.staff_line(code).map_or_else(|| code.to_string(), |line| line.name.clone())
}
