//! Two hostile readers go through everything the example practice handed over: whoever looks for what they need
//! first (the patient, the next clinician, the board or counsel), and whoever looks for what makes a record
//! unreliable. Each point stands in a table with its check, and with a copy bent so that the check must fail; a
//! point that no package can answer stands there with the reason.
//!
//! The points are common practice of those who examine records of treatment; from memory.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // In a test a panic is the report.

#[path = "../common/archive.rs"]
#[allow(dead_code)] // What a release to a patient says is of no use here.
mod archive;
mod clinician;
mod copy;
mod counsel;
mod marks;
mod notes;
mod patient;

use copy::{Copy, copies};

/// What is done with a point.
pub enum Answer {
    /// Held to every package; a copy bent so must fail.
    Checked(fn(&Copy) -> Result<(), String>, fn(&mut Copy)),
    /// Held to two packages of one chart; the second one bent so must fail.
    Compared(fn(&Copy, &Copy) -> Result<(), String>, fn(&mut Copy)),
    /// No package can answer it.
    Noted(&'static str),
}

/// A point of a reviewer's list.
pub struct Point {
    /// Its name.
    pub name: &'static str,
    /// The package whose bent copy must fail: its number among those handed over, from 1.
    pub bent: usize,
    /// What is done with it.
    pub answer: Answer,
}

/// A checked point.
pub const fn checked(
    name: &'static str,
    bent: usize,
    check: fn(&Copy) -> Result<(), String>,
    bend: fn(&mut Copy),
) -> Point {
    Point { name, bent, answer: Answer::Checked(check, bend) }
}

fn points() -> Vec<&'static Point> {
    let lists = [&patient::POINTS[..], &clinician::POINTS, &counsel::POINTS, &marks::POINTS, &notes::POINTS];
    lists.into_iter().flatten().collect()
}

#[test]
fn every_package_of_the_example_practice_stands_up_to_every_point() {
    let copies = copies();
    let mut faults = Vec::new();
    for point in points() {
        match &point.answer {
            Answer::Checked(check, _) => {
                for copy in copies {
                    let found = check(copy).err();
                    faults.extend(found.map(|why| format!("{}: {}: {why}", point.name, copy.file)));
                }
            }
            Answer::Compared(check, _) => {
                for (at, copy) in copies.iter().enumerate() {
                    for earlier in copies[..at].iter().filter(|one| one.chart() == copy.chart()) {
                        let found = check(earlier, copy).err();
                        faults.extend(found.map(|why| format!("{}: {}: {why}", point.name, copy.file)));
                    }
                }
            }
            Answer::Noted(why) => assert!(why.len() > 40, "{}: the reason says too little", point.name),
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn no_point_is_one_that_cannot_fail() {
    let copies = copies();
    for point in points() {
        let mut bent = copies.get(point.bent - 1).unwrap_or(&copies[0]).clone();
        let found = match &point.answer {
            Answer::Checked(check, bend) => {
                bend(&mut bent);
                check(&bent)
            }
            Answer::Compared(check, bend) => {
                bend(&mut bent);
                check(copies.iter().find(|one| one.chart() == bent.chart()).unwrap(), &bent)
            }
            Answer::Noted(_) => continue,
        };
        assert!(found.is_err(), "{}: the bent copy passes", point.name);
    }
}

#[test]
fn every_point_has_a_name_of_its_own_and_two_have_no_check() {
    let mut names: Vec<_> = points().iter().map(|point| point.name).collect();
    let all = names.len();
    names.sort_unstable();
    names.dedup();
    assert_eq!((names.len(), all), (all, 55));
    let noted = points().into_iter().filter(|point| matches!(point.answer, Answer::Noted(_)));
    assert_eq!(
        noted.map(|point| point.name).collect::<Vec<_>>(),
        ["billing for regions the note does not show", "something was left unwritten"]
    );
}
