//! Whether bytes fit a profile, by their frames, by gravity, and by nothing else fitting as well.

use crate::codec::{LONGEST_LINE, cobs};
use crate::decoder::{Counters, SampleDecoder};
use crate::profile::{Format, Overrides, Profile};
use crate::stats::robust::median_of;
use crate::units::{Gravities, Hertz, Sample, Seconds};
use bytes::BytesMut;

/// Fewer good frames prove nothing.
const FEWEST_FRAMES: u64 = 5;
/// Less of what was heard than this in good frames is not this sensor.
const LEAST_SHARE: f64 = 0.6;
/// So many frames of another kind, in such a share, are another sensor on the same line.
const OTHERS_FRAMES: u64 = 3;
const OTHERS_SHARE: f64 = 0.05;
/// A resting accelerometer that has never been calibrated reads 1 g as well as this.
const GRAVITY_WITHIN: f64 = 0.25;
/// And counts per g are told apart as well as this, which offsets of 0.1 g leave room for.
const COUNTS_WITHIN: f64 = 0.12;
/// Numbers in g, in mg and in m/s², and counts per g that chips of 20 bits have [common practice, no source]; besides these all powers
/// of two.
const USUAL_COUNTS: [f64; 5] = [1.0, 1000.0, 9.806_65, 256_000.0, 64_000.0];
const POWERS_OF_TWO: std::ops::RangeInclusive<i32> = 6..=22;

/// What bytes say for a profile.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// The profile, with the counts per g that gravity shows.
    pub profile: Profile,
    /// Good frames.
    pub good: u64,
    /// The share of what was heard that is good frames, 0 to 1.
    pub share: f64,
    /// Gravity, the median length of the force; 1 g always of a sensor of angles.
    pub gravity: Gravities,
    /// Samples a second: by the sensor's clock, else by how many came.
    pub rate: Option<Hertz>,
    /// Whether gravity is what it must be.
    pub gravity_fits: bool,
    /// An axis at the end of its range, which shows no gravity.
    pub at_the_end: Option<char>,
}

impl Evidence {
    /// What the bytes that were heard in so many seconds say for the profile; none where not one frame is good.
    pub(super) fn of(profile: &Profile, bytes: &[u8], seconds: Option<f64>) -> Option<Self> {
        let bytes = from_the_first_frame(profile, bytes)?;
        let (samples, counters) = SampleDecoder::all(profile, bytes);
        let length = median_of(samples.iter().map(|sample| sample.counts.iter().map(|n| n * n).sum::<f64>().sqrt()))?;
        let at_the_end = at_the_end(profile, &samples);
        let (counts_per_g, gravity_fits) = match at_the_end {
            Some(_) => (profile.counts_per_g(), false),
            None => counts_per_g(profile, length),
        };
        let profile =
            profile.clone().with(Overrides { counts_per_g: Some(counts_per_g), ..Overrides::default() }).ok()?;
        Some(Self {
            good: counters.good,
            share: share(&profile, bytes, &counters),
            gravity: Gravities::new(length / counts_per_g),
            rate: rate(&profile, &samples, seconds),
            gravity_fits,
            at_the_end,
            profile,
        })
    }

    /// Whether it looks like this sensor's stream, whatever gravity reads.
    #[must_use]
    pub fn has_the_form(&self) -> bool {
        self.good >= FEWEST_FRAMES && self.share >= LEAST_SHARE
    }

    /// Whether there is at least another sensor of this kind among what was heard.
    pub(super) fn is_there(&self) -> bool {
        self.good >= OTHERS_FRAMES && self.share >= OTHERS_SHARE
    }
}

/// The axis that stands at the end of its range in most samples, or at the end of the numbers of 16, 20 or 24 bits.
fn at_the_end(profile: &Profile, samples: &[Sample]) -> Option<char> {
    let ends = |count: f64| {
        let is_last = |bits: i32| count == 2f64.powi(bits) - 1.0 || count == -(2f64.powi(bits));
        profile.full_scale().is_some() && count.fract() == 0.0 && [15, 19, 23].into_iter().any(is_last)
            || profile.full_scale().is_some_and(|full| count.abs() >= full)
    };
    let axis =
        (0..3).find(|axis| 2 * samples.iter().filter(|sample| ends(sample.counts[*axis])).count() > samples.len())?;
    Some(['x', 'y', 'z'][axis])
}

/// What came behind the first good frame: what a board says before it measures, and what the line says before that, tells
/// nothing of the sensor.
fn from_the_first_frame<'a>(profile: &Profile, bytes: &'a [u8]) -> Option<&'a [u8]> {
    let (mut decoder, mut buffer) = (SampleDecoder::new(profile), BytesMut::from(bytes));
    decoder.next(&mut buffer, Seconds::default())?;
    bytes.get(bytes.len() - buffer.len()..)
}

/// The share of what was heard that good frames make up.
fn share(profile: &Profile, bytes: &[u8], counters: &Counters) -> f64 {
    let good = counters.good as f64;
    let all = match profile.format() {
        // Every line is judged: a sentence of another kind is none of this sensor's.
        Format::Sentence | Format::Xdr(_) => good + counters.damaged() as f64,
        // Headings are passed over without a word: here each line counts. The first one may be half a line.
        Format::Columns(_) | Format::Labelled(_) => {
            let lines = bytes.split(|byte| *byte == b'\n').skip(1).filter(|line| !line.trim_ascii().is_empty());
            lines.map(|line| 1.0 + (line.len() / LONGEST_LINE) as f64).sum()
        }
        Format::Frame(layout) if layout.cobs => (bytes.len() / (cobs::longest(layout.length) + 1)) as f64,
        Format::Frame(layout) => (bytes.len() / layout.length) as f64,
        Format::Modbus(layout) => (bytes.len() / layout.answer().length) as f64,
    };
    // What lies between binary frames may be short, and is damage all the same.
    let sound = good / (good + counters.damaged() as f64).max(1.0);
    (good / all.max(1.0)).min(sound)
}

/// Samples a second.
fn rate(profile: &Profile, samples: &[Sample], seconds: Option<f64>) -> Option<Hertz> {
    let count = samples.len() as f64;
    if profile.has_clock() {
        let (first, last) = (samples.first()?, samples.last()?);
        let lost: u32 = samples.iter().skip(1).map(|sample| sample.lost_before).sum();
        let time = (last.clock - first.clock).value();
        return (time > 0.0).then(|| Hertz::new((count - 1.0 + f64::from(lost)) / time));
    }
    seconds.filter(|seconds| *seconds > 0.0).map(|seconds| Hertz::new(count / seconds))
}

/// The counts per g under which gravity reads 1 g, and whether they are the profile's own or usual ones.
fn counts_per_g(profile: &Profile, length: f64) -> (f64, bool) {
    let own = profile.counts_per_g();
    if profile.is_angle_only() || (length / own - 1.0).abs() <= GRAVITY_WITHIN {
        return (own, true);
    }
    match counts_per_g_of(length) {
        (usual, true) => (usual, true),
        _ => (own, false),
    }
}

/// The usual counts per g that gravity of this length is nearest to, and whether it is near.
pub(crate) fn counts_per_g_of(length: f64) -> (f64, bool) {
    let usual = USUAL_COUNTS.into_iter().chain(POWERS_OF_TWO.map(|power| 2f64.powi(power)));
    let nearest = usual.min_by(|a, b| (length / a).ln().abs().total_cmp(&(length / b).ln().abs())).unwrap_or(1.0);
    (nearest, (length / nearest - 1.0).abs() <= COUNTS_WITHIN)
}
