//! Whether a scenario makes a helicopter: every number within what a bench could hold.

use super::RigError;
use super::scenario::Scenario;
use crate::units::MOST_BLADES;

/// Refuses the first number that makes no sense, in plain words.
pub(crate) fn scenario(s: &Scenario) -> Result<(), RigError> {
    let within = |field: &'static str, value: f64, lowest: f64, highest: f64, wanted: &'static str| {
        if (lowest..=highest).contains(&value) {
            Ok(())
        } else {
            Err(RigError::Value { field, given: value.to_string(), wanted })
        }
    };
    let angle = |field, value: crate::units::Angle, most: f64, wanted| {
        within(field, value.degrees(), -most - 1e-9, most + 1e-9, wanted)
    };
    let positive = |field, value: f64, highest, wanted| within(field, value, 1e-9, highest, wanted);
    let share = |field, value: crate::units::Percent| within(field, value.value(), 0.0, 100.0, "write 0 to 100");

    within("head.blades", s.head.blades as f64, 2.0, MOST_BLADES as f64, "a main rotor here has 2 to 8 blades")?;
    angle("head.station_deg", s.head.station_deg, 1e6, "write degrees from the boom")?;
    angle("head.nose_deg", s.head.nose_deg, 60.0, "write −60 to 60")?;
    angle("head.left_deg", s.head.left_deg, 60.0, "write −60 to 60")?;
    angle("head.collective_deg", s.head.collective_deg, 30.0, "write −30 to 30")?;
    angle("head.cyclic_deg", s.head.cyclic_deg, 30.0, "write −30 to 30")?;
    angle("head.arm_square_at_deg", s.head.arm_square_at_deg, 30.0, "write −30 to 30")?;
    angle("head.link_lead_deg", s.head.link_lead_deg, 180.0, "write −180 to 180")?;
    angle("head.mixing_phase_deg", s.head.mixing_phase_deg, 180.0, "write −180 to 180")?;
    angle("head.spindle_bend_deg", s.head.spindle_bend_deg, 20.0, "write −20 to 20")?;
    angle("head.spindle_bend_azimuth_deg", s.head.spindle_bend_azimuth_deg, 360.0, "write −360 to 360")?;
    within("head.slop_deg", s.head.slop_deg.degrees(), 0.0, 10.0, "write 0 to 10")?;
    for (field, length) in [
        ("head.pitch_arm_mm", s.head.pitch_arm_mm),
        ("head.link_thread_mm", s.head.link_thread_mm),
        ("head.servo_arm_mm", s.head.servo_arm_mm),
        ("head.plate_servo_radius_mm", s.head.plate_servo_radius_mm),
        ("head.plate_link_radius_mm", s.head.plate_link_radius_mm),
        ("tail.pitch_arm_mm", s.tail.pitch_arm_mm),
        ("tail.servo_arm_mm", s.tail.servo_arm_mm),
    ] {
        positive(field, length.value(), 1000.0, "write a length in millimetres above zero")?;
    }
    for (field, list) in
        [("blades.link_error_deg", &s.blades.link_error_deg), ("blades.droop_deg", &s.blades.droop_deg)]
    {
        within(field, list.len() as f64, 0.0, s.head.blades as f64, "the list is longer than the rotor has blades")?;
        for &value in list {
            angle(field, value, 45.0, "write −45 to 45 for each blade")?;
        }
    }
    for value in s.servos.arm_offset_deg.into_iter().chain(s.servos.sub_trim_deg) {
        angle("servos.arm_offset_deg or sub_trim_deg", value, 40.0, "write −40 to 40")?;
    }
    share("servos.creep_percent", s.servos.creep_percent)?;
    share("servos.bind_creep_percent", s.servos.bind_creep_percent)?;
    positive("servos.creep_time_s", s.servos.creep_time_s.value(), 1000.0, "write seconds above zero")?;
    positive("servos.buzz_hz", s.servos.buzz_hz.value(), 1000.0, "write hertz above zero")?;
    within("servos.buzz_wander_hz", s.servos.buzz_wander_hz.value(), 0.0, 100.0, "write 0 to 100")?;
    angle("servos.buzz_deg", s.servos.buzz_deg, 10.0, "write 0 to 10")?;
    angle("servos.bind_buzz_deg", s.servos.bind_buzz_deg, 10.0, "write 0 to 10")?;
    angle("tail.travel_deg", s.tail.travel_deg, 60.0, "write −60 to 60")?;
    angle("tail.neutral_deg", s.tail.neutral_deg, 30.0, "write −30 to 30")?;
    for value in s.tail.blade_error_deg {
        angle("tail.blade_error_deg", value, 20.0, "write −20 to 20")?;
    }
    within("tail.slop_deg", s.tail.slop_deg.degrees(), 0.0, 10.0, "write 0 to 10")?;
    angle("tail.level_error_deg", s.tail.level_error_deg, 80.0, "write −80 to 80")?;
    for bind in &s.binds {
        within("bind.travel_deg", bind.travel_deg.degrees(), 0.1, 90.0, "write a travel from 0.1 to 90")?;
    }
    sensor(s, &within)?;
    stream(s, &within)
}

type Within<'a> = &'a dyn Fn(&'static str, f64, f64, f64, &'static str) -> Result<(), RigError>;

fn sensor(s: &Scenario, within: Within<'_>) -> Result<(), RigError> {
    let sensor = &s.sensor;
    within("sensor.counts_per_g", sensor.counts_per_g, 1.0, 1e9, "write counts for 1 g, 1 or more")?;
    within("sensor.range_g", sensor.range_g.value(), 0.1, 1e4, "write a range in g, 0.1 or more")?;
    for value in sensor.offset_mg.into_iter().chain(sensor.tempco_mg_per_c) {
        within("sensor.offset_mg or tempco_mg_per_c", value, -1000.0, 1000.0, "write −1000 to 1000")?;
    }
    for value in sensor.scale_percent {
        within("sensor.scale_percent", value.value(), -50.0, 50.0, "write −50 to 50")?;
    }
    for value in sensor.cross_axis_deg {
        within("sensor.cross_axis_deg", value.degrees(), -20.0, 20.0, "write −20 to 20")?;
    }
    for value in sensor.misalignment_deg {
        within("sensor.misalignment_deg", value.degrees(), -180.0, 180.0, "write −180 to 180")?;
    }
    for value in [sensor.celsius, sensor.reference_celsius] {
        within("sensor.celsius or reference_celsius", value.value(), -60.0, 150.0, "write −60 to 150")?;
    }
    within("sensor.noise_density_ug_rthz", sensor.noise_density_ug_rthz, 0.0, 1e6, "write 0 or more")?;
    within("sensor.flicker_mg", sensor.flicker_mg, 0.0, 1000.0, "write 0 to 1000")?;
    within("sensor.spike_percent", sensor.spike_percent.value(), 0.0, 100.0, "write 0 to 100")?;
    within("sensor.spike_g", sensor.spike_g.value(), 0.0, 1e4, "write 0 or more")?;
    for (field, value) in [
        ("clip.chord_offset_deg", s.clip.chord_offset_deg),
        ("clip.span_offset_deg", s.clip.span_offset_deg),
        ("clip.cable_pull_deg", s.clip.cable_pull_deg),
        ("clip.yaw_deg", s.clip.yaw_deg),
        ("clip.reseat_deg", s.clip.reseat_deg),
        ("clip.reseat_yaw_deg", s.clip.reseat_yaw_deg),
        ("table.slope_deg", s.table.slope_deg),
        ("table.span_slope_deg", s.table.span_slope_deg),
    ] {
        within(field, value.degrees(), -45.0, 45.0, "write −45 to 45")?;
    }
    if s.clip.blade.index() >= s.head.blades {
        return Err(RigError::NoSuchBlade { blade: s.clip.blade.to_string(), count: s.head.blades });
    }
    within("operator.overshoot_percent", s.operator.overshoot_percent.value(), 0.0, 100.0, "write 0 to 100")?;
    within("operator.overshoot_rest_s", s.operator.overshoot_rest_s.value(), 0.0, 100.0, "write 0 to 100")?;
    within("operator.tremor_deg", s.operator.tremor_deg.degrees(), 0.0, 10.0, "write 0 to 10")
}

fn stream(s: &Scenario, within: Within<'_>) -> Result<(), RigError> {
    let stream = &s.stream;
    within("stream.rate_hz", stream.rate_hz.value(), 0.1, 20_000.0, "write 0.1 to 20000")?;
    within("stream.rate_error_percent", stream.rate_error_percent.value(), -50.0, 50.0, "write −50 to 50")?;
    within("stream.jitter_ms", stream.jitter_ms, 0.0, 1000.0, "write 0 to 1000")?;
    within("stream.boot_s", stream.boot_s.value(), 0.0, 60.0, "write 0 to 60")?;
    for (field, value) in [
        ("stream.damage_percent", stream.damage_percent),
        ("stream.loss_percent", stream.loss_percent),
        ("stream.repeat_percent", stream.repeat_percent),
    ] {
        within(field, value.value(), 0.0, 100.0, "write 0 to 100")?;
    }
    // A byte is ten bits on the line.
    let needed = stream.rate_hz.value() * stream.profile.shortest() * 10.0;
    within(
        "stream.baud",
        f64::from(stream.baud),
        needed,
        f64::INFINITY,
        "too slow for this rate: the lines of a second do not fit",
    )
}
