//! Where the samples come from and how they are to be understood: the options that every reading command has.

use super::error::{Fault, waits};
use super::named::{Named, belong, carriers, value_for};
use super::progress::while_waiting;
use super::{CliError, Common, Output, rig_reader};
use crate::bench::conductor::Sensor;
use crate::bench::{Instrument, SavedSensor};
use crate::logbook::{Location, Logbook, LogbookError, SavedDefault};
use crate::record::Head;
use crate::rotor::{BladeName, Carrier, Rotation, Spot};
use crate::sensor::Calibration;
use crate::stream::{
    Options, Origin, Overrides, Pace, Plug, Profile, SampleStream, Source, StreamError, choose, file, ports,
};
use crate::units::{Angle, Hertz};
use crate::words::kept::goes_on;
use crate::words::{Face, Say, sensor_commands::source as words};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// How long a built-in port is listened to before it is taken for a sensor's.
pub(super) const LISTEN: Duration = Duration::from_millis(1500);

/// The options that name a source and a sensor.
#[derive(Debug, Clone, Default, clap::Args)]
#[command(next_help_heading = "Source")]
pub(super) struct SourceArgs {
    /// Serial port; one for each blade: a=DEVICE, b=DEVICE, tail=DEVICE
    #[arg(long, value_name = "[BLADE=]DEVICE", group = "source")]
    pub port: Vec<Named>,

    /// TCP server to read from
    #[arg(long, value_name = "HOST:PORT", group = "source")]
    pub tcp: Option<String>,

    /// Raw log to play, as fast as possible
    #[arg(long, value_name = "FILE", group = "source")]
    pub replay: Option<PathBuf>,

    /// Scenario of a simulated head to read
    #[arg(long, hide_short_help = true, value_name = "SCENARIO.toml", group = "source")]
    pub rig: Option<PathBuf>,

    /// sentence, columns, labelled, xdr, frame, modbus or a TOML file
    #[arg(long, value_name = "[BLADE=]NAME|FILE")]
    pub profile: Vec<Named>,

    /// Line speed [default: the profile's]
    #[arg(long, hide_short_help = true)]
    pub baud: Option<u32>,

    /// Sample rate, for a sensor that sends no time stamp [default: by arrival]
    #[arg(long, hide_short_help = true, value_name = "HZ")]
    pub rate_hz: Option<f64>,

    /// Counts per g [default: the profile's]
    #[arg(long, hide_short_help = true, value_name = "N")]
    pub counts_per_g: Option<f64>,

    /// Calibration [default: the default sensor's]
    #[arg(long, value_name = "[BLADE=]FILE")]
    pub calibration: Vec<Named>,

    /// Play a log or scenario in real time
    #[arg(long, hide_short_help = true)]
    pub paced: bool,

    /// Save the received bytes in this file
    #[arg(long, hide_short_help = true, value_name = "FILE")]
    pub save_raw: Option<PathBuf>,

    /// The one of several sensors that is meant.
    #[arg(skip)]
    chosen: Option<Carrier>,
}

/// What is used where the command line says nothing.
///
/// One rule for every command: the saved sensor is read where no source is named, or the saved source itself. Any other
/// source is another sensor, and nothing saved goes with it. A recording outside of a setup, and what measures the bare
/// sensor, go without the saved calibration.
pub(super) type Saved = SavedSensor;

/// An open stream with its instrument.
#[derive(Debug)]
pub(super) struct Opened {
    pub stream: SampleStream,
    pub instrument: Instrument,
    /// The source, as shown to the person.
    pub name: String,
    /// What to open again when it breaks; none of the simulated head.
    pub source: Option<Source>,
}

impl SourceArgs {
    /// Those of one serial port, or of the saved source.
    pub(super) fn at_port(port: Option<&str>) -> Self {
        let port = port.map(|port| Named { carrier: None, value: port.to_owned() });
        Self { port: port.into_iter().collect(), ..Self::default() }
    }

    /// The blade on which the sensor that is meant stays; none where one clip goes from blade to blade.
    pub(super) fn carrier(&self) -> Option<Carrier> {
        self.chosen.or_else(|| self.port.first().and_then(|port| port.carrier))
    }

    /// The profile named for it.
    pub(super) fn named_profile(&self) -> Option<&str> {
        self.own(&self.profile)
    }

    /// The calibration named for it.
    pub(super) fn named_calibration(&self) -> Option<&Path> {
        self.own(&self.calibration).map(Path::new)
    }

    /// What is said for the sensor that is meant.
    fn own<'a>(&self, values: &'a [Named]) -> Option<&'a str> {
        value_for(values, self.carrier())
    }

    /// The blades that carry a sensor of their own; empty where one clip goes from blade to blade.
    pub(super) fn carriers(&self) -> Result<Vec<Carrier>, CliError> {
        let carriers = carriers(&self.port)?;
        belong("--profile", &self.profile, &carriers, true)?;
        belong("--calibration", &self.calibration, &carriers, false)?;
        Ok(carriers)
    }

    /// Whether what is named runs only as fast as it is asked: a recording or a scenario.
    pub(super) const fn runs_as_asked(&self) -> bool {
        (self.replay.is_some() || self.rig.is_some()) && !self.paced
    }

    /// Refuses several sensors where one is read.
    pub(super) fn is_one(&self) -> Result<(), CliError> {
        match self.carriers()?.as_slice() {
            [_, _, ..] if self.chosen.is_none() => Err(CliError::Use(words::one_sensor_only())),
            _ => Ok(()),
        }
    }

    /// Those of the sensor that reads this blade.
    pub(super) fn at(&self, blade: BladeName, spot: Spot) -> Result<Self, CliError> {
        let (carriers, wanted) = (self.carriers()?, Carrier::of(blade, spot));
        match carriers.as_slice() {
            [] => Ok(self.clone()),
            _ if carriers.contains(&wanted) => Ok(self.of(wanted)),
            _ => Err(CliError::Use(words::none_on(wanted))),
        }
    }

    /// The same without any calibration, and without a log.
    pub(super) fn bare(&self) -> Self {
        Self { calibration: Vec::new(), save_raw: None, ..self.clone() }
    }

    /// Those of each sensor by itself.
    pub(super) fn each(&self) -> Result<Vec<Self>, CliError> {
        let carriers = self.carriers()?;
        Ok(if carriers.is_empty() {
            vec![self.clone()]
        } else {
            carriers.into_iter().map(|one| self.of(one)).collect()
        })
    }

    /// Those of one of several sensors; its raw log is a file of its own.
    fn of(&self, carrier: Carrier) -> Self {
        let several = self.port.len() > 1;
        let save_raw = self.save_raw.as_ref().map(|path| if several { beside(path, carrier) } else { path.clone() });
        Self { chosen: Some(carrier), save_raw, ..self.clone() }
    }

    /// Whether a source is named.
    pub(super) const fn is_named(&self) -> bool {
        !self.port.is_empty() || self.tcp.is_some() || self.replay.is_some() || self.rig.is_some()
    }

    /// Whether a recording is read: one that is named, or the saved source where none is.
    pub(super) async fn is_recorded(&self, logbook: &Logbook) -> Result<bool, CliError> {
        if self.is_named() {
            return Ok(self.replay.is_some());
        }
        Ok(matches!(Saved::of(logbook).await?.source, Some(Source::Replay(_))))
    }

    /// What a bare reading takes over: the saved source with its profile, where no source is named.
    pub(super) async fn saved(&self, common: &Common) -> Result<Saved, CliError> {
        if self.is_named() {
            return Ok(Saved::default());
        }
        // A first reading must not begin a logbook.
        match existing(common).await? {
            Some(logbook) => Ok(Saved { calibration: None, ..Saved::of(&logbook).await? }),
            None => Ok(Saved::default()),
        }
    }

    /// What a reading takes over: the saved sensor with its calibration, where no other source is named. Says
    /// which calibration that is.
    pub(super) async fn saved_for(&self, logbook: &Logbook, output: &Output) -> Result<Saved, CliError> {
        let saved = Saved::of(logbook).await?;
        let is_saved_sensor = self.is_saved_sensor(&saved);
        let unused = if self.calibration.is_empty() { saved.calibration.as_ref() } else { None };
        if let Some(path) = unused {
            output.say(&if is_saved_sensor { words::saved_calibration(path) } else { words::no_calibration(path) });
        }
        // The re-seat study belongs to the clip, whichever sensor sits in it; several sensors sit in clips of their own.
        let reseat = saved.reseat.filter(|_| self.carrier().is_none());
        Ok(if is_saved_sensor { saved } else { Saved { reseat, ..Saved::default() } })
    }

    /// Whether this is the sensor for which things are saved.
    fn is_saved_sensor(&self, saved: &Saved) -> bool {
        !self.is_named() || (self.rig.is_none() && saved.source.is_some() && self.named_source() == saved.source)
    }

    /// Whether this is the default sensor, with its saved source.
    pub(super) fn is_the_default(&self, saved: &Saved) -> bool {
        saved.source.is_some() && self.is_saved_sensor(saved) && self.carrier().is_none()
    }

    /// Keeps the sensor's own floor for its later readings, if this is the saved sensor. Says whether it did.
    pub(super) async fn keep_floor(&self, floor: Angle, common: &Common) -> Result<bool, CliError> {
        let Some(logbook) = existing(common).await? else { return Ok(false) };
        let saved = Saved::of(&logbook).await?;
        let keeps = saved.source.is_some() && self.is_saved_sensor(&saved);
        if keeps {
            let text = serde_json::to_string(&floor).map_err(|error| CliError::Use(error.to_string()))?;
            logbook.save(SavedDefault::Floor, Some(&text)).await?;
        }
        logbook.close().await;
        Ok(keeps)
    }

    /// The sensor's profile with the command line's changes.
    pub(super) fn profile(&self, saved: &Saved) -> Result<Profile, CliError> {
        let name = self.named_profile().or(saved.profile.as_deref()).unwrap_or("sentence");
        let overrides =
            Overrides { counts_per_g: self.counts_per_g, baud: self.baud, rate: self.rate_hz.map(Hertz::new) };
        Ok(Profile::find(name).and_then(|profile| profile.with(overrides))?)
    }

    /// The sensor's calibration, if one is named or saved.
    pub(super) fn calibration(&self, saved: &Saved) -> Result<Option<Calibration>, CliError> {
        self.named_calibration().or(saved.calibration.as_deref()).map(read_calibration).transpose()
    }

    /// The instrument without its stream.
    pub(super) fn instrument(&self, saved: &Saved, rotation: Rotation) -> Result<Instrument, CliError> {
        let instrument = Instrument::new(self.profile(saved)?, self.calibration(saved)?, rotation);
        Ok(instrument.with_reseat(saved.reseat).with_floor(saved.floor).on(self.carrier()))
    }

    /// The source that is named; the simulated head is none that could be opened by its name.
    pub(super) fn named_source(&self) -> Option<Source> {
        let named = self.own(&self.port).map(|port| Source::Port(port.to_owned()));
        let named = named.or_else(|| self.tcp.clone().map(Source::Tcp));
        named.or_else(|| self.replay.clone().map(Source::Replay))
    }

    /// The source to be opened (again) by its name; none when it is the simulated head.
    pub(super) fn source(&self, saved: &Saved) -> Result<Option<Source>, CliError> {
        self.is_one()?;
        if self.rig.is_some() {
            return Ok(None);
        }
        match self.named_source() {
            Some(source) => Ok(Some(source)),
            None => {
                let profile = self.profile(saved)?;
                // One that is asked sends nothing by itself.
                let hears = |path: &str| profile.request().is_some() || ports::hears(path, profile.baud(), LISTEN);
                Ok(Some(choose(&ports::list(), saved.source.as_ref(), hears)?))
            }
        }
    }

    /// The source that would be opened; a port that is alone is listened to in a thread of its own.
    pub(super) async fn source_without_opening(&self, saved: &Saved) -> Result<Source, Result<StreamError, CliError>> {
        if let Some(source) = self.named_source() {
            return Ok(source);
        }
        let profile = self.profile(saved).map_err(Err)?;
        let saved = saved.source.clone();
        let found = tokio::task::spawn_blocking(move || {
            let hears = |path: &str| profile.request().is_some() || ports::hears(path, profile.baud(), LISTEN);
            choose(&ports::list(), saved.as_ref(), hears)
        });
        match found.await {
            Ok(found) => found.map_err(Ok),
            Err(_) => Err(Ok(StreamError::NoPort)),
        }
    }

    /// What goes with the stream.
    pub(super) fn options(&self) -> Options {
        let pace = if self.paced { Pace::AsRecorded } else { Pace::AsAsked };
        Options { save_raw: self.save_raw.clone(), pace, ..Options::default() }
    }

    /// Opens the source.
    pub(super) async fn open(&self, saved: &Saved, rotation: Rotation) -> Result<Opened, CliError> {
        let instrument = self.instrument(saved, rotation)?;
        let options = self.options();
        let source = self.source(saved)?;
        let (stream, name) = match &source {
            Some(source) => {
                let stream = SampleStream::open(source, &instrument.profile, &options).await?;
                (stream, source.to_string())
            }
            None => self.open_rig(&instrument.profile, &options)?,
        };
        Ok(Opened { stream, instrument, name, source })
    }

    /// Opens every sensor for a setup: the first, and the others where several are named.
    pub(super) async fn open_each(
        &self,
        logbook: &Logbook,
        head: &Head,
        output: &Output,
    ) -> Result<(Opened, Vec<Opened>), CliError> {
        for carrier in self.carriers()? {
            if let Carrier::Main(blade) = carrier
                && !head.blades.names().any(|name| name == blade)
            {
                return Err(CliError::Use(words::no_blade(&head.name, blade, head.blades.get())));
            }
        }
        let mut opened = Vec::new();
        for one in self.each()? {
            let saved = one.saved_for(logbook, output).await?;
            opened.push(one.open(&saved, head.rotation).await?);
        }
        let first = opened.remove(0);
        Ok((first, opened))
    }

    fn open_rig(&self, profile: &Profile, options: &Options) -> Result<(SampleStream, String), CliError> {
        let path = self.rig.as_deref().unwrap_or_else(|| Path::new(""));
        let name = words::simulated(path);
        let reader = rig_reader::open(path)?;
        // Like a log, it runs as fast as it is asked and has a clock of its own.
        Ok((SampleStream::from_reader(Origin::Log(name.clone()), reader, profile, options)?, name))
    }
}

/// The same name with the blade's before its ending: `flight.log` becomes `flight-A.log`.
fn beside(path: &Path, carrier: Carrier) -> PathBuf {
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    let name = match path.extension() {
        Some(ending) => format!("{stem}-{carrier}.{}", ending.to_string_lossy()),
        None => format!("{stem}-{carrier}"),
    };
    path.with_file_name(name)
}

impl Opened {
    /// As the conductor takes it.
    pub(super) fn sensor(self) -> Sensor {
        // A log that is over does not begin again.
        let live = self.source.filter(|source| !matches!(source, Source::Replay(_)));
        Sensor { stream: self.stream, instrument: self.instrument, plug: live.map(Plug::new), name: self.name }
    }
}

/// The logbook, where there is one already: looking for something begins none.
pub(super) async fn existing(common: &Common) -> Result<Option<Logbook>, CliError> {
    let location = location(common)?;
    // One that cannot be looked at is not none: opening it says why.
    if location.path().is_ok_and(|path| path.is_some_and(|path| matches!(path.try_exists(), Ok(false)))) {
        return Ok(None);
    }
    Ok(Some(open(&location, common).await?))
}

/// The same to work with: while a shared logbook cannot be reached or does not let this bench in, work goes on with what the
/// bench knows of it, and the person is told.
pub(super) async fn existing_to_work(common: &Common) -> Result<Option<Logbook>, CliError> {
    let location = location(common)?;
    let Location::Shared(_) = location else { return existing(common).await };
    let output = Output::new(common.json);
    let opened = while_waiting(&output, Logbook::open_or_known(&location)).await;
    let (logbook, fault) = opened.map_err(|error| out_of_reach(error, &location))?;
    match fault {
        Some(error) => output.say(&goes_on(&error)),
        None => deliver(&logbook).await?,
    }
    Ok(Some(logbook))
}

/// Opens the logbook, and begins one where there is none.
pub(super) async fn logbook(common: &Common) -> Result<Logbook, CliError> {
    open(&location(common)?, common).await
}

/// A shared logbook is given what waits for it on this bench; the person is told.
async fn open(location: &Location, common: &Common) -> Result<Logbook, CliError> {
    let output = Output::new(common.json);
    let opened = while_waiting(&output, Logbook::open_at_bench(location)).await;
    let logbook = opened.map_err(|error| out_of_reach(error, location))?;
    if let Some(broken) = logbook.broken_log() {
        output.say(&broken.say(Face::Terminal));
    }
    deliver(&logbook).await?;
    Ok(logbook)
}

/// Sends what waits, and says what has arrived and what cannot.
async fn deliver(logbook: &Logbook) -> Result<(), CliError> {
    let said = logbook.deliver().await?.say(Face::Terminal);
    if !said.is_empty() {
        Output::new(true).say(&said);
    }
    Ok(())
}

/// Says what a session leaves on this bench for a shared logbook, where it leaves anything.
pub(super) fn say_what_waits(logbook: &Logbook, output: &Output) -> Result<(), CliError> {
    if let Some(line) = waits(logbook.waiting()?) {
        output.say(&line);
    }
    Ok(())
}

/// A logbook that cannot be reached, with what waits for it.
fn out_of_reach(error: LogbookError, location: &Location) -> CliError {
    match Logbook::waiting_for(location) {
        Ok(waiting) if waiting > 0 && error.is_out_of_reach() => {
            let said = [error.say(Face::Terminal), waits(waiting).unwrap_or_default()].join("\n");
            let (on_page, shown) = (said.clone(), serde_json::json!({ "waiting": waiting }));
            CliError::Failed { fault: Fault::Logbook, said, on_page, shown }
        }
        _ => error.into(),
    }
}

/// Where the logbook is.
pub(super) fn location(common: &Common) -> Result<Location, CliError> {
    match &common.logbook {
        Some(text) => Ok(text.parse()?),
        None => Ok(Location::Own),
    }
}

/// Reads a calibration from its file.
pub(super) fn read_calibration(path: &Path) -> Result<Calibration, CliError> {
    let name = path.display().to_string();
    let text = file::read_text(path, file::MOST_OF_A_DESCRIPTION).map_err(CliError::file(path))?;
    Calibration::from_toml(&text).map_err(|error| CliError::about(name, &error))
}
