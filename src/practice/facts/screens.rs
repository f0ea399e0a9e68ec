//! Screens, and the red flags in them.

use super::items::{Item, Items};
use super::shape::given;
use super::visits::Visits;
use crate::record::coverage::facts::{Decision, ItemAnswer, Screen, ScreenAnswer};
use crate::record::kinds::{Data, screening};
use crate::record::moment::Moment;
use std::collections::BTreeMap;

type Answers = BTreeMap<String, ScreenAnswer>;

/// A screen goes to its visit. One done outside any visit, by telephone for example, one that belongs
/// to another chart, and one as it read before a correction are kept apart: they are no screen of the
/// visit, but a red flag raised in them stays open until an entry closes the item.
pub fn screens(items: &Items, item: &Item, visits: &mut Visits) {
    let own = item.helping().and_then(|data| read(items, item, data));
    let known: Answers = own.as_ref().map(|(_, _, answers)| answers.clone()).unwrap_or_default();
    if let Some((visit, screen, answers)) = own {
        let place = match visit {
            Some(seq) if visits.of(seq).is_some() => visits.of(seq),
            _ => Some(visits.outside(item.at, item.seq)),
        };
        let one = Screen { screen, done_at: item.at, sequence_no: item.seq, answers };
        place.into_iter().for_each(|visit| visit.screens.push(one.clone()));
    }
    for (index, data) in item.restricting().enumerate() {
        if index == 0 && item.helping().is_some() {
            continue;
        }
        let Some((_, screen, answers)) = read(items, item, data) else { continue };
        let flags: Answers =
            answers.into_iter().filter_map(|(name, answer)| flag(&known, name, answer)).collect();
        if !flags.is_empty() {
            let one = Screen { screen, done_at: item.at, sequence_no: item.seq, answers: flags };
            visits.outside(item.at, item.seq).screens.push(one);
        }
    }
}

/// A positive item that the entry as it reads now does not repeat; a decision to proceed does not hold.
fn flag(known: &Answers, name: String, answer: ScreenAnswer) -> Option<(String, ScreenAnswer)> {
    let repeated =
        known.get(&name).is_some_and(|k| (k.answer, k.decision) == (answer.answer, answer.decision));
    let decision = answer.decision.filter(|decision| *decision != Decision::Proceed);
    (answer.answer == ItemAnswer::Yes && !repeated).then_some((name, ScreenAnswer { decision, ..answer }))
}

/// The visit, the name and the answers of a screen entry, or of a contact in which one was asked.
fn read(items: &Items, item: &Item, data: &Data) -> Option<(Option<u64>, String, Answers)> {
    let (visit, name, answers) = match data {
        Data::Screen(screen) => (screen.visit, screen.screen.clone(), &screen.answers),
        // Asked by telephone before coming: never the screen of a visit.
        Data::Contact(contact) if !contact.answers.is_empty() => {
            (None, contact.screen.clone()?, &contact.answers)
        }
        _ => return None,
    };
    let mut out = Answers::new();
    for one in answers {
        let answer = answer(one, closed(items, item.seq, item.at, &one.item))?;
        let worse = out.get(&one.item).is_none_or(|known| rank(answer.answer) > rank(known.answer));
        if worse {
            out.insert(one.item.clone(), answer);
        }
    }
    Some((visit, given(&name, "not-named"), out))
}

/// Of two answers to one item the one that stops more counts.
fn rank(answer: ItemAnswer) -> u8 {
    match answer {
        ItemAnswer::No => 0,
        ItemAnswer::NotAsked => 1,
        ItemAnswer::Yes => 2,
    }
}

fn answer(one: &screening::ScreenAnswer, closed_at: Option<Moment>) -> Option<ScreenAnswer> {
    Some(ScreenAnswer {
        answer: ItemAnswer::from_word(one.answer.word())?,
        words: one.words.clone(),
        decision: one.decision.and_then(|decision| Decision::from_word(decision.word())),
        closed_at,
    })
}

fn closed(items: &Items, screen: u64, from: Moment, name: &str) -> Option<Moment> {
    items.end_of(from, |end, data| match data {
        Data::ScreenItemClosed(closed) if closed.screen == screen && closed.item == name => Some(end.at),
        _ => None,
    })
}
