//! Who is let in: the page's server, asked by a client that keeps to none of a browser's rules.

use clinoblade::page::{HandLine, Page, Pairing, serve};
use clinoblade::record::Head;
use clinoblade::words;
use std::net::SocketAddr;
use std::sync::Arc;
use support::bench::LONG;
use support::conductor::Bench;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};

struct Served {
    address: SocketAddr,
    _bench: Bench,
    shown: Option<tokio::sync::watch::Receiver<String>>,
}

async fn served(paired: bool) -> Served {
    served_with(paired, None).await
}

async fn served_with(paired: bool, hands: Option<tokio::sync::mpsc::Sender<HandLine>>) -> Served {
    let bench = Bench::in_life(
        "seed = 1\nsensor.noise_density_ug_rthz = 150.0",
        Head::from_toml(&Head::template("Workshop trainer")).unwrap(),
    )
    .await;
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    let (pairing, shown) = if paired {
        let (pairing, shown) = Pairing::new();
        (Some(Arc::new(pairing)), Some(shown))
    } else {
        (None, None)
    };
    let page = Page::new(bench.conductor.clone(), address, hands, pairing);
    tokio::spawn(serve(listener, page));
    Served { address, _bench: bench, shown }
}

/// The whole answer to a request written by hand.
async fn ask(address: SocketAddr, request: &str) -> String {
    let mut line = TcpStream::connect(address).await.unwrap();
    line.write_all(request.as_bytes()).await.unwrap();
    let mut answer = Vec::new();
    let _ = tokio::time::timeout(LONG, line.read_to_end(&mut answer)).await;
    String::from_utf8_lossy(&answer).into_owned()
}

fn status(answer: &str) -> u16 {
    answer.split(' ').nth(1).and_then(|code| code.parse().ok()).unwrap_or(0)
}

fn get(address: SocketAddr, path: &str, more: &str) -> String {
    format!("GET {path} HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n{more}\r\n")
}

fn post(address: SocketAddr, path: &str, headers: &str, body: &str) -> String {
    format!(
        "POST {path} HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\nContent-Length: {}\r\n{headers}\r\n{body}",
        body.len()
    )
}

fn ours(address: SocketAddr) -> String {
    format!("Origin: http://{address}\r\nContent-Type: application/json\r\nX-Clinoblade: 1\r\n")
}

const ACKNOWLEDGE: &str = r#"{"do":"acknowledge","line":0}"#;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn only_our_own_page_moves_anything() {
    let served = served(false).await;
    let at = served.address;
    let whole = ours(at);
    assert_eq!(status(&ask(at, &post(at, "/act", &whole, ACKNOWLEDGE)).await), 204);
    // Each of the three marks of our own page is needed.
    for (missing, headers) in [
        ("origin", "Content-Type: application/json\r\nX-Clinoblade: 1\r\n".to_owned()),
        ("header", format!("Origin: http://{at}\r\nContent-Type: application/json\r\n")),
        ("json", format!("Origin: http://{at}\r\nContent-Type: text/plain\r\nX-Clinoblade: 1\r\n")),
        ("foreign", "Origin: http://evil.example\r\nContent-Type: application/json\r\nX-Clinoblade: 1\r\n".to_owned()),
    ] {
        assert_eq!(status(&ask(at, &post(at, "/act", &headers, ACKNOWLEDGE)).await), 403, "{missing}");
    }
    // A refusal is said in words, and named.
    let refused = ask(at, &post(at, "/act", &whole, r#"{"do":"arm"}"#)).await;
    assert!(status(&refused) == 409 && refused.contains(r#""refusal":{"kind":"cautions_first"}"#), "{refused}");
    for wrong in ["", "{", r#"{"do":"explode"}"#, r#"{"do":"acknowledge","line":-1}"#, r#"{"do":"arm","more":1}"#] {
        let answer = ask(at, &post(at, "/act", &whole, wrong)).await;
        assert!((400..500).contains(&status(&answer)), "{wrong}: {answer}");
    }
    // Nothing is changed by asking.
    assert_eq!(status(&ask(at, &get(at, "/act", "")).await), 405);
    assert_eq!(
        status(&ask(at, &post(at, "/rig", &whole, r#"{"line":"stick elevator 100"}"#)).await),
        404,
        "no simulated head"
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_name_that_points_here_reads_nothing() {
    let served = served(false).await;
    let at = served.address;
    assert_eq!(status(&ask(at, &get(at, "/", "")).await), 200);
    for host in
        ["evil.example".to_owned(), format!("evil.example:{}", at.port()), "127.0.0.1:1".to_owned(), String::new()]
    {
        let answer = ask(at, &format!("GET /feed HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n")).await;
        assert!(matches!(status(&answer), 400 | 403), "{host}: {answer}");
    }
    let page = ask(at, &get(at, "/", "")).await.to_lowercase();
    for header in [
        "content-security-policy: default-src 'none'; script-src 'self'",
        "x-content-type-options: nosniff",
        "referrer-policy: no-referrer",
        "cache-control: no-store",
    ] {
        assert!(page.contains(header), "{header}");
    }
    assert!(!page.contains("<script>") && !page.contains("onclick=") && !page.contains("style="), "nothing inline");
    for path in
        ["/assets/../Cargo.toml", "/assets/%2e%2e%2fmod.rs", "/assets//etc/passwd", "/pictures/none.svg", "/nothing"]
    {
        assert_eq!(status(&ask(at, &get(at, path, "")).await), 404, "{path}");
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_body_that_is_too_large_is_not_taken() {
    let served = served(false).await;
    let at = served.address;
    let large = format!(r#"{{"do":"redo","cell":"{}"}}"#, "x".repeat(5000));
    assert_eq!(status(&ask(at, &post(at, "/act", &ours(at), &large)).await), 413);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn where_others_can_reach_it_nothing_answers_without_pairing_and_each_code_lets_one_in() {
    let mut served = served(true).await;
    let at = served.address;
    for path in ["/", "/feed", "/assets/main.js", "/pictures/azimuth.svg"] {
        assert_eq!(status(&ask(at, &get(at, path, "")).await), 401, "{path}");
    }
    assert_eq!(status(&ask(at, &post(at, "/act", &ours(at), ACKNOWLEDGE)).await), 401);
    let shown = served.shown.as_mut().unwrap();
    let token = shown.borrow_and_update().clone();
    assert_eq!(status(&ask(at, &get(at, "/pair", "")).await), 401);
    assert_eq!(status(&ask(at, &get(at, "/pair?token=0", "")).await), 401);
    let answer = ask(at, &get(at, &format!("/pair?token={token}"), "")).await;
    assert_eq!(status(&answer), 303, "{answer}");
    let cookie = answer.lines().find_map(|line| line.strip_prefix("set-cookie: ")).unwrap().to_owned();
    assert!(cookie.contains("HttpOnly") && cookie.contains("SameSite=Strict"), "{cookie}");
    let cookie = format!("Cookie: other=1; {}\r\n", cookie.split(';').next().unwrap());
    assert_eq!(status(&ask(at, &get(at, "/", &cookie)).await), 200);
    assert_eq!(status(&ask(at, &get(at, "/", "Cookie: clinoblade=0\r\n")).await), 401);
    assert_eq!(status(&ask(at, &get(at, &format!("/pair?token={token}"), "")).await), 401, "each code once");
    assert!(shown.has_changed().unwrap(), "the next code is shown");
}

/// A blade that rests is read again and again; an onlooker is sent the sheet only when it has changed.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_blade_at_rest_sends_the_sheet_no_more() {
    let served = served(false).await;
    let at = served.address;
    let mut line = TcpStream::connect(at).await.unwrap();
    line.write_all(get(at, "/feed", "").as_bytes()).await.unwrap();
    let (mut seen, mut buffer) = (String::new(), vec![0; 64 * 1024]);
    let clocks = |seen: &str| -> Vec<f64> {
        let events = seen.split("event: live").skip(1);
        events.filter_map(|event| event.split_once("\"clock_s\":")?.1.split(',').next()?.parse().ok()).collect()
    };
    let lasted =
        |seen: &str| clocks(seen).last().copied().unwrap_or(0.0) - clocks(seen).first().copied().unwrap_or(0.0);
    while lasted(&seen) < 9.0 {
        let read = tokio::time::timeout(LONG, line.read(&mut buffer)).await.expect("it goes on").unwrap();
        assert!(read > 0, "{seen}");
        seen += &String::from_utf8_lossy(&buffer[..read]);
    }
    // Six readings of a second and a half; the first sheets say that the link is up, and how fast it is.
    let sheets = seen.matches("event: sheet").count();
    assert!((1..=4).contains(&sheets), "{sheets} sheets in {} s", lasted(&seen));
}

/// Somebody who has no code yet gets a field for it, a program the reason.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_unpaired_browser_gets_a_field_for_the_code() {
    let mut served = served(true).await;
    let at = served.address;
    let page = ask(at, &get(at, "/", "Accept: text/html,*/*\r\n")).await;
    assert!(
        status(&page) == 401 && page.contains("<form action=\"/pair\"") && page.contains("name=\"token\""),
        "{page}"
    );
    assert!(!page.contains("<script") && !page.contains("motor"), "{page}");
    let wrong = ask(at, &get(at, "/pair?token=0", "Accept: text/html\r\n")).await;
    assert!(status(&wrong) == 401 && wrong.contains(words::page::CODE_USED) && wrong.contains("<form"), "{wrong}");
    let json = ask(at, &get(at, "/", "")).await;
    assert!(status(&json) == 401 && json.contains("\"said\""), "{json}");
    // What the form sends is what a scanned code sends.
    let token = served.shown.as_mut().unwrap().borrow_and_update().clone();
    assert_eq!(status(&ask(at, &get(at, &format!("/pair?token={token}"), "Accept: text/html\r\n")).await), 303);
}

/// A page that was opened and never reads holds nothing up: the others get their events in time.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_sleeping_onlooker_holds_nobody_up() {
    let served = served(false).await;
    let at = served.address;
    let mut asleep = Vec::new();
    for _ in 0..20 {
        let mut line = TcpStream::connect(at).await.unwrap();
        line.write_all(get(at, "/feed", "").as_bytes()).await.unwrap();
        asleep.push(line);
    }
    for line in &asleep {
        line.readable().await.unwrap();
    }
    let mut line = TcpStream::connect(at).await.unwrap();
    line.write_all(get(at, "/feed", "").as_bytes()).await.unwrap();
    let (mut seen, mut buffer) = (String::new(), vec![0; 64 * 1024]);
    while seen.matches("event: live").count() <= 60 {
        let read = tokio::time::timeout(LONG, line.read(&mut buffer)).await.expect("it goes on").unwrap();
        assert!(read > 0, "{seen}");
        seen += &String::from_utf8_lossy(&buffer[..read]);
    }
    assert!(seen.find("event: sheet").unwrap() < seen.find("event: trace").unwrap(), "first the whole sheet");
    // Thirty a second of the stream's own time, and no more than that.
    let clocks: Vec<f64> = seen
        .split("event: live")
        .skip(1)
        .filter_map(|event| event.split_once("\"clock_s\":")?.1.split(',').next()?.parse().ok())
        .collect();
    assert!(clocks.len() >= 60, "{seen}");
    let (count, lasted) = (clocks.len() - 1, clocks[clocks.len() - 1] - clocks[0]);
    println!("{count} live readings in {lasted:.2} s beside 20 sleepers");
    assert!(count as f64 <= lasted * 30.0 * 1.1, "{count} in {lasted} s");
}

/// The simulated hands move what a person moves. What would end the head, make it wait or tell the truth is not theirs.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_simulated_hands_do_what_a_person_does_and_nothing_else() {
    let (hands, mut inbox) = tokio::sync::mpsc::channel::<HandLine>(16);
    let served = served_with(false, Some(hands)).await;
    let at = served.address;
    let (done, mut seen) = tokio::sync::mpsc::unbounded_channel();
    let mover = tokio::spawn(async move {
        while let Some((line, reply)) = inbox.recv().await {
            let answer = if line.ends_with("nowhere") { Err("no such place".to_owned()) } else { Ok("ok".to_owned()) };
            let _ = done.send(line);
            let _ = reply.send(answer);
        }
    });
    let hand = async |line: &str| {
        let body = serde_json::json!({ "line": line }).to_string();
        ask(at, &post(at, "/rig", &ours(at), &body)).await
    };
    for line in [
        "stick elevator 100 over 0.5",
        "head 270 over 1.5",
        "clip B reversed over 1.5",
        "tail up",
        "cable lifted over 1",
        "tilt 1 0 over 1",
        "unplug",
        "replug",
    ] {
        assert_eq!(status(&hand(line).await), 204, "{line}");
        assert_eq!(seen.try_recv().as_deref(), Ok(line), "it reaches the hands as it was said");
    }
    for line in
        ["quit", "wait 5", "truth", "endpoint elevator up 0", "adjust link A 2", "", "  ", "sticks", "STICK elevator 1"]
    {
        let answer = hand(line).await;
        assert!(status(&answer) == 400 && answer.contains(words::page::HANDS_DO_NOT), "{line}: {answer}");
    }
    for body in ["", "{}", "[]", r#"{"line":1}"#, r#"{"line":"unplug","more":1}"#] {
        let answer = ask(at, &post(at, "/rig", &ours(at), body)).await;
        assert!(status(&answer) == 400 && answer.contains(words::page::HANDS_DO_NOT_UNDERSTAND), "{body}: {answer}");
    }
    assert!(seen.try_recv().is_err(), "nothing of this has reached the hands");
    let answer = hand("head nowhere").await;
    assert!(status(&answer) == 409 && answer.contains("no such place"), "what they cannot do they say: {answer}");
    mover.abort();
    let _ = mover.await;
    let answer = hand("unplug").await;
    assert!(status(&answer) == 409 && answer.contains(words::page::HEAD_ENDED), "{answer}");
}
