//! From the start of the program to the first reading, and from the load of the page to the first live value.
//!
//! The peer of the first is a Python script that opens the port, waits for a line and prints its angle. The second is seen in a browser without a
//! window where chromedriver is installed, else by a plain client that takes the page, its files and the first event.

use super::line::Line;
use super::quantiles::Quantiles;
use super::wire::Sensor;
use super::{Size, Told, peer, workshop};
use serde_json::{Value, json};
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Command, Stdio};
use std::time::Instant;
use support::bench::{Bench, SimulatedHead};
use support::browser::Driver;

/// Until a person would begin to wait, milliseconds: common practice, no source.
const GOAL: f64 = 1000.0;

pub fn measure(size: Size, told: &mut Told) {
    let times = size.or(20, 5);
    let bench = Bench::new();
    let head = SimulatedHead::in_life(
        &bench,
        "sensor.noise_density_ug_rthz = 150.0\nstream = { rate_hz = 400.0, baud = 921600 }\n",
        "sensor",
    );
    let first = |mut command: Command| Quantiles::of((0..times).map(|_| first_line(&mut command)).collect());
    let ours = first(bench.command(&["watch", "--plain", "--port", &head.port]));
    let figure = format!("median {:.1} ms, 95 % {:.1} ms", ours.at(0.5), ours.at(0.95));
    let line = Line::new("start", "process to first reading", figure).goal("< 1 s", ours.at(0.95) < GOAL);
    told.tell(&match peer::python(&["termios"]) {
        Some(python) => {
            let mut command = Command::new(python);
            command.arg(peer::script("first.py")).arg(&head.port);
            let theirs = first(command);
            line.against(format!("Python: median {:.1} ms", theirs.at(0.5)), ours.at(0.5) / theirs.at(0.5))
        }
        None => line.without("not measured: no Python"),
    });
    drop(head);
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build().expect("a runtime");
    let has_browser = Command::new("chromedriver").arg("--version").output().is_ok_and(|said| said.status.success());
    let (how, shown) = if has_browser {
        ("headless chromium", runtime.block_on(in_browser(times)))
    } else {
        ("a plain client: no chromedriver", runtime.block_on(by_client(times)))
    };
    let figure = format!("median {:.1} ms, 95 % {:.1} ms", shown.at(0.5), shown.at(0.95));
    told.tell(
        &Line::new("start", "page to first live value", figure).without(how).goal("< 1 s", shown.at(0.95) < GOAL),
    );
}

/// Milliseconds from the start of a program to its first line.
fn first_line(command: &mut Command) -> f64 {
    let begun = Instant::now();
    let mut child =
        command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::null()).spawn().expect("it starts");
    let mut line = String::new();
    BufReader::new(child.stdout.take().expect("its output")).read_line(&mut line).expect("a line");
    let took = begun.elapsed().as_secs_f64() * 1e3;
    child.kill().expect("its end");
    child.wait().expect("its end");
    assert!(line.contains('°'), "not a reading: {line}");
    took
}

/// Notes when the line beside the figure first says how the blade is.
const NOTE: &str = "addEventListener('DOMContentLoaded', () => {
    const rest = document.getElementById('rest');
    const look = () => {
        const live = rest.textContent && rest.textContent !== 'no reading';
        if (live && window.firstLive === undefined) window.firstLive = performance.now();
    };
    new MutationObserver(look).observe(rest, { childList: true, characterData: true, subtree: true });
});";

/// Milliseconds from the navigation to the first live value in the window.
async fn in_browser(times: u32) -> Quantiles {
    let sensor = Sensor::new(400.0, 600);
    let (address, _folder) = workshop::page_over(&sensor.path).await;
    // It sends until the measurement ends with the process.
    drop(sensor.start());
    let driver = Driver::start();
    let window = driver.window(1280, 800).await;
    window.devtools("Page.addScriptToEvaluateOnNewDocument", json!({ "source": NOTE })).await;
    let mut shown = Vec::new();
    for _ in 0..times {
        window.open(&format!("http://{address}/")).await;
        window
            .wait_for("a live value", "return window.firstLive !== undefined", std::time::Duration::from_secs(20))
            .await;
        let first: Value = window.run("return window.firstLive").await;
        shown.push(first.as_f64().expect("a time"));
    }
    window.client.clone().close().await.expect("the window closes");
    Quantiles::of(shown)
}

/// Milliseconds until a client has the page and the first live event.
async fn by_client(times: u32) -> Quantiles {
    let sensor = Sensor::new(400.0, 600);
    let (address, _folder) = workshop::page_over(&sensor.path).await;
    drop(sensor.start());
    let host = address.to_string();
    let measured = tokio::task::spawn_blocking(move || (0..times).map(|_| client(&host)).collect());
    Quantiles::of(measured.await.expect("the client"))
}

fn client(host: &str) -> f64 {
    let begun = Instant::now();
    let mut page = String::new();
    ask(host, "/").read_to_string(&mut page).expect("the page");
    assert!(page.starts_with("HTTP/1.1 200"), "{page}");
    let live = BufReader::new(ask(host, "/feed")).lines().map_while(Result::ok).any(|line| line == "event: live");
    assert!(live, "the feed ended");
    begun.elapsed().as_secs_f64() * 1e3
}

fn ask(host: &str, path: &str) -> TcpStream {
    let mut line = TcpStream::connect(host).expect("the page");
    write!(line, "GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n").expect("the request");
    line
}
