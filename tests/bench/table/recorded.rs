//! What a sensor has sent: raw logs in any profile.

use clinoblade::rig::Rig;
use clinoblade::rig::noise::Random;
use clinoblade::stream::Profile;
use clinoblade::stream::codec::Frame;
use clinoblade::units::Seconds;

/// So many samples of a blade that rocks slowly, at 400 Hz, with two counts of noise and a temperature now and then.
pub fn rocking(profile: &Profile, samples: u32) -> Vec<u8> {
    let (encoder, per_g) = (profile.encoder(), profile.counts_per_g());
    let mut random = Random::new(1);
    let mut log = Vec::new();
    for n in 0..samples {
        let (sin, cos) = (0.2 * (f64::from(n) / 400.0).sin()).sin_cos();
        let counts = [0.02, sin, cos].map(|axis| axis * per_g + per_g / 8192.0 * random.normal());
        let celsius = n.is_multiple_of(400).then_some(21.5);
        encoder.encode(&Frame { seq: n as u16, micros: n.wrapping_mul(2500), counts, celsius }, &mut log);
    }
    log
}

/// A stick that is moved to and fro and held for some seconds each time, at 400 Hz: so many minutes, in `sentence`.
pub fn handled(minutes: u32) -> Vec<u8> {
    let mut rig = Rig::new(HANDLED.parse().expect("the scenario")).expect("a rig");
    let mut log = Vec::new();
    let places = [("elevator", 100), ("elevator", -60), ("aileron", 40), ("elevator", 0), ("aileron", 0)];
    for (n, (stick, percent)) in (0..20 * minutes).zip(places.into_iter().cycle()) {
        rig.command(&format!("stick {stick} {percent} over 0.8")).expect("a move");
        rig.advance(Seconds::new(f64::from(n + 1) * 3.0), &mut log);
    }
    log
}

/// A sensor as they are bought, on a head that does not stand level.
const HANDLED: &str = "
seed = 1
head = { station_deg = 90.0, left_deg = 0.6, slop_deg = 0.1 }
sensor = { noise_density_ug_rthz = 150.0, flicker_mg = 0.05 }
stream = { rate_hz = 400.0, baud = 921600 }
";
