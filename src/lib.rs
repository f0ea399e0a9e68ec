//! Inkfast: the chart that cannot be quietly changed.
//!
//! An append-only, sealed and provable record store for a small licensed hands-on practice.
//! The modules follow the flow of a record, and arrows between them point down the flow only:
//! [`record`] (what is recorded), [`seal`] (sealing and signing), [`ledger`] (kept in order, for
//! good), `practice` (the use cases), `cli` (the command line) and `desk` (the page on the practice's own machine). The seams to the outside
//! are in `world`, the errors that reach a person in [`trouble`].
//!
//! Without the feature `practice` only what checks a package is built: [`check`], [`verify`] and the formats
//! they read.

pub mod check;
#[cfg(feature = "practice")]
pub mod cli;
#[cfg(feature = "practice")]
pub mod demo;
#[cfg(feature = "practice")]
pub mod desk;
pub mod exit;
#[cfg(feature = "practice")]
pub mod index;
pub mod ledger;
#[cfg(feature = "practice")]
pub mod practice;
pub mod record;
#[cfg(feature = "practice")]
pub mod render;
pub mod seal;
pub mod text;
pub mod trouble;
pub mod verify;
#[cfg(feature = "practice")]
pub mod world;
