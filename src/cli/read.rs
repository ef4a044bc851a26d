//! `read`: one steady angle with its uncertainty. It records nothing.

use super::setting::Setting;
use super::source::SourceArgs;
use super::steady::SteadyArgs;
use super::{CliError, Common, Outcome, Output, document};
use crate::bench::{Circumstances, evaluate};
use crate::cli::parsed;
use crate::record::Head;
use crate::rotor::{BladeName, Clip, LeadingEdge, Place, Rotation, Spot, Station};
use crate::words::{self, help};
use std::path::PathBuf;

/// Arguments of `read`.
#[derive(Debug, clap::Args)]
#[command(after_help = help::READ)]
pub(super) struct Args {
    #[command(flatten)]
    source: SourceArgs,

    #[command(flatten)]
    steady: SteadyArgs,

    /// Use the zero and head of this setup
    #[arg(long, value_name = "NUMBER")]
    setup: Option<u32>,

    /// Head description, for the direction of rotation
    #[arg(long, value_name = "FILE")]
    head: Option<PathBuf>,

    /// Zero to use, as printed by `datum … --json`
    #[arg(long, value_name = "FILE")]
    datum: Option<PathBuf>,

    /// The blade that carries the clip
    #[arg(long, value_parser = parsed::<BladeName>)]
    blade: Option<BladeName>,

    /// Where it is, degrees from the boom in the direction of rotation
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true, value_parser = parsed::<Station>)]
    station: Option<Station>,

    /// Where the tail blade's leading edge points
    #[arg(long, value_name = "up|down", conflicts_with = "station", value_parser = parsed::<LeadingEdge>)]
    leading_edge: Option<LeadingEdge>,

    /// Clip forward or reversed (end for end)
    #[arg(long, value_name = "forward|reversed", default_value = "forward", value_parser = parsed::<Clip>)]
    clip: Clip,
}

impl Args {
    fn place(&self) -> Result<Option<Place>, CliError> {
        let spot = match (self.station, self.leading_edge) {
            (Some(station), _) => Spot::Main(station),
            (None, Some(edge)) => Spot::Tail(edge),
            (None, None) if self.blade.is_none() => return Ok(None),
            (None, None) => {
                return Err(CliError::Use(words::reading::PLACE_WANTED.into()));
            }
        };
        Ok(Some(Place { blade: self.blade.unwrap_or(BladeName::A), spot, clip: self.clip }))
    }
}

/// Reads and prints.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let place = args.place()?;
    let setting = Setting::of(args.setup, args.datum.as_deref(), args.source.carrier(), common).await?;
    let rotation = match &args.head {
        Some(path) => Head::from_toml(&super::head::read_file(path)?)?.rotation,
        None => setting.rotation.unwrap_or(Rotation::Clockwise),
    };
    let saved = match &setting.logbook {
        Some(logbook) => args.source.saved_for(logbook, output).await?,
        None => args.source.saved(common).await?,
    };
    let opened = args.source.open(&saved, rotation).await?;
    let instrument = opened.instrument.clone();
    let taken = super::steady::take(opened, &args.steady, output).await?;
    let at = Circumstances {
        place,
        clip: args.clip,
        datum: setting.datum,
        datum_temperature: setting.temperature,
        on_the_datums_seat: false,
    };
    let reading = evaluate(&taken, &instrument, &at)?;
    let mut text = vec![words::reading::value(&reading)];
    text.extend(words::reading::remarks(&reading, &taken.steady, &taken.counters, output.is_verbose()));
    if !instrument.calibration.is_calibrated() {
        text.push(words::reading::NOT_CALIBRATED.to_owned());
    }
    if args.steady.explain {
        text.push(words::uncertainty::explained(&reading.budget, words::Face::Terminal));
    }
    let mut document = document::reading(&reading, &taken);
    if let serde_json::Value::Object(fields) = &mut document {
        fields.insert("calibration".to_owned(), instrument.calibration_name().into());
    }
    output.answer(&document, &text.join("\n"))?;
    Ok(if reading.steady { Outcome::Done } else { Outcome::SaysNo })
}
