//! C2SP tlog-policy files: what is read and written reads the same.

use inkfast::ledger::policy::Policy;

/// Tries one input.
pub fn try_one(bytes: &[u8]) {
    if let Ok(policy) = Policy::parse(bytes) {
        let again = Policy::parse(policy.to_string().as_bytes()).unwrap();
        assert_eq!(again.to_string(), policy.to_string());
        let _ = policy.is_met(|name| name.len() % 2 == 0);
    }
}
