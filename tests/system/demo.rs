//! The demo plays the whole job by itself, on a pseudo-terminal, and shows the truth beside what it read.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::time::Duration;
use support::bench::{Bench, number};

/// An expanded uncertainty is to hold 95 % of errors: of nine values one may lie outside by chance, two hardly ever.
/// The moments at which the simulated hands and the reader meet are those of a real clock, so no two runs are alike.
const MAY_MISS: usize = 1;

#[test]
fn the_demo_ends_by_itself_with_a_finished_record_beside_the_truth() {
    let bench = Bench::new();
    let html = support::paper::sheets().join("demo.html");
    let [html_name, text_name] = ["html", "txt"].map(|ending| html.with_extension(ending).display().to_string());
    let words = ["demo", "--terminal", "--autoplay", "--json", "--sheet", &html_name, "--sheet", &text_name];
    let answer = bench.start(&words).end(Duration::from_secs(90));
    assert_eq!(answer.code, 0, "{answer}");
    let document = answer.json();
    let record = &document["record"];
    assert_eq!((record["complete"].as_bool(), record["good"].as_bool()), (Some(true), Some(true)), "{record:#}");
    let cells = record["cells"].as_array().unwrap();
    assert!(cells.iter().all(|cell| cell["verdict"] == "inside" || cell["verdict"] == "bound"), "{cells:#?}");
    for name in ["elevator up", "elevator down", "aileron left", "aileron right", "rudder left", "rudder right"] {
        assert!(cells.iter().any(|cell| cell["cell"] == name), "no {name}");
    }
    assert!(cells.iter().any(|cell| cell["verdict"] == "bound"), "one end binds");

    let beside = document["truth"].as_array().unwrap();
    assert_eq!(beside.len(), cells.len(), "every cell has its truth beside it");
    let mut missed = 0;
    for row in beside {
        let [value, truth, expanded] =
            ["value_deg", "truth_deg", "expanded_uncertainty_deg"].map(|field| number(&row[field]));
        let within = (value - truth).abs() <= expanded;
        println!("{:<15} {value:+7.3} ± {expanded:.3}°  truth {truth:+7.3}°  {within}", row["cell"].as_str().unwrap());
        assert_eq!(row["within"], within, "it says so itself: {row:#}");
        assert!(expanded < 0.6, "± {expanded}° is of no use: {row:#}");
        missed += usize::from(!within);
    }
    println!("{:.0} s", answer.took.as_secs_f64());
    assert!(missed <= MAY_MISS, "{missed} of {} values miss the truth: {beside:#?}", beside.len());
    // Every deflection goes the way that it was commanded, by the trade's own signs.
    for row in beside {
        let name = row["cell"].as_str().unwrap();
        if ["elevator", "aileron", "rudder"].iter().any(|axis| name.starts_with(axis)) {
            assert!(number(&row["truth_deg"]) > 5.0, "{row:#}");
        }
    }
    // The sheet that goes to the pilot, on paper and by mail.
    support::paper::hold(&support::paper::print(&html), record);
    let mail = std::fs::read_to_string(&text_name).unwrap();
    for words in
        ["calibration simulated tumble of 20", "reversal, sensor error", "as measured", "as advised", "FOR THE PILOT"]
    {
        assert!(mail.contains(words), "no '{words}' in {mail}");
    }
    // Nothing simulated gets into the logbook of what was measured.
    assert!(!bench.logbook().exists());
}

/// The same helicopter behind the page: served on this machine alone, moved by the simulated hands that the page offers.
#[test]
fn the_demo_serves_the_page_and_moves_the_simulated_hands() {
    let bench = Bench::new();
    let mut demo = bench.start(&["demo", "--no-open", "--listen", "127.0.0.1:0"]);
    let line = demo.wait_for_said("The bench page: ");
    let host = line.split("http://").nth(1).unwrap().split('/').next().unwrap().to_owned();
    let ask = |request: String| {
        let mut line = TcpStream::connect(&host).unwrap();
        line.write_all(request.as_bytes()).unwrap();
        let mut answer = String::new();
        line.read_to_string(&mut answer).unwrap();
        answer
    };
    let page = ask(format!("GET /setup HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n"));
    assert!(page.starts_with("HTTP/1.1 200") && page.contains("<h1 id=\"sentence\">"), "{page}");
    let hand = |line: &str| {
        let body = serde_json::json!({ "line": line }).to_string();
        ask(format!(
            "POST /rig HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\nOrigin: http://{host}\r\nX-Clinoblade: 1\r\n\
             Content-Type: application/json\r\nContent-Length: {}\r\n\r\n{body}",
            body.len()
        ))
    };
    assert!(hand("stick elevator 100 over 0.5").starts_with("HTTP/1.1 204"));
    let refused = hand("stick nothing 100");
    assert!(refused.starts_with("HTTP/1.1 409") && refused.contains("said"), "{refused}");
}

/// As it is played where the system has no pseudo-terminals: the sensor is calibrated through what came over TCP.
#[test]
fn the_demo_is_played_over_tcp_too() {
    use rustix::process::{Pid, Signal, kill_process};
    let bench = Bench::new();
    let mut demo = bench.start(&["demo", "--terminal", "--autoplay", "--json", "--tcp"]);
    let address = demo.wait_for_said("127.0.0.1:");
    let port = address.split("127.0.0.1:").nth(1).unwrap().split(';').next().unwrap();
    let mut lines = BufReader::new(TcpStream::connect(format!("127.0.0.1:{port}")).unwrap()).lines();
    let line = lines.nth(1).unwrap().unwrap();
    assert!(line.starts_with("$PCLI"), "{line}");
    demo.wait_for_said("residual");
    kill_process(Pid::from_child(&demo.child), Signal::TERM).unwrap();
    demo.end(Duration::from_secs(30));
}

/// Asked to end, by Ctrl-C or by whoever started it, the demo takes its folder with it.
#[test]
fn a_demo_that_is_ended_leaves_nothing_behind() {
    use rustix::process::{Pid, Signal, kill_process};
    let page: &[&str] = &["demo", "--no-open", "--listen", "127.0.0.1:0"];
    let terminal: &[&str] = &["demo", "--terminal", "--autoplay", "--json"];
    for (arguments, said, signal, code) in [
        (page, "The bench page: ", Signal::TERM, 0),
        (page, "The bench page: ", Signal::INT, 0),
        (terminal, "1/", Signal::TERM, 1),
        (terminal, "1/", Signal::INT, 1),
    ] {
        let bench = Bench::new();
        let scratch = bench.path("scratch");
        std::fs::create_dir(&scratch).unwrap();
        let mut command = bench.command(arguments);
        command.env("TMPDIR", &scratch);
        let mut demo = support::bench::Running::new(command);
        demo.wait_for_said(said);
        let left = || std::fs::read_dir(&scratch).unwrap().count();
        assert_eq!(left(), 1, "{arguments:?} keeps its setup there");
        kill_process(Pid::from_child(&demo.child), signal).unwrap();
        let answer = demo.end(Duration::from_secs(30));
        assert_eq!((answer.code, left()), (code, 0), "{arguments:?} {signal:?}: {answer}");
    }
}
