//! The screen of `watch` in a real terminal emulator (tmux), over the simulated head on a pseudo-terminal.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test ends where it fails")]

mod bench_kit;

use bench_kit::{Bench, SimulatedHead, calibration};
use std::process::Command;
use std::time::{Duration, Instant};

/// A terminal of 100 by 36 with one program in it.
struct Terminal {
    socket: String,
}

impl Terminal {
    fn start(bench: &Bench, arguments: &[&str]) -> Self {
        let terminal = Self { socket: bench.name("tmux") };
        let quoted = |text: &str| format!("'{text}'");
        let program: Vec<String> =
            std::iter::once(env!("CARGO_BIN_EXE_clinoblade")).chain(arguments.iter().copied()).map(quoted).collect();
        let line = format!(
            "CLINOBLADE_LOGBOOK={} HOME={} XDG_DATA_HOME={} {}; echo ended with $?; sleep 60",
            quoted(&bench.logbook().display().to_string()),
            quoted(&bench.name("")),
            quoted(&bench.name("data")),
            program.join(" ")
        );
        terminal.tmux(&["new-session", "-d", "-x", "100", "-y", "36", &line]);
        terminal
    }

    fn tmux(&self, arguments: &[&str]) -> String {
        let mut command = Command::new("tmux");
        // A tmux around the tests is none of our business.
        command.env_remove("TMUX").args(["-f", "/dev/null", "-S", &self.socket]).args(arguments);
        let output = command.output().expect("the test of the terminal needs tmux");
        assert!(output.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
        String::from_utf8_lossy(&output.stdout).into_owned()
    }

    fn press(&self, key: &str) {
        self.tmux(&["send-keys", key]);
    }

    /// What stands on the screen, as soon as it holds these words.
    fn wait_for(&self, words: &str) -> String {
        let deadline = Instant::now() + Duration::from_secs(30);
        loop {
            let screen = self.tmux(&["capture-pane", "-p"]);
            if screen.contains(words) {
                return screen;
            }
            assert!(Instant::now() < deadline, "never '{words}':\n{screen}");
            std::thread::sleep(Duration::from_millis(100));
        }
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        let _ = Command::new("tmux").env_remove("TMUX").args(["-S", &self.socket, "kill-server"]).output();
    }
}

#[test]
fn watch_leads_through_the_job_in_a_terminal() {
    let bench = Bench::with_setup_unread();
    let scenario = "seed = 4
        head = { cyclic_deg = 9.0, pitch_arm_mm = 20.0, station_deg = 90.0 }
        blades = { link_error_deg = [0.2, -0.25], droop_deg = [-1.0, -1.2] }
        sensor = { noise_density_ug_rthz = 150.0 }";
    let mut head = SimulatedHead::start(&bench, scenario);
    let clip = bench.write("clip.toml", calibration("clip"));
    let port = head.port.clone();
    let terminal = Terminal::start(&bench, &["watch", "--port", &port, "--calibration", &clip]);
    let screen = terminal.wait_for("1 of 9: The motor is disconnected");
    assert!(screen.contains("Read the cautions"), "{screen}");
    terminal.press("a");
    for line in 2..=9 {
        terminal.press("Space");
        terminal.wait_for(&format!("{line} of 9: "));
    }
    terminal.press("Space");
    let screen = terminal.wait_for("[a] Start the sequence");
    assert!(screen.contains("blade A zero") && screen.contains("missing"), "{screen}");
    terminal.press("a");
    terminal.wait_for("Clip on blade B");
    for line in ["clip B forward over 1.5", "head 270 over 0.8"] {
        head.tell(line);
    }
    terminal.wait_for("Collective up a little");
    // By hand: the check is taken for granted, and mid stick is captured by itself.
    terminal.press("1");
    let screen = terminal.wait_for("Clip on blade A");
    let cell = screen.lines().find(|line| line.contains("blade B zero")).unwrap();
    assert!(cell.contains("inside") && cell.contains('±'), "{screen}");
    // Large figures: blocks of them.
    assert!(screen.matches('█').count() > 20, "{screen}");
    std::fs::write(std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join("watch.txt"), &screen).unwrap();
    // What cannot be done now is said.
    terminal.press("b");
    terminal.wait_for("nothing is being held");
    // The cable is pulled, and put back.
    head.tell("unplug");
    terminal.wait_for("no reading");
    head.tell("replug");
    terminal.wait_for("q ends");
    terminal.press("q");
    terminal.wait_for("ended with 0");
}
