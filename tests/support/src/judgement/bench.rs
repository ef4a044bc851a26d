//! The guided job without bytes: what the simulated head's clip feels goes through a sensor with errors of its own, its
//! calibration and its datum into readings with the budgets that the product gives them.

use super::world::{Chip, World, deg};
use clinoblade::bench::{Circumstances, Instrument, Taken, evaluate, zero};
use clinoblade::filter::{Dropped, EndedBy, SteadyReading, SteadySettings, Vibration};
use clinoblade::record::plan::plan;
use clinoblade::record::trade::{self, is_buzz};
use clinoblade::record::{
    Approach, CableCheck, Capture, DatumRef, Entry, Event, Head, Interruption, LimitRecord, LimitedBy, Seat,
    SensorIdentity, SpindleCheck, Subject, Sweep, Swept, Task, next_seat, rudder_sign,
};
use clinoblade::rig::noise::Random;
use clinoblade::rig::{End, Rig};
use clinoblade::rotor::{Axis, BladeName, Carrier, Clip, Datum, Deflection, LeadingEdge, Place, Spot, Station};
use clinoblade::stream::Counters;
use clinoblade::units::{Angle, Hertz, Percent, Seconds, SensorVector};
use jiff::Timestamp;
use uuid::Uuid;

/// How far a blade is left from its station at most, set by eye anywhere in between: what the head's description says.
const BY_EYE_DEGREES: f64 = 5.0;

/// What the person does otherwise than the guide says.
#[derive(Debug, Clone, Default)]
pub struct Habits {
    /// Axes whose stick is left at its centre.
    pub leaves: Vec<Axis>,
    /// Axes that go the other way than their stick.
    pub reversed: Vec<Axis>,
    /// The clip sits end for end, and the person does not say so.
    pub backwards: bool,
    /// From a bind the stick is backed off to where nothing buzzes, and that is captured.
    pub backs_off: bool,
    /// How far from its own station each axis' ends are read, degrees.
    pub off_station: Vec<(Axis, f64)>,
    /// No axis is moved to its ends once more.
    pub leaves_out_sweeps: bool,
}

/// The simulated head, what its owner says of it, and what was captured.
#[derive(Debug, Clone)]
pub struct Bench {
    pub rig: Rig,
    pub head: Head,
    pub entries: Vec<Entry>,
    pub habits: Habits,
    chip: Chip,
    instrument: Instrument,
    pub datum: DatumRef,
    hand: Random,
    seed: u64,
    /// What carries the clip, and the spot at which it stands.
    carrier: Option<(Carrier, BladeName)>,
    stands: Option<(BladeName, Spot)>,
    /// Whether the neutral of this place was read since it stands there.
    has_neutral: bool,
}

impl Bench {
    /// The links set, the hands' work done, and the sensor's own error found by a reversal.
    pub fn new(world: &World) -> Self {
        let id = Uuid::from_u128(u128::from(world.seed) << 64);
        let set_at = Timestamp::from_second(1_764_057_000).unwrap();
        let datum = DatumRef { id, set_at, datum: Datum::Gravity, temperature: None, seat: None, carrier: None };
        let mut bench = Self {
            rig: Rig::new(world.scenario.clone()).unwrap(),
            head: world.head.clone(),
            entries: Vec::new(),
            habits: Habits::default(),
            chip: world.chip.clone(),
            instrument: world.instrument.clone(),
            datum,
            hand: Random::new(world.seed ^ 0xBE_4C7),
            seed: world.seed,
            carrier: None,
            stands: None,
            has_neutral: false,
        };
        bench.set_links(&world.stand);
        for command in &world.hands {
            bench.hands(command);
        }
        bench.set_datum();
        bench
    }

    pub fn hands(&mut self, command: &str) {
        self.rig.command(command).unwrap();
    }

    /// Turns each link until its blade's collective is so much, degrees.
    pub fn set_links(&mut self, stand: &[f64]) {
        let head = &self.rig.scenario().head;
        let step = 0.5 * head.link_thread_mm.value() / head.pitch_arm_mm.value();
        let way = if head.link_lengthening == clinoblade::rig::Lengthening::Raises { 1.0 } else { -1.0 };
        for (index, wanted) in stand.iter().enumerate() {
            let blade = BladeName::from_index(index).unwrap();
            for _ in 0..3 {
                let off = deg(*wanted) - self.collective(blade);
                self.hands(&format!("link {blade} {}", way * off.radians() / step));
            }
        }
    }

    /// The sensor's own error by a reversal on the bench's surface.
    pub fn set_datum(&mut self) {
        self.hands("clip table forward");
        let first = self.read();
        self.hands("clip table reversed");
        let second = self.read();
        let datum = zero::reversal(&first, &second, zero::Seating::on_a_surface()).unwrap();
        self.begin_datum(datum);
    }

    /// Another zero from here on: the clip was off its blade for it.
    pub fn begin_datum(&mut self, datum: Datum) {
        let id = Uuid::from_u128(self.datum.id.as_u128() ^ (1 << 32) ^ self.entries.len() as u128);
        self.datum = DatumRef { id, datum, ..self.datum };
        let datum = self.datum;
        self.happened(Event::Datum { datum });
        self.put_on_anew();
    }

    /// The clip is taken off and put on again before the next reading.
    pub fn put_on_anew(&mut self) {
        (self.carrier, self.stands, self.has_neutral) = (None, None, false);
    }

    pub fn captures(&self) -> impl Iterator<Item = &Capture> {
        self.entries.iter().filter_map(|entry| match &entry.event {
            Event::Capture(capture) => Some(&**capture),
            _ => None,
        })
    }

    fn id(&self) -> Uuid {
        Uuid::from_u128((u128::from(self.seed) << 64) + self.entries.len() as u128 + 1)
    }

    fn now(&self) -> Timestamp {
        Timestamp::from_second(1_764_057_600 + 60 * self.entries.len() as i64).unwrap()
    }

    /// Records that something happened.
    pub fn happened(&mut self, event: Event) {
        self.entries.push(Entry { id: self.id(), at: self.now(), event });
    }

    pub fn adjust(&mut self, text: &str) {
        self.happened(Event::Adjustment { adjustment: text.parse().unwrap(), note: None });
    }

    /// The model is moved, so that it leans by so much, and the person says so.
    pub fn moved(&mut self, nose: f64, left: f64) {
        self.hands(&format!("tilt {nose} {left}"));
        let pause = Interruption { model_moved: true, ..Interruption::default() };
        self.happened(Event::Resumed { pause, note: String::new() });
        self.has_neutral = false;
    }

    pub fn record(&self) -> LimitRecord {
        LimitRecord::new(&self.head, &self.entries)
    }

    /// One steady reading of the sensor as it is held.
    fn read(&mut self) -> Taken {
        let truth = self.rig.truth();
        let SensorVector(case) = truth.clip.case_g;
        let per_g = self.instrument.profile.counts_per_g();
        let counts = self.chip.feels(case, &mut self.hand).map(|g| g * per_g);
        let mean = self.instrument.mounting.to_clip(self.instrument.calibration.apply(counts));
        let repeat = Angle::from_radians(self.chip.noise);
        let on_tail = truth.clip.on.starts_with("tail");
        let bound = truth.binding.iter().any(|end| is_of_tail(*end) == on_tail);
        let servos = &self.rig.scenario().servos;
        let swing = servos.buzz_deg + if bound { servos.bind_buzz_deg } else { Angle::ZERO };
        let amplitude = swing * self.hand.between(0.8, 1.2);
        let vibration = (amplitude > Angle::ZERO).then_some(Vibration { frequency: Hertz::new(33.0), amplitude });
        let steady = SteadyReading {
            mean,
            repeat,
            span_repeat: repeat,
            undithered: Angle::ZERO,
            samples: 300,
            effective_samples: 240.0,
            dropped: Dropped::default(),
            lost_samples: 0,
            settled_at: Seconds::new(1.2),
            finished_at: Seconds::new(2.7),
            steady: true,
            stuck: false,
            ended_by: EndedBy::Want,
            vibration,
            asked: SteadySettings::default(),
        };
        Taken { steady, counters: Counters::default(), temperature: None, samples: Vec::new() }
    }

    /// The whole job in the order of the plan; `before` each line something else may happen.
    pub fn job(&mut self, mut before: impl FnMut(&mut Self, Task, Seat)) {
        for line in plan(&self.head, &[]) {
            before(self, line.task, line.seat);
            self.line(line.task, line.seat);
        }
    }

    /// As it is led.
    pub fn plain_job(&mut self) {
        self.job(|_, _, _| {});
    }

    fn line(&mut self, task: Task, seat: Seat) {
        match task {
            Task::Cable => {
                self.go_to(seat);
                self.lift_cable(seat);
            }
            Task::OnceMore(_) if self.habits.leaves_out_sweeps => {}
            Task::OnceMore(axis) => {
                self.go_to(seat);
                self.sweep(axis, seat);
            }
            Task::Capture(deflection) if deflection.is_neutral() => {
                self.go_to(seat);
                self.capture(deflection, seat.blade, seat.spot);
                self.has_neutral = true;
            }
            Task::Capture(end) => self.end(end, seat),
        }
    }

    /// An end with the neutrals before and after it.
    pub fn end(&mut self, end: Deflection, seat: Seat) {
        let off = self.habits.off_station.iter().find(|(axis, _)| *axis == end.axis()).map_or(0.0, |(_, off)| *off);
        let spot = match seat.spot {
            Spot::Main(station) => at(f64::from(station) + off),
            tail => tail,
        };
        let seat = Seat { spot, ..seat };
        self.go_to(seat);
        let neutral = trade::neutral(end.axis());
        if !self.has_neutral {
            self.capture(neutral, seat.blade, seat.spot);
            self.has_neutral = true;
        }
        self.capture(end, seat.blade, seat.spot);
        self.capture(neutral, seat.blade, seat.spot);
    }

    /// Clip and head where a line wants them, the head set by eye.
    pub fn go_to(&mut self, seat: Seat) {
        if self.stands == Some((seat.blade, seat.spot)) {
            return;
        }
        let carrier = Some((seat.carrier(), seat.blade));
        if self.carrier != carrier {
            let tail = if matches!(seat.spot, Spot::Tail(_)) { "tail " } else { "" };
            let way = if self.habits.backwards { "reversed" } else { "forward" };
            self.hands(&format!("clip {tail}{} {way}", seat.blade));
            self.carrier = carrier;
        }
        match seat.spot {
            Spot::Main(station) => {
                let off = self.hand.between(-BY_EYE_DEGREES, BY_EYE_DEGREES);
                let of_a = of_a(&self.head, seat.blade, f64::from(station)) + off;
                self.hands(&format!("head {of_a}"));
            }
            Spot::Tail(LeadingEdge::Up) => self.hands("tail up"),
            Spot::Tail(LeadingEdge::Down) => self.hands("tail down"),
        }
        self.stands = Some((seat.blade, seat.spot));
        self.has_neutral = false;
    }

    /// Moves the sticks and captures; a reading that the bench refuses is not kept.
    pub fn capture(&mut self, deflection: Deflection, blade: BladeName, spot: Spot) {
        self.capture_from(deflection, blade, spot, None);
    }

    /// The same with the stick brought there from one side on purpose.
    pub fn capture_from(&mut self, deflection: Deflection, blade: BladeName, spot: Spot, approach: Option<Approach>) {
        let full = deflection.full_stick().value();
        if let Some(approach) = approach {
            let beyond = if approach == Approach::Below { -100.0 } else { 100.0 };
            self.hands(&format!("stick {} {beyond}", deflection.axis()));
        }
        self.deflect(deflection, 1.0);
        let (mut share, mut limited_by) = (1.0, LimitedBy::EndPoint);
        while self.habits.backs_off && !deflection.is_neutral() && self.is_bound(deflection.axis()) {
            (share, limited_by) = (share - 0.02, LimitedBy::Bind);
            self.deflect(deflection, share);
        }
        let subject = Subject::new(deflection, blade, spot).unwrap();
        let taken = self.read();
        let place = subject.place(Clip::Forward);
        let at = Circumstances {
            place: Some(place),
            clip: Clip::Forward,
            datum: self.datum.datum,
            datum_temperature: None,
            on_the_datums_seat: false,
        };
        let Ok(reading) = evaluate(&taken, &self.instrument, &at) else { return };
        let stick = if deflection.axis() == Axis::Collective { 50.0 + (full - 50.0) * share } else { full * share };
        let calibration = self.instrument.calibration_name();
        let capture = Capture {
            id: self.id(),
            taken_at: self.now(),
            subject,
            clip: Clip::Forward,
            seat: self.seat(place),
            stick: Percent::new(stick),
            stick_said: share < 1.0,
            limited_by,
            approach,
            accepted: false,
            answered: Vec::new(),
            reading,
            datum: self.datum,
            sensor: SensorIdentity {
                profile: "sentence".into(),
                port: "bench".into(),
                calibration,
                carrier: None,
                calibrated_on: None,
            },
        };
        self.entries.push(Entry { id: capture.id, at: capture.taken_at, event: Event::Capture(Box::new(capture)) });
    }

    fn seat(&self, place: Place) -> u32 {
        next_seat(&self.entries, None, place, false)
    }

    fn is_bound(&self, axis: Axis) -> bool {
        let of_axis = |end: &End| end.stick().to_string() == axis.to_string();
        self.rig.truth().binding.iter().any(of_axis)
    }

    fn centre(&mut self) {
        for stick in ["elevator 0", "aileron 0", "rudder 0", "collective 50"] {
            self.hands(&format!("stick {stick}"));
        }
    }

    /// The stick so far over, all others at their centre.
    fn deflect(&mut self, deflection: Deflection, share: f64) {
        self.centre();
        let axis = deflection.axis();
        if deflection.is_neutral() || self.habits.leaves.contains(&axis) {
            return;
        }
        let way = if self.habits.reversed.contains(&axis) { -share } else { share };
        let parts: Vec<Deflection> = match deflection {
            Deflection::Corner(corner) => corner.parts().collect(),
            one => vec![one],
        };
        parts.into_iter().for_each(|part| deflect(&mut self.rig, part, way));
    }

    fn lift_cable(&mut self, seat: Seat) {
        let Spot::Main(station) = seat.spot else { return };
        self.centre();
        let [lifted, slack] = [self.read(), self.read()].map(|taken| taken.steady);
        let u_repeat = lifted.repeat.hypot(slack.repeat);
        let (lifted, slack) = (lifted.apparent_pitch(), slack.apparent_pitch());
        self.happened(Event::Cable { check: CableCheck { blade: seat.blade, station, lifted, slack, u_repeat } });
    }

    /// Both ends once more, as the guide watches them: left out where nobody knows which way the rudder goes.
    pub fn sweep(&mut self, axis: Axis, seat: Seat) {
        let ends = trade::ends(axis).unwrap();
        let learned = match seat.spot {
            Spot::Tail(edge) => rudder_sign(&self.head, &self.entries, edge),
            Spot::Main(_) => None,
        };
        let sign = |end| match end {
            Deflection::Rudder(rudder) => learned.map(|right| right * trade::rudder_way(rudder)),
            end => trade::sign(&self.head, end, seat.spot),
        };
        let (Some(one), Some(other)) = (sign(ends[0]), sign(ends[1])) else { return };
        self.centre();
        let from = self.pitch(seat.spot).0;
        let mut swept = ends.map(Swept::still);
        for end in ends {
            self.deflect(end, 1.0);
            let (pitch, buzzes) = self.pitch(seat.spot);
            self.centre();
            let returned = self.pitch(seat.spot).0 - from;
            // Which end it was shows in the blade.
            let way = if (pitch - from).radians() * one > 0.0 { 0 } else { 1 };
            let travel = (pitch - from) * [one, other][way];
            let seen = &mut swept[way];
            if travel > seen.furthest {
                seen.furthest = travel + deg(self.hand.between(0.0, 0.1));
                (seen.held, seen.returned, seen.buzzes) = (Some(travel), Some(returned), buzzes);
            }
        }
        for seen in swept.iter_mut().filter(|seen| !seen.moves()) {
            (seen.held, seen.returned) = (None, None);
        }
        self.happened(Event::Swept { sweep: Sweep { blade: seat.blade, spot: seat.spot, ends: swept.to_vec() } });
    }

    /// The pitch as the watcher of a sweep sees it, and whether a servo buzzes.
    fn pitch(&mut self, spot: Spot) -> (Angle, bool) {
        let steady = self.read().steady;
        let pitch = match spot {
            Spot::Main(_) => steady.apparent_pitch(),
            Spot::Tail(_) => clinoblade::rotor::tail_pitch(steady.mean).map_or(Angle::ZERO, |tail| tail.pitch),
        };
        (pitch, steady.vibration.is_some_and(|vibration| is_buzz(vibration.amplitude, None)))
    }

    /// The spindle is read at these seats, the blade at its station each time.
    pub fn check_spindle(&mut self, blade: BladeName, seats: &[u16]) {
        let station = trade::own_station(&self.head, trade::neutral(Axis::Elevator));
        let spot = Spot::Main(station);
        self.centre();
        let mut read = Vec::new();
        for &seat in seats {
            self.go_to(Seat { blade, spot });
            self.hands(&format!("spindle {seat}"));
            let steady = self.read().steady;
            read.push((seat, steady.span_inclination(), steady.span_repeat));
            // Turning the spindle turns the head: it is set by eye again.
            self.stands = None;
        }
        self.hands("spindle 0");
        let check = SpindleCheck::new(blade, station, &read).unwrap();
        self.happened(Event::Spindle { check });
    }

    /// A blade's collective: the mean of its pitch on both sides of the boom, exactly there, sticks centred.
    pub fn collective(&self, blade: BladeName) -> Angle {
        (self.pitch_at(blade, 90.0, None) + self.pitch_at(blade, 270.0, None)) / 2.0
    }

    /// A main blade's pitch exactly at a station, with the stick of a deflection all the way over.
    pub fn pitch_at(&self, blade: BladeName, station: f64, deflection: Option<Deflection>) -> Angle {
        let mut rig = self.rig.clone();
        rig.command(&format!("head {}", of_a(&self.head, blade, station))).unwrap();
        for stick in ["elevator 0", "aileron 0", "rudder 0", "collective 50"] {
            rig.command(&format!("stick {stick}")).unwrap();
        }
        if let Some(deflection) = deflection {
            deflect(&mut rig, deflection, 1.0);
        }
        rig.truth().blades[blade.index()].pitch_deg
    }

    /// How far the swashplate tilts the pitch of an exact blade, sticks centred.
    pub fn plate(&self) -> Angle {
        let mut bench = self.clone();
        bench.centre();
        let swash = bench.rig.truth().swash;
        swash.cos_deg.hypot(swash.sin_deg)
    }

    /// How far blade A moves from neutral to an end, exactly at its station; of the rudder on tail blade A.
    pub fn travel(&self, end: Deflection) -> Angle {
        if end.axis() == Axis::Rudder {
            return (self.tail_pitch(0, Some(end)) - self.tail_pitch(0, None)).abs();
        }
        let station = f64::from(trade::own_station(&self.head, end));
        let moved = self.pitch_at(BladeName::A, station, Some(end)) - self.pitch_at(BladeName::A, station, None);
        moved.abs()
    }

    /// How a tail blade stands with the rudder at an end, or at its centre.
    pub fn tail_pitch(&self, blade: usize, end: Option<Deflection>) -> Angle {
        let mut rig = self.rig.clone();
        rig.command("stick rudder 0").unwrap();
        if let Some(end) = end {
            deflect(&mut rig, end, 1.0);
        }
        rig.truth().tail[blade].pitch_deg
    }

    /// The end point, in percent, that takes an end to a travel of so many degrees.
    pub fn end_point_for(&self, end: Deflection, travel: f64) -> f64 {
        let (mut low, mut high) = (0.0, 150.0);
        for _ in 0..30 {
            let middle = 0.5 * (low + high);
            let mut bench = self.clone();
            bench.hands(&format!("endpoint {end} {middle}"));
            if bench.travel(end).degrees() < travel { low = middle } else { high = middle }
        }
        high
    }
}

fn is_of_tail(end: End) -> bool {
    matches!(end, End::RudderLeft | End::RudderRight)
}

pub fn at(station: f64) -> Spot {
    Spot::Main(Station::from_degrees(station).unwrap())
}

/// Where blade A stands when this one stands there.
fn of_a(head: &Head, blade: BladeName, station: f64) -> f64 {
    station - 360.0 * blade.index() as f64 / f64::from(u8::from(head.blades))
}

/// The stick of a deflection so far over, of its way from its centre; below zero the other way.
fn deflect(rig: &mut Rig, deflection: Deflection, share: f64) {
    let full = deflection.full_stick().value();
    let percent = if deflection.axis() == Axis::Collective { 50.0 + (full - 50.0) * share } else { full * share };
    rig.command(&format!("stick {} {percent}", deflection.axis())).unwrap();
}
