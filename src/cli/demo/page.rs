//! The demo on the page: the simulated head behind the same page that a real one has, with hands to move it.

use super::play::{HEAD, SCENARIO, Scratch};
use super::prepare::prepared;
use crate::bench::SetupHandle;
use crate::bench::conductor::{Conductor, Sensor, SessionOptions, hands, start};
use crate::cli::rig_driver::{RigDriverError, RigHandle, spawn};
use crate::cli::serve::{self, ServeArgs};
use crate::cli::signals::Signals;
use crate::cli::{CliError, Outcome, Output, Place};
use crate::guide::{Act, Phase};
use crate::logbook::{Logbook, NewSetup};
use crate::page::HandLine;
use crate::record::Head;
use crate::record::trade::Caution;
use crate::rig::{Rig, Scenario};
use crate::stream::{Options, Plug, SampleStream};
use crate::words::{Face, Say};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::mpsc;

/// A person reads a sentence before doing what it says.
const READS: Duration = Duration::from_millis(600);

/// Serves the page over the simulated head.
pub(super) async fn page(
    place: Place,
    args: &ServeArgs,
    autoplay: bool,
    signals: &mut Signals,
    output: &Output,
) -> Result<Outcome, CliError> {
    let scenario: Scenario = SCENARIO.parse()?;
    let rig = Rig::new(scenario)?;
    let scratch = Scratch::new()?;
    let logbook = Logbook::open(&scratch.location()).await?;
    let new = NewSetup {
        reason: "demo".to_owned(),
        measured_by: Some("simulated hands".to_owned()),
        ..NewSetup::of(Head::from_toml(HEAD)?)
    };
    let number = logbook.new_setup(new).await?.number;
    let mut open = SetupHandle::find(logbook.clone(), Some(number)).await?;
    // The workshop's sensor was calibrated, and turned end for end on the bench, before the page is opened.
    let (instrument, datum) = prepared(&rig, open.setup().head.rotation)?;
    open.set_zero(datum, None, None).await?;
    let rig = Arc::new(spawn(rig, place, 1)?);
    let source = rig.source().ok_or(RigDriverError::Ended)?;
    let stream = SampleStream::open(&source, &instrument.profile, &Options::default()).await?;
    let options = SessionOptions { demo: true };
    let sensor = Sensor { stream, instrument, name: source.to_string(), plug: Some(Plug::new(source)) };
    let (conductor, session) = start(sensor, Vec::new(), open, options);
    let (lines, inbox) = mpsc::channel(16);
    let mover = tokio::spawn(moved(Arc::clone(&rig), inbox));
    let player = autoplay.then(|| tokio::spawn(play(conductor.clone(), Arc::clone(&rig))));
    let served = serve::run(args, conductor, Some(lines), signals, output).await;
    if let Some(player) = player {
        player.abort();
    }
    mover.abort();
    served?;
    let _ = session.await;
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
