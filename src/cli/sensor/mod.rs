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
    #[command(after_help = "\
Examples:
  clinoblade sensor default --port /dev/ttyUSB0 --profile sentence --calibration workshop.toml
  clinoblade sensor default            shows what is kept
  clinoblade sensor default --forget")]
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

fn profiles(output: &Output) -> Result<(), CliError> {
    let built_in: Vec<Profile> = Profile::BUILT_IN.iter().filter_map(|name| Profile::built_in(name)).collect();
    let described = |profile: &Profile| {
        let counts = if profile.is_angle_only() {
            "angles in degrees".to_owned()
        } else {
            format!("{} counts per g", profile.counts_per_g())
        };
        let asked = if profile.request().is_some() { ", polled" } else { "" };
        let line = format!(
            "{:<10} {counts}, {} baud{asked}, chord {}, normal {}",
            profile.name(),
            profile.baud(),
            profile.axes().chord(),
            profile.axes().normal()
        );
        let limits = profile.limits().iter().map(|limit| format!("\n           {limit}"));
        line + &limits.collect::<String>()
    };
    let documents: Vec<serde_json::Value> = built_in
        .iter()
        .map(|profile| {
            serde_json::json!({
                "name": profile.name(),
                "counts_per_g": profile.counts_per_g(),
                "baud": profile.baud(),
                "parity": profile.parity(),
                "rate_hz": profile.rate(),
                "chord": profile.axes().chord(),
                "normal": profile.axes().normal(),
                "limits": profile.limits(),
            })
        })
        .collect();
    let text: Vec<String> = built_in.iter().map(described).collect();
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
        Profile::find(profile).map_err(crate::stream::StreamError::from)?;
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
    let shown = |value: &Option<String>| value.clone().unwrap_or_else(|| "none".to_owned());
    let text = format!("source {}\nprofile {}\ncalibration {}", shown(&source), shown(&profile), shown(&calibration));
    let document = serde_json::json!({ "source": source, "profile": profile, "calibration": calibration });
    output.answer(&document, &text)
}
