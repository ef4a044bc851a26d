//! What a record owes, and what was left out of it on purpose.

use super::super::step::Place;
use super::cells::{CORNERS, DROOP, ENDS, TAIL_NEUTRAL, TAIL_SPLIT};
use super::ends::Again;
use super::rules::{Rule, Rules, is_centred};
use super::sheet::SHEET;
use super::{Deed, Setup, Shot};

/// The axes that can be moved to both their ends once more, each with these.
pub const SWEPT: [[&str; 2]; 3] = [[ENDS[0], ENDS[1]], [ENDS[2], ENDS[3]], [ENDS[4], ENDS[5]]];

impl Setup {
    /// Whether something happened after which nothing is taken on trust.
    fn owes_all(&self, rules: Rules) -> bool {
        let turned = || self.turns(rules).any(|(_, what)| matches!(what, "crash" | "parts replaced"));
        rules.know(Rule::CrashOwesAll) && turned()
    }

    /// The cells that a record must hold, whether they were left out or not.
    pub fn owed(&self, rules: Rules) -> Vec<String> {
        let always = SHEET.into_iter().map(|(name, ..)| name.to_owned());
        if !self.owes_all(rules) {
            return always.collect();
        }
        let of_blades =
            ["A", "B"].into_iter().flat_map(|blade| [format!("blade {blade} slop"), format!("blade {blade} spindle")]);
        // Where the plate is taken furthest.
        let diagonals = CORNERS.into_iter().filter(|corner| !corner.contains("mid") && corner.contains('-'));
        let besides = [DROOP, TAIL_SPLIT].into_iter().chain(diagonals).map(str::to_owned);
        always.chain(of_blades).chain(besides).collect()
    }

    /// The axes that must be moved to both their ends once more.
    pub fn sweeps_owed(&self, rules: Rules) -> Vec<[&'static str; 2]> {
        let left_out = |end: &&str| self.left_out(end, rules).is_some();
        SWEPT.into_iter().filter(|ends| self.owes_all(rules) && !ends.iter().all(left_out)).collect()
    }

    /// The newest sweep of an end that holds, where nothing was captured in its cell.
    pub fn swept_without_value(&self, end: &str, rules: Rules) -> Option<Again> {
        self.again(end, &[], rules)
    }

    /// The day on which a cell was left out last, where that was not taken back; `ever` though it was filled since.
    pub fn left_out_once(&self, cell: &str, rules: Rules) -> Option<u8> {
        self.skips(rules).rev().find(|(_, what, _)| *what == cell).map(|(.., day)| day)
    }

    /// The same where nothing was done for that cell since.
    pub fn left_out(&self, cell: &str, rules: Rules) -> Option<u8> {
        let (at, _, day) = self.skips(rules).rev().find(|(_, what, _)| *what == cell)?;
        let since = |deed: usize| match &self.deeds[deed] {
            Deed::Shot(shot) => self.counts(deed) && is_for(shot, cell),
            Deed::Spindle(turned) => cell == format!("blade {} spindle", turned.blade),
            _ => false,
        };
        (!(at..self.deeds.len()).any(since)).then_some(day)
    }
}

/// Whether whoever captures this does it for that cell.
fn is_for(shot: &Shot, cell: &str) -> bool {
    let wish = shot.wish;
    let (of, on_main) = match wish.place {
        Place::Main { blade, .. } => (blade, true),
        Place::Tail { blade, .. } => (blade, false),
    };
    let words: Vec<&str> = cell.split(' ').collect();
    match words[..] {
        ["blade", blade, "zero"] => wish.what == "collective mid" && blade.starts_with(of),
        ["blade", blade, "slop"] => on_main && blade.starts_with(of) && wish.from.is_some(),
        // A split and a droop are of the other blade.
        ["track" | "droop", ..] => wish.what == "collective mid" && of == 'B',
        _ if cell == TAIL_NEUTRAL => wish.what == "rudder neutral",
        _ if cell == TAIL_SPLIT => !on_main && of == 'B',
        ["corner", ..] => wish.what == cell,
        _ => wish.what == cell && !is_centred(cell) && shot.is_at_the_end(),
    }
}
