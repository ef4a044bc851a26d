//! The workshop bench of the tests: a folder with a logbook of its own, the program run as a person would run it, and
//! the simulated head as another process on a pseudo-terminal. Nothing waits for longer than it is allowed to.

use crate::place::program;
use clinoblade::rig::Rig;
use clinoblade::sensor::{Calibration, Covariance, Model};
use clinoblade::units::Seconds;
use serde_json::Value;
use std::io::{BufRead, BufReader, Read, Write};
use std::path::PathBuf;
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// More than anything that is waited for takes, on a machine that has a great deal else to do: it only ends a hang.
pub const LONG: Duration = Duration::from_secs(180);

/// So many times as fast as life does a simulated head live: all that is judged is judged by the stream's own clock.
const SPEED: &str = "5";

/// A folder with a logbook in it; both go when the test ends.
#[derive(Debug)]
pub struct Bench {
    folder: tempfile::TempDir,
}

impl Bench {
    #[allow(clippy::new_without_default, reason = "a bench is set up, not assumed")]
    pub fn new() -> Self {
        Self { folder: tempfile::tempdir().unwrap() }
    }

    /// A bench with a head described and a setup begun.
    pub fn with_setup() -> Self {
        let bench = Self::new();
        let head = bench.write("head.toml", HEAD);
        bench.done(&["setup", "new", "--head", &head, "--reason", "a test", "--cautions-read"]);
        bench
    }

    /// The same, the cautions not read yet.
    pub fn with_setup_unread() -> Self {
        let bench = Self::new();
        let head = bench.write("head.toml", HEAD);
        bench.done(&["setup", "new", "--head", &head, "--reason", "a test"]);
        bench
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// The path of a file as an argument.
    pub fn name(&self, name: &str) -> String {
        self.path(name).display().to_string()
    }

    pub fn write(&self, name: &str, content: impl AsRef<[u8]>) -> String {
        std::fs::write(self.path(name), content).unwrap();
        self.name(name)
    }

    pub fn logbook(&self) -> PathBuf {
        self.path("logbook.sqlite")
    }

    /// The program with these arguments, in this folder, with this logbook and nobody else's data directory.
    pub fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(program());
        command
            .args(arguments)
            .current_dir(self.folder.path())
            .env("CLINOBLADE_LOGBOOK", self.logbook())
            .env("HOME", self.folder.path())
            .env("XDG_DATA_HOME", self.path("data"))
            .env("COLUMNS", "100")
            .env_remove("RUST_LOG")
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        command
    }

    /// Waits until a command that runs has kept something in this file.
    pub fn wait_for_content(&self, name: &str) {
        let deadline = Instant::now() + LONG;
        while std::fs::metadata(self.path(name)).map_or(0, |file| file.len()) == 0 {
            assert!(Instant::now() < deadline, "nothing comes into {name}");
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    pub fn start(&self, arguments: &[&str]) -> Running {
        Running::new(self.command(arguments))
    }

    pub fn run(&self, arguments: &[&str]) -> Answer {
        self.start(arguments).end(LONG)
    }

    /// Runs what has to succeed.
    pub fn done(&self, arguments: &[&str]) -> Answer {
        let answer = self.run(arguments);
        assert_eq!(answer.code, 0, "{arguments:?}\n{answer}");
        answer
    }

    /// Runs what has to succeed with `--json`, and gives the document.
    pub fn json(&self, arguments: &[&str]) -> Value {
        let arguments: Vec<&str> = arguments.iter().copied().chain(["--json"]).collect();
        self.done(&arguments).json()
    }
}

/// How a command ended.
#[derive(Debug)]
pub struct Answer {
    pub code: i32,
    pub stdout: String,
    pub stderr: String,
    pub took: Duration,
}

impl Answer {
    /// The one JSON document on standard output; anything beside it fails.
    pub fn json(&self) -> Value {
        serde_json::from_str(&self.stdout).unwrap_or_else(|error| panic!("not one JSON document ({error}):\n{self}"))
    }
}

impl std::fmt::Display for Answer {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "exit {}\n--- stdout\n{}\n--- stderr\n{}", self.code, self.stdout, self.stderr)
    }
}

/// A command that is still running.
#[derive(Debug)]
pub struct Running {
    pub child: Child,
    stdout: Lines,
    stderr: Lines,
    began: Instant,
}

impl Running {
    pub fn new(mut command: Command) -> Self {
        let mut child = command.spawn().unwrap();
        let stdout = Lines::of(child.stdout.take().unwrap());
        let stderr = Lines::of(child.stderr.take().unwrap());
        Self { child, stdout, stderr, began: Instant::now() }
    }

    /// Waits for a line on standard error that holds these words.
    pub fn wait_for_said(&mut self, words: &str) -> String {
        self.stderr.wait_for(|line| line.contains(words), words)
    }

    /// Waits for the next line on standard output that passes.
    pub fn wait_for_line(&mut self, what: &str, passes: impl Fn(&str) -> bool) -> String {
        self.stdout.wait_for(passes, what)
    }

    /// Waits for the end; whoever takes longer is ended, and the test fails.
    pub fn end(mut self, within: Duration) -> Answer {
        let deadline = Instant::now() + within;
        let status = loop {
            if let Some(status) = self.child.try_wait().unwrap() {
                break status;
            }
            if Instant::now() > deadline {
                let _ = self.child.kill();
                let _ = self.child.wait();
                panic!("not at its end after {within:?}:\n{}\n{}", self.stdout.all(), self.stderr.all());
            }
            std::thread::sleep(Duration::from_millis(2));
        };
        let took = self.began.elapsed();
        Answer { code: status.code().unwrap_or(-1), stdout: self.stdout.all(), stderr: self.stderr.all(), took }
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// The lines of a pipe, read in a thread of their own, so that waiting for one can have an end.
#[derive(Debug)]
struct Lines {
    receiver: Receiver<String>,
    seen: String,
    thread: Option<JoinHandle<()>>,
}

impl Lines {
    fn of(pipe: impl Read + Send + 'static) -> Self {
        let (sender, receiver) = channel();
        let thread = std::thread::spawn(move || {
            let mut pipe = BufReader::new(pipe);
            let mut line = Vec::new();
            while matches!(pipe.read_until(b'\n', &mut line), Ok(n) if n > 0) {
                // Whoever does not listen any more does not want the rest.
                if sender.send(String::from_utf8_lossy(&line).into_owned()).is_err() {
                    break;
                }
                line.clear();
            }
        });
        Self { receiver, seen: String::new(), thread: Some(thread) }
    }

    fn wait_for(&mut self, passes: impl Fn(&str) -> bool, what: &str) -> String {
        let deadline = Instant::now() + LONG;
        loop {
            match self.receiver.recv_timeout(deadline.saturating_duration_since(Instant::now())) {
                Ok(line) => {
                    self.seen += &line;
                    if passes(&line) {
                        return line;
                    }
                }
                Err(RecvTimeoutError::Timeout) => panic!("no such line in time: {what}\n{}", self.seen),
                Err(RecvTimeoutError::Disconnected) => panic!("it ended without: {what}\n{}", self.seen),
            }
        }
    }

    /// Everything to the end, once the other side is closed.
    fn all(&mut self) -> String {
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
        self.seen.extend(self.receiver.try_iter());
        std::mem::take(&mut self.seen)
    }
}

/// The simulated head in a process of its own, its sensor on a pseudo-terminal behind a link.
#[derive(Debug)]
pub struct SimulatedHead {
    child: Child,
    input: ChildStdin,
    output: Lines,
    pub port: String,
}

impl SimulatedHead {
    pub fn start(bench: &Bench, scenario: &str) -> Self {
        Self::named(bench, scenario, "sensor")
    }

    /// With its sensor's port under this name.
    pub fn named(bench: &Bench, scenario: &str, port: &str) -> Self {
        Self::at(SPEED, bench, scenario, port)
    }

    /// In the time of life.
    pub fn in_life(bench: &Bench, scenario: &str, port: &str) -> Self {
        Self::at("1", bench, scenario, port)
    }

    fn at(speed: &str, bench: &Bench, scenario: &str, port: &str) -> Self {
        let scenario = bench.write(&format!("{port}-scenario.toml"), scenario);
        let port = bench.name(port);
        let mut command = bench.command(&["rig", &scenario, "--link", &port, "--end-with-input", "--speed", speed]);
        let mut child = command.stdin(Stdio::piped()).stderr(Stdio::inherit()).spawn().unwrap();
        let input = child.stdin.take().unwrap();
        let mut output = Lines::of(child.stdout.take().unwrap());
        output.wait_for(|line| line.starts_with("port "), "port");
        Self { child, input, output, port }
    }

    /// One command, one answer; what it refuses fails the test.
    pub fn tell(&mut self, line: &str) -> String {
        writeln!(self.input, "{line}").unwrap();
        let answer = self.output.wait_for(|_| true, line);
        assert!(!answer.starts_with("error"), "{line}: {answer}");
        answer
    }

    pub fn truth(&mut self) -> Value {
        serde_json::from_str(&self.tell("truth")).unwrap()
    }

    /// How everything stands once hands and servos have come to rest.
    pub fn truth_at_rest(&mut self) -> Value {
        let deadline = Instant::now() + LONG;
        loop {
            let truth = self.truth();
            if truth["moving"] == false {
                return truth;
            }
            assert!(Instant::now() < deadline, "it never comes to rest: {truth:#}");
            self.tell("wait 0.02");
        }
    }

    /// The true pitch of a main blade, degrees.
    pub fn pitch(&mut self, blade: usize) -> f64 {
        self.truth_at_rest()["blades"][blade]["pitch_deg"].as_f64().unwrap()
    }

    /// The true pitch of a tail blade, degrees.
    pub fn tail_pitch(&mut self, blade: usize) -> f64 {
        self.truth_at_rest()["tail"][blade]["pitch_deg"].as_f64().unwrap()
    }
}

impl Drop for SimulatedHead {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// The bytes that a simulated sensor sends in so many seconds.
pub fn recorded(scenario: &str, seconds: f64) -> Vec<u8> {
    let mut rig = Rig::new(scenario.parse().unwrap()).unwrap();
    let mut bytes = Vec::new();
    rig.advance(Seconds::new(seconds), &mut bytes);
    bytes
}

/// A well calibrated sensor: 0.5 mg, 0.05 % and 0.02°, each one standard uncertainty, axes known in their case.
pub fn calibration(name: &str) -> String {
    let variance = |index: usize| match index {
        0..3 => 0.0005f64,
        3 | 7 | 11 => 0.0005,
        _ => 0.02f64.to_radians(),
    };
    let covariance = Covariance::from_fn(|i, j| if i == j { variance(i).powi(2) } else { 0.0 });
    let calibration =
        Calibration { name: name.to_owned(), model: Model::Faces, covariance, ..Calibration::nominal(16384.0) };
    calibration.to_toml().unwrap()
}

/// The club workshop's trainer.
pub const HEAD: &str = r#"
name = "Workshop trainer"
rotation = "clockwise"
blades = 2
control_phase_deg = 0.0
station_error_deg = 5.0

[link]
pitch_arm_mm = 20.0
thread = "M2.5"
seats = "half turn"
turnbuckle = false
lengthening = "raises"
square_at_deg = 0.0

[tail]
blades = 2
positive = "right"

[targets]
blade_zero = "0 ± 0.5"
track_split = "at most 0.5"
cyclic = "at most 12"
tail = "at most 45"
slop = "at most 0.3"
"#;

/// A number of a document.
#[track_caller]
pub fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("not a number: {value}"))
}
