//! New keys: the identities of the roles and of every chart are replaced, so that somebody who left, and may have
//! kept a copy of the old ones, opens nothing that is written from now on.
//!
//! The order is what makes it safe to be killed anywhere. A new identity stands in its file, together with the
//! ones it replaces, before anything is sealed to it; so whoever is still here opens everything at every moment,
//! and the old or the new file is there, whole. The ledger is told last. Until then the roles' files hold an
//! identity that the ledger does not list: that is how an unfinished renewal is known, and beginning again
//! goes on with it.

use super::open::{Draft, Practice};
use super::session::{
    CHECKPOINT_SEED, READING_ROLES, SHEET_CODE, chart_file, checkpoint_seed, open_identity, put_sealed,
};
use super::setup::{put_chart_identity, put_recipients, put_sheet_signer, staff_key};
use super::staff::{newest_lines, only_custodian, put_role, role_holders};
use crate::ledger::write::Receipt;
use crate::record::kinds::register::{KeyRole, Keys, RoleKey, StaffKey};
use crate::record::kinds::{Data, Day};
use crate::record::moment::Date;
use crate::seal::age_file::{Identity, Recipient, With};
use crate::seal::keybook::StaffKeyLine;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::world::is_there;
use zeroize::Zeroizing;

/// Said while new keys are half made.
pub const UNFINISHED: &str = "Making new keys was begun and not finished. Everything still opens. The keeper of the \
                              records finishes it with `inkfast roster renew`.";

/// What new keys came to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Renewed {
    /// The entry that lists them.
    pub receipt: Receipt,
    /// How many charts have new keys.
    pub charts: usize,
    /// Codes of who holds the roles now.
    pub holders: Vec<String>,
    /// True when an earlier attempt had been cut off and was finished by this.
    pub finished: bool,
}

/// True when new keys were begun and the ledger does not list them yet. Everything still opens.
pub fn unfinished(practice: &Practice) -> bool {
    let listed = |role| practice.keys().role(role);
    let held = practice.session.roles.iter();
    held.filter(|(role, _)| READING_ROLES.contains(role))
        .any(|(role, identity)| listed(*role).is_some_and(|known| known != identity.recipient()))
}

/// Makes new identities for the roles and every chart, seals them to whoever is still here tomorrow and to the
/// recovery sheet, and lists them. With `sheet`, a new recovery identity takes the place of the old one. `each` is
/// told how many charts are done.
///
/// # Errors
/// When the person here does not keep the records or does not hold both roles, or a chart's keys do not open: then
/// nothing was changed. When the disk fails on the way: then everything still opens, and doing it again finishes it.
pub fn renew(
    practice: &mut Practice,
    sheet: Option<&Identity>,
    each: &mut dyn FnMut(u64),
) -> Outcome<Renewed> {
    only_custodian(practice)?;
    practice.begin_writing()?;
    let finished = unfinished(practice);
    let tags = charts_with_keys(practice)?;
    let today = practice.now().local_date();
    let desk = newer(practice, KeyRole::Desk)?;
    let clinical = newer(practice, KeyRole::Clinical)?;
    let recovery = sheet.map(Identity::recipient).or_else(|| practice.keys().role(KeyRole::Recovery));
    let seed = {
        let held = practice.session.role_identities();
        checkpoint_seed(&practice.world, &practice.place, &With::Identities(&held))?
            .ok_or_else(|| Trouble::damaged("keys/ledger.age does not open."))?
    };
    for (role, identity) in [(KeyRole::Desk, &desk), (KeyRole::Clinical, &clinical)] {
        // Whoever leaves today leaves with this.
        let mut to = role_holders(practice, role, |last| last > today);
        to.extend(recovery.clone());
        put_role(practice, role, identity, &to)?;
        practice.session.renewed(role, identity.clone());
    }
    let line = Zeroizing::new(format!("{CHECKPOINT_SEED}{}\n", data_encoding::BASE64.encode(&seed[..])));
    let mut writers = vec![desk.recipient(), clinical.recipient()];
    writers.extend(recovery);
    put_sealed(&practice.world, &practice.place, "ledger.age", line.as_bytes(), &writers)?;
    for (done, tag) in tags.iter().enumerate() {
        renew_chart(practice, tag, (&desk, &clinical))?;
        each(done as u64 + 1);
    }
    practice.session.forget_charts();
    let mut staff = without_roles(practice, today);
    if let Some(sheet) = sheet {
        staff.extend(end_sheet(practice, today));
        let signer = put_sheet_signer(&practice.world, &practice.place, sheet)?;
        staff.push(staff_key(&signer, vec![KeyRole::Custodian], Day(today)));
    }
    let line = |role, recipient: Recipient| RoleKey {
        role,
        recipient: recipient.to_string(),
        from: Day(today),
        until: None,
    };
    let mut roles =
        vec![line(KeyRole::Desk, desk.recipient()), line(KeyRole::Clinical, clinical.recipient())];
    roles.extend(sheet.map(|sheet| line(KeyRole::Recovery, sheet.recipient())));
    let keys = Keys { staff, roles, because: None };
    let now = practice.now();
    let receipt = practice.append(Draft::new(None, Data::Keys(Box::new(keys)), now))?;
    let holders = holders(practice, today);
    Ok(Renewed { receipt, charts: tags.len(), holders, finished })
}

/// The charts whose keys are there, each proven to open: what does not open can't be sealed anew, and then
/// nothing is begun.
fn charts_with_keys(practice: &Practice) -> Outcome<Vec<String>> {
    let (world, place, session) = (&practice.world, &practice.place, &practice.session);
    for role in READING_ROLES {
        if !session.holds(role) {
            return Err(Trouble::new(
                Kind::Locked,
                "New keys are made by somebody who opens everything.",
                "Nothing was changed.",
                "Ask a keeper of the records with the roles desk and clinical.",
            ));
        }
    }
    let mut tags = Vec::new();
    for tag in practice.chart_tags()? {
        let mut any = false;
        for role in READING_ROLES {
            if !is_there(&*world.disk, &place.key_file(&chart_file(&tag, role)))? {
                continue;
            }
            any = true;
            if session.chart_key(world, place, &tag, role)?.is_none() {
                return Err(Trouble::damaged(
                    "A chart's key file does not open, so it can't be sealed anew.",
                ));
            }
        }
        if any {
            tags.push(tag);
        }
    }
    Ok(tags)
}

/// The identity to come of a role: the one an unfinished renewal left in its file, or a new one in place of the
/// one in force.
fn newer(practice: &Practice, role: KeyRole) -> Outcome<Identity> {
    let held = practice.session.roles.iter().find(|(r, _)| *r == role).map(|(_, identity)| identity);
    let held = held.ok_or_else(|| Trouble::damaged("A role's identity is not held."))?;
    let begun = practice.keys().role(role).is_some_and(|listed| listed != held.recipient());
    Ok(if begun { held.clone() } else { Identity::generate().in_place_of(held) })
}

/// New identities of one chart. Done already where a file opens with the new role's identity alone.
fn renew_chart(practice: &Practice, tag: &str, (desk, clinical): (&Identity, &Identity)) -> Outcome<()> {
    let (world, place) = (&practice.world, &practice.place);
    let all = [desk.clone(), clinical.clone()];
    let mut now: Vec<Option<Identity>> = Vec::new();
    for role in READING_ROLES {
        let name = chart_file(tag, role);
        let (own, to) = match role {
            KeyRole::Desk => (desk, vec![desk.recipient(), clinical.recipient()]),
            _ => (clinical, vec![clinical.recipient()]),
        };
        let done = open_identity(world, place, &name, &With::Identities(&[own.alone()]))?;
        if done.is_some() {
            now.push(done);
            continue;
        }
        let Some(before) = open_identity(world, place, &name, &With::Identities(&all))? else {
            now.push(None);
            continue;
        };
        let next = Identity::generate().in_place_of(&before);
        put_chart_identity(world, place, tag, role, &next, &to)?;
        now.push(Some(next));
    }
    let [Some(desk), Some(clinical)] = now.as_slice() else { return Ok(()) };
    let listed = practice.session.chart_recipients(world, place, practice.keys(), tag);
    if listed.is_ok_and(|both| both == (desk.recipient(), clinical.recipient())) {
        return Ok(());
    }
    // Only now is anything sealed to the new ones.
    put_recipients(world, place, practice, tag, (desk, clinical))
}

/// Everybody who leaves today, or has left, holds no role from now on and changes no keys, whatever date they write:
/// so nothing is sealed to them again later this day.
fn without_roles(practice: &Practice, today: Date) -> Vec<StaffKey> {
    let gone = |line: &&StaffKeyLine| line.until.is_some_and(|last| last <= today) && !line.roles.is_empty();
    newest_lines(practice).filter(gone).map(|line| StaffKey { roles: Vec::new(), ..listed(line) }).collect()
}

/// The lines of the old sheet's signing key, ended.
fn end_sheet(practice: &Practice, today: Date) -> Vec<StaffKey> {
    let lines = practice.keys().staff().iter().filter(|line| line.code == SHEET_CODE);
    lines.map(|line| without_custody(line, Some(line.until.unwrap_or(today)))).collect()
}

/// A listed key, with its last day, that changes no keys any more.
pub(super) fn without_custody(line: &StaffKeyLine, until: Option<Date>) -> StaffKey {
    StaffKey {
        roles: line.roles.iter().copied().filter(|role| *role != KeyRole::Custodian).collect(),
        until: until.map(Day),
        ..listed(line)
    }
}

/// A listed key as it stands in the ledger.
pub(super) fn listed(line: &StaffKeyLine) -> StaffKey {
    StaffKey {
        code: line.code.clone(),
        roles: line.roles.clone(),
        recipient: line.recipient.clone(),
        vkey: line.verifier.to_string(),
        from: Day(line.from),
        until: line.until.map(Day),
    }
}

/// Codes of everybody to whom a role is sealed.
fn holders(practice: &Practice, today: Date) -> Vec<String> {
    let mut codes: Vec<String> = newest_lines(practice)
        .filter(|line| line.until.is_none_or(|last| last > today))
        .filter(|line| line.roles.iter().any(|role| READING_ROLES.contains(role)))
        .map(|line| line.code.clone())
        .collect();
    codes.sort();
    codes
}
