//! The demo on the page: the simulated head behind the same page that a real one has, with hands to move it.

use super::play::{HEAD, SCENARIO, Scratch};
use super::prepare::prepared;
use crate::bench::conductor::{Conductor, Sensor, hands};
use crate::bench::{Answer, Bare, Equipment, EquipmentError, Instrument, SavedSensor, Sensors, SetupHandle, Workshop};
use crate::cli::rig_driver::{RigDriverError, RigHandle, spawn};
use crate::cli::serve::{self, ServeArgs};
use crate::cli::signals::Signals;
use crate::cli::{CliError, Outcome, Output, Place};
use crate::guide::{Act, Phase};
use crate::logbook::{Logbook, NewSetup};
use crate::page::HandLine;
use crate::record::trade::Caution;
use crate::record::{Adjustment, Ends, Head, Interruption};
use crate::rig::{Rig, Scenario};
use crate::rotor::{Datum, Rotation};
use crate::sensor::Calibration;
use crate::stream::{Options, Plug, Profile, SampleStream};
use crate::words::{Face, Say};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::mpsc;
use tokio::task::JoinHandle;

/// A person reads a sentence before doing what it says.
const READS: Duration = Duration::from_millis(600);

/// The simulated head as a workshop works with it: its logbook is of its own and goes with it, so that nothing simulated gets
/// among what was measured.
pub(in crate::cli) struct Simulated {
    logbook: Logbook,
    calibration: Option<Calibration>,
    zero: Datum,
    rig: Arc<RigHandle>,
    lines: mpsc::Sender<HandLine>,
    mover: JoinHandle<()>,
    scratch: Scratch,
}

impl std::fmt::Debug for Simulated {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Simulated").finish_non_exhaustive()
    }
}

impl Drop for Simulated {
    fn drop(&mut self) {
        self.mover.abort();
    }
}

impl Simulated {
    /// Sets it up: the sensor was calibrated, and turned end for end on the bench, before anybody comes.
    pub(in crate::cli) async fn new(place: Place) -> Result<Self, CliError> {
        let scenario: Scenario = SCENARIO.parse()?;
        let rig = Rig::new(scenario)?;
        let scratch = Scratch::new()?;
        let logbook = Logbook::open(&scratch.location()).await?;
        let (instrument, zero) = prepared(&rig, Rotation::Clockwise)?;
        let rig = Arc::new(spawn(rig, place, 1)?);
        let (lines, inbox) = mpsc::channel(16);
        let mover = tokio::spawn(moved(Arc::clone(&rig), inbox));
        Ok(Self { logbook, calibration: Some(instrument.calibration), zero, rig, lines, mover, scratch })
    }
}

impl Equipment for Simulated {
    fn logbook(&self, _: bool) -> Answer<'_, Result<Option<Logbook>, EquipmentError>> {
        Box::pin(async { Ok(Some(self.logbook.clone())) })
    }

    fn sensors<'a>(&'a self, logbook: &'a Logbook, head: &'a Head) -> Answer<'a, Result<Sensors, EquipmentError>> {
        Box::pin(async move {
            let refused = |error: &dyn Say| EquipmentError::Refused(error.say(Face::Page));
            let source = self.rig.source().ok_or_else(|| refused(&RigDriverError::Ended))?;
            // One that was made on the page counts, as with any sensor.
            let saved = SavedSensor::of(logbook).await.unwrap_or_default().calibration;
            let read = |path: PathBuf| Calibration::from_toml(&std::fs::read_to_string(path).ok()?).ok();
            let calibration = saved.and_then(read).or_else(|| self.calibration.clone());
            let instrument = Instrument::new(Profile::sentence(), calibration, head.rotation);
            let stream = SampleStream::open(&source, &instrument.profile, &Options::default()).await;
            let stream = stream.map_err(|error| refused(&error))?;
            let name = source.to_string();
            Ok((Sensor { stream, instrument, name, plug: Some(Plug::new(source)) }, Vec::new()))
        })
    }

    fn bare<'a>(&'a self, _: &'a Logbook) -> Answer<'a, Result<Bare, EquipmentError>> {
        Box::pin(async move {
            let refused = |error: &dyn Say| EquipmentError::Refused(error.say(Face::Page));
            let source = self.rig.source().ok_or_else(|| refused(&RigDriverError::Ended))?;
            let instrument = Instrument::new(Profile::sentence(), None, Rotation::Clockwise);
            let stream = SampleStream::open(&source, &instrument.profile, &Options::default()).await;
            let stream = stream.map_err(|error| refused(&error))?;
            Ok(Bare { stream, source: Some(source), instrument })
        })
    }

    fn source<'a>(&'a self, _: Option<&'a Logbook>) -> Answer<'a, Result<String, EquipmentError>> {
        Box::pin(async {
            let source = self.rig.source();
            let ended = || EquipmentError::Refused(RigDriverError::Ended.say(Face::Page));
            source.map(|source| source.to_string()).ok_or_else(ended)
        })
    }

    fn use_port<'a>(&'a self, _: &'a str) -> Answer<'a, Result<(), EquipmentError>> {
        Box::pin(async { Ok(()) })
    }

    fn heads(&self) -> Option<PathBuf> {
        Some(self.scratch.folder().join("heads"))
    }

    fn simulate(&self) -> Answer<'_, Result<Arc<dyn Equipment>, EquipmentError>> {
        Box::pin(async { Err(EquipmentError::Refused(RigDriverError::Ended.say(Face::Page))) })
    }

    fn is_simulated(&self) -> bool {
        true
    }

    fn hands(&self) -> Option<mpsc::Sender<HandLine>> {
        Some(self.lines.clone())
    }

    fn turn(&self, what: Adjustment) -> Answer<'_, ()> {
        let line = match what {
            Adjustment::Link { blade, half_turns } => Some(format!("link {blade} {}", half_turns.value())),
            Adjustment::SwashLink { servo: servo @ 1..=3, half_turns } => {
                Some(format!("rod {} {}", servo - 1, half_turns.value()))
            }
            Adjustment::EndPoint { ends: Ends::One(end), output } => Some(format!("endpoint {end} {}", output.value())),
            Adjustment::Trim { axis, output } => Some(format!("trim {axis} {}", output.value())),
            _ => None,
        };
        Box::pin(async move {
            if let Some(line) = line {
                // What this head has not stays as it is.
                let _ = self.rig.command(&line).await;
            }
        })
    }

    fn zero(&self) -> Option<Datum> {
        Some(self.zero)
    }
}

/// Serves the page over the simulated head.
pub(super) async fn page(
    place: Place,
    args: &ServeArgs,
    autoplay: bool,
    signals: &mut Signals,
    output: &Output,
) -> Result<Outcome, CliError> {
    let simulated = Arc::new(Simulated::new(place).await?);
    let (logbook, rig) = (simulated.logbook.clone(), Arc::clone(&simulated.rig));
    let new = NewSetup {
        reason: "demo".to_owned(),
        measured_by: Some("simulated hands".to_owned()),
        ..NewSetup::of(Head::from_toml(HEAD)?)
    };
    let number = logbook.new_setup(new).await?.number;
    let mut open = SetupHandle::find(logbook.clone(), Some(number)).await?;
    open.set_zero(simulated.zero, None, None).await?;
    let workshop = Workshop::new(simulated);
    let taken_up = workshop.take_up(number, Interruption::default()).await;
    taken_up.map_err(|error| CliError::Use(error.say(Face::Terminal)))?;
    let player = workshop.conductor().filter(|_| autoplay).map(|conductor| tokio::spawn(play(conductor, rig)));
    let served = serve::run(args, &workshop, "setup", signals, output).await;
    if let Some(player) = player {
        player.abort();
        // It holds a handle of the session.
        let _ = player.await;
    }
    workshop.end().await;
    served?;
    logbook.close().await;
    Ok(Outcome::Done)
}

/// Carries the drawer's lines to the simulated hands.
async fn moved(rig: Arc<RigHandle>, mut inbox: mpsc::Receiver<HandLine>) {
    while let Some((line, reply)) = inbox.recv().await {
        let answer = rig.command(&line).await.map_err(|error| error.say(Face::Page));
        // Who asked may have gone.
        let _ = reply.send(answer);
    }
}

/// Does what the sheet says until it is filled, and closes it.
async fn play(conductor: Conductor, rig: Arc<RigHandle>) {
    for line in 0..Caution::ALL.len() {
        let _ = conductor.act(Act::Acknowledge { line }).await;
        tokio::time::sleep(READS / 3).await;
    }
    let _ = conductor.act(Act::Arm).await;
    let mut sheets = conductor.sheet();
    let mut done_for = None;
    loop {
        let sheet = sheets.borrow_and_update().clone();
        match sheet.step.phase {
            Phase::Done => {
                let _ = conductor.act(Act::Finish).await;
                return;
            }
            Phase::Question => {
                tokio::time::sleep(READS * 4).await;
                let _ = conductor.act(Act::Answer { choice: 0 }).await;
            }
            _ => {}
        }
        let step = (sheet.step.instruction, sheet.step.number);
        if done_for.as_ref() != Some(&step) {
            done_for = Some(step);
            tokio::time::sleep(READS).await;
            for line in hands::moves(&sheet) {
                if rig.command(&line).await.is_err() {
                    return;
                }
            }
        }
        if sheets.changed().await.is_err() {
            return;
        }
    }
}
