//! An old setup read anew: today's filter and a chosen calibration over the raw samples that its captures kept.
//!
//! The raw samples are only read. What comes out is a new reading for each capture, to be shown beside the old one and,
//! when the person wants it, added to the setup as one more entry; the captures themselves are never changed.
//!
//! Today's filter is asked for what the capture was asked for; of an older one, which does not say, for what it had reached
//! (twice its repeat), else for the usual. With the calibration that was used the same filter gives back what was read.
//! The clip's seat is as it was, and so is its uncertainty. The zero of a capture stays as it was set: a datum keeps no raw samples. Against one that was read with another calibration an
//! absolute angle mixes the two; travels and splits do not.

use super::{Circumstances, EvaluateError, Instrument, Taken, evaluate};
use crate::filter::{EndedBy, SteadyReader, SteadyReading, SteadySettings};
use crate::record::{Capture, RawSamples, Reading};
use crate::stream::Counters;
use crate::uncertainty::{Budget, Component};
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
    let steady = asked(&old.reading)
        .into_iter()
        .find_map(|settings| read(&raw.samples, instrument, settings))
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
    reading.budget = with_the_seat_of(&old.reading.budget, &reading.budget);
    let mut new = old.clone();
    new.reading = reading;
    new.sensor.calibration = instrument.calibration_name();
    Ok(new)
}

/// What to ask the filter for, one after the other until there is a reading.
fn asked(old: &Reading) -> Vec<SteadySettings> {
    let usual = SteadySettings::default();
    let said = old.asked.map(|asked| SteadySettings {
        want: asked.want,
        within: asked.within,
        at_least: asked.at_least,
        floor: asked.floor,
        ..usual
    });
    let reached = old.budget.components().get(&Component::Repeat).copied().unwrap_or_default() * 2.0;
    // A reading ends with the first sample that makes it good enough: by another calibration it may just not be.
    let as_reached = Some(SteadySettings { want: reached * 1.1, ..usual }).filter(|_| reached > Angle::ZERO);
    said.into_iter().chain(as_reached).chain([usual]).collect()
}

/// The new budget with what the clip's seat and the sensor's floor contributed to the old one: both were known then, and no sample
/// tells them.
fn with_the_seat_of(old: &Budget, new: &Budget) -> Budget {
    let of = |component| old.contributions().iter().find(|contribution| contribution.component == component).cloned();
    Budget::new(new.contributions().iter().filter_map(|contribution| match contribution.component {
        Component::Floor => of(Component::Floor),
        Component::Clip => of(Component::Clip).or_else(|| Some(contribution.clone())),
        _ => Some(contribution.clone()),
    }))
}

fn read(samples: &[Sample], instrument: &Instrument, settings: SteadySettings) -> Option<SteadyReading> {
    let mut reader = SteadyReader::new(instrument.settings(settings));
    for sample in samples {
        reader.push(&instrument.force(sample));
    }
    reader.finish(EndedBy::End).filter(|reading| reading.steady)
}

#[cfg(test)]
#[path = "recompute_tests.rs"]
mod tests;
