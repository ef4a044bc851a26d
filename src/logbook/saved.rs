//! What is used when nothing is said: defaults that the user has saved.

use super::{Logbook, LogbookError};
use sqlx::{Sqlite, Transaction};

/// A default that can be saved. Its value is text, in the words in which the command line takes it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum SavedDefault {
    /// Where the samples come from.
    Source,
    /// The sensor's profile.
    Profile,
    /// The sensor's calibration.
    Calibration,
    /// What a re-seat study found of the clip.
    Reseat,
    /// The head description that a new setup takes.
    Head,
    /// The setup that commands work on, where it is not simply the newest open one.
    Setup,
}

impl SavedDefault {
    const fn name(self) -> &'static str {
        match self {
            Self::Source => "source",
            Self::Profile => "profile",
            Self::Calibration => "calibration",
            Self::Reseat => "reseat",
            Self::Head => "head",
            Self::Setup => "setup",
        }
    }
}

const READ: &str = "SELECT value FROM saved_defaults WHERE name = $1";
const WRITE: &str = "INSERT INTO saved_defaults (name, value) VALUES ($1, $2)
                     ON CONFLICT (name) DO UPDATE SET value = excluded.value";
const FORGET: &str = "DELETE FROM saved_defaults WHERE name = $1";

impl Logbook {
    /// The saved default, if there is one.
    ///
    /// # Errors
    /// When the logbook cannot be read.
    pub async fn saved(&self, which: SavedDefault) -> Result<Option<String>, LogbookError> {
        let value = sqlx::query_scalar(READ).bind(which.name()).fetch_optional(self.store.pool());
        self.store.ask(value).await
    }

    /// Saves a default in place of the one before; with `None` there is none any more.
    ///
    /// # Errors
    /// When the logbook cannot be written.
    pub async fn save(&self, which: SavedDefault, value: Option<&str>) -> Result<(), LogbookError> {
        let mut write = self.store.begin().await?;
        self.write_default(&mut write, which, value).await?;
        self.store.commit(write).await
    }

    /// The same as part of a larger write.
    pub(super) async fn write_default(
        &self,
        write: &mut Transaction<'_, Sqlite>,
        which: SavedDefault,
        value: Option<&str>,
    ) -> Result<(), LogbookError> {
        let query = match value {
            Some(value) => sqlx::query(WRITE).bind(which.name()).bind(value),
            None => sqlx::query(FORGET).bind(which.name()),
        };
        self.store.ask(query.execute(&mut **write)).await.map(|_| ())
    }
}
