//! A logbook that several benches share, on a real PostgreSQL server on loopback: nothing is lost, nothing is numbered
//! twice, whatever happens to the server or to the line.
#![cfg(unix)]

mod outage;
mod page;
mod password;

use clinoblade::logbook::{Distrust, Kept, Location, Logbook, LogbookError, NewSetup, Site};
use clinoblade::record::Event;
use clinoblade::words::{Face, Say};
use std::collections::BTreeSet;
use std::io::Write;
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};
use std::time::{Duration, Instant};
use support::bench::LONG;
use support::logbook::{capture_entry, club_setup, datum, entry, head, raw};
use support::place::child;
use support::postgres::Server;
use uuid::Uuid;

const URL: &str = "LOGBOOK_OF_THE_CHILD";
const ENTRIES: &str = "ENTRIES_OF_THE_CHILD";
const ENCRYPTED: &str =
    "SELECT bool_and(ssl) FROM pg_stat_ssl JOIN pg_stat_activity USING (pid) WHERE application_name = 'clinoblade'";

async fn open(url: &str) -> Result<Logbook, LogbookError> {
    Logbook::open(&url.parse::<Location>().unwrap()).await
}

/// Through JSON once: of an angle it keeps twelve decimals of a degree.
fn as_written<T: serde::Serialize + serde::de::DeserializeOwned>(thing: &T) -> T {
    serde_json::from_str(&serde_json::to_string(thing).unwrap()).unwrap()
}

#[tokio::test]
async fn a_setup_comes_back_from_a_server_as_it_was_recorded() {
    let server = Server::start();
    let url = server.database("book");
    let logbook = open(&url).await.unwrap();
    assert!(logbook.is_shared() && logbook.path().is_none());
    let setup = logbook.new_setup(club_setup()).await.unwrap();
    let mut entries = vec![entry(Event::Datum { datum: datum() })];
    entries.extend(["elevator up", "aileron left", "rudder right"].map(capture_entry));
    for (number, entry) in (1..).zip(&entries) {
        assert_eq!(logbook.append(setup.number, entry, Some(&raw(number))).await.unwrap(), number);
        // The answer may have been lost: recorded again, it is the same entry.
        assert_eq!(logbook.append(setup.number, entry, Some(&raw(number))).await.unwrap(), number);
    }
    logbook.close().await;

    let logbook = open(&url).await.unwrap();
    let kept = logbook.setup_with_entries(setup.number).await.unwrap();
    assert_eq!(kept.setup, as_written(&setup));
    assert_eq!(kept.entries, entries.iter().map(as_written).collect::<Vec<_>>());
    assert_eq!(logbook.raw_samples(kept.entries[2].id).await.unwrap(), raw(3));
    assert_eq!(logbook.open_setup().await.unwrap(), kept.setup);
    let closed = logbook.close_setup(setup.number, support::logbook::time(99)).await.unwrap();
    assert!(matches!(logbook.append(1, &capture_entry("elevator up"), None).await, Err(LogbookError::Closed(1))));
    assert!(matches!(logbook.append(7, &capture_entry("elevator up"), None).await, Err(LogbookError::NoSetup(7))));
    assert_eq!(logbook.reopen_setup(setup.number).await.unwrap().closed_at, None);
    assert!(closed.closed_at.is_some());
    let listed = logbook.setups(Some("Club trainer"), 10).await.unwrap();
    assert_eq!(
        listed.iter().map(|setup| (setup.number, setup.entries, setup.captures)).collect::<Vec<_>>(),
        [(1, 4, 3)]
    );
}

#[tokio::test]
async fn what_is_wrong_with_a_server_is_said_without_its_password() {
    let server = Server::start();
    let url = server.database("book");
    open(&url).await.unwrap().close().await;
    let said = |result: Result<Logbook, LogbookError>| {
        let error = result.unwrap_err();
        assert!(!format!("{error} {error:?} {}", error.say(Face::Terminal)).contains("secret"), "{error:?}");
        error
    };
    let missing = said(open(&url.replace("/book", "/nothing")).await);
    assert!(matches!(missing, LogbookError::ServerRefuses { .. }), "{missing:?}");
    let nobody = said(open(&url.replace("postgres:secret", "stranger:secret")).await);
    assert!(matches!(nobody, LogbookError::ServerRefuses { .. }), "{nobody:?}");
    let plain = said(open(&format!("{url}?sslmode=require")).await);
    assert!(matches!(plain, LogbookError::ServerNotEncrypted { .. }), "TLS was asked for: {plain:?}");

    server.ask("book", "INSERT INTO _sqlx_migrations (version, description, success, checksum, execution_time) VALUES (99, 'later', true, '', 0)");
    let newer = said(open(&url).await);
    assert!(matches!(newer, LogbookError::Newer { site: Site::Server(_), found: 99, .. }), "{newer:?}");

    server.kill();
    let gone = said(open(&url).await);
    assert!(matches!(gone, LogbookError::ServerOutOfReach { .. }), "{gone:?}");
    assert!(
        matches!(&gone, LogbookError::ServerOutOfReach { server, .. } if server.contains("127.0.0.1") && server.ends_with("/book"))
    );
}

#[tokio::test]
async fn the_line_is_encrypted_when_the_url_asks_for_it() {
    let server = Server::with("-c ssl=on");
    let url = server.database("book");
    let logbook = open(&format!("{url}?sslmode=require")).await.unwrap();
    logbook.new_setup(NewSetup::of(head("Trainer"))).await.unwrap();
    assert_eq!(server.ask("book", ENCRYPTED), "t");
}

#[tokio::test]
async fn a_server_is_asked_for_a_certificate_that_holds() {
    let server = Server::with("-c ssl=on");
    let url = server.database("book");
    let checked = |mode: &str, root: &Path| format!("{url}?sslmode={mode}&sslrootcert={}", root.display());
    let refused = |error: LogbookError, expected: Distrust| {
        assert!(matches!(&error, LogbookError::ServerNotTrusted { why, .. } if *why == expected), "{error:?}");
        let text = error.say(Face::Terminal);
        assert!(!text.contains("secret") && error.is_out_of_reach(), "what is captured meanwhile is kept: {text}");
    };
    // What the server begins with has nobody but itself signed.
    let own = open(&checked("verify-full", &server.own_certificate())).await.unwrap_err();
    refused(own, Distrust::SelfSigned);
    let authority = server.signed_for("DNS:localhost,IP:127.0.0.1");
    let logbook = open(&checked("verify-full", &authority)).await.unwrap();
    logbook.new_setup(NewSetup::of(head("Trainer"))).await.unwrap();
    assert_eq!(server.ask("book", ENCRYPTED), "t");
    logbook.close().await;

    // Nobody that this bench knows has signed it.
    let unknown = open(&format!("{url}?sslmode=verify-full")).await.unwrap_err();
    refused(unknown, Distrust::UnknownSigner);
    let another = Server::with("-c ssl=on");
    let stranger = open(&checked("verify-full", &another.signed_for("IP:127.0.0.1"))).await.unwrap_err();
    refused(stranger, Distrust::UnknownSigner);
    // Signed, and made out to another.
    let authority = server.signed_for("DNS:workshop.invalid");
    let elsewhere = open(&checked("verify-full", &authority)).await.unwrap_err();
    refused(elsewhere, Distrust::OtherName);
    // Its time is over.
    let expired = server.signed("IP:127.0.0.1", -1);
    refused(open(&checked("verify-full", &expired)).await.unwrap_err(), Distrust::Expired);
    let authority = server.signed_for("DNS:workshop.invalid");
    // Who signed it is all that was asked for.
    open(&checked("verify-ca", &authority)).await.unwrap().close().await;
}

/// A bench that records captures into setup 1. Not a test, but the program that the tests start.
#[tokio::test]
#[ignore = "the child of the other tests"]
async fn child_bench() {
    let (Ok(url), Ok(entries)) = (std::env::var(URL), std::env::var(ENTRIES)) else { return };
    let logbook = open(&url).await.unwrap();
    for seed in 0..entries.parse().unwrap() {
        let entry = capture_entry("aileron right");
        let place = match logbook.record(1, &entry, Some(&raw(seed))).await.unwrap() {
            Kept::InLogbook(_) => "logbook",
            Kept::OnThisBench => "bench",
        };
        println!("reported {place} {}", entry.id);
    }
}

fn start(url: &str, home: &Path, entries: u32) -> Child {
    child("shared::child_bench")
        .env(URL, url)
        .env(ENTRIES, entries.to_string())
        .env("XDG_DATA_HOME", home)
        .stdout(Stdio::piped())
        .spawn()
        .unwrap()
}

/// What a bench reported as recorded, and how much of it waits on the bench's own disk.
fn reported(child: Child) -> (Vec<Uuid>, usize) {
    let output = child.wait_with_output().unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    assert!(output.status.success(), "{text}");
    let said: Vec<(&str, Uuid)> = text
        .lines()
        .filter_map(|line| line.split_once("reported ")?.1.split_once(' '))
        .map(|(place, id)| (place, id.parse().unwrap()))
        .collect();
    let waiting = said.iter().filter(|(place, _)| *place == "bench").count();
    (said.into_iter().map(|(_, id)| id).collect(), waiting)
}

#[tokio::test]
async fn eight_benches_record_2000_captures_while_the_server_is_killed_and_restarted() {
    let server = Server::start();
    let url = server.database("book");
    let logbook = open(&url).await.unwrap();
    logbook.new_setup(NewSetup::of(head("Trainer"))).await.unwrap();
    let homes: Vec<_> = (0..8).map(|_| tempfile::tempdir().unwrap()).collect();
    let children: Vec<Child> = homes.iter().map(|home| start(&url, home.path(), 250)).collect();
    let kept = || server.ask("book", "SELECT count(*) FROM entries").parse::<u32>().unwrap();
    for so_far in [300, 900] {
        let patience = Instant::now() + LONG;
        while kept() < so_far {
            assert!(Instant::now() < patience, "{} of {so_far} entries", kept());
            std::thread::sleep(Duration::from_millis(20));
        }
        server.kill();
        std::thread::sleep(Duration::from_millis(500));
        server.up();
    }
    let reports: Vec<(Vec<Uuid>, usize)> = children.into_iter().map(reported).collect();
    let waited: usize = reports.iter().map(|report| report.1).sum();
    // Each bench delivers what is left with its next capture.
    for home in &homes {
        let (one, waiting) = reported(start(&url, home.path(), 1));
        assert_eq!((one.len(), waiting), (1, 0));
    }
    let total = kept();
    println!("2000 captures by 8 benches, {waited} of them kept on a bench for a while; {total} in the logbook");
    assert_eq!(total, 2008);
    let entries = logbook.setup_with_entries(1).await.unwrap().entries;
    let ids: BTreeSet<Uuid> = entries.iter().map(|entry| entry.id).collect();
    assert_eq!(ids.len(), 2008, "none is there twice");
    assert!(reports.iter().flat_map(|report| &report.0).all(|id| ids.contains(id)), "all that was reported is there");
    assert_eq!(
        server.ask("book", "SELECT count(DISTINCT number), min(number), max(number) FROM entries"),
        "2008|1|2008"
    );
    assert_eq!(server.ask("book", "SELECT entries, captures FROM setups"), "2008|2008");
    assert_eq!(server.ask("book", "SELECT count(*) FROM raw_samples"), "2008");
}

#[tokio::test]
async fn benches_that_begin_setups_at_once_number_none_twice() {
    let server = Server::start();
    let url = server.database("book");
    // Nobody has laid out the tables yet.
    let begin = |_| {
        let url = url.clone();
        tokio::spawn(async move {
            let logbook = open(&url).await.unwrap();
            let mut numbers = Vec::new();
            for _ in 0..10 {
                numbers.push(logbook.new_setup(NewSetup::of(head("Trainer"))).await.unwrap().number);
            }
            numbers
        })
    };
    let tasks: Vec<_> = (0..6).map(begin).collect();
    let mut numbers = Vec::new();
    for task in tasks {
        numbers.extend(task.await.unwrap());
    }
    numbers.sort_unstable();
    assert_eq!(numbers, (1..=60).collect::<Vec<_>>());
}

/// One bench of the workshop: a name and a home of its own, the same logbook.
struct Bench {
    name: &'static str,
    url: String,
    home: tempfile::TempDir,
}

impl Bench {
    fn new(name: &'static str, url: &str) -> Self {
        Self { name, url: url.to_owned(), home: tempfile::tempdir().unwrap() }
    }

    fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_clinoblade"));
        command.args(["--logbook", &self.url]).args(arguments);
        command.env("CLINOBLADE_BENCH", self.name).env("XDG_DATA_HOME", self.home.path());
        command
    }

    fn run(&self, arguments: &[&str]) -> Output {
        self.command(arguments).output().unwrap()
    }

    fn answer(&self, arguments: &[&str]) -> serde_json::Value {
        let output = self.run(&[&["--json"], arguments].concat());
        let text = String::from_utf8_lossy(&output.stdout);
        serde_json::from_str(&text).unwrap_or_else(|_| panic!("{text}{}", String::from_utf8_lossy(&output.stderr)))
    }

    fn begins_a_setup(&self) {
        let path = self.home.path().join("head.toml");
        std::fs::write(&path, clinoblade::record::Head::template("Trainer")).unwrap();
        let begun = self.run(&["setup", "new", "--head", path.to_str().unwrap()]);
        assert!(begun.status.success(), "{}", String::from_utf8_lossy(&begun.stderr));
    }
}

#[test]
fn each_bench_works_on_the_setup_that_it_began() {
    let server = Server::start();
    let url = server.database("book");
    let benches = [Bench::new("by the window", &url), Bench::new("by the door", &url)];
    let third = Bench::new("in the corner", &url);
    for bench in &benches {
        bench.begins_a_setup();
    }
    assert_eq!(benches[0].answer(&["setup", "show"])["setup"]["number"], 1);
    assert_eq!(benches[1].answer(&["setup", "show"])["setup"]["number"], 2);
    let none = third.run(&["setup", "show"]);
    assert_eq!(none.status.code(), Some(2), "nobody captures into another bench's setup by accident");
    assert_eq!(third.answer(&["setup", "list"])["setups"].as_array().unwrap().len(), 2);
}

#[test]
fn a_capture_made_while_the_server_is_down_arrives_once() {
    let server = Server::start();
    let url = server.database("book");
    let bench = Bench::new("by the window", &url);
    bench.begins_a_setup();
    // The blade is kept moving until the server is lost: nothing can be read before.
    let scenario = bench.home.path().join("scenario.toml");
    let moving = "[sensor]\nnoise_density_ug_rthz = 150.0\n[[timeline]]\nat_s = 0.0\ncommand = \"stick collective 90 over 0.5\"\n";
    std::fs::write(&scenario, moving).unwrap();
    let link = bench.home.path().join("sensor");
    let mut rig = Command::new(env!("CARGO_BIN_EXE_clinoblade"))
        .args(["rig", scenario.to_str().unwrap(), "--link", link.to_str().unwrap()])
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    let patience = Instant::now() + LONG;
    while !link.exists() {
        assert!(Instant::now() < patience, "the simulated head never came up");
        std::thread::sleep(Duration::from_millis(10));
    }
    let capture = ["--json", "capture", "collective", "mid", "--port", link.to_str().unwrap()];
    let capturing = bench.command(&capture).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    // It has asked what it needs to know, and reads the sensor.
    let listens = "SELECT count(*) FROM pg_stat_activity WHERE application_name = 'clinoblade' AND state = 'idle' \
                   AND state_change < now() - interval '0.3 s'";
    for place in [20, 80].into_iter().cycle() {
        writeln!(rig.stdin.as_mut().unwrap(), "stick collective {place} over 0.4").unwrap();
        if server.ask("book", listens) != "0" {
            break;
        }
        assert!(Instant::now() < patience, "the capture never came to the server");
        std::thread::sleep(Duration::from_millis(50));
    }
    server.kill();
    writeln!(rig.stdin.as_mut().unwrap(), "stick collective 50 over 0.4").unwrap();
    let captured = capturing.wait_with_output().unwrap();
    let (out, err) = (String::from_utf8_lossy(&captured.stdout), String::from_utf8_lossy(&captured.stderr));
    assert!(captured.status.success(), "{out}{err}");
    assert!(err.contains("kept on this bench"), "{err}");
    rig.kill().unwrap();
    rig.wait().unwrap();

    let down = bench.run(&["check"]);
    assert_eq!(down.status.code(), Some(4));
    let said = String::from_utf8_lossy(&down.stderr);
    assert!(said.contains("cannot be reached") && said.contains("1 entry waits on this bench"), "{said}");
    assert_eq!(bench.answer(&["setup", "show"])["waiting"], 1);

    server.up();
    let up = bench.run(&["check"]);
    assert!(String::from_utf8_lossy(&up.stderr).contains("reached the shared logbook"), "{up:?}");
    let again = bench.run(&["check"]);
    assert!(!String::from_utf8_lossy(&again.stderr).contains("reached the shared logbook"));
    assert_eq!(bench.answer(&["check"])["waiting"], 0);
    // A file that cannot be read is not thrown away: it waits on, and every look at the setup says so.
    let folder =
        std::fs::read_dir(bench.home.path().join("clinoblade/waiting")).unwrap().next().unwrap().unwrap().path();
    std::fs::write(folder.join("0198c0de.entry"), "cut off").unwrap();
    for look in [["check"].as_slice(), &["setup", "show"]] {
        assert_eq!(bench.answer(look)["waiting"], 1);
        let shown = bench.run(look);
        assert!(String::from_utf8_lossy(&shown.stdout).contains("1 entry waits on this bench"), "{shown:?}");
    }
    let captures = "SELECT count(*) FROM entries WHERE kind = 'capture'";
    assert_eq!(server.ask("book", captures), "1");
    assert_eq!(server.ask("book", "SELECT count(*) FROM raw_samples"), "1");
}
