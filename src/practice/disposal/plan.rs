//! What destroying a chart would destroy, and what it would leave.

use crate::practice::chart::ChartFace;
use crate::practice::copies;
use crate::practice::keeping;
use crate::practice::open::{Entry, Practice};
use crate::record::keep_until::KeepUntil;
use crate::record::kinds::disposing::CopyLeft;
use crate::record::kinds::papers::Original;
use crate::record::kinds::register::CheckKind;
use crate::record::kinds::release::SealedHow;
use crate::record::kinds::{Data, Day};
use crate::record::moment::plain_date;
use crate::trouble::{Kind, Outcome, Trouble};

/// What would go and what would stay.
pub struct Plan {
    /// The chart.
    pub face: ChartFace,
    /// How long it is kept, and what stands against destroying it.
    pub kept: KeepUntil,
    /// How many entries it has.
    pub entries: u64,
    /// First and last day it covers.
    pub period: (Day, Day),
    /// Sealed files of its attachments, by digest.
    pub files: Vec<String>,
    /// How many drafts lie in the store for it.
    pub drafts: usize,
    /// Places outside the store that entries tell of: paper, originals of scans, safe copies.
    pub known: Vec<CopyLeft>,
    /// How many packages and letters of it went out.
    pub went_out: usize,
    /// Times it left the store unsealed: printed, exported, released unsealed.
    pub unsealed: usize,
}

/// Looks everything through. Destroys and records nothing.
///
/// # Errors
/// When the role does not open all of it, or an entry can't be read.
pub fn plan(practice: &Practice, face: ChartFace, settled: Option<&str>) -> Outcome<Plan> {
    let entries = practice.chart(&face.tag)?;
    if entries.iter().any(|entry| entry.record.is_none()) {
        return Err(Trouble::new(
            Kind::Locked,
            "Your role does not open all of this chart, so what would be destroyed can't be looked through.",
            "Nothing was recorded or destroyed.",
            "Ask somebody with the clinical role.",
        ));
    }
    let kept = keeping::of_chart(practice, &face, &entries, settled)?;
    let period = kept.inputs.period().ok_or_else(|| Trouble::damaged("The chart has no entries."))?;
    let mut plan = Plan {
        entries: entries.len() as u64,
        drafts: practice.drafts_of_chart(&face.tag)?.len(),
        face,
        kept,
        period,
        files: Vec::new(),
        known: safe_copies(practice)?,
        went_out: 0,
        unsealed: 0,
    };
    entries.iter().for_each(|entry| plan.take(entry));
    Ok(plan)
}

impl Plan {
    fn take(&mut self, entry: &Entry) {
        match entry.data() {
            Some(Data::Attachment(paper)) => {
                if paper.original == Original::Kept || paper.original_at.is_some() {
                    let place = paper.original_at.unwrap_or_else(|| "place not recorded".to_string());
                    self.know(format!("original of attachment {}: {place}", entry.leaf.seq), entry);
                }
                self.files.push(paper.sealed_digest);
            }
            Some(Data::PaperChart(paper)) => {
                self.know(format!("paper chart, {} pages: {}", paper.pages, paper.kept_at), entry);
            }
            Some(Data::Release(release)) => {
                self.went_out += 1;
                self.unsealed += usize::from(release.sealed == SealedHow::NotSealed);
            }
            Some(Data::Access(access)) => self.unsealed += usize::from(access.printed || access.exported),
            _ => {}
        }
    }

    fn know(&mut self, place: String, entry: &Entry) {
        self.known.push(CopyLeft { place, until: None, entry: Some(entry.leaf.seq) });
    }
}

/// The safe copies that the register tells of: each made since the chart was opened may hold its keys.
fn safe_copies(practice: &Practice) -> Outcome<Vec<CopyLeft>> {
    let still = copies::known(practice)?.into_iter().filter(|copy| copy.gone.is_none());
    let mut left: Vec<CopyLeft> = still
        .map(|copy| CopyLeft {
            place: format!("safe copy \"{}\" of {}", copy.place, plain_date(copy.made.local_date())),
            until: copy.keep_until,
            entry: Some(copy.entry),
        })
        .collect();
    left.extend(copies_by_other_means(practice)?);
    Ok(left)
}

/// Those that were made by other means and checked by hand.
fn copies_by_other_means(practice: &Practice) -> Outcome<Option<CopyLeft>> {
    let checks = practice.register_of(&["check-made"])?;
    let mut made = checks.iter().filter(|entry| match entry.data() {
        Some(Data::CheckMade(check)) => check.what == CheckKind::CopyMade,
        _ => false,
    });
    let Some(first) = made.next() else { return Ok(None) };
    let (count, last) = made.fold((1, first), |(count, _), entry| (count + 1, entry));
    let day = |entry: &Entry| plain_date(entry.leaf.written.local_date());
    let place = match count {
        1 => format!("safe copy of {}", day(last)),
        _ => format!("{count} safe copies of {} to {}", day(first), day(last)),
    };
    Ok(Some(CopyLeft { place, until: None, entry: Some(last.leaf.seq) }))
}
