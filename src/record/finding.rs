//! What is found about a cell, asked about it, and signs of a bind: kinds with their numbers. The words are made elsewhere.

use super::capture::Answered;
use super::in_question::InQuestion;
use super::off_axis::Unused;
use crate::filter::Vibration;
use crate::rotor::{BladeName, Contradiction, Deflection, LeadingEdge, Station};
use crate::uncertainty::Doubt;
use crate::units::{Angle, Percent};
use serde::Serialize;
use uuid::Uuid;

/// What is found about a cell besides its verdict.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum CellFinding {
    /// An end that was never captured.
    NotCaptured {
        /// The note with which it was left out on purpose.
        left_out: Option<String>,
    },
    /// Left out on purpose.
    LeftOut {
        /// The note with it.
        reason: String,
    },
    /// A blade that was never read at mid stick.
    ZeroNotRead,
    /// A blade that was read at mid stick against its own neutral only, which makes it zero by definition.
    ZeroByDefinition,
    /// The tail was never read at stick centre against a zero that tells its pitch.
    TailNeutralNotRead,
    /// The sensor sends one angle, which does not show the slope of a span.
    SpanUnseen,
    /// The two blades were not both read at mid stick.
    TrackNotRead,
    /// They were read against different zeros, or the model was moved in between.
    TrackZerosDiffer,
    /// They were read at different stations, where the lean of shaft and swashplate differs.
    TrackStationsDiffer {
        /// Where blade A stood.
        reference: Station,
        /// Where the other blade stood.
        other: Station,
    },
    /// Past what is wanted.
    Outside {
        /// By how much, more than zero.
        #[serde(rename = "by_deg")]
        by: Angle,
    },
    /// Where the spindle is bent to.
    BentToward {
        /// From its mark, in the sense in which it was turned, 0° to 360°.
        #[serde(rename = "toward_deg")]
        toward: Angle,
    },
    /// A cable that pulls at the blade.
    CablePulls,
    /// Set just short of a bind, its end point or limit with it.
    JustShort,
    /// Just short of a bind, the stick backed off to nobody knows where.
    BackedOff {
        /// Where full stick must stop.
        #[serde(rename = "at_deg")]
        at: Angle,
    },
    /// Just short of a bind, and full stick still goes into it.
    StickGoesFurther {
        /// The end point that stops there, of what it is.
        #[serde(rename = "percent")]
        share: Percent,
    },
    /// A corner that falls short of the sum of its parts, without a sign of a bind.
    FallsShort(Shortfall),
    /// The same, and a person has said that nothing binds.
    FallsShortUnbound {
        /// By how much.
        #[serde(rename = "by_deg")]
        by: Angle,
    },
    /// A corner that binds.
    CornerBinds {
        /// How far it falls short of the sum of its parts; none where it does not.
        short: Option<Shortfall>,
        /// What shows it.
        sign: BindSign,
    },
    /// How far the swashplate tilts on a diagonal of the cyclic stick.
    OnTheDiagonal {
        /// So far.
        #[serde(rename = "amplitude_deg")]
        amplitude: Angle,
        /// U of that, for 95 %.
        #[serde(rename = "expanded_uncertainty_deg")]
        expanded: Angle,
        /// Of what both axes come to together.
        #[serde(rename = "of_square_percent")]
        of_square: Percent,
        /// Whether a ring explains that.
        is_ring: bool,
        /// What it may be at most, where there is a ceiling.
        #[serde(rename = "ceiling_deg")]
        ceiling: Option<Angle>,
    },
    /// Past the pitch at which a usual section stalls.
    PastStall {
        /// The pitch.
        #[serde(rename = "pitch_deg")]
        pitch: Angle,
    },
    /// It moved the other way than foretold, and the person has said that it is right.
    AcceptedContradiction,
    /// It hardly moved, and the person has said that it is right.
    AcceptedUnmoved,
    /// No neutral was read at this place: judged on the angle against the datum.
    NoNeutral,
    /// The pitch at which an end of the collective stands: the zero and the travel from it.
    JudgedFromZero {
        /// How the blade stands at mid stick.
        #[serde(rename = "zero_deg")]
        zero: Angle,
        /// Its travel from there.
        #[serde(rename = "travel_deg")]
        travel: Angle,
    },
    /// Read with one leading edge of a tail blade only: the model's roll is in it.
    OneLeadingEdge {
        /// Which.
        leading_edge: LeadingEdge,
    },
    /// The pitch at which a tail blade stands decides, and not its travel.
    JudgedAsItStands {
        /// Its travel.
        #[serde(rename = "travel_deg")]
        travel: Angle,
        /// Which blade.
        blade: BladeName,
    },
    /// The neutral moved between the beginning and the end of the travel.
    NeutralMoved {
        /// By how much.
        #[serde(rename = "by_deg")]
        by: Angle,
        /// U of that, for 95 %.
        #[serde(rename = "expanded_uncertainty_deg")]
        expanded: Angle,
    },
    /// A cyclic deflection read away from where it is largest.
    OffItsStation {
        /// Where it was read.
        #[serde(rename = "station_deg")]
        station: Station,
        /// Where it shows whole.
        #[serde(rename = "own_station_deg")]
        own: Station,
        /// The share of it that shows, 0 to 1, by which the travel was divided.
        share: f64,
    },
    /// A newer capture that is not what the cell shows, because it is worse evidence.
    NotUsed {
        /// Which.
        capture: Uuid,
        /// Why.
        #[serde(flatten)]
        why: Unused,
    },
    /// The phase in the mixing was set in this setup, and no two stations show where in the turn the blades answer since.
    PhaseSet {
        /// Where the head's description has it.
        #[serde(rename = "described_deg")]
        described: Angle,
    },
    /// A servo buzzes at this end, and not at centre.
    Buzzes {
        /// How.
        vibration: Vibration,
        /// Whether the end was captured as just short of a bind.
        backed_off: bool,
    },
}

/// What shows a bind.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "sign", rename_all = "snake_case")]
pub enum BindSign {
    /// A servo buzzes.
    Buzz {
        /// How.
        vibration: Vibration,
    },
    /// The reading crept on since it was read before.
    Creep {
        /// By how much.
        #[serde(rename = "by_deg")]
        by: Angle,
        /// U of that, for 95 %.
        #[serde(rename = "expanded_uncertainty_deg")]
        expanded: Angle,
    },
}

/// How far a corner falls short of the sum of its parts, and where its limit would be.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Shortfall {
    /// By how much.
    #[serde(rename = "by_deg")]
    pub by: Angle,
    /// Whether the collective's way is what is left short, and not the cyclic's.
    pub of_collective: bool,
    /// Just short of it, of the collective's way or of full cyclic.
    #[serde(rename = "limit_percent")]
    pub limit: Percent,
}

/// Why a value is not decided.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Undecided {
    /// Too close to a limit for its uncertainty.
    TooClose(Doubt),
    /// Read at one station only, so that the lean of model and swashplate is in it.
    LeanUnknown {
        /// The blade.
        blade: BladeName,
        /// Where it must be read too, the clip left on.
        #[serde(rename = "station_deg")]
        station: Station,
    },
    /// It moved the other way than foretold, or hardly.
    Questioned,
    /// No neutral of its place: nothing shows that the stick was moved at all.
    NoNeutral {
        /// The neutral to capture there first.
        neutral: Deflection,
    },
    /// A corner falls short, and nobody has said whether it binds.
    DoesItBind,
    /// A tail end of which only the travel is known: read against the blade's own neutral, which tells no pitch.
    PitchUnknown,
    /// An end of the collective whose blade was not read at mid stick against a zero that tells its pitch.
    ZeroUnknown,
    /// Which way the rudder moves the tail blades, and so the side that holds the torque, is not known.
    TorqueSideUnknown,
    /// The swashplate leans at stick centre by more than it should as far as is known, from readings that were not taken round the
    /// turn with one seat of the clip.
    PlateUnread {
        /// The blade that would tell.
        blade: BladeName,
    },
    /// Neutrals that differ by what the swashplate may tilt or the model may lean, read with a sensor that does not tell one from
    /// the other.
    PlateUntold,
    /// The same against a zero that leaves the sensor's own error along the span in every reading.
    PlateNeedsReversal,
    /// A spindle that was read at two opposite seats: it is not bent in their plane, and may be bent across it.
    OnePlane,
}

/// What is asked before a reading counts.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Question {
    /// The blade moved the other way than the geometry foretells.
    Contradiction(Contradiction),
    /// A tail blade moved the other way than the description says, or the same way as in the other direction.
    TailWay {
        /// What was commanded.
        deflection: Deflection,
        /// From neutral, as read.
        #[serde(rename = "moved_deg")]
        moved: Angle,
        /// Whether the description says the way.
        described: bool,
    },
    /// A neutral that stands far from the others of its place.
    NeutralMoved {
        /// The neutral.
        deflection: Deflection,
        /// By how much.
        #[serde(rename = "by_deg")]
        by: Angle,
    },
    /// Two neutrals of a blade differ by more than a model leans: the swashplate may not stand level at stick centre.
    PlateOrLean {
        /// The blade.
        blade: BladeName,
        /// Where it stood.
        #[serde(rename = "stations_deg")]
        stations: [Station; 2],
        /// The second neutral less the first.
        #[serde(rename = "difference_deg")]
        difference: Angle,
        /// U of that, the lean of the model in it, for 95 %.
        #[serde(rename = "expanded_uncertainty_deg")]
        expanded: Angle,
    },
    /// The neutrals round the turn follow no rotor: the model, the clip or the swashplate moved between them.
    NoRotor {
        /// How far they are off the one that fits them best, root mean square.
        #[serde(rename = "residual_deg")]
        residual: Angle,
    },
    /// An end whose blade was not read with that stick at its centre: nothing shows that the stick was moved at all.
    NoNeutral {
        /// The neutral to capture there first.
        neutral: Deflection,
    },
    /// The blade stands at its neutral.
    Unmoved {
        /// The travel.
        #[serde(rename = "travel_deg")]
        travel: Angle,
    },
    /// The capture would put its end in question by itself.
    Doubted {
        /// Why.
        because: InQuestion,
    },
}

impl Question {
    /// What is answered where the person says that the capture is right as it was read; none where only readings answer.
    #[must_use]
    pub const fn answer(&self) -> Option<Answered> {
        match self {
            Self::Contradiction(_) | Self::TailWay { .. } => Some(Answered::OtherWay),
            Self::NeutralMoved { .. } => Some(Answered::NeutralMoved),
            Self::Unmoved { .. } => Some(Answered::Unmoved),
            Self::Doubted { because } => because.answer(),
            Self::PlateOrLean { .. } | Self::NoRotor { .. } | Self::NoNeutral { .. } => None,
        }
    }
}
