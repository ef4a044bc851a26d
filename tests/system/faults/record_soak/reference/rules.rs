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
    /// New parts, and blades that change places, move what is read on them.
    PartsMoveBlades,
    /// A servo that the head's description calls the tail's moves the tail, whatever it is called when it is turned.
    TailServoIsNamed,
    /// What was recorded as turned, and was not, has moved nothing.
    TurnsAreTakenBack,
    /// What was left out by mistake is owed again.
    SkipsAreTakenBack,
    /// A spindle that was turned in one plane may be bent across it.
    OnePlaneShowsNoBend,
    /// An older check of a spindle counts only where the newest does not tell the whole.
    NewestCheckCounts,
    /// What was read of another spindle, or before a crash, says nothing of this one.
    NewPartsEndAPool,
    /// How a blade hangs is another matter once it, or what carries it, was replaced.
    NewPartsHangAnew,
    /// At a corner the movements of its parts add up.
    CornersAddUp,
    /// A corner is deflected by every axis that it is made of.
    CornersHaveAxes,
    /// An output on the way was read at the end point that was in force then.
    PointsHaveEndPoints,
    /// After a crash everything is owed that is otherwise measured at will.
    CrashOwesAll,
    /// A stick backed off by hand may go on into the bind.
    BoundMayGoOn,
    /// Whoever left something out has no record that is good.
    LeftOutIsNotGood,
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

    /// What its stories are about, where an account forgets something that a whole story seldom asks for.
    pub const fn about(self) -> Option<Rule> {
        self.forgotten
    }

    /// Whether turning this can have moved what that capture read.
    pub fn touch(self, turned: &str, shot: &Shot) -> bool {
        self.touches(turned, shot.wish.what, shot.wish.place)
    }

    /// Whether turning this can have moved what is read of this deflection at this place.
    pub fn touches(self, turned: &str, what: &str, place: Place) -> bool {
        if turned.contains("end point") && !self.know(Rule::EndPointsMoveEnds) {
            return false;
        }
        let deflects = |axis| deflects(what, axis) && (self.know(Rule::CornersHaveAxes) || axis_of(what) != "corner");
        let on_main = matches!(place, Place::Main { .. });
        let on_blade = |name: &str| matches!(place, Place::Main { blade, .. } if name.starts_with(blade));
        let by_parts = |moved: bool| moved && self.know(Rule::PartsMoveBlades);
        let words: Vec<&str> = turned.split(' ').collect();
        match words[..] {
            ["crash"] | ["parts", "replaced"] | ["mixing", "changed"] => true,
            ["spindle" | "shaft" | "blades", "replaced"] => by_parts(on_main),
            ["grip" | "blade", of, "replaced"] => by_parts(on_blade(of)),
            ["blades", one, "and", other, "exchanged"] => by_parts(on_blade(one) || on_blade(other)),
            ["link", of, ..] => on_blade(of),
            ["sub-trim", TAIL_SERVO, ..] | ["servo", TAIL_SERVO, "replaced"] | ["servo", "arm", TAIL_SERVO, ..] => {
                on_main != self.know(Rule::TailServoIsNamed)
            }
            ["swash", ..] | ["servo", ..] | ["sub-trim", ..] => on_main,
            ["tail", ..] | ["rudder", "trim", ..] => !on_main,
            // Whatever the stick moves at its ends its trim moves everywhere.
            [_, "trim", ..] => on_main,
            ["phase", ..] | ["cyclic", "range", ..] => deflects("elevator") || deflects("aileron"),
            ["collective", "range", ..] => deflects("collective"),
            ["reverse", of, ..] => deflects(of),
            // What is left is an end point, of one end or both: a shared rod ties the two together.
            [of, ..] => deflects(of),
            [] => false,
        }
    }

    /// Whether a check of the spindle with this blade is of another spindle once this was done.
    pub fn renews_spindle(self, turned: &str, blade: char) -> bool {
        match turned {
            "spindle replaced" | "shaft replaced" | "crash" | "parts replaced" => self.know(Rule::NewPartsEndAPool),
            grip => grip.strip_prefix("grip ").is_some_and(|of| of.starts_with(blade)),
        }
    }

    /// Whether blades A and B may hang otherwise against each other once this was done.
    pub fn hangs_anew(self, turned: &str) -> bool {
        let whole = ["spindle replaced", "shaft replaced", "blades replaced", "crash", "parts replaced"];
        let of_one = ["grip ", "blade ", "blades A"].iter().any(|of| turned.starts_with(of));
        (whole.contains(&turned) || of_one) && self.know(Rule::NewPartsHangAnew)
    }
}

/// The servo that moves the tail of this head, by its description.
const TAIL_SERVO: &str = "4";

pub fn axis_of(what: &str) -> &str {
    what.split(' ').next().unwrap()
}

pub fn is_centred(what: &str) -> bool {
    matches!(what, "elevator neutral" | "aileron neutral" | "collective mid" | "rudder neutral")
}

/// What a corner is made of, each of one axis alone.
pub fn parts_of(corner: &str) -> Vec<&'static str> {
    let words: Vec<&str> = corner.split([' ', '-']).collect();
    let named = |word: &str, what: &'static str| words.contains(&word).then_some(what);
    let parts = [
        named("low", "collective low"),
        named("high", "collective high"),
        named("up", "elevator up"),
        named("down", "elevator down"),
        named("left", "aileron left"),
        named("right", "aileron right"),
    ];
    parts.into_iter().flatten().collect()
}

/// Whether the stick of this axis is away from its centre.
fn deflects(what: &str, axis: &str) -> bool {
    match axis_of(what) {
        "corner" => parts_of(what).iter().any(|part| axis_of(part) == axis),
        of => of == axis && !is_centred(what),
    }
}

/// The output that an end point in these words lets through at this end, percent; none where it is of something else.
pub fn end_point(turned: &str, end: &str) -> Option<f64> {
    let (of, output) = turned.strip_suffix(" %")?.split_once(" end point ")?;
    (of == end || of == axis_of(end)).then(|| output.parse().expect("percent"))
}
