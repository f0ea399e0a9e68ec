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

#[cfg(test)]
mod tests {
    use super::super::tests::{correction, gathered, note, record};
    use super::*;
    use serde_json::{Value, json};

    /// The data of the example of a kind, with these members changed.
    fn example(kind: &str, change: &Value) -> Value {
        let mut data = crate::record::examples::example(kind).data;
        data.as_object_mut().unwrap().extend(change.as_object().unwrap().clone());
        data
    }

    /// The marks of these entries: sort, day, words.
    fn told(entries: &[(u64, &str, &str, Value)]) -> Vec<(String, String, String)> {
        let read: Vec<(u64, Record)> = entries
            .iter()
            .map(|(seq, kind, day, data)| {
                (*seq, record(kind, &format!("{day}T10:00:00-04:00"), data.clone()))
            })
            .collect();
        let marks = gathered(&read).marks;
        marks.into_iter().map(|m| (m.kind.word().to_string(), m.day.to_string(), m.words)).collect()
    }

    fn one(seq: u64, kind: &str, day: &str, change: Value) -> Vec<(String, String, String)> {
        told(&[(seq, kind, day, example(kind, &change))])
    }

    fn mark(kind: &str, day: &str, words: &str) -> Vec<(String, String, String)> {
        vec![(kind.to_string(), day.to_string(), words.to_string())]
    }

    #[test]
    fn what_bears_on_the_care_is_marked_on_its_day() {
        let agreed =
            "inside mouth, intraoral and soft tissue, mouth and jaw muscles, right, last day 16 Apr 2023";
        let kept = json!({ "narrower_than": [] });
        assert_eq!(
            one(71, "consent", "2022-10-17", kept.clone()),
            mark("consent-given", "2022-10-17", agreed)
        );
        let declined = json!({ "status": "declined", "narrower_than": [] });
        assert_eq!(
            one(71, "consent", "2022-10-17", declined),
            mark("refused", "2022-10-17", &format!("declined: {agreed}"))
        );
        let bare = json!({ "kind": "examination", "techniques": [], "regions": [], "side": null, "valid_until": null,
            "narrower_than": [] });
        assert_eq!(
            one(71, "consent", "2022-10-17", bare),
            mark("consent-given", "2022-10-17", "examination")
        );
        // The day a reaction began, not the day it was told.
        assert_eq!(
            one(1202, "reaction", "2023-10-03", json!({})),
            mark("reaction-opened", "2023-10-02", "sore ribs, sharp on a deep breath, 6/10 (mild)")
        );
        assert_eq!(
            one(1210, "reaction-closed", "2023-10-06", json!({})),
            mark("reaction-closed", "2023-10-06", "of no. 1202: no pain on a deep breath")
        );
        assert_eq!(
            one(75, "end-event", "2022-12-01", json!({})),
            mark("consent-ended", "2022-12-01", "no. 71: end of episode")
        );
        assert_eq!(
            one(141, "standing-refusal", "2022-11-28", json!({})),
            mark("refused", "2022-11-28", "standing refusal")
        );
        for (kind, marked) in [("pause", true), ("stop", true), ("resumed", false)] {
            let expected = if marked { mark("paused", "2022-10-17", kind) } else { Vec::new() };
            assert_eq!(one(73, "pause", "2022-10-17", json!({ "kind": kind })), expected);
        }
    }

    /// Who may look on, or see a picture, does not bear on how far a jaw opens.
    #[test]
    fn a_consent_to_something_else_than_care_is_no_mark() {
        for kind in ConsentKind::ALL {
            let marked = ["examination", "treatment", "inside-mouth", "sensitive-area", "imaging"];
            let change = json!({ "kind": kind.word(), "narrower_than": [] });
            let data = example("consent", &change);
            // Written long after the last day: a consent to care is given, and has run out.
            let late = json!({ "said_by": { "role": "self" }, "how": "words", "patient_words": "no" });
            let found = told(&[(71, "consent", "2022-10-17", data), (99, "withdrawal", "2023-06-06", late)]);
            let expected = if marked.contains(&kind.word()) { 3 } else { 1 };
            assert_eq!(found.len(), expected, "{kind}: {found:?}");
        }
    }

    /// A last day is whole (coverage rules, section 2): it has passed when something is written after it.
    #[test]
    fn a_last_day_is_marked_once_it_has_passed() {
        let ended = |status: &str, day: &str| {
            let data = example("consent", &json!({ "status": status, "narrower_than": [] }));
            let later = example("pause", &json!({}));
            let found = told(&[(71, "consent", "2022-10-17", data), (99, "pause", day, later)]);
            found.into_iter().filter(|(kind, ..)| kind == "consent-ended").collect::<Vec<_>>()
        };
        assert!(ended("signed", "2023-04-15").is_empty());
        assert!(ended("signed", "2023-04-16").is_empty());
        assert_eq!(
            ended("signed", "2023-04-17"),
            mark("consent-ended", "2023-04-16", "last day of no. 71, as agreed")
        );
        assert!(ended("declined", "2023-04-17").is_empty(), "what was declined never ends");
    }

    /// The rest of an earlier consent ends when it is taken back, also by a later answer.
    #[test]
    fn a_later_answer_about_the_rest_narrows_what_it_names() {
        let answered = |rest: &str, consent: u64| {
            let consent_data = example("consent", &json!({ "rest_of_earlier": "not-asked" }));
            let answer = example("rest-of-earlier", &json!({ "rest_of_earlier": rest, "consent": consent }));
            let found = told(&[
                (71, "consent", "2022-10-17", consent_data),
                (80, "rest-of-earlier", "2022-10-18", answer),
            ]);
            found.into_iter().filter(|(kind, ..)| kind == "consent-narrowed").collect::<Vec<_>>()
        };
        assert_eq!(
            answered("withdrawn", 71),
            mark("consent-narrowed", "2022-10-18", "no. 17 narrowed by no. 71")
        );
        assert_eq!(
            answered("withdrawn", 70),
            mark("consent-narrowed", "2022-10-18", "an earlier one narrowed by no. 70")
        );
        assert!(answered("kept", 71).is_empty() && answered("not-asked", 71).is_empty());
    }

    /// A note tells of a re-examination, and of a response that was not opened as a reaction of its own.
    #[test]
    fn a_note_marks_what_has_no_entry_of_its_own() {
        let told = |change: Value| {
            let mut written = note(9, "2025-03-04T10:00:00-05:00", json!([]));
            written.data.as_object_mut().unwrap().extend(change.as_object().unwrap().clone());
            let fixed =
                correction("2025-03-05T09:00:00-05:00", 10, "/complaints/0/pain_now", json!(4), json!(5));
            let marks = gathered(&[(10, written), (11, fixed)]).marks;
            let of_note = marks.into_iter().filter(|mark| mark.kind != MarkKind::Corrected);
            of_note.map(|m| (m.kind.word().to_string(), m.day.to_string(), m.words)).collect::<Vec<_>>()
        };
        assert!(told(json!({})).is_empty());
        let again = json!({ "sort": "re-examination" });
        assert_eq!(told(again), mark("re-examined", "2025-03-04", "re-examination"));
        let adverse = |change: Value| {
            let mut one = json!({ "what": "light-headed", "severity": "mild", "action": "lay down", "outcome": "gone" });
            one.as_object_mut().unwrap().extend(change.as_object().unwrap().clone());
            json!({ "adverse": [one] })
        };
        assert_eq!(told(adverse(json!({}))), mark("reaction-opened", "2025-03-04", "light-headed (mild)"));
        let closed = json!({ "closed_at": "2025-03-05T10:00:00-05:00" });
        let both = [
            mark("reaction-opened", "2025-03-04", "light-headed (mild)"),
            mark("reaction-closed", "2025-03-05", "light-headed: gone"),
        ];
        assert_eq!(told(adverse(closed)), both.concat());
        assert!(told(adverse(json!({ "reaction": 12 }))).is_empty());
    }

    #[test]
    fn each_sort_of_mark_has_words_of_its_own() {
        let words: std::collections::BTreeSet<&str> = MarkKind::ALL.iter().map(|kind| kind.words()).collect();
        assert_eq!(words.len(), MarkKind::ALL.len());
        for kind in MarkKind::ALL {
            // "withdrawn" is "consent withdrawn": the words say at least what the code says.
            let first = kind.word().split('-').next().unwrap();
            let stem = &first[..first.len().min(5)];
            assert!(kind.words().contains(stem), "{kind}: {}", kind.words());
        }
    }
}
