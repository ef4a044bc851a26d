//! Recording what must not be lost, whether the logbook can be reached or not; and closing a setup after all of it.

use super::outbox::{Outbox, Waiting, What};
use super::{KeptSetup, Location, Logbook, LogbookError, store};
use crate::record::{Entry, RawSamples, Setup};
use jiff::Timestamp;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;
use uuid::Uuid;

/// A broken line is often whole again a moment later: so many tries, so far apart.
const TRIES: u32 = 3;
const BETWEEN: Duration = Duration::from_millis(400);

/// What the log says of what does not reach the shared logbook.
const KEPT: &str = "kept on this bench until the shared logbook takes it";

/// Where an entry is now. Either way it is on a disk.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kept {
    /// In the logbook, as the entry of this number.
    InLogbook(u32),
    /// On this bench, until the shared logbook can be reached.
    OnThisBench,
}

/// What became of the entries that waited for a shared logbook.
#[derive(Debug, Clone, Default)]
pub struct Delivery {
    /// So many are in the logbook now.
    pub arrived: usize,
    /// So many still wait.
    pub waiting: usize,
    /// Those that cannot arrive as things stand.
    pub refused: Vec<Refused>,
}

/// An entry that waits and cannot arrive as things stand.
#[derive(Debug, Clone)]
pub enum Refused {
    /// Its file on this bench is damaged, and stays.
    Damaged(PathBuf),
    /// The shared logbook does not take it.
    NotTaken(Arc<LogbookError>),
}

impl Logbook {
    /// Records an entry: as [`Self::append`] does, or, when a shared logbook cannot be reached or does not take it, on this
    /// bench's own disk. From there it goes to the logbook with the next entry, when the logbook is opened next, or by
    /// [`Self::deliver`].
    ///
    /// # Errors
    /// As [`Self::append`]; what is wrong with the server is an error only when this bench's disk fails too.
    pub async fn record(&self, setup: u32, entry: &Entry, raw: Option<&RawSamples>) -> Result<Kept, LogbookError> {
        let Some(outbox) = self.outbox()? else {
            return self.append(setup, entry, raw).await.map(Kept::InLogbook);
        };
        // What waits happened before, and goes before.
        let nothing_waits = self.deliver().await?.waiting == 0;
        let mut tries = if nothing_waits { TRIES } else { 1 };
        loop {
            tries -= 1;
            match self.append(setup, entry, raw).await {
                Ok(number) => return Ok(Kept::InLogbook(number)),
                Err(error) if !error.is_the_servers() => return Err(error),
                Err(error) if tries == 0 || !error.is_out_of_reach() => {
                    tracing::info!("{error}");
                    break;
                }
                Err(_) => tokio::time::sleep(BETWEEN).await,
            }
        }
        outbox.put(&Waiting { setup, what: What::Entry(Box::new(entry.clone()), raw.cloned()) })?;
        tracing::warn!("entry: {KEPT}");
        Ok(Kept::OnThisBench)
    }

    /// Records that the cautions were acknowledged; like an entry, on this bench's own disk when a shared logbook does not take
    /// it. The setup, as it is or will be.
    ///
    /// # Errors
    /// As [`Self::record`].
    pub async fn acknowledge(&self, setup: &Setup, at: Timestamp) -> Result<Setup, LogbookError> {
        match self.amend_setup(setup.number, |setup| setup.cautions_acknowledged_at = Some(at)).await {
            Err(error) if error.is_the_servers() => {
                if let Some(outbox) = self.outbox()? {
                    outbox.put(&Waiting { setup: setup.number, what: What::Cautions(Uuid::now_v7(), at) })?;
                    tracing::warn!("cautions: {KEPT}");
                }
                Ok(Setup { cautions_acknowledged_at: Some(at), ..setup.clone() })
            }
            amended => amended,
        }
    }

    /// A setup as this bench knows it, with what waits for it here.
    pub(super) fn known_setup(&self, number: u32) -> Option<KeptSetup> {
        let mut kept = self.known.as_ref()?.setup(number)?;
        let outbox = self.outbox().ok()??;
        for file in outbox.files().ok()? {
            let Ok(Some(waiting)) = Outbox::read(&file) else { continue };
            match waiting.what {
                _ if waiting.setup != number => {}
                What::Entry(entry, _) if kept.entries.iter().any(|known| known.id == entry.id) => {}
                What::Entry(entry, _) => kept.entries.push(*entry),
                What::Cautions(_, at) => kept.setup.cautions_acknowledged_at = Some(at),
            }
        }
        Some(kept)
    }

    async fn send(&self, Waiting { setup, what }: &Waiting) -> Result<(), LogbookError> {
        match what {
            What::Entry(entry, raw) => self.append(*setup, entry, raw.as_ref()).await.map(drop),
            What::Cautions(_, at) => {
                let acknowledged = |setup: &mut Setup| {
                    setup.cautions_acknowledged_at.get_or_insert(*at);
                };
                self.amend_setup(*setup, acknowledged).await.map(drop)
            }
        }
    }

    /// Sends what waits on this bench for the shared logbook, oldest first, each once.
    ///
    /// # Errors
    /// When this bench's disk cannot be read. A logbook out of reach is no error: it waits on; nor is a damaged file, which is
    /// named and left where it is.
    pub async fn deliver(&self) -> Result<Delivery, LogbookError> {
        let mut delivery = Delivery::default();
        let Some(outbox) = self.outbox()? else { return Ok(delivery) };
        let files = outbox.files()?;
        for (done, file) in files.iter().enumerate() {
            let waiting = match Outbox::read(file) {
                Ok(Some(waiting)) => waiting,
                Ok(None) => continue,
                // One file that cannot be read must not hold the others back.
                Err(error) => {
                    tracing::info!("{error}");
                    delivery.waiting += 1;
                    delivery.refused.push(Refused::Damaged(file.clone()));
                    continue;
                }
            };
            match self.send(&waiting).await {
                Ok(()) => {
                    Outbox::remove(file)?;
                    delivery.arrived += 1;
                }
                Err(error) if error.is_out_of_reach() => {
                    delivery.waiting += files.len() - done;
                    break;
                }
                // What is refused to this bench is refused of all that waits.
                Err(error @ LogbookError::ServerRefuses { .. }) => {
                    delivery.waiting += files.len() - done;
                    delivery.refused.push(Refused::NotTaken(Arc::new(error)));
                    break;
                }
                Err(error) => {
                    delivery.waiting += 1;
                    delivery.refused.push(Refused::NotTaken(Arc::new(error)));
                }
            }
        }
        Ok(delivery)
    }

    /// Closes a setup at the given time, once everything of it that waits on this bench has arrived: into a closed setup
    /// nothing follows. One that is closed already stays as it is. A damaged entry that waits never arrives, and is not
    /// waited for.
    ///
    /// # Errors
    /// When there is no setup of that number, or something of it still waits.
    pub async fn close_setup(&self, number: u32, at: Timestamp) -> Result<Setup, LogbookError> {
        self.deliver().await?;
        match self.waiting_of(number)? {
            0 => self.change_setup(number, |setup| setup.closed_at = setup.closed_at.or(Some(at))).await,
            // Of a logbook that cannot be reached nobody knows it.
            waiting if self.setup(number).await.is_ok_and(|setup| setup.closed_at.is_some()) => {
                Err(LogbookError::ClosedElsewhere { setup: number, waiting })
            }
            waiting => Err(LogbookError::StillWaits { setup: number, waiting }),
        }
    }

    /// How many entries of one setup wait that can be read.
    fn waiting_of(&self, setup: u32) -> Result<usize, LogbookError> {
        let Some(outbox) = self.outbox()? else { return Ok(0) };
        let is_of_setup = |file: &PathBuf| matches!(Outbox::read(file), Ok(Some(waiting)) if waiting.setup == setup);
        Ok(outbox.files()?.iter().filter(|file| is_of_setup(file)).count())
    }

    /// How many entries wait on this bench for this logbook; none ever do for a file.
    ///
    /// # Errors
    /// When this bench's disk cannot be read.
    pub fn waiting(&self) -> Result<usize, LogbookError> {
        self.outbox()?.map_or(Ok(0), |outbox| Ok(outbox.files()?.len()))
    }

    /// The same of a logbook that cannot be opened now.
    ///
    /// # Errors
    /// When this bench's disk cannot be read, or the URL names no server.
    pub fn waiting_for(location: &Location) -> Result<usize, LogbookError> {
        match location {
            Location::Shared(url) => Ok(Outbox::of(&store::address(url)?)?.files()?.len()),
            Location::Own | Location::File(_) => Ok(0),
        }
    }

    fn outbox(&self) -> Result<Option<Outbox>, LogbookError> {
        self.is_shared().then(|| Outbox::of(&self.place())).transpose()
    }
}
