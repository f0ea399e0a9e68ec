//! The line form rule by rule, each word and border alone. What is said of times, sorts, places, doses and
//! responses is that of the page on the line form (`schema/LINES.md`); levels, sides and limits are those of the
//! trade's tables.

use super::tests::{line, readings, refused, setting, told};
use super::*;
use crate::record::kinds::common::Given;
use crate::record::kinds::finding::FindingKind;
use crate::record::kinds::procedure::ResponseWord;
use crate::record::vocab::{Region, Segment};

fn finding(text: &str) -> Finding {
    let Line::Finding(found) = line(text) else { panic!("{text}") };
    *found
}

fn procedure(text: &str) -> Procedure {
    let Line::Procedure(done) = line(text) else { panic!("{text}") };
    *done
}

fn measure(text: &str) -> NoteMeasure {
    let Line::Measure(taken) = line(text) else { panic!("{text}") };
    *taken
}

/// What a refusal says to the person.
fn why(text: &str) -> String {
    let Read::Refused(refusal) = read(text, &setting()) else { panic!("{text}") };
    refusal.text
}

#[test]
fn a_time_is_of_the_day_of_the_visit_by_its_own_clock() {
    let moment = |text: &str| Moment::parse(text).unwrap();
    for (now, typed, is) in [
        ("2025-03-11T09:40:00-04:00", "10:15", "2025-03-11T10:15:00-04:00"),
        ("2025-03-11T09:40:30-04:00", "9:05", "2025-03-11T09:05:00-04:00"),
        ("2025-03-11T09:40:00-04:00", "00:00", "2025-03-11T00:00:00-04:00"),
        ("2025-03-11T09:40:00-04:00", "23:59", "2025-03-11T23:59:00-04:00"),
        // In UTC it is the next day already, or still the day before.
        ("2025-03-11T22:30:00-04:00", "21:00", "2025-03-11T21:00:00-04:00"),
        ("2025-03-12T01:30:00+13:00", "00:15", "2025-03-12T00:15:00+13:00"),
        ("2025-03-11T09:40:00-04:00", "2025-03-10T08:00:00-04:00", "2025-03-10T08:00:00-04:00"),
    ] {
        let setting = Setting { at: moment(now), ..setting() };
        let text = format!("check comfort 3 @{typed}");
        let Read::Line(Line::Check(asked)) = read(&text, &setting) else { panic!("{text} at {now}") };
        assert_eq!(asked.at, moment(is), "{text} at {now}");
    }
    for typed in
        ["24:00", "10:60", "10:5", "10:005", "009:15", ":15", "10:", "1o:15", "10:1s", "10", "noon", ""]
    {
        assert_eq!(refused(&format!("check comfort 3 @{typed}")), "time", "{typed}");
    }
}

#[test]
fn a_line_of_two_thousand_letters_is_read_and_a_longer_one_is_not() {
    let plan = |letters: usize| format!("plan {}", "x".repeat(letters - 5));
    assert!(matches!(line(&plan(2000)), Line::Words(_)));
    assert_eq!(refused(&plan(2001)), "too-long");
}

#[test]
fn a_line_is_of_the_sort_its_words_say() {
    for (typed, sort) in [
        ("check pain 3", "check"),
        ("C5-6 L exam ok", "procedure"),
        ("C5-6 R mob III pain 4>2", "procedure"),
        ("masseter L tender", "finding"),
        ("TMJ L opening", "finding"),
        ("opening 38 before", "measure"),
        ("SLR L 70 after", "measure"),
        ("NDI 14/50 before", "measure"),
        // Strength and reflex without a phase are found.
        ("deltoid R strength 4", "finding"),
        ("deltoid R strength 4 after", "measure"),
        ("C5-6 R reflex 2", "finding"),
        ("C5-6 R reflex 2 after", "measure"),
        // The number of a rib is no value.
        ("rib 6 R lateral", "finding"),
        ("lateral 9 R rib 6 before", "measure"),
    ] {
        assert_eq!(line(typed).sort(), sort, "{typed}");
    }
    assert!(why("C5-6 R 5").contains("what was found"));
    assert!(why("opening before").contains("value is missing"));
    assert_eq!(readings("lateral R 9").len(), 3);
}

#[test]
fn the_same_thing_said_twice_is_said_once_and_two_things_are_refused() {
    assert_eq!(line("masseter L left tender 3 3"), line("masseter L tender 3"));
    assert_eq!(line("C5-6 R C5-C6 restricted"), line("C5-6 R restricted"));
    for (typed, what) in [
        ("masseter L R tender", "side"),
        ("masseter TMJ L tender", "structure"),
        ("masseter L tender 2 3", "grade"),
        ("masseter L tender swelling", "finding"),
        ("neck lumbar L tender", "region"),
        ("rib 6 rib 7 L tender", "rib"),
        ("vertebra C5 L tender C6", "level"),
        ("masseter structure=chin L tender", "structure"),
        ("costovertebral 6 structure=head L tender", "structure"),
        ("C5-6 R mob III IV ok", "grade"),
        ("C5-6 R mob thrust ok", "technique"),
        ("C5-6 R mob III ok not-asked=asleep", "response"),
        ("opening 38 40 before", "value"),
        ("opening 38 before after", "time of measuring"),
        ("check comfort 3 4", "number"),
    ] {
        assert_eq!(refused(typed), "twice", "{typed}");
        assert!(why(typed).contains(what), "{typed}: {}", why(typed));
    }
    for typed in [
        "C5-6 SI R tender",
        "C5-6 rib 6 R tender",
        "rib 6 SI R tender",
        "C5 C6-7 R tender",
        "C5-6 vertebra C7 R tender",
    ] {
        assert_eq!(refused(typed), "twice", "{typed}");
    }
}

/// The grades of the trade's tables: tenderness 0 to 4, strength 0 to 5, reflex 0 to 4; half grades of the last two.
#[test]
fn a_grade_goes_as_far_as_its_kind_has_grades() {
    for (typed, most) in [("masseter L tender", 4), ("deltoid R strength", 5), ("C5-6 R reflex", 4)] {
        for grade in 0..=most {
            assert_eq!(finding(&format!("{typed} {grade}")).grade, Some(grade), "{typed} {grade}");
        }
        assert_eq!(refused(&format!("{typed} {}", most + 1)), "value-cannot-be", "{typed}");
        assert!(why(&format!("{typed} {}", most + 1)).contains(&format!("0 to {most}")), "{typed}");
    }
    assert_eq!(finding("C5-6 R restricted").grade, None);
    assert_eq!(refused("C5-6 R restricted 3"), "grade");
    assert_eq!(refused("masseter L tender 3+"), "grade");
    assert_eq!(refused("masseter L tender 2.5"), "grade");
    assert_eq!(
        told("C5-6 R reflex 2+"),
        "Found: motion segment C5-C6, right (cervical): reflex; grade 2 plus"
    );
    assert_eq!(
        told("C5-6 R reflex 2-"),
        "Found: motion segment C5-C6, right (cervical): reflex; grade 2 minus"
    );
    let measured = finding("deltoid R strength 4+").measured.unwrap();
    assert_eq!((measured.kind, measured.value.get()), (MeasureKind::Strength, 4.0));
    assert_eq!(refused("pain 4+ before"), "grade");
}

#[test]
fn a_finding_keeps_everything_that_was_said_of_it() {
    let found = finding(
        "QL R TrP supine refers=\"to the hip\" method=palpation instrument=gauge \"like a cord\" words=again",
    );
    assert_eq!(
        (found.kind, found.words.as_deref(), found.position.as_deref()),
        (FindingKind::TriggerPoint, Some("like a cord, again"), Some("face-up"))
    );
    assert_eq!(
        (found.refers_to.as_deref(), found.method.as_deref(), found.instrument.as_deref()),
        (Some("to the hip"), Some("palpation"), Some("gauge"))
    );
    assert_eq!(finding("masseter L tender position=\"on a stool\"").position.as_deref(), Some("on a stool"));
    // "lateral" is a direction where something else was found, and otherwise the movement itself.
    assert_eq!(finding("TMJ L lateral").kind, FindingKind::LateralMovement);
    let disc = finding("C4-5 disc tender R");
    assert_eq!((disc.kind, disc.structure.as_deref()), (FindingKind::Tenderness, Some("disc")));
    assert_eq!(told("lumbar ortho neg L"), "Found: left lumbar: ortho test; negative");
}

#[test]
fn a_word_that_says_nothing_in_its_line_is_named() {
    for (typed, word) in [
        ("masseter L tender nitrile", "nitrile"),
        ("masseter L tender @10:15", "@10:15"),
        ("masseter L tender 3x30s", "3x30s"),
        ("C5-6 R mob III ok positive", "positive"),
        ("C5-6 R mob III ok @-", "@-"),
        ("opening 38 before nitrile", "nitrile"),
        ("opening 38 before 3x30s", "3x30s"),
        ("check comfort 3 nitrile", "nitrile"),
        ("check comfort 3mm", "3mm"),
        ("check comfort 3 @-", "@-"),
    ] {
        assert_eq!(refused(typed), "out-of-place", "{typed}");
        assert!(why(typed).contains(&format!("\"{word}\"")), "{typed}: {}", why(typed));
    }
    for (typed, names) in [
        ("masseter L tender colour=red", "refers"),
        ("C5-6 R mob III ok colour=red", "stopped-because"),
        ("opening 38 before colour=red", "retyped"),
        ("check comfort 3 colour=red", "words, done"),
    ] {
        assert_eq!(refused(typed), "unknown-name", "{typed}");
        assert!(why(typed).contains("\"colour=\"") && why(typed).contains(names), "{}", why(typed));
    }
    for keys in ["TMJ\u{1b}[D L click", "TMJ L click\u{fffd}", "plan a\u{1b}[Dgain"] {
        assert_eq!(refused(keys), "unreadable", "{keys:?}");
    }
    assert_eq!(line("TMJ\tL\tclick"), line("TMJ L click"));
}

#[test]
fn every_way_to_say_a_place_is_a_place_of_its_own() {
    for (place, region, segment, name) in [
        ("C5-6", Region::Cervical, Some(Segment::C5C6), None),
        ("vertebra C5", Region::Cervical, None, Some("C5")),
        ("rib 6", Region::Ribs, Some(Segment::Rib6), None),
        ("SI", Region::Sacroiliac, Some(Segment::Si), None),
        ("deltoid", Region::Shoulder, None, Some("deltoid")),
        ("knee", Region::Knee, None, None),
        ("region=knee", Region::Knee, None, None),
        ("structure=kneecap region=knee", Region::Knee, None, Some("kneecap")),
    ] {
        let Read::Line(Line::Measure(taken)) =
            read(&format!("other-movement 12 R before {place}"), &setting())
        else {
            panic!("{place}")
        };
        let measured = &taken.measured;
        assert_eq!((measured.region, measured.segment), (Some(region), segment), "{place}");
        assert_eq!(measured.name.as_deref(), name, "{place}");
    }
    assert_eq!(measure("other-movement 12 R before").measured.region, None);
    assert_eq!(refused("other-movement 12 R before structure=kneecap"), "region-missing");
}

/// Vertebrae, joints and stretches lie in the region of their letter; the occiput goes with the neck (the trade's
/// tables), and a stretch over two regions is the spine's.
#[test]
fn a_level_lies_in_the_region_of_its_letter() {
    for (typed, region, says) in [
        ("vertebra C5 tender", Region::Cervical, "C5"),
        ("vertebra occ tender", Region::Cervical, "occiput"),
        ("vertebra T12 tender", Region::Thoracic, "T12"),
        ("L4 tender", Region::Lumbar, "L4"),
        ("S1 tender", Region::Sacral, "S1"),
    ] {
        let found = finding(typed);
        assert_eq!((found.region, found.level.as_deref()), (region, Some(says)), "{typed}");
    }
    for (typed, region) in [
        ("occiput to C2 soft ok", Region::Cervical),
        ("C5 to T3 soft ok", Region::Spine),
        ("C5-6 C6-7 soft ok", Region::Cervical),
        ("C6-7 T1-2 soft ok", Region::Spine),
        ("rib 6 R soft ok", Region::Ribs),
        ("costotransverse 6 R mob II ok", Region::RibSpineJoints),
        ("SI R mob II ok", Region::Sacroiliac),
        ("C5-6 R mob II ok", Region::NeckJoints),
        ("C5-6 neck R mob II ok", Region::Cervical),
        ("C5-6 R instrument ok", Region::NeckJoints),
        ("C5-6 R soft ok", Region::Cervical),
    ] {
        assert_eq!(procedure(typed).region, region, "{typed}");
    }
    for typed in ["vertebra tender", "vertebra C5-6 tender", "vertebra C8 tender"] {
        assert!(matches!(refused(typed), "level-missing" | "no_such_level"), "{typed}");
    }
}

/// A sixth lumbar vertebra exists only where the chart flags it (the trade's tables); records have a word for it
/// and none for its joints.
#[test]
fn a_sixth_lumbar_vertebra_is_named_and_its_joints_are_not() {
    let setting = Setting { transitional: true, ..setting() };
    let Read::Line(Line::Finding(found)) = read("vertebra L6 tender", &setting) else { panic!() };
    assert_eq!((found.region, found.level.as_deref()), (Region::Lumbar, Some("L6")));
    let Read::Line(Line::Procedure(done)) = read("L4 to L6 soft ok", &setting) else { panic!() };
    assert_eq!(done.span.map(|span| (span.from, span.to)), Some(("L4".to_owned(), "L6".to_owned())));
    for typed in ["L5-6 R mob II ok", "L6-S1 R mob II ok", "L5-6 soft ok"] {
        let Read::Refused(refusal) = read(typed, &setting) else { panic!("{typed}") };
        assert_eq!(refusal.id, "no-word", "{typed}");
    }
    assert_eq!(refused("vertebra L6 tender"), "no_such_level");
}

#[test]
fn what_does_not_lie_together_is_refused_with_what_to_say() {
    for (typed, id, says) in [
        ("C5-6 L intraoral nitrile fresh ok", "not-in-mouth", "inside the mouth"),
        ("lumbar L intraoral nitrile fresh ok", "not-in-mouth", "inside the mouth"),
        ("upper trap L intraoral nitrile fresh ok", "not-in-mouth", "upper trapezius"),
        ("masseter L mob II ok", "not-a-joint", "muscle"),
        ("masseter L thrust ok", "not-a-joint", "muscle"),
        ("rib 6 lumbar L tender", "region-mismatch", "lumbar"),
        ("C5-6 lumbar L tender", "region-mismatch", "lumbar"),
        ("vertebra C5 lumbar L tender", "region-mismatch", "lumbar"),
        ("masseter knee L tender", "region-mismatch", "knee"),
        ("C5 hamstrings L tender", "region-mismatch", "at this level"),
        ("structure=kneecap L tender", "region-missing", "like lumbar"),
        ("multifidus L tender", "region-missing", "like lumbar"),
        ("L tender", "place-missing", "a level like C5-6"),
        ("region=tail L tender", "unknown-region", "no such region"),
        ("sternocostal 8 L tender", "no-such-rib", "ribs 1 to 7"),
        ("costovertebral 13 L tender", "no-such-rib", "ribs 1 to 12"),
        ("costovertebral L tender", "rib-number", "costovertebral 6"),
        ("C5-6 C6-7 R tender", "one-segment", "a line for each"),
        ("C5-6 R mob III pain 11", "value-cannot-be", "0 to 10"),
        ("C5-6 R mob III 4>11", "value-cannot-be", "0 to 10"),
        ("C5-6 R mob III pain tolerated", "value-cannot-be", "0 to 10"),
        ("C5-6 R mob III ok consent=0", "number", "from 1"),
        ("C5-6 R mob III ok asked=x", "number", "from 1"),
        ("C5-6 R mob III ok stopped=-", "time", "when it was stopped"),
        ("C5-6 R thrust dizzy stopped=09:39", "dates-order", "before it begins"),
        ("C5-6 R mob III ok by=\" \"", "blank", "empty"),
        ("C5-6 R mob III not-asked=\" \"", "blank", "empty"),
        ("C5-6 R mob III not-asked=asleep pain 4", "response-missing", "not asked"),
        ("C5-6 R mob grade 6 ok", "grade", "I to V"),
        ("C5-6 R mob grade 0 ok", "grade", "I to V"),
        ("upper trap R soft 5kg ok", "dose", "3x30s"),
        ("upper trap R soft 1.5 ok", "dose", "3x30s"),
        ("upper trap R soft fresh ok", "glove-missing", "which gloves"),
        ("temp 0F before", "value-cannot-be", "read and type it again"),
        ("opening 38 unit=mile before", "unit", "mm"),
        ("opening 38 retyped=perhaps before", "unknown-value", "retyped=yes"),
        ("other 12 before", "unit", "unit=seconds"),
        ("C5-6 R", "kind-missing", "what was found"),
        ("C5-6 R mob deferred", "reason-missing", "why it was not done"),
    ] {
        assert_eq!(refused(typed), id, "{typed}");
        assert!(why(typed).contains(says), "{typed}: {}", why(typed));
    }
    // Jaw and mouth are reached from inside.
    assert_eq!(procedure("TMJ L intraoral nitrile fresh ok").region, Region::Mouth);
    assert_eq!(procedure("jaw L intraoral nitrile fresh ok").region, Region::Jaw);
    assert_eq!(procedure("cheek L intraoral nitrile fresh ok").region, Region::InsideCheek);
}

#[test]
fn what_was_not_done_is_kept_with_its_place_and_nothing_else() {
    for (typed, because) in [
        ("C2-3 L thrust deferred because declined today", "declined today"),
        ("C2-3 L thrust deferred Because: declined", "declined"),
        ("C2-3 L thrust not done: sore", "sore"),
        ("C2-3 L thrust deferred sore", "sore"),
        ("C2-3 L thrust deferred no pain 4 today", "no pain 4 today"),
        ("vertebra C5 L thrust deferred: sore", "vertebra C5: sore"),
        ("T4 to T8 soft deferred: sore", "T4 to T8: sore"),
        ("masseter L intraoral deferred: sore", "masseter: sore"),
        ("C5 scalenes L soft deferred: sore", "scalenes at vertebra C5: sore"),
    ] {
        let Line::Deferred(left) = line_only(typed) else { panic!("{typed}") };
        assert_eq!(left.because, because, "{typed}");
    }
    for more in [
        "3x",
        "30s",
        "III",
        "4>2",
        "pain 2",
        "nitrile fresh",
        "nitrile",
        "fresh",
        "oil",
        "cav",
        "tolerated",
        "\"fine\"",
        "seated",
        "rotation",
        "contact=thumb",
        "instrument=gun",
        "by=AB",
        "consent=3",
        "asked=4",
        "not-asked=asleep",
        "stopped=10:00",
        "stopped-because=sore",
        "@10:15",
        "with=balm",
        "said=fine",
    ] {
        assert_eq!(refused(&format!("C2-3 L mob {more} deferred: no")), "out-of-place", "{more}");
    }
}

/// A line that is read; what is left out of the record on purpose can't be printed again.
fn line_only(text: &str) -> Line {
    let Read::Line(line) = read(text, &setting()) else { panic!("{text}: {:?}", read(text, &setting())) };
    line
}

#[test]
fn a_dose_is_passes_and_seconds() {
    for (dose, passes, seconds) in [
        ("4", Some(4), None),
        ("3x", Some(3), None),
        ("30s", None, Some(30)),
        ("30 sec", None, Some(30)),
        ("2min", None, Some(120)),
        ("3x30", Some(3), Some(30)),
        ("3x30s", Some(3), Some(30)),
        ("3X2min", Some(3), Some(120)),
        ("3x 30s", Some(3), Some(30)),
    ] {
        let done = procedure(&format!("upper trap R soft {dose} ok"));
        assert_eq!((done.passes, done.seconds), (passes, seconds), "{dose}");
    }
    assert_eq!(
        told("upper trap R soft 1x1s ok"),
        "Done: right upper trapezius: soft-tissue work; 1 pass of 1 second; response: tolerated; by IV at 09:40"
    );
    // Behind "mob" a number up to five could be a grade.
    for count in 1..=5 {
        assert_eq!(readings(&format!("C5-6 L mob {count} ok")).len(), 2, "{count}");
    }
    for count in [0, 6] {
        assert_eq!(procedure(&format!("C5-6 L mob {count} ok")).passes, Some(count), "{count}");
    }
}

#[test]
fn the_response_follows_from_the_two_numbers_where_no_word_is_said() {
    for (said, word, before, after, words) in [
        ("5>2", ResponseWord::Relieved, Some(5), Some(2), None),
        ("5>5", ResponseWord::NoChange, Some(5), Some(5), None),
        ("2>5", ResponseWord::Worse, Some(2), Some(5), None),
        ("10>0", ResponseWord::Relieved, Some(10), Some(0), None),
        ("pain 5>2", ResponseWord::Relieved, Some(5), Some(2), None),
        ("5>2 sore", ResponseWord::Sore, Some(5), Some(2), None),
        ("ok pain 10", ResponseWord::Tolerated, None, Some(10), None),
        ("\"a little warm\"", ResponseWord::Other, None, None, Some("a little warm")),
        ("said=warm \"and heavy\"", ResponseWord::Other, None, None, Some("warm, and heavy")),
    ] {
        let Given::Value(response) = procedure(&format!("C5-6 R mob III {said}")).response else {
            panic!("{said}")
        };
        assert_eq!((response.word, response.pain_before, response.pain), (word, before, after), "{said}");
        assert_eq!(response.words.as_deref(), words, "{said}");
    }
    assert_eq!(refused("C5-6 R mob III pain 4"), "response-missing");
}

#[test]
fn a_procedure_keeps_everything_that_was_said_of_it() {
    let done = procedure(
        "C5-6 R mob III+ rotation dir=\"and up\" contact=thumb position=\"on a stool\" instrument=wedge with=balm oil \
         vinyl same-pair cav ok consent=1 asked=20 stopped=10:20 stopped-because=dizzy @10:15 by=AB",
    );
    assert_eq!(done.direction.as_deref(), Some("rotation, and up"));
    assert_eq!((done.grade.as_deref(), done.contact.as_deref()), (Some("III+"), Some("thumb")));
    assert_eq!((done.position.as_deref(), done.instrument.as_deref()), (Some("on a stool"), Some("wedge")));
    assert_eq!(done.products, ["balm", "oil"]);
    assert!(done.gloves.as_ref().is_some_and(|gloves| !gloves.fresh_pair));
    assert_eq!((done.cavitation_heard, done.consent, done.asked), (Some(true), Some(1), Some(20)));
    assert_eq!((done.stopped_because.as_deref(), done.done_by.as_str()), (Some("dizzy"), "AB"));
    let clock = |at: Option<Moment>| at.map(|at| at.clock().to_string());
    assert_eq!(clock(done.stopped_at).as_deref(), Some("10:20"));
    assert_eq!(clock(Some(done.at)).as_deref(), Some("10:15"));
    for word in ["I", "II", "III", "IV", "V", "iv-"] {
        assert_eq!(procedure(&format!("C5-6 R mob {word} ok")).grade, Some(word.to_uppercase()), "{word}");
    }
    assert_eq!(procedure("C5-6 R mob ok III grade").grade.as_deref(), Some("III"));
}

#[test]
fn a_measure_keeps_everything_that_was_said_of_it() {
    let taken = measure(
        "SLR L 70 supine passive after \"with a strap\" method=slow instrument=inclinometer because=guarding retyped=yes",
    );
    let measured = taken.measured;
    assert_eq!((measured.active, measured.retyped), (Some(false), Some(true)));
    assert_eq!(
        (measured.position.as_deref(), measured.name.as_deref()),
        (Some("face-up"), Some("with a strap"))
    );
    assert_eq!(
        (measured.method.as_deref(), measured.instrument.as_deref()),
        (Some("slow"), Some("inclinometer"))
    );
    assert_eq!(measured.unusual_because.as_deref(), Some("guarding"));
    assert_eq!(measure("opening 38 before retyped=no").measured.retyped, Some(false));
    assert_eq!(measure("opening 38 before @-").at, None);
    assert_eq!(
        measure("opening 38 before @10:15").at.map(|at| at.clock().to_string()).as_deref(),
        Some("10:15")
    );
    let other = measure(
        "other-movement 12 unit=mm L before name=reach position=\"on a stool\" typed=\"half an inch\"",
    );
    assert_eq!(other.measured.unit.word(), "mm");
    assert_eq!(other.measured.typed.as_deref(), Some("half an inch"));
    assert_eq!(other.measured.position.as_deref(), Some("on a stool"));
    assert_eq!(told("pulse 64bpm before"), "Measured before treatment: pulse: 64 a minute");
    assert_eq!(told("SpO2 97% before"), "Measured before treatment: oxygen saturation: 97 percent");
    // Inches with a space are inches, and are said both ways.
    assert_eq!(
        told("opening 1.5 in before"),
        "Measured before treatment: mouth opening: 38.1 mm (read off as 1.5 in)"
    );
    assert_eq!(told("pain 5/10 before"), told("pain 5 before"));
    assert_eq!(refused("opening 38/10 before"), "twice");
}

#[test]
fn a_check_keeps_everything_that_was_said() {
    let Line::Check(asked) = line("check comfort 10 \"fine\" words=\"warm\" done=\"less pressure\" @10:16")
    else {
        panic!()
    };
    assert_eq!((asked.number, asked.words.as_deref()), (Some(10), Some("fine, warm")));
    assert_eq!(asked.action.as_deref(), Some("less pressure"));
    assert_eq!(asked.at.clock().to_string(), "10:16");
    let Line::Check(asked) = line("check continue") else { panic!() };
    assert_eq!((asked.number, asked.words, asked.action), (None, None, None));
    assert!(why("check 3").contains("comfort"));
}

/// Side and place in full words; a segment has a right side, a structure is the right one.
#[test]
fn a_place_is_read_back_in_full() {
    for (typed, words) in [
        ("SI R soft ok", "right SI joint"),
        ("SI both soft ok", "SI joint, both sides (left and right)"),
        ("rib 6 both mob II ok", "rib 6, both sides (left and right)"),
        ("costovertebral 6 R mob II ok", "costovertebral joint of right rib 6"),
        ("C5-6 C6-7 R soft ok", "motion segments C5-C6, C6-C7, right (cervical)"),
        ("C5-6 both soft ok", "motion segment C5-C6, both sides (left and right) (cervical)"),
        ("C5-6 midline soft ok", "motion segment C5-C6, midline (cervical)"),
        ("T4 to T8 L soft ok", "from T4 to T8, left (thoracic)"),
        ("T4 to T8 thoracic erectors R soft ok", "right erector spinae, from T4 to T8 (thoracic)"),
        ("C5-6 scalenes L soft ok", "left scalenes, motion segment C5-C6"),
        ("vertebra C5 L thrust ok", "left vertebra C5 (cervical)"),
        ("knee R soft ok", "right knee"),
        ("structure=kneecap knee R soft ok", "right kneecap (knee)"),
        ("deltoid upper-limb R soft ok", "right deltoid (upper limb)"),
        ("masseter jaw R soft ok", "right masseter (jaw)"),
        ("tongue soft nitrile fresh ok", "tongue, inside the mouth, nitrile gloves, fresh pair"),
        (
            "masseter R intraoral nitrile same-pair ok",
            "right masseter, inside the mouth, nitrile gloves, not a fresh pair",
        ),
        ("sternum mob II ok", "sternum"),
    ] {
        let back = told(typed);
        let place =
            back.strip_prefix("Done: ").and_then(|rest| rest.split_once(": ")).map(|(place, _)| place);
        assert_eq!(place, Some(words), "{typed}: {back}");
    }
    for (typed, words) in [
        ("vertebra occ tender", "Found: occiput (cervical): tenderness"),
        ("vertebra C5 scalenes R tender", "Found: right scalenes, vertebra C5: tenderness"),
    ] {
        assert_eq!(told(typed), words, "{typed}");
    }
}

/// What follows from the place is left out, so that a line printed is one a person would type.
#[test]
fn a_line_is_printed_without_what_its_place_says_already() {
    for (typed, printed) in [
        ("c56 right tender 3", "C5-C6 R tender 3"),
        ("vertebra T12 tender", "vertebra T12 tender"),
        ("knee R tender", "region=knee R tender"),
        ("C5-6 R mob iii ok", "C5-C6 R mobilization III tolerated"),
        ("rib6 R mob 3x ok", "rib 6 R mobilization 3x tolerated"),
        ("costovertebral-6 R mob II ok", "costovertebral 6 R mobilization II tolerated"),
        ("C5 L thrust ok", "vertebra C5 L thrust tolerated"),
        ("C2-3 L thrust sitting ok", "C2-C3 L thrust seated tolerated"),
        ("SIJ R mob II better", "SI R mobilization II relieved"),
        ("T4 to T8 L soft ok", "T4-T8 L soft-tissue tolerated"),
        ("C2-3 L thrust deferred: sore", "C2-C3 L thrust deferred because sore"),
        ("C5-6 R strength 4- after", "strength C5-C6 R 4- after"),
        ("temp 98.6F before", "temperature 37 before typed=\"98.6 F\""),
        ("other-movement 12 unit=mm L before", "other-movement L 12 unit=mm before"),
        ("opening 38 before @-", "mouth-opening 38 before @-"),
    ] {
        assert_eq!(print(&line(typed), &setting()).as_deref(), Some(printed), "{typed}");
    }
}
