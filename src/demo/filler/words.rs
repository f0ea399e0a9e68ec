//! The words of ordinary visits, by where the trouble is.

use crate::record::vocab::{Region, Segment, Side, Technique};

/// Where a course of visits works.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Topic {
    Neck,
    NeckThrust,
    SeatedNeck,
    UpperBack,
    LowBack,
    Shoulder,
    Hip,
    Jaw,
    Wrist,
}

/// What a visit on a topic draws from.
pub(super) struct Words {
    /// Where the trouble is and what soft tissue is worked.
    pub region: Region,
    /// The joint work, if there is any, and the segments it may go to.
    pub joint: Option<(Technique, Region, &'static [Segment])>,
    /// Side of the trouble.
    pub side: Side,
    /// What the consent names.
    pub techniques: &'static [Technique],
    pub regions: &'static [Region],
    pub complaints: &'static [&'static str],
    pub findings: &'static [&'static str],
    pub diagnosis: &'static str,
    pub structure: &'static str,
    pub positions: &'static [&'static str],
    pub advice: &'static [&'static str],
    pub watch: &'static str,
}

/// What changed since last time; common to all.
pub(super) const CHANGED: &[&str] = &[
    "A good week, one bad day after the market.",
    "Better for four days, then back to half.",
    "Slept through, which is new.",
    "No change to speak of; busy at work.",
    "Worse after the weekend, easing since yesterday.",
    "Clearly better; forgot about it on two days.",
    "Did the exercise most days, says it helps.",
    "Left the exercise out, says so freely.",
    "Cold on the chest last week, over now; trouble about the same.",
    "Long train ride on Saturday, stiff since.",
    "Two days of soreness after last time, then good.",
    "Mornings good, evenings not.",
    "Steady. Comes so that it stays that way.",
    "Moved a cupboard with the neighbour and regretted it.",
    "Rain and damp: says it always shows then.",
    "Nothing since last time but the usual tiredness.",
    "Back from a week away; the strange bed did not help.",
    "Less tablets than last month.",
    "First week without thinking of it every day.",
    "Stands more at work since we spoke; easier.",
];

/// Second half of a sentence about the change, so that two visits rarely read alike.
pub(super) const ASIDE: &[&str] = &[
    "Appetite and sleep as usual.",
    "No new medicines.",
    "Asked about falls: none.",
    "Walks to work again.",
    "Brought the diary: three bad days.",
    "Would like to come less often.",
    "Worried about the stairs in the dark.",
    "Says the last sheet was easy to follow.",
    "Daughter's wedding next month, wants to dance.",
    "In good spirits.",
    "Short of time today, asked for the short version.",
    "Nothing else to report.",
];

/// Plans.
pub(super) const PLANS: &[&str] = &[
    "Again in about four weeks.",
    "Again when it asks for it, at the latest in six weeks.",
    "Same again next time, then longer gaps.",
    "Measure again next time and decide about going on.",
    "Two more visits, then a rest.",
    "Longer gap; ring if it comes back.",
    "Next time a look at the exercise, hands second.",
];

/// What was said at the table.
pub(super) const SAID: &[&str] = &[
    "\"That is the spot.\"",
    "\"A bit less, please.\" Eased off.",
    "\"Easier to turn.\"",
    "\"I could sleep here.\"",
    "\"Warm now.\"",
    "Breathes out and lets go.",
    "\"Sore, but the good kind.\"",
    "Nothing said, nods when asked.",
    "\"Better than last time.\"",
    "\"I felt that down to the elbow once, then not again.\"",
];

/// The words for a topic.
pub(super) fn words(topic: Topic) -> &'static Words {
    match topic {
        Topic::Neck => &NECK,
        Topic::NeckThrust => &NECK_THRUST,
        Topic::SeatedNeck => &SEATED_NECK,
        Topic::UpperBack => &UPPER_BACK,
        Topic::LowBack => &LOW_BACK,
        Topic::Shoulder => &SHOULDER,
        Topic::Hip => &HIP,
        Topic::Jaw => &JAW,
        Topic::Wrist => &WRIST,
    }
}

use Technique::{Examination, Mobilization, SoftTissue, Thrust};

const NECK_SEGMENTS: &[Segment] = &[Segment::C2C3, Segment::C3C4, Segment::C4C5, Segment::C5C6];
const NECK_WATCH: &str =
    "A headache unlike the others, double sight, slurred speech, unsteady walk, numb arms: emergency number.";
const BACK_WATCH: &str = "Numb saddle, weak leg, trouble passing water: emergency number.";

const NECK: Words = Words {
    region: Region::NeckBack,
    joint: Some((Mobilization, Region::NeckJoints, NECK_SEGMENTS)),
    side: Side::Both,
    techniques: &[Examination, SoftTissue, Mobilization],
    regions: &[Region::Cervical, Region::Thoracic],
    complaints: &[
        "Neck tight by the afternoon.",
        "Stiff neck on waking, gone by ten.",
        "Pull from the neck into both shoulders.",
        "Turning the head is short at the end of the day.",
        "Neck tired from looking down.",
        "Ache at the base of the skull.",
    ],
    findings: &[
        "Upper shoulder muscles firm, right a shade more.",
        "Firm band beside C4, gives way after a while.",
        "Tender at the base of the skull, grade for grade as last time.",
        "Tone even, less than last time.",
        "Guards at the end of turning left.",
    ],
    diagnosis: "Tired neck muscles with a stiff middle neck",
    structure: "neck muscles, upper shoulder",
    positions: &["seated", "face-up"],
    advice: &[
        "Chin back ten times, three times a day.",
        "Screen or bench a hand higher.",
        "Five minutes off the bench every hour.",
        "Pillow flatter; try it for a week.",
        "Warm shower on the neck, evenings.",
    ],
    watch: NECK_WATCH,
};

const NECK_THRUST: Words = Words {
    techniques: &[Examination, SoftTissue, Mobilization, Thrust],
    joint: Some((Thrust, Region::NeckJoints, &[Segment::C3C4, Segment::C4C5, Segment::C5C6])),
    side: Side::Left,
    complaints: &[
        "Turning left is short when looking for boats.",
        "Catches on the left when looking back.",
        "Left side of the neck sore after a day on the gates.",
        "Neck stiff to the left, right free.",
    ],
    findings: &[
        "Left turn stops hard.",
        "Tender over the left joint, middle neck.",
        "Left less than last time, still short.",
        "Firm beside the left joint, right soft.",
    ],
    diagnosis: "Stiff neck joint, left",
    ..NECK
};

const SEATED_NECK: Words = Words {
    joint: None,
    techniques: &[SoftTissue],
    regions: &[Region::Cervical],
    complaints: &["Neck ropy.", "Neck tight from the north wind.", "Both sides stiff in the mornings."],
    findings: &["Ropy, both sides.", "Softer than last month.", "Tight at the shoulder-blade end."],
    diagnosis: "Stiff neck muscles",
    structure: "neck muscles, head still",
    positions: &["seated"],
    advice: &["Rise in two steps.", "Scarf on the quay.", "Hot water bottle, evenings."],
    ..NECK
};

const UPPER_BACK: Words = Words {
    region: Region::Thoracic,
    joint: Some((
        Mobilization,
        Region::Thoracic,
        &[Segment::T3T4, Segment::T4T5, Segment::T5T6, Segment::T6T7, Segment::T7T8],
    )),
    side: Side::Both,
    techniques: &[Examination, SoftTissue, Mobilization, Thrust],
    regions: &[Region::Thoracic, Region::Ribs, Region::Lumbar],
    complaints: &[
        "Between the shoulder blades, end of the day.",
        "Upper back stiff when straightening up.",
        "Like a board between the blades.",
        "Upper back tired after a week of stooping.",
        "Stiff when reaching overhead.",
    ],
    findings: &[
        "Flat and stiff in the middle of the upper back.",
        "Does not extend; ribs spring free of pain.",
        "Tone high on both sides, right a little more.",
        "Moves better than last time.",
    ],
    diagnosis: "Stiff upper back",
    structure: "long back muscles",
    positions: &["face-down"],
    advice: &[
        "Towel roll, two minutes, evenings.",
        "Ten chest stretches in the doorway.",
        "Bench higher by a brick.",
        "Breathe wide, six breaths, on the hour.",
    ],
    watch: "Chest pressure or short breath: emergency number. Sharp pain on breathing: ring us.",
};

const LOW_BACK: Words = Words {
    region: Region::Lumbar,
    joint: Some((
        Mobilization,
        Region::Lumbar,
        &[Segment::L2L3, Segment::L3L4, Segment::L4L5, Segment::L5S1],
    )),
    side: Side::Both,
    techniques: &[Examination, SoftTissue, Mobilization],
    regions: &[Region::Lumbar, Region::Pelvic],
    complaints: &[
        "Low back tired by evening.",
        "Stiff low back getting out of the chair.",
        "Low back catches when turning with a load.",
        "A band across the low back.",
        "Low back sore after standing still.",
        "Low back, mornings, ten minutes.",
    ],
    findings: &[
        "Long muscles hard on both sides.",
        "Does not share the bending; all from the lowest joint.",
        "Tone less than last time.",
        "Tender over the lowest joints, both sides.",
        "Leg raise free, reflexes even.",
    ],
    diagnosis: "Overworked low back",
    structure: "low back muscles",
    positions: &["face-down", "side-lying"],
    advice: &[
        "Hip hinge before lifting, ten slow ones.",
        "Walk twenty minutes, every day.",
        "One foot on a step when standing long.",
        "Carry on both sides.",
        "Stool out, standing desk in, half days.",
    ],
    watch: BACK_WATCH,
};

const SHOULDER: Words = Words {
    region: Region::ShoulderGirdle,
    joint: None,
    side: Side::Right,
    techniques: &[SoftTissue, Technique::Taping],
    regions: &[Region::ShoulderGirdle, Region::UpperLimb],
    complaints: &[
        "Right shoulder aches at arm height.",
        "Right shoulder tired after the shift.",
        "Wakes when lying on the right shoulder.",
        "Right shoulder stiff behind the back.",
        "Pull at the right shoulder blade.",
    ],
    findings: &[
        "Firm under the right shoulder blade.",
        "Tender at the front of the right shoulder, mild.",
        "Right shoulder sits higher, less than last time.",
        "Upper shoulder muscle firm, gives way.",
    ],
    diagnosis: "Overworked shoulder muscles, right",
    structure: "shoulder-blade and upper shoulder muscles",
    positions: &["side-lying", "seated"],
    advice: &[
        "Elbow below the shoulder this week.",
        "Shoulder-blade slides on the wall, twelve.",
        "Change hands every quarter of an hour.",
        "Sleep on the left, pillow in the arm.",
    ],
    watch: "Numb hand, sudden weakness, or pain with chest pressure: emergency number.",
};

const HIP: Words = Words {
    region: Region::Gluteal,
    joint: Some((Mobilization, Region::Lumbar, &[Segment::L4L5, Segment::L5S1])),
    side: Side::Left,
    techniques: &[Examination, SoftTissue, Mobilization],
    regions: &[Region::Lumbar, Region::Pelvic, Region::Hip],
    complaints: &[
        "Left buttock aches after an hour at the block.",
        "Left hip stiff on the stairs.",
        "Left side, from the back pocket down to the thigh, dull.",
        "Left hip tired; cannot stand on it long.",
    ],
    findings: &[
        "Deep buttock muscles firm on the left.",
        "Left hip turns in less than the right.",
        "Low back joins in too early.",
        "Leg raise free both sides.",
    ],
    diagnosis: "Tight deep buttock muscles, left",
    structure: "deep buttock muscles",
    positions: &["side-lying"],
    advice: &[
        "Figure-four stretch, one minute each evening.",
        "Change the standing leg at the block.",
        "Wallet out of the back pocket.",
        "Stairs slowly, rail hand right.",
    ],
    watch: BACK_WATCH,
};

const JAW: Words = Words {
    region: Region::JawMuscles,
    joint: Some((Mobilization, Region::NeckJoints, &[Segment::C4C5, Segment::C5C6])),
    side: Side::Both,
    techniques: &[Examination, SoftTissue, Mobilization],
    regions: &[Region::NeckJoints, Region::ShoulderGirdle, Region::Jaw],
    complaints: &[
        "Jaw tired after rehearsal.",
        "Right jaw aches in the last half hour of playing.",
        "Tight in front of both ears in the morning.",
        "Jaw stiff after a double concert.",
    ],
    findings: &[
        "Chewing muscle tender on the right, mild.",
        "Opens straight, no click in six.",
        "One late click right, no pain.",
        "Temples tight, both.",
    ],
    diagnosis: "Jaw muscles, tired from playing",
    structure: "masseter and temple, from outside",
    positions: &["face-up"],
    advice: &[
        "Long notes first, low register last.",
        "Tongue up, teeth apart, on the hour.",
        "Soft food on concert days.",
        "Warm flannel, evenings.",
    ],
    watch: "Locking open or shut, swelling, numb lip, fever: ring us, or the dentist on call.",
};

const WRIST: Words = Words {
    region: Region::Wrist,
    joint: None,
    side: Side::Right,
    techniques: &[SoftTissue, Technique::Taping],
    regions: &[Region::UpperLimb],
    complaints: &[
        "Right wrist aches after the second set.",
        "Right forearm tight to the elbow.",
        "Right wrist stiff in the mornings.",
        "Right thumb side sore on rim shots.",
    ],
    findings: &[
        "Firm along the right forearm, outer side.",
        "Tender a thumb's breadth above the wrist.",
        "Grip even with the left today.",
        "Less firm than last time.",
    ],
    diagnosis: "Overworked forearm, right",
    structure: "forearm muscles",
    positions: &["seated", "face-up"],
    advice: &[
        "Looser grip, thicker sticks for a month.",
        "Warm water before playing.",
        "Two nights off in the week.",
        "Forearm stretch, palm to the wall.",
    ],
    watch: "Numb fingers at night or a thumb that gives way: ring us.",
};
