//! From a chart to the printed record: what `render/` needs, gathered.

use super::chart::ChartFace;
use super::open::{Entry, Practice};
use crate::ledger::checkpoint::Checkpoint;
use crate::record::kinds::Data;
use crate::record::kinds::register::{RegisterOpened, Staff, Wording};
use crate::render;
use crate::render::pdf::{Made, Paper};
use crate::render::set::{
    CheckpointWords, EntryState, Patient, PrintedAttachment, PrintedEntry, PrintedSet, Thresholds,
};
use crate::seal::body::hex;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::verify::slip::code;

/// What a printed copy is for.
pub struct Purpose<'a> {
    /// For whom.
    pub for_whom: &'a str,
    /// What for.
    pub purpose: &'a str,
    /// On what basis.
    pub basis: &'a str,
    /// True when attachments go along as files.
    pub with_attachments: bool,
    /// Which part of the chart, in words; none: the whole.
    pub part: Option<String>,
}

/// A page made from this set, laid out for paper and for keeping: made to PDF/A-2b.
///
/// # Errors
/// When the page holds what this program can't lay out.
pub fn for_paper(set: &PrintedSet, html: &str, paper: Paper) -> Outcome<Made> {
    render::for_paper(set, html, paper).map_err(|fault| {
        Trouble::new(
            Kind::Damaged,
            format!("The PDF could not be made: {fault}."),
            "Every entry is kept as it was, and the page itself can still be made.",
            "Use --html and print that from a browser. Then report this: it is a fault of the program.",
        )
    })
}

/// Everything that a printed copy is made from. What is withheld is left out here, so that no page made
/// from it can show it.
///
/// # Errors
/// When the chart's first entry can't be opened.
pub fn printed_set(
    practice: &Practice,
    face: &ChartFace,
    entries: &[Entry],
    withheld: &[(u64, String)],
    checkpoint: &Checkpoint,
    purpose: &Purpose<'_>,
) -> Outcome<PrintedSet> {
    let register = practice.register_of(&["clock-remark", "register-opened", "staff", "wording"])?;
    let mut printed: Vec<PrintedEntry> = Vec::new();
    for entry in entries {
        let why = withheld.iter().find(|(seq, _)| *seq == entry.leaf.seq).map(|(_, why)| why.clone());
        printed.push(printed_entry(entry, why));
    }
    let clock = register.iter().filter(|e| e.leaf.kind == "clock-remark").map(|e| printed_entry(e, None));
    // What staff wrote about a clock may name whoever was there; what leaves says the hours and no more.
    printed.extend(clock.map(|entry| if purpose.with_attachments { without_words(entry) } else { entry }));
    let patient = Patient::from_entries(&printed)
        .ok_or_else(|| Trouble::damaged("The chart's first entry can't be opened."))?;
    Ok(PrintedSet {
        trade: thresholds(practice),
        practice: register.iter().find_map(opened),
        patient,
        ledger: practice.place.key.name().to_string(),
        checkpoint: CheckpointWords {
            size: checkpoint.size,
            check_words: code(&checkpoint.root),
            digest: hex(&checkpoint.root),
        },
        printed_at: entries.last().map(|e| e.leaf.written).unwrap_or_else(|| practice.now()),
        printed_by: practice.me(),
        for_whom: purpose.for_whom.to_string(),
        purpose: purpose.purpose.to_string(),
        basis: purpose.basis.to_string(),
        extent: match &purpose.part {
            Some(part) => format!("a part of the chart {}: {part}", face.chart_no),
            None => format!("the whole chart {}, entries 1 to {}", face.chart_no, entries.len()),
        },
        contact: None,
        attachments: attachments(entries, withheld, purpose.with_attachments),
        entries: printed,
        staff: register.iter().filter_map(staff_line).collect(),
        wordings: register.iter().filter_map(wording).collect(),
        verification: Some(verification(practice, checkpoint, purpose.with_attachments)),
        differences: None,
    })
}

/// The thresholds of the rules in force; where these can't be read, the page says that it shows others.
fn thresholds(practice: &Practice) -> Thresholds {
    match practice.rulebook() {
        Ok(book) => Thresholds::Adopted(Box::new(book.tables.trade.clone())),
        Err(trouble) => Thresholds::Shipped(trouble.what.trim_end_matches('.').to_string()),
    }
}

/// What came along of the attachments that are shown.
fn attachments(entries: &[Entry], withheld: &[(u64, String)], along: bool) -> Vec<PrintedAttachment> {
    let shown = entries.iter().filter(|e| !withheld.iter().any(|(seq, _)| *seq == e.leaf.seq));
    let told = shown.filter_map(|e| match e.data() {
        Some(Data::Attachment(data)) => Some(PrintedAttachment {
            seq: e.leaf.seq,
            came_along: if along {
                format!(
                    "in the package, attachments/{}...",
                    &data.plain_digest[..12.min(data.plain_digest.len())]
                )
            } else {
                "kept at the practice, not in this copy".to_string()
            },
        }),
        _ => None,
    });
    told.collect()
}

/// What was checked when this copy was made. A package only gets its name once it passed the check its
/// reader will run; a page alone rests on the reading of the register that every command begins with.
fn verification(practice: &Practice, checkpoint: &Checkpoint, package: bool) -> Vec<String> {
    if package {
        return vec![
            "SOUND when it was made: every entry listed here was checked against its signature, its place in \
             the register and the entry before it, in the electronic copy that this page belongs to."
                .to_string(),
            "The electronic copy can be checked again by anybody: see READ-ME-FIRST.txt in it.".to_string(),
        ];
    }
    let damage = practice.scan().damage.len();
    if damage > 0 {
        return vec![format!(
            "NOT SOUND: {damage} places of the register are damaged. The custodian's full check (inkfast verify) names \
             them, says what is still proven, and what to do next."
        )];
    }
    let (upto, words) = (checkpoint.size, code(&checkpoint.root));
    vec![
        match practice.mark() {
            Some(mark) => format!(
                "Entries 1 to {} of the register were read on {} and that reading was signed by the practice; when this \
                 page was made the rest was read: entries 1 to {upto} are present, numbered without a gap, each sealed \
                 to the one before it, and lead to the signed check words {words}.",
                mark.size(),
                mark.read_at().plain(),
            ),
            None => format!(
                "When this page was made the register was read from its first entry: entries 1 to {upto} are present, \
                 numbered without a gap, each sealed to the one before it, and lead to the signed check words {words}."
            ),
        },
        "Not compared for this page: the attachments with their digests, and the slips kept on paper."
            .to_string(),
    ]
}

/// The same entry with its free words left out.
fn without_words(mut entry: PrintedEntry) -> PrintedEntry {
    if let Some(fields) = entry.record.as_mut().and_then(|record| record.data.as_object_mut()) {
        fields.insert("words".to_string(), "(the words stand in the register of the practice)".into());
    }
    entry
}

pub(super) fn printed_entry(entry: &Entry, withheld: Option<String>) -> PrintedEntry {
    PrintedEntry {
        seq: entry.leaf.seq,
        chart_seq: entry.leaf.chart_seq,
        kind: entry.leaf.kind.clone(),
        written: entry.leaf.written,
        author: entry.leaf.author.clone(),
        digest: entry.digest.clone(),
        record: if withheld.is_some() { None } else { entry.record.clone() },
        state: if entry.record.is_some() { EntryState::Opened } else { EntryState::Sealed },
        withheld,
    }
}

pub(super) fn opened(entry: &Entry) -> Option<RegisterOpened> {
    match entry.data()? {
        Data::RegisterOpened(data) => Some(*data),
        _ => None,
    }
}

pub(super) fn staff_line(entry: &Entry) -> Option<Staff> {
    match entry.data()? {
        Data::Staff(data) => Some(*data),
        _ => None,
    }
}

fn wording(entry: &Entry) -> Option<Wording> {
    match entry.data()? {
        Data::Wording(data) => Some(*data),
        _ => None,
    }
}
