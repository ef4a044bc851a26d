use super::*;
use crate::Session;
use crate::record::Capture;
use crate::rig::Rig;
use crate::rotor::Rotation;
use crate::sensor::Calibration;
use crate::sensor::reseat::Reseat;
use crate::stream::{Options, Origin, Profile, SampleStream};
use crate::uncertainty::Freedom;
use crate::units::Seconds;
use std::io::Cursor;

/// What the simulated hand does before the blade rests.
const HANDS: [&str; 4] = [
    "",
    "[[timeline]]\nat_s = 1.0\ncommand = \"stick elevator 100 over 0.4\"",
    "[[timeline]]\nat_s = 0.5\ncommand = \"stick elevator 60 over 6\"\n[[timeline]]\nat_s = 7.0\ncommand = \"stick elevator 100 over 1\"",
    "[[timeline]]\nat_s = 2.0\ncommand = \"clip A over 0.8\"\n[[timeline]]\nat_s = 4.0\ncommand = \"stick elevator -100 over 2\"",
];

fn instrument() -> Instrument {
    let mut calibration = Calibration::nominal(16384.0);
    calibration.model = crate::sensor::Model::Full;
    calibration.name = "club clip".to_owned();
    calibration.covariance *= 1e-6;
    calibration.offset = [120.0, -40.0, 75.0];
    let found = Reseat {
        u: Angle::from_degrees(0.07),
        freedom: Freedom::new(9.0),
        scatter_deg: Angle::from_degrees(0.07),
        repeat_deg: Angle::from_degrees(0.01),
        stands_out: true,
        seatings: 10,
        blades: 1,
    };
    Instrument::new(Profile::sentence(), Some(calibration), Rotation::Clockwise).with_reseat(Some(found))
}

/// A reading as a session takes it, of a simulated blade.
fn taken(scenario: &str, instrument: &Instrument, settings: SteadySettings) -> Taken {
    let mut rig = Rig::new(scenario.parse().unwrap()).unwrap();
    let mut bytes = Vec::new();
    rig.advance(Seconds::new(14.0), &mut bytes);
    tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap().block_on(async {
        let origin = Origin::Log("the simulated head".to_owned());
        let stream =
            SampleStream::from_reader(origin, Cursor::new(bytes), &instrument.profile, &Options::default()).unwrap();
        let session = Session::start(stream, instrument.clone());
        let taken = session.read(settings).await.unwrap();
        session.end().await.unwrap();
        taken
    })
}

fn captured(taken: &Taken, instrument: &Instrument) -> Capture {
    let id = uuid::Uuid::nil();
    let mut capture: Capture = serde_json::from_value(serde_json::json!({
        "id": id, "taken_at": "2026-11-25T10:00:00Z",
        "axis": "elevator", "direction": "up", "blade": "A", "station_deg": 90.0,
        "clip": "forward", "seat": 1, "stick_percent": 100.0, "limited_by": "end_point", "approach": null,
        "angle_deg": 8.0, "apparent_pitch_deg": 8.0, "span_inclination_deg": 0.0,
        "up_g": {"span": 0.0, "chord": 0.139, "normal": 0.990}, "budget": [],
        "samples": 100, "effective_samples": 90.0, "dropped_samples": 0, "damaged_frames": 0, "lost_samples": 0,
        "settled_at_s": 1.0, "finished_at_s": 2.0, "steady": true, "ended_by": "want", "observability": 1.0,
        "temperature_c": null,
        "datum": {"id": id, "set_at": "2026-11-25T09:00:00Z", "kind": "gravity"},
        "sensor": {"profile": "sentence", "port": "bench", "calibration": "club clip"},
    }))
    .unwrap();
    let at = Circumstances {
        place: Some(capture.subject.place(capture.clip)),
        clip: capture.clip,
        datum: capture.datum.datum,
        datum_temperature: None,
        on_the_datums_seat: false,
    };
    capture.reading = evaluate(taken, instrument, &at).unwrap();
    capture
}

/// A capture as it was read, and its raw samples.
fn capture(seed: u64, noise: f64, hands: &str, want: f64) -> Option<(Capture, RawSamples)> {
    let scenario = format!(
        "seed = {seed}\nhead.station_deg = 90\nsensor = {{ noise_density_ug_rthz = {noise}, flicker_mg = 0.2 }}\n\
         servos = {{ buzz_deg = 0.02, creep_percent = 1.0 }}\n{hands}"
    );
    let instrument = instrument().with_floor(Some(Angle::from_degrees(0.004)));
    let settings = SteadySettings {
        want: Angle::from_degrees(want),
        at_least: Seconds::new(if seed.is_multiple_of(2) { 1.5 } else { 0.0 }),
        within: Seconds::new(15.0),
        ..SteadySettings::default()
    };
    let taken = taken(&scenario, &instrument, settings);
    let raw = RawSamples { counts_per_g: 16384.0, samples: taken.samples.clone() };
    taken.steady.steady.then(|| (captured(&taken, &instrument), raw))
}

#[test]
fn a_capture_read_anew_as_it_was_is_the_same_to_the_last_digit() {
    let mut read = 0;
    for seed in 0..8 {
        for noise in [60.0, 150.0, 400.0] {
            for (hands, want) in HANDS.iter().zip([0.05, 0.05, 0.03, 0.02]) {
                let Some((old, raw)) = capture(seed, noise, hands, want) else { continue };
                // Neither the floor nor the re-seat study is at hand any more.
                let plain = Instrument { reseat: None, ..instrument() };
                let new =
                    recompute(&old, &raw, &plain).unwrap_or_else(|error| panic!("{seed} {noise} {hands}: {error}"));
                let [old, new] = [&old, &new].map(|capture| serde_json::to_value(capture).unwrap());
                assert_eq!(old, new, "seed {seed}, noise {noise}, {hands}");
                read += 1;
            }
        }
    }
    assert!(read > 80, "{read}");
}

#[test]
fn another_calibration_moves_it_and_an_older_capture_is_still_read() {
    let (old, raw) = capture(3, 150.0, HANDS[1], 0.05).unwrap();
    let mut other = instrument();
    other.calibration.offset[0] += 100.0;
    let moved = recompute(&old, &raw, &other).unwrap().reading.angle - old.reading.angle;
    assert!(moved.degrees().abs() > 0.2, "{moved}");
    // A capture from before this was kept does not say what it was asked for, and has a second of samples before the rest.
    let mut text = serde_json::to_value(&old).unwrap();
    text.as_object_mut().unwrap().remove("asked");
    let older: Capture = serde_json::from_value(text).unwrap();
    assert_eq!(older.reading.asked, None);
    let from = old.reading.settled_at - Seconds::new(1.0);
    let late = RawSamples { samples: raw.samples.into_iter().filter(|sample| sample.clock >= from).collect(), ..raw };
    let again = recompute(&older, &late, &instrument()).unwrap();
    assert!((again.reading.angle - old.reading.angle).abs().degrees() < 0.05, "{}", again.reading.angle);
}
