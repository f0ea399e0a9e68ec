//! S21 to S34: what is finished later, told later, or never comes.

use super::*;

fn call(room: &Room, said: &str, more: &[&str]) -> u64 {
    let usual = [
        "contact",
        CHART,
        "--channel",
        "telephone",
        "--direction",
        "incoming",
        "--with",
        "Bettony Craske",
        "--relation",
        "self",
        "--checked",
        "birth date",
        "--said",
        said,
    ];
    room.entry(&usual.iter().chain(more).copied().collect::<Vec<_>>())
}

/// The battery dies in the middle of the note: every line typed is there again, unsigned; finished the next
/// morning it is a late entry that says why.
#[test]
fn s21_power_cut_in_mid_note() {
    let room = with_patient();
    consent(&room, "treatment", "soft-tissue", "lumbar", "both", &EXPLAINED);
    open_visit(&room);
    room.ok(&[
        "procedure",
        CHART,
        "--technique",
        "soft-tissue",
        "--region",
        "lumbar",
        "--side",
        "left",
        "--response",
        "relieved",
        "--pain",
        "2",
    ]);
    let before = std::fs::read_dir(room.path("store/drafts")).unwrap().count();
    assert_eq!(before, 1, "the draft is on disk, sealed");
    let ledger = room.json(&["print", CHART]);
    assert!(!ledger.to_string().contains("relieved"), "nothing unsigned is in the chain");
    room.at("2025-03-11T10:30:00-04:00");
    let because = ["--no-findings-because", "not written before the power cut"];
    sign(&room, &[&because[..], &["--finished-later-because", "power cut in the evening"]].concat());
    reads(&room.printed(CHART), &["relieved", "power cut in the evening", "LATE ENTRY"]);
    // The visit was over when the last line of it was typed, not when the note was signed.
    let note = room.json(&["print", CHART, "--why", "review"]).as_array().unwrap().clone();
    let note = note.iter().find(|entry| entry["kind"] == "visit").unwrap().clone();
    assert_eq!(note["record"]["happened"]["end"], "2025-03-10T09:00:00-04:00");
}

/// Soreness phoned in the next day: what was asked, what was advised, when to call back; the reaction
/// stays open until it is closed.
#[test]
fn s25_an_adverse_reaction_is_phoned_in() {
    let room = with_patient();
    consent(&room, "treatment", "soft-tissue", "lumbar", "both", &EXPLAINED);
    room.at("2025-03-11T08:40:00-04:00");
    let contact = call(
        &room,
        "sharp pain at the rib since the evening",
        &[
            "--advice",
            "cool, no lifting; chest pain or breathless: emergency number",
            "--call-back",
            "2025-03-12T09:00:00-04:00",
        ],
    );
    let reaction = room.entry(&[
        "reaction",
        "open",
        CHART,
        "--what",
        "rib pain after soft-tissue work",
        "--began",
        "2025-03-10T20:00:00-04:00",
        "--severity",
        "moderate",
        "--technique",
        "soft-tissue",
        "--region",
        "rib-cage",
        "--side",
        "left",
        "--done",
        "advised by telephone",
        "--outcome",
        "still there",
        "--follow-up",
        "2025-03-12",
        "--told-by",
        "the patient",
        "--contact",
        &contact.to_string(),
    ]);
    open_visit(&room);
    let open = room.may(CHART, "soft-tissue", "rib-cage", "left", &[]);
    assert_ne!(open.code(), 0, "an open reaction is asked about: {}", open.all());
    room.at("2025-03-14T09:00:00-04:00");
    room.ok(&[
        "reaction",
        "close",
        CHART,
        "--reaction",
        &reaction.to_string(),
        "--outcome",
        "no pain, full breath",
        "--closed-with",
        "call",
    ]);
    reads(
        &room.printed(CHART),
        &[
            "sharp pain at the rib",
            "emergency number",
            "rib pain after soft-tissue work",
            "no pain, full breath",
        ],
    );
}

/// A no-show is kept, so that nobody says later that the patient was sent away.
#[test]
fn s32_a_no_show() {
    let room = with_patient();
    room.ok(&[
        "contact",
        CHART,
        "--channel",
        "no-show",
        "--direction",
        "none",
        "--nobody-because",
        "did not come",
        "--said",
        "booked for 09:00, waited until 09:30, no message",
        "--outcome",
        "letter sent",
        "--done",
        "yes",
    ]);
    reads(&room.printed(CHART), &["No show", "waited until 09:30", "letter sent"]);
}

/// Advice by message: channel, who, what was said, what was advised.
#[test]
fn s33_advice_by_message() {
    let room = with_patient();
    room.ok(&[
        "contact",
        CHART,
        "--channel",
        "message",
        "--direction",
        "incoming",
        "--with",
        "Bettony Craske",
        "--relation",
        "self",
        "--checked",
        "number on file",
        "--said",
        "may I play tonight?",
        "--advice",
        "not today, short tomorrow",
        "--done",
        "yes",
    ]);
    reads(&room.printed(CHART), &["may I play tonight?", "not today, short tomorrow", "number on file"]);
}

/// A referral waits for its answer until it came or was chased.
#[test]
fn s34_a_referral_out_and_its_answer() {
    let room = with_patient();
    let referral = room.entry(&[
        "refer",
        "out",
        CHART,
        "--referred-to",
        "Jaw clinic, Pellmere",
        "--because",
        "locking twice this week",
        "--urgency",
        "routine",
        "--sent-how",
        "letter",
        "--expect-by",
        "2025-03-31",
    ]);
    room.at("2025-04-02T09:00:00-04:00");
    let number = referral.to_string();
    room.ok(&[
        "refer",
        "answer",
        CHART,
        "--referral",
        &number,
        "--outcome",
        "none-chased",
        "--chased",
        "2025-04-02",
        "--in-short",
        "no answer yet, asked again",
    ]);
    room.at("2025-04-07T09:00:00-04:00");
    room.ok(&[
        "refer",
        "answer",
        CHART,
        "--referral",
        &number,
        "--outcome",
        "received",
        "--received",
        "2025-04-07",
        "--in-short",
        "splint for the night, no operation",
    ]);
    let page = room.printed(CHART);
    reads(&page, &["Jaw clinic, Pellmere", "locking twice this week", "31 Mar 2025"]);
    assert!(in_order(&page, &["asked again", "splint for the night"]), "{page}");
}
