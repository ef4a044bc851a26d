//! From a line on the wire to the published reading, and to the page's event at a client.
//!
//! The peer is a script of Python's asyncio that reads the same wire, publishes the same angle and serves the same events.

use super::line::Line;
use super::quantiles::Quantiles;
use super::wire::{Sensor, Sent};
use super::{Size, Told, peer, workshop};
use clinoblade::bench::{Instrument, Session};
use clinoblade::rotor::Rotation;
use clinoblade::stream::{Options, Profile, SampleStream, Source};
use serde_json::Value;
use std::io::{BufRead, BufReader, Write};
use std::process::{Command, Stdio};
use std::time::{Duration, SystemTime};

const RATES: [f64; 3] = [100.0, 400.0, 1000.0];
/// Milliseconds that 99 events of a hundred stay under: an eye sees nothing of it.
const GOAL: f64 = 20.0;

pub fn measure(size: Size, told: &mut Told) {
    let seconds = size.or(30, 4);
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build().expect("a runtime");
    let python = peer::python(&["asyncio", "termios"]);
    for rate in RATES {
        let published = Quantiles::of(runtime.block_on(published(rate, seconds)));
        let shown = Quantiles::of(runtime.block_on(shown(rate, seconds)));
        let theirs = python.as_deref().map(|python| by_asyncio(python, rate, seconds));
        // Of a burst the newest counts; hardly one may have been part of a burst.
        let lines = rate * f64::from(seconds);
        assert!(published.len() as f64 > 0.8 * lines, "{} of {lines} lines were seen", published.len());
        let line = |what: &str, ours: &Quantiles, theirs: Option<&Quantiles>| {
            let line = Line::new("latency", format!("{rate:.0} Hz, {what}"), ours.to_string());
            match theirs {
                Some(theirs) => line.against(format!("asyncio: {theirs}"), ours.at(0.99) / theirs.at(0.99)),
                None => line.without("not measured: no Python"),
            }
        };
        told.tell(&line("to the reading", &published, theirs.as_ref().map(|(published, _)| published)));
        let line = line("to the page's event", &shown, theirs.as_ref().map(|(_, shown)| shown));
        told.tell(&line.goal("99 % < 20 ms", shown.at(0.99) < GOAL));
    }
}

/// From the wire to whoever waits for the session's live reading.
async fn published(rate: f64, seconds: u32) -> Vec<f64> {
    let sensor = Sensor::new(rate, seconds);
    let profile = Profile::sentence();
    let source = Source::Port(sensor.path.clone());
    let stream = SampleStream::open(&source, &profile, &Options::default()).await.expect("the port");
    let session = Session::start(stream, Instrument::new(profile, None, Rotation::Clockwise));
    let (mut live, sent, mut late) = (session.live(), sensor.sent.clone(), Vec::new());
    let sensor = sensor.start();
    while !sensor.is_finished() {
        // The line falls silent in the end.
        let Ok(Ok(())) = tokio::time::timeout(Duration::from_millis(500), live.changed()).await else { continue };
        let now = SystemTime::now();
        let clock = live.borrow_and_update().map(|live| live.clock.value());
        late.extend(clock.and_then(|clock| sent.late(clock, rate, now)));
    }
    late
}

/// From the wire to a client of the page's feed.
async fn shown(rate: f64, seconds: u32) -> Vec<f64> {
    let sensor = Sensor::new(rate, seconds);
    let (address, _folder) = workshop::page_over(&sensor.path).await;
    let sent = sensor.sent.clone();
    let reader = std::thread::spawn(move || events(&address.to_string(), rate, &sent));
    let sensor = sensor.start();
    tokio::task::spawn_blocking(move || {
        sensor.join().expect("the sensor");
        reader.join().expect("the client")
    })
    .await
    .expect("both")
}

/// Reads the feed until it falls silent: how late each live event is, behind the line that it was made of.
fn events(host: &str, rate: f64, sent: &Sent) -> Vec<f64> {
    let mut line = std::net::TcpStream::connect(host).expect("the page");
    line.set_read_timeout(Some(Duration::from_millis(800))).expect("a time limit");
    write!(line, "GET /feed HTTP/1.1\r\nHost: {host}\r\n\r\n").expect("the request");
    let (mut late, mut event) = (Vec::new(), String::new());
    for text in BufReader::new(line).lines() {
        let Ok(text) = text else { break };
        let now = SystemTime::now();
        if let Some(name) = text.strip_prefix("event: ") {
            name.clone_into(&mut event);
        } else if let Some(data) = text.strip_prefix("data: ").filter(|_| event == "live") {
            let live: Value = serde_json::from_str(data).expect("an event");
            late.extend(sent.late(live["clock_s"].as_f64().expect("a clock"), rate, now));
        }
    }
    late
}

/// The script over a wire of its own: to its published reading, and to its event at the same client.
fn by_asyncio(python: &str, rate: f64, seconds: u32) -> (Quantiles, Quantiles) {
    let sensor = Sensor::new(rate, seconds);
    let mut command = Command::new(python);
    command.arg(peer::script("live.py")).arg(&sensor.path).stdin(Stdio::piped()).stdout(Stdio::piped());
    let mut child = command.spawn().expect("the peer");
    let mut said = BufReader::new(child.stdout.take().expect("its output"));
    let mut address = String::new();
    said.read_line(&mut address).expect("its address");
    let (address, sent) = (address.trim().to_owned(), sensor.sent.clone());
    let reader = std::thread::spawn(move || events(&address, rate, &sent));
    let sent = sensor.sent.clone();
    sensor.start().join().expect("the sensor");
    let shown = reader.join().expect("the client");
    // The end of its input ends it; then it says when it published what.
    drop(child.stdin.take());
    let published: Vec<(f64, u64)> = serde_json::from_reader(said).expect("its times");
    child.wait().expect("its end");
    let late = |(clock, nanoseconds): (f64, u64)| {
        sent.late(clock, rate, SystemTime::UNIX_EPOCH + Duration::from_nanos(nanoseconds))
    };
    (Quantiles::of(published.into_iter().filter_map(late).collect()), Quantiles::of(shown))
}
