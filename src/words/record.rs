//! What is said of a record: its cells, findings, questions and what to turn.

use super::{Face, Say};
use clinoblade_record::trade::Caution;

impl Say for Caution {
    fn say(&self, _: Face) -> String {
        match self {
            Self::Motor => {
                "The motor is disconnected, or its pinion out of mesh. From the moment a pack is plugged in, treat the model as able to go to full power."
            }
            Self::Battery => "The electronics run on a separate battery where the model allows it.",
            Self::Clear => {
                "Fingers, hair and sleeves are clear of main and tail blades before any stick moves. No link is adjusted while servos move."
            }
            Self::Bind => "No servo is held against a bind: buzzing means back off, then record.",
            Self::Controller => "A stabilising controller is in its own setup mode, or it moves the blades by itself.",
            Self::Restrained => {
                "Eyes are protected when anything could turn or spring; the model is restrained and nobody stands in the disc."
            }
            Self::ClipOff => "Clip and cable come off before the motor is connected again.",
            Self::Manuals => {
                "The model's own manual, the controller's manual and the national rules override every number shown here."
            }
            Self::NoPermission => {
                "This program measures angles. It certifies nothing, and a cell that is inside is no permission to fly."
            }
        }
        .to_owned()
    }
}
