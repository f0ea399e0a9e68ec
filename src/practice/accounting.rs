//! The accounting of disclosures of a person: gathered from every chart that is of this person, and recorded
//! when it is given.

use super::chart::{ChartFace, faces};
use super::open::{Draft, Entry, Practice};
use super::reading::ChartReading;
use crate::ledger::write::Receipt;
use crate::record::disclosures::account::{Account, Asked, account};
use crate::record::disclosures::{Read, basis, disclosures};
use crate::record::envelope::RefWhy;
use crate::record::kinds::Data;
use crate::record::kinds::disclosing::{AccountingGiven, AccountingLine};
use crate::record::kinds::release::{Fee, ReleaseBasis};
use crate::record::moment::Date;
use crate::record::tables::Tables;
use crate::record::tables::disclosure::AccountingTable;
use crate::trouble::{Kind, Outcome, Trouble};
use std::collections::BTreeSet;

/// Kinds of entries an accounting is worked out from.
const KINDS: [&str; 8] = [
    "release",
    "referral",
    "request",
    "request-step",
    "contact",
    "decision-maker",
    "accounting-given",
    "accounting-suspended",
];

/// True when a release on this basis belongs in an accounting, by the adopted tables; by the published ones
/// where those can't be used, because what went out must be recordable at any time.
pub fn counts(practice: &Practice, basis: ReleaseBasis) -> bool {
    let adopted = practice.rulebook().ok().and_then(|book| AccountingTable::of(&book.tables).ok());
    let published = || Tables::shipped().ok().and_then(|tables| AccountingTable::of(tables).ok());
    adopted.or_else(published).is_none_or(|table| basis::counts(basis, &table))
}

/// Every chart of the same person as far as charts were joined: the one asked about first.
///
/// # Errors
/// When a chart can't be read.
pub fn charts_of(practice: &Practice, face: &ChartFace) -> Outcome<Vec<ChartFace>> {
    let mut rest = faces(practice)?;
    rest.retain(|other| other.tag != face.tag);
    let mut joined = vec![face.clone()];
    loop {
        let of_these = |other: &ChartFace| {
            joined.iter().any(|one| {
                let goes_on = |from: &ChartFace, to: &ChartFace| {
                    from.continue_at
                        .as_deref()
                        .is_some_and(|number| number.eq_ignore_ascii_case(&to.chart_no))
                };
                goes_on(one, other) || goes_on(other, one)
            })
        };
        let (more, others): (Vec<ChartFace>, Vec<ChartFace>) = rest.into_iter().partition(of_these);
        rest = others;
        if more.is_empty() {
            return Ok(joined);
        }
        joined.extend(more);
    }
}

/// What an accounting reads of a chart: with every correction made, and without what belongs to another person.
///
/// # Errors
/// When an entry that may be a disclosure does not open to whoever is here: what is left out unseen would make
/// the accounting untrue.
pub fn read(practice: &Practice, face: &ChartFace, entries: &[Entry]) -> Outcome<Vec<Read>> {
    read_chart(practice, &face.chart_no, entries)
}

fn read_chart(practice: &Practice, chart_no: &str, entries: &[Entry]) -> Outcome<Vec<Read>> {
    let reading = ChartReading::new(practice, entries);
    let mut out = Vec::new();
    for entry in entries.iter().filter(|e| KINDS.contains(&e.leaf.kind.as_str())) {
        let seq = entry.leaf.seq;
        if reading.is_misfiled(seq) {
            continue;
        }
        let Some(record) = &entry.record else {
            return Err(Trouble::new(
                Kind::Locked,
                format!("Entry {seq} does not open to you, so it can't be said what was disclosed."),
                "Nothing was recorded.",
                "Ask somebody whose role opens it.",
            ));
        };
        let now = reading.now(seq, record);
        let data = now.read_data().or_else(|_| record.read_data());
        let data = data.map_err(|_| Trouble::damaged(format!("Entry {seq} can't be read as what it is.")))?;
        let (chart, on) = (chart_no.to_string(), now.happened.start.local_date());
        out.push(Read { seq, chart, on, data });
    }
    Ok(out)
}

/// What the practice wrote of agencies that asked to be left out of accountings. It stands outside every chart: in
/// a chart its kind alone, which every package shows, would tell what nobody may tell.
fn suspensions(practice: &Practice) -> Outcome<Vec<Read>> {
    let register = practice.register_of(&["accounting-suspended"])?;
    let read = register.iter().filter_map(|entry| {
        let on = entry.record.as_ref()?.happened.start.local_date();
        Some(Read { seq: entry.leaf.seq, chart: String::new(), on, data: entry.data()? })
    });
    Ok(read.collect())
}

/// True where a copy on this basis goes to the patient, to whoever stands in the patient's place (45 CFR
/// 164.502(g)), or where the patient sends it.
pub fn goes_to_the_patient(basis: ReleaseBasis) -> bool {
    use ReleaseBasis::{Authorisation, DeceasedRepresentative, Guardian, Patient};
    matches!(basis, Patient | Guardian | DeceasedRepresentative | Authorisation)
}

/// The entries of a chart that would tell the patient, on this day, of a disclosure that an agency has left out
/// of accountings (45 CFR 164.528(a)(2)): the disclosure, the request it answers with its steps and the openings for
/// it, what is kept of its package, and their letters.
///
/// # Errors
/// When an entry that may be one does not open to whoever is here.
pub fn untold(practice: &Practice, entries: &[Entry], on: Date) -> Outcome<BTreeSet<u64>> {
    let adopted = practice.rulebook().ok().and_then(|book| AccountingTable::of(&book.tables).ok());
    let published = || Tables::shipped().ok().and_then(|tables| AccountingTable::of(tables).ok());
    // What can't be reckoned is taken for the longest time that the law gives by word of mouth alone.
    let days = adopted.or_else(published).map_or(30, |table| table.oral_suspension_days);
    let mut all = read_chart(practice, "", entries)?;
    all.extend(suspensions(practice)?);
    let left_out = disclosures(&all, days);
    let left_out = left_out.iter().filter(|made| made.left_out_through.is_some_and(|last| on <= last.0));
    let mut out: BTreeSet<u64> = left_out.map(|made| made.entry).collect();
    if out.is_empty() {
        return Ok(out);
    }
    let releases = out.clone();
    let data = || entries.iter().filter_map(|e| Some((e.leaf.seq, e.data()?)));
    let requests: BTreeSet<u64> = data()
        .filter(|(seq, _)| releases.contains(seq))
        .filter_map(|(_, data)| if let Data::Release(release) = data { release.request } else { None })
        .collect();
    for (seq, data) in data() {
        let (belongs, letter) = match &data {
            Data::Release(release) => (releases.contains(&seq), release.letter),
            Data::Request(request) => (requests.contains(&seq), request.letter),
            Data::RequestStep(step) => (requests.contains(&step.request), step.attachment),
            Data::Access(access) => (access.request.is_some_and(|seq| requests.contains(&seq)), None),
            Data::PackageMade(made) => (releases.contains(&made.release), None),
            Data::AccountingSuspended(asked) => {
                (asked.disclosures.iter().any(|seq| releases.contains(seq)), asked.letter)
            }
            _ => (false, None),
        };
        if belongs {
            out.insert(seq);
            out.extend(letter);
        }
    }
    for asked in suspensions(practice)? {
        if let Data::AccountingSuspended(asked) = asked.data
            && asked.disclosures.iter().any(|seq| releases.contains(seq))
        {
            out.extend(asked.letter);
        }
    }
    let here: BTreeSet<u64> = entries.iter().map(|e| e.leaf.seq).collect();
    out.retain(|seq| here.contains(seq));
    Ok(out)
}

/// Works the accounting of a person out as of now.
///
/// # Errors
/// As [`read`], and where the adopted rules lack what is needed.
pub fn work_out(practice: &Practice, charts: &[(ChartFace, Vec<Entry>)], asked: &Asked) -> Outcome<Account> {
    let book = practice.rulebook()?;
    let mut entries = Vec::new();
    for (face, of_chart) in charts {
        entries.extend(read(practice, face, of_chart)?);
    }
    entries.extend(suspensions(practice)?);
    entries.sort_by_key(|entry| entry.seq);
    let today = practice.now().local_date();
    let numbers: Vec<String> = charts.iter().map(|(face, _)| face.chart_no.clone()).collect();
    account(&numbers, &entries, asked, today, &book.tables, &book.adopted.clocks)
        .map_err(|what| Trouble::input(what, "Correct it and do it again."))
}

/// How an accounting is given.
pub struct Giving {
    /// To whom.
    pub to: String,
    /// Fee.
    pub fee: Option<Fee>,
    /// Day the person was told of the fee.
    pub fee_told_on: Option<crate::record::kinds::Day>,
    /// BLAKE3 of the page, hex.
    pub digest: String,
}

/// Records that an accounting was given, with what it told.
///
/// # Errors
/// When it can't be recorded as it stands, for example with a fee for a free one.
pub fn give(practice: &mut Practice, tag: &str, account: &Account, giving: Giving) -> Outcome<Receipt> {
    let line = |line: &crate::record::disclosures::account::AccountLine| AccountingLine {
        first: line.first,
        count: line.count,
        last: line.last,
        to: line.to.clone(),
        entries: line.entries.clone(),
    };
    let data = AccountingGiven {
        request: account.request,
        asked_on: account.asked_on,
        from: account.from,
        until: account.until,
        given_to: giving.to,
        lines: account.lines.iter().map(line).collect(),
        other_charts: account.other_charts.clone(),
        free: account.free,
        fee: giving.fee,
        fee_told_on: giving.fee_told_on,
        digest: giving.digest,
    };
    let mut draft = Draft::new(Some(tag), data.into(), practice.now());
    // A request kept in another chart of the same person is named by its number alone.
    let mine = |seq: u64| practice.entry_by_seq(seq).is_ok_and(|e| e.leaf.chart.as_deref() == Some(tag));
    draft.refers.extend(account.request.filter(|seq| mine(*seq)).map(|seq| (seq, RefWhy::Answers)));
    practice.append(draft)
}
