//! A sensor, or whatever is at the other end of its cable, that stalls, floods the line at full speed, sends nonsense in
//! between, or says the same thing for ever. The program keeps its memory, says what is wrong, and reads right after it.

use clinoblade::stream::Profile;
use clinoblade::stream::codec::{Encoder, Frame};
use clinoblade::units::Sample;
use rustix::fs::{OFlags, fcntl_getfl, fcntl_setfl};
use std::fs::File;
use std::io::{Read, Write};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, OnceLock};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};
use support::bench::{Answer, Bench, LONG, Running, number};
use support::dice::Dice;
use support::place::project;
use support::port::pseudo_terminal;

/// The blade's true angle while it rests.
const ANGLE: f64 = 7.0;
/// So much more memory than a calm reading may any other take, in KiB: half of what the samples of a flood would.
const MORE_MEMORY: u64 = 5 * 1024;
/// Of the sensor's own time, in seconds.
const FLOOD: u64 = 1200;
const RATE: u64 = 200;
/// The sensors that flood: every kind that sends by itself, with how fast it sends where nothing in its lines tells the time.
const FLOODING: [(&str, &[&str]); 6] = [
    ("sentence", &[]),
    (COLUMNS, &[]),
    ("frame", &[]),
    ("columns", &["--rate-hz", "200"]),
    ("labelled", &["--rate-hz", "200"]),
    ("xdr", &["--rate-hz", "200"]),
];
/// The sensors that stammer: one with a checksum in text, one without any, one in binary.
const PROFILES: [&str; 3] = ["sentence", COLUMNS, "frame"];
const COLUMNS: &str = "examples/profiles/club-columns.toml";

/// What a profile is called on the command line, and itself.
fn profile(name: &str) -> (String, Profile) {
    let named = if name.ends_with(".toml") { project(name).display().to_string() } else { name.to_owned() };
    let profile = Profile::find(&named).unwrap();
    (named, profile)
}

/// A sensor whose clock runs at 200 Hz of its own time.
struct Sensor {
    dice: Dice,
    seq: u32,
    encoder: Encoder,
    counts_per_g: f64,
}

impl Sensor {
    fn new() -> Self {
        Self::of(&Profile::sentence())
    }

    fn of(profile: &Profile) -> Self {
        Self { dice: Dice::new(9), seq: 0, encoder: profile.encoder(), counts_per_g: profile.counts_per_g() }
    }

    /// The next sample of a blade that stands at so many degrees.
    fn sample(&mut self, degrees: f64, out: &mut Vec<u8>) {
        let noise = |dice: &mut Dice| (dice.below(41) as f64 - 20.0) / 16384.0;
        let (sin, cos) = degrees.to_radians().sin_cos();
        // Counts are whole; a sensor that sends g has decimals.
        let parts = if self.counts_per_g < 100.0 { 1e5 } else { 1.0 };
        let counts = [sin, 0.0, cos].map(|g| ((g + noise(&mut self.dice)) * self.counts_per_g * parts).round() / parts);
        let frame = Frame { seq: self.seq as u16, micros: self.seq.wrapping_mul(5000), counts, celsius: Some(20.0) };
        self.encoder.encode(&frame, out);
        self.seq = self.seq.wrapping_add(1);
    }
}

/// Writes to the far end of the line in a thread of its own, until it is dropped; what nobody takes is lost.
struct Feeder {
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Feeder {
    fn start(mut master: File, mut next: impl FnMut() -> (Vec<u8>, Duration) + Send + 'static) -> Self {
        let flags = fcntl_getfl(&master).unwrap();
        fcntl_setfl(&master, flags | OFlags::NONBLOCK).unwrap();
        let stop = Arc::new(AtomicBool::new(false));
        let stopped = Arc::clone(&stop);
        let thread = std::thread::spawn(move || {
            while !stopped.load(Ordering::Relaxed) {
                let (bytes, pause) = next();
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
    watched(bench.start(&[&["read", "--port", port, "--json"], more].concat()))
}

fn watched(running: Running) -> (Answer, u64) {
    let process = running.child.id();
    let watcher = std::thread::spawn(move || {
        let mut most = 0;
        while let Some(memory) = most_memory(process) {
            most = most.max(memory);
            std::thread::sleep(Duration::from_millis(20));
        }
        most
    });
    let answer = Running::end(running, LONG);
    (answer, watcher.join().unwrap())
}

/// The most memory that any other reading may take: a calm one's, and a little.
fn memory_allowed() -> u64 {
    static ALLOWED: OnceLock<u64> = OnceLock::new();
    *ALLOWED.get_or_init(|| {
        let (bench, (master, port)) = (Bench::new(), pseudo_terminal());
        let mut sensor = Sensor::new();
        let _feeder = Feeder::start(master, move || (calm(&mut sensor), PACE));
        let (answer, memory) = read(&bench, &port, &[]);
        assert_right(&answer);
        assert!(memory > 1024, "{memory} KiB: no such reading");
        memory + MORE_MEMORY
    })
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
    (0..10).for_each(|_| sensor.sample(ANGLE, &mut bytes));
    bytes
}

#[test]
fn a_line_that_stalls_is_said_and_read_again_when_it_goes_on() {
    let (bench, (master, port)) = (Bench::new(), pseudo_terminal());
    let mut sensor = Sensor::new();
    let silent = Arc::new(AtomicBool::new(false));
    let silent_now = Arc::clone(&silent);
    let _feeder = Feeder::start(master, move || {
        let bytes = if silent_now.load(Ordering::Relaxed) { Vec::new() } else { calm(&mut sensor) };
        (bytes, PACE)
    });
    // It is read, and wants more than it gets.
    let running = bench.start(&["read", "--port", &port, "--json", "--want", "0.0001", "--save-raw", "raw.log"]);
    bench.wait_for_content("raw.log");
    silent.store(true, Ordering::Relaxed);
    let begun = Instant::now();
    let (answer, _) = watched(running);
    let took = begun.elapsed();
    assert_said(&answer, 3, "for 3 s");
    let taken = std::fs::read_to_string(bench.path("raw.log")).unwrap();
    assert!(taken.matches("PCLIN").count() > 50, "{taken}");
    silent.store(false, Ordering::Relaxed);
    assert_right(&read(&bench, &port, &[]).0);
    println!("1 stall: said {:.1} s after it began, read right when it went on", took.as_secs_f64());
}

#[test]
fn a_flood_at_full_speed_keeps_no_memory_and_is_read_right_after_it() {
    assert!(FLOOD * RATE * size_of::<Sample>() as u64 > 2 * MORE_MEMORY * 1024, "what is kept would show");
    println!("{} KiB of memory are allowed", memory_allowed());
    for (name, rate) in FLOODING {
        let (bench, (master, port)) = (Bench::new(), pseudo_terminal());
        let (named, profile) = profile(name);
        let mut sensor = Sensor::of(&profile);
        let calmed = Arc::new(AtomicBool::new(false));
        let calm_now = Arc::clone(&calmed);
        let _feeder = Feeder::start(master, move || {
            if calm_now.load(Ordering::Relaxed) {
                return (calm(&mut sensor), PACE);
            }
            // A blade that never rests, as fast as the line takes it.
            let mut bytes = Vec::new();
            for _ in 0..200 {
                let degrees = ANGLE + 5.0 * (f64::from(sensor.seq) / 20.0).sin();
                sensor.sample(degrees, &mut bytes);
            }
            (bytes, Duration::ZERO)
        });
        let (answer, memory) =
            read(&bench, &port, &[&["--within", &FLOOD.to_string(), "--profile", &named], rate].concat());
        assert_eq!(answer.code, 1, "it never rests: {answer}");
        assert!(number(&answer.json()["finished_at_s"]) > FLOOD as f64 - 60.0, "{name}: {answer}");
        assert!(memory < memory_allowed(), "{name}: {memory} KiB of {} KiB", memory_allowed());
        calmed.store(true, Ordering::Relaxed);
        assert_right(&read(&bench, &port, &[&["--profile", &named], rate].concat()).0);
        let document = answer.json();
        let count = |field: &str| number(&document[field]);
        println!(
            "flood {name}: {} minutes of samples in {:.1} s, {} samples lost, {} frames damaged, {memory} KiB at most",
            FLOOD / 60,
            answer.took.as_secs_f64(),
            count("lost_samples"),
            count("damaged_frames")
        );
        assert_eq!(count("damaged_frames"), 0.0, "{name}: what was sent was whole");
    }
}

/// A slave that answers all the time without being asked, and then as it should.
#[test]
fn a_slave_that_floods_the_line_with_answers_keeps_no_memory() {
    let (bench, (master, port)) = (Bench::new(), pseudo_terminal());
    let profile = Profile::modbus();
    let mut sensor = Sensor::of(&profile);
    let calmed = Arc::new(AtomicBool::new(false));
    let calm_now = Arc::clone(&calmed);
    let mut asked = master.try_clone().unwrap();
    let _feeder = Feeder::start(master, move || {
        let mut bytes = Vec::new();
        if !calm_now.load(Ordering::Relaxed) {
            for _ in 0..200 {
                let degrees = ANGLE + 5.0 * (f64::from(sensor.seq) / 20.0).sin();
                sensor.sample(degrees, &mut bytes);
            }
            return (bytes, Duration::ZERO);
        }
        // A request has eight bytes.
        let mut request = [0; 8];
        if asked.read(&mut request).is_ok_and(|read| read == 8) {
            sensor.sample(ANGLE, &mut bytes);
        }
        (bytes, Duration::from_millis(1))
    });
    let (answer, memory) = read(&bench, &port, &["--within", "3", "--profile", "modbus"]);
    assert!(matches!(answer.code, 1 | 3), "it never rests: {answer}");
    assert!(memory < memory_allowed(), "{memory} KiB of {} KiB", memory_allowed());
    calmed.store(true, Ordering::Relaxed);
    // What had flooded the line may still stand in it.
    std::thread::sleep(Duration::from_secs(1));
    let right = read(&bench, &port, &["--profile", "modbus"]).0;
    assert_right(&right);
    println!(
        "flood modbus: exit {} after {:.1} s, {memory} KiB at most; then read right",
        answer.code,
        answer.took.as_secs_f64()
    );
}

/// One sample again and again, with the clock and counter that it had: no time passes in such a stream.
#[test]
fn a_sensor_that_repeats_one_sample_for_ever_is_not_waited_for_for_ever() {
    let (bench, (master, port)) = (Bench::new(), pseudo_terminal());
    let mut sentence = Vec::new();
    Sensor::new().sample(ANGLE, &mut sentence);
    let flood = sentence.repeat(20);
    let _feeder = Feeder::start(master, move || (flood.clone(), Duration::from_millis(10)));
    let (answer, memory) = read(&bench, &port, &["--within", "5"]);
    assert_said(&answer, 3, "stand still");
    assert!(memory < memory_allowed(), "{memory} KiB");
    println!("1 sensor that repeats itself: exit {} after {:.1} s", answer.code, answer.took.as_secs_f64());
}

/// What comes over a line between good samples, what it damages, and what the counter misses of it.
struct Piece {
    bytes: Vec<u8>,
    damaged: usize,
    lost: usize,
}

impl Piece {
    /// No text ends in it by chance, and no frame begins. `number` is found in no other.
    fn of(dice: &mut Dice, sensor: &mut Sensor, name: &str, number: u32) -> Self {
        let (binary, counts) = (name == "frame", name != COLUMNS);
        let noise: Vec<u8> = (0..dice.between(1, 300)).map(|_| dice.byte() | 0x80).collect();
        let marked = |bytes: &[u8]| [bytes, &(number | 0x8080_8080).to_be_bytes()].concat();
        match dice.below(4) {
            // Between frames it is one damage, however long; a sentence begins behind it in the same line.
            0 => Self { bytes: marked(&noise), damaged: 1, lost: 0 },
            1 => Self { bytes: marked(&[&noise[..], b"\n"].concat()), damaged: if binary { 1 } else { 2 }, lost: 0 },
            // Longer than any line: the sample behind it in the same one is lost with it.
            2 => Self { bytes: marked(&[0xff; 700]), damaged: 1, lost: usize::from(counts && !binary) },
            // A sample, one bit of it flipped.
            _ => {
                let mut bytes = Vec::new();
                sensor.sample(ANGLE, &mut bytes);
                let middle = bytes.len() / 2;
                bytes[middle] ^= 0x40;
                Self { bytes, damaged: 1, lost: usize::from(counts) }
            }
        }
    }

    fn stands_in(&self, received: &[u8]) -> bool {
        received.windows(self.bytes.len()).any(|window| window == self.bytes)
    }
}

#[test]
fn nonsense_between_good_samples_is_counted_and_the_angle_is_right() {
    let said = std::thread::scope(|scope| {
        let all = PROFILES.map(|name| scope.spawn(move || read_among_nonsense(name)));
        all.map(|said| said.join().unwrap())
    });
    println!("{} readings among nonsense, each right\n{}", 2 * said.len(), said.join("\n"));
}

/// Pieces of nonsense that each reading meets, one in every second turn.
const PIECES: u32 = 20;
/// Degrees: no mean of fewer samples is known so well than come with all of the pieces, so that a reading outlasts them.
const WANT: &str = "0.003";

/// Two readings, their counts held against what was sent. The sensor sends from when the line is open, and calm samples alone
/// at either end of a reading, so that every piece is met whole.
fn read_among_nonsense(name: &'static str) -> String {
    let (bench, (master, port)) = (Bench::new(), pseudo_terminal());
    let (named, profile) = profile(name);
    let (mut sensor, mut dice) = (Sensor::of(&profile), Dice::new(4));
    let pieces: Arc<Mutex<Vec<Piece>>> = Arc::default();
    // Turns since the line was opened; none while nobody reads.
    let turns: Arc<Mutex<Option<u32>>> = Arc::default();
    let (sent, turn) = (Arc::clone(&pieces), Arc::clone(&turns));
    let _feeder = Feeder::start(master, move || {
        let mut turn = turn.lock().unwrap();
        let Some(turn) = turn.as_mut() else { return (Vec::new(), PACE) };
        *turn += 1;
        let mut bytes = calm(&mut sensor);
        if turn.is_multiple_of(2) && *turn <= 2 * PIECES {
            let mut sent = sent.lock().unwrap();
            let piece = Piece::of(&mut dice, &mut sensor, name, 2 * sent.len() as u32);
            bytes.extend(&piece.bytes);
            sent.push(piece);
        }
        (bytes, PACE)
    });
    let (mut received, mut all_damaged, mut all_lost) = (0, 0, 0);
    for raw in ["first.log", "second.log"] {
        let more = ["--json", "--want", WANT, "--save-raw", raw, "--profile", &named];
        let running = bench.start(&[&["read", "--port", &port], &more[..]].concat());
        let begun = Instant::now();
        while !bench.path(raw).exists() {
            assert!(begun.elapsed() < LONG, "the line is never opened");
            std::thread::sleep(Duration::from_millis(5));
        }
        *turns.lock().unwrap() = Some(0);
        let (answer, memory) = watched(running);
        *turns.lock().unwrap() = None;
        assert_right(&answer);
        assert!(memory < memory_allowed(), "{name}: {memory} KiB");
        let bytes = std::fs::read(bench.path(raw)).unwrap();
        let pieces = std::mem::take(&mut *pieces.lock().unwrap());
        assert_eq!(pieces.len(), PIECES as usize, "{name}");
        assert!(pieces.iter().all(|piece| piece.stands_in(&bytes)), "{name}: every piece was received");
        let held = |field: &str, count: fn(&Piece) -> usize| {
            let said = number(&answer.json()[field]) as usize;
            assert_eq!(said, pieces.iter().map(count).sum::<usize>(), "{name}: {field}");
            said
        };
        all_damaged += held("damaged_frames", |piece| piece.damaged);
        all_lost += held("lost_samples", |piece| piece.lost);
        received += pieces.len();
    }
    let (damages, losses) = (all_damaged >= received, (all_lost > received / 8) == (name != COLUMNS));
    assert!(received > 20 && damages && losses, "{name}: {received} {all_damaged} {all_lost}");
    format!("nonsense {name}: {received} pieces in between, {all_damaged} frames damaged, {all_lost} samples lost")
}

#[test]
fn lines_that_never_end_and_bytes_that_mean_nothing_are_said_within_bounds() {
    type Nonsense = fn(&mut Dice) -> Vec<u8>;
    let noise: Nonsense = |dice| (0..2000).map(|_| dice.byte()).collect();
    let of_sentences: [(&str, Nonsense); 5] = [
        ("noise", noise),
        ("one line without an end", |_| b"$PCLIN,1,2,3,".repeat(64)),
        ("zeros", |_| vec![0; 2000]),
        ("line ends", |_| b"\r\n".repeat(1000)),
        ("the beginnings of sentences", |_| b"$".repeat(2000)),
    ];
    let of_columns: [(&str, Nonsense); 2] = [("noise", noise), ("columns without an end", |_| b"1.5,".repeat(500))];
    let of_frames: [(&str, Nonsense); 2] =
        [("noise", noise), ("the beginnings of frames", |_| b"\xa7\x5c".repeat(1000))];
    let of_labelled: [(&str, Nonsense); 2] = [("noise", noise), ("labels without an end", |_| b"x:1.5 y:".repeat(250))];
    let of_xdr: [(&str, Nonsense); 2] =
        [("noise", noise), ("one sentence without an end", |_| b"$HCXDR,A,1.5,D,".repeat(130))];
    let of_modbus: [(&str, Nonsense); 2] =
        [("noise", noise), ("the beginnings of answers", |_| b"\x01\x04\x06".repeat(700))];
    let all: [(&str, &[(&str, Nonsense)]); 6] = [
        ("sentence", &of_sentences),
        (COLUMNS, &of_columns),
        ("frame", &of_frames),
        ("labelled", &of_labelled),
        ("xdr", &of_xdr),
        ("modbus", &of_modbus),
    ];
    let said = std::thread::scope(|scope| {
        let floods = all.into_iter().map(|(name, floods)| scope.spawn(move || said_of(name, floods)));
        floods.collect::<Vec<_>>().into_iter().map(|flood| flood.join().unwrap()).sum::<usize>()
    });
    println!("{said} floods of nonsense at full speed: each said in words");
    assert_eq!(said, 15);

    /// How many of these floods are said in words, which is all of them.
    fn said_of(name: &str, floods: &[(&str, Nonsense)]) -> usize {
        for (what, bytes) in floods.iter().copied() {
            let (bench, (master, port)) = (Bench::new(), pseudo_terminal());
            let mut dice = Dice::new(2);
            let _feeder = Feeder::start(master, move || (bytes(&mut dice), Duration::ZERO));
            let (answer, memory) = read(&bench, &port, &["--profile", &profile(name).0]);
            assert_said(&answer, 3, "does not fit the profile");
            assert!(memory < memory_allowed(), "{name}, {what}: {memory} KiB");
            println!("nonsense {name}, {what}: said after {:.1} s, {memory} KiB at most", answer.took.as_secs_f64());
        }
        floods.len()
    }
}
