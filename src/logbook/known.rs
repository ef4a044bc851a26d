//! What this bench knows of a shared logbook: the setups that it works on, and what it has saved there. While the server gives
//! no answer, work goes on with that.
//!
//! It lies in a folder beside what waits, a file a setup and one for what is saved, each with a checksum. Nothing in it is the
//! only place of anything: a file that cannot be read or written is as good as none.

use super::location::own_folder;
use super::outbox::{first_line, folder_name, write_whole};
use super::{KeptSetup, LogbookError, document};
use crate::record::{Entry, Setup};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fs;
use std::path::PathBuf;

const FOLDER: &str = "known";
const SAVED: &str = "saved.json";

/// A setup with its entries, as far as they are known.
#[derive(Serialize, Deserialize)]
struct KnownSetup {
    setup: Setup,
    entries: Vec<Entry>,
}

/// What is known of one shared logbook.
#[derive(Debug, Clone)]
pub(super) struct Known {
    folder: PathBuf,
}

impl Known {
    /// Of the logbook at this address.
    pub fn of(address: &str) -> Result<Self, LogbookError> {
        Ok(Self { folder: own_folder()?.join(FOLDER).join(folder_name(address)) })
    }

    /// Whether this bench has ever worked with it.
    pub fn is_any(&self) -> bool {
        self.read::<BTreeMap<String, String>>(SAVED).is_some()
    }

    /// A setup as it was when it was seen last.
    pub fn setup(&self, number: u32) -> Option<KeptSetup> {
        let KnownSetup { setup, entries } = self.read(&name(number))?;
        (setup.number == number).then_some(KeptSetup { setup, entries })
    }

    /// Remembers a setup while it is open.
    pub fn remember(&self, kept: &KeptSetup) {
        let name = name(kept.setup.number);
        if kept.setup.closed_at.is_some() {
            let _ = fs::remove_file(self.folder.join(name));
        } else if self.setup(kept.setup.number).as_ref() != Some(kept) {
            let (setup, entries) = (kept.setup.clone(), kept.entries.clone());
            self.write(&name, &KnownSetup { setup, entries });
        }
    }

    /// The same of one more entry, where the setup is known.
    pub fn add(&self, setup: u32, entry: &Entry) {
        if let Some(mut kept) = self.setup(setup)
            && kept.entries.iter().all(|known| known.id != entry.id)
        {
            kept.entries.push(entry.clone());
            self.remember(&kept);
        }
    }

    /// What was saved under a name.
    pub fn saved(&self, name: &str) -> Option<String> {
        self.read::<BTreeMap<String, String>>(SAVED)?.remove(name)
    }

    /// Remembers what is saved under a name.
    pub fn remember_saved(&self, name: &str, value: Option<&str>) {
        let known = self.read::<BTreeMap<String, String>>(SAVED);
        let mut saved = known.clone().unwrap_or_default();
        match value {
            Some(value) => drop(saved.insert(name.to_owned(), value.to_owned())),
            None => drop(saved.remove(name)),
        }
        if known.as_ref() != Some(&saved) {
            self.write(SAVED, &saved);
        }
    }

    fn read<T: DeserializeOwned>(&self, name: &str) -> Option<T> {
        let bytes = fs::read(self.folder.join(name)).ok()?;
        let (seal, content) = first_line(&bytes).ok()?;
        let seal: i64 = std::str::from_utf8(seal).ok()?.parse().ok()?;
        (seal == document::checksum(content)).then(|| serde_json::from_slice(content).ok())?
    }

    fn write<T: Serialize>(&self, name: &str, thing: &T) {
        let Ok(content) = serde_json::to_vec(thing) else { return };
        let seal = format!("{}\n", document::checksum(&content));
        let bytes = [seal.as_bytes(), &content].concat();
        if let Err(error) = write_whole(&self.folder, &self.folder.join(name), &bytes) {
            tracing::info!("not remembered: {error}");
        }
    }
}

fn name(setup: u32) -> String {
    format!("setup-{setup}.json")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::{Adjustment, Blades, Event, Head};
    use jiff::Timestamp;
    use uuid::Uuid;

    fn entry() -> Entry {
        let adjustment: Adjustment = "link B, +1 half-turn".parse().unwrap();
        Entry { id: Uuid::now_v7(), at: Timestamp::UNIX_EPOCH, event: Event::Adjustment { adjustment, note: None } }
    }

    fn setup(number: u32) -> Setup {
        Setup {
            id: Uuid::now_v7(),
            number,
            head: Head::from_toml(&Head::template("Trainer")).unwrap(),
            started_at: Timestamp::UNIX_EPOCH,
            closed_at: None,
            reason: "new links".to_owned(),
            blades: Blades::On,
            temperature: None,
            measured_by: None,
            checked_by: None,
            cautions_acknowledged_at: None,
            amendments: Vec::new(),
            edited: false,
        }
    }

    #[test]
    fn what_was_seen_is_known_until_the_setup_is_closed() {
        let folder = tempfile::tempdir().unwrap();
        let known = Known { folder: folder.path().join("of a server") };
        assert!(!known.is_any() && known.setup(4).is_none());
        known.remember_saved("source", None);
        assert!(known.is_any());
        known.remember_saved("source", Some("a port"));
        assert_eq!(known.saved("source").as_deref(), Some("a port"));
        known.add(4, &entry());
        assert!(known.setup(4).is_none(), "an entry alone is no setup");
        let mut kept = KeptSetup { setup: setup(4), entries: vec![entry()] };
        known.remember(&kept);
        let second = entry();
        known.add(4, &second);
        known.add(4, &second);
        kept.entries.push(second);
        assert_eq!(known.setup(4), Some(kept.clone()));
        kept.setup.closed_at = Some(Timestamp::UNIX_EPOCH);
        known.remember(&kept);
        assert_eq!(known.setup(4), None);
    }

    #[test]
    fn what_the_disk_has_changed_is_not_known() {
        let folder = tempfile::tempdir().unwrap();
        let known = Known { folder: folder.path().to_owned() };
        known.remember(&KeptSetup { setup: setup(4), entries: Vec::new() });
        let file = folder.path().join(name(4));
        let text = fs::read_to_string(&file).unwrap();
        fs::write(&file, text.replace("new links", "old links")).unwrap();
        assert_eq!(known.setup(4), None);
        fs::write(&file, text).unwrap();
        assert!(known.setup(4).is_some());
    }
}
