//! What the person looks at below the figure, and which line of it is chosen.

use crate::bench::conductor::{Cell, CellState, OrderState, Sheet, Verdict};
use crate::guide::{Act, Phase};
use crate::record::CellName;
use crate::words::{self, watch::Unfinished};

/// Which list stands below the figure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum List {
    /// The cells.
    #[default]
    Sheet,
    /// The order of the steps.
    Order,
}

/// The view of one terminal; others of the same session have their own.
#[derive(Debug, Default)]
pub(super) struct View {
    pub list: List,
    /// The cell that is chosen.
    cell: Option<CellName>,
    /// The line of the order that is chosen, by its id: so it stays chosen while it moves.
    line: Option<u32>,
    /// Finish was asked for while something is open: the next press is the answer.
    asked_to_finish: bool,
}

/// Why a key does nothing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Nothing {
    /// No line is chosen.
    Chosen,
    /// The line is the last one.
    Later,
    /// The line is the first one.
    Earlier,
    /// The setup is finished by the same key once more, with this in it.
    Unfinished(Unfinished),
}

impl Nothing {
    /// What is said of it.
    pub fn said(&self) -> String {
        match self {
            Self::Chosen => words::watch::CHOOSE_FIRST.to_owned(),
            Self::Later => words::watch::LAST_ALREADY.to_owned(),
            Self::Earlier => words::watch::FIRST_ALREADY.to_owned(),
            Self::Unfinished(unfinished) => words::watch::unfinished(unfinished),
        }
    }
}

impl View {
    /// Shows the other list.
    pub fn turn_over(&mut self) {
        self.list = if self.list == List::Sheet { List::Order } else { List::Sheet };
    }

    /// Which line of the list is chosen; none: the list follows the step at hand.
    pub fn chosen(&self, sheet: &Sheet) -> Option<usize> {
        match self.list {
            List::Sheet => sheet.cells.iter().position(|cell| Some(cell.cell) == self.cell),
            List::Order => sheet.order.iter().position(|line| Some(line.id) == self.line),
        }
    }

    /// Which line of the list belongs to the step at hand.
    pub fn now(&self, sheet: &Sheet) -> Option<usize> {
        match self.list {
            List::Sheet => sheet.cells.iter().position(|cell| cell.state == CellState::Now),
            List::Order => sheet.order.iter().position(|line| line.state == OrderState::Now),
        }
    }

    /// Chooses the next line, or the one before.
    pub fn step(&mut self, sheet: &Sheet, down: bool) {
        let lines = if self.list == List::Sheet { sheet.cells.len() } else { sheet.order.len() };
        let to = match (self.chosen(sheet), down) {
            (Some(at), true) => (at + 1).min(lines.saturating_sub(1)),
            (Some(at), false) => at.saturating_sub(1),
            // The first press chooses where the person already looks.
            (None, _) => self.now(sheet).unwrap_or(0),
        };
        self.cell = sheet.cells.get(to).map(|cell| cell.cell).filter(|_| self.list == List::Sheet);
        self.line = sheet.order.get(to).map(|line| line.id).filter(|_| self.list == List::Order);
    }

    /// Nothing is chosen any more; false where nothing was.
    pub fn let_go(&mut self) -> bool {
        self.cell.take().is_some() | self.line.take().is_some()
    }

    /// The chosen cell once more.
    pub fn redo(&self, sheet: &Sheet) -> Result<Act, Nothing> {
        let at = self.chosen(sheet).ok_or(Nothing::Chosen)?;
        Ok(match self.list {
            List::Sheet => Act::Redo { cell: sheet.cells[at].cell },
            List::Order => Act::GoTo { id: sheet.order[at].id },
        })
    }

    /// The chosen line of the order one place earlier or later.
    pub fn move_by_one(&self, sheet: &Sheet, later: bool) -> Result<Act, Nothing> {
        let at = self.chosen(sheet).ok_or(Nothing::Chosen)?;
        let id = sheet.order[at].id;
        if later && at + 1 == sheet.order.len() {
            return Err(Nothing::Later);
        }
        let before = if later { sheet.order.get(at + 2) } else { sheet.order.get(at.wrapping_sub(1)) };
        if !later && before.is_none() {
            return Err(Nothing::Earlier);
        }
        Ok(Act::MoveOrder { id, before: before.map(|line| line.id) })
    }

    /// The setup is closed, but only with a second press: at its end at once where nothing is open.
    pub fn finish(&mut self, sheet: &Sheet) -> Result<Act, Nothing> {
        let unfinished = unfinished(sheet);
        let is_done = sheet.step.phase == Phase::Done && unfinished.is_nothing();
        if sheet.finished || self.asked_to_finish || is_done {
            return Ok(Act::Finish);
        }
        self.asked_to_finish = true;
        Err(Nothing::Unfinished(unfinished))
    }

    /// Another key than `f` was pressed.
    pub const fn goes_on(&mut self) {
        self.asked_to_finish = false;
    }
}

/// What is open in a setup, and what is not as wanted.
fn unfinished(sheet: &Sheet) -> Unfinished {
    let named = |of: &dyn Fn(&Cell) -> bool| -> Vec<String> {
        sheet.cells.iter().filter(|cell| of(cell)).map(|cell| cell.cell.to_string()).collect()
    };
    let is = |cell: &Cell, verdict: Verdict| cell.verdict == verdict;
    let mut missing =
        named(&|cell| cell.owed && [Verdict::Missing, Verdict::Stale, Verdict::InQuestion].contains(&cell.verdict));
    missing.extend(sheet.sweeps_owed.clone());
    Unfinished {
        setup: sheet.setup.number,
        missing,
        left_out: named(&|cell| cell.left_out.is_some()),
        outside: named(&|cell| is(cell, Verdict::Outside)),
        undecided: named(&|cell| is(cell, Verdict::Undecided) || (is(cell, Verdict::InQuestion) && !cell.owed)),
    }
}
