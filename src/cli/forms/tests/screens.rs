//! Screens: items known only when the rules are open.

use super::super::screen::{ALL_NO_WORDS, screen_args, screen_of, screen_start};
use super::*;

fn items() -> Vec<String> {
    ["new-headache", "dizziness", "nausea"].map(str::to_owned).to_vec()
}

fn fill(args: &[&str], mut asker: ScriptedAsker) -> (Result<Value, FormError>, String) {
    let matches = screen_args(Command::new("x"))
        .try_get_matches_from(std::iter::once("x").chain(args.iter().copied()))
        .unwrap();
    let start = match screen_start("neck", &items(), &matches, &now()) {
        Ok(start) => start,
        Err(fault) => return (Err(fault), String::new()),
    };
    let form = screen_of(&items());
    let result = form.fill(&matches, start, &mut asker, &now(), &mut |_| Ok::<(), Infallible>(()));
    let shown = asker.shown();
    (result, shown)
}

#[test]
fn every_item_is_asked_and_none_has_a_default() {
    let lines = ["IV", "yes", "since Friday", "refer", "", "no", "not-asked", "", "", ""];
    let (data, shown) = fill(&[], ScriptedAsker::new(lines));
    assert!(shown.contains("New headache: what was said?"), "{shown}");
    // The Enter at "Dizziness?" was no answer.
    assert!(shown.contains("this has to be answered"), "{shown}");
    let data = data.unwrap();
    assert_eq!(
        data["answers"],
        json!([{"item": "new-headache", "answer": "yes", "words": "since Friday", "decision": "refer"},
               {"item": "dizziness", "answer": "no"}, {"item": "nausea", "answer": "not-asked"}])
    );
    accepted("screen", data, &[("/visit", json!(12))]);
}

#[test]
fn a_yes_taken_back_takes_its_words_with_it() {
    // Yes with words; back to the item: no.
    let lines = ["IV", "yes", "since Friday", "<", "<", "no", "no", "no", "", "", ""];
    let (data, shown) = fill(&[], ScriptedAsker::new(lines));
    let data = data.unwrap_or_else(|fault| panic!("{fault}\n{shown}"));
    assert_eq!(data["answers"][0], json!({"item": "new-headache", "answer": "no"}));
}

#[test]
fn all_no_answers_every_item_and_says_so() {
    let yes = "item=dizziness answer=yes words=on standing up decision=proceed";
    let args = ["--done-by", "IV", "--all-no", "--answer", yes];
    let (data, _) = fill(&args, ScriptedAsker::nobody());
    let data = data.unwrap();
    let answered: Vec<&str> =
        data["answers"].as_array().unwrap().iter().map(|item| item["answer"].as_str().unwrap()).collect();
    assert_eq!(answered, ["no", "yes", "no"]);
    assert_eq!(data["words"], json!(ALL_NO_WORDS));
    accepted("screen", data, &[("/visit", json!(12))]);
}

#[test]
fn what_is_not_answered_is_missing_and_what_is_no_item_is_refused() {
    let (missing, _) =
        fill(&["--done-by", "IV", "--answer", "item=nausea answer=no"], ScriptedAsker::nobody());
    let Err(FormError::Missing(missing)) = missing else { panic!("{missing:?}") };
    let flags: Vec<&str> = missing.iter().map(|missing| missing.flag).collect();
    assert_eq!(flags, ["answer \"item=new-headache answer=...\"", "answer \"item=dizziness answer=...\""]);
    for wrong in ["item=fever answer=no", "item=nausea", "item=nausea answer=perhaps"] {
        let (refused, _) = fill(&["--done-by", "IV", "--answer", wrong], ScriptedAsker::nobody());
        assert!(matches!(refused, Err(FormError::BadAnswer { flag: "answer", .. })), "{wrong}");
    }
    let twice = ["--answer", "item=nausea answer=no", "--answer", "item=nausea answer=yes"];
    assert!(fill(&twice, ScriptedAsker::nobody()).0.is_err());
}
