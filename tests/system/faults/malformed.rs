//! Descriptions and documents that somebody has mangled: profiles, heads, exported setups, calibrations, scenarios, tables
//! of readings. Each is read, or refused in words, soon; what is read can be written and read again as the same.

use clinoblade::logbook::{Location, Logbook, SetupDocument};
use clinoblade::record::{Event, Head};
use clinoblade::rig::{Rig, RigError, Scenario};
use clinoblade::sensor::Calibration;
use clinoblade::stream::Profile;
use clinoblade::words::{Face, Say};
use rustix::time::{ClockId, clock_gettime};
use std::time::Duration;
use support::bench::{Bench, recorded};
use support::dice::Dice;
use support::logbook::{capture_entry, club_setup, entry, raw};
use support::targets;

/// No text costs a processor more time to be read or refused.
const SOON: Duration = Duration::from_secs(5);

/// What this thread has had of a processor.
fn processor_time() -> Duration {
    let time = clock_gettime(ClockId::ThreadCPUTime);
    Duration::new(time.tv_sec as u64, time.tv_nsec as u32)
}

/// What people and machines do to a text.
fn mangled(dice: &mut Dice, good: &[Vec<u8>]) -> Vec<u8> {
    let mut text = dice.one_of(good).clone();
    for _ in 0..=dice.below(3) {
        let end = text.len().max(1);
        let at = dice.below(end).min(text.len());
        let to = (at + dice.below(40)).min(text.len());
        match dice.below(12) {
            0 => text.truncate(at),
            1 => drop(text.drain(at..to)),
            2 => {
                let piece = text[at..to].to_vec();
                let place = dice.below(end).min(text.len());
                text.splice(place..place, piece);
            }
            3 => text.splice(at..at, dice.one_of(&TOKENS).bytes()).for_each(drop),
            4 => text.splice(at..to, dice.one_of(&TOKENS).bytes()).for_each(drop),
            5 if at < text.len() => text[at] ^= 1 << dice.below(8),
            6 if at < text.len() => text[at] = dice.byte(),
            7 => swap_lines(dice, &mut text),
            8 => replace_a_number(dice, &mut text),
            9 => {
                // A piece of another one.
                let other = dice.one_of(good);
                let from = dice.below(other.len());
                let piece = other[from..(from + 60).min(other.len())].to_vec();
                text.splice(at..at, piece).for_each(drop);
            }
            10 => text.extend_from_slice(&text.clone()[at..]),
            _ => replace_a_number(dice, &mut text),
        }
    }
    text
}

const TOKENS: [&str; 40] = [
    "nan",
    "inf",
    "-inf",
    "1e999",
    "-1",
    "0",
    "1e-400",
    "99999999999999999999",
    "0x7fffffff",
    "\"\"",
    "''",
    "[]",
    "{}",
    "[[",
    "]]",
    "null",
    "true",
    "\u{0}",
    "\u{7f}",
    "\u{202e}",
    "é",
    "𝄞",
    "\"",
    "'",
    "\\",
    "\\u0000",
    "#",
    "=",
    "\n\n",
    "\r",
    "\t",
    ",",
    ".",
    "°",
    "-0.0",
    "1_000",
    "[x]\n",
    "a.b.c = 1\n",
    "'''",
    "\"\"\"",
];

fn swap_lines(dice: &mut Dice, text: &mut Vec<u8>) {
    let mut lines: Vec<Vec<u8>> = text.split(|byte| *byte == b'\n').map(<[u8]>::to_vec).collect();
    let (one, other) = (dice.below(lines.len()), dice.below(lines.len()));
    lines.swap(one, other);
    *text = lines.join(&b'\n');
}

fn replace_a_number(dice: &mut Dice, text: &mut Vec<u8>) {
    let starts: Vec<usize> = (0..text.len())
        .filter(|&at| {
            text[at].is_ascii_digit() && (at == 0 || !(text[at - 1].is_ascii_alphanumeric() || text[at - 1] == b'.'))
        })
        .collect();
    if starts.is_empty() {
        return;
    }
    let from = *dice.one_of(&starts);
    let to =
        text[from..].iter().position(|byte| !(byte.is_ascii_digit() || *byte == b'.')).map_or(text.len(), |n| from + n);
    let number = match dice.below(4) {
        0 => dice
            .one_of(&[
                "nan",
                "inf",
                "-inf",
                "1e308",
                "-1e308",
                "1e-320",
                "0",
                "-0.0",
                "4294967296",
                "18446744073709551616",
            ])
            .to_string(),
        1 => format!("-{}", String::from_utf8_lossy(&text[from..to])),
        2 => dice.bits().to_string(),
        _ => dice.below(300).to_string(),
    };
    text.splice(from..to, number.bytes()).for_each(drop);
}

/// Runs so many mangled texts; says how many were read, and the slowest.
fn run(what: &str, seed: u64, good: &[Vec<u8>], count: usize, read: impl Fn(&[u8]) -> Result<(), String>) {
    let mut dice = Dice::new(seed);
    for text in good {
        read(text).unwrap_or_else(|error| panic!("{what}: a good one is refused: {error}"));
    }
    let (mut taken, mut slowest) = (0, Duration::ZERO);
    for number in 0..count {
        let text = mangled(&mut dice, good);
        let begun = processor_time();
        let result = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| read(&text)));
        let took = processor_time() - begun;
        let shown = || String::from_utf8_lossy(&text).into_owned();
        let result = result.unwrap_or_else(|_| panic!("{what} {number} panics:\n{}", shown()));
        assert!(took < SOON, "{what} {number} takes {took:?}:\n{}", shown());
        slowest = slowest.max(took);
        match result {
            Ok(()) => taken += 1,
            Err(error) => {
                assert!(error.len() > 15 && !error.contains("unwrap"), "{what} {number}: '{error}':\n{}", shown())
            }
        }
    }
    println!(
        "{count} mangled {what}: {taken} read, {} refused in words, the slowest took {:.1} ms",
        count - taken,
        slowest.as_secs_f64() * 1e3
    );
    assert!(taken > count / 100 && taken < count, "{what}: {taken} of {count} read");
}

fn text(bytes: &[u8]) -> Result<&str, String> {
    std::str::from_utf8(bytes).map_err(|error| format!("not text: {error}"))
}

fn target(name: &str) -> targets::Target {
    targets::TARGETS.iter().find(|(of, _)| *of == name).unwrap().1
}

fn examples(folder: &str, start: &str) -> Vec<Vec<u8>> {
    let files = std::fs::read_dir(support::place::project(folder)).unwrap().map(|file| file.unwrap().path());
    let wanted = files.filter(|path| {
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        name.starts_with(start) && name.ends_with(".toml")
    });
    wanted.map(|path| std::fs::read(path).unwrap()).collect()
}

#[test]
fn profiles() {
    let mut good = examples("examples/profiles", "");
    good.extend(Profile::BUILT_IN.map(|name| Profile::find(name).unwrap().to_toml().unwrap().into_bytes()));
    run("profiles", 1, &good, 3500, |bytes| {
        target("profile")(bytes);
        Profile::from_toml(text(bytes)?, "mangled").map(drop).map_err(|error| error.say(Face::Terminal))
    });
}

#[test]
fn heads() {
    let mut good = examples("examples", "head");
    good.push(Head::template("Workshop trainer").into_bytes());
    run("heads", 2, &good, 3500, |bytes| {
        target("head")(bytes);
        let head = Head::from_toml(text(bytes)?).map_err(|error| error.to_string())?;
        // What is taken must give a record.
        let record = clinoblade::record::LimitRecord::new(&head, &[]);
        assert!(
            !record.complete && !clinoblade::words::table::text(&record, clinoblade::words::Face::Terminal).is_empty()
        );
        Ok(())
    });
}

#[tokio::test]
async fn exported_setups() {
    let folder = tempfile::tempdir().unwrap();
    let logbook = Logbook::open(&Location::from(folder.path().join("club.sqlite").as_path())).await.unwrap();
    let number = logbook.new_setup(club_setup()).await.unwrap().number;
    let mut samples = raw(1);
    samples.samples.truncate(3);
    logbook.append(number, &entry(Event::Datum { datum: support::logbook::datum() }), None).await.unwrap();
    for what in ["elevator up", "rudder left", "corner high up-left"] {
        logbook.append(number, &capture_entry(what), Some(&samples)).await.unwrap();
    }
    let adjustment = Event::Adjustment { adjustment: "link B +1".parse().unwrap(), note: Some("by hand".to_owned()) };
    logbook.append(number, &entry(adjustment), None).await.unwrap();
    let document = logbook.export(number).await.unwrap();
    let mut unsealed = serde_json::to_value(&document).unwrap();
    unsealed.as_object_mut().unwrap().remove("setup_checksum");
    for recorded in unsealed["entries"].as_array_mut().unwrap() {
        // Without its checksums a document is read however it was mangled, as far as it makes sense.
        recorded.as_object_mut().unwrap().retain(|field, _| !field.ends_with("checksum"));
    }
    let good = vec![
        serde_json::to_vec_pretty(&document).unwrap(),
        serde_json::to_vec_pretty(&unsealed).unwrap(),
        serde_json::to_vec(&unsealed).unwrap(),
    ];
    let kept = tokio::runtime::Handle::current();
    let taken_in = std::sync::Mutex::new((0, 0));
    tokio::task::spawn_blocking(move || {
        run("exported setups", 3, &good, 3500, |bytes| {
            target("document")(bytes);
            let document = SetupDocument::read(bytes).map_err(|error| error.say(Face::Terminal))?;
            let mut taken_in = taken_in.lock().unwrap();
            taken_in.0 += 1;
            // Not every one: a logbook takes its time to bring things to the disk.
            if taken_in.0 % 5 == 0 {
                let imported = kept.block_on(async {
                    let imported = logbook.import(std::slice::from_ref(&document)).await?;
                    logbook.export(imported[0].setup).await
                });
                match imported {
                    Ok(back) => {
                        assert_eq!(back.entries.len(), document.entries.len());
                        taken_in.1 += 1;
                    }
                    Err(error) => assert!(error.say(Face::Terminal).len() > 20, "{error}"),
                }
            }
            Ok(())
        });
        let (read, imported) = *taken_in.lock().unwrap();
        let tried = read / 5;
        println!("{tried} of those read given to a logbook: {imported} imported and exported again, the others refused in words");
        // What is in the logbook already, or says something else of it, is not taken in again.
        assert!(imported > 5 && imported < tried, "{imported} of {tried}");
    })
    .await
    .unwrap();
}

#[test]
fn calibrations_and_scenarios() {
    let calibrations = vec![
        support::bench::calibration("bench").into_bytes(),
        Calibration::nominal(16384.0).to_toml().unwrap().into_bytes(),
    ];
    run("calibrations", 4, &calibrations, 1500, |bytes| {
        let calibration = Calibration::from_toml(text(bytes)?).map_err(|error| error.say(Face::Terminal))?;
        assert!(calibration.to_toml().is_ok());
        Ok(())
    });
    let mut scenarios = examples("examples", "scenario");
    scenarios.extend(examples("examples", "rig"));
    scenarios.push(b"seed = 3\n[sensor]\nnoise_density_ug_rthz = 150.0\n[head]\nblades = 3\n".to_vec());
    run("scenarios", 5, &scenarios, 1500, |bytes| {
        let scenario: Scenario = text(bytes)?.parse().map_err(|error: RigError| error.say(Face::Terminal))?;
        let rig = Rig::new(scenario).map_err(|error| error.say(Face::Terminal))?;
        drop(rig);
        Ok(())
    });
}

/// Some of each go through the program itself: exit code 2 and words, or it is done.
#[test]
fn the_program_refuses_them_with_exit_code_2() {
    let bench = Bench::with_setup();
    let log = bench.write("resting.log", recorded("seed = 3\nsensor.noise_density_ug_rthz = 150.0\n", 1.5));
    bench.done(&["capture", "collective", "mid", "--replay", &log]);
    bench.done(&["export", "1", "--out", &bench.name("setup.json")]);
    let document = std::fs::read(bench.path("setup.json")).unwrap();
    let table = b"# rotation=clockwise\nblade,station_deg,clip,apparent_deg,span_deg\nA,0,forward,1.0,-1.5\nA,90,forward,1.2,-1.4\nB,0,forward,0.8,-1.6\nB,90,forward,1.1,-1.5\n".to_vec();
    let datum = bench.run(&["datum", "gravity", "--json"]).stdout.into_bytes();
    let profile = Profile::find("sentence").unwrap().to_toml().unwrap().into_bytes();
    let all: [(&str, Vec<u8>, &[&str]); 6] = [
        (
            "head.toml",
            support::bench::HEAD.as_bytes().to_vec(),
            &["setup", "new", "--cautions-read", "--close-open", "--json", "--head"],
        ),
        ("setup.json", document, &["import", "--json"]),
        ("profile.toml", profile, &["read", "--replay", &log, "--json", "--profile"]),
        (
            "bench.toml",
            support::bench::calibration("bench").into_bytes(),
            &["read", "--replay", &log, "--json", "--calibration"],
        ),
        ("readings.csv", table, &["rotor", "--json", "--readings"]),
        ("datum.json", datum, &["read", "--replay", &log, "--json", "--datum"]),
    ];
    let (mut dice, mut codes) = (Dice::new(11), std::collections::BTreeMap::new());
    for (name, good, command) in all {
        for round in 0..12 {
            let bytes = mangled(&mut dice, std::slice::from_ref(&good));
            let path = bench.write(&format!("{round}-{name}"), &bytes);
            let answer = bench.run(&[command, &[&path[..]]].concat());
            let of = || format!("{name} {round}: {answer}\n{}", String::from_utf8_lossy(&bytes));
            assert!((0..=3).contains(&answer.code) && !answer.stderr.contains("panicked"), "{}", of());
            // A sensor that does not fit is one thing that can be wrong; where there is none, it is not.
            assert!(answer.code != 3 || command[0] == "read", "{}", of());
            let said = answer.json();
            assert!(answer.code < 2 || said["error"].as_str().is_some_and(|words| words.len() > 15), "{}", of());
            *codes.entry(answer.code).or_insert(0) += 1;
        }
    }
    println!("72 mangled files given to the program, by exit code: {codes:?}");
    assert!(codes.values().sum::<usize>() == 72 && codes[&2] > 50, "{codes:?}");
}
