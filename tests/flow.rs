//! What is said in the room, one short line each, through the real commands: the open visit is implied, the words
//! stand in any order, a doubt is refused with its readings, and a withdrawal waits for nothing.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

#[path = "common/desk.rs"]
mod desk;

use desk::{Desk, code, text};
use inkfast::cli::app;
use inkfast::cli::exit::Exit;
use inkfast::cli::prompt::ScriptedAsker;
use inkfast::world::World;
use serde_json::{Value, json};

const CHART: &str = "PM-0112";
const OTHER: &str = "PM-0113";

fn desk() -> Desk {
    let desk = Desk::set_up();
    desk.patient(CHART, "Bettony Craske", "1988-07-23");
    desk.patient(OTHER, "Odmar Fenn", "1979-02-11");
    desk
}

#[test]
fn a_visit_in_short_lines_without_naming_the_chart() {
    let desk = desk();
    desk.refused(4, &["asked", "thrust", "cervical", "right", "yes"], "No visit is open for you at room 1");
    let visit = desk.entry(&["visit", "open", CHART, "--usual"]);
    assert_eq!(desk.data(CHART, &visit)["room"], "room 1");
    let number: u64 = visit.parse().unwrap();

    let asked = desk.entry(&["asked", "thrust", "cervical", "right", "yes"]);
    assert_eq!(
        desk.data(CHART, &asked),
        json!({ "visit": number, "technique": "thrust", "region": "cervical", "side": "right", "asked_by": "IV", "answer": "yes" })
    );
    let said = desk.ok(&["asked", "C5-6", "R", "thrust", "yes"]);
    assert!(said.contains(CHART) && said.contains("thrust, cervical, right, yes"), "{said}");
    let no = desk.entry(&["asked", "intraoral", "L", "no", "not today"]);
    let no = desk.data(CHART, &no);
    assert_eq!((&no["region"], &no["side"], &no["answer"]), (&json!("mouth"), &json!("left"), &json!("no")));
    assert_eq!(no["words"], "not today");
    let limit = desk.entry(&["asked", "mob", "lumbar", "both", "limit", "says only gently"]);
    assert_eq!(desk.data(CHART, &limit)["limit_words"], "only gently");
    let parent = desk.entry(&["asked", "examination", "jaw", "both", "yes", "dm-1"]);
    assert_eq!(
        desk.data(CHART, &parent)["answered_by"],
        json!({ "role": "decision-maker", "person_id": "dm-1" })
    );

    let pause = desk.entry(&["pause", "needs a minute"]);
    assert_eq!(desk.data(CHART, &pause)["reason"], "needs a minute");
    desk.refused(4, &["pause", "yes"], "goes with going on");
    desk.refused(4, &["pause", "resume", "no"], "nothing goes on");
    let resumed = desk.entry(&["pause", "resume", "yes"]);
    let resumed = desk.data(CHART, &resumed);
    assert_eq!(
        (&resumed["kind"], &resumed["of"]),
        (&json!("resumed"), &json!(pause.parse::<u64>().unwrap()))
    );
    assert!(resumed["resumed_yes_at"].is_string());
    desk.refused(4, &["pause", "resume", "yes"], "No pause of this visit");

    desk.ok(&["now", "4"]);
    desk.ok(&["now", "comfort", "8/10", "a bit sore"]);
    let marked = desk.json(&["mark"]);
    assert_eq!((&marked["chart"], &marked["line"]), (&json!(CHART), &json!(3)));
    desk.ok(&["mark", "--of", "3", "let go of the jaw"]);
    desk.refused(4, &["mark", "--of", "3", "again"], "has words already");
    desk.refused(4, &["now", "eleven"], "no word that is known");
    desk.refused(4, &["now"], "The number is missing");

    let note = sign(&desk);
    let checks = desk.data(CHART, &note)["checks"].clone();
    let told: Vec<(&Value, &Value, &Value)> =
        checks.as_array().unwrap().iter().map(|c| (&c["question"], &c["number"], &c["words"])).collect();
    assert_eq!(
        told,
        [
            (&json!("pain"), &json!(4), &Value::Null),
            (&json!("comfort"), &json!(8), &json!("a bit sore")),
            (&json!("other"), &Value::Null, &json!("let go of the jaw")),
        ]
    );
}

fn sign(desk: &Desk) -> String {
    #[rustfmt::skip]
    let note = desk.entry(&[
        "sign", CHART, "--changed", "easier", "--no-assessment-because", "as last time",
        "--no-findings-because", "as last time", "--advice", "rest", "--watch-for", "numbness: call us",
        "--plan", "again next week", "--sort", "later", "--acknowledge-missing",
    ]);
    note
}

#[test]
fn a_doubt_is_refused_with_its_readings_and_nothing_is_recorded() {
    let desk = desk();
    desk.ok(&["visit", "open", CHART, "--usual"]);
    let before = desk.entries(CHART);
    let said = desk.refused(4, &["asked", "thrust", "neck", "right", "yes"], "\"neck\" could be: cervical");
    assert!(said.contains("neck-joints") && said.contains("Nothing was"), "{said}");
    desk.refused(4, &["asked", "thrust", "C7-T1", "right", "yes"], "could be: cervical, thoracic");
    // With the word first, where a chart number may stand, and behind the number of the chart.
    desk.refused(4, &["asked", "T12", "thrust", "right", "yes"], "\"T12\" could be: T12, T1-T2");
    desk.refused(4, &["asked", CHART, "T12", "thrust", "right", "yes"], "\"T12\" could be: T12, T1-T2");
    desk.refused(4, &["asked", "thrust", "cervical", "rihgt", "yes"], "\"rihgt\" is no word");
    desk.refused(4, &["asked", "thrust", "cervical", "left", "right", "yes"], "only one can be");
    desk.refused(4, &["asked", "thrust", "cervical", "right"], "--answer");
    desk.refused(2, &["asked", "PM-9999", "thrust", "cervical", "right", "yes"], "No chart with this number");
    desk.refused(2, &["withdraw", "PM-9999", "all"], "No chart with this number");
    assert_eq!(desk.entries(CHART), before);
    // Words and options together.
    desk.ok(&[
        "asked",
        CHART,
        "thrust",
        "right",
        "--region",
        "cervical",
        "--answer",
        "yes",
        "--heard-by",
        "IV",
    ]);
}

#[test]
fn with_two_visits_open_the_chart_must_be_said_and_another_room_is_another_matter() {
    let desk = desk();
    desk.ok(&["visit", "open", CHART, "--usual"]);
    let elsewhere = desk.run_at("room 2", &["visit", "open", OTHER, "--usual"]);
    assert_eq!(code(&elsewhere), 0, "{}", text(&elsewhere));
    assert!(desk.ok(&["asked", "taping", "knee", "left", "yes"]).contains(CHART));
    let other = desk.run_at("room 2", &["asked", "taping", "knee", "left", "yes"]);
    assert!(text(&other).contains(OTHER), "{}", text(&other));
    assert_eq!(code(&desk.run_at("desk", &["asked", "taping", "knee", "left", "yes"])), 4);
    sign(&desk);
    desk.refused(4, &["asked", "taping", "knee", "left", "yes"], "No visit is open");

    desk.ok(&["visit", "open", CHART, "--usual"]);
    desk.ok(&["visit", "close", OTHER]);
    desk.ok(&["visit", "open", OTHER, "--usual"]);
    let said = desk.refused(4, &["pause", "stop"], "Several visits are open");
    assert!(said.contains(CHART) && said.contains(OTHER), "{said}");
    assert!(desk.ok(&["pause", OTHER, "stop"]).contains(OTHER));
}

#[test]
fn a_withdrawal_is_sealed_at_once_and_completed_after() {
    let desk = desk();
    desk.ok(&["visit", "open", CHART, "--usual"]);
    let all = desk.entry(&["withdraw", "all", "raised-hand"]);
    let data = desk.data(CHART, &all);
    assert_eq!(
        (&data["techniques"], &data["regions"], &data["side"]),
        (&Value::Null, &Value::Null, &Value::Null)
    );
    assert_eq!(data["how"], "raised-hand");
    assert_eq!(data["patient_words"], json!({ "not_done_because": "no words: raised hand" }));
    let left = desk.entry(&["withdraw", "intraoral", "left", "says stop"]);
    let first = desk.record(CHART, &left);
    assert_eq!(first["data"]["techniques"], json!(["intraoral"]));
    assert_eq!((&first["data"]["side"], &first["data"]["patient_words"]), (&json!("left"), &json!("stop")));

    #[rustfmt::skip]
    let rest = desk.entry(&[
        "withdraw", CHART, "--completes", &left, "--under-way", "right cheek", "--stopped", "all of it",
        "--stopped-at", "now", "--on-leaving", "settled", "--next-step", "a call tomorrow",
    ]);
    let rest = desk.record(CHART, &rest);
    assert_eq!(rest["data"]["completes"].to_string(), left);
    assert_eq!(rest["data"]["techniques"], first["data"]["techniques"]);
    assert_eq!(rest["happened"], first["happened"], "it works from the moment it was said");
    assert_eq!(rest["data"]["stopped"]["what"], "all of it");
    assert!(rest["refers"].to_string().contains(&left));
    desk.refused(4, &["withdraw", CHART, "--completes", "1"], "is no withdrawal");

    // A word that is not understood makes it wider, never less, and never waits.
    let output = desk.run(&["withdraw", "thrust", "nekc", "left", "--json"]);
    assert_eq!(code(&output), 0);
    assert!(text(&output).contains("Not understood: nekc"), "{}", text(&output));
    let sealed: Value = serde_json::from_slice(&output.stdout).unwrap();
    let data = desk.data(CHART, &sealed["entry"].to_string());
    assert_eq!((&data["techniques"], &data["side"]), (&Value::Null, &json!("left")));
    assert_eq!(data["patient_words"], "as typed: nekc");
    assert_eq!(
        code(&desk.run(&[
            "may",
            CHART,
            "--technique",
            "thrust",
            "--region",
            "cervical",
            "--side",
            "left",
            "--why",
            "visit"
        ])),
        1
    );
}

fn consent(desk: &Desk, extra: &[&str]) -> Value {
    #[rustfmt::skip]
    let args = [
        "consent", CHART, "--kind", "treatment", "--form", "written-signed", "--wording", "F1",
        "--explained-by", "IV", "--explained-at", "now", "--given-by", "self",
    ];
    desk.json(&[&args, extra].concat())
}

#[test]
fn a_narrower_consent_asks_about_the_rest() {
    let desk = desk();
    let wide =
        consent(&desk, &["--techniques", "mobilization,soft-tissue", "--regions", "spine", "--side", "both"]);
    let wide = wide["entry"].to_string();
    desk.ok(&["visit", "open", CHART, "--usual"]);
    let may = || {
        #[rustfmt::skip]
        let asked = [
            "may", CHART, "--technique", "mobilization", "--region", "thoracic", "--side", "left", "--json",
        ];
        let output = desk.run(&asked);
        let answer: Value = serde_json::from_slice(&output.stdout).unwrap();
        let rules: Vec<String> = answer["reasons"]
            .as_array()
            .unwrap()
            .iter()
            .map(|r| r["rule"].as_str().unwrap().to_string())
            .collect();
        (code(&output), rules)
    };
    assert_eq!(may(), (0, vec![]), "covered by the wide consent");
    let narrow = consent(&desk, &["--techniques", "mobilization", "--regions", "lumbar", "--side", "both"]);
    let narrow = narrow["entry"].to_string();
    let data = desk.data(CHART, &narrow);
    assert_eq!(data["narrower_than"].to_string(), format!("[{wide}]"));
    assert_eq!(data["rest_of_earlier"], "not-asked");
    assert_eq!(may(), (3, vec!["D11".to_string()]), "nobody asked about the rest");
    let list = desk.json(&["open", CHART]);
    assert!(list["items"].as_array().unwrap().iter().any(|i| i["kind"] == "rest-not-asked"), "{list}");

    desk.ok(&["rest", CHART, "--consent", &narrow, "--answer", "kept"]);
    assert_eq!(may(), (0, vec![]));
    // Said with the consent itself, and a wider one is narrower than none.
    #[rustfmt::skip]
    let taken = consent(&desk, &[
        "--techniques", "mobilization", "--regions", "sacral", "--side", "both", "--rest", "withdrawn",
    ]);
    let data = desk.data(CHART, &taken["entry"].to_string());
    assert_eq!(
        (&data["rest_of_earlier"], &data["narrower_than"].to_string()),
        (&json!("withdrawn"), &format!("[{wide}]"))
    );
    assert_eq!(may().0, 1);
    let again =
        consent(&desk, &["--techniques", "mobilization,soft-tissue", "--regions", "spine", "--side", "both"]);
    let data = desk.data(CHART, &again["entry"].to_string());
    assert_eq!((data.get("narrower_than"), &data["rest_of_earlier"]), (None, &json!("not-applicable")));
    assert_eq!(may(), (0, vec![]));
}

/// A command as typed in room 1 of this desk, to be run in this process.
fn here(desk: &Desk, args: &[&str]) -> clap::ArgMatches {
    let [store, outside, pw] =
        ["store", "state/inkfast", "pw"].map(|name| desk.path(name).display().to_string());
    #[rustfmt::skip]
    let who = [
        "--store", &store, "--outside", &outside, "--as", "IV", "--passphrase-file", &pw, "--station", "room 1",
    ];
    app::command().try_get_matches_from([&["inkfast"], args, &who].concat()).unwrap()
}

/// Runs a command in this process with somebody at the terminal who types these lines.
fn typed(desk: &Desk, lines: &[&str], args: &[&str]) -> (u8, String, String) {
    let matches = here(desk, args);
    let mut asker = ScriptedAsker::new(lines.iter().copied());
    let mut out = Vec::new();
    let exit: Exit = app::run(&matches, World::real(), &mut asker, &mut out);
    assert!(asker.lines.is_empty(), "not asked for: {:?}\n{}", asker.lines, asker.shown());
    (exit.code(), String::from_utf8(out).unwrap(), asker.shown())
}

#[test]
fn at_a_terminal_a_doubt_is_asked_and_a_whole_line_is_not() {
    let desk = desk();
    desk.ok(&["visit", "open", CHART, "--usual"]);
    let (exit, out, asked) = typed(&desk, &[], &["asked", "thrust", "cervical", "right", "yes"]);
    assert_eq!((exit, asked.as_str()), (0, ""), "{out}");
    assert!(out.contains("thrust, cervical, right, yes"), "{out}");
    // Which neck, and a missing answer is asked for: there is no default.
    let (exit, _, asked) = typed(&desk, &["1", "yes", "yes"], &["asked", "thrust", "neck", "left"]);
    assert_eq!(exit, 0, "{asked}");
    assert!(asked.contains("\"neck\" could be: 1 cervical"), "{asked}");
    assert!(asked.contains("What was the answer?"), "{asked}");

    let before = desk.entries(CHART);
    let (exit, out, asked) = typed(
        &desk,
        &["yes", "right cheek", "all of it", "now", "-", "a call tomorrow"],
        &["withdraw", "intraoral", "left", "says stop"],
    );
    assert_eq!(exit, 0, "{asked}");
    assert!(out.contains("Sealed: Withdrawal is number"), "{out}");
    let first = asked.lines().next().unwrap();
    assert!(first.starts_with("What was stopped"), "sealed before anything was asked\n{asked}");
    assert_eq!(desk.entries(CHART), before + 2);
    // Whoever has no time now: it is sealed all the same.
    let (exit, out, asked) = typed(&desk, &[], &["withdraw", "all", "hand"]);
    assert_eq!(exit, 0, "walked away from the question afterwards\n{asked}");
    assert!(out.contains("Sealed: Withdrawal"), "{out}");
    assert_eq!(desk.entries(CHART), before + 3);
    let (exit, _, _) = typed(&desk, &["no"], &["withdraw", "all", "hand"]);
    assert_eq!(exit, 0);
}

#[test]
fn at_a_terminal_the_rest_of_a_wider_consent_is_the_patients_answer() {
    let desk = desk();
    consent(&desk, &["--techniques", "mobilization", "--regions", "spine", "--side", "both"]);
    #[rustfmt::skip]
    let args = [
        "consent", CHART, "--kind", "treatment", "--form", "written-signed", "--wording", "F1", "--status", "signed",
        "--techniques", "mobilization", "--regions", "lumbar", "--side", "both", "--given-by", "self",
    ];
    let matches = here(&desk, &args);
    let mut asker = Enter::default();
    let exit = app::run(&matches, World::real(), &mut asker, &mut Vec::new());
    let shown = asker.shown.join("\n");
    assert_eq!(exit, Exit::Done, "{shown}");
    assert!(shown.contains("This consent is narrower than what still counts:"), "{shown}");
    assert!(shown.contains("There is no default."), "{shown}");
    let all = desk.json(&["print", CHART, "--why", "review"]);
    let newest = all.as_array().unwrap().iter().rfind(|e| e["kind"] == "consent").unwrap();
    assert_eq!(newest["record"]["data"]["rest_of_earlier"], "kept");
}

/// Somebody who passes every question with Enter, but for the one about the rest, once they are told that it has
/// no default.
#[derive(Default)]
struct Enter {
    shown: Vec<String>,
}

impl inkfast::cli::prompt::Asker for Enter {
    fn interactive(&self) -> bool {
        true
    }
    fn line(&mut self, prompt: &str) -> std::io::Result<Option<String>> {
        let again = self.shown.last().is_some_and(|last| last.contains("There is no default."));
        let answer = if prompt.contains("becomes of the rest") && again { "kept" } else { "" };
        self.shown.push(prompt.to_string());
        Ok(Some(answer.to_string()))
    }
    fn secret(&mut self, _: &str) -> std::io::Result<Option<zeroize::Zeroizing<String>>> {
        Ok(None)
    }
    fn say(&mut self, text: &str) {
        self.shown.push(text.to_string());
    }
}
