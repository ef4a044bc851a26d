//! The bench page while the server of a shared logbook is lost: what waits is shown, arrives by itself, and is waited for.

use super::{Bench, Server};
use serde_json::Value;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Child, ChildStderr, Stdio};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};
use support::bench::LONG;

/// A page with the cautions read and one end left out, which will be recorded when the setup is to be closed.
struct Page {
    child: Child,
    said: BufReader<ChildStderr>,
    host: String,
    sheet: Arc<Mutex<Value>>,
}

impl Page {
    fn open(bench: &Bench) -> Self {
        let scenario = bench.home.path().join("scenario.toml");
        std::fs::write(&scenario, "seed = 4\nsensor.noise_density_ug_rthz = 150.0\n").unwrap();
        let scenario = scenario.to_str().unwrap();
        let mut command =
            bench.command(&["bench", "--rig", scenario, "--paced", "--listen", "127.0.0.1:0", "--no-open"]);
        let mut child = command.stdout(Stdio::null()).stderr(Stdio::piped()).spawn().unwrap();
        let mut said = BufReader::new(child.stderr.take().unwrap());
        let mut line = String::new();
        while !line.starts_with("The bench page: ") {
            line.clear();
            assert_ne!(said.read_line(&mut line).unwrap(), 0, "it ended before it served its page");
        }
        let host = line.split("http://").nth(1).unwrap().split('/').next().unwrap().to_owned();
        let page = Self { child, said, sheet: feed(&host), host };
        page.wait_for("the first sheet", |sheet| sheet["order"].is_array());
        for line in 0..page.sheet()["cautions"].as_array().unwrap().len() {
            page.done(&format!(r#"{{"do":"acknowledge","line":{line}}}"#));
        }
        let sheet = page.sheet();
        let order = sheet["order"].as_array().unwrap();
        let up = order.iter().find(|line| line["label"] == "elevator up").unwrap();
        page.done(&format!(r#"{{"do":"go to","id":{}}}"#, up["id"]));
        page.done(r#"{"do":"skip"}"#);
        page
    }

    fn sheet(&self) -> Value {
        self.sheet.lock().unwrap().clone()
    }

    fn wait_for(&self, what: &str, holds: impl Fn(&Value) -> bool) {
        let patience = Instant::now() + LONG;
        while !holds(&self.sheet()) {
            assert!(Instant::now() < patience, "never {what}: {:#}", self.sheet());
            std::thread::sleep(Duration::from_millis(50));
        }
    }

    /// The whole answer to an act.
    fn act(&self, act: &str) -> String {
        let host = &self.host;
        let mut line = TcpStream::connect(host).unwrap();
        let ours = format!("Origin: http://{host}\r\nContent-Type: application/json\r\nX-Clinoblade: 1");
        let length = act.len();
        let asked = format!(
            "POST /act HTTP/1.1\r\nHost: {host}\r\n{ours}\r\nContent-Length: {length}\r\nConnection: close\r\n\r\n{act}"
        );
        line.write_all(asked.as_bytes()).unwrap();
        let mut answer = String::new();
        line.read_to_string(&mut answer).unwrap();
        answer
    }

    fn done(&self, act: &str) {
        let answer = self.act(act);
        assert!(answer.starts_with("HTTP/1.1 204"), "{act}: {answer}");
    }

    /// The server is lost, and the setup is to be closed: what was left out is kept here, and the setup stays open.
    fn is_not_closed_without(&self, server: &Server) {
        server.kill();
        let answer = self.act(r#"{"do":"finish"}"#);
        assert!(answer.starts_with("HTTP/1.1 409"), "{answer}");
        assert!(answer.contains("is still open: 1 entry waits on this bench"), "{answer}");
        self.wait_for("that one entry waits", |sheet| sheet["waiting"] == 1);
        let said = self.sheet()["waits"].to_string();
        assert!(said.contains("1 entry waits on this bench for the shared logbook; nothing is lost."), "{said}");
        assert_eq!(self.sheet()["finished"], false);
    }

    /// Ended as Ctrl-C ends it, the feed still open; what it said.
    fn end(mut self) -> String {
        let pid = rustix::process::Pid::from_child(&self.child);
        rustix::process::kill_process(pid, rustix::process::Signal::INT).unwrap();
        let patience = Instant::now() + LONG;
        let ended = loop {
            if let Some(ended) = self.child.try_wait().unwrap() {
                break ended;
            }
            assert!(Instant::now() < patience, "it does not end");
            std::thread::sleep(Duration::from_millis(50));
        };
        let mut said = String::new();
        self.said.read_to_string(&mut said).unwrap();
        assert!(ended.success(), "{said}");
        said
    }
}

impl Drop for Page {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// The newest sheet of the page.
fn feed(host: &str) -> Arc<Mutex<Value>> {
    let mut line = TcpStream::connect(host).unwrap();
    write!(line, "GET /feed HTTP/1.1\r\nHost: {host}\r\n\r\n").unwrap();
    let sheet = Arc::new(Mutex::new(Value::Null));
    let newest = Arc::clone(&sheet);
    std::thread::spawn(move || {
        let mut event = String::new();
        for text in BufReader::new(line).lines() {
            let Ok(text) = text else { return };
            if let Some(name) = text.strip_prefix("event: ") {
                name.clone_into(&mut event);
            } else if let Some(data) = text.strip_prefix("data: ")
                && event == "sheet"
            {
                *newest.lock().unwrap() = serde_json::from_str(data).unwrap();
            }
        }
    });
    sheet
}

#[test]
fn what_waits_is_shown_on_the_page_arrives_by_itself_and_the_setup_is_closed_after_it() {
    let server = Server::start();
    let bench = Bench::new("by the window", &server.database("book"));
    bench.begins_a_setup();
    let page = Page::open(&bench);
    assert_eq!(page.sheet()["waiting"], 0);
    page.is_not_closed_without(&server);
    server.up();
    // Nobody does anything.
    page.wait_for("that nothing waits any more", |sheet| sheet["waiting"] == 0);
    assert!(page.sheet()["waits"].is_null());
    let left_out = "SELECT count(*) FROM entries WHERE kind = 'skipped'";
    assert_eq!(server.ask("book", left_out), "1");
    page.done(r#"{"do":"finish"}"#);
    page.wait_for("that it is finished", |sheet| sheet["finished"] == true);
    assert_eq!(server.ask("book", left_out), "1", "it is there once");
    assert_eq!(server.ask("book", "SELECT count(*) FROM setups WHERE closed_at IS NOT NULL"), "1");
    let said = page.end();
    assert!(!said.contains("on this bench for the shared logbook"), "{said}");
}

/// The page is opened while the server is down: the cautions and what is recorded wait here, and arrive once.
#[test]
fn a_page_that_is_opened_during_an_outage_goes_on() {
    let server = Server::start();
    let bench = Bench::new("by the window", &server.database("book"));
    bench.begins_a_setup();
    server.kill();
    let page = Page::open(&bench);
    page.wait_for("that the cautions wait", |sheet| sheet["waiting"] == 1);
    let answer = page.act(r#"{"do":"finish"}"#);
    assert!(answer.starts_with("HTTP/1.1 409") && answer.contains("is still open: 2 entries wait"), "{answer}");
    server.up();
    page.wait_for("that nothing waits any more", |sheet| sheet["waiting"] == 0);
    page.done(r#"{"do":"finish"}"#);
    page.wait_for("that it is finished", |sheet| sheet["finished"] == true);
    assert_eq!(server.ask("book", "SELECT count(*) FROM entries WHERE kind = 'skipped'"), "1");
    let cautions = r#"SELECT count(*) FROM setups WHERE document LIKE '%"cautions_acknowledged_at":"%'"#;
    assert_eq!(server.ask("book", cautions), "1");
    page.end();
}

#[test]
fn a_session_that_ends_while_something_waits_says_so() {
    let server = Server::start();
    let bench = Bench::new("by the window", &server.database("book"));
    bench.begins_a_setup();
    let page = Page::open(&bench);
    page.is_not_closed_without(&server);
    let said = page.end();
    assert!(said.contains("1 entry waits on this bench for the shared logbook"), "{said}");
    server.up();
    let next = bench.run(&["check"]);
    let said = String::from_utf8_lossy(&next.stderr);
    assert!(said.contains("1 entry that waited on this bench has reached the shared logbook."), "{said}");
}

/// Another bench has closed the setup meanwhile: what still waits here is not lost, and the way out is named.
#[test]
fn what_waits_for_a_setup_that_was_closed_elsewhere_says_how_it_gets_there() {
    let server = Server::start();
    let book = server.database("book");
    let bench = Bench::new("by the window", &book);
    bench.begins_a_setup();
    let page = Page::open(&bench);
    page.is_not_closed_without(&server);
    page.end();
    server.up();
    assert!(Bench::new("at the door", &book).run(&["setup", "close", "1"]).status.success());
    let refused = bench.run(&["setup", "close", "1"]);
    let said = String::from_utf8_lossy(&refused.stderr);
    assert!(!refused.status.success() && said.contains("was closed at another bench while 1 entry waits"), "{said}");
    assert!(said.contains("`clinoblade setup resume 1`"), "{said}");
    assert!(bench.run(&["setup", "resume", "1"]).status.code().is_some_and(|code| code <= 1));
    assert!(bench.run(&["setup", "close", "1"]).status.success());
    assert_eq!(server.ask("book", "SELECT count(*) FROM entries WHERE kind = 'skipped'"), "1");
}
