//! The release entry: what the register will say left the practice.

use super::order::{ReleaseOrder, SealTo};
use crate::practice::open::{Draft, Entry, Practice};
use crate::record::kinds::release::{SealedHow, Withheld};
use crate::record::kinds::{Data, Day};

pub(super) fn release_draft(
    practice: &Practice,
    tag: &str,
    order: &ReleaseOrder,
    entries: &[Entry],
    withheld: &[(u64, String)],
) -> Draft {
    let mut data = order.data.clone();
    let days = entries.iter().filter_map(|e| e.record.as_ref()).map(|r| r.happened.start.local_date());
    data.what.from = data.what.from.or(days.clone().min().map(Day));
    data.what.until = data.what.until.or(days.max().map(Day));
    data.what.entries = entries.len() as u64;
    data.what.up_to = Some(practice.scan().entries.len() as u64);
    data.what.attachments =
        Some(entries.iter().filter(|e| matches!(e.data(), Some(Data::Attachment(_)))).count() as u64);
    data.withheld = withheld
        .iter()
        .map(|(seq, why)| Withheld { entry: Some(*seq), ground: why.clone(), slip: true })
        .collect();
    match &order.to {
        SealTo::Recipients(to) => {
            data.sealed = SealedHow::ToRecipientKey;
            data.sealed_to = Some(to.iter().map(ToString::to_string).collect::<Vec<_>>().join(" "));
        }
        SealTo::Passphrase(_) => data.sealed = SealedHow::ToPassphrase,
    }
    Draft::new(Some(tag), Data::Release(Box::new(data)), order.happened)
}
