//! The rotor solution: collective, droop, swashplate tilt and the lean of the shaft from readings round the turn.
//!
//! A helicopter need not stand level. A leaning shaft and a tilted swashplate both show once per turn in apparent
//! pitch; only the slope of the span tells them apart. All readings together are solved by nonlinear least
//! squares with exact trigonometry (see `model.rs`), each weighed by its standard uncertainty where it has one.
//!
//! * With uncertainties given, standard errors follow from them, and grow with what the residuals show beyond them
//!   where that is significant (χ² above its 99.9 % point).
//! * Without, the readings count alike and their scatter is that of the residuals, s; standard errors are then
//!   s·√(ν/(ν−2))·√diag(JᵀJ)⁻¹ for ν degrees of freedom, the standard deviation of Student's distribution (JCGM
//!   101:2008, 6.4.9.4), since an s of few degrees of freedom is itself in doubt.
//!
//! What cannot be told apart is decided by standard error, not by rank: with stations 0° and 180° alone, lean and
//! swashplate differ in terms of second order, and a fit would return tens of degrees with a straight face. An unknown is
//! unobservable when its standard error passes 1°, or 100 times that of the readings; the
//! solution then names the readings that would help.
//!
//! Left out: a clip yawed from square, never observable here; a bent spindle or shaft turns with the head and shows as
//! a constant split and unequal droop.

use super::model::{Layout, Spotted, Unknown, wrapped};
use super::solution::LARGEST_ERROR_DEGREES;
use super::{
    BladeName, BladeSolution, Clip, Estimate, ReadingUncertainty, Residual, Rotation, RotorReading, RotorSolution,
    Station, Suggestion,
};
use crate::stats::gauss_newton::{GaussNewtonError, Minimum, gauss_newton};
use crate::stats::least_squares::unit_covariance;
use crate::units::Angle;
use nalgebra::{DMatrix, DVector};

/// Above this many times the readings' own uncertainty nothing is known either.
const LARGEST_RATIO: f64 = 100.0;
/// What an unknown is held to in the first rough solution, and where it cannot be observed: a helicopter on a bench
/// is out of level, and a swashplate tilted, by about so much. [common practice, no source]
const ROUGH_DEGREES: f64 = 10.0;
/// A reading's uncertainty where neither the table nor the residuals tell one. [common practice, no source]
const ASSUMED_DEGREES: f64 = 0.05;
/// Most readings that are suggested.
const MOST_SUGGESTIONS: usize = 4;

/// Why readings give no solution.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum SolutionError {
    /// No readings.
    #[error("no readings")]
    NoReadings,
    /// A value that is not a number.
    #[error("not finite: {0}")]
    NotFinite(usize),
    /// Some readings with, some without uncertainty.
    #[error("mixed uncertainties")]
    MixedUncertainty,
    /// An uncertainty that is not above zero.
    #[error("no uncertainty: {0}")]
    Uncertainty(usize),
    /// The readings follow no rotor.
    #[error("unsettled")]
    Unsettled,
}

impl From<GaussNewtonError> for SolutionError {
    fn from(_: GaussNewtonError) -> Self {
        Self::Unsettled
    }
}

/// Solves the readings of one rotor together.
///
/// # Errors
/// Readings that are missing, not numbers, or follow no rotor. What they do not tell is no error: it is marked in the
/// solution.
pub fn solve(readings: &[RotorReading], rotation: Rotation) -> Result<RotorSolution, SolutionError> {
    check(readings)?;
    let at_stations = |reading: &RotorReading| reading.u.is_none_or(|u| u.station == Angle::ZERO);
    if readings.iter().all(at_stations) {
        solve_at_stations(readings, rotation)
    } else {
        solve_at_stations(&with_stations(readings, rotation)?, rotation)
    }
}

/// One cause behind several readings: what the apparent pitch and the span slope of each are moved by when it is off by one standard
/// uncertainty.
pub type SharedCause = Vec<(Angle, Angle)>;

/// Solves readings that bring their uncertainties along ([`with_stations`]) and share causes besides: weighed by the whole
/// covariance of both (generalised least squares, Aitken 1936).
///
/// # Errors
/// As [`solve`].
pub fn solve_sharing(
    readings: &[RotorReading],
    rotation: Rotation,
    causes: &[SharedCause],
) -> Result<RotorSolution, SolutionError> {
    check(readings)?;
    let sharing = Sharing::of(readings, causes).ok_or(SolutionError::Unsettled)?;
    solve_weighed(readings, rotation, Some(sharing))
}

/// How readings that share causes are weighed.
struct Sharing {
    /// L⁻¹ of the covariance L·Lᵀ of all readings: their own uncertainties on its diagonal, and what every cause moves together.
    whitening: DMatrix<f64>,
    /// Uncertainty of a reading by all of that, root mean square, radians.
    u: f64,
}

impl Sharing {
    fn of(readings: &[RotorReading], causes: &[SharedCause]) -> Option<Self> {
        let rows = 2 * readings.len();
        let own = readings.iter().flat_map(weights_of).map(|weight| weight.powi(-2));
        let mut covariance = DMatrix::from_diagonal(&DVector::from_iterator(rows, own));
        for cause in causes {
            let moved = cause.iter().flat_map(|(apparent, span)| [apparent.radians(), span.radians()]);
            let moved = DVector::from_iterator(rows, moved.chain(std::iter::repeat(0.0)).take(rows));
            covariance.ger(1.0, &moved, &moved, 1.0);
        }
        let u = (covariance.trace() / rows as f64).sqrt();
        Some(Self { whitening: covariance.cholesky()?.l().try_inverse()?, u })
    }
}

/// The same readings, what their stations are uncertain by taken over into their own uncertainties.
///
/// # Errors
/// As [`solve`]: what a station's error does to a reading follows from the rotor itself, which is solved roughly for it.
pub fn with_stations(readings: &[RotorReading], rotation: Rotation) -> Result<Vec<RotorReading>, SolutionError> {
    check(readings)?;
    let first = solve_at_stations(readings, rotation)?;
    Ok(readings.iter().map(|reading| with_station(reading, &first)).collect())
}

/// The reading with its own uncertainties joined by what its station is uncertain by, u(ψ)·dφ/dψ, where the pitch changes with it.
fn with_station(reading: &RotorReading, first: &RotorSolution) -> RotorReading {
    let beside = |degrees: f64| {
        let station = Station::from_degrees(f64::from(reading.station) + degrees).unwrap_or(reading.station);
        first.foretell(reading.blade, station, reading.clip)
    };
    let (after, before) = (beside(1.0), beside(-1.0));
    let widened = |u: ReadingUncertainty| {
        let moved = |after: Angle, before: Angle| (after - before).wrapped() / 2.0 * u.station.degrees();
        ReadingUncertainty {
            apparent: u.apparent.hypot(moved(after.0, before.0)),
            span: u.span.hypot(moved(after.1, before.1)),
            station: Angle::ZERO,
        }
    };
    RotorReading { u: reading.u.map(widened), ..*reading }
}

fn solve_at_stations(readings: &[RotorReading], rotation: Rotation) -> Result<RotorSolution, SolutionError> {
    solve_weighed(readings, rotation, None)
}

fn solve_weighed(
    readings: &[RotorReading],
    rotation: Rotation,
    sharing: Option<Sharing>,
) -> Result<RotorSolution, SolutionError> {
    let equations = Equations { readings, layout: Layout::of(readings, rotation), sharing };
    let count = equations.layout.unknowns.len();
    let rough = equations.fit(DVector::zeros(count), &vec![true; count])?;
    // By their ratio to the readings alone: how well those are known may only come out of the fit.
    let hidden_at = |values: &DVector<f64>| equations.hidden(&equations.weighed(values.as_slice()).1, 0.0);
    let mut hidden = hidden_at(&rough.parameters);
    let mut fit = equations.fit(rough.parameters.clone(), &hidden)?;
    // The best solution may lie where even less is told than at the rough one.
    let again = hidden_at(&fit.parameters);
    if again.iter().zip(&hidden).any(|(now, before)| *now && !before) {
        hidden = hidden.iter().zip(&again).map(|(a, b)| *a || *b).collect();
        fit = equations.fit(rough.parameters, &hidden)?;
    }
    Ok(equations.solution(&fit, &hidden))
}

fn check(readings: &[RotorReading]) -> Result<(), SolutionError> {
    if readings.is_empty() {
        return Err(SolutionError::NoReadings);
    }
    for (index, reading) in readings.iter().enumerate() {
        if !(reading.apparent.is_finite() && reading.span.is_finite()) {
            return Err(SolutionError::NotFinite(index + 1));
        }
        if let Some(u) = reading.u {
            let positive = |u: Angle| u.is_finite() && u > Angle::ZERO;
            if !(positive(u.apparent) && positive(u.span)) {
                return Err(SolutionError::Uncertainty(index + 1));
            }
        }
    }
    let with = readings.iter().filter(|r| r.u.is_some()).count();
    if with == 0 || with == readings.len() { Ok(()) } else { Err(SolutionError::MixedUncertainty) }
}

/// The readings as equations for the unknowns.
struct Equations<'a> {
    readings: &'a [RotorReading],
    layout: Layout,
    /// What weighs them where they share causes; else each by itself.
    sharing: Option<Sharing>,
}

/// Weights of the two equations of a reading by itself.
fn weights_of(reading: &RotorReading) -> [f64; 2] {
    reading.u.map_or([1.0, 1.0], |u| [u.apparent, u.span].map(|u| 1.0 / u.radians()))
}

impl Equations<'_> {
    /// Whether the readings bring their uncertainties along.
    fn is_weighted(&self) -> bool {
        self.readings.iter().any(|r| r.u.is_some())
    }

    /// Weighed residuals (foretold less read) and their derivatives, two rows a reading.
    fn weighed(&self, values: &[f64]) -> (DVector<f64>, DMatrix<f64>) {
        let (rows, columns) = (2 * self.readings.len(), self.layout.unknowns.len());
        let mut residuals = DVector::zeros(rows);
        let mut jacobian = DMatrix::zeros(rows, columns);
        for (index, reading) in self.readings.iter().enumerate() {
            let told = self.layout.foretell(values, reading.into());
            // The whitening weighs by all that makes them uncertain, their own scatter in it.
            let [w_apparent, w_span] = if self.sharing.is_some() { [1.0, 1.0] } else { weights_of(reading) };
            residuals[2 * index] = wrapped(told.apparent - reading.apparent.radians()) * w_apparent;
            residuals[2 * index + 1] = (told.span - reading.span.radians()) * w_span;
            for column in 0..columns {
                jacobian[(2 * index, column)] = told.by_apparent[column] * w_apparent;
                jacobian[(2 * index + 1, column)] = told.by_span[column] * w_span;
            }
        }
        match &self.sharing {
            Some(Sharing { whitening, .. }) => (whitening * residuals, whitening * jacobian),
            None => (residuals, jacobian),
        }
    }

    /// Fits all unknowns, those in `held` with one equation more each that holds them near zero.
    fn fit(&self, start: DVector<f64>, held: &[bool]) -> Result<Minimum, GaussNewtonError> {
        let weight = self.hold_weight();
        let holds: Vec<usize> = (0..held.len()).filter(|&i| held[i]).collect();
        gauss_newton(start, |x| {
            let (residuals, jacobian) = self.weighed(x.as_slice());
            let rows = residuals.len();
            let mut residuals = residuals.resize_vertically(rows + holds.len(), 0.0);
            let mut jacobian = jacobian.resize_vertically(rows + holds.len(), 0.0);
            for (row, &column) in holds.iter().enumerate() {
                residuals[rows + row] = x[column] * weight;
                jacobian[(rows + row, column)] = weight;
            }
            (residuals, jacobian)
        })
    }

    /// The weight of an equation that holds an unknown near zero: as weak beside the readings as ten degrees are beside
    /// their uncertainty.
    fn hold_weight(&self) -> f64 {
        self.reading_u().recip() * ASSUMED_DEGREES / ROUGH_DEGREES
    }

    /// Uncertainty of a reading in the units of the weighed equations' unknowns: radians over weight.
    fn reading_u(&self) -> f64 {
        if let Some(sharing) = &self.sharing {
            return sharing.u;
        }
        let all = self.readings.iter().flat_map(weights_of).map(|weight| weight.powi(-2));
        (all.sum::<f64>() / (2 * self.readings.len()) as f64).sqrt()
    }

    /// Which unknowns the readings do not tell, `factor` being what unit standard errors are multiplied by.
    fn hidden(&self, jacobian: &DMatrix<f64>, factor: f64) -> Vec<bool> {
        let (covariance, _) = unit_covariance(jacobian);
        covariance.diagonal().iter().map(|&variance| !self.tells(variance.sqrt(), factor)).collect()
    }

    /// Whether a unit standard error tells something, against the readings and by itself.
    fn tells(&self, unit: f64, factor: f64) -> bool {
        unit <= LARGEST_RATIO * self.reading_u() && unit * factor <= LARGEST_ERROR_DEGREES.to_radians()
    }

    fn solution(&self, fit: &Minimum, hidden: &[bool]) -> RotorSolution {
        let values: Vec<f64> = fit.parameters.iter().copied().collect();
        let (weighed, jacobian) = self.weighed(&values);
        let condition = unit_covariance(&jacobian).1;
        let unknowns = self.layout.unknowns.len();
        let errors = Errors::of(fit, &jacobian, hidden, self.hold_weight());
        let degrees_of_freedom = errors.freedom;
        let scatter = Scatter::of(weighed.norm_squared(), degrees_of_freedom, self.is_weighted());
        let covariance = errors.covariance(scatter.factor);
        let estimate = |index: usize| {
            let told = Estimate::told(values[index], covariance[(index, index)]);
            Estimate { observable: told.observable && !hidden[index], ..told }
        };
        let estimates: Vec<(Unknown, Estimate)> =
            (0..unknowns).map(|index| (self.layout.unknowns[index], estimate(index))).collect();
        let residuals = self.residuals(&values);
        let squares: f64 = residuals.iter().map(|r| r.apparent.radians().powi(2) + r.span.radians().powi(2)).sum();
        let suggestions = self.suggest(&values, scatter.factor);
        let mut solution = RotorSolution {
            rotation: self.layout.rotation,
            estimates,
            blades: Vec::new(),
            residuals,
            residual_rms: Angle::from_radians((squares / (2 * self.readings.len()) as f64).sqrt()),
            condition,
            degrees_of_freedom,
            misfit: scatter.misfit,
            suggestions,
            layout: self.layout.clone(),
            values,
        };
        solution.blades = self.blades(&solution, &covariance);
        solution
    }

    fn blades(&self, solution: &RotorSolution, covariance: &DMatrix<f64>) -> Vec<BladeSolution> {
        let place = |blade| self.layout.place(Unknown::Collective(blade));
        let first = self.layout.blades.first().copied().unwrap_or(BladeName::A);
        // A split may be known where neither collective is: its own variance decides.
        let split = |blade: BladeName| {
            let (i, j) = (place(first)?, place(blade)?);
            let variance = covariance[(i, i)] + covariance[(j, j)] - 2.0 * covariance[(i, j)];
            (blade != first).then(|| Estimate::told(solution.values[i] - solution.values[j], variance))
        };
        let missing = Estimate { value: Angle::ZERO, standard_error: Angle::ZERO, observable: false };
        let of = |unknown| solution.get(unknown).unwrap_or(missing);
        let solved = |&blade: &BladeName| BladeSolution {
            blade,
            collective: of(Unknown::Collective(blade)),
            droop: of(Unknown::Droop(blade)),
            split: split(blade),
        };
        self.layout.blades.iter().map(solved).collect()
    }

    fn residuals(&self, values: &[f64]) -> Vec<Residual> {
        let left = |reading: &RotorReading| {
            let told = self.layout.foretell(values, reading.into());
            Residual {
                apparent: Angle::from_radians(wrapped(reading.apparent.radians() - told.apparent)),
                span: Angle::from_radians(reading.span.radians() - told.span),
            }
        };
        self.readings.iter().map(left).collect()
    }

    /// The readings that would help: one after the other, each the one that lowers the sum of the unknowns'
    /// log-variances most, until everything is told.
    fn suggest(&self, values: &[f64], factor: f64) -> Vec<Suggestion> {
        let mut jacobian = self.weighed(values).1;
        let mut suggestions: Vec<Suggestion> = Vec::new();
        while suggestions.len() < MOST_SUGGESTIONS && self.hidden(&jacobian, factor).contains(&true) {
            let mut best: Option<(f64, Suggestion, DMatrix<f64>)> = None;
            for candidate in self.candidates(&suggestions) {
                let more = self.with_reading(&jacobian, values, candidate);
                let doubt: f64 = unit_covariance(&more).0.diagonal().iter().map(|v| v.max(1e-300).ln()).sum();
                // Quarter stations come first: another must be clearly better.
                if best.as_ref().is_none_or(|(least, ..)| doubt < least - 0.7) {
                    best = Some((doubt, candidate, more));
                }
            }
            let Some((_, candidate, more)) = best else { break };
            suggestions.push(candidate);
            jacobian = more;
        }
        suggestions
    }

    /// Readings not taken yet: quarter stations before the rest of a 30° grid, forward before reversed.
    fn candidates(&self, suggested: &[Suggestion]) -> Vec<Suggestion> {
        let mut grid: Vec<u32> = (0..12).map(|i| 30 * i).collect();
        grid.sort_by_key(|degrees| degrees % 90 != 0);
        let stations = grid.iter().filter_map(|&degrees| Station::from_degrees(f64::from(degrees)).ok());
        let has_offsets = self.layout.place(Unknown::ClipOffset).is_some();
        let clips = if has_offsets { vec![Clip::Forward, Clip::Reversed] } else { vec![self.readings[0].clip] };
        let all = stations.flat_map(|station| {
            let clips = &clips;
            clips
                .iter()
                .flat_map(move |&clip| self.layout.blades.iter().map(move |&blade| Suggestion { blade, station, clip }))
        });
        let near = |a: Station, b: Station| a.distance(b).degrees() < 10.0;
        all.filter(|c| {
            let taken = |r: &RotorReading| r.blade == c.blade && r.clip == c.clip && near(r.station, c.station);
            !self.readings.iter().any(taken) && !suggested.contains(c)
        })
        .collect()
    }

    fn with_reading(&self, jacobian: &DMatrix<f64>, values: &[f64], at: Suggestion) -> DMatrix<f64> {
        let told = self.layout.foretell(values, Spotted { blade: at.blade, station: at.station, clip: at.clip });
        let weight = self.reading_u().recip();
        let rows = jacobian.nrows();
        let mut more = jacobian.clone().resize_vertically(rows + 2, 0.0);
        for column in 0..jacobian.ncols() {
            more[(rows, column)] = told.by_apparent[column] * weight;
            more[(rows + 1, column)] = told.by_span[column] * weight;
        }
        more
    }
}

/// How errors of the readings, and unknowns that were held though they are not zero, come through into the fit.
///
/// With J the equations of the readings, D those of the held unknowns, w their weight and C = (JᵀJ + w²D)⁻¹, the fit is off
/// by C·(Jᵀε − w²·D·x): readings that scatter by s and held unknowns of a standard deviation of 10° give the
/// covariance s²·C·JᵀJ·C + w⁴·(10°)²·C·D·C. So what is told never looks better than what is hidden allows.
struct Errors {
    of_readings: DMatrix<f64>,
    of_held: DMatrix<f64>,
    /// Equations less what the fit has taken up of them: the trace of C·JᵀJ, which counts a held unknown by as much as the
    /// readings still move it.
    freedom: usize,
}

impl Errors {
    fn of(fit: &Minimum, jacobian: &DMatrix<f64>, hidden: &[bool], weight: f64) -> Self {
        let unknowns = hidden.len();
        let c = unit_covariance(&fit.jacobian).0;
        let normal = jacobian.transpose() * jacobian;
        let taken_up = (&c * &normal).trace();
        let freedom = (jacobian.nrows() as f64 - taken_up + 1e-6).floor().max(0.0) as usize;
        if !hidden.contains(&true) {
            return Self { of_readings: c, of_held: DMatrix::zeros(unknowns, unknowns), freedom };
        }
        let held = DVector::from_iterator(unknowns, hidden.iter().map(|h| f64::from(u8::from(*h))));
        let size = weight.powi(2) * ROUGH_DEGREES.to_radians();
        Self { of_held: &c * DMatrix::from_diagonal(&held) * &c * size.powi(2), of_readings: &c * normal * &c, freedom }
    }

    fn covariance(&self, scatter: f64) -> DMatrix<f64> {
        &self.of_readings * scatter.powi(2) + &self.of_held
    }
}

/// How the readings scatter about the model.
#[derive(Debug, Clone, Copy)]
struct Scatter {
    /// What unit standard errors are multiplied by.
    factor: f64,
    misfit: bool,
}

impl Scatter {
    fn of(sum_of_squares: f64, degrees_of_freedom: usize, is_weighted: bool) -> Self {
        let nu = degrees_of_freedom as f64;
        if is_weighted {
            let misfit = degrees_of_freedom > 0 && sum_of_squares > chi_squared_limit(nu);
            return Self { factor: if misfit { (sum_of_squares / nu).sqrt() } else { 1.0 }, misfit };
        }
        let factor = match degrees_of_freedom {
            0 => ASSUMED_DEGREES.to_radians(),
            // One or two residuals are small by chance as often as not.
            1..=2 => (sum_of_squares / nu * 3.0).sqrt().max(ASSUMED_DEGREES.to_radians()),
            3 => (sum_of_squares / nu * 3.0).sqrt(),
            _ => (sum_of_squares / nu * (nu / (nu - 2.0))).sqrt(),
        };
        Self { factor, misfit: false }
    }
}

/// The 99.9 % point of χ² (Wilson and Hilferty 1931).
fn chi_squared_limit(nu: f64) -> f64 {
    let spread = 2.0 / (9.0 * nu);
    nu * (1.0 - spread + 3.090 * spread.sqrt()).powi(3)
}
