//! The simulated head: what is wrong with a scenario or a command.

use super::{Face, Say};
use clinoblade_rig::{Command, RigError};
use std::path::Path;

impl Say for RigError {
    fn say(&self, _: Face) -> String {
        match self {
            Self::Scenario(why) => format!("The scenario cannot be read: {}", why.trim_end()),
            Self::Value { field, given, lowest, highest } => {
                format!("{field} is {given} in the scenario: write {}.", range(*lowest, *highest))
            }
            Self::TooLong { field, given, blades } => {
                format!("blades.{field} has {given} values in the scenario, but the rotor has {blades} blades.")
            }
            Self::TooSlow { baud, needed } => format!(
                "stream.baud is {baud} in the scenario: too slow for stream.rate_hz. Write {needed:.0} or more, or a lower rate."
            ),
            Self::Timeline { at, reason } => {
                format!("In the scenario's timeline at {at}: {}", reason.say(Face::Terminal))
            }
            Self::Command(given) => {
                format!("'{given}' is not a command. Write {}.", any_of(&Command::names().collect::<Vec<_>>()))
            }
            Self::Form { given, form } => format!("'{given}' is incomplete or says too much. Write: {form}"),
            Self::Word { given, what, known } => format!("'{given}' is not a {what}. Write {}.", any_of(known)),
            Self::Number { given, what, lowest, highest } => {
                format!("'{given}' is out of range or not a number ({what}). Write {}.", range(*lowest, *highest))
            }
            Self::NoSuchBlade { blade, blades } => format!("There is no blade {blade}: this rotor has {blades}."),
            Self::NotOnTail => "The clip is not on a tail blade. First write: clip tail A".to_owned(),
        }
    }
}

fn any_of(words: &[&str]) -> String {
    match words {
        [all @ .., last] if !all.is_empty() => format!("{} or {last}", all.join(", ")),
        // Letters in a row.
        all => format!("one of {}", all.join("")),
    }
}

fn range(lowest: f64, highest: f64) -> String {
    match (lowest, highest) {
        (f64::MIN, f64::MAX) => "a number".to_owned(),
        (..1e-6, _) if lowest > 0.0 => format!("a number above 0, at most {highest}"),
        (_, 1e6..) => format!("{lowest} or more"),
        _ => format!("{lowest} to {highest}"),
    }
}

/// The simulated head has ended by itself.
#[must_use]
pub fn ended() -> String {
    "The simulated head has ended. Start it again: `clinoblade rig`.".to_owned()
}

/// No port could be opened for it.
#[must_use]
pub fn no_port(why: &std::io::Error) -> String {
    format!("No port for the simulated head: {why}")
}

/// A system without pseudo-terminals.
#[must_use]
pub fn no_terminals() -> String {
    "This system has no pseudo-terminals. Use TCP: `clinoblade rig --tcp 127.0.0.1:0`".to_owned()
}

/// Something else has the name that a link was to get.
#[must_use]
pub fn not_a_link(path: &Path) -> String {
    format!("{} exists and is not a link. Name another with --link.", path.display())
}

/// The commands and examples in the help of `rig`.
pub const HELP: &str = "\
Commands, one a line (AXIS: elevator, aileron, rudder, collective; times in seconds; 'over' may be left out):
  stick AXIS PERCENT over 1.5      -100 to 100, collective 0 to 100
  head DEGREES over 2              turn the head: blade A to this station, from the boom in the direction of rotation
  clip B reversed over 2           seat the clip on a main blade, 'tail A', 'table', 'face +x' or 'pose ROLL PITCH'
  tail up                          turn the tail hub: leading edge of the blade with the clip up or down
  cable lifted over 1              lift the cable off the clip, or let it hang: cable slack
  tilt NOSE LEFT over 2            lean the model
  spindle turn over 2              turn the spindle half round in its grips, the clip where it sits
  spindle 90 over 2                turn it to a quarter from where it sat first (0, 90, 180, 270)
  link B -1                        turn blade B's pitch link by half-turns; plus lengthens it
  rod 2 1, arm 2 5, subtrim 2 1    a swashplate servo (1 nose, 2 left, 3 right): rod half-turns, arm and sub-trim degrees
  endpoint elevator up 95          output at full stick, percent
  trim aileron 2                   trim, percent
  temperature 31 over 60           degrees Celsius
  unplug, replug, power cycle      the sensor's cable
  damage 2, lose 5, repeat 3, garbage 40     percent of lines from now on; next lines; bytes
  truth                            how everything really stands
  wait 2                           answer, and take the next command, 2 s later
  quit

Examples:
  clinoblade rig examples/scenario.toml --link /tmp/sensor
  clinoblade rig --tcp 127.0.0.1:7000
  clinoblade rig --profile modbus --link /tmp/sensor
  printf 'stick elevator 100\\ntruth\\nquit\\n' | clinoblade rig examples/scenario.toml";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_the_simulated_head_refuses() {
        let value = |field, given, lowest, highest| RigError::Value { field, given, lowest, highest };
        let number =
            |given: &str, what, lowest, highest| RigError::Number { given: given.to_owned(), what, lowest, highest };
        let blade =
            || "C".parse().map(|blade| RigError::NoSuchBlade { blade, blades: 2 }).unwrap_or(RigError::NotOnTail);
        let all = [
            RigError::Scenario("unknown field `colour`\n".to_owned()),
            value("head.blades", 7.0, 2.0, 5.0),
            value("head.pitch_arm_mm", 0.0, 1e-9, 1000.0),
            value("sensor.counts_per_g", f64::NAN, 1.0, 1e9),
            value("timeline.at_s", f64::INFINITY, f64::MIN, f64::MAX),
            RigError::TooLong { field: "droop_deg", given: 3, blades: 2 },
            RigError::TooSlow { baud: 9600, needed: 48_000.0 },
            RigError::Timeline { at: clinoblade_units::Seconds::new(1.0), reason: Box::new(blade()) },
            RigError::Command("dance".to_owned()),
            RigError::Form { given: "link A".to_owned(), form: "link BLADE HALF_TURNS" },
            RigError::Word { given: "throttle".to_owned(), what: "stick", known: &["elevator", "aileron"] },
            number("101", "percent", -100.0, 100.0),
            number("1.5", "whole number", 0.0, 100_000.0),
            blade(),
            RigError::NotOnTail,
        ];
        let mut said: Vec<String> = all.iter().map(|error| error.say(Face::Terminal)).collect();
        said.extend([
            ended(),
            no_port(&std::io::ErrorKind::AddrInUse.into()),
            no_terminals(),
            not_a_link(Path::new("/tmp/sensor")),
        ]);
        insta::assert_snapshot!(said.join("\n"));
    }
}
