//! Rewrites a copy of a source tree so that it holds every mutant of a list, each behind `switched::on(NUMBER)`.
//!
//! `inkfast-mutants FOLDER LIST MAP`: reads the list (JSON of `cargo mutants --list --json`, each mutant with a
//! `number` added), rewrites the files in FOLDER, and writes to MAP where each mutant now lies, so that one which
//! does not compile can be found from the compiler's complaint. What the list leaves out stays as it is.

mod render;
mod sites;

use std::collections::BTreeMap;
use std::error::Error;
use std::path::Path;
use std::{env, fs};

use serde::{Deserialize, Serialize};

/// A mutant as cargo-mutants lists it. Lines and columns count from 1, columns in characters.
#[derive(Debug, Clone, Deserialize)]
pub struct Mutant {
    pub number: u32,
    pub file: String,
    pub genre: String,
    pub replacement: String,
    pub span: Span,
}

#[derive(Debug, Clone, Copy, Deserialize)]
pub struct Span {
    pub start: Place,
}

#[derive(Debug, Clone, Copy, Deserialize, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    pub line: usize,
    pub column: usize,
}

/// Where something lies in a rewritten file, in bytes, and the mutants it is for.
#[derive(Debug, Serialize)]
pub struct Lies {
    pub start: usize,
    pub end: usize,
    pub mutants: Vec<u32>,
}

/// One rewritten file: the text that is a single mutant's own, and the whole of each place that was rewritten.
#[derive(Debug, Default, Serialize)]
pub struct Rewritten {
    pub own: Vec<Lies>,
    pub places: Vec<Lies>,
}

fn main() -> Result<(), Box<dyn Error>> {
    let words: Vec<String> = env::args().skip(1).collect();
    let [folder, list, map] = words.as_slice() else {
        return Err("usage: inkfast-mutants FOLDER LIST MAP".into());
    };
    let mutants: Vec<Mutant> = serde_json::from_str(&fs::read_to_string(list)?)?;
    let mut by_file: BTreeMap<String, Vec<Mutant>> = BTreeMap::new();
    for mutant in mutants {
        by_file.entry(mutant.file.clone()).or_default().push(mutant);
    }
    let mut rewritten = BTreeMap::new();
    for (file, mutants) in by_file {
        let path = Path::new(folder).join(&file);
        let source = fs::read_to_string(&path)?;
        let (text, lies) = rewrite(&source, &mutants).map_err(|error| format!("{file}: {error}"))?;
        fs::write(&path, text)?;
        rewritten.insert(file, lies);
    }
    fs::write(map, serde_json::to_string(&rewritten)?)?;
    Ok(())
}

fn rewrite(source: &str, mutants: &[Mutant]) -> Result<(String, Rewritten), syn::Error> {
    let sites = sites::find(source, mutants)?;
    Ok(render::render(source, &sites))
}
