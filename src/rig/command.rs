//! The commands that the rig takes, one a line, typed or in a scenario's timeline.

use super::RigError;
use super::vocabulary::{Blade, Edge, End, Mount, Seat, Stick};
use crate::units::{Angle, Celsius, Percent, Seconds};
use std::str::FromStr;

/// One thing to do.
#[derive(Debug, Clone, PartialEq)]
pub enum Command {
    /// `stick AXIS PERCENT [over SECONDS]`: move a stick. −100 to +100 %, collective 0 to 100 %.
    Stick {
        /// Which.
        stick: Stick,
        /// Where to.
        to: Percent,
        /// How long the move takes.
        over: Seconds,
    },
    /// `head STATION [over SECONDS]`: turn the head so that blade A stands there, degrees from the boom.
    Head {
        /// Azimuth of blade A.
        station: Angle,
        /// How long it takes.
        over: Seconds,
    },
    /// `clip BLADE|tail BLADE|table|face AXIS|pose ROLL PITCH [forward|reversed] [over SECONDS]`: seat the clip anew.
    Clip {
        /// On what.
        seat: Seat,
        /// Which way.
        mount: Mount,
        /// How long the hands are on it.
        over: Seconds,
    },
    /// `tail up|down [over SECONDS]`: turn the tail hub until the clip's blade has its leading edge there.
    Tail {
        /// Where the leading edge points.
        edge: Edge,
        /// How long the hands are on it.
        over: Seconds,
    },
    /// `cable lifted|slack [over SECONDS]`: lift the cable off the clip, or let it hang.
    Cable {
        /// Whether it is lifted.
        lifted: bool,
        /// How long the hands are on it.
        over: Seconds,
    },
    /// `tilt NOSE LEFT [over SECONDS]`: lean the whole model, degrees.
    Tilt {
        /// Shaft toward the nose.
        nose: Angle,
        /// Shaft to the left.
        left: Angle,
        /// How long it takes.
        over: Seconds,
    },
    /// `spindle turn|DEGREES [over SECONDS]`: turn the spindle in its grips, links off, the clip where it sits: half round, or to so
    /// many degrees from where it sat first.
    Spindle {
        /// Where to, a multiple of 90°; half round where nothing is said.
        to: Option<Angle>,
        /// How long the hands are on it.
        over: Seconds,
    },
    /// `link BLADE HALF_TURNS`: lengthen (or shorten, negative) a main blade's pitch link.
    Link {
        /// Which blade's.
        blade: Blade,
        /// Half-turns of the link.
        half_turns: f64,
    },
    /// `rod SERVO HALF_TURNS`: lengthen the rod between a servo (1 nose, 2 left, 3 right) and the swashplate.
    Rod {
        /// Servo index, 0 to 2.
        servo: usize,
        /// Half-turns of the rod.
        half_turns: f64,
    },
    /// `arm SERVO DEGREES`: put a servo's arm on its spline so far off square, its rod made to fit.
    Arm {
        /// Servo index, 0 to 2.
        servo: usize,
        /// Off square.
        offset: Angle,
    },
    /// `subtrim SERVO DEGREES`: set a servo's sub-trim.
    SubTrim {
        /// Servo index, 0 to 2.
        servo: usize,
        /// Degrees of its arm.
        to: Angle,
    },
    /// `trim AXIS PERCENT`: set the trim of an axis.
    Trim {
        /// Which stick.
        stick: Stick,
        /// Percent of stick.
        to: Percent,
    },
    /// `endpoint AXIS DIRECTION PERCENT`: set what full stick that way puts out.
    EndPoint {
        /// Which end.
        end: End,
        /// Output at full stick.
        to: Percent,
    },
    /// `temperature C [over SECONDS]`: bring the sensor to a temperature.
    Temperature {
        /// Where to.
        to: Celsius,
        /// How long it takes.
        over: Seconds,
    },
    /// `unplug`: pull the sensor's cable.
    Unplug,
    /// `replug`: put it back; the sensor starts anew.
    Replug,
    /// `power cycle`: the sensor starts anew with the cable in place.
    PowerCycle,
    /// `damage PERCENT`: from now on damage this share of lines.
    Damage(Percent),
    /// `lose N`: do not send the next N lines.
    Lose(u32),
    /// `repeat N`: send the next N lines twice.
    Repeat(u32),
    /// `garbage N`: send N bytes that mean nothing.
    Garbage(u32),
    /// `truth`: say how everything really stands.
    Truth,
    /// `wait SECONDS`: do nothing for that long before the next command.
    Wait(Seconds),
    /// `quit`: end.
    Quit,
}

/// How each command is written.
const FORMS: [&str; 24] = [
    "stick AXIS PERCENT [over SECONDS]",
    "head DEGREES [over SECONDS]",
    "clip A|tail A|table|face +x|pose ROLL PITCH [forward|reversed] [over SECONDS]",
    "tail up|down [over SECONDS]",
    "cable lifted|slack [over SECONDS]",
    "tilt NOSE LEFT [over SECONDS]",
    "spindle turn|0|90|180|270 [over SECONDS]",
    "link BLADE HALF_TURNS",
    "rod SERVO HALF_TURNS",
    "arm SERVO DEGREES",
    "subtrim SERVO DEGREES",
    "trim AXIS PERCENT",
    "endpoint AXIS DIRECTION PERCENT",
    "temperature CELSIUS [over SECONDS]",
    "unplug",
    "replug",
    "power cycle",
    "damage PERCENT",
    "lose LINES",
    "repeat LINES",
    "garbage BYTES",
    "truth",
    "wait SECONDS",
    "quit",
];

impl Command {
    /// The first word of each command.
    pub fn names() -> impl Iterator<Item = &'static str> {
        FORMS.into_iter().filter_map(|form| form.split(' ').next())
    }
}

impl FromStr for Command {
    type Err = RigError;

    fn from_str(line: &str) -> Result<Self, RigError> {
        let mut words: Vec<&str> = line.split_whitespace().collect();
        let said = take_over(&mut words)?;
        let over = said.unwrap_or_default();
        let degrees_of = |text: &str, most: f64| number(text, "degrees", -most, most).map(Angle::from_degrees);
        let percent_of = |text: &str, lowest, highest| number(text, "percent", lowest, highest).map(Percent::new);
        Ok(match (words.as_slice(), said) {
            (["stick", stick, to], _) => {
                let stick: Stick = stick.parse()?;
                let (lowest, highest) = stick.range();
                Self::Stick { stick, to: percent_of(to, lowest, highest)?, over }
            }
            (["head", station], _) => Self::Head { station: degrees_of(station, 3600.0)?, over },
            (["clip", rest @ ..], _) if let Some((seat, mount)) = seat(rest)? => Self::Clip { seat, mount, over },
            (["tail", edge], _) => Self::Tail { edge: edge.parse()?, over },
            (["cable", "lifted"], _) => Self::Cable { lifted: true, over },
            (["cable", "slack"], _) => Self::Cable { lifted: false, over },
            (["tilt", nose, left], _) => {
                Self::Tilt { nose: degrees_of(nose, 60.0)?, left: degrees_of(left, 60.0)?, over }
            }
            (["spindle", "turn"], _) => Self::Spindle { to: None, over },
            (["spindle", to @ ("0" | "90" | "180" | "270")], _) => {
                Self::Spindle { to: Some(degrees_of(to, 270.0)?), over }
            }
            (["temperature", to], _) => {
                Self::Temperature { to: Celsius::new(number(to, "temperature", -60.0, 150.0)?), over }
            }
            (["link", blade, turns], None) => Self::Link { blade: blade.parse()?, half_turns: half_turns(turns)? },
            (["rod", which, turns], None) => Self::Rod { servo: servo(which)?, half_turns: half_turns(turns)? },
            (["arm", which, offset], None) => Self::Arm { servo: servo(which)?, offset: degrees_of(offset, 40.0)? },
            (["subtrim", which, to], None) => Self::SubTrim { servo: servo(which)?, to: degrees_of(to, 40.0)? },
            (["trim", stick, to], None) => Self::Trim { stick: stick.parse()?, to: percent_of(to, -50.0, 50.0)? },
            (["endpoint", axis, direction, to], None) => {
                Self::EndPoint { end: format!("{axis} {direction}").parse()?, to: percent_of(to, 0.0, 150.0)? }
            }
            (["unplug"], None) => Self::Unplug,
            (["replug"], None) => Self::Replug,
            (["power", "cycle"], None) => Self::PowerCycle,
            (["damage", share], None) => Self::Damage(percent_of(share, 0.0, 100.0)?),
            (["lose", lines], None) => Self::Lose(count(lines)?),
            (["repeat", lines], None) => Self::Repeat(count(lines)?),
            (["garbage", bytes], None) => Self::Garbage(count(bytes)?),
            (["truth"], None) => Self::Truth,
            (["wait", time], None) => Self::Wait(Seconds::new(number(time, "seconds", 0.0, 3600.0)?)),
            (["quit"], None) => Self::Quit,
            (words, _) => return Err(not_understood(line.trim(), words.first().copied())),
        })
    }
}

/// A line that is no command, or one with too little, too much or the wrong things behind its first word.
fn not_understood(line: &str, first: Option<&str>) -> RigError {
    let given = line.to_owned();
    match FORMS.into_iter().find(|form| form.split(' ').next() == first) {
        Some(form) => RigError::Form { given, form },
        None => RigError::Command(given),
    }
}

/// Takes `over SECONDS` off the end of a line.
fn take_over(words: &mut Vec<&str>) -> Result<Option<Seconds>, RigError> {
    if let [.., "over", time] = words.as_slice() {
        let over = Seconds::new(number(time, "seconds", 0.0, 600.0)?);
        words.truncate(words.len() - 2);
        return Ok(Some(over));
    }
    Ok(None)
}

fn seat(words: &[&str]) -> Result<Option<(Seat, Mount)>, RigError> {
    let (place, mount) = match words {
        [place @ .., last @ ("forward" | "reversed")] => (place, last.parse()?),
        place => (place, Mount::Forward),
    };
    let seat = match place {
        ["table"] => Seat::Table,
        ["tail", blade] => Seat::Tail(blade.parse()?),
        ["face", axis] => Seat::Face(axis.parse().map_err(|_| RigError::Word {
            given: (*axis).to_owned(),
            what: "sensor axis",
            known: &["+x", "-x", "+y", "-y", "+z", "-z"],
        })?),
        ["pose", roll, pitch] => Seat::Pose {
            roll_deg: number(roll, "degrees", -360.0, 360.0)?,
            pitch_deg: number(pitch, "degrees", -360.0, 360.0)?,
        },
        [blade] => Seat::Main(blade.parse()?),
        _ => return Ok(None),
    };
    Ok(Some((seat, mount)))
}

fn number(text: &str, what: &'static str, lowest: f64, highest: f64) -> Result<f64, RigError> {
    match text.replace('−', "-").trim_end_matches(['%', '°']).parse::<f64>() {
        Ok(value) if (lowest..=highest).contains(&value) => Ok(value),
        _ => Err(RigError::Number { given: text.to_owned(), what, lowest, highest }),
    }
}

fn half_turns(text: &str) -> Result<f64, RigError> {
    number(text, "half-turns", -100.0, 100.0)
}

fn servo(text: &str) -> Result<usize, RigError> {
    match text {
        "1" => Ok(0),
        "2" => Ok(1),
        "3" => Ok(2),
        _ => {
            Err(RigError::Word { given: text.to_owned(), what: "servo", known: &["1 (nose)", "2 (left)", "3 (right)"] })
        }
    }
}

fn count(text: &str) -> Result<u32, RigError> {
    let (what, lowest, highest) = ("whole number", 0.0, 100_000.0);
    let whole = number(text, what, lowest, highest).ok().filter(|count| count.fract() == 0.0);
    whole.map(|count| count as u32).ok_or_else(|| RigError::Number { given: text.to_owned(), what, lowest, highest })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stick_is_moved_at_once_or_over_a_time() {
        assert_eq!(
            "stick elevator 100 over 1.5".parse(),
            Ok(Command::Stick { stick: Stick::Elevator, to: Percent::new(100.0), over: Seconds::new(1.5) })
        );
        assert_eq!(
            "stick collective 0".parse(),
            Ok(Command::Stick { stick: Stick::Collective, to: Percent::new(0.0), over: Seconds::new(0.0) })
        );
    }

    #[test]
    fn a_clip_goes_on_a_blade_the_tail_the_table_or_in_the_hand() {
        let on = |text: &str| match text.parse() {
            Ok(Command::Clip { seat, mount, .. }) => (seat.to_string(), mount),
            other => panic!("{text}: {other:?}"),
        };
        assert_eq!(on("clip B reversed"), ("B".into(), Mount::Reversed));
        assert_eq!(on("clip tail A"), ("tail A".into(), Mount::Forward));
        assert_eq!(on("clip table reversed over 1"), ("table".into(), Mount::Reversed));
        assert_eq!(on("clip face -y"), ("face -y".into(), Mount::Forward));
        assert_eq!(on("clip pose 30 -45"), ("pose 30 -45".into(), Mount::Forward));
    }

    #[test]
    fn a_wrong_line_is_refused_by_what_is_wrong_with_it() {
        let refusal = |line: &str| line.parse::<Command>().unwrap_err();
        for line in
            ["quit now please", "quit over 3", "stick elevator", "head", "clip", "spindle", "power", "cable taut"]
        {
            let first = line.split(' ').next();
            assert!(
                matches!(refusal(line), RigError::Form { form, given } if form.split(' ').next() == first && given == line),
                "{line}"
            );
        }
        for line in ["spindle bend", "link A", "quit now", "stick elevator 1 over"] {
            assert!(matches!(refusal(line), RigError::Form { .. }), "{line}");
        }
        for line in ["", "throttle 5"] {
            assert_eq!(refusal(line), RigError::Command(line.to_owned()));
        }
        for (line, word) in [
            ("stick throttle 5", "throttle"),
            ("clip Z", "Z"),
            ("tail left", "left"),
            ("rod 4 1", "4"),
            ("clip face w", "w"),
            ("endpoint elevator left 90", "elevator left"),
        ] {
            assert!(matches!(refusal(line), RigError::Word { given, .. } if given == word), "{line}");
        }
        for (line, range) in [
            ("stick elevator 101", (-100.0, 100.0)),
            ("stick collective -1", (0.0, 100.0)),
            ("link A nan", (-100.0, 100.0)),
            ("wait -1", (0.0, 3600.0)),
            ("lose 1.5", (0.0, 100_000.0)),
        ] {
            let RigError::Number { lowest, highest, .. } = refusal(line) else { panic!("{line}") };
            assert_eq!((lowest, highest), range, "{line}");
        }
    }
}
