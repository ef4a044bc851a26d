//! The blade at this moment.

use crate::filter::Progress;
use crate::guide::{Guide, Moment};
use crate::record::trade;
use crate::rotor::{Clip, Place, Visibility, up_from_reading};
use crate::sensor::SensorFault;
use crate::stream::Counters;
use crate::units::{Angle, Hertz, Seconds};
use crate::words::{Face, Say};
use crate::{LiveReading, SetupHandle, Taken};
use serde::Serialize;

/// An onlooker's eye follows no more of them a second.
const APART: Seconds = Seconds::new(1.0 / 30.0);
/// Within so much a blade has not moved.
const SAME_DEGREES: f64 = 0.3;

/// The blade at this moment, as onlookers see it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Live {
    /// Seconds on the stream's clock.
    pub clock_s: f64,
    /// The blade angle against its datum; none where gravity cannot show it.
    pub angle_deg: Option<f64>,
    /// What it has moved from the neutral, positive in the commanded direction.
    pub travel_deg: Option<f64>,
    /// How far the samples scatter so far: twice the standard uncertainty of their mean.
    pub scatter_deg: Option<f64>,
    /// Inclination of the span.
    pub span_deg: f64,
    /// Whether the blade moves.
    pub moving: bool,
    /// How long it has been still, seconds.
    pub still_s: f64,
    /// The share of the step's hold that has passed, 0 to 1.
    pub hold: f64,
    /// Whether a servo buzzes.
    pub buzz: bool,
    /// Why there is no angle.
    pub said: Option<String>,
    /// The sensor's temperature.
    pub temperature_c: Option<f64>,
}

/// The line is judged by what it brought in so much of the stream's time.
const JUDGED_OVER: Seconds = Seconds::new(2.0);
/// A line of which more than this share comes damaged is warned of, until less than the other does.
const DAMAGED: f64 = 0.5;
const BETTER: f64 = 0.4;
/// Fewer damaged frames are an accident.
const FEWEST_DAMAGED: u64 = 10;

/// How much of what came lately was damaged.
#[derive(Debug, Default)]
struct Damage {
    since: Option<(Seconds, Counters)>,
    warning: Option<String>,
}

impl Damage {
    fn see(&mut self, clock: Seconds, counters: Counters) {
        let (begun, before) = *self.since.get_or_insert((clock, counters));
        if clock - begun < JUDGED_OVER {
            return;
        }
        self.since = Some((clock, counters));
        let lately = counters.since(&before);
        let (damaged, good) = (lately.damaged(), lately.good);
        let share = damaged as f64 / (damaged + good).max(1) as f64;
        if self.warning.is_none() && share > DAMAGED && damaged >= FEWEST_DAMAGED {
            self.warning = crate::words::reading::bad_line(damaged, good);
        } else if share < BETTER {
            self.warning = None;
        }
    }
}

/// Follows the live reading at the pace of an eye, and how long the blade has been still over several readings.
#[derive(Debug, Default)]
pub(super) struct Watcher {
    next: Option<Seconds>,
    still: Option<(Seconds, Angle)>,
    counters: Option<Counters>,
    /// What the stream had brought before it was looked at.
    counted_from: Option<Counters>,
    damage: Damage,
    begun: Option<Seconds>,
    now: Seconds,
    /// Twice the scatter's uncertainty of the blade as it stands still, degrees.
    scatter: Option<f64>,
    buzz: bool,
}

/// One look at the live reading.
#[derive(Debug)]
pub(super) struct Seen {
    pub moment: Moment,
    fault: Option<SensorFault>,
    scatter: Option<f64>,
    still: Seconds,
    buzz: bool,
    temperature: Option<f64>,
}

impl Watcher {
    /// The reading, if it is time to look again.
    pub fn see(&mut self, reading: &LiveReading) -> Option<Seen> {
        let begun = *self.counted_from.get_or_insert(reading.counters);
        self.counters = Some(reading.counters.since(&begun));
        self.damage.see(reading.clock, reading.counters);
        self.begun.get_or_insert(reading.clock);
        self.now = reading.clock;
        let moved = |from: Angle| (reading.apparent_pitch - from).wrapped().abs().degrees() > SAME_DEGREES;
        if self.still.is_some_and(|(_, pitch)| moved(pitch)) {
            (self.still, self.scatter, self.buzz) = (None, None, false);
        }
        if let Progress::Settling { since, repeat, vibration, .. } = reading.progress {
            self.buzz = vibration.is_some_and(|vibration| trade::is_buzz(vibration.amplitude, None));
            self.still.get_or_insert((since, reading.apparent_pitch));
            self.scatter = Some(2.0 * repeat.degrees());
        }
        if self.next.is_some_and(|next| reading.clock < next && next - reading.clock < Seconds::new(1.0)) {
            return None;
        }
        self.next = Some(reading.clock + APART);
        Some(Seen {
            moment: Moment {
                clock: reading.clock,
                apparent: reading.apparent_pitch,
                span: reading.span_inclination,
                buzzes: self.buzz,
            },
            fault: reading.fault,
            scatter: self.scatter,
            still: self.still.map_or(Seconds::new(0.0), |(since, _)| reading.clock - since),
            buzz: self.buzz,
            temperature: reading.temperature.map(crate::units::Celsius::value),
        })
    }

    /// A steady reading ended.
    pub fn rested(&mut self, taken: &Taken) {
        self.buzz = taken.steady.vibration.is_some_and(|vibration| trade::is_buzz(vibration.amplitude, None));
    }

    /// What is to be known of the line before anything that is read over it.
    pub fn warning(&self) -> Option<&str> {
        self.damage.warning.as_deref()
    }

    /// Samples a second, once a second has passed.
    pub fn rate(&self) -> Option<Hertz> {
        let (counters, over) = self.counters.zip(self.begun.map(|begun| self.now - begun))?;
        (over.value() > 1.0).then(|| Hertz::new(counters.good as f64 / over.value()))
    }
}

impl Seen {
    /// As onlookers see it.
    pub fn live(&self, guide: &Guide, open: &SetupHandle, hold_s: f64) -> Live {
        let up = up_from_reading(self.moment.apparent, self.moment.span);
        let steep = Visibility::of(up).err();
        let shown = steep.is_none() && self.fault.is_none();
        let moving = self.still.value() <= 0.0;
        Live {
            clock_s: self.moment.clock.value(),
            angle_deg: shown.then(|| angle(self.moment, guide, open).degrees()),
            travel_deg: guide.travel_at(self.moment).map(Angle::degrees).filter(|_| self.fault.is_none()),
            scatter_deg: self.scatter,
            span_deg: self.moment.span.degrees(),
            moving,
            still_s: self.still.value(),
            hold: if moving { 0.0 } else { (self.still.value() / hold_s).clamp(0.0, 1.0) },
            buzz: self.buzz,
            said: self.fault.map(|fault| fault.say(Face::Page)).or_else(|| steep.map(|steep| steep.say(Face::Page))),
            temperature_c: self.temperature,
        }
    }
}

/// The blade angle against the datum in force, at the place of the line at hand.
fn angle(at: Moment, guide: &Guide, open: &SetupHandle) -> Angle {
    // Where nothing is left to do, the clip is where it was last.
    let Some(seat) = guide.at_hand().map(|line| line.seat).or_else(|| guide.seat()) else { return at.apparent };
    let place = Place { blade: seat.blade, spot: seat.spot, clip: Clip::Forward };
    let pitch = crate::guide::pitch(at, seat.spot);
    open.datum(guide.carrier_of(seat)).datum.zero(place).map_or(pitch, |zero| zero.apply(pitch))
}
