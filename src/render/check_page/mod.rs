//! The page in every package that checks it in an ordinary browser. It is made of the files beside this one by
//! `scripts/build-check-page`, and kept as made, so that the program builds without node.

/// Its name in a package.
pub const NAME: &str = "check.html";

/// The page: one file that fetches nothing.
pub const PAGE: &str = include_str!("check.html");
