//! A copy of a logbook file, made while it is in use.
//!
//! SQLite writes the copy itself (`VACUUM INTO`), from one look at everything that is committed: programs that have the logbook
//! open go on meanwhile. The copy is a whole logbook with a mark that says what it is. It is written beside its place, held
//! against its checksums, brought to the disk and moved there.
//!
//! Nothing is ever lost by a backup: a file that is there goes only when it is an earlier backup, and this logbook holds all that
//! stands in it.

use super::columns::{self, columns};
use super::inspect::{Found, beside, inspect, open_untouched};
use super::store::{FileStore, Store, result_code};
use super::{Damage, Logbook, LogbookError, Part, document, folders};
use jiff::Timestamp;
use serde::Serialize;
use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection, SqliteJournalMode, SqliteSynchronous};
use sqlx::{ConnectOptions, Connection};
use std::collections::HashSet;
use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

/// The name under which a backup says when it was made; no saved default has it.
const MARK: &str = "backup";
const MARKED: &str = "SELECT value FROM saved_defaults WHERE name = $1";
const SET_MARK: &str = "INSERT INTO saved_defaults (name, value) VALUES ($1, $2)
                        ON CONFLICT (name) DO UPDATE SET value = excluded.value";
const UIDS: &str = "SELECT uid FROM setups UNION ALL SELECT uid FROM entries";
const LIST: &str = concat!("SELECT ", columns!(), " FROM setups ORDER BY number");
const SETUP: &str = "SELECT document, checksum FROM setups WHERE number = $1";
const ENTRIES: &str =
    "SELECT entries.number, entries.uid, entries.document, entries.checksum, raw_samples.samples, raw_samples.checksum
     FROM entries LEFT JOIN raw_samples ON raw_samples.setup = entries.setup AND raw_samples.entry = entries.number
     WHERE entries.setup = $1 ORDER BY entries.number";

/// An entry's number, id and document, and its samples, each with its checksum.
type Row = (i64, String, String, Option<i64>, Option<Vec<u8>>, Option<i64>);

/// A backup that was made.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Backup {
    /// Its file.
    pub file: PathBuf,
    /// How many setups it holds.
    pub setups: usize,
    /// How many entries they have together.
    pub entries: usize,
    /// An earlier backup stood there.
    pub replaced: bool,
    /// What is not as it was recorded, in the logbook as in the backup.
    #[serde(skip)]
    pub altered: Vec<Part>,
}

impl Logbook {
    /// Copies the logbook to a file, as it stands now.
    ///
    /// # Errors
    /// When it is a shared logbook, when something else than an earlier backup of it is there, when the copy cannot be written,
    /// or when it would replace an earlier one and something in the logbook is damaged.
    pub async fn back_up(&self, to: &Path, now: Timestamp) -> Result<Backup, LogbookError> {
        let store = match &self.store {
            Store::File(store) => store,
            #[cfg(feature = "shared")]
            Store::Shared(_) => return Err(LogbookError::KeptByServer(self.place())),
        };
        let place = std::path::absolute(to).map_err(|error| LogbookError::from_io(to, error))?;
        let replaced = is_replaced(&place, store).await?;
        let part = beside(&place, &format!(".{}.part", std::process::id()));
        let made = async {
            let (setups, entries, altered) = copy(store, &part, now).await?;
            match altered.first() {
                Some(&part) if replaced => return Err(LogbookError::Altered(part)),
                _ => {}
            }
            let kept = File::open(&part).and_then(|file| file.sync_all()).and_then(|()| fs::rename(&part, &place));
            kept.and_then(|()| folders::keep_names(place.parent().unwrap_or(Path::new("."))))
                .map_err(|error| LogbookError::from_io(&place, error))?;
            Ok(Backup { file: place.clone(), setups, entries, replaced, altered })
        };
        let made = made.await;
        if made.is_err() {
            for suffix in ["", "-journal"] {
                let _ = fs::remove_file(beside(&part, suffix));
            }
        }
        made
    }
}

/// Whether something is at the place that may go.
async fn is_replaced(place: &Path, store: &FileStore) -> Result<bool, LogbookError> {
    let occupied = || LogbookError::NotABackup(place.to_owned());
    match fs::metadata(place) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(false),
        Err(error) => return Err(LogbookError::from_io(place, error)),
        Ok(found) if found.is_dir() => return Err(LogbookError::IsFolder(place.to_owned())),
        Ok(_) => {}
    }
    let is_own = fs::canonicalize(place).is_ok_and(|place| place == store.path());
    if is_own || beside(place, "-wal").exists() {
        return Err(occupied());
    }
    match inspect(place).await {
        Ok(Found::Logbook) => {}
        // A file without any content.
        Ok(Found::Blank | Found::Nothing) => return Ok(true),
        Err(_) => return Err(occupied()),
    }
    let failed = |_| occupied();
    let mut there = open_untouched(place, false).await.map_err(failed)?;
    let mark = sqlx::query_as::<_, (String,)>(MARKED).bind(MARK).fetch_optional(&mut there).await.map_err(failed)?;
    let old: Vec<(String,)> = sqlx::query_as(UIDS).fetch_all(&mut there).await.map_err(failed)?;
    let _ = there.close().await;
    let here =
        sqlx::query_as::<_, (String,)>(UIDS).fetch_all(store.pool()).await.map_err(|error| store.error(error))?;
    let here: HashSet<String> = here.into_iter().map(|(id,)| id).collect();
    if mark.is_some() && old.iter().all(|(id,)| here.contains(id)) { Ok(true) } else { Err(occupied()) }
}

/// Writes the copy with its mark: how many setups and entries it holds, and what in it is not as it was recorded.
async fn copy(store: &FileStore, to: &Path, now: Timestamp) -> Result<(usize, usize, Vec<Part>), LogbookError> {
    let failed = |error| result_code::error(to, error);
    // Nobody else may read it; SQLite fills an empty file.
    folders::create(to).map_err(|error| LogbookError::from_io(to, error))?;
    let name = to.to_str().ok_or_else(|| LogbookError::NotUnicode(to.to_owned()))?;
    sqlx::query("VACUUM INTO $1").bind(name).execute(store.pool()).await.map_err(failed)?;
    let options = SqliteConnectOptions::new()
        .filename(to)
        .journal_mode(SqliteJournalMode::Delete)
        .synchronous(SqliteSynchronous::Full);
    let mut copy = options.connect().await.map_err(failed)?;
    sqlx::query(SET_MARK).bind(MARK).bind(now.to_string()).execute(&mut copy).await.map_err(failed)?;
    let whole: String = sqlx::query_scalar("PRAGMA integrity_check(1)").fetch_one(&mut copy).await.map_err(failed)?;
    if whole != "ok" {
        return Err(LogbookError::damaged(store.path(), Damage::Database(whole)));
    }
    let looked_through = look_through(&mut copy).await.map_err(failed)?;
    copy.close().await.map_err(failed)?;
    Ok(looked_through)
}

async fn look_through(copy: &mut SqliteConnection) -> Result<(usize, usize, Vec<Part>), sqlx::Error> {
    let setups: Vec<columns::Sealed> = sqlx::query_as(LIST).fetch_all(&mut *copy).await?;
    let (count, mut entries, mut altered) = (setups.len(), 0, Vec::new());
    for row in setups {
        let number = row.0;
        let setup = u32::try_from(number).unwrap_or_default();
        let text: document::Text = sqlx::query_as(SETUP).bind(number).fetch_one(&mut *copy).await?;
        let holds = document::unaltered(text.0.as_bytes(), text.1, Part::Setup(setup));
        altered.extend(holds.is_err().then_some(Part::Setup(setup)));
        let listed = columns::unaltered(row, |_| Part::Listed(setup));
        altered.extend(listed.is_err().then_some(Part::Listed(setup)));
        let rows: Vec<Row> = sqlx::query_as(ENTRIES).bind(number).fetch_all(&mut *copy).await?;
        entries += rows.len();
        for (number, id, text, sum, samples, of_samples) in rows {
            let part = Part::Entry { setup, number: u32::try_from(number).unwrap_or_default() };
            altered.extend(document::unaltered(text.as_bytes(), sum, part).is_err().then_some(part));
            let part = Part::Samples(id.parse().unwrap_or_default());
            let holds = samples.is_none_or(|bytes| document::unaltered(&bytes, of_samples, part).is_ok());
            altered.extend((!holds).then_some(part));
        }
    }
    Ok((count, entries, altered))
}
