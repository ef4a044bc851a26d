//! Why a cell is not decided, and what speaks against its value.

use super::{Face, Say, angle, with_uncertainty};
use clinoblade_filter::Vibration;
use clinoblade_record::{InQuestion, Undecided};

pub(super) fn in_question(reason: &InQuestion, face: Face) -> String {
    let again = "Capture it again.";
    match reason {
        InQuestion::Swept { reached, recorded } => format!(
            "it came to {} when it was moved once more, recorded {}. {again}",
            angle(*reached, 2),
            angle(*recorded, 2)
        ),
        InQuestion::PhaseDiffers { measured, expanded, described } => format!(
            "it was read where a control phase of {} shows it, and the readings round the turn show {}. Write control_phase_deg = {:.0} \
             in the description, begin a setup with it, and capture it where that shows it.",
            angle(*described, 0),
            with_uncertainty(*measured, *expanded),
            measured.degrees()
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

pub(super) fn undecided(by: &Undecided, face: Face) -> String {
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
        Undecided::PlateUntold => {
            "This sensor does not tell the tilt of the swashplate from the lean of the model. Level the model along \
             and across the boom and read it again, or read it with a sensor of three axes."
                .to_owned()
        }
        Undecided::PlateNeedsReversal => format!(
            "This zero does not tell the tilt of the swashplate from the lean of the model. Set zero by reversal{} and read blade A at \
             0°, 90°, 180° and 270° with the clip left on.",
            face.command(" (`clinoblade datum reversal`)", "")
        ),
        Undecided::OnePlane => one_plane(face),
    }
}

pub(super) fn does_it_bind(face: Face) -> String {
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

/// A vibration, in words.
pub(super) fn buzz(vibration: &Vibration) -> String {
    let (hertz, amplitude) = (vibration.frequency.value(), vibration.amplitude.degrees());
    format!("a servo buzzes ({hertz:.0} Hz, {amplitude:.2}° at the blade)")
}
