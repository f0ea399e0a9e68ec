//! The audit: everything checked without a reading key while the page is left and come back to, slips and kept
//! checkpoints typed in, the certificate, what safe copies were rehearsed, and the picture of the ledger over time.

pub mod check;
mod job;
pub mod picture;

use super::Route;

/// Every address of the audit.
pub fn routes() -> impl Iterator<Item = &'static Route> {
    check::ROUTES.iter().chain(picture::ROUTES)
}
