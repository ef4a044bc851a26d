//! What is heard and flashed by an onlooker: may be missed, is never needed.

use crate::guide::{Mark, Spoken, Tone};
use crate::units::Seconds;
use crate::words::{Face, Say};
use serde::Serialize;

/// Something for ear or eye.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Cue {
    /// A sentence to speak.
    Say {
        /// The sentence.
        say: String,
        /// What of the guide it is about; none where the record or the logbook is spoken of.
        #[serde(skip)]
        of: Option<Spoken>,
    },
    /// The tone that closes in on the target; none for silence.
    Tone {
        /// The tone.
        tone: Option<Tone>,
    },
    /// Something happened.
    Mark {
        /// What.
        mark: Mark,
        /// Where the stretch that was averaged begins, seconds on the stream's clock.
        #[serde(skip_serializing_if = "Option::is_none")]
        from_s: Option<f64>,
        /// Where it ends.
        #[serde(skip_serializing_if = "Option::is_none")]
        to_s: Option<f64>,
    },
}

impl Cue {
    /// A sentence to speak.
    #[must_use]
    pub const fn say(say: String) -> Self {
        Self::Say { say, of: None }
    }

    pub(super) fn spoken(spoken: Spoken) -> Self {
        Self::Say { say: spoken.say(Face::Voice), of: Some(spoken) }
    }

    pub(super) fn mark(mark: Mark, stretch: Option<[Seconds; 2]>) -> Self {
        let [from_s, to_s] = [0, 1].map(|end| stretch.map(|stretch| stretch[end].value()));
        Self::Mark { mark, from_s, to_s }
    }
}
