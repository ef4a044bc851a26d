//! What a package has besides the program: its manual pages, and the licences of what it is linked with.
//!
//! A member of the workspace that `.ci/package` alone builds: nothing of it is part of the program.

pub mod licences;
pub mod manual;
pub mod packages;
