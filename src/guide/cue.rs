//! What is heard and flashed: may be missed, is never needed.

use serde::Serialize;

/// Something for ear or eye.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Cue {
    /// A sentence to speak.
    Say {
        /// The sentence.
        say: String,
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
    pub fn say(text: impl Into<String>) -> Self {
        Self::Say { say: text.into() }
    }

    /// Something happened.
    #[must_use]
    pub const fn mark(mark: Mark) -> Self {
        Self::Mark { mark, from_s: None, to_s: None }
    }
}

/// How the tone sounds.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Tone {
    /// How far the target is: 0 at it, 1 far away.
    pub distance: f64,
    /// On which side of it.
    pub side: Side,
}

/// On which side of the target a blade stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Side {
    /// Not there yet.
    Short,
    /// Within its tolerance.
    Inside,
    /// Beyond it.
    Over,
}

/// What happened.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Mark {
    /// A cell was filled.
    Captured,
    /// Something was not taken.
    Refused,
    /// A question stands.
    Question,
    /// Let the stick go: the linkage binds.
    #[serde(rename = "let go")]
    LetGo,
    /// The head was knocked.
    Knock,
    /// The last capture is taken back.
    Redo,
}
