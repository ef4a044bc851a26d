//! What comes next, and what is said of it: the words in which the guide, the page and the terminal speak to each other.

mod act;
mod cue;
mod step;

pub use act::Act;
pub use cue::{Cue, Mark, Side, Tone};
pub use step::{Choice, Phase, Step};
