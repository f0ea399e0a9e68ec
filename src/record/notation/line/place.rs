//! Where: level, joint, rib, muscle, region and side, put together into a region of the record.

use super::lex::{Item, What};
use super::words::Meaning;
use super::{Refusal, Stop, Typed, ask, once, refuse};
use crate::record::kinds::procedure::Span;
use crate::record::notation::level::{Place, Reading, Spine, Use};
use crate::record::notation::structure::{RibPart, Structure, is_sided};
use crate::record::vocab::{Region, Segment, Side};

/// What the place is named for.
#[derive(Clone, Copy)]
pub(super) struct Goal {
    /// How two levels are read.
    pub used_for: Use,
    /// True where a joint is meant, so that the neck is the joints of the neck.
    pub joint: bool,
    /// True for work inside the mouth.
    pub inside: bool,
}

/// What is said of a place, before it is put together.
#[derive(Default)]
pub(super) struct Said<'a> {
    levels: Vec<&'a Item>,
    vertebra: Option<&'a Item>,
    rib: Option<(RibPart, Segment)>,
    si: bool,
    known: Option<&'static Structure>,
    own: Option<String>,
    region: Option<Region>,
    /// The side.
    pub side: Option<Side>,
}

/// A place as records have it.
#[derive(Debug, PartialEq)]
pub(super) struct Where {
    pub region: Region,
    pub structure: Option<String>,
    pub segments: Vec<Segment>,
    pub level: Option<String>,
    pub span: Option<Span>,
    pub side: Option<Side>,
    /// True for muscle and fascia.
    pub soft: bool,
}

impl<'a> Said<'a> {
    /// Takes what belongs to a place from the items that begin here; says how many it took.
    pub fn take(&mut self, items: &'a [Item]) -> Result<usize, Stop> {
        let Some(item) = items.first() else { return Ok(0) };
        let next = items.get(1).map(|next| &next.what);
        match &item.what {
            What::Level(_) => self.levels.push(item),
            What::Pair(name, value) if name == "structure" => {
                once(&mut self.own, value.clone(), "structure")?
            }
            What::Pair(name, value) if name == "region" => {
                let region = Region::from_word(value);
                let Some(region) = region else { return refuse("unknown-region", "there is no such region") };
                once(&mut self.region, region, "region")?;
            }
            What::Known(meanings) => return self.take_word(meanings, items.get(1), next),
            _ => return Ok(0),
        }
        Ok(1)
    }

    fn take_word(
        &mut self,
        meanings: &'static [Meaning],
        following: Option<&'a Item>,
        next: Option<&What>,
    ) -> Result<usize, Stop> {
        for meaning in meanings {
            match (meaning, next) {
                (Meaning::Vertebra, Some(What::Level(_))) => {
                    self.vertebra = following;
                    return Ok(2);
                }
                (Meaning::Rib(part), Some(What::Number(number, None))) => {
                    let Some(rib) = part.segment(number) else {
                        let most = if *part == RibPart::Sternocostal { 7 } else { 12 };
                        return refuse(
                            "no-such-rib",
                            format!("the {} joints are those of ribs 1 to {most}", part.word()),
                        );
                    };
                    once(&mut self.rib, (*part, rib), "rib")?;
                    return Ok(2);
                }
                (Meaning::Rib(part), _) => {
                    return refuse("rib-number", format!("say which rib: {} 6", part.word()));
                }
                (Meaning::Vertebra, _) => return refuse("level-missing", "say which vertebra: vertebra T12"),
                (Meaning::Structure(structure), _) => once(&mut self.known, *structure, "structure")?,
                (Meaning::Region(region), _) => once(&mut self.region, *region, "region")?,
                (Meaning::Side(side), _) => once(&mut self.side, *side, "side")?,
                (Meaning::Si, _) => self.si = true,
                _ => continue,
            }
            return Ok(1);
        }
        Ok(0)
    }

    /// True where anything but a side was said.
    pub fn is_somewhere(&self) -> bool {
        !self.levels.is_empty()
            || self.vertebra.is_some()
            || self.rib.is_some()
            || self.si
            || self.known.is_some()
            || self.own.is_some()
            || self.region.is_some()
    }

    /// Names a structure that has a word of its own elsewhere, like the disc.
    pub fn name_structure(&mut self, name: &str) -> Result<(), Stop> {
        once(&mut self.own, name.to_owned(), "structure")
    }

    /// Puts the place together; the side is there if it must be.
    pub fn settle(self, typed: &Typed<'_>, goal: Goal) -> Result<Where, Stop> {
        let found = self.without_side(typed, goal)?;
        if is_sided(found.region, found.structure.as_deref(), &found.segments) {
            match found.side {
                None => return refuse("side-missing", "the side is missing: say L, R or both"),
                Some(Side::Midline) => {
                    return refuse("no-midline", "this structure has no midline: say L, R or both");
                }
                _ => {}
            }
        }
        Ok(found)
    }

    fn without_side(self, typed: &Typed<'_>, goal: Goal) -> Result<Where, Stop> {
        let mut found = Where {
            region: Region::Spine,
            structure: None,
            segments: Vec::new(),
            level: None,
            span: None,
            side: self.side,
            soft: self.known.is_some_and(|known| known.soft),
        };
        self.read_levels(typed, goal, &mut found)?;
        if let Some((part, rib)) = self.rib {
            found.segments.push(rib);
            found.structure = part.structure().map(str::to_owned);
        }
        if self.si {
            found.segments.push(Segment::Si);
        }
        let named = self.known.map(|known| known.name.to_owned()).or_else(|| self.own.clone());
        if let Some(name) = named {
            if found.structure.is_some() || (self.known.is_some() && self.own.is_some()) {
                return refuse("twice", "two things are said for the structure; write one");
            }
            found.structure = Some(name);
        }
        found.region = self.settled_region(typed, goal, &found)?;
        Ok(found)
    }

    fn read_levels(&self, typed: &Typed<'_>, goal: Goal, found: &mut Where) -> Result<(), Stop> {
        let spine = typed.setting.spine();
        if let Some(item) = self.vertebra {
            found.level = Some(single(item, &spine)?);
        }
        for item in &self.levels {
            let What::Level(text) = &item.what else { continue };
            match spine.read(text, goal.used_for) {
                Reading::Reads(place) => put_level(place, &spine, found)?,
                Reading::Ask(places) => {
                    let written: Vec<String> = places.iter().map(written_out).collect();
                    return ask(typed.line, item, "Which level is meant?", &written);
                }
                Reading::Refused(fault) => {
                    let shown: String = text.chars().take(16).collect();
                    return refuse(fault.word(), format!("{shown}: {fault}"));
                }
            }
        }
        let parts = [!found.segments.is_empty(), found.level.is_some(), found.span.is_some()];
        let others = [self.rib.is_some(), self.si];
        if parts.iter().chain(&others).filter(|said| **said).count() > 1 {
            return refuse("twice", "one line is for one place: write a line for each");
        }
        Ok(())
    }

    fn settled_region(&self, typed: &Typed<'_>, goal: Goal, found: &Where) -> Result<Region, Stop> {
        let of_level = self.region_of_level(typed, goal, found)?;
        let of_known = match (self.known, goal.inside) {
            (Some(known), true) if known.inside.is_none() => {
                return refuse(
                    "not-in-mouth",
                    format!("the {} is not reached from inside the mouth", known.name),
                );
            }
            (Some(known), true) => known.inside,
            (Some(known), false) => known.region,
            (None, _) => None,
        };
        if goal.inside && (of_level.is_some() || self.region.is_some_and(|region| !near_mouth(region))) {
            return refuse("not-in-mouth", "this place is not reached from inside the mouth");
        }
        if let Some(region) = self.region {
            let held = found.segments.iter().all(|segment| region.holds(*segment));
            let others = of_level.filter(|_| found.segments.is_empty()).into_iter();
            // Where it is reached from inside, jaw and mouth are both right.
            let others = others.chain(of_known.filter(|_| !goal.inside));
            let apart = others.into_iter().any(|other| !region.overlaps(other));
            if !held || apart {
                return refuse("region-mismatch", format!("this does not lie in the region {region}"));
            }
            return Ok(region);
        }
        match (of_level, of_known) {
            (Some(level), Some(known)) if level.overlaps(known) => {
                Ok(if level.depth() > known.depth() { level } else { known })
            }
            (Some(_), Some(_)) => {
                refuse("region-mismatch", "the structure does not lie at this level; say the region too")
            }
            (Some(one), None) | (None, Some(one)) => Ok(one),
            (None, None) if self.known.is_some() || self.own.is_some() => {
                refuse("region-missing", "say the region too, like lumbar")
            }
            (None, None) => {
                refuse("place-missing", "say where: a level like C5-6, a muscle, a joint or a region")
            }
        }
    }

    fn region_of_level(&self, typed: &Typed<'_>, goal: Goal, found: &Where) -> Result<Option<Region>, Stop> {
        if let Some((part, _)) = self.rib {
            return Ok(Some(part.region()));
        }
        if self.si {
            return Ok(Some(Region::Sacroiliac));
        }
        if let Some(level) = &found.level {
            return Ok(region_of(level, false));
        }
        if let Some(span) = &found.span {
            let ends = (region_of(&span.from, false), region_of(&span.to, false));
            return Ok(if ends.0 == ends.1 { ends.0 } else { Some(Region::Spine) });
        }
        let mut regions: Vec<Region> = Vec::new();
        for (index, segment) in found.segments.iter().enumerate() {
            let ends = segment.word().split_once('-');
            let Some((upper, lower)) =
                ends.map(|(u, l)| (region_of(u, goal.joint), region_of(l, goal.joint)))
            else {
                continue;
            };
            if upper != lower
                && self.region.is_none()
                && let Some(item) = self.levels.get(index)
            {
                // No source says to which of the two regions such a joint belongs.
                let typed_level = typed.line.get(item.from..item.to).unwrap_or_default();
                let words: Vec<String> = [upper, lower]
                    .into_iter()
                    .flatten()
                    .map(|region| format!("{typed_level} {region}"))
                    .collect();
                return ask(
                    typed.line,
                    item,
                    format!("{segment} lies between two regions. Which is meant?"),
                    &words,
                );
            }
            regions.extend(upper);
        }
        regions.dedup();
        Ok(match regions.as_slice() {
            [] => None,
            [one] => Some(*one),
            _ => Some(Region::Spine),
        })
    }
}

fn near_mouth(region: Region) -> bool {
    region.is_in_mouth() || region.is_within(Region::Jaw)
}

/// The region a level belongs to.
fn region_of(level: &str, joint: bool) -> Option<Region> {
    match level.chars().next()? {
        'C' | 'o' if joint => Some(Region::NeckJoints),
        'C' | 'o' => Some(Region::Cervical),
        'T' => Some(Region::Thoracic),
        'L' => Some(Region::Lumbar),
        'S' => Some(Region::Sacral),
        _ => None,
    }
}

/// The occiput goes by its name where a single level is meant.
fn level_name(level: &str, spine: &Spine<'_>) -> String {
    if spine.position(level) == Some(0) { "occiput".to_owned() } else { level.to_owned() }
}

fn put_level(place: Place, spine: &Spine<'_>, found: &mut Where) -> Result<(), Stop> {
    if let Some(segment) = place.segment() {
        if !found.segments.contains(&segment) {
            found.segments.push(segment);
        }
        return Ok(());
    }
    let Some(lower) = &place.lower else {
        return once(&mut found.level, level_name(&place.upper, spine), "level");
    };
    let ends = (spine.position(&place.upper), spine.position(lower));
    if ends.0.map(|upper| upper + 1) == ends.1 {
        return refuse("no-word", format!("records have no word for {place}: say the vertebra, like L6"));
    }
    let span = Span { from: level_name(&place.upper, spine), to: lower.clone() };
    once(&mut found.span, span, "stretch")
}

/// A single level, behind the word "vertebra".
fn single(item: &Item, spine: &Spine<'_>) -> Result<String, Refusal> {
    let What::Level(text) = &item.what else {
        return Err(Refusal::new("level-missing", "say which vertebra"));
    };
    let one = match spine.read(text, Use::Adjust) {
        Reading::Reads(place) => Some(place),
        Reading::Ask(places) => places.into_iter().next(),
        Reading::Refused(_) => None,
    };
    one.filter(|place| place.lower.is_none())
        .map(|place| level_name(&place.upper, spine))
        .ok_or_else(|| Refusal::new("no_such_level", "there is no such vertebra"))
}

/// A reading as it is typed without being asked about again.
fn written_out(place: &Place) -> String {
    if place.lower.is_none() { format!("vertebra {place}") } else { place.to_string() }
}
