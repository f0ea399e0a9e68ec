//! Where resources are found within a document. Every name is worked out from the register's label and
//! what the resource stands for, so that a second export gives the same ones, and a resource keeps its
//! name from one document to the next.

/// Gives names within one register.
#[derive(Debug, Clone)]
pub(super) struct Ids<'a> {
    /// The register's random label.
    pub ledger: &'a str,
}

impl Ids<'_> {
    /// `urn:uuid:` of what a resource stands for. A UUID of version 8 (RFC 9562, section 5.8): the first
    /// bits of a BLAKE3 digest, with version and variant set.
    pub(super) fn urn(&self, what: &str) -> String {
        format!("urn:uuid:{}", self.uuid(what))
    }

    /// The UUID alone.
    fn uuid(&self, what: &str) -> String {
        let digest = blake3::hash(format!("inkfast fhir r4\n{}\n{what}\n", self.ledger).as_bytes());
        let mut bytes = [0u8; 16];
        bytes.copy_from_slice(&digest.as_bytes()[..16]);
        bytes[6] = (bytes[6] & 0x0f) | 0x80;
        bytes[8] = (bytes[8] & 0x3f) | 0x80;
        let hex = data_encoding::HEXLOWER.encode(&bytes);
        format!("{}-{}-{}-{}-{}", &hex[..8], &hex[8..12], &hex[12..16], &hex[16..20], &hex[20..])
    }

    /// A resource made from an entry; `role` says which of several.
    pub(super) fn entry(&self, seq: u64, role: &str) -> String {
        self.urn(&format!("entry {seq} {role}"))
    }

    /// The number of an entry as an identifier's value.
    pub(super) fn number(&self, seq: u64) -> String {
        format!("{}/{seq}", self.ledger)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_the_same_each_time_and_differ_by_what_they_stand_for() {
        let ids = Ids { ledger: "ledger-7f3a" };
        let one = ids.entry(12, "procedure-1");
        assert_eq!(one, ids.entry(12, "procedure-1"));
        assert_ne!(one, ids.entry(12, "procedure-2"));
        assert_ne!(one, Ids { ledger: "ledger-0000" }.entry(12, "procedure-1"));
        let uuid = one.strip_prefix("urn:uuid:").unwrap();
        assert_eq!((uuid.len(), &uuid[14..15]), (36, "8"));
        assert!(["8", "9", "a", "b"].contains(&&uuid[19..20]), "{uuid}");
    }
}
