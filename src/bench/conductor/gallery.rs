//! The pictures that the captures at hand allow.

use super::sheet::Picture;
use crate::SetupHandle;
use crate::record::{CollectiveSurvey, RotorSurvey};
use crate::report::pictures;
use crate::stats::allan;
use crate::units::{Angle, Seconds};
use crate::words;
use crate::{Instrument, Taken};
use std::collections::BTreeMap;

/// Fewer readings round the turn make no picture.
const FEWEST_READINGS: usize = 3;

/// Older rests are forgotten.
const MOST_RESTS: usize = 200;

/// The angle while the blade was still, capture after capture: what the sensor's noise does.
#[derive(Debug, Clone, Default)]
pub(super) struct Rests {
    spacing: Option<Seconds>,
    angles: std::collections::VecDeque<Vec<f64>>,
}

impl Rests {
    /// Adds the still stretch of a capture. One in which samples were lost is not evenly spaced, and left out.
    pub fn add(&mut self, taken: &Taken, instrument: &Instrument) {
        let still = taken.steady.settled_at..=taken.steady.finished_at;
        let samples: Vec<_> = taken.samples.iter().filter(|sample| still.contains(&sample.clock)).collect();
        let (Some(first), Some(last)) = (samples.first(), samples.last()) else { return };
        if samples.len() < 8 || samples.iter().skip(1).any(|sample| sample.lost_before > 0) {
            return;
        }
        let steps = (samples.len() - 1) as f64;
        self.spacing.get_or_insert(Seconds::new((last.clock - first.clock).value() / steps));
        let angle = |sample: &&crate::units::Sample| instrument.force(sample).up.apparent_pitch().degrees();
        self.angles.push_back(samples.iter().map(angle).collect());
        if self.angles.len() > MOST_RESTS {
            self.angles.pop_front();
        }
    }

    /// Allan deviation against averaging time.
    fn curve(&self) -> Vec<(Seconds, Angle)> {
        let Some(spacing) = self.spacing else { return Vec::new() };
        let records: Vec<Vec<f64>> = self.angles.iter().cloned().collect();
        let point = |point: allan::AllanPoint| (spacing * point.values as f64, Angle::from_degrees(point.deviation));
        allan::pooled(&records).into_iter().map(point).collect()
    }
}

/// The density of white noise that would begin the curve where it begins, degrees per √Hz.
fn density(curve: &[(Seconds, Angle)]) -> f64 {
    curve.first().map_or(0.0, |(time, deviation)| deviation.degrees() * (2.0 * time.value()).sqrt())
}

/// What can be drawn of a setup, as SVG.
#[derive(Debug, Clone, Default)]
pub(super) struct Gallery {
    drawn: BTreeMap<&'static str, (String, String)>,
    version: u64,
}

impl Gallery {
    /// Draws anew what the captures allow now.
    pub fn draw(&mut self, open: &SetupHandle, rests: &Rests, sensor: &Instrument) {
        let (head, entries) = (&open.setup().head, open.entries());
        let mut drawn = BTreeMap::new();
        if let Some(survey) = RotorSurvey::new(head, entries, None).ok().filter(|s| s.readings.len() >= FEWEST_READINGS)
        {
            let plot = pictures::azimuth(&survey.readings, &survey.solution, |blade| blade.to_string());
            drawn.insert("azimuth", (words::bench::AZIMUTH_PICTURE.to_owned(), plot.svg()));
        }
        if let Ok(survey) = CollectiveSurvey::new(head, entries, None) {
            let plot = pictures::collective(&survey, head);
            drawn.insert("collective", (words::bench::COLLECTIVE_PICTURE.to_owned(), plot.svg()));
        }
        let noise = rests.curve();
        if noise.len() > 2 {
            let plot = pictures::allan(&noise, density(&noise), sensor.floor);
            drawn.insert("noise", (words::bench::noise_picture(sensor.carrier), plot.svg()));
        }
        self.version += 1;
        self.drawn = drawn;
    }

    /// What there is.
    pub fn list(&self) -> Vec<Picture> {
        let picture = |(name, (title, _)): (&&str, &(String, String))| Picture {
            name: (*name).to_owned(),
            title: title.clone(),
            version: self.version,
        };
        self.drawn.iter().map(picture).collect()
    }

    /// One of them.
    pub fn svg(&self, name: &str) -> Option<String> {
        self.drawn.get(name).map(|(_, svg)| svg.clone())
    }
}
