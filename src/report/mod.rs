//! What a person keeps: plots, and the setup sheet.

pub mod pictures;
pub mod plot;
pub mod setup_sheet;
