//! What a practice records: pure types, validation and the rules of the trade.
//! Nothing here reads a clock, a file or a random number.

pub mod coverage;
pub mod moment;
pub mod vocab;
