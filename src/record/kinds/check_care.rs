//! What can't be in screens, measures, visit notes and reactions.

use super::common::{Amount, Check, Given, Problems, blank, day_order, sided};
use super::finding::{Finding, FindingKind};
use super::procedure::Procedure;
use super::reaction::{Reaction, ReactionClosed, ReactionRechecked};
use super::screening::{
    Change, ItemAnswer, Measure, MeasureKind, Measured, Screen, ScreenAnswer, ScreenItemClosed, WrittenReason,
};
use super::visit::Visit;
use crate::record::envelope::Record;
use crate::record::notation::structure::Structure;
use crate::record::vocab::{Region, Segment, Side, Technique};

fn whole(kind: MeasureKind) -> bool {
    use MeasureKind::{PainBest, PainNow, PainWorst, Reflex, Strength};
    matches!(kind, PainNow | PainWorst | PainBest | Strength | Reflex)
}

pub(crate) fn measured(measure: &Measured, field: &str, problems: &mut Problems) {
    let value = measure.value.get();
    // How high or low a value may be is a matter of the practice's rules: `record/measured.rs`.
    if whole(measure.kind) && value.fract() != 0.0 {
        problems.refuse("value-not-whole", format!("{field}/value"), "only whole numbers are used here");
    }
    let second = format!("{field}/second_value");
    match (measure.kind, measure.second_value.as_ref().map(Amount::get)) {
        (MeasureKind::BloodPressure, None) => {
            problems.refuse("second-value-missing", second, "state both pressures");
        }
        (MeasureKind::BloodPressure, Some(diastolic)) if diastolic >= value || diastolic < 0.0 => {
            problems.refuse("value-cannot-be", second, "the lower pressure must be below the upper one");
        }
        (MeasureKind::Questionnaire, Some(most)) if value > most => {
            problems.refuse("value-cannot-be", second, "the score is above its maximum");
        }
        _ => {}
    }
    use MeasureKind::{
        JawDeflection, JawDeviation, JawLateral, NeckRotation, NeckSideBending, StraightLegRaise,
    };
    let needs_side = matches!(
        measure.kind,
        JawLateral | JawDeviation | JawDeflection | NeckRotation | NeckSideBending | StraightLegRaise
    );
    if needs_side && !matches!(measure.side, Some(Side::Left | Side::Right)) {
        problems.refuse(
            "side-missing",
            format!("{field}/side"),
            "state left or right; write two lines for both",
        );
    }
}

/// Pain-free opening is not above unassisted, nor unassisted above assisted; 1 mm is allowed for.
fn opening_order<'a>(all: impl Iterator<Item = &'a Measured> + Clone, field: &str, problems: &mut Problems) {
    let of = |kind| {
        all.clone().filter(move |measure| measure.kind == kind).map(|measure| measure.value.get()).last()
    };
    use MeasureKind::{MouthOpeningAssisted, MouthOpeningPainFree, MouthOpeningUnassisted};
    let rising = [of(MouthOpeningPainFree), of(MouthOpeningUnassisted), of(MouthOpeningAssisted)];
    let known: Vec<f64> = rising.into_iter().flatten().collect();
    if known.windows(2).any(|pair| pair[0] > pair[1] + 1.0) {
        problems.refuse(
            "opening-order",
            field,
            "pain-free, unassisted and assisted opening must rise in this order",
        );
    }
}

/// The answers to a screen: each once, and a yes in words.
pub(super) fn answers(all: &[ScreenAnswer], problems: &mut Problems) {
    for (index, answer) in all.iter().enumerate() {
        let field = format!("/answers/{index}");
        if all[..index].iter().any(|earlier| earlier.item == answer.item) {
            problems.refuse("item-twice", format!("{field}/item"), "this item is answered twice");
        }
        let in_words = answer.words.as_deref().is_some_and(|words| !words.trim().is_empty());
        if answer.answer == ItemAnswer::Yes && (!in_words || answer.decision.is_none()) {
            problems.refuse("yes-needs-words", field, "a yes needs words and a decision");
        }
    }
}

impl Check for Screen {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        blank(&self.screen, "/screen", problems);
        answers(&self.answers, problems);
        if self.answers.is_empty() {
            problems.refuse("answers-missing", "/answers", "a screen without an answer is none");
        }
    }
}

impl Check for ScreenItemClosed {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        blank(&self.words, "/words", problems);
    }
}

impl Check for Change {
    fn check(&self, head: &Record, problems: &mut Problems) {
        blank(&self.words, "/words", problems);
        if let Some(day) = self.happened_on {
            super::check_chart::future_day(day, "/happened_on", head, problems);
        }
    }
}

impl Check for WrittenReason {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        blank(&self.words, "/words", problems);
    }
}

impl Check for Measure {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        if self.measures.is_empty() {
            problems.refuse("measures-missing", "/measures", "nothing is measured here");
        }
        for (index, measure) in self.measures.iter().enumerate() {
            measured(measure, &format!("/measures/{index}"), problems);
        }
        opening_order(self.measures.iter(), "/measures", problems);
    }
}

fn pain(value: Option<u8>, field: String, problems: &mut Problems) {
    if value.is_some_and(|value| value > 10) {
        problems.refuse("value-cannot-be", field, "pain is stated from 0 to 10");
    }
}

/// A muscle that lies to the left and to the right within a region that crosses the midline: scalenes, SCM.
fn structure_sided(
    region: Region,
    structure: Option<&str>,
    side: Option<Side>,
    field: &str,
    problems: &mut Problems,
) {
    // A form takes the word as it is typed.
    if region.spans_midline() && structure.and_then(Structure::typed).is_some_and(|known| known.sided) {
        // Any region without a midline says the same of the side.
        sided(Region::Ribs, &[], side, &format!("{field}/side"), problems);
    }
}

impl Finding {
    fn check(&self, field: &str, problems: &mut Problems) {
        let segments: Vec<Segment> = self.segment.into_iter().collect();
        sided(self.region, &segments, self.side, &format!("{field}/side"), problems);
        structure_sided(self.region, self.structure.as_deref(), self.side, field, problems);
        let most = match self.kind {
            FindingKind::Tenderness | FindingKind::Reflex => 4,
            FindingKind::Strength => 5,
            _ => u8::MAX,
        };
        if self.grade.is_some_and(|grade| grade > most) {
            problems.refuse(
                "value-cannot-be",
                format!("{field}/grade"),
                format!("the grade goes from 0 to {most}"),
            );
        }
        if let Some(measure) = &self.measured {
            measured(measure, &format!("{field}/measured"), problems);
        }
        let no_disc = matches!(self.segment, Some(Segment::C0C1 | Segment::C1C2 | Segment::Si))
            || self.segment.is_some_and(|segment| segment.order().is_none());
        let is_disc = self.kind == FindingKind::Disc
            || self.structure.as_deref().is_some_and(|structure| structure.eq_ignore_ascii_case("disc"));
        if is_disc && no_disc {
            problems.refuse("no-disc-there", format!("{field}/segment"), "there is no disc at this level");
        }
    }
}

impl Procedure {
    /// True for work inside the mouth, by technique or by region.
    pub fn is_in_mouth(&self) -> bool {
        self.technique == Technique::Intraoral || self.region.is_in_mouth()
    }

    fn check(&self, field: &str, head: &Record, problems: &mut Problems) {
        sided(self.region, &self.segments, self.side, &format!("{field}/side"), problems);
        structure_sided(self.region, self.structure.as_deref(), self.side, field, problems);
        // What was done without gloves, or with gloves nobody remembers, must be recordable as just that.
        let why_none = self.gloves_not_recorded_because.as_deref().unwrap_or_default();
        if self.is_in_mouth() && self.gloves.is_none() && why_none.trim().is_empty() {
            problems.refuse(
                "glove-missing",
                format!("{field}/gloves"),
                "state the gloves used inside the mouth",
            );
        }
        if self.span.is_some() && matches!(self.technique, Technique::Thrust | Technique::Mobilization) {
            let text = "a joint technique goes to one segment, not to a stretch of levels";
            problems.refuse("span-not-for-joints", format!("{field}/span"), text);
        }
        if self.at > head.written {
            problems.refuse("in-future", format!("{field}/at"), "this lies after the time of writing");
        }
        if self.stopped_at.is_some_and(|stopped| stopped < self.at) {
            problems.refuse("dates-order", format!("{field}/stopped_at"), "it stops before it begins");
        }
        blank(&self.done_by, &format!("{field}/done_by"), problems);
        match &self.response {
            Given::Value(response) => {
                pain(response.pain_before, format!("{field}/response/pain_before"), problems);
                pain(response.pain, format!("{field}/response/pain"), problems);
            }
            Given::Absent(absent) => blank(&absent.because, &format!("{field}/response"), problems),
        }
    }
}

impl Visit {
    fn check_told(&self, problems: &mut Problems) {
        for (index, complaint) in self.complaints.iter().enumerate() {
            let field = format!("/complaints/{index}");
            pain(complaint.pain_now.value().copied(), format!("{field}/pain_now"), problems);
            pain(complaint.pain_worst, format!("{field}/pain_worst"), problems);
            let pair = complaint.pain_now.value().zip(complaint.pain_worst);
            if pair.is_some_and(|(now, worst)| *now > worst) {
                problems.ask("pain-above-worst", format!("{field}/pain_now"), "pain now is above the worst");
            }
        }
        let absences = [
            (self.changed_since_last.because(), "/changed_since_last"),
            (self.findings.because(), "/findings"),
            (self.assessment.because(), "/assessment"),
            (self.advice.because(), "/advice"),
            (self.plan.because(), "/plan"),
        ];
        for (because, field) in absences {
            if let Some(because) = because {
                blank(because, field, problems);
            }
        }
        for (index, item) in self.not_done.iter().enumerate() {
            blank(&item.item, &format!("/not_done/{index}/item"), problems);
            blank(&item.because, &format!("/not_done/{index}/because"), problems);
        }
        for (index, item) in self.answered.iter().enumerate() {
            blank(&item.item, &format!("/answered/{index}/item"), problems);
            blank(&item.answer, &format!("/answered/{index}/answer"), problems);
        }
    }

    fn check_links(&self, problems: &mut Problems) {
        let known = |no: &u32| self.procedures.iter().any(|procedure| procedure.no == *no);
        for (index, adverse) in self.adverse.iter().enumerate() {
            if !adverse.procedures.iter().all(known) {
                let field = format!("/adverse/{index}/procedures");
                problems.refuse("no-such-procedure", field, "this note has no procedure with that number");
            }
        }
        for (index, code) in self.codes.iter().enumerate() {
            if !code.for_procedures.iter().all(known) {
                let field = format!("/codes/{index}/for_procedures");
                problems.refuse("no-such-procedure", field, "this note has no procedure with that number");
            }
        }
        for (index, procedure) in self.procedures.iter().enumerate() {
            if self.procedures[..index].iter().any(|earlier| earlier.no == procedure.no) {
                let field = format!("/procedures/{index}/no");
                problems.refuse("number-twice", field, "two procedures have this number");
            }
        }
    }
}

impl Check for Visit {
    fn check(&self, head: &Record, problems: &mut Problems) {
        if self.practitioners.is_empty() {
            problems.refuse("practitioner-missing", "/practitioners", "say who saw the patient");
        }
        self.check_told(problems);
        for (index, finding) in self.findings.value().into_iter().flatten().enumerate() {
            finding.check(&format!("/findings/{index}"), problems);
        }
        for (index, procedure) in self.procedures.iter().enumerate() {
            procedure.check(&format!("/procedures/{index}"), head, problems);
        }
        for (index, line) in self.measures.iter().enumerate() {
            measured(&line.measured, &format!("/measures/{index}/measured"), problems);
        }
        for phase in super::screening::Phase::ALL {
            let taken = self.measures.iter().filter(|line| line.phase == *phase).map(|line| &line.measured);
            opening_order(taken, "/measures", problems);
        }
        for (index, check) in self.checks.iter().enumerate() {
            pain(check.number, format!("/checks/{index}/number"), problems);
        }
        self.check_links(problems);
    }
}

impl Check for Reaction {
    fn check(&self, head: &Record, problems: &mut Problems) {
        blank(&self.what, "/what", problems);
        if self.onset_at > head.written {
            problems.refuse("in-future", "/onset_at", "this lies after the time of writing");
        }
        let onset = super::common::Day(self.onset_at.local_date());
        day_order(Some(onset), self.follow_up_due, "/follow_up_due", problems);
    }
}

impl Check for ReactionRechecked {
    fn check(&self, head: &Record, problems: &mut Problems) {
        blank(&self.words, "/words", problems);
        let day = super::common::Day(head.happened.start.local_date());
        day_order(Some(day), self.follow_up_due, "/follow_up_due", problems);
    }
}

impl Check for ReactionClosed {
    fn check(&self, _head: &Record, problems: &mut Problems) {
        blank(&self.outcome, "/outcome", problems);
    }
}
