//! `sensor identify`: tries bauds and profiles, and names what fits, with evidence; else says what it saw.

use super::limits;
use crate::cli::source::SourceArgs;
use crate::cli::{CliError, Common, Outcome, Output};
use crate::stream::identify::{
    Evidence, Identity, Seen, SerialLine, USUAL_BAUDS, Verdict, identify, identify_recording,
};
use crate::stream::ports::Parity;
use crate::stream::{Profile, Source, file};
use crate::units::{Gravities, Hertz};
use crate::words::sensor_commands::{IDENTIFY_HELP, identify as words, must_be_within};
use crate::words::{Face, Say};
use serde::Serialize;
use std::path::PathBuf;
use std::time::Duration;

/// Arguments of `sensor identify`.
#[derive(Debug, clap::Args)]
#[command(after_help = IDENTIFY_HELP)]
pub(super) struct Args {
    /// Listen on this serial port [default: the only one present]
    #[arg(long, value_name = "DEVICE", conflicts_with = "replay")]
    port: Option<String>,

    /// Look at a raw log instead
    #[arg(long, value_name = "FILE")]
    replay: Option<PathBuf>,

    /// Try this line speed only
    #[arg(long, conflicts_with = "replay")]
    baud: Option<u32>,

    /// Try this profile file as well, before the built-in ones; may be given several times
    #[arg(long, value_name = "FILE")]
    profile: Vec<String>,

    /// How long to listen at each line speed, seconds
    #[arg(long = "for", value_name = "SECONDS", default_value_t = 1.5)]
    duration: f64,
}

/// Listens, and says what it found: exit code 1 when nothing fits.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    if !(args.duration >= 0.2 && args.duration <= 60.0) {
        return Err(CliError::Use(must_be_within("--for", "0.2 to 60 seconds", "1.5")));
    }
    let named: Result<Vec<Profile>, _> = args.profile.iter().map(|name| Profile::find(name)).collect();
    let mut candidates = named?;
    candidates.extend(Profile::BUILT_IN.iter().filter_map(|name| Profile::built_in(name)));
    let (identity, source) = match &args.replay {
        Some(path) => {
            let bytes = file::read(path, file::MOST_OF_A_SAMPLE).map_err(CliError::file(path))?;
            (identify_recording(bytes, &candidates), Source::Replay(path.clone()))
        }
        None => {
            let path = args.port(common).await?;
            let bauds = args.baud.map_or(USUAL_BAUDS.to_vec(), |baud| vec![baud]);
            output.say(&words::listening(&path));
            let mut line = SerialLine::new(path.clone());
            let within = Duration::from_secs_f64(args.duration);
            (identify(&mut line, &candidates, &bauds, within).await?, Source::Port(path))
        }
    };
    let text = match &identity.verdict {
        Verdict::Fits(fits) => fitting(fits, &source, &args.profile),
        _ => words::nothing_fits(&identity),
    };
    output.answer(&document(&identity), &text)?;
    Ok(if matches!(identity.verdict, Verdict::Fits(_)) { Outcome::Done } else { Outcome::SaysNo })
}

impl Args {
    async fn port(&self, common: &Common) -> Result<String, CliError> {
        let source = SourceArgs::at_port(self.port.as_deref());
        match source.source(&source.saved(common).await?)? {
            Some(Source::Port(path)) => Ok(path),
            _ => Err(CliError::Use(words::no_port())),
        }
    }
}

#[derive(Serialize)]
struct Document {
    verdict: &'static str,
    fits: Option<Decodes>,
    seen: Vec<Tried>,
}

#[derive(Serialize)]
struct Tried {
    baud: Option<u32>,
    bytes: usize,
    text: bool,
    first_bytes: String,
    refusal: Option<String>,
    decodes: Vec<Decodes>,
}

#[derive(Serialize)]
struct Decodes {
    profile: String,
    baud: u32,
    parity: Parity,
    counts_per_g: f64,
    good_frames: u64,
    share_good: f64,
    gravity_g: Gravities,
    gravity_fits: bool,
    axis_at_end: Option<char>,
    rate_hz: Option<Hertz>,
    limits: Vec<String>,
}

impl From<&Evidence> for Decodes {
    fn from(evidence: &Evidence) -> Self {
        let profile = &evidence.profile;
        Self {
            profile: profile.name().to_owned(),
            baud: profile.baud(),
            parity: profile.parity(),
            counts_per_g: profile.counts_per_g(),
            good_frames: evidence.good,
            share_good: evidence.share,
            gravity_g: evidence.gravity,
            gravity_fits: evidence.gravity_fits,
            axis_at_end: evidence.at_the_end,
            rate_hz: evidence.rate,
            limits: limits(profile),
        }
    }
}

impl From<&Seen> for Tried {
    fn from(seen: &Seen) -> Self {
        Self {
            baud: (seen.baud > 0).then_some(seen.baud),
            bytes: seen.bytes,
            text: seen.is_text,
            first_bytes: seen.shown.clone(),
            refusal: seen.refusal.map(|refusal| refusal.say(Face::Terminal)),
            decodes: seen.evidence.iter().map(Decodes::from).collect(),
        }
    }
}

fn document(identity: &Identity) -> Document {
    let (verdict, fits) = match &identity.verdict {
        Verdict::Fits(fits) => ("fits", Some(Decodes::from(&**fits))),
        Verdict::Mixed(_) => ("mixed", None),
        Verdict::NoneFits => ("none fits", None),
        Verdict::Silent => ("silent", None),
    };
    Document { verdict, fits, seen: identity.seen.iter().map(Tried::from).collect() }
}

/// What fits, and the options that read it.
fn fitting(fits: &Evidence, source: &Source, files: &[String]) -> String {
    let profile = &fits.profile;
    let known = Profile::built_in(profile.name());
    let on_a_port = matches!(source, Source::Port(_));
    let mut options =
        format!("--{} {source} --profile {}", if on_a_port { "port" } else { "replay" }, option_name(profile, files));
    if on_a_port && known.as_ref().is_none_or(|known| known.baud() != profile.baud()) {
        options += &format!(" --baud {}", profile.baud());
    }
    if known.as_ref().is_some_and(|known| known.counts_per_g() != profile.counts_per_g()) {
        options += &format!(" --counts-per-g {}", profile.counts_per_g());
    }
    let other_parity = known.is_some_and(|known| known.parity() != profile.parity());
    words::fits(fits, on_a_port, other_parity, &options)
}

/// How the profile is named on the command line: a file by its path.
fn option_name(profile: &Profile, files: &[String]) -> String {
    let is_this = |file: &&String| Profile::find(file).is_ok_and(|found| found.name() == profile.name());
    files.iter().find(is_this).cloned().unwrap_or_else(|| profile.name().to_owned())
}
