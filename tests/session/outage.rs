//! `watch` leads through a setup of a shared logbook while its server is down: begun during the outage, and across its end.

use super::watch_screen::{SCENARIO, Terminal, read_cautions};
use std::time::{Duration, Instant};
use support::bench::{Bench, LONG, SimulatedHead, calibration};
use support::postgres::Server;

#[test]
fn watch_goes_on_through_an_outage_and_everything_arrives_once() {
    let server = Server::start();
    let url = server.database("book");
    let bench = Bench::with_setup_unread();
    bench.done(&["setup", "new", "--head", &bench.name("head.toml"), "--logbook", &url]);
    let mut head = SimulatedHead::start(&bench, SCENARIO);
    let clip = bench.write("clip.toml", calibration("clip"));
    let port = head.port.clone();
    server.kill();
    let terminal = Terminal::start_on(&bench, &url, &["watch", "--port", &port, "--calibration", &clip]);
    read_cautions(&terminal);
    terminal.press("a");
    terminal.wait_for("Clip on blade A");
    for line in ["clip A forward over 0.5", "head 90 over 0.5"] {
        head.tell(line);
    }
    terminal.wait_for("Collective up a little");
    terminal.press("c");
    terminal.wait_for("Turn blade A to 270");
    terminal.wait_for("2 entries wait on this bench");
    server.up();
    let sent = "SELECT count(*) || ' ' || (SELECT count(*) FROM setups WHERE document LIKE '%\"cautions_acknowledged_at\":\"%')
                FROM entries WHERE kind = 'capture'";
    let patience = Instant::now() + LONG;
    while server.ask("book", sent) != "1 1" {
        assert!(Instant::now() < patience, "it never arrives: {}", server.ask("book", sent));
        std::thread::sleep(Duration::from_millis(200));
    }
    // Now that the server answers, the next one goes there at once.
    head.tell("head 270 over 0.5");
    terminal.wait_for("Elevator up for a moment");
    terminal.press("c");
    while server.ask("book", sent) != "2 1" {
        assert!(Instant::now() < patience, "it never arrives: {}", server.ask("book", sent));
        std::thread::sleep(Duration::from_millis(200));
    }
    terminal.press("q");
    terminal.wait_for("ended with 0");
    println!("a watch session across an outage: cautions and a capture waited, a second capture went straight there");
}
