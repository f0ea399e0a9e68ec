//! Inkfast: the chart that cannot be quietly changed.
//!
//! An append-only, sealed and provable record store for a small licensed hands-on practice.
//! The modules follow the flow of a record; arrows between them point down this list only:
//! [`cli`] (what is typed and shown), [`record`] (what is recorded).

pub mod cli;
pub mod record;
