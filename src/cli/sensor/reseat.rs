//! `sensor reseat`: how well the clip sits where it sat, from putting it on again and again.

use super::rests::Rests;
use crate::bench::saved_reseat;
use crate::bench::{BenchError, Instrument, Rest, angle_between, pose};
use crate::cli::parsed;
use crate::cli::source::{SourceArgs, existing, logbook};
use crate::cli::{CliError, Common, Outcome, Output, question};
use crate::logbook::SavedDefault;
use crate::rotor::{BladeName, Rotation, Visibility};
use crate::sensor::reseat::{Doubt, FEWEST_SEATINGS, Reseat, Seating, doubts};
use crate::units::{Angle, SensorVector};
use crate::words::sensor_commands::{RESEAT_HELP, reseat as words};
use serde::Serialize;

/// Twice the standard uncertainty of a reading.
const WANT_DEGREES: f64 = 0.03;
/// A rest this close to the blade's first is the clip on the blade; any other is the clip in the hand or on the bench.
const ON_THE_BLADE_DEGREES: f64 = 8.0;
/// Two blades at one station do not differ by more.
const OTHER_BLADE_DEGREES: f64 = 15.0;

/// Arguments of `sensor reseat`.
#[derive(Debug, clap::Args)]
#[command(after_help = RESEAT_HELP)]
pub(super) struct Args {
    /// How often the clip goes on each blade
    #[arg(long, value_name = "N", default_value_t = 6)]
    times: usize,

    /// The blades, by name
    #[arg(long, value_name = "A,B", value_delimiter = ',', default_values = ["A", "B"], value_parser = parsed::<BladeName>)]
    blades: Vec<BladeName>,

    /// Only say what was found; keep nothing
    #[arg(long)]
    no_keep: bool,

    /// Show the study that is saved, and measure nothing
    #[arg(long, conflicts_with_all = ["forget", "no_keep"])]
    show: bool,

    /// Forget the saved study: the clip's seat is assumed again
    #[arg(long, conflicts_with = "no_keep")]
    forget: bool,

    #[command(flatten)]
    source: SourceArgs,
}

/// Guides, evaluates, keeps.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    if args.show || args.forget {
        return saved_study(args.forget, common, output).await;
    }
    if args.times < FEWEST_SEATINGS {
        return Err(CliError::Use(words::too_few()));
    }
    let saved = args.source.saved(common).await?;
    let opened = args.source.open(&saved, Rotation::Clockwise).await?;
    let instrument = opened.instrument.clone();
    let mut rests = Rests::of(opened, Angle::from_degrees(WANT_DEGREES));
    let mut seatings: Vec<Vec<Seating>> = Vec::new();
    let mut other_blade = None;
    for blade in &args.blades {
        begin(*blade, other_blade.is_some(), &mut rests, output).await?;
        let (of_blade, at) = seated(*blade, args.times, other_blade, &instrument, &mut rests, output).await?;
        seatings.push(of_blade);
        other_blade = Some(at);
    }
    rests.save()?;
    let found = Reseat::of(&seatings)?;
    // Where nobody can be asked, what is doubtful is said with the result.
    let doubted: Vec<Vec<Doubt>> = seatings.iter().map(|of_blade| doubts(of_blade)).collect();
    let mut text = words::found(&found);
    if !question::can_ask(output) {
        let said = |(blade, doubts): (&BladeName, &Vec<Doubt>)| words::doubtful(*blade, doubts);
        text.extend(args.blades.iter().zip(&doubted).filter(|(_, doubts)| !doubts.is_empty()).map(said));
    }
    let kept =
        !args.no_keep && (!question::can_ask(output) || question::yes(&text.join("\n"), words::SAVE_IT, output).await);
    if kept {
        let logbook = logbook(common).await?;
        let text = serde_json::to_string(&found).map_err(|error| CliError::Use(error.to_string()))?;
        logbook.save(SavedDefault::Reseat, Some(&text)).await?;
        logbook.close().await;
    }
    text.push(words::saved(kept).to_owned());
    let document = Document { reseat: &found, kept, seatings: &seatings, doubts: &doubted };
    output.answer(&document, &text.join("\n"))?;
    Ok(Outcome::Done)
}

/// Shows the saved study, or forgets it.
async fn saved_study(forget: bool, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    let found = match existing(common).await? {
        Some(logbook) => {
            let found = saved_reseat(&logbook).await?;
            if forget {
                logbook.save(SavedDefault::Reseat, None).await?;
            }
            logbook.close().await;
            found
        }
        None => None,
    };
    let mut text = found.as_ref().map_or_else(|| vec![words::NO_STUDY.to_owned()], words::found);
    if forget && found.is_some() {
        text.push(words::FORGOTTEN.to_owned());
    }
    let document = serde_json::json!({ "reseat": found, "kept": found.is_some() && !forget });
    output.answer(&document, &text.join("\n"))?;
    Ok(Outcome::Done)
}

#[derive(Serialize)]
struct Document<'a> {
    reseat: &'a Reseat,
    kept: bool,
    seatings: &'a [Vec<Seating>],
    /// What is doubtful, of each blade.
    doubts: &'a [Vec<Doubt>],
}

/// Waits until the person says that the clip is on; where nobody can say so, the first fitting rest counts.
async fn begin(blade: BladeName, is_next: bool, rests: &mut Rests, output: &Output) -> Result<(), CliError> {
    output.say(&words::begin(blade, is_next));
    if !question::can_ask(output) {
        return Ok(());
    }
    output.say(&words::enter());
    let confirmed = question::line();
    tokio::pin!(confirmed);
    loop {
        tokio::select! {
            _ = &mut confirmed => break,
            // What the sensor sees on its way to the blade is no seating.
            rest = rests.next(output) => if rest?.is_none() { break },
        }
    }
    rests.afresh();
    Ok(())
}

/// So many seatings of one blade, and where the sensor pointed in the first.
async fn seated(
    blade: BladeName,
    times: usize,
    other_blade: Option<SensorVector>,
    instrument: &Instrument,
    rests: &mut Rests,
    output: &Output,
) -> Result<(Vec<Seating>, SensorVector), CliError> {
    let mut seatings = Vec::new();
    let mut first: Option<SensorVector> = other_blade;
    let mut reach = OTHER_BLADE_DEGREES;
    loop {
        if seatings.len() >= times {
            let doubts = doubts(&seatings);
            let asked = !doubts.is_empty() && question::can_ask(output);
            if !asked || question::yes(&words::doubtful(blade, &doubts), words::ALL_SEATED, output).await {
                break;
            }
            without(&mut seatings, &doubts);
            rests.afresh();
            output.say(&words::again(times - seatings.len()));
        }
        let Some(rest) = rests.next(output).await? else {
            return Err(CliError::Measurement(words::ended(seatings.len(), times, blade)));
        };
        if first.is_some_and(|first| angle_between(first, rest.up).degrees() > reach) {
            continue;
        }
        let Some((seating, upright)) = seating(&rest, instrument)? else { continue };
        // Nothing was read yet that it could be held against.
        if first.is_none() && !upright && !question::yes(words::UPSIDE_DOWN, words::IS_SEATED, output).await {
            if !question::can_ask(output) {
                output.say(words::UPSIDE_DOWN);
            }
            continue;
        }
        if seatings.is_empty() {
            first = Some(rest.up);
            reach = ON_THE_BLADE_DEGREES;
        }
        seatings.push(seating);
        output.say(&words::taken(seatings.len(), times, seating.angle_deg));
    }
    Ok((seatings, first.unwrap_or_default()))
}

/// Takes out what was doubted: of two groups nobody knows which.
fn without(seatings: &mut Vec<Seating>, doubts: &[Doubt]) {
    let mut number = 0;
    let two_groups = doubts.iter().any(|doubt| matches!(doubt, Doubt::TwoGroups { .. }));
    seatings.retain(|_| {
        number += 1;
        !two_groups && !doubts.iter().any(|doubt| matches!(doubt, Doubt::Off { number: off, .. } if *off == number))
    });
}

/// The seating, and whether the sensor lies the right way up.
fn seating(rest: &Rest, instrument: &Instrument) -> Result<Option<(Seating, bool)>, CliError> {
    let Some(pose) = pose(&rest.taken) else { return Ok(None) };
    let up = instrument.mounting.to_clip(instrument.calibration.apply(pose.mean));
    if let Some(fault) = instrument.gravity_fault_of(up, rest.taken.temperature) {
        return Err(BenchError::Sensor(fault).into());
    }
    Visibility::of(up)?;
    let seating = Seating { angle_deg: up.apparent_pitch(), repeat_deg: rest.taken.steady.repeat };
    Ok(Some((seating, up.normal > 0.0)))
}
