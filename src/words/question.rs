//! What is asked about a reading, and why one, a head or an adjustment is refused.

use super::unsettled::{in_question, undecided};
use super::{Face, Say, angle, with_uncertainty};
use clinoblade_record::{
    AdjustmentError, AdjustmentRefusal, EntryError, HeadError, MOST_HALF_TURNS, MOST_SERVOS, MOST_TEETH, Question,
    SubjectError, Undecided,
};

impl Say for Question {
    fn say(&self, face: Face) -> String {
        match self {
            Self::Contradiction(contradiction) => contradiction.say(face),
            Self::TailWay { deflection, moved, described } => format!(
                "{deflection} moved the blade by {} from neutral, {}. Does the clip sit end for end{}? Or is the head turned half \
                 round? Or is the channel reversed?",
                angle(*moved, 2),
                if *described { "against the description" } else { "the same way as in the other direction" },
                face.command(" (turn it, or say --clip reversed)", "")
            ),
            Self::NeutralMoved { deflection, by } => format!(
                "{deflection} stands {} from the last neutral at this place. Was every stick at its centre, and is this the blade with \
                 the clip? Capture it again.",
                angle(*by, 2)
            ),
            Self::PlateOrLean { blade, stations: [first, second], difference, expanded } => format!(
                "At stick centre blade {blade} reads {} more at {second} than at {first}, and a model that leans does not explain it. \
                 Does the swashplate stand level? Read blade {blade} at 0°, 90°, 180° and 270° with the clip left on.",
                with_uncertainty(*difference, *expanded)
            ),
            Self::NoRotor { residual } => format!(
                "The readings at stick centre round the turn do not fit together: they are {} off any rotor. Did the model, the \
                 clip or the swashplate move in between? Read blade A at 0°, 90°, 180° and 270° again with the clip left on, then \
                 the other blades.",
                angle(*residual, 2)
            ),
            Self::NoNeutral { neutral } => undecided(&Undecided::NoNeutral { neutral: *neutral }, face),
            Self::Unmoved { travel } => format!(
                "The blade stands only {} from its neutral. Is the stick held over, and is this the blade with the clip?",
                angle(*travel, 2)
            ),
            Self::Doubted { because } => super::sentence(&in_question(because, face)),
        }
    }
}

impl Say for EntryError {
    fn say(&self, _: Face) -> String {
        match self {
            Self::NotSteady(subject) => {
                format!("{subject} was never steady, so it is not recorded. Hold the stick still and capture it again.")
            }
            Self::NoAngle(subject) => {
                format!("{subject} gave no angle, so it is not recorded. Turn the blade level and capture it again.")
            }
        }
    }
}

impl Say for SubjectError {
    fn say(&self, face: Face) -> String {
        match self {
            Self::RudderOnMain => "The rudder moves the tail rotor only. Read it on a tail blade, with its leading edge up or down instead \
                                   of a station."
                .to_owned(),
            Self::MainOnTail(deflection) => format!(
                "{deflection} moves the main rotor only. Read it on a main blade, at a station instead of a leading edge."
            ),
            Self::Place => {
                "A place is a blade with either a station (main rotor) or a leading edge (tail rotor).".to_owned()
            }
            Self::Deflection(error) => error.say(face),
        }
    }
}

impl Say for HeadError {
    fn say(&self, face: Face) -> String {
        match self {
            Self::Description(what) => format!(
                "The description of the helicopter cannot be used:\n{what}Correct that line, or start afresh{}.",
                face.command(": `clinoblade head new`", "")
            ),
        }
    }
}

impl Say for AdjustmentError {
    fn say(&self, _: Face) -> String {
        format!(
            "'{}' is not an adjustment. Write one of \"link B +1 half-turn\", \"elevator up end point 95 %\", \"swash link 2 -1 \
             half-turn\", \"servo arm 2\", \"sub-trim 2 -5 %\", \"phase 5°\", \"collective range 60 %\", \"cyclic range 80 %\", \
             \"reverse elevator\", \"elevator trim 3 %\", \"tail rod +2 half-turns\", \"tail servo arm\", \"servo arm 2 +1 tooth\", \
             \"servo 2 replaced\", \"spindle replaced\", \"shaft replaced\", \"grip A replaced\", \"blades A and B exchanged\", \
             \"blades replaced\", \"mixing changed\", \"crash\".",
            self.0
        )
    }
}

impl Say for AdjustmentRefusal {
    fn say(&self, _: Face) -> String {
        match self {
            Self::NoSuchBlade { blade, blades } => {
                format!("This helicopter has {blades} main blades: there is no blade {blade}.")
            }
            Self::TooManyHalfTurns(half_turns) => format!(
                "{half_turns} are more than a link can be turned ({MOST_HALF_TURNS} at most). Say how many half-turns it \
                 was."
            ),
            Self::NoSuchServo(servo) => {
                format!("There is no swashplate servo {servo}: they are numbered from 1, {MOST_SERVOS} at most.")
            }
            Self::SubTrim(output) => format!("{output} is more than a trim can be set to."),
            Self::TooManyTeeth(teeth) => {
                format!(
                    "{teeth} are more than half a servo's spline ({MOST_TEETH} at most). Say how many teeth it was."
                )
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clinoblade_record::InQuestion;
    use clinoblade_units::{Angle, Percent};

    #[test]
    fn every_question_that_only_readings_answer_and_every_doubt() {
        let degrees = Angle::from_degrees;
        let questions = [
            Question::NoNeutral { neutral: "rudder neutral".parse().unwrap() },
            Question::NoRotor { residual: degrees(0.6) },
            Question::PlateOrLean {
                blade: "A".parse().unwrap(),
                stations: ["90".parse().unwrap(), "0".parse().unwrap()],
                difference: degrees(2.8),
                expanded: degrees(1.6),
            },
            Question::Unmoved { travel: degrees(0.4) },
            Question::NeutralMoved { deflection: "elevator neutral".parse().unwrap(), by: degrees(-2.5) },
            Question::Doubted {
                because: InQuestion::PastBind { bound_at: degrees(7.3), output: Some(Percent::new(88.0)) },
            },
            Question::Doubted { because: InQuestion::PastBind { bound_at: degrees(7.3), output: None } },
        ];
        let said =
            questions.map(|question| [Face::Terminal, Face::Page].map(|face| question.say(face)).join("\n  page: "));
        insta::assert_snapshot!(said.join("\n"));
    }
}
