//! The guide in words: steps, questions, answers, refusals.

use super::{Face, Say, angle, by_ear, wanted};
use clinoblade_guide::{Answer, Choice, Hint, Instruction, Question, Refusal, Spoken, SweepMove};
use clinoblade_record::Seat;
use clinoblade_rotor::{Axis, Deflection, Spot};
use clinoblade_uncertainty::Target;
use clinoblade_units::Angle;

const LET_GO: &str = "Let the stick go back.";
const CREEPS: &str = "It creeps while the stick is held. Put the stabilising controller in its own setup mode.";
const NO_END_NO_MOVE: &str = "If an end was never set, that direction does not move.";
const UNTIL_ANSWERED: &str = "Nothing is recorded until you answer.";

impl Say for Instruction {
    fn say(&self, face: Face) -> String {
        let said = match *self {
            Self::ReadCautions => "Read the cautions and acknowledge each line.".to_owned(),
            Self::Start => "Start the sequence when your hands are on the sticks.".to_owned(),
            Self::Clip { to } => match to.spot {
                Spot::Main(station) => format!(
                    "Clip on blade {}, leading edge side forward; turn that blade to {station}{}.",
                    to.blade,
                    over(station.azimuth())
                ),
                Spot::Tail(edge) => {
                    format!("Clip on tail blade {}; turn the tail until its leading edge points {edge}.", to.blade)
                }
            },
            Self::Turn { to, own_sensor } => match to.spot {
                Spot::Main(station) => {
                    format!("Turn blade {} to {station}{}.", to.blade, over(station.azimuth()))
                }
                Spot::Tail(edge) if own_sensor => {
                    format!("Turn the tail until the leading edge of the blade with the sensor points {edge}.")
                }
                Spot::Tail(edge) => format!("Turn the tail half round: leading edge {edge}."),
            },
            Self::Check { way } if way.axis() == Axis::Collective => {
                "Collective up a little, then back to mid.".to_owned()
            }
            Self::Check { way } => format!("{} for a moment, then let it go.", capital(way)),
            Self::Neutral { .. } if face == Face::Voice => "All sticks at neutral, hands off the model.".to_owned(),
            Self::Neutral { collective: true } => "Collective at mid, cyclic at neutral; hold still.".to_owned(),
            Self::Neutral { collective: false } => "All sticks at neutral; hold still.".to_owned(),
            Self::Move { way } => format!("{}, slowly, and hold.", capital(way)),
            Self::Hold { way } => format!("{}: hold it there.", capital(way)),
            Self::BackOff { .. } => "Back off until it is quiet, and hold.".to_owned(),
            Self::LiftCable => "Lift the cable so that it pulls at nothing, and hold still.".to_owned(),
            Self::ReleaseCable => "Let the cable hang again, and take your hand away.".to_owned(),
            Self::Sweep { to: SweepMove::Centre } => "All sticks at neutral; then to their ends once more.".to_owned(),
            Self::Sweep { to: SweepMove::To(way) } => format!("Once more: {way}, all the way, and hold a moment."),
            Self::Sweep { to: SweepMove::Back } | Self::LetGo => LET_GO.to_owned(),
            Self::Captured { item } => format!("{item}: captured."),
            Self::TakingBack => "The last capture is being taken back.".to_owned(),
            Self::Answer { question } => return question.say(face),
            Self::Done { left_out, blocked, of } => {
                let done = match left_out {
                    0 if blocked == 1 => {
                        "Everything is captured, and at one end the stick goes past a bind. Lower its end point \
                                          and capture it again."
                            .to_owned()
                    }
                    0 if blocked > 1 => format!(
                        "Everything is captured, and at {blocked} ends the stick goes past a bind. Lower their end points and \
                         capture them again."
                    ),
                    0 => "Everything is captured.".to_owned(),
                    all if all == of => "Every step was left out: nothing is captured.".to_owned(),
                    1 => "One step was left out; everything else is captured.".to_owned(),
                    some => format!("{some} steps were left out; everything else is captured."),
                };
                if face == Face::Voice { format!("{done} Take clip and cable off.") } else { done }
            }
        };
        by_ear(face, said)
    }
}

impl Say for Hint {
    fn say(&self, face: Face) -> String {
        let said = match *self {
            Self::Closed => "The setup is closed.".to_owned(),
            Self::TakeClipOff => "Take clip and cable off before you connect the motor.".to_owned(),
            Self::Next(item) => format!("Next: {item}."),
            Self::HandsOff { wound } => {
                let unwind = match wound {
                    0 => String::new(),
                    1 => " The cable is wound once round the mast: unwind it first.".to_owned(),
                    turns => format!(" The cable is wound {turns} times round the mast: unwind it first."),
                };
                format!("Then hands off; it goes on by itself.{unwind}")
            }
            Self::ShowsThePlace => "It shows that clip and blade are in place.".to_owned(),
            Self::Wanted { target, at } => match target {
                Some(Target::AtMost(ceiling)) => {
                    format!("At most {:.0}°, or just short of where it binds. {}", ceiling.degrees(), seat(at))
                }
                Some(target) => format!("Wanted: {}. {}", wanted(target), seat(at)),
                None => seat(at),
            },
            Self::Creeps => CREEPS.to_owned(),
            Self::ShortOfTheBind => "The linkage binds: the limit is just short of it.".to_owned(),
            Self::CableAtTheHub => "A cable that is fastened at the hub changes nothing.".to_owned(),
            Self::ShowsTheEnds => "It shows that every direction reaches its end.".to_owned(),
        };
        by_ear(face, said)
    }
}

impl Say for Question {
    fn say(&self, face: Face) -> String {
        let said = match *self {
            Self::NothingMoved { to } => match to.spot {
                Spot::Main(station) => {
                    format!("I saw nothing move. Is the clip on blade {}, and the blade at {station}?", to.blade)
                }
                Spot::Tail(edge) => {
                    format!("I saw nothing move. Is the clip on tail blade {}, its leading edge {edge}?", to.blade)
                }
            },
            Self::Knocked { off_deg } => format!(
                "The blade's span stands {:.1}° from where it stood. Was the helicopter knocked, or the rotor turned?",
                off_deg.degrees()
            ),
            Self::Contradicted { way, raised, at, .. } => {
                let moved = if raised { "raised" } else { "lowered" };
                format!("{} {moved} blade {}, and should not have. Look at clip and rotor.", capital(way), at.blade)
            }
            Self::NoAnswer { way, spot: Spot::Main(station) } => format!(
                "The blade does not answer to {way}. Do blade and clip stand at {station}? There {way} shows most."
            ),
            Self::NoAnswer { way, spot: Spot::Tail(_) } => format!("The blade does not answer to {way}."),
            Self::Outside { way, travel_deg, target, short } => {
                let bind = if short { " Does it bind there?" } else { "" };
                format!("{} stands at {:.1}°, wanted {}.{bind}", capital(way), travel_deg.degrees(), wanted(target))
            }
            Self::OtherWay { instead: Some((_, other)), .. } => {
                format!("That moved the other way. Was it {other}?")
            }
            Self::OtherWay { way, instead: None } => format!("That moved the other way; {way} was wanted."),
            Self::StandsStill { way } => format!("Nothing moves. Does the blade not answer to {way}?"),
            Self::NotBack { off_deg } => {
                format!("The blade stands {} from its neutral. Is the stick back at neutral?", angle(off_deg, 2))
            }
            Self::CableNotMoved { lifted: true } => "I saw nothing move. Does the cable hang again?".to_owned(),
            Self::CableNotMoved { lifted: false } => "I saw nothing move. Is the cable lifted?".to_owned(),
            Self::NotReached { way } => format!("{} was not reached. Does it not move?", capital(way)),
            Self::NotTakenBack { .. } => {
                "The last capture could not be taken back: it still counts. Take it back now?".to_owned()
            }
            Self::OfTheRecord => "The reading contradicts the record. Is it right?".to_owned(),
        };
        by_ear(face, said)
    }
}

/// Why a question is asked; none where that is for the logbook to say.
#[must_use]
pub fn why(question: Question, face: Face) -> Option<String> {
    let said = match question {
        Question::NothingMoved { .. } => "I expected to see you carry the clip over.".to_owned(),
        Question::Knocked { .. } => {
            "A stick does not move the span. Readings from here on would not belong to the neutral of this place."
                .to_owned()
        }
        Question::Contradicted { way, at, own_sensors, .. } => match (at.spot, way) {
            (Spot::Main(_), Deflection::Collective(_)) => {
                "Either the clip sits end for end, or the collective channel is reversed.".to_owned()
            }
            (Spot::Main(station), _) if own_sensors => format!(
                "Either blade {} does not stand at {station} (the rotor half a turn off), or the sensors of two blades are \
                 exchanged, or the channel is reversed.",
                at.blade
            ),
            (Spot::Main(station), _) => format!(
                "Either the blade with the clip does not stand at {station} (the rotor half a turn off, or the clip on \
                 another blade), or the channel is reversed."
            ),
            (Spot::Tail(_), _) => "Either the leading edge points the other way, or the clip sits end for end, or the \
                                   channel is reversed."
                .to_owned(),
        },
        Question::NoAnswer { .. } => {
            "A rotor that was not turned and a stick that was not moved look alike.".to_owned()
        }
        Question::Outside { .. } => "It was held still for three seconds.".to_owned(),
        Question::OtherWay { .. } | Question::OfTheRecord => UNTIL_ANSWERED.to_owned(),
        Question::StandsStill { .. } | Question::NotReached { .. } => NO_END_NO_MOVE.to_owned(),
        Question::NotBack { .. } => {
            "A helicopter that was knocked looks like a stick that was moved; then the last capture is wrong."
                .to_owned()
        }
        Question::CableNotMoved { .. } => "Two equal readings would mean that the cable does not pull.".to_owned(),
        Question::NotTakenBack { .. } => return None,
    };
    Some(by_ear(face, said))
}

impl Say for Choice {
    fn say(&self, face: Face) -> String {
        let said = match *self {
            Self::Finish => "Finish this setup".to_owned(),
            Self::Start => "Start the sequence".to_owned(),
            Self::InPlace => "It is in place".to_owned(),
            Self::CableIsLifted => "It is lifted".to_owned(),
            Self::CableHangs => "It hangs".to_owned(),
            Self::ThatIsAll => "That is all".to_owned(),
            Self::TakeNow => "Take it now".to_owned(),
            Self::BindsHere => "It binds here".to_owned(),
            Self::LeaveOut => "Leave this out for now".to_owned(),
            Self::Answer { question, answer, .. } => to(question, answer),
        };
        by_ear(face, said)
    }
}

/// An answer to a question.
fn to(question: Question, answer: Answer) -> String {
    let again = match question {
        Question::OtherWay { way, .. } => format!("I will move {way} again"),
        _ => "I will move it now".to_owned(),
    };
    let said = match answer {
        Answer::TakeAs { way, .. } => return format!("Take it as {way}"),
        Answer::MoveAgain => return again,
        Answer::SweepOn => "I will move it now",
        Answer::Binds => "It binds there: take it as bound",
        Answer::TakeAsItStands => "Take it as it stands",
        Answer::GoOn => "Wait: I am still moving it",
        Answer::IsInPlace if matches!(question, Question::Knocked { .. }) => "Nothing was moved",
        Answer::IsInPlace => "Yes, it is there",
        Answer::CableIsSo if matches!(question, Question::CableNotMoved { lifted: true }) => "It hangs",
        Answer::CableIsSo => "It is lifted",
        Answer::LeaveOut if matches!(question, Question::CableNotMoved { .. }) => "Leave the cable out",
        Answer::LeaveOut => "It does not move: leave it out",
        Answer::LetGoNow if matches!(question, Question::NotTakenBack { .. }) => {
            "Leave it as it is: I will let the stick go now"
        }
        Answer::LetGoNow => "I will let it go now",
        Answer::TakeBack { .. } if matches!(question, Question::NotTakenBack { .. }) => "Take it back",
        Answer::TakeBack { .. } => "It is: take the last one back, and begin this place again",
        Answer::SweepEnds => "It does not move: record that",
        Answer::PlaceAgain => match question {
            Question::NothingMoved { .. } => "Not yet",
            Question::Knocked { .. } => "It was: begin this place again",
            Question::Contradicted { .. } => "I have put it right: begin this place again",
            Question::NoAnswer { .. } => "I will turn it now: begin this place again",
            _ => "Clip or rotor were moved: begin this place again",
        },
        Answer::CheckAgain if matches!(question, Question::NoAnswer { .. }) => "I will move the stick now",
        Answer::CheckAgain => "That was another stick: check again",
        Answer::RightAsRead => "It is right as it was read",
        Answer::ReadAgain => "Read it again",
    };
    said.to_owned()
}

impl Say for Refusal {
    fn say(&self, face: Face) -> String {
        let said = match self {
            Self::Closed => "This setup is closed; what was captured is kept.".to_owned(),
            Self::CautionsFirst => "Read the cautions first and acknowledge each line.".to_owned(),
            Self::NoSuchCaution => "The cautions have no such line.".to_owned(),
            Self::NothingToSkip => "Nothing is left to skip.".to_owned(),
            Self::Follows { cell } => format!("{cell} follows from other captures: redo one of those."),
            Self::NoSuchLine => "The order has no such line.".to_owned(),
            Self::NoSensor { carrier } => {
                format!("No sensor is on {}: end this session and begin it again with a sensor there.", carrier.said())
            }
            Self::NotRunning => "The sequence is not running: start it first.".to_owned(),
            Self::MoveFirst => {
                "The blade stands at its neutral: move the stick first, and say it while you hold it.".to_owned()
            }
            Self::NothingHeld => {
                "Nothing is being held: move the stick until it binds, back off, and say it then.".to_owned()
            }
            Self::NoQuestion => "No question stands.".to_owned(),
            Self::NoSuchAnswer => "The question has no such answer.".to_owned(),
            Self::NothingCaptured => "Nothing has been captured yet.".to_owned(),
        };
        by_ear(face, said)
    }
}

impl Say for Spoken {
    fn say(&self, face: Face) -> String {
        let said = match self {
            Self::Step(instruction) => return instruction.say(face),
            Self::Creeps => CREEPS,
            Self::BuzzesAtNeutral => "A servo buzzes at neutral: look what it pushes against.",
            Self::Buzzes => "It buzzes: back off until it is quiet, and hold just short of it.",
            Self::WentAllTheWayBack => "It went all the way back: move it again, and stop short of the buzzing.",
            Self::GoesFurther => "It goes further.",
            Self::TakenBack => "The last capture is taken back. Once more.",
        };
        by_ear(face, said.to_owned())
    }
}

/// How the rotor is to be turned, positive in its direction of rotation.
#[must_use]
pub fn turn(by: Angle) -> String {
    let way = if by > Angle::ZERO { "in" } else { "against" };
    format!("turn the rotor by {:.0} degrees, {way} its direction of rotation", by.abs().degrees())
}

/// What a station is in the words of the trade.
fn over(azimuth: Angle) -> &'static str {
    match azimuth.degrees().round() as i64 {
        0 => ", over the boom",
        90 | 270 => ", square to the boom",
        180 => ", over the nose",
        _ => "",
    }
}

fn seat(at: Seat) -> String {
    match at.spot {
        Spot::Main(station) => format!("Blade {} at {station}.", at.blade),
        Spot::Tail(edge) => format!("Tail blade {}, leading edge {edge}.", at.blade),
    }
}

fn capital(way: Deflection) -> String {
    super::sentence(&way.to_string())
}

#[cfg(test)]
#[path = "guide_tests.rs"]
pub(super) mod tests;
