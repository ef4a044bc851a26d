//! What is known about one helicopter's head in one setup: its description, the captures, what was turned in
//! between, and the limit record that follows from them.
//!
//! A [`Head`] says what the helicopter is and what is wanted. A [`Setup`] holds [`Entry`] after [`Entry`] in the
//! order in which they happened: a [`Capture`] of one axis direction, an [`Adjustment`], a datum, a resumption, a
//! skip. Everything else is worked out from these, never stored: travel, staleness, verdicts, what is missing.
//!
//! This room is pure: it has no clock, keeps no files and gives out no ids. Times and ids are values handed to it.

use clinoblade_advice as advice;
use clinoblade_filter as filter;
use clinoblade_rotor as rotor;
use clinoblade_sensor as sensor;
use clinoblade_stats as stats;
use clinoblade_uncertainty as uncertainty;
use clinoblade_units as units;

mod adjustable;
mod adjustment;
mod advised;
mod amendment;
mod balance;
mod bind;
mod buzz;
mod cable;
mod capture;
mod cell;
mod cell_name;
mod collective;
mod collective_pitch;
mod collective_survey;
mod comparison;
mod corner_cell;
mod diagonal;
mod document;
mod droop;
mod finding;
mod form;
mod head;
mod history;
mod in_question;
mod limit_cell;
mod limits;
mod link_survey;
mod neutral_moved;
mod off_axis;
mod owed;
mod phase_survey;
pub mod plan;
mod reading;
mod remeasure;
mod remedy;
mod resume;
mod seat;
mod setup;
mod slop_cell;
mod spindle;
mod subject;
mod survey;
mod swash;
mod swash_level;
mod sweep;
mod tail_cells;
mod tail_stand;
mod timeline;
mod track_survey;
pub mod trade;
mod travel;
mod travel_survey;
mod turnable;
mod zero_cell;

pub use adjustable::{AdjustmentRefusal, MOST_HALF_TURNS, MOST_SERVOS, MOST_TEETH};
pub use adjustment::{Adjustment, AdjustmentError, Ends, Teeth};
pub use advised::{Advised, adjustments};
pub use amendment::{Amendment, Replaced};
pub use balance::{Balance, BalanceAdvice, LeftAlone, TooFar};
pub use bind::Bind;
pub use cable::CableCheck;
pub use capture::{Answered, Approach, Capture, DatumRef, LimitedBy, RawSamples, SensorIdentity};
pub use cell::{Basis, Cell, CellName, Earlier, Value, Verdict};
pub use cell_name::CellNameError;
pub use collective_pitch::{MidPitch, PitchPoint};
pub use collective_survey::{CollectiveSurvey, OffTheLine};
pub use comparison::{CellChange, Change, Comparison, Pattern, Proviso, Together};
pub use finding::{BindSign, CellFinding, Question, Shortfall, Undecided};
pub use form::{Field, FieldFault, FieldKind, Group, HeadForm, fields};
pub use head::{BladeCount, Head, HeadError, Lengthening, Link, LinkSeat, LinkThread, Tail, TailPositive, Targets};
pub use history::{CellHistory, Past};
pub use in_question::InQuestion;
pub use limits::{Asymmetry, LimitRecord};
pub use link_survey::{BladeLink, BothWays, LinkSurvey, LinkSurveyError};
pub use neutral_moved::neutral_question;
pub use off_axis::Unused;
pub use owed::Check;
pub use phase_survey::PhaseSurvey;
pub use plan::{Planned, Seat, Task};
pub use reading::{Asked, Reading};
pub use remeasure::Wanted;
pub use remedy::{Advice, LinkTurn, remedy};
pub use resume::{Calibrated, Finding, Held, Pause, State, changed_at_least};
pub use seat::next_seat;
pub use setup::{Blades, Entry, EntryError, Event, Interruption, Setup};
pub use spindle::{SpindleCheck, SpindleError};
pub use subject::{MainDeflection, Subject, SubjectError};
pub use survey::{RotorSurvey, SensorError, SurveyError};
pub use swash::{LevelPlate, ServoTurn, SubTrim, Swash};
pub use sweep::{Reach, Sweep, Swept, SweptEnd, rudder_sign};
pub use tail_cells::{slider_travel, torque_side};
pub use tail_stand::{KnownFrom, Stands};
pub use track_survey::{JudgedSplit, TrackForecast, TrackRemedy, TrackSurvey};
pub use travel_survey::{EndPoint, TravelPair, TravelSurvey, TravelSurveyError};
pub use turnable::{Amount, Turnable, made_stale, turnables};
