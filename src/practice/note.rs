//! The lines of a visit's note while it is a draft: put in, shown by number, taken out. Once it is signed
//! nothing is taken out any more; it is corrected.

use super::drafts::Kept;
use crate::record::notation::line::{Line, NoteWords, Part, read_back};
use crate::trouble::{Kind, Outcome, Trouble};
use serde_json::{Value, json};

/// The lists of a note that lines go into, in the order they are shown.
const LISTS: [&str; 5] = ["findings", "procedures", "deferred", "checks", "measures"];

/// One line of a draft, with the number it is shown by.
#[derive(Debug, Clone, PartialEq)]
pub struct DraftLine {
    /// From 1, over all lists.
    pub number: usize,
    /// The list of the note it is in, or the part that is said in words.
    pub list: &'static str,
    /// In full words.
    pub words: String,
}

/// Puts a line into the draft; says by which number it is shown.
pub fn add(draft: &mut Kept, line: &Line) -> Outcome<usize> {
    if let Line::Words(said) = line {
        return add_words(draft, said);
    }
    let list = line.list();
    let mut value = match line {
        Line::Finding(found) => serde_json::to_value(found),
        Line::Procedure(done) => serde_json::to_value(done),
        Line::Deferred(left) => serde_json::to_value(left),
        Line::Measure(taken) => serde_json::to_value(taken),
        Line::Check(asked) => serde_json::to_value(asked),
        Line::Words(_) => Ok(Value::Null),
    }
    .map_err(|_| damaged())?;
    // The note gives the numbers when it is finished.
    if let Some(fields) = value.as_object_mut() {
        fields.shift_remove("no");
    }
    let fields = draft.data.as_object_mut().ok_or_else(damaged)?;
    match fields.entry(list).or_insert_with(|| json!([])) {
        Value::Array(lines) => lines.push(value),
        _ => {
            return Err(Trouble::new(
                Kind::Refused,
                format!("The draft of this note gives a reason why there are no {list}."),
                "The draft is as it was.",
                "Run `inkfast sign CHART` to change that answer, then add the line.",
            ));
        }
    }
    let before: usize = LISTS.iter().take_while(|name| **name != list).map(|name| count(draft, name)).sum();
    Ok(before + count(draft, list))
}

/// Puts the words for a part of the note into the draft, behind what was said there before.
fn add_words(draft: &mut Kept, said: &NoteWords) -> Outcome<usize> {
    let pointer = said.part.pointer();
    let mut all = read_words(draft, said.part);
    match said.part {
        Part::Assessment => all.push(said.clone()),
        _ => {
            let before = all.pop().map(|before| format!("{}; ", before.words)).unwrap_or_default();
            all.push(NoteWords { words: format!("{before}{}", said.words), ..said.clone() });
        }
    }
    // A reason why there is nothing gives way to the words.
    let above: Vec<&str> = pointer.match_indices('/').skip(1).map(|(at, _)| &pointer[..at]).collect();
    for place in above.into_iter().chain([pointer]) {
        if draft.data.pointer(place).is_some_and(is_reason)
            && let Some(value) = draft.data.pointer_mut(place)
        {
            *value = if place == pointer { Value::Null } else { json!({}) };
        }
    }
    write_words(draft, said.part, &all)?;
    let shown = lines(draft);
    Ok(shown.iter().rposition(|line| line.list == said.part.word()).map_or(shown.len(), |at| at + 1))
}

fn is_reason(value: &Value) -> bool {
    value.get("not_done_because").is_some()
}

/// What the draft says in words for a part.
fn read_words(draft: &Kept, part: Part) -> Vec<NoteWords> {
    let text = |value: &Value| value.as_str().map(str::to_owned);
    match draft.data.pointer(part.pointer()) {
        Some(Value::String(words)) => vec![NoteWords { part, words: words.clone(), basis: None }],
        Some(Value::Array(all)) => {
            let read = |one: &Value| {
                Some(NoteWords {
                    part,
                    words: text(one.get("words")?)?,
                    basis: one.get("basis").and_then(text),
                })
            };
            all.iter().filter_map(read).collect()
        }
        _ => Vec::new(),
    }
}

fn write_words(draft: &mut Kept, part: Part, all: &[NoteWords]) -> Outcome<()> {
    let mut place = draft.data.as_object_mut().ok_or_else(damaged)?;
    let mut names: Vec<&str> = part.pointer().split('/').skip(1).collect();
    let last = names.pop().ok_or_else(damaged)?;
    for name in names {
        place = place.entry(name).or_insert_with(|| json!({})).as_object_mut().ok_or_else(damaged)?;
    }
    let value = match (part, all) {
        (_, []) => None,
        (Part::Assessment, all) => {
            // Where a diagnosis typed with options says more, that stays.
            let before = place.get(last).and_then(Value::as_array).cloned().unwrap_or_default();
            let whole = |one: &NoteWords| {
                let same = |v: &&Value| v["words"] == json!(one.words) && v["basis"] == json!(one.basis);
                before
                    .iter()
                    .find(same)
                    .cloned()
                    .unwrap_or_else(|| json!({ "words": one.words, "basis": one.basis }))
            };
            Some(Value::Array(all.iter().map(whole).collect()))
        }
        (_, [.., one]) => Some(json!(one.words)),
    };
    match value {
        Some(value) => drop(place.insert(last.to_owned(), value)),
        None => drop(place.shift_remove(last)),
    }
    Ok(())
}

/// Every line of the draft, in the order of the note; what is said in words comes last.
pub fn lines(draft: &Kept) -> Vec<DraftLine> {
    let listed =
        LISTS.iter().flat_map(|list| items(draft, list).iter().map(move |value| (*list, words(list, value))));
    let said = Part::ALL.iter().flat_map(|part| {
        let all = read_words(draft, *part).into_iter();
        all.map(move |said| (part.word(), read_back(&Line::Words(said))))
    });
    let all = listed.chain(said);
    all.enumerate().map(|(index, (list, words))| DraftLine { number: index + 1, list, words }).collect()
}

/// Takes a line out of the draft; says what it was.
pub fn take_out(draft: &mut Kept, number: usize) -> Outcome<DraftLine> {
    let all = lines(draft);
    let found = number.checked_sub(1).and_then(|index| all.get(index)).cloned().ok_or_else(|| {
        Trouble::new(
            Kind::NotFound,
            format!("The draft of this note has no line {number}; it has {}.", all.len()),
            "The draft is as it was.",
            "Look at the numbers with `inkfast note CHART --show`.",
        )
    })?;
    let index = all.iter().filter(|line| line.list == found.list && line.number < number).count();
    if let Some(part) = Part::from_word(found.list) {
        let mut said = read_words(draft, part);
        if index < said.len() {
            said.remove(index);
        }
        write_words(draft, part, &said)?;
        leave_no_empty_part(draft, part);
        return Ok(found);
    }
    let fields = draft.data.as_object_mut().ok_or_else(damaged)?;
    if let Some(Value::Array(lines)) = fields.get_mut(found.list) {
        if index < lines.len() {
            lines.remove(index);
        }
        if lines.is_empty() {
            fields.shift_remove(found.list);
        }
    }
    Ok(found)
}

/// An assessment, advice or plan that says nothing is none.
fn leave_no_empty_part(draft: &mut Kept, part: Part) {
    let Some(fields) = draft.data.as_object_mut() else { return };
    let name = part.pointer().split('/').nth(1).unwrap_or_default();
    if fields.get(name).and_then(Value::as_object).is_some_and(serde_json::Map::is_empty) {
        fields.shift_remove(name);
    }
}

fn items<'a>(draft: &'a Kept, list: &str) -> &'a [Value] {
    draft.data.get(list).and_then(Value::as_array).map_or(&[], Vec::as_slice)
}

fn count(draft: &Kept, list: &str) -> usize {
    items(draft, list).len()
}

/// A line of the draft in full words; as it is kept, where it is not whole.
fn words(list: &str, value: &Value) -> String {
    let mut numbered = value.clone();
    if matches!(list, "findings" | "procedures")
        && let Some(fields) = numbered.as_object_mut()
    {
        fields.entry("no").or_insert(json!(0));
    }
    let line = match list {
        "findings" => serde_json::from_value(numbered).map(Line::Finding),
        "procedures" => serde_json::from_value(numbered).map(Line::Procedure),
        "deferred" => serde_json::from_value(numbered).map(Line::Deferred),
        "checks" => serde_json::from_value(numbered).map(Line::Check),
        _ => serde_json::from_value(numbered).map(Line::Measure),
    };
    line.map_or_else(|_| format!("{list}: {value}"), |line| read_back(&line))
}

fn damaged() -> Trouble {
    Trouble::damaged("The draft of this note is damaged.")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::moment::Moment;
    use crate::record::notation::line::{Read, Setting, read};
    use crate::record::tables::levels::Levels;

    fn draft() -> Kept {
        let begun = Moment::parse("2025-03-11T09:40:00-04:00").unwrap();
        Kept { kind: "visit".into(), chart: None, by: "IV".into(), begun, data: json!({ "visit": 4 }) }
    }

    fn put(draft: &mut Kept, text: &str) -> usize {
        let levels = Levels::shipped().unwrap();
        let setting = Setting { at: draft.begun, done_by: "IV", transitional: false, levels };
        let Read::Line(line) = read(text, &setting) else { panic!("{text}") };
        add(draft, &line).unwrap()
    }

    #[test]
    fn lines_are_numbered_over_all_lists_and_taken_out_by_number() {
        let mut kept = draft();
        assert_eq!(put(&mut kept, "C5-6 R mob III ok"), 1);
        assert_eq!(put(&mut kept, "masseter L tender 3"), 1);
        assert_eq!(put(&mut kept, "opening 38 before"), 3);
        assert_eq!(put(&mut kept, "TMJ L click"), 2);
        let shown: Vec<usize> = lines(&kept).iter().map(|line| line.number).collect();
        assert_eq!(shown, [1, 2, 3, 4]);
        assert!(lines(&kept)[2].words.contains("C5-C6, right"));
        assert!(take_out(&mut kept, 5).is_err() && take_out(&mut kept, 0).is_err());
        assert!(take_out(&mut kept, 2).unwrap().words.contains("click"));
        assert!(take_out(&mut kept, 2).unwrap().words.contains("C5-C6"));
        assert_eq!(kept.data.get("procedures"), None);
        assert_eq!(lines(&kept).len(), 2);
        assert_eq!(kept.data["findings"][0].get("no"), None);
    }

    #[test]
    fn a_reason_for_having_none_is_not_written_over() {
        let mut kept = draft();
        kept.data["measures"] = json!({ "not_done_because": "no time" });
        let levels = Levels::shipped().unwrap();
        let setting = Setting { at: kept.begun, done_by: "IV", transitional: false, levels };
        let Read::Line(line) = read("opening 38 before", &setting) else { panic!() };
        assert_eq!(add(&mut kept, &line).unwrap_err().kind, Kind::Refused);
    }
}
