//! The tests a consent must pass before it counts (B3, C1, C2, C5, D1 to D11, F1, F2, F4), each
//! applied on its own, so that every failing one can be reported.

use super::answer::RuleId;
use super::case::{Candidate, Case};
use super::facts::{AllowedKind, Consent, ConsentForm, ConsentStatus, RestOfEarlier};
use super::time::{Place, last_valid_day};
use super::{people, refusals, sides, words};
use crate::record::moment::plain_date;
use crate::record::vocab::{Region, Segment, Side, Technique};

/// A test and what was found.
#[derive(Debug, Clone)]
pub struct Finding {
    /// The test.
    pub rule: RuleId,
    /// In plain words.
    pub text: String,
}

/// What the tests say of one consent, for one side.
pub struct Tested<'c> {
    /// The consent.
    pub candidate: &'c Candidate,
    /// Tests it fails: it does not count.
    pub failed: Vec<Finding>,
    /// Tests that leave a question: it counts, with ask-first.
    pub asks: Vec<Finding>,
}

impl Tested<'_> {
    /// True when it counts, with or without a question.
    pub fn passes(&self) -> bool {
        self.failed.is_empty()
    }

    /// True when it fails at least one test and no other than these.
    pub fn fails_only(&self, rules: &[RuleId]) -> bool {
        !self.failed.is_empty() && self.failed.iter().all(|f| rules.contains(&f.rule))
    }

    /// True when it fails this test.
    pub fn fails(&self, rule: RuleId) -> bool {
        self.failed.iter().any(|f| f.rule == rule)
    }

    /// Its place by when it was given.
    pub fn given(&self) -> Place {
        self.candidate.given()
    }

    /// Its id.
    pub fn id(&self) -> &str {
        &self.candidate.consent.consent_id
    }

    fn fail(&mut self, rule: RuleId, text: String) {
        self.failed.push(Finding { rule, text });
    }

    fn ask(&mut self, rule: RuleId, text: String) {
        self.asks.push(Finding { rule, text });
    }
}

/// Every consent that is not a decline, tested for one side.
pub fn test_all<'c>(case: &'c Case, side: Side) -> Vec<Tested<'c>> {
    case.consents
        .iter()
        .filter(|c| c.consent.status != ConsentStatus::Declined)
        .map(|candidate| test(case, candidate, side))
        .collect()
}

/// Tests one consent for one side.
fn test<'c>(case: &Case, candidate: &'c Candidate, side: Side) -> Tested<'c> {
    let consent = &candidate.consent;
    let mut tested = Tested { candidate, failed: Vec::new(), asks: Vec::new() };
    practitioners(case, consent, &mut tested);
    tested.failed.extend(people::giver(case, consent));
    moment_and_form(case, consent, &mut tested);
    period(case, consent, &mut tested);
    scope(case, consent, side, &mut tested);
    segments(case, consent, &mut tested);
    explained_and_understood(case, consent, &mut tested);
    narrowed(case, consent, &mut tested);
    tested.failed.extend(refusals::stopped(case, candidate, side));
    tested
}

/// B3.
fn practitioners(case: &Case, consent: &Consent, tested: &mut Tested) {
    let allowed = &consent.practitioners_allowed;
    let asked = &case.request().practitioner_id;
    let counts = match allowed.kind {
        AllowedKind::Any => true,
        AllowedKind::Named => allowed.values.contains(asked),
        AllowedKind::Role => case.practitioner.is_some_and(|p| allowed.values.contains(&p.role)),
    };
    if !counts {
        let who = words::list(&allowed.values);
        tested.fail(RuleId::B3, format!("{} is for {who}, not for {asked}.", words::Named(consent)));
    }
}

/// D1 and D2.
fn moment_and_form(case: &Case, consent: &Consent, tested: &mut Tested) {
    let name = words::Named(consent);
    let counts_from = consent.given_at.max(consent.written_at);
    if !case.now.allows(counts_from, consent.sequence_no) {
        let (from, now) = (case.now.plain(counts_from), case.now.moment.plain());
        let text = format!("{name} does not count yet on {now}: it was given or entered later ({from}).");
        tested.fail(RuleId::D1, text);
    }
    let verbal = consent.form == ConsentForm::VerbalRecorded;
    if consent.status == ConsentStatus::Draft {
        tested.fail(RuleId::D2, format!("{name} is a draft, not signed."));
    } else if verbal && consent.heard_by.is_none() {
        tested.fail(RuleId::D2, format!("{name} was spoken, and nobody is recorded as having heard it."));
    } else if verbal && case.needs_written {
        let what = if case.mouth_work { "work in the mouth" } else { case.request().technique.word() };
        tested.fail(RuleId::D2, format!("{name} was spoken; {what} needs a written one."));
    }
}

/// D3.
fn period(case: &Case, consent: &Consent, tested: &mut Tested) {
    let (name, today) = (words::Named(consent), case.now.date);
    if today < consent.valid_from {
        let from = plain_date(consent.valid_from);
        tested.fail(RuleId::D3, format!("{name} is valid only from {from}."));
        return;
    }
    let months = ceiling_months(case);
    let ceiling = last_valid_day(consent.given_at.local_date(), months);
    let last = consent.valid_until.map_or(ceiling, |own| own.min(ceiling));
    if today > last {
        let why = if last == ceiling && consent.valid_until != Some(ceiling) {
            format!(" (no consent for this lasts longer than {months} months)")
        } else {
            String::new()
        };
        tested.fail(RuleId::D3, format!("{name} was last valid on {}{why}.", plain_date(last)));
    } else if let Some(end) = consent.ends_on_event.as_ref().filter(|end| case.now.over(end.reached_at)) {
        let on = end.reached_at.map(|at| case.now.plain(at)).unwrap_or_default();
        tested.fail(RuleId::D3, format!("{name} ended on {on}: {}.", end.event));
    }
}

/// The ceiling that holds for the request, in months.
fn ceiling_months(case: &Case) -> u64 {
    let ceilings = &case.rules().consent_ceiling_months;
    let technique = if case.mouth_work { Technique::Intraoral } else { case.request().technique };
    ceilings.get(technique.word()).or_else(|| ceilings.get("default")).copied().unwrap_or(0)
}

/// D4, D5 and D6.
fn scope(case: &Case, consent: &Consent, side: Side, tested: &mut Tested) {
    let (name, request) = (words::Named(consent), case.request());
    if !lists_technique(case, consent) {
        let lacks_intraoral = consent.techniques.contains(&request.technique);
        let missing = if lacks_intraoral { Technique::Intraoral } else { request.technique };
        let lists = words::list(&consent.techniques);
        tested.fail(RuleId::D4, format!("{name} does not list {missing} (it lists {lists})."));
    }
    if !consent.regions.iter().any(|listed| request.region.is_within(*listed)) {
        let lists = words::list(&consent.regions);
        tested.fail(RuleId::D5, format!("{name} does not reach {} (it lists {lists}).", request.region));
    } else if let Some(left_out) = excluded(consent, request.region) {
        tested.fail(RuleId::D5, format!("{name} leaves out {left_out}, and {} was asked.", request.region));
    }
    if !sides::covers(consent.side, side, request.region) {
        let (agreed, asked) = (words::side(consent.side), words::side(side));
        tested.fail(RuleId::D6, format!("{name} is for {agreed}; asked: {asked}."));
    }
}

fn excluded(consent: &Consent, region: Region) -> Option<Region> {
    consent.excluded_regions.iter().copied().find(|left_out| left_out.overlaps(region))
}

/// True when the consent lists the technique, and for mouth work also intraoral.
pub fn lists_technique(case: &Case, consent: &Consent) -> bool {
    consent.techniques.contains(&case.request().technique)
        && (!case.mouth_work || consent.techniques.contains(&Technique::Intraoral))
}

/// True when the region asked about is listed and nothing of it is left out.
pub fn reaches_region(case: &Case, consent: &Consent) -> bool {
    let region = case.request().region;
    consent.regions.iter().any(|listed| region.is_within(*listed)) && excluded(consent, region).is_none()
}

/// D7.
fn segments(case: &Case, consent: &Consent, tested: &mut Tested) {
    let request = case.request();
    let names = |list: &Option<Vec<Technique>>| list.as_ref().is_none_or(|l| l.contains(&request.technique));
    let limits: Vec<_> = consent.segment_limits.iter().filter(|limit| names(&limit.techniques)).collect();
    if limits.is_empty() {
        return;
    }
    let highest = limits.iter().filter_map(|l| l.highest_segment).max().unwrap_or(Segment::C0C1);
    let lowest = limits.iter().filter_map(|l| l.lowest_segment).min().unwrap_or(Segment::L5S1);
    let inside = |segment: Segment| highest <= segment && segment <= lowest;
    let name = words::Named(consent);
    let limit = format!("{name} allows {} from {highest} to {lowest} only", request.technique);
    let named: Vec<Segment> = request.segments.iter().copied().filter(|s| s.order().is_some()).collect();
    let outside: Vec<Segment> = named.iter().copied().filter(|s| !inside(*s)).collect();
    if !outside.is_empty() {
        tested.fail(RuleId::D7, format!("{limit}; asked: {}.", words::list(&outside)));
        return;
    }
    let Some((first, last)) = request.region.segment_range() else { return };
    let all = Segment::ALL.iter().copied().filter(|s| first <= *s && *s <= last);
    let (within, beyond): (Vec<Segment>, Vec<Segment>) = all.partition(|s| inside(*s));
    if !named.is_empty() || beyond.is_empty() {
        return;
    }
    if within.is_empty() {
        tested.fail(RuleId::D7, format!("{limit}; no segment of {} lies there.", request.region));
    } else {
        tested.ask(RuleId::D7, format!("{limit}; no segment was named."));
    }
}

/// D9 and D10.
fn explained_and_understood(case: &Case, consent: &Consent, tested: &mut Tested) {
    let name = words::Named(consent);
    let explained = consent.explained.as_ref().is_some_and(|e| case.now.allows(e.at, consent.sequence_no));
    if case.needs_written && !explained {
        let technique = case.request().technique;
        tested.ask(RuleId::D9, format!("{name} records no explanation, and {technique} here needs one."));
    }
    if let Some(needed) = &case.facts.chart.patient.interpreter_language {
        match &consent.interpreter {
            None => tested.fail(
                RuleId::D10,
                format!("{name} records no interpreter; the patient needs one ({needed})."),
            ),
            Some(one) if !one.language.eq_ignore_ascii_case(needed) => tested.fail(
                RuleId::D10,
                format!("{name} was interpreted into {}; the patient needs {needed}.", one.language),
            ),
            Some(_) => {}
        }
    }
}

/// D11, as far as it is a test: what the patient said about the rest when giving a narrower one.
fn narrowed(case: &Case, consent: &Consent, tested: &mut Tested) {
    let name = words::Named(consent);
    for newer in case.consents.iter().map(|c| &c.consent) {
        let narrows = newer.status == ConsentStatus::Signed
            && newer.narrower_than.contains(&consent.consent_id)
            && case.now.reached(newer.given_at);
        if !narrows {
            continue;
        }
        let by = words::Named(newer).lower();
        match newer.rest_of_earlier {
            RestOfEarlier::Kept => {}
            RestOfEarlier::Withdrawn => {
                tested.fail(RuleId::D11, format!("The rest of {} was withdrawn with {by}.", name.lower()));
            }
            // An earlier consent is named but no answer about its rest: that is not a yes.
            RestOfEarlier::NotAsked | RestOfEarlier::NotApplicable => {
                tested.ask(
                    RuleId::D11,
                    format!("{by} is narrower than {}; the rest was not asked about.", name.lower()),
                );
            }
        }
    }
}
