//! What the demo of the whole job prints while it plays.

use clinoblade_record::Subject;
use clinoblade_stream::Source;
use clinoblade_units::Angle;

/// Why the demo's setup was begun.
pub const REASON: &str = "demo of the whole job";

/// How far a line is indented that belongs to the step above it.
const INDENT: &str = "       ";

/// What is played, and how its sensor is read.
#[must_use]
pub fn opening(source: &Source) -> String {
    let through = if matches!(source, Source::Tcp(_)) { "over TCP from" } else { "through the pseudo-terminal" };
    format!(
        "The whole job on a simulated helicopter. Its sensor sends {through}\n{source}; this program knows nothing else of \
         it.\n\nBefore the first stick moves, at a real bench:"
    )
}

/// The number and the title of a step.
#[must_use]
pub fn step(number: usize, of: usize, title: &str) -> String {
    format!("{number:>2}/{of}  {title}")
}

/// A line that belongs to the step above it.
#[must_use]
pub fn detail(line: &str) -> String {
    format!("{INDENT}{line}")
}

/// How the next step is begun.
#[must_use]
pub fn enter() -> String {
    detail("Enter: the simulated hands do it.")
}

/// The shaft is made upright.
pub const UPRIGHT: &str = "Shim the skids until the shaft stands upright.";

/// A link is turned.
pub const LINK: &str = "Blade B stands too high: its link is shortened by two half-turns.";

/// Every servo of the swashplate is trimmed.
pub const SUB_TRIM: &str = "Both blades stand equally high: all three servos get a little sub-trim.";

/// The end of the job.
pub const LET_GO: &str = "Let every stick go back.";

/// The sensor's calibration.
#[must_use]
pub fn calibrate(poses: usize) -> String {
    format!("Calibrate: the sensor rests in {poses} poses.")
}

/// The calibration's residual, in thousandths of a g.
#[must_use]
pub fn residual(mg: f64) -> String {
    detail(&format!("residual {mg:.2} mg"))
}

/// The zero of the sensor.
pub const REVERSAL: &str = "Zero: the sensor lies on the table, then is turned end for end.";

/// What the reversal has shown.
#[must_use]
pub fn own_error(error: Angle) -> String {
    detail(&format!("the sensor's own error is {error}; from now on it is removed"))
}

/// A capture, or the same once more.
#[must_use]
pub fn capture(subject: &Subject, again: bool) -> String {
    if again { format!("{subject}: read it again.") } else { format!("{subject}: hold the stick still.") }
}

/// An end point is lowered for a bind.
#[must_use]
pub fn lower(end: &str) -> String {
    format!("Full stick would bind: lower the end point of {end}, then read full stick.")
}

/// A servo pushes against a stop.
#[must_use]
pub fn buzzes() -> String {
    detail("it buzzes: back off until it is quiet, and capture just short of it")
}

/// The record, the truth beside it, and how many values lie within their uncertainty.
#[must_use]
pub fn beside_the_truth(record: &str, truth: &str, (within, of): (usize, usize), seconds: f64) -> String {
    format!(
        "\n{record}\nBeside the truth, which only the simulation knows:\n{truth}\n{within} of {of} values lie within their \
         uncertainty. {seconds:.0} s."
    )
}

/// Asked to end too early.
pub const ENDED: &str = "The demo was ended before the job was done: nothing of it is kept.";

/// The input ended too early.
pub const INPUT_ENDED: &str = "The input ended before the job did. To run without it, add --autoplay.";

/// A simulated blade that moved all the time.
pub const RESTLESS: &str = "Nothing was recorded: the simulated blade was never still.";

/// A simulated sensor that moved all the time.
pub const NO_REST: &str = "The simulated sensor never came to rest.";

#[cfg(test)]
mod tests {
    use super::*;
    use clinoblade_rotor::{Axis, BladeName, Deflection, Spot, Station};

    #[test]
    fn the_demo_from_its_opening_to_its_end() {
        let up = Deflection::new(Axis::Elevator, "up").unwrap();
        let spot = Spot::Main(Station::from_degrees(90.0).unwrap());
        let subject = Subject::new(up, BladeName::A, spot).unwrap();
        let titles = [UPRIGHT, LINK, SUB_TRIM, REVERSAL, LET_GO].map(str::to_owned);
        let titles = titles.into_iter().chain([
            calibrate(12),
            capture(&subject, false),
            capture(&subject, true),
            lower("elevator down"),
        ]);
        let sources = [Source::Port("/dev/pts/3".to_owned()), Source::Tcp("127.0.0.1:40221".to_owned())];
        let mut said = vec![REASON.to_owned()];
        said.extend(sources.iter().map(opening));
        said.extend(titles.enumerate().map(|(number, title)| step(number + 1, 9, &title)));
        said.extend([enter(), residual(0.123), own_error(Angle::from_degrees(1.03)), buzzes()]);
        said.push(beside_the_truth("(the record)", "(the truth)", (12, 13), 61.4));
        said.extend([ENDED, INPUT_ENDED, RESTLESS, NO_REST].map(str::to_owned));
        insta::assert_snapshot!(said.join("\n"));
    }
}
