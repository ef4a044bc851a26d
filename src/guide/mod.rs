//! What comes next: instructions, questions and answers as values. The room of words makes sentences of them.
//!
//! [`Guide`] is a state machine without a clock: rests, moments and acts go in, each with the stream's own time; what is to
//! be said, sounded, captured or asked comes out. It never captures but at a rest, never where a reading contradicts what
//! was asked for, and goes on by itself wherever gravity can show that the person has done what was asked. What gravity
//! cannot show (an upright shaft hides a turned head; a reversed clip and a half-turned head look alike) is settled by a
//! short movement of the sticks, else asked.

use clinoblade_record as record;
use clinoblade_rotor as rotor;
use clinoblade_uncertainty as uncertainty;
use clinoblade_units as units;

mod act;
mod answer;
mod check;
mod creep;
mod cue;
mod edit;
mod effect;
mod flow;
mod hold;
mod once_more;
mod order;
mod phase;
mod place;
mod question;
mod refusal;
mod seen;
mod shown;
mod stage;
mod step;
mod sweep;

#[cfg(test)]
mod guide_tests;
#[cfg(test)]
mod person;

pub use act::Act;
pub use cue::{Mark, Side, Tone};
pub use edit::RecordEdit;
pub use effect::{CaptureRequest, Effect, Kept};
pub use flow::Guide;
pub use order::{Item, Line, LineState};
pub use phase::Phase;
pub use question::{Answer, Question};
pub use refusal::Refusal;
pub use seen::{Moment, Rest, pitch};
pub use step::{Choice, Hint, Instruction, Spoken, Step};
pub use sweep::{SweepMove, Sweeper};
