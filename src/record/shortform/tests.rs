use super::*;
use proptest::prelude::*;

fn read(grammar: Grammar, line: &str) -> Parsed {
    parse(grammar, &split(line))
}

fn clear(grammar: Grammar, line: &str) -> Short {
    let parsed = read(grammar, line);
    assert!(parsed.is_clear(), "{line}: {:?}", parsed.doubts);
    parsed.short
}

#[test]
fn the_order_of_the_words_does_not_matter() {
    let asked = clear(Grammar::Asked, "thrust cervical right yes");
    assert_eq!(asked.techniques, [Technique::Thrust]);
    assert_eq!(asked.regions, [Region::Cervical]);
    assert_eq!((asked.side, asked.answer), (Some(Side::Right), Some(AskedAnswer::Yes)));
    for same in ["yes right cervical thrust", "Right THRUST cerv Y", "r thrust cervical yes"] {
        assert_eq!(clear(Grammar::Asked, same), asked, "{same}");
    }
}

#[test]
fn a_segment_names_its_region_where_there_is_only_one() {
    let asked = clear(Grammar::Asked, "C5-6 R thrust yes");
    assert_eq!((asked.segments, asked.regions), (vec![Segment::C5C6], vec![Region::Cervical]));
    assert_eq!(clear(Grammar::Asked, "C5-C6 cervical").regions, [Region::Cervical]);
    let shared = read(Grammar::Asked, "C7-T1 thrust r yes");
    assert_eq!(
        shared.doubts,
        [Doubt::Several {
            word: "C7-T1".into(),
            readings: vec![Reading::Region(Region::Cervical), Reading::Region(Region::Thoracic)]
        }]
    );
    // Named beside a neighbour that only the neck has, it is the neck's.
    assert_eq!(clear(Grammar::Asked, "C6/7 C7-T1").regions, [Region::Cervical]);
}

#[test]
fn shorthand_that_could_be_a_vertebra_is_never_decided() {
    for same in ["C56 r thrust yes", "c5/6 r thrust yes", "C5-C6 r thrust yes"] {
        assert_eq!(clear(Grammar::Asked, same).segments, [Segment::C5C6], "{same}");
    }
    let asked = read(Grammar::Asked, "T12 thrust yes");
    let Doubt::LevelOrSegment { word, readings } = &asked.doubts[0] else { panic!("{asked:?}") };
    assert_eq!((word.as_str(), readings.as_slice()), ("T12", &["T12".to_string(), "T1-T2".to_string()][..]));
    assert!(asked.doubts[0].words().contains("T12, T1-T2"), "{}", asked.doubts[0].words());
    assert!(asked.short.segments.is_empty() && asked.short.regions.is_empty());
    // L12 can only be L1-L2; T11 can only be a vertebra, which is no segment.
    assert_eq!(clear(Grammar::Asked, "L12 thrust yes").segments, [Segment::L1L2]);
    assert_eq!(read(Grammar::Asked, "T11 thrust yes").doubts, [Doubt::NotUnderstood("T11".into())]);
    // Taken back it is taken as everywhere, and a number is no level.
    let back = taken(&read(Grammar::Withdraw, "thrust T12"));
    assert_eq!((back.techniques, back.regions, back.not_understood), (None, None, vec!["T12".to_string()]));
    assert_eq!(read(Grammar::Number, "T12").doubts, [Doubt::NotUnderstood("T12".into())]);
}

#[test]
fn what_was_said_stands_in_quotation_marks_or_behind_says() {
    let no = clear(Grammar::Asked, "intraoral L no \"not today\"");
    assert_eq!((no.regions, no.said.as_deref()), (vec![Region::Mouth], Some("not today")));
    for line in [
        "intraoral left \"says stop\"",
        "intraoral left says stop",
        "intraoral left \"stop\"",
        "intraoral left stop",
    ] {
        assert_eq!(clear(Grammar::Withdraw, line).said.as_deref(), Some("stop"), "{line}");
    }
    assert_eq!(clear(Grammar::Pause, "\"needs a minute\"").said.as_deref(), Some("needs a minute"));
    assert_eq!(clear(Grammar::Pause, "resume yes").pause, Some(PauseKind::Resumed));
}

#[test]
fn a_word_with_several_meanings_comes_back_with_them() {
    let parsed = read(Grammar::Asked, "thrust neck right yes");
    let Doubt::Several { word, readings } = &parsed.doubts[0] else { panic!("{parsed:?}") };
    assert_eq!((word.as_str(), readings.len()), ("neck", 4));
    assert!(parsed.doubts[0].words().contains("cervical, neck-joints"));
    assert_eq!(read(Grammar::Asked, "th cervical").doubts, [Doubt::NotUnderstood("th".into())]);
    assert!(matches!(
        &read(Grammar::Asked, "left right").doubts[..],
        [Doubt::Twice { first: Reading::Side(Side::Left), second: Reading::Side(Side::Right) }]
    ));
    // An answer is said in full: no word is completed to a yes.
    assert!(!read(Grammar::Asked, "ye").is_clear());
}

#[test]
fn a_withdrawal_is_never_read_as_less_than_was_said() {
    let scope = |line: &str| taken(&read(Grammar::Withdraw, line));
    let all = scope("all raised-hand");
    assert_eq!((all.techniques, all.regions, all.side), (None, None, None));
    let left = scope("intraoral left \"says stop\"");
    assert_eq!(left.techniques, Some(vec![Technique::Intraoral]));
    assert_eq!((left.regions, left.side), (None, Some(Side::Left)));
    // Several meanings: all of them. Both sides named: every side. Not understood: everything.
    assert_eq!(scope("neck").regions.map(|r| r.len()), Some(4));
    assert_eq!(scope("thrust left right").side, None);
    let unknown = scope("thrust nekc left");
    assert_eq!((unknown.techniques, unknown.regions, unknown.side), (None, None, Some(Side::Left)));
    assert_eq!(unknown.not_understood, ["nekc"]);
    assert_eq!(scope("C7-T1").regions, Some(vec![Region::Cervical, Region::Thoracic]));
    assert_eq!(scope("all thrust").techniques, Some(vec![Technique::Thrust]));
}

/// One word between quotation marks was said, whatever else it could mean.
#[test]
fn a_quoted_word_was_said() {
    assert_eq!(split("thrust \"left\" yes"), ["thrust", "says left", "yes"]);
    assert_eq!(split("thrust \"not  today\""), ["thrust", "not  today"]);
    assert_eq!(split("thrust \"\" yes"), ["thrust", "", "yes"]);
    let asked = clear(Grammar::Asked, "thrust cervical right no \"left\"");
    assert_eq!((asked.side, asked.said.as_deref()), (Some(Side::Right), Some("left")));
}

/// The same word twice says nothing new. A line asks about one technique at one place (coverage rules, section 1);
/// a withdrawal may name several.
#[test]
fn one_technique_at_one_place_is_asked_about() {
    let once = clear(Grammar::Asked, "thrust cervical right yes");
    assert_eq!(clear(Grammar::Asked, "thrust thrust cervical cervical right right yes yes"), once);
    let (thrust, mobilization) =
        (Reading::Technique(Technique::Thrust), Reading::Technique(Technique::Mobilization));
    let two = read(Grammar::Asked, "thrust mobilization cervical right yes");
    assert_eq!(two.doubts, [Doubt::Twice { first: thrust, second: mobilization }]);
    let (neck, back) = (Reading::Region(Region::Cervical), Reading::Region(Region::Lumbar));
    let two = read(Grammar::Asked, "thrust cervical lumbar right yes");
    assert_eq!(two.doubts, [Doubt::Twice { first: neck, second: back }]);
    let back = clear(Grammar::Withdraw, "thrust mobilization cervical lumbar");
    assert_eq!(back.techniques, [Technique::Thrust, Technique::Mobilization]);
    assert_eq!(back.regions, [Region::Cervical, Region::Lumbar]);
}

/// Whatever a word of a withdrawal could mean is taken back.
#[test]
fn every_meaning_of_a_word_is_taken_back() {
    assert_eq!(
        taken(&read(Grammar::Withdraw, "adjust")).techniques,
        Some(vec![Technique::Thrust, Technique::InstrumentAdjust])
    );
    let doubt = |readings: &[Reading]| Doubt::Several { word: "x".into(), readings: readings.to_vec() };
    let parsed = |doubt| {
        let mut parsed = read(Grammar::Withdraw, "thrust left");
        parsed.doubts.push(doubt);
        taken(&parsed)
    };
    let c7_t1 = parsed(doubt(&[Reading::Segment(Segment::C7T1), Reading::Region(Region::ShoulderGirdle)]));
    assert_eq!(c7_t1.regions, Some(vec![Region::Cervical, Region::Thoracic, Region::ShoulderGirdle]));
    assert_eq!(c7_t1.side, Some(Side::Left));
    let side = parsed(doubt(&[Reading::Side(Side::Right), Reading::Region(Region::Ribs)]));
    assert_eq!((side.side, side.regions), (None, Some(vec![Region::Ribs])));
}

/// Three letters are the beginning of a word, two are not; an answer is never completed.
#[test]
fn a_word_is_completed_from_three_letters() {
    assert_eq!(clear(Grammar::Asked, "thr cerv yes").techniques, [Technique::Thrust]);
    assert!(!read(Grammar::Asked, "th cerv yes").is_clear());
    assert_eq!(clear(Grammar::Number, "com 8").question, Some(CheckQuestion::Comfort));
}

/// `dm-` and one to twelve letters or numbers name whoever decides for the patient, but not beside a number.
#[test]
fn a_decision_maker_is_named_by_a_short_name() {
    for (word, known) in [
        ("dm-1", true),
        ("dm-abcdefghijkl", true),
        ("dm-abcdefghijklm", false),
        ("dm-", false),
        ("dm-a_b", false),
        ("dm1", false),
    ] {
        for grammar in [Grammar::Asked, Grammar::Withdraw, Grammar::Pause] {
            let by = read(grammar, word).short.by;
            assert_eq!(by.as_deref(), known.then_some(word), "{word}");
        }
        assert_eq!(read(Grammar::Number, word).doubts, [Doubt::NotUnderstood(word.into())]);
    }
}

/// A yes with a limit is an answer to what was asked; going on after a pause needs a whole yes.
#[test]
fn a_limit_belongs_to_what_was_asked_and_not_to_a_pause() {
    let answer = |grammar, word: &str| read(grammar, word).short.answer;
    for (word, asked, pause) in [
        ("y", Some(AskedAnswer::Yes), Some(AskedAnswer::Yes)),
        ("n", Some(AskedAnswer::No), Some(AskedAnswer::No)),
        ("yes", Some(AskedAnswer::Yes), Some(AskedAnswer::Yes)),
        ("limit", Some(AskedAnswer::YesWithLimit), None),
        ("yes-but", Some(AskedAnswer::YesWithLimit), None),
        ("yes-with-limit", Some(AskedAnswer::YesWithLimit), None),
    ] {
        assert_eq!((answer(Grammar::Asked, word), answer(Grammar::Pause, word)), (asked, pause), "{word}");
        assert_eq!(read(Grammar::Pause, word).is_clear(), pause.is_some(), "{word}");
    }
    for all in ["all", "everything", "everywhere"] {
        assert!(clear(Grammar::Withdraw, all).all, "{all}");
        assert!(!read(Grammar::Asked, all).is_clear(), "{all}");
    }
}

/// Coverage rules, section 3: the SI joint is pelvic, a rib is one of the ribs or its joint with the spine.
#[test]
fn a_joint_without_a_number_in_the_spine_has_its_own_place() {
    assert_eq!(clear(Grammar::Asked, "SI l thrust yes").regions, [Region::Sacroiliac]);
    assert_eq!(clear(Grammar::Withdraw, "SI").regions, [Region::Sacroiliac]);
    assert_eq!(clear(Grammar::Withdraw, "rib-6").regions, [Region::Ribs, Region::RibSpineJoints]);
    let asked = read(Grammar::Asked, "rib-6 r thrust yes");
    let places = [Region::Ribs, Region::RibSpineJoints].map(Reading::Region).to_vec();
    assert_eq!(asked.doubts, [Doubt::Several { word: "rib-6".into(), readings: places }]);
}

#[test]
fn numbers_from_nought_to_ten() {
    assert_eq!(clear(Grammar::Number, "4").number, Some(4));
    let comfort = clear(Grammar::Number, "comfort 8/10 \"a bit sore\"");
    assert_eq!((comfort.question, comfort.number), (Some(CheckQuestion::Comfort), Some(8)));
    for wrong in ["11", "-1", "4.5", "004", "/10"] {
        assert!(!read(Grammar::Number, wrong).is_clear(), "{wrong}");
    }
}

const GRAMMARS: [Grammar; 4] = [Grammar::Asked, Grammar::Pause, Grammar::Withdraw, Grammar::Number];

fn known_word() -> impl Strategy<Value = String> {
    let vocabulary: Vec<&'static str> = Technique::WORDS
        .iter()
        .chain(Region::WORDS)
        .chain(Side::WORDS)
        .chain(Segment::WORDS)
        .chain(How::WORDS)
        .chain(AskedAnswer::WORDS)
        .chain(PauseKind::WORDS)
        .chain(&["neck", "all", "L", "r", "C5-6", "4", "says", "dm-1", "resume", "stop", "hand"])
        .copied()
        .collect();
    prop_oneof![
        4 => proptest::sample::select(vocabulary).prop_map(str::to_string),
        1 => "\\PC{0,12}",
        1 => "[a-z\"]{0,6} [ -~]{0,10}",
    ]
}

proptest! {
    #[test]
    fn any_text_is_read_without_panic(line in "\\PC*", pieces in proptest::collection::vec(any::<String>(), 0..6)) {
        for grammar in GRAMMARS {
            let _ = taken(&parse(grammar, &split(&line)));
            let parsed = parse(grammar, &pieces);
            parsed.doubts.iter().for_each(|doubt| { doubt.words(); });
        }
    }

    #[test]
    fn what_is_printed_reads_back(words in proptest::collection::vec(known_word(), 0..7)) {
        for grammar in GRAMMARS {
            let first = parse(grammar, &words);
            if first.is_clear() {
                prop_assert_eq!(&parse(grammar, &first.short.words()), &first);
            }
        }
    }

    #[test]
    fn one_more_word_never_takes_back_less(
        words in proptest::collection::vec(known_word(), 0..5),
        unknown in "[b-df-hj-np-tv-z]{5,9}",
    ) {
        let fewer = taken(&parse(Grammar::Withdraw, &words));
        let mut more = vec![unknown];
        more.extend(words);
        let more = taken(&parse(Grammar::Withdraw, &more));
        prop_assert!(more.techniques.is_none() && more.regions.is_none());
        prop_assert!(more.side.is_none() || more.side == fewer.side);
    }
}
