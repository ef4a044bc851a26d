//! The phase that is built into the controls: where round the turn a cyclic command acts.
//!
//! On a plain head pure elevator is greatest square to the boom. With a phase P it acts P later, in the direction of rotation:
//! travel round the turn is A·sin(ψ − P) for elevator up, so that A·cosP shows square to the boom and A·sinP, the *leak*,
//! along it (at 180°), where it passes for aileron. Aileron is turned by the same P when it comes from the whole plate: right
//! is ∓A·cos(ψ − P), minus on an anticlockwise rotor.
//!
//! A and P come from travels (end less neutral, so that lean, collective and clip drop out) at two or more stations, by
//! least squares with each travel's uncertainty: `y = a·cosψ + b·sinψ`, and the collective that a full cyclic stick carries
//! along, alike or opposite in its two directions. Three stations tell that; two do not, where it passes for amplitude and
//! leak: it is then held near zero with the doubt that the servos' arcs make.
//!
//! The cause is not in the reading. A pitch arm that leads its blade by other than 90° gives P = 90° − lead (what leads more acts earlier), and that
//! drops out when the pitch *link* instead of the blade is set to the axis; a phase that the mixing makes turns the
//! plate itself and stays. [common practice of full-size rigging manuals, by quotation]

use super::{Axis, Deflection, Rotation, Station, factor};
use crate::stats::least_squares::{LinearFit, least_squares};
use crate::units::Angle;
use nalgebra::{DMatrix, DVector};
use serde::Serialize;

/// Standard error of a phase beyond which it says nothing.
const LARGEST_PHASE_ERROR_DEGREES: f64 = 15.0;
/// A leak that matters: half a degree. [common practice, no source]
const LEAK_DEGREES: f64 = 0.5;

/// How much collective a full cyclic stick may carry along, as a share of its amplitude (standard uncertainty). Three servos a
/// third of a turn apart whose arms turn by t, −t/2, −t/2 lower the plate by L·(2·sin(t/2) − sin t)/3, which is up to 5 % of the
/// amplitude for arms that turn up to 45°; 5 %/√3.
const CARRIED_SHARE: f64 = 0.029;

/// The travel of one blade at one station: reading at the end of the stick less reading at its neutral.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CyclicTravel {
    /// Which stick, which way.
    pub deflection: Deflection,
    /// Where the blade stood.
    pub station: Station,
    /// End less neutral, as read: with its sign.
    pub travel: Angle,
    /// Its standard uncertainty (k = 1), above zero.
    pub u: Angle,
}

/// Amplitude and phase of one cyclic axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AxisPhase {
    /// Elevator or aileron.
    pub axis: Axis,
    /// Amplitude A of a full stick to one side, both sides together.
    pub amplitude: Angle,
    /// Its standard uncertainty.
    pub u_amplitude: Angle,
    /// Phase P: by how much later in the turn than on a plain head the command acts.
    pub phase: Angle,
    /// Its standard uncertainty.
    pub u_phase: Angle,
    /// What the command leaks into the other axis' stations, A·sinP.
    pub leak: Angle,
    /// Its standard uncertainty.
    pub u_leak: Angle,
    /// Root mean square of what is left of the travels.
    pub residual_rms: Angle,
}

/// Why travels give no phase.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum PhaseError {
    /// Not a cyclic axis.
    #[error("not cyclic: {0}")]
    NotCyclic(Axis),
    /// No travels of the axis.
    #[error("no travel: {0}")]
    NoTravel(Axis),
    /// A value that is no number, or an uncertainty that is not above zero.
    #[error("not finite: {0}")]
    NotFinite(Axis),
    /// Stations too close to a line, or no movement to speak of.
    #[error("phase hidden: {0}")]
    Hidden(Axis),
}

/// The phase that a pitch arm makes which leads its blade by `lead` (90° on a plain head).
#[must_use]
pub fn arm_phase(lead: Angle) -> Angle {
    Angle::from_degrees(90.0) - lead
}

/// Finds amplitude and phase of one axis; travels of other axes are passed over.
///
/// # Errors
/// When the axis is not cyclic, was not captured, or its stations do not show a phase.
pub fn axis_phase(axis: Axis, travels: &[CyclicTravel], rotation: Rotation) -> Result<AxisPhase, PhaseError> {
    if !matches!(axis, Axis::Elevator | Axis::Aileron) {
        return Err(PhaseError::NotCyclic(axis));
    }
    let of_axis: Vec<&CyclicTravel> =
        travels.iter().filter(|t| t.deflection.axis() == axis && !t.deflection.is_neutral()).collect();
    if of_axis.is_empty() {
        return Err(PhaseError::NoTravel(axis));
    }
    if !of_axis.iter().all(|t| t.travel.is_finite() && t.u.is_finite() && t.u > Angle::ZERO) {
        return Err(PhaseError::NotFinite(axis));
    }
    // With three stations the collective that the stick carries along can be told as well.
    let largest = of_axis.iter().map(|t| t.travel.radians().abs()).fold(0.0, f64::max);
    let fit =
        fit(&of_axis, rotation, None).filter(tells).or_else(|| fit(&of_axis, rotation, Some(CARRIED_SHARE * largest)));
    let fit = fit.ok_or(PhaseError::Hidden(axis))?;
    let (square, along) = (fit.coefficients[0], fit.coefficients[1]);
    let amplitude = square.hypot(along);
    let (cos, sin) = (square / amplitude, along / amplitude);
    let variance = |s: f64, a: f64| {
        let v = &fit.unit_covariance;
        s * s * v[(0, 0)] + 2.0 * s * a * v[(0, 1)] + a * a * v[(1, 1)]
    };
    let u_phase = variance(-sin, cos).sqrt() / amplitude;
    if u_phase.is_nan() || u_phase > LARGEST_PHASE_ERROR_DEGREES.to_radians() {
        return Err(PhaseError::Hidden(axis));
    }
    let left: Vec<f64> = fit.residuals.iter().zip(&of_axis).map(|(r, t)| r * t.u.radians()).collect();
    Ok(AxisPhase {
        axis,
        amplitude: Angle::from_radians(amplitude),
        u_amplitude: Angle::from_radians(variance(cos, sin).sqrt()),
        phase: Angle::from_radians(along.atan2(square)),
        u_phase: Angle::from_radians(u_phase),
        leak: Angle::from_radians(along),
        u_leak: Angle::from_radians(variance(0.0, 1.0).sqrt()),
        residual_rms: Angle::from_radians((left.iter().map(|r| r * r).sum::<f64>() / left.len() as f64).sqrt()),
    })
}

/// Whether a fit with a constant tells amplitude and phase still well: its own errors at most a few times the readings'.
fn tells(fit: &LinearFit) -> bool {
    fit.condition < 30.0
}

/// Travels as A·cosP times the plain pattern plus A·sinP times the pattern of a quarter turn's phase, plus the collective that is
/// carried along: opposite in the two directions, and, where both were captured, alike in them. With a `doubt`, in radians, each
/// of the two is held to zero by so much.
fn fit(travels: &[&CyclicTravel], rotation: Rotation, doubt: Option<f64>) -> Option<LinearFit> {
    let pattern = |t: &CyclicTravel, degrees| factor(t.deflection, t.station, rotation, Angle::from_degrees(degrees));
    let one = travels.first()?.deflection;
    let carried = if travels.iter().all(|t| t.deflection == one) { 1 } else { 2 };
    let held = if doubt.is_some() { carried } else { 0 };
    let mut design = DMatrix::zeros(travels.len() + held, 2 + carried);
    let mut observed = DVector::zeros(travels.len() + held);
    for (row, travel) in travels.iter().enumerate() {
        let weight = 1.0 / travel.u.radians();
        design[(row, 0)] = pattern(travel, 0.0)? * weight;
        design[(row, 1)] = pattern(travel, 90.0)? * weight;
        design[(row, 2)] = if travel.deflection == one { weight } else { -weight };
        if carried > 1 {
            design[(row, 3)] = weight;
        }
        observed[row] = travel.travel / travel.u;
    }
    for (index, doubt) in doubt.iter().cycle().take(held).enumerate() {
        design[(travels.len() + index, 2 + index)] = 1.0 / doubt;
    }
    least_squares(&design, &observed).ok()
}

impl AxisPhase {
    /// Whether a phase is there at all, by its expanded uncertainty.
    #[must_use]
    pub fn is_significant(&self) -> bool {
        self.phase.abs() > self.u_phase * 2.0
    }

    /// The axis for which its leak passes, where that is enough to matter.
    #[must_use]
    pub fn passes_for(&self) -> Option<Axis> {
        let other = if self.axis == Axis::Aileron { Axis::Elevator } else { Axis::Aileron };
        (self.is_significant() && self.leak.abs().degrees() > LEAK_DEGREES).then_some(other)
    }
}

/// Both cyclic axes together: whether the whole plate is turned, and what that means for the linkage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PhasePair {
    /// The elevator.
    pub elevator: AxisPhase,
    /// The aileron.
    pub aileron: AxisPhase,
    /// By how much the pitch arm leads its blade, where the head's description says so.
    pub arm_lead: Option<Angle>,
}

impl PhasePair {
    /// Elevator's phase less aileron's: zero when the plate is turned as a whole.
    #[must_use]
    pub fn skew(&self) -> (Angle, Angle) {
        (self.elevator.phase - self.aileron.phase, self.elevator.u_phase.hypot(self.aileron.u_phase))
    }

    /// Mean phase, and its standard uncertainty.
    #[must_use]
    pub fn mean(&self) -> (Angle, Angle) {
        ((self.elevator.phase + self.aileron.phase) / 2.0, self.elevator.u_phase.hypot(self.aileron.u_phase) / 2.0)
    }
}

/// What the phases of both cyclic axes mean for the linkage. Angles in degrees, U for 95 % (k = 2).
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum PhaseFinding {
    /// The axes are not square to each other: the mixing, or unequal servo arms or links under the plate.
    Skewed {
        /// Elevator's phase less aileron's.
        by_deg: Angle,
        /// U of that.
        expanded_uncertainty_deg: Angle,
    },
    /// No phase is built in.
    Plain {
        /// Mean of both phases.
        mean_deg: Angle,
        /// U of that.
        expanded_uncertainty_deg: Angle,
    },
    /// Both axes are turned alike.
    Turned {
        /// By this much.
        mean_deg: Angle,
        /// U of that.
        expanded_uncertainty_deg: Angle,
        /// What makes it, where the description says how the arm stands.
        cause: PhaseCause,
    },
}

/// What turns both axes alike.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "cause", rename_all = "snake_case")]
pub enum PhaseCause {
    /// The description does not say how the pitch arm stands: one that leads its blade by this much would make it.
    ArmOrMixing {
        /// The lead that would explain it.
        lead_deg: Angle,
    },
    /// The pitch arm explains all of it.
    Arm {
        /// By how much it leads its blade.
        lead_deg: Angle,
    },
    /// The pitch arm explains a part, the mixing makes the rest.
    ArmAndMixing {
        /// By how much the arm leads its blade.
        lead_deg: Angle,
        /// The phase that this makes.
        arm_deg: Angle,
        /// The rest.
        rest_deg: Angle,
    },
}

impl PhasePair {
    /// What the phases mean for the linkage.
    #[must_use]
    pub fn finding(&self) -> PhaseFinding {
        let (skew, u_skew) = self.skew();
        let (mean, u_mean) = self.mean();
        let (mean_deg, expanded_uncertainty_deg) = (mean, u_mean * 2.0);
        if skew.abs() > u_skew * 2.0 {
            return PhaseFinding::Skewed { by_deg: skew, expanded_uncertainty_deg: u_skew * 2.0 };
        }
        if mean.abs() <= expanded_uncertainty_deg {
            return PhaseFinding::Plain { mean_deg, expanded_uncertainty_deg };
        }
        let cause = match self.arm_lead {
            None => PhaseCause::ArmOrMixing { lead_deg: Angle::from_degrees(90.0) - mean },
            Some(lead_deg) => match (arm_phase(lead_deg), mean - arm_phase(lead_deg)) {
                (_, rest) if rest.abs() <= expanded_uncertainty_deg => PhaseCause::Arm { lead_deg },
                (arm_deg, rest_deg) => PhaseCause::ArmAndMixing { lead_deg, arm_deg, rest_deg },
            },
        };
        PhaseFinding::Turned { mean_deg, expanded_uncertainty_deg, cause }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn deg(value: f64) -> Angle {
        Angle::from_degrees(value)
    }

    /// Travel of a head with a phase, written out in sines and cosines of its own.
    fn travel(word: &str, azimuth: f64, amplitude: f64, phase: f64, rotation: Rotation) -> CyclicTravel {
        let (sin, cos) = (azimuth - phase).to_radians().sin_cos();
        let right = if rotation == Rotation::Clockwise { cos } else { -cos };
        let pattern = match word {
            "elevator up" => sin,
            "elevator down" => -sin,
            "aileron right" => right,
            _ => -right,
        };
        CyclicTravel {
            deflection: word.parse().unwrap(),
            station: Station::from_degrees(azimuth).unwrap(),
            travel: deg(amplitude * pattern),
            u: deg(0.05),
        }
    }

    fn found(axis: Axis, words: [&str; 2], stations: &[f64], phase: f64, rotation: Rotation) -> AxisPhase {
        let travels: Vec<CyclicTravel> =
            stations.iter().flat_map(|&a| words.map(|w| travel(w, a, 12.0, phase, rotation))).collect();
        axis_phase(axis, &travels, rotation).unwrap()
    }

    const ELEVATOR: [&str; 2] = ["elevator up", "elevator down"];
    const AILERON: [&str; 2] = ["aileron left", "aileron right"];

    /// A of 12° at P 5°, 10° and 15°: 11.95°, 11.82°, 11.59° square and 1.05°, 2.08°, 3.11° along.
    #[test]
    fn a_built_in_phase_is_found_with_its_leak() {
        for (phase, square, leak) in [(5.0, 11.95, 1.05), (10.0, 11.82, 2.08), (15.0, 11.59, 3.11)] {
            let found = found(Axis::Elevator, ELEVATOR, &[0.0, 90.0], phase, Rotation::Anticlockwise);
            assert!((found.phase.degrees() - phase).abs() < 1e-9);
            assert!((found.leak.degrees() - leak).abs() < 0.005);
            assert!(((found.amplitude * found.phase.cos()).degrees() - square).abs() < 0.005);
            assert!(found.is_significant());
        }
    }

    #[test]
    fn what_the_phases_mean_for_the_linkage_is_found() {
        let elevator = found(Axis::Elevator, ELEVATOR, &[0.0, 90.0, 180.0, 270.0], 10.0, Rotation::Clockwise);
        assert_eq!(elevator.passes_for(), Some(Axis::Aileron));
        let aileron = found(Axis::Aileron, AILERON, &[0.0, 90.0, 180.0, 270.0], 10.0, Rotation::Clockwise);
        assert_eq!(aileron.passes_for(), Some(Axis::Elevator));
        let cause = |pair: PhasePair| match pair.finding() {
            PhaseFinding::Turned { mean_deg, cause, .. } => {
                assert!((mean_deg.degrees() - 10.0).abs() < 1e-9);
                cause
            }
            other => panic!("{other:?}"),
        };
        let mut pair = PhasePair { elevator, aileron, arm_lead: None };
        assert!(
            matches!(cause(pair), PhaseCause::ArmOrMixing { lead_deg } if (lead_deg.degrees() - 80.0).abs() < 1e-9)
        );
        pair.arm_lead = Some(deg(80.0));
        assert_eq!(cause(pair), PhaseCause::Arm { lead_deg: deg(80.0) });
        pair.arm_lead = Some(deg(90.0));
        let PhaseCause::ArmAndMixing { arm_deg, rest_deg, .. } = cause(pair) else { panic!("{:?}", cause(pair)) };
        assert!(arm_deg.degrees().abs() < 1e-9 && (rest_deg.degrees() - 10.0).abs() < 1e-9);
        pair.aileron = found(Axis::Aileron, AILERON, &[0.0, 90.0], 2.0, Rotation::Clockwise);
        assert!(matches!(pair.finding(), PhaseFinding::Skewed { .. }), "{pair:?}");
        let plain = found(Axis::Elevator, ELEVATOR, &[0.0, 90.0], 0.1, Rotation::Clockwise);
        assert!(!plain.is_significant() && plain.passes_for().is_none());
        let aileron = found(Axis::Aileron, AILERON, &[0.0, 90.0], 0.1, Rotation::Clockwise);
        let pair = PhasePair { elevator: plain, aileron, arm_lead: None };
        assert!(matches!(pair.finding(), PhaseFinding::Plain { .. }), "{pair:?}");
    }

    #[test]
    fn collective_that_the_stick_carries_along_is_no_phase() {
        let travels: Vec<CyclicTravel> = [0.0, 90.0, 180.0]
            .iter()
            .map(|&a| travel("elevator up", a, 10.0, 0.0, Rotation::Clockwise))
            .map(|t| CyclicTravel { travel: t.travel + deg(0.8), ..t })
            .collect();
        let found = axis_phase(Axis::Elevator, &travels, Rotation::Clockwise).unwrap();
        assert!(found.phase.degrees().abs() < 1e-9 && (found.amplitude.degrees() - 10.0).abs() < 1e-9, "{found:?}");
        // So it is where the other direction carries as much the other way.
        let down = travels.iter().map(|t| CyclicTravel {
            deflection: "elevator down".parse().unwrap(),
            travel: -t.travel,
            ..*t
        });
        let both: Vec<CyclicTravel> = travels.iter().copied().chain(down).collect();
        let found = axis_phase(Axis::Elevator, &both, Rotation::Clockwise).unwrap();
        assert!(found.phase.degrees().abs() < 1e-9 && (found.amplitude.degrees() - 10.0).abs() < 1e-9, "{found:?}");
    }

    #[test]
    fn opposite_stations_alone_tell_no_phase() {
        let travels = [90.0, 270.0].map(|a| travel("elevator up", a, 12.0, 10.0, Rotation::Clockwise));
        assert_eq!(axis_phase(Axis::Elevator, &travels, Rotation::Clockwise), Err(PhaseError::Hidden(Axis::Elevator)));
        let still = [0.0, 90.0].map(|a| travel("elevator up", a, 0.0, 0.0, Rotation::Clockwise));
        assert_eq!(axis_phase(Axis::Elevator, &still, Rotation::Clockwise), Err(PhaseError::Hidden(Axis::Elevator)));
        assert_eq!(axis_phase(Axis::Aileron, &travels, Rotation::Clockwise), Err(PhaseError::NoTravel(Axis::Aileron)));
        assert_eq!(axis_phase(Axis::Rudder, &[], Rotation::Clockwise), Err(PhaseError::NotCyclic(Axis::Rudder)));
    }

    #[test]
    fn the_uncertainty_of_a_phase_is_that_of_the_leak_over_the_amplitude() {
        // Two travels of 0.05° each at four stations: A·sinP comes from those along, (0.05°/√2)/√2, against 12°.
        let told = found(Axis::Elevator, ELEVATOR, &[0.0, 90.0, 180.0, 270.0], 0.0, Rotation::Anticlockwise);
        let wanted = (0.05 / 2.0 / 12.0f64).to_degrees();
        assert!((told.u_phase.degrees() / wanted - 1.0).abs() < 1e-6, "{told:?}");
        // At two stations 0.05°/√2, and what the stick may carry along passes for leak: 2.9 % of 12°.
        let doubted = found(Axis::Elevator, ELEVATOR, &[0.0, 90.0], 0.0, Rotation::Anticlockwise);
        let wanted = ((0.05 / 2f64.sqrt()).hypot(0.029 * 12.0) / 12.0).to_degrees();
        assert!((doubted.u_phase.degrees() / wanted - 1.0).abs() < 1e-6, "{doubted:?}");
    }

    proptest! {
        #[test]
        fn any_phase_comes_back_on_either_rotation(
            phase in -170.0..170.0f64, first in 0.0..360.0f64, clockwise in any::<bool>(), lateral in any::<bool>(),
        ) {
            let rotation = if clockwise { Rotation::Clockwise } else { Rotation::Anticlockwise };
            let (axis, words) = if lateral { (Axis::Aileron, AILERON) } else { (Axis::Elevator, ELEVATOR) };
            let found = found(axis, words, &[first, first + 70.0, first + 200.0], phase, rotation);
            prop_assert!((found.phase.degrees() - phase).abs() < 1e-9);
            prop_assert!((found.amplitude.degrees() - 12.0).abs() < 1e-9);
            prop_assert!(found.residual_rms.degrees() < 1e-9);
        }
    }
}
