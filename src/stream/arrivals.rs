//! Time out of the arrival of bytes, which come in bunches: a steady tick whose period is counted out over the arrivals, and
//! which follows them slowly. [`super::clock`] asks it where the stream itself tells no time.

use crate::units::Seconds;

/// The tick so far.
#[derive(Debug)]
pub(super) struct Arrivals {
    /// The period while nothing was counted yet, microseconds.
    usual: f64,
    /// When the first frame came.
    first: Option<f64>,
    /// From where it is counted: when, and which frame. What waited in the line's buffer when it was opened came all at once,
    /// and is not counted.
    from: Option<(f64, f64)>,
    /// Where the tick stood, and when, as the count was first believed: from there on it follows the arrivals.
    anchor: Option<(f64, f64)>,
    last: f64,
    frames: f64,
    at: f64,
}

impl Arrivals {
    /// So long after the first frame the counting begins, and so long it must have lasted to be believed, microseconds.
    const COUNTED_AFTER: f64 = 300_000.0;
    /// Nothing for so long is a break of the line, not a bunch.
    const BREAK: f64 = 500_000.0;
    /// How quickly the tick follows the arrivals, and by what share of a period at most.
    const FOLLOWS: f64 = 0.02;
    const BENDS: f64 = 0.2;

    pub(super) const fn new(usual: f64) -> Self {
        Self { usual, first: None, from: None, anchor: None, last: 0.0, frames: 0.0, at: 0.0 }
    }

    /// Microseconds since the tick before.
    pub(super) fn step(&mut self, arrival: Seconds) -> f64 {
        let now = arrival.value() * 1e6;
        let pause = now - std::mem::replace(&mut self.last, now);
        self.frames += 1.0;
        let Some(first) = self.first else {
            self.first = Some(now);
            return 0.0;
        };
        if pause > Self::BREAK {
            return self.after_a_break(pause);
        }
        if self.from.is_none() && now - first >= Self::COUNTED_AFTER {
            self.from = Some((now, self.frames));
        }
        let step = match self.from {
            Some((since, frames)) if now - since >= Self::COUNTED_AFTER && self.frames > frames => {
                let period = (now - since) / (self.frames - frames);
                let (then, at) = *self.anchor.get_or_insert((now, self.at + period));
                let behind = at + (now - then) - (self.at + period);
                period + (Self::FOLLOWS * behind).clamp(-Self::BENDS * period, Self::BENDS * period)
            }
            _ => self.usual,
        };
        self.at += step;
        step
    }

    /// The clock makes up for the break, and counting begins anew with the period known so far.
    fn after_a_break(&mut self, pause: f64) -> f64 {
        if let Some((since, frames)) = self.from
            && self.frames - 1.0 > frames
        {
            self.usual = (self.last - pause - since) / (self.frames - 1.0 - frames);
        }
        self.first = Some(self.last);
        (self.from, self.anchor) = (None, None);
        self.at += pause;
        pause
    }
}
