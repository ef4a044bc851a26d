//! The layouts of the logbook, one step after the other.
//!
//! A step that has been applied anywhere stays as it is for good: a change is a new step. The number of the last step
//! is the layout's number and stands in the file's header too, so that an older version sees at once that it must
//! keep its hands off.

use sqlx::SqlStr;
use sqlx::migrate::{Migration, MigrationType, Migrator};

/// The newest layout that this version knows.
pub const NEWEST: i64 = 4;

/// Number, name and SQL of each step, in order.
pub type Steps = [(i64, &'static str, &'static str); NEWEST as usize];

/// The steps of an engine, whose SQL lies in a folder: the same in each.
macro_rules! steps {
    ($folder:literal) => {
        [
            (1, "setups", include_str!(concat!($folder, "0001_setups.sql"))),
            (2, "imported", include_str!(concat!($folder, "0002_imported.sql"))),
            (3, "checksums", include_str!(concat!($folder, "0003_checksums.sql"))),
            (4, "columns", include_str!(concat!($folder, "0004_columns.sql"))),
        ]
    };
}

pub(crate) use steps;

/// All steps of an engine, ready to be run.
pub fn ready(steps: Steps) -> Migrator {
    let step = |(number, name, sql): (i64, &'static str, &'static str)| {
        Migration::new(number, name.into(), MigrationType::Simple, SqlStr::from_static(sql), false)
    };
    Migrator::with_migrations(steps.map(step).into())
}
