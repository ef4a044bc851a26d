//! The re-seat study: how well a clip that is taken off and put on again sits where it sat.
//!
//! The clip is put on each blade several times, and read once each time. What the readings of one blade differ by is the
//! seat and the scatter of the readings themselves; how the blades differ from each other is none of the clip's doing:
//!
//! ```text
//! s² = Σ Σ (φ − φ̄_blade)² / Σ (n_blade − 1)      within blades
//! u_clip² = s² − mean of repeat²                  where s² is surely more than repeat²; else s²
//! ```
//!
//! [JCGM 100:2008, annex H.5; analysis of variance as in gauge repeatability studies, AIAG, *Measurement Systems Analysis*]
//!
//! It fails where a blade moves between two readings: that counts as the clip's.

use crate::stats::anova::{Squares, component};
use crate::stats::moments::mean;
use crate::stats::robust::median;
use crate::uncertainty::Freedom;
use crate::units::Angle;
use serde::{Deserialize, Serialize};

/// Fewest seatings of a blade.
pub const FEWEST_SEATINGS: usize = 3;
/// A seating that is further from the others is asked about. [common practice, no source]
const DOUBTFUL_DEGREES: f64 = 0.3;
/// Chance at which a scatter counts as more than that of the readings.
const SURELY: f64 = 0.05;

/// One reading of a freshly seated clip.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Seating {
    /// The angle read.
    pub angle_deg: Angle,
    /// Standard uncertainty of that from the scatter of its samples.
    pub repeat_deg: Angle,
}

/// What speaks against seatings of one blade being seatings of one clip on it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Doubt {
    /// One is far from the others.
    Off {
        /// Which, from 1.
        number: usize,
        /// How far from the median of the others.
        by_deg: Angle,
    },
    /// They lie in two groups.
    TwoGroups {
        /// How far apart.
        apart_deg: Angle,
    },
}

/// What is to be asked about the seatings of one blade before they count.
#[must_use]
pub fn doubts(blade: &[Seating]) -> Vec<Doubt> {
    if let Some(apart_deg) = two_groups(blade) {
        return vec![Doubt::TwoGroups { apart_deg }];
    }
    let off = |at: usize| {
        let others = blade.iter().enumerate().filter(|(other, _)| *other != at);
        let mut others: Vec<f64> = others.map(|(_, seating)| seating.angle_deg.degrees()).collect();
        let by = blade[at].angle_deg.degrees() - median(&mut others)?;
        (by.abs() > DOUBTFUL_DEGREES).then(|| Doubt::Off { number: at + 1, by_deg: Angle::from_degrees(by) })
    };
    if blade.len() < FEWEST_SEATINGS { Vec::new() } else { (0..blade.len()).filter_map(off).collect() }
}

/// How far apart the two groups are in which the seatings lie, where each has two at least and neither is as wide as the gap.
fn two_groups(blade: &[Seating]) -> Option<Angle> {
    let mut angles: Vec<f64> = blade.iter().map(|seating| seating.angle_deg.degrees()).collect();
    angles.sort_by(f64::total_cmp);
    let (first, last) = (*angles.first()?, *angles.last()?);
    let splits = 2..angles.len().saturating_sub(1);
    let gap = |at: usize| (angles[at] - angles[at - 1], (angles[at - 1] - first).max(last - angles[at]));
    let (gap, widest) = splits.map(gap).max_by(|one, other| one.0.total_cmp(&other.0))?;
    (gap > DOUBTFUL_DEGREES && gap > widest).then(|| Angle::from_degrees(gap))
}

/// What a study found.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Reseat {
    /// How far the clip sits from where it sat, one standard uncertainty.
    #[serde(rename = "u_clip_deg")]
    pub u: Angle,
    /// How well that is known.
    #[serde(rename = "degrees_of_freedom")]
    pub freedom: Freedom,
    /// Standard deviation within a blade, the scatter of the readings included.
    pub scatter_deg: Angle,
    /// Root mean square of the readings' own uncertainty.
    pub repeat_deg: Angle,
    /// Whether the seat stands out of the readings' scatter; if not, `u` is all of that scatter.
    pub stands_out: bool,
    /// Seatings, all blades together.
    pub seatings: u32,
    /// Blades.
    pub blades: u32,
}

/// Too little to say anything.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("few seatings: {have}")]
pub struct TooFewSeatings {
    /// The fewest that a blade had.
    pub have: usize,
}

impl Reseat {
    /// Evaluates the seatings, one row a blade.
    ///
    /// # Errors
    /// When a blade, or the whole study, has too few.
    pub fn of(blades: &[Vec<Seating>]) -> Result<Self, TooFewSeatings> {
        let fewest = blades.iter().map(Vec::len).min().unwrap_or(0);
        if fewest < FEWEST_SEATINGS {
            return Err(TooFewSeatings { have: fewest });
        }
        let within = blades.iter().map(|blade| about_mean(blade)).fold(Squares::default(), Squares::pooled);
        let all = || blades.iter().flatten();
        let squares: Vec<f64> = all().map(|seating| seating.repeat_deg.radians().powi(2)).collect();
        // The readings' own scatter is known from hundreds of samples each.
        let freedom = 100.0 * squares.len() as f64;
        let readings = Squares { sum: mean(&squares).unwrap_or(0.0) * freedom, freedom };
        let stands_out = within.chance_against(readings) < SURELY;
        let seat = component(within, readings, 1.0);
        let (variance, freedom) = if stands_out { (seat.value, seat.freedom) } else { (within.mean(), within.freedom) };
        Ok(Self {
            u: Angle::from_radians(variance.sqrt()),
            freedom: Freedom::new(freedom),
            scatter_deg: Angle::from_radians(within.mean().sqrt()),
            repeat_deg: Angle::from_radians(readings.mean().sqrt()),
            stands_out,
            seatings: squares.len() as u32,
            blades: blades.len() as u32,
        })
    }
}

fn about_mean(blade: &[Seating]) -> Squares {
    let angles: Vec<f64> = blade.iter().map(|seating| seating.angle_deg.radians()).collect();
    let centre = mean(&angles).unwrap_or(0.0);
    Squares { sum: angles.iter().map(|angle| (angle - centre).powi(2)).sum(), freedom: angles.len() as f64 - 1.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::noise::Random;

    fn seated(degrees: &[f64]) -> Vec<Seating> {
        let repeat_deg = Angle::from_degrees(0.01);
        degrees.iter().map(|angle| Seating { angle_deg: Angle::from_degrees(*angle), repeat_deg }).collect()
    }

    #[test]
    fn a_rest_that_is_no_seating_is_doubted_and_a_good_clip_is_not() {
        assert_eq!(doubts(&seated(&[2.0, 2.1, 1.95, 2.05, 2.2, 1.9])), []);
        let off = doubts(&seated(&[2.0, 2.1, 2.62, 2.05, 1.98]));
        assert!(
            matches!(off[..], [Doubt::Off { number: 3, by_deg }] if (by_deg.degrees() - 0.595).abs() < 1e-9),
            "{off:?}"
        );
        // Two of six: a clip that sits in two ways.
        let groups = doubts(&seated(&[2.0, 2.6, 2.05, 2.62, 1.98, 2.03]));
        assert!(
            matches!(groups[..], [Doubt::TwoGroups { apart_deg }] if (apart_deg.degrees() - 0.55).abs() < 1e-9),
            "{groups:?}"
        );
        // Of two nobody knows which is off.
        assert_eq!(doubts(&seated(&[2.0, 3.0])), []);
        // A clip of 0.05° is asked about less than once in a thousand studies.
        let mut random = Random::new(17);
        let asked = (0..2000).filter(|_| !doubts(&study(&[1.0], 6, 0.05, 0.01, &mut random)[0]).is_empty());
        assert_eq!(asked.count(), 0);
    }

    fn study(blades: &[f64], seatings: usize, seat: f64, repeat: f64, random: &mut Random) -> Vec<Vec<Seating>> {
        let mut read = |blade: f64| Seating {
            angle_deg: Angle::from_degrees(blade + seat * random.normal() + repeat * random.normal()),
            repeat_deg: Angle::from_degrees(repeat),
        };
        blades.iter().map(|&blade| (0..seatings).map(|_| read(blade)).collect()).collect()
    }

    #[test]
    fn the_seat_comes_out_whatever_the_blades_stand_at_and_the_readings_scatter() {
        let mut random = Random::new(4);
        let studies = 400;
        let mut variance = 0.0;
        for _ in 0..studies {
            let found = Reseat::of(&study(&[0.3, -1.1], 8, 0.15, 0.06, &mut random)).unwrap();
            variance += found.u.degrees().powi(2) / f64::from(studies);
            assert!(found.freedom.value() <= 14.0 + 1e-9);
        }
        let u = variance.sqrt();
        println!("u of the seat {u:.4}°, put in 0.15°");
        assert!((u / 0.15 - 1.0).abs() < 0.05, "{u}");
    }

    /// ±t·u with the study's own degrees of freedom holds the next seating 95 times in a hundred.
    #[test]
    fn the_next_seating_lies_within_what_the_study_foretells() {
        let mut random = Random::new(9);
        let studies = 3000;
        let mut inside = 0;
        for _ in 0..studies {
            let found = Reseat::of(&study(&[0.0, 0.0], 4, 0.1, 0.01, &mut random)).unwrap();
            let factor = crate::stats::student::coverage_factor(0.95, found.freedom.value()).unwrap();
            inside += usize::from((0.1 * random.normal()).abs() < factor * found.u.degrees());
        }
        let share = inside as f64 / f64::from(studies);
        println!("{:.1} % inside", 100.0 * share);
        assert!((0.935..0.965).contains(&share), "{share}");
    }

    #[test]
    fn a_seat_that_hides_in_the_scatter_is_not_called_perfect() {
        let mut random = Random::new(2);
        let found = Reseat::of(&study(&[0.0, 0.0], 5, 0.0, 0.1, &mut random)).unwrap();
        assert!(!found.stands_out);
        assert_eq!((found.u, found.freedom.value()), (found.scatter_deg, 8.0));
    }

    #[test]
    fn too_few_seatings_are_refused() {
        let mut random = Random::new(2);
        let few = Reseat::of(&study(&[0.0, 0.0], 2, 0.1, 0.0, &mut random)).unwrap_err();
        assert_eq!(few.have, 2);
        assert_eq!(Reseat::of(&[]).unwrap_err().have, 0);
    }
}
