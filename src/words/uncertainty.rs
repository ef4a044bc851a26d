//! What makes a value uncertain, what would make it less so, and why a value is not decided.

use super::{Face, Say, sentence};
use clinoblade_uncertainty::{Budget, Doubt, Remedy, TargetError};

impl Say for Remedy {
    /// What to do, as a clause without a capital letter and without a full stop.
    fn say(&self, face: Face) -> String {
        match self {
            Self::ReadAgain => "read it again: the value is not a number",
            Self::HoldLonger => "hold the blade still for longer",
            Self::FinerSensor => "use a sensor with a finer step; waiting longer does not help",
            Self::CheckSensor => face.command(
                "check the sensor at rest, which shows how much its own slow noise is: `clinoblade sensor check --for 60`",
                "check the sensor at rest, which shows how much its own slow noise is",
            ),
            Self::Calibrate => face.command("calibrate the sensor: `clinoblade sensor calibrate`", "calibrate the sensor"),
            Self::NinePoses => "calibrate with twelve poses or more, which also finds the angles between the axes",
            Self::MorePoses => "calibrate again with more poses, or hold each one longer",
            Self::CaseTurn => face.command(
                "remove the sensor's turn in its case: `clinoblade datum reversal`, or calibrate on the faces of a square block",
                "remove the sensor's turn in its case: set the zero by reversal, or calibrate on the faces of a square block",
            ),
            Self::Reversal => {
                face.command("set the zero by reversal: `clinoblade datum reversal`", "set the zero by reversal")
            }
            Self::LongerReversal => "repeat the reversal on a flat, hard surface and let the sensor lie for longer",
            Self::LongerNeutral => "set the neutral again and hold it still for longer",
            Self::MoreStations => "read more stations round the turn, or set the zero by reversal",
            Self::LeaveClip => "leave the clip where it is and take the difference",
            Self::SeatStudy => face.command(
                "leave the clip where it is, or measure its repeatability: `clinoblade sensor reseat`",
                "leave the clip where it is, or measure its repeatability",
            ),
            Self::SquareClip => "set the clip square to the blade, or bring the span level",
            Self::CloserStation => "set the blade to its station more closely, or read on either side of it",
            Self::LevelModel => face.command(
                "level the model, or find its lean with `clinoblade rotor`; set the blade to the same mark both times",
                "level the model, or find its lean; set the blade to the same mark both times",
            ),
            Self::HalfTurnOn => {
                "read the same blade half a turn on too, with the clip left on: the mean of both is free of the lean"
            }
            Self::OtherEdge => "capture the other leading edge too: the mean of both is free of the model's roll",
            Self::WarmUp => "let the sensor warm up and set the zero again",
            Self::TravelAgain => "take the travel again without touching the model or the clip",
            Self::AnotherStick => face.command(
                "capture another stick position near the wanted one: `clinoblade capture AXIS DIRECTION --stick PERCENT`",
                "capture another stick position near the wanted one",
            ),
            Self::MeasureHalfTurn => "turn the link by one seat, record it and capture again: that measures a half-turn",
            Self::AsWritten(text) => text,
        }
        .to_owned()
    }
}

impl Say for Doubt {
    fn say(&self, face: Face) -> String {
        let steps: Vec<String> = self.steps.iter().map(|step| step.say(face)).collect();
        let steps = sentence(&steps.join("; "));
        if !(self.distance.is_finite() && self.expanded.is_finite()) {
            return format!("{steps}.");
        }
        let likely = 100.0 * self.likely;
        match self.steps.is_empty() {
            false => format!("Too close to the limit to be sure ({likely:.0} % likely inside). {steps}."),
            true => format!(
                "Too close to the limit for any reading to decide ({likely:.0} % likely inside). Adjust it away from the limit."
            ),
        }
    }
}

impl Say for TargetError {
    fn say(&self, face: Face) -> String {
        match self {
            Self::Form(text) => {
                format!(
                    "'{text}' is not a target: write a band such as \"0 ± 0.5\" (or \"0 +- 0.5\") or a ceiling such as \"at most 12\""
                )
            }
            Self::Number { text, source } => format!("'{text}' is not a target: {}", source.say(face)),
            Self::Tolerance(text) => {
                format!("the tolerance in '{text}' must be more than zero, or nothing could decide it")
            }
            Self::Ceiling(text) => {
                format!(
                    "the ceiling in '{text}' must be more than zero: it limits the size of a deflection, which has no sign"
                )
            }
            Self::TooLarge(text) => format!("'{text}' is not a target: no blade and no tolerance goes beyond 1000°"),
        }
    }
}

/// A budget as a table: each component with its share, and what would make it smaller.
#[must_use]
pub fn explained(budget: &Budget, face: Face) -> String {
    let expanded = budget.expanded();
    let head = format!("{:<12} {:>8} {:>7} {:>7}  to make it smaller", "component", "u, deg", "share", "dof");
    let line = |share: clinoblade_uncertainty::Share| {
        let assumed = if share.assumed { " (assumed, not measured)" } else { "" };
        format!(
            "{:<12} {:>8.4} {:>6.1}% {:>7}  {}{assumed}",
            share.component,
            share.standard.degrees(),
            share.percent,
            share.freedom,
            share.shrink.say(face),
        )
    };
    let whole = format!(
        "combined u {:.4}°, k = {:.2}, U = {:.3}° (about 95 %)",
        expanded.standard.degrees(),
        expanded.coverage_factor,
        expanded.expanded.degrees()
    );
    let lines: Vec<String> =
        std::iter::once(head).chain(budget.shares().into_iter().map(line)).chain([whole]).collect();
    lines.join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;
    use clinoblade_uncertainty::{Component, Contribution, Target};
    use clinoblade_units::Angle;

    fn on_both(of: &impl Say) -> String {
        let (typed, page) = (of.say(Face::Terminal), of.say(Face::Page));
        if typed == page { typed } else { format!("{typed}\n  page: {page}") }
    }

    #[test]
    fn every_sentence() {
        let remedies = [
            Remedy::ReadAgain,
            Remedy::HoldLonger,
            Remedy::FinerSensor,
            Remedy::CheckSensor,
            Remedy::Calibrate,
            Remedy::NinePoses,
            Remedy::MorePoses,
            Remedy::CaseTurn,
            Remedy::Reversal,
            Remedy::LongerReversal,
            Remedy::LongerNeutral,
            Remedy::MoreStations,
            Remedy::LeaveClip,
            Remedy::SeatStudy,
            Remedy::SquareClip,
            Remedy::CloserStation,
            Remedy::LevelModel,
            Remedy::HalfTurnOn,
            Remedy::OtherEdge,
            Remedy::WarmUp,
            Remedy::TravelAgain,
            Remedy::AnotherStick,
            Remedy::MeasureHalfTurn,
            Remedy::AsWritten("as an older program wrote it".to_owned()),
        ];
        let degrees = Angle::from_degrees;
        let doubt = |distance: f64, steps: &[Remedy]| Doubt {
            distance: degrees(distance),
            expanded: degrees(0.3),
            likely: 0.904,
            steps: steps.to_vec(),
        };
        let doubts = [
            doubt(0.2, &[Remedy::SeatStudy, Remedy::HoldLonger]),
            doubt(0.001, &[]),
            doubt(f64::NAN, &[Remedy::ReadAgain]),
        ];
        let errors =
            ["12", "x ± 1", "0 ± 0", "at most 0", "at most 1001"].map(|text| text.parse::<Target>().unwrap_err());
        let budget = Budget::new([
            Contribution::new(Component::Repeat, degrees(0.03)),
            Contribution::new(Component::Clip, degrees(0.04)).assumed(),
        ]);
        let said: Vec<String> = remedies
            .iter()
            .map(on_both)
            .chain(doubts.iter().map(on_both))
            .chain(errors.iter().map(on_both))
            .chain([explained(&budget, Face::Terminal)])
            .collect();
        insta::assert_snapshot!(said.join("\n"));
    }
}
