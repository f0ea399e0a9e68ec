//! A store of objects that speaks S3 and shares no code with this program, for the checks from outside.
#![allow(dead_code, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};

/// The secret that requests are signed with.
pub const SECRET: &str = "held by the practice alone";
/// A bucket.
pub const BUCKET: &str = "safe";
/// A bucket made for locks.
pub const LOCKED: &str = "locked";

/// The server, ended when it is dropped.
pub struct Server {
    child: Child,
    port: u16,
}

impl Server {
    /// Begins to serve on this computer, with both buckets empty.
    pub fn start() -> Server {
        let tree = Path::new(env!("CARGO_MANIFEST_DIR"));
        let mut child = Command::new(tree.join(".venv/bin/python"))
            .arg(tree.join("tests/outside/objects.py"))
            .args([SECRET, BUCKET, LOCKED])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap_or_else(|e| panic!("python can't be run ({e}); run scripts/install-outside-checks"));
        let mut line = String::new();
        BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
        let port = line.trim().parse().unwrap_or_else(|_| panic!("the server did not begin: {line:?}"));
        Server { child, port }
    }

    /// Its address.
    pub fn endpoint(&self) -> String {
        format!("http://127.0.0.1:{}", self.port)
    }

    /// Writes a file with the credentials for it.
    pub fn credentials(&self, path: &Path) {
        std::fs::write(path, format!("practice\n{SECRET}\n")).unwrap();
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
