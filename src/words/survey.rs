//! Track and rotor from the captures of a setup, and what still holds after a pause.

use super::{Face, Say, plus_minus, sentence, signed, with_uncertainty};
use clinoblade_record::{Finding, State, SurveyError, TrackForecast, TrackRemedy, TrackSurvey};
use clinoblade_rotor::{BladeName, Moves, Station};
use clinoblade_uncertainty::Decision;
use clinoblade_units::{Angle, Seconds};

/// Examples of `track`.
pub const TRACK_HELP: &str = "\
Examples:
  clinoblade track                                from the captures at mid stick in the open setup
  clinoblade track --live --station 90            guided: A, B, B, A until it is decided
  clinoblade track --forecast                     how many readings it will take

All blades are read at the same station, with one clip or with a sensor on each (--port a=… --port b=…), and you turn the head in \
between: the lean of the shaft and the tilt of the swashplate then drop out of the difference. Each guided reading is recorded as a \
capture at mid stick.";

impl Say for SurveyError {
    fn say(&self, face: Face) -> String {
        match self {
            Self::NoCaptures(stick) => {
                let stick = stick.map_or_else(|| "mid stick".to_owned(), |stick| stick.to_string());
                format!(
                    "No capture of a main blade at {stick} holds. Capture every blade there at 0°, 90°, 180° and 270°{}.",
                    face.command(": `clinoblade capture collective mid --blade A --station 0` and so on", "")
                )
            }
            Self::NoSpan => {
                "This sensor sends one angle only, and the lean of the shaft cannot be told from the tilt of the \
                 swashplate without the slope of the blade. Read the blades with a sensor that sends three axes."
                    .to_owned()
            }
            Self::SensorUnknown => format!(
                "These captures were read against a surface or a blade's own neutral, which leaves the sensor's own error in them; it \
                 cannot be told from the lean of the shaft and the tilt of the swashplate. {}, and read the blades round the turn.",
                face.command("Set the zero with `clinoblade datum reversal`", "Set the zero by reversal")
            ),
            Self::ReversedClips => format!(
                "These captures were read with several sensors, some with the clip reversed, which does not tell each clip's own \
                 offset. {}, and read all blades with the clip forward.",
                face.command(
                    "Set each sensor's zero with `clinoblade datum reversal`",
                    "Set each sensor's zero by reversal"
                )
            ),
            Self::Solution(error) => error.say(face),
        }
    }
}

impl Say for TrackForecast {
    fn say(&self, face: Face) -> String {
        let (u, room) = (plus_minus(self.expected), plus_minus(self.room));
        let one = format!("One reading of each blade is good to {u}, and {room} is wanted");
        match (self.moves, self.remedy()) {
            (Moves::Each(1), _) => format!("{one}: enough for a split that is not near its limit."),
            (Moves::Each(n), _) => {
                let how = if self.stays { "turn the head" } else { "put the clip on again" };
                format!("{one}, so it takes {n} of each: {how} for every one, there and back again (A-B-B-A).")
            }
            (Moves::Never, Some(TrackRemedy::OneSensor)) => format!(
                "{one}. This cannot be decided: each sensor stays on its blade, so how it sits is the same in every reading. Use \
                 one sensor and carry its clip from blade to blade, or set a wider tolerance in the description."
            ),
            (Moves::Never, Some(TrackRemedy::BetterSeat { readings })) => format!(
                "{one}. Not even fifty of each decide this. With a clip that seats three times as well {readings} of each \
                 would{}.",
                face.command(" (`clinoblade sensor reseat` measures how well it does)", "")
            ),
            (Moves::Never, Some(TrackRemedy::WiderTolerance) | None) => {
                format!("{one}. Not even fifty of each decide this. Set a wider tolerance in the description.")
            }
        }
    }
}

/// The verdict on a split in one word.
#[must_use]
pub const fn verdict(decision: &Decision) -> &'static str {
    match decision {
        Decision::Inside => "inside",
        Decision::Outside => "outside",
        Decision::Undecided(_) => "undecided",
    }
}

/// The track: each blade, each split with its verdict, and what it still takes. `explained` adds the budgets.
#[must_use]
pub fn track(survey: &TrackSurvey, explained: bool) -> String {
    let reference = survey.track.reference;
    let blades = survey.track.pitch.iter().zip(&survey.taken);
    let mut lines: Vec<String> = blades
        .map(|((blade, pitch), (_, n))| {
            let noun = if *n == 1 { "reading" } else { "readings" };
            format!("blade {blade} {} ({n} {noun})", super::angle(*pitch, 2))
        })
        .collect();
    for split in &survey.splits {
        let blade = split.blade;
        lines.push(format!(
            "track {blade} less {reference} {} (positive: blade {blade} stands higher), wanted {}: {}",
            with_uncertainty(split.split, split.budget.expanded().expanded),
            survey.target,
            verdict(&split.decision)
        ));
        match &split.decision {
            Decision::Inside => {}
            Decision::Outside => {
                let (high, low) = if split.split > Angle::ZERO { (blade, reference) } else { (reference, blade) };
                let by = signed(split.split.abs().degrees(), 2);
                lines.push(format!("blade {high} stands {}° above blade {low}", by.trim_start_matches('+')));
            }
            Decision::Undecided(doubt) => lines.push(doubt.say(Face::Terminal)),
        }
        if explained {
            lines.push(super::uncertainty::explained(&split.budget, Face::Terminal));
        }
    }
    match survey.remaining() {
        Some(0) => {}
        Some(more) => lines.push(format!(
            "{more} more readings would decide it, the clip put on again for each, there and back: `clinoblade track --live`"
        )),
        None => lines.push("no number of readings would decide it as it is".to_owned()),
    }
    lines.join("\n")
}

/// A guided track needs a sensor that can be moved.
pub const NOT_MOVABLE: &str =
    "a guided track needs a sensor that can be moved: add `--port DEVICE` or `--tcp HOST:PORT`";
/// Where the input of a guided track ends.
pub const INPUT_ENDED: &str = "The input ended. What was read so far counts.";

/// How many readings a guided track still takes; none where no number would do.
#[must_use]
pub fn not_decided(more: Option<u32>) -> String {
    match more {
        Some(more) => format!("Not decided yet: {more} more readings."),
        None => "Not decided, and no number of readings would decide it.".to_owned(),
    }
}

/// What becomes of the clip for the next reading of a guided track.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Seating {
    /// The blade's own sensor stays where it sits.
    Stays,
    /// The clip is taken off and put on again.
    Again,
    /// The clip comes from elsewhere.
    On,
}

/// The next reading of a guided track.
#[must_use]
pub fn next_reading(number: usize, blade: BladeName, station: Station, seating: Seating) -> String {
    let seat = match seating {
        Seating::Stays => "leave its sensor where it is",
        Seating::Again => "take the clip off and put it on again",
        Seating::On => "put the clip on",
    };
    format!("{number}: blade {blade} at station {station}, sticks at mid, {seat}. Then Enter.")
}

/// What a guided reading has read.
#[must_use]
pub fn blade_reads(blade: BladeName, reading: Angle, expanded: Angle) -> String {
    format!("   blade {blade} reads {}", with_uncertainty(reading, expanded))
}

impl Say for Finding {
    fn say(&self, face: Face) -> String {
        let again = |what: &str, typed: &str| format!("set it again{}.", face.command(typed, what));
        match self {
            Self::Datum { datum, state } => {
                let again = again("", &format!(": `clinoblade datum {datum}`"));
                match state {
                    State::OtherSensor => format!("The {datum} zero belongs to another sensor: {again}"),
                    State::ModelMoved => format!("The model was moved, and the {datum} zero was set on it: {again}"),
                    State::Drifted { .. } => format!("{} This affects the {datum} zero: {again}", moved_by(*state)),
                    State::Old { age_s } => format!("The {datum} zero is {} old: {again}", duration(*age_s)),
                    State::Holds { age_s: Some(age) } => {
                        format!("The {datum} zero, {} old, still holds.", duration(*age))
                    }
                    State::Holds { age_s: None } | State::ClipOff | State::Never | State::Undated => {
                        format!("The {datum} zero still holds.")
                    }
                }
            }
            Self::Calibration { state } => {
                let anew = face.command("calibrate again: `clinoblade sensor calibrate`", "calibrate again");
                match state {
                    State::Never => {
                        "The sensor is not calibrated. Travels from neutral are as good as before.".to_owned()
                    }
                    State::OtherSensor => {
                        "The calibration belongs to another sensor: choose this one's, or calibrate it.".to_owned()
                    }
                    State::Undated => {
                        format!(
                            "The calibration does not say when it was made. If that is over half a year ago, {anew}."
                        )
                    }
                    State::Old { age_s } => format!("The calibration is {} old: {anew}.", duration(*age_s)),
                    State::Holds { age_s: Some(age) } => {
                        format!("The calibration, {} old, still holds.", duration(*age))
                    }
                    State::Holds { age_s: None } | State::ModelMoved | State::ClipOff | State::Drifted { .. } => {
                        "The calibration still holds.".to_owned()
                    }
                }
            }
            Self::Neutrals { state } => {
                let why = match state {
                    State::Holds { .. } | State::Old { .. } | State::Never | State::Undated => {
                        return "The neutrals from before the pause still hold.".to_owned();
                    }
                    State::ModelMoved => "the model was moved",
                    State::ClipOff => "the clip was taken off",
                    State::OtherSensor => "another sensor is used",
                    State::Drifted { .. } => "the temperature changed",
                };
                sentence(&format!("{why}: capture the neutral again before the next limit."))
            }
            Self::Captures => {
                "The captures in the record stay as they are: each has its own neutral and zero.".to_owned()
            }
        }
    }
}

fn moved_by(state: State) -> String {
    match state {
        State::Drifted { change_c, reach_deg } => format!(
            "The sensor is {} °C away from where it was, which may move it by {:.2}°.",
            signed(change_c.value(), 1),
            reach_deg.degrees()
        ),
        State::Holds { .. }
        | State::Old { .. }
        | State::OtherSensor
        | State::ModelMoved
        | State::ClipOff
        | State::Never
        | State::Undated => String::new(),
    }
}

fn duration(age: Seconds) -> String {
    match age.value() {
        s if s < 2.0 * 3600.0 => format!("{:.0} minutes", s / 60.0),
        s if s < 48.0 * 3600.0 => format!("{:.0} hours", s / 3600.0),
        s => format!("{:.0} days", s / 86400.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clinoblade_units::Celsius;

    fn on_both(of: &dyn Say) -> String {
        let (typed, page) = (of.say(Face::Terminal), of.say(Face::Page));
        if typed == page { typed } else { format!("{typed}\n  page: {page}") }
    }

    #[test]
    fn every_finding_after_a_pause() {
        let age_s = Seconds::new(20.0 * 3600.0);
        let states = [
            State::Holds { age_s: Some(Seconds::new(1800.0)) },
            State::Holds { age_s: None },
            State::Old { age_s },
            State::Old { age_s: Seconds::new(200.0 * 86400.0) },
            State::OtherSensor,
            State::ModelMoved,
            State::ClipOff,
            State::Drifted { change_c: Celsius::new(-10.0), reach_deg: Angle::from_degrees(0.66) },
            State::Never,
            State::Undated,
        ];
        let findings = states.iter().flat_map(|&state| {
            [Finding::Datum { datum: "surface", state }, Finding::Calibration { state }, Finding::Neutrals { state }]
        });
        let said: Vec<String> = findings.chain([Finding::Captures]).map(|finding| on_both(&finding)).collect();
        insta::assert_snapshot!(said.join("\n"));
    }

    #[test]
    fn every_error_of_a_survey() {
        let said: Vec<String> = [
            SurveyError::NoCaptures(None),
            SurveyError::NoCaptures(Some("collective high".parse().unwrap())),
            SurveyError::NoSpan,
            SurveyError::SensorUnknown,
            SurveyError::ReversedClips,
        ]
        .iter()
        .map(|error| on_both(error))
        .collect();
        insta::assert_snapshot!(said.join("\n"));
    }
}
