//! Where the tail blade stands. Each reading of it has the roll of the model in it, which leading edge up and leading edge
//! down show with opposite signs.

use super::super::step::Place;
use super::cells::{Seen, Stands, newest};

const NEUTRAL: &str = "rudder neutral";

/// The newest reading of the tail at this stick with this edge that holds, tells a pitch, and goes with `like`.
fn read<'s, 'a>(all: &'s [Seen<'a>], what: &str, up: bool, like: &Seen<'a>) -> Option<&'s Seen<'a>> {
    let wanted = |seen: &&Seen<'_>| {
        let whole = what == NEUTRAL || seen.shot.wish.bound || seen.shot.wish.stick.abs() >= 99.0;
        seen.what() == what && seen.place() == Place::Tail { up } && whole && seen.tells && seen.fresh()
    };
    all.iter().filter(wanted).filter(|seen| seen.goes_with(like)).max_by_key(|seen| seen.at)
}

/// The pitch at a stick: the mean of both edges there; else that of both edges at neutral, and the travel with one edge; else
/// as one edge shows it. Empty where no reading tells.
pub(super) fn pitch<'s, 'a>(all: &'s [Seen<'a>], what: &str, like: &Seen<'a>) -> Vec<(f64, &'s Seen<'a>)> {
    let edge = |what, up| read(all, what, up, like);
    let mean = |what| Some(vec![(0.5, edge(what, true)?), (0.5, edge(what, false)?)]);
    if let Some(both) = mean(what) {
        return both;
    }
    let one = [true, false].into_iter().find_map(|up| Some((up, edge(what, up)?)));
    let Some((up, one)) = one else { return Vec::new() };
    match (mean(NEUTRAL), edge(NEUTRAL, up)) {
        (Some(both), Some(neutral)) => both.into_iter().chain([(1.0, one), (-1.0, neutral)]).collect(),
        _ => vec![(1.0, one)],
    }
}

/// The tail at stick centre.
pub(super) fn neutral(all: &[Seen<'_>]) -> Option<Stands> {
    let last = newest(all.iter().filter(|seen| seen.what() == NEUTRAL && seen.tells))?;
    Some(if last.fresh() { Stands::new(pitch(all, NEUTRAL, last)) } else { Stands::new(vec![(1.0, last)]) })
}
