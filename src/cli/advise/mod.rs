//! `advise`: what to turn, from what was captured. It records nothing.

mod collective;
pub(super) mod link;
mod swash;
mod symmetry;
mod travel;

use super::{CliError, Common, Outcome, Output};
use crate::record::{EndPoint, TravelSurvey};
use crate::rotor::{BladeName, Collective, Deflection, LeadingEdge, Spot, Station};
use crate::uncertainty::Target;
use crate::units::{Angle, Percent};
use crate::words::advice::{BEYOND, NO_END_POINT};
use serde::Serialize;
use uuid::Uuid;

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
    /// Which servo's link levels the swashplate at stick centre
    Swash(swash::Args),
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
        Command::Swash(args) => swash::run(args, common, output).await,
        Command::Travel(args) => travel::run(args, common, output).await,
        Command::Symmetry(args) => symmetry::run(args, common, output).await,
        Command::Collective(args) => collective::run(args, common, output).await,
    }
}

/// An end point as a person states it.
fn end_point(text: &str) -> Result<Percent, String> {
    match text.trim_end_matches('%').trim().parse::<f64>() {
        Ok(percent) if (1.0..=200.0).contains(&percent) => Ok(Percent::new(percent)),
        _ => Err(NO_END_POINT.to_owned()),
    }
}

/// Which movement a target asks for: a ceiling bounds its size, and the low end of the collective goes below zero.
fn sought(end: Deflection, target: Target) -> Angle {
    match target {
        Target::AtMost(ceiling) if end == Deflection::Collective(Collective::Low) => -ceiling,
        other => other.value(),
    }
}

/// The captures that a curve was drawn through, and where they were read.
#[derive(Serialize)]
struct Captured {
    blade: BladeName,
    station_deg: Option<Station>,
    leading_edge: Option<LeadingEdge>,
    end_point_assumed: bool,
    pairs: Vec<PairAnswer>,
}

#[derive(Serialize)]
struct PairAnswer {
    capture: Uuid,
    direction: String,
    output_percent: Percent,
    stick_percent: Percent,
    end_point_percent: Percent,
    end_point_assumed: bool,
    moved_deg: Angle,
    expanded_uncertainty_deg: Angle,
}

impl Captured {
    fn new(survey: &TravelSurvey) -> Self {
        let (station_deg, leading_edge) = match survey.spot {
            Spot::Main(station) => (Some(station), None),
            Spot::Tail(edge) => (None, Some(edge)),
        };
        let pairs = survey.pairs.iter().map(|pair| PairAnswer {
            capture: pair.capture,
            direction: pair.deflection.direction(),
            output_percent: pair.output,
            stick_percent: pair.stick,
            end_point_percent: pair.end_point,
            end_point_assumed: pair.assumed,
            moved_deg: pair.moved,
            expanded_uncertainty_deg: pair.expanded,
        });
        let end_point_assumed = survey.assumes_end_points();
        Self { blade: survey.blade, station_deg, leading_edge, end_point_assumed, pairs: pairs.collect() }
    }
}

/// The output for one end, and what it gives.
#[derive(Serialize)]
struct Found {
    direction: String,
    wanted_deg: Angle,
    output_percent: f64,
    output_expanded_uncertainty_percent: Percent,
    set_percent: Percent,
    expected_deg: Angle,
    expanded_uncertainty_deg: Angle,
    caution: Option<&'static str>,
}

impl Found {
    fn new(survey: &TravelSurvey, end: Deflection, wanted_deg: Angle, found: &crate::advice::Output) -> Self {
        let EndPoint { set, gives, expanded, beyond, .. } = survey.end_point(end, found);
        Self {
            direction: end.direction(),
            wanted_deg,
            output_percent: found.output.value().abs(),
            output_expanded_uncertainty_percent: found.expanded,
            set_percent: set,
            expected_deg: gives,
            expanded_uncertainty_deg: expanded,
            caution: beyond.then_some(BEYOND),
        }
    }
}
