//! What a command writes as a page is taken from it through a pipe: it is never a file on the disk, where it would lie
//! unsealed after everybody has gone.

use crate::desk::Call;
use crate::desk::run::Ran;
use crate::trouble::{Outcome, Trouble};
use std::io::Read;
use std::os::fd::AsRawFd;

/// Runs a command whose option `flag` names the file that it writes a page into, and gives the page.
///
/// # Errors
/// As the command ends.
pub fn page(call: &Call<'_>, words: &[&str], flag: &str) -> Outcome<(Ran, String)> {
    let trouble = |e: std::io::Error| Trouble::disk("take the page from", &call.desk.order.root, &e);
    let (mut reader, writer) = std::io::pipe().map_err(trouble)?;
    let into = format!("--{flag}=/dev/fd/{}", writer.as_raw_fd());
    // A pipe holds less than a page has, so it is read while it is written.
    let reading = std::thread::spawn(move || {
        let mut page = Vec::new();
        reader.read_to_end(&mut page).map(|_| page)
    });
    let all: Vec<&str> = words.iter().copied().chain([into.as_str()]).collect();
    let ran = call.run(&all);
    drop(writer);
    let page = reading.join().unwrap_or_else(|_| Ok(Vec::new())).map_err(trouble)?;
    Ok((ran?, String::from_utf8_lossy(&page).into_owned()))
}
