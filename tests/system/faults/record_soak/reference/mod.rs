//! A second, plain account of what a logbook must say after what was done at the bench: written from the trade's rules, not
//! from the program. It is slow and looks at everything again each time.
//!
//! It foretells without having measured anything: a value is told as the captures that it is made of, each by its
//! position among what happened, and by how much of each.

mod cells;
mod corners;
mod curve;
mod ends;
mod owed;
mod rules;
mod setup;
mod sheet;
mod spindles;
mod tail;

pub use cells::{CORNERS, DROOP, ENDS, Stands, Sum, TAIL_NEUTRAL};
pub use corners::Corner;
pub use ends::{Again, End, Past};
pub use owed::SWEPT;
pub use rules::{Rule, Rules};
pub use setup::{Deed, Setup, Shot};
pub use spindles::Pool;

use super::chance;
use super::step::{OnceMore, Step, Which, Wish, Zero};
use proptest::prelude::*;
use proptest_state_machine::ReferenceStateMachine;

/// The logbook, as it must be.
#[derive(Debug, Clone)]
pub struct Account {
    pub setups: Vec<Setup>,
    /// The one that was chosen by taking it up again.
    chosen: Option<usize>,
    /// What it knows.
    pub rules: Rules,
}

impl Account {
    pub const fn new(rules: Rules) -> Self {
        Self { setups: Vec::new(), chosen: None, rules }
    }

    /// Which setup commands work on.
    pub fn current(&self) -> Option<usize> {
        let open = |at: &usize| !self.setups[*at].closed;
        self.chosen.filter(open).or_else(|| (0..self.setups.len()).rev().find(open))
    }

    /// What is zero in the setup that commands work on.
    pub fn zero(&self) -> Zero {
        self.current().map_or(Zero::Gravity, |at| self.setups[at].zero_now())
    }

    /// The newest capture of the setup that commands work on.
    pub fn last_wish(&self) -> Option<Wish> {
        let setup = &self.setups[self.current()?];
        setup.deeds.iter().rev().find_map(|deed| if let Deed::Shot(shot) = deed { Some(shot.wish) } else { None })
    }

    /// Where a step happens.
    pub fn place_of(&self, step: &Step) -> Option<usize> {
        match step.which()? {
            Which::Open => self.current(),
            Which::Named(at) => (at < self.setups.len()).then_some(at),
        }
    }

    /// Nothing is added to a closed setup.
    pub fn refuses(&self, step: &Step) -> bool {
        let adds = |at| !matches!(step, Step::TakeUp(..)) && !self.deeds(at, step).is_empty();
        self.place_of(step).is_some_and(|at| self.setups[at].closed && adds(at))
    }

    /// What a step adds to its setup.
    pub fn deeds(&self, at: usize, step: &Step) -> Vec<Deed> {
        let setup = &self.setups[at];
        match *step {
            Step::Capture(_, wish) => setup.shots_of([wish]),
            Step::Turn(_, what) => vec![Deed::Turned(what)],
            Step::SetZero(_, zero) => vec![setup.datum_of(zero)],
            Step::TakeBack(_, later) => setup.counting().rev().nth(later).map(Deed::TakenBack).into_iter().collect(),
            Step::NeverTurned(_, later) => {
                let turned = setup.turns(Rules::ALL).rev().nth(later);
                turned.map(|(at, _)| Deed::TakenBack(at)).into_iter().collect()
            }
            Step::NotLeftOut(_, later) => {
                let left_out = setup.skips(Rules::ALL).rev().nth(later);
                left_out.map(|(at, ..)| Deed::TakenBack(at)).into_iter().collect()
            }
            Step::CheckSpindle(_, turned) => vec![Deed::Spindle(turned)],
            Step::ReadCorner(_, wish) => setup.read_against_one_zero(|_| sheet::corner(wish)),
            Step::LeaveOut(_, what, day) => vec![Deed::LeftOut { what, day }],
            Step::TakeUp(_, pause) => vec![Deed::TakenUp(pause)],
            Step::ReadAnew(_, later) => setup.shots().rev().nth(later).map(Deed::ReadAnew).into_iter().collect(),
            Step::CheckCable(_, pull) => vec![Deed::Cable { pull }],
            Step::Sweep(_, OnceMore { axis, place, moves }) => vec![Deed::Swept { axis, place, moves }],
            Step::ReadTheRest(_) => setup.read_against_one_zero(|setup| setup.rest(self.rules)),
            Step::NewSetup | Step::TryTheWanted(_) | Step::HandOver(_) | Step::Close(_) | Step::ComeBack { .. } => {
                Vec::new()
            }
        }
    }
}

impl ReferenceStateMachine for Account {
    type State = Self;
    type Transition = Step;

    fn init_state() -> BoxedStrategy<Self> {
        Just(Self::new(Rules::ALL)).boxed()
    }

    fn transitions(account: &Self) -> BoxedStrategy<Step> {
        chance::next_step(account)
    }

    fn preconditions(account: &Self, step: &Step) -> bool {
        if step.which().is_none() {
            return true;
        }
        let Some(at) = account.place_of(step) else { return false };
        match step {
            Step::TakeBack(..) | Step::ReadAnew(..) | Step::NeverTurned(..) | Step::NotLeftOut(..) => {
                !account.deeds(at, step).is_empty()
            }
            // Nothing is wanted of a setup that is closed.
            Step::TryTheWanted(_) | Step::ReadTheRest(_) | Step::ReadCorner(..) => !account.setups[at].closed,
            _ => true,
        }
    }

    fn apply(mut account: Self, step: &Step) -> Self {
        let at = account.place_of(step);
        match (step, at) {
            (Step::NewSetup, _) => {
                account.setups.push(Setup::default());
                account.chosen = None;
            }
            (Step::Close(_), Some(at)) => account.setups[at].closed = true,
            (Step::TakeUp(..), Some(at)) => {
                account.setups[at].closed = false;
                account.chosen = Some(at);
            }
            _ => {}
        }
        if let Some(at) = at.filter(|at| !account.setups[*at].closed) {
            let deeds = account.deeds(at, step);
            account.setups[at].deeds.extend(deeds);
        }
        account
    }
}
