//! Who opened charts: one pass over the ledger, the look of the keeper of the records at a month, and the
//! sign-off of it. A list of openings shows numbers of charts and no contents, so it is no opening itself.

use super::disposal::standing::disposed;
use super::open::{Draft, Entry, Practice};
use super::staff::is_custodian;
use crate::ledger::leaf::chart_tag;
use crate::ledger::scan::EntryAt;
use crate::ledger::write::Receipt;
use crate::record::calendar::days_from;
use crate::record::kinds::common::Day;
use crate::record::kinds::keeping::NoticeState;
use crate::record::kinds::register::{CheckKind, CheckMade, OpeningAnswer, SeenAs, Weekday};
use crate::record::kinds::{Data, identity::Identity};
use crate::record::moment::{Date, Moment};
use crate::record::openings::{Finding, Measure, Month, Opening, findings, near};
use crate::trouble::{Kind, Outcome, Trouble};
use std::collections::{BTreeMap, BTreeSet};

/// Kinds read beside the openings themselves.
const BESIDE: [&str; 9] = [
    "chart-opened",
    "identity-changed",
    "decision-maker",
    "visit-opened",
    "visit-closed",
    "contact",
    "notice",
    "hold",
    "hold-lifted",
];

/// Openings, and what stands out among them.
pub struct Looked {
    /// The openings, the earliest first.
    pub openings: Vec<Opening>,
    /// What stands out.
    pub findings: Vec<Finding>,
    /// How many charts do not open to whoever is here, although something was opened in them.
    pub charts_not_opened: usize,
}

/// Which openings.
#[derive(Debug, Clone, Default)]
pub struct Which {
    /// Tag of the only chart.
    pub chart: Option<String>,
    /// First day.
    pub from: Option<Date>,
    /// Last day.
    pub until: Option<Date>,
    /// Code of the only person.
    pub by: Option<String>,
}

impl Which {
    fn on(&self, day: Date) -> bool {
        self.from.is_none_or(|from| from <= day) && self.until.is_none_or(|until| day <= until)
    }
}

/// Only the keeper of the records looks at the openings of all charts.
///
/// # Errors
/// For everybody else.
pub fn only_keeper(practice: &Practice) -> Outcome<()> {
    if is_custodian(practice) {
        return Ok(());
    }
    Err(Trouble::new(
        Kind::Refused,
        "Only the keeper of the records looks at the openings of all charts.",
        "Nothing was shown.",
        "Name one chart: `inkfast openings CHART`, or ask the keeper of the records.",
    ))
}

/// Gathers openings, and says what stands out.
///
/// # Errors
/// When an entry can't be read, or the adopted rules can't be used.
pub fn look(practice: &Practice, which: &Which) -> Outcome<Looked> {
    let only = which.chart.as_deref().and_then(chart_tag);
    let mut wanted: BTreeSet<[u8; 16]> = BTreeSet::new();
    for at in practice.all() {
        let at = at?;
        let Some(tag) = at.chart.filter(|tag| only.is_none_or(|only| only == *tag)) else { continue };
        if &*at.kind == "access" && which.on(at.written.local_date()) {
            wanted.insert(tag);
        }
    }
    // A note is known by its leaf: who wrote it, and when. What it says is nobody's business here.
    let picks = |at: &EntryAt| {
        let opening = &*at.kind == "access" && which.on(at.written.local_date());
        at.chart.is_some_and(|tag| wanted.contains(&tag)) && (opening || BESIDE.contains(&&*at.kind))
    };
    let picked = practice.all_where(picks)?;
    let charts = practice.by_chart(&picked)?;
    let staff: Vec<(String, String)> =
        practice.staff().iter().map(|line| (line.code.clone(), line.name.clone())).collect();
    let mut looked = Looked { openings: Vec::new(), findings: Vec::new(), charts_not_opened: 0 };
    let gone = disposed(practice)?;
    let is_gone = |tag: &[u8; 16]| gone.iter().any(|one| one.tag == data_encoding::HEXLOWER.encode(tag));
    for (tag, entries) in charts {
        match OfChart::new(&entries) {
            Some(chart) => looked.openings.extend(chart.openings(&entries, &staff)),
            // Who opened a chart that was destroyed went with it: nobody's role opens that any more.
            None if is_gone(&tag) => {}
            None => looked.charts_not_opened += 1,
        }
    }
    looked.openings.retain(|o| which.by.as_ref().is_none_or(|code| code.eq_ignore_ascii_case(&o.by)));
    looked.openings.sort_by_key(|o| o.entry);
    let book = practice.rulebook()?;
    let measure = Measure { questions: &book.questions, open_days: open_days(practice)? };
    looked.findings = findings(&looked.openings, measure);
    Ok(looked)
}

/// The days of the week on which the practice is open, as the register began.
fn open_days(practice: &Practice) -> Outcome<Option<[bool; 7]>> {
    let first = practice.register_of(&["register-opened"])?;
    let Some(Data::RegisterOpened(opened)) = first.first().and_then(Entry::data) else { return Ok(None) };
    if opened.opening_hours.is_empty() {
        return Ok(None);
    }
    let mut days = [false; 7];
    for hours in &opened.opening_hours {
        let place = Weekday::ALL.iter().position(|day| *day == hours.day);
        if let Some(open) = place.and_then(|place| days.get_mut(place)) {
            *open = true;
        }
    }
    Ok(Some(days))
}

/// What is known of a chart beside its openings.
struct OfChart {
    number: String,
    names: Vec<String>,
    others: Vec<String>,
    /// Person and day of every visit and contact.
    there: BTreeSet<(String, Date)>,
    /// From when until when a notice or a hold stood over it.
    standing: Vec<(Moment, Option<Moment>)>,
}

impl OfChart {
    fn new(entries: &[Entry]) -> Option<OfChart> {
        let mut chart = OfChart {
            number: String::new(),
            names: Vec::new(),
            others: Vec::new(),
            there: BTreeSet::new(),
            standing: Vec::new(),
        };
        let mut began: BTreeMap<u64, Moment> = BTreeMap::new();
        let mut ended: BTreeMap<u64, Moment> = BTreeMap::new();
        for entry in entries {
            let Some(record) = &entry.record else { continue };
            let at = record.happened.start;
            match entry.data() {
                Some(Data::ChartOpened(opened)) => {
                    chart.number = opened.chart_no.clone();
                    chart.know(&opened.identity);
                }
                Some(Data::IdentityChanged(changed)) => chart.know(&changed.identity),
                Some(Data::DecisionMaker(person)) => chart.others.push(person.name.clone()),
                Some(Data::VisitOpened(visit)) => {
                    chart.was_there(entry, at);
                    for code in visit.practitioners {
                        chart.there.insert((code, at.local_date()));
                    }
                }
                Some(Data::VisitClosed(_) | Data::Contact(_)) => chart.was_there(entry, at),
                Some(Data::Notice(notice)) if notice.state == NoticeState::Received => {
                    began.insert(entry.leaf.seq, at);
                }
                Some(Data::Notice(notice)) if notice.state == NoticeState::Closed => {
                    ended.extend(notice.of.map(|of| (of, at)));
                }
                Some(Data::Hold(_)) => {
                    began.insert(entry.leaf.seq, at);
                }
                Some(Data::HoldLifted(lifted)) => {
                    ended.insert(lifted.hold, at);
                }
                _ => {}
            }
        }
        chart.standing = began.iter().map(|(seq, at)| (*at, ended.get(seq).copied())).collect();
        (!chart.number.is_empty()).then_some(chart)
    }

    fn know(&mut self, identity: &Identity) {
        self.names.push(identity.legal_name.clone());
        self.names.extend(identity.chosen_name.clone());
        self.others.extend(identity.emergency_contact.value().map(|person| person.name.clone()));
    }

    fn was_there(&mut self, entry: &Entry, at: Moment) {
        self.there.insert((entry.leaf.author.clone(), at.local_date()));
        self.there.insert((entry.leaf.author.clone(), entry.leaf.written.local_date()));
    }

    fn openings(&self, entries: &[Entry], staff: &[(String, String)]) -> Vec<Opening> {
        let names: Vec<String> = staff.iter().map(|(_, name)| name.clone()).collect();
        let name_of =
            |code: &str| staff.iter().find(|(known, _)| known == code).map(|(_, name)| name.clone());
        let opened = entries.iter().filter(|entry| entry.leaf.kind == "access");
        opened
            .map(|entry| {
                let (by, at) = (entry.leaf.author.clone(), entry.leaf.written);
                let access = match entry.data() {
                    Some(Data::Access(access)) => Some(access),
                    _ => None,
                };
                let access = access.as_deref();
                let stood = |(from, until): &(Moment, Option<Moment>)| {
                    *from <= at && until.is_none_or(|until| at < until)
                };
                Opening {
                    entry: entry.leaf.seq,
                    at,
                    chart: self.number.clone(),
                    why: access.map(|access| access.why),
                    words: access.and_then(|access| access.words.clone()),
                    opened: access.map(|access| access.opened),
                    printed: access.is_some_and(|access| access.printed),
                    exported: access.is_some_and(|access| access.exported),
                    with_visit: self.there.contains(&(by.clone(), at.local_date())),
                    after_notice: self.standing.iter().any(stood),
                    near: name_of(&by).and_then(|name| near(&name, &self.names, &self.others, &names)),
                    by,
                }
            })
            .collect()
    }
}

/// The openings of a month, for the keeper of the records.
///
/// # Errors
/// For everybody else, and as [`look`].
pub fn month(practice: &Practice, month: Month) -> Outcome<Looked> {
    only_keeper(practice)?;
    let (from, until) = month.days();
    look(practice, &Which { from: Some(from.0), until: Some(until.0), ..Which::default() })
}

/// The sign-offs of a month, by number, the earliest first.
///
/// # Errors
/// When the register can't be read.
pub fn reviewed(practice: &Practice) -> Outcome<BTreeMap<Month, u64>> {
    let mut months = BTreeMap::new();
    for entry in practice.register_of(&["check-made"])? {
        if let Some(Data::CheckMade(check)) = entry.data()
            && check.what == CheckKind::OpeningsReviewed
            && let Some(month) = check.month.as_deref().and_then(Month::parse)
        {
            months.entry(month).or_insert(entry.leaf.seq);
        }
    }
    Ok(months)
}

/// The months that are over, had openings, and were not reviewed, each with the day by which it was to be, on a
/// day; none where the rules ask for no review.
///
/// # Errors
/// When the register can't be read, or the adopted rules can't be used.
pub fn not_reviewed(practice: &Practice, today: Date) -> Outcome<Vec<(Month, Day)>> {
    let Some(days) = practice.rulebook()?.lists.openings_review_days else { return Ok(Vec::new()) };
    let opened = practice.all_where(|at| &*at.kind == "access" && at.chart.is_some())?;
    let mut months: BTreeSet<Month> = opened.iter().map(|at| Month::of(at.written.local_date())).collect();
    if months.is_empty() {
        return Ok(Vec::new());
    }
    let done = reviewed(practice)?;
    months.retain(|month| month.is_over(today) && !done.contains_key(month));
    let due = |month: Month| Day(days_from(month.days().1.0, i64::from(days)));
    Ok(months.into_iter().map(|month| (month, due(month))).collect())
}

/// How something that stood out is answered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answered {
    /// The key of the finding.
    pub key: String,
    /// The answer.
    pub seen: SeenAs,
    /// Why it is fine, or what is to be done.
    pub words: String,
}

/// Signs a month off: every finding answered, the answers kept in the register.
///
/// # Errors
/// When a finding has no answer, the month is not over, or was signed off before.
pub fn sign_off(practice: &mut Practice, of: Month, answers: &[Answered]) -> Outcome<Receipt> {
    let looked = month(practice, of)?;
    may_sign_off(practice, of, &looked, answers)?;
    let answer_to = |finding: &Finding| answers.iter().find(|answer| answer.key == finding.key);
    let answered: Vec<OpeningAnswer> = looked
        .findings
        .iter()
        .filter_map(|finding| {
            let answer = answer_to(finding)?;
            Some(OpeningAnswer {
                finding: finding.id.word().to_string(),
                by: finding.by.clone(),
                charts: finding.charts.clone(),
                entries: finding.entries.clone(),
                answer: answer.seen,
                words: answer.words.clone(),
            })
        })
        .collect();
    let open: Vec<String> =
        answered.iter().filter(|a| a.answer == SeenAs::FollowUp).map(|a| a.words.clone()).collect();
    let check = CheckMade {
        what: CheckKind::OpeningsReviewed,
        entries: None,
        slips_compared: None,
        found: match answered.len() {
            0 => format!("{} openings in {of}; nothing stood out", looked.openings.len()),
            n => format!(
                "{} openings in {of}; {n} stood out, {} to be followed up",
                looked.openings.len(),
                open.len()
            ),
        },
        sound: open.is_empty(),
        printed: None,
        follow_up: (!open.is_empty()).then(|| open.join("; ")),
        month: Some(of.to_string()),
        openings: Some(looked.openings.len() as u64),
        answers: answered,
    };
    let now = practice.now();
    practice.append(Draft::new(None, check.into(), now))
}

fn may_sign_off(practice: &Practice, of: Month, looked: &Looked, answers: &[Answered]) -> Outcome<()> {
    let refused =
        |what: String, next: &str| Err(Trouble::new(Kind::Refused, what, "Nothing was recorded.", next));
    if !of.is_over(practice.now().local_date()) {
        return refused(
            format!("{of} is not over."),
            "Sign it off when it is; look at it whenever you like.",
        );
    }
    if let Some(entry) = reviewed(practice)?.get(&of) {
        return refused(
            format!("{of} was signed off already: entry {entry}."),
            "What came up since belongs in the office file, or in the next month's answers.",
        );
    }
    if looked.charts_not_opened > 0 {
        return refused(
            format!("{} charts with openings do not open to you.", looked.charts_not_opened),
            "Ask somebody whose role opens every chart.",
        );
    }
    let known = |key: &str| looked.findings.iter().any(|finding| finding.key == key);
    if let Some(answer) = answers.iter().find(|answer| !known(&answer.key)) {
        return refused(format!("Nothing stands out as {}.", answer.key), "Look at the list again.");
    }
    let open: Vec<&str> = looked
        .findings
        .iter()
        .filter(|finding| !answers.iter().any(|answer| answer.key == finding.key))
        .map(|finding| finding.key.as_str())
        .collect();
    match open.is_empty() {
        true => Ok(()),
        false => refused(
            format!("Without an answer: {}.", open.join(", ")),
            "Answer each with --fine KEY=REASON or --follow-up KEY=WHAT.",
        ),
    }
}
