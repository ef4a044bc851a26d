//! The setup sheet filling up: everything an onlooker shows, in one value: facts, with what is said of them on the page
//! beside them.

use crate::guide::{Act, Hint, Instruction, Phase};
use crate::record::{self, Adjustment, CellName};
use serde::{Deserialize, Serialize};

/// The whole state.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Sheet {
    /// Grows with every change.
    pub version: u64,
    /// Whether the head is the simulated one.
    pub demo: bool,
    /// What is measured.
    pub setup: SetupLine,
    /// What must be acknowledged first.
    pub cautions: Vec<Caution>,
    /// Whether the hands-free sequence runs.
    pub armed: bool,
    /// Whether an onlooker speaks unless told otherwise.
    pub voice: bool,
    /// Whether it sounds tones unless told otherwise.
    pub tones: bool,
    /// The link of the sensor that is read.
    pub link: Link,
    /// The sensors, where each blade carries one of its own; else empty.
    pub sensors: Vec<SensorLine>,
    /// How many entries wait on this bench for a shared logbook that cannot be reached.
    #[serde(default)]
    pub waiting: usize,
    /// The same in words, with the reason if some of them cannot get there as things stand; none where none waits.
    #[serde(default)]
    pub waits: Option<String>,
    /// What is to be done now.
    pub step: Step,
    /// The model from above.
    pub plan: Plan,
    /// The blade's profile.
    pub section: Section,
    /// The axis directions.
    pub cells: Vec<Cell>,
    /// In which order they are taken.
    pub order: Vec<OrderLine>,
    /// The pictures there are.
    pub pictures: Vec<Picture>,
    /// The sweeps that are still owed, in words.
    #[serde(default)]
    pub sweeps_owed: Vec<String>,
    /// Whether no cell is missing.
    pub complete: bool,
    /// Whether every cell is inside.
    pub good: bool,
    /// Whether the setup is closed.
    pub finished: bool,
}

/// A sensor's rate is counted anew all the time: so small a change shows nothing, share.
const SAME_RATE: f64 = 0.02;

impl Sheet {
    /// Whether an onlooker would see no difference: another version, or a rate that is counted a little otherwise.
    #[must_use]
    pub fn shows_the_same(&self, next: &Self) -> bool {
        let alike = match (self.link.rate_hz, next.link.rate_hz) {
            (Some(one), Some(other)) => (one - other).abs() <= SAME_RATE * one,
            (one, other) => one == other,
        };
        let link = Link { rate_hz: self.link.rate_hz, ..next.link.clone() };
        alike && *self == Self { version: self.version, link, ..next.clone() }
    }
}

/// What is to be done now.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Step {
    /// Where in the sequence.
    #[serde(rename = "state")]
    pub phase: Phase,
    /// What to do.
    pub instruction: Instruction,
    /// The same in a sentence.
    pub sentence: String,
    /// What helps with it.
    pub hint: Option<Hint>,
    /// The same in words; empty where there is none.
    pub detail: String,
    /// The cell it is about, else the line of the order.
    pub cell: Option<String>,
    /// Which line of the order, from 1.
    pub number: usize,
    /// How many lines the order has.
    pub of: usize,
    /// The ways out by key or tap, and the answers of a question.
    pub choices: Vec<Choice>,
    /// How long the blade must hold still, seconds.
    pub hold_s: f64,
    /// Why it goes no further by itself.
    pub why: Option<String>,
}

/// A way out of a step, by key or tap.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Choice {
    /// What it does.
    pub act: Act,
    /// What it says.
    pub label: String,
    /// The key that does it.
    pub key: Option<char>,
}

/// What is measured.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SetupLine {
    /// The setup's number.
    pub number: u32,
    /// The head's name.
    pub head: String,
    /// Why it is measured.
    pub reason: String,
    /// By whom.
    pub measured_by: Option<String>,
    /// Which way the rotor turns, seen from above: `clockwise` or `anticlockwise`.
    pub rotation: String,
    /// Main blades.
    pub main_blades: u8,
    /// Tail blades.
    pub tail_blades: u8,
}

/// A line of the cautions.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Caution {
    /// What it says.
    pub text: String,
    /// Whether it was acknowledged.
    pub acknowledged: bool,
}

/// The sensor's link.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Link {
    /// How it stands.
    pub state: LinkState,
    /// In words, empty while all is well.
    pub said: String,
    /// The port or address.
    pub source: String,
    /// Samples a second.
    pub rate_hz: Option<f64>,
    /// Samples lost so far.
    pub lost: u64,
    /// Frames damaged so far.
    pub damaged: u64,
}

/// One of several sensors.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SensorLine {
    /// The blade that carries it: a letter, or `tail`.
    pub carrier: String,
    /// The port or address.
    pub source: String,
    /// Whether its line is up.
    pub up: bool,
    /// Whether it is the one that is read now.
    pub read: bool,
    /// Samples lost so far.
    pub lost: u64,
    /// Frames damaged so far.
    pub damaged: u64,
}

/// How the link stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum LinkState {
    /// Samples arrive.
    Reading,
    /// It is waited for.
    Waiting,
    /// It is over.
    Ended,
}

/// The model from above.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Plan {
    /// The blade to be read.
    pub blade: String,
    /// The blade that carries the clip as far as is known.
    pub clip_blade: String,
    /// Which way the clip sits: `forward` or `reversed`.
    pub clip: String,
    /// Where the main blade must stand, degrees from the boom in the direction of rotation.
    pub station_deg: Option<f64>,
    /// Which way the tail blade's leading edge points: `up` or `down`.
    pub leading_edge: Option<String>,
    /// Which rotor.
    pub rotor: SectionRotor,
    /// How the rotor is to be turned.
    pub turn: Option<Turn>,
    /// Whole turns of the cable about the mast, in the direction of rotation.
    pub cable_turns: f64,
}

/// How the rotor is to be turned.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Turn {
    /// Degrees, positive in the direction of rotation.
    pub by_deg: f64,
    /// In words.
    pub said: String,
}

/// Which rotor is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum SectionRotor {
    /// The main rotor.
    Main,
    /// The tail rotor.
    Tail,
}

/// The blade's profile about its feathering axis.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Section {
    /// Which rotor.
    pub rotor: SectionRotor,
    /// Where the blade shall stand.
    pub target: Option<Target>,
    /// The neutral from which the travel counts, blade angle.
    pub from_deg: Option<f64>,
    /// The sign of the commanded direction, 1 or -1.
    pub sign: Option<i8>,
    /// On which side of a main blade its leading edge lies, seen from the tip.
    pub leading_edge: Option<Side>,
    /// From where it is seen, in words.
    pub said: String,
}

/// A side of the drawing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Side {
    /// The left one.
    Left,
    /// The right one.
    Right,
}

/// Where the blade shall stand.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind")]
pub enum Target {
    /// At a value, within its tolerance.
    #[serde(rename = "band")]
    Band {
        /// The value, degrees.
        value_deg: f64,
        /// Its tolerance, degrees.
        tolerance_deg: f64,
    },
    /// No further than this.
    #[serde(rename = "at most")]
    AtMost {
        /// The value, degrees.
        value_deg: f64,
    },
}

/// One axis direction.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Cell {
    /// Which.
    pub cell: CellName,
    /// Its name in two parts, for a table in which neighbours share the first: `elevator`, `up`.
    pub name: [String; 2],
    /// What is wanted, in words.
    pub target: String,
    /// The value.
    pub value_deg: Option<f64>,
    /// Its expanded uncertainty.
    pub expanded_deg: Option<f64>,
    /// The verdict.
    pub verdict: Verdict,
    /// The verdict's mark.
    pub mark: String,
    /// What follows from it for the model.
    pub consequence: String,
    /// What it leaves open.
    pub question: Option<String>,
    /// What else is to be said.
    pub remarks: Vec<String>,
    /// What it was before.
    pub history: Vec<HistoryLine>,
    /// How it stands in the sequence.
    pub state: CellState,
    /// What to turn.
    pub advice: Option<String>,
    /// The same as it is recorded once it was done; empty where nothing is to be turned or nobody knows which way.
    #[serde(default)]
    pub turns: Vec<Adjustment>,
    /// Whether the record is incomplete without it.
    #[serde(default)]
    pub owed: bool,
    /// Why it was left out on purpose, where it was.
    #[serde(default)]
    pub left_out: Option<String>,
}

/// A verdict without its reasons.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// Inside what is wanted, the uncertainty allowed for.
    Inside,
    /// Outside what is wanted, the uncertainty allowed for.
    Outside,
    /// Too close to the edge to say.
    Undecided,
    /// Something seen besides it contradicts the value.
    #[serde(rename = "in_question")]
    InQuestion,
    /// Set just short of a bind.
    Bound,
    /// Something was turned since.
    Stale,
    /// Never captured.
    Missing,
}

impl Verdict {
    /// One word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Inside => "inside",
            Self::Outside => "outside",
            Self::Undecided => "undecided",
            Self::InQuestion => "in question",
            Self::Bound => "bound",
            Self::Stale => "stale",
            Self::Missing => "missing",
        }
    }
}

impl From<&record::Verdict> for Verdict {
    fn from(verdict: &record::Verdict) -> Self {
        match verdict {
            record::Verdict::Inside => Self::Inside,
            record::Verdict::Outside => Self::Outside,
            record::Verdict::Undecided { .. } => Self::Undecided,
            record::Verdict::InQuestion { .. } => Self::InQuestion,
            record::Verdict::Bound => Self::Bound,
            record::Verdict::Stale { .. } => Self::Stale,
            record::Verdict::Missing => Self::Missing,
        }
    }
}

/// A value of a cell that a later one has replaced.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HistoryLine {
    /// When, as a time of the day.
    pub at: String,
    /// The value.
    pub angle_deg: f64,
    /// Whether it was taken back as wrong.
    pub withdrawn: bool,
}

/// How a cell stands in the sequence.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum CellState {
    /// Being captured.
    Now,
    /// The one after.
    Next,
    /// Still to come.
    Later,
    /// Skipped for now.
    Skipped,
    /// Behind.
    Left,
}

/// A line of the order.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct OrderLine {
    /// Its id; stays when it moves.
    pub id: u32,
    /// What it is called.
    pub label: String,
    /// The cell that it fills, alone or with another line.
    pub cell: Option<CellName>,
    /// How it stands.
    pub state: OrderState,
}

/// How a line of the order stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum OrderState {
    /// Captured.
    Captured,
    /// Being captured.
    Now,
    /// Still to come.
    Later,
    /// Skipped for now.
    Skipped,
}

/// A picture that can be fetched.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Picture {
    /// Its name in the address.
    pub name: String,
    /// Its title.
    pub title: String,
    /// Grows when it changes.
    pub version: u64,
}
