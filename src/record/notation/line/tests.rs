//! The lines of the trade, what they mean, and that every line printed is read as the same again.
//! Shorthand is common practice of the trade; levels are those of CMS Pub. 100-02 ch. 15, 240.1.4.

use super::*;
use crate::record::kinds::common::Given;
use crate::record::kinds::finding::{FindingKind, TestResult};
use crate::record::kinds::procedure::{GloveUse, Response, ResponseWord};
use crate::record::kinds::screening::{Measured, Phase, PlusMinus, Unit};
use crate::record::kinds::visit::CheckQuestion;
use crate::record::vocab::{Glove, Region, Segment, Side, Technique};
use proptest::option::of;
use proptest::prelude::*;
use proptest::sample::select;

pub(in crate::record::notation) fn setting() -> Setting<'static> {
    Setting {
        at: Moment::parse("2025-03-11T09:40:00-04:00").unwrap(),
        done_by: "IV",
        transitional: false,
        levels: Levels::shipped().unwrap(),
    }
}

pub(super) fn line(text: &str) -> Line {
    match read(text, &setting()) {
        Read::Line(line) => {
            let printed =
                print(&line, &setting()).unwrap_or_else(|| panic!("{text} does not print: {line:?}"));
            assert_eq!(read(&printed, &setting()), Read::Line(line.clone()), "{text} printed as {printed}");
            line
        }
        other => panic!("{text}: {other:?}"),
    }
}

pub(super) fn told(text: &str) -> String {
    read_back(&line(text))
}

pub(super) fn readings(text: &str) -> Vec<String> {
    match read(text, &setting()) {
        Read::Ask(question) => question.readings,
        other => panic!("{text}: {other:?}"),
    }
}

pub(super) fn refused(text: &str) -> &'static str {
    match read(text, &setting()) {
        Read::Refused(refusal) => refusal.id,
        other => panic!("{text}: {other:?}"),
    }
}

#[test]
fn findings_are_read_back_with_side_and_segment() {
    let rows = [
        (
            "C5-6 R restricted rotation",
            "Found: motion segment C5-C6, right (neck joints): motion restriction; rotation",
        ),
        ("c56 r tender 3", "Found: motion segment C5-C6, right (cervical): tenderness; grade 3"),
        ("masseter L tender 3", "Found: left masseter: tenderness; grade 3"),
        ("Masseter, L, tender 3;", "Found: left masseter: tenderness; grade 3"),
        ("masseter L tender words=\"like a rope\"", "Found: left masseter: tenderness; like a rope"),
        ("TMJ L click", "Found: left temporomandibular joint: joint sound; click"),
        (
            "TMJ R sound \"click in mid-opening\"",
            "Found: right temporomandibular joint: joint sound; click in mid-opening",
        ),
        ("vertebra T12 tender", "Found: vertebra T12 (thoracic): tenderness"),
        ("costovertebral 6 L tender 2", "Found: costovertebral joint of left rib 6: tenderness; grade 2"),
        ("SI R restricted", "Found: right SI joint: motion restriction"),
        (
            "C4-5 disc \"bulge, as the report says\"",
            "Found: motion segment C4-C5 (neck joints): disc; bulge, as the report says",
        ),
        ("upper trap both tight", "Found: upper trapezius, both sides (left and right): tone; tight"),
        ("deltoid L strength 4+", "Found: left deltoid: strength; grade 4 plus"),
        (
            "lumbar ortho method=\"leg raise\" L positive",
            "Found: left lumbar: ortho test; positive; method leg raise",
        ),
        ("sacrococcygeal midline tender", "Found: sacrococcygeal joint, midline: tenderness"),
        ("floor of mouth swollen", "Found: mouth floor: swelling"),
        (
            "L5-S1 lumbar R restricted lateral",
            "Found: motion segment L5-S1, right (lumbar): motion restriction; lateral",
        ),
    ];
    for (text, words) in rows {
        assert_eq!(told(text), words, "{text}");
    }
    // Of two regions that overlap the narrower counts.
    let Line::Finding(found) = line("rib 6 diaphragm R tender") else { panic!() };
    assert_eq!(found.region, Region::Ribs);
    let Line::Finding(found) = line("C1-2 suboccipitals tender") else { panic!() };
    assert_eq!(found.region, Region::Suboccipital);
}

#[test]
fn procedures_are_read_back_with_what_was_used() {
    let rows = [
        (
            "C5-6 R mob III 4>2",
            "Done: motion segment C5-C6, right (neck joints): joint mobilization grade III; \
             response: relieved, pain 4 before, 2 after, of 10; by IV at 09:40",
        ),
        (
            "C2-3 L thrust seated tolerated",
            "Done: motion segment C2-C3, left (neck joints): thrust; patient seated; response: tolerated; \
             by IV at 09:40",
        ),
        (
            "masseter L intraoral nitrile fresh 3x30s 5>2 sore",
            "Done: left masseter, inside the mouth, nitrile gloves, fresh pair: work inside the mouth; \
             3 passes of 30 seconds; response: sore, pain 5 before, 2 after, of 10; by IV at 09:40",
        ),
        (
            "upper trap R soft 4 tolerated",
            "Done: right upper trapezius: soft-tissue work; 4 passes; response: tolerated; by IV at 09:40",
        ),
        (
            "occiput to C2 soft 2min oil ok @10:15 by=AB",
            "Done: from occiput to C2 (cervical): soft-tissue work; 120 seconds; oil; response: tolerated; \
             by AB at 10:15",
        ),
        (
            "L4-5 lumbar L thrust side-lying dir=\"up and across\" no-cav dizzy \"for a moment\"",
            "Done: motion segment L4-L5, left (lumbar): thrust; direction up and across; patient side lying; \
             no joint sound; response: dizzy, for a moment; by IV at 09:40",
        ),
        (
            "rib 6 R mob grade 3 prone not-asked=\"asleep\"",
            "Done: right rib 6: joint mobilization grade III; patient face down; response not asked, because \
             asleep; by IV at 09:40",
        ),
        (
            "C2-3 L thrust deferred because declined today",
            "Not done: motion segment C2-C3, left (neck joints): thrust, because declined today",
        ),
    ];
    for (text, words) in rows {
        assert_eq!(told(text), words, "{text}");
    }
    let Line::Procedure(done) = line("T4-T8 thoracic erector spinae both soft tolerated") else { panic!() };
    assert_eq!(done.span.unwrap().to, "T8");
    let Line::Procedure(done) = line("C5 L thrust tolerated consent=17 asked=20 stopped=10:20") else {
        panic!()
    };
    assert_eq!(
        (done.structure.as_deref(), done.consent, done.asked),
        (Some("vertebra C5"), Some(17), Some(20))
    );
    assert_eq!(done.region, Region::Cervical);
    assert_eq!(line("C5-6 R mob grade III ok"), line("C5-6 R mob III ok"));
    // Stopped as soon as it was begun.
    let Line::Procedure(done) = line("C5 L thrust dizzy stopped=09:40") else { panic!() };
    assert_eq!(done.stopped_at, Some(done.at));
    // Where it is reached from inside, jaw and mouth are both right.
    let Line::Procedure(done) = line("masseter jaw L intraoral nitrile fresh ok") else { panic!() };
    assert_eq!(done.region, Region::Jaw);
    let Line::Deferred(left) = line("masseter L intraoral deferred: gag reflex") else { panic!() };
    assert_eq!((left.region, left.because.as_str()), (Region::InsideCheek, "masseter: gag reflex"));
}

#[test]
fn measures_and_checks_keep_what_was_read_off() {
    let rows = [
        ("opening 38mm before", "Measured before treatment: mouth opening: 38 mm"),
        ("opening unassisted 34 mm after", "Measured after treatment: mouth opening unassisted: 34 mm"),
        ("opening 1.5in before", "Measured before treatment: mouth opening: 38.1 mm (read off as 1.5 in)"),
        (
            "neck rotation L 60 after active",
            "Measured after treatment: neck rotation, left: 60 degrees; active",
        ),
        ("lateral R 9 before", "Measured before treatment: jaw lateral, right: 9 mm"),
        ("pain 5 before", "Measured before treatment: pain now: 5 of 10"),
        ("pain 5/10 before", "Measured before treatment: pain now: 5 of 10"),
        ("opening 38 unit=mm before", "Measured before treatment: mouth opening: 38 mm"),
        ("BP 128/82 before", "Measured before treatment: blood pressure: 128 over 82 mmHg"),
        ("NDI 14/50 before", "Measured before treatment: questionnaire (NDI): 14 of 50"),
        (
            "temp 98.6F before",
            "Measured before treatment: temperature: 37 degrees Celsius (read off as 98.6 F)",
        ),
        ("weight 150 lb before", "Measured before treatment: weight: 68.04 kg (read off as 150 lb)"),
        (
            "deltoid R strength 4- after",
            "Measured after treatment: strength (deltoid), right shoulder: grade 4 minus",
        ),
        (
            "check comfort 3 done=\"less pressure\" @10:16",
            "Asked at 10:16: comfort, 3 of 10, so less pressure",
        ),
        ("check pain \"fine\"", "Asked at 09:40: pain, \"fine\""),
        ("check pain words=\"fine\"", "Asked at 09:40: pain, \"fine\""),
    ];
    for (text, words) in rows {
        assert_eq!(told(text), words, "{text}");
    }
}

#[test]
fn what_could_be_two_things_is_asked_about() {
    assert_eq!(readings("T12 L tender"), ["vertebra T12 L tender", "T1-T2 L tender"]);
    assert_eq!(readings("T12 R thrust ok"), ["vertebra T12 R thrust ok", "T1-T2 R thrust ok"]);
    assert_eq!(readings("L5S1 R thrust ok"), ["L5S1 lumbar R thrust ok", "L5S1 sacral R thrust ok"]);
    assert_eq!(
        readings("C7-T1 R mob II ok"),
        ["C7-T1 neck-joints R mob II ok", "C7-T1 thoracic R mob II ok"]
    );
    assert_eq!(readings("C5-6 L adjust ok"), ["C5-6 L thrust ok", "C5-6 L instrument-adjust ok"]);
    assert_eq!(readings("C5-6 L mob 3 ok"), ["C5-6 L mob III ok", "C5-6 L mob 3x ok"]);
    assert_eq!(readings("opening 38"), ["opening 38 before", "opening 38 during", "opening 38 after"]);
    let fresh = readings("masseter L intraoral nitrile sore");
    assert_eq!(fresh[1], "masseter L intraoral nitrile sore same-pair");
    for text in ["T12 L tender", "L5S1 R thrust ok", "C7-T1 R mob II ok", "C5-6 L mob 3 ok", "opening 38"] {
        readings(text).iter().for_each(|reading| drop(line(reading)));
    }
}

#[test]
fn what_can_not_be_is_refused_with_the_reason() {
    let rows = [
        ("", "empty"),
        ("masseter tender", "side-missing"),
        ("TMJ midline click", "no-midline"),
        ("scalenes midline tender", "no-midline"),
        ("SCM tender", "side-missing"),
        ("SI mob II ok", "side-missing"),
        ("C3-C5 L thrust ok", "not_adjacent"),
        ("T12-L2 L mob II ok", "not_adjacent"),
        ("C1-2 disc", "no_disc"),
        ("SI L disc", "no_disc"),
        ("C8 L tender", "no_such_level"),
        ("X5 L tender", "unreadable"),
        ("maseter L tender", "unknown-word"),
        ("masseter L R tender", "twice"),
        ("masseter L tender 5", "value-cannot-be"),
        ("masseter L thrust ok", "not-a-joint"),
        ("upper trap L intraoral nitrile fresh ok", "not-in-mouth"),
        ("masseter L intraoral ok", "glove-missing"),
        ("tongue soft ok", "glove-missing"),
        ("C5-6 R mob III", "response-missing"),
        ("C5-6 R mob III 11>2", "value-cannot-be"),
        ("C5-6 lumbar R mob III ok", "region-mismatch"),
        ("masseter lumbar L tender", "region-mismatch"),
        ("vertebra C5 masseter L tender", "region-mismatch"),
        ("paraspinals L tight", "region-missing"),
        ("L tender", "place-missing"),
        ("C5-6 R", "kind-missing"),
        ("rib L tender", "rib-number"),
        ("rib 13 L tender", "no-such-rib"),
        ("sternocostal 8 L tender", "no-such-rib"),
        ("C2-3 L thrust deferred", "reason-missing"),
        ("C2-3 L thrust 3x deferred because no", "out-of-place"),
        ("neck rotation 60 after", "side-missing"),
        ("lateral both 9 before", "side-missing"),
        ("opening 38kg before", "unit"),
        ("opening 38 unit=cm before", "unit"),
        ("pain 5>2 before", "twice"),
        ("pain 5/20 before", "twice"),
        ("C5-6 R mob III ok @10:5", "time"),
        ("C5-6 R mob III ok @+1:15", "time"),
        ("C5-6 R mob III ok @-1:15", "time"),
        ("check 3", "question-missing"),
        ("check comfort 11", "value-cannot-be"),
        ("TMJ L click \"open", "open-quote"),
        ("C5-6 R tender colour=red", "unknown-name"),
        ("C5-6 C6-7 R mob II ok", "one-segment"),
    ];
    for (text, id) in rows {
        assert_eq!(refused(text), id, "{text}");
    }
}

#[test]
fn a_line_is_printed_with_no_more_than_it_takes() {
    for (typed, printed) in [
        ("Masseter, L, tender 3;", "masseter L tender 3"),
        ("TMJ L joint-sound \"click\"", "TMJ L click"),
        ("occiput to C2 soft 2min ok", "occiput-C2 soft-tissue 120s tolerated"),
    ] {
        assert_eq!(print(&line(typed), &setting()).as_deref(), Some(printed));
    }
}

#[test]
fn the_sort_of_a_line_is_told_in_a_word_and_its_list_is_one_of_the_note() {
    let note = serde_json::to_value(schemars::schema_for!(crate::record::kinds::visit::Visit)).unwrap();
    for (typed, sort, list) in [
        ("masseter L tender", "finding", "findings"),
        ("C5-6 R mob III ok", "procedure", "procedures"),
        ("C2-3 L thrust deferred: declined", "thing not done", "deferred"),
        ("opening 38mm before", "measure", "measures"),
        ("check comfort 3", "check", "checks"),
    ] {
        assert_eq!((line(typed).sort(), line(typed).list()), (sort, list), "{typed}");
        assert!(note["properties"].get(list).is_some(), "{list}");
    }
    assert_eq!((line("advice ice").sort(), line("advice ice").list()), ("part in words", "advice"));
}

/// The page that describes the lines says what the program does.
#[test]
fn the_examples_of_the_page_are_true() {
    let page = include_str!("../../../../schema/LINES.md");
    let rows = page.lines().filter_map(|row| row.strip_prefix("| `")?.split_once("` | "));
    let rows: Vec<(&str, &str)> = rows.collect();
    assert!(rows.len() > 12);
    for (typed, words) in rows {
        assert_eq!(told(typed), words.trim_end_matches(" |"), "{typed}");
    }
    let examples = |begin: &str| -> Vec<String> {
        let from = page.find(begin).unwrap();
        let paragraph = page[from..].split("\n\n").next().unwrap();
        paragraph.split('`').skip(1).step_by(2).map(str::to_owned).collect()
    };
    assert_eq!(
        examples("Asked: ").iter().map(|typed| readings(typed)).filter(|all| all.len() > 1).count(),
        6
    );
    assert_eq!(
        examples("Refused: ").iter().map(|typed| refused(typed)).filter(|id| *id != "empty").count(),
        9
    );
}

#[test]
fn every_joint_rib_and_structure_reads() {
    for segment in Segment::ALL.iter().filter(|segment| segment.order().is_some()) {
        let straddles = matches!(segment, Segment::C7T1 | Segment::T12L1 | Segment::L5S1);
        let text = format!("{segment} L mob II ok");
        assert_eq!(matches!(read(&text, &setting()), Read::Ask(_)), straddles, "{text}");
    }
    for structure in crate::record::notation::structure::STRUCTURES {
        let region = if structure.region.is_none() { "lumbar " } else { "" };
        for word in structure.words {
            let Line::Finding(found) = line(&format!("{region}{word} L tender")) else { panic!("{word}") };
            assert_eq!(found.structure.as_deref(), Some(structure.name));
        }
    }
    for region in Region::ALL {
        let Line::Finding(found) = line(&format!("region={region} L tender")) else { panic!("{region}") };
        assert_eq!(found.region, *region);
    }
}

fn words() -> impl Strategy<Value = String> {
    "[A-Za-z0-9\"\\\\=@>,. -]{1,20}"
}

fn measured_kind() -> impl Strategy<Value = MeasureKind> {
    select(MeasureKind::ALL.iter().copied().filter(|kind| usual_unit(*kind).is_some()).collect::<Vec<_>>())
}

prop_compose! {
    fn a_place()(
        pick in 0_u8..5, segment in select(Segment::ALL), region in select(Region::ALL),
        structure in select(crate::record::notation::structure::STRUCTURES.iter().collect::<Vec<_>>()),
        own in words(), side in select(&[Side::Left, Side::Right, Side::Both][..]),
    ) -> (Region, Option<String>, Option<Segment>, Side) {
        match pick {
            0 => (region, None, None, side),
            1 => (region, Some(own), None, side),
            2 if segment.order().is_some() => {
                let held: Vec<Region> = Region::ALL.iter().copied().filter(|r| r.holds(segment)).collect();
                (held[usize::from(own.as_bytes()[0]) % held.len()], None, Some(segment), side)
            }
            2 if segment == Segment::Si => (Region::Sacroiliac, None, Some(segment), side),
            3 => (Region::RibSpineJoints, Some("costovertebral joint".to_owned()), Some(Segment::Rib4), side),
            _ => (structure.region.unwrap_or(Region::Lumbar), Some(structure.name.to_owned()), None, side),
        }
    }
}

prop_compose! {
    fn a_finding()(
        place in a_place(),
        kind in select(FindingKind::ALL.iter().copied().filter(|k| *k != FindingKind::Disc).collect::<Vec<_>>()),
        grade in of(0_u8..=4), result in of(select(TestResult::ALL)), words in of(words()),
        more in (of(words()), of(words()), of(words()), of(words())),
    ) -> Finding {
        let (region, structure, segment, side) = place;
        let graded = matches!(kind, FindingKind::Tenderness | FindingKind::Strength | FindingKind::Reflex);
        Finding {
            no: 0, region, structure, segment, level: None, side: Some(side), kind,
            grade: grade.filter(|_| graded), measured: None, result, words,
            refers_to: more.0, method: more.1, instrument: more.2, position: more.3,
        }
    }
}

prop_compose! {
    fn a_procedure()(
        place in a_place(), technique in select(&[
            Technique::Examination, Technique::SoftTissue, Technique::InstrumentAdjust, Technique::Traction,
            Technique::Needling, Technique::Taping,
        ][..]),
        minutes in 0_i64..60, fresh in any::<bool>(), material in select(Glove::ALL), by in "[A-Z]{1,3}",
        dose in (of(0_u32..100), of(0_u32..1000), of("(I|II|III|IV|V)[+-]?|some"), of(any::<bool>())),
        texts in (of(words()), of(words()), of(words()), proptest::collection::vec(words(), 0..3), of(words())),
        borne in (select(ResponseWord::ALL), of(0_u8..=10), of((0_u8..=10, 0_u8..=10)), of(words()), of("[a-z]{1,9}")),
        numbers in (of(1_u64..9999), of(1_u64..9999)),
    ) -> Procedure {
        let (region, structure, segment, side) = place;
        let at = setting().at.plus_seconds(minutes * 61);
        let (word, pain, both, said, absent) = borne;
        let response = match absent {
            Some(because) => Given::absent(because),
            None => Given::Value(Response {
                word, pain_before: both.map(|b| b.0), pain: both.map(|b| b.1).or(pain), words: said,
            }),
        };
        Procedure {
            no: 0, at, technique, region, structure, segments: segment.into_iter().collect(), span: None,
            side: Some(side), direction: texts.0, contact: texts.1, grade: dose.2, passes: dose.0,
            seconds: dose.1, position: texts.2, instrument: texts.4,
            gloves: Some(GloveUse { material, fresh_pair: fresh }), products: texts.3, done_by: by, response,
            gloves_not_recorded_because: None,
            cavitation_heard: dose.3, consent: numbers.0, asked: numbers.1, stopped_at: None,
            stopped_because: None,
        }
    }
}

prop_compose! {
    fn a_measure()(
        kind in measured_kind(), phase in select(Phase::ALL), value in 51_u32..80,
        side in select(&[Side::Left, Side::Right][..]), at in of(0_i64..500), half in of(select(PlusMinus::ALL)),
        texts in (of(words()), of(words()), of(words()), of(words()), of(words())),
        flags in (of(any::<bool>()), of(any::<bool>())),
    ) -> super::NoteMeasure {
        let low = matches!(usual_unit(kind), Some(Unit::Of10 | Unit::Grade));
        let mm = usual_unit(kind) == Some(Unit::Mm) || kind == MeasureKind::Temperature;
        let value = match kind { _ if low => value % 5, MeasureKind::Temperature => 37, _ if mm => value % 20, _ => value };
        let graded = matches!(kind, MeasureKind::Strength | MeasureKind::Reflex);
        super::NoteMeasure {
            phase,
            at: at.map(|seconds| setting().at.plus_seconds(seconds)),
            measured: Measured {
                kind, value: value.into(),
                second_value: (kind == MeasureKind::BloodPressure).then(|| 50.into()),
                unit: usual_unit(kind).unwrap(), typed: texts.0, side: Some(side), region: None, segment: None,
                name: texts.1, plus_minus: half.filter(|_| graded), active: flags.0, method: texts.2,
                instrument: texts.3, position: None, retyped: flags.1, unusual_because: texts.4,
            },
        }
    }
}

fn comes_back(line: &Line) -> Result<(), TestCaseError> {
    let printed = print(line, &setting());
    prop_assert!(printed.is_some(), "not printed: {line:?}");
    let printed = printed.unwrap();
    let Read::Line(back) = read(&printed, &setting()) else { return Err(TestCaseError::fail(printed)) };
    prop_assert_eq!(&back, line);
    prop_assert_eq!(print(&back, &setting()), Some(printed));
    prop_assert!(!read_back(&back).is_empty());
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn findings_come_back(finding in a_finding()) {
        comes_back(&Line::Finding(Box::new(finding)))?;
    }

    #[test]
    fn procedures_come_back(procedure in a_procedure()) {
        comes_back(&Line::Procedure(Box::new(procedure)))?;
    }

    #[test]
    fn measures_come_back(measure in a_measure()) {
        comes_back(&Line::Measure(Box::new(measure)))?;
    }

    #[test]
    fn checks_come_back(
        question in select(CheckQuestion::ALL), number in of(0_u8..=10), words in of(words()), action in of(words()),
        seconds in 0_i64..5000,
    ) {
        let at = setting().at.plus_seconds(seconds);
        comes_back(&Line::Check(InVisitCheck { at, question, number, words, action }))?;
    }

    #[test]
    fn parts_in_words_come_back(
        part in select(Part::ALL), said in "[a-z]{2,8}( [a-z,.-]{1,8}){0,4}", basis in "[a-z]{1,8}", pain in 0_u8..=10,
    ) {
        // The first "because" of an assessment is the one that counts.
        let words = said.replace("because", "as").trim_end_matches([',', ' ']).to_owned();
        let basis = (part == Part::Assessment).then_some(basis);
        let pain = (part == Part::Complaint).then_some(pain);
        comes_back(&Line::Words(NoteWords { part, words, basis, pain }))?;
    }

    #[test]
    fn what_is_split_at_semicolons_keeps_every_letter(text in "[a-z \";]{0,40}") {
        let (whole, parts) = (text.replace([';', ' '], ""), split(&text).concat().replace([';', ' '], ""));
        prop_assert_eq!(whole, parts);
    }

    #[test]
    fn no_text_is_too_odd(text in "\\PC{0,60}") {
        let _ = read(&text, &setting());
    }

    /// Lines put together from the words themselves go deeper than letters at random.
    #[test]
    fn no_order_of_words_is_too_odd(
        parts in proptest::collection::vec(
            prop_oneof![
                select(words::dictionary().values().map(|(phrase, _)| phrase.clone()).collect::<Vec<_>>()),
                "[CTLSDX][0-9]{1,3}(-[0-9CTLS]{1,3})?",
                "[0-9]{1,3}(mm|s|x|>[0-9]|/[0-9]{1,2}|x30s|\\+|-)?",
                "(structure|region|words|by|with|dir|stopped|name)=\"?[a-z]{0,6}\"?",
                "[@\"=>-]{1,3}",
                "\\PC{1,4}",
            ], 0..9),
    ) {
        let text = parts.join(" ");
        match read(&text, &setting()) {
            Read::Line(line) => {
                prop_assert!(!read_back(&line).is_empty());
                if let Some(printed) = print(&line, &setting()) {
                    prop_assert_eq!(read(&printed, &setting()), Read::Line(line));
                }
            }
            Read::Ask(question) => {
                prop_assert!(question.readings.len() > 1);
                for reading in question.readings {
                    prop_assert!(read(&reading, &setting()) != read(&text, &setting()), "{}", reading);
                }
            }
            Read::Refused(refusal) => prop_assert!(!refusal.text.is_empty()),
        }
    }
}
