//! The guided questions of the command line as a form of the page: the same questions, the same help, the same
//! answers accepted. What depends on an answer is asked on the next turn of the page, so that no script is needed.

use super::call::Call;
use super::catalogue::Lang;
use super::spoken::{say, say_word};
use crate::cli::answer::AnswerKind;
use crate::cli::fill::Typed;
use crate::cli::form::{Form, Need, Question};
use maud::{Markup, html};
use serde_json::Value;

/// At most so many words are shown as buttons to choose one of; more are a list to open.
const MOST_BUTTONS: usize = 6;

/// Reads what was typed for a form, under the flags of its questions.
pub fn typed(call: &Call<'_>, form: &Form) -> Typed {
    let read = |flag: &str| texts_of(call, form, flag);
    form.read_typed(&read, &call.now())
}

/// True when every question that applies was on the page, and nothing is wrong or open any more.
pub fn is_whole(call: &Call<'_>, typed: &Typed) -> bool {
    let shown = call.fields("asked");
    typed.wrong.is_empty() && typed.open.is_empty() && typed.asked.iter().all(|flag| shown.contains(flag))
}

fn texts_of(call: &Call<'_>, form: &Form, flag: &str) -> Vec<String> {
    let Some(question) = form.questions.iter().find(|q| q.flag == flag) else { return Vec::new() };
    let given = call.fields(flag).into_iter().map(|text| text.trim().to_string()).filter(|t| !t.is_empty());
    match question.kind {
        // One row a line.
        AnswerKind::Rows(_) => {
            given.flat_map(|text| text.lines().map(str::to_string).collect::<Vec<_>>()).collect()
        }
        AnswerKind::ManyOf { .. } => {
            let all: Vec<String> = given.collect();
            if all.is_empty() { all } else { vec![all.join(",")] }
        }
        _ => given.collect(),
    }
}

/// The words that hand the answers to the command: `--flag=answer` for every question that applies.
pub fn words(call: &Call<'_>, form: &Form, typed: &Typed) -> Vec<String> {
    let texts = |flag: &&str| {
        texts_of(call, form, flag).into_iter().map(|text| format!("--{flag}={text}")).collect::<Vec<_>>()
    };
    typed.asked.iter().flat_map(texts).collect()
}

/// The questions that apply now, with what was typed and what is wrong with it; but for those `elsewhere` on the
/// page, by flag.
pub fn fields(call: &Call<'_>, form: &Form, elsewhere: &[&str]) -> Markup {
    let typed = typed(call, form);
    let turned = !call.fields("asked").is_empty();
    html! {
        @for question in form.questions.iter().filter(|q| typed.asked.contains(&q.flag) && !elsewhere.contains(&q.flag)) {
            @let wrong = typed.wrong.iter().find(|(flag, _)| *flag == question.flag).map(|(_, why)| why.as_str());
            @let was_shown = call.fields("asked").contains(&question.flag);
            @let missing = turned && was_shown && typed.open.contains(&question.flag);
            (field(call, form, question, &typed.answers, wrong, missing))
        }
    }
}

fn field(
    call: &Call<'_>,
    form: &Form,
    question: &Question,
    answers: &Value,
    wrong: Option<&str>,
    missing: bool,
) -> Markup {
    let given = texts_of(call, form, question.flag);
    let was_shown = call.fields("asked").contains(&question.flag);
    let proposed = question.proposed(answers, &call.now()).filter(|_| !was_shown);
    let now: Vec<String> = if given.is_empty() { proposed.into_iter().collect() } else { given };
    let id = format!("ask-{}", question.flag);
    let (help_id, wrong_id) = (format!("{id}-help"), format!("{id}-wrong"));
    let bad = wrong.is_some() || missing;
    let described = match (question.help.is_empty(), bad) {
        (true, false) => None,
        (false, false) => Some(help_id.clone()),
        (true, true) => Some(wrong_id.clone()),
        (false, true) => Some(format!("{help_id} {wrong_id}")),
    };
    let label = html! {
        span { (say(call.lang, question.ask)) }
        @if question.need == Need::Optional { " " span.may { (call.t("ask-optional")) } }
    };
    let around = html! {
        @if !question.help.is_empty() { span.hint id=(help_id) { (say(call.lang, question.help)) } }
        @if bad {
            span.wrong id=(wrong_id) { (call.t("ask-wrong")) " " span lang="en" { (wrong.unwrap_or("")) } }
        }
    };
    let one = now.first().map_or("", String::as_str);
    let required = question.need == Need::Required;
    html! {
        input type="hidden" name="asked" value=(question.flag);
        @match question.kind {
            AnswerKind::OneOf(choices) if choices.len() <= MOST_BUTTONS => {
                (choose(&ChooseOne { lang: call.lang, id: &id, name: question.flag, choices, now: &now, many: false }, &label, &around, described, bad))
            }
            AnswerKind::OneOf(choices) => p.field {
                label for=(id) { (label) }
                (around)
                select id=(id) name=(question.flag) aria-describedby=[described] aria-invalid=[bad.then_some("true")] {
                    option value="" { (call.t("ask-choose")) }
                    @for word in choices { option value=(word) selected[*word == one] { (say_word(call.lang, word)) } }
                }
            },
            AnswerKind::ManyOf { choices, .. } => {
                @let now: Vec<String> = now.iter().flat_map(|t| t.split(',')).map(|t| t.trim().to_string()).collect();
                (choose(&ChooseOne { lang: call.lang, id: &id, name: question.flag, choices, now: &now, many: true }, &label, &around, described, bad))
            }
            AnswerKind::YesNo => {
                (choose(&ChooseOne { lang: call.lang, id: &id, name: question.flag, choices: &["yes", "no"], now: &now, many: false }, &label, &around, described, bad))
            }
            AnswerKind::LongWords | AnswerKind::Rows(_) => p.field {
                label for=(id) { (label) }
                (around)
                @if let AnswerKind::Rows(spec) = question.kind { span.hint { (say(call.lang, &spec.accepts())) } }
                textarea id=(id) name=(question.flag) rows="3" aria-describedby=[described]
                    aria-invalid=[bad.then_some("true")] { (now.join("\n")) }
            },
            _ => p.field {
                label for=(id) { (label) }
                (around)
                @if !matches!(question.kind, AnswerKind::Words) { span.hint { (say(call.lang, &question.kind.accepts())) } }
                input id=(id) name=(question.flag) value=(one) autocomplete="off" aria-describedby=[described]
                    aria-invalid=[bad.then_some("true")] aria-required=[required.then_some("true")];
            },
        }
    }
}

struct ChooseOne<'a> {
    lang: Lang,
    id: &'a str,
    name: &'a str,
    choices: &'a [&'static str],
    now: &'a [String],
    many: bool,
}

fn choose(
    what: &ChooseOne<'_>,
    label: &Markup,
    around: &Markup,
    described: Option<String>,
    bad: bool,
) -> Markup {
    let kind = if what.many { "checkbox" } else { "radio" };
    html! {
        fieldset.choose id=(what.id) aria-describedby=[described] data-wrong=[bad.then_some("yes")] {
            legend { (label) }
            (around)
            div.choices {
                @for word in what.choices {
                    @let id = format!("{}-{word}", what.id);
                    span.choice {
                        input type=(kind) id=(id) name=(what.name) value=(word)
                            checked[what.now.iter().any(|n| n == word)];
                        label for=(id) { (say_word(what.lang, word)) }
                    }
                }
            }
        }
    }
}

/// A word of a vocabulary as it is read.
pub fn plain(word: &str) -> String {
    word.replace('-', " ")
}
