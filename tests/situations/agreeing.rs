//! S01 to S09: what was agreed, by whom, for what.

use super::*;

/// The paper is signed at the desk before anybody explained it: it counts from the explanation.
#[test]
fn s01_new_patient_signs_at_the_desk_and_is_explained_to_later() {
    let room = with_patient();
    let lumbar = |room: &Room| room.may(CHART, "thrust", "lumbar", "midline", &[]);
    let unexplained = consent(&room, "treatment", "thrust,soft-tissue", "lumbar", "both", &[]);
    open_visit(&room);
    let before = lumbar(&room);
    assert_ne!(before.code(), 0, "signed is not explained: {}", before.all());
    room.at("2025-03-10T09:20:00-04:00");
    let explained = consent(&room, "treatment", "thrust,soft-tissue", "lumbar", "both", &EXPLAINED);
    room.at("2025-03-10T09:25:00-04:00");
    room.ok(&[
        "asked",
        CHART,
        "--technique",
        "thrust",
        "--region",
        "lumbar",
        "--side",
        "midline",
        "--answer",
        "yes",
    ]);
    answers(&lumbar(&room), 0, &[]);
    // At 09:10 nothing explained was in force, and nobody can make it so afterwards.
    let then = room.may(CHART, "thrust", "lumbar", "midline", &["--at", "2025-03-10T09:10:00-04:00"]);
    assert_ne!(then.code(), 0, "{}", then.all());
    let page = room.printed(CHART);
    reads(&page, &["Bettony Craske", "10 Mar 2025", &format!("{explained}"), &format!("{unexplained}")]);
}

/// A parent consents for a child, with authority on file; the child is asked too.
#[test]
fn s02_a_minor_with_a_parent_and_the_child_is_asked() {
    let room = child();
    guardian(&room, "dm-1", "Maud Craske", "mother", "parent", "yes", "yes");
    given_by(&room, "dm-1", "Maud Craske");
    open_visit(&room);
    let asked = [
        "asked",
        CHART,
        "--technique",
        "soft-tissue",
        "--region",
        "cervical",
        "--side",
        "both",
        "--answer",
        "yes",
    ];
    let by_mother = [&asked[..], &["--answered-by", "decision-maker", "--decision-maker", "dm-1"]].concat();
    room.ok(&by_mother);
    let before = room.may(CHART, "soft-tissue", "cervical", "both", &[]);
    assert_ne!(before.code(), 0, "the child was not asked: {}", before.all());
    room.ok(&[
        "visit",
        "own-answer",
        CHART,
        "--answer",
        "yes",
        "--about",
        "Shall I press here?",
        "--patient-words",
        "Okay.",
    ]);
    answers(&room.may(CHART, "soft-tissue", "cervical", "both", &[]), 0, &[]);
    reads(&room.printed(CHART), &["Maud Craske", "mother", "Shall I press here?", "Okay."]);
}

/// One parent may consent and the other may only receive records.
#[test]
fn s03_separated_parents_have_different_rights() {
    let room = child();
    room.write("order.txt", "Order of the family bench.\n");
    let order = room.path("order.txt").display().to_string();
    let paper = room.entry(&[
        "attach",
        CHART,
        &order,
        "--kind",
        "letter",
        "--title",
        "Custody order",
        "--made",
        "2024-11-02",
        "--made-by",
        "Family bench of Lower Marl",
        "--not-made-here",
        "yes",
        "--received",
        "2025-03-10",
        "--pages",
        "3",
        "--original",
        "not-seen",
        "--legible",
        "yes",
        "--for-desk",
        "yes",
    ]);
    guardian(&room, "dm-1", "Maud Craske", "mother", "court-order", "yes", "yes");
    guardian(&room, "dm-2", "Joss Craske", "father", "court-order", "no", "yes");
    open_visit(&room);
    let father = ["--given-by", "decision-maker", "--giver", "dm-2", "--giver-name", "Joss Craske"];
    try_given(&room, &father);
    let covered = room.may(CHART, "soft-tissue", "cervical", "both", &[]);
    assert_ne!(covered.code(), 0, "the father may not consent: {}", covered.all());
    given_by(&room, "dm-1", "Maud Craske");
    let page = room.printed(CHART);
    reads(&page, &["Joss Craske", "Maud Craske", "Custody order", &paper.to_string()]);
}

/// An aunt brings the child: nobody with authority has agreed; a parent's word by telephone is heard by two.
#[test]
fn s04_a_minor_brought_by_somebody_without_authority() {
    let room = child();
    guardian(&room, "dm-1", "Maud Craske", "mother", "parent", "yes", "yes");
    room.ok(&[
        "visit",
        "open",
        CHART,
        "--room",
        "room 1",
        "--identifiers",
        "full-name,birth-date",
        "--present",
        "part=aunt name=Wenna",
    ]);
    answers(&room.may(CHART, "soft-tissue", "cervical", "both", &[]), 1, &[]);
    room.ok(&[
        "consent",
        CHART,
        "--kind",
        "treatment",
        "--form",
        "verbal-recorded",
        "--no-wording-because",
        "by telephone",
        "--techniques",
        "soft-tissue",
        "--regions",
        "cervical",
        "--side",
        "both",
        "--given-by",
        "decision-maker",
        "--giver",
        "dm-1",
        "--giver-name",
        "Maud Craske",
        "--heard-by",
        "IV",
        "--witness",
        "Corwin Tabb",
        "--witness-relation",
        "desk, listened in",
        "--witness-at",
        "now",
        "--risks",
        "soreness",
        "--explained-by",
        "IV",
        "--explained-at",
        "now",
    ]);
    room.ok(&["visit", "own-answer", CHART, "--answer", "yes", "--about", "May I?"]);
    let now = room.may(CHART, "soft-tissue", "cervical", "both", &[]);
    assert!([0, 3].contains(&now.code()), "{}", now.all());
    reads(&room.printed(CHART), &["aunt", "Wenna", "Corwin Tabb", "by telephone"]);
}

/// At midnight of the eighteenth birthday the parent's signature no longer carries.
#[test]
fn s05_the_patient_comes_of_age_between_visits() {
    let room = Room::new();
    room.at(MORNING).patient(CHART, "Bettony Craske", "2007-03-12");
    guardian(&room, "dm-1", "Maud Craske", "mother", "parent", "yes", "yes");
    given_by(&room, "dm-1", "Maud Craske");
    room.at("2025-03-11T23:50:00-04:00");
    open_visit(&room);
    room.ok(&["visit", "own-answer", CHART, "--answer", "yes", "--about", "May I?"]);
    let eve = room.may(CHART, "soft-tissue", "cervical", "both", &[]);
    assert_eq!(eve.code(), 0, "{}", eve.all());
    room.at("2025-03-12T00:00:00-04:00");
    answers(&room.may(CHART, "soft-tissue", "cervical", "both", &[]), 1, &[]);
    reads(&room.printed(CHART), &["Maud Craske", "12 Mar 2007"]);
}

/// Everything but the neck thrust: a standing refusal outranks a later broad form until lifted by name.
#[test]
fn s06_a_standing_refusal_outranks_a_later_broad_form() {
    let room = with_patient();
    room.ok(&[
        "refusal",
        CHART,
        "--techniques",
        "thrust",
        "--regions",
        "cervical",
        "--patient-words",
        "No cracking my neck.",
        "--said-by",
        "self",
    ]);
    room.at("2025-03-10T09:10:00-04:00");
    consent(&room, "treatment", "thrust,soft-tissue,mobilization", "spine", "both", &EXPLAINED);
    open_visit(&room);
    room.ok(&["screen", CHART, "neck", "--all-no"]);
    for region in ["cervical", "lumbar"] {
        let asked = [
            "asked",
            CHART,
            "--technique",
            "thrust",
            "--region",
            region,
            "--side",
            "midline",
            "--answer",
            "yes",
        ];
        room.ok(&asked);
    }
    let neck = room.may(CHART, "thrust", "cervical", "midline", &["--segment", "C5-C6"]);
    answers(&neck, 1, &["refus"]);
    answers(&room.may(CHART, "thrust", "lumbar", "midline", &["--segment", "L4-L5"]), 0, &[]);
    reads(&room.printed(CHART), &["No cracking my neck."]);
}

/// Work on the jaw is agreed for one side; the other is not covered, and no side is no answer.
#[test]
fn s07_consent_for_one_side_only() {
    let room = with_patient();
    let no_side = room.run(&[
        "consent",
        CHART,
        "--kind",
        "inside-mouth",
        "--form",
        "written-signed",
        "--wording",
        "F1",
        "--techniques",
        "intraoral",
        "--regions",
        "mouth",
        "--given-by",
        "self",
        "--risks",
        "jaw-ache",
        "--explained-by",
        "IV",
        "--explained-at",
        "now",
    ]);
    assert_eq!(no_side.code(), 4, "{}", no_side.all());
    consent(&room, "inside-mouth", "intraoral", "mouth", "left", &EXPLAINED);
    ready_for_mouth(&room, "left");
    answers(&room.may(CHART, "intraoral", "mouth", "left", &["--glove", "nitrile"]), 0, &[]);
    answers(&room.may(CHART, "intraoral", "mouth", "right", &["--glove", "nitrile"]), 1, &[]);
    reads(&room.printed(CHART), &["left"]);
}

/// "You, not your colleague."
#[test]
fn s08_consent_for_this_practitioner_only() {
    let room = with_patient();
    add_tobiah(&room);
    consent(
        &room,
        "treatment",
        "soft-tissue",
        "lumbar",
        "both",
        &[&EXPLAINED[..], &["--allowed", "named", "--allowed-who", "IV"]].concat(),
    );
    open_visit(&room);
    answers(&room.may(CHART, "soft-tissue", "lumbar", "both", &["--by", "IV"]), 0, &[]);
    let other = room.may(CHART, "soft-tissue", "lumbar", "both", &["--by", "TR"]);
    assert_ne!(other.code(), 0, "{}", other.all());
    reads(&room.printed(CHART), &["IV"]);
}

/// The question before a neck thrust, asked every time: written in one line, good for this visit only.
#[test]
fn s09_asked_before_a_neck_thrust() {
    let room = with_patient();
    consent(&room, "treatment", "thrust", "cervical", "both", &EXPLAINED);
    open_visit(&room);
    room.ok(&["screen", CHART, "neck", "--all-no"]);
    let may = |room: &Room| room.may(CHART, "thrust", "cervical", "right", &["--segment", "C5-C6"]);
    answers(&may(&room), 3, &[]);
    room.ok(&[
        "asked",
        CHART,
        "--technique",
        "thrust",
        "--region",
        "cervical",
        "--side",
        "right",
        "--segments",
        "C5-C6",
        "--answer",
        "yes",
        "--patient-words",
        "Yes, go on.",
    ]);
    answers(&may(&room), 0, &[]);
    room.at("2025-03-10T10:30:00-04:00");
    let stale = may(&room);
    assert_ne!(stale.code(), 0, "a yes grows old: {}", stale.all());
    reads(&room.printed(CHART), &["Yes, go on.", "C5-C6"]);
}

/// A room with a patient of ten years.
fn child() -> Room {
    let room = Room::new();
    room.at(MORNING).patient(CHART, "Bettony Craske", "2014-07-23");
    room
}

fn guardian(room: &Room, id: &str, name: &str, relation: &str, basis: &str, consent: &str, receive: &str) {
    room.ok(&[
        "guardian",
        CHART,
        "--person-id",
        id,
        "--name",
        name,
        "--relation",
        relation,
        "--born",
        "1982-01-05",
        "--basis",
        basis,
        "--on-file",
        "yes",
        "--document-seen",
        "passport and birth entry",
        "--may-consent",
        consent,
        "--may-receive",
        receive,
    ]);
}

fn given_by(room: &Room, id: &str, name: &str) {
    let shown = try_given(room, &["--given-by", "decision-maker", "--giver", id, "--giver-name", name]);
    assert_eq!(shown.code(), 0, "{}", shown.all());
}

fn try_given(room: &Room, giver: &[&str]) -> Shown {
    let usual = [
        "consent",
        CHART,
        "--kind",
        "treatment",
        "--form",
        "written-signed",
        "--wording",
        "F1",
        "--techniques",
        "soft-tissue",
        "--regions",
        "cervical",
        "--side",
        "both",
        "--risks",
        "soreness",
        "--explained-by",
        "IV",
        "--explained-at",
        "now",
    ];
    room.run(&usual.iter().chain(giver).copied().collect::<Vec<_>>())
}

/// All that work inside the mouth needs besides a consent.
pub fn ready_for_mouth(room: &Room, side: &str) {
    room.ok(&["patient", "allergies", CHART, "--substances", "latex=not-allergic"]);
    open_visit(room);
    room.ok(&["screen", CHART, "mouth", "--all-no"]);
    room.ok(&["visit", "measure", CHART, "--measures", "kind=mouth-opening value=38"]);
    room.ok(&[
        "asked",
        CHART,
        "--technique",
        "intraoral",
        "--region",
        "mouth",
        "--side",
        side,
        "--answer",
        "yes",
    ]);
}

/// An associate on the roster.
pub fn add_tobiah(room: &Room) {
    room.write("pw-tr", "seven blue boats\n");
    let file = room.path("pw-tr").display().to_string();
    room.ok(&[
        "roster",
        "add",
        "--new-passphrase-file",
        &file,
        "--code",
        "TR",
        "--name",
        "Tobiah Renquist",
        "--role",
        "chiropractor",
        "--initials",
        "TR",
        "--from",
        "2022-10-03",
        "--techniques",
        "soft-tissue,mobilization,thrust",
        "--licence",
        "LM-C-0688",
        "--licence-last-day",
        "2099-12-31",
        "--opens",
        "clinical",
        "--because",
        "joined",
    ]);
}
