//! A crowd at the door of a page on the network: nobody of it is paired, and none of it asks anything to its end. The device
//! that is paired does not notice.

use super::onlookers::{LONG, answer, connected, get, served, status};
use clinoblade::page::Pairing;
use rustix::process::{Resource, Rlimit, getrlimit, setrlimit};
use std::net::SocketAddr;
use std::time::{Duration, Instant};
use tokio::net::TcpStream;

/// So many at once.
const CROWD: usize = 400;
/// What an act may take beside them: a small part of the patience that the page has with each of them.
const AT_MOST: Duration = Duration::from_secs(1);

/// How long the slowest of a few acts takes, each on a connection of its own.
async fn slowest_act(at: SocketAddr, cookie: &str) -> Duration {
    let act = r#"{"do":"acknowledge","line":0}"#;
    let request = format!(
        "POST /act HTTP/1.1\r\nHost: {at}\r\nOrigin: http://{at}\r\nX-Clinoblade: 1\r\nConnection: close\r\nCookie: {cookie}\r\n\
         Content-Type: application/json\r\nContent-Length: {}\r\n\r\n{act}",
        act.len()
    );
    let mut slowest = Duration::ZERO;
    for _ in 0..10 {
        let begun = Instant::now();
        let answered = answer(connected(at, request.as_bytes()).await).await;
        assert!(matches!(status(&answered), 204 | 409), "after {:?}: {answered}", begun.elapsed());
        slowest = slowest.max(begun.elapsed());
    }
    slowest
}

/// Begins requests that are never ended.
async fn crowd(at: SocketAddr) -> Vec<TcpStream> {
    let begun = ["", "GET ", "GET / HTTP/1.1\r\nHost: x\r\nX-Slow: ", "GET /feed HTTP/1.1\r\n"];
    let mut lines = Vec::new();
    for number in 0..CROWD {
        lines.push(connected(at, begun[number % begun.len()].as_bytes()).await);
    }
    lines
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_crowd_at_the_door_does_not_hold_up_a_paired_device() {
    // Both ends of every line are files of this one process.
    let files = getrlimit(Resource::Nofile);
    let wanted = files.current.max(Some(files.maximum.map_or(4096, |most| most.min(4096))));
    setrlimit(Resource::Nofile, Rlimit { current: wanted, ..files }).unwrap();
    let (pairing, shown) = Pairing::new();
    let (at, _bench) = served(Some(pairing)).await;
    let token = shown.borrow().clone();
    let let_in = answer(connected(at, get(at, &format!("/pair?token={token}")).as_bytes()).await).await;
    let cookie =
        let_in.lines().find_map(|line| line.strip_prefix("set-cookie: ")?.split(';').next()).unwrap().to_owned();
    let alone = slowest_act(at, &cookie).await;
    // The page that looks on meanwhile is not hung up either.
    let mut feed =
        connected(at, format!("GET /feed HTTP/1.1\r\nHost: {at}\r\nCookie: {cookie}\r\n\r\n").as_bytes()).await;
    let mut slowest = Duration::ZERO;
    for _ in 0..3 {
        let _waiting = crowd(at).await;
        slowest = slowest.max(slowest_act(at, &cookie).await);
    }
    println!("{CROWD} at the door, three times: an act took {slowest:?} at most, {alone:?} without them");
    assert!(slowest < AT_MOST + 10 * alone, "{slowest:?} beside the crowd, {alone:?} alone");
    assert!(super::onlookers::sees(&mut feed, 1).await, "whoever is known keeps its place");
    assert!(slowest_act(at, &cookie).await < LONG);
}
