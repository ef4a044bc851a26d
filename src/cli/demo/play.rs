//! Plays the script: moves the simulated hands, reads through the pseudo-terminal or TCP, records, and prints.

use super::prepare::{ON_THE_TABLE, pose_command};
use super::script::{JOB, Shot, Step};
use super::truth::{Beside, Truths};
use crate::bench::{Draft, Instrument, Order, Session, SetupHandle, Taken, pose, zero};
use crate::cli::rig_driver::{RigDriverError, RigHandle, spawn};
use crate::cli::signals::Signals;
use crate::cli::{CliError, Outcome, Output, Place, document, question, report};
use crate::filter::SteadySettings;
use crate::logbook::{Location, Logbook, NewSetup};
use crate::record::trade::Caution;
use crate::record::{Adjustment, Capture, Head, LimitedBy, Subject};
use crate::report::setup_sheet::SetupSheet;
use crate::rig::{Rig, Scenario};
use crate::rotor::{Clip, Deflection, Rotation};
use crate::sensor::poses::guided;
use crate::sensor::{Calibration, JUDGED_POSES, Label, tumble};
use crate::stream::{Options, Profile, SampleStream, Source};
use crate::units::{Angle, Percent, Seconds};
use crate::words::{self, Face, Say, demo};
use jiff::Timestamp;
use std::path::PathBuf;
use std::time::{Duration, Instant};
use uuid::Uuid;

pub(super) const SCENARIO: &str = include_str!("scenario.toml");
pub(super) const HEAD: &str = include_str!("head.toml");

/// How far a stick that found a bind is taken back at a time, percent.
const BACK_OFF_PERCENT: f64 = 2.0;

/// Plays the whole job and prints the record with the truth beside it; asked to end before, it clears away and says no.
pub(super) async fn play(
    place: Place,
    autoplay: bool,
    sheets: &[PathBuf],
    signals: &mut Signals,
    output: &Output,
) -> Result<Outcome, CliError> {
    let scratch = Scratch::new()?;
    tokio::select! {
        played = play_in(&scratch, place, autoplay, sheets, output) => played,
        () = signals.next() => {
            Err(CliError::Measurement(demo::ENDED.into()))
        }
    }
}

async fn play_in(
    scratch: &Scratch,
    place: Place,
    autoplay: bool,
    sheets: &[PathBuf],
    output: &Output,
) -> Result<Outcome, CliError> {
    let began = Instant::now();
    let scenario: Scenario = SCENARIO.parse()?;
    let open = begin(&scratch.location()).await?;
    let rig = Rig::new(scenario)?;
    let rig = spawn(rig, place, 1)?;
    let mut stage = Stage::new(rig, open, autoplay, *output).await?;
    stage.opening();
    for (number, step) in JOB.iter().enumerate() {
        stage.perform(number + 1, *step).await?;
    }
    stage.close(began.elapsed(), sheets).await
}

/// Where the demo's setup is kept: a folder that goes when the demo ends.
pub(super) struct Scratch {
    folder: PathBuf,
}

impl Scratch {
    pub(super) fn new() -> Result<Self, CliError> {
        let folder = std::env::temp_dir().join(format!("clinoblade-demo-{}", Uuid::now_v7()));
        std::fs::create_dir(&folder).map_err(CliError::file(&folder))?;
        Ok(Self { folder })
    }

    pub(super) fn folder(&self) -> &std::path::Path {
        &self.folder
    }

    pub(super) fn location(&self) -> Location {
        Location::File(self.folder.join("logbook.sqlite"))
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        // What still writes into it may put a file back meanwhile. Left behind it would only be a small folder among the
        // temporary ones.
        for _ in 0..50 {
            if std::fs::remove_dir_all(&self.folder).is_ok() || !self.folder.exists() {
                return;
            }
            std::thread::sleep(Duration::from_millis(10));
        }
    }
}

async fn begin(location: &Location) -> Result<SetupHandle, CliError> {
    let logbook = Logbook::open(location).await?;
    let new = NewSetup {
        reason: demo::REASON.to_owned(),
        measured_by: Some("simulated hands".to_owned()),
        // They are said before the first stick moves.
        cautions_acknowledged_at: Some(Timestamp::now()),
        ..NewSetup::of(Head::from_toml(HEAD)?)
    };
    let number = logbook.new_setup(new).await?.number;
    Ok(SetupHandle::find(logbook, Some(number)).await?)
}

/// The simulated bench with everything on it.
struct Stage {
    rig: RigHandle,
    source: Source,
    open: SetupHandle,
    session: Session,
    instrument: Instrument,
    rotation: Rotation,
    truths: Truths,
    /// The end whose end point was lowered for a bind.
    taken_over: Option<Deflection>,
    autoplay: bool,
    output: Output,
}

impl Stage {
    async fn new(rig: RigHandle, open: SetupHandle, autoplay: bool, output: Output) -> Result<Self, CliError> {
        let source = rig.source().ok_or(RigDriverError::Ended)?;
        let rotation = open.setup().head.rotation;
        let instrument = Instrument::new(Profile::sentence(), None, rotation);
        let session = session(&source, &instrument).await?;
        let truths = Truths::default();
        Ok(Self { rig, source, open, session, instrument, rotation, truths, taken_over: None, autoplay, output })
    }

    fn opening(&self) {
        self.say(&demo::opening(&self.source));
        for line in Caution::ALL {
            self.say(&format!("  - {}", line.say(Face::Terminal)));
        }
        self.say("");
    }

    fn say(&self, line: &str) {
        if self.output.is_json() {
            self.output.say(line);
        } else {
            // The story belongs to the answer here; a closed output shows at the last line at the latest.
            let _ = self.output.line(line);
        }
    }

    async fn perform(&mut self, number: usize, step: Step) -> Result<(), CliError> {
        let title = match step {
            Step::Hands { say, .. } | Step::Adjust { say, .. } => say.to_owned(),
            Step::Tumble => demo::calibrate(JUDGED_POSES),
            Step::Reversal => demo::REVERSAL.to_owned(),
            Step::Capture(shot) => demo::capture(&subject(shot)?, shot.moves.is_empty()),
            Step::TakeOver { end } => demo::lower(end),
        };
        self.say(&demo::step(number, JOB.len(), &title));
        if !self.autoplay {
            self.output.say(&demo::enter());
            if question::line().await.is_none() {
                return Err(CliError::Use(demo::INPUT_ENDED.into()));
            }
        }
        match step {
            Step::Hands { moves, .. } => self.hands(moves).await,
            Step::Tumble => self.calibrate().await,
            Step::Reversal => self.reversal().await,
            Step::Capture(shot) => self.capture(shot).await,
            Step::TakeOver { end } => self.take_over(end).await,
            Step::Adjust { moves, adjustments, .. } => {
                self.hands(moves).await?;
                for adjustment in adjustments {
                    let adjustment: Adjustment = adjustment.parse()?;
                    self.open.adjust(adjustment, None).await?;
                }
                Ok(())
            }
        }
    }

    async fn hands(&self, moves: &[&str]) -> Result<(), CliError> {
        for line in moves {
            self.rig.command(line).await?;
        }
        Ok(())
    }

    async fn read(&self, want: f64) -> Result<Taken, CliError> {
        let settings =
            SteadySettings { want: Angle::from_degrees(want), within: Seconds::new(15.0), ..SteadySettings::default() };
        let taken = self.session.read(settings).await?;
        if taken.steady.steady { Ok(taken) } else { Err(CliError::Measurement(demo::RESTLESS.into())) }
    }

    async fn calibrate(&mut self) -> Result<(), CliError> {
        let mut poses = Vec::new();
        for facing in guided(JUDGED_POSES) {
            self.rig.command(&pose_command(facing)).await?;
            poses.extend(pose(&self.read(0.1).await?));
        }
        let label = Label {
            name: "simulated tumble".to_owned(),
            sensor: "simulated".to_owned(),
            made_on: Some(jiff::ZonedDateTime::now().date()),
            ..Label::default()
        };
        let calibration = tumble(&poses, label)?;
        self.say(&demo::residual(1000.0 * calibration.residual_rms.value()));
        self.exchange(calibration).await
    }

    /// Goes on with a calibrated instrument, on the same port.
    async fn exchange(&mut self, calibration: Calibration) -> Result<(), CliError> {
        self.instrument = Instrument::new(Profile::sentence(), Some(calibration), self.rotation);
        self.session.use_instrument(self.instrument.clone()).await?;
        Ok(())
    }

    async fn reversal(&mut self) -> Result<(), CliError> {
        let [forward, reversed] = ON_THE_TABLE;
        self.rig.command(forward).await?;
        let first = self.read(0.03).await?;
        self.rig.command(reversed).await?;
        let second = self.read(0.03).await?;
        let datum = zero::reversal(&first, &second, zero::Seating::on_a_surface())?;
        self.open.set_zero(datum, second.temperature, None).await?;
        if let Some(error) = datum.instrument() {
            self.say(&demo::own_error(error.chord));
        }
        Ok(())
    }

    async fn capture(&mut self, shot: Shot) -> Result<(), CliError> {
        self.hands(shot.moves).await?;
        let subject = subject(shot)?;
        let mut order = Order {
            subject,
            clip: Clip::Forward,
            stick: subject.deflection().full_stick(),
            stick_said: true,
            // An end point that was lowered for a bind stands just short of it.
            limited_by: match self.taken_over {
                Some(end) if end == subject.deflection() => LimitedBy::Bind,
                _ => LimitedBy::EndPoint,
            },
            approach: None,
            reseated: false,
        };
        let taken = match self.backed_off(&order).await? {
            Some(stick) => {
                (order.stick, order.limited_by) = (stick, LimitedBy::Bind);
                self.read(0.03).await?
            }
            None => self.read(0.03).await?,
        };
        let draft = self.open.draft(&order, &taken, &self.instrument, &self.source.to_string())?;
        if let Some(question) = draft.question() {
            return Err(CliError::Measurement(question.say(Face::Terminal)));
        }
        self.tell(&draft, shot).await?;
        self.open.keep(draft).await?;
        Ok(())
    }

    /// The end point comes down to where the stick stood just short of the bind.
    async fn take_over(&mut self, end: &str) -> Result<(), CliError> {
        let deflection: Deflection = end.parse()?;
        let of_end = |capture: &&Capture| capture.subject.deflection() == deflection;
        let Some(stick) = self.open.captures().rfind(of_end).map(|capture| capture.stick.value().abs().floor()) else {
            return Ok(());
        };
        self.rig.command(&format!("endpoint {end} {stick}")).await?;
        self.open.adjust(format!("{end} end point {stick}").parse()?, None).await?;
        self.taken_over = Some(deflection);
        Ok(())
    }

    /// A person hears a servo that pushes against a stop, and takes the stick back until it is quiet.
    async fn backed_off(&self, order: &Order) -> Result<Option<Percent>, CliError> {
        let axis = order.subject.deflection().axis();
        let mut stick = order.stick.value();
        let mut bound = false;
        if stick.abs() < 100.0 || axis == crate::rotor::Axis::Collective {
            return Ok(None);
        }
        // The stick has to arrive before anything can be heard.
        self.rig.command("wait 1.3").await?;
        while !self.rig.truth().await?.binding.is_empty() && stick.abs() > 10.0 {
            if !bound {
                self.say(&demo::buzzes());
            }
            bound = true;
            stick -= BACK_OFF_PERCENT * stick.signum();
            self.rig.command(&format!("stick {axis} {stick} over 0.05")).await?;
            self.rig.command("wait 0.1").await?;
        }
        Ok(bound.then(|| Percent::new(stick)))
    }

    async fn tell(&mut self, draft: &Draft, shot: Shot) -> Result<(), CliError> {
        let (id, subject) = (draft.capture.id, draft.capture.subject);
        self.truths.remember(id, &self.rig.truth().await?, shot, subject);
        let said = match draft.cell().and_then(|cell| Some((cell, cell.value.as_ref()?))) {
            Some((cell, value)) => {
                let (value, wanted) = (words::record::value(value), words::table::wanted(cell));
                format!("{value}, wanted {wanted}: {}", cell.verdict.word())
            }
            None => document::value(&draft.capture.reading),
        };
        self.say(&demo::detail(&said));
        Ok(())
    }

    async fn close(self, took: Duration, sheets: &[PathBuf]) -> Result<Outcome, CliError> {
        let record = self.open.record();
        let beside = self.truths.beside(&record);
        self.session.end().await?;
        self.rig.stop().await?;
        let within = beside.iter().filter(|row| row.within).count();
        let text = demo::beside_the_truth(
            &words::table::text(&record, Face::Terminal),
            &table(&beside),
            (within, beside.len()),
            took.as_secs_f64(),
        );
        let document = serde_json::json!({
            "record": words::record::document(&record),
            "truth": beside,
            "within_uncertainty": within,
            "seconds": took.as_secs_f64(),
        });
        let closed = self.open.logbook().close_setup(self.open.setup().number, Timestamp::now()).await?;
        let sheet = SetupSheet::new(&closed, self.open.entries(), None);
        for path in sheets {
            report::write(&sheet, path)?;
        }
        self.open.logbook().clone().close().await;
        self.output.answer(&document, &text)?;
        Ok(if record.good { Outcome::Done } else { Outcome::SaysNo })
    }
}

async fn session(source: &Source, instrument: &Instrument) -> Result<Session, CliError> {
    let stream = SampleStream::open(source, &instrument.profile, &Options::default()).await?;
    Ok(Session::start(stream, instrument.clone()))
}

fn subject(shot: Shot) -> Result<Subject, CliError> {
    let deflection: Deflection = shot.deflection.parse()?;
    Ok(Subject::new(deflection, shot.blade(), shot.spot()?)?)
}

fn table(rows: &[Beside]) -> String {
    let lines = rows.iter().map(|row| {
        format!(
            "  {:<15}  {:>16}   truth {:>8}   {}",
            row.cell,
            words::with_uncertainty(row.value_deg, row.expanded_uncertainty_deg),
            words::angle(row.truth_deg, 2),
            if row.within { "within" } else { "NOT within" }
        )
    });
    lines.collect::<Vec<_>>().join("\n")
}
