//! A page that asks the questions of a command's form, and hands the answers to the command.

use crate::cli::exit::Exit;
use crate::cli::form::Form;
use crate::desk::run::Ran;
use crate::desk::{Call, Reply, asks, frame};
use crate::trouble::{Outcome, Trouble};
use maud::{Markup, html};

/// What is asked, and where it leads.
pub struct Guided {
    /// Key of the page's title.
    pub title: &'static str,
    /// Where the form goes.
    pub action: String,
    /// Where the page leads once it is recorded, and by its way back.
    pub back: String,
    /// The questions.
    pub form: Form,
    /// Flags of questions that are answered already and not put.
    pub known: &'static [&'static str],
    /// What stands above the questions.
    pub above: Markup,
    /// What is asked besides.
    pub more: Markup,
}

impl Guided {
    /// The page.
    pub fn page(&self, call: &Call<'_>, trouble: Option<&Trouble>) -> Reply {
        let inside = html! {
            (asks::fields(call, &self.form, self.known))
            (self.more)
            div.actions {
                button.main type="submit" { (call.t("desk-record")) }
                a href=(self.back) { (call.t("desk-do-not")) }
            }
        };
        let main = html! {
            h1 { (call.t(self.title)) }
            (self.above)
            @if let Some(trouble) = trouble { (frame::trouble_box(call, trouble)) }
            (call.form(&self.action, &inside))
        };
        let reply = Reply::page(call, self.title, main);
        if trouble.is_some() { reply.status(409) } else { reply }
    }

    /// Hands the answers on once every question is answered; else the page once more, with what is wrong.
    pub fn answer(&self, call: &Call<'_>, begin: &[&str], more: &[String]) -> Outcome<Reply> {
        self.answer_with(call, |words| {
            let all: Vec<&str> =
                begin.iter().copied().chain(more.iter().chain(words).map(String::as_str)).collect();
            call.run(&all)
        })
    }

    /// As [`Guided::answer`], by `run`, which is given the answers as words of a command.
    pub fn answer_with(
        &self,
        call: &Call<'_>,
        run: impl FnOnce(&[String]) -> Outcome<Ran>,
    ) -> Outcome<Reply> {
        if !asks::is_answered(call, &self.form) {
            return Ok(self.page(call, None));
        }
        let words: Vec<String> = asks::words(call, &self.form)
            .into_iter()
            .filter(|word| !self.known.iter().any(|flag| word.starts_with(&format!("--{flag}="))))
            .collect();
        match run(&words) {
            Err(trouble) => Ok(self.page(call, Some(&trouble))),
            Ok(ran) if ran.exit == Exit::Done => {
                call.notice(recorded(call, &ran));
                Ok(Reply::to(self.back.clone()))
            }
            Ok(ran) => Ok(self.page(call, Some(&not_done(&ran)))),
        }
    }
}

/// A field for words that are no question of a form; `kept` is what it holds before anything was typed.
pub fn line(call: &Call<'_>, name: &str, label: &str, hint: Option<&str>) -> Markup {
    let id = format!("more-{name}");
    let hint_id = hint.map(|_| format!("{id}-hint"));
    html! {
        p.field {
            label for=(id) { (call.t(label)) }
            @if let Some(hint) = hint { span.hint id=[hint_id.as_deref()] { (call.t(hint)) } }
            input id=(id) name=(name) value=(call.field(name).unwrap_or_default()) autocomplete="off"
                aria-describedby=[hint_id.as_deref()];
        }
    }
}

/// What was recorded, to be said on the next page.
fn recorded(call: &Call<'_>, ran: &Ran) -> String {
    let number =
        ["entry", "seq", "number", "recorded", "day_closed"].iter().find_map(|name| ran.json[*name].as_u64());
    let mut said = match number {
        Some(number) => call.t_with("desk-recorded-as", &[("number", &number.to_string())]),
        None => call.t("desk-recorded"),
    };
    for remark in &ran.said {
        said.push(' ');
        said.push_str(remark.trim());
    }
    said
}

/// A command that ended in another way than done, as a trouble: what it remarked says why.
pub fn not_done(ran: &Ran) -> Trouble {
    let mut said = ran.said.join(" ");
    for stop in ran.json.as_array().into_iter().flatten() {
        let (words, next) =
            (stop["words"].as_str().unwrap_or_default(), stop["next"].as_str().unwrap_or_default());
        said.push_str(&format!(" {words} {next}"));
    }
    let what = match said.trim() {
        "" => "Something is to be answered first.",
        said => said,
    };
    Trouble::input(what, "Answer it here and do it again.")
}
