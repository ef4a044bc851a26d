//! The layouts of the logbook, one step after the other.
//!
//! A step that has been applied anywhere stays as it is for good: a change is a new step. The number of the last step
//! is the layout's number and stands in the file's header too, so that an older version sees at once that it must
//! keep its hands off.

use sqlx::SqlStr;
use sqlx::migrate::{Migration, MigrationType, Migrator};

/// Number, name and SQL of each step, in order.
const SQLITE: [(i64, &str, &str); 3] = [
    (1, "setups", include_str!("sqlite/0001_setups.sql")),
    (2, "imported", include_str!("sqlite/0002_imported.sql")),
    (3, "checksums", include_str!("sqlite/0003_checksums.sql")),
];

/// The same for a shared logbook: the same tables in the same steps.
#[cfg(feature = "shared")]
const POSTGRES: [(i64, &str, &str); SQLITE.len()] = [
    (1, "setups", include_str!("postgres/0001_setups.sql")),
    (2, "imported", include_str!("postgres/0002_imported.sql")),
    (3, "checksums", include_str!("postgres/0003_checksums.sql")),
];

/// The newest layout that this version knows.
pub(super) const NEWEST: i64 = SQLITE[SQLITE.len() - 1].0;

/// All steps of a file, ready to be run.
pub(super) fn sqlite() -> Migrator {
    Migrator::with_migrations(SQLITE.map(step).into())
}

/// All steps of a shared logbook, ready to be run.
#[cfg(feature = "shared")]
pub(super) fn postgres() -> Migrator {
    Migrator::with_migrations(POSTGRES.map(step).into())
}

fn step((number, name, sql): (i64, &'static str, &'static str)) -> Migration {
    Migration::new(number, name.into(), MigrationType::Simple, SqlStr::from_static(sql), false)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_steps_are_numbered_one_after_the_other() {
        let both = [
            sqlite(),
            #[cfg(feature = "shared")]
            postgres(),
        ];
        for steps in both {
            let numbers: Vec<i64> = steps.iter().map(|step| step.version).collect();
            assert_eq!(numbers, (1..=NEWEST).collect::<Vec<_>>());
        }
    }
}
