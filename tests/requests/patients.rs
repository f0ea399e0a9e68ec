//! S41, S42: what the patient asks for.

use super::*;

/// 45 CFR 164.524(b)(2): 30 days from Friday 31 January 2025 is Sunday 2 March; with one extension of 30 more,
/// Tuesday 1 April.
#[test]
fn s41_a_patient_asks_for_the_record_and_the_clock_is_kept() {
    let room = with_clocks("\"us-hipaa-access\"");
    let number = take(&room, "patient", "Bettony Craske", &[]);
    let n = number.to_string();
    let shown = show(&room, number);
    assert_eq!((&shown["due"], &shown["state"]), (&json!("2025-03-02"), &json!("open")));
    let clock = &shown["asked"]["clocks"][0];
    assert_eq!((&clock["work_by"], &clock["limit"]), (&json!("2025-02-28"), &json!("2025-04-01")));
    let words = flat(&room.ok(&["request", "show", &n]));
    assert!(words.contains("Sun 02 Mar 2025 (last working day before: Fri 28 Feb 2025)"), "{words}");
    assert!(words.contains("45 CFR 164.524(b)(2)"), "{words}");
    // The lists of the day show it, with the day and the reason.
    for list in ["today", "open"] {
        let said = items(&room, list);
        assert!(said.contains("2025-03-02") && said.contains("us-hipaa-access (45 CFR"), "{list}\n{said}");
    }
    // Past the limit, and after the first time: void, and it stays void when it is recorded as sent.
    let letter = |new: &str, dated: &str, more: &[&str]| {
        let usual =
            ["request", "extend", &n, "--because", "films are at the imaging office", "--new-due", new];
        room.run(
            &usual
                .iter()
                .copied()
                .chain(["--letter-dated", dated])
                .chain(more.iter().copied())
                .collect::<Vec<_>>(),
        )
    };
    let far = letter("2025-04-02", "2025-01-31", &[]);
    assert_eq!(far.code(), 7, "{}", far.all());
    assert!(far.all().contains("after the latest this rule allows"), "{}", far.all());
    room.at("2025-03-03T09:00:00-05:00");
    let late = letter("2025-04-01", "2025-03-03", &[]);
    assert_eq!(late.code(), 7);
    assert!(late.all().contains("dated after the first time was over"), "{}", late.all());
    assert_eq!(letter("2025-04-01", "2025-03-03", &["--void-letter"]).code(), 0);
    let shown = show(&room, number);
    assert_eq!(shown["due"], json!("2025-03-02"));
    assert_eq!(shown["steps"][0]["step"]["void_because"], json!(["us-hipaa-access: sent_too_late"]));
    assert_eq!(shown["steps"][0]["step"]["step"], json!("letter-sent"));
    assert!(flat(&room.ok(&["request", "show", &n])).contains("[VOID: us-hipaa-access: sent_too_late"));
    // From inside the first time it moves the day, once.
    room.at("2025-02-20T09:00:00-05:00");
    let page = room.path("letter.html").display().to_string();
    let good = letter("2025-04-01", "2025-02-20", &["--html", &page]);
    assert_eq!(good.code(), 0, "{}", good.all());
    assert_eq!(show(&room, number)["due"], json!("2025-04-01"));
    let html = std::fs::read_to_string(&page).unwrap();
    assert!(
        html.contains("We will answer by Tue 01 Apr 2025.")
            && html.contains("films are at the imaging office")
    );
    let again = letter("2025-04-01", "2025-02-20", &[]);
    assert!(again.code() == 7 && again.all().contains("extended before"), "{}", again.all());

    // A fee: the sum is worked out; search and retrieval may not be asked for.
    let fee = |part: &str| {
        room.run(&[
            "request",
            "fee",
            &n,
            "--method",
            "actual",
            "--parts",
            "name=copying_labor amount=4.00",
            "--parts",
            part,
            "--mailed",
            "yes",
            "--told",
            "yes",
        ])
    };
    let search = fee("name=search amount=10.00");
    assert!(search.code() == 7 && search.all().contains("search may not be asked for"), "{}", search.all());
    let told = fee("name=postage amount=1.25");
    assert!(told.out.contains("Fee: copying labor 4.00 + postage 1.25 = 5.25"), "{}", told.all());

    // Answered: the release is linked, and what went out is kept with the digest of the file.
    room.at("2025-02-24T09:00:00-05:00");
    let (code, said, package) = answer(&room, number, "copy.age", &[]);
    assert_eq!(code, 0, "{said}");
    assert!(holds(&package, "Bettony Craske"));
    let shown = show(&room, number);
    assert_eq!(shown["state"], json!("answered"));
    let step = shown["steps"].as_array().unwrap().last().unwrap()["step"].clone();
    let digest = blake3::hash(&std::fs::read(room.path("copy.age")).unwrap()).to_hex().to_string();
    assert_eq!((&step["digest"], &step["release"]), (&json!(digest), &shown["releases"][0]));
    assert!(step["words"].as_str().unwrap().contains("the whole chart"), "{step}");
    assert!(!items(&room, "today").contains("copy asked for"), "it is on no list any more");
    assert!(room.printed(CHART).contains("5.25"), "the fee stands with the release");
    assert_eq!(room.run(&["request", "close", &n, "--words", "fetched and signed for"]).code(), 0);
    let (code, said, _) = answer(&room, number, "again.age", &[]);
    assert!(code == 7 && said.contains("over"), "{said}");
}

/// Texas: 15 business days from Monday 3 March 2025 is Monday 24 March, holidays apart; the shorter clock
/// governs, and has no extension. An accounting: 60 and 30 days, and the first one is free.
#[test]
fn s41_a_shorter_local_clock_governs_and_an_accounting_is_free() {
    let room = with_clocks(
        "\"us-hipaa-access\", \"us-hipaa-accounting\", \"us-tx-76-2\", \"us-tx-76-3-fee-notice\"",
    );
    let early = take(&room, "patient", "Bettony Craske", &["--kind", "accounting"]);
    let shown = show(&room, early);
    assert_eq!(
        (&shown["due"], &shown["asked"]["clocks"][0]["limit"]),
        (&json!("2025-04-01"), &json!("2025-05-01"))
    );
    let n = early.to_string();
    let charged = room.run(&[
        "request",
        "fee",
        &n,
        "--method",
        "actual",
        "--parts",
        "name=copying_labor amount=1",
        "--told",
        "yes",
    ]);
    assert!(charged.code() == 7 && charged.all().contains("164.528(c)(2)"), "{}", charged.all());
    room.ok(&["request", "fee", &n, "--method", "none"]);
    room.at("2025-03-03T09:00:00-05:00");
    let copy = take(&room, "patient", "Bettony Craske", &[]);
    let shown = show(&room, copy);
    assert_eq!(shown["due"], json!("2025-03-24"));
    assert!(shown["asked"]["clock"].as_str().unwrap().starts_with("us-tx-76-2 ("), "{shown}");
    let n = copy.to_string();
    let letter = room.run(&["request", "extend", &n, "--because", "away", "--new-due", "2025-04-10"]);
    assert!(
        letter.code() == 7 && letter.all().contains("us-tx-76-2: this rule has no extension"),
        "{}",
        letter.all()
    );
    // The notice of the fee has a day of its own, until it was told.
    assert!(room.ok(&["open"]).contains("Mon 10 Mar 2025"));
    room.ok(&["request", "fee", &n, "--method", "none"]);
    assert!(!room.ok(&["open"]).contains("Mon 10 Mar 2025"));
}

/// 45 CFR 164.526(b)(2), (d)(1): 60 days and 30; the letter of a refusal with its four contents.
#[test]
fn s42_an_amendment_is_refused_by_a_letter_that_says_all_it_must() {
    let room = with_clocks("\"us-hipaa-amendment\"");
    let taken = room.entry(&[
        "amend",
        "take",
        CHART,
        "--from",
        "Bettony Craske",
        "--points",
        "text=\"I never fell\"",
        "--received",
        "today",
    ]);
    let n = taken.to_string();
    let said = room.ok(&["open"]);
    assert!(said.contains("Tue 01 Apr 2025"), "{said}");
    room.at("2025-02-10T09:00:00-05:00").ok(&[
        "amend",
        "extend",
        CHART,
        "--request",
        &n,
        "--because",
        "the author is away",
        "--new-due",
        "2025-05-01",
    ]);
    let letter = room.json(&["request", "show", &n, "--letter", "amendment-extension"]);
    assert_eq!(letter["not_filled_in"], json!([]));
    room.ok(&[
        "amend",
        "decide",
        CHART,
        "--request",
        &n,
        "--points",
        "no=1 decision=refused ground=accurate-and-complete reason=\"said so twice\"",
        "--sent-how",
        "post",
        "--says-ground",
        "yes",
        "--says-right-to-disagree",
        "yes",
        "--says-right-to-travel",
        "yes",
        "--says-complaint-route",
        "yes",
        "--complaint-contact",
        "the keeper, 555 0100",
    ]);
    let letter = room.json(&["request", "show", &n, "--letter", "amendment-denial"]);
    let ids: Vec<&str> =
        letter["parts"].as_array().unwrap().iter().map(|part| part["id"].as_str().unwrap()).collect();
    assert_eq!(ids, ["reference", "basis", "disagree", "travel", "complaint"]);
    let text = room.ok(&["request", "show", &n, "--letter"]);
    for words in [
        "I never fell",
        "accurate and complete",
        "statement that says",
        "send your request and this letter",
        "555 0100",
    ] {
        assert!(text.contains(words), "{words}\n{text}");
    }
}

/// At a terminal the same form asks, one question at a time.
#[test]
fn a_request_is_taken_at_a_terminal() {
    let room = with_clocks("\"us-hipaa-access\"");
    let answers = [
        "patient",
        "",
        "Bettony Craske",
        "",
        "",
        "-",
        "the whole chart, on paper",
        "",
        "",
        "",
        "",
        "",
        "licence card seen",
        "",
        "",
        "",
        "",
        "",
        "",
        "yes",
    ];
    let shown = room.typed(&["request", "take", CHART], Some(&answers));
    assert_eq!(shown.code(), 0, "{}", shown.all());
    assert!(shown.all().contains("To be answered by Sun 02 Mar 2025"), "{}", shown.all());
}

const WRONG_DAY: [&str; 6] =
    ["--because", "the stamp says so", "--care-affected", "no", "--not-told-because", "none asked"];

fn corrected(room: &Room, number: &str, field: &str, is: &str) -> String {
    let head = ["correct", CHART, number, "--field", field, "--is", is];
    let shown = room.run(&head.iter().chain(&WRONG_DAY).copied().collect::<Vec<_>>());
    assert_eq!(shown.code(), 0, "{}", shown.all());
    flat(&shown.all())
}

/// The printed chart with its markup.
fn page(room: &Room) -> String {
    room.printed(CHART);
    std::fs::read_to_string(room.path("page.html")).unwrap()
}

/// 45 CFR 164.524(b)(2): 30 days from 20 January 2025 is Wednesday 19 February, so a letter of the day after takes no
/// more time; from 31 January it was Sunday 2 March.
#[test]
fn another_day_of_receipt_reckons_the_clocks_anew() {
    let room = with_clocks("\"us-hipaa-access\"");
    let n = take(&room, "patient", "Bettony Craske", &[]).to_string();
    room.at("2025-02-20T09:00:00-05:00");
    room.ok(&[
        "request",
        "extend",
        &n,
        "--because",
        "films are away",
        "--new-due",
        "2025-03-20",
        "--letter-dated",
        "2025-02-20",
    ]);
    assert_eq!(show(&room, n.parse().unwrap())["due"], json!("2025-03-20"));
    let said = corrected(&room, &n, "/received_on", "2025-01-20");
    assert!(said.contains("was due 02 Mar 2025, and is due 19 Feb 2025"), "{said}");
    assert!(
        said.contains("is void now (us-hipaa-access: sent_too_late); the answer is due 19 Feb 2025"),
        "{said}"
    );
    let shown = show(&room, n.parse().unwrap());
    assert_eq!(shown["due"], json!("2025-02-19"));
    assert_eq!(shown["asked"]["clocks"][0]["due"], json!("2025-02-19"));
    let step = &shown["steps"][0]["step"];
    assert_eq!(step["void_because"], json!(["us-hipaa-access: sent_too_late"]));
    assert!(step["new_due"].is_null());
    assert!(items(&room, "open").contains("2025-02-19"));
    // On the page the old day stands struck, the new one beneath, each with its correction.
    let page = page(&room);
    let struck: Vec<&str> =
        page.split("<del>").skip(1).filter_map(|rest| rest.split("</del>").next()).collect();
    for old in ["02 Mar 2025", "20 Mar 2025", "31 Jan 2025"] {
        assert!(struck.iter().any(|line| line.contains(old)), "{old} is not struck: {struck:?}");
    }
    assert!(page.contains("19 Feb 2025") && page.contains("sent_too_late"));
    // With the void letter out of the way, and back in time, one may be sent.
    corrected(&room, &n, "/received_on", "2025-01-31");
    assert_eq!(show(&room, n.parse().unwrap())["due"], json!("2025-03-02"));
    room.ok(&[
        "request",
        "extend",
        &n,
        "--because",
        "films are away",
        "--new-due",
        "2025-03-20",
        "--letter-dated",
        "2025-02-20",
    ]);
    assert_eq!(show(&room, n.parse().unwrap())["due"], json!("2025-03-20"));
    // Words that no clock counts from change no day.
    let before = room.json(&["print", CHART, "--why", "review"]).as_array().unwrap().len();
    corrected(&room, &n, "/text", "a copy, please");
    assert_eq!(room.json(&["print", CHART, "--why", "review"]).as_array().unwrap().len(), before + 1);
}

/// 45 CFR 164.526(b)(2): 60 days from 20 January 2025 is 21 March, from 31 January 1 April.
#[test]
fn a_request_for_amendment_is_reckoned_anew_too() {
    let room = with_clocks("\"us-hipaa-amendment\"");
    let n =
        room.entry(&["amend", "take", CHART, "--from", "Bettony Craske", "--points", "text=\"the year\""]);
    let said = corrected(&room, &n.to_string(), "/received_on", "2025-01-20");
    assert!(said.contains("was due 01 Apr 2025, and is due 21 Mar 2025"), "{said}");
    let page = page(&room);
    let struck = page.split("<del>").skip(1).filter_map(|rest| rest.split("</del>").next());
    assert!(struck.clone().any(|line| line.contains("01 Apr 2025")) && page.contains("21 Mar 2025"));
}

/// Days off that the practice adopted: 22 Tex. Admin. Code 76.2(h), fifteen business days, counted by hand.
#[test]
fn a_day_off_moves_what_is_counted_in_working_days() {
    let room = Room::new();
    let rules = EXAMPLE
        .replace(r#"clocks = ["lm-access", "lm-amendment"]"#, r#"clocks = ["us-tx-76-2"]"#)
        .replace("edition = \"example-1\"", "edition = \"test-1\"");
    let off = "\n[[holidays]]\nday = 2025-02-10\nname = \"Ferry Day\"\nsource = \"Gazette 12\"\nread_on = 2025-01-02\n";
    room.write("mine.toml", &format!("{rules}{off}"));
    room.at("2025-01-31T09:00:00-05:00");
    room.ok(&["rules", "adopt", &room.path("mine.toml").display().to_string()]);
    room.patient(CHART, "Bettony Craske", "1988-07-23");
    let request = take(&room, "attorney", "Tolland and Weir", &[]);
    // From Friday 31 January: without the day off Friday 21 February, with it Monday 24 February.
    assert_eq!(show(&room, request)["due"], json!("2025-02-24"));
}

#[test]
fn each_step_of_each_request_keeps_a_draft_of_its_own() {
    let room = with_clocks("\"us-hipaa-access\"");
    let (one, other) = (take(&room, "patient", "B. C.", &[]), take(&room, "patient", "B. C.", &[]));
    let begin = |word: &str, request: u64, answers: &[&str]| -> String {
        let shown = room.typed(&["request", word, &request.to_string()], Some(answers));
        assert_ne!(shown.code(), 0, "{}", shown.all());
        shown.all()
    };
    let kept = "A draft of this from";
    assert!(!begin("extend", one, &["", "films are away", ""]).contains(kept));
    assert!(!begin("extend", other, &[]).contains(kept), "another request");
    assert!(!begin("decline", one, &[]).contains(kept), "another step");
    let again = begin("extend", one, &[]);
    assert!(again.contains(kept), "{again}");
    assert!(items(&room, "open").contains(&format!("Request {one}: extend, begun")));
}
