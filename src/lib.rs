//! Inkfast: the chart that cannot be quietly changed.
//!
//! An append-only, sealed and provable record store for a small licensed hands-on practice.
//! The modules follow the flow of a record; arrows between them point down this list only:
//! [`record`] (what is recorded), [`seal`] (who vouches for it), [`ledger`] (that nothing was changed).

pub mod ledger;
pub mod record;
pub mod seal;
