//! Sealing and signing: what keeps a record secret and says who vouches for it.

pub mod note;
