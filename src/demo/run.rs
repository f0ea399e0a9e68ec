//! Builds the demonstration practice: a store, and every event in it, through the same calls
//! that real work uses, with the clock set to when each was written.

use super::closes::{Tally, counted};
use super::{Act, DemoError, Destroyed, Event, Leaver, Names, events, owner, practice, staff_passphrase};
use crate::practice::attach::attach;
use crate::practice::chart::{face, open_chart};
use crate::practice::day::slip_words;
use crate::practice::disposal::destroy::finish;
use crate::practice::disposal::order::{Order, order};
use crate::practice::open::{Draft, Practice};
use crate::practice::release::{ReleaseOrder, SealTo, Span, Withhold, release};
use crate::practice::session::Session;
use crate::practice::setup::{Setup, init};
use crate::practice::staff;
use crate::record::kinds::Data;
use crate::record::kinds::release::{SealedHow, WithholdReason};
use crate::record::moment::{Date, Moment};
use crate::seal::age_file::Identity;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::world::{SetClock, World, folder_of};
use std::collections::{BTreeMap, HashMap};
use std::path::{Path, PathBuf};
use zeroize::Zeroizing;

/// Cost of guessing a passphrase of the demonstration. They are printed in its source, so a high
/// cost would protect nothing and only make people wait.
pub const DEMO_WORK: u8 = 14;

/// What is told while the demonstration is built.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Step {
    /// A line to be said.
    Say(String),
    /// Events done, and how many there are.
    Progress(usize, usize),
}

/// What opens a package that was handed over.
pub enum PackageKey {
    /// The recipient's own identity, made up for the demonstration.
    Identity(Identity),
    /// A passphrase, told by another way.
    Passphrase(Zeroizing<String>),
}

/// A package handed over in the course of the scenario.
pub struct Package {
    /// Name of the release among the events.
    pub name: String,
    /// Chart number.
    pub chart_no: String,
    /// To whom.
    pub to: String,
    /// The sealed file.
    pub file: PathBuf,
    /// What opens it.
    pub key: PackageKey,
}

/// The demonstration, built.
pub struct Built {
    /// The practice, with its owner at the keyboard.
    pub practice: Practice,
    /// The recovery identity.
    pub recovery: Identity,
    /// Tag of each chart by its number.
    pub charts: BTreeMap<String, String>,
    /// Number of each named entry.
    pub names: Names,
    /// What was handed over.
    pub packages: Vec<Package>,
    /// How many events were applied.
    pub events: usize,
}

impl From<DemoError> for Trouble {
    fn from(error: DemoError) -> Trouble {
        Trouble::new(
            Kind::BadInput,
            error.to_string(),
            "Your own records are not touched by the demonstration.",
            "This is a fault of the program: please report it with this text.",
        )
    }
}

/// Makes the store in `root`, which must not exist or be empty, and applies every event. Sealed
/// packages are written into the folder `handed-over` beside it.
///
/// # Errors
/// When the store can't be made or an event can't be recorded.
pub fn build(
    world: &World,
    clock: &SetClock,
    root: &Path,
    outside: Option<String>,
    tell: &mut dyn FnMut(Step),
) -> Outcome<Built> {
    let all = events()?;
    clock.set(Moment::parse(super::OPENED_AT).unwrap_or(Moment::EPOCH));
    let mut setup = Setup::new(root, practice()?, owner()?, staff_passphrase("IV"));
    setup.outside = outside;
    setup.work = DEMO_WORK;
    let new = init(world, setup)?;
    let handed_over = folder_of(root).join("handed-over");
    world.disk.create_dirs(&handed_over).map_err(|e| Trouble::disk("make", &handed_over, &e))?;
    let mut runner = Runner {
        practice: new.practice,
        waiting: HashMap::new(),
        charts: BTreeMap::new(),
        names: Names::new(),
        days: BTreeMap::new(),
        packages: Vec::new(),
        handed_over,
    };
    runner.apply_all(&all, clock, tell)?;
    runner.at_keyboard("IV")?;
    Ok(Built {
        practice: runner.practice,
        recovery: new.recovery,
        charts: runner.charts,
        names: runner.names,
        packages: runner.packages,
        events: all.len(),
    })
}

struct Runner {
    practice: Practice,
    /// Unlocked people who are not at the keyboard.
    waiting: HashMap<String, Session>,
    charts: BTreeMap<String, String>,
    names: Names,
    /// First and last entry of each day.
    days: BTreeMap<Date, (u64, u64)>,
    packages: Vec<Package>,
    handed_over: PathBuf,
}

impl Runner {
    fn apply_all(&mut self, all: &[Event], clock: &SetClock, tell: &mut dyn FnMut(Step)) -> Outcome<()> {
        let moments = super::highlights::moments();
        let (mut done, mut year) = (0, 0);
        while done < all.len() {
            let together = group(&all[done..]);
            let now = all[done].at;
            if now.local_date().year() != year {
                year = now.local_date().year();
                tell(Step::Say(format!("The year {year}.")));
            }
            clock.set(now);
            self.apply(&all[done..done + together])?;
            for event in &all[done..done + together] {
                let last =
                    |m: &&super::highlights::Highlight| m.entries.last().copied() == event.name.as_deref();
                if let (Some(_), Some(moment)) = (&event.name, moments.iter().find(last)) {
                    tell(Step::Say(format!("{}: {}", now.plain(), moment.title)));
                }
            }
            done += together;
            tell(Step::Progress(done, all.len()));
        }
        Ok(())
    }

    /// Applies events that are written together, and notes the day's numbers.
    fn apply(&mut self, together: &[Event]) -> Outcome<()> {
        let Some(event) = together.first() else { return Ok(()) };
        self.at_keyboard(&event.by)?;
        self.practice.station.clone_from(&event.station);
        let before = self.count();
        match event.act {
            Act::Record => self.record(together)?,
            Act::OpenChart => self.open_chart(event)?,
            Act::Attach => self.attach(event)?,
            Act::Release => self.release(event)?,
            Act::AddStaff => self.add_staff(event)?,
            Act::RetireStaff => self.retire_staff(event)?,
            Act::DayClose => self.close_day(event)?,
            Act::Dispose => self.dispose(event)?,
        }
        let day = self.days.entry(event.at.local_date()).or_insert((before + 1, before));
        day.1 = self.practice.size();
        Ok(())
    }

    fn count(&self) -> u64 {
        self.practice.size()
    }

    /// Puts a person at the keyboard; each is unlocked once.
    fn at_keyboard(&mut self, code: &str) -> Outcome<()> {
        if self.practice.session.me.code == code {
            return Ok(());
        }
        let session = match self.waiting.remove(code) {
            Some(session) => session,
            None => {
                Session::unlock(&self.practice.world, &self.practice.place, code, staff_passphrase(code))?
            }
        };
        let before = staff::hand_to(&mut self.practice, session);
        self.waiting.insert(before.me.code.clone(), before);
        Ok(())
    }

    fn tag(&self, event: &Event) -> Outcome<Option<String>> {
        let Some(chart_no) = &event.chart else { return Ok(None) };
        let tag = self.charts.get(chart_no).cloned();
        Ok(Some(tag.ok_or_else(|| DemoError::Chart(chart_no.clone()))?))
    }

    fn chart_tag(&self, event: &Event) -> Outcome<String> {
        let none = || DemoError::Chart(event.chart.clone().unwrap_or_else(|| "none".to_string()));
        Ok(self.tag(event)?.ok_or_else(none)?)
    }

    fn called(&mut self, event: &Event, seq: u64) {
        if let Some(name) = &event.name {
            self.names.insert(name.clone(), seq);
        }
    }

    fn record(&mut self, together: &[Event]) -> Outcome<()> {
        let mut drafts = Vec::with_capacity(together.len());
        let mut seq = self.count();
        for event in together {
            seq += 1;
            let mut draft = Draft::new(self.tag(event)?.as_deref(), event.read(&self.names)?, event.at);
            draft.happened = event.happened();
            draft.labels.clone_from(&event.labels);
            draft.refers = event.references(&self.names)?;
            draft.entered_by.clone_from(&event.entered_by);
            drafts.push(draft);
            self.called(event, seq);
        }
        let receipts = self.practice.append_group(drafts, None)?;
        if receipts.last().map(|r| r.seq) != Some(seq) {
            return Err(Trouble::damaged("The ledger numbered the entries of the demonstration otherwise."));
        }
        Ok(())
    }

    fn open_chart(&mut self, event: &Event) -> Outcome<()> {
        let Data::ChartOpened(data) = event.read(&self.names)? else { return Err(misfit(event)) };
        let chart_no = data.chart_no.clone();
        let (tag, receipt) = open_chart(&mut self.practice, *data, event.happened().start)?;
        self.charts.insert(chart_no, tag);
        self.called(event, receipt.seq);
        Ok(())
    }

    fn attach(&mut self, event: &Event) -> Outcome<()> {
        let Data::Attachment(data) = event.read(&self.names)? else { return Err(misfit(event)) };
        let paper = event.paper()?;
        let tag = self.chart_tag(event)?;
        let receipt = attach(&mut self.practice, &tag, &mut paper.as_slice(), *data, event.happened().start)?;
        self.called(event, receipt.seq);
        Ok(())
    }

    fn release(&mut self, event: &Event) -> Outcome<()> {
        let Data::Release(mut data) = event.read(&self.names)? else { return Err(misfit(event)) };
        let tag = self.chart_tag(event)?;
        let slips = data.withheld.drain(..);
        let withhold = slips.filter_map(|slip| {
            Some(Withhold {
                entry: slip.entry?,
                reason: slip.reason.unwrap_or(WithholdReason::AnotherPerson),
                words: Some(slip.ground),
                determination: slip.determination,
            })
        });
        let withhold: Vec<Withhold> = withhold.collect();
        let (to, key) = if data.sealed == SealedHow::ToPassphrase {
            let words = Zeroizing::new(format!("quiet-hemp-{}-river-demo", self.packages.len() + 3));
            (SealTo::Passphrase(words.clone()), PackageKey::Passphrase(words))
        } else {
            let identity = Identity::generate();
            (SealTo::Recipients(vec![identity.recipient()]), PackageKey::Identity(identity))
        };
        let number = self.packages.len() + 1;
        let file = self.handed_over.join(format!("release-{number:02}-{}.age", event.at.local_date()));
        let recipient = data.to.clone();
        // No more than the request names, as at the desk.
        let asked = match data.request.map(|seq| self.practice.entry_by_seq(seq)).transpose()? {
            Some(entry) => match entry.data() {
                Some(Data::Request(request)) => request.asked().into_span(),
                _ => Span::default(),
            },
            None => Span::default(),
        };
        let start = ReleaseOrder::new(*data, to, file, event.happened().start);
        let order = ReleaseOrder { withhold, span: asked, ..start };
        let released = release(&mut self.practice, &tag, order)?;
        self.called(event, released.seq);
        self.packages.push(Package {
            name: event.name.clone().unwrap_or_default(),
            chart_no: event.chart.clone().unwrap_or_default(),
            to: recipient,
            file: released.file,
            key,
        });
        Ok(())
    }

    fn add_staff(&mut self, event: &Event) -> Outcome<()> {
        let Data::Staff(line) = event.read(&self.names)? else { return Err(misfit(event)) };
        let passphrase = staff_passphrase(&line.code);
        staff::add(&mut self.practice, *line, event.roles.clone(), passphrase, DEMO_WORK).map(drop)
    }

    fn retire_staff(&mut self, event: &Event) -> Outcome<()> {
        let leaver: Leaver = serde_json::from_value(event.data.clone()).map_err(DemoError::File)?;
        self.waiting.remove(&leaver.code);
        staff::retire(&mut self.practice, &leaver.code, leaver.last_day.0, &leaver.because).map(drop)
    }

    /// Destroys a chart, signed by two.
    fn dispose(&mut self, event: &Event) -> Outcome<()> {
        let Destroyed { second } = serde_json::from_value(event.data.clone()).map_err(DemoError::File)?;
        let tag = self.chart_tag(event)?;
        let practice = &mut self.practice;
        let beside = match self.waiting.remove(&second) {
            Some(session) => session,
            None => Session::unlock(&practice.world, &practice.place, &second, staff_passphrase(&second))?,
        };
        let face = face(practice, &tag)?;
        let asked = Order {
            face,
            second: &beside.me,
            settled: None,
            copies: Vec::new(),
            all_copies_named: true,
            medium: None,
        };
        let ordered = order(practice, asked)?;
        finish(practice, ordered.order)?;
        self.waiting.insert(second, beside);
        self.called(event, ordered.certificate);
        Ok(())
    }

    /// Counts the day and records its close.
    fn close_day(&mut self, event: &Event) -> Outcome<()> {
        let day = event.data["day"].as_str().and_then(crate::record::moment::parse_date);
        let span = day.and_then(|day| self.days.get(&day)).copied();
        let slip = slip_words(&self.practice)?;
        let words = format!("{}:{}", slip.number, slip.code);
        let mut tally = Tally { last: slip.number, slip_words: words, ..Tally::default() };
        if let Some((first, last)) = span {
            tally.first = Some(first);
            for seq in first..=last {
                let at = self.practice.at_seq(seq)?;
                *tally.by_kind.entry(self.practice.kind_of(&at)?).or_default() += 1;
            }
        }
        let close = counted(&event.data, &tally).ok_or_else(|| misfit(event))?;
        let draft = Draft::new(None, Data::DayClose(Box::new(close)), event.happened().start);
        let receipt = self.practice.append(draft)?;
        self.called(event, receipt.seq);
        Ok(())
    }
}

fn misfit(event: &Event) -> Trouble {
    DemoError::Paper(format!("{} of {}", event.kind, event.at)).into()
}

/// How many of the first events one person writes at once: same time, place and chart, and none
/// pointing to another among them.
fn group(rest: &[Event]) -> usize {
    let first = &rest[0];
    let same = |event: &&Event| {
        event.act == Act::Record
            && (event.at, &event.by, &event.station, &event.chart)
                == (first.at, &first.by, &first.station, &first.chart)
    };
    let most = rest.iter().take_while(same).count().max(1);
    let inside = |upto: usize, name: &str| {
        rest[..upto].iter().any(|e| e.name.as_deref() == Some(name.trim_start_matches('@')))
    };
    (1..most).find(|i| rest[*i].refers.iter().any(|(name, _)| inside(*i, name))).unwrap_or(most)
}
