//! What is said of a record: its cells, findings, questions, ends that were swept, and the whole in a sentence.

use super::{Face, Say, angle, plus_minus, size, with_uncertainty};
use clinoblade_filter::Vibration;
use clinoblade_record::trade::{self, Caution};
use clinoblade_record::{
    Adjustment, AdjustmentError, AdjustmentRefusal, Asymmetry, BindSign, Capture, Cell, CellFinding, CellName, Check,
    DatumRef, EntryError, HeadError, InQuestion, LimitRecord, MOST_HALF_TURNS, MOST_SERVOS, MOST_TEETH, Question,
    Reach, Shortfall, SubjectError, SweptEnd, Undecided, Unused, Value, Verdict,
};
use clinoblade_rotor::{Axis, Datum, Deflection};
use clinoblade_uncertainty::Target;
use clinoblade_units::Angle;
use serde_json::json;

/// A cell's value with its uncertainty.
#[must_use]
pub fn value(value: &Value) -> String {
    with_uncertainty(value.angle, value.expanded)
}

/// The value by which a cell is judged, with its uncertainty; empty where it has none.
fn judged(cell: &Cell) -> String {
    cell.judged().map_or_else(String::new, |(angle, expanded)| with_uncertainty(angle, expanded))
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

fn in_question(reason: &InQuestion, face: Face) -> String {
    let again = "Capture it again.";
    match reason {
        InQuestion::Swept { reached, recorded } => format!(
            "it came to {} when it was moved once more, recorded {}. {again}",
            angle(*reached, 2),
            angle(*recorded, 2)
        ),
        InQuestion::SweptStill => format!("it did not move when it was moved once more. {again}"),
        InQuestion::SweptBuzzes => format!("a servo buzzed there when it was moved once more. {}", back_off(face)),
        InQuestion::Buzzes { vibration } => {
            format!("{}, and not at centre. Does it bind? {}", buzz(vibration), back_off(face))
        }
        InQuestion::PastBind { bound_at, output } => format!(
            "it bound at {}{}, and the stick goes further now. Lower its end point and capture it again; if nothing binds any more, {}.",
            angle(*bound_at, 2),
            output.map_or_else(String::new, |output| format!(" ({:.0} % output)", output.value())),
            face.command("capture it with --as-read", "say that it is right as read")
        ),
    }
}

fn back_off(face: Face) -> String {
    format!(
        "If it does, back off until it is quiet and {}; if not, {}.",
        face.command("capture it with --bound", "capture it as bound"),
        face.command("capture it with --as-read", "say that it is right as read")
    )
}

fn undecided(by: &Undecided, face: Face) -> String {
    match by {
        Undecided::TooClose(doubt) => doubt.say(face),
        Undecided::LeanUnknown { blade, station } => format!(
            "Read at one station only, so the lean of model and swashplate is in it. Leave the clip on, turn the head half round \
             and read blade {blade} at {station} too{}.",
            face.command(
                &format!(": `clinoblade capture collective mid --blade {blade} --station {}`", f64::from(*station)),
                ""
            )
        ),
        Undecided::Questioned => format!(
            "It did not move as expected. Read it again; if it is right, {}.",
            face.command("capture it with --as-read", "answer that it is right")
        ),
        Undecided::NoNeutral { neutral } => format!(
            "There is no neutral of its place, so nothing shows how far the stick moved it. Capture {neutral} there{}.",
            face.command(&format!(" (`clinoblade capture {neutral}` with the same blade and place)"), "")
        ),
        Undecided::DoesItBind => does_it_bind(face),
        Undecided::TorqueSideUnknown => {
            "Which side holds the torque is not known. Say in the description which rudder direction gives \
             positive pitch, or capture both ends of the rudder."
                .to_owned()
        }
        Undecided::PitchUnknown => {
            "Only its travel is known, read against the blade's own neutral; the pitch at which the blade stands \
             counts. Set the zero against gravity and capture this end with the leading edge up and down."
                .to_owned()
        }
        Undecided::ZeroUnknown => format!(
            "Only its travel is known; the pitch at which the blade stands counts. Read the blade at mid stick against a zero that \
             tells its pitch{}.",
            face.command(" (`clinoblade datum gravity`, then `clinoblade capture collective mid`)", "")
        ),
        Undecided::PlateUnread { blade } => format!(
            "As far as is known the swashplate does not stand level at stick centre. Read blade {blade} at 0°, 90°, 180° and 270° \
             with the clip left on{}.",
            face.command(&format!(": `clinoblade capture collective mid --blade {blade} --station 0` and so on"), "")
        ),
        Undecided::OnePlane => one_plane(face),
    }
}

fn does_it_bind(face: Face) -> String {
    format!(
        "Does a servo buzz, or does a link, the swashplate or its guide touch? Then it binds: back off until it stops and {}. If \
         not, the mixer or the arcs of the servo arms limit it: {}.",
        face.command("capture it with --bound", "capture it as bound"),
        face.command("capture it with --as-read", "say that it is right as read")
    )
}

fn one_plane(face: Face) -> String {
    format!(
        "No bend in this plane. Turn the spindle a quarter and repeat{}: a bend across it shows only then.",
        face.command(" (`clinoblade spindle --seats 0,90,180,270`)", "")
    )
}

/// A finding in a sentence that names its cell.
fn meaning(cell: &Cell, finding: &CellFinding, face: Face) -> String {
    let name = cell.name;
    match finding {
        CellFinding::NotCaptured { left_out: None } => format!("{name}: not captured yet"),
        CellFinding::NotCaptured { left_out: Some(note) } => format!("{name}: not captured yet (left out: {note})"),
        CellFinding::ZeroNotRead => format!("{name}: not read at mid stick yet"),
        CellFinding::ZeroByDefinition => format!(
            "{name}: read only against its own neutral, which makes it zero by definition. Set another zero{} and read it again.",
            face.command(" (`clinoblade datum reversal`)", "")
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
                "{name} is {}, wanted {}°: {:.2}° too {} toward the side that holds the torque. Set it by the tail rod or the tail \
                 servo's arm, not by an end point.",
                judged(cell),
                cell.target,
                by.degrees(),
                if short { "little" } else { "much" }
            )
        }
        CellFinding::Outside { by } => {
            let is = judged(cell);
            format!("{name} is {is}, wanted {}°: {:.2}° too {}", cell.target, by.degrees(), sense(cell))
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

fn buzz(vibration: &Vibration) -> String {
    let (hertz, amplitude) = (vibration.frequency.value(), vibration.amplitude.degrees());
    format!("a servo buzzes ({hertz:.0} Hz, {amplitude:.2}° at the blade)")
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

impl Say for Question {
    fn say(&self, face: Face) -> String {
        match self {
            Self::Contradiction(contradiction) => contradiction.say(face),
            Self::TailWay { deflection, moved, described } => format!(
                "{deflection} moved the blade by {} from neutral, {}. Does the clip sit end for end{}? Or is the head turned half \
                 round? Or is the channel reversed?",
                angle(*moved, 2),
                if *described { "against the description" } else { "the same way as in the other direction" },
                face.command(" (turn it, or say --clip reversed)", "")
            ),
            Self::NeutralMoved { deflection, by } => format!(
                "{deflection} stands {} from the last neutral at this place. Was every stick at its centre, and is this the blade with \
                 the clip? Capture it again.",
                angle(*by, 2)
            ),
            Self::PlateOrLean { blade, stations: [first, second], difference, expanded } => format!(
                "At stick centre blade {blade} reads {} more at {second} than at {first}, and a model that leans does not explain it. \
                 Does the swashplate stand level? Read blade {blade} at 0°, 90°, 180° and 270° with the clip left on.",
                with_uncertainty(*difference, *expanded)
            ),
            Self::NoRotor { residual } => format!(
                "The readings at stick centre round the turn do not fit together: they are {} off any rotor. Did the model, the \
                 clip or the swashplate move in between? Read blade A at 0°, 90°, 180° and 270° again with the clip left on, then \
                 the other blades.",
                angle(*residual, 2)
            ),
            Self::Unmoved { travel } => format!(
                "The blade stands only {} from its neutral. Is the stick held over, and is this the blade with the clip?",
                angle(*travel, 2)
            ),
            Self::Doubted { because } => super::sentence(&in_question(because, face)),
        }
    }
}

impl Say for EntryError {
    fn say(&self, _: Face) -> String {
        match self {
            Self::NotSteady(subject) => {
                format!("{subject} was never steady, so it is not recorded. Hold the stick still and capture it again.")
            }
            Self::NoAngle(subject) => {
                format!("{subject} gave no angle, so it is not recorded. Turn the blade level and capture it again.")
            }
        }
    }
}

impl Say for SubjectError {
    fn say(&self, face: Face) -> String {
        match self {
            Self::RudderOnMain => "The rudder moves the tail rotor only. Read it on a tail blade, with its leading edge up or down instead \
                                   of a station."
                .to_owned(),
            Self::MainOnTail(deflection) => format!(
                "{deflection} moves the main rotor only. Read it on a main blade, at a station instead of a leading edge."
            ),
            Self::Place => {
                "A place is a blade with either a station (main rotor) or a leading edge (tail rotor).".to_owned()
            }
            Self::Deflection(error) => error.say(face),
        }
    }
}

impl Say for HeadError {
    fn say(&self, face: Face) -> String {
        match self {
            Self::Description(what) => format!(
                "The description of the helicopter cannot be used:\n{what}Correct that line, or start afresh{}.",
                face.command(": `clinoblade head new`", "")
            ),
        }
    }
}

impl Say for AdjustmentError {
    fn say(&self, _: Face) -> String {
        format!(
            "'{}' is not an adjustment. Write one of \"link B +1 half-turn\", \"elevator up end point 95 %\", \"swash link 2 -1 \
             half-turn\", \"servo arm 2\", \"sub-trim 2 -5 %\", \"phase 5°\", \"collective range 60 %\", \"cyclic range 80 %\", \
             \"reverse elevator\", \"elevator trim 3 %\", \"tail rod +2 half-turns\", \"tail servo arm\", \"servo arm 2 +1 tooth\", \
             \"servo 2 replaced\", \"spindle replaced\", \"shaft replaced\", \"grip A replaced\", \"blades A and B exchanged\", \
             \"blades replaced\", \"mixing changed\", \"crash\".",
            self.0
        )
    }
}

impl Say for AdjustmentRefusal {
    fn say(&self, _: Face) -> String {
        match self {
            Self::NoSuchBlade { blade, blades } => {
                format!("This helicopter has {blades} main blades: there is no blade {blade}.")
            }
            Self::TooManyHalfTurns(half_turns) => format!(
                "{half_turns} are more than a link can be turned ({MOST_HALF_TURNS} at most). Say how many half-turns it \
                 was."
            ),
            Self::NoSuchServo(servo) => {
                format!("There is no swashplate servo {servo}: they are numbered from 1, {MOST_SERVOS} at most.")
            }
            Self::SubTrim(output) => format!("{output} is more than a trim can be set to."),
            Self::TooManyTeeth(teeth) => {
                format!(
                    "{teeth} are more than half a servo's spline ({MOST_TEETH} at most). Say how many teeth it was."
                )
            }
        }
    }
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
    let sweeps: Vec<String> =
        record.to_check.iter().filter(|check| is_sweep(check)).map(|check| check.say(Face::Page)).collect();
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

impl Say for Check {
    fn say(&self, face: Face) -> String {
        match self {
            Self::Spindle { blade } => format!(
                "spindle on blade {blade}, turned by quarters{}",
                face.command(&format!(" (`clinoblade spindle --blade {blade} --seats 0,90,180,270`)"), "")
            ),
            Self::Slop { blade } => format!(
                "lost motion of blade {blade}: one stick position, reached from below and from above{}",
                face.command(" (`clinoblade capture … --from below`, then `--from above`)", "")
            ),
            Self::Sweep { axis } => {
                format!("sweep of the {axis}{}", face.command(&format!(" (`clinoblade sweep {axis}`)"), ""))
            }
        }
    }
}

impl Say for Asymmetry {
    fn say(&self, _: Face) -> String {
        let axis = self.axis;
        let (one, other) = match (axis, trade::ends(axis)) {
            (Axis::Collective, _) | (_, None) => ("the high end".to_owned(), "the low end".to_owned()),
            (_, Some([one, other])) => (one.direction(), other.direction()),
        };
        let (more, less) = if self.difference < Angle::ZERO { (other, one) } else { (one, other) };
        let by = size(self.difference, self.expanded);
        match self.wanted {
            None => format!("{axis}: {more} {by} more than {less}; their ceilings differ"),
            Some(Angle::ZERO) if !self.significant => format!("{axis}: equal ({})", plus_minus(self.expanded)),
            Some(_) if !self.significant => format!("{axis}: {more} {by} more than {less}, as wanted"),
            Some(Angle::ZERO) => format!("{axis}: {more} {by} more than {less}"),
            Some(wanted) => format!("{axis}: {more} {by} more than {less}, wanted {}", angle(wanted.abs(), 2)),
        }
    }
}

impl Say for SweptEnd {
    fn say(&self, _: Face) -> String {
        let Self { deflection, .. } = self;
        let reached = format!("{:.1}°", self.reached.degrees());
        let mut said = match (self.reach, self.recorded.map(|recorded| format!("{:.1}°", recorded.degrees()))) {
            (Reach::StandsStill, _) => {
                format!(
                    "{deflection} does not move. Is its end point set, its channel assigned, the linkage connected?"
                )
            }
            (Reach::AsRecorded, Some(recorded)) => format!("{deflection} reaches {reached} of {recorded}."),
            (Reach::Short, Some(recorded)) => format!(
                "{deflection} reaches only {reached} of {recorded}. Hold the stick fully over and sweep again; if it stays, an end \
                 point or the linkage changed."
            ),
            (Reach::Beyond, Some(recorded)) => {
                format!(
                    "{deflection} goes to {reached}, recorded {recorded}. If an end point was changed, capture it again."
                )
            }
            (Reach::NotRecorded, _) | (_, None) => format!("{deflection} reaches {reached}. No travel is recorded."),
        };
        if let Some(overshoot) = self.overshoot {
            said += &format!(" It swings {:.1}° past its end.", overshoot.degrees());
        }
        if let Some(slack) = self.slack().filter(|_| self.says_slack()) {
            said += &format!(
                " At centre the {} rests {:.2}° apart from either side, {:.2}° are allowed: look for play in its linkage.",
                deflection.axis(),
                slack.degrees(),
                self.allowed.degrees()
            );
        }
        if self.buzzes {
            let limit = if self.recorded.is_some() { " Its limit is not where the record has it." } else { "" };
            said +=
                &format!(" A servo buzzes there.{limit} Do not hold it there; lower its end point until it is quiet.");
        }
        said
    }
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

/// A cell as a JSON object: sentences in `consequence`, `question`, `remarks` and `by`, and everything typed in `findings`.
#[must_use]
pub fn cell_document(cell: &Cell) -> serde_json::Value {
    let face = Face::Terminal;
    let mut document = json!(cell);
    let undecided_by = match &cell.verdict {
        Verdict::Undecided { by } => Some(by),
        _ => None,
    };
    let typed = cell.consequence.iter().map(|finding| json!(finding));
    let typed = typed.chain(undecided_by.map(|by| json!(by))).chain(cell.question.as_ref().map(|asked| json!(asked)));
    let findings: Vec<serde_json::Value> = typed.chain(cell.remarks.iter().map(|finding| json!(finding))).collect();
    document["findings"] = json!(findings);
    document["consequence"] = json!(consequence(cell, face).unwrap_or_default());
    document["question"] = json!(cell.question.as_ref().map(|question| question.say(face)));
    document["remarks"] = json!(remarks(cell));
    if let Some(by) = undecided_by {
        document["by"] = json!(undecided(by, face));
    }
    document
}

/// A record as a JSON object, its cells as [`cell_document`] has them.
#[must_use]
pub fn document(record: &LimitRecord) -> serde_json::Value {
    let mut document = json!(record);
    document["cells"] = record.cells.iter().map(cell_document).collect();
    document
}

/// A capture as a JSON object: its reading, what was captured, and what the record of setup number `setup` says about it.
/// `travel_deg` is null without a neutral, target and verdict are null where no cell uses it.
#[must_use]
pub fn capture_document(capture: &Capture, setup: u32, record: &LimitRecord) -> serde_json::Value {
    let mut document = capture.reading.document();
    let cell = record.cell_with(capture);
    let said = cell.map(cell_document).unwrap_or_default();
    let target = cell.map(|c| c.target);
    let travel = cell.and_then(|cell| Some((cell.travel()?, cell.value.as_ref()?.expanded)));
    let more = json!({
        "id": capture.id,
        "taken_at": capture.taken_at,
        "setup": setup,
        "axis": capture.subject.deflection().axis(),
        "direction": capture.subject.deflection().direction(),
        "blade": capture.subject.blade(),
        "station_deg": capture.subject.station(),
        "leading_edge": capture.subject.leading_edge(),
        "clip": capture.clip,
        "seat": capture.seat,
        "stick_percent": capture.stick,
        "datum": capture.datum.kind(),
        "sensor": capture.sensor,
        "limited_by": capture.limited_by,
        "accepted": capture.accepted,
        "travel_deg": travel.map(|(travel, _)| travel),
        "travel_expanded_uncertainty_deg": travel.map(|(_, expanded)| expanded),
        "target": target,
        "target_deg": target.map(|t| t.value()),
        "tolerance_deg": target.and_then(|t| t.tolerance()),
        "verdict": cell.map(|c| json!(c.verdict)["verdict"].clone()),
        "consequence": said["consequence"],
        "question": said["question"],
        "remarks": cell.map(remarks).unwrap_or_default(),
        "findings": said["findings"],
        "not_used": not_used_in(record, capture),
    });
    if let (serde_json::Value::Object(all), serde_json::Value::Object(more)) = (&mut document, more) {
        all.extend(more);
    }
    document
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
mod tests {
    use super::*;
    use clinoblade_rotor::{BladeName, LeadingEdge, Station};
    use clinoblade_units::{HalfTurns, Hertz, Percent};

    fn deg(degrees: f64) -> Angle {
        Angle::from_degrees(degrees)
    }

    fn cell(name: CellName, finding: CellFinding) -> Cell {
        let target = "at most 12".parse().unwrap();
        Cell {
            name,
            target,
            value: None,
            stands: None,
            verdict: Verdict::Missing,
            consequence: Some(finding),
            question: None,
            remarks: Vec::new(),
            history: Vec::new(),
            owed: false,
            left_out: None,
        }
    }

    fn up() -> CellName {
        CellName::Limit("elevator up".parse().unwrap())
    }

    fn findings() -> Vec<CellFinding> {
        let vibration = Vibration { frequency: Hertz::new(33.0), amplitude: deg(0.15) };
        let short = Shortfall { by: deg(1.2), of_collective: false, limit: Percent::new(75.0) };
        let (reference, other) = ("90".parse::<Station>().unwrap(), "270".parse::<Station>().unwrap());
        vec![
            CellFinding::NotCaptured { left_out: None },
            CellFinding::NotCaptured { left_out: Some("the belt is off".to_owned()) },
            CellFinding::LeftOut { reason: "the belt is off".to_owned() },
            CellFinding::ZeroNotRead,
            CellFinding::TailNeutralNotRead,
            CellFinding::ZeroByDefinition,
            CellFinding::TrackNotRead,
            CellFinding::TrackZerosDiffer,
            CellFinding::TrackStationsDiffer { reference, other },
            CellFinding::Outside { by: deg(1.2) },
            CellFinding::CablePulls,
            CellFinding::JustShort,
            CellFinding::BackedOff { at: deg(8.2) },
            CellFinding::StickGoesFurther { share: Percent::new(88.0) },
            CellFinding::FallsShort(short),
            CellFinding::FallsShortUnbound { by: deg(1.2) },
            CellFinding::CornerBinds { short: Some(short), sign: BindSign::Buzz { vibration } },
            CellFinding::CornerBinds { short: None, sign: BindSign::Creep { by: deg(-0.4), expanded: deg(0.1) } },
            CellFinding::PastStall { pitch: deg(15.0) },
            CellFinding::AcceptedContradiction,
            CellFinding::BentToward { toward: deg(90.0) },
            CellFinding::NoNeutral,
            CellFinding::OneLeadingEdge { leading_edge: LeadingEdge::Up },
            CellFinding::JudgedFromZero { zero: deg(-0.31), travel: deg(10.6) },
            CellFinding::JudgedAsItStands { travel: deg(33.98), blade: BladeName::A },
            CellFinding::NeutralMoved { by: deg(0.4), expanded: deg(0.1) },
            CellFinding::OffItsStation { station: other, own: reference, share: 0.71 },
            CellFinding::NotUsed { capture: uuid::Uuid::nil(), why: Unused::NoNeutral },
            CellFinding::NotUsed {
                capture: uuid::Uuid::nil(),
                why: Unused::OffItsStation { station: other, own: reference, share: 0.71 },
            },
            CellFinding::Buzzes { vibration, backed_off: false },
            CellFinding::Buzzes { vibration, backed_off: true },
        ]
    }

    #[test]
    fn every_refusal_of_an_adjustment() {
        let refusals = [
            AdjustmentRefusal::NoSuchBlade { blade: "C".parse().unwrap(), blades: 2 },
            AdjustmentRefusal::TooManyHalfTurns(HalfTurns::whole(40)),
            AdjustmentRefusal::TooManyTeeth(clinoblade_record::Teeth::new(40)),
            AdjustmentRefusal::NoSuchServo(9),
            AdjustmentRefusal::SubTrim(clinoblade_units::Percent::new(250.0)),
        ];
        let said: Vec<String> = refusals.iter().map(|refusal| refusal.say(Face::Terminal)).collect();
        insta::assert_snapshot!(said.join("\n"));
    }

    #[test]
    fn where_no_command_can_be_typed_none_is_said() {
        for finding in findings() {
            for face in [Face::Page, Face::Paper, Face::Voice] {
                let said = consequence(&cell(up(), finding.clone()), face).unwrap();
                assert!(!said.contains("--") && !said.contains('`'), "{said}");
            }
        }
        for by in [Undecided::Questioned, Undecided::DoesItBind] {
            assert!(undecided(&by, Face::Terminal).contains("--as-read"));
            assert!(!undecided(&by, Face::Page).contains("--"));
        }
        for by in [Undecided::PitchUnknown, Undecided::TorqueSideUnknown] {
            assert!(undecided(&by, Face::Page).contains("apture") && !undecided(&by, Face::Page).contains("--"));
        }
    }

    #[test]
    fn an_end_that_was_never_captured_says_so_with_the_note_that_left_it_out() {
        let said = |left_out: Option<&str>| {
            let finding = CellFinding::NotCaptured { left_out: left_out.map(str::to_owned) };
            consequence(&cell(up(), finding), Face::Terminal).unwrap()
        };
        assert_eq!(said(None), "elevator up: not captured yet");
        assert_eq!(said(Some("the belt is off")), "elevator up: not captured yet (left out: the belt is off)");
    }

    #[test]
    fn every_finding_is_typed_beside_what_is_said_of_it() {
        for finding in findings() {
            let document = cell_document(&cell(up(), finding));
            assert!(document["findings"][0]["kind"].is_string(), "{document}");
            assert!(!document["consequence"].as_str().unwrap().is_empty(), "{document}");
        }
    }

    #[test]
    fn one_way_against_the_other_says_which_goes_further() {
        let said = |difference: f64, wanted: Option<f64>, significant: bool| {
            let (difference, expanded) = (deg(difference), deg(0.17));
            Asymmetry { axis: Axis::Rudder, wanted: wanted.map(deg), difference, expanded, significant }.say(Face::Page)
        };
        assert_eq!(said(-1.39, Some(0.0), true), "rudder: right 1.39° ± 0.17° more than left");
        assert_eq!(said(0.05, Some(0.0), false), "rudder: equal (± 0.17°)");
    }
}
