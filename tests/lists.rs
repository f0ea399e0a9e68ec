//! Lists of what is open through the real commands: listed with a day, closed with an outcome, read without a
//! trace in any chart, and no more told than the role opens.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

#[path = "common/desk.rs"]
mod desk;

use desk::{Desk, code, text};
use serde_json::{Value, json};

const CHART: &str = "PM-0112";

fn today() -> jiff::civil::Date {
    inkfast::world::World::real().clock.now().local_date()
}

fn day(days: i64) -> String {
    today().checked_add(jiff::Span::new().days(days)).unwrap().to_string()
}

fn kinds(desk: &Desk, args: &[&str]) -> Vec<String> {
    let list = desk.json(args);
    list["items"].as_array().unwrap().iter().map(|i| i["kind"].as_str().unwrap().to_string()).collect()
}

fn item(desk: &Desk, kind: &str) -> Value {
    let list = desk.json(&["open", CHART]);
    list["items"].as_array().unwrap().iter().find(|i| i["kind"] == kind).unwrap_or(&Value::Null).clone()
}

fn desk() -> Desk {
    let desk = Desk::set_up();
    desk.patient(CHART, "Bettony Craske", "1988-07-23");
    desk
}

#[test]
fn what_is_open_is_listed_closed_and_leaves_no_opening() {
    let desk = desk();
    assert_eq!(kinds(&desk, &["today"]), Vec::<String>::new());
    assert!(desk.ok(&["today"]).contains("Nothing is open today."));
    #[rustfmt::skip]
    let call = desk.entry(&[
        "contact", CHART, "--direction", "incoming", "--with", "Bettony Craske", "--checked", "birth date",
        "--said", "sore rib since the morning", "--call-back", &format!("{} 12:00", day(0)),
    ]);
    #[rustfmt::skip]
    let reaction = desk.entry(&[
        "reaction", "open", CHART, "--what", "rib soreness", "--began", "now", "--technique", "thrust",
        "--region", "thoracic", "--severity", "mild", "--done", "heat",
    ]);
    #[rustfmt::skip]
    let referral = desk.entry(&[
        "refer", "out", CHART, "--referred-to", "family doctor", "--because", "light-headed",
        "--sent-how", "letter", "--expect-by", &day(-3), "--sent", "now",
    ]);
    assert_eq!(kinds(&desk, &["today"]), ["call-back", "referral"]);
    assert_eq!(kinds(&desk, &["open"]), ["reaction", "call-back", "referral"]);
    assert_eq!(kinds(&desk, &["today", "--date", &day(2)]), ["reaction", "call-back", "referral"]);
    assert_eq!(item(&desk, "reaction")["due"], day(2));
    let shown = desk.ok(&["today"]);
    for words in ["OVERDUE", "Answers to referrals awaited", "Bettony Craske", CHART, "today"] {
        assert!(shown.contains(words), "{words}\n{shown}");
    }
    assert!(shown.find("family doctor") < shown.find("DUE TODAY"), "overdue stands first\n{shown}");
    assert!(!shown.contains("sore rib"), "what was said stays in the chart\n{shown}");

    desk.ok(&["refer", "chase", CHART, &referral, "--in-short", "left word with the office"]);
    assert_eq!(item(&desk, "referral")["due"], day(28));
    desk.ok(&["refer", "answer", CHART, "--referral", &referral, "--in-short", "nothing found"]);
    desk.ok(&["reaction", "recheck", CHART, &reaction, "--how", "less sore", "--follow-up", &day(5)]);
    assert_eq!(item(&desk, "reaction")["due"], day(5));
    desk.ok(&["reaction", "close", CHART, &reaction, "--outcome", "gone"]);
    desk.refused(4, &["reaction", "close", CHART, &call, "--outcome", "gone"], "is no reaction");
    desk.refused(4, &["contact", "close", CHART, &reaction, "--outcome", "gone"], "is no contact");
    let closed = desk.entry(&["contact", "close", CHART, &call, "--outcome", "reached, well again"]);
    let data = desk.data(CHART, &closed);
    assert_eq!((&data["done"], &data["outcome"]), (&json!(true), &json!("reached, well again")));
    assert_eq!(data["with"]["name"], "Bettony Craske");
    assert_eq!(kinds(&desk, &["open"]), Vec::<String>::new());

    // Reading the lists opened no chart: the only openings are those of `print` above.
    let openings = desk.json(&["openings", CHART, "--why", "review"]).as_array().unwrap().len();
    for args in [&["today"][..], &["open"], &["open", CHART], &["today", "--print", "sheet.html"]] {
        desk.ok(args);
    }
    assert_eq!(desk.json(&["openings", CHART, "--why", "review"]).as_array().unwrap().len(), openings);
    let verified = desk.json(&["verify"]);
    assert_eq!(verified["sound"], true, "{verified}");
}

#[test]
fn who_comes_of_age_and_whose_consent_ends() {
    let desk = desk();
    let birth = today().checked_add(jiff::Span::new().days(20)).unwrap();
    let birth = birth.checked_sub(jiff::Span::new().years(18)).unwrap().to_string();
    desk.patient("PM-0113", "Wenna Lorch", &birth);
    #[rustfmt::skip]
    desk.ok(&[
        "guardian", "PM-0113", "--person-id", "dm-1", "--name", "Hattie Lorch", "--relation", "mother",
        "--basis", "parent", "--on-file", "yes", "--may-consent", "yes", "--may-receive", "yes",
    ]);
    #[rustfmt::skip]
    desk.ok(&[
        "consent", CHART, "--kind", "treatment", "--form", "written-signed", "--wording", "F1",
        "--techniques", "mobilization", "--regions", "lumbar", "--side", "both", "--given-by", "self",
        "--last-day", &day(10),
    ]);
    let list = desk.json(&["today"]);
    let items = list["items"].as_array().unwrap();
    assert_eq!(items.len(), 2, "{list}");
    assert_eq!((&items[0]["kind"], &items[0]["due"]), (&json!("consent-lapses"), &json!(day(10))));
    assert_eq!((&items[1]["kind"], &items[1]["name"]), (&json!("comes-of-age"), &json!("Wenna Lorch")));
    let words = items[1]["words"].as_str().unwrap();
    assert!(words.contains("Hattie Lorch (mother) may no longer consent or receive records"), "{words}");
    // By then all that is due is a safe copy, which nobody has made.
    assert_eq!(kinds(&desk, &["today", "--date", &day(200)]), ["safe-copy"]);
    desk.refused(4, &["today", "--date", "tomorrow"], "--date");

    let said = desk.ok(&["today", "--print", "sheet.html"]);
    assert!(said.contains("shred"), "{said}");
    let sheet = std::fs::read_to_string(desk.path("sheet.html")).unwrap();
    for words in ["Coming of age", "Wenna Lorch", "Consents that end", "<style>"] {
        assert!(sheet.contains(words), "{words}");
    }
    assert!(!sheet.contains("http") && !sheet.contains("<script"));
}

#[test]
fn the_day_is_closed_over_what_is_named_first() {
    let desk = desk();
    desk.ok(&["visit", "open", CHART, "--usual"]);
    desk.ok(&["pause", "needs a minute"]);
    desk.ok(&["now", "4"]);
    assert_eq!(kinds(&desk, &["today"]), ["visit-open", "pause", "draft"]);
    let output = desk.run(&["slip"]);
    let said = text(&output);
    assert_eq!(code(&output), 0, "{said}");
    for words in
        ["Left open at the end of this day", "Visits left open", "Unsigned drafts", "inkfast sign PM-0112"]
    {
        assert!(said.contains(words), "{words}\n{said}");
    }
    let slip = desk.json(&["slip"]);
    let left: Vec<&str> =
        slip["left_open"].as_array().unwrap().iter().map(|i| i["kind"].as_str().unwrap()).collect();
    assert_eq!(left, ["visit-open", "pause", "draft"]);
    assert_eq!(kinds(&desk, &["today", "--date", &day(1)]), ["visit-open", "pause", "draft"]);
}

#[test]
fn the_desk_is_told_names_and_days_and_nothing_of_the_care() {
    let desk = desk();
    #[rustfmt::skip]
    desk.ok(&[
        "reaction", "open", CHART, "--what", "rib soreness", "--began", "now", "--technique", "thrust",
        "--region", "thoracic", "--severity", "mild", "--done", "heat",
    ]);
    desk.secret("pw2", "quite another passphrase\n");
    #[rustfmt::skip]
    desk.ok(&[
        "roster", "add", "--code", "HL", "--name", "Hattie Lorch", "--role", "desk", "--opens", "desk",
        "--new-passphrase-file", "pw2",
    ]);
    desk.ok(&["lock"]);
    desk.ok(&["unlock", "--as", "HL", "--passphrase-file", "pw2"]);
    let list = desk.json(&["today", "--date", &day(3)]);
    let only = &list["items"][0];
    assert_eq!((&only["kind"], &only["name"]), (&json!("care"), &json!("Bettony Craske")), "{list}");
    let whole = format!("{list}{}", desk.ok(&["today", "--date", &day(3)]));
    for clinical in ["rib", "soreness", "thrust", "reaction", "mild"] {
        assert!(!whole.contains(clinical), "{clinical}\n{whole}");
    }
}
