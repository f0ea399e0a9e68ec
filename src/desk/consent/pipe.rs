//! Hands bytes to a command, or takes a page from one, through a pipe: what is in a chart is never written to the
//! disk in plain, not even for a moment.

use crate::desk::call::Call;
use crate::desk::run::Ran;
use crate::trouble::{Outcome, Trouble};
use std::io::{PipeReader, PipeWriter, Read, Write};
use std::os::fd::AsRawFd;
use std::thread::JoinHandle;

fn trouble(call: &Call<'_>, e: &std::io::Error) -> Trouble {
    Trouble::disk("hand something to a command beside", &call.desk.order.root, e)
}

/// Bytes that a command reads as a file, under the name it is given while `use_it` runs.
///
/// # Errors
/// When the system gives no pipe; else as `use_it` ends.
pub fn handed<T>(call: &Call<'_>, bytes: Vec<u8>, use_it: impl FnOnce(&str) -> Outcome<T>) -> Outcome<T> {
    let (reader, writer): (PipeReader, PipeWriter) = std::io::pipe().map_err(|e| trouble(call, &e))?;
    // A pipe holds little: whoever writes waits for whoever reads.
    let writing: JoinHandle<()> = std::thread::spawn(move || {
        let mut writer = writer;
        let _ = writer.write_all(&bytes);
    });
    let done = use_it(&format!("/dev/fd/{}", reader.as_raw_fd()));
    // Nobody reads any more: a thread that still writes is told so by the system.
    drop(reader);
    let _ = writing.join();
    done
}

/// Runs a command that writes a file under the name it is given, and takes what it wrote.
///
/// # Errors
/// As the command ends.
pub fn written(call: &Call<'_>, run: impl FnOnce(&str) -> Outcome<Ran>) -> Outcome<(Ran, Vec<u8>)> {
    let (mut reader, writer): (PipeReader, PipeWriter) = std::io::pipe().map_err(|e| trouble(call, &e))?;
    let reading = std::thread::spawn(move || {
        let mut bytes = Vec::new();
        let _ = reader.read_to_end(&mut bytes);
        bytes
    });
    let ran = run(&format!("/dev/fd/{}", writer.as_raw_fd()));
    drop(writer);
    let bytes = reading.join().unwrap_or_default();
    Ok((ran?, bytes))
}
