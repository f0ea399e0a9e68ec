//! The given cases: every facts document is written down as the entries a practice would have made,
//! and those entries must give the same facts and the same answer again.

use super::*;
use crate::record::coverage::time::place;

const CASES: &str = include_str!("../../../../tests/data/coverage/cases-given.json");

/// Before anything else happened: for what the facts give no time of its own.
const LONG_AGO: &str = "2001-01-01T00:00:00-05:00";

/// Documents that no entries can say: unsigned drafts are no entries of the ledger.
const NOT_IN_ENTRIES: [&str; 1] = ["T51"];

/// Writes a facts document down as entries.
struct Scribe {
    book: Book,
    fresh: u64,
    last_written: String,
}

fn text(value: &Value) -> &str {
    value.as_str().unwrap()
}

fn list(value: &Value) -> impl Iterator<Item = &Value> {
    value.as_array().unwrap().iter()
}

/// The members of an object that are there, with the names that records use.
fn given(value: &Value, names: &[(&str, &str)]) -> Value {
    let mut out = json!({});
    for (from, to) in names {
        if !value[*from].is_null() {
            out[*to] = value[*from].clone();
        }
    }
    out
}

fn same(names: &[&'static str]) -> Vec<(&'static str, &'static str)> {
    names.iter().map(|name| (*name, *name)).collect()
}

fn number(id: &Value) -> u64 {
    text(id).strip_prefix('e').unwrap().parse().unwrap()
}

impl Scribe {
    fn write(document: &Value) -> Book {
        let last_written = text(&document["chart"]["clock"]["last_entry_written_at"]).to_string();
        let mut scribe = Scribe { book: Book::default(), fresh: 2000, last_written };
        scribe.register(document);
        scribe.person(&document["chart"]);
        scribe.agreed(&document["chart"]);
        scribe.state(&document["chart"]);
        for visit in list(&document["chart"]["visits"]) {
            scribe.visit(visit);
        }
        scribe.book
    }

    fn next(&mut self) -> u64 {
        self.fresh += 1;
        self.fresh
    }

    fn put(&mut self, seq: u64, kind: &str, at: &Value, data: Value) -> u64 {
        self.put_written(seq, kind, at, at, data)
    }

    fn put_written(&mut self, seq: u64, kind: &str, at: &Value, written: &Value, data: Value) -> u64 {
        let mut entry = entry(seq, kind, Some(TAG), text(at), text(written), data);
        // The leaf is what the clock is judged by; each document states the newest.
        entry.leaf.written = moment(&self.last_written);
        self.book.chart.push(entry);
        seq
    }

    fn put_fresh(&mut self, kind: &str, at: &Value, data: Value) -> u64 {
        let seq = self.next();
        self.put(seq, kind, at, data)
    }

    fn register(&mut self, document: &Value) {
        let mut put = |kind, at: &Value, data| {
            self.fresh += 1;
            let mut entry = entry(self.fresh, kind, None, text(at), text(at), data);
            entry.leaf.written = moment(&self.last_written);
            self.book.register.push(entry);
            self.fresh
        };
        let rules = json!({"name": "r", "edition": "demo-1", "effective": "2001-01-01", "adopted_by": "P1",
            "document": {"coverage": document["rules"]}});
        put("rules", &json!(LONG_AGO), rules);
        let desk = json!({"code": "DK", "name": "d", "role": "desk", "on_roster_from": "2022-10-03", "initials": "DK"});
        put("staff", &json!(LONG_AGO), desk);
        for one in list(&document["roster"]) {
            let mut line = given(
                one,
                &same(&["role", "sex", "on_roster_from", "on_roster_last_day", "techniques_permitted"]),
            );
            line["licence_last_day"] = one["license_last_day"].clone();
            for key in ["code", "name", "initials"] {
                line[key] = one["practitioner_id"].clone();
            }
            put("staff", &json!(LONG_AGO), line);
        }
        for one in list(&document["chart"]["clock"]["remarks"]) {
            let remark = json!({"state": "opened", "at_station": "desk", "words": one["words"]});
            let seq = put("clock-remark", &one["opened_at"], remark);
            if !one["closed_at"].is_null() {
                let end = json!({"state": "closed", "of": seq, "at_station": "desk", "words": "set right"});
                put("clock-remark", &one["closed_at"], end);
            }
        }
    }

    fn person(&mut self, chart: &Value) {
        let patient = &chart["patient"];
        self.put(
            1,
            "chart-opened",
            &json!(LONG_AGO),
            opened(&patient["birth_date"], &patient["interpreter_language"]),
        );
        let capacity = |state: &str| json!({"state": state, "words": "w"});
        let end = |state: &str, of: u64| json!({"state": state, "of": of, "words": "w"});
        if !patient["lacks_capacity_from"].is_null() {
            let seq = self.put_fresh("capacity", &patient["lacks_capacity_from"], capacity("lacks-capacity"));
            if !patient["lacks_capacity_until"].is_null() {
                self.put_fresh("capacity", &patient["lacks_capacity_until"], end("has-capacity", seq));
            }
        }
        for doubt in list(&chart["capacity_doubts"]) {
            let seq = doubt["sequence_no"].as_u64().unwrap();
            self.put(seq, "capacity", &doubt["raised_at"], capacity("doubt-raised"));
            if !doubt["resolved_at"].is_null() {
                self.put_fresh("capacity", &doubt["resolved_at"], end("doubt-resolved", seq));
            }
        }
        for maker in list(&chart["decision_makers"]) {
            let names = [
                "person_id",
                "basis",
                "authority_on_file",
                "may_consent",
                "authority_starts_at",
                "authority_last_day",
            ];
            let mut line = given(maker, &same(&names));
            (line["name"], line["relation"], line["may_receive_records"]) =
                (json!("n"), json!("r"), json!(false));
            let seq = self.put_fresh("decision-maker", &json!(LONG_AGO), line);
            if !maker["superseded_at"].is_null() {
                let newer = json!({"person_id": "dm-newer", "name": "n", "relation": "r", "basis": "none",
                    "authority_on_file": false, "may_consent": false, "may_receive_records": false, "supersedes": [seq]});
                self.put_fresh("decision-maker", &maker["superseded_at"], newer);
            }
        }
    }

    fn agreed(&mut self, chart: &Value) {
        for consent in list(&chart["consents"]) {
            self.consent(consent);
        }
        for one in list(&chart["corrections"]) {
            let data = json!({"target": number(&one["consent_id"]), "field": format!("/{}", text(&one["field"])),
                "was": one["was"], "is": one["is"], "reason": "slip", "care_affected": false, "patient_told": one["written_at"]});
            self.put(one["sequence_no"].as_u64().unwrap(), "correction", &one["written_at"], data);
        }
        for one in list(&chart["withdrawals"]) {
            let mut data = given(one, &same(&["techniques", "regions", "side"]));
            (data["said_by"], data["how"], data["patient_words"]) =
                (json!({"role": "self"}), json!("words"), json!("no more"));
            let seq = one["sequence_no"].as_u64().unwrap();
            self.put_written(seq, "withdrawal", &one["said_at"], &one["written_at"], data);
        }
        for one in list(&chart["refusals"]) {
            let mut data = given(one, &same(&["techniques", "regions", "side"]));
            data["said_by"] = json!({"role": "self"});
            self.put(one["sequence_no"].as_u64().unwrap(), "standing-refusal", &one["said_at"], data);
        }
    }

    fn consent(&mut self, consent: &Value) {
        let names = [
            "status",
            "form",
            "techniques",
            "regions",
            "excluded_regions",
            "side",
            "practitioners_allowed",
            "explained",
            "interpreter",
            "heard_by",
            "valid_from",
            "valid_until",
            "rest_of_earlier",
        ];
        let mut data = given(consent, &same(&names));
        data["kind"] = json!("treatment");
        data["wording"] = json!("F1");
        data["given_by"] = given(&consent["given_by"], &same(&["role", "person_id"]));
        data["narrower_than"] = list(&consent["narrower_than"]).map(number).collect();
        data["conditions"] =
            list(&consent["conditions"]).map(|c| given(c, &same(&["kind", "values", "words"]))).collect();
        let limits = list(&consent["segment_limits"]);
        data["segment_limits"] =
            limits.map(|l| given(l, &same(&["techniques", "highest_segment", "lowest_segment"]))).collect();
        let event = &consent["ends_on_event"];
        if !event.is_null() {
            data["ends_on_event"] = event["event"].clone();
        }
        let seq = number(&consent["consent_id"]);
        self.put_written(seq, "consent", &consent["given_at"], &consent["written_at"], data);
        if !event.is_null() && !event["reached_at"].is_null() {
            let end = json!({"consents": [seq], "event": event["event"]});
            self.put_fresh("end-event", &event["reached_at"], end);
        }
    }

    fn state(&mut self, chart: &Value) {
        let mut state = json!({"status": chart["state"]["status"]});
        if chart["state"]["status"] == "closed-continue-at" {
            state["continue_at"] = json!("PM-0113");
        }
        self.put_fresh("chart-state", &chart["state"]["since"], state);
        let review = &chart["allergy_review"];
        self.put_fresh(
            "allergy-review",
            &json!(LONG_AGO),
            json!({"reviewed_on": review["reviewed_on"], "substances": review["substances"]}),
        );
        for one in list(&chart["alerts"]) {
            let data = given(one, &same(&["kind", "from", "until", "region"]));
            self.put(number(&one["alert_id"]), "alert", &json!(LONG_AGO), data);
        }
        for one in list(&chart["reactions"]) {
            let mut data = given(one, &same(&["onset_at", "technique", "region", "severity"]));
            (data["what"], data["action"]) = (json!("sore"), json!("advice"));
            let seq = self.put(one["sequence_no"].as_u64().unwrap(), "reaction", &one["onset_at"], data);
            if !one["closed_at"].is_null() {
                self.put_fresh(
                    "reaction-closed",
                    &one["closed_at"],
                    json!({"reaction": seq, "outcome": "gone", "closed_with": "call"}),
                );
            }
        }
        for one in list(&chart["changes"]) {
            let mut data = given(one, &same(&["kind", "happened_on"]));
            data["words"] = json!("told");
            self.put(one["sequence_no"].as_u64().unwrap(), "change", &one["noted_at"], data);
        }
        for one in list(&chart["holds"]) {
            let data =
                json!({"reason": "r", "from_whom": "f", "scope": {"kind": "chart"}, "placed_by": "P1"});
            let seq = self.put(number(&one["hold_id"]), "hold", &one["placed_at"], data);
            if !one["lifted_at"].is_null() {
                self.put_fresh(
                    "hold-lifted",
                    &one["lifted_at"],
                    json!({"hold": seq, "by": "P1", "words": "w"}),
                );
            }
        }
        let emergency = &chart["emergency"];
        if !emergency.is_null() {
            let seq = self.put_fresh(
                "emergency",
                &emergency["declared_at"],
                json!({"state": "declared", "words": "w"}),
            );
            if !emergency["ended_at"].is_null() {
                self.put_fresh(
                    "emergency",
                    &emergency["ended_at"],
                    json!({"state": "ended", "of": seq, "words": "w"}),
                );
            }
        }
    }

    fn visit(&mut self, visit: &Value) {
        let id = number(&visit["visit_id"]);
        self.put(id, "visit-opened", &visit["opened_at"], json!({"room": "room 1", "practitioners": ["P1"]}));
        if !visit["closed_at"].is_null() {
            self.put_fresh("visit-closed", &visit["closed_at"], json!({"visit": id, "ended": "as-planned"}));
        }
        let seq = |one: &Value| one["sequence_no"].as_u64().unwrap();
        let identity = &visit["identity_confirmed"];
        if !identity.is_null() {
            let how = json!({"at": identity["at"], "identifiers": identity["identifiers"]});
            let data = json!({"visit": id, "identity_confirmed": how});
            self.put(seq(identity), "identity-confirmed", &identity["at"], data);
        }
        for one in list(&visit["own_answers"]) {
            self.put(seq(one), "own-answer", &one["at"], json!({"visit": id, "answer": one["answer"]}));
        }
        for one in list(&visit["asked"]) {
            let mut data = given(
                one,
                &same(&["technique", "region", "side", "segments", "asked_by", "answer", "limit_words"]),
            );
            data["visit"] = json!(id);
            self.put(seq(one), "asked", &one["at"], data);
        }
        for one in list(&visit["pauses"]) {
            let data = json!({"visit": id, "kind": one["kind"], "reason": "needed a rest"});
            let pause = self.put(seq(one), "pause", &one["at"], data);
            if !one["resumed_yes_at"].is_null() {
                let on = json!({"visit": id, "kind": "resumed", "of": pause, "reason": "rested"});
                self.put_fresh("pause", &one["resumed_yes_at"], on);
            }
        }
        for one in list(&visit["screens"]) {
            self.screen(id, one);
        }
        for one in list(&visit["measures"]) {
            let measured = json!({"kind": one["kind"], "value": one["value_mm"], "unit": "mm"});
            self.put(seq(one), "measure", &one["at"], json!({"visit": id, "measures": [measured]}));
        }
        for one in list(&visit["conditions_met"]) {
            let mut data = given(one, &same(&["kind", "value", "from", "until"]));
            data["visit"] = json!(id);
            self.put(seq(one), "condition-met", &one["from"], data);
        }
        for one in list(&visit["written_reasons"]) {
            let data = json!({"visit": id, "alert": number(&one["alert_id"]), "words": one["words"]});
            self.put(seq(one), "written-reason", &one["at"], data);
        }
    }

    fn screen(&mut self, visit: u64, screen: &Value) {
        let answers: Vec<Value> = screen["answers"]
            .as_object()
            .unwrap()
            .iter()
            .map(|(item, answer)| {
                let mut one = given(answer, &same(&["answer", "words", "decision"]));
                one["item"] = json!(item);
                one
            })
            .collect();
        let seq = screen["sequence_no"].as_u64().unwrap();
        let data = json!({"visit": visit, "screen": screen["screen"], "answers": answers, "done_by": "P1"});
        self.put(seq, "screen", &screen["done_at"], data);
        for (item, answer) in
            screen["answers"].as_object().unwrap().iter().filter(|(_, a)| !a["closed_at"].is_null())
        {
            let closed = json!({"screen": seq, "item": item, "words": "seen"});
            self.put_fresh("screen-item-closed", &answer["closed_at"], closed);
        }
    }
}

/// A base document as entries, and its question.
pub fn base(name: &str) -> (Book, Ask) {
    let document = with_entry_ids(&bases()[name]);
    (Scribe::write(&document), ask_of(&document))
}

/// Gives everything the id that its entry has.
fn with_entry_ids(document: &Value) -> Value {
    let chart = &document["chart"];
    let mut all = document.to_string();
    let mut rename = |old: &Value, seq: u64| all = all.replace(&format!("{old}"), &format!("\"e{seq}\""));
    let numbered = [
        ("consents", "consent_id"),
        ("corrections", "correction_id"),
        ("withdrawals", "withdrawal_id"),
        ("refusals", "refusal_id"),
        ("visits", "visit_id"),
        ("reactions", "reaction_id"),
        ("changes", "change_id"),
    ];
    for (key, id) in numbered {
        list(&chart[key]).for_each(|one| rename(&one[id], one["sequence_no"].as_u64().unwrap()));
    }
    let mut fresh = 5000;
    for (key, id) in [("alerts", "alert_id"), ("holds", "hold_id")] {
        for one in list(&chart[key]) {
            fresh += 1;
            rename(&one[id], fresh);
        }
    }
    rename(&chart["chart_id"], 1);
    serde_json::from_str(&all.replace("\"chart_id\":\"e1\"", &format!("\"chart_id\":\"{TAG}\""))).unwrap()
}

/// Applies the operations add, replace and remove of RFC 6902.
fn apply(document: &mut Value, patch: &Value) {
    for operation in list(patch) {
        let (parent, last) = text(&operation["path"]).rsplit_once('/').unwrap();
        let value = operation["value"].clone();
        match (text(&operation["op"]), document.pointer_mut(parent).unwrap()) {
            ("add", Value::Array(list)) if last == "-" => list.push(value),
            ("add", Value::Array(list)) => list.insert(last.parse().unwrap(), value),
            ("replace", Value::Array(list)) => list[last.parse::<usize>().unwrap()] = value,
            ("remove", Value::Array(list)) => drop(list.remove(last.parse().unwrap())),
            ("remove", Value::Object(map)) => drop(map.shift_remove(last).unwrap()),
            (_, Value::Object(map)) => drop(map.insert(last.to_string(), value)),
            other => panic!("{other:?}"),
        }
    }
}

/// The order in which lists of the facts stand says nothing.
fn sorted(mut facts: Facts) -> Facts {
    let chart = &mut facts.chart;
    chart.consents.sort_by_key(|c| place(c.given_at, c.sequence_no));
    chart.visits.sort_by_key(|v| v.sequence_no);
    for visit in &mut chart.visits {
        // The same identifier twice is one.
        visit.identity_confirmed.iter_mut().for_each(|c| c.identifiers.dedup());
        visit.asked.sort_by_key(|a| a.sequence_no);
        visit.screens.sort_by_key(|s| s.sequence_no);
        visit.measures.sort_by_key(|m| m.sequence_no);
        visit.conditions_met.sort_by_key(|c| c.sequence_no);
        visit.own_answers.sort_by_key(|o| o.sequence_no);
        visit.pauses.sort_by_key(|p| p.sequence_no);
    }
    chart.withdrawals.sort_by_key(|w| w.sequence_no);
    facts
}

/// Where two documents part, if they do.
fn parting(at: &str, wanted: &Value, found: &Value) -> Vec<String> {
    match (wanted, found) {
        (Value::Object(a), Value::Object(b)) if a.keys().eq(b.keys()) => {
            a.iter().flat_map(|(key, value)| parting(&format!("{at}/{key}"), value, &b[key])).collect()
        }
        (Value::Array(a), Value::Array(b)) if a.len() == b.len() => {
            a.iter().zip(b).enumerate().flat_map(|(i, (a, b))| parting(&format!("{at}/{i}"), a, b)).collect()
        }
        _ if wanted == found => Vec::new(),
        _ => vec![format!("{at}: {wanted} | {found}")],
    }
}

fn differences(name: &str, document: &Value) -> Vec<String> {
    let document = with_entry_ids(document);
    let wanted = Facts::from_json(&document.to_string()).unwrap_or_else(|e| panic!("{name}: {e}"));
    let mut found =
        Scribe::write(&document).facts(&ask_of(&document)).unwrap_or_else(|e| panic!("{name}: {e}"));
    found.check().unwrap_or_else(|e| panic!("{name}: {e}"));
    // Whoever supersedes is listed too, without any authority.
    found.chart.decision_makers.retain(|m| m.person_id != "dm-newer");
    let (mut wanted, found) = (sorted(wanted), sorted(found));
    // A state that comes later than the moment asked about is not there yet.
    if wanted.chart.state.since > wanted.now {
        wanted.chart.state = found.chart.state.clone();
    }
    let value = |answer: Answer| serde_json::to_value(answer).unwrap();
    let mut all = parting(name, &value(coverage::answer(&wanted)), &value(coverage::answer(&found)));
    all.extend(parting(
        name,
        &serde_json::to_value(&wanted).unwrap(),
        &serde_json::to_value(&found).unwrap(),
    ));
    all
}

#[test]
fn the_base_documents_come_back_from_their_entries() {
    for (name, document) in bases().as_object().unwrap() {
        assert_eq!(differences(name, document), Vec::<String>::new());
    }
}

#[test]
fn every_given_case_is_answered_the_same_from_entries() {
    let (bases, cases): (Value, Value) = (bases(), serde_json::from_str(CASES).unwrap());
    let (mut count, mut differing) = (0, Vec::new());
    for case in list(&cases).filter(|case| !NOT_IN_ENTRIES.contains(&text(&case["id"]))) {
        let mut document = bases[text(&case["base"])].clone();
        apply(&mut document, &case["patch"]);
        differing.extend(differences(text(&case["id"]), &document));
        count += 1;
    }
    assert!(differing.is_empty(), "{differing:#?}");
    assert!(count > 150, "{count}");
}
