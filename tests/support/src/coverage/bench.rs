//! The person at the simulated bench: calibrates, sets the datum, and captures the whole record.

use super::{Kind, Shown, deflection, described};
use bytes::BytesMut;
use clinoblade::bench::{Circumstances, Instrument, RestFinder, Seen, Taken, evaluate, pose, zero};
use clinoblade::filter::{Progress, SteadyReader, SteadySettings};
use clinoblade::record::{
    Advice, Capture, DatumRef, Entry, Event, Head, LimitRecord, LimitedBy, Reading, SensorIdentity, Subject, next_seat,
    remedy,
};
use clinoblade::rig::noise::Random;
use clinoblade::rig::{Rig, Scenario};
use clinoblade::rotor::{BladeName, Clip, Datum, Deflection, LeadingEdge, Place, Spot, Station};
use clinoblade::sensor::poses::guided;
use clinoblade::sensor::reseat::{Reseat, Seating};
use clinoblade::sensor::{JUDGED_POSES, Label, tumble};
use clinoblade::stream::{Counters, Profile, SampleDecoder};
use clinoblade::units::{Angle, Celsius, Percent, Sample, Seconds};
use jiff::Timestamp;
use uuid::Uuid;

/// How far each seat of the clip is off, one standard deviation: what is assumed where no study was made.
pub const SEAT_DEGREES: f64 = 0.1;
/// How far the person may stand a blade off its station, uniform: what the head's description says.
const STATION_DEGREES: f64 = 5.0;

/// The simulated head, what reads it, and what was captured.
pub struct Bench {
    rig: Rig,
    head: Head,
    instrument: Instrument,
    decoder: SampleDecoder,
    person: Random,
    datum: DatumRef,
    entries: Vec<Entry>,
    /// What gravity showed a perfect instrument at each capture.
    apparent: Vec<Angle>,
}

/// Of a usual sensor, µg/√Hz.
const NOISE_UG_RTHZ: f64 = 150.0;

impl Bench {
    pub fn new(seed: u64, mut scenario: Scenario) -> Self {
        // A sensor without any noise is refused as frozen.
        if scenario.sensor.noise_density_ug_rthz == 0.0 {
            scenario.sensor.noise_density_ug_rthz = NOISE_UG_RTHZ;
        }
        let head = described(&scenario);
        let profile = Profile::sentence();
        let mut bench = Self {
            instrument: checked(Instrument::new(profile.clone(), None, head.rotation)),
            rig: Rig::new(scenario).unwrap(),
            head,
            decoder: SampleDecoder::new(&profile),
            person: Random::new(seed ^ 0xBE_4C7),
            datum: gravity(),
            entries: Vec::new(),
            apparent: Vec::new(),
        };
        bench.calibrate();
        bench.set_datum();
        bench
    }

    fn hands(&mut self, command: &str) {
        self.rig.command(command).unwrap();
    }

    /// Lets the sensor send, and the decoder read, until `taken` has what it wants.
    fn until<T>(&mut self, mut taken: impl FnMut(&Sample) -> Option<T>) -> T {
        let mut bytes = Vec::new();
        loop {
            bytes.clear();
            self.rig.advance(self.rig.now() + Seconds::new(0.1), &mut bytes);
            let mut buffer = BytesMut::from(&*bytes);
            while let Some(sample) = self.decoder.next(&mut buffer, Seconds::default()) {
                if let Some(found) = taken(&sample) {
                    return found;
                }
            }
        }
    }

    /// One steady reading, as good as wanted.
    fn read(&mut self, want: f64) -> Taken {
        let settings = SteadySettings { want: Angle::from_degrees(want), ..SteadySettings::default() };
        let instrument = self.instrument.clone();
        let mut reader = Some(SteadyReader::new(instrument.settings(settings)));
        let (mut samples, mut temperature) = (Vec::new(), None);
        let steady = self.until(|sample| {
            temperature = sample.temperature.or(temperature);
            samples.push(*sample);
            match reader.as_mut()?.push(&instrument.force(sample)) {
                Progress::Done(ended_by) => reader.take()?.finish(ended_by),
                _ => None,
            }
        });
        assert!(steady.steady, "a head at rest was not steady: {steady:?}");
        Taken { steady, counters: Counters::default(), temperature, samples }
    }

    /// Twelve rests as the guide asks for them.
    fn calibrate(&mut self) {
        let settings = SteadySettings { want: Angle::from_degrees(0.03), ..SteadySettings::default() };
        let mut finder = RestFinder::new(self.instrument.clone(), settings);
        let mut label = Label { name: "bench".into(), sensor: "bench".into(), ..Label::default() };
        let mut poses = Vec::new();
        for facing in guided(JUDGED_POSES) {
            let [x, y, z] = facing.unit();
            let (roll, pitch) = (y.asin().to_degrees(), (-x).atan2(z).to_degrees());
            self.hands(&format!("clip pose {roll} {pitch}"));
            let rest = self.until(|sample| match finder.push(sample, Counters::default()) {
                Seen::Rest(rest) => Some(rest),
                _ => None,
            });
            label.temperature = rest.taken.temperature;
            poses.push(pose(&rest.taken).unwrap());
        }
        let calibration = tumble(&poses, label).unwrap();
        self.instrument = checked(Instrument::new(Profile::sentence(), Some(calibration), self.head.rotation));
    }

    fn set_datum(&mut self) {
        self.hands("clip table forward");
        let first = self.read(0.05);
        self.hands("clip table reversed");
        let second = self.read(0.05);
        self.datum.datum = zero::reversal(&first, &second, zero::Seating::on_a_surface()).unwrap();
        self.datum.temperature = second.temperature;
        let warmer = self.rig.truth().celsius.value() + self.person.normal();
        self.hands(&format!("temperature {warmer}"));
    }

    /// The whole record, in the order of the job.
    pub fn job(&mut self) {
        let names: Vec<BladeName> = self.head.blades.names().collect();
        for &blade in names.iter().rev() {
            self.hands(&format!("clip {blade} forward"));
            // Half a turn apart, the clip left on: the mean is free of the lean.
            for station in [270.0, 90.0] {
                self.turn_to(blade, station);
                self.capture("collective mid", blade, station);
            }
        }
        for direction in ["neutral", "up", "down"] {
            self.capture(&format!("elevator {direction}"), BladeName::A, 90.0);
        }
        self.turn_to(BladeName::A, 0.0);
        for direction in ["neutral", "left", "right"] {
            self.capture(&format!("aileron {direction}"), BladeName::A, 0.0);
        }
        self.hands("clip tail A forward");
        for edge in [LeadingEdge::Up, LeadingEdge::Down] {
            self.hands(if edge == LeadingEdge::Up { "tail up" } else { "tail down" });
            for direction in ["neutral", "left", "right"] {
                self.capture_at(deflection(&format!("rudder {direction}")), BladeName::A, Spot::Tail(edge));
            }
        }
    }

    /// Turns the head by eye.
    /// Puts the clip on a tail blade and captures it with these leading edges, the rudder in these positions.
    pub fn tail(&mut self, blade: BladeName, edges: &[LeadingEdge], positions: &[&str]) {
        self.hands(&format!("clip tail {blade} forward"));
        for &edge in edges {
            self.hands(if edge == LeadingEdge::Up { "tail up" } else { "tail down" });
            for position in positions {
                self.capture_at(deflection(&format!("rudder {position}")), blade, Spot::Tail(edge));
            }
        }
    }

    /// Something was turned.
    pub fn adjust(&mut self, text: &str) {
        let number = self.entries.len() as u128 + 1;
        let at = Timestamp::from_second(1_764_057_600 + number as i64).unwrap();
        let event = Event::Adjustment { adjustment: text.parse().unwrap(), note: None };
        self.entries.push(Entry { id: Uuid::from_u128(number), at, event });
    }

    /// The description of the head, to say more of it.
    pub fn head_mut(&mut self) -> &mut Head {
        &mut self.head
    }

    pub fn advice(&self, cell: &str) -> Option<Advice> {
        let record = self.record();
        remedy(&self.head, &self.entries, &record, record.cell(cell.parse().unwrap())?)
    }

    /// How a tail blade really stands with the rudder at an end or at its centre.
    pub fn tail_pitch(&self, blade: usize, position: &str) -> Angle {
        let mut rig = self.rig.clone();
        centre(&mut rig);
        deflect(&mut rig, deflection(&format!("rudder {position}")));
        rig.truth().tail[blade].pitch_deg
    }

    fn turn_to(&mut self, blade: BladeName, station: f64) {
        let off = self.person.between(-STATION_DEGREES, STATION_DEGREES);
        self.hands(&format!("head {}", self.azimuth_of_a(blade, station) + off));
    }

    fn azimuth_of_a(&self, blade: BladeName, station: f64) -> f64 {
        station - 360.0 * blade.index() as f64 / f64::from(u8::from(self.head.blades))
    }

    fn capture(&mut self, what: &str, blade: BladeName, station: f64) {
        self.capture_at(deflection(what), blade, Spot::Main(Station::from_degrees(station).unwrap()));
    }

    fn capture_at(&mut self, deflection: Deflection, blade: BladeName, spot: Spot) {
        centre(&mut self.rig);
        let stick = deflect(&mut self.rig, deflection);
        let warmer = self.rig.truth().celsius.value() + 0.1 * self.person.normal();
        self.hands(&format!("temperature {warmer}"));
        let truth = self.rig.truth();
        self.apparent.push(match spot {
            Spot::Main(_) => truth.blades[blade.index()].apparent_deg,
            Spot::Tail(_) => truth.tail[blade.index()].apparent_deg,
        });
        let subject = Subject::new(deflection, blade, spot).unwrap();
        let taken = self.read(0.05);
        let capture = self.captured(subject, stick, &taken);
        let at = capture.taken_at;
        self.entries.push(Entry { id: capture.id, at, event: Event::Capture(Box::new(capture)) });
    }

    fn captured(&self, subject: Subject, stick: f64, taken: &Taken) -> Capture {
        let number = self.entries.len() as u128 + 1;
        Capture {
            id: Uuid::from_u128(number),
            taken_at: Timestamp::from_second(1_764_057_600 + number as i64).unwrap(),
            subject,
            clip: Clip::Forward,
            seat: next_seat(&self.entries, None, subject.place(Clip::Forward), false),
            stick: Percent::new(stick),
            stick_said: true,
            limited_by: LimitedBy::EndPoint,
            approach: None,
            accepted: false,
            answered: Vec::new(),
            reading: self.evaluated(subject.place(Clip::Forward), taken),
            datum: self.datum,
            sensor: SensorIdentity {
                profile: "sentence".into(),
                port: "bench".into(),
                calibration: None,
                carrier: None,
                calibrated_on: None,
            },
        }
    }

    fn evaluated(&self, place: Place, taken: &Taken) -> Reading {
        let at = Circumstances {
            place: Some(place),
            clip: place.clip,
            datum: self.datum.datum,
            datum_temperature: self.datum.temperature,
            on_the_datums_seat: false,
        };
        evaluate(taken, &self.instrument, &at).unwrap()
    }

    fn captures(&self) -> impl Iterator<Item = &Capture> {
        self.entries.iter().filter_map(|entry| match &entry.event {
            Event::Capture(capture) => Some(&**capture),
            _ => None,
        })
    }

    pub fn record(&self) -> LimitRecord {
        LimitRecord::new(&self.head, &self.entries)
    }

    /// Every main blade's angle as it was read, against how it stood.
    pub fn angles(&self) -> Vec<Shown> {
        let on_main = |(capture, _): &(&Capture, &Angle)| capture.subject.station().is_some();
        self.captures()
            .zip(&self.apparent)
            .filter(on_main)
            .map(|(capture, &truth)| Shown {
                kind: Kind::Angle,
                error: capture.reading.angle - truth,
                budget: capture.reading.budget.clone(),
            })
            .collect()
    }

    /// A blade's collective: the mean of its pitch on both sides of the boom, exactly square to it, sticks centred.
    pub fn collective(&self, blade: BladeName) -> Angle {
        let pitch = |station| self.standing_exactly(blade, station).truth().blades[blade.index()].pitch_deg;
        (pitch(90.0) + pitch(270.0)) / 2.0
    }

    pub fn pitch_at_station(&self, blade: BladeName) -> Angle {
        self.standing_exactly(blade, 90.0).truth().blades[blade.index()].pitch_deg
    }

    fn standing_exactly(&self, blade: BladeName, station: f64) -> Rig {
        let mut rig = self.rig.clone();
        rig.command(&format!("head {}", self.azimuth_of_a(blade, station))).unwrap();
        centre(&mut rig);
        rig
    }

    /// How far blade A moves from neutral to an end of its stick, exactly at its station.
    pub fn travel(&self, end: Deflection) -> Angle {
        let station = if matches!(end, Deflection::Aileron(_)) { 0.0 } else { 90.0 };
        let mut rig = self.standing_exactly(BladeName::A, station);
        let pitch = |rig: &Rig| match end {
            Deflection::Rudder(_) => rig.truth().tail[0].pitch_deg,
            _ => rig.truth().blades[0].pitch_deg,
        };
        let neutral = pitch(&rig);
        deflect(&mut rig, end);
        (pitch(&rig) - neutral).abs()
    }

    /// A re-seat study, the clip taken off and put on again so often on each of two blades; its result counts from here on.
    pub fn study_the_clip(&mut self, seatings: usize) {
        let blades = [BladeName::A, BladeName::from_index(1).unwrap()];
        let rows: Vec<Vec<Seating>> = blades.into_iter().map(|blade| self.seatings(blade, seatings)).collect();
        self.instrument = self.instrument.clone().with_reseat(Some(Reseat::of(&rows).unwrap()));
    }

    fn seatings(&mut self, blade: BladeName, count: usize) -> Vec<Seating> {
        let spot = Spot::Main(Station::from_degrees(90.0).unwrap());
        self.turn_to(blade, 90.0);
        let mut seating = || {
            self.hands(&format!("clip {blade} forward"));
            let taken = self.read(0.02);
            let reading = self.evaluated(Place { blade, spot, clip: Clip::Forward }, &taken);
            Seating { angle_deg: reading.angle, repeat_deg: taken.steady.repeat }
        };
        (0..count).map(|_| seating()).collect()
    }
}

fn gravity() -> DatumRef {
    let set_at = Timestamp::from_second(1_764_057_000).unwrap();
    DatumRef {
        id: Uuid::from_u128(7),
        set_at,
        datum: Datum::Gravity,
        temperature: None::<Celsius>,
        seat: None,
        carrier: None,
    }
}

fn centre(rig: &mut Rig) {
    for stick in ["elevator 0", "aileron 0", "rudder 0", "collective 50"] {
        rig.command(&format!("stick {stick}")).unwrap();
    }
}

/// Moves the stick of a deflection to its end; where it then stands.
fn deflect(rig: &mut Rig, deflection: Deflection) -> f64 {
    let percent = match deflection.direction().as_str() {
        "up" | "right" => 100.0,
        "down" | "left" => -100.0,
        "mid" => 50.0,
        _ => 0.0,
    };
    rig.command(&format!("stick {} {percent}", deflection.axis())).unwrap();
    percent
}

/// The simulated sensor has no slow noise, and a check at rest has shown it.
pub fn checked(instrument: Instrument) -> Instrument {
    instrument.with_floor(Some(Angle::from_degrees(0.001)))
}
