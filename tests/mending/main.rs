//! Putting right, through the real commands: labels that stick, corrections, addenda, late entries, entries in
//! the wrong chart, joined charts, requests for amendment; and that nothing written before is ever gone.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

#[path = "../common/mod.rs"]
mod common;

mod amendment;
mod corrections;
mod desk;
mod elsewhere;
mod kept;
mod labels;
