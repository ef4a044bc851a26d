//! A sensor at the other end of a pseudo-terminal, which notes when it wrote each line.

use clinoblade::stream::codec::{Frame, SentenceEncoder};
use std::fs::File;
use std::io::Write;
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;
use std::time::{Duration, Instant, SystemTime};
use support::port::pseudo_terminal;

/// When each line was written, by the clock that all processes share.
#[derive(Clone, Default)]
pub struct Sent(Arc<Mutex<Vec<SystemTime>>>);

impl Sent {
    /// Milliseconds from the line that stands at this time of the stream to `now`; none where no such line was sent.
    pub fn late(&self, clock: f64, rate: f64, now: SystemTime) -> Option<f64> {
        let place = (clock * rate).round() as usize;
        let sent = self.0.lock().expect("the list").get(place).copied()?;
        now.duration_since(sent).ok().map(|late| late.as_secs_f64() * 1e3)
    }
}

/// A sensor that waits to be started.
pub struct Sensor {
    wire: File,
    pub path: String,
    pub sent: Sent,
    rate: f64,
    seconds: u32,
}

impl Sensor {
    pub fn new(rate: f64, seconds: u32) -> Self {
        let (wire, path) = pseudo_terminal();
        Self { wire, path, sent: Sent::default(), rate, seconds }
    }

    /// Writes a line every period, a blade that rocks slowly. The port must be open already: the stream's zero is the first line.
    pub fn start(mut self) -> JoinHandle<()> {
        std::thread::spawn(move || {
            let begun = Instant::now();
            for n in 0..(self.rate * f64::from(self.seconds)) as u32 {
                let at = f64::from(n) / self.rate;
                let due = begun + Duration::from_secs_f64(at);
                std::thread::sleep(due.saturating_duration_since(Instant::now()));
                let (sin, cos) = (0.1 * at.sin()).sin_cos();
                let counts = [(16_384.0 * sin).round(), 0.0, (16_384.0 * cos).round()];
                let frame = Frame { seq: n as u16, micros: (at * 1e6).round() as u32, counts, celsius: None };
                let mut line = Vec::new();
                SentenceEncoder.encode(&frame, &mut line);
                self.sent.0.lock().expect("the list").push(SystemTime::now());
                self.wire.write_all(&line).expect("the wire");
            }
            // What was written last is read before the line falls silent.
            std::thread::sleep(Duration::from_secs(1));
        })
    }
}
