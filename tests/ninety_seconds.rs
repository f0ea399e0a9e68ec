//! An ordinary visit in short lines: two regions, a thrust and work inside the mouth, from opening to signature,
//! at a terminal. Nobody has more than about ninety seconds for the record of a visit, so it takes at most
//! twelve inputs of at most sixty letters, and nothing that a note needs is left open.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;

use common::room::{Room, Shown};

const CHART: &str = "PM-0112";
/// At most this many inputs: command lines as typed behind `inkfast`, and answers at a prompt.
const MOST_INPUTS: usize = 12;
/// At most this many letters in one of them.
const MOST_LETTERS: usize = 60;

/// What is typed, counted.
struct Typing<'a> {
    room: &'a Room,
    inputs: Vec<String>,
}

impl Typing<'_> {
    /// A command line as a shell splits it, and the answers at its prompts. A prompt that waits for more fails.
    fn line(&mut self, line: &str, answers: &[&str]) -> Shown {
        self.inputs.push(line.to_string());
        self.inputs.extend(answers.iter().map(|answer| (*answer).to_string()));
        let words = words(line);
        let args: Vec<&str> = words.iter().map(String::as_str).collect();
        let shown = self.room.typed(&args, Some(answers));
        assert_eq!(shown.code(), 0, "{line}\n{}", shown.all());
        shown
    }
}

/// The words of a command line; what stands between single or double quotes is one.
fn words(line: &str) -> Vec<String> {
    let (mut all, mut word, mut quote) = (Vec::new(), String::new(), None);
    for letter in line.chars() {
        match (quote, letter) {
            (Some(open), c) if c == open => quote = None,
            (None, '"' | '\'') => quote = Some(letter),
            (None, ' ') => all.extend(Some(std::mem::take(&mut word)).filter(|w| !w.is_empty())),
            (_, c) => word.push(c),
        }
    }
    assert!(quote.is_none(), "a quote is not closed: {line}");
    all.extend(Some(word).filter(|w| !w.is_empty()));
    all
}

/// A patient with everything on file: alerts and allergies reviewed, consents explained and signed.
fn patient_with_consents() -> Room {
    let room = Room::new();
    room.station("room 1").at("2025-03-03T09:00:00-05:00").patient(CHART, "Bettony Craske", "1988-07-23");
    room.ok(&["patient", "allergies", CHART, "--substances", "latex=not-allergic"]);
    room.write("paper.txt", "A signed page.\n");
    let file = room.path("paper.txt").display().to_string();
    #[rustfmt::skip]
    let paper = room.entry(&[
        "attach", CHART, &file, "--kind", "consent-paper", "--title", "Consent, signed", "--made", "2025-03-03",
        "--made-by", "The Ropewalk Rooms", "--not-made-here", "no", "--pages", "1", "--original", "kept",
        "--original-at", "cabinet 2", "--legible", "yes", "--for-desk", "no",
    ]);
    let paper = paper.to_string();
    for (kind, techniques, regions, risks) in [
        (
            "treatment",
            "thrust,soft-tissue",
            "spine",
            "soreness,disc-or-nerve,neck-artery-event,stroke,rib-or-strain",
        ),
        ("inside-mouth", "intraoral", "mouth", "soreness,jaw-ache,gag,bite-reflex,mouth-abrasion"),
    ] {
        #[rustfmt::skip]
        room.ok(&[
            "consent", CHART, "--kind", kind, "--form", "written-signed", "--wording", "F1",
            "--techniques", techniques, "--regions", regions, "--side", "both", "--given-by", "self",
            "--explained-by", "IV", "--explained-at", "2025-03-03 08:50", "--risks", risks,
            "--procedures", "what is done, and how it feels", "--alternatives", "exercises only, or nothing",
            "--questions", "does it hurt?", "--answered", "yes", "--stop-signal", "left hand up",
            "--chaperone-offered", "yes", "--chaperone", "declined", "--paper", &paper,
        ]);
    }
    room
}

/// The first visit, with the whole history; signed with nothing open.
fn first_visit(room: &Room) -> u64 {
    room.at("2025-03-03T09:10:00-05:00");
    room.ok(&["visit", "open", CHART, "--usual"]);
    room.ok(&["screen", "neck", "--all-no"]);
    room.ok(&["note", "neck both tight; neck both soft 4 relieved 6>5; lumbar R tender 3"]);
    #[rustfmt::skip]
    let note = room.entry(&[
        "sign", "--complaints",
        "words=\"low back and jaw ache\" pain=6 worst=8 region=lumbar side=right site=\"beside L4\" quality=dull \
         frequency=daily radiation=none onset=\"two weeks ago\" mechanism=digging aggravating=sitting \
         relieving=walking earlier-care=none",
        "--complaints",
        "words=\"jaw ache\" pain=5 worst=6 region=jaw side=left site=cheek quality=dull frequency=daily \
         radiation=none onset=\"a month ago\" mechanism=clenching aggravating=chewing relieving=rest \
         earlier-care=none",
        "--illness", "none", "--injuries", "none", "--medicines", "none", "--family", "none that bears on this",
        "--diagnoses", "words=\"low back pain\" basis=\"L4-5 restricted and tender on the right\" region=lumbar",
        "--diagnoses", "words=\"jaw muscle pain\" basis=\"left masseter tender\" region=jaw",
        "--considered", "what=\"nerve root\" ruled-out-by=\"no sign of it\"",
        "--advice", "walk daily, no clenching", "--watch-for", "numb leg or new headache: call 555 0199",
        "--plan", "again in a week, then thrust", "--frequency", "weekly", "--duration", "four weeks",
        "--goals", "words=\"sit an hour\" measure=minutes target=60 by=2025-04-07", "--re-examine", "2025-04-07",
    ]);
    note
}

#[test]
fn an_ordinary_visit_takes_twelve_short_inputs() {
    let room = patient_with_consents();
    let first = first_visit(&room);
    let mut typing = Typing { room: &room, inputs: Vec::new() };
    let at = |time: &str| {
        room.at(&format!("2025-03-10T{time}:00-04:00"));
    };
    at("09:00");
    typing.line("visit open PM-0112 --usual", &[]);
    typing.line("screen neck mouth --all-no", &[]);
    at("09:03");
    typing.line("note \"changed easier since Friday; pain 5 before\"", &[]);
    typing.line("note \"opening 38 before; neck both tight; L4-5 R restricted\"", &[]);
    typing.line("note 'masseter L tender 2; inside cheek L skin \"no sores\"'", &[]);
    at("09:06");
    typing.line("asked thrust L4-5 R yes, intraoral L yes", &[]);
    at("09:08");
    typing.line("note \"neck both soft 4 ok; L4-5 R thrust side-lying 5>3\"", &[]);
    at("09:14");
    typing.line("note 'masseter L intraoral nitrile fresh 3x30s relieved 3>2'", &[]);
    typing.line("note \"opening 43 after; check comfort 8; plan again Friday\"", &[]);
    at("09:18");
    let signed = typing.line("sign --compared 'better' --carry assessment,advice", &["yes"]);

    let count = typing.inputs.len();
    assert!(count <= MOST_INPUTS, "{count} inputs: {:#?}", typing.inputs);
    for input in &typing.inputs {
        assert!(input.len() <= MOST_LETTERS, "{} letters: {input}", input.len());
    }
    // Nothing was left open, and nothing was signed as known to be missing.
    assert!(
        !signed.said.contains("Missing:") && !signed.said.contains("Worth a question"),
        "{}",
        signed.said
    );
    assert!(signed.said.contains(&format!("Carried forward from number {first}")), "{}", signed.said);
    let entries = room.json(&["print", CHART, "--why", "review"]);
    let note = entries.as_array().unwrap().iter().rfind(|entry| entry["kind"] == "visit").unwrap();
    let data = &note["record"]["data"];
    assert!(data.get("missing_acknowledged").is_none() && data.get("not_done").is_none(), "{data}");
    assert_eq!(note["record"]["happened"]["end"], "2025-03-10T09:18:00-04:00");
    assert_eq!(data["procedures"].as_array().unwrap().len(), 3);
    assert_eq!(data["agreed"]["asked"].as_array().unwrap().len(), 2);
    assert_eq!(data["screens"].as_array().unwrap().len(), 2);
    let page = room.printed(CHART);
    let visit = page.rfind("easier since Friday").map(|at| page[at..].to_string()).unwrap();
    println!("{visit}");
    for words in [
        "L4-L5",
        "nitrile",
        "fresh pair",
        "no sores",
        "38 mm",
        "43 mm",
        "again Friday",
        "numb leg or new headache: call 555 0199",
        "low back pain",
        &format!("from no. {first}: looked through, still right"),
    ] {
        assert!(page.contains(words), "not on the page: {words}\n{page}");
    }
}
