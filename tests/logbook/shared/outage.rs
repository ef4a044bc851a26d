//! Work that is begun while the server of a shared logbook says nothing, or does not let the bench in: it goes on against the last
//! known setup, waits on this bench, and arrives once.

use super::{Bench, Server};
use clinoblade::logbook::{Kept, Location, Logbook, LogbookError};
use clinoblade::record::Event;
use std::time::{Duration, Instant};
use support::bench::recorded;
use support::line::Line;
use support::logbook::{capture_entry, datum, entry, raw};
use support::place::child;

const RESTING: &str = "seed = 3\n[sensor]\nnoise_density_ug_rthz = 150.0\n";

/// A bench with a setup and a recorded stream of a blade at rest.
fn bench(url: &str) -> Bench {
    let bench = Bench::new("by the window", url);
    bench.begins_a_setup();
    std::fs::write(bench.home.path().join("resting.log"), recorded(RESTING, 1.5)).unwrap();
    bench
}

impl Bench {
    /// What can be recorded without a server: each has to succeed and to say where it is kept.
    fn works_on(&self, why: &str) {
        let log = self.home.path().join("resting.log");
        let capture = ["capture", "collective", "mid", "--as-read", "--replay", log.to_str().unwrap()];
        for work in
            [&capture[..], &["adjust", "link", "B", "+1"], &["setup", "skip", "rudder right", "--because", "no belt"]]
        {
            let done = self.run(work);
            let said = String::from_utf8_lossy(&done.stderr);
            assert!(done.status.success(), "{why}: {work:?}: {said}");
            assert!(said.contains("Going on with what this bench knows"), "{why}: {work:?}: {said}");
            assert!(said.contains("kept on this bench"), "{why}: {work:?}: {said}");
            assert!(!said.contains("secret"), "{said}");
        }
    }

    /// All of that has arrived, once.
    fn has_sent(&self, server: &Server, captures: u32) {
        assert_eq!(self.answer(&["check"])["waiting"], 0);
        let kinds = "SELECT string_agg(kind || ' ' || n, ', ' ORDER BY kind)
                     FROM (SELECT kind, count(*) AS n FROM entries GROUP BY kind) AS all_kinds";
        let expected = format!("adjustment {captures}, capture {captures}, skipped {captures}");
        assert_eq!(server.ask("book", kinds), expected);
        assert_eq!(server.ask("book", "SELECT count(*) FROM raw_samples"), captures.to_string());
    }
}

#[test]
fn what_is_begun_while_the_server_is_down_arrives_once() {
    let server = Server::start();
    let bench = bench(&server.database("book"));
    server.kill();
    bench.works_on("down");
    // A second capture knows of what waits: the same skip is not taken a second time.
    let again = bench.run(&["setup", "skip", "rudder right", "--because", "no belt"]);
    assert!(again.status.success(), "{}", String::from_utf8_lossy(&again.stderr));
    let withdrawn = bench.run(&["setup", "withdraw"]);
    assert!(withdrawn.status.success(), "{}", String::from_utf8_lossy(&withdrawn.stderr));
    server.up();
    assert_eq!(bench.answer(&["check"])["waiting"], 0);
    assert_eq!(server.ask("book", "SELECT count(*) FROM entries WHERE kind = 'withdrawn'"), "1");
    assert_eq!(server.ask("book", "SELECT count(*) FROM entries WHERE kind = 'capture'"), "1");
    // While all is well nothing is said of an outage.
    let calm = bench.run(&["adjust", "link", "B", "+1"]);
    let said = String::from_utf8_lossy(&calm.stderr);
    assert!(calm.status.success() && !said.contains("Going on") && !said.contains("kept on this bench"), "{said}");
}

/// A bench that has never seen the setup has nothing to go on with.
#[test]
fn a_bench_that_knows_nothing_refuses() {
    let server = Server::start();
    let url = server.database("book");
    bench(&url);
    server.kill();
    let refused = Bench::new("at the door", &url).run(&["adjust", "link", "B", "+1"]);
    let said = String::from_utf8_lossy(&refused.stderr);
    assert!(refused.status.code() == Some(4) && said.contains("cannot be reached"), "{said}");
}

#[test]
fn a_right_or_a_database_that_is_taken_away_keeps_the_reading() {
    let server = Server::start();
    server.database("elsewhere");
    let all = server.database("book");
    server.ask("book", "CREATE ROLE guest LOGIN PASSWORD 'secret'");
    server.ask("book", "ALTER DATABASE book OWNER TO guest");
    server.ask("book", "ALTER SCHEMA public OWNER TO guest");
    let bench = bench(&all.replace("postgres:secret@", "guest:secret@"));
    let taken_away = [
        ("may not log in", "ALTER ROLE guest NOLOGIN", "ALTER ROLE guest LOGIN"),
        ("may not write", "REVOKE ALL ON entries FROM guest", "GRANT ALL ON entries TO guest"),
        ("closed", "ALTER DATABASE book ALLOW_CONNECTIONS false", "ALTER DATABASE book ALLOW_CONNECTIONS true"),
        (
            "may not connect",
            "REVOKE CONNECT ON DATABASE book FROM guest, PUBLIC",
            "GRANT CONNECT ON DATABASE book TO guest",
        ),
    ];
    let mut sent = 0;
    for (why, take, give) in taken_away {
        let place = if take.contains("entries") { "book" } else { "elsewhere" };
        if why == "may not connect" {
            server.ask("elsewhere", "ALTER DATABASE book OWNER TO postgres");
        }
        server.ask(place, take);
        let log = bench.home.path().join("resting.log");
        let capture = ["capture", "collective", "mid", "--as-read", "--replay", log.to_str().unwrap()];
        let done = bench.run(&capture);
        let said = String::from_utf8_lossy(&done.stderr);
        assert!(done.status.success() && said.contains("kept on this bench"), "{why}: {said}");
        server.ask(place, give);
        assert_eq!(bench.answer(&["check"])["waiting"], 0, "{why}");
        sent += 1;
        assert_eq!(
            server.ask("book", "SELECT count(*) FROM entries WHERE kind = 'capture'"),
            sent.to_string(),
            "{why}"
        );
    }
    println!("{sent} rights taken away, each capture kept and delivered");
}

/// Nobody hangs up, and nothing comes: that is noticed, and the work goes on.
#[test]
fn a_server_that_falls_silent_is_noticed_in_five_seconds() {
    let server = Server::start();
    let url = server.database("book");
    let port: u16 = url.rsplit_once(':').unwrap().1.split('/').next().unwrap().parse().unwrap();
    let line = Line::to(port);
    let bench = bench(&url.replace(&port.to_string(), &line.port().to_string()));
    line.fall_silent(true);
    let begun = Instant::now();
    let looked = bench.run(&["setup", "list"]);
    let noticed = begun.elapsed();
    let said = String::from_utf8_lossy(&looked.stderr);
    assert!(looked.status.code() == Some(4) && said.contains("cannot be reached"), "{said}");
    let begun = Instant::now();
    bench.works_on("silent");
    let worked = begun.elapsed();
    line.fall_silent(false);
    bench.has_sent(&server, 1);
    println!("a silent server was noticed after {noticed:.1?}; three records were kept in {worked:.1?}");
    // Each of the three asks once, and not again for every question that it has.
    assert!(noticed < Duration::from_secs(8) && worked < Duration::from_secs(36), "{noticed:?} {worked:?}");
}

/// The line falls silent in the middle: what is on its way is kept here, and the connection is given up.
#[test]
fn a_line_that_falls_silent_in_the_middle_of_the_work_loses_nothing() {
    let home = tempfile::tempdir().unwrap();
    let mut child = child("shared::outage::child_on_a_line_that_falls_silent");
    let output = child.env("XDG_DATA_HOME", home.path()).output().unwrap();
    let said = String::from_utf8_lossy(&output.stdout);
    assert!(
        output.status.success() && said.contains("it arrived"),
        "{said}{}",
        String::from_utf8_lossy(&output.stderr)
    );
}

/// Not a test: it needs a home of its own.
#[tokio::test]
#[ignore = "the child of the other test"]
async fn child_on_a_line_that_falls_silent() {
    let server = Server::start();
    let url = server.database("book");
    let port: u16 = url.rsplit_once(':').unwrap().1.split('/').next().unwrap().parse().unwrap();
    let line = Line::to(port);
    let url = url.replace(&port.to_string(), &line.port().to_string());
    let place: Location = url.parse().unwrap();
    let logbook = Logbook::open_at_bench(&place).await.unwrap();
    logbook.new_setup(support::logbook::club_setup()).await.unwrap();
    assert_eq!(logbook.record(1, &capture_entry("elevator up"), Some(&raw(1))).await.unwrap(), Kept::InLogbook(1));
    line.fall_silent(true);
    let begun = Instant::now();
    assert_eq!(logbook.record(1, &entry(Event::Datum { datum: datum() }), None).await.unwrap(), Kept::OnThisBench);
    let took = begun.elapsed();
    assert!(took < Duration::from_secs(8), "{took:?}");
    // What is read meanwhile is what is known.
    let known = logbook.setup_with_entries(1).await;
    assert!(matches!(&known, Ok(kept) if kept.entries.len() == 2), "{known:?}");
    assert!(matches!(logbook.setup(9).await, Err(LogbookError::ServerOutOfReach { .. })));
    line.fall_silent(false);
    let patience = Instant::now() + support::bench::LONG;
    while logbook.deliver().await.unwrap().waiting > 0 {
        assert!(Instant::now() < patience, "it never arrives");
        tokio::time::sleep(Duration::from_millis(200)).await;
    }
    assert_eq!(logbook.setup_with_entries(1).await.unwrap().entries.len(), 2);
    println!("it arrived");
}
