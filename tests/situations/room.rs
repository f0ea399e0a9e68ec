//! S31 to S39: names, papers and sheets.

use super::*;

fn paper(room: &Room, kind: &str, title: &str, made: &str, more: &[&str]) -> u64 {
    room.write("paper.txt", "A page.\n");
    let file = room.path("paper.txt").display().to_string();
    let usual = [
        "attach",
        CHART,
        &file,
        "--kind",
        kind,
        "--title",
        title,
        "--made",
        made,
        "--legible",
        "yes",
        "--for-desk",
        "no",
    ];
    room.entry(&usual.iter().chain(more).copied().collect::<Vec<_>>())
}

/// Two patients of one name: the second is not opened before both were looked at.
#[test]
fn s31_patients_of_one_name_and_a_new_name() {
    let room = with_patient();
    let second = [
        "patient",
        "open",
        "--chart-no",
        "PM-0113",
        "--name",
        "Bettony Craske",
        "--born",
        "1988-07-23",
        "--second-identifier",
        "telephone",
        "--identifier",
        "555 0999",
        "--no-emergency-contact-because",
        "wants none",
        "--seen",
        "birth-date",
        "--privacy-notice",
        "given",
    ];
    let refused = room.run(&second);
    assert_ne!(refused.code(), 0, "{}", refused.all());
    assert!(refused.all().contains(CHART), "the other chart is shown: {}", refused.all());
    let both: Vec<&str> = second.iter().chain(&["--other-than", CHART]).copied().collect();
    room.ok(&both);
    room.at("2025-03-10T09:05:00-04:00").ok(&[
        "patient",
        "identity",
        CHART,
        "--changed",
        "legal_name,former_names",
        "--because",
        "married",
        "--told-by",
        "the patient",
        "--name",
        "Bettony Hale",
        "--former-names",
        "Bettony Craske",
    ]);
    let found = room.ok(&["patient", "list"]);
    assert!(found.contains("Bettony Hale"), "{found}");
    reads(&room.printed(CHART), &["Bettony Hale", "Bettony Craske", "married"]);
}

/// Papers from elsewhere are marked as not made here, with their source and the day they came in.
#[test]
fn s35_outside_records_come_in() {
    let room = with_patient();
    paper(
        &room,
        "imaging-report",
        "X-ray report, neck",
        "2025-02-20",
        &[
            "--made-by",
            "Pellmere Imaging",
            "--not-made-here",
            "yes",
            "--received",
            "2025-03-10",
            "--pages",
            "2",
            "--original",
            "not-seen",
        ],
    );
    reads(
        &room.printed(CHART),
        &["X-ray report, neck", "Pellmere Imaging", "NOT MADE HERE", "20 Feb 2025", "10 Mar 2025"],
    );
}

/// A picture says when it was made, of what, on which side, and on which consent it rests; the file is
/// found again by its digest.
#[test]
fn s36_a_picture_for_the_chart() {
    let room = with_patient();
    let consent = room.entry(&[
        "consent",
        CHART,
        "--kind",
        "pictures-for-chart",
        "--form",
        "written-signed",
        "--wording",
        "F1",
        "--matter",
        "the shoulder",
        "--given-by",
        "self",
    ]);
    let kept = paper(
        &room,
        "photograph",
        "Tape marks",
        "2025-03-09",
        &[
            "--made-by",
            "the patient's telephone",
            "--not-made-here",
            "yes",
            "--received",
            "2025-03-10",
            "--region",
            "shoulder",
            "--side",
            "left",
            "--original",
            "not-seen",
            "--consent",
            &consent.to_string(),
        ],
    );
    let again = room.path("again.txt").display().to_string();
    room.ok(&["attach", CHART, "--get", &kept.to_string(), "--into", &again, "--why", "visit"]);
    assert_eq!(std::fs::read_to_string(&again).unwrap(), "A page.\n");
    reads(&room.printed(CHART), &["Tape marks", "09 Mar 2025", "left", &consent.to_string()]);
}

/// A scan says that it is one: pages counted, what became of the paper.
#[test]
fn s37_an_old_paper_consent_is_scanned() {
    let room = with_patient();
    let scan = paper(
        &room,
        "consent-paper",
        "Consent of 2021, paper",
        "2021-06-01",
        &[
            "--made-by",
            "The Ropewalk Rooms",
            "--not-made-here",
            "no",
            "--received",
            "2025-03-10",
            "--pages",
            "2",
            "--original",
            "kept",
            "--original-at",
            "cabinet 2, drawer 4",
        ],
    );
    room.ok(&[
        "consent",
        CHART,
        "--kind",
        "treatment",
        "--form",
        "scan-of-paper",
        "--wording",
        "F0",
        "--techniques",
        "soft-tissue",
        "--regions",
        "lumbar",
        "--side",
        "both",
        "--given-by",
        "self",
        "--paper",
        &scan.to_string(),
        "--from",
        "2021-06-01",
        "--last-day",
        "2022-05-31",
    ]);
    open_visit(&room);
    assert_ne!(
        room.may(CHART, "soft-tissue", "lumbar", "both", &[]).code(),
        0,
        "an old paper is no consent today"
    );
    reads(&room.printed(CHART), &["cabinet 2, drawer 4", "01 Jun 2021", "scan of paper"]);
}

/// Which exercise sheet, in which edition.
#[test]
fn s38_an_exercise_sheet_is_handed_over() {
    let room = with_patient();
    open_visit(&room);
    room.ok(&[
        "handout",
        CHART,
        "--title",
        "Jaw at rest",
        "--sheet",
        "J2",
        "--edition",
        "3",
        "--language",
        "en",
    ]);
    reads(&room.printed(CHART), &["Jaw at rest", "J2", "3"]);
}

/// A notice that a plan will not pay is a document of its own kind, with the answer.
#[test]
fn s39_a_notice_that_a_plan_will_not_pay() {
    let room = with_patient();
    room.ok(&[
        "document",
        CHART,
        "--kind",
        "financial-notice",
        "--title",
        "Your plan will not pay for this",
        "--wording",
        "N4",
        "--given",
        "2025-03-10",
        "--answer",
        "signed",
    ]);
    reads(&room.printed(CHART), &["Your plan will not pay for this", "financial notice", "signed"]);
}
