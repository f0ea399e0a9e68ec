//! The order to destroy a chart, signed by two people; or the entry that it was refused.

use super::plan::{Plan, plan};
use crate::ledger::write::Receipt;
use crate::practice::chart::ChartFace;
use crate::practice::open::{Draft, Practice};
use crate::practice::staff::is_custodian;
use crate::record::keep_until::KeepUntil;
use crate::record::kinds::disposing::{
    ChartDisposed, Condition, ConditionKind, CopyLeft, DisposalCertificate, DisposalState, Holds, RuleKept,
};
use crate::record::kinds::keeping::{
    Block, Disposal, DisposalBlock, DisposalCheck, Disposed, RefusedDisposal,
};
use crate::record::kinds::register::{FileRemoved, KeyRole};
use crate::record::kinds::{Data, Day};
use crate::record::moment::plain_date;
use crate::seal::identity::StaffIdentity;
use crate::trouble::{Kind, Outcome, Trouble};

/// How the contents go.
const METHOD: &str = "The chart's three key files in the store are overwritten and removed, its attachments' sealed \
                      files and its drafts too; its entries stay sealed in the ledger and open to nobody.";

/// What is ordered.
pub struct Order<'a> {
    /// The chart.
    pub face: ChartFace,
    /// Who signs beside the person who is here.
    pub second: &'a StaffIdentity,
    /// What the person who looked at unsettled rules wrote.
    pub settled: Option<String>,
    /// Copies that somebody named beside those that entries tell of.
    pub copies: Vec<CopyLeft>,
    /// True where somebody says that these are all.
    pub all_copies_named: bool,
    /// What somebody says of the disk: how old bytes on it are made unreadable.
    pub medium: Option<String>,
}

/// What was recorded.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ordered {
    /// Number of the order.
    pub order: u64,
    /// Number of the certificate.
    pub certificate: u64,
    /// Number of the disposal in the chart.
    pub disposal: u64,
}

/// Refuses people who may not sign a disposal together: two different ones, both listed today, one of them the
/// keeper of the records.
///
/// # Errors
/// Why they may not.
pub fn may_sign(practice: &Practice, second: &str) -> Outcome<()> {
    let refused = |what: &str| {
        Err(Trouble::new(
            Kind::Refused,
            what,
            "Nothing was destroyed or recorded.",
            "Two different people sign, both on the roster today, one of them the keeper of the records: --second CODE.",
        ))
    };
    let today = practice.now().local_date();
    let Some(key) = practice.keys().newest(second) else {
        return refused("Nobody with this staff code is on the roster.");
    };
    if second == practice.session.me.code {
        return refused("The second signer is the same person.");
    }
    let reads = [KeyRole::Desk, KeyRole::Clinical, KeyRole::Custodian];
    if key.from > today
        || key.until.is_some_and(|last| last < today)
        || !reads.iter().any(|r| key.roles.contains(r))
    {
        return refused("The second signer is not on the roster today, or may only verify.");
    }
    if !is_custodian(practice) && !key.roles.contains(&KeyRole::Custodian) {
        return refused("Neither signer is the keeper of the records.");
    }
    Ok(())
}

/// Looks everything through once more with nobody else writing, and records the order. Destroys nothing.
///
/// # Errors
/// When something stands against it: then nothing was recorded, and the caller records the refusal.
pub fn order(practice: &mut Practice, order: Order<'_>) -> Outcome<Ordered> {
    practice.begin_writing()?;
    may_sign(practice, &order.second.code)?;
    let plan = plan(practice, order.face.clone(), order.settled.as_deref())?;
    let Some(keep_through) = plan.kept.keep_through.filter(|_| plan.kept.may_go()) else {
        return Err(Trouble::new(
            Kind::Refused,
            "Something stands against destroying this chart.",
            "Nothing was destroyed.",
            "Look at `inkfast keep until`.",
        ));
    };
    let first = next_number(practice);
    let now = practice.now();
    let tag = &plan.face.tag;
    let mut data: Vec<Data> = vec![Data::from(ChartDisposed {
        chart: tag.clone(),
        state: DisposalState::Ordered,
        ordered_by: None,
        keys: None,
        files: None,
        drafts: None,
    })];
    data.extend(
        plan.files
            .iter()
            .map(|digest| Data::from(FileRemoved { sealed_digest: digest.clone(), ordered_by: Some(first) })),
    );
    let certificate = first + data.len() as u64;
    data.push(Data::from(certificate_of(practice, &plan, keep_through, &order)?));
    let mut drafts: Vec<Draft> = data.into_iter().map(|data| Draft::new(None, data, now)).collect();
    let disposal = disposal_of(practice, &plan, keep_through, &order, certificate)?;
    drafts.push(Draft::new(Some(tag), Data::from(disposal), now));
    let receipts = practice.append_group(drafts, Some(order.second))?;
    match (receipts.first(), receipts.last()) {
        (Some(one), Some(last)) if one.seq == first => {
            Ok(Ordered { order: first, certificate, disposal: last.seq })
        }
        _ => Err(Trouble::damaged("The ledger numbered the order otherwise than expected.")),
    }
}

/// The number that the next entry gets, with nobody else writing.
fn next_number(practice: &Practice) -> u64 {
    practice.size() + 1
}

/// Records that a disposal was asked for and refused, with everything that stands against it.
///
/// # Errors
/// When it can't be recorded.
pub fn refuse(
    practice: &mut Practice,
    tag: &str,
    (what, entries): (Disposed, Vec<u64>),
    kept: &KeepUntil,
    more: Vec<DisposalBlock>,
) -> Outcome<Receipt> {
    let mut blocked_by: Vec<DisposalBlock> = kept
        .against
        .iter()
        .map(|one| DisposalBlock { because: one.because, entry: one.entry, words: Some(one.words.clone()) })
        .collect();
    let block = |because, words: String| DisposalBlock { because, entry: None, words: Some(words) };
    match kept.keep_through {
        Some(day) if !kept.has_passed() => blocked_by.push(block(
            Block::KeepUntil,
            format!("to be kept through {} by {}", plain_date(day.0), kept.set_by()),
        )),
        None => blocked_by.push(block(
            Block::KeepUntil,
            kept.problem.clone().unwrap_or_else(|| "no day can be said".to_string()),
        )),
        _ => {}
    }
    if kept.refusals.iter().any(|code| code == "unsettled_rule") {
        let rules: Vec<&str> =
            kept.rules.iter().filter(|rule| rule.unsettled).map(|rule| rule.rule.as_str()).collect();
        let words = format!("a person has to look at the text of {} first", rules.join(", "));
        blocked_by.push(block(Block::Other, words));
    }
    blocked_by.extend(more);
    let asked_by = practice.session.me.code.clone();
    let data = RefusedDisposal { what, entries, asked_by, keep_until: kept.keep_through, blocked_by };
    let now = practice.now();
    practice.append(Draft::new(Some(tag), Data::from(data), now))
}

fn certificate_of(
    practice: &Practice,
    plan: &Plan,
    keep_through: Day,
    order: &Order<'_>,
) -> Outcome<DisposalCertificate> {
    let copies = all_copies(plan, order);
    let conditions = conditions(plan, order, &copies);
    let holds = |one: &Condition| matches!(one.holds, Holds::Yes | Holds::Stated);
    let cryptographic_erase = conditions.iter().all(holds);
    Ok(DisposalCertificate {
        chart: plan.face.tag.clone(),
        chart_no: plan.face.chart_no.clone(),
        name: plan.face.identity.legal_name.clone(),
        period_from: plan.period.0,
        period_until: plan.period.1,
        entries_count: plan.entries,
        attachments_count: plan.files.len() as u64,
        keep_through,
        // The reason names days of care and entries, so it goes with the chart.
        rules: plan
            .kept
            .rules
            .iter()
            .map(|rule| RuleKept {
                rule: rule.rule.clone(),
                keep_through: rule.keep_through,
                source: rule.source.clone(),
            })
            .collect(),
        rules_edition: practice.rulebook()?.edition.clone(),
        settled_because: order.settled.clone(),
        second: order.second.code.clone(),
        method: METHOD.to_string(),
        conditions,
        cryptographic_erase,
        copies,
    })
}

fn all_copies(plan: &Plan, order: &Order<'_>) -> Vec<CopyLeft> {
    plan.known.iter().chain(&order.copies).cloned().collect()
}

/// The conditions of NIST SP 800-88 Rev. 1, 2.6.1 and 2.6.2, each with what this program can say of it.
fn conditions(plan: &Plan, order: &Order<'_>, copies: &[CopyLeft]) -> Vec<Condition> {
    let one = |what, holds, words: &str| Condition { what, holds, words: words.to_string() };
    let sealed = match plan.unsealed {
        0 => one(
            ConditionKind::SealedBeforeStored,
            Holds::Yes,
            "the store never held any of it unsealed, and no print, export or unsealed copy of it is on record",
        ),
        times => one(
            ConditionKind::SealedBeforeStored,
            Holds::NotKnown,
            &format!(
                "the store never held any of it unsealed; but it was printed, exported or handed out unsealed \
                 {times} times, and where those files went is not known to the program"
            ),
        ),
    };
    let places = match order.all_copies_named {
        true => one(
            ConditionKind::PlacesKnown,
            Holds::Stated,
            "in this store, in the copies named here, and nowhere else, say the signers",
        ),
        false => one(
            ConditionKind::PlacesKnown,
            Holds::NotKnown,
            "in this store and in the copies named here; nobody says that these are all",
        ),
    };
    let gone = match copies.len() {
        0 => {
            one(ConditionKind::CopiesDestroyed, Holds::Yes, "no copy is named; the store's own are destroyed")
        }
        left => {
            one(ConditionKind::CopiesDestroyed, Holds::No, &format!("places named that may hold it: {left}"))
        }
    };
    let wrapping = one(
        ConditionKind::WrappingKeys,
        match order.medium {
            Some(_) => Holds::Stated,
            None => Holds::No,
        },
        match order.medium {
            Some(_) => {
                "the roles' keys stay, for other charts need them; they open nothing once the disk keeps no old bytes of the key files"
            }
            None => {
                "the roles' keys, to which the chart's keys were sealed, stay, for other charts need them"
            }
        },
    );
    let medium = match &order.medium {
        Some(words) => one(ConditionKind::MediumSanitized, Holds::Stated, words),
        None => one(
            ConditionKind::MediumSanitized,
            Holds::NotKnown,
            "the program can't tell whether the disk keeps older bytes of the key files (journal, snapshot, worn-out \
             block); overwriting a file is not claimed to reach them",
        ),
    };
    vec![sealed, places, gone, wrapping, medium]
}

fn disposal_of(
    practice: &Practice,
    plan: &Plan,
    keep_through: Day,
    order: &Order<'_>,
    certificate: u64,
) -> Outcome<Disposal> {
    let passed =
        |check: &str, words: Option<String>| DisposalCheck { check: check.to_string(), passed: true, words };
    let mut checks: Vec<DisposalCheck> =
        ["hold", "open request", "amendment", "audit", "complaint", "proceeding", "adverse reaction"]
            .iter()
            .map(|check| passed(check, None))
            .collect();
    checks.extend(
        plan.kept.rules.iter().map(|rule| passed(&format!("rule {}", rule.rule), Some(rule.reason.clone()))),
    );
    checks.extend(order.settled.iter().map(|why| passed("rules looked at by a person", Some(why.clone()))));
    let left: Vec<String> = all_copies(plan, order)
        .into_iter()
        .map(|copy| match copy.until {
            Some(day) => format!("{} until {}", copy.place, plain_date(day.0)),
            None => copy.place,
        })
        .collect();
    Ok(Disposal {
        what: Disposed::Chart,
        entries: Vec::new(),
        entries_count: plan.entries,
        keep_until: keep_through,
        rule: plan.kept.set_by(),
        rules_edition: practice.rulebook()?.edition.clone(),
        checks,
        method: METHOD.to_string(),
        done_on: Some(Day(practice.now().local_date())),
        done_by: Some(practice.session.me.code.clone()),
        keys_destroyed: true,
        copies_left: (!left.is_empty()).then(|| left.join("; ")),
        certificate: Some(certificate),
    })
}
