//! The page that asks why a chart is opened, in front of whatever shows something of it: the reason goes with the
//! command, which leaves the entry that it was looked at.

use super::{about, back_to_chart};
use crate::desk::asks::plain;
use crate::desk::{Call, Reply, frame};
use crate::record::kinds::release::AccessWhy;
use crate::trouble::{Kind, Outcome, Trouble};
use maud::{Markup, html};

/// What is shown once a reason is given.
pub struct Shows {
    /// Key of the title.
    pub title: &'static str,
    /// The address within the chart.
    pub address: &'static str,
    /// Key of the button.
    pub button: &'static str,
    /// The command, in front of the chart's number.
    pub command: &'static [&'static str],
}

impl Shows {
    /// The page that asks.
    pub fn ask(&self, call: &Call<'_>, trouble: Option<&Trouble>) -> Outcome<Reply> {
        let (_, face) = call.face()?;
        let inside = html! {
            (fields(call))
            div.actions { button.main type="submit" { (call.t(self.button)) } }
        };
        let main = html! {
            h1 { (call.t(self.title)) }
            (about(call, &face))
            p { (call.t("desk-record-why")) }
            @if let Some(trouble) = trouble { (frame::trouble_box(call, trouble)) }
            (call.form(&format!("/chart/{}/{}", call.param("slot"), self.address), &inside))
            (back_to_chart(call))
        };
        Ok(Reply::page(call, self.title, main).conflicts(trouble))
    }

    /// Runs the command, whose words `run` is given, with the reason that was typed. Where a reason is still to be
    /// given, the page that asks comes back in the place of a result.
    pub fn shown<T>(
        &self,
        call: &Call<'_>,
        run: impl FnOnce(&[String]) -> Outcome<T>,
    ) -> Outcome<Result<T, Reply>> {
        let mut words: Vec<String> = self.command.iter().map(|word| (*word).to_string()).collect();
        words.push(call.chart()?.to_string());
        let said = |flag: &&str| Some(format!("--{flag}={}", call.field(flag)?));
        words.extend(["why", "words"].iter().filter_map(said));
        match run(&words) {
            Ok(shown) => Ok(Ok(shown)),
            Err(trouble) if trouble.kind == Kind::Refused => self.ask(call, Some(&trouble)).map(Err),
            Err(trouble) => Err(trouble),
        }
    }
}

/// The fields that ask: the command's own words.
fn fields(call: &Call<'_>) -> Markup {
    let chosen = call.field("why").unwrap_or_default();
    html! {
        fieldset.choose {
            legend { (call.t("desk-why")) }
            span.hint { (call.t("desk-why-hint")) }
            div.choices {
                @for word in AccessWhy::WORDS {
                    span.choice {
                        input type="radio" id=(format!("why-{word}")) name="why" value=(word) checked[chosen == *word];
                        label for=(format!("why-{word}")) lang="en" { (plain(word)) }
                    }
                }
            }
        }
        p.field {
            label for="why-words" { (call.t("desk-why-words")) }
            input #why-words name="words" value=(call.field("words").unwrap_or_default()) autocomplete="off";
        }
    }
}
