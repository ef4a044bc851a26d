//! `advise symmetry`: one direction of an axis against the other.

use super::{CliError, Common, Outcome, Output, end_point};
use crate::advice::Symmetry;
use crate::cli::parsed;
use crate::cli::setting::setup;
use crate::record::{Balance, BalanceAdvice, LeftAlone};
use crate::rotor::Axis;
use crate::units::{Angle, Percent};
use crate::words::advice::{self as words, SYMMETRY_HELP};
use serde::Serialize;

/// Arguments of `advise symmetry`.
#[derive(Debug, clap::Args)]
#[command(after_help = SYMMETRY_HELP)]
pub(super) struct Args {
    /// elevator, aileron or rudder [default: every axis with two travels]
    #[arg(value_parser = parsed::<Axis>)]
    axis: Option<Axis>,

    /// Where the end points stood before the first one that was recorded
    #[arg(long, value_name = "PERCENT", value_parser = end_point)]
    end_point: Option<Percent>,

    /// Work on this setup instead of the open one
    #[arg(long, value_name = "NUMBER")]
    setup: Option<u32>,
}

/// Prints each axis.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let axes = match args.axis {
        Some(axis @ (Axis::Elevator | Axis::Aileron | Axis::Rudder)) => vec![axis],
        Some(other) => return Err(CliError::Use(words::no_balance(other).to_owned())),
        None => vec![Axis::Elevator, Axis::Aileron, Axis::Rudder],
    };
    let open = setup(args.setup, common).await?;
    let record = open.record();
    let (head, entries) = (&open.setup().head, open.entries());
    let balances = axes.into_iter().filter_map(|axis| Balance::new(&record, axis)).map(|balance| {
        let left_alone = balance.left_alone(head, args.axis.is_some());
        let advice = balance.advice(head, entries, args.end_point).filter(|_| left_alone.is_none());
        let said = words::balance(&balance, advice.as_ref(), left_alone);
        (AxisAnswer::new(&balance, advice.as_ref(), left_alone), said)
    });
    let (axes, lines): (Vec<AxisAnswer>, Vec<String>) = balances.unzip();
    if lines.is_empty() {
        return Err(CliError::Measurement(words::NO_TRAVELS.to_owned()));
    }
    output.answer(&Answer { setup: open.setup().number, axes }, &lines.join("\n"))?;
    Ok(Outcome::Done)
}

#[derive(Serialize)]
struct Answer {
    setup: u32,
    axes: Vec<AxisAnswer>,
}

#[derive(Serialize)]
struct AxisAnswer {
    axis: Axis,
    difference_deg: Angle,
    wanted_deg: Option<Angle>,
    expanded_uncertainty_deg: Option<Angle>,
    significant: bool,
    /// Why nothing is advised although the difference is significant.
    left_alone: Option<LeftAlone>,
    bound: bool,
    neutral_shift_deg: Option<Angle>,
    neutral_shift_direction: Option<String>,
    end_point: Option<EndPointAnswer>,
}

#[derive(Serialize)]
struct EndPointAnswer {
    direction: String,
    set_percent: Percent,
    expected_deg: Angle,
    expanded_uncertainty_deg: Angle,
    end_point_assumed: bool,
}

impl AxisAnswer {
    fn new(balance: &Balance, advice: Option<&BalanceAdvice>, left_alone: Option<LeftAlone>) -> Self {
        let symmetry = balance.symmetry.as_ref();
        let toward = |symmetry: &Symmetry| balance.ends[usize::from(symmetry.neutral_shift <= Angle::ZERO)].direction();
        Self {
            axis: balance.ends[0].axis(),
            difference_deg: balance.travels[0].angle - balance.travels[1].angle,
            wanted_deg: symmetry.map(|symmetry| symmetry.wanted),
            expanded_uncertainty_deg: symmetry.map(|symmetry| symmetry.expanded),
            significant: symmetry.is_some_and(Symmetry::is_significant),
            left_alone,
            bound: balance.bound,
            neutral_shift_deg: symmetry.map(|symmetry| symmetry.neutral_shift),
            neutral_shift_direction: symmetry.map(toward),
            end_point: advice.and_then(|advice| advice.end_point).map(|end_point| EndPointAnswer {
                direction: end_point.end.direction(),
                set_percent: end_point.set,
                expected_deg: end_point.gives,
                expanded_uncertainty_deg: end_point.expanded,
                end_point_assumed: end_point.assumed,
            }),
        }
    }
}
