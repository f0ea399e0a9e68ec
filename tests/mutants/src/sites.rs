//! Where in a file the mutants of the list go, and the text that makes each a branch of its own.
//!
//! Nothing is put where a switch cannot be asked (constants, patterns, bodies of macros) or would change what is
//! not a mutant's: an `&&` that joins a `let` stays.

use std::collections::BTreeMap;
use std::ops::Range;

use proc_macro2::LineColumn;
use syn::spanned::Spanned;
use syn::visit::{self, Visit};
use syn::{BinOp, Expr, UnOp};

use crate::render::{Piece, Site};
use crate::{Mutant, Place};

/// The places of `mutants` in `source`, outer ones first.
pub fn find(source: &str, mutants: &[Mutant]) -> Result<Vec<Site>, syn::Error> {
    let tree = syn::parse_file(source)?;
    let mut by_place: BTreeMap<(String, Place), Vec<Mutant>> = BTreeMap::new();
    for mutant in mutants {
        by_place.entry((mutant.genre.clone(), mutant.span.start)).or_default().push(mutant.clone());
    }
    let mut finder = Finder { text: Text::of(source), by_place, sites: Vec::new() };
    finder.visit_file(&tree);
    Ok(finder.sites)
}

/// A file's text and where its lines begin.
struct Text<'a> {
    source: &'a str,
    lines: Vec<usize>,
}

impl<'a> Text<'a> {
    fn of(source: &'a str) -> Self {
        let lines = std::iter::once(0).chain(source.match_indices('\n').map(|(at, _)| at + 1)).collect();
        Text { source, lines }
    }

    fn byte(&self, at: LineColumn) -> usize {
        let line = self.lines[at.line - 1];
        let column =
            self.source[line..].char_indices().nth(at.column).map_or(self.source.len() - line, |(i, _)| i);
        line + column
    }

    fn range(&self, of: &impl Spanned) -> Range<usize> {
        let span = of.span();
        self.byte(span.start())..self.byte(span.end())
    }
}

struct Finder<'a> {
    text: Text<'a>,
    by_place: BTreeMap<(String, Place), Vec<Mutant>>,
    sites: Vec<Site>,
}

fn on(number: u32) -> String {
    format!("crate::switched::on({number})")
}

fn text(text: &str) -> Piece {
    Piece::Text(text.to_string())
}

impl Finder<'_> {
    fn take(&mut self, genre: &str, of: &impl Spanned) -> Vec<Mutant> {
        let start = of.span().start();
        let place = Place { line: start.line, column: start.column + 1 };
        self.by_place.remove(&(genre.to_string(), place)).unwrap_or_default()
    }

    fn put(&mut self, range: Range<usize>, pieces: Vec<Piece>) {
        self.sites.push(Site { range, pieces });
    }

    /// The value of a whole function, at the start of its body.
    fn body(&mut self, signature: &syn::Signature, block: &syn::Block) {
        if signature.constness.is_some() {
            return;
        }
        // Of a type that is only known from its body, a second body has another.
        let opaque = matches!(&signature.output, syn::ReturnType::Type(_, of) if matches!(**of, syn::Type::ImplTrait(_)));
        if let Some(first) = block.stmts.first().filter(|_| !opaque) {
            let at = self.text.range(first).start;
            let pieces: Vec<Piece> = self
                .take("FnValue", first)
                .iter()
                .map(|m| {
                    Piece::Own(m.number, format!("if {} {{ return {}; }} ", on(m.number), m.replacement))
                })
                .collect();
            if !pieces.is_empty() {
                self.put(at..at, pieces);
            }
        }
        visit::visit_block(self, block);
    }

    fn binary(&mut self, whole: &syn::ExprBinary) {
        let mutants = self.take("BinaryOperator", &whole.op);
        if mutants.is_empty() || (is_lazy(&whole.op) && joins_let(whole)) {
            return;
        }
        let range = self.text.range(whole);
        let left = Piece::Inner(self.text.range(&*whole.left));
        let right = Piece::Inner(self.text.range(&*whole.right));
        let op = self.text.source[self.text.range(&whole.op)].to_string();
        let mirrored = |m: &&Mutant| matches!((&*op, &*m.replacement), ("&&", "||") | ("||", "&&"));
        if is_lazy(&whole.op) {
            // Both ways need the left; the right is asked when the left does not decide already.
            let Some(m) = mutants.iter().find(mirrored) else { return };
            let goes_on = if op == "&&" { "l_ != m_" } else { "l_ == m_" };
            let decided = if op == "&&" { "m_" } else { "!m_" };
            self.put(
                range,
                vec![
                    text("({ let l_: bool = "),
                    left,
                    Piece::Own(m.number, format!("; let m_: bool = {}; if {goes_on} {{ ", on(m.number))),
                    right,
                    Piece::Text(format!(" }} else {{ {decided} }} }})")),
                ],
            );
            return;
        }
        if let Some(assigned) = op.strip_suffix('=').filter(|_| is_assigning(&whole.op)) {
            let target = self.text.range(&*whole.left);
            let mut pieces = vec![text("(match ("), right, text(") { r_ => { ")];
            for m in &mutants {
                pieces.push(Piece::Own(m.number, format!("if {} {{ ", on(m.number))));
                pieces.push(Piece::Plain(target.clone()));
                pieces.push(Piece::Text(format!(" {} r_ }} else ", m.replacement)));
            }
            pieces.extend([text("{ "), left, Piece::Text(format!(" {assigned}= r_ }} }} }})"))]);
            self.put(range, pieces);
            return;
        }
        let compares = matches!(
            whole.op,
            BinOp::Eq(_) | BinOp::Ne(_) | BinOp::Lt(_) | BinOp::Le(_) | BinOp::Gt(_) | BinOp::Ge(_)
        );
        if let ([m], "==" | "!=") = (mutants.as_slice(), &*op)
            && matches!(&*m.replacement, "==" | "!=")
        {
            let piece = Piece::Own(m.number, format!(") != {})", on(m.number)));
            self.put(range, vec![text("(("), left, Piece::Text(format!(" {op} ")), right, piece]);
            return;
        }
        // A comparison looks at its sides where they lie; everything else takes them.
        let (by, of) = if compares { ("&", "*") } else { ("", "") };
        let mut pieces = vec![
            Piece::Text(format!("(match ({by}(")),
            left,
            Piece::Text(format!("), {by}(")),
            right,
            text(")) { (l_, r_) => "),
        ];
        for m in &mutants {
            let branch = format!("if {} {{ {of}l_ {} {of}r_ }} else ", on(m.number), m.replacement);
            pieces.push(Piece::Own(m.number, branch));
        }
        pieces.push(Piece::Text(format!("{{ {of}l_ {op} {of}r_ }} }})")));
        self.put(range, pieces);
    }

    fn unary(&mut self, whole: &syn::ExprUnary) {
        let Some(m) = self.take("UnaryOperator", whole).pop() else { return };
        let range = self.text.range(whole);
        let inner = Piece::Inner(self.text.range(&*whole.expr));
        let pieces = match whole.op {
            UnOp::Not(_) => vec![text("((!"), inner, Piece::Own(m.number, format!(") != {})", on(m.number)))],
            UnOp::Neg(_) => {
                let branch = format!("if {} {{ v_ }} else {{ -v_ }} }})", on(m.number));
                vec![text("(match ("), inner, text(") { v_ => "), Piece::Own(m.number, branch)]
            }
            _ => return,
        };
        self.put(range, pieces);
    }

    fn arm(&mut self, arm: &syn::Arm) {
        let gone: Vec<Mutant> = self.take("MatchArm", arm);
        let guard_span = arm.guard.as_ref().map(|(_, guard)| guard);
        let held = guard_span.map(|guard| self.take("MatchArmGuard", guard)).unwrap_or_default();
        if gone.is_empty() && held.is_empty() {
            return;
        }
        let Some(guard) = guard_span else {
            let at = self.text.range(&arm.pat).end;
            let pieces =
                gone.iter().map(|m| Piece::Own(m.number, format!(" if !{}", on(m.number)))).collect();
            self.put(at..at, pieces);
            return;
        };
        let range = self.text.range(guard);
        let mut pieces: Vec<Piece> =
            gone.iter().map(|m| Piece::Own(m.number, format!("!{} && ", on(m.number)))).collect();
        let inner = Piece::Inner(range.clone());
        if has_let(guard) {
            if gone.is_empty() {
                return;
            }
            pieces.push(inner);
        } else {
            let of = |to: &str| held.iter().find(|m| m.replacement == to).map(|m| m.number);
            pieces.push(text("("));
            pieces.extend(of("true").map(|n| Piece::Own(n, format!("{} || ", on(n)))));
            pieces.extend([text("("), inner, text("))")]);
            pieces.extend(of("false").map(|n| Piece::Own(n, format!(" && !{}", on(n)))));
        }
        self.put(range, pieces);
    }

    /// A field of a struct whose rest comes from another one: left out, it comes from there too.
    fn field(&mut self, whole: &syn::ExprStruct, field: &syn::FieldValue) {
        let (Some(base), syn::Member::Named(name)) = (&whole.rest, &field.member) else { return };
        let Some(m) = self.take("StructField", field).pop() else { return };
        let base = &self.text.source[self.text.range(&**base)];
        let kind = &self.text.source[self.text.range(&whole.path)];
        let from = if base == "Default::default()" {
            format!("<{kind} as Default>::default()")
        } else {
            base.to_string()
        };
        let branch = format!("{name}: if {} {{ ({from}).{name} }} else {{ ", on(m.number));
        let inner = Piece::Inner(self.text.range(&field.expr));
        let range = self.text.range(field);
        self.put(range, vec![Piece::Own(m.number, branch), inner, text(" }")]);
    }
}

fn is_lazy(op: &BinOp) -> bool {
    matches!(op, BinOp::And(_) | BinOp::Or(_))
}

fn is_assigning(op: &BinOp) -> bool {
    use BinOp::{
        AddAssign, BitAndAssign, BitOrAssign, BitXorAssign, DivAssign, MulAssign, RemAssign, ShlAssign,
        ShrAssign, SubAssign,
    };
    matches!(
        op,
        AddAssign(_)
            | SubAssign(_)
            | MulAssign(_)
            | DivAssign(_)
            | RemAssign(_)
            | BitXorAssign(_)
            | BitAndAssign(_)
            | BitOrAssign(_)
            | ShlAssign(_)
            | ShrAssign(_)
    )
}

fn joins_let(whole: &syn::ExprBinary) -> bool {
    has_let(&whole.left) || has_let(&whole.right)
}

/// Whether a `let` stands at the top of a condition.
fn has_let(expr: &Expr) -> bool {
    match expr {
        Expr::Let(_) => true,
        Expr::Binary(both) if is_lazy(&both.op) => joins_let(both),
        _ => false,
    }
}

impl<'ast> Visit<'ast> for Finder<'_> {
    fn visit_item_fn(&mut self, item: &'ast syn::ItemFn) {
        self.body(&item.sig, &item.block);
    }

    fn visit_impl_item_fn(&mut self, item: &'ast syn::ImplItemFn) {
        self.body(&item.sig, &item.block);
    }

    fn visit_trait_item_fn(&mut self, item: &'ast syn::TraitItemFn) {
        if let Some(block) = &item.default {
            self.body(&item.sig, block);
        }
    }

    fn visit_expr_binary(&mut self, whole: &'ast syn::ExprBinary) {
        self.binary(whole);
        visit::visit_expr_binary(self, whole);
    }

    fn visit_expr_unary(&mut self, whole: &'ast syn::ExprUnary) {
        self.unary(whole);
        visit::visit_expr_unary(self, whole);
    }

    fn visit_arm(&mut self, arm: &'ast syn::Arm) {
        self.arm(arm);
        visit::visit_arm(self, arm);
    }

    fn visit_expr_struct(&mut self, whole: &'ast syn::ExprStruct) {
        // In the order of the text, so that an outer place comes first.
        for field in &whole.fields {
            self.field(whole, field);
            visit::visit_field_value(self, field);
        }
        if let Some(rest) = &whole.rest {
            self.visit_expr(rest);
        }
    }

    // What is worked out when it is compiled cannot ask a switch.
    fn visit_item_const(&mut self, _: &'ast syn::ItemConst) {}
    fn visit_item_static(&mut self, _: &'ast syn::ItemStatic) {}
    fn visit_impl_item_const(&mut self, _: &'ast syn::ImplItemConst) {}
    fn visit_trait_item_const(&mut self, _: &'ast syn::TraitItemConst) {}
    fn visit_expr_const(&mut self, _: &'ast syn::ExprConst) {}
    fn visit_variant(&mut self, _: &'ast syn::Variant) {}
    fn visit_type(&mut self, _: &'ast syn::Type) {}
    fn visit_pat(&mut self, _: &'ast syn::Pat) {}
    fn visit_generic_argument(&mut self, _: &'ast syn::GenericArgument) {}

    fn visit_expr_repeat(&mut self, whole: &'ast syn::ExprRepeat) {
        self.visit_expr(&whole.expr);
    }
}
