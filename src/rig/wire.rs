//! Samples to lines by the stream's own encoders, and what can happen to a line on its way.

use super::noise::{LineFate, Random, Wire as Fates, WireSettings};
use super::scenario::{Profile, StreamSettings};
use crate::stream::Profile as SensorProfile;
use crate::stream::codec::{Encoder, Frame, SentenceEncoder};

/// The line with what is to happen to it.
#[derive(Debug, Clone)]
pub(crate) struct Line {
    profile: Profile,
    encoder: Encoder,
    settings: WireSettings,
    fates: Fates,
    random: Random,
    lose_next: u32,
    repeat_next: u32,
    garbage_next: u32,
    bytes: Vec<u8>,
}

impl Line {
    pub(crate) fn new(stream: &StreamSettings, seed: u64) -> Self {
        let settings = WireSettings {
            lost: stream.loss_percent.value() / 100.0,
            damaged: stream.damage_percent.value() / 100.0,
            repeated: stream.repeat_percent.value() / 100.0,
        };
        let profile = SensorProfile::built_in(stream.profile.name());
        let mut random = Random::new(seed);
        Self {
            profile: stream.profile,
            encoder: profile.map_or(Encoder::Sentence(SentenceEncoder), |profile| profile.encoder()),
            settings,
            fates: Fates::new(settings, random.bits()),
            random,
            lose_next: 0,
            repeat_next: 0,
            garbage_next: 0,
            bytes: Vec::new(),
        }
    }

    /// Damages this share (0 to 1) of lines from now on.
    pub(crate) fn damage(&mut self, share: f64) {
        self.settings.damaged = share;
        self.fates = Fates::new(self.settings, self.random.bits());
    }

    /// Does not send the next lines.
    pub(crate) const fn lose(&mut self, lines: u32) {
        self.lose_next = lines;
    }

    /// Sends the next lines twice.
    pub(crate) const fn repeat(&mut self, lines: u32) {
        self.repeat_next = lines;
    }

    /// Sends bytes that mean nothing before the next line.
    pub(crate) const fn garbage(&mut self, bytes: u32) {
        self.garbage_next = bytes;
    }

    /// Sends a frame of counts, or what becomes of it.
    pub(crate) fn send(&mut self, mut frame: Frame, counts_per_g: f64, out: &mut Vec<u8>) {
        for _ in 0..std::mem::take(&mut self.garbage_next) {
            out.push(self.random.bits() as u8);
        }
        let mut fate = self.fates.next_fate();
        if count_down(&mut self.repeat_next) {
            fate = LineFate::Repeated;
        }
        if count_down(&mut self.lose_next) {
            fate = LineFate::Lost;
        }
        if fate == LineFate::Lost {
            return;
        }
        if self.profile != Profile::Sentence {
            frame.counts = frame.counts.map(|count| count / counts_per_g);
        }
        self.bytes.clear();
        self.encoder.encode(&frame, &mut self.bytes);
        if fate == LineFate::Damaged {
            self.spoil();
        }
        out.extend_from_slice(&self.bytes);
        if fate == LineFate::Repeated {
            out.extend_from_slice(&self.bytes);
        }
    }

    /// Puts a byte that belongs in no line in the place of one before the line's end, so that the damage shows in
    /// lines without a checksum too.
    fn spoil(&mut self) {
        let place = self.random.bits() as usize % self.bytes.len().saturating_sub(2).max(1);
        let byte = [b'?', b'~', b'!', b'@'][self.random.bits() as usize % 4];
        if let Some(spoilt) = self.bytes.get_mut(place) {
            *spoilt = byte;
        }
    }
}

const fn count_down(left: &mut u32) -> bool {
    let due = *left > 0;
    *left = left.saturating_sub(1);
    due
}
