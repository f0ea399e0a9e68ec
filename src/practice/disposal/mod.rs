//! Destroying a chart once it need not be kept any more: two people sign, its keys are destroyed, and what is
//! left says that it was there and went by order.
//!
//! The order of things: everything is looked at again with nobody else writing; one group of entries, signed by
//! both, orders it (in the open that the chart is disposed of and which files go, sealed the certificate, and in
//! the chart the disposal itself); only then is anything destroyed; an entry in the open says that it is done.
//! A program that ends in between leaves an order that is not done: every command says so, and
//! [`destroy::finish`] goes on with it.

pub mod destroy;
pub mod order;
pub mod page;
pub mod plan;
pub mod standing;
