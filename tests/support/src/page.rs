//! The page's server, asked as a browser asks it.

use crate::bench::LONG;
use serde_json::Value;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::{Duration, Instant};

fn ask(host: &str, request: &str) -> (u16, String) {
    let mut line = TcpStream::connect(host).unwrap();
    line.write_all(request.as_bytes()).unwrap();
    let mut answer = Vec::new();
    line.read_to_end(&mut answer).unwrap();
    let answer = String::from_utf8_lossy(&answer).into_owned();
    let status = answer.split(' ').nth(1).and_then(|code| code.parse().ok()).unwrap_or(0);
    (status, answer.split_once("\r\n\r\n").map(|(_, body)| body.to_owned()).unwrap_or_default())
}

/// What is answered to this, as JSON.
pub fn get(host: &str, path: &str) -> Value {
    let (status, body) = ask(host, &format!("GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n"));
    assert_eq!(status, 200, "{path}: {body}");
    serde_json::from_str(&body).unwrap_or_else(|error| panic!("{path}: {error}: {body}"))
}

/// The same, again and again until it passes.
pub fn until(host: &str, path: &str, passes: impl Fn(&Value) -> bool) -> Value {
    let deadline = Instant::now() + LONG;
    loop {
        let found = get(host, path);
        if passes(&found) {
            return found;
        }
        assert!(Instant::now() < deadline, "{path} stays {found:#}");
        std::thread::sleep(Duration::from_millis(200));
    }
}

/// Status and answer of what is done.
pub fn post(host: &str, path: &str, body: &Value) -> (u16, String) {
    let body = body.to_string();
    ask(
        host,
        &format!(
            "POST {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\nOrigin: http://{host}\r\nX-Clinoblade: 1\r\n\
             Content-Type: application/json\r\nContent-Length: {}\r\n\r\n{body}",
            body.len()
        ),
    )
}
