//! One call of a page: what was asked and typed, by which browser, and what a page may do with it.

use super::catalogue::Lang;
use super::run::{Ran, run};
use super::server::Desk;
use super::visitor::Visitor;
use crate::cli::clock::Now;
use crate::practice::chart::{ChartFace, find};
use crate::practice::open::Practice;
use crate::practice::place::Place;
use crate::practice::session::Session;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::world::World;
use maud::{Markup, html};
use std::collections::HashMap;

/// A file that came with a form.
#[derive(Debug, Clone)]
pub struct Upload {
    /// Its name on the visitor's computer. Never kept as it is.
    pub name: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// What came with a call.
#[derive(Debug, Default)]
pub struct Given {
    /// Names and values of a form or of an address, in order.
    pub fields: Vec<(String, String)>,
    /// Files of a form.
    pub uploads: Vec<(String, Upload)>,
    /// The parts of the address that the route names.
    pub params: HashMap<String, String>,
    /// The address.
    pub path: String,
    /// True when the page is only looked at, so that its address may be called again.
    pub looks: bool,
}

impl Given {
    /// What was typed, without its secrets and without what belongs to one page only.
    pub fn typed(&self) -> Vec<(String, String)> {
        const NOT_KEPT: [&str; 3] = ["form-word", "pin", "passphrase"];
        let kept = self.fields.iter().filter(|(name, _)| !NOT_KEPT.contains(&name.as_str()));
        kept.cloned().collect()
    }
}

/// One call.
pub struct Call<'a> {
    /// The desk that answers.
    pub desk: &'a Desk,
    /// What came with it.
    pub given: Given,
    /// The browser as it was when it called; none before it came in.
    pub visitor: Option<Visitor>,
    /// Language to answer in.
    pub lang: Lang,
}

impl Call<'_> {
    /// The part of the address that the route calls `name`; empty where there is none.
    pub fn param(&self, name: &str) -> &str {
        self.given.params.get(name).map_or("", String::as_str)
    }

    /// What was typed under a name; none where nothing was, or only blanks.
    pub fn field(&self, name: &str) -> Option<&str> {
        let found = self.given.fields.iter().find(|(n, v)| n == name && !v.trim().is_empty());
        found.map(|(_, value)| value.trim())
    }

    /// Everything given under a name.
    pub fn fields(&self, name: &str) -> Vec<&str> {
        self.given.fields.iter().filter(|(n, _)| n == name).map(|(_, v)| v.as_str()).collect()
    }

    /// The file given under a name; none where no file was chosen.
    pub fn upload(&self, name: &str) -> Option<&Upload> {
        let found = self.given.uploads.iter().find(|(n, file)| n == name && !file.bytes.is_empty());
        found.map(|(_, file)| file)
    }

    /// A text of the catalogue.
    pub fn t(&self, key: &str) -> String {
        self.lang.text(key, &[])
    }

    /// A text of the catalogue with values put in.
    pub fn t_with(&self, key: &str, put_in: &[(&str, &str)]) -> String {
        self.lang.text(key, put_in)
    }

    /// Staff code of whoever is unlocked in the browser; empty where nobody is.
    pub fn who(&self) -> &str {
        self.visitor.as_ref().and_then(|v| v.code.as_deref()).unwrap_or_default()
    }

    /// The chart that `{slot}` in the address stands for.
    ///
    /// # Errors
    /// When this browser knows no such chart: its addresses are forgotten when it leaves.
    pub fn chart(&self) -> Outcome<&str> {
        let known = self.visitor.as_ref().and_then(|v| v.chart(self.param("slot")));
        known.ok_or_else(|| {
            Trouble::new(
                Kind::NotFound,
                "This address stands for no chart in this browser any more.",
                "Nothing was shown or changed.",
                "Go to the list of today and choose the chart again.",
            )
        })
    }

    /// The chart that `{slot}` in the address stands for, who it is of, and the practice it was read from.
    ///
    /// # Errors
    /// As [`Call::practice`] and [`Call::chart`]; or when the chart is not there.
    pub fn face(&self) -> Outcome<(Practice, ChartFace)> {
        let practice = self.practice()?;
        let face = find(&practice, self.chart()?)?;
        Ok((practice, face))
    }

    /// The word that stands for a chart in this browser's addresses.
    ///
    /// # Errors
    /// When the system has no random numbers, or the browser was put out.
    pub fn slot(&self, chart: &str) -> Outcome<String> {
        self.with_visitor(|visitor| {
            visitor
                .slot(&self.desk.world, chart)
                .map_err(|e| Trouble::disk("get random numbers for", &self.desk.order.root, &e))
        })?
    }

    /// Says something once, at the head of the browser's next page.
    pub fn notice(&self, text: String) {
        let _ = self.with_visitor(|visitor| visitor.notice = Some(text));
    }

    /// Keeps something for the browser's next step, in memory only; it is gone when the page locks.
    pub fn keep(&self, name: &str, value: String) {
        let _ = self.with_visitor(|visitor| visitor.kept.insert(name.to_string(), value));
    }

    /// Takes back what was kept for this step.
    pub fn take_kept(&self, name: &str) -> Option<String> {
        self.with_visitor(|visitor| visitor.kept.remove(name)).ok().flatten()
    }

    /// Looks at what was kept for this step.
    pub fn kept(&self, name: &str) -> Option<String> {
        self.with_visitor(|visitor| visitor.kept.get(name).cloned()).ok().flatten()
    }

    /// Changes something about the browser.
    pub(super) fn with_visitor<T>(&self, change: impl FnOnce(&mut Visitor) -> T) -> Outcome<T> {
        let gone = || {
            Trouble::new(
                Kind::Locked,
                "This browser was put out.",
                "Nothing was changed.",
                "Open the page with a new link: press Enter in the window of `inkfast desk`.",
            )
        };
        let cookie = self.visitor.as_ref().map(|v| v.cookie.clone()).ok_or_else(gone)?;
        let mut visitors = self.desk.visitors();
        visitors.get(&cookie).map(change).ok_or_else(gone)
    }

    /// Runs a command of the command line as whoever is unlocked, with the store, with `--json`; the short number
    /// typed on the page goes along.
    ///
    /// # Errors
    /// As the command ends.
    pub fn run<W: AsRef<str>>(&self, words: &[W]) -> Outcome<Ran> {
        let pin: Vec<&str> = self.field("pin").into_iter().collect();
        self.run_with(words, &pin)
    }

    /// As [`Call::run`], with the secrets it asks for, in order.
    ///
    /// # Errors
    /// As the command ends.
    pub fn run_with<W: AsRef<str>>(&self, words: &[W], secrets: &[&str]) -> Outcome<Ran> {
        let words: Vec<&str> = words.iter().map(AsRef::as_ref).collect();
        run(self, &words, Some(self.who()).filter(|code| !code.is_empty()), secrets)
    }

    /// The place of the store.
    ///
    /// # Errors
    /// When it can't be read.
    pub fn place(&self) -> Outcome<Place> {
        self.desk.place()
    }

    /// The practice, opened to read as whoever is unlocked. Whatever shows something of a chart leaves an entry
    /// that it was opened; the commands do that by themselves.
    ///
    /// # Errors
    /// When nobody is unlocked any more, or the store can't be read.
    pub fn practice(&self) -> Outcome<Practice> {
        use crate::cli::keeper::{Held, held};
        let place = self.place()?;
        match held(&place) {
            Some(Held::Open(opened)) if opened.me.code == self.who() => {
                let mut session =
                    Session::remembering(&self.desk.world, &place, opened.me, opened.file_keys.into())?;
                session.asks_pin = opened.asks_pin;
                Practice::open(&self.desk.world, &place, session, &self.desk.order.station)
            }
            _ => Err(Trouble::new(
                Kind::Locked,
                "Nobody is unlocked here any more.",
                "Nothing was shown or changed.",
                "Unlock the page and go on.",
            )),
        }
    }

    /// Whether the short number is asked again to sign.
    pub fn asks_pin(&self) -> bool {
        self.place().ok().and_then(|place| crate::cli::keeper::look(&place)).is_some_and(|look| look.asks_pin)
    }

    /// Seconds until the page locks itself if nobody works; none where nobody is unlocked.
    pub fn seconds_left(&self) -> Option<u64> {
        let place = self.place().ok().filter(|_| !self.who().is_empty())?;
        crate::cli::keeper::look(&place).map(|look| look.seconds_left)
    }

    /// Now, in the computer's time zone.
    pub fn now(&self) -> Now {
        Now::in_zone(self.desk.world.clock.now(), jiff::tz::TimeZone::system())
    }

    /// The seams to the outside.
    pub fn world(&self) -> &World {
        &self.desk.world
    }

    /// A form of ours: it carries the word that only our own pages know.
    pub fn form(&self, action: &str, inside: &Markup) -> Markup {
        html! {
            form method="post" action=(action) {
                (self.form_word())
                (inside)
            }
        }
    }

    /// As [`Call::form`], for a form that brings files.
    pub fn form_with_files(&self, action: &str, inside: &Markup) -> Markup {
        html! {
            form method="post" action=(action) enctype="multipart/form-data" {
                (self.form_word())
                (inside)
            }
        }
    }

    /// The hidden field with the word that only our own pages know.
    pub fn form_word(&self) -> Markup {
        let word = self.visitor.as_ref().map_or("", |v| v.form_word.as_str());
        html! { input type="hidden" name="form-word" value=(word); }
    }

    /// The field for the short number, where one is asked for.
    pub fn pin_field(&self) -> Markup {
        html! {
            @if self.asks_pin() {
                p.field {
                    label for="pin" { (self.t("pin-label")) }
                    input #pin type="password" name="pin" inputmode="numeric" autocomplete="off" required;
                }
            }
        }
    }
}
