//! What the conductor keeps besides captures: the pull of the cable, and what every direction reached once more.

use super::run::Run;
use crate::bench::Taken;
use crate::guide::{Cue, Rest, pitch};
use crate::record::{CableCheck, CellName, Event};
use crate::rotor::Spot;
use crate::units::Angle;

/// The blade with the cable lifted.
#[derive(Debug, Clone, Copy)]
pub(super) struct Lifted {
    angle: Angle,
    u: Angle,
}

impl Run {
    /// The blade with the cable lifted, and then with the cable hanging: together a cell of the record.
    pub(super) async fn cable(&mut self, lifted: bool, taken: &Taken, rest: Rest) {
        let Some(seat) = self.guide.seat() else { return };
        let Spot::Main(station) = seat.spot else { return };
        let (angle, u) = (pitch(rest.at, seat.spot), taken.steady.repeat);
        if lifted {
            self.lifted = Some(Lifted { angle, u });
            return;
        }
        let Some(before) = self.lifted.take() else { return };
        let check =
            CableCheck { blade: seat.blade, station, lifted: before.angle, slack: angle, u_repeat: u.hypot(before.u) };
        let done = self.open.happened(Event::Cable { check }).await;
        self.report(done);
        let record = self.open.record();
        if let Some(cell) = record.cell(CellName::Cable).filter(|cell| !cell.verdict.is_good()) {
            let _ = self.desk.cues.send(Cue::say(cell.consequence.clone()));
        }
    }

    /// Says which directions did not come as far as they should.
    pub(super) fn say_swept(&self) {
        let record = self.open.record();
        for end in record.swept.iter().filter(|end| !end.is_good()) {
            let _ = self.desk.cues.send(Cue::say(end.to_string()));
        }
    }
}
