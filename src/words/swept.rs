//! What is said of ends that were moved to once more, of one end against the other, and of what is owed besides captures.

use super::{Face, Say, angle, plus_minus, size};
use clinoblade_record::{Asymmetry, Check, Reach, SweptEnd, trade};
use clinoblade_rotor::Axis;
use clinoblade_units::Angle;

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
