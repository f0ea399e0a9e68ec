//! Patient, RelatedPerson, Practitioner, Organization.

use super::part::{Part, Section, Told};
use super::resources::{
    Communication2, Organization, Patient, PatientContact, Practitioner, Qualification, RelatedPerson,
};
use super::set::{Chart, Seen};
use super::systems::{LANGUAGE, concept, identifier};
use super::types::{
    Address, CodeableConcept, Coding, ContactPoint, HumanName, Period, Reference, date, said,
};
use crate::record::kinds::Data;
use crate::record::kinds::identity::{ChartStatus, DecisionMaker, Identity};
use crate::record::kinds::register::Staff;
use std::collections::BTreeSet;

/// The patient, from the opening of the chart and the changes of identity after it. None when the
/// opening may not be read.
pub(super) fn patient(chart: &Chart<'_>) -> Option<Part> {
    let (mut chart_no, mut identity, mut earlier) = (None, None::<Identity>, Vec::new());
    let mut one = Patient::default();
    for seen in &chart.seen {
        match &seen.data {
            Data::ChartOpened(opened) if chart_no.is_none() => {
                chart_no = Some(opened.chart_no.clone());
                identity = Some(opened.identity.clone());
            }
            Data::IdentityChanged(changed) => {
                let before = identity.replace(changed.identity.clone()).map(|known| known.legal_name);
                earlier.extend(before.filter(|name| *name != changed.identity.legal_name));
            }
            Data::ChartState(state) if state.status == ChartStatus::Deceased => {
                one.deceased_date_time = state.died_on.map(date);
                one.deceased_boolean = one.deceased_date_time.is_none().then_some(true);
            }
            _ => {}
        }
    }
    let (chart_no, identity) = (chart_no?, identity?);
    one.identifier = vec![identifier("chart-number", chart_no.clone())];
    fill(&mut one, &identity, earlier);
    one.managing_organization = Some(chart.practice());
    let title = format!("{}, chart no. {chart_no}", identity.legal_name);
    Some(Part::new("patient", title, one))
}

fn fill(one: &mut Patient, identity: &Identity, mut earlier: Vec<String>) {
    let name = |word: &str, text: &str| HumanName { r#use: Some(word.to_string()), text: said(text) };
    one.name.push(name("official", &identity.legal_name));
    one.name.extend(identity.chosen_name.iter().map(|text| name("usual", text)));
    earlier.extend(identity.former_names.clone());
    let mut known = BTreeSet::new();
    one.name.extend(earlier.iter().filter(|n| known.insert((*n).clone())).map(|text| name("old", text)));
    one.telecom.extend(identity.telephones.iter().filter_map(|number| reached("phone", number)));
    one.telecom.extend(identity.email.iter().filter_map(|address| reached("email", address)));
    // FHIR asks for one of four words; anything else that was recorded stays in words alone.
    let sex = identity.sex_recorded.as_deref().map(str::to_lowercase);
    one.gender = sex.filter(|word| ["female", "male", "other", "unknown"].contains(&word.as_str()));
    let birth = &identity.birth_date;
    one.birth_date = birth.date.map(date).or(birth.estimated_year.map(|year| format!("{year:04}")));
    one.address.extend(identity.address.as_deref().and_then(postal));
    if let Some(contact) = identity.emergency_contact.value() {
        one.contact.push(PatientContact {
            relationship: vec![CodeableConcept::words(&contact.relation)],
            name: Some(HumanName { r#use: None, text: said(&contact.name) }),
            telecom: reached("phone", &contact.telephone).into_iter().collect(),
        });
    }
    one.communication.push(Communication2 {
        language: Coding::bare(LANGUAGE, &identity.language).into(),
        preferred: Some(true),
    });
    one.general_practitioner.extend(identity.physician.as_deref().map(Reference::named));
}

fn reached(system: &str, value: &str) -> Option<ContactPoint> {
    Some(ContactPoint { system: Some(system.to_string()), value: Some(said(value)?) })
}

fn postal(text: &str) -> Option<Address> {
    Some(Address { text: Some(said(text)?) })
}

/// The entries that make up the patient.
pub(super) fn told_of_patient(chart: &Chart<'_>) -> Told {
    Told::shared(Section::Person, vec![chart.patient()])
}

/// Somebody who decides for the patient, or may receive.
pub(super) fn decider(chart: &Chart<'_>, seen: &Seen<'_>, data: &DecisionMaker) -> Told {
    let later = chart.seen.iter().any(|other| match &other.data {
        Data::DecisionMaker(next) => {
            other.seq() > seen.seq()
                && (next.person_id == data.person_id || next.supersedes.contains(&seen.seq()))
        }
        _ => false,
    });
    let over = data.authority_last_day.is_some_and(|day| day.0 < chart.set.at.local_date());
    let superseded = data.superseded_at.is_some_and(|at| at <= chart.set.at);
    let start = data.authority_starts_at.map(|at| at.local_date().to_string());
    let end = data.authority_last_day.map(date);
    let mut relationship = vec![CodeableConcept::words(&data.relation)];
    relationship.push(concept("authority-basis", data.basis.word()));
    let one = RelatedPerson {
        identifier: vec![
            chart.of_entry(seen.seq(), "decider"),
            identifier("decider", data.person_id.clone()),
        ],
        active: Some(!(later || over || superseded)),
        patient: chart.patient(),
        relationship,
        name: vec![HumanName { r#use: None, text: said(&data.name) }],
        telecom: data.telephone.as_deref().and_then(|number| reached("phone", number)).into_iter().collect(),
        birth_date: data.birth_date.map(date),
        period: (start.is_some() || end.is_some()).then_some(Period { start, end }),
        ..RelatedPerson::default()
    };
    let title = format!("{} ({})", data.name, data.relation);
    Told::parts(Section::Deciders, vec![Part::new("decider", title, one)])
}

/// Who of several entries on the same person stands last, by the id that consents quote.
pub(super) fn decider_by_id(chart: &Chart<'_>, person_id: &str) -> Option<Reference> {
    let last = chart.seen.iter().rev().find(|seen| match &seen.data {
        Data::DecisionMaker(data) => data.person_id == person_id,
        _ => false,
    })?;
    Some(Reference::to(&chart.ids.entry(last.seq(), "decider")))
}

/// Everybody of the practice who is named in the document, in the order of their codes.
pub(super) fn practitioners(chart: &Chart<'_>, codes: &BTreeSet<String>) -> Vec<(String, Part)> {
    codes.iter().map(|code| (code.clone(), practitioner(chart, code))).collect()
}

fn practitioner(chart: &Chart<'_>, code: &str) -> Part {
    let line = chart.line(code);
    let by_entry = chart.seen.iter().map(|seen| &seen.now.author).find(|author| author.code == code);
    let maker = Some(&chart.set.by).filter(|by| by.code == code);
    let name = line
        .map(|line| line.name.as_str())
        .or(by_entry.or(maker).map(|person| person.name.as_str()))
        .unwrap_or(code);
    let role = line
        .map(|line| line.role.as_str())
        .or(by_entry.or(maker).map(|person| person.role.as_str()))
        .unwrap_or("not on the roster");
    let one = Practitioner {
        identifier: vec![identifier("staff", format!("{}/{code}", chart.set.ledger))],
        active: line.map(|line| line.on_roster_last_day.is_none_or(|day| day.0 >= chart.set.at.local_date())),
        name: vec![HumanName { r#use: None, text: said(name) }],
        gender: line.and_then(|line| line.sex).map(|sex| sex.word().to_string()),
        qualification: qualification(line, role),
        ..Practitioner::default()
    };
    Part::new(format!("practitioner {code}"), format!("{name} ({code}), {}", role.replace('-', " ")), one)
}

fn qualification(line: Option<&Staff>, role: &str) -> Vec<Qualification> {
    let licence = line.and_then(|line| line.licence_no.as_deref()).and_then(said);
    vec![Qualification {
        identifier: licence.into_iter().map(|number| identifier("licence", number)).collect(),
        code: concept("staff-role", role),
        period: line
            .and_then(|line| line.licence_last_day)
            .map(|day| Period { end: Some(date(day)), ..Period::default() }),
    }]
}

/// The practice.
pub(super) fn organization(chart: &Chart<'_>) -> Part {
    let practice = chart.set.practice.as_ref();
    let name = practice.map_or("the practice", |practice| practice.practice.as_str());
    let one = Organization {
        identifier: vec![identifier("register", chart.set.ledger.clone())],
        name: said(name),
        address: practice.and_then(|practice| postal(&practice.address)).into_iter().collect(),
        ..Organization::default()
    };
    Part::new("organization", name, one)
}
