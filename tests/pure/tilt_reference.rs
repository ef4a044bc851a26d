//! Apparent pitch and span inclination against the tilt tables and equations of published sensor notes.
//!
//! Sources: `tests/reference/SOURCES-tilt.md`.

use approx::assert_abs_diff_eq;
use clinoblade::units::{AxisMap, BladeVector, SensorVector};
use serde_json::Value;

const TABLE: &str = include_str!("../reference/tilt_sensitivity_table.csv");
const NOTES: &str = include_str!("../reference/tilt.json");

/// A blade of this pitch, its span level, in a field of 1 g.
fn blade(pitch_deg: f64) -> BladeVector {
    let (sin, cos) = pitch_deg.to_radians().sin_cos();
    BladeVector { span: 0.0, chord: sin, normal: cos }
}

fn rows() -> impl Iterator<Item = [f64; 5]> {
    TABLE.lines().skip(1).map(|line| {
        let fields: Vec<f64> = line.split(',').map(|field| field.parse().unwrap()).collect();
        fields.try_into().unwrap()
    })
}

#[test]
fn the_data_sheets_table_of_tilt_reads_back_as_its_angle() {
    let mut checked = 0;
    for [angle_deg, x_g, _, y_g, _] in rows() {
        // The table prints three decimals: half a unit is 0.03° level and up to 0.04° at 45°.
        let read = BladeVector { span: 0.0, chord: x_g, normal: y_g }.apparent_pitch();
        assert_abs_diff_eq!(read.degrees(), angle_deg, epsilon = 0.041);
        checked += 1;
    }
    assert_eq!(checked, 13);
}

#[test]
fn one_degree_moves_both_axes_by_what_the_data_sheet_prints() {
    for [angle_deg, _, dx_mg, _, dy_mg] in rows() {
        let (here, before) = (blade(angle_deg), blade(angle_deg - 1.0));
        assert_abs_diff_eq!(1000.0 * (here.chord - before.chord), dx_mg, epsilon = 0.0501);
        assert_abs_diff_eq!(1000.0 * (here.normal - before.normal), dy_mg, epsilon = 0.0501);
    }
}

#[test]
fn half_a_milligravity_is_29_thousandths_of_a_degree() {
    let notes: Value = serde_json::from_str(NOTES).unwrap();
    let published = |key: &str, wanted: &str| {
        let points = notes["checkpoints_published"].as_array().unwrap();
        let found = points.iter().find(|point| point["what"].as_str().unwrap().starts_with(wanted)).unwrap();
        found[key].as_str().unwrap().parse::<f64>().unwrap()
    };
    let off = BladeVector { span: 0.0, chord: 0.0005, normal: 1.0 }.apparent_pitch();
    assert_abs_diff_eq!(off.degrees(), published("value_deg", "0.5 mg"), epsilon = 0.0005);
    let slope = 1e6 * blade(1e-3).chord;
    assert_abs_diff_eq!(slope, published("value_mg_per_deg", "largest"), epsilon = 0.0005);
}

/// AN3461: roll = atan2(Gy, Gz), pitch = atan(−Gx/√(Gy² + Gz²)). With the chord along +y and the normal along +z, roll is
/// the apparent pitch of a blade on an anticlockwise rotor, whose span then lies along +x.
#[test]
fn roll_and_pitch_of_the_application_note_are_apparent_pitch_and_span_slope() {
    let notes: Value = serde_json::from_str(NOTES).unwrap();
    let map = AxisMap::new("+y".parse().unwrap(), "+z".parse().unwrap()).unwrap();
    let orientations = notes["orientations"].as_array().unwrap();
    for orientation in orientations {
        let number = |value: &Value| value.as_f64().unwrap();
        let g = orientation["g"].as_array().unwrap();
        let up = map.apply(SensorVector([number(&g[0]), number(&g[1]), number(&g[2])]), true);
        let roll = (up.apparent_pitch().degrees() - number(&orientation["roll_atan2"])).rem_euclid(360.0);
        assert!(roll.min(360.0 - roll) < 1e-9, "{orientation}");
        assert_abs_diff_eq!(up.span_inclination().degrees(), -number(&orientation["pitch_atan"]), epsilon = 1e-9);
    }
    assert!(orientations.len() >= 10);
}

/// An offset of one axis: the two-axis angle stays nearer to the truth than the arcsine of one axis alone.
#[test]
fn an_offset_does_to_the_angle_what_the_notes_formulas_say() {
    let notes: Value = serde_json::from_str(NOTES).unwrap();
    for case in notes["bias_effect"].as_array().unwrap() {
        let number = |key: &str| case[key].as_f64().unwrap();
        let mut up = blade(number("angle_deg"));
        up.chord += number("x_bias_g");
        let read = up.apparent_pitch().degrees();
        assert_abs_diff_eq!(read, number("atan2_deg"), epsilon = 1e-9);
        // Past 1 g the arcsine has no answer at all.
        if let Some(asin_deg) = case["asin_deg"].as_f64() {
            assert!((read - number("angle_deg")).abs() <= (asin_deg - number("angle_deg")).abs());
        }
    }
}
