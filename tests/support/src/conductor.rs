//! A session without a wire, and without a clock of its own: time goes on at the simulated head only while somebody waits for
//! something, as fast as the session follows, and a simulated person does what the sheet says.

use clinoblade::bench::conductor::{Conductor, Live, Sensor, SessionOptions, Sheet, hands, start};
use clinoblade::bench::{Instrument, SetupHandle};
use clinoblade::guide::{Act, Phase};
use clinoblade::logbook::{Location, Logbook, NewSetup};
use clinoblade::record::Head;
use clinoblade::record::trade::Caution;
use clinoblade::rig::{Rig, Scenario, Truth};
use clinoblade::rotor::Datum;
use clinoblade::sensor::{Calibration, Covariance, Model};
use clinoblade::stream::{Options, Origin, Plug, Profile, SampleStream, Source};
use clinoblade::units::Seconds;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;
use tokio::io::{AsyncWriteExt, DuplexStream};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{Mutex, oneshot, watch};

const TICK: Duration = Duration::from_millis(5);
/// A session that has shown nothing new of so much time at the head is busy with something else.
const FOLLOWS_WITHIN: Duration = Duration::from_millis(60);
/// A short movement that nobody has answered for so long at the head is made again.
const UNSEEN: Duration = Duration::from_secs(10);
/// The person gives up after so long at the head: by then the whole job has been done several times.
const PATIENCE: Duration = Duration::from_secs(1800);

/// Where the bytes of a sensor go.
enum Cable {
    /// To who reads them in memory; it never comes off.
    Fixed(DuplexStream),
    /// To who connects to this address while the sensor is plugged in.
    Plugged { at: SocketAddr, listener: Option<TcpListener>, reader: Option<TcpStream> },
}

impl Cable {
    async fn carry(&mut self, bytes: &[u8], is_plugged: bool) {
        match self {
            // Who reads may have gone.
            Self::Fixed(out) => drop(out.write_all(bytes).await),
            Self::Plugged { listener, reader, .. } if !is_plugged => (*listener, *reader) = (None, None),
            Self::Plugged { at, listener, reader } => {
                if listener.is_none() {
                    *listener = Some(TcpListener::bind(*at).await.unwrap());
                }
                if let Some(listener) = listener
                    && let Ok(connected) = tokio::time::timeout(Duration::ZERO, listener.accept()).await
                {
                    *reader = Some(connected.unwrap().0);
                }
                if let Some(reader) = reader {
                    let _ = reader.write_all(bytes).await;
                }
            }
        }
    }
}

/// One rig for each sensor of the head, all told the same at the same time, and where the bytes of each go.
struct Rigs {
    sensors: Vec<(Rig, Cable)>,
    now: Duration,
    bytes: Vec<u8>,
    /// Of so many lines one comes whole; 1 is a good line.
    one_whole_of: usize,
    lines: usize,
}

impl Rigs {
    async fn go_on(&mut self) {
        self.now += TICK;
        for (rig, cable) in &mut self.sensors {
            self.bytes.clear();
            rig.advance(Seconds::new(self.now.as_secs_f64()), &mut self.bytes);
            if self.one_whole_of > 1 {
                for end in self.bytes.clone().iter().enumerate().filter(|(_, byte)| **byte == b'\n').map(|(at, _)| at) {
                    self.lines += 1;
                    if !self.lines.is_multiple_of(self.one_whole_of) {
                        // A digit of its checksum.
                        self.bytes[end - 2] ^= 0x10;
                    }
                }
            }
            cable.carry(&self.bytes, rig.is_plugged()).await;
        }
    }
}

/// How far the session has come with what was sent to it.
struct Seen {
    live: watch::Receiver<Option<Live>>,
    /// Time at the head since it showed something new.
    since: Duration,
}

/// The simulated head, which may carry several sensors.
#[derive(Clone)]
pub struct SimulatedHead {
    rigs: Arc<Mutex<Rigs>>,
    seen: Arc<Mutex<Seen>>,
}

impl SimulatedHead {
    /// Lets a moment pass at the head. Where the session does something else meanwhile, which takes its time in life, no more
    /// passes at the head than in life.
    async fn moment(&self) {
        let mut seen = self.seen.lock().await;
        seen.since += TICK;
        if seen.live.has_changed().unwrap_or(true) || seen.live.borrow().is_none() {
            seen.live.mark_unchanged();
            seen.since = Duration::ZERO;
        }
        if seen.since > FOLLOWS_WITHIN {
            tokio::task::spawn_blocking(|| std::thread::sleep(TICK)).await.unwrap();
        }
        self.rigs.lock().await.go_on().await;
        tokio::time::advance(TICK).await;
    }

    /// Does one thing; `wait` waits in the head's own time.
    pub async fn tell(&self, line: &str) {
        if let Some(seconds) = line.strip_prefix("wait ") {
            let until = self.rigs.lock().await.now + Duration::from_secs_f64(seconds.parse().unwrap());
            while self.rigs.lock().await.now < until {
                self.moment().await;
            }
            return;
        }
        let mut rigs = self.rigs.lock().await;
        let told = rigs.sensors.iter_mut().map(|(rig, _)| rig.command(line));
        // Turning the tail means something to the sensor that is on it.
        assert_ne!(told.filter(Result::is_ok).count(), 0, "{line}");
    }

    /// Does one thing with one of several sensors.
    pub async fn tell_one(&self, at: usize, line: &str) {
        self.rigs.lock().await.sensors[at].0.command(line).unwrap();
    }

    /// From now on one of so many lines comes whole.
    pub async fn damage(&self, one_whole_of: usize) {
        self.rigs.lock().await.one_whole_of = one_whole_of;
    }

    pub async fn truth(&self) -> Truth {
        self.rigs.lock().await.sensors[0].0.truth()
    }
}

/// A running session over a simulated head.
pub struct Bench {
    pub head: SimulatedHead,
    pub conductor: Conductor,
    pub logbook: Logbook,
    /// Work that goes on for as long as this is held: without it time would run on by itself whenever the logbook is waited for.
    _work: oneshot::Sender<()>,
    _folder: tempfile::TempDir,
}

impl Bench {
    /// The same in the time of life, for others who live in it too.
    pub async fn in_life(scenario: &str, head: Head) -> Self {
        let bench = Self::begun(scenario, head, &[], false).await;
        let rigs = Arc::clone(&bench.head.rigs);
        tokio::spawn(async move {
            let mut tick = tokio::time::interval(TICK);
            // On a machine that has no time for it the head stands still too, and does not run ahead of who reads it.
            tick.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
            loop {
                tick.tick().await;
                rigs.lock().await.go_on().await;
            }
        });
        bench
    }

    /// With a calibrated sensor whose own error is known, its clip going from blade to blade.
    pub async fn new(scenario: &str, head: Head) -> Self {
        Self::with_sensors(scenario, head, &[]).await
    }

    /// The same, its cable one that comes off and is plugged in again.
    pub async fn with_plug(scenario: &str, head: Head) -> Self {
        let bench = Self::begun(scenario, head, &[], true).await;
        tokio::time::pause();
        bench
    }

    /// The same with such a sensor on each of these blades.
    pub async fn with_sensors(scenario: &str, head: Head, carriers: &[&str]) -> Self {
        let bench = Self::begun(scenario, head, carriers, false).await;
        tokio::time::pause();
        bench
    }

    async fn begun(scenario: &str, head: Head, carriers: &[&str], plugs: bool) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let logbook = Logbook::open(&Location::File(folder.path().join("club.sqlite"))).await.unwrap();
        let number = logbook.new_setup(NewSetup::of(head)).await.unwrap().number;
        let mut open = SetupHandle::find(logbook.clone(), Some(number)).await.unwrap();
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
        let profile = Profile::sentence();
        // A perfect sensor, and known to be one to half a milligravity.
        let covariance = Covariance::identity() * 0.0005_f64.powi(2);
        let nominal = Calibration::nominal(16_384.0);
        let calibration = Calibration { name: "bench".into(), model: Model::Faces, covariance, ..nominal };
        let instrument = Instrument::new(profile.clone(), Some(calibration), open.setup().head.rotation);
        let (mut sensors, mut cables) = (Vec::new(), Vec::new());
        for at in 0..rigs.len() {
            let name = carriers.get(at).map_or_else(|| "head".to_owned(), |carrier| format!("sensor {carrier}"));
            let options = Options::default();
            let (stream, plug, cable) = if plugs {
                let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
                let at = listener.local_addr().unwrap();
                let source = Source::Tcp(at.to_string());
                let stream = SampleStream::open(&source, &profile, &options).await.unwrap();
                let cable = Cable::Plugged { at, listener: Some(listener), reader: None };
                (stream, Some(Plug::new(source)), cable)
            } else {
                let (out, bytes) = tokio::io::duplex(64 * 1024);
                let stream = SampleStream::from_reader(Origin::Live(name.clone()), bytes, &profile, &options).unwrap();
                (stream, None, Cable::Fixed(out))
            };
            let carrier = carriers.get(at).map(|carrier| carrier.parse().unwrap());
            sensors.push(Sensor { stream, instrument: instrument.clone().on(carrier), plug, name });
            cables.push(cable);
        }
        let others = sensors.split_off(1);
        let options = SessionOptions { demo: true, absent: None };
        let (conductor, _task) = start(sensors.remove(0), others, open, options);
        let sensors = rigs.into_iter().zip(cables).collect();
        let rigs = Rigs { sensors, now: Duration::ZERO, bytes: Vec::new(), one_whole_of: 1, lines: 0 };
        let seen = Seen { live: conductor.live(), since: Duration::ZERO };
        let head = SimulatedHead { rigs: Arc::new(Mutex::new(rigs)), seen: Arc::new(Mutex::new(seen)) };
        let (work, until) = oneshot::channel::<()>();
        tokio::task::spawn_blocking(|| until.blocking_recv());
        Self { head, conductor, logbook, _work: work, _folder: folder }
    }

    pub fn sheet(&self) -> Arc<Sheet> {
        self.conductor.sheet().borrow().clone()
    }

    /// The first sheet of another session over the same setup, with a sensor that is silent.
    pub async fn opened_anew(&self) -> Arc<Sheet> {
        let open = SetupHandle::find(self.logbook.clone(), None).await.unwrap();
        let (silent, _line) = tokio::io::duplex(64);
        let (profile, origin) = (Profile::sentence(), Origin::Live("silent".to_owned()));
        let stream = SampleStream::from_reader(origin, silent, &profile, &Options::default()).unwrap();
        let instrument = Instrument::new(profile, None, open.setup().head.rotation);
        let sensor = Sensor { stream, instrument, plug: None, name: "silent".to_owned() };
        let options = SessionOptions { demo: true, absent: None };
        let (conductor, _task) = start(sensor, Vec::new(), open, options);
        let sheets = conductor.sheet();
        Arc::clone(&sheets.borrow())
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
        let (mut waited, mut done_at) = (Duration::ZERO, Duration::ZERO);
        loop {
            let sheet = sheets.borrow_and_update().clone();
            if until(&sheet) {
                return sheet;
            }
            let key = (sheet.step.phase, sheet.step.instruction, sheet.step.number);
            let checks = key.0 == Phase::CheckStick;
            if done_for.as_ref() != Some(&key) {
                done_for = Some(key);
                done_at = waited;
                for line in instead(&sheet).unwrap_or_else(|| hands::moves(&sheet)) {
                    self.head.tell(&line).await;
                }
            }
            while !sheets.has_changed().unwrap() {
                assert!(waited < PATIENCE, "it does not come to its end: {:#?}", sheet.step);
                waited += TICK;
                self.head.moment().await;
                if checks && waited > done_at + UNSEEN {
                    done_for = None;
                    break;
                }
            }
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
