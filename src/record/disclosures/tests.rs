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
