//! The certificate of a destroyed chart, as lines for paper. It is made from the register alone, so it comes out
//! the same whenever it is printed, but for what became of the copies since.

use super::standing::Certified;
use crate::record::calendar::with_weekday;
use crate::record::kinds::disposing::{ConditionKind, Holds};
use crate::record::moment::plain_date;
use crate::text::wrap;

/// Where these lines are broken.
const WIDTH: usize = 84;

/// The certificate.
pub fn certificate(practice: &str, one: &Certified) -> String {
    let mut page = Page(String::new());
    let what = &one.certificate;
    page.line("CERTIFICATE OF DISPOSAL OF A PATIENT'S CHART");
    page.line("");
    let rows = [
        ("Practice", practice.to_string()),
        ("Chart", what.chart_no.clone()),
        ("Name of the patient", what.name.clone()),
        (
            "Period covered",
            format!("{} to {}", plain_date(what.period_from.0), plain_date(what.period_until.0)),
        ),
        ("Held", format!("{} entries, {} attachments", what.entries_count, what.attachments_count)),
        ("Ordered and signed", one.at.plain()),
        ("Signed by", format!("{} ({}) and {} ({})", one.by.1, one.by.0, one.second.1, one.second.0)),
        ("Entry of the register", one.entry.to_string()),
    ];
    rows.iter().for_each(|(label, value)| page.row(label, value));
    page.heading("How it stands");
    page.text(&one.verdict());
    page.heading("The rule");
    page.text(&format!("It had to be kept through {}.", with_weekday(what.keep_through.0)));
    for rule in &what.rules {
        let day = rule.keep_through.map_or("no day".to_string(), |day| plain_date(day.0));
        let source = rule.source.as_deref().unwrap_or("no source on record");
        page.item(&format!("{}: through {day}. {source}", rule.rule));
    }
    page.text(&format!("Rules of the practice, edition {}. The latest day counts.", what.rules_edition));
    if let Some(why) = &what.settled_because {
        page.text(&format!("A rule that is not settled was looked at by the signers: {why}"));
    }
    page.heading("The method");
    page.text(&what.method);
    page.text(match what.cryptographic_erase {
        true => "By the conditions below this is a cryptographic erase (NIST SP 800-88 Rev. 1, 2.6).",
        false => {
            "It is not claimed to be a cryptographic erase (NIST SP 800-88 Rev. 1, 2.6): not all of the conditions \
             below hold, or are known to."
        }
    });
    for one in &what.conditions {
        let holds = match one.holds {
            Holds::Yes => "holds",
            Holds::No => "DOES NOT HOLD",
            Holds::Stated => "holds, by what the signers say",
            Holds::NotKnown => "NOT KNOWN",
        };
        page.item(&format!("{}: {holds}. {}.", condition(one.what), capital(&one.words)));
    }
    page.heading("Copies");
    let copies = one.copies();
    if copies.is_empty() {
        page.text("None was named and none is on record.");
    }
    for copy in copies {
        let until =
            copy.until.map_or("no day known".to_string(), |day| format!("until {}", plain_date(day.0)));
        let gone = match copy.gone {
            Some((day, how, by)) => format!("destroyed on {}: {how} ({by})", plain_date(day.0)),
            None => "not recorded as destroyed".to_string(),
        };
        page.item(&format!("{}. {}, {until}: {gone}", copy.number, copy.place));
    }
    page.heading("What this does not say");
    page.text(
        "That no other copy exists than those named. That the disk keeps no older bytes of the files, unless a \
         condition above says so. That what others received of it before is gone: it belongs to them. Papers of the \
         office file are kept by rules of their own, and are not destroyed with a chart.",
    );
    page.line("");
    page.line("Signature, date: ______________________    Signature, date: ______________________");
    page.0
}

fn condition(kind: ConditionKind) -> &'static str {
    match kind {
        ConditionKind::SealedBeforeStored => "All of it was sealed before it was stored",
        ConditionKind::PlacesKnown => "Every place where its keys lie is known",
        ConditionKind::CopiesDestroyed => "All copies of its keys are destroyed",
        ConditionKind::WrappingKeys => "What its keys were sealed with can be destroyed",
        ConditionKind::MediumSanitized => "Where its keys lay on the disk is made unreadable",
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.trim_end_matches('.').chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}

struct Page(String);

impl Page {
    fn line(&mut self, text: &str) {
        self.0.push_str(text);
        self.0.push('\n');
    }

    fn heading(&mut self, text: &str) {
        self.line("");
        self.line(&text.to_uppercase());
    }

    fn text(&mut self, text: &str) {
        for line in wrap(text, WIDTH) {
            self.line(&line);
        }
    }

    fn item(&mut self, text: &str) {
        for (n, line) in wrap(text, WIDTH - 2).iter().enumerate() {
            self.line(&format!("{}{line}", if n == 0 { "- " } else { "  " }));
        }
    }

    fn row(&mut self, label: &str, value: &str) {
        const LABEL: usize = 22;
        for (n, line) in wrap(value, WIDTH - LABEL).iter().enumerate() {
            let label = if n == 0 { label } else { "" };
            self.line(&format!("{label:<LABEL$}{line}"));
        }
    }
}
