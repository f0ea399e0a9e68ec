//! One ordinary visit as entries: opening, consent where one is due, screen, asking, measures,
//! note and closing.

use super::people::Course;
use super::words::{ASIDE, CHANGED, PLANS, SAID, Topic};
use super::{Dice, Plan, course_words, event};
use crate::demo::Event;
use crate::record::envelope::{Happened, RefWhy};
use crate::record::moment::{Date, Moment};
use crate::record::vocab::{Segment, Side, Technique};
use serde_json::{Map, Value, json};

/// What is carried from visit to visit of a course, so that numbers move like a person's.
pub(super) struct State {
    pain: i64,
    /// Two movements or sizes, in the unit of the topic.
    range: [i64; 2],
    /// How far the first of them may grow.
    most: i64,
    pressure: (i64, i64),
    last_changed: usize,
}

impl State {
    pub fn new(course: &Course) -> State {
        let range = match course.topic {
            Topic::Neck | Topic::NeckThrust | Topic::SeatedNeck => [58, 63],
            Topic::UpperBack => [38, 41],
            Topic::LowBack => [44, 71],
            Topic::Shoulder => [134, 148],
            Topic::Hip => [28, 36],
            Topic::Jaw => [39, 9],
            Topic::Wrist => [52, 55],
        };
        let most = range[0] + if course.topic == Topic::Jaw { 5 } else { 14 };
        State { pain: course.pain, range, most, pressure: (124, 78), last_changed: usize::MAX }
    }

    /// Moves everything a little; never the same numbers twice running.
    fn step(&mut self, dice: &mut Dice) {
        self.pain = (self.pain + dice.between(-2, 1)).clamp(1, 7);
        let grown = self.range[0] >= self.most;
        for range in &mut self.range {
            *range += match dice.between(0, 3) {
                _ if grown => -2,
                0 => -1,
                1 => 1,
                _ => 2,
            };
        }
        let up = dice.between(1, 6);
        let sign = if self.pressure.0 > 128 { -1 } else { 1 };
        self.pressure = (self.pressure.0 + sign * up, self.pressure.1 + sign * (up / 2));
    }
}

/// Last valid day of a consent of twelve months from `day`: the day before the same day a year on.
pub(super) fn valid_until(day: Date) -> Date {
    let year_on = day.checked_add(jiff::Span::new().years(1)).unwrap_or(day);
    if year_on.day() == day.day() { year_on.yesterday().unwrap_or(year_on) } else { year_on }
}

/// The entries of one visit.
pub(super) fn visit(plan: &Plan<'_>, state: &mut State, dice: &mut Dice) -> Vec<Event> {
    state.step(dice);
    let words = course_words(plan.course);
    let complaint = *dice.pick(words.complaints);
    let mut all = vec![opened(plan, complaint)];
    if plan.sign {
        all.push(consent(plan, dice));
    }
    let thrust = plan.course.thrust && !plan.nth.is_multiple_of(2);
    let joint = words.joint.map(|(technique, region, segments)| {
        let technique = match (thrust, technique) {
            (true, _) => Technique::Thrust,
            (false, Technique::Thrust) => Technique::Mobilization,
            (false, other) => other,
        };
        (technique, region, *dice.pick(segments))
    });
    if plan.course.topic == Topic::NeckThrust {
        all.push(neck_screen(plan, dice));
    }
    let before = measures(plan.course.topic, state, true);
    let measured = json!({ "visit": tag(plan), "phase": "before", "measures": before });
    all.push(by_practitioner(plan, plan.at(6), "measure", measured));
    if let (true, Some((_, region, segment))) = (thrust, joint) {
        all.push(asked(plan, region.word(), segment, words.side, dice));
    }
    let after_pain = (state.pain - dice.between(0, 2)).max(0);
    let drawn = Drawn { complaint, joint, before, after_pain, changed: changed(state, dice), thrust };
    all.push(note(plan, state, drawn, dice));
    let closing = json!({ "visit": tag(plan), "ended": "as-planned" });
    all.push(by_practitioner(plan, plan.at(plan.length + 2), "visit-closed", closing));
    all
}

fn tag(plan: &Plan<'_>) -> String {
    format!("@{}", plan.visit())
}

fn by_practitioner(plan: &Plan<'_>, at: Moment, kind: &str, data: Value) -> Event {
    event(at, plan.course.by, plan.room, plan.course.chart, kind, data)
}

fn named(mut event: Event, name: String) -> Event {
    event.name = Some(name);
    event
}

fn opened(plan: &Plan<'_>, complaint: &str) -> Event {
    let mut data = json!({
        "room": plan.room,
        "practitioners": [plan.course.by],
        "identity_confirmed": { "at": plan.at(-3), "identifiers": ["full-name", "birth-date"] },
        "reason": complaint,
    });
    if plan.sign && plan.nth == 0 {
        data["first_visit"] = true.into();
    }
    if plan.course.interpreter {
        data["present"] = json!([{ "name": "Interpreter no. 5521", "part": "interpreter, by telephone" }]);
    }
    named(event(plan.at(-3), "HL", "desk", plan.course.chart, "visit-opened", data), plan.visit())
}

fn consent(plan: &Plan<'_>, dice: &mut Dice) -> Event {
    const QUESTIONS: [&str; 5] = [
        "How often must I come? - As seldom as it takes.",
        "Will it hurt? - Sore for a day, perhaps. Say stop at any time.",
        "None.",
        "May I work after? - Yes, lightly.",
        "What if it does not help? - Then we stop and I write to your doctor.",
    ];
    let words = course_words(plan.course);
    let thrust = words.techniques.contains(&Technique::Thrust);
    let mut risks = vec!["soreness for a day or two", "stiffness", "tiredness"];
    if thrust {
        risks.extend(["rib strain", "disc or nerve irritation"]);
    }
    if plan.course.topic == Topic::NeckThrust {
        risks.extend(["headache", "very rarely an artery in the neck, and stroke"]);
    }
    let f2 = jiff::civil::date(2023, 9, 11);
    let data = json!({
        "kind": "treatment", "status": "signed", "form": "written-signed",
        "wording": if plan.day < f2 { "F1" } else { "F2" },
        "techniques": words.techniques, "regions": words.regions, "side": "both",
        "practitioners_allowed": { "kind": "any" },
        "explained": {
            "by": plan.course.by, "at": plan.at(1),
            "procedures": if thrust { "Looking, pressing, gliding, and a quick small thrust when asked that day." }
                else { "Looking, pressing and stretching." },
            "alternatives": "Exercises alone, the doctor, waiting, doing nothing.",
            "risks": risks, "questions": dice.pick(&QUESTIONS), "answered": true,
        },
        "given_by": { "role": "self" },
        "valid_from": plan.day.to_string(), "valid_until": valid_until(plan.day).to_string(),
        "rest_of_earlier": "not-applicable", "copy_given": true, "visit": tag(plan),
    });
    named(by_practitioner(plan, plan.at(4), "consent", data), plan.consent.clone())
}

fn neck_screen(plan: &Plan<'_>, dice: &mut Dice) -> Event {
    let rules = crate::record::tables::toml_json::read(crate::demo::RULES).unwrap_or_default();
    let items = rules["coverage"]["screen_items"]["neck"].as_object().cloned().unwrap_or_else(Map::new);
    let answers: Vec<Value> = items.keys().map(|item| json!({ "item": item, "answer": "no" })).collect();
    let remark = *dice.pick(&[
        "Read out every item; nothing new.",
        "Asked slowly, item by item.",
        "No dizziness on the gates, asked twice.",
        "All no, as last time; asked all the same.",
    ]);
    let data = json!({
        "visit": tag(plan), "screen": "neck", "answers": answers, "how": "in-person",
        "done_by": plan.course.by, "words": remark,
    });
    named(by_practitioner(plan, plan.at(6), "screen", data), format!("fs-{}", plan.no))
}

fn asked(plan: &Plan<'_>, region: &str, segment: Segment, side: Side, dice: &mut Dice) -> Event {
    let said = *dice.pick(&["\"Yes.\"", "\"Go on.\"", "\"Yes, on three.\"", "\"All right, yes.\""]);
    let data = json!({
        "visit": tag(plan), "technique": "thrust", "region": region, "side": side,
        "segments": [segment], "asked_by": plan.course.by, "answer": "yes", "words": said,
    });
    named(by_practitioner(plan, plan.at(9), "asked", data), format!("fa-{}", plan.no))
}

fn changed(state: &mut State, dice: &mut Dice) -> String {
    let mut index = dice.between(0, CHANGED.len() as i64 - 1) as usize;
    if index == state.last_changed {
        index = (index + 1) % CHANGED.len();
    }
    state.last_changed = index;
    format!("{} {}", CHANGED[index], dice.pick(ASIDE))
}

/// The measures of a topic; after treatment the first movement has gained a little.
fn measures(topic: Topic, state: &State, before: bool) -> Vec<Value> {
    let [a, b] = state.range;
    let gain = if before { 0 } else { 2 + (a % 4) };
    let two = |kind: &str, unit: &str| {
        vec![
            json!({ "kind": kind, "value": a + gain, "unit": unit, "side": "right" }),
            json!({ "kind": kind, "value": b + gain / 2, "unit": unit, "side": "left" }),
        ]
    };
    let other = |name: &str| {
        vec![
            json!({ "kind": "other-movement", "value": a + gain, "unit": "deg", "side": "right", "name": name }),
        ]
    };
    let mut all = match topic {
        Topic::Neck | Topic::NeckThrust => two("neck-rotation", "deg"),
        Topic::SeatedNeck => Vec::new(),
        Topic::UpperBack => other("trunk rotation, seated"),
        Topic::LowBack => vec![
            json!({ "kind": "low-back-flexion", "value": a + gain, "unit": "deg" }),
            json!({ "kind": "straight-leg-raise", "value": b, "unit": "deg", "side": "right" }),
        ],
        Topic::Shoulder => two("shoulder-abduction", "deg"),
        Topic::Hip => other("hip turning inwards"),
        Topic::Jaw => {
            vec![json!({ "kind": "mouth-opening-unassisted", "value": a + gain.min(3), "unit": "mm" })]
        }
        Topic::Wrist => other("wrist extension"),
    };
    if before && matches!(topic, Topic::NeckThrust | Topic::SeatedNeck) {
        let (upper, lower) = state.pressure;
        all.push(json!({
            "kind": "blood-pressure", "value": upper, "second_value": lower, "unit": "mmHg", "position": "seated",
        }));
    }
    if before {
        all.push(json!({ "kind": "pain-now", "value": state.pain, "unit": "of-10" }));
    }
    all
}

/// What was drawn for a visit.
struct Drawn {
    complaint: &'static str,
    joint: Option<(Technique, crate::record::vocab::Region, Segment)>,
    before: Vec<Value>,
    after_pain: i64,
    changed: String,
    thrust: bool,
}

fn procedures(plan: &Plan<'_>, drawn: &Drawn, dice: &mut Dice) -> Vec<Value> {
    let words = course_words(plan.course);
    let position = *dice.pick(words.positions);
    let consent = format!("@{}", plan.consent);
    let mut all = vec![json!({
        "no": 1, "at": plan.at(10 + i64::from(drawn.thrust)), "technique": "soft-tissue", "region": words.region,
        "structure": words.structure, "side": words.side, "seconds": dice.between(9, 36) * 10,
        "position": position, "done_by": plan.course.by,
        "response": { "word": dice.pick(&["tolerated", "relieved", "relieved", "sore"]), "words": dice.pick(SAID) },
        "consent": consent,
    })];
    if let Some((technique, region, segment)) = drawn.joint {
        let mut line = json!({
            "no": 2, "at": plan.at(18 + dice.between(0, 3)), "technique": technique, "region": region,
            "segments": [segment], "side": words.side, "position": dice.pick(&["face-up", "side-lying"]),
            "done_by": plan.course.by,
            "response": { "word": dice.pick(&["tolerated", "relieved"]), "pain": drawn.after_pain },
            "consent": consent,
        });
        if drawn.thrust {
            line["asked"] = format!("@fa-{}", plan.no).into();
            line["cavitation_heard"] = (dice.between(0, 2) > 0).into();
        } else {
            line["grade"] = (*dice.pick(&["II", "III", "III", "IV"])).into();
        }
        all.push(line);
    }
    all
}

fn findings(plan: &Plan<'_>, drawn: &Drawn, dice: &mut Dice) -> Vec<Value> {
    let words = course_words(plan.course);
    let mut all = vec![json!({
        "no": 1, "region": words.region, "kind": dice.pick(&["tone", "tenderness"]), "side": words.side,
        "words": dice.pick(words.findings),
    })];
    if let Some((_, region, segment)) = drawn.joint {
        let how = dice.pick(&[
            "Short at the end.",
            "Stiff, no pain.",
            "Stiff, mild pain.",
            "Better than last time.",
        ]);
        all.push(json!({
            "no": 2, "region": region, "segment": segment, "kind": "motion-restriction", "side": words.side,
            "words": how,
        }));
    }
    all
}

fn note_measures(plan: &Plan<'_>, state: &State, drawn: &Drawn) -> Vec<Value> {
    let line = |phase: &str, measured: &Value| json!({ "phase": phase, "measured": measured });
    let mut all: Vec<Value> = drawn.before.iter().map(|m| line("before", m)).collect();
    all.extend(measures(plan.course.topic, state, false).iter().map(|m| line("after", m)));
    all.push(line("after", &json!({ "kind": "pain-now", "value": drawn.after_pain, "unit": "of-10" })));
    all
}

fn note(plan: &Plan<'_>, state: &State, drawn: Drawn, dice: &mut Dice) -> Event {
    let words = course_words(plan.course);
    let first = plan.nth == 0 && plan.sign;
    let mut data = json!({
        "visit": tag(plan), "sort": if first { "first" } else { "later" }, "practitioners": [plan.course.by],
        "changed_since_last": if first { "First visit.".to_string() } else { drawn.changed.clone() },
        "complaints": [{
            "no": 1, "words": drawn.complaint, "region": words.region, "side": words.side, "pain_now": state.pain,
            "pain_worst": (state.pain + dice.between(0, 2)).min(10),
        }],
        "findings": findings(plan, &drawn, dice),
        "assessment": {
            "diagnoses": [{ "words": words.diagnosis, "basis": "told and felt, as above", "region": words.region }],
            "change_since_last": dice.pick(&["better", "a little better", "steady", "up and down"]),
            "tolerance": dice.pick(&["good", "good", "fair, sore"]),
        },
        "agreed": { "consents": [format!("@{}", plan.consent)] },
        "procedures": procedures(plan, &drawn, dice),
        "measures": note_measures(plan, state, &drawn),
        "advice": { "words": dice.pick(words.advice), "watch_for": words.watch },
        "plan": { "next_step": dice.pick(PLANS) },
    });
    if drawn.thrust {
        data["agreed"]["asked"] = json!([format!("@fa-{}", plan.no)]);
    }
    if plan.course.topic == Topic::NeckThrust {
        data["screens"] = json!([format!("@fs-{}", plan.no)]);
    }
    if plan.course.interpreter {
        data["agreed"]["words"] = "All through interpreter 5521.".into();
    }
    if first {
        data["history"] = json!({ "illness": "None told.", "medicines": "None regular." });
        data["plan"]["goals"] =
            json!([{ "words": "A working day at 2 of 10 or less", "measure": "pain now", "target": "2" }]);
    }
    let mut event = by_practitioner(plan, plan.at(plan.length + 2), "visit", data);
    event.happened = Some(Happened { start: plan.at(0), end: Some(plan.at(plan.length)), about: false });
    event.refers = vec![(tag(plan), RefWhy::Visit)];
    named(event, format!("fn-{}", plan.no))
}
