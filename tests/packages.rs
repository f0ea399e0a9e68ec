//! Promises: a package checks alone, shows whether the chart is complete, reveals nothing of other charts,
//! and comes out the same each time; the store folder reveals nothing at all.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;
#[path = "common/planted.rs"]
mod planted;

use common::{Dice, example, ids, long};
use inkfast::practice::release::Withhold;
use inkfast::record::kinds::release::WithholdReason;
use inkfast::seal::age_file::{Identity, With, open};
use inkfast::seal::note::{Note, Signer, sign};
use inkfast::trouble::Kind;
use inkfast::verify::finding::{FindingId, Report};
use inkfast::verify::manifest::Manifest;
use inkfast::verify::package::check_archive;
use inkfast::verify::package_report::{SignerReport, StatementId, WithheldReport};
use planted::{Members, OTHERS, OWN, Planted, WITHHELD, holds, judge, members, named, pack};
use std::path::Path;

#[test]
fn a_package_checks_alone_and_is_complete() {
    let mut planted = Planted::new();
    let (released, archive) = planted.archive("whole.age", Vec::new());
    let report = judge(&archive).unwrap();
    assert!(report.sound && report.findings.is_empty(), "{:?}", report.findings);
    assert_eq!(report.entries, 5);
    assert!(report.complete.unwrap().contains("5 entries, none missing, none withheld"));
    assert_eq!(report.checkpoint.unwrap().size, released.seq);
    assert!(!report.limits.is_empty());
    for word in OWN.iter().chain([&WITHHELD]) {
        assert!(members(&archive).iter().any(|(_, bytes)| holds(bytes, word)), "{word} was not given");
    }
    // The sealed file says nothing, and opens with no other key.
    let sealed = std::fs::read(&released.file).unwrap();
    assert!(OWN.iter().all(|word| !holds(&sealed, word)));
    assert!(open(&With::Identities(&[Identity::generate()]), &sealed).is_err());
}

#[test]
fn a_package_reveals_nothing_of_other_charts() {
    let mut planted = Planted::new();
    let (_, archive) = planted.archive("p.age", Vec::new());
    for (name, bytes) in members(&archive) {
        for word in OTHERS {
            assert!(!holds(name.as_bytes(), word) && !holds(&bytes, word), "{word} stands in {name}");
        }
    }
    let other = planted.small.practice.chart_tags().unwrap().into_iter().find(|t| *t != planted.own).unwrap();
    assert!(!holds(&archive, &other), "the tag of another chart is in the package");
}

/// Words of other patients, each planted in another place.
const EVERYWHERE: [&str; 13] = [
    "Fernwhistle",
    "oxalisroot",
    "Gorsebeck",
    "tarnwater",
    "Hazelgarth",
    "Pinchbeckson",
    "mallowfield",
    "Quernstone",
    "Vetchling",
    "Umberslade",
    "Thistledown",
    "Wrackline",
    "Yarrowby",
];

/// Plants them: in the other chart, in what is kept outside any chart, and in a draft.
fn plant_everywhere(planted: &mut Planted) {
    let other = planted.small.practice.chart_tags().unwrap().into_iter().find(|t| *t != planted.own).unwrap();
    let placed: [(&str, &str, &str, bool); 12] = [
        ("decision-maker", "/name", EVERYWHERE[0], true),
        ("contact", "/said", EVERYWHERE[1], true),
        ("release", "/to", EVERYWHERE[2], true),
        ("office-file", "/words", EVERYWHERE[3], false),
        ("request", "/from", EVERYWHERE[4], true),
        ("notice", "/from", EVERYWHERE[5], false),
        ("hold", "/reason", EVERYWHERE[6], true),
        ("referral", "/to", EVERYWHERE[7], true),
        ("alert", "/words", EVERYWHERE[8], true),
        ("amendment-request", "/from", EVERYWHERE[9], true),
        // What staff remark on the clock is printed with every chart; who was there is not.
        ("clock-remark", "/words", EVERYWHERE[10], false),
        ("check-made", "/follow_up", EVERYWHERE[11], false),
    ];
    for (kind, field, word, in_chart) in placed {
        let mut record = example(kind);
        *record.data.pointer_mut(field).unwrap_or_else(|| panic!("{kind}{field}")) = word.into();
        let data = record.read_data().unwrap();
        common::add(&mut planted.small.practice, in_chart.then_some(&other), data).unwrap();
    }
    let draft = inkfast::practice::drafts::Kept {
        kind: "contact".into(),
        chart: Some(other),
        by: common::OWNER.into(),
        begun: planted.small.practice.now(),
        data: serde_json::json!({ "said": EVERYWHERE[12] }),
    };
    planted.small.practice.keep_draft(&draft).unwrap();
}

/// The bytes as they are, and whatever base64 or hex in them says.
fn readings(bytes: &[u8]) -> Vec<Vec<u8>> {
    let mut out = vec![bytes.to_ascii_lowercase()];
    let word = |b: &u8| b.is_ascii_alphanumeric() || b"+/-_".contains(b);
    for run in bytes.split(|b| !word(b)).filter(|run| run.len() >= 8) {
        let standard: Vec<u8> = run
            .iter()
            .map(|b| match b {
                b'-' => b'+',
                b'_' => b'/',
                b => *b,
            })
            .collect();
        // A word may begin anywhere in a run, and so at any of its four places in a group.
        for skip in 0..4 {
            let mut whole = standard[skip.min(standard.len())..].to_vec();
            // Filled up, so that the last letters of a run without padding are read as well.
            whole.resize(whole.len().div_ceil(4) * 4, b'A');
            if let Ok(plain) = data_encoding::BASE64_NOPAD.decode(&whole) {
                out.push(plain.to_ascii_lowercase());
            }
        }
        for skip in 0..2 {
            let part = &run[skip.min(run.len())..];
            let whole = part[..part.len() / 2 * 2].to_ascii_lowercase();
            if let Ok(plain) = data_encoding::HEXLOWER.decode(&whole) {
                out.push(plain.to_ascii_lowercase());
            }
        }
    }
    out
}

/// True when any reading holds the word, in UTF-8 or UTF-16.
fn told_by(readings: &[Vec<u8>], word: &str) -> bool {
    let word = word.to_ascii_lowercase();
    let wide: Vec<u16> = word.encode_utf16().collect();
    let forms = [
        word.clone().into_bytes(),
        wide.iter().flat_map(|unit| unit.to_le_bytes()).collect(),
        wide.iter().flat_map(|unit| unit.to_be_bytes()).collect(),
    ];
    readings.iter().any(|bytes| {
        forms.iter().any(|form| bytes.windows(form.len()).any(|window| window == form.as_slice()))
    })
}

#[test]
fn no_word_of_another_patient_is_in_any_byte_however_it_is_written() {
    // The search itself finds what it looks for.
    for hidden in [
        data_encoding::BASE64.encode(b"so: Fernwhistle was here"),
        data_encoding::BASE64URL_NOPAD.encode(b"x Fernwhistle"),
        data_encoding::HEXLOWER.encode(b"..Fernwhistle"),
        data_encoding::BASE64
            .encode(&"Fernwhistle".encode_utf16().flat_map(u16::to_le_bytes).collect::<Vec<_>>()),
    ] {
        assert!(told_by(&readings(format!("<p>{hidden}</p>").as_bytes()), "Fernwhistle"), "{hidden}");
    }
    let mut planted = Planted::new();
    plant_everywhere(&mut planted);
    let (_, first) = planted.archive("p.age", Vec::new());
    let (_, second) = planted.archive("q.age", Vec::new());
    for (name, bytes) in members(&first).into_iter().chain(members(&second)) {
        let all = readings(&[name.as_bytes(), b" ", &bytes].concat());
        for word in EVERYWHERE.iter().chain(&OTHERS) {
            assert!(!told_by(&all, word), "{word} stands in {name}");
        }
        assert_eq!(told_by(&all, OWN[0]), told_by(&[bytes.to_ascii_lowercase()], OWN[0]), "{name}");
    }
}

#[test]
fn the_store_folder_reveals_nothing_at_all() {
    let mut planted = Planted::new();
    // With an index in it, and a draft.
    drop(planted.archive("p.age", Vec::new()));
    let draft = inkfast::practice::drafts::Kept {
        kind: "contact".into(),
        chart: Some(planted.own.clone()),
        by: common::OWNER.into(),
        begun: planted.small.practice.now(),
        data: serde_json::json!({ "said": "albatross" }),
    };
    planted.small.practice.keep_draft(&draft).unwrap();
    let root = planted.small.root();
    assert!(root.join("index").is_dir());
    let staff = example("staff").data["name"].as_str().unwrap().to_string();
    let practice = example("register-opened").data.clone();
    let practice = practice.as_object().unwrap().values().find_map(|v| v.as_str()).unwrap().to_string();
    let mut words: Vec<&str> = OWN.iter().chain(&OTHERS).copied().collect();
    words.extend([WITHHELD, "1990-05-05", "PM-0001", "albatross", "own paper", &staff, &practice]);
    let mut looked_at = 0;
    visit(&root, &mut |path, bytes| {
        looked_at += 1;
        for word in &words {
            let shown = path.strip_prefix(&root).unwrap().to_str().unwrap();
            assert!(!holds(shown.as_bytes(), word), "{word} stands in the name {shown}");
            assert!(!holds(bytes, word), "{word} stands in {shown}");
        }
    });
    assert!(looked_at > 12, "{looked_at}");
}

fn visit(dir: &Path, look: &mut dyn FnMut(&Path, &[u8])) {
    for item in std::fs::read_dir(dir).unwrap() {
        let path = item.unwrap().path();
        if path.is_dir() {
            visit(&path, look);
        } else {
            look(&path, &std::fs::read(&path).unwrap());
        }
    }
}

#[test]
fn what_is_withheld_is_counted_and_proven_and_its_words_are_not_there() {
    let mut planted = Planted::new();
    let why = "the practice's own lawyer";
    let withheld = planted.withheld;
    let (_, archive) = planted.archive(
        "p.age",
        vec![Withhold {
            words: Some(why.to_string()),
            ..Withhold::new(withheld, WithholdReason::ForProceeding)
        }],
    );
    let report = judge(&archive).unwrap();
    assert!(report.sound && report.entries == 5, "{:?}", report.findings);
    let complete = report.complete.unwrap();
    assert!(
        complete.contains("All 5 entries") && complete.contains("4 are given, 1 are withheld"),
        "{complete}"
    );
    let all = members(&archive);
    for (name, bytes) in &all {
        assert!(!holds(bytes, WITHHELD), "the withheld word stands in {name}");
    }
    let text = |wanted: &str| {
        let (_, bytes) = all.iter().find(|(name, _)| name == wanted).unwrap();
        String::from_utf8(bytes.clone()).unwrap()
    };
    assert!(text("manifest.json").contains(why));
    assert!(text("record.html").contains("lawyer"), "the printed record does not say why");
    // Its words are pressed together, so they are compared with the page's from outside (`outside_pdf.rs`).
    assert!(all.iter().any(|(name, bytes)| name == "record.pdf" && bytes.starts_with(b"%PDF-1.7")));
    assert!(all.iter().any(|(name, _)| name == "entries/000003.leaf"));
    assert!(
        !all.iter().any(|(name, _)| name == "entries/000003.record.json" || name == "entries/000003.opening")
    );
    // Given in after all, by somebody who has it, it is found as not being on the list.
    let (_, whole) = planted.archive("q.age", Vec::new());
    let given: Vec<_> =
        members(&whole).into_iter().filter(|(n, _)| n.starts_with("entries/000003.")).collect();
    let mut with = all.clone();
    with.extend(given.into_iter().filter(|(n, _)| n.ends_with("record.json") || n.ends_with("opening")));
    let report = judge(&pack(&with)).unwrap();
    assert!(!report.sound && ids(&report).contains(&"member-not-listed"), "{:?}", ids(&report));
}

#[test]
fn an_attachment_of_a_withheld_entry_stays_at_the_practice() {
    let mut planted = Planted::new();
    let entries = planted.small.practice.chart(&planted.own).unwrap();
    let paper = entries.iter().find(|e| e.leaf.kind == "attachment").unwrap().leaf.seq;
    let (_, archive) = planted.archive("p.age", vec![Withhold::new(paper, WithholdReason::AnotherPerson)]);
    let all = members(&archive);
    assert!(!all.iter().any(|(name, bytes)| name.starts_with("attachments/") || holds(bytes, OWN[2])));
    assert!(judge(&archive).unwrap().sound);
}

#[test]
fn a_changed_removed_or_added_member_is_found() {
    let mut planted = Planted::new();
    let (_, archive) = planted.archive("p.age", Vec::new());
    let all = members(&archive);
    assert!(judge(&pack(&all)).unwrap().sound, "packed again it is the same package");
    let mut dice = Dice::new(3);
    for i in 0..all.len() {
        let name = &all[i].0;
        let flips = if long() { 60 } else { 6 };
        for _ in 0..flips {
            let bit = dice.below(all[i].1.len() as u64 * 8) as usize;
            let mut changed = all.clone();
            changed[i].1[bit / 8] ^= 1 << (bit % 8);
            let report = judge(&pack(&changed)).unwrap();
            assert!(named(&report), "{name}, bit {bit}: {:?}", report.findings);
        }
        let mut without = all.clone();
        without.remove(i);
        assert!(named(&judge(&pack(&without)).unwrap()), "without {name}");
        let mut shorter = all.clone();
        shorter[i].1.pop();
        assert!(named(&judge(&pack(&shorter)).unwrap()), "{name} is shorter");
        let mut renamed = all.clone();
        renamed[i].0.push('x');
        assert!(named(&judge(&pack(&renamed)).unwrap()), "{name} has another name");
        let mut twice = all.clone();
        twice.push((name.clone(), b"another of the same name".to_vec()));
        assert!(named(&judge(&pack(&twice)).unwrap()), "{name} twice");
    }
    for name in ["extra.txt", "entries/000006.leaf", "attachments/0000", "keys/2.leaf"] {
        let mut more = all.clone();
        more.push((name.into(), vec![1]));
        assert!(named(&judge(&pack(&more)).unwrap()), "with {name}");
    }
    let mut behind = archive.clone();
    behind.extend_from_slice(b"something behind the end");
    assert!(named(&judge(&behind).unwrap()));
}

fn part<'a>(all: &'a mut Members, name: &str) -> &'a mut Vec<u8> {
    &mut all.iter_mut().find(|(n, _)| n == name).unwrap_or_else(|| panic!("no {name}")).1
}

/// Where the findings of this sort are: part, entry and kind.
fn places(report: &Report, id: FindingId) -> Vec<(Option<&str>, Option<u64>, Option<&str>)> {
    let found = report.findings.iter().filter(|f| f.id == id.id());
    found.map(|f| (f.place.file.as_deref(), f.place.seq, f.place.kind.as_deref())).collect()
}

#[test]
fn what_is_wrong_is_named_with_its_part_its_entry_and_its_kind() {
    let mut planted = Planted::new();
    let (_, archive) =
        planted.archive("p.age", vec![Withhold::new(planted.withheld, WithholdReason::ForProceeding)]);
    let all = members(&archive);
    let list = planted::list_of(&all);
    let seq = |number: usize| Some(list.entries[number - 1].seq);
    let paper = all.iter().find(|(name, _)| name.starts_with("attachments/")).unwrap().0.clone();
    let leaf = "entries/000002.leaf";
    let second = (Some("entries/000002"), seq(2), Some("contact"));
    let in_chart = (Some("entries/000002"), seq(2), None);
    let bent = |change: &dyn Fn(&mut Members), bend: fn(&mut Manifest)| {
        let mut bent = all.clone();
        change(&mut bent);
        judge(&pack(&planted::signed_anew(&planted, &bent, bend))).unwrap()
    };
    let as_it_is = |_: &mut Manifest| ();
    let leave = |_: &mut Members| ();

    let report = bent(&|all| all.retain(|(name, _)| name != leaf), as_it_is);
    assert_eq!(places(&report, FindingId::MemberMissing), [(Some(leaf), seq(2), None)]);
    assert_eq!(places(&report, FindingId::ChartLinkBroken), [(Some("entries/000003"), seq(3), None)]);
    let report = bent(&|all| part(all, leaf).truncate(9), as_it_is);
    assert_eq!(places(&report, FindingId::LeafUnreadable), [in_chart]);
    let report = bent(&|all| *part(all, "entries/000002.tlog-proof") = b"none".to_vec(), as_it_is);
    assert_eq!(places(&report, FindingId::ProofBroken), [second]);
    let report = bent(&|all| part(all, "entries/000002.record.json").truncate(9), as_it_is);
    assert_eq!(places(&report, FindingId::RecordChanged), [second]);
    let report = bent(&leave, |list| list.entries[1].kind = "visit".into());
    assert_eq!(places(&report, FindingId::ChartNumberBroken), [in_chart]);
    let report = bent(&leave, |list| list.entries[1].chart_seq = 7);
    assert_eq!(places(&report, FindingId::ChartNumberBroken), [in_chart]);
    let report = bent(&leave, |list| list.release += 1);
    assert_eq!(places(&report, FindingId::ReleaseMissing), [(None, Some(list.release + 1), None)]);
    // The paper itself, of the length and under the name that its record gives.
    let at = (Some(paper.as_str()), seq(4), None);
    let report = bent(&|all| part(all, &paper)[0] ^= 1, as_it_is);
    assert_eq!(places(&report, FindingId::AttachmentChanged), [at]);
    let report = bent(&|all| all.retain(|(name, _)| *name != paper), as_it_is);
    assert_eq!(places(&report, FindingId::AttachmentMissing), [at]);
    // Withheld, it is said, and its words are there.
    let record = ("entries/000003.record.json".to_string(), b"{}".to_vec());
    let report = bent(&|all| all.push(record.clone()), as_it_is);
    let listed = (Some("entries/000003"), seq(3), None);
    assert!(places(&report, FindingId::MemberNotListed).contains(&listed), "{:?}", report.findings);
    // The ledger's name on the list is that of the key: no other part can be judged.
    let report = bent(&leave, |list| list.ledger.push('x'));
    assert_eq!(ids(&report), ["manifest-unreadable"]);
}

/// Each part is as listed: length and both digests. Whoever compares one of them by hand finds the part they got.
#[test]
fn a_list_that_is_wrong_in_one_figure_of_one_part_is_found() {
    let mut planted = Planted::new();
    let (_, archive) = planted.archive("p.age", Vec::new());
    let all = members(&archive);
    let bends: [fn(&mut Manifest); 3] = [
        |list| list.files[0].bytes += 1,
        |list| list.files[0].blake3 = "0".repeat(64),
        |list| list.files[0].sha256 = "0".repeat(64),
    ];
    for bend in bends {
        let report = judge(&pack(&planted::signed_bent(&planted, &all, bend))).unwrap();
        let name = planted::list_of(&all).files[0].name.clone();
        assert_eq!(ids(&report), ["member-changed"]);
        assert_eq!(places(&report, FindingId::MemberChanged), [(Some(name.as_str()), None, None)]);
    }
    // The same list in other bytes than were signed; and signed, but by a key that is not on the ledger's list.
    let mut other = all.clone();
    part(&mut other, "manifest.json").push(b'\n');
    assert_eq!(ids(&judge(&pack(&other)).unwrap()), ["manifest-signature"]);
    let mut forged = all.clone();
    let text = Note::parse(part(&mut forged, "manifest.note")).unwrap().text;
    let stranger = Signer::from_seed(common::OWNER, &[9; 32]).unwrap();
    *part(&mut forged, "manifest.note") = sign(&text, &[&stranger]).unwrap().into_bytes();
    assert_eq!(ids(&judge(&pack(&forged)).unwrap()), ["manifest-signature"]);
}

#[test]
fn who_signed_how_much_and_what_is_withheld_for_what_reason_is_told() {
    let mut planted = Planted::new();
    let (_, archive) =
        planted.archive("p.age", vec![Withhold::new(planted.withheld, WithholdReason::ForProceeding)]);
    let list = planted::list_of(&members(&archive));
    let package = judge(&archive).unwrap().package.unwrap();
    // Of the chart's entries, not of the lists of keys that came along.
    assert_eq!(package.signers, [SignerReport { code: common::OWNER.into(), entries: 5 }]);
    let place = package.statements.iter().find(|s| s.id == StatementId::InLedger).unwrap();
    let (first, last) = (list.entries[0].seq, list.release);
    assert!(place.words.contains(&format!("numbers {first} to {last} of the ledger")), "{}", place.words);
    let held = &list.entries[2];
    let (reason, kind) = (held.withheld.clone().unwrap(), "reaction".to_string());
    assert_eq!(package.withheld, [WithheldReport { number: 3, seq: planted.withheld, kind, reason }]);
}

/// Numbers are the order, not clocks (DESIGN.md): a clock that was set back is remarked, and the chart is sound.
#[test]
fn a_clock_that_went_back_is_remarked_at_the_entry() {
    let mut planted = Planted::new();
    let early = planted::record(&mut planted, "2024-01-02T10:00:00-05:00", "contact", &[]);
    planted.small.clock.set(common::moment(common::DAY));
    let (_, archive) = planted.archive("p.age", Vec::new());
    let report = judge(&archive).unwrap();
    assert!(report.sound, "{:?}", report.findings);
    let at = (Some("entries/000005"), Some(early), Some("contact"));
    assert_eq!(places(&report, FindingId::ClockWentBack), [at]);
}

#[test]
fn a_package_of_a_later_edition_is_neither_sound_nor_wrong() {
    let mut planted = Planted::new();
    let (_, archive) = planted.archive("p.age", Vec::new());
    let of = |edition| {
        let all = planted::signed_anew(&planted, &members(&archive), |list| list.inkfast_package = edition);
        judge(&pack(&all)).map(|report| report.sound).map_err(|trouble| trouble.kind)
    };
    assert_eq!((of(0), of(1), of(2)), (Ok(false), Ok(true), Err(Kind::TooNew)));
}

#[test]
fn members_of_another_release_or_chart_are_found() {
    let mut planted = Planted::new();
    let (_, first) = planted.archive("p.age", Vec::new());
    let (_, second) = planted.archive("q.age", Vec::new());
    let (first, second) = (members(&first), members(&second));
    for (i, (name, bytes)) in first.iter().enumerate() {
        let Some((_, other)) = second.iter().find(|(n, b)| n == name && b != bytes) else { continue };
        let mut mixed = first.clone();
        mixed[i].1 = other.clone();
        assert!(named(&judge(&pack(&mixed)).unwrap()), "{name} of the second in the first");
    }
    // The same chart of a store with the same words, but of another ledger.
    let mut again = Planted::new();
    let other = members(&again.archive("p.age", Vec::new()).1);
    for (i, (name, _)) in first.iter().enumerate() {
        let Some((_, bytes)) = other.iter().find(|(n, b)| n == name && *b != first[i].1) else { continue };
        let mut mixed = first.clone();
        mixed[i].1 = bytes.clone();
        assert!(named(&judge(&pack(&mixed)).unwrap()), "{name} of another store");
    }
}

#[test]
fn a_package_whose_end_was_left_out_is_not_complete() {
    let mut planted = Planted::new();
    drop(planted.archive("p.age", Vec::new()));
    let (_, archive) = planted.archive("q.age", Vec::new());
    // Whoever releases leaves the newest entries out, and makes the list and its signature anew.
    for left_out in 1..=2 {
        let mut all = members(&archive);
        let count = planted::list_of(&all).entries.len() as u64;
        for number in (count + 1 - left_out)..=count {
            all.retain(|(n, _)| !n.starts_with(&inkfast::verify::manifest::entry_name(number)));
        }
        let all = planted::signed_anew(&planted, &all, |manifest| {
            manifest.entries.truncate((count - left_out) as usize);
        });
        let report = judge(&pack(&all)).unwrap();
        assert!(ids(&report).contains(&"release-missing"), "{:?}", ids(&report));
        assert!(report.complete.unwrap().contains("can't be said"));
    }
}

#[test]
fn a_package_cut_short_is_never_called_sound() {
    let mut planted = Planted::new();
    let (released, archive) = planted.archive("p.age", Vec::new());
    for cut in (0..archive.len()).step_by(if long() { 151 } else { 1_531 }).chain([archive.len() - 1]) {
        let judged = judge(&archive[..cut]);
        assert!(judged.as_ref().map_or(true, |r| !r.sound), "cut to {cut} of {}", archive.len());
        let at_fault = judged.as_ref().err().map(|t| t.kind);
        assert!(at_fault.is_none_or(|kind| kind == Kind::Damaged), "{cut}: {at_fault:?}");
    }
    // Every member is there, but not the end: it could not be checked.
    let end = archive.len() - archive.iter().rev().take_while(|b| **b == 0).count();
    let end = end.next_multiple_of(512);
    for cut in [end, end + 512] {
        assert!(judge(&archive[..cut]).is_err(), "cut to {cut}");
    }
    let sealed = std::fs::read(&released.file).unwrap();
    for cut in (0..sealed.len()).step_by(if long() { 301 } else { 3_001 }).chain([sealed.len() - 1]) {
        let with = With::Identities(std::slice::from_ref(&planted.asker));
        let judged = inkfast::seal::age_file::opener(&with, &sealed[..cut])
            .map_err(|e| e.about("The package"))
            .and_then(|mut plain| check_archive(&mut plain, &mut |_| ()));
        assert!(judged.is_err(), "sealed, cut to {cut} of {}", sealed.len());
    }
}

#[test]
fn a_second_package_of_the_same_chart_is_the_same_but_for_its_own_release() {
    let mut planted = Planted::new();
    let (first, one) = planted.archive("p.age", Vec::new());
    let (second, two) = planted.archive("q.age", Vec::new());
    // Between the two stands what the first came out as.
    assert_eq!(second.seq, first.seq + 2);
    let (one, two) = (members(&one), members(&two));
    let later = |name: &str| {
        name.starts_with("entries/000006") || name.starts_with("entries/000007") || name == "differences.txt"
    };
    let entry = |name: &str| {
        (name.starts_with("entries/") || name.starts_with("attachments/") || name.starts_with("keys/"))
            && !name.ends_with("tlog-proof")
            && !later(name)
    };
    let entries = |all: &Members| all.iter().filter(|(n, _)| entry(n)).cloned().collect::<Vec<_>>();
    assert_eq!(entries(&one), entries(&two));
    let names = |all: &Members| all.iter().map(|(n, _)| n.clone()).filter(|n| !later(n)).collect::<Vec<_>>();
    assert_eq!(names(&one), names(&two), "the order of the members differs");
}

#[test]
fn a_role_that_does_not_open_the_whole_chart_releases_nothing_of_it() {
    let mut planted = Planted::new();
    let me = inkfast::seal::identity::StaffIdentity::open(
        &std::fs::read(planted.small.practice.place.key_file("staff-TR.age")).unwrap(),
        common::PASSPHRASE,
    )
    .unwrap();
    let place = planted.small.practice.place.clone();
    let mut session = inkfast::practice::session::Session::with(&planted.small.world, &place, me).unwrap();
    session.roles.retain(|(r, _)| r.word() == "desk");
    planted.small.practice.session = session;
    let before = planted.small.practice.size();
    let trouble = planted.release("p.age", Vec::new()).unwrap_err();
    assert_eq!(trouble.kind, Kind::Locked, "{trouble}");
    assert_eq!(planted.small.practice.size(), before);
    assert!(!planted.small.dir.path().join("p.age").exists());
}

#[test]
fn a_file_that_exists_is_not_written_over() {
    let mut planted = Planted::new();
    std::fs::write(planted.small.dir.path().join("p.age"), b"mine").unwrap();
    let before = planted.small.practice.size();
    assert_eq!(planted.release("p.age", Vec::new()).unwrap_err().kind, Kind::Refused);
    assert_eq!(planted.small.practice.size(), before);
    assert_eq!(std::fs::read(planted.small.dir.path().join("p.age")).unwrap(), b"mine");
}
