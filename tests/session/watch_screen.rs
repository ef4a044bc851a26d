//! The screen of `watch` in a real terminal emulator (tmux), over the simulated head on a pseudo-terminal.

use std::process::Command;
use std::time::{Duration, Instant};
use support::bench::{Bench, LONG, SimulatedHead, calibration};
use support::place::kept;

/// A terminal, 100 by 36 at first, with one program in it.
pub(super) struct Terminal {
    socket: String,
}

impl Terminal {
    fn start(bench: &Bench, arguments: &[&str]) -> Self {
        Self::start_on(bench, &bench.logbook().display().to_string(), arguments)
    }

    /// The same on another logbook than the bench's file.
    pub(super) fn start_on(bench: &Bench, logbook: &str, arguments: &[&str]) -> Self {
        let terminal = Self { socket: bench.name("tmux") };
        let quoted = |text: &str| format!("'{text}'");
        let program: Vec<String> =
            std::iter::once(env!("CARGO_BIN_EXE_clinoblade")).chain(arguments.iter().copied()).map(quoted).collect();
        let line = format!(
            "CLINOBLADE_LOGBOOK={} HOME={} XDG_DATA_HOME={} {}; echo ended with $?; sleep 60",
            quoted(logbook),
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

    pub(super) fn press(&self, key: &str) {
        self.tmux(&["send-keys", key]);
    }

    fn resize(&self, columns: u16, rows: u16) {
        self.tmux(&["resize-window", "-x", &columns.to_string(), "-y", &rows.to_string()]);
    }

    /// What stands on the screen, as soon as it holds these words.
    pub(super) fn wait_for(&self, words: &str) -> String {
        self.wait_for_all(&[words])
    }

    /// Chooses a line of the list: it is shown reversed.
    fn choose(&self, name: &str) {
        for key in ["Up"; 12].into_iter().chain(["Down"; 12]) {
            let screen = self.tmux(&["capture-pane", "-p", "-e"]);
            let reversed = |line: &str| ["\u{1b}[7m", "\u{1b}[0;7m"].iter().any(|style| line.contains(style));
            if screen.lines().any(|line| reversed(line) && line.contains(name)) {
                return;
            }
            self.press(key);
            // At the end of the list nothing changes any more.
            let patience = Instant::now() + Duration::from_secs(1);
            while Instant::now() < patience && self.tmux(&["capture-pane", "-p", "-e"]) == screen {
                std::thread::sleep(Duration::from_millis(50));
            }
        }
        panic!("{name} cannot be chosen:\n{}", self.tmux(&["capture-pane", "-p"]));
    }

    /// What stands on the screen, as soon as it holds all of these words.
    fn wait_for_all(&self, words: &[&str]) -> String {
        let deadline = Instant::now() + LONG;
        loop {
            let screen = self.tmux(&["capture-pane", "-p"]);
            if words.iter().all(|words| screen.contains(words)) {
                return screen;
            }
            assert!(Instant::now() < deadline, "never {words:?}:\n{screen}");
            std::thread::sleep(Duration::from_millis(100));
        }
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        let _ = Command::new("tmux").env_remove("TMUX").args(["-S", &self.socket, "kill-server"]).output();
    }
}

/// The screen with everything masked that is otherwise at every run: figures, pointer, the hold that fills.
fn masked(screen: &str) -> String {
    let lines: Vec<String> = screen.lines().map(|line| without("##.", without("±#", masked_line(line)))).collect();
    lines.join("\n").trim_end().to_owned()
}

/// Takes the first mark of each such text out: a value has one digit before the point and no sign, whichever they are.
/// Columns stay where they are.
fn without(marks: &str, mut line: String) -> String {
    while let Some(at) = line.find(marks) {
        line.remove(at);
        if let Some(gap) = line[at..].find("  ") {
            line.insert(at + gap, ' ');
        }
    }
    line
}

fn masked_line(line: &str) -> String {
    const BLOCKS: &str = "█▀▄▌▐▖▗▘▝▙▛▜▟▚▞";
    // The large figure stands at the left, and what is beside it further to the right.
    let last_block = line.chars().collect::<Vec<_>>().iter().rposition(|mark| BLOCKS.contains(*mark));
    let figure = last_block.map_or(0, |at| at + 1);
    let mut out = String::new();
    let marks: Vec<char> = line.chars().collect();
    for (at, &mark) in marks.iter().enumerate() {
        let number = |at: usize| marks.get(at).is_some_and(|mark| mark.is_ascii_digit() || *mark == '.');
        let decimal = {
            // A number is masked where it has decimals.
            let start = (0..=at).rev().take_while(|&k| number(k)).last();
            let end = (at..marks.len()).take_while(|&k| number(k)).last();
            matches!((start, end), (Some(a), Some(b)) if marks[a..=b].contains(&'.') && marks[b] != '.' && a < b)
        };
        // A time of the day.
        let time = (at.saturating_sub(2)..at + 3).any(|k| marks.get(k) == Some(&':')) && line.contains("Read before: ");
        out.push(match mark {
            _ if at < figure => ' ',
            '▼' | '◀' | '▶' => ' ',
            '■' => '□',
            '+' | '-' | '\u{2212}' if number(at + 1) => '±',
            _ if (decimal || time) && mark.is_ascii_digit() => '#',
            _ => mark,
        });
    }
    if figure > 0 {
        format!("{:<30}{}", "(figure)", out.trim_start()).trim_end().to_owned()
    } else {
        out.trim_end().to_owned()
    }
}

pub(super) const SCENARIO: &str = "seed = 4
head = { cyclic_deg = 9.0, pitch_arm_mm = 20.0, station_deg = 90.0 }
blades = { link_error_deg = [0.2, -0.25], droop_deg = [-1.0, -1.2] }
sensor = { noise_density_ug_rthz = 150.0 }";

/// Marks every caution.
pub(super) fn read_cautions(terminal: &Terminal) {
    terminal.wait_for("1 of 9: The motor is disconnected");
    for line in 2..=9 {
        terminal.press("Space");
        terminal.wait_for(&format!("{line} of 9: "));
    }
    terminal.press("Space");
    terminal.wait_for("[a] Start the sequence");
}

#[test]
fn watch_leads_through_the_job_in_a_terminal() {
    let bench = Bench::with_setup_unread();
    let mut head = SimulatedHead::start(&bench, SCENARIO);
    let clip = bench.write("clip.toml", calibration("clip"));
    let port = head.port.clone();
    let raw = bench.name("raw.log");
    let terminal = Terminal::start(&bench, &["watch", "--port", &port, "--calibration", &clip, "--save-raw", &raw]);
    let screen = terminal.wait_for("1 of 9: The motor is disconnected");
    assert!(screen.contains("Read the cautions"), "{screen}");
    terminal.press("a");
    read_cautions(&terminal);
    let screen = terminal.wait_for_all(&["[a] Start the sequence", "still for"]);
    assert!(screen.contains("blade A zero") && screen.contains("missing"), "{screen}");
    insta::assert_snapshot!("idle_100_by_36", masked(&screen));
    terminal.press("a");
    terminal.wait_for("Clip on blade A");
    for line in ["clip A forward over 1.5", "head 90 over 0.8"] {
        head.tell(line);
    }
    terminal.wait_for("Collective up a little");
    // By hand: the check is taken for granted, and mid stick is captured by itself.
    terminal.press("c");
    // The same blade on the other side, the clip left on.
    terminal.wait_for("Turn blade A to 270°");
    head.tell("head 270 over 0.8");
    terminal.wait_for("Elevator up for a moment");
    terminal.press("c");
    let screen = terminal.wait_for("Clip on blade B");
    let cell = screen.lines().find(|line| line.contains("blade A zero")).unwrap();
    assert!(cell.contains("inside") && cell.contains('±'), "{screen}");
    // Large figures: blocks of them.
    assert!(screen.matches('█').count() > 20, "{screen}");
    std::fs::write(kept("watch").join("watch.txt"), &screen).unwrap();
    // What cannot be done now is said.
    terminal.press("b");
    terminal.wait_for("Nothing is being held");
    // The cable is pulled, and put back.
    head.tell("unplug");
    terminal.wait_for("no reading");
    let kept = || std::fs::metadata(&raw).map_or(0, |found| found.len());
    let before = kept();
    assert!(before > 10_000, "the raw log is on the disk when the cable is out: {before} bytes");
    head.tell("replug");
    terminal.wait_for("still for");
    terminal.press("q");
    terminal.wait_for("ended with 0");
    assert!(kept() > before, "the raw log goes on");
}

/// A recording that is over does not begin again: nobody's old readings are captured twice.
#[test]
fn a_recording_ends_once() {
    let bench = Bench::with_setup();
    let log = bench.write("still.log", support::bench::recorded(SCENARIO, 2.0));
    let terminal = Terminal::start(&bench, &["watch", "--replay", &log]);
    terminal.wait_for("The stream has ended.");
    // Longer than any pause before a line is tried again.
    std::thread::sleep(Duration::from_millis(2500));
    let screen = terminal.tmux(&["capture-pane", "-p"]);
    assert!(screen.contains("The stream has ended."), "{screen}");
    terminal.press("q");
    terminal.wait_for("ended with 0");
}

/// A sensor on each blade: which one is read, and whose line is broken while it is not.
#[test]
fn watch_names_the_sensor_that_is_read_and_the_one_whose_line_is_broken() {
    let bench = Bench::with_setup();
    let heads = ["a", "b"].map(|blade| SimulatedHead::named(&bench, SCENARIO, &format!("sensor-{blade}")));
    let [first_clip, second_clip] =
        ["first", "second"].map(|name| bench.write(&format!("{name}.toml"), calibration(name)));
    let (a, b) = (format!("a={}", heads[0].port), format!("b={}", heads[1].port));
    let (clip_a, clip_b) = (format!("a={first_clip}"), format!("b={second_clip}"));
    let arguments = ["watch", "--port", &a, "--port", &b, "--calibration", &clip_a, "--calibration", &clip_b];
    let terminal = Terminal::start(&bench, &arguments);
    let screen = terminal.wait_for_all(&["reads A ──", "still for"]);
    assert!(!screen.contains("no line to"), "{screen}");
    let [first, mut second] = heads;
    second.tell("unplug");
    terminal.wait_for("reads A, no line to B ──");
    // Put back, it is taken up again, though nobody reads it now.
    second.tell("replug");
    let screen = terminal.wait_for("reads A ──");
    assert!(!screen.contains("changed places"), "one alone can only have come back as itself\n{screen}");
    drop(first);
    terminal.wait_for("reads A, no line to A ──");
    terminal.press("q");
    terminal.wait_for("ended with 0");
}

/// Their ports alone tell the two apart, and both were away at once.
#[test]
fn watch_asks_which_sensor_is_which_after_two_were_away_at_once() {
    let bench = Bench::with_setup();
    let mut heads = ["a", "b"].map(|blade| SimulatedHead::named(&bench, SCENARIO, &format!("sensor-{blade}")));
    let (a, b) = (format!("a={}", heads[0].port), format!("b={}", heads[1].port));
    let terminal = Terminal::start(&bench, &["watch", "--port", &a, "--port", &b]);
    terminal.wait_for_all(&["reads A ──", "still for"]);
    for head in &mut heads {
        head.tell("unplug");
    }
    terminal.wait_for("no line to A, B ──");
    for head in &mut heads {
        head.tell("replug");
    }
    terminal.wait_for("Two sensors were");
    // What moves is the sensor that is taken for the other one's.
    heads[1].tell("stick collective 100 over 0.5");
    terminal.wait_for("The other sensor");
    heads[1].tell("stick collective 0 over 0.5");
    std::thread::sleep(std::time::Duration::from_secs(2));
    heads[0].tell("stick collective 100 over 0.5");
    terminal.wait_for("still for");
    terminal.press("q");
    terminal.wait_for("ended with 0");
}

/// The deeds of the page by keys, in a terminal of the usual size: captured by `c`, redone, the order changed, finished.
#[test]
fn watch_captures_redoes_changes_the_order_and_finishes_by_keys() {
    let bench = Bench::with_setup_unread();
    let mut head = SimulatedHead::start(&bench, SCENARIO);
    let clip = bench.write("clip.toml", calibration("clip"));
    let port = head.port.clone();
    let terminal = Terminal::start(&bench, &["watch", "--port", &port, "--calibration", &clip]);
    terminal.resize(80, 24);
    read_cautions(&terminal);
    terminal.press("a");
    // That blade A is where it should be `c` says.
    terminal.wait_for("Clip on blade A");
    for line in ["clip A forward over 0.5", "head 90 over 0.5"] {
        head.tell(line);
    }
    terminal.wait_for("Collective up a little");
    terminal.press("c");
    terminal.wait_for("Turn blade A to 270°");
    head.tell("head 270 over 0.5");
    terminal.wait_for("Elevator up for a moment");
    terminal.press("c");
    // Blade B is left out for now, on both sides.
    terminal.wait_for("Clip on blade B");
    terminal.press("s");
    terminal.wait_for("270°");
    terminal.press("s");
    terminal.wait_for("Turn blade A to 90°");
    head.tell("head 90 over 0.5");
    terminal.wait_for("Elevator up for a moment");
    terminal.press("c");
    // The cable is not touched: what `c` says is taken, lifted and hanging.
    terminal.wait_for("[c] It is lifted");
    terminal.press("c");
    terminal.wait_for("[c] It hangs");
    terminal.press("c");
    let screen = terminal.wait_for_all(&["Elevator up, slowly, and hold.", "still for"]);
    insta::assert_snapshot!("captured_80_by_24", masked(&screen));

    // The order of the steps: elevator up is put later, and aileron left gone to.
    terminal.press("o");
    let screen = terminal.wait_for_all(&["Order of the steps", "still for"]);
    assert!(screen.contains(">  6 elevator up"), "{screen}");
    let cable = screen.lines().find(|line| line.contains(" 5 cable ")).unwrap();
    assert!(cable.contains("captured"), "by a key: {screen}");
    insta::assert_snapshot!("order_80_by_24", masked(&screen));
    terminal.press("l");
    terminal.wait_for("Choose a line first");
    terminal.press("Down");
    terminal.press("l");
    terminal.wait_for(">  7 elevator up");
    terminal.press("e");
    terminal.wait_for(">  6 elevator up");
    for _ in 0..2 {
        terminal.press("Down");
    }
    terminal.press("g");
    terminal.wait_for("Turn blade A to 0°");
    head.tell("head 0 over 0.5");
    terminal.wait_for("Aileron right for a moment");

    // Back on the sheet: blade A's zero once more, where it was read first.
    terminal.press("o");
    terminal.wait_for("── The sheet");
    terminal.choose("blade A zero");
    terminal.press("r");
    terminal.wait_for("Turn blade A to 90°");
    head.tell("head 90 over 0.5");
    terminal.wait_for("Elevator up for a moment");
    terminal.press("c");
    terminal.wait_for("Elevator up, slowly, and hold.");
    terminal.choose("blade A zero");
    let screen = terminal.wait_for_all(&["Read before: ", "Elevator up, slowly, and hold.", "still for"]);
    insta::assert_snapshot!("redo_80_by_24", masked(&screen));

    // A terminal in which nothing could be read says so, and is whole again when it is made larger.
    terminal.resize(50, 12);
    terminal.wait_for("too small");
    terminal.resize(80, 24);
    terminal.wait_for("Elevator up, slowly, and hold.");

    // Finished although cells are missing: only with a second press.
    terminal.press("f");
    terminal.wait_for("missing: press f once more to finish this setup without");
    terminal.press("f");
    let screen = terminal.wait_for_all(&["The setup is closed.", "still for"]);
    insta::assert_snapshot!("finished_80_by_24", masked(&screen));
    terminal.press("q");
    terminal.wait_for("ended with 0");
    let listed = bench.run(&["setup", "list"]);
    assert!(listed.stdout.contains("closed"), "{listed}");
}
