//! Where in a profile file a mistake stands.

use super::Mistake;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A value that cannot be: where its key stands in the file, and what is wrong with it.
#[derive(Debug)]
pub(super) struct Fault {
    path: Vec<String>,
    pub mistake: Mistake,
}

/// Where a mistake stands in a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mark {
    /// Its line, from 1.
    pub line: usize,
    /// The first character of it, from 1.
    pub column: usize,
    /// How many characters it has.
    pub width: usize,
    /// The whole line.
    pub text: String,
}

impl Fault {
    /// The fault of the value at this path of keys, or, where that is missing, of what stands around it.
    pub(super) fn at(path: &[&str], mistake: Mistake) -> Self {
        Self { path: path.iter().map(|key| (*key).to_owned()).collect(), mistake }
    }

    /// The same below another key.
    pub(super) fn under(mut self, key: &str) -> Self {
        self.path.insert(0, key.to_owned());
        self
    }

    /// Its place in the text of the file; none where the file has nothing to point at.
    pub(super) fn mark(&self, text: &str) -> Option<Mark> {
        let table = DeTable::parse(text).ok()?;
        let span = find(table.get_ref(), &self.path)?;
        let before = text.get(..span.start)?;
        let from = before.rfind('\n').map_or(0, |at| at + 1);
        let shown = text.get(span).unwrap_or_default();
        Some(Mark {
            line: before.matches('\n').count() + 1,
            column: before.get(from..).unwrap_or_default().chars().count() + 1,
            width: shown.lines().next().unwrap_or_default().chars().count().max(1),
            text: text.get(from..).unwrap_or_default().lines().next().unwrap_or_default().to_owned(),
        })
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

    fn mark(path: &[&str], text: &str) -> Option<(usize, usize, usize)> {
        Fault::at(path, Mistake::Scale).mark(text).map(|mark| (mark.line, mark.column, mark.width))
    }

    #[test]
    fn the_line_and_the_place_are_marked() {
        let text = "format = \"columns\"\n[columns]\nx = 1\ny = 2\nz = 2 # twice\n";
        assert_eq!(mark(&["columns", "z"], text), Some((5, 5, 1)));
        assert_eq!(Fault::at(&["columns", "z"], Mistake::Scale).mark(text).unwrap().text, "z = 2 # twice");
        assert_eq!(mark(&["columns", "time_unit"], text), Some((2, 2, 7)));
        assert_eq!(mark(&["frame", "sync"], text), None);
        assert_eq!(mark(&["format"], text), Some((1, 10, 9)));
        let inline = Fault::at(&["at"], Mistake::Scale).under("x").under("frame");
        let marked = inline.mark("[frame]\nx = { at = 300, type = \"i16\" }\n").unwrap();
        assert_eq!((marked.line, marked.column, marked.width), (2, 12, 3));
    }
}
