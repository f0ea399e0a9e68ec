//! A consent signed on a screen: the strokes, the picture made from them and the consent itself are recorded
//! together or not at all. The consent names the picture, the picture names the strokes.

use super::attach::{SealedFile, seal_file, together};
use super::open::{Draft, Entry, Practice};
use crate::ledger::write::Receipt;
use crate::record::kinds::Data;
use crate::record::kinds::common::{Day, Given};
use crate::record::kinds::consent::{Consent, ConsentForm};
use crate::record::kinds::papers::{Attachment, AttachmentKind, Original};
use crate::record::kinds::register::Wording;
use crate::record::moment::Moment;
use crate::record::signature::SignatureFile;
use crate::seal::body::hex;
use crate::trouble::{Kind, Outcome, Trouble};

/// Media type of the strokes.
const STROKES: &str = "application/json";
/// Media type of the picture.
const PICTURE: &str = "image/svg+xml";

/// A wording as it was adopted, with the number of its entry.
#[derive(Debug, Clone)]
pub struct Adopted {
    /// Number of the entry.
    pub seq: u64,
    /// The wording.
    pub wording: Wording,
}

impl Adopted {
    /// BLAKE3 of the text, hex: what a signature says that was shown.
    pub fn text_blake3(&self) -> String {
        hex(blake3::hash(self.wording.text.as_bytes()).as_bytes())
    }
}

/// The wordings adopted here, the newest last.
///
/// # Errors
/// When the entries outside charts can't be read.
pub fn wordings(practice: &Practice) -> Outcome<Vec<Adopted>> {
    let register = practice.register_of(&["wording"])?;
    let read = |entry: &Entry| match entry.data() {
        Some(Data::Wording(wording)) => Some(Adopted { seq: entry.leaf.seq, wording: *wording }),
        _ => None,
    };
    Ok(register.iter().filter_map(read).collect())
}

/// The wording with this code that was adopted last.
///
/// # Errors
/// As [`wordings`].
pub fn wording(practice: &Practice, code: &str) -> Outcome<Option<Adopted>> {
    Ok(wordings(practice)?.into_iter().rev().find(|adopted| adopted.wording.code == code))
}

/// A signature that was looked through, with the bytes it came as.
#[derive(Debug, Clone)]
pub struct Signed {
    file: SignatureFile,
    bytes: Vec<u8>,
}

impl Signed {
    /// Reads the strokes.
    ///
    /// # Errors
    /// When they are no signature.
    pub fn read(bytes: Vec<u8>) -> Outcome<Signed> {
        let file = SignatureFile::read(&bytes).map_err(|why| {
            Trouble::input(
                format!("The signature can't be kept: {why}."),
                "Have it signed again, then do this again.",
            )
        })?;
        Ok(Signed { file, bytes })
    }

    /// Holds the signature against the consent it is for and the chart it comes into.
    ///
    /// # Errors
    /// When it is for another way of giving consent, was given under another text, or was used before.
    pub fn check(&self, practice: &Practice, entries: &[Entry], consent: &Consent) -> Outcome<()> {
        if consent.form != ConsentForm::WrittenOnScreen {
            return Err(Trouble::input(
                "A signature from a screen belongs to a consent that is written on the screen.",
                "Say --form written-on-screen, or attach the scan of the paper and name it with --paper.",
            ));
        }
        if consent.paper.is_some() || consent.signature_image.is_some() {
            return Err(Trouble::input(
                "The consent names a signature, and one is given as well.",
                "Leave out --paper and --signature-image: the program puts them in.",
            ));
        }
        self.check_text(practice, consent)?;
        let digest = hex(blake3::hash(&self.bytes).as_bytes());
        let before = entries.iter().find_map(|entry| match entry.data() {
            Some(Data::Attachment(kept)) if kept.plain_digest == digest => Some(entry.leaf.seq),
            _ => None,
        });
        match before {
            None => Ok(()),
            Some(seq) => Err(Trouble::new(
                Kind::Refused,
                format!("The very same strokes are in this chart already, as attachment {seq}."),
                "Nothing was recorded: nobody signs twice alike.",
                "Have this one signed by hand.",
            )),
        }
    }

    /// What the screen showed must be the text that the consent names, as it was adopted.
    fn check_text(&self, practice: &Practice, consent: &Consent) -> Outcome<()> {
        let Some(shown) = &self.file.shown else { return Ok(()) };
        let other = |what: &str| {
            Trouble::new(
                Kind::Refused,
                what.to_string(),
                "Nothing was recorded.",
                "Show the text that is in force, and have it signed again.",
            )
        };
        if shown.wording.as_ref() != consent.wording.value() {
            return Err(other("What was signed names another wording than the consent."));
        }
        let Some(code) = &shown.wording else { return Ok(()) };
        let adopted = wording(practice, code)?
            .ok_or_else(|| other("What was signed names a wording that was never adopted here."))?;
        let same = shown.wording_entry == Some(adopted.seq)
            && shown.text_blake3.as_deref() == Some(adopted.text_blake3().as_str());
        if same {
            Ok(())
        } else {
            Err(other("What was signed showed another text than the wording adopted last."))
        }
    }

    /// Seals strokes and picture and records them with the consent. `consent` must hold a consent; its digest
    /// and number of the picture are put in.
    ///
    /// # Errors
    /// When reading or writing fails; then nothing was recorded.
    pub fn record(&self, practice: &mut Practice, tag: &str, mut consent: Draft) -> Outcome<Receipt> {
        practice.begin_writing()?;
        let at = consent.happened.start;
        // Nobody else writes from here on, so the numbers of the group are known: each file takes two.
        let (of_picture, of_strokes) = (practice.size() + 2, practice.size() + 4);
        let strokes_digest = hex(blake3::hash(&self.bytes).as_bytes());
        let picture = self.file.picture(&strokes_digest, at);
        let file = |title: String, kind, media: &str, bytes: &[u8]| -> Outcome<SealedFile> {
            let data = self.attachment(title, kind, media, at);
            seal_file(practice, tag, &mut &bytes[..], data, at)
        };
        let picture = file(
            "Signature on the screen".to_string(),
            AttachmentKind::ConsentPaper,
            PICTURE,
            picture.as_bytes(),
        )?;
        let strokes = file(
            format!("Strokes of the signature in attachment {of_picture}"),
            AttachmentKind::Drawing,
            STROKES,
            &self.bytes,
        )?;
        if let Data::Consent(given) = &mut consent.data {
            given.signature_image = Some(picture.plain_digest.clone());
            given.paper = Some(of_picture);
        }
        let receipt = together(practice, vec![picture, strokes], vec![consent])?;
        match receipt.seq == of_strokes + 1 {
            true => Ok(receipt),
            false => {
                Err(Trouble::damaged("The consent names another entry than the one with its signature."))
            }
        }
    }

    fn attachment(&self, title: String, kind: AttachmentKind, media: &str, at: Moment) -> Attachment {
        let nothing = || "0".repeat(64);
        Attachment {
            kind,
            title,
            made_on: Given::Value(Day(at.local_date())),
            made_by: Given::Value(self.file.name.clone()),
            not_made_here: false,
            received_on: None,
            pages: (media == PICTURE).then_some(1),
            seconds: None,
            region: None,
            side: None,
            plain_digest: nothing(),
            sealed_digest: nothing(),
            size: 0,
            media_type: media.to_string(),
            // There is no paper behind it.
            original: Original::None,
            original_at: None,
            legible: true,
            // Whoever opens the consent opens its signature.
            for_desk: true,
            consent: None,
            about: Vec::new(),
            visit: None,
        }
    }
}
