//! What one command alone prints.

use super::{Face, Say, angle, with_uncertainty};
use clinoblade_guide::SweepMove;
use clinoblade_record::{SpindleCheck, SpindleError, Subject};
use clinoblade_rotor::{Axis, BladeName, Datum, Deflection, Spot, Station};
use clinoblade_units::Angle;
use std::fmt::Display;
use std::ops::RangeInclusive;

// capture

/// What is read next.
#[must_use]
pub fn hold(subject: Subject) -> String {
    format!("{subject}: hold the stick still …")
}

/// A stick position that is not that of the direction.
#[must_use]
pub fn stick_range(deflection: Deflection, ways: &RangeInclusive<f64>) -> String {
    let (from, to) = (ways.start(), ways.end());
    if deflection.axis() == Axis::Collective {
        format!("For {deflection}, --stick must be {from} to {to} percent (0 is the low end, 100 the high end).")
    } else {
        format!("For {deflection}, --stick must be {from:+} to {to:+} percent.")
    }
}

/// The side that the stick came from.
pub const BELOW_OR_ABOVE: &str = "write below or above";

/// A reading that is not as it was expected.
pub const RECORD_AS_READ: &str = "Record it as it was read?";

/// The same where nobody answers.
#[must_use]
pub fn not_recorded(question: &str) -> String {
    format!("{question}\nNothing was recorded. If the reading is right, capture it again with --as-read.")
}

/// What else to capture, before a corner can be held against the sum of its parts.
#[must_use]
pub fn corner_needs(subject: Subject, needs: &[impl Display]) -> String {
    let station = subject.station().map(|station| format!(" --station {}", f64::from(station))).unwrap_or_default();
    let needs: Vec<String> = needs.iter().map(ToString::to_string).collect();
    format!("To judge this corner, capture here too (--blade {}{station}): {}", subject.blade(), needs.join(", "))
}

// datum

/// A zero that was set.
#[must_use]
pub fn zero_set(datum: Datum) -> String {
    match datum {
        Datum::Gravity => "Zero set: gravity's level, by the calibration alone.".to_owned(),
        Datum::Surface { up, heading, u, .. } => {
            let reads = with_uncertainty(up.apparent_pitch(), u * 2.0);
            format!("Zero set: this surface, which reads {reads} along station {heading}.")
        }
        Datum::Reversal { instrument, slope, u } => {
            let error = with_uncertainty(instrument.chord, u * 2.0);
            format!("Zero set: sensor error {error} removed. Surface slopes {:.2}°.", slope.degrees().abs())
        }
        Datum::Neutral { apparent, place, u } => {
            format!("Zero set: blade {} as it stands, {}.", place.blade, with_uncertainty(apparent, u * 2.0))
        }
        Datum::Shaft { tilt, u, .. } => format!(
            "Zero set: square to the shaft, which leans {} to the nose and {} to the left.",
            with_uncertainty(tilt.nose, u * 2.0),
            with_uncertainty(tilt.left, u * 2.0)
        ),
    }
}

/// Captures that do not tell the lean of the shaft.
pub const LEAN_UNKNOWN: &str =
    "No zero was set: these captures do not tell how the shaft leans. `clinoblade rotor` says which are missing.";

/// Captures from before the model was moved.
pub const SHAFT_MOVED: &str = "No zero was set: the model was moved, or the sensor changed, since these captures, and the shaft leans \
                               otherwise now. Capture the blades round the turn again.";

/// A reversal of a recording.
pub const TURNING_NEEDS_A_SENSOR: &str =
    "A reversal needs a sensor that you can turn: name a --port or --tcp, or add --paced.";

/// Before the first rest of a reversal.
pub const LAY_THE_SENSOR: &str = "Lay the sensor on a flat surface, right way up, and let go. It need not be level; one that slopes a little is better.";

/// The same on a blade.
pub const CLIP_THE_SENSOR: &str = "Put the clip on the blade, forward, and let go.";

/// Between its first and second rest.
pub const TURN_THE_SENSOR: &str = "Now turn the sensor end for end on the same spot, and let go.";

/// Between its second and third rest.
pub const TURN_IT_BACK: &str = "Now turn it back, as it lay first, and let go.";

/// Nobody turned it back.
pub const NOT_CLOSED: &str = "The sensor was not turned back, so a drift would not show.";

/// It reads the same both ways.
pub const READS_THE_SAME: &str =
    "The sensor reads the same both ways: it was not turned end for end, or the surface is level.";

/// Asked about it.
pub const WAS_TURNED: &str = "Was it turned end for end?";

/// Nobody could be asked about it.
#[must_use]
pub fn not_turned() -> String {
    format!(
        "No zero was set. {READS_THE_SAME} Lay something under one edge and begin again; if it was turned, add --turned: \
         `clinoblade datum reversal --turned`"
    )
}

/// The third rest of a reversal is not the first.
#[must_use]
pub fn not_back(off: Angle) -> String {
    format!(
        "No zero was set: turned back, the sensor reads {} otherwise than at first. It does not lie as it lay, or it drifts. Let \
         it warm up, and begin again.",
        angle(off, 2)
    )
}

/// A reversal that was closed: by how much the sensor has drifted meanwhile.
#[must_use]
pub fn closed(off: Angle) -> String {
    format!("Turned back, it reads {} otherwise: no drift to speak of.", angle(off, 2))
}

/// The error that the reversal before this one found, and whether it has changed.
#[must_use]
pub fn reversal_before(before: (Angle, Angle), now: (Angle, Angle)) -> String {
    let moved = (now.0 - before.0).wrapped();
    let changed = if moved.abs() > before.1.hypot(now.1) * 2.0 {
        " It has changed: was the sensor knocked, or warmed up?"
    } else {
        " The same within both uncertainties."
    };
    format!("The last reversal found {}.{changed}", with_uncertainty(before.0, before.1 * 2.0))
}

/// Gravity's level would displace a reversal.
#[must_use]
pub fn displaces(found: Angle, u: Angle) -> String {
    format!(
        "The zero of this setup is a reversal: it takes the sensor's own error of {} off.",
        with_uncertainty(found, u * 2.0)
    )
}

/// Asked about it.
pub const USE_GRAVITY: &str = "Use gravity's level instead, with that error in every angle?";

/// Nobody could be asked about it.
#[must_use]
pub fn displace_first(matter: &str) -> String {
    format!("{matter} To use gravity's level instead: `clinoblade datum gravity --replace`")
}

/// A new setup takes the reversal of its sensor over.
#[must_use]
pub fn taken_over(setup: u32, found: Angle, u: Angle) -> String {
    format!(
        "Zero taken over from setup {setup}: reversal, sensor error {} removed. If the sensor was out of its clip since, do \
         `clinoblade datum reversal` again.",
        with_uncertainty(found, u * 2.0)
    )
}

/// A new setup does not take over a reversal that was done on a blade.
pub const NOT_TAKEN_OVER: &str = "The last reversal was done on a blade, with the clip as it sat there; it is not taken over. Do \
                                  `clinoblade datum reversal` for this setup.";

/// A sensor that is touched all the time.
pub const NO_ZERO_RESTLESS: &str =
    "No zero was set: the sensor was never still for long enough. Let it lie and try again.";

/// A stream that ended too early.
pub const NO_ZERO_ENDED: &str = "No zero was set: the stream ended before the sensor was turned.";

/// A person who did not turn the sensor.
pub const NO_ZERO_NOT_TURNED: &str = "No zero was set: the sensor was not turned within two minutes.";

// spindle

/// A reading that has to be waited for by hand.
pub const SPINDLE_NEEDS_A_SENSOR: &str = "You turn the spindle between two readings: name a --port or --tcp.";

/// Before the first reading.
#[must_use]
pub fn links_off(blade: BladeName, station: Station) -> String {
    format!("Take the links off, put blade {blade} at station {station}, and press Enter.")
}

/// Before the first reading at another seat than the spindle's mark.
#[must_use]
pub fn links_off_and_turned(blade: BladeName, station: Station, seat: u16) -> String {
    format!(
        "Take the links off, turn the spindle to {seat}° from its mark, put blade {blade} at station {station}, and press Enter."
    )
}

/// Before each further reading: the seats before and now, degrees from the spindle's mark.
#[must_use]
pub fn turn_the_spindle(blade: BladeName, station: Station, from: u16, to: u16) -> String {
    let turn = match (to + 360 - from) % 360 {
        180 => "half round".to_owned(),
        90 => format!("a quarter on (to {to}° from its mark)"),
        _ => format!("to {to}° from its mark"),
    };
    format!(
        "Turn the spindle {turn} in its grips without touching the clip, put blade {blade} at station {station} again, and press \
         Enter."
    )
}

impl Say for SpindleError {
    fn say(&self, _: Face) -> String {
        match self {
            Self::NoQuarter(seat) => format!("{seat}° is not a seat of the spindle: 0, 90, 180 and 270 are."),
            Self::Twice(seat) => format!("{seat}° is named twice: each seat is read once."),
            Self::NoOpposite => "Two of the seats must be half a turn apart, such as --seats 0,90,180,270.".to_owned(),
        }
    }
}

/// Input that ended before all readings were taken.
pub const SPINDLE_BROKEN_OFF: &str = "Nothing was recorded: the input ended before all readings were taken.";

/// A blade that moved all the time.
pub const SPINDLE_RESTLESS: &str = "Nothing was recorded: the blade was never still for long enough.";

/// The readings of a spindle.
#[must_use]
pub fn span_slopes(check: &SpindleCheck) -> String {
    let slopes: Vec<String> =
        check.turned().map(|(turned, slope)| format!("{} at {turned}°", angle(slope, 2))).collect();
    format!("span slope {}", slopes.join(", "))
}

/// How far the spindle is bent, as measured and as wanted, and the verdict.
#[must_use]
pub fn bend(measured: &str, wanted: &str, verdict: &str) -> String {
    format!("bend {measured}, wanted {wanted}: {verdict}")
}

// sweep

/// What to move next.
#[must_use]
pub fn sweep_move(wanted: SweepMove) -> String {
    match wanted {
        SweepMove::Centre => "All sticks at neutral.".to_owned(),
        SweepMove::To(way) => format!("Now {way}, all the way, and hold a moment."),
        SweepMove::Back => "Let the stick go back.".to_owned(),
    }
}

/// Where the clip has to be for the next axis.
#[must_use]
pub fn clip_to(axis: Axis, blade: BladeName, spot: Spot) -> String {
    match spot {
        Spot::Main(station) => format!("{axis}: put the clip on blade {blade} at {station}, and press Enter."),
        Spot::Tail(edge) => {
            format!("{axis}: put the clip on tail blade {blade}, its leading edge {edge}, and press Enter.")
        }
    }
}

/// Input that ended between two axes.
#[must_use]
pub fn sweep_broken_off(axis: Axis) -> String {
    format!("The input ended before {axis} was moved. The axes before it are recorded.")
}

/// Several axes of a recording.
pub const CLIP_MOVES: &str = "You move the clip between the axes: name one axis, or a --port or --tcp.";

/// An axis without two ends.
#[must_use]
pub fn not_swept(axis: Axis) -> String {
    format!("{axis} has no two ends to sweep: name elevator, aileron or rudder.")
}

/// A station at which the blade hardly moves with this axis.
#[must_use]
pub fn hardly_shows(axis: Axis, station: Station, own: Station) -> String {
    format!("At {station} the {axis} hardly shows: read it near {own}.")
}

/// A tail blade of which nobody knows how it moves.
pub const TAIL_WAY_UNKNOWN: &str = "It is not known which way the rudder moves this blade. First do `clinoblade capture rudder \
                                    right`, or write tail.positive in the head's description.";

/// Lost motion of a swept axis.
#[must_use]
pub fn lost_motion(axis: Axis, lost: Angle) -> String {
    format!("{axis}: lost motion {:.2}° at neutral", lost.degrees().abs())
}

/// The end of a sweep.
#[must_use]
pub const fn swept(good: bool) -> &'static str {
    if good { "Every end is reached." } else { "Not every end is reached as recorded." }
}

// the page

/// The address of something that the page serves.
#[must_use]
pub fn url(address: impl Display, path: &str) -> String {
    format!("http://{address}/{path}")
}

/// Where the page is.
#[must_use]
pub fn page_at(url: &str) -> String {
    format!("The bench page: {url}   (Ctrl-C ends; what was captured is kept)")
}

/// A page over a recording.
pub const PAGE_NEEDS_A_SENSOR: &str =
    "The page needs a sensor that is connected: name a --port or --tcp, or add --paced.";

/// An address that cannot be listened at.
#[must_use]
pub fn page_not_served(address: &str, cause: &std::io::Error) -> String {
    format!("Cannot serve the page at {address}: {cause}. Name another address, such as --listen 127.0.0.1:8651.")
}

/// How another device is let in.
#[must_use]
pub fn pair(url: &str) -> String {
    format!("Scan it with the phone, or open {url}\nEach code lets in one device; then the next one is shown.")
}

/// A bench without a browser.
pub const NO_BROWSER: &str = "Cannot open a browser here: open the address by hand.";

#[cfg(test)]
mod tests {
    use super::*;
    use clinoblade_rotor::{Clip, Collective, InstrumentError, LeadingEdge, Place, Rotation, ShaftTilt};
    use clinoblade_units::BladeVector;
    use std::io::{Error, ErrorKind};

    fn deg(degrees: f64) -> Angle {
        Angle::from_degrees(degrees)
    }

    fn station(degrees: f64) -> Station {
        Station::from_degrees(degrees).unwrap()
    }

    #[test]
    fn zeros() {
        let place = Place { blade: BladeName::A, spot: Spot::Main(station(90.0)), clip: Clip::Forward };
        let instrument = InstrumentError { chord: deg(1.03), span: deg(0.0) };
        let up = BladeVector { span: 0.0, chord: 0.0, normal: 1.0 };
        let tilt = ShaftTilt { nose: deg(0.4), left: deg(-0.2) };
        let all = [
            Datum::Gravity,
            Datum::Surface { up, heading: station(90.0), instrument: None, u: deg(0.036) },
            Datum::Reversal { instrument, slope: deg(-0.81), u: deg(0.036) },
            Datum::Neutral { apparent: deg(-2.5), place, u: deg(0.02) },
            Datum::Shaft { tilt, rotation: Rotation::Clockwise, clip_offset: None, u: deg(0.05) },
        ];
        let said: Vec<String> = all.iter().map(|&datum| zero_set(datum)).collect();
        insta::assert_snapshot!(said.join("\n"));
    }

    #[test]
    fn commands() {
        let up = Deflection::new(Axis::Elevator, "up").unwrap();
        let corner = Deflection::new(Axis::Corner, "high up-right").unwrap();
        let subject = |deflection| Subject::new(deflection, BladeName::A, Spot::Main(station(90.0))).unwrap();
        let seats = [(0, 0.4), (90, 0.1), (180, -0.3), (270, 0.0)].map(|(seat, slope)| (seat, deg(slope), deg(0.01)));
        let spindle = SpindleCheck::new(BladeName::A, station(90.0), &seats).unwrap();
        let all = [
            hold(subject(up)),
            stick_range(up, &(1.0..=100.0)),
            stick_range(Deflection::Collective(Collective::Low), &(0.0..=49.0)),
            not_recorded("It moved the other way."),
            corner_needs(subject(corner), &[up]),
            links_off(BladeName::A, station(90.0)),
            links_off_and_turned(BladeName::A, station(90.0), 90),
            turn_the_spindle(BladeName::A, station(90.0), 0, 180),
            turn_the_spindle(BladeName::A, station(90.0), 0, 90),
            turn_the_spindle(BladeName::A, station(90.0), 180, 90),
            span_slopes(&spindle),
            SpindleError::NoQuarter(45).say(Face::Terminal),
            SpindleError::Twice(90).say(Face::Terminal),
            SpindleError::NoOpposite.say(Face::Terminal),
            bend("0.35° ± 0.10°", "at most 0.20°", "outside"),
            sweep_move(SweepMove::Centre),
            sweep_move(SweepMove::To(up)),
            sweep_move(SweepMove::Back),
            clip_to(Axis::Elevator, BladeName::A, Spot::Main(station(90.0))),
            clip_to(Axis::Rudder, BladeName::A, Spot::Tail(LeadingEdge::Up)),
            sweep_broken_off(Axis::Rudder),
            not_swept(Axis::Collective),
            hardly_shows(Axis::Aileron, station(90.0), station(0.0)),
            lost_motion(Axis::Elevator, deg(0.42)),
            PAGE_NEEDS_A_SENSOR.to_owned(),
            LAY_THE_SENSOR.to_owned(),
            CLIP_THE_SENSOR.to_owned(),
            TURN_IT_BACK.to_owned(),
            NOT_CLOSED.to_owned(),
            not_turned(),
            not_back(deg(-1.34)),
            closed(deg(0.03)),
            reversal_before((deg(0.4), deg(0.04)), (deg(0.45), deg(0.04))),
            reversal_before((deg(0.4), deg(0.04)), (deg(0.9), deg(0.04))),
            displace_first(&displaces(deg(0.4), deg(0.04))),
            taken_over(3, deg(0.4), deg(0.04)),
            NOT_TAKEN_OVER.to_owned(),
            LEAN_UNKNOWN.to_owned(),
            SHAFT_MOVED.to_owned(),
            page_at("http://127.0.0.1:8650/"),
            page_not_served("127.0.0.1:80", &Error::from(ErrorKind::PermissionDenied)),
            pair("http://192.0.2.7:8650/pair?token=abc"),
        ];
        insta::assert_snapshot!(all.join("\n"));
    }
}
