//! One contribution to an uncertainty: what it is called, how large it is, how well that is known.

use super::source::Source;
use crate::units::Angle;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt;

/// What a contribution comes from. The names are those shown to the person and used in documents.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Component {
    /// Scatter of the samples about their mean, and the sensor's step where its noise does not blur it.
    Repeat,
    /// The sensor's own slow noise, which no longer hold makes smaller.
    Floor,
    /// The sensor's offsets, scales and misalignments.
    Calibration,
    /// How well zero is known.
    Datum,
    /// How the clip sits on the blade.
    Clip,
    /// How far the clip stands from square to the blade, which lets a part of the span's slope into the angle.
    Skew,
    /// How far the blade stood from its station.
    Azimuth,
    /// The lean of model and swashplate, which a main blade reads at one station and with the opposite sign half a turn on.
    Lean,
    /// What the rotor solution leaves open.
    Rotor,
    /// The model's roll, which a tail blade reads one to one.
    Roll,
    /// Change of temperature since the datum.
    Temperature,
    /// Change of the neutral between the beginning and the end of a travel.
    Closure,
    /// What a curve does between the points that were measured.
    Shape,
}

impl Component {
    /// The name as printed and as used in documents.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Repeat => "repeat",
            Self::Floor => "floor",
            Self::Calibration => "calibration",
            Self::Datum => "datum",
            Self::Clip => "clip",
            Self::Skew => "skew",
            Self::Azimuth => "azimuth",
            Self::Lean => "lean",
            Self::Rotor => "rotor",
            Self::Roll => "roll",
            Self::Temperature => "temperature",
            Self::Closure => "closure",
            Self::Shape => "shape",
        }
    }

    /// What would make it smaller, where whoever stated the contribution knows nothing better.
    #[must_use]
    pub const fn remedy(self) -> Remedy {
        match self {
            Self::Repeat => Remedy::HoldLonger,
            Self::Floor => Remedy::CheckSensor,
            Self::Calibration => Remedy::Calibrate,
            Self::Datum => Remedy::Reversal,
            Self::Clip => Remedy::SeatStudy,
            Self::Skew => Remedy::SquareClip,
            Self::Azimuth => Remedy::CloserStation,
            Self::Lean => Remedy::HalfTurnOn,
            Self::Rotor => Remedy::MoreStations,
            Self::Roll => Remedy::OtherEdge,
            Self::Temperature => Remedy::WarmUp,
            Self::Closure => Remedy::TravelAgain,
            Self::Shape => Remedy::AnotherStick,
        }
    }
}

/// What would make a contribution smaller. In a document it is its name in snake case.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Remedy {
    /// Read it again: the value is no number.
    ReadAgain,
    /// Hold the blade still for longer.
    HoldLonger,
    /// A sensor with a finer step: waiting does not help.
    FinerSensor,
    /// Find out by a check of the sensor at rest how much its own slow noise is.
    CheckSensor,
    /// Calibrate the sensor.
    Calibrate,
    /// Calibrate with nine poses or more, so that the angles between the axes are known too.
    NinePoses,
    /// Calibrate again, with more poses or each held for longer.
    MorePoses,
    /// Take the sensor's turn in its case out: by reversal, or on the faces of a square block.
    CaseTurn,
    /// Set the datum by reversal.
    Reversal,
    /// The same reversal again, on a flat, hard surface and for longer.
    LongerReversal,
    /// Set the neutral again and hold it for longer.
    LongerNeutral,
    /// Read more stations round the turn, or set the datum by reversal.
    MoreStations,
    /// Leave the clip where it sits and take the difference.
    LeaveClip,
    /// The same, or find out by a study how well the clip seats.
    SeatStudy,
    /// Set the clip square to the blade, or bring the span level.
    SquareClip,
    /// Set the blade to its station more closely, or read on either side of it.
    CloserStation,
    /// Level the model or find its lean, and set the blade to the same mark both times.
    LevelModel,
    /// Read the same blade half a turn on too, the clip left on: the mean of both is free of the lean.
    HalfTurnOn,
    /// Capture the other leading edge too: the mean of both is free of the model's roll.
    OtherEdge,
    /// Let the sensor warm up and set the datum again.
    WarmUp,
    /// Take the travel again without touching the model or the clip.
    TravelAgain,
    /// Capture another stick position near the wanted one.
    AnotherStick,
    /// Turn the link by one seat, record it and capture again: then a half-turn is measured.
    MeasureHalfTurn,
    /// As an older document says it, in its own words.
    #[serde(untagged)]
    AsWritten(String),
}

impl fmt::Display for Component {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

/// Degrees of freedom of an uncertainty: how well it is itself known. At least 1; infinitely many for a stated bound.
///
/// Written as a number, infinitely many as `null`.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize, JsonSchema)]
#[serde(from = "Option<f64>", into = "Option<f64>")]
#[schemars(extend("minimum" = 1))]
pub struct Freedom(f64);

impl Freedom {
    /// Known exactly, or stated as a bound.
    pub const INFINITE: Self = Self(f64::INFINITY);

    /// So many degrees of freedom; fewer than one, or no number, counts as one (the widest factor).
    #[must_use]
    pub fn new(degrees: f64) -> Self {
        if degrees >= 1.0 { Self(degrees) } else { Self(1.0) }
    }

    /// Those of an uncertainty that is itself known to within a relative standard uncertainty: 1 / (2·r²)
    /// (JCGM 100:2008, G.4.2, formula G.3).
    #[must_use]
    pub fn from_relative_uncertainty(relative: f64) -> Self {
        Self::new(1.0 / (2.0 * relative * relative))
    }

    /// The number; infinity where there is no bound.
    #[must_use]
    pub const fn value(self) -> f64 {
        self.0
    }
}

impl From<Option<f64>> for Freedom {
    fn from(degrees: Option<f64>) -> Self {
        degrees.map_or(Self::INFINITE, Self::new)
    }
}

impl From<Freedom> for Option<f64> {
    fn from(freedom: Freedom) -> Self {
        Some(freedom.0).filter(|d| d.is_finite())
    }
}

impl fmt::Display for Freedom {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0.is_finite() { f.pad(&format!("{:.0}", self.0)) } else { f.pad("∞") }
    }
}

/// One contribution to the uncertainty of one value.
///
/// Its size is kept as *effects*: by how much the value changes when each of the independent causes behind it is
/// off by one standard uncertainty. Most contributions have one effect. A calibration has one for each of its
/// independent parameters (the columns of J·L, where L·Lᵀ is the covariance of the parameters), so that the
/// difference of two readings with one calibration has the exact uncertainty (J₁−J₂)Σ(J₁−J₂)ᵀ.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Contribution {
    /// What it comes from.
    pub component: Component,
    /// Signed effects of the independent causes, degrees. The standard uncertainty is the root of their squares.
    #[serde(rename = "effects_deg")]
    pub effects: Vec<Angle>,
    /// How well its size is known.
    #[serde(rename = "degrees_of_freedom")]
    pub freedom: Freedom,
    /// Whether the size is a stated default and not a result.
    pub assumed: bool,
    /// What would make it smaller, in one line.
    #[schemars(with = "String")]
    pub shrink: Remedy,
    /// The shared cause; none for an error that belongs to this reading alone.
    pub source: Option<Source>,
}

impl Contribution {
    /// A measured contribution of this reading alone, known without limit.
    #[must_use]
    pub fn new(component: Component, standard: Angle) -> Self {
        Self {
            component,
            effects: vec![standard],
            freedom: Freedom::INFINITE,
            assumed: false,
            shrink: component.remedy(),
            source: None,
        }
    }

    /// From the half width of an interval in which every value is equally likely: a/√3 (JCGM 100:2008, 4.3.7).
    #[must_use]
    pub fn rectangular(component: Component, half_width: Angle) -> Self {
        Self::new(component, half_width / 3f64.sqrt())
    }

    /// The same, with degrees of freedom.
    #[must_use]
    pub fn with_freedom(self, freedom: Freedom) -> Self {
        Self { freedom, ..self }
    }

    /// The same, marked as a stated default.
    #[must_use]
    pub fn assumed(self) -> Self {
        Self { assumed: true, ..self }
    }

    /// The same, with what would make it smaller, where that is not its component's.
    #[must_use]
    pub fn shrunk_by(self, shrink: Remedy) -> Self {
        Self { shrink, ..self }
    }

    /// The same, shared: a constant error that every reading with this source has with the same sign and size.
    #[must_use]
    pub fn shared(self, source: Source) -> Self {
        Self { source: Some(source), ..self }
    }

    /// The same, shared in part: `effects` are those of the source's independent parameters, in a fixed order.
    #[must_use]
    pub fn shared_effects(self, source: Source, effects: Vec<Angle>) -> Self {
        Self { source: Some(source), effects, ..self }
    }

    /// Its standard uncertainty: the root of the sum of the squared effects.
    #[must_use]
    pub fn standard(&self) -> Angle {
        self.effects.iter().fold(Angle::ZERO, |sum, &effect| sum.hypot(effect))
    }
}
