//! Consent: what was agreed to, declined, asked on the day, taken back and refused.
//!
//! Its status says what this chart itself says up to this document. Whether an act is covered on a
//! given day is another question, which the practice's rules answer.

use super::part::{Part, Section, Told};
use super::people::decider_by_id;
use super::resources::{Consent, Provision, ProvisionActor};
use super::set::{Chart, Seen};
use super::systems::{Place, concept, hl7, identifier, technique};
use super::taken_back::{Scope, ended, restored, taken};
use super::types::{CodeableConcept, Period, Reference, date, date_time, said};
use crate::record::kinds::consent::{
    AllowedKind, Consent as Agreed, ConsentKind, ConsentStatus, GivenBy, GiverRole,
};
use crate::record::kinds::withdrawal::{Asked, AskedAnswer, StandingRefusal, Withdrawal};
use crate::record::kinds::{Data, Given};
use crate::render::words;

/// What every consent says, whatever it is.
fn base(chart: &Chart<'_>, seen: &Seen<'_>, category: CodeableConcept) -> Consent {
    Consent {
        identifier: vec![chart.of_entry(seen.seq(), "consent")],
        scope: hl7("consentscope", "treatment").into(),
        category: vec![category],
        patient: Some(chart.patient()),
        date_time: Some(date_time(seen.now.happened.start)),
        organization: vec![chart.practice()],
        policy_rule: Some(CodeableConcept {
            text: Some("The practice's rules on consent, in the edition of the day".to_string()),
            ..concept("policy", "practice-rules")
        }),
        ..Consent::default()
    }
}

fn giver(chart: &Chart<'_>, by: &GivenBy) -> Reference {
    let decider = by.person_id.as_deref().and_then(|id| decider_by_id(chart, id));
    match (by.role, decider) {
        (GiverRole::Oneself, _) => chart.patient(),
        (GiverRole::DecisionMaker, Some(known)) => known,
        (GiverRole::DecisionMaker, None) => Reference::named(&words::giver(by)),
    }
}

/// A consent, or a declined one.
pub(super) fn agreed(chart: &Chart<'_>, seen: &Seen<'_>, data: &Agreed) -> Told {
    let mut one = base(chart, seen, concept("consent-kind", data.kind.word()));
    one.scope = scope(data.kind);
    one.category.push(concept("consent-form", data.form.word()));
    one.performer = vec![giver(chart, &data.given_by)];
    one.policy_rule = Some(policy(&data.wording));
    one.source_reference = data
        .paper
        .filter(|seq| matches!(chart.data(*seq), Some(Data::Attachment(_))))
        .map(|seq| Reference::to(&chart.ids.entry(seq, "document")));
    let declined = data.status == ConsentStatus::Declined;
    let partly = if declined { Vec::new() } else { taken(chart, seen, data) };
    one.status = match (declined, ended(chart, seen, data)) {
        (true, _) => "rejected",
        (false, true) => "inactive",
        (false, false) => "active",
    }
    .to_string();
    let mut provision = Provision {
        r#type: Some(if declined { "deny" } else { "permit" }.to_string()),
        period: Some(span(data)),
        actor: actors(chart, data),
        code: codes(Some(&data.techniques), &data.regions, data.side),
        ..Provision::default()
    };
    provision.provision.extend(limits(data));
    provision.provision.extend(partly.into_iter().map(|scope| deny(&scope)));
    one.provision = Some(provision);
    let what = if declined { "Declined" } else { "Agreed" };
    let title = format!("{what}: {}", words::spaced(data.kind.word()));
    Told::parts(Section::Consents, vec![Part::new("consent", title, one)])
}

/// Care of the body is treatment; what becomes of pictures, messages and records is privacy.
fn scope(kind: ConsentKind) -> CodeableConcept {
    use ConsentKind as K;
    match kind {
        K::PicturesForChart
        | K::PicturesForTeaching
        | K::Observer
        | K::MessageChannel
        | K::ReleaseOfRecord => hl7("consentscope", "patient-privacy").into(),
        K::FinancialNotice => concept("consent-scope", "financial"),
        K::Examination | K::Treatment | K::InsideMouth | K::SensitiveArea | K::Imaging => {
            hl7("consentscope", "treatment").into()
        }
    }
}

/// The wording that was signed, or why none was used (invariant ppc-1 asks for a policy).
fn policy(wording: &Given<String>) -> CodeableConcept {
    match wording {
        Given::Value(code) => CodeableConcept {
            text: said(&format!("Wording of the practice, edition {code}")),
            ..concept("wording", code)
        },
        Given::Absent(absent) => CodeableConcept {
            text: said(&format!("No wording was used, because: {}", absent.because)),
            ..concept("policy", "practice-rules")
        },
    }
}

fn span(data: &Agreed) -> Period {
    let end = data.valid_until.filter(|day| *day >= data.valid_from);
    Period { start: Some(date(data.valid_from)), end: end.map(date) }
}

fn actors(chart: &Chart<'_>, data: &Agreed) -> Vec<ProvisionActor> {
    let allowed = &data.practitioners_allowed;
    let role = || CodeableConcept {
        text: Some("may do it".to_string()),
        ..hl7("v3-ParticipationType", "PRF").into()
    };
    let values = allowed.values.iter();
    match allowed.kind {
        AllowedKind::Any => vec![ProvisionActor { role: role(), reference: chart.practice() }],
        AllowedKind::Named => {
            values.map(|code| ProvisionActor { role: role(), reference: chart.staff(code) }).collect()
        }
        AllowedKind::Role => values
            .map(|word| ProvisionActor {
                role: role(),
                reference: Reference::named(&format!("anybody here who is: {}", words::spaced(word))),
            })
            .collect(),
    }
}

/// Techniques, then regions with the side. Absent techniques stand for all of them.
fn codes(
    techniques: Option<&Vec<crate::record::vocab::Technique>>,
    regions: &[crate::record::vocab::Region],
    side: Option<crate::record::vocab::Side>,
) -> Vec<CodeableConcept> {
    let mut out: Vec<CodeableConcept> = match techniques {
        Some(listed) => listed.iter().map(|one| technique(*one)).collect(),
        None => vec![CodeableConcept::words("every technique")],
    };
    let place = |region| Place { region: Some(region), side, ..Place::default() }.concept();
    out.extend(regions.iter().filter_map(|region| place(*region)));
    out
}

/// What a consent leaves out: regions, and segments beyond its limits.
fn limits(data: &Agreed) -> Vec<Provision> {
    let mut out: Vec<Provision> = Vec::new();
    if !data.excluded_regions.is_empty() {
        out.push(Provision {
            r#type: Some("deny".to_string()),
            code: codes(Some(&Vec::new()), &data.excluded_regions, None),
            ..Provision::default()
        });
    }
    for limit in &data.segment_limits {
        let (from, to) = (limit.highest_segment, limit.lowest_segment);
        let mut text = vec!["segments beyond these".to_string()];
        text.extend(from.map(|segment| format!("from {segment}")));
        text.extend(to.map(|segment| format!("to {segment}")));
        let mut code = codes(limit.techniques.as_ref(), &[], None);
        code.push(CodeableConcept::words(&text.join(", ")));
        out.push(Provision { r#type: Some("deny".to_string()), code, ..Provision::default() });
    }
    let conditions = data.conditions.iter().map(|condition| {
        let mut text = vec![words::spaced(&condition.kind)];
        text.extend(condition.values.iter().map(|value| words::spaced(value)));
        text.extend(condition.words.clone());
        CodeableConcept { text: said(&text.join(", ")), ..concept("condition", &condition.kind) }
    });
    let conditions: Vec<CodeableConcept> = conditions.collect();
    if !conditions.is_empty() {
        out.push(Provision { r#type: Some("permit".to_string()), code: conditions, ..Provision::default() });
    }
    out
}

fn deny(scope: &Scope) -> Provision {
    Provision {
        r#type: Some("deny".to_string()),
        period: Some(Period { start: Some(date_time(scope.at)), end: None }),
        code: codes(scope.techniques.as_ref(), scope.regions.as_deref().unwrap_or_default(), scope.side),
        ..Provision::default()
    }
}

/// A consent taken back: it stands until a later consent names the thing again.
pub(super) fn withdrawn(chart: &Chart<'_>, seen: &Seen<'_>, data: &Withdrawal) -> Told {
    let mut one = base(chart, seen, concept("consent-kind", "withdrawal"));
    one.category.extend(data.consent_kinds.iter().map(|kind| concept("consent-kind", kind.word())));
    one.performer = vec![giver(chart, &data.said_by)];
    let scope = Scope::of_withdrawal(seen, data);
    one.status = if restored(chart, seen.seq(), &scope) { "inactive" } else { "active" }.to_string();
    one.provision = Some(deny(&scope));
    one.identifier.extend(data.completes.map(|seq| identifier("completes", chart.ids.number(seq))));
    let what = one.provision.iter().flat_map(|p| &p.code).filter_map(|c| c.text.clone()).collect::<Vec<_>>();
    Told::parts(
        Section::Consents,
        vec![Part::new("consent", format!("Taken back: {}", what.join("; ")), one)],
    )
}

/// A lasting no.
pub(super) fn refused(chart: &Chart<'_>, seen: &Seen<'_>, data: &StandingRefusal) -> Told {
    let mut one = base(chart, seen, concept("consent-kind", "standing-refusal"));
    one.performer = vec![giver(chart, &data.said_by)];
    let scope = Scope::of_refusal(seen, data);
    one.status = if restored(chart, seen.seq(), &scope) { "inactive" } else { "active" }.to_string();
    one.provision = Some(deny(&scope));
    let what = one.provision.iter().flat_map(|p| &p.code).filter_map(|c| c.text.clone()).collect::<Vec<_>>();
    Told::parts(Section::Consents, vec![Part::new("consent", format!("Refused: {}", what.join("; ")), one)])
}

/// Asked within a visit: a yes holds for that visit only.
pub(super) fn asked(chart: &Chart<'_>, seen: &Seen<'_>, data: &Asked) -> Told {
    let mut one = base(chart, seen, concept("consent-kind", "asked-today"));
    one.performer = data.answered_by.as_ref().map_or(vec![chart.patient()], |by| vec![giver(chart, by)]);
    let asked_at = seen.now.happened.start;
    let closed = chart.seen.iter().find_map(|other| match &other.data {
        Data::VisitClosed(end) if end.visit == data.visit => Some(other.now.happened.start),
        _ => None,
    });
    let no = data.answer == AskedAnswer::No;
    one.status = match (no, closed.is_some()) {
        (true, _) => "rejected",
        (false, true) => "inactive",
        (false, false) => "active",
    }
    .to_string();
    let mut code = codes(Some(&vec![data.technique]), &[data.region], Some(data.side));
    code.extend(data.segments.iter().filter_map(|segment| {
        Place { segment: Some(*segment), side: Some(data.side), ..Place::default() }.concept()
    }));
    let end = closed.filter(|end| *end >= asked_at).map(date_time);
    one.provision = Some(Provision {
        r#type: Some(if no { "deny" } else { "permit" }.to_string()),
        period: Some(Period { start: Some(date_time(asked_at)), end }),
        actor: vec![ProvisionActor {
            role: hl7("v3-ParticipationType", "PRF").into(),
            reference: chart.staff(&data.asked_by),
        }],
        code,
        provision: Vec::new(),
    });
    let limit = data.limit_words.as_ref().map(|words| format!(" ({words})")).unwrap_or_default();
    let (what, place) = (words::technique(data.technique), words::region(data.region));
    let title = format!(
        "Asked: {what}, {place}, {}: {}{limit}",
        words::side(data.side),
        words::spaced(data.answer.word())
    );
    Told {
        section: Section::Visit(data.visit),
        parts: vec![Part::new("consent", title, one)],
        shared: Vec::new(),
    }
}
