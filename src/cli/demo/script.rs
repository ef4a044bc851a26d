//! The job as a list of steps: what is said, what the hands do, what is captured.

use crate::rotor::{BladeName, LeadingEdge, Spot, Station};
use crate::words::demo;

/// One step of the job.
#[derive(Debug, Clone, Copy)]
pub(super) enum Step {
    /// The hands do something and nothing is read.
    Hands { say: &'static str, moves: &'static [&'static str] },
    /// The sensor is turned through a guided tumble and calibrated.
    Tumble,
    /// The sensor's own error is found by turning it end for end.
    Reversal,
    /// One axis direction is captured.
    Capture(Shot),
    /// The limit that was captured last stands short of a bind: its end point comes down to it.
    TakeOver { end: &'static str },
    /// Something is turned on the model, and said so.
    Adjust { say: &'static str, moves: &'static [&'static str], adjustments: &'static [&'static str] },
}

/// One capture of the script.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shot {
    /// What the hands do first.
    pub moves: &'static [&'static str],
    /// What is captured.
    pub deflection: &'static str,
    /// On which blade.
    pub blade: BladeIndex,
    /// Where it stands.
    pub place: Where,
    /// The trade's own sign, written down and not worked out: +1 where the deflection that is captured makes this blade's
    /// pitch larger here, −1 where it makes it smaller.
    pub sign: f64,
}

/// A blade by its place in the order.
pub(super) type BladeIndex = usize;

/// Where a blade stands, in plain numbers.
#[derive(Debug, Clone, Copy)]
pub(super) enum Where {
    /// A main blade so many degrees from the boom.
    Station(f64),
    /// A tail blade.
    Edge(LeadingEdge),
}

impl Shot {
    /// The blade's name.
    pub(super) fn blade(self) -> BladeName {
        BladeName::from_index(self.blade).unwrap_or(BladeName::A)
    }

    /// Its place.
    pub(super) fn spot(self) -> Result<Spot, crate::rotor::PlaceError> {
        Ok(match self.place {
            Where::Station(degrees) => Spot::Main(Station::from_degrees(degrees)?),
            Where::Edge(edge) => Spot::Tail(edge),
        })
    }
}

const fn main(deflection: &'static str, station: f64, sign: f64, moves: &'static [&'static str]) -> Step {
    Step::Capture(Shot { moves, deflection, blade: 0, place: Where::Station(station), sign })
}

const fn zero(blade: BladeIndex, station: f64, moves: &'static [&'static str]) -> Step {
    Step::Capture(Shot { moves, deflection: "collective mid", blade, place: Where::Station(station), sign: 1.0 })
}

const fn tail(deflection: &'static str, edge: LeadingEdge, sign: f64, moves: &'static [&'static str]) -> Step {
    Step::Capture(Shot { moves, deflection, blade: 0, place: Where::Edge(edge), sign })
}

/// The whole job, in the order in which a person would do it.
pub(super) const JOB: &[Step] = &[
    Step::Hands { say: demo::UPRIGHT, moves: &["tilt 0 0 over 0.5"] },
    Step::Tumble,
    Step::Reversal,
    // Both blades to zero, square to the boom, each on both sides with the clip left on: so no lean is in the mean.
    zero(0, 90.0, &["clip A forward over 0.8", "head 90 over 0.8"]),
    zero(0, 270.0, &["head 270 over 0.8"]),
    zero(1, 90.0, &["clip B forward over 0.8"]),
    zero(1, 270.0, &["head 90 over 0.8"]),
    Step::Adjust { say: demo::LINK, moves: &["link B -2"], adjustments: &["link B -2"] },
    zero(1, 270.0, &[]),
    zero(1, 90.0, &["head 270 over 0.8"]),
    // What both blades share is no link's: all three servos alike.
    Step::Adjust {
        say: demo::SUB_TRIM,
        moves: &["subtrim 1 -0.45", "subtrim 2 -0.45", "subtrim 3 -0.45"],
        adjustments: &["sub-trim 1 -1", "sub-trim 2 -1", "sub-trim 3 -1"],
    },
    zero(1, 90.0, &[]),
    zero(1, 270.0, &["head 90 over 0.8"]),
    zero(0, 90.0, &["clip A forward over 0.8"]),
    zero(0, 270.0, &["head 270 over 0.8"]),
    // Elevator: blade A square to the boom. The rotor turns clockwise: this is the model's left side, and what is lifted
    // here is highest a quarter turn on, at the nose. The nose goes up with more pitch here.
    main("elevator neutral", 90.0, 1.0, &["head 90 over 0.8"]),
    main("elevator down", 90.0, -1.0, &["stick elevator -100 over 0.8"]),
    Step::TakeOver { end: "elevator down" },
    main("elevator down", 90.0, -1.0, &["stick elevator -100 over 0.8"]),
    main("elevator up", 90.0, 1.0, &["stick elevator 100 over 1.2"]),
    // Aileron: blade A along the boom. What is lifted over the boom is highest a quarter turn on, at the left: the model
    // rolls to the right with more pitch here.
    main("aileron neutral", 0.0, 1.0, &["stick elevator 0 over 0.8", "head 0 over 0.8"]),
    main("aileron left", 0.0, -1.0, &["stick aileron -100 over 0.8"]),
    main("aileron right", 0.0, 1.0, &["stick aileron 100 over 1.2"]),
    // Tail: both leading edges, so that the model's roll drops out. On this head more pitch is rudder right.
    tail(
        "rudder neutral",
        LeadingEdge::Up,
        1.0,
        &["stick aileron 0 over 0.8", "clip tail A forward over 0.8", "tail up over 0.5"],
    ),
    tail("rudder left", LeadingEdge::Up, -1.0, &["stick rudder -100 over 0.8"]),
    tail("rudder right", LeadingEdge::Up, 1.0, &["stick rudder 100 over 1.2"]),
    tail("rudder neutral", LeadingEdge::Down, 1.0, &["stick rudder 0 over 0.8", "tail down over 0.8"]),
    tail("rudder right", LeadingEdge::Down, 1.0, &["stick rudder 100 over 0.8"]),
    tail("rudder left", LeadingEdge::Down, -1.0, &["stick rudder -100 over 1.2"]),
    Step::Hands { say: demo::LET_GO, moves: &["stick rudder 0 over 0.5"] },
];
