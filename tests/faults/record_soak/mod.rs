//! Hours at the bench, compressed: a simulated head is measured by a person who does everything there is to do, in any
//! order. After every step the logbook is held against a second account of what it must say (`reference.rs`), and the
//! values against the truth of the simulated head.

mod reference;

use super::dice::Dice;
use clinoblade::bench::{Instrument, OpenSetup, Order, Session, Taken};
use clinoblade::filter::SteadySettings;
use clinoblade::logbook::{Location, Logbook, LogbookError, NewSetup};
use clinoblade::record::{Capture, Event, Head, Interruption, LimitRecord, LimitedBy, Subject, Verdict, Wanted};
use clinoblade::rig::Rig;
use clinoblade::rotor::{Clip, Datum, Deflection, LeadingEdge, Rotation, Spot, Station};
use clinoblade::sensor::{Calibration, Covariance, Model};
use clinoblade::stream::{Options, Origin, Profile, SampleStream};
use clinoblade::units::{Angle, Percent, Seconds};
use jiff::Timestamp;
use reference::{Deed, ENDS, Place, Setup, Shot, Stands};
use std::collections::BTreeMap;
use std::io::Cursor;
use std::path::PathBuf;
use std::time::Instant;

/// How many hours of the simulated head, where not said otherwise.
const HOURS: f64 = 0.35;
/// Says how many.
const HOURS_WANTED: &str = "CLINOBLADE_SOAK_HOURS";
/// Says which chance.
const SEED_WANTED: &str = "CLINOBLADE_SOAK_SEED";

const SCENARIO: &str = "seed = 4\n[sensor]\nnoise_density_ug_rthz = 100.0\n";

fn wanted(variable: &str) -> Option<f64> {
    std::env::var(variable).ok().map(|text| text.parse().expect("a number"))
}

struct Soak {
    dice: Dice,
    rig: Rig,
    now: f64,
    folder: tempfile::TempDir,
    logbook: Logbook,
    head: Head,
    instrument: Instrument,
    setups: Vec<Setup>,
    /// The one that was chosen by taking it up again.
    chosen: Option<usize>,
    done: BTreeMap<&'static str, usize>,
    told: Vec<String>,
}

/// A capture that somebody wants to take.
struct Wish<'a> {
    what: &'a str,
    place: Place,
    forward: bool,
    stick: f64,
    bound: bool,
    /// The clip is put on again before it.
    again: bool,
}

impl Soak {
    async fn new(seed: u64) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let logbook = open(folder.path().join("club.sqlite")).await;
        let targets = "blade_zero = \"0 ± 0.5\"\ncollective_low = \"-10 ± 2\"\ncollective_high = \"10 ± 2\"";
        let text = super::bench_kit::HEAD.replace("blade_zero = \"0 ± 0.5\"", targets);
        // A perfect sensor, and known to be one to half a milligravity.
        let covariance = Covariance::identity() * 0.0005_f64.powi(2);
        let nominal = Calibration::nominal(16_384.0);
        let calibration = Calibration { name: "bench".into(), model: Model::Faces, covariance, ..nominal };
        Self {
            dice: Dice::new(seed),
            rig: Rig::new(SCENARIO.parse().unwrap()).unwrap(),
            now: 0.0,
            logbook,
            head: Head::from_toml(&text).unwrap(),
            instrument: Instrument::new(Profile::sentence(), Some(calibration), Rotation::Clockwise),
            setups: Vec::new(),
            chosen: None,
            done: BTreeMap::new(),
            told: Vec::new(),
            folder,
        }
    }

    fn say(&mut self, what: &'static str, details: impl std::fmt::Display) {
        *self.done.entry(what).or_insert(0) += 1;
        self.told.push(format!("{what}: {details}"));
    }

    /// What led here, for whoever has to find out why.
    fn story(&self) -> String {
        let from = self.told.len().saturating_sub(60);
        self.told[from..].join("\n")
    }

    /// Which setup commands work on.
    fn current(&self) -> Option<usize> {
        let open = |at: &usize| !self.setups[*at].closed;
        let newest = (0..self.setups.len()).rev().find(|at| open(at) && !self.setups[*at].imported);
        self.chosen.filter(open).or(newest)
    }

    fn tell(&mut self, line: &str) {
        self.rig.command(line).unwrap_or_else(|error| panic!("{line}: {error}"));
    }

    fn advance(&mut self, seconds: f64) -> Vec<u8> {
        let mut bytes = Vec::new();
        self.now += seconds;
        self.rig.advance(Seconds::new(self.now), &mut bytes);
        bytes
    }

    /// Sets head, sticks and clip as a person does, and reads what the sensor sends then.
    async fn read(&mut self, what: &str, place: Place, forward: bool, stick: f64) -> (Taken, f64) {
        let way = if forward { "forward" } else { "reversed" };
        match place {
            Place::Main { blade, station } => {
                self.tell(&format!("clip {blade} {way} over 0.1"));
                let of_a = if blade == 'A' { station } else { (station + 180.0).rem_euclid(360.0) };
                self.tell(&format!("head {of_a} over 0.1"));
            }
            Place::Tail { up } => {
                self.tell(&format!("clip tail A {way} over 0.1"));
                self.tell(&format!("tail {} over 0.1", if up { "up" } else { "down" }));
            }
        }
        let axis = what.split(' ').next().unwrap();
        for (name, centre) in [("elevator", 0.0), ("aileron", 0.0), ("rudder", 0.0), ("collective", 50.0)] {
            let to = if name == axis { stick } else { centre };
            self.tell(&format!("stick {name} {to} over 0.1"));
        }
        self.advance(2.0);
        let (bytes, mut all) = (self.advance(1.6), Vec::new());
        all.extend(bytes);
        let truth = self.rig.truth();
        let pitch = match place {
            Place::Main { blade, .. } => truth.blades[usize::from(blade == 'B')].pitch_deg,
            Place::Tail { .. } => truth.tail[0].pitch_deg,
        };
        let origin = Origin::Log("the simulated head".to_owned());
        let stream = SampleStream::from_reader(origin, Cursor::new(all), &Profile::sentence(), &Options::default());
        let session = Session::start(stream.unwrap(), self.instrument.clone());
        let settings = SteadySettings { want: Angle::from_degrees(0.08), ..SteadySettings::default() };
        let taken = session.read(settings).await.unwrap();
        session.end().await.unwrap();
        (taken, pitch.degrees())
    }

    async fn capture(&mut self, at: usize, wish: Wish<'_>) {
        let Wish { what, place, forward, stick, bound, again } = wish;
        let (taken, truth) = self.read(what, place, forward, stick).await;
        let deflection: Deflection = what.parse().unwrap();
        let spot = match place {
            Place::Main { station, .. } => Spot::Main(Station::from_degrees(station).unwrap()),
            Place::Tail { up } => Spot::Tail(if up { LeadingEdge::Up } else { LeadingEdge::Down }),
        };
        let blade = if let Place::Main { blade, .. } = place { blade } else { 'A' };
        let order = Order {
            subject: Subject::new(deflection, blade.to_string().parse().unwrap(), spot).unwrap(),
            clip: if forward { Clip::Forward } else { Clip::Reversed },
            stick: Percent::new(stick),
            stick_said: true,
            limited_by: if bound { LimitedBy::Bind } else { LimitedBy::EndPoint },
            approach: None,
            reseated: again,
        };
        let seat = self.setups[at].next_seat(place, forward, again);
        let mut open = self.open(at).await;
        let draft = open.draft(&order, &taken, &self.instrument, "bench").unwrap();
        let draft = if draft.question().is_some() { open.accepted(draft) } else { draft };
        let kept = draft.capture.clone();
        if self.setups[at].closed {
            assert!(open.keep(draft).await.is_err(), "nothing is added to a closed setup\n{}", self.story());
            self.say("capture refused", "the setup is closed");
            return;
        }
        open.keep(draft).await.unwrap();
        assert_eq!(kept.seat, seat, "the seat\n{}", self.story());
        let angle = kept.reading.angle.degrees();
        let off = (angle - truth).abs();
        let claimed = kept.reading.budget.expanded().expanded.degrees();
        assert!(off < 2.5 * claimed.max(0.05), "{what}: read {angle}, truth {truth}, U {claimed}\n{}", self.story());
        let datum = self.setups[at].datum();
        let shot = Shot { id: kept.id, what: what.to_owned(), place, forward, stick, bound, datum, seat, angle, truth };
        self.say("capture", format!("setup {} {what} {place:?} forward {forward} seat {seat}: {angle:.3}", at + 1));
        self.setups[at].deeds.push(Deed::Shot(shot));
    }

    async fn open(&self, at: usize) -> OpenSetup {
        OpenSetup::find(self.logbook.clone(), Some(at as u32 + 1)).await.unwrap()
    }

    async fn random_capture(&mut self, at: usize) {
        const WHAT: [(&str, f64); 12] = [
            ("elevator up", 100.0),
            ("elevator down", -100.0),
            ("elevator neutral", 0.0),
            ("aileron left", -100.0),
            ("aileron right", 100.0),
            ("aileron neutral", 0.0),
            ("rudder left", -100.0),
            ("rudder right", 100.0),
            ("rudder neutral", 0.0),
            ("collective low", 0.0),
            ("collective mid", 50.0),
            ("collective high", 100.0),
        ];
        let (what, full) = *self.dice.one_of(&WHAT);
        let blade = *self.dice.one_of(&['A', 'A', 'B']);
        let place = if what.starts_with("rudder") {
            Place::Tail { up: self.dice.below(2) == 0 }
        } else {
            let usual = if what.starts_with("aileron") { 0.0 } else { 90.0 };
            let station = *self.dice.one_of(&[usual, usual, usual, usual + 3.0, usual + 180.0]);
            Place::Main { blade, station }
        };
        let part = self.dice.below(6) == 0 && !what.starts_with("collective");
        let stick = if part { full * 0.6 } else { full };
        let (forward, bound, again) = (self.dice.below(5) > 0, self.dice.below(8) == 0, self.dice.below(8) == 0);
        self.capture(at, Wish { what, place, forward, stick, bound, again }).await;
    }

    /// Everything that the record still wants, in its order: after that it is complete.
    async fn what_is_wanted(&mut self, at: usize) {
        let open = self.open(at).await;
        let list: Vec<Wanted> = open.record().shortest_remeasure().to_vec();
        for wanted in &list {
            let what = wanted.subject.deflection().to_string();
            let place = match wanted.subject.spot() {
                Spot::Main(station) => {
                    let blade = wanted.subject.blade().to_string().chars().next().unwrap();
                    Place::Main { blade, station: station.azimuth().degrees() }
                }
                Spot::Tail(edge) => Place::Tail { up: edge == LeadingEdge::Up },
            };
            let stick = wanted.subject.deflection().full_stick().value();
            let forward = wanted.clip == Clip::Forward;
            let wish = Wish { what: &what, place, forward, stick, bound: false, again: false };
            self.capture(at, wish).await;
        }
        let record = self.open(at).await.record();
        let missing: Vec<String> =
            record.cells.iter().filter(|c| !c.verdict.is_captured()).map(|c| c.name.to_string()).collect();
        self.say("measure what is wanted", format!("{} captures", list.len()));
        assert!(record.complete, "after {} wanted captures {missing:?} are not there\n{}", list.len(), self.story());
        assert!(record.to_measure.is_empty());
    }

    /// One thing that a person does.
    async fn step(&mut self) {
        let current = self.current();
        let Some(at) = current.filter(|_| self.dice.below(60) > 0) else {
            let setup = self.logbook.new_setup(NewSetup::of(self.head.clone())).await.unwrap();
            self.setups.push(Setup::default());
            assert_eq!(setup.number as usize, self.setups.len());
            self.chosen = None;
            self.say("setup new", setup.number);
            return;
        };
        // Sometimes another than the open one is named.
        let at = if self.dice.below(12) == 0 { self.dice.below(self.setups.len()) } else { at };
        let roll = self.dice.below(100);
        match roll {
            0..50 => self.random_capture(at).await,
            50..64 => self.turn(at).await,
            64..69 => self.set_zero(at).await,
            69..75 => self.take_back(at).await,
            75..78 => self.leave_out(at).await,
            78..82 => self.take_up(at).await,
            82..86 => self.read_anew(at).await,
            86..88 => self.close(at).await,
            88..92 => self.leave_and_come_back().await,
            92..95 => self.hand_over(at).await,
            _ if !self.setups[at].closed => self.what_is_wanted(at).await,
            _ => {}
        }
    }

    /// Records an event, where the setup is open; says whether it is there.
    async fn happens(&mut self, at: usize, event: Event) -> bool {
        let mut open = self.open(at).await;
        let happened = open.happened(event).await;
        match (&happened, self.setups[at].closed) {
            (Ok(()), false) => true,
            (Err(LogbookError::Closed(_)), true) => false,
            _ => panic!("{happened:?}\n{}", self.story()),
        }
    }

    async fn turn(&mut self, at: usize) {
        const TURNED: [&str; 14] = [
            "link A +1 half-turn",
            "link B -2 half-turns",
            "elevator end point 95 %",
            "elevator up end point 90 %",
            "aileron left end point 90 %",
            "rudder end point 80 %",
            "collective high end point 90 %",
            "swash link 2 +1 half-turn",
            "servo arm 1",
            "sub-trim 3 -5 %",
            "phase 5°",
            "cyclic range 80 %",
            "tail rod +1 half-turn",
            "reverse aileron",
        ];
        let what = *self.dice.one_of(&TURNED);
        let note = (self.dice.below(2) == 0).then(|| "as advised".to_owned());
        if self.happens(at, Event::Adjustment { adjustment: what.parse().unwrap(), note }).await {
            self.say("adjust", format!("setup {} {what}", at + 1));
            self.setups[at].deeds.push(Deed::Turned(what.to_owned()));
        }
    }

    async fn set_zero(&mut self, at: usize) {
        if self.setups[at].closed {
            return;
        }
        let on_a_surface = self.dice.below(2) == 0;
        let datum = if on_a_surface {
            Datum::Reversal {
                instrument: Default::default(),
                slope: Angle::from_degrees(0.4),
                u: Angle::from_degrees(0.03),
            }
        } else {
            Datum::Gravity
        };
        let set = self.open(at).await.set_zero(datum, None, None).await.unwrap();
        self.say("datum", format!("setup {} {}", at + 1, set.kind()));
        self.setups[at].deeds.push(Deed::Datum { id: set.id, on_a_surface });
    }

    async fn take_back(&mut self, at: usize) {
        let setup = &self.setups[at];
        let counting: Vec<_> =
            setup.shots().into_iter().filter(|shot| !setup.taken_back(shot.id)).map(|s| s.id).collect();
        if counting.is_empty() {
            return;
        }
        let capture = if self.dice.below(3) > 0 { *counting.last().unwrap() } else { *self.dice.one_of(&counting) };
        if self.happens(at, Event::Withdrawn { capture, reason: "the wrong stick".to_owned() }).await {
            self.say("withdraw", format!("setup {} {capture}", at + 1));
            self.setups[at].deeds.push(Deed::TakenBack(capture));
        }
    }

    async fn leave_out(&mut self, at: usize) {
        let what = (*self.dice.one_of(&ENDS)).to_owned();
        let why = format!("no time for it on day {}", self.dice.below(9));
        let event = Event::Skipped { deflection: what.parse().unwrap(), reason: why.clone() };
        if self.happens(at, event).await {
            self.say("skip", format!("setup {} {what}", at + 1));
            self.setups[at].deeds.push(Deed::LeftOut { what, why });
        }
    }

    async fn take_up(&mut self, at: usize) {
        let [moved, clip_off, other_sensor] = [3, 2, 4].map(|one_in| self.dice.below(one_in) == 0);
        self.logbook.reopen_setup(at as u32 + 1).await.unwrap();
        self.setups[at].closed = false;
        self.chosen = Some(at);
        let pause = Interruption { model_moved: moved, clip_taken_off: clip_off, sensor_changed: other_sensor };
        assert!(self.happens(at, Event::Resumed { pause, note: "after the night".to_owned() }).await);
        self.say("resume", format!("setup {} {pause:?}", at + 1));
        self.setups[at].deeds.push(Deed::TakenUp { moved, clip_off, other_sensor });
    }

    async fn read_anew(&mut self, at: usize) {
        let open = self.open(at).await;
        let all: Vec<Capture> = open.newest_readings().into_iter().cloned().collect();
        if all.is_empty() {
            return;
        }
        let mut capture = self.dice.one_of(&all).clone();
        // Today's filter sees it a little otherwise.
        capture.reading.angle += Angle::from_degrees(0.01);
        let (id, angle) = (capture.id, capture.reading.angle.degrees());
        if self.happens(at, Event::Recomputed { note: "today's filter".to_owned(), captures: vec![capture] }).await {
            self.say("recompute", format!("setup {} {id}", at + 1));
            self.setups[at].deeds.push(Deed::ReadAnew { id, angle });
        }
    }

    async fn close(&mut self, at: usize) {
        self.logbook.close_setup(at as u32 + 1, Timestamp::now()).await.unwrap();
        self.setups[at].closed = true;
        self.say("close", at + 1);
    }

    async fn leave_and_come_back(&mut self) {
        let path = self.folder.path().join("club.sqlite");
        if self.dice.below(2) == 0 {
            // As after a kill: nobody tidied up.
            self.logbook = open(path).await;
        } else {
            let left = std::mem::replace(&mut self.logbook, open(self.folder.path().join("meanwhile.sqlite")).await);
            left.close().await;
            self.logbook = open(path).await;
        }
        self.say("logbook closed and opened", "");
    }

    /// To another logbook and back: it is the same there, and nothing is taken twice here.
    async fn hand_over(&mut self, at: usize) {
        let number = at as u32 + 1;
        let document = self.logbook.export(number).await.unwrap();
        let other = open(self.folder.path().join(format!("other-{}.sqlite", self.told.len()))).await;
        let there = other.import(std::slice::from_ref(&document)).await.unwrap()[0].setup;
        let (kept, copy) =
            (self.logbook.setup_with_entries(number).await.unwrap(), other.setup_with_entries(there).await.unwrap());
        assert_eq!(kept.entries, copy.entries);
        let record = |entries: &[_]| LimitRecord::new(&self.head, entries);
        assert_eq!(record(&kept.entries), record(&copy.entries), "the record is the same in another logbook");
        let again = self.logbook.import(&[document]).await.unwrap();
        assert!(again[0].was_here && again[0].setup == number);
        other.close().await;
        self.say("export and import", number);
    }

    /// Holds everything against the second account.
    async fn hold_against_the_reference(&self) {
        let story = || self.story();
        let listed = self.logbook.setups(None, u32::MAX).await.unwrap();
        assert_eq!(listed.len(), self.setups.len(), "{}", story());
        for (summary, (at, setup)) in listed.iter().rev().zip(self.setups.iter().enumerate()) {
            let of = (
                summary.number as usize,
                summary.entries as usize,
                summary.captures as usize,
                summary.closed_at.is_some(),
            );
            assert_eq!(of, (at + 1, setup.deeds.len(), setup.shots().len(), setup.closed), "{}", story());
        }
        match (self.logbook.open_setup().await, self.current()) {
            (Ok(open), Some(at)) => assert_eq!(open.number as usize, at + 1, "the open setup\n{}", story()),
            (Err(LogbookError::NoOpenSetup), None) => {}
            (found, at) => panic!("{found:?}, and not {at:?}\n{}", story()),
        }
        let Some(at) = self.current() else { return };
        let (setup, open) = (&self.setups[at], self.open(at).await);
        let record = open.record();
        let wanted = setup.record();
        for cell in record.cells.iter().filter(|cell| cell.is_owed()) {
            let name = cell.name.to_string();
            let told = || format!("setup {} {name}: {cell:#?}\n{}", at + 1, self.story());
            let Some(stands) = wanted.get(&name) else {
                assert!(cell.verdict == Verdict::Missing && cell.value.is_none(), "{}", told());
                self.holds_the_reason(setup, &name, &cell.consequence);
                continue;
            };
            let value = cell.value.as_ref().unwrap_or_else(|| panic!("{}", told()));
            let mut made_of = value.captures.clone();
            made_of.sort_unstable();
            made_of.dedup();
            assert_eq!(made_of, stands.made_of, "{}", told());
            let mut stale: Vec<String> = match &cell.verdict {
                Verdict::Stale { by } => by.iter().map(ToString::to_string).collect(),
                _ => Vec::new(),
            };
            stale.sort_unstable();
            stale.dedup();
            assert_eq!(stale, stands.stale, "{}", told());
            self.holds_the_value(&name, value.angle.degrees(), value.expanded.degrees(), stands, &told);
        }
        let owed = record.cells.iter().filter(|cell| cell.is_owed()).count();
        let holding = wanted.values().filter(|stands| stands.stale.is_empty()).count();
        assert_eq!(record.complete, holding == owed, "{}", story());
        assert_eq!(record.to_measure.is_empty(), record.complete, "{}", story());
    }

    /// An end may be called by either sign, as its direction and the head's description say: its size is what was moved.
    fn holds_the_value(&self, name: &str, value: f64, claimed: f64, stands: &Stands, told: &impl Fn() -> String) {
        let signed = !ENDS.contains(&name) || name.starts_with("collective");
        let (of, wanted, truth) = if signed {
            (value, stands.value, stands.truth)
        } else {
            (value.abs(), stands.value.abs(), stands.truth.abs())
        };
        assert!((of - wanted).abs() < 1e-9, "{of} is not {wanted}\n{}", told());
        // Each of several captures was read anew by a hundredth at a time.
        let anew = 0.01 * self.done.get("recompute").copied().unwrap_or(0) as f64;
        assert!((of - truth).abs() < 2.5 * claimed.max(0.05) + anew, "{of}, in truth {truth}, U {claimed}\n{}", told());
    }

    fn holds_the_reason(&self, setup: &Setup, name: &str, consequence: &str) {
        let why = setup.deeds.iter().rev().find_map(|deed| match deed {
            Deed::LeftOut { what, why } if what == name => Some(why),
            _ => None,
        });
        assert!(why.is_none_or(|why| consequence.contains(why.as_str())), "{name}: {consequence}\n{}", self.story());
    }
}

async fn open(path: PathBuf) -> Logbook {
    Logbook::open(&Location::File(path)).await.unwrap()
}

#[tokio::test]
async fn whatever_is_done_at_the_bench_the_record_says_what_a_second_account_says() {
    let hours = wanted(HOURS_WANTED).unwrap_or(HOURS);
    let mut soak = Soak::new(wanted(SEED_WANTED).map_or(1, |seed| seed as u64)).await;
    let begun = Instant::now();
    while soak.now < hours * 3600.0 {
        soak.step().await;
        soak.hold_against_the_reference().await;
    }
    println!(
        "{:.2} hours at the bench in {:.0} s, {} steps, each held against the second account: {:?}",
        soak.now / 3600.0,
        begun.elapsed().as_secs_f64(),
        soak.told.len(),
        soak.done
    );
    assert!(soak.done.len() > 10 && soak.told.len() > 100);
}
