//! What is said of a record, all of it.

use super::*;
use clinoblade_filter::Vibration;
use clinoblade_record::{AdjustmentRefusal, Asymmetry, Undecided};
use clinoblade_rotor::{Axis, BladeName, LeadingEdge, Station};
use clinoblade_units::{HalfTurns, Hertz, Percent};

fn deg(degrees: f64) -> Angle {
    Angle::from_degrees(degrees)
}

fn cell(name: CellName, finding: CellFinding) -> Cell {
    let target = "at most 12".parse().unwrap();
    Cell {
        name,
        target,
        value: None,
        stands: None,
        verdict: Verdict::Missing,
        consequence: Some(finding),
        question: None,
        remarks: Vec::new(),
        history: Vec::new(),
        owed: false,
        left_out: None,
    }
}

fn up() -> CellName {
    CellName::Limit("elevator up".parse().unwrap())
}

fn findings() -> Vec<CellFinding> {
    let vibration = Vibration { frequency: Hertz::new(33.0), amplitude: deg(0.15) };
    let short = Shortfall { by: deg(1.2), of_collective: false, limit: Percent::new(75.0) };
    let (reference, other) = ("90".parse::<Station>().unwrap(), "270".parse::<Station>().unwrap());
    vec![
        CellFinding::NotCaptured { left_out: None },
        CellFinding::NotCaptured { left_out: Some("the belt is off".to_owned()) },
        CellFinding::SpanUnseen,
        CellFinding::OnTheDiagonal {
            amplitude: deg(16.9),
            expanded: deg(0.3),
            of_square: Percent::new(99.6),
            is_ring: false,
            ceiling: Some(deg(12.0)),
        },
        CellFinding::OnTheDiagonal {
            amplitude: deg(11.9),
            expanded: deg(0.3),
            of_square: Percent::new(70.6),
            is_ring: true,
            ceiling: Some(deg(12.0)),
        },
        CellFinding::LeftOut { reason: "the belt is off".to_owned() },
        CellFinding::ZeroNotRead,
        CellFinding::TailNeutralNotRead,
        CellFinding::ZeroByDefinition,
        CellFinding::TrackNotRead,
        CellFinding::TrackZerosDiffer,
        CellFinding::TrackStationsDiffer { reference, other },
        CellFinding::Outside { by: deg(1.2) },
        CellFinding::CablePulls,
        CellFinding::JustShort,
        CellFinding::BackedOff { at: deg(8.2) },
        CellFinding::StickGoesFurther { share: Percent::new(88.0) },
        CellFinding::FallsShort(short),
        CellFinding::FallsShortUnbound { by: deg(1.2) },
        CellFinding::CornerBinds { short: Some(short), sign: BindSign::Buzz { vibration } },
        CellFinding::CornerBinds { short: None, sign: BindSign::Creep { by: deg(-0.4), expanded: deg(0.1) } },
        CellFinding::PastStall { pitch: deg(15.0) },
        CellFinding::AcceptedContradiction,
        CellFinding::BentToward { toward: deg(90.0) },
        CellFinding::NoNeutral,
        CellFinding::OneLeadingEdge { leading_edge: LeadingEdge::Up },
        CellFinding::JudgedFromZero { zero: deg(-0.31), travel: deg(10.6) },
        CellFinding::JudgedAsItStands { travel: deg(33.98), blade: BladeName::A },
        CellFinding::NeutralMoved { by: deg(0.4), expanded: deg(0.1) },
        CellFinding::OffItsStation { station: other, own: reference, share: 0.71 },
        CellFinding::PhaseSet { described: deg(10.0) },
        CellFinding::NotUsed { capture: uuid::Uuid::nil(), why: Unused::NoNeutral },
        CellFinding::NotUsed {
            capture: uuid::Uuid::nil(),
            why: Unused::OffItsStation { station: other, own: reference, share: 0.71 },
        },
        CellFinding::Buzzes { vibration, backed_off: false },
        CellFinding::Buzzes { vibration, backed_off: true },
    ]
}

#[test]
fn every_finding_about_a_cell() {
    let said = findings().into_iter().flat_map(|finding| {
        let cell = cell(up(), finding);
        let on = |face| consequence(&cell, face).unwrap();
        let (terminal, page) = (on(Face::Terminal), on(Face::Page));
        let other = (page != terminal).then(|| format!("  page: {page}"));
        std::iter::once(terminal).chain(other)
    });
    insta::assert_snapshot!(said.collect::<Vec<_>>().join("\n"));
}

#[test]
fn every_refusal_of_an_adjustment() {
    let refusals = [
        AdjustmentRefusal::NoSuchBlade { blade: "C".parse().unwrap(), blades: 2 },
        AdjustmentRefusal::TooManyHalfTurns(HalfTurns::whole(40)),
        AdjustmentRefusal::TooManyTeeth(clinoblade_record::Teeth::new(40)),
        AdjustmentRefusal::NoSuchServo(9),
        AdjustmentRefusal::SubTrim(clinoblade_units::Percent::new(250.0)),
    ];
    let said: Vec<String> = refusals.iter().map(|refusal| refusal.say(Face::Terminal)).collect();
    insta::assert_snapshot!(said.join("\n"));
}

#[test]
fn where_no_command_can_be_typed_none_is_said() {
    for finding in findings() {
        for face in [Face::Page, Face::Paper, Face::Voice] {
            let said = consequence(&cell(up(), finding.clone()), face).unwrap();
            assert!(!said.contains("--") && !said.contains('`'), "{said}");
        }
    }
    for by in [Undecided::Questioned, Undecided::DoesItBind] {
        assert!(undecided(&by, Face::Terminal).contains("--as-read"));
        assert!(!undecided(&by, Face::Page).contains("--"));
    }
    for by in [Undecided::PitchUnknown, Undecided::TorqueSideUnknown] {
        assert!(undecided(&by, Face::Page).contains("apture") && !undecided(&by, Face::Page).contains("--"));
    }
}

#[test]
fn an_end_that_was_never_captured_says_so_with_the_note_that_left_it_out() {
    let said = |left_out: Option<&str>| {
        let finding = CellFinding::NotCaptured { left_out: left_out.map(str::to_owned) };
        consequence(&cell(up(), finding), Face::Terminal).unwrap()
    };
    assert_eq!(said(None), "elevator up: not captured yet");
    assert_eq!(said(Some("the belt is off")), "elevator up: not captured yet (left out: the belt is off)");
}

#[test]
fn every_finding_is_typed_beside_what_is_said_of_it() {
    for finding in findings() {
        let document = cell_document(&cell(up(), finding));
        assert!(document["findings"][0]["kind"].is_string(), "{document}");
        assert!(!document["consequence"].as_str().unwrap().is_empty(), "{document}");
    }
}

#[test]
fn one_way_against_the_other_says_which_goes_further() {
    let said = |difference: f64, wanted: Option<f64>, significant: bool| {
        let (difference, expanded) = (deg(difference), deg(0.17));
        Asymmetry { axis: Axis::Rudder, wanted: wanted.map(deg), difference, expanded, significant }.say(Face::Page)
    };
    assert_eq!(said(-1.39, Some(0.0), true), "rudder: right 1.39° ± 0.17° more than left");
    assert_eq!(said(0.05, Some(0.0), false), "rudder: equal (± 0.17°)");
}
