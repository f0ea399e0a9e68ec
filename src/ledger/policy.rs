//! Which ledger keys and witnesses are trusted, as a text file: C2SP tlog-policy
//! (<https://c2sp.org/tlog-policy>, main branch of June 2026, no numbered edition yet).
//!
//! Handed over beside a proof, so that any checker of that format knows what to check with.
//! Names are compared byte for byte. The format allows bytes that are not UTF-8; they are refused here.

use crate::seal::note::{NoteError, Verifier, Vkey};
use std::collections::{HashMap, HashSet};
use std::fmt;

/// The longest policy that is read, in bytes.
pub const MAX_POLICY_BYTES: usize = 1_000_000;

/// The name that stands for "no witness needed".
const NONE: &str = "none";

/// Why a policy is refused. Lines are counted from 1, as editors do.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum PolicyError {
    /// The file is longer than [`MAX_POLICY_BYTES`].
    #[error("the policy is longer than {MAX_POLICY_BYTES} bytes, so it was not read")]
    TooLong,
    /// The bytes are not UTF-8.
    #[error("the policy is not UTF-8 text: its bytes are damaged, or it is another kind of file")]
    NotText,
    /// A control character other than tab and newline, at this byte.
    #[error("the policy holds a control character at byte {0}")]
    ControlCharacter(usize),
    /// The last line has no newline.
    #[error("the policy does not end in a newline: it was cut short")]
    CutShort,
    /// A line starts with an unknown word or has too few or too many parts.
    #[error("line {0} of the policy is not of a known form")]
    Form(usize),
    /// The key in this line is refused.
    #[error("line {line} of the policy has a key that is refused: {error}")]
    Key {
        /// The line.
        line: usize,
        /// Why.
        error: NoteError,
    },
    /// The key of a witness is of a type witnesses do not sign with.
    #[error("line {0} of the policy has a key witnesses do not sign with")]
    WitnessKeyType(usize),
    /// A log or witness has the key of an earlier one.
    #[error("line {0} of the policy repeats a key")]
    SameKey(usize),
    /// A name is defined twice, or is the reserved "none".
    #[error("line {0} of the policy gives a name that is taken")]
    NameTaken(usize),
    /// A name is used that no earlier line defines.
    #[error("line {0} of the policy uses a name that no line before it defines")]
    NameUnknown(usize),
    /// A witness or group is a member more than once.
    #[error("line {0} of the policy makes a witness or group a member for the second time")]
    MemberTwice(usize),
    /// The number a group needs is not between 1 and the number of its members.
    #[error("line {0} of the policy needs more members than there are, or none")]
    Threshold(usize),
    /// A second quorum line.
    #[error("line {0} of the policy is a second quorum line")]
    SecondQuorum(usize),
    /// No quorum line.
    #[error("the policy does not say which witnesses are needed: it has no quorum line")]
    NoQuorum,
}

/// A log whose checkpoints are accepted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Log {
    /// Its key. The name of the key is the origin.
    pub key: Vkey,
    /// Where it can be reached, if anywhere.
    pub url: Option<String>,
}

/// A witness that may be asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Witness {
    /// Its name in this policy.
    pub name: String,
    /// Its key.
    pub key: Vkey,
    /// Where it can be reached, if anywhere.
    pub url: Option<String>,
}

/// Witnesses or groups of which a number is needed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Group {
    /// Its name in this policy.
    pub name: String,
    /// How many members are needed, 1 to all.
    pub threshold: usize,
    /// Names of witnesses and earlier groups.
    pub members: Vec<String>,
}

/// A whole policy, in itself consistent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Policy {
    logs: Vec<Log>,
    witnesses: Vec<Witness>,
    groups: Vec<Group>,
    /// None: no witness is needed.
    quorum: Option<String>,
}

impl Policy {
    /// The policy that trusts one ledger and asks for no witness.
    pub fn for_log(log: &Verifier) -> Policy {
        let log = Log { key: Vkey::from(log), url: None };
        Policy { logs: vec![log], witnesses: vec![], groups: vec![], quorum: None }
    }

    /// Reads a policy. Empty lines and comments are skipped.
    pub fn parse(bytes: &[u8]) -> Result<Policy, PolicyError> {
        if bytes.len() > MAX_POLICY_BYTES {
            return Err(PolicyError::TooLong);
        }
        let text = std::str::from_utf8(bytes).map_err(|_| PolicyError::NotText)?;
        let control = |byte: u8| (byte < 0x20 && byte != b'\t' && byte != b'\n') || byte == 0x7f;
        if let Some(at) = text.bytes().position(control) {
            return Err(PolicyError::ControlCharacter(at));
        }
        if !text.is_empty() && !text.ends_with('\n') {
            return Err(PolicyError::CutShort);
        }
        let mut reader = Reader::default();
        for (number, line) in (1..).zip(text.lines()) {
            reader.line(number, line)?;
        }
        let quorum = reader.quorum.ok_or(PolicyError::NoQuorum)?;
        let Reader { logs, witnesses, groups, .. } = reader;
        Ok(Policy { logs, witnesses, groups, quorum })
    }

    /// The logs accepted.
    pub fn logs(&self) -> &[Log] {
        &self.logs
    }

    /// The witnesses defined.
    pub fn witnesses(&self) -> &[Witness] {
        &self.witnesses
    }

    /// The groups defined, each after its members.
    pub fn groups(&self) -> &[Group] {
        &self.groups
    }

    /// The name of the witness or group that is needed; None when none is.
    pub fn quorum(&self) -> Option<&str> {
        self.quorum.as_deref()
    }

    /// The keys among the logs that notes can be verified with here: the Ed25519 ones.
    pub fn verifiers(&self) -> Vec<Verifier> {
        self.logs.iter().filter_map(|log| Verifier::try_from(&log.key).ok()).collect()
    }

    /// Whether the witnesses for which `cosigned` (asked by name) is true are enough. Checking
    /// their cosignatures is the caller's part.
    pub fn is_met(&self, cosigned: impl Fn(&str) -> bool) -> bool {
        let Some(quorum) = &self.quorum else { return true };
        // Members come before their group, so one pass from the top settles every name.
        let mut met: HashMap<&str, bool> =
            self.witnesses.iter().map(|w| (w.name.as_str(), cosigned(&w.name))).collect();
        for group in &self.groups {
            let count = group.members.iter().filter(|m| met.get(m.as_str()) == Some(&true)).count();
            met.insert(&group.name, count >= group.threshold);
        }
        met.get(quorum.as_str()) == Some(&true)
    }
}

/// The file as it is handed over.
impl fmt::Display for Policy {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let url = |url: &Option<String>| url.as_ref().map(|u| format!(" {u}")).unwrap_or_default();
        for log in &self.logs {
            writeln!(f, "log {}{}", log.key, url(&log.url))?;
        }
        for witness in &self.witnesses {
            writeln!(f, "witness {} {}{}", witness.name, witness.key, url(&witness.url))?;
        }
        for group in &self.groups {
            writeln!(f, "group {} {} {}", group.name, group.threshold, group.members.join(" "))?;
        }
        writeln!(f, "quorum {}", self.quorum.as_deref().unwrap_or(NONE))
    }
}

/// A policy as far as it is read.
#[derive(Default)]
struct Reader {
    logs: Vec<Log>,
    witnesses: Vec<Witness>,
    groups: Vec<Group>,
    quorum: Option<Option<String>>,
    names: HashSet<String>,
    members: HashSet<String>,
}

impl Reader {
    fn line(&mut self, number: usize, line: &str) -> Result<(), PolicyError> {
        let words: Vec<&str> = line.split([' ', '\t']).filter(|word| !word.is_empty()).collect();
        match words.as_slice() {
            [] => Ok(()),
            [first, ..] if first.starts_with('#') => Ok(()),
            ["log", key] => self.log(number, key, None),
            ["log", key, url] => self.log(number, key, Some(url)),
            ["witness", name, key] => self.witness(number, name, key, None),
            ["witness", name, key, url] => self.witness(number, name, key, Some(url)),
            ["group", name, threshold, members @ ..] if !members.is_empty() => {
                self.group(number, name, threshold, members)
            }
            ["quorum", name] => self.quorum(number, name),
            _ => Err(PolicyError::Form(number)),
        }
    }

    fn log(&mut self, line: usize, key: &str, url: Option<&str>) -> Result<(), PolicyError> {
        let key = read_key(line, key)?;
        if self.logs.iter().any(|log| log.key.key() == key.key()) {
            return Err(PolicyError::SameKey(line));
        }
        self.logs.push(Log { key, url: url.map(str::to_owned) });
        Ok(())
    }

    fn witness(&mut self, line: usize, name: &str, key: &str, url: Option<&str>) -> Result<(), PolicyError> {
        let key = read_key(line, key)?;
        if !key.is_witness_key() {
            return Err(PolicyError::WitnessKeyType(line));
        }
        if self.witnesses.iter().any(|witness| witness.key.key() == key.key()) {
            return Err(PolicyError::SameKey(line));
        }
        self.define(line, name)?;
        self.witnesses.push(Witness { name: name.to_owned(), key, url: url.map(str::to_owned) });
        Ok(())
    }

    fn group(
        &mut self,
        line: usize,
        name: &str,
        threshold: &str,
        members: &[&str],
    ) -> Result<(), PolicyError> {
        let threshold = match threshold {
            "any" => 1,
            "all" => members.len(),
            k if k.bytes().all(|b| b.is_ascii_digit()) => {
                k.parse().map_err(|_| PolicyError::Threshold(line))?
            }
            _ => return Err(PolicyError::Form(line)),
        };
        if !(1..=members.len()).contains(&threshold) {
            return Err(PolicyError::Threshold(line));
        }
        for member in members {
            if !self.names.contains(*member) {
                return Err(PolicyError::NameUnknown(line));
            }
            if !self.members.insert((*member).to_owned()) {
                return Err(PolicyError::MemberTwice(line));
            }
        }
        self.define(line, name)?;
        let members = members.iter().map(|member| (*member).to_owned()).collect();
        self.groups.push(Group { name: name.to_owned(), threshold, members });
        Ok(())
    }

    fn quorum(&mut self, line: usize, name: &str) -> Result<(), PolicyError> {
        if self.quorum.is_some() {
            return Err(PolicyError::SecondQuorum(line));
        }
        if name != NONE && !self.names.contains(name) {
            return Err(PolicyError::NameUnknown(line));
        }
        self.quorum = Some((name != NONE).then(|| name.to_owned()));
        Ok(())
    }

    fn define(&mut self, line: usize, name: &str) -> Result<(), PolicyError> {
        let free = name != NONE && self.names.insert(name.to_owned());
        if free { Ok(()) } else { Err(PolicyError::NameTaken(line)) }
    }
}

/// A key in its place. An Ed25519 log key that could not be verified with is refused here already.
fn read_key(line: usize, text: &str) -> Result<Vkey, PolicyError> {
    let key = Vkey::parse(text).map_err(|error| PolicyError::Key { line, error })?;
    match Verifier::try_from(&key) {
        Ok(_) | Err(NoteError::KeyType(_)) => Ok(key),
        Err(error) => Err(PolicyError::Key { line, error }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seal::note::Signer;
    use base64::Engine as _;
    use proptest::prelude::*;
    use sha2::{Digest, Sha256};

    fn log_key(byte: u8) -> Verifier {
        Signer::from_seed("ledger.example/7f3a", &[byte; 32]).unwrap().verifier().clone()
    }

    /// A witness vkey (type 4) with these key bytes, its id made as C2SP tlog-cosignature says.
    fn witness_key(byte: u8) -> String {
        let typed = [[4].as_slice(), &[byte; 32]].concat();
        let digest = Sha256::digest([b"w.example\n", typed.as_slice()].concat());
        let base64 = base64::engine::general_purpose::STANDARD.encode(&typed);
        format!("w.example+{}+{base64}", data_encoding::HEXLOWER.encode(&digest[..4]))
    }

    /// The example policy of C2SP tlog-policy, with keys filled in.
    fn example() -> String {
        let mut text = format!("log {}\n\n", log_key(1));
        for (at, name) in (1..).zip(["X1", "X2", "X3"]) {
            text += &format!("witness {name} {}\n", witness_key(at));
        }
        text += "group X-witnesses 2 X1 X2 X3\n\n";
        for (at, name) in (4..).zip(["Y1", "Y2", "Y3"]) {
            text += &format!("witness {name} {}\n", witness_key(at));
        }
        text + "group Y-witnesses any Y1 Y2 Y3\n\ngroup X-and-Y all X-witnesses Y-witnesses\nquorum X-and-Y\n"
    }

    fn refused(text: &str) -> PolicyError {
        Policy::parse(text.as_bytes()).unwrap_err()
    }

    #[test]
    fn one_ledger_and_no_witness() {
        let policy = Policy::for_log(&log_key(1));
        let text = policy.to_string();
        assert_eq!(text, format!("log {}\nquorum none\n", log_key(1)));
        assert_eq!(Policy::parse(text.as_bytes()), Ok(policy.clone()));
        assert_eq!(policy.verifiers(), [log_key(1)]);
        assert!(policy.is_met(|_| false));
    }

    #[test]
    fn the_quorum_of_the_example_in_the_specification() {
        let policy = Policy::parse(example().as_bytes()).unwrap();
        assert_eq!((policy.logs().len(), policy.witnesses().len(), policy.groups().len()), (1, 6, 3));
        assert_eq!(policy.quorum(), Some("X-and-Y"));
        let met = |names: &[&str]| policy.is_met(|name| names.contains(&name));
        assert!(met(&["X1", "X3", "Y2"]));
        assert!(met(&["X1", "X2", "X3", "Y1", "Y2", "Y3"]));
        for too_few in [&[][..], &["X1", "X2"], &["X1", "Y1"], &["Y1", "Y2", "Y3"], &["X-and-Y"]] {
            assert!(!met(too_few), "{too_few:?}");
        }
        assert_eq!(Policy::parse(policy.to_string().as_bytes()), Ok(policy));
    }

    #[test]
    fn spaces_tabs_comments_and_addresses() {
        let text = format!(
            "# trusted since spring\n \t\n\t# more\n  log\t{}  https://ledger.example/ \nquorum\tnone\n",
            log_key(1)
        );
        let policy = Policy::parse(text.as_bytes()).unwrap();
        assert_eq!(policy.logs()[0].url.as_deref(), Some("https://ledger.example/"));
        assert_eq!(policy.to_string(), format!("log {} https://ledger.example/\nquorum none\n", log_key(1)));
        let alone = format!("witness W {}\nquorum W\n", witness_key(1));
        let policy = Policy::parse(alone.as_bytes()).unwrap();
        assert!(policy.logs().is_empty() && policy.is_met(|name| name == "W") && !policy.is_met(|_| false));
    }

    #[test]
    fn what_is_no_policy_is_refused() {
        let (w, log) = (witness_key(1), log_key(1).to_string());
        let two = format!("witness A {w}\nwitness B {}\n", witness_key(2));
        let cases = [
            (String::new(), PolicyError::NoQuorum),
            ("# nothing\n".to_owned(), PolicyError::NoQuorum),
            ("quorum none".to_owned(), PolicyError::CutShort),
            ("quorum none\r\n".to_owned(), PolicyError::ControlCharacter(11)),
            ("quorum none\u{7f}\n".to_owned(), PolicyError::ControlCharacter(11)),
            ("quorum none\nquorum none\n".to_owned(), PolicyError::SecondQuorum(2)),
            ("quorum nobody\n".to_owned(), PolicyError::NameUnknown(1)),
            ("quorum\n".to_owned(), PolicyError::Form(1)),
            ("quorum none none\n".to_owned(), PolicyError::Form(1)),
            ("Log x\n".to_owned(), PolicyError::Form(1)),
            ("log\n".to_owned(), PolicyError::Form(1)),
            (format!("log {log} url more\n"), PolicyError::Form(1)),
            ("\nlog x\n".to_owned(), PolicyError::Key { line: 2, error: NoteError::KeyForm }),
            (format!("log {log}\nlog {log}\n"), PolicyError::SameKey(2)),
            (format!("witness A {log}\n"), PolicyError::WitnessKeyType(1)),
            (format!("witness A {w}\nwitness B {w}\n"), PolicyError::SameKey(2)),
            (format!("witness A {w}\nwitness A {}\n", witness_key(2)), PolicyError::NameTaken(2)),
            (format!("witness none {w}\n"), PolicyError::NameTaken(1)),
            (format!("{two}group A any B\n"), PolicyError::NameTaken(3)),
            (format!("{two}group none any B\n"), PolicyError::NameTaken(3)),
            (format!("{two}group G any\n"), PolicyError::Form(3)),
            (format!("{two}group G some A\n"), PolicyError::Form(3)),
            (format!("{two}group G 0 A\n"), PolicyError::Threshold(3)),
            (format!("{two}group G 3 A B\n"), PolicyError::Threshold(3)),
            (format!("{two}group G 99999999999999999999999 A\n"), PolicyError::Threshold(3)),
            (format!("{two}group G any A G\n"), PolicyError::NameUnknown(3)),
            (format!("{two}group G any none\n"), PolicyError::NameUnknown(3)),
            (format!("{two}group G any A A\n"), PolicyError::MemberTwice(3)),
            (format!("{two}group G any A\ngroup H any A B\n"), PolicyError::MemberTwice(4)),
            (format!("quorum G\n{two}group G any A\n"), PolicyError::NameUnknown(1)),
        ];
        for (text, error) in cases {
            assert_eq!(refused(&text), error, "{text:?}");
        }
        assert_eq!(Policy::parse(b"\xff"), Err(PolicyError::NotText));
        assert_eq!(Policy::parse(&vec![b'\n'; MAX_POLICY_BYTES + 1]), Err(PolicyError::TooLong));
        assert_eq!(Policy::parse(&vec![b'\n'; MAX_POLICY_BYTES]), Err(PolicyError::NoQuorum));
    }

    #[test]
    fn names_are_compared_byte_for_byte() {
        // K and the Kelvin sign, the specification's own example.
        let text = format!("witness K {}\nquorum \u{212a}\n", witness_key(1));
        assert_eq!(refused(&text), PolicyError::NameUnknown(2));
    }

    proptest! {
        #[test]
        fn parsing_never_panics(bytes in proptest::collection::vec(any::<u8>(), 0..200), near in "((log|witness|group|quorum|none|any|all|A|B|2|#)[ \t\n]){0,20}") {
            let _ = Policy::parse(&bytes);
            if let Ok(policy) = Policy::parse(near.as_bytes()) {
                prop_assert_eq!(Policy::parse(policy.to_string().as_bytes()), Ok(policy));
            }
        }
    }
}
