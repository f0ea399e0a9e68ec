//! S10 to S19: the room, the people in it, and what stops the hands.

use super::agreeing::{add_tobiah, ready_for_mouth};
use super::*;

/// Gloves, side and the hand-raise signal are in the record, and asked for each side.
#[test]
fn s10_gloved_work_inside_the_mouth() {
    let room = with_patient();
    let more = ["--stop-signal", "left hand up", "--chaperone-offered", "yes", "--chaperone", "declined"];
    consent(&room, "inside-mouth", "intraoral", "mouth", "both", &[&MOUTH_EXPLAINED[..], &more].concat());
    ready_for_mouth(&room, "left");
    answers(&room.may(CHART, "intraoral", "mouth", "left", &["--glove", "nitrile"]), 0, &[]);
    let right = room.may(CHART, "intraoral", "mouth", "right", &["--glove", "nitrile"]);
    answers(&right, 3, &[]);
    let no_glove = room.may(CHART, "intraoral", "mouth", "left", &[]);
    assert_ne!(no_glove.code(), 0, "{}", no_glove.all());
    room.ok(&[
        "procedure",
        CHART,
        "--technique",
        "intraoral",
        "--region",
        "mouth",
        "--structure",
        "masseter",
        "--side",
        "left",
        "--gloves",
        "nitrile",
        "--fresh-pair",
        "yes",
        "--response",
        "sore",
        "--pain",
        "3",
    ]);
    room.ok(&["note", CHART, "opening 38 before; opening 41 after; inside cheek L skin \"no sores\""]);
    sign(&room, &["--not-done", "consent-signature=the signed paper lies in the folder"]);
    reads(&room.printed(CHART), &["nitrile", "fresh pair", "left hand up", "masseter"]);
}

/// A glove the patient reacts to stops the answer, and the day of the review is shown.
#[test]
fn s11_latex_sensitive_patient() {
    let room = with_patient();
    consent(&room, "inside-mouth", "intraoral", "mouth", "left", &EXPLAINED);
    ready_for_mouth(&room, "left");
    room.ok(&[
        "patient",
        "allergies",
        CHART,
        "--substances",
        "latex=allergic",
        "--reaction",
        "substance=latex reaction=hives severity=mild when=2019 place=hands",
    ]);
    answers(&room.may(CHART, "intraoral", "mouth", "left", &["--glove", "latex"]), 1, &["latex"]);
    answers(&room.may(CHART, "intraoral", "mouth", "left", &["--glove", "nitrile"]), 0, &[]);
    reads(&room.printed(CHART), &["latex", "hives", "10 Mar 2025"]);
}

/// Withdrawn in mid-visit: what, when, by whom, what was stopped, how the patient was on leaving.
#[test]
fn s12_withdrawn_in_mid_visit() {
    let room = with_patient();
    consent(&room, "treatment", "soft-tissue", "cervical", "both", &EXPLAINED);
    open_visit(&room);
    let may = |room: &Room| room.may(CHART, "soft-tissue", "cervical", "both", &[]);
    answers(&may(&room), 0, &[]);
    room.at("2025-03-10T09:18:00-04:00");
    room.ok(&[
        "withdraw",
        CHART,
        "--techniques",
        "all",
        "--regions",
        "cervical",
        "--how",
        "words",
        "--patient-words",
        "No, stop, I am done.",
        "--said-by",
        "self",
        "--under-way",
        "right side of the neck",
        "--stopped",
        "everything",
        "--stopped-at",
        "now",
        "--on-leaving",
        "pain 4, steady on the feet",
        "--next-step",
        "a call tomorrow",
    ]);
    answers(&may(&room), 1, &[]);
    // What was true before it was said stays true of that moment.
    answers(
        &room.may(CHART, "soft-tissue", "cervical", "both", &["--at", "2025-03-10T09:17:00-04:00"]),
        0,
        &[],
    );
    reads(
        &room.printed(CHART),
        &["No, stop, I am done.", "10 Mar 2025 09:18", "steady on the feet", "a call tomorrow"],
    );
}

/// Needs a minute: no withdrawal, but asked again before going on.
#[test]
fn s13_a_pause_is_no_withdrawal() {
    let room = with_patient();
    consent(&room, "treatment", "soft-tissue", "cervical", "both", &EXPLAINED);
    open_visit(&room);
    let may = |room: &Room| room.may(CHART, "soft-tissue", "cervical", "both", &[]);
    let pause = room.entry(&["pause", CHART, "--kind", "pause", "--how", "words", "--why", "needs a minute"]);
    let paused = may(&room);
    assert_eq!(paused.code(), 3, "{}", paused.all());
    room.at("2025-03-10T09:04:00-04:00");
    room.ok(&[
        "pause",
        CHART,
        "--kind",
        "resumed",
        "--of",
        &pause.to_string(),
        "--yes-at",
        "now",
        "--why",
        "says yes, go on",
    ]);
    answers(&may(&room), 0, &[]);
    reads(&room.printed(CHART), &["needs a minute", "says yes, go on"]);
}

/// Advised, explained, declined: a full record of its own.
#[test]
fn s14_the_patient_declines_an_advised_examination() {
    let room = with_patient();
    room.ok(&[
        "consent",
        CHART,
        "--kind",
        "imaging",
        "--status",
        "declined",
        "--form",
        "verbal-recorded",
        "--no-wording-because",
        "said in the room",
        "--matter",
        "X-ray of the neck before any thrust",
        "--explained-by",
        "IV",
        "--explained-at",
        "now",
        "--risks",
        "a break not seen",
        "--declined-because",
        "\"I do not want more rays.\"",
        "--given-by",
        "self",
        "--heard-by",
        "IV",
    ]);
    reads(
        &room.printed(CHART),
        &["DECLINED", "X-ray of the neck before any thrust", "I do not want more rays.", "a break not seen"],
    );
}

/// An interpreter is needed: a consent without one is not usable and says so.
#[test]
fn s15_a_language_barrier() {
    let room = Room::new();
    room.at(MORNING).ok(&[
        "patient",
        "open",
        "--chart-no",
        CHART,
        "--name",
        "Oda Lindqvist",
        "--born",
        "1971-02-02",
        "--second-identifier",
        "telephone",
        "--identifier",
        "555 0112",
        "--no-emergency-contact-because",
        "wants none",
        "--seen",
        "licence-card,birth-date",
        "--privacy-notice",
        "given",
        "--looked-for-same-name",
        "yes",
        "--language",
        "sv",
        "--interpreter",
        "sv",
    ]);
    consent(&room, "treatment", "soft-tissue", "lumbar", "both", &EXPLAINED);
    open_visit(&room);
    let without = room.may(CHART, "soft-tissue", "lumbar", "both", &[]);
    assert_ne!(without.code(), 0, "{}", without.all());
    let with = [
        &EXPLAINED[..],
        &[
            "--interpreter",
            "Elna Sorkes",
            "--interpreter-language",
            "sv",
            "--interpreter-independent",
            "yes",
            "--interpreter-telephone",
            "yes",
        ],
    ]
    .concat();
    room.at("2025-03-10T09:05:00-04:00");
    consent(&room, "treatment", "soft-tissue", "lumbar", "both", &with);
    answers(&room.may(CHART, "soft-tissue", "lumbar", "both", &[]), 0, &[]);
    reads(&room.printed(CHART), &["Interpreter Elna Sorkes", "independent, by telephone"]);
}

/// A chaperone is a condition: not covered until somebody is there, and the record says who.
#[test]
fn s16_a_chaperone_is_a_condition() {
    let room = with_patient();
    let more = [
        &EXPLAINED[..],
        &[
            "--conditions",
            "kind=chaperone-present",
            "--chaperone-offered",
            "yes",
            "--chaperone",
            "accepted",
            "--chaperone-name",
            "Corwin Tabb",
        ],
    ]
    .concat();
    consent(&room, "sensitive-area", "soft-tissue", "groin", "left", &more);
    open_visit(&room);
    room.ok(&[
        "asked",
        CHART,
        "--technique",
        "soft-tissue",
        "--region",
        "groin",
        "--side",
        "left",
        "--answer",
        "yes",
    ]);
    let may = |room: &Room| room.may(CHART, "soft-tissue", "groin", "left", &[]);
    let alone = may(&room);
    assert_eq!(alone.code(), 3, "{}", alone.all());
    let there =
        room.entry(&["visit", "condition", CHART, "--kind", "chaperone-present", "--who", "Corwin Tabb"]);
    answers(&may(&room), 0, &[]);
    room.at("2025-03-10T09:20:00-04:00");
    room.ok(&[
        "visit",
        "condition",
        CHART,
        "--kind",
        "chaperone-present",
        "--who",
        "Corwin Tabb",
        "--ends",
        &there.to_string(),
        "--ended",
        "now",
    ]);
    let left = may(&room);
    assert_ne!(left.code(), 0, "{}", left.all());
    reads(&room.printed(CHART), &["Corwin Tabb", "chaperone"]);
}

/// Consent to treatment is no consent to an onlooker or a camera.
#[test]
fn s17_observers_and_cameras_need_their_own_consent() {
    let room = with_patient();
    consent(&room, "treatment", "soft-tissue", "lumbar", "both", &EXPLAINED);
    open_visit(&room);
    let picture = |consent: &str| {
        room.write("tape.txt", "picture\n");
        let file = room.path("tape.txt").display().to_string();
        let words = [
            "attach",
            CHART,
            &file,
            "--kind",
            "photograph",
            "--title",
            "Tape on the shoulder",
            "--made",
            "2025-03-10",
            "--made-by",
            "The Ropewalk Rooms",
            "--not-made-here",
            "no",
            "--original",
            "not-seen",
            "--legible",
            "yes",
            "--for-desk",
            "no",
            "--consent",
            consent,
        ];
        room.run(&words)
    };
    let observer = room.entry(&[
        "consent",
        CHART,
        "--kind",
        "observer",
        "--form",
        "written-signed",
        "--wording",
        "F1",
        "--matter",
        "one student, watching only",
        "--given-by",
        "self",
    ]);
    let pictures = room.entry(&[
        "consent",
        CHART,
        "--kind",
        "pictures-for-chart",
        "--form",
        "written-signed",
        "--wording",
        "F1",
        "--matter",
        "the tape, without the face",
        "--given-by",
        "self",
    ]);
    let kept = picture(&pictures.to_string());
    assert_eq!(kept.code(), 0, "{}", kept.all());
    let page = room.printed(CHART);
    reads(&page, &["one student, watching only", "the tape, without the face", &observer.to_string()]);
    // A consent to an onlooker is not one to a treatment.
    assert_ne!(room.may(CHART, "soft-tissue", "cervical", "both", &[]).code(), 0);
}

/// Doubtful capacity stops the answer until it is resolved.
#[test]
fn s18_capacity_doubtful_today() {
    let room = with_patient();
    consent(&room, "treatment", "soft-tissue", "lumbar", "both", &EXPLAINED);
    open_visit(&room);
    let doubt = room.entry(&[
        "patient",
        "capacity",
        CHART,
        "--state",
        "doubt-raised",
        "--seen",
        "drowsy, slurred speech",
        "--assessed-by",
        "IV",
    ]);
    let may = |room: &Room| room.may(CHART, "soft-tissue", "lumbar", "both", &[]);
    let doubted = may(&room);
    assert_ne!(doubted.code(), 0, "{}", doubted.all());
    room.at("2025-03-10T09:40:00-04:00");
    room.ok(&[
        "patient",
        "capacity",
        CHART,
        "--state",
        "doubt-resolved",
        "--of",
        &doubt.to_string(),
        "--seen",
        "awake, had not slept; repeats the plan in own words",
        "--assessed-by",
        "IV",
    ]);
    answers(&may(&room), 0, &[]);
    reads(&room.printed(CHART), &["drowsy, slurred speech", "repeats the plan in own words"]);
}

/// An emergency is never blocked: recorded in a few words, the times afterwards.
#[test]
fn s19_an_emergency_in_the_room() {
    let room = with_patient();
    open_visit(&room);
    let declared = room.entry(&[
        "visit",
        "emergency",
        CHART,
        "--state",
        "declared",
        "--what",
        "faint, pale, lying down",
    ]);
    room.at("2025-03-10T09:31:00-04:00");
    room.ok(&[
        "visit",
        "emergency",
        CHART,
        "--state",
        "ended",
        "--of",
        &declared.to_string(),
        "--what",
        "handed to the ambulance at 09:30",
        "--called",
        "ambulance 09:06,son 09:10",
    ]);
    room.ok(&["visit", "close", CHART, "--ended", "interrupted", "--left-with", "ambulance"]);
    let page = room.printed(CHART);
    reads(&page, &["faint, pale, lying down", "ambulance 09:06"]);
    assert!(in_order(&page, &["faint, pale, lying down", "handed to the ambulance"]), "{page}");
}

/// Two practitioners in one visit: each procedure carries whose hands did it.
#[test]
fn s23_two_practitioners_in_one_visit() {
    let room = with_patient();
    add_tobiah(&room);
    consent(&room, "treatment", "soft-tissue,mobilization", "lumbar", "both", &EXPLAINED);
    open_visit(&room);
    room.ok(&["finding", CHART, "lumbar L tight"]);
    room.ok(&[
        "procedure",
        CHART,
        "--technique",
        "soft-tissue",
        "--region",
        "lumbar",
        "--side",
        "left",
        "--done-by",
        "IV",
        "--response",
        "relieved",
        "--pain",
        "2",
    ]);
    sign(&room, &[]);
    room.who("TR", "seven blue boats");
    room.at("2025-03-10T09:40:00-04:00");
    open_visit(&room);
    room.ok(&["finding", CHART, "L4-5 L restricted"]);
    room.ok(&[
        "procedure",
        CHART,
        "--technique",
        "mobilization",
        "--region",
        "lumbar",
        "--side",
        "left",
        "--segments",
        "L4-L5",
        "--grade",
        "III",
        "--response",
        "tolerated",
    ]);
    sign(&room, &[]);
    let page = room.printed(CHART);
    reads(&page, &["Tobiah Renquist", "Ingrith Valsamo", "L4-L5"]);
}

/// The clock was wrong all morning: nothing is re-stamped, a remark explains it.
#[test]
fn s22_the_computer_s_clock_was_wrong() {
    let room = with_patient();
    let early = room.entry(&[
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
        "comes at eleven",
        "--done",
        "yes",
    ]);
    // The hour is put back: what comes now is written "before" what was written already.
    room.at("2025-03-10T08:10:00-04:00");
    let after = room.entry(&[
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
        "comes at twelve",
        "--done",
        "yes",
    ]);
    assert!(after > early);
    let remark = room.entry(&[
        "clock",
        "--state",
        "opened-and-closed",
        "--at-station",
        "desk",
        "--what",
        "an hour ahead since the morning",
        "--seconds",
        "3600",
        "--wrong-from",
        "2025-03-10T07:00:00-04:00",
        "--wrong-until",
        "2025-03-10T08:09:00-04:00",
        "--covers",
        &early.to_string(),
    ]);
    assert!(remark > after);
    let page = room.printed(CHART);
    assert!(
        in_order(&page, &["comes at eleven", "comes at twelve"]),
        "order is by number, not by clock\n{page}"
    );
    reads(&page, &["clock"]);
}
