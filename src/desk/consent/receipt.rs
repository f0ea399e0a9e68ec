//! The receipt to take away: QR code, words to check with, and what was agreed, in black and white.

use crate::desk::call::Call;
use crate::desk::{Reply, pipe};
use crate::practice::chart::treats_today;
use crate::trouble::Outcome;
use maud::html;

/// The page around it.
pub fn receipt(call: &Call<'_>) -> Outcome<Reply> {
    let (slot, entry) = (call.param("slot"), call.param("entry"));
    let inside = format!("/consent/{slot}/receipt/{entry}/page");
    let main = html! {
        h1 { (call.t("consent-receipt-title")) }
        p.no-print { (call.t("consent-receipt-why")) }
        div.actions {
            button.main type="button" data-print="receipt" hidden { (call.t("consent-print")) }
            a.button href=(inside) target="_blank" rel="noopener" { (call.t("consent-receipt-alone")) }
            a.button href=(format!("/room/{slot}")) { (call.t("room-back")) }
        }
        iframe.receipt #receipt src=(inside) title=(call.t("consent-receipt-title")) {}
    };
    Ok(Reply::page(call, "consent-receipt-title", main))
}

/// The receipt itself, as the command writes it.
pub fn page(call: &Call<'_>) -> Outcome<Reply> {
    let (chart, entry) = (call.chart()?, call.param("entry").to_string());
    let in_room = {
        let (practice, face) = call.face()?;
        treats_today(&practice, &practice.chart(&face.tag)?)
    };
    let mut words = vec!["consent", "receipt", chart, &entry];
    // Without a visit today the patient's own wish for the receipt is the reason.
    if !in_room {
        words.extend(["--why=other", "--words=receipt for the patient"]);
    }
    let (_, bytes) = pipe::written(call, &words, "page")?;
    Ok(Reply::printed(bytes))
}
