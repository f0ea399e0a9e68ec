//! Browsers that came in: which links still open the door, who is unlocked in which browser, and by which random
//! words its addresses name the charts.

use super::catalogue::Lang;
use crate::world::World;
use data_encoding::BASE32_NOPAD;
use std::collections::HashMap;
use std::io;
use std::time::{Duration, Instant};
use subtle::ConstantTimeEq;

/// How many browsers may be in at once; a further one puts out the one that was idle longest.
const MOST_VISITORS: usize = 16;
/// How many links may wait to be used.
const MOST_LINKS: usize = 4;
/// How long a link waits.
const LINK_WAITS: Duration = Duration::from_secs(15 * 60);
/// How many addresses one browser's charts are remembered by.
const MOST_SLOTS: usize = 4096;

/// A word nobody can guess: 160 bits, in letters that may stand in an address.
///
/// # Errors
/// When the system has no random numbers.
pub fn secret_word(world: &World) -> io::Result<String> {
    Ok(BASE32_NOPAD.encode(&world.random32()?[..20]).to_ascii_lowercase())
}

/// Compares two secrets without telling by the time it takes where they differ.
pub fn same(one: &str, other: &str) -> bool {
    one.as_bytes().ct_eq(other.as_bytes()).into()
}

/// One browser.
#[derive(Debug, Clone)]
pub struct Visitor {
    /// The word its cookie holds.
    pub cookie: String,
    /// The word its forms carry.
    pub form_word: String,
    /// Who is unlocked in it.
    pub code: Option<String>,
    /// Language of its pages.
    pub lang: Option<Lang>,
    /// Where it was when it was locked, to go on from there.
    pub back: Option<String>,
    /// Who was unlocked in it before it was locked.
    pub was: Option<String>,
    /// A form that was sent after it was locked, for whoever was unlocked before: its address and its fields.
    pub unsent: Option<(String, Vec<(String, String)>)>,
    /// Said once, at the head of the next page.
    pub notice: Option<String>,
    /// The page that a patient was given to read: until the screen comes back, this browser shows nothing else.
    pub patients_page: Option<String>,
    /// What is only kept until the browser's next step, by name: never written to the disk.
    pub kept: HashMap<String, String>,
    slots: HashMap<String, String>,
    charts: HashMap<String, String>,
    last: Instant,
}

/// All browsers, and the links that let one in.
#[derive(Debug, Default)]
pub struct Visitors {
    inside: HashMap<String, Visitor>,
    links: Vec<(String, Instant)>,
}

impl Visitors {
    /// A new link's word. It lets one browser in, once.
    ///
    /// # Errors
    /// When the system has no random numbers.
    pub fn link(&mut self, world: &World) -> io::Result<String> {
        let word = secret_word(world)?;
        self.links.push((word.clone(), Instant::now()));
        let over = self.links.len().saturating_sub(MOST_LINKS);
        self.links.drain(..over);
        Ok(word)
    }

    /// Lets a browser in by a link; none when the link was used, is too old or was never given.
    ///
    /// # Errors
    /// When the system has no random numbers.
    pub fn come_in(&mut self, world: &World, word: &str) -> io::Result<Option<Visitor>> {
        self.links.retain(|(_, since)| since.elapsed() < LINK_WAITS);
        let Some(at) = self.links.iter().position(|(link, _)| same(link, word)) else { return Ok(None) };
        self.links.remove(at);
        let visitor = Visitor {
            cookie: secret_word(world)?,
            form_word: secret_word(world)?,
            code: None,
            lang: None,
            back: None,
            was: None,
            unsent: None,
            notice: None,
            patients_page: None,
            kept: HashMap::new(),
            slots: HashMap::new(),
            charts: HashMap::new(),
            last: Instant::now(),
        };
        if self.inside.len() >= MOST_VISITORS
            && let Some(longest) = self.inside.values().min_by_key(|v| v.last).map(|v| v.cookie.clone())
        {
            self.inside.remove(&longest);
        }
        self.inside.insert(visitor.cookie.clone(), visitor.clone());
        Ok(Some(visitor))
    }

    /// The browser with this cookie.
    pub fn get(&mut self, cookie: &str) -> Option<&mut Visitor> {
        let visitor = self.inside.get_mut(cookie)?;
        visitor.last = Instant::now();
        Some(visitor)
    }

    /// Locks every browser: nothing is shown in any of them until somebody unlocks.
    pub fn lock_all(&mut self) {
        self.inside.values_mut().for_each(Visitor::lock);
    }

    /// Puts a browser out.
    pub fn leave(&mut self, cookie: &str) {
        self.inside.remove(cookie);
    }
}

impl Visitor {
    /// Nobody is unlocked in it any more, and what it kept for its next step is gone.
    pub fn lock(&mut self) {
        self.was = self.code.take().or(self.was.take());
        self.notice = None;
        self.patients_page = None;
        self.kept.clear();
    }

    /// The word that stands for a chart in this browser's addresses.
    ///
    /// # Errors
    /// When the system has no random numbers.
    pub fn slot(&mut self, world: &World, chart: &str) -> io::Result<String> {
        if let Some(slot) = self.slots.get(chart) {
            return Ok(slot.clone());
        }
        if self.slots.len() >= MOST_SLOTS {
            self.slots.clear();
            self.charts.clear();
        }
        let slot = secret_word(world)?[..12].to_string();
        self.slots.insert(chart.to_string(), slot.clone());
        self.charts.insert(slot.clone(), chart.to_string());
        Ok(slot)
    }

    /// The chart that a word in an address stands for.
    pub fn chart(&self, slot: &str) -> Option<&str> {
        self.charts.get(slot).map(String::as_str)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_link_lets_one_browser_in_once() {
        let (world, mut all) = (World::real(), Visitors::default());
        let link = all.link(&world).unwrap();
        assert!(all.come_in(&world, "something").unwrap().is_none());
        let visitor = all.come_in(&world, &link).unwrap().unwrap();
        assert!(all.come_in(&world, &link).unwrap().is_none(), "used");
        assert!(all.get(&visitor.cookie).is_some());
        all.leave(&visitor.cookie);
        assert!(all.get(&visitor.cookie).is_none());
    }

    #[test]
    fn a_chart_has_one_word_in_one_browser_and_another_in_another() {
        let (world, mut all) = (World::real(), Visitors::default());
        let mut enter = || {
            let link = all.link(&world).unwrap();
            all.come_in(&world, &link).unwrap().unwrap()
        };
        let (mut one, mut other) = (enter(), enter());
        let slot = one.slot(&world, "PM-0112").unwrap();
        assert_eq!(one.slot(&world, "PM-0112").unwrap(), slot);
        assert_eq!(one.chart(&slot), Some("PM-0112"));
        assert_eq!(other.chart(&slot), None);
        assert_ne!(other.slot(&world, "PM-0112").unwrap(), slot);
    }
}
