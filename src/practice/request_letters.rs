//! Letters about requests: gathered from the request, its steps, the register and the adopted rules.

use super::amendment;
use super::chart::find;
use super::open::{Entry, Practice};
use super::request::{Dealing, dealing};
use crate::record::kinds::amend::Decision;
use crate::record::kinds::release::{RequestStep, Step};
use crate::record::kinds::{Data, Day};
use crate::record::request::authorization::judge;
use crate::record::request::letter::{About, Letter, LetterKind, Sender};
use crate::record::request::letter_parts::{RefusedPoint, amendment_denial, denial, extension, returned};
use crate::trouble::{Outcome, Trouble};

/// Who writes: the practice by the register, the contacts by the adopted rules, and who is here.
///
/// # Errors
/// When the register or the rules can't be read.
pub fn sender(practice: &Practice) -> Outcome<Sender> {
    let rules = practice.rulebook()?;
    let me = practice.me();
    let mut sender = Sender {
        complaint_contact: rules.letters.complaint_contact.clone(),
        complaint_telephone: rules.letters.complaint_telephone.clone(),
        complaint_authority: rules.letters.complaint_authority.clone(),
        review_contact: rules.letters.review_contact.clone(),
        signed_by: format!("{}, {}", me.name, me.role),
        ..Sender::default()
    };
    for entry in practice.register_of(&["register-opened"])? {
        if let Some(Data::RegisterOpened(opened)) = entry.data() {
            sender.practice = opened.practice.clone();
            sender.address = opened.address.clone();
        }
    }
    Ok(sender)
}

/// The letter a step of this request stands for, as it is about to be recorded or was.
///
/// # Errors
/// When no letter belongs to such a step.
pub fn of_step(practice: &Practice, dealing: &Dealing, step: &RequestStep) -> Outcome<Letter> {
    let request = &dealing.standing.request;
    let about = About {
        to: request.from.clone(),
        address: request.address.clone(),
        dated: step.letter_dated.unwrap_or(step.on),
        request: dealing.standing.seq,
        received_on: request.received_on,
    };
    let sender = sender(practice)?;
    if step.step == Step::Returned {
        return Ok(returned(&sender, &about, &faults(practice, dealing)?, &step.words));
    }
    if let Some(refused) = &step.denial {
        return Ok(denial(&sender, &about, refused));
    }
    if step.step == Step::Extended {
        return Ok(extension(LetterKind::Extension, &sender, &about, &step.words, step.new_due));
    }
    Err(Trouble::input(
        "No letter belongs to this step.",
        "Letters go with `request return`, `request extend` and `request decline`.",
    ))
}

/// The newest letter of a request, of this sort where one is named.
///
/// # Errors
/// When there is none.
pub fn newest(practice: &Practice, seq: u64, kind: Option<LetterKind>) -> Outcome<Letter> {
    let entry = practice.entry_by_seq(seq)?;
    if entry.leaf.kind == "amendment-request" {
        return amendment_letter(practice, &entry, kind);
    }
    let dealing = dealing(practice, seq)?;
    let letters =
        dealing.standing.steps.iter().rev().filter_map(|(_, step)| of_step(practice, &dealing, step).ok());
    let mut wanted = letters.filter(|letter| kind.is_none_or(|kind| kind == letter.kind));
    wanted.next().ok_or_else(no_letter)
}

fn no_letter() -> Trouble {
    Trouble::input(
        "No such letter belongs to this request.",
        "Letters go with `request return`, `request extend` and `request decline`, and with `amend extend` and \
         `amend decide`.",
    )
}

/// What is wrong with the authorization, and what would mend it.
fn faults(practice: &Practice, dealing: &Dealing) -> Outcome<Vec<(String, String)>> {
    let Some((_, read)) = dealing.standing.authorization() else {
        return Err(Trouble::input(
            "The authorization was not looked through, so it can't be said what is wrong with it.",
            "Look it through first: inkfast request check NUMBER --what authorization.",
        ));
    };
    let verdict = judge(read, &practice.rulebook()?.tables, practice.now())
        .map_err(|why| Trouble::input(why, "Correct the adopted rules and adopt them again."))?;
    Ok(verdict.faults().iter().map(|(what, mend)| ((*what).to_string(), (*mend).to_string())).collect())
}

fn amendment_letter(practice: &Practice, entry: &Entry, kind: Option<LetterKind>) -> Outcome<Letter> {
    let tag = entry.leaf.chart.clone().ok_or_else(no_letter)?;
    let entries = practice.chart(&find(practice, &tag)?.tag)?;
    let matter = amendment::matter(&entries, entry.leaf.seq)?;
    let about = |dated: Day| About {
        to: matter.request.from.clone(),
        address: None,
        dated,
        request: matter.seq,
        received_on: matter.request.received_on,
    };
    let sender = sender(practice)?;
    let wants = |one: LetterKind| kind.is_none_or(|kind| kind == one);
    if let Some((_, decision)) = matter.decision.as_ref().filter(|_| matter.refuses())
        && wants(LetterKind::AmendmentDenial)
    {
        let refused = decision.points.iter().filter(|point| point.decision != Decision::Accepted);
        let points: Vec<RefusedPoint> = refused
            .map(|point| RefusedPoint {
                no: u64::from(point.no),
                asked: asked(&matter, point.no),
                ground: point.ground,
                reason: point.reason.clone(),
            })
            .collect();
        return Ok(amendment_denial(&sender, &about(decision.letter.dated), &points));
    }
    let step = matter.extended_by.and_then(|seq| entries.iter().find(|entry| entry.leaf.seq == seq));
    match step.and_then(Entry::data) {
        Some(Data::RequestStep(step)) if wants(LetterKind::AmendmentExtension) => {
            let about = about(step.letter_dated.unwrap_or(step.on));
            Ok(extension(LetterKind::AmendmentExtension, &sender, &about, &step.words, step.new_due))
        }
        _ => Err(no_letter()),
    }
}

/// The words of a point of the request.
fn asked(matter: &amendment::Matter, no: u32) -> String {
    let point = matter.request.points.iter().find(|point| point.no == no);
    point.map(|point| point.text.clone()).unwrap_or_default()
}
