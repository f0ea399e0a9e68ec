use super::*;

fn record() -> Record {
    serde_json::from_str(include_str!("../../../tests/data/records/visit.json")).unwrap()
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
