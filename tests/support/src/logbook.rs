//! A setup of an invented club helicopter, for the tests of the logbook.

use clinoblade::filter::EndedBy;
use clinoblade::logbook::{Location, Logbook, NewSetup};
use clinoblade::record::{
    Approach, Capture, DatumRef, Entry, Event, Head, LimitedBy, RawSamples, Reading, SensorIdentity, Subject,
};
use clinoblade::rotor::{BladeName, Carrier, Clip, Datum, Deflection, InstrumentError, Spot, Station};
use clinoblade::uncertainty::{Budget, Component, Contribution, Freedom, Source};
use clinoblade::units::{Angle, BladeVector, Celsius, Percent, Sample, Seconds};
use jiff::Timestamp;
use std::path::Path;
use uuid::Uuid;

pub async fn open(path: &Path) -> Logbook {
    Logbook::open(&Location::from(path)).await.unwrap()
}

pub fn head(name: &str) -> Head {
    Head::from_toml(&Head::template(name)).unwrap()
}

pub fn club_setup() -> NewSetup {
    NewSetup {
        reason: "after a change of blades".to_owned(),
        temperature: Some(Celsius::new(18.3)),
        measured_by: Some("A. Member".to_owned()),
        checked_by: Some("B. Member".to_owned()),
        cautions_acknowledged_at: Some(time(1)),
        ..NewSetup::of(head("Club trainer"))
    }
}

/// So many nanoseconds after an evening in the workshop began.
pub fn time(nanoseconds: i64) -> Timestamp {
    Timestamp::from_nanosecond(1_800_000_000_123_456_789 + i128::from(nanoseconds)).unwrap()
}

pub fn datum() -> DatumRef {
    let angle = Angle::from_degrees;
    let instrument = InstrumentError { chord: angle(0.7 / 3.0), span: angle(-0.4) };
    DatumRef {
        id: Uuid::now_v7(),
        set_at: time(5),
        datum: Datum::Reversal { instrument, slope: angle(1.3), u: angle(0.011) },
        temperature: Some(clinoblade::units::Celsius::new(58.3 / 3.0)),
        seat: None,
        carrier: None,
    }
}

/// A capture of `what`, such as "elevator up", with numbers that no decimal writes exactly.
pub fn capture(what: &str) -> Capture {
    let deflection: Deflection = what.parse().unwrap();
    let spot = match deflection {
        Deflection::Rudder(_) => Spot::Tail("up".parse().unwrap()),
        _ => Spot::Main(Station::from_degrees(90.0).unwrap()),
    };
    Capture {
        id: Uuid::now_v7(),
        taken_at: time(7),
        subject: Subject::new(deflection, BladeName::A, spot).unwrap(),
        clip: Clip::Reversed,
        seat: 3,
        stick: Percent::new(100.0 / 3.0),
        stick_said: true,
        limited_by: LimitedBy::Bind,
        approach: Some(Approach::Below),
        accepted: false,
        answered: Vec::new(),
        reading: reading(),
        datum: datum(),
        sensor: SensorIdentity {
            profile: "sentence".to_owned(),
            port: "bench adapter".to_owned(),
            calibration: Some("tumble of the 3rd".to_owned()),
            carrier: Some(Carrier::Main(BladeName::A)),
            calibrated_on: Some(jiff::civil::date(2026, 11, 3)),
        },
    }
}

fn reading() -> Reading {
    let repeat = Contribution::new(Component::Repeat, Angle::from_degrees(0.1 / 3.0)).with_freedom(Freedom::new(12.7));
    let clip = Contribution::rectangular(Component::Clip, Angle::from_degrees(0.2)).assumed().shared(Source::seat(3));
    Reading {
        angle: Angle::from_radians(0.2),
        apparent_pitch: Angle::from_radians(-1.0 / 7.0),
        span_inclination: Angle::from_radians(0.01),
        up: BladeVector { span: 0.1 + 0.2, chord: -1e-17, normal: 0.999_999_999_999_999_9 },
        budget: Budget::new([repeat, clip]),
        samples: 400,
        effective_samples: 133.333_333_333_333_34,
        dropped_samples: 2,
        damaged_frames: 1,
        lost_samples: 1,
        settled_at: Seconds::new(0.305),
        finished_at: Seconds::new(1.1 * 1.1),
        steady: true,
        ended_by: EndedBy::Want,
        observability: 0.987,
        vibration: None,
        asked: None,
        temperature: Some(Celsius::new(21.06)),
    }
}

pub fn entry(event: Event) -> Entry {
    Entry { id: Uuid::now_v7(), at: time(9), event }
}

pub fn capture_entry(what: &str) -> Entry {
    Entry::capture(capture(what)).unwrap()
}

/// Two seconds at 200 Hz; `seed` makes them unlike any others.
pub fn raw(seed: u32) -> RawSamples {
    let sample = |at: u32| Sample {
        clock: Seconds::new(f64::from(at) / 199.7),
        counts: [f64::from(seed), -f64::from(at), if at.is_multiple_of(50) { 0.1 } else { 16384.0 }],
        lost_before: u32::from(at == 17),
        temperature: at.is_multiple_of(20).then(|| Celsius::new(20.0 + f64::from(at) / 300.0)),
    };
    RawSamples { counts_per_g: 16384.0, samples: (0..400).map(sample).collect() }
}
