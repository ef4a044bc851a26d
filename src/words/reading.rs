//! A steady reading: why there is none, and what came of it.

use super::{Face, one_line, with_uncertainty};
use clinoblade_filter::{Dropped, SteadyReading};
use clinoblade_record::Reading;
use clinoblade_rotor::{BladeName, LeadingEdge};
use clinoblade_stream::Counters;

/// Of all samples none can be used.
#[must_use]
pub fn nothing_usable(face: Face) -> String {
    let setting = if face == Face::Terminal { ", --profile and --counts-per-g" } else { " and profile" };
    format!(
        "No usable sample: all are saturated, out of range or not a number. Check the sensor's measuring range{setting}."
    )
}

/// Of all samples none could be used for as long as was to be waited.
#[must_use]
pub fn unusable(dropped: Dropped, face: Face) -> String {
    let kinds = [
        (dropped.saturated, "at the end of the sensor's range"),
        (dropped.out_of_range, "beyond the sensor's range"),
        (dropped.not_finite, "not a number"),
        (dropped.repeated, "no later than the one before"),
        (dropped.spikes, "far from their neighbours"),
    ];
    let found: Vec<String> =
        kinds.iter().filter(|(count, _)| *count > 0).map(|(count, kind)| format!("{count} {kind}")).collect();
    format!("No sample was usable in time ({}). {}", found.join(", "), nothing_usable(face))
}

/// The recording is over, or the sensor's line.
#[must_use]
pub fn stream_ended() -> String {
    "The stream has ended: there is nothing left to read.".to_owned()
}

/// A zero that holds at one place, and no place.
#[must_use]
pub fn place_not_named(face: Face) -> String {
    let how = if face == Face::Terminal { ", such as --blade A --station 90, or use --raw" } else { "" };
    format!("This zero holds for one place only. Name the blade and its station{how}.")
}

/// A blade that the rotor does not have.
#[must_use]
pub fn no_blade(head: &str, blade: BladeName, blades: u8) -> String {
    format!("{head} has no blade {blade}: that rotor has {blades} blades, from A on.")
}

/// The tail blade stands the other way than it was said.
#[must_use]
pub fn leading_edge(said: LeadingEdge, seen: LeadingEdge, face: Face) -> String {
    let or = if face == Face::Terminal { format!(" or write --leading-edge {seen}") } else { String::new() };
    format!(
        "The tail blade's leading edge points {seen}, not {said}. Is it the other blade, or is the clip the other way round? \
         Turn the tail rotor{or}."
    )
}

/// A capture whose samples hold no steady stretch by today's filter.
#[must_use]
pub fn not_steady_any_more() -> String {
    "No steady stretch found in its samples: the old reading stays.".to_owned()
}

/// An option that counts or measures something.
#[must_use]
pub fn above_zero(option: &str, example: f64) -> String {
    format!("{option} must be above zero, such as {example}.")
}

/// Where a blade's place is not said.
pub const PLACE_WANTED: &str = "Where is the blade? Add --station DEGREES, or --leading-edge up|down for a tail blade.";

/// An angle against gravity of a sensor by its nominal counts.
pub const NOT_CALIBRATED: &str =
    "The sensor is not calibrated, which is most of this uncertainty: `clinoblade sensor calibrate`.";

/// A reading that never came to rest, where it is recorded nowhere.
pub const NEVER_STILL: &str = "The blade was never still for long enough: this is only the best figure there is.";

/// The same where it was to be recorded.
#[must_use]
pub fn restless(best: &Reading) -> String {
    let best = value(best);
    format!(
        "Not recorded: the blade was never still for long enough (best: {best}). Hold the stick still and capture again."
    )
}

/// `+11.86° ± 0.09°`.
#[must_use]
pub fn value(reading: &Reading) -> String {
    with_uncertainty(reading.angle, reading.budget.expanded().expanded)
}

/// How far the samples that were read scatter: twice the standard uncertainty of their mean, degrees. No more is claimed.
#[must_use]
pub fn scatter(degrees: f64) -> String {
    format!("scatter {degrees:.3}°")
}

/// Against what a figure is read that is recorded nowhere: which calibration and which zero.
#[must_use]
pub fn against(calibration: Option<&str>, zero: &str, setup: Option<(u32, &str)>) -> String {
    let calibration =
        calibration.map_or_else(|| "not calibrated".to_owned(), |name| format!("calibration {}", one_line(name)));
    let of = setup.map_or_else(String::new, |(number, head)| format!(" of setup {number} ({})", one_line(head)));
    format!("Zero: {zero}{of}; {calibration}.")
}

/// A figure of the bare sensor.
pub const BARE: &str = "The bare sensor: no saved calibration and no zero.";

/// A count with its noun in the right number.
fn counted(count: u64, one: &str, many: &str) -> Option<String> {
    (count > 0).then(|| format!("{count} {}", if count == 1 { one } else { many }))
}

/// A line of which so many frames come damaged, of all; none where few do.
#[must_use]
pub fn bad_line(damaged: u64, good: u64) -> Option<String> {
    let all = damaged + good;
    (damaged >= FEWEST_DAMAGED && damaged * 10 >= all).then(|| {
        format!(
            "Warning: {damaged} of {all} frames came damaged ({:.0} %). Do not trust what is read over this line: check the cable, the plug \
             and the line speed.",
            100.0 * damaged as f64 / all as f64
        )
    })
}

/// So many damaged frames are more than one accident.
const FEWEST_DAMAGED: u64 = 10;

/// What to know of how a reading came about, a line each; what nobody acts on only where `more` is wanted.
#[must_use]
pub fn remarks(reading: &Reading, steady: &SteadyReading, counters: &Counters, more: bool) -> Vec<String> {
    let mut lines = Vec::new();
    if reading.steady {
        let lasted = (reading.finished_at - reading.settled_at).value();
        let of =
            format!(" ({} samples, as good as {:.0} independent ones)", reading.samples, reading.effective_samples);
        lines.push(format!("steady for {lasted:.1} s{}", if more { of.as_str() } else { "" }));
    } else {
        lines.push(NEVER_STILL.to_owned());
    }
    if let Some(line) = steady.vibration.filter(|_| more) {
        let amplitude = line.amplitude.degrees();
        lines.push(format!("vibration of {amplitude:.2}° at {:.1} removed", line.frequency));
    }
    let counts = [
        counted(reading.dropped_samples, "sample ignored (spike)", "samples ignored (spikes)"),
        counted(reading.damaged_frames, "frame damaged", "frames damaged"),
        counted(reading.lost_samples, "sample lost", "samples lost"),
        counted(counters.faults, "fault reported by the sensor", "faults reported by the sensor"),
        counted(counters.restarts, "restart of the sensor", "restarts of the sensor"),
    ];
    let counts: Vec<String> = counts.into_iter().flatten().collect();
    if !counts.is_empty() {
        lines.push(counts.join(", "));
    }
    if steady.stuck {
        lines.push(
            "The sensor sent the same value for a second. Unplug it and plug it in again, then read again.".to_owned(),
        );
    }
    if reading.observability < STEEP_SPAN {
        lines.push("The blade's span is steep, which hides its pitch. Bring it closer to level.".to_owned());
    }
    lines
}

/// Cosine of 30°: a span that is steeper makes the pitch clearly less certain.
const STEEP_SPAN: f64 = 0.866_025_403_784_438_6;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn why_there_is_no_reading_on_terminal_and_page() {
        let mut said = Vec::new();
        for face in [Face::Terminal, Face::Page] {
            said.push(nothing_usable(face));
            said.push(unusable(Dropped { saturated: 6000, spikes: 2, ..Dropped::default() }, face));
            said.push(place_not_named(face));
            said.push(leading_edge(LeadingEdge::Up, LeadingEdge::Down, face));
        }
        said.extend([
            stream_ended(),
            no_blade("Trainer", BladeName::A, 2),
            not_steady_any_more(),
            above_zero("--want", 0.05),
            PLACE_WANTED.to_owned(),
            NOT_CALIBRATED.to_owned(),
            NEVER_STILL.to_owned(),
            scatter(0.0123),
            against(Some("clip 2"), "reversal", Some((7, "Trainer"))),
            against(None, "gravity", None),
            BARE.to_owned(),
        ]);
        insta::assert_snapshot!(said.join("\n"));
    }
}
