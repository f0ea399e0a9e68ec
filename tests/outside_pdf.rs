//! Promise: the PDF of a chart holds the words of its page in their order, and is what it is made to be:
//! a tagged file with its fonts, its title and its colours within, and nothing in it that acts. Judged by qpdf
//! and by poppler's programs on every chart of the demonstration; and each judge must refuse a broken file.
//!
//! What is asked follows ISO 19005-2 (PDF/A-2, level B) and ISO 32000-1, clauses named beside each question,
//! from memory. No program that judges the whole of PDF/A was to be had from the package archives of Debian, PyPI or npm.
#![cfg(feature = "outside-checks")]
#![allow(clippy::unwrap_used, clippy::panic)] // In a test a panic is the report.

#[path = "common/outside.rs"]
mod outside;

use outside::run;
use roxmltree::{Document, Node, ParsingOptions};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// What a judge found wrong with a file: the question, and what was seen.
type Faults = BTreeMap<&'static str, String>;

/// Everything that is wrong with a file.
fn faults(pdf: &Path) -> Faults {
    let mut faults = Faults::new();
    let mut ask = |question: &'static str, good: bool, seen: &str| {
        if !good {
            faults.insert(question, seen.chars().take(300).collect());
        }
    };
    let checked = run("qpdf", [Path::new("--check"), pdf]);
    ask("sound", checked.code == 0, &(checked.out.clone() + &checked.err));

    let info = run("pdfinfo", [pdf]).out;
    let line = |name: &str| {
        info.lines().find_map(|line| line.strip_prefix(name)).map(|rest| rest.trim_start_matches(':').trim())
    };
    ask("title", line("Title").is_some_and(|title| title.contains("chart no.")), &info);
    // 6.1.2 and 6.1.3: no encryption. 6.5.2, 6.6.1: nothing that acts.
    ask("not-encrypted", line("Encrypted") == Some("no"), &info);
    ask("no-script", line("JavaScript") == Some("no"), &info);
    ask("tagged", line("Tagged") == Some("yes"), &info);
    ask("version", line("PDF version") == Some("1.7"), &info);

    // 6.2.11.4 (embedded); a map to Unicode is asked by level U, and taken along.
    let fonts = run("pdffonts", [pdf]).out;
    let rows: Vec<&str> = fonts.lines().skip(2).collect();
    let whole = |row: &&str| row.contains(" yes yes yes ");
    ask("fonts", !rows.is_empty() && rows.iter().all(whole), &fonts);

    // 6.6.2, 6.6.4: metadata as XMP, with part and level.
    let told = run("pdfinfo", [Path::new("-meta"), pdf]).out;
    ask("part-2", told.contains("<pdfaid:part>2</pdfaid:part>"), &told);
    ask("level-b", told.contains("<pdfaid:conformance>B</pdfaid:conformance>"), &told);

    let json = run("qpdf", [Path::new("--json"), pdf]).out;
    let Ok(json) = serde_json::from_str::<Value>(&json) else {
        ask("objects", false, "qpdf can't list them");
        return faults;
    };
    let objects = &json["qpdf"][1];
    let object = |reference: &Value| {
        let found = &objects[format!("obj:{}", reference.as_str().unwrap_or_default())];
        if found["value"].is_null() { found["stream"]["dict"].clone() } else { found["value"].clone() }
    };
    let trailer = &objects["trailer"]["value"];
    let catalog = object(&trailer["/Root"]);
    // 6.1.3: an identifier of the file.
    ask("identifier", trailer["/ID"].as_array().is_some_and(|id| id.len() == 2), &trailer.to_string());
    // 6.2.3: what the colours mean.
    let intents = match &catalog["/OutputIntents"] {
        Value::Array(list) => list.clone(),
        reference => object(reference).as_array().cloned().unwrap_or_default(),
    };
    let intent = intents.iter().map(|one| if one.is_string() { object(one) } else { one.clone() });
    let meant = intent
        .into_iter()
        .any(|one| one["/S"] == "/GTS_PDFA1" && object(&one["/DestOutputProfile"])["/N"].as_u64().is_some());
    ask("colours", meant, &catalog.to_string());
    ask("language", catalog["/Lang"] == "u:en", &catalog.to_string());
    ask("marked", catalog["/MarkInfo"]["/Marked"] == true, &catalog.to_string());
    ask("structure", object(&catalog["/StructTreeRoot"])["/Type"] == "/StructTreeRoot", &catalog.to_string());
    for acting in ["/OpenAction", "/AA", "/AcroForm"] {
        ask("acts", catalog[acting].is_null(), acting);
    }
    let all: Vec<Value> = objects
        .as_object()
        .unwrap()
        .values()
        .map(|found| if found["value"].is_null() { &found["stream"]["dict"] } else { &found["value"] })
        .cloned()
        .collect();
    let pieces: Vec<&Value> = all.iter().filter(|one| one["/Type"] == "/StructElem").collect();
    let of = |role: &str| pieces.iter().filter(|one| one["/S"] == role).count();
    // ISO 32000-1, 14.8.4.
    for role in ["/H1", "/H2", "/P", "/Table", "/TR", "/TH", "/TD", "/L", "/LI", "/LBody"] {
        ask("roles", of(role) > 0, role);
    }
    let words = |one: &&Value| one["/Alt"].as_str().is_some_and(|alt| alt.len() > 20);
    let figures: Vec<&Value> = pieces.iter().copied().filter(|one| one["/S"] == "/Figure").collect();
    ask("pictures-in-words", figures.iter().all(words), &format!("{figures:?}"));
    let scope = |one: &Value| one["/A"].to_string().contains("/Scope");
    ask("head-cells", pieces.iter().filter(|one| one["/S"] == "/TH").all(|one| scope(one)), "a cell");
    // 6.3.2: pointers are seen on paper as they are on the screen.
    let pointers: Vec<&Value> = all.iter().filter(|one| one["/Subtype"] == "/Link").collect();
    ask("pointers", pieces.len() > 50 && pointers.iter().all(|one| one["/F"] == 4), &format!("{pointers:?}"));
    ask("fonts-only", !all.iter().any(|one| one["/Subtype"] == "/Type3"), "letters drawn as pictures");
    faults
}

/// A page as its words stand in it, in order, without spaces: as the PDF must have them.
struct Page {
    /// What stands at the head of every page of paper.
    head: String,
    /// The words of the page.
    words: String,
    /// What the head rows of its tables say.
    heads: BTreeSet<String>,
    /// Short words, each by itself.
    short: BTreeSet<String>,
}

fn squeezed(text: &str) -> String {
    text.chars().filter(|c| !c.is_whitespace()).collect()
}

fn page(html: &str) -> Page {
    let options = ParsingOptions { allow_dtd: true, ..ParsingOptions::default() };
    let page = Document::parse_with_options(html, options).unwrap();
    let outer = page.descendants().find(|node| node.attribute("class") == Some("sheet")).unwrap();
    let part = |name: &str| outer.children().find(|node| node.has_tag_name(name)).unwrap();
    let mut words = String::new();
    add(part("tbody"), &mut words);
    let heads = part("tbody").descendants().filter(|node| node.has_tag_name("thead"));
    let mut head = String::new();
    add(part("thead"), &mut head);
    let head_words = |node: Node<'_, '_>| {
        let mut words = String::new();
        add(node, &mut words);
        squeezed(&words)
    };
    let short = words.split_whitespace().filter(|word| word.chars().count() < 12).map(str::to_string);
    Page {
        head: squeezed(&head),
        heads: heads.map(head_words).collect(),
        short: short.collect(),
        words: squeezed(&words),
    }
}

/// The words of an element, with what a browser adds: bullets and numbers of lists.
fn add(node: Node<'_, '_>, out: &mut String) {
    let name = node.tag_name().name();
    if node.is_text() {
        return out.push_str(node.text().unwrap_or_default());
    }
    if name == "li" {
        let list = node.parent().unwrap();
        let number = node.prev_siblings().filter(|one| one.has_tag_name("li")).count();
        out.push_str(&if list.has_tag_name("ol") {
            format!(" {number}. ")
        } else {
            " \u{2022} ".to_string()
        });
    }
    let drawn = node.ancestors().any(|above| above.has_tag_name("svg"));
    if drawn && matches!(name, "title" | "desc") {
        return;
    }
    let inline = matches!(name, "a" | "bdi" | "span" | "strong" | "em" | "del" | "ins");
    out.push_str(if inline { "" } else { " " });
    node.children().for_each(|child| add(child, out));
    out.push_str(if inline { "" } else { " " });
}

/// Where the words of the file are other than those of the page; none when they are the same, in the same order.
fn other_words(pdf: &Path, page: &Page, foot: &str) -> Option<String> {
    let raw = run("pdftotext", [Path::new("-raw"), pdf, Path::new("-")]).out;
    let sheets: Vec<&str> = raw.split_terminator('\u{c}').collect();
    let (count, mut left) = (sheets.len(), page.words.as_str());
    for (index, sheet) in sheets.iter().enumerate() {
        let sheet = squeezed(sheet);
        let foot = squeezed(&format!("{foot}page {} of {count}", index + 1));
        let Some(body) = sheet.strip_prefix(&page.head).and_then(|rest| rest.strip_suffix(&foot)) else {
            return Some(format!("page {}: head or foot is not there: {sheet:.80} {foot}", index + 1));
        };
        // A table that goes on begins the page with its head rows once more.
        let repeated = page.heads.iter().filter_map(|head| body.strip_prefix(head.as_str()));
        let went_on = std::iter::once(body).chain(repeated).find_map(|body| left.strip_prefix(body));
        match went_on {
            Some(rest) => left = rest,
            None => {
                let same = body.chars().zip(left.chars()).take_while(|(a, b)| a == b).count();
                let seen = |text: &str| text.chars().skip(same).take(40).collect::<String>();
                return Some(format!("page {}: {:?} instead of {:?}", index + 1, seen(body), seen(left)));
            }
        }
    }
    if !left.is_empty() {
        return Some(format!("the end is missing: {left:.80}"));
    }
    // As they stand on the paper: side by side, and with spaces between the words.
    let laid_out = run("pdftotext", [Path::new("-layout"), pdf, Path::new("-")]).out;
    let found: BTreeSet<&str> = laid_out.split_whitespace().collect();
    let lost: Vec<&String> = page.short.iter().filter(|word| !found.contains(word.as_str())).collect();
    (lost.len() * 200 > page.short.len()).then(|| format!("not found as words: {lost:?}"))
}

/// What stands at the foot, out of the page's own style. A sign that is neither letter nor digit is written there
/// as `\00002a` (CSS Syntax Level 3, section 4.3.7).
fn foot_of(html: &str) -> String {
    let rule = html.split("@bottom-left { content: \"").nth(1).unwrap().split('"').next().unwrap();
    let mut parts = rule.split('\\');
    let mut foot = parts.next().unwrap().to_string();
    for part in parts {
        foot.extend(char::from_u32(u32::from_str_radix(&part[..6], 16).unwrap()));
        foot.push_str(&part[6..]);
    }
    foot
}

struct Printed {
    chart: String,
    html: String,
    pdf: PathBuf,
}

/// Every chart of the demonstration, as a page and as a file.
fn demonstration(folder: &Path) -> Vec<Printed> {
    let inkfast = |words: &[&str]| {
        let said = run(env!("CARGO_BIN_EXE_inkfast"), words);
        assert_eq!(said.code, 0, "{words:?}: {}", said.err);
        said.out
    };
    let demo = folder.join("demo").display().to_string();
    inkfast(&["demo", "--into", &demo]);
    let (store, secret) = (format!("{demo}/store"), format!("{demo}/passphrase-IV.txt"));
    let who = ["--store", &store, "--as", "IV", "--passphrase-file", &secret];
    let charts: Value =
        serde_json::from_str(&inkfast(&[&["patient", "list", "--json"][..], &who].concat())).unwrap();
    let charts =
        charts.as_array().unwrap().iter().map(|chart| chart["chart_no"].as_str().unwrap().to_string());
    let print = |chart: String| {
        let (html, pdf) = (folder.join(format!("{chart}.html")), folder.join(format!("{chart}.pdf")));
        let files = [html.to_str().unwrap(), pdf.to_str().unwrap()];
        let words = ["print", &chart, "--why", "review", "--html", files[0], "--pdf", files[1]];
        inkfast(&[&words[..], &who].concat());
        Printed { chart, html: fs::read_to_string(html).unwrap(), pdf }
    };
    charts.map(print).collect()
}

/// The page and the file of every package that the demonstration sealed to a key.
fn handed_over(folder: &Path) -> Vec<Printed> {
    let mut all = Vec::new();
    for key in fs::read_dir(folder.join("demo/handed-over")).unwrap().map(|file| file.unwrap().path()) {
        let Some(stem) = key.to_str().unwrap().strip_suffix(".identity.txt").map(str::to_string) else {
            continue;
        };
        let name = Path::new(&stem).file_name().unwrap().to_str().unwrap().to_string();
        let (archive, opened) = (folder.join(format!("{name}.tar")), folder.join(&name));
        fs::create_dir(&opened).unwrap();
        let (archive, key) = (archive.to_str().unwrap(), key.to_str().unwrap());
        assert_eq!(run("age", ["-d", "-i", key, "-o", archive, &format!("{stem}.age")]).code, 0);
        let into = opened.to_str().unwrap();
        assert_eq!(run("tar", ["-xf", archive, "-C", into, "record.html", "record.pdf"]).code, 0);
        let html = fs::read_to_string(opened.join("record.html")).unwrap();
        all.push(Printed { chart: name, html, pdf: opened.join("record.pdf") });
    }
    all
}

#[test]
fn every_chart_of_the_demonstration_is_a_sound_pdf_with_the_words_of_its_page() {
    let folder = tempfile::tempdir().unwrap();
    let mut printed = demonstration(folder.path());
    let charts = printed.len();
    printed.extend(handed_over(folder.path()));
    assert!(charts > 10 && printed.len() > charts + 2);
    let (mut pictures, mut struck, mut pages) = (0, 0, 0);
    for Printed { chart, html, pdf } in &printed {
        assert_eq!(faults(pdf), Faults::new(), "{chart}");
        assert_eq!(other_words(pdf, &page(html), &foot_of(html)), None, "{chart}");
        pictures += html.matches("<svg").count();
        struck += html.matches("<del>").count();
        pages += run("pdftotext", [pdf.as_path(), Path::new("-")]).out.matches('\u{c}').count();
    }
    assert!(pictures > 0 && struck > 0 && pages > 100, "{pictures} pictures, {struck} struck, {pages} pages");
    let longest = printed.iter().max_by_key(|one| one.html.len()).unwrap();
    broken_files_are_refused(longest, folder.path());
}

/// Replaces the first `from` in the file by `to`, of the same length: nothing else moves.
fn bent(pdf: &Path, to_file: &Path, from: &str, to: &str) {
    assert_eq!(from.len(), to.len());
    let mut bytes = fs::read(pdf).unwrap();
    let at = bytes.windows(from.len()).position(|part| part == from.as_bytes());
    let at = at.unwrap_or_else(|| panic!("{from} is not in the file"));
    bytes[at..at + to.len()].copy_from_slice(to.as_bytes());
    fs::write(to_file, bytes).unwrap();
}

/// Every question must be one that a file can fail.
fn broken_files_are_refused(sound: &Printed, folder: &Path) {
    let file = folder.join("broken.pdf");
    let mut missed = Vec::new();
    for (from, to, question) in [
        ("%PDF-1.7", "%PDF-1.4", "version"),
        ("/ToUnicode", "/ToUnicodX", "fonts"),
        ("/FontFile2", "/FontFileX", "fonts"),
        ("<pdfaid:part>2", "<pdfaid:part>9", "part-2"),
        ("<pdfaid:conformance>B", "<pdfaid:conformance>C", "level-b"),
        ("/OutputIntents", "/OutputIntentX", "colours"),
        ("/DestOutputProfile", "/DestOutputProfilX", "colours"),
        ("/Lang(en)/StructTreeRoot", "/LanX(en)/StructTreeRoot", "language"),
        ("/Marked true", "/MarkeX true", "marked"),
        ("/Marked true", "/MarkeX true", "tagged"),
        ("/StructTreeRoot", "/StructTreeRooX", "structure"),
        ("/Pages 1 0 R/Metadata", "/Pages 1 0 R/AcroForm", "acts"),
        ("/S/H1", "/S/HX", "roles"),
        ("/Alt(", "/AlX(", "pictures-in-words"),
        ("/Scope", "/ScopX", "head-cells"),
        ("/ID[", "/IX[", "identifier"),
        ("/Title(Record of treatment, chart", "/TitlX(Record of treatment, chart", "title"),
        ("endstream", "endstreaX", "sound"),
        ("startxref", "startxreX", "sound"),
    ] {
        bent(&sound.pdf, &file, from, to);
        let found = faults(&file);
        if !found.contains_key(question) {
            missed.push(format!("{from} as {to}: {found:?}"));
        }
    }
    assert!(missed.is_empty(), "{missed:#?}");
    let encrypted =
        ["--encrypt", "one", "two", "256", "--", sound.pdf.to_str().unwrap(), file.to_str().unwrap()];
    assert_eq!(run("qpdf", encrypted).code, 0);
    assert!(!faults(&file).is_empty(), "an encrypted file");
    let bytes = fs::read(&sound.pdf).unwrap();
    fs::write(&file, &bytes[..bytes.len() - 4000]).unwrap();
    assert!(faults(&file).contains_key("sound"), "a cut file");

    // A word more, a word less, two words in another order.
    let (html, foot) = (&sound.html, foot_of(&sound.html));
    let with = |change: &dyn Fn(&mut Page)| {
        let mut other = page(html);
        change(&mut other);
        other_words(&sound.pdf, &other, &foot)
    };
    assert!(with(&|page| page.words.push_str("more")).is_some());
    assert!(with(&|page| page.words = page.words.replacen("entry", "", 1)).is_some());
    assert!(with(&|page| page.words = page.words.replacen("Chartopened", "openedChart", 1)).is_some());
    assert!(with(&|page| page.head.push('x')).is_some());
    assert!(with(&|page| page.short = (0..9).map(|n| format!("odd{n}")).collect()).is_some());
    assert!(other_words(&sound.pdf, &page(html), "another foot").is_some());
}
