//! Samples to lines by the stream's own encoders, and what can happen to a line on its way.

use super::noise::{LineFate, Random, Wire as Fates, WireSettings};
use super::scenario::{Profile, StreamSettings};
use crate::stream::Format;
use crate::stream::Profile as SensorProfile;
use crate::stream::codec::{Encoder, Frame, ModbusSlave, SentenceEncoder};

/// The line with what is to happen to it.
#[derive(Debug, Clone)]
pub(crate) struct Line {
    profile: Profile,
    encoder: Encoder,
    /// What 1 g is on the wire, where that is not the sensor's own counts.
    per_g: Option<f64>,
    slave: Option<ModbusSlave>,
    /// Whether a slave answers only when it is asked, and then with its latest sample.
    waits: bool,
    latest: Option<Frame>,
    broken_off: bool,
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
        let profile = SensorProfile::built_in(stream.profile.word());
        let mut random = Random::new(seed);
        let slave = profile.as_ref().and_then(|profile| match profile.format() {
            Format::Modbus(layout) => Some(ModbusSlave::new(layout.clone())),
            _ => None,
        });
        Self {
            profile: stream.profile,
            per_g: match stream.profile {
                Profile::Sentence | Profile::Frame => None,
                _ => profile.as_ref().map(SensorProfile::counts_per_g),
            },
            encoder: profile.map_or(Encoder::Sentence(SentenceEncoder), |profile| profile.encoder()),
            slave,
            waits: false,
            latest: None,
            broken_off: false,
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

    /// From now on a slave sends nothing unless it is asked.
    pub(crate) const fn wait_to_be_asked(&mut self) {
        self.waits = self.slave.is_some();
    }

    /// The power fails while a line is on its way: half of it stands before the next one.
    pub(crate) const fn break_off(&mut self) {
        self.broken_off = true;
        self.latest = None;
    }

    /// Answers what a slave is asked, once it has taken a sample.
    pub(crate) fn hear(&mut self, bytes: &[u8], out: &mut Vec<u8>) {
        let Some(latest) = self.latest else { return };
        let Some(mut slave) = self.slave.take() else { return };
        for owed in slave.hear(bytes) {
            self.put(&latest, out, |all| *all = slave.answer(owed, all));
        }
        self.slave = Some(slave);
    }

    /// Sends a frame of counts, or what becomes of it.
    pub(crate) fn send(&mut self, mut frame: Frame, counts_per_g: f64, out: &mut Vec<u8>) {
        if let Some(per_g) = self.per_g {
            frame.counts = frame.counts.map(|count| count * per_g / counts_per_g);
        }
        if self.waits {
            self.latest = Some(frame);
        } else {
            self.put(&frame, out, |_| {});
        }
    }

    /// Puts a frame's bytes on the line, shaped for who asked, or what becomes of them.
    fn put(&mut self, frame: &Frame, out: &mut Vec<u8>, shaped: impl Fn(&mut Vec<u8>)) {
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
        self.bytes.clear();
        self.encoder.encode(frame, &mut self.bytes);
        shaped(&mut self.bytes);
        if std::mem::take(&mut self.broken_off) {
            out.extend(self.bytes.iter().take(self.bytes.len() / 2));
        }
        if fate == LineFate::Damaged {
            self.spoil();
        }
        out.extend_from_slice(&self.bytes);
        if fate == LineFate::Repeated {
            out.extend_from_slice(&self.bytes);
        }
    }

    /// Puts a byte that belongs in no line in the place of one before the line's end, so that the damage shows in
    /// lines without a checksum too; in binary frames each bit of it is turned.
    fn spoil(&mut self) {
        let place = self.random.bits() as usize % self.bytes.len().saturating_sub(2).max(1);
        let bits = self.random.bits();
        let is_text = !matches!(self.profile, Profile::Frame | Profile::Modbus);
        if let Some(spoilt) = self.bytes.get_mut(place) {
            *spoilt = if is_text { [b'?', b'~', b'!', b'@'][bits as usize % 4] } else { !*spoilt };
        }
    }
}

const fn count_down(left: &mut u32) -> bool {
    let due = *left > 0;
    *left = left.saturating_sub(1);
    due
}
