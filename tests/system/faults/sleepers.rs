//! Pages that ask and then never read. What a kernel keeps for them is soon full, and the server's writes wait: everybody else
//! is served meanwhile, and the places come free although nobody closes.

use super::onlookers::{LONG, answer, connected, get, status, workshop};
use clinoblade::page::{Page, serve};
use rustix::process::{Resource, Rlimit, getrlimit, setrlimit};
use std::net::SocketAddr;
use std::time::{Duration, Instant};
use support::conductor::Bench;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpSocket, TcpStream};
use tokio::time::timeout;

/// What is kept at either end, so that a write soon waits.
const SMALL: u32 = 4096;
/// How long such a write waits here.
const PATIENCE: Duration = Duration::from_secs(4);
/// Onlookers at once, and connections.
const FEEDS: usize = 64;
const CONNECTIONS: usize = 256;

async fn served() -> (SocketAddr, Bench) {
    // Both ends of every line are files of this one process.
    let files = getrlimit(Resource::Nofile);
    let wanted = files.current.max(Some(files.maximum.map_or(4096, |most| most.min(4096))));
    setrlimit(Resource::Nofile, Rlimit { current: wanted, ..files }).unwrap();
    let bench = workshop().await;
    let socket = TcpSocket::new_v4().unwrap();
    socket.set_send_buffer_size(SMALL).unwrap();
    socket.bind(SocketAddr::from(([127, 0, 0, 1], 0))).unwrap();
    let listener = socket.listen(1024).unwrap();
    let address = listener.local_addr().unwrap();
    tokio::spawn(serve(listener, Page::new(bench.conductor.clone(), address, None, None).with_patience(PATIENCE)));
    (address, bench)
}

/// Asks, and takes nothing of what comes: its beginning is looked at and left where it is.
async fn asleep(address: SocketAddr, asked: &str) -> (TcpStream, u16) {
    let socket = TcpSocket::new_v4().unwrap();
    socket.set_recv_buffer_size(SMALL).unwrap();
    let mut line = timeout(LONG, socket.connect(address)).await.unwrap().unwrap();
    line.write_all(asked.as_bytes()).await.unwrap();
    let (begun, mut start) = (Instant::now(), [0; 16]);
    loop {
        let there = timeout(LONG, line.peek(&mut start)).await.expect("an answer in time").unwrap();
        if there == start.len() {
            return (line, status(&String::from_utf8_lossy(&start)));
        }
        assert!(begun.elapsed() < LONG, "{start:?}");
        tokio::time::sleep(Duration::from_millis(5)).await;
    }
}

/// An onlooker that reads for as long as it gets something.
fn awake(mut line: TcpStream) -> tokio::task::JoinHandle<()> {
    tokio::spawn(async move {
        let mut events = [0; 4096];
        while line.read(&mut events).await.is_ok_and(|read| read > 0) {}
    })
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn pages_that_sleep_give_their_places_back_without_closing() {
    let (at, _bench) = served().await;
    let mut readers = vec![awake(connected(at, get(at, "/feed").as_bytes()).await)];
    let mut sleepers = Vec::new();
    loop {
        let (line, code) = asleep(at, &get(at, "/feed")).await;
        if code == 503 {
            break;
        }
        assert_eq!(code, 200);
        sleepers.push(line);
        assert!(sleepers.len() < CONNECTIONS, "somewhere there is an end");
    }
    assert!(sleepers.len() >= FEEDS - 1, "{} asleep", sleepers.len());
    let page = answer(connected(at, get(at, "/").as_bytes()).await).await;
    assert_eq!(status(&page), 200, "the page itself is there for all");
    // One after the other their places are taken by those that read.
    let (begun, mut refused) = (Instant::now(), 0);
    while readers.len() < FEEDS {
        let (line, code) = asleep(at, &get(at, "/feed")).await;
        if code == 200 {
            readers.push(awake(line));
        } else {
            refused += 1;
            tokio::time::sleep(Duration::from_millis(100)).await;
        }
        assert!(begun.elapsed() < LONG, "{} see something, the others' places are kept", readers.len());
    }
    let took = begun.elapsed();
    assert!(!readers[0].is_finished(), "whoever reads is not let go, however long it looks on");
    println!(
        "{} pages asleep, none of which closed: {} others had their places after {:.1} s and {refused} refusals",
        sleepers.len(),
        readers.len() - 1,
        took.as_secs_f64()
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn connections_that_ask_for_much_and_never_read_shut_nobody_out() {
    let (at, _bench) = served().await;
    let much = format!("GET /assets/main.js HTTP/1.1\r\nHost: {at}\r\n\r\n").repeat(100);
    let mut sleepers = Vec::new();
    for _ in 0..CONNECTIONS {
        let (line, code) = asleep(at, &much).await;
        assert_eq!(code, 200);
        sleepers.push(line);
    }
    let begun = Instant::now();
    let page = answer(connected(at, get(at, "/").as_bytes()).await).await;
    assert_eq!(status(&page), 200, "after {:?}: {page}", begun.elapsed());
    println!(
        "{} connections asked for much and read nothing: the next one was answered after {:.1} s",
        sleepers.len(),
        begun.elapsed().as_secs_f64()
    );
}
