//! The setup sheet of the fullest record that there can be, and of a person who writes a great deal: two pages.

use clinoblade::logbook::NewSetup;
use clinoblade::record::{Approach, CableCheck, Event, Head, LimitedBy, SpindleCheck, Sweep, Swept};
use clinoblade::rotor::{LeadingEdge, Spot, Station};
use support::advice::{Bench as Captured, at, deg, head};
use support::bench::Bench;

const BLADES: [&str; 5] = ["A", "B", "C", "D", "E"];
const RIG: &str = "head = { blades = 5, collective_deg = 9.0, cyclic_deg = 8.0 }\ntail.travel_deg = 28.0";

fn five_blades() -> Head {
    head(&[
        ("blades = 2\n\n# Phase", "blades = 5\n\n# Phase"),
        ("# collective_low", "collective_low"),
        ("# collective_high", "collective_high"),
        ("# positive = \"right\"", "positive = \"right\""),
    ])
}

fn station(degrees: f64) -> Station {
    Station::from_degrees(degrees).unwrap()
}

/// Everything that a record can hold, measured once.
fn everything(captured: &mut Captured) {
    for blade in BLADES {
        for from in [Approach::Below, Approach::Above] {
            captured.capture_as("collective mid", blade, at(90.0), 100.0, |capture| capture.approach = Some(from));
        }
        let check = SpindleCheck {
            blade: blade.parse().unwrap(),
            station: station(90.0),
            before: deg(0.1),
            after: deg(0.3),
            u_repeat: deg(0.03),
            quarters: None,
        };
        captured.happened(Event::Spindle { check });
        for place in [0.0, 180.0, 270.0] {
            captured.capture("collective mid", blade, place);
        }
    }
    let blade = "A".parse().unwrap();
    let check = CableCheck { blade, station: station(90.0), lifted: deg(0.0), slack: deg(0.3), u_repeat: deg(0.03) };
    captured.happened(Event::Cable { check });
    for (place, axis, ways) in [(90.0, "elevator", ["up", "down"]), (0.0, "aileron", ["left", "right"])] {
        for collective in ["mid", "low", "high"] {
            captured.capture(&format!("collective {collective}"), "A", place);
        }
        captured.capture(&format!("{axis} neutral"), "A", place);
        for way in ways {
            captured.capture(&format!("{axis} {way}"), "A", place);
        }
        for collective in ["low", "high"] {
            for way in ways {
                captured.capture(&format!("corner {collective} {way}"), "A", place);
            }
        }
        captured.capture(&format!("corner mid {}", ways[0]), "A", place);
    }
    for what in ["collective 25%", "collective 75%"] {
        captured.capture(what, "A", 90.0);
    }
    for edge in [LeadingEdge::Up, LeadingEdge::Down] {
        for what in ["rudder neutral", "rudder left", "rudder right"] {
            captured.capture_as(what, "A", Spot::Tail(edge), 100.0, |_| {});
        }
    }
}

fn adjustments(captured: &mut Captured, count: usize) {
    for k in 0..count {
        let blade = BLADES[k % 5];
        let words = match k % 4 {
            0 => format!("link {blade} {:+} half-turns", 1 + k as i32 % 3),
            1 => format!("elevator up end point {}", 80 + k % 20),
            2 => format!("sub-trim {} {}", 1 + k % 3, k as i32 % 9 - 4),
            _ => format!("aileron left end point {}.5", 80 + k % 20),
        };
        captured.adjust(&words);
    }
}

/// A record in which every kind of verdict stands, after 60 adjustments, a season after another one.
fn fullest(seed: u64) -> Captured {
    let mut captured = Captured::new(RIG, five_blades(), seed);
    captured.hands(&["link B 2", "link D -2"]);
    everything(&mut captured);
    adjustments(&mut captured, 60);
    // Some of it once more, the rest stays as it was before.
    captured.capture_as("elevator neutral", "A", at(90.0), 100.0, |_| {});
    captured.capture_as("elevator down", "A", at(90.0), 90.0, |capture| capture.limited_by = LimitedBy::Bind);
    captured.capture_as("elevator up", "A", at(90.0), 100.0, |capture| capture.reading.angle += deg(3.95));
    captured.capture("collective mid", "A", 90.0);
    captured.capture("collective mid", "B", 90.0);
    captured.capture("collective mid", "C", 90.0);
    let ends = ["elevator up", "elevator down"].map(|end| Swept {
        furthest: deg(7.0),
        held: Some(deg(7.0)),
        ..Swept::still(end.parse().unwrap())
    });
    captured.happened(Event::Swept { sweep: Sweep { blade: "A".parse().unwrap(), spot: at(90.0), ends: ends.into() } });
    captured
}

#[test]
fn five_blades_ten_corners_and_sixty_adjustments_go_on_two_pages() {
    let mut before = Captured::new(RIG, five_blades(), 80);
    everything(&mut before);
    let bench = Bench::new();
    before.keep(&bench.logbook());
    fullest(81).keep(&bench.logbook());
    let html = support::paper::sheets().join("fullest.html");
    for ending in ["html", "txt", "json"] {
        bench.done(&["report", "2", "--out", html.with_extension(ending).to_str().unwrap()]);
    }
    let record = bench.run(&["check", "--setup", "2", "--json"]).json();
    let cells = record["cells"].as_array().unwrap();
    assert!(cells.len() >= 33, "{} cells", cells.len());
    for verdict in ["stale", "bound", "inside", "outside"] {
        assert!(cells.iter().any(|cell| cell["verdict"] == verdict), "no {verdict} cell to show: {record:#}");
    }
    let printed = support::paper::print(&html);
    support::paper::hold(&printed, &record);
    // What has no room is said, and stands in the document.
    let page = std::fs::read_to_string(&html).unwrap();
    assert!(page.contains("earlier in the JSON document of this sheet") && page.contains("more in the JSON document"));
    let document: serde_json::Value =
        serde_json::from_str(&std::fs::read_to_string(html.with_extension("json")).unwrap()).unwrap();
    assert_eq!(document["turned"].as_array().unwrap().len(), 60);
    assert_eq!(document["rows"].as_array().unwrap().len(), cells.len());
}

#[test]
fn nothing_measured_is_a_sheet_as_well() {
    let bench = Bench::new();
    Captured::new(RIG, five_blades(), 82).keep(&bench.logbook());
    let html = support::paper::sheets().join("empty.html");
    bench.done(&["report", "--out", html.to_str().unwrap()]);
    let record = bench.run(&["check", "--json"]).json();
    assert!(record["cells"].as_array().unwrap().iter().all(|cell| cell["verdict"] == "missing"));
    support::paper::hold(&support::paper::print(&html), &record);
}

/// Names, reasons and remarks as long as anybody's: they are cut where the paper says so, and no cell makes room for them.
#[test]
fn a_person_who_writes_a_great_deal_gets_two_pages_too() {
    let long =
        |what: &str| format!("{what}: {}", "the left rear link was stiff when it was cold, and so on ".repeat(20));
    let mut captured = fullest(83);
    captured.head.name = long("The club's five-blade");
    for k in 0..20 {
        let adjustment = format!("tail rod {:+}", 1 + k).parse().unwrap();
        captured.happened(Event::Adjustment { adjustment, note: Some(long("looked at twice")) });
    }
    for end in ["rudder left", "rudder right"] {
        captured.happened(Event::Skipped { cell: end.parse().unwrap(), reason: long("the tail belt is off") });
    }
    let bench = Bench::new();
    captured.keep_as(&bench.logbook(), |setup| NewSetup {
        reason: long("new links"),
        measured_by: Some(long("first bench")),
        checked_by: Some(long("second bench")),
        ..setup
    });
    let html = support::paper::sheets().join("wordy.html");
    bench.done(&["report", "--out", html.to_str().unwrap()]);
    let record = bench.run(&["check", "--json"]).json();
    support::paper::hold(&support::paper::print(&html), &record);
}
