//! A simulated person: reads the step, and does with the simulated head what it asks for.
//!
//! It knows what a person in the workshop sees, and nothing of the truth. Its lines are those of the simulated head.

use super::sheet::Sheet;
use crate::guide::{Instruction, Question, SweepMove};
use crate::record::Seat;
use crate::rotor::{Axis, Deflection, Spot};

/// What the person does at a step, once, in order.
#[must_use]
pub fn moves(sheet: &Sheet) -> Vec<String> {
    match sheet.step.instruction {
        Instruction::Clip { to } => place(to, true, sheet.setup.main_blades),
        Instruction::Turn { to, .. } => place(to, false, sheet.setup.main_blades),
        Instruction::Check { way } | Instruction::Answer { question: Question::NoAnswer { way, .. } } => check(way),
        Instruction::Neutral { .. }
        | Instruction::LetGo
        | Instruction::Answer { question: Question::NotBack { .. } } => centre(),
        Instruction::Answer { question: Question::StandsStill { way } } => vec![over(way, 1.0, 0.8)],
        Instruction::LiftCable => vec!["cable lifted over 1".to_owned()],
        Instruction::ReleaseCable => vec!["cable slack over 1".to_owned()],
        Instruction::Sweep { to: SweepMove::To(way) } | Instruction::Move { way } => vec![over(way, 1.0, 0.8)],
        Instruction::Sweep { to: SweepMove::Centre | SweepMove::Back } => centre(),
        // Back until it is quiet: a fifth of the way is more than a servo needs.
        Instruction::BackOff { way } => vec![over(way, 0.8, 0.5)],
        Instruction::ReadCautions
        | Instruction::Start
        | Instruction::Hold { .. }
        | Instruction::Captured { .. }
        | Instruction::TakingBack
        | Instruction::Answer { .. }
        | Instruction::Done { .. } => Vec::new(),
    }
}

/// Every stick at its neutral, and the collective at mid.
fn centre() -> Vec<String> {
    let sticks = [(Axis::Elevator, 0.0), (Axis::Aileron, 0.0), (Axis::Rudder, 0.0), (Axis::Collective, 50.0)];
    sticks.map(|(stick, at)| move_stick(stick, at, 0.5)).to_vec()
}

/// Turns head or tail, and puts the clip on its blade where it is not there yet.
fn place(to: Seat, carried: bool, blades: u8) -> Vec<String> {
    let mut moves = centre();
    let on = if matches!(to.spot, Spot::Main(_)) { "" } else { "tail " };
    moves.extend(carried.then(|| format!("clip {on}{} forward over 1.5", to.blade)));
    moves.push(match to.spot {
        Spot::Main(station) => {
            let of_a = f64::from(station) - 360.0 * to.blade.index() as f64 / f64::from(blades.max(1));
            format!("head {of_a} over 0.8")
        }
        Spot::Tail(edge) => format!("tail {edge} over 0.8"),
    });
    moves
}

/// A short movement, and back.
fn check(way: Deflection) -> Vec<String> {
    vec![over(way, 0.5, 0.4), "wait 0.5".to_owned(), over(way, 0.0, 0.4)]
}

/// The stick over by this share of its way from neutral to the end, in so many seconds.
fn over(way: Deflection, share: f64, seconds: f64) -> String {
    let neutral = if matches!(way, Deflection::Collective(_)) { 50.0 } else { 0.0 };
    let at = neutral + share * (way.full_stick().value() - neutral);
    move_stick(way.axis(), at, seconds)
}

/// The command that moves a stick to so many percent, in so many seconds.
fn move_stick(axis: Axis, at: f64, seconds: f64) -> String {
    format!("stick {axis} {at} over {seconds}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rotor::{Aileron, BladeName, Collective, Elevator, LeadingEdge, Rudder, Station};

    #[test]
    fn a_short_movement_goes_there_and_back() {
        assert_eq!(
            check(Deflection::Elevator(Elevator::Up)),
            ["stick elevator 50 over 0.4", "wait 0.5", "stick elevator 0 over 0.4"]
        );
        assert_eq!(
            check(Deflection::Collective(Collective::High)),
            ["stick collective 75 over 0.4", "wait 0.5", "stick collective 50 over 0.4"]
        );
    }

    #[test]
    fn an_end_is_full_stick_and_backed_off_a_fifth_less() {
        assert_eq!(over(Deflection::Rudder(Rudder::Left), 1.0, 0.8), "stick rudder -100 over 0.8");
        assert_eq!(over(Deflection::Collective(Collective::Low), 1.0, 0.8), "stick collective 0 over 0.8");
        assert_eq!(over(Deflection::Aileron(Aileron::Right), 0.8, 0.5), "stick aileron 80 over 0.5");
        assert_eq!(over(Deflection::Collective(Collective::Low), 0.8, 0.5), "stick collective 10 over 0.5");
    }

    #[test]
    fn the_head_is_turned_so_that_the_named_blade_comes_to_its_station() {
        let b = BladeName::from_index(1).unwrap();
        let square = Seat { blade: b, spot: Spot::Main(Station::from_degrees(90.0).unwrap()) };
        assert_eq!(place(square, true, 2)[4..], ["clip B forward over 1.5", "head -90 over 0.8"]);
        let tail = Seat { blade: BladeName::A, spot: Spot::Tail(LeadingEdge::Down) };
        assert_eq!(place(tail, false, 2)[4..], ["tail down over 0.8"]);
        assert_eq!(place(tail, true, 2)[4..], ["clip tail A forward over 1.5", "tail down over 0.8"]);
    }
}
