//! What a person keeps: plots, and the setup sheet.

use clinoblade_record as record;
use clinoblade_rotor as rotor;
use clinoblade_units as units;

pub mod pictures;
pub mod plot;
pub mod setup_sheet;
