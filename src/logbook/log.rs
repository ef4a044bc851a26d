//! The write-ahead log, held against itself before anybody may write to it.
//!
//! SQLite reads a log up to the first frame that does not fit its checksum, takes the rest for what a power cut left, and
//! writes over it without a word. Behind one wrong bit of a disk stand whole commits, though: they are told by the salts, which
//! all frames of one round of the log share (<https://www.sqlite.org/fileformat2.html>, section 4.1). Such a log is copied
//! before it is used, and whoever opens the logbook is told.
//!
//! What a program leaves that is killed, or a log that begins anew over an earlier round, has no commit behind its end. The
//! step that the power interrupted can look like a broken one: then nothing that was reported is missing.

use super::inspect::beside;
use super::{LogbookError, folders};
use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;

const FRONT: usize = 32;
const FRAME: usize = 24;

/// Another program may be writing while the log is read: it is broken only when it is so twice, and the same.
const LOOKS: u32 = 20;
const BETWEEN_LOOKS: Duration = Duration::from_millis(25);

/// A write-ahead log with commits behind its first damaged frame.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BrokenLog {
    /// The logbook.
    pub logbook: PathBuf,
    /// Where the log is kept as it was found.
    pub copy: PathBuf,
    /// So many steps stand behind the damage and cannot be read.
    pub steps: usize,
}

/// Looks at the log of the logbook at `path`; a broken one is copied beside it.
///
/// # Errors
/// When the copy cannot be kept: then the log must not be used.
pub(super) async fn copy_if_broken(path: &Path) -> Result<Option<BrokenLog>, LogbookError> {
    let log = beside(path, "-wal");
    let mut before: Option<Vec<u8>> = None;
    for _ in 0..LOOKS {
        let Ok(bytes) = fs::read(&log) else { return Ok(None) };
        let Some(steps) = steps_behind_damage(&bytes, path) else { return Ok(None) };
        if before.as_ref() == Some(&bytes) {
            let copy = keep(path, &bytes).map_err(|error| LogbookError::from_io(path, error))?;
            return Ok(Some(BrokenLog { logbook: path.to_owned(), copy, steps }));
        }
        before = Some(bytes);
        tokio::time::sleep(BETWEEN_LOOKS).await;
    }
    Ok(None)
}

/// Writes the copy, and brings it to the disk. The same log is copied once.
fn keep(path: &Path, bytes: &[u8]) -> io::Result<PathBuf> {
    let mut number = 1;
    loop {
        let copy = beside(path, &format!(".damaged-log-{number}"));
        match fs::read(&copy) {
            Ok(there) if there == bytes => return Ok(copy),
            Ok(_) => number += 1,
            Err(error) if error.kind() == io::ErrorKind::NotFound => {
                let mut file = folders::create(&copy)?;
                let written = file.write_all(bytes).and_then(|()| file.sync_all());
                written.inspect_err(|_| drop(fs::remove_file(&copy)))?;
                folders::keep_names(copy.parent().unwrap_or(Path::new("")))?;
                return Ok(copy);
            }
            Err(error) => return Err(error),
        }
    }
}

fn number(bytes: &[u8], at: usize) -> u32 {
    u32::from_be_bytes([bytes[at], bytes[at + 1], bytes[at + 2], bytes[at + 3]])
}

/// The running checksum of a log.
#[derive(Clone, Copy, PartialEq)]
struct Sum(u32, u32);

impl Sum {
    fn stored(bytes: &[u8], at: usize) -> Self {
        Self(number(bytes, at), number(bytes, at + 4))
    }

    fn over(self, bytes: &[u8], big_endian: bool) -> Self {
        let word = |bytes: &[u8]| {
            let bytes = [bytes[0], bytes[1], bytes[2], bytes[3]];
            if big_endian { u32::from_be_bytes(bytes) } else { u32::from_le_bytes(bytes) }
        };
        bytes.chunks_exact(8).fold(self, |Self(first, second), words| {
            let first = first.wrapping_add(word(words)).wrapping_add(second);
            Self(first, second.wrapping_add(word(&words[4..])).wrapping_add(first))
        })
    }
}

/// One frame of a log: its header, and a page.
#[derive(Clone, Copy)]
struct Frame<'l>(&'l [u8]);

impl<'l> Frame<'l> {
    fn page(self) -> u32 {
        number(self.0, 0)
    }

    /// The length of the logbook in pages, where the frame ends a commit.
    fn commit(self) -> Option<u32> {
        Some(number(self.0, 4)).filter(|&pages| pages > 0)
    }

    fn salts(self) -> [u32; 2] {
        [number(self.0, 8), number(self.0, 12)]
    }

    /// Two rounds share neither of their salts; a wrong bit changes one of them.
    fn is_of_round(self, salts: [u32; 2]) -> bool {
        self.salts()[0] == salts[0] || self.salts()[1] == salts[1]
    }

    fn sum(self) -> Sum {
        Sum::stored(self.0, 16)
    }

    const fn content(self) -> &'l [u8] {
        self.0.split_at(FRAME).1
    }
}

/// How many commits stand behind the first damage of a log; none of one that is whole, or ends as logs end.
fn steps_behind_damage(log: &[u8], book: &Path) -> Option<usize> {
    if log.len() < FRONT + FRAME {
        return None;
    }
    let magic = number(log, 0);
    let big_endian = magic == 0x377F_0683;
    let sum = Sum(0, 0).over(&log[..24], big_endian);
    let front_is_whole = (big_endian || magic == 0x377F_0682) && sum == Sum::stored(log, 24);
    let page_size =
        Some(number(log, 8) as usize).filter(|_| front_is_whole).or_else(|| page_size(book)).or_else(|| {
            let said = number(log, 8) as usize;
            (said.is_power_of_two() && (512..=65536).contains(&said)).then_some(said)
        })?;
    let frames: Vec<Frame<'_>> = log[FRONT..].chunks_exact(FRAME + page_size).map(Frame).collect();
    let steps = if front_is_whole {
        behind(&frames, [number(log, 16), number(log, 20)], sum, big_endian)
    } else {
        not_in(&frames, book)
    };
    (steps > 0).then_some(steps)
}

/// The commits of this round behind the first frame that is none of it, or does not fit its checksum.
fn behind(frames: &[Frame<'_>], salts: [u32; 2], begun: Sum, big_endian: bool) -> usize {
    let mut sum = begun;
    let whole = frames.iter().take_while(|frame| {
        sum = sum.over(&frame.0[..8], big_endian).over(frame.content(), big_endian);
        frame.salts() == salts && frame.page() > 0 && frame.sum() == sum
    });
    let whole = whole.count();
    frames[whole..].iter().filter(|frame| frame.is_of_round(salts) && frame.commit().is_some()).count()
}

/// The commits of a log whose front is damaged, where the logbook does not hold all of them: a log that begins anew gets a new
/// front once everything was written back.
fn not_in(frames: &[Frame<'_>], book: &Path) -> usize {
    let Some(salts) = frames.first().map(|first| first.salts()) else { return 0 };
    let round: Vec<Frame<'_>> = frames.iter().copied().take_while(|frame| frame.salts() == salts).collect();
    let Some((last, pages)) = round.iter().enumerate().rev().find_map(|(at, frame)| Some((at, frame.commit()?))) else {
        return 0;
    };
    let newest: BTreeMap<u32, &[u8]> = round[..=last].iter().map(|frame| (frame.page(), frame.content())).collect();
    let written_back =
        newest.iter().filter(|(page, _)| **page <= pages).all(|(page, content)| is_in(book, *page, content));
    if written_back { 0 } else { round.iter().filter(|frame| frame.commit().is_some()).count() }
}

fn is_in(book: &Path, page: u32, content: &[u8]) -> bool {
    let read = || {
        let mut file = File::open(book)?;
        file.seek(SeekFrom::Start(u64::from(page.saturating_sub(1)) * content.len() as u64))?;
        let mut there = vec![0; content.len()];
        file.read_exact(&mut there).map(|()| there)
    };
    read().is_ok_and(|there| there == content)
}

/// The size of the pages of a logbook, from its first bytes.
fn page_size(book: &Path) -> Option<usize> {
    let mut bytes = [0; 18];
    File::open(book).and_then(|mut file| file.read_exact(&mut bytes)).ok()?;
    let size = match u16::from_be_bytes([bytes[16], bytes[17]]) {
        1 => 65536,
        size => usize::from(size),
    };
    (bytes.starts_with(b"SQLite format 3\0") && size.is_power_of_two() && size >= 512).then_some(size)
}
