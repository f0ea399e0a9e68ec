use super::*;
use crate::record::moment::parse_date;
use crate::record::tables::Tables;
use serde_json::{Value, json};

fn day(text: &str) -> Date {
    parse_date(text).unwrap()
}

/// The data of the example of a kind, changed.
fn example(kind: &str, change: impl FnOnce(&mut Value)) -> Data {
    let mut record = crate::record::examples::example(kind);
    change(&mut record.data);
    record.read_data().unwrap()
}

fn entry(seq: u64, on: &str, data: Data) -> Seen {
    Seen {
        seq,
        kind: data.kind().to_string(),
        author: "IV".to_string(),
        made: day(on),
        at: day(on),
        data: Some(data),
        misfiled: false,
        of_joined: false,
    }
}

fn opened(on: &str) -> Seen {
    entry(
        1,
        on,
        example("chart-opened", |data| data["identity"]["birth_date"] = json!({"date": "1950-01-01"})),
    )
}

fn visit(seq: u64, on: &str) -> Seen {
    entry(seq, on, example("visit-opened", |_| ()))
}

fn stands(entries: &[Seen], register: &[Seen], ids: &[&str], days: Option<u32>, today: &str) -> KeepUntil {
    let tables = Tables::shipped().unwrap();
    let adopted: Vec<&RetentionRule> = ids.iter().map(|id| tables.retention.rule(id).unwrap()).collect();
    let rules = Rules {
        adopted: &adopted,
        defaults: tables.retention.defaults,
        challenged_days: days,
        today: day(today),
    };
    keep_until("PM-0127", entries, register, &rules, None)
}

/// 45 CFR 164.530(j)(2): six years for papers about the patient's rights, which lie in the chart here; so the chart
/// stays as long as they must, and where it holds none the rule gives no day.
#[test]
fn papers_about_rights_keep_the_chart() {
    let asked = entry(9, "2023-03-01", example("request", |_| ()));
    let mut chart = vec![opened("2014-03-01"), visit(2, "2014-03-01")];
    let before = stands(&chart, &[], &["us-ca-318", "us-hipaa-530"], None, "2026-01-01");
    assert_eq!(before.keep_through, Some(Day(day("2020-03-01"))), "the privacy notice of the first day");
    chart.push(asked);
    let after = stands(&chart, &[], &["us-ca-318", "us-hipaa-530"], None, "2026-01-01");
    assert_eq!(after.keep_through, Some(Day(day("2029-03-01"))));
    assert_eq!(after.set_by(), "us-hipaa-530");
    assert!(after.rules[1].reason.contains("entry 9"), "{:?}", after.rules);
}

#[test]
fn no_rule_gives_no_day_and_nothing_may_go() {
    let chart = [opened("2000-03-01"), visit(2, "2000-03-01")];
    let none = stands(&chart, &[], &[], None, "2026-01-01");
    assert!(none.keep_through.is_none() && !none.may_go() && none.problem.is_some(), "{none:?}");
    let unborn = entry(
        1,
        "2000-03-01",
        example("chart-opened", |data| {
            data["identity"]["birth_date"] = json!({"estimated_year": 1950, "words": "told"});
        }),
    );
    // One rule gives a day without the birth date, the other does not: then there is none.
    let half = stands(&[unborn, visit(2, "2000-03-01")], &[], &["us-ca-318", "lm-1"], None, "2026-01-01");
    assert!(half.keep_through.is_none() && !half.may_go(), "{half:?}");
    assert_eq!(half.refusals, ["no_day"]);
}

/// What belongs to another person's chart is no treatment of this one; another chart of the same person is.
#[test]
fn a_misfiled_visit_does_not_count_and_a_joined_chart_does() {
    let mut wrong = visit(3, "2015-01-01");
    wrong.misfiled = true;
    let mut chart = vec![opened("2000-03-01"), visit(2, "2000-03-01"), wrong];
    let without = stands(&chart, &[], &["us-ca-318"], None, "2026-01-01");
    assert_eq!(without.keep_through, Some(Day(day("2005-03-01"))));
    let mut elsewhere = visit(40, "2024-02-29");
    elsewhere.of_joined = true;
    chart.push(elsewhere);
    let with = stands(&chart, &[], &["us-ca-318"], None, "2026-01-01");
    assert_eq!(with.keep_through, Some(Day(day("2029-03-01"))), "29 February plus years is 1 March");
}

#[test]
fn a_refused_amendment_stands_against_it_as_long_as_it_can_be_challenged() {
    let asked = entry(20, "2016-01-04", example("amendment-request", |_| ()));
    let decision = |decided: &str| {
        entry(
            21,
            "2016-02-01",
            example("amendment-decision", |data| {
                data["request"] = json!(20);
                data["letter"]["dated"] = json!("2016-02-01");
                for point in data["points"].as_array_mut().unwrap() {
                    point["decision"] = json!(decided);
                }
            }),
        )
    };
    let mut chart = vec![opened("2000-03-01"), visit(2, "2000-03-01"), asked];
    let open = |chart: &[Seen], days, today: &str| {
        stands(chart, &[], &["us-ca-318"], days, today).refusals.join(" ")
    };
    assert_eq!(open(&chart, Some(180), "2026-01-01"), "open_request", "not decided");
    let mut of_another = decision("accepted");
    let Some(Data::AmendmentDecision(decided)) = &mut of_another.data else { panic!() };
    decided.request = 19;
    chart.push(of_another);
    assert_eq!(open(&chart, Some(180), "2026-01-01"), "open_request", "another one was decided");
    chart.truncate(3);
    chart.push(decision("refused"));
    assert_eq!(open(&chart, Some(180), "2016-07-30"), "open_request", "the 180th day");
    assert_eq!(open(&chart, Some(180), "2016-07-31"), "");
    assert_eq!(open(&chart, None, "2026-01-01"), "open_request", "the rules name no time");
    let disagrees = example("disagreement", |data| data["request"] = json!(20));
    chart.push(entry(22, "2016-06-01", disagrees));
    assert_eq!(open(&chart, Some(180), "2016-07-31"), "open_request", "counted from the statement");
    chart.truncate(3);
    chart.push(decision("accepted"));
    assert_eq!(open(&chart, None, "2026-01-01"), "");
}

/// What a role does not open is not taken for closed.
#[test]
fn what_does_not_open_stands_against_it() {
    let mut chart = vec![opened("2000-03-01"), visit(2, "2000-03-01")];
    for kind in ["reaction", "hold", "notice", "request"] {
        let mut sealed = entry(30, "2000-03-01", example(kind, |_| ()));
        sealed.data = None;
        chart.truncate(2);
        chart.push(sealed);
        let found = stands(&chart, &[], &["us-ca-318"], Some(0), "2026-01-01");
        assert!(!found.may_go() && found.against.len() == 1, "{kind}: {:?}", found.refusals);
    }
}

/// A treatment that a role can't read is said to be there; what is about keeping and reading a chart is no record of
/// the patient.
#[test]
fn it_is_said_where_a_part_of_the_record_does_not_open() {
    let said = |kind: &str, opens: bool| {
        let mut more = entry(30, "2001-03-01", example(kind, |_| ()));
        more.data = more.data.filter(|_| opens);
        let chart = [opened("2000-03-01"), visit(2, "2000-03-01"), more];
        let inputs = stands(&chart, &[], &["us-ca-318"], Some(0), "2026-01-01").inputs;
        inputs.remarks.iter().any(|remark| remark.contains("do not open to this role"))
    };
    assert!(said("visit-opened", false) && !said("visit-opened", true));
    assert!(!said("access", false) && !said("access", true));
}

/// What stands against a chart with one visit of IV on 2000-03-01.
fn stands_against(more: Vec<Seen>, register: &[Seen], today: &str) -> Vec<(String, Option<u64>)> {
    let mut chart = vec![opened("2000-03-01"), visit(2, "2000-03-01")];
    chart.extend(more);
    let found = stands(&chart, register, &["us-ca-318"], Some(180), today).against;
    found.into_iter().map(|one| (one.because.word().to_string(), one.entry)).collect()
}

fn changed(kind: &str, change: Value) -> Data {
    example(kind, |data| {
        for (name, is) in change.as_object().unwrap() {
            if is.is_null() {
                data.as_object_mut().unwrap().shift_remove(name);
            } else {
                data[name] = is.clone();
            }
        }
    })
}

/// A hold placed outside the charts holds those it touches: by days (first and last included), by who treated.
#[test]
fn a_hold_outside_the_charts_holds_what_it_touches() {
    let held = |scope: Value| {
        let hold = entry(90, "2025-01-01", changed("hold", json!({ "scope": scope })));
        stands_against(vec![], &[hold], "2026-01-01") == [("hold".to_string(), Some(90))]
    };
    assert!(held(json!({ "kind": "chart" })));
    for (from, until, touched) in [
        ("2000-03-01", "2000-03-01", true),
        ("2000-01-01", "2000-02-29", false),
        ("2000-03-02", "2001-01-01", false),
        ("1999-01-01", "2000-03-01", true),
    ] {
        let scope = json!({ "kind": "dates", "from": from, "until": until });
        assert_eq!(held(scope), touched, "{from} to {until}");
        let scope = json!({ "kind": "practitioner", "practitioner": "iv", "from": from, "until": until });
        assert_eq!(held(scope), touched, "IV, {from} to {until}");
    }
    assert!(!held(json!({ "kind": "practitioner", "practitioner": "QQ" })));
    // Who treated, not only who wrote.
    let by_another = |data: Data| {
        let mut seen = entry(3, "2000-03-02", data);
        seen.author = "QQ".to_string();
        let scope = json!({ "kind": "practitioner", "practitioner": "LM" });
        let hold = entry(90, "2025-01-01", changed("hold", json!({ "scope": scope })));
        !stands_against(vec![seen], &[hold], "2026-01-01").is_empty()
    };
    assert!(by_another(changed("visit-opened", json!({ "practitioners": ["LM"] }))));
    assert!(by_another(changed("visit", json!({ "practitioners": ["LM"], "adverse": [] }))));
    assert!(!by_another(changed("visit-opened", json!({ "practitioners": ["IV"] }))));
}

#[test]
fn a_hold_ends_only_with_a_letter_about_it() {
    let lifted = |change: Value| {
        let hold = entry(20, "2025-01-01", changed("hold", json!({ "scope": { "kind": "chart" } })));
        let lift = entry(21, "2025-02-01", changed("hold-lifted", change));
        stands_against(vec![hold, lift], &[], "2026-01-01").is_empty()
    };
    assert!(lifted(json!({ "hold": 20, "letter": 19 })));
    assert!(!lifted(json!({ "hold": 20, "letter": null })));
    assert!(!lifted(json!({ "hold": 18, "letter": 19 })));
}

/// A notice outside the charts is about those with something on its days; each kind is named for what it is.
#[test]
fn a_notice_stands_against_what_it_is_about_until_it_is_closed() {
    let because = |kind: &str, about: &str, closed: Option<u64>| {
        let notice = json!({ "kind": kind, "about": [about], "state": "received" });
        let mut register = vec![entry(90, "2025-01-01", changed("notice", notice))];
        let end = |of: u64| json!({ "kind": kind, "about": [about], "state": "closed", "of": of });
        register.extend(closed.map(|of| entry(91, "2025-02-01", changed("notice", end(of)))));
        stands_against(vec![], &register, "2026-01-01")
    };
    let on = "2000-03-01";
    for (kind, word) in [
        ("audit", "audit"),
        ("complaint", "complaint"),
        ("board-letter", "complaint"),
        ("claim", "proceeding"),
    ] {
        assert_eq!(because(kind, on, None), [(word.to_string(), Some(90))], "{kind}");
    }
    assert!(because("audit", "2000-03-02", None).is_empty());
    assert!(because("audit", on, Some(90)).is_empty());
    assert_eq!(because("audit", on, Some(89)).len(), 1, "another one was closed");
    // The day of a treatment counts, and the day it was written down.
    for (about, touched) in [("2000-03-05", 1), ("2000-03-09", 1), ("2000-03-07", 0)] {
        let mut late = visit(3, "2000-03-09");
        late.at = day("2000-03-05");
        let notice = changed("notice", json!({ "about": [about], "state": "received" }));
        let found = stands_against(vec![late], &[entry(90, "2025-01-01", notice)], "2026-01-01");
        assert_eq!(found.len(), touched, "{about}");
    }
    // In the chart itself, or with no days named, it is about this chart.
    let here = changed("notice", json!({ "about": ["2010-01-01"], "state": "received" }));
    assert_eq!(stands_against(vec![entry(20, "2025-01-01", here)], &[], "2026-01-01").len(), 1);
    let of_all = changed("notice", json!({ "about": null, "state": "received" }));
    assert_eq!(stands_against(vec![], &[entry(90, "2025-01-01", of_all)], "2026-01-01").len(), 1);
}

#[test]
fn a_matter_of_the_office_file_stands_against_the_chart_it_names() {
    let paper = |seq: u64, change: Value| entry(seq, "2025-01-01", changed("office-file", change));
    let found = |register: &[Seen]| stands_against(vec![], register, "2026-01-01");
    let names = json!({ "chart_no": "pm-0127" });
    let of_it = vec![("proceeding".to_string(), Some(90))];
    assert_eq!(found(&[paper(90, names.clone())]), of_it);
    assert!(found(&[paper(90, json!({ "chart_no": "PM-0128" }))]).is_empty());
    // A later paper of the matter names the chart; the last one closes it.
    let unnamed = json!({ "chart_no": null });
    let goes_on = json!({ "chart_no": "PM-0127", "of": 90 });
    assert_eq!(found(&[paper(90, unnamed.clone()), paper(91, goes_on)]), of_it);
    let closes = json!({ "chart_no": null, "of": 91, "closed": true });
    let goes_on = paper(91, json!({ "chart_no": null, "of": 90 }));
    assert!(found(&[paper(90, names.clone()), goes_on, paper(92, closes.clone())]).is_empty());
    assert_eq!(found(&[paper(90, names), paper(91, unnamed), paper(92, closes)]), of_it, "another matter");
}

#[test]
fn a_request_stands_against_it_until_answered_and_while_a_refusal_can_be_challenged() {
    let asked = |kind: &str| entry(20, "2016-01-04", changed("request", json!({ "kind": kind })));
    let step = |kind: &str, of: u64| {
        entry(
            21,
            "2016-02-01",
            changed("request-step", json!({ "request": of, "step": kind, "on": "2016-02-01" })),
        )
    };
    for (kind, word) in [("copy", "open-request"), ("audit", "audit"), ("oversight", "complaint")] {
        let found = stands_against(vec![asked(kind)], &[], "2016-03-01");
        assert_eq!(found, [(word.to_string(), Some(20))], "{kind}");
    }
    let open = |kind: &str, of: u64, today: &str| {
        !stands_against(vec![asked("copy"), step(kind, of)], &[], today).is_empty()
    };
    for refused in ["declined", "returned"] {
        assert!(open(refused, 20, "2016-07-30") && !open(refused, 20, "2016-07-31"), "{refused}");
    }
    for ends in ["answered", "withdrawn", "closed"] {
        assert!(!open(ends, 20, "2016-02-02") && open(ends, 19, "2016-02-02"), "{ends}");
    }
    let sent = |kind: &str, of: u64| entry(21, "2016-02-01", changed(kind, json!({ "request": of })));
    for kind in ["release", "accounting-given"] {
        assert!(stands_against(vec![asked("copy"), sent(kind, 20)], &[], "2026-01-01").is_empty(), "{kind}");
        assert_eq!(stands_against(vec![asked("copy"), sent(kind, 19)], &[], "2026-01-01").len(), 1, "{kind}");
    }
}

/// A response in a note that was not over stands against it until somebody took it up.
#[test]
fn a_reaction_in_a_note_counts_until_it_is_taken_up_and_closed() {
    let example = crate::record::examples::example("visit");
    let number = example.data["visit"].as_u64().unwrap();
    let response = |change: Value| {
        let mut adverse = json!({
            "what": "sore", "severity": "mild", "action": "rest", "outcome": "still sore on leaving"
        });
        for (name, is) in change.as_object().unwrap() {
            adverse[name] = is.clone();
        }
        entry(20, "2000-03-01", changed("visit", json!({ "adverse": [adverse] })))
    };
    let found = |more: Vec<Seen>| stands_against(more, &[], "2026-01-01");
    let open = vec![("adverse-reaction".to_string(), Some(20))];
    assert_eq!(found(vec![response(json!({}))]), open);
    assert!(found(vec![response(json!({ "closed_at": "2000-03-01T10:00:00-05:00" }))]).is_empty());
    assert!(found(vec![response(json!({ "reaction": 15 }))]).is_empty());
    let reaction = |change: Value| entry(30, "2000-03-02", changed("reaction", change));
    let by_visit = reaction(json!({ "visit": number, "procedures": null }));
    let taken_up = vec![("adverse-reaction".to_string(), Some(30))];
    assert_eq!(found(vec![response(json!({})), by_visit]), taken_up);
    let by_note = reaction(json!({ "visit": null, "procedures": [{ "note": 20, "procedure": 1 }] }));
    assert_eq!(found(vec![response(json!({})), by_note.clone()]), taken_up);
    let of_another = reaction(json!({ "visit": number + 1, "procedures": [{ "note": 19, "procedure": 1 }] }));
    assert_eq!(found(vec![response(json!({})), of_another]).len(), 2);
    let closed = |of: u64| entry(31, "2000-03-03", changed("reaction-closed", json!({ "reaction": of })));
    assert!(found(vec![response(json!({})), by_note.clone(), closed(30)]).is_empty());
    assert_eq!(found(vec![response(json!({})), by_note, closed(29)]), taken_up);
}

/// What stands against it is named by the blocks of the published rules (tests/data/reckon, topic `retention`).
#[test]
fn each_reason_has_its_block() {
    let block = |more: Seen| {
        let chart = [opened("2000-03-01"), visit(2, "2000-03-01"), more];
        let found = stands(&chart, &[], &["us-ca-318"], Some(180), "2026-01-01").against;
        found.into_iter().map(|one| one.block).collect::<Vec<_>>()
    };
    let notice = |kind: &str| changed("notice", json!({ "kind": kind, "about": null, "state": "received" }));
    for (data, wanted) in [
        (changed("hold", json!({ "scope": { "kind": "chart" } })), "hold"),
        (changed("request", json!({ "kind": "copy" })), "open_request"),
        (notice("audit"), "open_proceeding"),
        (notice("complaint"), "open_proceeding"),
        (notice("claim"), "open_proceeding"),
        (example("reaction", |_| ()), "open_adverse_response"),
    ] {
        assert_eq!(block(entry(20, "2025-01-01", data)), [wanted]);
    }
}

/// Its last day is still kept; the day after, nothing else standing against it, it may go.
#[test]
fn a_chart_may_go_from_the_day_after_its_last() {
    let chart = [opened("2000-03-01"), visit(2, "2000-03-01")];
    let on = |today: &str| {
        let stands = stands(&chart, &[], &["us-ca-318"], Some(0), today);
        (stands.has_passed(), stands.may_go(), stands.set_by())
    };
    assert_eq!(on("2005-03-01"), (false, false, "us-ca-318".to_string()));
    assert_eq!(on("2005-03-02"), (true, true, "us-ca-318".to_string()));
    let reason = stands(&chart, &[], &["us-ca-318"], Some(0), "2005-03-02").rules[0].reason.clone();
    assert!(reason.starts_with("5 years after the last") && reason.contains("(entry 2)"), "{reason}");
}

/// A day and the number of its entry, as they are shown beside the day to keep to.
fn shown(of: Option<dates::DayOf>) -> Option<(String, u64)> {
    of.map(|of| (of.day.to_string(), of.entry))
}

fn is(day: &str, entry: u64) -> Option<(String, u64)> {
    Some((day.to_string(), entry))
}

/// Of several entries on a day the first is the one written first, the newest the one written last.
#[test]
fn the_first_and_the_newest_entry_are_told_with_their_numbers() {
    let mut chart = vec![opened("2000-03-01"), visit(2, "2000-03-01")];
    let ends = |chart: &[Seen]| {
        let inputs = Inputs::of(chart);
        (shown(inputs.first_entry), shown(inputs.last_entry))
    };
    assert_eq!(ends(&chart), (is("2000-03-01", 1), is("2000-03-01", 2)));
    chart.extend([visit(3, "2001-05-05"), visit(4, "2001-05-05")]);
    assert_eq!(ends(&chart), (is("2000-03-01", 1), is("2001-05-05", 4)));
    // What stands in a chart that was joined may be older.
    let mut elsewhere = visit(40, "1998-01-01");
    elsewhere.of_joined = true;
    chart.push(elsewhere);
    assert_eq!(ends(&chart), (is("1998-01-01", 40), is("2001-05-05", 4)));
    assert_eq!(ends(&[]), (None, None));
}

/// 45 CFR 164.530(j)(1): what must be kept in writing about rights is requests and what became of them, disclosures,
/// notices of privacy practices; treatments and other papers are not.
#[test]
fn the_newest_paper_about_rights_is_told_apart_from_other_entries() {
    let newest = |more: Seen| shown(Inputs::of(&[opened("2000-03-01"), more]).last_paper);
    let document = |kind: &str| entry(2, "2001-05-05", changed("document", json!({ "kind": kind })));
    for kind in ["privacy-notice", "rights-letter"] {
        assert_eq!(newest(document(kind)), is("2001-05-05", 2), "{kind}");
    }
    for kind in ["financial-notice", "practice-rules", "other"] {
        assert_eq!(newest(document(kind)), is("2000-03-01", 1), "{kind}");
    }
    let mut sealed = document("other");
    sealed.data = None;
    assert_eq!(newest(sealed), is("2001-05-05", 2), "one that does not open may be such a paper");
    assert_eq!(newest(visit(2, "2001-05-05")), is("2000-03-01", 1));
    for kind in
        ["request", "request-step", "release", "accounting-given", "amendment-request", "disagreement"]
    {
        assert_eq!(newest(entry(2, "2001-05-05", example(kind, |_| ()))), is("2001-05-05", 2), "{kind}");
    }
}

/// The birth date is the chart's own as it stands now, whatever a chart says that was joined with it.
#[test]
fn the_birth_date_is_the_charts_own() {
    let says = |kind: &str, seq: u64, born: Value, of_joined: bool| {
        let mut seen = entry(seq, "2001-05-05", example(kind, |data| data["identity"]["birth_date"] = born));
        seen.of_joined = of_joined;
        seen
    };
    let dated = |day: &str| json!({ "date": day });
    let mut chart = vec![opened("2000-03-01"), says("chart-opened", 40, dated("1960-06-06"), true)];
    let born = |chart: &[Seen]| shown(Inputs::of(chart).born);
    assert_eq!(born(&chart), is("1950-01-01", 1));
    chart.push(says("identity-changed", 41, dated("1961-06-06"), true));
    assert_eq!(born(&chart), is("1950-01-01", 1));
    chart.push(says("identity-changed", 5, dated("1951-02-02"), false));
    assert_eq!(born(&chart), is("1951-02-02", 5));
    chart.push(says("identity-changed", 6, json!({ "estimated_year": 1950, "words": "told" }), false));
    assert_eq!(born(&chart), is("1951-02-02", 5));
    // An old paper chart fills in what nobody else knows.
    let paper = || entry(7, "2001-05-05", changed("paper-chart", json!({ "birth_date": "1949-02-11" })));
    chart.push(paper());
    assert_eq!(born(&chart), is("1951-02-02", 5));
    assert_eq!(born(&[visit(2, "2000-03-01"), paper()]), is("1949-02-11", 7));
}

#[test]
fn the_day_of_death_is_told_and_a_typed_day_of_treatment_is_only_compared() {
    let state = |change: Value| entry(9, "2025-01-13", changed("chart-state", change));
    let of = |last: &str, change: Value| {
        Inputs::of(&[opened("2000-03-01"), visit(2, "2000-03-01"), visit(3, last), state(change)])
    };
    let died = of("2024-12-09", json!({ "died_on": "2025-01-08", "last_treated": "2024-12-09" }));
    assert_eq!((shown(died.died_on), died.remarks.len()), (is("2025-01-08", 9), 0));
    assert_eq!(shown(of("2024-12-09", json!({ "status": "open" })).died_on), None);
    let differs = of("2024-12-10", json!({ "last_treated": "2024-12-09" }));
    assert_eq!(shown(differs.last_treated), is("2024-12-10", 3), "what was typed is never used");
    assert_eq!(differs.remarks.len(), 1);
    assert!(
        differs.remarks[0].starts_with("entry 9 says last treated 09 Dec 2024; "),
        "{:?}",
        differs.remarks
    );
    assert!(of("2024-12-10", json!({ "last_treated": null })).remarks.is_empty());
    let untreated = Inputs::of(&[opened("2000-03-01"), state(json!({ "last_treated": "2024-12-09" }))]);
    assert_eq!((untreated.last_treated, untreated.remarks.len()), (None, 1));
}

/// Ariz. Rev. Stat. 32-2936 keeps a child's record to the earlier of the two days, the invented rule lm-1 to the
/// later (tests/data/reckon, topic `retention`).
#[test]
fn the_reason_says_which_of_two_days_is_kept() {
    let born = |data: &mut Value| data["identity"]["birth_date"] = json!({ "date": "2010-06-15" });
    let chart = [entry(1, "2024-03-10", example("chart-opened", born)), visit(2, "2024-03-10")];
    for (rule, kept, which) in [
        ("us-az-32-2936", "2031-03-10", "to the birthday on 15 Jun 2031: the earlier of the two"),
        ("lm-1", "2035-06-15", "to the birthday on 15 Jun 2035: the later of the two"),
    ] {
        let stands = stands(&chart, &[], &[rule], Some(0), "2026-01-01");
        assert_eq!(stands.keep_through, Some(Day(day(kept))), "{rule}");
        let reason = &stands.rules[0].reason;
        assert!(
            reason.starts_with("7 years after the last treatment, on Sun 10 Mar 2024 (entry 2)"),
            "{reason}"
        );
        assert!(reason.ends_with(which), "{reason}");
    }
}
