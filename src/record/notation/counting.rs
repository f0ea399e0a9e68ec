//! Which of the regions for counting a treated structure belongs to: five of the spine, five elsewhere.
//! Which structure counts where is read from the patterns of the table, never built in.
//!
//! A pattern is a list with commas. In it `C1..C7` is every level from one to the other, `C0-C1..C6-C7` every
//! joint; `<rib>` stands for the number of a rib and `<side>` for L or R; `each -<side>` puts a side behind
//! every word before it; what stands in round brackets is a remark.

use super::level::{Reading, Spine, Use};
use crate::record::tables::levels::{Levels, Regions, StructureRow};
use serde::Serialize;

/// Where what was treated counts.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Counted {
    /// Regions of the spine, each once, in the order of the table.
    pub spinal: Vec<String>,
    /// Other regions, each once, in the order of the table.
    pub extraspinal: Vec<String>,
    /// Name for the number of regions of the spine; `none` where there is none.
    pub band: String,
    /// Joints between two regions, counted nowhere until somebody says where.
    pub ask: Vec<String>,
}

/// Said instead of a region where none can be named.
const ASK: &str = "ask";
/// Said where no region of the spine was treated.
const NONE: &str = "none";
/// People have twelve ribs on each side, seven of which reach the sternum.
const RIBS: u8 = 12;
const TRUE_RIBS: u8 = 7;

/// Counts the regions of these structures.
///
/// # Errors
/// A structure the table does not know, or a table that contradicts itself, in plain words.
pub fn count(structures: &[String], levels: &Levels, regions: &Regions) -> Result<Counted, String> {
    let spine = Spine::new(levels, false);
    let mut found: Vec<&str> = Vec::new();
    let mut ask: Vec<String> = Vec::new();
    for structure in structures {
        match counts_to(structure, &spine, levels, regions)? {
            ASK if !ask.contains(structure) => ask.push(structure.clone()),
            ASK => {}
            region => found.push(region),
        }
    }
    let known = |region: &&str| regions.spinal.iter().chain(&regions.extraspinal).any(|r| r == region);
    if let Some(region) = found.iter().find(|region| !known(region)) {
        return Err(format!(
            "the table counts a structure to \"{region}\", which it does not list as a region"
        ));
    }
    let pick = |list: &[String]| -> Vec<String> {
        list.iter().filter(|region| found.contains(&region.as_str())).cloned().collect()
    };
    let (spinal, extraspinal) = (pick(&regions.spinal), pick(&regions.extraspinal));
    let band = regions.bands.iter().find(|band| (band.from..=band.to).contains(&spinal.len()));
    let band = band.map_or_else(|| NONE.to_owned(), |band| band.band.clone());
    Ok(Counted { spinal, extraspinal, band, ask })
}

fn counts_to<'a>(
    structure: &str,
    spine: &Spine<'_>,
    levels: &Levels,
    regions: &'a Regions,
) -> Result<&'a str, String> {
    let word = structure.trim();
    let row = |word: &str| regions.structure.iter().find(|row| matches(row, word, spine));
    if let Some(row) = row(word) {
        return Ok(&row.counts_to);
    }
    // Written as it is typed rather than as the table has it.
    if let Reading::Reads(place) = spine.read(word, Use::Adjust)
        && let Some(row) = row(&place.to_string())
    {
        return Ok(&row.counts_to);
    }
    // S1 is in the table of levels, which says of what it is a part.
    if levels.sacral.iter().any(|level| level.eq_ignore_ascii_case(word))
        && let Some(region) = regions.spinal.iter().find(|region| *region == "sacral")
    {
        return Ok(region);
    }
    let shown: String = structure.chars().take(40).collect();
    Err(format!(
        "the table of regions does not know the structure \"{shown}\"; {}",
        advice(word, spine, regions)
    ))
}

/// What may be wrong with a word: its side is missing, or its number.
fn advice(word: &str, spine: &Spine<'_>, regions: &Regions) -> String {
    let known = |word: &str| regions.structure.iter().any(|row| matches(row, word, spine));
    if known(&format!("{word}-L")) {
        return "say the side: -L or -R behind it".to_owned();
    }
    if known(&format!("{word}-1-L")) || known(&format!("{word}-1")) {
        return "say which rib and which side, like rib-6-R".to_owned();
    }
    "use a level like C5, a joint like C5-C6, or a word of the table, like TMJ-L or rib-6-R".to_owned()
}

fn matches(row: &StructureRow, word: &str, spine: &Spine<'_>) -> bool {
    let bare = without_remarks(&row.pattern);
    let mut items: Vec<&str> = bare.split(',').map(str::trim).filter(|item| !item.is_empty()).collect();
    let ending = items.iter().find_map(|item| item.strip_prefix("each ")).map(str::trim);
    items.retain(|item| !item.starts_with("each "));
    items.iter().any(|item| fits(&format!("{item}{}", ending.unwrap_or_default()), word, spine))
}

fn without_remarks(pattern: &str) -> String {
    let mut depth = 0_usize;
    let keep = |c: &char| {
        depth = match c {
            '(' => depth + 1,
            ')' => return std::mem::take(&mut depth) == 0,
            _ => depth,
        };
        depth == 0
    };
    pattern.chars().filter(keep).collect()
}

fn fits(item: &str, word: &str, spine: &Spine<'_>) -> bool {
    if let Some((first, last)) = item.split_once("..") {
        return in_range(first.trim(), last.trim(), word, spine);
    }
    if !item.contains('<') {
        return item.eq_ignore_ascii_case(word);
    }
    let (wanted, given): (Vec<&str>, Vec<&str>) = (item.split('-').collect(), word.split('-').collect());
    let most = if wanted[0].eq_ignore_ascii_case("sternocostal") { TRUE_RIBS } else { RIBS };
    wanted.len() == given.len()
        && wanted.iter().zip(given).all(|(wanted, given)| match *wanted {
            "<side>" => given.eq_ignore_ascii_case("L") || given.eq_ignore_ascii_case("R"),
            "<rib>" => {
                !given.starts_with(['0', '+']) && given.parse().is_ok_and(|n: u8| (1..=most).contains(&n))
            }
            fixed => fixed.eq_ignore_ascii_case(given),
        })
}

/// True where the word is one of the levels, or of the joints, from one to the other.
fn in_range(first: &str, last: &str, word: &str, spine: &Spine<'_>) -> bool {
    let levels: Vec<String> = spine.order().iter().map(|level| (*level).to_owned()).collect();
    let joints: Vec<String> = spine.joints().iter().map(ToString::to_string).collect();
    [levels, joints].iter().any(|names| {
        let at = |name: &str| names.iter().position(|known| known.eq_ignore_ascii_case(name));
        matches!((at(first), at(last), at(word)), (Some(first), Some(last), Some(at)) if (first..=last).contains(&at))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::tables::Tables;

    fn counted(structures: &[&str]) -> Result<Counted, String> {
        let trade = &Tables::shipped().unwrap().trade;
        let structures: Vec<String> = structures.iter().map(|word| (*word).to_owned()).collect();
        count(&structures, &Levels::of(trade).unwrap(), &Regions::of(trade).unwrap())
    }

    fn told(structures: &[&str]) -> (String, String, String, String) {
        let counted = counted(structures).unwrap();
        (counted.spinal.join(" "), counted.extraspinal.join(" "), counted.band, counted.ask.join(" "))
    }

    fn row(a: &str, b: &str, c: &str, d: &str) -> (String, String, String, String) {
        (a.to_owned(), b.to_owned(), c.to_owned(), d.to_owned())
    }

    /// The regions are those of the AMA definitions as two insurers' policies restate them (trade.toml).
    #[test]
    fn each_region_once_and_in_the_order_of_the_table() {
        assert_eq!(told(&[]), row("", "", "none", ""));
        assert_eq!(told(&["L5", "C1", "C0-C1", "C7"]), row("cervical lumbar", "", "1-2", ""));
        assert_eq!(
            told(&["wrist-L", "abdomen", "foot-R"]),
            row("", "lower_extremity upper_extremity abdomen", "none", "")
        );
        assert_eq!(told(&["T12", "T1-T2", "ilium-R"]), row("thoracic pelvic", "", "1-2", ""));
        assert_eq!(told(&["skull", "C0"]), row("cervical", "head", "1-2", ""));
        assert_eq!(told(&["S1"]), row("sacral", "", "1-2", ""));
    }

    /// No source says where these count: asked, as the project's table has it.
    #[test]
    fn a_joint_between_two_regions_is_asked_about() {
        let asked = row("cervical", "", "1-2", "T12-L1 C7-T1");
        assert_eq!(told(&["T12-L1", "C5", "C7-T1", "T12-L1"]), asked);
    }

    #[test]
    fn ribs_have_numbers_and_sides_and_count_by_the_joint() {
        assert_eq!(
            told(&["costovertebral-12-L", "sternocostal-7-R"]),
            row("thoracic", "rib_cage", "1-2", "")
        );
        for wrong in ["rib-13-R", "rib-0-R", "rib-06-R", "sternocostal-8-L", "rib-6", "rib", "rib-6-B"] {
            assert!(counted(&[wrong]).is_err(), "{wrong}");
        }
    }

    #[test]
    fn an_unknown_structure_is_named() {
        let why = counted(&["C5", "tail"]).unwrap_err();
        assert!(why.contains("\"tail\""), "{why}");
        assert!(counted(&["TMJ"]).unwrap_err().contains("say the side"));
        assert!(counted(&["rib"]).unwrap_err().contains("which rib"));
        for wrong in ["C8", "C3-C5", "L6", "", "skull-R", "knee"] {
            assert!(counted(&[wrong]).is_err(), "{wrong}");
        }
    }

    /// A practice may adopt tables of its own; one that contradicts itself is said to, not followed.
    #[test]
    fn a_region_the_table_does_not_list_is_told() {
        let trade = &Tables::shipped().unwrap().trade;
        let mut regions = Regions::of(trade).unwrap();
        regions.structure[0].counts_to = "neck".to_owned();
        let why = count(&["C5".to_owned()], &Levels::of(trade).unwrap(), &regions).unwrap_err();
        assert!(why.contains("\"neck\""), "{why}");
    }

    /// One to two, three to four, five: the table's names for how many regions of the spine were treated.
    #[test]
    fn the_number_of_spinal_regions_has_its_name() {
        let treated = ["C5", "T4", "L5", "sacrum", "SI-L"];
        for (many, band) in [(0, "none"), (1, "1-2"), (2, "1-2"), (3, "3-4"), (4, "3-4"), (5, "5")] {
            assert_eq!(counted(&treated[..many]).unwrap().band, band, "{many}");
        }
    }

    /// The words of the table, and where each counts (trade.toml, with its sources).
    #[test]
    fn every_structure_of_the_table_counts_to_its_region() {
        let sides = ["L", "R"];
        let both = |word: &str| sides.map(|side| format!("{word}-{side}")).to_vec();
        let ribs = |word: &str, last: u8| (1..=last).flat_map(|n| both(&format!("{word}-{n}"))).collect();
        let levels = |letter: &str, last: u8| (1..=last).map(|n| format!("{letter}{n}")).collect();
        let joints = |letter: &str, first: u8, last: u8| -> Vec<String> {
            (first..last).map(|n| format!("{letter}{n}-{letter}{}", n + 1)).collect()
        };
        let words = |all: &[&str]| all.iter().map(|word| (*word).to_owned()).collect();
        let sided = |all: &[&str]| all.iter().flat_map(|word| both(word)).collect();
        let rows: [(Vec<String>, &str); 17] = [
            (levels("C", 7), "cervical"),
            (joints("C", 0, 7), "cervical"),
            (levels("T", 12), "thoracic"),
            (joints("T", 1, 12), "thoracic"),
            (ribs("costovertebral", 12), "thoracic"),
            (ribs("costotransverse", 12), "thoracic"),
            (levels("L", 5), "lumbar"),
            (joints("L", 1, 5), "lumbar"),
            (words(&["sacrum", "coccyx"]), "sacral"),
            (sided(&["SI", "ilium"]), "pelvic"),
            (both("TMJ"), "head"),
            (words(&["skull"]), "head"),
            (ribs("rib", 12), "rib_cage"),
            (ribs("sternocostal", 7), "rib_cage"),
            (sided(&["shoulder", "elbow", "wrist", "hand"]), "upper_extremity"),
            (sided(&["hip", "knee", "ankle", "foot"]), "lower_extremity"),
            (words(&["abdomen"]), "abdomen"),
        ];
        for (structures, region) in &rows {
            for word in structures {
                let all = counted(&[word]).unwrap();
                assert_eq!([all.spinal, all.extraspinal].concat(), [*region], "{word}");
            }
        }
        for word in
            ["sternocostal-8-L", "rib-x-L", "rib-1-L-L", "rib-+1-L", "costovertebral-L", "L-L", "each -L"]
        {
            assert!(counted(&[word]).is_err(), "{word}");
        }
        // As it is typed at speed it counts as what it is.
        assert_eq!(counted(&["c56"]).unwrap().spinal, ["cervical"]);
        assert_eq!(counted(&["tmj-l"]).unwrap().extraspinal, ["head"]);
    }

    #[test]
    fn of_a_word_that_is_not_known_it_is_said_what_is_missing() {
        for (word, says) in [
            ("TMJ", "say the side"),
            ("knee", "say the side"),
            ("rib", "say which rib and which side"),
            ("costovertebral", "say which rib and which side"),
            ("tail", "use a level like C5"),
        ] {
            let why = counted(&[word]).unwrap_err();
            assert!(why.contains(says), "{word}: {why}");
        }
    }
}
