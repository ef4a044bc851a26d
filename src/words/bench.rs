//! The running session in words: what is read, kept and shown at the bench.

use super::{Face, by_ear};
use clinoblade_rotor::{Carrier, Deflection};
use clinoblade_units::Angle;

/// Nothing is done any more.
pub const SESSION_ENDED: &str = "The session has ended. What was captured is kept.";
/// A recording is over.
pub const STREAM_ENDED: &str = "The stream has ended.";
/// Two sensors were away at once whose ports alone tell them apart: what shows which is which.
#[must_use]
pub fn which_is_which(carrier: Option<Carrier>) -> String {
    format!(
        "Two sensors were unplugged at once and may have changed places. Tilt {} by 10° with your hand, and leave the other alone.",
        blade(carrier)
    )
}

/// Another sensor moved than the one that should have.
#[must_use]
pub fn exchanged(carrier: Option<Carrier>) -> String {
    format!(
        "The other sensor moved, not that of {}: they have changed places. Unplug both and plug them in again, each where it was.",
        blade(carrier)
    )
}

/// Spoken of a line of which more than half comes damaged.
pub const BAD_LINE: &str = "More than half of what the sensor sends comes damaged. Check the cable.";

/// What has come back on a port shows that it is another sensor than before.
#[must_use]
pub fn another_sensor(carrier: Option<Carrier>) -> String {
    format!(
        "The sensor that has come back is not the one that was unplugged: its zero and its calibration are not those in use. Plug \
         the first one in again, or end here and begin with a zero of this one. To go on as it is, tilt {} by 10° with your hand.",
        blade(carrier)
    )
}

fn blade(carrier: Option<Carrier>) -> String {
    carrier.map_or_else(|| "the blade".to_owned(), Carrier::said)
}

/// A shared logbook could not be reached.
pub const KEPT_ON_THIS_BENCH: &str =
    "The shared logbook cannot be reached: the capture is kept on this bench until it can.";
/// Note of a capture that was taken back.
pub const WITHDRAWN: &str = "taken back as wrong at the bench";
/// Note of a direction that was left out.
pub const LEFT_OUT: &str = "left out at the bench";
/// Title of a picture.
pub const AZIMUTH_PICTURE: &str = "Pitch round the turn, sticks at neutral";
/// Title of a picture.
pub const COLLECTIVE_PICTURE: &str = "Pitch against collective stick";
/// Title of the picture of a sensor's noise.
#[must_use]
pub fn noise_picture(carrier: Option<Carrier>) -> String {
    match carrier {
        Some(carrier) => format!("The noise of the sensor on {} while the blade was still", carrier.said()),
        None => "The sensor's noise while the blade was still".to_owned(),
    }
}

/// From where a blade is drawn; of a main blade, whether its leading edge lies on the right.
#[must_use]
pub fn seen_from_the_tip(leading_edge_right: Option<bool>) -> String {
    let side = match leading_edge_right {
        Some(true) => ", leading edge to the right",
        Some(false) => ", leading edge to the left",
        None => "",
    };
    format!("seen from the tip{side}")
}

/// A value that was just captured, spoken.
#[must_use]
pub fn captured(what: Deflection, value: Angle) -> String {
    by_ear(Face::Voice, format!("{what}: {:.1} degrees.", value.degrees()))
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use clinoblade_rotor::{BladeName, Elevator, Rudder};

    /// Everything of the bench on one face, a line each.
    pub fn all() -> Vec<String> {
        let mut lines =
            [SESSION_ENDED, STREAM_ENDED, KEPT_ON_THIS_BENCH, WITHDRAWN, LEFT_OUT].map(str::to_owned).to_vec();
        lines.extend([AZIMUTH_PICTURE, COLLECTIVE_PICTURE].map(str::to_owned));
        lines.extend([None, Some(Carrier::Tail), Some(Carrier::Main(BladeName::A))].map(noise_picture));
        lines.extend([Some(true), Some(false), None].map(seen_from_the_tip));
        lines.extend([which_is_which(Some(Carrier::Main(BladeName::A))), exchanged(Some(Carrier::Tail))]);
        lines.extend([another_sensor(None), BAD_LINE.to_owned()]);
        let degrees = Angle::from_degrees;
        lines.push(captured(Deflection::Elevator(Elevator::Up), degrees(8.94)));
        lines.push(captured(Deflection::Rudder(Rudder::Left), degrees(-0.2)));
        lines
    }

    #[test]
    fn the_bench_on_the_page_and_by_voice() {
        insta::assert_snapshot!(all().join("\n"));
    }
}
