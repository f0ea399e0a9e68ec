//! The body chart: three figures, each a column of bands from the head down. A band names a region and has a button
//! for each of its sides, so that it is touched with a knuckle and read by a screen reader alike; the figure
//! behind is only to find one's way. Left is the patient's own left.

use crate::desk::call::Call;
use crate::desk::terms;
use crate::record::vocab::{Region, Side};
use maud::{Markup, PreEscaped, html};

/// A figure of the chart.
struct Figure {
    /// Key of its name, behind `room-body-`.
    name: &'static str,
    /// Regions, from the head down.
    bands: &'static [Region],
    /// True where the patient's left is on the viewer's left: seen from behind.
    from_behind: bool,
    /// The figure behind the bands.
    outline: &'static str,
}

use Region::*;

/// From behind.
const BACK: Figure = Figure {
    name: "back",
    bands: &[
        Suboccipital,
        NeckJoints,
        NeckBack,
        ShoulderGirdle,
        Thoracic,
        RibSpineJoints,
        Lumbar,
        Sacroiliac,
        Gluteal,
        Coccyx,
    ],
    from_behind: true,
    outline: "M100 4c16 0 24 13 24 28 0 13-5 22-11 27v14c20 7 45 10 52 26 8 20 9 62 13 96l-13 4-14-70-3 70 6 70 2 128h-25l-19-112h-24l-19 112H44l2-128 6-70-3-70-14 70-13-4c4-34 5-76 13-96 7-16 32-19 52-26V59c-6-5-11-14-11-27C76 17 84 4 100 4Z",
};

/// From the front.
const FRONT: Figure = Figure {
    name: "front",
    bands: &[
        NeckFront,
        Shoulder,
        Sternum,
        ChestWallFront,
        Ribs,
        Elbow,
        Abdomen,
        Wrist,
        Hand,
        Hip,
        Groin,
        Knee,
        Ankle,
        Foot,
    ],
    from_behind: false,
    outline: BACK.outline,
};

/// The face and the mouth.
const FACE: Figure = Figure {
    name: "face",
    bands: &[Scalp, Head, JawJoint, JawMuscles, InsideCheek, MouthFloor],
    from_behind: false,
    outline: "M100 20c52 0 78 44 78 108 0 40-8 62-13 92-6 40-30 88-65 110-35-22-59-70-65-110-5-30-13-52-13-92C22 64 48 20 100 20ZM52 160c10-9 26-9 36 0m24 0c10-9 26-9 36 0M100 165v52m-14 6c9 7 19 7 28 0m-52 40c24 20 52 20 76 0-24-9-52-9-76 0Z",
};

const FIGURES: [&Figure; 3] = [&BACK, &FRONT, &FACE];

/// The value of a button: region and side.
fn value(region: Region, side: Side) -> String {
    format!("{}:{}", region.word(), side.word())
}

/// Reads the value of a button; none where it is none.
pub fn read(value: &str) -> Option<(Region, Side)> {
    let (region, side) = value.split_once(':')?;
    Some((Region::from_word(region)?, Side::from_word(side)?))
}

/// The chart. `chosen` is the value chosen before.
pub fn chart(call: &Call<'_>, chosen: Option<(Region, Side)>) -> Markup {
    let shown =
        FIGURES.iter().position(|f| chosen.is_some_and(|(region, _)| f.bands.contains(&region))).unwrap_or(0);
    html! {
        fieldset.body-chart {
            legend { (call.t("room-body-title")) }
            p.hint { (call.t("room-body-hint")) }
            div.views role="group" aria-label=(call.t("room-body-views")) {
                @for (at, figure) in FIGURES.iter().enumerate() {
                    span.choice {
                        input type="radio" name="view" value=(figure.name) id=(format!("view-{}", figure.name))
                            checked[at == shown];
                        label for=(format!("view-{}", figure.name)) { (name(call, figure)) }
                    }
                }
            }
            div.figures {
                @for figure in FIGURES { (figure_of(call, figure, chosen)) }
            }
        }
    }
}

fn name(call: &Call<'_>, figure: &Figure) -> String {
    call.t(&format!("room-body-{}", figure.name))
}

fn figure_of(call: &Call<'_>, figure: &Figure, chosen: Option<(Region, Side)>) -> Markup {
    let (width, height) = (200, 397);
    html! {
        div class=(format!("figure figure-{}", figure.name)) role="group" aria-label=(name(call, figure)) {
            svg viewBox=(format!("0 0 {width} {height}")) aria-hidden="true" focusable="false" preserveAspectRatio="none" {
                path d=(PreEscaped(figure.outline)) fill="none" stroke="currentColor" stroke-width="1.2"
                    stroke-linejoin="round" vector-effect="non-scaling-stroke" {}
            }
            @for region in figure.bands { (band(call, *region, figure.from_behind, chosen)) }
        }
    }
}

fn band(call: &Call<'_>, region: Region, from_behind: bool, chosen: Option<(Region, Side)>) -> Markup {
    let sides = if from_behind { [Side::Left, Side::Right] } else { [Side::Right, Side::Left] };
    let words = terms::region(call.lang, region);
    let has_sides = !matches!(region, Region::Sternum | Region::Coccyx | Region::Scalp | Region::Head);
    html! {
        div.band {
            @if has_sides { (spot(call, region, sides[0], &words, chosen)) }
            @if region.spans_midline() { (spot(call, region, Side::Midline, &words, chosen)) }
            @else { span.name aria-hidden="true" { (words) } }
            @if has_sides {
                (spot(call, region, sides[1], &words, chosen))
                (spot(call, region, Side::Both, &words, chosen))
            }
        }
    }
}

fn spot(call: &Call<'_>, region: Region, side: Side, words: &str, chosen: Option<(Region, Side)>) -> Markup {
    let id = format!("spot-{}-{}", region.word(), side.word());
    let on_it = chosen == Some((region, side));
    let middle = side == Side::Midline;
    html! {
        span class=(if middle { "choice middle" } else { "choice" }) {
            input type="radio" name="spot" value=(value(region, side)) id=(id) checked[on_it];
            label for=(id) {
                @if middle { (words) span.unseen { ", " (terms::side(call.lang, side)) } }
                @else { span.unseen { (words) ", " } (call.t(&format!("room-short-{}", side.word()))) }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_band_is_read_back_and_no_region_stands_twice() {
        let mut all: Vec<Region> = Vec::new();
        for figure in FIGURES {
            for region in figure.bands {
                assert!(!all.contains(region), "{region} stands in two figures");
                all.push(*region);
                for side in Side::ALL {
                    assert_eq!(read(&value(*region, *side)), Some((*region, *side)));
                }
            }
        }
        // What is left out is a whole whose parts are there, or is said with its parts.
        let left_out: Vec<&Region> = Region::ALL.iter().filter(|region| !all.contains(region)).collect();
        assert!(left_out.iter().all(|region| all.iter().any(|part| part.overlaps(**region))), "{left_out:?}");
        assert_eq!(read("lumbar"), None);
    }
}
