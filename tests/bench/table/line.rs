//! One line of the table.

use std::fmt;

/// A figure, what it is held against, and whether its goal holds.
#[derive(Default)]
pub struct Line {
    row: &'static str,
    what: String,
    figure: String,
    against: String,
    ratio: Option<f64>,
    goal: Option<(String, bool)>,
}

impl Line {
    pub const HEADING: &str = "row         what                            figure                          against                                      ratio  goal        holds";

    pub fn new(row: &'static str, what: impl Into<String>, figure: impl Into<String>) -> Self {
        Self { row, what: what.into(), figure: figure.into(), ..Self::default() }
    }

    /// What it is held against, with its own figure, and how the two stand to each other.
    pub fn against(self, against: impl Into<String>, ratio: f64) -> Self {
        Self { against: against.into(), ratio: Some(ratio), ..self }
    }

    /// Why there is nothing to hold it against.
    pub fn without(self, why: impl Into<String>) -> Self {
        Self { against: why.into(), ..self }
    }

    /// What was wished for, and whether it came true.
    pub fn goal(self, said: impl Into<String>, holds: bool) -> Self {
        Self { goal: Some((said.into(), holds)), ..self }
    }

    pub const fn is_missed(&self) -> bool {
        matches!(self.goal, Some((_, false)))
    }
}

impl fmt::Display for Line {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let ratio = self.ratio.map_or_else(String::new, rounded);
        let (goal, holds) = match &self.goal {
            Some((said, true)) => (said.as_str(), "yes"),
            Some((said, false)) => (said.as_str(), "NO"),
            None => ("", ""),
        };
        let Self { row, what, figure, against, .. } = self;
        let line = format!("{row:<11} {what:<31} {figure:<31} {against:<41} {ratio:>8}  {goal:<11} {holds}");
        f.write_str(line.trim_end())
    }
}

/// To three figures.
fn rounded(ratio: f64) -> String {
    match ratio.abs() {
        size if size >= 100.0 => format!("{ratio:.0}"),
        size if size >= 10.0 => format!("{ratio:.1}"),
        size if size >= 0.1 => format!("{ratio:.2}"),
        _ => format!("{ratio:.4}"),
    }
}
