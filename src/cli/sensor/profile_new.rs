//! `sensor profile new`: a few seconds of a stream, and a few questions or options, become a profile file.

use super::keep::{keep, must_be_free};
use crate::cli::parsed;
use crate::cli::source::SourceArgs;
use crate::cli::{CliError, Common, Outcome, Output, question};
use crate::stream::codec::Direction;
use crate::stream::identify::{Heard, Line, SerialLine, USUAL_BAUDS, Verdict, identify, identify_recording};
use crate::stream::ports::Parity;
use crate::stream::propose::{Known, Proposal, propose};
use crate::stream::{Format, Overrides, Profile, SampleDecoder, Source, file};
use crate::units::{AxisMap, Hertz, SensorAxis};
use crate::words::sensor_commands::{
    PROFILE_NEW_HELP, identify as identify_words, must_be_within, profile_new as words,
};
use crate::words::{Face, Say};
use serde::Serialize;
use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Arguments of `sensor profile new`.
#[derive(Debug, clap::Args)]
#[command(after_help = PROFILE_NEW_HELP)]
pub(super) struct Args {
    /// Listen on this serial port [default: the only one present]
    #[arg(long, value_name = "DEVICE", conflicts_with = "replay")]
    port: Option<String>,

    /// Look at a raw log instead
    #[arg(long, value_name = "FILE")]
    replay: Option<PathBuf>,

    /// Line speed [default: found]
    #[arg(long)]
    baud: Option<u32>,

    /// How long to listen, seconds
    #[arg(long = "for", value_name = "SECONDS", default_value_t = 3.0)]
    duration: f64,

    /// Where to keep the profile; a file that is there is never overwritten
    #[arg(long, value_name = "NAME.toml")]
    out: PathBuf,

    /// What it is called; the file's name without one
    #[arg(long)]
    name: Option<String>,

    /// Which columns (from 1), labels, or bytes of a binary frame (from 0) are x, y and z
    #[arg(long, value_name = "X,Y,Z", value_delimiter = ',', num_args = 1)]
    xyz: Vec<String>,

    /// Which column, label or byte is the sensor's clock
    #[arg(long, value_name = "PLACE")]
    time: Option<String>,

    /// The clock's unit
    #[arg(long, value_parser = ["us", "ms", "s"])]
    time_unit: Option<String>,

    /// Which column, label or byte counts the samples
    #[arg(long, value_name = "PLACE")]
    counter: Option<String>,

    /// Which column or label is the temperature in °C
    #[arg(long, value_name = "PLACE")]
    temperature: Option<String>,

    /// What the numbers are in
    #[arg(long, value_parser = ["g", "mg", "m/s2"], conflicts_with = "counts_per_g")]
    unit: Option<String>,

    /// Counts per g, where they are in no unit
    #[arg(long, value_name = "N")]
    counts_per_g: Option<f64>,

    /// Samples a second [default: as heard]
    #[arg(long, value_name = "HZ")]
    rate_hz: Option<f64>,

    /// The sensor's axis along the chord, toward the leading edge
    #[arg(long, value_name = "AXIS", default_value = "+x", allow_hyphen_values = true, value_parser = parsed::<SensorAxis>)]
    chord: SensorAxis,

    /// The sensor's axis out of the upper surface
    #[arg(long, value_name = "AXIS", default_value = "+z", allow_hyphen_values = true, value_parser = parsed::<SensorAxis>)]
    normal: SensorAxis,

    /// Take what was found, and ask nothing
    #[arg(long)]
    yes: bool,
}

/// Listens, asks, keeps.
pub(super) async fn run(args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    must_be_free(&args.out)?;
    if !(args.duration >= 0.5 && args.duration <= 600.0) {
        return Err(CliError::Use(must_be_within("--for", "0.5 to 600 seconds", "3")));
    }
    let axes = AxisMap::new(args.chord, args.normal)?;
    let (heard, baud, found) = args.hear(common, output).await?;
    let known = args.known()?;
    let found = found.filter(|_| known == Known::default());
    let is_known = found.is_some();
    let (profile, gravity_fits, doubts) = match found {
        // A format that is known already is only given a name, a speed and its axes.
        Some(profile) => (profile, true, Vec::new()),
        None => {
            let proposal = args.proposal(&heard, known, output).await?;
            (proposal.profile, proposal.gravity_fits, proposal.doubts)
        }
    };
    // A known profile stands at its own baud already.
    let baud = args.baud.or(baud.filter(|_| !is_known));
    let changes = Overrides { baud, rate: args.rate_hz.map(Hertz::new), counts_per_g: None };
    let stem = || args.out.file_stem().map_or_else(|| "sensor".into(), |stem| stem.to_string_lossy().into_owned());
    let name = args.name.clone().unwrap_or_else(stem);
    let profile = profile.with(changes)?.with_axes(axes).named(&name);
    let text = profile.to_toml()?;
    // What was written must read what was heard.
    let profile = Profile::from_toml(&text, &name)?;
    let (samples, counters) = SampleDecoder::all(&profile, &heard.bytes);
    if samples.is_empty() || counters.good <= counters.damaged() {
        let all = counters.good + counters.damaged();
        return Err(CliError::Measurement(words::does_not_fit(counters.good, all)));
    }
    keep(&args.out, &text)?;
    let (good_frames, damaged_frames) = (counters.good, counters.damaged());
    let document = Document {
        file: &args.out,
        name: &name,
        profile: &text,
        good_frames,
        damaged_frames,
        gravity_fits,
        doubts: doubts.iter().map(|doubt| doubt.say(Face::Terminal)).collect(),
    };
    let told = words::result(&text, good_frames, damaged_frames, gravity_fits, &doubts, &args.out);
    output.answer(&document, &told)?;
    Ok(Outcome::Done)
}

#[derive(Serialize)]
struct Document<'a> {
    file: &'a Path,
    name: &'a str,
    profile: &'a str,
    good_frames: u64,
    damaged_frames: u64,
    gravity_fits: bool,
    doubts: Vec<String>,
}

impl Args {
    /// What comes from the sensor, the line speed at which it reads like text, and the known profile that it fits, if any.
    async fn hear(&self, common: &Common, output: &Output) -> Result<(Heard, Option<u32>, Option<Profile>), CliError> {
        let candidates: Vec<Profile> = Profile::BUILT_IN.iter().filter_map(|name| Profile::built_in(name)).collect();
        let fitting = |verdict: Verdict| if let Verdict::Fits(fits) = verdict { Some(fits.profile) } else { None };
        if let Some(path) = &self.replay {
            let bytes = file::read(path, file::MOST_OF_A_SAMPLE).map_err(CliError::file(path))?;
            let found = fitting(identify_recording(bytes.clone(), &candidates).verdict);
            return Ok((Heard { bytes, seconds: None }, self.baud, found));
        }
        let source = SourceArgs::at_port(self.port.as_deref());
        let Some(Source::Port(path)) = source.source(&source.saved(common).await?)? else {
            return Err(CliError::Use(identify_words::no_port()));
        };
        output.say(&identify_words::listening(&path));
        let mut line = SerialLine::new(path);
        let bauds = self.baud.map_or(USUAL_BAUDS.to_vec(), |baud| vec![baud]);
        let identity = identify(&mut line, &candidates, &bauds, Duration::from_secs_f64(1.5)).await?;
        let text = identity.seen.iter().filter(|seen| seen.is_text).max_by_key(|seen| seen.bytes);
        let baud = self.baud.or(text.map(|seen| seen.baud));
        let found = fitting(identity.verdict);
        let within = Duration::from_secs_f64(self.duration);
        let heard = match (&found, baud) {
            (Some(profile), _) if profile.request().is_some() => line.ask(profile, within).await?,
            (Some(profile), _) => line.listen(profile.baud(), profile.parity(), within).await?,
            (None, Some(baud)) => line.listen(baud, Parity::None, within).await?,
            (None, None) => return self.hear_frames(&mut line, within).await,
        };
        Ok((heard, baud, found))
    }

    /// What is no text at any speed may be binary frames at one of them.
    async fn hear_frames(
        &self,
        line: &mut SerialLine,
        within: Duration,
    ) -> Result<(Heard, Option<u32>, Option<Profile>), CliError> {
        let mut last = Heard::default();
        for baud in USUAL_BAUDS {
            last = line.listen(baud, Parity::None, within).await?;
            if propose(&last.bytes, last.seconds, &Known::default()).is_ok() {
                return Ok((last, Some(baud), None));
            }
        }
        Ok((last, None, None))
    }

    fn known(&self) -> Result<Known, CliError> {
        let axes = match self.xyz.as_slice() {
            [] => None,
            [x, y, z] => Some([x, y, z].map(Clone::clone)),
            _ => return Err(CliError::Use(words::three_places())),
        };
        let per_g = |unit: &str| match unit {
            "g" => 1.0,
            "mg" => 1000.0,
            // Standard gravity, 3rd General Conference on Weights and Measures (1901).
            _ => 9.806_65,
        };
        let tick = |unit: &str| match unit {
            "us" => 1,
            "ms" => 1000,
            _ => 1_000_000,
        };
        Ok(Known {
            axes,
            time: self.time.clone(),
            counter: self.counter.clone(),
            temperature: self.temperature.clone(),
            micros_per_tick: self.time_unit.as_deref().map(tick),
            counts_per_g: self.counts_per_g.or_else(|| self.unit.as_deref().map(per_g)),
        })
    }

    /// What the lines look like; at a terminal the person may say otherwise.
    async fn proposal(&self, heard: &Heard, mut known: Known, output: &Output) -> Result<Proposal, CliError> {
        let propose = |known: &Known| propose(&heard.bytes, heard.seconds, known);
        let mut proposal = propose(&known)?;
        if self.yes || output.is_json() || !std::io::stdin().is_terminal() {
            return Ok(proposal);
        }
        output.say(&words::found(&proposal));
        if known.axes.is_none()
            && let Some(answer) = answer(&words::ask_axes(&axes(&proposal.profile)), output).await
        {
            let named: Vec<String> =
                answer.split([',', ' ']).filter(|name| !name.is_empty()).map(str::to_owned).collect();
            known.axes = Some(named.try_into().map_err(|_| CliError::Use(words::three_places()))?);
            proposal = propose(&known)?;
        }
        if known.counts_per_g.is_none() {
            let counts = proposal.profile.counts_per_g();
            if let Some(answer) = answer(&words::ask_counts(counts), output).await {
                let counts = answer.trim().parse().map_err(|_| CliError::Use(words::no_number(&answer)))?;
                known.counts_per_g = Some(counts);
                proposal = propose(&known)?;
            }
        }
        Ok(proposal)
    }
}

/// Asks; an empty answer takes what stands in brackets.
async fn answer(asked: &str, output: &Output) -> Option<String> {
    output.say(asked);
    question::line().await.map(|line| line.trim().to_owned()).filter(|line| !line.is_empty())
}

fn axes(profile: &Profile) -> [String; 3] {
    match profile.format() {
        Format::Columns(layout) => layout.axes.map(|column| column.to_string()),
        Format::Labelled(layout) => layout.axes.clone(),
        Format::Frame(layout) => match &layout.carried.direction {
            Direction::Force(fields) => fields.map(|field| field.at.to_string()),
            _ => Default::default(),
        },
        _ => Default::default(),
    }
}
