//! Pairs of output and angle from the captures of a setup, and what they advise.
//!
//! *Output* is what reaches the servos, in percent: the end point of that direction times the share of the stick's way.
//! This takes the stick's curve as straight (no exponential); the collective counts from its middle, −100 low to +100 high.
//! *The end point* is the one last recorded before the capture (`adjust elevator up end point 95`). Before the first such
//! entry nobody has said where it stood; it is taken as 100 %, or as whatever the person says it was, and the answer says
//! so. *The angle* is the movement from the neutral of the same place: free of the lean of the shaft and of the
//! clip's offset. Neutral itself is a pair, no output and no movement.
//!
//! A pair outlives a change of its own end points: these choose a place on the curve and do not bend it. Whatever else
//! can have moved the blade since (a link, a sub-trim, the amount of cyclic, a reversal) voids it. Of one output the
//! newest reading counts, and all pairs are of one blade at one place, that of the newest.
//!
//! Just short of a bind the stick is often backed off to nobody knows where: such a capture is no pair, only a movement
//! beyond which nothing is advised. What was read beyond a bind before it was known was read against a stop, and is no
//! pair either. Whoever has gone further since, freely, has cleared the bind.

use super::adjustment::{Adjustment, Ends};
use super::bind::Bind;
use super::capture::{Capture, LimitedBy};
use super::head::Head;
use super::off_axis;
use super::setup::{Entry, turned};
use super::timeline::{Dated, Timeline, same_place};
use super::travel::{azimuth, neutral_for, own_budget};
use crate::advice::{Output, Pair, TravelCurve, TravelError};
use crate::rotor::{Axis, BladeName, Collective, Deflection, Spot};
use crate::uncertainty::{Budget, Target};
use crate::units::{Angle, Percent};
use uuid::Uuid;

/// The end point that is taken where none was recorded.
const USUAL_END_POINT: f64 = 100.0;

/// One capture as a pair.
#[derive(Debug, Clone, PartialEq)]
pub struct TravelPair {
    /// The capture.
    pub capture: Uuid,
    /// What was deflected.
    pub deflection: Deflection,
    /// Where the stick stood.
    pub stick: Percent,
    /// The end point in force.
    pub end_point: Percent,
    /// Whether nobody recorded it.
    pub assumed: bool,
    /// The output.
    pub output: Percent,
    /// Movement from neutral: positive in the commanded direction, on the collective with the sign of the pitch.
    pub moved: Angle,
    /// U of the movement, for 95 %.
    pub expanded: Angle,
}

/// What a direction of an axis, or the whole collective, does against output.
#[derive(Debug, Clone, PartialEq)]
pub struct TravelSurvey {
    /// The axis.
    pub axis: Axis,
    /// The blade that was read.
    pub blade: BladeName,
    /// Where it was read.
    pub spot: Spot,
    /// The captures, in order of output.
    pub pairs: Vec<TravelPair>,
    /// Angle against output, neutral among the pairs.
    pub curve: TravelCurve,
    /// Where the person met a bind.
    binds: Vec<Bind>,
}

/// What to set an end point to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EndPoint {
    /// Whose.
    pub end: Deflection,
    /// A whole percentage.
    pub set: Percent,
    /// The movement that it gives.
    pub gives: Angle,
    /// U of that, for 95 %.
    pub expanded: Angle,
    /// Whether that is further than was captured, where nobody has seen what the linkage does.
    pub beyond: bool,
    /// Whether the end point of the captures is not known and was taken as 100 %.
    pub assumed: bool,
}

/// Why there is no travel to advise.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TravelSurveyError {
    /// No pair.
    #[error("no captures: {0}")]
    NoCaptures(Deflection),
    /// The direction is none that has an end point.
    #[error("no end: {0}")]
    NoEnd(Deflection),
    /// Nothing but a bind.
    #[error("bound only: {0}")]
    BoundOnly(Deflection, Bind),
    /// The other end of the collective.
    #[error("other end: {end}")]
    OtherEnd {
        /// The pitch that is wanted.
        wanted: Angle,
        /// The output that it takes, percent.
        output: f64,
        /// The end that was named.
        end: Deflection,
    },
    /// No movement in that direction.
    #[error("other side: {0}")]
    OtherSide(Angle),
    /// The pairs give no answer.
    #[error(transparent)]
    Travel(#[from] TravelError),
    /// Past a bind.
    #[error("past bind: {wanted}")]
    PastBind {
        /// What it would take, percent.
        wanted: f64,
        /// Where the person met the bind.
        bind: Bind,
    },
    /// Far past a bind.
    #[error("binds before: {wanted}")]
    BindsBefore {
        /// The movement that is wanted.
        wanted: Angle,
        /// Where the person met the bind.
        bind: Bind,
    },
}

impl TravelSurvey {
    /// The pairs of one direction; of the collective, of its whole way. `before` is the end point before the first one
    /// that was recorded, where the person knows it.
    ///
    /// # Errors
    /// When the direction has no end point, no pair holds, or the pairs make no curve.
    pub fn new(
        head: &Head,
        entries: &[Entry],
        direction: Deflection,
        before: Option<Percent>,
    ) -> Result<Self, TravelSurveyError> {
        let timeline = Timeline::on(head, entries);
        let is_corner = direction.axis() == Axis::Corner;
        let whole = direction.axis() == Axis::Collective;
        if is_corner || (direction.is_neutral() && !whole) {
            return Err(TravelSurveyError::NoEnd(direction));
        }
        let wanted = |d: &&Dated<'_>| {
            let deflection = d.subject().deflection();
            let same = if whole { deflection.axis() == Axis::Collective } else { deflection == direction };
            same && !deflection.is_neutral() && outlives(d)
        };
        let enough = |d: &&Dated<'_>| off_axis::is_enough(head, d.capture);
        let captures: Vec<&Dated<'_>> = timeline.all().filter(wanted).filter(enough).collect();
        // What was read for the phase at another station is no newer place.
        let with_neutral = captures.iter().filter(|d| neutral_for(&timeline, d).is_some());
        let (subject, clip) = with_neutral
            .max_by_key(|d| (off_axis::is_whole(head, d.capture), d.order))
            .map(|d| (d.subject(), d.capture.clip))
            .ok_or(TravelSurveyError::NoCaptures(direction))?;
        let mut found: Vec<(TravelPair, Pair)> = Vec::new();
        let (mut binds, mut free): (Vec<Bind>, Vec<TravelPair>) = (Vec::new(), Vec::new());
        // Newest first.
        for dated in captures.into_iter().rev() {
            if !same_place(dated.subject(), subject) || dated.capture.clip != clip {
                continue;
            }
            let Some((told, pair)) = pair(head, &timeline, entries, dated, before) else { continue };
            let has_output = dated.capture.known_stick().is_some();
            if dated.capture.limited_by == LimitedBy::Bind {
                let bind = Bind::of(&told, has_output);
                if !free.iter().any(|newer| bind.is_short_of(newer)) {
                    binds.push(bind);
                }
            } else if binds.iter().any(|newer| newer.is_short_of(&told)) {
                continue;
            } else {
                free.push(told.clone());
            }
            let known = found.iter().any(|(newer, _)| (newer.output.value() - told.output.value()).abs() < 0.05);
            if has_output && !known {
                found.push((told, pair));
            }
        }
        turned_to_the_command(&mut found, &mut binds, whole);
        if let (true, Some(bind)) = (found.is_empty(), binds.first()) {
            return Err(TravelSurveyError::BoundOnly(subject.deflection(), *bind));
        }
        found.sort_by(|a, b| a.0.output.value().total_cmp(&b.0.output.value()));
        let neutral = Pair { output: Percent::new(0.0), angle: Angle::ZERO, budget: Budget::default() };
        let curve = TravelCurve::new(found.iter().map(|(_, pair)| pair.clone()).chain([neutral]))?;
        let pairs = found.into_iter().map(|(told, _)| told).collect();
        Ok(Self { axis: direction.axis(), blade: subject.blade(), spot: subject.spot(), pairs, curve, binds })
    }

    /// The output that brings an end to a movement from neutral.
    ///
    /// # Errors
    /// When it lies too far beyond the pairs, beyond a bind that the person met, or at another end than this.
    pub fn output_for(&self, end: Deflection, wanted: Angle) -> Result<Output, TravelSurveyError> {
        if self.axis != Axis::Collective && wanted <= Angle::ZERO {
            return Err(TravelSurveyError::OtherSide(wanted));
        }
        self.not_past_a_bind(wanted)?;
        let found = self.short_of_binds(self.curve.output_for(wanted)?)?;
        at_end(end, wanted, found)
    }

    /// The largest whole output that keeps an end under a ceiling for certain.
    ///
    /// # Errors
    /// As [`Self::output_for`].
    pub fn output_under(&self, end: Deflection, ceiling: Angle) -> Result<Output, TravelSurveyError> {
        // The ceiling bounds the size of the pitch at the low end of the collective too.
        let ceiling = if end == Deflection::Collective(Collective::Low) { -ceiling } else { ceiling };
        self.not_past_a_bind(ceiling)?;
        let found = self.short_of_binds(self.curve.output_under(ceiling)?)?;
        at_end(end, ceiling, found)
    }

    /// What the description wants of this end: its target, or to stay under its ceiling.
    ///
    /// # Errors
    /// As [`Self::output_for`].
    pub fn output_within(&self, end: Deflection, target: Target) -> Result<Output, TravelSurveyError> {
        match target {
            Target::Band { target, .. } => self.output_for(end, target),
            Target::AtMost(ceiling) => self.output_under(end, ceiling),
        }
    }

    /// What to set one end to, for an output that was found.
    #[must_use]
    pub fn end_point(&self, end: Deflection, found: &Output) -> EndPoint {
        EndPoint {
            end,
            set: Percent::new(found.whole.value().abs()),
            gives: found.angle,
            expanded: found.budget.expanded().expanded,
            beyond: self.curve.is_beyond(found.whole),
            assumed: self.assumes_end_points(),
        }
    }

    /// Refuses a movement that lies beyond one at which the linkage binds, however far it would be to reach.
    fn not_past_a_bind(&self, wanted: Angle) -> Result<(), TravelSurveyError> {
        // Within a tenth of what was captured the output says it better.
        let said_by_output = |bind: &Bind| bind.has_output() && self.curve.output_for(wanted).is_ok();
        match self.binds.iter().find(|bind| bind.is_before_movement(wanted)) {
            Some(bind) if !said_by_output(bind) => Err(TravelSurveyError::BindsBefore { wanted, bind: *bind }),
            _ => Ok(()),
        }
    }

    fn short_of_binds(&self, found: Output) -> Result<Output, TravelSurveyError> {
        match self.binds.iter().find(|bind| bind.is_before(found.whole)) {
            Some(bind) => Err(TravelSurveyError::PastBind { wanted: found.whole.value().abs(), bind: *bind }),
            None => Ok(found),
        }
    }

    /// Whether an end point was taken on trust.
    #[must_use]
    pub fn assumes_end_points(&self) -> bool {
        self.pairs.iter().any(|pair| pair.assumed)
    }
}

/// Whether nothing but end points of its own axis was changed since.
pub(super) fn outlives(dated: &Dated<'_>) -> bool {
    let axis = dated.subject().deflection().axis();
    dated.stale_by.iter().all(|by| matches!(by, Adjustment::EndPoint { ends, .. } if ends.axis() == axis))
}

/// Whether nothing was changed since that can have taken a bind away: what the transmitter alone sets moves the stick's end, and no
/// part of the linkage.
pub(super) fn binds_still(dated: &Dated<'_>) -> bool {
    let by_transmitter = |by: &Adjustment| {
        matches!(
            by,
            Adjustment::EndPoint { .. }
                | Adjustment::Trim { .. }
                | Adjustment::CyclicRange(_)
                | Adjustment::CollectiveRange(_)
        )
    };
    dated.stale_by.iter().all(by_transmitter)
}

fn pair(
    head: &Head,
    timeline: &Timeline<'_>,
    entries: &[Entry],
    dated: &Dated<'_>,
    before: Option<Percent>,
) -> Option<(TravelPair, Pair)> {
    let neutral = neutral_for(timeline, dated).filter(|n| n.captures.iter().all(Dated::is_fresh))?;
    let capture = dated.capture;
    let moved = capture.reading.angle - neutral.angle;
    let whole = off_axis::whole(head, capture);
    let own = own_budget(capture);
    let off = azimuth(capture, moved, head.rotation, head.control_phase, head.station_error);
    let budget = off.map_or(own.clone(), |off| own.with(off)).difference(&neutral.budget);
    let (moved, budget) = (moved * whole, Budget::combination(&[(whole, &budget)]));
    let (share, end) = share_and_end(capture);
    let recorded = end_point_at(entries, dated.order, end);
    let end_point = recorded.or(before).unwrap_or(Percent::new(USUAL_END_POINT));
    let output = Percent::new(share * end_point.value());
    let told = TravelPair {
        capture: capture.id,
        deflection: capture.subject.deflection(),
        stick: capture.stick,
        end_point,
        assumed: recorded.is_none() && before.is_none(),
        output,
        moved,
        expanded: budget.expanded().expanded,
    };
    Some((told, Pair { output, angle: moved, budget }))
}

/// The share of the stick's way, signed on the collective, and the end whose end point scales it.
pub(super) fn share_and_end(capture: &Capture) -> (f64, Deflection) {
    match capture.subject.deflection() {
        Deflection::Collective(_) => {
            let share = (capture.stick.value() - 50.0) / 50.0;
            let end = if share < 0.0 { Collective::Low } else { Collective::High };
            (share, Deflection::Collective(end))
        }
        end => (capture.stick.value().abs() / 100.0, end),
    }
}

/// The end point last recorded before an entry.
pub(super) fn end_point_at(entries: &[Entry], order: usize, end: Deflection) -> Option<Percent> {
    let set = |adjustment: &Adjustment| match adjustment {
        Adjustment::EndPoint { ends: Ends::Both(axis), output } if *axis == end.axis() => Some(*output),
        Adjustment::EndPoint { ends: Ends::One(one), output } if *one == end => Some(*output),
        _ => None,
    };
    turned(entries).rev().filter(|(at, _)| *at < order).find_map(|(_, adjustment)| set(&adjustment))
}

impl TravelSurvey {
    /// The end point in force now at one end; none where nobody recorded it.
    #[must_use]
    pub fn end_point_now(entries: &[Entry], end: Deflection) -> Option<Percent> {
        end_point_at(entries, entries.len(), end)
    }
}

/// An end of the collective lies on its own side of mid stick.
fn at_end(end: Deflection, wanted: Angle, found: Output) -> Result<Output, TravelSurveyError> {
    let output = found.whole.value();
    let is_other = match end {
        Deflection::Collective(Collective::Low) => output > 0.0,
        Deflection::Collective(Collective::High) => output < 0.0,
        _ => false,
    };
    if is_other { Err(TravelSurveyError::OtherEnd { wanted, output: output.abs(), end }) } else { Ok(found) }
}

/// A travel is positive in the commanded direction; the collective keeps the sign of the pitch.
fn turned_to_the_command(found: &mut [(TravelPair, Pair)], binds: &mut [Bind], whole: bool) {
    let largest = found.iter().max_by(|a, b| a.0.output.value().total_cmp(&b.0.output.value()));
    let moved = largest.map(|(told, _)| told.moved).or_else(|| binds.first().map(|bind| bind.at()));
    let falls = moved.is_some_and(|moved| moved < Angle::ZERO);
    if whole || !falls {
        return;
    }
    for (told, pair) in found.iter_mut() {
        told.moved = -told.moved;
        pair.angle = -pair.angle;
        pair.budget = Budget::combination(&[(-1.0, &pair.budget)]);
    }
    for bind in binds {
        *bind = bind.turned();
    }
}
