//! What the conductor keeps besides captures: the pull of the cable, and what every direction reached once more.

use super::Cue;
use super::run::Run;
use crate::Taken;
use crate::guide::{RecordEdit, Rest, pitch};
use crate::logbook::LogbookError;
use crate::record::{CableCheck, CellName, Event};
use crate::rotor::Spot;
use crate::units::Angle;
use crate::words::{self, Face, Say};
use jiff::Timestamp;

/// The blade with the cable lifted.
#[derive(Debug, Clone, Copy)]
pub(super) struct Lifted {
    angle: Angle,
    u: Angle,
}

impl Run {
    /// Keeps what was done, where that is on a disk once this has returned.
    pub(super) async fn keep_edit(
        &mut self,
        edit: &RecordEdit,
        at: Option<(&Taken, Rest)>,
    ) -> Result<(), LogbookError> {
        match *edit {
            RecordEdit::CautionsRead => self.open.acknowledge(Timestamp::now()).await,
            RecordEdit::Cable => self.cable(at).await,
            RecordEdit::Swept(ref sweep) => {
                self.open.happened(Event::Swept { sweep: sweep.clone() }).await?;
                self.say_swept();
                Ok(())
            }
            RecordEdit::Withdraw(capture) => {
                let reason = words::bench::WITHDRAWN.to_owned();
                self.open.happened(Event::Withdrawn { capture, reason }).await
            }
            RecordEdit::LeftOut(cell) => {
                let reason = words::bench::LEFT_OUT.to_owned();
                self.open.happened(Event::Skipped { cell, reason }).await
            }
            RecordEdit::Finish => self.open.close().await,
        }
    }

    /// The blade with the cable lifted.
    pub(super) fn cable_lifted(&mut self, at: Option<(&Taken, Rest)>) {
        if let (Some(seat), Some((taken, rest))) = (self.guide.seat(), at) {
            self.lifted = Some(Lifted { angle: pitch(rest.at, seat.spot), u: taken.steady.repeat });
        }
    }

    /// The same with the cable hanging: together a cell of the record.
    async fn cable(&mut self, at: Option<(&Taken, Rest)>) -> Result<(), LogbookError> {
        let (Some(seat), Some((taken, rest)), Some(before)) = (self.guide.seat(), at, self.lifted) else {
            return Ok(());
        };
        let Spot::Main(station) = seat.spot else { return Ok(()) };
        let (slack, u_repeat) = (pitch(rest.at, seat.spot), taken.steady.repeat.hypot(before.u));
        let check = CableCheck { blade: seat.blade, station, lifted: before.angle, slack, u_repeat };
        self.open.happened(Event::Cable { check }).await?;
        self.lifted = None;
        let record = self.open.record();
        if let Some(cell) = record.cell(CellName::Cable).filter(|cell| !cell.verdict.is_good()) {
            let said = words::record::consequence(cell, Face::Voice).unwrap_or_default();
            let _ = self.publisher.cues.send(Cue::say(said));
        }
        Ok(())
    }

    /// Says which directions did not come as far as they should.
    fn say_swept(&self) {
        let record = self.open.record();
        for end in record.swept.iter().filter(|end| !end.is_good()) {
            let _ = self.publisher.cues.send(Cue::say(end.say(Face::Voice)));
        }
    }
}
