//! S20, S24 to S30 and S40: what is asked about before it is written, what is put right afterwards without
//! anything being lost, and what is looked at again when its day comes.

use super::common::archive::TO_THE_PATIENT;
use super::*;
use inkfast::seal::age_file::{Identity, With, open};

const OTHER: &str = "PM-0113";
const OTHERS_NAME: &str = "Odmar Fenn";

/// "T12" is asked about, "C56" is read, what can't be is refused with the reason, and the rest is kept.
#[test]
fn s20_segment_shorthand() {
    let room = with_patient();
    consent(&room, "treatment", "soft-tissue,mobilization", "spine", "both", &EXPLAINED);
    open_visit(&room);
    // With nobody to ask, a doubt is refused with its readings.
    let alone = room.run(&["finding", CHART, "T12 L tender 2"]);
    assert_eq!(alone.code(), 4, "{}", alone.all());
    for words in ["vertebra T12", "T1-T2"] {
        assert!(alone.all().contains(words), "{words}: {}", alone.all());
    }
    for (line, why) in [
        ("C8 L tender", "C8"),
        ("L6 L tender", "L6"),
        ("C1-2 disc", "no disc"),
        ("C3-C5 L mob III ok", "a joint lies between two neighbors"),
        ("masseter tender", "side"),
        ("TMJ midline click", "midline"),
    ] {
        let refused = room.run(&["note", CHART, line]);
        assert_eq!(refused.code(), 4, "{line}: {}", refused.all());
        assert!(refused.all().contains(why), "{line}: {}", refused.all());
    }
    // Whoever is there is asked which was meant, and reads both in full words.
    let there =
        room.typed(&["note", CHART], Some(&["T12 L tender 2", "2", "C56 r restricted", "C8 L tender", ""]));
    assert_eq!(there.code(), 0, "{}", there.all());
    let asked = in_order(&there.said, &["vertebra T12", "T1-T2", "Found: motion segment T1-T2, left"]);
    assert!(asked, "{}", there.said);
    assert!(there.said.contains("C5-C6, right"), "{}", there.said);
    assert!(there.said.contains("Not taken: C8 L tender"), "{}", there.said);
    room.ok(&["note", CHART, "C5-6 R mob III 3>2"]);
    sign(&room, &["--answer", "finding-not-followed=looked at again next week"]);
    let page = room.printed(CHART);
    reads(&page, &["T1-T2", "C5-C6"]);
    assert!(!page.contains("C8") && !page.contains("vertebra T12"), "{page}");
}

/// Carried forward: only what is asked for, marked for ever, with how much of the note is the same; above the
/// share of the rules it is asked about.
#[test]
fn s24_copied_from_the_last_visit() {
    let room = with_patient();
    consent(&room, "treatment", "soft-tissue", "lumbar", "both", &EXPLAINED);
    treated(&room);
    let first = sign(
        &room,
        &["--diagnoses", "words=low back pain basis=tight left side", "--sheets", "sheet=B1 edition=2"],
    );
    room.at("2025-03-17T09:00:00-04:00");
    treated(&room);
    // What was found, done or measured then can't be taken over at all.
    assert_eq!(room.run(&["sign", CHART, "--carry", "findings"]).code(), 4);
    let usual = [
        "sign",
        CHART,
        "--changed",
        "easier in the mornings",
        "--complaints",
        "words=stiff and sore pain=3",
        "--compared",
        "less stiff than last time",
        "--carry",
        "assessment,advice,plan",
    ];
    let asked = room.run(&usual);
    assert_eq!(asked.code(), 3, "{}", asked.all());
    assert!(asked.all().contains("same-as-last") && asked.all().contains("percent"), "{}", asked.all());
    let second = room.entry(&["sign", CHART, "--answer", "same-as-last=asked again, it is so"]);
    let page = room.printed(CHART);
    reads(
        &page,
        &[
            "parts carried forward",
            &format!("from no. {first}: NOT looked through"),
            "The same as last time",
            " %",
            "asked again, it is so",
        ],
    );
    // What was corrected is carried as it reads now, not as it was struck.
    let number = second.to_string();
    let fixed =
        ["correct", CHART, &number, "--field", "plan, next step", "--is", "twice more, then look again"];
    let why =
        ["--because", "slip in writing", "--care-affected", "no", "--not-told-because", "told on the day"];
    room.ok(&[&fixed[..], &why].concat());
    // At a terminal, whoever reads it back and says that it is right has looked it through.
    room.at("2025-03-24T09:00:00-04:00");
    open_visit(&room);
    room.ok(&["note", CHART, "lumbar R spasm; lumbar R soft 2min oil 6>5"]);
    let typed =
        ["sign", CHART, "--changed", "worse since digging on Saturday", "--complaints", "words=sharp pain=6"];
    let carry = ["--compared", "worse, other side", "--carry", "advice,plan"];
    let signed = room.typed(&[&typed[..], &carry].concat(), Some(&["yes"]));
    assert_eq!(signed.code(), 0, "{}", signed.all());
    assert!(signed.said.contains(&format!("Carried forward from number {second}")), "{}", signed.said);
    let notes = room.json(&["print", CHART, "--why", "review"]);
    let third = notes.as_array().unwrap().iter().rfind(|entry| entry["kind"] == "visit").unwrap();
    assert_eq!(third["record"]["data"]["plan"]["next_step"], "twice more, then look again");
    let page = room.printed(CHART);
    reads(&page, &[&format!("from no. {second}: looked through, still right"), "worse since digging"]);
    // The sheet was handed over once.
    assert_eq!(page.matches("B1").count(), room_sheets(&room), "{page}");
}

/// How many sheets the notes of the chart say were given.
fn room_sheets(room: &Room) -> usize {
    let printed = room.json(&["print", CHART, "--why", "review"]).to_string();
    printed.matches("\"sheet\":\"B1\"").count()
}

/// A late entry says that it is one, why, and from what; when it happened and when it was written both stand.
#[test]
fn s26_a_late_entry() {
    let room = with_patient();
    consent(&room, "treatment", "soft-tissue", "lumbar", "both", &EXPLAINED);
    treated(&room);
    let note = sign(&room, &[]).to_string();
    room.at("2025-03-13T17:45:00-04:00");
    let bare = room.run(&["late", CHART, "--entry", &note, "--text", "felt light-headed on sitting up"]);
    assert_eq!(bare.code(), 4, "a late entry without a reason is not taken: {}", bare.all());
    room.ok(&[
        "late",
        CHART,
        "--entry",
        &note,
        "--text",
        "felt light-headed on sitting up, gone after a minute",
        "--because",
        "called away before it was written",
        "--source",
        "memory",
        "--happened",
        "2025-03-10 09:12",
    ]);
    let page = room.printed(CHART);
    reads(
        &page,
        &[
            "LATE ENTRY",
            "gone after a minute",
            "called away before it was written",
            "memory",
            "10 Mar 2025 09:12",
            "13 Mar 2025 17:45",
        ],
    );
}

/// The wrong side in a signed note: the old word struck and readable, the new one beneath, and whether the care
/// was wrong or only the words.
#[test]
fn s27_the_wrong_side_in_a_signed_note() {
    let room = with_patient();
    consent(&room, "treatment", "soft-tissue", "lumbar", "both", &EXPLAINED);
    treated(&room);
    let note = sign(&room, &[]).to_string();
    room.at("2025-03-10T17:00:00-04:00");
    let correct = |affected: &str, words: &str, is: &str, field: &str, told: [&str; 2]| {
        room.entry(&[
            "correct",
            CHART,
            &note,
            "--field",
            field,
            "--is",
            is,
            "--because",
            "slip in writing",
            "--care-affected",
            affected,
            "--care-words",
            words,
            told[0],
            told[1],
        ])
    };
    let side = correct(
        "no",
        "the right side was treated; the patient says so too",
        "right",
        "procedures 1, side",
        ["--told", "2025-03-10 16:50"],
    );
    let advice = correct(
        "yes",
        "ice was meant, and the patient used warmth",
        "ice, ten minutes",
        "advice, words",
        ["--not-told-because", "not reached yet, called twice"],
    );
    let page = room.printed(CHART);
    reads(
        &page,
        &[
            &format!("struck by correction no. {side}, 10 Mar 2025, IV"),
            &format!("new words, correction no. {side}, 10 Mar 2025, IV"),
            &format!("struck by correction no. {advice}"),
            "slip in writing",
            "the right side was treated; the patient says so too",
            "ice was meant, and the patient used warmth",
            "not reached yet, called twice",
            "10 Mar 2025 16:50",
        ],
    );
    assert!(
        in_order(&page, &["warmth", &format!("struck by correction no. {advice}"), "ice, ten minutes"]),
        "{page}"
    );
    let struck = page.find(&format!("struck by correction no. {side}")).unwrap();
    assert!(page[..struck].contains("left"), "the old side stands before the mark: {page}");
}

/// An addendum is what was not known, a correction what was wrong, a late entry what was left out: each is kept
/// as what it is, and none can pass for another.
#[test]
fn s28_three_ways_of_adding_kept_apart() {
    let room = with_patient();
    consent(&room, "treatment", "soft-tissue", "lumbar", "both", &EXPLAINED);
    treated(&room);
    let note = sign(&room, &[]).to_string();
    room.at("2025-03-12T11:00:00-04:00");
    // What was known before the note was written is no addendum.
    let known =
        ["addendum", CHART, "--entry", &note, "--text", "leg felt heavy", "--learned", "2025-03-10 08:55"];
    let refused = room.run(&known);
    assert_eq!(refused.code(), 4, "{}", refused.all());
    assert!(refused.all().contains("inkfast late"), "{}", refused.all());
    room.ok(&[
        "addendum",
        CHART,
        "--entry",
        &note,
        "--text",
        "report: no fracture",
        "--learned",
        "2025-03-12 10:40",
    ]);
    room.ok(&[
        "late",
        CHART,
        "--entry",
        &note,
        "--text",
        "leg felt heavy on arrival",
        "--because",
        "left out in haste",
        "--source",
        "memory",
    ]);
    room.ok(&[
        "correct",
        CHART,
        &note,
        "--field",
        "changed since last",
        "--is",
        "easier in the evenings",
        "--because",
        "misheard",
        "--care-affected",
        "no",
        "--not-told-because",
        "she said so herself",
    ]);
    let kinds: Vec<String> = room
        .json(&["print", CHART, "--why", "review"])
        .as_array()
        .unwrap()
        .iter()
        .map(|entry| entry["kind"].as_str().unwrap().to_string())
        .filter(|kind| ["addendum", "late-entry", "correction"].contains(&kind.as_str()))
        .collect();
    assert_eq!(kinds, ["addendum", "late-entry", "correction"]);
    let page = room.printed(CHART);
    reads(
        &page,
        &[
            "Addendum",
            "report: no fracture",
            "Late entry",
            "left out in haste",
            "Correction",
            "easier in the evenings",
            "easier in the mornings",
        ],
    );
}

/// Somebody else's note in this chart: marked, written again where it belongs under its own label, held back with
/// a slip, and nowhere a name that is not this patient's.
#[test]
fn s29_an_entry_in_the_wrong_patient_s_chart() {
    let room = with_patient();
    room.patient(OTHER, OTHERS_NAME, "1979-02-11");
    consent(&room, "treatment", "soft-tissue", "lumbar", "both", &EXPLAINED);
    treated(&room);
    let words = format!("{OTHERS_NAME} lifted a crate yesterday");
    let wrong = room
        .entry(&["sign", CHART].iter().chain(&SAID).copied().chain(["--remark", &words]).collect::<Vec<_>>());
    room.at("2025-03-10T12:00:00-04:00");
    room.ok(&[
        "visit",
        "open",
        OTHER,
        "--room",
        "room 1",
        "--happened",
        "2025-03-10 09:00",
        "--identifiers",
        "full-name",
    ]);
    let marked = room.entry(&[
        "misfiled",
        CHART,
        "--entry",
        &wrong.to_string(),
        "--because",
        "signed with the wrong chart open",
        "--re-enter",
        OTHER,
    ]);
    let page = room.printed(CHART);
    reads(&page, &["belongs to another person", &format!("{marked}"), "signed with the wrong chart open"]);
    for others in [OTHERS_NAME, OTHER, "lifted a crate"] {
        assert!(!page.contains(others), "{others} stands in the printed chart\n{page}");
    }
    let there = room.printed(OTHER);
    reads(&there, &["lifted a crate", "written again from another chart", OTHERS_NAME]);
    assert!(!there.contains("Bettony Craske") && !there.contains("LATE ENTRY"), "{there}");

    let identity = Identity::generate();
    let file = room.path("out.age").display().to_string();
    let words = ["release", CHART, "--to", &identity.recipient().to_string(), "--file", &file];
    room.ok(&[&words[..], &TO_THE_PATIENT].concat());
    let entries = room.json(&["print", CHART, "--why", "review"]);
    let all = entries.as_array().unwrap();
    let release = all.iter().find(|entry| entry["kind"] == "release").unwrap();
    let slip = &release["record"]["data"]["withheld"][0];
    assert_eq!((slip["entry"].as_u64(), slip["slip"].as_bool()), (Some(wrong), Some(true)));
    let plain = open(&With::Identities(&[identity]), &std::fs::read(&file).unwrap()).unwrap();
    let text = String::from_utf8_lossy(&plain);
    assert!(text.contains("Bettony Craske"), "the package is readable here");
    for others in [OTHERS_NAME, OTHER, "lifted a crate"] {
        assert!(!text.contains(others), "{others} is in the package");
    }
}

/// One person with two charts: each points to the other, nothing is moved, and the one that is left takes no
/// more visits.
#[test]
fn s30_two_charts_of_one_person() {
    let room = with_patient();
    consent(&room, "treatment", "soft-tissue", "lumbar", "both", &EXPLAINED);
    treated(&room);
    let note = sign(&room, &[]);
    // The name was spelled by ear, and the desk took it for another person.
    room.at("2025-03-10T10:00:00-04:00");
    let opened = ["patient", "open", "--chart-no", OTHER, "--name", "Betony Crask", "--born", "1988-07-23"];
    let more =
        ["--second-identifier", "telephone", "--identifier", "555 0112", "--no-emergency-contact-because"];
    room.ok(&[
        &opened[..],
        &more,
        &["wants none", "--seen", "birth-date", "--privacy-notice", "given", "--other-than", CHART],
    ]
    .concat());
    room.ok(&[
        "patient",
        "joined",
        OTHER,
        "--direction",
        "continue-at",
        "--other",
        CHART,
        "--because",
        "same birth date and telephone, name spelled by ear",
        "--looked-at",
        "allergies the same; no alerts",
    ]);
    let refused = room.run(&["visit", "open", OTHER, "--room", "room 1"]);
    assert_ne!(refused.code(), 0);
    assert!(refused.all().contains(&format!("goes on as chart {CHART}")), "{}", refused.all());
    let left = room.printed(OTHER);
    reads(&left, &[CHART, "name spelled by ear", "allergies the same", "no alerts"]);
    assert!(!left.contains("less stiff"), "nothing is moved: {left}");
    let kept = room.printed(CHART);
    reads(&kept, &[OTHER, "name spelled by ear", "less stiff than last time", &note.to_string()]);
}

/// The day of the re-examination comes: it is on the list until it was done.
#[test]
fn s40_the_re_examination_is_due() {
    let room = with_patient();
    consent(&room, "treatment", "soft-tissue", "lumbar", "both", &EXPLAINED);
    treated(&room);
    sign(&room, &["--re-examine", "2025-04-07"]);
    reads(&room.printed(CHART), &["Re-examination", "07 Apr 2025"]);
    let on = |args: &[&str]| -> Vec<(String, bool)> {
        let items = room.json(args)["items"].as_array().unwrap().clone();
        let due = items.iter().filter(|item| item["kind"] == "re-examination");
        due.map(|i| (i["due"].as_str().unwrap().to_string(), i["overdue"].as_bool().unwrap())).collect()
    };
    assert!(on(&["today"]).is_empty(), "weeks ahead it is no matter of the day");
    room.at("2025-04-07T08:00:00-04:00");
    let due = vec![("2025-04-07".to_string(), false)];
    assert_eq!(on(&["today"]), due);
    assert_eq!(on(&["open", CHART]), due);
    room.at("2025-04-10T09:00:00-04:00");
    assert_eq!(on(&["open", CHART]), [("2025-04-07".to_string(), true)]);
    assert!(room.ok(&["today"]).contains("Bettony Craske"));
    // Done: it is off the list until the next day that is set.
    treated(&room);
    let again = ["sign", CHART, "--sort", "re-examination"];
    let said = [&again[..], &SAID[2..]].concat();
    let more = [
        "--diagnoses",
        "words=low back pain basis=tight left side",
        "--tolerance",
        "well",
        "--risk-remark",
        "none new",
        "--considered",
        "what=nerve root ruled-out-by=no sign of it",
        "--frequency",
        "monthly",
        "--duration",
        "three months",
        "--goals",
        "words=garden again measure=hours target=2 by=2025-06-30",
        "--re-examine",
        "2025-06-30",
    ];
    room.ok(&[&said[..], &more].concat());
    assert!(on(&["open", CHART]).iter().all(|(day, _)| day == "2025-06-30"), "{:?}", on(&["open", CHART]));
}
