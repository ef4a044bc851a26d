//! What can go wrong with a logbook.

use super::samples::SamplesError;
use super::store::Site;
use std::io;
use std::path::{Path, PathBuf};
use uuid::Uuid;

/// Why the logbook did not do what was wanted. Nothing that was reported as recorded before is lost by any of these.
#[derive(Debug, thiserror::Error)]
pub enum LogbookError {
    /// There is no home directory to keep the logbook in.
    #[error("no home directory")]
    NoHome,
    /// A logbook without a name.
    #[error("no name")]
    NoName,
    /// A text with a letter that no person writes.
    #[error("unwritable {what}: {letter:?}")]
    Unwritable {
        /// What was to be recorded.
        what: &'static str,
        /// The letter.
        letter: char,
    },
    /// A text that is longer than any note.
    #[error("too long: {0}")]
    TooLong(&'static str),
    /// A URL of a kind that no logbook has.
    #[error("unknown scheme: {0}")]
    Scheme(String),
    /// What looks like a URL and is none. It may hold a password, so it is not kept.
    #[error("not a URL")]
    NotAUrl,
    /// A URL that names no server; what is wrong with it.
    #[error("bad URL: {0}")]
    BadUrl(BadUrl),
    /// The password file of a shared logbook is no file, or has no end.
    #[error("password file: {path}", path = path.display())]
    PasswordFile {
        /// Which.
        path: PathBuf,
        /// The most bytes that are read.
        most: u64,
    },
    /// The server of a shared logbook does not answer.
    #[error("no answer: {server}")]
    ServerOutOfReach {
        /// Which, without its password.
        server: String,
        /// What the line says.
        source: sqlx::Error,
    },
    /// The server does not offer an encrypted line.
    #[error("not encrypted: {server}")]
    ServerNotEncrypted {
        /// Which, without its password.
        server: String,
        /// What the line says.
        source: sqlx::Error,
    },
    /// The server's certificate is not accepted.
    #[error("{why:?} certificate: {server}")]
    ServerNotTrusted {
        /// Which, without its password.
        server: String,
        /// Why.
        why: Distrust,
        /// What the line says.
        source: sqlx::Error,
    },
    /// The server does not let this bench in.
    #[error("access refused: {server}")]
    ServerRefuses {
        /// Which, without its password.
        server: String,
        /// What the server says.
        source: sqlx::Error,
    },
    /// A newer version has laid it out.
    #[error("newer ({found}): {site}")]
    Newer {
        /// Where.
        site: Site,
        /// The layout found.
        found: i64,
        /// The newest layout that this version knows.
        known: i64,
    },
    /// What it holds makes no sense.
    #[error("damaged: {site}: {damage}")]
    Damaged {
        /// Where.
        site: Site,
        /// What is wrong with it.
        damage: Damage,
    },
    /// Another program has held it for more than five seconds.
    #[error("busy: {0}")]
    Busy(Site),
    /// Anything else that the database says.
    #[error("database failed: {site}")]
    Failed {
        /// Where.
        site: Site,
        /// What it says.
        source: sqlx::Error,
    },
    /// A file that a backup may not replace.
    #[error("not a backup: {}", .0.display())]
    NotABackup(PathBuf),
    /// A shared logbook is backed up where its server is.
    #[error("on a server: {0}")]
    KeptByServer(String),
    /// The file's folder is not there.
    #[error("no folder: {}", .0.display())]
    NoFolder(PathBuf),
    /// The path names a folder.
    #[error("a folder: {}", .0.display())]
    IsFolder(PathBuf),
    /// The name cannot be given to the database.
    #[error("not Unicode: {}", .0.display())]
    NotUnicode(PathBuf),
    /// The file cannot be read or written by this user.
    #[error("not writable: {}", .0.display())]
    NotWritable(PathBuf),
    /// The file belongs to another program.
    #[error("not a logbook: {}", .0.display())]
    NotALogbook(PathBuf),
    /// The disk is full.
    #[error("disk full: {}", .0.display())]
    Full(PathBuf),
    /// The file was taken away while it was open.
    #[error("gone: {}", .0.display())]
    Gone(PathBuf),
    /// The file or its folder cannot be reached.
    #[error("out of reach: {}", .path.display())]
    Unreachable {
        /// The file.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// The program was built without shared logbooks.
    #[error("shared not built")]
    SharedNotBuilt,
    /// There is no such setup.
    #[error("no setup {0}")]
    NoSetup(u32),
    /// No setup is open.
    #[error("no open setup")]
    NoOpenSetup,
    /// The setup is closed.
    #[error("setup {0} closed")]
    Closed(u32),
    /// The setup was closed at another bench before everything of it has arrived.
    #[error("closed: {setup}, {waiting}")]
    ClosedElsewhere {
        /// The setup.
        setup: u32,
        /// How many entries of it wait.
        waiting: usize,
    },
    /// The setup was to be closed before everything of it has arrived.
    #[error("open: {setup}, {waiting}")]
    StillWaits {
        /// The setup.
        setup: u32,
        /// How many entries of it wait.
        waiting: usize,
    },
    /// No raw samples were kept with the entry, or there is no such entry.
    #[error("no samples: {0}")]
    NoSamples(Uuid),
    /// The entry is in another setup already.
    #[error("known: {entry}, {setup}")]
    AlreadyRecorded {
        /// The entry.
        entry: Uuid,
        /// The setup that has it.
        setup: u32,
    },
    /// A setup that was to be imported is here already, and differs.
    #[error("differs: {setup}, {difference:?}")]
    Different {
        /// Its number here.
        setup: u32,
        /// Its id.
        id: Uuid,
        /// What differs first.
        difference: Difference,
    },
    /// What was to be recorded could not be read again.
    #[error("unrecordable {what}")]
    NotRecordable {
        /// What was to be recorded.
        what: &'static str,
        /// Why it could not be read again.
        source: serde_json::Error,
    },
    /// What is written in the logbook makes no sense to this version.
    #[error("not understood: {part:?}")]
    NotUnderstood {
        /// What could not be read.
        part: Part,
        /// Where it stopped making sense.
        source: serde_json::Error,
    },
    /// What is written in the logbook is not what was recorded.
    #[error("altered: {0:?}")]
    Altered(Part),
    /// The raw samples of an entry cannot be read.
    #[error("unreadable samples: {entry}")]
    Samples {
        /// The entry.
        entry: Uuid,
        /// What is wrong with them.
        source: SamplesError,
    },
}

/// What is wrong with a URL.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BadUrl {
    /// A letter of its password ends the password's place.
    #[error("password")]
    Password,
    /// What is said of it; the URL itself is not.
    #[error("{0}")]
    Other(String),
}

/// Why a server's certificate is not accepted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Distrust {
    /// It was made out to another name.
    OtherName,
    /// Nobody whom this bench knows has signed it.
    UnknownSigner,
    /// It is an authority's own, or one that the server has signed itself.
    SelfSigned,
    /// It holds no longer.
    Expired,
    /// It does not hold yet.
    NotYetValid,
    /// It was taken back.
    Revoked,
    /// Anything else.
    Unusable,
}

/// A part of a logbook.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// What is said of a setup itself.
    Setup(u32),
    /// What a list says of a setup.
    Listed(u32),
    /// An entry of a setup.
    Entry {
        /// The setup.
        setup: u32,
        /// The entry's number, from 1.
        number: u32,
    },
    /// The raw samples of a capture.
    Samples(Uuid),
}

/// What is wrong with a damaged logbook, or with an entry that waits for a shared one.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Damage {
    /// Its write-ahead log is there, the file itself is not, or holds nothing.
    #[error("log alone")]
    LogAlone,
    /// Its end is missing.
    #[error("cut short")]
    CutShort,
    /// Its tables are not those of its layout.
    #[error("not layout {0}")]
    OtherTables(i64),
    /// The count of its setups is missing.
    #[error("no count")]
    NoCount,
    /// A number that numbers nothing.
    #[error("number {0}")]
    Number(i64),
    /// A time, in microseconds, that is none.
    #[error("time {0}")]
    Time(i64),
    /// It is not what was written.
    #[error("altered")]
    Altered,
    /// A newer version has written it.
    #[error("layout {0}")]
    Layout(u32),
    /// Its text makes no sense.
    #[error("text: {0}")]
    Text(String),
    /// Its raw samples make no sense.
    #[error("samples: {0}")]
    Samples(#[from] SamplesError),
    /// What the database says.
    #[error("database: {0}")]
    Database(String),
}

/// What differs first between a setup that is here and a document of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Difference {
    /// What is said of the setup itself.
    Setup,
    /// The entry of this number.
    Entry(usize),
    /// The raw samples of the entry of this number.
    Samples(usize),
    /// How many entries there are.
    Length {
        /// In the logbook.
        here: usize,
        /// In the document.
        there: usize,
    },
}

impl LogbookError {
    /// What the system says about a file.
    pub(super) fn from_io(path: &Path, source: io::Error) -> Self {
        match source.kind() {
            io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem => Self::NotWritable(path.to_owned()),
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => Self::Full(path.to_owned()),
            _ => Self::Unreachable { path: path.to_owned(), source },
        }
    }

    /// Damage in a file.
    pub(super) fn damaged(path: &Path, damage: Damage) -> Self {
        Self::Damaged { site: path.into(), damage }
    }

    /// Whether it is the line to a shared logbook that failed, so that the step may be tried again later.
    #[must_use]
    pub const fn is_out_of_reach(&self) -> bool {
        matches!(
            self,
            Self::ServerOutOfReach { .. }
                | Self::ServerNotTrusted { .. }
                | Self::ServerNotEncrypted { .. }
                | Self::Busy(Site::Server(_))
        )
    }

    /// Whether it is the server of a shared logbook that does not take anything now, whatever it is: what was read is kept on
    /// this bench until it does.
    #[must_use]
    pub const fn is_the_servers(&self) -> bool {
        let elsewhere = matches!(
            self,
            Self::ServerRefuses { .. }
                | Self::Failed { site: Site::Server(_), .. }
                | Self::Damaged { site: Site::Server(_), .. }
                | Self::Newer { site: Site::Server(_), .. }
        );
        elsewhere || self.is_out_of_reach()
    }
}
