//! `advise`: what to turn, from what was captured. It records nothing.

mod collective;
pub(super) mod link;
mod symmetry;
mod travel;

use super::{CliError, Common, Outcome, Output};
use crate::record::{TravelPair, TravelSurvey};
use crate::rotor::{Collective, Deflection, Spot};
use crate::uncertainty::Target;
use crate::units::{Angle, Percent};
use serde_json::{Value, json};

/// Arguments of `advise`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, clap::Subcommand)]
enum Command {
    /// Which pitch links to turn, and by how many half-turns
    Link(link::Args),
    /// The output that gives a wanted angle
    Travel(travel::Args),
    /// One direction against the other, and the neutral or the end point that balances them
    Symmetry(symmetry::Args),
    /// The collective: pitch against stick, how straight, and the outputs for wanted ends
    Collective(collective::Args),
}

/// Works the advice out and prints it.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    match args.command {
        Command::Link(args) => link::run(args, common, output).await,
        Command::Travel(args) => travel::run(args, common, output).await,
        Command::Symmetry(args) => symmetry::run(args, common, output).await,
        Command::Collective(args) => collective::run(args, common, output).await,
    }
}

/// An end point as a person states it.
fn end_point(text: &str) -> Result<Percent, String> {
    match text.trim_end_matches('%').trim().parse::<f64>() {
        Ok(percent) if (1.0..=200.0).contains(&percent) => Ok(Percent::new(percent)),
        _ => Err("write a percentage from 1 to 200".to_owned()),
    }
}

/// Which movement a target asks for: a ceiling bounds its size, and the low end of the collective goes below zero.
fn sought(end: Deflection, target: Target) -> Angle {
    match target {
        Target::AtMost(ceiling) if end == Deflection::Collective(Collective::Low) => -ceiling,
        other => other.value(),
    }
}

fn place(spot: Spot) -> String {
    match spot {
        Spot::Main(station) => format!("at {station}"),
        Spot::Tail(edge) => format!("with the leading edge {edge}"),
    }
}

/// One pair in a line.
fn line(pair: &TravelPair) -> String {
    let assumed = if pair.assumed { ", taken on trust" } else { "" };
    format!(
        "  {:>6.1} % output  {} ± {:.2}°  ({}, stick {:.0} %, end point {:.0} %{assumed})",
        pair.output.value(),
        pair.moved,
        pair.expanded.degrees(),
        pair.deflection,
        pair.stick.value(),
        pair.end_point.value(),
    )
}

/// What is assumed about end points, where anything is.
fn trust(survey: &TravelSurvey) -> Option<String> {
    survey.assumes_end_points().then(|| {
        "No end point was recorded before the first of these captures: it is taken as 100 %. If it stood elsewhere, say so \
         with --end-point PERCENT."
            .to_owned()
    })
}

fn pair_documents(survey: &TravelSurvey) -> Value {
    let pairs = survey.pairs.iter().map(|pair| {
        json!({
            "capture": pair.capture,
            "direction": pair.deflection.direction(),
            "output_percent": pair.output,
            "stick_percent": pair.stick,
            "end_point_percent": pair.end_point,
            "end_point_assumed": pair.assumed,
            "moved_deg": pair.moved,
            "expanded_uncertainty_deg": pair.expanded,
        })
    });
    pairs.collect()
}

/// Where the pairs were read.
fn place_documents(survey: &TravelSurvey) -> [(&'static str, Value); 3] {
    let (station, edge) = match survey.spot {
        Spot::Main(station) => (json!(station), Value::Null),
        Spot::Tail(edge) => (Value::Null, json!(edge)),
    };
    [("blade", json!(survey.blade)), ("station_deg", station), ("leading_edge", edge)]
}
