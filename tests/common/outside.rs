//! Programs that share no code with this one, for the checks from outside.
//! `scripts/install-outside-checks` installs what they need.
#![allow(dead_code, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::ffi::OsStr;
use std::path::{Path, PathBuf};
use std::process::Command;

/// How a program ended and what it said.
#[derive(Debug)]
pub struct Said {
    pub code: i32,
    pub out: String,
    pub err: String,
}

/// The folder of this source tree.
pub fn tree() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Runs a program to its end.
pub fn run<A: AsRef<OsStr>>(program: impl AsRef<OsStr>, arguments: impl IntoIterator<Item = A>) -> Said {
    let program = program.as_ref();
    let output = Command::new(program).args(arguments).env("LC_ALL", "C").output();
    let output = output.unwrap_or_else(|e| {
        panic!("{} can't be run ({e}); run scripts/install-outside-checks", program.display())
    });
    Said {
        code: output.status.code().unwrap_or(-1),
        out: String::from_utf8_lossy(&output.stdout).into_owned(),
        err: String::from_utf8_lossy(&output.stderr).into_owned(),
    }
}

/// Runs one of the Python scripts of this tree.
pub fn python<A: AsRef<OsStr>>(script: &str, arguments: impl IntoIterator<Item = A>) -> Said {
    let script = tree().join(script).into_os_string();
    let arguments = arguments.into_iter().map(|a| a.as_ref().to_os_string());
    run(tree().join(".venv/bin/python"), std::iter::once(script).chain(arguments))
}

/// Runs one of the shell scripts of this tree.
pub fn shell<A: AsRef<OsStr>>(script: &str, arguments: impl IntoIterator<Item = A>) -> Said {
    let script = tree().join(script).into_os_string();
    let arguments = arguments.into_iter().map(|a| a.as_ref().to_os_string());
    run("sh", std::iter::once(script).chain(arguments))
}

/// What `inkfast verify` says of a store or package.
pub fn inkfast_verify(what: &Path, more: &[&OsStr]) -> Said {
    let arguments = [OsStr::new("verify"), OsStr::new("--json"), what.as_os_str()];
    run(env!("CARGO_BIN_EXE_inkfast"), arguments.into_iter().chain(more.iter().copied()))
}

/// What scripts/verify.py says of a store or opened package.
pub fn verify_py(what: &Path) -> Said {
    python("scripts/verify.py", [OsStr::new("--json"), what.as_os_str()])
}

/// The ids of what a `--json` report lists under `list`, of one severity where it has any.
pub fn listed(said: &Said, list: &str, severity: Option<&str>) -> Vec<String> {
    let report: serde_json::Value = serde_json::from_str(&said.out).unwrap_or_default();
    let found = report[list].as_array().cloned().unwrap_or_default();
    let wanted = found.iter().filter(|f| severity.is_none_or(|s| f["severity"] == s));
    wanted.map(|f| f["id"].as_str().unwrap_or("?").to_string()).collect()
}

/// Both verdicts on the same thing; they must be the same, and are returned as one.
pub fn both(what: &Path, about: &str) -> i32 {
    let (ours, theirs) = (inkfast_verify(what, &[]), verify_py(what));
    assert_eq!(
        ours.code,
        theirs.code,
        "{about}: inkfast says {} {:?} {}, verify.py says {} {:?} {}",
        ours.code,
        listed(&ours, "findings", Some("wrong")),
        ours.err,
        theirs.code,
        listed(&theirs, "findings", None),
        theirs.err
    );
    ours.code
}

/// True when the sweeps that take minutes are asked for (`INKFAST_LONG`).
pub fn long() -> bool {
    std::env::var_os("INKFAST_LONG").is_some()
}

/// The checker in Go, built in a folder that goes away with it.
pub struct GoCheck {
    pub folder: tempfile::TempDir,
}

impl GoCheck {
    pub fn build() -> GoCheck {
        let folder = tempfile::tempdir().unwrap();
        let built = Command::new("go")
            .args(["build", "-o"])
            .args([&folder.path().join("check"), &tree().join("tests/outside/go/check.go")])
            .envs([("GO111MODULE", "off"), ("GOPATH", "/usr/share/gocode")])
            .env("GOCACHE", folder.path().join("cache"))
            .output()
            .unwrap_or_else(|e| panic!("go can't be run ({e}); run scripts/install-outside-checks"));
        assert!(built.status.success(), "{}", String::from_utf8_lossy(&built.stderr));
        GoCheck { folder }
    }

    /// Writes a file into the checker's folder.
    pub fn write(&self, name: &str, bytes: &[u8]) -> PathBuf {
        let path = self.folder.path().join(name);
        std::fs::write(&path, bytes).unwrap();
        path
    }

    /// What it prints, as an error when it refuses.
    pub fn says<A: AsRef<OsStr>>(&self, arguments: impl IntoIterator<Item = A>) -> Result<String, String> {
        let said = run(self.folder.path().join("check"), arguments);
        let out = said.out.trim_end().to_owned();
        match said.code {
            0 => Ok(out),
            1 => Err(out),
            _ => panic!("the checker broke: {said:?}"),
        }
    }
}
