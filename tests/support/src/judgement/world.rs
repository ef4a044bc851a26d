//! Heads, sensors and hands drawn at random, all of them as they should be.

use crate::coverage::checked;
use clinoblade::bench::Instrument;
use clinoblade::record::{Head, Lengthening};
use clinoblade::rig::noise::Random;
use clinoblade::rig::{self, Scenario};
use clinoblade::rotor::Rotation;
use clinoblade::sensor::poses::{Facing, Pose, guided};
use clinoblade::sensor::{JUDGED_POSES, Label, tumble};
use clinoblade::stream::Profile;
use clinoblade::uncertainty::Target;
use clinoblade::units::{Angle, Millimetres};
use std::sync::LazyLock;

/// The twelve poses of a tumble.
static POSES: LazyLock<Vec<Facing>> = LazyLock::new(|| guided(JUDGED_POSES));

pub fn deg(degrees: f64) -> Angle {
    Angle::from_degrees(degrees)
}

pub fn band(target: f64, tolerance: f64) -> Target {
    Target::Band { target: deg(target), tolerance: deg(tolerance) }
}

/// What a sensor tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Told {
    /// The force along its three axes.
    Force,
    /// Pitch and roll.
    Attitude,
    /// One angle, and nothing of the slope across.
    Tilt,
}

/// A sensor with its own errors.
#[derive(Debug, Clone)]
pub struct Chip {
    pub told: Told,
    /// Rows: how much of each axis of the case every axis of the chip feels.
    pub gain: [[f64; 3]; 3],
    /// In g.
    pub offset: [f64; 3],
    /// Scatter of a mean along each axis, g.
    pub noise: f64,
}

impl Chip {
    /// What it tells of a force in its case, in g.
    pub fn feels(&self, case: [f64; 3], hand: &mut Random) -> [f64; 3] {
        let axis = |i: usize| self.gain[i].iter().zip(case).map(|(g, f)| g * f).sum::<f64>() + self.offset[i];
        let [x, y, z] = [0, 1, 2].map(axis).map(|g| g + self.noise * hand.normal());
        let length = (x * x + y * y + z * z).sqrt();
        match self.told {
            Told::Force => [x, y, z],
            Told::Attitude => [x, y, z].map(|g| g / length),
            Told::Tilt => [x / x.hypot(z), 0.0, z / x.hypot(z)],
        }
    }
}

/// A head as it stands, as its owner describes it, and what it is read with.
#[derive(Debug, Clone)]
pub struct World {
    pub seed: u64,
    pub scenario: Scenario,
    pub head: Head,
    /// What each blade's collective is to be once its link is set, degrees.
    pub stand: Vec<f64>,
    /// What hands do to the rig before the job.
    pub hands: Vec<String>,
    pub chip: Chip,
    pub instrument: Instrument,
}

impl World {
    /// The head of a seed: either rotation, 2 to 5 blades, up to 3° of lean, up to 20° of phase; all of it right.
    pub fn right(seed: u64) -> Self {
        let mut random = Random::new(seed ^ 0x7AB1_E0FD);
        let mut scenario = Scenario { seed, ..Scenario::default() };
        let phase = random.between(-20.0, 20.0);
        let lean = random.between(0.0, 3.0);
        linkage(&mut scenario, &mut random, phase);
        leaning(&mut scenario, &mut random, lean);
        clip(&mut scenario, &mut random);
        let blades = scenario.head.blades;
        let mut head = described(&scenario, phase);
        tail(&mut scenario, &mut head, &mut random);
        if random.chance(0.5) {
            (head.targets.collective_low, head.targets.collective_high) =
                (Some(band(-10.0, 0.5)), Some(band(10.0, 0.5)));
        }
        let chip = chip(&mut random);
        let instrument = calibrated(&chip, &mut random, head.rotation);
        let stand = (0..blades).map(|_| (0.08 * random.normal()).clamp(-0.2, 0.2)).collect();
        Self { seed, scenario, head, stand, hands: Vec::new(), chip, instrument }
    }

    /// The model leans by so much, in a direction of its own.
    pub fn leans(&mut self, random: &mut Random, degrees: f64) {
        leaning(&mut self.scenario, random, degrees);
    }

    /// The controls act so much later in the turn.
    pub fn acts_later(&mut self, random: &mut Random, phase: f64) {
        with_phase(&mut self.scenario, random, phase);
        self.head.control_phase = deg(phase);
    }

    /// So much scatter in every reading.
    pub fn scatters(&mut self, degrees: f64) {
        self.chip.noise = degrees.to_radians();
    }

    /// Read with a sensor that nobody calibrated.
    pub fn uncalibrated(&mut self) {
        self.instrument = checked(Instrument::new(Profile::sentence(), None, self.head.rotation));
    }

    /// Read with a sensor that sends angles alone, as good as such a sensor is.
    pub fn angles_only(&mut self, random: &mut Random, told: Told) {
        let small = |random: &mut Random, size: f64| random.between(-size, size);
        self.chip.told = told;
        self.chip.offset = [(); 3].map(|()| small(random, 0.01));
        self.chip.gain =
            std::array::from_fn(|i| std::array::from_fn(|j| small(random, 0.005) + if i == j { 1.0 } else { 0.0 }));
        self.instrument = checked(Instrument::new(Profile::xdr(), None, self.head.rotation));
    }

    /// The description knows the plate on its servos too, as the head has it.
    pub fn describes_servos(&mut self) {
        let head = &self.scenario.head;
        let plate = serde_json::json!({
            "servo_radius_mm": head.plate_servo_radius_mm.value(),
            "link_radius_mm": head.plate_link_radius_mm.value(),
            "thread": "M2.5",
            "horn_mm": head.servo_arm_mm.value(),
            "lead_deg": head.link_lead_deg.degrees(),
        });
        self.head.swash = Some(serde_json::from_value(plate).unwrap());
    }

    /// The wanted pitch at the ends of the collective.
    pub fn wants_collective(&mut self, low: f64, high: f64) {
        let targets = &mut self.head.targets;
        (targets.collective_low, targets.collective_high) = (Some(band(low, 0.5)), Some(band(high, 0.5)));
    }
}

fn leaning(scenario: &mut Scenario, random: &mut Random, degrees: f64) {
    let (sin, cos) = random.between(0.0, std::f64::consts::TAU).sin_cos();
    (scenario.head.nose_deg, scenario.head.left_deg) = (deg(degrees * cos), deg(degrees * sin));
}

/// Made by the mixing or by where the links stand: either way positive is later in the direction of rotation.
fn with_phase(scenario: &mut Scenario, random: &mut Random, phase: f64) {
    let by_mixing = random.chance(0.5);
    let (mixing, lead) = if by_mixing { (phase, 90.0) } else { (0.0, 90.0 - phase) };
    (scenario.head.mixing_phase_deg, scenario.head.link_lead_deg) = (deg(mixing), deg(lead));
}

fn linkage(scenario: &mut Scenario, random: &mut Random, phase: f64) {
    let head = &mut scenario.head;
    head.rotation = if random.chance(0.5) { rig::Rotation::Clockwise } else { rig::Rotation::Anticlockwise };
    head.blades = match random.uniform() {
        two if two < 0.55 => 2,
        three if three < 0.75 => 3,
        four if four < 0.9 => 4,
        _ => 5,
    };
    head.collective_deg = deg(10.0);
    head.cyclic_deg = deg(random.between(7.5, 10.0));
    head.link_lengthening = if random.chance(0.5) { rig::Lengthening::Raises } else { rig::Lengthening::Lowers };
    head.link_span_mm = Millimetres::new(if random.chance(0.5) { random.between(0.0, 20.0) } else { 0.0 });
    let droop = random.between(-2.7, -0.3);
    let blades = head.blades;
    with_phase(scenario, random, phase);
    scenario.blades.droop_deg = (0..blades).map(|_| deg(droop + (0.12 * random.normal()).clamp(-0.3, 0.3))).collect();
    scenario.servos.sub_trim_deg = [(); 3].map(|()| deg((0.1 * random.normal()).clamp(-0.2, 0.2)));
    if random.chance(0.3) {
        scenario.servos.buzz_deg = deg(random.between(0.0, 0.015));
    }
}

fn clip(scenario: &mut Scenario, random: &mut Random) {
    let clip = &mut scenario.clip;
    clip.chord_offset_deg = deg(random.normal());
    clip.span_offset_deg = deg(random.normal());
    clip.yaw_deg = deg(random.between(-1.0, 1.0));
    clip.reseat_yaw_deg = deg(1.0);
    clip.reseat_deg = deg(0.1);
    let table = &mut scenario.table;
    table.slope_deg = deg(random.between(-3.0, 3.0));
    table.span_slope_deg = deg(random.between(-3.0, 3.0));
    table.seating_deg = Some(deg(0.05));
}

/// A tail below its ceiling with a neutral that is wanted; who describes it says which way it goes in two of three.
fn tail(scenario: &mut Scenario, head: &mut Head, random: &mut Random) {
    let neutral = random.between(2.0, 8.0);
    let tail = &mut scenario.tail;
    tail.neutral_deg = deg(neutral + random.between(-0.3, 0.3));
    tail.travel_deg = deg(random.between(25.0, 33.0));
    tail.blade_error_deg = [(); 2].map(|()| deg((0.05 * random.normal()).clamp(-0.1, 0.1)));
    tail.level_error_deg = deg(random.between(-5.0, 5.0));
    head.targets.tail_neutral = Some(band(neutral, 1.0));
    if random.chance(0.66) {
        head.tail.positive = Some(positive(scenario));
    }
}

/// The rudder that gives positive pitch: the side that holds the torque.
pub fn positive(scenario: &Scenario) -> clinoblade::record::TailPositive {
    match scenario.head.rotation {
        rig::Rotation::Clockwise => clinoblade::record::TailPositive::Right,
        rig::Rotation::Anticlockwise => clinoblade::record::TailPositive::Left,
    }
}

fn described(scenario: &Scenario, phase: f64) -> Head {
    let mut text = Head::template("Workshop trainer");
    for (from, to) in [
        ("blades = 2\n\n# Phase", format!("blades = {}\n\n# Phase", scenario.head.blades)),
        ("pitch_arm_mm = 12.0", "pitch_arm_mm = 20.0".to_owned()),
        ("thread = \"M2\"\n", "thread = \"M2.5\"\n".to_owned()),
    ] {
        assert!(text.contains(from), "the template has no '{from}'");
        text = text.replace(from, &to);
    }
    let mut head = Head::from_toml(&text).unwrap();
    head.rotation = match scenario.head.rotation {
        rig::Rotation::Clockwise => Rotation::Clockwise,
        rig::Rotation::Anticlockwise => Rotation::Anticlockwise,
    };
    head.control_phase = deg(phase);
    head.link.lengthening = Some(match scenario.head.link_lengthening {
        rig::Lengthening::Raises => Lengthening::Raises,
        rig::Lengthening::Lowers => Lengthening::Lowers,
    });
    head
}

fn chip(random: &mut Random) -> Chip {
    let skew = 1.5_f64.to_radians();
    let gain = std::array::from_fn(|i| {
        std::array::from_fn(|j| if i == j { 1.0 + random.between(-0.05, 0.05) } else { random.between(-skew, skew) })
    });
    let offset = [(); 3].map(|()| random.between(-0.08, 0.08));
    Chip { told: Told::Force, gain, offset, noise: random.between(0.008, 0.025).to_radians() }
}

/// Tumbled as the guide asks for it.
fn calibrated(chip: &Chip, random: &mut Random, rotation: Rotation) -> Instrument {
    let profile = Profile::sentence();
    let per_g = profile.counts_per_g();
    let spread = (chip.noise * per_g).powi(2);
    let poses: Vec<Pose> = POSES
        .iter()
        .map(|facing| Pose {
            mean: chip.feels(facing.unit(), random).map(|g| g * per_g),
            covariance: std::array::from_fn(|i| std::array::from_fn(|j| if i == j { spread } else { 0.0 })),
        })
        .collect();
    let label = Label { name: "bench".into(), sensor: "bench".into(), ..Label::default() };
    let calibration = tumble(&poses, label).unwrap();
    checked(Instrument::new(profile, Some(calibration), rotation))
}
