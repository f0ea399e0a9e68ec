//! What others wait for, or we wait for from others: calls, no-shows, referrals, requests.

use super::{ItemKind, Looked, OpenItem, after};
use crate::record::kinds::Data;
use crate::record::kinds::attendance::{Channel, Contact};
use crate::record::kinds::release::{AnswerOutcome, Referral, Request, RequestKind, RequestStep, Step};
use crate::record::moment::Date;
use crate::record::request::clocks::FEE_NOTICE;
use crate::record::request::standing::{State, state_after};

/// Calls to make, and visits that nobody came to.
pub fn contacts(chart: &Looked<'_>) -> Vec<OpenItem> {
    let days = chart.rules.lists.call_back_days;
    let mut items = Vec::new();
    for (entry, data) in chart.opened() {
        let Data::Contact(contact) = data else { continue };
        let no_show = contact.channel == Channel::NoShow;
        let waits = contact.call_back_by.is_some() || contact.done == Some(false) || no_show;
        if !waits || contact.done == Some(true) || taken_up(chart, entry.seq) {
            continue;
        }
        // Who comes again, or was reached, did not stay away for good.
        if no_show && contact.call_back_by.is_none() && came_after(chart, entry.seq) {
            continue;
        }
        let by = contact.call_back_by.map(|at| at.local_date());
        let due = by.unwrap_or_else(|| after(entry.at.local_date(), days));
        let kind = if no_show { ItemKind::NoShow } else { ItemKind::CallBack };
        let remedy = format!("inkfast contact close {} {} --outcome WORDS", chart.number, entry.seq);
        items.push(chart.item(kind, entry.seq, Some(due), contact_words(contact), remedy));
    }
    items
}

fn contact_words(contact: &Contact) -> String {
    let by = contact.call_back_by.map(|at| format!(" by {}", at.clock()));
    if contact.channel == Channel::NoShow {
        let call = by.map(|by| format!("; call back{by}")).unwrap_or_default();
        return format!("did not come or cancelled late; not reached since{call}");
    }
    let with = contact.with.value().map_or("the patient", |with| match with.relation.as_str() {
        "self" => "the patient",
        relation => relation,
    });
    format!("call back {with}{}", by.unwrap_or_default())
}

/// True when a later contact about this one closed it, or carries it on with a day of its own.
fn taken_up(chart: &Looked<'_>, seq: u64) -> bool {
    chart.opened().any(|(later, data)| match data {
        Data::Contact(contact) => {
            later.seq > seq
                && contact.about.contains(&seq)
                && (contact.done.is_some() || contact.call_back_by.is_some())
        }
        _ => false,
    })
}

fn came_after(chart: &Looked<'_>, seq: u64) -> bool {
    chart.entries.iter().any(|later| later.seq > seq && later.kind == "visit-opened")
}

/// Referrals that are not sent, or not answered.
pub fn referrals(chart: &Looked<'_>) -> Vec<OpenItem> {
    let mut items = Vec::new();
    for (entry, data) in chart.opened() {
        let Data::Referral(referral) = data else { continue };
        let answers: Vec<_> = chart
            .opened()
            .filter_map(|(at, data)| match data {
                Data::ReferralAnswer(answer) if answer.referral == entry.seq => Some((at, answer)),
                _ => None,
            })
            .collect();
        if answers.iter().any(|(_, answer)| answer.outcome != AnswerOutcome::NoneChased) {
            continue;
        }
        let chased = answers
            .iter()
            .map(|(at, answer)| answer.chased_on.map_or_else(|| at.at.local_date(), |day| day.0))
            .max();
        let due = due(chart, referral, entry.at.local_date(), chased);
        let mut words = match referral.sent_how.because() {
            Some(_) if referral.sent_at.is_none() => format!("referral to {} is not sent", referral.to),
            _ => format!("answer from {}", referral.to),
        };
        if let Some(day) = chased {
            words.push_str(&format!(", chased on {}", crate::record::moment::plain_date(day)));
        }
        let remedy = format!(
            "inkfast refer answer {n} --referral {s}; no answer yet: inkfast refer chase {n} {s}",
            n = chart.number,
            s = entry.seq
        );
        items.push(chart.item(ItemKind::Referral, entry.seq, Some(due), words, remedy));
    }
    items
}

fn due(chart: &Looked<'_>, referral: &Referral, recorded: Date, chased: Option<Date>) -> Date {
    let days = chart.rules.lists.referral_answer_days;
    let sent = referral.sent_at.map_or(recorded, |at| at.local_date());
    let first = referral.expect_by.map_or_else(|| after(sent, days), |day| day.0);
    // Whoever was asked again is given the same time again.
    chased.map_or(first, |day| first.max(after(day, days)))
}

/// Requests for records and for amendment.
pub fn requests(chart: &Looked<'_>) -> Vec<OpenItem> {
    let mut items = Vec::new();
    for (entry, data) in chart.opened() {
        match data {
            Data::Request(request) => items.extend(for_records(chart, entry.seq, request)),
            Data::AmendmentRequest(request) if !decided(chart, entry.seq) && !answered(chart, entry.seq) => {
                let due = new_due(chart, entry.seq).unwrap_or(request.due.0);
                let words = format!("amendment asked for by {}", request.from);
                let remedy = format!("decide on request {} and send the letter", entry.seq);
                items.push(chart.item(ItemKind::Amendment, entry.seq, Some(due), words, remedy));
            }
            _ => {}
        }
    }
    items
}

/// A request for records that is not answered, and the notice of its fee where a clock runs for that.
fn for_records(chart: &Looked<'_>, seq: u64, request: &Request) -> Vec<OpenItem> {
    let steps: Vec<&RequestStep> = chart
        .opened()
        .filter_map(|(_, data)| match data {
            Data::RequestStep(step) if step.request == seq => Some(&**step),
            _ => None,
        })
        .collect();
    let released = chart.opened().any(|(_, data)| match data {
        Data::Release(release) => release.request == Some(seq),
        Data::AccountingGiven(given) => given.request == Some(seq),
        _ => false,
    });
    if state_after(steps.iter().copied(), released) != State::Open {
        return Vec::new();
    }
    let moved = steps.iter().rev().find_map(|step| step.new_due);
    let due = moved.or(request.due).map(|day| day.0);
    let why = match (moved, &request.clock) {
        (Some(_), _) => "; more time was taken".to_string(),
        (None, Some(clock)) => format!("; {clock}"),
        (None, None) => "; no clock names a day".to_string(),
    };
    let words = format!("{} asked for by {}{why}", request.kind.word(), request.from);
    let remedy = match request.kind {
        RequestKind::Accounting => format!("inkfast accounting {} --request {seq}", chart.number),
        _ => format!("inkfast request show {seq}, then inkfast request answer {seq}"),
    };
    let mut items = vec![chart.item(ItemKind::Request, seq, due, words, remedy)];
    let told = steps.iter().any(|step| step.step == Step::FeeTold);
    let notice = request.clocks.iter().find(|clock| clock.of == FEE_NOTICE).filter(|_| !told);
    items.extend(notice.map(|clock| {
        let words = format!("tell {} the fee for the copy; {}", request.from, clock.id);
        let remedy = format!("inkfast request fee {seq}");
        chart.item(ItemKind::Request, seq, Some(clock.due.0), words, remedy)
    }));
    items
}

/// True where a request for amendment was answered without a decision.
fn answered(chart: &Looked<'_>, request: u64) -> bool {
    use Step::{Answered, Closed, Declined, Returned, Withdrawn};
    chart.opened().any(|(_, data)| match data {
        Data::RequestStep(step) => {
            step.request == request
                && matches!(step.step, Answered | Closed | Declined | Returned | Withdrawn)
        }
        _ => false,
    })
}

fn decided(chart: &Looked<'_>, request: u64) -> bool {
    chart.opened().any(|(_, data)| matches!(data, Data::AmendmentDecision(d) if d.request == request))
}

/// The day an extension moved the answer to.
fn new_due(chart: &Looked<'_>, request: u64) -> Option<Date> {
    chart
        .opened()
        .filter_map(|(_, data)| match data {
            Data::RequestStep(step) if step.request == request => step.new_due.map(|d| d.0),
            _ => None,
        })
        .next_back()
}
