use super::*;
use ed25519_dalek::VerifyingKey;
use proptest::prelude::*;

/// The example of C2SP signed-note v1.0.0 (section "Example" of <https://c2sp.org/signed-note>).
const SPEC_VKEY: &str = "example.com/foo+530d903a+AekyeRrm56hApGFkyQR4ZCbV54Id2LKaANYcrnKv3U2k";
const SPEC_NOTE: &str = "This is an example message.\n\n\u{2014} example.com/foo Uw2QOkn8srV1yJGh2VYRlL1Tnagv1YEq6TfXppzi2ONncAlTgK7Ztg1ERYNZXsYjOBH3mFXmRKuwHjG1Yu72IneyaQM=\n";

/// The vectors of golang.org/x/mod `sumdb/note/note_test.go` (TestSign, TestOpen). The seed is the
/// one inside `PRIVATE+KEY+PeterNeumann+c74f20a3+AYEKFALV...`, behind its type byte.
const GO_SEED: &str = "AYEKFALVFGyNhPJEMzD1QIDr+Y7hfZx09iUvxdXHKDFz";
const PETER: &str = "PeterNeumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW";
const ENOCH: &str = "EnochRoot+af0cfe78+ATtqJ7zOtqQtYqOo0CpvDXNlMhV3HeJDpjrASKGLWdop";
const GO_TEXT: &str =
    "If you think cryptography is the answer to your problem,\nthen you don't know what your problem is.\n";
const PETER_LINE: &str = "\u{2014} PeterNeumann x08go/ZJkuBS9UG/SffcvIAQxVBtiFupLLr8pAcElZInNIuGUgYN1FFYC2pZSNXgKvqfqdngotpRZb6KE6RyyBwJnAM=\n";
const ENOCH_LINE: &str = "\u{2014} EnochRoot rwz+eBzmZa0SO3NbfRGzPCpDckykFXSdeX+MNtCOXm2/5n2tiOHp+vAF1aGrQ5ovTG01oOTGwnWLox33WWd1RvMc+QQ=\n";

fn parse(note: &str) -> Note {
    Note::parse(note.as_bytes()).unwrap()
}

fn signer(name: &str, byte: u8) -> Signer {
    Signer::from_seed(name, &[byte; 32]).unwrap()
}

#[test]
fn the_published_example_verifies() {
    let verifier = Verifier::parse(SPEC_VKEY).unwrap();
    assert_eq!(verifier.key_id(), [0x53, 0x0d, 0x90, 0x3a]);
    assert_eq!(verifier.to_string(), SPEC_VKEY);
    let note = parse(SPEC_NOTE);
    assert_eq!(note.text, "This is an example message.\n");
    assert_eq!(note.verify(&[&verifier]), Ok(vec![0]));
    assert_eq!(note.to_string(), SPEC_NOTE);
    let changed = parse(&SPEC_NOTE.replace("message", "massage"));
    assert_eq!(changed.verify(&[&verifier]), Err(NoteError::BadSignature(0)));
}

#[test]
fn signing_gives_the_bytes_another_implementation_published() {
    let typed = BASE64.decode(GO_SEED).unwrap();
    let signer = Signer::from_seed("PeterNeumann", typed[1..].try_into().unwrap()).unwrap();
    assert_eq!(signer.vkey(), PETER);
    assert_eq!(sign(GO_TEXT, &[&signer]).unwrap(), format!("{GO_TEXT}\n{PETER_LINE}"));
}

#[test]
fn known_keys_count_and_unknown_ones_are_ignored() {
    let (peter, enoch) = (Verifier::parse(PETER).unwrap(), Verifier::parse(ENOCH).unwrap());
    let note = parse(&format!("{GO_TEXT}\n{PETER_LINE}{ENOCH_LINE}"));
    assert_eq!(note.verify(&[&enoch, &peter]), Ok(vec![0, 1]));
    assert_eq!(note.verify(&[&enoch]), Ok(vec![1]));
    assert_eq!(note.verify(&[&peter, &peter]), Ok(vec![0]));
    let stranger = Verifier::parse(SPEC_VKEY).unwrap();
    assert_eq!(note.verify(&[&stranger]), Err(NoteError::NoKnownKey));
    assert_eq!(note.verify(&[]), Err(NoteError::NoKnownKey));
}

/// Lines every reader must step over: a name nobody knows, and the right name with an id nobody knows.
#[test]
fn grease_lines_change_nothing() {
    let peter = Verifier::parse(PETER).unwrap();
    let grease = |name: &str| SignatureLine {
        name: name.to_owned(),
        key_id: [0xde, 0xad, 0xbe, 0xef],
        bytes: b"never a signature".to_vec(),
    };
    let note = format!("{GO_TEXT}\n{}\n{}\n{PETER_LINE}", grease("grease.invalid"), grease("PeterNeumann"));
    assert_eq!(parse(&note).verify(&[&peter]), Ok(vec![2]));
    let same_id = SignatureLine { key_id: peter.key_id(), ..grease("somebody.else") };
    let note = format!("{GO_TEXT}\n{same_id}\n");
    assert_eq!(parse(&note).verify(&[&peter]), Err(NoteError::NoKnownKey));
}

#[test]
fn one_wrong_signature_by_a_known_key_rejects_the_note() {
    let (peter, enoch) = (Verifier::parse(PETER).unwrap(), Verifier::parse(ENOCH).unwrap());
    let mut note = parse(&format!("{GO_TEXT}\n{PETER_LINE}{ENOCH_LINE}"));
    note.signatures[1].bytes[7] ^= 1;
    assert_eq!(note.verify(&[&peter, &enoch]), Err(NoteError::BadSignature(1)));
    assert_eq!(note.verify(&[&peter]), Ok(vec![0]));
    note.signatures[1].bytes.pop();
    assert_eq!(note.verify(&[&peter, &enoch]), Err(NoteError::BadSignature(1)));
}

#[test]
fn the_same_key_twice_is_one_signer() {
    let peter = Verifier::parse(PETER).unwrap();
    let note = parse(&format!("{GO_TEXT}\n{PETER_LINE}{PETER_LINE}"));
    assert_eq!(note.verify(&[&peter]), Ok(vec![0]));
    let (a, again, b) = (signer("a", 1), signer("a", 1), signer("b", 2));
    assert_eq!(sign("x\n", &[&a, &again]), Err(NoteError::SameSigner));
    let note = parse(&sign("x\n", &[&a, &b]).unwrap());
    assert_eq!(note.verify(&[a.verifier(), b.verifier()]), Ok(vec![0, 1]));
}

#[test]
fn claims_carry_what_a_batch_needs() {
    let peter = Verifier::parse(PETER).unwrap();
    let note = parse(&format!("{GO_TEXT}\n{ENOCH_LINE}{PETER_LINE}"));
    let claims = note.claims(&[&peter]).unwrap();
    assert_eq!((claims.len(), claims[0].line, claims[0].message), (1, 1, GO_TEXT.as_bytes()));
    assert_eq!(claims[0].signature.to_bytes().as_slice(), note.signatures[1].bytes);
    assert_eq!(claims[0].check(), Ok(()));
    assert_eq!(distinct_lines(&claims), [1]);
}

#[test]
fn a_text_may_hold_empty_lines_and_even_a_signature_line() {
    let signer = signer("a", 1);
    for text in ["\n", "one\n\ntwo\n", "one\n\n", "\n\n\n", &format!("{GO_TEXT}\n{PETER_LINE}")] {
        let note = parse(&sign(text, &[&signer]).unwrap());
        assert_eq!((note.text.as_str(), note.signatures.len()), (text, 1));
        assert_eq!(note.verify(&[signer.verifier()]), Ok(vec![0]));
    }
}

#[test]
fn what_has_not_the_form_of_a_note_is_refused() {
    let good = format!("{GO_TEXT}\n{PETER_LINE}");
    let line = |text: &str| format!("{GO_TEXT}\n{text}\n");
    let form = NoteError::SignatureForm(0);
    let cases = [
        (String::new(), NoteError::NoEmptyLine),
        (GO_TEXT.to_owned(), NoteError::NoEmptyLine),
        (format!("{GO_TEXT}\n"), NoteError::NoSignature),
        (format!("{good}\n"), NoteError::NoSignature),
        (good.trim_end().to_owned(), NoteError::NoSignature),
        (good.replace("cryptography", "crypto\tgraphy"), NoteError::ControlCharacter(19)),
        (good.replace('\n', "\r\n"), NoteError::ControlCharacter(56)),
        (format!("{good}x\n"), NoteError::SignatureForm(1)),
        (line("- name AAAAAAAA"), form.clone()),
        (line("\u{2014}name AAAAAAAA"), form.clone()),
        (line("\u{2014} name  AAAAAAAA"), form.clone()),
        (line("\u{2014}  AAAAAAAA"), form.clone()),
        (line("\u{2014} na+me AAAAAAAA"), form.clone()),
        (line("\u{2014} na\u{a0}me AAAAAAAA"), form.clone()),
        (line("\u{2014} name AAAAAAAA "), form.clone()),
        (line("\u{2014} name AAAAAA=="), form.clone()),
        (line("\u{2014} name AAAAAAA"), form.clone()),
        (line("\u{2014} name AAAAAAB="), form.clone()),
        (line("\u{2014} name AAA_AAAA"), form.clone()),
        (line("\u{2014} name"), form),
    ];
    for (note, error) in cases {
        assert_eq!(Note::parse(note.as_bytes()), Err(error), "{note:?}");
    }
    assert_eq!(Note::parse(b"\xff\n\n"), Err(NoteError::NotText));
}

#[test]
fn sizes_are_bounded_and_sixteen_signatures_are_fine() {
    let mut note = format!("{GO_TEXT}\n{PETER_LINE}");
    for _ in 1..MAX_SIGNATURES {
        note.push_str(ENOCH_LINE);
    }
    let peter = Verifier::parse(PETER).unwrap();
    assert_eq!(parse(&note).verify(&[&peter]), Ok(vec![0]));
    note.push_str(ENOCH_LINE);
    assert_eq!(Note::parse(note.as_bytes()), Err(NoteError::TooManySignatures));
    let long = format!("{}\n", "x".repeat(MAX_NOTE_BYTES));
    assert_eq!(Note::parse(long.as_bytes()), Err(NoteError::TooLong));
    assert_eq!(sign(&long, &[&signer("a", 1)]), Err(NoteError::TooLong));
}

#[test]
fn only_texts_a_note_can_hold_are_signed() {
    let a = signer("a", 1);
    assert_eq!(sign("", &[&a]), Err(NoteError::TextEnd));
    assert_eq!(sign("no newline", &[&a]), Err(NoteError::TextEnd));
    assert_eq!(sign("tab\there\n", &[&a]), Err(NoteError::ControlCharacter(3)));
    assert_eq!(sign("x\n", &[]), Err(NoteError::NoSigner));
}

#[test]
fn verifier_keys_are_read_strictly() {
    let cases = [
        ("", NoteError::KeyForm),
        ("name", NoteError::KeyForm),
        ("name+530d903a", NoteError::KeyForm),
        (&SPEC_VKEY[..SPEC_VKEY.len() - 1], NoteError::KeyForm),
        (&SPEC_VKEY[..SPEC_VKEY.len() - 4], NoteError::KeyId),
        (&SPEC_VKEY.replace("530d903a", "530D903A"), NoteError::KeyForm),
        (&SPEC_VKEY.replace("530d903a", "530d903"), NoteError::KeyForm),
        (&SPEC_VKEY.replace("530d903a", "530d903b"), NoteError::KeyId),
        (&SPEC_VKEY.replace("example.com/foo", "example.com/fob"), NoteError::KeyId),
        (&SPEC_VKEY.replace("example.com/foo", "example.com foo"), NoteError::KeyName),
        (&SPEC_VKEY.replace("example.com/foo", ""), NoteError::KeyName),
        // Another type under the same id, then a true witness key.
        (&SPEC_VKEY.replace("+Aeky", "+BOky"), NoteError::KeyId),
        (WITNESS_VKEY, NoteError::KeyType(4)),
    ];
    for (vkey, error) in cases {
        assert_eq!(Verifier::parse(vkey), Err(error), "{vkey}");
    }
}

/// A witness key, type 4, from transparency-dev/formats `note/note_cosigv1_test.go`.
const WITNESS_VKEY: &str = "remora.n621.de+da77ade7+BOvN63jn/bLvkieywe8R6UYAtVtNbZpXh34x7onlmtw2";

#[test]
fn keys_of_other_types_are_read_but_not_verified_with() {
    let vkey = Vkey::parse(WITNESS_VKEY).unwrap();
    assert_eq!((vkey.name(), vkey.kind(), vkey.key().len()), ("remora.n621.de", 4, 32));
    assert!(vkey.is_witness_key());
    assert_eq!(vkey.to_string(), WITNESS_VKEY);
    assert_eq!(Verifier::try_from(&vkey), Err(NoteError::KeyType(4)));
    let plain = Vkey::parse(SPEC_VKEY).unwrap();
    assert!(!plain.is_witness_key());
    assert_eq!(Verifier::try_from(&plain).map(|v| v.to_string()), Ok(SPEC_VKEY.to_owned()));
}

#[test]
fn weak_and_doubly_spelled_public_keys_are_refused() {
    let mut identity = [0u8; 32];
    identity[0] = 1;
    assert_eq!(Verifier::new("a", &identity), Err(NoteError::WeakKey));
    // y = 0 is a point of order four.
    assert_eq!(Verifier::new("a", &[0; 32]), Err(NoteError::WeakKey));
    // Second spellings y + p (p = 2^255 - 19) of the points with y from 0 to 18, either sign.
    let mut points = 0;
    for low in 0xed..=0xff_u8 {
        for high in [0x7f, 0xff] {
            let mut spelling = [0xff; 32];
            (spelling[0], spelling[31]) = (low, high);
            points += usize::from(VerifyingKey::from_bytes(&spelling).is_ok_and(|key| !key.is_weak()));
            assert_eq!(Verifier::new("a", &spelling), Err(NoteError::WeakKey), "{low} {high}");
        }
    }
    assert!(points > 0, "some of these are whole, strong points, so the spelling check is what refuses them");
}

#[test]
fn no_formatting_shows_the_secret() {
    let signer = signer("a", 7);
    let shown = format!("{signer:?}");
    assert_eq!(shown, format!("Signer({}, secret not shown)", signer.vkey()));
}

#[test]
fn keys_that_can_not_be_told_apart_are_refused() {
    // Four bytes of id can be made to collide by trying keys; here the collision is written in.
    let (a, b) = (signer("a", 1), signer("a", 2));
    let mut note = parse(&sign("x\n", &[&a]).unwrap());
    assert_ne!(a.verifier().key_id(), b.verifier().key_id());
    let forged = b.verifier().with_key_id(a.verifier().key_id());
    assert_eq!(note.verify(&[a.verifier(), &forged]), Err(NoteError::AmbiguousKey));
    note.signatures[0].name = "c".to_owned();
    assert_eq!(note.verify(&[a.verifier(), &forged]), Err(NoteError::NoKnownKey));
}

proptest! {
    #[test]
    fn parsing_never_panics_and_prints_what_it_read(bytes in proptest::collection::vec(any::<u8>(), 0..300)) {
        if let Ok(note) = Note::parse(&bytes) {
            prop_assert!(note.to_string().into_bytes() == bytes);
        }
        let _ = Verifier::parse(&String::from_utf8_lossy(&bytes));
    }

    #[test]
    fn a_note_near_the_form_never_panics(text in "[a\n\u{2014} +=A-C]{0,80}") {
        if let Ok(note) = Note::parse(text.as_bytes()) {
            prop_assert_eq!(note.to_string(), text.clone());
        }
        let _ = Verifier::parse(&text);
    }

    #[test]
    fn any_flipped_bit_of_a_signed_note_is_noticed(at in 0usize..160, bit in 0u8..8) {
        let signer = signer("a.example/b", 9);
        let mut bytes = sign("entry one\n", &[&signer]).unwrap().into_bytes();
        let at = at % bytes.len();
        bytes[at] ^= 1 << bit;
        let verdict = Note::parse(&bytes).and_then(|note| note.verify(&[signer.verifier()]));
        prop_assert!(verdict.is_err());
    }
}
