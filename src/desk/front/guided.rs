//! A page that asks the questions of a command's form, and hands the answers to the command.

use crate::cli::commands::entries::form;
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
    /// What stands above the questions.
    pub above: Markup,
    /// What is asked besides.
    pub more: Markup,
    /// True where a file comes with the answers.
    pub with_file: bool,
}

impl Guided {
    /// The questions of one form (its name in `cli/forms`), and nothing besides.
    ///
    /// # Errors
    /// When there is no such form.
    pub fn new(name: &str, title: &'static str, action: String, back: String) -> Outcome<Guided> {
        let form = form(name)?.form;
        Ok(Guided { title, action, back, form, above: html! {}, more: html! {}, with_file: false })
    }

    /// True once every question is answered.
    pub fn is_whole(&self, call: &Call<'_>) -> bool {
        asks::is_whole(call, &asks::typed(call, &self.form))
    }

    /// The page.
    pub fn page(&self, call: &Call<'_>, trouble: Option<&Trouble>) -> Reply {
        let inside = html! {
            (asks::fields(call, &self.form, &[]))
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
            @if self.with_file { (call.form_with_files(&self.action, &inside)) }
            @else { (call.form(&self.action, &inside)) }
        };
        Reply::page(call, self.title, main).conflicts(trouble)
    }

    /// Hands the answers on once every question is answered; else the page once more, with what is wrong.
    pub fn answer(&self, call: &Call<'_>, begin: &[&str], more: &[String]) -> Outcome<Reply> {
        let typed = asks::typed(call, &self.form);
        if !asks::is_whole(call, &typed) {
            return Ok(self.page(call, None));
        }
        let mut words: Vec<String> = begin.iter().map(|word| (*word).to_string()).collect();
        words.extend_from_slice(more);
        words.extend(asks::words(call, &self.form, &typed));
        match done(call.run(&words)) {
            Err(trouble) => Ok(self.page(call, Some(&trouble))),
            Ok(ran) => {
                call.notice(recorded(call, &ran));
                Ok(Reply::to(self.back.clone()))
            }
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

/// The field for when it happened, where that is not now.
pub fn when_line(call: &Call<'_>) -> Markup {
    line(call, "happened", "desk-happened", Some("desk-happened-hint"))
}

/// What [`when_line`] asks, as the command's word.
pub fn when(call: &Call<'_>) -> Vec<String> {
    call.field("happened").map(|at| format!("--happened={at}")).into_iter().collect()
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

/// A command that was done. One that ended in another way is a trouble: what it remarked says why.
///
/// # Errors
/// When it was not done.
pub fn done(ran: Outcome<Ran>) -> Outcome<Ran> {
    let ran = ran?;
    if ran.exit == Exit::Done { Ok(ran) } else { Err(not_done(&ran)) }
}

fn not_done(ran: &Ran) -> Trouble {
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
