//! Bytes to samples without any I/O: the codec, the stream's clock and the counting.

use super::clock::{FrameTrust, StreamClock};
use super::codec::{BadFrame, Codec, Decoded, Received, SensorFault};
use super::profile::Profile;
use crate::units::{Celsius, Sample, Seconds};
use bytes::BytesMut;
use serde::{Deserialize, Serialize};
use tokio_util::codec::Decoder;

/// What a stream has brought so far.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Counters {
    /// Whole frames, repeated ones included.
    pub good: u64,
    /// Frames that were damaged and skipped, by reason.
    pub bad: BadFrames,
    /// Samples that are missing by the stream's own counter; a damaged frame leaves such a gap too.
    pub lost: u64,
    /// How often the sensor's counter or clock began anew.
    pub restarts: u64,
    /// Faults of its accelerometer that the sensor reported, each counted once until samples come again.
    #[serde(default)]
    pub faults: u64,
    /// Bytes received.
    pub bytes: u64,
}

/// Skipped frames by reason.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct BadFrames {
    /// No start, or not the end that a frame must have.
    pub framing: u64,
    /// Wrong checksum.
    pub checksum: u64,
    /// A field that is missing, too many, or no number.
    pub field: u64,
    /// Longer than a line may be.
    pub too_long: u64,
    /// Whole by their checksum, but counter and clock contradict each other.
    pub doubtful: u64,
    /// Whole sentences of another kind, which are no damage.
    pub foreign: u64,
}

impl Counters {
    /// What came since an earlier count of the same stream.
    #[must_use]
    pub const fn since(&self, before: &Self) -> Self {
        Self {
            good: self.good - before.good,
            bad: BadFrames {
                framing: self.bad.framing - before.bad.framing,
                checksum: self.bad.checksum - before.bad.checksum,
                field: self.bad.field - before.bad.field,
                too_long: self.bad.too_long - before.bad.too_long,
                doubtful: self.bad.doubtful - before.bad.doubtful,
                foreign: self.bad.foreign - before.bad.foreign,
            },
            lost: self.lost - before.lost,
            restarts: self.restarts - before.restarts,
            faults: self.faults - before.faults,
            bytes: self.bytes - before.bytes,
        }
    }

    /// Damaged frames, whatever the reason.
    #[must_use]
    pub const fn damaged(&self) -> u64 {
        self.bad.framing + self.bad.checksum + self.bad.field + self.bad.too_long + self.bad.doubtful
    }
}

impl BadFrames {
    const fn count(&mut self, bad: BadFrame) {
        let counter = match bad {
            BadFrame::Framing => &mut self.framing,
            BadFrame::Checksum => &mut self.checksum,
            BadFrame::Field => &mut self.field,
            BadFrame::TooLong => &mut self.too_long,
            BadFrame::Foreign => &mut self.foreign,
            BadFrame::Fault(_) => return,
        };
        *counter += 1;
    }
}

/// Turns bytes into samples and counts what is damaged or lost.
#[derive(Debug)]
pub struct SampleDecoder {
    codec: Codec,
    clock: StreamClock,
    counters: Counters,
    /// What the sensor reported since the last sample.
    fault: Option<SensorFault>,
    /// A sample that comes right after one that was held.
    next: Option<Sample>,
}

impl SampleDecoder {
    /// A decoder for the profile's wire format, at the beginning of a stream.
    #[must_use]
    pub fn new(profile: &Profile) -> Self {
        Self { codec: profile.codec(), clock: profile.clock(), counters: Counters::default(), fault: None, next: None }
    }

    /// The same for a live stream, whose bytes come when they were sent.
    #[must_use]
    pub fn live(profile: &Profile) -> Self {
        let clock = if profile.rate_is_sure { profile.clock() } else { profile.clock().by_arrival() };
        Self { clock, ..Self::new(profile) }
    }

    /// All samples of a recording at once.
    #[must_use]
    pub fn all(profile: &Profile, bytes: &[u8]) -> (Vec<Sample>, Counters) {
        let (mut decoder, mut buffer) = (Self::new(profile), BytesMut::from(bytes));
        decoder.received(bytes.len());
        let now = Seconds::default();
        let mut samples = Vec::new();
        while let Some(sample) = decoder.next(&mut buffer, now) {
            samples.push(sample);
        }
        while let Some(sample) = decoder.last(&mut buffer, now) {
            samples.push(sample);
        }
        (samples, decoder.counters)
    }

    /// The next sample in `bytes`, which is consumed as far as it was understood; `None`: more bytes are needed.
    /// `arrival`, on any steady clock, is asked only where nothing in the stream tells the time.
    pub fn next(&mut self, bytes: &mut BytesMut, arrival: Seconds) -> Option<Sample> {
        if let Some(sample) = self.next.take() {
            return Some(sample);
        }
        loop {
            // The codecs never fail: what is damaged is an item.
            let decoded = self.codec.decode(bytes).ok().flatten()?;
            if let Some(sample) = self.take(decoded, arrival) {
                return Some(sample);
            }
        }
    }

    /// What the end of the stream leaves, one sample after the other: a last line without its line end, if it is proven
    /// whole.
    pub fn last(&mut self, bytes: &mut BytesMut, arrival: Seconds) -> Option<Sample> {
        if let Some(sample) = self.next.take() {
            return Some(sample);
        }
        while let Some(decoded) = self.codec.decode_eof(bytes).ok().flatten() {
            if let Some(sample) = self.take(decoded, arrival) {
                return Some(sample);
            }
        }
        self.counters.bad.doubtful += u64::from(self.clock.ends_in_doubt());
        None
    }

    fn take(&mut self, decoded: Decoded, arrival: Seconds) -> Option<Sample> {
        let frame = match decoded {
            Decoded::Frame(frame) => frame,
            Decoded::Bad(BadFrame::Fault(fault)) => {
                self.counters.faults += u64::from(self.fault.replace(fault).is_none());
                return None;
            }
            Decoded::Bad(bad) => {
                self.counters.bad.count(bad);
                return None;
            }
        };
        match self.clock.trust(&frame) {
            FrameTrust::Believe => Some(self.sample(&frame, arrival)),
            FrameTrust::Hold => None,
            FrameTrust::HeldWasDamaged => {
                self.counters.bad.doubtful += 1;
                Some(self.sample(&frame, arrival))
            }
            FrameTrust::HeldFirst(held) => {
                let first = self.sample(&held, arrival);
                self.next = Some(self.sample(&frame, arrival));
                Some(first)
            }
        }
    }

    fn sample(&mut self, frame: &Received, arrival: Seconds) -> Sample {
        let tick = self.clock.tick(frame, arrival);
        self.fault = None;
        self.counters.good += 1;
        self.counters.lost += u64::from(tick.lost_before);
        self.counters.restarts = self.clock.restarts;
        Sample {
            clock: tick.clock,
            counts: frame.counts,
            lost_before: tick.lost_before,
            temperature: frame.celsius.map(Celsius::new),
        }
    }

    /// Counts bytes received.
    pub const fn received(&mut self, bytes: usize) {
        self.counters.bytes += bytes as u64;
    }

    /// Goes on with a line that was opened again: what was half read is forgotten, clock and counters go on.
    pub fn rejoin(&mut self) {
        self.codec.rejoin();
        self.clock.rejoin();
    }

    /// What is wrong with the sensor by its own report, until it sends samples again.
    #[must_use]
    pub const fn fault(&self) -> Option<SensorFault> {
        self.fault
    }

    /// What came so far.
    #[must_use]
    pub const fn counters(&self) -> Counters {
        self.counters
    }
}
