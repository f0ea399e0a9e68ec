//! The slips: one in the place of each entry whose contents stay at the practice, and one list of what was
//! not asked for. A slip says the reason, the law, and how to have it looked at again; nothing of the contents.

use super::withhold::{Held, Selection};
use crate::practice::chart::ChartFace;
use crate::practice::open::{Entry, Practice};
use crate::record::kinds::register::RegisterOpened;
use crate::record::kinds::release::WithholdReason;
use crate::record::kinds::{Data, title};
use crate::record::moment::Moment;
use crate::record::withholding::COMPLAINT;
use crate::trouble::Outcome;
use crate::verify::manifest::{OUTSIDE_SLIP, slip_name};

/// Name and bytes of every slip, in order.
pub(super) fn slips(
    view: &Practice,
    face: &ChartFace,
    entries: &[Entry],
    chosen: &Selection,
    made: Moment,
) -> Outcome<Vec<(String, Vec<u8>)>> {
    let register = view.register_of(&["register-opened"])?;
    let practice = register.iter().find_map(|entry| match entry.data() {
        Some(Data::RegisterOpened(data)) => Some(*data),
        _ => None,
    });
    let from = Sender { view, practice, face, made };
    let (mut out, mut outside) = (Vec::new(), Vec::new());
    for entry in entries {
        match chosen.held.get(&entry.leaf.seq) {
            Some(held) if held.reason == WithholdReason::OutsideRequest => outside.push(entry),
            Some(held) => {
                let name = slip_name(entry.leaf.chart_seq.unwrap_or_default());
                out.push((name, from.slip(entry, held).into_bytes()));
            }
            None => {}
        }
    }
    if !outside.is_empty() {
        out.push((OUTSIDE_SLIP.to_string(), from.list(&outside).into_bytes()));
    }
    Ok(out)
}

/// Who the slips are from, and of which chart.
struct Sender<'a> {
    view: &'a Practice,
    practice: Option<RegisterOpened>,
    face: &'a ChartFace,
    made: Moment,
}

impl Sender<'_> {
    fn head(&self, what: &str) -> String {
        let (name, address, keeper) = match &self.practice {
            Some(opened) => {
                let keeper = self.view.person(&opened.custodian);
                (opened.practice.as_str(), opened.address.as_str(), keeper.name)
            }
            None => ("the practice named in this copy", "", String::new()),
        };
        let line = "=".repeat(what.len());
        let mut out = format!("{what}\n{line}\n\n{name}\n");
        for more in [address, keeper.as_str()].iter().filter(|more| !more.is_empty()) {
            out.push_str(more);
            out.push('\n');
        }
        out.push_str(&format!("\nChart {}, copy of {}\n", self.face.chart_no, self.made.plain()));
        out
    }

    fn slip(&self, entry: &Entry, held: &Held) -> String {
        let leaf = &entry.leaf;
        let number = leaf.chart_seq.unwrap_or_default();
        let mut out = self.head("Withheld: a slip in the place of an entry");
        out.push_str(&format!(
            "\nEntry {number} of the chart, number {} of the register: {}.\nWritten {} by {}.\n\n",
            leaf.seq,
            title(&leaf.kind),
            leaf.written.plain(),
            leaf.author
        ));
        out.push_str(&format!("Reason: {}.\n{}\n", held.words, held.reason.slip_words()));
        if let Some(about) = held.follows {
            out.push_str(&format!(
                "It quotes, disputes or adds to number {about} of the register, which is withheld for this reason, and it \
                 is withheld with it.\n"
            ));
        }
        if let Some(made) = &held.determination {
            out.push_str(&format!("Determined by {}, {}, on {}.\n", made.by, made.licence, made.on));
        }
        out.push_str(&format!(
            "\nLaw: {}.\n\nTo have it reviewed: {}\n{COMPLAINT}\n\n\
             The entry's place in the chart is in this copy and is counted; nothing else of it is.\n",
            held.reason.source(),
            held.reason.review().words()
        ));
        out
    }

    fn list(&self, outside: &[&Entry]) -> String {
        let reason = WithholdReason::OutsideRequest;
        let mut out = self.head("Not asked for: entries of this chart that are not in this copy");
        out.push_str(&format!(
            "\n{}\nLaw: {}.\n{}\n\nTheir places in the chart are in this copy, so that it can be counted that \
             none is missing.\n\n  no. in chart  no. in register  kind\n",
            reason.slip_words(),
            reason.source(),
            reason.review().words()
        ));
        for entry in outside {
            let leaf = &entry.leaf;
            out.push_str(&format!(
                "  {:>12}  {:>15}  {}\n",
                leaf.chart_seq.unwrap_or_default(),
                leaf.seq,
                title(&leaf.kind)
            ));
        }
        out
    }
}
