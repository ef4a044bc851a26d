//! Raw samples as one compact run of bytes, exact to the last bit.
//!
//! Version 1, little endian throughout, no padding:
//!
//! | bytes | what |
//! | --- | --- |
//! | 1 | version, 1 |
//! | 8 | counts per g by the profile, `f64` |
//! | 4 | how many samples follow, `u32` |
//!
//! and then for each sample:
//!
//! | bytes | what |
//! | --- | --- |
//! | 1 | marks: bit 0 counts as `f64`, bit 1 samples were lost before this one, bit 2 a temperature |
//! | 8 | clock in seconds, `f64` |
//! | 12 or 24 | counts x, y, z: three `i32` where all are whole numbers in range, else three `f64` |
//! | 0 or 4 | samples lost before this one, `u32` |
//! | 0 or 8 | temperature in degrees Celsius, `f64` |
//!
//! A sample of whole counts without losses takes 21 bytes, with a temperature 29.
//! Nothing is guessed when reading: a wrong length, an unknown mark or another version is an error.

use crate::record::RawSamples;
use crate::units::{Celsius, Sample, Seconds};

const VERSION: u8 = 1;
const COUNTS_AS_FLOAT: u8 = 1;
const LOST: u8 = 2;
const TEMPERATURE: u8 = 4;
const MARKS: u8 = COUNTS_AS_FLOAT | LOST | TEMPERATURE;

/// The smallest sample there can be: marks, clock, three whole counts.
const SMALLEST: usize = 1 + 8 + 12;

/// Why bytes are no raw samples.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum SamplesError {
    /// Written by a later version of this layout.
    #[error("layout {0}")]
    Version(u8),
    /// Marks that this layout does not have.
    #[error("sample {0}: marks")]
    Marks(u32),
    /// Too few bytes.
    #[error("end after {0}")]
    Short(u32),
    /// Too many bytes.
    #[error("{0} extra bytes")]
    Long(usize),
}

/// The samples as bytes.
///
/// Beyond 2³² − 1 samples (eight months at 200 Hz) the rest is not written.
#[must_use]
pub(super) fn encode(raw: &RawSamples) -> Vec<u8> {
    let count = u32::try_from(raw.samples.len()).unwrap_or(u32::MAX);
    let mut bytes = Vec::with_capacity(1 + 8 + 4 + raw.samples.len() * (SMALLEST + 8));
    bytes.push(VERSION);
    bytes.extend(raw.counts_per_g.to_le_bytes());
    bytes.extend(count.to_le_bytes());
    for sample in raw.samples.iter().take(count as usize) {
        encode_one(sample, &mut bytes);
    }
    bytes
}

fn encode_one(sample: &Sample, bytes: &mut Vec<u8>) {
    let whole = whole_counts(sample.counts);
    let mark = |set: bool, mark: u8| if set { mark } else { 0 };
    bytes.push(
        mark(whole.is_none(), COUNTS_AS_FLOAT)
            | mark(sample.lost_before > 0, LOST)
            | mark(sample.temperature.is_some(), TEMPERATURE),
    );
    bytes.extend(sample.clock.value().to_le_bytes());
    match whole {
        Some(counts) => counts.iter().for_each(|count| bytes.extend(count.to_le_bytes())),
        None => sample.counts.iter().for_each(|count| bytes.extend(count.to_le_bytes())),
    }
    if sample.lost_before > 0 {
        bytes.extend(sample.lost_before.to_le_bytes());
    }
    if let Some(celsius) = sample.temperature {
        bytes.extend(celsius.value().to_le_bytes());
    }
}

/// The counts as whole numbers, where that gives back the very same bits (so not for −0.0, 0.5 or NaN).
fn whole_counts(counts: [f64; 3]) -> Option<[i32; 3]> {
    let whole = counts.map(|count| count as i32);
    let same = |(whole, count): (&i32, &f64)| f64::from(*whole).to_bits() == count.to_bits();
    whole.iter().zip(&counts).all(same).then_some(whole)
}

/// The samples in the bytes.
///
/// # Errors
/// When the bytes are not exactly what [`encode`] writes.
pub(super) fn decode(bytes: &[u8]) -> Result<RawSamples, SamplesError> {
    let mut rest = Bytes(bytes);
    let [version] = rest.take().ok_or(SamplesError::Short(0))?;
    if version != VERSION {
        return Err(SamplesError::Version(version));
    }
    let counts_per_g = rest.float().ok_or(SamplesError::Short(0))?;
    let count = u32::from_le_bytes(rest.take().ok_or(SamplesError::Short(0))?);
    // The count is believed only as far as the bytes go, so that a damaged one asks for no memory.
    let mut samples = Vec::with_capacity((count as usize).min(rest.0.len() / SMALLEST));
    for done in 0..count {
        let [marks] = rest.take().ok_or(SamplesError::Short(done))?;
        if marks & !MARKS != 0 {
            return Err(SamplesError::Marks(done + 1));
        }
        samples.push(decode_one(marks, &mut rest).ok_or(SamplesError::Short(done))?);
    }
    if rest.0.is_empty() { Ok(RawSamples { counts_per_g, samples }) } else { Err(SamplesError::Long(rest.0.len())) }
}

fn decode_one(marks: u8, rest: &mut Bytes<'_>) -> Option<Sample> {
    let clock = Seconds::new(rest.float()?);
    let counts = if marks & COUNTS_AS_FLOAT != 0 {
        [rest.float()?, rest.float()?, rest.float()?]
    } else {
        [rest.whole()?, rest.whole()?, rest.whole()?]
    };
    let lost_before = if marks & LOST != 0 { u32::from_le_bytes(rest.take()?) } else { 0 };
    let temperature = if marks & TEMPERATURE != 0 { Some(Celsius::new(rest.float()?)) } else { None };
    Some(Sample { clock, counts, lost_before, temperature })
}

/// The bytes not read yet.
struct Bytes<'a>(&'a [u8]);

impl Bytes<'_> {
    fn take<const N: usize>(&mut self) -> Option<[u8; N]> {
        let (first, rest) = self.0.split_first_chunk::<N>()?;
        self.0 = rest;
        Some(*first)
    }

    fn float(&mut self) -> Option<f64> {
        self.take().map(f64::from_le_bytes)
    }

    fn whole(&mut self) -> Option<f64> {
        self.take().map(|bytes| f64::from(i32::from_le_bytes(bytes)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn sample(counts: [f64; 3], lost_before: u32, temperature: Option<f64>) -> Sample {
        Sample { clock: Seconds::new(0.005), counts, lost_before, temperature: temperature.map(Celsius::new) }
    }

    fn bits(sample: &Sample) -> (u64, [u64; 3], u32, Option<u64>) {
        let temperature = sample.temperature.map(|celsius| celsius.value().to_bits());
        (sample.clock.value().to_bits(), sample.counts.map(f64::to_bits), sample.lost_before, temperature)
    }

    /// Written by hand from the table above, so that the layout cannot change unseen.
    #[test]
    fn the_layout_is_the_one_written_down() {
        let mut expected = vec![1, 0, 0, 0, 0, 0, 0, 0xD0, 0x40, 2, 0, 0, 0]; // 16384 counts per g, two samples
        expected.extend([0b100, 0, 0, 0, 0, 0, 0, 0xE0, 0x3F]); // 0.5 s
        expected.extend([0xFF, 0xFF, 0xFF, 0xFF, 0, 0x40, 0, 0, 0x10, 0, 0, 0]); // -1, 16384, 16
        expected.extend([0, 0, 0, 0, 0, 0, 0x35, 0x40]); // 21 degrees
        expected.extend([0b011, 0, 0, 0, 0, 0, 0, 0xF0, 0x3F]); // 1 s
        expected.extend([0, 0, 0, 0, 0, 0, 0xE0, 0x3F]); // 0.5 counts
        expected.extend([0; 16]);
        expected.extend([7, 0, 0, 0]);
        let mut samples = [sample([-1.0, 16384.0, 16.0], 0, Some(21.0)), sample([0.5, 0.0, 0.0], 7, None)];
        samples[0].clock = Seconds::new(0.5);
        samples[1].clock = Seconds::new(1.0);
        let raw = RawSamples { counts_per_g: 16384.0, samples: samples.into() };
        assert_eq!(encode(&raw), expected);
        assert_eq!(decode(&expected).unwrap(), raw);
    }

    #[test]
    fn a_plain_sample_takes_21_bytes() {
        let samples = vec![sample([12.0, -8000.0, 16384.0], 0, None); 400];
        assert_eq!(encode(&RawSamples { counts_per_g: 256.0, samples }).len(), 13 + 400 * 21);
    }

    #[test]
    fn what_is_not_whole_is_an_error() {
        let samples = vec![sample([1.0, 2.0, 3.0], 0, Some(20.0)), sample([0.5, 2.0, 3.0], 3, None)];
        let whole = encode(&RawSamples { counts_per_g: 1.0, samples });
        for length in 0..whole.len() {
            assert!(matches!(decode(&whole[..length]), Err(SamplesError::Short(_))), "{length}");
        }
        assert_eq!(decode(&[&whole[..], &[0]].concat()), Err(SamplesError::Long(1)));
        let header = |version, count: u32| [&[version][..], &[0; 8], &count.to_le_bytes()].concat();
        assert_eq!(decode(&header(2, 0)), Err(SamplesError::Version(2)));
        assert_eq!(decode(&[&header(1, 1)[..], &[8]].concat()), Err(SamplesError::Marks(1)));
        assert_eq!(decode(&header(1, u32::MAX)), Err(SamplesError::Short(0)));
    }

    /// A count is a whole number as often as not, and else any pattern of bits at all.
    fn any_count() -> impl Strategy<Value = f64> {
        prop_oneof![any::<i32>().prop_map(f64::from), any::<u64>().prop_map(f64::from_bits), Just(-0.0)]
    }

    prop_compose! {
        fn any_sample()(clock in any::<u64>(), counts in [any_count(), any_count(), any_count()],
                        lost_before in any::<u32>(), temperature in proptest::option::of(any::<u64>())) -> Sample {
            Sample {
                clock: Seconds::new(f64::from_bits(clock)),
                counts,
                lost_before,
                temperature: temperature.map(|bits| Celsius::new(f64::from_bits(bits))),
            }
        }
    }

    proptest! {
        #[test]
        fn every_sample_comes_back_bit_for_bit(
            samples in proptest::collection::vec(any_sample(), 0..40),
            counts_per_g in any::<u64>().prop_map(f64::from_bits),
        ) {
            let raw = RawSamples { counts_per_g, samples };
            let back = decode(&encode(&raw)).unwrap();
            prop_assert_eq!(back.counts_per_g.to_bits(), raw.counts_per_g.to_bits());
            let all_bits = |raw: &RawSamples| raw.samples.iter().map(bits).collect::<Vec<_>>();
            prop_assert_eq!(all_bits(&back), all_bits(&raw));
        }

        #[test]
        fn any_bytes_are_read_or_refused(mut bytes in proptest::collection::vec(any::<u8>(), 0..200), known in any::<bool>()) {
            if known && !bytes.is_empty() {
                bytes[0] = VERSION;
            }
            if let Ok(raw) = decode(&bytes) {
                prop_assert_eq!(decode(&encode(&raw)).unwrap().samples.len(), raw.samples.len());
            }
        }
    }
}
