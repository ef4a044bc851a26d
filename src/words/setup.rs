//! The `setup` commands, `export`, `import` and `head`: what was done, what stands in a setup, and what is missing.

use super::{Face, Say, angle, one_line, with_uncertainty};
use clinoblade_logbook::{Imported, SetupDocument, SetupSummary};
use clinoblade_record::trade::Caution;
use clinoblade_record::{
    Amendment, Capture, CellName, Entry, Event, Head, LimitRecord, Reading, Replaced, Setup, Value,
};
use clinoblade_units::Angle;
use std::fmt::Display;
use std::path::Path;

/// Nobody has begun a logbook.
pub const NO_LOGBOOK: &str = "There is no logbook yet. Begin with `clinoblade setup new --head FILE`.";
/// A new setup needs a description of the helicopter.
pub const WHICH_HEAD: &str =
    "Which helicopter? Name its description with `--head FILE`; `clinoblade head new` writes one.";
/// Asked after the cautions.
pub const ALL_HOLD: &str = "Does every line hold?";
/// A value of `--after`.
pub const CRASH_OR_PARTS: &str = "write crash or parts";
/// A value of `--blades`.
pub const ON_OR_OFF: &str = "write on or off";
/// A text that is empty.
pub const WRITE_SOMETHING: &str = "write something";
/// `setup amend` without anything to amend.
pub const AMEND_WHAT: &str =
    "What is to be amended? Name --checked-by, --measured-by, --temperature, --reason, --blades or --cautions-read.";
/// `setup skip` without a note.
pub const SKIP_WHY: &str = "Say why with --because: it stands on the sheet.";
/// `setup withdraw` with nothing left.
pub const NONE_TO_WITHDRAW: &str = "There is nothing to take back.";
/// `--all` with several calibrations.
pub const WHICH_FOR_ALL: &str = "--all needs exactly one --calibration.";

/// Examples of `setup new`.
pub const NEW_HELP: &str = "\
Examples:
  clinoblade setup new --head trainer.toml --reason \"new links\"
  clinoblade setup new --after crash --reason \"tipped over on landing\"
  clinoblade setup new --head trainer.toml --blades off --temperature 19.5 --measured-by \"first bench\"";
/// Examples of `setup resume`.
pub const RESUME_HELP: &str = "\
Examples:
  clinoblade setup resume --temperature 17
  clinoblade setup resume 4 --moved --clip-off";
/// Examples of `setup amend`.
pub const AMEND_HELP: &str = "\
Examples:
  clinoblade setup amend --checked-by \"second bench\"
  clinoblade setup amend 4 --temperature 17 --measured-by \"first bench\"
  clinoblade setup amend --cautions-read

To a closed setup only --checked-by can be added. `clinoblade setup resume` reopens it.";
/// Examples of `setup recompute`.
pub const RECOMPUTE_HELP: &str = "\
Examples:
  clinoblade setup recompute                                     today's filter, the calibrations as they were
  clinoblade setup recompute --calibration bench.toml            and this calibration for the captures that used one of its name
  clinoblade setup recompute --calibration new.toml --all --keep

A calibration replaces the one of its name. If no capture used that name, or with --all, it is used for every capture. The raw
samples never change. Nothing is recorded without --keep.";
/// Examples of `setup withdraw`.
pub const WITHDRAW_HELP: &str = "\
Examples:
  clinoblade setup withdraw                                   the latest capture, adjustment or skip
  clinoblade setup withdraw 12 --because \"the wrong stick\"    entry 12 of `clinoblade setup show`

What an adjustment that is taken back had made out of date holds again. A zero, a spindle check, a cable check and a sweep cannot \
be taken back: set or measure it again, and the newer one counts.";
/// An example of `setup skip`.
pub const SKIP_HELP: &str = "\
Examples:
  clinoblade setup skip rudder right --because \"the tail belt is off\"
  clinoblade setup skip blade B spindle --because \"checked yesterday\"

CELL is named as `clinoblade check` shows it. The record then no longer asks for it and says that it was left out; it is not within \
limits either. A later capture takes its place.";
/// Examples of `export`.
pub const EXPORT_HELP: &str = "\
Examples:
  clinoblade export 4 --out trainer-spring.json
  clinoblade export --schema --out setup.schema.json";
/// What `import` does, with an example.
pub const IMPORT_HELP: &str = "\
Each setup gets the next number of this logbook. Nothing is overwritten: a setup that is already here stays as it is, and a
document that differs from it is refused. Either all files are imported or none.

Example:
  clinoblade import trainer-spring.json trainer-autumn.json";
/// An example of `head new`.
pub const HEAD_NEW_HELP: &str = "Example:\n  clinoblade head new --name \"Workshop trainer\" --out trainer.toml";
/// An example of `head show`.
pub const HEAD_SHOW_HELP: &str = "Example:\n  clinoblade head show trainer.toml";

/// The cautions, to be acknowledged.
#[must_use]
pub fn cautions() -> String {
    let lines = Caution::ALL.iter().map(|caution| format!("\n  [ ] {}", caution.say(Face::Terminal)));
    format!("Before the first stick moves:{}", lines.collect::<String>())
}

/// A setup has begun.
#[must_use]
pub fn begun(setup: &Setup) -> String {
    let unread = if setup.cautions_acknowledged_at.is_none() {
        "\nThe cautions are not acknowledged. Read them before the first stick moves, then: `clinoblade setup amend --cautions-read`"
    } else {
        ""
    };
    format!(
        "Setup {} of {} has begun.{unread}\nNext: `clinoblade datum reversal` or `clinoblade datum gravity`, then `clinoblade \
         capture collective mid` on every blade.",
        setup.number,
        one_line(&setup.head.name)
    )
}

/// What a setup owes that was begun after a crash.
#[must_use]
pub fn owed_after(to_measure: &[String]) -> String {
    format!("To measure:{}", to_measure.iter().map(|line| format!("\n  {line}")).collect::<String>())
}

/// The first line of what is recorded: into which setup, of which helicopter.
#[must_use]
pub fn line(setup: &Setup) -> String {
    setup_line(setup.number, &setup.head.name)
}

/// The same by number and name.
#[must_use]
pub fn setup_line(number: u32, head: &str) -> String {
    format!("Setup {number}, {}", one_line(head))
}

/// A setup is open, and another is to be begun.
#[must_use]
pub fn still_open(setup: &Setup) -> String {
    format!("Setup {} of {} is still open.", setup.number, one_line(&setup.head.name))
}

/// Asked about it.
pub const CLOSE_IT: &str = "Close it and begin another?";

/// Nobody could be asked: `command` is what was typed, without the program's name.
#[must_use]
pub fn close_it_first(matter: &str, command: &str) -> String {
    format!(
        "{matter} Go on with it, or close it: `clinoblade setup close`. To close it and begin another: `clinoblade {command} \
         --close-open`"
    )
}

/// It was closed for another one.
#[must_use]
pub fn closed_for_another(number: u32) -> String {
    format!("Setup {number} closed. Reopen: `clinoblade setup resume {number}`")
}

/// A line of the list of setups.
#[must_use]
pub fn listed(setup: &SetupSummary, taken_up: bool) -> String {
    format!(
        "{:>5}  {}  {:<24} {:>3} captures  {}  {}",
        setup.number,
        setup.started_at.strftime("%Y-%m-%d %H:%M UTC"),
        one_line(&setup.head),
        setup.captures,
        match (setup.closed_at, setup.imported_at) {
            (Some(_), None) => "closed          ",
            (Some(_), Some(_)) => "closed, imported",
            (None, None) => "open            ",
            // Commands work on one that came from elsewhere only once it was taken up again.
            (None, Some(_)) if taken_up => "open, imported  ",
            (None, Some(_)) => "imported        ",
        },
        one_line(&setup.reason)
    )
}

/// The list of setups.
#[must_use]
pub fn list(lines: &[String]) -> String {
    if lines.is_empty() {
        "There are no setups yet. Begin one with `clinoblade setup new --head FILE`.".to_owned()
    } else {
        lines.join("\n")
    }
}

/// Everything that happened in a setup.
#[must_use]
pub fn happened(setup: &Setup, entries: &[Entry]) -> String {
    let entry = |(number, entry): (usize, &Entry)| {
        format!("\n{number:>4}  {}  {}", entry.at.strftime("%Y-%m-%d %H:%M:%S UTC"), event(&entry.event, entries))
    };
    let entries: String = (1..).zip(entries).map(entry).collect();
    let edited = if setup.edited { format!("\n{EDITED}") } else { String::new() };
    let amended: String = setup.amendments.iter().map(|one| format!("\n      {}", amendment(one))).collect();
    format!("Setup {} of {}{edited}{entries}{amended}", setup.number, one_line(&setup.head.name))
}

/// A setup that came from a document without all its checksums.
pub const EDITED: &str =
    "Imported from a document without checksums: it may have been edited, or an earlier version has written it.";

/// What an amendment has replaced.
fn amendment(Amendment { at, replaced }: &Amendment) -> String {
    let said = match replaced {
        Replaced::CheckedBy(who) => format!("checked by {}", one_line(who)),
        Replaced::MeasuredBy(who) => format!("measured by {}", one_line(who)),
        Replaced::Temperature(celsius) => format!("temperature {} °C", celsius.value()),
        Replaced::Reason(reason) => format!("reason {}", one_line(reason)),
        Replaced::Blades(blades) => format!("blades {blades}"),
    };
    format!("{}  until then: {said}", at.strftime("%Y-%m-%d %H:%M:%S UTC"))
}

fn event(event: &Event, entries: &[Entry]) -> String {
    match event {
        Event::Capture(capture) => format!("{}: {}", capture.subject, reading(&capture.reading)),
        Event::Adjustment { adjustment, note: None } => format!("turned: {adjustment}"),
        Event::Adjustment { adjustment, note: Some(note) } => format!("turned: {adjustment} ({})", one_line(note)),
        Event::Datum { datum } => format!("zero set: {}", datum.kind()),
        Event::Resumed { note, .. } => format!("resumed: {}", one_line(note)),
        Event::Recomputed { note, captures } => {
            format!("recalculated: {} captures, {}", captures.len(), one_line(note))
        }
        Event::Spindle { check } => {
            let slopes = check.turned().map(|(turned, slope)| format!("{} at {turned}°", angle(slope, 2)));
            format!("spindle of blade {}: span slope {}", check.blade, slopes.collect::<Vec<_>>().join(", "))
        }
        Event::Skipped { cell, reason } => format!("skipped: {cell} ({})", one_line(reason)),
        Event::Cable { check } => format!("cable on blade {}: pulls by {}", check.blade, angle(check.pull(), 2)),
        Event::Swept { sweep } => {
            let reached = sweep.ends.iter().map(|end| format!("{} {}", end.deflection, angle(end.reached(), 1)));
            format!("sweep: {}", reached.collect::<Vec<_>>().join(", "))
        }
        Event::Withdrawn { capture, reason } => {
            let reason = one_line(reason);
            match entries.iter().find(|entry| entry.id == *capture).map(|entry| &entry.event) {
                Some(Event::Adjustment { adjustment, .. }) => format!("taken back: {adjustment} ({reason})"),
                Some(Event::Skipped { cell, .. }) => format!("no longer skipped: {cell} ({reason})"),
                _ => format!("capture taken back: {reason}"),
            }
        }
    }
}

/// A reading with its uncertainty.
fn reading(reading: &Reading) -> String {
    with_uncertainty(reading.angle, reading.budget.expanded().expanded)
}

/// A setup is taken up again, and what still holds.
#[must_use]
pub fn resumed(setup: &Setup, findings: &[String]) -> String {
    format!("Setup {} of {} is open again.\n{}", setup.number, one_line(&setup.head.name), findings.join("\n"))
}

/// An entry that cannot be taken back.
#[must_use]
pub fn not_a_capture(entry: usize) -> String {
    format!(
        "Entry {entry} is no capture, adjustment or skip, or was already taken back. `clinoblade setup show` lists the entries."
    )
}

/// A capture was taken back.
#[must_use]
pub fn withdrawn(subject: impl Display, outcome: &str) -> String {
    format!("Taken back: {subject}. {outcome}")
}

/// A cell that the record does not have.
#[must_use]
pub fn no_cell(cell: CellName) -> String {
    format!("{cell} is not in this record. Name a cell as `clinoblade check` shows it.")
}

/// A cell that the record does not ask for, or that holds a value.
#[must_use]
pub fn not_owed(cell: CellName) -> String {
    format!("The record does not wait for {cell}: it holds a value, or nobody has to measure it.")
}

/// A cell was left out.
#[must_use]
pub fn skipped(cell: CellName, note: &str, outcome: &str) -> String {
    format!("Skipped: {cell} ({}). {outcome}", one_line(note))
}

/// A setup is closed.
#[must_use]
pub fn closed(number: u32, outcome: &str) -> String {
    format!("Setup {number} closed. {outcome} Reopen: `clinoblade setup resume {number}`")
}

/// What was amended: its name, before and after.
#[must_use]
pub fn amended<'a>(
    setup: &Setup,
    changes: impl IntoIterator<Item = (&'a str, Option<&'a str>, Option<&'a str>)>,
) -> String {
    let line = |(what, before, after): (&str, Option<&str>, Option<&str>)| {
        let before = before.map(|before| format!(" (before: {})", one_line(before))).unwrap_or_default();
        format!("\n  {what}: {}{before}", after.map_or("nothing".into(), one_line))
    };
    let lines: String = changes.into_iter().map(line).collect();
    let what = if lines.is_empty() { "already says so. Nothing was changed." } else { "now says" };
    format!("Setup {} of {} {what}{lines}", setup.number, one_line(&setup.head.name))
}

/// A setup was written to a file.
#[must_use]
pub fn exported(document: &SetupDocument, path: &Path) -> String {
    let SetupDocument { setup, entries, .. } = document;
    let path = path.display();
    format!(
        "Setup {} of {} is in {path}: {} entries, {} of them with raw samples. To import it: `clinoblade import {path}`",
        setup.number,
        one_line(&setup.head.name),
        entries.len(),
        entries.iter().filter(|one| one.raw_samples.is_some()).count(),
    )
}

/// The schema of exported setups was written to a file.
#[must_use]
pub fn schema_written(path: &Path) -> String {
    format!("The JSON Schema of exported setups is in {}.", path.display())
}

/// A file was imported.
#[must_use]
pub fn imported(file: &Path, Imported { setup, head, entries, was_here, edited, .. }: &Imported) -> String {
    let file = file.display();
    if *was_here {
        format!("{file}: already here as setup {setup} of {head}. Nothing was changed.")
    } else {
        let edited = if *edited { " It lacks checksums, so the record says that it may have been edited." } else { "" };
        format!(
            "{file}: now setup {setup} of {head}, {entries} entries.{edited} To measure on: `clinoblade setup resume {setup}`"
        )
    }
}

/// A description of a helicopter was written.
#[must_use]
pub fn head_written(path: &Path) -> String {
    let path = path.display();
    format!("Wrote {path}. Fill it in, then: `clinoblade setup new --head {path}`")
}

/// What a description of a helicopter means.
#[must_use]
pub fn head(head: &Head) -> String {
    let cells = LimitRecord::new(head, &[]).cells;
    let cells = cells.iter().map(|cell| format!("\n  {:<16} {}", cell.name, cell.target));
    format!(
        "{}: {} blades, {} seen from above\npitch arm {}, link thread pitch {}{}",
        one_line(&head.name),
        head.blades.get(),
        head.rotation,
        head.link.pitch_arm(),
        head.link.thread.pitch(),
        cells.collect::<String>()
    )
}

/// A file that holds no datum.
#[must_use]
pub fn not_a_datum(path: &Path, why: impl Display) -> String {
    let path = path.display();
    format!("{path} is not a datum: {why}. To write one: `clinoblade datum reversal --json > {path}`")
}

/// A calibration that a capture used and nobody has named.
#[must_use]
pub fn no_calibration(name: &str) -> String {
    format!("its calibration '{name}' is missing. Name its file with --calibration, or another with --all.")
}

/// With what captures were recalculated, as the logbook keeps it.
#[must_use]
pub fn recomputed_with(version: &str, calibrations: &[&str]) -> String {
    let filter = format!("filter of version {version}");
    if calibrations.is_empty() { filter } else { format!("{filter}, calibration {}", calibrations.join(", ")) }
}

/// A capture, or a cell, recalculated: its name, old, new, how far it moved, and a remark.
#[derive(Debug, Clone)]
pub struct Moved {
    /// Its name.
    pub name: String,
    /// As it was.
    pub old: String,
    /// As it is now, and how far it moved; or why there is no new value.
    pub new: Result<(String, Angle), String>,
    /// What else there is to say.
    pub remark: String,
}

impl Moved {
    /// A capture.
    #[must_use]
    pub fn capture(old: &Capture, new: Result<(&Capture, Angle), String>) -> Self {
        let new = new.map(|(new, moved)| (reading(&new.reading), moved));
        Self { name: old.subject.to_string(), old: reading(&old.reading), new, remark: String::new() }
    }

    /// A cell, with its verdicts.
    #[must_use]
    pub fn cell(name: impl Display, (old, new): (&Value, &Value), moved: Angle, verdicts: (&str, &str)) -> Self {
        let figure = |value: &Value| with_uncertainty(value.angle, value.expanded);
        let remark = match verdicts {
            (old, new) if old == new => old.to_owned(),
            (old, new) => format!("{old}, now {new}"),
        };
        Self { name: name.to_string(), old: figure(old), new: Ok((figure(new), moved)), remark }
    }

    fn line(&self) -> String {
        let Self { name, old, new, remark } = self;
        let line = match new {
            Ok((new, moved)) => format!("{name:<34} {old:>17} {new:>17} {:>9}  {remark}", angle(*moved, 3)),
            Err(why) => format!("{name:<34} {old:>17} unchanged: {why}"),
        };
        line.trim_end().to_owned()
    }
}

/// Captures and cells before and after; whether old and new calibration are mixed, and whether it was recorded.
#[must_use]
pub fn recomputed(captures: &[Moved], cells: &[Moved], mixes: bool, kept: bool) -> String {
    if captures.is_empty() {
        return "This setup has no captures to recalculate.".to_owned();
    }
    let table = |of: &str, rows: &[Moved]| {
        let head = format!("{of:<34} {:>17} {:>17} {:>9}", "old", "new", "moved");
        std::iter::once(head).chain(rows.iter().map(Moved::line)).collect::<Vec<_>>().join("\n")
    };
    let mixed = if mixes {
        "\nThe zero was read with the old calibration, so absolute angles mix the two; travels and splits do not. Set the zero \
         again if you need absolute angles."
    } else {
        ""
    };
    let kept = if kept {
        "The new readings are recorded and count from now on. The raw samples are unchanged."
    } else {
        "Nothing was recorded. Add --keep to record the new readings."
    };
    format!("{}\n\n{}{mixed}\n{kept}", table("capture", captures), table("cell", cells))
}

#[cfg(test)]
#[path = "setup_tests.rs"]
mod tests;
