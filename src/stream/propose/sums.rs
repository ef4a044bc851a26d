//! Which checksums of the catalogue fit frames, and over which bytes.

use super::{FEWEST, MOST};
use crate::codec::{Checksum, FrameChecksum};
use std::collections::HashSet;

/// The sum may leave out so many bytes at the front: the sync bytes, a type, a length.
const LEFT_OUT: usize = 4;
/// Most are refused by the first few frames already.
const FIRST_FEW: usize = 6;

/// The frames that differ from one another: the same frame again proves nothing more.
pub(super) fn distinct(frames: &[Vec<u8>]) -> Vec<&[u8]> {
    let mut seen = HashSet::new();
    frames.iter().map(Vec::as_slice).filter(|frame| seen.insert(*frame)).collect()
}

/// Every checksum at the end of the frame that most of the different frames agree with, those over the most bytes first.
pub(super) fn fitting(frames: &[&[u8]], length: usize) -> Vec<FrameChecksum> {
    if frames.len() < FEWEST {
        return Vec::new();
    }
    let ways = Checksum::KNOWN.iter().flat_map(|sum| {
        let orders: &[bool] = if sum.width() > 1 { &[false, true] } else { &[false] };
        orders.iter().flat_map(move |big_endian| {
            let at = length.saturating_sub(sum.width());
            (0..=LEFT_OUT.min(at.saturating_sub(1))).map(move |from| FrameChecksum {
                sum: *sum,
                at,
                from,
                big_endian: *big_endian,
            })
        })
    });
    let mut fitting: Vec<FrameChecksum> = ways.filter(|way| fits(way, frames)).collect();
    fitting.sort_by_key(|way| way.from);
    fitting
}

fn fits(way: &FrameChecksum, frames: &[&[u8]]) -> bool {
    let good = |frames: &[&[u8]]| frames.iter().filter(|frame| way.stands_in(frame) == Some(true)).count() as f64;
    let first = frames.get(..FIRST_FEW).unwrap_or(frames);
    good(first) >= MOST * first.len() as f64 && good(frames) >= MOST * frames.len() as f64
}
