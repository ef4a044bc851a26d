//! A sensor that sends for hours at 400 Hz while one line in a hundred is damaged, made as it is read.

use clinoblade::rig::noise::Random;
use clinoblade::stream::codec::{Frame, SentenceEncoder};
use clinoblade::stream::{Counters, Options, Origin, Overrides, Profile, SampleStream};
use clinoblade::units::Hertz;
use std::pin::Pin;
use std::task::{Context, Poll};
use tokio::io::{AsyncRead, ReadBuf};

const RATE_HZ: u32 = 400;
const PERIOD_MICROS: u32 = 1_000_000 / RATE_HZ;
/// One line in so many is damaged.
const DAMAGED_ONE_IN: u64 = 100;
/// The sensor's clock begins a minute before it wraps.
const FIRST_MICROS: u32 = u32::MAX - 60_000_000;

/// What was sent.
#[derive(Debug, Default)]
pub struct Sent {
    pub lines: u64,
    pub damaged: u64,
    pub bytes: u64,
}

/// The bytes of such a sensor; the last ones end the stream.
pub struct Sensor {
    random: Random,
    left: u64,
    sent: Sent,
    line: Vec<u8>,
    at: usize,
    report: std::sync::mpsc::Sender<Sent>,
}

impl Sensor {
    /// Writes the next line; false when all are sent.
    fn write_line(&mut self) -> bool {
        if self.left == 0 {
            return false;
        }
        let n = self.sent.lines;
        let noise = |random: &mut Random| (random.bits() % 9) as f64 - 4.0;
        let counts = [2000.0, -100.0, 16_260.0].map(|count| count + noise(&mut self.random));
        let micros = FIRST_MICROS.wrapping_add((n as u32).wrapping_mul(PERIOD_MICROS));
        let celsius = n.is_multiple_of(400).then_some(21.5);
        self.line.clear();
        self.at = 0;
        SentenceEncoder.encode(&Frame { seq: n as u16, micros, counts, celsius }, &mut self.line);
        // A gap shows between two good lines: the first and the last one stay whole.
        if n > 0 && self.left > 1 && self.random.bits().is_multiple_of(DAMAGED_ONE_IN) {
            let body = self.line.iter().position(|byte| *byte == b'*').unwrap() - 1;
            let place = 1 + self.random.bits() as usize % body;
            // One bit of one byte, which an XOR checksum always finds, and which makes no `$`, `*` or line end of any other.
            self.line[place] ^= 0x40;
            self.sent.damaged += 1;
        }
        self.sent.lines += 1;
        self.sent.bytes += self.line.len() as u64;
        self.left -= 1;
        if self.left == 0 {
            // Who wanted to know may have gone.
            let _ = self.report.send(std::mem::take(&mut self.sent));
        }
        true
    }
}

impl AsyncRead for Sensor {
    fn poll_read(mut self: Pin<&mut Self>, _: &mut Context<'_>, buffer: &mut ReadBuf<'_>) -> Poll<std::io::Result<()>> {
        while buffer.remaining() > 0 {
            if self.at == self.line.len() && !self.write_line() {
                break;
            }
            let count = buffer.remaining().min(self.line.len() - self.at);
            buffer.put_slice(&self.line[self.at..self.at + count]);
            self.at += count;
        }
        Poll::Ready(Ok(()))
    }
}

/// What came of so many hours.
#[derive(Debug)]
pub struct Soaked {
    pub sent: Sent,
    pub counters: Counters,
    /// The clock of the last sample in seconds.
    pub last_clock: f64,
    /// Memory in use, in KiB, at each tenth of the way, where the system tells.
    pub memory: Vec<Option<u64>>,
}

/// Replays so many hours as fast as it goes.
pub async fn soak(hours: f64, seed: u64) -> Soaked {
    let lines = (hours * 3600.0 * f64::from(RATE_HZ)) as u64;
    let (report, reported) = std::sync::mpsc::channel();
    let sensor =
        Sensor { random: Random::new(seed), left: lines, sent: Sent::default(), line: Vec::new(), at: 0, report };
    let rate = Some(Hertz::new(f64::from(RATE_HZ)));
    let profile = Profile::sentence().with(Overrides { rate, ..Overrides::default() }).unwrap();
    let origin = Origin::Log("hours of stream".to_owned());
    let mut stream = SampleStream::from_reader(origin, sensor, &profile, &Options::default()).unwrap();
    let (mut memory, mut last_clock) = (Vec::new(), 0.0);
    while let Some(sample) = stream.next().await.unwrap() {
        last_clock = sample.clock.value();
        if last_clock * 10.0 >= hours * 3600.0 * (memory.len() + 1) as f64 {
            memory.push(resident());
        }
    }
    memory.push(resident());
    Soaked { sent: reported.recv().unwrap(), counters: stream.counters(), last_clock, memory }
}

impl Soaked {
    /// Every line is counted for what it was, and the time is what the sensor's clock said.
    pub fn is_exact(&self) -> bool {
        let Counters { good, bad, lost, restarts, faults, bytes } = self.counters;
        let seconds = (self.sent.lines - 1) as f64 / f64::from(RATE_HZ);
        good == self.sent.lines - self.sent.damaged
            && self.counters.damaged() == self.sent.damaged
            && lost == self.sent.damaged
            && (bad.foreign, restarts, faults) == (0, 0, 0)
            && bytes == self.sent.bytes
            && (self.last_clock - seconds).abs() < 1e-3
    }

    /// By how many KiB the memory grew from the first tenth to the end.
    pub fn growth(&self) -> Option<i64> {
        let (first, last) = (self.memory.first().copied()??, self.memory.last().copied()??);
        Some(last as i64 - first as i64)
    }
}

/// Resident memory of this process in KiB.
fn resident() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    status.lines().find_map(|line| line.strip_prefix("VmRSS:")?.trim().strip_suffix(" kB")?.trim().parse().ok())
}
