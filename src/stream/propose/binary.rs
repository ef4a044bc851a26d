//! A profile for a sensor that sends binary frames nobody has described.
//!
//! Frames are found by what repeats, their checksum by trying the catalogue, their numbers by how they go. What the bytes
//! leave open is said as a doubt, and the plainest reading is taken.

use super::fields::{Axes, Clock, Table};
use super::framing::{self, Framing};
use super::{Doubt, Known, Proposal, ProposeError, rounded, sums};
use crate::codec::{ByteOrder, Carried, Direction, Field, FrameChecksum, FrameLayout, NumberKind};
use crate::identify::counts_per_g_of;
use crate::profile::{Format, Profile};
use crate::units::Hertz;

/// Frames with their checksum, as far as there is one, and what else fits as well.
struct Parted {
    framing: Framing,
    checksum: Option<FrameChecksum>,
    doubts: Vec<Doubt>,
}

/// Looks at bytes that came in so many seconds.
pub(super) fn propose(bytes: &[u8], seconds: Option<f64>, known: &Known) -> Result<Proposal, ProposeError> {
    if known.temperature.is_some() {
        return Err(ProposeError::Temperature);
    }
    let Parted { framing, checksum, mut doubts } = parted(bytes).ok_or(ProposeError::Neither)?;
    let frames = framing.frames.iter().map(Vec::as_slice);
    let sound = frames.filter(|frame| checksum.is_none_or(|checksum| checksum.stands_in(frame) == Some(true)));
    let mut table = Table { frames: sound.collect(), taken: vec![false; framing.length] };
    let fixed = framing.sync.len();
    table.taken.iter_mut().take(fixed).for_each(|taken| *taken = true);
    if let Some(checksum) = &checksum {
        table.taken.iter_mut().skip(checksum.at).for_each(|taken| *taken = true);
    }
    let counter = match &known.counter {
        Some(name) => {
            let counter = table.counter(Some(byte(name, framing.length)?));
            Some(counter.ok_or_else(|| ProposeError::NoCounter(name.clone()))?)
        }
        None => table.counter(None),
    };
    counter.iter().for_each(|field| table.take(field));
    let period = seconds.map(|seconds| seconds / framing.frames.len().max(1) as f64);
    let mut clock = match &known.time {
        Some(name) => {
            let clock = table.clock(Some(byte(name, framing.length)?), period);
            Some(clock.ok_or_else(|| ProposeError::NoClock(name.clone()))?)
        }
        None => table.clock(None, period),
    };
    if let (Some(clock), Some(micros)) = (&mut clock, known.micros_per_tick) {
        clock.rate *= f64::from(clock.micros_per_tick) / f64::from(micros);
        clock.micros_per_tick = micros;
    }
    clock.iter().for_each(|clock| table.take(&clock.field));
    let places = match &known.axes {
        Some([x, y, z]) => Some([byte(x, framing.length)?, byte(y, framing.length)?, byte(z, framing.length)?]),
        None => None,
    };
    let axes = table.axes(places).ok_or_else(|| ProposeError::NoForce {
        length: framing.length,
        sync: (!framing.cobs).then(|| framing.sync.clone()),
        checksum,
    })?;
    doubts.extend(doubts_of(&table, &framing, clock.as_ref(), &axes, known));
    Ok(proposal(framing, checksum, counter, clock, &axes, known, period, doubts))
}

/// The frames, those with a checksum first.
fn parted(bytes: &[u8]) -> Option<Parted> {
    let ways = framing::ways(bytes);
    let mut parted: Vec<Parted> = ways.into_iter().map(with_checksum).collect();
    let proven = parted.iter().any(|parted| parted.checksum.is_some());
    parted.retain(|parted| parted.checksum.is_some() == proven);
    // Without a checksum to end it, a frame begins where most bytes in a row never change.
    let mut best =
        parted.into_iter().rev().max_by_key(|parted| (parted.framing.sync.len(), parted.framing.constant))?;
    if !proven && !best.framing.cobs {
        best.doubts.push(Doubt::NoChecksum);
    }
    Some(best)
}

fn with_checksum(framing: Framing) -> Parted {
    let distinct = sums::distinct(&framing.frames);
    let fitting = sums::fitting(&distinct, framing.length);
    let mut doubts = Vec::new();
    if let [first, others @ ..] = fitting.as_slice()
        && !others.is_empty()
    {
        doubts.push(Doubt::Checksums { taken: *first, others: others.to_vec() });
    }
    Parted { checksum: fitting.first().copied(), framing, doubts }
}

/// What the bytes leave open.
fn doubts_of(table: &Table<'_>, framing: &Framing, clock: Option<&Clock>, axes: &Axes, known: &Known) -> Vec<Doubt> {
    let mut doubts = Vec::new();
    if let Some(clock) = clock.filter(|clock| known.time.is_none() && !table.all_move(&clock.field)) {
        doubts.push(Doubt::ClockWidth { at: clock.field.at, bits: 8 * clock.field.kind.width() });
    }
    if axes.spread == 0.0 {
        doubts.push(Doubt::AxesStill);
    }
    let mut rest = table.taken.clone();
    for field in &axes.fields {
        rest.iter_mut().take(field.end()).skip(field.at).for_each(|taken| *taken = true);
    }
    let unnamed: Vec<usize> = (0..framing.length).filter(|at| rest.get(*at) == Some(&false)).collect();
    if !unnamed.is_empty() {
        doubts.push(Doubt::Unnamed(unnamed));
    }
    doubts
}

/// A place in a frame, as a person names it.
fn byte(name: &str, length: usize) -> Result<usize, ProposeError> {
    let at = name.trim().parse().ok().filter(|at: &usize| *at < length);
    at.ok_or_else(|| ProposeError::NoByte { name: name.to_owned(), length })
}

#[expect(clippy::too_many_arguments, reason = "all that was found comes together here")]
fn proposal(
    framing: Framing,
    checksum: Option<FrameChecksum>,
    counter: Option<Field>,
    clock: Option<Clock>,
    axes: &Axes,
    known: &Known,
    period: Option<f64>,
    doubts: Vec<Doubt>,
) -> Proposal {
    let (counts_per_g, gravity_fits) = match known.counts_per_g {
        Some(counts) => (counts, (axes.norm / counts - 1.0).abs() < 0.25),
        None => counts_per_g_of(axes.norm),
    };
    let rate = clock.map(|clock| clock.rate).or_else(|| period.map(|period| 1.0 / period));
    let rate = rate.filter(|rate| *rate > 0.0 && *rate <= 10_000.0).map(|rate| Hertz::new(rounded(rate)));
    let places = places(&framing, counter, clock, axes);
    let carried = Carried {
        direction: Direction::Force(axes.fields),
        time: clock.map(|clock| clock.field),
        micros_per_tick: clock.map_or(1, |clock| clock.micros_per_tick),
        counter,
        temperature: None,
    };
    let full_scale = match axes.fields[0].kind {
        NumberKind::Signed(width) => Some(2f64.powi(8 * i32::from(width) - 1) - 1.0),
        _ => None,
    };
    let Framing { cobs, sync, length, .. } = framing;
    let format = Format::Frame(FrameLayout { sync, length, cobs, carried, checksum });
    let profile = Profile { format, counts_per_g, rate, full_scale, ..Profile::columns() };
    Proposal { profile, places, gravity_fits, doubts }
}

/// What was found, each with its first byte and its value in the last frame.
fn places(framing: &Framing, counter: Option<Field>, clock: Option<Clock>, axes: &Axes) -> Vec<(String, f64)> {
    let [x, y, z] = axes.fields;
    let named = [
        ("counter", counter),
        ("clock", clock.map(|clock| clock.field)),
        ("x", Some(x)),
        ("y", Some(y)),
        ("z", Some(z)),
    ];
    let last = framing.frames.last().map(Vec::as_slice).unwrap_or_default();
    let shown = |(name, field): (&str, Option<Field>)| {
        let field = field?;
        Some((format!("{name} ({} at byte {})", kind(&field), field.at), field.read(last)?))
    };
    named.into_iter().filter_map(shown).collect()
}

fn kind(field: &Field) -> String {
    let order = if field.order == ByteOrder::Big { "big" } else { "little" };
    match field.kind {
        NumberKind::Unsigned(1) => "u8".to_owned(),
        NumberKind::Unsigned(width) => format!("u{} {order}", 8 * width),
        NumberKind::Signed(width) => format!("i{} {order}", 8 * width),
        NumberKind::Single => format!("f32 {order}"),
        NumberKind::Double => format!("f64 {order}"),
    }
}
