//! What is said of advice, all of it.

use super::*;
use clinoblade_record::{LinkSurveyError, SubTrim, TooFar, Undecided};
use clinoblade_rotor::BladeName;
use clinoblade_units::Percent;

fn deg(value: f64) -> Angle {
    Angle::from_degrees(value)
}

fn on_both(of: &dyn Say) -> String {
    let (typed, page) = (of.say(Face::Terminal), of.say(Face::Page));
    if typed == page { typed } else { format!("{typed}\n  page: {page}") }
}

#[test]
fn every_advice_and_error() {
    let up: Deflection = "elevator up".parse().unwrap();
    let turn = |raising: f64, longer: Option<f64>| LinkTurn {
        blade: BladeName::A,
        turns: BothWays { raising: HalfTurns::new(raising), longer: longer.map(HalfTurns::new) },
        then: deg(-0.151),
        expanded: deg(0.12),
    };
    let end_point = |beyond, assumed| EndPoint {
        end: up,
        set: Percent::new(91.0),
        gives: deg(11.9),
        expanded: deg(0.11),
        beyond,
        assumed,
    };
    let far = |wanted| TooFar {
        end: up,
        other: "elevator down".parse().unwrap(),
        wanted: deg(wanted),
        travel: deg(11.0),
        even: deg(10.0),
        by: deg(1.06),
        expanded: deg(0.2),
        shift: deg(0.53),
        shift_expanded: deg(0.1),
    };
    let balance = |wanted, end_point, bound| Advice::Balance(BalanceAdvice { far: far(wanted), end_point, bound });
    let said: Vec<Box<dyn Say>> = vec![
        Box::new(Advice::Links(vec![turn(2.0, Some(2.0)), turn(-1.0, Some(-1.0)), turn(0.64, Some(-0.64))])),
        Box::new(Advice::Links(vec![turn(1.0, None), turn(-3.0, None), turn(0.0, Some(0.0))])),
        Box::new(Advice::EndPoint(end_point(false, false))),
        Box::new(Advice::EndPoint(end_point(true, true))),
        Box::new(balance(0.0, None, false)),
        Box::new(balance(2.0, Some(end_point(false, false)), true)),
        Box::new(Advice::NoEndPoint(TravelSurveyError::NoCaptures(up))),
        Box::new(TravelSurveyError::NoCaptures("collective high".parse().unwrap())),
        Box::new(TravelSurveyError::NoEnd("elevator neutral".parse().unwrap())),
        Box::new(TravelSurveyError::OtherEnd {
            wanted: deg(-4.0),
            output: 40.0,
            end: "collective high".parse().unwrap(),
        }),
        Box::new(TravelSurveyError::OtherSide(deg(-4.0))),
        Box::new(TravelError::OnePair),
        Box::new(TravelError::Twice),
        Box::new(TravelError::Turns { from: 90.0, to: 100.0 }),
        Box::new(TravelError::NeverUnder { ceiling: deg(0.05) }),
        Box::new(TravelError::TooFar { wanted: deg(9.0), low: deg(0.0), high: deg(8.0), limit: 88.0 }),
        Box::new(LinkSurveyError::NoCaptures),
        Box::new(LinkSurveyError::NotRead(BladeName::A)),
        Box::new(LinkSurveyError::LeanUnknown { blade: BladeName::A, station: "270".parse().unwrap() }),
        Box::new(LinkSurveyError::PlateNotLevel { questioned: false }),
        Box::new(LinkSurveyError::PlateNotLevel { questioned: true }),
        Box::new(LinkSurveyError::PlateUntold(Undecided::PlateUntold)),
        Box::new(LinkSurveyError::PlateUntold(Undecided::PlateNeedsReversal)),
        Box::new(LinkSurveyError::ZeroUnknown {
            blade: BladeName::A,
            expanded: deg(2.3),
            remedy: clinoblade_uncertainty::Remedy::Reversal,
        }),
        Box::new(LevelPlate {
            servos: vec![ServoTurn {
                servo: 3,
                half_turns: HalfTurns::new(-2.9),
                expanded: HalfTurns::new(0.4),
                teeth: None,
                sub_trim: Some(SubTrim { by: deg(-2.58), expanded: deg(0.34) }),
            }],
            collective: deg(-0.64),
        }),
        Box::new(LevelPlate {
            servos: vec![ServoTurn {
                servo: 2,
                half_turns: HalfTurns::new(16.6),
                expanded: HalfTurns::new(0.4),
                teeth: Some(1),
                sub_trim: None,
            }],
            collective: deg(0.01),
        }),
        Box::new(LevelPlate {
            servos: vec![ServoTurn {
                servo: 1,
                half_turns: HalfTurns::ZERO,
                expanded: HalfTurns::new(0.4),
                teeth: None,
                sub_trim: None,
            }],
            collective: deg(0.0),
        }),
        Box::new(Advice::PlateNotDescribed),
        Box::new(Advised::Done),
        Box::new(Advised::Link(BothWays { raising: HalfTurns::new(2.0), longer: Some(HalfTurns::new(-2.0)) })),
        Box::new(Advised::EndPoint(Percent::new(91.0))),
    ];
    let said: Vec<String> = said.iter().map(|one| on_both(one.as_ref())).collect();
    let band = |target: f64| Target::Band { target: deg(target), tolerance: deg(0.5) };
    let bare = [
        WantedOf::Pitch(band(12.0), band(10.0)).said(),
        pitch_not_known("collective high".parse().unwrap()),
        pitch_not_known("rudder left".parse().unwrap()),
        ZERO_LEANS.to_owned(),
        PLATE_NOT_READ.to_owned(),
    ];
    insta::assert_snapshot!([said, bare.to_vec()].concat().join("\n"));
}
