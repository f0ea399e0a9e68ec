//! Promises: what was asked for is given and what was not is only counted; a withheld entry leaves a slip and
//! nothing else; the same release gives the same bytes again, or a list of what differs; nothing leaves
//! unsealed or with its passphrase written down; and whatever is bent about any of it is found.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;
#[path = "common/planted.rs"]
mod planted;

use common::{add, example, example_data, ids, moment, reaction_saying};
use inkfast::practice::release::{
    Production, ReleaseOrder, SealTo, Span, UNSEALED_WARNING, Withhold, release, span_of_request,
};
use inkfast::record::kinds::release::{Confirmed, Determination, SealedHow, Unsealed, WithholdReason};
use inkfast::record::kinds::{Data, Day};
use inkfast::record::moment::parse_date;
use inkfast::trouble::Kind;
use inkfast::verify::manifest::{DIFFERENCES, DifferenceKind, OUTSIDE_SLIP, slip_name};
use planted::{Members, Planted, WITHHELD, holds, judge, list_of, members, named, pack, signed_anew};
use zeroize::Zeroizing;

fn day(text: &str) -> Day {
    Day(parse_date(text).unwrap())
}

fn text(all: &Members, wanted: &str) -> String {
    let (_, bytes) = all.iter().find(|(name, _)| name == wanted).unwrap_or_else(|| panic!("no {wanted}"));
    String::from_utf8(bytes.clone()).unwrap()
}

/// Records data of a kind in the chart at a moment, with some fields set.
fn record(planted: &mut Planted, at: &str, kind: &str, set: &[(&str, serde_json::Value)]) -> u64 {
    let mut record = example(kind);
    for (pointer, value) in set {
        *record.data.pointer_mut(pointer).unwrap_or_else(|| panic!("{kind} has no {pointer}")) =
            value.clone();
    }
    planted.small.clock.set(moment(at));
    let data = record.read_data().unwrap();
    add(&mut planted.small.practice, Some(&planted.own), data).unwrap().seq
}

/// A chart with contacts in three years, a correction of the one in the middle, and a late one of that.
struct Years {
    planted: Planted,
    before: u64,
    within: u64,
    after: u64,
    correction: u64,
}

fn years() -> Years {
    let mut planted = Planted::new();
    let before =
        record(&mut planted, "2030-02-01T10:00:00-05:00", "contact", &[("/said", "ptarmigan".into())]);
    let within =
        record(&mut planted, "2031-02-01T10:00:00-05:00", "contact", &[("/said", "wheatear".into())]);
    let after = record(&mut planted, "2032-02-01T10:00:00-05:00", "contact", &[("/said", "dotterel".into())]);
    let correction = record(
        &mut planted,
        "2032-02-02T10:00:00-05:00",
        "correction",
        &[
            ("/target", within.into()),
            ("/field", "/said".into()),
            ("/was", "wheatear".into()),
            ("/is", "redshank".into()),
        ],
    );
    Years { planted, before, within, after, correction }
}

fn of_2031() -> Span {
    Span { from: Some(day("2031-01-01")), until: Some(day("2031-12-31")), kinds: Vec::new() }
}

#[test]
fn only_what_was_asked_for_and_what_belongs_to_it_is_given() {
    let Years { mut planted, before, within, after, correction } = years();
    let order = ReleaseOrder { span: of_2031(), ..planted.order("span.age") };
    let (released, archive) = planted.carried_out(order);
    let all = members(&archive);
    let report = judge(&archive).unwrap();
    assert!(report.sound, "{:?}", report.findings);
    let list = list_of(&all);
    let of = |seq: u64| list.entries.iter().find(|e| e.seq == seq).unwrap();
    assert!(of(within).withheld.is_none() && of(within).supports.is_none());
    assert_eq!(of(correction).supports, Some(within), "a correction travels whenever it was written");
    assert_eq!(of(list.entries[0].seq).supports, Some(released.seq), "whose chart it is always travels");
    for left_out in [before, after] {
        assert_eq!(of(left_out).reason, Some(WithholdReason::OutsideRequest));
        assert_eq!(of(left_out).slip.as_deref(), Some(OUTSIDE_SLIP));
    }
    // Counted, and no word of it anywhere.
    assert_eq!(list.entries.len() as u64, report.entries);
    for word in ["ptarmigan", "dotterel"] {
        assert!(all.iter().all(|(_, bytes)| !holds(bytes, word)), "{word}");
    }
    assert!(all.iter().any(|(_, bytes)| holds(bytes, "wheatear")));
    let complete = report.complete.unwrap();
    assert!(complete.contains("2031-01-01 to 2031-12-31") && complete.contains("outside what was asked"));
    assert!(text(&all, OUTSIDE_SLIP).contains(&before.to_string()));
    // The register says the same.
    let entry = planted.small.practice.entry_by_seq(released.seq).unwrap();
    let Some(Data::Release(data)) = entry.data() else { panic!() };
    assert_eq!((data.what.from, data.what.until), (of_2031().from, of_2031().until));
    assert!(data.what.entry_list.contains(&within) && !data.what.entry_list.contains(&before));
}

#[test]
fn by_kind_the_rest_is_left_out() {
    let Years { mut planted, within, .. } = years();
    let span = Span { kinds: vec!["reaction".into()], ..Span::default() };
    let (_, archive) = planted.carried_out(ReleaseOrder { span, ..planted.order("kind.age") });
    let report = judge(&archive).unwrap();
    assert!(report.sound, "{:?}", report.findings);
    let list = list_of(&members(&archive));
    let kinds: Vec<_> = list
        .entries
        .iter()
        .filter(|e| e.withheld.is_none() && e.supports.is_none())
        .map(|e| &*e.kind)
        .collect();
    assert_eq!(kinds, ["reaction", "release"]);
    assert!(list.entries.iter().any(|e| e.seq == within && e.withheld.is_some()));
}

#[test]
fn care_travels_with_the_consent_it_rests_on_and_the_screen_of_its_day() {
    let mut planted = Planted::new();
    let consent = record(
        &mut planted,
        "2031-03-01T09:00:00-05:00",
        "consent",
        &[("/valid_from", "2031-03-01".into()), ("/valid_until", "2031-06-30".into())],
    );
    let screen = record(&mut planted, "2031-03-05T09:00:00-05:00", "screen", &[]);
    let other_screen = record(&mut planted, "2031-03-08T09:00:00-05:00", "screen", &[]);
    let visit = record(&mut planted, "2031-03-05T09:30:00-05:00", "visit", &[]);
    let old = record(
        &mut planted,
        "2031-07-01T09:00:00-04:00",
        "consent",
        &[("/valid_from", "2031-07-01".into()), ("/valid_until", "2031-09-30".into())],
    );
    let span = Span { kinds: vec!["visit".into()], ..Span::default() };
    let (_, archive) = planted.carried_out(ReleaseOrder { span, ..planted.order("care.age") });
    let report = judge(&archive).unwrap();
    assert!(report.sound, "{:?}", report.findings);
    let list = list_of(&members(&archive));
    let supports = |seq: u64| list.entries.iter().find(|e| e.seq == seq).unwrap().supports;
    assert_eq!((supports(consent), supports(screen)), (Some(visit), Some(visit)));
    for left_out in [other_screen, old] {
        let entry = list.entries.iter().find(|e| e.seq == left_out).unwrap();
        assert_eq!(entry.reason, Some(WithholdReason::OutsideRequest), "{entry:?}");
    }
}

#[test]
fn a_request_says_which_dates() {
    let mut planted = Planted::new();
    let Data::Request(mut asked) = example_data("request") else { panic!() };
    asked.dates = vec![day("2031-05-01"), day("2031-02-01")];
    planted.small.clock.set(moment("2032-01-01T10:00:00-05:00"));
    let p = &mut planted.small.practice;
    let seq = add(p, Some(&planted.own), Data::Request(asked)).unwrap().seq;
    let span = span_of_request(p, &planted.own, seq).unwrap();
    assert_eq!((span.from, span.until), (Some(day("2031-02-01")), Some(day("2031-05-01"))));
    assert!(span_of_request(p, &planted.own, 1).is_err(), "an entry of another chart");
}

fn determined(entry: u64) -> Withhold {
    let made = Determination { by: "Odile Farrow".into(), licence: "PSY-4410".into(), on: day("2022-10-03") };
    Withhold { determination: Some(made), ..Withhold::new(entry, WithholdReason::LikelyHarm) }
}

#[test]
fn every_reason_leaves_its_slip_with_law_and_review_and_no_contents() {
    for reason in WithholdReason::ALL {
        if matches!(reason, WithholdReason::OutsideRequest | WithholdReason::Misfiled) {
            continue;
        }
        let mut planted = Planted::new();
        let entry = planted.withheld;
        // A correction quotes what it corrects, so it stays too.
        record(
            &mut planted,
            "2030-01-01T09:00:00-05:00",
            "correction",
            &[("/target", entry.into()), ("/was", WITHHELD.into()), ("/is", "x".into())],
        );
        let one = match reason {
            WithholdReason::LikelyHarm => determined(entry),
            _ => Withhold::new(entry, *reason),
        };
        let (_, archive) = planted.archive("p.age", vec![one]);
        assert!(judge(&archive).unwrap().sound, "{reason}");
        let all = members(&archive);
        assert!(all.iter().all(|(_, bytes)| !holds(bytes, WITHHELD)), "{reason}");
        let slip = text(&all, &slip_name(3));
        assert!(slip.contains(reason.source()) && slip.contains(reason.slip_words()), "{slip}");
        assert!(slip.contains(reason.review().words()), "{slip}");
        assert_eq!(slip.contains("Odile Farrow"), *reason == WithholdReason::LikelyHarm);
        let quoting = list_of(&all).entries.into_iter().find(|e| e.kind == "correction").unwrap();
        assert_eq!(quoting.reason, Some(*reason));
    }
}

#[test]
fn likely_harm_needs_a_determination_and_the_first_entry_is_never_withheld() {
    let mut planted = Planted::new();
    let before = planted.small.practice.scan().entries.len();
    let bare = Withhold::new(planted.withheld, WithholdReason::LikelyHarm);
    assert_eq!(planted.release("p.age", vec![bare]).unwrap_err().kind, Kind::Refused);
    let first = planted.small.practice.chart(&planted.own).unwrap()[0].leaf.seq;
    for (entry, reason) in [
        (first, WithholdReason::AnotherPerson),
        (1, WithholdReason::AnotherPerson),
        (planted.withheld, WithholdReason::OutsideRequest),
    ] {
        assert!(planted.release("p.age", vec![Withhold::new(entry, reason)]).is_err());
    }
    assert_eq!(planted.small.practice.scan().entries.len(), before, "nothing was recorded");
    assert!(!planted.small.dir.path().join("p.age").exists());
}

#[test]
fn the_same_release_again_is_the_same_bytes_inside_the_seal() {
    let Years { mut planted, within, .. } = years();
    let withhold = vec![Withhold::new(planted.withheld, WithholdReason::AnotherPerson)];
    let (first, one) = planted.carried_out(ReleaseOrder { withhold, ..planted.order("one.age") });
    // The chart grows, and so does the rest of the register.
    planted.small.clock.set(moment("2033-01-01T10:00:00-05:00"));
    let p = &mut planted.small.practice;
    add(p, Some(&planted.own), reaction_saying("siskin")).unwrap();
    let order = ReleaseOrder { production: Production::Again(first.seq), ..planted.order("two.age") };
    let (second, two) = planted.carried_out(order);
    assert_eq!(second.same_as, Some(first.seq));
    assert!(one == two, "the archives differ");
    assert_eq!(first.plain_digest, second.plain_digest);
    assert_ne!(std::fs::read(&first.file).unwrap(), std::fs::read(&second.file).unwrap());
    assert!(judge(&two).unwrap().sound);
    // It is a release of its own, and says of which archive.
    let entry = planted.small.practice.entry_by_seq(second.seq).unwrap();
    let Some(Data::Release(data)) = entry.data() else { panic!() };
    assert_eq!(data.what.again_of, Some(first.seq));
    assert_eq!(data.what.plain_digest.as_deref(), Some(&*first.plain_digest));
    // And a third, of the second, is the first's too; so is one of a part of the chart.
    let order = ReleaseOrder { production: Production::Again(second.seq), ..planted.order("three.age") };
    assert_eq!(planted.carried_out(order).0.same_as, Some(first.seq));
    let (part, one) = planted.carried_out(ReleaseOrder { span: of_2031(), ..planted.order("part.age") });
    record(
        &mut planted,
        "2033-02-02T10:00:00-05:00",
        "correction",
        &[
            ("/target", within.into()),
            ("/field", "/said".into()),
            ("/was", "redshank".into()),
            ("/is", "y".into()),
        ],
    );
    let order = ReleaseOrder { production: Production::Again(part.seq), ..planted.order("part-2.age") };
    let (again, two) = planted.carried_out(order);
    assert!(again.same_as == Some(part.seq) && one == two);
}

#[test]
fn a_chart_that_grew_lists_every_difference() {
    let Years { mut planted, within, .. } = years();
    let held = planted.withheld;
    let (first, _) = planted.archive("one.age", vec![Withhold::new(held, WithholdReason::AnotherPerson)]);
    let correction = record(
        &mut planted,
        "2033-02-02T10:00:00-05:00",
        "correction",
        &[
            ("/target", within.into()),
            ("/field", "/said".into()),
            ("/was", "redshank".into()),
            ("/is", "y".into()),
        ],
    );
    let added = record(&mut planted, "2033-02-03T10:00:00-05:00", "contact", &[("/said", "siskin".into())]);
    // Asked by the same person for the same, without anybody saying that it was released before.
    let (second, archive) = planted.archive("two.age", Vec::new());
    assert!(judge(&archive).unwrap().sound);
    let all = members(&archive);
    let list = list_of(&all).differences.unwrap();
    assert_eq!(list.since, first.seq);
    assert_eq!(second.differences.as_ref(), Some(&list));
    let has = |what: DifferenceKind, entry: u64, by: Option<u64>| {
        list.list.iter().any(|d| d.what == what && d.entry == Some(entry) && d.by == by)
    };
    assert!(
        has(DifferenceKind::AddedAfter, added, None) && has(DifferenceKind::AddedAfter, correction, None)
    );
    assert!(has(DifferenceKind::CorrectedSince, within, Some(correction)));
    assert!(has(DifferenceKind::GivenNow, held, None));
    let file = |what: DifferenceKind, name: &str| {
        list.list.iter().any(|d| d.what == what && d.file.as_deref() == Some(name))
    };
    assert!(
        file(DifferenceKind::FileChanged, "record.html") && file(DifferenceKind::FileGone, &slip_name(3))
    );
    assert!(!list.list.iter().any(|d| d.what == DifferenceKind::LayoutChanged), "{list:?}");
    assert!(text(&all, DIFFERENCES).contains(&format!("entry {within}: corrected or added to since")));
    // Nothing is listed that is not a difference: each entry once as added, none that stood before.
    let stood = list.list.iter().filter(|d| d.what == DifferenceKind::AddedAfter);
    assert!(stood.into_iter().all(|d| d.entry.unwrap() > first.seq));
}

#[test]
fn a_page_that_no_longer_comes_out_as_it_did_is_not_passed_off_as_the_same() {
    let mut planted = Planted::new();
    let (first, _) = planted.archive("one.age", Vec::new());
    // As if an earlier program had made another page: what is on record of the package is another digest.
    let entries = planted.small.practice.chart(&planted.own).unwrap();
    let Some(Data::PackageMade(mut made)) = entries.last().unwrap().data() else { panic!() };
    // A later release whose record of its package does not fit what is made from it now.
    let order = planted.order("two.age");
    let (second, _) = planted.carried_out(order);
    made.release = second.seq;
    made.pages[0].digest = "ab".repeat(32);
    let order = ReleaseOrder { production: Production::Again(first.seq), ..planted.order("three.age") };
    assert_eq!(planted.carried_out(order).0.same_as, Some(first.seq));
    let fresh = {
        let Data::Release(mut data) = example_data("release") else { panic!() };
        data.withheld.clear();
        let p = &mut planted.small.practice;
        let seq = add(p, Some(&planted.own), Data::Release(data)).unwrap().seq;
        made.release = seq;
        add(p, Some(&planted.own), Data::PackageMade(made)).unwrap();
        seq
    };
    let order = ReleaseOrder { production: Production::Again(fresh), ..planted.order("four.age") };
    let (done, archive) = planted.carried_out(order);
    assert_eq!(done.same_as, None);
    assert!(judge(&archive).unwrap().sound);
    let list = done.differences.unwrap();
    assert!(list.list.iter().any(|d| d.what == DifferenceKind::LayoutChanged), "{list:?}");
}

#[test]
fn unsealed_leaves_only_as_confirmed_and_says_so_for_ever() {
    let mut planted = Planted::new();
    let confirmed =
        Unsealed { confirmed_by: "TR".into(), shown: UNSEALED_WARNING.into(), how: Confirmed::Answered };
    let order = ReleaseOrder { to: SealTo::Nobody(confirmed.clone()), ..planted.order("open.tar") };
    let released = release(&mut planted.small.practice, &planted.own, order).unwrap();
    let plain = std::fs::read(&released.file).unwrap();
    assert!(judge(&plain).unwrap().sound);
    assert_eq!(released.digest, released.plain_digest);
    let entry = planted.small.practice.entry_by_seq(released.seq).unwrap();
    let Some(Data::Release(data)) = entry.data() else { panic!() };
    assert_eq!((data.sealed, data.unsealed), (SealedHow::NotSealed, Some(confirmed)));
    assert!(text(&members(&plain), "READ-ME-FIRST.txt").contains("NOT sealed, as confirmed by TR"));
}

#[test]
fn a_passphrase_is_nowhere_but_told() {
    const WORDS: &str = "seven herons over \"the weir\"";
    let mut planted = Planted::new();
    let to = || SealTo::Passphrase(Zeroizing::new(WORDS.to_string()));
    let before = planted.small.practice.scan().entries.len();
    // Typed where it would be kept, or in the file's name: refused, and nothing is recorded.
    let mut slip_of_the_pen = planted.order("p.age");
    slip_of_the_pen.data.passphrase_by = Some(format!("by telephone: {WORDS}"));
    slip_of_the_pen.to = to();
    let named = ReleaseOrder { to: to(), ..planted.order(&format!("{WORDS}.age")) };
    for order in [slip_of_the_pen, named] {
        let refused = release(&mut planted.small.practice, &planted.own, order).unwrap_err();
        assert!(refused.kind == Kind::Refused && !refused.to_string().contains(WORDS));
    }
    assert_eq!(planted.small.practice.scan().entries.len(), before);
    let mut order = planted.order("p.age");
    order.data.passphrase_by = None;
    order.to = to();
    let released = release(&mut planted.small.practice, &planted.own, order).unwrap();
    let sealed = std::fs::read(&released.file).unwrap();
    let with = inkfast::seal::age_file::With::Passphrase(WORDS);
    let plain = inkfast::seal::age_file::open(&with, &sealed).unwrap().to_vec();
    for entry in planted.small.practice.chart(&planted.own).unwrap() {
        assert!(!holds(&entry.body.unwrap().record, "seven herons"));
    }
    assert!(!holds(&plain, "seven herons") && !holds(&sealed, "seven herons"));
    assert!(text(&members(&plain), "READ-ME-FIRST.txt").contains("not yet told when this was made"));
}

#[test]
fn whatever_is_bent_about_span_slips_and_differences_is_found() {
    let Years { mut planted, before, within, .. } = years();
    let order = ReleaseOrder { span: of_2031(), ..planted.order("span.age") };
    let (_, archive) = planted.carried_out(order);
    let part = members(&archive);
    drop(planted.archive("one.age", vec![determined(planted.withheld)]));
    let (_, archive) = planted.archive("two.age", vec![determined(planted.withheld)]);
    let whole = members(&archive);
    assert!(judge(&pack(&signed_anew(&planted, &part, |_| ()))).unwrap().sound);
    assert!(judge(&pack(&signed_anew(&planted, &whole, |_| ()))).unwrap().sound);
    let held = planted.withheld;
    let of = |m: &mut inkfast::verify::manifest::Manifest, seq: u64| -> usize {
        m.entries.iter().position(|e| e.seq == seq).unwrap()
    };
    type Bend<'a> = Box<dyn Fn(&mut inkfast::verify::manifest::Manifest) + 'a>;
    let bends: Vec<(&str, &Members, &str, Bend)> = vec![
        ("the span removed", &part, "span-broken", Box::new(|m| m.span = None)),
        ("the span widened", &part, "span-broken", Box::new(|m| m.span.as_mut().unwrap().from = None)),
        (
            "another last day",
            &part,
            "span-broken",
            Box::new(|m| {
                m.span.as_mut().unwrap().until = Some(day("2030-12-31"));
            }),
        ),
        (
            "a kind added to it",
            &part,
            "span-broken",
            Box::new(|m| {
                m.span.as_mut().unwrap().kinds = vec!["visit".into()];
            }),
        ),
        (
            "what it supports removed",
            &part,
            "span-broken",
            Box::new(|m| {
                m.entries.iter_mut().for_each(|e| e.supports = None);
            }),
        ),
        (
            "supports an entry that is left out",
            &part,
            "span-broken",
            Box::new(|m| {
                let at = m.entries.iter().position(|e| e.supports == Some(within)).unwrap();
                m.entries[at].supports = Some(before);
            }),
        ),
        (
            "another reason",
            &part,
            "withheld-unclear",
            Box::new(|m| {
                let at = of(m, before);
                m.entries[at].reason = Some(WithholdReason::AnotherPerson);
            }),
        ),
        (
            "no reason",
            &whole,
            "withheld-unclear",
            Box::new(|m| {
                let at = of(m, held);
                m.entries[at].reason = None;
            }),
        ),
        (
            "other words",
            &whole,
            "withheld-unclear",
            Box::new(|m| {
                let at = of(m, held);
                m.entries[at].withheld = Some("because".into());
            }),
        ),
        (
            "not asked for, it is said, though all was",
            &whole,
            "span-broken",
            Box::new(|m| {
                let at = of(m, held);
                m.entries[at].reason = Some(WithholdReason::OutsideRequest);
            }),
        ),
        (
            "another slip",
            &whole,
            "withheld-unclear",
            Box::new(|m| {
                let at = of(m, held);
                m.entries[at].slip = Some("slips/000001.txt".into());
            }),
        ),
        (
            "a difference removed",
            &whole,
            "differences-broken",
            Box::new(|m| {
                m.differences.as_mut().unwrap().list.remove(0);
            }),
        ),
        ("all differences removed", &whole, "differences-broken", Box::new(|m| m.differences = None)),
        (
            "since another entry",
            &whole,
            "differences-broken",
            Box::new(|m| {
                m.differences.as_mut().unwrap().since = held;
            }),
        ),
    ];
    for (what, all, id, bend) in bends {
        let report = judge(&pack(&signed_anew(&planted, all, |m| bend(m)))).unwrap();
        assert!(named(&report) && ids(&report).contains(&id), "{what}: {:?}", ids(&report));
    }
    // A slip that is missing, and one too many, with the list made to fit.
    for gone in [slip_name(3), DIFFERENCES.to_string()] {
        let mut all = whole.clone();
        all.retain(|(name, _)| *name != gone);
        let report = judge(&pack(&signed_anew(&planted, &all, |_| ()))).unwrap();
        assert!(named(&report), "without {gone}");
    }
    let mut all = whole.clone();
    all.push((slip_name(1), b"Withheld.".to_vec()));
    let report = judge(&pack(&signed_anew(&planted, &all, |m| {
        let mut line = m.files[0].clone();
        line.name = slip_name(1);
        m.files.push(line);
    })))
    .unwrap();
    assert!(ids(&report).contains(&"withheld-unclear"), "{:?}", ids(&report));
}
