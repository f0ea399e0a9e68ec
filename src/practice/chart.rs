//! Charts: opening one, finding one by its number, and what is known of the patient now.

use super::disposal::standing::{disposed, refuse_disposed, refuse_gone, refuse_number};
use super::open::{Draft, Entry, Practice};
use super::setup::make_chart_keys;
use crate::ledger::write::Receipt;
use crate::record::kinds::Data;
use crate::record::kinds::identity::{ChartOpened, ChartStatus, DecisionMaker, Identity, JoinDirection};
use crate::record::kinds::release::{Access, AccessWhy, Opened};
use crate::record::moment::Moment;
use crate::trouble::{Kind, Outcome, Trouble};
use std::collections::HashSet;

/// What stands at the head of a chart now.
#[derive(Debug, Clone)]
pub struct ChartFace {
    /// The chart's tag in the ledger.
    pub tag: String,
    /// The practice's chart number.
    pub chart_no: String,
    /// Who the patient is, with every change of identity laid over.
    pub identity: Identity,
    /// How many entries the chart has.
    pub entries: u64,
    /// Number of the chart where it goes on, when this one was closed because both are of one person.
    pub continue_at: Option<String>,
}

/// Opens a chart: makes its keys and writes its first entry.
///
/// # Errors
/// When the number is taken already, or the record can't be as it stands.
pub fn open_chart(
    practice: &mut Practice,
    data: ChartOpened,
    happened: Moment,
) -> Outcome<(String, Receipt)> {
    practice.begin_writing()?;
    refuse_number(practice, &data.chart_no)?;
    if faces(practice)?.iter().any(|f| f.chart_no == data.chart_no) {
        return Err(Trouble::new(
            Kind::Refused,
            "There is a chart with this number already.",
            "Nothing was written.",
            "Look at that chart first. If it is another person, choose another number.",
        ));
    }
    let tag = make_chart_keys(&practice.world.clone(), &practice.place.clone(), practice)?;
    let number = data.chart_no.clone();
    let receipt = practice.append(Draft::new(Some(&tag), Data::ChartOpened(Box::new(data)), happened))?;
    practice.keep_numbers(&[(number, tag.clone())]);
    Ok((tag, receipt))
}

/// Who is on file to decide for the patient, the newest entry of each person, in the order in which these were made.
/// Whether somebody may decide now is for the coverage question to say.
pub fn deciders(entries: &[Entry]) -> Vec<DecisionMaker> {
    let mut all: Vec<DecisionMaker> = Vec::new();
    for entry in entries {
        if let Some(Data::DecisionMaker(one)) = entry.data() {
            all.retain(|before| before.person_id != one.person_id);
            all.push(*one);
        }
    }
    all
}

/// The face of every chart that this person's roles open and that was not disposed of.
pub fn faces(practice: &Practice) -> Outcome<Vec<ChartFace>> {
    let (mut picked, mut begun) = (Vec::new(), HashSet::new());
    for at in practice.all() {
        let at = at?;
        let Some(tag) = at.chart else { continue };
        if begun.insert(tag) || FACE.contains(&practice.kind_of(&at)?.as_str()) {
            picked.push(at);
        }
    }
    let charts = practice.by_chart(&picked)?;
    let gone = disposed(practice)?;
    let mut faces = Vec::new();
    // Should keys of a destroyed chart have come back, it is on no list all the same.
    for tag in practice.chart_tags()?.into_iter().filter(|tag| !gone.iter().any(|one| one.tag == *tag)) {
        let entries = crate::ledger::leaf::chart_tag(&tag).and_then(|bytes| charts.get(&bytes));
        if let Some(entries) = entries {
            faces.extend(face_of(&tag, entries, practice)?);
        }
    }
    Ok(faces)
}

/// Kinds that change a chart's face.
const FACE: [&str; 3] = ["identity-changed", "joined", "chart-state"];

/// The entries that make up a chart's face: its first, every change of identity, and where it goes on.
fn first_and_identity(practice: &Practice, tag: &str) -> Outcome<Vec<Entry>> {
    let mut entries = Vec::new();
    for at in practice.of_chart(tag, 0)? {
        if entries.is_empty() || FACE.contains(&practice.kind_of(&at)?.as_str()) {
            entries.push(practice.entry(&at)?);
        }
    }
    Ok(entries)
}

fn face_of(tag: &str, entries: &[Entry], practice: &Practice) -> Outcome<Option<ChartFace>> {
    let (mut found, mut continue_at) = (None, None);
    for entry in entries {
        match entry.data() {
            Some(Data::ChartOpened(opened)) => {
                found = Some((opened.chart_no.clone(), opened.identity.clone()));
            }
            Some(Data::IdentityChanged(changed)) => {
                if let Some((_, identity)) = &mut found {
                    *identity = changed.identity.clone();
                }
            }
            Some(Data::Joined(joined)) if joined.direction == JoinDirection::ContinueAt => {
                continue_at = Some(joined.other_chart_no.clone());
            }
            Some(Data::ChartState(state)) => {
                // A closing that names no chart does not take back where a joined one goes on.
                let names = state.continue_at.clone().or(continue_at);
                continue_at = names.filter(|_| state.status == ChartStatus::ClosedContinueAt);
            }
            _ => {}
        }
    }
    let Some((chart_no, identity)) = found else { return Ok(None) };
    let entries = practice.head_of(tag)?.map_or(0, |head| head.count);
    Ok(Some(ChartFace { tag: tag.to_string(), chart_no, identity, entries, continue_at }))
}

/// The face of one chart, by its tag.
///
/// # Errors
/// When its first entry can't be opened.
pub fn face(practice: &Practice, tag: &str) -> Outcome<ChartFace> {
    let entries = first_and_identity(practice, tag)?;
    face_of(tag, &entries, practice)?
        .ok_or_else(|| Trouble::damaged("The chart's first entry can't be opened."))
}

/// The face of the chart with this number.
///
/// # Errors
/// When no chart that this person may open has it.
pub fn find(practice: &Practice, chart_no: &str) -> Outcome<ChartFace> {
    let wanted = chart_no.trim();
    if let Some(tag) = practice.probable_chart(wanted)
        && let Some(first) = practice.of_chart(&tag, 0)?.first()
        && let Some(Data::ChartOpened(opened)) = practice.entry(first)?.data()
        && opened.chart_no.eq_ignore_ascii_case(wanted)
    {
        return face(practice, &tag);
    }
    // Only the entry that opened each chart is opened, and none behind the one looked for.
    let firsts = practice.first_entries()?;
    let mut seen: Vec<(String, String)> = Vec::new();
    for some in firsts.chunks(FIND_AT_ONCE) {
        for entry in practice.open_all(some)? {
            let tag = entry.leaf.chart.clone().unwrap_or_default();
            let Some(Data::ChartOpened(opened)) = entry.data() else { continue };
            seen.push((opened.chart_no.clone(), tag.clone()));
            if opened.chart_no.eq_ignore_ascii_case(wanted) || tag == wanted {
                practice.keep_numbers(&seen);
                refuse_disposed(practice, &tag)?;
                return face(practice, &tag);
            }
        }
    }
    practice.keep_numbers(&seen);
    refuse_gone(practice, wanted)?;
    Err(Trouble::new(
        Kind::NotFound,
        "No chart with this number is open to you.",
        "Nothing was changed.",
        "Check the number with `inkfast patient list`, or ask somebody whose role opens it.",
    ))
}

/// So many charts are looked into together, on as many cores as there are.
const FIND_AT_ONCE: usize = 32;

/// The tag of the chart with this number, for adding to it: at a locked desk by what it remembers.
///
/// # Errors
/// As [`find`].
pub fn tag_of(practice: &Practice, chart_no: &str) -> Outcome<String> {
    match practice.session.kit() {
        Some(kit) => kit.tag_of(chart_no),
        None => find(practice, chart_no).map(|face| face.tag),
    }
}

/// Writes down that the chart was opened for reading.
pub fn note_access(practice: &mut Practice, tag: &str, access: Access) -> Outcome<Receipt> {
    let now = practice.now();
    practice.append(Draft::new(Some(tag), Data::Access(Box::new(access)), now))
}

/// True when the person who is here has a visit in this chart: opened by them or naming them, today or left open.
pub fn treats_today(practice: &Practice, entries: &[Entry]) -> bool {
    let (me, today) = (practice.session.me.code.as_str(), practice.now().local_date());
    let open = super::visit::open_visit(entries);
    entries.iter().filter(|e| e.leaf.kind == "visit-opened").any(|e| {
        let now = e.leaf.written.local_date() == today || open == Some(e.leaf.seq);
        let named =
            || matches!(e.data(), Some(Data::VisitOpened(v)) if v.practitioners.iter().any(|c| c == me));
        now && (e.leaf.author == me || named())
    })
}

/// True when the person who is here wrote down a contact in this chart today.
pub fn spoke_today(practice: &Practice, entries: &[Entry]) -> bool {
    mine_today(practice, entries).any(|e| e.leaf.kind == "contact")
}

/// True when the person who is here opened this chart today, for this reason where one is given.
pub fn opened_today(practice: &Practice, entries: &[Entry], why: Option<AccessWhy>) -> bool {
    mine_today(practice, entries)
        .any(|e| matches!(e.data(), Some(Data::Access(a)) if why.is_none_or(|why| a.why == why)))
}

/// True when an opening of today by the person who is here already says all that this one would.
pub fn is_known_today(practice: &Practice, entries: &[Entry], opening: &Access) -> bool {
    mine_today(practice, entries).any(|e| {
        matches!(e.data(), Some(Data::Access(known)) if known.why == opening.why
            && known.opened == opening.opened
            && known.printed >= opening.printed
            && known.exported >= opening.exported
            && opening.entries.iter().all(|seq| known.entries.contains(seq))
            && (opening.request.is_none() || known.request == opening.request))
    })
}

fn mine_today<'e>(practice: &Practice, entries: &'e [Entry]) -> impl Iterator<Item = &'e Entry> {
    let (me, today) = (practice.session.me.code.clone(), practice.now().local_date());
    entries.iter().filter(move |e| e.leaf.author == me && e.leaf.written.local_date() == today)
}

/// An opening for this reason, of the whole chart.
pub fn access(why: AccessWhy, words: Option<String>) -> Access {
    Access {
        why,
        words,
        opened: Opened::WholeChart,
        entries: Vec::new(),
        exported: false,
        printed: false,
        request: None,
    }
}
