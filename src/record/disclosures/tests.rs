//! What belongs in an accounting: the paragraphs of 45 CFR 164.528 as read for the shipped tables.

use super::account::{Account, Asked, account};
use super::*;
use crate::record::kinds::Given;
use crate::record::kinds::release::{SealedHow, Urgency};
use crate::record::moment::{Moment, parse_date};
use crate::record::tables::Tables;
use serde_json::json;

fn date(text: &str) -> Date {
    parse_date(text).unwrap()
}

fn read(seq: u64, on: &str, data: impl Into<Data>) -> Read {
    Read { seq, chart: "PM-7".into(), on: date(on), data: data.into() }
}

fn release(to: &str, basis: ReleaseBasis, purpose: &str) -> Release {
    Release {
        request: None,
        to: to.into(),
        address: Given::Value("2 Lock Row".into()),
        asked_on: None,
        basis,
        basis_words: None,
        purpose: (!purpose.is_empty()).then(|| purpose.to_string()),
        letter: None,
        what: serde_json::from_value(json!({"entries": 2, "words": "Two notes."})).unwrap(),
        withheld: vec![],
        sealed: SealedHow::NotSealed,
        sealed_to: None,
        unsealed: None,
        read_back: None,
        passphrase_by: None,
        channel: "post".into(),
        checked_by: Given::Value("HL".into()),
        fee: None,
        certificate: None,
        acknowledged: None,
        counts_for_accounting: false,
    }
}

fn worked_out(entries: &[Read], asked_on: &str, today: &str) -> Account {
    let asked = Asked { asked_on: Some(date(asked_on)), ..Asked::default() };
    let tables = Tables::shipped().unwrap();
    account(&["PM-7".to_string()], entries, &asked, date(today), tables, &[]).unwrap()
}

#[test]
fn six_years_are_looked_back_on_and_the_first_day_counts() {
    // 45 CFR 164.528(a)(1): "in the six years prior to the date on which the accounting is requested".
    let court = |seq, on| read(seq, on, release("Court", ReleaseBasis::Order, "hearing"));
    let entries =
        [court(1, "2019-03-01"), court(2, "2019-03-02"), court(3, "2025-03-02"), court(4, "2025-03-03")];
    let account = worked_out(&entries, "2025-03-02", "2025-03-05");
    assert_eq!(account.lines[0].entries, [2, 3]);
    assert_eq!(account.outside_the_period, [1, 4]);
    // 164.528(c)(1): no later than 60 days after receipt.
    assert_eq!(account.due, Day(date("2025-05-01")));
}

#[test]
fn kinds_are_left_out_each_with_its_paragraph() {
    use ReleaseBasis::*;
    let told = [
        SubpoenaWithAssurance,
        Order,
        Oversight,
        RequiredByLaw,
        PublicHealth,
        AbuseOrNeglect,
        LawEnforcement,
        CoronerOrFuneral,
        SeriousThreat,
        WorkersCompensation,
        ComplianceReview,
        ResearchWaiver,
        OrganDonation,
        MilitaryCommand,
        SentInError,
    ];
    let table = crate::record::tables::disclosure::AccountingTable::of(Tables::shipped().unwrap()).unwrap();
    for basis in ReleaseBasis::ALL {
        assert!(table.class(basis::table_word(*basis)).is_some(), "{basis}");
        assert_eq!(basis::counts(*basis, &table), told.contains(basis), "{basis}");
        assert_eq!(basis::why_not_counted(*basis).is_empty(), told.contains(basis), "{basis}");
        assert_eq!(basis::citation_not_counted(*basis).is_empty(), told.contains(basis), "{basis}");
    }
    let entries = [
        read(1, "2025-01-02", release("Guild plan", Payment, "bill")),
        read(2, "2025-01-03", release("the patient", Patient, "")),
        read(3, "2025-01-04", release("Agency", NationalSecurity, "asked")),
    ];
    let account = worked_out(&entries, "2025-03-02", "2025-03-05");
    assert!(account.lines.is_empty());
    let cited: Vec<&str> = account.not_counted.iter().map(|one| one.citation.as_str()).collect();
    // 164.528(a)(1)(i), (ii) and (vi).
    assert_eq!(cited, ["45 CFR 164.528(a)(1)(i)", "45 CFR 164.528(a)(1)(ii)", "45 CFR 164.528(a)(1)(vi)"]);
    assert!(!account.not_counted[2].may_be_shown);
}

#[test]
fn repeats_are_one_line_and_an_error_is_never_hidden_in_one() {
    // 164.528(b)(3): several to the same recipient for a single purpose.
    let to = |seq, on, basis, purpose| read(seq, on, release("Board", basis, purpose));
    let entries = [
        to(5, "2025-01-20", ReleaseBasis::Oversight, "complaint of 2024"),
        to(1, "2025-01-02", ReleaseBasis::Oversight, "complaint of 2024"),
        to(2, "2025-01-03", ReleaseBasis::Oversight, "licence"),
        to(3, "2025-01-04", ReleaseBasis::SentInError, "wrong envelope"),
        to(4, "2025-01-05", ReleaseBasis::SentInError, "wrong envelope"),
        to(6, "2025-01-21", ReleaseBasis::Order, "complaint of 2024"),
    ];
    let account = worked_out(&entries, "2025-03-02", "2025-03-05");
    let told: Vec<(u32, Vec<u64>)> = account.lines.iter().map(|l| (l.count, l.entries.clone())).collect();
    assert_eq!(told, [(2, vec![1, 5]), (1, vec![2]), (1, vec![3]), (1, vec![4]), (1, vec![6])]);
    assert_eq!(
        (account.lines[0].first, account.lines[0].last),
        (Day(date("2025-01-02")), Day(date("2025-01-20")))
    );
    assert_eq!(account.lines[0].what, "Two notes");
}

#[test]
fn a_line_without_a_purpose_says_so_unless_the_request_is_there() {
    // 164.528(b)(2)(iv): the purpose, or in its place a copy of the written request.
    let mut asked = release("Court", ReleaseBasis::Order, "");
    let lacks = |release: Release| {
        worked_out(&[read(9, "2025-01-02", release)], "2025-03-02", "2025-03-05").lines[0].missing.clone()
    };
    assert_eq!(lacks(asked.clone()), ["purpose"]);
    asked.letter = Some(4);
    assert!(lacks(asked.clone()).is_empty());
    asked.letter = None;
    asked.basis_words = Some("Order of 3 Jan 2025".into());
    assert!(lacks(asked).is_empty());
}

#[test]
fn an_agency_is_left_out_for_its_time_and_told_afterwards() {
    // 164.528(a)(2)(ii): an oral statement holds for no longer than 30 days, unless a written one follows.
    let asked = |written_on: Option<&str>| AccountingSuspended {
        disclosures: vec![1, 2],
        agency: "Harbour police".into(),
        how: StatementHow::Oral,
        stated_on: Day(date("2025-03-01")),
        until: Some(Day(date("2025-12-31"))),
        written_on: written_on.map(|day| Day(date(day))),
        words: "would impede".into(),
        letter: None,
    };
    let entries = |written_on| {
        [
            read(1, "2025-01-02", release("Harbour police", ReleaseBasis::LawEnforcement, "inquiry")),
            // A statement names a disclosure that it can't cover: it is told all the same.
            read(2, "2025-01-03", release("Court", ReleaseBasis::Order, "hearing")),
            read(3, "2025-03-01", asked(written_on)),
        ]
    };
    let told = |written_on, today: &str| {
        let account = worked_out(&entries(written_on), "2025-03-02", today);
        (
            account.lines.iter().flat_map(|l| l.entries.clone()).collect::<Vec<_>>(),
            account.left_out_for_a_time.len(),
        )
    };
    assert_eq!(told(None, "2025-03-31"), (vec![2], 1));
    assert_eq!(told(None, "2025-04-01"), (vec![1, 2], 0));
    assert_eq!(told(Some("2025-03-20"), "2025-12-31"), (vec![2], 1));
    assert_eq!(told(Some("2025-03-20"), "2026-01-01"), (vec![1, 2], 0));
}

/// What lies outside the days asked about is no part of the account, nor of what an agency had left out of it.
#[test]
fn what_is_left_out_for_a_time_lies_within_the_days_asked_about() {
    let suspended = AccountingSuspended {
        disclosures: vec![1],
        agency: "Harbour police".into(),
        how: StatementHow::Written,
        stated_on: Day(date("2025-03-01")),
        until: Some(Day(date("2025-12-31"))),
        written_on: None,
        words: "would impede".into(),
        letter: None,
    };
    let entries = [
        read(1, "2025-01-02", release("Harbour police", ReleaseBasis::LawEnforcement, "inquiry")),
        read(2, "2025-03-01", suspended),
    ];
    let left_out = |from: &str| {
        let asked = Asked { from: Some(date(from)), asked_on: Some(date("2025-03-02")), ..Asked::default() };
        let tables = Tables::shipped().unwrap();
        let account =
            account(&["PM-7".to_string()], &entries, &asked, date("2025-03-05"), tables, &[]).unwrap();
        account.left_out_for_a_time.iter().map(|one| one.entry).collect::<Vec<_>>()
    };
    assert_eq!(left_out("2025-01-02"), [1]);
    assert!(left_out("2025-01-03").is_empty());
}

/// An account answers the open request that came on its day; one asked for on another day is another one.
#[test]
fn an_account_names_the_request_of_its_day() {
    let request = json!({"kind": "accounting", "from": "B. C.", "relation": "self",
        "received_on": "2025-01-02", "text": "who was told", "identity_checked": "licence card"});
    let entries = [read(2, "2025-01-02", Data::read("request", 1, &request).unwrap())];
    let request = |asked: Asked| {
        let tables = Tables::shipped().unwrap();
        let account =
            account(&["PM-7".to_string()], &entries, &asked, date("2025-03-05"), tables, &[]).unwrap();
        (account.asked_on.0, account.request)
    };
    let on = |day: &str| Asked { asked_on: Some(date(day)), ..Asked::default() };
    assert_eq!(request(Asked::default()), (date("2025-01-02"), Some(2)));
    assert_eq!(request(on("2025-01-02")), (date("2025-01-02"), Some(2)));
    assert_eq!(request(on("2025-02-01")), (date("2025-02-01"), None));
    let named = Asked { request: Some(7), ..on("2025-02-01") };
    assert_eq!(request(named), (date("2025-02-01"), Some(7)));
}

/// The clock that the practice adopted by name, if it is one for an accounting that says how far it looks back; else the
/// published one that looks back longest (45 CFR 164.528(a)(1): six years).
#[test]
fn the_adopted_clock_of_an_accounting_counts() {
    use super::account::clock;
    let mut tables = Tables::shipped().unwrap().clone();
    let published = tables.clocks.clock("us-hipaa-accounting").unwrap().clone();
    let mut add = |id: &str, look_back_years: Option<u32>| {
        let mut own = published.clone();
        (own.id, own.look_back_years) = (id.to_string(), look_back_years);
        tables.clocks.clock.push(own);
    };
    add("three-years", Some(3));
    add("two-years", Some(2));
    add("no-years", None);
    for (adopted, chosen) in [
        (&[][..], "us-hipaa-accounting"),
        (&["three-years"], "three-years"),
        (&["two-years", "three-years"], "three-years"),
        (&["three-years", "us-hipaa-access"], "three-years"),
        (&["us-hipaa-access"], "us-hipaa-accounting"),
        (&["no-years"], "us-hipaa-accounting"),
    ] {
        let adopted: Vec<String> = adopted.iter().map(|id| (*id).to_string()).collect();
        assert_eq!(clock(&tables, &adopted).map(|clock| clock.id.as_str()), Some(chosen), "{adopted:?}");
    }
}

/// A single day can be asked about, and an end before the begin can't; the rule is told with where it is published.
#[test]
fn an_account_covers_the_days_asked_about_alone() {
    let paid = |seq, on| read(seq, on, release("Guild plan", ReleaseBasis::Payment, "bill"));
    let entries = [paid(1, "2025-01-01"), paid(2, "2025-01-02"), paid(3, "2025-01-03")];
    let of = |from: &str, until: &str| {
        let asked = Asked {
            asked_on: Some(date("2025-03-02")),
            from: Some(date(from)),
            until: Some(date(until)),
            request: None,
        };
        account(&["PM-7".to_string()], &entries, &asked, date("2025-03-05"), Tables::shipped().unwrap(), &[])
    };
    let one_day = of("2025-01-02", "2025-01-02").unwrap();
    assert_eq!(one_day.not_counted.iter().map(|one| one.entry).collect::<Vec<_>>(), [2]);
    assert!(one_day.outside_the_period.is_empty(), "what is left out by its kind lies nowhere");
    assert_eq!(one_day.rule, "us-hipaa-accounting (45 CFR 164.528(a)(1), (a)(3), (c)(1))");
    for until in ["2025-01-01", "2024-12-31"] {
        assert!(of("2025-01-02", until).unwrap_err().contains(until));
    }
}

/// 164.528(b)(2)(iv): a copy of the written request stands in for the purpose, also where the request keeps it.
#[test]
fn the_letter_of_the_request_stands_in_for_the_purpose() {
    let request = |letter: Option<u64>| {
        let mut asked = json!({"kind": "order", "from": "Court", "relation": "court", "received_on": "2025-01-02",
            "text": "the chart", "identity_checked": "seal"});
        if let Some(letter) = letter {
            asked["letter"] = json!(letter);
        }
        read(1, "2025-01-02", Data::read("request", 1, &asked).unwrap())
    };
    let lines = |asked: Read, of: u64, own: Option<u64>| {
        let mut sent = release("Court", ReleaseBasis::Order, "");
        (sent.request, sent.letter) = (Some(of), own);
        let line =
            worked_out(&[asked, read(9, "2025-01-09", sent)], "2025-03-02", "2025-03-05").lines.remove(0);
        (line.request_copy, line.missing.len())
    };
    assert_eq!(lines(request(Some(4)), 1, None), (Some(4), 0));
    assert_eq!(lines(request(Some(4)), 1, Some(5)), (Some(5), 0), "its own letter first");
    assert_eq!(lines(request(Some(4)), 2, None), (None, 1), "another request's letter");
    assert_eq!(lines(request(None), 1, None), (None, 1));
}

/// The sections of 45 CFR 164.512 and 164.528(a)(1) as they are told to a patient: each in words of its own.
#[test]
fn every_basis_is_told_in_plain_words_of_its_own() {
    let words: std::collections::BTreeSet<&str> =
        ReleaseBasis::ALL.iter().map(|one| basis::plain(*one)).collect();
    assert_eq!(words.len(), ReleaseBasis::ALL.len());
    for (basis, part) in [
        (ReleaseBasis::Patient, "to you"),
        (ReleaseBasis::Authorisation, "you had signed"),
        (ReleaseBasis::Order, "order of a court"),
        (ReleaseBasis::SentInError, "in error"),
    ] {
        assert!(basis::plain(basis).contains(part), "{}", basis::plain(basis));
    }
}

#[test]
fn the_second_within_twelve_months_is_not_free() {
    // 164.528(c)(2): the first accounting in any 12 month period without charge.
    let given = crate::record::kinds::disclosing::AccountingGiven {
        request: None,
        asked_on: Day(date("2024-06-01")),
        from: Day(date("2018-06-01")),
        until: Day(date("2024-06-01")),
        given_to: "the patient".into(),
        lines: vec![],
        other_charts: vec![],
        free: true,
        fee: None,
        fee_told_on: None,
        digest: "0".repeat(64),
    };
    let entries = [read(1, "2024-06-02", given)];
    assert!(!worked_out(&entries, "2025-05-31", "2025-06-01").free);
    assert!(worked_out(&entries, "2025-06-01", "2025-06-01").free);
}

#[test]
fn a_sent_referral_is_treatment_and_an_unsent_one_nothing() {
    let referral = |sent: Option<&str>| Referral {
        to: "Dr Oake".into(),
        why: "dizzy spells".into(),
        urgency: Urgency::Soon,
        sent_how: Given::absent("not sent yet"),
        sent_at: sent.map(|at| Moment::parse(at).unwrap()),
        expect_by: None,
        letter: None,
        visit: None,
    };
    let entries = [
        read(1, "2025-01-02", referral(None)),
        read(2, "2025-01-02", referral(Some("2025-01-03T09:00:00-05:00"))),
    ];
    let account = worked_out(&entries, "2025-03-02", "2025-03-05");
    assert_eq!(account.not_counted.len(), 1);
    assert_eq!((account.not_counted[0].entry, account.not_counted[0].on), (2, Day(date("2025-01-03"))));
}

#[test]
fn what_may_be_an_unrecorded_disclosure_is_asked_about() {
    let order = json!({"kind": "order", "from": "Court", "relation": "court", "received_on": "2025-01-02",
        "text": "the chart", "identity_checked": "seal"});
    let closed = json!({"request": 1, "step": "closed", "on": "2025-01-09", "words": "Sent by mail."});
    let call = json!({"channel": "telephone", "direction": "incoming", "said": "asked how she is",
        "with": {"name": "A. Reeve", "relation": "employer", "identity_checked": "by number"}});
    let data = |kind: &str, value| Data::read(kind, 1, &value).unwrap();
    let mut entries = vec![
        read(1, "2025-01-02", data("request", order)),
        read(2, "2025-01-09", data("request-step", closed)),
        read(3, "2025-01-10", data("contact", call)),
    ];
    let asked = |entries: &[Read]| {
        let found = worked_out(entries, "2025-03-02", "2025-03-05").to_look_at;
        found.iter().map(|one| one.entry).collect::<Vec<_>>()
    };
    assert_eq!(asked(&entries), [1, 3]);
    let mut sent = release("Court", ReleaseBasis::Order, "hearing");
    sent.request = Some(1);
    entries.push(read(4, "2025-01-09", sent));
    assert_eq!(asked(&entries), [3]);
}

#[test]
fn what_was_disclosed_is_told_in_brief() {
    let told = |what| what_words(&serde_json::from_value::<Released>(what).unwrap());
    for (what, words) in [
        (json!({"words": " Two notes. ", "entries": 2}), "Two notes"),
        (json!({"words": "Two notes", "kinds": ["visit"], "entries": 2, "pages": 3}), "Two notes; 3 pages"),
        (json!({"entries": 0}), ""),
        (json!({"entries": 4, "pages": 0}), "the record"),
        (json!({"entries": 0, "from": "2025-01-02"}), "the record; from 02 Jan 2025"),
        (json!({"entries": 1, "until": "2025-01-04"}), "the record; up to 04 Jan 2025"),
        (
            json!({"entries": 1, "from": "2025-01-02", "until": "2025-01-04"}),
            "the record; 02 Jan 2025 to 04 Jan 2025",
        ),
    ] {
        assert_eq!(told(what.clone()), words, "{what}");
    }
    let kinds = told(json!({"kinds": ["visit", "consent"], "entries": 2}));
    assert_eq!(kinds.split(", ").count(), 2, "{kinds}");
    assert_eq!(kinds, kinds.to_lowercase());
}

/// The newest request for an accounting that is neither answered, ended nor given.
#[test]
fn an_accounting_asked_for_is_open_until_given_or_ended() {
    let data = |kind: &str, value| Data::read(kind, 1, &value).unwrap();
    let asked = |kind: &str| {
        data(
            "request",
            json!({"kind": kind, "from": "B. C.", "relation": "self", "received_on": "2025-01-02",
                "text": "who was told", "identity_checked": "licence card"}),
        )
    };
    let step = |of: u64, step: &str| {
        let mut value = json!({"request": of, "step": step, "on": "2025-01-09", "words": "letter"});
        if step == "extended" {
            value["new_due"] = json!("2025-04-02");
        }
        data("request-step", value)
    };
    let mut entries = vec![read(1, "2025-01-02", asked("copy")), read(2, "2025-01-02", asked("accounting"))];
    let open = |entries: &[Read]| open_request(entries).map(|(seq, _)| seq);
    assert_eq!(open_request(&entries), Some((2, date("2025-01-02"))));
    // A copy that was asked for since is another request.
    entries.push(read(3, "2025-01-03", asked("copy")));
    assert_eq!(open(&entries), Some(2));
    entries.pop();
    entries.push(read(3, "2025-01-03", step(2, "extended")));
    assert_eq!(open(&entries), Some(2));
    entries.push(read(4, "2025-01-04", asked("accounting")));
    assert_eq!(open(&entries), Some(4));
    for ends in ["answered", "closed", "declined", "returned", "withdrawn"] {
        entries.push(read(5, "2025-01-09", step(4, ends)));
        assert_eq!(open(&entries), Some(2), "{ends}");
        entries.pop();
    }
    let mut given = crate::record::examples::example("accounting-given").data;
    for (of, left) in [(1, Some(4)), (2, Some(4)), (4, Some(2))] {
        given["request"] = json!(of);
        entries.push(read(6, "2025-01-10", data("accounting-given", given.clone())));
        assert_eq!(open(&entries), left, "{of}");
        entries.pop();
    }
}

/// Whoever decides for the patient, and the patient, are told what they may know; others are asked about.
#[test]
fn contacts_and_closed_requests_are_asked_about_only_where_somebody_else_may_have_been_told() {
    let data = |kind: &str, value| Data::read(kind, 1, &value).unwrap();
    let call = |name: &str, relation: &str| {
        data(
            "contact",
            json!({"channel": "telephone", "direction": "incoming", "said": "asked how she is",
                "with": {"name": name, "relation": relation, "identity_checked": "by number"}}),
        )
    };
    let mother = json!({"person_id": "dm-1", "name": "Ilse Ruddle", "relation": "mother", "basis": "parent",
        "authority_on_file": true, "may_consent": true, "may_receive_records": true});
    let found = |entries: &[Read]| -> Vec<u64> {
        to_look_at(entries, date("2025-01-02"), date("2025-01-10")).iter().map(|one| one.entry).collect()
    };
    let calls = [
        read(1, "2025-01-02", data("decision-maker", mother)),
        read(2, "2025-01-02", call("B. C.", " Self ")),
        read(3, "2025-01-02", call(" ilse ruddle", "mother")),
        read(4, "2025-01-01", call("A. Reeve", "employer")),
        read(5, "2025-01-02", call("A. Reeve", "employer")),
        read(6, "2025-01-10", call("A. Reeve", "employer")),
        read(7, "2025-01-11", call("A. Reeve", "employer")),
    ];
    assert_eq!(found(&calls), [5, 6]);
    let request = |kind: &str, steps: &[&str]| {
        let asked = json!({"kind": kind, "from": "Court", "relation": "court", "received_on": "2025-01-02",
            "text": "the chart", "identity_checked": "seal"});
        let mut entries = vec![read(1, "2025-01-02", data("request", asked))];
        entries.extend(steps.iter().map(|step| {
            let step = json!({"request": 1, "step": step, "on": "2025-01-09", "words": "Sent by mail."});
            read(2, "2025-01-20", data("request-step", step))
        }));
        !found(&entries).is_empty()
    };
    assert!(request("order", &["answered"]) && request("order", &["closed"]) && !request("order", &[]));
    for refused in ["declined", "returned", "withdrawn"] {
        assert!(!request("order", &[refused, "closed"]) && !request("order", &[refused]), "{refused}");
    }
    let sends = [
        "audit",
        "authorisation",
        "copy",
        "deceased-representative",
        "order",
        "oversight",
        "required-by-law",
        "subpoena",
        "treatment",
    ];
    for kind in RequestKind::ALL {
        assert_eq!(request(kind.word(), &["closed"]), sends.contains(&kind.word()), "{kind}");
    }
}
