//! What waits is listed until its own end comes, and nothing else ends it.

use super::*;

/// Each item that is listed: its sort and its entry.
fn waits(today: &str, entries: &[Seen]) -> Vec<(ItemKind, u64)> {
    listed(today, entries).into_iter().map(|(kind, entry, _)| (kind, entry.unwrap())).collect()
}

fn words(today: &str, entries: &[Seen]) -> Vec<String> {
    listed_for(None, today, entries).into_iter().map(|item| item.words).collect()
}

/// What takes preparing stands on the list of a day before it is due; the rest from its day on, or always
/// where it has none.
#[test]
fn what_takes_preparing_is_listed_before_its_day() {
    let ahead = [
        ItemKind::Request,
        ItemKind::Amendment,
        ItemKind::ConsentLapses,
        ItemKind::ComesOfAge,
        ItemKind::AuthorityEnds,
        ItemKind::Licence,
        ItemKind::CustodyNotice,
    ];
    let today = parse_date("2025-03-10").unwrap();
    for kind in ItemKind::ALL.iter().copied() {
        let matters = |due: Option<&str>| {
            let due = due.and_then(parse_date).map(Day);
            let (words, remedy) = ("x".to_string(), "x".to_string());
            OpenItem { kind, chart: None, entry: None, due, words, remedy }.matters_on(today)
        };
        let found = [Some("2025-03-09"), Some("2025-03-10"), Some("2025-03-11"), None].map(matters);
        assert_eq!(found, [true, true, ahead.contains(&kind), true], "{kind}");
    }
}

/// An emergency before a consent that ends, what is due sooner before what is due later, what has no day last.
#[test]
fn the_most_pressing_comes_first() {
    let at = "2025-03-01T09:00";
    let due =
        |day: &str| with(contact(json!({})), &json!({ "call_back_by": format!("{day}T12:00:00-05:00") }));
    let chart = [
        seen(2, "consent", "2025-01-01T09:00", consent(json!({ "valid_until": "2025-03-20" }))),
        seen(3, "contact", at, due("2025-03-12")),
        seen(4, "contact", at, due("2025-03-11")),
        seen(5, "contact", at, due("2025-03-12")),
        seen(6, "emergency", at, json!({ "state": "declared", "words": "faint" })),
    ];
    let order: Vec<u64> = waits("2025-03-10", &chart).into_iter().map(|(_, entry)| entry).collect();
    assert_eq!(order, [6, 4, 3, 5, 2]);
    let chart = |chart: &str, due: Option<&str>| OpenItem {
        kind: ItemKind::Draft,
        chart: Some(chart.to_string()),
        entry: None,
        due: due.and_then(parse_date).map(Day),
        words: String::new(),
        remedy: String::new(),
    };
    let mut items =
        [chart("PM-9", Some("2025-03-01")), chart("PM-2", None), chart("PM-7", Some("2025-03-01"))];
    sort(&mut items);
    let order: Vec<&str> = items.iter().map(|item| item.chart.as_deref().unwrap()).collect();
    assert_eq!(order, ["PM-7", "PM-9", "PM-2"]);
}

#[test]
fn a_call_back_says_whom_to_call_and_by_when() {
    let said =
        |change: Value| words("2025-03-11", &[seen(3, "contact", "2025-03-10T09:00", contact(change))]);
    let by = json!("2025-03-11T12:30:00-05:00");
    assert_eq!(said(json!({ "call_back_by": by })), ["call back the patient by 12:30"]);
    let mother = json!({ "name": "Ilse Ruddle", "relation": "mother", "identity_checked": "by number" });
    assert_eq!(said(json!({ "done": false, "with": mother })), ["call back mother"]);
    let mut nobody =
        json!({ "channel": "no-show", "direction": "none", "with": { "not_done_because": "no answer" } });
    assert_eq!(said(nobody.clone()), ["did not come or cancelled late; not reached since"]);
    nobody["call_back_by"] = json!(by);
    assert_eq!(said(nobody), ["did not come or cancelled late; not reached since; call back by 12:30"]);
}

/// Who comes again did not stay away for good; a call that was promised is owed all the same.
#[test]
fn coming_again_settles_a_missed_visit_and_no_promised_call() {
    let came = |first: Value| {
        let chart =
            [seen(3, "contact", "2025-03-10T09:00", first), locked(4, "visit-opened", "2025-03-10T11:00")];
        waits("2025-03-10", &chart)
            .contains(&(ItemKind::VisitOpen, 4))
            .then(|| waits("2025-03-20", &chart).len() == 2)
    };
    let no_show = json!({ "channel": "no-show", "direction": "none", "said": "did not come", "with": { "not_done_because": "no answer" } });
    let promised = json!({ "call_back_by": "2025-03-11T12:00:00-05:00" });
    assert_eq!(came(no_show.clone()), Some(false));
    assert_eq!(came(with(no_show.clone(), &promised)), Some(true), "did not come, and wants to be called");
    assert_eq!(came(contact(promised)), Some(true));
    assert_eq!(came(contact(json!({ "done": false }))), Some(true));
    // Neither an earlier visit nor anything else that was written later is a coming again.
    let missed = |others: [Seen; 2]| {
        let [before, after] = others;
        waits("2025-03-20", &[before, seen(3, "contact", "2025-03-10T09:00", no_show.clone()), after])
    };
    let over = seen(4, "visit-closed", "2025-03-10T11:00", json!({ "visit": 2, "ended": "as-planned" }));
    let left = missed([locked(2, "visit-opened", "2025-03-03T09:00"), over]);
    assert_eq!(left, [(ItemKind::NoShow, 3)]);
}

/// A later contact about it takes a call up; one about another, or about itself, does not.
#[test]
fn only_a_contact_about_it_takes_a_call_up() {
    let call = |about: &[u64]| contact(json!({ "done": false, "about": about }));
    let first = seen(3, "contact", "2025-03-10T09:00", call(&[]));
    let other = |about: &[u64]| {
        seen(4, "contact", "2025-03-11T09:00", contact(json!({ "done": true, "about": about })))
    };
    let left = |about: &[u64]| waits("2025-03-20", &[first.clone(), other(about)]).len();
    assert_eq!([left(&[3]), left(&[2]), left(&[])], [0, 1, 1]);
    let itself = seen(3, "contact", "2025-03-10T09:00", call(&[3]));
    assert_eq!(waits("2025-03-20", &[itself]), [(ItemKind::CallBack, 3)]);
}

#[test]
fn an_answer_answers_its_own_referral() {
    let out = json!({ "to": "the hospital", "why": "light-headed", "urgency": "soon", "sent_how": "letter" });
    let left = |of: u64| {
        let answer = json!({ "referral": of, "outcome": "patient-did-not-go" });
        let chart = [
            seen(3, "referral", "2025-03-01T09:00", out.clone()),
            seen(4, "referral-answer", "2025-03-05T09:00", answer),
        ];
        waits("2025-03-06", &chart)
    };
    assert!(left(3).is_empty());
    assert_eq!(left(2), [(ItemKind::Referral, 3)]);
}

/// 22 Tex. Admin. Code 76.3(f): the fee is told in five business days; the copy is due on a day of its own.
#[test]
fn a_request_waits_for_its_own_answer_and_its_fee_for_its_own_notice() {
    let clock = |of: &str, due: &str| {
        json!({ "id": format!("us-tx {of}"), "of": of, "due": due, "work_by": due,
        "place": "Texas, USA", "source": "22 Tex. Admin. Code 76" })
    };
    let asked = |kind: &str| {
        json!({ "kind": kind, "from": "B. C.", "relation": "self", "received_on": "2025-03-03", "text": "all of it",
            "identity_checked": "licence card", "due": "2025-03-24",
            "clocks": [clock("copies", "2025-03-24"), clock("fee_notice", "2025-03-10")] })
    };
    let dues = |later: &[Seen]| {
        let mut chart = vec![seen(3, "request", "2025-03-03T09:00", asked("copy"))];
        chart.extend(later.iter().cloned());
        let found = listed("2025-03-05", &chart);
        assert!(found.iter().all(|(kind, entry, _)| (*kind, *entry) == (ItemKind::Request, Some(3))));
        found.into_iter().map(|(_, _, due)| due.unwrap()).collect::<Vec<_>>()
    };
    let both = ["2025-03-10", "2025-03-24"];
    assert_eq!(dues(&[]), both);
    let step = |kind: &str, of: u64| {
        let data = json!({ "request": of, "step": kind, "on": "2025-03-04", "words": "letter" });
        seen(4, "request-step", "2025-03-04T09:00", data)
    };
    assert_eq!(dues(&[step("fee-told", 3)]), ["2025-03-24"]);
    assert_eq!(dues(&[step("letter-sent", 3)]), both);
    assert_eq!(dues(&[step("fee-told", 2)]), both, "another request's fee");
    assert!(dues(&[step("answered", 3)]).is_empty());
    assert_eq!(dues(&[step("answered", 2)]), both, "another request's answer");
    let release = |of: Value| {
        let mut data = example("release");
        data["request"] = of;
        seen(4, "release", "2025-03-04T09:00", data)
    };
    assert!(dues(&[release(json!(3))]).is_empty());
    assert_eq!(dues(&[release(json!(2))]), both);
    assert_eq!(dues(&[release(Value::Null)]), both);
    let remedy = |kind: &str| {
        let chart = [seen(3, "request", "2025-03-03T09:00", with(asked(kind), &json!({ "clocks": [] })))];
        listed_for(None, "2025-03-05", &chart)[0].remedy.clone()
    };
    assert_eq!(remedy("accounting"), "inkfast accounting PM-7 --request 3");
    assert_eq!(remedy("copy"), "inkfast request show 3, then inkfast request answer 3");
}

/// Coverage rules, C1 and C2: what the patient agreed to alone is nobody else's yes, and a yes from before the
/// birthday is not the patient's own.
#[test]
fn only_what_others_decided_ends_with_a_birthday() {
    let on = |today: &str, entries: &[Seen]| {
        let found = listed_for(Some("2007-06-15"), today, entries);
        found.iter().filter(|item| item.kind == ItemKind::ComesOfAge).count()
    };
    let year = json!({ "valid_until": "2026-12-31" });
    let by_mother = json!({ "given_by": { "role": "decision-maker", "person_id": "dm-1" } });
    let own = |seq: u64, at: &str| seen(seq, "consent", at, consent(year.clone()));
    let others = || seen(3, "consent", "2025-01-01T09:00", with(consent(year.clone()), &by_mother));
    assert_eq!(on("2025-06-17", &[own(3, "2025-01-01T09:00")]), 0, "nobody decided for the patient");
    assert_eq!(on("2025-06-17", &[others(), own(4, "2025-06-14T09:00")]), 1, "a minor's own yes");
    assert_eq!(on("2025-06-17", &[others(), own(4, "2025-06-15T09:00")]), 0);
    let came = seen(4, "contact", "2025-06-16T09:00", contact(json!({ "done": true })));
    assert_eq!(on("2025-06-17", &[others(), came]), 1, "a telephone call is no consent");
    let picture =
        json!({ "kind": "pictures-for-chart", "techniques": [], "regions": [], "valid_until": "2026-12-31" });
    let picture = seen(4, "consent", "2025-06-16T09:00", consent(picture));
    assert_eq!(on("2025-06-17", &[others(), picture]), 1, "a picture is no care");
}

/// The visit that is named ends, also where a newer one is open.
#[test]
fn a_note_or_a_closing_ends_the_visit_it_names() {
    let opened = json!({ "room": "room 1", "practitioners": ["IV"] });
    let open = |last: Seen| {
        let chart = [
            seen(3, "visit-opened", "2025-03-10T09:00", opened.clone()),
            seen(4, "visit-opened", "2025-03-10T15:00", opened.clone()),
            last,
        ];
        let visits = waits("2025-03-11", &chart).into_iter().filter(|(kind, _)| *kind == ItemKind::VisitOpen);
        visits.map(|(_, entry)| entry).collect::<Vec<_>>()
    };
    let at = "2025-03-10T16:00";
    let closing = |visit: u64| seen(5, "visit-closed", at, json!({ "visit": visit, "ended": "as-planned" }));
    let signed = |visit: u64| seen(5, "visit", at, note(visit, "later", json!({ "next_step": "again" })));
    assert_eq!([open(closing(3)), open(closing(4)), open(signed(3)), open(signed(4))], [[4], [3], [4], [3]]);
    assert_eq!(open(closing(2)), [3, 4]);
    // A note that this role does not open was written for the newest visit.
    assert_eq!(open(locked(5, "visit", at)), [3]);
}

#[test]
fn a_recheck_moves_its_own_reaction() {
    let chart = |of: u64| {
        let again = json!({ "reaction": of, "words": "better", "follow_up_due": "2025-03-20" });
        vec![
            seen(3, "reaction", "2025-03-11T09:00", reaction()),
            seen(4, "reaction", "2025-03-11T10:00", reaction()),
            seen(5, "reaction-rechecked", "2025-03-12T09:00", again),
        ]
    };
    let dues = |of: u64| -> Vec<_> {
        listed("2025-03-13", &chart(of))
            .into_iter()
            .map(|(_, entry, due)| (entry.unwrap(), due.unwrap()))
            .collect()
    };
    let due = |entry: u64, day: &str| (entry, day.to_string());
    assert_eq!(dues(3), [due(4, "2025-03-13"), due(3, "2025-03-20")]);
    assert_eq!(dues(4), [due(3, "2025-03-13"), due(4, "2025-03-20")]);
}

/// A yes that counts as a red flag is settled by going ahead with a written reason, or by an entry that closes that
/// item of that screen.
#[test]
fn a_red_flag_is_settled_by_words_or_by_its_own_closing() {
    let flagged = |answer: Value, closing: Option<(u64, &str)>| {
        let item = with(json!({ "item": "dizziness", "answer": "yes" }), &answer);
        let screen = json!({ "screen": "neck", "done_by": "IV", "answers": [item] });
        let mut chart = vec![seen(3, "screen", "2025-03-10T09:00", screen)];
        chart.extend(closing.map(|(screen, item)| {
            let data = json!({ "screen": screen, "item": item, "words": "ear" });
            seen(4, "screen-item-closed", "2025-03-10T10:00", data)
        }));
        waits("2025-03-11", &chart).contains(&(ItemKind::RedFlag, 3))
    };
    for (answer, waits) in [
        (json!({}), true),
        (json!({ "answer": "no" }), false),
        (json!({ "answer": "not-asked" }), false),
        (json!({ "words": "twice", "decision": "refer" }), true),
        (json!({ "words": "twice", "decision": "defer" }), true),
        (json!({ "words": "for years, known", "decision": "proceed" }), false),
        (json!({ "words": " ", "decision": "proceed" }), true),
        (json!({ "decision": "proceed" }), true),
    ] {
        assert_eq!(flagged(answer.clone(), None), waits, "{answer}");
    }
    let closed = |screen: u64, item: &str| {
        flagged(json!({ "words": "twice", "decision": "refer" }), Some((screen, item)))
    };
    assert_eq!([closed(3, "dizziness"), closed(2, "dizziness"), closed(3, "headache")], [false, true, true]);
}

#[test]
fn the_newest_screen_of_its_kind_counts() {
    let screen = |kind: &str| json!({ "screen": kind, "done_by": "IV", "answers": [] });
    let visit = seen(9, "visit", "2025-07-10T09:00", note(8, "later", json!({ "next_step": "again" })));
    let due = |screens: &[(u64, &str, &str)]| {
        let mut chart: Vec<Seen> =
            screens.iter().map(|(seq, kind, at)| seen(*seq, "screen", at, screen(kind))).collect();
        chart.push(visit.clone());
        let found = waits("2025-07-15", &chart).into_iter().filter(|(kind, _)| *kind == ItemKind::Screen);
        found.map(|(_, entry)| entry).collect::<Vec<_>>()
    };
    let (old, new) = ("2025-01-10T09:00", "2025-06-10T09:00");
    assert_eq!(due(&[(3, "neck", old)]), [3]);
    assert!(due(&[(3, "neck", old), (4, "neck", new)]).is_empty());
    assert!(due(&[(3, "neck", new), (4, "neck", old)]).is_empty(), "written later, of an earlier day");
    assert_eq!(due(&[(3, "neck", old), (4, "neck", old)]), [4]);
    assert_eq!(due(&[(3, "neck", old), (4, "mouth", new)]), [3]);
}

/// A planned day stands while it is near, or while the patient comes (90 days: `lists.reexamination_after_days`).
#[test]
fn a_planned_re_examination_waits_while_its_day_is_near_or_care_goes_on() {
    let planned = |on: &str| note(2, "first", json!({ "next_step": "again", "re_examine_on": on }));
    let later =
        |seq: u64, at: &str| seen(seq, "visit", at, note(seq - 1, "later", json!({ "next_step": "again" })));
    let first = |on: &str| seen(3, "visit", "2025-01-10T09:00", planned(on));
    let waits = |today: &str, chart: &[Seen]| waits(today, chart).contains(&(ItemKind::ReExamination, 3));
    // 90 days after 1 May is 30 July.
    assert!(waits("2025-07-30", &[first("2025-05-01")]), "its day is near, and nobody came since");
    assert!(!waits("2025-07-31", &[first("2025-05-01")]));
    assert!(waits("2025-07-31", &[first("2025-05-01"), later(5, "2025-06-10T09:00")]), "care goes on");
    assert!(!waits("2025-09-10", &[first("2025-05-01"), later(5, "2025-06-10T09:00")]));
}
