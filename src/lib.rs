//! Reads the blade angles of a radio-controlled helicopter's rotor head from a clip-on accelerometer, and keeps
//! them as a limit record.
//!
//! It measures; it certifies nothing. The model's own manual and national rules override every number here.
//!
//! # The rooms, in the order in which a sample travels
//!
//! bytes → [`stream`] → `Sample` → [`sensor`] → force in g → [`filter`] → steady force → [`rotor`] → blade angle
//! against a datum → [`record`] → [`logbook`].
//!
//! Around that way stand [`units`], [`stats`] and [`uncertainty`] (used by all), [`report`] (pictures and sheets for
//! people), [`rig`] (a simulated head that knows the truth), [`mod@bench`] (the running session that owns the stream) and
//! [`cli`] (one file a command). A room uses only the rooms above it in the table of `DEVELOPERS.md`.

pub use clinoblade_advice as advice;
pub use clinoblade_bench as bench;
pub use clinoblade_filter as filter;
pub use clinoblade_guide as guide;
pub use clinoblade_logbook as logbook;
pub use clinoblade_page as page;
pub use clinoblade_record as record;
pub use clinoblade_report as report;
pub use clinoblade_rig as rig;
pub use clinoblade_rotor as rotor;
pub use clinoblade_sensor as sensor;
pub use clinoblade_stats as stats;
pub use clinoblade_stream as stream;
pub use clinoblade_uncertainty as uncertainty;
pub use clinoblade_units as units;
pub use clinoblade_words as words;

pub mod cli;
