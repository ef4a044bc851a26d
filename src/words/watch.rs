//! `watch` in words: its screen, its list and its keys.

/// Nothing can be read at the moment.
pub const NO_READING: &str = "no reading";
/// A servo pushes against something.
pub const BUZZING: &str = "buzzing: back off";
/// The blade moves.
pub const MOVING: &str = "moving";
/// Title of the list of the cells.
pub const SHEET: &str = "The sheet";
/// Title of the list of the steps.
pub const ORDER: &str = "Order of the steps";
/// No line of the list is chosen.
pub const CHOOSE_FIRST: &str = "Choose a line first, with the arrows up and down.";
/// The chosen line cannot go later.
pub const LAST_ALREADY: &str = "It is the last one already.";
/// The chosen line cannot go earlier.
pub const FIRST_ALREADY: &str = "It is the first one already.";
/// Mark of a value that was taken back.
pub const TAKEN_BACK: &str = " (taken back)";
/// What the key of the last capture does.
pub const LAST_WAS_WRONG: &str = "the last one was wrong";
/// The sensor's line is up again.
pub const SENSOR_IS_BACK: &str = "The sensor is back.";
/// A rate that is none.
pub const RATE: &str = "--rate must be more than 0 and at most 1000 updates a second.";

/// The terminal has too few characters: columns and rows that it has, and that are needed.
#[must_use]
pub fn too_small(has: (u16, u16), needs: (u16, u16)) -> String {
    format!(
        "This terminal is too small: it has {} by {} characters, and {} by {} are needed. Make it larger; q ends.",
        has.0, has.1, needs.0, needs.1
    )
}

/// What is wanted: a band or a ceiling, degrees.
#[must_use]
pub fn wanted(value_deg: f64, tolerance_deg: Option<f64>) -> String {
    // As the head's description has it: a degree's last binary digits are nobody's wish.
    let rounded = |degrees: f64| (degrees * 1000.0).round() / 1000.0;
    match tolerance_deg {
        Some(tolerance) => format!("wanted {} ± {}°", rounded(value_deg), rounded(tolerance)),
        None => format!("wanted at most {}°", rounded(value_deg)),
    }
}

/// How long the blade has been still.
#[must_use]
pub fn still_for(seconds: f64) -> String {
    format!("still for {seconds:.1} s")
}

/// Which of several sensors is read, and to which the line is broken.
#[must_use]
pub fn sensors(read: &str, broken: &[&str]) -> String {
    let broken = if broken.is_empty() { String::new() } else { format!(", no line to {}", broken.join(", ")) };
    format!(" reads {read}{broken} ──")
}

/// What could not reach a shared logbook yet.
#[must_use]
pub fn waiting(entries: usize) -> String {
    if entries == 0 { String::new() } else { format!(" {} ──", super::logbook::waiting(entries)) }
}

/// So many names are listed at most.
const NAMED: usize = 8;

/// A setup that is to be closed, and what is open in it, by name.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Unfinished {
    /// Its number.
    pub setup: u32,
    /// Cells and sweeps that it owes.
    pub missing: Vec<String>,
    /// Cells that were left out on purpose.
    pub left_out: Vec<String>,
    /// Cells outside what is wanted.
    pub outside: Vec<String>,
    /// Cells of which nobody can tell.
    pub undecided: Vec<String>,
}

impl Unfinished {
    /// Whether nothing is open.
    #[must_use]
    pub const fn is_nothing(&self) -> bool {
        self.missing.is_empty() && self.left_out.is_empty() && self.outside.is_empty() && self.undecided.is_empty()
    }
}

/// The setup is to be closed, and the same key does it.
#[must_use]
pub fn unfinished(of: &Unfinished) -> String {
    let first = match of.missing.len() {
        0 if of.is_nothing() => "Nothing is missing: press f once more to finish this setup.".to_owned(),
        0 => "Press f once more to finish this setup as it is.".to_owned(),
        1 => "1 is missing: press f once more to finish this setup without.".to_owned(),
        more => format!("{more} are missing: press f once more to finish this setup without."),
    };
    let groups =
        [("Outside", &of.outside), ("Undecided", &of.undecided), ("Missing", &of.missing), ("Left out", &of.left_out)];
    let named = groups.into_iter().filter(|(_, cells)| !cells.is_empty()).map(|(what, cells)| {
        let more = cells.len().saturating_sub(NAMED);
        let more = if more > 0 { format!(" and {more} more") } else { String::new() };
        let names = cells.iter().take(NAMED).map(String::as_str).collect::<Vec<_>>().join(", ");
        format!("{what}: {names}{more}.")
    });
    let reopen = format!("You can reopen it: `clinoblade setup resume {}`.", of.setup);
    std::iter::once(first).chain(named).chain([reopen]).collect::<Vec<_>>().join(" ")
}

/// The line broke, and its sensor is waited for.
#[must_use]
pub fn lost(error: &str) -> String {
    format!("{error} Waiting for it …")
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    /// Everything on the screen of `watch`, a line each.
    pub fn all() -> Vec<String> {
        let mut lines = [
            NO_READING,
            BUZZING,
            MOVING,
            SHEET,
            ORDER,
            CHOOSE_FIRST,
            LAST_ALREADY,
            FIRST_ALREADY,
            TAKEN_BACK,
            LAST_WAS_WRONG,
            SENSOR_IS_BACK,
        ]
        .map(str::to_owned)
        .to_vec();
        lines.push(too_small((50, 12), (78, 20)));
        lines.extend([wanted(0.0, Some(0.5)), wanted(12.000_000_001, None), still_for(2.04)]);
        lines.extend([sensors("A", &[]), sensors("B", &["A", "tail"])]);
        lines.extend([waiting(0), waiting(1), waiting(2)]);
        lines
    }

    #[test]
    fn the_screen_of_watch() {
        let cells: Vec<String> = (1..=10).map(|n| format!("cell {n}")).collect();
        // With a command, for a terminal alone.
        let with = |cells: &[String]| Unfinished { setup: 4, missing: cells.to_vec(), ..Unfinished::default() };
        let missing = [&cells[..0], &cells[..1], &cells[..3], &cells].map(|cells| unfinished(&with(cells)));
        let not_as_wanted = Unfinished {
            left_out: cells[3..4].to_vec(),
            outside: cells[4..5].to_vec(),
            undecided: cells[5..7].to_vec(),
            ..with(&[])
        };
        let both = Unfinished { missing: cells[..2].to_vec(), ..not_as_wanted.clone() };
        let not_as_wanted = [not_as_wanted, both].map(|of| unfinished(&of));
        let more = [RATE.to_owned(), lost("The port is gone")];
        insta::assert_snapshot!([&all()[..], &more, &missing, &not_as_wanted].concat().join("\n"));
    }
}
