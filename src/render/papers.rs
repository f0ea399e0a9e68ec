//! Calls, adverse reactions, and the papers of an amendment, as a reader asks about them.

use super::moments::answer_rows;
use super::rows::{Row, maybe};
use super::words::{self, spaced};
use crate::record::kinds::amend::{AmendmentDecision, AmendmentRequest, Disagreement, Rebuttal};
use crate::record::kinds::attendance::{Contact, ContactWith};
use crate::record::kinds::reaction::{Reaction, ReactionClosed, ReactionRechecked};
use crate::record::kinds::{Data, Given};

/// The rows of the kinds that have a view of their own here; none for the others.
pub fn rows(data: &Data) -> Option<Vec<Row>> {
    Some(match data {
        Data::Contact(contact) => contact_rows(contact),
        Data::Reaction(reaction) => reaction_rows(reaction),
        Data::ReactionRechecked(again) => rechecked_rows(again),
        Data::ReactionClosed(closed) => closed_rows(closed),
        Data::AmendmentRequest(request) => request_rows(request),
        Data::AmendmentDecision(decision) => decision_rows(decision),
        Data::Disagreement(disagreement) => disagreement_rows(disagreement),
        Data::Rebuttal(rebuttal) => rebuttal_rows(rebuttal),
        _ => return None,
    })
}

fn number(rows: &mut Vec<Row>, label: &str, seq: Option<u64>) {
    rows.extend(seq.map(|seq| Row::new(label, format!("no. {seq}"))));
}

fn contact_rows(contact: &Contact) -> Vec<Row> {
    let mut how = vec![spaced(contact.channel.word()), spaced(contact.direction.word())];
    how.retain(|part| part != "none");
    how.extend(contact.length_minutes.map(|n| words::count(n as usize, "minute", "minutes")));
    let with = match &contact.with {
        Given::Value(with) => with_words(with),
        Given::Absent(absent) => words::because(&absent.because),
    };
    let mut rows = vec![
        Row::new("How", words::capital(&how.join(", "))),
        Row::new("With", with),
        Row::new("Said", words::or_not_recorded(&contact.said)),
    ];
    let left = contact.message_left.map(|left| if left { "yes" } else { "no" });
    rows.extend(left.map(|left| Row::new("Message left", left)));
    if contact.screen.is_some() || !contact.answers.is_empty() {
        let name = contact.screen.as_deref().map_or("not named".to_string(), spaced);
        rows.push(Row::new("Screen", name));
        answer_rows(&mut rows, &contact.answers);
    }
    maybe(&mut rows, "Advice", contact.advice.as_ref());
    maybe(&mut rows, "Asked for", contact.asked_for.as_ref());
    maybe(&mut rows, "What came of it", contact.outcome.as_ref());
    rows.extend(contact.call_back_by.map(|at| Row::new("Call back by", at.plain())));
    let open = contact.done.map(|done| if done { "nothing" } else { "something" });
    rows.extend(open.map(|open| Row::new("Left to do", open)));
    number(&mut rows, "In the visit", contact.visit);
    if !contact.about.is_empty() {
        rows.push(Row::new("About", words::numbers(&contact.about)));
    }
    rows
}

fn with_words(with: &ContactWith) -> String {
    let relation = if with.relation == "self" { "the patient" } else { with.relation.as_str() };
    format!("{} ({relation}); identity checked by: {}", with.name, words::given(&with.identity_checked))
}

fn reaction_rows(reaction: &Reaction) -> Vec<Row> {
    let mut onset = reaction.onset_at.plain();
    if reaction.onset_about == Some(true) {
        onset = format!("about {onset}");
    }
    onset.push_str(
        &reaction.onset_minutes.map(|n| format!(", {n} minutes after the procedure")).unwrap_or_default(),
    );
    let mut place = vec![words::region(reaction.region)];
    place.extend(reaction.side.map(|side| words::side(side).to_string()));
    let mut rows = vec![
        Row::new("What", format!("{} ({})", reaction.what, reaction.severity.word())),
        Row::new("Began", onset),
        Row::new(
            "Put down to",
            format!("{} - {}", words::capital(&words::technique(reaction.technique)), place.join(", ")),
        ),
    ];
    let linked: Vec<String> = reaction
        .procedures
        .iter()
        .map(|linked| format!("procedure {} of note no. {}", linked.procedure, linked.note))
        .collect();
    if !linked.is_empty() {
        rows.push(Row::new("Linked to", linked.join("; ")));
    }
    rows.push(Row::new("What was done", words::or_not_recorded(&reaction.action)));
    let outcome = reaction.outcome.as_deref().unwrap_or("open when this was written");
    rows.push(Row::new("Outcome so far", outcome));
    rows.extend(reaction.follow_up_due.map(|due| Row::new("Follow-up due", words::day(due))));
    maybe(&mut rows, "Told by", reaction.told_by.as_ref());
    number(&mut rows, "Told in", reaction.contact);
    number(&mut rows, "In the visit", reaction.visit);
    rows
}

fn rechecked_rows(again: &ReactionRechecked) -> Vec<Row> {
    let mut rows = vec![
        Row::new("Looks again at", format!("no. {}", again.reaction)),
        Row::new("How it is", words::or_not_recorded(&again.words)),
    ];
    maybe(&mut rows, "Known by", again.known_by.as_ref());
    maybe(&mut rows, "Advice", again.advice.as_ref());
    rows.extend(again.follow_up_due.map(|due| Row::new("Follow-up due", words::day(due))));
    number(&mut rows, "In the visit", again.visit);
    rows
}

fn closed_rows(closed: &ReactionClosed) -> Vec<Row> {
    let mut rows = vec![
        Row::new("Closes", format!("no. {}", closed.reaction)),
        Row::new("Outcome", words::or_not_recorded(&closed.outcome)),
        Row::new("Closed with", words::or_not_recorded(&closed.closed_with)),
    ];
    number(&mut rows, "In the visit", closed.visit);
    rows
}

fn request_rows(request: &AmendmentRequest) -> Vec<Row> {
    let mut rows = vec![Row::new(
        "Asked by",
        format!(
            "{}, received {}, answer due {}",
            request.from,
            words::day(request.received_on),
            words::day(request.due)
        ),
    )];
    for point in &request.points {
        rows.push(Row::new(&format!("Point {}", point.no), words::or_not_recorded(&point.text)));
        if !point.entries.is_empty() {
            rows.push(Row { depth: 1, ..Row::new("Disputes", words::numbers(&point.entries)) });
        }
    }
    maybe(&mut rows, "Reckoned by", request.clock.as_ref());
    number(&mut rows, "Letter", request.letter);
    rows
}

fn decision_rows(decision: &AmendmentDecision) -> Vec<Row> {
    let mut rows = vec![Row::new("Answers", format!("no. {}", decision.request))];
    for point in &decision.points {
        let mut text = point.decision.word().to_uppercase();
        if let Some(ground) = point.ground {
            text.push_str(&format!(", ground: {}", spaced(ground.word())));
        }
        text.push_str(&format!(" - {}", words::or_not_recorded(&point.reason)));
        rows.push(Row::new(&format!("Point {}", point.no), text));
        for (label, seqs) in [("Corrected by", &point.corrections), ("Rests on", &point.evidence)] {
            if !seqs.is_empty() {
                rows.push(Row { depth: 1, ..Row::new(label, words::numbers(seqs)) });
            }
        }
    }
    let letter = &decision.letter;
    let mut sent = format!("dated {}, sent by {}", words::day(letter.dated), letter.sent_how);
    sent.push_str(&letter.letter.map(|seq| format!(", attachment no. {seq}")).unwrap_or_default());
    rows.push(Row::new("Letter", sent));
    let says = [
        ("the ground", letter.says_ground),
        ("the right to disagree, and how", letter.says_right_to_disagree),
        ("the right to have these papers go along with the record", letter.says_right_to_travel),
        ("where to complain, with a name", letter.says_complaint_route),
    ];
    let pick = |told: bool| {
        says.iter().filter(|(_, there)| *there == told).map(|(what, _)| *what).collect::<Vec<_>>().join("; ")
    };
    for (label, told) in [("It states", pick(true)), ("It does NOT state", pick(false))] {
        if !told.is_empty() {
            rows.push(Row { depth: 1, ..Row::new(label, told) });
        }
    }
    maybe(&mut rows, "Complaints go to", letter.complaint_contact.as_ref());
    if !decision.inform.is_empty() {
        rows.push(Row::new("To be informed", decision.inform.join("; ")));
    }
    rows
}

fn disagreement_rows(disagreement: &Disagreement) -> Vec<Row> {
    let mut rows = vec![
        Row::new("About the request", format!("no. {}", disagreement.request)),
        Row::new("Received", words::day(disagreement.received_on)),
        Row::new("The patient states", words::or_not_recorded(&disagreement.text)),
    ];
    number(&mut rows, "Letter", disagreement.letter);
    rows
}

fn rebuttal_rows(rebuttal: &Rebuttal) -> Vec<Row> {
    let sent = match &rebuttal.copy_sent_on {
        Given::Value(day) => words::day(*day),
        Given::Absent(absent) => words::because(&absent.because),
    };
    let mut rows = vec![
        Row::new("Answers", format!("no. {}", rebuttal.disagreement)),
        Row::new("The practice states", words::or_not_recorded(&rebuttal.text)),
        Row::new("Copy sent", sent),
    ];
    number(&mut rows, "Letter", rebuttal.letter);
    rows
}
