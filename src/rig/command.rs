//! The commands that the rig takes, one a line, typed or in a scenario's timeline.

use super::RigError;
use super::words::{Blade, Edge, End, Mount, Seat, Stick};
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
    /// `spindle turn [over SECONDS]`: turn the spindle half round in its grips, links off, the clip where it sits.
    Spindle {
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

const COMMANDS: &str = "stick, head, clip, tail, cable, tilt, spindle, link, rod, arm, subtrim, trim, endpoint, temperature, unplug, \
                        replug, power cycle, damage, lose, repeat, garbage, truth, wait, quit";

impl FromStr for Command {
    type Err = RigError;

    fn from_str(line: &str) -> Result<Self, RigError> {
        let mut words: Vec<&str> = line.split_whitespace().collect();
        let over = take_over(&mut words)?;
        let usage = |usage| Err(RigError::Usage { given: line.trim().to_owned(), usage });
        let plain = |command: Self, form| if over.is_some() { usage(form) } else { Ok(command) };
        let time = over.unwrap_or_default();
        match words.as_slice() {
            ["stick", stick, to] => {
                let stick: Stick = stick.parse()?;
                let (lowest, highest) = stick.range();
                let to = Percent::new(number(to, "stick position in %", lowest, highest)?);
                Ok(Self::Stick { stick, to, over: time })
            }
            ["stick", ..] => usage("stick elevator|aileron|rudder|collective PERCENT [over SECONDS]"),
            ["head", station] => {
                let station = degrees(station, "station in degrees", 3600.0)?;
                Ok(Self::Head { station, over: time })
            }
            ["head", ..] => usage("head DEGREES [over SECONDS]"),
            ["clip", rest @ ..] => match seat(rest)? {
                Some((seat, mount)) => Ok(Self::Clip { seat, mount, over: time }),
                None => usage("clip A|tail A|table|face +x|pose ROLL PITCH [forward|reversed] [over SECONDS]"),
            },
            ["tail", edge] => Ok(Self::Tail { edge: edge.parse()?, over: time }),
            ["tail", ..] => usage("tail up|down [over SECONDS]"),
            ["cable", "lifted"] => Ok(Self::Cable { lifted: true, over: time }),
            ["cable", "slack"] => Ok(Self::Cable { lifted: false, over: time }),
            ["cable", ..] => usage("cable lifted|slack [over SECONDS]"),
            ["tilt", nose, left] => Ok(Self::Tilt {
                nose: degrees(nose, "tilt in degrees", 60.0)?,
                left: degrees(left, "tilt in degrees", 60.0)?,
                over: time,
            }),
            ["tilt", ..] => usage("tilt NOSE LEFT [over SECONDS]"),
            ["spindle", "turn"] => Ok(Self::Spindle { over: time }),
            ["spindle", ..] => usage("spindle turn [over SECONDS]"),
            ["link", blade, turns] => {
                plain(Self::Link { blade: blade.parse()?, half_turns: half_turns(turns)? }, "link BLADE HALF_TURNS")
            }
            ["link", ..] => usage("link BLADE HALF_TURNS"),
            ["rod", which, turns] => {
                plain(Self::Rod { servo: servo(which)?, half_turns: half_turns(turns)? }, "rod SERVO HALF_TURNS")
            }
            ["rod", ..] => usage("rod SERVO HALF_TURNS"),
            ["arm", which, offset] => {
                let offset = degrees(offset, "arm offset in degrees", 40.0)?;
                plain(Self::Arm { servo: servo(which)?, offset }, "arm SERVO DEGREES")
            }
            ["arm", ..] => usage("arm SERVO DEGREES"),
            ["subtrim", which, to] => {
                let to = degrees(to, "sub-trim in degrees", 40.0)?;
                plain(Self::SubTrim { servo: servo(which)?, to }, "subtrim SERVO DEGREES")
            }
            ["subtrim", ..] => usage("subtrim SERVO DEGREES"),
            ["trim", stick, to] => {
                let to = Percent::new(number(to, "trim in %", -50.0, 50.0)?);
                plain(Self::Trim { stick: stick.parse()?, to }, "trim AXIS PERCENT")
            }
            ["trim", ..] => usage("trim AXIS PERCENT"),
            ["endpoint", axis, direction, to] => {
                let end = format!("{axis} {direction}").parse()?;
                let to = Percent::new(number(to, "end point in %", 0.0, 150.0)?);
                plain(Self::EndPoint { end, to }, "endpoint AXIS DIRECTION PERCENT")
            }
            ["endpoint", ..] => usage("endpoint AXIS DIRECTION PERCENT"),
            ["temperature", to] => {
                let to = Celsius::new(number(to, "temperature in °C", -60.0, 150.0)?);
                Ok(Self::Temperature { to, over: time })
            }
            ["temperature", ..] => usage("temperature DEGREES_CELSIUS [over SECONDS]"),
            ["unplug"] => plain(Self::Unplug, "unplug"),
            ["replug"] => plain(Self::Replug, "replug"),
            ["power", "cycle"] => plain(Self::PowerCycle, "power cycle"),
            ["damage", share] => {
                plain(Self::Damage(Percent::new(number(share, "share in %", 0.0, 100.0)?)), "damage PERCENT")
            }
            ["lose", lines] => plain(Self::Lose(count(lines)?), "lose LINES"),
            ["repeat", lines] => plain(Self::Repeat(count(lines)?), "repeat LINES"),
            ["garbage", bytes] => plain(Self::Garbage(count(bytes)?), "garbage BYTES"),
            ["damage" | "lose" | "repeat" | "garbage", ..] => usage("damage PERCENT, lose N, repeat N or garbage N"),
            ["truth"] => plain(Self::Truth, "truth"),
            ["wait", time] => plain(Self::Wait(Seconds::new(number(time, "time in s", 0.0, 3600.0)?)), "wait SECONDS"),
            ["wait", ..] => usage("wait SECONDS"),
            ["quit"] => plain(Self::Quit, "quit"),
            _ => Err(RigError::Command(line.trim().to_owned(), COMMANDS)),
        }
    }
}

/// Takes `over SECONDS` off the end of a line.
fn take_over(words: &mut Vec<&str>) -> Result<Option<Seconds>, RigError> {
    if let [.., "over", time] = words.as_slice() {
        let over = Seconds::new(number(time, "time in s", 0.0, 600.0)?);
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
            what: "an axis of the sensor",
            choices: "+x -x +y -y +z -z",
        })?),
        ["pose", roll, pitch] => Seat::Pose {
            roll_deg: number(roll, "attitude in degrees", -360.0, 360.0)?,
            pitch_deg: number(pitch, "attitude in degrees", -360.0, 360.0)?,
        },
        [blade] => Seat::Main(blade.parse()?),
        _ => return Ok(None),
    };
    Ok(Some((seat, mount)))
}

fn number(text: &str, what: &'static str, lowest: f64, highest: f64) -> Result<f64, RigError> {
    match text.replace('−', "-").trim_end_matches(['%', '°']).parse::<f64>() {
        Ok(value) if (lowest..=highest).contains(&value) => Ok(value),
        _ => Err(RigError::Number { given: text.to_owned(), what, lowest: lowest as i64, highest: highest as i64 }),
    }
}

fn degrees(text: &str, what: &'static str, most: f64) -> Result<Angle, RigError> {
    number(text, what, -most, most).map(Angle::from_degrees)
}

fn half_turns(text: &str) -> Result<f64, RigError> {
    number(text, "number of half-turns", -100.0, 100.0)
}

fn servo(text: &str) -> Result<usize, RigError> {
    match text {
        "1" => Ok(0),
        "2" => Ok(1),
        "3" => Ok(2),
        _ => Err(RigError::Word { given: text.to_owned(), what: "a servo", choices: "1 (nose) 2 (left) 3 (right)" }),
    }
}

fn count(text: &str) -> Result<u32, RigError> {
    number(text, "number of lines or bytes", 0.0, 100_000.0).and_then(|n| {
        if n.fract() == 0.0 {
            Ok(n as u32)
        } else {
            Err(RigError::Number { given: text.to_owned(), what: "whole number", lowest: 0, highest: 100_000 })
        }
    })
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
    fn a_wrong_line_is_answered_in_plain_words() {
        for wrong in [
            "stick elevator",
            "stick throttle 5",
            "stick elevator 101",
            "stick collective -1",
            "head",
            "clip",
            "clip Z",
            "tail left",
            "spindle",
            "spindle bend",
            "cable taut",
            "link A",
            "link A nan",
            "endpoint elevator left 90",
            "wait -1",
            "quit now",
            "quit over 3",
            "power",
            "",
            "lose 1.5",
            "stick elevator 1 over",
        ] {
            let error = wrong.parse::<Command>().unwrap_err().to_string();
            assert!(error.contains("write"), "{wrong}: {error}");
        }
    }
}
