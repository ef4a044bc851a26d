//! An old setup read anew: today's filter and a chosen calibration over the raw samples that its captures kept.
//!
//! The raw samples are only read. What comes out is a new reading for each capture, to be shown beside the old one and,
//! when the person wants it, added to the setup as one more entry; the captures themselves are never changed.
//!
//! Today's filter is asked for what the capture had reached (twice its repeat), else for the usual. The zero of a
//! capture stays as it was set: a datum keeps no raw samples. Against one that was read with another calibration an
//! absolute angle mixes the two; travels and splits do not.

use super::{Circumstances, EvaluateError, Instrument, Taken, evaluate};
use crate::filter::{EndedBy, SteadyReader, SteadyReading, SteadySettings};
use crate::record::{Capture, RawSamples};
use crate::stream::Counters;
use crate::uncertainty::Component;
use crate::units::{Angle, Sample};

/// Why a capture cannot be read anew.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum RecomputeError {
    /// Its samples are no longer thought steady, or none is fit.
    #[error("not steady")]
    NotSteady,
    /// The angle cannot be had.
    #[error(transparent)]
    Evaluate(#[from] EvaluateError),
}

/// Reads a capture anew from its raw samples. `instrument` has the calibration to use.
///
/// # Errors
/// When today's filter finds no steady stretch, or the force gives no angle.
pub fn recompute(old: &Capture, raw: &RawSamples, instrument: &Instrument) -> Result<Capture, RecomputeError> {
    let reached = old.reading.budget.components().get(&Component::Repeat).copied().unwrap_or_default() * 2.0;
    let usual = SteadySettings::default();
    let as_reached = SteadySettings { want: reached, ..usual };
    let steady = Some(as_reached)
        .filter(|settings| settings.want > Angle::ZERO)
        .and_then(|settings| read(&raw.samples, instrument, settings))
        .or_else(|| read(&raw.samples, instrument, usual))
        .ok_or(RecomputeError::NotSteady)?;
    let taken = Taken {
        steady,
        counters: Counters::default(),
        temperature: raw.samples.iter().rev().find_map(|sample| sample.temperature),
        samples: Vec::new(),
    };
    let at = Circumstances {
        place: Some(old.subject.place(old.clip)),
        clip: old.clip,
        datum: old.datum.datum,
        datum_temperature: old.datum.temperature,
        on_the_datums_seat: old.datum.seat == Some(old.seat),
    };
    let mut reading = evaluate(&taken, instrument, &at)?;
    // What the line lost and damaged was counted then; the kept samples do not tell it again.
    reading.damaged_frames = old.reading.damaged_frames;
    reading.lost_samples = old.reading.lost_samples;
    let mut new = old.clone();
    new.reading = reading;
    new.sensor.calibration = instrument.calibration_name();
    Ok(new)
}

fn read(samples: &[Sample], instrument: &Instrument, settings: SteadySettings) -> Option<SteadyReading> {
    let mut reader = SteadyReader::new(instrument.settings(settings));
    for sample in samples {
        reader.push(&instrument.force(sample));
    }
    reader.finish(EndedBy::End).filter(|reading| reading.steady)
}
