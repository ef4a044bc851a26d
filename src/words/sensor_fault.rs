//! What a sensor sends that cannot be true, in words: what it is, why it may be so, and what to do.

use super::{Face, Say};
use clinoblade_sensor::SensorFault;

impl Say for SensorFault {
    fn say(&self, face: Face) -> String {
        let calibrate = match face {
            Face::Terminal => "calibrate it (`sensor calibrate`)",
            _ => "calibrate it",
        };
        match *self {
            Self::Dead => {
                "The sensor sends 0, 0, 0: it measures nothing. Check its wiring and supply, then power it off and on."
                    .to_owned()
            }
            Self::Frozen { over } => format!(
                "The sensor is frozen: no axis has changed for {:.1} s, although its own noise must show. Power it off and on.",
                over.value()
            ),
            Self::Stuck { axis, over } => format!(
                "Axis {axis} of the sensor is stuck: it has not changed for {:.1} s, although its own noise must show. Power the sensor off \
                 and on; if it stays, it is broken.",
                over.value()
            ),
            Self::EndOfRange { axis } => format!(
                "Axis {axis} of the sensor is at the end of its range, so no angle can be told. If the blade is still, set the sensor to a \
                 larger range or replace it."
            ),
            Self::GravityOff { gravity, allowed } => format!(
                "At rest the calibrated sensor shows {:.3} g instead of 1 g; {:.3} g either way is allowed. Its range or rate setting was \
                 changed, it is another sensor, or the calibration is another one's. Put that right, or {calibrate} anew.",
                gravity.value(),
                allowed.value()
            ),
            Self::WrongScale { gravity } => format!(
                "At rest the sensor shows {:.3} g instead of 1 g, further off than any sensor without a calibration: its counts per g are \
                 wrong. Check its range setting{}, or {calibrate}.",
                gravity.value(),
                if face == Face::Terminal { ", --profile and --counts-per-g" } else { " and profile" }
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clinoblade_units::{Gravities, Seconds};

    #[test]
    fn every_fault_says_what_it_is_and_what_to_do() {
        let faults = [
            SensorFault::Dead,
            SensorFault::Frozen { over: Seconds::new(0.26) },
            SensorFault::Stuck { axis: 'x', over: Seconds::new(1.5) },
            SensorFault::EndOfRange { axis: 'z' },
            SensorFault::GravityOff { gravity: Gravities::new(0.5012), allowed: Gravities::new(0.0262) },
            SensorFault::WrongScale { gravity: Gravities::new(2.0031) },
        ];
        let said = [Face::Terminal, Face::Page].map(|face| faults.map(|fault| fault.say(face)).join("\n"));
        insta::assert_snapshot!(said.join("\n\n"));
    }
}
