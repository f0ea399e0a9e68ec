//! Who received copies of this record, from the entries of each release.

use super::corrected::current;
use super::entry::Desk;
use super::html::{TABLE_END, esc, said, table_start, tr};
use super::words::{self, spaced};
use crate::record::kinds::Data;
use crate::record::kinds::release::Release;
use crate::record::moment::Moment;

/// A copy that left the practice.
pub struct Copy {
    /// Number of the release entry.
    pub seq: u64,
    /// When it left.
    pub at: Moment,
    /// What the release entry says, with its corrections.
    pub release: Release,
}

/// Every copy that is told of in this set, in the order written.
pub fn copies(desk: &Desk<'_>) -> Vec<Copy> {
    let read = desk.set.in_order().into_iter().filter_map(|entry| {
        let record = entry.shown()?;
        match current(record, desk.mends(entry.seq)).read_data() {
            Ok(Data::Release(release)) => {
                Some(Copy { seq: entry.seq, at: record.happened.start, release: *release })
            }
            _ => None,
        }
    });
    read.collect()
}

/// What left, in words: how many entries, of which span.
pub fn what(release: &Release) -> String {
    let mut out =
        words::count(usize::try_from(release.what.entries).unwrap_or(usize::MAX), "entry", "entries");
    if let (Some(from), Some(until)) = (release.what.from, release.what.until) {
        out.push_str(&format!(", {} to {}", words::day(from), words::day(until)));
    }
    if !release.withheld.is_empty() {
        out.push_str(&format!("; without the contents of {}", release.withheld.len()));
    }
    if let Some(text) = &release.what.words {
        out.push_str(&format!("; {text}"));
    }
    out
}

/// On what basis, in words.
pub fn basis(release: &Release) -> String {
    let mut out = spaced(release.basis.word());
    if let Some(text) = &release.basis_words {
        out.push_str(&format!(": {text}"));
    }
    out
}

/// The table.
pub fn section(desk: &Desk<'_>) -> String {
    let copies = copies(desk);
    if copies.is_empty() {
        return "<p><em>No release of a copy is in this copy.</em></p>\n".to_string();
    }
    let mut out = String::from(
        "<p>Every copy that left the practice and that is recorded in this chart. The entries themselves stand \
         among the requests and releases.</p>\n",
    );
    out.push_str(&table_start("grid", &["No.", "Left on", "To whom", "On what basis", "What", "How"]));
    for copy in &copies {
        let release = &copy.release;
        out.push_str(&tr(&[
            desk.link(copy.seq),
            format!(
                "<span class=\"t\">{}</span>",
                esc(&crate::record::moment::plain_date(copy.at.local_date()))
            ),
            said(&release.to),
            said(&basis(release)),
            said(&what(release)),
            format!("{}; {}", said(&release.channel), esc(&spaced(release.sealed.word()))),
        ]));
    }
    out.push_str(TABLE_END);
    out
}
