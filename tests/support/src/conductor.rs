//! A session without a wire: the simulated head runs in a task of its own, several times as fast as life, and a simulated
//! person does what the sheet says.

use clinoblade::bench::conductor::{Conductor, Sensor, Sheet, Wishes, hands, start};
use clinoblade::bench::{Instrument, OpenSetup};
use clinoblade::guide::{Act, Phase};
use clinoblade::logbook::{Location, Logbook, NewSetup};
use clinoblade::record::Head;
use clinoblade::record::trade::Caution;
use clinoblade::rig::{Rig, Scenario, Truth};
use clinoblade::rotor::Datum;
use clinoblade::sensor::{Calibration, Covariance, Model};
use clinoblade::stream::{Options, Origin, Profile, SampleStream};
use clinoblade::units::Seconds;
use std::sync::Arc;
use std::time::{Duration, Instant};
use tokio::io::AsyncWriteExt;
use tokio::sync::{mpsc, oneshot};

/// So many times as fast as life.
pub const SPEED: f64 = 5.0;
const TICK: Duration = Duration::from_millis(5);
/// The head's time goes on by no more than this at once.
const AT_ONCE: Seconds = Seconds::new(0.1);
/// Nothing seen for so long: ten seconds at the head's pace, before it is asked about.
const UNSEEN: Duration = Duration::from_secs(2);

enum Asked {
    Do(String, oneshot::Sender<()>),
    Truth(oneshot::Sender<Truth>),
}

/// The simulated head, which may carry several sensors.
#[derive(Clone)]
pub struct FastHead {
    asked: mpsc::Sender<Asked>,
}

impl FastHead {
    /// Starts it; the bytes of each sensor come out of a stream of their own. One head with several sensors is one rig for
    /// each of them, all told the same at the same time.
    pub fn spawn(mut rigs: Vec<Rig>) -> (Self, Vec<tokio::io::DuplexStream>) {
        let (mut outs, streams): (Vec<_>, Vec<_>) = rigs.iter().map(|_| tokio::io::duplex(64 * 1024)).unzip();
        let (asked, mut inbox) = mpsc::channel(16);
        tokio::spawn(async move {
            let (mut seen, mut now, mut bytes) = (Instant::now(), Seconds::new(0.0), Vec::new());
            let mut tick = tokio::time::interval(TICK);
            loop {
                tokio::select! {
                    _ = tick.tick() => {}
                    asked = inbox.recv() => match asked {
                        Some(Asked::Do(line, done)) => {
                            let told = rigs.iter_mut().map(|rig| rig.command(&line));
                            // Turning the tail means something to the sensor that is on it.
                            assert_ne!(told.filter(Result::is_ok).count(), 0, "{line}");
                            let _ = done.send(());
                        }
                        Some(Asked::Truth(reply)) => drop(reply.send(rigs[0].truth())),
                        None => return,
                    },
                }
                // On a machine that has no time for it the head stands still too, and does not run ahead of who reads it.
                let passed = Seconds::new(seen.elapsed().as_secs_f64() * SPEED);
                (seen, now) = (Instant::now(), now + if passed < AT_ONCE { passed } else { AT_ONCE });
                for (rig, out) in rigs.iter_mut().zip(&mut outs) {
                    bytes.clear();
                    rig.advance(now, &mut bytes);
                    if out.write_all(&bytes).await.is_err() {
                        return;
                    }
                }
            }
        });
        (Self { asked }, streams)
    }

    /// Does one thing; `wait` waits in the head's own time.
    pub async fn tell(&self, line: &str) {
        if let Some(seconds) = line.strip_prefix("wait ") {
            let until = self.truth().await.now_s + Seconds::new(seconds.parse().unwrap());
            while self.truth().await.now_s < until {
                tokio::time::sleep(TICK).await;
            }
            return;
        }
        let (done, told) = oneshot::channel();
        self.asked.send(Asked::Do(line.to_owned(), done)).await.unwrap();
        told.await.unwrap();
    }

    pub async fn truth(&self) -> Truth {
        let (reply, truth) = oneshot::channel();
        self.asked.send(Asked::Truth(reply)).await.unwrap();
        truth.await.unwrap()
    }
}

/// A running session over a simulated head.
pub struct Bench {
    pub head: FastHead,
    pub conductor: Conductor,
    pub logbook: Logbook,
    _folder: tempfile::TempDir,
}

impl Bench {
    /// With a calibrated sensor whose own error is known, its clip going from blade to blade.
    pub async fn new(scenario: &str, head: Head) -> Self {
        Self::with_sensors(scenario, head, &[]).await
    }

    /// The same with such a sensor on each of these blades.
    pub async fn with_sensors(scenario: &str, head: Head, carriers: &[&str]) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let logbook = Logbook::open(&Location::File(folder.path().join("club.sqlite"))).await.unwrap();
        let number = logbook.new_setup(NewSetup::of(head)).await.unwrap().number;
        let mut open = OpenSetup::find(logbook.clone(), Some(number)).await.unwrap();
        open.set_zero(Datum::Gravity, None, None).await.unwrap();
        let mut rigs = vec![Rig::new(scenario.parse().unwrap()).unwrap()];
        for (at, carrier) in carriers.iter().enumerate() {
            let mut scenario: Scenario = scenario.parse().unwrap();
            scenario.seed += at as u64;
            let mut rig = Rig::new(scenario).unwrap();
            let on = if *carrier == "tail" { "tail A" } else { carrier };
            rig.command(&format!("clip {on} forward")).unwrap();
            if at == 0 {
                rigs.clear();
            }
            rigs.push(rig);
        }
        let (head, streams) = FastHead::spawn(rigs);
        let profile = Profile::sentence();
        // A perfect sensor, and known to be one to half a milligravity.
        let covariance = Covariance::identity() * 0.0005_f64.powi(2);
        let nominal = Calibration::nominal(16_384.0);
        let calibration = Calibration { name: "bench".into(), model: Model::Faces, covariance, ..nominal };
        let instrument = Instrument::new(profile.clone(), Some(calibration), open.setup().head.rotation);
        let mut sensors = streams.into_iter().enumerate().map(|(at, bytes)| {
            let name = carriers.get(at).map_or_else(|| "head".to_owned(), |carrier| format!("sensor {carrier}"));
            let origin = Origin::Live(name.clone());
            let stream = SampleStream::from_reader(origin, bytes, &profile, &Options::default()).unwrap();
            let carrier = carriers.get(at).map(|carrier| carrier.parse().unwrap());
            Sensor { stream, instrument: instrument.clone().on(carrier), plug: None, name }
        });
        let first = sensors.next().unwrap();
        let wishes = Wishes { demo: true };
        let (conductor, _task) = start(first, sensors.collect(), open, wishes);
        Self { head, conductor, logbook, _folder: folder }
    }

    pub fn sheet(&self) -> Arc<Sheet> {
        self.conductor.sheet().borrow().clone()
    }

    pub async fn act(&self, act: Act) {
        self.conductor.act(act).await.unwrap();
    }

    /// Reads the cautions and starts the sequence.
    pub async fn arm(&self) {
        for line in 0..Caution::ALL.len() {
            self.act(Act::Acknowledge { line }).await;
        }
        self.act(Act::Arm).await;
    }

    /// Does what the sheet says, except what `instead` does otherwise, until `until` says so.
    pub async fn play(
        &self,
        mut instead: impl FnMut(&Sheet) -> Option<Vec<String>>,
        until: impl Fn(&Sheet) -> bool,
    ) -> Arc<Sheet> {
        let mut sheets = self.conductor.sheet();
        let mut done_for = None;
        let mut done_at = Instant::now();
        let deadline = Instant::now() + Duration::from_secs(90);
        loop {
            let sheet = sheets.borrow_and_update().clone();
            if until(&sheet) {
                return sheet;
            }
            assert!(Instant::now() < deadline, "it does not come to its end: {:#?}", sheet.step);
            let key = (sheet.step.phase, sheet.step.sentence.clone(), sheet.step.cell.clone());
            // A short movement that nobody saw is made again: a quick pace on a busy machine may hide it.
            let unseen = key.0 == Phase::CheckStick && done_at.elapsed() > UNSEEN;
            if done_for.as_ref() != Some(&key) || unseen {
                (done_for, done_at) = (Some(key), Instant::now());
                let moves = instead(&sheet).unwrap_or_else(|| hands::moves(&sheet));
                for line in moves {
                    self.head.tell(&line).await;
                }
            }
            let _ = tokio::time::timeout(Duration::from_millis(500), sheets.changed()).await;
        }
    }
}

/// The usual person.
pub fn as_told(_: &Sheet) -> Option<Vec<String>> {
    None
}

pub fn is_done(sheet: &Sheet) -> bool {
    sheet.step.phase == Phase::Done
}

pub fn asks(sheet: &Sheet) -> bool {
    sheet.step.phase == Phase::Question
}
