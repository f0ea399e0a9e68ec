//! Inkfast: the chart that cannot be quietly changed.
//!
//! An append-only, sealed and provable record store for a small licensed hands-on practice.
//! The modules follow the flow of a record, and arrows between them point down the flow only:
//! [`record`] (what is recorded), [`seal`] (sealing and signing), [`ledger`] (kept in order, for
//! good), [`practice`] (the use cases) and [`cli`] (the command line). The seams to the outside
//! are in [`world`], the errors that reach a person in [`trouble`].

pub mod cli;
pub mod demo;
pub mod index;
pub mod ledger;
pub mod practice;
pub mod record;
pub mod render;
pub mod seal;
pub mod trouble;
pub mod verify;
pub mod world;
