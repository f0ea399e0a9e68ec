//! Each way of bending a package, by a stranger and by somebody who holds the staff's keys.

use super::given::{CHART, Given, Members, OTHER, bytes, code, list_again, named, pack, said};
use inkfast::seal::note::{Signer, sign};

#[test]
fn a_flipped_bit_is_found_wherever_it_is() {
    let given = Given::new();
    let whole = given.members();
    let ran = given.judge(&whole, &[]);
    assert_eq!(code(&ran), 0, "packed again it is the same package: {}", said(&ran));
    for (name, _) in &whole {
        let mut bent = whole.clone();
        let member = bytes(&mut bent, name);
        let middle = member.len() / 2;
        member[middle] ^= 1;
        let ran = given.judge(&bent, &[]);
        assert!(code(&ran) == 1 && said(&ran).starts_with("NOT SOUND."), "{name}: {}", said(&ran));
    }
    let mut record = whole.clone();
    bytes(&mut record, "entries/000002.record.json")[40] ^= 4;
    named(&given.judge(&record, &[]), "record-changed");
}

#[test]
fn a_sealed_file_that_was_flipped_or_cut_is_no_package_and_nothing_of_it_is_unpacked() {
    let given = Given::new();
    let sealed = std::fs::read(&given.package).unwrap();
    let folder = given.path("opened");
    let to = ["--open-to", folder.to_str().unwrap()];
    for end in [sealed.len() - 1, sealed.len() - 300, sealed.len() / 2, 300, 40, 0] {
        std::fs::write(&given.package, &sealed[..end]).unwrap();
        let ran = given.check(&to);
        assert_eq!(code(&ran), 2, "cut at {end}: {}", said(&ran));
        assert!(ran.stdout.is_empty(), "{}", said(&ran));
    }
    for at in [sealed.len() - 1, sealed.len() / 2] {
        let mut bent = sealed.clone();
        bent[at] ^= 1;
        std::fs::write(&given.package, &bent).unwrap();
        assert_eq!(code(&given.check(&to)), 2, "flipped at {at}");
    }
    assert!(!folder.exists() && !given.path("opened.part").exists());
    // The same for an archive whose seal was taken off, at the seam between two members too.
    std::fs::write(&given.package, &sealed).unwrap();
    let archive = given.archive();
    for end in [archive.len() - 1024, archive.len() / 2 / 512 * 512, 700, 512] {
        let ran = given.judge_bytes(&archive[..end], &to);
        assert_eq!(code(&ran), 2, "cut at {end}: {}", said(&ran));
    }
    assert!(!folder.exists());
}

#[test]
fn a_bent_package_is_not_unpacked() {
    let given = Given::new();
    let mut bent = given.members();
    bytes(&mut bent, "record.html")[50] ^= 1;
    let folder = given.path("opened");
    let ran = given.judge(&bent, &["--open-to", folder.to_str().unwrap()]);
    named(&ran, "member-changed");
    assert!(said(&ran).contains("It was not unpacked") && !folder.exists());
}

#[test]
fn swapped_members_are_found_even_when_the_list_is_made_anew() {
    let given = Given::new();
    let mut bent = given.members();
    for ending in ["record.json", "opening"] {
        let (two, three) = (format!("entries/000002.{ending}"), format!("entries/000003.{ending}"));
        let other = std::mem::take(bytes(&mut bent, &three));
        let one = std::mem::replace(bytes(&mut bent, &two), other);
        *bytes(&mut bent, &three) = one;
    }
    named(&given.judge(&bent, &[]), "member-changed");
    list_again(&mut bent, &given.owner().session.me.signer, |_| ());
    named(&given.judge(&bent, &[]), "record-changed");
}

#[test]
fn entries_in_another_order_or_one_taken_out_of_the_middle_are_found() {
    let given = Given::new();
    let signer = &given.owner().session.me.signer;
    let mut bent = given.members();
    bent.retain(|(name, _)| !name.starts_with("entries/000003."));
    list_again(&mut bent, signer, |list| {
        list.entries.retain(|e| e.chart_seq != 3);
    });
    let ran = given.judge(&bent, &[]);
    assert!(
        code(&ran) == 1 && said(&ran).contains("It can't be said that the chart is complete"),
        "{}",
        said(&ran)
    );
    // And with the later ones renumbered.
    for number in 4..=20 {
        let (old, new) = (format!("entries/{number:06}."), format!("entries/{:06}.", number - 1));
        for (name, _) in &mut bent {
            *name = name.replace(&old, &new);
        }
    }
    list_again(&mut bent, signer, |list| {
        for entry in list.entries.iter_mut().filter(|e| e.chart_seq > 3) {
            entry.chart_seq -= 1;
        }
    });
    named(&given.judge(&bent, &[]), "chart-number-broken");
    named(&given.judge(&bent, &[]), "chart-link-broken");
}

#[test]
fn the_last_entries_left_out_are_found() {
    let given = Given::new();
    let to = given.asker.recipient().to_string();
    given.release_to("later.age", &["--to", &to]);
    let later = Given { package: given.path("later.age"), ..given };
    let mut bent = later.members();
    let last = bent.iter().filter(|(n, _)| n.ends_with(".leaf") && n.starts_with("entries/")).count();
    bent.retain(|(name, _)| !name.starts_with(&format!("entries/{last:06}.")));
    list_again(&mut bent, &later.owner().session.me.signer, |list| {
        list.entries.pop();
    });
    named(&later.judge(&bent, &[]), "release-missing");
}

#[test]
fn an_entry_of_another_chart_is_found() {
    let given = Given::new();
    // Another chart's package, sealed to the same reader.
    let to = given.asker.recipient().to_string();
    let file = given.path("other.age").display().to_string();
    #[rustfmt::skip]
    given.room.ok(&[
        "release", OTHER, "--file", &file, "--to", &to, "--recipient-name", "Odile Farrant",
        "--no-address-because", "handed over", "--basis", "patient", "--channel", "by hand",
        "--not-checked-because", "one person",
    ]);
    given.release_to("again.age", &["--to", &to]);
    let again = Given { package: given.path("again.age"), ..given };
    let mut bent = again.members();
    let other = Given { package: again.path("other.age"), ..again };
    let theirs = other.members();
    let mut seq = 0;
    for ending in ["leaf", "record.json", "opening", "tlog-proof"] {
        let name = format!("entries/000002.{ending}");
        let theirs = &theirs.iter().find(|(n, _)| *n == name).unwrap().1;
        if ending == "leaf" {
            seq = inkfast::ledger::leaf::Leaf::read(theirs).unwrap().0.seq;
        }
        *bytes(&mut bent, &name) = theirs.clone();
    }
    let signer = &other.owner().session.me.signer;
    list_again(&mut bent, signer, |list| list.entries[1].seq = seq);
    named(&other.judge(&bent, &[]), "other-chart");
    named(&other.judge(&bent, &[]), "chart-link-broken");
}

#[test]
fn withheld_entries_can_be_neither_changed_nor_slipped_in() {
    let given = Given::new();
    let whole = given.members();
    let signer = &given.owner().session.me.signer;
    let report = given.json(&[]);
    let number = report["package"]["withheld"][0]["number"].as_u64().unwrap();
    let name = format!("entries/{number:06}");
    // Its header, with another time.
    let mut bent = whole.clone();
    let leaf = String::from_utf8(bytes(&mut bent, &format!("{name}.leaf")).clone()).unwrap();
    *bytes(&mut bent, &format!("{name}.leaf")) = leaf.replace("2024-06-06T10", "2024-06-06T09").into_bytes();
    list_again(&mut bent, signer, |_| ());
    named(&given.judge(&bent, &[]), "signature-wrong");
    named(&given.judge(&bent, &[]), "proof-broken");
    // Words put in its place.
    let mut bent = whole.clone();
    bent.push((format!("{name}.record.json"), b"{\"said\":\"something milder\"}".to_vec()));
    list_again(&mut bent, signer, |_| ());
    named(&given.judge(&bent, &[]), "member-not-listed");
    // Its reason, without the keys of the practice.
    let mut bent = whole;
    let list = String::from_utf8(bytes(&mut bent, "manifest.json").clone()).unwrap();
    *bytes(&mut bent, "manifest.json") =
        list.replace("an entry of another person", "nothing of note").into_bytes();
    named(&given.judge(&bent, &[]), "manifest-signature");
}

#[test]
fn a_signer_who_is_not_on_the_roster_does_not_count() {
    let given = Given::new();
    let nobody = Signer::from_seed("IV", &[7; 32]).unwrap();
    let mut bent = given.members();
    list_again(&mut bent, &nobody, |_| ());
    named(&given.judge(&bent, &[]), "manifest-signature");
    // An entry signed by somebody who was never listed.
    let mut bent: Members = given.members();
    let leaf = String::from_utf8(bytes(&mut bent, "entries/000002.leaf").clone()).unwrap();
    let (line, _) = leaf.split_once("\n\n").unwrap();
    *bytes(&mut bent, "entries/000002.leaf") = sign(&format!("{line}\n"), &[&nobody]).unwrap().into_bytes();
    list_again(&mut bent, &given.owner().session.me.signer, |_| ());
    named(&given.judge(&bent, &[]), "signer-not-listed");
    named(&given.judge(&bent, &[]), "proof-broken");
}

#[test]
fn a_swapped_attachment_is_found() {
    let given = Given::new();
    let mut bent = given.members();
    let name = bent.iter().find(|(n, _)| n.starts_with("attachments/")).unwrap().0.clone();
    bytes(&mut bent, &name).extend_from_slice(b"Jaw: fractured.");
    list_again(&mut bent, &given.owner().session.me.signer, |_| ());
    named(&given.judge(&bent, &[]), "attachment-changed");
    let mut bent = given.members();
    bent.retain(|(n, _)| *n != name);
    list_again(&mut bent, &given.owner().session.me.signer, |_| ());
    named(&given.judge(&bent, &[]), "attachment-missing");
}

#[test]
fn a_clock_that_ran_backwards_is_said_and_is_no_damage() {
    let given = Given::new();
    given.room.at("2024-06-02T08:00:00-04:00");
    super::given::contact(&given.room, CHART, "back-stamped");
    let to = given.asker.recipient().to_string();
    given.room.at("2024-06-12T08:00:00-04:00");
    given.release_to("later.age", &["--to", &to]);
    let later = Given { package: given.path("later.age"), ..given };
    let ran = later.check(&[]);
    assert!(code(&ran) == 0 && said(&ran).contains("Note [clock-went-back]"), "{}", said(&ran));
    let _ = pack(&later.members());
}
