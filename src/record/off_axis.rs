//! Which capture stands for the end of an axis, where several do, and why another one does not.
//!
//! A cyclic deflection read away from the axis' own station shows only its share cos(ψ − ψ_own). Its travel is divided by
//! that share and its uncertainty with it; below [`trade::LEAST_SHARE`] it fills no cell. Worse evidence never displaces
//! better: a reading without a neutral no travel, and one that shows a part no one that shows the whole. Among equals the
//! newest counts. So a capture at another station, taken for the phase, leaves the cell as it is.

use super::capture::Capture;
use super::head::Head;
use super::timeline::{Dated, Timeline};
use super::trade;
use super::travel::neutral_for;
use crate::rotor::{Axis, Station};
use crate::uncertainty::Component;
use serde::Serialize;
use std::cmp::Reverse;
use uuid::Uuid;

/// Why a capture of an end is not what its cell shows.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "reason", rename_all = "snake_case")]
pub enum Unused {
    /// It has no neutral of its place, and the cell holds a travel.
    NoNeutral,
    /// It shows a part of the deflection only: the cell holds one that shows more, or the part is too small for any.
    OffItsStation {
        /// Where it was read.
        #[serde(rename = "station_deg")]
        station: Station,
        /// Where the axis shows whole.
        #[serde(rename = "own_station_deg")]
        own: Station,
        /// The share that shows, 0 to 1.
        share: f64,
    },
}

/// The share of a cyclic deflection that shows where it was read, 0 to 1; none of what shows whole everywhere.
pub(super) fn share(head: &Head, capture: &Capture) -> Option<f64> {
    let deflection = capture.subject.deflection();
    let cyclic = matches!(deflection.axis(), Axis::Elevator | Axis::Aileron) && !deflection.is_neutral();
    let station = capture.subject.station().filter(|_| cyclic)?;
    trade::share_at(head, deflection, station).map(f64::abs)
}

/// By what a travel is multiplied that was read there: 1 by the share that shows, and what a blade that is set to its station by eye
/// loses on the average, 1 − a²/6 with the blade anywhere within ±a of it. That bias is on the unsafe side of a ceiling, so that it
/// is taken out (JCGM 100:2008, 3.2.4 and F.2.4.5); its spread stays in the budget. 1 for what shows whole everywhere.
pub(super) fn whole(head: &Head, capture: &Capture) -> f64 {
    let Some(share) = share(head, capture) else { return 1.0 };
    let lost =
        if capture.reading.budget.has(Component::Azimuth) { 0.0 } else { head.station_error.radians().powi(2) / 6.0 };
    (1.0 + lost) / share
}

/// Whether enough of the deflection shows for the capture to stand for it.
pub(super) fn is_enough(head: &Head, capture: &Capture) -> bool {
    share(head, capture).is_none_or(|share| share >= trade::LEAST_SHARE)
}

/// Whether all of the deflection shows.
pub(super) fn is_whole(head: &Head, capture: &Capture) -> bool {
    share(head, capture).is_none_or(|share| share >= trade::WHOLE_SHARE)
}

/// How good the evidence of a capture is: whether it holds, whether it is a travel, and how much of it shows.
fn rank(head: &Head, timeline: &Timeline<'_>, dated: &Dated<'_>) -> (bool, bool, u32) {
    let shown = match share(head, dated.capture) {
        // Stations nearer than one can tell by eye are one.
        Some(share) if share < trade::WHOLE_SHARE => (share * 50.0).round() as u32,
        _ => u32::MAX,
    };
    let neutral = neutral_for(timeline, dated);
    (dated.is_fresh(), neutral.is_some_and(|n| !dated.is_fresh() || n.captures.iter().all(Dated::is_fresh)), shown)
}

/// The capture that stands for an end.
pub(super) fn best_end<'t, 'a: 't>(
    head: &Head,
    timeline: &Timeline<'a>,
    captures: impl Iterator<Item = &'t Dated<'a>>,
) -> Option<&'t Dated<'a>> {
    captures
        .filter(|dated| is_enough(head, dated.capture))
        .max_by_key(|dated| (rank(head, timeline, dated), dated.order))
}

/// The newest capture that is newer than those in use and is not used, and why.
pub(super) fn unused<'t, 'a: 't>(
    head: &Head,
    timeline: &Timeline<'a>,
    captures: impl Iterator<Item = &'t Dated<'a>>,
    used: &[Dated<'a>],
) -> Option<(Uuid, Unused)> {
    let newest_used = used.iter().map(|dated| dated.order).max();
    let left = captures.filter(|d| d.is_fresh() && newest_used.is_none_or(|newest| d.order > newest));
    let dated = left.min_by_key(|d| Reverse(d.order))?;
    let off = || {
        let (deflection, station) = (dated.subject().deflection(), dated.subject().station()?);
        let share = share(head, dated.capture).filter(|share| *share < trade::WHOLE_SHARE)?;
        Some(Unused::OffItsStation { station, own: trade::own_station(head, deflection), share })
    };
    let has_neutral = rank(head, timeline, dated).1;
    let why = if has_neutral || !is_enough(head, dated.capture) { off()? } else { Unused::NoNeutral };
    Some((dated.capture.id, why))
}
