//! A locked desk that still adds. What is added is sealed to public recipients, so it takes no reading
//! key: only the author's signature, the checkpoint key, and what was remembered from before the lock so
//! that a chart is found by its number. Nothing remembered says who a patient is or what was recorded.

use super::open::{Entry, Practice};
use super::place::Place;
use super::session::{Session, checkpoint_seed};
use crate::ledger::scan::EntryAt;
use crate::record::envelope::Label;
use crate::record::kinds::register::{Rules, Staff};
use crate::record::kinds::{Data, Day};
use crate::seal::age_file::With;
use crate::seal::identity::StaffIdentity;
use crate::trouble::{Kind, Outcome, Trouble};
use serde::{Deserialize, Serialize};
use zeroize::{Zeroize, ZeroizeOnDrop, Zeroizing};

/// What is remembered of one chart.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct KnownChart {
    /// The practice's chart number.
    pub chart_no: String,
    /// The chart's tag in the ledger.
    pub tag: String,
    /// Legal holds on it that had been lifted; which one an entry lifts lies sealed.
    pub lifted: Vec<u64>,
}

/// The secrets that adding needs, and no more.
#[derive(Serialize, Deserialize, Zeroize, ZeroizeOnDrop)]
struct Signing {
    author: String,
    checkpoint: String,
}

/// What a locked desk keeps.
#[derive(Serialize, Deserialize)]
pub struct Kit {
    code: String,
    signing: Signing,
    /// The day on which the desk was locked; it adds until that day ends.
    pub day: Day,
    staff: Vec<Staff>,
    rules: Option<Rules>,
    charts: Vec<KnownChart>,
}

impl std::fmt::Debug for Kit {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Kit({}, {} charts, secret)", self.code, self.charts.len())
    }
}

impl Kit {
    /// Gathers it while everything can still be read.
    ///
    /// # Errors
    /// When the person's roles do not write, or the store can't be read.
    pub fn gather(practice: &Practice) -> Outcome<Kit> {
        let held = practice.session.role_identities();
        let held = With::Identities(&held);
        let seed = checkpoint_seed(&practice.world, &practice.place, &held)?.ok_or_else(not_a_writer)?;
        let mut charts = Vec::new();
        for face in super::chart::faces(practice)? {
            charts.push(KnownChart {
                lifted: lifted(practice, &face.tag)?,
                chart_no: face.chart_no,
                tag: face.tag,
            });
        }
        Ok(Kit {
            code: practice.session.me.code.clone(),
            signing: Signing {
                author: practice.session.me.signing_seed().to_string(),
                checkpoint: data_encoding::BASE64.encode(&seed[..]),
            },
            day: Day(practice.now().local_date()),
            staff: practice.staff().to_vec(),
            rules: practice.rules().cloned(),
            charts,
        })
    }

    /// As text, for handing it to the process that keeps it.
    ///
    /// # Errors
    /// Never for what [`Kit::gather`] made.
    pub fn to_text(&self) -> Outcome<Zeroizing<String>> {
        serde_json::to_string(self).map(Zeroizing::new).map_err(|_| unreadable())
    }

    /// Reads the text.
    ///
    /// # Errors
    /// When it is not one.
    pub fn from_text(text: &str) -> Outcome<Kit> {
        serde_json::from_str(text).map_err(|_| unreadable())
    }

    /// A session that signs and opens nothing.
    ///
    /// # Errors
    /// When the kit is of another store.
    pub fn session(self, place: &Place) -> Outcome<Session> {
        let me = seed(&self.signing.author).and_then(|s| StaffIdentity::only_signing(&self.code, s));
        let vouch = seed(&self.signing.checkpoint)
            .and_then(|s| crate::seal::note::Signer::from_seed(place.key.name(), &s).ok())
            .filter(|s| s.vkey() == place.file.checkpoint_key);
        match (me, vouch) {
            (Some(me), Some(vouch)) => Ok(Session::adding(me, vouch, self)),
            _ => Err(unreadable()),
        }
    }

    /// Staff code of whoever locked the desk.
    pub fn code(&self) -> &str {
        &self.code
    }

    /// The roster as it was when the desk was locked.
    pub fn staff(&self) -> &[Staff] {
        &self.staff
    }

    /// The rules then in force.
    pub fn rules(&self) -> Option<&Rules> {
        self.rules.as_ref()
    }

    /// The tag of the chart with this number.
    ///
    /// # Errors
    /// When the chart was not known when the desk was locked.
    pub fn tag_of(&self, chart_no: &str) -> Outcome<String> {
        let wanted = chart_no.trim();
        let found = self.charts.iter().find(|c| c.chart_no.eq_ignore_ascii_case(wanted));
        found.map(|c| c.tag.clone()).ok_or_else(|| {
            Trouble::new(
                Kind::NotFound,
                "The locked desk knows no chart with this number.",
                "Nothing was recorded.",
                "Check the number. A chart opened after the desk was locked needs `inkfast unlock` first.",
            )
        })
    }

    /// Puts right the labels that rest on what can't be read now, and says that it was not read. What
    /// was not known when the desk was locked counts to the side of the label.
    pub fn relabel(&self, tag: Option<&str>, holds: &[u64], labels: &mut Vec<Label>) {
        if let Some(chart) = tag.and_then(|t| self.charts.iter().find(|c| c.tag == t))
            && holds.iter().all(|seq| chart.lifted.contains(seq))
        {
            labels.retain(|l| *l != Label::AfterHold);
        }
        labels.push(Label::DeskLocked);
    }
}

/// The holds that the chart's entries lift.
fn lifted(practice: &Practice, tag: &str) -> Outcome<Vec<u64>> {
    let lifted = practice.chart_of(tag, &["hold-lifted"], 0)?;
    let hold = |entry: &Entry| match entry.data() {
        Some(Data::HoldLifted(data)) => Some(data.hold),
        _ => None,
    };
    Ok(lifted.iter().filter_map(hold).collect())
}

/// Entries of this kind in a chart, by their leaves alone.
///
/// # Errors
/// When the ledger can't be read.
pub fn of_kind(practice: &Practice, tag: &str, kind: &str) -> Outcome<Vec<EntryAt>> {
    let mut found = practice.of_chart(tag, 0)?;
    found.retain(|at| &*at.kind == kind);
    Ok(found)
}

fn seed(text: &str) -> Option<Zeroizing<[u8; 32]>> {
    let bytes = Zeroizing::new(data_encoding::BASE64.decode(text.as_bytes()).ok()?);
    let mut seed = Zeroizing::new([0u8; 32]);
    if bytes.len() != seed.len() {
        return None;
    }
    seed.copy_from_slice(&bytes);
    Some(seed)
}

fn not_a_writer() -> Trouble {
    Trouble::new(
        Kind::Locked,
        "This person may verify, but neither read nor write, so a locked desk can't add for them.",
        "Nothing was changed.",
        "Lock it with `inkfast lock`.",
    )
}

fn unreadable() -> Trouble {
    Trouble::new(
        Kind::Locked,
        "What the locked desk keeps can't be used with this store.",
        "Nothing was changed.",
        "Unlock anew with `inkfast unlock`.",
    )
}
