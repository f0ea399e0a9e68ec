//! Guided runs: the answers of a day in the invented practice, everything else Enter.

use super::*;

/// The data a guided run of this form ends with.
fn guided(name: &str, start: Value, answers: &[(&str, &str)]) -> Value {
    by_hand(&form_of(name).form, start, answers)
}

fn check(name: &str, start: Value, answers: &[(&str, &str)], computed: &[(&str, Value)]) -> Value {
    let asks = form_of(name);
    for (path, _) in computed {
        assert!(asks.computed.contains(path), "{name}: {path} is not said to be computed");
    }
    let data = by_hand(&asks.form, start, answers);
    accepted(asks.kind, data.clone(), computed);
    data
}

fn visit() -> [(&'static str, Value); 1] {
    [("/visit", json!(12))]
}

#[test]
fn a_chart_is_opened() {
    let data = check(
        "patient",
        json!({"chart_no": "PM-0112"}),
        &[
            ("name", "Bettony Craske"),
            ("born", "1988-07-23"),
            ("address", "3 Weir Street, Pellmere"),
            ("telephones", "0555 0112, 0555 0113"),
            ("no-emergency-contact-because", "would rather not say"),
            ("instrument", "bass trombone, 3 h a day"),
        ],
        &[],
    );
    assert_eq!(
        data["identity"]["second_identifier"],
        json!({"kind": "address", "value": "3 Weir Street, Pellmere"})
    );
    assert_eq!(data["identity"]["privacy_notice"], json!({"status": "given", "on": "2025-07-14"}));
    assert_eq!(data["identifiers_seen"], json!(["licence-card", "birth-date"]));
}

#[test]
fn a_birth_date_nobody_knows_is_estimated() {
    let data = check(
        "patient",
        json!({"chart_no": "PM-0121"}),
        &[
            ("name", "Leopold Marchbanks-Iver"),
            ("born-about", "1946"),
            ("born-words", "as his son reckons"),
            ("second-identifier", "other"),
            ("identifier", "retired from the rope works"),
            ("emergency-name", "Perpetua Iver"),
            ("emergency-relation", "daughter"),
            ("emergency-telephone", "0555 0121"),
            ("privacy-notice", "refused"),
            ("privacy-because", "reads nothing of the kind"),
        ],
        &[],
    );
    assert_eq!(data["identity"]["emergency_contact"]["name"], json!("Perpetua Iver"));
}

#[test]
fn only_what_changed_is_asked_and_the_rest_stays() {
    let before = json!({
        "legal_name": "Caspian Ruddle", "birth_date": {"estimated_year": 2007},
        "second_identifier": {"kind": "address", "value": "9 Weir Street"}, "language": "en",
        "emergency_contact": {"name": "Ilse Ruddle", "relation": "mother", "telephone": "0555 0119"},
        "privacy_notice": {"status": "given"}, "decision_maker": "guardian", "sport": "rowing", "dentist": "Dr Oke"
    });
    let mut data = guided(
        "identity",
        json!({}),
        &[
            ("changed", "decision_maker, restrictions, birth_date, dentist"),
            ("because", "of age since 14 Jun 2025"),
            ("born", "2007-06-14"),
            ("decides", "self"),
            ("restrictions", "give nothing to my parents"),
        ],
    );
    super::super::chart::with_identity(&mut data, &before);
    let identity = &data["identity"];
    assert_eq!(identity["birth_date"], json!({"date": "2007-06-14"}));
    assert_eq!((&identity["sport"], identity.get("dentist")), (&json!("rowing"), None));
    accepted("identity-changed", data, &[]);

    // With flags alone, what changed is seen from what was given.
    let form = super::super::chart::identity();
    let args = ["--because", "moved", "--address", "4 Quay"];
    let mut data = by_flags(&form, json!({}), &args);
    assert_eq!(data["changed"], json!(["address"]));
    super::super::chart::with_identity(&mut data, &before);
    assert_eq!(
        (&data["identity"]["address"], &data["identity"]["language"]),
        (&json!("4 Quay"), &json!("en"))
    );
    accepted("identity-changed", data, &[]);
}

#[test]
fn those_who_decide_and_what_is_minded() {
    check(
        "guardian",
        json!({}),
        &[
            ("person-id", "dm-1"),
            ("name", "Ilse Ruddle"),
            ("relation", "mother"),
            ("basis", "court"),
            ("on-file", "yes"),
            ("document-seen", "order of joint custody"),
            ("document", "58"),
            ("may-consent", "yes"),
            ("may-receive", "yes"),
            ("last-day", "2025-06-13"),
        ],
        &[],
    );
    let data = check(
        "allergies",
        json!({}),
        &[
            ("substances", "latex=allergic, nickel=not-allergic"),
            (
                "reaction",
                "substance=latex reaction=lip swelling severity=moderate when=2019 place=at a dentist",
            ),
        ],
        &[],
    );
    assert_eq!(data["substances"], json!({"latex": "allergic", "nickel": "not-allergic"}));
    assert_eq!(data["details"][0]["reaction"], json!("lip swelling"));
    check("alert", json!({}), &[("kind", "anticoagulant"), ("what", "blood thinner since 2020")], &[]);
    check("capacity", json!({}), &[("state", "doubt-raised"), ("seen", "drowsy after the dentist")], &[]);
    check("capacity", json!({}), &[("state", "doubt-resolved"), ("of", "44"), ("seen", "awake, clear")], &[]);
}

#[test]
fn what_becomes_of_a_chart() {
    check(
        "chart-state",
        json!({}),
        &[("state", "deceased"), ("died", "2025-01-08"), ("told-by", "daughter")],
        &[("/last_treated", json!("2024-12-09")), ("/keep_until", json!("2031-12-09"))],
    );
    check("chart-state", json!({}), &[("state", "closed"), ("continue-at", "PM-0139")], &[]);
    let answers = [
        ("direction", "continue-at"),
        ("other", "PM-0139"),
        ("because", "same birth date, phone spelling"),
        ("looked-at", "interpreter: missing on the consent of 4 Mar"),
    ];
    check("joined", json!({}), &answers, &[]);
    let answers = [
        ("entry", "2200"),
        ("found", "2024-05-06 15:20"),
        ("because", "signed with the wrong chart open"),
        ("re-entered", "yes"),
    ];
    check("misfiled", json!({"found_by": "TR"}), &answers, &[]);
}

#[test]
fn consent_to_care() {
    let data = check(
        "consent",
        json!({"narrower_than": [17]}),
        &[
            ("kind", "inside-mouth"),
            ("form", "written-signed"),
            ("wording", "F1"),
            ("techniques", "intraoral, soft-tissue"),
            ("regions", "mouth, jaw-muscles"),
            ("side", "right"),
            ("allowed", "named"),
            ("allowed-who", "IV"),
            ("conditions", "kind=glove-material values=nitrile"),
            ("conditions", "kind=read-aloud words=Stop at once when I raise my left hand"),
            ("explained-by", "IV"),
            ("explained-at", "09:48"),
            ("risks", "soreness, jaw-ache, gag, bite-reflex, mouth-abrasion"),
            ("rest", "kept"),
            ("stop-signal", "raised left hand"),
            ("chaperone-offered", "yes"),
            ("chaperone", "declined"),
        ],
        &visit(),
    );
    // Half a year, counted so that the last day is the day before.
    assert_eq!((&data["valid_from"], &data["valid_until"]), (&json!("2025-07-14"), &json!("2026-01-13")));
}

#[test]
fn consent_outside_care_and_consent_declined() {
    let data = check(
        "consent",
        json!({}),
        &[
            ("kind", "pictures-for-teaching"),
            ("form", "verbal-recorded"),
            ("no-wording-because", "no printed form for this"),
            ("matter", "3-minute clip, jaw only, face covered"),
            ("heard-by", "HL"),
        ],
        &visit(),
    );
    assert_eq!((&data["rest_of_earlier"], data.get("valid_until")), (&json!("not-applicable"), None));
    check(
        "consent",
        json!({}),
        &[
            ("kind", "treatment"),
            ("status", "declined"),
            ("form", "verbal-recorded"),
            ("no-wording-because", "declined before it was read"),
            ("techniques", "thrust"),
            ("regions", "cervical"),
            ("side", "both"),
            ("given-by", "decision-maker"),
            ("giver", "dm-1"),
            ("interpreter", "5521"),
            ("interpreter-language", "uk"),
            ("declined-because", "afraid of it; told that gentler work may take longer"),
        ],
        &visit(),
    );
}

#[test]
fn what_is_said_in_a_visit() {
    let data = check(
        "withdraw",
        json!({}),
        &[
            ("regions", "cervical"),
            ("patient-words", "no more of my neck"),
            ("under-way", "neck mobilization"),
            ("stopped", "all neck work"),
            ("stopped-at", "10:12"),
            ("on-leaving", "light-headed; 148/86"),
            ("left-with", "his son"),
        ],
        &visit(),
    );
    assert_eq!((&data["techniques"], &data["regions"]), (&Value::Null, &json!(["cervical"])));
    check(
        "withdraw",
        json!({}),
        &[("no-words-because", "turned away, said nothing"), ("how", "turned")],
        &visit(),
    );
    let data = check("pause", json!({}), &[("how", "raised-hand")], &visit());
    assert_eq!(data["kind"], json!("pause"));
    check("pause", json!({}), &[("kind", "resumed"), ("of", "31"), ("why", "said yes")], &visit());
    check("refusal", json!({}), &[("techniques", "thrust"), ("regions", "cervical")], &visit());
    let answers = [
        ("technique", "intraoral"),
        ("region", "mouth"),
        ("side", "right"),
        ("answer", "yes"),
        ("asked-by", "SA"),
    ];
    check("asked", json!({}), &answers, &visit());
    let limited = [
        ("technique", "mobilization"),
        ("region", "cervical"),
        ("side", "right"),
        ("answer", "yes-with"),
        ("limit", "only lying down"),
    ];
    check("asked", json!({"asked_by": "IV"}), &limited, &visit());
    check("own-answer", json!({}), &[("answer", "yes")], &visit());
    check("condition", json!({}), &[("kind", "guardian-in-building"), ("who", "Ilse Ruddle")], &visit());
    check("emergency", json!({}), &[("what", "fainted; laid down, legs up")], &[]);
    check(
        "emergency",
        json!({}),
        &[("state", "ended"), ("of", "40"), ("what", "awake, left with son")],
        &visit(),
    );
}

#[test]
fn a_visit_opens_with_enter_alone() {
    let data = check("visit-open", json!({"practitioners": ["IV"], "room": "room 1"}), &[], &[]);
    assert_eq!(data["identity_confirmed"]["identifiers"], json!(["full-name", "birth-date"]));
    assert_eq!(data["identity_confirmed"]["at"], json!("2025-07-14T10:14:00-04:00"));
    let data = check(
        "visit-open",
        json!({}),
        &[
            ("practitioners", "IV"),
            ("identifiers", "-"),
            ("no-room-because", "at the patient's home"),
            ("present", "part=son name=Ansel Iver"),
        ],
        &[],
    );
    assert_eq!(data.get("identity_confirmed"), None);
    let later = check("visit-identity", json!({}), &[("confirmed", "2025-07-14 10:05")], &visit());
    assert_eq!(later["identity_confirmed"]["identifiers"], json!(["full-name", "birth-date"]));
    assert_eq!(later["identity_confirmed"]["at"], json!("2025-07-14T10:05:00-04:00"));
    check("visit-close", json!({}), &[("next-visit", "2025-07-21")], &visit());
}

#[test]
fn around_the_treatment() {
    let mut data = guided(
        "measure",
        json!({}),
        &[
            ("phase", "before"),
            ("measures", "kind=mouth-opening-unassisted value=34"),
            ("measures", "kind=jaw-lateral value=6 side=left"),
            ("measures", "kind=blood-pressure value=142 second=84"),
        ],
    );
    super::super::visit::fill_units(&mut data);
    assert_eq!(data["measures"][2]["unit"], json!("mmHg"));
    accepted("measure", data, &visit());
    check("change", json!({}), &[("kind", "trauma"), ("told", "van collision on Friday")], &visit());
    check("written-reason", json!({}), &[("alert", "21"), ("because", "soft work only, seated")], &visit());
}

#[test]
fn a_note_from_its_parts() {
    let finding = guided(
        "finding",
        json!({}),
        &[
            ("kind", "tenderness"),
            ("region", "jaw-muscles"),
            ("side", "both"),
            ("structure", "masseter"),
            ("grade", "2"),
        ],
    );
    let measured = by_flags(
        &form_of("finding").form,
        json!({}),
        &["--kind", "range-of-motion", "--region", "cervical", "--measured", "neck-flexion", "--value", "40"],
    );
    let in_mouth = guided(
        "procedure",
        json!({"done_by": "SA"}),
        &[
            ("technique", "intraoral"),
            ("region", "mouth"),
            ("side", "right"),
            ("gloves", "nitrile"),
            ("fresh-pair", "yes"),
            ("response", "tolerated"),
            ("pain", "3"),
        ],
    );
    let neck = guided(
        "procedure",
        json!({"done_by": "SA"}),
        &[
            ("technique", "mobilization"),
            ("region", "neck-joints"),
            ("side", "right"),
            ("segments", "C5/6"),
            ("begun", "10:05"),
            ("no-response-because", "the patient had to leave"),
            ("grade", "III"),
        ],
    );
    let before =
        guided("recheck", json!({}), &[("phase", "before"), ("measured", "mouth-opening"), ("value", "43")]);
    let after =
        guided("recheck", json!({}), &[("phase", "after"), ("measured", "mouth-opening"), ("value", "45")]);
    assert_eq!(after["measured"]["unit"], json!("mm"));
    let start = json!({
        "practitioners": ["SA"], "findings": [finding, measured], "procedures": [in_mouth, neck],
        "measures": [before, after], "agreed": {"consents": [90], "asked": [91]}, "screens": [89]
    });
    let mut note = guided(
        "note",
        start,
        &[
            ("changed", "nothing new"),
            ("complaints", "words=jaw pain, right pain=4 side=right site=in front of the ear"),
            ("complaints", "words=stiff neck pain=2"),
            ("compared", "better"),
            ("advice", "soft food, shorter practice"),
            ("no-watch-for-because", "said last week, sheet J2"),
            ("plan", "again in a week"),
            ("goals", "words=full practice measure=mouth opening target=45 mm by=2025-09-01"),
        ],
    );
    super::super::note::finish_note(&mut note);
    assert_eq!(note["findings"][1]["no"], json!(2));
    assert_eq!(note["findings"][1]["measured"]["unit"], json!("deg"));
    assert_eq!((&note["complaints"][1]["no"], &note["procedures"][1]["no"]), (&json!(2), &json!(2)));
    accepted("visit", note, &visit());
}

#[test]
fn a_note_with_nothing_done_says_why() {
    let mut note = guided(
        "note",
        json!({"practitioners": ["IV"]}),
        &[
            ("sort", "first"),
            ("changed-not-asked-because", "first visit"),
            ("no-findings-because", "talk only"),
            ("no-assessment-because", "nothing examined"),
            ("no-advice-because", "nothing to advise yet"),
            ("no-plan-because", "the patient will think about it"),
            ("medicines", "none"),
        ],
    );
    super::super::note::finish_note(&mut note);
    assert_eq!(note["advice"], json!({"not_done_because": "nothing to advise yet"}));
    accepted("visit", note, &visit());
    // Every part with a value or a reason, and numbers that are there are kept.
    let mut numbered = json!({"procedures": [{"no": 4}, {}, {"no": 2}, {}]});
    super::super::note::finish_note(&mut numbered);
    assert_eq!(numbered["procedures"], json!([{"no": 4}, {"no": 5}, {"no": 2}, {"no": 6}]));
}

#[test]
fn what_follows_a_visit() {
    let data = check(
        "correct",
        json!({}),
        &[
            ("entry", "700"),
            ("field", "/procedures/0/side"),
            ("is", "right"),
            ("because", "slip in writing"),
            ("care-affected", "no"),
            ("told", "2023-05-09 08:52"),
        ],
        &[("/was", json!("left"))],
    );
    assert_eq!(data["is"], json!("right"));
    check(
        "addendum",
        json!({}),
        &[("entry", "1300"), ("text", "X-ray report: no fracture"), ("attachments", "7, 8")],
        &[("/for_desk", json!(false))],
    );
    check(
        "late",
        json!({}),
        &[("text", "told to rest"), ("because", "left out before leaving"), ("source", "a draft")],
        &visit(),
    );
    check(
        "contact",
        json!({}),
        &[
            ("direction", "incoming"),
            ("with", "Tamsin Okoro-Bligh"),
            ("checked", "birth date"),
            ("said", "sore 6/10, sharp on a deep breath"),
            ("screen", "general"),
            ("answers", "item=chest-pain answer=no"),
            ("answers", "item=fever answer=no"),
            ("advice", "rest, heat"),
        ],
        &[],
    );
    let data = check(
        "contact",
        json!({}),
        &[
            ("channel", "no-show"),
            ("direction", "none"),
            ("nobody-because", "did not come"),
            ("said", "message left, no details"),
        ],
        &[],
    );
    assert_eq!(data["with"], json!({"not_done_because": "did not come"}));
    check(
        "contact",
        json!({}),
        &[
            ("direction", "outgoing"),
            ("with", "Ilse Ruddle"),
            ("relation", "mother"),
            ("not-checked-because", "voice known"),
            ("said", "comes at once"),
        ],
        &[],
    );
}

#[test]
fn referrals_reactions_and_papers() {
    let answers = [
        ("referred-to", "family doctor"),
        ("because", "light-headed"),
        ("sent-how", "letter"),
        ("expect-by", "2025-07-28"),
    ];
    check("refer", json!({}), &answers, &visit());
    check("refer-answer", json!({}), &[("referral", "815")], &[]);
    check(
        "refer-answer",
        json!({}),
        &[("referral", "815"), ("outcome", "none-chased"), ("chased", "today")],
        &[],
    );
    check(
        "reaction",
        json!({}),
        &[
            ("what", "rib soreness"),
            ("began", "2025-07-13 19:00"),
            ("technique", "thrust"),
            ("region", "thoracic"),
            ("severity", "mild"),
            ("done", "rest, heat"),
            ("procedures", "note=1200 procedure=1"),
        ],
        &visit(),
    );
    check(
        "reaction-recheck",
        json!({}),
        &[("reaction", "1210"), ("how", "less sore"), ("known-by", "call"), ("follow-up", "2025-07-20")],
        &visit(),
    );
    check(
        "reaction-closed",
        json!({}),
        &[("reaction", "1210"), ("outcome", "well"), ("closed-with", "call")],
        &visit(),
    );
    let sealed = [
        ("/plain_digest", json!("0123456789abcdef".repeat(4))),
        ("/sealed_digest", json!("fedcba9876543210".repeat(4))),
        ("/size", json!(20_480)),
        ("/media_type", json!("image/png")),
    ];
    check(
        "attach",
        json!({}),
        &[
            ("kind", "imaging-report"),
            ("title", "X-ray of the neck"),
            ("made", "2025-07-01"),
            ("maker-unknown-because", "not signed"),
            ("not-made-here", "yes"),
            ("original", "kept"),
            ("legible", "yes"),
        ],
        &sealed,
    );
    check("handout", json!({}), &[("title", "Jaw at rest"), ("sheet", "J2"), ("edition", "1")], &visit());
}

#[test]
fn at_the_desk() {
    check(
        "request",
        json!({}),
        &[("from", "Nadezhda Pruitt"), ("text", "whole chart, electronic"), ("checked", "passport card")],
        &[("/due", json!("2025-08-13")), ("/clock", json!("access, 30 days"))],
    );
    check(
        "release",
        json!({"request": 3000}),
        &[
            ("recipient-name", "Nadezhda Pruitt"),
            ("no-address-because", "fetched in person"),
            ("basis", "patient"),
            ("channel", "handed over"),
            ("checked-by", "HL"),
            ("fee", "0"),
        ],
        &[
            ("/what", json!({"entries": 41, "up_to": 3010})),
            ("/withheld", json!([{"entry": 2200, "ground": "another person's", "slip": true}])),
            ("/sealed", json!("to-passphrase")),
            ("/counts_for_accounting", json!(false)),
        ],
    );
    let opened = [("/opened", json!("whole-chart")), ("/exported", json!(false)), ("/printed", json!(false))];
    check("access-reason", json!({}), &[("why", "other"), ("reason", "monthly look at openings")], &opened);
    check("access-reason", json!({}), &[("why", "request"), ("request", "3000")], &opened);
    check("document", json!({}), &[("kind", "privacy-notice"), ("title", "How we keep your record")], &[]);
    let answers = [
        ("kind", "financial-notice"),
        ("title", "Fees"),
        ("given", "-"),
        ("not-given-because", "left before"),
    ];
    check("document", json!({}), &answers, &[]);
}

#[test]
fn the_register() {
    check(
        "practice",
        json!({"custodian": "IV"}),
        &[
            ("practice", "The Ropewalk Rooms"),
            ("address", "14 Hemp Lane, Pellmere"),
            ("territory", "Lower Marl"),
            ("regulator", "Lower Marl Board of Manual Practice"),
            ("clock", "UTC-5, summer time -4 from the second Sunday of March"),
            ("rooms", "room 1, room 2"),
            ("hours", "day=monday from=08:00 until=19:00"),
            ("hours", "day=friday from=08:00 until=19:00"),
        ],
        &[],
    );
    let data = check(
        "staff",
        json!({}),
        &[
            ("code", "SA"),
            ("name", "Sunniva Achterberg"),
            ("role", "chiropractor"),
            ("techniques", "examination, soft-tissue, intraoral"),
            ("licence", "LM-C-0531"),
            ("licence-last-day", "2026-12-31"),
        ],
        &[],
    );
    assert_eq!((&data["initials"], &data["on_roster_from"]), (&json!("SA"), &json!("2025-07-14")));
    check("staff", json!({}), &[("code", "HL"), ("name", "Hattie Lorch"), ("role", "desk")], &[]);
    check(
        "rules",
        json!({"adopted_by": "IV"}),
        &[("name", "Demo rules"), ("edition", "1")],
        &[("/document", json!({"coverage": {}}))],
    );
    check(
        "wording",
        json!({}),
        &[
            ("code", "F2"),
            ("title", "Consent to care"),
            ("text", "I have been told ..."),
            ("use-for", "consent"),
        ],
        &[],
    );
    check(
        "clock",
        json!({}),
        &[
            ("state", "opened-and-closed"),
            ("at-station", "desk"),
            ("what", "one hour behind since opening"),
            ("seconds", "-3600"),
            ("covers", "2101, 2102"),
        ],
        &[],
    );
    let counted = [
        ("/day", json!("2025-07-14")),
        ("/first", json!(1)),
        ("/last", json!(3)),
        ("/entries", json!(3)),
        ("/by_kind", json!([{"kind": "visit", "count": 3}])),
        ("/slip_words", json!("rope ferry brass")),
        ("/unfinished", json!(0)),
    ];
    check("day-close", json!({}), &[("slip-kept", "day book, page 12")], &counted);
    let counted = [("/store_entries", json!(10)), ("/outside_entries", json!(12))];
    check("behind", json!({"found_by": "IV"}), &[("because", "restored from the copy of Monday")], &counted);
}
