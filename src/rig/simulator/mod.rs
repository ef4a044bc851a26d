//! The rig itself: state, commands, time, bytes.

mod commands;
mod mechanics;
mod samples;
mod telling;

use super::attitude::ClipFit;
use super::chip::Chip;
use super::command::Command;
use super::linkage::{Adjustment, Linkage};
use super::motion::{Motion, Play};
use super::noise::{Buzz, Random};
use super::operator::Tremor;
use super::scenario::Scenario;
use super::tail_linkage::TailLinkage;
use super::vocabulary::{Edge, End, Seat, Stick};
use super::wire::Line;
use super::{RigError, check};
use crate::units::{Angle, Seconds};
use std::fmt;

/// A simulated bench that is running.
#[derive(Debug, Clone)]
pub struct Rig {
    scenario: Scenario,
    timeline: std::vec::IntoIter<(f64, Command)>,
    next_event: Option<(f64, Command)>,
    linkage: Linkage,
    tail_linkage: TailLinkage,
    binds: Vec<Stop>,

    now: f64,
    sticks: [Motion; 4],
    held: Option<Stick>,
    station: Motion,
    tilt: [Motion; 2],
    celsius: Motion,
    endpoints: [f64; 8],
    trims: [f64; 4],
    adjustment: Adjustment,
    longer: Vec<f64>,
    play: Vec<Play>,
    tail_play: [Play; 2],
    tail_edge_of_a: Edge,
    /// Quarter turns of the spindle in its grips, 0 to 3.
    spindle_quarters: u8,
    seat: Seat,
    fit: ClipFit,
    hands_on: Hands,
    cable_lifted: bool,

    chip: Chip,
    line: Line,
    hand: Random,
    clock: Random,
    hum: Buzz,
    /// The hum's swing at this sample, as a share of its amplitude.
    swing: f64,
    tremor: Tremor,

    plugged: bool,
    has_quit: bool,
    powered_at: f64,
    count: u64,
    first: (u16, u32),
    last_sample: f64,
    next_sample: f64,
}

/// Hands on the clip or its cable, and how far they turn it, radians.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct Hands {
    from: f64,
    to: f64,
    strength: f64,
}

/// A linkage's stop and since when it has been pushed against.
#[derive(Debug, Clone, PartialEq)]
struct Stop {
    end: End,
    demand: f64,
    since: Option<f64>,
}

/// The one line that answers a command.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// The line: `ok …`, or for `truth` the truth as one JSON document.
    pub line: String,
    /// How long the driver is to leave the next command, and this answer, waiting.
    pub wait: Option<Seconds>,
}

impl fmt::Display for Answer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.line)
    }
}

impl Rig {
    /// A bench set up as the scenario says, at time zero.
    ///
    /// # Errors
    /// When a number or a command of the timeline makes no sense.
    pub fn new(scenario: Scenario) -> Result<Self, RigError> {
        check::scenario(&scenario)?;
        let mut timeline = timeline(&scenario)?.into_iter();
        let next_event = timeline.next();
        let head = &scenario.head;
        let linkage = Linkage::new(head);
        let tail_linkage = TailLinkage::new(&scenario.tail, head.rotation);
        let binds = scenario
            .binds
            .iter()
            .filter_map(|bind| {
                let travel = bind.travel_deg.radians();
                let demand = match bind.at.stick() {
                    Stick::Rudder => tail_linkage.demand_for_travel(bind.at, travel),
                    _ => linkage.demand_for_travel(bind.at, travel),
                };
                demand.map(|demand| Stop { end: bind.at, demand, since: None })
            })
            .collect();
        let creep = (scenario.servos.creep_percent.value() / 100.0, scenario.servos.creep_time_s.value());
        let link_error = |i: usize| scenario.blades.link_error_deg.get(i).copied().unwrap_or_default();
        // Each purpose draws from a generator of its own, so that one's draws do not shift another's.
        let mut seeds = Random::new(scenario.seed);
        let servos = &scenario.servos;
        let mut rig = Self {
            timeline,
            next_event,
            longer: (0..head.blades).map(|i| linkage.lift(link_error(i).radians())).collect(),
            play: vec![Play::new(head.slop_deg.radians()); head.blades],
            tail_play: [Play::new(scenario.tail.slop_deg.radians()); 2],
            linkage,
            tail_linkage,
            binds,
            now: 0.0,
            sticks: [Stick::Elevator, Stick::Aileron, Stick::Rudder, Stick::Collective]
                .map(|stick| Motion::still(stick.centre()).with_creep(creep.0, creep.1)),
            held: None,
            station: Motion::still(head.station_deg.radians()),
            tilt: [Motion::still(head.nose_deg.radians()), Motion::still(head.left_deg.radians())],
            celsius: Motion::still(scenario.sensor.celsius.value()),
            endpoints: [1.0; 8],
            trims: [0.0; 4],
            adjustment: Adjustment {
                arm_offset: scenario.servos.arm_offset_deg.map(Angle::radians),
                sub_trim: scenario.servos.sub_trim_deg.map(Angle::radians),
                rod: [0.0; 3],
            },
            tail_edge_of_a: Edge::Up,
            spindle_quarters: 0,
            seat: Seat::Main(scenario.clip.blade),
            fit: ClipFit { mount: scenario.clip.mount, yaw: 0.0, span_offset: 0.0, chord_offset: 0.0 },
            hands_on: Hands::default(),
            cable_lifted: false,
            hand: Random::new(seeds.bits()),
            clock: Random::new(seeds.bits()),
            chip: Chip::new(&scenario.sensor, scenario.stream.rate_hz, seeds.bits()),
            line: Line::new(&scenario.stream, seeds.bits()),
            hum: Buzz::new(servos.buzz_hz, Angle::from_radians(1.0), servos.buzz_wander_hz, seeds.bits()),
            swing: 0.0,
            tremor: Tremor::new(
                scenario.operator.tremor_deg,
                Seconds::new(f64::INFINITY),
                Seconds::new(0.0),
                seeds.bits(),
            ),
            plugged: true,
            has_quit: false,
            powered_at: 0.0,
            count: 0,
            first: (scenario.stream.first_seq, scenario.stream.first_micros),
            last_sample: 0.0,
            next_sample: 0.0,
            scenario,
        };
        rig.reseat(rig.seat, rig.fit.mount);
        rig.schedule();
        Ok(rig)
    }

    /// The rig's own time.
    #[must_use]
    pub const fn now(&self) -> Seconds {
        Seconds::new(self.now)
    }

    /// Whether the sensor's cable is in: while it is out, no bytes come and the port is gone.
    #[must_use]
    pub const fn is_plugged(&self) -> bool {
        self.plugged
    }

    /// Whether it was told to quit, on a line or by its timeline.
    #[must_use]
    pub const fn has_quit(&self) -> bool {
        self.has_quit
    }

    /// The scenario it was made from.
    #[must_use]
    pub const fn scenario(&self) -> &Scenario {
        &self.scenario
    }

    /// Carries out one command, written as on a line, at this moment.
    ///
    /// # Errors
    /// When the line is no command, or this head cannot do it. Nothing has changed then.
    pub fn command(&mut self, line: &str) -> Result<Answer, RigError> {
        let command: Command = line.parse()?;
        possible(&command, &self.scenario)?;
        self.perform(command)
    }

    /// From now on a sensor that is polled sends nothing unless it is asked, as on a real line. The others go on sending.
    pub const fn wait_to_be_asked(&mut self) {
        self.line.wait_to_be_asked();
    }

    /// What is sent to the sensor at this moment: one that is polled appends its answer, the others have no ear.
    pub fn hear(&mut self, bytes: &[u8], out: &mut Vec<u8>) {
        if self.plugged && self.now >= self.powered_at {
            self.line.hear(bytes, out);
        }
    }

    /// Lets time pass, and appends the bytes that are sent until then. A time that is past changes nothing.
    pub fn advance(&mut self, until: Seconds, out: &mut Vec<u8>) {
        let until = until.value();
        loop {
            let event = self.next_event.as_ref().map_or(f64::INFINITY, |(at, _)| *at);
            let next = event.min(self.next_sample);
            if next.is_nan() || next > until {
                break;
            }
            self.now = self.now.max(next);
            if event <= self.next_sample {
                if let Some((_, command)) = std::mem::replace(&mut self.next_event, self.timeline.next()) {
                    // What a head cannot do was refused when the rig was made; the rest depends on the commands
                    // given meanwhile, and a timeline goes on as a person would.
                    let _ = self.perform(command);
                }
            } else {
                self.sample(out);
            }
        }
        if until.is_finite() {
            self.now = self.now.max(until);
        }
    }
}

/// The timeline in order of time, every line understood.
fn timeline(scenario: &Scenario) -> Result<Vec<(f64, Command)>, RigError> {
    let mut events = Vec::new();
    for event in &scenario.timeline {
        let wrong = |reason| RigError::Timeline { at: event.at_s, reason: Box::new(reason) };
        let command = event.command.parse().map_err(wrong)?;
        possible(&command, scenario).map_err(wrong)?;
        events.push((event.at_s.value(), command));
    }
    events.sort_by(|a, b| a.0.total_cmp(&b.0));
    Ok(events)
}

/// Whether the head has the blade that a command names.
fn possible(command: &Command, scenario: &Scenario) -> Result<(), RigError> {
    let (&blade, blades) = match command {
        Command::Clip { seat: Seat::Main(blade), .. } | Command::Link { blade, .. } => (blade, scenario.head.blades),
        Command::Clip { seat: Seat::Tail(blade), .. } => (blade, 2),
        _ => return Ok(()),
    };
    if blade.index() < blades { Ok(()) } else { Err(RigError::NoSuchBlade { blade, blades }) }
}
