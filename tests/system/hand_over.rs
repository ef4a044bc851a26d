//! What is handed over: setups compared, a head over its seasons, and the sheet, on screen, on paper and by mail.

use clinoblade::logbook::{Location, Logbook, NewSetup};
use clinoblade::record::{Blades, Change, Comparison, Event, Head, Pattern, Sweep, Swept, Together};
use clinoblade::rotor::LeadingEdge;
use clinoblade::rotor::Spot;
use clinoblade::uncertainty::{Component, Contribution, Source};
use clinoblade::units::Angle;
use serde_json::Value;
use support::advice::{Bench as Captured, at, deg, head};
use support::bench::{Bench, number};

const RIG: &str =
    "head.cyclic_deg = 9.0\nhead.pitch_arm_mm = 12.0\ntail.travel_deg = 28.0\nblades.link_error_deg = [0.1, -0.1]";

fn trainer() -> Head {
    head(&[("# positive = \"right\"", "positive = \"right\"")])
}

/// The whole job, as the head stands.
fn job(captured: &mut Captured) {
    for (what, blade, station) in [
        ("collective mid", "B", 90.0),
        ("collective mid", "B", 270.0),
        ("collective mid", "A", 270.0),
        ("collective mid", "A", 90.0),
        ("elevator neutral", "A", 90.0),
        ("elevator up", "A", 90.0),
        ("elevator down", "A", 90.0),
        ("aileron neutral", "A", 0.0),
        ("aileron left", "A", 0.0),
        ("aileron right", "A", 0.0),
    ] {
        captured.capture(what, blade, station);
    }
    for edge in [LeadingEdge::Up, LeadingEdge::Down] {
        for what in ["rudder neutral", "rudder left", "rudder right"] {
            captured.capture_as(what, "A", Spot::Tail(edge), 100.0, |_| {});
        }
    }
}

/// A setup of the trainer after something was done to it.
fn season(seed: u64, hands: &[&str]) -> Captured {
    let mut captured = Captured::new(RIG, trainer(), seed);
    captured.hands(hands);
    job(&mut captured);
    captured
}

fn compared(before: &Captured, after: &Captured) -> Comparison {
    Comparison::new(&before.record(), &after.record(), &after.head)
}

fn change(comparison: &Comparison, name: &str) -> Change {
    comparison.cells.iter().find(|cell| cell.cell.to_string() == name).unwrap().change
}

#[test]
fn a_link_that_was_turned_shows_in_its_blade_and_in_nothing_else() {
    let b = "B".parse().unwrap();
    let seasons: Vec<Comparison> =
        (0..10).map(|k| compared(&season(500 + 2 * k, &[]), &season(501 + 2 * k, &["link B 1"]))).collect();
    for comparison in &seasons {
        assert_eq!(change(comparison, "blade B zero"), Change::Changed);
        assert_eq!(change(comparison, "track B - A"), Change::Changed);
    }
    // Each uncertainty holds in 95 of 100 seasons: of ten, two at most are off by chance, once in ninety.
    for name in ["blade A zero", "elevator up", "aileron right", "rudder left"] {
        let told = seasons.iter().filter(|one| change(one, name) != Change::Unchanged).count();
        assert!(told <= 2, "{name}: {told} of 10");
    }
    let is_b =
        |pattern: &Pattern| matches!(pattern, Pattern::OneBlade { blade, half_turns: Some(1), .. } if *blade == b);
    let told = seasons.iter().filter(|one| one.patterns.iter().any(is_b)).count();
    assert!(told >= 7, "{told} of 10");
}

#[test]
fn a_zero_that_was_set_otherwise_shows_in_every_blade_alike() {
    let before = season(3, &[]);
    let mut after = Captured::new(RIG, trainer(), 4);
    for (blade, station) in [("B", 90.0), ("B", 270.0), ("A", 270.0), ("A", 90.0)] {
        after.capture_as("collective mid", blade, at(station), 100.0, |capture| capture.reading.angle += deg(0.9));
    }
    let comparison = compared(&before, &after);
    // Two seats apart, half a tolerance of the split cannot be told; a change it is not.
    assert_ne!(change(&comparison, "track B - A"), Change::Changed);
    assert!(matches!(comparison.patterns[..], [Pattern::BladesAlike { .. }]), "{comparison:?}");
    assert_eq!(change(&comparison, "elevator up"), Change::OnlyFirst);
}

#[test]
fn an_axis_that_changed_both_ways_or_one_way_is_told_apart() {
    let before = season(5, &[]);
    let both = compared(&before, &season(6, &["endpoint elevator up 80", "endpoint elevator down 80"]));
    let alike = |pattern: &Pattern| {
        matches!(pattern, Pattern::Ends { ends: [(end, by), _], together: Together::Alike }
        if end.to_string() == "elevator up" && *by < Angle::ZERO)
    };
    assert!(both.patterns.iter().any(alike), "{both:?}");
    let one = compared(&before, &season(7, &["endpoint aileron left 70"]));
    let alone = |pattern: &Pattern| {
        matches!(pattern, Pattern::OneEnd { end, by_deg, alone: true, .. }
        if end.to_string() == "aileron left" && *by_deg < Angle::ZERO)
    };
    assert!(one.patterns.iter().any(alone), "{one:?}");
    assert_eq!(change(&one, "aileron right"), Change::Unchanged);
}

/// Whether the other end or the other blade has changed too, nobody knows who has not read it twice.
#[test]
fn alone_is_only_what_stands_beside_something_known() {
    let before = season(14, &[]);
    let mut after = Captured::new(RIG, trainer(), 15);
    after.hands(&["endpoint elevator up 80", "link B 1"]);
    for (what, blade) in [("collective mid", "B"), ("elevator neutral", "A"), ("elevator up", "A")] {
        after.capture(what, blade, 90.0);
    }
    let patterns = compared(&before, &after).patterns;
    let perhaps = |pattern: &Pattern| {
        matches!(pattern, Pattern::OneEnd { end, by_deg, alone: false, .. }
        if end.to_string() == "elevator up" && *by_deg < Angle::ZERO)
    };
    assert!(patterns.iter().any(perhaps), "{patterns:?}");
    let alone = |pattern: &Pattern| matches!(pattern, Pattern::OneEnd { alone: true, .. } | Pattern::OneBlade { .. });
    assert!(!patterns.iter().any(alone), "{patterns:?}");
}

#[test]
fn readings_that_are_too_coarse_to_show_a_change_cannot_tell() {
    let before = season(8, &[]);
    let mut after = Captured::new(RIG, trainer(), 9);
    after.capture_as("collective mid", "A", at(90.0), 100.0, |capture| {
        let clip = Contribution::new(Component::Clip, deg(0.6));
        capture.reading.budget = capture.reading.budget.clone().with(clip);
    });
    assert_eq!(change(&compared(&before, &after), "blade A zero"), Change::CannotTell);
}

/// Two seasons in which nothing was changed: what is called changed is no more than the twentieth that 95 % leave.
#[test]
fn an_unchanged_head_is_called_changed_in_one_of_twenty_cells_at_most() {
    let (mut all, mut wrong) = (0, 0);
    for seed in 0..150 {
        let comparison = compared(&season(1000 + 2 * seed, &[]), &season(1001 + 2 * seed, &[]));
        all += comparison.cells.iter().filter(|cell| cell.difference.is_some()).count();
        wrong += comparison.changed().count();
    }
    let share = f64::from(u32::try_from(wrong).unwrap()) / f64::from(u32::try_from(all).unwrap());
    println!("{wrong} of {all} cells: {:.1} %", 100.0 * share);
    assert!(all >= 1200 && share < 0.06, "{share}");
}

/// A calibration is shared with the season before only where it is the same one, whatever it is called; a travel and an
/// angle against the datum are not one thing.
#[test]
fn only_what_is_truly_shared_drops_out_of_a_comparison() {
    let with = |seed, source: &str, read: f64| {
        let mut captured = Captured::new(RIG, trainer(), seed);
        for station in [90.0, 270.0] {
            captured.capture_as("collective mid", "A", at(station), 100.0, |capture| {
                let calibration = Contribution::new(Component::Calibration, Angle::ZERO)
                    .shared_effects(Source::calibration(source), vec![deg(0.5)]);
                capture.reading.budget = capture.reading.budget.clone().with(calibration);
                capture.reading.angle = deg(read);
            });
        }
        captured
    };
    let verdict = |one: &str, other: &str| {
        let comparison = compared(&with(70, one, 0.0), &with(71, other, 0.6));
        change(&comparison, "blade A zero")
    };
    assert_eq!(verdict("clip #00000000000000aa", "clip #00000000000000aa"), Change::Changed);
    assert_eq!(verdict("clip #00000000000000aa", "clip #00000000000000bb"), Change::CannotTell);
    assert_eq!(verdict("nominal", "nominal"), Change::CannotTell, "two bare sensors are two sensors");

    // So with a datum: the same one read against in both seasons is one error in both, another one is not.
    let against = |seed, id: u128, read: f64| {
        let mut captured = Captured::new(RIG, trainer(), seed);
        for station in [90.0, 270.0] {
            captured.capture_as("collective mid", "A", at(station), 100.0, |capture| {
                capture.datum.id = uuid::Uuid::from_u128(id);
                let datum = Contribution::new(Component::Datum, deg(0.5));
                capture.reading.budget = capture.reading.budget.clone().with(datum);
                capture.reading.angle = deg(read);
            });
        }
        captured
    };
    let verdict = |one, other| change(&compared(&against(74, one, 0.0), &against(75, other, 0.6)), "blade A zero");
    assert_eq!(verdict(1, 1), Change::Changed);
    assert_eq!(verdict(1, 2), Change::CannotTell);

    let before = season(72, &[]);
    let mut after = Captured::new(RIG, trainer(), 73);
    after.capture("elevator up", "A", 90.0);
    assert_eq!(change(&compared(&before, &after), "elevator up"), Change::CannotTell);
    let of_an_axis = |pattern: &Pattern| matches!(pattern, Pattern::Ends { .. } | Pattern::OneEnd { .. });
    assert!(!compared(&before, &after).patterns.iter().any(of_an_axis));
}

fn club(seasons: &[&Captured]) -> Bench {
    let bench = Bench::new();
    for captured in seasons {
        captured.keep(&bench.logbook());
    }
    bench
}

#[test]
fn two_setups_are_compared_by_their_numbers() {
    let bench = club(&[&season(11, &[]), &season(12, &["link B 1"])]);
    let answer = bench.run(&["compare", "1", "2"]);
    assert_eq!(answer.code, 1, "{answer}");
    assert!(answer.stdout.contains("* blade B zero") && answer.stdout.contains("changed"), "{answer}");
    let answer = bench.run(&["compare", "1", "1", "--json"]);
    assert_eq!(answer.code, 0, "{answer}");
    let cells = answer.json()["cells"].as_array().unwrap().clone();
    assert!(cells.iter().all(|cell| cell["difference_deg"].is_null() || number(&cell["difference_deg"]) == 0.0));
    assert!(bench.run(&["compare", "1", "1"]).stdout.contains("same setup twice"));
    assert_eq!(bench.run(&["compare", "1", "9"]).code, 2);
    // Of two helicopters the differences are told, and nothing is said to have been turned.
    let mut other = Captured::new(RIG, Head { name: "Club loan".to_owned(), ..trainer() }, 13);
    other.hands(&["link B 1"]);
    job(&mut other);
    other.keep(&bench.logbook());
    let answer = bench.run(&["compare", "1", "3"]);
    assert!(
        answer.stdout.contains("Workshop trainer and Club loan are two helicopters")
            && answer.stdout.contains("* blade B zero"),
        "{answer}"
    );
    assert!(!answer.stdout.contains("What this suggests"), "{answer}");
}

/// A blade's own weight bends and turns what carries it: with the blades on and off the readings are of two things.
#[test]
fn blades_off_stands_on_the_sheet_and_in_a_comparison() {
    let bench = Bench::new();
    season(14, &[]).keep(&bench.logbook());
    let off = |setup| NewSetup { blades: Blades::Off, ..setup };
    season(15, &["link B 1"]).keep_as(&bench.logbook(), off);
    let sheet = |number: &str, name: &str| {
        let path = bench.name(name);
        bench.done(&["report", number, "--out", &path]);
        std::fs::read_to_string(path).unwrap()
    };
    for name in ["off.html", "off.TXT", "off.json"] {
        let text = sheet("2", name);
        assert!(text.contains("off: the clip sat on the grips"), "{name}: {text}");
        assert!(text.contains("The main blades were on in setup 1 and off in setup 2"), "{name}: {text}");
    }
    assert!(!sheet("1", "on.txt").contains("off: the clip"));
    let answer = bench.run(&["compare", "1", "2"]);
    assert!(answer.stdout.contains("were on in setup 1 and off in setup 2"), "{answer}");
    assert!(answer.stdout.contains("* blade B zero") && !answer.stdout.contains("Was it turned"), "{answer}");
}

/// The clock of the bench was set back between two setups: the one before is still the one that was begun before.
#[test]
fn the_setup_before_is_the_one_that_was_begun_before_whatever_the_clock_said() {
    let bench = club(&[&season(16, &[]), &season(17, &[])]);
    let document = bench.path("second.json");
    bench.done(&["export", "2", "--out", document.to_str().unwrap()]);
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    runtime.block_on(async {
        let logbook = Logbook::open(&Location::from(bench.logbook().as_path())).await.unwrap();
        logbook.amend_setup(2, |setup| setup.started_at = "2020-01-01T12:00:00Z".parse().unwrap()).await.unwrap();
        logbook.close().await;
    });
    let report = |number: &str| bench.run(&["report", number, "--json"]).json()["card"]["against"].clone();
    assert_eq!((report("1"), report("2")), (Value::Null, Value::from(1)));
    let history = bench.run(&["history", "Workshop trainer", "--json"]).json();
    let setups: Vec<&Value> = history["cells"][0]["values"].as_array().unwrap().iter().map(|v| &v["setup"]).collect();
    assert_eq!(setups, [1, 2]);
    // What comes from another logbook stands where its own time puts it.
    let other = club(&[&season(18, &[])]);
    other.done(&["import", document.to_str().unwrap()]);
    let history = other.run(&["history", "Workshop trainer", "--json"]).json();
    assert_eq!(history["cells"][0]["values"][0]["setup"], 2, "{history:#}");
}

#[test]
fn over_the_seasons_the_one_that_stands_out_is_named() {
    let mut seasons: Vec<Captured> = (0..9).map(|k| season(20 + k, &[])).collect();
    seasons.push(season(40, &["endpoint elevator up 80"]));
    let bench = club(&seasons.iter().collect::<Vec<_>>());
    let plot = bench.path("elevator-up.svg");
    let drawn = plot.to_str().unwrap();
    let answer = bench.run(&["history", "Workshop trainer", "--cell", "elevator up", "--plot", drawn]);
    assert_eq!(answer.code, 1, "{answer}");
    assert!(answer.stdout.contains("! elevator up in setup 10:"), "{answer}");
    assert!(std::fs::read_to_string(&plot).unwrap().starts_with("<svg"));
    let document = bench.run(&["history", "Workshop trainer", "--json"]).json();
    let cell =
        |name: &str| document["cells"].as_array().unwrap().iter().find(|cell| cell["cell"] == name).unwrap().clone();
    assert_eq!(cell("elevator up")["values"].as_array().unwrap().len(), 10);
    let chart = &cell("aileron left")["chart"];
    assert_eq!(
        (chart["signals"].as_array().unwrap().len(), &chart["provisional"]),
        (0, &Value::from(false)),
        "{chart}"
    );
    let answer = bench.run(&["history", "Workshop trainer", "--most", "9"]);
    assert!(answer.stdout.starts_with("Workshop trainer, the newest 9 setups (`--most N` shows more)"), "{answer}");
    let answer = bench.run(&["history", "Nobody's"]);
    assert_eq!(answer.code, 2, "{answer}");
}

/// A setup with everything on its sheet: stale, bound, outside and missing cells, adjustments, a season before.
fn handed_over() -> Bench {
    let before = season(50, &[]);
    let mut captured = season(51, &["link B 2"]);
    captured.adjust("link B -1 half-turn");
    captured.hands(&["link B -1"]);
    captured.capture("collective mid", "B", 90.0);
    captured.capture_as("elevator down", "A", at(90.0), 100.0, |capture| {
        capture.limited_by = clinoblade::record::LimitedBy::Bind;
    });
    captured.adjust("aileron left end point 90 %");
    // At the ceiling within its uncertainty: undecided.
    captured.capture_as("elevator up", "A", at(90.0), 100.0, |capture| capture.reading.angle += deg(2.97));
    let once_more = |deflection: &str, reached: f64| Swept {
        furthest: deg(reached),
        held: Some(deg(reached)),
        ..Swept::still(deflection.parse().unwrap())
    };
    let ends = vec![once_more("rudder left", 28.0), once_more("rudder right", 0.0)];
    let spot = Spot::Tail(LeadingEdge::Up);
    captured.happened(Event::Swept { sweep: Sweep { blade: "A".parse().unwrap(), spot, ends } });
    for station in [0.0, 180.0, 270.0] {
        captured.capture("collective mid", "A", station);
        captured.capture("collective mid", "B", station);
    }
    for what in ["collective low", "collective high", "collective 25%", "collective 75%"] {
        captured.capture(what, "A", 90.0);
    }
    // One direction that was taken back and left out.
    let ids: Vec<_> = captured
        .entries
        .iter()
        .filter(|e| matches!(&e.event, Event::Capture(c) if c.subject.deflection().to_string() == "rudder right"))
        .map(|e| e.id)
        .collect();
    assert_eq!(ids.len(), 2);
    for capture in ids {
        captured.happened(Event::Withdrawn { capture, reason: "the belt slipped".to_owned() });
    }
    let reason = "the tail belt is off".to_owned();
    captured.happened(Event::Skipped { cell: "rudder right".parse().unwrap(), reason });
    club(&[&before, &captured])
}

#[test]
fn the_sheet_prints_on_two_pages_with_every_cell_on_them() {
    let bench = handed_over();
    let out = support::paper::sheets();
    let file = |name: &str| out.join(name).display().to_string();
    for name in ["sheet.html", "sheet.txt", "sheet.json"] {
        bench.done(&["report", "2", "--out", &file(name)]);
    }
    let html = std::fs::read_to_string(file("sheet.html")).unwrap();
    assert!(
        !html.contains("http://")
            || html.matches("http://").count() == html.matches("http://www.w3.org/2000/svg").count()
    );
    assert!(!html.contains("<script") && !html.contains("https://"), "the page asks for nothing");

    let printed = support::paper::print(&out.join("sheet.html"));
    let checked = bench.run(&["check", "--setup", "2", "--json"]).json();
    support::paper::hold(&printed, &checked);
    let text = std::fs::read_to_string(file("sheet.txt")).unwrap();
    let cells = checked["cells"].as_array().unwrap();
    for verdict in ["stale", "bound", "inside", "outside", "missing", "undecided"] {
        assert!(cells.iter().any(|cell| cell["verdict"] == verdict), "no {verdict} cell to show: {checked:#}");
    }
    for cell in cells {
        let (name, verdict) = (cell["cell"].as_str().unwrap(), cell["verdict"].as_str().unwrap());
        let shows = |paper: &str| paper.lines().any(|line| line.contains(name) && line.contains(verdict));
        assert!(shows(&text), "{name} {verdict} is not in the mail:\n{text}");
    }
    for words in [
        "link B -1 half-turn, advised: 2 half-turns shorter",
        "aileron left end point 90 %",
        "M2, on an arm of 12 mm",
        "gravity, by the calibration alone",
        "corners",
        "rudder right, left out: the tail belt is off",
        "as measured",
        "Changed since setup 1",
        "Do not raise its end point",
        "It certifies nothing",
        "new links",
        "first bench",
        "second bench",
        "19.5 °C",
        "acknowledged 2025-11-25",
        "rudder left reaches",
        "sweep: elevator, aileron",
        "rudder right does not move",
        "rudder right: does not move",
        "rudder right: missing, left out: the tail belt is off",
        "profile sentence, not calibrated",
    ] {
        let flat = |paper: &str| paper.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(flat(&text).contains(words), "'{words}' is not in the mail:\n{text}");
        assert!(flat(&html).contains(words), "'{words}' is not on the page");
    }
    assert!(html.matches("<svg").count() == 2, "pitch round the turn, and the collective");
    let document: Value = serde_json::from_str(&std::fs::read_to_string(file("sheet.json")).unwrap()).unwrap();
    assert_eq!(document["rows"].as_array().unwrap().len(), cells.len());
    let answer = bench.run(&["report", "2", "--out", &file("sheet.docx")]);
    assert_eq!(answer.code, 2, "{answer}");
}

#[test]
fn words_of_the_person_are_words_and_never_markup() {
    let mut captured =
        Captured::new(RIG, head(&[("name = \"Workshop trainer\"", "name = \"<b>Trainer</b> & co\"")]), 60);
    captured.capture("collective mid", "A", 90.0);
    let bench = club(&[&captured]);
    let file = bench.name("sheet.html");
    bench.done(&["report", "--out", &file]);
    let html = std::fs::read_to_string(&file).unwrap();
    assert!(!html.contains("<b>") && html.contains("&#60;b&#62;Trainer"), "{}", &html[..600]);
}

/// Whoever checks comes when everything is measured, perhaps when the setup is closed already, and gets onto the sheet.
#[test]
fn who_has_checked_gets_onto_the_sheet_afterwards() {
    let bench = Bench::with_setup_unread();
    let amend = |words: &[&str]| bench.run(&[&["setup", "amend"][..], words].concat());
    let nothing = amend(&[]);
    assert!(nothing.code == 2 && nothing.stderr.contains("Name --checked-by"), "{nothing}");
    let blank = amend(&["--checked-by", " "]);
    assert!(blank.code == 2 && blank.stderr.contains("write something"), "{blank}");
    let details = ["--measured-by", "first bench", "--temperature", "-3.5", "--blades", "off", "--reason", "new grips"];
    let amended = amend(&[&details[..], &["--cautions-read"]].concat());
    assert_eq!(amended.code, 0, "{amended}");
    for line in [
        "measured by: first bench",
        "temperature: -3.5 °C",
        "blades: off (before: on)",
        "reason: new grips (before: a test)",
    ] {
        assert!(amended.stdout.contains(line), "{line}: {amended}");
    }
    let again = bench.json(&["setup", "amend", "--measured-by", "first bench"]);
    assert_eq!(again["changed"], serde_json::json!([]), "{again:#}");
    let setup = &again["setup"];
    assert_eq!((&setup["blades"], &setup["temperature_c"]), (&Value::from("off"), &Value::from(-3.5)));
    let read_at = setup["cautions_acknowledged_at"].clone();
    assert!(read_at.is_string());

    bench.done(&["setup", "close", "1"]);
    let closed = amend(&["1", "--checked-by", "second bench", "--temperature", "20"]);
    assert!(closed.code == 2 && closed.stderr.contains("Setup 1 is closed"), "{closed}");
    let checked = bench.json(&["setup", "amend", "1", "--checked-by", "second bench"]);
    let change = serde_json::json!([{ "what": "checked by", "before": null, "after": "second bench" }]);
    assert_eq!(checked["changed"], change);
    assert_eq!(checked["setup"]["temperature_c"], -3.5, "what was measured stays");
    assert_eq!(checked["setup"]["cautions_acknowledged_at"], read_at);
    assert!(checked["setup"]["closed_at"].is_string());
    let sheet = bench.done(&["report", "1"]).stdout;
    let says = |what: &str, who: &str| sheet.lines().any(|line| line.contains(what) && line.contains(who));
    assert!(says("checked by", "second bench") && says("measured by", "first bench"), "{sheet}");
    // Whoever has not read the cautions yet is told how to say it once they are.
    let begun = bench.done(&["setup", "new", "--head", &bench.name("head.toml")]).stdout;
    assert!(begun.contains("`clinoblade setup amend --cautions-read`"), "{begun}");
}

#[test]
fn a_direction_is_left_out_with_a_reason_that_the_pilot_reads() {
    let bench = club(&[&Captured::new(RIG, trainer(), 61)]);
    let said = bench.done(&["setup", "skip", "rudder", "right", "--because", "the tail belt is off"]).stdout;
    assert!(said.starts_with("Skipped: rudder right (the tail belt is off)."), "{said}");
    assert!(bench.done(&["setup", "show"]).stdout.contains("skipped: rudder right (the tail belt is off)"));
    let checked = bench.run(&["check"]);
    assert!(checked.code == 1 && checked.stdout.contains("(left out: the tail belt is off)"), "{checked}");
    assert!(bench.done(&["report"]).stdout.contains("rudder right, left out: the tail belt is off"));
    for (words, says) in [
        (["rudder", "neutral", "--because", "why not"], "rudder neutral is not in this record"),
        (["rudder", "left", "--because", " "], "Say why with --because"),
    ] {
        let refused = bench.run(&[&["setup", "skip"][..], &words].concat());
        assert!(refused.code == 2 && refused.stderr.contains(says), "{refused}");
    }
}
