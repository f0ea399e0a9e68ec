//! Which charts were disposed of, how far each is, and the certificates.

use crate::practice::memory;
use crate::practice::open::{Entry, Practice};
use crate::practice::session::chart_key_files;
use crate::record::kinds::disposing::{CopyGone, DisposalCertificate, DisposalState};
use crate::record::kinds::{Data, Day};
use crate::record::moment::{Moment, plain_date};
use crate::seal::note::Note;
use crate::trouble::{Kind, Outcome, Trouble};

/// A chart whose destruction two people ordered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Disposed {
    /// Random tag of the chart.
    pub tag: String,
    /// Number of the order.
    pub order: u64,
    /// When it was ordered.
    pub at: Moment,
    /// Number of the entry that says it is done.
    pub done: Option<u64>,
}

/// Every chart that was disposed of, in the order ordered. An order that two different people did not sign is none:
/// whoever can add an entry alone can't have a chart destroyed.
///
/// # Errors
/// When an entry can't be read.
pub fn disposed(practice: &Practice) -> Outcome<Vec<Disposed>> {
    orders(practice, &memory::register(practice)?, &|_| true)
}

/// The orders that are wanted. Signatures are looked at of these alone.
fn orders(
    practice: &Practice,
    register: &[Entry],
    wanted: &dyn Fn(&Disposed) -> bool,
) -> Outcome<Vec<Disposed>> {
    let entries = register.iter().filter(|entry| entry.leaf.kind == "chart-disposed");
    let mut found: Vec<(Disposed, &Entry)> = Vec::new();
    for entry in entries {
        let Some(Data::ChartDisposed(data)) = entry.data() else { continue };
        match data.state {
            DisposalState::Ordered => {
                let (order, at) = (entry.leaf.seq, entry.leaf.written);
                found.push((Disposed { tag: data.chart, order, at, done: None }, entry));
            }
            DisposalState::Done => {
                let of = found.iter_mut().find(|(one, _)| Some(one.order) == data.ordered_by);
                if let Some((one, _)) = of {
                    one.done = Some(entry.leaf.seq);
                }
            }
        }
    }
    let signed = found.into_iter().filter(|(one, entry)| wanted(one) && two_signed(practice, entry));
    Ok(signed.map(|(one, _)| one).collect())
}

/// True where two different people signed an entry.
pub(super) fn two_signed(practice: &Practice, entry: &Entry) -> bool {
    Note::parse(&entry.leaf_bytes).is_ok_and(|note| practice.keys().hands(&note).len() >= 2)
}

/// The charts whose destruction was ordered and is not done.
///
/// # Errors
/// As [`disposed`].
pub fn unfinished(practice: &Practice) -> Outcome<Vec<Disposed>> {
    // Asked as each command begins, so nothing else of the register is opened for it.
    orders(practice, &practice.register_of(&["chart-disposed"])?, &|one| one.done.is_none())
}

/// What every command says while a destruction is not done.
pub fn unfinished_words(one: &Disposed) -> String {
    format!(
        "The destruction of a chart was ordered in entry {} and is not finished: some of it may still be here. \
         Finish it with `inkfast dispose finish`.",
        one.order
    )
}

/// Refuses whatever is to be added to or read from a chart that was disposed of.
///
/// # Errors
/// When it was.
pub fn refuse_disposed(practice: &Practice, tag: &str) -> Outcome<()> {
    let Some(one) = orders(practice, &memory::register(practice)?, &|one| one.tag == tag)?.pop() else {
        return Ok(());
    };
    Err(match one.done {
        Some(_) => gone(&format!("It was ordered in entry {}, {}.", one.order, one.at.plain())),
        None => Trouble::new(
            Kind::Refused,
            format!("The destruction of this chart was ordered in entry {} and is not finished.", one.order),
            "Nothing was shown or written.",
            "Finish it with `inkfast dispose finish`.",
        ),
    })
}

fn gone(how: &str) -> Trouble {
    Trouble::new(
        Kind::NotFound,
        format!("This chart was disposed of: nothing opens it any more. {how}"),
        "Nothing was changed.",
        "Look at `inkfast keep disposed`. If the person comes again, open a new chart under a new number.",
    )
}

/// A certificate, and what became of the copies it names.
#[derive(Debug, Clone, PartialEq)]
pub struct Certified {
    /// Number of the entry.
    pub entry: u64,
    /// When it was signed.
    pub at: Moment,
    /// Code and name of the first signer.
    pub by: (String, String),
    /// Code and name of the second signer.
    pub second: (String, String),
    /// The certificate.
    pub certificate: DisposalCertificate,
    /// What was recorded of its copies, with the number of the entry.
    pub gone: Vec<(u64, CopyGone)>,
    /// How far the chart itself is; none where nobody ordered it.
    pub disposed: Option<Disposed>,
    /// Key files of the chart that lie in the store.
    pub keys_here: Vec<String>,
}

/// A copy a certificate names, and what became of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CopyNow {
    /// Its number on the certificate, from 1.
    pub number: u64,
    /// Where.
    pub place: String,
    /// Last day it is there, as known then.
    pub until: Option<Day>,
    /// Day it was destroyed, how and by whom.
    pub gone: Option<(Day, String, String)>,
}

impl Certified {
    /// The copies, each with what became of it.
    pub fn copies(&self) -> Vec<CopyNow> {
        let of = |number: u64| self.gone.iter().find(|(_, gone)| gone.copy == number);
        self.certificate
            .copies
            .iter()
            .zip(1..)
            .map(|(copy, number)| CopyNow {
                number,
                place: copy.place.clone(),
                until: copy.until,
                gone: of(number).map(|(_, gone)| (gone.on, gone.how.clone(), gone.by.clone())),
            })
            .collect()
    }

    /// Where it still is: the copies that nobody recorded as destroyed. A day that has passed is no record that
    /// the copy went.
    pub fn still(&self) -> Vec<CopyNow> {
        self.copies().into_iter().filter(|copy| copy.gone.is_none()).collect()
    }

    /// How it stands, in one sentence.
    pub fn verdict(&self) -> String {
        if let Some(one) = self.disposed.as_ref().filter(|one| one.done.is_none()) {
            return format!(
                "NOT DISPOSED OF YET: it was ordered in entry {} and is not finished.",
                one.order
            );
        }
        if !self.keys_here.is_empty() {
            return "NOT DISPOSED OF: keys of the chart lie in the store again.".to_string();
        }
        let still: Vec<String> = self
            .still()
            .into_iter()
            .map(|copy| match copy.until {
                Some(day) => format!("{} (until {})", copy.place, plain_date(day.0)),
                None => format!("{} (no day known)", copy.place),
            })
            .collect();
        match still.as_slice() {
            [] => "Disposed of: nothing in the store opens it, and no copy is known.".to_string(),
            [one] => format!("NOT DISPOSED OF: a copy lives in: {one}."),
            many => format!("NOT DISPOSED OF: copies live in: {}.", many.join("; ")),
        }
    }
}

/// Every certificate, the earliest first.
///
/// # Errors
/// When an entry can't be read.
pub fn certificates(practice: &Practice) -> Outcome<Vec<Certified>> {
    let disposed = disposed(practice)?;
    let entries = practice.register_of(&["disposal-certificate", "copy-gone"])?;
    let mut found: Vec<Certified> = Vec::new();
    for entry in &entries {
        match (entry.data(), &entry.record) {
            (Some(Data::DisposalCertificate(certificate)), Some(record)) => {
                let person = |code: &str, name: &str| (code.to_string(), name.to_string());
                let second = record.second.as_ref();
                found.push(Certified {
                    entry: entry.leaf.seq,
                    at: entry.leaf.written,
                    by: person(&record.signed.by, &record.signed.name),
                    second: second.map_or_else(Default::default, |second| person(&second.by, &second.name)),
                    gone: Vec::new(),
                    disposed: disposed.iter().find(|one| one.tag == certificate.chart).cloned(),
                    keys_here: chart_key_files(&practice.world, &practice.place, &certificate.chart)?,
                    certificate: *certificate,
                });
            }
            (Some(Data::CopyGone(gone)), _) => {
                if let Some(one) = found.iter_mut().find(|one| one.entry == gone.certificate) {
                    one.gone.push((entry.leaf.seq, *gone));
                }
            }
            _ => {}
        }
    }
    Ok(found)
}

/// The certificate with this number.
///
/// # Errors
/// When there is none.
pub fn certificate(practice: &Practice, number: u64) -> Outcome<Certified> {
    certificates(practice)?.into_iter().find(|one| one.entry == number).ok_or_else(|| {
        Trouble::new(
            Kind::NotFound,
            format!("Entry {number} is no certificate of a disposal."),
            "Nothing was changed.",
            "Look the number up with `inkfast keep disposed`.",
        )
    })
}

/// Refuses a chart number that a destroyed chart had: a number stands for one chart for ever.
///
/// # Errors
/// When one had it.
pub fn refuse_number(practice: &Practice, chart_no: &str) -> Outcome<()> {
    match of_number(practice, chart_no)? {
        None => Ok(()),
        Some(_) => Err(Trouble::new(
            Kind::Refused,
            "A chart with this number was disposed of; a number is not given twice.",
            "Nothing was written.",
            "Choose another number.",
        )),
    }
}

/// Says that the chart with this number was disposed of, if it was.
///
/// # Errors
/// That it was; or an entry can't be read.
pub fn refuse_gone(practice: &Practice, chart_no: &str) -> Outcome<()> {
    match of_number(practice, chart_no)? {
        None => Ok(()),
        Some(one) => Err(gone(&format!("Its certificate is entry {}, {}.", one.entry, one.at.plain()))),
    }
}

fn of_number(practice: &Practice, chart_no: &str) -> Outcome<Option<Certified>> {
    let same = |one: &Certified| one.certificate.chart_no.eq_ignore_ascii_case(chart_no.trim());
    Ok(certificates(practice)?.into_iter().find(same))
}
