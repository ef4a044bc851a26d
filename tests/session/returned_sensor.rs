//! A cable that is out and in again, and what is then at its end: the same sensor, or another one under the same name.

use super::watch_screen::Terminal;
use support::bench::{Bench, SimulatedHead, calibration};

fn scenario(seed: u64, sensor: &str) -> String {
    format!(
        "seed = {seed}
head = {{ rotation = \"clockwise\", station_deg = 90.0, left_deg = 0.6 }}
stream = {{ temperature = true }}
sensor = {{ {sensor} }}
"
    )
}

const SENSOR: &str = "noise_density_ug_rthz = 150.0, tempco_mg_per_c = [0.3, -0.3, 0.3]";
/// Words of what is asked.
const ASKED: &str = "unplugged:";

fn watching(bench: &Bench) -> (SimulatedHead, Terminal) {
    let head = SimulatedHead::named(bench, &scenario(4, SENSOR), "sensor");
    let clip = bench.write("clip.toml", calibration("clip"));
    let arguments = ["watch", "--port", &head.port, "--calibration", &clip];
    let terminal = Terminal::start_on(bench, &bench.logbook().display().to_string(), &arguments);
    terminal.wait_for("still for 3");
    (head, terminal)
}

#[test]
fn another_sensor_on_the_same_port_is_asked_about_until_its_blade_has_moved() {
    // Gravity is off by a hundredth; or only the noise is another's.
    for other in [
        "noise_density_ug_rthz = 150.0, offset_mg = [0.0, 0.0, 13.0]",
        "noise_density_ug_rthz = 150.0, scale_percent = [-1.4, -1.4, -1.4]",
        "noise_density_ug_rthz = 600.0",
    ] {
        let bench = Bench::with_setup();
        let (head, terminal) = watching(&bench);
        drop(head);
        terminal.wait_for("no reading");
        let mut head = SimulatedHead::named(&bench, &scenario(9, other), "sensor");
        terminal.wait_for(ASKED);
        // Its blade moves: so it sits there, and the person has been told.
        head.tell("stick collective 100 over 0.5");
        let screen = terminal.wait_for("still for 3");
        assert!(!screen.contains(ASKED), "{other}: {screen}");
        terminal.press("q");
        terminal.wait_for("ended with 0");
    }
}

#[test]
fn the_same_sensor_is_not_asked_about_though_it_is_six_kelvin_warmer() {
    let bench = Bench::with_setup();
    let (mut head, terminal) = watching(&bench);
    for meanwhile in [&[][..], &["temperature 31"], &["temperature 25", "stick collective 100 over 0.5"]] {
        head.tell("unplug");
        terminal.wait_for("no reading");
        for line in meanwhile {
            head.tell(line);
        }
        head.tell("replug");
        let screen = terminal.wait_for("still for 4");
        assert!(!screen.contains(ASKED), "{meanwhile:?}: {screen}");
    }
    terminal.press("q");
    terminal.wait_for("ended with 0");
}
