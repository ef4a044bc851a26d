//! Whether a scenario makes a helicopter: every number within what a bench could hold.

use super::RigError;
use super::scenario::Scenario;
use crate::units::{Angle, Celsius, Gravities, Hertz, MOST_BLADES, Millimetres, Percent, Seconds};

/// Above zero, however little.
const ABOVE_ZERO: f64 = 1e-9;

/// What a field of a scenario holds, as numbers in its own unit.
trait Numbers {
    fn numbers(&self) -> Vec<f64>;
}

impl Numbers for f64 {
    fn numbers(&self) -> Vec<f64> {
        vec![*self]
    }
}

impl Numbers for usize {
    fn numbers(&self) -> Vec<f64> {
        vec![*self as f64]
    }
}

impl Numbers for Angle {
    fn numbers(&self) -> Vec<f64> {
        vec![self.degrees()]
    }
}

macro_rules! numbers {
    ($($unit:ty),+) => {
        $(impl Numbers for $unit {
            fn numbers(&self) -> Vec<f64> {
                vec![self.value()]
            }
        })+
    };
}

numbers!(Celsius, Gravities, Hertz, Millimetres, Percent, Seconds);

impl<T: Numbers> Numbers for [T] {
    fn numbers(&self) -> Vec<f64> {
        self.iter().flat_map(Numbers::numbers).collect()
    }
}

impl<T: Numbers, const N: usize> Numbers for [T; N] {
    fn numbers(&self) -> Vec<f64> {
        self.as_slice().numbers()
    }
}

impl<T: Numbers> Numbers for Vec<T> {
    fn numbers(&self) -> Vec<f64> {
        self.as_slice().numbers()
    }
}

/// Fields of a scenario with what they may hold: as much to either side, or from one value to another.
macro_rules! fields {
    ($of:ident: $($section:ident . $field:ident $($limit:expr),+;)+) => {
        $(within(concat!(stringify!($section), ".", stringify!($field)), &$of.$section.$field, bounds!($($limit),+))?;)+
    };
}

macro_rules! bounds {
    ($most:expr) => {
        // Degrees that were radians in between may lie a last digit beyond.
        (-$most, $most, 1e-9)
    };
    ($lowest:expr, $highest:expr) => {
        ($lowest, $highest, 0.0)
    };
}

/// Refuses the first number that makes no sense.
pub(crate) fn scenario(s: &Scenario) -> Result<(), RigError> {
    fields! { s:
        head.blades 2.0, MOST_BLADES as f64;
        head.station_deg 1e6;
        head.nose_deg 60.0;
        head.left_deg 60.0;
        head.collective_deg 30.0;
        head.cyclic_deg 30.0;
        head.arm_square_at_deg 30.0;
        head.link_lead_deg 180.0;
        head.mixing_phase_deg 180.0;
        head.spindle_bend_deg 20.0;
        head.spindle_bend_azimuth_deg 360.0;
        head.slop_deg 0.0, 10.0;
        head.pitch_arm_mm ABOVE_ZERO, 1000.0;
        head.link_span_mm 0.0, 1000.0;
        head.link_thread_mm ABOVE_ZERO, 1000.0;
        head.servo_arm_mm ABOVE_ZERO, 1000.0;
        head.plate_servo_radius_mm ABOVE_ZERO, 1000.0;
        head.plate_link_radius_mm ABOVE_ZERO, 1000.0;
        blades.link_error_deg 45.0;
        blades.droop_deg 45.0;
        servos.arm_offset_deg 40.0;
        servos.sub_trim_deg 40.0;
        servos.creep_percent 0.0, 100.0;
        servos.bind_creep_percent 0.0, 100.0;
        servos.creep_time_s ABOVE_ZERO, 1000.0;
        servos.buzz_hz ABOVE_ZERO, 1000.0;
        servos.buzz_wander_hz 0.0, 100.0;
        servos.buzz_deg 10.0;
        servos.bind_buzz_deg 10.0;
        tail.travel_deg 60.0;
        tail.neutral_deg 30.0;
        tail.blade_error_deg 20.0;
        tail.level_error_deg 80.0;
        tail.slop_deg 0.0, 10.0;
        tail.pitch_arm_mm ABOVE_ZERO, 1000.0;
        tail.servo_arm_mm ABOVE_ZERO, 1000.0;
        sensor.counts_per_g 1.0, 1e9;
        sensor.range_g 0.1, 1e4;
        sensor.offset_mg 1000.0;
        sensor.tempco_mg_per_c 1000.0;
        sensor.scale_percent 50.0;
        sensor.cross_axis_deg 20.0;
        sensor.misalignment_deg 180.0;
        sensor.celsius -60.0, 150.0;
        sensor.reference_celsius -60.0, 150.0;
        sensor.noise_density_ug_rthz 0.0, 1e6;
        sensor.flicker_mg 0.0, 1000.0;
        sensor.spike_percent 0.0, 100.0;
        sensor.spike_g 0.0, 1e4;
        clip.chord_offset_deg 45.0;
        clip.span_offset_deg 45.0;
        clip.cable_pull_deg 45.0;
        clip.yaw_deg 45.0;
        clip.reseat_deg 45.0;
        clip.reseat_yaw_deg 45.0;
        table.slope_deg 45.0;
        table.span_slope_deg 45.0;
        operator.overshoot_percent 0.0, 100.0;
        operator.overshoot_rest_s 0.0, 100.0;
        operator.tremor_deg 0.0, 10.0;
        stream.rate_hz 0.1, 20_000.0;
        stream.rate_error_percent 50.0;
        stream.jitter_ms 0.0, 1000.0;
        stream.boot_s 0.0, 60.0;
        stream.damage_percent 0.0, 100.0;
        stream.loss_percent 0.0, 100.0;
        stream.repeat_percent 0.0, 100.0;
    }
    s.binds.iter().try_for_each(|bind| within("bind.travel_deg", &bind.travel_deg, (0.1, 90.0, 0.0)))?;
    // Before the start too, but never at no time.
    s.timeline.iter().try_for_each(|event| within("timeline.at_s", &event.at_s, (f64::MIN, f64::MAX, 0.0)))?;
    let blades = s.head.blades;
    for (field, list) in [("link_error_deg", &s.blades.link_error_deg), ("droop_deg", &s.blades.droop_deg)] {
        if list.len() > blades {
            return Err(RigError::TooLong { field, given: list.len(), blades });
        }
    }
    if s.clip.blade.index() >= blades {
        return Err(RigError::NoSuchBlade { blade: s.clip.blade, blades });
    }
    // A byte is ten bits on the line.
    let needed = s.stream.rate_hz.value() * s.stream.profile.shortest() * 10.0;
    let baud = s.stream.baud;
    if f64::from(baud) < needed { Err(RigError::TooSlow { baud, needed }) } else { Ok(()) }
}

/// Refuses the first number of a field beyond its bounds, as far as `besides` beyond them.
fn within(field: &'static str, of: &impl Numbers, bounds: (f64, f64, f64)) -> Result<(), RigError> {
    let (lowest, highest, besides) = bounds;
    let within = |given: &f64| (lowest - besides..=highest + besides).contains(given);
    match of.numbers().into_iter().find(|given| !within(given)) {
        Some(given) => Err(RigError::Value { field, given, lowest, highest }),
        None => Ok(()),
    }
}
