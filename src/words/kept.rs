//! What becomes of a logbook: a backup, a damaged log, a shared one that says nothing.

use super::logbook::name;
use super::{Face, Say};
use clinoblade_logbook::{Backup, BrokenLog, LogbookError, Part};

/// What is said when a server has not answered for a moment.
pub const ASKING: &str = "Waiting for the shared logbook ...";

/// Work goes on while the shared logbook says nothing, for this reason.
#[must_use]
pub fn goes_on(error: &LogbookError) -> String {
    format!(
        "{}\nGoing on with what this bench knows of the setup: what you record stays here until the shared logbook takes it.",
        error.say(Face::Page)
    )
}

/// A part of a logbook.
#[must_use]
pub fn part(part: Part) -> String {
    name(part)
}

/// A backup was made of the logbook at `place`, and how it is restored.
#[must_use]
pub fn backed_up(backup: &Backup, place: &str) -> String {
    let count = |number: usize, one: &str, many: &str| {
        if number == 1 { format!("1 {one}") } else { format!("{number} {many}") }
    };
    let (setups, entries) = (count(backup.setups, "setup", "setups"), count(backup.entries, "entry", "entries"));
    let file = backup.file.display();
    let replaced = if backup.replaced { ", in place of an earlier backup" } else { "" };
    let mut said = format!(
        "Backed up {setups} with {entries} to '{file}'{replaced}. To restore it, end every clinoblade, move '{place}' away together \
         with the files beside it whose names begin alike, and copy the backup to '{place}'."
    );
    for altered in &backup.altered {
        said += &format!("\nDamaged in the logbook, and so in the backup: {}.", name(*altered));
    }
    said
}

impl Say for BrokenLog {
    fn say(&self, _: Face) -> String {
        let Self { logbook, copy, steps } = self;
        let steps = if *steps == 1 { "1 step".to_owned() } else { format!("{steps} steps") };
        format!(
            "The newest part of the logbook '{}' was damaged on the disk: {steps} behind the damage cannot be read, so the latest \
             entries may be missing. The damaged part is kept in '{}'. Compare `clinoblade setup show` with what you measured, and \
             capture again what is missing.",
            logbook.display(),
            copy.display()
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn work_that_goes_on_a_damaged_log_and_backups() {
        let server = "postgres://workshop:5432/book".to_owned();
        let refused = LogbookError::ServerRefuses { server, source: sqlx::Error::PoolTimedOut };
        let broken = |steps| {
            let (logbook, copy) = ("/bench/club.sqlite".into(), "/bench/club.sqlite.damaged-log-1".into());
            BrokenLog { logbook, copy, steps }.say(Face::Terminal)
        };
        let backup = |setups, replaced, altered| {
            let backup = Backup { file: "/stick/club.sqlite".into(), setups, entries: 14, replaced, altered };
            backed_up(&backup, "/bench/club.sqlite")
        };
        let said = [
            goes_on(&refused),
            broken(1),
            broken(3),
            backup(1, false, Vec::new()),
            backup(2, true, vec![Part::Listed(2), Part::Entry { setup: 2, number: 3 }]),
        ];
        insta::assert_snapshot!(said.join("\n"));
    }
}
