//! A head, a sensor and a bench drawn at random.

use clinoblade::rig::noise::Random;
use clinoblade::rig::{Blade, Rotation, Scenario};
use clinoblade::units::{Angle, Celsius, Hertz, Percent};

fn deg(degrees: f64) -> Angle {
    Angle::from_degrees(degrees)
}

/// The world of a seed.
pub fn scenario(seed: u64) -> Scenario {
    let mut random = Random::new(seed ^ 0x05EE_D0F7_AB1E);
    let mut world = Scenario { seed, ..Scenario::default() };
    head(&mut world, &mut random);
    sensor(&mut world, &mut random);
    bench(&mut world, &mut random);
    world
}

fn head(world: &mut Scenario, random: &mut Random) {
    let head = &mut world.head;
    head.rotation = if random.chance(0.5) { Rotation::Clockwise } else { Rotation::Anticlockwise };
    head.blades = if random.chance(0.7) { 2 } else { 3 };
    head.nose_deg = deg(random.between(-2.0, 2.0));
    head.left_deg = deg(random.between(-2.0, 2.0));
    head.cyclic_deg = deg(random.between(8.0, 12.0));
    head.arm_square_at_deg = deg(random.between(-5.0, 5.0));
    world.servos.sub_trim_deg = [(); 3].map(|()| deg(1.3 * random.normal()));
    world.blades.link_error_deg = (0..head.blades).map(|_| deg(0.7 * random.normal())).collect();
    world.blades.droop_deg = (0..head.blades).map(|_| deg(random.between(-3.0, 0.0))).collect();
    world.tail.travel_deg = deg(random.between(25.0, 38.0));
    world.tail.neutral_deg = deg(random.between(-2.0, 6.0));
    world.tail.blade_error_deg = [(); 2].map(|()| deg(0.5 * random.normal()));
    world.tail.level_error_deg = deg(random.between(-5.0, 5.0));
}

fn sensor(world: &mut Scenario, random: &mut Random) {
    let sensor = &mut world.sensor;
    sensor.offset_mg = [(); 3].map(|()| random.between(-80.0, 80.0));
    sensor.scale_percent = [(); 3].map(|()| Percent::new(random.between(-5.0, 5.0)));
    sensor.cross_axis_deg = [(); 3].map(|()| deg(random.between(-0.7, 0.7)));
    sensor.misalignment_deg = [(); 3].map(|()| deg(random.between(-1.9, 1.9)));
    sensor.tempco_mg_per_c = [(); 3].map(|()| random.between(-1.0, 1.0));
    sensor.noise_density_ug_rthz = random.between(100.0, 300.0);
    sensor.celsius = Celsius::new(random.between(18.0, 28.0));
    sensor.reference_celsius = sensor.celsius;
    world.stream.rate_hz = Hertz::new(100.0);
    world.stream.temperature = true;
}

fn bench(world: &mut Scenario, random: &mut Random) {
    world.clip.blade = Blade::A;
    world.clip.chord_offset_deg = deg(random.normal());
    world.clip.span_offset_deg = deg(random.normal());
    world.clip.yaw_deg = deg(random.between(-1.0, 1.0));
    world.clip.reseat_yaw_deg = deg(1.0);
    world.clip.reseat_deg = deg(super::bench::SEAT_DEGREES);
    world.table.slope_deg = deg(random.between(-3.0, 3.0));
    world.table.span_slope_deg = deg(random.between(-3.0, 3.0));
    world.table.seating_deg = Some(deg(0.05));
}
