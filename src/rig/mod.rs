//! A simulated head, sensor and clip that know the truth.
//!
//! The bench without a bench: commands in (move a stick, turn the head, seat the clip), bytes out as a sensor would
//! send them, and at any moment the truth that a reading is to be held against. The rig is pure: time is told to it,
//! and the same scenario, commands and times give the same bytes.
//!
//! Its vectors come from rotation matrices and words of its own. It uses nothing of the rooms that measure, so that
//! a wrong sign there meets a right one here.
//!
//! Signs: azimuth from the boom in the direction of rotation; elevator up raises the pitch on the advancing side for
//! either rotation; aileron right lowers it over the boom on an anticlockwise rotor and raises it there on a clockwise
//! one (θ = θ0 + θ1c·cosψ + θ1s·sinψ; Johnson, Helicopter Theory, from memory). These follow here from the swashplate
//! alone: nobody wrote them into the rig.
//!
//! Left out: aerodynamics, elasticity, the forces of motion (a moving blade only turns the vertical), and the sensor's
//! own delay.

use clinoblade_stream as stream;
use clinoblade_units as units;

mod attitude;
mod check;
mod chip;
mod command;
mod error;
mod geometry;
mod linkage;
mod motion;
pub mod noise;
pub mod operator;
mod scenario;
mod simulator;
mod tail_linkage;
mod truth;
mod vocabulary;
mod wire;

pub use command::Command;
pub use error::RigError;
pub use scenario::{
    Bind, Blades, Clip, Event, Head, Operator, Profile, Scenario, Sensor, Servos, StreamSettings, Table, Tail,
};
pub use simulator::{Answer, Rig};
pub use truth::{BladeTruth, ClipTruth, ShaftTilt, Sticks, Swash, TailTruth, Truth};
pub use vocabulary::{Blade, Edge, End, Lengthening, Mount, Rotation, Seat, Stick};
