//! Hands bytes to a command, or takes a page from one, through a pipe: what is in a chart, and what opens it, is never
//! written to the disk in plain, not even for a moment.

use super::call::Call;
use super::run::Ran;
use crate::trouble::{Outcome, Trouble};
use std::io::{Read, Write};
use std::os::fd::AsRawFd;

fn trouble(call: &Call<'_>, e: &std::io::Error) -> Trouble {
    Trouble::disk("hand something to a command beside", &call.desk.order.root, e)
}

/// Bytes that a command reads as a file, under the name it is given while `use_it` runs.
///
/// # Errors
/// When the system gives no pipe; else as `use_it` ends.
pub fn handed<T>(call: &Call<'_>, bytes: &[u8], use_it: impl FnOnce(&str) -> Outcome<T>) -> Outcome<T> {
    let (reader, mut writer) = std::io::pipe().map_err(|e| trouble(call, &e))?;
    std::thread::scope(move |threads| {
        // A pipe holds little: whoever writes waits for whoever reads.
        threads.spawn(move || {
            let _ = writer.write_all(bytes);
        });
        let done = use_it(&format!("/dev/fd/{}", reader.as_raw_fd()));
        // Nobody reads any more: a thread that still writes is told so by the system.
        drop(reader);
        done
    })
}

/// Runs a command whose option `flag` names the file that it writes a page into, and gives the page.
///
/// # Errors
/// When the system gives no pipe, or the page can't be read; else as the command ends.
pub fn written<W: AsRef<str>>(call: &Call<'_>, words: &[W], flag: &str) -> Outcome<(Ran, Vec<u8>)> {
    let (mut reader, writer) = std::io::pipe().map_err(|e| trouble(call, &e))?;
    let into = format!("--{flag}=/dev/fd/{}", writer.as_raw_fd());
    // It is read while it is written.
    let reading = std::thread::spawn(move || {
        let mut page = Vec::new();
        reader.read_to_end(&mut page).map(|_| page)
    });
    let all: Vec<&str> = words.iter().map(AsRef::as_ref).chain([into.as_str()]).collect();
    let ran = call.run(&all);
    drop(writer);
    let page = reading.join().unwrap_or_else(|_| Ok(Vec::new())).map_err(|e| trouble(call, &e))?;
    Ok((ran?, page))
}
