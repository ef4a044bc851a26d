//! The helicopters that are known: descriptions that were kept, and heads of setups in the logbook.

use super::{Equipment, WorkshopError, head_file};
use crate::SetupHandle;
use crate::logbook::{Logbook, SetupSummary};
use crate::record::Head;
use crate::words::record::outcome;
use jiff::Timestamp;
use serde::Serialize;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// So many helicopters are shown with their last setup.
const MOST: usize = 100;

/// A helicopter.
#[derive(Debug, Clone, Serialize)]
pub struct Helicopter {
    /// What it is called.
    pub name: String,
    /// How many setups it has.
    pub setups: usize,
    /// The last one.
    pub last: Option<LastSetup>,
}

/// The last setup of a helicopter.
#[derive(Debug, Clone, Serialize)]
pub struct LastSetup {
    /// Its number.
    pub number: u32,
    /// When it was begun.
    pub started_at: Timestamp,
    /// Whether it is closed.
    pub closed: bool,
    /// Cells that hold a value.
    pub done: usize,
    /// Cells that are owed.
    pub owed: usize,
    /// Whether none is missing.
    pub complete: bool,
    /// Whether every one is as wanted.
    pub good: bool,
    /// The same in words.
    pub said: String,
}

/// Heads by their names.
#[derive(Debug, Default)]
pub struct Heads {
    found: BTreeMap<String, (Head, Option<PathBuf>)>,
    setups: Vec<SetupSummary>,
}

impl Heads {
    /// Those that were kept, and those of the logbook's setups.
    ///
    /// # Errors
    /// When the logbook cannot be read.
    pub async fn of(equipment: &dyn Equipment, logbook: Option<&Logbook>) -> Result<Self, WorkshopError> {
        let mut heads = Self::default();
        if let Some(folder) = equipment.heads() {
            heads.read(&folder);
        }
        if let Some(logbook) = logbook {
            heads.setups = logbook.setups(None, 10_000).await?;
            let mut unknown: Vec<&SetupSummary> = Vec::new();
            for setup in &heads.setups {
                let is_known =
                    heads.found.contains_key(&setup.head) || unknown.iter().any(|one| one.head == setup.head);
                if !is_known && unknown.len() < MOST {
                    unknown.push(setup);
                }
            }
            let mut read = Vec::new();
            for setup in unknown {
                read.push(logbook.setup(setup.number).await?.head);
            }
            heads.found.extend(read.into_iter().map(|head| (head.name.clone(), (head, None))));
        }
        Ok(heads)
    }

    /// One that cannot be read is none: who wrote it is told when it is used in a command.
    fn read(&mut self, folder: &Path) {
        let Ok(files) = std::fs::read_dir(folder) else { return };
        for file in
            files.flatten().map(|entry| entry.path()).filter(|path| path.extension().is_some_and(|e| e == "toml"))
        {
            if let Some(head) = std::fs::read_to_string(&file).ok().and_then(|text| Head::from_toml(&text).ok()) {
                self.found.insert(head.name.clone(), (head, Some(file)));
            }
        }
    }

    /// The head of this name.
    #[must_use]
    pub fn head(&self, name: &str) -> Option<&Head> {
        self.found.get(name).map(|(head, _)| head)
    }

    /// The file of its description, where it has one.
    #[must_use]
    pub fn file(&self, name: &str) -> Option<&Path> {
        self.found.get(name)?.1.as_deref()
    }

    /// Every name.
    #[must_use]
    pub fn names(&self) -> Vec<&str> {
        self.found.keys().map(String::as_str).collect()
    }

    /// Every helicopter with its last setup: the ones that were set up last first, then those that never were.
    ///
    /// # Errors
    /// When the logbook cannot be read.
    pub async fn list(&self, logbook: Option<&Logbook>) -> Result<Vec<Helicopter>, WorkshopError> {
        let mut list = Vec::new();
        for name in self.found.keys().take(MOST) {
            let mut of_it = self.setups.iter().filter(|setup| setup.head == *name);
            let newest = of_it.next();
            let last = match (newest, logbook) {
                (Some(newest), Some(logbook)) => {
                    Some(LastSetup::of(&SetupHandle::find(logbook.clone(), Some(newest.number)).await?))
                }
                _ => None,
            };
            let setups = usize::from(newest.is_some()) + of_it.count();
            list.push(Helicopter { name: name.clone(), setups, last });
        }
        let newest = |one: &Helicopter| std::cmp::Reverse(one.last.as_ref().map(|last| last.number));
        list.sort_by_key(newest);
        Ok(list)
    }
}

impl LastSetup {
    /// How a setup stands.
    #[must_use]
    pub fn of(open: &SetupHandle) -> Self {
        let record = open.record();
        let owed = || record.cells.iter().filter(|cell| cell.is_owed());
        Self {
            number: open.setup().number,
            started_at: open.setup().started_at,
            closed: open.setup().closed_at.is_some(),
            done: owed().filter(|cell| cell.verdict.is_captured()).count(),
            owed: owed().count(),
            complete: record.complete,
            good: record.good,
            said: outcome(&record),
        }
    }
}

/// Keeps a description, in place of the one of the same name.
pub(super) fn keep(equipment: &dyn Equipment, head: &Head) -> Result<PathBuf, WorkshopError> {
    let folder = equipment.heads().ok_or(WorkshopError::NoLogbook)?;
    std::fs::create_dir_all(&folder)?;
    let text = head.to_toml().map_err(std::io::Error::other)?;
    let mut file = head_file(&folder, head);
    // Two names may come to one file: neither takes the other's place.
    let mut next = 2;
    while std::fs::read_to_string(&file)
        .ok()
        .and_then(|text| Head::from_toml(&text).ok())
        .is_some_and(|there| there.name != head.name)
    {
        file = folder.join(format!("{}-{next}.toml", super::slug(&head.name)));
        next += 1;
    }
    super::written::over(&file, &text)?;
    Ok(file)
}
