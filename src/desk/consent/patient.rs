//! The patient's own page: the whole wording, what is agreed to in plain words, yes or no, and the signature. Nothing
//! else is on it and nothing leads away from it.

use super::lines::lines;
use super::{back_form, consent_of, waiting};
use crate::desk::call::Call;
use crate::desk::catalogue::Lang;
use crate::desk::{Reply, pipe};
use crate::practice::chart::{ChartFace, deciders};
use crate::practice::drafts::Kept;
use crate::practice::open::Practice;
use crate::practice::signature::{Adopted, wording};
use crate::record::kinds::consent::Consent;
use crate::record::moment::plain_date;
use crate::record::signature::{Drawn, Shown, SignatureFile, Typed};
use crate::trouble::{Kind, Outcome, Trouble};
use maud::{Markup, html};

/// Everything the page shows.
struct Paper {
    kept: Kept,
    adopted: Option<Adopted>,
    /// Who signs.
    giver: String,
    /// The patient.
    patient: String,
    lang: Lang,
    /// What was agreed to, line by line.
    lines: Vec<(String, String)>,
}

impl Paper {
    fn of(call: &Call<'_>, practice: &Practice, face: &ChartFace) -> Outcome<Paper> {
        let kept = waiting(practice, face)?.ok_or_else(|| {
            Trouble::new(
                Kind::NotFound,
                "Nothing waits to be signed.",
                "Nothing was changed.",
                "Hand the screen back.",
            )
        })?;
        let consent = consent_of(&kept.data)?;
        let adopted = match consent.wording.value() {
            Some(code) => wording(practice, code)?,
            None => None,
        };
        let lang = call.kept("patients-language").and_then(|tag| Lang::from_tag(&tag)).unwrap_or(call.lang);
        let names = |code: &str| practice.person(code).name;
        let lines = lines(lang, &consent, &names);
        let giver = giver(practice, face, &consent)?;
        Ok(Paper { lines, giver, patient: face.identity.legal_name.clone(), adopted, lang, kept })
    }

    fn text(&self, key: &str) -> String {
        self.lang.text(key, &[])
    }

    fn text_with(&self, key: &str, put_in: &[(&str, &str)]) -> String {
        self.lang.text(key, put_in)
    }

    /// As it is kept with the signature.
    fn shown(&self) -> Shown {
        let mut all = vec![self.statement()];
        all.extend(self.lines.iter().map(|(label, words)| format!("{label}: {words}")));
        Shown {
            wording: self.adopted.as_ref().map(|a| a.wording.code.clone()),
            wording_entry: self.adopted.as_ref().map(|a| a.seq),
            text_blake3: self.adopted.as_ref().map(Adopted::text_blake3),
            language: self.lang.tag().to_string(),
            lines: all,
        }
    }

    /// A digest of all that is shown, so that what is signed is what was on the screen.
    fn digest(&self) -> String {
        let shown = serde_json::to_vec(&self.shown()).unwrap_or_default();
        blake3::hash(&shown).to_hex().to_string()
    }

    /// Who says it, for whom.
    fn statement(&self) -> String {
        match self.giver == self.patient {
            true => self.text_with("consent-i-myself", &[("patient", &self.patient)]),
            false => self.text_with("consent-i-for", &[("giver", &self.giver), ("patient", &self.patient)]),
        }
    }
}

fn giver(practice: &Practice, face: &ChartFace, consent: &Consent) -> Outcome<String> {
    if let Some(name) = &consent.given_by.name {
        return Ok(name.clone());
    }
    let Some(person) = &consent.given_by.person_id else { return Ok(face.identity.legal_name.clone()) };
    let on_file = deciders(&practice.chart_of(&face.tag, &["decision-maker"], 0)?);
    let named = on_file.into_iter().find(|one| one.person_id == *person);
    named.map(|one| one.name).ok_or_else(|| {
        Trouble::input(
            format!("Nobody on file is called {person}."),
            "Hand the screen back, and set it up with somebody who is on file.",
        )
    })
}

/// A text with its paragraphs: a blank line ends one, and so does a line that is cut short of the others.
pub fn text(text: &str) -> Markup {
    let paragraphs: Vec<String> = paragraphs(text);
    html! { @for part in &paragraphs { p { (part) } } }
}

/// Lines that were broken only to fit a sheet are joined again, every word as it stands.
fn paragraphs(text: &str) -> Vec<String> {
    let widest = text.lines().map(|line| line.chars().count()).max().unwrap_or(0);
    let mut all: Vec<String> = Vec::new();
    let mut goes_on = false;
    for line in text.lines().map(str::trim) {
        if line.is_empty() {
            goes_on = false;
            continue;
        }
        match all.last_mut().filter(|_| goes_on) {
            Some(last) => {
                last.push(' ');
                last.push_str(line);
            }
            None => all.push(line.to_string()),
        }
        // A line that had room for another word was ended on purpose.
        goes_on = widest > 60 && line.chars().count() + 16 > widest;
    }
    all
}

/// The page.
pub fn show(call: &Call<'_>) -> Outcome<Reply> {
    let (practice, face) = call.face()?;
    match Paper::of(call, &practice, &face) {
        Ok(paper) => Ok(page(call, &paper, None)),
        Err(trouble) => Ok(Reply::bare(
            call,
            "consent-page-title",
            html! {
                (crate::desk::frame::trouble_box(call, &trouble))
                (back_form(call))
            },
        )),
    }
}

fn page(call: &Call<'_>, paper: &Paper, wrong: Option<&str>) -> Reply {
    let main = html! {
        div.consent-page lang=(paper.lang.tag()) {
            @match &paper.adopted {
                Some(adopted) => {
                    h1 lang=(adopted.wording.language) { (adopted.wording.title) }
                    div.wording lang=(adopted.wording.language) { (text(&adopted.wording.text)) }
                    p.edition { (paper.text_with("consent-edition", &[("code", &adopted.wording.code)])) }
                },
                None => h1 { (paper.text("consent-page-title")) },
            }
            h2 { (paper.text("consent-agree-title")) }
            p.statement { (paper.statement()) }
            dl.agreed {
                @for (label, words) in &paper.lines { div { dt { (label) } dd { (words) } } }
            }
            p { (paper.text("consent-may-end")) }
            (call.form(&format!("/consent/{}/sign", call.param("slot")), &answer(call, paper, wrong)))
            (back_form(call))
        }
    };
    Reply::bare(call, "consent-page-title", main)
}

/// Yes or no, and the signature.
fn answer(call: &Call<'_>, paper: &Paper, wrong: Option<&str>) -> Markup {
    let described = wrong.map(|_| "sign-wrong");
    html! {
        input type="hidden" name="shown" value=(paper.digest());
        input type="hidden" name="strokes" id="strokes";
        h2 #sign-here { (paper.text("consent-sign-title")) }
        @if let Some(why) = wrong { p.wrong #sign-wrong role="alert" { (why) } }
        div.pad #pad hidden {
            p #pad-hint { (paper.text_with("consent-pad-hint", &[("name", &paper.giver)])) }
            canvas #canvas width="1600" height="480" role="img" aria-label=(paper.text("consent-pad")) aria-describedby="pad-hint" {}
            button #pad-clear type="button" { (paper.text("consent-pad-clear")) }
        }
        details.by-name #by-name open[wrong.is_some()] {
            summary { (paper.text("consent-typed")) }
            p.field {
                label for="typed-name" { (paper.text("consent-typed-name")) }
                input #typed-name name="typed-name" autocomplete="off" aria-describedby=[described]
                    value=(call.field("typed-name").unwrap_or_default());
            }
            p.choice {
                input type="checkbox" name="meant" value="yes" id="meant" checked[call.field("meant").is_some()];
                label for="meant" { (paper.text("consent-meant")) }
            }
        }
        noscript { p { (paper.text("consent-typed-only")) } }
        p.names {
            (paper.text_with("consent-names", &[("giver", &paper.giver), ("day", &plain_date(call.now().at.local_date()))]))
        }
        div.answers {
            button.answer.yes type="submit" name="answer" value="yes" {
                span.shape.yes aria-hidden="true" {} (paper.text("consent-yes"))
            }
            button.answer.no type="submit" name="answer" value="no" {
                span.shape.no aria-hidden="true" {} (paper.text("consent-no"))
            }
        }
        p.field {
            label for="why-not" { (paper.text("consent-why-not")) }
            input #why-not name="why-not" autocomplete="off" value=(call.field("why-not").unwrap_or_default());
        }
    }
}

/// The answer: kept with the signature, all or nothing.
pub fn sign(call: &Call<'_>) -> Outcome<Reply> {
    let number = call.chart()?;
    let (practice, face) = call.face()?;
    let paper = Paper::of(call, &practice, &face)?;
    drop(practice);
    if call.field("shown") != Some(paper.digest().as_str()) {
        let why = paper.text("consent-changed");
        return Ok(page(call, &paper, Some(&why)).status(409));
    }
    let yes = match call.field("answer") {
        Some("yes") => true,
        Some("no") => false,
        _ => {
            let why = paper.text("consent-choose");
            return Ok(page(call, &paper, Some(&why)).status(400));
        }
    };
    let signature = match signature(call, &paper) {
        Ok(signature) => signature,
        // No signature is needed to say no.
        Err(_) if !yes => None,
        Err(key) => {
            let why = paper.text(key);
            return Ok(page(call, &paper, Some(&why)).status(400));
        }
    };
    let status = if yes { "--status=signed" } else { "--status=declined" };
    let name = format!("--giver-name={}", paper.giver);
    let why = call.field("why-not").map(|why| format!("--declined-because={why}")).filter(|_| !yes);
    let data = serde_json::to_vec(&paper.kept.data).unwrap_or_default();
    let ran = pipe::handed(call, &data, |data| {
        let data = format!("--data={data}");
        let mut words = vec!["consent", number, status, "--form=written-on-screen", &name, &data];
        words.extend(why.as_deref());
        match &signature {
            None => call.run(&words),
            Some(bytes) => pipe::handed(call, bytes, |file| {
                let file = format!("--signature={file}");
                call.run(&[&words[..], &[file.as_str()]].concat())
            }),
        }
    })?;
    call.keep("consent-signed", ran.json["entry"].to_string());
    call.keep("consent-answer", if yes { "yes" } else { "no" }.to_string());
    let done = format!("/consent/{}/done", call.param("slot"));
    call.with_visitor(|visitor| visitor.patients_page = Some(done.clone()))?;
    Ok(Reply::to(done))
}

/// The signature as it is kept; the key of what is wrong with it.
fn signature(call: &Call<'_>, paper: &Paper) -> Result<Option<Vec<u8>>, &'static str> {
    let drawn = match call.field("strokes") {
        Some(text) => Some(serde_json::from_str::<Drawn>(text).map_err(|_| "consent-pad-wrong")?),
        None => None,
    };
    let drawn = drawn.filter(|drawn| !drawn.strokes.is_empty());
    let typed = call.field("typed-name").map(str::to_string);
    let typed = match (typed, call.field("meant")) {
        (Some(text), Some(_)) => Some(Typed { text, statement: paper.text("consent-meant") }),
        (Some(_), None) if drawn.is_none() => return Err("consent-not-meant"),
        _ => None,
    };
    if drawn.is_none() && typed.is_none() {
        return Err("consent-not-signed");
    }
    let typed = if drawn.is_some() { None } else { typed };
    let file = SignatureFile {
        signature: crate::record::signature::EDITION,
        name: paper.giver.clone(),
        shown: Some(paper.shown()),
        drawn,
        typed,
    };
    file.to_bytes().map(Some).map_err(|_| "consent-pad-wrong")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_broken_to_fit_a_sheet_are_joined_and_no_word_is_lost() {
        let text = "1. What we do\nWe tick below what we mean: looking and feeling, pressing and stretching of the\n\
                    muscles, slow gliding.\n\nYou may say no.\nAt any time.\n";
        let all = paragraphs(text);
        assert_eq!(all.len(), 4, "{all:?}");
        assert!(all[1].ends_with("stretching of the muscles, slow gliding."), "{all:?}");
        let words = |text: &str| text.split_whitespace().map(str::to_string).collect::<Vec<_>>();
        assert_eq!(words(&all.join(" ")), words(text));
        assert!(paragraphs("").is_empty());
    }
}
