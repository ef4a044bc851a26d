//! The setup that is being measured: its entries so far, and the only way in which new ones get into the logbook.
//!
//! A capture is made in two steps. A [`Draft`] is worked out from what was read and shows what the record would say with
//! it; only then is it kept, in one transaction. So a contradiction can be asked about before anything is recorded, and a
//! capture is never half written.

use super::{Circumstances, EvaluateError, Instrument, Taken, evaluate};
use crate::logbook::{Kept, Logbook, LogbookError, has_blade};
use crate::record::{
    Adjustment, Answered, Approach, BindSign, Capture, Cell, CellFinding, DatumRef, Entry, EntryError, Event,
    InQuestion, LimitRecord, LimitedBy, Question, RawSamples, SensorIdentity, Setup, Subject, Undecided, Verdict,
    neutral_question, next_seat,
};
use crate::rotor::{Carrier, Clip, Datum, Place};
use crate::units::{Celsius, Percent};
use jiff::Timestamp;
use uuid::Uuid;

/// What is to be captured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Order {
    /// What is deflected, on which blade, where.
    pub subject: Subject,
    /// Which way the clip sits.
    pub clip: Clip,
    /// Where the stick stands.
    pub stick: Percent,
    /// Whether the person has said so; else it is taken to stand at the end or centre that is named.
    pub stick_said: bool,
    /// What limits the travel.
    pub limited_by: LimitedBy,
    /// From which side the stick came, where the person says so.
    pub approach: Option<Approach>,
    /// Whether the clip was put on again since the last capture.
    pub reseated: bool,
}

/// A capture that is not kept yet, with the record as it would be.
#[derive(Debug, Clone)]
pub struct Draft {
    /// The capture.
    pub capture: Capture,
    /// The record with it; without it when the reading was not steady.
    pub record: LimitRecord,
    entry: Result<Entry, EntryError>,
    raw: RawSamples,
    /// What is asked about it as a neutral, or about its neutral.
    neutral: Option<Question>,
}

impl Draft {
    /// The cell in which it would stand.
    #[must_use]
    pub fn cell(&self) -> Option<&Cell> {
        self.record.cell_with(&self.capture)
    }

    /// What to ask before it is kept.
    #[must_use]
    pub fn question(&self) -> Option<Question> {
        self.neutral.clone().or_else(|| self.cell()?.question.clone())
    }

    /// What saying that it is right as it was read would answer next.
    fn answerable(&self) -> Option<Answered> {
        let of_corner = || match (&self.cell()?.verdict, &self.cell()?.consequence) {
            (Verdict::Undecided { by: Undecided::DoesItBind }, _) => Some(Answered::FallsShort),
            (_, Some(CellFinding::CornerBinds { sign: BindSign::Buzz { .. }, .. })) => Some(Answered::Buzzes),
            _ => None,
        };
        self.doubt().as_ref().and_then(Question::answer).or_else(of_corner)
    }

    /// The same for somebody who stands beside the model: also what would put its end in question by this capture alone.
    #[must_use]
    pub fn doubt(&self) -> Option<Question> {
        let by_itself = |because: &&InQuestion| {
            matches!(because, InQuestion::Buzzes { .. } | InQuestion::PastBind { .. })
                && because.answer().is_some_and(|doubt| !self.capture.answers(doubt))
                && !self.capture.subject.deflection().is_neutral()
        };
        let doubted = || match &self.cell()?.verdict {
            Verdict::InQuestion { because } => {
                because.iter().find(by_itself).map(|because| Question::Doubted { because: *because })
            }
            _ => None,
        };
        self.question().or_else(doubted)
    }
}

/// A setup with everything that happened in it, open for more.
#[derive(Debug, Clone)]
pub struct SetupHandle {
    logbook: Logbook,
    setup: Setup,
    entries: Vec<Entry>,
}

impl SetupHandle {
    /// The setup of this number, else the one that commands work on.
    ///
    /// # Errors
    /// When there is none, or the logbook cannot be read.
    pub async fn find(logbook: Logbook, number: Option<u32>) -> Result<Self, LogbookError> {
        let number = match number {
            Some(number) => number,
            None => logbook.open_setup().await?.number,
        };
        let kept = logbook.setup_with_entries(number).await?;
        Ok(Self { logbook, setup: kept.setup, entries: kept.entries })
    }

    /// The same, refused when the setup is closed.
    ///
    /// # Errors
    /// As [`Self::find`], and when the setup is closed: nothing is added to a closed one.
    pub async fn find_to_write(logbook: Logbook, number: Option<u32>) -> Result<Self, LogbookError> {
        let open = Self::find(logbook, number).await?;
        if open.setup.closed_at.is_some() { Err(LogbookError::Closed(open.setup.number)) } else { Ok(open) }
    }

    /// The logbook it is kept in.
    #[must_use]
    pub const fn logbook(&self) -> &Logbook {
        &self.logbook
    }

    /// Who, when, why, and the head.
    #[must_use]
    pub const fn setup(&self) -> &Setup {
        &self.setup
    }

    /// What happened so far, in order.
    #[must_use]
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// The limit record as it stands.
    #[must_use]
    pub fn record(&self) -> LimitRecord {
        LimitRecord::new(&self.setup.head, &self.entries)
    }

    /// The datum in force for the sensor of `carrier` (the only one: none): its newest, else gravity since the setup began.
    #[must_use]
    pub fn datum(&self, carrier: Option<Carrier>) -> DatumRef {
        let set = self.datums().rev().find(|datum| datum.carrier == carrier);
        set.copied().unwrap_or(DatumRef {
            id: Uuid::nil(),
            set_at: self.setup.started_at,
            datum: Datum::Gravity,
            temperature: None,
            seat: None,
            carrier,
        })
    }

    /// The datum that was set last, whichever sensor's; else gravity since the setup began.
    #[must_use]
    pub fn newest_datum(&self) -> DatumRef {
        let carrier = self.datums().next_back().and_then(|datum| datum.carrier);
        self.datum(carrier)
    }

    /// The blades whose sensors have a datum of their own.
    #[must_use]
    pub fn carriers(&self) -> Vec<Carrier> {
        let mut found: Vec<Carrier> = self.datums().filter_map(|datum| datum.carrier).collect();
        found.sort_unstable();
        found.dedup();
        found
    }

    fn datums(&self) -> impl DoubleEndedIterator<Item = &DatumRef> {
        self.entries.iter().filter_map(|entry| match &entry.event {
            Event::Datum { datum } => Some(datum),
            _ => None,
        })
    }

    /// The captures so far, in order.
    pub fn captures(&self) -> impl DoubleEndedIterator<Item = &Capture> {
        self.entries.iter().filter_map(|entry| match &entry.event {
            Event::Capture(capture) => Some(capture.as_ref()),
            _ => None,
        })
    }

    /// The captures so far, in order, each with its newest reading: what was kept of a `recompute`, else its first.
    #[must_use]
    pub fn newest_readings(&self) -> Vec<&Capture> {
        let anew: Vec<&Capture> = self
            .entries
            .iter()
            .rev()
            .filter_map(|entry| match &entry.event {
                Event::Recomputed { captures, .. } => Some(captures),
                _ => None,
            })
            .flatten()
            .collect();
        self.captures().map(|first| anew.iter().find(|c| c.id == first.id).copied().unwrap_or(first)).collect()
    }

    /// Works out the capture that a reading makes. Nothing is recorded.
    ///
    /// # Errors
    /// When the head has no such blade, gravity cannot show the angle, the datum does not hold there, or the tail blade stands
    /// the other way.
    pub fn draft(
        &self,
        order: &Order,
        taken: &Taken,
        instrument: &Instrument,
        port: &str,
    ) -> Result<Draft, EvaluateError> {
        let carrier = instrument.carrier;
        self.has_blade(order.subject)?;
        let (subject, clip, datum) = (order.subject, order.clip, self.datum(carrier));
        let seat = next_seat(&self.entries, carrier, subject.place(clip), order.reseated);
        let at = Circumstances {
            place: Some(Place { blade: subject.blade(), spot: subject.spot(), clip }),
            clip,
            datum: datum.datum,
            datum_temperature: datum.temperature,
            on_the_datums_seat: datum.seat == Some(seat),
        };
        let capture = Capture {
            id: Uuid::now_v7(),
            taken_at: Timestamp::now(),
            subject,
            clip,
            seat,
            stick: order.stick,
            stick_said: order.stick_said,
            limited_by: order.limited_by,
            approach: order.approach,
            reading: evaluate(taken, instrument, &at)?,
            accepted: false,
            answered: Vec::new(),
            datum,
            sensor: SensorIdentity {
                profile: instrument.profile.name().to_owned(),
                port: port.to_owned(),
                calibration: instrument.calibration_name(),
                carrier,
                calibrated_on: instrument.calibration.made_on,
            },
        };
        let raw = RawSamples { counts_per_g: instrument.profile.counts_per_g(), samples: taken.samples.clone() };
        Ok(self.drafted(capture, raw))
    }

    /// What is read on a blade that the head does not have is a slip of the pen: no logbook would take it over.
    fn has_blade(&self, subject: Subject) -> Result<(), EvaluateError> {
        let head = &self.setup.head;
        if has_blade(head, subject) {
            return Ok(());
        }
        let blades = if matches!(subject, Subject::Tail { .. }) { head.tail.blades } else { head.blades };
        Err(EvaluateError::NoBlade { head: head.name.clone(), blade: subject.blade(), blades: blades.get() })
    }

    /// The draft with everything answered that is asked about it: it is right as it was read. What is not asked stays open.
    #[must_use]
    pub fn accepted(&self, mut draft: Draft) -> Draft {
        while let Some(doubt) = draft.answerable().filter(|doubt| !draft.capture.answered.contains(doubt)) {
            let mut capture = draft.capture;
            capture.accepted = true;
            capture.answered.push(doubt);
            draft = self.drafted(capture, draft.raw);
        }
        draft
    }

    fn drafted(&self, capture: Capture, raw: RawSamples) -> Draft {
        let entry = Entry::capture(capture.clone());
        let entries: Vec<Entry> = self.entries.iter().cloned().chain(entry.clone().ok()).collect();
        let record = LimitRecord::new(&self.setup.head, &entries);
        let neutral = neutral_question(&self.setup.head, &entries, &capture);
        Draft { capture, record, entry, raw, neutral }
    }

    /// Keeps a draft: when this has returned, the capture is on a disk, that of the logbook or, while a shared one cannot be
    /// reached, that of this bench.
    ///
    /// # Errors
    /// When the reading was not steady, or the logbook cannot be written; nothing of it is there then.
    pub async fn keep(&mut self, draft: Draft) -> Result<Kept, KeepError> {
        Ok(self.append(draft.entry?, Some(&draft.raw)).await?)
    }

    /// Sets what zero means from here on, for the sensor of `carrier` where there are several.
    ///
    /// # Errors
    /// When the logbook cannot be written.
    pub async fn set_zero(
        &mut self,
        datum: Datum,
        temperature: Option<Celsius>,
        carrier: Option<Carrier>,
    ) -> Result<DatumRef, LogbookError> {
        let seat = match datum {
            Datum::Neutral { place, .. } => Some(next_seat(&self.entries, carrier, place, false)),
            _ => None,
        };
        let datum = DatumRef { id: Uuid::now_v7(), set_at: Timestamp::now(), datum, temperature, seat, carrier };
        self.append(Entry { id: datum.id, at: datum.set_at, event: Event::Datum { datum } }, None).await?;
        Ok(datum)
    }

    /// Takes over a zero that was set in an earlier setup, with its age and temperature.
    ///
    /// # Errors
    /// When the logbook cannot be written.
    pub async fn take_over(&mut self, zero: DatumRef) -> Result<DatumRef, LogbookError> {
        let datum = DatumRef { id: Uuid::now_v7(), seat: None, ..zero };
        self.happened(Event::Datum { datum }).await?;
        Ok(datum)
    }

    /// Records what was turned.
    ///
    /// # Errors
    /// When the logbook cannot be written.
    pub async fn adjust(&mut self, adjustment: Adjustment, note: Option<String>) -> Result<(), LogbookError> {
        self.happened(Event::Adjustment { adjustment, note }).await
    }

    /// Records anything else that happened now.
    ///
    /// # Errors
    /// When the logbook cannot be written.
    pub async fn happened(&mut self, event: Event) -> Result<(), LogbookError> {
        self.append(Entry { id: Uuid::now_v7(), at: Timestamp::now(), event }, None).await?;
        Ok(())
    }

    /// Records that the cautions were acknowledged, line by line.
    ///
    /// # Errors
    /// When the logbook cannot be written.
    pub async fn acknowledge(&mut self, at: Timestamp) -> Result<(), LogbookError> {
        self.setup = self.logbook.acknowledge(&self.setup, at).await?;
        Ok(())
    }

    /// Closes the setup: nothing is added to it any more.
    ///
    /// # Errors
    /// When the logbook cannot be written, or something of the setup still waits for it on this bench.
    pub async fn close(&mut self) -> Result<(), LogbookError> {
        self.setup = self.logbook.close_and_leave(self.setup.number, Timestamp::now()).await?;
        Ok(())
    }

    /// The same with what other programs have recorded in it meanwhile, where that can be read.
    #[must_use]
    pub async fn caught_up(self) -> Self {
        match Self::find(self.logbook.clone(), Some(self.setup.number)).await {
            // Nothing is ever taken out of a setup: where there is less, this bench knows more.
            Ok(found) if found.entries.len() >= self.entries.len() => found,
            _ => self,
        }
    }

    async fn append(&mut self, entry: Entry, raw: Option<&RawSamples>) -> Result<Kept, LogbookError> {
        let kept = self.logbook.record(self.setup.number, &entry, raw).await?;
        self.entries.push(entry);
        // Entries are numbered without a gap: another number says that another program has recorded something here.
        if let Kept::InLogbook(number) = kept
            && number as usize != self.entries.len()
            && let Ok(there) = self.logbook.setup_with_entries(self.setup.number).await
        {
            self.entries = there.entries;
        }
        Ok(kept)
    }
}

/// Why a draft was not kept.
#[derive(Debug, thiserror::Error)]
pub enum KeepError {
    /// It cannot stand as a value.
    #[error(transparent)]
    Entry(#[from] EntryError),
    /// The logbook failed.
    #[error(transparent)]
    Logbook(#[from] LogbookError),
}
