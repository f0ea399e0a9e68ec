//! What stands in one cell of the table of visits and measures: before > after, each value once.

use super::{Measures, Mended, Point, Series};
use crate::record::kinds::screening::Phase;
use crate::record::moment::plain_date;

/// One value of a cell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Value {
    /// As it was written.
    pub text: String,
    /// What struck it; none when it stands.
    pub struck: Option<Mended>,
    /// What put it there; none when it stood there from the first.
    pub added: Option<Mended>,
    /// As typed, and the reason for an unusual value, in words; empty where there is neither.
    pub remark: String,
    /// Numbers of the entries it stands in.
    pub entries: Vec<u64>,
}

/// The values of one series in one visit, by phase: before, during, after, or not said.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Cell {
    /// The groups that are there, in the order of the visit.
    pub groups: Vec<(Option<Phase>, Vec<Value>)>,
}

/// The cell of a series in a row. A value that two entries state alike is said once.
pub fn cell(measures: &Measures, series: &Series, row: usize) -> Cell {
    let mut cell = Cell::default();
    for phase in [None, Some(Phase::Before), Some(Phase::During), Some(Phase::After)] {
        let here = |point: &&Point| point.reading.phase == phase && measures.row_of(point) == Some(row);
        let mut values: Vec<Value> = Vec::new();
        for point in series.points.iter().filter(here) {
            let value = value(point);
            let known = values.iter_mut().find(|other| {
                (&other.text, other.struck, other.added, &other.remark)
                    == (&value.text, value.struck, value.added, &value.remark)
            });
            match known {
                Some(known) => known.entries.extend(value.entries),
                None => values.push(value),
            }
        }
        if !values.is_empty() {
            cell.groups.push((phase, values));
        }
    }
    cell
}

fn value(point: &Point) -> Value {
    let reading = &point.reading;
    let typed = reading.typed.as_ref().map(|typed| format!("typed: {typed}"));
    let unusual = reading.unusual_because.as_ref().map(|why| format!("unusual, because: {why}"));
    Value {
        text: reading.text.clone(),
        struck: point.struck,
        added: point.added,
        remark: typed.into_iter().chain(unusual).collect::<Vec<_>>().join("; "),
        entries: vec![point.entry],
    }
}

/// `struck by correction no. 21, 18 Oct 2022`.
pub fn struck_words(by: Mended) -> String {
    let on = plain_date(by.on);
    if by.misfiled {
        format!("belongs to another chart, see no. {}, {on}", by.by)
    } else {
        format!("struck by correction no. {}, {on}", by.by)
    }
}

/// What parts the groups of a cell: the arrow stands between before and after.
pub fn phase_sign(phase: Option<Phase>) -> &'static str {
    match phase {
        Some(Phase::Before) => "before ",
        Some(Phase::During) => "during ",
        Some(Phase::After) => "after ",
        None => "",
    }
}

/// The cell in plain words, each value written by `say`: `34 > 36`; where there is no before or no
/// after beside it, the phase is said.
pub fn words(cell: &Cell, say: impl Fn(&Value) -> String) -> String {
    let has = |wanted| cell.groups.iter().any(|(phase, _)| *phase == Some(wanted));
    let paired = has(Phase::Before) && has(Phase::After);
    let parts = cell.groups.iter().map(|(phase, values)| {
        let said = values.iter().map(&say).collect::<Vec<_>>().join("; ");
        let plain = phase.is_none() || (paired && *phase != Some(Phase::During));
        if plain { said } else { format!("{}{said}", phase_sign(*phase)) }
    });
    let parts: Vec<String> = parts.collect();
    // Without a pair an arrow would tell of a change that nobody measured.
    parts.join(if paired { " > " } else { "; " })
}

#[cfg(test)]
mod tests {
    use super::super::tests::{chart, gathered};
    use super::*;

    /// What a correction struck stays readable beside what stands in its place (CMS Pub. 100-08 ch. 3, 3.3.2.5).
    #[test]
    fn a_cell_holds_what_one_visit_says_of_one_measure() {
        let measures = gathered(&chart());
        let opening =
            measures.series.iter().find(|one| one.key.words() == "mouth opening unassisted").unwrap();
        let say = |value: &Value| match value.struck {
            Some(by) => format!("{} ({})", value.text, struck_words(by)),
            None => value.text.clone(),
        };
        let said: Vec<String> = (0..2).map(|row| words(&cell(&measures, opening, row), say)).collect();
        assert_eq!(said, ["34.0 > 36.0", "24.0 (struck by correction no. 21, 18 Oct 2022); 42.0 > 45.0"]);
        let told = measures.series.iter().find(|one| one.key.words().ends_with("as told")).unwrap();
        let told = cell(&measures, told, 1);
        assert_eq!(told.groups.len(), 1, "no group without a value: {told:?}");
        let other = Mended { by: 40, on: measures.rows[1].day, misfiled: true };
        assert_eq!(struck_words(other), "belongs to another chart, see no. 40, 17 Oct 2022");
    }

    /// An arrow only from before to after: alone, a value says when in the visit it was taken.
    #[test]
    fn without_a_pair_the_phase_is_said() {
        use Phase::{After, Before, During};
        for (phases, said) in [
            (&[None][..], "0"),
            (&[Some(Before)], "before 0"),
            (&[Some(During)], "during 0"),
            (&[Some(After)], "after 0"),
            (&[Some(Before), Some(After)], "0 > 1"),
            (&[Some(Before), Some(During), Some(After)], "0 > during 1 > 2"),
            (&[Some(Before), Some(During)], "before 0; during 1"),
            (&[None, Some(During)], "0; during 1"),
            (&[None, Some(After)], "0; after 1"),
        ] {
            let value = |text: usize| Value {
                text: text.to_string(),
                struck: None,
                added: None,
                remark: String::new(),
                entries: vec![1],
            };
            let groups = phases.iter().enumerate().map(|(n, phase)| (*phase, vec![value(n)])).collect();
            assert_eq!(words(&Cell { groups }, |value| value.text.clone()), said, "{phases:?}");
        }
    }
}
