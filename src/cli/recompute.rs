//! `setup recompute`: the captures of a setup read anew from their raw samples, old beside new.

use super::setting::{setup, setup_to_write};
use super::source::{logbook, read_calibration};
use super::{CliError, Common, Outcome, Output, document};
use crate::bench::{Instrument, OpenSetup, recompute};
use crate::logbook::SavedDefault;
use crate::record::{Capture, Cell, Entry, Event, LimitRecord, RawSamples};
use crate::rotor::Datum;
use crate::sensor::Calibration;
use crate::stream::{Overrides, Profile, StreamError};
use crate::units::Angle;
use crate::words::{Face, Say};
use jiff::Timestamp;
use serde_json::{Value, json};
use std::path::PathBuf;
use uuid::Uuid;

/// Less than this, degrees, is no movement but the last digits of a sum.
const UNMOVED_DEGREES: f64 = 1e-9;

/// Arguments of `setup recompute`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  clinoblade setup recompute                                     today's filter, the calibrations as they were
  clinoblade setup recompute --calibration bench.toml            and this calibration for the captures that used one of its name
  clinoblade setup recompute --calibration new.toml --all --keep

A calibration replaces the one of its name; where no capture used that name, or with --all, every capture is read with it. The
raw samples are never changed. Without --keep nothing is recorded.")]
pub(super) struct Args {
    /// Its number, else the open one
    number: Option<u32>,

    /// A calibration to use; several sensors need several
    #[arg(long = "calibration", value_name = "FILE")]
    calibrations: Vec<PathBuf>,

    /// Use the calibration for every capture, whichever it was taken with
    #[arg(long, requires = "calibrations")]
    all: bool,

    /// Record the new readings: from then on they count
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
                return Err(CliError::Use("--all goes with one --calibration: which of them is for all?".into()));
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
        found.cloned().map(Some).ok_or_else(|| {
            format!("its calibration '{name}' is not at hand: name its file with --calibration, or another with --all")
        })
    }

    fn note(&self) -> String {
        let names: Vec<&str> = self.given.iter().map(|calibration| calibration.name.as_str()).collect();
        let filter = format!("filter of version {}", env!("CARGO_PKG_VERSION"));
        if names.is_empty() { filter } else { format!("{filter}, calibration {}", names.join(", ")) }
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

fn row_document(row: &Row<'_>) -> Value {
    let expanded = |capture: &Capture| capture.reading.budget.expanded().expanded;
    let new = row.new.as_ref().ok();
    json!({
        "id": row.old.id,
        "capture": row.old.subject.to_string(),
        "old_calibration": row.old.sensor.calibration,
        "new_calibration": new.map(|new| &new.sensor.calibration),
        "old_deg": row.old.reading.angle,
        "old_expanded_uncertainty_deg": expanded(row.old),
        "new_deg": new.map(|new| new.reading.angle),
        "new_expanded_uncertainty_deg": new.map(expanded),
        "moved_deg": new.map(|new| moved(row.old.reading.angle, new.reading.angle)),
        "mixes_calibrations": mixes(row),
        "says": row.new.as_ref().err(),
    })
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
    if rows.is_empty() {
        return "this setup has no captures: there is nothing to read anew".to_owned();
    }
    let mut lines = vec![format!("{:<34} {:>17} {:>17} {:>9}", "capture", "as it was", "read anew", "moved")];
    for row in rows {
        let old = document::value(&row.old.reading);
        lines.push(match &row.new {
            Ok(new) => format!(
                "{:<34} {old:>17} {:>17} {:>+8.3}°",
                row.old.subject.to_string(),
                document::value(&new.reading),
                moved(row.old.reading.angle, new.reading.angle).degrees()
            ),
            Err(why) => format!("{:<34} {old:>17} left as it was: {why}", row.old.subject.to_string()),
        });
    }
    lines.push(String::new());
    lines.push(format!("{:<34} {:>17} {:>17} {:>9}", "cell", "as it was", "read anew", "moved"));
    for (old, new) in cells {
        if let (Some(before), Some(after)) = (&old.value, &new.value) {
            let figure = |value: &crate::record::Value| document::with_uncertainty(value.angle, value.expanded);
            let verdict = match (old.verdict.word(), new.verdict.word()) {
                (one, other) if one == other => one.to_owned(),
                (one, other) => format!("{one}, now {other}"),
            };
            lines.push(format!(
                "{:<34} {:>17} {:>17} {:>+8.3}°  {verdict}",
                old.name.to_string(),
                figure(before),
                figure(after),
                moved(before.angle, after.angle).degrees()
            ));
        }
    }
    if rows.iter().any(mixes) {
        lines.push(
            "The zero was read with the old calibration: angles against it mix the two, travels and splits do not. Set the datum \
             again where an absolute angle matters."
                .to_owned(),
        );
    }
    lines.push(if kept {
        "The new readings are recorded and count from here on; the raw samples are as they were.".to_owned()
    } else {
        "Nothing was recorded: add --keep to let the new readings count.".to_owned()
    });
    lines.join("\n")
}
