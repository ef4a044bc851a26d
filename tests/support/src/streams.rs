//! Streams made by rule: a motion, a sensor's faults, and the truth that a reading is held against.

use clinoblade::filter::{EndedBy, Progress, SteadyReader, SteadyReading, SteadySettings};
use clinoblade::rig::noise::{Buzz, LineFate, NoiseSettings, Random, SensorNoise, Wire, WireSettings, counts};
use clinoblade::rig::operator::{Leg, Motion, Tremor};
use clinoblade::sensor::Force;
use clinoblade::units::{Angle, BladeVector, Gravities, Hertz, Seconds, SensorVector};

/// What kind of stream.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Class {
    Still,
    StillCoarse,
    Overshoot,
    OvershootCoarse,
    Creep,
    Settle,
    Tremor,
    Buzz,
    BuzzAfterMotion,
    Spikes,
    FaultyLines,
    InclinedSpan,
    HalfTurn,
    Pause,
    Mixed,
    Flicker,
    NeverStops,
}

pub const CLASSES: [Class; 17] = [
    Class::Still,
    Class::StillCoarse,
    Class::Overshoot,
    Class::OvershootCoarse,
    Class::Creep,
    Class::Settle,
    Class::Tremor,
    Class::Buzz,
    Class::BuzzAfterMotion,
    Class::Spikes,
    Class::FaultyLines,
    Class::InclinedSpan,
    Class::HalfTurn,
    Class::Pause,
    Class::Mixed,
    Class::Flicker,
    Class::NeverStops,
];

impl Class {
    /// Whether the blade moved before it came to rest.
    pub fn moved(self) -> bool {
        !matches!(
            self,
            Self::Still
                | Self::StillCoarse
                | Self::Buzz
                | Self::Spikes
                | Self::FaultyLines
                | Self::InclinedSpan
                | Self::HalfTurn
                | Self::Flicker
        )
    }
}

/// One stream and its truth.
pub struct Stream {
    pub forces: Vec<Force>,
    /// Apparent pitch at which the blade comes to rest.
    pub truth: Angle,
    /// When it stopped; `None` if it never does.
    pub stopped: Option<f64>,
    /// Standard deviation of the white noise of one sample in apparent pitch, rounding included.
    pub sigma: Angle,
    pub rate: f64,
    pub counts_per_g: f64,
    pub noise: f64,
    /// What each octave of 1/f noise adds, in g.
    pub flicker: f64,
    motion: Motion,
}

/// Twice the uncertainty that is asked for, in degrees.
pub const WANT_DEGREES: f64 = 0.02;

impl Stream {
    /// The time after the stop that an oracle needs who knows the noise and the moment of the stop.
    pub fn oracle(&self, want: Angle) -> f64 {
        let samples = (2.0 * self.sigma.radians() / want.radians()).powi(2);
        (samples / self.rate).max(0.3)
    }

    /// The true pitch at a time, without vibration.
    pub fn pitch_at(&self, clock: f64) -> Angle {
        self.motion.at(Seconds::new(clock))
    }

    /// What a steady reader makes of it.
    #[expect(clippy::expect_used, reason = "every stream has samples")]
    pub fn read(&self) -> SteadyReading {
        let settings = SteadySettings {
            want: degrees(WANT_DEGREES),
            count: Some(Gravities::new(1.0 / self.counts_per_g)),
            ..SteadySettings::default()
        };
        let mut reader = SteadyReader::new(settings);
        for force in &self.forces {
            if let Progress::Done(_) = reader.push(force) {
                break;
            }
        }
        reader.finish(EndedBy::End).expect("a stream with samples gives a figure")
    }
}

const RATES: [f64; 3] = [100.0, 200.0, 400.0];
/// Standard deviation of one sample in g.
const NOISES: [f64; 5] = [0.0003, 0.0006, 0.001, 0.002, 0.004];

fn s(seconds: f64) -> Seconds {
    Seconds::new(seconds)
}

fn degrees(value: f64) -> Angle {
    Angle::from_degrees(value)
}

/// Everything that makes a stream but its class's own trait.
struct Recipe {
    motion: Motion,
    stopped: Option<f64>,
    counts_per_g: f64,
    noise: NoiseSettings,
    wire: WireSettings,
    buzz: Option<Buzz>,
    span: Angle,
    gain: [f64; 3],
}

/// The `number`-th stream of a class; a seed gives always the same.
pub fn stream(class: Class, number: usize, seed: u64) -> Stream {
    let mut random = Random::new(seed.wrapping_mul(1_000_003) ^ ((class as u64) << 40) ^ number as u64);
    let rate = RATES[number % 3];
    let white = NOISES[(number / 3) % 5] * random.between(0.8, 1.25);
    let recipe = recipe(class, number, white, &mut random);
    render(recipe, rate, &mut random)
}

fn recipe(class: Class, number: usize, white: f64, random: &mut Random) -> Recipe {
    let target = degrees(random.between(-20.0, 20.0));
    let mut recipe = Recipe {
        motion: Motion::from(target),
        stopped: Some(0.0),
        counts_per_g: 16384.0,
        noise: NoiseSettings { white: Gravities::new(white), ..NoiseSettings::default() },
        wire: WireSettings::default(),
        buzz: None,
        span: degrees(random.between(-5.0, 5.0)),
        gain: [1.0; 3],
    };
    let coarse_noise = |white: f64| Gravities::new(white.max(0.0016));
    match class {
        Class::Still => {}
        Class::StillCoarse => {
            recipe.counts_per_g = 256.0;
            recipe.noise.white = coarse_noise(white);
        }
        Class::Overshoot => recipe.motion = overshoot(target, random),
        Class::OvershootCoarse => {
            recipe.motion = overshoot(target, random);
            recipe.counts_per_g = 256.0;
            recipe.noise.white = coarse_noise(white);
        }
        Class::Creep => recipe.motion = creep(target, random),
        Class::Settle => {
            let (motion, stopped) = settle(target, random);
            recipe.motion = motion;
            recipe.stopped = Some(stopped);
        }
        Class::Tremor => recipe.motion = tremor(target, random),
        Class::Buzz => recipe.buzz = Some(buzz(number, random)),
        Class::BuzzAfterMotion => {
            recipe.motion = overshoot(target, random);
            recipe.buzz = Some(buzz(number, random));
        }
        Class::Spikes => {
            recipe.noise.spikes = random.between(0.005, 0.04);
            recipe.noise.spike_size = Gravities::new(random.between(0.3, 2.0));
        }
        Class::FaultyLines => recipe.wire = faulty(random),
        Class::InclinedSpan => {
            recipe.span = degrees(random.between(20.0, 50.0) * if random.chance(0.5) { 1.0 } else { -1.0 })
        }
        Class::HalfTurn => recipe.motion = Motion::from(degrees(180.0 + random.between(-0.3, 0.3)).wrapped()),
        Class::Pause => recipe.motion = pause(target, random),
        Class::Mixed => mixed(&mut recipe, number, target, random),
        Class::Flicker => recipe.noise.flicker = Gravities::new(random.between(0.00005, 0.0002)),
        Class::NeverStops => {
            recipe.motion = never_stopping(number, target, random);
            recipe.stopped = None;
        }
    }
    if recipe.stopped == Some(0.0) {
        recipe.stopped = Some(recipe.motion.stops_at().value());
    }
    recipe
}

fn approach_from(target: Angle, random: &mut Random) -> Motion {
    let away = random.between(3.0, 15.0) * if random.chance(0.5) { 1.0 } else { -1.0 };
    let motion = Motion::from(target + degrees(away));
    if random.chance(0.5) { motion.rest(s(random.between(0.0, 0.25))) } else { motion }
}

fn overshoot(target: Angle, random: &mut Random) -> Motion {
    let past = degrees(random.between(0.3, 3.0) * if random.chance(0.5) { 1.0 } else { -1.0 });
    approach_from(target, random).overshoot(
        target,
        past,
        s(random.between(0.3, 1.0)),
        s(random.between(0.05, 0.3)),
        s(random.between(0.15, 0.6)),
    )
}

fn creep(target: Angle, random: &mut Random) -> Motion {
    let each_second = random.between(0.1_f64.ln(), 1.0_f64.ln()).exp() * if random.chance(0.5) { 1.0 } else { -1.0 };
    let lasting = random.between(1.0, 4.0);
    let begin = target - degrees(each_second * lasting);
    let start = if random.chance(0.7) {
        approach_from(begin, random).approach(begin, s(random.between(0.3, 0.8)))
    } else {
        Motion::from(begin)
    };
    start.then(Leg::Creep { each_second: degrees(each_second), lasting: s(lasting) })
}

/// An exponential settling; it counts as stopped when 0.005° are left.
fn settle(target: Angle, random: &mut Random) -> (Motion, f64) {
    let time_constant = random.between(0.3_f64.ln(), 1.5_f64.ln()).exp();
    let left = random.between(0.2, 2.0);
    let begin = target + degrees(if random.chance(0.5) { left } else { -left });
    let first = random.between(0.3, 0.8);
    let motion = Motion::from(begin + degrees(random.between(3.0, 12.0))).approach(begin, s(first));
    let lasting = time_constant * 20.0;
    let motion = motion.then(Leg::Settle { to: target, time_constant: s(time_constant), lasting: s(lasting) });
    (motion, first + time_constant * (left / 0.005).ln())
}

fn tremor(target: Angle, random: &mut Random) -> Motion {
    let motion = approach_from(target, random).approach(target, s(random.between(0.4, 1.0)));
    let released = motion.stops_at().value() + random.between(0.3, 3.0);
    let fading = if random.chance(0.5) { 0.0 } else { random.between(0.02, 0.15) };
    let amplitude = random.between(0.1_f64.ln(), 1.5_f64.ln()).exp();
    motion.shaken(Tremor::new(degrees(amplitude), s(released), s(fading), random.bits()))
}

fn buzz(number: usize, random: &mut Random) -> Buzz {
    let amplitude = random.between(0.05_f64.ln(), 0.5_f64.ln()).exp();
    let wander = if number.is_multiple_of(2) { 0.0 } else { random.between(0.0, 0.5) };
    Buzz::new(Hertz::new(random.between(20.0, 49.0)), degrees(amplitude), Hertz::new(wander), random.bits())
}

fn faulty(random: &mut Random) -> WireSettings {
    WireSettings {
        lost: random.between(0.005, 0.06),
        damaged: random.between(0.0, 0.04),
        repeated: random.between(0.0, 0.04),
    }
}

/// An angle of this size, up or down.
fn either_way(size: f64, random: &mut Random) -> Angle {
    degrees(if random.chance(0.5) { size } else { -size })
}

/// A stick that pauses for 0.25 s on its way, once or twice.
fn pause(target: Angle, random: &mut Random) -> Motion {
    let mut motion = Motion::from(degrees(random.between(-3.0, 3.0))).rest(s(random.between(0.0, 0.25)));
    for _ in 0..1 + random.bits() % 2 {
        let half_way = motion.ends_at() + either_way(random.between(1.0, 10.0), random);
        motion = motion.approach(half_way, s(random.between(0.25, 0.8))).rest(s(0.25));
    }
    let target = if (target - motion.ends_at()).degrees().abs() > 1.0 { target } else { target + degrees(3.0) };
    motion.approach(target, s(random.between(0.25, 0.8)))
}

fn mixed(recipe: &mut Recipe, number: usize, target: Angle, random: &mut Random) {
    recipe.motion = match number % 4 {
        0 => overshoot(target, random),
        1 => pause(target, random),
        2 => creep(target, random),
        _ => tremor(target, random),
    };
    if random.chance(0.5) {
        recipe.buzz = Some(buzz(number, random));
    }
    if random.chance(0.5) {
        recipe.wire = faulty(random);
    }
    if random.chance(0.5) {
        recipe.noise.spikes = random.between(0.002, 0.02);
        recipe.noise.spike_size = Gravities::new(1.0);
    }
    recipe.span = degrees(random.between(-50.0, 50.0));
    recipe.gain = [random.between(0.8, 1.2); 3];
}

fn never_stopping(number: usize, target: Angle, random: &mut Random) -> Motion {
    let for_ever = s(30.0);
    match number % 4 {
        0 => Motion::from(target).then(Leg::Swing {
            amplitude: degrees(random.between(1.0, 15.0)),
            frequency: Hertz::new(random.between(0.2, 2.0)),
            lasting: for_ever,
        }),
        1 => {
            Motion::from(target).then(Leg::Creep { each_second: degrees(random.between(0.3, 5.0)), lasting: for_ever })
        }
        2 => {
            let mut motion = Motion::from(target);
            for _ in 0..30 {
                let to = motion.ends_at() + either_way(random.between(1.0, 8.0), random);
                motion = motion.approach(to, s(random.between(0.25, 0.8))).rest(s(random.between(0.0, 0.3)));
            }
            motion
        }
        _ => {
            let each_second = random.between(0.3, 2.0);
            Motion::from(target)
                .then(Leg::Creep { each_second: degrees(each_second), lasting: for_ever })
                .shaken(Tremor::new(degrees(random.between(0.1, 1.0)), for_ever, s(0.0), random.bits()))
        }
    }
}

fn render(mut recipe: Recipe, rate: f64, random: &mut Random) -> Stream {
    let rounding = recipe.counts_per_g.recip() / 12_f64.sqrt();
    let q = recipe.span.cos() * recipe.gain[0];
    let sigma = Angle::from_radians(recipe.noise.white.value().hypot(rounding) / q);
    let truth = recipe.motion.ends_at().wrapped();
    let mut stream = Stream {
        forces: Vec::new(),
        truth,
        stopped: recipe.stopped,
        sigma,
        rate,
        counts_per_g: recipe.counts_per_g,
        noise: recipe.noise.white.value(),
        flicker: recipe.noise.flicker.value(),
        motion: recipe.motion.clone(),
    };
    let oracle = stream.oracle(degrees(WANT_DEGREES));
    let length = recipe.stopped.map_or(12.0, |stop| stop + (2.5 * oracle).clamp(4.0, 25.0));
    let mut noise = SensorNoise::new(recipe.noise, random.bits());
    let mut wire = Wire::new(recipe.wire, random.bits());
    let mut lost_before = 0;
    for k in 0..(length * rate) as usize {
        let clock = k as f64 / rate + random.between(0.0, 5e-5);
        let pitch = recipe.motion.at(s(clock)) + recipe.buzz.as_mut().map_or(Angle::ZERO, |buzz| buzz.at(s(clock)));
        let clean = SensorVector([
            recipe.gain[0] * recipe.span.sin(),
            recipe.gain[1] * recipe.span.cos() * pitch.sin(),
            recipe.gain[2] * recipe.span.cos() * pitch.cos(),
        ]);
        let [span, chord, normal] =
            counts(noise.on(clean), recipe.counts_per_g).map(|c| f64::from(c) / recipe.counts_per_g);
        let force = Force {
            clock: s(clock),
            up: BladeVector { span, chord, normal },
            saturated: false,
            lost_before,
            temperature: None,
        };
        match wire.next_fate() {
            LineFate::Lost | LineFate::Damaged => lost_before += 1,
            fate => {
                stream.forces.push(force);
                lost_before = 0;
                if fate == LineFate::Repeated {
                    stream.forces.push(force);
                }
            }
        }
    }
    stream
}
