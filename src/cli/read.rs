//! `read`: one steady angle with its uncertainty. It records nothing.

use super::setting::Setting;
use super::source::SourceArgs;
use super::steady::SteadyArgs;
use super::{CliError, Common, Outcome, Output, document};
use crate::bench::{Circumstances, evaluate};
use crate::cli::parsed;
use crate::record::Head;
use crate::rotor::{BladeName, Clip, LeadingEdge, Place, Rotation, Spot, Station};
use std::path::PathBuf;

/// Arguments of `read`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  clinoblade read --port /dev/ttyUSB0
  clinoblade read --replay blade.log --json --want 0.02
  clinoblade read --setup 3 --blade A --station 90

A reading stands alone: the angle is against gravity, of a sensor by its nominal counts per g. Where no source is named, the \
saved one is read with its profile. With --setup the datum, the head and, with the saved source, the saved calibration are used \
as `capture` uses them. A blade or a setup adds what the clip's seat is uncertain by; a bare sensor has none.")]
pub(super) struct Args {
    #[command(flatten)]
    source: SourceArgs,

    #[command(flatten)]
    steady: SteadyArgs,

    /// Use the datum and head of this setup
    #[arg(long, value_name = "NUMBER")]
    setup: Option<u32>,

    /// Head description: it says which way the rotor turns
    #[arg(long, value_name = "FILE")]
    head: Option<PathBuf>,

    /// A datum, as `datum … --json` printed it
    #[arg(long, value_name = "FILE")]
    datum: Option<PathBuf>,

    /// The blade that carries the clip
    #[arg(long, value_parser = parsed::<BladeName>)]
    blade: Option<BladeName>,

    /// Where it stands, degrees from the boom in the direction of rotation
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true, value_parser = parsed::<Station>)]
    station: Option<Station>,

    /// It is a tail blade, its leading edge up or down
    #[arg(long, value_name = "up|down", conflicts_with = "station", value_parser = parsed::<LeadingEdge>)]
    leading_edge: Option<LeadingEdge>,

    /// Which way the clip sits
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
                return Err(CliError::Use(
                    "where does the blade stand? Add --station DEGREES, or --leading-edge up|down for a tail blade"
                        .into(),
                ));
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
    let mut text = vec![super::document::value(&reading)];
    text.extend(document::remarks(&reading, &taken));
    if !instrument.calibration.is_calibrated() {
        text.push(
            "the sensor is not calibrated: that is most of the uncertainty of an angle against gravity".to_owned(),
        );
    }
    if args.steady.explain {
        text.push(crate::words::uncertainty::explained(&reading.budget, crate::words::Face::Terminal));
    }
    let mut document = document::reading(&reading, &taken);
    if let serde_json::Value::Object(fields) = &mut document {
        fields.insert("calibration".to_owned(), instrument.calibration_name().into());
    }
    output.answer(&document, &text.join("\n"))?;
    Ok(if reading.steady { Outcome::Done } else { Outcome::SaysNo })
}
