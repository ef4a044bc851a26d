//! Where the frames are among bytes that nobody has described: how long, by what they begin, whether COBS parts them.

use super::{FEWEST, MOST};
use crate::codec::{LONGEST_FRAME, cobs};
use std::collections::HashMap;

/// Shorter ones hold no three axes.
const SHORTEST_FRAME: usize = 4;
/// More sync bytes than this prove no more.
const LONGEST_SYNC: usize = 2;
/// In so many frames one after the other, what is the same in all may be the sync bytes.
const LOOKED_AT: usize = 8;
/// A length whose bytes repeat nearly as often as those of the best one is as good, and a multiple of a length always is.
const NEARLY: f64 = 0.9;

/// One way to part the bytes into frames.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Framing {
    /// Whether COBS parts them.
    pub cobs: bool,
    /// The bytes at the front of each; none may be known with COBS.
    pub sync: Vec<u8>,
    /// In bytes, sync included.
    pub length: usize,
    /// The frames, in their order.
    pub frames: Vec<Vec<u8>>,
    /// How many bytes in a row are the same at the front of each frame.
    pub constant: usize,
}

/// All ways that most of the bytes agree with, the plainest first.
pub(super) fn ways(bytes: &[u8]) -> Vec<Framing> {
    match stuffed(bytes) {
        Some(framing) => vec![framing],
        None => synced(bytes),
    }
}

fn stuffed(bytes: &[u8]) -> Option<Framing> {
    let first = memchr::memchr(0, bytes)?;
    let last = memchr::memrchr(0, bytes)?;
    let packets: Vec<&[u8]> =
        bytes.get(first..last)?.split(|byte| *byte == 0).filter(|packet| !packet.is_empty()).collect();
    let plain: Vec<Vec<u8>> = packets.iter().filter_map(|packet| cobs::unstuff(packet)).collect();
    let length = most_frequent(plain.iter().map(Vec::len))?;
    let frames: Vec<Vec<u8>> = plain.into_iter().filter(|frame| frame.len() == length).collect();
    let enough = frames.len() >= FEWEST && frames.len() as f64 >= MOST * packets.len() as f64;
    if !enough || !(SHORTEST_FRAME..=LONGEST_FRAME).contains(&length) {
        return None;
    }
    let constant = constant_front(&frames);
    let sync = frames.first()?.get(..constant.min(1))?.to_vec();
    Some(Framing { cobs: true, sync, length, frames, constant })
}

/// One way for each byte of the period that is always the same: each may be the first one.
fn synced(bytes: &[u8]) -> Vec<Framing> {
    let Some(length) = period(bytes) else { return Vec::new() };
    let Some(begin) = steadiest(bytes, length) else { return Vec::new() };
    let value = |phase: usize| {
        let mut column = (0..LOOKED_AT).filter_map(|row| bytes.get(begin + phase % length + row * length));
        let first = column.next()?;
        column.all(|byte| byte == first).then_some(*first)
    };
    let starts = (0..length).filter(|phase| value(*phase).is_some());
    starts
        .filter_map(|phase| {
            let sync: Vec<u8> = (phase..phase + LONGEST_SYNC).map_while(value).collect();
            let frames = cut(bytes, &sync, length);
            let enough = frames.len() >= FEWEST && (frames.len() * length) as f64 >= MOST * bytes.len() as f64;
            enough.then(|| Framing { cobs: false, constant: constant_front(&frames), sync, length, frames })
        })
        .collect()
}

/// The shortest distance at which bytes are the same nearly as often as at any other.
fn period(bytes: &[u8]) -> Option<usize> {
    let longest = LONGEST_FRAME.min(bytes.len() / FEWEST);
    let share = |lag: usize| {
        let later = bytes.get(lag..).unwrap_or_default();
        bytes.iter().zip(later).filter(|(a, b)| a == b).count() as f64 / later.len().max(1) as f64
    };
    let shares: Vec<(usize, f64)> = (SHORTEST_FRAME..=longest).map(|lag| (lag, share(lag))).collect();
    let best = shares.iter().map(|(_, share)| *share).fold(0.0, f64::max);
    shares.into_iter().find(|(_, share)| *share >= NEARLY * best).map(|(lag, _)| lag)
}

/// Where the first frames begin that are followed by their like without damage, as far as can be told.
fn steadiest(bytes: &[u8], length: usize) -> Option<usize> {
    let span = LOOKED_AT * length;
    let same: Vec<bool> = bytes.iter().zip(bytes.get(length..)?).map(|(a, b)| a == b).collect();
    let mut sum = same.get(..span)?.iter().filter(|same| **same).count();
    let (mut best, mut begin) = (sum, 0);
    for (at, (leaving, entering)) in same.iter().zip(same.get(span..)?).enumerate() {
        sum = sum + usize::from(*entering) - usize::from(*leaving);
        if sum > best {
            (best, begin) = (sum, at + 1);
        }
    }
    Some(begin)
}

/// The frames that begin with the sync bytes and are followed by them, or by the end.
fn cut(bytes: &[u8], sync: &[u8], length: usize) -> Vec<Vec<u8>> {
    let mut frames = Vec::new();
    let mut rest = bytes;
    while let Some((frame, behind)) = rest.split_at_checked(length) {
        let followed = behind.starts_with(sync)
            || sync.starts_with(behind.get(..sync.len().min(behind.len())).unwrap_or_default());
        if frame.starts_with(sync) && followed {
            frames.push(frame.to_vec());
            rest = behind;
        } else {
            rest = rest.get(1..).unwrap_or_default();
        }
    }
    frames
}

fn constant_front(frames: &[Vec<u8>]) -> usize {
    let Some((first, others)) = frames.split_first() else { return 0 };
    let same = |at: &usize| others.iter().filter(|frame| frame.get(*at) == first.get(*at)).count() as f64;
    (0..first.len()).take_while(|at| same(at) >= MOST * others.len() as f64).count()
}

fn most_frequent(values: impl Iterator<Item = usize>) -> Option<usize> {
    let mut counts: HashMap<usize, usize> = HashMap::new();
    values.for_each(|value| *counts.entry(value).or_default() += 1);
    counts.into_iter().max_by_key(|(value, count)| (*count, *value)).map(|(value, _)| value)
}
