//! What is used when nothing is said: defaults that the user has saved.

use super::store::{Query, Write};
use super::{Logbook, LogbookError};

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
    /// The sensor's own floor, as its health check found it: no mean is better.
    Floor,
    /// The sensor's own error, as its last reversal found it.
    Reversal,
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
            Self::Floor => "floor",
            Self::Reversal => "reversal",
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
        let name = self.name_here(which);
        let found = self.store.row::<(String,)>(Query::new(READ).with(name.as_str())).await;
        match (found, &self.known) {
            (Ok(found), known) => {
                let value = found.map(|(value,)| value);
                if let Some(known) = known {
                    known.remember_saved(&name, value.as_deref());
                }
                Ok(value)
            }
            (Err(error), Some(known)) if error.is_the_servers() && known.is_any() => Ok(known.saved(&name)),
            (Err(error), _) => Err(error),
        }
    }

    /// Saves a default in place of the one before; with `None` there is none any more.
    ///
    /// # Errors
    /// When the logbook cannot be written.
    pub async fn save(&self, which: SavedDefault, value: Option<&str>) -> Result<(), LogbookError> {
        let mut write = self.store.begin().await?;
        self.write_default(&mut write, which, value).await?;
        write.commit().await?;
        self.remember_default(which, value);
        Ok(())
    }

    /// Remembers on this bench what a shared logbook has on its disk.
    pub(super) fn remember_default(&self, which: SavedDefault, value: Option<&str>) {
        if let Some(known) = &self.known {
            known.remember_saved(&self.name_here(which), value);
        }
    }

    /// The same as part of a larger write.
    pub(super) async fn write_default(
        &self,
        write: &mut Write,
        which: SavedDefault,
        value: Option<&str>,
    ) -> Result<(), LogbookError> {
        let query = match value {
            Some(value) => Query::new(WRITE).with(self.name_here(which)).with(value),
            None => Query::new(FORGET).with(self.name_here(which)),
        };
        write.execute(query).await.map(|_| ())
    }

    /// The name under which a default is kept. In a shared logbook each bench has its own: a sensor's port, and the
    /// setup that is being measured, are matters of one bench.
    fn name_here(&self, which: SavedDefault) -> String {
        if self.is_shared() { format!("{} of {}", which.name(), super::bench_name()) } else { which.name().to_owned() }
    }
}
