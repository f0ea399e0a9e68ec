//! A long attachment is sealed, kept, checked, released and taken out again in constant memory. One
//! test alone in its program, because the peak of memory belongs to the whole process.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

mod common;

use common::{Dice, Small, attachment, check, example_data, long};
use inkfast::practice::attach::{attach, open_into};
use inkfast::practice::release::{ReleaseOrder, SealTo, release};
use inkfast::record::kinds::Data;
use inkfast::verify::package::check_archive;
use std::io::{self, Read, Write};

/// Bytes made as they are read.
struct Made {
    left: u64,
    dice: Dice,
    hasher: blake3::Hasher,
}

impl Made {
    fn new(bytes: u64) -> Made {
        Made { left: bytes, dice: Dice::new(1), hasher: blake3::Hasher::new() }
    }
}

impl Read for Made {
    fn read(&mut self, buf: &mut [u8]) -> io::Result<usize> {
        let n = buf.len().min(self.left as usize).min(64 << 10);
        let word = self.dice.next().to_le_bytes();
        buf[..n].fill(word[0]);
        buf[..n.min(8)].copy_from_slice(&word[..n.min(8)]);
        self.hasher.update(&buf[..n]);
        self.left -= n as u64;
        Ok(n)
    }
}

struct Hashed(blake3::Hasher);

impl Write for Hashed {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.update(bytes);
        Ok(bytes.len())
    }
    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// The most memory this process ever had, in bytes (`VmHWM` of proc(5)).
fn peak() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:")).unwrap();
    line.trim().trim_end_matches(" kB").trim().parse::<u64>().unwrap() * 1024
}

#[test]
fn a_long_attachment_takes_constant_memory() {
    const MB: u64 = 1 << 20;
    let size = if long() { 300 * MB } else { 8 * MB };
    let allowed = if long() { 60 * MB } else { 6 * MB };
    let mut small = Small::new(64 << 10, 1);
    let (tag, now) = (small.charts[0].clone(), small.practice.now());
    // Once with a short one, so that what is needed anyway is there before measuring.
    once(&mut small, &tag, MB, "short.age");
    let before = peak();
    let mut source = Made::new(size);
    attach(&mut small.practice, &tag, &mut source, attachment("a long film"), now).unwrap();
    let digest = inkfast::seal::body::hex(source.hasher.finalize().as_bytes());
    let grown = peak() - before;
    assert!(grown < allowed, "keeping {size} bytes took {grown} more");
    let entries = small.practice.chart(&tag).unwrap();
    let Some(Data::Attachment(data)) = entries.last().unwrap().data() else { panic!() };
    assert_eq!((data.size, data.plain_digest.as_str()), (size, digest.as_str()));
    let mut out = Hashed(blake3::Hasher::new());
    open_into(&small.practice, &tag, &data, &mut out).unwrap();
    assert_eq!(inkfast::seal::body::hex(out.0.finalize().as_bytes()), digest);
    assert!(check(&small.root()).sound);
    package(&mut small, &tag, "long.age");
    let grown = peak() - before;
    assert!(grown < allowed, "all together with {size} bytes took {grown} more");
}

fn once(small: &mut Small, tag: &str, size: u64, name: &str) {
    let now = small.practice.now();
    attach(&mut small.practice, tag, &mut Made::new(size), attachment("a short film"), now).unwrap();
    assert!(check(&small.root()).sound);
    package(small, tag, name);
}

/// Releases the chart and checks the package, read as a stream.
fn package(small: &mut Small, tag: &str, name: &str) {
    let Data::Release(data) = example_data("release") else { panic!() };
    let order = ReleaseOrder::new(
        *data,
        SealTo::Recipients(vec![small.recovery.recipient()]),
        small.dir.path().join(name),
        small.practice.now(),
    );
    let released = release(&mut small.practice, tag, order).unwrap();
    let file = io::BufReader::new(std::fs::File::open(&released.file).unwrap());
    let with = inkfast::seal::age_file::With::Identities(std::slice::from_ref(&small.recovery));
    let mut plain = inkfast::seal::age_file::opener(&with, file).unwrap();
    assert!(check_archive(&mut plain, &mut |_| ()).unwrap().sound);
}
