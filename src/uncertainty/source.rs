//! The cause behind an error that several values share.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::cmp::Ordering;
use std::fmt;
use std::hash::{Hash, Hasher};

/// The one cause behind an error that several readings share: two contributions of one component with equal
/// sources are the *same* error, not two of a size.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(from = "String", into = "String")]
pub struct Source {
    /// Its name, which is all that a document holds of it, and what makes two of them one.
    name: String,
    #[schemars(skip)]
    kind: Kind,
}

/// What a source is, as far as anything depends on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    /// A datum: its id is unique among setups.
    Datum,
    /// A calibration that says which it is, by a checksum.
    Calibration,
    /// Seats, stands, captures, sensors that nobody calibrated: one setup's own.
    Own,
}

impl Kind {
    /// What a document's name says.
    fn written(name: &str) -> Self {
        if name.starts_with("datum ") {
            Self::Datum
        } else if name.starts_with("calibration ") && name.contains(" #") {
            Self::Calibration
        } else {
            Self::Own
        }
    }
}

impl Source {
    /// Any cause that is one setup's own, by a name that is unique within the setup.
    #[must_use]
    pub fn new(name: impl Into<String>) -> Self {
        Self { name: name.into(), kind: Kind::Own }
    }

    /// The clip's seat: it stays until the clip is moved.
    #[must_use]
    pub fn seat(number: u32) -> Self {
        Self::new(format!("seat {number}"))
    }

    /// A datum, by its id.
    #[must_use]
    pub fn datum(id: impl fmt::Display) -> Self {
        Self { name: format!("datum {id}"), kind: Kind::Datum }
    }

    /// A calibration, by its identity: its name, ` #` and a checksum. Of a sensor that nobody calibrated the name alone.
    #[must_use]
    pub fn calibration(identity: impl fmt::Display) -> Self {
        Self::from(format!("calibration {identity}"))
    }

    /// How the model stands: it stays until the model is moved.
    #[must_use]
    pub fn model_stand() -> Self {
        Self::new("model stand")
    }

    /// One of several causes that have this one's name: the first is this one itself.
    #[must_use]
    pub fn part(&self, index: usize) -> Self {
        if index == 0 { self.clone() } else { self.numbered(index) }
    }

    /// One of several causes of this one's own.
    #[must_use]
    pub fn numbered(&self, index: usize) -> Self {
        Self { name: format!("{}, {index}", self.name), kind: self.kind }
    }

    /// Among several setups: what is one setup's own is named after it.
    #[must_use]
    pub fn of_setup(&self, setup: &str) -> Self {
        match self.kind {
            Kind::Datum | Kind::Calibration => self.clone(),
            Kind::Own => Self::new(format!("{} ({setup})", self.name)),
        }
    }
}

impl PartialEq for Source {
    fn eq(&self, other: &Self) -> bool {
        self.name == other.name
    }
}

impl Eq for Source {}

impl Hash for Source {
    fn hash<H: Hasher>(&self, state: &mut H) {
        self.name.hash(state);
    }
}

impl PartialOrd for Source {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Source {
    fn cmp(&self, other: &Self) -> Ordering {
        self.name.cmp(&other.name)
    }
}

impl From<String> for Source {
    fn from(name: String) -> Self {
        let kind = Kind::written(&name);
        Self { name, kind }
    }
}

impl From<Source> for String {
    fn from(source: Source) -> Self {
        source.name
    }
}

impl fmt::Display for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.name)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(name: &str) -> Source {
        serde_json::from_value(serde_json::json!(name)).unwrap()
    }

    #[test]
    fn what_a_document_names_is_what_it_was() {
        let calibrated = Source::calibration("clip #0123456789abcdef");
        let all = [
            (Source::datum("018f"), "datum 018f", true),
            (Source::datum("018f").numbered(1), "datum 018f, 1", true),
            (calibrated.clone(), "calibration clip #0123456789abcdef", true),
            (calibrated.part(2), "calibration clip #0123456789abcdef, 2", true),
            (Source::calibration("nominal"), "calibration nominal", false),
            (Source::seat(3), "seat 3", false),
            (Source::model_stand(), "model stand", false),
            (Source::new("capture 018f").numbered(0), "capture 018f, 0", false),
            (Source::new("drift of the clip"), "drift of the clip", false),
        ];
        for (source, name, outlives) in all {
            assert_eq!(serde_json::to_value(&source).unwrap(), name);
            for source in [source, written(name)] {
                assert_eq!(source, written(name));
                assert_eq!(source.of_setup("4") == source, outlives, "{name}");
            }
        }
    }

    /// A sensor can have any name.
    #[test]
    fn a_name_makes_no_source_something_else() {
        let own = Source::new(format!("{} of the bench", "datum"));
        assert_eq!(own.of_setup("4").to_string(), "datum of the bench (4)");
    }
}
