//! Files without an end, or with one that is very far away: every command that reads a file says so, at once.

use std::process::Command;
use std::time::Duration;
use support::bench::{Bench, HEAD, Running, calibration, recorded};

const STILL: &str = "seed = 3\nsensor.noise_density_ug_rthz = 150.0";

/// Nothing hangs; how long each took is printed.
const HANGS: Duration = Duration::from_secs(60);

fn fifo(bench: &Bench, name: &str) -> String {
    assert!(Command::new("mkfifo").args(["-m", "600"]).arg(bench.path(name)).status().unwrap().success());
    bench.name(name)
}

/// The writer of a pipe, which ends with the test.
struct Writer(std::process::Child);

impl Drop for Writer {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn writer(script: &str, pipe: &str) -> Writer {
    Writer(Command::new("sh").args(["-c", script, "sh", pipe]).spawn().unwrap())
}

#[test]
fn a_file_without_an_end_is_refused_at_once_by_every_command() {
    let bench = Bench::with_setup();
    let log = bench.write("still.log", recorded(STILL, 3.0));
    let sparse = bench.write("sparse", "");
    std::fs::File::options().write(true).open(&sparse).unwrap().set_len(10 << 30).unwrap();
    std::fs::create_dir(bench.path("folder")).unwrap();
    let (silent, held) = (fifo(&bench, "silent"), fifo(&bench, "held"));
    let folder = bench.name("folder");
    let _held = writer("exec sleep 600 > \"$1\"", &held);
    let mut tried = 0;
    let mut slowest = (Duration::ZERO, String::new());
    for name in ["/dev/zero", &silent, &held, "endless", &folder, &sparse] {
        let commands: Vec<Vec<&str>> = vec![
            vec!["head", "show", "FILE"],
            vec!["setup", "new", "--close-open", "--head", "FILE"],
            vec!["read", "--replay", &log, "--head", "FILE"],
            vec!["read", "--replay", &log, "--profile", "FILE"],
            vec!["read", "--replay", &log, "--calibration", "FILE"],
            vec!["read", "--replay", "FILE"],
            vec!["watch", "--plain", "--raw", "--replay", "FILE"],
            vec!["sensor", "check", "--replay", "FILE"],
            vec!["sensor", "identify", "--replay", "FILE"],
            vec!["sensor", "profile", "new", "--replay", "FILE", "--out", "new.toml"],
            vec!["sensor", "calibrate", "tumble", "--replay", "FILE", "--out", "new.toml"],
            vec!["rotor", "--readings", "FILE", "--rotation", "clockwise"],
            vec!["rig", "FILE"],
            vec!["read", "--rig", "FILE"],
            vec!["import", "FILE"],
            vec!["setup", "recompute", "--calibration", "FILE"],
        ];
        for command in commands {
            // A new one for each: who read the last one may have gone on reading.
            let endless = (name == "endless").then(|| {
                let pipe = fifo(&bench, &format!("endless-{tried}"));
                (writer("exec yes > \"$1\"", &pipe), pipe)
            });
            let file = endless.as_ref().map_or(name, |(_, pipe)| pipe.as_str());
            let arguments: Vec<&str> = command.iter().map(|word| if *word == "FILE" { file } else { word }).collect();
            let answer = bench.start(&arguments).end(HANGS);
            let said = &answer.stderr;
            assert!(matches!(answer.code, 1..=3), "{arguments:?}\n{answer}");
            let limits = [
                "fit the profile",
                "MiB",
                "GiB",
                "that is the limit",
                "directory",
                "No frames",
                "not a",
                "no text",
                "bytes",
                "nothing",
                "None of",
            ];
            assert!(
                limits.iter().any(|limit| said.contains(limit) || answer.stdout.contains(limit)),
                "{arguments:?}\n{answer}"
            );
            if answer.took > slowest.0 {
                slowest = (answer.took, arguments.join(" "));
            }
            tried += 1;
        }
    }
    // The password of a shared logbook.
    for name in [&silent, &folder, &sparse] {
        let mut command = bench.command(&["setup", "list", "--logbook", "postgres://bench@127.0.0.1:1/book"]);
        command.env("PGPASSFILE", name);
        let answer = Running::new(command).end(HANGS);
        assert_eq!(answer.code, 2, "{name}\n{answer}");
        assert!(answer.stderr.contains("1 MiB"), "{answer}");
        tried += 1;
    }
    println!("{tried} files without an end: the slowest took {:?} ({})", slowest.0, slowest.1);
}

/// What is small and comes to its end is read, wherever it comes from.
#[test]
fn a_pipe_that_ends_is_as_good_as_a_file() {
    let bench = Bench::new();
    let head = bench.write("head.toml", HEAD);
    bench.write("still.log", recorded(STILL, 3.0));
    bench.write("sensor.toml", calibration("club"));
    let pipes = ["head.pipe", "log.pipe", "sensor.pipe"].map(|name| fifo(&bench, name));
    let _writers = [
        writer(&format!("cat '{head}' > \"$1\""), &pipes[0]),
        writer(&format!("cat '{}' > \"$1\"", bench.name("still.log")), &pipes[1]),
        writer(&format!("cat '{}' > \"$1\"", bench.name("sensor.toml")), &pipes[2]),
    ];
    bench.done(&["head", "show", &pipes[0]]);
    let read = bench.done(&["read", "--replay", &pipes[1], "--calibration", &pipes[2]]);
    assert!(read.stdout.contains('±'), "{read}");
}
