//! schema/CHECK.md, done by hand as it stands there: with bash, age, tar, b3sum, sha256sum, jq, xxd and openssl,
//! and nothing of ours. Needs them installed, so only with the feature `outside-checks`.

use super::given::{Given, bytes, list_again, pack};
use std::path::Path;
use std::process::Command;

/// The ten steps of the page: its indented lines, in order.
fn steps() -> Vec<String> {
    let page =
        std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("schema/CHECK.md")).unwrap();
    let (_, page) = page.split_once("## By hand").unwrap();
    let (page, _) = page.split_once("## What no check proves").unwrap();
    let mut steps: Vec<String> = Vec::new();
    let mut inside = false;
    for line in page.lines() {
        let code = line.starts_with("       ") && !line.trim().is_empty();
        if code && !inside {
            steps.push(String::new());
        }
        if code {
            steps.last_mut().unwrap().push_str(&format!("{}\n", &line[7..]));
        }
        inside = code || (inside && line.trim().is_empty());
    }
    steps
}

/// Does all steps on an opened archive; what each printed.
fn by_hand(given: &Given, archive: &[u8]) -> Vec<String> {
    let folder = given.path("byhand");
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir(&folder).unwrap();
    std::fs::write(folder.join("package.tar"), archive).unwrap();
    let steps = steps();
    assert_eq!(steps.len(), 10, "the page has ten steps");
    let script: Vec<String> = steps[1..].iter().map(|step| format!("echo '=='\n{step}")).collect();
    let output = Command::new("bash")
        .args(["-c", &script.join("\n")])
        .current_dir(&folder)
        .env("LC_ALL", "C")
        .output()
        .unwrap();
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    text.split("==\n").skip(1).map(str::to_string).collect()
}

#[test]
fn the_ten_steps_of_the_page_say_what_the_page_says() {
    let given = Given::new();
    let opened = Command::new("age")
        .args(["-d", "-i", "who.txt", "-o", "package.tar", "out.age"])
        .current_dir(given.room.dir.path())
        .status()
        .unwrap();
    assert!(opened.success());
    let said = by_hand(&given, &std::fs::read(given.path("package.tar")).unwrap());
    let note = String::from_utf8(bytes(&mut given.members(), "manifest.note").clone()).unwrap();
    let digest = said[3].lines().next().unwrap();
    assert!(note.contains(&format!("blake3 {digest}\n")), "{}", said[3]);
    for quiet in [1, 2, 6] {
        assert_eq!(said[quiet], "", "step {}", quiet + 2);
    }
    let pairs: Vec<&str> = said[4].lines().filter(|l| !l.ends_with("is withheld")).collect();
    assert!(pairs.len() >= 10 && pairs.chunks(2).all(|two| two[0] == two[1]), "{}", said[4]);
    assert!(said[5].contains("1 chart-opened ") && said[5].contains(" release "), "{}", said[5]);
    assert_eq!(said[7].matches("Signature Verified Successfully").count(), 2, "{}", said[7]);
    assert!(said[8].lines().count() > 5 && !said[8].contains("NOT PROVEN"), "{}", said[8]);
}

#[test]
fn what_is_bent_shows_in_the_step_that_is_for_it() {
    let given = Given::new();
    let signer = &given.owner().session.me.signer;
    let mut bent = given.members();
    bytes(&mut bent, "record.html")[9] ^= 1;
    assert!(by_hand(&given, &pack(&bent))[1].contains("record.html: FAILED"));
    let mut bent = given.members();
    bent.push(("extra".into(), vec![1]));
    assert!(by_hand(&given, &pack(&bent))[2].contains("> extra"));
    let mut bent = given.members();
    bytes(&mut bent, "entries/000002.record.json")[40] ^= 1;
    list_again(&mut bent, signer, |_| ());
    let said = by_hand(&given, &pack(&bent));
    let pairs: Vec<&str> = said[4].lines().filter(|l| !l.ends_with("is withheld")).collect();
    assert_eq!(pairs.chunks(2).filter(|two| two[0] != two[1]).count(), 1, "{}", said[4]);
    let mut bent = given.members();
    bytes(&mut bent, "entries/000002.leaf").push(b'\n');
    list_again(&mut bent, signer, |_| ());
    assert!(by_hand(&given, &pack(&bent))[8].contains("entries/000002 NOT PROVEN"));
    let mut bent = given.members();
    bytes(&mut bent, "manifest.json").push(b'\n');
    assert_ne!(
        by_hand(&given, &pack(&bent))[3].lines().next(),
        by_hand(&given, &given.archive())[3].lines().next()
    );
}
