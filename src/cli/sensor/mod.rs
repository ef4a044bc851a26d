//! `sensor`: its health, its calibration, how its clip sits, and the sensor that is used where nothing is said.

mod calibrate;
mod check;
mod identify;
mod keep;
mod orient;
mod profile_new;
mod reseat;
mod rests;

use super::source::{SourceArgs, existing, logbook};
use super::{CliError, Common, Outcome, Output};
use crate::logbook::SavedDefault;
use crate::stream::Profile;
use crate::stream::ports::Parity;
use crate::units::{Hertz, SensorAxis};
use crate::words::{Face, Say, sensor_commands as words};
use serde::Serialize;

/// Arguments of `sensor`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, clap::Subcommand)]
enum Command {
    /// The sensor's own health, from a record of it at rest
    Check(Box<check::Args>),
    /// Find the sensor's offsets, scales and misalignments
    Calibrate(Box<calibrate::Args>),
    /// How well the clip sits where it sat, from putting it on again and again
    Reseat(Box<reseat::Args>),
    /// Which profile an unknown sensor speaks, at which line speed
    Identify(identify::Args),
    /// How the sensor sits in its clip, found by gestures
    Orient(Box<orient::Args>),
    /// A profile for a sensor that nobody has described yet
    Profile(ProfileArgs),
    /// List the built-in profiles
    Profiles,
    /// Keep a source, profile or calibration as the one that is used where nothing is said
    #[command(after_help = words::DEFAULT_HELP)]
    Default {
        #[command(flatten)]
        source: Box<SourceArgs>,

        /// Forget what was kept
        #[arg(long)]
        forget: bool,
    },
}

#[derive(Debug, clap::Args)]
struct ProfileArgs {
    #[command(subcommand)]
    command: ProfileCommand,
}

#[derive(Debug, clap::Subcommand)]
enum ProfileCommand {
    /// Look at a few seconds of the stream, ask a little, and write a profile file
    New(Box<profile_new::Args>),
}

/// Lists or keeps.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    match args.command {
        Command::Check(check) => return check::run(*check, common, output).await,
        Command::Calibrate(calibrate) => return calibrate::run(*calibrate, common, output).await,
        Command::Reseat(reseat) => return reseat::run(*reseat, common, output).await,
        Command::Identify(identify) => return identify::run(identify, common, output).await,
        Command::Orient(orient) => return orient::run(*orient, common, output).await,
        Command::Profile(ProfileArgs { command: ProfileCommand::New(new) }) => {
            return profile_new::run(*new, common, output).await;
        }
        Command::Profiles => profiles(output)?,
        Command::Default { source, forget } => keep(&source, forget, common, output).await?,
    }
    Ok(Outcome::Done)
}

#[derive(Serialize)]
struct Listed {
    name: &'static str,
    counts_per_g: f64,
    baud: u32,
    parity: Parity,
    rate_hz: Option<Hertz>,
    chord: SensorAxis,
    normal: SensorAxis,
    limits: Vec<String>,
}

/// What a sensor of this profile cannot show.
fn limits(profile: &Profile) -> Vec<String> {
    profile.limits().iter().map(|limit| limit.say(Face::Terminal)).collect()
}

fn profiles(output: &Output) -> Result<(), CliError> {
    let built_in = || Profile::BUILT_IN.into_iter().filter_map(|name| Some((name, Profile::built_in(name)?)));
    let listed = |(name, profile): (&'static str, Profile)| Listed {
        name,
        counts_per_g: profile.counts_per_g(),
        baud: profile.baud(),
        parity: profile.parity(),
        rate_hz: profile.rate(),
        chord: profile.axes().chord(),
        normal: profile.axes().normal(),
        limits: limits(&profile),
    };
    let text: Vec<String> = built_in().map(|(_, profile)| words::profile(&profile)).collect();
    let documents: Vec<Listed> = built_in().map(listed).collect();
    output.answer(&serde_json::json!({ "profiles": documents }), &text.join("\n"))
}

async fn keep(source: &SourceArgs, forget: bool, common: &Common, output: &Output) -> Result<(), CliError> {
    // To look, or to forget, begins no logbook.
    source.is_one()?;
    let profile = source.named_profile().map(str::to_owned);
    let changes = source.is_named() || profile.is_some() || source.named_calibration().is_some();
    let logbook = match existing(common).await? {
        Some(logbook) => logbook,
        None if changes => logbook(common).await?,
        None => return show([None, None, None], output),
    };
    if forget {
        for which in [
            SavedDefault::Source,
            SavedDefault::Profile,
            SavedDefault::Calibration,
            SavedDefault::Reseat,
            SavedDefault::Floor,
            SavedDefault::Reversal,
        ] {
            logbook.save(which, None).await?;
        }
    }
    let named = source.named_source().map(|source| serde_json::to_string(&source)).transpose();
    let named = named.map_err(|error| CliError::Use(error.to_string()))?;
    // Absolute, so that it is found from any folder; read once, so that a slip shows now.
    let calibration = match source.named_calibration() {
        Some(path) => {
            crate::cli::source::read_calibration(path)?;
            let absolute = std::path::absolute(path);
            Some(absolute.map_err(CliError::file(path))?)
        }
        None => None,
    };
    // Another sensor has another floor.
    if source.is_named() {
        logbook.save(SavedDefault::Floor, None).await?;
    }
    if let Some(profile) = &profile {
        Profile::find(profile)?;
    }
    let calibration = calibration.map(|path| path.display().to_string());
    let chosen =
        [(SavedDefault::Source, &named), (SavedDefault::Profile, &profile), (SavedDefault::Calibration, &calibration)];
    for (which, value) in chosen {
        if let Some(value) = value {
            logbook.save(which, Some(value)).await?;
        }
    }
    let kept = [
        logbook.saved(SavedDefault::Source).await?,
        logbook.saved(SavedDefault::Profile).await?,
        logbook.saved(SavedDefault::Calibration).await?,
    ];
    show(kept, output)
}

fn show([source, profile, calibration]: [Option<String>; 3], output: &Output) -> Result<(), CliError> {
    let opened = source.as_deref().and_then(|text| serde_json::from_str(text).ok());
    let text = words::default_sensor(opened.as_ref(), profile.as_deref(), calibration.as_deref());
    let document = serde_json::json!({ "source": source, "profile": profile, "calibration": calibration });
    output.answer(&document, &text)
}
