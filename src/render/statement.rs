//! The custodian's statement for signing, how the record is kept in words that a judge follows, the
//! result of the check, and what the check does not show.
//!
//! What a court asks for is in the Federal Rules of Evidence (United States): 803(6)(A) to (E), records of
//! a regularly conducted activity; 902(11), such a record certified by its custodian; 902(13), what a
//! process or system produced; 902(14), a copy whose identity is shown by a digest. Other courts and
//! boards ask for like things in other words, so the form says that counsel has to adapt it. The rules
//! are paraphrased here from memory, not quoted.

use super::entry::Desk;
use super::front::bullets;
use super::html::{esc, said};
use super::others::digest;
use super::standing;

const BLANK: &str = "<span class=\"blank\"></span>";
const SHORT: &str = "<span class=\"blank short\"></span>";
const WIDE: &str = "<span class=\"blank wide\"></span>";

/// What the custodian states, each with where it is asked for.
pub const ELEMENTS: [(&str, &str); 6] = [
    (
        "803(6)(A)",
        "Each entry was made at or near the time of what it tells. It was made by a person with knowledge of it, \
         or from what a person with knowledge passed on. Where an entry was written later, the entry says so \
         itself, and the table of entries shows both times.",
    ),
    (
        "803(6)(B)",
        "The record was kept in the course of the regularly conducted activity of the practice, which is the care \
         of its patients.",
    ),
    ("803(6)(C)", "Making such entries was a regular practice of that activity."),
    (
        "803(6)(D), 902(11)",
        "I am the custodian of these records, or another person qualified to say how they are made and kept.",
    ),
    (
        "803(6)(E)",
        "I know of nothing in the source of the entries, or in the way they were made, that speaks against trusting \
         them, except what is listed on the cover slip under \"What a reader should know first\" and here:",
    ),
    (
        "902(13), 902(14)",
        "The process described below produced this copy. It gives an accurate result when it works as described, \
         and I know of no failure of it that touches this copy, except:",
    ),
];

/// The whole part.
pub fn section(desk: &Desk<'_>) -> String {
    let mut out = String::from("<h2>Statement of the custodian</h2>\n");
    out.push_str(&form(desk));
    out.push_str(&process());
    out.push_str(&result(desk));
    out.push_str(LIMITS);
    out.push_str(&signature());
    out
}

fn form(desk: &Desk<'_>) -> String {
    let set = desk.set;
    let practice = set.practice.as_ref().map_or(BLANK.to_string(), |practice| said(&practice.practice));
    let mut out = format!(
        "<p class=\"note\">A form to be completed. HAVE COUNSEL ADAPT IT to the court or board that asks, strike \
         what does not apply, and see to the notice that the other side must have. It is not signed by printing \
         it. The numbers at the end of the lines are those of the Federal Rules of Evidence of the United \
         States.</p>\n\
         <p>I, {BLANK} (name), {BLANK} (title), work for {practice} and know how its records are made and kept, \
         because {BLANK}. I state:</p>\n<ol>\n\
         <li>What follows is a true copy of {} of the record of {}, born {}, chart no. {}. What was chosen and what \
         was left out, with the reason, is on the cover slip.</li>\n",
        super::words::count(set.entries.len(), "entry", "entries"),
        said(&set.patient.name),
        said(&set.patient.birth),
        said(&set.patient.chart_no)
    );
    for (rule, words) in ELEMENTS {
        let room = if words.ends_with(':') { format!(" {WIDE}") } else { String::new() };
        out.push_str(&format!("<li>{}{room} <span class=\"kind\">[{rule}]</span></li>\n", esc(words)));
    }
    out.push_str(
        "<li>What stands below under \"How this record is kept, and how this copy was made\", \"Result of the check of \
         this copy\" and \"What the check does not show\" is part of this statement.</li>\n</ol>\n",
    );
    out
}

/// The place for the signature stands at the very end, so that it covers the process, the result and the
/// limits as well.
fn signature() -> String {
    format!(
        "<div class=\"signature\">\n<p>I declare under penalty of perjury, where the law that applies so provides, that \
         this is true and correct.</p>\n\
         <p class=\"sign\">Signed {BLANK} Date {SHORT} Place {SHORT}<br />\
         Printed name {BLANK} Telephone {SHORT}<br />\
         Sworn or affirmed before {BLANK} Date {SHORT}</p>\n</div>\n"
    )
}

fn process() -> String {
    String::from(
        "<h3>How this record is kept, and how this copy was made</h3>\n\
         <p>The practice keeps one register. Every entry gets the next number, and the numbers have no gaps. When \
         an entry is signed it is sealed, and the seal is reckoned from the entry itself together with the seal \
         of the entry before it, both in the register and in the patient's own chart. So no entry can be changed, \
         moved, taken out or slipped in between without the seals behind it failing to fit. Nothing is ever \
         erased: a mistake is put right by a further entry, with its own number, date, reason and signature, and \
         the first words stay. The time of writing is set by the program from the clock of the computer; the time \
         something happened is stated by the author; both are printed. At the end of a working day the program \
         prints a slip with a few check words that stand for the whole register up to that day. Slips are kept on \
         paper, outside the computer, and a later copy either fits them or does not.</p>\n\
         <p>This copy was put together by the program from the sealed entries; nobody typed it. Its identity is \
         shown by digests. A digest is a number reckoned from a piece of text or a file: the same text always \
         gives the same digest, and nobody knows a way to make another text with that digest. The digest of each \
         entry is listed at the end of this copy, and the digest of the whole set stands on the cover slip and in \
         short at the foot of each page. Whoever holds the electronic copy can have every seal and digest in it \
         reckoned again on a computer of their own, without the practice and without trusting it.</p>\n",
    )
}

fn result(desk: &Desk<'_>) -> String {
    let set = desk.set;
    let mut out = String::from("<h3>Result of the check of this copy</h3>\n");
    match &set.verification {
        Some(lines) => out.push_str(&bullets(lines, "The check gave no result.")),
        None => out.push_str("<p><strong>This copy was not checked when it was printed.</strong></p>\n"),
    }
    out.push_str(&format!(
        "<ul>\n<li>Digest of this set of {}: <span class=\"digest\">{}</span></li>\n\
         <li>{}</li>\n</ul>\n\
         <p class=\"sign\">Compared with the register, or with slips, by {BLANK} on {SHORT}<br />\
         Slips compared, of the days {BLANK}</p>\n",
        super::words::count(set.entries.len(), "entry", "entries"),
        digest(&set.digest()),
        standing::counts(desk)
    ));
    out
}

/// What the check does not show; printed whatever its result was.
const LIMITS: &str = "<h3>What the check does not show</h3>\n<ul>\n\
    <li>That what was written is true, or that the clock was right.</li>\n\
    <li>That nothing was left unwritten.</li>\n\
    <li>That the practice kept no second register.</li>\n\
    <li>That nothing was written anew after the last slip, or other outside witness, that was compared. \
    Before that slip a change would have been found; after it nobody outside vouches.</li>\n\
    <li>That this paper is the same as the electronic copy: paper can be altered. The check is of the \
    electronic copy; compare the two where it matters.</li>\n</ul>\n";
