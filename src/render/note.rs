//! The visit note in its four parts: told, found, thought, done and planned.

use super::rows::Row;
use super::words::{self, NOT_RECORDED, capital, spaced};
use crate::record::kinds::Given;
use crate::record::kinds::finding::Finding;
use crate::record::kinds::procedure::{Deferred, Procedure};
use crate::record::kinds::visit::{
    Adverse, Advice, Assessment, Complaint, History, NoteMeasure, Plan, Visit,
};

/// Head of the note.
pub const HEAD: &str = "The note";
/// Subjective.
pub const TOLD: &str = "S (subjective) - what the patient told";
/// Objective.
pub const FOUND: &str = "O (objective) - what was found and measured";
/// Assessment.
pub const THOUGHT: &str = "A (assessment) - what the practitioner made of it";
/// Procedures and plan.
pub const DONE: &str = "P (procedures and plan) - what was agreed, done, advised and planned";
/// What belongs to no part.
pub const END: &str = "End of the note";

/// Collects rows under a part.
struct Rows {
    rows: Vec<Row>,
    part: &'static str,
}

impl Rows {
    fn put(&mut self, label: &str, text: impl Into<String>) {
        self.rows.push(Row { part: self.part, label: label.to_string(), text: text.into(), depth: 0 });
    }
    fn sub(&mut self, label: &str, text: impl Into<String>) {
        self.rows.push(Row { part: self.part, label: label.to_string(), text: text.into(), depth: 1 });
    }
    fn maybe(&mut self, label: &str, text: Option<&String>) {
        if let Some(text) = text {
            self.put(label, text.as_str());
        }
    }
}

/// The note as rows.
pub fn rows(visit: &Visit) -> Vec<Row> {
    let mut out = Rows { rows: Vec::new(), part: HEAD };
    out.put("Sort of visit", sort(visit));
    let who = if visit.practitioners.is_empty() {
        NOT_RECORDED.to_string()
    } else {
        visit.practitioners.join(", ")
    };
    out.put("Practitioners", who);
    told(&mut out, visit);
    found(&mut out, visit);
    thought(&mut out, &visit.assessment);
    done(&mut out, visit);
    end(&mut out, visit);
    out.rows
}

fn sort(visit: &Visit) -> &'static str {
    match visit.sort.word() {
        "first" => "first visit",
        "re-examination" => "re-examination",
        _ => "later visit",
    }
}

fn told(out: &mut Rows, visit: &Visit) {
    out.part = TOLD;
    out.put("Changed since last time", words::given(&visit.changed_since_last));
    if visit.complaints.is_empty() {
        out.put("Complaint", NOT_RECORDED);
    }
    for complaint in &visit.complaints {
        complaint_rows(out, complaint);
    }
    if let Some(history) = &visit.history {
        history_rows(out, history);
    }
    out.maybe("Medicines changed", visit.medicines_changed.as_ref());
    out.maybe("Allergies changed", visit.allergy_changed.as_ref());
    match (&visit.screens_not_done_because, visit.screens.is_empty()) {
        (_, false) => out.put("Screens relied on", words::numbers(&visit.screens)),
        (Some(reason), true) => out.put("Screens", words::because(reason)),
        (None, true) => out.put("Screens", NOT_RECORDED),
    }
}

fn complaint_rows(out: &mut Rows, complaint: &Complaint) {
    let mut place: Vec<String> = complaint.region.map(words::region).into_iter().collect();
    place.extend(complaint.side.map(|side| words::side(side).to_string()));
    place.extend(complaint.site.clone());
    let place = if place.is_empty() { String::new() } else { format!(" ({})", place.join(", ")) };
    let label = format!("Complaint {}", complaint.no);
    out.put(&label, format!("{}{place}", words::or_not_recorded(&complaint.words)));
    let pain = match &complaint.pain_now {
        Given::Value(number) => format!("{number} of 10"),
        Given::Absent(absent) => words::because(&absent.because),
    };
    let worst = complaint.pain_worst.map(|worst| format!("; worst since last time {worst} of 10"));
    out.sub("Pain now", pain + &worst.unwrap_or_default());
    let parts = [
        ("quality", &complaint.quality),
        ("how often", &complaint.frequency),
        ("spreads to", &complaint.radiation),
        ("began", &complaint.onset),
        ("cause", &complaint.mechanism),
        ("worse with", &complaint.aggravating),
        ("better with", &complaint.relieving),
        ("earlier care", &complaint.earlier_care),
    ];
    for (label, text) in parts {
        if let Some(text) = text {
            out.sub(&capital(label), text.as_str());
        }
    }
}

fn history_rows(out: &mut Rows, history: &History) {
    out.put("History", "");
    let parts = [
        ("Illness, operations", &history.illness),
        ("Injuries", &history.injuries),
        ("Medicines", &history.medicines),
        ("Family", &history.family),
        ("Work, sport, habits", &history.social),
        ("Earlier care", &history.earlier_care),
    ];
    for (label, text) in parts {
        if let Some(text) = text {
            out.sub(label, text.as_str());
        }
    }
    if !history.sources.is_empty() {
        out.sub("Taken from", words::numbers(&history.sources));
    }
}

fn found(out: &mut Rows, visit: &Visit) {
    out.part = FOUND;
    match &visit.findings {
        Given::Value(findings) if findings.is_empty() => out.put("Findings", NOT_RECORDED),
        Given::Value(findings) => findings
            .iter()
            .for_each(|finding| out.put(&format!("Finding {}", finding.no), finding_words(finding))),
        Given::Absent(absent) => out.put("Findings", words::because(&absent.because)),
    }
    measures(out, visit);
}

fn finding_words(finding: &Finding) -> String {
    let mut place = vec![words::region(finding.region)];
    place.extend(finding.structure.clone());
    place.extend(finding.segment.map(words::segment));
    place.extend(finding.level.as_ref().map(|level| format!("level {level}")));
    place.extend(finding.side.map(|side| words::side(side).to_string()));
    let mut what = vec![spaced(finding.kind.word())];
    what.extend(finding.grade.map(|grade| format!("grade {grade}")));
    what.extend(
        finding.measured.as_ref().map(|measured| {
            format!("{} {}", words::measured_what(measured), words::measured_value(measured))
        }),
    );
    what.extend(finding.result.map(|result| result.word().to_string()));
    what.extend(finding.words.clone());
    what.extend(finding.refers_to.as_ref().map(|to| format!("refers to {to}")));
    what.extend(finding.method.as_ref().map(|method| format!("by {method}")));
    what.extend(finding.instrument.as_ref().map(|with| format!("with {with}")));
    what.extend(finding.position.as_deref().map(spaced));
    format!("{}: {}", capital(&place.join(", ")), what.join(", "))
}

/// One line for each measure, with all its values in time order.
fn measures(out: &mut Rows, visit: &Visit) {
    let mut told: Vec<(String, Vec<String>)> = Vec::new();
    for measure in &visit.measures {
        let (what, value) = (words::measured_what(&measure.measured), measure_words(measure));
        match told.iter_mut().find(|(known, _)| *known == what) {
            Some((_, values)) => values.push(value),
            None => told.push((what, vec![value])),
        }
    }
    for (what, values) in &told {
        out.put(&capital(what), values.join("; "));
    }
    if let Some(reason) = &visit.reassessment_not_done_because {
        out.put("Same measure before and after", words::because(reason));
    } else if told.is_empty() {
        out.put("Measures before and after", NOT_RECORDED);
    }
}

fn measure_words(measure: &NoteMeasure) -> String {
    let at = measure.at.map(|at| format!(" ({})", at.clock())).unwrap_or_default();
    format!("{} {}{at}", measure.phase.word(), words::measured_value(&measure.measured))
}

fn thought(out: &mut Rows, assessment: &Given<Assessment>) {
    out.part = THOUGHT;
    let assessment = match assessment {
        Given::Value(assessment) => assessment,
        Given::Absent(absent) => return out.put("Assessment", words::because(&absent.because)),
    };
    if assessment.diagnoses.is_empty() {
        out.put("Working diagnosis", NOT_RECORDED);
    }
    for diagnosis in &assessment.diagnoses {
        let mut place: Vec<String> = diagnosis.region.map(words::region).into_iter().collect();
        place.extend(diagnosis.side.map(|side| words::side(side).to_string()));
        let place = if place.is_empty() { String::new() } else { format!(" ({})", place.join(", ")) };
        out.put("Working diagnosis", format!("{}{place}", words::or_not_recorded(&diagnosis.words)));
        out.sub("Rests on", words::or_not_recorded(&diagnosis.basis));
    }
    for considered in &assessment.considered {
        let ruled = match &considered.ruled_out_by {
            Some(by) => format!("{} - ruled out by: {by}", considered.what),
            None => format!("{} - still open", considered.what),
        };
        out.put("Also considered", ruled);
    }
    out.maybe("Against last time", assessment.change_since_last.as_ref());
    out.maybe("Tolerance", assessment.tolerance.as_ref());
    out.maybe("Remark on risk", assessment.risk_remark.as_ref());
}

fn done(out: &mut Rows, visit: &Visit) {
    out.part = DONE;
    let agreed = &visit.agreed;
    let mut rests: Vec<String> = Vec::new();
    for (what, seqs) in
        [("consent", &agreed.consents), ("asked today", &agreed.asked), ("answers kept", &agreed.coverage)]
    {
        if !seqs.is_empty() {
            rests.push(format!("{what} {}", words::numbers(seqs)));
        }
    }
    rests.extend(agreed.words.clone());
    out.put("Agreed", words::or_not_recorded(&rests.join("; ")));
    if visit.procedures.is_empty() && visit.deferred.is_empty() {
        out.put("Procedures", NOT_RECORDED);
    }
    for procedure in &visit.procedures {
        procedure_rows(out, procedure);
    }
    for deferred in &visit.deferred {
        out.put("Not done", deferred_words(deferred));
    }
    for check in &visit.checks {
        let mut parts = vec![spaced(check.question.word())];
        parts.extend(check.number.map(|number| format!("{number} of 10")));
        parts.extend(check.words.as_ref().map(|text| format!("\"{text}\"")));
        parts.extend(check.action.as_ref().map(|action| format!("then: {action}")));
        out.put(&format!("Check at {}", check.at.clock()), parts.join(", "));
    }
    for adverse in &visit.adverse {
        adverse_rows(out, adverse);
    }
    advice_rows(out, &visit.advice);
    plan_rows(out, &visit.plan);
}

fn procedure_rows(out: &mut Rows, procedure: &Procedure) {
    let mut place = vec![words::region(procedure.region)];
    place.extend(procedure.structure.clone());
    if !procedure.segments.is_empty() {
        place.push(words::list(&procedure.segments, words::segment));
    }
    place.extend(procedure.span.as_ref().map(|span| format!("from {} to {}", span.from, span.to)));
    place.extend(procedure.side.map(|side| words::side(side).to_string()));
    let what = format!(
        "{} {} - {}",
        procedure.at.clock(),
        capital(&words::technique(procedure.technique)),
        place.join(", ")
    );
    out.put(&format!("Procedure {}", procedure.no), what);
    let mut how: Vec<String> = Vec::new();
    how.extend(procedure.direction.clone());
    how.extend(procedure.contact.as_ref().map(|contact| format!("contact {contact}")));
    how.extend(procedure.grade.as_ref().map(|grade| format!("grade {grade}")));
    how.extend(procedure.passes.map(|n| words::count(n as usize, "pass", "passes")));
    how.extend(procedure.seconds.map(|n| words::count(n as usize, "second", "seconds")));
    how.extend(procedure.position.as_deref().map(|position| format!("patient {}", spaced(position))));
    how.extend(procedure.instrument.as_ref().map(|with| format!("with {with}")));
    how.extend(
        procedure.gloves_not_recorded_because.as_ref().map(|why| format!("gloves not recorded: {why}")),
    );
    how.extend(procedure.gloves.as_ref().map(|gloves| {
        let pair = if gloves.fresh_pair { "fresh pair" } else { "not a fresh pair" };
        format!("{} gloves, {pair}", gloves.material.word())
    }));
    how.extend((!procedure.products.is_empty()).then(|| procedure.products.join(", ")));
    how.extend(
        procedure
            .cavitation_heard
            .map(|heard| if heard { "joint sound heard" } else { "no joint sound" }.to_string()),
    );
    if !how.is_empty() {
        out.sub("How", how.join("; "));
    }
    let mut by = vec![format!("done by {}", procedure.done_by)];
    by.extend(procedure.consent.map(|seq| format!("consent no. {seq}")));
    by.extend(procedure.asked.map(|seq| format!("asked today no. {seq}")));
    out.sub("Who, and on what", by.join("; "));
    if let Some(at) = procedure.stopped_at {
        let why = procedure.stopped_because.as_deref().unwrap_or(NOT_RECORDED);
        out.sub("Stopped", format!("{}, because: {why}", at.clock()));
    } else if let Some(why) = &procedure.stopped_because {
        out.sub("Stopped", format!("because: {why}"));
    }
    out.sub("Response", response(procedure));
}

fn response(procedure: &Procedure) -> String {
    match &procedure.response {
        Given::Value(response) => {
            let mut parts = vec![spaced(response.word.word())];
            parts.extend(response.pain_before.map(|pain| format!("pain before {pain} of 10")));
            parts.extend(response.pain.map(|pain| format!("pain {pain} of 10")));
            parts.extend(response.words.clone());
            parts.join(", ")
        }
        Given::Absent(absent) => words::because(&absent.because),
    }
}

fn deferred_words(deferred: &Deferred) -> String {
    let mut place = vec![words::region(deferred.region)];
    if !deferred.segments.is_empty() {
        place.push(words::list(&deferred.segments, words::segment));
    }
    place.extend(deferred.side.map(|side| words::side(side).to_string()));
    let technique = capital(&words::technique(deferred.technique));
    format!("{technique} - {}; because: {}", place.join(", "), words::or_not_recorded(&deferred.because))
}

fn adverse_rows(out: &mut Rows, adverse: &Adverse) {
    out.put("Adverse response", format!("{} ({})", adverse.what, adverse.severity.word()));
    let mut parts = Vec::new();
    parts.extend(adverse.onset_minutes.map(|minutes| format!("{minutes} minutes after")));
    if !adverse.procedures.is_empty() {
        let list: Vec<String> = adverse.procedures.iter().map(u32::to_string).collect();
        parts.push(format!("linked to procedure {}", list.join(", ")));
    }
    parts.push(format!("done: {}", words::or_not_recorded(&adverse.action)));
    parts.push(format!("outcome: {}", words::or_not_recorded(&adverse.outcome)));
    parts.extend(adverse.follow_up_due.map(|due| format!("follow-up due {}", words::day(due))));
    parts.extend(adverse.closed_at.map(|at| format!("closed {}", at.plain())));
    parts.extend(adverse.reaction.map(|seq| format!("see no. {seq}")));
    out.sub("What was done", parts.join("; "));
}

fn advice_rows(out: &mut Rows, advice: &Given<Advice>) {
    let advice = match advice {
        Given::Value(advice) => advice,
        Given::Absent(absent) => return out.put("Advice", words::because(&absent.because)),
    };
    let mut parts: Vec<String> = advice.words.iter().cloned().collect();
    parts.extend(advice.heat_or_ice.clone());
    parts.extend(advice.activity.clone());
    parts.extend(advice.diet.clone());
    let sheets = advice.sheets.iter();
    parts.extend(sheets.map(|given| format!("sheet {}, edition {}, given", given.sheet, given.edition)));
    out.put("Advice", words::or_not_recorded(&parts.join("; ")));
    out.sub("What to watch for", words::given(&advice.watch_for));
}

fn plan_rows(out: &mut Rows, plan: &Given<Plan>) {
    let plan = match plan {
        Given::Value(plan) => plan,
        Given::Absent(absent) => return out.put("Plan", words::because(&absent.because)),
    };
    out.put("Next step", words::or_not_recorded(&plan.next_step));
    let pace: Vec<String> = [&plan.frequency, &plan.duration].into_iter().flatten().cloned().collect();
    if !pace.is_empty() {
        out.sub("How often, how long", pace.join(", "));
    }
    for goal in &plan.goals {
        let mut parts = vec![goal.words.clone()];
        parts.push(match (&goal.measure, &goal.target) {
            (Some(measure), Some(target)) => format!("{measure}: {target}"),
            (Some(one), None) | (None, Some(one)) => one.clone(),
            (None, None) => "no measure stated".to_string(),
        });
        parts.extend(goal.by.map(|by| format!("by {}", words::day(by))));
        out.sub("Goal", parts.join("; "));
    }
    if let Some(on) = plan.re_examine_on {
        out.sub("Re-examination", words::day(on));
    }
    if let Some(seq) = plan.referral {
        out.sub("Referral", format!("no. {seq}"));
    }
}

fn end(out: &mut Rows, visit: &Visit) {
    out.part = END;
    for code in &visit.codes {
        let list: Vec<String> = code.for_procedures.iter().map(u32::to_string).collect();
        let mut parts = vec![code.code.clone()];
        parts.extend(code.system.clone());
        parts.extend((!list.is_empty()).then(|| format!("for procedure {}", list.join(", "))));
        parts.extend(code.units.map(|units| words::count(units as usize, "unit", "units")));
        out.put("Code as typed", parts.join("; "));
    }
    if let Some(payer) = &visit.payer {
        let mut parts = Vec::new();
        for (what, there) in [
            ("pain or tenderness", payer.pain_or_tenderness),
            ("asymmetry", payer.asymmetry),
            ("range of motion", payer.range_of_motion),
            ("tissue tone", payer.tissue_tone),
        ] {
            parts.extend(there.map(|yes| format!("{what}: {}", if yes { "yes" } else { "no" })));
        }
        parts.extend(payer.xray_on.map(|on| format!("X-ray of {}", words::day(on))));
        parts.extend(payer.treatment_started_on.map(|on| format!("course begun {}", words::day(on))));
        if !payer.level.is_empty() {
            parts.push(words::list(&payer.level, words::segment));
        }
        parts.extend(payer.words.clone());
        out.put("Items for the payer", words::or_not_recorded(&parts.join("; ")));
    }
    for carried in &visit.carried_forward {
        let checked = if carried.checked { "looked through, still right" } else { "NOT looked through" };
        let field = super::corrected::field_words(&carried.field);
        out.put("Carried forward", format!("{field}, from no. {}: {checked}", carried.from_entry));
    }
    if let Some(same) = visit.same_as_last_percent {
        out.put("The same as last time", format!("{same} %"));
    }
    for item in &visit.not_done {
        out.put("Not done", format!("{}: {}", item.item.replace('-', " "), item.because));
    }
    for item in &visit.answered {
        out.put("Asked before signing", format!("{}: {}", item.item.replace('-', " "), item.answer));
    }
    if !visit.missing_acknowledged.is_empty() {
        out.put("Known to be missing when signed", visit.missing_acknowledged.join("; "));
    }
    out.maybe("Finished later, because", visit.finished_later_because.as_ref());
    out.maybe("Remarks", visit.words.as_ref());
}
