//! What a person keeps: plots, and the setup sheet.

use clinoblade_record as record;
use clinoblade_rotor as rotor;
use clinoblade_units as units;
use clinoblade_words as words;

pub mod pictures;
pub mod plot;
pub mod setup_sheet;
