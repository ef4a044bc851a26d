//! What the commands about the sensor say: `sensor`, `ports`, and the options that name a source.

use super::{Face, Say, one_line, plus_minus};
use clinoblade_rotor::{BladeName, Carrier};
use clinoblade_sensor::health::Health;
use clinoblade_sensor::orient::{Gesture, Orientation};
use clinoblade_sensor::poses::Facing;
use clinoblade_sensor::reseat::{FEWEST_SEATINGS, Reseat};
use clinoblade_sensor::verdict::Grade;
use clinoblade_sensor::{Calibration, FEWEST_POSES, JUDGED_POSES, Model};
use clinoblade_stream::identify::{Evidence, Identity, Seen, Verdict};
use clinoblade_stream::ports::{Parity, PortReport};
use clinoblade_stream::propose::{Doubt, Proposal};
use clinoblade_stream::{Format, Profile, Source, StreamError};
use clinoblade_units::Angle;
use std::path::Path;

/// Examples of `sensor check`.
pub const CHECK_HELP: &str = "\
Examples:
  clinoblade sensor check --port /dev/ttyUSB0              let the sensor lie on the bench meanwhile
  clinoblade sensor check --for 300 --plot allan.svg       five minutes show the floor
  clinoblade sensor check --replay rest.log --json

For the default sensor the floor is saved: later readings include it.";

/// Examples of `sensor calibrate tumble`.
pub const TUMBLE_HELP: &str = "\
Examples:
  clinoblade sensor calibrate tumble --out clip2.toml --port /dev/ttyUSB0
  clinoblade sensor calibrate tumble --out clip2.toml --name \"November\" --sensor \"clip 2\" --save-raw tumble.log
  clinoblade sensor calibrate tumble --out again.toml --replay tumble.log

Turn the sensor and let go: every pause is recorded automatically. Lean it against something that does not move, because a hand shakes. \
Six to eight rests give offsets and scales, for travels only; twelve also give the angles between the axes and show whether the result is \
right. A sensor that clips or bends is refused, and its axis named.";

/// Examples of `sensor calibrate faces`.
pub const FACES_HELP: &str = "\
Examples:
  clinoblade sensor calibrate faces --out clip2.toml --port /dev/ttyUSB0

Use a levelled surface: if it slopes, the slope goes into the calibration.";

/// Examples of `sensor orient`.
pub const ORIENT_HELP: &str = "\
Examples:
  clinoblade sensor orient --port /dev/ttyUSB0 --out clip2.toml
  clinoblade sensor orient --port /dev/ttyUSB0 --profile workshop.toml --out workshop-clip2.toml

Hold the clip three ways, in your hand or on a loose blade, each time still against something that does not move: as it sits on a level \
blade; with the leading edge raised by 30° to 60°; then, from level again, with the tip raised by 30° to 60°.";

/// Example of `sensor reseat`.
pub const RESEAT_HELP: &str = "\
Example:
  clinoblade sensor reseat --port /dev/ttyUSB0
  clinoblade sensor reseat --show                   what is saved; --forget forgets it

Leave the sticks and the helicopter alone throughout. Put the clip on blade A and let go. When it is read, take it off, turn it over in \
your hand and put it back. Then do the same on blade B, with the rotor turned half round. Every reading on a blade then includes what was \
found instead of the assumed 0.1°.";

/// Before a file is written that exists.
#[must_use]
pub fn already_there(path: &Path) -> String {
    format!("{} already exists and is not overwritten. Choose another --out.", path.display())
}

/// Where a file is, and how it is used: `option` is `--calibration` or `--profile`.
#[must_use]
pub fn saved(out: &Path, option: &str) -> String {
    let out = out.display();
    format!(
        "Saved as {out}. Use it with `{option} {out}`, or as the default: `clinoblade sensor default {option} {out}`."
    )
}

/// A result that is not written down.
#[must_use]
pub fn nothing_saved(why: &str) -> String {
    format!("{why} Nothing was saved.")
}

/// A number on the command line that must be more than zero.
#[must_use]
pub fn must_be_above_zero(option: &str, such_as: &str) -> String {
    format!("{option} must be above zero, such as {such_as}.")
}

/// While rests are waited for.
pub mod rests {
    use super::{Face, Say, StreamError};

    /// Nothing was turned for a long time.
    #[must_use]
    pub fn nobody_there() -> String {
        "Nobody turned the sensor and let go for five minutes. Nothing was saved. Start again when you are ready."
            .to_owned()
    }

    /// The cable came off.
    #[must_use]
    pub fn lost(error: &StreamError) -> String {
        format!("  {} What was recorded is kept; waiting for the sensor …", error.say(Face::Terminal))
    }

    /// It is back.
    #[must_use]
    pub fn back() -> String {
        "  The sensor is back: go on where you were.".to_owned()
    }
}

/// `sensor check`.
pub mod check {
    use super::{Face, Grade, Health, Say};

    /// Before the record.
    #[must_use]
    pub fn begin() -> String {
        "Let the sensor lie still, and do not touch the bench.".to_owned()
    }

    /// What the record shows.
    #[must_use]
    pub fn result(health: &Health, floor_saved: bool) -> String {
        let mark = |grade| match grade {
            Grade::Good => "  ",
            Grade::Usable => "! ",
            Grade::Poor => "X ",
        };
        let mut lines = vec![health.grade().say(Face::Terminal)];
        let findings = health.findings.iter();
        lines.extend(findings.map(|finding| format!("{}{}", mark(finding.grade), finding.say(Face::Terminal))));
        let density = &health.noise_density_g_rthz;
        lines.push(format!(
            "  Noise density {:.0}, {:.0}, {:.0} µg/√Hz along x, y, z; {:.4} °/√Hz in the angle.",
            1e6 * density.x,
            1e6 * density.y,
            1e6 * density.z,
            health.noise_density_deg_rthz
        ));
        if floor_saved {
            lines.push("  Floor saved: from now on readings of this sensor include it.".to_owned());
        }
        lines.join("\n")
    }
}

/// `sensor calibrate`.
pub mod calibrate;

/// `sensor orient`.
pub mod orient {
    use super::{Gesture, Orientation, Path, saved};

    /// How the sensor is to be held.
    #[must_use]
    pub fn ask(gesture: Gesture) -> String {
        match gesture {
            Gesture::AsClipped => "Hold it as it sits on a level blade, upper surface up, and keep it still.",
            Gesture::LeadingEdgeUp => "Now raise the leading edge by 30° to 60°, and keep it still.",
            Gesture::TipUp => "Back to level. Then raise the tip by 30° to 60°, and keep it still.",
        }
        .to_owned()
    }

    /// It was seen.
    #[must_use]
    pub fn taken(gesture: Gesture) -> String {
        format!("  Recorded: {gesture}.")
    }

    /// The stream ended before it was seen.
    #[must_use]
    pub fn ended(gesture: Gesture) -> String {
        format!("The stream ended before \"{gesture}\" was seen. Nothing was saved.")
    }

    /// How the sensor sits.
    #[must_use]
    pub fn result(found: &Orientation, out: &Path) -> String {
        let (chord, normal) = (found.axes.chord(), found.axes.normal());
        let turns = |way: &str| {
            format!(
                "It sits on a blade of a rotor that turns {way} (seen from above). If yours turns the other way, you raised the wrong edge."
            )
        };
        [
            format!("The sensor's {chord} points along the chord to the leading edge, its {normal} out of the upper surface."),
            match found.anticlockwise {
                Some(true) => turns("anticlockwise"),
                Some(false) => turns("clockwise"),
                None => "It shows one angle only, so the tip was not asked for.".to_owned(),
            },
            saved(out, "--profile"),
        ]
        .join("\n")
    }
}

/// `sensor reseat`.
pub mod reseat;

/// `sensor identify`.
pub mod identify;

/// What bytes say for a profile; stands within a sentence.
impl Say for Evidence {
    fn say(&self, _: Face) -> String {
        let gravity = if self.profile.is_angle_only() {
            "angles only".to_owned()
        } else if let Some(axis) = self.at_the_end {
            format!("axis {axis} stands at the end of its range, so gravity is not seen")
        } else if self.gravity.value() == 0.0 {
            "it sends 0, 0, 0 and measures nothing".to_owned()
        } else {
            format!("gravity reads {:.3} g", self.gravity.value())
        };
        let rate = self.rate.map_or(String::new(), |rate| format!(", {:.1} samples a second", rate.value()));
        let share = 100.0 * self.share;
        format!(
            "{}: {} good frames, {share:.1} % of what came, {gravity}{rate}",
            one_line(self.profile.name()),
            self.good
        )
    }
}

/// `sensor profile new`.
pub mod profile_new {
    use super::{Doubt, Face, Format, Path, Proposal, Say, saved};

    /// How many names `--xyz` takes.
    #[must_use]
    pub fn three_places() -> String {
        "--xyz names three columns, labels or bytes, such as --xyz 2,3,4.".to_owned()
    }

    /// An answer that is no number.
    #[must_use]
    pub fn no_number(answer: &str) -> String {
        format!("'{answer}' is not a number.")
    }

    /// What was found so far, with a value of each place.
    #[must_use]
    pub fn found(proposal: &Proposal) -> String {
        let places: Vec<String> = proposal.places.iter().map(|(name, value)| format!("{name}: {value}")).collect();
        let whole = if matches!(proposal.profile.format(), Format::Frame(_)) { "A frame" } else { "A line" };
        format!("{whole} reads  {}", places.join("   "))
    }

    /// Which places are the axes?
    #[must_use]
    pub fn ask_axes(found: &[String; 3]) -> String {
        format!("Which are x, y, z? [{}]", found.join(","))
    }

    /// What are the numbers in?
    #[must_use]
    pub fn ask_counts(found: f64) -> String {
        format!("How many counts make one g? (1 in g, 1000 in mg, 9.80665 in m/s²) [{found}]")
    }

    /// The profile does not read what was heard.
    #[must_use]
    pub fn does_not_fit(good: u64, all: u64) -> String {
        format!(
            "With this description only {good} of {all} frames are good, so nothing was saved. Name the columns: --xyz 2,3,4."
        )
    }

    /// The profile, and how well it reads what was heard.
    #[must_use]
    pub fn result(text: &str, good: u64, damaged: u64, gravity_fits: bool, doubts: &[Doubt], out: &Path) -> String {
        let mut lines = vec![text.trim_end().to_owned(), String::new()];
        lines.push(format!("It reads {good} frames of what was heard; {damaged} were damaged."));
        lines.extend(doubts.iter().map(|doubt| doubt.say(Face::Terminal)));
        if !gravity_fits {
            lines.push(
                "Gravity is not 1 g with it. If the sensor was at rest, say what the numbers are in (--unit or --counts-per-g) and which are \
                 x, y and z (--xyz)."
                    .to_owned(),
            );
        }
        lines.push(saved(out, "--profile"));
        lines.push(format!(
            "Then find out how it sits in its clip: `clinoblade sensor orient --profile {} --out NAME.toml`.",
            out.display()
        ));
        lines.join("\n")
    }
}

/// Examples of `sensor identify`.
pub const IDENTIFY_HELP: &str = "\
Examples:
  clinoblade sensor identify --port /dev/ttyUSB0
  clinoblade sensor identify --port /dev/ttyUSB0 --baud 57600 --profile workshop.toml
  clinoblade sensor identify --replay unknown.log

Let the sensor lie still meanwhile: gravity is part of the evidence. A sensor that does not send by itself is asked as a Modbus slave, as \
the built-in profile and those you name would ask it.";

/// Examples of `sensor profile new`.
pub const PROFILE_NEW_HELP: &str = "\
Examples:
  clinoblade sensor profile new --port /dev/ttyUSB0 --out workshop.toml
  clinoblade sensor profile new --port /dev/ttyUSB0 --baud 57600 --out workshop.toml --xyz 2,3,4 --time 1 --time-unit ms --unit mg
  clinoblade sensor profile new --port /dev/ttyUSB0 --baud 230400 --out board.toml --xyz 8,10,12 --time 4 --time-unit us
  clinoblade sensor profile new --replay unknown.log --out workshop.toml --chord=-y --normal=+z

Let the sensor lie still meanwhile: gravity shows the unit. At a terminal it asks what you did not say.";

/// Examples of `sensor default`.
pub const DEFAULT_HELP: &str = "\
Examples:
  clinoblade sensor default --port /dev/ttyUSB0 --profile sentence --calibration workshop.toml
  clinoblade sensor default            shows what is saved
  clinoblade sensor default --forget";

/// A number on the command line out of its range.
#[must_use]
pub fn must_be_within(option: &str, range: &str, such_as: &str) -> String {
    format!("{option} must be {range}, such as {such_as}.")
}

/// The default sensor.
#[must_use]
pub fn default_sensor(source: Option<&Source>, profile: Option<&str>, calibration: Option<&str>) -> String {
    if source.is_none() && profile.is_none() && calibration.is_none() {
        return "No default sensor. Set it: `clinoblade sensor default --port DEVICE`".to_owned();
    }
    let source = source.map_or_else(|| "none".to_owned(), ToString::to_string);
    let (profile, calibration) = (profile.unwrap_or("none"), calibration.unwrap_or("none"));
    format!("source       {source}\nprofile      {profile}\ncalibration  {calibration}")
}

/// A built-in profile in the list of them.
#[must_use]
pub fn profile(profile: &Profile) -> String {
    let counts = if profile.is_angle_only() {
        "angles in degrees".to_owned()
    } else {
        format!("{} counts per g", profile.counts_per_g())
    };
    let asked = if profile.request().is_some() { ", polled" } else { "" };
    let line = format!(
        "{:<10} {counts}, {} baud{asked}, chord {}, normal {}",
        one_line(profile.name()),
        profile.baud(),
        profile.axes().chord(),
        profile.axes().normal()
    );
    let limits = profile.limits().iter().map(|limit| format!("\n           {}", limit.say(Face::Terminal)));
    line + &limits.collect::<String>()
}

/// The serial ports that are present, one a line.
#[must_use]
pub fn ports(found: &[(&PortReport, bool)]) -> String {
    if found.is_empty() {
        return "No serial port is present. Plug the sensor in, or name a pseudo-terminal or another device with --port.".to_owned();
    }
    let line = |(port, silent): &(&PortReport, bool)| {
        format!("{}{}", port.say(Face::Terminal), if *silent { ": silent, nothing comes from it" } else { "" })
    };
    found.iter().map(line).collect::<Vec<_>>().join("\n")
}

/// The options that name a source.
pub mod source {
    use super::{BladeName, Carrier, Path};

    /// Several sensors where one is read.
    #[must_use]
    pub fn one_sensor_only() -> String {
        "Several sensors are named, and this command reads one. Name only its --port.".to_owned()
    }

    /// No sensor on this blade.
    #[must_use]
    pub fn none_on(carrier: Carrier) -> String {
        format!("No sensor is named for {}. Add --port {carrier}=DEVICE.", carrier.said())
    }

    /// A blade that the helicopter does not have.
    #[must_use]
    pub fn no_blade(head: &str, blade: BladeName, blades: impl std::fmt::Display) -> String {
        format!("{head} has no blade {blade}: it has {blades}.")
    }

    /// The saved calibration is used.
    #[must_use]
    pub fn saved_calibration(path: &Path) -> String {
        format!("Using the saved calibration {}.", path.display())
    }

    /// The saved calibration is another sensor's.
    #[must_use]
    pub fn no_calibration(path: &Path) -> String {
        format!(
            "No calibration is used: {} belongs to the default sensor. Name this sensor's own with --calibration.",
            path.display()
        )
    }

    /// The simulated head, as the name of a source.
    #[must_use]
    pub fn simulated(path: &Path) -> String {
        format!("the simulated head of {}", path.display())
    }

    /// Several ports, and not all say for which blade.
    #[must_use]
    pub fn whose_port() -> String {
        "Several ports are named. Say which blade carries which sensor, as in --port a=/dev/ttyUSB0 --port b=/dev/ttyUSB1 \
         --port tail=/dev/ttyUSB2."
            .to_owned()
    }

    /// Two ports for one blade.
    #[must_use]
    pub fn two_ports(carrier: Carrier) -> String {
        format!("Two ports are named for {}. One sensor to a blade.", carrier.said())
    }

    /// One port for two blades.
    #[must_use]
    pub fn one_port_twice(port: &str) -> String {
        format!("{port} is named for two blades. Each needs its own sensor.")
    }

    /// One value for two sensors.
    #[must_use]
    pub fn one_value_twice(option: &str, value: &str) -> String {
        format!("{option} {value} is named for two sensors. Each has its own.")
    }

    /// Two values for one sensor.
    #[must_use]
    pub fn two_values(option: &str, carrier: Option<Carrier>) -> String {
        let whose = carrier.map_or_else(String::new, |carrier| format!(" for {}", carrier.said()));
        format!("{option} is given twice{whose}. Name one.")
    }

    /// A value for a blade without a sensor.
    #[must_use]
    pub fn no_port_for(option: &str, carrier: Carrier) -> String {
        format!("{option} {carrier}=… is for a sensor on {}, but no --port {carrier}=DEVICE is named.", carrier.said())
    }

    /// A value for all where each sensor has its own.
    #[must_use]
    pub fn whose_value(option: &str, value: &str) -> String {
        format!("Each sensor has its own {option}. Say whose it is, as in {option} a={value}.")
    }
}
