//! A line of a note: what is read is printed so that it reads the same.

use inkfast::record::moment::Moment;
use inkfast::record::notation::line::{Read, Setting, print, read, read_back, split};
use inkfast::record::tables::levels::Levels;

/// Tries one input.
pub fn try_one(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let setting = Setting {
        at: Moment::parse("2025-03-11T09:40:00-04:00").unwrap(),
        done_by: "IV",
        transitional: text.len() % 5 == 0,
        levels: Levels::shipped().unwrap(),
    };
    for line in split(text) {
        match read(line, &setting) {
            Read::Line(said) => {
                let _ = read_back(&said);
                if let Some(printed) = print(&said, &setting) {
                    assert_eq!(read(&printed, &setting), Read::Line(said), "printed as {printed}");
                }
            }
            Read::Ask(question) => assert!(!question.readings.is_empty()),
            Read::Refused(refusal) => assert!(!refusal.text.is_empty()),
        }
    }
}
