//! The captures of a setup in order, each with what was turned after it that can have moved it.

use super::adjustment::Adjustment;
use super::capture::Capture;
use super::head::Head;
use super::setup::{Entry, Event, withdrawn};
use super::subject::Subject;
use crate::rotor::{BladeName, Carrier, Clip, Corner, Datum, Deflection, Spot};
use crate::units::Angle;
use uuid::Uuid;

/// Readings on one blade count as taken at one station when they are no further apart than this.
/// (Common practice, no source: a person sets a blade to its station by eye within about five degrees.)
pub(super) fn same_station() -> Angle {
    Angle::from_degrees(5.0 + 1e-9)
}

/// One capture and whether it still holds.
#[derive(Debug, Clone)]
pub(super) struct Dated<'a> {
    pub(super) order: usize,
    pub(super) capture: &'a Capture,
    /// What was turned after it that can have moved it, every turn of it.
    pub(super) stale_by: Vec<Adjustment>,
    /// How the model stood: readings of one number were taken without moving it, with one sensor.
    pub(super) stand: u32,
}

impl Dated<'_> {
    /// Whether both have one stand of the model and one zero, so that their difference means something.
    pub(super) fn is_comparable(&self, other: &Self) -> bool {
        self.stand == other.stand && one_zero(self.capture, other.capture)
    }

    pub(super) const fn is_fresh(&self) -> bool {
        self.stale_by.is_empty()
    }

    pub(super) fn subject(&self) -> Subject {
        self.capture.subject
    }
}

/// Each adjustment once, in order.
pub(super) fn each_once<'a>(adjustments: impl IntoIterator<Item = &'a Adjustment>) -> Vec<Adjustment> {
    let mut all = Vec::new();
    for adjustment in adjustments {
        if !all.contains(adjustment) {
            all.push(*adjustment);
        }
    }
    all
}

/// Whether two captures have one zero. Sensors of several blades have each a datum of their own: it is one zero where both
/// stand against gravity, or both against the shaft; against its own neutral every blade reads zero.
pub(super) fn one_zero(one: &Capture, other: &Capture) -> bool {
    if one.sensor.carrier == other.sensor.carrier {
        return one.datum.id == other.datum.id;
    }
    let level = |datum| matches!(datum, Datum::Gravity | Datum::Reversal { .. });
    let shaft = |datum| matches!(datum, Datum::Shaft { .. });
    let (a, b) = (one.datum.datum, other.datum.datum);
    (level(a) && level(b)) || (shaft(a) && shaft(b))
}

/// Whether two captures are of the same blade at the same station (within 5°) or with the same leading edge.
pub(super) fn same_place(one: Subject, other: Subject) -> bool {
    one.blade() == other.blade()
        && match (one.spot(), other.spot()) {
            (Spot::Main(a), Spot::Main(b)) => a.distance(b) <= same_station(),
            (Spot::Tail(a), Spot::Tail(b)) => a == b,
            _ => false,
        }
}

/// All captures that may be used as values, oldest first.
#[derive(Debug)]
pub(super) struct Timeline<'a> {
    captures: Vec<Dated<'a>>,
    /// How the model stands now.
    stand: u32,
    /// The zero of each sensor now, by its blade; none where one clip goes from blade to blade.
    zeros: Vec<(Option<Carrier>, Uuid)>,
}

impl<'a> Timeline<'a> {
    /// The captures of a setup of this head, whose description says which servo is the tail's.
    pub(super) fn on(head: &Head, entries: &'a [Entry]) -> Self {
        let mut captures: Vec<Dated<'a>> = Vec::new();
        let (mut stand, mut zeros) = (0, Vec::new());
        let mut zero_is = |of: Option<Carrier>, id: Uuid| {
            zeros.retain(|(carrier, _)| *carrier != of);
            zeros.push((of, id));
        };
        let gone = withdrawn(entries);
        for (order, entry) in entries.iter().enumerate() {
            match &entry.event {
                Event::Adjustment { .. } if gone.contains(&entry.id) => {}
                // A reading that never came to rest is no value, whoever put it here.
                Event::Capture(capture) if capture.reading.steady && capture.reading.angle.is_finite() => {
                    zero_is(capture.sensor.carrier, capture.datum.id);
                    captures.push(Dated { order, capture, stale_by: Vec::new(), stand });
                }
                Event::Datum { datum } => zero_is(datum.carrier, datum.id),
                Event::Adjustment { adjustment, .. } => {
                    for dated in captures.iter_mut().filter(|d| adjustment.can_move(head, d.capture.subject)) {
                        dated.stale_by.push(*adjustment);
                    }
                }
                Event::Resumed { pause, .. } if pause.model_moved || pause.sensor_changed => stand += 1,
                // The newest reading of a capture counts, in the capture's own place.
                Event::Recomputed { captures: anew, .. } => {
                    for capture in anew {
                        if let Some(dated) = captures.iter_mut().find(|d| d.capture.id == capture.id) {
                            dated.capture = capture;
                        }
                    }
                }
                Event::Withdrawn { capture, .. } => captures.retain(|d| d.capture.id != *capture),
                _ => {}
            }
        }
        Self { captures, stand, zeros }
    }

    /// How the model stands now.
    pub(super) const fn stand(&self) -> u32 {
        self.stand
    }

    /// Whether a capture that is taken now would be comparable to this one: nothing was set or moved in between.
    pub(super) fn is_of_now(&self, dated: &Dated<'_>) -> bool {
        let of = |carrier| self.zeros.iter().find(|(of, _)| *of == carrier).map(|(_, id)| *id);
        dated.stand == self.stand && of(dated.capture.sensor.carrier) == Some(dated.capture.datum.id)
    }

    /// All captures, oldest first.
    pub(super) fn all(&self) -> impl DoubleEndedIterator<Item = &Dated<'a>> {
        self.captures.iter()
    }

    /// Captures of one deflection, oldest first.
    pub(super) fn of(&self, deflection: Deflection) -> impl DoubleEndedIterator<Item = &Dated<'a>> {
        self.captures.iter().filter(move |d| d.subject().deflection() == deflection)
    }

    /// The corner of every capture of one.
    pub(super) fn corners(&self) -> impl Iterator<Item = Corner> {
        self.captures.iter().filter_map(|d| match d.subject().deflection() {
            Deflection::Corner(corner) => Some(corner),
            _ => None,
        })
    }

    /// Captures of all main blades, oldest first.
    pub(super) fn on_main_rotor(&self) -> impl DoubleEndedIterator<Item = &Dated<'a>> {
        self.captures.iter().filter(|d| d.subject().station().is_some())
    }

    /// Captures of one main blade, oldest first.
    pub(super) fn on_main_blade(&self, blade: BladeName) -> impl DoubleEndedIterator<Item = &Dated<'a>> {
        self.captures.iter().filter(move |d| d.subject().station().is_some() && d.subject().blade() == blade)
    }

    /// Captures with every stick of that rotor centred at this place with the clip this way round, oldest first.
    pub(super) fn neutrals_at(&self, place: Subject, clip: Clip) -> impl DoubleEndedIterator<Item = &Dated<'a>> {
        self.captures.iter().filter(move |d| {
            d.subject().deflection().is_neutral() && d.capture.clip == clip && same_place(d.subject(), place)
        })
    }
}

/// The newest that still holds, else the newest of all.
pub(super) fn best<'t, 'a: 't>(captures: impl DoubleEndedIterator<Item = &'t Dated<'a>>) -> Option<&'t Dated<'a>> {
    let mut newest = None;
    for dated in captures.rev() {
        if dated.is_fresh() {
            return Some(dated);
        }
        newest = newest.or(Some(dated));
    }
    newest
}
