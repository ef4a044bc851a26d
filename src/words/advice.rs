//! What to turn: links, end points, the neutral of an axis. One wording, wherever it is read.

pub use super::advice_link::links;
use super::record::judged;
use super::rotor::at;
use super::{Face, Say, angle, plus_minus, sentence, size, wanted, with_uncertainty};
use clinoblade_advice::{Output, TravelError};
use clinoblade_record::{
    Advice, Advised, Balance, BalanceAdvice, Bind, BothWays, Cell, CollectiveSurvey, EndPoint, LeftAlone, LevelPlate,
    LinkTurn, MidPitch, PitchPoint, ServoTurn, TravelPair, TravelSurvey, TravelSurveyError,
};
use clinoblade_rotor::{Axis, Collective, Deflection};
use clinoblade_uncertainty::Target;
use clinoblade_units::{Angle, HalfTurns};

/// So many half-turns without a sign, as they are said and as `adjust` takes them.
fn so_many(half_turns: HalfTurns) -> String {
    match half_turns.abs().value() {
        1.0 => "1 half-turn".to_owned(),
        part if part < 1.0 => format!("{part} of a half-turn"),
        more => format!("{more} half-turns"),
    }
}

impl Say for BothWays {
    fn say(&self, _: Face) -> String {
        let way = match self.longer {
            _ if self.raising.is_zero() => return "no turn".to_owned(),
            Some(longer) if longer > HalfTurns::ZERO => "longer",
            Some(_) => "shorter",
            None if self.raising > HalfTurns::ZERO => "the way that raises the blade",
            None => "the way that lowers the blade",
        };
        format!("{} {way}", so_many(self.raising))
    }
}

impl Say for LinkTurn {
    fn say(&self, face: Face) -> String {
        let Self { blade, turns, then, expanded } = self;
        let then = with_uncertainty(*then, *expanded);
        if turns.raising.is_zero() {
            return format!("Leave the link of blade {blade} as it is.");
        }
        format!("Turn the link of blade {blade} {}: it then stands at {then}.", turns.say(face))
    }
}

impl Say for EndPoint {
    fn say(&self, face: Face) -> String {
        let Self { end, set, gives, expanded, beyond, .. } = self;
        let gives = with_uncertainty(*gives, *expanded);
        let mut said = format!("Set the end point of {end} to {:.0} %: it then goes to {gives}.", set.value());
        if self.assumed {
            said += face.command(
                " Its end point now is taken as 100 %; if it is not, add `--end-point PERCENT`.",
                " Its end point now is taken as 100 %.",
            );
        }
        if *beyond {
            said += " ";
            said += BEYOND;
        }
        said
    }
}

/// What to mind where an end point goes further than was captured.
pub const BEYOND: &str =
    "This is further than you captured: move there slowly, listen for a bind, and back off at the first buzz.";

impl Say for BalanceAdvice {
    fn say(&self, _: Face) -> String {
        let far = &self.far;
        let (way, other) = (far.end.direction(), far.other.direction());
        let wanted = match far.wanted == Angle::ZERO {
            true => format!("{way} is {} more than {other}", size(far.by, far.expanded)),
            false => format!(
                "{way} is {} too far against {other} ({} is wanted)",
                size(far.by, far.expanded),
                angle(far.wanted, 2)
            ),
        };
        let end_point = match &self.end_point {
            Some(end_point) => format!(
                "set the {way} end point to {:.0} %, which gives {}",
                end_point.set.value(),
                with_uncertainty(end_point.gives, end_point.expanded)
            ),
            None => format!("lower the {way} end point"),
        };
        let bound = if self.bound { " One of the ends stops at a bind: let neither go further than now." } else { "" };
        format!(
            "{}: {wanted}. Either {end_point}, or set {}.{bound}",
            far.end.axis(),
            match far.end.axis() {
                Axis::Rudder => "the tail servo's arm square to its rod at stick centre",
                _ =>
                    "the servo arms square to their links at stick centre; leave the neutral, which holds the plate level",
            },
        )
    }
}

impl Say for Advice {
    fn say(&self, face: Face) -> String {
        match self {
            Self::Links(turns) => turns.iter().map(|turn| turn.say(face)).collect::<Vec<_>>().join(" "),
            Self::Balance(balance) => balance.say(face),
            Self::EndPoint(end_point) => end_point.say(face),
            Self::LevelPlate(level) => level.say(face),
            Self::PlateNotDescribed => PLATE_NOT_DESCRIBED.to_owned(),
            Self::NoLinks(why) => why.say(face),
            Self::NoEndPoint(why) => why.say(face),
        }
    }
}

/// Examples of `advise swash`.
pub const SWASH_HELP: &str = "\
Example:
  clinoblade advise swash

It needs blade A's captures at mid stick round the turn, at 0°, 90°, 180° and 270° with the clip left on, and the line `swash = …` of \
the description. Record what you turn with `clinoblade adjust`, and read blade A round the turn again.";

/// How level the plate stands, where nothing is to be turned.
#[must_use]
pub fn plate_is_level(cell: &Cell) -> String {
    format!("The swashplate stands level at stick centre: {}, wanted {}.", judged(cell), wanted(cell.target))
}

/// How far the plate leans, and what levels it.
#[must_use]
pub fn plate_leans(cell: &Cell, level: &LevelPlate) -> String {
    let leans = format!("The swashplate leans by {} at stick centre, wanted {}.", judged(cell), wanted(cell.target));
    format!("{leans} {}", level.say(Face::Terminal))
}

/// The plate was not read.
pub const PLATE_NOT_READ: &str = "Nobody knows yet how the swashplate stands: capture collective mid on blade A at 0°, 90°, 180° and 270° with the \
                                  clip left on (`clinoblade capture collective mid --station 0` and so on).";

/// Which servo's link it is depends on where the servos stand.
pub const PLATE_NOT_DESCRIBED: &str = "Which servo's link levels the plate cannot be said: the description of the helicopter has no line \
                                   `swash = { servo_radius_mm = 25.0, link_radius_mm = 15.0, thread = \"M2.5\" }`. Measure from the \
                                   shaft to the balls of the servos' links and to those of the pitch links, and put both and the \
                                   thread of the servos' links into it.";

fn servo_turn(turn: &ServoTurn) -> String {
    let ServoTurn { servo, half_turns, expanded, teeth, sub_trim } = turn;
    let trimmed = sub_trim.map_or_else(String::new, |trim| {
        let way = if trim.by > Angle::ZERO { "up" } else { "down" };
        format!(": its horn {} {way}", size(trim.by, trim.expanded))
    });
    match teeth {
        Some(teeth) => format!(
            "The horn of servo {servo} sits {} {} off: move it {} on its spline.",
            teeth.abs(),
            if teeth.abs() == 1 { "tooth" } else { "teeth" },
            if *teeth > 0 { "up" } else { "down" }
        ),
        None if half_turns.is_zero() => {
            format!(
                "No seat of the link of servo {servo} brings it nearer: take it out with that servo's sub-trim{trimmed}."
            )
        }
        None => format!(
            "Turn the link of servo {servo} {} {} (± {:.1}), or take it out with that servo's sub-trim{trimmed}.",
            so_many(*half_turns),
            if *half_turns > HalfTurns::ZERO { "longer" } else { "shorter" },
            expanded.value()
        ),
    }
}

impl Say for LevelPlate {
    fn say(&self, face: Face) -> String {
        let servo = |turn: &ServoTurn| {
            let recorded = turn.adjustment().map_or_else(String::new, |adjustment| {
                face.command(&format!(" Then `clinoblade adjust {adjustment}`."), "").to_owned()
            });
            servo_turn(turn) + &recorded
        };
        let mut said: Vec<String> = self.servos.iter().map(servo).collect();
        if self.collective.degrees().abs() >= 0.05 {
            said.push(format!("That changes the pitch of every blade by {}.", angle(self.collective, 2)));
        }
        said.join(" ")
    }
}

impl Say for Advised {
    fn say(&self, face: Face) -> String {
        match self {
            Self::Done => "as advised".to_owned(),
            Self::Link(turns) => format!("advised: {}", turns.say(face)),
            Self::EndPoint(set) => format!("advised: {:.0} %", set.value()),
        }
    }
}

fn bind(bind: &Bind) -> String {
    let at = angle(bind.at(), 2);
    bind.output().map_or_else(|| at.clone(), |output| format!("{:.0} % ({at})", output.value().abs()))
}

impl Say for TravelError {
    fn say(&self, face: Face) -> String {
        match self {
            Self::OnePair => {
                let how = face.command(" (`clinoblade capture … --stick 50`)", "");
                format!(
                    "One capture shows no slope. Capture the same direction again with the stick part of the way{how}."
                )
            }
            Self::Twice => "Two readings stand at one output; only the newest of them can count.".to_owned(),
            Self::Turns { from, to } => format!(
                "Between {from:.0} % and {to:.0} % more output did not move the blade further the same way: it binds there, or a \
                 reading is wrong. Capture that stretch again."
            ),
            Self::NeverUnder { ceiling } => format!(
                "No output stays under {} for certain: the uncertainty is as large. Capture neutral and end again, and hold the \
                 stick longer.",
                angle(*ceiling, 2)
            ),
            Self::TooFar { wanted, low, high, limit } => format!(
                "{} is too far beyond what you captured, {} to {}. Set the end point to {limit:.0} %, check that nothing binds, \
                 capture there, and try again.",
                angle(*wanted, 2),
                angle(*low, 2),
                angle(*high, 2)
            ),
        }
    }
}

impl Say for TravelSurveyError {
    fn say(&self, face: Face) -> String {
        match self {
            Self::NoCaptures(direction) => {
                let (first, last) = match direction {
                    Deflection::Collective(_) => ("collective mid".to_owned(), "collective low and high".to_owned()),
                    other => (format!("{} neutral", other.axis()), other.to_string()),
                };
                format!(
                    "No capture of {last} goes with a neutral of the same blade at the same place. Capture {first}, then {last}, \
                     and leave the clip where it is."
                )
            }
            Self::NoEnd(direction) => format!("{direction} has no end point: name a direction the stick can move in."),
            Self::BoundOnly(direction, at) => format!(
                "{direction} was captured just short of a bind ({}), and where the stick stood is not known. {}, or lower its end \
                 point until full stick brings no more than that.",
                bind(at),
                face.command(
                    "Capture it again with `--stick PERCENT`",
                    "Capture it again and say where the stick stands"
                )
            ),
            Self::OtherEnd { wanted, output, end } => format!(
                "{} takes {output:.0} % on the other side of mid stick, which is not {end}. Name the other end, or correct the sign.",
                angle(*wanted, 2)
            ),
            Self::OtherSide(wanted) => format!(
                "{} is not a movement in this direction: write degrees above zero, or name the other direction.",
                angle(*wanted, 2)
            ),
            Self::Travel(error) => error.say(face),
            Self::PastBind { wanted, bind: at } => format!(
                "That takes {wanted:.0} % of output, and the linkage binds at {}. Leave the limit just short of the bind, or clear \
                 the bind first.",
                bind(at)
            ),
            Self::BindsBefore { wanted, bind: at } => format!(
                "The linkage binds at {}, before it reaches {}. Leave the limit just short of the bind, or clear the bind first.",
                bind(at),
                angle(*wanted, 2)
            ),
        }
    }
}

/// Examples of `advise link`.
pub const LINK_HELP: &str = "\
Examples:
  clinoblade advise link                 all blades to the zero that is wanted
  clinoblade advise link --blade B       one link alone
  clinoblade advise link --to 0.5        to another pitch at mid stick

How the blades stand comes from the captures at mid stick that still hold; thread, arm and seats of the links are in the \
description. Record what you turn with `clinoblade adjust link B +1` and capture again: from then on the measured effect of a \
half-turn is used.";

/// Examples of `advise travel`.
pub const TRAVEL_HELP: &str = "\
Examples:
  clinoblade advise travel elevator up --to 12
  clinoblade advise travel aileron left                what the description wants
  clinoblade advise travel collective low --to -10

Each capture of this direction gives one output (end point times stick) and its movement from neutral. One end with its neutral \
is enough; a capture with the stick part of the way (--stick 50) shows how the linkage bends. Nothing is said further than a \
tenth beyond what you captured, nor past a bind. Record what you set with `clinoblade adjust`, then capture again.";

/// Examples of `advise collective`.
pub const COLLECTIVE_HELP: &str = "\
Examples:
  clinoblade advise collective
  clinoblade advise collective --low -10 --high 11 --plot pitch.svg

It uses `clinoblade capture collective mid`, `low`, `high` and places between (`capture collective 25%`), all on one blade at one \
station. What you want of an end is its pitch: the zero and the movement from mid stick together. Capture `collective mid` half a turn \
on too, with the clip left on, so that the zero is free of the lean. The curve between the captures never swings beyond them.";

/// Examples of `advise symmetry`.
pub const SYMMETRY_HELP: &str = "\
Examples:
  clinoblade advise symmetry
  clinoblade advise symmetry elevator

Ends that the description wants unequal are compared with that. It names two ways: change the end \
point of the direction that goes too far, or set the servo arms square at stick centre. The neutral stays where it is.";

/// `--to` of a link, which is no pitch that a blade has at mid stick.
pub const NO_PITCH: &str = "--to is a pitch at mid stick: write degrees between -30 and 30";
/// An end point, which is no percentage.
pub const NO_END_POINT: &str = "write a percentage from 1 to 200";

/// One pair of output and movement, as a line of a table.
fn pair(pair: &TravelPair) -> String {
    let assumed = if pair.assumed { ", assumed" } else { "" };
    format!(
        "  {:>6.1} % output  {}  ({}, stick {:.0} %, end point {:.0} %{assumed})",
        pair.output.value(),
        with_uncertainty(pair.moved, pair.expanded),
        pair.deflection,
        pair.stick.value(),
        pair.end_point.value(),
    )
}

/// What is wanted of an end: an angle that was named, or what the description wants.
#[derive(Debug, Clone, Copy)]
pub enum WantedOf {
    /// Named by the person.
    Angle(Angle),
    /// The description's.
    Description(Target),
    /// A pitch that the description wants, and what is left of it to move from neutral.
    Pitch(Target, Target),
}

impl WantedOf {
    fn said(self) -> String {
        match self {
            Self::Angle(wanted) => angle(wanted, 2),
            Self::Description(target) => format!("{} (the description's)", wanted(target)),
            Self::Pitch(pitch, movement) => {
                format!("{} of pitch (the description's), {} from neutral", wanted(pitch), wanted(movement))
            }
        }
    }
}

/// The output for what is wanted of an end, and the end point to set.
fn output(found: &Output, wanted: WantedOf, set: EndPoint) -> String {
    format!(
        "For {}: {:.1} % of output ± {:.1} %. {}",
        wanted.said(),
        found.output.value().abs(),
        found.expanded.value(),
        set.say(Face::Terminal)
    )
}

/// The output of one direction for a wanted angle, with the captures it follows from.
#[must_use]
pub fn travel(survey: &TravelSurvey, end: Deflection, found: &Output, wanted: WantedOf) -> String {
    let mut lines = vec![format!("{end}, blade {} {}, movement from neutral:", survey.blade, at(survey.spot))];
    lines.extend(survey.pairs.iter().map(pair));
    lines.push(output(found, wanted, survey.end_point(end, found)));
    let set = found.whole.value().abs();
    lines.push(format!("Then `clinoblade adjust {end} end point {set:.0}`, and capture {end} again."));
    lines.join("\n")
}

/// An end that stands under its ceiling, where no end point would be better.
#[must_use]
pub fn nothing_to_set(end: Deflection, stands: Angle, expanded: Angle, target: Target) -> String {
    format!(
        "{end} stands at {}, {} is wanted: there is nothing to set.",
        with_uncertainty(stands, expanded),
        wanted(target)
    )
}

/// A direction of which the description wants nothing.
#[must_use]
pub fn nothing_wanted(end: Deflection) -> String {
    format!("the description wants nothing of {end}: add `--to DEGREES`")
}

/// No end point for an end whose pitch is not known.
#[must_use]
pub fn pitch_not_known(end: Deflection) -> String {
    match end.axis() {
        Axis::Collective => format!(
            "what is wanted of {end} is a pitch, and how its blade stands at mid stick is not known free of the lean, or leaves no room. \
             Capture collective mid, turn the head half round with the clip left on, and capture collective mid there too; or use \
             `clinoblade advise travel {end} --to DEGREES` for a movement from mid stick"
        ),
        _ => format!(
            "the description bounds the pitch at which the tail blades stand, and that of {end} is not known free of the model's roll, \
             or leaves no room: capture neutral and end with the leading edge up and down, or add `--to DEGREES` for a travel"
        ),
    }
}

/// One end of the collective: the output for its pitch, or why there is none.
#[must_use]
pub fn collective_end(
    survey: &CollectiveSurvey,
    end: Collective,
    wanted: WantedOf,
    mid: Option<&MidPitch>,
    found: Option<&Result<Output, TravelSurveyError>>,
) -> String {
    let end = Deflection::Collective(end);
    match (found, mid) {
        (Some(Ok(found)), Some(mid)) => {
            let (gives, expanded) = mid.after(found.angle, &found.budget);
            let set = EndPoint { gives, expanded, ..survey.travel.end_point(end, found) };
            format!("{end}: {}", output(found, wanted, set))
        }
        (Some(Err(why)), _) => format!("{end}: {}", why.say(Face::Terminal)),
        _ => format!("{end}: {}.", pitch_not_known(end)),
    }
}

/// One place of the stick as pitch.
fn pitch_point(point: &PitchPoint) -> String {
    let judged = point
        .judged
        .as_ref()
        .map_or_else(String::new, |(target, verdict)| format!(": {} ({} is wanted)", verdict.word(), wanted(*target)));
    format!(
        "  at {:.0} % stick  {} of pitch{judged}",
        point.stick.value(),
        with_uncertainty(point.pitch, point.expanded)
    )
}

/// The collective: its captures, how straight it is, how far its ends go.
#[must_use]
pub fn collective(survey: &CollectiveSurvey, mid: Option<&MidPitch>, pitches: &[PitchPoint]) -> Vec<String> {
    let travel = &survey.travel;
    let mut lines = vec![format!("collective, blade {} {}, movement from mid stick:", travel.blade, at(travel.spot))];
    lines.extend(travel.pairs.iter().map(pair));
    if let Some(mid) = mid {
        lines.push("As pitch, the zero and the movement together:".to_owned());
        lines.extend(pitches.iter().map(pitch_point));
        if !mid.free_of_lean {
            lines.push(ZERO_LEANS.to_owned());
        }
    }
    lines.push(match survey.worst() {
        Some(worst) => format!(
            "Bent: at {:.0} % stick it is {} off the straight line between the ends. Is a servo arm square to its rod?",
            worst.stick.value(),
            with_uncertainty(worst.by, worst.expanded)
        ),
        None if survey.off_the_line.is_empty() => NOT_STRAIGHT_YET.to_owned(),
        None => "Straight within 0.3°, or its uncertainty, at every place you captured.".to_owned(),
    });
    lines.extend(survey.symmetry.as_ref().map(|symmetry| {
        let difference = symmetry.difference;
        match (symmetry.is_significant(), difference > Angle::ZERO) {
            (false, _) => format!("Both ends go equally far ({}).", with_uncertainty(difference, symmetry.expanded)),
            (true, true) => format!("high is {} more than low.", size(difference, symmetry.expanded)),
            (true, false) => format!("low is {} more than high.", size(difference, symmetry.expanded)),
        }
    }));
    lines
}

const ZERO_LEANS: &str = "The zero was read at one station, and the lean of model and swashplate may be in it. Capture collective mid half \
                          a turn on too, with the clip left on.";

const NOT_STRAIGHT_YET: &str =
    "To see how straight it is, capture both ends and places between: `clinoblade capture collective 25%`.";

/// One axis: its travels, and what balances them.
#[must_use]
pub fn balance(balance: &Balance, advice: Option<&BalanceAdvice>, left_alone: Option<LeftAlone>) -> String {
    let [one, other] = balance.ends;
    let travel = |end: Deflection, value: &clinoblade_record::Value| {
        format!("{} {}", end.direction(), with_uncertainty(value.angle, value.expanded))
    };
    let travels =
        format!("{}: {}, {}.", one.axis(), travel(one, &balance.travels[0]), travel(other, &balance.travels[1]));
    let differ = || {
        let far = balance.too_far();
        far.map_or_else(String::new, |far| {
            let (way, other) = (far.end.direction(), far.other.direction());
            sentence(&format!("{way} goes {} too far against {other}", size(far.by, far.expanded)))
        })
    };
    let advised = match (&balance.symmetry, advice) {
        _ if left_alone == Some(LeftAlone::TooLittle) => format!("{}: too little to change anything.", differ()),
        _ if left_alone == Some(LeftAlone::HoldsTheTorque) => format!(
            "{}. It holds the torque of the main rotor: leave it, or ask for it with `clinoblade advise symmetry {}`.",
            differ(),
            one.axis()
        ),
        (None, _) => "The description only sets ceilings, which differ: there is nothing to balance.".to_owned(),
        (Some(symmetry), None) => {
            format!("No difference from what is wanted beyond {}.", plus_minus(symmetry.expanded))
        }
        (Some(_), Some(advice)) => advice.say(Face::Terminal),
    };
    format!("{travels} {advised}")
}

/// An axis that has no two directions of its own to balance.
#[must_use]
pub const fn no_balance(axis: Axis) -> &'static str {
    match axis {
        Axis::Collective => "the collective has its own command: `clinoblade advise collective`",
        Axis::Corner => "a corner has one direction: name elevator, aileron or rudder",
        Axis::Elevator | Axis::Aileron | Axis::Rudder => NO_TRAVELS,
    }
}

/// No axis has both its travels.
pub const NO_TRAVELS: &str =
    "No axis has both directions captured as travels that still hold. Capture neutral, then one end and the other.";

#[cfg(test)]
#[path = "advice_tests.rs"]
mod tests;
