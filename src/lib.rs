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

pub mod advice;
pub mod bench;
pub mod cli;
pub mod filter;
pub mod guide;
pub mod logbook;
pub mod page;
pub mod record;
pub mod report;
pub mod rig;
pub mod rotor;
pub mod sensor;
pub mod stats;
pub mod stream;
pub mod uncertainty;
pub mod units;
pub mod words;
