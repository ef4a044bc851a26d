//! Which profile a sensor speaks, at which baud, found by listening and asking.
//!
//! A profile fits when most of what is heard is good frames of it, gravity reads what it must, and no other profile's frames
//! are among them. Else nothing fits, and what was seen is told instead.

mod judge;
mod serial;

pub use judge::Evidence;
pub(super) use judge::counts_per_g_of;
pub use serial::SerialLine;

use super::codec::Refusal;
use super::error::StreamError;
use super::ports::Parity;
use super::profile::{Format, Overrides, Profile};
use super::recognise::{is_text, shown};
use std::future::Future;
use std::time::Duration;

/// The most usual one first, then the others by how often sensors have them [common practice, no source].
pub const USUAL_BAUDS: [u32; 10] = [115_200, 9600, 57_600, 38_400, 19_200, 4800, 230_400, 460_800, 921_600, 1_000_000];
/// A line on which less than this comes by itself, in bytes a second, is not one on which a sensor talks: it may be asked.
const QUIET: f64 = 20.0;
/// After so many bauds without a byte the line is silent at all of them.
const SILENT_AFTER: usize = 2;
/// How long a slave is asked at each baud and parity.
const ASKED_FOR: Duration = Duration::from_millis(500);

/// What was heard.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Heard {
    /// The bytes, in their order.
    pub bytes: Vec<u8>,
    /// In how many seconds; none of a recording.
    pub seconds: Option<f64>,
}

/// A serial line, or what stands for one.
pub trait Line: Send {
    /// Listens for so long.
    fn listen(
        &mut self,
        baud: u32,
        parity: Parity,
        within: Duration,
    ) -> impl Future<Output = Result<Heard, StreamError>> + Send;

    /// Sends the profile's request again and again for so long, and listens.
    fn ask(&mut self, profile: &Profile, within: Duration) -> impl Future<Output = Result<Heard, StreamError>> + Send;
}

/// What was seen at one baud.
#[derive(Debug, Clone, PartialEq)]
pub struct Seen {
    /// Bits a second.
    pub baud: u32,
    /// How many bytes came.
    pub bytes: usize,
    /// Whether they read like text.
    pub is_text: bool,
    /// The first of them, as text or in hexadecimal.
    pub shown: String,
    /// The profiles of which there was at least one good frame, the best first.
    pub evidence: Vec<Evidence>,
    /// What a slave answered that was asked, and refused.
    pub refusal: Option<Refusal>,
}

/// What it comes to.
#[derive(Debug, Clone, PartialEq)]
pub enum Verdict {
    /// This one fits.
    Fits(Box<Evidence>),
    /// Frames of several kinds come on one line: none of them fits.
    Mixed(Vec<Evidence>),
    /// Bytes come, and none fits.
    NoneFits,
    /// Not a byte came.
    Silent,
}

/// The verdict, and what was seen at each baud.
#[derive(Debug, Clone, PartialEq)]
pub struct Identity {
    /// What it comes to.
    pub verdict: Verdict,
    /// What was seen on the way to it, in the order in which it was tried.
    pub seen: Vec<Seen>,
}

/// Listens at each baud for so long, then asks, until one of the profiles fits.
///
/// # Errors
/// When the line cannot be opened or breaks.
pub async fn identify(
    line: &mut impl Line,
    candidates: &[Profile],
    bauds: &[u32],
    within: Duration,
) -> Result<Identity, StreamError> {
    let mut seen: Vec<Seen> = Vec::new();
    let (asked, talking): (Vec<&Profile>, Vec<&Profile>) = candidates.iter().partition(|p| p.request().is_some());
    let mut loudest: f64 = 0.0;
    for baud in bauds {
        let heard = line.listen(*baud, Parity::None, within).await?;
        loudest = loudest.max(heard.bytes.len() as f64 / heard.seconds.unwrap_or(1.0).max(0.1));
        let at_baud: Vec<Profile> = talking.iter().filter_map(|profile| at(profile, *baud, Parity::None)).collect();
        seen.push(Seen::of(*baud, &heard, &at_baud));
        if let Some(verdict) = seen.last().and_then(Seen::verdict) {
            return Ok(Identity { verdict, seen });
        }
        if seen.len() >= SILENT_AFTER && seen.iter().all(|seen| seen.bytes == 0) {
            break;
        }
    }
    if loudest < QUIET {
        for (profile, baud, parity) in ways_to_ask(&asked, bauds) {
            let Some(profile) = at(profile, baud, parity) else { continue };
            let heard = line.ask(&profile, ASKED_FOR).await?;
            if heard.bytes.is_empty() {
                continue;
            }
            seen.push(Seen::of(baud, &heard, std::slice::from_ref(&profile)));
            if let Some(verdict) = seen.last().and_then(Seen::verdict) {
                return Ok(Identity { verdict, seen });
            }
        }
    }
    let silent = seen.iter().all(|seen| seen.bytes == 0);
    Ok(Identity { verdict: if silent { Verdict::Silent } else { Verdict::NoneFits }, seen })
}

/// What a recording says, which has no baud.
#[must_use]
pub fn identify_recording(bytes: Vec<u8>, candidates: &[Profile]) -> Identity {
    let heard = Heard { bytes, seconds: None };
    let seen = Seen::of(0, &heard, candidates);
    let otherwise = if seen.bytes == 0 { Verdict::Silent } else { Verdict::NoneFits };
    Identity { verdict: seen.verdict().unwrap_or(otherwise), seen: vec![seen] }
}

/// Each profile first as it is, then at the usual bauds, without and with parity.
fn ways_to_ask<'a>(asked: &[&'a Profile], bauds: &[u32]) -> Vec<(&'a Profile, u32, Parity)> {
    let own = asked.iter().filter(|profile| bauds.contains(&profile.baud()));
    let mut ways: Vec<(&Profile, u32, Parity)> =
        own.map(|profile| (*profile, profile.baud(), profile.parity())).collect();
    for baud in bauds {
        for parity in [Parity::None, Parity::Even] {
            let others = asked.iter().map(|profile| (*profile, *baud, parity));
            ways.extend(others.filter(|(profile, ..)| (profile.baud(), profile.parity()) != (*baud, parity)));
        }
    }
    ways
}

/// The profile at another baud.
fn at(profile: &Profile, baud: u32, parity: Parity) -> Option<Profile> {
    let changed = profile.clone().with(Overrides { baud: Some(baud), ..Overrides::default() }).ok()?;
    Some(changed.with_parity(parity))
}

impl Seen {
    fn of(baud: u32, heard: &Heard, candidates: &[Profile]) -> Self {
        let judged = candidates.iter().filter_map(|profile| Evidence::of(profile, &heard.bytes, heard.seconds));
        let mut evidence: Vec<Evidence> = judged.collect();
        evidence.sort_by(|a, b| b.share.total_cmp(&a.share));
        let refusal = candidates.iter().find_map(|profile| match profile.format() {
            Format::Modbus(layout) => layout.refusal(&heard.bytes),
            _ => None,
        });
        Self {
            baud,
            bytes: heard.bytes.len(),
            is_text: !heard.bytes.is_empty() && is_text(&heard.bytes),
            shown: shown(&heard.bytes),
            evidence,
            refusal,
        }
    }

    /// What it comes to, if that much is clear.
    fn verdict(&self) -> Option<Verdict> {
        let there: Vec<&Evidence> = self.evidence.iter().filter(|evidence| evidence.is_there()).collect();
        // Two descriptions of one format may both fit the same bytes: only another format is another sensor.
        let formats = |evidence: &Evidence| std::mem::discriminant(evidence.profile.format());
        let best = there.first()?;
        if there.iter().any(|other| formats(other) != formats(best)) {
            return Some(Verdict::Mixed(there.into_iter().cloned().collect()));
        }
        let fits = there.iter().find(|evidence| evidence.has_the_form() && evidence.gravity_fits)?;
        Some(Verdict::Fits(Box::new((*fits).clone())))
    }
}
