//! What is asked of the patient, set up by the practitioner. It is kept sealed as the draft of the consent.

use super::{KIND, form, waiting};
use crate::cli::form::Form;
use crate::desk::call::{Call, Given};
use crate::desk::room::{Question, question_of};
use crate::desk::{Reply, asks};
use crate::practice::chart::{ChartFace, deciders as on_file};
use crate::practice::drafts::Kept;
use crate::practice::open::Practice;
use crate::practice::signature::{Adopted, wordings};
use crate::record::kinds::identity::{DecisionBy, DecisionMaker};
use crate::record::vocab::Technique;
use crate::trouble::{Outcome, Trouble};
use maud::{Markup, html};
use serde_json::{Value, json};

/// Questions that the page answers itself: how it is given is known, and the rest is the patient's.
const OWN: [&str; 9] = [
    "status",
    "form",
    "heard-by",
    "giver-name",
    "signature-image",
    "paper",
    "declined-because",
    "wording",
    "rest",
];

/// The questions by heading: key, and the flags under it.
const GROUPS: [(&str, &[&str]); 5] = [
    ("consent-group-what", &["kind", "techniques", "regions", "side", "matter"]),
    (
        "consent-group-explained",
        &[
            "no-wording-because",
            "explained-by",
            "explained-at",
            "procedures",
            "alternatives",
            "risks",
            "own-risks",
            "questions",
            "answered",
        ],
    ),
    (
        "consent-group-who",
        &[
            "given-by",
            "giver",
            "interpreter",
            "interpreter-language",
            "interpreter-independent",
            "interpreter-telephone",
            "witness",
            "witness-code",
            "witness-relation",
            "witness-at",
            "chaperone-offered",
            "chaperone",
            "chaperone-name",
        ],
    ),
    (
        "consent-group-conditions",
        &["excluded", "limits", "allowed", "allowed-who", "conditions", "stop-signal", "patient-words"],
    ),
    ("consent-group-until", &["from", "last-day", "ends-on", "copy-given", "capacity-remark"]),
];

/// The form without what the page answers itself.
fn asked() -> Outcome<Form> {
    let mut asked = form()?.form;
    asked.questions.retain(|question| !OWN.contains(&question.flag));
    Ok(asked)
}

/// The page, begun with what is known.
pub fn first(call: &Call<'_>) -> Outcome<Reply> {
    let (practice, face) = call.face()?;
    let question = question_of(&practice, &face)?;
    let adopted = for_consent(&practice)?;
    let deciders = deciders(&practice, &face)?;
    let fields = begin(call, question.as_ref(), &deciders);
    let begun = Call {
        desk: call.desk,
        given: Given {
            fields,
            params: call.given.params.clone(),
            path: call.given.path.clone(),
            uploads: Vec::new(),
            ..Given::default()
        },
        visitor: call.visitor.clone(),
        lang: call.lang,
    };
    let chosen = adopted.last().map(|a| a.wording.code.clone());
    let waits = waiting(&practice, &face)?.is_some();
    page(&begun, &face, (&adopted, chosen.as_deref()), &deciders, waits)
}

/// What is known before anything is typed.
fn begin(call: &Call<'_>, question: Option<&Question>, deciders: &[DecisionMaker]) -> Vec<(String, String)> {
    let inside = question.is_some_and(|q| q.technique == Technique::Intraoral);
    let mut fields: Vec<(&str, String)> =
        vec![("kind", if inside { "inside-mouth" } else { "treatment" }.to_string())];
    if let Some(question) = question {
        fields.push(("techniques", question.technique.word().to_string()));
        fields.push(("regions", question.region.word().to_string()));
        fields.push(("side", question.side.word().to_string()));
    }
    fields.push(("explained-by", call.who().to_string()));
    fields.push(("explained-at", "now".to_string()));
    match deciders {
        [one] => {
            fields.push(("given-by", "decision-maker".to_string()));
            fields.push(("giver", one.person_id.clone()));
        }
        _ => fields.push(("given-by", "self".to_string())),
    }
    fields.into_iter().map(|(name, value)| (name.to_string(), value)).collect()
}

/// Wordings that consents use; where none says so, all.
fn for_consent(practice: &Practice) -> Outcome<Vec<Adopted>> {
    let mut all = wordings(practice)?;
    // A later edition under the same code takes the place of the earlier.
    let newest = |at: &Adopted, all: &[Adopted]| {
        !all.iter().any(|o| o.wording.code == at.wording.code && o.seq > at.seq)
    };
    all = all.iter().filter(|a| newest(a, &all)).cloned().collect();
    let fits = |adopted: &Adopted| adopted.wording.use_for.iter().any(|word| word.contains("consent"));
    if all.iter().any(fits) {
        all.retain(fits);
    }
    Ok(all)
}

/// Who may consent for the patient, where the patient does not decide.
fn deciders(practice: &Practice, face: &ChartFace) -> Outcome<Vec<DecisionMaker>> {
    if face.identity.decision_maker == DecisionBy::Oneself {
        return Ok(Vec::new());
    }
    let mut all = on_file(&practice.chart_of(&face.tag, &["decision-maker"], 0)?);
    all.retain(|one| one.may_consent);
    Ok(all)
}

fn page(
    call: &Call<'_>,
    face: &ChartFace,
    (adopted, chosen): (&[Adopted], Option<&str>),
    deciders: &[DecisionMaker],
    waits: bool,
) -> Outcome<Reply> {
    let form = asked()?;
    let slot = call.param("slot");
    let flags: Vec<&str> = form.questions.iter().map(|q| q.flag).collect();
    let group = |of: &[&str]| {
        // Why there is no wording is asked only where none is chosen.
        let unasked = |flag: &str| flag == "no-wording-because" && chosen.is_some();
        let others: Vec<&str> =
            flags.iter().copied().filter(|flag| !of.contains(flag) || unasked(flag)).collect();
        asks::fields(call, &form, &others)
    };
    let turned = !call.fields("asked").is_empty();
    let main = html! {
        div.consent-setup {
            header.patient {
                h1 { (call.t("consent-title")) }
                p.who { strong { (face.identity.legal_name) } span.number { (face.chart_no) } }
            }
            @if turned { p.notice role="status" { (call.t("consent-more")) } }
            @if waits && !turned {
                (call.form(&format!("/consent/{slot}"), &html! {
                    p { (call.t("consent-waits")) }
                    button.main type="submit" name="go-on" value="yes" { (call.t("consent-turn")) }
                }))
            }
            (call.form(&format!("/consent/{slot}"), &html! {
                (wording_choice(call, adopted, chosen))
                @for (key, of) in &GROUPS[..3] {
                    section aria-labelledby=(key) { h2 id=(key) { (call.t(key)) }
                        @if *key == "consent-group-who" { (decider_list(call, deciders)) }
                        (group(of))
                    }
                }
                details.more open[turned] {
                    summary { (call.t("consent-group-more")) }
                    @for (key, of) in &GROUPS[3..] {
                        section aria-labelledby=(key) { h2 id=(key) { (call.t(key)) } (group(of)) }
                    }
                    (rest_choice(call))
                }
                (language_choice(call, face))
                button.main.huge type="submit" { (call.t("consent-turn")) }
                p.small { (call.t("consent-turn-why")) }
            }))
            p { a.button href=(format!("/room/{slot}")) { (call.t("room-back")) } }
        }
    };
    Ok(Reply::page(call, "consent-title", main))
}

fn decider_list(call: &Call<'_>, deciders: &[DecisionMaker]) -> Markup {
    html! {
        @if !deciders.is_empty() {
            p { (call.t("consent-deciders")) }
            ul {
                @for one in deciders { li { strong { (one.person_id) } ": " (one.name) ", " (one.relation) } }
            }
        }
    }
}

/// The wordings that are in force, each with its whole text to look at.
fn wording_choice(call: &Call<'_>, adopted: &[Adopted], chosen: Option<&str>) -> Markup {
    html! {
        fieldset.wordings {
            legend { (call.t("consent-wording")) }
            input type="hidden" name="asked" value="wording";
            @for one in adopted {
                @let id = format!("wording-{}", one.seq);
                div.wording-choice {
                    span.choice {
                        input type="radio" name="wording" value=(one.wording.code) id=(id)
                            checked[chosen == Some(one.wording.code.as_str())];
                        label for=(id) { strong { (one.wording.code) } " " span lang=(one.wording.language) { (one.wording.title) } " (" (one.wording.language) ")" }
                    }
                    details {
                        summary { (call.t_with("consent-wording-read", &[("code", &one.wording.code)])) }
                        div.text lang=(one.wording.language) { (super::patient::text(&one.wording.text)) }
                    }
                }
            }
            @if adopted.is_empty() { p { (call.t("consent-no-wording")) } }
        }
    }
}

fn rest_choice(call: &Call<'_>) -> Markup {
    let now = call.field("rest").unwrap_or_default();
    html! {
        fieldset {
            legend { (call.t("consent-rest")) }
            div.choices {
                @for word in ["kept", "withdrawn"] {
                    span.choice {
                        input type="radio" name="rest" value=(word) id=(format!("rest-{word}")) checked[now == word];
                        label for=(format!("rest-{word}")) { (call.t(&format!("consent-rest-{word}"))) }
                    }
                }
            }
        }
    }
}

/// In which language the page around the wording speaks to the patient.
fn language_choice(call: &Call<'_>, face: &ChartFace) -> Markup {
    use crate::desk::catalogue::Lang;
    let own = face.identity.language.split('-').next().and_then(Lang::from_tag).unwrap_or(call.lang);
    let now = call.field("patient-language").and_then(Lang::from_tag).unwrap_or(own);
    html! {
        fieldset {
            legend { (call.t("consent-language")) }
            div.choices {
                @for lang in Lang::ALL {
                    span.choice {
                        input type="radio" name="patient-language" value=(lang.tag()) id=(format!("lang-{}", lang.tag())) checked[lang == now];
                        label for=(format!("lang-{}", lang.tag())) lang=(lang.tag()) { (lang.name()) }
                    }
                }
            }
        }
    }
}

/// Keeps what was set up and turns the screen; or asks what is open still.
pub fn set_up(call: &Call<'_>) -> Outcome<Reply> {
    let (practice, face) = call.face()?;
    if call.field("go-on").is_some() && waiting(&practice, &face)?.is_some() {
        return turn(call);
    }
    let form = asked()?;
    let adopted = for_consent(&practice)?;
    let lacks_wording = call.field("wording").is_none();
    let mut typed = asks::typed(call, &form);
    if !lacks_wording {
        // The reason why there is none is asked only where none is chosen.
        typed.open.retain(|flag| *flag != "no-wording-because");
        typed.asked.retain(|flag| *flag != "no-wording-because");
    }
    if !asks::is_whole(call, &typed) {
        return page(call, &face, (&adopted, call.field("wording")), &deciders(&practice, &face)?, false);
    }
    let mut data = typed.answers;
    if let Some(code) = call.field("wording") {
        data["wording"] = json!(code);
    }
    if let Some(rest) = call.field("rest") {
        data["rest_of_earlier"] = json!(rest);
    }
    // What the command would take where nothing is said is put before the patient too.
    for flag in ["from", "last-day"] {
        let question = form.questions.iter().find(|question| question.flag == flag);
        let Some(question) = question.filter(|question| !question.answered(&data)) else { continue };
        let day = question.proposed(&data, &call.now()).and_then(|text| call.now().read_date(&text).ok());
        if let Some(day) = day {
            crate::cli::place::set(&mut data, question.path, json!(crate::record::kinds::Day(day)))
                .map_err(|e| Trouble::input(e.to_string(), "Set it up again."))?;
        }
    }
    // Held against the layout now: what can't be recorded is not put before a patient.
    super::consent_of(&data)?;
    let (by, begun) = (call.who().to_string(), call.now().at);
    practice.keep_draft(&Kept {
        kind: KIND.to_string(),
        chart: Some(face.tag.clone()),
        by,
        begun,
        data: plain(data),
    })?;
    turn(call)
}

/// Without empty places.
fn plain(mut data: Value) -> Value {
    if let Some(fields) = data.as_object_mut() {
        fields.retain(|_, value| !value.is_null());
    }
    data
}

/// From now on this browser shows the patient's page and nothing else.
fn turn(call: &Call<'_>) -> Outcome<Reply> {
    let page = format!("/consent/{}/show", call.param("slot"));
    if let Some(lang) = call.field("patient-language") {
        call.keep("patients-language", lang.to_string());
    }
    call.with_visitor(|visitor| visitor.patients_page = Some(page.clone()))?;
    Ok(Reply::to(page))
}
