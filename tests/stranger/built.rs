//! What the checker is built from.

use std::process::Command;

/// The crates behind the feature `practice` are no part of the checker.
#[test]
fn the_checker_holds_nothing_of_the_store() {
    let cargo = std::env::var("CARGO").unwrap_or_else(|_| "cargo".to_string());
    let tree = Command::new(cargo)
        .args(["tree", "--offline", "--no-default-features", "-e", "normal", "--prefix", "none"])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .unwrap();
    let tree = String::from_utf8(tree.stdout).unwrap();
    let names: Vec<&str> = tree.lines().filter_map(|line| line.split(' ').next()).collect();
    assert!(names.contains(&"age") && names.contains(&"ed25519-dalek"), "{tree}");
    for kept_out in ["sled", "bincode", "clap", "indicatif", "qrcode", "rustix"] {
        assert!(!names.contains(&kept_out), "{kept_out} is in the checker");
    }
}
