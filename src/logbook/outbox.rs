//! What could not reach a shared logbook, kept on this bench until it can.
//!
//! One file an entry, in a folder of its own below the user's data directory: a line of JSON with the checksum of all that
//! follows; a line of JSON that says where it belongs; and after it the raw samples. A file is written beside its place,
//! brought to the disk and moved there, so that it is whole or not there at all. It goes only after the server has the
//! entry on its disk; an entry that got there before its answer was lost is known there by its id, and arrives once.

use super::location::own_folder;
use super::{Damage, LogbookError, document, folders, samples};
use crate::record::{Entry, RawSamples};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use uuid::Uuid;

const FOLDER: &str = "waiting";
const SUFFIX: &str = "entry";
/// Version of the file's layout.
const LAYOUT: u32 = 2;
/// The layout without a checksum: such a file begins with the line that says where it belongs.
const WITHOUT_CHECKSUM: u32 = 1;

/// An entry that waits.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Waiting {
    /// The setup it belongs to.
    pub setup: u32,
    /// What it is.
    pub what: What,
}

/// What can wait.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum What {
    /// An entry, with the raw samples that it was made from.
    Entry(Box<Entry>, Option<RawSamples>),
    /// That the cautions were acknowledged, under an id of its own.
    Cautions(Uuid, Timestamp),
}

impl What {
    const fn id(&self) -> Uuid {
        match self {
            Self::Entry(entry, _) => entry.id,
            Self::Cautions(id, _) => *id,
        }
    }
}

/// What the file is, and the checksum of what follows this line.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Seal {
    layout: u32,
    checksum: i64,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Place {
    /// Said by a file without a seal.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    layout: Option<u32>,
    setup: u32,
    has_samples: bool,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    entry: Option<Box<Entry>>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    cautions: Option<(Uuid, Timestamp)>,
}

/// The entries of this bench that wait for one shared logbook.
#[derive(Debug, Clone)]
pub(super) struct Outbox {
    folder: PathBuf,
}

impl Outbox {
    /// The outbox for the logbook at this address.
    pub fn of(address: &str) -> Result<Self, LogbookError> {
        Ok(Self { folder: own_folder()?.join(FOLDER).join(folder_name(address)) })
    }

    /// Keeps an entry; once this has returned, it is on this bench's disk.
    pub fn put(&self, waiting: &Waiting) -> Result<(), LogbookError> {
        let bytes = sealed(&written(waiting)?)?;
        // By their ids alone they would be in the order of a clock, which may be set back.
        let there = self.files()?;
        let id = waiting.what.id();
        let known = there.iter().find(|file| Turn::of(file).id == id.to_string());
        let next = there.last().map_or(1, |last| Turn::of(last).number + 1);
        let place = known.cloned().unwrap_or_else(|| self.folder.join(format!("{next}-{id}.{SUFFIX}")));
        write_whole(&self.folder, &place, &bytes).map_err(|error| LogbookError::from_io(&place, error))
    }

    /// The files that wait, oldest first.
    pub fn files(&self) -> Result<Vec<PathBuf>, LogbookError> {
        let listed = match fs::read_dir(&self.folder) {
            Ok(listed) => listed,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
            Err(error) => return Err(LogbookError::from_io(&self.folder, error)),
        };
        let mut files = Vec::new();
        for entry in listed {
            let path = entry.map_err(|error| LogbookError::from_io(&self.folder, error))?.path();
            if path.extension().is_some_and(|suffix| suffix == SUFFIX) {
                files.push(path);
            }
        }
        files.sort_by_cached_key(|file| Turn::of(file));
        Ok(files)
    }

    /// What a file holds; `None` when it has gone meanwhile, because another program of this bench sent it.
    pub fn read(file: &Path) -> Result<Option<Waiting>, LogbookError> {
        let bytes = match fs::read(file) {
            Ok(bytes) => bytes,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
            Err(error) => return Err(LogbookError::from_io(file, error)),
        };
        understood(&bytes).map(Some).map_err(|damage| LogbookError::damaged(file, damage))
    }

    /// Forgets what has arrived.
    pub fn remove(file: &Path) -> Result<(), LogbookError> {
        match fs::remove_file(file) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => Err(LogbookError::from_io(file, error)),
            _ => Ok(()),
        }
    }
}

/// An entry as it stands in its file, below the seal.
fn written(waiting: &Waiting) -> Result<Vec<u8>, LogbookError> {
    let (entry, cautions, raw) = match &waiting.what {
        What::Entry(entry, raw) => (Some(entry.clone()), None, raw.as_ref()),
        What::Cautions(id, at) => (None, Some((*id, *at)), None),
    };
    let place = Place { layout: None, setup: waiting.setup, has_samples: raw.is_some(), entry, cautions };
    let mut bytes = document::write(&place, "entry")?.into_bytes();
    bytes.push(b'\n');
    bytes.extend(raw.map(samples::encode).unwrap_or_default());
    Ok(bytes)
}

fn sealed(content: &[u8]) -> Result<Vec<u8>, LogbookError> {
    let seal = Seal { layout: LAYOUT, checksum: document::checksum(content) };
    let mut bytes = document::write(&seal, "entry")?.into_bytes();
    bytes.push(b'\n');
    bytes.extend(content);
    Ok(bytes)
}

fn understood(bytes: &[u8]) -> Result<Waiting, Damage> {
    let (line, below) = first_line(bytes)?;
    let seal = serde_json::from_slice::<Seal>(line).ok();
    let content = match &seal {
        Some(seal) if seal.layout != LAYOUT => return Err(Damage::Layout(seal.layout)),
        Some(seal) if seal.checksum != document::checksum(below) => return Err(Damage::Altered),
        Some(_) => below,
        None => bytes,
    };
    let (line, rest) = first_line(content)?;
    let place: Place = serde_json::from_slice(line).map_err(|error| Damage::Text(error.to_string()))?;
    match (&seal, place.layout) {
        (Some(_), None) | (None, Some(WITHOUT_CHECKSUM)) => {}
        (None, Some(layout)) if layout > LAYOUT => return Err(Damage::Layout(layout)),
        _ => return Err(Damage::CutShort),
    }
    let raw = place.has_samples.then(|| samples::decode(rest)).transpose()?;
    let what = match (place.entry, place.cautions) {
        (Some(entry), None) => What::Entry(entry, raw),
        (None, Some((id, at))) => What::Cautions(id, at),
        _ => return Err(Damage::CutShort),
    };
    Ok(Waiting { setup: place.setup, what })
}

/// A line without its end, and what follows it.
pub(super) fn first_line(bytes: &[u8]) -> Result<(&[u8], &[u8]), Damage> {
    let end = memchr::memchr(b'\n', bytes).ok_or(Damage::CutShort)?;
    Ok((&bytes[..end], &bytes[end + 1..]))
}

/// When an entry's turn is, by the name of its file: its number, and the entry's id. One without a number is an earlier
/// version's, whose ids are in order.
#[derive(Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Turn {
    number: u64,
    id: String,
}

impl Turn {
    fn of(file: &Path) -> Self {
        let name = file.file_stem().unwrap_or_default().to_string_lossy();
        // An id has a dash of its own after eight digits.
        match name.split_once('-') {
            Some((number, id)) if id.len() == 36 => Self { number: number.parse().unwrap_or(0), id: id.to_owned() },
            _ => Self { number: 0, id: name.into_owned() },
        }
    }
}

/// A folder's name that a person can read, and that no two addresses share.
pub(super) fn folder_name(address: &str) -> String {
    let readable: String = address.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '-' }).collect();
    format!("{readable}-{:016x}", crc::Crc::<u64>::new(&crc::CRC_64_XZ).checksum(address.as_bytes()))
}

pub(super) fn write_whole(folder: &Path, place: &Path, bytes: &[u8]) -> io::Result<()> {
    folders::make(folder)?;
    let beside = place.with_extension(format!("{}.part", std::process::id()));
    let mut file = folders::create(&beside)?;
    let written = file.write_all(bytes).and_then(|()| file.sync_all()).and_then(|()| fs::rename(&beside, place));
    // A part of it would only make the disk fuller.
    written.inspect_err(|_| drop(fs::remove_file(&beside)))?;
    folders::keep_names(folder)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::{Adjustment, Event};
    use crate::units::{Sample, Seconds};

    fn waiting(note: &str) -> Waiting {
        let adjustment: Adjustment = "link B, +1 half-turn".parse().unwrap();
        let event = Event::Adjustment { adjustment, note: Some(note.to_owned()) };
        let sample = Sample {
            clock: Seconds::new(0.1),
            counts: [1.0, f64::MIN_POSITIVE, -0.0],
            lost_before: 0,
            temperature: None,
        };
        let entry = Entry { id: Uuid::now_v7(), at: Timestamp::UNIX_EPOCH, event };
        let raw = RawSamples { counts_per_g: 16384.0, samples: vec![sample; 3] };
        Waiting { setup: 4, what: What::Entry(Box::new(entry), Some(raw)) }
    }

    fn outbox() -> (tempfile::TempDir, Outbox) {
        let folder = tempfile::tempdir().unwrap();
        let outbox = Outbox { folder: folder.path().join("of a server") };
        (folder, outbox)
    }

    #[test]
    fn two_logbooks_whose_addresses_look_alike_do_not_share_what_waits() {
        assert_ne!(folder_name("postgres://bench@club/book-1"), folder_name("postgres://bench@club/book_1"));
        assert!(folder_name("postgres://bench@club/book").starts_with("postgres---bench-club-book-"));
    }

    #[test]
    fn what_waits_comes_back_in_order_and_whole() {
        let (_folder, outbox) = outbox();
        assert_eq!(outbox.files().unwrap(), Vec::<PathBuf>::new());
        let mut kept: Vec<Waiting> = ["first\nof two lines", "second", "third"].into_iter().map(waiting).collect();
        kept.push(Waiting { setup: 4, what: What::Cautions(Uuid::now_v7(), Timestamp::UNIX_EPOCH) });
        for entry in &kept {
            outbox.put(entry).unwrap();
        }
        outbox.put(&kept[1]).unwrap();
        let found: Vec<Waiting> =
            outbox.files().unwrap().iter().map(|file| Outbox::read(file).unwrap().unwrap()).collect();
        assert_eq!(found, kept, "each once");
        let first = outbox.files().unwrap().remove(0);
        Outbox::remove(&first).unwrap();
        Outbox::remove(&first).unwrap();
        assert_eq!(Outbox::read(&first).unwrap(), None);
        assert_eq!(outbox.files().unwrap().len(), 3);
    }

    /// The clock was set back between them, and an earlier version left two.
    #[test]
    fn what_waits_keeps_its_order_whatever_the_clock_says() {
        let (_folder, outbox) = outbox();
        let mut kept: Vec<Waiting> = ["1", "2", "3", "4"].into_iter().map(waiting).collect();
        for (at, waiting) in kept.iter_mut().enumerate() {
            let What::Entry(entry, _) = &mut waiting.what else { panic!("an entry") };
            entry.id = Uuid::from_u128(u128::from(u64::MAX) << 64 | (9 - at as u128));
        }
        for entry in &kept {
            outbox.put(entry).unwrap();
        }
        let earlier = [Uuid::from_u128(1), Uuid::from_u128(2)];
        for id in earlier {
            fs::write(outbox.folder.join(format!("{id}.{SUFFIX}")), b"").unwrap();
        }
        let ids: Vec<String> = outbox.files().unwrap().iter().map(|file| Turn::of(file).id).collect();
        let wanted = earlier.into_iter().chain(kept.iter().map(|one| one.what.id()));
        assert_eq!(ids, wanted.map(|id| id.to_string()).collect::<Vec<_>>());
    }

    #[test]
    fn a_damaged_file_is_refused_and_stays() {
        let (_folder, outbox) = outbox();
        outbox.put(&waiting("cut off")).unwrap();
        let file = outbox.files().unwrap().remove(0);
        let whole = fs::read(&file).unwrap();
        for length in [0, 10, whole.len() - 1] {
            fs::write(&file, &whole[..length]).unwrap();
            assert!(matches!(Outbox::read(&file), Err(LogbookError::Damaged { .. })), "{length}");
        }
        assert!(file.exists());
    }

    /// One digit of a value, one bit of a sample, the number of the setup: each changed alone, all of them readable.
    #[test]
    fn what_the_disk_has_changed_is_never_read_as_a_value() {
        let (_folder, outbox) = outbox();
        outbox.put(&waiting("4 turns")).unwrap();
        let file = outbox.files().unwrap().remove(0);
        let whole = fs::read(&file).unwrap();
        let at = |text: &str| whole.windows(text.len()).position(|part| part == text.as_bytes()).unwrap();
        let note = at("4 turns");
        for (place, byte) in
            [(note, b'9'), (at("\"setup\":4") + 8, b'5'), (whole.len() - 1, 1), (at("checksum") + 12, b'x')]
        {
            let mut changed = whole.clone();
            assert_ne!(std::mem::replace(&mut changed[place], byte), byte);
            fs::write(&file, &changed).unwrap();
            assert!(matches!(Outbox::read(&file), Err(LogbookError::Damaged { .. })), "{place}");
        }
        // Without its seal it is none of an earlier version's.
        fs::write(&file, first_line(&whole).unwrap().1).unwrap();
        assert!(matches!(Outbox::read(&file), Err(LogbookError::Damaged { .. })));
    }

    #[test]
    fn a_file_of_an_earlier_version_is_still_read() {
        let (_folder, outbox) = outbox();
        let kept = waiting("from before");
        outbox.put(&kept).unwrap();
        let file = outbox.files().unwrap().remove(0);
        let whole = fs::read(&file).unwrap();
        let (line, samples) = first_line(first_line(&whole).unwrap().1).unwrap();
        let earlier = String::from_utf8(line.to_vec()).unwrap().replacen('{', "{\"layout\":1,", 1);
        fs::write(&file, [earlier.as_bytes(), b"\n", samples].concat()).unwrap();
        assert_eq!(Outbox::read(&file).unwrap(), Some(kept));
    }

    #[test]
    fn a_password_is_no_part_of_the_folders_name() {
        // The address comes here without its password.
        let outbox = Outbox::of("postgres://workshop:5432/book").unwrap();
        let folder = outbox.folder.display().to_string();
        assert!(folder.contains("waiting/postgres---workshop-5432-book-"), "{folder}");
    }
}
