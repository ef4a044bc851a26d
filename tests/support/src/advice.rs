//! A bench without bytes: captures are made straight from the truth of the simulated head, with the errors that their
//! budgets state. So thousands of setups can be gone through in a second.

use clinoblade::filter::{EndedBy, Vibration};
use clinoblade::logbook::{Location, Logbook, NewSetup};
use clinoblade::record::{
    Capture, Cell, DatumRef, Entry, Event, Head, LimitRecord, LimitedBy, Reading, SensorIdentity, Subject, next_seat,
};
use clinoblade::rig::noise::Random;
use clinoblade::rig::{Rig, Scenario, Truth};
use clinoblade::rotor::{Clip, Datum, Deflection, LeadingEdge, Spot, Station};
use clinoblade::uncertainty::{Budget, Component, Contribution};
use clinoblade::units::{Angle, BladeVector, Celsius, Hertz, Percent, Seconds};
use jiff::Timestamp;
use uuid::Uuid;

/// Standard deviation of a steady hold, and of putting the clip on again, degrees.
pub const REPEAT: f64 = 0.02;
pub const SEAT: f64 = 0.05;

pub fn deg(degrees: f64) -> Angle {
    Angle::from_degrees(degrees)
}

pub fn at(station: f64) -> Spot {
    Spot::Main(Station::from_degrees(station).unwrap())
}

/// The force along a blade's axes that stands at this slope and pitch: no sensor of three axes reads exactly nothing.
fn up(span: Angle, pitch: Angle) -> BladeVector {
    BladeVector { span: span.sin() + f64::EPSILON, chord: span.cos() * pitch.sin(), normal: span.cos() * pitch.cos() }
}

/// The workshop's trainer with lines of its description changed.
pub fn head(changes: &[(&str, &str)]) -> Head {
    let mut text = Head::template("Workshop trainer");
    for (from, to) in changes {
        assert!(text.contains(from), "the template has no '{from}'");
        text = text.replace(from, to);
    }
    Head::from_toml(&text).unwrap()
}

/// A setup of which everything is known that can be.
fn club_setup(head: Head) -> NewSetup {
    NewSetup {
        reason: "new links".to_owned(),
        temperature: Some(Celsius::new(19.5)),
        measured_by: Some("first bench".to_owned()),
        checked_by: Some("second bench".to_owned()),
        cautions_acknowledged_at: Some(Timestamp::from_second(1_764_057_500).unwrap()),
        ..NewSetup::of(head)
    }
}

/// The simulated head, what its owner says of it, and what was captured.
pub struct Bench {
    pub rig: Rig,
    pub head: Head,
    pub entries: Vec<Entry>,
    hand: Random,
    seed: u64,
    seated: Option<(u32, f64)>,
    /// How far from its station the head is left standing at most, degrees: set by eye, anywhere in between.
    pub by_eye: f64,
}

impl Bench {
    pub fn new(scenario: &str, head: Head, seed: u64) -> Self {
        let rig = Rig::new(scenario.parse::<Scenario>().unwrap()).unwrap();
        Self { rig, head, entries: Vec::new(), hand: Random::new(seed), seed, seated: None, by_eye: 0.0 }
    }

    pub fn hands(&mut self, commands: &[&str]) {
        for command in commands {
            self.rig.command(command).unwrap();
        }
    }

    pub fn truth(&self) -> Truth {
        self.rig.truth()
    }

    fn id(&self) -> Uuid {
        // Unique among the benches of a test, so that several setups go into one logbook.
        Uuid::from_u128((u128::from(self.seed) << 64) + self.entries.len() as u128 + 1)
    }

    fn now(&self) -> Timestamp {
        Timestamp::from_second(1_764_057_600 + 60 * self.entries.len() as i64).unwrap()
    }

    pub fn captures(&self) -> impl DoubleEndedIterator<Item = &Capture> {
        self.entries.iter().filter_map(|entry| match &entry.event {
            Event::Capture(capture) => Some(&**capture),
            _ => None,
        })
    }

    /// Turns the head until `blade` stands at `station`, moves the sticks as the deflection says, and captures.
    pub fn capture(&mut self, what: &str, blade: &str, station: f64) -> f64 {
        self.capture_as(what, blade, at(station), 100.0, |_| {})
    }

    /// The same with the stick part of its way, percent.
    pub fn part_way(&mut self, what: &str, blade: &str, station: f64, stick: f64) -> f64 {
        self.capture_as(what, blade, at(station), stick, |_| {})
    }

    /// Captures anything anywhere; gives the truth, degrees.
    pub fn capture_as(
        &mut self,
        what: &str,
        blade: &str,
        spot: Spot,
        share: f64,
        change: impl FnOnce(&mut Capture),
    ) -> f64 {
        let deflection: Deflection = what.parse().unwrap();
        let index = blade.as_bytes()[0] as usize - usize::from(b'A');
        let stick = self.sticks(deflection, share);
        let (truth, span) = match spot {
            Spot::Main(station) => {
                let blades = f64::from(u8::from(self.head.blades));
                let off = if self.by_eye > 0.0 { self.hand.between(-self.by_eye, self.by_eye) } else { 0.0 };
                let of_a = f64::from(station) - 360.0 * index as f64 / blades + off;
                self.hands(&[&format!("head {of_a}")]);
                let blade = &self.truth().blades[index];
                (blade.apparent_deg.degrees(), blade.span_deg)
            }
            Spot::Tail(edge) => {
                let edge = if edge == LeadingEdge::Up { "up" } else { "down" };
                self.hands(&[&format!("clip tail {blade}"), &format!("tail {edge}")]);
                (self.truth().tail[index].apparent_deg.degrees(), deg(0.0))
            }
        };
        let subject = Subject::new(deflection, blade.parse().unwrap(), spot).unwrap();
        let seat = next_seat(&self.entries, None, subject.place(Clip::Forward), false);
        let offset = match self.seated {
            Some((same, offset)) if same == seat => offset,
            _ => SEAT * self.hand.normal(),
        };
        self.seated = Some((seat, offset));
        let read = truth + offset + REPEAT * self.hand.normal();
        let buzzing = !self.truth().binding.is_empty();
        let mut capture = Capture {
            id: self.id(),
            taken_at: self.now(),
            subject,
            clip: Clip::Forward,
            seat,
            stick: Percent::new(stick),
            stick_said: true,
            limited_by: LimitedBy::EndPoint,
            approach: None,
            accepted: false,
            answered: Vec::new(),
            reading: Reading {
                angle: deg(read),
                apparent_pitch: deg(read),
                span_inclination: span,
                up: up(span, deg(read)),
                budget: Budget::new([
                    Contribution::new(Component::Repeat, deg(REPEAT)),
                    Contribution::new(Component::Clip, deg(SEAT)),
                ]),
                samples: 240,
                effective_samples: 210.0,
                dropped_samples: 0,
                damaged_frames: 0,
                lost_samples: 0,
                settled_at: Seconds::new(1.2),
                finished_at: Seconds::new(2.4),
                steady: true,
                ended_by: EndedBy::Want,
                observability: 1.0,
                vibration: buzzing.then(|| Vibration { frequency: Hertz::new(33.0), amplitude: deg(0.15) }),
                asked: None,
                temperature: None,
            },
            datum: DatumRef {
                id: Uuid::nil(),
                set_at: Timestamp::from_second(1_764_057_000).unwrap(),
                datum: Datum::Gravity,
                temperature: None,
                seat: None,
                carrier: None,
            },
            sensor: SensorIdentity {
                profile: "sentence".into(),
                port: "bench".into(),
                calibration: None,
                carrier: None,
                calibrated_on: None,
            },
        };
        change(&mut capture);
        self.entries.push(Entry { id: capture.id, at: capture.taken_at, event: Event::Capture(Box::new(capture)) });
        truth
    }

    /// Every stick to its centre, then those of the deflection over; the stick's place as a capture keeps it.
    fn sticks(&mut self, deflection: Deflection, share: f64) -> f64 {
        self.hands(&["stick elevator 0", "stick aileron 0", "stick rudder 0", "stick collective 50"]);
        let parts: Vec<Deflection> = match deflection {
            Deflection::Corner(corner) => corner.parts().collect(),
            one => vec![one],
        };
        let mut kept = if deflection.is_neutral() { 0.0 } else { share };
        for part in parts.into_iter().filter(|part| !part.is_neutral()) {
            let (axis, direction) = (part.axis().to_string(), part.direction());
            let percent = match direction.as_str() {
                "up" | "right" => share,
                "down" | "left" => -share,
                "low" => 0.0,
                "high" => 100.0,
                other => other.trim_end_matches('%').parse().unwrap(),
            };
            if !matches!(deflection, Deflection::Corner(_)) {
                kept = percent;
            }
            self.hands(&[&format!("stick {axis} {percent}")]);
        }
        kept
    }

    pub fn adjust(&mut self, text: &str) {
        let event = Event::Adjustment { adjustment: text.parse().unwrap(), note: None };
        self.entries.push(Entry { id: self.id(), at: self.now(), event });
    }

    /// Records that something else happened.
    pub fn happened(&mut self, event: Event) {
        self.entries.push(Entry { id: self.id(), at: self.now(), event });
    }

    /// Keeps everything as the next setup of a logbook, so that commands can work on it.
    pub fn keep(&self, path: &std::path::Path) {
        self.keep_as(path, |setup| setup);
    }

    /// The same with other things said of the setup.
    pub fn keep_as(&self, path: &std::path::Path, say: impl FnOnce(NewSetup) -> NewSetup) {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
        runtime.block_on(async {
            let logbook = Logbook::open(&Location::from(path)).await.unwrap();
            let setup = logbook.new_setup(say(club_setup(self.head.clone()))).await.unwrap();
            for entry in &self.entries {
                logbook.append(setup.number, entry, None).await.unwrap();
            }
            logbook.close().await;
        });
    }

    pub fn record(&self) -> LimitRecord {
        LimitRecord::new(&self.head, &self.entries)
    }

    pub fn cell(&self, name: &str) -> Cell {
        let record = self.record();
        let found = record.cells.iter().find(|cell| cell.name.to_string() == name);
        found.unwrap_or_else(|| panic!("no cell {name} in {record:?}")).clone()
    }
}
