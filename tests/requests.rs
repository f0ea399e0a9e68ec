//! Promises: who may receive decides whether anything goes out; every clock is reckoned and shown; what went
//! out is written down with the digest of its file; papers of the office are in no package. The situations
//! S41 to S45, and of S47 what concerns papers outside the chart, with the real commands.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;

use common::room::Room;
use inkfast::record::rulebook::EXAMPLE;
use inkfast::seal::age_file::{Identity, With, open};
use serde_json::{Value, json};
use std::io::Read;

const CHART: &str = "PM-0112";

/// One grown patient, with these clocks adopted, on Friday 31 January 2025.
fn with_clocks(clocks: &str) -> Room {
    let room = Room::new();
    let rules = EXAMPLE
        .replace(r#"clocks = ["lm-access", "lm-amendment"]"#, &format!("clocks = [{clocks}]"))
        .replace("edition = \"example-1\"", "edition = \"test-1\"");
    assert!(rules.contains(clocks), "the example's list of clocks was found");
    room.write("mine.toml", &rules);
    room.at("2025-01-31T09:00:00-05:00");
    room.ok(&["rules", "adopt", &room.path("mine.toml").display().to_string()]);
    room.patient(CHART, "Bettony Craske", "1988-07-23");
    room
}

/// Takes a request with identity checked; gives its number.
fn take(room: &Room, asker: &str, from: &str, more: &[&str]) -> u64 {
    let usual = [
        "request",
        "take",
        CHART,
        "--asker",
        asker,
        "--from",
        from,
        "--text",
        "as the letter says",
        "--checked",
    ];
    let words: Vec<&str> = usual.iter().copied().chain(["called back"]).chain(more.iter().copied()).collect();
    room.entry(&words)
}

fn show(room: &Room, request: u64) -> Value {
    room.json(&["request", "show", &request.to_string()])
}

fn stops(room: &Room, request: u64) -> Vec<String> {
    let shown = show(room, request);
    shown["stops"].as_array().unwrap().iter().map(|stop| stop["id"].as_str().unwrap().to_string()).collect()
}

/// A paper that came, attached.
fn paper(room: &Room, title: &str, words: &str) -> String {
    room.write("paper.txt", words);
    let file = room.path("paper.txt").display().to_string();
    let number = room.entry(&[
        "attach",
        CHART,
        &file,
        "--kind",
        "letter",
        "--title",
        title,
        "--made",
        "2025-01-20",
        "--made-by",
        "the office",
        "--not-made-here",
        "yes",
        "--received",
        "today",
        "--original",
        "kept",
        "--legible",
        "yes",
        "--for-desk",
        "yes",
    ]);
    number.to_string()
}

/// Words as they are read, wherever a line was broken.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// What a list of the day holds, as words and days: in a table a line is broken within its column.
fn items(room: &Room, list: &str) -> String {
    room.json(&[list])["items"].to_string()
}

/// A visit without a signed note, on this day.
fn visit(room: &Room, when: &str) -> u64 {
    room.at(when);
    let visit =
        room.entry(&["visit", "open", CHART, "--room", "room 1", "--identifiers", "full-name,birth-date"]);
    room.ok(&["visit", "close", CHART]);
    visit
}

fn contact(room: &Room, when: &str, said: &str) -> u64 {
    room.at(when);
    room.entry(&[
        "contact",
        CHART,
        "--channel",
        "telephone",
        "--direction",
        "incoming",
        "--with",
        "B. C.",
        "--checked",
        "voice",
        "--said",
        said,
    ])
}

/// What a release says besides the request.
const SENT: [&str; 6] = [
    "--no-address-because",
    "fetched here",
    "--channel",
    "handed over",
    "--not-checked-because",
    "nobody else here",
];

/// Answers with a package sealed to a new key: the exit code, what was said, and the files in it.
fn answer(room: &Room, request: u64, name: &str, more: &[&str]) -> (u8, String, Vec<(String, Vec<u8>)>) {
    let key = Identity::generate();
    let to = key.recipient().to_string();
    let file = room.path(name);
    let (number, path) = (request.to_string(), file.display().to_string());
    let usual = ["request", "answer", &number, "--to", &to, "--file", &path];
    let words: Vec<&str> = usual.iter().copied().chain(SENT).chain(more.iter().copied()).collect();
    let shown = room.run(&words);
    if !file.exists() {
        return (shown.code(), shown.all(), Vec::new());
    }
    let sealed = std::fs::read(&file).unwrap();
    let plain = open(&With::Identities(std::slice::from_ref(&key)), &sealed).unwrap().to_vec();
    (shown.code(), shown.all(), members(&plain))
}

fn members(archive: &[u8]) -> Vec<(String, Vec<u8>)> {
    let mut tar = tar::Archive::new(archive);
    let files = tar.entries().unwrap().map(|file| {
        let mut file = file.unwrap();
        let name = String::from_utf8(file.path_bytes().into_owned()).unwrap();
        let mut bytes = Vec::new();
        file.read_to_end(&mut bytes).unwrap();
        (name, bytes)
    });
    files.collect()
}

/// True where a file of the package holds these words.
fn holds(package: &[(String, Vec<u8>)], words: &str) -> bool {
    package.iter().any(|(_, bytes)| bytes.windows(words.len()).any(|part| part == words.as_bytes()))
}

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

/// An authorization without an end and without a statement goes back; the mended one lets out only what it
/// names.
#[test]
fn s43_an_attorneys_defective_authorization_goes_back() {
    let room = with_clocks("\"us-hipaa-access\"");
    let inside = contact(&room, "2025-01-10T10:00:00-05:00", "plumbago on the tenth");
    let outside = contact(&room, "2025-01-20T10:00:00-05:00", "gutta-percha on the twentieth");
    room.at("2025-01-31T10:00:00-05:00");
    let number = take(&room, "attorney", "Orsolya Tamm", &[]);
    let n = number.to_string();
    assert_eq!(stops(&room, number), ["authorization-not-checked"]);
    let (code, said, _) = answer(&room, number, "no.age", &[]);
    assert!(code == 7 && said.contains("was not looked through"), "{said}");
    // The plain command is held by the same gate.
    let key = Identity::generate().recipient().to_string();
    let direct = [
        "release",
        CHART,
        "--request",
        &n,
        "--to",
        &key,
        "--recipient-name",
        "Orsolya Tamm",
        "--basis",
        "authorisation",
    ];
    let direct: Vec<&str> = direct.iter().copied().chain(["--basis-words", "hers"]).chain(SENT).collect();
    assert_eq!(room.run(&direct).code(), 7);

    let read = [
        "request",
        "check",
        &n,
        "--what",
        "authorization",
        "--information",
        "the record",
        "--discloser",
        "The Ropewalk Rooms",
        "--to-whom",
        "Orsolya Tamm",
        "--purpose",
        "a claim",
        "--signed-by",
        "Bettony Craske",
        "--signed-on",
        "2025-01-15",
        "--says-right-to-revoke",
        "yes",
        "--says-how-to-revoke",
        "yes",
        "--says-conditioning",
        "yes",
    ];
    let judged = room.json(&read);
    assert_eq!(judged["stops"][0]["id"], "authorization-defective");
    let step = &show(&room, number)["steps"][0]["step"];
    assert_eq!(step["authorization"]["missing"], json!(["expiry", "redisclosure"]));
    assert_eq!((&step["holds"], &step["authorization"]["defects"]), (&json!(false), &json!(["incomplete"])));
    assert_eq!(answer(&room, number, "no.age", &["--despite", "they are in a hurry"]).0, 7);
    let page = room.path("return.html").display().to_string();
    let returned = room.json(&["request", "return", &n, "--html", &page]);
    let parts = returned["letter"]["parts"].as_array().unwrap();
    let lines =
        |id: &str| parts.iter().find(|part| part["id"] == id).unwrap()["lines"].as_array().unwrap().len();
    assert_eq!((lines("missing"), lines("mend"), &returned["state"]), (2, 2, &json!("returned")));
    let html = std::fs::read_to_string(&page).unwrap();
    assert!(html.contains("when it ends (c)(1)(v)") && html.contains("Name a day, or an event"), "{html}");
    assert!(!html.contains("Craske"), "the letter to somebody without authority names no patient");
    assert_eq!(stops(&room, number), ["returned", "authorization-defective"]);

    let mended: Vec<&str> = read
        .iter()
        .copied()
        .chain(["--ends-on", "2025-12-31", "--says-redisclosure", "yes", "--names-dates", "2025-01-10"])
        .collect();
    room.ok(&mended);
    assert_eq!(stops(&room, number), ["more-than-named"]);
    let (code, said, _) = answer(&room, number, "no.age", &[]);
    assert!(code == 3 && said.contains("Only this would go out: 10 Jan 2025"), "{said}");
    let (code, said, package) = answer(&room, number, "part.age", &["--despite", "only what it names"]);
    assert_eq!(code, 0, "{said}");
    assert!(holds(&package, "plumbago") && !holds(&package, "gutta-percha"));
    let shown = show(&room, number);
    let step = shown["steps"].as_array().unwrap().last().unwrap()["step"].clone();
    assert_eq!(step["despite"], json!("only what it names"));
    assert!(step["words"].as_str().unwrap().contains("10 Jan 2025"), "{step}");
    let release = room.json(&["print", CHART, "--why", "review"]);
    let release =
        release.as_array().unwrap().iter().find(|one| one["record"]["kind"] == "release").unwrap().clone();
    let what = &release["record"]["data"]["what"];
    assert_eq!(what["days"], json!(["2025-01-10"]));
    let given: Vec<u64> =
        what["entry_list"].as_array().unwrap().iter().map(|one| one.as_u64().unwrap()).collect();
    assert!(given.contains(&inside) && !given.contains(&outside), "{given:?}");
    assert_eq!(release["record"]["data"]["basis"], json!("authorisation"));
}

/// A subpoena that no court signed: nothing goes out without an order or satisfactory assurance.
#[test]
fn s44_a_subpoena_needs_an_order_or_assurance() {
    let room = with_clocks("\"us-hipaa-access\"");
    let more = ["--served", "subpoena of 28 January, by hand to the desk", "--answer-by", "2025-02-15"];
    let number = take(&room, "subpoena", "Quill and Partners", &more);
    let n = number.to_string();
    let shown = show(&room, number);
    assert_eq!(
        (&shown["due"], &shown["asked"]["clocks"][0]["work_by"]),
        (&json!("2025-02-15"), &json!("2025-02-14"))
    );
    assert_eq!(shown["asked"]["served"], json!("subpoena of 28 January, by hand to the desk"));
    let (code, said, _) = answer(&room, number, "no.age", &["--despite", "it looks official"]);
    assert!(code == 7 && said.contains("Call counsel"), "{said}");
    let in_words = room.run(&["request", "answer", &n, "--answered-with", "pages handed over"]);
    assert_eq!(in_words.code(), 7, "{}", in_words.all());
    room.ok(&[
        "request",
        "check",
        &n,
        "--what",
        "assurance",
        "--holds",
        "no",
        "--words",
        "asked for in writing",
    ]);
    assert_eq!(show(&room, number)["steps"][0]["step"]["step"], json!("asked-in-writing"));
    assert_eq!(stops(&room, number), ["no-order-no-assurance"]);
    // An assurance is a paper on file, not a word.
    let claimed =
        ["request", "check", &n, "--what", "assurance", "--words", "notice to the patient, no objection"];
    assert!(room.run(&claimed).code() == 7);
    let shown = paper(&room, "Assurance", "Notice was given.\n");
    room.ok(&claimed
        .iter()
        .copied()
        .chain(["--paper", &shown, "--names-kinds", "visit-opened"])
        .collect::<Vec<_>>());
    assert_eq!(stops(&room, number), ["more-than-named"]);
    let (code, said, package) = answer(&room, number, "named.age", &["--despite", "only what it names"]);
    assert_eq!(code, 0, "{said}");
    assert!(!holds(&package, "Notice was given"), "the assurance itself was not asked for");
}

/// An order, a board, a guardian whose child is of age, and an executor: each has its own paper.
#[test]
fn s45_each_asker_has_a_lawful_basis_and_its_own_paper() {
    let room = with_clocks("\"us-hipaa-access\", \"us-or-0006-board\"");
    let order = take(&room, "court-order", "District bench", &["--dates", "2025-01-10"]);
    assert_eq!(stops(&room, order), ["order-not-read"]);
    let kept = paper(&room, "Order", "The bench orders.\n");
    room.ok(&[
        "request",
        "check",
        &order.to_string(),
        "--what",
        "order",
        "--words",
        "signed by the judge",
        "--paper",
        &kept,
        "--names-from",
        "2025-01-01",
        "--names-until",
        "2025-01-31",
    ]);
    assert_eq!(stops(&room, order), [""; 0]);
    assert!(show(&room, order)["lawful_basis"].as_str().unwrap().contains("164.512(e)(1)(i)"));
    // Oregon: 14 days for the board's call.
    let board = take(&room, "oversight", "Board of Manual Practice", &[]);
    let shown = show(&room, board);
    assert_eq!(
        (&shown["due"], shown["stops"][0]["id"].as_str()),
        (&json!("2025-02-14"), Some("authority-not-checked"))
    );
    // The patient is of age: a parent's authority is over, whatever is said at the desk.
    room.ok(&[
        "guardian",
        CHART,
        "--person-id",
        "dm-1",
        "--name",
        "Maud Craske",
        "--relation",
        "mother",
        "--born",
        "1960-01-05",
        "--basis",
        "parent",
        "--on-file",
        "yes",
        "--document-seen",
        "birth entry",
        "--may-consent",
        "yes",
        "--may-receive",
        "yes",
    ]);
    let mother =
        take(&room, "guardian", "Maud Craske", &["--relation", "mother", "--authority", "she is the mother"]);
    let shown = show(&room, mother);
    assert_eq!(shown["stops"][0]["id"], json!("guardian-may-not"));
    assert!(shown["stops"][0]["words"].as_str().unwrap().contains("of age"), "{shown}");
    // An executor: the death is on record, and the court's letters were seen.
    let executor = take(&room, "personal-representative", "Joss Craske", &[]);
    assert_eq!(stops(&room, executor), ["death-not-recorded", "authority-not-checked"]);
    // Access is refused only on a ground, with the letter that must say so; a reviewable one by a licensed person.
    let n = executor.to_string();
    let decline = ["request", "decline", &n, "--ground", "no-authority", "--reason", "no letters were shown"];
    let declined = room.json(&decline);
    assert_eq!((&declined["state"], &declined["letter"]["not_filled_in"]), (&json!("declined"), &json!([])));
    let patient = take(&room, "patient", "Bettony Craske", &[]).to_string();
    let harm = [
        "request",
        "decline",
        &patient,
        "--ground",
        "endangers-safety",
        "--reason",
        "as said",
        "--part",
        "no. 7",
    ];
    assert_ne!(room.run(&harm).code(), 0, "nobody judged it");
    let judged: Vec<&str> = harm.iter().copied().chain(["--judged-by", "IV"]).collect();
    let denied = room.json(&judged);
    assert_eq!((&denied["state"], &denied["letter"]["kind"]), (&json!("open"), &json!("denial-in-part")));
    let text = room.ok(&["request", "show", &patient, "--letter", "denial-in-part"]);
    assert!(
        text.contains("another licensed person") && text.contains("in writing to the address above"),
        "{text}"
    );
}

/// An insurer's audit: what the notes of those days lack is looked at first, and only those days go out.
#[test]
fn s46_an_audit_sees_its_missing_list_first() {
    let room = with_clocks("\"us-hipaa-access\"");
    let asked = visit(&room, "2025-01-10T10:00:00-05:00");
    let other = visit(&room, "2025-01-20T10:00:00-05:00");
    room.at("2025-01-31T11:00:00-05:00");
    let letter = paper(&room, "Audit letter", "Send the notes of 10 January.\n");
    let number = take(
        &room,
        "insurer",
        "Marl Mutual",
        &[
            "--dates",
            "2025-01-10",
            "--answer-by",
            "2025-02-20",
            "--authority",
            "card on file",
            "--authority-paper",
            &letter,
        ],
    );
    let n = number.to_string();
    assert_eq!(stops(&room, number), ["missing-list-not-run"]);
    let listed = room.json(&["request", "check", &n, "--what", "missing-list"]);
    assert_eq!(listed["lacking"].as_array().unwrap().len(), 1, "{listed}");
    let row = &listed["lacking"][0]["visit"];
    assert_eq!(
        (&row["visit"], &row["unsigned"], &row["day"]),
        (&json!(asked), &json!(true), &json!("2025-01-10"))
    );
    let openings = room.ok(&["openings", CHART]);
    assert!(openings.contains("request"), "the notes were read for it: {openings}");
    // What is written after it is told, and asked about.
    room.ok(&["late", CHART, "--text", "left out", "--because", "forgot", "--source", "memory"]);
    assert_eq!(stops(&room, number), ["written-since-list"]);
    assert_eq!(answer(&room, number, "no.age", &[]).0, 3);
    room.ok(&["request", "check", &n, "--what", "missing-list"]);
    let (code, said, _) = answer(&room, number, "audit.age", &[]);
    assert_eq!(code, 0, "{said}");
    let shown = room.json(&["print", CHART, "--why", "review"]);
    let release = shown.as_array().unwrap().iter().find(|one| one["record"]["kind"] == "release").unwrap();
    let given = release["record"]["data"]["what"]["entry_list"].as_array().unwrap();
    assert!(given.contains(&json!(asked)) && !given.contains(&json!(other)), "{given:?}");
}

/// Papers about a complaint lie outside every chart: sealed to the clinical role, in no package, and the
/// ledger tells no chart by them.
#[test]
fn s47_papers_of_a_complaint_stay_out_of_the_chart() {
    let room = with_clocks("\"us-hipaa-access\"");
    room.write("draft.txt", "velocipede: what counsel wrote\n");
    let scan = room.path("draft.txt").display().to_string();
    let number = take(&room, "patient", "Bettony Craske", &[]);
    let kept = room.entry(&[
        "office",
        "add",
        &scan,
        "--kind",
        "attorney-letter",
        "--title",
        "Cassowary matter",
        "--words",
        "marzipan advice of counsel",
        "--about-chart",
        CHART,
        "--request",
        &number.to_string(),
        "--due",
        "2025-02-16",
    ]);
    let n = kept.to_string();
    let list = room.ok(&["office", "list"]);
    assert!(list.contains("Cassowary matter") && list.contains("Sun 16 Feb 2025"), "{list}");
    let shown = room.json(&["office", "show", &n]);
    assert_eq!((&shown["paper"]["chart_no"], &shown["paper"]["request"]), (&json!(CHART), &json!(number)));
    let out = room.path("out.txt");
    room.ok(&["office", "show", &n, "--into", out.to_str().unwrap()]);
    assert_eq!(std::fs::read_to_string(&out).unwrap(), "velocipede: what counsel wrote\n");
    // Nothing of it in the package, nor in the chart.
    let (code, said, package) = answer(&room, number, "copy.age", &[]);
    assert_eq!(code, 0, "{said}");
    assert!(holds(&package, "Bettony Craske"));
    let page = room.printed(CHART);
    for word in ["velocipede", "assowary", "marzipan", "office-file", "attorney-letter"] {
        assert!(!holds(&package, word) && !page.contains(word), "{word}");
    }
    // The ledger says that there is an office paper, and of no chart; no plain word of it lies in the store.
    let files = walk(&room.path("store"));
    for word in ["velocipede", "assowary", "marzipan", CHART] {
        for (name, bytes) in &files {
            assert!(!bytes.windows(word.len()).any(|part| part == word.as_bytes()), "{word} in {name}");
        }
    }
    let leaf = files.iter().find_map(|(_, bytes)| {
        let text = String::from_utf8_lossy(bytes);
        let line = text.lines().find(|line| line.contains("\"kind\":\"office-file\""))?;
        Some(line.to_string())
    });
    let leaf = leaf.unwrap();
    assert!(leaf.contains("\"chart\":null") && leaf.contains("\"chart_seq\":null"), "{leaf}");
    // The desk may neither read nor keep one.
    room.write("pw2", "ferry rope brass lantern\n");
    let file = room.path("pw2").display().to_string();
    room.ok(&[
        "roster",
        "add",
        "--new-passphrase-file",
        &file,
        "--code",
        "HL",
        "--name",
        "Hattie Lorch",
        "--role",
        "desk",
        "--opens",
        "desk",
    ]);
    room.who("HL", "ferry rope brass lantern");
    for args in [vec!["office", "list"], vec!["office", "show", &n]] {
        let refused = room.run(&args);
        assert_eq!(refused.code(), 5, "{}", refused.all());
        assert!(!refused.all().contains("Cassowary"));
    }
    let refused = room.run(&["office", "add", "--kind", "other", "--title", "x", "--words", "y"]);
    assert_eq!(refused.code(), 5, "{}", refused.all());
    // What the desk keeps are the requests.
    assert_eq!(room.json(&["request", "list", "--all"])[0]["request"], json!(number));
}

fn walk(folder: &std::path::Path) -> Vec<(String, Vec<u8>)> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        match path.is_dir() {
            true => found.extend(walk(&path)),
            false => found.push((path.display().to_string(), std::fs::read(&path).unwrap())),
        }
    }
    found
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
