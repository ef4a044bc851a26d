//! The reference firmware of `firmware-notes/`, run on an emulated microcontroller with an emulated accelerometer: what
//! it sends over a pseudo-terminal is read by the program as from a true sensor. The board knows what is true: how the
//! clip is held, what is broken, and on its own clock when each sample was taken.

use serde_json::Value;
use std::fs::File;
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, ChildStdout, Command, Output, Stdio};
use std::sync::OnceLock;
use std::time::{Duration, Instant};
use support::bench::LONG;

const MISSING: &str = "the firmware cannot be built and run here: `tests/run` installs what is missing, the packages \
                       make, gcc, gcc-avr, binutils-avr, avr-libc and libsimavr-dev";

/// Runs the Makefile of one folder, as the notes say.
fn make(folder: &str, target: &Path, more: &[&str]) {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("firmware-notes").join(folder);
    let build = format!("BUILD={}", target.display());
    let made = Command::new("make").arg("-C").arg(source).arg(build).args(more).output();
    let made = made.unwrap_or_else(|error| panic!("make: {error}\n{MISSING}"));
    assert!(made.status.success(), "{}\n{MISSING}", String::from_utf8_lossy(&made.stderr));
}

/// Where firmware and board lie, built once, also where each test is a process of its own.
fn built() -> &'static Path {
    static BUILT: OnceLock<PathBuf> = OnceLock::new();
    BUILT.get_or_init(|| {
        let target = Path::new(env!("CARGO_TARGET_TMPDIR")).join("firmware");
        let lock = File::create(target.with_extension("lock")).unwrap();
        lock.lock().unwrap();
        make("firmware", &target, &[]);
        make("firmware", &target.join("slow"), &["F_CPU=7372800"]);
        make("board", &target, &[]);
        target
    })
}

/// The board under emulation; it ends with the test.
struct Board {
    child: Child,
    input: ChildStdin,
    output: BufReader<ChildStdout>,
    port: String,
}

impl Board {
    fn start() -> Self {
        Self::with(&built().join("sensor.elf"), "16000000")
    }

    fn with(firmware: &Path, hertz: &str) -> Self {
        let mut child = Command::new(built().join("board"))
            .arg(firmware)
            .arg(hertz)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let input = child.stdin.take().unwrap();
        let output = BufReader::new(child.stdout.take().unwrap());
        let mut board = Self { child, input, output, port: String::new() };
        board.port = board.answer().strip_prefix("port ").expect("the first line names the port").to_owned();
        board
    }

    fn answer(&mut self) -> String {
        let mut line = String::new();
        self.output.read_line(&mut line).unwrap();
        line.trim().to_owned()
    }

    fn tell(&mut self, command: &str) {
        writeln!(self.input, "{command}").unwrap();
        assert_eq!(self.answer(), "ok", "{command}");
    }

    fn ask(&mut self, question: &str) -> Value {
        writeln!(self.input, "{question}").unwrap();
        serde_json::from_str(&self.answer()).unwrap()
    }

    /// Seconds of the board's own time, which is what samples are counted by.
    fn time(&mut self) -> f64 {
        self.ask("time").as_f64().unwrap()
    }

    fn until_waiting(&mut self, fits: impl Fn(i64) -> bool) {
        let since = Instant::now();
        while !fits(self.ask("waiting").as_i64().unwrap()) {
            assert!(since.elapsed() < LONG, "nobody reads, or nothing is sent");
            pause(0.01);
        }
    }

    /// The program on this board's port, already running.
    fn program(&self, arguments: &[&str]) -> Child {
        Command::new(env!("CARGO_BIN_EXE_clinoblade"))
            .args(arguments)
            .args(["--json", "--profile", "sentence", "--port", &self.port])
            .env("CLINOBLADE_LOGBOOK", built().join("none.db"))
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap()
    }

    /// One steady angle, which must come.
    fn read(&self) -> Value {
        steady(self.program(&["read"]))
    }

    /// The record of a sensor at rest, while something happens to it.
    fn check(&mut self, seconds: &str, meanwhile: impl FnOnce(&mut Self)) -> Value {
        self.until_waiting(|bytes| bytes > 1000);
        let program = self.program(&["sensor", "check", "--for", seconds]);
        self.until_waiting(|bytes| bytes < 200);
        pause(1.0);
        meanwhile(self);
        let output = program.wait_with_output().unwrap();
        assert!(matches!(output.status.code(), Some(0 | 1)), "{output:?}");
        serde_json::from_slice(&output.stdout).unwrap()
    }
}

impl Drop for Board {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn document(output: &Output, code: i32) -> Value {
    assert_eq!(output.status.code(), Some(code), "{output:?}");
    serde_json::from_slice(&output.stdout).unwrap()
}

fn steady(program: Child) -> Value {
    document(&program.wait_with_output().unwrap(), 0)
}

fn number(document: &Value, field: &str) -> f64 {
    document[field].as_f64().unwrap_or_else(|| panic!("{field} in {document}"))
}

/// A reading against how the clip is held: within four times what its samples scatter, and a count.
fn assert_reads(document: &Value, truth: f64) {
    let scatter = document["components"]["repeat"].as_f64().unwrap();
    let error = number(document, "angle_deg") - truth;
    assert!(error.abs() < 4.0 * scatter + 0.004, "{error}° off {truth}° with a scatter of {scatter}°");
    assert!(scatter < 0.03, "{scatter}");
}

fn pause(seconds: f64) {
    std::thread::sleep(Duration::from_secs_f64(seconds));
}

#[test]
fn a_built_sensor_reads_the_angle_at_which_it_is_held() {
    let mut board = Board::start();
    for (chord, span, celsius) in
        [(0.0, 0.0, 23.25), (12.0, 0.0, 40.5), (-11.86, 5.0, -4.25), (45.0, -8.0, 0.0), (-170.0, 3.0, 23.25)]
    {
        board.tell(&format!("pose {chord} {span}"));
        board.tell(&format!("celsius {celsius}"));
        let reading = board.read();
        assert_reads(&reading, chord);
        // The thermometer's step is 1/128 °C, the line's 0.01 °C.
        assert!((number(&reading, "temperature_c") - celsius).abs() < 0.02, "{reading}");
        let faults = ["lost_samples", "damaged_frames", "sensor_faults"].map(|field| number(&reading, field));
        assert_eq!(faults, [0.0; 3], "{reading}");
    }
}

#[test]
fn at_rest_it_shows_the_noise_and_the_rate_that_the_chip_has() {
    let health = Board::start().check("4", |_| ());
    // White noise of 25 counts of 16384 per g, spread over half of 200 Hz: 153 µg/√Hz. Of a density estimated from 4 s
    // the tenth part is chance.
    for axis in ["x", "y", "z"] {
        let density = health["noise_density_g_rthz"][axis].as_f64().unwrap();
        assert!((density / (25.0 / 16_384.0 / 100f64.sqrt()) - 1.0).abs() < 0.3, "{axis}: {density}");
    }
    assert!((number(&health, "rate_hz") - 200.0).abs() < 0.001, "{health}");
    assert!(number(&health, "jitter_s") < 50e-6, "{health}");
    assert_eq!(number(&health, "sensor_faults"), 0.0);
}

#[test]
fn samples_are_taken_200_times_a_second_within_50_microseconds() {
    for (firmware, hertz) in [("sensor.elf", "16000000"), ("slow/sensor.elf", "7372800")] {
        let mut board = Board::with(&built().join(firmware), hertz);
        board.tell("run 0.5");
        board.tell("jitter begin");
        board.tell("run 60");
        let seen = board.ask("jitter");
        println!("{hertz} Hz: {seen}");
        assert!((11_990.0..=12_010.0).contains(&number(&seen, "intervals")), "{seen}");
        assert!((number(&seen, "mean_us") - 5000.0).abs() < 0.1, "{seen}");
        assert!(number(&seen, "least_us") > 4950.0 && number(&seen, "most_us") < 5050.0, "{seen}");
        assert!(number(&seen, "stamp_error_us") < 50.0, "the time in the line is that of the sample: {seen}");
    }
}

#[test]
fn a_clock_line_held_low_for_three_seconds_is_one_fault_and_then_the_angle_is_right_again() {
    let mut board = Board::start();
    board.tell("pose 7.5");
    let mut times = [0.0; 4];
    let health = board.check("6", |board| {
        times[0] = board.time();
        board.tell("hold clock");
        times[1] = board.time();
        pause(3.0);
        times[2] = board.time();
        board.tell("let go");
        times[3] = board.time();
    });
    let (least, most) = (times[2] - times[1], times[3] - times[0]);
    assert_eq!(["sensor_faults", "damaged_frames", "restarts"].map(|field| number(&health, field)), [1.0, 0.0, 0.0]);
    let lost = number(&health, "lost_samples");
    assert!((200.0 * least - 2.0..=200.0 * most + 2.0).contains(&lost), "{lost} of {least} to {most} s: {health}");
    assert!(least > 2.0, "{least} s");
    assert!(health.to_string().contains("The sensor reported a fault of its accelerometer"), "{health}");

    board.tell("hold clock");
    let program = board.program(&["read"]);
    pause(3.0);
    board.tell("let go");
    let reading = steady(program);
    assert_reads(&reading, 7.5);
    assert_eq!(number(&reading, "sensor_faults"), 1.0);
}

#[test]
fn a_lasting_fault_is_named_with_what_to_do_and_its_end_needs_nothing_more() {
    let faults = [
        ("hold clock", "clock-held", "the clock line of its bus is held low"),
        ("hold data 0", "data-held", "the data line of its bus is held low"),
        ("nack", "refused", "the accelerometer refuses what it is sent"),
        ("mute", "no-answer", "the accelerometer does not answer"),
        ("freeze", "no-new-data", "the accelerometer answers, but measures nothing"),
    ];
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    std::thread::scope(|scope| {
        for (fault, word, words) in faults {
            scope.spawn(move || {
                let mut board = Board::start();
                board.tell("pose -3.25");
                pause(0.3);
                board.tell(fault);
                let raw = folder.join(word);
                let begun = board.time();
                let program = board.program(&["read", "--save-raw", raw.to_str().unwrap()]);
                let output = program.wait_with_output().unwrap();
                let lasted = board.time() - begun;
                let said = String::from_utf8_lossy(&output.stderr);
                assert_eq!(output.status.code(), Some(3), "{fault}: {said}");
                assert!(said.contains(words) && said.contains(&board.port), "{fault}: {said}");
                let sent = std::fs::read_to_string(raw).unwrap();
                let reports = sent.lines().filter(|line| line.contains(&format!(",{word}*"))).count() as f64;
                assert!((20.0..=5.0 * lasted + 2.0).contains(&reports), "five a second: {reports} in {lasted} s");
                board.tell("let go");
                assert_reads(&board.read(), -3.25);
            });
        }
    });
}

#[test]
fn a_supply_that_fails_in_the_middle_of_a_line_damages_one_line_and_is_one_restart() {
    let mut board = Board::start();
    board.tell("pose 4");
    let health = board.check("4", |board| board.tell("power 0.5"));
    assert_eq!(
        ["restarts", "damaged_frames", "lost_samples", "sensor_faults"].map(|field| number(&health, field)),
        [1.0, 1.0, 0.0, 0.0],
        "{health}"
    );
    // And a reading that is going on meanwhile.
    board.until_waiting(|bytes| bytes > 1000);
    let program = board.program(&["read", "--want", "0.006", "--within", "30"]);
    board.until_waiting(|bytes| bytes < 200);
    pause(0.2);
    board.tell("power 0.5");
    let reading = steady(program);
    assert_reads(&reading, 4.0);
    assert_eq!(["restarts", "damaged_frames"].map(|field| number(&reading, field)), [1.0, 1.0], "{reading}");
}

#[test]
fn a_chip_cut_off_in_the_middle_of_a_byte_is_clocked_free() {
    // Nine clocks are what the bus' specification asks of a controller. [I2C-bus specification UM10204, 3.1.16]
    for clocks in [1, 9] {
        let mut board = Board::start();
        let health = board.check("3", |board| board.tell(&format!("hold data {clocks}")));
        assert_eq!(["sensor_faults", "restarts"].map(|field| number(&health, field)), [1.0, 0.0], "{health}");
        // The sample that failed, and one beat to set the chip up again: all clocks come in one go.
        assert_eq!(number(&health, "lost_samples"), 2.0, "{clocks} clocks: {health}");
    }
}

#[test]
fn a_chip_that_lost_its_settings_gets_them_again() {
    let mut board = Board::start();
    board.tell("pose 9");
    let health = board.check("3", |board| board.tell("brownout"));
    assert_eq!(number(&health, "sensor_faults"), 1.0);
    assert!((4.0..=12.0).contains(&number(&health, "lost_samples")), "{health}");
    assert_reads(&board.read(), 9.0);
}

#[test]
fn a_firmware_that_hangs_is_started_again_and_says_so() {
    let mut board = Board::start();
    board.tell("pose 2");
    let health = board.check("4", |board| board.tell("upset"));
    assert_eq!(["restarts", "sensor_faults"].map(|field| number(&health, field)), [1.0, 1.0], "{health}");
    assert_reads(&board.read(), 2.0);
}
