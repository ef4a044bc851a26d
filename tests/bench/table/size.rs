//! How large the program is, and of how many packages it is made.

use super::line::Line;
use super::{Size, Told};
use support::packages::normal_dependencies;

pub fn measure(_: Size, told: &mut Told) {
    let bytes = std::fs::metadata(env!("CARGO_BIN_EXE_clinoblade")).expect("the program").len();
    let built = if cfg!(debug_assertions) { "debug build" } else { "optimised build" };
    told.tell(&Line::new("size", "program", format!("{:.1} MB", bytes as f64 / 1e6)).without(built));
    let dependencies = normal_dependencies();
    let direct = dependencies.iter().filter(|package| package.is_direct).count();
    told.tell(
        &Line::new("size", "dependencies on this system", format!("{} packages", dependencies.len()))
            .without(format!("of them direct: {direct}")),
    );
}
