//! Who comes for ordinary visits: invented patients, and those of the scenario between their
//! scripted days. Every course of visits rests on a consent that covers it.

use super::words::Topic;

/// A patient only the filler knows.
pub(super) struct Patient {
    pub chart: &'static str,
    pub name: &'static str,
    pub born: &'static str,
    pub telephone: &'static str,
    pub address: &'static str,
    pub emergency: (&'static str, &'static str, &'static str),
    pub occupation: &'static str,
    pub because: &'static str,
}

/// A course of ordinary visits.
pub(super) struct Course {
    pub chart: &'static str,
    /// Who treats.
    pub by: &'static str,
    pub topic: Topic,
    /// First and last day on which a visit may fall.
    pub from: (i16, i8, i8),
    pub until: (i16, i8, i8),
    /// Days between visits, more or less.
    pub every: u64,
    /// The scripted consent it rests on; none: the filler has one signed, and renews it.
    pub consent: Option<&'static str>,
    /// A thrust every other visit, asked for first.
    pub thrust: bool,
    /// An interpreter is on the telephone.
    pub interpreter: bool,
    /// Pain at the beginning.
    pub pain: i64,
}

macro_rules! patients {
    ($($chart:literal $name:literal $born:literal $telephone:literal $address:literal
        ($e1:literal $e2:literal $e3:literal) $occupation:literal $because:literal;)+) => {
        &[$(Patient {
            chart: $chart, name: $name, born: $born, telephone: $telephone, address: $address,
            emergency: ($e1, $e2, $e3), occupation: $occupation, because: $because,
        }),+]
    };
}

pub(super) const PATIENTS: &[Patient] = patients! {
    "PM-0114" "Marguerite Ollander" "1961-03-19" "555-0114" "7 Net Loft Row, Pellmere"
        ("Piet Ollander" "husband" "555-0214") "net mender" "Neck and shoulders, from the mending bench.";
    "PM-0116" "Barnaby Quill" "1974-12-01" "555-0116" "30 Ticket Street, Pellmere"
        ("Josefa Quill" "wife" "555-0216") "ferry ticket office" "Low back, from the stool.";
    "PM-0120" "Isolde Ferrant" "1990-05-22" "555-0120" "Boathouse Row 2, Pellmere"
        ("Noor Ferrant" "sister" "555-0220") "rowing coach" "Right shoulder, from the megaphone arm, she says.";
    "PM-0124" "Ansel Dunmore" "1958-08-08" "555-0124" "1 Cooper's Hard, Pellmere"
        ("Greta Dunmore" "daughter" "555-0224") "cooper" "Left hip and low back.";
    "PM-0129" "Delphine Marsh" "2001-09-27" "555-0129" "18 Quay Street, Pellmere"
        ("Ruth Marsh" "mother" "555-0229") "clerk at the harbour office" "Neck, at the end of the day.";
    "PM-0135" "Osric Tallow" "1966-02-03" "555-0135" "9 Wick Lane, Pellmere"
        ("Bram Tallow" "brother" "555-0235") "candle works, dipping floor" "Upper back, stiff.";
    "PM-0142" "Yevgenia Lindmark" "1983-06-30" "555-0242" "4 Oven Lane, Pellmere"
        ("Sten Lindmark" "husband" "555-0243") "postwoman" "Low back, right, from the bag.";
    "PM-0145" "Hugo Pemberly" "1979-10-11" "555-0145" "2 Hemp Lane, Pellmere"
        ("Ottilie Pemberly" "wife" "555-0245") "foreman at the rope works" "Both shoulders, from the winch.";
    "PM-0147" "Rosamund Keel" "1969-01-24" "555-0147" "11 Levee Road, Pellmere"
        ("Edda Keel" "sister" "555-0247") "lock keeper" "Neck, worse to the left.";
    "PM-0150" "Cosmo Vane" "1992-04-16" "555-0150" "Band Hall, upper floor, Pellmere"
        ("Lilian Vane" "mother" "555-0250") "drummer, night porter" "Right wrist.";
};

macro_rules! courses {
    (@consent) => { None };
    (@consent $name:literal) => { Some($name) };
    (@thrust thrust) => { true };
    (@thrust $($other:ident)?) => { false };
    (@interpreter interpreter) => { true };
    (@interpreter $($other:ident)?) => { false };
    ($($chart:literal $by:literal $topic:ident $from:tt $until:tt every $every:literal pain $pain:literal
        $(on $consent:literal)? $(, $flag:ident)?;)+) => {
        &[$(Course {
            chart: $chart, by: $by, topic: Topic::$topic, from: $from, until: $until, every: $every,
            consent: courses!(@consent $($consent)?),
            thrust: courses!(@thrust $($flag)?),
            interpreter: courses!(@interpreter $($flag)?),
            pain: $pain,
        }),+]
    };
}

pub(super) const COURSES: &[Course] = courses! {
    "PM-0114" "IV" Neck (2022, 10, 10) (2023, 9, 29) every 28 pain 5;
    "PM-0116" "TR" LowBack (2022, 10, 12) (2024, 5, 3) every 45 pain 6;
    "PM-0120" "PQ" Shoulder (2022, 11, 8) (2023, 11, 30) every 32 pain 4;
    "PM-0124" "TR" Hip (2023, 1, 17) (2024, 7, 26) every 40 pain 5;
    "PM-0129" "IV" Neck (2023, 4, 18) (2024, 6, 28) every 38 pain 4;
    "PM-0135" "TR" UpperBack (2023, 11, 14) (2024, 8, 16) every 22 pain 5, thrust;
    "PM-0142" "IV" LowBack (2024, 3, 12) (2025, 6, 27) every 42 pain 6;
    "PM-0145" "PQ" Shoulder (2024, 6, 11) (2025, 10, 17) every 40 pain 5;
    "PM-0147" "IV" NeckThrust (2024, 9, 17) (2025, 10, 24) every 36 pain 5, thrust;
    "PM-0150" "PQ" Wrist (2025, 2, 13) (2025, 10, 28) every 20 pain 4;
    "PM-0112" "IV" Jaw (2022, 10, 24) (2022, 11, 11) every 7 pain 3 on "c1";
    "PM-0112" "IV" Jaw (2022, 11, 28) (2023, 8, 31) every 34 pain 3 on "c1";
    "PM-0112" "IV" Jaw (2023, 10, 24) (2024, 9, 6) every 52 pain 2 on "c4";
    "PM-0112" "IV" Jaw (2024, 10, 15) (2025, 6, 27) every 58 pain 2 on "c5";
    "PM-0121" "IV" LowBack (2023, 2, 13) (2023, 5, 26) every 30 pain 3 on "c-121-1";
    "PM-0121" "IV" SeatedNeck (2023, 8, 14) (2023, 11, 10) every 28 pain 3 on "c-121-2";
    "PM-0121" "IV" LowBack (2023, 12, 11) (2024, 6, 28) every 32 pain 3 on "c-121-3";
    "PM-0127" "IV" Neck (2023, 3, 20) (2024, 2, 23) every 36 pain 3 on "c-127-1";
    "PM-0130" "IV" LowBack (2023, 5, 15) (2023, 9, 15) every 33 pain 3 on "c-130-1";
    "PM-0130" "TR" UpperBack (2024, 6, 3) (2024, 8, 9) every 28 pain 2 on "c-130-2";
    "PM-0139" "TR" LowBack (2024, 2, 12) (2024, 8, 9) every 34 pain 4 on "c-139-1", interpreter;
    "PM-0139" "IV" LowBack (2025, 2, 17) (2025, 9, 5) every 44 pain 3 on "c-139-2", interpreter;
};
