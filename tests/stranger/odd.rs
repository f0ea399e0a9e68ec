//! Forms that a lenient reader would take: a second spelling of a number, a field given twice, a weak key. Whoever bends
//! these holds the keys of the staff, so that digests and signatures are right and the form alone decides. Kept for
//! `check.html` as well, whose readers of JSON and of keys are others than the program's.

use super::common::Dice;
use super::given::{Given, Members, bytes, code, list_again, named, pack, run_within, said};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD as BASE64;
use inkfast::seal::body::hex;
use inkfast::seal::note::{Signer, sign};
use inkfast::verify::manifest::{Manifest, note_text};
use sha2::{Digest as _, Sha256};

/// Enough for the checker and a package of the usual size, in KiB.
const ROOM: u64 = 400_000;

/// Puts this text in the place of the list, and signs it.
fn list_as(members: &mut Members, signer: &Signer, json: &str) {
    let manifest: Manifest = serde_json::from_slice(bytes(members, "manifest.json")).unwrap();
    let (blake, sha) = (hex(blake3::hash(json.as_bytes()).as_bytes()), hex(&Sha256::digest(json)));
    let text = note_text(&manifest.ledger, manifest.release, &blake, &sha);
    *bytes(members, "manifest.note") = sign(&text, &[signer]).unwrap().into_bytes();
    *bytes(members, "manifest.json") = json.as_bytes().to_vec();
}

#[test]
fn a_list_in_another_form_is_read_as_strictly_as_ever() {
    let given = Given::new();
    let signer = &given.owner().session.me.signer;
    let whole = given.members();
    let list = String::from_utf8(bytes(&mut whole.clone(), "manifest.json").clone()).unwrap();
    let release = format!("\"release\": {},", given.release);
    let first = "\"inkfast_package\": 1,";
    assert!(list.contains(&release) && list.contains(first));
    let deep = |levels: usize| format!("\"deep\": {}{},", "[".repeat(levels), "]".repeat(levels));
    for (old, new) in [
        (release.as_str(), format!("\"release\": {}.0,", given.release)),
        (&release, format!("\"release\": {}e0,", given.release)),
        (&release, format!("\"release\": \"{}\",", given.release)),
        (&release, format!("\"release\": 0{},", given.release)),
        (&release, format!("\"release\": -{},", given.release)),
        (&release, "\"release\": 18446744073709551616,".to_string()),
        (&release, format!("{release}{release}")),
        (first, format!("{first} \"more\": 1,")),
        (first, format!("{first} \"__proto__\": null,")),
        (first, format!("{first} {}", deep(100))),
        (first, format!("{first} {}", deep(50_000))),
        ("\"kind\": \"contact\"", "\"kind\": \"cont\\ud800act\"".to_string()),
        ("\"kind\": \"contact\"", "\"kind\": \"cont\tact\"".to_string()),
        ("\"withheld\": \"", "\"withheld\": null, \"withheld\": \"".to_string()),
        ("\"reason\": \"another-person\"", "\"reason\": \"nobody-knows\"".to_string()),
        ("\"reason\": \"another-person\"", "\"reason\": null".to_string()),
        (" of another person\"", " of another person\", \"supports\": null".to_string()),
        (" of another person\"", "\u{feff}<img src=x onerror=alert(1)></script>\"".to_string()),
        (list.as_str(), format!("\u{feff}{list}")),
        (list.as_str(), format!("{list}\0")),
        (list.as_str(), format!("[{list}]")),
        (list.as_str(), "null".to_string()),
        (list.as_str(), String::new()),
    ] {
        let mut bent = whole.clone();
        list_as(&mut bent, signer, &list.replacen(old, &new, 1));
        let ran = given.judge(&bent, &[]);
        assert!([0, 1].contains(&code(&ran)), "{new}: {}", said(&ran));
    }
    // The same list in fewer signs, or with a character written another way, is the same list.
    for (old, new) in [("\n", " "), ("\"kind\": \"contact\"", "\"kind\": \"\\u0063ontact\"")] {
        let mut bent = whole.clone();
        list_as(&mut bent, signer, &list.replace(old, new));
        let ran = given.judge(&bent, &[]);
        assert_eq!(code(&ran), 0, "{}", said(&ran));
    }
    // A later edition is neither sound nor wrong.
    let mut bent = whole.clone();
    list_as(&mut bent, signer, &list.replace(first, "\"inkfast_package\": 2,"));
    assert_eq!(code(&given.judge(&bent, &[])), 2);
}

#[test]
fn weak_keys_and_second_spellings_of_a_signature_count_for_nothing() {
    let given = Given::new();
    let signer = &given.owner().session.me.signer;
    let whole = given.members();
    let manifest: Manifest = serde_json::from_slice(bytes(&mut whole.clone(), "manifest.json")).unwrap();
    // Small order, not canonical, no point of the curve (RFC 8032 section 5.1.3; the first of the eight points is
    // the neutral one).
    let mut keys: Vec<[u8; 32]> = vec![[0; 32], [0xFF; 32]];
    keys.push(std::array::from_fn(|i| u8::from(i == 0)));
    keys.push(std::array::from_fn(|i| if i == 0 { 2 } else { 0 }));
    keys.push(std::array::from_fn(|i| match i {
        0 => 0xEE,
        31 => 0x7F,
        _ => 0xFF,
    }));
    keys.push(hex_bytes("c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a"));
    for key in keys {
        let typed = [&[1u8], key.as_slice()].concat();
        let id = Sha256::digest([manifest.ledger.as_bytes(), b"\n", &typed].concat());
        let vkey = format!("{}+{}+{}", manifest.ledger, hex4(&id[..4]), BASE64.encode(&typed));
        let mut bent = whole.clone();
        list_again(&mut bent, signer, |list| list.checkpoint_key = vkey);
        named(&given.judge(&bent, &[]), "manifest-unreadable");
    }
    // The number s of the signature, written larger by the order of the group.
    let mut bent = whole.clone();
    let checkpoint = String::from_utf8(bytes(&mut bent, "ledger/checkpoint").clone()).unwrap();
    let line = checkpoint.trim_end().rsplit(' ').next().unwrap().to_string();
    let mut decoded = BASE64.decode(&line).unwrap();
    add_order(&mut decoded[36..68]);
    *bytes(&mut bent, "ledger/checkpoint") = checkpoint.replace(&line, &BASE64.encode(&decoded)).into_bytes();
    list_again(&mut bent, signer, |_| ());
    named(&given.judge(&bent, &[]), "checkpoint-broken");
    // A line with an unused bit set, and one by nobody, which is stepped over.
    let mut bent = whole.clone();
    let last = line.trim_end_matches('=').len() - 1;
    let other = if &line[last..=last] == "A" { "B" } else { "/" };
    let bits = format!("{}{other}{}", &line[..last], &line[last + 1..]);
    *bytes(&mut bent, "ledger/checkpoint") = checkpoint.replace(&line, &bits).into_bytes();
    list_again(&mut bent, signer, |_| ());
    assert_eq!(code(&given.judge(&bent, &[])), 1);
    let mut bent = whole.clone();
    bytes(&mut bent, "ledger/checkpoint").extend_from_slice("\u{2014} grease AAAAAGdyZWFzZQ==\n".as_bytes());
    list_again(&mut bent, signer, |_| ());
    assert_eq!(code(&given.judge(&bent, &[])), 0);
}

fn hex_bytes(text: &str) -> [u8; 32] {
    data_encoding::HEXLOWER.decode(text.as_bytes()).unwrap().try_into().unwrap()
}

fn hex4(bytes: &[u8]) -> String {
    data_encoding::HEXLOWER.encode(bytes)
}

/// Adds the order of the group (RFC 8032 section 5.1) to a little-endian number.
fn add_order(number: &mut [u8]) {
    let mut order = hex_bytes("edd3f55c1a631258d69cf7a2def9de1400000000000000000000000000000010");
    let mut carry = 0u16;
    for (digit, more) in number.iter_mut().zip(&mut order) {
        let sum = u16::from(*digit) + u16::from(*more) + carry;
        *digit = sum as u8;
        carry = sum >> 8;
    }
}

#[test]
fn noise_within_a_part_is_never_a_panic_and_never_sound() {
    let given = Given::new();
    let signer = &given.owner().session.me.signer;
    let whole = given.members();
    let parts: Vec<String> = whole
        .iter()
        .map(|(name, _)| name.clone())
        .filter(|n| n.starts_with("entries/") || n.starts_with("keys/") || n.starts_with("ledger/c"))
        .collect();
    let mut dice = Dice::new(11);
    let path = given.path("bent.tar");
    let rounds = if super::common::long() { 400 } else { 60 };
    for round in 0..rounds {
        let mut bent = whole.clone();
        let name = &parts[dice.below(parts.len() as u64) as usize];
        let part = bytes(&mut bent, name);
        let at = dice.below(part.len() as u64) as usize;
        match dice.below(4) {
            0 => part[at] = dice.next() as u8,
            1 => part[at] ^= 1 << dice.below(7),
            2 => part.insert(at, b" 0\n\"/+A"[dice.below(7) as usize]),
            _ => drop(part.remove(at)),
        }
        let same = bytes(&mut bent, name) == bytes(&mut whole.clone(), name);
        list_again(&mut bent, signer, |_| ());
        std::fs::write(&path, pack(&bent)).unwrap();
        let ran = run_within(ROOM, &[path.to_str().unwrap()]);
        assert!(code(&ran) == 1 || same, "{round} {name}: {}", said(&ran));
    }
}
