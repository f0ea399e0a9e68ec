use super::*;
use proptest::prelude::*;

fn at() -> Moment {
    Moment::parse("2025-03-03T09:00:00-05:00").unwrap()
}

fn drawn(strokes: Vec<Vec<Vec<u32>>>) -> SignatureFile {
    SignatureFile {
        signature: 1,
        name: "Bettony Craske".to_string(),
        shown: None,
        drawn: Some(Drawn { width: 8000, height: 2400, with: Some("pen".to_string()), strokes }),
        typed: None,
    }
}

fn typed(text: &str) -> SignatureFile {
    let typed = Typed { text: text.to_string(), statement: "I mean this as my signature.".to_string() };
    SignatureFile { drawn: None, typed: Some(typed), ..drawn(Vec::new()) }
}

fn line() -> Vec<Vec<u32>> {
    vec![vec![100, 100, 0, 500], vec![900, 700, 120, 600], vec![1800, 300, 260, 400]]
}

#[test]
fn what_was_drawn_is_read_back_and_pictured() {
    let file = drawn(vec![line(), vec![vec![2000, 200, 400]]]);
    let bytes = file.to_bytes().unwrap();
    assert_eq!(SignatureFile::read(&bytes).unwrap(), file);
    let svg = file.picture("ab", at());
    assert!(svg.contains("M100 100L900 700L1800 300") && svg.contains("M2000 200h0"), "{svg}");
    assert!(svg.contains("Bettony Craske") && svg.contains("BLAKE3 ab"), "{svg}");
    roxmltree::Document::parse(&svg).unwrap();
    assert_eq!(svg, file.picture("ab", at()));
}

#[test]
fn a_name_in_type_says_that_it_is_meant() {
    let file = typed("B. <Craske> & \"Co\"");
    let svg = file.picture("ab", at());
    let read = roxmltree::Document::parse(&svg).unwrap();
    let words: Vec<&str> = read.descendants().filter_map(|n| n.text()).map(str::trim).collect();
    assert!(words.contains(&"B. <Craske> & \"Co\"") && words.contains(&"I mean this as my signature."));
    assert!(typed("...").to_bytes().is_err() && typed(" ").to_bytes().is_err());
}

/// Every element with its attributes and its words, in order.
fn elements(svg: &str) -> Vec<String> {
    let read = roxmltree::Document::parse(svg).unwrap();
    let elements = read.descendants().filter(roxmltree::Node::is_element);
    let told = elements.map(|one| {
        let attributes: Vec<String> =
            one.attributes().map(|a| format!("{}={}", a.name(), a.value())).collect();
        let words = one.text().map_or("", str::trim);
        format!("{} {} {words}", one.tag_name().name(), attributes.join(" ")).trim().to_string()
    });
    told.collect()
}

/// Worked out by hand from what the picture is said to be.
#[test]
fn the_picture_is_laid_out_by_its_canvas() {
    let drawn_on = |width: u32, height: u32| {
        let mut file = drawn(vec![Vec::new(), line()]);
        file.drawn.as_mut().unwrap().width = width;
        file.drawn.as_mut().unwrap().height = height;
        elements(&file.picture("ab", at()))
    };
    let pen = |width: u32| {
        format!("g fill=none stroke=#000 stroke-width={width} stroke-linecap=round stroke-linejoin=round")
    };
    let stroke = "path d=M100 100L900 700L1800 300".to_string();
    // 2400 / 12 = 200; 4 * 200 = 800 beneath; 7200 / 220 = 32; 32 / 3 = 10.
    let svg = drawn_on(8000, 2400);
    assert!(svg[0].contains("viewBox=0 0 8000 3200") && svg[0].ends_with("font-size=200"), "{}", svg[0]);
    assert_eq!(svg[3], "rect width=8000 height=3200 fill=#fff");
    assert_eq!(svg[4..6], [pen(32), stroke.clone()], "an empty stroke leaves nothing");
    assert_eq!(
        svg[6..],
        [
            "path d=M200 2400H7800 stroke=#000 stroke-width=10",
            "text x=200 y=2700 Bettony Craske",
            "text x=200 y=3000 on the screen, 03 Mar 2025 09:00",
        ]
    );
    // Wide and low: 9600 / 48 = 200, 3600 / 220 = 16, 16 / 3 = 5.
    let svg = drawn_on(9600, 1200);
    assert!(svg[0].contains("viewBox=0 0 9600 2000") && svg[0].ends_with("font-size=200"), "{}", svg[0]);
    assert_eq!(svg[4], pen(16));
    assert_eq!(svg[6], "path d=M200 1200H9400 stroke=#000 stroke-width=5");
    // Narrow and high: 6000 / 12 = 500, 2200 / 220 = 10.
    let svg = drawn_on(2200, 6000);
    assert!(svg[0].contains("viewBox=0 0 2200 8000") && svg[0].ends_with("font-size=500"), "{}", svg[0]);
    assert_eq!((&svg[4], svg[6].as_str()), (&pen(10), "path d=M500 6000H1700 stroke=#000 stroke-width=3"));
    // On the smallest canvas nothing is thinner than one.
    let svg = drawn_on(100, 100);
    assert_eq!((&svg[4], svg[6].as_str()), (&pen(1), "path d=M8 100H92 stroke=#000 stroke-width=1"));
    // A name in type stands on a canvas of 8000 by 2400.
    let svg = elements(&typed("B. Craske").picture("ab", at()));
    assert_eq!(
        svg[4..6],
        ["text x=200 y=1200 font-size=300 B. Craske", "text x=200 y=1800 I mean this as my signature."]
    );
    assert_eq!(svg[6], "path d=M200 2400H7800 stroke=#000 stroke-width=10");
}

#[test]
fn the_picture_says_which_wording_was_shown() {
    let mut file = typed("B. Craske");
    file.shown = Some(shown(1, 10));
    let svg = elements(&file.picture("ab", at()));
    assert!(svg[8].ends_with("on the screen, 03 Mar 2025 09:00, wording F7"), "{}", svg[8]);
}

fn shown(lines: usize, letters: usize) -> Shown {
    Shown {
        wording: Some("F7".to_string()),
        wording_entry: Some(7),
        text_blake3: Some("0".repeat(64)),
        language: "en".to_string(),
        lines: vec!["x".repeat(letters); lines],
    }
}

fn refused(file: &SignatureFile) -> bool {
    matches!(file.to_bytes(), Err(SignatureError::Beyond(_)))
}

/// At each border, and one beyond it.
#[test]
fn what_a_hand_can_do_is_taken_and_no_more() {
    let canvas = |width: u32, height: u32| {
        let stroke = vec![vec![0, 0, 0], vec![width, 0, 9]];
        let mut file = drawn(vec![stroke]);
        file.drawn.as_mut().unwrap().width = width;
        file.drawn.as_mut().unwrap().height = height;
        file
    };
    for (width, height) in [(100, 2400), (40_000, 2400), (8000, 100), (8000, 40_000)] {
        canvas(width, height).to_bytes().unwrap();
    }
    for (width, height) in [(99, 2400), (40_001, 2400), (8000, 99), (8000, 40_001)] {
        assert!(refused(&canvas(width, height)), "{width} {height}");
    }
    let with = |letters: usize| {
        let mut file = drawn(vec![line()]);
        file.drawn.as_mut().unwrap().with = Some("p".repeat(letters));
        file
    };
    with(20).to_bytes().unwrap();
    assert!(refused(&with(21)));
    let strokes = |count: usize| drawn(vec![vec![vec![0, 0, 0], vec![800, 0, 0]]; count]);
    strokes(400).to_bytes().unwrap();
    assert!(refused(&strokes(401)));
    let points = |count: usize| {
        drawn(vec![vec![vec![0, 0, 0]], [vec![vec![0, 0, 0]; count - 2], vec![vec![800, 0, 0]]].concat()])
    };
    points(20_000).to_bytes().unwrap();
    assert!(refused(&points(20_001)));
    let ends = |point: Vec<u32>| drawn(vec![vec![vec![0, 0, 7], point]]);
    for point in [vec![8000, 0, 7], vec![800, 2400, 7], vec![800, 0, 7, 1000], vec![800, 0, 900_000]] {
        ends(point).to_bytes().unwrap();
    }
    for point in
        [vec![8001, 0, 7], vec![800, 2401, 7], vec![800, 0, 7, 1001], vec![800, 0, 900_001], vec![800, 0, 6]]
    {
        assert!(refused(&ends(point.clone())), "{point:?}");
    }
    assert!(refused(&ends(vec![800, 0, 7, 1, 1])), "a point has three or four numbers");
    // A tenth of the canvas's width, sideways and downwards together, and only while the pen is down.
    let moved = |x: u32, y: u32| drawn(vec![vec![vec![1000, 1000, 0], vec![1000 + x, 1000 - y, 9]]]);
    for (x, y) in [(800, 0), (400, 400), (0, 800)] {
        moved(x, y).to_bytes().unwrap();
    }
    for (x, y) in [(799, 0), (400, 399), (0, 799)] {
        assert_eq!(moved(x, y).to_bytes().unwrap_err(), SignatureError::Empty, "{x} {y}");
    }
    let apart = drawn(vec![vec![vec![0, 0, 0]], vec![vec![4000, 2000, 9]]]);
    assert_eq!(apart.to_bytes().unwrap_err(), SignatureError::Empty, "two touches are no line");
}

#[test]
fn what_is_said_beside_it_is_there_and_no_longer_than_a_page() {
    let named = |name: &str| SignatureFile { name: name.to_string(), ..drawn(vec![line()]) };
    named(&"\u{e9}".repeat(400)).to_bytes().unwrap();
    for name in ["", " ", "Bettony\nCraske", &"e".repeat(401)] {
        assert!(refused(&named(name)), "{name:?}");
    }
    let stated = |statement: &str| {
        let mut file = typed("B. Craske");
        file.typed.as_mut().unwrap().statement = statement.to_string();
        file
    };
    stated("I mean it.").to_bytes().unwrap();
    assert!(refused(&stated(" ")));
    let showing = |shown: Shown| SignatureFile { shown: Some(shown), ..drawn(vec![line()]) };
    showing(shown(200, 10)).to_bytes().unwrap();
    showing(shown(1, 8000)).to_bytes().unwrap();
    assert!(refused(&showing(shown(201, 10))) && refused(&showing(shown(1, 8001))));
    // A wording is named whole, with its entry and its digest, or not at all.
    for parts in 0..8 {
        let part = |bit: i32| parts & bit != 0;
        let Shown { wording, wording_entry, text_blake3, .. } = shown(1, 10);
        let some = Shown {
            wording: wording.filter(|_| part(1)),
            wording_entry: wording_entry.filter(|_| part(2)),
            text_blake3: text_blake3.filter(|_| part(4)),
            ..shown(1, 10)
        };
        assert_eq!(refused(&showing(some)), parts != 0 && parts != 7, "{parts}");
    }
}

#[test]
fn a_file_may_have_a_mebibyte_and_no_byte_more() {
    let full = |letters: usize| {
        let mut all = shown(132, 7900);
        all.lines.push("x".repeat(letters));
        SignatureFile { shown: Some(all), ..drawn(vec![line()]) }
    };
    let short = full(0).to_bytes().unwrap().len();
    let letters = MOST_BYTES as usize - short;
    assert!(letters <= 8000);
    let bytes = full(letters).to_bytes().unwrap();
    assert_eq!((bytes.len() as u64, SignatureFile::read(&bytes).is_ok()), (1_048_576, true));
    assert!(refused(&full(letters + 1)));
    let more = [bytes, vec![b' ']].concat();
    assert!(matches!(SignatureFile::read(&more), Err(SignatureError::Beyond(_))));
}

#[test]
fn an_error_says_where_the_reading_stopped_and_not_what_stands_there() {
    let error = SignatureFile::read(b"{\n  \"signature\": x}").unwrap_err();
    assert_eq!(error, SignatureError::Layout("line 2, column 16".to_string()));
}

#[test]
fn no_signature_is_told_from_one() {
    use SignatureError::{Beyond, Both, Edition, Empty, Layout};
    let why = |file: &SignatureFile| file.to_bytes().unwrap_err();
    assert_eq!(why(&drawn(Vec::new())), Empty);
    assert_eq!(why(&drawn(vec![vec![vec![5, 5, 0]]])), Empty, "a touch by mistake");
    assert_eq!(why(&SignatureFile { typed: typed("B").typed, ..drawn(vec![line()]) }), Both);
    assert_eq!(why(&SignatureFile { signature: 2, ..drawn(vec![line()]) }), Edition(2));
    assert!(matches!(why(&SignatureFile { name: String::new(), ..drawn(vec![line()]) }), Beyond(_)));
    assert!(matches!(why(&drawn(vec![vec![vec![1, 2]]])), Beyond(_)));
    assert!(matches!(why(&drawn(vec![vec![vec![9000, 2, 0]], line()])), Beyond(_)), "outside the canvas");
    let backwards = vec![vec![1, 1, 50], vec![4000, 1, 40]];
    assert!(matches!(why(&drawn(vec![backwards])), Beyond(_)));
    let many = vec![vec![vec![0, 0, 0]; 10]; 401];
    assert!(matches!(why(&drawn(many)), Beyond(_)));
    assert!(matches!(SignatureFile::read(b"{}").unwrap_err(), Layout(_)));
    assert!(matches!(SignatureFile::read(b"[").unwrap_err(), Layout(_)));
    let large = vec![b' '; 2 << 20];
    assert!(matches!(SignatureFile::read(&large).unwrap_err(), Beyond(_)));
    // A negative number, and one beyond 32 bits, is no place on a canvas.
    for point in ["[-1,2,3]", "[4294967296,2,3]", "[1.5,2,3]"] {
        let text = format!(
            "{{\"signature\":1,\"name\":\"B\",\"drawn\":{{\"width\":800,\"height\":200,\"strokes\":[[{point}]]}}}}"
        );
        assert!(matches!(SignatureFile::read(text.as_bytes()).unwrap_err(), Layout(_)), "{point}");
    }
}

proptest! {
    #[test]
    fn any_bytes_are_read_or_refused_and_any_picture_is_xml(
        bytes in proptest::collection::vec(any::<u8>(), 0..400),
        points in proptest::collection::vec((0u32..=8000, 0u32..=2400), 2..60),
        name in "\\PC{1,60}",
    ) {
        let _ = SignatureFile::read(&bytes);
        let stroke: Vec<Vec<u32>> =
            points.iter().zip(0u32..).map(|((x, y), t)| vec![*x, *y, t * 8]).collect();
        let file = SignatureFile { name, ..drawn(vec![stroke]) };
        if let Ok(kept) = file.to_bytes() {
            prop_assert_eq!(&SignatureFile::read(&kept).unwrap(), &file);
            let svg = file.picture("00", at());
            prop_assert!(roxmltree::Document::parse(&svg).is_ok());
        }
    }
}
