//! Looks at a file before anything may touch it.
//!
//! A logbook is opened for writing only after this look has found it to be one: of this program, of a layout that this
//! version knows, and whole. The look itself leaves no trace: not a byte changed, no file left beside it.
//!
//! SQLite keeps the latest commits in a write-ahead log beside the file (`-wal`, with its index `-shm`) while a program
//! has it open, and leaves it there when that program is killed. So there are two ways to look:
//! * without such a log, as at a file that cannot change (`immutable`): no lock, no companion file;
//! * with one, through the log, with the index opened for reading only (`readonly_shm`), so that nothing is recovered,
//!   written back or removed. Where the index alone is missing, SQLite makes one; it holds no data.
//!
//! The look reads the whole file only up to [`CHECK_LIMIT`]: a logbook of many years shall still open at once. A
//! larger one is held against its length, and damage inside it is found when the damaged part is read.

use super::store::{result_code as sqlite, steps};
use super::{Damage, LogbookError, migrations};
use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection};
use sqlx::{ConnectOptions, Connection};
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// "CLNO": stands in the header of every logbook, so that no other program's file passes for one.
pub(super) const APPLICATION_ID: i64 = 0x434C_4E4F;

/// The largest file that is checked page by page each time it is opened.
const CHECK_LIMIT: u64 = 32 << 20;

/// How often a look is repeated when another program was changing the file meanwhile.
const LOOKS: u32 = 20;
const BETWEEN_LOOKS: Duration = Duration::from_millis(25);

/// What a look at the path has found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Found {
    /// Nothing: a new logbook can be made.
    Nothing,
    /// A file without any content, as left by a program that ended while it made a new logbook.
    Blank,
    /// A logbook that this version can use.
    Logbook,
}

/// Looks at what is at `path`.
///
/// # Errors
/// When it is anything but a logbook that this version can use, or the place for a new one.
pub(super) async fn inspect(path: &Path) -> Result<Found, LogbookError> {
    let mut looks = 1;
    loop {
        let before = Traces::of(path);
        match look(path).await {
            Ok(found) => return Ok(found),
            // What looks like damage may be another program at work: then it has moved, and is looked at again.
            Err(LogbookError::Busy(_)) if looks < LOOKS => {}
            Err(_) if looks < LOOKS && before.moved(path) => {}
            Err(refusal) => return Err(refusal),
        }
        tokio::time::sleep(BETWEEN_LOOKS).await;
        looks += 1;
    }
}

/// Length and time of change of the file and its log.
#[derive(PartialEq)]
struct Traces([Option<(u64, std::time::SystemTime)>; 2]);

impl Traces {
    fn of(path: &Path) -> Self {
        let trace = |path: &Path| fs::metadata(path).ok().and_then(|file| Some((file.len(), file.modified().ok()?)));
        Self([trace(path), trace(&beside(path, "-wal"))])
    }

    fn moved(&self, path: &Path) -> bool {
        *self != Self::of(path)
    }
}

async fn look(path: &Path) -> Result<Found, LogbookError> {
    let damaged = |damage| LogbookError::damaged(path, damage);
    let log = log_holds_something(&beside(path, "-wal"));
    let length = match fs::metadata(path) {
        Ok(file) if file.is_dir() => return Err(LogbookError::IsFolder(path.to_owned())),
        Ok(file) if !file.is_file() => return Err(LogbookError::NotALogbook(path.to_owned())),
        Ok(file) => file.len(),
        Err(error) if error.kind() == io::ErrorKind::NotFound && log => {
            return Err(damaged(Damage::LogAlone));
        }
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Found::Nothing),
        Err(error) => return Err(LogbookError::from_io(path, error)),
    };
    if length == 0 {
        return if log { Err(damaged(Damage::LogAlone)) } else { Ok(Found::Blank) };
    }
    let header = Header::read(path)?;
    if !log && header.length().is_some_and(|whole| length < whole) {
        return Err(damaged(Damage::CutShort));
    }
    if !log && header.application_id != 0 && header.application_id != APPLICATION_ID {
        return Err(LogbookError::NotALogbook(path.to_owned()));
    }
    let whole = length <= CHECK_LIMIT;
    let mut connection = open_untouched(path, log).await.map_err(|error| unreadable(path, error))?;
    let found = examine(&mut connection, path, whole).await;
    // Nothing was written, so there is nothing that closing could lose.
    let _ = connection.close().await;
    found
}

/// The file beside `path` whose name ends in `suffix`.
pub(super) fn beside(path: &Path, suffix: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(suffix);
    name.into()
}

/// Whether a write-ahead log can hold a commit: its header is one, and something follows it
/// (<https://www.sqlite.org/fileformat2.html>, section 4.1). Any other log says nothing, and looking through it would
/// make SQLite wait for a header that never comes.
fn log_holds_something(log: &Path) -> bool {
    let mut header = [0; 33];
    let whole = File::open(log).and_then(|mut log| log.read_exact(&mut header)).is_ok();
    whole && (header.starts_with(&0x377F_0682_u32.to_be_bytes()) || header.starts_with(&0x377F_0683_u32.to_be_bytes()))
}

/// The first bytes of an SQLite file, as far as they matter here (<https://www.sqlite.org/fileformat2.html>, section 1.3).
struct Header {
    page_size: u64,
    pages: u64,
    application_id: i64,
}

impl Header {
    fn read(path: &Path) -> Result<Self, LogbookError> {
        let mut bytes = [0; 100];
        let mut file = File::open(path).map_err(|error| LogbookError::from_io(path, error))?;
        file.read_exact(&mut bytes).map_err(|error| match error.kind() {
            io::ErrorKind::UnexpectedEof => LogbookError::NotALogbook(path.to_owned()),
            _ => LogbookError::from_io(path, error),
        })?;
        if !bytes.starts_with(b"SQLite format 3\0") {
            return Err(LogbookError::NotALogbook(path.to_owned()));
        }
        let number = |at: usize| u32::from_be_bytes([bytes[at], bytes[at + 1], bytes[at + 2], bytes[at + 3]]);
        let page_size = match u16::from_be_bytes([bytes[16], bytes[17]]) {
            1 => 65536,
            size => u64::from(size),
        };
        // The count of pages holds only while it was written together with the change counter.
        let pages = if number(24) == number(92) { u64::from(number(28)) } else { 0 };
        Ok(Self { page_size, pages, application_id: i64::from(number(68)) })
    }

    /// How long the file must be at least, where its header says so.
    fn length(&self) -> Option<u64> {
        (self.pages > 0).then_some(self.pages * self.page_size)
    }
}

/// Opens the file so that nothing at all is changed, neither in it nor beside it.
pub(super) async fn open_untouched(path: &Path, log: bool) -> Result<SqliteConnection, sqlx::Error> {
    let options = SqliteConnectOptions::new().read_only(true).busy_timeout(Duration::from_secs(5));
    if !log {
        return options.filename(path).immutable(true).connect().await;
    }
    if beside(path, "-shm").exists() {
        // SQLite takes the file's name as a URI, which is the only way to hand it this wish.
        let encoded: String = path.to_string_lossy().bytes().map(|byte| format!("%{byte:02X}")).collect();
        return options.filename(format!("file:{encoded}?mode=ro&readonly_shm=1")).connect().await;
    }
    options.filename(path).connect().await
}

async fn examine(connection: &mut SqliteConnection, path: &Path, whole: bool) -> Result<Found, LogbookError> {
    let failed = |error| unreadable(path, error);
    let application_id: i64 =
        sqlx::query_scalar("PRAGMA application_id").fetch_one(&mut *connection).await.map_err(failed)?;
    let layout: i64 = sqlx::query_scalar("PRAGMA user_version").fetch_one(&mut *connection).await.map_err(failed)?;
    let objects: i64 =
        sqlx::query_scalar("SELECT count(*) FROM sqlite_master").fetch_one(&mut *connection).await.map_err(failed)?;
    match (application_id, layout, objects) {
        (0, 0, 0) => return Ok(Found::Blank),
        (APPLICATION_ID, ..) => {}
        _ => return Err(LogbookError::NotALogbook(path.to_owned())),
    }
    if layout > migrations::NEWEST {
        return Err(LogbookError::Newer { site: path.into(), found: layout, known: migrations::NEWEST });
    }
    check_layout(connection, path, layout).await?;
    if whole {
        let verdict: String =
            sqlx::query_scalar("PRAGMA integrity_check(1)").fetch_one(&mut *connection).await.map_err(failed)?;
        if verdict != "ok" {
            return Err(LogbookError::damaged(path, Damage::Database(verdict)));
        }
    }
    Ok(Found::Logbook)
}

/// The steps that were applied to the file must be the first of those known here, to the letter.
async fn check_layout(connection: &mut SqliteConnection, path: &Path, layout: i64) -> Result<(), LogbookError> {
    let applied: Vec<(i64, Vec<u8>)> =
        sqlx::query_as("SELECT version, checksum FROM _sqlx_migrations ORDER BY version")
            .fetch_all(connection)
            .await
            .map_err(|error| unreadable(path, error))?;
    if let Some(&(found, _)) = applied.last().filter(|step| step.0 > migrations::NEWEST) {
        return Err(LogbookError::Newer { site: path.into(), found, known: migrations::NEWEST });
    }
    let known = steps();
    let as_known = applied
        .iter()
        .zip(known.iter())
        .all(|((number, checksum), step)| *number == step.version && checksum.as_slice() == step.checksum.as_ref());
    if as_known && applied.len() as i64 == layout {
        return Ok(());
    }
    Err(LogbookError::damaged(path, Damage::OtherTables(layout)))
}

/// While looking, anything that the database cannot read is damage, unless the system stands in the way.
fn unreadable(path: &Path, error: sqlx::Error) -> LogbookError {
    match sqlite::of(&error) {
        // Looking through a log that another program is just setting up: it has to be waited for.
        Some(sqlite::READONLY) => LogbookError::Busy(path.into()),
        Some(sqlite::BUSY | sqlite::LOCKED | sqlite::PERM | sqlite::CANTOPEN) => sqlite::error(path, error),
        _ => LogbookError::damaged(path, Damage::Database(error.to_string())),
    }
}
