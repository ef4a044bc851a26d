//! `read`: one steady angle with its uncertainty. It records nothing.

use super::setting::{Setting, SettingArgs};
use super::source::SourceArgs;
use super::steady::SteadyArgs;
use super::{CliError, Common, Outcome, Output, document};
use crate::bench::evaluate;
use crate::record::Head;
use crate::rotor::Rotation;
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

    #[command(flatten)]
    setting: SettingArgs,

    /// Head description, for the direction of rotation
    #[arg(long, value_name = "FILE")]
    head: Option<PathBuf>,

    /// Zero to use, as printed by `datum … --json`
    #[arg(long, value_name = "FILE", conflicts_with = "raw")]
    datum: Option<PathBuf>,
}

/// Reads and prints.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let setting = Setting::new(&args.setting, &args.source, args.datum.as_deref(), common).await?;
    let rotation = match &args.head {
        Some(path) => Head::from_toml(&super::head::read_file(path)?)?.rotation,
        None => setting.rotation.unwrap_or(Rotation::Clockwise),
    };
    // A zero of one place, and no place: said before anything is read.
    let shown = setting.shown()?;
    let saved = setting.saved(&args.source, common, output).await?;
    let opened = args.source.open(&saved, rotation).await?;
    let instrument = opened.instrument.clone();
    let taken = super::steady::take(opened, &args.steady, shown, output).await?;
    let reading = evaluate(&taken, &instrument, &setting.circumstances())?;
    let mut text = Vec::from_iter(words::reading::bad_line(taken.counters.damaged(), taken.counters.good));
    text.push(words::reading::value(&reading));
    text.extend(words::reading::remarks(&reading, &taken.steady, &taken.counters, output.is_verbose()));
    text.extend(setting.said(instrument.calibration_name().as_deref()));
    if !instrument.calibration.is_calibrated() && !args.setting.raw {
        text.push(words::reading::NOT_CALIBRATED.to_owned());
    }
    if args.steady.explain {
        text.push(words::uncertainty::explained(&reading.budget, words::Face::Terminal));
    }
    let mut document = document::reading(&reading, &taken);
    if let serde_json::Value::Object(fields) = &mut document {
        fields.insert("calibration".to_owned(), instrument.calibration_name().into());
        fields.insert("datum".to_owned(), setting.zero().into());
        fields.insert("setup".to_owned(), setting.setup.as_ref().map(|(number, _)| *number).into());
    }
    output.answer(&document, &text.join("\n"))?;
    Ok(if reading.steady { Outcome::Done } else { Outcome::SaysNo })
}
