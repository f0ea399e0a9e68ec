//! S46, S47: an insurer's audit, and papers that belong in no chart.

use super::*;

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
    // Every reading leaves an entry, of the papers' numbers alone, and outside every chart.
    room.ok(&["office", "show", &n]);
    let read = room.json(&["office", "list"])[0]["read"].as_array().unwrap().clone();
    let taken: Vec<bool> = read.iter().map(|one| one["taken_out"].as_bool().unwrap()).collect();
    assert_eq!(taken, [false, true], "the paper, on the list and by itself once a day; its scan: {read:?}");
    assert!(read.iter().all(|one| one["by"] == "IV"));
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
