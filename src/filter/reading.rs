//! What one steady reading is told beforehand, what it says while it runs, and what it answers.

use crate::units::{Angle, BladeVector, Gravities, Hertz, Seconds};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What a steady reading is asked for, and what is known of the sensor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SteadySettings {
    /// Wanted: twice the standard uncertainty `repeat` of the apparent pitch comes down to this.
    pub want: Angle,
    /// Time limit, on the stream's own clock from the first sample.
    pub within: Seconds,
    /// The blade must have been still for so long, however good the mean is already.
    pub at_least: Seconds,
    /// One count of the sensor, where it is known: how coarse the readings are.
    pub count: Option<Gravities>,
    /// The sensor's own floor (its Allan deviation at best) as an angle, where it is known: no mean is better.
    pub floor: Option<Angle>,
    /// The largest force along one axis that the sensor can show.
    pub full_scale: Gravities,
}

impl Default for SteadySettings {
    /// ±0.05°, within 30 s, of a sensor of which nothing is known but that it shows no more than 32 g.
    fn default() -> Self {
        Self {
            want: Angle::from_degrees(0.05),
            within: Seconds::new(30.0),
            at_least: Seconds::new(0.0),
            count: None,
            floor: None,
            full_scale: Gravities::new(32.0),
        }
    }
}

/// What ended a reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum EndedBy {
    /// Twice `repeat` reached the wanted value.
    Want,
    /// The time limit.
    Time,
    /// The sensor's own floor: no waiting makes it better.
    Floor,
    /// The stream ended.
    End,
}

/// How far a reading has come.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Progress {
    /// The blade moves, or has not been still for long enough to say.
    Moving,
    /// Still, and getting better.
    Settling {
        /// The beginning of the still stretch.
        since: Seconds,
        /// The standard uncertainty so far.
        repeat: Angle,
        /// The apparent pitch so far.
        pitch: Angle,
        /// The strongest vibration so far, where one stands out.
        vibration: Option<Vibration>,
    },
    /// The reading has ended; take it with `finish`.
    Done(EndedBy),
}

impl Progress {
    /// Whether the motion gate is up: the blade moves or has just moved.
    #[must_use]
    pub const fn is_moving(self) -> bool {
        matches!(self, Self::Moving)
    }

    /// Since when the blade has been still, if it is.
    #[must_use]
    pub const fn still_since(self) -> Option<Seconds> {
        match self {
            Self::Settling { since, .. } => Some(since),
            Self::Moving | Self::Done(_) => None,
        }
    }
}

/// How many samples the gate dropped, by reason.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Dropped {
    /// Not a finite number.
    pub not_finite: u64,
    /// Beyond what the sensor can show.
    pub out_of_range: u64,
    /// An axis at the end of its range.
    pub saturated: u64,
    /// No later than the sample before it: a repeated line.
    pub repeated: u64,
    /// A stray triple, far from its neighbours.
    pub spikes: u64,
}

impl Dropped {
    /// All of them.
    #[must_use]
    pub const fn total(self) -> u64 {
        self.not_finite + self.out_of_range + self.saturated + self.repeated + self.spikes
    }
}

/// The strongest vibration in the still stretch, fitted and taken out of the mean.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Vibration {
    /// Its frequency.
    #[serde(rename = "hertz")]
    pub frequency: Hertz,
    /// Its amplitude in apparent pitch.
    #[serde(rename = "amplitude_deg")]
    pub amplitude: Angle,
}

/// One steady reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SteadyReading {
    /// The mean force over the still stretch, in g.
    pub mean: BladeVector,
    /// Standard uncertainty of the apparent pitch from the scatter of the samples, with what coarse counts add.
    pub repeat: Angle,
    /// Standard uncertainty of the span's inclination, likewise.
    pub span_repeat: Angle,
    /// The part of `repeat` that stands for counts too coarse for the noise to blur; zero where it blurs them.
    pub undithered: Angle,
    /// Samples in the mean.
    pub samples: u64,
    /// How many independent samples they are worth.
    pub effective_samples: f64,
    /// Samples that the gate dropped since the stream began.
    pub dropped: Dropped,
    /// Samples that the stream's counter says were lost since it began.
    pub lost_samples: u64,
    /// The beginning of the still stretch.
    pub settled_at: Seconds,
    /// The last sample of the mean.
    pub finished_at: Seconds,
    /// Whether the stretch is proven still.
    pub steady: bool,
    /// Whether the sensor repeated one triple for a second although its noise should have moved it.
    pub stuck: bool,
    /// What ended the reading.
    pub ended_by: EndedBy,
    /// The strongest vibration, if one stood out.
    pub vibration: Option<Vibration>,
    /// What the reading was asked for.
    pub asked: SteadySettings,
}

impl SteadyReading {
    /// Apparent pitch of the mean force, leading edge up positive, within ±180°.
    #[must_use]
    pub fn apparent_pitch(&self) -> Angle {
        self.mean.apparent_pitch()
    }

    /// Inclination of the span, tip up positive.
    #[must_use]
    pub fn span_inclination(&self) -> Angle {
        self.mean.span_inclination()
    }

    /// How well gravity shows the pitch: 1 with a level span, 0 with a vertical one.
    #[must_use]
    pub fn observability(&self) -> f64 {
        self.mean.observability()
    }
}
