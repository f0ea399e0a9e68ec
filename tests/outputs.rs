//! What the program prints with `--json` is what the schemas in `schema/` say: the real program,
//! on a small store of its own.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

use inkfast::ledger::leaf::Leaf;
use inkfast::practice::place::Place;
use inkfast::seal::age_file::{self, Identity, With};
use inkfast::verify::finding::FindingId;
use inkfast::world::World;
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

const CHART: &str = "PM-0112";

/// A store of its own, and the program run on it. Locks it again when the test is over.
struct Shop {
    dir: tempfile::TempDir,
    /// Schemas that some output was checked against.
    checked: BTreeSet<String>,
}

impl Drop for Shop {
    fn drop(&mut self) {
        let _ = self.inkfast(&["lock"]);
    }
}

impl Shop {
    fn new() -> Shop {
        let dir = tempfile::tempdir().unwrap();
        std::fs::write(dir.path().join("pw"), "fourteen hemp lane, twice over\n").unwrap();
        for folder in ["run", "state"] {
            std::fs::create_dir(dir.path().join(folder)).unwrap();
        }
        Shop { dir, checked: BTreeSet::new() }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    fn inkfast(&self, args: &[&str]) -> Output {
        Command::new(env!("CARGO_BIN_EXE_inkfast"))
            .args(args)
            .current_dir(self.dir.path())
            .env("XDG_RUNTIME_DIR", self.path("run"))
            .env("XDG_STATE_HOME", self.path("state"))
            .env("INKFAST_STORE", self.path("store"))
            .env_remove("INKFAST_OUTSIDE")
            .env_remove("INKFAST_AS")
            .env_remove("INKFAST_STATION")
            .stdin(std::process::Stdio::null())
            .output()
            .unwrap()
    }

    /// Runs a command that must end with this exit code and print what the schema says, and
    /// nothing else.
    fn json(&mut self, schema: &str, exit: i32, args: &[&str]) -> Value {
        let output = self.inkfast(&[args, &["--json"]].concat());
        let said = String::from_utf8(output.stdout).unwrap();
        let complained = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(exit), "{args:?}\n{said}\n{complained}");
        let value: Value = serde_json::from_str(&said).unwrap_or_else(|e| panic!("{args:?}: {e}\n{said}"));
        self.fits(schema, &value);
        value
    }

    fn fits(&mut self, schema: &str, value: &Value) {
        fits(schema, value);
        self.checked.insert(format!("{schema}.schema.json"));
    }
}

/// The published schema of this name.
fn validator(schema: &str) -> jsonschema::Validator {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("schema").join(format!("{schema}.schema.json"));
    let schema: Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    jsonschema::validator_for(&schema).unwrap()
}

fn fits(schema: &str, value: &Value) {
    let validator = validator(schema);
    let wrong: Vec<_> = validator.iter_errors(value).map(|e| format!("{e} at {}", e.instance_path)).collect();
    assert!(wrong.is_empty(), "{schema}: {wrong:#?}\n{value:#}");
}

#[test]
fn every_json_output_is_what_its_schema_says() {
    let mut shop = Shop::new();
    set_up(&mut shop);
    read_and_record(&mut shop);
    let (package, identity) = release(&mut shop);
    verify(&mut shop, &package, &identity);
    files(&mut shop, &package, &identity);
    before_signing(&mut shop);
    rules(&mut shop);
    requests(&mut shop);
    signed_on_screen(&mut shop);
    copies(&mut shop);
    keeping(&mut shop);
    let drawn = shop.json("output-picture", 0, &["picture"]);
    assert!(
        drawn["entries"].as_u64().unwrap() > 20 && drawn["months"].as_array().is_some_and(|m| m.len() == 1)
    );
    assert_eq!(shop.json("output-lock", 0, &["lock"])["locked"], "locked");
    let published: BTreeSet<String> = inkfast::cli::schemas::outputs()
        .into_iter()
        .chain(inkfast::cli::schemas::files())
        .map(|(name, _)| name)
        .collect();
    assert_eq!(shop.checked, published, "each published schema, and no other, was tried");
}

/// A signature in the published form is taken as it stands.
fn signed_on_screen(shop: &mut Shop) {
    const TEXT: &str = "You may say no, and you may stop at any time.";
    #[rustfmt::skip]
    let wording = ["wording", "--code", "F7", "--title", "Consent to care", "--text", TEXT, "--language", "en", "--use-for", "consent"];
    let adopted = shop.json("output-recorded", 0, &wording);
    let signature = serde_json::json!({
        "signature": 1, "name": "Bettony Craske",
        "shown": {
            "wording": "F7", "wording_entry": adopted["entry"], "text_blake3": blake3::hash(TEXT.as_bytes()).to_hex().to_string(),
            "language": "en", "lines": ["Soft-tissue work on the neck, both sides"],
        },
        "drawn": { "width": 8000, "height": 2400, "with": "touch", "strokes": [[[400, 900, 0], [1200, 400, 90]]] },
    });
    shop.fits("signature", &signature);
    let file = shop.path("signature.json");
    std::fs::write(&file, signature.to_string()).unwrap();
    #[rustfmt::skip]
    let consent = [
        "consent", CHART, "--kind", "treatment", "--techniques", "soft-tissue", "--regions", "cervical", "--side", "both",
        "--form", "written-on-screen", "--wording", "F7", "--explained-by", "IV", "--explained-at", "now",
        "--giver-name", "Bettony Craske", "--signature", file.to_str().unwrap(),
    ];
    shop.json("output-recorded", 0, &consent);
}

/// A safe copy: made, listed, rehearsed, restored; and what a stolen computer held.
fn copies(shop: &mut Shop) {
    let made = shop.json("output-safecopy", 0, &["safecopy", "stick", "--called", "blue stick"]);
    assert_eq!(made["sound"], true);
    let said: Value =
        serde_json::from_slice(&std::fs::read(shop.path("stick/safecopy.json")).unwrap()).unwrap();
    shop.fits("safecopy", &said);
    assert_eq!(shop.json("output-safecopy-list", 0, &["safecopy", "list"])[0]["copy"], said["label"]);
    let page = std::fs::read_to_string(shop.path("recovery-sheet.html")).unwrap();
    let line = page.split_once("class=\"key\">").unwrap().1.split_once('<').unwrap().0.to_string();
    std::fs::write(shop.path("sheet"), line).unwrap();
    let tried = shop.json("output-rehearse", 0, &["rehearse", "stick", "--sheet-file", "sheet"]);
    assert_eq!(tried["passed"], true);
    let restored =
        shop.json("output-restore", 0, &["restore", "stick", "new", "--outside", "outside-of-new"]);
    assert_eq!(restored["check"]["entries"], made["entries"]);
    let held = shop.json("output-stolen", 0, &["stolen", "stick", "--was", "locked"]);
    assert_eq!(held["held"]["entries"], made["entries"]);
}

/// How long charts are kept; and an old one is destroyed, which locks whoever was unlocked.
fn keeping(shop: &mut Shop) {
    let until = shop.json("output-keep-until", 0, &["keep", "until", "--chart", CHART, "--why", "review"]);
    assert_eq!(until["kept"]["refusals"][0], "not_yet");
    #[rustfmt::skip]
    shop.json("output-recorded", 0, &[
        "patient", "open", "--chart-no", "PM-0003", "--name", "Silas Umberlow", "--born", "1949-02-11",
        "--second-identifier", "telephone", "--identifier", "555 0003",
        "--no-emergency-contact-because", "wants none", "--looked-for-same-name", "yes",
        "--seen", "licence-card,birth-date", "--privacy-notice", "given",
    ]);
    #[rustfmt::skip]
    shop.json("output-recorded", 0, &[
        "paper", "index", "PM-0003", "--name", "S. Umberlow", "--pages", "14", "--kept-at", "cabinet C2",
        "--last-treated", "2016-05-19",
    ]);
    std::fs::write(shop.path("pw2"), "cheese cellar key, twice over\n").unwrap();
    #[rustfmt::skip]
    shop.json("output-recorded", 0, &[
        "roster", "add", "--code", "HL", "--name", "Hattie Lorch", "--role", "desk", "--opens", "desk",
        "--new-passphrase-file", "pw2",
    ]);
    let held = shop.json("output-hold-list", 0, &["hold", "list"]);
    assert_eq!(held, Value::Array(vec![]));
    let due = shop.json("output-keep-list", 0, &["keep", "due"]);
    assert_eq!(due["charts"][0]["chart"], "PM-0003");
    let refused = shop.json("output-dispose-plan", 7, &["dispose", "chart", CHART]);
    assert_eq!((&refused["may_go"], refused["refused"].is_u64()), (&false.into(), true));
    let plan = shop.json("output-dispose-plan", 3, &["dispose", "chart", "PM-0003"]);
    assert_eq!((&plan["may_go"], &plan["refused"]), (&true.into(), &Value::Null));
    #[rustfmt::skip]
    let done = shop.json("output-dispose", 0, &[
        "dispose", "chart", "PM-0003", "--destroy", "--second", "HL", "--second-passphrase-file", "pw2",
        "--no-other-copies",
    ]);
    assert_eq!((&done[0]["keys"], &done[0]["certificate"]["disposed"]), (&3.into(), &false.into()));
    // Whoever was unlocked is not any more: what the keeper held may have opened the chart.
    shop.json("output-error", 5, &["keep", "disposed"]);
    shop.json("output-unlock", 0, &["unlock", "--as", "IV", "--passphrase-file", "pw"]);
    let all = shop.json("output-keep-disposed", 0, &["keep", "disposed"]);
    let number = all[0]["certificate"].as_u64().unwrap().to_string();
    let one = shop.json("output-keep-certificate", 0, &["keep", "certificate", &number]);
    assert_eq!(one["says"]["name"], "Silas Umberlow");
}

/// The rules: every edition, and the file they are adopted from.
fn rules(shop: &mut Shop) {
    let editions = shop.json("output-rules-list", 0, &["rules", "list"]);
    assert_eq!(editions[0]["edition"], "example-1");
    let example = shop.inkfast(&["rules", "example"]);
    let text = String::from_utf8(example.stdout).unwrap();
    shop.fits("rules-file", &inkfast::record::tables::toml_json::read(&text).unwrap());
}

fn set_up(shop: &mut Shop) {
    #[rustfmt::skip]
    let init = [
        "init", "--new-passphrase-file", "pw", "--code", "IV", "--name", "Ingrith Valsamo",
        "--role", "chiropractor", "--techniques", "examination,soft-tissue,mobilization,thrust,intraoral",
        "--licence", "LM-C-0417", "--licence-last-day", "2031-12-31", "--practice", "The Ropewalk Rooms",
        "--address", "14 Hemp Lane, Pellmere", "--territory", "Lower Marl",
        "--clock", "UTC-5, summer time -4", "--example-rules",
    ];
    let made = shop.json("output-init", 0, &init);
    assert_eq!(made["entries"], 4);
    shop.json("output-unlock", 0, &["unlock", "--as", "IV", "--passphrase-file", "pw"]);
}

fn read_and_record(shop: &mut Shop) {
    assert_eq!(shop.json("output-patient-list", 0, &["patient", "list"]), Value::Array(vec![]));
    #[rustfmt::skip]
    let open = [
        "patient", "open", "--chart-no", CHART, "--name", "Bettony Craske", "--born", "1988-07-23",
        "--second-identifier", "telephone", "--identifier", "555 0112",
        "--no-emergency-contact-because", "wants none", "--looked-for-same-name", "yes",
        "--seen", "licence-card,birth-date", "--privacy-notice", "given",
    ];
    let opened = shop.json("output-recorded", 0, &open);
    assert_eq!((&opened["kind"], &opened["chart_entry"]), (&"chart-opened".into(), &1.into()));
    assert_eq!(shop.json("output-patient-list", 0, &["patient", "list"])[0]["chart_no"], CHART);
    #[rustfmt::skip]
    let remark = [
        "clock", "--state", "opened-and-closed", "--at-station", "desk",
        "--what", "One hour behind since opening.",
    ];
    let remarked = shop.json("output-recorded", 0, &remark);
    assert_eq!(remarked["chart_entry"], Value::Null);

    assert_eq!(shop.json("output-roster-list", 0, &["roster", "list"])[0]["code"], "IV");
    shop.json("output-rules-show", 0, &["rules", "show"]);
    let read = shop.json("output-print", 0, &["print", CHART, "--why", "review"]);
    assert_eq!(read[0]["record"]["kind"], "chart-opened");
    assert_eq!(shop.json("output-openings", 0, &["openings", CHART, "--why", "review"])[0]["kind"], "access");

    let rushed = ["print", CHART, "--why", "emergency", "--words", "fainted in the waiting room"];
    shop.json("output-print", 0, &rushed);
    let rushed = shop.json("output-openings-emergency", 0, &["openings", "emergency"]);
    assert_eq!((&rushed[0]["by"], &rushed[0]["review"]), (&json!("IV"), &Value::Null));
    #[rustfmt::skip]
    let index = ["paper", "index", CHART, "--name", "B. Craske", "--pages", "14", "--kept-at", "cabinet C2"];
    shop.json("output-recorded", 0, &index);
    let papers = shop.json("output-paper-list", 0, &["paper", "list", CHART, "--why", "review"]);
    assert_eq!(papers[0]["index"]["pages"], 14);
    let left = shop.json("output-roster-leaver", 0, &["roster", "leaver", "IV"]);
    assert_eq!(left["code"], "IV");
    let asked = ["custody", "notices", "--event", "death", "--on", "2026-01-31"];
    let notices = shop.json("output-custody-notices", 0, &asked);
    assert_eq!(notices["notices"][0]["due"], "2026-02-28");

    let all = shop.json("output-openings-all", 0, &["openings"]);
    assert_eq!(all["signed_off"], Value::Null);
    let account = shop.json("output-accounting", 0, &["accounting", CHART, "--why", "request"]);
    assert_eq!(account["account"]["free"], true);

    let measures = shop.json("output-measures", 0, &["measures", CHART, "--why", "review"]);
    assert_eq!((&measures["chart"], &measures["not_opened"]), (&CHART.into(), &0.into()));
    let age = shop.json("output-reckon", 0, &["reckon", "age", "2007-02-28", "2024-06-01"]);
    assert_eq!(age["age"], 17);

    let may =
        ["may", CHART, "--technique", "thrust", "--region", "cervical", "--side", "left", "--why", "visit"];
    assert_eq!(shop.json("output-may", 1, &may)["answer"], "no");
    let refused = shop.json("output-error", 7, &["print", CHART]);
    assert_eq!(refused["error"]["exit"], 7);
    shop.json("output-error", 2, &["print", "PM-9999", "--why", "review"]);

    let due = shop.json("output-list", 0, &["today"]);
    assert_eq!((&due["items"], &due["charts_not_opened"]), (&Value::Array(vec![]), &0.into()));
    shop.json("output-recorded", 0, &["visit", "open", CHART, "--usual"]);
    let marked = shop.json("output-draft-line", 0, &["now", CHART, "4"]);
    assert_eq!((&marked["list"], &marked["line"]), (&"checks".into(), &1.into()));
    let open = shop.json("output-list", 0, &["open", CHART]);
    assert_eq!(open["items"][0]["kind"], "visit-open");

    #[rustfmt::skip]
    let agreed = shop.json("output-recorded", 0, &[
        "consent", CHART, "--kind", "inside-mouth", "--form", "written-signed", "--wording", "F1",
        "--techniques", "intraoral", "--regions", "mouth", "--side", "right", "--explained-by", "IV",
        "--explained-at", "now", "--risks", "jaw-ache", "--given-by", "self",
    ]);
    let receipt = shop.json("output-receipt", 0, &["consent", "receipt", CHART, "--why", "review"]);
    assert_eq!(receipt["number"], agreed["entry"]);

    let shown = shop.json("output-slip", 0, &["slip", "--show"]);
    assert_eq!(shown["day_closed"], Value::Null);
    // A witness that nobody can reach, by the key of a test of cosignatures.
    let store: Value =
        serde_json::from_slice(&std::fs::read(shop.path("store/store.json")).unwrap()).unwrap();
    let key = "witness.example.com/w1+4bdc7eaa+BP0XJDhaoMdbZPt4zWAvodmR/ev3axPFjtcC6sg16fYY";
    let policy = format!(
        "log {}\nwitness w {key} http://127.0.0.1:1/\nquorum w\n",
        store["checkpoint_key"].as_str().unwrap()
    );
    std::fs::write(shop.path("policy"), policy).unwrap();
    let asked = shop.json("output-slip-witness", 1, &["slip", "witness", "--policy", "policy"]);
    assert_eq!((&asked["met"], &asked["witnesses"][0]["saw"]), (&false.into(), &Value::Null));
    assert_eq!(shop.json("output-slip-stamps", 0, &["slip", "stamps"]), Value::Array(vec![]));
    let closed = shop.json("output-slip", 0, &["slip"]);
    assert_eq!(closed["day_closed"], closed["number"].as_u64().unwrap() + 1);

    let open = ["visit", "open", CHART, "--room", "room 1", "--identifiers", "full-name,birth-date"];
    shop.json("output-recorded", 0, &open);
    let note =
        shop.json("output-note", 4, &["note", CHART, "TMJ L click", "T12 L tender", "masseter tender"]);
    assert_eq!(note["taken"][1]["readings"].as_array().map(Vec::len), Some(2));
    assert_eq!(note["draft"].as_array().map(Vec::len), Some(1));
}

fn before_signing(shop: &mut Shop) {
    let open = ["visit", "open", CHART, "--room", "room 1", "--identifiers", "full-name,birth-date"];
    let opened = shop.json("output-recorded", 0, &open);
    let list = shop.json("output-missing", 0, &["missing", CHART]);
    assert_eq!(list["visit"], opened["entry"]);
    let unsigned = shop.json("output-missing", 3, &["sign", CHART]);
    assert!(unsigned["open"].as_u64().unwrap() > 5);
    // The test runs at any hour.
    let answer = ["--answer", "outside-hours=at that hour"];
    let hold = [&["sign", CHART, "--acknowledge-missing", "--hold"][..], &answer].concat();
    assert_eq!(shop.json("output-held", 0, &hold)["visit"], opened["entry"]);
}

/// Requests and the office file.
fn requests(shop: &mut Shop) {
    #[rustfmt::skip]
    let take = [
        "request", "take", CHART, "--asker", "court-order", "--from", "District bench", "--text", "all of it",
        "--checked", "called back",
    ];
    let number = shop.json("output-recorded", 0, &take)["entry"].to_string();
    assert_eq!(shop.json("output-request-list", 0, &["request", "list"])[0]["request"].to_string(), number);
    let shown = shop.json("output-request-show", 0, &["request", "show", &number]);
    assert_eq!(shown["stops"][0]["id"], "order-not-read");
    let known = ["request", "check", &number, "--what", "identity", "--words", "seal of the bench"];
    shop.json("output-request-step", 0, &known);
    #[rustfmt::skip]
    let part = [
        "request", "decline", &number, "--ground", "not-kept-here", "--reason", "films are elsewhere", "--part", "films",
    ];
    assert_eq!(shop.json("output-request-step", 0, &part)["letter"]["kind"], "denial-in-part");
    shop.json("output-request-letter", 0, &["request", "show", &number, "--letter"]);
    #[rustfmt::skip]
    let take = [
        "request", "take", CHART, "--from", "the patient", "--text", "to look at it", "--kind", "look", "--checked",
        "known",
    ];
    let look = shop.json("output-recorded", 0, &take)["entry"].to_string();
    let answer = ["request", "answer", &look, "--answered-with", "looked at in room 1"];
    shop.json("output-request-step", 0, &answer);
    assert_eq!(shop.json("output-request-stops", 3, &answer)[0]["id"], "answered-already");
    let office = ["office", "add", "--kind", "other", "--title", "A letter", "--words", "from counsel"];
    let paper = shop.json("output-recorded", 0, &office)["entry"].to_string();
    shop.json("output-office-show", 0, &["office", "show", &paper]);
    assert_eq!(shop.json("output-office-list", 0, &["office", "list"])[0]["entry"].to_string(), paper);
}

fn release(shop: &mut Shop) -> (PathBuf, PathBuf) {
    let identity = Identity::generate();
    let key = shop.path("reader.txt");
    std::fs::write(&key, format!("{}\n", identity.to_text().as_str())).unwrap();
    let recipient = identity.recipient().to_string();
    #[rustfmt::skip]
    let args = [
        "release", CHART, "--to", &recipient, "--file", "package.age", "--recipient-name", "the patient",
        "--basis", "patient", "--channel", "handed over", "--no-address-because", "fetched by the patient",
        "--not-checked-because", "nobody else works here", "--withhold", "7=for-proceeding: a letter of counsel",
    ];
    let released = shop.json("output-release", 0, &args);
    assert_eq!(released["check"]["sound"], true);
    (shop.path("package.age"), key)
}

fn verify(shop: &mut Shop, package: &Path, key: &Path) {
    let store = shop.json("output-verify", 0, &["verify"]);
    assert_eq!((&store["checked"], &store["sound"]), (&"store".into(), &true.into()));
    let (package, key) = (package.to_str().unwrap(), key.to_str().unwrap());
    let whole = shop.json("output-verify", 0, &["verify", package, "--identity", key]);
    assert!(whole["complete"].is_string());
    std::fs::write(shop.path("store/ledger/stranger"), "").unwrap();
    let wrong = shop.json("output-verify", 1, &["verify"]);
    assert_eq!(wrong["findings"][0]["id"], FindingId::StrangerFile.id());
    std::fs::remove_file(shop.path("store/ledger/stranger")).unwrap();
}

/// The other files: `store.json`, every leaf, and the package's list, as the program wrote them.
fn files(shop: &mut Shop, package: &Path, key: &Path) {
    let root = shop.path("store");
    let store: Value = serde_json::from_slice(&std::fs::read(root.join("store.json")).unwrap()).unwrap();
    shop.fits("store", &store);

    let world = World::real();
    let place = Place::open(&world, &root, None).unwrap();
    let mut leaves = Vec::new();
    inkfast::ledger::scan::scan(
        &*world.disk,
        &root.join("ledger"),
        &place.key,
        &mut |_| (),
        &mut |_, _, bytes, _| {
            leaves.push(bytes.to_vec());
            Ok(())
        },
    )
    .unwrap();
    assert!(leaves.len() > 8);
    for bytes in leaves {
        let (_, note) = Leaf::read(&bytes).unwrap();
        // One line, no spaces between the parts: what the page promises.
        let line = note.text.strip_suffix('\n').unwrap();
        let leaf: Value = serde_json::from_str(line).unwrap();
        assert_eq!(serde_json::to_string(&leaf).unwrap(), line);
        shop.fits("leaf", &leaf);
    }

    let identity = Identity::parse(&std::fs::read_to_string(key).unwrap()).unwrap();
    let plain = age_file::open(&With::Identities(&[identity]), &std::fs::read(package).unwrap()).unwrap();
    let mut archive = tar::Archive::new(&plain[..]);
    let manifest = archive
        .entries()
        .unwrap()
        .map(Result::unwrap)
        .find(|member| member.path_bytes().as_ref() == b"manifest.json");
    let manifest: Value = serde_json::from_reader(manifest.unwrap()).unwrap();
    assert!(manifest["entries"].as_array().unwrap().iter().any(|e| e["withheld"].is_string()));
    shop.fits("package-manifest", &manifest);
}

#[test]
fn the_schemas_refuse_what_is_not_written() {
    let mut leaf = serde_json::json!({
        "v": 1, "ledger": "ledger-0", "seq": 1, "prev": null, "chart": null, "chart_seq": null,
        "chart_prev": null, "kind": "keys", "written": "2022-10-03T08:12:00-04:00", "author": "IV",
        "body": "0".repeat(64), "size": 1, "commit": "0".repeat(64),
    });
    fits("leaf", &leaf);
    let validator = validator("leaf");
    let bent = [
        ("v", 2.into()),
        ("seq", 0.into()),
        ("prev", "00".into()),
        ("chart", "0".repeat(64).into()),
        ("written", "2022-10-03".into()),
        ("commit", "A".repeat(64).into()),
        ("more", 1.into()),
    ];
    for (field, value) in bent {
        let mut other = leaf.clone();
        other[field] = value;
        assert!(!validator.is_valid(&other), "{field}");
    }
    leaf.as_object_mut().unwrap().shift_remove("prev");
    assert!(!validator.is_valid(&leaf), "a field that is always written is missing");
}
