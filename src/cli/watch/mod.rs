//! `watch`: the live blade angle, until it is interrupted.

mod band;
mod drawn;
mod figures;
mod list;
mod screen;
mod view;
pub(super) mod whole;
mod wrap;

use super::setting::{Setting, SettingArgs, open_setup, setup_to_write};
use super::shown::Shown;
use super::signals::Signals;
use super::source::{Opened, SourceArgs, existing_to_work, say_what_waits};
use super::{CliError, Common, Outcome, Output, terminal};
use crate::bench::conductor::{SessionOptions, start};
use crate::bench::{FaultFinder, Instrument, SetupHandle};
use crate::cli::parsed;
use crate::filter::{Live, LiveSettings, Progress, SteadyReader, SteadySettings};
use crate::rotor::{Clip, Rotation, Visibility};
use crate::sensor::Force;
use crate::stream::{Counters, Event, Reconnecting, SampleStream, StreamError};
use crate::units::{Angle, Sample, Seconds};
use crate::words::{self, Face, Say, help};
use serde::Serialize;
use std::io::IsTerminal;

/// Arguments of `watch`.
#[derive(Debug, clap::Args)]
#[command(after_help = help::WATCH)]
pub(super) struct Args {
    /// One line per update, for pipes
    #[arg(long)]
    plain: bool,

    /// Updates per second of the stream
    #[arg(long, value_name = "HZ", default_value_t = 10.0)]
    rate: f64,

    /// End after so many seconds of the stream
    #[arg(long = "for", value_name = "SECONDS")]
    duration: Option<f64>,

    /// Which way the rotor turns, seen from above [default: as the setup's head, else clockwise]
    #[arg(long, value_name = "clockwise|anticlockwise", value_parser = parsed::<Rotation>)]
    rotation: Option<Rotation>,

    #[command(flatten)]
    setting: SettingArgs,

    #[command(flatten)]
    source: SourceArgs,
}

/// One update.
#[derive(Debug, Clone, Serialize)]
struct Update {
    clock_s: Seconds,
    /// None where gravity does not show it; `reason` says why.
    angle_deg: Option<Angle>,
    reason: Option<String>,
    /// Whether the reason is a fault of the sensor.
    #[serde(skip)]
    fault: bool,
    span_inclination_deg: Angle,
    steady: bool,
    still_for_s: Option<Seconds>,
    steady_angle_deg: Option<Angle>,
    repeat_deg: Option<Angle>,
}

impl std::fmt::Display for Update {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Some(angle) = self.angle_deg else {
            let why = self.reason.as_deref().filter(|_| self.fault).unwrap_or("span too steep");
            return write!(f, "{:>9.2} s  {why}", self.clock_s.value());
        };
        write!(f, "{:>9.2} s  {:>9}", self.clock_s.value(), angle.to_string())?;
        match (self.still_for_s, self.repeat_deg) {
            (Some(still), Some(repeat)) => {
                let scatter = words::reading::scatter(2.0 * repeat.degrees());
                write!(f, "  still for {:>5.1} s  {scatter}", still.value())
            }
            _ => write!(f, "  moving"),
        }
    }
}

/// A source that may break and come back, or one that is simulated.
enum Feed {
    Again(Box<Reconnecting>),
    Simulated(Box<SampleStream>),
}

impl Feed {
    async fn next(&mut self) -> Result<Option<Event>, StreamError> {
        match self {
            Self::Again(stream) => stream.next().await,
            Self::Simulated(stream) => Ok(stream.next().await?.map(Event::Sample)),
        }
    }

    fn counters(&self) -> Counters {
        match self {
            Self::Again(stream) => stream.counters(),
            Self::Simulated(stream) => stream.counters(),
        }
    }
}

/// Prints updates until the stream ends, the time is over, or Ctrl-C.
pub(super) async fn run(mut args: Args, common: &Common, output: &Output) -> Result<Outcome, CliError> {
    if !(args.rate > 0.0 && args.rate <= 1000.0) {
        return Err(CliError::Use(words::watch::RATE.to_owned()));
    }
    if !args.plain
        && !output.is_json()
        && args.duration.is_none()
        && !args.setting.raw
        && std::io::stdout().is_terminal()
        && let Some(open) = setup_at_hand(&args, common).await?
    {
        return lead(args, open, output).await;
    }
    // A simulated head has no end of its own: it runs at the pace of life.
    args.source.paced |= args.source.rig.is_some() && args.duration.is_none();
    let setting = Setting::new(&args.setting, &args.source, None, common).await?;
    let shown = setting.shown()?;
    let rotation = args.rotation.or(setting.rotation).unwrap_or(Rotation::Clockwise);
    let saved = setting.saved(&args.source, common, output).await?;
    let instrument = args.source.instrument(&saved, rotation)?;
    if let Some(said) = setting.said(instrument.calibration_name().as_deref()) {
        output.say(&said);
    }
    let mut feed = match args.source.source(&saved)? {
        Some(source) => {
            let stream = Reconnecting::open(&source, &instrument.profile, &args.source.options()).await?;
            Feed::Again(Box::new(stream))
        }
        None => Feed::Simulated(Box::new(args.source.open(&saved, rotation).await?.stream)),
    };
    let mut printer = Printer::new(&args, output);
    let watched = watch(&mut feed, Watch::new(instrument, shown, &args), &args, &mut printer, output).await;
    // Whatever ended it, what was printed is a whole document.
    printer.end()?;
    match watched {
        Ok(()) => Ok(Outcome::Done),
        Err(error) => Err(CliError::Answered(Box::new(error))),
    }
}

/// The setup that is named or open, where there is one to be led through.
async fn setup_at_hand(args: &Args, common: &Common) -> Result<Option<SetupHandle>, CliError> {
    match args.setting.setup {
        Some(number) => setup_to_write(Some(number), common).await.map(Some),
        None => match existing_to_work(common).await? {
            Some(logbook) => open_setup(logbook).await,
            None => Ok(None),
        },
    }
}

/// Leads through the open setup in the terminal.
async fn lead(mut args: Args, open: SetupHandle, output: &Output) -> Result<Outcome, CliError> {
    args.source.paced = true;
    let mut signals = Signals::new()?;
    let logbook = open.logbook().clone();
    let (first, others) = args.source.open_each(&logbook, &open.setup().head, output).await?;
    let options = SessionOptions { demo: false, absent: None };
    let others = others.into_iter().map(Opened::sensor).collect();
    let (conductor, session) = start(first.sensor(), others, open, options);
    let shown = screen::show(conductor, &mut signals).await;
    let over = async {
        let _ = session.await;
        say_what_waits(&logbook, output)?;
        logbook.close().await;
        shown.map(|()| Outcome::Done)
    };
    tokio::select! {
        biased;
        ended = over => ended,
        // Who asks once more does not wait for a server.
        () = signals.next() => Ok(Outcome::Done),
    }
}

async fn watch(
    feed: &mut Feed,
    mut watch: Watch,
    args: &Args,
    printer: &mut Printer,
    output: &Output,
) -> Result<(), CliError> {
    let mut signals = Signals::new()?;
    let mut warned = false;
    loop {
        let event = tokio::select! {
            event = feed.next() => event?,
            () = signals.next() => None,
        };
        match event {
            Some(Event::Sample(sample)) => {
                if args.duration.is_some_and(|seconds| sample.clock.value() >= seconds) {
                    return Ok(());
                }
                let counters = feed.counters();
                if let Some(warning) = words::reading::bad_line(counters.damaged(), counters.good).filter(|_| !warned) {
                    output.say(&warning);
                    warned = true;
                }
                if let Some(update) = watch.push(&sample) {
                    printer.print(&update)?;
                }
            }
            Some(Event::Lost(error)) => output.say(&words::watch::lost(&error.say(Face::Terminal))),
            Some(Event::Waiting(_)) => {}
            Some(Event::Back) => {
                output.say(words::watch::SENSOR_IS_BACK);
                watch.begin_anew();
            }
            None => return Ok(()),
        }
    }
}

/// Turns samples into updates.
struct Watch {
    instrument: Instrument,
    clip: Clip,
    shown: Shown,
    live: Live,
    reader: SteadyReader,
    faults: FaultFinder,
    every: Seconds,
    next: Option<Seconds>,
}

impl Watch {
    fn new(instrument: Instrument, shown: Shown, args: &Args) -> Self {
        let reader = SteadyReader::new(endless(&instrument));
        let (clip, every) = (args.setting.clip, Seconds::new(1.0 / args.rate));
        let (live, faults) = (Live::new(LiveSettings::default()), FaultFinder::new(&instrument));
        Self { instrument, clip, shown, live, reader, faults, every, next: None }
    }

    /// What happened while the line was broken is not known: nothing is still until it is proven again.
    fn begin_anew(&mut self) {
        self.live = Live::new(LiveSettings::default());
        self.reader = SteadyReader::new(endless(&self.instrument));
        self.faults = FaultFinder::new(&self.instrument);
        self.next = None;
    }

    fn push(&mut self, sample: &Sample) -> Option<Update> {
        let in_clip = self.instrument.force(sample);
        let force = Force { up: self.clip.turn(in_clip.up), ..in_clip };
        let angle = self.live.push(sample.clock, force.up.apparent_pitch());
        let progress = self.reader.push(&force);
        let fault = self.faults.push(sample, &in_clip, progress, &self.instrument);
        if matches!(progress, Progress::Done(_)) {
            self.reader = SteadyReader::new(endless(&self.instrument));
        }
        let due = self.next.unwrap_or(sample.clock);
        if sample.clock < due {
            return None;
        }
        // A gap in the stream is not made up for by a burst of lines.
        self.next = Some(if sample.clock > due + self.every { sample.clock } else { due } + self.every);
        let settling = match progress {
            Progress::Settling { .. } if fault.is_some() => None,
            Progress::Settling { since, repeat, pitch, .. } => Some((sample.clock - since, repeat, pitch)),
            Progress::Moving | Progress::Done(_) => None,
        };
        let too_steep = Visibility::of(force.up).err();
        let shown = fault.is_none() && too_steep.is_none();
        let reason = fault.map(|fault| fault.say(Face::Terminal));
        Some(Update {
            clock_s: sample.clock,
            angle_deg: shown.then(|| self.shown.of_blade(angle)),
            reason: reason.or_else(|| too_steep.map(|too_steep| too_steep.say(Face::Terminal))),
            fault: fault.is_some(),
            span_inclination_deg: force.up.span_inclination(),
            steady: settling.is_some(),
            still_for_s: settling.map(|(still, _, _)| still),
            steady_angle_deg: settling.map(|(_, _, pitch)| self.shown.of_blade(pitch)).filter(|_| shown),
            repeat_deg: settling.map(|(_, repeat, _)| repeat),
        })
    }
}

/// A reader that goes on for as long as the blade is still.
fn endless(instrument: &Instrument) -> SteadySettings {
    let settings =
        SteadySettings { want: Angle::ZERO, within: Seconds::new(f64::INFINITY), ..SteadySettings::default() };
    instrument.settings(settings)
}

/// Lines, one line that is written over, or one JSON array that grows.
enum Printer {
    Lines(Output),
    Overwriting,
    Json { output: Output, first: bool },
}

impl Printer {
    fn new(args: &Args, output: &Output) -> Self {
        if output.is_json() {
            Self::Json { output: *output, first: true }
        } else if args.plain || !std::io::stdout().is_terminal() {
            Self::Lines(*output)
        } else {
            Self::Overwriting
        }
    }

    fn print(&mut self, update: &Update) -> Result<(), CliError> {
        match self {
            Self::Lines(output) => output.line(&update.to_string()),
            Self::Overwriting => terminal::overwrite(&update.to_string()).map_err(CliError::Print),
            Self::Json { output, first } => {
                let document = serde_json::to_string(update).map_err(|error| CliError::Print(error.into()))?;
                let opening = if std::mem::take(first) { "[" } else { "," };
                output.line(&format!("{opening}{document}"))
            }
        }
    }

    fn end(self) -> Result<(), CliError> {
        match self {
            Self::Lines(_) => Ok(()),
            Self::Overwriting => terminal::print("").map_err(CliError::Print),
            Self::Json { output, first } => output.line(if first { "[]" } else { "]" }),
        }
    }
}
