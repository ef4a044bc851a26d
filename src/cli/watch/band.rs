//! The blade against what is asked, in two rows of characters: a pointer above a scale on which the target is drawn heavy.

use crate::bench::conductor::{Section, Target};

/// So many degrees are seen beyond what is asked, at either side.
const ROOM_DEGREES: f64 = 2.5;
/// Both ends of the scale are written in so many characters.
const WORD: usize = 7;

/// Where the target lies, as blade angles.
fn bounds(section: &Section) -> Option<[f64; 2]> {
    let (from, way) = (section.from_deg.unwrap_or(0.0), f64::from(section.sign.unwrap_or(1)));
    let (one, other) = match section.target? {
        Target::Band { value_deg, tolerance_deg } => {
            let middle = from + way * value_deg;
            (middle - tolerance_deg, middle + tolerance_deg)
        }
        // Without a commanded direction the ceiling holds on both sides.
        Target::AtMost { value_deg } if section.sign.is_none() => (from - value_deg, from + value_deg),
        Target::AtMost { value_deg } => (from, from + way * value_deg),
    };
    Some([one.min(other), one.max(other)])
}

/// Pointer and scale in so many columns; none where nothing is asked.
pub(super) fn band(section: &Section, angle_deg: Option<f64>, width: usize) -> Option<[String; 2]> {
    let [low, high] = bounds(section)?;
    let columns = width.checked_sub(2 * WORD).filter(|columns| *columns >= 10)?;
    // The neutral is always in sight.
    let least = low.min(section.from_deg.unwrap_or(low)) - ROOM_DEGREES;
    let most = high.max(section.from_deg.unwrap_or(high)) + ROOM_DEGREES;
    let column = |degrees: f64| {
        let share = (degrees - least) / (most - least);
        (share * columns as f64).floor().clamp(0.0, (columns - 1) as f64) as usize
    };
    let pointer = angle_deg.map_or_else(String::new, |angle| {
        let mark = if angle < least {
            '◀'
        } else if angle > most {
            '▶'
        } else {
            '▼'
        };
        format!("{}{mark}", " ".repeat(WORD + column(angle)))
    });
    let heavy = column(low)..=column(high);
    let scale: String = (0..columns).map(|at| if heavy.contains(&at) { '━' } else { '·' }).collect();
    Some([pointer, format!("{least:>+6.1} {scale} {most:+.1}")])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::conductor::SectionRotor;

    fn section(target: Target, from_deg: Option<f64>, sign: Option<i8>) -> Section {
        Section {
            rotor: SectionRotor::Main,
            target: Some(target),
            from_deg,
            sign,
            leading_edge: None,
            said: String::new(),
        }
    }

    #[test]
    fn the_pointer_stands_over_the_target_when_the_blade_does() {
        let zero = section(Target::Band { value_deg: 0.0, tolerance_deg: 0.5 }, None, None);
        let is_heavy = |angle: f64| {
            let [pointer, scale] = band(&zero, Some(angle), 80).unwrap();
            let at = pointer.chars().count() - 1;
            scale.chars().nth(at) == Some('━')
        };
        assert!(is_heavy(0.0) && is_heavy(0.45) && is_heavy(-0.45));
        assert!(!is_heavy(0.7) && !is_heavy(-0.7) && !is_heavy(9.0));
        assert!(band(&zero, Some(9.0), 80).unwrap()[0].ends_with('▶'));
    }

    #[test]
    fn a_ceiling_reaches_from_the_neutral_in_the_commanded_direction() {
        let down = section(Target::AtMost { value_deg: 12.0 }, Some(0.5), Some(-1));
        assert_eq!(bounds(&down), Some([-11.5, 0.5]));
        let either = section(Target::AtMost { value_deg: 12.0 }, None, None);
        assert_eq!(bounds(&either), Some([-12.0, 12.0]));
    }

    #[test]
    fn every_row_fits_into_its_columns() {
        let tail = section(Target::AtMost { value_deg: 45.0 }, Some(4.0), Some(1));
        for width in [24, 60, 80, 132] {
            let rows = band(&tail, Some(80.0), width).unwrap();
            assert!(rows.iter().all(|row| row.chars().count() <= width), "{rows:?}");
        }
        assert_eq!(band(&tail, None, 20), None);
    }
}
