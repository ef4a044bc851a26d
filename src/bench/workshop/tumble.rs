//! A guided tumble: rest after rest, what they cover, which would teach most, and the calibration that they come to. The command
//! and the page are led by the same.

use super::written;
use crate::filter::SteadySettings;
use crate::sensor::poses::{Coverage, Facing, Pose, coverage};
use crate::sensor::{
    Calibration, FEWEST_POSES, FULL_POSES, GUIDED_POSES, JUDGED_POSES, Label, Mounting, PosesError, tumble,
};
use crate::stream::{Event, Reconnecting, SampleStream, Source};
use crate::units::{Angle, BladeVector, Celsius, Seconds, SensorVector};
use crate::words::{Face, Say, sensor_commands::calibrate as words, workshop};
use crate::{BenchError, Instrument, Rest, RestFinder, Seen, angle_between, pose};
use serde::Serialize;
use std::path::{Path, PathBuf};
use tokio::sync::watch;

/// Twice the standard uncertainty of the direction of a rest: well under what is asked of a calibration.
pub const WANT_DEGREES: f64 = 0.03;
/// A rest that does not come to that within so long is taken as it then is, if it is steady.
const WITHIN: Seconds = Seconds::new(15.0);
/// A rest closer to one that was taken tells nothing new.
const NEW_DEGREES: f64 = 15.0;
/// So many more rests are asked for where those at hand do not show whether the calibration is right.
const MORE_POSES: usize = 2;
/// So many rests that disagree with the others are left out before it is given up.
const LEFT_OUT: usize = 3;

/// The rests of a tumble so far.
#[derive(Debug)]
pub struct Tumble {
    poses: Vec<Pose>,
    up: Vec<SensorVector>,
    temperature: Option<Celsius>,
    left_out: usize,
    asked: usize,
    /// With those that are asked for besides.
    wanted: usize,
    label: Label,
}

/// What a rest has come to.
#[derive(Debug)]
pub enum TumbleEvent {
    /// It tells nothing new.
    AsBefore(Facing),
    /// It was taken.
    Taken(Facing),
    /// More are wanted, and why.
    More(PosesError),
    /// One is left out, and why.
    LeftOut(PosesError),
    /// The next is to be shown.
    Next,
    /// They suffice.
    Done(Box<Calibration>),
    /// They never will.
    Refused(PosesError),
}

impl Tumble {
    /// One that wants so many rests.
    #[must_use]
    pub fn new(wanted: usize, label: Label) -> Self {
        Self { poses: Vec::new(), up: Vec::new(), temperature: None, left_out: 0, asked: wanted, wanted, label }
    }

    /// Where the sensor has rested.
    #[must_use]
    pub fn directions(&self) -> Vec<[f64; 3]> {
        self.up.iter().map(|up| up.0).collect()
    }

    /// What they cover.
    #[must_use]
    pub fn covered(&self) -> Coverage {
        coverage(&self.directions())
    }

    /// How many count.
    #[must_use]
    pub fn have(&self) -> usize {
        self.poses.len()
    }

    /// How many are wanted now.
    #[must_use]
    pub const fn wanted(&self) -> usize {
        self.wanted
    }

    /// What they come to, if they are enough to show that it is right.
    ///
    /// # Errors
    /// When they are not.
    pub fn fit(&self) -> Result<Calibration, PosesError> {
        let label = Label { temperature: self.temperature, ..self.label.clone() };
        let calibration = tumble(&self.poses, label)?;
        let have = self.poses.len();
        if (FULL_POSES..JUDGED_POSES).contains(&have) {
            return Err(PosesError::Unproven { have, next: self.covered().next });
        }
        Ok(calibration)
    }

    /// Takes a rest.
    pub fn push(&mut self, rest: &Rest) -> Vec<TumbleEvent> {
        let facing = Facing::nearest(rest.up.0);
        if self.up.iter().any(|up| angle_between(*up, rest.up).degrees() <= NEW_DEGREES) {
            return vec![TumbleEvent::AsBefore(facing)];
        }
        self.poses.extend(pose(&rest.taken));
        self.up.push(rest.up);
        self.temperature = rest.taken.temperature.or(self.temperature);
        let mut events = vec![TumbleEvent::Taken(facing)];
        if self.poses.len() < self.wanted {
            events.push(TumbleEvent::Next);
            return events;
        }
        // A rest that is left out may leave enough of them.
        while self.poses.len() >= self.asked.max(FEWEST_POSES) {
            match self.fit() {
                Ok(calibration) => {
                    events.push(TumbleEvent::Done(Box::new(calibration)));
                    return events;
                }
                Err(error @ PosesError::Narrow { .. }) if self.wanted < 2 * self.asked => {
                    events.push(TumbleEvent::More(error));
                    self.wanted = self.poses.len() + 1;
                }
                Err(error @ (PosesError::Unproven { .. } | PosesError::Bends { .. }))
                    if self.wanted < self.asked.max(JUDGED_POSES) + 2 * MORE_POSES =>
                {
                    events.push(TumbleEvent::More(error));
                    self.wanted = self.poses.len() + MORE_POSES;
                }
                Err(error @ PosesError::Disagree { pose, .. }) if self.left_out < LEFT_OUT => {
                    events.push(TumbleEvent::LeftOut(error));
                    self.leave_out(pose.saturating_sub(1));
                    continue;
                }
                Err(error) => {
                    events.push(TumbleEvent::Refused(error));
                    return events;
                }
            }
            break;
        }
        self.wanted = self.wanted.max(self.poses.len() + 1);
        events.push(TumbleEvent::Next);
        events
    }

    fn leave_out(&mut self, index: usize) {
        self.poses.remove(index);
        self.up.remove(index);
        self.left_out += 1;
    }
}

/// What a calibration leaves in doubt: of an angle against gravity near level, and of a travel of twelve degrees.
#[must_use]
pub fn doubts(calibration: &Calibration, mounting: Mounting) -> (Angle, Angle) {
    let level = BladeVector { span: 0.0, chord: 0.0, normal: 1.0 };
    let turned = Angle::from_degrees(12.0);
    let deflected = BladeVector { span: 0.0, chord: turned.sin(), normal: turned.cos() };
    let absolute = calibration.u_angle(level, mounting).hypot(calibration.u_case_rotation());
    (absolute, calibration.u_difference(deflected, level, mounting))
}

/// How a tumble on the page stands.
#[derive(Debug, Clone, Default, Serialize)]
pub struct TumbleState {
    /// Whether rests are taken.
    pub running: bool,
    /// Where the sensor has rested: unit vectors up, in its own axes.
    pub rests: Vec<[f64; 3]>,
    /// The direction that would teach most.
    pub next: Option<[f64; 3]>,
    /// Share of the sphere that is covered.
    pub share: f64,
    /// How many rests count.
    pub have: usize,
    /// How many are wanted.
    pub wanted: usize,
    /// What is to be done, in words.
    pub said: String,
    /// What became of the last rest, in words.
    pub last: String,
    /// Whether a calibration was kept.
    pub kept: bool,
}

/// A tumble on the page.
#[derive(Debug)]
pub(super) struct Tumbling {
    pub state: watch::Receiver<TumbleState>,
    task: tokio::task::JoinHandle<()>,
}

impl Drop for Tumbling {
    fn drop(&mut self) {
        self.task.abort();
    }
}

impl Tumbling {
    /// Begins one with the bare sensor; `keep` is given the file of the calibration.
    pub fn begin<F>(
        stream: SampleStream,
        source: Option<Source>,
        instrument: Instrument,
        file: PathBuf,
        keep: impl FnOnce(PathBuf) -> F + Send + 'static,
    ) -> Self
    where
        F: Future<Output = bool> + Send + 'static,
    {
        let name = file.file_stem().map_or_else(String::new, |stem| stem.to_string_lossy().into_owned());
        let label = Label { name, made_on: Some(jiff::ZonedDateTime::now().date()), ..Label::default() };
        let first = Tumble::new(GUIDED_POSES, label);
        let (tell, state) = watch::channel(shown(&first, String::new()));
        let task = tokio::spawn(async move {
            let told = rests(stream, source, instrument, first, &tell).await;
            let last = match told {
                Ok((calibration, mounting)) => match kept(&calibration, &file) {
                    Ok(()) => {
                        let is_kept = keep(file).await;
                        tell.send_modify(|state| state.kept = is_kept);
                        let (u_angle, u_travel) = doubts(&calibration, mounting);
                        if is_kept {
                            workshop::calibration_kept(u_travel, u_angle)
                        } else {
                            workshop::NOT_KEPT.to_owned()
                        }
                    }
                    Err(error) => workshop::file(&error),
                },
                Err(said) => said,
            };
            tell.send_modify(|state| {
                (state.running, state.next) = (false, None);
                state.said = last;
            });
        });
        Self { state, task }
    }

    /// Ends it: the sensor is free once this has returned.
    pub async fn end(mut self) {
        self.task.abort();
        let _ = (&mut self.task).await;
    }
}

/// Written down to the disk.
fn kept(calibration: &Calibration, file: &Path) -> std::io::Result<()> {
    let text = calibration.to_toml().map_err(|error| std::io::Error::other(error.to_string()))?;
    if let Some(folder) = file.parent() {
        std::fs::create_dir_all(folder)?;
    }
    written::new(file, &text)
}

fn shown(so_far: &Tumble, last: String) -> TumbleState {
    let covered = so_far.covered();
    TumbleState {
        running: true,
        rests: so_far.directions(),
        next: Some(covered.next.unit()),
        share: covered.share,
        have: so_far.have(),
        wanted: so_far.wanted(),
        said: workshop::turn_it(covered.next.say(Face::Page)),
        last,
        kept: false,
    }
}

/// Rest after rest until they suffice; else why not, in words.
async fn rests(
    stream: SampleStream,
    source: Option<Source>,
    instrument: Instrument,
    mut so_far: Tumble,
    tell: &watch::Sender<TumbleState>,
) -> Result<(Calibration, Mounting), String> {
    let want = Angle::from_degrees(WANT_DEGREES);
    let settings = SteadySettings { want, within: WITHIN, ..SteadySettings::default() };
    let mounting = instrument.mounting;
    let mut finder = RestFinder::new(instrument, settings);
    let mut stream = Reconnecting::around(stream, source);
    loop {
        let rest = match stream.next().await {
            Ok(Some(Event::Sample(sample))) => match finder.push(&sample, stream.counters()) {
                Seen::Rest(rest) => *rest,
                Seen::Fault(fault) => return Err(BenchError::Sensor(fault).say(Face::Page)),
                Seen::Waiting | Seen::Moving => continue,
            },
            Ok(Some(Event::Back)) => {
                finder.interrupted();
                continue;
            }
            Ok(Some(Event::Lost(error) | Event::Waiting(error))) => {
                tell.send_modify(|state| state.last = error.say(Face::Page));
                continue;
            }
            Ok(None) => return Err(BenchError::Ended.say(Face::Page)),
            Err(error) => return Err(error.say(Face::Page)),
        };
        let mut last = Vec::new();
        for event in so_far.push(&rest) {
            match event {
                TumbleEvent::AsBefore(facing) => last.push(words::as_before(facing)),
                TumbleEvent::Taken(facing) => last.push(words::taken(facing)),
                TumbleEvent::More(error) => last.push(words::more(&error)),
                TumbleEvent::LeftOut(error) => last.push(words::left_out(&error)),
                TumbleEvent::Next => {}
                TumbleEvent::Done(calibration) => {
                    tell.send_replace(shown(&so_far, String::new()));
                    return Ok((*calibration, mounting));
                }
                TumbleEvent::Refused(error) => return Err(error.say(Face::Page)),
            }
        }
        let last: Vec<&str> = last.iter().map(|line| line.trim()).collect();
        tell.send_replace(shown(&so_far, last.join(" ")));
    }
}
