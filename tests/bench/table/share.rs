//! What the program costs while it watches: share of a core and memory, from /proc.
//!
//! Each sensor is a simulated head at 400 Hz on a pseudo-terminal, in a process of its own that is not counted; its stick is
//! moved every three seconds. One page looks on where the page is served. One head carries four sensors at most, so eight are two
//! heads, and two programs.

use super::line::Line;
use super::repeated::processor_seconds;
use super::{Size, Told};
use std::io::Read;
use std::time::{Duration, Instant};
use support::bench::{Bench, HEAD, Running, SimulatedHead};

/// Of a core, and MB, for one sensor.
const GOAL_SHARE: f64 = 0.02;
const GOAL_MEMORY: f64 = 30.0;
const BLADES: [&str; 4] = ["a", "b", "c", "d"];

pub fn measure(size: Size, told: &mut Told) {
    let seconds = size.or(30.0, 6.0);
    for (what, watched) in [
        ("1 sensor, watch", Watched::plain()),
        ("1 sensor, bench and a page", Watched::served(1, 1)),
        ("4 sensors, bench and a page", Watched::served(1, 4)),
        ("8 sensors, two of the same", Watched::served(2, 4)),
    ] {
        let sensors = watched.heads.len();
        let (share, memory) = watched.cost(seconds);
        let figure = format!("{:.2} % of a core, {memory:.1} MB", 100.0 * share);
        let line = |against: &str, ratio: f64| Line::new("share", what, figure.as_str()).against(against, ratio);
        if sensors == 1 {
            told.tell(&line("2 % of a core", share / GOAL_SHARE).goal("< 1", share < GOAL_SHARE));
            told.tell(&line("30 MB", memory / GOAL_MEMORY).goal("< 1", memory < GOAL_MEMORY));
        } else {
            told.tell(&line("2 % of a core for each", share / GOAL_SHARE / sensors as f64));
            told.tell(&line("30 MB for each", memory / GOAL_MEMORY / sensors as f64));
        }
    }
}

/// Running programs, and the heads that they watch.
struct Watched {
    heads: Vec<SimulatedHead>,
    programs: Vec<Running>,
    _benches: Vec<Bench>,
}

impl Watched {
    fn plain() -> Self {
        let bench = Bench::new();
        let head = SimulatedHead::in_life(&bench, &scenario(2), "sensor");
        let mut program = bench.start(&["watch", "--plain", "--port", &head.port]);
        program.wait_for_line("a reading", |line| line.contains('°'));
        Self { heads: vec![head], programs: vec![program], _benches: vec![bench] }
    }

    fn served(programs: usize, sensors: usize) -> Self {
        let mut watched = Self { heads: Vec::new(), programs: Vec::new(), _benches: Vec::new() };
        for _ in 0..programs {
            watched.serve(sensors);
        }
        watched
    }

    fn serve(&mut self, sensors: usize) {
        let bench = Bench::new();
        let blades = sensors.max(2);
        let head = bench.write("head.toml", HEAD.replace("\nblades = 2\nc", &format!("\nblades = {blades}\nc")));
        bench.done(&["setup", "new", "--head", &head, "--reason", "a measurement", "--cautions-read"]);
        let mut arguments = vec!["bench".to_owned(), "--no-open".into(), "--listen".into(), "127.0.0.1:0".into()];
        for blade in BLADES.iter().take(sensors) {
            let head = SimulatedHead::in_life(&bench, &scenario(blades), &format!("sensor-{blade}"));
            let name = if sensors == 1 { String::new() } else { format!("{blade}=") };
            arguments.push(format!("--port={name}{}", head.port));
            self.heads.push(head);
        }
        let mut program = bench.start(&arguments.iter().map(String::as_str).collect::<Vec<_>>());
        let said = program.wait_for_said("The bench page: ");
        let host = said.split("http://").nth(1).and_then(|rest| rest.split('/').next()).expect("its address");
        look_on(host);
        self.programs.push(program);
        self._benches.push(bench);
    }

    /// The share of a core and the megabytes of all programs together.
    fn cost(mut self, seconds: f64) -> (f64, f64) {
        self.handle(2.0);
        let (before, begun) = (self.used(), Instant::now());
        self.handle(seconds);
        let share = (self.used() - before) / begun.elapsed().as_secs_f64();
        (share, self.programs.iter().map(|program| most_resident(program.child.id())).sum())
    }

    /// Moves the sticks for so long.
    fn handle(&mut self, seconds: f64) {
        let end = Instant::now() + Duration::from_secs_f64(seconds);
        for percent in [80, 0, -80, 0].into_iter().cycle() {
            for head in &mut self.heads {
                head.tell(&format!("stick elevator {percent} over 0.8"));
            }
            std::thread::sleep(Duration::from_secs(3).min(end.saturating_duration_since(Instant::now())));
            if Instant::now() >= end {
                return;
            }
        }
    }

    /// Seconds of processor time so far.
    fn used(&self) -> f64 {
        self.programs.iter().map(|program| processor_seconds(&program.child.id().to_string())).sum()
    }
}

fn scenario(blades: usize) -> String {
    format!(
        "head = {{ blades = {blades}, station_deg = 90.0 }}
sensor = {{ noise_density_ug_rthz = 150.0 }}
stream = {{ rate_hz = 400.0, baud = 921600 }}
"
    )
}

/// A page that reads whatever comes until the program ends.
fn look_on(host: &str) {
    let mut line = std::net::TcpStream::connect(host).expect("the page");
    std::io::Write::write_all(&mut line, format!("GET /feed HTTP/1.1\r\nHost: {host}\r\n\r\n").as_bytes())
        .expect("the request");
    let mut piece = [0; 4096];
    let answered = line.read(&mut piece).expect("an answer");
    assert!(piece[..answered].starts_with(b"HTTP/1.1 200 "), "the page is shown");
    std::thread::spawn(move || while matches!(line.read(&mut piece), Ok(1..)) {});
}

/// The most megabytes in memory so far.
fn most_resident(process: u32) -> f64 {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).expect("its status");
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:")).expect("its memory");
    let kib: f64 = line.trim().trim_end_matches(" kB").parse().expect("a number");
    kib * 1024.0 / 1e6
}
