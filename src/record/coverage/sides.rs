//! The side table: which agreed side covers which requested one, and which entries that restrict
//! touch a side.

use crate::record::vocab::{Region, Side};

/// True when what was agreed for `agreed` covers a request for `requested` in `region`. `both`
/// is not asked here: it is judged as left and as right.
pub fn covers(agreed: Side, requested: Side, region: Region) -> bool {
    match (agreed, requested) {
        (Side::Left | Side::Both, Side::Left) | (Side::Right | Side::Both, Side::Right) => true,
        (Side::Both | Side::Midline, Side::Midline) => region.spans_midline(),
        _ => false,
    }
}

/// True when an entry that restricts touches the requested side. Left and right touch the midline
/// too; the midline touches only itself.
pub fn touches(entry: Option<Side>, requested: Side) -> bool {
    match entry {
        None | Some(Side::Both) => true,
        Some(side) => side == requested || requested == Side::Midline || requested == Side::Both,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use Side::*;

    #[test]
    fn the_side_table() {
        let (neck, ribs) = (Region::Cervical, Region::Ribs);
        let table = [
            (Left, [true, false, false, false]),
            (Right, [false, true, false, false]),
            (Both, [true, true, true, false]),
            (Midline, [false, false, true, false]),
        ];
        for (agreed, row) in table {
            let found = [
                covers(agreed, Left, neck),
                covers(agreed, Right, neck),
                covers(agreed, Midline, neck),
                covers(agreed, Midline, ribs),
            ];
            assert_eq!(found, row, "{agreed}");
        }
    }

    #[test]
    fn what_restricts_reaches_the_midline_from_either_side() {
        assert!(touches(None, Left) && touches(Some(Both), Midline));
        assert!(touches(Some(Left), Midline) && touches(Some(Right), Midline));
        assert!(!touches(Some(Left), Right) && !touches(Some(Midline), Left));
        assert!(touches(Some(Midline), Midline));
    }
}
