//! What is calculated: no process, no port, no server.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test that cannot go on has failed")]

mod advice_link;
mod advice_travel;
mod coverage;
mod judgement_table;
mod quiet_blades;
mod record_adjusted;
mod record_corners;
mod record_ends;
mod record_limits;
mod record_tail;
mod rig_mechanics;
mod rig_stream;
mod rig_truth;
mod rotor_solution;
mod sensor_health;
mod steady_streams;
mod swash_level;
mod tilt_reference;
mod uncertainty_reference;
mod zero_lean;
