mod waiting;

use super::*;
use crate::record::moment::parse_date;
use crate::record::rulebook::RuleBook;
use serde_json::{Value, json};

fn seen(seq: u64, kind: &str, at: &str, data: Value) -> Seen {
    let at = Moment::parse(&format!("{at}:00-05:00")).unwrap();
    let read = Data::read(kind, 1, &data).unwrap_or_else(|e| panic!("{kind}: {e}"));
    assert!(!matches!(read, Data::Unknown { .. }), "{kind}");
    Seen { seq, kind: kind.to_string(), at, data: Some(read) }
}

fn locked(seq: u64, kind: &str, at: &str) -> Seen {
    Seen { seq, kind: kind.to_string(), at: Moment::parse(&format!("{at}:00-05:00")).unwrap(), data: None }
}

fn listed_for(born: Option<&str>, today: &str, entries: &[Seen]) -> Vec<OpenItem> {
    let book = RuleBook::example().unwrap();
    let rules = Rules { lists: &book.lists, coverage: &book.coverage, today: parse_date(today).unwrap() };
    let chart = ChartSeen { number: "PM-7", born: born.and_then(parse_date), entries };
    open_items(&chart, &rules)
}

fn listed(today: &str, entries: &[Seen]) -> Vec<(ItemKind, Option<u64>, Option<String>)> {
    let items = listed_for(None, today, entries);
    items.into_iter().map(|i| (i.kind, i.entry, i.due.map(|d| d.to_string()))).collect()
}

/// Data with some fields changed or added.
fn with(mut data: Value, change: &Value) -> Value {
    for (name, is) in change.as_object().unwrap() {
        data[name] = is.clone();
    }
    data
}

fn contact(extra: Value) -> Value {
    let data = json!({
        "channel": "telephone", "direction": "incoming", "said": "sore since yesterday",
        "with": { "name": "B. C.", "relation": "self", "identity_checked": "birth date" }
    });
    with(data, &extra)
}

#[test]
fn a_call_back_stays_until_a_contact_about_it_is_done() {
    let call = seen(
        3,
        "contact",
        "2025-03-10T09:00",
        contact(json!({ "call_back_by": "2025-03-11T12:00:00-05:00" })),
    );
    let mut chart = vec![call, seen(4, "contact", "2025-03-10T10:00", contact(json!({})))];
    assert_eq!(listed("2025-03-10", &chart), [(ItemKind::CallBack, Some(3), Some("2025-03-11".into()))]);
    // Talked about, but nothing says that it is done: it stays.
    chart.push(seen(5, "contact", "2025-03-11T09:00", contact(json!({ "about": [3] }))));
    assert_eq!(listed("2025-03-12", &chart).len(), 1);
    // Carried on with a day of its own.
    chart.push(seen(6, "contact", "2025-03-11T10:00", contact(json!({ "about": [3], "done": false }))));
    assert_eq!(listed("2025-03-12", &chart), [(ItemKind::CallBack, Some(6), Some("2025-03-12".into()))]);
    chart.push(seen(7, "contact", "2025-03-12T09:00", contact(json!({ "about": [6], "done": true }))));
    assert!(listed("2025-03-13", &chart).is_empty());
}

#[test]
fn who_did_not_come_is_listed_until_reached_or_seen() {
    let missed = seen(
        3,
        "contact",
        "2025-03-10T09:00",
        json!({ "channel": "no-show", "direction": "none", "said": "did not come", "with": { "not_done_because": "no answer" } }),
    );
    let mut chart = vec![missed];
    assert_eq!(listed("2025-03-12", &chart), [(ItemKind::NoShow, Some(3), Some("2025-03-11".into()))]);
    chart.push(locked(4, "visit-opened", "2025-03-14T09:00"));
    assert_eq!(listed("2025-03-14", &chart), [(ItemKind::VisitOpen, Some(4), Some("2025-03-14".into()))]);
}

#[test]
fn a_referral_waits_for_its_answer_and_is_chased() {
    let out = json!({ "to": "the hospital", "why": "light-headed", "urgency": "soon", "sent_how": "letter" });
    let mut chart = vec![seen(3, "referral", "2025-03-01T09:00", out)];
    assert_eq!(listed("2025-03-02", &chart), [(ItemKind::Referral, Some(3), Some("2025-03-29".into()))]);
    chart.push(seen(
        4,
        "referral-answer",
        "2025-03-30T09:00",
        json!({ "referral": 3, "outcome": "none-chased", "chased_on": "2025-03-30" }),
    ));
    assert_eq!(listed("2025-04-02", &chart), [(ItemKind::Referral, Some(3), Some("2025-04-27".into()))]);
    chart.push(seen(
        5,
        "referral-answer",
        "2025-04-03T09:00",
        json!({ "referral": 3, "outcome": "patient-did-not-go" }),
    ));
    assert!(listed("2025-05-02", &chart).is_empty());
}

fn reaction() -> Value {
    json!({
        "what": "rib soreness", "onset_at": "2025-03-10T19:00:00-05:00", "technique": "thrust",
        "region": "thoracic", "severity": "mild", "action": "heat"
    })
}

#[test]
fn a_reaction_is_looked_at_again_and_closed() {
    let mut chart = vec![seen(3, "reaction", "2025-03-11T09:00", reaction())];
    assert_eq!(listed("2025-03-11", &chart), [(ItemKind::Reaction, Some(3), Some("2025-03-13".into()))]);
    let again = json!({ "reaction": 3, "words": "better", "follow_up_due": "2025-03-20" });
    chart.push(seen(4, "reaction-rechecked", "2025-03-13T09:00", again));
    assert_eq!(listed("2025-03-14", &chart), [(ItemKind::Reaction, Some(3), Some("2025-03-20".into()))]);
    let closed = json!({ "reaction": 3, "outcome": "gone", "closed_with": "call" });
    chart.push(seen(5, "reaction-closed", "2025-03-20T09:00", closed));
    assert!(listed("2025-03-21", &chart).is_empty());
}

#[test]
fn the_desk_learns_only_that_something_waits() {
    let chart = [locked(3, "reaction", "2025-03-11T09:00"), locked(4, "screen", "2025-03-11T09:00")];
    let items = listed_for(None, "2025-03-20", &chart);
    assert_eq!(items.len(), 1);
    assert_eq!(items[0].kind, ItemKind::Care);
    let said = format!("{} {} {}", items[0].kind.heading(), items[0].words, items[0].remedy);
    assert!(!said.contains("reaction") && !said.contains("rib"), "{said}");
    let over = [chart[0].clone(), locked(5, "reaction-closed", "2025-03-12T09:00")];
    assert!(listed("2025-03-20", &over).is_empty());
}

fn consent(extra: Value) -> Value {
    let data = json!({
        "kind": "treatment", "status": "signed", "form": "written-signed", "wording": "F1",
        "techniques": ["mobilization"], "regions": ["spine"], "side": "both",
        "practitioners_allowed": { "kind": "any" }, "given_by": { "role": "self" },
        "valid_from": "2025-01-01", "valid_until": "2025-06-30", "rest_of_earlier": "not-applicable"
    });
    with(data, &extra)
}

#[test]
fn a_consent_that_ends_is_listed_ahead_and_a_renewed_one_is_not() {
    let mut chart = vec![seen(3, "consent", "2025-01-01T09:00", consent(json!({})))];
    assert!(listed("2025-05-01", &chart).is_empty());
    assert_eq!(listed("2025-06-01", &chart), [(ItemKind::ConsentLapses, Some(3), Some("2025-06-30".into()))]);
    assert_eq!(listed("2025-07-10", &chart).len(), 1, "it ended lately");
    assert!(listed("2025-09-10", &chart).is_empty(), "long over");
    let new = consent(json!({ "valid_from": "2025-06-02", "valid_until": "2026-06-01" }));
    chart.push(seen(4, "consent", "2025-06-02T09:00", new));
    assert!(listed("2025-06-05", &chart).is_empty());
    // The rules' own ceiling ends a consent that names no day: six months inside the mouth.
    let mouth = json!({ "kind": "inside-mouth", "techniques": ["intraoral"], "regions": ["mouth"], "valid_until": null });
    let mut value = consent(mouth);
    value.as_object_mut().unwrap().remove("valid_until");
    let chart = [seen(3, "consent", "2025-01-10T09:00", value)];
    assert_eq!(listed("2025-07-01", &chart), [(ItemKind::ConsentLapses, Some(3), Some("2025-07-09".into()))]);
}

#[test]
fn the_rest_of_a_wider_consent_is_asked_about_once() {
    let narrow = consent(json!({ "narrower_than": [2], "rest_of_earlier": "not-asked" }));
    let mut chart = vec![seen(3, "consent", "2025-01-01T09:00", narrow)];
    assert_eq!(listed("2025-02-01", &chart), [(ItemKind::RestNotAsked, Some(3), None)]);
    let answer = json!({ "consent": 3, "rest_of_earlier": "kept", "said_by": { "role": "self" } });
    chart.push(seen(4, "rest-of-earlier", "2025-02-01T10:00", answer));
    assert!(listed("2025-02-02", &chart).is_empty());
}

#[test]
fn a_birthday_ends_what_a_parent_decided() {
    let mother = json!({
        "person_id": "dm-1", "name": "Hattie Lorch", "relation": "mother", "basis": "parent",
        "authority_on_file": true, "may_consent": true, "may_receive_records": true
    });
    let given = consent(
        json!({ "given_by": { "role": "decision-maker", "person_id": "dm-1" }, "valid_until": "2025-12-31" }),
    );
    let mut chart = vec![
        seen(2, "decision-maker", "2025-01-01T08:00", mother),
        seen(3, "consent", "2025-01-01T09:00", given),
    ];
    assert!(listed_for(Some("2007-06-15"), "2025-03-01", &chart).is_empty());
    let items = listed_for(Some("2007-06-15"), "2025-06-01", &chart);
    assert_eq!((items[0].kind, items[0].entry), (ItemKind::ComesOfAge, Some(3)));
    assert_eq!(items[0].due.unwrap().to_string(), "2025-06-15");
    assert!(items[0].words.contains("Hattie Lorch (mother) may no longer consent or receive records"));
    let own = consent(json!({ "valid_until": "2026-06-14" }));
    chart.push(seen(4, "consent", "2025-06-16T09:00", own));
    assert!(listed_for(Some("2007-06-15"), "2025-06-17", &chart).is_empty());
}

#[test]
fn visits_left_open_and_pauses_in_them() {
    let opened = json!({ "room": "room 1", "practitioners": ["IV"] });
    let pause = json!({ "visit": 3, "kind": "pause", "reason": "needs a minute" });
    let mut chart = vec![
        seen(3, "visit-opened", "2025-03-10T09:00", opened),
        seen(4, "pause", "2025-03-10T09:10", pause),
    ];
    assert_eq!(
        listed("2025-03-11", &chart),
        [
            (ItemKind::VisitOpen, Some(3), Some("2025-03-10".into())),
            (ItemKind::Pause, Some(4), Some("2025-03-10".into()))
        ]
    );
    let on = json!({ "visit": 3, "kind": "resumed", "of": 4, "reason": { "not_done_because": "said yes" } });
    chart.push(seen(5, "pause", "2025-03-10T09:12", on));
    chart.push(seen(6, "visit-closed", "2025-03-10T09:40", json!({ "visit": 3, "ended": "as-planned" })));
    assert!(listed("2025-03-11", &chart).is_empty());
}

#[test]
fn requests_wait_until_answered_even_in_a_closed_chart() {
    let asked = json!({
        "kind": "copy", "from": "B. C.", "relation": "self", "received_on": "2025-03-01", "text": "all of it",
        "identity_checked": "licence card", "due": "2025-03-31"
    });
    let mut chart = vec![
        seen(2, "reaction", "2025-03-01T08:00", reaction()),
        seen(3, "request", "2025-03-01T09:00", asked),
        seen(4, "chart-state", "2025-03-02T09:00", json!({ "status": "deceased" })),
    ];
    assert_eq!(listed("2025-03-05", &chart), [(ItemKind::Request, Some(3), Some("2025-03-31".into()))]);
    let extended = json!({ "request": 3, "step": "extended", "on": "2025-03-20", "words": "letter", "new_due": "2025-04-30" });
    chart.push(seen(5, "request-step", "2025-03-20T09:00", extended));
    assert_eq!(listed("2025-03-25", &chart)[0].2.as_deref(), Some("2025-04-30"));
    let done = json!({ "request": 3, "step": "answered", "on": "2025-04-02", "words": "sent" });
    chart.push(seen(6, "request-step", "2025-04-02T09:00", done));
    assert!(listed("2025-04-03", &chart).is_empty());
}

fn note(visit: u64, sort: &str, plan: Value) -> Value {
    json!({
        "visit": visit, "sort": sort, "practitioners": ["IV"], "changed_since_last": "easier",
        "findings": { "not_done_because": "as before" }, "assessment": { "not_done_because": "as before" },
        "agreed": {}, "advice": { "not_done_because": "none" }, "plan": plan
    })
}

#[test]
fn care_that_goes_on_is_examined_again() {
    let next = json!({ "next_step": "again" });
    let mut chart = vec![seen(3, "visit", "2025-01-10T09:00", note(2, "first", next.clone()))];
    assert!(listed("2025-04-20", &chart).is_empty(), "nobody came since: nothing drifts on");
    chart.push(seen(5, "visit", "2025-03-10T09:00", note(4, "later", next.clone())));
    assert!(listed("2025-04-09", &chart).is_empty());
    assert_eq!(listed("2025-04-10", &chart), [(ItemKind::ReExamination, Some(3), Some("2025-04-10".into()))]);
    chart.push(seen(7, "visit", "2025-04-11T09:00", note(6, "re-examination", next)));
    assert!(listed("2025-04-12", &chart).is_empty());
    let planned = json!({ "next_step": "again", "re_examine_on": "2025-05-02" });
    chart.push(seen(9, "visit", "2025-04-20T09:00", note(8, "later", planned)));
    assert_eq!(listed("2025-04-21", &chart), [(ItemKind::ReExamination, Some(9), Some("2025-05-02".into()))]);
    assert!(listed("2025-09-21", &chart).is_empty(), "who stayed away for good is not examined again");
}

#[test]
fn an_old_screen_is_due_and_a_positive_item_waits() {
    let screen = json!({
        "screen": "neck", "done_by": "IV",
        "answers": [{ "item": "dizziness", "answer": "yes", "words": "twice", "decision": "refer" },
                    { "item": "migraine", "answer": "yes", "words": "old", "decision": "defer" }]
    });
    let next = json!({ "next_step": "again" });
    let mut chart = vec![
        seen(3, "screen", "2025-01-10T09:00", screen),
        seen(5, "visit", "2025-06-10T09:00", note(4, "later", next)),
    ];
    let items = listed("2025-07-15", &chart);
    assert_eq!(
        items,
        [(ItemKind::RedFlag, Some(3), None), (ItemKind::Screen, Some(3), Some("2025-07-09".into()))]
    );
    chart.push(seen(
        6,
        "screen-item-closed",
        "2025-07-15T09:00",
        json!({ "screen": 3, "item": "dizziness", "words": "ear" }),
    ));
    assert_eq!(listed("2025-07-15", &chart).len(), 1);
}

#[test]
fn what_belongs_to_another_chart_is_not_listed_here() {
    let call = seen(3, "contact", "2025-03-10T09:00", contact(json!({ "done": false })));
    let mark = json!({ "entry": 3, "found_at": "2025-03-10T10:00:00-05:00", "found_by": "IV", "because": "wrong chart" });
    let chart = [call, seen(4, "misfiled", "2025-03-10T10:00", mark)];
    assert!(listed("2025-03-20", &chart).is_empty());
}

/// 30 days before and after the last day, both of them in (`lists.consent_lapses_within_days`).
#[test]
fn the_days_around_the_end_of_a_consent_are_counted_exactly() {
    let chart = [seen(3, "consent", "2025-01-01T09:00", consent(json!({})))];
    for (today, is_listed) in
        [("2025-05-30", false), ("2025-05-31", true), ("2025-07-30", true), ("2025-07-31", false)]
    {
        assert_eq!(listed(today, &chart).len(), usize::from(is_listed), "{today}");
    }
    let said = |today: &str| listed_for(None, today, &chart)[0].words.clone();
    assert!(said("2025-06-30").contains(" ends ") && said("2025-07-01").contains(" ended "));
}

#[test]
fn only_what_takes_back_all_of_a_consent_or_its_event_ends_it() {
    let given = json!({
        "techniques": ["mobilization", "thrust"], "regions": ["cervical", "lumbar"], "side": "left"
    });
    let lapses = |kind: &str, at: &str, data: Value| {
        let chart = [seen(3, "consent", "2025-01-01T09:00", consent(given.clone())), seen(4, kind, at, data)];
        listed("2025-06-10", &chart).iter().any(|(kind, ..)| *kind == ItemKind::ConsentLapses)
    };
    let at = "2025-03-01T09:00";
    let all = json!({ "said_by": { "role": "self" }, "how": "words", "patient_words": "No more." });
    for (scope, still) in [
        (json!({}), false),
        (json!({ "techniques": ["mobilization", "thrust", "taping"] }), false),
        (json!({ "techniques": ["thrust"] }), true),
        (json!({ "regions": ["spine"] }), false),
        (json!({ "regions": ["lumbar", "cervical"] }), false),
        (json!({ "regions": ["lumbar"] }), true),
        (json!({ "side": "left" }), false),
        (json!({ "side": "both" }), false),
        (json!({ "side": "right" }), true),
        (json!({ "consents": [3] }), false),
        (json!({ "consents": [2] }), true),
        (json!({ "consent_kinds": ["treatment"] }), false),
        (json!({ "consent_kinds": ["observer"] }), true),
    ] {
        assert_eq!(lapses("withdrawal", at, with(all.clone(), &scope)), still, "{scope}");
    }
    assert!(lapses("withdrawal", "2024-12-31T09:00", all), "said before it was given");
    let event = |of: u64| json!({ "consents": [of], "event": "end of episode", "words": "goals reached" });
    assert!(!lapses("end-event", at, event(3)));
    assert!(lapses("end-event", at, event(2)));
}

/// Renewed is what agrees to at least as much, for longer.
#[test]
fn a_consent_to_less_or_to_something_else_renews_nothing() {
    let long = json!({ "valid_until": "2026-06-01", "rest_of_earlier": "kept" });
    for (change, renews) in [
        (json!({}), true),
        (json!({ "regions": ["spine", "jaw"], "techniques": ["mobilization", "thrust"] }), true),
        (json!({ "valid_until": "2025-06-30" }), false),
        (json!({ "valid_until": "2025-07-01" }), true),
        (json!({ "status": "declined" }), false),
        (json!({ "kind": "examination" }), false),
        (json!({ "techniques": ["thrust"] }), false),
        (json!({ "regions": ["lumbar"] }), false),
        (json!({ "side": "left" }), false),
    ] {
        let new = with(consent(long.clone()), &change);
        let old = seen(3, "consent", "2025-01-01T09:00", consent(json!({})));
        let chart = [old, seen(4, "consent", "2025-06-02T09:00", new)];
        let still = listed("2025-06-10", &chart).iter().any(|(_, entry, _)| *entry == Some(3));
        assert_eq!(still, !renews, "{change}");
    }
    // One side renews the same side.
    let one_side = |side: &str| consent(json!({ "side": side, "valid_until": "2025-06-30" }));
    let again = |side: &str| {
        let mut new = one_side(side);
        new["valid_until"] = json!("2026-06-01");
        let old = seen(3, "consent", "2025-01-01T09:00", one_side("left"));
        listed("2025-06-10", &[old, seen(4, "consent", "2025-06-02T09:00", new)]).len()
    };
    assert_eq!([again("left"), again("both"), again("right")], [0, 0, 1]);
}

fn decides(person: &str, until: Option<&str>, extra: Value) -> Value {
    let mut data = json!({
        "person_id": person, "name": "Ilse Ruddle", "relation": "mother", "basis": "court-order",
        "authority_on_file": true, "may_consent": true, "may_receive_records": true
    });
    if let Some(day) = until {
        data["authority_last_day"] = json!(day);
    }
    with(data, &extra)
}

/// 60 days before and after, both of them in (`lists.birthday_within_days`).
#[test]
fn an_authority_that_ends_is_listed_until_another_takes_its_place() {
    let at = "2025-01-10T09:00";
    let mut chart = vec![seen(2, "decision-maker", at, decides("dm-1", Some("2025-06-13"), json!({})))];
    let due = Some("2025-06-13".to_string());
    for (today, is_listed) in
        [("2025-04-13", false), ("2025-04-14", true), ("2025-08-12", true), ("2025-08-13", false)]
    {
        let expected: &[_] = if is_listed { &[(ItemKind::AuthorityEnds, Some(2), due.clone())] } else { &[] };
        assert_eq!(listed(today, &chart), expected, "{today}");
    }
    // A newer line about the same person counts; one about another person does not replace it.
    chart.push(seen(3, "decision-maker", at, decides("dm-2", None, json!({}))));
    assert_eq!(listed("2025-06-01", &chart), [(ItemKind::AuthorityEnds, Some(2), due.clone())]);
    let ended = json!({ "superseded_at": "2025-05-01T09:00:00-05:00" });
    let over = seen(4, "decision-maker", at, decides("dm-1", Some("2025-06-13"), ended));
    assert!(listed("2025-06-01", &[chart[0].clone(), over]).is_empty());
    let newer = seen(4, "decision-maker", at, decides("dm-1", Some("2026-06-13"), json!({})));
    assert!(listed("2025-06-01", &[chart[0].clone(), newer]).is_empty());
    let other = seen(4, "decision-maker", at, decides("dm-3", None, json!({ "supersedes": [2] })));
    assert!(listed("2025-06-01", &[chart[0].clone(), other]).is_empty());
}

/// What each loses at majority is said as it is.
#[test]
fn a_birthday_names_what_each_person_loses() {
    for (may_consent, may_receive, told) in [
        (true, true, Some("may no longer consent or receive records")),
        (true, false, Some("may no longer consent")),
        (false, true, Some("may no longer receive records")),
        (false, false, None),
    ] {
        let maker =
            decides("dm-1", None, json!({ "may_consent": may_consent, "may_receive_records": may_receive }));
        let chart = [seen(2, "decision-maker", "2025-01-01T08:00", maker)];
        let words = listed_for(Some("2007-06-15"), "2025-06-01", &chart)[0].words.clone();
        match told {
            Some(told) => assert!(words.ends_with(&format!("Ilse Ruddle (mother) {told}")), "{words}"),
            None => assert!(!words.contains("Ilse"), "{words}"),
        }
    }
    let chart = [seen(2, "decision-maker", "2025-01-01T08:00", decides("dm-1", None, json!({})))];
    for (today, is_listed) in
        [("2025-04-15", false), ("2025-04-16", true), ("2025-08-14", true), ("2025-08-15", false)]
    {
        assert_eq!(listed_for(Some("2007-06-15"), today, &chart).len(), usize::from(is_listed), "{today}");
    }
    let representative = decides("dm-1", None, json!({ "basis": "power-for-health-care" }));
    let chart = [seen(2, "decision-maker", "2025-01-01T08:00", representative)];
    assert!(listed_for(Some("2007-06-15"), "2025-06-01", &chart).is_empty(), "no child's guardian");
}

#[test]
fn an_emergency_and_a_doubt_wait_for_their_own_end() {
    let at = "2025-03-10T09:00";
    let declared = json!({ "state": "declared", "words": "faint" });
    let doubt = json!({ "state": "doubt-raised", "words": "does not know the day" });
    let mut chart = vec![seen(3, "emergency", at, declared), seen(4, "capacity", at, doubt)];
    let kinds = |chart: &[Seen]| -> Vec<_> {
        listed("2025-03-11", chart).into_iter().map(|(kind, entry, _)| (kind, entry.unwrap())).collect()
    };
    let both = [(ItemKind::Emergency, 3), (ItemKind::Capacity, 4)];
    let mut found = kinds(&chart);
    found.sort_by_key(|(_, entry)| *entry);
    assert_eq!(found, both);
    // The end of another one ends nothing.
    let ended = |of: u64| json!({ "state": "ended", "of": of, "words": "settled" });
    let resolved = |of: u64| json!({ "state": "doubt-resolved", "of": of, "words": "clear again" });
    chart.push(seen(5, "emergency", at, ended(2)));
    chart.push(seen(6, "capacity", at, resolved(2)));
    assert_eq!(kinds(&chart).len(), 2);
    chart.push(seen(7, "emergency", at, ended(3)));
    assert_eq!(kinds(&chart), [(ItemKind::Capacity, 4)]);
    chart.push(seen(8, "capacity", at, resolved(4)));
    assert!(kinds(&chart).is_empty());
    let short = json!({ "state": "doubt-raised", "words": "dazed", "until": "2025-03-10T09:20:00-05:00" });
    assert!(kinds(&[seen(3, "capacity", at, short)]).is_empty(), "over when it was written");
}

#[test]
fn a_pause_is_over_with_its_yes_or_with_the_visit() {
    let at = "2025-03-10T09:00";
    let opened = seen(3, "visit-opened", at, json!({ "room": "room 1", "practitioners": ["IV"] }));
    let pauses = |pause: Value, later: Option<Value>| {
        let mut chart = vec![opened.clone(), seen(4, "pause", at, pause)];
        chart.extend(later.map(|data| seen(5, "pause", at, data)));
        listed("2025-03-11", &chart).iter().filter(|(kind, ..)| *kind == ItemKind::Pause).count()
    };
    let stop = json!({ "visit": 3, "kind": "stop", "reason": "needs a minute" });
    assert_eq!(pauses(stop.clone(), None), 1);
    let mut said_yes = stop.clone();
    said_yes["resumed_yes_at"] = json!("2025-03-10T09:12:00-05:00");
    assert_eq!(pauses(said_yes, None), 0);
    let on = |of: u64| json!({ "visit": 3, "kind": "resumed", "of": of, "reason": "better" });
    assert_eq!((pauses(stop.clone(), Some(on(4))), pauses(stop.clone(), Some(on(2)))), (0, 1));
    let mut elsewhere = stop;
    elsewhere["visit"] = json!(2);
    assert_eq!(pauses(elsewhere, None), 0, "that visit is not open");
}

/// The data of the example of a kind.
fn example(kind: &str) -> Value {
    crate::record::examples::example(kind).data
}

/// A request for amendment is answered by its decision, or by a step that ends it.
#[test]
fn an_amendment_waits_for_its_decision_and_may_take_more_time() {
    let mut asked = example("amendment-request");
    asked["due"] = json!("2025-05-01");
    let step = |kind: &str, of: u64| {
        let mut data = json!({ "request": of, "step": kind, "on": "2025-04-01", "words": "letter" });
        if kind == "extended" {
            data["new_due"] = json!("2025-05-31");
        }
        data
    };
    let after = |kind: &str, of: u64| {
        let request = seen(3, "amendment-request", "2025-03-02T09:00", asked.clone());
        let chart = [request, seen(4, "request-step", "2025-04-01T09:00", step(kind, of))];
        listed("2025-04-02", &chart).first().map(|(kind, _, due)| (*kind, due.clone().unwrap()))
    };
    let waits = |day: &str| Some((ItemKind::Amendment, day.to_string()));
    assert_eq!(after("extended", 3), waits("2025-05-31"));
    assert_eq!(after("extended", 2), waits("2025-05-01"), "another request's step");
    for ends in ["answered", "closed", "declined", "returned", "withdrawn"] {
        assert_eq!(after(ends, 3), None, "{ends}");
        assert_eq!(after(ends, 2), waits("2025-05-01"), "{ends}");
    }
    let decided = |of: u64| {
        let mut decision = example("amendment-decision");
        decision["request"] = json!(of);
        let request = seen(3, "amendment-request", "2025-03-02T09:00", asked.clone());
        listed("2025-04-02", &[request, seen(4, "amendment-decision", "2025-04-01T09:00", decision)]).len()
    };
    assert_eq!([decided(3), decided(2)], [0, 1]);
}

#[test]
fn an_accounting_asked_for_waits_until_that_one_is_given() {
    let mut asked = example("request");
    asked["kind"] = json!("accounting");
    let given = |of: u64| {
        let mut accounting = example("accounting-given");
        accounting["request"] = json!(of);
        let request = seen(3, "request", "2025-09-12T09:00", asked.clone());
        listed("2025-09-16", &[request, seen(4, "accounting-given", "2025-09-15T09:00", accounting)]).len()
    };
    assert_eq!([given(3), given(2)], [0, 1]);
}

#[test]
fn a_referral_that_is_not_sent_is_told_as_such() {
    let said = |change: Value| {
        let referral = json!({ "to": "the hospital", "why": "light-headed", "urgency": "soon",
            "sent_how": { "not_done_because": "the line was dead" } });
        let chart = [seen(3, "referral", "2025-03-01T09:00", with(referral, &change))];
        listed_for(None, "2025-03-02", &chart)[0].words.clone()
    };
    assert_eq!(said(json!({})), "referral to the hospital is not sent");
    assert_eq!(said(json!({ "sent_how": "letter" })), "answer from the hospital");
    assert_eq!(said(json!({ "sent_at": "2025-03-01T09:30:00-05:00" })), "answer from the hospital");
}

/// What a note says was not over at its end waits, unless a reaction was opened for it.
#[test]
fn an_adverse_response_of_a_note_waits_until_it_is_taken_up() {
    let waits = |change: Value, later: Option<Value>| {
        let adverse =
            json!({ "what": "light-headed", "severity": "mild", "action": "lay down", "outcome": "easier" });
        let written = note(2, "first", json!({ "next_step": "again" }));
        let written = with(written, &json!({ "adverse": [with(adverse, &change)] }));
        let mut chart = vec![seen(3, "visit", "2025-03-10T09:00", written)];
        chart.extend(later.map(|data| seen(4, "reaction", "2025-03-10T10:00", data)));
        let found = listed("2025-03-11", &chart).into_iter().filter(|(_, entry, _)| *entry == Some(3));
        found.map(|(_, _, due)| due.unwrap()).collect::<Vec<_>>()
    };
    assert_eq!(waits(json!({}), None), ["2025-03-12"]);
    assert_eq!(waits(json!({ "follow_up_due": "2025-03-20" }), None), ["2025-03-20"]);
    assert!(waits(json!({ "closed_at": "2025-03-10T09:30:00-05:00" }), None).is_empty());
    assert!(waits(json!({ "reaction": 4 }), None).is_empty());
    let of_visit = |visit: u64| Some(with(reaction(), &json!({ "visit": visit })));
    assert!(waits(json!({}), of_visit(2)).is_empty());
    assert_eq!(waits(json!({}), of_visit(1)), ["2025-03-12"], "of another visit");
}

#[test]
fn every_list_has_a_heading_of_its_own_and_a_day_that_is_over_is_said() {
    let headings: Vec<&str> = ItemKind::ALL.iter().map(|kind| kind.heading()).collect();
    let different: std::collections::BTreeSet<&str> = headings.iter().copied().collect();
    assert!(
        headings.iter().all(|words| words.len() > 5) && different.len() == headings.len(),
        "{headings:?}"
    );
    let chart = [seen(3, "consent", "2025-01-01T09:00", consent(json!({})))];
    let item = &listed_for(None, "2025-06-10", &chart)[0];
    let overdue = |today: &str| item.is_overdue(parse_date(today).unwrap());
    assert!(!overdue("2025-06-30") && overdue("2025-07-01"));
}
