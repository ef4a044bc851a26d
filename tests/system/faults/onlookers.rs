//! Whoever connects to the page and then does not behave: reads nothing, writes a byte a second, asks for too much, comes
//! by another name, climbs about in paths. Nobody else waits for them, and nothing is let in that should not be.

use clinoblade::page::{Page, Pairing, serve};
use clinoblade::record::Head;
use std::net::SocketAddr;
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::time::{Duration, Instant};
use support::bench::Bench as Workshop;
use support::conductor::Bench;
use support::dice::Dice;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::time::timeout;

/// More than any answer takes on a busy machine.
pub use support::bench::LONG;

pub async fn workshop() -> Bench {
    Bench::in_life(
        "seed = 1\nsensor.noise_density_ug_rthz = 150.0",
        Head::from_toml(&Head::template("Workshop trainer")).unwrap(),
    )
    .await
}

pub async fn served(pairing: Option<Pairing>) -> (SocketAddr, Bench) {
    let bench = workshop().await;
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    tokio::spawn(serve(listener, Page::new(bench.conductor.clone(), address, None, pairing.map(Arc::new))));
    (address, bench)
}

pub async fn connected(address: SocketAddr, said: &[u8]) -> TcpStream {
    let mut line = timeout(LONG, TcpStream::connect(address)).await.unwrap().unwrap();
    // A server that has heard enough may have hung up already.
    let _ = line.write_all(said).await;
    line
}

/// The whole answer; empty when it hung up without one.
pub async fn answer(mut line: TcpStream) -> String {
    let mut answer = Vec::new();
    let _ = timeout(LONG, line.read_to_end(&mut answer)).await.expect("an answer or a hang-up in time");
    String::from_utf8_lossy(&answer).into_owned()
}

pub fn status(answer: &str) -> u16 {
    answer.split(' ').nth(1).and_then(|code| code.parse().ok()).unwrap_or(0)
}

pub fn get(address: SocketAddr, path: &str) -> String {
    format!("GET {path} HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n")
}

/// Reads events until so many live readings came.
pub async fn sees(line: &mut TcpStream, live: usize) -> bool {
    let (mut seen, mut buffer, begun) = (String::new(), vec![0; 16 * 1024], Instant::now());
    while begun.elapsed() < LONG {
        match timeout(LONG, line.read(&mut buffer)).await {
            Ok(Ok(read)) if read > 0 => seen += &String::from_utf8_lossy(&buffer[..read]),
            _ => return false,
        }
        if seen.matches("event: live").count() >= live {
            return seen.contains("event: sheet");
        }
    }
    false
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn of_fifty_onlookers_half_never_read_and_the_others_see_everything() {
    let (at, bench) = served(None).await;
    let mut lines = Vec::new();
    for _ in 0..50 {
        lines.push(connected(at, get(at, "/feed").as_bytes()).await);
    }
    // Long enough for what is sent to the sleepers to pile up at their end.
    let mut awake = lines.split_off(25);
    let seen: Vec<_> = awake.iter_mut().map(|line| sees(line, 30)).collect();
    let seen = futures_util::future::join_all(seen).await;
    assert_eq!(
        seen.iter().filter(|all| **all).count(),
        25,
        "each of those that read sees the sheet and 30 live readings"
    );
    assert!(bench.logbook.setups(None, 9).await.is_ok());
    // Fourteen more are let in; then it is said that there are enough.
    let mut more = Vec::new();
    let refused = loop {
        let mut line = connected(at, get(at, "/feed").as_bytes()).await;
        let mut start = vec![0; 200];
        let read = timeout(LONG, line.read(&mut start)).await.unwrap().unwrap();
        let start = String::from_utf8_lossy(&start[..read]).into_owned();
        if status(&start) != 200 {
            break start;
        }
        more.push(line);
        assert!(more.len() <= 64, "somewhere there is an end");
    };
    assert_eq!(status(&refused), 503, "{refused}");
    assert_eq!(
        status(&answer(connected(at, get(at, "/").as_bytes()).await).await),
        200,
        "the page itself is there for all"
    );
    // Whoever closes makes room again.
    let let_in = more.len();
    drop((lines, awake, more));
    let begun = Instant::now();
    loop {
        let mut line = connected(at, get(at, "/feed").as_bytes()).await;
        if sees(&mut line, 1).await {
            break;
        }
        assert!(begun.elapsed() < LONG, "closed pages keep their places");
        tokio::time::sleep(Duration::from_millis(200)).await;
    }
    println!(
        "50 onlookers, 25 of whom never read: the others saw everything; {let_in} more were let in, the next one was told"
    );
}

/// Requests that never end, a byte now and then, more of them than the program may have files open. Each is hung up in its
/// turn, and whoever asks properly is answered.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn requests_that_never_end_shut_nobody_out() {
    const SLOW: usize = 150;
    let bench = Workshop::new();
    let program = bench.command(&["demo", "--no-open", "--json", "--listen", "127.0.0.1:0"]);
    let mut limited = Command::new("sh");
    limited.args(["-c", "ulimit -n 100; exec \"$@\"", "sh"]).arg(program.get_program()).args(program.get_args());
    limited.envs(program.get_envs().filter_map(|(name, value)| Some((name, value?))));
    limited.current_dir(bench.path("")).stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut running = support::bench::Running::new(limited);
    let line = running.wait_for_line("the page's address", |line| line.contains("url"));
    let url = serde_json::from_str::<serde_json::Value>(&line).unwrap()["url"].as_str().unwrap().to_owned();
    let at: SocketAddr = url.trim_start_matches("http://").trim_end_matches('/').parse().unwrap();
    let kinds = ["", "GET ", "GET / HTTP/1.1\r\nHost: x\r\nX-Slow: "];
    let body = format!(
        "POST /act HTTP/1.1\r\nHost: {at}\r\nOrigin: http://{at}\r\nX-Clinoblade: 1\r\n\
        Content-Type: application/json\r\nContent-Length: 1000\r\n\r\n{{"
    );
    let mut slow = Vec::new();
    for number in 0..SLOW {
        let begun = if number % 4 == 3 { body.as_str() } else { kinds[number % 4] };
        let (mut answered, mut line) = connected(at, begun.as_bytes()).await.into_split();
        slow.push(tokio::spawn(async move {
            let dripping = tokio::spawn(async move {
                while line.write_all(b"x").await.is_ok() {
                    tokio::time::sleep(Duration::from_secs(1)).await;
                }
            });
            let mut answer = Vec::new();
            // To its end, which is the server's: nobody hangs up here.
            let _ = answered.read_to_end(&mut answer).await;
            dripping.abort();
            String::from_utf8_lossy(&answer).into_owned()
        }));
    }
    let begun = Instant::now();
    let page = answer(connected(at, get(at, "/").as_bytes()).await).await;
    assert_eq!(status(&page), 200, "after {:?}: {page}", begun.elapsed());
    let answered = begun.elapsed();
    let ended = timeout(LONG, futures_util::future::join_all(slow)).await.expect("each of them is hung up in time");
    let mut too_slow = 0;
    for (number, answer) in ended.into_iter().map(Result::unwrap).enumerate() {
        let code = status(&answer);
        assert!(answer.is_empty() || code == 408, "{number}: {answer}");
        too_slow += usize::from(code == 408);
    }
    println!(
        "{SLOW} requests that never end: the page answered after {:.1} s, all were hung up after {:.1} s, {too_slow} of them \
         told that they are too slow",
        answered.as_secs_f64(),
        begun.elapsed().as_secs_f64()
    );
    assert!(too_slow > 0, "those whose body does not come are told");
}

/// What no browser would send. None is answered with anything of the page, none moves anything, none ends the server.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_is_too_large_or_comes_under_another_name_is_refused() {
    let (at, bench) = served(None).await;
    let host = format!("Host: {at}\r\n");
    let ours = format!("{host}Origin: http://{at}\r\nX-Clinoblade: 1\r\nContent-Type: application/json\r\n");
    let act = r#"{"do":"acknowledge","line":0}"#;
    let length = act.len();
    let of = |line: &str, rest: &str| format!("{line}\r\n{rest}\r\n");
    let long = |n: usize| "x".repeat(n);
    // What the page itself would send, and that but for one thing.
    let own = format!("{}{act}", of("POST /act HTTP/1.1", &format!("{ours}Content-Length: {length}\r\n")));
    let ours_but = |from: &str, to: &str| {
        assert!(own.contains(from), "{from}");
        own.replacen(from, to, 1)
    };
    let mut tries = vec![
        // Too much.
        of("GET / HTTP/1.1", &format!("{host}X-Long: {}\r\n", long(2_000_000))),
        of(&format!("GET /{} HTTP/1.1", long(200_000)), &host),
        of("GET / HTTP/1.1", &format!("{host}{}", "X-Many: 1\r\n".repeat(5000))),
        format!("{}{}", of("POST /act HTTP/1.1", &format!("{ours}Content-Length: 6000000\r\n")), long(100_000)),
        format!("{}{}", of("POST /act HTTP/1.1", &format!("{ours}Content-Length: 99999999999999999999\r\n")), act),
        format!(
            "{}{}",
            of("POST /act HTTP/1.1", &format!("{ours}Transfer-Encoding: chunked\r\n")),
            "fff\r\n".to_owned() + &long(0xfff) + "\r\nfff\r\n" + &long(0xfff) + "\r\n"
        ),
        // One length and another.
        format!(
            "{}{act}",
            of("POST /act HTTP/1.1", &format!("{ours}Content-Length: {length}\r\nContent-Length: 3\r\n"))
        ),
        // Another name, or two.
        of("GET / HTTP/1.1", "Host: evil.example\r\n"),
        of("GET / HTTP/1.1", "Host: 127.0.0.1.evil.example:80\r\n"),
        of("GET / HTTP/1.1", ""),
        of("GET / HTTP/1.1", "Host: \r\n"),
        of("GET / HTTP/1.1", &format!("Host: user@{at}\r\n")),
        of("GET / HTTP/1.1", &format!("Host: {at}/../\r\n")),
        of("GET / HTTP/1.1", &format!("Host: evil.example\r\nX-Forwarded-Host: {at}\r\n")),
        ours_but(&host, ""),
        ours_but(&host, &host.repeat(2)),
        ours_but(&host, &format!("{host}Host: evil.example\r\n")),
        ours_but(&host, &format!("Host: evil.example\r\n{host}")),
        of("GET / HTTP/1.0", ""),
        // Another origin, or another kind of body.
        ours_but("Origin: http://", "Origin: https://"),
        ours_but(&format!("Origin: http://{at}"), "Origin: null"),
        ours_but(&format!("Origin: http://{at}"), "Referer: http://evil.example/"),
        ours_but("application/json", "application/jsonx"),
        format!("{}{act}", of("PUT /act HTTP/1.1", &format!("{ours}Content-Length: {length}\r\n"))),
        of("TRACE / HTTP/1.1", &host),
        of(
            "OPTIONS /act HTTP/1.1",
            &format!("{host}Origin: http://evil.example\r\nAccess-Control-Request-Method: POST\r\n"),
        ),
        of("CONNECT evil.example:80 HTTP/1.1", &host),
        "\0\0\0\0\r\n\r\n".to_owned(),
        "PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n".to_owned(),
        "\x16\x03\x01\x02\0\x01\0\x01\u{7f}\x03".to_owned() + "\r\n\r\n",
    ];
    // Paths that climb.
    let paths = [
        "/assets/../../../../etc/passwd",
        "/assets/..%2f..%2f..%2fetc%2fpasswd",
        "/assets/%2e%2e/%2e%2e/etc/passwd",
        "/assets/..\\..\\etc\\passwd",
        "/assets/..%5c..%5cetc%5cpasswd",
        "/assets/....//....//etc/passwd",
        "/assets/main.js%00.css",
        "/assets/%c0%ae%c0%ae/etc/passwd",
        "/assets/%25%32%65%25%32%65%25%32%66etc",
        "/assets/",
        "/assets",
        "//assets/main.js",
        "/pictures/../../etc/passwd.svg",
        "/pictures/%2e%2e%2fx.svg",
        "/pictures/%00.svg",
        "/.git/config",
        "/act/../feed",
        "/%66eed",
        "/feed/",
        "/feed%2f",
        "/assets/main.js/",
        "/assets/%ff%fe",
        "/rig",
        "/assets/main.js;x=/etc/passwd",
        "/pair/../feed",
    ];
    tries.extend(paths.map(|path| of(&format!("GET {path} HTTP/1.1"), &format!("{host}Connection: close\r\n"))));
    let mut dice = Dice::new(6);
    let good = of("GET / HTTP/1.1", &host);
    for _ in 0..150 {
        // A good request with bytes of it changed.
        let mut bytes = good.clone().into_bytes();
        for _ in 0..=dice.below(3) {
            let place = dice.below(bytes.len() - 4);
            bytes[place] = b' ' + dice.byte() % 90;
        }
        tries.push(String::from_utf8(bytes).unwrap());
    }
    let before = bench.sheet();
    let count = tries.len();
    let mut refused = 0;
    for request in tries {
        let mut line = connected(at, request.as_bytes()).await;
        // Nothing more will come.
        let _ = line.shutdown().await;
        let answered = answer(line).await;
        let shown: String = request.chars().take(80).collect();
        let code = status(&answered);
        let changed = request.len() == good.len();
        assert!(matches!(code, 0 | 400..=431 | 501 | 505) || (changed && code == 200), "{shown:?}: {answered}");
        assert!(!answered.contains("root:") && !answered.contains("[core]"), "{shown:?}");
        refused += usize::from(code != 200);
    }
    let after = bench.sheet();
    assert_eq!((&after.cautions, &after.step), (&before.cautions, &before.step), "nothing has moved");
    // The page's own request would have.
    assert!(!before.cautions[0].acknowledged);
    assert_eq!(
        status(&answer(connected(at, ours_but("Host", "Connection: close\r\nHost").as_bytes()).await).await),
        204
    );
    let mut sheets = bench.conductor.sheet();
    let moved = timeout(LONG, sheets.wait_for(|sheet| sheet.cautions[0].acknowledged)).await;
    assert!(moved.is_ok_and(|sheet| sheet.is_ok()), "our own page moves what nothing else did");
    assert_eq!(status(&answer(connected(at, get(at, "/").as_bytes()).await).await), 200, "and it answers");
    println!(
        "{count} requests that no browser sends: {refused} refused, the others were none the worse for it; nothing moved"
    );
}

/// A request names its host, once (RFC 9112, 3.2); a browser leaves out the port of its scheme, which is 80.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_host_is_named_once_and_its_port_may_be_left_out_where_it_is_80() {
    let bench = workshop().await;
    let mut tried = 0;
    for port in [0, 80] {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let at = listener.local_addr().unwrap();
        // Port 80 is not ours to listen at here: the page is told that it is served there.
        let said = if port == 80 { SocketAddr::from(([127, 0, 0, 1], 80)) } else { at };
        tokio::spawn(serve(listener, Page::new(bench.conductor.clone(), said, None, None)));
        let (with, other) = (said.port(), said.port() ^ 1);
        let without = if port == 80 { 200 } else { 403 };
        let hosts = [
            (vec![], 400),
            (vec![format!("127.0.0.1:{with}"); 2], 400),
            (vec![format!("127.0.0.1:{with}"), "evil.example".to_owned()], 400),
            (vec!["evil.example".to_owned(), format!("127.0.0.1:{with}")], 400),
            (vec![format!("127.0.0.1:{with}")], 200),
            (vec![format!("localhost:{with}")], 200),
            (vec![format!("[::1]:{with}")], 200),
            (vec![format!("127.0.0.1:{other}")], 403),
            (vec![format!("evil.example:{with}")], 403),
            (vec!["127.0.0.1".to_owned()], without),
            (vec!["localhost".to_owned()], without),
            (vec!["[::1]".to_owned()], without),
            (vec!["evil.example".to_owned()], 403),
        ];
        for (hosts, code) in hosts {
            let lines: String = hosts.iter().map(|host| format!("Host: {host}\r\n")).collect();
            let asked = format!("GET / HTTP/1.1\r\n{lines}Connection: close\r\n\r\n");
            let answered = answer(connected(at, asked.as_bytes()).await).await;
            assert_eq!(status(&answered), code, "{with}, {hosts:?}: {answered}");
            tried += 1;
        }
        // What such a browser sends is what it says, too.
        let host = if port == 80 { "localhost".to_owned() } else { format!("localhost:{with}") };
        let act = r#"{"do":"acknowledge","line":0}"#;
        let own = format!(
            "POST /act HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nX-Clinoblade: 1\r\nConnection: close\r\n\
             Content-Type: application/json\r\nContent-Length: {}\r\n\r\n{act}",
            act.len()
        );
        let answered = answer(connected(at, own.as_bytes()).await).await;
        assert_eq!(status(&answered), 204, "{own}: {answered}");
        tried += 1;
    }
    println!("{tried} requests with no host, one, or two, with a port and without: each answered as it must be");
    assert_eq!(tried, 28);
}

/// Tokens and cookies that are none, by the hundred.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn no_guessed_token_or_cookie_lets_anyone_in() {
    const GUESSES: usize = 300;
    let (pairing, shown) = Pairing::new();
    let (at, _bench) = served(Some(pairing)).await;
    let mut dice = Dice::new(8);
    for number in 0..GUESSES {
        let length = [0, 1, 63, 64, 65, 500][number % 6];
        let guess: String = (0..length).map(|_| char::from(*dice.one_of(b"0123456789abcdef"))).collect();
        let request = match number % 3 {
            0 => get(at, &format!("/pair?token={guess}")),
            1 => get(at, &format!("/pair?token={guess}&token={guess}")),
            _ => format!("GET / HTTP/1.1\r\nHost: {at}\r\nConnection: close\r\nCookie: clinoblade={guess}\r\n\r\n"),
        };
        let answered = answer(connected(at, request.as_bytes()).await).await;
        assert_eq!(status(&answered), 401, "{request}: {answered}");
    }
    // The true one does.
    let token = shown.borrow().clone();
    let let_in = answer(connected(at, get(at, &format!("/pair?token={token}")).as_bytes()).await).await;
    assert_eq!(status(&let_in), 303, "{let_in}");
    let cookie = let_in.lines().find_map(|line| line.strip_prefix("set-cookie: ")?.split(';').next()).unwrap();
    let asked = format!("GET / HTTP/1.1\r\nHost: {at}\r\nConnection: close\r\nCookie: {cookie}\r\n\r\n");
    assert_eq!(status(&answer(connected(at, asked.as_bytes()).await).await), 200);
    println!("{GUESSES} guessed tokens and cookies: none lets anyone in; the true one does");
}
