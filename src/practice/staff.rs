//! The people of the practice: adding somebody with keys, retiring somebody, and who is at the
//! keyboard.

use super::open::{Draft, Practice};
use super::session::{READING_ROLES, Session, put_identity, role_file, valid_code};
use super::setup::{new_staff_identity, put_staff, staff_key};
use crate::ledger::write::Receipt;
use crate::record::kinds::register::{KeyRole, Keys, Staff, StaffKey};
use crate::record::kinds::{Data, Day};
use crate::record::moment::Date;
use crate::seal::age_file::Recipient;
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
    if practice.keys().newest(&code).is_some() {
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
    let key = staff_key(&me, roles, from);
    let keys = Keys { staff: vec![key.clone()], roles: Vec::new(), because: None };
    let now = practice.now();
    let group = [Data::Keys(Box::new(keys)), Data::Staff(Box::new(line))];
    let kept = practice.append_group(group.into_iter().map(|d| Draft::new(None, d, now)).collect(), None)?;
    reseal_roles(practice)?;
    kept.into_iter().next_back().ok_or_else(|| Trouble::damaged("The roster line was not kept."))
}

/// Retires a person's keys from the day after `last_day`. From that day on the program opens nothing for
/// them; their seal on the role files goes the next time these are sealed anew, at once if the day is past.
///
/// # Errors
/// When the person at the keyboard may not change keys, or the code is unknown.
pub fn retire(practice: &mut Practice, code: &str, last_day: Date, because: &str) -> Outcome<Receipt> {
    only_custodian(practice)?;
    let unknown = || {
        Trouble::new(
            Kind::NotFound,
            "Nobody with this staff code is on the roster.",
            "Nothing was written.",
            "Look at `inkfast roster list`.",
        )
    };
    let key = practice.keys().newest(code).cloned().ok_or_else(unknown)?;
    let mut line = practice.staff_line(code).cloned().ok_or_else(unknown)?;
    line.on_roster_last_day = Some(Day(last_day));
    // The reason goes into the sealed roster line: lists of keys are readable by everybody.
    line.because = Some(because.to_string());
    let keys = Keys {
        staff: vec![StaffKey {
            code: key.code,
            roles: key.roles,
            recipient: key.recipient,
            vkey: key.verifier.to_string(),
            from: Day(key.from),
            until: Some(Day(last_day)),
        }],
        roles: Vec::new(),
        because: None,
    };
    let now = practice.now();
    let group = [Data::Keys(Box::new(keys)), Data::Staff(Box::new(line))];
    let kept = practice.append_group(group.into_iter().map(|d| Draft::new(None, d, now)).collect(), None)?;
    reseal_roles(practice)?;
    kept.into_iter().next_back().ok_or_else(|| Trouble::damaged("The roster line was not kept."))
}

/// Seals the role identities anew to everybody who holds them today, and to the recovery sheet.
/// What somebody copied before they left can't be taken back; what is sealed from now on to a
/// role whose identity they kept could still be opened by them, so a leaver who is not trusted
/// calls for new role identities.
fn reseal_roles(practice: &mut Practice) -> Outcome<()> {
    let today = practice.now().local_date();
    for role in READING_ROLES {
        let Some((_, identity)) = practice.session.roles.iter().find(|(r, _)| *r == role) else { continue };
        let mut to: Vec<Recipient> = Vec::new();
        let mut seen = std::collections::HashSet::new();
        for line in practice.keys().staff().iter().rev() {
            let newest = seen.insert(line.code.clone());
            let holds = line.roles.contains(&role)
                || (role == KeyRole::Desk && line.roles.contains(&KeyRole::Clinical));
            if newest && holds && line.until.is_none_or(|last| last >= today) {
                to.extend(Recipient::parse(&line.recipient));
            }
        }
        to.extend(practice.keys().role(KeyRole::Recovery));
        let what = format!("role identity v1, {}", role.word());
        put_identity(&practice.world, &practice.place, &role_file(role), &what, identity, &to)?;
    }
    Ok(())
}

fn only_custodian(practice: &Practice) -> Outcome<()> {
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
    let mut seen = std::collections::HashSet::new();
    let newest = practice.keys().staff().iter().rev().filter(|line| seen.insert(line.code.clone()));
    let keepers = newest.filter(|line| {
        line.roles.contains(&KeyRole::Custodian) && line.until.is_none_or(|last| last >= today)
    });
    let codes: Vec<String> = keepers.map(|line| line.code.clone()).collect();
    let code = codes.iter().find(|code| *code == began_with).or(codes.first());
    let code = code.map_or(began_with, String::as_str);
    practice.staff_line(code).map_or_else(|| code.to_string(), |line| line.name.clone())
}
