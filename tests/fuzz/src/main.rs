//! One program for all targets: `FUZZ_TARGET` names the one to run, as `tests/fuzz/run` does.
#![no_main]

mod targets;

use libfuzzer_sys::fuzz_target;
use std::sync::OnceLock;

static TARGET: OnceLock<targets::Target> = OnceLock::new();

fuzz_target!(
    init: {
        let name = std::env::var("FUZZ_TARGET").unwrap_or_default();
        let target = targets::TARGETS.iter().find(|(known, _)| *known == name);
        let (_, run) = target.unwrap_or_else(|| panic!("FUZZ_TARGET must name a target, not '{name}'"));
        TARGET.get_or_init(|| *run);
    },
    |bytes: &[u8]| {
        if let Some(run) = TARGET.get() {
            run(bytes);
        }
    }
);
