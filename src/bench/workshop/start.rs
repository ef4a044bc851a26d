//! Everything on one screen: sensor, helicopters, the open setup, the next step.

use super::{Equipment, Heads, Helicopter, LastSetup, SensorKind, SensorLine, WorkshopError};
use crate::SetupHandle;
use crate::logbook::{Logbook, LogbookError};
use crate::words::workshop as words;
use serde::Serialize;

/// What to do next.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Next {
    /// Describe a helicopter.
    NewHelicopter,
    /// Begin a setup.
    Begin,
    /// Go on with the open one.
    GoOn,
    /// Close it.
    Close,
    /// Plug the sensor in.
    Sensor,
}

/// The setup that is open.
#[derive(Debug, Clone, Serialize)]
pub struct OpenSetup {
    /// Its helicopter.
    pub head: String,
    /// How it stands.
    #[serde(flatten)]
    pub stands: LastSetup,
    /// Whether it is on the bench, its session running.
    pub on_bench: bool,
}

/// The state.
#[derive(Debug, Clone, Serialize)]
pub struct State {
    /// Whether the head is the simulated one.
    pub simulated: bool,
    /// The sensor.
    pub sensor: SensorLine,
    /// The helicopters.
    pub helicopters: Vec<Helicopter>,
    /// The open setup.
    pub open: Option<OpenSetup>,
    /// What to do next.
    pub next: Next,
    /// The same in words, for the page.
    pub said: String,
    /// What comes before any stick moves.
    pub cautions: String,
}

impl State {
    pub(super) async fn new(
        equipment: &dyn Equipment,
        logbook: Option<&Logbook>,
        sensor: SensorLine,
        on_bench: Option<u32>,
    ) -> Result<Self, WorkshopError> {
        let helicopters = Heads::of(equipment, logbook).await?.list(logbook).await?;
        let open = match logbook {
            Some(logbook) => match logbook.open_setup().await {
                Ok(open) => {
                    let open = SetupHandle::find(logbook.clone(), Some(open.number)).await?;
                    let head = open.setup().head.name.clone();
                    let on_bench = on_bench == Some(open.setup().number);
                    Some(OpenSetup { head, stands: LastSetup::of(&open), on_bench })
                }
                Err(LogbookError::NoOpenSetup) => None,
                Err(error) => return Err(error.into()),
            },
            None => None,
        };
        let next = match &open {
            Some(open) if open.stands.complete => Next::Close,
            Some(_) => match sensor.kind {
                SensorKind::Reading | SensorKind::Found | SensorKind::Waiting => Next::GoOn,
                _ => Next::Sensor,
            },
            None if helicopters.is_empty() => Next::NewHelicopter,
            None => Next::Begin,
        };
        let said = words::next_on_page(
            match next {
                Next::NewHelicopter => words::Todo::NewHelicopter,
                Next::Begin => words::Todo::Begin,
                Next::GoOn => words::Todo::GoOn,
                Next::Close => words::Todo::Close,
                Next::Sensor => words::Todo::Sensor,
            },
            open.as_ref().map(|open| open.stands.number),
        );
        let cautions = words::BEFORE_ANY_STICK.to_owned();
        Ok(Self { simulated: equipment.is_simulated(), sensor, helicopters, open, next, said, cautions })
    }

    /// The state without a session, for a command.
    ///
    /// # Errors
    /// When the logbook cannot be read.
    pub async fn of(equipment: &dyn Equipment) -> Result<Self, WorkshopError> {
        let logbook = equipment.logbook(false).await?;
        let sensor = SensorLine::found(equipment, logbook.as_ref()).await;
        Self::new(equipment, logbook.as_ref(), sensor, None).await
    }
}
