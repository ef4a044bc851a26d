//! `sensor identify`: tries bauds and profiles, and names what fits, with evidence; else says what it saw.

use crate::cli::source::SourceArgs;
use crate::cli::{CliError, Common, Outcome, Output};
use crate::stream::identify::{
    Evidence, Identity, Seen, SerialLine, USUAL_BAUDS, Verdict, identify, identify_recording,
};
use crate::stream::ports::Parity;
use crate::stream::{Profile, Source, StreamError};
use serde_json::{Value, json};
use std::path::PathBuf;
use std::time::Duration;

/// Arguments of `sensor identify`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  clinoblade sensor identify --port /dev/ttyUSB0
  clinoblade sensor identify --port /dev/ttyUSB0 --baud 57600 --profile workshop.toml
  clinoblade sensor identify --replay unknown.log

Let the sensor lie still meanwhile: gravity is part of the evidence. A sensor that does not send by itself is asked as a Modbus
slave, as the built-in profile and those that are named would ask it.")]
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
        return Err(CliError::Use("--for must be 0.2 to 60 seconds, such as 1.5".into()));
    }
    let named: Result<Vec<Profile>, _> = args.profile.iter().map(|name| Profile::find(name)).collect();
    let mut candidates = named.map_err(StreamError::from)?;
    candidates.extend(Profile::BUILT_IN.iter().filter_map(|name| Profile::built_in(name)));
    let (identity, source) = match &args.replay {
        Some(path) => {
            let bytes = std::fs::read(path).map_err(CliError::file(path))?;
            (identify_recording(bytes, &candidates), format!("--replay {}", path.display()))
        }
        None => {
            let path = args.port(common).await?;
            let bauds = args.baud.map_or(USUAL_BAUDS.to_vec(), |baud| vec![baud]);
            output.say(&format!("Listening on {path}. Let the sensor lie still."));
            let mut line = SerialLine::new(path.clone());
            let within = Duration::from_secs_f64(args.duration);
            (identify(&mut line, &candidates, &bauds, within).await?, format!("--port {path}"))
        }
    };
    output.answer(&document(&identity), &told(&identity, &source, &args.profile))?;
    Ok(if matches!(identity.verdict, Verdict::Fits(_)) { Outcome::Done } else { Outcome::SaysNo })
}

impl Args {
    async fn port(&self, common: &Common) -> Result<String, CliError> {
        let source = SourceArgs::at_port(self.port.as_deref());
        match source.source(&source.saved(common).await?)? {
            Some(Source::Port(path)) => Ok(path),
            _ => Err(CliError::Use("the saved source is no serial port: name the port with --port".into())),
        }
    }
}

fn evidence(evidence: &Evidence) -> Value {
    let profile = &evidence.profile;
    json!({
        "profile": profile.name(),
        "baud": profile.baud(),
        "parity": profile.parity(),
        "counts_per_g": profile.counts_per_g(),
        "good_frames": evidence.good,
        "share_good": evidence.share,
        "gravity_g": evidence.gravity,
        "gravity_fits": evidence.gravity_fits,
        "rate_hz": evidence.rate,
        "limits": profile.limits(),
    })
}

fn document(identity: &Identity) -> Value {
    let seen = identity.seen.iter().map(|seen| {
        json!({
            "baud": (seen.baud > 0).then_some(seen.baud),
            "bytes": seen.bytes,
            "text": seen.is_text,
            "first_bytes": seen.shown,
            "refusal": seen.refusal,
            "decodes": seen.evidence.iter().map(evidence).collect::<Vec<_>>(),
        })
    });
    let fits = if let Verdict::Fits(fits) = &identity.verdict { Some(evidence(fits)) } else { None };
    let verdict = match identity.verdict {
        Verdict::Fits(_) => "fits",
        Verdict::Mixed(_) => "mixed",
        Verdict::NoneFits => "none fits",
        Verdict::Silent => "silent",
    };
    json!({ "verdict": verdict, "fits": fits, "seen": seen.collect::<Vec<_>>() })
}

fn told(identity: &Identity, source: &str, files: &[String]) -> String {
    match &identity.verdict {
        Verdict::Fits(fits) => fitting(fits, source, files),
        Verdict::Mixed(several) => {
            let kinds: Vec<String> = several.iter().map(|one| format!("  {}", words(one))).collect();
            format!(
                "None fits: frames of several kinds come on one line.\n{}\nIs more than one sensor connected to it, or does the \
                 board also print something for people?",
                kinds.join("\n")
            )
        }
        Verdict::Silent => "Not a byte came, at no line speed, and no slave answered: is the sensor powered, are its wires firm, and is this the \
             right port?"
            .to_owned(),
        Verdict::NoneFits => none_fits(&identity.seen),
    }
}

fn words(evidence: &Evidence) -> String {
    let profile = &evidence.profile;
    let gravity = if profile.is_angle_only() {
        "angles only".to_owned()
    } else {
        format!("gravity reads {:.3} g", evidence.gravity.value())
    };
    let rate = evidence.rate.map_or(String::new(), |rate| format!(", {:.1} samples a second", rate.value()));
    let share = 100.0 * evidence.share;
    format!("{}: {} good frames, {share:.1} % of what came, {gravity}{rate}", profile.name(), evidence.good)
}

fn fitting(fits: &Evidence, source: &str, files: &[String]) -> String {
    let profile = &fits.profile;
    let known = Profile::built_in(profile.name());
    let mut options = format!("{source} --profile {}", option_name(profile, files));
    if !source.starts_with("--replay") && known.as_ref().is_none_or(|known| known.baud() != profile.baud()) {
        options += &format!(" --baud {}", profile.baud());
    }
    if known.as_ref().is_some_and(|known| known.counts_per_g() != profile.counts_per_g()) {
        options += &format!(" --counts-per-g {}", profile.counts_per_g());
    }
    let parity = match profile.parity() {
        Parity::None => "",
        Parity::Even => ", even parity",
        Parity::Odd => ", odd parity",
    };
    let place =
        if source.starts_with("--replay") { String::new() } else { format!(" at {} baud{parity}", profile.baud()) };
    let mut lines = vec![format!("{} fits{place}.", profile.name()), format!("  {}.", words(fits))];
    lines.extend(profile.limits().iter().map(|limit| format!("  {limit}")));
    if known.is_some_and(|known| known.parity() != profile.parity()) {
        lines.push("  Its parity is not the built-in profile's: keep it in a file (sensor profile new).".to_owned());
    }
    lines.push(format!("Use it: clinoblade read {options}"));
    lines.join("\n")
}

/// How the profile is named on the command line: a file by its path.
fn option_name(profile: &Profile, files: &[String]) -> String {
    let is_this = |file: &&String| Profile::find(file).is_ok_and(|found| found.name() == profile.name());
    files.iter().find(is_this).cloned().unwrap_or_else(|| profile.name().to_owned())
}

fn none_fits(all: &[Seen]) -> String {
    let mut lines = vec!["None fits. What was seen:".to_owned()];
    for seen in all.iter().filter(|seen| seen.bytes > 0) {
        let place = if seen.baud > 0 { format!("at {} baud ", seen.baud) } else { String::new() };
        let kind = if seen.is_text { "readable text" } else { "no text" };
        lines.push(format!("  {place}{} bytes, {kind}: {}", seen.bytes, seen.shown));
        lines.extend(seen.refusal.iter().map(|refusal| format!("    {refusal}")));
        lines.extend(seen.evidence.iter().map(|evidence| format!("    like {}", words(evidence))));
    }
    lines.push(if all.iter().any(|seen| seen.is_text) {
        "Readable text means that the line speed is right: `sensor profile new` makes a profile of it.".to_owned()
    } else {
        "Is it a binary sensor? `sensor profile new` looks for frames in what it sends and makes a profile of them."
            .to_owned()
    });
    lines.join("\n")
}
