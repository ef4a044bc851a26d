//! Which bytes of a frame are a counter, a clock and the three axes, by how their numbers go.

use super::MOST;
use crate::codec::{ByteOrder, Field, NumberKind};
use crate::identify::counts_per_g_of;
use crate::stats::robust::median_of;

/// Sensors that people use send so many samples a second [common practice, no source].
const USUAL_RATES_HZ: std::ops::RangeInclusive<f64> = 2.0..=2000.0;
/// The period that was heard, and the clock's own, may differ by this factor.
const PERIOD_WITHIN: f64 = 1.5;
/// A clock's steps stray from the usual one by less than this share.
const STEADY: f64 = 0.5;
/// A wider number explains more bytes, and is preferred while the length of the force is nearly as steady with it.
const NEARLY: f64 = 1.3;
/// Floating numbers whose length is this steady are a resting sensor's.
const FLOATS_WITHIN: f64 = 0.02;
const ORDERS: [ByteOrder; 2] = [ByteOrder::Little, ByteOrder::Big];

/// Undamaged frames, and which of their bytes mean something already.
pub(super) struct Table<'a> {
    pub frames: Vec<&'a [u8]>,
    pub taken: Vec<bool>,
}

/// A clock with the microseconds of one unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Clock {
    pub field: Field,
    pub micros_per_tick: u32,
    /// Samples a second by it.
    pub rate: f64,
}

/// Three axes with the length of the force in their counts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Axes {
    pub fields: [Field; 3],
    pub norm: f64,
    /// How far half of the frames stray from it, as a share of it.
    pub spread: f64,
}

impl Axes {
    pub(super) fn gravity_fits(&self) -> bool {
        counts_per_g_of(self.norm).1
    }
}

impl Table<'_> {
    /// Marks the bytes of a field as known.
    pub(super) fn take(&mut self, field: &Field) {
        for byte in self.taken.iter_mut().take(field.end()).skip(field.at) {
            *byte = true;
        }
    }

    fn is_free(&self, field: &Field) -> bool {
        self.taken.get(field.at..field.end()).is_some_and(|bytes| bytes.iter().all(|taken| !taken))
    }

    fn varies(&self, at: usize) -> bool {
        let mut column = self.frames.iter().map(|frame| frame.get(at));
        let first = column.next();
        column.any(|byte| Some(byte) != first)
    }

    /// Whether each byte of a field was seen to change.
    pub(super) fn all_move(&self, field: &Field) -> bool {
        (field.at..field.end()).all(|at| self.varies(at))
    }

    fn values(&self, field: &Field) -> Option<Vec<f64>> {
        self.frames.iter().map(|frame| field.read(frame)).collect()
    }

    fn free(&self, kinds: &[NumberKind], at: Option<usize>) -> Vec<Field> {
        let places = (0..self.taken.len()).filter(|place| at.is_none_or(|at| at == *place));
        let all = places.flat_map(|place| {
            kinds.iter().flat_map(move |kind| {
                let orders = if kind.width() > 1 { &ORDERS[..] } else { &ORDERS[..1] };
                orders.iter().map(move |order| Field::new(place, *kind, *order))
            })
        });
        all.filter(|field| self.is_free(field)).collect()
    }

    /// What goes up by one from frame to frame. Two bytes only where both were seen to move: else one of them tells as much.
    pub(super) fn counter(&self, at: Option<usize>) -> Option<Field> {
        let fields = self.free(&[NumberKind::Unsigned(2), NumberKind::Unsigned(1)], at);
        let counts = |field: &Field| {
            let ones = self.steps(field).filter(|steps| !steps.is_empty());
            ones.is_some_and(|steps| share(&steps, |step| step == 1.0) >= MOST)
        };
        let mut fitting = fields.into_iter().filter(|field| self.all_move(field) && counts(field));
        let first = fitting.next()?;
        Some(fitting.fold(first, |best, field| if field.kind.width() > best.kind.width() { field } else { best }))
    }

    /// What goes up by about the same from frame to frame, at a rate that a sensor may have.
    pub(super) fn clock(&self, at: Option<usize>, period: Option<f64>) -> Option<Clock> {
        let kinds = [NumberKind::Unsigned(4), NumberKind::Unsigned(3), NumberKind::Unsigned(2)];
        let mut fitting: Vec<(f64, Clock)> = Vec::new();
        for field in self.free(&kinds, at) {
            // A number whose last byte stands still is a part of another one, with a byte beside it.
            let Some(steps) = self.steps(&field).filter(|_| self.varies(last_byte(&field))) else { continue };
            let Some(step) = median_of(steps.iter().copied()).filter(|step| *step > 1.0 || at.is_some()) else {
                continue;
            };
            let Some((micros_per_tick, rate)) = unit(step, period) else { continue };
            if share(&steps, |each| (each / step - 1.0).abs() <= STEADY) < MOST {
                continue;
            }
            let scatter =
                steps.iter().map(|each| (each / step - 1.0).abs().min(STEADY)).sum::<f64>() / steps.len() as f64;
            fitting.push((scatter, Clock { field, micros_per_tick, rate }));
        }
        let least = fitting.iter().map(|(scatter, _)| *scatter).min_by(f64::total_cmp)?;
        // As steady is the same number, read with more or fewer of its bytes.
        let alike = fitting.into_iter().filter(|(scatter, _)| *scatter <= 1.05 * least + 1e-6).map(|(_, clock)| clock);
        alike.max_by(|a, b| a.field.kind.width().cmp(&b.field.kind.width()).then(b.field.at.cmp(&a.field.at)))
    }

    /// Three numbers of one kind, side by side or where they are said to be, whose squares sum up to the same in every frame.
    pub(super) fn axes(&self, known: Option<[usize; 3]>) -> Option<Axes> {
        let kinds = [
            NumberKind::Signed(2),
            NumberKind::Signed(3),
            NumberKind::Signed(4),
            NumberKind::Single,
            NumberKind::Double,
        ];
        let fields = self.free(&kinds, known.map(|[x, ..]| x));
        let all: Vec<Axes> = fields.into_iter().filter_map(|x| self.three(x, known)).collect();
        // Whole numbers cut out of floating ones are steady as well, by their exponents; the other way round gravity does not come out.
        let is_float = |axes: &Axes| matches!(axes.fields[0].kind, NumberKind::Single | NumberKind::Double);
        let float = |axes: &&Axes| is_float(axes) && axes.gravity_fits() && axes.spread < FLOATS_WITHIN;
        if let Some(best) = all.iter().filter(float).min_by(|a, b| a.spread.total_cmp(&b.spread)) {
            return Some(*best);
        }
        let gravity = all.iter().any(Axes::gravity_fits);
        let candidates: Vec<Axes> = all.into_iter().filter(|axes| axes.gravity_fits() == gravity).collect();
        let least = candidates.iter().map(|axes| axes.spread).min_by(f64::total_cmp)?;
        let as_good = candidates.into_iter().filter(|axes| axes.spread <= NEARLY * least);
        as_good.max_by(|a, b| a.width().cmp(&b.width()).then(b.spread.total_cmp(&a.spread)))
    }

    fn three(&self, x: Field, known: Option<[usize; 3]>) -> Option<Axes> {
        let width = x.kind.width();
        let [_, y, z] = known.unwrap_or([x.at, x.at + width, x.at + 2 * width]);
        let fields = [x, Field { at: y, ..x }, Field { at: z, ..x }];
        if !fields.iter().all(|field| self.is_free(field)) {
            return None;
        }
        let columns = fields.iter().map(|field| self.values(field)).collect::<Option<Vec<_>>>()?;
        let [x, y, z] = columns.as_slice() else { return None };
        let lengths: Vec<f64> = x.iter().zip(y).zip(z).map(|((x, y), z)| x.hypot(*y).hypot(*z)).collect();
        let norm = median_of(lengths.iter().copied()).filter(|norm| *norm > 0.0 && norm.is_finite())?;
        let spread = median_of(lengths.iter().map(|length| (length / norm - 1.0).abs()))?;
        Some(Axes { fields, norm, spread })
    }

    /// From frame to frame, where the number begins anew behind its largest value.
    fn steps(&self, field: &Field) -> Option<Vec<f64>> {
        let turn = 2f64.powi(8 * i32::try_from(field.kind.width()).ok()?);
        let values = self.values(field)?;
        Some(values.windows(2).filter_map(|pair| Some((pair.last()? - pair.first()?).rem_euclid(turn))).collect())
    }
}

impl Axes {
    const fn width(&self) -> usize {
        let [x, ..] = self.fields;
        x.kind.width()
    }
}

/// The clock's unit under which its step is the period that was heard, or else one that a sensor may have; and the rate.
fn unit(step: f64, period: Option<f64>) -> Option<(u32, f64)> {
    let rates = [1u32, 1000, 1_000_000].map(|tick| (tick, 1e6 / (step * f64::from(tick))));
    rates.into_iter().find(|(_, rate)| match period {
        Some(period) => (1.0 / PERIOD_WITHIN..=PERIOD_WITHIN).contains(&(rate * period)),
        None => USUAL_RATES_HZ.contains(rate),
    })
}

/// Where the least significant byte stands.
const fn last_byte(field: &Field) -> usize {
    if matches!(field.order, ByteOrder::Big) { field.end() - 1 } else { field.at }
}

fn share(values: &[f64], is: impl Fn(f64) -> bool) -> f64 {
    values.iter().filter(|value| is(**value)).count() as f64 / values.len().max(1) as f64
}
