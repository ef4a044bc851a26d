//! All commands that end by themselves in random order, with good words and bad ones. Each ends with its exit code, prints one
//! document and says every refusal in words; what it recorded is there, and nothing else has changed.
//!
//! Left out: `bench`, `demo` and `rig`, which run until somebody ends them; the commands that ask a person while they run
//! (`sensor reseat`, `sensor orient`, `sensor profile new`); `head` and `completions`, which no logbook is behind.

use clinoblade::logbook::{Location, Logbook};
use std::collections::BTreeMap;
use support::bench::{Bench, HEAD, calibration, recorded};
use support::dice::Dice;
use support::place::project;

/// How many, where not said otherwise.
const COMMANDS: usize = 150;
/// Says how many.
const COMMANDS_WANTED: &str = "CLINOBLADE_SOAK_COMMANDS";

const RESTING: &str = "seed = 3\n[sensor]\nnoise_density_ug_rthz = 150.0\n";

/// What a command may do to the entries of the setup that it works on.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Writes {
    Nothing,
    /// One entry when it succeeds, else none.
    One,
    /// One entry when it succeeds or the measurement says no, else none.
    OneOrMore,
    /// Another setup, or the setup itself.
    Setups,
}

use Writes::{Nothing, One, OneOrMore, Setups};

/// `{name}` is one of the words below.
const ALL: [(Writes, &str); 56] = [
    (Setups, "setup new --head head.toml --cautions-read --blades {onoff}"),
    (Setups, "setup new --head {file} --temperature {number}"),
    (Setups, "setup close {setup}"),
    (Setups, "setup amend {setup} --checked-by {text}"),
    (Setups, "setup amend --measured-by {text} --temperature {number} --blades {onoff}"),
    (Setups, "setup amend --reason {text} --cautions-read"),
    (Setups, "setup resume {setup} --moved --temperature {number}"),
    (Setups, "setup resume --clip-off --calibration {file}"),
    (Nothing, "setup list --most {number}"),
    (Nothing, "setup show {setup}"),
    (OneOrMore, "setup recompute --keep"),
    (Nothing, "setup recompute {setup} --calibration {file}"),
    (One, "setup withdraw"),
    (One, "setup withdraw {setup} --because {text}"),
    (One, "setup skip {axis} {direction} --because {text}"),
    (One, "datum gravity"),
    (OneOrMore, "datum surface --station {number} {source}"),
    (OneOrMore, "datum reversal {source}"),
    (OneOrMore, "datum shaft"),
    (OneOrMore, "datum neutral --blade {blade} {source}"),
    (One, "capture {axis} {direction} {source} --as-read"),
    (One, "capture {axis} {direction} {source} --blade {blade} --station {number}"),
    (One, "capture collective mid {source} --blade {blade} --clip {clip}"),
    (One, "capture collective {number}% {source} --stick {number} --from {from}"),
    (One, "capture corner {direction} {direction} {source} --reseated"),
    (One, "capture rudder {direction} {source} --leading-edge {direction} --bound"),
    (One, "adjust link {blade} {turns} --note {text}"),
    (One, "adjust {axis} {direction} end point {number}"),
    (One, "adjust {axis} end point {number}"),
    (One, "adjust {text} {blade} {turns}"),
    (One, "adjust sub-trim {turns} {number}"),
    (One, "adjust phase {number}"),
    (OneOrMore, "sweep {axis} {source}"),
    (OneOrMore, "spindle {source} --blade {blade}"),
    (Nothing, "track --station {number}"),
    (Nothing, "track --forecast"),
    (Nothing, "advise link --to {number}"),
    (Nothing, "advise travel {axis} {direction} --to {number}"),
    (Nothing, "advise collective --low {number} --high {number}"),
    (Nothing, "advise symmetry {axis}"),
    (Nothing, "rotor"),
    (Nothing, "rotor --readings {file} --rotation clockwise"),
    (Nothing, "check --explain"),
    (Nothing, "compare {setup} {setup}"),
    (Nothing, "history {head} --cell {cell}"),
    (Nothing, "report {setup} --out sheet.{ending}"),
    (Nothing, "export {setup}"),
    (Setups, "import {file}"),
    (Nothing, "sensor check {source} --for {seconds}"),
    (Nothing, "sensor check {log} --profile {profile}"),
    (Nothing, "sensor identify {log} --for {seconds}"),
    (Nothing, "sensor calibrate tumble --out calibrated-{number}.toml {log}"),
    (Nothing, "sensor default {source} --calibration {file}"),
    (Nothing, "watch --plain {log} --for {seconds}"),
    (Nothing, "ports"),
    (Nothing, "read {source} --want {number} --within {number} --profile {profile}"),
];

fn word(dice: &mut Dice, slot: &str) -> &'static str {
    let of: &[&'static str] = match slot {
        "onoff" => &["on", "off", "half"],
        "file" => &[
            "head.toml",
            "bench.toml",
            "setup.json",
            "setup-2.json",
            "readings.csv",
            "resting.log",
            "nowhere.toml",
            ".",
        ],
        "number" => &["0", "90", "-90", "45.5", "1e9", "-0.001", "nan", "20", "100", "12,5", "360"],
        // A simulated head would go on for ever.
        "seconds" => &["0.5", "2", "20", "0", "-1", "nan"],
        "log" => &["--replay resting.log", "--replay tail.log", "--replay empty.log", "--replay nowhere.log"],
        "setup" => &["1", "2", "3", "1", "99", "0", "-1", "x"],
        "text" => &["tail rod", "servo arm", "because", "a\u{7}b", "…", "swash link"],
        "axis" => &["elevator", "aileron", "rudder", "collective", "corner", "throttle"],
        "direction" => &["up", "down", "left", "right", "neutral", "low", "mid", "high", "sideways"],
        "blade" => &["A", "B", "A", "B", "C", "Z"],
        "clip" => &["forward", "reversed", "twisted"],
        "from" => &["below", "above"],
        "turns" => &["+1", "-2", "0", "2147483648", "+0.5"],
        "source" => &[
            "--replay resting.log",
            "--replay resting.log",
            "--replay tail.log",
            "--rig scenario.toml",
            "--replay nowhere.log",
            "--replay head.toml",
            "--replay empty.log",
            "--port /dev/null",
            "--tcp 127.0.0.1:1",
            "",
        ],
        "profile" => &["sentence", "columns", "xdr", "nowhere.toml"],
        "head" => &["Workshop", "nobody"],
        "cell" => &["elevator", "zero"],
        "ending" => &["html", "txt", "json", "doc"],
        _ => panic!("{slot}"),
    };
    dice.one_of::<&'static str>(of)
}

/// The words of a command; those that a word of several stands for apart.
fn filled(dice: &mut Dice, template: &str) -> Vec<String> {
    let mut words = Vec::new();
    for part in template.split(' ') {
        match part.split_once('{').and_then(|(before, rest)| Some((before, rest.split_once('}')?))) {
            None => words.push(part.to_owned()),
            Some((before, (slot, after))) => {
                let word = word(dice, slot);
                match slot {
                    "source" | "log" => {
                        words.extend(word.split(' ').filter(|word| !word.is_empty()).map(str::to_owned))
                    }
                    _ => words.push(format!("{before}{word}{after}")),
                }
            }
        }
    }
    words
}

/// Every setup's number of entries, and which setup is worked on.
async fn state(bench: &Bench) -> (BTreeMap<u32, u32>, Option<u32>) {
    let logbook = Logbook::open(&Location::File(bench.logbook())).await.unwrap();
    let all = logbook.setups(None, u32::MAX).await.unwrap();
    for one in &all {
        assert_eq!(logbook.setup_with_entries(one.number).await.unwrap().entries.len(), one.entries as usize);
    }
    let open = logbook.open_setup().await.ok().map(|setup| setup.number);
    (all.iter().map(|setup| (setup.number, setup.entries)).collect(), open)
}

fn bench() -> Bench {
    let bench = Bench::with_setup();
    bench.write("resting.log", recorded(RESTING, 1.5));
    bench.write("tail.log", recorded("seed = 4\nsensor.noise_density_ug_rthz = 150.0\n", 0.3));
    bench.write("empty.log", "");
    bench.write("bench.toml", calibration("bench"));
    bench.write("other.toml", HEAD.replace("Workshop trainer", "Workshop"));
    std::fs::copy(project("examples/scenario.toml"), bench.path("scenario.toml")).unwrap();
    bench.write(
        "readings.csv",
        "blade,station_deg,clip,apparent_deg,span_deg\nA,0,forward,1.0,-1.5\nA,90,forward,1.2,-1.4\n",
    );
    bench.done(&["capture", "collective", "mid", "--replay", "resting.log"]);
    bench.done(&["export", "1", "--out", "setup.json"]);
    bench.done(&["setup", "new", "--head", "other.toml", "--cautions-read", "--close-open"]);
    bench.done(&["export", "2", "--out", "setup-2.json"]);
    bench
}

#[tokio::test]
async fn in_any_order_each_ends_with_its_code_and_records_what_it_says() {
    let count = std::env::var(COMMANDS_WANTED).map_or(COMMANDS, |text| text.parse().expect("a number"));
    let (bench, mut dice) = (bench(), Dice::new(21));
    let (mut before, mut open) = state(&bench).await;
    let (mut codes, mut tried) = (BTreeMap::new(), BTreeMap::new());
    for _ in 0..count {
        let (writes, template) = *dice.one_of(&ALL);
        let words = filled(&mut dice, template);
        let arguments: Vec<&str> = words.iter().map(String::as_str).chain(["--json"]).collect();
        let answer = bench.run(&arguments);
        let of = || format!("{arguments:?}\n{answer}");
        assert!((0..=4).contains(&answer.code) && !answer.stderr.contains("panicked"), "{}", of());
        let document = answer.json();
        // `watch` has begun its list when it fails; what ended it stands on standard error.
        let listed = document.is_array() && answer.stderr.contains("clinoblade: ");
        let said = listed || document["error"].as_str().is_some_and(|words| words.len() > 15);
        assert!(answer.code < 2 || said, "in words: {}", of());
        assert!(answer.code != 4, "nothing is wrong with this logbook: {}", of());
        let (after, now_open) = state(&bench).await;
        let sum = |all: &BTreeMap<u32, u32>| all.values().sum::<u32>();
        let (more, at_open) =
            (sum(&after) - sum(&before), open.and_then(|open| Some(after.get(&open)? - before.get(&open)?)));
        match writes {
            Nothing => assert!(after == before && now_open == open, "{}", of()),
            One => assert!(more == u32::from(answer.code == 0) && at_open.unwrap_or(0) == more, "{more}: {}", of()),
            OneOrMore => {
                assert!(more <= 1 && (more == 0 || answer.code <= 1) && after.len() == before.len(), "{more}: {}", of())
            }
            Setups => {
                assert!(after.len() >= before.len(), "{}", of());
                assert!(answer.code <= 1 || after == before, "{}", of());
                assert!(before.iter().all(|(number, entries)| after[number] >= *entries), "{}", of());
            }
        }
        (before, open) = (after, now_open);
        *codes.entry(answer.code).or_insert(0) += 1;
        *tried.entry(template).or_insert(0) += 1;
        // There is always something to work on.
        if open.is_none() {
            bench.done(&["setup", "new", "--head", "head.toml", "--cautions-read", "--close-open"]);
            (before, open) = state(&bench).await;
        }
    }
    println!(
        "{count} commands of {} kinds in random order, by exit code: {codes:?}; {} entries kept",
        tried.len(),
        before.values().sum::<u32>()
    );
    assert!(tried.len() > 40 && codes.len() >= 3, "{tried:?} {codes:?}");
}
