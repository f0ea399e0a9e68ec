//! The resources of FHIR R4 (4.0.1) that a chart is told in, with the members used here, in the
//! standard's order.

use super::element::elements;
use super::types::{
    Address, Annotation, Attachment, CodeableConcept, Coding, ContactPoint, Extension, HumanName, Identifier,
    Meta, Narrative, Period, Quantity, Reference,
};
use serde::Serialize;

/// Declares the resources, and what can be said of each of them alike.
macro_rules! resources {
    ($($(#[$meta:meta])* $name:ident { $($field:ident: $ty:ty),+ $(,)? })+) => {
        elements! {
            $($(#[$meta])* $name { id: String, meta: Option<Meta>, text: Option<Narrative>, $($field: $ty),+ })+
        }

        /// Any resource of a document.
        #[derive(Debug, Clone, PartialEq, Serialize)]
        #[serde(tag = "resourceType")]
        pub(crate) enum Resource {
            $($(#[$meta])* $name(Box<$name>),)+
        }

        impl Resource {
            /// Its id, its words, and a tag where one is set on it.
            pub(super) fn finish(&mut self, id: String, text: Narrative, tag: Option<Coding>) {
                match self {
                    $(Resource::$name(one) => {
                        one.id = id;
                        one.text = Some(text);
                        one.meta = tag.map(|tag| Meta { tag: vec![tag] });
                    })+
                }
            }
        }

        $(impl From<$name> for Resource {
            fn from(one: $name) -> Resource { Resource::$name(Box::new(one)) }
        })+
    };
}

resources! {
    /// The first resource of a document: its sections.
    Composition { identifier: Option<Identifier>, status: String, r#type: CodeableConcept,
        subject: Option<Reference>, date: String, author: Vec<Reference>, title: String,
        attester: Vec<Attester>, custodian: Option<Reference>, event: Vec<Event>, section: Vec<Section> }
    /// Whose chart it is.
    Patient { identifier: Vec<Identifier>, name: Vec<HumanName>, telecom: Vec<ContactPoint>,
        gender: Option<String>, birth_date: Option<String>, deceased_date_time: Option<String>,
        deceased_boolean: Option<bool>, address: Vec<Address>, contact: Vec<PatientContact>,
        communication: Vec<Communication2>, general_practitioner: Vec<Reference>,
        managing_organization: Option<Reference> }
    /// Somebody who decides for the patient.
    RelatedPerson { identifier: Vec<Identifier>, active: Option<bool>, patient: Reference,
        relationship: Vec<CodeableConcept>, name: Vec<HumanName>, telecom: Vec<ContactPoint>,
        birth_date: Option<String>, period: Option<Period> }
    /// Somebody of the practice.
    Practitioner { identifier: Vec<Identifier>, active: Option<bool>, name: Vec<HumanName>,
        gender: Option<String>, qualification: Vec<Qualification> }
    /// The practice.
    Organization { identifier: Vec<Identifier>, name: Option<String>, address: Vec<Address> }
    /// A visit.
    Encounter { identifier: Vec<Identifier>, status: String, class: Coding, subject: Option<Reference>,
        participant: Vec<Participant>, period: Option<Period>, reason_code: Vec<CodeableConcept>,
        service_provider: Option<Reference> }
    /// Something measured, found or asked.
    Observation { extension: Vec<Extension>, identifier: Vec<Identifier>, status: String,
        category: Vec<CodeableConcept>, code: CodeableConcept, subject: Option<Reference>,
        encounter: Option<Reference>, effective_date_time: Option<String>, performer: Vec<Reference>,
        value_quantity: Option<Quantity>, value_codeable_concept: Option<CodeableConcept>,
        value_string: Option<String>, data_absent_reason: Option<CodeableConcept>, note: Vec<Annotation>,
        body_site: Option<CodeableConcept>, method: Option<CodeableConcept>, component: Vec<Component> }
    /// Something done, or planned and not done.
    Procedure { identifier: Vec<Identifier>, status: String, status_reason: Option<CodeableConcept>,
        code: Option<CodeableConcept>, subject: Reference, encounter: Option<Reference>,
        performed_date_time: Option<String>, performed_period: Option<Period>, performer: Vec<Performer>,
        body_site: Vec<CodeableConcept>, note: Vec<Annotation>, used_code: Vec<CodeableConcept> }
    /// Something agreed to, declined, taken back or refused.
    Consent { identifier: Vec<Identifier>, status: String, scope: CodeableConcept,
        category: Vec<CodeableConcept>, patient: Option<Reference>, date_time: Option<String>,
        performer: Vec<Reference>, organization: Vec<Reference>, source_reference: Option<Reference>,
        policy_rule: Option<CodeableConcept>, provision: Option<Provision> }
    /// A substance the patient is allergic to.
    AllergyIntolerance { identifier: Vec<Identifier>, clinical_status: Option<CodeableConcept>,
        verification_status: Option<CodeableConcept>, code: Option<CodeableConcept>, patient: Reference,
        recorded_date: Option<String>, recorder: Option<Reference>, reaction: Vec<AllergyReaction> }
    /// A working diagnosis.
    Condition { identifier: Vec<Identifier>, verification_status: Option<CodeableConcept>,
        category: Vec<CodeableConcept>, code: Option<CodeableConcept>, body_site: Vec<CodeableConcept>,
        subject: Reference, encounter: Option<Reference>, recorded_date: Option<String>,
        recorder: Option<Reference>, note: Vec<Annotation> }
    /// Something always to be minded.
    Flag { identifier: Vec<Identifier>, status: String, category: Vec<CodeableConcept>,
        code: CodeableConcept, subject: Reference, period: Option<Period>, author: Option<Reference> }
    /// A reaction to treatment.
    AdverseEvent { identifier: Option<Identifier>, actuality: String, event: Option<CodeableConcept>,
        subject: Reference, encounter: Option<Reference>, date: Option<String>,
        recorded_date: Option<String>, severity: Option<CodeableConcept>, recorder: Option<Reference>,
        suspect_entity: Vec<SuspectEntity> }
    /// A call, a message, a letter.
    Communication { identifier: Vec<Identifier>, status: String, status_reason: Option<CodeableConcept>,
        category: Vec<CodeableConcept>, medium: Vec<CodeableConcept>, subject: Option<Reference>,
        encounter: Option<Reference>, sent: Option<String>, received: Option<String>,
        sender: Option<Reference>, payload: Vec<Payload>, note: Vec<Annotation> }
    /// A referral.
    ServiceRequest { identifier: Vec<Identifier>, status: String, intent: String,
        category: Vec<CodeableConcept>, priority: Option<String>, code: Option<CodeableConcept>,
        subject: Reference, encounter: Option<Reference>, authored_on: Option<String>,
        requester: Option<Reference>, performer: Vec<Reference>, reason_code: Vec<CodeableConcept>,
        note: Vec<Annotation> }
    /// A paper, picture or other file.
    DocumentReference { identifier: Vec<Identifier>, status: String, r#type: Option<CodeableConcept>,
        subject: Option<Reference>, date: Option<String>, author: Vec<Reference>,
        custodian: Option<Reference>, description: Option<String>, content: Vec<Content>,
        context: Option<Context> }
    /// Who wrote what, when, and from what.
    Provenance { target: Vec<Reference>, occurred_period: Option<Period>, occurred_date_time: Option<String>,
        recorded: String, reason: Vec<CodeableConcept>, activity: Option<CodeableConcept>,
        agent: Vec<ProvenanceAgent>, entity: Vec<ProvenanceEntity> }
    /// That the chart was opened or handed over.
    AuditEvent { r#type: Coding, action: Option<String>, recorded: String, outcome: Option<String>,
        outcome_desc: Option<String>, purpose_of_event: Vec<CodeableConcept>, agent: Vec<AuditAgent>,
        source: AuditSource, entity: Vec<AuditEntity> }
}

elements! {
    /// Composition.attester
    Attester { mode: String, time: Option<String>, party: Option<Reference> }
    /// Composition.event
    Event { period: Option<Period> }
    /// Composition.section
    Section { title: Option<String>, code: Option<CodeableConcept>, text: Option<Narrative>,
        entry: Vec<Reference>, empty_reason: Option<CodeableConcept>, section: Vec<Section> }
    /// Patient.contact
    PatientContact { relationship: Vec<CodeableConcept>, name: Option<HumanName>, telecom: Vec<ContactPoint> }
    /// Patient.communication
    Communication2 { language: CodeableConcept, preferred: Option<bool> }
    /// Practitioner.qualification
    Qualification { identifier: Vec<Identifier>, code: CodeableConcept, period: Option<Period> }
    /// Encounter.participant
    Participant { individual: Reference }
    /// Observation.component
    Component { code: CodeableConcept, value_quantity: Option<Quantity>,
        value_codeable_concept: Option<CodeableConcept>, value_string: Option<String>,
        data_absent_reason: Option<CodeableConcept> }
    /// Procedure.performer
    Performer { actor: Reference }
    /// Consent.provision
    Provision { r#type: Option<String>, period: Option<Period>, actor: Vec<ProvisionActor>,
        code: Vec<CodeableConcept>, provision: Vec<Provision> }
    /// Consent.provision.actor
    ProvisionActor { role: CodeableConcept, reference: Reference }
    /// AllergyIntolerance.reaction
    AllergyReaction { manifestation: Vec<CodeableConcept>, description: Option<String>,
        severity: Option<String>, note: Vec<Annotation> }
    /// AdverseEvent.suspectEntity
    SuspectEntity { instance: Reference }
    /// Communication.payload
    Payload { content_string: String }
    /// DocumentReference.content
    Content { attachment: Attachment }
    /// DocumentReference.context
    Context { encounter: Vec<Reference> }
    /// Provenance.agent
    ProvenanceAgent { r#type: Option<CodeableConcept>, who: Reference }
    /// Provenance.entity
    ProvenanceEntity { role: String, what: Reference }
    /// AuditEvent.agent
    AuditAgent { who: Option<Reference>, name: Option<String>, requestor: Option<bool> }
    /// AuditEvent.source
    AuditSource { observer: Reference }
    /// AuditEvent.entity
    AuditEntity { what: Option<Reference>, description: Option<String> }
    /// One entry of the bundle.
    BundleEntry { full_url: String, resource: Option<Resource> }
}

/// A document: the resources of one chart.
#[derive(Debug, Serialize)]
#[serde(rename_all = "camelCase", tag = "resourceType")]
pub(crate) struct Bundle {
    /// Its id.
    pub(crate) id: String,
    /// What it is known by from outside.
    pub(crate) identifier: Identifier,
    /// `document`.
    pub(crate) r#type: String,
    /// When it was put together.
    pub(crate) timestamp: String,
    /// Its resources, the Composition first.
    pub(crate) entry: Vec<BundleEntry>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_resource_says_its_type_first_and_spells_its_members_as_the_standard_does() {
        let mut one = Resource::from(Procedure {
            status: "not-done".to_string(),
            performed_date_time: Some("2025-03-11".to_string()),
            ..Procedure::default()
        });
        one.finish("x".to_string(), Narrative::default(), None);
        let json = serde_json::to_string(&one).unwrap();
        assert!(json.starts_with(r#"{"resourceType":"Procedure","id":"x""#), "{json}");
        assert!(json.contains(r#""performedDateTime":"2025-03-11""#), "{json}");
    }
}
