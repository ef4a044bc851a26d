//! Where in a profile file a mistake stands.

use std::fmt::Write;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A value that cannot be: where its key stands in the file, and what is wrong with it.
#[derive(Debug)]
pub(super) struct Fault {
    path: Vec<String>,
    said: String,
}

impl Fault {
    /// The fault of the value at this path of keys, or, where that is missing, of what stands around it.
    pub(super) fn at(path: &[&str], said: impl Into<String>) -> Self {
        Self { path: path.iter().map(|key| (*key).to_owned()).collect(), said: said.into() }
    }

    /// The same below another key.
    pub(super) fn under(mut self, key: &str) -> Self {
        self.path.insert(0, key.to_owned());
        self
    }

    /// The fault with its line, and a mark under its place.
    pub(super) fn shown(&self, text: &str) -> String {
        let place = DeTable::parse(text).ok().and_then(|table| find(table.get_ref(), &self.path));
        let Some(span) = place else { return self.said.clone() };
        let before = text.get(..span.start).unwrap_or_default();
        let number = before.lines().count().max(1) + usize::from(before.ends_with('\n'));
        let number = if before.is_empty() { 1 } else { number };
        let from = before.rfind('\n').map_or(0, |at| at + 1);
        let line = text.get(from..).unwrap_or_default().lines().next().unwrap_or_default();
        let column = before.get(from..).unwrap_or_default().chars().count();
        let shown = text.get(span).unwrap_or_default();
        let width = shown.lines().next().unwrap_or_default().chars().count().max(1);
        let gutter = " ".repeat(number.to_string().len());
        let mut out = format!("at line {number}, column {}\n{gutter} |\n{number} | {line}\n", column + 1);
        // Writing into a String cannot fail.
        let _ = writeln!(out, "{gutter} | {}{}", " ".repeat(column), "^".repeat(width));
        out + &self.said
    }
}

/// The place of the value, else of the innermost table of its path that is there.
fn find(table: &DeTable<'_>, path: &[String]) -> Option<Range<usize>> {
    let (key, below) = path.split_first()?;
    let (name, value): (&Spanned<_>, &Spanned<DeValue<'_>>) =
        table.iter().find(|(name, _)| name.get_ref().as_ref() == key.as_str())?;
    match value.get_ref() {
        DeValue::Table(inner) => find(inner, below).or_else(|| Some(name.span())),
        _ => Some(value.span()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_line_and_the_place_are_marked() {
        let text = "format = \"columns\"\n[columns]\nx = 1\ny = 2\nz = 2 # twice\n";
        let shown = Fault::at(&["columns", "z"], "named twice").shown(text);
        assert_eq!(shown, "at line 5, column 5\n  |\n5 | z = 2 # twice\n  |     ^\nnamed twice");
        let missing = Fault::at(&["columns", "time_unit"], "missing").shown(text);
        assert!(missing.starts_with("at line 2, column 2\n  |\n2 | [columns]\n  |  ^^^^^^^\n"), "{missing}");
        assert_eq!(Fault::at(&["frame", "sync"], "missing").shown(text), "missing");
        let first = Fault::at(&["format"], "no").shown(text);
        assert!(first.starts_with("at line 1, column 10\n"), "{first}");
        let inline = "[frame]\nx = { at = 300, type = \"i16\" }\n";
        let shown = Fault::at(&["at"], "too far").under("x").under("frame").shown(inline);
        assert!(shown.contains("at line 2, column 12") && shown.contains("^^^"), "{shown}");
    }
}
