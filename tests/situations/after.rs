//! Situations.
