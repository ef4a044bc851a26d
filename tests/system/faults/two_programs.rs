//! Two programs want one logbook, or one port.

use clinoblade::bench::SetupHandle;
use clinoblade::logbook::{Location, Logbook};
use clinoblade::record::{Capture, Event};
use rustix::process::{Pid, Signal, kill_process};
use std::collections::BTreeSet;
use support::bench::{Bench, LONG, Running, SimulatedHead, number, recorded};

const RESTING: &str = "seed = 3\n[sensor]\nnoise_density_ug_rthz = 150.0\n";

async fn opened(bench: &Bench) -> SetupHandle {
    let logbook = Logbook::open(&Location::File(bench.logbook())).await.unwrap();
    SetupHandle::find(logbook, Some(1)).await.unwrap()
}

/// While one capture is read, another program records a capture of another blade: two clips, two seats.
#[tokio::test]
async fn a_capture_that_is_overtaken_while_it_is_read_gets_a_seat_of_its_own() {
    const ROUNDS: usize = 3;
    let bench = Bench::with_setup();
    bench.write("resting.log", recorded(RESTING, 2.0));
    let capture = |blade| ["capture", "collective", "mid", "--replay", "resting.log", "--blade", blade];
    for _ in 0..ROUNDS {
        let arguments = [&capture("A")[..], &["--paced", "--want", "0.01", "--reseated"]].concat();
        let mut slow = bench.start(&arguments);
        // It has looked at the logbook, and has its two seconds of samples before it; nobody hurries the other one.
        slow.wait_for_said("hold the stick");
        let process = Pid::from_child(&slow.child);
        kill_process(process, Signal::STOP).unwrap();
        let quick = bench.json(&capture("B"));
        assert_eq!(quick["blade"], "B");
        kill_process(process, Signal::CONT).unwrap();
        let slow = slow.end(LONG);
        assert_eq!(slow.code, 0, "{slow}");
    }
    let open = opened(&bench).await;
    let captures: Vec<&Capture> = open.captures().collect();
    let order: String = captures.iter().map(|capture| capture.subject.blade().to_string()).collect();
    assert_eq!(order, "BA".repeat(ROUNDS), "each of A that began first is recorded after its B");
    let seats: BTreeSet<(String, u32)> =
        captures.iter().map(|capture| (capture.subject.blade().to_string(), capture.seat)).collect();
    let numbers: BTreeSet<u32> = seats.iter().map(|(_, seat)| *seat).collect();
    assert_eq!(numbers.len(), seats.len(), "no seat is on two blades: {seats:?}");
    println!("{ROUNDS} captures overtaken by another: {} seats, none on two blades", numbers.len());
}

/// What one program has recorded, the other knows with its own next entry.
#[tokio::test]
async fn two_programs_that_have_a_setup_open_see_what_the_other_one_recorded() {
    let bench = Bench::with_setup();
    let (mut one, mut other) = (opened(&bench).await, opened(&bench).await);
    const EACH: usize = 25;
    for _ in 0..EACH {
        one.adjust("link B +1".parse().unwrap(), None).await.unwrap();
        other.adjust("link B -1".parse().unwrap(), None).await.unwrap();
    }
    assert_eq!(other.entries().len(), 2 * EACH);
    let signs = other.entries().iter().map(|entry| match &entry.event {
        Event::Adjustment { adjustment, .. } => adjustment.to_string(),
        other => panic!("{other:?}"),
    });
    let wanted = (0..2 * EACH).map(|at| format!("link B {}1 half-turn", if at % 2 == 0 { '+' } else { '-' }));
    assert!(signs.eq(wanted), "in the order in which they happened");
    println!("2 programs, {EACH} entries each, in one order");
}

/// Commands of several programs at once, in one setup: each is recorded once, and none takes another's number.
#[tokio::test]
async fn many_programs_write_at_once_and_every_entry_is_there() {
    const ROUNDS: usize = 4;
    let bench = Bench::with_setup();
    bench.write("resting.log", recorded(RESTING, 1.5));
    let mut wanted = 0;
    for _ in 0..ROUNDS {
        let commands: [&[&str]; 6] = [
            &["capture", "collective", "mid", "--replay", "resting.log", "--blade", "A"],
            &["capture", "collective", "mid", "--replay", "resting.log", "--blade", "B"],
            &["adjust", "link", "B", "+1"],
            &["adjust", "tail", "rod", "-1"],
            &["setup", "skip", "rudder", "left", "--because", "the tail is off"],
            &["check"],
        ];
        let running: Vec<Running> = commands.iter().map(|command| bench.start(command)).collect();
        for (command, running) in commands.iter().zip(running) {
            let answer = running.end(LONG);
            let good = if command[0] == "check" { 1 } else { 0 };
            assert_eq!(answer.code, good, "{command:?}: {answer}");
        }
        wanted += commands.len() - 1;
    }
    let open = opened(&bench).await;
    assert_eq!(open.entries().len(), wanted);
    let ids: BTreeSet<_> = open.entries().iter().map(|entry| entry.id).collect();
    assert_eq!(ids.len(), wanted);
    println!("{} commands of 6 programs at once: {wanted} entries, each there once", ROUNDS * 6);
}

/// One port is one program's: the others are told who has it, and get it when it is free.
#[test]
fn a_port_belongs_to_one_program_and_the_others_are_told() {
    let bench = Bench::new();
    let head = SimulatedHead::start(&bench, "seed = 5\n[sensor]\nnoise_density_ug_rthz = 150.0\n");
    let read = ["read", "--port", &head.port, "--json"];
    let mut holder = bench.start(&["watch", "--plain", "--port", &head.port]);
    holder.wait_for_line("a first line", |line| !line.trim().is_empty());
    const REFUSED: usize = 8;
    let others: Vec<Running> = (0..REFUSED).map(|_| bench.start(&read)).collect();
    for other in others {
        let answer = other.end(LONG);
        assert_eq!(answer.code, 3, "{answer}");
        assert!(answer.json()["error"].as_str().unwrap().contains("in use"), "{answer}");
    }
    holder.wait_for_line("it goes on undisturbed", |line| !line.trim().is_empty());
    drop(holder);
    // All at once, and nobody has it yet: whoever gets it reads right, whoever does not is told.
    let (mut read_it, mut told) = (0, 0);
    for _ in 0..3 {
        let others: Vec<Running> = (0..5).map(|_| bench.start(&read)).collect();
        for other in others {
            let answer = other.end(LONG);
            match answer.code {
                0 => {
                    let angle = number(&answer.json()["angle_deg"]);
                    assert!(angle.is_finite() && angle.abs() < 20.0, "{answer}");
                    read_it += 1;
                }
                3 => {
                    let error = answer.json()["error"].as_str().unwrap().to_owned();
                    assert!(error.contains("in use") || error.contains("gone"), "{error}");
                    told += 1;
                }
                _ => panic!("{answer}"),
            }
        }
    }
    println!("{REFUSED} programs told that the port is in use; of 15 at once {read_it} read it, {told} were told");
    assert!(read_it >= 3, "{read_it}");
}
