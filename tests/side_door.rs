//! Promise: what is withheld does not leave by the side door. What quotes it, disputes it or adds to it stays with
//! it, or somebody decides; and a copy for the patient does not tell of a disclosure that an agency has left out of
//! accountings for a time (45 CFR 164.528(a)(2)).

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;
#[path = "common/planted.rs"]
mod planted;

use common::{add, attachment, example_data};
use inkfast::practice::attach::attach;
use inkfast::practice::release::{Production, ReleaseOrder, Withhold, undecided};
use inkfast::record::kinds::Data;
use inkfast::record::kinds::disclosing::{AccountingSuspended, StatementHow};
use inkfast::record::kinds::release::{ReleaseBasis, WithholdReason};
use inkfast::render::check_page;
use inkfast::trouble::Kind;
use inkfast::verify::manifest::slip_name;
use planted::{Members, Planted, WITHHELD, day, determined, holds, judge, list_of, members, record};
use serde_json::json;

const AT: &str = "2031-02-01T10:00:00-05:00";

fn paper(planted: &mut Planted, word: &str) -> u64 {
    let now = planted.small.practice.now();
    let bytes = word.repeat(40);
    let data = attachment("letter");
    attach(&mut planted.small.practice, &planted.own, &mut bytes.as_bytes(), data, now).unwrap().seq
}

fn nowhere(all: &Members, words: &[&str]) {
    for (name, bytes) in all {
        // The same bytes in every package tell nothing of this one.
        if name == check_page::NAME {
            assert!(bytes == check_page::PAGE.as_bytes());
            continue;
        }
        for word in words {
            assert!(!holds(bytes, word), "{word} stands in {name}");
        }
    }
}

/// A request for amendment about these entries, and everything that followed it, with a word in each.
fn amendment(planted: &mut Planted, about: &[u64], word: &str) -> Vec<u64> {
    let letters: Vec<u64> = (0..4).map(|_| paper(planted, word)).collect();
    let points = json!([{ "no": 1, "text": format!("strike {word}"), "entries": about }]);
    let request =
        record(planted, AT, "amendment-request", &[("/points", points), ("/letter", letters[0].into())]);
    let decided = json!([{ "no": 1, "decision": "refused", "ground": "accurate-and-complete",
        "reason": format!("{word} is what was seen") }]);
    let decision = record(
        planted,
        AT,
        "amendment-decision",
        &[("/request", request.into()), ("/points", decided), ("/letter/letter", letters[1].into())],
    );
    let disagreement = record(
        planted,
        AT,
        "disagreement",
        &[
            ("/request", request.into()),
            ("/text", format!("no {word}").into()),
            ("/letter", letters[2].into()),
        ],
    );
    let mut answer = example_data("rebuttal");
    if let Data::Rebuttal(data) = &mut answer {
        (data.disagreement, data.text, data.letter) = (disagreement, format!("but {word}"), Some(letters[3]));
    }
    let rebuttal = add(&mut planted.small.practice, Some(&planted.own), answer).unwrap().seq;
    letters.into_iter().chain([request, decision, disagreement, rebuttal]).collect()
}

#[test]
fn what_quotes_disputes_or_adds_to_a_withheld_entry_stays_with_it() {
    let mut planted = Planted::new();
    let entry = planted.withheld;
    let mut stays = amendment(&mut planted, &[entry], WITHHELD);
    let correction = record(
        &mut planted,
        AT,
        "correction",
        &[("/target", entry.into()), ("/was", WITHHELD.into()), ("/is", "x".into())],
    );
    // Of the request itself something is put right, too.
    let request = stays[4];
    let of_request = record(
        &mut planted,
        AT,
        "correction",
        &[
            ("/target", request.into()),
            ("/field", "/points/0/text".into()),
            ("/was", format!("strike {WITHHELD}").into()),
            ("/is", format!("strike the {WITHHELD}").into()),
        ],
    );
    let addendum =
        record(&mut planted, AT, "addendum", &[("/target", entry.into()), ("/text", WITHHELD.into())]);
    stays.extend([correction, of_request, addendum]);
    // One reason was typed with words: no more than those words leaves.
    let one = Withhold { words: Some("her sister's letter".into()), ..determined(entry) };
    let (_, archive) = planted.archive("p.age", vec![one]);
    assert!(judge(&archive).unwrap().sound);
    let all = members(&archive);
    nowhere(&all, &[WITHHELD]);
    let list = list_of(&all);
    for seq in stays {
        let held = list.entries.iter().find(|e| e.seq == seq).unwrap();
        assert_eq!(held.reason, Some(WithholdReason::LikelyHarm), "{}", held.kind);
        let name = slip_name(held.chart_seq);
        let (_, slip) = all.iter().find(|(member, _)| *member == name).unwrap();
        let slip = String::from_utf8_lossy(slip).split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(slip.contains("it is withheld with it"), "{slip}");
        assert!(slip.contains("Odile Farrow") && slip.contains("her sister's letter"), "{slip}");
    }
}

#[test]
fn what_is_also_about_something_given_is_decided_by_somebody() {
    let mut planted = Planted::new();
    let entry = planted.withheld;
    let other = record(&mut planted, AT, "contact", &[("/said", "wheatear".into())]);
    let papers = amendment(&mut planted, &[entry, other], "redshank");
    let request = papers[4];
    let withhold = vec![Withhold::new(entry, WithholdReason::AnotherPerson)];
    let order = |planted: &Planted, name: &str, give: Vec<u64>, more: Option<Withhold>| ReleaseOrder {
        withhold: withhold.iter().cloned().chain(more).collect(),
        give,
        ..planted.order(name)
    };
    let before = planted.small.practice.size();
    let open = order(&planted, "a.age", vec![], None);
    let asked = undecided(&planted.small.practice, &planted.own, &open).unwrap();
    let about: Vec<_> =
        asked.iter().map(|one| (one.entry, one.withheld.clone(), one.given.clone())).collect();
    assert_eq!(about, [(request, vec![entry], vec![other])]);
    let refused = planted.release("a.age", withhold.clone()).unwrap_err();
    assert_eq!(refused.kind, Kind::Refused);
    assert!(!refused.to_string().contains("redshank"));
    assert_eq!(planted.small.practice.size(), before, "nothing was recorded");

    // Given: with everything that followed. The other way round: none of it.
    let give = order(&planted, "b.age", vec![request], None);
    let (given, archive) = planted.carried_out(give);
    let list = list_of(&members(&archive));
    assert!(papers.iter().all(|seq| list.entries.iter().any(|e| e.seq == *seq && e.withheld.is_none())));
    let more = Some(Withhold::new(request, WithholdReason::AnotherPerson));
    let hold = order(&planted, "c.age", vec![], more);
    let (_, archive) = planted.carried_out(hold);
    assert!(judge(&archive).unwrap().sound);
    nowhere(&members(&archive), &["redshank"]);
    // The first one once more, though the chart grew: what went along then goes along, or the same bytes do.
    let again = ReleaseOrder { production: Production::Again(given.seq), ..planted.order("d.age") };
    assert_eq!(planted.carried_out(again).0.same_as, Some(given.seq));

    // What is about nothing else can't be given while that is withheld.
    let only = record(&mut planted, AT, "addendum", &[("/target", entry.into())]);
    let wrong = order(&planted, "e.age", vec![request, only], None);
    let refused = inkfast::practice::release::release(&mut planted.small.practice, &planted.own, wrong);
    assert_eq!(refused.unwrap_err().kind, Kind::Refused);
}

#[test]
fn only_dealings_can_be_held_back_without_a_reason() {
    let mut planted = Planted::new();
    let care = Withhold::new(planted.withheld, WithholdReason::HeldBack);
    assert_eq!(planted.release("p.age", vec![care]).unwrap_err().kind, Kind::Refused);
    let call = record(&mut planted, AT, "contact", &[("/said", "wheatear".into())]);
    let (_, archive) = planted.archive("p.age", vec![Withhold::new(call, WithholdReason::HeldBack)]);
    nowhere(&members(&archive), &["wheatear"]);
}

/// Something goes to the board, on its request; then the board asks that the patient not be told.
fn left_out(planted: &mut Planted) -> (Vec<u64>, u64) {
    let letter = paper(planted, "Ouzelby");
    let mut asked = example_data("request");
    if let Data::Request(data) = &mut asked {
        (data.from, data.letter, data.authority_entry) = ("Board, Ms Ouzelby".into(), Some(letter), None);
    }
    planted.small.clock.set(common::moment(AT));
    let request = add(&mut planted.small.practice, Some(&planted.own), asked).unwrap().seq;
    let mut order = planted.order("board.age");
    order.data.to = "Board, Ms Ouzelby".into();
    order.data.basis = ReleaseBasis::Oversight;
    order.data.request = Some(request);
    order.data.letter = None;
    let (released, _) = planted.carried_out(order);
    let made = planted.small.practice.size();
    let mut answered = example_data("request-step");
    if let Data::RequestStep(step) = &mut answered {
        (step.request, step.words, step.attachment) = (request, "sent to Ms Ouzelby".into(), None);
    }
    let step = add(&mut planted.small.practice, Some(&planted.own), answered).unwrap().seq;
    let statement = AccountingSuspended {
        disclosures: vec![released.seq],
        agency: "Board, Ms Ouzelby".into(),
        how: StatementHow::Written,
        stated_on: day("2031-02-01"),
        until: Some(day("2031-08-01")),
        written_on: None,
        words: "Telling Ouzelby's business would impede it.".into(),
        letter: None,
    };
    add(&mut planted.small.practice, None, statement.into()).unwrap();
    (vec![letter, request, released.seq, made, step], released.seq)
}

#[test]
fn a_copy_for_the_patient_does_not_tell_what_an_agency_has_left_out() {
    let mut planted = Planted::new();
    let mut earlier = planted.order("early.age");
    earlier.data.basis = ReleaseBasis::Patient;
    drop(planted.carried_out(earlier));
    let (untold, released) = left_out(&mut planted);
    for basis in [
        ReleaseBasis::Patient,
        ReleaseBasis::Guardian,
        ReleaseBasis::DeceasedRepresentative,
        ReleaseBasis::Authorisation,
    ] {
        let mut order = planted.order(&format!("{}.age", basis.word()));
        (order.data.basis, order.data.request) = (basis, None);
        order.data.to = format!("to {}", basis.word());
        let (_, archive) = planted.carried_out(order);
        let report = judge(&archive).unwrap();
        assert!(report.sound, "{:?}", report.findings);
        let all = members(&archive);
        nowhere(&all, &["Ouzelby"]);
        let list = list_of(&all);
        for seq in &untold {
            let held = list.entries.iter().find(|e| e.seq == *seq).unwrap();
            assert_eq!(held.reason, Some(WithholdReason::HeldBack), "{}", held.kind);
            let name = slip_name(held.chart_seq);
            let (_, slip) = all.iter().find(|(member, _)| *member == name).unwrap();
            let slip = String::from_utf8_lossy(slip).to_lowercase();
            for telling in ["528", "agency", "oversight", "suspen", "impede", "until", "by law", "account"] {
                assert!(!slip.contains(telling), "{telling}\n{slip}");
            }
        }
        // The places are counted, and nothing in the copy says that such a statement was ever made.
        assert!(list.entries.iter().all(|e| e.kind != "accounting-suspended"));
        let numbers: Vec<u64> = list.entries.iter().map(|e| e.chart_seq).collect();
        assert!(numbers.iter().copied().eq(1..=numbers.len() as u64));
        nowhere(&all, &["accounting-suspended", "164.528"]);
    }
    // Whoever else may have it is told; and when the time is over, so is the patient.
    let mut order = planted.order("court.age");
    order.data.basis = ReleaseBasis::Order;
    order.data.to = "Court".into();
    let (_, archive) = planted.carried_out(order);
    assert!(members(&archive).iter().any(|(_, bytes)| holds(bytes, "Ouzelby")));
    planted.small.clock.set(common::moment("2031-08-02T10:00:00-04:00"));
    let mut order = planted.order("after.age");
    (order.data.basis, order.data.to) = (ReleaseBasis::Patient, "the patient, later".into());
    let (_, archive) = planted.carried_out(order);
    let list = list_of(&members(&archive));
    assert!(list.entries.iter().any(|e| e.seq == released && e.withheld.is_none()));
}

#[test]
fn a_copy_made_before_is_not_repeated_while_it_would_tell() {
    let mut planted = Planted::new();
    let mut order = planted.order("board.age");
    (order.data.basis, order.data.to) = (ReleaseBasis::Oversight, "Board, Ms Ouzelby".into());
    let (board, _) = planted.carried_out(order);
    let mut order = planted.order("first.age");
    (order.data.basis, order.data.request) = (ReleaseBasis::Patient, None);
    let (first, archive) = planted.carried_out(order);
    assert!(members(&archive).iter().any(|(_, bytes)| holds(bytes, "Ouzelby")));
    let now = planted.small.practice.now().local_date();
    let statement = AccountingSuspended {
        disclosures: vec![board.seq],
        agency: "Board".into(),
        how: StatementHow::Oral,
        stated_on: inkfast::record::kinds::Day(now),
        until: None,
        written_on: None,
        words: "It would impede the inquiry.".into(),
        letter: None,
    };
    add(&mut planted.small.practice, None, statement.into()).unwrap();
    let mut order = ReleaseOrder { production: Production::Again(first.seq), ..planted.order("second.age") };
    (order.data.basis, order.data.request) = (ReleaseBasis::Patient, None);
    let (second, archive) = planted.carried_out(order);
    assert_eq!(second.same_as, None);
    nowhere(&members(&archive), &["Ouzelby"]);
}

/// With the real command: exit 3, nothing recorded, nothing written; then as somebody said.
#[test]
fn the_release_asks_before_anything_leaves() {
    use common::archive::TO_THE_PATIENT;
    let room = common::room::Room::new();
    room.at("2024-06-03T09:00:00-04:00");
    room.patient("PM-0112", "Bettony Craske", "1968-03-09");
    let call = |said: &str| {
        let usual = ["contact", "PM-0112", "--channel", "telephone", "--direction", "incoming"];
        room.entry(&[&usual[..], &["--with", "B. C.", "--checked", "voice", "--said", said]].concat())
    };
    let (one, other) = (call("wheatear"), call("dotterel"));
    let points = format!("text=\"strike both\" entries={one},{other}");
    let request = room.entry(&["amend", "take", "PM-0112", "--from", "Bettony Craske", "--points", &points]);
    let to = inkfast::seal::age_file::Identity::generate().recipient().to_string();
    let (file, why) = (room.path("out.age"), format!("{one}=another-person"));
    let release = |more: &[&str]| {
        let usual = ["release", "PM-0112", "--to", &to, "--file", file.to_str().unwrap(), "--withhold", &why];
        room.run(&[&usual[..], &TO_THE_PATIENT, more].concat())
    };
    let asked = release(&[]);
    assert_eq!(asked.code(), 3, "{}", asked.all());
    assert!(asked.all().contains(&format!("Entry {request} (request for amendment) is about {one}")));
    assert!(!asked.all().contains("strike both") && !file.exists());
    let given = release(&["--give", &request.to_string()]);
    assert_eq!(given.code(), 0, "{}", given.all());
}
