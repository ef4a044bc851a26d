//! Axes, stations, zeros, tail, track, phase and tables of readings in words.

use super::{Face, Say, angle, size, with_uncertainty};
use clinoblade_rotor::{
    Axis, AxisPhase, BladeName, Cause, Clip, Contradiction, DatumError, Estimate, FieldProblem, LeadingEdge,
    ParseDeflectionError, PhaseCause, PhaseError, PhaseFinding, PhasePair, PlaceError, ReadingsError, RotorReading,
    RotorSolution, SolutionError, SpanTooSteep, Spot, Suggestion, TailError, TrackError, Unknown,
};
use clinoblade_units::Angle;

/// The readings are from before the model was moved.
pub const MOVED_SINCE: &str = "The model was moved, or the sensor changed, since these captures: collectives, droop and the swashplate stay, \
                               the lean of the shaft is another one now.";

/// Examples of `rotor`.
pub const ROTOR_HELP: &str = "\
Examples:
  clinoblade rotor                                   from the captures of the open setup, all sticks centred
  clinoblade rotor --at \"collective high\" --plot rotor.svg
  clinoblade rotor --readings round.csv --rotation clockwise --json
  clinoblade rotor --phase                           where round the turn elevator and aileron act

A table has the columns blade, station_deg, clip, apparent_deg, span_deg, and may have u_apparent_deg, u_span_deg and u_station_deg; above its \
header it may say '# rotation=clockwise'. Uncertainties that are both empty or both 0 are not known; then leave them all out. The \
helicopter need not stand level: four stations a quarter turn apart, or three a third apart, tell the lean of the shaft from the \
tilt of the swashplate.";

/// Where a blade stands: `at station 90°`, `with the leading edge up`.
#[must_use]
pub fn at(spot: Spot) -> String {
    match spot {
        Spot::Main(station) => format!("at station {station}"),
        Spot::Tail(edge) => format!("with the leading edge {edge}"),
    }
}

/// The directions of an axis.
const fn directions(axis: Axis) -> &'static str {
    match axis {
        Axis::Elevator => "up, down and neutral",
        Axis::Aileron | Axis::Rudder => "left, right and neutral",
        Axis::Collective => "low, mid, high and stick positions from 0% to 100%",
        Axis::Corner => "low, mid or high, then up, down, left, right or two of them (\"high up-right\")",
    }
}

impl Say for ParseDeflectionError {
    fn say(&self, _: Face) -> String {
        match self {
            Self::Axis(text) => {
                format!("'{text}' is not an axis: write elevator, aileron, rudder, collective or corner")
            }
            Self::Direction { axis, direction } => format!("{axis} has {}, not '{direction}'", directions(*axis)),
        }
    }
}

impl Say for PlaceError {
    fn say(&self, _: Face) -> String {
        match self {
            Self::Station(text) => format!(
                "'{text}' is not a station: write degrees from the tail boom in the direction of rotation, such as 90"
            ),
            Self::Blade(text) => {
                let last = BladeName::from_index(BladeName::MOST - 1).unwrap_or(BladeName::A);
                format!("'{text}' is not a blade: write a letter from A (the reference blade) to {last}")
            }
            Self::Word { given, choices } => format!("'{given}' is not one of {choices}"),
        }
    }
}

impl Say for DatumError {
    fn say(&self, face: Face) -> String {
        match self {
            Self::Heading { heading, away } => format!(
                "The zero was set along station {heading}, and the sensor now points {:.0}° away from it, where the surface \
                 slopes differently. Set the zero along this heading, or first {}.",
                away.degrees(),
                face.command("run `clinoblade datum reversal`", "set it by reversal")
            ),
            Self::OtherPlace(place) => format!(
                "The neutral was read on blade {} {} with the clip {}. A travel needs the same blade at the same place with \
                 the clip untouched: read the neutral here too.",
                place.blade,
                at(place.spot),
                place.clip
            ),
            Self::NotForTail => format!(
                "This zero was set for the main rotor and does not hold on the tail. {}, then capture with the leading edge \
                 up and with it down.",
                face.command(
                    "Use `clinoblade datum reversal` or `clinoblade datum gravity`",
                    "Set the zero by reversal or by gravity"
                )
            ),
            Self::NotReversed(own) => format!(
                "The two readings put the sensor's own error at {}. Turn the sensor end for end on the same spot between \
                 them, so that it points the other way.",
                angle(*own, 0)
            ),
        }
    }
}

impl Say for SpanTooSteep {
    fn say(&self, _: Face) -> String {
        format!(
            "The blade's span slopes by {}: gravity shows pitch up to a slope of 60° only. Bring the blade closer to level.",
            angle(self.span_slope, 0)
        )
    }
}

impl Say for TailError {
    fn say(&self, face: Face) -> String {
        match self {
            Self::Span(steep) => {
                format!("{} On the tail, turn the leading edge straight up or straight down.", steep.say(face))
            }
            Self::ChordLevel => {
                "The tail blade's chord lies level, so its leading edge points neither up nor down. Turn the \
                                 tail rotor until the span is level and the leading edge is up or down."
                    .to_owned()
            }
            Self::SamePosition(edge) => {
                let other = match edge {
                    LeadingEdge::Up => LeadingEdge::Down,
                    LeadingEdge::Down => LeadingEdge::Up,
                };
                format!(
                    "Both readings are with the leading edge {edge}. Turn the tail rotor half round and read {other} too."
                )
            }
        }
    }
}

impl Say for TrackError {
    fn say(&self, _: Face) -> String {
        match self {
            Self::OneBlade => "Track compares blades: read at least two of them at the same station.".to_owned(),
            Self::Places { first, first_spot, second, second_spot } => format!(
                "Blade {first} was read {} and blade {second} {}. The lean of the shaft and the tilt of the swashplate differ \
                 between these places, so the difference is not the track. Turn the head and read both at the same place.",
                at(*first_spot),
                at(*second_spot)
            ),
            Self::Clips => {
                "Some readings have the clip forward and some reversed, so the clip's own offset would look like \
                            track. Put the clip on the same way round for all of them."
                    .to_owned()
            }
        }
    }
}

impl Say for SolutionError {
    fn say(&self, _: Face) -> String {
        match self {
            Self::NoReadings => "There are no readings. Read each blade at 0°, 90°, 180° and 270°.".to_owned(),
            Self::NotFinite(reading) => format!("Reading {reading} holds a value that is not a number."),
            Self::MixedUncertainty => {
                "Some readings have a standard uncertainty and some have none. Give it for all of them \
                                       or for none."
                    .to_owned()
            }
            Self::Uncertainty(reading) => {
                format!("The standard uncertainty of reading {reading} is not above zero.")
            }
            Self::Unsettled => {
                "The readings do not fit any rotor. Is a station misread, the clip turned, or the direction of \
                                rotation wrong?"
                    .to_owned()
            }
        }
    }
}

const COLUMNS: &str = "blade, station_deg, clip, apparent_deg and span_deg";
const MORE_COLUMNS: &str = "u_apparent_deg, u_span_deg and u_station_deg";

impl Say for ReadingsError {
    fn say(&self, face: Face) -> String {
        match self {
            Self::NoRotation => {
                "which way does the rotor turn? Write '# rotation=clockwise' or '# rotation=anticlockwise' \
                                 above the header"
                    .to_owned()
            }
            Self::TwoRotations { table, asked } => {
                format!("the table says the rotor turns {table}, the command says {asked}: which is right?")
            }
            Self::NoHeader => format!("the table is empty: its first line must name the columns {COLUMNS}"),
            Self::Header { line, problem } => format!("line {line}: {}", problem.say(face)),
            Self::MissingColumn(name) => {
                format!("the table has no column '{name}': its header must name {COLUMNS}, and may name {MORE_COLUMNS}")
            }
            Self::UnknownColumn(name) => {
                format!("'{name}' is not a column of a readings table: it has {COLUMNS}, and may have {MORE_COLUMNS}")
            }
            Self::RepeatedColumn(name) => format!("the header names the column '{name}' twice"),
            Self::HalfUncertainty => "the columns u_apparent_deg and u_span_deg go together, and u_station_deg only with them: give both or neither".to_owned(),
            Self::Fields { line, have, want } => format!("line {line} has {have} fields; the header names {want}"),
            Self::Field { line, column, problem } => format!("line {line}, {column}: {}", problem.say(face)),
            Self::NoReadings => "the table has a header but no readings".to_owned(),
        }
    }
}

impl Say for FieldProblem {
    fn say(&self, face: Face) -> String {
        match self {
            Self::Place(error) => error.say(face),
            Self::Angle(error) => error.say(face),
            Self::BladeNumber(text) => {
                format!("'{text}' is not a blade: write a letter, or a number from 1 to {}", BladeName::MOST)
            }
            Self::Beyond { angle: given, limit } => format!("{} is beyond {limit}° either way", angle(*given, 2)),
            Self::NotAboveZero => "a standard uncertainty must be above zero".to_owned(),
        }
    }
}

impl Say for PhaseError {
    fn say(&self, face: Face) -> String {
        match self {
            Self::NotCyclic(axis) => format!("{axis} has no phase: only elevator and aileron act once per turn."),
            Self::NoTravel(axis) => format!("{axis} was not captured with its neutral at any station."),
            Self::NotFinite(axis) => format!("A travel of the {axis}, or its uncertainty, is not a number above zero."),
            Self::Hidden(axis) => {
                let how = face.command(" (`clinoblade capture … --station 0`)", "");
                format!(
                    "These stations do not show the phase of the {axis}. Capture it with its neutral, at full stick, at two \
                     stations a quarter turn apart, such as 90° and 0°{how}."
                )
            }
        }
    }
}

impl Say for AxisPhase {
    fn say(&self, _: Face) -> String {
        let Self { axis, amplitude, phase, leak, .. } = *self;
        let (own, other) = if axis == Axis::Aileron { ("along", "square to") } else { ("square to", "along") };
        let u = self.u_phase * 2.0;
        if !self.is_significant() {
            return format!(
                "{axis} acts {own} the boom as on a plain head: its phase is {}.",
                with_uncertainty(phase, u)
            );
        }
        let when = if phase > Angle::ZERO { "later" } else { "earlier" };
        let shown = |value: Angle| format!("{:.1}°", value.abs().degrees());
        let passes_for = self.passes_for().map_or_else(String::new, |axis| format!(", where it looks like {axis}"));
        format!(
            "{axis} acts {} {when} in the turn than on a plain head. Of its {}, {} show {own} the boom and {} {other} \
             it{passes_for}.",
            size(phase, u),
            shown(amplitude),
            shown(amplitude * phase.cos()),
            shown(leak),
        )
    }
}

impl Say for PhasePair {
    fn say(&self, _: Face) -> String {
        match self.finding() {
            PhaseFinding::Skewed { by_deg, expanded_uncertainty_deg } => format!(
                "Elevator and aileron are not square to each other: their phases differ by {}. A pitch arm turns both alike, so \
                 check the mixing, and look for unequal servo arms or links under the swashplate.",
                with_uncertainty(by_deg, expanded_uncertainty_deg)
            ),
            PhaseFinding::Plain { mean_deg, expanded_uncertainty_deg } => format!(
                "Both axes act as on a plain head: no phase is built in ({}).",
                with_uncertainty(mean_deg, expanded_uncertainty_deg)
            ),
            PhaseFinding::Turned { mean_deg, expanded_uncertainty_deg, cause } => format!(
                "Both axes are turned alike, by {}. {}",
                with_uncertainty(mean_deg, expanded_uncertainty_deg),
                turned_by(cause)
            ),
        }
    }
}

fn turned_by(cause: PhaseCause) -> String {
    const PITCH_LINK: &str = "set the pitch link instead of the blade over the axis, and it drops out";
    const MIXING: &str = "leave it if the head's maker asks for it, else turn the mixing's phase back by as much";
    match cause {
        PhaseCause::ArmOrMixing { lead_deg } => format!(
            "A pitch arm that leads its blade by {:.0}° does this: {PITCH_LINK}. If it stays there, the mixing makes it: \
             {MIXING}.",
            lead_deg.degrees()
        ),
        PhaseCause::Arm { lead_deg } => format!(
            "The pitch arm, which leads its blade by {:.0}°, explains it: {PITCH_LINK}. Nothing needs to change.",
            lead_deg.degrees()
        ),
        PhaseCause::ArmAndMixing { lead_deg, arm_deg, rest_deg } => format!(
            "The pitch arm, which leads its blade by {:.0}°, explains {}. The mixing makes the other {}: {MIXING}.",
            lead_deg.degrees(),
            angle(arm_deg, 1),
            angle(rest_deg, 1)
        ),
    }
}

impl Say for Cause {
    /// What may have happened, as a question without its mark.
    fn say(&self, face: Face) -> String {
        match self {
            Self::Clip => face.command(
                "does the clip sit end for end (turn it, or add `--clip reversed`)",
                "does the clip sit end for end",
            ),
            Self::Station => "does the blade stand at the opposite station",
            Self::Channel => "did the stick go the other way, or is the channel reversed",
            Self::Rotation => "is the direction of rotation described wrongly",
        }
        .to_owned()
    }
}

impl Say for Contradiction {
    fn say(&self, face: Face) -> String {
        let way = if self.expects_more { "more" } else { "less" };
        let what = if self.from_neutral { "moved by" } else { "reads" };
        let causes: Vec<String> = self.causes().iter().map(|cause| cause.say(face)).collect();
        format!(
            "{} must show {way} pitch here, but the blade {what} {}: {}?",
            self.deflection,
            angle(self.moved, 2),
            causes.join("? Or ")
        )
    }
}

/// A file that holds no text.
#[must_use]
pub fn not_a_table(name: &str) -> String {
    format!("{name} is not a table of readings: it is not text. Save the sheet as CSV (UTF-8).")
}

/// A blade as the readings call it: by a letter, or by its number.
#[must_use]
pub fn blade_name(blade: BladeName, numbered: bool) -> String {
    if numbered { (blade.index() + 1).to_string() } else { blade.to_string() }
}

/// Everything that a rotor solution found, a line each.
#[must_use]
pub fn solution(readings: &[RotorReading], solution: &RotorSolution, numbered: bool) -> String {
    let name = |blade| blade_name(blade, numbered);
    let lean = |unknown, to: &str, away: &str| match solution.get(unknown).map(|e| (e, e.known())) {
        Some((estimate, Some(value))) => {
            let way = if value < Angle::ZERO { away } else { to };
            format!("{} to the {way}", size(value, estimate.standard_error * 2.0))
        }
        _ => format!("to {to} or {away} not known"),
    };
    let mut lines = vec![format!(
        "shaft leans {} and {}",
        lean(Unknown::Nose, "nose", "tail"),
        lean(Unknown::Left, "left", "right")
    )];
    lines.extend(solution.blades.iter().map(|blade| {
        let (collective, droop) = (figure(blade.collective), figure(blade.droop));
        format!("blade {}: collective {collective}, droop {droop} (tip up positive)", name(blade.blade))
    }));
    if let Some(first) = solution.blades.first().map(|blade| name(blade.blade)) {
        lines.extend(solution.blades.iter().filter_map(|blade| {
            let (split, other) = (figure(blade.split?), name(blade.blade));
            Some(format!(
                "track split {first} less {other}: {split} (positive: blade {first} stands higher; `track` and `check` say \
                 {other} less {first})"
            ))
        }));
    }
    lines.push(swash(solution));
    let offsets = [(Unknown::ClipOffset, "span"), (Unknown::ClipSpanOffset, "chord")];
    lines.extend(offsets.into_iter().filter_map(|(unknown, about)| {
        Some(format!("the clip's offset about the {about} {}", figure(solution.get(unknown)?)))
    }));
    lines.push(format!(
        "{} {}, {} degrees of freedom, residuals {:.3}° rms; ± is for about 95 % (k = 2)",
        readings.len(),
        if readings.len() == 1 { "reading" } else { "readings" },
        solution.degrees_of_freedom,
        solution.residual_rms.degrees()
    ));
    if solution.misfit {
        let size = |k: &usize| solution.residuals.get(*k).map_or(0.0, |r| r.apparent.hypot(r.span).radians());
        let worst = (0..readings.len()).max_by(|a, b| size(a).total_cmp(&size(b))).and_then(|k| readings.get(k));
        let worst = worst.map_or_else(String::new, |reading| {
            format!(" Look first at blade {} at {}.", name(reading.blade), reading.station)
        });
        lines.push(format!(
            "The readings scatter more than their uncertainties explain: a misread station, a clip or model that moved, or \
             binding.{worst}"
        ));
    }
    lines.extend(not_told(solution, numbered));
    lines.join("\n")
}

/// Value and expanded uncertainty at k = 2.
fn figure(estimate: Estimate) -> String {
    let known = estimate.known().map(|value| with_uncertainty(value, estimate.standard_error * 2.0));
    known.unwrap_or_else(|| "not known".to_owned())
}

fn swash(solution: &RotorSolution) -> String {
    let u = |unknown| solution.get(unknown).map_or(Angle::ZERO, |estimate| estimate.standard_error);
    let u = u(Unknown::Cos).hypot(u(Unknown::Sin)) * std::f64::consts::SQRT_2;
    match solution.swash() {
        Some((amplitude, azimuth)) if amplitude > u => {
            format!("swashplate tilt {}, pitch greatest at {:.0}° from the boom", size(amplitude, u), azimuth.degrees())
        }
        Some((amplitude, _)) => {
            format!("swashplate tilt {}: square to the shaft as far as these readings tell", size(amplitude, u))
        }
        None => "swashplate tilt: not known".to_owned(),
    }
}

/// What is not known, and the readings that would tell it.
fn not_told(solution: &RotorSolution, numbered: bool) -> Option<String> {
    let hidden: Vec<String> = solution.unobservable().iter().map(ToString::to_string).collect();
    let reading = |at: &Suggestion| {
        let clip = if at.clip == Clip::Reversed { ", clip reversed" } else { "" };
        format!("blade {} at station {}{clip}", blade_name(at.blade, numbered), at.station)
    };
    let wanted: Vec<String> = solution.suggestions.iter().map(reading).collect();
    let wanted = if wanted.is_empty() { "more stations".to_owned() } else { wanted.join(" and ") };
    (!hidden.is_empty()).then(|| {
        format!(
            "These readings do not tell {}: the lean of the shaft and the tilt of the swashplate look alike in them. Also read \
             {wanted}.",
            hidden.join(", ")
        )
    })
}

#[cfg(test)]
#[path = "rotor_tests.rs"]
mod tests;
