//! The start of the page, its forms, and the state that `clinoblade` alone prints.

use super::one_line;
use clinoblade_record::{Adjustment, FieldFault};
use clinoblade_units::{Angle, MOST_BLADES};
use jiff::Timestamp;
use jiff::civil::Date;
use std::fmt::Display;

/// Nothing was ever kept.
pub const NO_LOGBOOK: &str = "Nothing is recorded yet. Describe a helicopter, then begin a setup.";
/// A blank where something is to be written.
pub const BLANK: &str = "Write something first.";
/// A session without a workshop.
pub const NO_SENSOR: &str = "No sensor is plugged in. Plug it in; it is found by itself.";
/// What stands where a sensor's name would.
pub const NO_SENSOR_NAME: &str = "no sensor";
/// A sensor that is there and not read.
pub const FOUND: &str = "Found. It is read as soon as a setup is on the bench.";
/// The simulated head's sensor.
pub const SIMULATED_SENSOR: &str = "Simulated: calibrated, and its zero set by a reversal.";
/// A re-seat study was made.
pub const SEAT_STUDIED: &str = "How well the clip seats is measured.";
/// A sensor of angles cannot be tumbled.
pub const ANGLES_ONLY: &str =
    "This sensor sends angles, no force, so it cannot be calibrated this way. Measure with it as it is.";
/// A calibration that could not be saved.
pub const NOT_KEPT: &str = "The calibration could not be saved as the default. Do it again.";
/// A document that was chosen on the page.
pub const THIS_FILE: &str = "This file";
/// The short form of the cautions.
pub const BEFORE_ANY_STICK: &str = "Before any stick moves: motor disconnected, electronics on a separate battery, blades and fingers clear, no servo held against a bind.";
/// A page that needs a setup on the bench, and there is none.
pub const NOTHING_ON_THE_BENCH: &str = "No setup is on the bench. Begin one or continue one from the start.";

/// What to do next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Todo {
    /// Describe a helicopter.
    NewHelicopter,
    /// Begin a setup.
    Begin,
    /// Go on with the open one.
    GoOn,
    /// Close it.
    Close,
    /// Plug the sensor in.
    Sensor,
}

/// The next step as the page's headline.
#[must_use]
pub fn next_on_page(todo: Todo, open: Option<u32>) -> String {
    let number = open.map_or_else(String::new, |number| format!(" {number}"));
    match todo {
        Todo::NewHelicopter => "Describe your helicopter, or try it with a simulated head.".to_owned(),
        Todo::Begin => "Clip the sensor to a blade and begin.".to_owned(),
        Todo::GoOn => format!("Setup{number} is open: continue it."),
        Todo::Close => format!("Setup{number} is captured: print its sheet and close it."),
        Todo::Sensor => format!("Setup{number} is open: plug the sensor in to continue it."),
    }
}

/// The next step with its whole command.
#[must_use]
pub fn next_in_terminal(todo: Todo) -> &'static str {
    match todo {
        Todo::NewHelicopter => {
            "Next: `clinoblade bench` opens the page, where you describe your helicopter. Or `clinoblade head new --name \"NAME\" --out head.toml`, or `clinoblade demo` without hardware."
        }
        Todo::Begin => "Next: `clinoblade bench` to begin on the page, or `clinoblade setup new --head FILE`.",
        Todo::GoOn => {
            "Next: `clinoblade bench` to continue it on the page, or `clinoblade check` to see what is missing."
        }
        Todo::Close => "Next: `clinoblade report --out sheet.html` to print its sheet, then `clinoblade setup close`.",
        Todo::Sensor => "Next: plug the sensor in, then `clinoblade bench`. `clinoblade ports` lists what is there.",
    }
}

/// One line of the state.
#[must_use]
pub fn state_line(name: &str, value: &str) -> String {
    format!("{name:<12} {value}")
}

/// The sensor in the state.
#[must_use]
pub fn sensor_line(source: Option<&str>, said: &str) -> String {
    source.map_or_else(|| said.to_owned(), |source| format!("{source}. {said}"))
}

/// The sensor where no session reads it.
#[must_use]
pub const fn found_in_terminal() -> &'static str {
    "Found."
}

/// How many setups a helicopter has.
#[must_use]
pub fn setups_of(name: &str, setups: usize) -> String {
    let name = one_line(name);
    match setups {
        0 => format!("{name}, no setup yet"),
        1 => format!("{name}, 1 setup"),
        many => format!("{name}, {many} setups"),
    }
}

/// The open setup in the state.
#[must_use]
pub fn open_setup(number: u32, head: &str, said: &str) -> String {
    format!("{number} of {head}. {said}")
}

/// No helicopter yet.
pub const NO_HELICOPTER: &str = "none described yet";
/// No setup is open.
pub const NONE_OPEN: &str = "none open";

/// A sensor that is read.
#[must_use]
pub fn reads(rate_hz: Option<f64>) -> String {
    rate_hz.map_or_else(|| "Reading.".to_owned(), |rate| format!("Reading, {rate:.0} a second."))
}

/// So many days ago.
fn ago(then: Timestamp, now: Timestamp) -> String {
    let days = now.duration_since(then).as_hours() / 24;
    match days {
        ..=0 => "today".to_owned(),
        1 => "yesterday".to_owned(),
        days => format!("{days} days ago"),
    }
}

/// Which calibration the default sensor has.
#[must_use]
pub fn calibrated(found: Option<(&str, Option<Date>)>, now: Timestamp) -> String {
    match found {
        None => "Not calibrated: travels are good, absolute angles are not.".to_owned(),
        Some((name, made_on)) => {
            let midnight = |date: Date| jiff::tz::TimeZone::UTC.to_timestamp(date.at(0, 0, 0, 0)).ok();
            let when = made_on.and_then(midnight).map_or_else(String::new, |then| format!(" {}", ago(then, now)));
            format!("Calibrated{when} ({}).", one_line(name))
        }
    }
}

/// When its zero was set.
#[must_use]
pub fn zero_set(at: Timestamp, now: Timestamp) -> String {
    format!("Zero set {}.", ago(at, now))
}

/// The next rest of a tumble.
#[must_use]
pub fn turn_it(facing: impl Display) -> String {
    format!("Lean the sensor with {facing} and let go.")
}

/// A calibration was made and kept; the standard uncertainties of a travel and of an angle.
#[must_use]
pub fn calibration_kept(u_travel: Angle, u_angle: Angle) -> String {
    format!(
        "Calibrated and saved. Travel {}, absolute angles {} until a reversal.",
        super::plus_minus(u_travel * 2.0),
        super::plus_minus(u_angle * 2.0)
    )
}

/// No helicopter of this name.
#[must_use]
pub fn no_helicopter(name: &str) -> String {
    format!("No helicopter is called \"{}\". Choose one on the start, or describe it.", one_line(name))
}

/// A setup that is open while another is to be begun.
#[must_use]
pub fn still_open(number: u32) -> String {
    format!("Setup {number} is still open. Continue it, or close it and begin the new one.")
}

/// A file that cannot be written.
#[must_use]
pub fn file(error: &std::io::Error) -> String {
    format!("The file cannot be written: {error}. Free some space or choose another place, then do it again.")
}

/// Fields of a form that cannot stand.
#[must_use]
pub fn form_refused(fields: usize) -> String {
    match fields {
        1 => "One field needs your attention; nothing is kept yet.".to_owned(),
        many => format!("{many} fields need your attention; nothing is kept yet."),
    }
}

/// Why a field cannot stand.
#[must_use]
pub fn field_fault(fault: &FieldFault) -> String {
    match fault {
        FieldFault::Blank => "Needed: nothing can be measured without it.".to_owned(),
        FieldFault::PlateNeedsIt => {
            "Needed with the other lengths of the swashplate; or leave them all blank.".to_owned()
        }
        FieldFault::NoNumber => "Write a number.".to_owned(),
        FieldFault::Refused { because } => super::sentence(because),
        FieldFault::Unknown => "There is no such field.".to_owned(),
    }
}

/// A field of the form: what it is called, what is asked, and what is usual or what blank means.
#[must_use]
pub fn field(key: &str) -> (&'static str, &'static str, String) {
    let usual = |text: &str| text.to_owned();
    match key {
        "name" => ("Name", "What you call the helicopter.", String::new()),
        "rotation" => ("Rotation", "Which way the main rotor turns, seen from above.", usual("Most turn clockwise.")),
        "blades" => (
            "Main blades",
            "How many. Blade A is the one the others are compared with.",
            format!("2 to {MOST_BLADES}, mostly 2."),
        ),
        "control_phase_deg" => (
            "Control phase",
            "Phase angle built into swashplate, pitch arms or mixing; positive where the blades answer later.",
            usual("0 on a plain head. Blank: 0."),
        ),
        "station_error_deg" => {
            ("Station error", "How far a blade may stand from its station without anyone noticing.", usual("Blank: 5."))
        }
        "link.pitch_arm_mm" => (
            "Pitch arm",
            "From the feathering axis to the ball on the pitch arm. Measure it.",
            usual("Mostly 10 to 25 mm."),
        ),
        "link.thread" => (
            "Link thread",
            "Thread of the pitch links.",
            usual("M2 on small heads, M2.5 on larger ones, M3 on very large ones."),
        ),
        "link.seats" => (
            "Link seats",
            "Half turn if the ball link snaps on from either face, full turn if it must face one way.",
            usual("Mostly half turn."),
        ),
        "link.turnbuckle" => (
            "Turnbuckle",
            "Whether the link has opposed threads and is turned without taking it off.",
            usual("Blank: no."),
        ),
        "link.lengthening" => (
            "A longer link",
            "What a longer link does to the pitch.",
            usual("Mostly raises. Blank: not known; advice then names no direction."),
        ),
        "link.square_at_deg" => {
            ("Arm square at", "The blade's pitch at which the arm is square to its link.", usual("Blank: 0."))
        }
        "swash.servo_radius_mm" => (
            "Servo balls",
            "From the shaft to the balls of the servos' links on the plate. The first servo is at the nose, the others 120° apart.",
            usual("Mostly 20 to 35 mm. Blank: advice for the swashplate names no servo."),
        ),
        "swash.link_radius_mm" => (
            "Pitch link balls",
            "From the shaft to the balls of the pitch links on the plate.",
            usual("Mostly 12 to 25 mm."),
        ),
        "swash.thread" => ("Servo link thread", "Thread of the servos' links.", usual("M2 or M2.5.")),
        "swash.horn_mm" => (
            "Servo horn",
            "From a servo's shaft to the ball on its horn.",
            usual("Mostly 12 to 18 mm. Blank: not known."),
        ),
        "swash.lead_deg" => {
            ("Link lead", "How far ahead of its blade a pitch link meets the plate.", usual("Blank: 90."))
        }
        "swash.seats" => {
            ("Servo link seats", "How finely the servos' links seat.", usual("Mostly half turn. Blank: not known."))
        }
        "swash.turnbuckle" => {
            ("Servo turnbuckle", "Whether the servos' links have opposed threads.", usual("Blank: no."))
        }
        "tail.blades" => ("Tail blades", "How many.", usual("Mostly 2.")),
        "tail.positive" => (
            "Tail pitch",
            "Which rudder direction gives positive pitch as read.",
            usual("Blank: found out while measuring."),
        ),
        "tail.servo" => {
            ("Tail servo", "Its number, if you record sub-trims and servo arms by number.", usual("Blank: none."))
        }
        _ => target(key),
    }
}

fn target(key: &str) -> (&'static str, &'static str, String) {
    let usual = |text: &str| format!("Blank: {text} (common practice).");
    let as_all = |of: &str| format!("Blank: as {of}.");
    match key {
        "targets.blade_zero" => ("Blade at mid stick", "Each blade's pitch at mid stick.", usual("0 ± 0.5")),
        "targets.track_split" => ("Track", "Pitch difference between blades at one station.", usual("at most 0.5")),
        "targets.cyclic" => ("Cyclic", "Travel each way.", usual("at most 12")),
        "targets.elevator_up" => ("Elevator up", "If it differs.", as_all("cyclic")),
        "targets.elevator_down" => ("Elevator down", "If it differs.", as_all("cyclic")),
        "targets.aileron_left" => ("Aileron left", "If it differs.", as_all("cyclic")),
        "targets.aileron_right" => ("Aileron right", "If it differs.", as_all("cyclic")),
        "targets.collective_low" => {
            ("Collective low", "Pitch at the low end, such as -10 ± 0.5.", "Blank: not measured.".to_owned())
        }
        "targets.collective_high" => {
            ("Collective high", "Pitch at the high end, such as 10 ± 0.5.", "Blank: not measured.".to_owned())
        }
        "targets.swash_level" => {
            ("Swashplate", "How far it may lean with the sticks at neutral.", usual("at most 0.3"))
        }
        "targets.tail" => ("Tail", "Travel each way.", usual("at most 45")),
        "targets.rudder_left" => ("Rudder left", "If it differs.", as_all("tail")),
        "targets.rudder_right" => ("Rudder right", "If it differs.", as_all("tail")),
        "targets.tail_neutral" => (
            "Tail neutral",
            "The tail's pitch with the stick let go, positive toward the side that holds the torque, such as 6 ± 1.",
            "Blank: not wanted.".to_owned(),
        ),
        "targets.tail_split" => ("Tail split", "Pitch difference between tail blades.", usual("at most 0.4")),
        "targets.slop" => ("Lost motion", "Of a blade.", usual("at most 0.3")),
        "targets.droop" => ("Droop", "Of a blade less that of blade A.", usual("at most 1")),
        "targets.spindle" => ("Spindle", "Its bend.", usual("at most 0.2")),
        _ => ("Cable", "What the hanging cable does to the reading.", usual("at most 0.1")),
    }
}

/// The same adjustment with a gap for its amount, as a person writes it.
#[must_use]
pub fn pattern(what: Adjustment) -> String {
    match what {
        Adjustment::Link { blade, .. } => format!("link {blade} {{}}"),
        Adjustment::SwashLink { servo, .. } => format!("swash link {servo} {{}}"),
        Adjustment::TailRod { .. } => "tail rod {}".to_owned(),
        Adjustment::ServoArm { servo, .. } => format!("servo arm {servo} {{}} teeth"),
        Adjustment::TailServoArm { .. } => "tail servo arm {} teeth".to_owned(),
        Adjustment::EndPoint { ends, .. } => format!("{ends} end point {{}} %"),
        Adjustment::SubTrim { servo, .. } => format!("sub-trim {servo} {{}} %"),
        Adjustment::TailSubTrim { .. } => "tail sub-trim {} %".to_owned(),
        Adjustment::CollectiveRange(_) => "collective range {} %".to_owned(),
        Adjustment::CyclicRange(_) => "cyclic range {} %".to_owned(),
        Adjustment::Trim { axis, .. } => format!("{axis} trim {{}} %"),
        done => done.to_string(),
    }
}

/// What can have been turned, as a choice.
#[must_use]
pub fn turnable(what: Adjustment) -> String {
    match what {
        Adjustment::Link { blade, .. } => format!("the link of blade {blade}"),
        Adjustment::SwashLink { servo, .. } => format!("the link of servo {servo} under the swashplate"),
        Adjustment::TailRod { .. } => "the rod to the tail slider".to_owned(),
        Adjustment::ServoArm { servo, .. } => format!("the arm of servo {servo} on its spline"),
        Adjustment::TailServoArm { .. } => "the tail servo's arm on its spline".to_owned(),
        Adjustment::EndPoint { ends, .. } => format!("the end point of {ends}"),
        Adjustment::SubTrim { servo, .. } => format!("the sub-trim of servo {servo}"),
        Adjustment::TailSubTrim { .. } => "the tail servo's sub-trim".to_owned(),
        Adjustment::CollectiveRange(_) => "the amount of collective".to_owned(),
        Adjustment::CyclicRange(_) => "the amount of cyclic".to_owned(),
        Adjustment::Trim { axis, .. } => format!("the {axis} trim"),
        Adjustment::Mixing => "something else in the mixing".to_owned(),
        Adjustment::Parts => "parts replaced".to_owned(),
        Adjustment::Crash => "it crashed or hit something".to_owned(),
        done => done.to_string(),
    }
}

/// What an adjustment would make stale.
#[must_use]
pub fn makes_stale(cells: &[String]) -> String {
    match cells {
        [] => "Nothing that is recorded depends on it.".to_owned(),
        [one] => format!("Out of date then: {one}."),
        several => format!("Out of date then: {}.", several.join(", ")),
    }
}

/// What was turned is recorded.
#[must_use]
pub fn turned(what: &[impl Display]) -> String {
    let what: Vec<String> = what.iter().map(ToString::to_string).collect();
    format!("Recorded: {}.", what.join("; "))
}

/// A sheet's headline: its verdict.
#[must_use]
pub fn headline(outside: usize, undecided: usize, missing: usize, good: bool) -> String {
    if good {
        return "Everything is within limits.".to_owned();
    }
    let count = |n: usize, what: &str| (n > 0).then(|| format!("{n} {what}"));
    let parts: Vec<String> = [count(outside, "outside"), count(undecided, "undecided"), count(missing, "missing")]
        .into_iter()
        .flatten()
        .collect();
    if parts.is_empty() { "All captured.".to_owned() } else { format!("{}.", super::sentence(&parts.join(", "))) }
}

/// The calls to action of a sheet.
pub mod sheet_bar {
    /// Back to the start.
    pub const START: &str = "Start";
    /// Prints it.
    pub const PRINT: &str = "Print";
    /// Saves the page.
    pub const SAVE_HTML: &str = "Save as HTML";
    /// Saves the text.
    pub const SAVE_TEXT: &str = "Save as text";
    /// Goes on with the setup.
    pub const GO_ON: &str = "Go on with this setup";
    /// Compares.
    pub const COMPARE: &str = "Compare with the setup before";
    /// Logbook.
    pub const LOGBOOK: &str = "Logbook";
    /// The pilot's card alone.
    pub const CARD: &str = "Pilot's card alone";
    /// Paper of another size.
    pub const A4: &str = "A4 paper";
    /// Paper of another size.
    pub const LETTER: &str = "US Letter paper";
    /// The whole sheet.
    pub const WHOLE: &str = "Whole sheet";
}

#[cfg(test)]
mod tests {
    use super::*;
    use clinoblade_record::fields;

    #[test]
    fn the_workshop() {
        let now: Timestamp = "2026-05-20T12:00:00Z".parse().unwrap();
        let mut lines: Vec<String> = vec![
            NO_LOGBOOK.into(),
            BLANK.into(),
            NO_SENSOR.into(),
            FOUND.into(),
            SIMULATED_SENSOR.into(),
            SEAT_STUDIED.into(),
            BEFORE_ANY_STICK.into(),
            NOTHING_ON_THE_BENCH.into(),
        ];
        for todo in [Todo::NewHelicopter, Todo::Begin, Todo::GoOn, Todo::Close, Todo::Sensor] {
            lines.push(next_on_page(todo, Some(3)));
            lines.push(next_in_terminal(todo).to_owned());
        }
        lines.push(state_line("sensor", &sensor_line(Some("/dev/ttyUSB0"), &reads(Some(200.2)))));
        lines.push(state_line("helicopter", &setups_of("Workshop trainer", 2)));
        lines.push(state_line("setup", &open_setup(3, "Workshop trainer", "4 of 11 done.")));
        lines.push(calibrated(None, now));
        lines.push(calibrated(Some(("clip one", Some(jiff::civil::date(2026, 5, 8)))), now));
        lines.push(zero_set("2026-05-20T08:00:00Z".parse().unwrap(), now));
        lines.push(zero_set("2026-05-19T08:00:00Z".parse().unwrap(), now));
        lines.push(no_helicopter("Club three-blade"));
        lines.push(still_open(3));
        lines.push(turn_it("+z up"));
        lines.push(calibration_kept(Angle::from_degrees(0.005), Angle::from_degrees(0.6)));
        lines.push(NOT_KEPT.into());
        lines.push(ANGLES_ONLY.into());
        lines.extend([1, 4].map(form_refused));
        for fault in [
            FieldFault::Blank,
            FieldFault::PlateNeedsIt,
            FieldFault::NoNumber,
            FieldFault::Refused { because: "0 mm: not 1 to 200 mm".into() },
            FieldFault::Unknown,
        ] {
            lines.push(field_fault(&fault));
        }
        for field in fields() {
            let (label, help, usual) = super::field(field.key);
            lines.push(format!("{label}: {help} {usual}"));
        }
        for what in [
            "link B +1",
            "swash link 2 +1",
            "tail rod +1",
            "servo arm 1 +1 tooth",
            "tail servo arm +1 tooth",
            "elevator up end point 95",
            "sub-trim 1 3",
            "tail sub-trim 3",
            "collective range 60",
            "cyclic range 80",
            "elevator trim 3",
            "mixing",
            "parts replaced",
            "crash",
            "spindle replaced",
        ] {
            let what: Adjustment = what.parse().unwrap();
            lines.push(format!("{} ({})", turnable(what), pattern(what)));
        }
        lines.push(makes_stale(&[]));
        lines.push(makes_stale(&["blade B zero".into()]));
        lines.push(makes_stale(&["blade B zero".into(), "track B - A".into()]));
        lines.push(turned(&["link B +1 half-turn"]));
        for (outside, undecided, missing, good) in
            [(0, 0, 0, true), (2, 1, 0, false), (0, 0, 3, false), (0, 0, 0, false)]
        {
            lines.push(headline(outside, undecided, missing, good));
        }
        insta::assert_snapshot!(lines.join("\n"));
    }

    #[test]
    fn an_amount_put_into_the_gap_is_read_as_the_adjustment() {
        for what in [
            "link B +1 half-turn",
            "servo arm 1 +2 teeth",
            "elevator up end point 95 %",
            "tail sub-trim -4 %",
            "cyclic range 80 %",
        ] {
            let adjustment: Adjustment = what.parse().unwrap();
            let amount = what
                .split(' ')
                .find(|word| word.parse::<f64>().is_ok() && !what.starts_with(&format!("servo arm {word}")))
                .unwrap();
            let written = pattern(adjustment).replace("{}", amount);
            assert_eq!(written.parse::<Adjustment>(), Ok(adjustment), "{written}");
        }
    }

    #[test]
    fn every_field_has_words_of_its_own() {
        let labels: Vec<&str> = fields().iter().map(|field| super::field(field.key).0).collect();
        for (at, label) in labels.iter().enumerate() {
            assert!(!labels[..at].contains(label), "{label}");
        }
    }
}
