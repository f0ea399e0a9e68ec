//! The ledger: what was recorded, in order, and the proofs that nothing was changed or left out.

#[cfg(feature = "practice")]
pub mod begin;
pub mod checkpoint;
pub mod earlier;
#[cfg(feature = "practice")]
pub mod frame;
pub mod leaf;
#[cfg(feature = "practice")]
pub mod lock;
#[cfg(feature = "practice")]
pub mod outside;
pub mod policy;
pub mod proof;
#[cfg(feature = "practice")]
pub mod scan;
#[cfg(feature = "practice")]
pub mod segment;
#[cfg(feature = "practice")]
pub mod tiles;
pub mod tree;
#[cfg(feature = "practice")]
pub mod witness;
#[cfg(feature = "practice")]
pub mod write;
