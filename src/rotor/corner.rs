//! Corners of the controls: the collective at one place and full cyclic in one of eight directions at once.

use super::{Aileron, Axis, Collective, Deflection, Elevator, ParseDeflectionError};
use std::fmt;
use std::str::FromStr;

/// Where the collective stands at a corner.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum CornerCollective {
    /// At its low end.
    Low,
    /// At mid stick.
    Mid,
    /// At its high end.
    High,
}

impl CornerCollective {
    /// The same as a position of the collective.
    #[must_use]
    pub const fn position(self) -> Collective {
        match self {
            Self::Low => Collective::Low,
            Self::Mid => Collective::Mid,
            Self::High => Collective::High,
        }
    }
}

/// Full cyclic: elevator, aileron or both at their ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum FullCyclic {
    /// Elevator up.
    Up,
    /// Elevator up, aileron right.
    UpRight,
    /// Aileron right.
    Right,
    /// Elevator down, aileron right.
    DownRight,
    /// Elevator down.
    Down,
    /// Elevator down, aileron left.
    DownLeft,
    /// Aileron left.
    Left,
    /// Elevator up, aileron left.
    UpLeft,
}

impl FullCyclic {
    /// All eight, round the stick.
    pub const ALL: [Self; 8] =
        [Self::Up, Self::UpRight, Self::Right, Self::DownRight, Self::Down, Self::DownLeft, Self::Left, Self::UpLeft];

    /// The end at which the elevator stands; none where it is at its centre.
    #[must_use]
    pub const fn elevator(self) -> Option<Elevator> {
        match self {
            Self::Up | Self::UpRight | Self::UpLeft => Some(Elevator::Up),
            Self::Down | Self::DownRight | Self::DownLeft => Some(Elevator::Down),
            Self::Left | Self::Right => None,
        }
    }

    /// The end at which the aileron stands; none where it is at its centre.
    #[must_use]
    pub const fn aileron(self) -> Option<Aileron> {
        match self {
            Self::Right | Self::UpRight | Self::DownRight => Some(Aileron::Right),
            Self::Left | Self::UpLeft | Self::DownLeft => Some(Aileron::Left),
            Self::Up | Self::Down => None,
        }
    }

    const fn word(self) -> &'static str {
        match self {
            Self::Up => "up",
            Self::UpRight => "up-right",
            Self::Right => "right",
            Self::DownRight => "down-right",
            Self::Down => "down",
            Self::DownLeft => "down-left",
            Self::Left => "left",
            Self::UpLeft => "up-left",
        }
    }
}

/// One corner. Written `high up`, `low down-left`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Corner {
    /// Where the collective stands.
    pub collective: CornerCollective,
    /// Where the cyclic stands.
    pub cyclic: FullCyclic,
}

impl Corner {
    /// The deflections that it is made of, each of one axis alone.
    pub fn parts(self) -> impl Iterator<Item = Deflection> {
        let collective = match self.collective {
            CornerCollective::Mid => None,
            other => Some(Deflection::Collective(other.position())),
        };
        let elevator = self.cyclic.elevator().map(Deflection::Elevator);
        let aileron = self.cyclic.aileron().map(Deflection::Aileron);
        [collective, elevator, aileron].into_iter().flatten()
    }

    /// Whether the stick of this axis is away from its centre.
    #[must_use]
    pub const fn deflects(self, axis: Axis) -> bool {
        match axis {
            Axis::Elevator => self.cyclic.elevator().is_some(),
            Axis::Aileron => self.cyclic.aileron().is_some(),
            Axis::Collective => !matches!(self.collective, CornerCollective::Mid),
            Axis::Rudder => false,
            Axis::Corner => true,
        }
    }
}

impl fmt::Display for Corner {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&format!("{} {}", Deflection::Collective(self.collective.position()).direction(), self.cyclic.word()))
    }
}

impl FromStr for Corner {
    type Err = ParseDeflectionError;

    /// Reads `high up-right`; the names of the axes may stand between: `high elevator up aileron right`.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let wrong = || ParseDeflectionError::Direction { axis: Axis::Corner, direction: text.to_owned() };
        let plain = text.trim().to_lowercase().replace(['-', '+', ','], " ");
        let axes = ["collective", "elevator", "aileron"];
        let mut words = plain.split_whitespace().filter(|word| !axes.contains(word));
        let collective = match words.next() {
            Some("low") => CornerCollective::Low,
            Some("mid") => CornerCollective::Mid,
            Some("high") => CornerCollective::High,
            _ => return Err(wrong()),
        };
        let mut ways: Vec<&str> = words.collect();
        // Said either way round, it is one corner.
        ways.sort_by_key(|way| matches!(*way, "left" | "right"));
        let said = ways.join("-");
        let cyclic = FullCyclic::ALL.into_iter().find(|cyclic| cyclic.word() == said).ok_or_else(wrong)?;
        Ok(Self { collective, cyclic })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_corner_is_read_as_it_is_spoken_and_written_one_way() {
        for (said, written) in [
            ("high up", "high up"),
            ("Low down-left", "low down-left"),
            ("mid right", "mid right"),
            ("high elevator up", "high up"),
            ("high aileron right elevator up", "high up-right"),
            ("collective low, elevator down, aileron left", "low down-left"),
        ] {
            let corner: Corner = said.parse().unwrap();
            assert_eq!(corner.to_string(), written, "{said}");
            assert_eq!(written.parse::<Corner>(), Ok(corner));
            let deflection: Deflection = format!("corner {said}").parse().unwrap();
            assert_eq!(deflection.to_string(), format!("corner {written}"));
        }
    }

    #[test]
    fn what_no_stick_can_do_is_no_corner() {
        for wrong in ["high", "up", "high up down", "high left right", "high neutral", "50% up", "high up up", ""] {
            let error = wrong.parse::<Corner>().unwrap_err();
            let expected = ParseDeflectionError::Direction { axis: Axis::Corner, direction: wrong.to_owned() };
            assert_eq!(error, expected, "{wrong}");
        }
    }

    #[test]
    fn a_corner_is_made_of_deflections_of_one_axis_each() {
        let parts = |text: &str| text.parse::<Corner>().unwrap().parts().map(|p| p.to_string()).collect::<Vec<_>>();
        assert_eq!(parts("high up-right"), ["collective high", "elevator up", "aileron right"]);
        assert_eq!(parts("mid left"), ["aileron left"]);
        let corner: Corner = "mid left".parse().unwrap();
        let deflected: Vec<bool> =
            [Axis::Elevator, Axis::Aileron, Axis::Rudder, Axis::Collective].map(|axis| corner.deflects(axis)).to_vec();
        assert_eq!(deflected, [false, true, false, false]);
    }
}
