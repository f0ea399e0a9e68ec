//! What a practice records: pure types, validation and the rules of the trade.
//! Nothing here reads a clock, a file or a random number.

pub mod calendar;
pub mod closing;
pub mod corrected;
pub mod coverage;
pub mod decimal;
pub mod disclosures;
pub mod envelope;
#[cfg(test)]
pub(crate) mod examples;
pub mod fields;
pub mod keep_until;
pub mod kinds;
pub mod labels;
pub mod likeness;
pub mod measured;
pub mod measures;
pub mod moment;
pub mod notation;
pub mod open_items;
pub mod openings;
pub mod over_time;
pub mod reckon;
pub mod request;
pub mod review;
pub mod rulebook;
pub mod schemas;
pub mod shortform;
pub mod show;
pub mod signature;
pub mod tables;
pub mod vocab;
pub mod withholding;
