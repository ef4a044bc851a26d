//! What a workshop works with: a logbook, and sensors that are opened for a head.

use crate::Instrument;
use crate::conductor::Sensor;
use crate::logbook::Logbook;
use crate::record::{Adjustment, Head};
use crate::rotor::Datum;
use crate::stream::ports::{self, PortReport};
use crate::stream::{Options, Origin, Profile, SampleStream, Source};
use crate::words::{Face, Say, workshop as words};
use std::fmt::Debug;
use std::path::PathBuf;
use std::pin::Pin;
use std::sync::Arc;
use tokio::sync::{mpsc, oneshot};

/// A line for the simulated hands, and the place for what the head answers.
pub type HandLine = (String, oneshot::Sender<Result<String, String>>);

/// What is answered later.
pub type Answer<'a, T> = Pin<Box<dyn Future<Output = T> + Send + 'a>>;

/// The first sensor, and the others where each blade carries one of its own.
pub type Sensors = (Sensor, Vec<Sensor>);

/// Why there is no sensor.
#[derive(Debug, Clone, thiserror::Error)]
pub enum EquipmentError {
    /// Nothing comes from its port.
    #[error("silent: {0}")]
    Silent(String),
    /// There is none.
    #[error("none: {0}")]
    None(String),
    /// It cannot be told which one is meant.
    #[error("several: {0}")]
    Several(String),
    /// It cannot be opened, or read.
    #[error("refused: {0}")]
    Refused(String),
}

impl Say for EquipmentError {
    fn say(&self, _: Face) -> String {
        let (Self::Silent(said) | Self::None(said) | Self::Several(said) | Self::Refused(said)) = self;
        said.clone()
    }
}

/// A sensor without its calibration.
#[derive(Debug)]
pub struct Bare {
    /// Its stream.
    pub stream: SampleStream,
    /// What to open again when it breaks.
    pub source: Option<Source>,
    /// How its stream is to be understood.
    pub instrument: Instrument,
}

/// What a workshop works with.
pub trait Equipment: Send + Sync + Debug {
    /// The logbook, where there is one; with `begin` it is begun.
    fn logbook(&self, begin: bool) -> Answer<'_, Result<Option<Logbook>, EquipmentError>>;

    /// Opens the sensors for a head.
    fn sensors<'a>(&'a self, logbook: &'a Logbook, head: &'a Head) -> Answer<'a, Result<Sensors, EquipmentError>>;

    /// Opens the sensor without any calibration: nothing that was found before may colour what is found now.
    fn bare<'a>(&'a self, logbook: &'a Logbook) -> Answer<'a, Result<Bare, EquipmentError>>;

    /// Which source would be opened, and why none: found without opening one that is in use.
    fn source<'a>(&'a self, logbook: Option<&'a Logbook>) -> Answer<'a, Result<String, EquipmentError>>;

    /// Makes this port the default sensor's.
    fn use_port<'a>(&'a self, port: &'a str) -> Answer<'a, Result<(), EquipmentError>>;

    /// The ports that are there.
    fn ports(&self) -> Vec<PortReport> {
        ports::list()
    }

    /// The folder of the descriptions.
    fn heads(&self) -> Option<PathBuf>;

    /// Sets the simulated head up beside it.
    fn simulate(&self) -> Answer<'_, Result<Arc<dyn Equipment>, EquipmentError>>;

    /// Whether it is the simulated head.
    fn is_simulated(&self) -> bool {
        false
    }

    /// The hands of the simulated head.
    fn hands(&self) -> Option<mpsc::Sender<HandLine>> {
        None
    }

    /// Turns what the person has turned, where the head is a simulated one.
    fn turn(&self, _: Adjustment) -> Answer<'_, ()> {
        Box::pin(async {})
    }

    /// The zero that its sensor was given before it came to the bench.
    fn zero(&self) -> Option<Datum> {
        None
    }
}

/// What a single session is served with.
#[derive(Debug)]
pub(super) struct Nothing(pub Option<mpsc::Sender<HandLine>>);

fn nothing<T: Send + 'static>() -> Answer<'static, Result<T, EquipmentError>> {
    Box::pin(async { Err(EquipmentError::None(words::NO_SENSOR.to_owned())) })
}

impl Equipment for Nothing {
    fn logbook(&self, _: bool) -> Answer<'_, Result<Option<Logbook>, EquipmentError>> {
        Box::pin(async { Ok(None) })
    }

    fn sensors<'a>(&'a self, _: &'a Logbook, _: &'a Head) -> Answer<'a, Result<Sensors, EquipmentError>> {
        nothing()
    }

    fn bare<'a>(&'a self, _: &'a Logbook) -> Answer<'a, Result<Bare, EquipmentError>> {
        nothing()
    }

    fn source<'a>(&'a self, _: Option<&'a Logbook>) -> Answer<'a, Result<String, EquipmentError>> {
        nothing()
    }

    fn use_port<'a>(&'a self, _: &'a str) -> Answer<'a, Result<(), EquipmentError>> {
        nothing()
    }

    fn heads(&self) -> Option<PathBuf> {
        None
    }

    fn simulate(&self) -> Answer<'_, Result<Arc<dyn Equipment>, EquipmentError>> {
        nothing()
    }

    fn hands(&self) -> Option<mpsc::Sender<HandLine>> {
        self.0.clone()
    }
}

/// The place of a sensor that is not there: it sends nothing, and is over at once.
pub(super) fn absent(head: &Head) -> Result<Sensors, EquipmentError> {
    let profile = Profile::sentence();
    let origin = Origin::Log(words::NO_SENSOR_NAME.to_owned());
    let stream = SampleStream::from_reader(origin, tokio::io::empty(), &profile, &Options::default());
    let stream = stream.map_err(|error| EquipmentError::Refused(error.say(Face::Page)))?;
    let instrument = Instrument::new(profile, None, head.rotation);
    Ok((Sensor { stream, instrument, plug: None, name: words::NO_SENSOR_NAME.to_owned() }, Vec::new()))
}
