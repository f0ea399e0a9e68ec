//! S43 to S45: attorneys, courts, boards, and whoever stands in the patient's place.

use super::*;

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
