//! What is said of the rotor, all of it.

use super::*;
use clinoblade_rotor::{Expectation, Place, Readings, Rotation, Station};

fn deg(value: f64) -> Angle {
    Angle::from_degrees(value)
}

fn on_both(of: &dyn Say) -> String {
    let (typed, page) = (of.say(Face::Terminal), of.say(Face::Page));
    if typed == page { typed } else { format!("{typed}\n  page: {page}") }
}

fn phase(axis: Axis, degrees: f64) -> AxisPhase {
    AxisPhase {
        axis,
        amplitude: deg(12.0),
        u_amplitude: deg(0.1),
        phase: deg(degrees),
        u_phase: deg(0.12),
        leak: deg(12.0) * deg(degrees).sin(),
        u_leak: deg(0.02),
        residual_rms: deg(0.01),
    }
}

#[test]
fn every_error() {
    let spot = Spot::Main(Station::from_degrees(90.0).unwrap());
    let tail = Spot::Tail(LeadingEdge::Up);
    let b = BladeName::from_index(1).unwrap();
    let steep = SpanTooSteep { span_slope: deg(-71.0) };
    let directions = ["elevator left", "aileron up", "collective 101%", "corner up", "throttle up"]
        .map(|text| text.parse::<clinoblade_rotor::Deflection>().unwrap_err());
    let tables = [
        "",
        "blade",
        "blade,blade",
        "colour",
        "blade,station_deg,clip,apparent_deg,span_deg,u_span_deg",
        "blade,station_deg,clip,apparent_deg,span_deg",
        "blade,station_deg,clip,apparent_deg,span_deg\nA,0,forward,1",
        "blade,station_deg,clip,apparent_deg,span_deg\nA,0,forward,1,95",
        "blade,station_deg,clip,apparent_deg,span_deg\nA,0,forward,x,2",
        "blade,station_deg,clip,apparent_deg,span_deg\n0,0,forward,1,2",
        "blade,station_deg,clip,apparent_deg,span_deg\nA,0,sideways,1,2",
        "blade,station_deg,clip,apparent_deg,span_deg,u_apparent_deg,u_span_deg\nA,0,forward,1,2,0.1,0",
        "# rotation=anticlockwise\nblade,station_deg,clip,apparent_deg,span_deg\nA,0,forward,1,2",
    ]
    .map(|text| Readings::from_csv(text, Some(Rotation::Clockwise)).unwrap_err());
    let rest: Vec<Box<dyn Say>> = vec![
        Box::new(PlaceError::Station("north".into())),
        Box::new(PlaceError::Blade("Z".into())),
        Box::new(DatumError::Heading { heading: Station::from_degrees(90.0).unwrap(), away: deg(40.0) }),
        Box::new(DatumError::OtherPlace(Place { blade: b, spot, clip: Clip::Reversed })),
        Box::new(DatumError::NotForTail),
        Box::new(DatumError::NotReversed(deg(31.0))),
        Box::new(TailError::Span(steep)),
        Box::new(TailError::ChordLevel),
        Box::new(TailError::SamePosition(LeadingEdge::Up)),
        Box::new(TrackError::OneBlade),
        Box::new(TrackError::Places { first: BladeName::A, first_spot: spot, second: b, second_spot: tail }),
        Box::new(TrackError::Clips),
        Box::new(SolutionError::NoReadings),
        Box::new(SolutionError::NotFinite(3)),
        Box::new(SolutionError::MixedUncertainty),
        Box::new(SolutionError::Uncertainty(3)),
        Box::new(SolutionError::Unsettled),
        Box::new(ReadingsError::NoRotation),
        Box::new(PhaseError::NotCyclic(Axis::Rudder)),
        Box::new(PhaseError::NoTravel(Axis::Elevator)),
        Box::new(PhaseError::NotFinite(Axis::Elevator)),
        Box::new(PhaseError::Hidden(Axis::Elevator)),
    ];
    let said: Vec<String> = directions
        .iter()
        .map(|error| on_both(error))
        .chain(tables.iter().map(|error| on_both(error)))
        .chain(rest.iter().map(|error| on_both(error.as_ref())))
        .collect();
    insta::assert_snapshot!(said.join("\n"));
}

#[test]
fn a_solution_and_one_that_is_not_told() {
    let read = |azimuths: &[f64], off: f64| {
        let rows = azimuths.iter().flat_map(|&azimuth| {
            let (sin, cos) = azimuth.to_radians().sin_cos();
            let pitch = 1.0 + 2.0 * cos + 0.5 * sin;
            let row = move |blade: &str, more: f64| {
                format!("{blade},{azimuth},forward,{},{},0.03,0.03\n", pitch + more, cos - 2.0)
            };
            [row("A", off * sin * cos), row("B", -0.4)]
        });
        let header = "blade,station_deg,clip,apparent_deg,span_deg,u_apparent_deg,u_span_deg\n";
        let table = Readings::from_csv(&(header.to_owned() + &rows.collect::<String>()), Some(Rotation::Clockwise));
        let table = table.unwrap();
        let found = clinoblade_rotor::solve(&table.readings, table.rotation).unwrap();
        solution(&table.readings, &found, false)
    };
    let said =
        [read(&[0.0, 90.0, 180.0, 270.0], 0.0), read(&[0.0, 180.0], 0.0), read(&[10.0, 100.0, 190.0, 280.0], 2.0)];
    insta::assert_snapshot!(said.iter().map(String::as_str).chain([MOVED_SINCE]).collect::<Vec<_>>().join("\n\n"));
}

#[test]
fn every_phase_and_question() {
    let pair = |elevator, aileron, arm_lead: Option<f64>| PhasePair {
        elevator: phase(Axis::Elevator, elevator),
        aileron: phase(Axis::Aileron, aileron),
        arm_lead: arm_lead.map(deg),
    };
    let question = |direction: &str, station: f64, neutral: Option<f64>| {
        let station = Station::from_degrees(station).unwrap();
        let expected = Expectation::of(direction.parse().unwrap(), station, Rotation::Clockwise, Angle::ZERO);
        expected.unwrap().contradiction(deg(-8.0), neutral.map(deg), deg(0.2)).unwrap()
    };
    let said: Vec<Box<dyn Say>> = vec![
        Box::new(phase(Axis::Elevator, 10.0)),
        Box::new(phase(Axis::Aileron, -10.0)),
        Box::new(phase(Axis::Elevator, 1.0)),
        Box::new(phase(Axis::Elevator, 0.1)),
        Box::new(pair(10.0, 2.0, None)),
        Box::new(pair(0.1, -0.1, None)),
        Box::new(pair(10.0, 10.0, None)),
        Box::new(pair(10.0, 10.0, Some(80.0))),
        Box::new(pair(10.0, 10.0, Some(86.0))),
        Box::new(question("elevator up", 90.0, Some(1.0))),
        Box::new(question("aileron right", 0.0, None)),
        Box::new(question("collective high", 90.0, Some(1.0))),
    ];
    let said: Vec<String> = said.iter().map(|one| on_both(one.as_ref())).collect();
    insta::assert_snapshot!(said.join("\n"));
}
