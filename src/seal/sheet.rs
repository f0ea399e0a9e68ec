//! The recovery sheet: the one secret that is meant for paper. A page with the identity as text
//! and as a QR code, made at set-up and kept nowhere else.

use super::age_file::Identity;
use crate::trouble::{Outcome, Trouble};
use zeroize::Zeroizing;

/// The sheet as one self-contained HTML page that prints on one side of paper.
pub fn page(identity: &Identity, origin: &str, made: &str) -> Outcome<Zeroizing<String>> {
    let text = identity.to_text();
    let code = qr_svg(text.as_bytes())?;
    let grouped = grouped(&text);
    let groups = grouped.as_str();
    Ok(Zeroizing::new(format!(
        r#"<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>Recovery sheet</title>
<style>
@page {{ size: A4; margin: 22mm 18mm 18mm 26mm }}
body {{ font: 12pt/1.45 Georgia, serif; color: #000; background: #fff; max-width: 165mm; margin: 10mm auto }}
h1 {{ font-size: 20pt; margin: 0 0 2mm; border-bottom: 2pt solid #000; padding-bottom: 2mm }}
.key {{ font: 13pt/1.7 "Courier New", monospace; border: 1.5pt solid #000; padding: 4mm 5mm; margin: 5mm 0; word-break: keep-all }}
.row {{ display: flex; gap: 8mm; align-items: flex-start }}
.row svg {{ width: 52mm; height: 52mm; flex: none }}
ol {{ margin: 0; padding-left: 6mm }} li {{ margin-bottom: 1.5mm }}
.small {{ font-size: 10pt }} .line {{ border-bottom: 1pt solid #000; display: inline-block; width: 60mm }}
</style></head><body>
<h1>Recovery sheet</h1>
<p>This sheet opens <strong>every record</strong> of the store named below, without any passphrase. It is the way back
when a passphrase is forgotten, a computer is lost, or the keeper of the records can no longer act.</p>
<p class="small">Store: {origin}<br>Made: {made}</p>
<div class="key">{groups}</div>
<div class="row">{code}<ol>
<li>Print it once, on paper. Do not photograph it, mail it, or keep the file.</li>
<li>Delete the file this was printed from as soon as the paper is in your hand.</li>
<li>Keep one copy in a locked place outside the practice; a second, in a sealed envelope, with whoever
would hand the records on (for example the practice's attorney).</li>
<li>Rehearse it once a year. If it is lost or seen by a stranger, make new keys and a new sheet:
<code>inkfast roster renew --new-recovery-sheet FILE</code>.</li>
<li>When the keeper of the records can no longer act, whoever is to follow takes the records over with it:
<code>inkfast custody take-over</code>.</li>
<li>To use it without this program, follow schema/FORMAT.md with any age program: write the line above,
without spaces, into a file and use it as the identity. Spaces between the groups are only for the eye.</li>
</ol></div>
<p class="small">Kept by <span class="line">&nbsp;</span> on <span class="line">&nbsp;</span></p>
</body></html>
"#
    )))
}

/// Length of `AGE-SECRET-KEY-1`.
const PREFIX: usize = 16;

/// The identity in groups of eight after its fixed beginning, easier to read back from paper.
pub(crate) fn grouped(text: &str) -> Zeroizing<String> {
    let mut out = Zeroizing::new(String::with_capacity(text.len() + 16));
    for (i, c) in text.chars().enumerate() {
        if i >= PREFIX && i % 8 == 0 {
            out.push(' ');
        }
        out.push(c);
    }
    out
}

/// Reads what was typed from a sheet: case and spaces do not matter.
pub fn read_typed(typed: &str) -> Option<Identity> {
    let tidy: Zeroizing<String> = Zeroizing::new(
        typed.chars().filter(|c| !c.is_whitespace()).map(|c| c.to_ascii_uppercase()).collect(),
    );
    Identity::parse(&tidy)
}

/// A QR code as an SVG picture.
pub fn qr_svg(bytes: &[u8]) -> Outcome<String> {
    let code = qrcode::QrCode::with_error_correction_level(bytes, qrcode::EcLevel::M).map_err(|e| {
        Trouble::input(format!("This does not fit into a QR code: {e}."), "Write it down as text.")
    })?;
    let svg =
        code.render::<qrcode::render::svg::Color<'_>>().min_dimensions(200, 200).quiet_zone(true).build();
    // The declaration belongs at the start of a file, not inside a page.
    Ok(svg.split_once("?>").map_or(svg.clone(), |(_, rest)| rest.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sheet_carries_the_identity_and_can_be_typed_back() {
        let identity = Identity::generate();
        let page = page(&identity, "ledger-x", "03 Oct 2022 08:10").unwrap();
        let start = page.find("class=\"key\">").unwrap() + 12;
        let shown = &page[start..start + page[start..].find('<').unwrap()];
        assert_eq!(read_typed(&shown.to_lowercase()).unwrap().to_text(), identity.to_text());
        assert!(page.contains("<svg"));
        assert!(read_typed("AGE-SECRET-KEY-1QQQQ").is_none());
    }
}
