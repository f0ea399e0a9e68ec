//! What the reader brings along: slips, kept checkpoints, and a policy with witnesses.

use super::given::{CHART, Given, bytes, code, contact, named, said};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD as BASE64;
use ed25519_dalek::{Signer as _, SigningKey};
use inkfast::ledger::policy::Policy;
use inkfast::seal::note::{Note, Signer, Verifier};
use inkfast::verify::pin::{Pin, What};
use inkfast::verify::slip;
use sha2::{Digest as _, Sha256};

/// A witness of our own, as C2SP tlog-cosignature v1.0.1 describes it.
struct Witness {
    name: &'static str,
    key: SigningKey,
}

impl Witness {
    fn new(name: &'static str, seed: u8) -> Witness {
        Witness { name, key: SigningKey::from_bytes(&[seed; 32]) }
    }

    fn typed(&self) -> Vec<u8> {
        [&[4u8], self.key.verifying_key().as_bytes().as_slice()].concat()
    }

    fn id(&self) -> [u8; 4] {
        let digest = Sha256::digest([self.name.as_bytes(), b"\n", &self.typed()].concat());
        [digest[0], digest[1], digest[2], digest[3]]
    }

    fn vkey(&self) -> String {
        let id = data_encoding::HEXLOWER.encode(&self.id());
        format!("{}+{id}+{}", self.name, BASE64.encode(self.typed()))
    }

    /// The checkpoint with a line by this witness.
    fn cosign(&self, checkpoint: &str, time: u64) -> String {
        let note = Note::parse(checkpoint.as_bytes()).unwrap();
        let message = format!("cosignature/v1\ntime {time}\n{}", note.text);
        let signature = self.key.sign(message.as_bytes()).to_bytes();
        let line = [&self.id()[..], &time.to_be_bytes(), &signature].concat();
        format!("{checkpoint}\u{2014} {} {}\n", self.name, BASE64.encode(line))
    }
}

/// The checkpoint key that a package came with.
fn log_key(given: &Given) -> Verifier {
    Verifier::parse(given.json(&[])["package"]["checkpoint_key"].as_str().unwrap()).unwrap()
}

fn checkpoint(given: &Given) -> String {
    String::from_utf8(bytes(&mut given.members(), "ledger/checkpoint").clone()).unwrap()
}

fn policy(log: &Verifier, witnesses: &[&Witness], needed: &str) -> String {
    let mut text = format!("# the practice's own key, by telephone\nlog {log}\n");
    for witness in witnesses {
        text += &format!("witness {} {}\n", witness.name.replace('.', "-"), witness.vkey());
    }
    let names: Vec<String> = witnesses.iter().map(|w| w.name.replace('.', "-")).collect();
    text + &format!("group witnesses {needed} {}\nquorum witnesses\n", names.join(" "))
}

#[test]
fn a_slip_of_the_practice_agrees_and_another_does_not() {
    let given = Given::new();
    // What a slip said at the moment of the release: the number of its entry, and the code of that root.
    let checkpoint = given.json(&[])["checkpoint"].clone();
    let number = checkpoint["size"].as_u64().unwrap();
    assert_eq!(number, given.release);
    let root = data_encoding::HEXLOWER.decode(checkpoint["root"].as_str().unwrap().as_bytes()).unwrap();
    let printed = slip::code(&root.try_into().unwrap());
    let typed = format!("{number}:{printed}");
    let ran = given.check(&["--slip", &typed]);
    let plain = said(&ran).split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!(code(&ran), 0, "{plain}");
    assert!(plain.starts_with("SOUND. ") && plain.contains(&format!("The slip {number} agrees.")), "{plain}");
    assert!(plain.contains(&format!("The last number reached by something outside: {number}.")), "{plain}");
    assert!(!plain.contains("nothing is proven about a ledger that was rebuilt"), "{plain}");
    // As it is read out: a space for the colon, none for the dashes, small letters.
    let loose = format!("{number} {}", printed.replace('-', "").to_lowercase());
    assert_eq!(code(&given.check(&["--slip", &loose])), 0);
    // Another register with a slip of the same number.
    let other = format!("{number}:{}", slip::code(&[0x5A; 32]));
    named(&given.check(&["--slip", &other]), "rewritten-outside-copy");
    named(&given.check(&["--slip", &typed, "--slip", &other]), "rewritten-outside-copy");
    // A slip of a later day says nothing about this package, and is not counted.
    let later = format!("{}:{printed}", number + 40);
    let ran = given.check(&["--slip", &later]);
    assert!(code(&ran) == 0 && said(&ran).starts_with("SOUND IN ITSELF."), "{}", said(&ran));
    assert!(said(&ran).contains("could not be compared"), "{}", said(&ran));
}

/// A consent of the chart was given before the package; its receipt is typed in by somebody who has the package.
#[test]
fn a_receipt_for_an_entry_agrees_and_another_does_not() {
    let given = Given::new();
    #[rustfmt::skip]
    let number = given.room.entry(&[
        "consent", CHART, "--kind", "inside-mouth", "--form", "written-signed", "--wording", "F1",
        "--techniques", "intraoral", "--regions", "mouth", "--side", "right", "--explained-by", "IV",
        "--explained-at", "now", "--risks", "jaw-ache", "--given-by", "self",
    ]);
    let receipt = given.room.json(&["consent", "receipt", CHART, "--why", "review"]);
    let code = format!("{number}:{}", receipt["code"].as_str().unwrap());
    let words: Vec<&str> = receipt["words"].as_array().unwrap().iter().map(|w| w.as_str().unwrap()).collect();
    let words = format!("{number} {}", words.join(" "));
    // A package from before it can't say.
    let ran = given.check(&["--receipt", &code]);
    assert!(code_of_not_compared(&ran), "{}", said(&ran));
    let to = given.asker.recipient().to_string();
    given.release_to("later.age", &["--to", &to]);
    let later = Given { package: given.path("later.age"), ..given };
    for typed in [&code, &words, receipt["qr"].as_str().unwrap()] {
        let report = later.json(&["--receipt", typed]);
        assert_eq!(report["sound"], true, "{report}");
        assert_eq!(report["package"]["outside"]["compared"][0]["result"], "agrees", "{report}");
    }
    let other = Pin::new(What::Receipt, number, &[0x5A; 32]);
    named(&later.check(&["--receipt", &format!("{number}:{}", other.code())]), "rewritten-outside-copy");
    let bent = words.replacen(&number.to_string(), &(number + 1).to_string(), 1);
    let ran = later.check(&["--receipt", &bent]);
    assert!(
        super::given::code(&ran) == 4 && said(&ran).contains(&format!("{number} would fit")),
        "{}",
        said(&ran)
    );
    // Of another ledger, as the QR code says.
    let qr = receipt["qr"].as_str().unwrap().replace("LEDGER-", "LEDGER-0");
    named(&later.check(&["--receipt", &qr]), "other-ledger-than-kept");
}

fn code_of_not_compared(ran: &std::process::Output) -> bool {
    super::given::code(ran) == 0 && said(ran).contains("could not be compared")
}

#[test]
fn a_day_slip_from_before_an_entry_of_the_chart_can_be_compared_later() {
    let given = Given::new();
    let shown = given.room.json(&["slip"]);
    let typed = format!("{}:{}", shown["number"], shown["code"].as_str().unwrap());
    given.room.at("2024-06-11T09:00:00-04:00");
    contact(&given.room, CHART, "the first thing next morning");
    for day in 12..16 {
        given.room.at(&format!("2024-06-{day}T09:00:00-04:00"));
        contact(&given.room, super::given::OTHER, "in between");
    }
    let to = given.asker.recipient().to_string();
    given.release_to("later.age", &["--to", &to]);
    let later = Given { package: given.path("later.age"), ..given };
    let report = later.json(&["--slip", &typed]);
    assert_eq!(report["sound"], true, "{report}");
    assert_eq!(report["package"]["outside"]["reached"], shown["number"], "{report}");
    let limits = report["limits"].to_string();
    assert!(limits.contains(&format!("Entries after number {}", shown["number"])), "{limits}");
    let number = shown["number"].as_u64().unwrap();
    let bent = format!("{number}:{}", slip::code(&[1; 32]));
    named(&later.check(&["--slip", &bent]), "rewritten-outside-copy");
}

#[test]
fn a_checkpoint_kept_from_an_earlier_package_agrees() {
    let given = Given::new();
    std::fs::write(given.path("kept"), checkpoint(&given)).unwrap();
    let to = given.asker.recipient().to_string();
    let earlier = given.release;
    contact(&given.room, CHART, "since then");
    given.release_to("later.age", &["--to", &to]);
    let later = Given { package: given.path("later.age"), ..given };
    let kept = later.path("kept").display().to_string();
    let report = later.json(&["--checkpoint", &kept]);
    assert_eq!(report["package"]["outside"]["reached"], earlier, "{report}");
    assert_eq!(report["package"]["outside"]["key_known"], true);
    // The same number by the same key, of another ledger: the practice keeps two books.
    let key = later.owner();
    let line = key.place.file.checkpoint_key.clone();
    drop(key);
    let origin = Verifier::parse(&line).unwrap().name().to_string();
    let other = Signer::from_seed(&origin, &[3; 32]).unwrap();
    let text = format!("{origin}\n{earlier}\n{}\n", BASE64.encode([9; 32]));
    std::fs::write(later.path("kept"), inkfast::seal::note::sign(&text, &[&other]).unwrap()).unwrap();
    named(&later.check(&["--checkpoint", &kept]), "other-ledger-than-kept");
    let stranger = Signer::from_seed("ledger-other", &[3; 32]).unwrap();
    let text = text.replace(&origin, "ledger-other");
    std::fs::write(later.path("kept"), inkfast::seal::note::sign(&text, &[&stranger]).unwrap()).unwrap();
    named(&later.check(&["--checkpoint", &kept]), "other-ledger-than-kept");
    // A kept file that is damaged says nothing about the package.
    let bent = checkpoint(&later).replace(&format!("\n{}\n", later.json(&[])["checkpoint"]["size"]), "\n3\n");
    std::fs::write(later.path("kept"), bent).unwrap();
    let ran = later.check(&["--checkpoint", &kept]);
    assert!(code(&ran) == 4 && said(&ran).contains("is damaged"), "{}", said(&ran));
}

#[test]
fn a_policy_is_met_by_its_witnesses_and_by_nobody_else() {
    let given = Given::new();
    let log = log_key(&given);
    let (one, two, three) =
        (Witness::new("w.pellmere", 21), Witness::new("w.marl", 22), Witness::new("w.hemp", 23));
    let path = given.path("policy").display().to_string();
    let kept = given.path("kept").display().to_string();
    std::fs::write(&path, policy(&log, &[&one, &two, &three], "2")).unwrap();
    let time = 1_718_035_200; // 10 June 2024, 16:00 UTC
    let cosigned = one.cosign(&checkpoint(&given), time);
    std::fs::write(&kept, &cosigned).unwrap();
    // One of the two that are needed.
    let ran = given.check(&["--policy", &path, "--checkpoint", &kept]);
    named(&ran, "policy-not-met");
    assert!(said(&ran).contains("Witness w-marl did not sign it."), "{}", said(&ran));
    named(&given.check(&["--policy", &path]), "policy-not-met");
    // The same one twice is one.
    std::fs::write(&kept, one.cosign(&cosigned, time + 5)).unwrap();
    named(&given.check(&["--policy", &path, "--checkpoint", &kept]), "policy-not-met");
    // Two of three.
    std::fs::write(&kept, two.cosign(&cosigned, time + 60)).unwrap();
    let ran = given.check(&["--policy", &path, "--checkpoint", &kept]);
    let plain = said(&ran).split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!(code(&ran), 0, "{plain}");
    assert!(plain.starts_with("SOUND. ") && plain.contains("Witness w-pellmere saw this state"), "{plain}");
    assert!(!plain.contains("The checkpoint key came with the package"), "{plain}");
    // A bent line by a witness is not counted, and said.
    let whole = two.cosign(&cosigned, time);
    let last = whole.trim_end().rsplit(' ').next().unwrap();
    let mut line = BASE64.decode(last).unwrap();
    line[20] ^= 1;
    std::fs::write(&kept, whole.replace(last, &BASE64.encode(line))).unwrap();
    let ran = given.check(&["--policy", &path, "--checkpoint", &kept]);
    named(&ran, "policy-not-met");
    assert!(said(&ran).contains("The signature of witness w-marl is wrong."), "{}", said(&ran));
}

#[test]
fn witnesses_of_another_state_do_not_count() {
    let given = Given::new();
    let log = log_key(&given);
    let one = Witness::new("w.pellmere", 21);
    let (path, kept) = (given.path("policy").display().to_string(), given.path("kept").display().to_string());
    std::fs::write(&path, policy(&log, &[&one], "any")).unwrap();
    std::fs::write(&kept, one.cosign(&checkpoint(&given), 1_718_035_200)).unwrap();
    assert_eq!(code(&given.check(&["--policy", &path, "--checkpoint", &kept])), 0);
    let to = given.asker.recipient().to_string();
    given.release_to("later.age", &["--to", &to]);
    let later = Given { package: given.path("later.age"), ..given };
    named(&later.check(&["--policy", &path, "--checkpoint", &kept]), "policy-not-met");
}

#[test]
fn a_policy_of_another_ledger_is_a_clear_refusal() {
    let given = Given::new();
    let path = given.path("policy").display().to_string();
    let name = log_key(&given).name().to_string();
    let others = [
        Signer::from_seed("ledger-of-somebody-else", &[4; 32]).unwrap(),
        // Another key under the same name, as a rebuilt ledger would have.
        Signer::from_seed(&name, &[4; 32]).unwrap(),
    ];
    for other in others {
        std::fs::write(&path, Policy::for_log(other.verifier()).to_string()).unwrap();
        let folder = given.path("opened").display().to_string();
        let ran = given.check(&["--policy", &path, "--open-to", &folder]);
        named(&ran, "other-ledger-than-kept");
        assert!(said(&ran).contains("REFUSED: your policy names another ledger"), "{}", said(&ran));
        assert!(!given.path("opened").exists());
    }
    // A policy that names this ledger and asks for nobody is kept, and says so.
    std::fs::write(&path, Policy::for_log(&log_key(&given)).to_string()).unwrap();
    let ran = given.check(&["--policy", &path]);
    let plain = said(&ran).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(code(&ran) == 0 && plain.contains("asks for no witness"), "{plain}");
    assert!(plain.starts_with("SOUND IN ITSELF."), "a key is no witness: {plain}");
    assert!(
        !plain.contains("The checkpoint key came with the package"),
        "it is known from the policy: {plain}"
    );
    // No policy at all.
    std::fs::write(&path, "quorum nobody\n").unwrap();
    assert_eq!(code(&given.check(&["--policy", &path])), 4);
}
