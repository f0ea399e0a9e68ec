//! A store with words planted in it, the packages released from it, and what tests do to them.

#![allow(dead_code)] // Each test takes what it needs.

pub use crate::common::archive::{Members, members};
use crate::common::{Small, add, attachment, contact_saying, example, example_data, moment, reaction_saying};
use inkfast::practice::attach::attach;
use inkfast::practice::chart::open_chart;
use inkfast::practice::release::{ReleaseOrder, Released, SealTo, Span, Withhold, release};
use inkfast::record::kinds::release::{Determination, WithholdReason};
use inkfast::record::kinds::{Data, Day};
use inkfast::record::moment::parse_date;
use inkfast::seal::age_file::{Identity, With, open};
use inkfast::trouble::Outcome;
use inkfast::verify::finding::{Report, Severity};
use inkfast::verify::manifest::{DIFFERENCES, Manifest, note_text, slip_name};
use inkfast::verify::package::check_archive;

/// Words planted in the chart that is released.
pub const OWN: [&str; 3] = ["Quillfeather", "plumbago", "marzipan"];
/// Words planted in other charts.
pub const OTHERS: [&str; 6] =
    ["Zwickelbach", "1911-02-03", "PM-0777", "velocipede", "gutta-percha", "Ostrogoth"];
/// A word planted in an entry that is withheld.
pub const WITHHELD: &str = "cassowary";

/// A store with words planted in it, and the chart that is released.
pub struct Planted {
    pub small: Small,
    pub own: String,
    pub withheld: u64,
    pub asker: Identity,
}

pub fn opened(small: &mut Small, name: &str, number: &str, born: &str) -> String {
    let mut record = example("chart-opened");
    record.data["chart_no"] = number.into();
    record.data["identity"]["legal_name"] = name.into();
    record.data["identity"]["birth_date"]["date"] = born.into();
    let Data::ChartOpened(data) = record.read_data().unwrap() else { panic!() };
    let now = small.practice.now();
    open_chart(&mut small.practice, *data, now).unwrap().0
}

impl Planted {
    pub fn new() -> Planted {
        let mut small = Small::new(64 << 10, 0);
        let own = opened(&mut small, OWN[0], "PM-0001", "1990-05-05");
        let other = opened(&mut small, OTHERS[0], OTHERS[2], OTHERS[1]);
        let now = small.practice.now();
        let p = &mut small.practice;
        add(p, Some(&own), contact_saying(OWN[1])).unwrap();
        add(p, Some(&other), contact_saying(OTHERS[3])).unwrap();
        let withheld = add(p, Some(&own), reaction_saying(WITHHELD)).unwrap().seq;
        add(p, Some(&other), reaction_saying(OTHERS[4])).unwrap();
        attach(p, &own, &mut OWN[2].repeat(40).as_bytes(), attachment("own paper"), now).unwrap();
        attach(p, &other, &mut OTHERS[5].repeat(40).as_bytes(), attachment("other paper"), now).unwrap();
        Planted { small, own, withheld, asker: Identity::generate() }
    }

    /// An order for the whole chart.
    pub fn order(&self, name: &str) -> ReleaseOrder {
        let Data::Release(data) = example_data("release") else { panic!() };
        let to = SealTo::Recipients(vec![self.asker.recipient()]);
        ReleaseOrder::new(*data, to, self.small.dir.path().join(name), self.small.practice.now())
    }

    pub fn release(&mut self, name: &str, withhold: Vec<Withhold>) -> Outcome<Released> {
        let order = ReleaseOrder { withhold, ..self.order(name) };
        release(&mut self.small.practice, &self.own, order)
    }

    /// Carries an order out and opens the seal.
    pub fn carried_out(&mut self, order: ReleaseOrder) -> (Released, Vec<u8>) {
        let released = release(&mut self.small.practice, &self.own, order).unwrap();
        let sealed = std::fs::read(&released.file).unwrap();
        let with = With::Identities(std::slice::from_ref(&self.asker));
        let plain = open(&with, &sealed).unwrap().to_vec();
        (released, plain)
    }

    /// Releases and opens the seal.
    pub fn archive(&mut self, name: &str, withhold: Vec<Withhold>) -> (Released, Vec<u8>) {
        let order = ReleaseOrder { withhold, ..self.order(name) };
        self.carried_out(order)
    }
}

pub fn judge(archive: &[u8]) -> Outcome<Report> {
    crate::common::kept::keep(archive, &[]);
    check_archive(&mut &archive[..], &mut |_| ())
}

pub fn pack(members: &Members) -> Vec<u8> {
    let mut tar = tar::Builder::new(Vec::new());
    for (name, bytes) in members {
        let mut header = tar::Header::new_ustar();
        header.set_size(bytes.len() as u64);
        header.set_mode(0o644);
        tar.append_data(&mut header, name, &bytes[..]).unwrap();
    }
    tar.into_inner().unwrap()
}

/// True when the bytes hold the word, plain or as their digits.
pub fn holds(bytes: &[u8], word: &str) -> bool {
    let find = |wanted: &[u8]| bytes.windows(wanted.len()).any(|w| w.eq_ignore_ascii_case(wanted));
    find(word.as_bytes()) || find(data_encoding::BASE64_NOPAD.encode(word.as_bytes()).as_bytes())
}

/// True when the report says that something is wrong, and what to do.
pub fn named(report: &Report) -> bool {
    let mut wrong = report.findings.iter().filter(|f| f.severity == Severity::Wrong).peekable();
    !report.sound && wrong.peek().is_some() && wrong.all(|f| !f.what.is_empty() && !f.next.is_empty())
}

/// The list of a package.
pub fn list_of(all: &Members) -> Manifest {
    let (_, bytes) = all.iter().find(|(name, _)| name == "manifest.json").unwrap();
    serde_json::from_slice(bytes).unwrap()
}

/// The same members with the list made anew after `bend` and signed: what somebody could hand over who
/// holds the key of whoever released it. Lengths and digests are those of the members as they now are.
pub fn signed_anew(planted: &Planted, all: &Members, bend: impl FnOnce(&mut Manifest)) -> Members {
    listed_anew(planted, all, bend, |manifest| serde_json::to_vec(manifest).unwrap())
}

/// As [`signed_anew`], with the list written as the program writes it.
pub fn signed_as_written(planted: &Planted, all: &Members) -> Members {
    listed_anew(
        planted,
        all,
        |_| (),
        |manifest| {
            let mut json = serde_json::to_vec_pretty(manifest).unwrap();
            json.push(b'\n');
            json
        },
    )
}

/// As [`signed_anew`], with the list bent once everything in it fits: it says what it says of the parts.
pub fn signed_bent(planted: &Planted, all: &Members, bend: impl FnOnce(&mut Manifest)) -> Members {
    listed_anew(
        planted,
        all,
        |_| (),
        |manifest| {
            let mut bent = manifest.clone();
            bend(&mut bent);
            serde_json::to_vec(&bent).unwrap()
        },
    )
}

fn listed_anew(
    planted: &Planted,
    all: &Members,
    bend: impl FnOnce(&mut Manifest),
    write: impl FnOnce(&Manifest) -> Vec<u8>,
) -> Members {
    use inkfast::seal::body::hex;
    use sha2::Digest as _;
    let mut all = all.clone();
    let mut manifest = list_of(&all);
    bend(&mut manifest);
    manifest.files.retain(|f| all.iter().any(|(name, _)| *name == f.name));
    for file in &mut manifest.files {
        let (_, bytes) = all.iter().find(|(name, _)| *name == file.name).unwrap();
        file.bytes = bytes.len() as u64;
        file.blake3 = hex(blake3::hash(bytes).as_bytes());
        file.sha256 = hex(&sha2::Sha256::digest(bytes));
    }
    let json = write(&manifest);
    let digests = (hex(blake3::hash(&json).as_bytes()), hex(&sha2::Sha256::digest(&json)));
    let text = note_text(&manifest.ledger, manifest.release, &digests.0, &digests.1);
    let note = inkfast::seal::note::sign(&text, &[&planted.small.practice.session.me.signer]).unwrap();
    for (name, bytes) in &mut all {
        match name.as_str() {
            "manifest.json" => bytes.clone_from(&json),
            "manifest.note" => *bytes = note.clone().into_bytes(),
            _ => {}
        }
    }
    all
}

pub fn day(text: &str) -> Day {
    Day(parse_date(text).unwrap())
}

/// Records data of a kind in the chart at a moment, with some fields set.
pub fn record(planted: &mut Planted, at: &str, kind: &str, set: &[(&str, serde_json::Value)]) -> u64 {
    let mut record = example(kind);
    for (pointer, value) in set {
        *record.data.pointer_mut(pointer).unwrap_or_else(|| panic!("{kind} has no {pointer}")) =
            value.clone();
    }
    planted.small.clock.set(moment(at));
    let data = record.read_data().unwrap();
    add(&mut planted.small.practice, Some(&planted.own), data).unwrap().seq
}

/// A chart with contacts in three years, a correction of the one in the middle, and a late one of that.
pub struct Years {
    pub planted: Planted,
    pub before: u64,
    pub within: u64,
    pub after: u64,
    pub correction: u64,
}

pub fn years() -> Years {
    let mut planted = Planted::new();
    let before =
        record(&mut planted, "2030-02-01T10:00:00-05:00", "contact", &[("/said", "ptarmigan".into())]);
    let within =
        record(&mut planted, "2031-02-01T10:00:00-05:00", "contact", &[("/said", "wheatear".into())]);
    let after = record(&mut planted, "2032-02-01T10:00:00-05:00", "contact", &[("/said", "dotterel".into())]);
    let correction = record(
        &mut planted,
        "2032-02-02T10:00:00-05:00",
        "correction",
        &[
            ("/target", within.into()),
            ("/field", "/said".into()),
            ("/was", "wheatear".into()),
            ("/is", "redshank".into()),
        ],
    );
    Years { planted, before, within, after, correction }
}

pub fn of_2031() -> Span {
    Span { from: Some(day("2031-01-01")), until: Some(day("2031-12-31")), ..Span::default() }
}

pub fn determined(entry: u64) -> Withhold {
    let made = Determination { by: "Odile Farrow".into(), licence: "PSY-4410".into(), on: day("2022-10-03") };
    Withhold { determination: Some(made), ..Withhold::new(entry, WithholdReason::LikelyHarm) }
}

/// Packages whose list was bent and signed anew.
pub struct Bent {
    /// A part of a chart, and a whole one with something withheld that lists what differs; both as they are.
    pub part: Members,
    pub whole: Members,
    /// What was bent, the members, and what is to be found.
    pub all: Vec<(&'static str, Members, &'static str)>,
}

pub fn bent_packages() -> Bent {
    let Years { mut planted, before, within, .. } = years();
    let (_, archive) = planted.carried_out(ReleaseOrder { span: of_2031(), ..planted.order("span.age") });
    let part = signed_anew(&planted, &members(&archive), |_| ());
    drop(planted.archive("one.age", vec![determined(planted.withheld)]));
    let (_, archive) = planted.archive("two.age", vec![determined(planted.withheld)]);
    let whole = signed_anew(&planted, &members(&archive), |_| ());
    let held = planted.withheld;
    let of = |m: &mut Manifest, seq: u64| -> usize { m.entries.iter().position(|e| e.seq == seq).unwrap() };
    type Bend<'a> = Box<dyn Fn(&mut Manifest) + 'a>;
    let bends: Vec<(&'static str, &Members, &'static str, Bend)> = vec![
        ("the span removed", &part, "span-broken", Box::new(|m| m.span = None)),
        ("the span widened", &part, "span-broken", Box::new(|m| m.span.as_mut().unwrap().from = None)),
        (
            "another last day",
            &part,
            "span-broken",
            Box::new(|m| {
                m.span.as_mut().unwrap().until = Some(day("2030-12-31"));
            }),
        ),
        (
            "a kind added to it",
            &part,
            "span-broken",
            Box::new(|m| {
                m.span.as_mut().unwrap().kinds = vec!["visit".into()];
            }),
        ),
        (
            "what it supports removed",
            &part,
            "span-broken",
            Box::new(|m| {
                m.entries.iter_mut().for_each(|e| e.supports = None);
            }),
        ),
        (
            "supports an entry that is left out",
            &part,
            "span-broken",
            Box::new(|m| {
                let at = m.entries.iter().position(|e| e.supports == Some(within)).unwrap();
                m.entries[at].supports = Some(before);
            }),
        ),
        (
            "another reason",
            &part,
            "withheld-unclear",
            Box::new(|m| {
                let at = of(m, before);
                m.entries[at].reason = Some(WithholdReason::AnotherPerson);
            }),
        ),
        (
            "no reason",
            &whole,
            "withheld-unclear",
            Box::new(|m| {
                let at = of(m, held);
                m.entries[at].reason = None;
            }),
        ),
        (
            "other words",
            &whole,
            "withheld-unclear",
            Box::new(|m| {
                let at = of(m, held);
                m.entries[at].withheld = Some("because".into());
            }),
        ),
        (
            "not asked for, it is said, though all was",
            &whole,
            "span-broken",
            Box::new(|m| {
                let at = of(m, held);
                m.entries[at].reason = Some(WithholdReason::OutsideRequest);
            }),
        ),
        (
            "another slip",
            &whole,
            "withheld-unclear",
            Box::new(|m| {
                let at = of(m, held);
                m.entries[at].slip = Some("slips/000001.txt".into());
            }),
        ),
        (
            "a difference removed",
            &whole,
            "differences-broken",
            Box::new(|m| {
                m.differences.as_mut().unwrap().list.remove(0);
            }),
        ),
        ("all differences removed", &whole, "differences-broken", Box::new(|m| m.differences = None)),
        (
            "since another entry",
            &whole,
            "differences-broken",
            Box::new(|m| {
                m.differences.as_mut().unwrap().since = held;
            }),
        ),
    ];
    let mut all: Vec<(&'static str, Members, &'static str)> = bends
        .into_iter()
        .map(|(what, all, id, bend)| (what, signed_anew(&planted, all, |m| bend(m)), id))
        .collect();
    // A slip that is missing, and one too many, with the list made to fit.
    for (what, gone, id) in [
        ("a slip missing", slip_name(3), "withheld-unclear"),
        ("differences.txt missing", DIFFERENCES.to_string(), "differences-broken"),
    ] {
        let mut less = whole.clone();
        less.retain(|(name, _)| *name != gone);
        all.push((what, signed_anew(&planted, &less, |_| ()), id));
    }
    let mut more = whole.clone();
    more.push((slip_name(1), b"Withheld.".to_vec()));
    let more = signed_anew(&planted, &more, |m| {
        let mut line = m.files[0].clone();
        line.name = slip_name(1);
        m.files.push(line);
    });
    all.push(("a slip more", more, "withheld-unclear"));
    // A name that no part may have, listed and signed like any other: opened, it could land anywhere.
    for name in [".profile", "entries/..x/y", "slips/a b.txt", "a/b/c/d/e.txt"] {
        let mut named = whole.clone();
        named.push((name.to_string(), b"x".to_vec()));
        let named = signed_anew(&planted, &named, |m| {
            let mut line = m.files[0].clone();
            line.name = name.to_string();
            m.files.push(line);
        });
        all.push(("a name that no part may have", named, "member-name"));
    }
    Bent { part, whole, all }
}
