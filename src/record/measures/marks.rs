//! What else happened on the days of the measures: consents, withdrawals, pauses, reactions,
//! corrections and re-examinations.

use super::{Readable, corrected};
use crate::record::corrected::Meant;
use crate::record::envelope::Record;
use crate::record::kinds::Data;
use crate::record::kinds::consent::{Consent, ConsentKind, ConsentStatus, RestOfEarlier};
use crate::record::kinds::visit::{Adverse, Visit, VisitSort};
use crate::record::kinds::withdrawal::PauseKind;
use crate::record::moment::Date;
use crate::record::vocab::words;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

words! {
    /// Sort of mark.
    MarkKind {
        ConsentGiven = "consent-given", ConsentNarrowed = "consent-narrowed", ConsentEnded = "consent-ended",
        Refused = "refused", Withdrawn = "withdrawn", Paused = "paused", ReactionOpened = "reaction-opened",
        ReactionClosed = "reaction-closed", Corrected = "corrected", ReExamined = "re-examined",
    }
}

impl MarkKind {
    /// Its name in plain words.
    pub fn words(self) -> &'static str {
        match self {
            MarkKind::ConsentGiven => "consent given",
            MarkKind::ConsentNarrowed => "consent narrowed",
            MarkKind::ConsentEnded => "consent ended",
            MarkKind::Refused => "refused, declined",
            MarkKind::Withdrawn => "consent withdrawn",
            MarkKind::Paused => "pause or stop",
            MarkKind::ReactionOpened => "reaction began",
            MarkKind::ReactionClosed => "reaction closed",
            MarkKind::Corrected => "correction written",
            MarkKind::ReExamined => "re-examination",
        }
    }
}

/// Something that happened on a day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mark {
    /// Sort.
    pub kind: MarkKind,
    /// The local day.
    pub day: Date,
    /// Number of the entry it stands in.
    pub entry: u64,
    /// What it was, in a few words.
    pub words: String,
}

/// The marks of a chart, oldest first. Only consents to care count: who may see a picture of a jaw
/// does not bear on how far it opens. Entries come in the order written, and are read as corrected.
pub fn marks(ordered: &[Readable<'_>]) -> Vec<Mark> {
    let mut now: BTreeMap<u64, Record> = BTreeMap::new();
    let mut meant = Meant::default();
    let mut all = Vec::new();
    for entry in ordered {
        now.insert(entry.seq, entry.record.clone());
        if let Ok(Data::Correction(correction)) = entry.record.read_data() {
            let (target, field) = meant.reached(entry.seq, &correction);
            let next = now.get(&target).and_then(|record| corrected::with(record, &field, &correction.is));
            now.extend(next.map(|next| (target, next)));
            all.push(Mark {
                kind: MarkKind::Corrected,
                day: entry.record.written.local_date(),
                entry: entry.seq,
                words: format!("of no. {}", correction.target),
            });
        }
    }
    let consents: BTreeMap<u64, Consent> = now
        .iter()
        .filter_map(|(seq, record)| match record.read_data() {
            Ok(Data::Consent(consent)) => Some((*seq, *consent)),
            _ => None,
        })
        .collect();
    for (seq, record) in &now {
        of_entry(*seq, record, &consents, &mut all);
    }
    if let Some(newest) = ordered.iter().map(|entry| entry.record.written.local_date()).max() {
        all.extend(run_out(&consents, newest));
    }
    all.sort_by_key(|mark| (mark.day, mark.kind, mark.entry));
    all.dedup();
    all
}

/// The last days of consents to care that had passed when the newest entry was written.
fn run_out(consents: &BTreeMap<u64, Consent>, newest: Date) -> Vec<Mark> {
    let signed = consents.iter().filter(|(_, c)| is_care(c) && c.status == ConsentStatus::Signed);
    let last = signed.filter_map(|(seq, c)| c.valid_until.map(|day| (*seq, day.0)));
    last.filter(|(_, day)| *day < newest)
        .map(|(seq, day)| Mark {
            kind: MarkKind::ConsentEnded,
            day,
            entry: seq,
            words: format!("last day of no. {seq}, as agreed"),
        })
        .collect()
}

/// True for a consent to something done to the body.
fn is_care(consent: &Consent) -> bool {
    use ConsentKind::{Examination, Imaging, InsideMouth, SensitiveArea, Treatment};
    matches!(consent.kind, Examination | Treatment | InsideMouth | SensitiveArea | Imaging)
}

fn of_entry(seq: u64, record: &Record, consents: &BTreeMap<u64, Consent>, all: &mut Vec<Mark>) {
    let day = record.happened.start.local_date();
    let mut put = |kind, day, words: String| all.push(Mark { kind, day, entry: seq, words });
    match record.read_data() {
        Ok(Data::Consent(consent)) if is_care(&consent) => {
            let words = consent_words(&consent);
            match consent.status {
                ConsentStatus::Declined => put(MarkKind::Refused, day, format!("declined: {words}")),
                ConsentStatus::Signed => put(MarkKind::ConsentGiven, day, words),
            }
            if consent.rest_of_earlier == RestOfEarlier::Withdrawn && !consent.narrower_than.is_empty() {
                let earlier = numbers(&consent.narrower_than);
                put(MarkKind::ConsentNarrowed, day, format!("{earlier} narrowed by no. {seq}"));
            }
        }
        Ok(Data::RestAnswer(answer)) if answer.rest_of_earlier == RestOfEarlier::Withdrawn => {
            let earlier = consents.get(&answer.consent).map(|consent| numbers(&consent.narrower_than));
            let earlier = earlier.unwrap_or_else(|| "an earlier one".to_string());
            put(MarkKind::ConsentNarrowed, day, format!("{earlier} narrowed by no. {}", answer.consent));
        }
        Ok(Data::EndEvent(end)) => {
            put(MarkKind::ConsentEnded, day, format!("{}: {}", numbers(&end.consents), end.event));
        }
        Ok(Data::StandingRefusal(_)) => put(MarkKind::Refused, day, "standing refusal".to_string()),
        Ok(Data::Withdrawal(withdrawal)) => {
            let words = withdrawal.patient_words.value().map(|said| format!("\"{said}\""));
            put(MarkKind::Withdrawn, day, words.unwrap_or_default());
        }
        Ok(Data::Pause(pause)) if pause.kind != PauseKind::Resumed => {
            put(MarkKind::Paused, day, pause.kind.word().to_string());
        }
        Ok(Data::Reaction(reaction)) => {
            let day = reaction.onset_at.local_date();
            put(MarkKind::ReactionOpened, day, format!("{} ({})", reaction.what, reaction.severity));
        }
        Ok(Data::ReactionClosed(closed)) => {
            put(MarkKind::ReactionClosed, day, format!("of no. {}: {}", closed.reaction, closed.outcome));
        }
        Ok(Data::Visit(visit)) => of_note(&visit, day, &mut put),
        _ => {}
    }
}

/// A note tells of a re-examination, and of responses that have no entry of their own.
fn of_note(visit: &Visit, day: Date, put: &mut impl FnMut(MarkKind, Date, String)) {
    if visit.sort == VisitSort::ReExamination {
        put(MarkKind::ReExamined, day, "re-examination".to_string());
    }
    for adverse in visit.adverse.iter().filter(|adverse| adverse.reaction.is_none()) {
        let Adverse { what, severity, closed_at, outcome, .. } = adverse;
        put(MarkKind::ReactionOpened, day, format!("{what} ({severity})"));
        if let Some(at) = closed_at {
            put(MarkKind::ReactionClosed, at.local_date(), format!("{what}: {outcome}"));
        }
    }
}

fn consent_words(consent: &Consent) -> String {
    let spaced = |word: &str| word.replace('-', " ");
    let mut parts = vec![spaced(consent.kind.word())];
    let list = |words: Vec<String>| (!words.is_empty()).then(|| words.join(" and "));
    parts.extend(list(consent.techniques.iter().map(|technique| spaced(technique.word())).collect()));
    parts.extend(list(consent.regions.iter().map(|region| spaced(region.word())).collect()));
    parts.extend(consent.side.map(|side| side.word().to_string()));
    parts.extend(consent.valid_until.map(|last| {
        let last = crate::record::moment::plain_date(last.0);
        format!("last day {last}")
    }));
    parts.join(", ")
}

fn numbers(seqs: &[u64]) -> String {
    if seqs.is_empty() {
        return "no consent named".to_string();
    }
    seqs.iter().map(|seq| format!("no. {seq}")).collect::<Vec<_>>().join(", ")
}
