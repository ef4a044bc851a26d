//! What the second account knows, rule by rule: one that forgets a rule must be found out.

use super::super::step::Place;
use super::Shot;

/// One rule of the trade.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rule {
    /// Whoever changes an end point has to measure that end again.
    EndPointsMoveEnds,
    /// An end of a stick with a centre is not decided before the blade was read there: the stick may never have moved.
    EndsNeedANeutral,
    /// A blade away from the station of an axis shows a part of its deflection only.
    PartsAreDivided,
    /// A stick that comes elsewhere, when it is moved once more, puts its end in question.
    SweepsContradict,
    /// Full stick may not go past where the linkage bound.
    BindsStopFullStick,
    /// A tail blade is judged by the pitch at which it stands, and not by its travel.
    TailStands,
    /// An end of the collective is judged by its pitch, and not by its travel.
    CollectiveIsPitch,
    /// Readings half a turn apart are free of the lean.
    HalfTurnsTellTheZero,
}

/// All rules, or all but one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rules {
    forgotten: Option<Rule>,
}

impl Rules {
    pub const ALL: Self = Self { forgotten: None };

    pub const fn without(rule: Rule) -> Self {
        Self { forgotten: Some(rule) }
    }

    pub fn know(self, rule: Rule) -> bool {
        self.forgotten != Some(rule)
    }

    /// Whether turning this can have moved what that capture read.
    pub fn touch(self, turned: &str, shot: &Shot) -> bool {
        let forgotten = turned.contains("end point") && !self.know(Rule::EndPointsMoveEnds);
        !forgotten && touches(turned, shot.wish.what, shot.wish.place)
    }
}

pub fn axis_of(what: &str) -> &str {
    what.split(' ').next().unwrap()
}

pub fn is_centred(what: &str) -> bool {
    matches!(what, "elevator neutral" | "aileron neutral" | "collective mid" | "rudder neutral")
}

/// Whether turning this can have moved what is read of this deflection at this place.
pub fn touches(turned: &str, what: &str, place: Place) -> bool {
    let (axis, centred) = (axis_of(what), is_centred(what));
    let on_main = matches!(place, Place::Main { .. });
    let words: Vec<&str> = turned.split(' ').collect();
    match words[..] {
        ["link", of, ..] => matches!(place, Place::Main { blade, .. } if of.starts_with(blade)),
        ["swash", ..] | ["servo", ..] | ["sub-trim", ..] => on_main,
        ["tail", ..] => !on_main,
        ["phase", ..] | ["cyclic", "range", ..] => !centred && (axis == "elevator" || axis == "aileron"),
        ["collective", "range", ..] => !centred && axis == "collective",
        ["reverse", of, ..] => !centred && axis == of,
        // What is left is an end point, of one end or both: a shared rod ties the two together.
        [of, ..] => !centred && axis == of,
        [] => false,
    }
}

/// The output that an end point in these words lets through at this end, percent; none where it is of something else.
pub fn end_point(turned: &str, end: &str) -> Option<f64> {
    let (of, output) = turned.strip_suffix(" %")?.split_once(" end point ")?;
    (of == end || of == axis_of(end)).then(|| output.parse().expect("percent"))
}
