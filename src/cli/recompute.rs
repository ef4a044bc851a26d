//! `setup recompute`: the captures of a setup read anew from their raw samples, old beside new.

use super::setting::{setup, setup_to_write};
use super::source::{logbook, read_calibration};
use super::{CliError, Common, Outcome, Output};
use crate::bench::{Instrument, OpenSetup, recompute};
use crate::logbook::SavedDefault;
use crate::record::{Capture, Cell, Entry, Event, LimitRecord, RawSamples};
use crate::rotor::Datum;
use crate::sensor::Calibration;
use crate::stream::{Overrides, Profile, StreamError};
use crate::units::Angle;
use crate::words::{Face, Say, setup as words};
use jiff::Timestamp;
use serde::Serialize;
use serde_json::{Value, json};
use std::path::PathBuf;
use uuid::Uuid;

/// Less than this, degrees, is no movement but the last digits of a sum.
const UNMOVED_DEGREES: f64 = 1e-9;

/// Arguments of `setup recompute`.
#[derive(Debug, clap::Args)]
#[command(after_help = words::RECOMPUTE_HELP)]
pub(super) struct Args {
    /// Number of the setup [default: the open one]
    number: Option<u32>,

    /// A calibration to use; several sensors need several
    #[arg(long = "calibration", value_name = "FILE")]
    calibrations: Vec<PathBuf>,

    /// Use the calibration for every capture, whichever it was taken with
    #[arg(long, requires = "calibrations")]
    all: bool,

    /// Record the new readings; they then count
    #[arg(long)]
    keep: bool,

    /// How the sensor speaks, where the captures name a profile of a file
    #[arg(long, value_name = "NAME|FILE")]
    profile: Option<String>,
}

/// One capture, old and new.
struct Row<'a> {
    old: &'a Capture,
    new: Result<Capture, String>,
}

/// Reads anew, prints old beside new, and keeps it where asked to.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let mut open =
        if args.keep { setup_to_write(args.number, common).await? } else { setup(args.number, common).await? };
    let at_hand = Calibrations::new(&args, &open, common).await?;
    let rows = rows(&args, &open, &at_hand).await?;
    let anew: Vec<Capture> = rows.iter().filter_map(|row| row.new.as_ref().ok()).cloned().collect();
    let event = Event::Recomputed { note: at_hand.note(), captures: anew };
    let before = open.record();
    let after = LimitRecord::new(&open.setup().head, &with(&open, event.clone()));
    let kept = args.keep && !rows.is_empty();
    let document = json!({
        "setup": open.setup().number,
        "captures": rows.iter().map(row_document).collect::<Vec<_>>(),
        "cells": cells(&before, &after).iter().map(cell_document).collect::<Vec<_>>(),
        "kept": kept,
    });
    let text = told(&rows, &cells(&before, &after), kept);
    let whole = rows.iter().all(|row| row.new.is_ok());
    drop(rows);
    if kept {
        open.happened(event).await?;
    }
    // What is printed as kept is on the disk.
    output.answer(&document, &text)?;
    open.logbook().clone().close().await;
    Ok(if whole { Outcome::Done } else { Outcome::SaysNo })
}

/// The calibrations at hand and what they are for.
struct Calibrations {
    given: Vec<Calibration>,
    /// Whether the only one given is for every capture.
    for_all: bool,
    saved: Option<Calibration>,
}

impl Calibrations {
    async fn new(args: &Args, open: &OpenSetup, common: &Common) -> Result<Self, CliError> {
        let given = args.calibrations.iter().map(|path| read_calibration(path)).collect::<Result<Vec<_>, _>>()?;
        let used = |name: &str| open.captures().any(|c| c.sensor.calibration.as_deref() == Some(name));
        let for_all = match given.as_slice() {
            [only] => args.all || !used(&only.name),
            _ if args.all => {
                return Err(CliError::Use(words::WHICH_FOR_ALL.to_owned()));
            }
            _ => false,
        };
        let logbook = logbook(common).await?;
        let saved = logbook.saved(SavedDefault::Calibration).await?.map(PathBuf::from);
        // A saved default whose file has gone is as good as none.
        let saved = saved.and_then(|path| read_calibration(&path).ok());
        Ok(Self { given, for_all, saved })
    }

    /// The one for a capture; `Ok(None)` for a sensor that was used uncalibrated.
    fn of(&self, capture: &Capture) -> Result<Option<Calibration>, String> {
        let name = capture.sensor.calibration.as_deref();
        if let (true, [only]) = (self.for_all, self.given.as_slice()) {
            return Ok(Some(only.clone()));
        }
        let Some(name) = name else { return Ok(None) };
        let found = self.given.iter().chain(&self.saved).find(|calibration| calibration.name == name);
        found.cloned().map(Some).ok_or_else(|| words::no_calibration(name))
    }

    fn note(&self) -> String {
        let names: Vec<&str> = self.given.iter().map(|calibration| calibration.name.as_str()).collect();
        words::recomputed_with(env!("CARGO_PKG_VERSION"), &names)
    }
}

async fn rows<'a>(args: &Args, open: &'a OpenSetup, at_hand: &Calibrations) -> Result<Vec<Row<'a>>, CliError> {
    let mut rows = Vec::new();
    for old in open.newest_readings() {
        let raw = open.logbook().raw_samples(old.id).await?;
        let new = match at_hand.of(old) {
            Ok(calibration) => {
                let name = args.profile.as_deref().unwrap_or(&old.sensor.profile);
                let instrument = instrument(name, &raw, calibration, open)?.on(old.sensor.carrier);
                recompute(old, &raw, &instrument).map_err(|error| error.say(Face::Terminal))
            }
            Err(why) => Err(why),
        };
        rows.push(Row { old, new });
    }
    Ok(rows)
}

fn instrument(
    profile: &str,
    raw: &RawSamples,
    calibration: Option<Calibration>,
    open: &OpenSetup,
) -> Result<Instrument, CliError> {
    let overrides = Overrides { counts_per_g: Some(raw.counts_per_g), ..Overrides::default() };
    let profile = Profile::find(profile).and_then(|profile| profile.with(overrides)).map_err(StreamError::from)?;
    Ok(Instrument::new(profile, calibration, open.setup().head.rotation))
}

/// The entries as they would be.
fn with(open: &OpenSetup, event: Event) -> Vec<Entry> {
    let entry = Entry { id: Uuid::nil(), at: Timestamp::UNIX_EPOCH, event };
    open.entries().iter().cloned().chain(std::iter::once(entry)).collect()
}

/// Every cell with a value, before and after.
fn cells<'a>(before: &'a LimitRecord, after: &'a LimitRecord) -> Vec<(&'a Cell, &'a Cell)> {
    let pairs = before.cells.iter().filter_map(|old| Some((old, after.cell(old.name)?)));
    pairs.filter(|(old, new)| old.value.is_some() && new.value.is_some()).collect()
}

fn moved(old: Angle, new: Angle) -> Angle {
    (new - old).wrapped()
}

/// Whether the zero was read with another calibration than the new reading.
fn mixes(row: &Row<'_>) -> bool {
    let zero_is_read = !matches!(row.old.datum.datum, Datum::Gravity);
    row.new.as_ref().is_ok_and(|new| {
        zero_is_read
            && moved(row.old.reading.apparent_pitch, new.reading.apparent_pitch).abs().degrees() > UNMOVED_DEGREES
    })
}

/// One capture, old and new, as it is printed.
#[derive(Serialize)]
struct RowDocument<'a> {
    id: Uuid,
    capture: String,
    old_calibration: Option<&'a str>,
    new_calibration: Option<&'a str>,
    old_deg: Angle,
    old_expanded_uncertainty_deg: Angle,
    new_deg: Option<Angle>,
    new_expanded_uncertainty_deg: Option<Angle>,
    moved_deg: Option<Angle>,
    mixes_calibrations: bool,
    says: Option<&'a str>,
}

fn row_document<'a>(row: &'a Row<'_>) -> RowDocument<'a> {
    let expanded = |capture: &Capture| capture.reading.budget.expanded().expanded;
    let (old, new) = (row.old, row.new.as_ref().ok());
    RowDocument {
        id: old.id,
        capture: old.subject.to_string(),
        old_calibration: old.sensor.calibration.as_deref(),
        new_calibration: new.and_then(|new| new.sensor.calibration.as_deref()),
        old_deg: old.reading.angle,
        old_expanded_uncertainty_deg: expanded(old),
        new_deg: new.map(|new| new.reading.angle),
        new_expanded_uncertainty_deg: new.map(expanded),
        moved_deg: new.map(|new| moved(old.reading.angle, new.reading.angle)),
        mixes_calibrations: mixes(row),
        says: row.new.as_ref().err().map(String::as_str),
    }
}

fn cell_document((old, new): &(&Cell, &Cell)) -> Value {
    let value = |cell: &Cell| cell.value.as_ref().map(|value| value.angle);
    json!({
        "cell": old.name,
        "old_deg": value(old),
        "new_deg": value(new),
        "moved_deg": value(old).zip(value(new)).map(|(old, new)| moved(old, new)),
        "old_verdict": old.verdict.word(),
        "new_verdict": new.verdict.word(),
    })
}

fn told(rows: &[Row<'_>], cells: &[(&Cell, &Cell)], kept: bool) -> String {
    let capture = |row: &Row<'_>| {
        let new = row.new.as_ref().map(|new| (new, moved(row.old.reading.angle, new.reading.angle)));
        words::Moved::capture(row.old, new.map_err(Clone::clone))
    };
    let cell = |(old, new): &(&Cell, &Cell)| {
        let values = (old.value.as_ref()?, new.value.as_ref()?);
        let moved = moved(values.0.angle, values.1.angle);
        Some(words::Moved::cell(old.name, values, moved, (old.verdict.word(), new.verdict.word())))
    };
    let (captures, cells): (Vec<_>, Vec<_>) =
        (rows.iter().map(capture).collect(), cells.iter().filter_map(cell).collect());
    words::recomputed(&captures, &cells, rows.iter().any(mixes), kept)
}
