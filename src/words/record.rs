//! What is said of a record: its cells, findings, questions, ends that were swept, and the whole in a sentence.

pub use super::record_document::{capture_document, cell_document, document};
use super::unsettled::{buzz, does_it_bind, in_question, undecided};
use super::{Face, Say, angle, one_line, plus_minus, size, wanted, with_uncertainty};
use clinoblade_record::trade::{self, Caution};
use clinoblade_record::{
    Adjustment, BindSign, Capture, Cell, CellFinding, CellName, Check, DatumRef, LimitRecord, Shortfall, Unused, Value,
    Verdict,
};
use clinoblade_rotor::{Datum, Deflection};
use clinoblade_uncertainty::Target;
use clinoblade_units::Angle;

/// A cell's value with its uncertainty.
#[must_use]
pub fn value(value: &Value) -> String {
    with_uncertainty(value.angle, value.expanded)
}

/// The value by which a cell is judged, with its uncertainty; empty where it has none.
pub(super) fn judged(cell: &Cell) -> String {
    cell.judged().map_or_else(String::new, |(angle, expanded)| with_uncertainty(angle, expanded))
}

/// What a capture made of its cell: the figure by which it is judged, what is wanted, and the verdict.
#[must_use]
pub fn judged_line(cell: &Cell) -> String {
    let what = match (&cell.stands, cell.travel()) {
        (Some(_), _) => "pitch ",
        (None, Some(_)) => "travel ",
        (None, None) => "",
    };
    format!("{what}{}, wanted {}: {}", judged(cell), super::table::wanted(cell), cell.verdict.word())
}

/// What a cell's verdict means and what to do; none where all is well.
#[must_use]
pub fn consequence(cell: &Cell, face: Face) -> Option<String> {
    let name = cell.name;
    if let Some(finding) = &cell.consequence {
        return Some(meaning(cell, finding, face));
    }
    match &cell.verdict {
        Verdict::Inside | Verdict::Missing | Verdict::Bound | Verdict::Outside => None,
        Verdict::Undecided { by } => Some(format!("{name}: {}", undecided(by, face))),
        Verdict::InQuestion { because } => {
            let seen: Vec<String> = because.iter().map(|reason| super::sentence(&in_question(reason, face))).collect();
            Some(format!("{name} is in question. {}", seen.join(" ")))
        }
        Verdict::Stale { by } => {
            let turned: Vec<String> = by.iter().map(ToString::to_string).collect();
            Some(format!("{name} was read before an adjustment ({}). Measure it again.", turned.join(", ")))
        }
    }
}

/// A finding in a sentence that names its cell.
fn meaning(cell: &Cell, finding: &CellFinding, face: Face) -> String {
    let name = cell.name;
    match finding {
        CellFinding::NotCaptured { left_out: None } => format!("{name}: not captured yet"),
        CellFinding::NotCaptured { left_out: Some(note) } => {
            format!("{name}: not captured yet (left out: {})", one_line(note))
        }
        CellFinding::ZeroNotRead => format!("{name}: not read at mid stick yet"),
        CellFinding::ZeroByDefinition => format!(
            "{name}: read only against its own neutral, which makes it zero by definition. Set another zero{} and read it again.",
            face.command(" (`clinoblade datum reversal`)", "")
        ),
        CellFinding::SpanUnseen => format!(
            "{name}: the sensor sends one angle only, which does not show it. Read both blades with a sensor of three axes, or leave \
             it out on purpose{}.",
            face.command(&format!(" (`clinoblade setup skip {name}`)"), "")
        ),
        CellFinding::TrackNotRead => format!("{name}: the two blades were not both read at mid stick yet"),
        CellFinding::TrackZerosDiffer => {
            format!(
                "{name}: the two blades were read against different zeros, or the model was moved in between. Read both again."
            )
        }
        CellFinding::TrackStationsDiffer { reference, other } => format!(
            "{name}: blade A was read at {reference} and the other at {other}, where shaft and swashplate lean differently. Read \
             both at one station and turn the head in between."
        ),
        CellFinding::TailNeutralNotRead => {
            format!("{name}: not read yet at stick centre, against a zero that tells its pitch")
        }
        CellFinding::Outside { by } if name == CellName::TailNeutral => {
            let short = cell.judged().is_some_and(|(pitch, _)| pitch < cell.target.value());
            format!(
                "{name} is {}, wanted {}: {:.2}° too {} toward the side that holds the torque. Set it by the tail rod or the tail \
                 servo's arm, not by an end point.",
                judged(cell),
                wanted(cell.target),
                by.degrees(),
                if short { "little" } else { "much" }
            )
        }
        CellFinding::Outside { by } => {
            let is = judged(cell);
            format!("{name} is {is}, wanted {}: {:.2}° too {}", wanted(cell.target), by.degrees(), sense(cell))
        }
        CellFinding::CablePulls => {
            let is = cell.value.as_ref().map_or_else(String::new, value);
            format!(
                "The cable turns the reading by {is}. Fasten it at the hub so that it hangs free of the blade, and check it again."
            )
        }
        CellFinding::JustShort => match name {
            CellName::Corner(_) => format!("{name} is set just short of a bind. Do not raise its limits."),
            _ => format!("{name} is set just short of a bind. Do not raise its end point."),
        },
        CellFinding::BackedOff { at } => format!(
            "{name} stands just short of a bind. Full stick must bring no more: lower its end point until it stops at {} or before.",
            angle(*at, 2)
        ),
        CellFinding::StickGoesFurther { share } => format!(
            "{name} stands just short of a bind, and full stick still goes into it. Lower its end point to {:.0} % of what it is.",
            share.value()
        ),
        CellFinding::FallsShort(short) => {
            format!("{name} {}. {} {}", falls_short(short), does_it_bind(face), just_short_of_it(short))
        }
        CellFinding::CornerBinds { short: Some(short), sign } => {
            format!("{name} binds: it {}, and {}. {}", falls_short(short), bind_sign(sign), just_short_of_it(short))
        }
        CellFinding::CornerBinds { short: None, sign } => format!(
            "{name} comes to the sum of its parts, but {}. Take it back until that stops and {}.",
            bind_sign(sign),
            face.command("capture it with --bound", "capture it as bound")
        ),
        CellFinding::OnTheDiagonal { .. } => {
            format!(
                "{name}: {}. Let a cyclic ring limit the stick, or lower the end points of both axes.",
                remark_of(cell, finding)
            )
        }
        remark @ (CellFinding::FallsShortUnbound { .. }
        | CellFinding::PastStall { .. }
        | CellFinding::LeftOut { .. }
        | CellFinding::AcceptedContradiction
        | CellFinding::AcceptedUnmoved
        | CellFinding::BentToward { .. }
        | CellFinding::NoNeutral
        | CellFinding::OneLeadingEdge { .. }
        | CellFinding::JudgedFromZero { .. }
        | CellFinding::JudgedAsItStands { .. }
        | CellFinding::NeutralMoved { .. }
        | CellFinding::OffItsStation { .. }
        | CellFinding::NotUsed { .. }
        | CellFinding::PhaseSet { .. }
        | CellFinding::Buzzes { .. }) => format!("{name}: {}", remark_of(cell, remark)),
    }
}

/// Which way a value is past what is wanted.
fn sense(cell: &Cell) -> &'static str {
    let is = cell.judged().map_or(Angle::ZERO, |(is, _)| is);
    match (cell.name, cell.target) {
        (CellName::Limit(_), Target::Band { target, .. }) if target != Angle::ZERO => {
            let short = is * target.radians().signum() < target.abs();
            if short { "little" } else { "far" }
        }
        (CellName::Limit(_), _) => "far",
        (CellName::Zero(_), _) => {
            if is > cell.target.value() {
                "high"
            } else {
                "low"
            }
        }
        _ => "much",
    }
}

/// What to know about a cell besides, each without the cell's name.
#[must_use]
pub fn remarks(cell: &Cell) -> Vec<String> {
    cell.remarks.iter().map(|finding| remark_of(cell, finding)).collect()
}

/// Why a capture is not what its cell shows; none where it is, or where it fills none.
#[must_use]
pub fn not_used_in(record: &LimitRecord, capture: &Capture) -> Option<String> {
    let name = CellName::of(capture.subject);
    record.cell(name)?.remarks.iter().find_map(|finding| match finding {
        CellFinding::NotUsed { capture: of, why } if *of == capture.id => Some(not_used(name, *why)),
        _ => None,
    })
}

fn not_used(name: CellName, why: Unused) -> String {
    match why {
        Unused::NoNeutral => {
            let axis = match name {
                CellName::Limit(end) => trade::neutral(end.axis()).to_string(),
                _ => "neutral".to_owned(),
            };
            format!(
                "a newer reading has no neutral of its place and does not count: capture {axis} there, then {name} again"
            )
        }
        Unused::OffItsStation { station, own, share } => format!(
            "a newer reading at {station}, where {:.0} % of it shows, does not count here; {name} is read at {own}",
            100.0 * share
        ),
    }
}

fn remark_of(cell: &Cell, finding: &CellFinding) -> String {
    match finding {
        CellFinding::FallsShortUnbound { by } => format!(
            "{:.2}° short of the sum of its parts, by the person's word without a bind: the mixer's limit, or the arcs of the \
             servo arms",
            by.degrees()
        ),
        CellFinding::OnTheDiagonal { amplitude, expanded, of_square, is_ring, ceiling } => {
            let past = ceiling.as_ref().filter(|ceiling| amplitude > *ceiling);
            format!(
                "on this diagonal the cyclic comes to {}, {:.0} % of elevator and aileron together{}",
                size(*amplitude, *expanded),
                of_square.value(),
                match past {
                    Some(ceiling) => format!(
                        ", wanted {}: {:.2}° too far",
                        wanted(Target::AtMost(*ceiling)),
                        (*amplitude - *ceiling).degrees()
                    ),
                    None if *is_ring => ", as with a ring that limits the stick".to_owned(),
                    None => String::new(),
                }
            )
        }
        CellFinding::PastStall { pitch } => format!(
            "{} is past the pitch at which a usual section stalls (10° to 16°): more of it brings drag, not lift. It is not \
             forbidden.",
            angle(*pitch, 2)
        ),
        CellFinding::BentToward { toward } => {
            format!("bent toward {:.0}° from its mark, in the sense in which you turned it", toward.degrees())
        }
        CellFinding::AcceptedContradiction => {
            "it moved the other way than the description says, and was recorded as read. Check whether the channel is reversed, \
             or correct the description."
                .to_owned()
        }
        CellFinding::NoNeutral => format!(
            "no neutral was read at this place, so the angle counts from the zero, with {} in it{}",
            match cell.name {
                CellName::Limit(Deflection::Rudder(_)) => "the clip's offset",
                _ => "the lean of the shaft and the clip's offset",
            },
            if cell.is_rudder() { ": the value is absolute" } else { "" }
        ),
        CellFinding::OneLeadingEdge { leading_edge } => format!(
            "read with the leading edge {leading_edge} only, so the model's roll is in it. Capture the other leading edge too."
        ),
        CellFinding::JudgedFromZero { zero, travel } => {
            format!("its blade stands at {} at mid stick and travels {} from there", angle(*zero, 2), angle(*travel, 2))
        }
        CellFinding::JudgedAsItStands { travel, blade } => format!(
            "tail blade {blade} counts as it stands; from neutral it travels {}",
            angle(*travel, 2)
        ),
        CellFinding::NeutralMoved { by, expanded } => format!(
            "the neutral moved by {} between the beginning and the end of this travel: drift, lost motion or a moved clip. Take \
             the travel again.",
            with_uncertainty(*by, *expanded)
        ),
        CellFinding::OffItsStation { station, own, share } => format!(
            "read at {station}, where {:.0} % of it shows; the travel is divided by that. It shows whole at {own}",
            100.0 * share
        ),
        CellFinding::LeftOut { reason } => format!("left out on purpose: {reason}"),
        CellFinding::AcceptedUnmoved => "it hardly moves, and you said that this is right".to_owned(),
        CellFinding::NotUsed { why, .. } => not_used(cell.name, *why),
        CellFinding::PhaseSet { described } => format!(
            "the phase in the mixing was set in this setup, and this was read where a control phase of {} shows it. Capture it at a              station 45° on as well: both together show where the blades answer now",
            angle(*described, 0)
        ),
        CellFinding::Buzzes { vibration, backed_off: false } => format!(
            "{}, and not at centre. Does it bind there? Back off until it is quiet and capture it as bound.",
            buzz(vibration)
        ),
        CellFinding::Buzzes { vibration, backed_off: true } => {
            format!("{} still. Back off a little further and capture it again.", buzz(vibration))
        }
        consequence => meaning(cell, consequence, Face::Paper),
    }
}

fn bind_sign(sign: &BindSign) -> String {
    match sign {
        BindSign::Buzz { vibration } => buzz(vibration),
        BindSign::Creep { by, expanded } => {
            format!("it crept by {} since it was read before", with_uncertainty(*by, *expanded))
        }
    }
}

fn falls_short(short: &Shortfall) -> String {
    format!("stands {:.2}° short of the sum of its parts", short.by.degrees())
}

fn just_short_of_it(short: &Shortfall) -> String {
    let of = if short.of_collective { "the collective's way" } else { "full cyclic" };
    format!("The limit just short of it is about {:.0} % of {of} at this corner.", short.limit.value())
}

/// The sweeps that are still owed.
#[must_use]
pub fn sweeps_owed(record: &LimitRecord) -> Vec<String> {
    record.to_check.iter().filter(|check| is_sweep(check)).map(|check| check.say(Face::Page)).collect()
}

/// The record in a sentence.
#[must_use]
pub fn outcome(record: &LimitRecord) -> String {
    let owed = || record.cells.iter().filter(|cell| cell.is_owed());
    let done = owed().filter(|cell| cell.verdict.is_captured()).count();
    let all = record.cells.iter().filter(|cell| cell.is_owed() || cell.verdict.is_captured());
    let amiss: Vec<String> =
        all.clone().filter(|cell| !cell.verdict.is_good()).map(|cell| cell.name.to_string()).collect();
    let further = !record.good && record.cells.iter().all(|cell| cell.left_out.is_none());
    let left_out: Vec<String> =
        record.cells.iter().filter(|cell| cell.left_out.is_some()).map(|cell| cell.name.to_string()).collect();
    let but_for = match left_out.as_slice() {
        [] => String::new(),
        cells => format!(" but for what was left out ({})", cells.join(", ")),
    };
    let sweeps = sweeps_owed(record);
    let sweeps = if sweeps.is_empty() { String::new() } else { format!(" Still owed: {}.", sweeps.join(", ")) };
    match (record.complete, amiss.as_slice()) {
        (false, _) => format!("{done} of {} done{but_for}.{sweeps}", owed().count()),
        (true, []) if further => format!(
            "All {} captured, and full stick still goes into a bind. Lower that end point, then capture it at full stick or sweep.",
            all.count()
        ),
        (true, []) => {
            format!("All {} captured and within limits{but_for}. This measures; it certifies nothing.", all.count())
        }
        (true, [one]) => format!("All {} captured{but_for}; 1 is not within limits: {one}.", all.count()),
        (true, several) => format!(
            "All {} captured{but_for}; {} are not within limits: {}.",
            all.count(),
            several.len(),
            several.join(", ")
        ),
    }
}

const fn is_sweep(check: &Check) -> bool {
    matches!(check, Check::Sweep { .. })
}

/// A zero's kind with its figures, in a line.
#[must_use]
pub fn datum(datum: &DatumRef) -> String {
    match datum.datum {
        Datum::Gravity => "gravity, by the calibration alone".to_owned(),
        Datum::Surface { up, heading, u, .. } => {
            format!("surface, reads {} along station {heading}", with_uncertainty(up.apparent_pitch(), u * 2.0))
        }
        Datum::Reversal { instrument, slope, u } => format!(
            "reversal, sensor error {}, surface slope {}",
            with_uncertainty(instrument.chord, u * 2.0),
            angle(slope, 2)
        ),
        Datum::Neutral { apparent, place, u } => {
            format!("neutral of blade {}, {}", place.blade, with_uncertainty(apparent, u * 2.0))
        }
        Datum::Shaft { tilt, u, .. } => format!(
            "shaft, leans {} to the nose and {} to the left ({})",
            angle(tilt.nose, 2),
            angle(tilt.left, 2),
            plus_minus(u * 2.0)
        ),
    }
}

/// A snap-on link that was turned by a fraction.
pub const BETWEEN_SEATS: &str = "By the description this link snaps on, and does not seat there. If it is a turnbuckle, write \
                                 `turnbuckle = true` into the description: then the advice is not rounded to seats.";

/// What was adjusted, which cells became stale by it, and what to measure again.
#[must_use]
pub fn adjusted(adjustment: &Adjustment, stale: &[String], record: &LimitRecord) -> String {
    let told = match stale {
        [] => format!("Recorded: {adjustment}. No captured cell is touched by it."),
        stale => format!("Recorded: {adjustment}. Out of date now: {}.", stale.join(", ")),
    };
    if stale.is_empty() && !adjustment.makes_all_owed() {
        return told;
    }
    format!(
        "{told}\nTo measure:{}",
        to_measure(record, Face::Terminal).iter().map(|line| format!("\n  {line}")).collect::<String>()
    )
}

/// Everything that would make the record complete, a line each.
#[must_use]
pub fn to_measure(record: &LimitRecord, face: Face) -> Vec<String> {
    let captures = record.to_measure.iter().map(ToString::to_string);
    captures.chain(record.to_check.iter().map(|check| check.say(face))).collect()
}

impl Say for Caution {
    fn say(&self, _: Face) -> String {
        match self {
            Self::Motor => {
                "The motor is disconnected, or its pinion out of mesh. From the moment a pack is plugged in, treat the model as able to go to full power."
            }
            Self::Battery => "The electronics run on a separate battery where the model allows it.",
            Self::Clear => {
                "Fingers, hair and sleeves are clear of main and tail blades before any stick moves. No link is adjusted while servos move."
            }
            Self::Bind => "No servo is held against a bind: buzzing means back off, then record.",
            Self::Controller => "A stabilising controller is in its own setup mode, or it moves the blades by itself.",
            Self::Restrained => {
                "Eyes are protected when anything could turn or spring; the model is restrained and nobody stands in the disc."
            }
            Self::ClipOff => "Clip and cable come off before the motor is connected again.",
            Self::Manuals => {
                "The model's own manual, the controller's manual and the national rules override every number shown here."
            }
            Self::NoPermission => {
                "This program measures angles. It certifies nothing, and a cell that is inside is no permission to fly."
            }
        }
        .to_owned()
    }
}

#[cfg(test)]
#[path = "record_tests.rs"]
mod tests;
