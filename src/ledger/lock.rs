//! One writer at a time. The lock belongs to the open file, so it ends with the process however
//! that ends; the number in the file is only for the message.

use crate::trouble::{Kind, Outcome, Trouble};
use std::fs::{File, OpenOptions, TryLockError};
use std::io::{Read, Seek, SeekFrom, Write};
use std::os::unix::fs::OpenOptionsExt;
use std::path::Path;

/// Held while a ledger is open for writing.
#[derive(Debug)]
pub struct Lock {
    _file: File,
}

impl Lock {
    /// Takes the lock or says who has it. Another command usually needs well under a second, so a
    /// short wait comes before a refusal.
    pub fn take(path: &Path) -> Outcome<Lock> {
        let trouble = |e: std::io::Error| Trouble::disk("open the lock file", path, &e);
        let mut file = OpenOptions::new()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .mode(0o600)
            .open(path)
            .map_err(trouble)?;
        for round in 0..40 {
            match file.try_lock() {
                Ok(()) => break,
                Err(TryLockError::WouldBlock) if round < 39 => {
                    std::thread::sleep(std::time::Duration::from_millis(50));
                }
                Err(TryLockError::WouldBlock) => return Err(busy(&mut file)),
                Err(TryLockError::Error(e)) => return Err(trouble(e)),
            }
        }
        let mut note = || -> std::io::Result<()> {
            file.set_len(0)?;
            file.seek(SeekFrom::Start(0))?;
            write!(file, "{}", std::process::id())
        };
        note().map_err(trouble)?;
        Ok(Lock { _file: file })
    }
}

fn busy(file: &mut File) -> Trouble {
    let mut holder = String::new();
    let _ = file.read_to_string(&mut holder);
    let who = match holder.trim().parse::<u32>() {
        Ok(number) => format!("process {number}"),
        Err(_) => "another process".to_string(),
    };
    Trouble::new(
        Kind::Busy,
        format!("Somebody else is writing to this store just now ({who})."),
        "Nothing was written. What you typed is kept as a draft where the command keeps drafts.",
        "Wait until that command has ended, then do it again.",
    )
}
