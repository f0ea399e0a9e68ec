//! The release entry: what the register will say left the practice.

use super::order::{ReleaseOrder, SealTo};
use super::withhold::Selection;
use crate::practice::open::{Draft, Entry, Practice};
use crate::record::kinds::release::{Release, Released, SealedHow};
use crate::record::kinds::{Data, Day};

/// What is recorded of a package that is made now.
pub(super) fn of_now(
    practice: &Practice,
    order: &ReleaseOrder,
    entries: &[Entry],
    chosen: &Selection,
    since: Option<u64>,
) -> Release {
    let mut data = order.data.clone();
    let given = || entries.iter().filter(|e| chosen.gives(e.leaf.seq));
    if chosen.span.is_limited() {
        data.what.from = chosen.span.from;
        data.what.until = chosen.span.until;
        data.what.days = chosen.span.days.clone();
        data.what.kinds = chosen.span.kinds.clone();
        data.what.entry_list = given().map(|e| e.leaf.seq).collect();
        data.what.entries = data.what.entry_list.len() as u64;
    } else {
        let days = entries.iter().filter_map(|e| e.record.as_ref()).map(|r| r.happened.start.local_date());
        data.what.from = data.what.from.or(days.clone().min().map(Day));
        data.what.until = data.what.until.or(days.max().map(Day));
        data.what.days = Vec::new();
        data.what.kinds = Vec::new();
        data.what.entry_list = Vec::new();
        data.what.entries = entries.len() as u64;
    }
    data.what.up_to = Some(practice.size());
    data.what.attachments = Some(given().filter(|e| e.leaf.kind == "attachment").count() as u64);
    data.what.since = since;
    data.what.again_of = None;
    data.what.plain_digest = None;
    data.withheld = chosen.to_record();
    seal_words(&mut data, &order.to);
    data
}

/// What is recorded of a package that was made before and leaves once more.
pub(super) fn of_then(order: &ReleaseOrder, again: u64, first: &Release, plain: &str) -> Release {
    let mut data = order.data.clone();
    data.what = Released {
        again_of: Some(again),
        plain_digest: Some(plain.to_string()),
        digest: None,
        words: order.data.what.words.clone().or(first.what.words.clone()),
        ..first.what.clone()
    };
    data.withheld = first.withheld.clone();
    seal_words(&mut data, &order.to);
    data
}

fn seal_words(data: &mut Release, to: &SealTo) {
    data.unsealed = None;
    match to {
        SealTo::Recipients(to) => {
            data.sealed = SealedHow::ToRecipientKey;
            data.sealed_to = Some(to.iter().map(ToString::to_string).collect::<Vec<_>>().join(" "));
        }
        SealTo::Passphrase(_) => data.sealed = SealedHow::ToPassphrase,
        SealTo::Nobody(confirmed) => {
            data.sealed = SealedHow::NotSealed;
            data.unsealed = Some(confirmed.clone());
        }
    }
}

/// The entry to be appended.
pub(super) fn entry(tag: &str, data: Release, order: &ReleaseOrder) -> Draft {
    Draft::new(Some(tag), Data::Release(Box::new(data)), order.happened)
}
