//! A simulated person: reads the sheet, and does with the simulated head what it says.
//!
//! It knows what a person in the workshop sees, and nothing of the truth. Its words are those of the simulated head.

use super::sheet::{SectionRotor, Sheet};
use crate::guide::Phase;

/// What the person does at a step, once, in order.
#[must_use]
pub fn moves(sheet: &Sheet) -> Vec<String> {
    match sheet.step.phase {
        Phase::Place => place(sheet),
        Phase::CheckStick => check(&sheet.step.sentence),
        Phase::Neutral | Phase::Return => centre(),
        Phase::Cable => cable(&sheet.step.sentence),
        Phase::OnceMore => once_more(sheet.step.cell.as_deref()),
        Phase::Move => over(sheet.step.cell.as_deref().unwrap_or_default()),
        Phase::BackOff => back_off(sheet.step.cell.as_deref().unwrap_or_default()),
        Phase::Cautions | Phase::Idle | Phase::Approaching | Phase::Captured | Phase::Question | Phase::Done => {
            Vec::new()
        }
    }
}

fn lines<const N: usize>(lines: [&str; N]) -> Vec<String> {
    lines.map(str::to_owned).to_vec()
}

fn centre() -> Vec<String> {
    lines([
        "stick elevator 0 over 0.5",
        "stick aileron 0 over 0.5",
        "stick rudder 0 over 0.5",
        "stick collective 50 over 0.5",
    ])
}

/// Puts the clip where it is wanted, and turns head or tail.
fn place(sheet: &Sheet) -> Vec<String> {
    let (blade, plan) = (&sheet.plan.blade, &sheet.plan);
    let mut moves = centre();
    // The sentence says whether the clip goes to another blade; a head that is only turned keeps it.
    let carried = sheet.step.sentence.starts_with("Clip on");
    match plan.rotor {
        SectionRotor::Main => {
            let index = blade.bytes().next().map_or(0, |letter| letter.saturating_sub(b'A'));
            let of_a = plan.station_deg.unwrap_or_default()
                - 360.0 * f64::from(index) / f64::from(sheet.setup.main_blades.max(1));
            moves.extend(carried.then(|| format!("clip {blade} forward over 1.5")));
            moves.push(format!("head {of_a} over 0.8"));
        }
        SectionRotor::Tail => {
            moves.extend(carried.then(|| format!("clip tail {blade} forward over 1.5")));
            moves.push(format!("tail {} over 0.8", plan.leading_edge.as_deref().unwrap_or("up")));
        }
    }
    moves
}

/// The short movement that the sentence asks for, and back.
fn check(sentence: &str) -> Vec<String> {
    let words: Vec<String> = sentence.split_whitespace().take(2).map(str::to_lowercase).collect();
    let Some((stick, percent)) = stick(&words) else { return Vec::new() };
    let (there, back) = if stick == "collective" { (75.0, 50.0) } else { (percent * 0.5, 0.0) };
    vec![format!("stick {stick} {there} over 0.4"), "wait 0.5".to_owned(), format!("stick {stick} {back} over 0.4")]
}

/// The cable in the hand, or out of it.
fn cable(sentence: &str) -> Vec<String> {
    let how = if sentence.starts_with("Lift") { "lifted" } else { "slack" };
    vec![format!("cable {how} over 1")]
}

/// The stick to the end that is still to be reached, else back.
fn once_more(cell: Option<&str>) -> Vec<String> {
    cell.map_or_else(centre, over)
}

/// The stick over to the end that the cell names.
fn over(cell: &str) -> Vec<String> {
    let words: Vec<String> = cell.split([' ', ',']).take(2).map(str::to_owned).collect();
    stick(&words).map(|(stick, percent)| format!("stick {stick} {percent} over 0.8")).into_iter().collect()
}

/// Back until it is quiet: a fifth of the way is more than a servo needs.
fn back_off(cell: &str) -> Vec<String> {
    let words: Vec<String> = cell.split([' ', ',']).take(2).map(str::to_owned).collect();
    let back = stick(&words).filter(|(stick, _)| *stick != "collective");
    back.map(|(stick, percent)| format!("stick {stick} {} over 0.5", percent * 0.8)).into_iter().collect()
}

fn stick(words: &[String]) -> Option<(&str, f64)> {
    let [stick, way] = words else { return None };
    let percent = match (stick.as_str(), way.as_str()) {
        ("collective", "low") => 0.0,
        ("collective", "high" | "up") => 100.0,
        (_, "up" | "right") => 100.0,
        (_, "down" | "left") => -100.0,
        _ => return None,
    };
    Some((stick, percent))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_short_movement_goes_there_and_back() {
        assert_eq!(
            check("Elevator up for a moment, then let it go."),
            ["stick elevator 50 over 0.4", "wait 0.5", "stick elevator 0 over 0.4"]
        );
        assert_eq!(
            check("Collective up a little, then back to mid."),
            ["stick collective 75 over 0.4", "wait 0.5", "stick collective 50 over 0.4"]
        );
    }

    #[test]
    fn the_cell_names_the_end() {
        assert_eq!(over("rudder left, leading edge down"), ["stick rudder -100 over 0.8"]);
        assert_eq!(over("collective low"), ["stick collective 0 over 0.8"]);
        assert!(over("blade A zero").is_empty());
    }
}
