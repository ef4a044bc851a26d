//! Setups: begun, listed, read, closed, opened again.

use super::columns::{self, columns};
use super::store::{Query, Write};
use super::{Damage, Logbook, LogbookError, Part, SavedDefault, document};
use crate::record::{Blades, Entry, Head, Setup};
use crate::units::Celsius;
use jiff::Timestamp;
use std::collections::HashMap;
use uuid::Uuid;

/// What is known of a setup when it is begun.
#[derive(Debug, Clone, PartialEq)]
pub struct NewSetup {
    /// The head as it is described now.
    pub head: Head,
    /// Why it is being set up.
    pub reason: String,
    /// Whether the main blades are on.
    pub blades: Blades,
    /// Temperature in the workshop.
    pub temperature: Option<Celsius>,
    /// Who measures.
    pub measured_by: Option<String>,
    /// Who checks.
    pub checked_by: Option<String>,
    /// When the cautions were acknowledged.
    pub cautions_acknowledged_at: Option<Timestamp>,
}

impl NewSetup {
    /// A setup of `head`, blades on, with nothing else known yet.
    #[must_use]
    pub fn of(head: Head) -> Self {
        Self {
            head,
            reason: String::new(),
            blades: Blades::On,
            temperature: None,
            measured_by: None,
            checked_by: None,
            cautions_acknowledged_at: None,
        }
    }
}

/// One line of the list of setups.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct SetupSummary {
    /// Its number.
    pub number: u32,
    /// The head's name.
    pub head: String,
    /// Why it was set up.
    pub reason: String,
    /// When it was begun.
    pub started_at: Timestamp,
    /// When the latest entry was made.
    pub changed_at: Timestamp,
    /// When it was closed; none while it is open.
    pub closed_at: Option<Timestamp>,
    /// When it came from another logbook; none where it was begun here.
    pub imported_at: Option<Timestamp>,
    /// How many entries it has.
    pub entries: u32,
    /// How many of them are captures.
    pub captures: u32,
}

/// A setup with all that happened in it.
#[derive(Debug, Clone, PartialEq)]
pub struct KeptSetup {
    /// The setup.
    pub setup: Setup,
    /// Its entries in order: the first is entry 1, and no number is left out.
    pub entries: Vec<Entry>,
}

/// Stands for the setup to work on after that was closed.
const NO_SETUP: &str = "none";

const NEXT_NUMBER: &str = "UPDATE counters SET setups = setups + 1 WHERE only_row = 1 RETURNING setups";
const INSERT: &str =
    "INSERT INTO setups (number, uid, head, reason, begun_at, changed_at, closed_at, document, checksum)
                      VALUES ($1, $2, $3, $4, $5, $5, $6, $7, $8)";
const UPDATE: &str =
    "UPDATE setups SET head = $2, reason = $3, begun_at = $4, closed_at = $5, document = $6, checksum = $7
                      WHERE number = $1";
const ONE: &str = "SELECT document, checksum FROM setups WHERE number = $1";
const NEWEST_OPEN: &str = "SELECT number FROM setups 
                           WHERE closed_at IS NULL AND imported_at IS NULL ORDER BY number DESC LIMIT 1";
const EXISTS: &str = "SELECT number FROM setups WHERE number = $1";
const ENTRIES: &str = "SELECT document, checksum FROM entries WHERE setup = $1 ORDER BY number";
const LIST: &str = concat!("SELECT ", columns!(), " FROM setups ORDER BY number DESC LIMIT $1");
/// The newest setups of a head, newest first. Those that were begun here follow each other by their numbers, whatever the
/// clock said: one that was set back makes nothing older. One that came from another logbook stands where its time puts it.
macro_rules! of_head {
    ($($columns:tt)+) => {
        concat!(
            "SELECT ",
            $($columns)+,
            " FROM
             (SELECT setups.*, CASE WHEN imported_at IS NULL
                               THEN max(CASE WHEN imported_at IS NULL THEN begun_at END) OVER (ORDER BY number)
                               ELSE begun_at END AS place
              FROM setups WHERE head = $2) AS of_head
             ORDER BY place DESC, number DESC LIMIT $1"
        )
    };
}

const LIST_OF_HEAD: &str = of_head!(columns!());
const OF_HEAD: &str = of_head!("number, document, checksum");
const ENTRIES_OF_HEAD: &str = concat!(
    "SELECT entries.setup, entries.document, entries.checksum FROM entries JOIN (",
    of_head!("number"),
    ") AS wanted ON wanted.number = entries.setup ORDER BY entries.setup, entries.number"
);

impl Logbook {
    /// Begins a setup now and gives it the next number. Commands work on it from here on.
    ///
    /// # Errors
    /// When the logbook cannot be written.
    pub async fn new_setup(&self, new: NewSetup) -> Result<Setup, LogbookError> {
        let mut write = self.store.begin().await?;
        let number = self.next_number(&mut write).await?;
        let setup = Setup {
            id: Uuid::now_v7(),
            number,
            head: new.head,
            started_at: Timestamp::now(),
            closed_at: None,
            reason: new.reason,
            blades: new.blades,
            temperature: new.temperature,
            measured_by: new.measured_by,
            checked_by: new.checked_by,
            cautions_acknowledged_at: new.cautions_acknowledged_at,
            amendments: Vec::new(),
            edited: false,
        };
        self.insert_setup(&mut write, &setup).await?;
        // In a shared logbook others begin setups too: there the newest is not this bench's.
        let chosen = self.is_shared().then(|| number.to_string());
        self.write_default(&mut write, SavedDefault::Setup, chosen.as_deref()).await?;
        write.commit().await?;
        self.remember_default(SavedDefault::Setup, chosen.as_deref());
        self.remember(&KeptSetup { setup: setup.clone(), entries: Vec::new() });
        Ok(setup)
    }

    /// Remembers on this bench a setup of a shared logbook.
    fn remember(&self, kept: &KeptSetup) {
        if let Some(known) = &self.known {
            known.remember(kept);
        }
    }

    /// The number of the next setup.
    pub(super) async fn next_number(&self, write: &mut Write) -> Result<u32, LogbookError> {
        let next = write.row::<(i64,)>(Query::new(NEXT_NUMBER)).await?;
        let (number,) = next.ok_or_else(|| self.damaged(Damage::NoCount))?;
        self.number(number)
    }

    /// Writes a setup that has no entries yet.
    pub(super) async fn insert_setup(&self, write: &mut Write, setup: &Setup) -> Result<(), LogbookError> {
        let text = document::write(setup, "setup")?;
        let insert = Query::new(INSERT)
            .with(setup.number)
            .with(setup.id.to_string())
            .with(setup.head.name.as_str())
            .with(setup.reason.as_str())
            .with(setup.started_at.as_microsecond())
            .with(setup.closed_at.map(Timestamp::as_microsecond))
            .with(text.as_str())
            .with(document::checksum(text.as_bytes()));
        write.execute(insert).await?;
        self.seal_columns(write, setup.number).await
    }

    /// Closes a setup as [`Self::close_setup`] does. Where commands worked on it, they work on none until one is begun or
    /// opened again: an older one that was left open is not taken for it.
    ///
    /// # Errors
    /// When there is no setup of that number, or something of it still waits.
    pub async fn close_and_leave(&self, number: u32, at: Timestamp) -> Result<Setup, LogbookError> {
        let worked_on = self.open_setup().await.is_ok_and(|open| open.number == number);
        let closed = self.close_setup(number, at).await?;
        if worked_on {
            self.save(SavedDefault::Setup, Some(NO_SETUP)).await?;
        }
        Ok(closed)
    }

    /// The setup that commands work on: the one that was chosen, while it is open; else, where none was closed since, the
    /// newest open one that was begun here.
    ///
    /// # Errors
    /// When no setup is open.
    pub async fn open_setup(&self) -> Result<Setup, LogbookError> {
        if self.saved(SavedDefault::Setup).await?.as_deref() == Some(NO_SETUP) {
            return Err(LogbookError::NoOpenSetup);
        }
        if let Some(chosen) = self.chosen_setup().await? {
            return Ok(chosen);
        }
        if self.is_shared() {
            return Err(LogbookError::NoOpenSetup);
        }
        let (newest,) = self.store.row(Query::new(NEWEST_OPEN)).await?.ok_or(LogbookError::NoOpenSetup)?;
        self.setup(self.number(newest)?).await
    }

    async fn chosen_setup(&self) -> Result<Option<Setup>, LogbookError> {
        let Some(number) = self.saved(SavedDefault::Setup).await?.and_then(|text| text.parse().ok()) else {
            return Ok(None);
        };
        match self.setup(number).await {
            Ok(setup) => Ok(Some(setup).filter(|setup| setup.closed_at.is_none())),
            Err(LogbookError::NoSetup(_)) => Ok(None),
            Err(error) => Err(error),
        }
    }

    /// A setup without its entries.
    ///
    /// # Errors
    /// When there is no setup of that number.
    pub async fn setup(&self, number: u32) -> Result<Setup, LogbookError> {
        match self.store.row::<document::Text>(Query::new(ONE).with(number)).await {
            Ok(found) => document::read(&found.ok_or(LogbookError::NoSetup(number))?, Part::Setup(number)),
            Err(error) => self.known_instead(number, error).map(|kept| kept.setup),
        }
    }

    /// What this bench knows of a setup while the server says nothing.
    fn known_instead(&self, number: u32, error: LogbookError) -> Result<KeptSetup, LogbookError> {
        if error.is_the_servers() { self.known_setup(number).ok_or(error) } else { Err(error) }
    }

    /// A setup with its entries in order.
    ///
    /// # Errors
    /// When there is no setup of that number, or one of its entries cannot be understood.
    pub async fn setup_with_entries(&self, number: u32) -> Result<KeptSetup, LogbookError> {
        let setup = self.setup(number).await?;
        match self.store.rows::<document::Text>(Query::new(ENTRIES).with(number)).await {
            Ok(texts) => {
                let kept = KeptSetup { setup, entries: entries_of(number, &texts)? };
                self.remember(&kept);
                Ok(kept)
            }
            Err(error) => self.known_instead(number, error),
        }
    }

    /// The newest setups, newest first, at most so many; those of one head where its name is given.
    ///
    /// # Errors
    /// When the logbook cannot be read.
    pub async fn setups(&self, head: Option<&str>, at_most: u32) -> Result<Vec<SetupSummary>, LogbookError> {
        let query = match head {
            Some(head) => Query::new(LIST_OF_HEAD).with(at_most).with(head),
            None => Query::new(LIST).with(at_most),
        };
        let rows: Vec<columns::Sealed> = self.store.rows(query).await?;
        rows.into_iter().map(|row| self.summary(row)).collect()
    }

    /// What `of` makes of each of the newest setups of one head with its entries, newest first, at most so many: as many
    /// questions to the database for all of them as for one. Reading them is worth more than one processor.
    ///
    /// # Errors
    /// When the logbook cannot be read, or something in it cannot be understood.
    pub async fn setups_of_head<T: Send>(
        &self,
        head: &str,
        at_most: u32,
        of: impl Fn(KeptSetup) -> T + Sync,
    ) -> Result<Vec<T>, LogbookError> {
        let asked = |sql| Query::new(sql).with(at_most).with(head);
        let setups: Vec<(i64, String, Option<i64>)> = self.store.rows(asked(OF_HEAD)).await?;
        let texts: Vec<(i64, String, Option<i64>)> = self.store.rows(asked(ENTRIES_OF_HEAD)).await?;
        let mut entries: HashMap<i64, Vec<document::Text>> = HashMap::new();
        for (setup, text, recorded) in texts {
            entries.entry(setup).or_default().push((text, recorded));
        }
        let of_setup = |(number, text, recorded)| {
            Ok((self.number(number)?, (text, recorded), entries.remove(&number).unwrap_or_default()))
        };
        let texts = setups.into_iter().map(of_setup).collect::<Result<Vec<_>, LogbookError>>()?;
        side_by_side(texts, |(number, setup, entries)| understood(*number, setup, entries).map(&of))
            .into_iter()
            .collect()
    }

    fn summary(&self, row: columns::Sealed) -> Result<SetupSummary, LogbookError> {
        let part = |number| Part::Listed(u32::try_from(number).unwrap_or_default());
        let (number, head, reason, begun_at, changed_at, closed_at, imported_at, entries, captures) =
            columns::unaltered(row, part)?;
        Ok(SetupSummary {
            number: self.number(number)?,
            head,
            reason,
            started_at: self.time(begun_at)?,
            changed_at: self.time(changed_at)?,
            closed_at: closed_at.map(|at| self.time(at)).transpose()?,
            imported_at: imported_at.map(|at| self.time(at)).transpose()?,
            entries: self.number(entries)?,
            captures: self.number(captures)?,
        })
    }

    /// Changes details of a setup (who checked, the cautions, the temperature) as they stand in the logbook at that moment, and
    /// keeps what they replace. Which setup it is, and whether it is closed, is not changed by this.
    ///
    /// # Errors
    /// When there is no setup of that number.
    pub async fn amend_setup(&self, number: u32, amend: impl FnOnce(&mut Setup)) -> Result<Setup, LogbookError> {
        self.change_setup(number, |setup| {
            let before = setup.clone();
            amend(setup);
            (setup.id, setup.number, setup.closed_at) = (before.id, before.number, before.closed_at);
            (setup.amendments, setup.edited) = (before.amendments.clone(), before.edited);
            setup.keep_replaced(&before, Timestamp::now());
        })
        .await
    }

    /// Opens a setup again where it was closed. Commands work on it from here on.
    ///
    /// # Errors
    /// When there is no setup of that number.
    pub async fn reopen_setup(&self, number: u32) -> Result<Setup, LogbookError> {
        let mut write = self.store.begin().await?;
        let setup = self.rewrite(&mut write, number, |setup| setup.closed_at = None).await?;
        let chosen = number.to_string();
        self.write_default(&mut write, SavedDefault::Setup, Some(&chosen)).await?;
        write.commit().await?;
        self.remember_default(SavedDefault::Setup, Some(&chosen));
        Ok(setup)
    }

    pub(super) async fn change_setup(
        &self,
        number: u32,
        change: impl FnOnce(&mut Setup),
    ) -> Result<Setup, LogbookError> {
        let mut write = self.store.begin().await?;
        let setup = self.rewrite(&mut write, number, change).await?;
        write.commit().await?;
        Ok(setup)
    }

    /// Reads the setup, changes it and writes it back, columns and document together.
    async fn rewrite(
        &self,
        write: &mut Write,
        number: u32,
        change: impl FnOnce(&mut Setup),
    ) -> Result<Setup, LogbookError> {
        let found = write.row::<document::Text>(Query::new(ONE).with(number)).await?;
        let text = found.ok_or(LogbookError::NoSetup(number))?;
        let mut setup: Setup = document::read(&text, Part::Setup(number))?;
        change(&mut setup);
        let text = document::write(&setup, "setup")?;
        let hold = self.columns_hold(write, number).await?;
        let update = Query::new(UPDATE)
            .with(number)
            .with(setup.head.name.as_str())
            .with(setup.reason.as_str())
            .with(setup.started_at.as_microsecond())
            .with(setup.closed_at.map(Timestamp::as_microsecond))
            .with(text.as_str())
            .with(document::checksum(text.as_bytes()));
        write.execute(update).await?;
        if hold {
            self.seal_columns(write, number).await?;
        }
        Ok(setup)
    }

    /// Why nothing can be added to a setup: it is not there, or closed.
    pub(super) async fn why_not_open(&self, write: &mut Write, number: u32) -> LogbookError {
        match write.row::<(i64,)>(Query::new(EXISTS).with(number)).await {
            Ok(None) => LogbookError::NoSetup(number),
            Ok(Some(_)) => LogbookError::Closed(number),
            Err(error) => error,
        }
    }

    /// A number as this program counts.
    pub(super) fn number(&self, number: i64) -> Result<u32, LogbookError> {
        u32::try_from(number).map_err(|_| self.damaged(Damage::Number(number)))
    }

    fn time(&self, microseconds: i64) -> Result<Timestamp, LogbookError> {
        Timestamp::from_microsecond(microseconds).map_err(|_| self.damaged(Damage::Time(microseconds)))
    }

    fn damaged(&self, damage: Damage) -> LogbookError {
        LogbookError::Damaged { site: self.store.site(), damage }
    }
}

/// A setup and its entries, from what is kept of them.
fn understood(number: u32, setup: &document::Text, entries: &[document::Text]) -> Result<KeptSetup, LogbookError> {
    let setup = document::read(setup, Part::Setup(number))?;
    Ok(KeptSetup { setup, entries: entries_of(number, entries)? })
}

fn entries_of(setup: u32, texts: &[document::Text]) -> Result<Vec<Entry>, LogbookError> {
    (1..).zip(texts).map(|(number, text)| document::read(text, Part::Entry { setup, number })).collect()
}

/// Does the same with each thing, on as many processors as there are; what comes of it is in the order of the things.
fn side_by_side<I: Sync, O: Send>(things: Vec<I>, of: impl Fn(&I) -> O + Sync) -> Vec<O> {
    let processors = std::thread::available_parallelism().map_or(1, usize::from);
    let share = things.len().div_ceil(processors).max(1);
    let each = |things: &[I]| things.iter().map(&of).collect::<Vec<O>>();
    std::thread::scope(|scope| {
        let mut pieces = things.chunks(share);
        let first = pieces.next().unwrap_or_default();
        let others: Vec<_> = pieces.map(|piece| scope.spawn(move || each(piece))).collect();
        let mut done = each(first);
        for other in others {
            // Whoever panicked there panics here: nothing is left out in silence.
            done.extend(other.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)));
        }
        done
    })
}
