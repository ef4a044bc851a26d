//! Watching one axis being moved to both its ends.

use super::{BenchError, Session};
use crate::filter::SteadySettings;
use crate::guide::{Moment, Rest, Sweeper};
use crate::record::Sweep;
use crate::record::trade::is_buzz;
use crate::units::{Angle, Seconds};

/// Still for so long, the blade is at an end or back at centre.
const AT_LEAST: Seconds = Seconds::new(0.6);
/// An end is known well enough like this.
const WANTED_DEGREES: f64 = 0.1;

/// Watches until both directions were reached and the stick is back, until nothing more comes, or until the stream ends;
/// `seen` is told whenever something was seen.
///
/// # Errors
/// When the sensor or its link fails. A recording that ends has shown what it has.
pub async fn sweep(
    session: &Session,
    mut sweeper: Sweeper,
    mut seen: impl FnMut(&Sweeper),
) -> Result<Sweep, BenchError> {
    let settings =
        SteadySettings { at_least: AT_LEAST, want: Angle::from_degrees(WANTED_DEGREES), ..SteadySettings::default() };
    let mut live = session.live();
    seen(&sweeper);
    loop {
        let reading = session.read(settings);
        tokio::pin!(reading);
        let mut watching = true;
        let taken = loop {
            tokio::select! {
                taken = &mut reading => break taken,
                changed = live.changed(), if watching => match changed {
                    Ok(()) => if let Some(now) = *live.borrow_and_update() {
                        sweeper.moment(Moment { clock: now.clock, apparent: now.apparent_pitch, span: now.span_inclination, buzzes: false });
                    },
                    Err(_) => watching = false,
                },
            }
        };
        let steady = match taken {
            Ok(taken) => taken.steady,
            Err(BenchError::Ended) => return Ok(sweeper.sweep()),
            Err(BenchError::Nothing) => continue,
            Err(error) => return Err(error),
        };
        if steady.steady {
            let swing = steady.vibration.map_or(Angle::ZERO, |vibration| vibration.amplitude);
            let at = Moment {
                clock: steady.finished_at,
                apparent: steady.apparent_pitch(),
                span: steady.span_inclination(),
                buzzes: is_buzz(swing, None),
            };
            let before = sweeper.wants();
            sweeper.rest(&Rest { from: steady.settled_at, at, swing });
            if before != sweeper.wants() {
                seen(&sweeper);
            }
        }
        // A blade that never rests is not waited for for ever either.
        if sweeper.is_over() || sweeper.is_given_up(steady.finished_at) {
            return Ok(sweeper.sweep());
        }
    }
}
