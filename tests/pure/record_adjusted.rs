//! What an adjustment makes stale and owed, how it is taken back, and what is left out on purpose.

use clinoblade::record::{
    Adjustment, Advice, Approach, CellFinding, CellName, Check, Event, LimitRecord, Reach, SpindleCheck, Sweep, Swept,
    Task, Verdict, plan, remedy,
};
use clinoblade::rotor::{Axis, BladeName, Deflection, LeadingEdge, Spot, Station};
use support::advice::{Bench, at, deg, head};
use uuid::Uuid;

const EDGES: [LeadingEdge; 2] = [LeadingEdge::Up, LeadingEdge::Down];
const MAIN: [&str; 7] =
    ["blade A zero", "blade B zero", "track B - A", "elevator up", "elevator down", "aileron left", "aileron right"];
const TAIL: [&str; 3] = ["rudder left", "rudder right", "tail neutral"];

/// The whole record of a head whose blades stand at zero, the tail's servo by this number, both slopes in it.
fn job(servo: &str) -> Bench {
    let described = [("# servo = 4", servo), ("# tail_neutral = \"6 ± 1\"", "tail_neutral = \"0 ± 5\"")];
    let mut bench = Bench::new("", head(&described), 21);
    measure(&mut bench);
    bench
}

fn measure(bench: &mut Bench) {
    for blade in ["A", "B"] {
        zeros(bench, blade);
    }
    for (station, ends) in [(90.0, ["elevator up", "elevator down"]), (0.0, ["aileron left", "aileron right"])] {
        let neutral = if station > 0.0 { "elevator neutral" } else { "aileron neutral" };
        for what in [neutral, ends[0], ends[1]] {
            drooping(bench, what, "A", station);
        }
    }
    tail(bench);
}

fn tail(bench: &mut Bench) {
    for edge in EDGES {
        for position in ["rudder neutral", "rudder left", "rudder right"] {
            bench.capture_as(position, "A", Spot::Tail(edge), 100.0, |_| {});
        }
    }
}

/// An axis, moved once more to where its record has it.
fn sweep(bench: &mut Bench, axis: Axis) {
    let (spot, ends) = match axis {
        Axis::Elevator => (at(90.0), ["elevator up", "elevator down"]),
        Axis::Aileron => (at(0.0), ["aileron left", "aileron right"]),
        _ => (Spot::Tail(LeadingEdge::Down), ["rudder left", "rudder right"]),
    };
    let end = |name: &str| {
        let reached = bench.cell(name).travel().unwrap();
        Swept { furthest: reached, held: Some(reached), ..Swept::still(name.parse().unwrap()) }
    };
    let sweep = Sweep { blade: BladeName::A, spot, ends: ends.map(end).to_vec() };
    bench.happened(Event::Swept { sweep });
}

/// A blade on both sides of the boom.
fn zeros(bench: &mut Bench, blade: &str) {
    for station in [90.0, 270.0] {
        drooping(bench, "collective mid", blade, station);
    }
}

/// Its span slopes by what a blade droops, a degree, wherever it stands.
fn drooping(bench: &mut Bench, what: &str, blade: &str, station: f64) {
    bench.capture_as(what, blade, at(station), 100.0, |capture| {
        capture.reading.span_inclination = deg(-1.0);
        capture.reading.up.span = -0.017;
    });
}

fn spindle(bench: &mut Bench, blade: BladeName) {
    let read = [0, 90, 180, 270].map(|seat| (seat, deg(-1.0), deg(0.005)));
    let check = SpindleCheck::new(blade, Station::from_degrees(90.0).unwrap(), &read).unwrap();
    bench.happened(Event::Spindle { check });
}

fn stale(record: &LimitRecord) -> Vec<String> {
    let stale = record.cells.iter().filter(|cell| matches!(cell.verdict, Verdict::Stale { .. }));
    stale.map(|cell| cell.name.to_string()).collect()
}

fn wanted(record: &LimitRecord) -> Vec<String> {
    record.to_measure.iter().map(ToString::to_string).collect()
}

fn withdraw(bench: &mut Bench, entry: Uuid) {
    bench.happened(Event::Withdrawn { capture: entry, reason: "it was wrong".to_owned() });
}

fn skip(bench: &mut Bench, cell: &str) {
    bench.happened(Event::Skipped { cell: cell.parse().unwrap(), reason: "the belt is off".to_owned() });
}

fn b() -> BladeName {
    "B".parse().unwrap()
}

/// The fourth servo is the swashplate's or the tail's: where the description says neither, what it can have moved is out of date.
#[test]
fn the_fourth_servo_makes_stale_what_the_description_gives_it_and_both_where_it_says_nothing() {
    for (servo, cells) in [("", vec![&MAIN[..], &TAIL]), ("servo = 5", vec![&MAIN]), ("servo = 4", vec![&TAIL])] {
        for said in ["sub-trim 4 5", "servo 4 replaced", "servo arm 4"] {
            let mut bench = job(servo);
            bench.adjust(said);
            let mut found = stale(&bench.record());
            let mut cells: Vec<String> = cells.concat().iter().map(ToString::to_string).collect();
            found.sort();
            cells.sort();
            assert_eq!(found, cells, "{said}, {servo}");
        }
        let mut bench = job(servo);
        bench.adjust("sub-trim 3 5");
        assert_eq!(stale(&bench.record()), MAIN, "{servo}");
    }
}

/// A sensor whose scale is off reads other travels with either edge: a sweep with one is held against that one.
#[test]
fn a_sweep_of_the_tail_is_held_against_the_leading_edge_with_which_it_was_moved() {
    for (edge, reach) in [(LeadingEdge::Down, "as recorded"), (LeadingEdge::Up, "short")] {
        let mut bench = Bench::new("", head(&[]), 21);
        for of in EDGES {
            for position in ["rudder neutral", "rudder left", "rudder right"] {
                bench.capture_as(position, "A", Spot::Tail(of), 100.0, |capture| {
                    let stretched = if of == LeadingEdge::Up { 1.15 } else { 1.0 };
                    capture.reading.angle = capture.reading.angle * stretched;
                });
            }
        }
        let down = bench.cell("rudder left").travel().unwrap().degrees() / 1.075;
        let end =
            |name: &str| Swept { furthest: deg(down), held: Some(deg(down)), ..Swept::still(name.parse().unwrap()) };
        let ends = ["rudder left", "rudder right"].map(end).to_vec();
        bench.happened(Event::Swept { sweep: Sweep { blade: BladeName::A, spot: Spot::Tail(edge), ends } });
        let left = bench.record().swept.into_iter().find(|end| end.deflection.to_string() == "rudder left").unwrap();
        let expected = if reach == "short" { Reach::Short } else { Reach::AsRecorded };
        assert_eq!(left.reach, expected, "{edge:?}: {left:?}");
    }
}

/// What the list asks for makes the corner judged, also where a part of it had been read off its station.
#[test]
fn an_owed_corner_leaves_the_list_once_what_is_listed_was_captured() {
    let mut bench = job("");
    bench.adjust("crash");
    measure(&mut bench);
    bench.capture("collective high", "A", 90.0);
    bench.capture("elevator up", "A", 110.0);
    let of_corner = |bench: &Bench| {
        let cell = bench.cell("corner high up-right");
        (
            cell.verdict.is_captured(),
            bench.record().to_measure.iter().any(|w| w.to_string().contains("corner high up-right")),
        )
    };
    assert_eq!(of_corner(&bench), (false, true));
    for _ in 0..2 {
        for wanted in bench.record().to_measure.clone() {
            let subject = wanted.subject;
            bench.capture_as(
                &subject.deflection().to_string(),
                &subject.blade().to_string(),
                subject.spot(),
                100.0,
                |_| {},
            );
        }
    }
    assert_eq!(of_corner(&bench), (true, false), "{:?}", wanted(&bench.record()));
}

#[test]
fn an_owed_droop_that_the_sensor_cannot_show_says_so() {
    let mut bench = Bench::new("", head(&[]), 21);
    bench.adjust("crash");
    for shown in [false, true] {
        for blade in ["A", "B"] {
            bench.capture_as("collective mid", blade, at(90.0), 100.0, |capture| {
                if !shown {
                    capture.reading.up.span = 0.0;
                    capture.reading.span_inclination = deg(0.0);
                }
            });
        }
        let cell = bench.cell("droop B - A");
        assert_eq!(cell.consequence == Some(CellFinding::SpanUnseen), !shown, "{cell:?}");
    }
}

/// Droop is moved by what holds the blade alone, whatever else it makes stale.
#[test]
fn every_event_of_the_bench_makes_stale_what_it_can_have_moved() {
    let of_b: &[&str] = &["blade B zero", "track B - A"];
    let of_a: &[&str] =
        &["blade A zero", "track B - A", "elevator up", "elevator down", "aileron left", "aileron right"];
    let droop: &[&str] = &["droop B - A"];
    for (said, cells) in [
        ("link B +0.64", vec![of_b]),
        ("grip B replaced", vec![of_b, droop]),
        ("blade A replaced", vec![of_a, droop]),
        ("blades A and B exchanged", vec![&MAIN, droop]),
        ("blades replaced", vec![&MAIN, droop]),
        ("spindle replaced", vec![&MAIN, droop, &["blade A spindle", "blade B spindle"]]),
        ("shaft replaced", vec![&MAIN, droop, &["blade A spindle", "blade B spindle"]]),
        ("servo 2 replaced", vec![&MAIN]),
        ("servo arm 2 +1 tooth", vec![&MAIN]),
        ("sub-trim 2 5", vec![&MAIN]),
        ("elevator trim 4", vec![&MAIN]),
        ("mixing changed", vec![&MAIN, &TAIL]),
        ("rudder trim 4", vec![&TAIL]),
        ("tail sub-trim 5", vec![&TAIL]),
        ("tail servo arm +1 tooth", vec![&TAIL]),
        ("tail servo replaced", vec![&TAIL]),
        ("tail blades replaced", vec![&TAIL]),
        ("tail rod +0.5", vec![&TAIL]),
        // By the number that the description gives the tail's servo.
        ("sub-trim 5 -4", vec![&TAIL]),
        ("servo arm 5", vec![&TAIL]),
        ("servo 5 replaced", vec![&TAIL]),
    ] {
        let mut bench = job("servo = 5");
        spindle(&mut bench, BladeName::A);
        spindle(&mut bench, b());
        assert!(bench.record().complete && stale(&bench.record()).is_empty(), "{:?}", bench.record());
        assert_eq!(said.parse::<Adjustment>().unwrap().possible_on(&bench.head), Ok(()), "{said}");
        bench.adjust(said);
        let mut cells: Vec<String> = cells.concat().iter().map(ToString::to_string).collect();
        let mut found = stale(&bench.record());
        // A grip on the spindle's other end renews that blade's check too.
        found.retain(|name| said != "grip B replaced" || name != "blade B spindle");
        cells.sort();
        found.sort();
        assert_eq!(found, cells, "{said}");
    }
}

#[test]
fn a_spindle_is_renewed_by_what_holds_it_and_by_nothing_else() {
    let renews = |said: &str, blade| said.parse::<Adjustment>().unwrap().renews_spindle(blade);
    for said in ["spindle replaced", "shaft replaced", "crash", "parts replaced", "grip B replaced"] {
        assert!(renews(said, b()), "{said}");
    }
    for said in ["grip A replaced", "blade B replaced", "link B +1", "servo arm 1", "mixing changed", "blades replaced"]
    {
        assert!(!renews(said, b()), "{said}");
    }
}

#[test]
fn a_wrong_adjustment_is_taken_back_and_what_it_had_made_stale_holds_again() {
    let mut bench = job("");
    let before = bench.record();
    bench.adjust("swash link 2 +1");
    let wrong = bench.entries.last().unwrap().id;
    bench.adjust("link B +1 half-turn");
    assert_eq!(stale(&bench.record()).len(), 7);
    withdraw(&mut bench, wrong);
    assert_eq!(stale(&bench.record()), ["blade B zero", "track B - A"], "the other one stands");
    let right = bench.entries[bench.entries.len() - 2].id;
    withdraw(&mut bench, right);
    let after = bench.record();
    assert_eq!(after.cells, before.cells);
    assert!(after.complete && after.to_measure.is_empty());
    assert_eq!(clinoblade::record::adjustments(&bench.head, &bench.entries), []);
    // An end point that was never set does not scale what was captured before it.
    bench.adjust("elevator up end point 50");
    let set = bench.entries.last().unwrap().id;
    let up: Deflection = "elevator up".parse().unwrap();
    let now = |bench: &Bench| clinoblade::record::TravelSurvey::end_point_now(&bench.entries, up);
    assert!(now(&bench).is_some());
    withdraw(&mut bench, set);
    assert_eq!(now(&bench), None);
}

/// From one station alone a zero is undecided by the lean: whoever measures the list must not end there.
#[test]
fn after_a_link_was_turned_both_stations_are_on_the_list_and_measuring_them_decides() {
    let mut bench = job("");
    bench.adjust("link B +1 half-turn");
    assert_eq!(wanted(&bench.record()), ["collective mid, blade B at 90°", "collective mid, blade B at 270°"]);
    zeros(&mut bench, "B");
    let record = bench.record();
    assert!(record.complete && record.to_measure.is_empty());
    assert!(!matches!(bench.cell("blade B zero").verdict, Verdict::Undecided { .. }), "{record:?}");
    // What holds is not asked for again.
    assert_eq!(wanted(&job("").record()), [""; 0]);
}

/// Blades of three stand a third of a turn apart: the next begins at the station that is nearest.
#[test]
fn the_list_follows_the_guided_order_of_the_stations() {
    let three = [("Blade A is the one that the others are compared with.\nblades = 2", "\nblades = 3")];
    let bench = Bench::new("head.blades = 3", head(&three), 5);
    let listed: Vec<String> =
        wanted(&bench.record()).into_iter().filter(|wanted| wanted.starts_with("collective mid")).collect();
    let planned =
        plan::plan(&bench.head, &bench.entries).into_iter().filter_map(|line| match (line.task, line.seat.spot) {
            (Task::Capture(mid), Spot::Main(station)) if mid.to_string() == "collective mid" => {
                Some(format!("collective mid, blade {} at {station}", line.seat.blade))
            }
            _ => None,
        });
    assert_eq!(listed, planned.collect::<Vec<_>>());
}

#[test]
fn what_is_left_out_is_not_owed_and_not_green() {
    let mut bench = job("");
    bench.adjust("tail rod +1");
    assert!(!bench.record().complete);
    for cell in TAIL {
        assert!(plan_leads_to(&bench, cell), "{cell}");
        skip(&mut bench, cell);
        assert!(!bench.cell(cell).is_owed());
    }
    let record = bench.record();
    assert!(record.complete && !record.good, "{record:?}");
    assert!(record.to_measure.is_empty());
    for cell in TAIL {
        assert!(!plan_leads_to(&bench, cell), "{cell}");
        assert_eq!(bench.cell(cell).left_out.as_deref(), Some("the belt is off"));
        assert_eq!(bench.cell(cell).verdict.word(), "stale", "its verdict stays what it is");
        let said = CellFinding::LeftOut { reason: "the belt is off".to_owned() };
        assert!(bench.cell(cell).remarks.contains(&said));
    }
    // Captured after all.
    tail(&mut bench);
    let record = bench.record();
    assert!(record.complete && record.cells.iter().all(|cell| cell.left_out.is_none()));
    // Once more stale it is owed again: the note was about the day on which it was left out.
    bench.adjust("tail rod +1");
    assert!(!bench.record().complete);
}

#[test]
fn a_cell_that_was_left_out_by_mistake_is_owed_again() {
    let mut bench = job("");
    bench.adjust("link B +1");
    skip(&mut bench, "blade B zero");
    let wrong = bench.entries.last().unwrap().id;
    assert!(!bench.record().complete, "its split is still owed");
    skip(&mut bench, "track B - A");
    assert!(bench.record().complete && !bench.record().good);
    withdraw(&mut bench, wrong);
    assert!(!bench.record().complete);
    assert_eq!(bench.cell("blade B zero").left_out, None);
}

fn plan_leads_to(bench: &Bench, cell: &str) -> bool {
    let what = if cell == "tail neutral" { "rudder neutral" } else { cell };
    let lines = plan::plan(&bench.head, &bench.entries);
    lines.iter().any(|line| matches!(line.task, Task::Capture(end) if end.to_string() == what))
}

const BESIDES: [&str; 14] = [
    "tail split",
    "droop B - A",
    "blade A slop",
    "blade B slop",
    "blade A spindle",
    "blade B spindle",
    "corner high up-right",
    "corner high down-right",
    "corner high down-left",
    "corner high up-left",
    "corner low up-right",
    "corner low down-right",
    "corner low down-left",
    "corner low up-left",
];

#[test]
fn after_a_crash_everything_is_owed_that_is_otherwise_measured_at_will() {
    for event in ["crash", "parts replaced"] {
        let mut bench = Bench::new("", head(&[]), 3);
        bench.adjust(event);
        let record = bench.record();
        for cell in BESIDES {
            assert!(bench.cell(cell).is_owed() && bench.cell(cell).verdict == Verdict::Missing, "{event}: {cell}");
        }
        let (a, b) = (BladeName::A, b());
        let sweeps = [Axis::Elevator, Axis::Aileron, Axis::Rudder].map(|axis| Check::Sweep { axis });
        let of_blades = [
            Check::Slop { blade: a },
            Check::Slop { blade: b },
            Check::Spindle { blade: a },
            Check::Spindle { blade: b },
        ];
        assert_eq!(record.to_check, [&of_blades[..], &sweeps].concat(), "{event}");
        let listed = wanted(&record);
        for capture in [
            "rudder neutral, tail blade A, leading edge up",
            "rudder neutral, tail blade B, leading edge up",
            "collective low, blade A at 90°",
            "corner high up-right, blade A at 90°",
        ] {
            assert!(listed.contains(&capture.to_owned()), "{event}: {capture} in {listed:?}");
        }
        // A record in which nothing happened owes none of it.
        let quiet = Bench::new("", head(&[]), 3).record();
        assert!(quiet.to_check.is_empty());
        let names: Vec<String> = quiet.cells.iter().map(|cell| cell.name.to_string()).collect();
        assert!(BESIDES.iter().all(|cell| !names.contains(&(*cell).to_owned())), "{names:?}");
    }
}

#[test]
fn after_a_crash_the_record_is_complete_once_all_of_it_was_measured() {
    let mut bench = job("");
    assert!(bench.record().complete);
    bench.adjust("crash");
    let crash = bench.entries.last().unwrap().id;
    for cell in MAIN.iter().chain(&TAIL) {
        assert_eq!(bench.cell(cell).verdict.word(), "stale", "{cell}");
    }
    let mut again = job("");
    again.adjust("crash");
    measure(&mut again);
    assert!(!again.record().complete, "nothing but the usual was measured");
    for blade in [BladeName::A, b()] {
        spindle(&mut again, blade);
    }
    let open: Vec<String> = again
        .record()
        .cells
        .iter()
        .filter(|c| c.is_owed() && !c.verdict.is_captured())
        .map(|c| c.name.to_string())
        .collect();
    assert!(open.iter().all(|cell| BESIDES.contains(&cell.as_str())), "{open:?}");
    assert!(!open.contains(&"blade A spindle".to_owned()) && !open.contains(&"droop B - A".to_owned()), "{open:?}");
    // What is owed may be left out as anything else, and a crash that was none is taken back.
    for cell in &open {
        skip(&mut again, cell);
    }
    for (swept, axis) in [Axis::Elevator, Axis::Aileron, Axis::Rudder].into_iter().enumerate() {
        let record = again.record();
        assert!(record.to_check.len() == 3 - swept && !record.complete && !record.good, "{record:?}");
        sweep(&mut again, axis);
    }
    let record = again.record();
    assert!(record.to_check.is_empty() && record.complete && !record.good, "{record:?}");
    withdraw(&mut bench, crash);
    assert!(bench.record().complete && bench.record().to_check.is_empty());
}

/// A plate that leans on a head whose description does not say where its servos stand.
#[test]
fn a_plate_that_leans_asks_for_the_lines_that_are_missing() {
    let advice = |described: &[(&str, &str)]| {
        let mut bench = Bench::new("blades = { droop_deg = [-1.0, -1.2] }", head(described), 9);
        bench.hands(&["rod 3 4"]);
        for station in [0.0, 90.0, 180.0, 270.0] {
            bench.capture("collective mid", "A", station);
        }
        let record = bench.record();
        let cell = record.cell(CellName::SwashLevel).expect("the plate was read round").clone();
        (cell.verdict.word(), remedy(&bench.head, &bench.entries, &record, &cell))
    };
    assert_eq!(advice(&[]), ("outside", Some(Advice::PlateNotDescribed)));
    let (word, told) = advice(&[("# swash = ", "swash = ")]);
    assert!(word == "outside" && matches!(told, Some(Advice::LevelPlate(_))), "{told:?}");
}

/// What was not as it should be may still be so, whatever was turned since.
#[test]
fn what_was_amiss_before_something_was_turned_is_owed_until_it_is_measured_again() {
    let bent = |bench: &mut Bench, by: f64| {
        let read =
            [0, 90, 180, 270].map(|seat| (seat, deg(-1.0 + by * f64::from(seat).to_radians().cos()), deg(0.005)));
        let check = SpindleCheck::new(BladeName::A, Station::from_degrees(90.0).unwrap(), &read).unwrap();
        bench.happened(Event::Spindle { check });
    };
    let slop = |bench: &mut Bench, by: f64| {
        for (from, off) in [(Approach::Below, 0.0), (Approach::Above, by)] {
            bench.capture_as("collective mid", "A", at(90.0), 100.0, |capture| {
                capture.approach = Some(from);
                capture.reading.angle += deg(off);
            });
        }
    };
    let split = |bench: &mut Bench, by: f64| {
        for edge in EDGES {
            bench
                .capture_as("rudder neutral", "B", Spot::Tail(edge), 100.0, |capture| capture.reading.angle += deg(by));
        }
    };
    type Measured<'m> = &'m dyn Fn(&mut Bench, f64);
    let cases: [(&str, Measured<'_>, f64, &str); 3] = [
        ("blade A spindle", &bent, 1.0, "grip A replaced"),
        ("blade A slop", &slop, 0.9, "elevator trim 1"),
        ("tail split", &split, 2.0, "tail rod +1"),
    ];
    for (name, measure, amiss, turned) in cases {
        for (by, owed) in [(amiss, true), (0.0, false)] {
            let mut bench = job("");
            measure(&mut bench, by);
            let before = bench.record();
            let cell = before.cells.iter().find(|cell| cell.name.to_string() == name);
            let found: Vec<String> = before.cells.iter().map(|cell| cell.name.to_string()).collect();
            let cell = cell.unwrap_or_else(|| panic!("{name} in {found:?}"));
            assert_eq!(cell.verdict == Verdict::Outside, owed, "{cell:?}");
            bench.adjust(turned);
            let cell = bench.record().cells.into_iter().find(|cell| cell.name.to_string() == name).unwrap();
            assert!(matches!(cell.verdict, Verdict::Stale { .. }), "{name}: {cell:?}");
            assert_eq!(cell.is_owed(), owed, "{name} after {turned}");
        }
    }
}
