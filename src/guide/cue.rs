//! What is heard and flashed: may be missed, is never needed.

use serde::Serialize;

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
