//! From a byte on the wire to the eye: `cargo bench --bench latency -- --rate 400 --seconds 20`.
//!
//! Lines of a sensor are written on a pseudo-terminal, each at its time; a client of the page's feed notes when the live
//! reading made of a line arrives. Prints the median, the 99th and the 99.9th of a hundred; exit code 1 when the 99th is 20 ms
//! or more.

#![allow(clippy::expect_used, reason = "a measurement that cannot go on has failed")]

#[cfg(unix)]
fn main() {
    let (rate, seconds) = measured::asked();
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build().expect("a runtime");
    let mut late = runtime.block_on(measured::run(rate, seconds));
    late.sort_by(f64::total_cmp);
    let at = |share: f64| late[((late.len() - 1) as f64 * share).round() as usize];
    println!("{rate:.0} Hz for {seconds} s: {} live readings at the client", late.len());
    println!("median {:.2} ms, 99 % {:.2} ms, 99.9 % {:.2} ms", at(0.5), at(0.99), at(0.999));
    let held = at(0.99) < 20.0;
    println!("{}", if held { "99 of 100 within 20 ms" } else { "NOT 99 of 100 within 20 ms" });
    std::process::exit(i32::from(!held));
}

#[cfg(not(unix))]
fn main() {
    println!("this needs a pseudo-terminal");
}

#[cfg(unix)]
mod measured {
    use clinoblade::bench::conductor::{Sensor, Wishes, start};
    use clinoblade::bench::{Instrument, OpenSetup};
    use clinoblade::logbook::{Location, Logbook, NewSetup};
    use clinoblade::page::{Page, serve};
    use clinoblade::record::Head;
    use clinoblade::stream::codec::{Frame, SentenceEncoder};
    use clinoblade::stream::{Options, Profile, SampleStream, Source};
    use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
    use std::fs::File;
    use std::io::{BufRead, BufReader, Write};
    use std::sync::{Arc, Mutex};
    use std::time::{Duration, Instant};

    pub fn asked() -> (f64, u64) {
        let (mut rate, mut seconds) = (400.0, 20);
        let mut arguments = std::env::args().skip(1);
        while let Some(argument) = arguments.next() {
            let mut next = || arguments.next().and_then(|text| text.parse::<u32>().ok()).filter(|&n| n > 0);
            match argument.as_str() {
                "--rate" => rate = next().map_or_else(stop, f64::from),
                "--seconds" => seconds = next().map_or_else(stop, u64::from),
                "--bench" => {}
                _ => stop(),
            }
        }
        (rate, seconds)
    }

    fn stop<T>() -> T {
        eprintln!("usage: cargo bench --bench latency -- [--rate HZ] [--seconds S]");
        std::process::exit(2)
    }

    /// Milliseconds from the write of a line to the event at the client.
    pub async fn run(rate: f64, seconds: u64) -> Vec<f64> {
        let (wire, path) = pseudo_terminal();
        let folder = tempfile::tempdir().expect("a folder");
        let logbook = Logbook::open(&Location::File(folder.path().join("bench.sqlite"))).await.expect("a logbook");
        let head = Head::from_toml(&Head::template("Workshop trainer")).expect("the template");
        let number = logbook.new_setup(NewSetup::of(head)).await.expect("a setup").number;
        let open = OpenSetup::find(logbook, Some(number)).await.expect("the setup");
        let profile = Profile::sentence();
        let instrument = Instrument::new(profile.clone(), None, open.setup().head.rotation);
        let source = Source::Port(path);
        let stream = SampleStream::open(&source, &profile, &Options::default()).await.expect("the port");
        let sensor = Sensor { stream, instrument, plug: None, name: "wire".to_owned() };
        let wishes = Wishes { demo: false, cautions: &[] };
        let (conductor, _session) = start(sensor, Vec::new(), open, wishes);
        let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.expect("a listener");
        let address = listener.local_addr().expect("its address");
        tokio::spawn(serve(listener, Page::new(conductor, address, None, None)));

        let sent: Arc<Mutex<Vec<Instant>>> = Arc::default();
        let writer = {
            let sent = Arc::clone(&sent);
            std::thread::spawn(move || write(wire, rate, seconds, &sent))
        };
        let reader = std::thread::spawn(move || read(&address.to_string(), rate, &sent));
        tokio::task::spawn_blocking(move || {
            writer.join().expect("the writer");
            reader.join().expect("the reader")
        })
        .await
        .expect("both")
    }

    fn pseudo_terminal() -> (File, String) {
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).expect("a pseudo-terminal");
        grantpt(&master).expect("granted");
        unlockpt(&master).expect("unlocked");
        let path = ptsname(&master, Vec::new()).expect("a name").into_string().expect("in plain letters");
        (File::from(master), path)
    }

    /// Writes a line every period, a blade that rocks slowly, and notes when.
    fn write(mut wire: File, rate: f64, seconds: u64, sent: &Mutex<Vec<Instant>>) {
        let begun = Instant::now();
        for n in 0..(rate * seconds as f64) as u32 {
            let due = begun + Duration::from_secs_f64(f64::from(n) / rate);
            std::thread::sleep(due.saturating_duration_since(Instant::now()));
            let (sin, cos) = (0.1 * (f64::from(n) / rate).sin()).sin_cos();
            let micros = (f64::from(n) / rate * 1e6).round() as u32;
            let counts = [(16_384.0 * sin).round(), 0.0, (16_384.0 * cos).round()];
            let mut line = Vec::new();
            SentenceEncoder.encode(&Frame { seq: n as u16, micros, counts, celsius: None }, &mut line);
            sent.lock().expect("the list").push(Instant::now());
            wire.write_all(&line).expect("the wire");
        }
    }

    /// Reads the feed until it falls silent: how late each live reading is, behind the line that it was made of.
    fn read(host: &str, rate: f64, sent: &Mutex<Vec<Instant>>) -> Vec<f64> {
        let mut line = std::net::TcpStream::connect(host).expect("the page");
        line.set_read_timeout(Some(Duration::from_secs(2))).expect("a time limit");
        write!(line, "GET /feed HTTP/1.1\r\nHost: {host}\r\n\r\n").expect("the request");
        let (mut late, mut event) = (Vec::new(), String::new());
        for text in BufReader::new(line).lines() {
            let Ok(text) = text else { break };
            let now = Instant::now();
            if let Some(name) = text.strip_prefix("event: ") {
                name.clone_into(&mut event);
            } else if let Some(data) = text.strip_prefix("data: ").filter(|_| event == "live") {
                let live: serde_json::Value = serde_json::from_str(data).expect("an event");
                let place = (live["clock_s"].as_f64().expect("a clock") * rate).round() as usize;
                let sent = sent.lock().expect("the list");
                // The port was opened before the first line: the clock's zero is that line. Were one missed, this would
                // only make everything look later.
                if let Some(at) = sent.get(place) {
                    late.push((now - *at).as_secs_f64() * 1e3);
                }
            }
        }
        late
    }
}
