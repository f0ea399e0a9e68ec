//! From the page's markup to pieces that can be laid out: every element of the page becomes a piece or words
//! of one, or the reading stops.

use super::Fault;
use super::looks::{Frame, blank, is, look};
use super::picture::{Picture, read_picture};
use super::structure::{Node, Role, Structure};
use super::text::{Para, Sense, Setter, Type, Words};
use roxmltree::Node as Element;

/// Something that takes up room on the page.
pub enum Piece {
    /// Words, by their number.
    Words(usize, Frame),
    /// Other pieces with room around them.
    Block(Block),
    /// A table.
    Table(Table),
    /// A picture, by its number.
    Picture(usize),
}

/// Pieces with room around them.
pub struct Block {
    /// The room.
    pub frame: Frame,
    /// What is in it.
    pub pieces: Vec<Piece>,
    /// Its name, for pointers.
    pub id: Option<String>,
    /// The number or bullet of an item of a list.
    pub label: Option<usize>,
    /// A heading that the list of contents names: level and words.
    pub heading: Option<(u16, String)>,
}

/// A table.
pub struct Table {
    /// Room around it.
    pub frame: Frame,
    /// Rows that every page of the table begins with.
    pub head: Vec<Row>,
    /// The other rows.
    pub body: Vec<Row>,
}

/// A row.
pub struct Row {
    /// Its cells.
    pub cells: Vec<Cell>,
    /// Its name, for pointers.
    pub id: Option<String>,
}

/// A cell.
pub struct Cell {
    /// Room within it, and its lines.
    pub frame: Frame,
    /// How many columns it goes over.
    pub columns: usize,
    /// What is in it.
    pub pieces: Vec<Piece>,
}

/// A page as it was read.
pub struct Sheet {
    /// What stands at the head of every page of paper.
    pub head: Vec<Piece>,
    /// The parts, with whether each begins a page.
    pub parts: Vec<(bool, Vec<Piece>)>,
    /// The title of the document.
    pub title: String,
    /// Its language.
    pub language: String,
    /// All words.
    pub paras: Vec<Para>,
    /// All pictures.
    pub pictures: Vec<Picture>,
    /// What everything is.
    pub structure: Structure,
}

struct Reader<'a> {
    setter: &'a mut Setter,
    paras: Vec<Para>,
    pictures: Vec<Picture>,
    structure: Structure,
    /// Counts what has to be told apart.
    count: usize,
}

/// Reads a page.
///
/// # Errors
/// When it is not well-formed, or holds anything that is not known.
pub fn read(html: &str, setter: &mut Setter) -> Result<Sheet, Fault> {
    let options = roxmltree::ParsingOptions { allow_dtd: true, ..Default::default() };
    let page =
        roxmltree::Document::parse_with_options(html, options).map_err(|e| Fault::Form(e.to_string()))?;
    let root = page.root_element();
    let find = |name: &str| root.descendants().find(|node| node.has_tag_name(name));
    let title = find("title").map(all_words).unwrap_or_default();
    let language = root.attribute("lang").unwrap_or("en").to_string();
    let body = find("body").ok_or_else(|| Fault::Form("the page has no body".into()))?;
    let mut reader =
        Reader { setter, paras: Vec::new(), pictures: Vec::new(), structure: Structure::new(), count: 0 };
    let (mut head, mut parts) = (Vec::new(), Vec::new());
    let base = super::looks::base();
    for table in elements(body)? {
        if !table.has_tag_name("table") || !is(table, "sheet") {
            return Err(unknown(table, "in the body"));
        }
        let (look_of_table, _) = look(table, base)?;
        for group in elements(table)? {
            look(group, look_of_table)?;
            for row in elements(group)? {
                let (_, frame) = look(row, look_of_table)?;
                for cell in elements(row)? {
                    let (kind, room) = look(cell, look_of_table)?;
                    let node = reader.structure.root();
                    let mut pieces = reader.pieces(cell, kind, node)?;
                    if group.has_tag_name("thead") {
                        let room = Frame { above: 0.0, ..room };
                        pieces = vec![Piece::Block(plain(room, pieces))];
                        head.append(&mut pieces);
                    } else {
                        parts.push((frame.new_page, pieces));
                    }
                }
            }
        }
    }
    let Reader { paras, pictures, structure, .. } = reader;
    Ok(Sheet { head, parts, title, language, paras, pictures, structure })
}

fn plain(frame: Frame, pieces: Vec<Piece>) -> Block {
    Block { frame, pieces, id: None, label: None, heading: None }
}

/// The elements below one that holds no words of its own. What the words are is not told: an error holds no
/// contents of a record.
fn elements<'a, 'i>(node: Element<'a, 'i>) -> Result<Vec<Element<'a, 'i>>, Fault> {
    let is_word = |child: &Element<'_, '_>| child.is_text() && !all_words(*child).is_empty();
    if node.children().any(|child| is_word(&child)) {
        return Err(unknown(node, "with words of its own"));
    }
    Ok(node.children().filter(Element::is_element).collect())
}

fn unknown(node: Element<'_, '_>, where_: &str) -> Fault {
    Fault::Unknown(format!("the element <{}> {where_}", node.tag_name().name()))
}

/// All words of an element, one space between them.
pub fn all_words(node: Element<'_, '_>) -> String {
    let words: String =
        node.descendants().filter(|n| n.is_text()).map(|n| n.text().unwrap_or_default()).collect();
    words.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Elements that are words of the block they stand in.
fn is_inline(node: Element<'_, '_>) -> bool {
    let name = node.tag_name().name();
    node.is_text() || matches!(name, "a" | "bdi" | "span" | "strong" | "em" | "del" | "ins" | "br")
}

/// Hebrew, Arabic and the other scripts from right to left (UAX 9 and the blocks of Unicode 15).
fn turns(text: &str) -> bool {
    text.chars().any(|c| matches!(u32::from(c), 0x0590..=0x08FF | 0xFB1D..=0xFDFF | 0xFE70..=0xFEFF | 0x10800..=0x10FFF | 0x1E800..=0x1EFFF))
}

impl Reader<'_> {
    /// Everything in an element that may hold blocks and words of its own.
    fn pieces(&mut self, parent: Element<'_, '_>, kind: Type, node: Node) -> Result<Vec<Piece>, Fault> {
        let isolating = turns(&all_words(parent));
        let mut pieces = Vec::new();
        let mut words = Words::default();
        let mut ids = Vec::new();
        for child in parent.children() {
            if child.is_comment() {
                continue;
            }
            if is_inline(child) {
                self.inline(child, kind, &Sense::Plain, (isolating, &mut words, &mut ids))?;
                continue;
            }
            self.flush(&mut words, &mut ids, kind, node, &mut pieces);
            pieces.push(self.piece(child, kind, node)?);
        }
        self.flush(&mut words, &mut ids, kind, node, &mut pieces);
        Ok(pieces)
    }

    fn flush(
        &mut self,
        words: &mut Words,
        ids: &mut Vec<String>,
        kind: Type,
        node: Node,
        pieces: &mut Vec<Piece>,
    ) {
        let words = std::mem::take(words);
        let ids = std::mem::take(ids);
        if words.is_empty() {
            return;
        }
        let number = self.para(words, kind, node);
        let frame = Frame { orphans: 2, ..Frame::default() };
        let mut piece = Piece::Words(number, frame);
        for id in ids {
            piece = Piece::Block(Block { id: Some(id), ..plain(Frame::default(), vec![piece]) });
        }
        pieces.push(piece);
    }

    fn para(&mut self, words: Words, kind: Type, node: Node) -> usize {
        self.paras.push(words.set(kind, node, self.setter));
        self.paras.len() - 1
    }

    /// Words and what is among them.
    fn inline(
        &mut self,
        node: Element<'_, '_>,
        kind: Type,
        sense: &Sense,
        (isolating, words, ids): (bool, &mut Words, &mut Vec<String>),
    ) -> Result<(), Fault> {
        if node.is_text() {
            words.add(node.text().unwrap_or_default(), kind, sense);
            return Ok(());
        }
        if node.is_comment() {
            return Ok(());
        }
        if !is_inline(node) {
            return Err(unknown(node, "among words"));
        }
        let (kind, _) = look(node, kind)?;
        ids.extend(node.attribute("id").map(str::to_string));
        let name = node.tag_name().name();
        match name {
            "br" => words.line_end(kind, sense),
            "span" if is(node, "blank") => {
                if node.has_children() {
                    return Err(unknown(node, "that is a blank and holds something"));
                }
                words.blank(blank(node), kind);
            }
            _ => {
                let sense = match (name, sense) {
                    ("del", _) => Sense::Struck(self.next()),
                    ("a", Sense::Plain) => {
                        match node.attribute("href").and_then(|href| href.strip_prefix('#')) {
                            Some(place) => Sense::Pointer(self.next(), place.to_string()),
                            None => return Err(unknown(node, "that points out of the page")),
                        }
                    }
                    _ => sense.clone(),
                };
                let isolate = isolating && name == "bdi";
                if isolate {
                    words.isolate(true, kind, &sense);
                }
                for child in node.children() {
                    self.inline(child, kind, &sense, (isolating, &mut *words, &mut *ids))?;
                }
                if isolate {
                    words.isolate(false, kind, &sense);
                }
            }
        }
        Ok(())
    }

    fn next(&mut self) -> usize {
        self.count += 1;
        self.count
    }

    fn piece(&mut self, element: Element<'_, '_>, above: Type, parent: Node) -> Result<Piece, Fault> {
        let (kind, frame) = look(element, above)?;
        let id = element.attribute("id").map(str::to_string);
        let name = element.tag_name().name();
        let (role, heading) = match name {
            "table" => return self.table(element, kind, frame, parent),
            "figure" => return self.figure(element, frame, parent),
            "ul" | "ol" => return self.list(element, kind, frame, parent),
            "p" => (Role::Paragraph, None),
            "div" => (Role::Div, None),
            "section" | "article" => (Role::Section, None),
            "h1" | "h2" | "h3" | "h4" => {
                let level = name[1..].parse().unwrap_or(1);
                let words = all_words(element);
                (Role::Heading(level, words.clone()), Some((level, words)))
            }
            _ => return Err(unknown(element, "as a block")),
        };
        let node = self.structure.add(parent, role);
        let mut pieces = self.pieces(element, kind, node)?;
        for piece in &mut pieces {
            if let Piece::Words(_, room) = piece {
                room.orphans = frame.orphans;
            }
        }
        Ok(Piece::Block(Block { id, heading, ..plain(frame, pieces) }))
    }

    fn list(
        &mut self,
        list: Element<'_, '_>,
        kind: Type,
        frame: Frame,
        parent: Node,
    ) -> Result<Piece, Fault> {
        let numbered = list.has_tag_name("ol");
        let node = self.structure.add(parent, Role::List { numbered });
        let mut items = Vec::new();
        for (index, item) in elements(list)?.into_iter().enumerate() {
            if !item.has_tag_name("li") {
                return Err(unknown(item, "in a list"));
            }
            let (kind, room) = look(item, kind)?;
            let id = item.attribute("id").map(str::to_string);
            let item_node = self.structure.add(node, Role::Item);
            let label_node = self.structure.add(item_node, Role::Label);
            let body = self.structure.add(item_node, Role::ItemBody);
            let mut words = Words::default();
            let label = if numbered { format!("{}.", index + 1) } else { "\u{2022}".to_string() };
            words.add(&label, Type { bold: false, italic: false, ..kind }, &Sense::Plain);
            let label = self.para(words, kind, label_node);
            let pieces = self.pieces(item, kind, body)?;
            items.push(Piece::Block(Block { id, label: Some(label), ..plain(room, pieces) }));
        }
        Ok(Piece::Block(plain(frame, items)))
    }

    fn figure(&mut self, figure: Element<'_, '_>, frame: Frame, parent: Node) -> Result<Piece, Fault> {
        let mut pieces = Vec::new();
        for svg in elements(figure)? {
            if !svg.has_tag_name("svg") {
                return Err(unknown(svg, "in a figure"));
            }
            let picture = read_picture(svg, &mut self.structure, parent, self.setter)?;
            self.pictures.push(picture);
            pieces.push(Piece::Picture(self.pictures.len() - 1));
        }
        Ok(Piece::Block(plain(frame, pieces)))
    }

    fn table(
        &mut self,
        table: Element<'_, '_>,
        kind: Type,
        frame: Frame,
        parent: Node,
    ) -> Result<Piece, Fault> {
        let node = self.structure.add(parent, Role::Table);
        let (mut head, mut body) = (Vec::new(), Vec::new());
        for group in elements(table)? {
            let in_head = group.has_tag_name("thead");
            if !in_head && !group.has_tag_name("tbody") {
                return Err(unknown(group, "in a table"));
            }
            let role = if in_head { Role::TableHead } else { Role::TableBody };
            let group_node = self.structure.add(node, role);
            for row in elements(group)? {
                if !row.has_tag_name("tr") {
                    return Err(unknown(row, "among the rows of a table"));
                }
                look(row, kind)?;
                let row_node = self.structure.add(group_node, Role::Row);
                let rows = if in_head { &mut head } else { &mut body };
                let id = row.attribute("id").map(str::to_string);
                let mut cells = Vec::new();
                for cell in elements(row)? {
                    cells.push(self.cell(cell, kind, row_node, in_head)?);
                }
                rows.push(Row { cells, id });
            }
        }
        Ok(Piece::Table(Table { frame, head, body }))
    }

    fn cell(&mut self, cell: Element<'_, '_>, kind: Type, row: Node, in_head: bool) -> Result<Cell, Fault> {
        let name = cell.tag_name().name();
        if !matches!(name, "td" | "th") {
            return Err(unknown(cell, "in a row"));
        }
        let (kind, frame) = look(cell, kind)?;
        let columns: u32 = match cell.attribute("colspan") {
            None => 1,
            Some(number) => number.parse().map_err(|_| unknown(cell, "over an odd number of columns"))?,
        };
        let names_row = !in_head && columns == 1;
        let role = if name == "th" { Role::HeadCell { names_row, columns } } else { Role::Cell(columns) };
        let node = self.structure.add(row, role);
        let mut pieces = self.pieces(cell, kind, node)?;
        if let Some(id) = cell.attribute("id") {
            pieces =
                vec![Piece::Block(Block { id: Some(id.to_string()), ..plain(Frame::default(), pieces) })];
        }
        Ok(Cell { frame, columns: columns.max(1) as usize, pieces })
    }
}
