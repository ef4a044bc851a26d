//! The workshop: the logbook, the sensors and the setup on the bench, for who has only the page. It begins with nothing: no
//! setup, no sensor, no logbook. Commands and page do the same things by the same functions.

mod deeds;
mod equipment;
mod helicopters;
mod looks;
mod resume;
mod reversal;
mod saved;
mod sensor;
mod start;
mod tumble;
pub mod written;

pub use deeds::{Adjusted, Begun, DeedError, adjust, begin, leave_out};
pub use equipment::{Answer, Bare, Equipment, EquipmentError, HandLine, Sensors};
pub use helicopters::{Heads, Helicopter, LastSetup};
pub use looks::{Compared, HeadHistory, HistoryDocument, compare, sheet};
pub use resume::{Resumed, resume};
pub use reversal::{KeptReversal, TakenOver, found_error, keep_reversal, kept_reversal, take_over};
pub use saved::{SavedSensor, saved_reseat};
pub use sensor::{PortLine, SensorKind, SensorLine};
pub use start::{Next, OpenSetup, State};
pub use tumble::{Tumble, TumbleEvent, TumbleState, WANT_DEGREES, doubts};

use crate::SetupHandle;
use crate::conductor::{Change, Conductor, LinkState, Refusal, SessionOptions, start as start_session};
use crate::logbook::{DocumentError, Logbook, LogbookError, NewSetup, SavedDefault, SetupDocument};
use crate::record::{Adjustment, Blades, CellName, FieldFault, Head, HeadForm, Interruption, Turnable, turnables};
use crate::words::{Face, Say, workshop as words};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{Mutex, watch};
use tokio::task::JoinHandle;

/// How often a sensor that is not there is looked for.
const LOOK: Duration = Duration::from_secs(2);

/// A session whose last handle is gone ends within this.
const ENDS_WITHIN: Duration = Duration::from_secs(10);

/// Everything that is on the bench.
#[derive(Debug)]
pub struct Workshop {
    own: Arc<dyn Equipment>,
    bench: Mutex<Bench>,
    current: watch::Sender<Option<Conductor>>,
}

#[derive(Debug, Default)]
struct Bench {
    /// The simulated head, while it is tried.
    simulated: Option<Arc<dyn Equipment>>,
    running: Option<Running>,
    tumbling: Option<tumble::Tumbling>,
    /// The setup that was on the bench before the sensor was taken for something else.
    before: Option<u32>,
}

/// The setup on the bench.
#[derive(Debug)]
struct Running {
    number: u32,
    task: JoinHandle<()>,
    /// Why it has no sensor; none where it has one.
    absent: Option<String>,
}

/// What a person does besides captures.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(tag = "do", rename_all = "snake_case", deny_unknown_fields)]
pub enum Deed {
    /// Keeps a helicopter's description.
    KeepHead {
        /// The form.
        form: HeadForm,
        /// Whether it is only checked.
        #[serde(default)]
        only_check: bool,
    },
    /// Begins a setup.
    Begin {
        /// The helicopter.
        head: String,
        /// Why it is measured.
        #[serde(default)]
        reason: String,
        /// Who measures.
        #[serde(default)]
        measured_by: String,
        /// What happened before.
        #[serde(default)]
        after: Option<Adjustment>,
        /// Whether the main blades are off.
        #[serde(default)]
        blades_off: bool,
        /// The open setup that is to be closed for it.
        #[serde(default)]
        close: Option<u32>,
    },
    /// Puts a setup on the bench; one that was closed is opened again.
    TakeUp {
        /// Its number.
        setup: u32,
        /// What happened in the pause.
        #[serde(default)]
        pause: Interruption,
    },
    /// Closes a setup.
    Close {
        /// Its number.
        setup: u32,
    },
    /// Records what was turned.
    Turned {
        /// In which setup.
        setup: u32,
        /// What was turned.
        what: Vec<Adjustment>,
        /// A remark.
        #[serde(default)]
        note: Option<String>,
    },
    /// Leaves a cell out.
    LeaveOut {
        /// In which setup.
        setup: u32,
        /// The cell.
        cell: CellName,
        /// Why.
        because: String,
    },
    /// Says who has checked.
    Checked {
        /// Which setup.
        setup: u32,
        /// Who.
        by: String,
    },
    /// Puts the simulated head on the bench.
    Simulate,
    /// Takes it away again.
    LeaveSimulation,
    /// Begins a guided tumble of the sensor.
    Tumble,
    /// Leaves it, or what it came to.
    LeaveTumble,
    /// Makes this port the default sensor's.
    UsePort {
        /// Its path.
        port: String,
    },
}

/// Why something was not done.
#[derive(Debug, thiserror::Error)]
pub enum WorkshopError {
    /// The logbook.
    #[error(transparent)]
    Logbook(#[from] LogbookError),
    /// The sensor, or the simulated head.
    #[error(transparent)]
    Equipment(#[from] EquipmentError),
    /// The setup.
    #[error(transparent)]
    Deed(#[from] DeedError),
    /// The session.
    #[error("{0}")]
    Refused(#[from] Refusal),
    /// An imported document.
    #[error(transparent)]
    Document(#[from] DocumentError),
    /// The form.
    #[error("form")]
    Form(BTreeMap<String, FieldFault>),
    /// There is no logbook yet.
    #[error("no logbook")]
    NoLogbook,
    /// No such helicopter.
    #[error("no helicopter {0}")]
    NoHelicopter(String),
    /// Another setup is open.
    #[error("setup {0} open")]
    StillOpen(u32),
    /// Something is to be written.
    #[error("blank")]
    Blank,
    /// A file.
    #[error("file: {0}")]
    File(#[from] std::io::Error),
}

impl WorkshopError {
    /// What it is, for other programs.
    #[must_use]
    pub const fn kind(&self) -> &'static str {
        match self {
            Self::Logbook(LogbookError::NoSetup(_)) => "no_setup",
            Self::Logbook(LogbookError::Closed(_)) => "closed",
            Self::Logbook(_) => "logbook",
            Self::Equipment(_) => "sensor",
            Self::Deed(_) => "not_done",
            Self::Refused(_) => "refused",
            Self::Document(_) => "document",
            Self::Form(_) => "form",
            Self::NoLogbook => "no_logbook",
            Self::NoHelicopter(_) => "no_helicopter",
            Self::StillOpen(_) => "still_open",
            Self::Blank => "blank",
            Self::File(_) => "file",
        }
    }

    /// Further facts.
    #[must_use]
    pub fn facts(&self) -> serde_json::Value {
        match self {
            Self::Form(faults) => serde_json::json!({
                "fields": faults.iter().map(|(key, fault)| {
                    serde_json::json!({ "key": key, "fault": fault, "said": words::field_fault(fault) })
                }).collect::<Vec<_>>()
            }),
            Self::StillOpen(number) => serde_json::json!({ "open": number }),
            _ => serde_json::Value::Null,
        }
    }
}

impl Say for WorkshopError {
    fn say(&self, face: Face) -> String {
        match self {
            Self::Logbook(error) => error.say(face),
            Self::Equipment(error) => error.say(face),
            Self::Deed(error) => error.say(face),
            Self::Refused(refusal) => refusal.say(face),
            Self::Document(error) => error.say(face),
            Self::Form(faults) => words::form_refused(faults.len()),
            Self::NoLogbook => words::NO_LOGBOOK.to_owned(),
            Self::NoHelicopter(name) => words::no_helicopter(name),
            Self::StillOpen(number) => words::still_open(*number),
            Self::Blank => words::BLANK.to_owned(),
            Self::File(error) => words::file(error),
        }
    }
}

/// What can have been turned, with what is said of it.
#[derive(Debug, Serialize)]
pub struct TurnableLine {
    /// As it is recorded, by some amount.
    pub what: Adjustment,
    /// The same with a gap for the amount.
    pub pattern: String,
    /// By what it is counted.
    pub amount: crate::record::Amount,
    /// What it is called.
    pub label: String,
    /// The cells that would be stale.
    pub stale: Vec<CellName>,
    /// The same in words.
    pub said: String,
}

impl From<Turnable> for TurnableLine {
    fn from(turnable: Turnable) -> Self {
        let Turnable { what, amount, stale } = turnable;
        let names: Vec<String> = stale.iter().map(ToString::to_string).collect();
        Self {
            pattern: words::pattern(what),
            label: words::turnable(what),
            said: words::makes_stale(&names),
            what,
            amount,
            stale,
        }
    }
}

impl Workshop {
    /// With this equipment, and nothing on the bench.
    #[must_use]
    pub fn new(own: Arc<dyn Equipment>) -> Arc<Self> {
        let (current, _) = watch::channel(None);
        Arc::new(Self { own, bench: Mutex::default(), current })
    }

    /// A workshop in which one session runs, and in which nothing else is to be done.
    #[must_use]
    pub fn over(conductor: Conductor, hands: Option<tokio::sync::mpsc::Sender<HandLine>>) -> Arc<Self> {
        let (current, _) = watch::channel(Some(conductor));
        let own = Arc::new(equipment::Nothing(hands));
        Arc::new(Self { own, bench: Mutex::default(), current })
    }

    /// The session that runs, where one does.
    #[must_use]
    pub fn conductor(&self) -> Option<Conductor> {
        self.current.borrow().clone()
    }

    /// The same, to wait for another.
    #[must_use]
    pub fn watch(&self) -> watch::Receiver<Option<Conductor>> {
        self.current.subscribe()
    }

    /// The hands of the simulated head, while it is there.
    pub async fn hands(&self) -> Option<tokio::sync::mpsc::Sender<HandLine>> {
        self.equipment().await.hands()
    }

    async fn equipment(&self) -> Arc<dyn Equipment> {
        self.bench.lock().await.equipment(&self.own)
    }

    /// The logbook, where there is one.
    async fn logbook(&self) -> Result<Logbook, WorkshopError> {
        self.equipment().await.logbook(false).await?.ok_or(WorkshopError::NoLogbook)
    }

    /// Everything that the start shows.
    ///
    /// # Errors
    /// When the logbook cannot be read.
    pub async fn state(&self) -> Result<State, WorkshopError> {
        let (equipment, running, absent) = {
            let bench = self.bench.lock().await;
            let running = bench.running.as_ref();
            let absent = running.and_then(|running| running.absent.clone());
            (bench.equipment(&self.own), running.map(|running| running.number), absent)
        };
        let sheet = self.conductor().map(|conductor| conductor.sheet().borrow().clone());
        let logbook = equipment.logbook(false).await?;
        let sensor = match sheet.as_ref().filter(|sheet| absent.is_none() && sheet.link.state != LinkState::Ended) {
            Some(sheet) => SensorLine::of_link(&sheet.link, equipment.as_ref(), logbook.as_ref()).await,
            None => SensorLine::found(equipment.as_ref(), logbook.as_ref()).await,
        };
        State::new(equipment.as_ref(), logbook.as_ref(), sensor, running.or(sheet.map(|sheet| sheet.setup.number)))
            .await
    }

    /// The form of a helicopter's head; blank without a name.
    ///
    /// # Errors
    /// When there is no helicopter of this name.
    pub async fn form(&self, name: Option<&str>) -> Result<serde_json::Value, WorkshopError> {
        let equipment = self.equipment().await;
        let logbook = equipment.logbook(false).await?;
        let heads = Heads::of(equipment.as_ref(), logbook.as_ref()).await?;
        let form = match name {
            Some(name) => HeadForm::of(heads.head(name).ok_or_else(|| WorkshopError::NoHelicopter(name.to_owned()))?),
            None => HeadForm::default(),
        };
        let fields: Vec<serde_json::Value> = crate::record::fields()
            .into_iter()
            .map(|field| {
                let (label, help, usual) = words::field(field.key);
                let mut line = serde_json::json!(field);
                line["label"] = label.into();
                line["help"] = help.into();
                line["usual"] = usual.into();
                line
            })
            .collect();
        Ok(serde_json::json!({ "fields": fields, "values": form, "helicopters": heads.names() }))
    }

    /// What can have been turned in a setup, for a cell or at all.
    ///
    /// # Errors
    /// When there is no such setup.
    pub async fn turnables(&self, setup: u32, cell: Option<CellName>) -> Result<Vec<TurnableLine>, WorkshopError> {
        let open = SetupHandle::find(self.logbook().await?, Some(setup)).await?;
        let found = turnables(&open.setup().head, open.entries(), &open.record(), cell);
        Ok(found.into_iter().map(TurnableLine::from).collect())
    }

    /// A setup, to look at.
    ///
    /// # Errors
    /// When there is no such setup.
    pub async fn setup(&self, number: u32) -> Result<SetupHandle, WorkshopError> {
        Ok(SetupHandle::find(self.logbook().await?, Some(number)).await?)
    }

    /// The setups, newest first, whose head, number or reason has this text in it.
    ///
    /// # Errors
    /// When the logbook cannot be read.
    pub async fn setups(&self, search: &str) -> Result<serde_json::Value, WorkshopError> {
        let equipment = self.equipment().await;
        let Some(logbook) = equipment.logbook(false).await? else {
            return Ok(serde_json::json!({ "logbook": null, "setups": [] }));
        };
        let wanted = search.trim().to_lowercase();
        let mut setups = logbook.setups(None, 1000).await?;
        setups.retain(|setup| {
            let text = format!("{} {} {}", setup.number, setup.head, setup.reason).to_lowercase();
            wanted.split_whitespace().all(|word| text.contains(word))
        });
        let waiting = logbook.waiting()?;
        let waits = crate::words::logbook::waits(waiting);
        Ok(serde_json::json!({
            "logbook": logbook.place(), "shared": logbook.is_shared(), "waiting": waiting, "waits": waits, "setups": setups,
        }))
    }

    /// Compares two setups.
    ///
    /// # Errors
    /// When there is no such setup.
    pub async fn compare(&self, first: u32, second: u32) -> Result<Compared, WorkshopError> {
        Ok(compare(&self.logbook().await?, first, second).await?.0)
    }

    /// The history of a head.
    ///
    /// # Errors
    /// When it has no setup.
    pub async fn history(&self, head: &str) -> Result<HeadHistory, WorkshopError> {
        let found = HeadHistory::of(&self.logbook().await?, head, 50).await?;
        found.ok_or_else(|| WorkshopError::NoHelicopter(head.to_owned()))
    }

    /// A setup as a document.
    ///
    /// # Errors
    /// When there is no such setup.
    pub async fn export(&self, number: u32) -> Result<SetupDocument, WorkshopError> {
        Ok(self.logbook().await?.export(number).await?)
    }

    /// Takes an exported setup in.
    ///
    /// # Errors
    /// When it is none, or the logbook cannot be written.
    pub async fn import(&self, bytes: &[u8]) -> Result<serde_json::Value, WorkshopError> {
        let document = SetupDocument::read(bytes)?;
        let logbook = self.equipment().await.logbook(true).await?.ok_or(WorkshopError::NoLogbook)?;
        let imported = logbook.import(&[document]).await?;
        let said: Vec<String> =
            imported.iter().map(|one| crate::words::setup::imported(Path::new(words::THIS_FILE), one)).collect();
        Ok(serde_json::json!({ "imported": imported, "said": said.join(" ") }))
    }

    /// The logbook as one file, while it is in use.
    ///
    /// # Errors
    /// When it cannot be copied.
    pub async fn backup(&self) -> Result<Vec<u8>, WorkshopError> {
        let logbook = self.logbook().await?;
        let name = format!("clinoblade-backup-{}.sqlite", uuid::Uuid::now_v7());
        let place = std::env::temp_dir().join(name);
        let copied = logbook.back_up(&place, Timestamp::now()).await;
        let bytes = std::fs::read(&place);
        let _ = std::fs::remove_file(&place);
        copied?;
        Ok(bytes?)
    }

    /// Does something.
    ///
    /// # Errors
    /// When it cannot be done; nothing of it is done then.
    pub async fn deed(&self, deed: Deed) -> Result<serde_json::Value, WorkshopError> {
        match deed {
            Deed::KeepHead { form, only_check } => self.keep_head(&form, only_check).await,
            Deed::Begin { head, reason, measured_by, after, blades_off, close } => {
                let wanted = Wanted { head, reason, measured_by, after, blades_off, close };
                self.begin(wanted).await
            }
            Deed::TakeUp { setup, pause } => self.take_up(setup, pause).await,
            Deed::Close { setup } => self.close(setup).await,
            Deed::Turned { setup, what, note } => {
                let note = note.filter(|note| !note.trim().is_empty());
                self.change(setup, Change::Turned { what: what.clone(), note }).await?;
                let equipment = self.equipment().await;
                for adjustment in &what {
                    equipment.turn(*adjustment).await;
                }
                let open = self.setup(setup).await?;
                let adjusted: Vec<Adjusted> = what.iter().map(|what| Adjusted::of(&open, *what).0).collect();
                Ok(serde_json::json!({ "setup": setup, "adjusted": adjusted, "said": words::turned(&what) }))
            }
            Deed::LeaveOut { setup, cell, because } => {
                self.change(setup, Change::LeaveOut { cell, because }).await?;
                Ok(serde_json::json!({ "setup": setup, "left_out": cell }))
            }
            Deed::Checked { setup, by } => {
                if by.trim().is_empty() {
                    return Err(WorkshopError::Blank);
                }
                let amended = self.logbook().await?.amend_setup(setup, |setup| setup.checked_by = Some(by)).await?;
                Ok(serde_json::json!({ "setup": amended.number, "checked_by": amended.checked_by }))
            }
            Deed::Simulate => self.simulate().await,
            Deed::LeaveSimulation => {
                let mut bench = self.bench.lock().await;
                bench.leave_tumble().await;
                self.clear(&mut bench).await;
                (bench.simulated, bench.before) = (None, None);
                Ok(serde_json::json!({ "simulated": false }))
            }
            Deed::Tumble => self.tumble().await,
            Deed::LeaveTumble => {
                let before = {
                    let mut bench = self.bench.lock().await;
                    bench.leave_tumble().await;
                    bench.before.take()
                };
                if let Some(number) = before {
                    self.put_on_bench(self.setup(number).await?).await?;
                }
                Ok(serde_json::json!({ "setup": before }))
            }
            Deed::UsePort { port } => {
                let equipment = self.equipment().await;
                equipment.use_port(&port).await?;
                self.sensor_anew().await?;
                Ok(serde_json::json!({ "port": port }))
            }
        }
    }

    async fn keep_head(&self, form: &HeadForm, only_check: bool) -> Result<serde_json::Value, WorkshopError> {
        let head = form.head().map_err(|faults| WorkshopError::Form(faults.into_iter().collect()))?;
        let means = crate::words::setup::head(&head);
        if !only_check {
            helicopters::keep(self.equipment().await.as_ref(), &head)?;
        }
        Ok(serde_json::json!({ "head": head, "kept": !only_check, "said": means }))
    }

    async fn begin(&self, wanted: Wanted) -> Result<serde_json::Value, WorkshopError> {
        let mut bench = self.bench.lock().await;
        let equipment = bench.equipment(&self.own);
        let logbook = equipment.logbook(true).await?.ok_or(WorkshopError::NoLogbook)?;
        let heads = Heads::of(equipment.as_ref(), Some(&logbook)).await?;
        let head = heads.head(&wanted.head).ok_or_else(|| WorkshopError::NoHelicopter(wanted.head.clone()))?.clone();
        match logbook.open_setup().await {
            Ok(open) if wanted.close != Some(open.number) => return Err(WorkshopError::StillOpen(open.number)),
            Ok(_) | Err(LogbookError::NoOpenSetup) => {}
            Err(error) => return Err(error.into()),
        }
        self.clear(&mut bench).await;
        let blank = |text: String| Some(text).filter(|text| !text.trim().is_empty());
        let new = NewSetup {
            reason: wanted.reason,
            measured_by: blank(wanted.measured_by),
            blades: if wanted.blades_off { Blades::Off } else { Blades::On },
            ..NewSetup::of(head)
        };
        let file = heads.file(&wanted.head);
        let Begun { mut open, setup, zero } = begin(&logbook, new, file, wanted.close, wanted.after).await?;
        if let Some(datum) = equipment.zero() {
            open.set_zero(datum, None, None).await?;
        }
        self.run(&mut bench, &equipment, open).await?;
        let zero = zero.map(|zero| zero.say(Face::Page));
        Ok(serde_json::json!({ "setup": setup.number, "zero": zero }))
    }

    /// Puts a setup on the bench as it is.
    ///
    /// # Errors
    /// When there is no such setup.
    pub async fn put_on_bench(&self, open: SetupHandle) -> Result<(), WorkshopError> {
        let mut bench = self.bench.lock().await;
        let equipment = bench.equipment(&self.own);
        self.clear(&mut bench).await;
        self.run(&mut bench, &equipment, open).await
    }

    /// Puts a setup on the bench; one that was closed is opened again.
    ///
    /// # Errors
    /// When there is no such setup.
    pub async fn take_up(&self, number: u32, pause: Interruption) -> Result<serde_json::Value, WorkshopError> {
        let mut bench = self.bench.lock().await;
        let equipment = bench.equipment(&self.own);
        let logbook = equipment.logbook(false).await?.ok_or(WorkshopError::NoLogbook)?;
        let mut open = SetupHandle::find(logbook.clone(), Some(number)).await?;
        let mut said = Vec::new();
        let is_worked_on = logbook.open_setup().await.is_ok_and(|setup| setup.number == number);
        let again = open.setup().closed_at.is_some() || pause != Interruption::default();
        if again {
            let resumed = resume(&mut open, pause, None, None).await?;
            said = resumed.findings.iter().map(|finding| finding.say(Face::Page)).collect();
            open = SetupHandle::find(logbook, Some(number)).await?;
        } else if !is_worked_on {
            logbook.reopen_setup(number).await?;
        }
        // A session that has ended with its setup does not begin again.
        if again || !bench.runs(number) {
            self.clear(&mut bench).await;
            self.run(&mut bench, &equipment, open).await?;
        }
        Ok(serde_json::json!({ "setup": number, "said": said }))
    }

    async fn close(&self, number: u32) -> Result<serde_json::Value, WorkshopError> {
        let mut bench = self.bench.lock().await;
        if bench.runs(number) {
            self.clear(&mut bench).await;
        }
        let logbook = bench.equipment(&self.own).logbook(false).await?.ok_or(WorkshopError::NoLogbook)?;
        let setup = logbook.close_and_leave(number, Timestamp::now()).await?;
        Ok(serde_json::json!({ "setup": setup.number, "closed_at": setup.closed_at }))
    }

    /// Changes a setup: the one on the bench by its session, another one in the logbook.
    async fn change(&self, number: u32, change: Change) -> Result<(), WorkshopError> {
        let runs = self.bench.lock().await.runs(number);
        if let Some(conductor) = self.conductor().filter(|_| runs) {
            return Ok(conductor.change(change).await?);
        }
        let mut open = SetupHandle::find_to_write(self.logbook().await?, Some(number)).await?;
        match change {
            Change::Turned { what, note } => {
                for adjustment in &what {
                    adjustment.possible_on(&open.setup().head).map_err(DeedError::from)?;
                }
                for adjustment in what {
                    adjust(&mut open, adjustment, note.clone()).await?;
                }
            }
            Change::LeaveOut { cell, because } => leave_out(&mut open, cell, &because).await?,
        }
        Ok(())
    }

    async fn simulate(&self) -> Result<serde_json::Value, WorkshopError> {
        let mut bench = self.bench.lock().await;
        if bench.equipment(&self.own).is_simulated() {
            return Ok(serde_json::json!({ "simulated": true }));
        }
        let simulated = self.own.simulate().await?;
        bench.leave_tumble().await;
        bench.before = None;
        self.clear(&mut bench).await;
        bench.simulated = Some(simulated);
        Ok(serde_json::json!({ "simulated": true }))
    }

    /// How a tumble stands; none where none was begun.
    pub async fn tumbling(&self) -> Option<TumbleState> {
        let bench = self.bench.lock().await;
        bench.tumbling.as_ref().map(|tumbling| tumbling.state.borrow().clone())
    }

    /// The sensor is one person's at a time: the setup on the bench waits meanwhile.
    async fn tumble(&self) -> Result<serde_json::Value, WorkshopError> {
        let mut bench = self.bench.lock().await;
        let equipment = bench.equipment(&self.own);
        let logbook = equipment.logbook(true).await?.ok_or(WorkshopError::NoLogbook)?;
        let folder = equipment.heads().ok_or(WorkshopError::NoLogbook)?.with_file_name("calibrations");
        let before = bench.running.as_ref().map(|running| running.number).or(bench.before);
        bench.leave_tumble().await;
        self.clear(&mut bench).await;
        bench.before = before;
        let bare = match equipment.bare(&logbook).await {
            Ok(bare) => bare,
            Err(error) => {
                if let Some(number) = before {
                    let open = SetupHandle::find(logbook, Some(number)).await?;
                    self.run(&mut bench, &equipment, open).await?;
                }
                return Err(error.into());
            }
        };
        let file = folder.join(format!("{}.toml", jiff::ZonedDateTime::now().strftime("%Y-%m-%d-%H%M%S")));
        let source = bare.source.as_ref().and_then(|source| serde_json::to_string(source).ok());
        let keep = move |file: std::path::PathBuf| async move {
            let file = file.display().to_string();
            let kept = logbook.save(SavedDefault::Calibration, Some(&file)).await;
            let source = match source {
                Some(source) => logbook.save(SavedDefault::Source, Some(&source)).await,
                None => Ok(()),
            };
            kept.is_ok() && source.is_ok()
        };
        bench.tumbling = Some(tumble::Tumbling::begin(bare.stream, bare.source, bare.instrument, file, keep));
        Ok(serde_json::json!({ "begun": true }))
    }

    /// Ends the session of the setup on the bench: its sensor is free, its raw log complete.
    async fn clear(&self, bench: &mut Bench) {
        self.current.send_replace(None);
        if let Some(mut running) = bench.running.take() {
            // The last handle is gone: it ends by itself, as soon as what is being done is done.
            if tokio::time::timeout(ENDS_WITHIN, &mut running.task).await.is_err() {
                running.task.abort();
            }
        }
    }

    async fn run(
        &self,
        bench: &mut Bench,
        equipment: &Arc<dyn Equipment>,
        open: SetupHandle,
    ) -> Result<(), WorkshopError> {
        let number = open.setup().number;
        bench.leave_tumble().await;
        bench.before = None;
        let ((first, others), absent) = match equipment.sensors(open.logbook(), &open.setup().head).await {
            Ok(sensors) => (sensors, None),
            Err(error) => (equipment::absent(&open.setup().head)?, Some(error.say(Face::Page))),
        };
        let options = SessionOptions { demo: equipment.is_simulated(), absent: absent.clone() };
        let (conductor, task) = start_session(first, others, open, options);
        self.current.send_replace(Some(conductor));
        bench.running = Some(Running { number, task, absent });
        Ok(())
    }

    /// Opens the sensor of the setup on the bench anew.
    async fn sensor_anew(&self) -> Result<(), WorkshopError> {
        let mut bench = self.bench.lock().await;
        let Some(number) = bench.running.as_ref().map(|running| running.number) else { return Ok(()) };
        let equipment = bench.equipment(&self.own);
        self.clear(&mut bench).await;
        let logbook = equipment.logbook(false).await?.ok_or(WorkshopError::NoLogbook)?;
        let open = SetupHandle::find(logbook, Some(number)).await?;
        self.run(&mut bench, &equipment, open).await
    }

    /// Looks for the sensor of the setup on the bench for as long as it is not there. Does not end.
    pub async fn tend(&self) {
        let mut look = tokio::time::interval(LOOK);
        look.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
        loop {
            look.tick().await;
            let mut bench = self.bench.lock().await;
            let Some(number) = bench.running.as_ref().filter(|now| now.absent.is_some()).map(|now| now.number) else {
                continue;
            };
            let equipment = bench.equipment(&self.own);
            let Ok(Some(logbook)) = equipment.logbook(false).await else { continue };
            let Ok(open) = SetupHandle::find(logbook, Some(number)).await else { continue };
            let Ok(sensors) = equipment.sensors(open.logbook(), &open.setup().head).await else { continue };
            self.clear(&mut bench).await;
            let Ok(open) = SetupHandle::find(open.logbook().clone(), Some(number)).await else { continue };
            let options = SessionOptions { demo: equipment.is_simulated(), absent: None };
            let (conductor, task) = start_session(sensors.0, sensors.1, open, options);
            self.current.send_replace(Some(conductor));
            bench.running = Some(Running { number, task, absent: None });
        }
    }

    /// Ends everything: the raw log of a session is complete once this has returned.
    pub async fn end(&self) {
        let mut bench = self.bench.lock().await;
        bench.leave_tumble().await;
        self.clear(&mut bench).await;
        bench.simulated = None;
    }
}

/// A setup that is to be begun.
struct Wanted {
    head: String,
    reason: String,
    measured_by: String,
    after: Option<Adjustment>,
    blades_off: bool,
    close: Option<u32>,
}

impl Bench {
    fn equipment(&self, own: &Arc<dyn Equipment>) -> Arc<dyn Equipment> {
        self.simulated.clone().unwrap_or_else(|| own.clone())
    }

    async fn leave_tumble(&mut self) {
        if let Some(tumbling) = self.tumbling.take() {
            tumbling.end().await;
        }
    }

    fn runs(&self, number: u32) -> bool {
        self.running.as_ref().is_some_and(|running| running.number == number)
    }
}

/// The head of a setup on the bench, by its name.
pub(crate) fn slug(name: &str) -> String {
    let plain = |letter: char| if letter.is_alphanumeric() { letter.to_ascii_lowercase() } else { '-' };
    let text: String = name.chars().map(plain).collect();
    let text = text.trim_matches('-');
    if text.is_empty() { "head".to_owned() } else { text.to_owned() }
}

/// Where a head's description is kept.
pub(crate) fn head_file(folder: &Path, head: &Head) -> std::path::PathBuf {
    folder.join(format!("{}.toml", slug(&head.name)))
}
