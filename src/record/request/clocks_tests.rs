//! The days of requests. Sources: 45 CFR 164.524(b)(2), 164.528(c)(1); 22 Tex. Admin. Code 76.2(h) and 76.3(f);
//! Quebec regulation C-16, r. 5.1, s. 67, as in the table of deadlines.

use super::*;
use crate::record::moment::parse_date;

fn day(text: &str) -> Day {
    Day(parse_date(text).unwrap())
}

fn book(adopted: &[&str]) -> RuleBook {
    let mut book = RuleBook::example().unwrap();
    book.adopted.clocks = adopted.iter().map(|id| (*id).to_string()).collect();
    book
}

fn request(kind: &str, received: &str) -> Request {
    serde_json::from_value(serde_json::json!({
        "kind": kind, "from": "x", "relation": "self", "received_on": received, "text": "x",
        "identity_checked": "seen"
    }))
    .unwrap()
}

fn notice(sent: &str, new: &str) -> ExtensionNotice {
    ExtensionNotice {
        sent: Some(day(sent)),
        in_writing: true,
        reasons: Some("the store room was under water".to_string()),
        new_date: Some(day(new)),
    }
}

fn ids(clocks: &[RequestClock]) -> Vec<&str> {
    clocks.iter().map(|clock| clock.id.as_str()).collect()
}

#[test]
fn access_in_thirty_days_whatever_day_that_is() {
    let book = book(&["us-hipaa-access"]);
    let asked = request("copy", "2025-01-31");
    let clocks = reckon(&book, &asked, Asker::Patient);
    let clock = &clocks[0];
    assert_eq!(
        (clock.due, clock.work_by, clock.limit),
        (day("2025-03-02"), day("2025-02-28"), Some(day("2025-04-01")))
    );
    assert_eq!(
        words(clock),
        "Sun 02 Mar 2025 (last working day before: Fri 28 Feb 2025); extended once, at the latest Tue 01 Apr \
         2025; us-hipaa-access, USA (HIPAA): 45 CFR 164.524(b)(2)"
    );
    assert_eq!(governing(&clocks).unwrap().0, day("2025-03-02"));
}

#[test]
fn a_letter_moves_the_day_once_and_from_inside_the_first_time_only() {
    let book = book(&["us-hipaa-access"]);
    let asked = request("copy", "2025-01-31");
    let clocks = reckon(&book, &asked, Asker::Patient);
    let judge =
        |sent: &str, new: &str, earlier| extend(&book, &asked, &clocks, &notice(sent, new), earlier).unwrap();
    // The last day of the first time still counts; the limit itself can be promised.
    let good = judge("2025-03-02", "2025-04-01", 0);
    assert_eq!((good.valid, good.due, good.codes()), (true, day("2025-04-01"), vec![]));
    let late = judge("2025-03-03", "2025-04-01", 0);
    assert_eq!((late.valid, late.due), (false, day("2025-03-02")));
    assert_eq!(late.codes(), ["us-hipaa-access: sent_too_late"]);
    assert_eq!(judge("2025-02-20", "2025-04-02", 0).codes(), ["us-hipaa-access: beyond_limit"]);
    assert_eq!(judge("2025-02-20", "2025-03-20", 1).codes(), ["us-hipaa-access: already_extended"]);
    let mut silent = notice("2025-02-20", "2025-03-20");
    silent.reasons = None;
    assert_eq!(extend(&book, &asked, &clocks, &silent, 0).unwrap().codes(), ["us-hipaa-access: no_reasons"]);
    assert_eq!(extend(&book, &asked, &clocks, &notice("2025-02-20", "2025-03-02"), 0), None);
}

#[test]
fn an_accounting_in_sixty_days_also_where_none_is_adopted() {
    for adopted in [vec!["us-hipaa-accounting"], vec!["lm-access"]] {
        let clocks = reckon(&book(&adopted), &request("accounting", "2025-01-31"), Asker::Patient);
        assert_eq!(ids(&clocks), ["us-hipaa-accounting"]);
        assert_eq!((clocks[0].due, clocks[0].limit), (day("2025-04-01"), Some(day("2025-05-01"))));
    }
}

#[test]
fn a_shorter_local_clock_governs_and_lets_nobody_extend() {
    let book = book(&["us-hipaa-access", "us-tx-76-2", "us-tx-76-3-fee-notice"]);
    let asked = request("copy", "2025-03-03");
    let clocks = reckon(&book, &asked, Asker::Patient);
    assert_eq!(ids(&clocks), ["us-hipaa-access", "us-tx-76-2", "us-tx-76-3-fee-notice"]);
    // Fifteen business days from Monday 3 March; five for the notice of the fee, which is no answer.
    assert_eq!((clocks[1].due, clocks[2].due), (day("2025-03-24"), day("2025-03-10")));
    let (due, by) = governing(&clocks).unwrap();
    assert_eq!((due, by[0].id.as_str()), (day("2025-03-24"), "us-tx-76-2"));
    let letter = extend(&book, &asked, &clocks, &notice("2025-03-10", "2025-04-10"), 0).unwrap();
    assert_eq!((letter.valid, letter.due), (false, day("2025-03-24")));
    assert_eq!(letter.codes(), ["us-tx-76-2: no_extension_in_rule"]);
}

#[test]
fn a_clock_may_count_from_the_date_on_the_request() {
    let book = book(&["ca-qc-r5-1-67"]);
    let mut asked = request("copy", "2025-03-10");
    asked.requested_on = Some(day("2025-03-03"));
    let clocks = reckon(&book, &asked, Asker::Patient);
    assert_eq!((ids(&clocks), clocks[0].due), (vec!["ca-qc-r5-1-67"], day("2025-03-23")));
}

#[test]
fn what_others_ask_for_has_the_day_of_its_paper() {
    let book = book(&["us-hipaa-access", "us-wa-650", "us-or-0006-board"]);
    let by = |asker, kind: &str, paper: Option<&str>| {
        let mut asked = request(kind, "2025-03-03");
        asked.answer_by = paper.map(day);
        let clocks = reckon(&book, &asked, asker);
        (
            clocks.iter().map(|clock| clock.id.clone()).collect::<Vec<_>>(),
            governing(&clocks).map(|(due, _)| due),
        )
    };
    assert_eq!(
        by(Asker::Attorney, "authorisation", None),
        (vec!["us-wa-650".to_string()], Some(day("2025-03-18")))
    );
    assert_eq!(
        by(Asker::Oversight, "oversight", None),
        (vec!["us-or-0006-board".to_string()], Some(day("2025-03-17")))
    );
    assert_eq!(by(Asker::Subpoena, "subpoena", None), (vec![], None));
    let (ids, due) = by(Asker::Insurer, "audit", Some("2025-03-22"));
    assert_eq!((ids, due), (vec![PAPER.to_string()], Some(day("2025-03-22"))));
    let (ids, due) = by(Asker::Oversight, "oversight", Some("2025-03-10"));
    assert_eq!((ids.len(), due), (2, Some(day("2025-03-10"))));
}

/// 22 Tex. Admin. Code 76.2(h): fifteen business days. Counted by hand: from Monday 3 March 2025 without days off to
/// Monday 24 March; with Monday 10 March off, one day more.
#[test]
fn an_adopted_day_off_is_no_working_day() {
    let mut book = book(&["us-tx-76-2"]);
    let asked = request("copy", "2025-03-03");
    let due = |book: &RuleBook| {
        let clocks = reckon(book, &asked, Asker::Patient);
        clocks.into_iter().find(|clock| clock.id == "us-tx-76-2").unwrap()
    };
    assert_eq!(due(&book).due, day("2025-03-24"));
    book.holidays.push(crate::record::rulebook::Holiday {
        day: day("2025-03-10"),
        name: "Ferry Day".into(),
        source: "Gazette".into(),
        read_on: day("2025-01-02"),
    });
    assert_eq!(due(&book).due, day("2025-03-25"));
    // The last working day before a weekend is not one that is off.
    book.adopted.clocks = vec!["us-hipaa-access".into()];
    book.holidays[0].day = day("2025-02-28");
    let clocks = reckon(&book, &request("copy", "2025-01-31"), Asker::Patient);
    assert_eq!((clocks[0].due, clocks[0].work_by), (day("2025-03-02"), day("2025-02-27")));
}

/// What is asked for decides which clocks run: to look and to have copies are asked for apart, and a wish to restrict
/// or to keep something safe has no time to answer (45 CFR 164.524(b)(2), 164.528(c)(1); Cal. Health & Safety Code
/// 123110(a), (b)).
#[test]
fn only_what_is_asked_for_has_a_clock() {
    use ClockRequest::{Access, Accounting, BoardDemand, Copies, FeeNotice, Inspect};
    let own = [Asker::Patient, Asker::Guardian, Asker::PersonalRepresentative];
    for asker in Asker::ALL.iter().copied() {
        let others = match asker {
            Asker::Oversight => vec![BoardDemand],
            Asker::Attorney | Asker::Clinician | Asker::Other => vec![Copies, FeeNotice],
            _ => vec![],
        };
        let is_own = own.contains(&asker);
        let copy = if is_own { vec![Access, Copies, FeeNotice] } else { others.clone() };
        let look = if is_own { vec![Access, Inspect] } else { others };
        assert_eq!(asked_for(asker, RequestKind::Copy), copy, "{asker}");
        assert_eq!(asked_for(asker, RequestKind::Look), look, "{asker}");
        assert_eq!(asked_for(asker, RequestKind::Accounting), [Accounting], "{asker}");
        for kind in [RequestKind::Restriction, RequestKind::Preservation] {
            assert!(asked_for(asker, kind).is_empty(), "{asker}: {kind}");
        }
    }
    let book = book(&["us-ca-inspect", "us-ca-copies", "us-hipaa-access"]);
    let run = |kind: &str| reckon(&book, &request(kind, "2025-03-03"), Asker::Patient);
    assert_eq!(ids(&run("look")), ["us-hipaa-access", "us-ca-inspect"]);
    assert_eq!(ids(&run("copy")), ["us-hipaa-access", "us-ca-copies"]);
    // Five working days from Monday; fifteen days.
    assert_eq!(named(&run("look")), "us-ca-inspect (Cal. Health & Safety Code 123110(a))");
    assert_eq!(named(&run("copy")), "us-ca-copies (Cal. Health & Safety Code 123110(b))");
    assert_eq!(named(&[]), "");
}

#[test]
fn a_clock_says_what_it_is_for() {
    let book = book(&["us-tx-76-2", "us-tx-76-3-fee-notice"]);
    let mut asked = request("copy", "2025-03-03");
    asked.answer_by = Some(day("2025-03-22"));
    let said: Vec<String> = reckon(&book, &asked, Asker::Attorney).iter().map(words).collect();
    assert_eq!(
        said,
        [
            "Mon 24 Mar 2025; no extension; us-tx-76-2, Texas, USA: 22 Tex. Admin. Code 76.2(h)",
            "tell the fee by Mon 10 Mar 2025; no extension; us-tx-76-3-fee-notice, Texas, USA: 22 Tex. Admin. Code \
             76.3(f)",
            "named in the paper: Sat 22 Mar 2025 (last working day before: Fri 21 Mar 2025); no extension; paper, the \
             paper itself: the day the paper names",
        ]
    );
}

/// The codes are those of the table of deadlines; each is told in words of its own.
#[test]
fn why_a_letter_is_void_is_told_in_words() {
    use ExtensionFailure::*;
    let failures = [
        (NoExtensionInRule, "no_extension_in_rule", "no extension"),
        (AlreadyExtended, "already_extended", "extended before"),
        (SentTooLate, "sent_too_late", "after the first time"),
        (NotInWriting, "not_in_writing", "not in writing"),
        (NoReasons, "no_reasons", "no reasons"),
        (NoNewDate, "no_new_date", "no new day"),
        (BeyondLimit, "beyond_limit", "after the latest"),
    ];
    let all = failures.map(|(why, ..)| ("us-hipaa-access".to_string(), why)).to_vec();
    let void = Extension { valid: false, due: day("2025-03-02"), failures: all };
    let told = void.words();
    assert_eq!(told.len(), failures.len());
    for ((code, words), (_, wanted, part)) in void.codes().iter().zip(&told).zip(failures) {
        assert_eq!(*code, format!("us-hipaa-access: {wanted}"));
        assert!(words.starts_with("us-hipaa-access: ") && words.contains(part), "{wanted}: {words}");
    }
}
