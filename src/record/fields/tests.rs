use super::*;

fn record() -> Record {
    crate::record::examples::example("visit")
}

fn typed(pointer: &str, text: &str) -> Result<Value, String> {
    let moment = |text: &str| Moment::parse(text).map_err(|error| error.to_string());
    let day = |text: &str| crate::record::moment::parse_date(text).ok_or("a date".to_string());
    read_value(&record(), pointer, text, &moment, &day)
}

#[test]
fn a_field_is_found_by_number_words_or_pointer() {
    let all = fields(&record());
    let side = pick(&all, "procedures 2, side").unwrap();
    assert_eq!((side.pointer.as_str(), side.says.as_str()), ("/procedures/1/side", "right"));
    assert_eq!(pick(&all, "/procedures/1/side").unwrap(), side);
    assert_eq!(pick(&all, "Procedures 2 Side").unwrap(), side);
    let number = all.iter().position(|field| field == side).unwrap() + 1;
    assert_eq!(pick(&all, &number.to_string()).unwrap(), side);
    // Part of the words is enough where it means one field only.
    assert_eq!(pick(&all, "next step").unwrap().pointer, "/plan/next_step");
    assert!(pick(&all, "side").unwrap_err().contains("more than one"));
    for none in ["0", "99999", "colour of the wall", ""] {
        assert!(pick(&all, none).is_err(), "{none}");
    }
}

#[test]
fn what_is_empty_stands_behind_what_is_recorded() {
    let all = fields(&record());
    let first_empty = all.iter().position(|field| !field.recorded).unwrap();
    assert!(all[first_empty..].iter().all(|field| !field.recorded));
    assert_eq!(pick(&all, "medicines changed").unwrap().says, "nothing is recorded");
}

#[test]
fn a_value_is_read_as_its_field_has_it() {
    assert_eq!(typed("/procedures/1/side", "Left").unwrap(), json!("left"));
    assert!(typed("/procedures/1/side", "upwards").unwrap_err().contains("left, right"));
    assert_eq!(typed("/procedures/1/segments", "C5-C6; C6-C7").unwrap(), json!(["C5-C6", "C6-C7"]));
    assert_eq!(typed("/procedures/1/cavitation_heard", "yes").unwrap(), json!(true));
    assert_eq!(typed("/procedures/1/cavitation_heard", " No ").unwrap(), json!(false));
    assert!(typed("/procedures/1/cavitation_heard", "perhaps").unwrap_err().contains("yes or no"));
    assert_eq!(typed("/procedures/1/passes", "3").unwrap(), json!(3));
    assert!(typed("/procedures/1/passes", "three").is_err());
    assert_eq!(typed("/plan/re_examine_on", "2025-03-11").unwrap(), json!("2025-03-11"));
    assert_eq!(typed("/plan/next_step", "once more").unwrap(), json!("once more"));
    assert_eq!(
        typed("/assessment", "because: as last time").unwrap(),
        json!({"not_done_because": "as last time"})
    );
    // No reason stands in the place of a number.
    assert!(typed("/procedures/1/passes", "because: not counted").unwrap_err().contains("a number"));
    assert!(typed("/procedures", "two").unwrap_err().contains("pick one of its parts"));
    assert!(typed("/nowhere", "x").is_err());
    assert!(typed("", "x").is_err());
}

#[test]
fn a_result_that_cannot_be_is_refused() {
    let now = corrected(&record(), "/procedures/1/side", &json!("left")).unwrap();
    assert_eq!(now.data.pointer("/procedures/1/side"), Some(&json!("left")));
    for (pointer, is) in [
        ("/procedures/1/side", json!("upwards")),
        ("/procedures/9/side", json!("left")),
        ("/procedures/1/at", json!("2099-01-01T10:00:00-05:00")),
        ("/visit", json!(null)),
        ("/no_such_field", json!("x")),
    ] {
        assert!(corrected(&record(), pointer, &is).is_err(), "{pointer}");
    }
}

/// A pointer is that of RFC 6901: `~1` is a stroke and `~0` a tilde within a name, `-` the place behind the
/// last of a list.
#[test]
fn a_value_is_set_where_the_pointer_says_and_nowhere_else() {
    let data = json!({"group": {"b/c": 1, "m~n": 2}, "list": ["x", "y"]});
    let rows = [
        ("/group/b~1c", json!(3), Some(json!({"group": {"b/c": 3, "m~n": 2}, "list": ["x", "y"]}))),
        ("/group/m~0n", json!(null), Some(json!({"group": {"b/c": 1}, "list": ["x", "y"]}))),
        ("/group/z", json!(3), Some(json!({"group": {"b/c": 1, "m~n": 2, "z": 3}, "list": ["x", "y"]}))),
        ("/group/z", json!(null), None),
        ("/list/1", json!("z"), Some(json!({"group": {"b/c": 1, "m~n": 2}, "list": ["x", "z"]}))),
        ("/list/1", json!(null), Some(json!({"group": {"b/c": 1, "m~n": 2}, "list": ["x"]}))),
        ("/list/-", json!("z"), Some(json!({"group": {"b/c": 1, "m~n": 2}, "list": ["x", "y", "z"]}))),
        ("/list/-", json!(null), None),
        ("/list/2", json!("z"), None),
        ("/list/3", json!("z"), None),
        ("/list/2", json!(null), None),
        ("/list/first", json!("z"), None),
        ("/list/0/x", json!("z"), None),
        ("/elsewhere/x", json!("z"), None),
        ("list", json!("z"), None),
    ];
    for (pointer, is, after) in rows {
        let mut now = data.clone();
        let done = set(&mut now, pointer, &is).map(|()| now);
        assert_eq!(done, after, "{pointer} = {is}");
    }
}

/// A group with a reason in its place is one field; a list of words is one, a list of groups is each of its parts.
#[test]
fn each_field_says_in_words_what_is_recorded_there() {
    let all = fields(&record());
    let at = |pointer: &str| all.iter().find(|field| field.pointer == pointer);
    let rows = [
        ("/changed_since_last", "changed since last", "not done or not asked, because: first visit"),
        ("/practitioners", "practitioners", "IV"),
        ("/procedures/1/segments", "procedures 2, segments", "C5-C6"),
        ("/codes/0/for_procedures", "codes 1, for procedures", "1; 2"),
        ("/procedures/0/at", "procedures 1, at", "03 Oct 2022 10:15"),
        ("/complaints/0/pain_now", "complaints 1, pain now", "5"),
        ("/plan/goals/0/by", "plan, goals 1, by", "2022-11-14"),
    ];
    for (pointer, words, says) in rows {
        let field = at(pointer).unwrap_or_else(|| panic!("{pointer}"));
        assert_eq!((field.words.as_str(), field.recorded), (words, true), "{pointer}");
        assert!(field.says.contains(says), "{pointer}: {}", field.says);
    }
    for none in ["/practitioners/0", "/procedures", "/plan", "/changed_since_last/not_done_because"] {
        assert!(at(none).is_none(), "{none}");
    }
    // Nothing stands in the list twice: what is recorded is not offered as empty.
    let mut pointers: Vec<&str> = all.iter().map(|field| field.pointer.as_str()).collect();
    pointers.sort_unstable();
    let many = pointers.len();
    pointers.dedup();
    assert_eq!(pointers.len(), many);
}

/// What stands in the list as empty can be set by typing: it is no group of fields, which has parts to pick.
#[test]
fn what_is_offered_as_empty_can_be_typed() {
    let moment = |_: &str| Err("a moment".to_string());
    let day = |_: &str| Err("a day".to_string());
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/records");
    let mut empty = 0;
    for file in std::fs::read_dir(folder).unwrap() {
        let record: Record = serde_json::from_slice(&std::fs::read(file.unwrap().path()).unwrap()).unwrap();
        for field in fields(&record).iter().filter(|field| !field.recorded) {
            let read = read_value(&record, &field.pointer, "x", &moment, &day);
            let why = read.err().unwrap_or_default();
            assert!(!why.contains("group of fields"), "{} {}: {why}", record.kind, field.pointer);
            assert!(!why.contains("no such field"), "{} {}: {why}", record.kind, field.pointer);
            empty += 1;
        }
    }
    assert!(empty > 100, "{empty}");
    // A referral, a group, is not among those of a visit; a single text is.
    let of_visit = fields(&record());
    assert!(of_visit.iter().any(|field| field.pointer == "/words" && !field.recorded));
    assert!(of_visit.iter().all(|field| field.pointer != "/payer"));
}

#[test]
fn a_field_that_is_not_meant_alone_is_not_picked() {
    let field = |pointer: &str, words: &str, recorded: bool| Field {
        pointer: pointer.to_string(),
        words: words.to_string(),
        says: String::new(),
        recorded,
    };
    let (one, other) = (field("/next_step", "next step", true), field("/next_visit", "next visit", false));
    let both = [one.clone(), other.clone()];
    // Of what is empty the whole name must be said.
    assert_eq!(pick(&both, "next").unwrap(), &one);
    assert_eq!(pick(&both, "next visit").unwrap(), &other);
    assert_eq!(pick(&both, "/next_visit").unwrap(), &other);
    assert_eq!(pick(&both, "1").unwrap(), &one);
    assert_eq!(pick(&both, "2").unwrap(), &other);
    assert!(pick(&both, "3").unwrap_err().contains("the last is 2"));
    // Nothing typed means nothing, even where there is only one field.
    assert!(pick(std::slice::from_ref(&one), " ").is_err());
    assert_eq!(pick(&both, "colour").unwrap_err(), "no field of this entry is called so");
    let two = [one, field("/next_step_at", "next step at", true)];
    let why = pick(&two, "step").unwrap_err();
    assert!(why.contains("more than one") && why.contains("next step; next step at"), "{why}");
}

#[test]
fn an_item_of_a_list_is_read_by_the_layout_of_the_list() {
    assert_eq!(typed("/procedures/1/segments/0", "c4-c5").unwrap(), json!("C4-C5"));
    assert_eq!(typed("/codes/0/for_procedures/1", "2").unwrap(), json!(2));
    assert_eq!(typed("/procedures/1/segments", "C5-C6, C6-C7").unwrap(), json!(["C5-C6", "C6-C7"]));
    assert!(typed("/assessment", "better").unwrap_err().contains("pick one of its parts"));
    for yes in ["Y", "true", "YES"] {
        assert_eq!(typed("/procedures/1/cavitation_heard", yes).unwrap(), json!(true), "{yes}");
    }
    for no in ["n", "False", "no"] {
        assert_eq!(typed("/procedures/1/cavitation_heard", no).unwrap(), json!(false), "{no}");
    }
    assert!(typed("/procedures/1/passes", " ").unwrap_err().contains("nothing is written"));
}

/// What could not be before, elsewhere in the entry, must not stand in the way of a correction.
#[test]
fn only_what_a_correction_itself_spoils_is_held_against_it() {
    let midline = json!("midline");
    let why = corrected(&record(), "/procedures/0/side", &midline).unwrap_err();
    assert!(why.contains("procedures 1, side") && why.contains("no midline"), "{why}");
    let mut spoiled = record();
    set(&mut spoiled.data, "/procedures/0/side", &midline).unwrap();
    let now = corrected(&spoiled, "/plan/next_step", &json!("once more")).unwrap();
    assert_eq!(now.data.pointer("/plan/next_step"), Some(&json!("once more")));
    let mended = corrected(&spoiled, "/procedures/0/side", &json!("both")).unwrap();
    assert_eq!(mended.data, record().data);
}

#[test]
fn values_and_places_are_said_in_plain_words() {
    for (value, words) in [
        (json!(null), "nothing"),
        (json!(true), "yes"),
        (json!(false), "no"),
        (json!(3.5), "3.5"),
        (json!("ice"), "ice"),
        (json!(["ice", "rest"]), "ice; rest"),
        (json!({"not_done_because": "asleep"}), "not done or not asked, because: asleep"),
        (json!({"word": "sore", "pain_before": 4}), "word: sore; pain before: 4"),
        // A reason among other things is one of them.
        (json!({"not_done_because": "asleep", "pain": 4}), "not done because: asleep; pain: 4"),
    ] {
        assert_eq!(value_words(&value), words);
    }
    for (pointer, words) in [
        ("/procedures/0/side", "procedures 1, side"),
        ("/plan/next_step", "plan, next step"),
        ("/plan", "plan"),
        ("/answers/jaw-locking", "answers, jaw locking"),
        ("/a~1b", "a/b"),
        ("", ""),
    ] {
        assert_eq!(pointer_words(pointer), words);
    }
}
