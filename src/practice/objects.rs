//! A store of objects on another computer that speaks S3: put where nothing is, get, list. Objects are only ever
//! created; none is replaced and none removed. Beside the asking of witnesses this is the only place that speaks to
//! another computer, and only when it is told to.

use crate::ledger::witness::allowed;
use crate::trouble::{Kind, Outcome, Trouble};
use jiff::Timestamp;
use rusty_s3::actions::{GetObject, ListObjectsV2, PutObject, S3Action};
use rusty_s3::{Bucket, Credentials, UrlStyle};
use sha2::{Digest as _, Sha256};
use std::fs;
use std::path::Path;
use std::time::Duration;

/// How long one request may take.
const PATIENCE: Duration = Duration::from_secs(120);
/// How often a request is tried that ended without an answer, or with one that asks to come again.
const TRIES: u32 = 4;
/// How long a signed address holds.
const SIGNED_FOR: Duration = Duration::from_secs(600);
/// The longest object that is read, in bytes; none that is written is longer.
pub const MAX_OBJECT: u64 = 64 << 20;

/// What came of putting an object.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Put {
    /// It was created.
    Created,
    /// There was an object of this name already; it was not touched.
    Exists,
}

/// A store of objects, as far as it is needed.
pub trait Objects {
    /// Creates an object where none of its name is; never replaces one. With `until`, nobody may remove or replace
    /// it before that moment, where the store keeps to such locks.
    ///
    /// # Errors
    /// When the store can't be reached or refuses.
    fn put_new(&self, name: &str, bytes: &[u8], until: Option<Timestamp>) -> Outcome<Put>;

    /// The object of this name; none where there is none.
    ///
    /// # Errors
    /// When the store can't be reached or refuses.
    fn get(&self, name: &str) -> Outcome<Option<Vec<u8>>>;

    /// The names that begin with this, in order of their bytes.
    ///
    /// # Errors
    /// When the store can't be reached or refuses.
    fn list(&self, prefix: &str) -> Outcome<Vec<String>>;
}

/// Where a bucket is, and how it is spoken to.
pub struct S3 {
    bucket: Bucket,
    credentials: Credentials,
    prefix: String,
    agent: ureq::Agent,
}

/// Where objects are, as a person writes it: `s3://BUCKET/PREFIX`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Address {
    /// Name of the bucket.
    pub bucket: String,
    /// What the names of all objects begin with; empty or with a slash at its end.
    pub prefix: String,
}

impl Address {
    /// Reads `s3://BUCKET/PREFIX`; none when it is something else, for example a folder.
    pub fn read(text: &str) -> Option<Address> {
        let rest = text.strip_prefix("s3://")?;
        let (bucket, prefix) = rest.split_once('/').unwrap_or((rest, ""));
        let prefix = prefix.trim_matches('/');
        let prefix = if prefix.is_empty() { String::new() } else { format!("{prefix}/") };
        (!bucket.is_empty()).then(|| Address { bucket: bucket.to_string(), prefix })
    }
}

/// What is needed to speak to a store of objects.
#[derive(Debug, Clone, Default)]
pub struct Way<'a> {
    /// Its address, `https://...`; none: `AWS_ENDPOINT_URL`, else that of the region.
    pub endpoint: Option<&'a str>,
    /// Its region; none: `AWS_REGION`, else `us-east-1`.
    pub region: Option<&'a str>,
    /// A file of two lines, key and secret (a third: session token); none: `AWS_ACCESS_KEY_ID`,
    /// `AWS_SECRET_ACCESS_KEY`, `AWS_SESSION_TOKEN`.
    pub credentials: Option<&'a Path>,
}

impl S3 {
    /// Gets ready to speak to a bucket. Nothing is sent yet.
    ///
    /// # Errors
    /// When the address can't be used, or there are no credentials.
    pub fn new(address: &Address, way: &Way<'_>) -> Outcome<S3> {
        let said = |given: Option<&str>, name: &str| {
            given.map(str::to_string).or_else(|| std::env::var(name).ok()).filter(|text| !text.is_empty())
        };
        let region = said(way.region, "AWS_REGION").unwrap_or_else(|| "us-east-1".to_string());
        let endpoint = said(way.endpoint, "AWS_ENDPOINT_URL")
            .unwrap_or_else(|| format!("https://s3.{region}.amazonaws.com"));
        let unusable = |why: String| {
            Trouble::input(
                format!("The address of the store of objects can't be used: {why}."),
                "Give --endpoint https://...",
            )
        };
        allowed(&endpoint).map_err(|why| unusable(why.to_string()))?;
        let url = endpoint.parse().map_err(|_| unusable("it is no address".to_string()))?;
        let bucket = Bucket::new(url, UrlStyle::Path, address.bucket.clone(), region)
            .map_err(|_| unusable("it does not fit the bucket's name".to_string()))?;
        let mut config = ureq::Agent::config_builder()
            .timeout_global(Some(PATIENCE))
            .http_status_as_error(false)
            .max_redirects(0)
            .max_redirects_will_error(false)
            .user_agent("inkfast");
        if endpoint.starts_with("http://") {
            config = config.proxy(None);
        }
        let agent = config.build().new_agent();
        Ok(S3 { bucket, credentials: credentials(way.credentials)?, prefix: address.prefix.clone(), agent })
    }

    /// Does a request until it is answered by something else than "come again".
    fn tried(&self, what: &str, once: &mut dyn FnMut() -> Result<Answer, ureq::Error>) -> Outcome<Answer> {
        let mut last = String::new();
        for number in 0..TRIES {
            if number > 0 {
                std::thread::sleep(Duration::from_millis(200 << number));
            }
            match once() {
                Ok(answer) if answer.status < 500 && answer.status != 429 => return Ok(answer),
                Ok(answer) => last = format!("it answered with status {}", answer.status),
                Err(error) => last = in_words(&error),
            }
        }
        Err(unreachable(what, &last))
    }
}

/// An answer, read to its end.
struct Answer {
    status: u16,
    body: Vec<u8>,
}

impl Answer {
    fn read(mut response: ureq::http::Response<ureq::Body>) -> Result<Answer, ureq::Error> {
        let status = response.status().as_u16();
        let body = response.body_mut().with_config().limit(MAX_OBJECT).read_to_vec()?;
        Ok(Answer { status, body })
    }

    /// The word that S3 has for a refusal, and its status.
    fn refusal(&self) -> String {
        let text = String::from_utf8_lossy(&self.body);
        let code = text.split_once("<Code>").and_then(|(_, rest)| rest.split_once("</Code>"));
        let code = code.map_or("", |(code, _)| code);
        let plain: String = code.chars().filter(char::is_ascii_alphanumeric).take(60).collect();
        format!("status {} {plain}", self.status).trim_end().to_string()
    }
}

impl Objects for S3 {
    fn put_new(&self, name: &str, bytes: &[u8], until: Option<Timestamp>) -> Outcome<Put> {
        let name = format!("{}{name}", self.prefix);
        // The other side checks these bytes against the digest before it says that it has them.
        let digest = data_encoding::BASE64.encode(&Sha256::digest(bytes));
        let mut headers = vec![
            ("if-none-match", "*".to_string()),
            ("x-amz-checksum-sha256", digest),
            ("x-amz-sdk-checksum-algorithm", "SHA256".to_string()),
        ];
        if let Some(until) = until {
            headers.push(("x-amz-object-lock-mode", "COMPLIANCE".to_string()));
            headers.push(("x-amz-object-lock-retain-until-date", until.to_string()));
        }
        let answer = self.tried("keep an object in", &mut || {
            let mut action = PutObject::new(&self.bucket, Some(&self.credentials), &name);
            for (header, value) in &headers {
                action.headers_mut().insert(*header, value.clone());
            }
            let mut request = self.agent.put(action.sign(SIGNED_FOR).as_str());
            for (header, value) in &headers {
                request = request.header(*header, value.as_str());
            }
            request.send(bytes).and_then(Answer::read)
        })?;
        match answer.status {
            200..=299 => Ok(Put::Created),
            // 409: another request for the same name is under way; whoever wins, the name is taken.
            409 | 412 => Ok(Put::Exists),
            _ => Err(refused("keep an object", &answer)),
        }
    }

    fn get(&self, name: &str) -> Outcome<Option<Vec<u8>>> {
        let name = format!("{}{name}", self.prefix);
        let answer = self.tried("read from", &mut || {
            let action = GetObject::new(&self.bucket, Some(&self.credentials), &name);
            self.agent.get(action.sign(SIGNED_FOR).as_str()).call().and_then(Answer::read)
        })?;
        match answer.status {
            200 => Ok(Some(answer.body)),
            404 if !answer.refusal().contains("NoSuchBucket") => Ok(None),
            _ => Err(refused("read an object", &answer)),
        }
    }

    fn list(&self, prefix: &str) -> Outcome<Vec<String>> {
        let whole = format!("{}{prefix}", self.prefix);
        let (mut names, mut from): (Vec<String>, Option<String>) = (Vec::new(), None);
        loop {
            let answer = self.tried("list what is in", &mut || {
                let mut action = ListObjectsV2::new(&self.bucket, Some(&self.credentials));
                action.with_prefix(whole.as_str());
                if let Some(from) = &from {
                    action.with_continuation_token(from.as_str());
                }
                self.agent.get(action.sign(SIGNED_FOR).as_str()).call().and_then(Answer::read)
            })?;
            if answer.status != 200 {
                return Err(refused("list objects", &answer));
            }
            let (more, next) = listed(&String::from_utf8_lossy(&answer.body), &self.prefix)
                .ok_or_else(|| refused("list objects in a form that can be read", &answer))?;
            names.extend(more);
            match next {
                Some(next) => from = Some(next),
                None => break,
            }
        }
        names.sort();
        Ok(names)
    }
}

/// The names in one answer of a list, without this before them, and where the next one goes on; none when the answer
/// can't be read.
pub fn listed(answer: &str, prefix: &str) -> Option<(Vec<String>, Option<String>)> {
    let page = ListObjectsV2::parse_response(answer).ok()?;
    let names = page.contents.iter().filter_map(|one| one.key.strip_prefix(prefix)).map(str::to_string);
    Some((names.collect(), page.next_continuation_token))
}

fn credentials(file: Option<&Path>) -> Outcome<Credentials> {
    let missing = || {
        Trouble::new(
            Kind::Locked,
            "There are no credentials for the store of objects.",
            "Nothing was sent.",
            "Give --credentials FILE (two lines: key and secret), or set AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY.",
        )
    };
    let Some(file) = file else { return Credentials::from_env().ok_or_else(missing) };
    let text =
        zeroize::Zeroizing::new(fs::read_to_string(file).map_err(|e| Trouble::disk("read", file, &e))?);
    let mut lines = text.lines().map(str::trim).filter(|line| !line.is_empty());
    match (lines.next(), lines.next(), lines.next()) {
        (Some(key), Some(secret), None) => Ok(Credentials::new(key, secret)),
        (Some(key), Some(secret), Some(token)) => Ok(Credentials::new_with_token(key, secret, token)),
        _ => Err(missing()),
    }
}

/// What went wrong, without the address: a signed one is as good as a password.
fn in_words(error: &ureq::Error) -> String {
    let words = error.to_string();
    if words.contains("X-Amz") || words.contains("://") { "no answer".to_string() } else { words }
}

fn unreachable(what: &str, why: &str) -> Trouble {
    Trouble::new(
        Kind::Disk,
        format!("It was not possible to {what} the store of objects: {why}."),
        "The store here was only read. What the copy held before, it holds.",
        "Look at the connection, then run the same command again: it goes on where it stopped.",
    )
}

fn refused(what: &str, answer: &Answer) -> Trouble {
    Trouble::new(
        Kind::Refused,
        format!("The store of objects refuses to {what} ({}).", answer.refusal()),
        "The store here was only read. What the copy held before, it holds.",
        "Look at the name of the bucket, the region, the credentials and what they may do; it takes creating, reading \
         and listing, and should not allow removing. A lock asks for a bucket made for locks.",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_are_told_from_folders() {
        let read = |text: &str| Address::read(text).map(|a| (a.bucket, a.prefix));
        assert_eq!(read("s3://safe/inkfast/"), Some(("safe".into(), "inkfast/".into())));
        assert_eq!(read("s3://safe"), Some(("safe".into(), String::new())));
        assert_eq!(read("/media/stick"), None);
        assert_eq!(read("s3://"), None);
    }

    #[test]
    fn plain_http_goes_to_this_computer_only_and_nothing_goes_without_credentials() {
        let file = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(file.path(), "key\nsecret\n").unwrap();
        let address = Address::read("s3://safe/x").unwrap();
        let ready = |endpoint, credentials| {
            let way = Way { endpoint: Some(endpoint), region: None, credentials: Some(credentials) };
            S3::new(&address, &way).map(drop)
        };
        assert!(ready("http://127.0.0.1:9000", file.path()).is_ok());
        assert_eq!(ready("http://far.example", file.path()).unwrap_err().kind, Kind::BadInput);
        std::fs::write(file.path(), "key\n").unwrap();
        assert_eq!(ready("https://far.example", file.path()).unwrap_err().kind, Kind::Locked);
    }
}
