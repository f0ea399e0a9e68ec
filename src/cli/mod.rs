//! What is typed at a command line and what is shown there. No rule of the trade lives here.
//!
//! [`form`] describes the questions a recording command asks; [`fill`] takes their answers from
//! flags, from a data file and from a person at a terminal; [`prompt`] is that terminal.

pub mod answer;
pub mod app;
pub mod clock;
pub mod commands;
pub mod context;
pub mod data;
pub mod fill;
pub mod form;
pub mod forms;
mod guide;
pub mod keeper;
pub mod note_words;
pub mod picture;
pub mod place;
pub mod plausible;
pub mod progress;
pub mod prompt;
pub mod readback;
pub mod record;
pub mod rows;
pub mod schemas;
pub mod secret;
pub mod settle;
pub mod table;

pub use crate::exit;
