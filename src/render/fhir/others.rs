//! AdverseEvent, Communication, ServiceRequest, DocumentReference, AuditEvent.

use super::part::{Part, Section, Told};
use super::resources::{
    AdverseEvent, AuditAgent, AuditEntity, AuditEvent, AuditSource, Communication, Content, Context,
    DocumentReference, Payload, ServiceRequest, SuspectEntity,
};
use super::set::{Chart, Seen};
use super::systems::{Place, concept, hl7, identifier};
use super::types::{Attachment, CodeableConcept, Coding, Reference, date, date_time, said};
use super::visit::remark;
use crate::record::kinds::Data;
use crate::record::kinds::attendance::{Channel, Contact, Direction};
use crate::record::kinds::papers::Attachment as Paper;
use crate::record::kinds::reaction::Reaction;
use crate::record::kinds::release::{Access, AccessWhy, Referral, Release, ReleaseBasis, Urgency};
use crate::render::words;

/// A reaction to treatment.
pub(super) fn reaction(chart: &Chart<'_>, seen: &Seen<'_>, data: &Reaction) -> Told {
    let procedures = data.procedures.iter().filter_map(|done| {
        let Some(Data::Visit(note)) = chart.data(done.note) else { return None };
        let index = note.procedures.iter().position(|one| one.no == done.procedure)?;
        let instance = Reference::to(&chart.ids.entry(done.note, &format!("procedure-{}", index + 1)));
        Some(SuspectEntity { instance })
    });
    let place = Place { region: Some(data.region), side: data.side, ..Place::default() };
    let what = format!("{} ({})", data.what, place.concept().and_then(|p| p.text).unwrap_or_default());
    let one = AdverseEvent {
        identifier: Some(chart.of_entry(seen.seq(), "reaction")),
        actuality: "actual".to_string(),
        event: Some(CodeableConcept::words(&what)),
        subject: chart.patient(),
        encounter: chart.encounter(data.visit),
        date: Some(date_time(data.onset_at)),
        recorded_date: Some(date_time(seen.now.written)),
        severity: Some(hl7("adverse-event-severity", data.severity.word()).into()),
        recorder: Some(chart.staff(&seen.now.author.code)),
        suspect_entity: procedures.collect(),
        ..AdverseEvent::default()
    };
    Told::parts(Section::Reactions, vec![Part::new("reaction", format!("{}: {what}", data.severity), one)])
}

/// A call, a message, a letter. Nobody came: the contact did not take place.
pub(super) fn contact(chart: &Chart<'_>, seen: &Seen<'_>, data: &Contact) -> Told {
    let no_show = data.channel == Channel::NoShow;
    let at = date_time(seen.now.happened.start);
    let with = data.with.value();
    let medium = match data.channel {
        Channel::Telephone => Some("PHONE"),
        Channel::InPerson => Some("FACE"),
        Channel::Letter => Some("MAILWRIT"),
        Channel::EMail => Some("EMAILWRIT"),
        Channel::Video => Some("VIDCONF"),
        _ => None,
    };
    let mut texts: Vec<String> = vec![data.said.clone()];
    texts.extend(data.asked_for.as_ref().map(|t| format!("Asked for: {t}")));
    texts.extend(data.advice.as_ref().map(|t| format!("Advice: {t}")));
    texts.extend(data.outcome.as_ref().map(|t| format!("Outcome: {t}")));
    let sender = match (data.direction, with) {
        (Direction::Incoming, Some(with)) if with.relation == "self" => Some(chart.patient()),
        (Direction::Incoming, Some(with)) => {
            Some(Reference::named(&format!("{} ({})", with.name, with.relation)))
        }
        (Direction::Outgoing, _) => Some(chart.staff(&seen.now.author.code)),
        _ => None,
    };
    let others = with.map(|with| format!("With: {} ({})", with.name, with.relation));
    let one = Communication {
        identifier: vec![chart.of_entry(seen.seq(), "contact")],
        status: if no_show { "not-done" } else { "completed" }.to_string(),
        status_reason: no_show.then(|| concept("channel", "no-show")),
        category: vec![concept("channel", data.channel.word())],
        medium: medium.map(|code| hl7("v3-ParticipationMode", code).into()).into_iter().collect(),
        subject: Some(chart.patient()),
        encounter: chart.encounter(data.visit),
        sent: (data.direction != Direction::Incoming).then(|| at.clone()),
        received: (data.direction == Direction::Incoming).then_some(at),
        sender,
        payload: texts
            .iter()
            .filter_map(|t| said(t))
            .map(|content_string| Payload { content_string })
            .collect(),
        note: others.iter().map(|text| remark(text)).collect(),
        ..Communication::default()
    };
    let title = format!(
        "{}, {}",
        words::capital(&words::spaced(data.channel.word())),
        seen.now.happened.start.plain()
    );
    Told::parts(Section::Contacts, vec![Part::new("contact", title, one)])
}

/// A referral; an answer ends it.
pub(super) fn referral(chart: &Chart<'_>, seen: &Seen<'_>, data: &Referral) -> Told {
    let answered = chart.seen.iter().any(|other| match &other.data {
        Data::ReferralAnswer(answer) => {
            answer.referral == seen.seq()
                && answer.outcome != crate::record::kinds::release::AnswerOutcome::NoneChased
        }
        _ => false,
    });
    let priority = match data.urgency {
        Urgency::Emergency => "stat",
        Urgency::SameDay => "asap",
        Urgency::Soon => "urgent",
        Urgency::Routine => "routine",
    };
    let mut notes = vec![format!("Urgency: {}", words::spaced(data.urgency.word()))];
    notes.push(format!("Sent: {}", words::given(&data.sent_how)));
    notes.extend(data.expect_by.map(|day| format!("Answer expected by {}", words::day(day))));
    let one = ServiceRequest {
        identifier: vec![chart.of_entry(seen.seq(), "referral")],
        status: if answered { "completed" } else { "active" }.to_string(),
        intent: "order".to_string(),
        category: vec![concept("request", "referral")],
        priority: Some(priority.to_string()),
        code: Some(CodeableConcept::words("Referral")),
        subject: chart.patient(),
        encounter: chart.encounter(data.visit),
        authored_on: Some(date_time(data.sent_at.unwrap_or(seen.now.happened.start))),
        requester: Some(chart.staff(&seen.now.author.code)),
        performer: vec![Reference::named(&data.to)],
        reason_code: said(&data.why).map(|text| CodeableConcept::words(&text)).into_iter().collect(),
        note: notes.iter().map(|text| remark(text)).collect(),
        ..ServiceRequest::default()
    };
    Told::parts(Section::Referrals, vec![Part::new("referral", format!("Referral to {}", data.to), one)])
}

/// A paper or picture. R4's own digest is SHA-1, so ours is given as an identifier instead.
pub(super) fn document(chart: &Chart<'_>, seen: &Seen<'_>, data: &Paper) -> Told {
    let author = match (data.made_by.value(), data.not_made_here) {
        (Some(who), _) => vec![Reference::named(who)],
        (None, false) => vec![chart.practice()],
        (None, true) => Vec::new(),
    };
    let url = chart.set.with_files.then(|| format!("../attachments/{}", data.plain_digest));
    let one = DocumentReference {
        identifier: vec![
            chart.of_entry(seen.seq(), "document"),
            identifier("blake3", data.plain_digest.clone()),
        ],
        status: "current".to_string(),
        r#type: Some(concept("attachment", data.kind.word())),
        subject: Some(chart.patient()),
        date: Some(date_time(seen.now.written)),
        author,
        custodian: Some(chart.practice()),
        description: said(&data.title),
        content: vec![Content {
            attachment: Attachment {
                content_type: said(&data.media_type),
                url,
                // R4: unsignedInt, at most 31 bits.
                size: Some(data.size).filter(|size| *size <= 2_147_483_647),
                title: said(&data.title),
                creation: data.made_on.value().copied().map(date),
                ..Attachment::default()
            },
        }],
        context: chart.encounter(data.visit).map(|visit| Context { encounter: vec![visit] }),
        ..DocumentReference::default()
    };
    Told::parts(Section::Papers, vec![Part::new("document", data.title.clone(), one)])
}

fn audit(chart: &Chart<'_>, seen: &Seen<'_>, kind: &str) -> AuditEvent {
    AuditEvent {
        r#type: hl7("iso-21089-lifecycle", kind),
        action: Some("R".to_string()),
        recorded: date_time(seen.now.written),
        outcome: Some("0".to_string()),
        agent: vec![AuditAgent {
            who: Some(chart.staff(&seen.now.author.code)),
            name: said(&seen.now.author.name),
            requestor: Some(true),
        }],
        source: AuditSource { observer: chart.practice() },
        entity: vec![AuditEntity { what: Some(chart.patient()), description: None }],
        ..AuditEvent::default()
    }
}

/// The chart was opened for reading.
pub(super) fn opened(chart: &Chart<'_>, seen: &Seen<'_>, data: &Access) -> Told {
    let mut one = audit(chart, seen, "access");
    let purpose = match data.why {
        AccessWhy::Visit | AccessWhy::Call => hl7("v3-ActReason", "TREAT").into(),
        AccessWhy::Emergency => hl7("v3-ActReason", "ETREAT").into(),
        AccessWhy::Billing => hl7("v3-ActReason", "HPAYMT").into(),
        AccessWhy::Request => hl7("v3-ActReason", "PATRQT").into(),
        AccessWhy::Review | AccessWhy::Other => concept("access-why", data.why.word()),
    };
    let mut text = vec![words::spaced(data.why.word())];
    text.extend(data.words.clone());
    one.purpose_of_event = vec![CodeableConcept { text: said(&text.join(": ")), ..purpose }];
    let mut what = vec![words::spaced(data.opened.word())];
    what.extend((!data.entries.is_empty()).then(|| words::numbers(&data.entries)));
    what.extend(data.printed.then(|| "printed".to_string()));
    what.extend(data.exported.then(|| "exported".to_string()));
    let said_what = what.join(", ");
    one.outcome_desc = said(&format!("Opened: {said_what}"));
    let title = format!("Opened by {}, {}: {said_what}", seen.now.author.name, seen.now.written.plain());
    Told::parts(Section::Openings, vec![Part::new("opened", title, one)])
}

/// The chart, or a part of it, was handed over.
pub(super) fn released(chart: &Chart<'_>, seen: &Seen<'_>, data: &Release) -> Told {
    let mut one = audit(chart, seen, "disclose");
    let reason = match data.basis {
        ReleaseBasis::Patient | ReleaseBasis::Guardian => Some("PATRQT"),
        ReleaseBasis::Treatment => Some("TREAT"),
        ReleaseBasis::Payment => Some("HPAYMT"),
        _ => None,
    };
    let purpose: CodeableConcept =
        reason.map_or(concept("release-basis", data.basis.word()), |code| hl7("v3-ActReason", code).into());
    let mut text = vec![words::spaced(data.basis.word())];
    text.extend(data.basis_words.clone());
    one.purpose_of_event = vec![CodeableConcept { text: said(&text.join(": ")), ..purpose }];
    one.agent.push(AuditAgent { who: None, name: said(&data.to), requestor: Some(false) });
    let what = format!("{} entries, by {}", data.what.entries, data.channel);
    one.outcome_desc = said(&format!("Handed over: {what}"));
    let title = format!("Handed over to {}, {}: {what}", data.to, seen.now.written.plain());
    Told::parts(Section::Openings, vec![Part::new("released", title, one)])
}

/// What kind of thing a tag says of a resource.
pub(super) fn corrected_tag() -> Coding {
    super::systems::own("reading", "corrected")
}
