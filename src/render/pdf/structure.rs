//! The structure of the document beside its looks: what is a heading, a table, a head cell, for whoever has
//! the pages read aloud or takes the words out.

use krilla::tagging::{
    Identifier, ListNumbering, TableHeaderScope, Tag, TagGroup, TagKind, TagTree, TextDecorationType,
};
use std::num::{NonZeroU16, NonZeroU32};

/// What a piece of the document is.
#[derive(Debug, Clone, PartialEq)]
pub enum Role {
    /// A part of the document.
    Part,
    /// Something with a heading of its own.
    Section,
    /// Several things that belong together.
    Div,
    /// A paragraph.
    Paragraph,
    /// A heading: level from 1, and its words.
    Heading(u16, String),
    /// A table.
    Table,
    /// The head rows of a table.
    TableHead,
    /// The other rows.
    TableBody,
    /// A row.
    Row,
    /// A cell that names its column, or its row.
    HeadCell { names_row: bool, columns: u32 },
    /// A cell, over so many columns.
    Cell(u32),
    /// A list, with numbers or without.
    List { numbered: bool },
    /// An item of a list.
    Item,
    /// Its number or bullet.
    Label,
    /// Its words.
    ItemBody,
    /// A picture, with its words for whoever can't see it.
    Figure(String),
    /// Words that a correction struck.
    Struck,
    /// A pointer to another place.
    Pointer,
}

/// A piece of the structure, by its number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Node(usize);

enum Kid {
    Node(usize),
    Mark(Identifier),
}

struct Piece {
    role: Role,
    kids: Vec<Kid>,
}

/// The structure, from the whole document down.
pub struct Structure {
    pieces: Vec<Piece>,
}

impl Structure {
    /// An empty document.
    pub fn new() -> Structure {
        Structure { pieces: vec![Piece { role: Role::Part, kids: Vec::new() }] }
    }

    /// The whole document.
    pub fn root(&self) -> Node {
        Node(0)
    }

    /// A new piece at the end of `parent`.
    pub fn add(&mut self, parent: Node, role: Role) -> Node {
        let number = self.pieces.len();
        self.pieces.push(Piece { role, kids: Vec::new() });
        if let Some(piece) = self.pieces.get_mut(parent.0) {
            piece.kids.push(Kid::Node(number));
        }
        Node(number)
    }

    /// Drawn words or lines that belong to a piece.
    pub fn mark(&mut self, node: Node, mark: Identifier) {
        if let Some(piece) = self.pieces.get_mut(node.0) {
            piece.kids.push(Kid::Mark(mark));
        }
    }

    /// What a piece is.
    #[cfg(test)]
    pub fn roles(&self) -> impl Iterator<Item = &Role> {
        self.pieces.iter().map(|piece| &piece.role)
    }

    /// As the file holds it; `language` is a language tag (RFC 5646).
    pub fn tree(self, language: &str) -> TagTree {
        let mut pieces: Vec<Option<Piece>> = self.pieces.into_iter().map(Some).collect();
        let mut tree = TagTree::new().with_lang(Some(language.to_string()));
        if let Some(group) = group(&mut pieces, 0) {
            group.children.into_iter().for_each(|child| tree.push(child));
        }
        tree
    }
}

fn group(pieces: &mut [Option<Piece>], number: usize) -> Option<TagGroup> {
    let piece = pieces.get_mut(number)?.take()?;
    let mut out = TagGroup::new(tag(piece.role));
    for kid in piece.kids {
        match kid {
            Kid::Mark(mark) => out.push(mark),
            Kid::Node(below) => {
                if let Some(below) = group(pieces, below) {
                    out.push(below);
                }
            }
        }
    }
    Some(out)
}

fn tag(role: Role) -> TagKind {
    let spans = |columns: u32| NonZeroU32::new(columns).filter(|columns| columns.get() > 1);
    match role {
        Role::Part => Tag::Part.into(),
        Role::Section => Tag::Section.into(),
        Role::Div => Tag::Div.into(),
        Role::Paragraph => Tag::P.into(),
        Role::Heading(level, words) => {
            Tag::Hn(NonZeroU16::new(level).unwrap_or(NonZeroU16::MIN), Some(words)).into()
        }
        Role::Table => Tag::Table.into(),
        Role::TableHead => Tag::THead.into(),
        Role::TableBody => Tag::TBody.into(),
        Role::Row => Tag::TR.into(),
        Role::HeadCell { names_row, columns } => {
            let scope = if names_row { TableHeaderScope::Row } else { TableHeaderScope::Column };
            Tag::TH(scope).with_col_span(spans(columns)).into()
        }
        Role::Cell(columns) => Tag::TD.with_col_span(spans(columns)).into(),
        Role::List { numbered } => {
            Tag::L(if numbered { ListNumbering::Decimal } else { ListNumbering::Disc }).into()
        }
        Role::Item => Tag::LI.into(),
        Role::Label => Tag::Lbl.into(),
        Role::ItemBody => Tag::LBody.into(),
        Role::Figure(words) => Tag::Figure(Some(words)).into(),
        Role::Struck => Tag::Span.with_text_decoration_type(Some(TextDecorationType::LineThrough)).into(),
        Role::Pointer => Tag::Link.into(),
    }
}
