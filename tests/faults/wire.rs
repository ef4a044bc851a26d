//! A sensor, or whatever is at the other end of its cable, that stalls, floods the line at full speed, sends nonsense in
//! between, or says the same thing for ever. The program keeps its memory, says what is wrong, and reads right after it.

use super::bench_kit::{Answer, Bench, Running, number};
use super::dice::Dice;
use super::port_kit::pseudo_terminal;
use clinoblade::stream::codec::{Frame, SentenceEncoder};
use rustix::fs::{OFlags, fcntl_getfl, fcntl_setfl};
use std::fs::File;
use std::io::Write;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// The blade's true angle while it rests.
const ANGLE: f64 = 7.0;
/// More memory than a program that reads a line may take here, in KiB; without optimisation, with all its libraries.
const MOST_MEMORY: u64 = 160 * 1024;

/// A sensor that sends sentences, its clock running at 200 Hz of its own time.
struct Sensor {
    dice: Dice,
    seq: u32,
}

impl Sensor {
    const fn new() -> Self {
        Self { dice: Dice::new(9), seq: 0 }
    }

    /// The next sentence of a blade that stands at so many degrees.
    fn sentence(&mut self, degrees: f64, out: &mut Vec<u8>) {
        let noise = |dice: &mut Dice| dice.below(41) as f64 - 20.0;
        let (sin, cos) = degrees.to_radians().sin_cos();
        let counts = [sin, 0.0, cos].map(|g| (g * 16384.0 + noise(&mut self.dice)).round());
        let frame = Frame { seq: self.seq as u16, micros: self.seq.wrapping_mul(5000), counts, celsius: None };
        SentenceEncoder.encode(&frame, out);
        self.seq = self.seq.wrapping_add(1);
    }
}

/// Writes to the far end of the line in a thread of its own, until it is dropped; what nobody takes is lost.
struct Feeder {
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Feeder {
    fn start(mut master: File, mut next: impl FnMut(Duration) -> (Vec<u8>, Duration) + Send + 'static) -> Self {
        let flags = fcntl_getfl(&master).unwrap();
        fcntl_setfl(&master, flags | OFlags::NONBLOCK).unwrap();
        let stop = Arc::new(AtomicBool::new(false));
        let stopped = Arc::clone(&stop);
        let thread = std::thread::spawn(move || {
            let begun = Instant::now();
            while !stopped.load(Ordering::Relaxed) {
                let (bytes, pause) = next(begun.elapsed());
                let mut rest = &bytes[..];
                while !rest.is_empty() && !stopped.load(Ordering::Relaxed) {
                    match master.write(rest) {
                        Ok(written) => rest = &rest[written..],
                        Err(_) => std::thread::sleep(Duration::from_micros(200)),
                    }
                }
                std::thread::sleep(pause);
            }
        });
        Self { stop, thread: Some(thread) }
    }
}

impl Drop for Feeder {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        let _ = self.thread.take().unwrap().join();
    }
}

/// The most memory that a process has had, in KiB.
fn most_memory(process: u32) -> Option<u64> {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    status.lines().find_map(|line| line.strip_prefix("VmHWM:")?.trim().strip_suffix(" kB")?.trim().parse().ok())
}

/// Reads to its end, looking at its memory all the while.
fn read(bench: &Bench, port: &str, more: &[&str]) -> (Answer, u64) {
    let running = bench.start(&[&["read", "--port", port, "--json"], more].concat());
    let process = running.child.id();
    let watcher = std::thread::spawn(move || {
        let mut most = 0;
        while let Some(memory) = most_memory(process) {
            most = most.max(memory);
            std::thread::sleep(Duration::from_millis(20));
        }
        most
    });
    let answer = Running::end(running, Duration::from_secs(120));
    (answer, watcher.join().unwrap())
}

fn assert_right(answer: &Answer) {
    assert_eq!(answer.code, 0, "{answer}");
    let document = answer.json();
    // An uncalibrated sensor's reading claims no more than its own scatter; the truth here has none but noise.
    assert!((number(&document["angle_deg"]) - ANGLE).abs() < 0.1, "{answer}");
}

fn assert_said(answer: &Answer, code: i32, words: &str) {
    assert_eq!(answer.code, code, "{answer}");
    let error = answer.json()["error"].as_str().unwrap_or_default().to_owned();
    assert!(error.contains(words), "{error}");
    assert!(!answer.stderr.contains("panicked"), "{answer}");
}

/// At its own pace, ten samples at a time.
const PACE: Duration = Duration::from_millis(50);

fn calm(sensor: &mut Sensor) -> Vec<u8> {
    let mut bytes = Vec::new();
    (0..10).for_each(|_| sensor.sentence(ANGLE, &mut bytes));
    bytes
}

#[test]
fn a_line_that_stalls_is_said_and_read_again_when_it_goes_on() {
    let (bench, (master, port)) = (Bench::new(), pseudo_terminal());
    let mut sensor = Sensor::new();
    // A tenth of a second of samples, then nothing for long, then as it should be.
    let _feeder = Feeder::start(master, move |since| {
        let silent = (0.6..8.0).contains(&since.as_secs_f64());
        (if silent { Vec::new() } else { calm(&mut sensor) }, PACE)
    });
    std::thread::sleep(Duration::from_millis(300));
    let (answer, _) = read(&bench, &port, &["--want", "0.0001"]);
    assert_said(&answer, 3, "");
    assert!(answer.json()["error"].as_str().unwrap().len() > 30, "{answer}");
    std::thread::sleep(Duration::from_secs(6));
    assert_right(&read(&bench, &port, &[]).0);
    println!("1 stall: said after {:.1} s, read right when it went on", answer.took.as_secs_f64());
}

#[test]
fn a_flood_at_full_speed_keeps_no_memory_and_is_read_right_after_it() {
    let (bench, (master, port)) = (Bench::new(), pseudo_terminal());
    let mut sensor = Sensor::new();
    let calmed = Arc::new(AtomicBool::new(false));
    let calm_now = Arc::clone(&calmed);
    let _feeder = Feeder::start(master, move |_| {
        if calm_now.load(Ordering::Relaxed) {
            return (calm(&mut sensor), PACE);
        }
        // A blade that never rests, as fast as the line takes it.
        let mut bytes = Vec::new();
        for _ in 0..200 {
            let degrees = ANGLE + 5.0 * (f64::from(sensor.seq) / 20.0).sin();
            sensor.sentence(degrees, &mut bytes);
        }
        (bytes, Duration::ZERO)
    });
    // Ten minutes of the sensor's own time.
    let (answer, memory) = read(&bench, &port, &["--within", "600"]);
    assert_eq!(answer.code, 1, "it never rests: {answer}");
    assert!(memory < MOST_MEMORY, "{memory} KiB");
    calmed.store(true, Ordering::Relaxed);
    std::thread::sleep(Duration::from_millis(500));
    assert_right(&read(&bench, &port, &[]).0);
    println!("1 flood: ten minutes of samples in {:.1} s, {} MiB at most", answer.took.as_secs_f64(), memory / 1024);
}

/// One sample again and again, with the clock and counter that it had: no time passes in such a stream.
#[test]
fn a_sensor_that_repeats_one_sample_for_ever_is_not_waited_for_for_ever() {
    let (bench, (master, port)) = (Bench::new(), pseudo_terminal());
    let mut sentence = Vec::new();
    Sensor::new().sentence(ANGLE, &mut sentence);
    let flood = sentence.repeat(20);
    let _feeder = Feeder::start(master, move |_| (flood.clone(), Duration::from_millis(10)));
    let (answer, memory) = read(&bench, &port, &["--within", "5"]);
    assert_said(&answer, 3, "stand still");
    assert!(memory < MOST_MEMORY, "{memory} KiB");
    println!("1 sensor that repeats itself: exit {} after {:.1} s", answer.code, answer.took.as_secs_f64());
}

#[test]
fn nonsense_between_good_samples_is_counted_and_the_angle_is_right() {
    let (bench, (master, port)) = (Bench::new(), pseudo_terminal());
    let (mut sensor, mut dice, mut turn) = (Sensor::new(), Dice::new(4), 0u32);
    let _feeder = Feeder::start(master, move |_| {
        turn += 1;
        // What comes over an open line, in every fourth piece: cut lines, noise, no line ends.
        let mut bytes = calm(&mut sensor);
        if turn.is_multiple_of(4) {
            bytes.extend((0..dice.below(700)).map(|_| dice.byte()));
        }
        (bytes, PACE)
    });
    std::thread::sleep(Duration::from_millis(500));
    let (mut damaged, mut memory) = (0.0, 0);
    for _ in 0..3 {
        let (answer, most) = read(&bench, &port, &["--want", "0.02"]);
        assert_right(&answer);
        damaged += number(&answer.json()["damaged_frames"]);
        memory = memory.max(most);
    }
    println!("3 readings among nonsense: {damaged} damaged frames counted, {} MiB at most", memory / 1024);
    assert!(damaged > 0.0 && memory < MOST_MEMORY);
}

#[test]
fn lines_that_never_end_and_bytes_that_mean_nothing_are_said_within_bounds() {
    let mut sent = 0;
    type Nonsense = fn(&mut Dice) -> Vec<u8>;
    let all: [(&str, Nonsense); 5] = [
        ("one line without an end", |_| b"$PCLIN,1,2,3,".repeat(64)),
        ("noise", |dice| (0..2000).map(|_| dice.byte()).collect()),
        ("zeros", |_| vec![0; 2000]),
        ("line ends", |_| b"\r\n".repeat(1000)),
        ("the beginnings of sentences", |_| b"$".repeat(2000)),
    ];
    for (what, bytes) in all {
        let (bench, (master, port)) = (Bench::new(), pseudo_terminal());
        let mut dice = Dice::new(2);
        let _feeder = Feeder::start(master, move |_| (bytes(&mut dice), Duration::ZERO));
        let (answer, memory) = read(&bench, &port, &[]);
        assert_said(&answer, 3, "decode");
        assert!(memory < MOST_MEMORY, "{what}: {memory} KiB");
        sent += 1;
    }
    println!("{sent} floods of nonsense at full speed: each said in words");
}
