//! Numbers and axes that cannot be read.

use super::{Face, Say};
use clinoblade_units::{AxisMapError, ParseAngleError};

impl Say for ParseAngleError {
    fn say(&self, _: Face) -> String {
        format!("'{}' is not an angle. Write degrees, such as 11.5.", self.text)
    }
}

impl Say for AxisMapError {
    fn say(&self, _: Face) -> String {
        match self {
            Self::NoAxis(text) => format!("'{text}' is not a sensor axis. Write one of +x -x +y -y +z -z."),
            Self::SameAxis(axis) => {
                format!("Chord and normal both lie along the sensor's {axis} axis. Name two different axes.")
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clinoblade_units::{Angle, AxisMap, SensorAxis};

    #[test]
    fn what_cannot_be_read_is_said() {
        let angle = "up".parse::<Angle>().unwrap_err();
        let axis = "w".parse::<SensorAxis>().unwrap_err();
        let twice = AxisMap::new("-y".parse().unwrap(), "y".parse().unwrap()).unwrap_err();
        let said = [angle.say(Face::Terminal), axis.say(Face::Terminal), twice.say(Face::Terminal)];
        insta::assert_snapshot!(said.join("\n"), @r"
        'up' is not an angle. Write degrees, such as 11.5.
        'w' is not a sensor axis. Write one of +x -x +y -y +z -z.
        Chord and normal both lie along the sensor's y axis. Name two different axes.
        ");
    }
}
